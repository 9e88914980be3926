"""The calculation of the leg layout, read as a checker does, for every check and many bases."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from test_calculation_rigging import rows_by_title
from test_calculation_survey import followed, with_numbers

from liftcalc.crane.sectors import ESTIMATE
from liftcalc.lift import calculation_layout
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_layout import layout_calculation
from liftcalc.lift.setup import machine_masses

Assess = Callable[..., LiftAssessment]
Change = Callable[[Any, Any], object]
LIFTS = [f"L{n}" for n in range(1, 9)]


def every(monkeypatch: pytest.MonkeyPatch, a: LiftAssessment) -> Calculation:
    """The calculation with a section for each check, not only for those near their limit."""
    monkeypatch.setattr(calculation_layout, "worked", list)
    return layout_calculation(a, a.layout)


def legs(**extension: float) -> Change:
    return lambda job, lift: lift["legs"].update(extension)


def sides(percent: float) -> Change:
    return lambda job, lift: job["rules"].update(least_leg_share_percent=percent)


def few_mats(job: Any, lift: Any) -> None:
    for mat in job["mats"]:
        mat["quantity"] = 3


def long_mats(job: Any, lift: Any) -> None:
    for mat in job["mats"]:
        if mat["id"] == lift["mat"]:
            mat.update(length_m=7.5)


CHANGES: dict[str, tuple[str, Change]] = {
    **{lift: (lift, lambda job, one: None) for lift in LIFTS},
    "uneven": ("L1", legs(FL=1.9, FR=3.2, RR=2.7, RL=1.25)),
    "short all round": ("L2", legs(FL=1.3, FR=1.3, RR=1.3, RL=1.3)),
    "least side": ("L1", sides(10.0)),
    "least side of a slewed lift": ("L8", sides(10.0)),
    "mats missing": ("L1", few_mats),
    "mats overlap": ("L1", long_mats),
}


@pytest.mark.parametrize("case", CHANGES)
def test_every_check_is_reached_on_every_base(assess: Assess, case: str, monkeypatch: pytest.MonkeyPatch) -> None:
    a = assess(*CHANGES[case])
    calc = every(monkeypatch, a)
    assert set(calc.reached) == with_numbers(a.layout)
    followed(calc, a.layout)


@pytest.mark.parametrize("mass_t", [120.0, 300.0])
def test_the_unladen_crane_on_three_outriggers_is_followed(assess: Assess, mass_t: float) -> None:
    """A counterweight heavier than the machine's own, put on after its charts were read."""
    a = assess("L1")
    machine = a.setup.machine
    weights = tuple(w.model_copy(update={"mass_t": mass_t}) for w in machine.counterweights)
    heavy = machine.model_copy(update={"counterweights": weights})
    masses = machine_masses(heavy, a.setup.lift.counterweight)
    setup = dataclasses.replace(a.setup, machine=heavy, masses=masses)
    b = LiftAssessment(job=a.job, setup=setup, path=a.path)
    calc = layout_calculation(b, b.layout)
    assert "backward-stability" in calc.reached
    followed(calc, b.layout)
    rows = [row for s in calc.block()["sections"] for row in s["rows"]]
    (which,) = [row for row in rows if row["what"] == "Outriggers that carry"]
    assert which["result"] == "the other is clear of the ground"


@pytest.mark.parametrize("lift", LIFTS)
def test_the_governing_check_and_each_near_its_limit_is_reached(assess: Assess, lift: str) -> None:
    a = assess(lift)
    calc = layout_calculation(a, a.layout)
    near = {c.id for c in a.layout if (c.utilisation or 0.0) >= 0.8 or c.status != "within"}
    assert near <= set(calc.reached)
    followed(calc, a.layout)


def test_the_extension_available_ends_at_what_limits_it(assess: Assess) -> None:
    """A kiosk from 21.6 m N on: the mat, 0.9 m to each side, reaches it at 2.4 m of extension."""

    def change(job: Any, lift: Any) -> None:
        kiosk = next(o for o in job["site"]["obstacles"] if o["id"] == "switch-kiosk")
        kiosk["polygon"] = [[33.0, 21.6], [36.0, 21.6], [36.0, 24.0], [33.0, 24.0]]

    a = assess("L1", change)
    calc = layout_calculation(a, a.layout)
    found = section(calc, "Outriggers")
    assert found["y_kFL"] == "3.290 m"  # 3.30 m less 0.01 m to keep
    assert found["e_mFL"] == "2.389 m"
    assert found["e_mFR"] == "3.200 m"
    assert found["d_eFL"] == "0.089 m"
    followed(calc, a.layout)


def section(calc: Calculation, words: str) -> dict[str, str]:
    """Result of each formula of one section."""
    (one,) = [s for s in calc.block()["sections"] if words in s["title"]]
    return {row["formula"].partition(" = ")[0]: row["result"] for row in one["rows"]}


def test_tipping_lines_are_those_of_the_table(assess: Assess) -> None:
    a = assess("L1", legs(FL=1.9))
    found = section(layout_calculation(a, a.layout), "Tipping lines")
    side = float(np.hypot(6.8, 0.4))
    assert found["b_RRFR"] == "3.200 m"
    assert found["b_FLRL"] == f"{(3.3 * 2.3 + 3.5 * 1.9) / side:.3f} m"
    assert found["l_FLRL"] == f"{side:.3f} m"


@pytest.mark.parametrize("lift", LIFTS)
def test_the_minimum_round_the_circle_is_the_least_of_the_sectors(assess: Assess, lift: str) -> None:
    a = assess(lift)
    calc = layout_calculation(a, a.layout)
    rated = a.circle.capacity_t[:, int(np.argmax(a.circle.radius_m))]
    assert (a.circle.source < ESTIMATE).all()
    found = section(calc, "round the slew circle")
    assert found["C"] == f"{rated.min():.3f} t"


def test_a_circle_without_data_says_where(assess: Assess) -> None:
    def only_full(job: Any, lift: Any) -> None:
        job["charts"] = [c for c in job["charts"] if "full" in c["id"]]

    a = assess("L2", only_full)
    calc = layout_calculation(a, a.layout)
    assert calc.mismatches == []
    rows = [row for s in calc.block()["sections"] for row in s["rows"]]
    assert [row["result"] for row in rows if row["what"] == "Slews without capacity data"] == ["no capacity data there"]


def test_an_outrigger_set_short_costs_what_the_table_says(assess: Assess) -> None:
    a = assess("L1")
    calc = layout_calculation(a, a.layout)
    short = [one for one in a.settings[1:] if len(one.outriggers) == 1]
    worst = max(short, key=lambda one: one.used_ratio)
    found = section(calc, f"outrigger {worst.outriggers[0]} set short")
    assert found["p_u"] == f"{100 * worst.used_ratio:.2f} %"
    assert found[f"e_{worst.outriggers[0]}"] == f"{worst.extension_m[0]:.3f} m"
    assert rows_by_title(list(a.layout))
