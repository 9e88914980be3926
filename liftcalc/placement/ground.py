"""Where a machine may stand: allowed ground, what blocks, and what each leg may do at one stand.

Rules
-----
A mat must lie wholly on allowed ground and off everything that ``blocks`` mats, each spread by its own distance
(stand-off of a service, set-back of an edge). The carrier's plan likewise, for what blocks the carrier. A leg beam
cannot pass through what is ``solid``: nothing solid may lie between the carrier's centre line and the outer edge of the
mat, over the mat's length. Touching within 1 mm counts as blocked.

Legs: in the leg's own frame the mat slides sideways. Cut to the strip over the mat's length,
each connected piece of what blocks covers an interval of sideways positions, and the mat is
blocked exactly while it overlaps that interval. What is solid blocks everything beyond its near
side, for the leg beam must pass. Exact (shapely) up to the chords that stand for arcs.

Plan coordinates are easting and northing in metres; the machine frame is x forward, y left.
Sources: plane geometry.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity

from liftcalc.base.errors import InputError, Problem, field_problems, require_finite
from liftcalc.crane.legs import LEG_NAMES, LEG_SIDE

Blocks = Literal["mats", "carrier"]

_QUARTER = 16  # chords for a quarter turn


def around(geometry: BaseGeometry, distance_m: float) -> BaseGeometry:
    """Everything nearer to a geometry than a distance, as an area that errs outward.

    Arcs are drawn by chords outside the true arc (at most 0.3 % of the distance).
    """
    if distance_m <= 0:
        return geometry
    # the library rounds the number of chords in an arc, so one may span 1.5 times its share
    reach = distance_m / np.cos(1.5 * np.pi / (4 * _QUARTER))
    return geometry.buffer(reach, quad_segs=_QUARTER)


@dataclass(frozen=True, eq=False)
class Blocker:
    """Something that keeps the machine, or its mats, off part of the plan.

    Parameters:
      geometry: shapely geometry. Plan area or line. [m]
      clear_m: >= 0. Stand-off or set-back to keep from it; half the width of a line counts in here. [m]
      blocks: tuple of "mats" and "carrier"
      solid: Whether a leg beam cannot pass over it.
    """

    name: str
    geometry: BaseGeometry
    clear_m: float = 0.0
    blocks: tuple[Blocks, ...] = ("mats", "carrier")
    solid: bool = False

    def __post_init__(self) -> None:
        problems: list[Problem] = []
        if not (self.clear_m >= 0 and np.isfinite(self.clear_m)):
            problems.append(Problem(f"clear_m of {self.name}", self.clear_m, "0 or greater"))
        if self.geometry.is_empty:
            problems.append(Problem(f"geometry of {self.name}", "empty", "an area or a line"))
        elif not self.geometry.is_valid:
            why = explain_validity(self.geometry)
            problems.append(Problem(f"geometry of {self.name}", why, "a valid outline"))
        elif self.geometry.area == 0 and not self.clear_m > 0:
            problems.append(Problem(f"clear_m of {self.name}", self.clear_m, "above 0 for a line or a point"))
        if set(self.blocks) - {"mats", "carrier"} or not self.blocks:
            problems.append(Problem(f"blocks of {self.name}", self.blocks, "mats, carrier"))
        if problems:
            raise InputError(problems)

    @property
    def area(self) -> BaseGeometry:
        """The blocked area, its distance included."""
        return around(self.geometry, self.clear_m)


@dataclass(frozen=True, eq=False)
class StandingGround:
    """Allowed ground and what blocks it.

    Parameters:
      allowed: shapely polygon or multipolygon. Where mats and carrier may stand (boundary, stand areas).
    """

    allowed: BaseGeometry
    blockers: tuple[Blocker, ...] = ()

    def __post_init__(self) -> None:
        if self.allowed.is_empty or not self.allowed.is_valid or not self.allowed.area > 0:
            found = "empty" if self.allowed.is_empty else explain_validity(self.allowed)
            raise InputError.of("allowed", found, "a valid area")
        object.__setattr__(self, "blockers", tuple(self.blockers))


@dataclass(frozen=True)
class StandingMachine:
    """Plan of a machine on its legs.

    Parameters:
      carrier_m: (front_x, rear_x, half_width). Carrier in the machine frame; rear_x below front_x. [m]
      leg_x_m: four floats. FL, FR, RR, RL. [m]
      extension_options_m: four tuples of float. Extensions that each leg can take, rising: pinned
        steps, or a fine series. [m]
      mat_length_m, mat_width_m: Mat along and across the machine. [m]
    """

    carrier_m: tuple[float, float, float]
    leg_x_m: tuple[float, float, float, float]
    extension_options_m: tuple[tuple[float, ...], ...]
    mat_length_m: float
    mat_width_m: float

    def __post_init__(self) -> None:
        problems = field_problems(self, positive=("mat_length_m", "mat_width_m"))
        front, rear, half = self.carrier_m
        if not (front > rear and half > 0 and np.isfinite([front, rear, half]).all()):
            problems.append(Problem("carrier_m", self.carrier_m, "front above rear, half width above 0"))
        if len(self.leg_x_m) != 4 or not np.isfinite(self.leg_x_m).all():
            problems.append(Problem("leg_x_m", self.leg_x_m, "four numbers"))
        if len(self.extension_options_m) != 4:
            problems.append(Problem("extension_options_m", self.extension_options_m, "four series"))
        for leg, options in zip(LEG_NAMES, self.extension_options_m, strict=False):
            values = np.asarray(options, dtype=float)
            if values.size == 0 or not (np.all(values > 0) and np.all(np.diff(values) > 0)):
                problems.append(Problem(f"extension_options_m of {leg}", options, "rising values above 0"))
            elif values.size > 120:
                problems.append(Problem(f"extension_options_m of {leg}", values.size, "120 values at most"))
        if problems:
            raise InputError(problems, source="standing machine")


def polygons(geometry: BaseGeometry) -> list[shapely.Polygon]:
    """Polygons of a geometry; parts without area are left out."""
    parts = shapely.get_parts(geometry) if hasattr(geometry, "geoms") else [geometry]
    found: list[shapely.Polygon] = []
    for part in parts:
        if isinstance(part, shapely.Polygon):  # the bounds of an empty one would be NaN
            found += [] if part.is_empty else [part]
        elif hasattr(part, "geoms"):
            found += polygons(part)
    return found


TOUCH_M = 1e-3
"""Nearer than this counts as touching, and touching counts as blocked. [m]"""


@dataclass(frozen=True)
class LegRoom:
    """Allowed extensions of one leg.

    Attributes:
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
        return not self.carrier_blocked_by and all(leg.longest_option_m is not None for leg in self.legs)

    @property
    def extension_m(self) -> tuple[float, ...] | None:
        """Longest allowed option of each leg, or None when something does not fit."""
        if not self.fits:
            return None
        return tuple(float(leg.longest_option_m or 0.0) for leg in self.legs)


def leg_ranges(
    ground: StandingGround, machine: StandingMachine, *, easting_m: float, northing_m: float, heading_deg: float
) -> LegRanges:
    """Longest extension of each leg, with its mat, at one stand point and heading.

    Parameters:
      easting_m, northing_m: Slew centre. [m]
      heading_deg: Heading of the machine's +x, anticlockwise from east. [deg]
    Raises: Outriggers of 10 km or more.
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
    i: int, machine: StandingMachine, named: list[tuple[Blocker, BaseGeometry]], outside: BaseGeometry, reach: float
) -> LegRoom:
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
