"""How one lift's load hangs: lifting points, hook, attitude and static forces, for any place of its centre of gravity.

Frame of the load: that of :mod:`liftcalc.lift.gear`. Slings do not stretch. Two legs: the load
rolls about the line of its lifting points until hook, points and centre of gravity lie in one
plane. Three and four legs: the slings fix the hook, and the load tilts until its centre of gravity
is below. Under a beam: :func:`liftcalc.rigging.under_beam.hang_under_beam`, with the roll about the
beam's line (two points: about the line of the points) taken by itself. Statics.
"""

import itertools
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.base.text import amount
from liftcalc.clearance.crane_bodies import HungLoad
from liftcalc.facts.lift import Lift
from liftcalc.facts.machine import HookBlock
from liftcalc.facts.rigging import Accessories, LiftingBeam
from liftcalc.lift.gear import Gear, cg_as_stated_m, gear_of
from liftcalc.rigging.attitude import hang_on_slings
from liftcalc.rigging.slings import bridle_tensions
from liftcalc.rigging.under_beam import UnderBeam, hang_under_beam

CG_ERROR_SHARE = 0.05
"""Assumed error of the centre of gravity where none is stated, as a share of the load's size."""


@dataclass(frozen=True, eq=False)
class HangStates:
    """Attitude and static forces for P places of the centre of gravity; first axis P.

    ``leg_*`` belong to the slings at the lifting points (below the beam where there is one; each
    then may carry the whole end), ``top_*``, ``compression_kN``, ``moment_kNm`` and ``end_kN`` to
    a beam (None without, top also None with the hook in the beam itself).
    """

    cg_m: FloatArray
    hook_m: FloatArray
    plumb: FloatArray
    """Unit vector, in the load's frame, that points up."""
    tilt_deg: FloatArray
    leg_tension_kN: FloatArray
    leg_direction: FloatArray
    leg_angle_deg: FloatArray
    """Of each leg from the horizontal."""
    beam_ends_m: FloatArray | None = None
    top_tension_kN: FloatArray | None = None
    top_angle_deg: FloatArray | None = None
    compression_kN: FloatArray | None = None
    moment_kNm: FloatArray | None = None
    end_kN: FloatArray | None = None
    beam_tilt_deg: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class Hanging:
    """How the load hangs with its centre of gravity where it is stated to be."""

    gear: Gear
    at_stated: HangStates
    """One place."""
    hook_height_m: float
    """Hook above the lowest point of the load as it hangs. [m]"""
    low_side_deg: float
    """Direction in the load's plan that hangs low, anticlockwise from its x. [deg]"""
    error_m: FloatArray
    """Half sizes of the box the centre of gravity may lie in. [m]"""
    error_words: str

    @property
    def sling_height_m(self) -> float:
        """Hook above the lifting points' height on the load, its tilt included. [m]"""
        return self.hook_height_m - self.gear.lift.rigging.point_height_m

    @property
    def tilt_deg(self) -> float:
        return float(self.at_stated.tilt_deg[0])

    @cached_property
    def worst(self) -> HangStates:
        """States over the box of possible centres of gravity.

        Raises: A place from which the load would not hang on these slings.
        """
        axes = [np.linspace(-e, e, 5) if e > 0 else np.zeros(1) for e in self.error_m]
        grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
        return hang_states(self.gear, self.at_stated.cg_m[0] + grid)


def _unit(vector: FloatArray) -> FloatArray:
    return np.asarray(vector / np.linalg.norm(vector, axis=-1, keepdims=True))


def _need_below(gear: Gear, cg_m: FloatArray, level_m: float, what: str) -> None:
    if not np.all(cg_m[:, 2] < level_m):
        field, high = f"lift {gear.lift.id}: load.cg_z_m", round(float(cg_m[:, 2].max()), 3)
        need = f"below {what} ({level_m:.3f} m above the underside)"
        raise InputError.of(field, high, need, "Lift from points above the centre of gravity.")


def _hook(gear: Gear, cg_m: FloatArray) -> FloatArray:
    """Hook in the load's frame for each place of the centre of gravity, shape (P, 3)."""
    lugs, lengths = gear.lugs_m, gear.leg_lengths_m
    if len(lugs) == 1:
        _need_below(gear, cg_m, float(lugs[0, 2]), "the lifting point")
        return np.asarray(lugs[0] + lengths[0] * _unit(lugs[0] - cg_m))
    if len(lugs) == 2:
        level, half = float(lugs[0, 2]), float(lugs[0, 0])
        if not half > 0:
            need = "above 0 with sling_legs 2"
            raise InputError.of(f"lift {gear.lift.id}: rigging.point_spacing_x_m", 0.0, need)
        _need_below(gear, cg_m, level, "the lifting points")
        x = (lengths[1] ** 2 - lengths[0] ** 2) / (4.0 * half)
        rise = float(np.sqrt(lengths[0] ** 2 - (half - x) ** 2))
        up = np.stack([np.zeros(len(cg_m)), -cg_m[:, 1], level - cg_m[:, 2]], axis=-1)
        return np.asarray(np.array([x, 0.0, level]) + rise * _unit(up))
    stated = cg_as_stated_m(gear.lift)
    adjusted = gear.lift.rigging.leg_lengths == "adjusted"
    if adjusted or len(lugs) == 4:
        centre = stated[:2] if adjusted else np.zeros(2)
        rise = float(np.sqrt(lengths[0] ** 2 - np.hypot(*(lugs[0, :2] - centre)) ** 2))
        hook = np.array([*centre, lugs[0, 2] + rise])
    else:
        hook = hang_on_slings(lugs, lengths, cg_m=stated).hook_m
    return np.broadcast_to(hook, cg_m.shape)


