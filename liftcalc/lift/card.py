"""The site card: what the crew needs on one page.

Everything here is read from the assessed lift; nothing is calculated. Each limit is rounded to its safe side in the
units of the page; a force that mat and ground were sized for is no limit that the crew sets, and reads as in the tables
of the sheet. The card of a lift that must not be lifted as planned gives no limits at all, so that none of its numbers
can be used. The lines to fill in are the firm's own: signals, stop rules and names are not ours to state.
"""

from collections.abc import Callable

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Verdict
from liftcalc.base.text import CAUTION_LINE, Safe, Show
from liftcalc.base.words import slew_words
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.close_path import path_corners
from liftcalc.lift.conditions import confirmation_rows
from liftcalc.lift.leg_setting import setting_lines
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import rope_off_drum_m
from liftcalc.lift.wind_checks import lowered_words, stop_gust_m_s

CARD_COLUMNS = ("Outrigger", "Extension, minimum", "Mat", "Packing", "Maximum force", "Ground")
CARD_BLANKS = (
    "Signals and radio channel (the firm's own)",
    "Stop rules (the firm's own)",
    "Lift supervisor, operator, signaller",
    "Level checked by, wind measured by, at what time",
    "Date and signatures",
)

INVENTED = ("INVENTED", "Job, site, machine and load are invented for demonstration: not for any real lift.")
NO_LIMITS = ("Do not lift", "No limits are given: this lift is not to be made as planned.")

Say = Callable[[float], str]


def lifts_as_planned(lift: LiftAssessment, plan: Verdict | None = None) -> bool:
    """Whether the plan holds, if only on a condition: else the card gives nothing to lift by.

    *plan*, here and below: the verdict of the lift plan, which is over all sheets and itself.
    """
    return (plan or lift.verdict).status in ("within", "condition")


def card_headline(lift: LiftAssessment, plan: Verdict | None = None) -> str:
    """The verdict over all four sheets, or that of the plan, in words for the crew."""
    said = plan or lift.verdict
    if said.status == "within":
        return "Planned within limits. The operator's chart and limiter govern."
    if said.status == "condition":
        return (
            f"DO NOT LIFT UNTIL {said.conditions}: planned within limits on this "
            "condition. The operator's chart and limiter govern."
        )
    failed = _failed(said)
    more = f"; and {len(failed) - 3} more" if len(failed) > 3 else ""
    return f"DO NOT LIFT AS PLANNED: {'; '.join(failed[:3])}{more}"


def card_rows(lift: LiftAssessment, show: Show, plan: Verdict | None = None) -> list[tuple[str, str]]:
    """Cautions, lift and machine; then the limits of the plan, or that none are given."""
    setup = lift.setup
    data, block = setup.lift, setup.hook_block
    rows = [
        *([INVENTED] if lift.job.invented else []),
        ("Caution", CAUTION_LINE),
        ("Lift", f"{data.id}: {data.title}"),
        ("Machine", f"{setup.machine.name}; counterweight {data.counterweight}; boom "
         f"{show(setup.boom.length_m, 'length_m')}; hook block {block.id}, {block.falls} falls"),
    ]  # fmt: skip
    if lifts_as_planned(lift, plan):
        return [*rows, *limit_rows(lift, show)]
    return [*rows, ("Checks that fail", "; ".join(_failed(plan or lift.verdict))), NO_LIMITS]


def _failed(said: Verdict) -> list[str]:
    """Each check that fails, and how."""
    return [f"{c.title} ({c.words})" for c in said.failed]


