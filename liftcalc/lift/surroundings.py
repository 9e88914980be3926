"""Clearance checks of one lift: what moves along the path against the site and the machine itself.

Everything is looked at in the steps of :mod:`liftcalc.lift.close_path`, with the boom bent by the
load, sprung up where the load comes off, and the machine leaning any way by as much as it may.
Required distances: :mod:`liftcalc.lift.site_obstacles`; of the load from boom, carrier and
outriggers of the crane that lifts it, the owner's for the load. Plane geometry.
"""

import dataclasses
import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.clearance.bodies import MovingMember, MovingPrism, bent_boom, leaned_bodies, leaned_shape
from liftcalc.clearance.crane_bodies import HungLoad, crane_bodies, load_to_boom_m, swing_dip_m
from liftcalc.clearance.least import ClearanceResult, ClearanceRow, least_clearances
from liftcalc.clearance.pinch import PinchGap, pinch_gap
from liftcalc.facts.site import Site
from liftcalc.facts.surveyed import OverheadLine
from liftcalc.lift.boom_setting import bend_words, loaded_head_z_m
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.close_path import STEP_M, ClosePath, close_path
from liftcalc.lift.path import LoadPath, worst_step_check
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.site_obstacles import HUNG_BODIES, line_check, line_table_words, site_obstacles
from liftcalc.lift.wind_checks import swing_deg


def own_boxes(setup: Setup) -> list[tuple[FloatArray, FloatArray]]:
    """Carrier and outriggers in plan, in the machine frame: two corners of each. [m]

    An outrigger reaches from the centreline past its float. Mats are left out: a load may be set down on one.
    """
    outline = np.array(setup.shape.carrier_outline_m)  # a rectangle along the machine's axes
    boxes = [(outline.min(axis=0), outline.max(axis=0))]
    for leg, xy in zip(setup.machine.legs, setup.leg_xy_m, strict=True):
        half, root = np.array([leg.float_length_m, leg.float_width_m]) / 2.0, [xy[0], 0.0]
        boxes.append((np.minimum(xy, root) - half, np.maximum(xy, root) + half))
    return boxes


@dataclass(frozen=True, eq=False)
class OwnClearance:
    """Load and lifting beam from the machine's own boom, carrier and outriggers, at every step.

    The load may swing any way, toward the boom as well: no point of it comes nearer to anything
    than by the way that it swings.
    """

    swung_m: FloatArray
    """The most that any point moves as a pendulum and by the machine's tilt."""
    deep_m: FloatArray
    """Lowest point of the load below the boom head."""
    to_boom_m: FloatArray
    """From the boom, the load hanging plumb."""
    parts: tuple[tuple[float, FloatArray], ...]
    """Of the load, and of a beam: reach in plan from the hoist line, and level of the underside."""
    carrier_m: FloatArray
    """From each box of the machine by each part, shape (boxes, parts, steps)."""
    still: NDArray[np.bool_]
    """Steps at which the load is guided clear of the outriggers: hoisted or lowered in place."""


def own_clearance(setup: Setup, path: LoadPath, head_height_m: FloatArray, swing_deg: float) -> OwnClearance:
    """Distances of the load from the machine that carries it."""
    hung, base = setup.hung, path.level_m - setup.lift.stand.level_m
    # on its rope no point goes farther than the chord of its own circle about the head
    deep = np.maximum(head_height_m - base, 0.0) + hung.dip_m
    reach = max(hung.reach_m, hung.beam_reach_m)
    swung = 2.0 * np.hypot(reach, deep) * np.sin(np.radians(swing_deg) / 2.0)
    # a machine out of level sees its load move by its tilt as well
    swung = swung + setup.tilt_any_percent / 100.0 * deep
    to_boom = load_to_boom_m(setup.shape, hung, radius_m=path.radius_m, head_height_m=head_height_m,
                             load_base_height_m=base)  # fmt: skip
    low = base - dataclasses.replace(hung, swing_deg=swing_deg).low_m(head_height_m - base)
    parts = [(hung.reach_m, low)]
    if hung.beam_reach_m > 0:
        slings = base + hung.beam_slings_base_m
        parts.append((reach, slings - swing_dip_m(reach, deep, swing_deg=swing_deg)))
    still = np.isin(path.stage, ("hoist", "lower", "load off"))
    return OwnClearance(swung_m=swung, deep_m=deep, to_boom_m=to_boom, parts=tuple(parts),
                        carrier_m=_to_carrier_m(setup, path, parts, swung, still),
                        still=still)  # fmt: skip


