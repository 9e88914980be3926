"""Upright sections through outriggers and what stands or lies in the ground beside them.

A section runs along the shortest way from the mat to what is nearest beside it, so that distances
in it are true. Layers follow the surveyed surface at the depths of their borehole. Plane geometry.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.site import Site
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.leg_ground import LegGround
from liftcalc.lift.placing import ground_below_m, mat_turn_deg

REACH_M, BEYOND_M = 6.0, 2.4
"""Nothing farther from a mat than the first, and than two widths of it, has a section; how far one
goes on behind the mat and beyond what is beside it. [m]"""
EDGES = ("wall", "excavation", "slope")
Span = tuple[float, float]


@dataclass(frozen=True)
class Thing:
    """What a mat may stand beside; ``depth_m`` is its depth, its height or the cover over it."""

    name: str
    kind: str
    shape: BaseGeometry
    depth_m: float


def things_of(site: Site) -> list[Thing]:
    """Walls, edges, services and obstacles of a site in plan."""
    return [
        *(Thing(w.id, "wall", LineString(w.line), w.retained_height_m)
          for w in site.retaining_walls),
        *(Thing(p.id, "excavation", Polygon(p.polygon), p.depth_m) for p in site.excavations),
        *(Thing(s.id, "slope", LineString(s.crest), s.height_m) for s in site.slopes),
        *(Thing(s.id, s.kind, LineString(s.line).buffer(s.width_m / 2.0, cap_style="flat"),
                s.crown_depth_m) for s in site.services),
        *(Thing(o.id, "obstacle", Polygon(o.polygon), 0.0) for o in site.obstacles),
    ]  # fmt: skip


@dataclass(frozen=True)
class Beside:
    """One thing in a section: distances from the float, near side first; levels of the site."""

    thing: Thing
    span_m: Span
    top_m: float
    bottom_m: float


@dataclass(frozen=True, eq=False)
class Section:
    """One outrigger in section; distances from the middle of its float.

    ``surface_m`` holds distance, ground without excavations, and ground as it is; ``surveyed`` says where its level is.
    """

    leg: LegGround
    legs: tuple[str, ...]
    """Every outrigger that stands so, this one under the greatest force."""
    mat: str
    mat_m: Span
    bears_m: float
    float_m: float
    thickness_m: float
    packing_m: float
    nearest: str
    gap_m: float
    surface_m: FloatArray
    surveyed: BoolArray
    bands: tuple[tuple[Span, SurveyedProfile], ...]
    things: tuple[Beside, ...]


def _toward(mat: Polygon, shape: BaseGeometry) -> tuple[FloatArray, FloatArray]:
    """Where a section starts at the mat, and its unit step; across what the mat touches."""
    p, q = nearest_points(mat, shape)
    if p.distance(q) < 1e-6:
        p = mat.centroid
        q = nearest_points(shape, p)[0]
    step = np.array([q.x - p.x, q.y - p.y])
    if np.hypot(*step) < 1e-6:
        sides = np.diff(np.asarray(shape.minimum_rotated_rectangle.exterior.coords)[:3], axis=0)
        step = sides[int(np.argmin(np.hypot(*sides.T)))]
    return np.array([p.x, p.y]), step / np.hypot(*step)


def leg_section(a: LiftAssessment, k: int) -> Section:
    """Section through one outrigger, to what is nearest beside it, else outward from the crane."""
    assert a.ground is not None
    g, mat, xy = a.ground.legs[k], a.place.mats[k], a.setup.leg_site_xy_m[k]
    every = [t for t in things_of(a.setup.site) if t.kind != "obstacle"]
    nearest = min(every, key=lambda t: float(mat.distance(t.shape)), default=None)
    gap = np.inf if nearest is None else float(mat.distance(nearest.shape))
    outward = xy - a.setup.leg_site_xy_m.mean(axis=0)
    start, step = xy, outward / np.hypot(*outward)
    if nearest is not None and gap <= max(REACH_M, 2.0 * a.setup.mat.width_m):
        start, step = _toward(mat, nearest.shape)
    else:
        nearest, gap = None, 0.0
    origin = start - step * float((start - xy) @ step)  # abreast of the float's middle
    corners = (np.asarray(mat.exterior.coords) - xy) @ step
    wide = (float(corners.min()), float(corners.max()))
    begin, end = wide[0] - BEYOND_M, wide[1] + gap + BEYOND_M
    cut = LineString([origin + begin * step, origin + end * step])

    def along(shape: BaseGeometry) -> list[Span]:
        parts = shapely.get_parts(cut.intersection(shape))
        spans = ([cut.project(Point(c)) + begin for c in part.coords] for part in parts)
        return [(min(s), max(s)) for s in spans if s]

    spans = [(t, s if abs(s[0]) < abs(s[1]) else (s[1], s[0])) for t in every for s in along(t.shape)]
    # without what lies beyond the first wall, edge or crest on either side of the mat
    stops = [span[0] for t, span in spans if t.kind in EDGES]
    right = min((s for s in stops if s > 0), default=np.inf)
    left = max((s for s in stops if s <= 0), default=-np.inf)
    spans = [one for one in spans if left <= one[1][0] <= right]
    profiles = {z.id: a.setup.site.profile(z.profile) for z in a.setup.site.zones}
    bands = [(s, profiles[z.id]) for z in a.setup.site.zones for s in along(Polygon(z.polygon))]
    edges = [e + d for _, s in spans for e in s for d in (-1e-4, 1e-4)]
    edges += [e for s, _ in bands for e in s]
    u = np.unique(np.clip([*np.linspace(begin, end, 61), *edges], begin, end))
    without = a.setup.site.model_copy(update={"excavations": ()})
    was = ground_below_m(without, origin + u[:, None] * step)
    known = np.isfinite(was)
    was = np.interp(u, u[known], was[known])
    things, now, sure = _levels(a, spans, u, was)
    turn = np.radians(mat_turn_deg(a.setup)) - np.arctan2(*step[::-1])
    cos, sin = np.abs([np.cos(turn), np.sin(turn)])
    foot = a.setup.machine.legs[k]
    return Section(
        leg=g, legs=(g.name,), mat=a.setup.mat.id, mat_m=wide,
        bears_m=float(cos * g.effective_length_m + sin * g.effective_width_m) / 2.0,
        float_m=float(cos * foot.float_length_m + sin * foot.float_width_m) / 2.0, thickness_m=a.setup.mat.thickness_m,
        packing_m=float(a.place.packing_m[k]), nearest="" if nearest is None else nearest.name, gap_m=gap,
        surface_m=np.column_stack([u, was, now]), surveyed=known & sure,
        bands=tuple(b for b in bands if b[0][1] - b[0][0] > 0.01), things=tuple(things),
    )  # fmt: skip


def _levels(a: LiftAssessment, spans: list[tuple[Thing, Span]], u: FloatArray,
            was: FloatArray) -> tuple[list[Beside], FloatArray, BoolArray]:  # fmt: skip
    """Levels of the things in a section, the ground as they leave it, and where that is surveyed.

    Beyond a wall or crest the ground lies as much lower as is stated; only the width of a service
    is surveyed, and stands for its height.
    """
    things, now, sure = [], was.copy(), np.full(u.shape, True)
    for t, span in spans:
        here, low, high = float(np.interp(span[0], u, was)), min(span), max(span)
        beyond = u > span[0] if span[0] > 0 else u < span[0]
        top, bottom = here, here - t.depth_m
        if t.kind == "excavation":
            now = np.where((u > low + 5e-5) & (u < high + 5e-5), bottom, now)
        elif t.kind in EDGES:
            angle = next((s.angle_deg for s in a.setup.site.slopes if s.id == t.name), 0.0)
            fall = np.minimum(np.abs(u - span[0]) * np.tan(np.radians(angle)), t.depth_m)
            now = np.where(beyond, bottom if t.kind == "wall" else was - fall, now)
            sure = sure & ~beyond
        else:
            wide = next(s.width_m for s in a.setup.site.services if s.id == t.name)
            top, bottom = bottom, bottom - (0.3 if t.kind == "slab" else wide)
        things.append(Beside(t, span, top, bottom))
    return things, now, sure


def ground_sections(a: LiftAssessment) -> tuple[Section, ...]:
    """A section for each outrigger with something beside it, and one of each ground without.

    Returns: tuple of Section. Of outriggers that stand alike, on one ground as far from one thing,
      only the most pressed; empty where the crane tips over.
    Source: plane geometry.
    """
    every = [leg_section(a, k) for k in range(len(a.setup.machine.legs) if a.ground else 0)]
    alike: dict[tuple[str, str, float], list[Section]] = {}
    for s in sorted(every, key=lambda s: -s.leg.reaction_kN):
        alike.setdefault((s.nearest, s.leg.profile.id, round(s.gap_m, 2)), []).append(s)
    grounds = {s.leg.profile.id for s in every if s.nearest}
    return tuple(
        dataclasses.replace(group[0], legs=tuple(sorted(s.leg.name for s in group)))
        for (nearest, ground, _), group in alike.items() if nearest or ground not in grounds
    )  # fmt: skip
