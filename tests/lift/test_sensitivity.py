"""Samples of one lift: the nominal is the deterministic check; each quantity moves it rightly."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.capacity_checks import path_checks
from liftcalc.lift.path_study import capacity_at, study_path
from liftcalc.lift.sampled_capacity import sampled_capacity
from liftcalc.lift.sensitivity import (
    NOT_WITHIN,
    LiftSensitivity,
    assumption_rows,
    default_assumptions,
    lift_sensitivity,
    probability_rows,
)
from liftcalc.uncertainty.propagation import TruncatedNormal, draw_samples
from liftcalc.views.sensitivity import draw_sensitivity, sensitivity_data
from liftcalc.views.style import new_axes


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


@pytest.fixture(scope="module")
def lift(demo: Job) -> LiftAssessment:
    return assess_lift(demo, "L1")


@pytest.fixture(scope="module")
def found(lift: LiftAssessment) -> LiftSensitivity:
    return lift_sensitivity(lift, number=4000)


@pytest.mark.parametrize("name", ["L1", "L2", "L3", "L4", "L5", "L6"])
def test_the_nominal_is_the_deterministic_check(demo: Job, name: str) -> None:
    a = assess_lift(demo, name)
    nominal = lift_sensitivity(a, number=50).study.nominal
    rows = {c.id: c.utilisation for c in (*a.lift, *a.ground_rows)}
    assert nominal["rated"] == pytest.approx(rows["capacity"])
    assert nominal["wind"] == pytest.approx(rows["wind"])
    k = a.study.governing_step
    assert nominal["stability"] == pytest.approx(a.setup.gross_t / a.study.stability_t[k])
    loaded = a.forces.on_path.max_kN
    strength = np.array([leg.capacity_kN for leg in a.setup.machine.legs])
    # sampled with wind and lean along the boom and one carrier: no more than what is checked
    whole = (loaded / strength).max()
    assert 0.99 * whole < nominal["leg"] <= whole * (1 + 1e-9)
    assert a.ground is not None
    area = np.array([g.effective_length_m * g.effective_width_m for g in a.ground.legs])
    allowed = np.array([g.allowable_kPa for g in a.ground.legs])
    step = int(np.nanargmax((a.forces.path_reaction_kN / strength).max(axis=1)))
    use = (a.forces.path_reaction_kN[step] + a.ground.mat.weight_kN) / area / allowed
    assert 0.99 * use.max() < nominal["ground"] <= use.max() * (1 + 1e-9)


def free(job: Job, **machine: Any) -> Job:
    """The job with outriggers that stop anywhere, and other changes to its machines."""
    machines = tuple(
        m.model_copy(update={"legs": tuple(leg.model_copy(update={"steps_m": ()}) for leg in m.legs), **machine})
        for m in job.machines
    )
    return job.model_copy(update={"machines": machines})


def sheet_row(job: Job, lift_id: str, sample: dict[str, float]) -> tuple[str, float | None]:
    """Status and use of the full check's capacity row with the facts of one sample."""
    lift = next(x for x in job.lifts if x.id == lift_id)
    legs = {n: sample.get(f"extension_{n}_m", getattr(lift.legs, n)) for n in LEG_NAMES}
    load = lift.load.model_copy(update={"mass_t": sample["load_t"], "contingency_percent": 0.0})
    lift = lift.model_copy(update={"legs": type(lift.legs)(**legs), "load": load})
    others = tuple(x for x in job.lifts if x.id != lift_id)
    a = assess_lift(job.model_copy(update={"lifts": (*others, lift)}), lift_id)
    path = dataclasses.replace(a.path, radius_m=a.path.radius_m + sample["cg_offset_m"])
    row = path_checks(a.setup, study_path(a.setup, path))[0]
    assert row.id == "capacity"
    return row.status, row.utilisation


