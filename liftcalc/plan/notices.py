"""Notices: the crane's heights against the rules of aviation, distances to tracks and roads.

Sources: US 14 CFR 77.9 (seen in an excerpt): 200 ft above the ground anywhere; from the nearest runway 100:1 to 20 000
ft, 50:1 to 10 000 ft where no runway is over 3 200 ft, 25:1 to 5 000 ft for a heliport. UK, rules of the CAA as the
trade body prints them (seen in an excerpt): within 6 km of an aerodrome from 10 m or the surroundings (here 10 m),
anywhere from 100 m. Travelling below lines: US 29 CFR 1926.1411 Table T (second-hand), else the table of the job.
"""

from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Point

from liftcalc.base.checks import Check
from liftcalc.base.errors import require_non_negative
from liftcalc.base.text import Show, amount
from liftcalc.clearance.powerline import TABLE_T, required_distance_m, sagged_line
from liftcalc.facts.notices import Aerodrome, Notices
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.setup import boom_states
from liftcalc.lift.site_obstacles import kept_distance_m, line_table_words

NOTICE_COLUMNS = ("Subject", "Found", "Rule", "Notice or agreement")
_FT = 0.3048
US_HEIGHT_M, UK_HEIGHT_M = 200.0 * _FT, 100.0
"""Height above the ground from which notice is given anywhere. [m]"""
UK_NEAR_M, UK_NEAR_HEIGHT_M = 6000.0, 10.0
"""Distance to an aerodrome within which a lower height counts, and that height. [m]"""
US_SLOPES: tuple[tuple[float, float, float], ...] = (
    (3200.0 * _FT, 20000.0 * _FT, 100.0), (0.0, 10000.0 * _FT, 50.0), (-1.0, 5000.0 * _FT, 25.0),
)  # fmt: skip
"""14 CFR 77.9(b). Columns: longest runway over [m] | distance up to [m] | slope, 1 in."""


def us_notice_rise_m(distance_m: float, runway_m: float) -> float:
    """How far above a runway something may rise without notice, infinite beyond the distance. [m]

    Parameters:
      distance_m: >= 0. To the nearest point of the nearest runway. [m]
      runway_m: >= 0. Longest runway of the aerodrome; 0 is a heliport. [m]
    Source: US 14 CFR 77.9(b) (seen in an excerpt).
    """
    away = float(require_non_negative("distance_m", distance_m))
    runway = float(require_non_negative("runway_m", runway_m))
    reach, slope = next((r, s) for over, r, s in US_SLOPES if runway > over)
    return away / slope if away <= reach else float("inf")


@dataclass(frozen=True)
class CraneHeights:
    """Highest point above the ground at the crane position. [m]"""

    path_m: float
    raised_m: float
    """Boom as steep as it goes, at the planned length."""
    lowered_m: float
    """Laid down: boom at its minimum angle, or the superstructure."""


def crane_heights(a: LiftAssessment) -> CraneHeights:
    """Heights of the straight boom's head with half its depth: in use, raised fully, laid down."""
    setup, machine = a.setup, a.setup.machine
    ends = np.array([setup.boom.radius_min_m, setup.boom.radius_max_m])
    head = boom_states(machine, setup.boom, ends).head_z_m
    half, top = setup.shape.boom_half_width_m, machine.superstructure.top_z_m
    path = float(a.study.boom.head_z_m.max())
    raised = max(path, float(head[0]))
    return CraneHeights(path + half, raised + half, max(float(head[1]) + half, top))


def fall_reach_m(a: LiftAssessment) -> float:
    """Plan reach of boom and load from the slew centre, should the boom come down. [m]"""
    boom = a.setup.machine.boom
    return a.setup.boom.length_m + max(boom.foot_u_m, 0.0) + a.setup.hung.reach_m


def _away_m(a: LiftAssessment, thing: Point | LineString) -> float:
    return float(thing.distance(Point(a.setup.lift.stand.easting_m, a.setup.lift.stand.northing_m)))


def _needs(a: LiftAssessment, port: Aerodrome, rule: str) -> tuple[bool, str]:
    """Whether a rule asks for notice to an aerodrome, and by which numbers."""
    high, away = crane_heights(a).raised_m, _away_m(a, Point(port.easting_m, port.northing_m))
    if rule == "UK CAA":
        return away <= UK_NEAR_M and high > UK_NEAR_HEIGHT_M, (
            f"{amount(high, 'length_m', 'up')} high, {amount(away, 'length_m')} away; notice within"
            f" {amount(UK_NEAR_M, 'length_m')} above {amount(UK_NEAR_HEIGHT_M, 'length_m')}"
        )
    nearest = max(away - port.runway_m, 0.0)  # the reference point lies on or beside a runway
    rise = us_notice_rise_m(nearest, port.runway_m)
    top = a.setup.lift.stand.level_m + high - port.level_m
    limit = "beyond the distance of the rule"
    if np.isfinite(rise):
        limit = f"notice above {amount(rise, 'length_m', 'down')}"
    return top > rise, (
        f"{amount(top, 'length_m', 'up')} above the runway, {amount(nearest, 'length_m')} from its "
        f"nearest point at least; {limit}"
    )


