"""Load paths: shortest where it is known, clear along the whole way, and refusals that name why."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from liftcalc.base.errors import InputError
from liftcalc.clearance.bodies import CraneShape
from liftcalc.clearance.crane_bodies import HungLoad, crane_bodies, load_to_boom_m
from liftcalc.clearance.lattice import OWN_LIMITS, Lattice
from liftcalc.clearance.least import Obstacle, least_clearances
from liftcalc.clearance.loadpath import PathAxes, PathBlockedError, PlannedPath, Utilisation, plan_load_path
from liftcalc.clearance.solids import Prism

Array = NDArray[np.float64]
SHAPE = CraneShape(
    -1.0,
    2.5,
    0.6,
    ((-4.2, 1.3), (-4.2, -1.3), (1.0, -1.3), (1.0, 1.3)),
    1.2,
    3.2,
    ((7.0, -1.3), (7.0, 1.3), (-4.0, 1.3), (-4.0, -1.3)),
    0.5,
    2.5,
)
LOAD = HungLoad(2.0, 1.5, 1.5, 2.0, swing_deg=1.0)
AXES = PathAxes((6.0, 18.0), (0.0, 12.0), 30.0, slew_step_deg=10.0, radius_step_m=2.0,
                height_step_m=2.0)  # fmt: skip
OUTSIDE = replace(AXES, radius_m=(8.5, 18.0))
STAND = (50.0, 40.0, 3.0, 25.0)


def block(name: str, slew: tuple[float, float], radius: tuple[float, float], top: float) -> Obstacle:
    """A ring piece round the stand, in the machine's slew and radius; top above the stand."""
    a = np.radians(np.linspace(slew[0], slew[1], 9) + STAND[3])
    ring = np.concatenate([radius[0] * np.c_[np.cos(a), np.sin(a)], (radius[1] * np.c_[np.cos(a), np.sin(a)])[::-1]])
    return Obstacle(name, "building", Prism(ring + np.array(STAND[:2]), STAND[2], STAND[2] + top), 0.5)


def plan(obstacles: list[Obstacle], **change: Any) -> PlannedPath:
    given: dict[str, Any] = {
        "obstacles": obstacles,
        "stand": STAND,
        "pick": (-40.0, 12.0, 0.0),
        "set_down": (40.0, 12.0, 0.0),
        "axes": AXES,
    }
    given.update(change)
    return plan_load_path(SHAPE, LOAD, **given)


def assert_clear(path: PlannedPath, obstacles: list[Obstacle]) -> None:
    """The path again, five times as fine, by the clearance check itself."""
    n = path.slew_deg.size
    fine = np.linspace(0, n - 1, 5 * (n - 1) + 1)

    def at(values: Array) -> Array:
        return np.interp(fine, np.arange(n), values)

    radius = at(path.radius_m)
    head = 2.5 + np.sqrt(AXES.boom_length_m**2 - (radius + 1.0) ** 2)
    bodies = crane_bodies(
        SHAPE,
        LOAD,
        easting_m=STAND[0],
        northing_m=STAND[1],
        level_m=STAND[2],
        heading_deg=STAND[3],
        slew_deg=at(path.slew_deg),
        radius_m=radius,
        head_height_m=head,
        load_base_height_m=at(path.load_base_height_m),
    )
    assert least_clearances(bodies, obstacles).within
    assert path.clearances.within


def corners(path: PlannedPath) -> list[tuple[str, float, float, float]]:
    return [
        (
            path.motion[i],
            round(float(path.slew_deg[i]) - float(path.slew_deg[0]), 6),
            float(path.radius_m[i]),
            float(path.load_base_height_m[i]),
        )
        for i in path.corners
    ]


def test_open_site_hoists_slews_and_lowers_in_the_least_time() -> None:
    path = plan([], carry_height_m=2.0)
    assert corners(path) == [
        ("start", 0.0, 12.0, 0.0),
        ("hoist", 0.0, 12.0, 2.0),
        ("slew", 80.0, 12.0, 2.0),
        ("hoist", 80.0, 12.0, 0.0),
    ]
    assert path.time_s[-1] == pytest.approx(2 / 0.2 + 8 + 80 / 3 + 8 + 2 / 0.2)
    assert np.isnan(path.greatest_utilisation)
    assert np.all(np.diff(path.time_s) > 0)


