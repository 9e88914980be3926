"""The search against an exhaustive one written apart from it, on generated sites."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely import affinity

from liftcalc.base.errors import InputError
from liftcalc.crane.chart import ChartTable
from liftcalc.crane.legs import base_polygon, leg_points_m
from liftcalc.crane.masses import MachineMasses, straight_boom
from liftcalc.crane.stability import stability_capacity_t
from liftcalc.placement.capacity import CapacitySource, ChartCapacity, LiftDuty
from liftcalc.placement.fit import StandGrid
from liftcalc.placement.ground import Blocker, StandingGround, StandingMachine, leg_ranges
from liftcalc.placement.measure import Kept, SearchProblem, StandPlace
from liftcalc.placement.search import search

Array = NDArray[np.float64]
LEG_X = (3.0, 3.0, -3.2, -3.2)
MASSES = MachineMasses(24.0, 0.4, 0.0, 12.0, -1.6)


def accept(place: StandPlace) -> tuple[bool, str]:
    return True, ""


def chart_capacity(length_m: float) -> ChartCapacity:
    """Charts that follow from stability on three bases: invented, self-consistent."""
    radius = np.arange(4.0, length_m - 2.0, 2.0)
    boom = straight_boom(radius, length_m, mass_t=7.0, cg_from_foot_m=0.42 * length_m, foot_u_m=-1.0)
    charts = []
    for name, extension in (("full", 3.0), ("half", 2.2), ("in", 1.4)):
        base = base_polygon(leg_points_m(LEG_X, [extension] * 4))
        least = stability_capacity_t(np.arange(360.0), boom, base=base, masses=MASSES).min(axis=0)
        rated = np.floor(np.minimum(least, 30.0) * 10.0) / 10.0
        rated[rated < 0.1] = np.nan
        charts.append(ChartTable(name, np.array([length_m]), radius, rated[None], base, rule="test_load"))
    return ChartCapacity(tuple(charts), MASSES, "", length_m, 7.0, 0.42 * length_m, -1.0, LEG_X, 3.5, length_m - 2.5)


CAPACITY = chart_capacity(22.0)


def site(seed: int) -> SearchProblem:
    """A tight site of 14 m by 12 m: posts, a duct, a pit edge, and two or three lifts."""
    rng = np.random.default_rng(seed)
    allowed = shapely.Polygon([(0, 0), (14, 0), (14, rng.uniform(6, 12)), (10, 12), (0, 12)])
    blockers = [
        Blocker(
            f"post {k}",
            shapely.box(*(p := rng.uniform((0, 0), (13, 11))), *(p + rng.uniform(0.3, 1.2, 2))),
            0.2,
            solid=True,
        )
        for k in range(int(rng.integers(1, 4)))
    ]
    y = rng.uniform(2, 10, 2)
    blockers.append(Blocker("duct", shapely.LineString([(-1, y[0]), (15, y[1])]), 0.5, ("mats",)))
    corner = rng.uniform((8, 0), (13, 3))
    blockers.append(Blocker("pit", shapely.box(corner[0], 0, 14, corner[1] + 0.5), 0.6))
    step = 0.8
    options = tuple(tuple(np.round(1.2 + np.cumsum(rng.uniform(0.2, 0.6, 3)), 2).tolist()) for _ in range(4))
    lifts = []
    for k in range(int(rng.integers(2, 4))):
        pick, set_down = rng.uniform((-4, -6), (18, 18), (2, 2))
        lifts.append(
            LiftDuty(
                f"lift {k}",
                float(rng.uniform(1.0, 5.0)),
                tuple(pick.tolist()),
                tuple(set_down.tolist()),
                CAPACITY,
                ("shortest", "anticlockwise", "clockwise")[k % 3],
            )
        )
    return SearchProblem(
        StandingGround(allowed, tuple(blockers)),
        StandingMachine((3.5, -3.5, 1.2), LEG_X, options, 0.9, 0.8),
        StandGrid.over(allowed, step_m=step),
        tuple(float(h) for h in np.arange(0, 360, 40) + rng.uniform(0, 40)),
        tuple(lifts),
    )


@dataclass
class _Grids:
    """Capacity grids worked out once for each set of legs."""

    source: CapacitySource
    known: dict[tuple[float, ...], Array]

    def at(self, extension: tuple[float, ...]) -> Array:
        if extension not in self.known:
            self.known[extension] = self.source.capacity_t(extension)
        return self.known[extension]


def plain_utilisation(
    lift: LiftDuty, grids: _Grids, east: float, north: float, heading: float, legs: tuple[float, ...]
) -> float:
    """Utilisation by walking every cell of the slew one by one."""
    source, grid = lift.capacity, grids.at(legs)
    slews, step = grid.shape[0], source.slew_step_deg
    first, spacing = source.radius_m[0], source.radius_m[1] - source.radius_m[0]

    def cell(s: int, r: int) -> float:
        return min(grid[s % slews, r], grid[(s + 1) % slews, r], grid[s % slews, r + 1],
                   grid[(s + 1) % slews, r + 1])  # fmt: skip

    at, radius_cell = [], []
    for x, y in (lift.pick_m, lift.set_down_m):
        radius = float(np.hypot(x - east, y - north))
        if not first <= radius <= source.radius_m[-1] + 1e-9:
            return math.inf
        radius_cell.append(min(int((radius - first) // spacing), source.radius_m.size - 2))
        bearing = np.degrees(np.arctan2(y - north, x - east))
        at.append(float(np.mod(bearing - heading, 360.0)) / step)
    turn = (at[1] - at[0]) % slews
    way = lift.slew_way
    backward = turn > 0 and (way == "clockwise" or (way == "shortest" and turn > slews / 2))
    start, length = (at[1], slews - turn) if backward else (at[0], turn)
    arc = min(radius_cell)
    values = [cell(math.floor(at[0]), radius_cell[0]), cell(math.floor(at[1]), radius_cell[1])]
    values += [cell(s, arc) for s in range(math.floor(start), math.floor(start + length) + 1)]
    least = min(values)
    return lift.gross_t / least if least > 0 else math.inf


def exhaustive(problem: SearchProblem) -> Iterator[tuple[float, int, int, tuple[float, ...]]]:
    """Every fitting pose with its utilisation, one by one, by the exact leg ranges."""
    east, north = problem.grid.points_m()
    front, rear, half = problem.machine.carrier_m
    outline = shapely.box(rear, -half, front, half)
    blocked = shapely.unary_union([b.area for b in problem.ground.blockers if "carrier" in b.blocks])
    shapely.prepare(blocked)
    grids = {id(lift.capacity): _Grids(lift.capacity, {}) for lift in problem.lifts}
    for stand, heading in itertools.product(range(problem.grid.size), range(len(problem.headings_deg))):
        angle = problem.headings_deg[heading]
        carrier = affinity.translate(affinity.rotate(outline, angle, origin=(0, 0)), east[stand], north[stand])
        if carrier.intersects(blocked) or not problem.ground.allowed.covers(carrier):
            continue  # also told by the leg ranges, but sooner here
        room = leg_ranges(
            problem.ground, problem.machine, easting_m=east[stand], northing_m=north[stand], heading_deg=angle
        )
        legs = room.extension_m
        if legs is None:
            continue
        worst = max(
            plain_utilisation(lift, grids[id(lift.capacity)], east[stand], north[stand], angle, legs)
            for lift in problem.lifts
        )
        yield worst, stand, heading, legs


SITES = range(24)
Answers = dict[int, list[tuple[float, int, int, tuple[float, ...]]]]


@pytest.fixture(scope="module")
def answers() -> Answers:
    return {seed: sorted(exhaustive(site(seed))) for seed in SITES}


def test_the_sites_ask_something(answers: Answers) -> None:
    """Most sites have places, some fitting poses are over the limit, legs are cut short."""
    with_place = [s for s, a in answers.items() if a and a[0][0] <= 1]
    assert len(with_place) >= 15
    for seed in with_place:
        assert any(not a[0] <= 1 for a in answers[seed]) or len(answers[seed]) < 30
        longest = [o[-1] for o in site(seed).machine.extension_options_m]
        assert any(list(a[3]) != longest for a in answers[seed])


@pytest.mark.parametrize("seed", SITES)
def test_finds_the_planted_optimum(seed: int, answers: Answers) -> None:
    problem = site(seed)
    good = [a for a in answers[seed] if a[0] <= problem.limit]
    result = search(problem, accept, count=10)
    assert result.complete
    assert result.fitting == len(answers[seed])
    assert len(result.places) == min(10, len(good))
    np.testing.assert_allclose([p.utilisation for p in result.places], [a[0] for a in good[:10]], rtol=1e-12)
    by_pose = {(a[1], a[2]): a for a in good}
    for place in result.places:
        want = by_pose[place.stand, place.heading]
        assert place.extension_m == pytest.approx(want[3])
        assert place.utilisation == pytest.approx(want[0], rel=1e-12)
        assert max(place.by_lift) == place.utilisation
    # of equal utilisation the least leg force comes first
    for a, b in itertools.pairwise(result.places):
        assert (a.utilisation, a.leg_force_kN, a.stand, a.heading) < (b.utilisation, b.leg_force_kN, b.stand, b.heading)


@pytest.mark.parametrize("seed", range(6))
def test_never_returns_a_place_that_the_full_check_turns_down(seed: int, answers: Answers) -> None:
    problem = site(seed)

    def picky(place: StandPlace) -> tuple[bool, str]:
        ok = (place.stand * 7 + place.heading * 3) % 5 == 0
        return ok, "" if ok else "not this one"

    result = search(problem, picky, count=10)
    good = [a for a in answers[seed] if a[0] <= problem.limit and (a[1] * 7 + a[2] * 3) % 5 == 0]
    assert len(result.places) == min(10, len(good))
    assert all(picky(p)[0] for p in result.places)
    np.testing.assert_allclose([p.utilisation for p in result.places], [a[0] for a in good[:10]], rtol=1e-12)
    assert all(r.reason == "not this one" for r in result.rejected)


def test_nothing_accepted_gives_nothing(answers: Answers) -> None:
    good = [a for a in answers[3] if a[0] <= 1]
    assert len(good) > 64  # more than the first batch
    result = search(site(3), lambda place: (False, "no"), count=3)
    assert result.places == ()
    assert result.complete
    assert len(result.rejected) == len(good)
    short = search(site(3), lambda place: (False, "no"), count=3, max_checks=5)
    assert not short.complete
    assert len(short.rejected) == 5


def test_stop_and_progress() -> None:
    seen: list[tuple[int, int]] = []
    result = search(site(1), accept, progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (9, 9)
    assert [d for d, _ in seen] == list(range(1, 10))
    assert result.complete
    stopped = search(site(1), accept, stop=lambda: True)
    assert not stopped.complete
    assert stopped.places == ()
    calls = iter([False] * 4 + [True] * 100)
    halfway = search(site(1), accept, stop=lambda: next(calls))
    assert not halfway.complete


def test_places_stand_apart_when_asked() -> None:
    problem = site(1)
    near = search(problem, accept, count=6)
    apart = search(problem, accept, count=6, apart_m=2.0, apart_deg=40.0)
    assert apart.places[0] == near.places[0]
    for a, b in itertools.combinations(apart.places, 2):
        way = math.hypot(a.easting_m - b.easting_m, a.northing_m - b.northing_m)
        turn = abs((a.heading_deg - b.heading_deg + 180) % 360 - 180)
        assert way >= 2.0 or turn > 40.0


def test_a_heavier_load_never_gets_a_better_place() -> None:
    problem = site(4)
    last = 0.0
    for factor in (0.5, 0.8, 1.0, 1.1):
        lifts = tuple(replace(lift, gross_t=lift.gross_t * factor) for lift in problem.lifts)
        result = search(replace(problem, lifts=lifts), accept, count=1)
        value = result.places[0].utilisation if result.places else math.inf
        assert value >= last
        last = value


def test_more_obstacles_never_give_a_better_place() -> None:
    problem = site(4)
    best = search(problem, accept, count=1).places[0]
    more = StandingGround(
        problem.ground.allowed,
        (*problem.ground.blockers, Blocker("skip", shapely.box(best.easting_m, best.northing_m, 20, 20), solid=True)),
    )
    result = search(replace(problem, ground=more), accept, count=1)
    assert all(p.utilisation >= best.utilisation for p in result.places)
    assert all((p.stand, p.heading) != (best.stand, best.heading) for p in result.places)


def test_charts_rate_what_the_search_reads() -> None:
    """On its own base a chart's rating is read, and elsewhere never more than the best of them."""
    full = CAPACITY.capacity_t((3.0, 3.0, 3.0, 3.0))
    assert np.all(full <= CAPACITY.ceiling_t() + 1e-12)
    radius = CAPACITY.radius_m
    row = int(np.flatnonzero(radius == 6.0)[0])
    table = next(c for c in CAPACITY.charts if c.chart_id == "full")
    np.testing.assert_allclose(full[:, row], table.capacity_t[0, 1])
    mixed = CAPACITY.capacity_t((3.0, 1.5, 1.5, 3.0))
    assert np.all(mixed <= full + 1e-12)
    assert np.any(mixed < full)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"count": 0}, "count"),
        ({"max_checks": 0}, "max_checks"),
        ({"apart_m": float("nan")}, "apart_m"),
        ({"apart_deg": -1.0}, "apart_deg"),
    ],
)
def test_wrong_numbers_are_refused(change: dict[str, float], text: str) -> None:
    with pytest.raises(InputError, match=text):
        search(site(0), accept, **change)  # type: ignore[arg-type]


