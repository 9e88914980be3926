"""Two machines on one load: shares reach the machines, hooks stay with the load."""

from __future__ import annotations

import dataclasses
import itertools
import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.io import load_fact, load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.tandem import TandemAssessment, assess_tandem, tandem_lift_for
from liftcalc.lift.tandem_bodies import load_body
from liftcalc.lift.tandem_checks import common_checks, tandem_checks, tandem_verdict
from liftcalc.lift.tandem_report import (
    common_rows,
    rigging_rows,
    share_curve,
    share_rows,
    tandem_class,
    tandem_rows,
    use_rows,
)
from liftcalc.rigging.tandem import tandem_share


@pytest.fixture(scope="module")
def found(demo: Job) -> TandemAssessment:
    return assess_tandem(demo, "T1", steps=120)


def changed(job: Job, **changes: Any) -> Job:
    """The demo job with dotted fields of its tandem lift changed; ``m0``, ``m1`` are machines."""
    data = json.loads(job.model_dump_json())
    for path, value in changes.items():
        node: Any = data["tandem_lifts"][0]
        *parents, last = path.split("__")
        for part in parents:
            node = node["machines"][int(part[1])] if part in ("m0", "m1") else node[part]
        node[last] = value
    return parse_fact(Job, data)


def show(value: float | None, quantity: str) -> str:
    return "–" if value is None else f"{value:.2f}"


def test_the_demo_tandem_lift_is_within_all_that_is_checked_but_gets_no_pass(found: TandemAssessment) -> None:
    checks = tandem_checks(found)
    assert [c.id for c in checks if c.status != "within"] == ["two-machines-not-checked"]
    assert tandem_verdict(found).status == "no_data"
    (open_point,) = tandem_verdict(found).failed
    assert "mats of both machines together" in open_point.where
    assert len({c.id for c in checks}) == len(checks)
    assert all(c.reference for c in checks)
    for machine in (1, 2):
        mine = {c.id for c in checks if c.id.startswith(f"machine-{machine}-")}
        for part in ("capacity", "stability-rule", "rigging", "leg-FL", "ground-FL", "mats-apart"):
            assert f"machine-{machine}-{part}" in mine


def test_what_was_measured_of_another_lift_is_no_matter_of_two_machines(demo: Job) -> None:
    measured = load_fact(AsSetUp, demo_job_path().with_name("as_set_up.yaml"))
    job = demo.model_copy(update={"as_set_up": measured})
    both = (assess_tandem(one, "T1", steps=20) for one in (demo, job))
    first, second = ([(c.id, c.value) for c in tandem_checks(a)] for a in both)
    assert first == second


def test_shares_hold_the_load_and_reach_the_machines(found: TandemAssessment) -> None:
    shares, tandem = found.shares, found.tandem
    assert shares.nominal.share_t.sum() == pytest.approx(tandem.load.mass_t)
    # moments about lifting point 2 of a level load
    a, b = tandem.lug_distance_m
    assert shares.nominal.share_t[0] == pytest.approx(tandem.load.mass_t * b / (a + b))
    assert np.all(shares.max_share_t > shares.nominal.share_t)
    for k, one in enumerate(found.plumb):
        block = one.setup.machine.hook_block(one.setup.lift.hook_block).mass_t
        own = block + one.setup.hanging.gear.mass_t + float(one.setup.gross.rope_t)
        assert one.setup.gross_t == pytest.approx(float(shares.max_share_t[k]) + own)


def test_both_hooks_stay_with_the_load(found: TandemAssessment) -> None:
    hooks = []
    for one in found.plumb:
        stand, path = one.setup.lift.stand, one.path
        turn = np.radians(path.slew_deg + stand.heading_deg)
        hooks.append(
            np.column_stack(
                [stand.easting_m + path.radius_m * np.cos(turn), stand.northing_m + path.radius_m * np.sin(turn)]
            )
        )
    apart = np.linalg.norm(hooks[1] - hooks[0], axis=1)
    assert apart == pytest.approx(np.full(len(apart), sum(found.tandem.lug_distance_m)))
    assert np.array_equal(found.plumb[0].path.level_m, found.plumb[1].path.level_m)
    ends = load_body(found).corners_m.mean(axis=1)
    middle = (hooks[0] + hooks[1]) / 2
    assert ends == pytest.approx(middle, abs=1e-9)


