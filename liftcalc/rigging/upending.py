"""How a load hangs on two hoist lines, and how shares move while it is turned upright.

Axes and signs as in :mod:`liftcalc.rigging.tandem`: x from machine 1 to machine 2, z up, tilt
positive with lug 2 up, out of plumb positive with the upper end toward +x.

Sources: statics.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive
from liftcalc.base.units import G_M_S2
from liftcalc.rigging.tandem import require_pair


@dataclass(frozen=True)
class HangingLoad:
    """How a load hangs from two boom heads; last axis: machine 1, machine 2."""

    share_t: FloatArray
    line_force_kN: FloatArray
    side_pull_kN: FloatArray
    """Horizontal force on each boom head, shape (...). [kN]"""
    out_of_plumb_deg: FloatArray
    tilt_deg: FloatArray
    cg_xz_m: FloatArray
    """Where the centre of gravity hangs, shape (..., 2). [m]"""
    lug_xz_m: FloatArray
    """Where the lugs are, shape (..., 2, 2): lug, (x, z). [m]"""


def hook_line_equilibrium(
    load_t: ArrayLike,
    cg_to_lug_m: ArrayLike,
    *,
    head_xz_m: ArrayLike,
    line_length_m: ArrayLike,
    lug_above_cg_m: ArrayLike = (0.0, 0.0),
) -> HangingLoad:
    """Attitude and shares of a load hanging freely on two lines from two boom heads.

    Newton's method on three equations of equilibrium and two lengths; lines do not stretch, their
    weight is neglected, boom heads do not move.

    Parameters:
      load_t: > 0. [t]
      cg_to_lug_m, lug_above_cg_m: shape (..., 2). As :func:`tandem_share`. [m]
      head_xz_m: shape (..., 2, 2). Boom heads: machine, (x, z). [m]
      line_length_m: shape (..., 2). From boom head to lug: falls, block and slings in one line, >
        0. [m]
    Raises: Anything not finite or out of range, or a line that would go slack. ConvergenceError: No
      equilibrium found near lines hanging plumb.
    Source: Statics.
    """
    # long: one Newton iteration, its start and the results of its last state
    w = require_positive("load_t", load_t)
    to_lug = require_pair("cg_to_lug_m", cg_to_lug_m)
    height = require_pair("lug_above_cg_m", lug_above_cg_m)
    require_positive("sum of cg_to_lug_m", to_lug.sum(axis=-1))
    head = require_finite("head_xz_m", head_xz_m)
    length = require_positive("line_length_m", line_length_m)
    if head.shape[-2:] != (2, 2) or length.shape[-1:] != (2,):
        raise InputError.of("head_xz_m", head.shape, "shape (..., 2, 2), line_length_m (..., 2)")
    shape = np.broadcast_shapes(w.shape, to_lug.shape[:-1], height.shape[:-1], head.shape[:-2], length.shape[:-1])
    w = np.broadcast_to(w, shape)
    pu = np.broadcast_to(to_lug * np.array([-1.0, 1.0]), (*shape, 2))
    pw = np.broadcast_to(height, (*shape, 2))
    hx, hz = np.broadcast_to(head[..., 0], (*shape, 2)), np.broadcast_to(head[..., 1], (*shape, 2))

    # Start with both lines plumb: unknowns x, z, tilt and pull per metre of each line (W = 1).
    z0 = hz - length
    tilt = np.arctan2(z0[..., 1] - z0[..., 0], hx[..., 1] - hx[..., 0])
    tilt = tilt - np.arctan2(pw[..., 1] - pw[..., 0], pu[..., 1] - pu[..., 0])
    rx, rz = _turned(pu, pw, tilt)
    place = (hx - rx).mean(axis=-1), (z0 - rz).mean(axis=-1)
    pull = (0.5 / np.broadcast_to(length[..., k], shape) for k in (0, 1))
    q = np.stack([*place, tilt, *pull], axis=-1)
    scale = np.ones(shape)[..., None] * np.concatenate([np.ones(3), [1.0, 1.0]])
    scale[..., 3:] = length
    for _ in range(60):
        f, jacobian = _line_equations(q, pu, pw, hx, hz, length)
        try:
            step = np.linalg.solve(jacobian, f[..., None])[..., 0]
        except np.linalg.LinAlgError:
            break
        size = np.max(np.abs(step * scale), axis=-1, keepdims=True)
        q = q - step * np.minimum(1.0, 1.0 / np.maximum(size, 1e-300))
        if np.all(size < 1e-11):
            break
    f, _ = _line_equations(q, pu, pw, hx, hz, length)
    if not np.all(np.abs(f) < 1e-8 * (1.0 + length.max() ** 2)):
        raise errors.ConvergenceError(
            "no equilibrium found for the load on two lines near plumb; check head_xz_m, "
            "line_length_m and the lifting points"
        )
    rx, rz = _turned(pu, pw, q[..., 2])
    lx, lz = q[..., :1] + rx, q[..., 1:2] + rz
    vertical = q[..., 3:] * (hz - lz)
    if not np.all(vertical > 0):
        raise InputError.of("share of a machine", float(vertical.min()), "greater than 0: no slack")
    share = vertical * w[..., None]
    horizontal = q[..., 3:] * (hx - lx) * w[..., None] * G_M_S2
    return HangingLoad(
        share_t=share, line_force_kN=np.hypot(share * G_M_S2, horizontal),
        side_pull_kN=np.abs(horizontal[..., 0]),
        out_of_plumb_deg=np.degrees(np.arctan2(hx - lx, hz - lz)), tilt_deg=np.degrees(q[..., 2]),
        cg_xz_m=q[..., :2], lug_xz_m=np.stack([lx, lz], axis=-1),
    )  # fmt: skip


def _turned(pu: FloatArray, pw: FloatArray, tilt: FloatArray) -> tuple[FloatArray, FloatArray]:
    c, s = np.cos(tilt)[..., None], np.sin(tilt)[..., None]
    return np.asarray(pu * c - pw * s), np.asarray(pu * s + pw * c)


def _line_equations(
    q: FloatArray, pu: FloatArray, pw: FloatArray, hx: FloatArray, hz: FloatArray, length: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Residuals (two forces, moment, two lengths) for unit weight, and their derivatives."""
    rx, rz = _turned(pu, pw, q[..., 2])
    dx, dz = hx - q[..., :1] - rx, hz - q[..., 1:2] - rz  # along each line, lug to head
    t = q[..., 3:]
    arm = rx * dz - rz * dx
    sums = [(t * dx).sum(axis=-1), (t * dz).sum(axis=-1) - 1.0, (t * arm).sum(axis=-1)]
    stretch = 0.5 * (dx**2 + dz**2 - length**2)
    f = np.concatenate([np.stack(sums, axis=-1), stretch], axis=-1)
    j = np.zeros((*q.shape, 5))
    total = t.sum(axis=-1)
    j[..., 0, 0] = j[..., 1, 1] = -total
    j[..., 0, 2] = j[..., 2, 0] = (t * rz).sum(axis=-1)
    j[..., 1, 2] = j[..., 2, 1] = -(t * rx).sum(axis=-1)
    j[..., 2, 2] = -(t * (rz * dz + rx * dx + rx**2 + rz**2)).sum(axis=-1)
    j[..., 0, 3:], j[..., 1, 3:], j[..., 2, 3:] = dx, dz, arm
    j[..., 3:, 0], j[..., 3:, 1], j[..., 3:, 2] = -dx, -dz, -arm
    return f, j


