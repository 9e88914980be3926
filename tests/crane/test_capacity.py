"""Capacity carried to the actual base: sources, sectors, limits that are never passed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.crane.capacity import capacity_by_slew
from liftcalc.crane.chart import ChartTable, rated_capacity_t
from liftcalc.crane.legs import base_polygon, contains_base, leg_points_m, same_base
from liftcalc.crane.masses import MachineMasses, straight_boom
from liftcalc.crane.sectors import CARRIED, ESTIMATE, NOT_RATED, SMALLER, SOURCES, slew_sectors
from liftcalc.crane.stability import rule_test_load_t, stability_capacity_t
from liftcalc.reactions.moments import resultant

LEG_X = (3.6, 3.6, -3.8, -3.8)
MASSES = MachineMasses(22.0, 0.4, 0.0, 20.0, -2.1)
ROWS = np.arange(4.0, 26.1, 2.0)
RADIUS = np.array([4.0, 5.5, 8.0, 11.0, 14.0, 17.3, 22.0, 26.0])
SLEW = np.arange(0.0, 360.0, 3.0)
EXTENSION = st.floats(1.4, 3.6)
EXTENSIONS = st.tuples(EXTENSION, EXTENSION, EXTENSION, EXTENSION)
FULL, HALF, IN = 3.5, 2.4, 1.4


def boom_at(radius):
    return straight_boom(radius, 30.0, mass_t=8.0, cg_from_foot_m=12.0, foot_u_m=-1.2)


def base_of(extensions):
    return base_polygon(leg_points_m(LEG_X, extensions))


def strength(radius):
    return np.minimum(30.0, 150.0 / (np.asarray(radius) + 1.0))


def chart_for(extension, name, *, sector=(0.0, 360.0), rule="test_load", counterweight="cw"):
    base = base_of((extension,) * 4)
    stable = stability_capacity_t(np.arange(360.0), boom_at(ROWS), base=base, masses=MASSES)
    capacity = np.floor(np.minimum(stable.min(axis=0), strength(ROWS)) * 10) / 10
    return ChartTable(
        name,
        [30.0],
        ROWS,
        np.where(capacity > 0, capacity, np.nan)[None],
        base,
        counterweight=counterweight,
        sector_deg=sector,
        rule=rule,
    )


CHARTS = [chart_for(FULL, "full"), chart_for(HALF, "half"), chart_for(IN, "in")]


def carried(base, charts=CHARTS, *, slew=SLEW, radius=RADIUS, known=True, **options):
    given_masses = {"masses": MASSES, "boom": boom_at(radius)} if known else {}
    return capacity_by_slew(
        slew, radius, boom_length_m=30.0, base=base, charts=charts, counterweight="cw", **{**given_masses, **options}
    )


def names(result):
    return {SOURCES[i] for i in np.unique(result.source)}


@pytest.mark.parametrize(("extension", "index"), [(FULL, 0), (HALF, 1), (IN, 2)])
@pytest.mark.parametrize("known", [True, False])
def test_on_a_charts_own_base_the_chart_itself_counts(extension, index, known):
    result = carried(base_of((extension,) * 4), known=known)
    rated = rated_capacity_t(CHARTS[index], 30.0, radius_m=RADIUS)
    np.testing.assert_array_equal(result.capacity_t, np.broadcast_to(rated, result.source.shape))
    own = ~np.isnan(rated)
    assert {SOURCES[i] for i in np.unique(result.source[:, own])} == {"chart of this base"}
    assert np.all(result.chart[:, own] == index)
    if not own.all():  # where the maker rates nothing on this very base, nothing is rated
        assert {SOURCES[i] for i in np.unique(result.source[:, ~own])} == {"not rated"}


@settings(deadline=None)
@given(EXTENSIONS)
def test_each_value_follows_from_its_definition(extensions):
    """Every cell again, one by one, from resultants and polygons (own bases: see above)."""
    base = base_of(extensions)
    assume(not any(same_base(base, chart.base) for chart in CHARTS))
    slews, radii = SLEW[::12], RADIUS[::2]
    result = carried(base, slew=slews, radius=radii)
    boom = boom_at(radii)
    limit = np.fmax.reduce([rated_capacity_t(c, 30.0, radius_m=radii) for c in CHARTS])
    for i, slew in enumerate(slews):
        for j in range(radii.size):
            accepted = []
            for chart in CHARTS:
                rated = rated_capacity_t(chart, 30.0, radius_m=radii)
                if np.isnan(rated[j]):
                    continue
                load = np.nan_to_num(rule_test_load_t(rated, boom.head_mass_t, rule="test_load"))
                state = {"masses": MASSES, "load_t": load}
                here = resultant(slew, boom, base=base, **state).margin_m[0, j]
                own = resultant(slew, boom, base=chart.base, **state).margin_m[0, j]
                if here >= max(own, 0) - 1e-9 or contains_base(base, chart.base):
                    accepted.append(float(rated[j]))
            around = [c for c in CHARTS if contains_base(c.base, base)]
            upper = min(
                (float(rated_capacity_t(c, 30.0, radius_m=radii[j])) for c in around),
                key=lambda t: -np.inf if np.isnan(t) else t,
                default=np.inf,
            )
            value = result.capacity_t[i, j]
            if np.isnan(upper):
                assert result.source[i, j] == NOT_RATED
                assert np.isnan(value)
            elif accepted:
                assert result.has_capacity_data[i, j]
                assert value == min(max(accepted), upper)
            else:
                assert not result.has_capacity_data[i, j]
                stable = stability_capacity_t(slew, boom, base=base, masses=MASSES)[0, j]
                assert value == pytest.approx(min(stable, limit[j], upper), nan_ok=True)


@settings(deadline=None)
@given(EXTENSIONS)
def test_carried_capacity_is_never_above_the_chart_the_strength_or_stability(extensions):
    base = base_of(extensions)
    stated = strength(RADIUS) * 0.9
    result = carried(base, strength_t=stated)
    rated = np.stack([rated_capacity_t(c, 30.0, radius_m=RADIUS) for c in CHARTS])
    has = result.has_capacity_data
    by_chart = np.take_along_axis(
        rated[:, None, :].repeat(SLEW.size, axis=1), np.maximum(result.chart, 0)[None], axis=0
    )[0]
    assert np.all(result.capacity_t[has] <= by_chart[has])
    some = ~np.isnan(result.capacity_t)
    assert np.all(result.capacity_t[some] <= np.broadcast_to(stated, some.shape)[some])
    assert np.all(result.capacity_t[some] <= result.stability_t[some] + 1e-9)


@settings(deadline=None)
@given(EXTENSIONS)
def test_mirroring_mirrors_the_carried_capacity(extensions):
    fl, fr, rr, rl = extensions
    slew = np.arange(1.0, 360.0, 7.0)  # not on the corners, where rounding may decide
    here = carried(base_of((fl, fr, rr, rl)), slew=slew)
    there = carried(base_of((fr, fl, rl, rr)), slew=-slew)
    np.testing.assert_allclose(here.capacity_t, there.capacity_t, rtol=1e-9)
    np.testing.assert_array_equal(here.source, there.source)


@settings(deadline=None)
@given(EXTENSIONS, st.integers(0, 3), st.floats(0.0, 1.0))
def test_extending_a_leg_never_takes_a_contained_chart_away(extensions, leg, more):
    longer = list(extensions)
    longer[leg] += more
    before = carried(base_of(extensions), known=False)
    after = carried(base_of(longer), known=False)
    had = ~np.isnan(before.capacity_t)
    same = np.array([any(c == e for c in (FULL, HALF, IN)) for e in extensions]).all()
    if not same:  # leaving a chart's own base is a change of layout, not of length alone
        assert np.all(after.capacity_t[had] >= before.capacity_t[had])


@settings(deadline=None)
@given(st.floats(1.4, 3.5))
def test_long_side_keeps_the_full_chart_over_that_side(short):
    result = carried(base_of((FULL, short, short, FULL)), slew=[80.0, 90.0, 100.0])
    rated = rated_capacity_t(CHARTS[0], 30.0, radius_m=RADIUS)
    np.testing.assert_array_equal(result.capacity_t, np.broadcast_to(rated, (3, RADIUS.size)))


def test_a_base_between_two_charts_steps_down_over_the_short_side():
    result = carried(base_of((FULL, HALF, HALF, FULL)))
    j = int(np.flatnonzero(RADIUS == 14.0)[0])
    over_long, over_short = np.flatnonzero(SLEW == 90.0)[0], np.flatnonzero(SLEW == 270.0)[0]
    assert SOURCES[result.source[over_long, j]] == SOURCES[CARRIED]
    assert result.chart_ids[result.chart[over_long, j]] == "full"
    assert SOURCES[result.source[over_short, j]] == "chart of a base inside this one"
    assert result.chart_ids[result.chart[over_short, j]] == "half"
    assert names(result) <= set(SOURCES[:3])


def test_a_base_smaller_than_every_chart_gives_an_estimate_and_no_data():
    result = carried(base_of((1.2,) * 4), charts=CHARTS[:2])
    side = np.flatnonzero(SLEW == 90.0)[0]
    assert not result.has_capacity_data[side].any()
    estimate = result.source[side] == SOURCES.index("estimate only")
    assert estimate.any()
    limit = np.minimum(result.stability_t[side], result.strength_t)
    np.testing.assert_allclose(result.capacity_t[side][estimate], limit[estimate])
    assert result.strength_basis == "best rating of any chart (upper bound)"


def test_unknown_masses_allow_only_charts_whose_base_lies_inside():
    result = carried(base_of((FULL, HALF, HALF, FULL)), known=False)
    assert names(result) <= {"chart of a base inside this one", "not rated"}
    assert np.isnan(result.stability_t).all()
    assert np.isnan(result.margin_m).all()
    none = carried(base_of((1.2,) * 4), known=False)
    assert names(none) == {"not rated"}
    assert np.isnan(none.capacity_t).all()


def test_unknown_rule_allows_only_charts_whose_base_lies_inside():
    charts = [chart_for(FULL, "full", rule="unknown"), chart_for(IN, "in", rule="unknown")]
    result = carried(base_of((FULL, HALF, HALF, FULL)), charts=charts)
    assert names(result) <= {"chart of a base inside this one", "estimate only", "not rated"}
    assert np.all(result.chart[result.has_capacity_data] == 1)


def test_a_chart_of_another_counterweight_is_not_used():
    charts = [chart_for(FULL, "heavy", counterweight="heavier"), CHARTS[2]]
    result = carried(base_of((FULL,) * 4), charts=charts)
    assert np.all(result.chart[result.chart >= 0] == 1)
    # but its ratings still bound the strength from above
    rated = rated_capacity_t(charts[0], 30.0, radius_m=RADIUS)
    np.testing.assert_array_equal(result.strength_t, rated)


def test_a_chart_counts_only_in_its_sector():
    over_rear = chart_for(FULL, "over rear", sector=(135.0, 225.0))
    result = carried(base_of((FULL,) * 4), charts=[over_rear, CHARTS[2]])
    own = result.source == SOURCES.index("chart of this base")
    inside = (SLEW >= 135.0) & (SLEW <= 225.0)
    assert own[inside, 2].all()
    assert not own[~inside].any()
    assert np.all(result.chart[~inside, 2] == 1)


def test_a_chart_that_contradicts_the_masses_is_not_carried_over():
    """A rating whose test load tips the machine on the chart's own base holds nowhere else."""
    too_high = ChartTable(
        "too high", [30.0], [14.0], [[25.0]], base_of((HALF,) * 4), counterweight="cw", rule="test_load"
    )
    result = carried(base_of((2.6, 2.3, 2.6, 2.6)), charts=[too_high], slew=[90.0], radius=np.array([14.0]))
    assert not result.has_capacity_data.any()
    inside = carried(base_of((2.6,) * 4), charts=[too_high], slew=[90.0], radius=np.array([14.0]))
    assert inside.has_capacity_data.all()  # the maker's chart on a base that contains its own
    assert np.all(inside.required_margin_m < 0)  # and the contradiction is shown


