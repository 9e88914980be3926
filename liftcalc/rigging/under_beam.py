"""How a rigid load hangs under a spreader or lifting beam when its centre of gravity is off.

Plane of the beam: x along it, z up, end 1 at -x, end 2 at +x. Hook, beam, bottom slings and load
form a linkage with two freedoms (swing of the beam about the hook, swing of the load under the
beam); it comes to rest where the potential energy is least.

Sources: Statics: least potential energy, then equilibrium of load and beam ends.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import ConvergenceError, InputError, require_finite, require_positive
from liftcalc.base.units import G_M_S2
from liftcalc.rigging.slings import MIN_ANGLE_FROM_HORIZONTAL_DEG

_STEP = 1e-3
_TOLERANCE = 1e-9


@dataclass(frozen=True)
class UnderBeam:
    """Attitude and forces of load and beam at rest; tilts positive with end 2 down.

    Points are in the load's own plane: x from the middle of the lugs, z above them. Tension and
    compression positive. ``top_*`` is NaN with the hook in the beam itself.
    """

    beam_tilt_deg: FloatArray
    load_tilt_deg: FloatArray
    bottom_tension_1_kN: FloatArray
    bottom_tension_2_kN: FloatArray
    top_tension_1_kN: FloatArray
    top_tension_2_kN: FloatArray
    top_angle_1_deg: FloatArray
    top_angle_2_deg: FloatArray
    compression_kN: FloatArray
    bending_moment_kNm: FloatArray
    """At the hook (lifting beam) or from the own weight (spreader)."""
    end_force_1_kN: FloatArray
    end_force_2_kN: FloatArray
    """Vertical part of the load on each end of the beam."""
    hook_xz_m: FloatArray
    beam_1_xz_m: FloatArray
    beam_2_xz_m: FloatArray


def _turn(x: FloatArray, z: FloatArray, tilt: FloatArray) -> tuple[FloatArray, FloatArray]:
    c, s = np.cos(tilt), np.sin(tilt)
    return x * c + z * s, -x * s + z * c


Point = tuple[FloatArray, FloatArray]
"""x and z of a point or a vector, for every state."""


@dataclass(frozen=True)
class _Linkage:
    """Lengths and weights; all of one broadcast shape."""

    half: FloatArray
    top: FloatArray
    hook: FloatArray
    bottom: FloatArray
    spacing: FloatArray
    weight: FloatArray
    own: FloatArray
    cg_x: FloatArray
    cg_z: FloatArray

    def points(
        self, tilt: FloatArray, swing: FloatArray
    ) -> tuple[Point, Point, Point, Point, Point, Point, FloatArray]:
        """Beam ends, lugs, centre of gravity, middle of the beam; and the load's tilt."""
        a1 = _turn(-self.half - self.hook, -self.top, tilt)
        a2 = _turn(self.half - self.hook, -self.top, tilt)
        middle = _turn(-self.hook, -self.top, tilt)
        b1 = (a1[0] + self.bottom * np.sin(swing), a1[1] - self.bottom * np.cos(swing))
        dx, dz = a2[0] - b1[0], a2[1] - b1[1]
        d2 = dx**2 + dz**2
        ratio = (self.spacing**2 + d2 - self.bottom**2) / (2.0 * self.spacing * np.sqrt(d2))
        # where the bottom slings cannot reach, the energy turns NaN and the search stops there
        with np.errstate(invalid="ignore"):
            angle = np.arctan2(dz, dx) - np.arccos(ratio)
        b2 = (b1[0] + self.spacing * np.cos(angle), b1[1] + self.spacing * np.sin(angle))
        gx, gz = _turn(self.cg_x, self.cg_z, -angle)
        cg = (0.5 * (b1[0] + b2[0]) + gx, 0.5 * (b1[1] + b2[1]) + gz)
        return a1, a2, b1, b2, cg, middle, -angle

    def energy(self, tilt: FloatArray, swing: FloatArray) -> FloatArray:
        points = self.points(tilt, swing)
        return np.asarray(self.weight * points[4][1] + self.own * points[5][1])


