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
from liftcalc.ground.slip_circles import (
    SlipMethod,
    SlipRequest,
    SlopeSection,
    SoilLayer,
    Surcharge,
    Through,
    try_circles,
)


@dataclass(frozen=True)
class SlipResult:
    """The least safe circle found.

    Attributes:
      safety_factor: resisting over driving moment.
      method: "bishop" or "ordinary".
      centre_x_m, centre_z_m, radius_m: of the circle.
      entry_x_m: where it meets the ground behind the crest.
      exit_x_m, exit_z_m: where it comes out.
      resisting_kN_m, driving_kN_m: sums over the slices, per metre.
      includes_surcharge: whether the circle takes any of the surcharge with it.
      circles: how many were tried.
    """

    safety_factor: float
    method: SlipMethod
    centre_x_m: float
    centre_z_m: float
    radius_m: float
    entry_x_m: float
    exit_x_m: float
    exit_z_m: float
    resisting_kN_m: float
    driving_kN_m: float
    includes_surcharge: bool
    circles: int


def _search(
    ground: SlopeSection, ask: SlipRequest, grid: int
) -> tuple[tuple[float, float, float] | None, int]:
    """Entry, exit and half angle of the least safe circle, None where none slips; and the trials.

    A coarse box of circles, then boxes of 7 x 7 x 7 round the least safe one, each half as wide.
    """
    loads = ground.loads
    far = max([0.0, *(s.edge_distance_m + s.width_m for s in loads)])
    reach = far + 4.0 * ground.height + 2.0 * max([0.0, *(s.width_m for s in loads)])
    out = 1.0 + 4.0 + far / ground.height
    # entries crowd towards the crest, and stand just behind every surcharge
    entries = np.union1d(
        -reach * np.linspace(0.02, 1.0, grid) ** 1.5,
        [-(s.edge_distance_m + s.width_m) * 1.0001 for s in loads],
    )
    exits = np.union1d(
        np.linspace(0.1, 1.0, grid), 1.0 + (out - 1.0) * np.linspace(0.02, 1, grid) ** 1.5
    )
    axes = (entries, exits, np.deg2rad(np.linspace(4.0, 88.0, grid)))
    step = np.array([reach / grid * 1.5, (out - 1.0) / grid * 1.5, np.deg2rad(84.0) / grid])
    best, tried = None, 0
    for _ in range(9):
        e, x, a = (g.ravel() for g in np.meshgrid(*axes, indexing="ij"))
        factor = try_circles(ground, (e, x, a), ask).factor
        tried += factor.size
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
    return best, tried


def _check_request(
    layers: Sequence[SoilLayer], surcharges: Sequence[Surcharge], ask: SlipRequest, grid: int
) -> None:
    if len(layers) == 0 or not np.isinf(layers[-1].thickness_m):
        raise InputError.of("layers", len(layers), "one or more, the last of infinite thickness")
    if any(np.isinf(layer.thickness_m) for layer in layers[:-1]):
        raise InputError.of("layers", "an infinite layer above others", "infinite only at the end")
    if ask.slices < 20 or grid < 8:
        raise InputError.of("slices, grid", (ask.slices, grid), "20 or more, 8 or more")
    if ask.method not in ("bishop", "ordinary"):
        raise InputError.of("method", ask.method, "bishop, ordinary")
    if ask.through not in ("anything", "surcharge"):
        raise InputError.of("through", ask.through, "anything, surcharge")
    if ask.through == "surcharge" and not any(s.pressure_kPa > 0.0 for s in surcharges):
        raise InputError.of("surcharges", len(surcharges), "one or more, to slip through")
    for s in surcharges:
        require_non_negative("pressure_kPa", s.pressure_kPa)
        require_non_negative("edge_distance_m", s.edge_distance_m)
        require_positive("width_m", s.width_m)


def slip_check(
    layers: Sequence[SoilLayer],
    *,
    height_m: float,
    slope_deg: float,
    surcharges: Sequence[Surcharge] = (),
    water_depth_m: float | None,
    firm_base_depth_m: float | None = None,
    method: SlipMethod = "bishop",
    through: Through = "anything",
    slices: int = 40,
    grid: int = 18,
) -> SlipResult:
    """Least safety factor against a circular slip of an edge that carries mats.

    Circles only, no tension crack, no standing water outside the toe. On weightless undrained
    ground a circle finds 5.52 cu under a strip where the exact answer is 5.14: allow 7 % for it.

    Parameters:
      layers: sequence of SoilLayer. From the crest level down; the last one must have infinite
        thickness.
      height_m: > 0. Crest above toe. [m]
      slope_deg: 5 to 90. Of the face; 90 is a vertical cut. [degrees]
      surcharges: sequence of Surcharge. Strips behind the crest, as pressures; empty for the bare
        slope.
      water_depth_m: float or None, >= 0. Level water table below the crest; it follows the face
        where the face is lower. None says that there is none: it has no default, since missing
        water is unsafe. [m]
      firm_base_depth_m: float or None, >= 0. Depth below the toe that no circle passes; None is no
        such base. [m]
      method: {"bishop", "ordinary"}
      through: {"anything", "surcharge"}. All circles, or only those that take some of the surcharge
        with them.
      slices: 20 or more
      grid: 8 or more. Trials in each of the three directions, before refining.
    Returns: SlipResult
    Raises: Layers without a last one. ConvergenceError: No circle that can slip was found, or
      Bishop's factor did not settle.
    Source: Bishop (1955); Fellenius (1936).
    """
    height = float(require_positive("height_m", height_m))
    beta = float(require_between("slope_deg", slope_deg, 5.0, 90.0))
    ask = SlipRequest(method, through, slices)
    _check_request(layers, surcharges, ask, grid)
    bottoms = -np.cumsum([layer.thickness_m for layer in layers])
    base = -np.inf
    if firm_base_depth_m is not None:
        base = -height - float(require_non_negative("firm_base_depth_m", firm_base_depth_m))
    water = None
    if water_depth_m is not None:
        water = -float(require_non_negative("water_depth_m", water_depth_m))
    ground = SlopeSection(
        height=height,
        tan_slope=np.inf if beta == 90.0 else float(np.tan(np.deg2rad(beta))),
        tops=np.concatenate([[0.0], bottoms[:-1]]),
        bottoms=bottoms,
        gamma=np.array([layer.unit_weight_kN_m3 for layer in layers]),
        cohesion=np.array([layer.cohesion_kPa for layer in layers]),
        tan_phi=np.tan(np.deg2rad([layer.friction_deg for layer in layers])),
        water=water,
        base=base,
        loads=tuple(surcharges),
    )
    best, tried = _search(ground, ask, grid)
    if best is None:
        raise ConvergenceError("slip_check: no circle that can slip was found")
    entry, exit_s, half_angle = (np.array([v]) for v in best)
    one = try_circles(ground, (entry, exit_s, half_angle), ask)
    cut = one.slices
    exit_x, exit_z = ground.exit_point(exit_s)
    return SlipResult(
        safety_factor=float(one.factor[0]),
        method=method,
        centre_x_m=float(cut.centre_x[0]),
        centre_z_m=float(cut.centre_z[0]),
        radius_m=float(cut.radius[0]),
        entry_x_m=best[0],
        exit_x_m=float(exit_x[0]),
        exit_z_m=float(exit_z[0]),
        resisting_kN_m=float(one.resisting[0]),
        driving_kN_m=float(one.driving[0]),
        includes_surcharge=bool(cut.load[0].sum() > 0.0),
        circles=tried,
    )
