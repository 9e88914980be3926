"""Time and memory of the placement search and of clearances along a path.

    pytest benchmarks/bench_placement.py --benchmark-only

Measured on 2 cores, ten best places, 0.25 m, 72 headings, 8 lifts, one worker:

=========  ==========  ===============  =============
site       poses       processor time   peak memory
=========  ==========  ===============  =============
45 x 40 m   2,073,600  2.6 s            165 MiB
60 x 40 m   2,764,800  2.5 s            165 MiB
120 x 80 m 11,059,200  6.9 s            221 MiB
=========  ==========  ===============  =============

The cost is that of finding where carrier and legs fit: in proportion to area times headings once
the site is large, and to obstacles and leg extensions. Few poses have their capacity worked out.

The site, the machine and the lifts are invented. The full check is a real one: the three-
dimensional clearances of every lift's path from the place under test.
"""

from __future__ import annotations

import resource
from typing import Any

import numpy as np
import pytest
import shapely

from liftcalc.base.resources import demo_job_path
from liftcalc.clearance.bodies import CraneShape
from liftcalc.clearance.crane_bodies import HungLoad, crane_bodies
from liftcalc.clearance.least import Obstacle, least_clearances
from liftcalc.clearance.powerline import sagged_line
from liftcalc.clearance.solids import Prism
from liftcalc.crane.chart import ChartTable
from liftcalc.crane.legs import base_polygon, leg_points_m
from liftcalc.crane.masses import MachineMasses, straight_boom
from liftcalc.crane.stability import stability_capacity_t
from liftcalc.facts.io import load_job
from liftcalc.lift.standing import SheetCheck, search_problem
from liftcalc.placement.capacity import ChartCapacity, LiftDuty
from liftcalc.placement.fit import StandGrid
from liftcalc.placement.ground import Blocker, StandingGround, StandingMachine
from liftcalc.placement.measure import SearchProblem, StandPlace
from liftcalc.placement.search import SearchResult, search
from liftcalc.placement.setups import margin_map

LEG_X = (3.6, 3.6, -3.8, -3.8)
MASSES = MachineMasses(30.0, 0.5, 0.0, 14.0, -1.8)
SHAPE = CraneShape(
    -1.0,
    2.5,
    0.6,
    ((-4.0, 1.3), (-4.0, -1.3), (1.0, -1.3), (1.0, 1.3)),
    1.2,
    3.2,
    ((7.0, 1.3), (-4.0, 1.3), (-4.0, -1.3), (7.0, -1.3)),
    0.3,
    2.5,
)
HUNG = HungLoad(2.0, 1.5, 1.5, 2.0)


def capacity(length_m: float) -> ChartCapacity:
    radius = np.arange(4.0, length_m - 2.0, 2.0)
    boom = straight_boom(radius, length_m, mass_t=9.0, cg_from_foot_m=0.42 * length_m, foot_u_m=-1.0)
    charts = []
    for name, extension in (("full", 3.3), ("half", 2.3), ("in", 1.4)):
        base = base_polygon(leg_points_m(LEG_X, [extension] * 4))
        least = stability_capacity_t(np.arange(360.0), boom, base=base, masses=MASSES).min(axis=0)
        rated = np.floor(np.minimum(least, 40.0) * 10.0) / 10.0
        rated[rated < 0.1] = np.nan
        charts.append(ChartTable(name, np.array([length_m]), radius, rated[None], base, rule="test_load"))
    return ChartCapacity(tuple(charts), MASSES, "", length_m, 9.0, 0.42 * length_m, -1.0, LEG_X, 3.5, length_m - 2.5)


def site(width_m: float, depth_m: float) -> tuple[SearchProblem, list[Obstacle]]:
    """Sheds, trees, a culvert, a pit and a line, as many to the area on every size; 8 lifts."""
    rng = np.random.default_rng(11)
    parts = max(round(width_m * depth_m / 2400), 1)
    blockers = [
        Blocker("culvert", shapely.LineString([(0, 0.3 * depth_m), (width_m, 0.36 * depth_m)]),
                1.6, ("mats",)),
    ]  # fmt: skip
    obstacles = [
        Obstacle(
            "line", "overhead line", sagged_line([[0, depth_m + 6, 11], [width_m, depth_m + 9, 11]], sag_m=1.5), 3.048
        )
    ]
    for k in range(4 * parts):
        corner = rng.uniform((0, 0), (width_m - 8, depth_m - 6))
        shed = shapely.box(*corner, *(corner + rng.uniform(2.5, 7, 2)))
        blockers.append(Blocker(f"shed {k}", shed, 0.3, solid=True))
        outline = np.asarray(shed.exterior.coords)[:-1]
        prism = Prism(outline, 0.0, float(rng.uniform(3, 7)))
        obstacles.append(Obstacle(f"shed {k}", "building", prism, 0.5))
    for k in range(8 * parts):
        spot = shapely.Point(*rng.uniform((2, 2), (width_m - 2, depth_m - 2)))
        blockers.append(Blocker(f"tree {k}", spot, 0.8, solid=True))
    for k in range(parts):
        corner = rng.uniform((0, 0), (width_m - 10, depth_m - 8))
        blockers.append(Blocker(f"pit {k}", shapely.box(*corner, *(corner + 7)), 1.5))
    capacities = [capacity(24.0), capacity(32.0)]
    middle = np.array([0.55 * width_m, 0.6 * depth_m])
    lifts = tuple(
        LiftDuty(
            f"lift {k}",
            float(rng.uniform(2.5, 8.0)),
            tuple((middle + rng.uniform(-9, 9, 2)).tolist()),
            tuple((middle + rng.uniform(-9, 9, 2)).tolist()),
            capacities[k % 2],
        )
        for k in range(8)
    )
    ground = StandingGround(shapely.box(0, 0, width_m, depth_m), tuple(blockers))
    machine = StandingMachine((7.0, -4.0, 1.3), LEG_X, ((1.4, 2.0, 2.3, 2.8, 3.3),) * 4, 1.2, 1.0)
    grid = StandGrid.over(ground.allowed, step_m=0.25)
    headings = tuple(float(h) for h in range(0, 360, 5))
    return SearchProblem(ground, machine, grid, headings, lifts), obstacles


