"""The working area never covers ground that an overhead line or a zone bars."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.setup import Setup, to_machine_m, to_site_m
from liftcalc.lift.working_area import working_area

JOB = load_job(demo_job_path())


@pytest.fixture(scope="module")
def setup() -> Setup:
    return assess_lift(JOB, "L1").setup


def test_no_hook_place_in_the_area_puts_boom_or_load_within_the_lines_distance(setup: Setup) -> None:
    area = working_area(setup, setup.gross_t).within
    line = shapely.LineString(to_machine_m(setup.site.overhead_lines[0].points, setup.lift))
    half = np.hypot(setup.lift.load.length_m, setup.lift.load.width_m) / 2
    low_x, low_y, high_x, high_y = area.bounds
    rng = np.random.default_rng(7)
    tried = 0
    for x, y in rng.uniform([low_x, low_y], [high_x, high_y], (2000, 2)):
        if not area.contains(shapely.Point(x, y)):
            continue
        tried += 1
        boom = shapely.LineString([(0.0, 0.0), (x, y)])
        assert boom.distance(line) >= 10 * 0.3048  # Table A, 33 kV: 10 ft
        assert shapely.Point(x, y).distance(line) - half >= 10 * 0.3048 - 0.01
    assert tried > 500


def test_the_area_stays_out_of_zones_with_no_load_above(setup: Setup) -> None:
    study = working_area(setup, setup.gross_t)
    for zone in setup.site.areas:
        if zone.kind in ("no-overfly", "people exclusion"):
            ring = shapely.Polygon(to_machine_m(zone.polygon, setup.lift))
            assert study.within.intersection(ring).area == pytest.approx(0.0, abs=1e-6)
            assert study.no_data.intersection(ring).area == pytest.approx(0.0, abs=1e-6)


def test_a_line_of_unknown_voltage_bars_more_than_a_known_one(setup: Setup) -> None:
    line = setup.site.overhead_lines[0].model_copy(update={"voltage_kV": None})
    site = setup.site.model_copy(update={"overhead_lines": (line,)})
    known = working_area(setup, setup.gross_t).within.area
    assert working_area(replace(setup, site=site), setup.gross_t).within.area < known - 1.0


def test_machine_and_site_frame_are_each_others_way_back(setup: Setup) -> None:
    lift = setup.lift.model_copy(update={"stand": setup.lift.stand.model_copy(update={"heading_deg": 37.0})})
    points = np.random.default_rng(3).uniform(-40, 60, (50, 2))
    assert to_site_m(to_machine_m(points, lift), lift) == pytest.approx(points, abs=1e-12)