def test_each_machine_is_checked_by_the_same_code_as_a_single_lift(demo: Job, found: TandemAssessment) -> None:
    share = float(found.shares.max_share_t[0])
    lift = tandem_lift_for(found.tandem, 0, share)
    one = {**dict(demo), "lifts": (lift,), "tandem_lifts": (), "confirmations": (), "plan": None}
    single = assess_lift(Job(**one), lift.id)
    # the load of two machines passes nearer by: its rope is the longer there
    rope = [float(a.setup.gross.rope_t) for a in (single, found.plumb[0])]
    assert rope[1] >= rope[0]
    assert single.setup.gross_t - rope[0] == pytest.approx(found.plumb[0].setup.gross_t - rope[1])
    both = [a.study.path.radius_m for a in (single, found.plumb[0])]
    assert both[0][0] == pytest.approx(both[1][0])
    assert both[0][-1] == pytest.approx(both[1][-1])
    for a in (single, found.plumb[0]):
        assert a.study.stability_t[0] == pytest.approx(single.study.stability_t[0])


def test_capacity_is_derated_as_stated(demo: Job, found: TandemAssessment) -> None:
    row = next(c for c in tandem_checks(found) if c.id == "machine-2-capacity")
    one = found.pulled[1]
    step = one.study.governing_step
    assert row.limit == pytest.approx(0.75 * one.study.capacity.capacity_t[step])
    weak = assess_tandem(changed(demo, m1__derating_factor=0.35), "T1", steps=60)
    failed = {c.id for c in tandem_verdict(weak).failed}
    assert failed == {"machine-2-capacity", "two-machines-not-checked"}


def test_a_line_out_of_plumb_never_makes_a_machine_look_safer(found: TandemAssessment) -> None:
    for plumb, pulled in zip(found.plumb, found.pulled, strict=True):
        head = plumb.study.boom.head_z_m
        grown = pulled.path.radius_m - plumb.path.radius_m
        assert np.all(grown >= head * np.tan(np.radians(1.5)) - 1e-9)
        assert np.all(pulled.study.stability_t <= plumb.study.stability_t + 1e-9)
        assert pulled.forces.design_kN.max() >= plumb.forces.design_kN.max() - 1e-9


def test_machines_standing_too_close_are_found(demo: Job) -> None:
    near = changed(demo, m0__stand__easting_m=36.0, m0__stand__northing_m=15.0)
    found = assess_tandem(near, "T1", steps=60)
    over = {c.id for c in common_checks(found) if c.status == "over"}
    assert "mats-of-both" in over
    assert {"tail-1-to-machine-2", "tail-2-to-machine-1"} & over
    assert tandem_verdict(found).status == "over"


def test_a_load_carried_into_the_flood_wall_is_found(demo: Job) -> None:
    pose = {"easting_m": 29.0, "northing_m": 28.0, "level_m": 4.0, "bearing_deg": 0.0}
    found = assess_tandem(changed(demo, set_down=pose), "T1", steps=60)
    wall = next(c for c in common_checks(found) if c.id == "load-to-flood-wall")
    assert wall.status == "over"


