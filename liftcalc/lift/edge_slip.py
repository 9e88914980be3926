"""Slip of an edge that carries mats: excavations and slopes near the legs.

The set-back of the owner's rule is checked on the survey sheet. Here every mat near an edge is put on the ground beside
it as a strip load, and the circle with the least factor of safety that takes some of the load with it is found
(Bishop). A strip is an endless load along the edge: on the safe side. An excavation whose face is not stated is taken
as a vertical cut. Supported excavations are for the designer of the support.

Sources: :mod:`liftcalc.ground.slip`, :mod:`liftcalc.ground.slopes`. Factor 1.5 on moderately
conservative strength: common practice, no published source; with EN 1997-1 design approach 1,
combination 2, strengths and load are factored and 1.0 is asked for.
"""

from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from liftcalc.base.checks import Check
from liftcalc.base.errors import ConvergenceError
from liftcalc.base.text import amount
from liftcalc.facts.ground import Layer, SurveyedProfile
from liftcalc.ground.safety import EN1997_DA1_2
from liftcalc.ground.slip import SlipResult, SoilLayer, Surcharge, slip_check
from liftcalc.ground.slopes import PitSoil, set_back_rules
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.ground_facts import water_m
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.placing import Placing
from liftcalc.lift.setup import Setup

SAFETY = 1.5
"""Factor of safety asked of a slip: common practice, no published source."""
PIT_REACH, SLOPE_REACH = 1.25, 2.0
"""Mats farther from an edge than so many times its height are not calculated (own statement)."""


@dataclass(frozen=True)
class EdgeSlip:
    """One leg beside one edge."""

    edge: str
    leg: str
    distance_m: float
    height_m: float
    face_deg: float
    strength: str
    """Which strength of the clay counted."""
    result: SlipResult | None
    problem: str = ""


@dataclass(frozen=True)
class _Edge:
    id: str
    shape: BaseGeometry
    height_m: float
    face_deg: float
    reach: float


def _edges(setup: Setup) -> list[_Edge]:
    site = setup.site
    pits = [_Edge(p.id, Polygon(p.polygon), p.depth_m, 90.0, PIT_REACH) for p in site.excavations if not p.supported]
    falls = [_Edge(s.id, LineString(s.crest), s.height_m, s.angle_deg, SLOPE_REACH) for s in site.slopes]
    return pits + falls


def _width_across_m(mat: Polygon, shape: BaseGeometry) -> float:
    """Extent of a mat square to the edge, from the edge point nearest to it."""
    centre = mat.centroid
    nearest = shape.boundary if isinstance(shape, Polygon) else shape
    edge_point = nearest.interpolate(nearest.project(Point(centre.x, centre.y)))
    away = np.array([centre.x - edge_point.x, centre.y - edge_point.y])
    size = float(np.hypot(*away))
    if size < 1e-9:
        return float(np.sqrt(mat.area))
    along = np.asarray(mat.exterior.coords)[:-1] @ (away / size)
    return float(np.ptp(along))


def _layers(profile: SurveyedProfile, *, undrained: bool, factored: bool) -> list[SoilLayer]:
    s = EN1997_DA1_2

    def strength(layer: Layer) -> tuple[float, float]:
        if layer.cu_kPa is not None and (undrained or layer.phi_deg is None):
            return layer.cu_kPa / (s.cu if factored else 1.0), 0.0
        tan = np.tan(np.radians(layer.phi_deg or 0.0)) / (s.tan_phi if factored else 1.0)
        return (layer.c_kPa or 0.0) / (s.c if factored else 1.0), float(np.degrees(np.arctan(tan)))

    depth = [*(layer.thickness_m for layer in profile.layers[:-1]), float("inf")]
    return [
        SoilLayer(thickness, layer.unit_weight_kN_m3, *strength(layer))
        for thickness, layer in zip(depth, profile.layers, strict=True)
    ]