def _height_lines(a: LiftAssessment, told: Notices) -> list[tuple[str, bool, str, str | None]]:
    """Each question of aviation: subject, whether notice is needed, numbers, document."""
    high = crane_heights(a).raised_m
    lines = []
    for rule in told.rules:
        most = UK_HEIGHT_M if rule == "UK CAA" else US_HEIGHT_M
        over = high >= most if rule == "UK CAA" else high > most
        lines.append((f"{rule}: height anywhere", over, f"{amount(high, 'length_m', 'up')} high; "
                      f"notice from {amount(most, 'length_m')}", told.height_notice))  # fmt: skip
        for port in told.aerodromes:
            lines.append((f"{rule}: aerodrome {port.id}", *_needs(a, port, rule), port.notice))
    return lines


def notice_checks(a: LiftAssessment) -> list[Check]:
    """What is asked for and not stated: rules, nearest aerodrome, notices, owners' agreements."""
    plan = a.job.plan
    if plan is None or (told := plan.notices) is None:
        return [check_row("notices", 1, 1)]
    unknown = not told.aerodromes and told.nothing_nearer is None
    near = check_row("notices-near", unknown, len(told.aerodromes) or 1, rules="; ".join(told.rules))
    rows = [near, *(
        check_row("notice", needed and document is None, 1, part=str(k), subject=subject,
                 numbers=numbers)
        for k, (subject, needed, numbers, document) in enumerate(_height_lines(a, told), start=1)
    )]  # fmt: skip
    reach = fall_reach_m(a)
    for item in told.neighbours:
        if (away := _away_m(a, LineString(item.line))) > reach:
            continue
        wants = [f"agreement of {item.owner}"] if item.agreed is None else []
        if item.kind == "railway track" and plan.answers.get("beside a railway") is not True:
            wants.append("answer yes to: beside a railway")
        rows.append(check_row("notice-beside", len(wants), 2, part=item.id, kind=item.kind,
                             away=away, reach=reach, wants="; ".join(wants)))  # fmt: skip
    unknown = not told.neighbours and told.nothing_nearer is None
    return [*rows, check_row("notices-beside", unknown, len(told.neighbours) or 1)]


def _travel_rows(a: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """How high the crane may be where it travels below each overhead line, boom lowered."""
    rules = a.setup.rules
    rows: list[tuple[str, ...]] = []
    for line in a.setup.site.overhead_lines:
        low = float(sagged_line(np.array(line.points), sag_m=line.sag_m).points_m[:, 2].min())
        words = line_table_words(rules, line, persons=False)
        kept = kept_distance_m(line, rules, persons=False)
        if rules.clearance.power_line_table.startswith("29 CFR") and line.voltage_kV is not None:
            kept = float(required_distance_m(line.voltage_kV, table=TABLE_T))
            words = f"{TABLE_T.name} (second-hand): without load, boom lowered"
        level = "not below it: voltage unknown" if kept is None else (
            f"no part above level {show(low - kept, 'length_m', 'down')}")  # fmt: skip
        dead = line.dead.document if line.dead else "–"
        rows.append((f"Travelling below overhead line {line.id}", level, words, dead))
    return rows


def notice_rows(a: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """Heights, aviation, tracks and roads, and travelling below lines."""
    high, ground, reach = crane_heights(a), a.setup.lift.stand.level_m, fall_reach_m(a)
    rows: list[tuple[str, ...]] = [
        (f"Maximum height, {name}", f"{show(value, 'length_m', 'up')} above the ground, level "
         f"{show(ground + value, 'length_m', 'up')} above {a.setup.site.datum}", "boom head", "–")
        for name, value in (("on the load path", high.path_m), ("boom fully raised", high.raised_m),
                            ("laid down", high.lowered_m))
    ]  # fmt: skip
    if a.job.plan is None or (told := a.job.plan.notices) is None:
        rows.append(("Rules of notice (14 CFR 77.9, UK CAA)", "not stated", "–", "not stated"))
        return [*rows, *_travel_rows(a, show)]
    rows += [
        (subject, numbers, "notice needed" if needed else "no notice needed",
         document or ("MISSING" if needed else "–"))
        for subject, needed, numbers, document in _height_lines(a, told)
    ]  # fmt: skip
    near = told.nothing_nearer or "distance not stated"
    rows += [] if told.aerodromes else [("Aerodromes", near, "–", "–")]
    for item in told.neighbours:
        away = _away_m(a, LineString(item.line))
        beyond = show(abs(away - reach), "length_m", "down" if away > reach else "up")
        side = "beyond" if away > reach else "inside"
        rows.append((f"{item.kind.capitalize()} {item.id} ({item.owner})",
                     f"{show(away, 'length_m', 'down')} from the slew centre, "
                     f"{beyond} {side} the reach of a falling boom and its load",
                     "in reach" if away <= reach else "clear",
                     item.agreed or ("MISSING" if away <= reach else "–")))  # fmt: skip
    rows += [] if told.neighbours else [("Railway tracks and roads", near, "–", "–")]
    by = told.nothing_nearer or "not stated"
    return [*rows, ("Nothing else near enough to need notice, by", by, "–", "–"), *_travel_rows(a, show)]
