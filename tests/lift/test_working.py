"""The working by pocket calculator: every row's numbers, as printed, give its result."""

from __future__ import annotations

import json
import math
import re
from typing import Any

import numpy as np
import pytest

from liftcalc.facts.io import parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.boom_setting import boom_setting, boom_settings
from liftcalc.lift.leg_slews import leg_slew_rows, leg_slew_values, leg_slews
from liftcalc.lift.report import tipping_line_rows
from liftcalc.lift.working_ground import ground_rows, neighbour_rows
from liftcalc.lift.working_legs import reaction_rows
from liftcalc.lift.working_mechanism import mechanism_rows

LIFTS = ["L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8"]


@pytest.fixture(scope="module")
def lifts(demo: Job) -> dict[str, LiftAssessment]:
    return {lift.id: assess_lift(demo, lift.id) for lift in demo.lifts}


def calculator(text: str) -> float | None:
    """What a pocket calculator shows for a printed expression; None where it is not one."""
    for old, new in (("×", "*"), ("−", "-"), ("³", "**3"), ("²", "**2"), ("^", "**"),
                     ("[", "("), ("]", ")"), ("√", "sqrt")):  # fmt: skip
        text = text.replace(old, new)
    text = re.sub(r"(sin|cos|tan) (-?[\d.]+)°", r"\1d(\2)", text)
    text = re.sub(r"([\d.]+) %", r"(\1/100)", text)
    if re.search(r"[^\d\s.+\-*/()eE]", re.sub(r"(sind|cosd|tand|sqrt)\(", "(", text)):
        return None
    names: dict[str, Any] = {
        "sind": lambda a: math.sin(math.radians(a)),
        "cosd": lambda a: math.cos(math.radians(a)),
        "tand": lambda a: math.tan(math.radians(a)),
        "sqrt": math.sqrt,
    }
    try:
        return float(eval(text, {"__builtins__": {}}, names))  # our own printed text
    except (SyntaxError, TypeError):
        return None


def result_of(text: str) -> float:
    """The number a result states."""
    found = re.search(r"-?\d+\.?\d*", text.split("=", 1)[-1])
    assert found, text
    return float(found.group())


def rows_of(a: LiftAssessment) -> list[dict[str, str]]:
    return reaction_rows(a.setup, a.forces) + ground_rows(a.setup, a.ground)


def test_the_calculator_of_this_test_reads_printed_numbers() -> None:
    assert calculator("5.00 × (1 + 10 %) − 0.50") == pytest.approx(5.0)
    assert calculator("2 × sin 30° + 4²") == pytest.approx(17.0)
    assert calculator("16.50 × (-2.291)") == pytest.approx(-37.8015)
    assert calculator("mat timber, 3 kN") is None
    assert calculator("not rated") is None


@pytest.mark.parametrize("lift", LIFTS)
def test_every_printed_expression_gives_its_result(
    lifts: dict[str, LiftAssessment], lift: str
) -> None:
    worked = 0
    for row in rows_of(lifts[lift]):
        shown = calculator(row["numbers"])
        if shown is None:
            continue
        stated = result_of(row["result"])
        if "%" in row["result"]:
            shown *= 100
        if "at most v_chart" in row["formula"]:
            shown = min(shown, lifts[lift].setup.wind_limit_m_s)
        if row["what"].startswith("Boom angle"):
            shown = math.degrees(math.acos(shown))
        # rounding of the printed numbers: the sum of many products of three or four figures
        assert shown == pytest.approx(stated, rel=0.004, abs=0.03), row
        worked += 1
    assert worked >= 13


@pytest.mark.parametrize("lift", LIFTS)
def test_every_row_has_formula_numbers_result_and_source(
    lifts: dict[str, LiftAssessment], lift: str
) -> None:
    for row in rows_of(lifts[lift]):
        assert set(row) == {"what", "formula", "numbers", "result", "source"}
        assert all(row.values()), row


@pytest.mark.parametrize("lift", LIFTS)
def test_the_working_ends_in_the_values_of_the_checks(
    lifts: dict[str, LiftAssessment], lift: str
) -> None:
    a = lifts[lift]
    forces = {r["what"]: r["result"] for r in reaction_rows(a.setup, a.forces)}
    worst = a.setup.machine.legs[int(np.argmax(a.forces.design_kN))].name
    stated = f"R = {a.forces.design_kN.max():.1f} kN"
    assert forces[f"Reaction of {worst}"] == forces[f"Worst leg {worst}"] == stated
    assert a.ground is not None
    for g in a.ground.legs:
        rows = mechanism_rows(a.setup, g, a.ground.mat)
        assert result_of(rows[-1]["result"]) == pytest.approx(g.allowable_kPa, abs=0.051)


