"""Hitches, shackles, tables, heights and the weakest item."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.base.units import G_M_S2
from liftcalc.rigging.assembly import RiggingItem, rigging_height, weakest_item
from liftcalc.rigging.hitches import (
    basket_factor,
    bend_efficiency_ratio,
    choke_angle_ratio,
    leg_rating,
    shackle_rating,
    side_load_angle_deg,
    side_load_ratio,
    soft_eye_bearing,
    textile_mode_factor,
)
from liftcalc.rigging.tables import (
    CHAIN_SLINGS_GRADE_8_EN,
    WIRE_ROPE_SLINGS_EN,
    SlingTable,
    sling_table_wll,
    uniform_load_applies,
)


@settings(deadline=None)
@given(a=st.floats(0, 180), b=st.floats(0, 180))
def test_a_sharper_choke_never_rates_higher(a: float, b: float) -> None:
    low, high = sorted((a, b))
    sharp, open_ = choke_angle_ratio([low, high])
    assert sharp <= open_


@settings(deadline=None)
@given(a=st.floats(0, 90), b=st.floats(0, 90))
def test_more_side_load_never_rates_a_shackle_higher(a: float, b: float) -> None:
    low, high = sorted((a, b))
    straight, oblique = side_load_ratio([low, high])
    assert oblique <= straight


@settings(deadline=None)
@given(a=st.floats(0, 60), b=st.floats(0, 60), legs=st.sampled_from([2, 3, 4]))
def test_a_flatter_sling_never_rates_higher(a: float, b: float, legs: Any) -> None:
    low, high = sorted((a, b))
    steep, flat = sling_table_wll(WIRE_ROPE_SLINGS_EN, 20, legs=legs, angle_from_vertical_deg=[low, high]).value
    assert flat <= steep
    assert np.diff(basket_factor([low, high]))[0] <= 0.0


@settings(deadline=None)
@given(a=st.floats(1, 60), b=st.floats(1, 60))
def test_a_larger_bend_never_weakens_the_rope(a: float, b: float) -> None:
    low, high = sorted((a, b))
    tight, wide = bend_efficiency_ratio([low, high])
    # The two branches of the published formula meet at D/d 6 with a step of 0.14 %.
    assert wide >= tight - 0.0015
    assert 0.5 <= tight < 1.0


def test_table_columns_step_down_at_their_limits() -> None:
    got = sling_table_wll(CHAIN_SLINGS_GRADE_8_EN, 10, legs=4, angle_from_vertical_deg=[0, 45, 45.001, 60])
    np.testing.assert_allclose(got.value, [6.7, 6.7, 4.75, 4.75])
    assert str(got.edition).endswith("(CEN)")
    assert "EN 818-4" in str(got.edition)


@pytest.mark.parametrize("table", [WIRE_ROPE_SLINGS_EN, CHAIN_SLINGS_GRADE_8_EN])
def test_every_column_of_a_table_rises_with_size(table: SlingTable) -> None:
    columns = np.array([[getattr(r, n) for n in vars(r)] for r in table.rows])
    assert np.all(np.diff(columns, axis=0) > 0)


def test_leg_rating_multiplies_its_factors_and_names_their_editions() -> None:
    out = leg_rating([3.0, 6.0], hitch="choke", choke_angle_deg=110.0, bend_ratio=4.0)
    np.testing.assert_allclose(out.rated_t, np.array([3.0, 6.0]) * 0.8 * 0.87 * 0.75)
    assert [e.owner for e in out.editions] == ["CEN", "CEN", "ASME", "US Department of Energy"]
    basket = leg_rating(3.0, hitch="basket", part_angle_from_vertical_deg=60.0)
    assert float(basket.rated_t) == pytest.approx(3.0)
    straight = leg_rating(3.0, hitch="straight")
    assert float(straight.rated_t) == 3.0
    assert straight.editions == ()


def test_a_round_pin_takes_no_side_load() -> None:
    assert float(shackle_rating(8.5, side_load_angle_deg=5, pin="round pin").rated_t) == 8.5
    with pytest.raises(InputError, match=r"0 to 5 for a round pin\. Use a screw-pin"):
        shackle_rating(8.5, side_load_angle_deg=10, pin="round pin")


def test_soft_eye_needs_a_pin_of_twice_its_rope() -> None:
    out = soft_eye_bearing([40.0, 39.9, 20.0], 20.0)
    np.testing.assert_array_equal(out.within, [True, False, False])
    assert out.efficiency_ratio[0] == 1.0
    # 50 % at D/d 1 against 64.6 % at D/d 2 (bend efficiency steps of the handbook).
    assert out.efficiency_ratio[2] == pytest.approx(0.5 / 0.6464466094)
    assert "EN 13414-1" in str(out.edition)
    with pytest.raises(InputError, match=r"bend_ratio is 0\.95"):
        soft_eye_bearing(19.0, 20.0)


def test_side_load_angle_is_measured_from_the_plate() -> None:
    leg = [[1.0, 0.0, 1.0], [0.0, 1.0, 1.0], [1.0, 1.0, math.sqrt(2.0)]]
    got = side_load_angle_deg(leg, [0.0, 5.0, 0.0])
    np.testing.assert_allclose(got, [0.0, 45.0, 30.0], atol=1e-9)
    np.testing.assert_allclose(side_load_ratio(got), [1.0, 0.7, 0.7])
    np.testing.assert_allclose(side_load_angle_deg([0, -2, 0], [0, 1, 0]), 90.0)
    with pytest.raises(InputError, match="direction is 'a vector of no length'"):
        side_load_angle_deg([0, 0, 0], [0, 1, 0])
    with pytest.raises(InputError, match=r"plate_normal is \(2,\)"):
        side_load_angle_deg([0, 0, 1], [0, 1])


def test_uniform_load_needs_all_four_conditions() -> None:
    plan = [45.0, -45.0, -135.0, 135.0]

    def ok(share: float, angles: list[float], turn: list[float]) -> bool:
        out = uniform_load_applies(10.0 * share, 10.0, angle_from_vertical_deg=angles, plan_angle_deg=turn)
        return bool(out.applies)

    assert ok(0.79, [30, 30, 30, 30], plan)
    assert not ok(0.80, [30, 30, 30, 30], plan)
    assert not ok(0.5, [14, 14, 14, 14], plan)
    assert ok(0.5, [30, 45, 45, 30], plan)
    assert not ok(0.5, [29, 45, 45, 30], plan)
    assert ok(0.5, [30] * 4, [30.0, -30.0, -150.0, 150.0])  # long rectangle: facing gaps equal
    assert not ok(0.5, [30] * 4, [60.0, -45.0, -135.0, 135.0 - 16.0])
    assert ok(0.5, [30] * 3, [0.0, 120.0, 240.0])
    assert not ok(0.5, [30] * 3, [0.0, 90.0, 180.0])
    assert ok(0.5, [30, 30], [0.0, 180.0])
    with pytest.raises(InputError, match="2 to 4 sling legs"):
        uniform_load_applies(5, 10, angle_from_vertical_deg=30.0, plan_angle_deg=0.0)


def test_heights_stack_from_the_load_to_the_hook() -> None:
    out = rigging_height(
        [3.0, 6.0], lug_above_underside_m=1.8, bottom_sling_height_m=2.0, top_sling_height_m=3.3, hook_limit_m=12.0
    )
    np.testing.assert_allclose(out.lug_m, [4.8, 7.8])
    np.testing.assert_allclose(out.beam_m, [6.8, 9.8])
    np.testing.assert_allclose(out.hook_m, [10.1, 13.1])
    np.testing.assert_allclose(out.headroom_m, [1.9, -1.1])  # negative: reported, not hidden


def test_weakest_item_is_named_with_its_basis() -> None:
    force = np.array([10.0, 40.0, 20.0])
    out = weakest_item(
        [
            RiggingItem("sling 1", force, 4.6, "EN 13414-1:2003, Table 4 (CEN)"),
            RiggingItem("shackle 1", force, 3.25, "EN 13889:2003 (CEN)"),
            RiggingItem("beam", 45.0, 12.0, "maker's plate"),
        ]
    )
    assert out.name == "shackle 1"
    assert out.basis == "EN 13889:2003 (CEN)"
    assert out.greatest_utilisation == pytest.approx(40.0 / (3.25 * G_M_S2))
    assert out.utilisation.shape == (3, 3)
    single = weakest_item([RiggingItem("sling", 3.0 * G_M_S2, 3.0, "table")])
    assert single.greatest_utilisation == pytest.approx(1.0)


def test_weakest_item_lists_every_wrong_item_at_once() -> None:
    items = [
        RiggingItem("sling", math.nan, 4.6, "t"),
        RiggingItem("shackle", 10.0, 0.0, "t"),
        RiggingItem("beam", 10.0, 5.0, "t"),
    ]
    with pytest.raises(InputError) as caught:
        weakest_item(items)
    assert [p.field for p in caught.value.problems] == ["sling: force_kN", "shackle: rated_t"]


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: weakest_item([]), "at least one rigging item"),
        (lambda: weakest_item([RiggingItem("a", 1, 1, "x")] * 2), "a different name for each item"),
        (lambda: choke_angle_ratio(181), "choke_angle_deg is 181"),
        (lambda: choke_angle_ratio(math.nan), "choke_angle_deg is nan"),
        (lambda: bend_efficiency_ratio(0.99), "bend_ratio is 0.99; allowed: 1 or greater"),
        (lambda: bend_efficiency_ratio(math.nan), "bend_ratio is nan"),
        (lambda: basket_factor(60.1), "allowed: 0 to 60"),
        (lambda: side_load_ratio(90.1), "allowed: 0 to 90"),
        (lambda: side_load_ratio(10, pin="wire"), "pin is 'wire'"),  # type: ignore[arg-type]
        (lambda: textile_mode_factor("knot"), "mode is 'knot'"),  # type: ignore[arg-type]
        (lambda: textile_mode_factor("parallel basket", angle_from_vertical_deg=6.1), "allowed: 0 to 6"),
        (lambda: sling_table_wll(WIRE_ROPE_SLINGS_EN, 21), "size_mm is 21; allowed: 8, 9, 10"),
        (lambda: leg_rating(3, hitch="choke"), 'a value for a "choke" hitch'),
        (lambda: leg_rating(3, hitch="basket"), 'a value for a "basket" hitch'),
        (lambda: leg_rating(3, hitch="straight", choke_angle_deg=120), "none for another"),
        (lambda: leg_rating(3, hitch="loop"), "hitch is 'loop'"),  # type: ignore[arg-type]
        (lambda: leg_rating(math.nan, hitch="straight"), "wll_one_leg_t is nan"),
    ],
)
def test_wrong_input_is_refused_by_name(call: Any, text: str) -> None:
    with pytest.raises(InputError, match=text):
        call()