def _rest(link: _Linkage) -> tuple[FloatArray, FloatArray]:
    """Tilt of the beam and swing of bottom sling 1 at least energy, by Newton's method."""
    tilt = np.zeros_like(link.half)
    swing = np.arcsin((link.half - 0.5 * link.spacing) / link.bottom)
    h = _STEP
    near = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
    for _ in range(60):
        e = {(i, j): link.energy(tilt + i * h, swing + j * h) for i, j in [*near, (-2, 0), (2, 0), (0, -2), (0, 2)]}
        # differences of fourth order: the slope decides where the search ends
        g1 = (8 * (e[1, 0] - e[-1, 0]) - (e[2, 0] - e[-2, 0])) / (12 * h)
        g2 = (8 * (e[0, 1] - e[0, -1]) - (e[0, 2] - e[0, -2])) / (12 * h)
        h11 = (e[1, 0] - 2 * e[0, 0] + e[-1, 0]) / h**2
        h22 = (e[0, 1] - 2 * e[0, 0] + e[0, -1]) / h**2
        h12 = (e[1, 1] - e[1, -1] - e[-1, 1] + e[-1, -1]) / (4 * h**2)
        det = h11 * h22 - h12**2
        if not np.all((det > 0.0) & (h11 > 0.0)):
            raise InputError.of(
                "cg_below_lugs_m", "a load that would not come to rest under the beam",
                "a stable load: lifting points above its centre of gravity",
                "Lift from higher points or use longer slings.",
            )  # fmt: skip
        d1, d2 = (h22 * g1 - h12 * g2) / det, (h11 * g2 - h12 * g1) / det
        limit = np.minimum(1.0, 0.15 / np.maximum(np.maximum(np.abs(d1), np.abs(d2)), 1e-300))
        tilt, swing = tilt - limit * d1, swing - limit * d2
        if np.all(np.maximum(np.abs(d1), np.abs(d2)) <= _TOLERANCE):
            return tilt, swing
    raise ConvergenceError("load under the beam: no place of rest found in 60 steps")


def _checked(
    load_t: ArrayLike, beam_span_m: ArrayLike, *, hook_above_beam_m: ArrayLike,
    bottom_length_m: ArrayLike, lug_spacing_m: ArrayLike, cg_offset_m: ArrayLike,
    cg_below_lugs_m: ArrayLike, beam_mass_t: ArrayLike, hook_offset_m: ArrayLike,
) -> _Linkage:  # fmt: skip
    """The linkage of load, beam and slings, its parts of one broadcast shape."""
    mass = require_positive("load_t", load_t)
    span = require_positive("beam_span_m", beam_span_m)
    top = errors.require_non_negative("hook_above_beam_m", hook_above_beam_m)
    bottom = require_positive("bottom_length_m", bottom_length_m)
    spacing = require_positive("lug_spacing_m", lug_spacing_m)
    offset = require_finite("cg_offset_m", cg_offset_m)
    below = require_finite("cg_below_lugs_m", cg_below_lugs_m)
    own = errors.require_non_negative("beam_mass_t", beam_mass_t)
    hook = require_finite("hook_offset_m", hook_offset_m)
    if not np.all(0.5 * np.abs(span - spacing) < bottom):
        enough = "long enough for beam span and spacing of the lifting points"
        raise InputError.of("bottom_length_m", float(bottom.min()), enough)
    if not np.all(np.abs(offset) < 0.5 * spacing):
        inside = "within the lifting points, below half their spacing"
        raise InputError.of("cg_offset_m", float(np.max(np.abs(offset))), inside)
    if not np.all(np.abs(hook) < 0.5 * span):
        raise InputError.of("hook_offset_m", float(np.max(np.abs(hook))), "between the beam's ends")
    mass, span, top, bottom, spacing, offset, below, own, hook = np.broadcast_arrays(
        mass, span, top, bottom, spacing, offset, below, own, hook
    )
    return _Linkage(0.5 * span, top, hook, bottom, spacing, mass, own, offset, -below)


