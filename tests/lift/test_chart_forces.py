"""Outriggers and carrier under a carried-over chart, against statics worked another way."""

from __future__ import annotations

import itertools
import json
from typing import Any

import numpy as np
import pytest

from liftcalc.base.checks import Check
from liftcalc.base.resources import demo_job_path
from liftcalc.crane.sectors import CARRIED
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_chart_forces import chart_force_section
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_place import place_section
from liftcalc.lift.conditions import CONDITION_REMEDY

NAMES = ("FL", "FR", "RR", "RL")
IDS = ("chart-outrigger-force", "chart-outrigger-beam", "chart-carrier-twist")
LONG = {"FL": 3.1, "FR": 1.9, "RR": 1.9, "RL": 3.1}
"""Beams on the load's side farther out than on the base of the chart that is carried over."""


@pytest.fixture(scope="module")
def demo() -> Job:
    """The demo job without the manufacturer's confirmation that it holds."""
    return load_job(demo_job_path()).model_copy(update={"confirmations": ()})


def changed(job: Job, legs: dict[str, float], confirmed: dict[str, float] | None = None) -> Job:
    """L4 on other outriggers, with the manufacturer's word for *confirmed* if given."""
    data = json.loads(job.model_dump_json())
    lift = next(i for i in data["lifts"] if i["id"] == "L4")
    lift["legs"] = legs
    if confirmed:
        data["confirmations"] = [
            {
                "id": "C9", "who": "A. Example", "document": "letter 9", "date": "2026-05-01",
                "machine": lift["machine"], "counterweight": lift["counterweight"],
                "boom_length_m": lift["boom_length_m"], "leg_extension_m": confirmed,
                "sector_deg": (0, 360), "radius_m": 30.0, "capacity_t": 30.0,
                "provenance": {"kind": "invented", "note": "for the test"},
            }
        ]  # fmt: skip
    return parse_fact(Job, data)


def rows_of(a: LiftAssessment) -> dict[str, Check]:
    return {c.id: c for c in a.lift if c.id in IDS}


def reactions(legs: list[tuple[float, float]], springs: list[float], v: float, mx: float,
              my: float) -> Any:  # fmt: skip
    """Least work over every set of legs that may be loaded, by the equations of elasticity."""
    best, least = None, np.inf
    for n in (4, 3):
        for on in itertools.combinations(range(4), n):
            # rigid plate: R = k (d + a x + b y), three equations of equilibrium
            m = np.array([[1.0, legs[i][0], legs[i][1]] for i in on])
            k = np.diag([springs[i] for i in on])
            r = k @ m @ np.linalg.solve(m.T @ k @ m, np.array([v, mx, my]))
            work = float(np.sum(r**2 / np.diag(k)))
            if r.min() >= -1e-9 * v and work < least:
                least, best = work, np.zeros(4)
                best[list(on)] = r
        if best is not None:
            return best
    return np.full(4, np.inf)


def still(job: Job, legs: Any, states: list[tuple[float, float, float]]) -> Any:
    """Force, beam moment and twist, of a rigid carrier, still and level: (10,) by state."""
    lift = job.lift("L4")
    m = next(i for i in job.machines if i.id == lift.machine)
    weight = next(w for w in m.counterweights if w.id == lift.counterweight)
    xy = [(leg.x_m, side * legs[leg.name]) for leg, side in zip(m.legs, (1, -1, -1, 1), strict=True)]
    springs = [leg.stiffness_kN_m for leg in m.legs]
    cg = np.interp(lift.boom_length_m, m.boom.lengths_m, m.boom.cg_from_foot_m)
    out = []
    for slew, radius, load in states:
        along = (radius - m.boom.foot_u_m) / lift.boom_length_m
        parts = [
            (m.superstructure.mass_t, m.superstructure.cg_u_m),
            (weight.mass_t, weight.cg_u_m),
            (m.boom.mass_t, m.boom.foot_u_m + cg * along),
            (load, radius),
        ]
        turning = sum(mass * u for mass, u in parts)
        c, s = np.cos(np.radians(slew)), np.sin(np.radians(slew))
        g = 9.80665
        r = reactions(
            xy, springs,
            g * (m.carrier.mass_t + sum(mass for mass, _ in parts)),
            g * (m.carrier.mass_t * m.carrier.cg_x_m + turning * c),
            g * (m.carrier.mass_t * m.carrier.cg_y_m + turning * s),
        )  # fmt: skip
        arms = [max(legs[n] - m.carrier.width_m / 2, 0.0) for n in NAMES]
        y = np.array([p[1] for p in xy])
        out.append([*r, *(r * arms), abs(r[:2] @ y[:2]), abs(r[2:] @ y[2:])])
    return np.array(out)


