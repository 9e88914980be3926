"""The invented machines' charts: the archived files are what the script builds."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from liftcalc.crane.capacity import capacity_by_slew
from liftcalc.crane.chart import ChartTable
from liftcalc.crane.legs import base_polygon, leg_points_m
from liftcalc.crane.sectors import SOURCES
from liftcalc.crane.stability import stability_capacity_t
from liftcalc.facts.chart import RatedChart
from liftcalc.facts.io import load_fact, parse_fact, read_data
from liftcalc.facts.machine import Machine

SHARED = Path(__file__).parent.parent / "shared"


def load_script():
    spec = importlib.util.spec_from_file_location("build_charts", SHARED / "machines" / "build_charts.py")
    module = importlib.util.module_from_spec(spec)
    import sys

    sys.modules["build_charts"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


BUILD = load_script()
PLANS = {plan.machine: plan for plan in BUILD.PLANS}


def read_charts(name: str) -> list[RatedChart]:
    return [parse_fact(RatedChart, data) for data in read_data(SHARED / "charts" / f"{name}.yaml")]


def table_of(chart: RatedChart, machine: Machine) -> ChartTable:
    points = leg_points_m([leg.x_m for leg in machine.legs], [chart.leg_extension_m[leg.name] for leg in machine.legs])
    return ChartTable(
        chart.id,
        chart.boom_length_m,
        chart.radius_m,
        np.array(chart.capacity_t, dtype=float),
        base_polygon(points),
        counterweight=chart.counterweight,
        sector_deg=chart.sector_deg,
        rule=chart.rule,
    )


@pytest.mark.parametrize("name", sorted(PLANS))
def test_archived_charts_are_what_the_script_builds(name, tmp_path):
    BUILD.main(tmp_path)
    built = (tmp_path / f"{name}.yaml").read_text(encoding="utf-8")
    assert built == (SHARED / "charts" / f"{name}.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", sorted(PLANS))
def test_charts_are_marked_invented_and_cover_three_bases_and_two_counterweights(name):
    charts = read_charts(name)
    assert all(chart.provenance.kind == "invented" for chart in charts)
    assert len({chart.base_name for chart in charts}) == 3
    assert len({chart.counterweight for chart in charts}) == 2
    assert len(charts) == 6


@pytest.mark.parametrize("name", sorted(PLANS))
def test_charts_agree_with_the_machine_by_stability_and_strength(name):
    """No rating passes the rule on its own base, and each lies within 0.1 t of what governs."""
    machine = load_fact(Machine, SHARED / "machines" / f"{name}.yaml")
    slew = np.arange(0.0, 360.0, 1.0)
    seen = 0
    for chart in read_charts(name):
        table = table_of(chart, machine)
        strength = np.array(chart.strength_t, dtype=float)
        for k in range(len(chart.boom_length_m)):
            rated = ~np.isnan(table.capacity_t[k])
            if not rated.any():
                continue
            boom = BUILD.boom_state(machine, k, table.radius_m[rated])
            masses = BUILD.machine_masses(machine, chart.counterweight)
            stable = stability_capacity_t(slew, boom, base=table.base, masses=masses).min(axis=0)
            governs = np.minimum(stable, strength[k][rated])
            gap = governs - table.capacity_t[k][rated]
            assert np.all((gap >= -1e-6) & (gap < 0.1 + 1e-6))
            seen += rated.sum()
    assert seen > 500


@pytest.mark.parametrize("name", sorted(PLANS))
def test_a_larger_base_never_rates_less(name):
    charts = {(c.base_name, c.counterweight): c for c in read_charts(name)}
    for counterweight in {c.counterweight for c in charts.values()}:
        full, half, retracted = (
            np.array(charts[base, counterweight].capacity_t, dtype=float)
            for base in ("full", "intermediate", "retracted")
        )
        for larger, smaller in ((full, half), (half, retracted)):
            both = ~np.isnan(larger) & ~np.isnan(smaller)
            assert np.all(larger[both] >= smaller[both])
            assert np.all(~np.isnan(larger) | np.isnan(smaller))


@pytest.mark.parametrize("name", sorted(PLANS))
def test_an_uneven_layout_of_the_machine_uses_all_three_kinds_of_chart(name):
    machine = load_fact(Machine, SHARED / "machines" / f"{name}.yaml")
    charts = [table_of(c, machine) for c in read_charts(name)]
    full, half, _ = PLANS[name].bases_m.values()
    base = base_polygon(leg_points_m([leg.x_m for leg in machine.legs], [half, full, full, half]))
    weight = machine.counterweights[-1].id
    length = machine.boom.lengths_m[3]
    radius = np.array([8.0, 14.0, 18.0])
    result = capacity_by_slew(
        np.arange(360.0),
        radius,
        boom_length_m=length,
        base=base,
        charts=charts,
        counterweight=weight,
        masses=BUILD.machine_masses(machine, weight),
        boom=BUILD.boom_state(machine, 3, radius),
    )
    over_right, over_left = result.source[270, 2], result.source[90, 2]
    assert SOURCES[over_right] == "chart applied to this base (shown not less stable)"
    assert SOURCES[over_left] == "chart of a base inside this one"
    assert result.capacity_t[270, 2] > result.capacity_t[90, 2]
    assert result.has_capacity_data.all()
