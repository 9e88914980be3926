"""Upright sections through outriggers and what stands or lies in the ground beside them.

A section runs from the mat to the nearest edge, wall or service, square across the shortest way
between them, so that distances in it are the true ones. Layers follow the surveyed surface at the
depths of their borehole. Plane geometry; nothing is calculated but distances.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from liftcalc.base.arrays import FloatArray
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.leg_ground import LegGround
from liftcalc.lift.placing import ground_below_m, mat_turn_deg

REACH_M = 6.0
"""What lies farther from a mat than this, and than two widths of it, has no section. [m]"""
BEYOND_M = 2.4
"""How far a section goes on behind the mat and beyond what is beside it. [m]"""


@dataclass(frozen=True)
class Beside:
    """One thing in a section; levels in metres of the site's datum, distances from the float."""

    name: str
    kind: str
    near_m: float
    far_m: float
    top_m: float
    bottom_m: float
    deep_m: float
    """Depth, height or cover as surveyed: what is dimensioned. [m]"""


@dataclass(frozen=True)
class Bands:
    """One ground zone along the section and its layers."""

    from_m: float
    to_m: float
    profile: SurveyedProfile


@dataclass(frozen=True, eq=False)
class Section:
    """One outrigger in section; ``surface_m`` is (distance, ground as it was, ground as it is)."""

    leg: LegGround
    legs: tuple[str, ...]
    """Every outrigger that stands so, this one under the greatest force."""
    beside: str
    surface_m: FloatArray
    surveyed: FloatArray
    bands: tuple[Bands, ...]
    mat_m: tuple[float, float]
    bears_m: tuple[float, float]
    float_m: float
    mat: str
    mat_thickness_m: float
    packing_m: float
    gap_m: float | None
    things: tuple[Beside, ...]


Candidate = tuple[str, str, BaseGeometry, float]
"""Name, kind, shape in plan and depth, height or cover of what a mat may stand beside."""


def _candidates(a: LiftAssessment) -> list[Candidate]:
    site = a.setup.site
    out: list[Candidate] = []
    for wall in site.retaining_walls:
        out.append((wall.id, "wall", LineString(wall.line), wall.retained_height_m))
    for pit in site.excavations:
        out.append((pit.id, "excavation", Polygon(pit.polygon), pit.depth_m))
    for slope in site.slopes:
        out.append((slope.id, "slope", LineString(slope.crest), slope.height_m))
    for pipe in site.services:
        band = LineString(pipe.line).buffer(pipe.width_m / 2.0, cap_style="flat")
        out.append((pipe.id, pipe.kind, band, pipe.crown_depth_m))
    return out


def _toward(mat: Polygon, middle: Point, shape: BaseGeometry) -> FloatArray:
    """Unit step from the mat to what is beside it; across it where the mat touches it."""
    p, q = nearest_points(mat, shape)
    if p.distance(q) < 1e-6:
        p, q = middle, nearest_points(shape, middle)[0]
    step = np.array([q.x - p.x, q.y - p.y])
    if np.hypot(*step) < 1e-6:
        box = np.asarray(shape.minimum_rotated_rectangle.exterior.coords)
        sides = np.diff(box[:3], axis=0)
        step = sides[int(np.argmin(np.hypot(*sides.T)))]
    return np.asarray(step / np.hypot(*step))


