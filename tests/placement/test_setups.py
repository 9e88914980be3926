"""Set-up plans against every split and every place, the margin map, and the alternatives."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from liftcalc.base.errors import InputError
from liftcalc.base.text import text_in_units
from liftcalc.placement.alternatives import alternatives, measured_place
from liftcalc.placement.capacity import LiftDuty
from liftcalc.placement.fit import StandGrid
from liftcalc.placement.ground import Blocker, StandingGround, StandingMachine
from liftcalc.placement.measure import SearchProblem, StandPlace, StopAsked
from liftcalc.placement.search import search
from liftcalc.placement.setups import Poses, SetupPlan, margin_map, pareto_plans, plan_setups

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class WideningCapacity:
    """Invented capacity: falls with radius, grows with the legs on the side of the boom."""

    moment_tm: float
    slew_step_deg: float = 10.0
    radius_m: Array = field(default_factory=lambda: np.arange(3.0, 16.1, 0.5))

    def capacity_t(self, extension_m: tuple[float, ...]) -> Array:
        slew = np.radians(np.arange(0.0, 360.0, self.slew_step_deg))
        legs = np.asarray(extension_m)
        left, right = min(legs[0], legs[3]), min(legs[1], legs[2])
        reach = np.where(np.sin(slew) >= 0, left, right)[:, None]
        return self.moment_tm * reach / 3.0 / self.radius_m

    def ceiling_t(self) -> Array:
        return np.asarray(self.moment_tm / self.radius_m)

    def leg_force_kN(self, extension_m: Array, slew_deg: Array, *, radius_m: Array, gross_t: float) -> Array:
        return 100.0 + gross_t * radius_m / extension_m.min(axis=1)


def problem(seed: int, lifts: int = 4) -> SearchProblem:
    rng = np.random.default_rng(seed)
    ground = StandingGround(shapely.box(0, 0, 24, 10), (Blocker("tank", shapely.box(11, 3, 13, 7), 0.3, solid=True),))
    tasks = tuple(
        LiftDuty(
            f"lift {k}",
            float(rng.uniform(2, 5)),
            tuple(rng.uniform((0, -4), (24, 14)).tolist()),
            tuple(rng.uniform((0, -4), (24, 14)).tolist()),
            CAPACITY,
        )
        for k in range(lifts)
    )
    return SearchProblem(
        ground,
        StandingMachine((3.0, -3.0, 1.1), (2.5, 2.5, -2.5, -2.5), ((1.4, 2.2, 3.0),) * 4, 0.8, 0.8),
        StandGrid.over(ground.allowed, step_m=1.0),
        (0.0, 50.0, 90.0, 200.0),
        tasks,
    )


CAPACITY = WideningCapacity(60.0)


def accept_all(place: StandPlace, lifts: tuple[str, ...]) -> tuple[bool, str]:
    return True, ""


def accept(place: StandPlace) -> tuple[bool, str]:
    return True, ""


def splits(items: list[int]) -> list[list[list[int]]]:
    """All splits of a list into groups."""
    if not items:
        return [[]]
    out = []
    head, rest = items[0], items[1:]
    for split in splits(rest):
        out.append([[head], *split])
        for k in range(len(split)):
            out.append([*split[:k], [head, *split[k]], *split[k + 1 :]])
    return out


def group_best(p: SearchProblem, group: list[int]) -> float:
    part = replace(p, lifts=tuple(p.lifts[i] for i in group))
    found = search(part, accept, count=1).places
    return found[0].utilisation if found else np.inf


@pytest.mark.parametrize("seed", range(8))
def test_plans_are_the_best_of_every_split(seed: int) -> None:
    p = problem(seed)
    plans = plan_setups(p, accept_all)
    best: dict[int, float] = {}
    for split in splits(list(range(4))):
        value = max(group_best(p, group) for group in split)
        best[len(split)] = min(best.get(len(split), np.inf), value)
    want, last = {}, np.inf
    for count in sorted(best):
        if best[count] <= p.limit and best[count] < last:
            want[count] = last = best[count]
    assert {plan.setups: plan.utilisation for plan in plans} == pytest.approx(want)
    for plan in plans:
        assert sorted(itertools.chain(*plan.lifts)) == sorted(t.name for t in p.lifts)
        for place, names in zip(plan.places, plan.lifts, strict=True):
            part = replace(p, lifts=tuple(t for t in p.lifts if t.name in names))
            again = measured_place(
                part,
                easting_m=place.easting_m,
                northing_m=place.northing_m,
                heading_deg=place.heading_deg,
                extension_m=place.extension_m,
            )
            assert again.by_lift == pytest.approx(place.by_lift)
        assert plan.mat_area_m2 == pytest.approx(4 * 0.64)


def test_one_setup_is_what_the_search_finds() -> None:
    for seed in range(8):
        p = problem(seed)
        single = [plan for plan in plan_setups(p, accept_all) if plan.setups == 1]
        found = search(p, accept, count=1).places
        assert bool(single) == bool(found)
        if single:
            place, want = single[0].places[0], found[0]
            assert (place.stand, place.heading) == (want.stand, want.heading)
            assert place.leg_force_kN == want.leg_force_kN


def test_plans_pass_the_check_they_were_given() -> None:
    def picky(place: StandPlace, lifts: tuple[str, ...]) -> tuple[bool, str]:
        return place.stand % 3 == 0 and len(lifts) <= 3, "no"

    for seed in range(4):
        for plan in plan_setups(problem(seed), picky):
            for place, names in zip(plan.places, plan.lifts, strict=True):
                assert picky(place, names)[0]
    assert plan_setups(problem(0), lambda place, lifts: (False, "no")) == ()
    assert plan_setups(problem(0), lambda place, lifts: (False, "no"), max_checks=3) == ()


def test_plan_limits() -> None:
    with pytest.raises(InputError, match="at most 10"):
        plan_setups(problem(0, lifts=11), accept_all)
    with pytest.raises(InputError, match="most_setups"):
        plan_setups(problem(0), accept_all, most_setups=0)
    assert all(plan.setups <= 2 for plan in plan_setups(problem(1), accept_all, most_setups=2))


def test_pareto_keeps_what_nothing_betters() -> None:
    place = search(problem(0, lifts=1), accept, count=1).places[0]

    def plan(setups: int, utilisation: float, area: float) -> SetupPlan:
        return SetupPlan((place,) * setups, (("a",),) * setups, utilisation, 1.0, area)

    a, b, c = plan(1, 0.9, 4.0), plan(2, 0.7, 4.0), plan(1, 0.95, 2.0)
    worse = [plan(2, 0.9, 4.0), plan(1, 0.9, 5.0), plan(3, 0.7, 4.0), plan(1, 0.9, 4.0)]
    assert pareto_plans([b, *worse, a, c]) == (a, c, b)
    assert pareto_plans([]) == ()


@pytest.mark.parametrize("seed", range(4))
def test_margin_map_is_the_best_heading_at_each_point(seed: int) -> None:
    p = problem(seed, lifts=2)
    seen: list[tuple[int, int]] = []
    result = margin_map(p, progress=lambda a, b: seen.append((a, b)))
    assert result.complete
    assert seen[-1] == (4, 4)
    assert result.utilisation.shape == (p.grid.rows, p.grid.columns)
    everything = replace(p, limit=1.0)
    found = search(everything, accept, count=10_000, max_checks=100_000).places
    best: dict[int, float] = {}
    for place in found:
        best.setdefault(place.stand, place.utilisation)
    flat = result.utilisation.ravel()
    for stand, value in best.items():
        assert flat[stand] == pytest.approx(value)
    assert np.count_nonzero(flat <= 1.0) == len(best)
    assert not result.fits[5, 11]  # in the tank
    assert not margin_map(p, stop=lambda: True).complete


def failing() -> tuple[SearchProblem, dict[str, object]]:
    """A lift over a short left side: legs, a turn or a move each help."""
    ground = StandingGround(shapely.box(-20, -20, 20, 20))
    lift = LiftDuty("pump", 4.0, (2.0, 11.0), (3.0, 11.0), WideningCapacity(60.0))
    p = SearchProblem(
        ground,
        StandingMachine((3.0, -3.0, 1.1), (2.5, 2.5, -2.5, -2.5), ((1.4, 2.2, 3.0),) * 4, 0.8, 0.8),
        StandGrid(-10.0, -10.0, 0.5, 41, 41),
        tuple(float(h) for h in range(0, 360, 30)),
        (lift,),
    )
    return p, {"easting_m": 0.0, "northing_m": 0.0, "heading_deg": 0.0, "extension_m": (1.4, 3.0, 3.0, 2.2)}


def test_alternatives_name_the_smallest_change() -> None:
    p, now = failing()
    assert measured_place(p, **now).utilisation > 1  # type: ignore[arg-type]
    found = {a.change: a for a in alternatives(p, accept, **now)}  # type: ignore[arg-type]
    assert set(found) == {"legs", "turn", "move"}
    assert (
        text_in_units(found["legs"].words, "metric")
        == "outrigger FL out by 1.60 m to 3.00 m and outrigger RL out by 0.80 m to 3.00 m"
    )
    assert found["legs"].place.extension_m == (3.0, 3.0, 3.0, 3.0)
    assert text_in_units(found["move"].words, "metric").startswith("move 0.50 m ")
    assert found["turn"].words.startswith("turn 30°")
    for a in found.values():
        assert a.place.utilisation <= 1


def test_alternatives_pass_the_full_check() -> None:
    p, now = failing()
    assert alternatives(p, lambda place: (False, "no"), **now) == ()  # type: ignore[arg-type]

    def far_enough(place: StandPlace) -> tuple[bool, str]:
        return place.northing_m >= 2.0, "too far south"

    found = alternatives(p, far_enough, max_checks=1000, **now)  # type: ignore[arg-type]
    assert [a.change for a in found] == ["move"]
    assert found[0].place.northing_m == pytest.approx(2.0)
    assert text_in_units(found[0].words, "metric").startswith("move 2.00 m north")
    with pytest.raises(InputError, match="within_m"):
        alternatives(p, accept, within_m=0.0, **now)  # type: ignore[arg-type]


def told_and_stopped_at(asks: int) -> tuple[list[tuple[int, int]], list[tuple[int, int]], object]:
    """Lists for passes and checks, and a stop that is true from so many questions on."""
    count = itertools.count(1)
    return [], [], lambda: next(count) > asks


@pytest.mark.parametrize("asks", [0, 3, 11, 25, 1000])
def test_planning_tells_headings_and_checks_and_stops_when_asked(asks: int) -> None:
    p = problem(1)
    passes, checks, stop = told_and_stopped_at(asks)
    whole = plan_setups(p, accept_all)
    plans = plan_setups(
        p,
        accept_all,
        progress=lambda a, b: passes.append((a, b)),
        checked=lambda a, b: checks.append((a, b)),
        stop=stop,  # type: ignore[arg-type]
    )
    turns = len(p.headings_deg)
    assert passes == [(k + 1, turns) for k in range(min(asks, turns))]
    assert len(checks) == max(min(asks - turns, len(checks)), 0)
    assert [made for made, _ in checks] == list(range(1, len(checks) + 1))
    assert plans == whole[: len(plans)]
    assert (len(plans) == len(whole)) or asks < 1000


def test_a_check_that_is_told_to_stop_ends_search_plan_and_alternatives() -> None:
    def stopped(place: StandPlace, lifts: tuple[str, ...] = ()) -> tuple[bool, str]:
        raise StopAsked

    p = problem(1)
    found = search(p, stopped, count=1)
    assert not found.complete
    assert found.places == found.rejected == ()
    assert plan_setups(p, stopped) == ()
    one, now = failing()
    assert alternatives(one, stopped, **now) == ()  # type: ignore[arg-type]


@pytest.mark.parametrize("asks", [0, 5, 40, 100_000])
def test_alternatives_tell_headings_and_stop_when_asked(asks: int) -> None:
    p, now = failing()
    passes, checks, stop = told_and_stopped_at(asks)
    whole = alternatives(p, accept, **now)  # type: ignore[arg-type]
    found = alternatives(
        p,
        accept,
        progress=lambda a, b: passes.append((a, b)),
        checked=lambda a, b: checks.append((a, b)),
        stop=stop,
        **now,  # type: ignore[arg-type]
    )
    assert found == whole[: len(found)]
    assert [done for done, _ in passes] == list(range(1, len(passes) + 1))
    assert {of for _, of in passes} <= {2 * len(p.headings_deg) + 1}
    if asks == 0:
        assert passes == checks == []
    if asks == 100_000:
        assert found == whole
        assert passes[-1][0] == passes[-1][1]
        assert checks[-1] == (len(checks), len(found))


def test_map_and_plan_share_what_they_measured() -> None:
    p = problem(2)
    alone = margin_map(p)
    poses = Poses(p)
    assert plan_setups(p, accept_all, poses=poses) == plan_setups(p, accept_all)
    shared = margin_map(p, poses=poses)
    assert np.array_equal(shared.utilisation, alone.utilisation)
    assert np.array_equal(shared.heading_deg, alone.heading_deg, equal_nan=True)
    assert np.array_equal(shared.fits, alone.fits)