def own_checks(setup: Setup, path: LoadPath, own: OwnClearance) -> list[Check]:
    """Load and lifting beam to the machine's own boom, and to its carrier and outriggers."""
    what = "load and beam" if setup.hung.beam_reach_m > 0 else "load"
    to_boom, to_carrier = np.maximum(own.to_boom_m - own.swung_m, 0.0), own.carrier_m.min((0, 1))
    return [
        worst_step_check(path, f"clearance-own-{part}", np.asarray(distance),
                         max(setup.rules.clearance.load_m, 1e-6), numbered=False, what=what,
                         owner=setup.rules.clearance.reference)
        for part, distance in (("boom", to_boom), ("carrier", to_carrier))
    ]  # fmt: skip


def _to_carrier_m(
    setup: Setup, path: LoadPath, parts: list[tuple[float, FloatArray]], swung_m: FloatArray, still: NDArray[np.bool_]
) -> FloatArray:
    """From carrier and outriggers of what hangs: reach in plan and underside of each.

    No fact states the height of an outrigger: it is taken as high as the carrier.
    """
    hook, top, distances = path.hook_m, setup.shape.carrier_top_m, []
    for n, (low_m, high_m) in enumerate(own_boxes(setup)):
        outside = np.maximum(np.maximum(low_m - hook, hook - high_m), 0.0)
        away = np.hypot(outside[:, 0], outside[:, 1])
        # hoisted or lowered over its own place the load is guided clear of the outriggers
        way = np.where(still, 0.0, swung_m) if n else swung_m
        each = [np.hypot(np.maximum(away - reach - way, 0.0), np.maximum(under - top, 0.0)) for reach, under in parts]
        distances.append(each)
    return np.asarray(distances)


_BODIES = ("boom", "hoist rope", "hook block", "rigging", "load", "counterweight tail", "carrier")
Body = MovingMember | MovingPrism


@dataclass(frozen=True, eq=False)
class Surroundings:
    """Clearances along the path and the check rows that follow."""

    result: ClearanceResult
    worst: dict[str, ClearanceRow]
    """The row that each check of a clearance from the site shows, by the id of the check."""
    checks: tuple[Check, ...]
    close: ClosePath
    close_bodies: tuple[Body, ...]
    """What the clearances were measured from, at the steps of :attr:`close`."""
    own: OwnClearance
    pinch: tuple[PinchGap, ...]
    given: tuple[Setup, LoadPath, HungLoad]

    @cached_property
    def bodies(self) -> tuple[Body, ...]:
        """Straight boom, level machine, at the steps of the path given."""
        setup, path, hung = self.given
        head = boom_states(setup.machine, setup.boom, path.radius_m).head_z_m
        return _straight(setup, path, hung, head)


def _straight(setup: Setup, path: LoadPath, hung: HungLoad, head_z_m: FloatArray,
              lean: float = 0.0) -> tuple[Body, ...]:  # fmt: skip
    stand = setup.lift.stand
    return crane_bodies(leaned_shape(setup.shape, lean), hung, easting_m=stand.easting_m,
                        northing_m=stand.northing_m, level_m=stand.level_m,
                        heading_deg=stand.heading_deg, slew_deg=path.slew_deg,
                        radius_m=path.radius_m, head_height_m=head_z_m,
                        load_base_height_m=path.level_m - stand.level_m)  # fmt: skip


