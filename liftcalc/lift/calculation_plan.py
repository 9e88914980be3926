"""Plane geometry of a sheet's calculation: outriggers on the site, distances and areas in plan.

The shortest distance of two outlines that do not touch begins or ends at a corner of one of them:
the rows name that corner and the side, or the corner, opposite.

Source: plane geometry.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from liftcalc.base.arrays import FloatArray
from liftcalc.crane.legs import LEG_NAMES, LEG_SIDE
from liftcalc.facts.mats import Mat
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST, PLANE, position_rows
from liftcalc.lift.placing import spot_levels_around
from liftcalc.lift.setup import Setup, to_machine_m

SURVEY = "survey"
_SAME_M = 1e-7
Pair = tuple[float, float]
_AXES = (("E", "cos", "sin"), ("N", "sin", "cos"))
"""Each axis of the site: symbol, and what of the heading turns forward and left to it."""


def mat_rows(c: Calculation, mat: Mat) -> None:
    c.facts(l_m=mat.length_m, b_m=mat.width_m)


def frame_rows(c: Calculation, setup: Setup) -> None:
    """Where each outrigger stands, seen from the slew centre."""
    for leg, extension in zip(setup.machine.legs, setup.lift.legs.as_tuple(), strict=True):
        c.facts(x_of=leg.x_m, of=leg.name)
        c.facts(LIFT_LIST, e_of=extension, of=leg.name)


def across_of(name: str) -> str:
    """Place of an outrigger, left of the centreline, by its extension."""
    return f"{'' if LEG_SIDE[LEG_NAMES.index(name)] > 0 else '-'}e_{name}"


def outrigger_rows(c: Calculation, setup: Setup) -> None:
    """Easting and northing of the four outriggers."""
    c.section(None, "Position of the outriggers")
    position_rows(c, setup.lift.stand, LIFT_LIST)
    frame_rows(c, setup)
    for k, name in enumerate(LEG_NAMES):
        east, north = setup.leg_site_xy_m[k].tolist()
        if LEG_SIDE[k] > 0:
            c.steps("E_left N_left", of=name, E_left=east, N_left=north)
        else:
            c.steps("E_right N_right", of=name, E_right=east, N_right=north)


def _points(shape: BaseGeometry) -> list[Pair]:
    return [(float(x), float(y)) for x, y in shapely.get_coordinates(shape)]


def _sides(shape: BaseGeometry) -> list[tuple[Pair, Pair]]:
    """Straight sides of an outline, a line, or several of them."""
    sides = []
    for part in shapely.get_parts(shape):
        rings = [part.exterior, *part.interiors] if isinstance(part, Polygon) else [part]
        for ring in rings:
            sides += [(a, b) for a, b in pairwise(_points(ring)) if a != b]
    return sides


@dataclass(frozen=True)
class _Nearest:
    """A corner of one outline, and the side of the other that is nearest to it."""

    corner: Pair
    side: tuple[Pair, Pair]
    foot_inside: bool
    """Whether the foot of the perpendicular lies on the side; else its nearer end counts."""


def _nearest_from(one: BaseGeometry, other: BaseGeometry, distance_m: float) -> _Nearest | None:
    for corner in _points(one):
        if abs(Point(corner).distance(other) - distance_m) > _SAME_M:
            continue
        for a, b in _sides(other):
            if abs(LineString([a, b]).distance(Point(corner)) - distance_m) > _SAME_M:
                continue
            run = np.subtract(b, a)
            along = float(np.subtract(corner, a) @ run) / float(run @ run)
            if 0.0 <= along <= 1.0:
                return _Nearest(corner, (a, b), True)
            return _Nearest(corner, (a, b) if along < 0 else (b, a), False)
    return None


def _corner_rows(c: Calculation, setup: Setup, mark: str, point: Pair, k: int) -> None:
    """A corner of the mat of one outrigger, or the root of its beam, from its outrigger."""
    name = LEG_NAMES[k]
    x, y = (to_machine_m(np.array(point), setup.lift) - setup.leg_xy_m[k]).tolist()
    beam = abs(x) < _SAME_M  # from the centreline
    root = beam and abs(setup.leg_xy_m[k, 1] + y) < _SAME_M
    where = f"{'front' if x > 0 else 'rear'} {'left' if y > 0 else 'right'} corner, mat of {name}"
    if beam:
        where = f"beam of outrigger {name}, at the centreline" if root else f"float of outrigger {name}"
    else:
        mat_rows(c, setup.mat)
    forward, sides = "+" if x > 0 else "-", ("-", "+") if y > 0 else ("+", "-")
    for (axis, along, across), at, side in zip(_AXES, point, sides, strict=True):
        formula = f"{axis}_0 + x_{name} * {along}(H)" if root else f"{axis}_{name}"
        if not beam:
            formula += f" {forward} l_m / 2 * {along}(H) {side} b_m / 2 * {across}(H)"
        c.work(f"{axis}_corner_{mark}", formula, value=at, detail=where)


def _surveyed_rows(c: Calculation, mark: str, point: Pair, words: str) -> None:
    c.facts(detail=words, **{f"E_surveyed_{mark}": point[0], f"N_surveyed_{mark}": point[1]})


def _between(a: str, b: str) -> str:
    return f"sqrt((E_{b} - E_{a})**2 + (N_{b} - N_{a})**2)"


def _across_rows(c: Calculation, a: str, b: str, m: str, distance_m: float, detail: str = "") -> None:
    """The distance d_n of point m from the side between a and b."""
    c.work("l_s_plan", _between(a, b), detail=detail)
    area = f"abs((E_{b} - E_{a}) * (N_{a} - N_{m}) - (E_{a} - E_{m}) * (N_{b} - N_{a}))"
    source = "distance of a point from a line through two points"
    c.work("d_n", f"{area} / l_s", source, value=distance_m)


def distance_rows(c: Calculation, setup: Setup, k: int, *, part: BaseGeometry, shape: BaseGeometry, words: str) -> None:
    """The distance d_n in plan from mat (and beam) of one outrigger to a surveyed shape.

    Parameters:
      k: Which outrigger.
      part: Mat, or mat and beam, on the site.
      shape: Outline or line.
      words: What the shape is.
    """
    distance_m = float(part.distance(shape))
    if not distance_m > _SAME_M:
        common = sum(float(one.intersection(shape).area) for one in shapely.get_parts(part))
        c.note(f"Outrigger {LEG_NAMES[k]} and {words}", "they overlap or touch in plan",
               f"{common:.3f} m² in common", PLANE)  # fmt: skip
        c.facts(d_n=distance_m)
        return
    mine = _nearest_from(part, shape, distance_m)
    found = mine or _nearest_from(shape, part, distance_m)
    assert found is not None, "two outlines that do not touch are nearest at a corner"
    (p, q), side = found.corner, found.side
    if not found.foot_inside:
        corner, other = ((p, q), side[0]) if mine is not None else (side[0], (p, q))
        _corner_rows(c, setup, "m", corner, k)
        _surveyed_rows(c, "a", other, f"corner of {words}")
        c.work("d_n", _between("m", "a"), value=distance_m)
        return
    if mine is not None:
        _corner_rows(c, setup, "m", (p, q), k)
        for mark, point in zip("ab", side, strict=True):
            _surveyed_rows(c, mark, point, f"side of {words}")
        _across_rows(c, "a", "b", "m", distance_m)
    else:
        _surveyed_rows(c, "a", (p, q), f"corner of {words}")
        for mark, point in zip("mn", side, strict=True):
            _corner_rows(c, setup, mark, point, k)
        _across_rows(c, "m", "n", "a", distance_m)


def point_rows(c: Calculation, line: LineString, words: str) -> None:
    """The distance d_n in plan from the crane position to a line, with what it is."""
    at = Point(c.value("E_0") or 0.0, c.value("N_0") or 0.0)
    distance_m = float(at.distance(line))
    found = _nearest_from(at, line, distance_m)
    assert found is not None, "a line has a point nearest to the crane"
    for mark, point in zip("ab" if found.foot_inside else "a", found.side, strict=False):
        _surveyed_rows(c, mark, point, f"support of {words}")
    if found.foot_inside:
        _across_rows(c, "a", "b", "0", distance_m, "the span nearest to the crane")
    else:
        c.work("d_n", _between("0", "a"), value=distance_m)


def area_rows(c: Calculation, shape: Polygon, area: BaseGeometry) -> None:
    """The part A_o of the area A_w of a shape that lies outside an area, by its corners."""
    outside = shape.difference(area)
    parts = [p for p in shapely.get_parts(outside) if isinstance(p, Polygon) and p.area > 1e-9]
    if not parts:
        c.facts(A_i=float(shape.intersection(area).area))
        c.steps("A_o_plan", A_o_plan=float(outside.area))
        return
    terms, n = [], 0
    for part in parts:
        for hole, ring in enumerate((part.exterior, *part.interiors)):
            corners = _points(ring)[:-1]  # anticlockwise; a hole clockwise, to be taken off
            corners = corners if ring.is_ccw == (hole == 0) else corners[::-1]
            first = n + 1
            for east, north in corners:
                n += 1
                c.facts(E_of_plan=east, N_of_plan=north, of=n)
            ring_of = [*range(first, n + 1), first]
            terms += [f"E_{i} * N_{j} - E_{j} * N_{i}" for i, j in pairwise(ring_of)]
    c.work("A_o", f"({' + '.join(terms)}) / 2", value=float(outside.area), tolerance=1e-5)


def level_rows(c: Calculation, setup: Setup, key: str, *, at: str, place: str, level_m: float) -> None:
    """Ground level at a point, linear in the triangle of three spot levels.

    Parameters:
      key: The level's, in the table of rows.
      at: Ends of the symbols of the point's easting and northing, as "FL" or "0".
      place: The point in words.
      level_m: What the package found. [m]
    """
    east, north = c.value(f"E_{at}") or 0.0, c.value(f"N_{at}") or 0.0
    around: FloatArray = spot_levels_around(setup.site, east, north)
    for mark, (e, n, z) in zip("ijk", around.tolist(), strict=True):
        c.facts(E_of=e, of=mark, detail=f"read for {place}")
        c.facts(N_of=n, Z_of=z, of=mark)
    c.steps("D_t")
    rows = ("i", "N_j - N_k", "E_k - E_j"), ("j", "N_k - N_i", "E_i - E_k")
    for mark, north_of, east_of in rows:
        share = f"(({north_of}) * (E_{at} - E_k) + ({east_of}) * (N_{at} - N_k)) / D_t"
        c.work("g_of", share, of=mark)
    level, source = "g_i * Z_i + g_j * Z_j + (1 - g_i - g_j) * Z_k", "linear in the triangle"
    c.work(key, level, source, value=level_m, detail=place)
