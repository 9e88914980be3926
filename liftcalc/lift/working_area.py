"""Where a given load may be taken: the part of the slew circle within capacity.

Contents: :class:`WorkingArea`, :func:`working_area`. A cell of the (slew, radius) grid belongs to
an area only if all four of its corners do, and its outer side is the chord, not the arc: the
area drawn is never larger than the capacities allow at the grid's points. Book-keeping on the
capacity study; no published source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from liftcalc.capacity import ESTIMATE
from liftcalc.errors import InputError, require_positive
from liftcalc.lift.capacity_checks import capacity_circle
from liftcalc.lift.setup import Setup

__all__ = ["WorkingArea", "working_area"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class WorkingArea:
    """Areas in the machine frame, and the grid behind them."""

    gross_t: float
    slew_deg: FloatArray
    radius_m: FloatArray
    capacity_t: FloatArray
    """Shape (S, R); NaN where not rated. [t]"""
    within: shapely.Geometry
    """Gross load not above a capacity that rests on a chart."""
    no_data: shapely.Geometry
    """Gross load not above an estimate: no capacity data, not allowed."""


def _runs(row: BoolArray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _area(good: BoolArray, slew_deg: FloatArray, radius_m: FloatArray) -> shapely.Geometry:
    """Union of the cells whose four corners are good; the slews close the circle."""
    ahead = np.roll(good, -1, axis=0)
    cells = good[:, :-1] & good[:, 1:] & ahead[:, :-1] & ahead[:, 1:]
    a = np.radians(slew_deg)
    b = np.roll(a, -1)
    parts = []
    for k, row in enumerate(cells):
        for first, last in _runs(row):
            near, far = radius_m[first], radius_m[last]
            ends = np.array([[np.cos(a[k]), np.sin(a[k])], [np.cos(b[k]), np.sin(b[k])]])
            ring = [ends[0] * near, ends[0] * far, ends[1] * far, ends[1] * near]
            parts.append(shapely.Polygon(ring))
    if not parts:
        return shapely.Polygon()
    # cells share whole sides; a thousandth closes rounding between them
    return shapely.union_all(shapely.set_precision(np.array(parts, dtype=object), 1e-6))


def working_area(
    setup: Setup, gross_t: float, *, slew_step_deg: float = 2.0, radius_step_m: float = 0.25
) -> WorkingArea:
    """Areas around the machine where a gross load is within capacity.

    Parameters
    ----------
    setup : Setup
    gross_t : float, > 0
        Everything on the hook. [t]
    slew_step_deg, radius_step_m : float, > 0
        Steps of the grid; the slew step must divide 360.

    Returns
    -------
    WorkingArea

    Raises
    ------
    InputError
        A load or step that is not above 0, or a slew step that does not divide 360.
    """
    load = float(require_positive("gross_t", gross_t))
    step = float(require_positive("slew_step_deg", slew_step_deg))
    reach = float(require_positive("radius_step_m", radius_step_m))
    if abs(360.0 / step - round(360.0 / step)) > 1e-9:
        raise InputError.of("slew_step_deg", step, "a step that divides 360 degrees")
    low, high = setup.boom.radius_min_m, setup.boom.radius_max_m
    radius = low + (high - low) * np.linspace(0.0, 1.0, max(2, int(np.ceil((high - low) / reach))))
    circle = capacity_circle(setup, radius, slew_step_deg=step)
    enough = np.nan_to_num(circle.capacity_t, nan=-1.0) >= load
    data = circle.source < ESTIMATE
    return WorkingArea(
        gross_t=load,
        slew_deg=circle.slew_deg,
        radius_m=circle.radius_m,
        capacity_t=circle.capacity_t,
        within=_area(enough & data, circle.slew_deg, circle.radius_m),
        no_data=_area(enough & ~data, circle.slew_deg, circle.radius_m),
    )