def test_luffs_to_a_set_down_at_another_radius_by_the_shorter_turn() -> None:
    path = plan([], pick=(170.0, 8.0, 0.0), set_down=(-150.0, 14.0, 4.0), carry_height_m=4.0)
    assert path.slew_deg[-1] - path.slew_deg[0] == pytest.approx(40.0)  # through 180
    assert path.radius_m[-1] == 14.0
    assert path.load_base_height_m[-1] == 4.0
    assert {m for m in path.motion if m != "start"} == {"hoist", "slew", "luff"}


def test_goes_over_a_low_obstacle_and_round_a_high_one() -> None:
    low = [block("shed", (-10, 10), (9, 15), 5.0)]
    path = plan(low)
    assert_clear(path, low)
    assert path.slew_deg[-1] - path.slew_deg[0] == pytest.approx(80.0)
    over = np.abs(path.slew_deg - path.slew_deg[0] - 40.0) < 10
    assert path.load_base_height_m[over].min() >= 5.5
    high = [block("tower", (-10, 10), (9, 15), 40.0)]
    path = plan(high)
    assert_clear(path, high)
    assert path.slew_deg[-1] - path.slew_deg[0] == pytest.approx(-280.0)


def test_luffs_inside_a_wall_ring() -> None:
    """All round but the pick's own side only small radii are free: the way leads inside."""
    ring = [block("ring", (-20, 330 - 20), (13.5, 20), 40.0)]
    path = plan(ring, pick=(-35.0, 16.0, 0.0), set_down=(90.0, 8.0, 0.0))
    assert_clear(path, ring)
    assert path.radius_m[0] == 16.0
    turning = [i for i, m in enumerate(path.motion) if m == "slew"]
    assert path.radius_m[turning].max() < 13.0


@pytest.mark.parametrize("seed", range(12))
def test_random_sites_give_a_clear_path_or_name_who_shuts_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    obstacles = [
        block(
            f"block {k}",
            tuple(np.sort(rng.uniform(-180, 180, 1)) + np.array([0, rng.uniform(10, 60)])),
            tuple(np.sort(rng.uniform(8, 19, 2)) + np.array([0, 0.5])),
            float(rng.uniform(2, 30)),
        )
        for k in range(4)
    ]
    blockers: tuple[str, ...] = ()
    try:
        path = plan(obstacles)
    except PathBlockedError as error:
        blockers = error.blockers
    if not blockers:
        assert_clear(path, obstacles)
        return
    assert set(blockers) <= {o.name for o in obstacles} | set(OWN_LIMITS)
    # without everything that is named, the way is open
    rest = [o for o in obstacles if o.name not in blockers]
    assert_clear(plan(rest), rest)


def test_shut_on_both_sides_names_each_that_alone_would_open() -> None:
    east = block("east tower", (-15, 15), (8, 19), 60.0)
    west = block("west tower", (165, 195), (5.2, 19), 60.0)
    with pytest.raises(PathBlockedError, match="Shut by east tower or by west tower") as caught:
        plan([east, west], axes=OUTSIDE)
    assert caught.value.blockers == ("east tower", "west tower")
    for one in (east, west):
        assert_clear(plan([one], axes=OUTSIDE), [one])


def test_shut_by_several_together_names_them_all() -> None:
    towers = [
        block("east a", (-15, -5), (8, 19), 60.0),
        block("east b", (5, 15), (8, 19), 60.0),
        block("west", (165, 195), (5.2, 19), 60.0),
        block("north", (100, 120), (5.2, 19), 60.0),
    ]
    with pytest.raises(PathBlockedError, match="Shut by all of") as caught:
        plan(towers, axes=OUTSIDE)
    named = set(caught.value.blockers)
    assert named & {"east a", "east b"}
    assert named & {"west", "north"}


def test_pick_under_an_obstacle_is_told_at_once() -> None:
    canopy = replace(
        block("canopy", (-45, -35), (10, 14), 8.0),
        shape=Prism(block("x", (-45, -35), (10, 14), 8.0).shape.polygon_m, 7.0, 8.0),  # type: ignore[union-attr]
    )
    with pytest.raises(PathBlockedError, match="cannot be at the pick: canopy"):
        plan([canopy])


