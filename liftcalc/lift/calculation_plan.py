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
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, PLANE, position_rows
from liftcalc.lift.placing import spot_levels_around
from liftcalc.lift.setup import Setup, to_machine_m

SURVEY = "survey"
_SAME_M = 1e-7
Pair = tuple[float, float]
_AXES = (("E", "easting", "cos", "sin"), ("N", "northing", "sin", "cos"))
"""Each axis of the site: symbol, name, and what of the heading turns forward and left to it."""


def mat_rows(c: Calculation, mat: Mat) -> None:
    c.given("l_m", "length of the mat, along the crane", mat.length_m, "m", "mats list")
    c.given("b_m", "width of the mat", mat.width_m, "m", "mats list")


def frame_rows(c: Calculation, setup: Setup) -> None:
    """Where each outrigger stands, seen from the slew centre."""
    for leg, extension in zip(setup.machine.legs, setup.lift.legs.as_tuple(), strict=True):
        place = f"place of outrigger {leg.name}, forward of the slew centre"
        c.given(f"x_{leg.name}", place, leg.x_m, "m", MACHINE)
        meaning = f"extension of outrigger {leg.name}, from the centreline"
        c.given(f"e_{leg.name}", meaning, extension, "m", LIFT_LIST)


def across_of(name: str) -> str:
    """Place of an outrigger, left of the centreline, by its extension."""
    return f"{'' if LEG_SIDE[LEG_NAMES.index(name)] > 0 else '-'}e_{name}"


def outrigger_rows(c: Calculation, setup: Setup) -> None:
    """Easting and northing of the four outriggers."""
    c.section(None, "Position of the outriggers")
    position_rows(c, setup.lift.stand, LIFT_LIST)
    frame_rows(c, setup)
    for k, name in enumerate(LEG_NAMES):
        sides = ("-", "+") if LEG_SIDE[k] > 0 else ("+", "-")
        for (axis, way, along, across), at, side in zip(
            _AXES, setup.leg_site_xy_m[k].tolist(), sides, strict=True
        ):
            place = f"{axis}_0 + x_{name} * {along}(H) {side} e_{name} * {across}(H)"
            c.step(f"{axis}_{name}", f"{way} of outrigger {name}", place, "m", PLANE, value=at)


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
    which = "first" if mark == "m" else "second"
    beam = abs(x) < _SAME_M  # from the centreline
    root = beam and abs(setup.leg_xy_m[k, 1] + y) < _SAME_M
    where = f"{'front' if x > 0 else 'rear'} {'left' if y > 0 else 'right'} corner, mat of {name}"
    if beam:
        where = (
            f"beam of outrigger {name}, at the centreline" if root else f"float of outrigger {name}"
        )
    else:
        mat_rows(c, setup.mat)
    forward, sides = "+" if x > 0 else "-", ("-", "+") if y > 0 else ("+", "-")
    for (axis, way, along, across), at, side in zip(_AXES, point, sides, strict=True):
        formula = f"{axis}_0 + x_{name} * {along}(H)" if root else f"{axis}_{name}"
        if not beam:
            formula += f" {forward} l_m / 2 * {along}(H) {side} b_m / 2 * {across}(H)"
        c.step(f"{axis}_{mark}", f"{way} of the {which} corner of mat or beam", formula, "m",
               PLANE, value=at, detail=where)  # fmt: skip


def _surveyed_rows(c: Calculation, mark: str, point: Pair, words: str) -> None:
    which = "first" if mark == "a" else "second"
    of = f"of the {which} surveyed point"
    c.given(f"E_{mark}", f"easting {of}", point[0], "m", SURVEY, detail=words)
    c.given(f"N_{mark}", f"northing {of}", point[1], "m", SURVEY, detail=words)


_DISTANCE = ("d_n", "distance in plan")


def _between(a: str, b: str) -> str:
    return f"sqrt((E_{b} - E_{a})**2 + (N_{b} - N_{a})**2)"


def _across_rows(c: Calculation, a: str, b: str, m: str, distance_m: float,
                 detail: str = "") -> None:  # fmt: skip
    """The distance d_n of point m from the side between a and b."""
    c.step("l_s", "length of the side", _between(a, b), "m", PLANE, detail=detail)
    area = f"abs((E_{b} - E_{a}) * (N_{a} - N_{m}) - (E_{a} - E_{m}) * (N_{b} - N_{a}))"
    c.step(*_DISTANCE, f"{area} / l_s", "m",
           "distance of a point from a line through two points", value=distance_m)  # fmt: skip