def _along(a: Point, b: Point) -> Point:
    """Unit vector from b to a."""
    x, z = a[0] - b[0], a[1] - b[1]
    length = np.hypot(x, z)
    return x / length, z / length


def _top_slings(
    ends: Sequence[Point], tilt: FloatArray, pull: Sequence[Point], scale_kN: float
) -> tuple[list[FloatArray], list[FloatArray], FloatArray]:
    """Tension and angle of both top slings, and compression of the beam, by balance of each end."""
    axis = np.cos(tilt), -np.sin(tilt)  # from end 1 to end 2
    tension, angle, press = [], [], []
    for end, sign, force in zip(ends, (1.0, -1.0), pull, strict=True):
        u = _along((np.zeros_like(end[0]), np.zeros_like(end[1])), end)
        # T u - sign C axis + force = 0
        det = -sign * (u[0] * axis[1] - u[1] * axis[0])
        tension.append(-(force[0] * -sign * axis[1] - force[1] * -sign * axis[0]) / det)
        press.append(-(u[0] * force[1] - u[1] * force[0]) / det)
        angle.append(np.degrees(np.arcsin(u[1])))
    if not np.allclose(press[1], press[0], rtol=1e-5, atol=1e-5 * scale_kN):
        raise ConvergenceError("load under the beam: both ends do not balance")
    return tension, angle, press[1]


def _moment_at_hook_kNm(link: _Linkage, tilt: FloatArray, pull: Sequence[Point]) -> FloatArray:
    """Greatest bending moment of a beam hung from one point, of both its arms."""
    sin, cos, own_weight = np.sin(tilt), np.cos(tilt), link.own * G_M_S2
    arms = (link.half + link.hook, link.half - link.hook)
    one, two = (
        -(f[0] * sin + (f[1] + 0.5 * own_weight) * cos) * arm + own_weight * cos * arm**2 / (4.0 * link.half)
        for f, arm in zip(pull, arms, strict=True)
    )
    return np.asarray(np.maximum(one, two))