def ground_job(demo: Job, layers: list[dict[str, Any]], **rule: Any) -> Job:
    """The demo job with other ground under the first zone of every leg of L1."""
    data = json.loads(demo.model_dump_json())
    for profile in data["site"]["ground"]:
        base = profile["layers"][-1]
        profile["layers"] = [{**base, "cu_kPa": None, "phi_deg": None, "c_kPa": None, **layer}
                             for layer in layers]  # fmt: skip
        profile["presumptive"] = None
    data["rules"]["ground"] |= rule
    return parse_fact(Job, data)


SAND = {"name": "sand", "thickness_m": 1.2, "phi_deg": 34.0, "c_kPa": 0.0}
THIN = {"name": "fill", "thickness_m": 0.4, "phi_deg": 36.0, "c_kPa": 0.0}
CLAY = {"name": "clay", "thickness_m": 20.0, "cu_kPa": 60.0}
CRUST = {"name": "crust", "thickness_m": 0.8, "cu_kPa": 110.0}
C_PHI = {"name": "silt", "thickness_m": 20.0, "phi_deg": 27.0, "c_kPa": 8.0}
GROUND = {
    "clay": [CLAY],
    "sand": [{**SAND, "thickness_m": 20.0}],
    "c-phi": [C_PHI],
    "sand over clay": [SAND, CLAY],
    "thin fill over clay": [THIN, CLAY],
    "fill and sand over clay": [THIN, SAND, CLAY],
    "fill and looser sand over clay": [
        THIN,
        {**SAND, "thickness_m": 0.3, "phi_deg": 31.0},
        {**CLAY, "cu_kPa": 45.0},
    ],
    "crust over clay": [CRUST, CLAY],
    "dense over loose sand": [
        {**THIN, "phi_deg": 42.0},
        {**SAND, "thickness_m": 20.0, "phi_deg": 26.0},
    ],
    "clay over sand over clay": [CRUST, {**SAND, "name": "band"}, {**CLAY, "cu_kPa": 30.0}],
}


@pytest.mark.parametrize("method", ["meyerhof", "hansen", "vesic", "en1997"])
@pytest.mark.parametrize("safety", ["global", "en1997 DA1"])
@pytest.mark.parametrize("ground", GROUND)
def test_the_governing_mechanism_is_worked_to_the_limit_of_the_check(
    demo: Job, ground: str, safety: str, method: str
) -> None:
    a = assess_lift(ground_job(demo, GROUND[ground], safety=safety, method=method), "L1")
    assert a.ground is not None
    for g in a.ground.legs:
        rows = mechanism_rows(a.setup, g, a.ground.mat)
        assert result_of(rows[-1]["result"]) == pytest.approx(g.allowable_kPa, abs=0.051), g
        for row in rows:
            shown = calculator(row["numbers"])
            if shown is not None:
                stated = result_of(row["result"])
                assert shown == pytest.approx(stated, rel=0.006, abs=0.05), row


def test_the_set_of_ground_cases_covers_every_mechanism(demo: Job) -> None:
    seen = set()
    for layers in GROUND.values():
        a = assess_lift(ground_job(demo, layers), "L1")
        assert a.ground is not None
        seen |= {g.mechanism for g in a.ground.legs}
    assert {
        "undrained bearing",
        "drained bearing",
        "drained bearing with load spread",
        "punching through granular layer",
        "punching through stiffer clay",
    } <= seen


def test_the_working_shows_neighbours_only_where_a_layer_lies_below(demo: Job) -> None:
    layered = assess_lift(ground_job(demo, GROUND["sand over clay"]), "L1").ground
    alike = assess_lift(ground_job(demo, GROUND["clay"]), "L1").ground
    assert layered is not None
    assert alike is not None
    g = layered.legs[0]
    assert g.neighbours is not None
    (row,) = neighbour_rows(g)
    assert row["result"].startswith(f"{g.neighbours.pressure_kPa:.1f} kPa of ")
    pressure, factor = (float(v) for v in row["numbers"].split(";")[0].split(" × "))
    assert pressure * factor == pytest.approx(g.neighbours.pressure_kPa, rel=1e-3)
    assert neighbour_rows(alike.legs[0]) == []