@dataclass(frozen=True)
class UpendingShare:
    """Shares of head and tail machine over the angle of the load."""

    head_share_t: FloatArray
    tail_share_t: FloatArray
    tail_slack: BoolArray
    """The centre of gravity has passed under the head lug: the head machine carries all."""


def upending_share(
    load_t: ArrayLike,
    angle_from_horizontal_deg: ArrayLike,
    *,
    lug_distance_m: ArrayLike,
    cg_from_head_lug_m: ArrayLike,
    tail_lug_offset_m: ArrayLike = 0.0,
    cg_offset_m: ArrayLike = 0.0,
) -> UpendingShare:
    """Shares while a load is turned upright by a head and a tail machine, hooks plumb.

    Horizontal distances from the head lug: tail L cos(t) + o sin(t), centre of gravity c cos(t) + g sin(t); the tail
    share is their ratio times the load. With no offset it is constant up to, but not at, 90 degrees.

    Parameters:
      load_t: > 0. [t]
      angle_from_horizontal_deg: Axis of the load above the horizontal, 0 to 90. [deg]
      lug_distance_m: Along the axis from head lug to tail lug, > 0. [m]
      cg_from_head_lug_m: Along the axis from the head lug to the centre of gravity, > 0 and < lug distance. [m]
      tail_lug_offset_m, cg_offset_m: Square to the axis, on the side that faces down when the load is horizontal. [m]
    Raises: Anything not finite or out of range, or a tail lug plumb under the head lug (or past
      it), where shares are not determined.
    Source: Statics.
    """
    w = require_positive("load_t", load_t)
    t = np.radians(require_between("angle_from_horizontal_deg", angle_from_horizontal_deg, 0, 90))
    lug = require_positive("lug_distance_m", lug_distance_m)
    cg = require_positive("cg_from_head_lug_m", cg_from_head_lug_m)
    o = require_finite("tail_lug_offset_m", tail_lug_offset_m)
    g = require_finite("cg_offset_m", cg_offset_m)
    if not np.all(cg < lug):
        raise InputError.of("cg_from_head_lug_m", float(np.max(cg)), "less than lug_distance_m")
    tail_arm = lug * np.cos(t) + o * np.sin(t)
    cg_arm = cg * np.cos(t) + g * np.sin(t)
    if not np.all(tail_arm > 1e-6 * lug):
        raise InputError.of(
            "angle_from_horizontal_deg",
            float(np.max(np.degrees(t))),
            "tail lug not yet plumb under the head lug",
            "From there on the head machine carries all.",
        )
    if not np.all(cg_arm < tail_arm):
        raise InputError.of("cg_offset_m", float(np.max(g)), "centre of gravity between the two hooks")
    tail = w * cg_arm / tail_arm
    slack = np.asarray(tail <= 0)
    tail = np.where(slack, 0.0, tail)
    return UpendingShare(head_share_t=w - tail, tail_share_t=tail, tail_slack=slack)
