"""Boom and jib geometry in the vertical plane of the boom.

Conventions
-----------
The plane of the boom has u horizontal from the slew axis toward the load and z up from the ground. The boom foot pin
lies at (foot_u_m, foot_z_m); foot_u_m is negative when the pin is behind the slew axis. The boom angle is measured from
the horizontal. The head offset is the distance of the load sheave from the boom's axis, square to it on the under side
(toward the load) at the head. All functions broadcast.

Sources: Plane trigonometry; statics. Mass reduced to the head: ISO 4305, edition not seen (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive

LOWEST_ANGLE_DEG = -10.0
"""Booms are laid a little below level at most; a lower angle is taken for a mistake."""


@dataclass(frozen=True)
class BoomPose:
    """A straight boom: angle, head and load sheave, in the plane of the boom."""

    boom_angle_deg: FloatArray
    foot_u_m: FloatArray
    foot_z_m: FloatArray
    head_u_m: FloatArray
    """End of the boom's axis, horizontal distance from the slew axis. [m]"""
    head_z_m: FloatArray
    sheave_u_m: FloatArray
    """Load sheave = load radius. [m]"""
    sheave_z_m: FloatArray


@dataclass(frozen=True)
class JibPose:
    """A jib on a boom: both angles, the joint and the jib's load sheave."""

    boom_angle_deg: FloatArray
    jib_angle_deg: FloatArray
    """Jib against the horizontal. [deg]"""
    foot_u_m: FloatArray
    foot_z_m: FloatArray
    joint_u_m: FloatArray
    joint_z_m: FloatArray
    sheave_u_m: FloatArray
    sheave_z_m: FloatArray