@pytest.mark.parametrize(
    ("name", "change", "statuses"),
    [
        ("L1", {}, {"within", "condition", "over"}),
        ("L4", {}, {"condition", "over"}),
        ("L5", {}, {"within"}),
        ("L5", {"confirmed": False}, {"condition"}),
        ("L5", {"steps": False}, {"within", "condition", "over"}),
        ("L1", {"only_own_charts": True}, {"within", "condition", "no_data"}),
        ("L1", {"tolerance": 0.02}, {"within", "condition", "over"}),
    ],
)
def test_every_sample_is_rated_as_the_full_check_rates_it(
    demo: Job, name: str, change: dict[str, Any], statuses: set[str]
) -> None:
    job = demo
    if not change.get("confirmed", True):
        job = job.model_copy(update={"confirmations": ()})
    if not change.get("steps", True):
        job = free(job)
    if "tolerance" in change:
        job = free(job, setting_tolerance_m=change["tolerance"])
    if change.get("only_own_charts"):
        charts = tuple(c for c in job.charts if c.base_name != "retracted")
        job = job.model_copy(update={"charts": charts})
    number = 60
    a = assess_lift(job, name)
    assumed = {one.name: one.distribution for one in default_assumptions(a)}
    drawn = draw_samples(assumed, number, seed=3)
    load = a.setup.lift.load
    legs = zip(LEG_NAMES, a.setup.lift.legs.as_tuple(), strict=True)
    found = sampled_capacity(
        a.setup,
        a.path,
        gross_t=drawn["load_t"] + (a.setup.gross_t - load.mass_t * (1 + load.contingency_percent / 100)),
        extension_m=np.stack([drawn.get(f"extension_{n}_m", np.full(number, e)) for n, e in legs], axis=-1),
        radius_shift_m=drawn["cg_offset_m"],
    )
    seen = set()
    for i in range(number):
        status, use = sheet_row(job, name, {n: float(v[i]) for n, v in drawn.items()})
        seen.add(status)
        if status == "no_data":
            assert found.utilisation[i] == np.inf
            continue
        want = "condition" if found.on_condition[i] else "within"
        assert status == (want if found.utilisation[i] <= 1 else "over"), i
        assert found.utilisation[i] == pytest.approx(use, rel=1e-9), i
    assert seen == statuses


@pytest.mark.parametrize("name", ["L1", "L4", "L5"])
def test_a_base_around_that_rates_less_caps_every_sample(demo: Job, name: str) -> None:
    a = assess_lift(demo, name)
    largest = max(abs(t.base.leg_xy_m[:, 1]).max() for t in a.setup.tables)
    tables = tuple(
        dataclasses.replace(t, capacity_t=0.3 * t.capacity_t) if abs(t.base.leg_xy_m[:, 1]).max() == largest else t
        for t in a.setup.tables
    )
    setup = dataclasses.replace(a.setup, tables=tables)
    shift = np.linspace(0.0, 1.0, 11)
    found = sampled_capacity(
        setup,
        a.path,
        gross_t=np.full(11, setup.gross_t),
        extension_m=np.tile(setup.lift.legs.as_tuple(), (11, 1)),
        radius_shift_m=shift,
    )
    share = setup.rules.utilisation_limit_percent / 100
    for i, more in enumerate(shift):
        rated = capacity_at(setup, a.path.slew_deg, a.path.radius_m + more)
        worst = np.argmin(rated.capacity_t)
        assert rated.capped_by[worst] >= 0
        assert found.utilisation[i] == pytest.approx(setup.gross_t / (share * rated.capacity_t[worst]), rel=1e-12)


@pytest.mark.parametrize(("name", "least", "held"), [("L1", 0.40, 0.15), ("L4", 0.40, 0.40)])
def test_a_rating_that_steps_shows_in_the_chance_of_passing(demo: Job, name: str, least: float, held: float) -> None:
    found = lift_sensitivity(assess_lift(demo, name), number=2000)
    over = found.study.exceedance["any"].probability
    assert over > least
    assert found.on_condition.mean() > held
    assert found.not_within.probability == pytest.approx(over + found.on_condition.mean())
    assert f"{100 * found.not_within.probability:.2f} %" in found.statement
    assert found.nominal_held == ("The check itself holds only" in found.statement)
    assert found.nominal_held == (name == "L4")


def test_pinned_outriggers_have_no_spread_and_others_end_at_their_stroke(demo: Job) -> None:
    pinned = assess_lift(demo, "L5")
    assert not any(one.name.startswith("extension") for one in default_assumptions(pinned))
    assert any("FL, FR, RR, RL: as planned" in t for t in lift_sensitivity(pinned, number=9).left_out)
    machine = pinned.setup.machine
    data = free(demo)
    legs = {n: leg.extension_max_m for n, leg in zip(LEG_NAMES, machine.legs, strict=True)}
    lift = pinned.setup.lift.model_copy(update={"legs": type(pinned.setup.lift.legs)(**legs)})
    others = tuple(x for x in data.lifts if x.id != "L5")
    out = assess_lift(data.model_copy(update={"lifts": (*others, lift)}), "L5")
    drawn = lift_sensitivity(out, number=500).study.samples
    for leg in machine.legs:
        sampled = drawn[f"extension_{leg.name}_m"]
        assert sampled.min() < leg.extension_max_m - 0.01
        assert sampled.max() <= leg.extension_max_m


