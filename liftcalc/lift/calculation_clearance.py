"""The printed calculation of every clearance: nearest points, what is taken off, the limit.

Contents: :func:`clearance_sections`. What moves and how far it may be off its place:
:mod:`liftcalc.lift.calculation_bodies`.

Where a distance is found by search along the load path, the step and the nearest point of what
stands in the way are given values; the point on what moves is calculated where its outline has a
formula, and the distance always.

Source: plane geometry; the limits from the sources of the checks.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.least import ClearanceRow
from liftcalc.clearance.members import Moving
from liftcalc.clearance.powerline import LinePath
from liftcalc.clearance.solids import Prism
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_bodies import (
    Body,
    boom_steps,
    hoist_line_steps,
    outline_note,
    reach_steps,
    step_steps,
    underside_steps,
)
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_own import own_boom_steps, own_carrier_steps
from liftcalc.lift.calculation_place import place_section
from liftcalc.lift.site_obstacles import line_distance_table, line_table_words, site_obstacles
from liftcalc.lift.surroundings import worst_row

_FOUND = "found by search along the load path to 1e-6 m"


@dataclass(frozen=True, eq=False)
class Nearest:
    """One row of clearances with the body that it was measured from."""

    assessed: LiftAssessment
    row: ClearanceRow
    body: Body
    shape: Prism | LinePath

    @property
    def is_line(self) -> bool:
        """Whether it is measured from an overhead line."""
        return isinstance(self.shape, LinePath)


def _half_width_m(body: Body, step: int) -> float:
    width = body.half_width_m if isinstance(body, MovingMember) else body.spread_m
    return float(width[step])


def _body_of(assessed: LiftAssessment, row: ClearanceRow) -> Body:
    """The body of a row; of a boom in several parts the one on whose axis the point lies."""
    bodies = [b for b in assessed.surroundings.close_bodies if b.name == row.body]
    if len(bodies) == 1:
        return bodies[0]

    def off_axis(body: Body) -> float:
        assert isinstance(body, MovingMember)
        point = axis_point_m(row, _half_width_m(body, row.step))
        start, along = body.start_m[row.step], body.end_m[row.step] - body.start_m[row.step]
        share = np.clip((point - start) @ along / (along @ along), 0.0, 1.0)
        return float(np.linalg.norm(point - start - share * along))

    return min(bodies, key=off_axis)


def axis_point_m(row: ClearanceRow, half_width_m: float) -> FloatArray:
    """Point of a member's axis that is nearest to the obstacle of a row."""
    on_body, other = np.array(row.body_point_m), np.array(row.obstacle_point_m)
    distance = float(np.linalg.norm(on_body - other))
    if distance < 1e-9:
        return on_body
    return np.asarray(other + (on_body - other) * (distance + half_width_m) / distance)


def _nearest(assessed: LiftAssessment, row: ClearanceRow) -> Nearest:
    setup = assessed.setup
    obstacles = site_obstacles(setup.site, setup.rules, persons=setup.lift.persons)
    shape = next(o.shape for o in obstacles if o.name == row.obstacle)
    return Nearest(assessed, row, _body_of(assessed, row), shape)


def _obstacle_steps(calc: Calculation, near: Nearest, *, level: bool) -> None:
    """The nearest point of the obstacle."""
    each = zip(("x_2", "y_2", "z_2"), ("easting", "northing", "level"), strict=True)
    for (name, what), value in zip(each, near.row.obstacle_point_m, strict=True):
        if name != "z_2" or level:
            calc.given(name, f"{what} of the nearest point of the obstacle", value, "m.4",
                       f"survey: {near.row.obstacle}; {_FOUND}")  # fmt: skip


def _point_on_plan(calc: Calculation, near: Nearest) -> None:
    """Nearest point of a body round the hoist line: its reach from there toward the obstacle."""
    setup, step = near.assessed.setup, near.row.step
    hoist_line_steps(calc, setup)
    reach_steps(calc, near.assessed, near.body, step)
    apart = calc.step("P_h", "hoist line to the nearest point of the obstacle, in plan",
                      "sqrt((x_2 - x_h) ** 2 + (y_2 - y_h) ** 2)", "m.4",
                      "plane geometry")  # fmt: skip
    for axis, what in (("x", "easting"), ("y", "northing")):
        calc.step(
            f"{axis}_1",
            f"{what} of the nearest point of the moving body",
            f"{axis}_h + ({axis}_2 - {axis}_h) * R_p / max(P_h, R_p)"
            if apart > 1e-9
            else f"{axis}_h",
            "m.4",
            "from the hoist line toward the obstacle" if apart > 1e-9 else "over the obstacle",
        )