def test_hooks_that_may_be_far_from_level_can_slacken_a_line(demo: Job) -> None:
    tall: dict[str, Any] = {
        "lug_above_cg_m": [4.0, 4.0],
        "load__height_m": 8.0,
        "m0__rigging__point_height_m": 8.0,
        "m1__rigging__point_height_m": 8.0,
    }
    high = changed(demo, level_error_m=2.0, **tall)
    rows = {c.id: c for c in common_checks(assess_tandem(high, "T1", steps=60))}
    assert rows["both-lines-tight"].value < 0.7 * 3.27
    assert rows["head-room-1"].value == pytest.approx(10.89 + 0.4 - 2.0 - 6.8, abs=0.01)
    with pytest.raises(InputError, match="not between the lifting points"):
        assess_tandem(changed(demo, level_error_m=5.0, **tall), "T1")
    crooked = changed(demo, out_of_plumb_error_deg=4.0)
    rows = {c.id: c for c in common_checks(assess_tandem(crooked, "T1", steps=60))}
    assert rows["out-of-plumb-1"].status == "over"


@settings(deadline=None, max_examples=25)
@given(st.floats(0.0, 1.5), st.floats(0.0, 0.5), st.floats(0.0, 2.0))
def test_a_greater_stated_error_never_lowers_the_greatest_share(level: float, more: float, plumb: float) -> None:
    demo = load_job(demo_job_path())
    shares = [
        assess_tandem(changed(demo, level_error_m=value, out_of_plumb_error_deg=plumb), "T1", steps=20).shares
        for value in (level, level + more)
    ]
    assert np.all(shares[1].max_share_t >= shares[0].max_share_t - 1e-12)
    assert np.all(shares[1].min_share_t <= shares[0].min_share_t + 1e-12)


def test_exchanging_the_machines_exchanges_the_shares(demo: Job, found: TandemAssessment) -> None:
    data = json.loads(demo.model_dump_json())
    t = data["tandem_lifts"][0]
    for field in ("machines", "lug_distance_m", "lug_above_cg_m"):
        t[field] = t[field][::-1]
    for pose in ("pick", "set_down"):
        t[pose]["bearing_deg"] += 180.0
    turned = assess_tandem(parse_fact(Job, data), "T1", steps=120)
    assert turned.shares.max_share_t == pytest.approx(found.shares.max_share_t[::-1])
    assert turned.plumb[0].path.radius_m == pytest.approx(found.plumb[1].path.radius_m)
    assert turned.pulled[1].forces.design_kN == pytest.approx(found.pulled[0].forces.design_kN)


def test_the_share_curve_holds_the_envelope(found: TandemAssessment) -> None:
    level, plumb, least, greatest = share_curve(found.tandem)
    t = found.tandem
    assert level[0] == -t.level_error_m
    exact = tandem_share(
        t.load.mass_t, t.lug_distance_m, lug_above_cg_m=t.lug_above_cg_m, level_difference_m=level
    ).share_t
    assert plumb == pytest.approx(exact)
    assert np.all(least <= plumb)
    assert np.all(plumb <= greatest)
    more = 1.0 + t.load.contingency_percent / 100.0
    assert greatest.max(axis=0) * more == pytest.approx(found.shares.max_share_t)


def test_tables_name_both_machines(found: TandemAssessment) -> None:
    assert len(share_rows(found, show)) == len(use_rows(found, show)) == 2
    assert dict(tandem_rows(found, show))["Derating"]
    assert "More than one crane" in dict(tandem_rows(found, show))["Critical lift"]
    assert tandem_class(found).critical
    assert len(common_rows(found, show)) == len(common_checks(found))


def test_each_machine_lists_its_own_sling_and_shackle(found: TandemAssessment) -> None:
    rows = rigging_rows(found, show)
    items = (("sling leg 1 (weakest)", 5.3), ("shackle-6.5", 6.5))
    expected = []
    for k, machine in enumerate(found.plumb, 1):
        # one plumb chain of 20 kg and a shackle of 3 kg below each hook; 5 % error of the mass
        hung = machine.setup.lift.load.mass_t * 1.05 + 0.023
        hoisted = hung * float(machine.setup.gross.dynamic_factor)
        for name, rated in items:
            force, used = f"{hoisted * 9.80665:.2f}", f"{100 * hoisted / rated:.2f}"
            expected.append((f"Machine {k}", name, force, force, f"{rated:.2f}", used, used))
    assert [row[:7] for row in rows] == expected
    assert rows[0][2] != rows[2][2]


