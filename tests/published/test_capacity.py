"""Base, chart and carrying-over rows worked with shapely and scipy; facts of the trade."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from liftcalc.crane.capacity import capacity_by_slew
from liftcalc.crane.chart import ChartTable, rated_capacity_t
from liftcalc.crane.legs import base_polygon
from liftcalc.crane.masses import BoomState, MachineMasses, straight_boom
from liftcalc.crane.sectors import SOURCES
from liftcalc.crane.stability import rule_test_load_t, stability_capacity_t
from liftcalc.reactions.moments import resultant

CASE_DIR = Path(__file__).parent / "cases"


def rows(name: str) -> list:
    cases = [json.loads(line) for line in (CASE_DIR / name).read_text().splitlines()]
    return [pytest.param(case, id=case["id"]) for case in cases]


@pytest.mark.parametrize("case", rows("legs.jsonl"))
def test_base_row(case: dict) -> None:
    given, expected = case["inputs"], case["expected"]
    base = base_polygon(np.column_stack([given["leg_x_m"], given["leg_y_m"]]))
    assert base.area_m2 == pytest.approx(expected["area_m2"], rel=case["rel_tol"])
    assert len(base.edge_legs) == expected["corner_count"]
    margin = (np.array(given["points_m"]) @ base.normals.T - base.offsets_m).min(axis=-1)
    assert margin == pytest.approx(expected["margin_m"], rel=case["rel_tol"])


@pytest.mark.parametrize("case", rows("chart.jsonl"))
def test_chart_row(case: dict) -> None:
    given, expected = case["inputs"], case["expected"]
    table = ChartTable(
        "made-up",
        np.array(given["boom_length_m"]),
        np.array(given["radius_m"]),
        np.array(given["capacity_t"]),
        base_polygon([[3, 3], [3, -3], [-3, -3], [-3, 3]]),
    )
    for way, name in (("linear", "linear_t"), ("none", "unsafe_side_t")):
        value = rated_capacity_t(table, given["at_boom_length_m"], radius_m=given["at_radius_m"], interpolation=way)
        assert value == pytest.approx(expected[name], rel=case["rel_tol"])


@pytest.mark.parametrize("case", rows("capacity.jsonl"))
def test_carry_over_row(case: dict) -> None:
    given, expected = case["inputs"], case["expected"]
    actual = base_polygon(np.column_stack([given["leg_x_m"], given["leg_y_m"]]))
    own = base_polygon(np.column_stack([given["leg_x_m"], given["chart_leg_y_m"]]))
    masses = MachineMasses(
        given["carrier_mass_t"],
        given["carrier_cg_x_m"],
        given["carrier_cg_y_m"],
        given["superstructure_mass_t"],
        given["superstructure_cg_radius_m"],
    )
    radius, length = given["load_radius_m"], given["boom_length_m"]
    boom = straight_boom(
        [radius],
        length,
        mass_t=given["boom_mass_t"],
        cg_from_foot_m=given["boom_cg_from_foot_m"],
        foot_u_m=given["boom_foot_radius_m"],
    )
    rated = given["chart_capacity_t"]
    chart = ChartTable("made-up", [length], [radius], [[rated]], own, counterweight="cw", rule="test_load")
    load = rule_test_load_t(rated, boom.head_mass_t, rule="test_load")
    assert load == pytest.approx(expected["test_load_t"], rel=1e-9)
    at = resultant(given["slew_deg"], boom, base=actual, masses=masses, load_t=load)
    assert at.x_m[0, 0] == pytest.approx(expected["resultant_x_m"], abs=1e-8)
    assert at.y_m[0, 0] == pytest.approx(expected["resultant_y_m"], abs=1e-8)
    assert at.margin_m[0, 0] == pytest.approx(expected["margin_m"], abs=1e-8)
    result = capacity_by_slew(
        given["slew_deg"],
        [radius],
        boom_length_m=length,
        base=actual,
        charts=[chart],
        counterweight="cw",
        masses=masses,
        boom=boom,
    )
    assert bool(result.has_capacity_data[0, 0]) is expected["carries_over"]
    if expected["carries_over"]:
        assert result.capacity_t[0, 0] == rated
        assert result.margin_m[0, 0] == pytest.approx(expected["margin_m"], abs=1e-8)
        assert result.required_margin_m[0, 0] == pytest.approx(expected["required_margin_m"], abs=1e-8)
    else:
        assert SOURCES[result.source[0, 0]] == "estimate only"


# Facts of the trade: common practice, no published source.
FACTS = {case["id"]: case for case in map(json.loads, (CASE_DIR / "trade_facts.jsonl").read_text().splitlines())}
# Assumptions from memory for a machine of about the 45 t class, all stated here:
TOTAL_MASS_T = 48.0  # whole machine with counterweight
REARWARD_MOMENT_TM = 40.0  # superstructure and counterweight behind the slew centre
FULL_HALF_WIDTH_M = 3.15  # both sides fully out, 6.3 m wide
LEG_X_M = (3.4, 3.4, -3.6, -3.6)
IN_HALF_WIDTH_M = 1.25  # one side fully in
CARRIER_X_M = 0.0
BOOM_MASS_T = 9.0
SLEWING_MASS_T = 15.0


def trade_base(left: float, right: float):
    return base_polygon(np.column_stack([LEG_X_M, [left, -right, -right, left]]))


def trade_boom(radius: float, slope_t: float, moment_tm: float) -> BoomState:
    """Boom term of the fit: moment of the boom about the slew centre = moment + slope * radius.

    The boom's mass is part of the total mass; F is the slope (boom mass reduced to the head).
    """
    r = np.array([radius])
    unknown = np.full(1, np.nan)
    lever = (moment_tm + slope_t * r) / BOOM_MASS_T
    return BoomState(r, BOOM_MASS_T, lever, slope_t, unknown, unknown, unknown)


def trade_masses() -> MachineMasses:
    return MachineMasses(
        carrier_mass_t=TOTAL_MASS_T - BOOM_MASS_T - SLEWING_MASS_T,
        carrier_x_m=CARRIER_X_M,
        carrier_y_m=0.0,
        slewing_mass_t=SLEWING_MASS_T,
        slewing_u_m=-REARWARD_MOMENT_TM / SLEWING_MASS_T,
    )


def trade_capacity(radius: float, slew: float, base, fit: tuple[float, float]) -> float:
    return float(stability_capacity_t(slew, trade_boom(radius, *fit), base=base, masses=trade_masses())[0, 0])


def trade_reach(slew: float, base, fit: tuple[float, float]) -> float:
    """Radius at which the stability capacity is the 2 t of the facts."""
    load = FACTS["trade-01"]["inputs"]["hook_load_t"]
    return float(brentq(lambda r: trade_capacity(r, slew, base, fit) - load, 8.0, 80.0))


@pytest.fixture(scope="module")
def trade_fit() -> tuple[float, float]:
    """Boom term fitted on the half base and the full base, the boom square over the side.

    (1.25 P + 0.1 F)(r - y) + (a + F r) = W y + M, with F the slope: two equations, two unknowns.
    """
    load = FACTS["trade-01"]["inputs"]["hook_load_t"]
    half = FACTS["trade-01"]["inputs"]["support_width_m"] / 2
    points = [
        (half, FACTS["trade-01"]["expected"]["radius_m"]),
        (FULL_HALF_WIDTH_M, FACTS["trade-02"]["expected"]["radius_m"]),
    ]
    matrix = [[0.1 * (r - y) + r, 1.0] for y, r in points]
    right = [TOTAL_MASS_T * y + REARWARD_MOMENT_TM - 1.25 * load * (r - y) for y, r in points]
    slope, moment = np.linalg.solve(matrix, right)
    return float(slope), float(moment)


def test_trade_facts_fit_is_a_possible_boom(trade_fit: tuple[float, float]) -> None:
    slope, moment = trade_fit
    assert 1.0 < slope < 5.0  # F of a boom of about 9 t
    for radius in (20.5, 28.0):  # its centre of gravity at a third to a little over half the radius
        assert 0.33 < (moment + slope * radius) / BOOM_MASS_T / radius < 0.6


def test_trade_fact_radii_are_reproduced_and_ordered(trade_fit: tuple[float, float]) -> None:
    half = FACTS["trade-01"]["inputs"]["support_width_m"] / 2
    reach = [
        trade_reach(90.0, trade_base(half, half), trade_fit),
        trade_reach(90.0, trade_base(FULL_HALF_WIDTH_M, FULL_HALF_WIDTH_M), trade_fit),
        trade_reach(90.0, trade_base(FULL_HALF_WIDTH_M, IN_HALF_WIDTH_M), trade_fit),
    ]
    assert reach[0] == pytest.approx(FACTS["trade-01"]["expected"]["radius_m"], rel=1e-9)
    assert reach[1] == pytest.approx(FACTS["trade-02"]["expected"]["radius_m"], rel=1e-9)
    assert reach[2] == reach[1]  # the long side equals the full base exactly
    over_legs = FACTS["trade-04"]["expected"]["radius_m"]
    assert reach[0] < reach[1] < over_legs


def test_trade_fact_long_side_has_the_capacity_of_the_full_base(trade_fit: tuple[float, float]) -> None:
    full = trade_base(FULL_HALF_WIDTH_M, FULL_HALF_WIDTH_M)
    long_side = trade_base(FULL_HALF_WIDTH_M, IN_HALF_WIDTH_M)
    for radius in (12.0, 20.5, 28.0):
        for slew in (60.0, 90.0, 120.0):
            assert trade_capacity(radius, slew, long_side, trade_fit) == trade_capacity(radius, slew, full, trade_fit)
    boom = trade_boom(28.0, *trade_fit)
    chart = ChartTable("full", [40.0], [28.0], [[2.0]], full, counterweight="cw", rule="test_load")
    result = capacity_by_slew(
        [90.0, 270.0],
        [28.0],
        boom_length_m=40.0,
        base=long_side,
        charts=[chart],
        counterweight="cw",
        masses=trade_masses(),
        boom=boom,
    )
    assert SOURCES[result.source[0, 0]] == "chart applied to this base (shown not less stable)"
    assert result.capacity_t[0, 0] == 2.0
    assert SOURCES[result.source[1, 0]] == "estimate only"  # over the side that is in


def test_trade_fact_reach_over_the_legs_is_allowed_by_stability(trade_fit: tuple[float, float]) -> None:
    full = trade_base(FULL_HALF_WIDTH_M, FULL_HALF_WIDTH_M)
    fact = FACTS["trade-04"]
    leg = np.degrees(np.arctan2(*full.leg_xy_m[3, ::-1]))  # rear left leg
    half_range = fact["inputs"]["slew_range_deg"] / 2
    slews = leg + np.linspace(-half_range, half_range, 41)
    reach = min(trade_reach(slew, full, trade_fit) for slew in slews)
    assert reach >= fact["expected"]["radius_m"]
