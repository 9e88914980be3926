"""What a carried-over chart's outriggers and carrier bear here, to what they bear on its own base.

A chart is carried over by its margin against tipping, which sees neither outrigger nor carrier. What the manufacturer
has proved of them is what the rated load does on the chart's own base: force on each outrigger, moment of its beam at
the carrier's side (force times what the beam stands out) and twist of the carrier (side moment of its front and of its
rear outriggers), each the greatest over the chart's sector and every rated radius of this boom length. What the planned
gross load does on the actual base is held to that, each outrigger to its own: twice, still and level, and with hoist
factor, planned wind and permitted tilt on both bases, which the chart allows for too; for a rigid and for a torsionally
flexible carrier; on firm ground, as charts presume.

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
_DIRECTIONS_DEG = np.linspace(0.0, 360.0, _DIRECTIONS, endpoint=False)
_MODELS: tuple[Carrier, ...] = ("rigid", "flexible")
_KINDS = (
    ("chart-outrigger-force", "Outrigger force", "force_kN", slice(0, 4)),
    ("chart-outrigger-beam", "Moment of an outrigger beam", "moment_kNm", slice(4, 8)),
    ("chart-carrier-twist", "Twist of the carrier", "moment_kNm", slice(8, 10)),
)
_PLACES = (*(f"outrigger {name}" for name in LEG_NAMES * 2), "front of the carrier", "rear of the carrier")
_REMEDY = (
    "Ask the manufacturer for the limits of outriggers and carrier and for a confirmation of this "
    "layout, take a lighter load, or set the outriggers to a base of the charts."
)


CASES = tuple(
    (f"{model} carrier, {words}", model, moved)
    for words, moved in (("still and level", False), ("with hoist factor, wind and tilt", True))
    for model in _MODELS
)
"""Each case in words, its carrier, and whether hoist factor, wind and tilt act."""


@dataclass(frozen=True)
class ForceState:
    """The state in which one of ``_PLACES`` bears its maximum."""

    case: int
    place: int
    legs_m: FloatArray
    slew_deg: float
    radius_m: float
    load_t: float
    """On the hook, without hoist factor. [t]"""
    outward: float
    """Corner of the polygon of directions, from the circle of its reach."""
    direction_deg: float
    """Direction of wind and tilt, anticlockwise from the front; NaN without."""
    value: float


@dataclass(frozen=True)
class _Borne:
    """States of the crane on one base, and what they bear there."""

    legs_m: FloatArray
    slew_deg: FloatArray
    radius_m: FloatArray
    load_t: FloatArray
    outward: float
    """Directions of wind and tilt: corners around their circle, or on it (1)."""
    by_case: list[FloatArray]
    """Actions of each case, shape (N, directions, 10), infinite where it may tip."""

    @property
    def maxima(self) -> FloatArray:
        """Greatest over the directions, shape (cases, N, 10)."""
        return np.stack([one.max(axis=1) for one in self.by_case])

    @property
    def proved(self) -> FloatArray:
        """The same, 0 in a state in which the base would tip: that proves nothing."""
        found = self.maxima
        return np.where(np.isfinite(found), found, 0.0)

    def state(self, case: int, n: int, place: int) -> ForceState:
        """One state in its worst direction."""
        along = self.by_case[case][n, :, place]
        way = int(along.argmax())
        direction = float(_DIRECTIONS_DEG[way]) if CASES[case][2] else float("nan")
        slew, radius, load = (float(x[n]) for x in (self.slew_deg, self.radius_m, self.load_t))
        return ForceState(case, place, self.legs_m, slew, radius, load, self.outward, direction, float(along[way]))


def _borne(
    setup: Setup, legs: FloatArray, slew: FloatArray, radius: FloatArray, load: FloatArray, *, outside: bool
) -> _Borne:
    """*outside*: directions of wind and tilt are corners around their circle, else on it."""
    springs = [leg.stiffness_kN_m for leg in setup.machine.legs]
    supports = carrier_supports(legs, springs, carriers=_MODELS)
    beam = np.maximum(np.abs(legs[:, 1]) - setup.machine.carrier.width_m / 2, 0.0)
    turn, outward = np.radians(_DIRECTIONS_DEG), 1.0
    if outside:
        outward = float(1 / np.cos(np.pi / _DIRECTIONS))
    round_about = outward * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    values = []
    for factor, ways in ((1.0, np.zeros((1, 2))), (float(setup.gross.dynamic_factor), round_about)):
        force, at, reach = weight_on_base(setup, slew, radius, load_t=factor * load)
        xy = at[:, None] + reach[:, None, None] * ways
        for one in reactions_on(supports, force[:, None], xy, stiffness_given=True).values():
            twist = np.abs(np.stack([one.front_side_moment_kNm, one.rear_side_moment_kNm], axis=-1))
            actions = np.concatenate([one.reaction_kN, one.reaction_kN * beam, twist], axis=-1)
            values.append(np.where(one.unstable[..., None], np.inf, actions))
    return _Borne(legs, slew, radius, load, outward, values)


def _of_chart(setup: Setup, table: ChartTable, radius_m: FloatArray) -> _Borne:
    """What the chart's ratings bear on its own base."""
    low, high = setup.boom.radius_min_m, setup.boom.radius_max_m
    reach = (table.radius_m >= low) & (table.radius_m <= high)
    radius = np.unique([*table.radius_m[reach], radius_m.min(), radius_m.max()])
    rated = rated_capacity_t(table, setup.boom.length_m, radius_m=radius, interpolation=interpolation_of(setup))
    slew = np.unique([*np.arange(0.0, 360.0, 3.0), *np.mod(table.sector_deg, 360.0)])
    slew = slew[slew_in_sector(slew, table.sector_deg)]
    known = ~np.isnan(rated)
    s, r = (a.ravel() for a in np.meshgrid(slew, radius[known], indexing="ij"))
    load = np.tile(rated[known], slew.size)
    return _borne(setup, table.base.leg_xy_m, s, r, load, outside=False)


