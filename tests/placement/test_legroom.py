"""Leg ranges against sliding the mat in small steps, and the grid answer against the single one."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import affinity

from liftcalc.base.errors import InputError
from liftcalc.crane.legs import LEG_SIDE
from liftcalc.placement.fit import FitMapper, StandGrid
from liftcalc.placement.ground import Blocker, StandingGround, StandingMachine, around, leg_ranges

MACHINE = StandingMachine((7.0, -4.0, 1.3), (3.6, 3.6, -3.8, -3.8), ((1.4, 2.0, 2.6, 3.2),) * 4, 1.2, 1.0)
YARD = shapely.box(-30, -30, 30, 30)


def random_ground(seed: int) -> StandingGround:
    rng = np.random.default_rng(seed)
    blockers = [
        Blocker("duct", shapely.LineString(rng.uniform(-12, 12, (3, 2))), 0.8, ("mats",)),
        Blocker("pit", shapely.Polygon([(4, 3), (9, 3), (9, 8), (6.5, 5), (4, 8)]), 0.7),
        Blocker("bank", shapely.box(-12, -9, -5, -6), 1.0, ("mats",)),
    ]
    blockers += [Blocker(f"tree {k}", shapely.Point(*rng.uniform(-10, 10, 2)), 0.5, solid=True) for k in range(4)]
    allowed = shapely.Polygon([(-12, -10), (13, -9), (12, 11), (2, 12), (-11, 9)])
    return StandingGround(allowed, tuple(blockers))


@pytest.mark.parametrize("seed", range(40))
def test_ranges_against_sliding_the_mat(seed: int) -> None:
    """A mat moved sideways in 1 cm steps is free exactly inside the ranges."""
    ground = random_ground(seed)
    rng = np.random.default_rng(100 + seed)
    east, north, heading = rng.uniform(-6, 6), rng.uniform(-6, 6), rng.uniform(-180, 180)
    room = leg_ranges(ground, MACHINE, easting_m=east, northing_m=north, heading_deg=heading)
    mats = shapely.unary_union([b.area for b in ground.blockers if "mats" in b.blocks and not b.solid])
    solid = shapely.unary_union([b.area for b in ground.blockers if b.solid])
    for i, leg in enumerate(room.legs):
        side, x = LEG_SIDE[i], MACHINE.leg_x_m[i]
        for extension in np.linspace(1.4, 3.2, 181).tolist():
            mat, beam = (
                affinity.translate(affinity.rotate(box, heading, origin=(0, 0)), east, north)
                for box in (
                    shapely.box(x - 0.6, side * extension - 0.5, x + 0.6, side * extension + 0.5),
                    shapely.box(x - 0.6, min(0, side * (extension + 0.5)), x + 0.6,
                                max(0, side * (extension + 0.5))),
                )
            )  # fmt: skip
            free = (
                ground.allowed.covers(mat) and not mat.intersects(mats)
                and not beam.intersects(solid)
            )  # fmt: skip
            told = any(a <= extension <= b for a, b in leg.ranges_m)
            if told != free:
                assert free, "told free where the mat is blocked"
                # only within the touching distance
                fat = mat.buffer(1.01e-3, join_style="mitre")
                assert (
                    not ground.allowed.covers(fat)
                    or fat.intersects(mats)
                    or beam.buffer(1.01e-3, join_style="mitre").intersects(solid)
                )
        longest = leg.longest_m
        assert longest == (leg.ranges_m[-1][1] if leg.ranges_m else None)
        options = [o for o in (1.4, 2.0, 2.6, 3.2) if any(a <= o <= b for a, b in leg.ranges_m)]
        assert leg.longest_option_m == (options[-1] if options else None)
        assert bool(leg.blocked_by) == (longest is None or longest < 3.2)


def test_known_ranges_and_what_blocks() -> None:
    wall = Blocker("wall", shapely.box(-20, 3.0, 20, 3.3), 0.0, solid=True)
    duct = Blocker("duct", shapely.LineString([(-20, -2.5), (20, -2.5)]), 0.3, ("mats",))
    ground = StandingGround(YARD, (wall, duct))
    room = leg_ranges(ground, MACHINE, easting_m=0, northing_m=0, heading_deg=0)
    left, right = room.legs[0], room.legs[1]
    # mat half width 0.5: the left leg stops 0.5 m before the wall
    assert left.longest_m == pytest.approx(3.0 - 0.5, abs=2e-3)
    assert left.longest_option_m == 2.0
    assert left.blocked_by == ("wall",)
    # the right leg may stand on either side of the duct: up to 1.7 m, or from 3.3 m (over stroke)
    assert right.ranges_m[-1][1] == pytest.approx(2.5 - 0.3 - 0.5, abs=2e-2)
    assert right.blocked_by == ("duct",)
    assert room.extension_m == (2.0, 1.4, 1.4, 2.0)
    longer = StandingMachine((7, -4, 1.3), MACHINE.leg_x_m, ((1.4, 4.0),) * 4, 1.2, 1.0)
    over = leg_ranges(ground, longer, easting_m=0, northing_m=0, heading_deg=0)
    assert len(over.legs[1].ranges_m) == 2  # the beam may pass over the duct
    assert over.legs[1].longest_m == 4.0
    assert len(over.legs[0].ranges_m) == 1  # but not through the wall
    free = leg_ranges(StandingGround(YARD), MACHINE, easting_m=0, northing_m=0, heading_deg=77)
    assert free.fits
    assert free.extension_m == (3.2,) * 4
    assert all(leg.blocked_by == () for leg in free.legs)


def test_carrier_and_ground_edge_are_named() -> None:
    skip = Blocker("skip", shapely.box(5, -0.5, 6, 0.5), 0.0, ("carrier",))
    ground = StandingGround(shapely.box(-6, -3, 6.5, 9), (skip,))
    room = leg_ranges(ground, MACHINE, easting_m=0, northing_m=0, heading_deg=0)
    assert room.carrier_blocked_by == ("skip", "edge of the permitted outrigger area")
    assert not room.fits
    assert room.extension_m is None
    assert room.legs[1].blocked_by == ("edge of the permitted outrigger area",)
    assert room.legs[1].longest_m == pytest.approx(2.5, abs=2e-3)


@pytest.mark.parametrize("seed", range(8))
def test_whole_grid_agrees_with_single_stands(seed: int) -> None:
    ground = random_ground(seed)
    rng = np.random.default_rng(seed)
    grid = StandGrid.over(ground.allowed, step_m=0.5)
    heading = float(rng.uniform(-180, 180))
    maps = FitMapper(ground, MACHINE).at(grid, heading)
    east, north = grid.points_m()
    for i in rng.choice(grid.size, 100, replace=False):
        room = leg_ranges(ground, MACHINE, easting_m=east[i], northing_m=north[i], heading_deg=heading)
        assert maps.carrier[i] == (not room.carrier_blocked_by)
        if room.carrier_blocked_by:
            continue  # legs are not looked at everywhere where the carrier has no room
        options = [
            -1 if leg.longest_option_m is None else MACHINE.extension_options_m[k].index(leg.longest_option_m)
            for k, leg in enumerate(room.legs)
        ]
        assert maps.leg_option[i].tolist() == options
        assert maps.fits[i] == room.fits


def test_axis_aligned_site_on_the_grid_lines_blocks_what_touches() -> None:
    """Walls that run along grid lines: touching counts as blocked, one step away is free."""
    ground = StandingGround(shapely.box(0, 0, 30, 30))
    machine = StandingMachine((4.0, -4.0, 1.0), (3, 3, -3, -3), ((2.0,),) * 4, 1.0, 1.0)
    grid = StandGrid(0.0, 0.0, 0.5, 61, 61)
    maps = FitMapper(ground, machine).at(grid, 0.0)
    east, north = grid.points_m()
    want = (east > 4.0) & (east < 26.0) & (north > 2.5) & (north < 27.5)
    np.testing.assert_array_equal(maps.fits, want)


def test_around_errs_outward_and_little() -> None:
    line = shapely.LineString([(0, 0), (10, 3), (12, -4), (11.9, 2), (20, 2.2)])
    true = line.buffer(1.5, quad_segs=512)
    drawn = around(line, 1.5)
    assert drawn.buffer(1e-9).covers(true)
    assert true.buffer(1.5 * 0.003).covers(drawn)
    assert around(YARD, 0.0) is YARD


def test_wrong_ground_and_machine_are_refused() -> None:
    bow_tie = shapely.Polygon([(0, 0), (4, 4), (4, 0), (0, 4)])
    with pytest.raises(InputError, match=r"geometry of pit is 'Self-intersection\[2 2\]'"):
        Blocker("pit", bow_tie)
    with pytest.raises(InputError, match="valid area"):
        StandingGround(bow_tie)
    with pytest.raises(InputError, match="valid area"):
        StandingGround(shapely.Polygon())
    with pytest.raises(InputError, match="above 0 for a line"):
        Blocker("duct", shapely.LineString([(0, 0), (1, 1)]))
    with pytest.raises(InputError, match="clear_m of x"):
        Blocker("x", YARD, float("nan"))
    with pytest.raises(InputError, match="blocks of x"):
        Blocker("x", YARD, blocks=("wheels",))  # type: ignore[arg-type]
    with pytest.raises(InputError, match="rising values"):
        StandingMachine((7, -4, 1.3), MACHINE.leg_x_m, ((2.0, 2.0),) * 4, 1.2, 1.0)
    with pytest.raises(InputError, match=r"(?s)mat_width_m.*carrier_m"):
        StandingMachine((-7, -4, 1.3), MACHINE.leg_x_m, ((2.0,),) * 4, 1.2, float("nan"))
    with pytest.raises(InputError, match="heading_deg"):
        leg_ranges(StandingGround(YARD), MACHINE, easting_m=0, northing_m=0, heading_deg=float("nan"))
    with pytest.raises(InputError, match="step_m"):
        StandGrid(0, 0, 0.0, 3, 3)
