"""Each row along the path and of the base: at its worst step, within and over, and without data."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pytest

from liftcalc.base.checks import Check
from liftcalc.base.text import amount, text_in_units
from liftcalc.crane.legs import base_polygon
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.capacity_checks import no_load_checks, path_checks
from liftcalc.lift.path import worst_step_check
from liftcalc.lift.path_study import capacity_grid
from liftcalc.lift.placing import base_checks, mat_checks
from liftcalc.reactions.moments import resultant

Assess = Callable[..., LiftAssessment]
Row = Callable[[Iterable[Check], str], Check]


def heavy(mass_t: float) -> Callable[[Any, Any], object]:
    return lambda job, lift: lift["load"].update(mass_t=mass_t)


@pytest.mark.parametrize(
    ("value", "limit", "name", "step"),
    [
        (np.array([1.0, 3.0, 3.0, 2.0]), 2.5, "radius-greatest", 1),
        (np.array([4.0, 1.0, 1.0, 2.0]), 0.5, "radius-least", 1),
        (2.0, np.array([5.0, 4.0, 1.0, 1.0]), "radius-greatest", 2),
    ],
)
def test_the_worst_step_is_the_greatest_value_or_the_least_margin_and_of_equal_ones_the_first(
    assess: Assess, value: Any, limit: Any, name: str, step: int
) -> None:
    lift = assess("L1", steps=3)
    path = dataclasses.replace(
        lift.path,
        **{name: getattr(lift.path, name)[:4] for name in ("slew_deg", "radius_m", "level_m")},
        stage=lift.path.stage[:4],
    )
    found = worst_step_check(path, name, value, limit, angle=10.0, boom=20.0)
    assert found.value == pytest.approx(value if np.ndim(value) == 0 else value[step])
    assert found.limit == pytest.approx(limit if np.ndim(limit) == 0 else limit[step])
    assert found.where == f"{path.describe(step)}; boom {amount(20.0, 'length_m')}"


@pytest.mark.parametrize("lift", ["L1", "L2"])  # anticlockwise and clockwise
def test_rows_of_the_path_stand_at_its_worst_step(assess: Assess, row: Row, lift: str) -> None:
    a = assess(lift)
    study, path = a.study, a.path
    rows = path_checks(a.setup, study)
    turned = path.slew_deg[-1] - path.slew_deg[0]
    assert (turned < 0) == (lift == "L2")
    for id, values, worst in (
        ("stability-rule", study.stability_t, "limit"),
        ("stability-tipping", study.tipping_t, "limit"),
        ("head-room", study.head_room_m, "value"),
        ("radius-least", path.radius_m, "value"),
        ("radius-greatest", -path.radius_m, "value"),
    ):
        found, step = row(rows, id), int(np.argmin(values))
        assert getattr(found, worst) == pytest.approx(abs(values[step]))
        assert found.where.startswith(path.describe(step))
    over = study.tipping_line[int(np.argmin(study.tipping_t))]
    assert f"tipping line {over}" in row(rows, "stability-tipping").where


def test_a_remedy_for_rated_capacity_is_enough_when_followed(assess: Assess, row: Row) -> None:
    over = assess("L1", heavy(13.0))
    found = row(path_checks(over.setup, over.study), "capacity")
    assert found.status == "over"
    remedy = text_in_units(found.remedy, "metric")
    numbers = re.search(r"within ([\d.]+) m radius .* take ([\d.]+) t off", remedy)
    assert numbers is not None
    radius, off = (float(n) for n in numbers.groups())
    slew = over.path.slew_deg[[over.study.governing_step]]
    near = capacity_grid(over.setup, slew, [radius])
    assert near.capacity_t[0, 0] >= over.setup.gross_t
    assert capacity_grid(over.setup, slew, [radius + 0.1]).capacity_t[0, 0] < over.setup.gross_t
    share = 1 + over.setup.lift.load.contingency_percent / 100
    for rest, status in ((off, "within"), (off - 0.02, "over")):
        lighter = assess("L1", heavy(13.0 - rest / share))
        assert row(path_checks(lighter.setup, lighter.study), "capacity").status == status


def test_what_may_be_used_of_a_capacity_is_the_rules_share(assess: Assess, row: Row) -> None:
    def shared(percent: float) -> LiftAssessment:
        return assess("L1", lambda job, lift: job["rules"].update(utilisation_limit_percent=percent))

    whole = shared(100.0)
    used = whole.setup.gross_t / float(whole.study.capacity.capacity_t[whole.study.governing_step])
    for percent, status in ((100 * used + 0.1, "within"), (100 * used - 0.1, "over")):
        a = shared(percent)
        found = row(path_checks(a.setup, a.study), "capacity")
        assert found.status == status
        assert found.limit == pytest.approx(whole.setup.gross_t / used * percent / 100)


def test_without_a_rating_the_row_has_no_data_and_no_number_reads_as_a_limit(assess: Assess, row: Row) -> None:
    def retracted(job: Any, lift: Any) -> None:
        job["charts"] = [c for c in job["charts"] if c["base_name"] != "retracted"]
        lift["legs"] = {"FL": 1.3, "FR": 1.3, "RR": 1.3, "RL": 1.3}

    estimate = assess("L3", retracted)
    found = row(path_checks(estimate.setup, estimate.study), "capacity")
    assert found.status == "no_data"
    assert "estimate" in found.reference
    assert "FL 1.30 m of 3.20 m" in text_in_units(found.remedy, "metric")
    assert found.words == "no capacity data"
    data = row(base_checks(estimate.setup, estimate.study), "layout-capacity-data")
    assert data.status == "no_data"
    missing = np.isnan(estimate.study.utilisation) | (estimate.study.capacity.source >= ESTIMATE)
    assert f"missing on {100 * missing.mean():.0f} % of the load path" in data.where
    assert data.where.endswith(estimate.path.describe(int(np.argmax(missing))))

    def unrated(job: Any, lift: Any) -> None:
        for chart in job["charts"]:
            rated = [
                (n, k)
                for n, line in enumerate(chart["capacity_t"])
                for k, value in enumerate(line)
                if value is not None
            ]
            for n, k in rated[1:]:
                chart["capacity_t"][n][k] = None

    nothing = assess("L3", unrated)
    found = row(path_checks(nothing.setup, nothing.study), "capacity")
    assert (found.status, found.limit) == ("no_data", None)
    assert "No chart rates" in found.remedy


def test_hook_block_and_rope_hold_to_the_machine_data(assess: Assess, row: Row) -> None:
    a = assess("L1")
    gross, block = a.setup.gross_t, a.setup.hook_block
    tail, foot = a.setup.machine.superstructure.tail_radius_m, a.setup.machine.boom.foot_u_m
    rope = block.falls * a.setup.rope_length_m + a.setup.boom.length_m + tail + foot
    assert not [c for c in path_checks(a.setup, a.study) if c.id == "hoist-rope"]

    def machine(more: float) -> Callable[[Any, Any], object]:
        def change(job: Any, lift: Any) -> None:
            one = next(m for m in job["machines"] if m["id"] == lift["machine"])
            one["rope_length_m"] = rope + more
            for data in one["hook_blocks"]:
                data["capacity_t"] = gross + more

        return change

    for more, status in ((0.01, "within"), (-0.01, "over")):
        b = assess("L1", machine(more))
        rows = path_checks(b.setup, b.study)
        assert row(rows, "hook-block").status == row(rows, "hoist-rope").status == status
        assert row(rows, "hoist-rope").value == pytest.approx(rope)


def test_room_below_the_head_and_the_booms_range_can_fail(assess: Assess, row: Row) -> None:
    a = assess("L1")
    room = float(a.study.head_room_m.min())
    for least, status in ((room - 0.01, "within"), (room + 0.01, "over")):
        b = assess("L1", lambda job, lift, m=least: job["rules"]["clearance"].update(head_room_m=m))
        assert row(path_checks(b.setup, b.study), "head-room").status == status
    boom, path = a.setup.boom, a.path
    for id, radius in (("radius-greatest", boom.radius_max_m + 0.01), ("radius-least", boom.radius_min_m - 0.01)):
        moved = dataclasses.replace(path, radius_m=np.where(path.slew_deg > 60, radius, path.radius_m))
        study = dataclasses.replace(a.study, path=moved)
        found = row(path_checks(a.setup, study), id)
        assert found.status == "over"
        assert found.value == pytest.approx(radius)


@pytest.mark.parametrize(
    ("x", "y", "within", "status"), [(0.6, -0.8, None, "within"), (0.6, 0.81, None, "over"), (0.3, 0.4, 0.49, "over")]
)
def test_out_of_level_is_the_resultant_slope_and_at_most_what_is_permitted(
    assess: Assess, row: Row, x: float, y: float, within: float | None, status: str
) -> None:
    def leaning(job: Any, lift: Any) -> None:
        lift["stand"] |= {"tilt_x_percent": x, "tilt_y_percent": y, "level_within_percent": within}

    a = assess("L1", leaning)
    found = row(path_checks(a.setup, a.study), "level")
    assert found.status == status
    assert found.value == pytest.approx(np.hypot(x, y))
    assert found.limit == pytest.approx(within or 1.0)
    assert "stability" in found.where


def test_backward_stability_is_over_with_more_counterweight_than_the_base_holds(assess: Assess, row: Row) -> None:
    a = assess("L3")
    shares = []
    for mass, status in ((0.0, "within"), (15.0, "over")):
        # as much again, 3 m behind the slew axis
        masses = a.setup.masses
        whole = masses.slewing_mass_t + mass
        behind = (masses.slewing_mass_t * masses.slewing_u_m - mass * 3.0) / whole
        fitted = dataclasses.replace(masses, slewing_mass_t=whole, slewing_u_m=behind)
        setup = dataclasses.replace(a.setup, masses=fitted)
        found = row(no_load_checks(setup, a.study), "backward-stability")
        assert (found.status, found.limit) == (status, 15.0)
        assert found.where.startswith("boom at its minimum radius")
        shares.append(found.value)
    assert shares[0] > shares[1]


def test_the_least_loaded_side_is_found_for_every_lean_on_a_rectangular_base(assess: Assess, row: Row) -> None:
    def owners(percent: float) -> LiftAssessment:
        def change(job: Any, lift: Any) -> None:
            job["rules"]["least_leg_share_percent"] = percent
            lift["legs"] = {"FL": 3.2, "FR": 3.2, "RR": 3.2, "RL": 3.2}

        return assess("L1", change)

    a = owners(10.0)
    shares = []
    for x, y in a.setup.tilts_deg():
        at = resultant(
            a.path.slew_deg, a.study.boom, base=a.setup.base, masses=a.setup.masses,
            load_t=a.setup.gross_t, tilt_x_deg=x, tilt_y_deg=y, layout="pairs",
        )  # fmt: skip
        front, left = (at.x_m + 3.5) / 6.8, (at.y_m + 3.2) / 6.4
        shares.append(np.min([front, 1 - front, left, 1 - left], axis=0))
    least = 100 * np.min(shares, axis=0)
    found = row(no_load_checks(a.setup, a.study), "least-side-share")
    assert found.value == pytest.approx(least.min())
    assert found.where.startswith(a.path.describe(int(np.argmin(least))))
    assert found.status == ("within" if least.min() >= 10.0 else "over")
    for more, status in ((-0.01, "within"), (0.01, "over")):
        b = owners(float(least.min()) + more)
        assert row(no_load_checks(b.setup, b.study), "least-side-share").status == status
    none = assess("L1")
    assert [c.id for c in no_load_checks(none.setup, none.study)] == ["backward-stability"]


def test_mats_that_overlap_or_are_missing_on_the_shelf_fail(assess: Assess, row: Row) -> None:
    def mats(job: Any, lift: Any) -> None:
        lift["legs"] = {"FL": 1.25, "FR": 1.25, "RR": 1.25, "RL": 1.25}
        mat = next(m for m in job["mats"] if m["id"] == lift["mat"])
        mat |= {"width_m": 2.6, "length_m": 2.6, "quantity": 3}

    a = assess("L3", mats)
    rows = base_checks(a.setup, a.study) + mat_checks(a.setup, a.place)
    apart, shelf = row(rows, "mats-apart"), row(rows, "mats-on-shelf")
    assert (apart.status, shelf.status) == ("over", "over")
    assert apart.value == pytest.approx(0.1 * 2.6)
    assert {"FL", "FR"} < set(apart.where.split()) or {"RR", "RL"} < set(apart.where.split())
    assert shelf.value == 1.0
    inside = row(rows, "slew-centre-inside")
    assert inside.status == "within"
    assert inside.value == pytest.approx(1.25)
    shifted = base_polygon(a.setup.leg_xy_m + np.array([3.6, 0.0]))
    outside = dataclasses.replace(a.setup, base=shifted)
    found = row(base_checks(outside, a.study), "slew-centre-inside")
    assert found.status == "over"
    assert found.value == pytest.approx(-0.1)
    assert found.where == "RL-RR"
