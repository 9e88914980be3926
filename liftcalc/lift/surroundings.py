"""Clearance checks of one lift: what moves along the path against what stands on the site.

Contents: :class:`Surroundings`, :func:`surroundings`, :func:`site_obstacles`.

Everything is looked at in the steps of :mod:`liftcalc.lift.close_path`, with the boom bent by the
load, sprung up where the load comes off, and the machine leaning any way by as much as it may.

Required distances: the owner's rule in the job, 29 CFR 1926.1408 Table A (or the owner's own
table) for overhead lines, 0.6 m behind the counterweight as common practice, no published source.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.clearance.bodies import (
    HungLoad,
    MovingMember,
    MovingPrism,
    crane_bodies,
    load_to_boom_m,
)
from liftcalc.clearance.boom_bodies import bent_boom, leaned_bodies, leaned_shape
from liftcalc.clearance.hung import swing_dip_m
from liftcalc.clearance.least import (
    ClearanceResult,
    ClearanceRow,
    Obstacle,
    ObstacleKind,
    PinchGap,
    least_clearances,
    pinch_gap,
)
from liftcalc.clearance.powerline import (
    TABLE_A,
    DistanceTable,
    distances_for_persons,
    required_distance_m,
    sagged_line,
)
from liftcalc.clearance.solids import Prism
from liftcalc.facts.job import Rules
from liftcalc.facts.site import Site
from liftcalc.facts.surveyed import OverheadLine
from liftcalc.lift.boom_setting import bend_words, loaded_head_z_m
from liftcalc.lift.close_path import STEP_M, ClosePath, close_path
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.wind_checks import swing_deg

__all__ = [
    "Surroundings",
    "line_distance_table",
    "line_table_words",
    "site_obstacles",
    "surroundings",
]

_KIND: dict[str, ObstacleKind] = {
    "building": "building",
    "wall": "wall",
    "tree": "tree",
    "tank": "structure",
    "plant": "structure",
    "other": "structure",
}
_HUNG_BODIES = ("load", "rigging", "hook block")
_SOLID_BODIES = ("boom", "hoist rope", *_HUNG_BODIES, "counterweight tail", "carrier")
Body = MovingMember | MovingPrism


@dataclass(frozen=True, eq=False)
class Surroundings:
    """Clearances along the path and the check rows that follow."""

    result: ClearanceResult
    pinch: tuple[PinchGap, ...]
    checks: tuple[Check, ...]
    close: ClosePath
    close_bodies: tuple[Body, ...]
    """What the clearances were measured from, at the steps of :attr:`close`."""
    given: tuple[Setup, LoadPath, HungLoad]

    @cached_property
    def bodies(self) -> tuple[Body, ...]:
        """Straight boom, level machine, at the steps of the path given."""
        setup, path, hung = self.given
        head = boom_states(setup.machine, setup.boom, path.radius_m).head_z_m
        return _straight(setup, path, hung, head)


def line_distance_table(rules: Rules, *, persons: bool) -> DistanceTable:
    """The table by which overhead lines are judged: the owner's, and more for persons."""
    rows = rules.clearance.power_line_owner_rows
    table = TABLE_A
    if rules.clearance.power_line_table == "owner":
        table = DistanceTable(
            name="owner's table",
            source=rules.clearance.reference,
            verification="the owner's own word",
            limit_kV=tuple(r[0] for r in rows),
            distance_m=tuple(r[1] for r in rows),
        )
    return distances_for_persons(table) if persons else table


def line_table_words(rules: Rules, *, persons: bool) -> str:
    """Whose distances they are."""
    words = "29 CFR 1926.1408 Table A"
    if rules.clearance.power_line_table == "owner":
        words = f"owner's table: {rules.clearance.reference}"
    more = "; persons lifted: 20 ft, above 350 kV 50 ft at least, 1926.1431(n) (from memory)"
    return words + (more if persons else "")


def site_obstacles(site: Site, rules: Rules, *, persons: bool) -> list[Obstacle]:
    """Obstacles, zones and overhead lines of known voltage, with the distance each asks for.

    Boom, rope and load may pass over a thing that stands on the ground; the distance is kept in
    three dimensions.
    """
    obstacles: list[Obstacle] = []
    groups = (
        (rules.clearance.boom_m, ("boom", "hoist rope")),
        (rules.clearance.load_m, _HUNG_BODIES),
        (rules.clearance.tail_m, ("counterweight tail",)),
        (0.0, ("carrier",)),
    )
    for item in site.obstacles:
        shape = Prism(np.array(item.polygon), item.base_level_m, item.top_level_m)
        obstacles += [
            Obstacle(item.id, _KIND[item.kind], shape, required, bodies)
            for required, bodies in groups
        ]
    for area in site.areas:
        if area.kind == "stand area":
            continue
        kind: ObstacleKind = "no-overfly" if area.kind == "no-overfly" else "people"
        obstacles.append(
            Obstacle(
                area.id,
                kind,
                Prism(np.array(area.polygon), -np.inf, np.inf),
                0.0,
                (*_HUNG_BODIES, "counterweight tail"),
            )
        )
    for line in site.overhead_lines:
        if line.voltage_kV is None:
            continue
        table = line_distance_table(rules, persons=persons)
        required = float(required_distance_m(line.voltage_kV, table=table))
        obstacles.append(
            Obstacle(
                line.id,
                "overhead line",
                sagged_line(np.array(line.points), sag_m=line.sag_m),
                required,
                _SOLID_BODIES,
            )
        )
    return obstacles