def load_under_beam(gear: Gear, beam: LiftingBeam, cg_m: FloatArray) -> UnderBeam:
    """Load and beam in the beam's own plane, at rest, for each place of the centre of gravity."""
    choice = gear.lift.rigging
    across = choice.point_spacing_y_m / 2 if choice.sling_legs == 4 else 0.0
    return hang_under_beam(gear.hung_t, beam.span_m, hook_above_beam_m=gear.hook_above_beam_m,
                           bottom_length_m=np.sqrt(gear.leg_length_m**2 - across**2),
                           lug_spacing_m=choice.point_spacing_x_m, cg_offset_m=cg_m[:, 0],
                           cg_below_lugs_m=choice.point_height_m - cg_m[:, 2],
                           beam_mass_t=beam.mass_t, hook_offset_m=gear.hook_offset_m)  # fmt: skip


def _on_beam(gear: Gear, beam: LiftingBeam, cg_m: FloatArray) -> HangStates:
    choice = gear.lift.rigging
    across = choice.point_spacing_y_m / 2 if choice.sling_legs == 4 else 0.0
    level = choice.point_height_m
    found = load_under_beam(gear, beam, cg_m)
    places = len(cg_m)
    flat_ends = np.stack([found.beam_1_xz_m, found.beam_2_xz_m], axis=1)  # (P, 2, xz)
    # roll: about the beam's line with pairs of slings, else about the line of the lifting points
    apex = flat_ends[..., 1].mean(axis=1) if across > 0 else np.zeros(places)
    _need_below(gear, cg_m, level + float(apex.min()), "the line it rolls about")
    roll = np.arctan2(-cg_m[:, 1], level + apex - cg_m[:, 2])

    def rolled(xz: FloatArray) -> FloatArray:
        above = xz[:, 1] - apex
        y, z = above * np.sin(roll), level + apex + above * np.cos(roll)
        return np.stack([xz[:, 0], y, z], axis=-1)

    hook = rolled(found.hook_xz_m)
    ends = np.stack([rolled(flat_ends[:, 0]), rolled(flat_ends[:, 1])], axis=1)
    pitch = np.radians(found.load_tilt_deg)
    plumb = np.stack([-np.sin(pitch), np.cos(pitch) * np.sin(roll), np.cos(pitch) * np.cos(roll)], axis=-1)
    end_of = (gear.lugs_m[:, 0] > 0).astype(int)
    legs = _unit(ends[:, end_of, :] - gear.lugs_m)
    tension = np.stack([found.bottom_tension_1_kN, found.bottom_tension_2_kN], axis=-1)
    angle = np.degrees(np.arcsin(np.clip(np.einsum("pni,pi->pn", legs, plumb), -1.0, 1.0)))
    top = found.top_tension_1_kN, found.top_tension_2_kN
    spread = gear.top_sling is not None
    return HangStates(
        cg_m=cg_m, hook_m=hook, plumb=plumb,
        tilt_deg=np.degrees(np.arccos(np.clip(plumb[:, 2], -1.0, 1.0))),
        leg_tension_kN=tension[:, end_of], leg_direction=legs, leg_angle_deg=angle,
        beam_ends_m=ends, top_tension_kN=np.stack(top, axis=-1) if spread else None,
        top_angle_deg=np.stack([found.top_angle_1_deg, found.top_angle_2_deg], axis=-1)
        if spread
        else None,
        compression_kN=found.compression_kN, moment_kNm=found.bending_moment_kNm,
        end_kN=np.stack([found.end_force_1_kN, found.end_force_2_kN], axis=-1),
        beam_tilt_deg=found.beam_tilt_deg,
    )  # fmt: skip


def hang_states(gear: Gear, cg_m: FloatArray) -> HangStates:
    """Attitude and static forces with the centre of gravity at each place of *cg_m* (P, 3).

    Raises: A place from which the load cannot hang so: outside the lifting points, above them, or
      with a sling flatter than 30 degrees.
    """
    cg = np.atleast_2d(np.asarray(cg_m, dtype=np.float64))
    if gear.beam is not None:
        return _on_beam(gear, gear.beam, cg)
    hook = _hook(gear, cg)
    bridle = bridle_tensions(gear.hung_t, gear.lugs_m, hook_m=hook, cg_m=cg)
    return HangStates(cg_m=cg, hook_m=hook, plumb=_unit(hook - cg), tilt_deg=bridle.tilt_deg,
                      leg_tension_kN=bridle.tension_kN, leg_direction=bridle.direction,
                      leg_angle_deg=bridle.angle_from_horizontal_deg)  # fmt: skip


