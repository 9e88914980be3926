"""Plain data that the rigging drawing takes.

Contents: :class:`RiggingLine`, :class:`RiggingDrawing`, :func:`bridle_drawing`,
:func:`spreader_drawing`. Coordinates are the load's own: x along its length, y across, z up from
its underside, origin at the middle of its box in plan. No published source: records.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray

__all__ = ["LineKind", "RiggingDrawing", "RiggingLine", "bridle_drawing", "spreader_drawing"]

LineKind = Literal["sling", "beam"]


@dataclass(frozen=True)
class RiggingLine:
    """One sling leg or beam: ends in the load's coordinates, its force and how far it is used.

    The force is tension in a sling, compression in a beam. ``angle_deg`` is the true angle from
    the horizontal, not the projected one; None for a beam.
    """

    name: str
    kind: LineKind
    start_m: FloatArray
    end_m: FloatArray
    force_kN: float
    utilisation_percent: float | None = None
    angle_deg: float | None = None


@dataclass(frozen=True)
class RiggingDrawing:
    """Everything the rigging drawing shows."""

    load_size_m: tuple[float, float, float]
    lugs_m: FloatArray
    hook_m: FloatArray
    cg_m: FloatArray
    lines: tuple[RiggingLine, ...]
    weakest: str = ""
    title: str = "Rigging"


def _numbers(values: ArrayLike | None, count: int) -> list[float | None]:
    if values is None:
        return [None] * count
    array = np.broadcast_to(np.asarray(values, dtype=np.float64), (count,))
    return [float(v) for v in array]


def bridle_drawing(
    load_size_m: tuple[float, float, float],
    lugs_m: ArrayLike,
    *,
    hook_m: ArrayLike,
    cg_m: ArrayLike,
    tension_kN: ArrayLike,
    angle_deg: ArrayLike,
    utilisation_percent: ArrayLike | None = None,
    weakest: str = "",
    title: str = "Rigging",
) -> RiggingDrawing:
    """Drawing data of slings that run from the lifting points straight to the hook.

    Parameters:
      load_size_m: length, width, height of the load's box. [m]
      lugs_m: array_like, shape (n, 3); hook_m, cg_m : shape (3,). [m]
      tension_kN, angle_deg, utilisation_percent: array_like, shape (n,). Per leg; utilisation may
        be left out.
      weakest: str. Name of the governing item ("sling leg 2"); drawn so that it is seen.
      title: str
    """
    lugs = np.asarray(lugs_m, dtype=np.float64)
    hook = np.asarray(hook_m, dtype=np.float64)
    count = len(lugs)
    used = _numbers(utilisation_percent, count)
    force, angle = _numbers(tension_kN, count), _numbers(angle_deg, count)
    lines = tuple(
        RiggingLine(
            f"sling leg {k + 1}", "sling", lugs[k], hook, float(force[k] or 0.0), used[k], angle[k]
        )
        for k in range(count)
    )
    return RiggingDrawing(
        load_size_m, lugs, hook, np.asarray(cg_m, dtype=np.float64), lines, weakest, title
    )


def spreader_drawing(
    load_size_m: tuple[float, float, float],
    lugs_m: ArrayLike,
    *,
    hook_m: ArrayLike,
    cg_m: ArrayLike,
    beam_ends_m: ArrayLike,
    top_tension_kN: ArrayLike,
    top_angle_deg: ArrayLike,
    bottom_tension_kN: ArrayLike,
    compression_kN: float,
    utilisation_percent: dict[str, float] | None = None,
    weakest: str = "",
    title: str = "Rigging",
) -> RiggingDrawing:
    """Drawing data of a load under a spreader or lifting beam.

    Parameters:
      load_size_m, lugs_m, hook_m, cg_m, weakest, title: As :func:`bridle_drawing`; every lug hangs
        from the nearer end of the beam.
      beam_ends_m: array_like, shape (2, 3). [m] End 1 at -x, end 2 at +x.
      top_tension_kN, top_angle_deg, bottom_tension_kN: array_like, shape (2,). Per end; the bottom
        tension is that of each bottom sling at the end.
      compression_kN: float
      utilisation_percent: dict of name to percent. Names: "top sling 1", "top sling 2", "bottom
        sling at end 1", "bottom sling at end 2", "beam".
    """
    lugs = np.asarray(lugs_m, dtype=np.float64)
    hook = np.asarray(hook_m, dtype=np.float64)
    ends = np.asarray(beam_ends_m, dtype=np.float64)
    used = utilisation_percent or {}
    top, angle, bottom = (
        _numbers(v, 2) for v in (top_tension_kN, top_angle_deg, bottom_tension_kN)
    )
    lines = [RiggingLine("beam", "beam", ends[0], ends[1], compression_kN, used.get("beam"))]
    for k in range(2):
        name = f"top sling {k + 1}"
        force = float(top[k] or 0.0)
        lines.append(RiggingLine(name, "sling", ends[k], hook, force, used.get(name), angle[k]))
    for lug in lugs:
        k = int(np.argmin(np.linalg.norm(ends[:, :2] - lug[:2], axis=1)))
        name = f"bottom sling at end {k + 1}"
        force = float(bottom[k] or 0.0)
        lines.append(RiggingLine(name, "sling", lug, ends[k], force, used.get(name)))
    cg = np.asarray(cg_m, dtype=np.float64)
    return RiggingDrawing(load_size_m, lugs, hook, cg, tuple(lines), weakest, title)
