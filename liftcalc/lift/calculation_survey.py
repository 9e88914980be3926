"""The calculation of the site survey: from coordinates and spot levels to each check.

Calculated are the governing check, each check at or above 80 % of its limit, and always the
position of the outriggers, the ground levels under them and the reach to each overhead line.

Source: plane geometry; the sources of the limits stand beside each check.
"""

from collections.abc import Callable, Sequence

import numpy as np
from shapely.geometry import GeometryCollection, LineString, Polygon
from shapely.geometry.base import BaseGeometry

from liftcalc.base.checks import Check
from liftcalc.clearance.powerline import required_distance_m, study_zone_m
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.facts.surveyed import OverheadLine
from liftcalc.lift import calculation_plan
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_lift import no_data_rows, worked
from liftcalc.lift.calculation_plan import SURVEY, area_rows, distance_rows, level_rows, mat_rows
from liftcalc.lift.placing import Placing, ground_level_m, leg_beams
from liftcalc.lift.setup import Setup
from liftcalc.lift.site_obstacles import line_distance_table
from liftcalc.lift.survey_checks import allowed_area, carrier_on_site, line_reach_rows

_TOUCHING_M = 1e-6


def survey_calculation(a: LiftAssessment, checks: Sequence[Check]) -> Calculation:
    """The calculation of a site survey sheet; *checks* are the rows that it shows."""
    setup, place = a.setup, a.place
    c = Calculation()
    calculation_plan.outrigger_rows(c, setup)
    shown = {one.id for one in worked(checks)}
    for check in checks:
        always = check.id == "packing" or check.id.startswith("survey-line-")
        if check.id not in shown and not always:
            continue
        if check.limit is None and not check.id.startswith("set-back-"):
            no_data_rows(c, check)
            continue
        section = next((f for prefix, f in SECTIONS if check.id.startswith(prefix)), None)
        if section is not None:
            c.section(check)
            section(c, setup, place, check)
    return c


def _outside(c: Calculation, setup: Setup, place: Placing, check: Check) -> None:
    area, words = allowed_area(setup, check.id)
    if check.id == "carrier-on-site":
        carrier = setup.machine.carrier
        shape = carrier_on_site(setup)
        c.facts(x_f=carrier.front_x_m, x_r=carrier.rear_x_m, b_c=carrier.width_m)
        formula = "(x_f - x_r) * b_c"
    else:
        outside = [float(mat.difference(area).area) for mat in place.mats]
        k = int(np.argmax(outside))
        shape = place.mats[k]
        c.note("Mat that governs", f"mat of outrigger {LEG_NAMES[k]}", "", words)
        mat_rows(c, setup.mat)
        formula = "l_m * b_m"
    c.work("A_w", formula, value=float(shape.area))
    area_rows(c, shape, area)
    c.ends(check, "A_o", "A_max_survey")


def _from_outriggers(c: Calculation, setup: Setup, parts: Sequence[BaseGeometry],
                     shape: BaseGeometry, words: str) -> None:  # fmt: skip
    """The distance of the nearest of the four."""
    k = int(np.argmin([float(part.distance(shape)) for part in parts]))
    distance_rows(c, setup, k, part=parts[k], shape=shape, words=words)


def _reached(c: Calculation, check: Check, value: str = "d_n") -> None:
    if check.limit is None:
        c.note(check.title, check.remedy, check.words, check.reference)
        return
    if check.limit <= _TOUCHING_M:
        c.facts(d_min_survey=check.limit)
    elif c.value("d_min") != check.limit:
        c.facts(check.reference, d_min=check.limit)
    c.reaches(check, value, "d_min")


def _obstacle(c: Calculation, setup: Setup, place: Placing, check: Check) -> None:
    id = check.id.removeprefix("mat-")
    obstacle = next(o for o in setup.site.obstacles if o.id == id)
    parts = list(map(GeometryCollection, zip(place.mats, leg_beams(setup), strict=True)))
    _from_outriggers(c, setup, parts, Polygon(obstacle.polygon), id)
    _reached(c, check)


def _set_back(c: Calculation, setup: Setup, place: Placing, check: Check) -> None:
    id, ratio = check.id.removeprefix("set-back-"), setup.rules.ground.edge_set_back_ratio
    pit = next((p for p in setup.site.excavations if p.id == id), None)
    if pit is not None:
        _from_outriggers(c, setup, place.mats, Polygon(pit.polygon), f"edge of {id}")
        by_depth = check.limit == max(ratio * pit.depth_m, _TOUCHING_M)
        height = pit.depth_m
    else:
        slope = next(s for s in setup.site.slopes if s.id == id)
        _from_outriggers(c, setup, place.mats, LineString(slope.crest), f"crest of {id}")
        by_depth, height = True, slope.height_m
    if by_depth and check.limit is not None and check.limit > _TOUCHING_M:
        c.facts(setup.rules.ground.reference, k_e=ratio)
        c.facts(h_e=height, detail=id)
        c.steps("d_min", d_min=check.limit)
    _reached(c, check)


