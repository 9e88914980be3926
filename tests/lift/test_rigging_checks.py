"""Rigging of a lift: hand statics of the demo lifts, ratings in real use, doubt about the CG."""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np
import pytest
from demo_changes import assessed as changed
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.base.text import text_in_units
from liftcalc.base.units import G_M_S2
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.rigging_checks import height_rows, rigging_checks, rigging_item_rows, table_rows
from liftcalc.rigging.attitude import hang_on_slings
from liftcalc.rigging.slings import bridle_tensions


def rows_of(lift: LiftAssessment) -> dict[str, Check]:
    return {c.id: c for c in rigging_checks(lift.setup, lift.rigging)}


def show(value: float | None, quantity: str) -> str:
    return f"{value:.3f} {quantity}"


def test_equal_slings_tilt_the_off_centre_spool_as_plane_statics_say(demo: Job) -> None:
    study = assess_lift(demo, "L4").rigging
    # 6 m slings, points 4 m apart at 0.9 m, centre of gravity 0.2 m off at 0.5 m height
    rise = np.sqrt(6.0**2 - 2.0**2)
    above = 0.4 + rise
    tilt = np.arctan2(0.2, above)
    assert study.tilt_deg == pytest.approx(np.degrees(tilt), rel=1e-9)
    mass = 2.9 * 1.1 + study.mass_t
    slope = np.arctan2(rise, 2.0)
    # leg 1 (+x, the low side) hangs steeper; T1 cos a1 = T2 cos a2, T1 sin a1 + T2 sin a2 = W
    a1, a2 = slope + tilt, slope - tilt
    weight = study.factor * mass * G_M_S2
    t1 = weight * np.cos(a2) / np.sin(a1 + a2)
    t2 = weight * np.cos(a1) / np.sin(a1 + a2)
    assert study.tension_kN == pytest.approx([t1, t2], rel=1e-9)
    assert study.angle_from_horizontal_deg == pytest.approx(np.degrees(min(a1, a2)), rel=1e-9)


def test_two_legs_let_the_load_roll_about_the_line_of_its_points(demo: Job) -> None:
    study = changed(demo, "L3", load__cg_x_m=0.0, load__cg_y_m=0.03).rigging
    assert study.tilt_deg == pytest.approx(np.degrees(np.arctan2(0.03, 1.3 - 0.7)), rel=1e-9)
    hang = hang_on_slings(study.lugs_m, [4.0, 4.0], cg_m=study.cg_m)
    assert study.hook_m == pytest.approx(hang.hook_m, abs=1e-9)
    assert study.hanging.low_side_deg == pytest.approx(90.0)


def test_one_leg_hangs_the_load_below_its_point(demo: Job) -> None:
    study = changed(demo, "L3", rigging__sling_legs=1, rigging__point_spacing_x_m=0.0).rigging
    assert study.tilt_deg == pytest.approx(np.degrees(np.arctan2(0.1, 0.6)), rel=1e-9)
    weight = study.factor * study.hanging.gear.hung_t * G_M_S2
    assert study.tension_kN == pytest.approx([weight])


def test_three_legs_take_the_hook_of_the_slings(demo: Job) -> None:
    study = changed(demo, "L7", rigging__sling_legs=3).rigging
    reach = np.linalg.norm(study.lugs_m - study.hook_m, axis=1)
    assert reach == pytest.approx([4.0, 4.0, 4.0], rel=1e-9)


@pytest.mark.parametrize(("lift", "x", "y"), [("L3", 0.1, 0.0), ("L4", 0.3, 0.0), ("L7", 0.4, 0.3)])
def test_adjusted_legs_bring_the_hook_over_the_centre_of_gravity(demo: Job, lift: str, x: float, y: float) -> None:
    study = changed(demo, lift, rigging__leg_lengths="adjusted", load__cg_x_m=x, load__cg_y_m=y).rigging
    assert study.tilt_deg == pytest.approx(0.0, abs=1e-9)
    reach = np.linalg.norm(study.lugs_m - study.hook_m, axis=1)
    gear = study.hanging.gear
    assert reach == pytest.approx(gear.leg_lengths_m, rel=1e-9)
    assert reach.max() == pytest.approx(gear.leg_length_m, rel=1e-9)


