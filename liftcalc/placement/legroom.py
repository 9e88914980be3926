"""What each leg may do at one stand: allowed extensions, the longest, and what blocks more.

Method: in the leg's own frame the mat slides sideways. Cut to the strip over the mat's length,
each connected piece of what blocks covers an interval of sideways positions, and the mat is
blocked exactly while it overlaps that interval. What is solid blocks everything beyond its near
side, for the leg beam must pass. Exact (shapely) up to the chords that stand for arcs.

Sources: plane geometry. Rules as in :mod:`liftcalc.placement.ground`.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from liftcalc.base.errors import InputError, require_finite
from liftcalc.crane.legs import LEG_NAMES, LEG_SIDE
from liftcalc.placement.ground import Blocker, StandingGround, StandingMachine, polygons

TOUCH_M = 1e-3
"""Nearer than this counts as touching, and touching counts as blocked. [m]"""


@dataclass(frozen=True)
class LegRoom:
    """Allowed extensions of one leg.

    Attributes:
      leg: str
      ranges_m: tuple of (from, to). Allowed extensions within the stroke, rising. [m]
      longest_m: float or None. Longest allowed extension; None when the leg finds no place. [m]
      longest_option_m: float or None. Longest of the leg's stated options that is allowed. [m]
      blocked_by: tuple of str. What blocks the leg just beyond *longest_m* (at its stroke when
        there is no place at all); empty when the full stroke is free.
    """

    leg: str
    ranges_m: tuple[tuple[float, float], ...]
    longest_m: float | None
    longest_option_m: float | None
    blocked_by: tuple[str, ...]


@dataclass(frozen=True)
class LegRanges:
    """Four leg rooms (FL, FR, RR, RL), and whether the carrier itself has room."""

    legs: tuple[LegRoom, LegRoom, LegRoom, LegRoom]
    carrier_blocked_by: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether the carrier and all four legs find a place."""
        return not self.carrier_blocked_by and all(
            leg.longest_option_m is not None for leg in self.legs
        )

    @property
    def extension_m(self) -> tuple[float, ...] | None:
        """Longest allowed option of each leg, or None when something does not fit."""
        if not self.fits:
            return None
        return tuple(float(leg.longest_option_m or 0.0) for leg in self.legs)


def leg_ranges(
    ground: StandingGround,
    machine: StandingMachine,
    *,
    easting_m: float,
    northing_m: float,
    heading_deg: float,
) -> LegRanges:
    """Longest extension of each leg, with its mat, at one stand point and heading.

    Parameters:
      ground: StandingGround
      machine: StandingMachine
      easting_m, northing_m: Slew centre. [m]
      heading_deg: Heading of the machine's +x, anticlockwise from east. [deg]
    Returns: LegRanges
    Raises: A coordinate or heading that is not finite.
    """
    east = float(require_finite("easting_m", easting_m))
    north = float(require_finite("northing_m", northing_m))
    heading = float(require_finite("heading_deg", heading_deg))
    front, rear, half = machine.carrier_m
    reach = max(max(o) for o in machine.extension_options_m) + machine.mat_width_m + 1.0
    length = max(front, *machine.leg_x_m) - min(rear, *machine.leg_x_m) + machine.mat_length_m + 2
    if not reach < 1e4:
        raise InputError.of("extension_options_m", reach, "an outrigger shorter than 10 km")
    window = shapely.box(-length, -reach, length, reach)
    turn = -heading

    def local(geometry: BaseGeometry) -> BaseGeometry:
        moved = affinity.translate(geometry, -east, -north)
        return affinity.rotate(moved, turn, origin=(0.0, 0.0)).intersection(window)

    named = [(b, local(b.area)) for b in ground.blockers]
    named = [(b, g) for b, g in named if not g.is_empty]
    outside = window.difference(local(ground.allowed))

    carrier = shapely.box(rear, -half, front, half).buffer(TOUCH_M, join_style="mitre")
    on_carrier = [b.name for b, g in named if "carrier" in b.blocks and g.intersects(carrier)]
    if outside.intersects(carrier):
        on_carrier.append("edge of the permitted outrigger area")

    a, b, c, d = (_leg_room(i, machine, named, outside, reach) for i in range(4))
    return LegRanges((a, b, c, d), tuple(on_carrier))


def _leg_room(
    i: int, machine: StandingMachine, named: list[tuple[Blocker, BaseGeometry]],
    outside: BaseGeometry, reach: float,
) -> LegRoom:  # fmt: skip
    x, side = machine.leg_x_m[i], LEG_SIDE[i]
    dx, dy = machine.mat_length_m / 2 + TOUCH_M, machine.mat_width_m / 2 + TOUCH_M
    strip = shapely.box(x - dx, -reach, x + dx, reach)
    intervals: list[tuple[float, float, str]] = []
    kept = [(b.name, b.solid, g) for b, g in named if b.solid or "mats" in b.blocks]
    for name, solid, geometry in (*kept, ("edge of the permitted outrigger area", False, outside)):
        for piece in polygons(geometry.intersection(strip)):
            low, high = piece.bounds[1], piece.bounds[3]
            a, b = (low, high) if side > 0 else (-high, -low)
            if not solid or b > 0:
                intervals.append((a - dy, np.inf if solid else b + dy, name))

    options = machine.extension_options_m[i]
    least, most = float(options[0]), float(options[-1])
    free: list[tuple[float, float]] = []
    at = least
    for low, high, _ in sorted(intervals):
        if high <= at:
            continue
        if low >= most:
            break
        if low > at:
            free.append((at, float(low)))
        at = max(at, float(high))
    if at < most or (at == most and not any(lo < most < hi for lo, hi, _ in intervals)):
        free.append((at, most))
    longest = free[-1][1] if free else None
    fitting = [float(o) for o in options if any(lo <= o <= hi for lo, hi in free)]
    just_beyond = least if longest is None else longest + 1e-6
    blocked: tuple[str, ...] = ()
    if longest is None or longest < most:
        blocked = tuple(sorted({n for lo, hi, n in intervals if lo < just_beyond < hi}))
    return LegRoom(
        leg=LEG_NAMES[i], ranges_m=tuple(free), longest_m=longest,
        longest_option_m=fitting[-1] if fitting else None, blocked_by=blocked,
    )  # fmt: skip