class ClearanceCheck:
    """Full check: every lift's path keeps its distances."""

    def __init__(self, problem: SearchProblem, obstacles: list[Obstacle]) -> None:
        self.problem, self.obstacles = problem, obstacles
        self.calls = 0

    def __call__(self, place: StandPlace) -> tuple[bool, str]:
        self.calls += 1
        for lift in self.problem.lifts:
            ends = np.array([lift.pick_m, lift.set_down_m]) - (place.easting_m, place.northing_m)
            radius = np.hypot(*ends.T)
            slew = np.degrees(np.arctan2(ends[:, 1], ends[:, 0])) - place.heading_deg
            turn = (slew[1] - slew[0] + 180.0) % 360.0 - 180.0
            t = np.linspace(0.0, 1.0, 91)
            source = lift.capacity
            assert isinstance(source, ChartCapacity)
            reach = radius[0] + t * (radius[1] - radius[0])
            height = 2.5 + np.sqrt(source.boom_length_m**2 - (reach + 1.0) ** 2)
            bodies = crane_bodies(
                SHAPE,
                HUNG,
                easting_m=place.easting_m,
                northing_m=place.northing_m,
                level_m=0.0,
                heading_deg=place.heading_deg,
                slew_deg=slew[0] + t * turn,
                radius_m=reach,
                head_height_m=height,
                load_base_height_m=np.minimum(8.0, height - 4.0),
            )
            worst = least_clearances(bodies, self.obstacles).governing
            if worst is not None and not worst.within:
                return False, f"{lift.name}: {worst.body} to {worst.obstacle}"
        return True, ""


def _cpu_s() -> float:
    """Processor time of this process: what a busy machine cannot blur."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


@pytest.mark.parametrize(("width_m", "depth_m"), [(45, 40), (60, 40), (120, 80)])
def test_ten_best_places(benchmark: Any, width_m: float, depth_m: float) -> None:
    problem, obstacles = site(width_m, depth_m)
    check = ClearanceCheck(problem, obstacles)
    before = _cpu_s()
    result = benchmark.pedantic(lambda: search(problem, check, count=10), rounds=1, iterations=1)
    assert result.complete
    benchmark.extra_info.update(
        cpu_s=_cpu_s() - before,
        poses=result.poses,
        fitting=result.fitting,
        measured=result.measured,
        places=len(result.places),
        full_checks=check.calls,
        best_utilisation=result.places[0].utilisation if result.places else None,
        peak_MiB=resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    )


def test_margin_map_at_one_metre(benchmark: Any) -> None:
    problem, _ = site(60, 40)
    coarse = SearchProblem(
        problem.ground,
        problem.machine,
        StandGrid.over(problem.ground.allowed, step_m=1.0),
        problem.headings_deg,
        problem.lifts,
    )
    benchmark.pedantic(lambda: margin_map(coarse), rounds=1, iterations=1)


def test_clearances_of_2000_steps(benchmark: Any) -> None:
    rng = np.random.default_rng(0)
    t = np.linspace(0, 1, 2000)
    bodies = crane_bodies(
        SHAPE,
        HungLoad(3.0, 2.0, 2.5, 2.0, swing_deg=3.0),
        easting_m=0,
        northing_m=0,
        level_m=5,
        heading_deg=20,
        slew_deg=10 + 150 * t,
        radius_m=12 + 4 * np.sin(3 * t),
        head_height_m=25 + 2 * np.cos(2 * t),
        load_base_height_m=6 + 2 * np.sin(6 * t),
    )
    obstacles = []
    while len(obstacles) < 18:
        corner = rng.uniform(-35, 35, 2)
        size = rng.uniform(1, 6, 2)
        outline = corner + np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size
        prism = Prism(outline, 4.0, float(rng.uniform(6, 20)))
        obstacles.append(Obstacle(f"b{len(obstacles)}", "building", prism, 0.5))
    for k, y in enumerate((28.0, -30.0)):
        line = sagged_line([[-40, y, 14], [0, y + 5, 14], [40, y, 15]], sag_m=2)
        obstacles.append(Obstacle(f"line {k}", "overhead line", line, 3.048))
    result = benchmark(least_clearances, bodies, obstacles)
    assert result.n_steps == 2000


def test_demo_site_with_every_check_of_the_sheets(benchmark: Any) -> None:
    """60 x 40 m demo site, 0.25 m, 72 headings, four lifts; the full check is all four sheets."""
    job = load_job(demo_job_path())
    lifts = ("L1", "L2", "L3", "L4")
    problem = search_problem(job, lifts, step_m=0.25, heading_step_deg=5.0)

    def ten_best() -> SearchResult:
        return search(problem, SheetCheck(job).of(*lifts), count=10, apart_m=1.0, apart_deg=20.0)

    found = benchmark.pedantic(ten_best, rounds=1, iterations=1)
    assert found.complete
    assert len(found.places) == 10
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"\n{problem.poses:,} poses, {found.fitting:,} with room, peak {peak:.0f} MiB")