def limit_rows(lift: LiftAssessment, show: Show) -> list[tuple[str, str]]:
    """Crane position, and the limits of tilt, load, radius, slew, path, clearance and wind."""
    setup, path = lift.setup, lift.path
    data = setup.lift
    stop = stop_gust_m_s(setup, float(lift.study.boom.head_z_m.max()))
    slew = _inside(path.slew_deg, "slew_deg", show)
    radius = _inside(path.radius_m, "length_m", show, alone="down")
    level = _inside(path.level_m[_across(path)], "length_m", show)
    rope = ("Hoist rope, not checked",
            f"{show(rope_off_drum_m(setup), 'length_m', 'up')} off the drum with the hook at its "
            "lowest: make sure that the manual's minimum number of wraps stays on")  # fmt: skip
    return [
        ("Crane position (centre of rotation)", f"{show(data.stand.easting_m, 'length_m')} E, "
         f"{show(data.stand.northing_m, 'length_m')} N, front toward "
         f"{show(90 - data.stand.heading_deg, 'slew_deg')} clockwise from north (heading "
         f"{show(data.stand.heading_deg, 'slew_deg')} anticlockwise from east)"),
        ("Outriggers", " ".join(f"{x.rstrip('.')}." for x in setting_lines(setup, lift.settings,
         show))),
        ("Permitted tilt", _level_words(lift, show)),
        ("Maximum load, everything below the boom head", _load_words(lift, show, radius)),
        *([rope] if setup.machine.rope_length_m is None else []),
        *((name, f"{text}; {source}") for name, text, source in confirmation_rows(setup)),
        ("Maximum radius",
         f"{radius(float(path.radius_m.max()))}: no farther out, nor with an empty hook; plumb "
         "under the hook, over the load's centre of gravity. Lay the boom down"
         + lowered_words(setup)),
        ("Minimum radius", radius(float(path.radius_m.min()))),
        ("Slew", _sweep_words(path, slew)),
        ("Load path (no other)", _path_words(path, slew, radius, level)),
        ("Carry height",
         f"{_carry_words(path, level)}, no lower and no higher: clearances were checked there "
         "alone. Levels are above site datum, on which the ground at the crane is at "
         f"{show(data.stand.level_m, 'length_m')}"),
        ("Stop for wind above",
         f"{show(stop, 'speed_m_s', 'down')} gust at the boom head: the lift is planned for no "
         "more"),
        *(("Overhead line", f"{c.title}: keep {show(c.limit, 'length_m', 'up')} or more; planned "
           f"minimum {show(c.value, 'length_m', 'down')}")
          for c in lift.lift if c.id.startswith("line-") and c.limit is not None),
    ]  # fmt: skip


def _inside(values: FloatArray, quantity: str, show: Show, *, alone: Safe = "") -> Say:
    """How a value of a range is shown: its ends toward the inside, and one number in one way.

    *alone*: to which side where there is next to no range.
    """
    low, high = float(values.min()), float(values.max())
    narrow = high - low < {"slew_deg": 0.2, "length_m": 0.02}[quantity]

    def say(value: float) -> str:
        sides: tuple[Safe, Safe] = (alone, alone) if narrow else ("up", "down")
        for end, side in zip((low, high), sides, strict=True):
            if abs(value - end) <= 1e-9:
                return show(value, quantity, side)
        return show(value, quantity)

    return say


def _load_words(lift: LiftAssessment, show: Show, radius: Say) -> str:
    """Gross load and what rates it where it governs."""
    capacity, k = lift.study.capacity, lift.study.governing_step
    return (
        f"{show(lift.setup.gross_t, 'mass_t', 'down')}; rated capacity "
        f"{show(float(capacity.capacity_t[k]), 'mass_t', 'down')} at the governing position "
        f"({radius(float(capacity.radius_m[k]))} radius)"
    )


