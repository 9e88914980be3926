"""Invented data for the drawings: a machine of about the 50 t class on a tight site."""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.lift.along_path import LimitUse
from liftcalc.lift.boom_plane import BoomPlane, PlaneBox
from liftcalc.views.capacity import CapacityData
from liftcalc.views.forces import ForceData
from liftcalc.views.locus import LocusData
from liftcalc.views.machine import MachineDrawing
from liftcalc.views.plan import PlanData
from liftcalc.views.sensitivity import SensitivityBar, SensitivityData
from liftcalc.views.site_shapes import SiteShape
from liftcalc.views.utilisation import UtilisationData
from liftcalc.views.working_area import WorkingAreaData

LEGS = np.array([[3.6, 3.5], [3.6, -2.2], [-3.8, -2.2], [-3.8, 3.5]])
STAND, HEADING_DEG = np.array([112.0, 208.0]), 12.0


def box(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def on_site(xy_m: np.ndarray) -> np.ndarray:
    """Points of the machine, turned by its heading and moved to its stand."""
    c, s = np.cos(np.radians(HEADING_DEG)), np.sin(np.radians(HEADING_DEG))
    return STAND + np.asarray(xy_m) @ np.array([[c, s], [-s, c]])


def make_machine() -> MachineDrawing:
    mats = tuple(on_site(box(x - 0.75, y - 0.75, x + 0.75, y + 0.75)) for x, y in LEGS)
    return MachineDrawing(
        stand_m=STAND,
        heading_deg=HEADING_DEG,
        carrier_m=on_site(box(-5.4, -1.3, 5.2, 1.3)),
        leg_root_m=on_site(LEGS * np.array([1.0, 0.0])),
        leg_m=on_site(LEGS),
        extension_m=np.abs(LEGS[:, 1]),
        base_m=on_site(LEGS[[0, 3, 2, 1]]),
        tail_radius_m=3.6,
        boom_width_m=0.8,
        reaction_kN=np.array([212.0, 188.0, 96.0, 0.0]),
        mats_m=mats,
        mat_text="1.5 × 1.5 m",
        governing_edge=2,
        name="invented",
    )


def make_shapes() -> tuple[SiteShape, ...]:
    return (
        SiteShape("boundary", "boundary", box(95, 196, 136, 228)),
        SiteShape("Z1 fill", "ground", box(96, 197, 120, 227), note="cu 60 kPa"),
        SiteShape("Z2 sand", "ground", box(120, 197, 135, 227)),
        SiteShape("pump house", "obstacle", box(121, 214, 130, 222), note="top 6.4 m"),
        SiteShape("culvert", "service", np.array([[96, 201.5], [135, 203]]), False, "", 1.2),
        SiteShape("flood wall", "wall", np.array([[96, 224], [119, 224.5]]), False, "2.1 m high"),
        SiteShape("line 11 kV", "power line", np.array([[96, 226], [135, 225]]), False, "", 3.05),
        SiteShape("basin", "excavation", box(98, 213.5, 104, 220), note="3.0 m deep"),
    )


def make_plan() -> PlanData:
    slews = np.radians(np.linspace(-48, 70, 60))
    radii = np.linspace(8.2, 11.4, 60)
    path = on_site(np.column_stack([radii * np.cos(slews), radii * np.sin(slews)]))
    loads = tuple(box(x - 1.1, y - 0.8, x + 1.1, y + 0.8) for x, y in path[[0, -1]])
    return PlanData(
        machine=make_machine(),
        slew_deg=-48.0,
        radius_m=8.2,
        shapes=make_shapes(),
        path_m=path,
        loads_m=loads,
        title="Plan, lift 3",
    )


def make_elevation() -> BoomPlane:
    a = np.radians(62.0)
    foot, length = np.array([-1.2, 2.1]), 24.0
    head = foot + length * np.array([np.cos(a), np.sin(a)])
    sheave = head + 0.4 * np.array([np.sin(a), -np.cos(a)])
    t = np.linspace(0, 1, 20)[:, None]
    bent = foot + t * (head - foot) + 0.42 * t**2 * (3 - t) / 2 * np.array([np.sin(a), -np.cos(a)])
    return BoomPlane(
        foot_m=foot,
        head_m=head,
        sheave_m=sheave,
        boom_length_m=length,
        boom_angle_deg=62.0,
        boom_depth_m=0.9,
        tail_radius_m=3.6,
        superstructure_z_m=(1.4, 3.0),
        carrier_half_length_m=5.2,
        carrier_height_m=1.5,
        leg_u_m=np.array([3.4, -3.7]),
        hook_z_m=13.2,
        block_height_m=1.4,
        load_base_m=7.5,
        load_height_m=2.2,
        load_width_m=2.4,
        sling_half_spread_m=0.9,
        hook_highest_m=float(sheave[1]) - 2.6,
        ground_uz_m=np.array([[-20.0, 0.1], [4.5, 0.0], [6.0, -0.6], [30.0, -0.8]]),
        boxes=(PlaneBox("flood wall", 8.2, 8.7, -0.7, 4.2), PlaneBox("pump house", 12.6, 18.0, -0.8, 6.4)),
        lines=(("line 11 kV", 19.5, 9.0, 3.05),),
        bent_uz_m=bent,
    )


def make_capacity() -> CapacityData:
    slew = np.arange(360.0)
    a = np.radians(slew)
    capacity = 9.5 + 4.0 * np.cos(a - 1.4) + 1.5 * np.cos(2 * a)
    source = np.where(capacity > 11.0, 0, np.where(capacity > 7.0, 1, 2)).astype(np.int64)
    capacity[200:215] = np.nan
    source[200:215] = 3
    return CapacityData(
        slew_deg=slew,
        capacity_t=capacity,
        source=source,
        sources=(
            "governed by the chart of this base",
            "governed by a chart carried over",
            "governed by a smaller-base chart",
            "no capacity data",
        ),
        gross_load_t=6.2,
        radius_m=11.4,
        boom_length_m=24.0,
        leg_angle_deg=np.degrees(np.arctan2(LEGS[:, 1], LEGS[:, 0])),
        path_slew_deg=np.linspace(-48, 70, 60),
        at_slew_deg=-48.0,
    )


def make_area() -> WorkingAreaData:
    a = np.radians(np.linspace(0, 360, 120, endpoint=False))
    reach = 12.0 + 3.0 * np.cos(a - 1.4)
    outer = on_site(np.column_stack([reach * np.cos(a), reach * np.sin(a)]))
    inner = on_site(np.column_stack([3.0 * np.cos(a), 3.0 * np.sin(a)]))
    far = on_site(np.column_stack([(reach + 2) * np.cos(a), (reach + 2) * np.sin(a)]))
    return WorkingAreaData(plan=make_plan(), load_t=2.0, within=((outer, (inner,)),), no_data=((far, (outer,)),))


def make_locus() -> LocusData:
    t = np.linspace(0, 1, 80)
    slews = np.radians(-48 + 118 * t)
    reach = 1.0 + 0.7 * t + 0.3 * np.sin(6 * t)
    way = np.column_stack([0.3 + reach * np.cos(slews), reach * np.sin(slews)])
    rings = []
    for share in (0.85, 0.7):
        centre = LEGS.mean(axis=0)
        rings.append((f"{share:.0%}", (centre + share * (LEGS - centre))[[0, 3, 2, 1]]))
    return LocusData(base_m=LEGS[[0, 3, 2, 1]], resultant_m=way, worst=0, contours=tuple(rings), leg_m=LEGS)


def make_forces() -> ForceData:
    slew = np.arange(0.0, 361.0)
    a = np.radians(slew)[:, None]
    legs = np.degrees(np.arctan2(LEGS[:, 1], LEGS[:, 0]))
    force = np.clip(120.0 + 150.0 * np.cos(a - np.radians(legs)), 0.0, None)
    return ForceData(slew_deg=slew, reaction_kN=force, path_slew_deg=(20.0, 138.0), at_slew_deg=20.0, limit_kN=360.0)


def make_utilisation() -> UtilisationData:
    s = np.linspace(0.0, 18.4, 200)
    return UtilisationData(
        way_m=s,
        curves=(
            LimitUse("rated capacity", 0.62 + 0.42 * np.exp(-((s - 11) ** 2) / 12)),
            LimitUse("leg force", 0.5 + 0.02 * s),
            LimitUse("ground pressure", 0.72 + 0.1 * np.sin(s / 3)),
            LimitUse("headroom", np.where(s < 14, 0.4 + 0.01 * s, np.nan)),
        ),
        stages=((0.0, "pick"), (3.0, "carry level"), (15.2, "over set-down"), (18.4, "set")),
    )


def make_sensitivity() -> SensitivityData:
    return SensitivityData(
        bars=(
            SensitivityBar("load mass", 0.78, 0.95, "-5 %", "+10 %"),
            SensitivityBar("radius", 0.82, 0.91, "-0.2 m", "+0.2 m"),
            SensitivityBar("leg extension FR", 0.88, 0.85, "2.15 m", "2.25 m"),
            SensitivityBar("wind", 0.86, 0.89, "0 m/s", "9 m/s"),
            SensitivityBar("ground stiffness", 0.86, 0.86, "half", "double"),
        ),
        base=0.86,
    )


@pytest.fixture
def machine() -> MachineDrawing:
    return make_machine()


@pytest.fixture
def plan() -> PlanData:
    return make_plan()


@pytest.fixture
def elevation() -> BoomPlane:
    return make_elevation()


@pytest.fixture
def capacity() -> CapacityData:
    return make_capacity()


@pytest.fixture
def area() -> WorkingAreaData:
    return make_area()


@pytest.fixture
def locus() -> LocusData:
    return make_locus()


@pytest.fixture
def forces() -> ForceData:
    return make_forces()


@pytest.fixture
def utilisation() -> UtilisationData:
    return make_utilisation()


@pytest.fixture
def sensitivity() -> SensitivityData:
    return make_sensitivity()