def test_wrong_problems_are_refused() -> None:
    problem = site(0)
    with pytest.raises(InputError, match="one lift or more"):
        replace(problem, lifts=())
    with pytest.raises(InputError, match="headings_deg"):
        replace(problem, headings_deg=(float("nan"),))
    with pytest.raises(InputError, match="limit"):
        replace(problem, limit=1.2)
    with pytest.raises(InputError, match="used once"):
        replace(problem, lifts=(problem.lifts[0], problem.lifts[0]))
    with pytest.raises(InputError, match="gross_t"):
        replace(problem.lifts[0], gross_t=float("nan"))
    with pytest.raises(InputError, match="slew_way"):
        replace(problem.lifts[0], slew_way="left")
    with pytest.raises(InputError, match="slew_step_deg"):
        replace(CAPACITY, slew_step_deg=7.0)
    with pytest.raises(InputError, match="radius_to_m"):
        replace(CAPACITY, radius_to_m=2.0)


def test_places_behind_a_floor_are_those_of_higher_rank_numbers() -> None:
    """Places alike in use and force are told apart by stand, then by heading."""
    rng = np.random.default_rng(3)
    ranks = sorted({tuple(int(v) for v in rng.integers(0, 3, 4)) for _ in range(60)})
    u, f, s, h = (np.array(column) for column in zip(*ranks, strict=True))
    kept = Kept(u / 4, f * 1.0, s, h, np.zeros((len(ranks), 4), np.int8), np.zeros((len(ranks), 1)))
    for floor in ranks:
        left = kept.after((floor[0] / 4, floor[1] * 1.0, floor[2], floor[3]))
        told = zip(left.utilisation * 4, left.force, left.stand, left.heading, strict=True)
        assert [tuple(int(v) for v in one) for one in told] == [r for r in ranks if r > floor]
    assert kept.after(None).stand.size == len(ranks)