def test_a_chart_is_not_carried_over_where_the_machine_tips_backward_without_load():
    """Boom over the long side, heavy tail over a short one: the load would hold the machine up."""
    tail = MachineMasses(12.0, 0.0, 0.0, 32.0, -2.6)
    full, short = base_of((FULL,) * 4), base_of((FULL, 1.3, 1.3, FULL))
    radius = np.array([6.0])
    chart = ChartTable("full", [30.0], radius, [[9.0]], full, counterweight="cw", rule="test_load")
    options = {"charts": [chart], "slew": [90.0], "radius": radius, "masses": tail}
    unloaded = resultant(90.0, boom_at(radius), base=short, masses=tail)
    assert unloaded.margin_m[0, 0] < 0  # tips over the right side without load
    loaded = resultant(90.0, boom_at(radius), base=short, masses=tail, load_t=1.25 * 9.0 + 0.32)
    assert loaded.margin_m[0, 0] > 0
    result = carried(short, **options)
    assert not result.has_capacity_data.any()
    assert result.capacity_t[0, 0] == 0.0
    assert carried(full, **options).has_capacity_data.all()


def test_outside_the_chart_nothing_is_rated():
    result = carried(base_of((FULL,) * 4), radius=np.array([3.9, 26.05]))
    assert names(result) == {"not rated"}
    result = carried(base_of((3.0,) * 4), radius=np.array([3.9, 26.05]))
    assert names(result) == {"not rated"}