def used(slew: Array, radius: Array) -> Array:
    """Invented: 60 % at 12 m, more with radius; the east side is weak."""
    east = np.where(np.abs((slew + 180) % 360 - 180) < 15, 1.3, 1.0)
    return 0.05 * np.outer(east, radius)


def of(share: float) -> Utilisation:
    """The same held against a share of the capacity."""
    return lambda slew, radius: used(slew, radius) / share


def test_a_lower_limit_draws_in_or_goes_round_the_weak_side() -> None:
    fast = plan([], utilisation=used, carry_height_m=2.0)
    assert fast.greatest_utilisation == pytest.approx(0.78)
    for share in (0.65, 0.7):
        tight = plan([], utilisation=of(share), carry_height_m=2.0)
        assert tight.greatest_utilisation <= 1.0
        assert fast.time_s[-1] < tight.time_s[-1]
        inside = np.abs((tight.slew_deg + 180) % 360 - 180) < 14
        assert np.all(tight.radius_m[inside] < 12.0)


def test_capacity_that_shuts_the_way_is_named() -> None:
    with pytest.raises(PathBlockedError, match="cannot be at the pick: rated capacity"):
        plan([], utilisation=of(0.5))

    def no_data(slew: Array, radius: Array) -> Array:
        value = used(slew, radius)
        value[np.abs(np.mod(slew, 180.0) - 90.0) > 80.0] = np.nan
        return value

    with pytest.raises(PathBlockedError, match="Shut by rated capacity") as caught:
        plan([], utilisation=no_data)
    assert caught.value.blockers == ("rated capacity",)


def test_more_obstacles_never_make_a_path_faster() -> None:
    sites = [
        [],
        [block("shed", (-10, 10), (9, 15), 5.0)],
        [block("shed", (-10, 10), (9, 15), 5.0), block("hall", (100, 200), (7, 18), 9.0)],
    ]
    times = [plan(site).time_s[-1] for site in sites]
    for a, b in itertools.pairwise(times):
        assert b >= a - 1e-9


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"pick": (0.0, 40.0, 0.0)}, "radius_m of pick"),
        ({"set_down": (0.0, 12.0, float("nan"))}, "set_down"),
        ({"axes": replace(AXES, slew_step_deg=0.05, height_step_m=0.01)}, "larger step"),
    ],
)
def test_wrong_requests_are_refused(change: dict[str, Any], text: str) -> None:
    with pytest.raises(InputError, match=text):
        plan([], **change)


def test_wrong_axes_are_refused() -> None:
    with pytest.raises(InputError, match=r"(?s)boom_length_m.*radius_m"):
        PathAxes((10.0, 5.0), (0.0, 5.0), 0.0)


@pytest.mark.parametrize("need", [0.0, 4.0, 6.0])
def test_a_state_with_the_load_too_near_to_the_boom_is_blocked(need: float) -> None:
    ends = (np.array([320.0, 12.0, 0.0]), np.array([40.0, 12.0, 0.0]))
    lattice = Lattice(SHAPE, LOAD, [], STAND, AXES, ends, need, 0.0, 0.0)
    blocked, names = lattice.blocked()
    gap = load_to_boom_m(
        SHAPE, LOAD, radius_m=lattice.at_radius, head_height_m=lattice.head,
        load_base_height_m=lattice.at_height,
    )  # fmt: skip
    room = ~blocked[names.index(OWN_LIMITS[0])]
    near = blocked[names.index(OWN_LIMITS[1])]
    assert near[room].tolist() == (gap[room] < max(need, 1e-6)).tolist()
    assert near.any() == bool((gap[room] < max(need, 1e-6)).any())
    assert need == 0.0 or near.sum() > 10


def test_no_body_moves_farther_than_a_fine_step_between_two_states() -> None:
    path = plan([block("hut", (-10.0, 10.0), (10.0, 14.0), 3.0)])
    turn = np.abs(np.diff(np.radians(path.slew_deg)))
    assert np.max(turn * (path.radius_m[1:] + np.hypot(LOAD.length_m, LOAD.width_m) / 2)) <= 0.05
