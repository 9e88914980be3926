"""Where a machine may stand: allowed ground, and what blocks carrier, legs and mats.

Rules
-----
A mat must lie wholly on allowed ground and off everything that ``blocks`` mats, each spread by
its own distance (stand-off of a service, set-back of an edge). The carrier's plan likewise, for
what blocks the carrier. A leg beam cannot pass through what is ``solid``: nothing solid may lie
between the carrier's centre line and the outer edge of the mat, over the mat's length. Touching
within 1 mm counts as blocked.

Plan coordinates are easting and northing in metres; the machine frame is x forward, y left.
Sources: plane geometry.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity

from liftcalc.base.errors import InputError, Problem, field_problems
from liftcalc.crane.legs import LEG_NAMES

Blocks = Literal["mats", "carrier"]

_QUARTER = 16  # chords for a quarter turn


def around(geometry: BaseGeometry, distance_m: float) -> BaseGeometry:
    """Everything nearer to a geometry than a distance, as an area that errs outward.

    Arcs are drawn by chords outside the true arc (at most 0.3 % of the distance). [m]


    Parameters:
      geometry: shapely geometry. In the site frame.
      distance_m: Nothing is added at 0 or below. [m]
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
      name: str
      geometry: shapely geometry. Plan area or line. [m]
      clear_m: >= 0. Stand-off or set-back to keep from it; half the width of a line counts in here.
        [m]
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
            problems.append(
                Problem(f"clear_m of {self.name}", self.clear_m, "above 0 for a line or a point")
            )
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
      allowed: shapely polygon or multipolygon. Where mats and carrier may stand (boundary, stand
        areas).
      blockers: sequence of Blocker
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
      carrier_m: (front_x, rear_x, half_width). Carrier in the machine frame; rear_x below front_x.
        [m]
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
            problems.append(
                Problem("carrier_m", self.carrier_m, "front above rear, half width above 0")
            )
        if len(self.leg_x_m) != 4 or not np.isfinite(self.leg_x_m).all():
            problems.append(Problem("leg_x_m", self.leg_x_m, "four numbers"))
        if len(self.extension_options_m) != 4:
            problems.append(Problem("extension_options_m", self.extension_options_m, "four series"))
        for leg, options in zip(LEG_NAMES, self.extension_options_m, strict=False):
            values = np.asarray(options, dtype=float)
            if values.size == 0 or not (np.all(values > 0) and np.all(np.diff(values) > 0)):
                problems.append(
                    Problem(f"extension_options_m of {leg}", options, "rising values above 0")
                )
            elif values.size > 120:
                problems.append(
                    Problem(f"extension_options_m of {leg}", values.size, "120 values at most")
                )
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