def test_inclined_slings_below_the_spreader_press_it_further(demo: Job) -> None:
    lift = changed(demo, "L6", rigging__point_spacing_x_m=3.0)
    study = lift.rigging
    gear, state = study.hanging.gear, study.stated
    assert gear.beam is not None
    assert state.compression_kN is not None
    across = 0.5 / 2
    drop = np.sqrt(5.0**2 - across**2 - 0.5**2)
    rise = np.sqrt(5.0**2 - 2.0**2)
    half = gear.hung_t * G_M_S2 / 2
    pull = half * 0.5 / drop
    press = (half + gear.beam.mass_t * G_M_S2 / 2) * 2.0 / rise + pull
    assert state.compression_kN[0] == pytest.approx(press, rel=1e-8)
    assert study.tension_kN[2] == pytest.approx(study.factor * np.hypot(half, pull), rel=1e-8)
    # hook height: points + bottom slings + top slings
    assert study.hanging.hook_height_m == pytest.approx(2.0 + drop + rise, rel=1e-8)
    plumb = assess_lift(demo, "L6").rigging.stated.compression_kN
    assert plumb is not None
    assert state.compression_kN[0] > plumb[0]


def test_a_top_sling_of_its_own_is_rated_and_weighed(demo: Job) -> None:
    own = changed(demo, "L6", rigging__top_sling="round-4m-3").rigging
    by_name = {i.name: i for i in own.items}
    assert by_name["top sling 1"].rated_t == pytest.approx(3.0)
    assert by_name["bottom sling at end 1"].rated_t == pytest.approx(5.3)
    assert own.angle_from_horizontal_deg == pytest.approx(60.0, rel=1e-8)
    both = assess_lift(demo, "L6").rigging
    assert both.mass_t - own.mass_t == pytest.approx(2 * (0.020 - 0.004))


def test_an_off_centre_load_under_a_spreader_tilts_with_it(demo: Job) -> None:
    lift = changed(demo, "L6", load__cg_x_m=0.2, load__cg_y_m=0.02)
    study = lift.rigging
    gear = study.hanging.gear
    assert gear.beam is not None
    rise = np.sqrt(21.0)
    pitch = gear.hung_t * 0.2 / ((gear.hung_t + gear.beam.mass_t) * rise + gear.hung_t * 0.9)
    apex = np.sqrt(25.0 - 0.25**2)
    roll = 0.02 / (0.9 + apex)
    assert study.tilt_deg == pytest.approx(np.degrees(np.hypot(pitch, roll)), rel=2e-3)
    ends = study.stated.end_kN
    assert ends is not None
    assert ends[0, 1] > ends[0, 0]
    level = changed(demo, "L6", load__cg_x_m=0.2, rigging__leg_lengths="adjusted").rigging
    assert level.tilt_deg == pytest.approx(0.0, abs=1e-5)


def test_a_lifting_beam_is_hung_by_its_middle(demo: Job) -> None:
    lift = changed(demo, "L6", shelf__spreader_4m__kind="lifting beam")
    study = lift.rigging
    assert study.stated.top_tension_kN is None
    gear = study.hanging.gear
    assert gear.beam is not None
    assert study.stated.moment_kNm is not None
    moment = (gear.hung_t * 4.0 / 4.0 + gear.beam.mass_t * 4.0 / 8.0) * G_M_S2
    assert study.stated.moment_kNm[0] == pytest.approx(moment, rel=1e-8)
    assert {i.name for i in study.items} >= {"lifting beam spreader-4m", "bottom sling at end 1"}
    assert not any("top sling" in i.name for i in study.items)
    assert "sling-angle-below" in rows_of(lift)


@pytest.mark.parametrize("change", [{"rigging__sling_legs": 3}, {"rigging__leg_length_m": 0.2}])
def test_a_beam_that_does_not_fit_is_refused(demo: Job, change: dict[str, Any]) -> None:
    with pytest.raises(InputError, match=r"2 or 4 with a beam|longer than"):
        changed(demo, "L6", **change)


# ----- ratings


def test_a_soft_eye_on_a_thin_pin_loses_strength(demo: Job) -> None:
    study = assess_lift(demo, "L1").rigging
    leg = study.items[0]
    ratio = 22.0 / 20.0
    share = (1 - 0.5 / np.sqrt(ratio)) / (1 - 0.5 / np.sqrt(2.0))
    assert leg.rated_t == pytest.approx(4.6 * share, rel=1e-12)
    assert "DOE-STD-1090" in leg.edition
    assert "CEN" in leg.owner
    check = rows_of(assess_lift(demo, "L1"))["eye-wire-6m-20"]
    assert check.value == pytest.approx(100 * leg.force_kN / (4.6 * share * G_M_S2))
    assert "D/d 1.10, 0.81 of its limit" in check.where