def test_the_figures_are_those_of_statics_worked_another_way(demo: Job) -> None:
    a = assess_lift(demo, "L4")
    found = rows_of(a)
    assert tuple(found) == IDS
    assert all("rigid carrier, still and level" in c.where for c in found.values())
    capacity, path = a.study.capacity, a.path
    carried = np.flatnonzero(capacity.source == CARRIED)
    charts = {capacity.chart_ids[capacity.chart[k]] for k in carried}
    assert len(charts) == 1
    chart = next(c for c in demo.charts if c.id in charts)
    here = still(
        demo, demo.lift("L4").legs.model_dump(),
        [(path.slew_deg[k], path.radius_m[k], a.setup.gross_t) for k in carried],
    ).max(axis=0)  # fmt: skip
    row = chart.capacity_t[chart.boom_length_m.index(demo.lift("L4").boom_length_m)]
    rated = [
        (slew, radius, load)
        for radius, load in zip(chart.radius_m, row, strict=True)
        if load is not None and a.setup.boom.radius_min_m <= radius <= a.setup.boom.radius_max_m
        for slew in np.arange(0.0, 360.0, 1.0)
    ]
    proved = still(demo, dict(chart.leg_extension_m), rated)
    proved = np.where(np.isfinite(proved), proved, 0.0).max(axis=0)
    for check, part in zip(found.values(), (slice(0, 4), slice(4, 8), slice(8, 10)), strict=True):
        used = (here / proved)[part]
        k = int(used.argmax())
        assert check.value == pytest.approx(here[part][k], rel=1e-6)
        # worked every three degrees: never more than the greatest, and hardly less
        assert proved[part][k] * (1 - 2e-3) <= check.limit <= proved[part][k] * (1 + 1e-6)
        assert check.utilisation == pytest.approx(used[k], rel=2e-3)
        assert check.status == "within"


def test_a_beam_farther_out_than_its_chart_knows_is_over_and_no_condition_hides_it(demo: Job) -> None:
    a = assess_lift(changed(demo, LONG), "L4")
    capacity = next(c for c in a.lift if c.id == "capacity")
    assert capacity.status == "condition"  # the argument by the margin alone lets it pass
    found = rows_of(a)
    assert found["chart-outrigger-force"].status == "within"
    beam = found["chart-outrigger-beam"]
    assert beam.status == "over"
    assert "outrigger FL" in beam.where or "outrigger RL" in beam.where
    assert beam.utilisation is not None
    assert 1.0 < beam.utilisation < 1.2
    assert "Ask the manufacturer" in beam.remedy
    assert beam in a.verdict.failed


def test_the_manufacturers_word_for_this_very_layout_covers_beams_and_carrier(demo: Job) -> None:
    open_ = rows_of(assess_lift(changed(demo, LONG), "L4"))["chart-outrigger-beam"]
    beam = rows_of(assess_lift(changed(demo, LONG, LONG), "L4"))["chart-outrigger-beam"]
    assert (beam.status, beam.limit, beam.utilisation) == ("within", None, None)
    assert beam.value == open_.value
    assert "confirmed by A. Example, letter 9, 2026-05-01" in beam.reference
    assert "more than on the chart's own base" in beam.reference


def test_a_beam_farther_out_than_confirmed_is_not_covered(demo: Job) -> None:
    less = {"FL": 2.9, "FR": 1.9, "RR": 1.9, "RL": 2.9}
    a = assess_lift(changed(demo, LONG, less), "L4")
    assert next(c for c in a.lift if c.id == "capacity").status == "within"
    assert rows_of(a)["chart-outrigger-beam"].status == "over"


def test_a_load_above_what_was_confirmed_is_not_covered(demo: Job) -> None:
    job = changed(demo, LONG, LONG)
    told = job.confirmations[0].model_copy(update={"capacity_t": 3.0})
    a = assess_lift(job.model_copy(update={"confirmations": (told,)}), "L4")
    assert a.setup.gross_t > 3.0
    assert rows_of(a)["chart-outrigger-beam"].status == "over"


def test_no_row_where_no_chart_is_carried_over(demo: Job) -> None:
    assert rows_of(assess_lift(demo, "L1")) == {}
    assert rows_of(assess_lift(demo, "L8")) == {}


def test_the_sheet_says_what_stays_unseen(demo: Job) -> None:
    unseen = "own outrigger monitoring, nor pins, overlap and local strength"
    assert unseen in CONDITION_REMEDY
    a = assess_lift(demo, "L4")
    assert all(unseen in c.reference for c in rows_of(a).values())
    assert all(unseen in c.remedy for c in a.verdict.conditional)


def test_a_beam_within_the_carriers_width_has_no_moment_in_the_calculation_either(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    lift = next(i for i in data["lifts"] if i["id"] == "L4")
    machine = next(m for m in data["machines"] if m["id"] == lift["machine"])
    machine["carrier"]["width_m"] = 6.0  # its side lies 3 m from the middle
    a = assess_lift(parse_fact(Job, data), "L4")
    beam = rows_of(a)["chart-outrigger-beam"]
    assert beam.value == 0.0
    calculation = Calculation()
    place_section(calculation, a.setup, a.path)
    gross_section(calculation, a.setup)
    calculation.section(beam)
    chart_force_section(calculation, a, beam)
    assert calculation.mismatches == []
    assert "max(abs(y_" in json.dumps(calculation.block(), ensure_ascii=False)