def _sweep_words(path: LoadPath, slew: Say) -> str:
    """Between which slews the boom turns, and which way where it never turns back."""
    turn = np.diff(path.slew_deg)
    ends, way = (path.slew_deg[0], path.slew_deg[-1]), "anticlockwise from"
    if (turn < 0).any():
        way = "clockwise from"
        if (turn > 0).any():
            ends = (path.slew_deg.min(), path.slew_deg.max())
            way = "there and back, anticlockwise from"
    start, end = map(float, ends)
    zero = "0° over the front, anticlockwise seen from above"
    if abs(end - start) < 0.2:
        return f"{_slew(start, slew)} throughout, nowhere else; {zero}"
    quarters = np.arange(np.floor(min(ends) / 90) + 1, np.ceil(max(ends) / 90)) * 90
    passed = [slew_words(q) for q in quarters[:: 1 if end > start else -1]]
    over = [w for w in passed if w not in (slew_words(start), slew_words(end))]
    words = f" {', '.join(over)}" if over else ""
    return f"{way} {_slew(start, slew)}{words} to {_slew(end, slew)}, nowhere else; {zero}"


def _slew(value: float, slew: Say) -> str:
    return f"{slew(value)} ({slew_words(value)})"


def _path_words(path: LoadPath, slew: Say, radius: Say, level: Say) -> str:
    """The corners of the load's path in their order: capacity and clearances hold on it alone."""
    parts: list[str] = []
    before = (np.inf, np.inf, np.inf)
    for n, k in enumerate(path_corners(path)):
        here = (float(path.slew_deg[k]), float(path.radius_m[k]), float(path.level_m[k]))
        way = "from" if n == 0 else f"{path.stage[k]} to"
        said = (
            ("" if way == "slew to" else "slew ") + _slew(here[0], slew),
            f"radius {radius(here[1])}",
            f"level {level(here[2])}" + (" (underside of the load, above site datum)" if n == 0 else ""),
        )
        moved = [w for w, a, b in zip(said, here, before, strict=True) if abs(a - b) > 1e-9]
        parts.append(f"{way} {', '.join(moved)}")
        before = here
    return "; then ".join(parts)


def _across(path: LoadPath) -> list[int]:
    """Steps at which the load is carried across."""
    across = [k for k, stage in enumerate(path.stage) if stage in ("luff", "slew", "travel")]
    return across or [int(np.argmax(path.level_m))]


def _carry_words(path: LoadPath, level: Say) -> str:
    """Between which levels the load is carried across."""
    levels = path.level_m[_across(path)]
    low, high = (level(float(z)) for z in (levels.min(), levels.max()))
    return f"underside of the load at level {low}" + ("" if low == high else f" to {high}")


def _level_words(lift: LiftAssessment, show: Show) -> str:
    """How level to set the machine, so that it stays within what is permitted as it settles."""
    permitted = lift.setup.permitted_tilt_percent
    during = f"within {show(permitted, 'percent', 'down')} during the lift"
    settled = None if lift.ground is None else lift.ground.levelled
    if settled is None:
        return f"{during} and before it"
    left = permitted - float(np.max(settled.plane.slope_max_percent))
    if left < 0.1:
        return f"{during}: settlement alone may use it up, re-level under load"
    return f"{during}; set up within {show(left, 'percent', 'down')}, for it will settle"


def card_legs(lift: LiftAssessment, show: Show, plan: Verdict | None = None) -> list[tuple[str, ...]]:
    """Setting of each outrigger; none where the lift must not be made as planned."""
    return leg_rows(lift, show) if lifts_as_planned(lift, plan) else []


def leg_rows(lift: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """Setting of each outrigger as planned, its mat, packing, maximum force and ground."""
    setup, place, forces = lift.setup, lift.place, lift.forces
    each = zip(setup.machine.legs, setup.lift.legs.as_tuple(), place.packing_m.tolist(),
               forces.design_kN.tolist(), place.zones, strict=True)  # fmt: skip
    return [
        (leg.name, show(extension, "extension_m"), setup.mat.name,
         show(1000 * packing, "small_length_mm"),
         show(force, "force_kN") if np.isfinite(force) else "tips over", zone or "unknown")
        for leg, extension, packing, force, zone in each
    ]  # fmt: skip


def card_blanks(lift: LiftAssessment, plan: Verdict | None = None) -> tuple[str, ...]:
    """Lines to fill in; none where there is nothing to sign for."""
    return CARD_BLANKS if lifts_as_planned(lift, plan) else ()