def test_thimbles_and_thick_pins_keep_the_table_s_limit(demo: Job) -> None:
    for change in ({"shelf__wire_6m_20__eye": "thimble"}, {"shelf__shackle_4.75__pin_diameter_mm": 40.0}):
        lift = changed(demo, "L1", **change)
        assert lift.rigging.items[0].rated_t == pytest.approx(4.6)


@pytest.mark.parametrize(
    "change",
    [
        {"shelf__shackle_4.75__pin_diameter_mm": 19.0},  # D/d below 1
        {"rigging__hook_diameter_mm": None},
        {"rigging__shackle": None},
    ],
)
def test_an_unknown_or_unpublished_bend_never_reads_as_a_pass(demo: Job, change: dict[str, Any]) -> None:
    if change == {"rigging__shackle": None}:
        lift = changed(demo, "L1", **change)
        with pytest.raises(InputError, match="at least one rigging item"):
            _ = lift.rigging
        return
    lift = changed(demo, "L1", **change)
    missing = [c for c in rows_of(lift).values() if c.status == "no_data"]
    assert {c.id for c in missing} == {f"rating-sling-leg-{k}" for k in (1, 2, 3, 4)}
    assert lift.verdict.status != "within"


def test_an_unstated_eye_counts_as_soft(demo: Job) -> None:
    stated = assess_lift(demo, "L1").rigging.items[0]
    assert changed(demo, "L1", shelf__wire_6m_20__eye=None).rigging.items[0] == stated


def test_a_choke_hitch_needs_its_leg_length_and_takes_its_angle(demo: Job) -> None:
    with pytest.raises(InputError, match="a choke hitch takes sling round the load"):
        changed(demo, "L7", rigging__hitch="choke")
    choke = {"rigging__hitch": "choke", "rigging__leg_length_m": 3.2}
    assumed = changed(demo, "L7", **choke).rigging.items[0]
    assert assumed.rated_t == pytest.approx(3.0 * 0.8 * 0.87)  # 120 degrees: band 90 to 120
    assert "choke angle 120° assumed" in assumed.basis
    tight = changed(demo, "L7", **choke, rigging__choke_angle_deg=50.0).rigging.items[0]
    assert tight.rated_t == pytest.approx(3.0 * 0.8 * 0.62)
    free = changed(demo, "L7", **choke, rigging__choke_angle_deg=130.0).rigging.items[0]
    assert free.rated_t == pytest.approx(3.0 * 0.8)


def test_a_basket_hangs_by_half_its_sling_and_bends_round_the_load(demo: Job) -> None:
    basket = {"rigging__hitch": "basket", "rigging__sling": "wire-4m-16"}
    study = changed(demo, "L3", **basket).rigging
    assert study.hanging.gear.leg_length_m == pytest.approx(2.0)
    assert study.items[0].rated_t == pytest.approx(2 * 3.0)
    assert "bend D/d 25 or more assumed" in study.items[0].basis
    sharp = changed(demo, "L3", **basket, rigging__bend_diameter_mm=160.0).rigging.items[0]
    assert sharp.rated_t == pytest.approx(2 * 3.0 * (1 - 0.76 / 10**0.73))
    wide = changed(demo, "L3", **basket, rigging__basket_part_angle_deg=30.0).rigging.items[0]
    assert wide.rated_t == pytest.approx(2 * 3.0 * np.cos(np.radians(30.0)))
    edge = changed(demo, "L3", **basket, rigging__bend_diameter_mm=10.0)
    assert any(c.status == "no_data" for c in rows_of(edge).values())


@pytest.mark.parametrize(
    ("plate", "ratio", "angle"), [("along x", 0.7, 14.478), ("along y", 0.7, 22.024), ("toward hook", 1.0, 0.0)]
)
def test_side_load_of_a_shackle_comes_from_the_true_angle(demo: Job, plate: str, ratio: float, angle: float) -> None:
    # points at 1.5 m and 1.0 m from the middle, slings of 4 m: asin(1.0/4), asin(1.5/4)
    study = changed(demo, "L7", rigging__lug_plate=plate).rigging
    shackle = next(i for i in study.items if i.kind == "shackle")
    assert shackle.rated_t == pytest.approx(3.25 * ratio)
    row = rows_of(changed(demo, "L7", rigging__lug_plate=plate))["shackle-side"]
    assert row.value == pytest.approx(100 * shackle.force_kN / (3.25 * ratio * G_M_S2))
    assert f"{angle:.1f}° out of the plate" in text_in_units(shackle.basis, "metric")