def _reach(
    length_m: ArrayLike, foot_u_m: ArrayLike, head_offset_m: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    length = require_positive("length_m", length_m)
    foot = require_finite("foot_u_m", foot_u_m)
    offset = require_finite("head_offset_m", head_offset_m)
    return length, foot, offset, np.hypot(length, offset), np.arctan2(offset, length)


def boom_angle_deg(
    length_m: ArrayLike, radius_m: ArrayLike, *, foot_u_m: ArrayLike, head_offset_m: ArrayLike = 0.0
) -> FloatArray:
    """Boom angle that puts the load sheave of a straight boom at a radius.

    r - u_f = L cos a + e sin a = h cos(a - atan(e/L)), h = sqrt(L^2 + e^2).

    Parameters:
      length_m: > 0. Foot pin to head along the boom's axis. [m]
      radius_m: Slew axis to load sheave, horizontally. [m]
      foot_u_m: Foot pin from the slew axis, negative behind it. [m]
      head_offset_m: Load sheave from the boom's axis, square to it, positive on the under side. [m]
    Returns: ndarray. Angle from the horizontal, the upper of the two solutions. [deg]
    Raises: A radius that this boom cannot reach.
    Source: Plane trigonometry.
    """
    _, foot, _, hyp, psi = _reach(length_m, foot_u_m, head_offset_m)
    radius = require_finite("radius_m", radius_m)
    cosine = (radius - foot) / hyp
    ok = np.abs(cosine) <= 1.0
    if not np.all(ok):
        bad, far = _first_of(~ok, radius, foot + hyp)
        remedy = "Move the machine nearer or choose a longer boom."
        raise InputError.of("radius_m", bad, f"at most {far:.3f} for this boom length", remedy)
    return np.degrees(psi + np.arccos(cosine))


def _first_of(where: BoolArray, *values: FloatArray) -> list[float]:
    """Each of the values in the first state that is meant."""
    return [float(np.broadcast_to(v, np.shape(where))[where].ravel()[0]) for v in values]


def boom_pose(
    length_m: ArrayLike,
    radius_m: ArrayLike,
    *,
    foot_u_m: ArrayLike,
    foot_z_m: ArrayLike,
    head_offset_m: ArrayLike = 0.0,
) -> BoomPose:
    """Angle, head and load sheave of a straight boom at a radius.

    Parameters:
      length_m, radius_m, foot_u_m, head_offset_m: As for :func:`boom_angle_deg`. [m]
      foot_z_m: Foot pin above the ground. [m]
    Returns: BoomPose. Arrays of the broadcast shape.
    Raises: A radius out of reach; anything not finite.
    Source: Plane trigonometry.
    """
    angle = boom_angle_deg(length_m, radius_m, foot_u_m=foot_u_m, head_offset_m=head_offset_m)
    length, foot, offset, _, _ = _reach(length_m, foot_u_m, head_offset_m)
    height = require_finite("foot_z_m", foot_z_m)
    cos, sin = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    head_u, head_z = foot + length * cos, height + length * sin
    sheave = (head_u + offset * sin, head_z - offset * cos)
    return BoomPose(*np.broadcast_arrays(angle, foot, height, head_u, head_z, *sheave))


def radius_range_m(
    length_m: ArrayLike,
    *,
    foot_u_m: ArrayLike,
    angle_min_deg: ArrayLike,
    angle_max_deg: ArrayLike,
    head_offset_m: ArrayLike = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Least and greatest radius of each boom length between the angle limits.

    The radius falls as the boom rises above the angle atan(e/L); below it the greatest radius is at
    that angle, not at the lower limit.

    Parameters:
      length_m: > 0. [m]
      foot_u_m, head_offset_m: As for :func:`boom_angle_deg`. [m]
      angle_min_deg, angle_max_deg: -10 to 90. Boom angle limits of the machine. [deg]
    Returns: tuple of ndarray. Least and greatest radius. [m]
    Raises: Limits in the wrong order or out of range.
    Source: Plane trigonometry.
    """
    _, foot, _, hyp, psi = _reach(length_m, foot_u_m, head_offset_m)
    low = require_between("angle_min_deg", angle_min_deg, LOWEST_ANGLE_DEG, 90.0)
    high = require_between("angle_max_deg", angle_max_deg, LOWEST_ANGLE_DEG, 90.0)
    if not np.all(low < high):
        raise InputError.of("angle_min_deg", angle_min_deg, "below angle_max_deg")
    lo, hi = np.radians(low), np.radians(high)
    ends = np.stack(np.broadcast_arrays(foot + hyp * np.cos(lo - psi), foot + hyp * np.cos(hi - psi)))
    peak = foot + hyp * np.cos(np.clip(psi, lo, hi) - psi)
    return ends.min(axis=0), np.maximum(peak, ends.max(axis=0))


def fixed_jib_pose(
    boom_length_m: ArrayLike,
    radius_m: ArrayLike,
    *,
    jib_length_m: ArrayLike,
    jib_offset_deg: ArrayLike,
    foot_u_m: ArrayLike,
    foot_z_m: ArrayLike,
) -> JibPose:
    """Pose of a boom with a fly jib pinned at an offset angle, for a load radius.

    Boom and jib move as one rigid body: a boom of length L + J cos(o) with a head offset J sin(o).

    Parameters:
      boom_length_m, jib_length_m: > 0. [m]
      radius_m: Slew axis to the jib's load sheave. [m]
      jib_offset_deg: 0 to 90. Jib below the line of the boom. [deg]
      foot_u_m, foot_z_m: Boom foot pin. [m]
    Returns: JibPose. Arrays of the broadcast shape.
    Raises: A radius out of reach.
    Source: Plane trigonometry.
    """
    boom = require_positive("boom_length_m", boom_length_m)
    jib = require_positive("jib_length_m", jib_length_m)
    offset = require_between("jib_offset_deg", jib_offset_deg, 0.0, 90.0)
    foot, height = require_finite("foot_u_m", foot_u_m), require_finite("foot_z_m", foot_z_m)
    bend = np.radians(offset)
    angle = boom_angle_deg(boom + jib * np.cos(bend), radius_m, foot_u_m=foot, head_offset_m=jib * np.sin(bend))
    return _jib(angle, angle - offset, boom, jib, foot, height)


def luffing_jib_pose(
    boom_length_m: ArrayLike,
    radius_m: ArrayLike,
    *,
    boom_angle_deg: ArrayLike,
    jib_length_m: ArrayLike,
    foot_u_m: ArrayLike,
    foot_z_m: ArrayLike,
) -> JibPose:
    """Pose of a luffing jib on a boom held at a set angle, for a load radius.

    Parameters:
      boom_length_m, jib_length_m: > 0. [m]
      radius_m: Slew axis to the jib's load sheave. [m]
      boom_angle_deg: -10 to 90. Main boom from the horizontal. [deg]
      foot_u_m, foot_z_m: Boom foot pin. [m]
    Returns: JibPose. The jib angle is the upper of the two solutions.
    Raises: A radius that the jib cannot reach, nearer or farther.
    Source: Plane trigonometry.
    """
    boom = require_positive("boom_length_m", boom_length_m)
    jib = require_positive("jib_length_m", jib_length_m)
    radius = require_finite("radius_m", radius_m)
    angle = require_between("boom_angle_deg", boom_angle_deg, LOWEST_ANGLE_DEG, 90.0)
    foot, height = require_finite("foot_u_m", foot_u_m), require_finite("foot_z_m", foot_z_m)
    joint = foot + boom * np.cos(np.radians(angle))
    cosine = (radius - joint) / jib
    ok = np.abs(cosine) <= 1.0
    if not np.all(ok):
        bad, near, far = _first_of(~ok, radius, joint - jib, joint + jib)
        need = f"{near:.3f} to {far:.3f} for this boom angle and jib"
        raise InputError.of("radius_m", bad, need, "Change the boom angle or the jib length.")
    return _jib(angle, np.degrees(np.arccos(cosine)), boom, jib, foot, height)


def _jib(
    boom_angle: FloatArray, jib_angle: FloatArray, boom: FloatArray, jib: FloatArray,
    foot: FloatArray, height: FloatArray,
) -> JibPose:  # fmt: skip
    a, j = np.radians(boom_angle), np.radians(jib_angle)
    joint_u, joint_z = foot + boom * np.cos(a), height + boom * np.sin(a)
    ends = (joint_u, joint_z, joint_u + jib * np.cos(j), joint_z + jib * np.sin(j))
    return JibPose(*np.broadcast_arrays(boom_angle, jib_angle, foot, height, *ends))


def head_reduced_mass_t(
    boom_mass_t: ArrayLike, boom_length_m: ArrayLike, *, boom_cg_from_foot_m: ArrayLike
) -> FloatArray:
    """Mass at the boom head with the same moment about the foot as the boom itself.

    F = m_b x_b / L_b.

    Parameters:
      boom_mass_t: >= 0. [t]
      boom_length_m: > 0. [m]
      boom_cg_from_foot_m: 0 to the boom length. Centre of gravity from the foot along the boom. [m]
    Returns: ndarray. F of the test load 1.25 P + 0.1 F. [t]
    Raises: A centre of gravity beyond the head; anything out of range.
    Source: ISO 4305 (from memory).
    """
    mass = errors.require_non_negative("boom_mass_t", boom_mass_t)
    length = require_positive("boom_length_m", boom_length_m)
    cg = errors.require_non_negative("boom_cg_from_foot_m", boom_cg_from_foot_m)
    if not np.all(cg <= length):
        raise InputError.of("boom_cg_from_foot_m", boom_cg_from_foot_m, "at most the boom length")
    return mass * cg / length