def _stand_off(c: Calculation, setup: Setup, place: Placing, check: Check) -> None:
    id = check.id.removeprefix("stand-off-")
    service = next(s for s in setup.site.services if s.id == id)
    line, half = LineString(service.line), service.width_m / 2
    strip = line.buffer(half, cap_style="flat")
    middle = [float(mat.distance(line)) for mat in place.mats]
    edge = [float(mat.distance(strip)) for mat in place.mats]
    k = int(np.argmin(edge))
    if edge[k] > 0 and abs(middle[k] - half - edge[k]) < 1e-9:
        distance_rows(c, setup, k, part=place.mats[k], shape=line, words=f"centreline of {id}")
        c.facts(b_s=service.width_m, detail=id)
        formula = "d_n - b_s / 2"
    else:
        c.note(f"Outline of {id}", "half its width to each side of its centreline, which ends "
               "square", f"width {service.width_m:.3f} m", SURVEY)  # fmt: skip
        distance_rows(c, setup, k, part=place.mats[k], shape=strip, words=f"outline of {id}")
        formula = "d_n"
    c.work("d_e", formula, value=edge[k])
    _reached(c, check, "d_e")


def _packing(c: Calculation, setup: Setup, place: Placing, check: Check) -> None:
    level = place.level_m
    for key, k in (("Z_h", int(np.argmax(level))), ("Z_l_survey", int(np.argmin(level)))):
        name = LEG_NAMES[k]
        level_rows(c, setup, key, at=name, place=f"outrigger {name}", level_m=float(level[k]))
    c.steps("p_m", p_m=float(np.ptp(level)))
    c.ends(check, "p_m", "p_max_survey")


def _level(c: Calculation, setup: Setup, place: Placing, check: Check) -> None:
    stand = setup.lift.stand
    surveyed = float(ground_level_m(setup.site, stand.easting_m, stand.northing_m))
    c.facts(Z_0=stand.level_m)
    level_rows(c, setup, "Z_s_survey", at="0", place="the crane position", level_m=surveyed)
    c.steps("d_z", d_z=abs(surveyed - stand.level_m))
    c.ends(check, "d_z", "d_zm")


def _line(c: Calculation, setup: Setup, place: Placing, check: Check) -> None:
    id = check.id.removeprefix("survey-line-")
    line = next(x for x in setup.site.overhead_lines if x.id == id)
    calculation_plan.point_rows(c, LineString([p[:2] for p in line.points]), f"overhead line {id}")
    if line.voltage_kV is None or check.condition:
        c.ends(check, "d_n", "d_min", check.reference)
        return
    c.facts(V_survey=line.voltage_kV, detail=id)
    table = line_distance_table(setup.rules, persons=setup.lift.persons)
    band = int(np.flatnonzero(table.distance_m == required_distance_m(line.voltage_kV, table=table))[0])
    c.ends(check, "d_n", "d_min", f"{check.reference}: up to {table.limit_kV[band]:g} kV")
    _reach_rows(c, setup, line)


def _reach_rows(c: Calculation, setup: Setup, line: OverheadLine) -> None:
    """Whether the boom at its lowest angle could come nearer than the study zone."""
    boom, foot = setup.boom, setup.machine.boom
    c.facts(L=boom.length_m, u_f=foot.foot_u_m, alpha_m=foot.angle_min_deg, h_o=foot.head_offset_m)
    c.steps("R_m_survey", R_m_survey=boom.radius_max_m)
    c.facts(D_z=float(study_zone_m(line.voltage_kV or 0.0)))
    c.steps("R_z")
    inside = next(reached for id, _, _, reached in line_reach_rows(setup) if id == line.id)
    words = "within reach: the steps of 29 CFR 1926.1408 apply" if inside else "out of reach"
    c.note(f"Overhead line {line.id}", f"d_n {'≤' if inside else '>'} R_z", words, "29 CFR 1926.1408")


Section = Callable[[Calculation, Setup, Placing, Check], None]
SECTIONS: tuple[tuple[str, Section], ...] = (
    ("mats-", _outside), ("carrier-on-site", _outside), ("mat-", _obstacle),
    ("set-back-", _set_back), ("stand-off-", _stand_off), ("packing", _packing),
    ("stand-level", _level), ("survey-line-", _line),
)  # fmt: skip
"""What works a check, by how its id begins."""