_BODY_TITLES = {
    "boom": "Boom to",
    "hoist rope": "Hoist rope to",
    "hook block": "Hook block to",
    "rigging": "Rigging to",
    "load": "Load to",
    "counterweight tail": "Counterweight tail to",
    "carrier": "Carrier to",
}


def _shown_margin_m(row: ClearanceRow) -> float:
    shown = max(row.distance_m - row.between_steps_m, 0.0) if row.distance_m > 0 else 0.0
    return shown - max(row.required_m, 1e-6)


def _row_check(
    row: ClearanceRow, path: LoadPath, *, id: str, title: str, reference: str, remedy: str
) -> Check:
    limit = max(row.required_m, 1e-6)
    value = row.distance_m - row.between_steps_m if row.distance_m > 0 else 0.0
    return limit_check(
        id,
        title,
        value=max(value, 0.0),
        limit=limit,
        quantity="length_m",
        sense="min",
        reference=reference,
        where=path.describe(row.step, numbered=False),
        remedy=remedy,
    )


def lean_percent(setup: Setup) -> float:
    """Greatest lean to reckon with, in any direction. [%]"""
    return 100.0 * math.tan(math.radians(setup.tilt_any_deg))


def _straight(
    setup: Setup, path: LoadPath, hung: HungLoad, head_z_m: FloatArray, lean: float = 0.0
) -> tuple[Body, ...]:
    stand = setup.lift.stand
    return crane_bodies(
        leaned_shape(setup.shape, lean),
        hung,
        easting_m=stand.easting_m,
        northing_m=stand.northing_m,
        level_m=stand.level_m,
        heading_deg=stand.heading_deg,
        slew_deg=path.slew_deg,
        radius_m=path.radius_m,
        head_height_m=head_z_m,
        load_base_height_m=path.level_m - stand.level_m,
    )


def _bent_and_leaned(setup: Setup, close: ClosePath, bodies: tuple[Body, ...]) -> tuple[Body, ...]:
    """Boom bent, sprung up where the load comes off, and everything leaned any way."""
    stand = setup.lift.stand
    boom = next(b for b in bodies if b.name == "boom")
    assert isinstance(boom, MovingMember)
    tip, chord, angle = close.bend.eased(close.eased)
    members = bent_boom(
        boom.start_m,
        close.path.slew_deg + stand.heading_deg,
        chord_m=chord,
        chord_deg=angle,
        tip_m=tip,
        half_width_m=setup.shape.boom_half_width_m,
    )
    # while the load comes off, the rope leans in from the hook to the head that springs up
    inward = close.path.radius_m - setup.shape.boom_foot_x_m - chord * np.cos(np.radians(angle))
    raised = boom.start_m[:, 2] + chord * np.sin(np.radians(angle))
    hanging: list[Body] = []
    for body in bodies:
        if isinstance(body, MovingMember) and body.name == "hoist rope":
            end = np.column_stack([body.end_m[:, :2], raised])
            body = dataclasses.replace(
                body, end_m=end, half_width_m=body.half_width_m + np.maximum(inward, 0.0)
            )
        if body.name != "boom":
            hanging.append(body)
    return leaned_bodies(
        [*members, *hanging],
        lean_percent(setup),
        centre_m=(stand.easting_m, stand.northing_m, stand.level_m),
        head_m=boom.end_m,
    )


