"""The accessories of one lift with their fixed geometry: lengths, heights and masses.

Frame of the load: origin at the middle of its box in plan at the underside, x along its length,
y to its left, z up when it hangs as meant. Plane geometry.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.dynamics.gross import with_contingency_t
from liftcalc.facts.lift import Lift
from liftcalc.facts.rigging import Accessories, LiftingBeam, Shackle, Sling


@dataclass(frozen=True, eq=False)
class Gear:
    """Accessories of one lift and their fixed geometry."""

    lift: Lift
    sling: Sling
    top_sling: Sling | None
    """Sling above a spreader; None without one."""
    shackle: Shackle | None
    beam: LiftingBeam | None
    lugs_m: FloatArray
    leg_length_m: float
    """Lifting point to hook, or to the beam. [m]"""
    leg_lengths_m: FloatArray
    """Of each leg, shape (n,): unlike only where legs are adjusted. [m]"""
    hook_above_beam_m: float
    hook_offset_m: float
    mass_t: float
    """All accessories. [t]"""
    hung_t: float
    """Load with its contingency and everything below the hook but the beam. [t]"""


def cg_as_stated_m(lift: Lift) -> FloatArray:
    """Stated centre of gravity in the load's frame, shape (3,). [m]"""
    load = lift.load
    return np.array([load.cg_x_m, load.cg_y_m, load.height_m / 2 + load.cg_z_m])


def _lugs(lift: Lift) -> FloatArray:
    choice = lift.rigging
    dx, dy = choice.point_spacing_x_m / 2, choice.point_spacing_y_m / 2
    layouts = {
        1: [(0.0, 0.0)],
        2: [(dx, 0.0), (-dx, 0.0)],
        3: [(dx, 0.0), (-dx, dy), (-dx, -dy)],
        4: [(dx, dy), (dx, -dy), (-dx, -dy), (-dx, dy)],
    }
    return np.array([(x, y, choice.point_height_m) for x, y in layouts[choice.sling_legs]])


def _leg_length_m(lift: Lift, sling: Sling) -> float:
    """Length of one leg in its hitch. [m]"""
    choice = lift.rigging
    most = sling.length_m / 2 if choice.hitch == "basket" else sling.length_m
    stated, field = choice.leg_length_m, f"lift {lift.id}: rigging.leg_length_m"
    if stated is None and choice.hitch == "choke":
        need = "the length from the choke to the hook: a choke hitch takes sling round the load"
        raise InputError.of(field, "missing", need)
    if stated is not None and stated > most + 1e-9:
        raise InputError.of(field, stated, f"at most {most:g} m")
    return most if stated is None else stated


def _refuse_short(lift: Lift, sling: Sling, length_m: float, reach_m: float) -> None:
    if not length_m > reach_m:
        need = f"longer than {reach_m:.2f} m, the plan distance it has to span"
        raise InputError.of(f"lift {lift.id}: sling", sling.id, need, "Choose a longer sling.")


def _leg_lengths_m(lift: Lift, sling: Sling, lugs_m: FloatArray, length_m: float) -> FloatArray:
    """Length of each leg gathered in the hook, shape (n,): alike, or adjusted so that the hook
    stands over the stated centre of gravity, the longest at full length. [m]
    """
    adjusted = lift.rigging.leg_lengths == "adjusted" and len(lugs_m) > 1
    centre = cg_as_stated_m(lift)[:2] if adjusted else np.zeros(2)
    if len(lugs_m) == 2:  # legs in the plane through the lugs and the centre of gravity
        centre[1] = 0.0
    reach = np.hypot(*(lugs_m[:, :2] - centre).T)
    _refuse_short(lift, sling, length_m, float(reach.max()))
    if not adjusted:
        return np.full(len(lugs_m), length_m)
    return np.asarray(np.hypot(reach, np.sqrt(length_m**2 - reach.max() ** 2)))


def _below_beam_m(lift: Lift, sling: Sling, beam: LiftingBeam, length_m: float) -> FloatArray:
    """Length of each sling between lifting points and beam, shape (n,). [m]"""
    choice = lift.rigging
    if choice.sling_legs not in (2, 4):
        raise InputError.of(f"lift {lift.id}: sling_legs", choice.sling_legs, "2 or 4 with a beam")
    along = (choice.point_spacing_x_m - beam.span_m) / 2
    across = choice.point_spacing_y_m / 2 if choice.sling_legs == 4 else 0.0
    _refuse_short(lift, sling, length_m, float(np.hypot(along, across)))
    return np.full(choice.sling_legs, length_m)


def _hook_over_beam_m(lift: Lift, beam: LiftingBeam, top: Sling | None, hung_t: float) -> tuple[float, float]:
    """How high the hook stands above the beam, and how far along it from its middle. [m]"""
    choice, offset = lift.rigging, 0.0
    if choice.leg_lengths == "adjusted":
        # the verticals at the beam's ends, and the hook over their common centre
        end_2 = 0.5 + lift.load.cg_x_m / choice.point_spacing_x_m
        centre = beam.span_m * (hung_t * end_2 + beam.mass_t / 2) / (hung_t + beam.mass_t)
        offset = centre - beam.span_m / 2
    if top is None:
        return 0.0, offset
    reach = beam.span_m / 2 + abs(offset)
    _refuse_short(lift, top, top.length_m, reach)
    return float(np.sqrt(top.length_m**2 - reach**2)), offset


def gear_of(lift: Lift, accessories: Accessories) -> Gear:
    """Accessories of a lift with their geometry.

    Raises: Slings too short for what they have to span; a beam with 1 or 3 legs; a choke hitch
      without the length of its leg.
    """
    choice, count = lift.rigging, lift.rigging.sling_legs
    slings = {s.id: s for s in accessories.slings}
    sling = slings[choice.sling]
    shackle = {s.id: s for s in accessories.shackles}.get(choice.shackle or "")
    beam = {b.id: b for b in accessories.beams}.get(choice.beam or "")
    spread = beam is not None and beam.kind == "spreader"
    top = slings[choice.top_sling or choice.sling] if spread else None
    lugs, length = _lugs(lift), _leg_length_m(lift, sling)
    mass = sling.mass_t * count + choice.extra_mass_t + (2 * top.mass_t if top else 0.0)
    mass += shackle.mass_t * (count + (2 if top else 0)) if shackle else 0.0
    load, added = lift.load.mass_t, lift.load.contingency_percent / 100
    hung = float(with_contingency_t(load, added)) + mass
    if beam is None:
        lengths = _leg_lengths_m(lift, sling, lugs, length)
        above = offset = 0.0
    else:
        lengths = _below_beam_m(lift, sling, beam, length)
        above, offset = _hook_over_beam_m(lift, beam, top, hung)
    return Gear(lift=lift, sling=sling, top_sling=top, shackle=shackle, beam=beam, lugs_m=lugs,
                leg_length_m=length, leg_lengths_m=lengths, hook_above_beam_m=above,
                hook_offset_m=offset, mass_t=mass + (beam.mass_t if beam else 0.0),
                hung_t=hung)  # fmt: skip