def test_between_rows_the_next_larger_radius_counts():
    result = carried(base_of((FULL,) * 4), radius=np.array([8.001, 10.0]))
    assert np.all(result.capacity_t[:, 0] == result.capacity_t[:, 1])


def test_pairs_are_the_diagonal_of_the_grid():
    base = base_of((FULL, HALF, 1.8, 3.0))
    slew = np.linspace(0.0, 350.0, RADIUS.size)
    grid, pairs = carried(base, slew=slew), carried(base, slew=slew, layout="pairs")
    for field in ("capacity_t", "source", "chart", "margin_m", "required_margin_m", "stability_t"):
        np.testing.assert_allclose(getattr(pairs, field), np.diagonal(getattr(grid, field)))


def test_strength_table_lowers_a_rating_and_is_named():
    result = carried(base_of((FULL,) * 4), strength_t=np.full(RADIUS.size, 5.0))
    assert np.nanmax(result.capacity_t) == 5.0
    assert result.strength_basis == "stated strength limit"
    assert np.all(result.capacity_t[:, 0] == 5.0)


def test_sectors_go_round_the_circle_once_and_agree_with_the_arrays():
    result = carried(base_of((FULL, HALF, HALF, FULL)))
    for j in range(RADIUS.size):
        sectors = slew_sectors(result, radius_index=j)
        if len(sectors) == 1:
            assert (sectors[0].from_deg, sectors[0].to_deg) == (0.0, 360.0)
            continue
        turned = [(one.to_deg - one.from_deg) % 360.0 for one in sectors]
        assert sum(turned) == pytest.approx(360.0)
        for k, (sector, width) in enumerate(zip(sectors, turned, strict=True)):
            following = sectors[(k + 1) % len(sectors)]
            assert sector.to_deg == following.from_deg  # no slew between two sectors
            into = np.mod(SLEW - sector.from_deg, 360.0)
            inside = (into > 1e-9) & (into < width - 1e-9)
            codes = np.unique(result.source[inside, j])
            assert [SOURCES[c] for c in codes] in ([sector.source], [])
            # the step between two sectors is in the one whose capacity is lower there
            at = int(np.flatnonzero(np.isclose(SLEW, sector.to_deg))[0])
            pair = [at, (at + 1) % SLEW.size]
            if SOURCES[result.source[at, j]] != sector.source:
                pair = [at - 1, at]
            low = result.capacity_t[pair, j]
            owner = sector if SOURCES[result.source[at, j]] != sector.source else following
            assert owner.least_capacity_t <= np.min(low) + 1e-12