def _given_point(calc: Calculation, near: Nearest, axes: str, source: str) -> None:
    names = {"x": "easting", "y": "northing", "z": "level"}
    for axis in axes:
        value = near.row.body_point_m["xyz".index(axis)]
        what = f"{names[axis]} of the nearest point of the moving body"
        calc.given(f"{axis}_1", what, value, "m.4", source)


def _level_steps(calc: Calculation, near: Nearest) -> None:
    """Levels at which a body round the hoist line and the obstacle are nearest."""
    row, body = near.row, near.body
    own, other = row.body_point_m[2], row.obstacle_point_m[2]
    if row.body == "load" and isinstance(body, MovingPrism) and abs(
        own - float(body.base_m[row.step])
    ) < 1e-9:  # fmt: skip
        underside_steps(calc, near.assessed, row.step, own)
    else:
        words = "at one level: both reach it" if abs(own - other) < 1e-9 else "nearest level"
        low, high = _range(body, row.step)
        words += f"; {row.body} from {low:.3f} m to {high:.3f} m, tilt and pendulum included"
        _given_point(calc, near, "z", words)
    calc.given("z_2", "level of the nearest point of the obstacle", other, "m.4",
               f"survey: {row.obstacle}; {_FOUND}")  # fmt: skip


def _range(body: Body, step: int) -> tuple[float, float]:
    if isinstance(body, MovingMember):
        ends = (float(body.start_m[step, 2]), float(body.end_m[step, 2]))
        return min(ends), max(ends)
    return float(body.base_m[step]), float(body.top_m[step])


def _points(calc: Calculation, near: Nearest) -> None:
    """Nearest points on both bodies and their distance D_n."""
    row, taken = near.row, ""
    if row.body == "boom":
        _obstacle_steps(calc, near, level=True)
        half = _half_width_m(near.body, row.step)
        boom_steps(calc, near.assessed, near.body, row.step, axis_point_m(row, half))
        calc.step("D_n", "distance of the nearest points",
                  "max(sqrt((x_4 - x_2) ** 2 + (y_4 - y_2) ** 2 + (z_4 - z_2) ** 2) - R_a"
                  f"{' - c_n' if near.is_line else ''}, 0)", "m.4",
                  "axis to the obstacle, less the reach of the moving body",
                  value=row.distance_m)  # fmt: skip
        return
    if row.body == "hoist rope":
        _obstacle_steps(calc, near, level=True)
        hoist_line_steps(calc, near.assessed.setup)
        reach_steps(calc, near.assessed, near.body, row.step)
        level = float(axis_point_m(row, _half_width_m(near.body, row.step))[2])
        calc.given("z_3", "level of the nearest point of the hoist line", level, "m.4", _FOUND)
        calc.step("D_n", "distance of the nearest points",
                  "max(sqrt((x_h - x_2) ** 2 + (y_h - y_2) ** 2 + (z_3 - z_2) ** 2) - R_p"
                  f"{' - c_n' if near.is_line else ''}, 0)", "m.4",
                  "hoist line to the obstacle, less the reach of the moving body",
                  value=row.distance_m)  # fmt: skip
        return
    round_hoist = row.body in ("load", "rigging", "hook block")
    if round_hoist and not near.is_line:
        _obstacle_steps(calc, near, level=False)
        _point_on_plan(calc, near)
        _level_steps(calc, near)
    else:
        if round_hoist:
            hoist_line_steps(calc, near.assessed.setup)
            reach_steps(calc, near.assessed, near.body, row.step)
            source = f"16 facets about the hoist line, outside the reach R_p; {_FOUND}"
        else:
            source = outline_note(near.assessed, row.body)
        _given_point(calc, near, "xyz", source)
        _obstacle_steps(calc, near, level=True)
    if near.is_line:
        taken = " - c_n"
    square = " + ".join(f"({a}_1 - {a}_2) ** 2" for a in "xyz")
    calc.step("D_n", "distance of the nearest points",
              f"max(sqrt({square}){taken}, 0)" if taken else f"sqrt({square})", "m.4",
              "plane geometry" + (", less what the pieces of the line leave out" if taken else ""),
              value=row.distance_m)  # fmt: skip


