"""Loads on buried pipes, ducts, culverts and slabs below the legs.

What the buried thing can bear is for its owner to say: nothing here guesses it.

Sources: Surface load with impact: Boussinesq, as in Moser, Buried Pipe Design, Table 2.5, and the
American Lifelines Alliance guideline (2001). Prism load of the cover: UFC 3-220-10 (2022),
section 4-4, read in the transcription of the package geotech-references 1.4.1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.ground.stress import MatsInPlan

IMPACT_BANDS: tuple[tuple[float, float], ...] = ((0.3048, 1.5), (2 * 0.3048, 1.35), (3 * 0.3048, 1.15))
"""Columns: cover up to [m] | impact factor. 1 to 3 ft; deeper 1.00."""


def impact_factor(cover_m: ArrayLike) -> FloatArray:
    """Factor on a moving surface load for shock, by cover_m above the crown. [-]

    1.50 up to 1 ft, 1.35 up to 2 ft, 1.15 up to 3 ft, else 1.00. The source has it for traffic. The
    sheets take it on standing outriggers too, on the safe side, and say "with impact": what is
    dynamic in an outrigger's force is in that force already.

    Source: Moser, Buried Pipe Design, Table 2.5 (highway).
    """
    cover = require_non_negative("cover_m", cover_m)
    bands = [(cover <= depth_m, factor) for depth_m, factor in IMPACT_BANDS]
    return np.asarray(np.select([b for b, _ in bands], [f for _, f in bands], 1.0))


@dataclass(frozen=True)
class ServiceLoad:
    """What the mats put on a buried pipe, duct, culvert or slab.

    Attributes:
      live_kPa: pressure of all mats at the worst point, with impact.
      total_kPa: with the weight of the cover.
      worst_x_m, worst_y_m: where.
    """

    live_kPa: FloatArray
    total_kPa: FloatArray
    worst_x_m: FloatArray
    worst_y_m: FloatArray


@dataclass(frozen=True)
class _Crown:
    """Straight pieces of a buried line in plan, each as wide as what is buried.

    At a bend each piece runs on by half the width, so that the outer corner is covered.
    """

    start: FloatArray
    along: FloatArray
    ends: FloatArray
    """Least and greatest distance along each piece from its start, shape (K, 2). [m]"""
    half_m: float

    @classmethod
    def of(cls, x: FloatArray, y: FloatArray, width_m: float) -> _Crown:
        points = np.stack([x, y], axis=-1)
        step = np.diff(points, axis=0)
        run = np.hypot(step[:, 0], step[:, 1])
        step, start, run = step[run > 0], points[:-1][run > 0], run[run > 0]
        if not run.size:
            raise InputError.of("line_x_m, line_y_m", "no length", "two or more different points")
        ends = np.stack([np.full(run.size, -width_m / 2), run + width_m / 2], axis=-1)
        ends[0, 0], ends[-1, 1] = 0.0, run[-1]
        return cls(start, step / run[:, None], ends, width_m / 2)

    def place(self, spots: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Plan place of spots (piece, along, across), shape (P, 3)."""
        k = spots[:, 0].astype(int)
        a = self.along[k]
        xy = self.start[k] + spots[:, 1:2] * a + spots[:, 2:] * a[:, ::-1] * [-1.0, 1.0]
        return xy[:, 0], xy[:, 1]

    def grid(self, step_m: float) -> FloatArray:
        """Spots all over the crown, its edges and ends among them, at most a step apart."""
        across = np.linspace(-self.half_m, self.half_m, _steps(2 * self.half_m, step_m))
        found = []
        for k, (low, high) in enumerate(self.ends):
            along = np.linspace(low, high, _steps(high - low, step_m))
            piece = np.stack(np.meshgrid(along, across, indexing="ij"), axis=-1).reshape(-1, 2)
            found.append(np.column_stack([np.full(len(piece), k), piece]))
        return np.concatenate(found)

    def beside(self, spots: FloatArray, reach_m: float) -> FloatArray:
        """Spots on the crown within a reach of others, a quarter of it apart."""
        off = np.linspace(-reach_m, reach_m, 9)
        near = spots[:, None, :] + np.array([[0.0, a, b] for a in off for b in off])
        k = near[..., 0].astype(int)
        near[..., 1] = np.clip(near[..., 1], self.ends[k, 0], self.ends[k, 1])
        near[..., 2] = np.clip(near[..., 2], -self.half_m, self.half_m)
        return np.asarray(near.reshape(-1, 3))


_LOOK_CLOSER = (0.15, 0.02, 0.004)
"""States this far below the greatest, at each finer search, are not the worst. [1]"""


def _steps(length_m: float, step_m: float) -> int:
    return 2 * max(1, int(np.ceil(length_m / step_m / 2))) + 1  # odd: the middle is a spot


