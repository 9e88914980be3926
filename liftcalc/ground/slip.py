"""Slip check of a slope or excavation edge that carries a mat.

A search over circular slips in plane strain (:mod:`liftcalc.ground.slip_circles`, whose axes hold
here too): the mat counts as if it ran on along the crest, which is on the safe side.

Sources: as in :mod:`liftcalc.ground.slip_circles`. Taylor (1937) stability numbers are a check.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.errors import (
    ConvergenceError,
    InputError,
    require_between,
    require_non_negative,
    require_positive,
)
from liftcalc.ground.slip_circles import SlopeSection, SoilLayer, Surcharge, try_circles

_GRID = 18
"""Trials in each of the three directions, before refining."""


@dataclass(frozen=True)
class SlipResult:
    """The least safe circle found.

    Attributes:
      safety_factor: resisting over driving moment.
      centre_x_m, centre_z_m, radius_m: of the circle.
      entry_x_m: where it meets the ground behind the crest.
      exit_x_m: where it comes out.
      resisting_kN_m, driving_kN_m: sums over the slices, per metre.
    """

    safety_factor: float
    centre_x_m: float
    centre_z_m: float
    radius_m: float
    entry_x_m: float
    exit_x_m: float
    resisting_kN_m: float
    driving_kN_m: float


def _search(ground: SlopeSection) -> tuple[float, float, float] | None:
    """Entry, exit and half angle of the least safe circle, None where none slips.

    A coarse box of circles, then boxes of 7 x 7 x 7 round the least safe one, each half as wide.
    """
    loads = ground.loads
    far = max([0.0, *(s.edge_distance_m + s.width_m for s in loads)])
    reach = far + 4.0 * ground.height + 2.0 * max([0.0, *(s.width_m for s in loads)])
    out = 1.0 + 4.0 + far / ground.height
    # entries crowd towards the crest, and stand just behind every surcharge
    entries = np.union1d(
        -reach * np.linspace(0.02, 1.0, _GRID) ** 1.5,
        [-(s.edge_distance_m + s.width_m) * 1.0001 for s in loads],
    )
    exits = np.union1d(
        np.linspace(0.1, 1.0, _GRID), 1.0 + (out - 1.0) * np.linspace(0.02, 1, _GRID) ** 1.5
    )
    axes = (entries, exits, np.deg2rad(np.linspace(4.0, 88.0, _GRID)))
    step = np.array([reach / _GRID * 1.5, (out - 1.0) / _GRID * 1.5, np.deg2rad(84.0) / _GRID])
    best = None
    for _ in range(9):
        e, x, a = (g.ravel() for g in np.meshgrid(*axes, indexing="ij"))
        factor = try_circles(ground, e, x, a).factor
        k = int(np.argmin(factor))
        if not np.isfinite(factor[k]):
            break
        best = (float(e[k]), float(x[k]), float(a[k]))
        around = np.linspace(-1, 1, 7)
        axes = (
            np.minimum(best[0] + step[0] * around, -1e-6 * ground.height),
            np.clip(best[1] + step[1] * around, 0.02, out + 1.0),
            np.clip(best[2] + step[2] * around, np.deg2rad(1), np.deg2rad(89.9)),
        )
        step = step * 0.5
    return best


def _check_request(layers: Sequence[SoilLayer], surcharges: Sequence[Surcharge]) -> None:
    if len(layers) == 0 or not np.isinf(layers[-1].thickness_m):
        raise InputError.of("layers", len(layers), "one or more, the last of infinite thickness")
    if any(np.isinf(layer.thickness_m) for layer in layers[:-1]):
        raise InputError.of("layers", "an infinite layer above others", "infinite only at the end")
    for s in surcharges:
        require_positive("pressure_kPa", s.pressure_kPa)
        require_non_negative("edge_distance_m", s.edge_distance_m)
        require_positive("width_m", s.width_m)


def slip_check(
    layers: Sequence[SoilLayer],
    *,
    height_m: float,
    slope_deg: float,
    surcharges: Sequence[Surcharge] = (),
    water_depth_m: float | None,
) -> SlipResult:
    """Least safety factor against a circular slip of an edge that carries mats.

    Circles only, no tension crack, no standing water outside the toe. On weightless undrained
    ground a circle finds 5.52 cu under a strip where the exact answer is 5.14: allow 7 % for it.

    Parameters:
      layers: sequence of SoilLayer. From the crest level down; the last one must have infinite
        thickness.
      height_m: > 0. Crest above toe. [m]
      slope_deg: 5 to 90. Of the face; 90 is a vertical cut. [degrees]
      surcharges: sequence of Surcharge. Strips behind the crest, pressures above 0: only circles
        that take some of a strip with them count. Empty for the bare slope.
      water_depth_m: float or None, >= 0. Level water table below the crest; it follows the face
        where the face is lower. None says that there is none: it has no default, since missing
        water is unsafe. [m]
    Returns: SlipResult
    Raises: Layers without a last one. ConvergenceError: No circle that can slip was found, or
      Bishop's factor did not settle.
    Source: Bishop (1955).
    """
    height = float(require_positive("height_m", height_m))
    beta = float(require_between("slope_deg", slope_deg, 5.0, 90.0))
    _check_request(layers, surcharges)
    bottoms = -np.cumsum([layer.thickness_m for layer in layers])
    water = None
    if water_depth_m is not None:
        water = -float(require_non_negative("water_depth_m", water_depth_m))
    ground = SlopeSection(
        height=height, tan_slope=np.inf if beta == 90.0 else float(np.tan(np.deg2rad(beta))),
        tops=np.concatenate([[0.0], bottoms[:-1]]), bottoms=bottoms,
        gamma=np.array([layer.unit_weight_kN_m3 for layer in layers]),
        cohesion=np.array([layer.cohesion_kPa for layer in layers]),
        tan_phi=np.tan(np.deg2rad([layer.friction_deg for layer in layers])), water=water,
        loads=tuple(surcharges),
    )  # fmt: skip
    best = _search(ground)
    if best is None:
        raise ConvergenceError("slip_check: no circle that can slip was found")
    entry, exit_s, half_angle = (np.array([v]) for v in best)
    one = try_circles(ground, entry, exit_s, half_angle)
    cut = one.slices
    exit_x, _ = ground.exit_point(exit_s)
    return SlipResult(
        safety_factor=float(one.factor[0]), centre_x_m=float(cut.centre_x[0]),
        centre_z_m=float(cut.centre_z[0]), radius_m=float(cut.radius[0]), entry_x_m=best[0],
        exit_x_m=float(exit_x[0]), resisting_kN_m=float(one.resisting[0]),
        driving_kN_m=float(one.driving[0]),
    )  # fmt: skip