def _line_steps(calc: Calculation, near: Nearest) -> None:
    """The conductor: its sag, and what straight pieces leave out of its curve."""
    line = next(o for o in near.assessed.setup.site.overhead_lines if o.id == near.row.obstacle)
    points = np.array(line.points)
    x = np.array(near.row.obstacle_point_m[:2])
    spans = [shapely.LineString(points[k : k + 2, :2]) for k in range(len(points) - 1)]
    k = int(np.argmin([span.distance(shapely.Point(x)) for span in spans]))
    survey = f"survey: {line.id}, span {k + 1} of {len(spans)}"
    for name, end, point in (("A", "start", points[k]), ("B", "end", points[k + 1])):
        calc.given(f"z_{name}n", f"level of the line at the {end} of this span", point[2], "m",
                   survey)  # fmt: skip
    sags = np.broadcast_to(np.asarray(line.sag_m, dtype=np.float64), (len(spans),))
    calc.given("f_n", "sag of the line at mid-span", float(sags[k]), "m", survey)
    calc.step("z_n", "level of the line at mid-span", "(z_An + z_Bn) / 2 - f_n", "m",
              "sag below the chord; elsewhere the catenary with this sag")  # fmt: skip
    assert isinstance(near.shape, LinePath)
    calc.given("c_n", "maximum distance of the line's curve from its straight pieces",
               near.shape.chord_error_m, "m.4", "catenary, 32 pieces for each span")  # fmt: skip


def _limit_steps(calc: Calculation, near: Nearest) -> None:
    setup, row = near.assessed.setup, near.row
    meaning, limit = "minimum clearance", max(row.required_m, 1e-6)
    if near.is_line:
        line = next(o for o in setup.site.overhead_lines if o.id == row.obstacle)
        table = line_distance_table(setup.rules, persons=setup.lift.persons)
        band = next(
            k
            for k, top in enumerate(table.limit_kV)
            if (line.voltage_kV or 0.0) <= top or k + 1 == len(table.limit_kV)
        )
        low = table.limit_kV[band - 1] if band else 0.0
        source = line_table_words(setup.rules, persons=setup.lift.persons)
        source += f": {line.voltage_kV:g} kV, row above {low:g} to {table.limit_kV[band]:g} kV"
        feet = row.required_m / 0.3048
        if abs(feet - round(feet)) < 1e-9:
            source += f", {feet:.0f} ft"
    elif row.required_m > 0:
        what = {"boom": "boom and hoist rope", "hoist rope": "boom and hoist rope"}
        rule, tail = setup.rules.clearance, row.body == "counterweight tail"
        of = row.body if tail else what.get(row.body, "load and rigging")
        source = f"{rule.tail_source if tail else rule.reference}: {of}"
    else:
        source = "they must not meet: 1e-6 m"
    calc.given("d_0", meaning, limit, "m", source, digits=6 if limit < 1e-3 else None)


def _reach(calc: Calculation, near: Nearest, check: Check) -> None:
    """From the step of the path to the clearance and its limit."""
    row, surroundings = near.row, near.assessed.surroundings
    step_steps(calc, near.assessed, row.step)
    if near.is_line:
        _line_steps(calc, near)
    _points(calc, near)
    moved = float(Moving(near.body).whole_m.max()) if len(surroundings.close.path) > 1 else 0.0
    calc.given("w_n", "maximum movement of the body between two steps", moved, "m.4",
               "steps of the load path for clearances")  # fmt: skip
    pendulum = float(np.tan(np.radians(surroundings.given[2].swing_deg)))
    off = surroundings.close.off_straight_m * (1.0 + pendulum)
    calc.given("o_n", "maximum distance of a point from its chord between two steps", off, "m.5",
               "arcs of slewing and luffing")  # fmt: skip
    calc.step("e_n", "most that the distance may be smaller between two steps",
              "D_n - sqrt(max(D_n ** 2 - w_n ** 2 / 4, 0)) + o_n", "m.5",
              "a point on a chord, half way", value=row.between_steps_m)  # fmt: skip
    calc.step("d", "clearance", "max(D_n - e_n, 0)" if row.distance_m > 0 else "D_n", "m.4",
              "distance of the nearest points, less movement between steps")  # fmt: skip
    _limit_steps(calc, near)
    calc.reaches(check, "d", "d_0")


