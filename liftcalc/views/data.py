"""Plain data that the drawings take: frozen records of numbers, no facts and no formulas.

Site coordinates are easting and northing in metres, machine coordinates x forward and y left
from the slew centre; forces in kN with compression positive, masses in t, angles in degrees.
Legs and everything that belongs to a leg run FL, FR, RR, RL.

Contents: :class:`SiteShape`, :class:`MachineDrawing`, :class:`PlanData`,
:class:`ElevationBox`, :class:`ElevationData`, :class:`CapacityData`, :class:`WorkingAreaData`,
:class:`LocusData`, :class:`ForceData`, :class:`Curve`, :class:`UtilisationData`,
:class:`SensitivityBar`, :class:`SensitivityData`. No method and no published source: records.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import FloatArray

__all__ = [
    "LEG_ORDER",
    "CapacityData",
    "Curve",
    "ElevationBox",
    "ElevationData",
    "ForceData",
    "LocusData",
    "MachineDrawing",
    "PlanData",
    "SensitivityBar",
    "SensitivityData",
    "ShapeKind",
    "SiteShape",
    "UtilisationData",
    "WorkingAreaData",
]

LEG_ORDER = ("FL", "FR", "RR", "RL")
ShapeKind = Literal[
    "boundary",
    "ground",
    "obstacle",
    "excavation",
    "service",
    "wall",
    "slope",
    "power line",
    "stand area",
    "no-overfly",
    "people exclusion",
]


@dataclass(frozen=True)
class SiteShape:
    """One surveyed thing in plan."""

    name: str
    kind: ShapeKind
    xy_m: FloatArray
    closed: bool = True
    note: str = ""
    width_m: float = 0.0
    """Width of a service, or distance kept from a line. [m]"""


@dataclass(frozen=True)
class MachineDrawing:
    """The machine in its own frame, as drawn in plan."""

    carrier_xy_m: FloatArray
    leg_root_xy_m: FloatArray
    leg_xy_m: FloatArray
    extension_m: FloatArray
    base_xy_m: FloatArray
    """Corners of the base polygon, anticlockwise."""
    tail_radius_m: float
    boom_width_m: float = 0.8
    reaction_kN: FloatArray | None = None
    mat_xy_m: tuple[FloatArray, ...] = ()
    mat_text: str = ""
    governing_edge: int | None = None
    """Index of the base polygon's edge (from corner i to i + 1) that governs stability."""
    name: str = ""


@dataclass(frozen=True)
class PlanData:
    """Plan of site, machine and lift."""

    machine: MachineDrawing
    easting_m: float
    northing_m: float
    heading_deg: float
    slew_deg: float
    radius_m: float
    shapes: tuple[SiteShape, ...] = ()
    path_xy_m: FloatArray | None = None
    """Way of the hook from pick to set-down, site frame (n, 2)."""
    load_xy_m: tuple[FloatArray, ...] = ()
    """Outline of the load at pick and at set-down, site frame."""
    reach_m: float = 0.0
    """Greatest radius of the boom at this length."""
    title: str = "Plan"


@dataclass(frozen=True)
class ElevationBox:
    """Something cut by or near the plane of the boom."""

    name: str
    u_min_m: float
    u_max_m: float
    z_min_m: float
    z_max_m: float


@dataclass(frozen=True)
class ElevationData:
    """The plane of the boom: u from the slew axis toward the load, z above the stand level."""

    foot_u_m: float
    foot_z_m: float
    head_u_m: float
    head_z_m: float
    sheave_u_m: float
    sheave_z_m: float
    boom_length_m: float
    boom_angle_deg: float
    boom_depth_m: float
    tail_radius_m: float
    superstructure_z_m: tuple[float, float]
    carrier_half_length_m: float
    carrier_height_m: float
    leg_u_m: FloatArray
    hook_z_m: float
    block_height_m: float
    load_base_m: float
    load_height_m: float
    load_width_m: float
    sling_half_spread_m: float
    hook_highest_m: float
    ground_uz_m: FloatArray
    """Ground along the plane, (n, 2)."""
    boxes: tuple[ElevationBox, ...] = ()
    lines: tuple[tuple[str, float, float, float], ...] = ()
    """Overhead lines cut by the plane: name, u, z, distance to keep. [m]"""
    bent_uz_m: FloatArray | None = None
    """Axis of the bent boom, (n, 2), an estimate."""
    level_m: float | None = None
    """Level of z = 0 above the site datum, if known. [m]"""
    beam_half_z_m: tuple[float, float] | None = None
    """Half length of a beam under the hook, and its height. [m]"""
    title: str = "Elevation in the plane of the boom"


