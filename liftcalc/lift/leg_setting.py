"""What an outrigger set short of its planned extension would mean for the rated capacity.

A chart's rating steps where a base leaves the chart's own: an outrigger planned at a chart's mark has to be set there
or beyond. Each outrigger in turn, and all together, is taken in by one step (the next pin, or :data:`SHORT_STEP_M`
where it slides) and the whole path is rated again; the least setting that keeps the planned state is found by halving,
which is right because drawing an outrigger in never raises the capacity (:mod:`liftcalc.crane.capacity`). Over all
other checks (stability, leg forces, mats): :mod:`liftcalc.lift.shortfall`.

Source: the charts; 29 CFR 1926.1404(q), outriggers set as the chart provides (seen).
"""

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from liftcalc.base.checks import Status
from liftcalc.base.text import Show
from liftcalc.base.words import STATE_WORDS
from liftcalc.crane.legs import LEG_NAMES, base_polygon, leg_points_m
from liftcalc.crane.sectors import ESTIMATE, SOURCES
from liftcalc.facts.lift import LegSetting
from liftcalc.lift.path import LoadPath
from liftcalc.lift.path_study import capacity_at
from liftcalc.lift.setup import Setup, to_site_m

SHORT_STEP_M = 0.05
"""One step of an outrigger that slides freely: an assumption, no published source. [m]"""
DAY_STEP_M = 0.1
"""Step by which it is taken farther short, for the answers of the day. [m]"""

SETTING_COLUMNS = ("Outrigger", "Not less than", "If set", "Rated", "Utilisation", "State", "Rated as planned down to")

_RANK: tuple[Status, ...] = ("within", "condition", "no_data", "over")


@dataclass(frozen=True)
class ShortSetting:
    """One outrigger, or all of them, set short of the planned extension."""

    outriggers: tuple[str, ...]
    """Names; empty for the planned setting itself."""
    planned_m: tuple[float, ...]
    """Planned extension of these outriggers. [m]"""
    extension_m: tuple[float, ...]
    """Extension of these outriggers one step short; as planned where they are fully in. [m]"""
    least_m: tuple[float, ...]
    """Least extension of these outriggers, the others as planned, at which the state is still no
    worse than planned, to a millimetre on the safe side. [m]"""
    capacity_t: float
    """Capacity at the worst step of the path; NaN where it is not rated. [t]"""
    used_ratio: float
    """Gross load over that capacity; infinite where not rated."""
    status: Status
    source: str
    where: str
    step: int
    """Which step of the path is the worst."""


def short_of_m(setup: Setup, which: tuple[int, ...], short_m: float) -> tuple[float, ...]:
    """Extensions with some outriggers short; a pinned one goes to the next pin in. [m]"""
    extension = list(setup.lift.legs.as_tuple())
    for k in which:
        leg = setup.machine.legs[k]
        want = max(extension[k] - short_m, leg.extension_min_m)
        if short_m > 0 and leg.steps_m:
            want = max([s for s in leg.steps_m if s <= want + 1e-9], default=min(leg.steps_m))
        extension[k] = min(round(want, 9), extension[k])
    return tuple(extension)


def shortfalls_m(setup: Setup, which: tuple[int, ...]) -> list[float]:
    """Shortfalls from the smallest to fully in: each pin, or each step of what slides. [m]"""
    found: set[float] = set()
    slide = 0.0
    for k in which:
        leg, planned = setup.machine.legs[k], setup.lift.legs.as_tuple()[k]
        if leg.steps_m:
            found |= {round(planned - s, 9) for s in leg.steps_m if s < planned - 1e-9}
        else:
            slide = max(slide, planned - leg.extension_min_m)
    count = int(np.ceil(slide / DAY_STEP_M - 1e-9))
    found |= {round(min(n * DAY_STEP_M, slide), 9) for n in range(1, count + 1)}
    return sorted(found)


def at_extensions(setup: Setup, extension_m: tuple[float, ...]) -> Setup:
    """The setup on these extensions, with what was confirmed for them alone."""
    legs = leg_points_m([leg.x_m for leg in setup.machine.legs], extension_m)
    names = dict(zip(LEG_NAMES, extension_m, strict=True))
    lift = setup.lift.model_copy(update={"legs": LegSetting(**names)})
    return dataclasses.replace(
        setup, lift=lift, base=base_polygon(legs), leg_xy_m=legs,
        leg_site_xy_m=to_site_m(legs, lift),
        confirmations=tuple(c for c in setup.confirmations if c.concerns(lift)),
    )  # fmt: skip


def _rated(setup: Setup, path: LoadPath, extension_m: tuple[float, ...]) -> ShortSetting:
    """Capacity of the whole path on these extensions."""
    rated = capacity_at(at_extensions(setup, extension_m), path.slew_deg, path.radius_m)
    share = setup.rules.utilisation_limit_percent / 100
    data = rated.source < ESTIMATE
    capacity = np.where(data, rated.capacity_t, np.nan)
    used = np.where(data, setup.gross_t / capacity, np.inf)
    over = data & ~(setup.gross_t <= share * capacity * (1 + 1e-9))
    status: Status = "within"
    if over.any():
        status, used = "over", np.where(data, used, -np.inf)
    elif not data.all():
        status = "no_data"
    elif rated.on_condition.any():
        status = "condition"
    worst = np.flatnonzero(used >= used.max())
    step = int(worst[np.argmax(path.radius_m[worst])])
    return ShortSetting(outriggers=(), planned_m=(), extension_m=extension_m, least_m=(),
                        capacity_t=float(capacity[step]), used_ratio=float(used[step]),
                        status=status, source=SOURCES[int(rated.source[step])],
                        where=path.describe(step), step=step)  # fmt: skip