def _worth_a_look(spots: FloatArray, factor: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Without the spots that each mat presses no more than another: never the worst of a state."""
    known = np.unique([*factor.argmax(axis=0), factor.sum(axis=1).argmax()])
    less = factor[:, None] <= factor[known]
    idle = (less.all(axis=-1) & (factor[:, None] < factor[known]).any(axis=-1)).any(axis=-1)
    return spots[~idle], factor[~idle]


def service_load(
    pressure_kPa: ArrayLike,
    cover_m: float,
    *,
    mats: MatsInPlan,
    line_x_m: ArrayLike,
    line_y_m: ArrayLike,
    diameter_m: float,
    unit_weight_kN_m3: float,
    impact: float = 1.0,
) -> ServiceLoad:
    """Pressure of all mats on the crown of a buried pipe, culvert or slab, at its worst point.

    The whole width counts: a mat beside a wide culvert presses most on the near edge of its crown, not on its middle.
    The crown is searched at a third of the cover (at least 0.1 m), then round the worst spot of every state that may be
    the worst of all three times, each time four times finer; the other states are taken at their worst spot of all
    those. A roof stiffer than the ground beside it draws more.

    Parameters:
      pressure_kPa: shape (..., N), >= 0. Contact pressure under each mat; leading axes are states. [kPa]
      cover_m: > 0. [m]
      mats: MatsInPlan, of N mats
      line_x_m, line_y_m: shape (K,), K >= 2. Points along its middle, in the same frame. [m]
      diameter_m, unit_weight_kN_m3: > 0. Outside width in plan, and weight of the cover. [m, kN/m3]
      impact: 1 to 2. [-]
    Raises: A line that is not two lists of two or more points.
    Source: Boussinesq rectangles, summed; prism load of the cover.
    """
    q = require_non_negative("pressure_kPa", pressure_kPa)
    cover = float(require_positive("cover_m", cover_m))
    d = float(require_positive("diameter_m", diameter_m))
    gamma = float(require_positive("unit_weight_kN_m3", unit_weight_kN_m3))
    shock = float(errors.require_between("impact", impact, 1.0, 2.0))
    lx, ly = require_finite("line_x_m", line_x_m), require_finite("line_y_m", line_y_m)
    if lx.ndim != 1 or lx.shape != ly.shape or lx.size < 2:
        raise InputError.of("line_x_m, line_y_m", lx.shape, "two lists of two or more points")
    crown, step = _Crown.of(lx, ly, d), max(0.1, cover / 3.0)

    def influence(spots: FloatArray) -> FloatArray:
        """Stress at spots by 1 kPa under each mat, (spots, N): one set serves every state."""
        x, y = crown.place(spots)
        return mats.stress_kPa(1.0, cover, x_m=x, y_m=y)

    spots, states, found = crown.grid(step), q.reshape(-1, q.shape[-1]), []
    for finer, below in enumerate(_LOOK_CLOSER):
        spots, factor = _worth_a_look(spots, influence(spots))
        each = states @ factor.T
        best = each.argmax(axis=-1)
        most = each[np.arange(len(states)), best]
        near = most >= (1.0 - below) * most.max()
        found.append(spots[np.unique(best[~near])])
        states, spots = states[near], spots[np.unique(best[near])]
        spots = np.concatenate([spots, crown.beside(spots, step / 4.0**finer)])
    spots, factor = _worth_a_look(spots, influence(spots))
    best = (states @ factor.T).argmax(axis=-1)
    spots = np.concatenate([*found, spots[np.unique(best)]])
    factor = influence(spots)
    worst = (q @ factor.T).argmax(axis=-1)
    x, y = crown.place(spots)
    most = (shock * q * factor[worst]).sum(axis=-1)
    return ServiceLoad(
        live_kPa=np.asarray(most), total_kPa=np.asarray(most + gamma * cover), worst_x_m=x[worst], worst_y_m=y[worst]
    )


def slab_force_kN(
    pressure_kPa: ArrayLike,
    cover_m: float,
    *,
    mats: MatsInPlan,
    slab_x_m: tuple[float, float],
    slab_y_m: tuple[float, float],
    unit_weight_kN_m3: float,
) -> FloatArray:
    """Force of all mats and of the cover on a rectangular slab below ground (culvert roof, cellar).

    By Gauss points in cells no wider than the cover near every mat and wider farther off, however long the slab.

    Parameters:
      pressure_kPa: shape (..., N), >= 0. [kPa]
      cover_m: > 0. [m]
      mats: MatsInPlan, of N mats, in axes parallel to the slab
      slab_x_m, slab_y_m: (low, high). Extent of the slab. [m]
      unit_weight_kN_m3: > 0. [kN/m3]
    Raises: An empty slab.
    Source: Boussinesq rectangles, summed. A stiff slab draws more load than the ground beside it:
      take the owner's advice where the cover is less than the slab's span.
    """
    q = require_non_negative("pressure_kPa", pressure_kPa)
    cover = float(require_positive("cover_m", cover_m))
    gamma = float(require_positive("unit_weight_kN_m3", unit_weight_kN_m3))
    (x0, x1), (y0, y1) = slab_x_m, slab_y_m
    if not (x1 > x0 and y1 > y0):
        raise InputError.of("slab_x_m, slab_y_m", (slab_x_m, slab_y_m), "low below high")

    half = float(np.max(np.hypot(mats.length_m, mats.width_m))) / 2.0
    near = np.arange(np.ceil(half / cover) + 3.0)
    away = cover * np.concatenate([near, near[-1] + 2.0 ** np.arange(1.0, 24.0)])

    def cells(low: float, high: float, centre: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Gauss points in cells, and their weights."""
        edges = np.add.outer(centre, np.concatenate([-away, away]))
        edges = np.unique(np.clip([low, high, *edges.ravel()], low, high))
        place, weight = np.polynomial.legendre.leggauss(4)
        wide = np.diff(edges)[:, None] / 2.0
        return (edges[:-1, None] + wide * (place + 1.0)).ravel(), (wide * weight).ravel()

    point_x, weight_x = cells(x0, x1, mats.x_m)
    point_y, weight_y = cells(y0, y1, mats.y_m)
    xx, yy = (g.ravel() for g in np.meshgrid(point_x, point_y, indexing="ij"))
    stress = mats.stress_kPa(1.0, cover, x_m=xx, y_m=yy)
    mean_factor = np.outer(weight_x, weight_y).ravel() @ stress
    mean = q @ (mean_factor / ((x1 - x0) * (y1 - y0)))
    return np.asarray((mean + gamma * cover) * (x1 - x0) * (y1 - y0))
