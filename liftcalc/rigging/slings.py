"""Sling leg tensions of one to four legs in three dimensions.

Frame and signs
---------------
Any right-handed frame fixed to the load, z up when the load hangs as meant; lengths in m.
``lugs_m`` has the shape (..., n, 3). Every leg runs from its lug to the hook. Tension positive.

Mechanics
---------
The hook hangs plumb above the centre of gravity. All legs meet in the hook, so that three force
equations are the whole of equilibrium: sum T_i u_i = W n, with u_i the unit vector of the leg
and n the unit vector from the centre of gravity to the hook. One to three legs are determinate.
Four are not: with a rigid load the legs' true lengths decide, and every state with no leg in
compression is possible. The range of each leg is found exactly (its ends are states with a
slack leg), and the top of the range is the design value.

Sources: Statics.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_positive
from liftcalc.base.units import G_M_S2

MIN_ANGLE_FROM_HORIZONTAL_DEG = 30.0
"""No published sling table goes flatter (60 degrees from the vertical)."""
_TINY = 1e-9
_PLANE_TOLERANCE = 1e-4


@dataclass(frozen=True)
class Bridle:
    """Tensions and geometry of a bridle of one to four legs; arrays end in the leg axis.

    ``tension_min_kN`` and ``tension_kN`` are the least and greatest statically possible tension of
    each leg, the greatest being the design value: it holds for a rigid load whatever the true
    lengths of the slings. ``tension_equal_stretch_kN`` is that of legs alike in material and
    section and exact in length. ``tilt_deg`` is how far the load's own z is out of plumb.
    """

    sling_length_m: FloatArray
    direction: FloatArray
    angle_from_horizontal_deg: FloatArray
    tension_min_kN: FloatArray
    tension_equal_stretch_kN: FloatArray
    tension_kN: FloatArray
    tilt_deg: FloatArray


def _triple(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Scalar triple product a . (b x c) along the last axis."""
    return np.asarray(
        a[..., 0] * (b[..., 1] * c[..., 2] - b[..., 2] * c[..., 1])
        + a[..., 1] * (b[..., 2] * c[..., 0] - b[..., 0] * c[..., 2])
        + a[..., 2] * (b[..., 0] * c[..., 1] - b[..., 1] * c[..., 0])
    )


def _no_equilibrium(reason: str) -> InputError:
    return InputError.of(
        "hook_m", reason, "a hook over which every sling stays taut",
        "Move the hook over the centre of gravity, or the lifting points around it.",
    )  # fmt: skip


def _one_leg(u: FloatArray, n: FloatArray) -> FloatArray:
    off = np.linalg.norm(n - u[..., 0, :], axis=-1)
    if not np.all(off <= _PLANE_TOLERANCE):
        raise _no_equilibrium("not in line with the lifting point and the centre of gravity")
    return np.ones(u.shape[:-1])


def _two_legs(u: FloatArray, n: FloatArray) -> FloatArray:
    u1, u2 = u[..., 0, :], u[..., 1, :]
    c = (u1 * u2).sum(-1)
    b1, b2 = (u1 * n).sum(-1), (u2 * n).sum(-1)
    det = 1.0 - c * c
    if not np.all(det > _TINY):
        raise _no_equilibrium("such that the two slings lie in one line")
    t = np.stack([(b1 - c * b2) / det, (b2 - c * b1) / det], axis=-1)
    off = np.linalg.norm(t[..., 0, None] * u1 + t[..., 1, None] * u2 - n, axis=-1)
    if not np.all(off <= _PLANE_TOLERANCE):
        raise _no_equilibrium("not in one plane with both lifting points and the centre of gravity")
    return t