def _greatest_shortfall_mm(setup: Setup, path: LoadPath, which: tuple[int, ...], rank: int) -> int:
    """Greatest whole millimetres by which these may be short with the state no worse."""
    stroke = max(setup.lift.legs.as_tuple()[k] - setup.machine.legs[k].extension_min_m for k in which)

    def holds(mm: int) -> bool:
        return _RANK.index(_rated(setup, path, short_of_m(setup, which, mm / 1000)).status) <= rank

    low, high = 0, int(np.ceil(1000 * stroke - 1e-6))
    if high <= 0 or not holds(1):
        return 0
    if holds(high):
        return high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def short_settings(setup: Setup, path: LoadPath) -> tuple[ShortSetting, ...]:
    """The planned setting, each outrigger one step short, and all of them one step short.

    Refuses nothing that the planned setting allows; an outrigger that is fully in stays there.
    """
    planned = setup.lift.legs.as_tuple()
    as_planned = _rated(setup, path, planned)
    rank = _RANK.index(as_planned.status)
    settings = [as_planned]
    for which in ((0,), (1,), (2,), (3,), (0, 1, 2, 3)):
        short = _rated(setup, path, short_of_m(setup, which, SHORT_STEP_M))
        mm = 0 if rank > 1 else _greatest_shortfall_mm(setup, path, which, rank)
        least = short_of_m(setup, which, mm / 1000)
        settings.append(dataclasses.replace(short, outriggers=tuple(LEG_NAMES[k] for k in which),
                                            planned_m=tuple(planned[k] for k in which),
                                            extension_m=tuple(short.extension_m[k] for k in which),
                                            least_m=tuple(least[k] for k in which)))  # fmt: skip
    return tuple(settings)


def _lengths(values: tuple[float, ...], show: Show) -> str:
    lengths = [show(v, "extension_m") for v in values]
    return lengths[0] if len(set(lengths)) == 1 else ", ".join(lengths)


def _used(one: ShortSetting) -> str:
    return f"{100 * one.used_ratio:.0f} %" if np.isfinite(one.used_ratio) else "–"


def setting_rows(found: tuple[ShortSetting, ...], show: Show) -> list[tuple[str, ...]]:
    """Least setting of each outrigger, and what one step short would mean, at the worst step."""
    planned, *short = found
    rows: list[tuple[str, ...]] = [("as planned", "–", "–", *_outcome(planned, show), "–")]
    for one in short:
        rows.append((
            " ".join(one.outriggers) if len(one.outriggers) == 1 else "all together", _lengths(one.planned_m, show),
            "fully in" if one.extension_m == one.planned_m else _lengths(one.extension_m, show), *_outcome(one, show),
            _lengths(one.least_m, show) if _RANK.index(planned.status) <= 1 else "–",
        ))  # fmt: skip
    return rows


def _outcome(one: ShortSetting, show: Show) -> tuple[str, str, str]:
    rated = "not rated" if np.isnan(one.capacity_t) else show(one.capacity_t, "mass_t")
    return f"{rated}, {one.source}", _used(one), STATE_WORDS[one.status]


def tolerance_words(setup: Setup, show: Show) -> str:
    """How far short of a chart's mark an outrigger may be set and still count as at it."""
    tolerance = setup.machine.setting_tolerance_m
    if tolerance > 0:
        most = show(1000 * tolerance, "small_length_mm", "down")
        return f"The manufacturer allows {most} short of a mark."
    return "No tolerance is stated: what is short of a mark does not count as at it."


def setting_lines(setup: Setup, found: tuple[ShortSetting, ...], show: Show) -> list[str]:
    """In words, for the crew: what must not be undercut, and what happens if it is.

    A setting that is short and keeps its rating is not named: it would read as leave to set so.
    """
    planned, *short = found
    outcomes: dict[str, list[str]] = {}
    for one in short:
        if one.extension_m != one.planned_m and one.status in ("over", "no_data"):
            names = " ".join(one.outriggers) if len(one.outriggers) == 1 else "all"
            then = f"utilisation of rated capacity {_used(one)} in place of {_used(planned)}, "
            then += STATE_WORDS[one.status]
            outcomes.setdefault(then, []).append(f"{names} at {_lengths(one.extension_m, show)}")
    return [
        "Each at its extension, never short of it; farther out only after a new check, since mats, "
        f"ground and clearances were checked there. {tolerance_words(setup, show)}",
        *(f"{'; or '.join(which)}: {then}" for then, which in outcomes.items()),
    ]


def setting_values(found: tuple[ShortSetting, ...]) -> dict[str, Any]:
    """Numbers for the record."""
    short = found[1:]
    words = [
        f"{' '.join(one.outriggers)} at {', '.join(f'{e:.3f}' for e in one.extension_m)} m: {_used(one)}, {one.status}"
        for one in short
    ]
    least = [round(e, 3) for one in short for e in one.least_m]
    return {"short_setting": words, "least_setting_m": least}
