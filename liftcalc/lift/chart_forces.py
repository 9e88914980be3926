"""What a carried-over chart's outriggers and carrier bear here, to what they bear on its own base.

A chart is carried over by its margin against tipping, which sees neither outrigger nor carrier.
What the manufacturer has proved of them is what the rated load does on the chart's own base: force
on each outrigger, moment of its beam at the carrier's side (force times what the beam stands out)
and twist of the carrier (side moment of its front and of its rear outriggers), each the greatest
over the chart's sector and every rated radius of this boom length. What the planned gross load
does on the actual base is held to that, each outrigger to its own: twice, still and level, and
with hoist factor, planned wind and permitted lean on both bases, which the chart allows for too;
for a rigid and for a torsionally flexible carrier; on firm ground, as charts presume.

Source: statics; a comparison of this package, no published source.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, limit_check
from liftcalc.crane.chart import ChartTable, rated_capacity_t, slew_in_sector
from liftcalc.crane.legs import LEG_NAMES, contains_base
from liftcalc.crane.sectors import CARRIED, CONFIRMED
from liftcalc.lift.conditions import NOT_SEEN, confirmation_words, structure_confirmed
from liftcalc.lift.leg_forces import weight_on_base
from liftcalc.lift.path_study import PathStudy, interpolation_of
from liftcalc.lift.setup import Setup
from liftcalc.reactions.carrier import Carrier, carrier_supports, reactions_on

_DIRECTIONS = 16
_MODELS: tuple[Carrier, ...] = ("rigid", "flexible")
_KINDS = (
    ("chart-outrigger-force", "Outrigger force", "force_kN", slice(0, 4)),
    ("chart-outrigger-beam", "Moment of an outrigger beam at the carrier's side", "moment_kNm",
     slice(4, 8)),
    ("chart-carrier-twist", "Twist of the carrier", "moment_kNm", slice(8, 10)),
)  # fmt: skip
_PLACES = (
    *(f"outrigger {name}" for name in LEG_NAMES * 2),
    "front of the carrier",
    "rear of the carrier",
)
_REMEDY = (
    "Ask the manufacturer for the limits of outriggers and carrier and for a confirmation of this "
    "layout, take a lighter load, or set the outriggers to a base of the charts."
)


@dataclass(frozen=True)
class _Actions:
    """Greatest of each of ``_PLACES`` in each state, by case: infinite where it may tip."""

    value: FloatArray  # (cases, N, 10)
    cases: tuple[str, ...]


def _actions(
    setup: Setup, legs: FloatArray, slew: FloatArray, radius: FloatArray, load: FloatArray,
    *, outside: bool,
) -> _Actions:  # fmt: skip
    """*outside*: directions of wind and lean are corners around their circle, else on it."""
    springs = [leg.stiffness_kN_m for leg in setup.machine.legs]
    supports = carrier_supports(legs, springs, carriers=_MODELS)
    beam = np.maximum(np.abs(legs[:, 1]) - setup.machine.carrier.width_m / 2, 0.0)
    turn = np.linspace(0.0, 2 * np.pi, _DIRECTIONS, endpoint=False)
    outward = 1 / np.cos(np.pi / _DIRECTIONS) if outside else 1.0
    round_about = outward * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    values, cases = [], []
    for words, factor, ways in (
        ("still and level", 1.0, np.zeros((1, 2))),
        ("with hoist factor, wind and lean", float(setup.gross.dynamic_factor), round_about),
    ):
        force, at, reach = weight_on_base(setup, slew, radius, load_t=factor * load)
        xy = at[:, None] + reach[:, None, None] * ways
        for model, one in reactions_on(supports, force[:, None], xy, stiffness_given=True).items():
            twist = np.stack([one.front_side_moment_kNm, one.rear_side_moment_kNm], axis=-1)
            every = np.concatenate(
                [one.reaction_kN, one.reaction_kN * beam, np.abs(twist)], axis=-1
            )
            values.append(np.where(one.unstable[..., None], np.inf, every).max(axis=1))
            cases.append(f"{model} carrier, {words}")
    return _Actions(np.stack(values), tuple(cases))


def _proved(setup: Setup, table: ChartTable, radius_m: FloatArray) -> FloatArray:
    """Greatest actions of the chart's ratings on its own base, shape (cases, 10)."""
    reach = (table.radius_m >= setup.boom.radius_min_m) & (
        table.radius_m <= setup.boom.radius_max_m
    )
    radius = np.unique([*table.radius_m[reach], radius_m.min(), radius_m.max()])
    rated = rated_capacity_t(
        table, setup.boom.length_m, radius_m=radius, interpolation=interpolation_of(setup)
    )
    slew = np.unique([*np.arange(0.0, 360.0, 3.0), *np.mod(table.sector_deg, 360.0)])
    slew = slew[slew_in_sector(slew, table.sector_deg)]
    known = ~np.isnan(rated)
    s, r = (a.ravel() for a in np.meshgrid(slew, radius[known], indexing="ij"))
    load = np.tile(rated[known], slew.size)
    proved = _actions(setup, table.base.leg_xy_m, s, r, load, outside=False).value
    # a state in which the chart's own base would tip proves nothing
    greatest: FloatArray = np.where(np.isfinite(proved), proved, 0.0).max(axis=1)
    return greatest