def surroundings(setup: Setup, path: LoadPath) -> Surroundings:
    """All clearance checks of the lift along its path.

    The movement between two steps is taken off every distance before it is compared.
    """
    stand, lean = setup.lift.stand, lean_percent(setup)
    given, close = path, close_path(setup, path)
    path, head_height_m = close.path, loaded_head_z_m(setup, close.bend)
    swing = swing_deg(setup, path, boom_states(setup.machine, setup.boom, path.radius_m))
    hung = dataclasses.replace(setup.hung, swing_deg=swing)
    bodies = _bent_and_leaned(setup, close, _straight(setup, path, hung, head_height_m, lean))
    rules = setup.rules.clearance
    # how far the load's lowest corner may hang below its planned underside, at any rope length
    below = setup.hung.dip_m + setup.hung.reach_m * math.sin(math.radians(swing))
    below += lean / 100.0 * float(path.radius_m.max())
    obstacles = site_obstacles(setup.site, setup.rules, persons=setup.lift.persons)
    result = least_clearances(
        bodies, obstacles, off_straight_m=close.off_straight_m * (1.0 + np.tan(np.radians(swing)))
    )
    checks: list[Check] = []
    solid = [r for r in result.rows if r.kind not in ("people", "no-overfly", "overhead line")]
    for body, title in _BODY_TITLES.items():
        rows = sorted((r for r in solid if r.body == body), key=_shown_margin_m)
        if not rows:
            continue
        worst = rows[0]
        checks.append(
            _row_check(
                worst,
                path,
                id=f"clearance-{body.replace(' ', '-')}",
                title=f"{title} {worst.obstacle}",
                reference=rules.reference + (f"; {bend_words(setup)}" if body == "boom" else ""),
                remedy=_clearance_remedy(body, worst, setup.site, below),
            )
        )
    checks += _own_checks(setup, path, head_height_m, swing)
    if close.unknown_bend:
        checks.append(_no_bending(close.unknown_bend))
    zones = [r for r in result.rows if r.kind in ("people", "no-overfly")]
    for name in dict.fromkeys(r.obstacle for r in zones):
        row = min((r for r in zones if r.obstacle == name), key=_shown_margin_m)
        checks.append(
            _row_check(
                row,
                path,
                id=f"zone-{row.obstacle}",
                title=f"{row.body.capitalize()} never over {row.obstacle}",
                reference="owner's zone on the survey: for what hangs and the counterweight tail; "
                "the boom may pass above",
                remedy=f"Stand the machine farther from {row.obstacle} or slew the other way round."
                if row.body == "counterweight tail"
                else f"Take the load round {row.obstacle}: other slew way or waypoints.",
            )
        )
    for line in setup.site.overhead_lines:
        checks.append(_line_check(line, result, path, setup))
    tail = next(b for b in bodies if isinstance(b, MovingPrism) and b.name == "counterweight tail")
    pinch = pinch_gap(
        tail,
        obstacles,
        ground_level_m=stand.level_m,
        required_m=rules.tail_m,
        found=result,
    )
    if pinch:
        checks.append(
            limit_check(
                "pinch-gap",
                f"Gap behind the counterweight to {pinch[0].obstacle}",
                value=pinch[0].gap_m,
                limit=max(pinch[0].required_m, 1e-6),
                quantity="length_m",
                sense="min",
                reference=rules.reference,
                where=path.describe(pinch[0].step, numbered=False),
                remedy=f"Stand farther from {pinch[0].obstacle} or barricade the gap.",
            )
        )
    return Surroundings(
        result=result,
        pinch=pinch,
        checks=tuple(checks),
        close=close,
        close_bodies=bodies,
        given=(setup, given, hung),
    )


def _own_boxes(setup: Setup) -> list[tuple[FloatArray, FloatArray, float]]:
    """Carrier and outriggers in the machine frame: two corners in plan, and the top. [m]

    An outrigger reaches from the centreline past its float and, since no fact states its height,
    is as high as the carrier. Mats are left out: a load may be set down on one.
    """
    outline = np.array(setup.shape.carrier_outline_m)  # a rectangle along the machine's axes
    carrier = setup.shape.carrier_top_m
    boxes = [(outline.min(axis=0), outline.max(axis=0), carrier)]
    for leg, xy in zip(setup.machine.legs, setup.leg_xy_m, strict=True):
        half, root = np.array([leg.float_length_m, leg.float_width_m]) / 2.0, [xy[0], 0.0]
        boxes.append((np.minimum(xy, root) - half, np.maximum(xy, root) + half, carrier))
    return boxes