@dataclass(frozen=True)
class ChartForce:
    """One action: its maximum on the actual base, and on the base of the chart carried over."""

    id: str
    title: str
    quantity: str
    step: int
    table: ChartTable
    here: ForceState
    there: ForceState
    confirmed: bool
    """The manufacturer has confirmed this very layout."""


def chart_forces(setup: Setup, study: PathStudy) -> list[ChartForce]:
    """The governing state of each action, where a chart is carried over; else none."""
    found, path = study.capacity, study.path
    inside = [contains_base(setup.base, t.base) for t in setup.tables]
    argued = (found.source == CARRIED) | ((found.source == CONFIRMED) & ~np.array([*inside, True])[found.chart])
    open_ = argued & ~structure_confirmed(setup, found)
    steps = np.flatnonzero(open_ if open_.any() else argued)
    if not steps.size:
        return []
    # where the load only goes up or down, one step stands for all
    turned = np.stack([path.slew_deg[steps], found.radius_m[steps], found.chart[steps]], axis=-1)
    steps = steps[np.sort(np.unique(turned, axis=0, return_index=True)[1])]
    radius, chart = found.radius_m[steps], found.chart[steps]
    load = np.full(steps.size, setup.gross_t)
    actual = _borne(setup, setup.leg_xy_m, path.slew_deg[steps], radius, load, outside=True)
    of_chart = {int(k): _of_chart(setup, setup.tables[k], radius[chart == k]) for k in np.unique(chart)}
    here = actual.maxima
    limit = np.empty_like(here)
    for k, one in of_chart.items():
        limit[:, chart == k] = one.proved.max(axis=1)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        used = np.where(here > 0, here / limit, 0.0)
    rows = []
    for id, title, quantity, part in _KINDS:
        worst = np.unravel_index(int(used[..., part].argmax()), used[..., part].shape)
        case, n, place = (int(i) for i in worst)
        place += part.start
        own = of_chart[int(chart[n])]
        there = own.state(case, int(own.proved[case, :, place].argmax()), place)
        rows.append(ChartForce(id, title, quantity, int(steps[n]), setup.tables[chart[n]],
                               actual.state(case, n, place), there,
                               not open_.any()))  # fmt: skip
    return rows


def chart_force_checks(setup: Setup, study: PathStudy) -> list[Check]:
    """Outrigger force, beam moment and carrier twist, where a chart is carried over; else no rows.

    A manufacturer's confirmation of this very layout covers its steps: there the rows only inform.
    """
    rows = []
    for one in chart_forces(setup, study):
        row = limit_check(
            one.id, f"{one.title} / maximum on the base of the chart applied",
            value=one.here.value, limit=one.there.value, quantity=one.quantity,
            reference=f"statics; {one.table.chart_id} at its ratings for this boom length, on its "
            f"own base. {NOT_SEEN}",
            where=f"{_PLACES[one.here.place]}, {study.path.describe(one.step)}; "
            f"{CASES[one.here.case][0]}", remedy=_REMEDY,
        )  # fmt: skip
        if one.confirmed:  # a figure, and whose word counts
            words = confirmation_words(setup, study.capacity, one.step)
            covered = f"{row.reference} The manufacturer's word covers this layout{words}"
            more, over = "; more than on the chart's own base", row.status != "within"
            row = dataclasses.replace(row, reference=covered + more * over)
            if over:
                row = dataclasses.replace(row, limit=None, utilisation=None, status="within", remedy="")
        rows.append(row)
    return rows
