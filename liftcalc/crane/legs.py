"""Legs: where each leg stands, the base polygon they span, its tipping lines, and level.

Frame: origin at the slew centre on the ground, x forward, y left, z up; leg order
FL, FR, RR, RL. Nothing here assumes that the base is symmetric or rectangular.

Sources: plane statics and plane geometry (half-plane description of a convex polygon). The usual
limit of 1 % out of level is in the scope of ISO 4305 and in SAE J765 (second-hand, no editions);
many manufacturers print less, so the limit is never built in.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, Problem, require_finite, require_non_negative

LEG_NAMES: tuple[str, str, str, str] = ("FL", "FR", "RR", "RL")
"""Order of the legs everywhere: front left, front right, rear right, rear left."""

LEG_SIDE: tuple[int, int, int, int] = (1, -1, -1, 1)
"""Sign of y for each leg: left positive."""

_RING = (0, 3, 2, 1)
"""Legs anticlockwise seen from above: FL, RL, RR, FR."""

TOLERANCE_M = 1e-9
"""Lengths closer than this are the same length."""

_MIN_LINE_M = 1e-3
"""Legs closer together than 1 mm, or a base thinner than 1 mm, span no base."""


@dataclass(frozen=True)
class TippingLines:
    """Tipping lines of one base, shape (E, 1), or of many at once, shape (E, N).

    Attributes:
      x, y: components of the unit normal of each line, pointing into the base
      offset_m: ``x px + y py - offset_m`` is the distance of a point to the line, positive inside
    """

    x: FloatArray
    y: FloatArray
    offset_m: FloatArray


@dataclass(frozen=True)
class BasePolygon:
    """Convex base of the legs set down.

    Attributes:
      leg_xy_m: (4, 2). Leg points FL, FR, RR, RL; NaN for a leg that is not set down. [m]
      vertices_m: (E, 2). Corners of the convex hull, anticlockwise seen from above. [m]
      normals: (E, 2). Unit normal of each tipping line, pointing into the base. Line e runs from
        corner e to corner e + 1.
      offsets_m: (E,). ``normals @ p - offsets_m`` is the signed distance of p to each line, positive inside. [m]
      edge_legs: tuple of (str, str). Names of the two legs at the ends of each tipping line.
    """

    leg_xy_m: FloatArray
    vertices_m: FloatArray
    normals: FloatArray
    offsets_m: FloatArray
    edge_legs: tuple[tuple[str, str], ...]

    @property
    def area_m2(self) -> float:
        """Area of the base polygon. [m2]"""
        x, y = self.vertices_m.T
        return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))

    @property
    def lines(self) -> TippingLines:
        """Tipping lines, shape (E, 1)."""
        return TippingLines(self.normals[:, :1], self.normals[:, 1:], self.offsets_m[:, None])

    @property
    def line_names(self) -> tuple[str, ...]:
        """Tipping lines in words, for example ``"FL-RL"``."""
        return tuple("-".join(legs) for legs in self.edge_legs)


def leg_points_m(
    leg_x_m: ArrayLike,
    extension_m: ArrayLike,
    *,
    extension_min_m: ArrayLike | None = None,
    extension_max_m: ArrayLike | None = None,
) -> FloatArray:
    """Pad centres of the four legs in the machine frame.

    Parameters:
      leg_x_m: shape (..., 4). Longitudinal position of each leg from the slew centre, forward positive. [m]
      extension_m: shape (..., 4). Distance of each pad centre from the carrier's centre line, >= 0. [m]
      extension_min_m, extension_max_m: shape (4,), optional. Stroke of each leg; an extension
        outside it is refused. [m]
    Returns: ndarray, shape (..., 4, 2): x, y of each leg. [m]
    Raises: An extension outside the stroke.
    """
    x = require_finite("leg_x_m", leg_x_m)
    ext = require_non_negative("extension_m", extension_m)
    for name, array in (("leg_x_m", x), ("extension_m", ext)):
        if array.shape[-1:] != (4,):
            raise InputError.of(name, array.shape, "an array whose last axis is FL, FR, RR, RL")
    problems: list[Problem] = []
    low = np.zeros(4) if extension_min_m is None else require_finite("min", extension_min_m)
    high = np.full(4, np.inf) if extension_max_m is None else np.asarray(extension_max_m, float)
    low, high = np.broadcast_to(low, (4,)), np.broadcast_to(high, (4,))
    for i, leg in enumerate(LEG_NAMES):
        values = np.atleast_1d(ext[..., i])
        outside = ~((values >= low[i] - TOLERANCE_M) & (values <= high[i] + TOLERANCE_M))
        if outside.any():
            problems.append(
                Problem(
                    f"extension_m of outrigger {leg}", float(values[outside][0]),
                    f"{low[i]:g} to {high[i]:g} m", "The outrigger cannot reach this point.",
                )
            )  # fmt: skip
    if problems:
        raise InputError(problems)
    x, y = np.broadcast_arrays(x, ext * np.asarray(LEG_SIDE))
    return np.stack([x, y], axis=-1)


def base_polygon(
    leg_xy_m: ArrayLike, *, set_down: Sequence[bool] = (True, True, True, True), allow_missing_leg: bool = False
) -> BasePolygon:
    """Base polygon and tipping lines of four legs.

    The base is the convex hull of the legs. A leg inside the hull of the others (or on the line
    between its neighbours) carries load but holds no tipping line.

    Parameters:
      leg_xy_m: shape (4, 2). Leg points FL, FR, RR, RL in the machine frame. [m]
      set_down: sequence of 4 bool. Whether each leg stands on the ground.
      allow_missing_leg: Work on three legs. Only where the machine's data provide for it; never by default.
    Raises: A point that is not finite, a leg not set down (unless allowed), fewer than three legs,
      two legs at one place, or legs in one line.
    """
    xy = np.array(leg_xy_m, dtype=np.float64)
    if xy.shape != (4, 2):
        raise InputError.of("leg_xy_m", xy.shape, "shape (4, 2): x, y of FL, FR, RR, RL")
    down = np.asarray(set_down)
    if down.shape != (4,) or down.dtype != np.bool_:
        raise InputError.of("set_down", tuple(set_down), "four true/false values")
    missing = [LEG_NAMES[i] for i in range(4) if not down[i]]
    if missing and not allow_missing_leg:
        raise InputError.of(
            "set_down", "not set down: " + ", ".join(missing), "all four outriggers set down",
            "Set the outrigger down; the machine's data do not provide for working without it.",
        )  # fmt: skip
    if len(missing) > 1:
        need = "at least 3 outriggers"
        raise InputError.of("set_down", "not set down: " + ", ".join(missing), need)
    require_finite("leg_xy_m", xy[down])
    xy[~down] = np.nan
    corners = _hull([int(i) for i in np.flatnonzero(down)], xy)
    vertices = xy[corners]
    edge = np.roll(vertices, -1, axis=0) - vertices
    length = np.hypot(edge[:, 0], edge[:, 1])
    unit = np.maximum(length, _MIN_LINE_M)  # a shorter line is refused below
    normals = np.column_stack([-edge[:, 1], edge[:, 0]]) / unit[:, None]
    offsets = np.einsum("ij,ij->i", normals, vertices)
    inner = float((vertices @ normals.T - offsets).max(axis=0).min()) if len(corners) > 2 else 0.0
    if inner < _MIN_LINE_M or float(length.min()) < _MIN_LINE_M:
        places = [[round(float(v), 6) for v in p] for p in xy]
        remedy = "The outriggers stand in one line or on one point; there is no base."
        raise InputError.of("leg_xy_m", places, "outriggers that span an area", remedy)
    names = [LEG_NAMES[i] for i in corners]
    edges = tuple((names[i], names[(i + 1) % len(names)]) for i in range(len(names)))
    for array in (xy, vertices, normals, offsets):
        array.setflags(write=False)
    return BasePolygon(xy, vertices, normals, offsets, edges)


def _hull(index: list[int], xy: FloatArray) -> list[int]:
    """Corners of the convex hull, anticlockwise (monotone chain; points on an edge drop out)."""
    order = sorted(index, key=lambda i: (xy[i, 0], xy[i, 1]))

    def chain(points: list[int]) -> list[int]:
        out: list[int] = []
        for i in points:
            while len(out) >= 2 and _turn(xy[out[-2]], xy[out[-1]], xy[i]) <= TOLERANCE_M:
                out.pop()
            out.append(i)
        return out

    lower, upper = chain(order), chain(order[::-1])
    return lower[:-1] + upper[:-1]


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> float:
    """Distance of b from line a-c, positive when a, b, c turn anticlockwise. [m]"""
    ac = c - a
    base = float(np.hypot(ac[0], ac[1])) or 1.0
    return float((b[0] - a[0]) * ac[1] - (b[1] - a[1]) * ac[0]) / base


def tipping_lines(legs_m: FloatArray) -> TippingLines:
    """Tipping lines of many bases of four legs, joining the legs in order.

    Parameters:
      legs_m: shape (N, 4, 2). Leg points FL, FR, RR, RL. [m]
    Returns: TippingLines, shape (4, N)
    Raises: A base that is not convex.
    """
    corner = np.moveaxis(legs_m[..., _RING, :], -2, 0)  # anticlockwise, first axis the corner
    following = np.roll(corner, -1, axis=0)
    edge = following - corner
    length = np.hypot(edge[..., 0], edge[..., 1])
    x, y = -edge[..., 1] / length, edge[..., 0] / length
    offset = x * corner[..., 0] + y * corner[..., 1]
    beyond = np.roll(corner, -2, axis=0)
    inside = x * beyond[..., 0] + y * beyond[..., 1] - offset > _MIN_LINE_M
    if not np.all(inside):
        line = int(np.flatnonzero(~inside.all(axis=-1))[0])
        inner = f"corner {LEG_NAMES[_RING[(line + 1) % 4]]} not outside its neighbours"
        need = "a base that is convex in every sample"
        raise InputError.of("extension of the outriggers", inner, need)
    return TippingLines(x, y, offset)


def contains_base(outer: BasePolygon, inner: BasePolygon) -> bool:
    """Whether *inner* lies wholly inside *outer* (touching counts as inside). Raises nothing.

    Returns: bool
    """
    return bool((inner.vertices_m @ outer.normals.T - outer.offsets_m).min() >= -TOLERANCE_M)


def same_base(a: BasePolygon, b: BasePolygon) -> bool:
    """Whether *a* and *b* are the same polygon. Raises nothing.

    Returns: bool
    """
    return contains_base(a, b) and contains_base(b, a)


def resultant_slope_percent(slope_x_percent: ArrayLike, slope_y_percent: ArrayLike) -> FloatArray:
    """Steepest slope of a plane from its slopes along two square axes. [%]

    Parameters:
      slope_x_percent, slope_y_percent: Slopes along the two axes, either sign. [%]
    """
    return np.hypot(
        require_finite("slope_x_percent", slope_x_percent), require_finite("slope_y_percent", slope_y_percent)
    )


def packing_height_m(ground_level_m: ArrayLike) -> FloatArray:
    """Packing under each leg, shape (..., 4), that brings all legs to the highest ground point.

    Equal jack stroke is assumed; a jack's stroke may replace packing one for one.

    Parameters:
      ground_level_m: shape (..., 4). Level of the ground under each leg. [m]
    """
    level = require_finite("ground_level_m", ground_level_m)
    packing: FloatArray = level.max(axis=-1, keepdims=True) - level
    return packing