def _own_checks(
    setup: Setup, path: LoadPath, head_height_m: FloatArray, swing_deg: float
) -> list[Check]:
    """The load against the machine that carries it: its boom, its carrier and its outriggers.

    The load may swing any way, toward the boom as well: no point of it comes nearer to anything
    than by the way that it swings.
    """
    base = path.level_m - setup.lift.stand.level_m
    hung, slew = setup.hung, np.radians(path.slew_deg)
    # on its rope no point goes farther than the chord of its own circle about the head
    deep = np.maximum(head_height_m - base, 0.0) + hung.dip_m
    reach = max(hung.reach_m, hung.beam_reach_m)
    swung = 2.0 * np.hypot(reach, deep) * np.sin(np.radians(swing_deg) / 2.0)
    # a machine that leans sees its load swing by its lean as well
    swung = swung + lean_percent(setup) / 100.0 * deep
    to_boom = load_to_boom_m(
        setup.shape,
        hung,
        radius_m=path.radius_m,
        head_height_m=head_height_m,
        load_base_height_m=base,
    )
    at = path.radius_m[:, None] * np.stack([np.cos(slew), np.sin(slew)], axis=-1)
    boxes = []
    for low_m, high_m, top in _own_boxes(setup):
        outside = np.maximum(np.maximum(low_m - at, at - high_m), 0.0)
        boxes.append((np.hypot(outside[:, 0], outside[:, 1]), top))
    # hoisted or lowered over its own place the load is guided clear of the outriggers
    still = np.isin(path.stage, ("hoist", "lower", "load off"))
    moved = [swung, *[np.where(still, 0.0, swung)] * (len(boxes) - 1)]
    low = base - dataclasses.replace(hung, swing_deg=swing_deg).low_m(head_height_m - base)
    parts = [(hung.reach_m, low)]
    if hung.beam_reach_m > 0:
        slings = base + hung.beam_slings_base_m
        parts.append((reach, slings - swing_dip_m(reach, deep, swing_deg=swing_deg)))
    to_carrier = np.min(
        [
            np.hypot(np.maximum(away - wide - way, 0.0), np.maximum(under - top, 0.0))
            for wide, under in parts
            for (away, top), way in zip(boxes, moved, strict=True)
        ],
        axis=0,
    )
    rows = []
    what = "Load and beam" if hung.beam_reach_m > 0 else "Load"
    for part, distance, remedy in (
        (
            "boom",
            np.maximum(to_boom - swung, 0.0),
            "Use a longer boom or longer slings, or hold the load by tag lines.",
        ),
        (
            "carrier and outriggers",
            to_carrier,
            "Carry the load higher or at a larger radius.",
        ),
    ):
        step = int(np.argmin(distance))
        rows.append(
            limit_check(
                f"clearance-own-{part.split()[0]}",
                f"{what}, turned to any angle and swung, to the machine's own {part}",
                value=float(distance[step]),
                limit=max(setup.rules.clearance.load_m, 1e-6),
                quantity="length_m",
                sense="min",
                reference=setup.rules.clearance.reference,
                where=path.describe(step, numbered=False),
                remedy=remedy,
            )
        )
    return rows


def _no_bending(problem: str) -> Check:
    return no_data_check(
        "boom-bending",
        "Bending of the boom, for clearances and head room",
        quantity="length_m",
        reference="beam formulas (estimate)",
        remedy=f"{problem} Where the manufacturer gives no stiffness that holds, state null: an "
        "allowance takes its place.",
    )


def _clearance_remedy(body: str, row: ClearanceRow, site: Site, below_m: float) -> str:
    """What is enough when followed: a number only where it surely is."""
    if body in _HUNG_BODIES:
        top = next(o.top_level_m for o in site.obstacles if o.id == row.obstacle)
        # so far from it that the distance is kept between two steps as well
        keep = math.hypot(row.required_m, 0.6 * STEP_M) + 1e-3
        level = math.ceil((top + keep + below_m) * 100) / 100
        return (
            f"Carry the load's underside at level {level:.2f} m or higher past {row.obstacle}, or "
            "farther from it in plan."
        )
    if body == "boom":
        return f"Raise or shorten the boom, or stand farther from {row.obstacle}."
    if row.distance_m > 0:
        missing = max(row.required_m, 1e-6) - (row.distance_m - row.between_steps_m)
        short = math.ceil(max(missing, 0.0) * 100) / 100
        return f"Stand at least {short:.2f} m farther from {row.obstacle}."
    return f"Stand farther from {row.obstacle}: they meet."


def _line_check(line: OverheadLine, result: ClearanceResult, path: LoadPath, setup: Setup) -> Check:
    reference = line_table_words(setup.rules, persons=setup.lift.persons)
    if line.voltage_kV is None:
        return no_data_check(
            f"line-{line.id}",
            f"Distance to overhead line {line.id} (voltage unknown)",
            quantity="length_m",
            reference=reference,
            remedy=f"Ask {line.owner} for the voltage before anything is planned near the line.",
        )
    row = min((r for r in result.rows if r.obstacle == line.id), key=_shown_margin_m)
    return _row_check(
        row,
        path,
        id=f"line-{line.id}",
        title=f"{row.body.capitalize()} to overhead line {line.id} ({line.voltage_kV:g} kV)",
        reference=reference + (f"; {bend_words(setup)}" if row.body == "boom" else ""),
        remedy="Have the line made dead and earthed, or keep the machine farther away.",
    )
