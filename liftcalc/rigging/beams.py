"""Forces in spreader bars and lifting beams.

A **spreader** hangs in two slings from its ends and is pressed together; a **lifting beam**
hangs from its middle and is bent.

Sources: Statics. The strength of the section is in ``members``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    require_finite,
    require_non_negative,
    require_positive,
)
from liftcalc.base.units import G_M_S2

__all__ = [
    "LiftingBeam",
    "Spreader",
    "lifting_beam_forces",
    "spreader_forces",
]

MIN_SLING_ANGLE_DEG = 30.0


@dataclass(frozen=True)
class Spreader:
    """Forces in an end-rigged spreader. End 1 is at -x, end 2 at +x; compression positive.

    ``hook_offset_m`` is where the hook stands, from mid-length towards end 2;
    ``load_shift_m`` how far the middle of the lugs moves towards end 2 under the bar.
    """

    bottom_vertical_1_kN: FloatArray
    bottom_vertical_2_kN: FloatArray
    bottom_tension_1_kN: FloatArray
    bottom_tension_2_kN: FloatArray
    top_tension_1_kN: FloatArray
    top_tension_2_kN: FloatArray
    top_angle_1_deg: FloatArray
    top_angle_2_deg: FloatArray
    top_length_1_m: FloatArray
    top_length_2_m: FloatArray
    hook_offset_m: FloatArray
    load_shift_m: FloatArray
    compression_kN: FloatArray
    self_weight_moment_kNm: FloatArray


def spreader_forces(
    load_t: ArrayLike,
    spreader_length_m: ArrayLike,
    *,
    hook_above_spreader_m: ArrayLike,
    spreader_mass_t: ArrayLike = 0.0,
    cg_offset_m: ArrayLike = 0.0,
    lug_spacing_m: ArrayLike | None = None,
    bottom_sling_height_m: ArrayLike | None = None,
) -> Spreader:
    """Forces in a spreader bar hung by its ends, level, load's CG anywhere between.

    R1 = W (s/2 - e)/s at the lugs (spacing s). Each end hangs in the top sling: with V the vertical
    there (bottom vertical plus half the own weight) and x its distance from the hook, the
    horizontal pull is V x/h, the same at both ends where the hook stands over the common centre of
    gravity. Bottom slings inclined by d = (bar - lug spacing)/2 over their height k pull both lugs
    alike, so the load moves sideways under the bar by d (R2 - R1)/W and the pull is H = 2 R1 R2
    d/(W k). Compression = V x/h + H. Bar and load hang level.

    Parameters:
      load_t: array_like, shape (...), > 0. [t]
      spreader_length_m: array_like, > 0. [m] Between the points where the top and bottom slings
        meet at each end.
      hook_above_spreader_m: array_like, > 0. [m]
      spreader_mass_t: array_like, >= 0. [t] Half is taken at each end for the slings; its bending
        at mid-length is reported.
      cg_offset_m: array_like. [m] Load's centre of gravity from mid-length, towards end 2; within
        the lugs.
      lug_spacing_m, bottom_sling_height_m: array_like or None, > 0. [m] Spacing of the two lugs on
        the load and the height of the spreader above them. None for both: plumb bottom slings.
        Bottom slings drawn inward press the spreader further, drawn outward relieve it.
    Returns: Spreader. Arrays of the broadcast shape.
    Raises: Centre of gravity outside the lugs; a top or bottom sling flatter than 30 degrees; only
      one of spacing and height given.
    Source: Statics.
    """
    mass = require_positive("load_t", load_t)
    length = require_positive("spreader_length_m", spreader_length_m)
    height = require_positive("hook_above_spreader_m", hook_above_spreader_m)
    own = require_non_negative("spreader_mass_t", spreader_mass_t)
    offset = require_finite("cg_offset_m", cg_offset_m)
    if (lug_spacing_m is None) != (bottom_sling_height_m is None):
        raise InputError.of(
            "lug_spacing_m", lug_spacing_m, "given together with bottom_sling_height_m"
        )
    spacing = length
    inward_ratio: FloatArray = np.zeros(())
    inclined = lug_spacing_m is not None
    if lug_spacing_m is not None and bottom_sling_height_m is not None:
        spacing = require_positive("lug_spacing_m", lug_spacing_m)
        drop = require_positive("bottom_sling_height_m", bottom_sling_height_m)
        inward_ratio = np.asarray(0.5 * (length - spacing) / drop)
    if not np.all(np.abs(offset) < 0.5 * spacing):
        raise InputError.of(
            "cg_offset_m",
            float(np.max(np.abs(offset))),
            "within the lugs, below half their spacing",
        )
    mass, length, height, own, offset, spacing, inward_ratio = np.broadcast_arrays(
        mass, length, height, own, offset, spacing, inward_ratio
    )
    weight = mass * G_M_S2
    own_weight = own * G_M_S2
    r1 = weight * (0.5 * spacing - offset) / spacing
    r2 = weight - r1
    v1 = r1 + 0.5 * own_weight
    v2 = r2 + 0.5 * own_weight
    # The load's weight acts where its verticals do on the bar, so the bar's own balance holds.
    x1 = length * v2 / (v1 + v2)
    x2 = length - x1
    inward = 2.0 * r1 * r2 * inward_ratio / weight
    top1 = np.degrees(np.arctan2(height, x1))
    top2 = np.degrees(np.arctan2(height, x2))
    below = np.degrees(np.arctan2(np.minimum(r1, r2), np.abs(inward)))
    steepness = np.minimum(np.minimum(top1, top2), below)
    if not np.all(steepness >= MIN_SLING_ANGLE_DEG - 1e-9):
        raise InputError.of(
            "sling angle from the horizontal, deg",
            round(float(steepness.min()), 2),
            f"{MIN_SLING_ANGLE_DEG:g} to 90",
            "Raise the hook or use longer slings.",
        )
    l1, l2 = np.hypot(height, x1), np.hypot(height, x2)
    return Spreader(
        bottom_vertical_1_kN=r1,
        bottom_vertical_2_kN=r2,
        bottom_tension_1_kN=np.hypot(r1, inward),
        bottom_tension_2_kN=np.hypot(r2, inward),
        top_tension_1_kN=v1 * l1 / height,
        top_tension_2_kN=v2 * l2 / height,
        top_angle_1_deg=top1,
        top_angle_2_deg=top2,
        top_length_1_m=l1,
        top_length_2_m=l2,
        hook_offset_m=x1 - 0.5 * length,
        load_shift_m=0.5 * (length - spacing) * (r2 - r1) / weight * inclined,
        compression_kN=v1 * x1 / height + inward,
        self_weight_moment_kNm=own_weight * length / 8.0,
    )


@dataclass(frozen=True)
class LiftingBeam:
    """Forces in a lifting beam; picks 1 at -x and 2 at +x of the load's centre of gravity."""

    pick_1_kN: FloatArray
    pick_2_kN: FloatArray
    hang_1_kN: FloatArray
    hang_2_kN: FloatArray
    bending_moment_kNm: FloatArray
    shear_kN: FloatArray


