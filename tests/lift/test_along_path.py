"""Way of the hook, outlines of the load, use of each limit, lines of equal margin."""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.lift.along_path import hook_way_m, limit_uses, load_outlines_m, margin_rings
from liftcalc.lift.assess import LiftAssessment, assess_lift


@pytest.fixture(scope="module")
def assessed() -> dict[str, LiftAssessment]:
    job = load_job(demo_job_path())
    return {lift.id: assess_lift(job, lift.id) for lift in job.lifts}


def test_the_hook_goes_from_pick_to_set_down(assessed: dict[str, LiftAssessment]) -> None:
    for a in assessed.values():
        lift, way = a.setup.lift, hook_way_m(a.setup, a.path)
        assert way[0] == pytest.approx((lift.pick.easting_m, lift.pick.northing_m), abs=1e-6)
        end = (lift.set_down.easting_m, lift.set_down.northing_m)
        assert way[-1] == pytest.approx(end, abs=1e-6)


def test_the_load_has_its_size_where_it_is_picked_and_set_down(assessed: dict[str, LiftAssessment]) -> None:
    for a in assessed.values():
        load, hung = a.setup.lift.load, a.setup.hung
        places = (a.setup.lift.pick, a.setup.lift.set_down)
        for place, ring in zip(places, load_outlines_m(a.setup), strict=True):
            assert np.ptp(ring, axis=0) == pytest.approx([load.length_m, load.width_m])
            middle = (place.easting_m + hung.middle_x_m, place.northing_m + hung.middle_y_m)
            assert ring.mean(axis=0) == pytest.approx(middle)


def test_an_estimate_never_counts_as_rated(assessed: dict[str, LiftAssessment]) -> None:
    for a in assessed.values():
        curves = {use.name: use.share for use in limit_uses(a)}
        data, argued = a.study.capacity.has_capacity_data, a.study.capacity.on_condition
        asked = curves.get("rated capacity, on condition", np.full(data.size, np.nan))
        for drawn, states in ((curves["rated capacity"], data & ~argued), (asked, argued)):
            assert np.isnan(drawn[~states]).all()
            assert drawn[states] == pytest.approx(a.study.utilisation[states])


def test_stability_and_legs_use_what_their_checks_say(assessed: dict[str, LiftAssessment]) -> None:
    for a in assessed.values():
        uses = {use.name: use.share for use in limit_uses(a)}
        worst = uses["stability on this base"].max()
        assert worst == pytest.approx(a.setup.gross_t / a.study.stability_t.min())
        legs = a.setup.machine.legs
        forces = a.forces.path_reaction_kN
        by_hand = max(forces[step, k] / leg.capacity_kN for step in range(len(a.path)) for k, leg in enumerate(legs))
        if not np.isnan(forces).any():
            assert uses["outrigger strength"].max() == pytest.approx(by_hand)


def test_margin_rings_lie_inside_the_base_at_their_distance(assessed: dict[str, LiftAssessment]) -> None:
    base = assessed["L1"].setup.base
    rings = margin_rings(base.vertices_m)
    assert [inside for inside, _ in rings] == [0.5, 1.0, 1.5, 2.0]
    for inside, ring in rings:
        distance = (ring @ base.normals.T - base.offsets_m).min(axis=1)
        assert distance == pytest.approx(np.full(len(ring), inside), abs=1e-6)
    square = np.array([(0.0, 0.0), (2.2, 0.0), (2.2, 2.2), (0.0, 2.2)])
    assert len(margin_rings(square)) == 2  # no room for a third at 1.5 m