def _three_legs(u: FloatArray, n: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    u1, u2, u3 = u[..., 0, :], u[..., 1, :], u[..., 2, :]
    det = _triple(u1, u2, u3)
    regular = np.abs(det) > _TINY
    safe = np.where(regular, det, 1.0)
    t = np.stack([_triple(n, u2, u3), _triple(u1, n, u3), _triple(u1, u2, n)], axis=-1)
    return t / safe[..., None], regular


_FIRST, _SECOND = np.triu_indices(4, 1)  # pairs 01 02 03 12 13 23
# Triple of legs, and where its pairs (j k), (i k), (i j) stand in the list above.
_TRIPLES = (((0, 1, 2), 3, 1, 0), ((0, 1, 3), 4, 2, 0), ((0, 2, 3), 5, 2, 1), ((1, 2, 3), 5, 4, 3))


def _four_legs(u: FloatArray, n: FloatArray, length: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Least, greatest and equal-stretch tensions per unit weight.

    Cramer's rule for the four states with one leg slack, from the six cross products of pairs.
    """
    # Legs first and steps last, so that every operation runs along contiguous steps.
    x, y, z = np.ascontiguousarray(np.moveaxis(u, (-2, -1), (1, 0)))
    nx, ny, nz = np.moveaxis(n, -1, 0)
    cross = (
        y[_FIRST] * z[_SECOND] - z[_FIRST] * y[_SECOND],
        z[_FIRST] * x[_SECOND] - x[_FIRST] * z[_SECOND],
        x[_FIRST] * y[_SECOND] - y[_FIRST] * x[_SECOND],
    )
    pair = nx * cross[0] + ny * cross[1] + nz * cross[2]
    low = np.full(x.shape, np.inf)
    high = np.full(x.shape, -np.inf)
    base = np.zeros(x.shape)
    null = np.empty(x.shape)
    found = np.zeros(x.shape[1:], dtype=bool)
    for (i, j, k), jk, ik, ij in _TRIPLES:
        det = x[i] * cross[0][jk] + y[i] * cross[1][jk] + z[i] * cross[2][jk]
        slack = 6 - i - j - k
        null[slack] = (-1) ** slack * det
        regular = np.abs(det) > _TINY
        per = 1.0 / np.where(regular, det, 1.0)
        t = {i: pair[jk] * per, j: -pair[ik] * per, k: pair[ij] * per}
        ok = regular & (t[i] >= -_TINY) & (t[j] >= -_TINY) & (t[k] >= -_TINY)
        first = ok & ~found
        for leg, tension in t.items():
            value = np.where(ok, np.maximum(tension, 0.0), np.nan)
            low[leg] = np.fmin(low[leg], value)
            high[leg] = np.fmax(high[leg], value)
            base[leg] = np.where(first, value, base[leg])
        low[slack] = np.where(ok, 0.0, low[slack])
        high[slack] = np.where(ok, np.maximum(high[slack], 0.0), high[slack])
        found |= ok
    if not found.all():
        raise _no_equilibrium("such that no three slings can carry the load in tension")
    # Equal stretch: least complementary energy sum T^2 L / 2 on the line base + s * null,
    # clamped where a leg would go slack (one dimension, so the clamp is exact).
    stretch = null * np.moveaxis(length, -1, 0)
    s = -(stretch * base).sum(axis=0) / (stretch * null).sum(axis=0)
    shared = np.clip(base + s * null, low, high)
    return np.moveaxis(low, 0, -1), np.moveaxis(high, 0, -1), np.moveaxis(shared, 0, -1)


def _checked(
    load_t: ArrayLike, lugs_m: ArrayLike, hook_m: ArrayLike, cg_m: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Weight [kN], lugs, hook and centre of gravity of one broadcast shape."""
    mass = require_positive("load_t", load_t)
    lugs = require_finite("lugs_m", lugs_m)
    hook = require_finite("hook_m", hook_m)
    cg = require_finite("cg_m", cg_m)
    if lugs.ndim < 2 or lugs.shape[-1] != 3 or lugs.shape[-2] not in (1, 2, 3, 4):
        raise InputError.of("lugs_m", lugs.shape, "shape (..., n, 3) with n = 1 to 4")
    for name, point in (("hook_m", hook), ("cg_m", cg)):
        if point.ndim < 1 or point.shape[-1] != 3:
            raise InputError.of(name, point.shape, "shape (..., 3)")
    shape = np.broadcast_shapes(mass.shape, lugs.shape[:-2], hook.shape[:-1], cg.shape[:-1])
    return (
        np.broadcast_to(mass * G_M_S2, shape)[..., None],
        np.broadcast_to(lugs, (*shape, *lugs.shape[-2:])),
        np.broadcast_to(hook, (*shape, 3)),
        np.broadcast_to(cg, (*shape, 3)),
    )


def bridle_tensions(load_t: ArrayLike, lugs_m: ArrayLike, *, hook_m: ArrayLike, cg_m: ArrayLike) -> Bridle:
    """Tension of each leg of a bridle of one to four legs, load's CG anywhere between.

    Parameters:
      load_t: > 0. [t]
      lugs_m: shape (..., n, 3), n = 1 to 4. [m]
      hook_m, cg_m: shape (..., 3). [m] Where the legs meet, and the load's centre of gravity, in the same frame. If the
        hook is not over the centre of gravity, the load hangs tilted until it is; ``tilt_deg`` says by how much.
    Raises: Anything not finite or of another shape; hook not above the centre of gravity; a leg
      flatter than 30 degrees; no state with every sling taut (centre of gravity outside the lugs,
      two legs with the centre of gravity out of their plane by more than 1e-4).
    """
    weight, lugs, hook, cg = _checked(load_t, lugs_m, hook_m, cg_m)
    legs = lugs.shape[-2]
    plumb = hook - cg
    distance = np.linalg.norm(plumb, axis=-1)
    if not np.all(plumb[..., 2] > 0.0):
        raise _no_equilibrium("not above the centre of gravity")
    n = plumb / distance[..., None]
    leg = hook[..., None, :] - lugs
    length = np.sqrt(np.einsum("...i,...i->...", leg, leg))
    if not np.all(length > 0.0):
        raise InputError.of("lugs_m", "a lifting point in the hook itself", "points away from the hook")
    u = leg / length[..., None]
    rise = np.clip(np.einsum("...ni,...i->...n", u, n), -1.0, 1.0)
    angle = np.degrees(np.arcsin(rise))
    if not np.all(angle >= MIN_ANGLE_FROM_HORIZONTAL_DEG - 1e-9):
        raise InputError.of(
            "angle_from_horizontal_deg", round(float(angle.min()), 3),
            f"{MIN_ANGLE_FROM_HORIZONTAL_DEG:g} to 90", "Use longer slings or a beam.",
        )  # fmt: skip
    if legs == 4:
        low, high, shared = _four_legs(u, n, length)
    else:
        if legs == 1:
            t = _one_leg(u, n)
        elif legs == 2:
            t = _two_legs(u, n)
        else:
            t, regular = _three_legs(u, n)
            if not regular.all():
                raise _no_equilibrium("in one plane with the three lifting points")
        if not np.all(t >= -_TINY):
            raise _no_equilibrium("such that a sling would have to push")
        low = high = shared = np.maximum(t, 0.0)
    return Bridle(
        sling_length_m=length, direction=u, angle_from_horizontal_deg=angle,
        tension_min_kN=weight * low, tension_equal_stretch_kN=weight * shared,
        tension_kN=weight * high, tilt_deg=np.degrees(np.arccos(np.clip(n[..., 2], -1.0, 1.0))),
    )  # fmt: skip