def chart_force_checks(setup: Setup, study: PathStudy) -> list[Check]:
    """Outrigger force, beam moment and carrier twist, where a chart is carried over; else no rows.

    A manufacturer's confirmation of this very layout covers its steps: there the rows only inform.
    """
    found, path = study.capacity, study.path
    inside = [contains_base(setup.base, t.base) for t in setup.tables]
    argued = (found.source == CARRIED) | (
        (found.source == CONFIRMED) & ~np.array([*inside, True])[found.chart]
    )
    open_ = argued & ~structure_confirmed(setup, found)
    steps = np.flatnonzero(open_ if open_.any() else argued)
    if not steps.size:
        return []
    # where the load only goes up or down, one step stands for all
    turned = np.stack([path.slew_deg[steps], found.radius_m[steps], found.chart[steps]], axis=-1)
    steps = steps[np.sort(np.unique(turned, axis=0, return_index=True)[1])]
    radius = found.radius_m[steps]
    actual = _actions(
        setup, setup.leg_xy_m, path.slew_deg[steps], radius,
        np.full(steps.size, setup.gross_t), outside=True,
    )  # fmt: skip
    chart = found.chart[steps]
    proved = np.empty_like(actual.value)
    for k in np.unique(chart):
        proved[:, chart == k] = _proved(setup, setup.tables[k], radius[chart == k])[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        used = np.where(actual.value > 0, actual.value / proved, 0.0)
    rows = []
    for id, title, quantity, part in _KINDS:
        case, n, place = np.unravel_index(int(used[..., part].argmax()), used[..., part].shape)
        at = (int(case), int(n), int(place) + part.start)
        step, name = int(steps[n]), setup.tables[chart[n]].chart_id
        row = limit_check(
            id,
            f"{title} to the greatest on the base of the chart carried over",
            value=float(actual.value[at]),
            limit=float(proved[at]),
            quantity=quantity,
            reference=f"statics; {name} at its ratings for this boom length, on its own base. "
            f"{NOT_SEEN}",
            where=f"{_PLACES[at[2]]}, {path.describe(step)}; {actual.cases[at[0]]}",
            remedy=_REMEDY,
        )
        rows.append(row if open_.any() else _informing(row, confirmation_words(setup, found, step)))
    return rows


def _informing(row: Check, words: str) -> Check:
    """The row of a layout that the manufacturer has confirmed: a figure, and whose word counts."""
    covered = f"{row.reference} The manufacturer's word covers this layout{words}"
    if row.status == "within":
        return dataclasses.replace(row, reference=covered)
    return dataclasses.replace(
        row,
        limit=None,
        utilisation=None,
        status="within",
        reference=f"{covered}; more than on the chart's own base",
        remedy="",
    )