def _row_of(assessed: LiftAssessment, check: Check) -> ClearanceRow:
    """The row that a check shows."""
    rows = assessed.surroundings.result.rows
    kind, _, name = check.id.partition("-")
    if kind == "line":
        return worst_row(r for r in rows if r.obstacle == name and r.kind == "overhead line")
    if kind == "zone":
        zones = [r for r in rows if r.kind in ("people", "no-overfly")]
        return worst_row(r for r in zones if r.obstacle == name)
    solid = [r for r in rows if r.kind not in ("people", "no-overfly", "overhead line")]
    return worst_row(r for r in solid if r.body.replace(" ", "-") == name)


def _of_row(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    _reach(calc, _nearest(assessed, _row_of(assessed, check)), check)


def _pinch(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    """Tail and obstacle in plan, whatever their heights."""
    surroundings, setup = assessed.surroundings, assessed.setup
    gap = surroundings.pinch[0]
    tail = next(b for b in surroundings.close_bodies if b.name == "counterweight tail")
    assert isinstance(tail, MovingPrism)
    obstacles = site_obstacles(setup.site, setup.rules, persons=setup.lift.persons)
    shape = next(o.shape for o in obstacles if o.name == gap.obstacle)
    assert isinstance(shape, Prism)
    one, other = shapely.Polygon(tail.corners_m[gap.step]), shapely.Polygon(shape.polygon_m)
    (x_1, y_1), (x_2, y_2) = shapely.get_coordinates(shapely.shortest_line(one, other))
    step_steps(calc, assessed, gap.step)
    note = outline_note(assessed, "counterweight tail")
    calc.given("x_1", "easting of the nearest point of the moving body", x_1, "m.4", note)
    calc.given("y_1", "northing of the nearest point of the moving body", y_1, "m.4", note)
    found, nearest = f"survey: {gap.obstacle}; {_FOUND}", "nearest point of the obstacle"
    calc.given("x_2", f"easting of the {nearest}", x_2, "m.4", found)
    calc.given("y_2", f"northing of the {nearest}", y_2, "m.4", found)
    calc.step("d", "clearance", "sqrt((x_1 - x_2) ** 2 + (y_1 - y_2) ** 2)", "m.4",
              "in plan: a person may stand there", value=gap.gap_m)  # fmt: skip
    calc.given("d_0", "minimum clearance", max(gap.required_m, 1e-6), "m",
               f"{setup.rules.clearance.tail_source}: counterweight tail")  # fmt: skip
    calc.reaches(check, "d", "d_0")


_BY_ID: tuple[tuple[str, Callable[[Calculation, LiftAssessment, Check], None]], ...] = (
    ("clearance-own-boom", own_boom_steps),
    ("clearance-own-carrier", own_carrier_steps),
    ("clearance-", _of_row),
    ("zone-", _of_row),
    ("line-", _of_row),
    ("pinch-gap", _pinch),
)
"""Which check is calculated how; the first id that fits."""


def clearance_sections(
    calc: Calculation, assessed: LiftAssessment, checks: Sequence[Check]
) -> list[str]:
    """Add the calculation of every clearance among *checks*; returns their ids."""
    done = []
    for check in checks:
        if check.value is None or check.limit is None:
            continue  # nothing to reach: what is missing stands in its own row
        found = (make for prefix, make in _BY_ID if check.id.startswith(prefix))
        if (make := next(found, None)) is not None:
            if "s_1" not in calc.symbols:
                place_section(calc, assessed.setup, assessed.path)
                gross_section(calc, assessed.setup)
            calc.section(check)
            make(calc, assessed, check)
            done.append(check.id)
    return done