def test_a_round_pin_pulled_sideways_has_no_rating(demo: Job) -> None:
    lift = changed(demo, "L7", **{"shelf__shackle_3.25__pin": "round pin"})
    row = rows_of(lift)["rating-shackle-3.25"]
    assert row.status == "no_data"


# ----- doubt about the centre of gravity


def test_the_worst_tension_is_that_of_a_box_of_places_of_the_centre_of_gravity(demo: Job) -> None:
    study = assess_lift(demo, "L2").rigging
    assert study.worst is not None
    signs = np.array(list(product(np.linspace(-1.0, 1.0, 5), repeat=3)))
    worst, tilt = np.zeros(len(study.lugs_m)), 0.0
    for place in study.cg_m + signs * [0.03, 0.03, 0.05]:
        bridle = bridle_tensions(study.hanging.gear.hung_t, study.lugs_m, hook_m=study.hook_m, cg_m=place)
        worst, tilt = np.maximum(worst, bridle.tension_kN), max(tilt, float(bridle.tilt_deg))
    assert study.worst.leg_tension_kN.max(axis=0) == pytest.approx(worst, rel=1e-12)
    assert rows_of(assess_lift(demo, "L2"))["load-tilt"].value == pytest.approx(tilt)


def test_a_centre_of_gravity_that_may_lie_outside_the_points_is_over_the_limit(demo: Job) -> None:
    rows = rows_of(changed(demo, "L2", load__cg_error_x_m=0.65))
    for name in ("rigging-cg", "load-tilt"):
        assert rows[name].status == "over"
        assert rows[name].value is None
        assert rows[name].remedy
    assert rows["rigging"].status == "within"
    assert "no three slings can carry the load" in rows["rigging-cg"].where


def test_an_unstated_error_is_assumed_and_told(demo: Job) -> None:
    lift = changed(demo, "L7", load__cg_error_x_m=None)
    assert lift.rigging.hanging.error_m == pytest.approx([0.05 * 3.6, 0.1, 0.15])
    assert "x not stated: 5 % of the load's size assumed" in rows_of(lift)["load-tilt"].where


def test_the_owner_s_tilt_limit_governs(demo: Job) -> None:
    assert rows_of(assess_lift(demo, "L4"))["load-tilt"].status == "within"
    strict = rows_of(changed(demo, "L4", rigging__tilt_limit_deg=3.0))["load-tilt"]
    assert strict.status == "over"
    assert "Adjust the sling legs so that the hook stands over" in strict.remedy


@settings(deadline=None, max_examples=25)
@given(st.sampled_from(["L1", "L3", "L4", "L6", "L7"]), st.floats(0.0, 0.05), st.floats(0.0, 0.02))
def test_more_doubt_never_lowers_the_worst_force(demo: Job, lift: str, x: float, y: float) -> None:
    def worst(scale: float) -> float:
        study = changed(demo, lift, load__cg_error_x_m=scale * x, load__cg_error_y_m=scale * y).rigging
        assert study.greatest is not None
        assert all(i.worst_kN >= i.force_kN - 1e-9 for i in study.items)
        return study.greatest.worst_utilisation

    assert worst(2.0) >= worst(1.0) - 1e-9


@settings(deadline=None, max_examples=25)
@given(st.sampled_from([2, 3, 4]), st.floats(-0.2, 0.2), st.floats(-0.05, 0.05), st.sampled_from(["equal", "adjusted"]))
def test_the_slings_hold_the_load_whatever_its_attitude(demo: Job, legs: int, x: float, y: float, lengths: str) -> None:
    study = changed(
        demo,
        "L7",
        rigging__sling_legs=legs,
        rigging__point_spacing_y_m=0.0 if legs == 2 else 2.0,
        rigging__leg_lengths=lengths,
        load__cg_x_m=x,
        load__cg_y_m=y,
        load__cg_error_x_m=0.0,
        load__cg_error_y_m=0.0,
    ).rigging
    state = study.stated
    weight = study.hanging.gear.hung_t * G_M_S2
    held = np.einsum("n,ni->i", state.leg_tension_kN[0], state.leg_direction[0])
    if legs < 4:  # four: each leg's greatest, not one state
        assert held == pytest.approx(weight * state.plumb[0], abs=1e-3)
    else:
        assert held @ state.plumb[0] >= weight * (1 - 1e-9)
    up = (study.hook_m - study.cg_m) / np.linalg.norm(study.hook_m - study.cg_m)
    assert up == pytest.approx(state.plumb[0], abs=1e-9)


# ----- hook height, tables, sheet