def edge_slips(setup: Setup, place: Placing, study: GroundStudy) -> list[EdgeSlip]:
    """Every mat near an unsupported edge, with its least safe circle."""
    factored = setup.rules.ground.safety == "en1997 DA1"
    load = EN1997_DA1_2.load if factored else 1.0
    slips = []
    for edge in _edges(setup):
        for leg, mat in zip(study.legs, place.mats, strict=True):
            gap = float(mat.distance(edge.shape))
            if gap > edge.reach * edge.height_m:
                continue
            width = _width_across_m(mat, edge.shape)
            pressure = load * (leg.reaction_kN + study.mat.weight_kN) / study.mat.area_m2
            profile = leg.profile
            both = any(a.cu_kPa is not None and a.phi_deg is not None for a in profile.layers)
            for undrained in (True, False) if both else (True,):
                result, problem = None, ""
                try:
                    result = slip_check(_layers(profile, undrained=undrained, factored=factored),
                                        height_m=edge.height_m, slope_deg=max(edge.face_deg, 5.0),
                                        surcharges=[Surcharge(pressure, gap, width)],
                                        water_depth_m=water_m(profile))  # fmt: skip
                except ConvergenceError as error:
                    problem = str(error)
                strength = ("undrained" if undrained else "drained") if both else "as stated"
                slips.append(EdgeSlip(edge.id, leg.name, gap, edge.height_m, edge.face_deg, strength, result, problem))
    return slips


def edge_slip_checks(setup: Setup, slips: list[EdgeSlip]) -> list[Check]:
    """One row for each edge with a mat near it: the least factor of safety."""
    factored = setup.rules.ground.safety == "en1997 DA1"
    limit = 1.0 if factored else SAFETY
    reference = (
        "Bishop 1955; EN 1997-1 design approach 1, combination 2: 1.0 on factored strength"
        if factored
        else "Bishop 1955; 1.5 on moderately conservative strength: common practice, no published source"
    )
    rows = []
    for edge in dict.fromkeys(s.edge for s in slips):
        mine = [s for s in slips if s.edge == edge]
        unknown = [s for s in mine if s.result is None]
        if unknown:
            rows.append(check_row("slip", None, None, part=edge, leg=unknown[0].leg, problem=unknown[0].problem))
            continue
        worst = min(mine, key=lambda s: s.result.safety_factor if s.result else 0.0)
        assert worst.result is not None
        face = "vertical face assumed"
        if worst.face_deg < 90:
            face = f"face at {amount(worst.face_deg, 'angle_deg')}"
        rows.append(check_row("slip", worst.result.safety_factor, limit, part=edge, rule=reference,
                              leg=worst.leg, distance=worst.distance_m, height=worst.height_m,
                              face=face, strength=worst.strength))  # fmt: skip
    return rows


Row = tuple[str, ...]


def set_back_table(setup: Setup, place: Placing) -> list[Row]:
    """The nearest mat to every edge against published set-back rules, strictest first."""
    masses = setup.masses
    gross = masses.carrier_mass_t + masses.slewing_mass_t + setup.boom.mass_t + setup.gross_t
    rows: list[Row] = []
    for edge in _edges(setup):
        gaps = [float(m.distance(edge.shape)) for m in place.mats]
        k = int(np.argmin(gaps))
        zones = {z.id: z.profile for z in setup.site.zones}
        names = [z.strip() for z in place.zones[k].split(",") if z.strip()]
        top = [setup.site.profile(zones[z]).layers[0] for z in names]
        clay = top and all(layer.cu_kPa is not None for layer in top)
        soil: PitSoil = "natural cohesive" if clay else "fill or granular"
        for rule in set_back_rules(gaps[k], edge.height_m, gross_mass_t=gross, soil=soil):
            need, name = "verified stability", rule.rule + ("" if rule.binding else " (a guide)")
            if not np.isinf(rule.required_m):
                need = amount(rule.required_m, "length_m", "up")
            met = "met" if gaps[k] >= rule.required_m else "not met"
            rows.append((edge.id, setup.machine.legs[k].name, amount(gaps[k], "length_m"), name,
                         need, met, rule.source))  # fmt: skip
    return rows
