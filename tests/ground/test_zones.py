"""Mats in plan: zones, overlaps and obstacles."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from liftcalc.base.errors import InputError
from liftcalc.ground.zones import (
    mat_conflicts,
    mat_outlines,
    require_mats_clear,
    zones_under_mats,
)

X = [4.0, 4.0, -4.0, -4.0]
Y = [3.0, -3.0, -3.0, 3.0]


def mats(**more) -> tuple[shapely.Polygon, ...]:
    return mat_outlines(X, Y, **({"length_m": 2.0, "width_m": 1.0} | more))


def test_outlines_have_their_size_place_and_turn() -> None:
    found = mats(orientation_deg=[0.0, 90.0, 30.0, 45.0])
    assert [m.area for m in found] == pytest.approx([2.0] * 4)
    assert found[0].bounds == pytest.approx((3.0, 2.5, 5.0, 3.5))
    assert found[1].bounds == pytest.approx((3.5, -4.0, 4.5, -2.0))
    assert found[2].centroid.coords[0] == pytest.approx((-4.0, -3.0))


def test_clear_mats_are_no_conflict_and_mats_may_touch() -> None:
    assert mat_conflicts(mats()) == ()
    touching = mat_outlines([0.0, 2.0], [0.0, 0.0], length_m=2.0, width_m=1.0)
    assert mat_conflicts(touching, names=("A", "B")) == ()


def test_mats_that_overlap_each_other_are_refused_by_name() -> None:
    with pytest.raises(InputError, match="mat FL is 'overlaps FR by"):
        require_mats_clear(mats(width_m=7.0))


def test_mats_on_or_too_near_an_obstacle_are_refused_all_in_one_message() -> None:
    obstacles = {
        "kerb": shapely.LineString([(-10.0, 3.0), (10.0, 3.0)]),
        "hydrant": shapely.Point(4.0, -3.8),
        "far wall": shapely.box(20.0, 20.0, 30.0, 21.0),
    }
    with pytest.raises(InputError) as told:
        require_mats_clear(mats(), obstacles=obstacles, clearance_m=0.5)
    text = str(told.value)
    assert "mat FL" in text
    assert "mat RL" in text
    assert "is 0.300 m from hydrant" in text
    assert "far wall" not in text
    found = mat_conflicts(mats(), obstacles={"pad": shapely.box(4.0, 2.5, 9.0, 3.5)})
    assert found[0].overlap_m2 == pytest.approx(1.0)


def test_a_mat_over_two_zones_takes_the_worse() -> None:
    firm = shapely.box(-20.0, -20.0, 3.2, 20.0)
    weak = shapely.box(3.2, -20.0, 20.0, 20.0)
    found = zones_under_mats(mats(), [firm, weak], rank=[300.0, 90.0])
    assert found.zone == (1, 1, 0, 0)
    assert found.touched[0] == (0, 1)
    assert found.share[0] == pytest.approx([0.1, 0.9])
    # the worse is a matter of rank, not of share, and may differ by mat
    other = zones_under_mats(mats(), [firm, weak], rank=lambda mat, zone: [50.0, 90.0][zone])
    assert other.zone == (0, 0, 0, 0)


def test_a_sliver_of_bad_ground_counts() -> None:
    good = shapely.box(-20.0, -20.0, 20.0, 20.0)
    sump = shapely.box(4.9, 3.4, 5.5, 4.0)
    found = zones_under_mats(mats(), [good, sump], rank=[200.0, 10.0])
    assert found.zone == (1, 0, 0, 0)


def test_a_mat_outside_every_zone_is_refused_by_name_and_share() -> None:
    zone = shapely.box(-20.0, -20.0, 4.5, 20.0)
    with pytest.raises(InputError, match=r"mat FL is '25.0 % outside every ground zone'") as told:
        zones_under_mats(mats(), [zone], rank=[200.0])
    assert "mat FR" in str(told.value)
    assert "mat RR" not in str(told.value)


def test_zones_that_share_an_edge_leave_no_gap() -> None:
    turned = mats(orientation_deg=17.0)
    strips = [shapely.box(x, -20.0, x + 0.7, 20.0) for x in np.arange(-7.0, 7.0, 0.7)]
    found = zones_under_mats(turned, strips, rank=list(np.arange(len(strips), dtype=float)))
    assert found.share.sum(axis=1) == pytest.approx(1.0)


def test_broken_zones_and_ranks_are_refused() -> None:
    bow_tie = shapely.Polygon([(-9, -9), (9, 9), (9, -9), (-9, 9)])
    with pytest.raises(InputError, match="yard is 'empty or self-crossing'"):
        zones_under_mats(mats(), [bow_tie], rank=[1.0], zone_names=["yard"])
    whole = shapely.box(-20.0, -20.0, 20.0, 20.0)
    with pytest.raises(InputError, match="rank of the ground under mat FL"):
        zones_under_mats(mats(), [whole], rank=[float("nan")])
    with pytest.raises(InputError, match="zones"):
        zones_under_mats(mats(), [], rank=[])