@dataclass(frozen=True)
class CapacityData:
    """Capacity at one radius and boom length, for every slew."""

    slew_deg: FloatArray
    capacity_t: FloatArray
    """NaN where there is none."""
    source: NDArray[np.int64]
    """Index into ``sources`` of what governs at each slew."""
    sources: tuple[str, ...]
    """Words for the key, for example "governed by the chart of this base"."""
    gross_load_t: float
    radius_m: float
    boom_length_m: float
    leg_angle_deg: FloatArray | None = None
    path_slew_deg: FloatArray | None = None
    at_slew_deg: float | None = None
    estimates: frozenset[int] = frozenset()
    """Sources that are no capacity data: their values are drawn apart and never as capacity."""
    title: str = "Capacity around the slew circle"


@dataclass(frozen=True)
class WorkingAreaData:
    """Where a given load may be taken: rings in the site frame."""

    plan: PlanData
    load_t: float
    within: tuple[tuple[FloatArray, tuple[FloatArray, ...]], ...]
    """Areas with capacity and no condition: outer ring and holes."""
    on_condition: tuple[tuple[FloatArray, tuple[FloatArray, ...]], ...] = ()
    """The same and what holds only on condition that the manufacturer confirms the layout."""
    no_data: tuple[tuple[FloatArray, tuple[FloatArray, ...]], ...] = ()
    """Areas with no capacity data, only an estimate."""
    barred: tuple[tuple[FloatArray, tuple[FloatArray, ...]], ...] = ()
    """Within reach, but under or beyond an overhead line or over a zone with no load above."""
    title: str = "Area within rated capacity (clearances not checked)"


@dataclass(frozen=True)
class LocusData:
    """Way of the resultant of all weights on the base during the lift, machine frame."""

    base_xy_m: FloatArray
    resultant_xy_m: FloatArray
    station: FloatArray
    worst: int
    contours: tuple[tuple[str, FloatArray], ...] = ()
    """Lines of equal margin inside the base: name and ring."""
    leg_xy_m: FloatArray | None = None
    empty_xy_m: FloatArray | None = None
    """Resultant without load, if wanted."""
    title: str = "Resultant of all weights on the base"


@dataclass(frozen=True)
class ForceData:
    """Force on each leg at every slew, (n, 4)."""

    slew_deg: FloatArray
    reaction_kN: FloatArray
    path_slew_deg: tuple[float, float] | None = None
    at_slew_deg: float | None = None
    limit_kN: float | None = None
    title: str = "Leg force by slew angle"


@dataclass(frozen=True)
class Curve:
    """One curve of a diagram: NaN is a gap."""

    name: str
    value: FloatArray


@dataclass(frozen=True)
class UtilisationData:
    """Utilisation of each check along the path (1 = at the limit)."""

    station: FloatArray
    curves: tuple[Curve, ...]
    station_label: str = "Way along the path"
    station_quantity: str = "length_m"
    marks: tuple[tuple[float, str], ...] = field(default=())
    """Named places on the path: station and name."""
    limit: float = 1.0
    title: str = "Utilisation along the path"


@dataclass(frozen=True)
class SensitivityBar:
    """Result at the low and the high value of one input."""

    name: str
    low: float
    high: float
    low_text: str
    high_text: str


@dataclass(frozen=True)
class SensitivityData:
    """How far the result moves with each input, one at a time."""

    bars: tuple[SensitivityBar, ...]
    base: float
    result_label: str = "Utilisation"
    limit: float | None = 1.0
    title: str = "What moves the result"
