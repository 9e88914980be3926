"""Dynamics: edges, invariants, and the swings against scipy's integrator."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from liftcalc.base.errors import InputError
from liftcalc.base.units import G_M_S2
from liftcalc.dynamics.gross import gross_load_t
from liftcalc.dynamics.hoisting import HOIST_CLASSES, hoist_factor, refuse_snatch, slewing_effect


def _swing(change: float, rope: float, time: float) -> tuple[float, float]:
    """Peak angle overall and after the change, by integrating the full pendulum [deg]."""
    a = change / time

    def push(t: float, y: Any) -> list[float]:
        base = a if t < time else 0.0
        return [y[1], -(G_M_S2 * math.sin(y[0]) + base * math.cos(y[0])) / rope]

    period = 2.0 * math.pi * math.sqrt(rope / G_M_S2)
    first = solve_ivp(push, (0, time), [0, 0], rtol=1e-9, atol=1e-12, max_step=time / 200)
    after = solve_ivp(push, (time, time + 2 * period), first.y[:, -1], rtol=1e-9, atol=1e-12, max_step=period / 400)
    residual = float(np.abs(after.y[0]).max())
    return math.degrees(max(float(np.abs(first.y[0]).max()), residual)), math.degrees(residual)


@pytest.mark.parametrize(("speed", "radius", "rope"), [(0.5, 8, 10), (1.5, 12, 30), (2.0, 6, 20)])
def test_slewing_equilibrium_equals_scipys_root(speed: float, radius: float, rope: float) -> None:
    w = speed * 2 * math.pi / 60
    root = brentq(lambda a: G_M_S2 * math.tan(a) - w * w * (radius + rope * math.sin(a)), 0, 1.0, xtol=1e-14)
    out = slewing_effect(5.0, radius, slew_speed_rev_min=speed, rope_length_m=rope)
    assert float(out.equilibrium_angle_deg) == pytest.approx(math.degrees(root), rel=1e-9)
    assert float(out.radius_growth_m) == pytest.approx(rope * math.sin(root), rel=1e-9)
    assert float(out.side_load_ratio) == 0.0


@settings(deadline=None)
@given(speed=st.floats(0.05, 1.5), radius=st.floats(3, 25), rope=st.floats(1, 30), time=st.floats(4, 30))
def test_swung_load_is_in_balance_and_hangs_further_out(speed: float, radius: float, rope: float, time: float) -> None:
    out = slewing_effect(2.0, radius, slew_speed_rev_min=speed, rope_length_m=rope, acceleration_time_s=time)
    omega = speed * math.pi / 30.0
    tangent = math.tan(math.radians(float(out.equilibrium_angle_deg)))
    assert G_M_S2 * tangent == pytest.approx(omega**2 * (radius + out.radius_growth_m), rel=1e-9)
    assert tangent >= omega**2 * radius / G_M_S2
    assert float(out.side_load_ratio) == pytest.approx(2.0 * radius * omega / time / G_M_S2)


@settings(deadline=None)
@given(speed=st.floats(0, 1.4), more=st.floats(0.0, 0.1))
@pytest.mark.parametrize("name", list(HOIST_CLASSES))
def test_hoist_factor_never_falls_with_speed(name: Any, speed: float, more: float) -> None:
    slow, fast = hoist_factor([speed, speed + more], name).phi2
    assert 1.0 < slow <= fast


def test_stiffer_class_gives_the_greater_factor() -> None:
    factors = [float(hoist_factor(0.2, name).phi2) for name in HOIST_CLASSES]
    assert factors == sorted(factors)
    assert len(set(factors)) == 4


@settings(deadline=None)
@given(
    load=st.floats(0.1, 500),
    ratio=st.floats(0, 1),
    parts=st.lists(st.floats(0, 20), min_size=4, max_size=4),
    factor=st.floats(1, 2),
)
def test_gross_load_is_the_sum_of_its_items(load: float, ratio: float, parts: list[float], factor: float) -> None:
    out = gross_load_t(
        load,
        contingency_ratio=ratio,
        rigging_t=parts[0],
        hook_block_t=parts[1],
        rope_t=parts[2],
        other_t=parts[3],
        dynamic_factor=factor,
    )
    total = sum(float(mass) for _, mass in out.items())
    assert float(out.static_gross_t) == pytest.approx(total, rel=1e-12)
    assert float(out.dynamic_gross_t) == pytest.approx(total * factor, rel=1e-12)
    assert float(out.contingency_t) == pytest.approx(load * ratio)
    assert out.dynamic_gross_t >= out.static_gross_t >= load


def test_gross_load_over_a_path_broadcasts() -> None:
    out = gross_load_t(10.0, rope_t=np.linspace(0.1, 0.3, 5), dynamic_factor=[[1.0], [1.1]])
    assert out.static_gross_t.shape == out.load_t.shape == (2, 5)
    np.testing.assert_allclose(out.dynamic_gross_t[1], 1.1 * out.static_gross_t[0])


def test_snatch_is_refused_by_name() -> None:
    refuse_snatch(slack_rope_m=0.0)
    with pytest.raises(InputError, match=r"slack_rope_m is 0\.3; allowed: 0 \(a snatch is refused"):
        refuse_snatch(slack_rope_m=[0.0, 0.3])
    with pytest.raises(InputError, match=r"a snatch is refused.*Free the load first"):
        refuse_snatch(load_held_down=True)
    with pytest.raises(InputError, match="slack_rope_m is nan"):
        refuse_snatch(slack_rope_m=math.nan)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: gross_load_t(0.0), "load_t is 0.0; allowed: greater than 0"),
        (lambda: gross_load_t(math.nan), "load_t is nan"),
        (lambda: gross_load_t(5, contingency_ratio=5.0), "contingency_ratio is 5.0"),
        (lambda: gross_load_t(5, dynamic_factor=0.99), "dynamic_factor is 0.99"),
        (lambda: gross_load_t(5, dynamic_factor=math.nan), "dynamic_factor is nan"),
        (lambda: gross_load_t(5, rigging_t=-0.1), "rigging_t is -0.1"),
        (lambda: hoist_factor(1.51, "HC1"), "hoist_speed_m_s is 1.51; allowed: 0 to 1.5"),
        (lambda: hoist_factor(math.nan, "HC1"), "hoist_speed_m_s is nan"),
        (lambda: hoist_factor(0.1, "HC5"), "hoist_class is 'HC5'"),  # type: ignore[arg-type]
        (
            lambda: slewing_effect(5, 10, slew_speed_rev_min=5.0, rope_length_m=40),
            "slew_speed_rev_min is 5.0; allowed: slow enough",
        ),
        (
            lambda: slewing_effect(5, 20, slew_speed_rev_min=2.0, rope_length_m=20, acceleration_time_s=1.0),
            "peak_tangential_angle_deg",
        ),
    ],
)
def test_wrong_input_is_refused_by_name(call: Any, text: str) -> None:
    with pytest.raises(InputError, match=text):
        call()