def _error(lift: Lift) -> tuple[FloatArray, str]:
    load = lift.load
    size = (load.length_m, load.width_m, load.height_m)
    stated = (load.cg_error_x_m, load.cg_error_y_m, load.cg_error_z_m)
    error = np.array([CG_ERROR_SHARE * s if e is None else e for e, s in zip(stated, size, strict=True)])
    assumed = [name for name, e in zip("xyz", stated, strict=True) if e is None]
    each = ", ".join(f"±{amount(e, 'length_m')}" for e in error)
    words = f"centre of gravity {each} (x, y, z)"
    if assumed:
        words += f"; {', '.join(assumed)} not stated: 5 % of the load's size assumed"
    return error, words


def _corners(lift: Lift) -> FloatArray:
    load = lift.load
    x, y = load.length_m / 2, load.width_m / 2
    return np.array(list(itertools.product((-x, x), (-y, y), (0.0, load.height_m))))


def hanging(lift: Lift, accessories: Accessories) -> Hanging:
    """How the load of a lift hangs with its centre of gravity as stated."""
    gear = gear_of(lift, accessories)
    state = hang_states(gear, cg_as_stated_m(lift)[None, :])
    hook, plumb = state.hook_m[0], state.plumb[0]
    corners = _corners(lift)
    level = float(np.hypot(plumb[0], plumb[1])) <= 1e-9
    error, words = _error(lift)
    return Hanging(
        gear=gear, at_stated=state, hook_height_m=float(hook @ plumb - (corners @ plumb).min()),
        low_side_deg=0.0 if level else float(np.degrees(np.arctan2(-plumb[1], -plumb[0]))),
        error_m=error, error_words=words,
    )  # fmt: skip


def _from_hook(states: HangStates, points_m: FloatArray) -> FloatArray:
    """Points (P or 1, n, 3) of the load's frame as they hang, from the hook; z is up.

    The load's x axis keeps its direction in plan.
    """
    up = states.plumb
    along = _unit(np.array([1.0, 0.0, 0.0]) - up[:, :1] * up)
    axes = np.stack([along, np.cross(up, along), up], axis=1)
    return np.asarray(np.einsum("pij,pnj->pni", axes, points_m - states.hook_m[:, None]))


def hung_load(hang: Hanging, block: HookBlock) -> HungLoad:
    """What hangs below the boom head, for any centre of gravity within its stated error.

    The hook stays where the load as stated puts it above the load's lowest corner; a centre of gravity elsewhere tilts
    the load, and its corners hang farther out, lower and higher. Where the load would not hang on these slings at all
    for some such place, the rigging is over its limit (its own row says so) and the stated place alone is taken.
    """
    lift, beam = hang.gear.lift, hang.gear.beam
    try:
        worst = hang.worst
    except InputError:
        worst = hang.at_stated
    load, hook = lift.load, hang.hook_height_m
    middle = _from_hook(hang.at_stated, _corners(lift)[None])[0, :, :2].mean(axis=0)
    hung = _from_hook(worst, _corners(lift)[None])
    half = np.array([load.length_m, load.width_m]) / 2
    outside = np.maximum(np.abs(hung[..., :2] - middle) - half, 0.0)
    reach = low = high = slings = 0.0
    if beam is not None and worst.beam_ends_m is not None:
        centre = worst.beam_ends_m.mean(axis=1, keepdims=True)
        whole = centre + (worst.beam_ends_m - centre) * beam.overall_m / beam.span_m
        ends = _from_hook(worst, whole)
        reach = float(np.hypot(ends[..., 0], ends[..., 1]).max())
        low, high = (max(hook + float(z), 0.0) for z in (ends[..., 2].min(), ends[..., 2].max()))
        slings = max(hook + float(_from_hook(worst, hang.gear.lugs_m[None])[..., 2].min()), 0.0)
    return HungLoad(
        length_m=load.length_m, width_m=load.width_m, height_m=load.height_m,
        gear_height_m=max(hook - load.height_m, 0.05), turning="free", middle_x_m=float(middle[0]),
        middle_y_m=float(middle[1]), lean_m=float(np.hypot(outside[..., 0], outside[..., 1]).max()),
        dip_m=max(-float(hung[..., 2].min()) - hook, 0.0),
        rise_m=max(float(hung[..., 2].max()) + hook - load.height_m, 0.0), beam_reach_m=reach,
        beam_base_m=low, beam_top_m=high, beam_slings_base_m=slings, block_height_m=block.height_m,
        block_half_width_m=block.across_m / 2,
    )  # fmt: skip