def test_the_reaction_working_of_a_machine_that_tips_says_so(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    next(x for x in data["lifts"] if x["id"] == "L6")["load"]["mass_t"] = 9.5
    a = assess_lift(parse_fact(Job, data), "L6")
    rows = reaction_rows(a.setup, a.forces)
    assert rows[-1]["result"] == "no equilibrium: the machine tips"
    assert ground_rows(a.setup, a.ground) == []


def test_the_boom_hangs_the_load_at_the_pick_radius_when_set_short(demo: Job) -> None:
    for lift in demo.lifts:
        a = assess_lift(demo, lift.id)
        pick, down = boom_settings(a.setup, a.path)
        for found, radius in ((pick, a.path.radius_m[0]), (down, a.path.radius_m[-1])):
            assert found.loaded is not None
            assert found.loaded.radius_m == pytest.approx(radius, abs=1e-6)
            assert 0.0 < found.short_m < found.loaded.radius_growth_m


def test_a_heavier_load_asks_for_the_boom_to_be_set_shorter(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    short = []
    for mass in (1.0, 2.0, 3.0):
        data["lifts"][0]["load"]["mass_t"] = mass
        a = assess_lift(parse_fact(Job, data), data["lifts"][0]["id"])
        short.append(boom_setting(a.setup, 12.0).short_m)
    assert short[0] < short[1] < short[2]


def test_a_boom_outside_the_method_gets_no_estimate_but_a_reason(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    boom = data["machines"][0]["boom"]
    boom["bending_stiffness_kNm2"] = [2.0e3] * len(boom["lengths_m"])
    a = assess_lift(parse_fact(Job, data), "L1")
    found = boom_setting(a.setup, float(a.path.radius_m[0]))
    assert found.loaded is None
    assert math.isnan(found.short_m)
    assert "bending_stiffness_kNm2" in found.problem


def show(value: float | None, quantity: str) -> str:
    return f"{value:.2f}"


@pytest.mark.parametrize("lift", LIFTS)
def test_the_exact_worst_slew_is_no_less_than_the_scan_by_degrees(
    lifts: dict[str, LiftAssessment], lift: str
) -> None:
    a = lifts[lift]
    found = leg_slews(a.setup, a.path)
    scan = a.forces.on_circle
    if scan.unstable_states.size:
        assert np.all(np.isinf(found.envelope.max_kN))
        assert "circle_worst_slew_deg" not in leg_slew_values(a.setup, found)
    else:
        assert np.all(found.envelope.max_kN >= scan.max_kN - 1e-6)
        assert found.envelope.max_kN == pytest.approx(scan.max_kN, rel=2e-4)
        values = leg_slew_values(a.setup, found)
        apart = (np.array(values["circle_worst_slew_deg"]) - scan.max_state + 180) % 360 - 180
        assert np.all(np.abs(apart) <= 1.0)
    rows = leg_slew_rows(a.setup, found, show)
    assert [r[0] for r in rows] == ["FL", "FR", "RR", "RL"]


def test_legs_that_lift_on_the_turn_are_named_with_their_sector(demo: Job) -> None:
    a = assess_lift(demo, "L6")
    found = leg_slews(a.setup, a.path)
    scan = a.forces.on_circle  # with wind from any side, not toward the boom alone
    lifted = scan.lifted | scan.unstable[:, None]
    for k, row in enumerate(leg_slew_rows(a.setup, found, show)):
        inside = np.zeros(360, dtype=bool)
        for s in found.lift_off:
            if s.leg == k:
                inside |= (np.arange(360) - s.start_deg) % 360 <= (s.end_deg - s.start_deg) % 360
        assert np.all(lifted[inside, k])
        assert scan.lifted[~inside, k].sum() <= 25
        assert ("stays" in row[-1]) == (not inside.any())


def test_tipping_lines_are_told_with_their_lengths(lifts: dict[str, LiftAssessment]) -> None:
    setup = lifts["L4"].setup
    corners = setup.base.vertices_m
    told = tipping_line_rows(setup, lambda value, _: f"{value:.6f}")
    for k, (_, away, length) in enumerate(told):
        a, b = corners[k], corners[(k + 1) % len(corners)]
        assert float(length) == pytest.approx(math.dist(a, b), abs=1e-6)
        area = abs(a[0] * b[1] - a[1] * b[0])  # twice the triangle with the slew centre
        assert float(away) == pytest.approx(area / math.dist(a, b), abs=1e-6)