def leg_section(a: LiftAssessment, k: int) -> Section:
    """Section through one outrigger, to what is nearest beside it, else outward from the crane."""
    # long: one cut through all that the survey holds, each kind with its own levels
    assert a.ground is not None
    g, mat, xy = a.ground.legs[k], a.place.mats[k], a.setup.leg_site_xy_m[k]
    middle = Point(*xy)
    near = [c for c in _candidates(a)
            if mat.distance(c[2]) <= max(REACH_M, 2.0 * a.setup.mat.width_m)]  # fmt: skip
    near.sort(key=lambda c: mat.distance(c[2]))
    outward = xy - a.setup.leg_site_xy_m.mean(axis=0)
    step = _toward(mat, middle, near[0][2]) if near else outward / np.hypot(*outward)
    start = xy if not near else np.asarray(nearest_points(mat, near[0][2])[0].coords[0])
    origin = start - step * float((start - xy) @ step)  # abreast of the float's middle
    corners = (np.asarray(mat.exterior.coords)[:-1] - xy) @ step
    wide = (float(corners.min()), float(corners.max()))
    end = wide[1] + max([BEYOND_M, *(mat.distance(c[2]) + BEYOND_M for c in near[:1])])
    begin = wide[0] - BEYOND_M
    cut = LineString([origin + begin * step, origin + end * step])

    def along(shape: BaseGeometry) -> list[tuple[float, float]]:
        parts = shapely.get_parts(cut.intersection(shape))
        spans = (np.array([cut.project(Point(c)) for c in part.coords]) for part in parts)
        return [(float(s.min()) + begin, float(s.max()) + begin) for s in spans if s.size]

    u = np.linspace(begin, end, 61)
    spans = _first_edges([(c, span) for c in _candidates(a) for span in along(c[2])])
    edges = np.array([u0 + e for _, span in spans for u0 in span for e in (-1e-4, 1e-4)])
    u = np.unique(np.clip(np.concatenate([u, edges]), begin, end))
    points = origin + u[:, None] * step
    plain = a.setup.site.model_copy(update={"excavations": ()})
    level = ground_below_m(plain, points)
    known = np.isfinite(level)
    level = np.interp(u, u[known], level[known])
    now, things = level.copy(), []
    for (name, kind, _, deep), span in spans:
        near_m, far_m = sorted(span, key=abs)
        beyond = u > near_m if near_m > 0 else u < near_m
        here = float(np.interp(near_m, u, level))
        top, bottom = here, here - deep
        if kind == "excavation":
            inside = (u > min(span) + 5e-5) & (u < max(span) + 5e-5)
            now = np.where(inside, bottom, now)
        elif kind == "wall":
            now, known = np.where(beyond, bottom, now), known & ~beyond
        elif kind == "slope":
            angle = next(s.angle_deg for s in a.setup.site.slopes if s.id == name)
            fall = np.minimum(np.abs(u - near_m) * np.tan(np.radians(angle)), deep)
            now, known = np.where(beyond, level - fall, now), known & ~beyond
        else:
            wide_m = next(s.width_m for s in a.setup.site.services if s.id == name)
            top, bottom = here - deep, here - deep - (0.3 if kind == "slab" else wide_m)
        things.append(Beside(name, kind, near_m, far_m, top, bottom, deep))
    profiles = {z.id: z.profile for z in a.setup.site.zones}
    bands = [
        Bands(u0, u1, a.setup.site.profile(profiles[z.id]))
        for z in a.setup.site.zones for u0, u1 in along(Polygon(z.polygon)) if u1 - u0 > 0.01
    ]  # fmt: skip
    turn = np.radians(mat_turn_deg(a.setup))
    cos, sin = (
        abs(float(step @ [np.cos(turn), np.sin(turn)])),
        abs(float(step @ [-np.sin(turn), np.cos(turn)])),
    )
    foot = a.setup.machine.legs[k]
    half = (cos * g.effective_length_m + sin * g.effective_width_m) / 2.0
    what = near[0][0] if near else ""
    return Section(
        leg=g, beside=what, legs=(g.name,), surface_m=np.column_stack([u, level, now]), surveyed=known,
        bands=tuple(bands), mat_m=wide, bears_m=(-half, half),
        float_m=(cos * foot.float_length_m + sin * foot.float_width_m) / 2.0,
        mat=a.setup.mat.id, mat_thickness_m=a.setup.mat.thickness_m, packing_m=float(a.place.packing_m[k]),
        gap_m=float(mat.distance(near[0][2])) if near else None, things=tuple(things),
    )  # fmt: skip


def _first_edges(spans: list[tuple[Candidate, tuple[float, float]]],
                 ) -> list[tuple[Candidate, tuple[float, float]]]:  # fmt: skip
    """Without what lies beyond the first wall, edge or crest on either side of the mat."""
    stops = [min(span, key=abs) for c, span in spans if c[1] in ("wall", "excavation", "slope")]
    right = min((s for s in stops if s > 0), default=np.inf)
    left = max((s for s in stops if s <= 0), default=-np.inf)
    return [one for one in spans if left <= min(one[1], key=abs) <= right]


def ground_sections(a: LiftAssessment) -> tuple[Section, ...]:
    """A section for each outrigger with something beside it, and one of each ground without.

    Of outriggers that stand alike, on one ground as far from one thing, the most pressed is drawn.
    """
    if a.ground is None:
        return ()
    every = [leg_section(a, k) for k in range(len(a.ground.legs))]
    alike: dict[tuple[str, str, float], list[Section]] = {}
    for s in sorted(every, key=lambda s: -s.leg.reaction_kN):
        gap = 0.0 if s.gap_m is None else round(s.gap_m, 2)
        alike.setdefault((s.beside, s.leg.profile.id, gap), []).append(s)
    grounds = {s.leg.profile.id for s in every if s.beside}
    return tuple(
        dataclasses.replace(group[0], legs=tuple(sorted(s.leg.name for s in group)))
        for (beside, ground, _), group in alike.items()
        if beside or ground not in grounds
    )