def hang_under_beam(
    load_t: ArrayLike,
    beam_span_m: ArrayLike,
    *,
    hook_above_beam_m: ArrayLike,
    bottom_length_m: ArrayLike,
    lug_spacing_m: ArrayLike,
    cg_offset_m: ArrayLike,
    cg_below_lugs_m: ArrayLike,
    beam_mass_t: ArrayLike = 0.0,
    hook_offset_m: ArrayLike = 0.0,
) -> UnderBeam:
    """Tilt and forces of a load under a spreader or lifting beam, centre of gravity anywhere.

    Energy = W z(load) + Wb z(beam) is least over the beam's tilt and the swing of one bottom sling (Newton's method,
    differences). Bottom tensions by moments about the lugs; top tensions and compression from the balance of each end
    with half the beam's weight. With plumb bottom slings and equal top slings tan(tilt) = W e/((W + Wb) H + W d).

    Parameters:
      load_t: > 0. [t]
      beam_span_m: > 0. [m] Between the points where top and bottom slings meet.
      hook_above_beam_m: >= 0. [m] Hook from the beam's axis, square to it; 0 for a lifting beam hung by its own middle.
      bottom_length_m: > 0. [m] Bottom slings, in the plane of the beam; both alike.
      lug_spacing_m: > 0. [m]
      cg_offset_m: [m] Load's centre of gravity from the middle of the lugs toward end 2; within the lugs.
      cg_below_lugs_m: [m] Below the line through the lugs, > 0 for a load that cannot topple.
      beam_mass_t: >= 0. [t]
      hook_offset_m: [m] Hook from mid-length of the beam toward end 2: 0 with equal top slings.
    Raises: Bottom slings too short for span and spacing; a load that would not come to rest; a
      sling flatter than 30 degrees; a slack sling. ConvergenceError: No place of rest found.
    """
    # long: nine inputs handed on and sixteen results, one a line
    link = _checked(
        load_t, beam_span_m, hook_above_beam_m=hook_above_beam_m, bottom_length_m=bottom_length_m,
        lug_spacing_m=lug_spacing_m, cg_offset_m=cg_offset_m, cg_below_lugs_m=cg_below_lugs_m,
        beam_mass_t=beam_mass_t, hook_offset_m=hook_offset_m,
    )  # fmt: skip
    tilt, swing = _rest(link)
    a1, a2, b1, b2, cg, _, load_tilt = link.points(tilt, swing)
    weight, own_weight = link.weight * G_M_S2, link.own * G_M_S2
    l1, l2 = _along(a1, b1), _along(a2, b2)
    bx, bz = b2[0] - b1[0], b2[1] - b1[1]
    t2 = weight * (cg[0] - b1[0]) / (bx * l2[1] - bz * l2[0])
    t1 = weight * (cg[0] - b2[0]) / -(bx * l1[1] - bz * l1[0])
    if not np.all((t1 > 0.0) & (t2 > 0.0)):
        off = float(np.max(np.abs(link.cg_x)))
        raise InputError.of("cg_offset_m", off, "with both slings taut")
    # on each end: its bottom sling and half the beam's weight
    pull = [(-t * u[0], -t * u[1] - 0.5 * own_weight) for t, u in ((t1, l1), (t2, l2))]
    flat = np.degrees(np.arcsin(np.minimum(l1[1], l2[1])))
    top_t, top_angle = [np.full_like(weight, np.nan)] * 2, [np.full_like(weight, np.nan)] * 2
    if np.all(link.top > 0.0):
        top_t, top_angle, press = _top_slings((a1, a2), tilt, pull, float(weight.max()))
        flat_all = np.minimum(flat, np.minimum(top_angle[0], top_angle[1]))
        moment = own_weight * 2.0 * link.half / 8.0 * np.cos(tilt)
    elif not np.any(link.top > 0.0):
        flat_all = flat
        press = t1 * (l1[0] * np.cos(tilt) - l1[1] * np.sin(tilt))
        moment = _moment_at_hook_kNm(link, tilt, pull)
    else:
        raise InputError.of("hook_above_beam_m", "0 and above 0", "one kind of beam at a time")
    if not np.all(flat_all >= MIN_ANGLE_FROM_HORIZONTAL_DEG - 1e-9):
        raise InputError.of(
            "sling angle from the horizontal, deg", round(float(flat_all.min()), 2),
            f"{MIN_ANGLE_FROM_HORIZONTAL_DEG:g} to 90", "Use longer slings or another beam.",
        )  # fmt: skip
    mid = 0.5 * (b1[0] + b2[0]), 0.5 * (b1[1] + b2[1])

    def own_frame(p: Point) -> FloatArray:
        return np.stack(_turn(p[0] - mid[0], p[1] - mid[1], -load_tilt), axis=-1)

    zero = np.zeros_like(weight)
    return UnderBeam(
        beam_tilt_deg=np.degrees(tilt), load_tilt_deg=np.degrees(load_tilt), bottom_tension_1_kN=t1,
        bottom_tension_2_kN=t2, top_tension_1_kN=top_t[0], top_tension_2_kN=top_t[1],
        top_angle_1_deg=top_angle[0], top_angle_2_deg=top_angle[1], compression_kN=press,
        bending_moment_kNm=moment, end_force_1_kN=t1 * l1[1], end_force_2_kN=t2 * l2[1],
        hook_xz_m=own_frame((zero, zero)), beam_1_xz_m=own_frame(a1), beam_2_xz_m=own_frame(a2),
    )  # fmt: skip