def test_an_estimate_is_no_capacity_in_the_table_of_use(demo: Job) -> None:
    both = assess_tandem(demo, "T1", steps=20)
    rated = use_rows(both, show)
    study = both.pulled[0].study
    capacity = study.capacity
    guessed = dataclasses.replace(capacity, source=np.full_like(capacity.source, ESTIMATE))
    assert np.isfinite(guessed.capacity_t).all()
    both.pulled[0].__dict__["study"] = dataclasses.replace(study, capacity=guessed)
    first, second = use_rows(both, show)
    assert (first[3], first[5], first[6]) == ("not rated", "–", "–")
    assert second == rated[1]
    assert np.isnan(tandem_class(both).used_ratio)
    assert tandem_class(both).triggers[0][1]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"lug_distance_m": [6.0, 6.0]}, "together at most the load's length"),
        ({"load__cg_x_m": 0.2}, "lifting points are given from it"),
        ({"lug_above_cg_m": [0.6, 0.3]}, "rigging.point_height_m 0.9 m, not 1.2 m"),
        ({"load__cg_error_x_m": 0.1}, "load.cg_error_x_m left out"),
        ({"cg_error_m": 3.5}, "cg_error_m less than either lug_distance_m"),
        ({"level_error_m": 9.0}, "level_error_m less than"),
        ({"carry_level_m": 3.0}, "carry_level_m at least"),
        ({"derating_reference": " "}, "who states the derating"),
        ({"m0__derating_factor": 1.2}, "derating_factor"),
        ({"m1__machine": "none-such"}, "machines\\[1\\]: machine 'none-such'"),
        ({"m1__mat": "none-such"}, "machines\\[1\\]: mat is 'none-such'"),
        ({"m0__legs__FL": 9.0}, "outrigger FL is 9.0 m"),
        ({"m0__boom_length_m": 70.0}, "boom_length_m is 70.0"),
        ({"id": "L1"}, "ids used once each"),
        ({"level_error_m": float("nan")}, "level_error_m"),
    ],
)
def test_facts_that_do_not_fit_are_refused(demo: Job, change: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        changed(demo, **change)


def test_unknown_lifts_and_places_out_of_reach_are_refused(demo: Job) -> None:
    with pytest.raises(InputError, match="one of T1"):
        assess_tandem(demo, "T9")
    far = {"easting_m": 29.0, "northing_m": 40.0, "level_m": 4.0, "bearing_deg": 12.0}
    with pytest.raises(InputError, match="set_down lies at radius"):
        assess_tandem(changed(demo, set_down=far), "T1")


def test_a_single_lift_keeps_no_tandem_lift(demo: Job) -> None:
    assert demo.for_lift("L1").tandem_lifts == ()
    assert [t.id for t in demo.tandem_lifts] == ["T1"]


def test_no_line_pulls_more_than_the_greatest_force_shown(found: TandemAssessment) -> None:
    """Either line out of plumb either way, hooks and centre of gravity off either way."""
    t, most = found.tandem, np.zeros(2)
    more = 1.0 + t.load.contingency_percent / 100.0
    for turn, level, lean, off in itertools.product((1, -1), (1, -1), (1, -1), (1, -1)):
        one = tandem_share(
            t.load.mass_t,
            np.array(t.lug_distance_m[::turn]) + off * t.cg_error_m * np.array([1.0, -1.0]),
            lug_above_cg_m=t.lug_above_cg_m[::turn],
            level_difference_m=level * t.level_error_m,
            out_of_plumb_deg=lean * t.out_of_plumb_error_deg,
        )
        most = np.maximum(most, more * one.line_force_kN[::turn])
    assert found.shares.max_line_force_kN == pytest.approx(most, rel=1e-9)