def lifting_beam_forces(
    load_t: ArrayLike,
    pick_spacing_m: ArrayLike,
    *,
    hang_spacing_m: ArrayLike = 0.0,
    cg_offset_m: ArrayLike = 0.0,
    beam_mass_t: ArrayLike = 0.0,
    beam_length_m: ArrayLike | None = None,
) -> LiftingBeam:
    """Greatest bending moment and shear in a lifting beam with plumb slings below.

    Parameters:
      load_t: array_like, shape (...), > 0. [t]
      pick_spacing_m: array_like, > 0. [m] Between the two points the load hangs from.
      hang_spacing_m: array_like, >= 0, below the pick spacing. [m] Between two hanging points with
        plumb slings to a higher beam or two hooks, centred on the picks; 0 for one point (one
        hook), which must then stand over the load's centre.
      cg_offset_m: array_like. [m] Load's centre of gravity from the middle of the picks, towards
        pick 2. With one hanging point the point stands over the common centre of gravity, so that
        the beam is level.
      beam_mass_t: array_like, >= 0. [t] Spread evenly over the beam's length, centred on the picks.
      beam_length_m: array_like or None, at least the pick spacing. [m] None: the pick spacing.
    Returns: LiftingBeam
    Raises: The centre of gravity outside the picks, or so far out that a hanging point would go
      slack.
    Source: Statics: for one point, centred and weightless, M = W L/4.
    """
    mass = require_positive("load_t", load_t)
    spacing = require_positive("pick_spacing_m", pick_spacing_m)
    hang = require_non_negative("hang_spacing_m", hang_spacing_m)
    offset = require_finite("cg_offset_m", cg_offset_m)
    own = require_non_negative("beam_mass_t", beam_mass_t)
    length = spacing if beam_length_m is None else require_positive("beam_length_m", beam_length_m)
    mass, spacing, hang, offset, own, length = np.broadcast_arrays(
        mass, spacing, hang, offset, own, length
    )
    if not np.all(length >= spacing):
        raise InputError.of("beam_length_m", float(length.min()), "at least pick_spacing_m")
    if not np.all(hang < spacing):
        raise InputError.of("hang_spacing_m", float(hang.max()), "below pick_spacing_m")
    if not np.all(np.abs(offset) < 0.5 * spacing):
        raise InputError.of(
            "cg_offset_m", float(np.max(np.abs(offset))), "below half of pick_spacing_m"
        )
    weight, own_weight = mass * G_M_S2, own * G_M_S2
    p1 = weight * (0.5 * spacing - offset) / spacing
    p2 = weight - p1
    total = weight + own_weight
    centre = weight * offset / total  # common centre of gravity, from the middle
    single = hang <= 0.0
    safe_hang = np.where(single, 1.0, hang)
    h2 = np.where(single, 0.5 * total, total * (0.5 + centre / safe_hang))
    h1 = total - h2
    if not np.all((h1 >= -1e-9 * total) & (h2 >= -1e-9 * total)):
        raise InputError.of(
            "cg_offset_m",
            float(np.max(np.abs(offset))),
            "small enough that no hanging point goes slack",
        )
    # Hanging points from the middle; a single point stands at the common centre.
    s1 = np.where(single, centre, -0.5 * hang)
    s2 = np.where(single, centre, 0.5 * hang)
    per_m = own_weight / length

    def outside(force: FloatArray, arm: FloatArray, overhang: FloatArray) -> FloatArray:
        return np.asarray(force * arm + 0.5 * per_m * overhang**2)

    at_1 = outside(p1, 0.5 * spacing + s1, 0.5 * length + s1)
    at_2 = outside(p2, 0.5 * spacing - s2, 0.5 * length - s2)
    shear_1 = p1 + per_m * (0.5 * length + s1)
    shear_2 = p2 + per_m * (0.5 * length - s2)
    # Between two hanging points the beam's own mass can sag it the other way.
    load_between = 0.5 * per_m * hang**2
    at = np.where(
        load_between > 0.0,
        np.clip(0.5 - 0.5 * (at_2 - at_1) / np.where(load_between > 0.0, load_between, 1.0), 0, 1),
        0.0,
    )
    sag = load_between * at * (1.0 - at) - at_1 * (1.0 - at) - at_2 * at
    between = np.where(single, 0.0, np.maximum(np.abs(shear_1 - h1), np.abs(shear_2 - h2)))
    return LiftingBeam(
        pick_1_kN=p1,
        pick_2_kN=p2,
        hang_1_kN=np.where(single, total, h1),
        hang_2_kN=np.where(single, 0.0, h2),
        bending_moment_kNm=np.maximum(np.maximum(at_1, at_2), sag),
        shear_kN=np.maximum(np.maximum(shear_1, shear_2), between),
    )