def _bent_and_leaned(setup: Setup, close: ClosePath, bodies: tuple[Body, ...]) -> tuple[Body, ...]:
    """Boom bent, sprung up where the load comes off, and everything leaned any way."""
    stand = setup.lift.stand
    boom = next(b for b in bodies if b.name == "boom")
    assert isinstance(boom, MovingMember)
    tip, chord, angle = close.bend.eased(close.eased)
    members = bent_boom(boom.start_m, close.path.slew_deg + stand.heading_deg, chord_m=chord,
                        chord_deg=angle, tip_m=tip,
                        half_width_m=setup.shape.boom_half_width_m)  # fmt: skip
    # while the load comes off, the rope leans in from the hook to the head that springs up
    inward = close.path.radius_m - setup.shape.boom_foot_x_m - chord * np.cos(np.radians(angle))
    raised = boom.start_m[:, 2] + chord * np.sin(np.radians(angle))
    hanging: list[Body] = []
    for body in bodies:
        if isinstance(body, MovingMember) and body.name == "hoist rope":
            end = np.column_stack([body.end_m[:, :2], raised])
            body = dataclasses.replace(body, end_m=end, half_width_m=body.half_width_m + np.maximum(inward, 0.0))
        if body.name != "boom":
            hanging.append(body)
    return leaned_bodies([*members, *hanging], setup.tilt_any_percent,
                         centre_m=(stand.easting_m, stand.northing_m, stand.level_m),
                         head_m=boom.end_m)  # fmt: skip


def surroundings(setup: Setup, path: LoadPath) -> Surroundings:
    """All clearance checks of the lift along its path.

    The movement between two steps is taken off every distance before it is compared.
    """
    given, close, lean = path, close_path(setup, path), setup.tilt_any_percent
    path, head_height_m = close.path, loaded_head_z_m(setup, close.bend)
    swing = swing_deg(setup, path, boom_states(setup.machine, setup.boom, path.radius_m))
    hung = dataclasses.replace(setup.hung, swing_deg=swing)
    bodies = _bent_and_leaned(setup, close, _straight(setup, path, hung, head_height_m, lean))
    # how far the load's lowest corner may hang below its planned underside, at any rope length
    below = setup.hung.dip_m + setup.hung.reach_m * math.sin(math.radians(swing))
    below += lean / 100.0 * float(path.radius_m.max())
    obstacles = site_obstacles(setup.site, setup.rules, persons=setup.lift.persons)
    result = least_clearances(
        bodies, obstacles, off_straight_m=close.off_straight_m * (1.0 + np.tan(np.radians(swing)))
    )
    tail = next(b for b in bodies if isinstance(b, MovingPrism) and b.name == "counterweight tail")
    pinch = pinch_gap(tail, obstacles, ground_level_m=setup.lift.stand.level_m,
                      required_m=setup.rules.clearance.tail_m, clearances=result)  # fmt: skip
    own, worst = own_clearance(setup, path, head_height_m, swing), _worst_rows(result)
    checks = [*_body_checks(setup, path, worst, below), *own_checks(setup, path, own)]
    if close.unknown_bend:
        checks.append(check_row("boom-bending", None, None, problem=close.unknown_bend))
    for row in worst.values():  # the nearest body to each zone that nothing may pass over
        if row.kind in _ZONE_WORDS:
            checks.append(_row_check(
                path, row, "zone tail" if row.body == "counterweight tail" else "zone",
                row.obstacle, zone=_ZONE_WORDS[row.kind],
            ))  # fmt: skip
    checks += [_line_check(setup, path, worst, line) for line in setup.site.overhead_lines]
    for gap in pinch[:1]:
        checks.append(check_row("pinch-gap", gap.gap_m, _limit_m(gap), obstacle=gap.obstacle,
                                owner=setup.rules.clearance.tail_source,
                                step=path.describe(gap.step, numbered=False)))  # fmt: skip
    return Surroundings(result=result, worst=worst, checks=tuple(checks), close=close,
                        close_bodies=bodies, own=own, pinch=pinch,
                        given=(setup, given, hung))  # fmt: skip