def test_the_same_seed_gives_the_same_numbers(lift: LiftAssessment) -> None:
    one, two = (lift_sensitivity(lift, number=500, seed=7) for _ in range(2))
    other = lift_sensitivity(lift, number=500, seed=8)
    assert np.array_equal(one.study.worst, two.study.worst)
    assert not np.array_equal(one.study.worst, other.study.worst)
    assert one.not_within == two.not_within
    assert one.tornado.names == two.tornado.names


def test_each_quantity_moves_its_check_the_right_way(lift: LiftAssessment) -> None:
    def chart(check: str) -> dict[str, tuple[float, float]]:
        t = lift_sensitivity(lift, number=20, check=check).tornado
        return {n: (a, b) for n, a, b in zip(t.names, t.at_low, t.at_high, strict=True)}

    stability, ground, leg = chart("stability"), chart("ground"), chart("leg")
    for rising in ("load_t", "cg_offset_m"):
        assert stability[rising][0] < stability[rising][1]
        assert leg[rising][0] < leg[rising][1]
    assert ground["allowable_kPa"][0] > ground["allowable_kPa"][1]
    assert leg["wind_m_s"][0] < leg["wind_m_s"][1]
    assert stability["wind_m_s"][0] == stability["wind_m_s"][1]
    # the load swings over the left: its legs count, and shorter is worse
    assert stability["extension_FL_m"][0] > stability["extension_FL_m"][1]
    assert stability["allowable_kPa"][0] == stability["allowable_kPa"][1]


def test_a_wider_spread_never_lowers_the_chance(lift: LiftAssessment) -> None:
    chances = []
    for sd in (0.1, 0.6, 1.5):
        wide = [
            dataclasses.replace(one, distribution=TruncatedNormal(0.0, sd, -8 * sd, 8 * sd))
            if one.name == "cg_offset_m"
            else one
            for one in default_assumptions(lift)
        ]
        study = lift_sensitivity(lift, number=3000, assumptions=wide).study
        chances.append(study.exceedance["any"].probability)
    assert chances[0] <= chances[1] <= chances[2]
    assert chances[2] > 0.01


def test_the_deterministic_check_governs(demo: Job) -> None:
    over = lift_sensitivity(assess_lift(demo, "L6"), number=200)
    assert not over.study.within_limit
    assert "always governs" in over.study.statement
    assert "over a limit" in over.study.statement


def test_a_layout_without_capacity_data_is_named_as_not_sampled(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    data["charts"] = [c for c in data["charts"] if c["base_name"] != "retracted"]
    lift = next(x for x in data["lifts"] if x["id"] == "L3")
    lift["legs"] = {"FL": 1.25, "FR": 1.25, "RR": 1.25, "RL": 1.25}
    found = lift_sensitivity(assess_lift(parse_fact(Job, data), "L3"), number=50)
    assert "rated" not in found.study.nominal
    assert any("no capacity data" in why for why in found.left_out)


def test_a_machine_that_tips_is_refused(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    next(x for x in data["lifts"] if x["id"] == "L6")["load"]["mass_t"] = 9.5
    with pytest.raises(InputError, match="stands on its whole path"):
        lift_sensitivity(assess_lift(parse_fact(Job, data), "L6"), number=50)


def test_tables_values_and_drawing(found: LiftSensitivity) -> None:
    assert [r[0] for r in probability_rows(found)][-2:] == ["any of them", NOT_WITHIN]
    assert len(assumption_rows(found)) == len(found.assumptions)
    assert all(spread for _, _, spread in assumption_rows(found))
    data = sensitivity_data(found, most=5)
    assert 1 < len(data.bars) <= 5
    swing = [abs(b.high - b.low) for b in data.bars]
    assert swing == sorted(swing, reverse=True)
    _, ax = new_axes(170.0, 90.0)
    draw_sensitivity(data, ax)
    assert [t.get_text() for t in ax.get_yticklabels()][-1] == data.bars[0].name
