"""One sign for a lean in the whole package: positive toward +x (front low) and +y (left low)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.crane.legs import base_polygon
from liftcalc.crane.masses import AdverseTerms, MachineMasses, straight_boom
from liftcalc.crane.stability import tipping_load_t
from liftcalc.ground.level import levelled_state, plane_fit
from liftcalc.reactions.moments import line_moments, resultant

LEGS = np.array([[3.5, 3.0], [3.5, -3.0], [-3.5, -3.0], [-3.5, 3.0]])
BASE = base_polygon(LEGS)
MASSES = MachineMasses(18.0, 0.0, 0.0, 12.0, -1.0, carrier_z_m=1.2, slewing_z_m=2.4)
BOOM = straight_boom(
    [8.0], 24.0, mass_t=6.0, cg_from_foot_m=10.0, foot_u_m=-1.5, foot_z_m=2.0
)  # fmt: skip


@settings(deadline=None)
@given(st.floats(0.05, 1.0), st.floats(0, 360))
def test_every_function_counts_a_lean_toward_the_same_side_positive(percent, toward):
    """The machine leans toward one side: there it tips sooner, the radius grows, legs are low."""
    x = percent / 100 * math.cos(math.radians(toward))
    y = percent / 100 * math.sin(math.radians(toward))
    tilt_x, tilt_y = math.degrees(math.atan(x)), math.degrees(math.atan(y))
    lean = {"tilt_x_deg": tilt_x, "tilt_y_deg": tilt_y}

    low = -(x * LEGS[:, 0] + y * LEGS[:, 1])  # height of each leg on that plane
    plane = plane_fit(low, leg_x_m=LEGS[:, 0], leg_y_m=LEGS[:, 1])
    assert (plane.tilt_x, plane.tilt_y) == pytest.approx((x, y), abs=1e-12)

    on = {"base": BASE, "masses": MASSES, "load_t": 2.0}
    level, leaning = resultant(toward, BOOM, **on), resultant(toward, BOOM, **on, **lean)
    moved = np.array([leaning.x_m - level.x_m, leaning.y_m - level.y_m]).ravel()
    assert moved / np.hypot(*moved) == pytest.approx([x, y] / np.hypot(x, y), abs=1e-3)

    still = np.full(4, 100.0)
    state = levelled_state(
        lambda radius, aside: still,
        lambda force: np.zeros(4),
        leg_x_m=LEGS[:, 0],
        leg_y_m=LEGS[:, 1],
        slew_deg=toward,
        radius_m=8.0,
        head_height_m=24.0,
        limit_percent=1.0,
        setup_tilt_x=x,
        setup_tilt_y=y,
    )
    assert state.radius_growth_m > 0
    assert state.sideways_m == pytest.approx(0.0, abs=1e-12)

    held = {"base": BASE, "masses": MASSES}
    back = AdverseTerms(tilt_x_deg=-tilt_x, tilt_y_deg=-tilt_y)
    forward = tipping_load_t(toward, BOOM, adverse=AdverseTerms(**lean), **held)
    assert forward < tipping_load_t(toward, BOOM, **held)
    assert forward < tipping_load_t(toward, BOOM, adverse=back, **held)


@settings(deadline=None)
@given(st.floats(0.05, 1.0), st.floats(0, 360), st.floats(0, 360))
def test_a_lean_of_unknown_direction_tips_sooner_than_any_known_one(percent, toward, slew):
    held = {"base": BASE, "masses": MASSES}
    size = math.degrees(math.atan(percent / 100))
    unknown = AdverseTerms(tilt_any_deg=size)
    known = AdverseTerms(
        tilt_x_deg=math.degrees(math.atan(percent / 100 * math.cos(math.radians(toward)))),
        tilt_y_deg=math.degrees(math.atan(percent / 100 * math.sin(math.radians(toward)))),
    )
    worst = tipping_load_t(slew, BOOM, adverse=unknown, **held)
    assert worst <= tipping_load_t(slew, BOOM, adverse=known, **held) * (1 + 1e-12)
    # and no lower than the worst of those that lean square to a tipping line
    n = -BASE.normals * percent / 100
    square = [
        tipping_load_t(
            slew,
            BOOM,
            adverse=AdverseTerms(tilt_x_deg=math.degrees(math.atan(nx)), tilt_y_deg=math.degrees(math.atan(ny))),
            **held,
        )
        for nx, ny in n
    ]
    assert worst == pytest.approx(np.min(square), rel=1e-12)
    holding = line_moments(slew, BOOM, adverse=unknown, **held).fixed_moment_kNm
    assert np.all(holding < line_moments(slew, BOOM, **held).fixed_moment_kNm)