def _shown_m(row: ClearanceRow) -> float:
    """Distance less what it could be smaller between two steps."""
    return max(row.distance_m - row.between_steps_m, 0.0) if row.distance_m > 0 else 0.0


def _limit_m(row: ClearanceRow | PinchGap) -> float:
    return max(row.required_m, 1e-6)


def _id(row: ClearanceRow) -> str:
    """Of the check that a row belongs to: of a body and what is solid, of a zone, of a line."""
    if row.kind in _ZONE_WORDS:
        return f"zone-{row.obstacle}"
    if row.kind == "overhead line":
        return f"line-{row.obstacle}"
    return f"clearance-{row.body.replace(' ', '-')}"


def _worst_rows(result: ClearanceResult) -> dict[str, ClearanceRow]:
    """Of each check the row with the smallest margin, movement between steps taken off."""
    rows: dict[str, list[ClearanceRow]] = {}
    for row in result.rows:
        rows.setdefault(_id(row), []).append(row)
    return {id: min(some, key=lambda r: _shown_m(r) - _limit_m(r)) for id, some in rows.items()}


def _row_check(path: LoadPath, row: ClearanceRow, name: str, part: str, **words: Any) -> Check:
    return check_row(name, _shown_m(row), _limit_m(row), part=part, body=row.body,
                     step=path.describe(row.step, numbered=False), **words)  # fmt: skip


def _body_checks(setup: Setup, path: LoadPath, worst: dict[str, ClearanceRow], below_m: float) -> list[Check]:
    """The nearest solid obstacle of each body."""
    rule = setup.rules.clearance
    nearest = {r.body: r for id, r in worst.items() if id.startswith("clearance-")}
    return [
        _row_check(
            path, nearest[body], "clearance", body.replace(" ", "-"),
            obstacle=nearest[body].obstacle,
            owner=(rule.tail_source if "tail" in body else rule.reference)
            + (f"; {bend_words(setup)}" if body == "boom" else ""),
            farther=_clearance_remedy(body, nearest[body], setup.site, below_m),
        )
        for body in _BODIES if body in nearest
    ]  # fmt: skip


_ZONE_WORDS = {"people": "exclusion zone", "no-overfly": "no-lift-over zone"}


def _clearance_remedy(body: str, row: ClearanceRow, site: Site, below_m: float) -> str:
    """What is enough when followed: a number only where it surely is."""
    if body in HUNG_BODIES:
        top = next(o.top_level_m for o in site.obstacles if o.id == row.obstacle)
        # so far from it that the distance is kept between two steps as well
        keep = math.hypot(row.required_m, 0.6 * STEP_M) + 1e-3
        level = amount(top + keep + below_m, "length_m", "up")
        return f"Carry the load's underside at level {level} or higher past {row.obstacle}, or farther from it in plan."
    if body == "boom":
        return f"Raise or shorten the boom, or set up the crane farther from {row.obstacle}."
    if row.distance_m > 0:
        missing = _limit_m(row) - (row.distance_m - row.between_steps_m)
        short = amount(max(missing, 0.0), "length_m", "up")
        return f"Set up the crane {short} or more farther from {row.obstacle}."
    return f"Set up the crane farther from {row.obstacle}: they meet."


def _line_check(setup: Setup, path: LoadPath, worst: dict[str, ClearanceRow], line: OverheadLine) -> Check:
    rules, persons = setup.rules, setup.lift.persons
    row = worst.get(f"line-{line.id}")
    if row is None:
        table = line_table_words(rules, persons=persons)
        return check_row("line", None, None, part=line.id, table=table, owner=line.owner)
    return line_check(line, rules, "line", _shown_m(row), _limit_m(row), persons=persons,
                      also=f"; {bend_words(setup)}" if row.body == "boom" else "", body=row.body,
                      step=path.describe(row.step, numbered=False))  # fmt: skip