def distance_rows(c: Calculation, setup: Setup, k: int, *, part: BaseGeometry, shape: BaseGeometry,
                  words: str) -> None:  # fmt: skip
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
        c.given(*_DISTANCE, distance_m, "m", PLANE)
        return
    mine = _nearest_from(part, shape, distance_m)
    found = mine or _nearest_from(shape, part, distance_m)
    assert found is not None, "two outlines that do not touch are nearest at a corner"
    (p, q), side = found.corner, found.side
    if not found.foot_inside:
        corner, other = ((p, q), side[0]) if mine is not None else (side[0], (p, q))
        _corner_rows(c, setup, "m", corner, k)
        _surveyed_rows(c, "a", other, f"corner of {words}")
        c.step(*_DISTANCE, _between("m", "a"), "m", PLANE, value=distance_m)
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
        c.step(*_DISTANCE, _between("0", "a"), "m", PLANE, value=distance_m)


def area_rows(c: Calculation, shape: Polygon, area: BaseGeometry) -> None:
    """The part A_o of the area A_w of a shape that lies outside an area, by its corners."""
    outside = shape.difference(area)
    symbol, meaning = "A_o", "area outside"
    parts = [p for p in shapely.get_parts(outside) if isinstance(p, Polygon) and p.area > 1e-9]
    if not parts:
        inside = float(shape.intersection(area).area)
        c.given("A_i", "area of it that lies inside", inside, "m²",
                f"{SURVEY}: no corner and no border outside", digits=6)  # fmt: skip
        c.step(symbol, meaning, "A_w - A_i", "m²", PLANE, value=float(outside.area), digits=6)
        return
    terms, n = [], 0
    for part in parts:
        for hole, ring in enumerate((part.exterior, *part.interiors)):
            corners = _points(ring)[:-1]  # anticlockwise; a hole clockwise, to be taken off
            corners = corners if ring.is_ccw == (hole == 0) else corners[::-1]
            first = n + 1
            for east, north in corners:
                n += 1
                of = f"of corner {n} of the part outside"
                c.given(f"E_{n}", f"easting {of}", east, "m", PLANE)
                c.given(f"N_{n}", f"northing {of}", north, "m", PLANE)
            ring_of = [*range(first, n + 1), first]
            terms += [f"E_{i} * N_{j} - E_{j} * N_{i}" for i, j in pairwise(ring_of)]
    c.step(symbol, meaning, f"({' + '.join(terms)}) / 2", "m²", "area by corners",
           value=float(outside.area), tolerance=1e-5)  # fmt: skip


def level_rows(
    c: Calculation, setup: Setup, *, at: str, place: str, meaning: str, symbol: str,
    level_m: float,
) -> None:  # fmt: skip
    """Ground level at a point, linear in the triangle of three spot levels.

    Parameters:
      at: Ends of the symbols of the point's easting and northing, as "FL" or "0".
      place: The point in words.
      meaning, symbol: Of the level.
      level_m: What the package found. [m]
    """
    east, north = c.value(f"E_{at}") or 0.0, c.value(f"N_{at}") or 0.0
    around: FloatArray = spot_levels_around(setup.site, east, north)
    for mark, (e, n, z) in zip("ijk", around.tolist(), strict=True):
        of = f"of spot level {mark}"
        c.given(f"E_{mark}", f"easting {of}", e, "m", SURVEY, detail=f"read for {place}")
        c.given(f"N_{mark}", f"northing {of}", n, "m", SURVEY)
        c.given(f"Z_{mark}", f"level {of}", z, "m", SURVEY)
    c.step("D_t", "twice the area of the triangle of spot levels",
           "(N_j - N_k) * (E_i - E_k) + (E_k - E_j) * (N_i - N_k)", "m²", PLANE)  # fmt: skip
    rows = ("i", "N_j - N_k", "E_k - E_j"), ("j", "N_k - N_i", "E_i - E_k")
    for mark, north_of, east_of in rows:
        share = f"(({north_of}) * (E_{at} - E_k) + ({east_of}) * (N_{at} - N_k)) / D_t"
        c.step(f"g_{mark}", f"share of spot level {mark} at this point", share, "",
               "linear in the triangle", digits=6)  # fmt: skip
    c.step(symbol, meaning, "g_i * Z_i + g_j * Z_j + (1 - g_i - g_j) * Z_k", "m",
           "linear in the triangle", value=level_m, detail=place)  # fmt: skip