def test_the_step_next_to_slews_without_capacity_data_is_never_in_a_sector_of_a_chart():
    result = carried(base_of((FULL,) * 4))
    source, capacity = result.source.copy(), result.capacity_t.copy()
    chart = result.chart.copy()
    source[:], chart[:], capacity[:] = SMALLER, 0, 10.0
    # estimates, some greater than the rating beside them, some less; one unrated run
    source[20:30], chart[20:30], capacity[20:25], capacity[25:30] = ESTIMATE, -1, 14.0, 9.0
    source[50:60], chart[50:60], capacity[50:60] = NOT_RATED, -1, np.nan
    source[60:70], chart[60:70], capacity[60:70] = ESTIMATE, -1, 12.0
    uneven = replace(result, source=source, chart=chart, capacity_t=capacity)
    told = [
        (s.from_deg, s.to_deg, s.source, s.least_capacity_t, s.greatest_capacity_t)
        for s in slew_sectors(uneven, radius_index=0)
    ]
    rated, guess, none = "chart of a base inside this one", "estimate only", "not rated"
    expected = [
        (57.0, 90.0, guess, 9.0, 14.0),  # from the last slew of the chart to its next
        (90.0, 147.0, rated, 10.0, 10.0),
        (147.0, 180.0, none, np.nan, np.nan),
        (180.0, 210.0, guess, 10.0, 12.0),
        (210.0, 57.0, rated, 10.0, 10.0),
    ]
    assert [t[:3] for t in told] == [e[:3] for e in expected]
    np.testing.assert_array_equal([t[3:] for t in told], [e[3:] for e in expected])


def test_one_source_all_round_is_one_full_circle():
    (sector,) = slew_sectors(carried(base_of((FULL,) * 4)), radius_index=2)
    assert (sector.from_deg, sector.to_deg) == (0.0, 360.0)
    assert (sector.source, sector.chart_id) == ("chart of this base", "full")


@pytest.mark.parametrize(
    ("options", "text"),
    [
        ({"charts": []}, "1 to 126 rated capacity charts"),
        ({"masses": None}, "both or neither"),
        ({"boom": None}, "both or neither"),
        ({"boom": boom_at(RADIUS + 0.1)}, "radii of the boom state"),
        ({"slew": [0.0, np.nan]}, "slew_deg"),
        ({"layout": "pairs"}, "as many slews as radii"),
        ({"strength_t": -1.0}, "strength_t"),
    ],
)
def test_bad_input_is_refused(options, text):
    with pytest.raises(InputError, match=text):
        carried(base_of((FULL,) * 4), **options)


def test_sectors_need_a_sorted_turn_and_a_radius_of_the_result():
    result = carried(base_of((FULL,) * 4), slew=[10.0, 5.0])
    with pytest.raises(InputError, match="sorted"):
        slew_sectors(result, radius_index=0)
    with pytest.raises(InputError, match="radius_index"):
        slew_sectors(carried(base_of((FULL,) * 4)), radius_index=99)