def test_hook_height_counts_the_lowest_corner_of_a_tilted_load(demo: Job) -> None:
    study = assess_lift(demo, "L4").rigging
    rise = np.sqrt(32.0)
    tilt = np.radians(study.tilt_deg)
    # from the lowest corner (2.5, 0) to the hook (0, 0.9 + rise), along the plumb line
    height = (0.9 + rise) * np.cos(tilt) + 2.5 * np.sin(tilt)
    assert study.hanging.hook_height_m == pytest.approx(height, rel=1e-9)
    assert assess_lift(demo, "L4").setup.sling_height_m == pytest.approx(height - 0.9, rel=1e-9)


@pytest.mark.parametrize(
    ("lift", "wll_t"),
    [
        ("L1", 9.8),  # EN 13414-1:2003 Table 4, 20 mm, four legs to 45 degrees
        ("L2", 6.3),  # the same, 16 mm
        ("L3", 4.2),  # 16 mm, two legs to 45 degrees
        ("L4", 6.5),  # 20 mm, two legs
        ("L6", 7.5),  # EN 818-4 grade 8, 13 mm, two legs above the spreader
        ("L7", 3.0 * 2.1),  # EN 1492, four legs to 45 degrees
        ("L8", 11.2),  # EN 818-4 grade 8, 13 mm, four legs
    ],
)
def test_the_published_table_stands_beside_statics(demo: Job, lift: str, wll_t: float) -> None:
    study = assess_lift(demo, lift).rigging
    (row,) = study.tables
    assert row.wll_t == pytest.approx(wll_t)
    assert row.percent == pytest.approx(100 * row.load_t / wll_t)
    assert row.why


def test_the_uniform_load_method_applies_only_under_its_conditions(demo: Job) -> None:
    assert not assess_lift(demo, "L1").rigging.tables[0].applies  # legs 8 degrees from plumb
    spool = assess_lift(demo, "L4").rigging.tables[0]
    assert spool.applies
    assert "EN 818-6" in spool.why
    odd = changed(demo, "L4", shelf__wire_6m_20__diameter_mm=21.0).rigging.tables[0]
    assert np.isnan(odd.wll_t)
    assert not odd.applies
    assert "not listed" in odd.why


def test_every_demo_item_has_force_rating_edition_and_owner(demo: Job) -> None:
    for data in demo.lifts:
        lift = assess_lift(demo, data.id)
        study = lift.rigging
        assert study.weakest.greatest_utilisation == pytest.approx(max(i.utilisation for i in study.items))
        for item in study.items:
            assert item.worst_kN >= item.force_kN > 0
            assert item.rated_t > 0
            assert item.edition
            assert item.owner
            assert item.basis
        rows = rigging_item_rows(study, show)
        assert sum("(weakest)" in r[0] for r in rows) == 1
        assert all(all(cell for cell in row) for row in rows)
        assert table_rows(study, show)
        assert height_rows(lift.setup, study, show)
        checks = rows_of(lift)
        assert {"rigging", "rigging-cg", "load-tilt", "points-above-cg"} <= set(checks)
        assert all(c.status == "within" for c in checks.values())


def test_facts_refuse_data_that_belong_to_another_hitch(demo: Job) -> None:
    for change, text in (
        ({"rigging__choke_angle_deg": 100.0}, "only with a choke hitch"),
        ({"rigging__bend_diameter_mm": 100.0}, "only with a basket hitch"),
        ({"rigging__top_sling": "round-4m-3"}, "only with a beam"),
    ):
        with pytest.raises(InputError, match=text):
            changed(demo, "L1", **change)
    with pytest.raises(InputError, match="top_sling is 'rope'"):
        changed(demo, "L6", rigging__top_sling="rope")
    with pytest.raises(InputError, match="at most 6 m"):
        changed(demo, "L1", rigging__leg_length_m=7.0)


def test_a_sling_set_is_not_loaded_above_its_mark_whatever_statics_allows(demo: Job) -> None:
    """L6 hangs on two chain legs of 13 mm: 7.5 t up to 45 degrees from plumb (EN 818-4)."""
    lift = changed(demo, "L6")
    row = rows_of(lift)["sling-table"]
    assert row.limit == pytest.approx(7.5)
    assert row.value == pytest.approx(lift.rigging.tables[0].load_t / lift.rigging.factor)
    assert row.status == "within"
    heavier = changed(demo, "L6", load__mass_t=demo.for_lift("L6").lifts[0].load.mass_t + 0.2)
    assert rows_of(heavier)["rigging"].status == "within"  # each leg alone would pass
    assert rows_of(heavier)["sling-table"].status == "over"
