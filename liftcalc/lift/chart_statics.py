"""Machine and charts set side by side: what is typed must hold together by statics.

On the chart's own base no rating stands above what the stated masses carry by the chart's own
rule; and where the manufacturer marks a rating as limited by stability, the masses must not carry
far more than it. The first finds a rating, mass or place typed too high or too far; the second a
machine that is steadier in its file than in its charts, which would show only on a base that no
chart was made for. Statics: :mod:`liftcalc.crane.stability`. The two tolerances are this project's
own; no published source.
"""

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.errors import InputError, Problem
from liftcalc.crane.chart import ChartTable, slew_in_sector
from liftcalc.crane.stability import Rule, stability_capacity_t
from liftcalc.facts.base import Fact
from liftcalc.facts.chart import RatedChart
from liftcalc.facts.job import Job
from liftcalc.facts.machine import Machine
from liftcalc.lift.setup import boom_at_length, boom_states, chart_tables, machine_masses

ABOVE_STATICS = 0.02
"""A rating may stand this much above statics, and half a tenth of a tonne of rounding more. [1]"""
BELOW_STATICS = 0.10
"""Ratings limited by stability lie, in the middle of them, at most this much below statics. [1]"""
_REMEDY = "Read masses, places and ratings back against the manufacturer's papers."


def _slews_deg(table: ChartTable) -> NDArray[np.float64]:
    """Slews at which each tipping line is weakest: square to it, or at the sector's ends."""
    normals = table.base.normals
    square = np.degrees(np.arctan2(normals[:, 1], normals[:, 0]))
    inside = slew_in_sector(square, table.sector_deg)
    return np.concatenate([square[inside], table.sector_deg])


def _statics_t(machine: Machine, table: ChartTable, rule: Rule) -> NDArray[np.float64]:
    """Stability-limited load of every rated cell, NaN where nothing is rated. [t]"""
    limit = np.full_like(table.capacity_t, np.nan)
    masses, slews = machine_masses(machine, table.counterweight), _slews_deg(table)
    for k, length in enumerate(table.boom_length_m):
        rated = np.isfinite(table.capacity_t[k])
        if rated.any():
            boom = boom_states(machine, boom_at_length(machine, length), table.radius_m[rated])
            by_slew = stability_capacity_t(slews, boom, base=table.base, masses=masses, rule=rule,
                                           tipping_fraction=table.tipping_fraction)  # fmt: skip
            limit[k, rated] = by_slew.min(axis=0)
    return limit


def chart_faults(machine: Machine, charts: Iterable[RatedChart]) -> Iterator[Problem]:
    """What in the charts of a machine does not hold together with its stated masses.

    Level ground, no wind, rigid boom, as a chart's own statement is. A structural limit not marked
    by ``strength_t`` cannot be distinguished from a stability limit, so the second question is put
    only to ratings below their ``strength_t``. Raises nothing.

    Parameters:
      machine: Machine
      charts: iterable of RatedChart. Charts of this machine; each is judged alone, on its own base,
        with its own counterweight, sector and rule.
    Returns: iterator of Problem. One for a chart at most for each of the two questions, naming its worst cell.
    """
    for chart in charts:
        (table,) = chart_tables(machine, (chart,))
        limit = _statics_t(machine, table, chart.rule)
        over = table.capacity_t - limit * (1 + ABOVE_STATICS) - 0.05
        if np.nanmax(over) > 0:
            k, n = np.unravel_index(int(np.nanargmax(over)), over.shape)
            yield Problem(
                f"chart {chart.id}: capacity_t at boom {table.boom_length_m[k]:g} m, "
                f"radius {table.radius_m[n]:g} m", float(table.capacity_t[k, n]),
                f"at most {limit[k, n]:.2f} t, which the machine's stated masses carry there on "
                "the chart's own base by the chart's own rule", _REMEDY,
            )  # fmt: skip
        for strength in chart_tables(machine, (chart,), strength=True):
            # a sector may be rated as the whole circle is, so the weakest slew of the circle counts
            limit = _statics_t(machine, replace(table, sector_deg=(0.0, 360.0)), chart.rule)
            by_stability = (table.capacity_t < 0.95 * strength.capacity_t) & (limit > 0)
            share = table.capacity_t[by_stability] / limit[by_stability]
            if share.size and np.median(share) < 1 - BELOW_STATICS:
                yield Problem(
                    f"chart {chart.id}: ratings below their strength_t",
                    f"{100 * float(np.median(share)):.0f} % of what statics allow (median)",
                    f"{100 * (1 - BELOW_STATICS):.0f} % or more: the machine's stated masses make "
                    "it steadier than its own chart, which would carry over too much",
                    _REMEDY,
                )


def require_plausible_charts(job: Job) -> None:
    """Refuse charts of a job that do not hold together with their machine's masses.

    Raises: Naming every such chart with its worst cell; see :func:`chart_faults`.
    """
    problems: list[Problem] = []
    for machine in job.machines:
        charts = [c for c in job.charts if c.machine == machine.id]
        facts: list[Fact] = [machine, *charts]
        if not any([*map(id, facts)] == [*map(id, before)] for before in _PASSED):
            found = list(chart_faults(machine, charts))
            problems += found
            if not found:
                _PASSED.append(facts)
    if problems:
        raise InputError(problems)


_PASSED: deque[list[Fact]] = deque(maxlen=16)
"""Facts, never changed once made, that passed: the next lift of a job asks them again."""
