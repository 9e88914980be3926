"""A mat as a beam on elastic ground under any loads, by finite elements.

Contents
--------
BeamOnGround, beam_on_ground.

The closed form for a load in the middle is in :mod:`liftcalc.ground.beam`; the signs are the same.

Sources: Euler-Bernoulli beam element with cubic shape functions (standard text-book element);
checked against Hetenyi (1946) and against a general frame library.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import solveh_banded

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    ConvergenceError,
    InputError,
    require_non_negative,
    require_positive,
)

__all__ = ["BeamOnGround", "beam_on_ground"]

Contact = Literal["compression only", "linear"]


@dataclass(frozen=True)
class BeamOnGround:
    """A mat on elastic ground by finite elements; arrays (..., nodes) unless told otherwise.

    Attributes:
      x_m: shape (nodes,), from the left end.
      deflection_m, moment_kNm, pressure_kPa: at the nodes.
      shear_kN: just right of each node (at the last node, just left of it).
      moment_max_kNm, moment_min_kNm, shear_max_kN, pressure_max_kPa, contact_length_m: shape (...).
    """

    x_m: FloatArray
    deflection_m: FloatArray
    moment_kNm: FloatArray
    shear_kN: FloatArray
    pressure_kPa: FloatArray
    moment_max_kNm: FloatArray
    moment_min_kNm: FloatArray
    shear_max_kN: FloatArray
    pressure_max_kPa: FloatArray
    contact_length_m: FloatArray


_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(4)
_GAUSS_X, _GAUSS_W = (_GAUSS_X + 1.0) / 2.0, _GAUSS_W / 2.0


def _hermite(s: FloatArray, h: FloatArray) -> FloatArray:
    """Cubic shape functions at s in 0..1 of elements of length h: shape (len(h), len(s), 4)."""
    s, h = s[None, :], h[:, None]
    one = np.ones_like(h)
    return np.stack(
        [
            (1 - 3 * s**2 + 2 * s**3) * one,
            h * (s - 2 * s**2 + s**3),
            (3 * s**2 - 2 * s**3) * one,
            h * (-(s**2) + s**3),
        ],
        axis=-1,
    )


def _mesh(length: float, edges: FloatArray, elements: int) -> FloatArray:
    marks = np.unique(np.round(np.concatenate([[0.0, length], edges]), 9))
    pieces = [
        np.linspace(a, b, max(1, int(np.ceil((b - a) / length * elements))) + 1)[:-1]
        for a, b in pairwise(marks)
    ]
    return np.concatenate([*pieces, [length]])


def beam_on_ground(
    load_kN: ArrayLike,
    position_m: Sequence[float] | FloatArray,
    *,
    length_m: float,
    width_m: float,
    stiffness_kNm2: ArrayLike,
    subgrade_modulus_kN_m3: ArrayLike,
    patch_m: Sequence[float] | FloatArray | float = 0.0,
    self_weight_kN_m: float = 0.0,
    contact: Contact = "compression only",
    elements: int = 100,
) -> BeamOnGround:
    """A mat of real stiffness on elastic ground under any number of loads.

    Load positions are rounded to a tenth of an element, patch edges inward to the next; a patch
    that vanishes in that is a point. Euler-Bernoulli elements with cubic shape functions; the
    ground acts at four Gauss points in each element, each of which drops out while the mat is off
    it.

    Parameters:
      load_kN: array_like, shape (..., K), >= 0. Loads; leading axes are states. [kN]
      position_m: array_like, shape (K,). Centre of each load from the left end. [m]
      length_m, width_m: float, > 0. [m]
      stiffness_kNm2, subgrade_modulus_kN_m3: array_like, shape (...) or scalar, > 0. [kNm2, kN/m3]
      patch_m: array_like, shape (K,) or scalar, >= 0. Length over which each load is spread; it
        must lie on the mat. [m]
      self_weight_kN_m: float, >= 0. Own weight of the mat per metre, which keeps light ends down.
        [kN/m]
      contact: {"compression only", "linear"}. Whether the ground may pull.
      elements: int, at least 8. Least number of elements along the mat.
    Returns: BeamOnGround
    Raises: A load off the mat, or anything not finite or outside the range above. ConvergenceError:
      The part in contact does not settle down within 100 rounds (a load so near an end that the mat
      would tip up).
    Source: Standard finite-element beam; checked against Hetenyi and against a general frame
      library.
    """
    if contact not in ("compression only", "linear"):
        raise InputError.of("contact", contact, "compression only, linear")
    loads = require_non_negative("load_kN", load_kN)
    loads = loads if loads.ndim else loads[None]
    length = float(require_positive("length_m", length_m))
    width = float(require_positive("width_m", width_m))
    weight = float(require_non_negative("self_weight_kN_m", self_weight_kN_m))
    where = np.atleast_1d(np.asarray(position_m, dtype=np.float64))
    patch = np.broadcast_to(require_non_negative("patch_m", patch_m), where.shape)
    if where.ndim != 1 or loads.shape[-1] != where.size:
        raise InputError.of("position_m", where.shape, f"one for each of {loads.shape[-1]} loads")
    left, right = where - patch / 2.0, where + patch / 2.0
    if not (np.all(left >= -1e-9) and np.all(right <= length + 1e-9)):
        raise InputError.of(
            "position_m", where.tolist(), f"load and patch within 0 to {length:g} m"
        )
    if elements < 8:
        raise InputError.of("elements", elements, "8 or more")
    # marks on a raster of a tenth of an element: no sliver elements, which would be ill-conditioned
    raster = length / (10.0 * elements)
    # (patches inward: a shorter patch bends and shears the mat more)
    left, right, where = (
        np.clip(v, 0, 10 * elements) * raster
        for v in (
            np.ceil(left / raster - 1e-6),
            np.floor(right / raster + 1e-6),
            np.round(where / raster),
        )
    )
    ei = require_positive("stiffness_kNm2", stiffness_kNm2)
    ks = require_positive("subgrade_modulus_kN_m3", subgrade_modulus_kN_m3)
    states = np.broadcast_shapes(loads.shape[:-1], ei.shape, ks.shape)
    flat_loads = np.broadcast_to(loads, (*states, where.size)).reshape(-1, where.size)
    flat_ei = np.broadcast_to(ei, states).reshape(-1)
    flat_k = np.broadcast_to(ks, states).reshape(-1) * width

    point = right - left < raster / 2.0
    # a node under the middle of each patch too: there, between its edges, lies the greatest moment
    x = _mesh(length, np.concatenate([left[~point], right[~point], where]), elements)
    h = np.diff(x)
    n, dofs = h.size, 2 * x.size
    shape = _hermite(_GAUSS_X, h)
    bend = np.empty((n, 4, 4))
    rows = (
        (12 + 0 * h, 6 * h, -12 + 0 * h, 6 * h),
        (6 * h, 4 * h**2, -6 * h, 2 * h**2),
        (-12 + 0 * h, -6 * h, 12 + 0 * h, -6 * h),
        (6 * h, 2 * h**2, -6 * h, 4 * h**2),
    )
    for i, row in enumerate(rows):
        for j, value in enumerate(row):
            bend[:, i, j] = value / h**3
    # unit load vectors, (K, n, 4) inside elements plus (K, nodes) at nodes
    even = np.einsum("g,egi->ei", _GAUSS_W, shape) * h[:, None]
    spread = np.zeros((where.size, n, 4))
    at_node = np.zeros((where.size, x.size))
    middle = (x[:-1] + x[1:]) / 2.0
    for i in range(where.size):
        if not point[i]:
            under = (middle > left[i]) & (middle < right[i])
            spread[i][under] = even[under] / (right[i] - left[i])
        else:
            at_node[i, np.argmin(np.abs(x - where[i]))] = 1.0
    inside = np.einsum("sk,kei->sei", flat_loads, spread) + weight * even
    nodal = flat_loads @ at_node

    dof = 2 * np.arange(n)[:, None] + np.arange(4)
    force = np.zeros((flat_k.size, dofs))
    for j in range(4):  # no degree of freedom occurs twice in one column of dof
        force[:, dof[:, j]] += inside[:, :, j]
    force[:, 0::2] += nodal
    spring = _GAUSS_W[:, None, None] * np.einsum("egi,egj->egij", shape, shape)
    spring *= h[:, None, None, None]
    active = np.ones((flat_k.size, n, _GAUSS_X.size), dtype=bool)
    u = np.zeros((flat_k.size, dofs))
    ground = np.zeros((flat_k.size, n, 4, 4))
    todo = np.arange(flat_k.size)
    for _ in range(100):
        ground[todo] = flat_k[todo, None, None, None] * np.einsum(
            "seg,egij->seij", active[todo].astype(np.float64), spring
        )
        local = flat_ei[todo, None, None, None] * bend + ground[todo]
        band = np.zeros((todo.size, 4, dofs))
        for i in range(4):
            for j in range(i + 1):
                band[:, i - j, dof[:, j]] += local[:, :, i, j]
        for s, state in enumerate(todo):
            try:
                u[state] = solveh_banded(band[s], force[state], lower=True, check_finite=False)
            except np.linalg.LinAlgError:
                raise ConvergenceError("beam_on_ground: the mat tips up off its ground") from None
        touching = np.einsum("egi,sei->seg", shape, u[todo][:, dof]) > 0.0
        touching |= contact == "linear"
        moved = (touching != active[todo]).any(axis=(1, 2)) & (force[todo] != 0.0).any(axis=1)
        active[todo] = touching
        todo = todo[moved]
        if todo.size == 0:
            break
    else:
        raise ConvergenceError("beam_on_ground: the part in contact was not found in 100 rounds")

    ends = np.einsum("seij,sej->sei", flat_ei[:, None, None, None] * bend + ground, u[:, dof])
    ends -= inside
    moment = np.concatenate([ends[:, :, 1], -ends[:, -1:, 3]], axis=1)
    shear = np.concatenate([-ends[:, :, 0], ends[:, -1:, 2]], axis=1)
    shear_max = np.maximum(np.abs(ends[:, :, 0]).max(axis=1), np.abs(ends[:, :, 2]).max(axis=1))
    w = u[:, 0::2]
    pressure = flat_k[:, None] / width * w
    if contact == "compression only":
        pressure = np.maximum(pressure, 0.0)
        touched = (active * _GAUSS_W * h[:, None]).sum(axis=(1, 2))
    else:
        touched = np.full(flat_k.size, length)

    def give(value: FloatArray) -> FloatArray:
        return np.asarray(value.reshape(states + value.shape[1:]))

    return BeamOnGround(
        x_m=x,
        deflection_m=give(w),
        moment_kNm=give(moment),
        shear_kN=give(shear),
        pressure_kPa=give(pressure),
        moment_max_kNm=give(moment.max(axis=1)),
        moment_min_kNm=give(moment.min(axis=1)),
        shear_max_kN=give(shear_max),
        pressure_max_kPa=give(pressure.max(axis=1)),
        contact_length_m=give(touched),
    )
