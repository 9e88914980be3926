"""The printed calculation of every clearance: nearest points, what is taken off, the limit.

What moves and how far it may be off its place: :mod:`liftcalc.lift.calculation_bodies`.

Where a distance is found by search along the load path, the step and the nearest point of what stands in the way are
given values; the point on what moves is calculated where its outline has a formula, and the distance always.

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
    half_width_m,
    outline_note,
    own_boom_steps,
    own_carrier_steps,
    point_given,
    reach_steps,
    step_steps,
    underside_steps,
)
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_place import PLANE, place_section
from liftcalc.lift.site_obstacles import line_distance_table, line_table_words, site_obstacles

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
        return isinstance(self.shape, LinePath)


def _body_of(a: LiftAssessment, row: ClearanceRow) -> Body:
    """The body of a row; of a boom in several parts the one on whose axis the point lies."""
    bodies = [b for b in a.surroundings.close_bodies if b.name == row.body]
    if len(bodies) == 1:
        return bodies[0]

    def off_axis(body: Body) -> float:
        assert isinstance(body, MovingMember)
        point = axis_point_m(row, half_width_m(body, row.step))
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


def _obstacle_steps(c: Calculation, near: Nearest, axes: str = "xyz") -> None:
    point_given(c, 2, axes, near.row.obstacle_point_m, f"survey: {near.row.obstacle}; {_FOUND}")


def _point_on_plan(c: Calculation, near: Nearest) -> None:
    """Nearest point of a body round the hoist line: its reach from there toward the obstacle."""
    reach_steps(c, near.assessed, near.body, near.row.step)
    apart = c.work("P_h")
    for axis in "xy":
        way, source = f"{axis}_h", "over the obstacle"
        if apart > 1e-9:
            way += f" + ({axis}_2 - {axis}_h) * R_p / max(P_h, R_p)"
            source = "from the hoist line toward the obstacle"
        c.work(f"{axis}_1", way, source)


def _level_steps(c: Calculation, near: Nearest) -> None:
    """Levels at which a body round the hoist line and the obstacle are nearest."""
    row, body = near.row, near.body
    own, other = row.body_point_m[2], row.obstacle_point_m[2]
    ends = (body.start_m[:, 2], body.end_m[:, 2]) if isinstance(body, MovingMember) else (body.base_m, body.top_m)
    low, high = sorted(float(level[row.step]) for level in ends)
    if row.body == "load" and isinstance(body, MovingPrism) and abs(own - low) < 1e-9:
        underside_steps(c, own)
    else:
        words = "at one level: both reach it" if abs(own - other) < 1e-9 else "nearest level"
        words += f"; {row.body} from {low:.3f} m to {high:.3f} m, tilt and pendulum included"
        point_given(c, 1, "z", row.body_point_m, words)
    _obstacle_steps(c, near, "z")


def _points(c: Calculation, near: Nearest) -> None:
    """Nearest points on both bodies and their distance D_n."""
    row, a, body, step = near.row, near.assessed, near.body, near.row.step
    taken = " - c_n" if near.is_line else ""
    if row.body in ("boom", "hoist rope"):
        _obstacle_steps(c, near)
        point = axis_point_m(row, half_width_m(body, step))
        if row.body == "boom":
            boom_steps(c, a, body, step, point)
            x, y, z, reach, of = "x_4", "y_4", "z_4", "R_a", "axis"
        else:
            reach_steps(c, a, body, step)
            c.facts(z_3=float(point[2]))
            x, y, z, reach, of = "x_h", "y_h", "z_3", "R_p", "hoist line"
        square = f"({x} - x_2) ** 2 + ({y} - y_2) ** 2 + ({z} - z_2) ** 2"
        source = f"{of} to the obstacle, less the reach of the moving body"
        c.work("D_n", f"max(sqrt({square}) - {reach}{taken}, 0)", source, value=row.distance_m)
        return
    round_hoist = row.body in ("load", "rigging", "hook block")
    if round_hoist and not near.is_line:
        _obstacle_steps(c, near, "xy")
        _point_on_plan(c, near)
        _level_steps(c, near)
    else:
        source = outline_note(a, row.body)
        if round_hoist:
            reach_steps(c, a, body, step)
            source = f"16 facets about the hoist line, outside the reach R_p; {_FOUND}"
        point_given(c, 1, "xyz", row.body_point_m, source)
        _obstacle_steps(c, near)
    square = "sqrt((x_1 - x_2) ** 2 + (y_1 - y_2) ** 2 + (z_1 - z_2) ** 2)"
    source = PLANE + (", less what the pieces of the line leave out" if taken else "")
    expression = f"max({square}{taken}, 0)" if taken else square
    c.work("D_n", expression, source, value=row.distance_m)


def _line_steps(c: Calculation, near: Nearest) -> None:
    """The conductor: its sag, and what straight pieces leave out of its curve."""
    line = next(o for o in near.assessed.setup.site.overhead_lines if o.id == near.row.obstacle)
    points = np.array(line.points)
    x = np.array(near.row.obstacle_point_m[:2])
    spans = [shapely.LineString(points[k : k + 2, :2]) for k in range(len(points) - 1)]
    k = int(np.argmin([span.distance(shapely.Point(x)) for span in spans]))
    survey = f"survey: {line.id}, span {k + 1} of {len(spans)}"
    sags = np.broadcast_to(np.asarray(line.sag_m, dtype=np.float64), (len(spans),))
    c.facts(survey, z_An=points[k][2], z_Bn=points[k + 1][2], f_n=float(sags[k]))
    c.steps("z_n")
    assert isinstance(near.shape, LinePath)
    c.facts(c_n=near.shape.chord_error_m)


def _required(near: Nearest) -> str:
    """Whose distance is required."""
    setup, row, rule = near.assessed.setup, near.row, near.assessed.setup.rules.clearance
    if near.is_line:
        line = next(o for o in setup.site.overhead_lines if o.id == row.obstacle)
        limits = line_distance_table(setup.rules, persons=setup.lift.persons).limit_kV
        enough = (k for k, top in enumerate(limits) if (line.voltage_kV or 0.0) <= top)
        band = next(enough, len(limits) - 1)
        source = line_table_words(setup.rules, line, persons=setup.lift.persons)
        source += f": {line.voltage_kV:g} kV, row above {limits[band - 1] if band else 0.0:g} to "
        feet = row.required_m / 0.3048
        whole = f", {feet:.0f} ft" if abs(feet - round(feet)) < 1e-9 else ""
        return f"{source}{limits[band]:g} kV{whole}"
    if row.required_m <= 0:
        return "they must not meet: 1e-6 m"
    if row.body == "counterweight tail":
        return f"{rule.tail_source}: {row.body}"
    of = "boom and hoist rope" if row.body in ("boom", "hoist rope") else "load and rigging"
    return f"{rule.reference}: {of}"


def _of_row(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """From the step of the path to the clearance and its limit."""
    setup, row, close = a.setup, a.surroundings.worst[check.id], a.surroundings.close
    obstacles = site_obstacles(setup.site, setup.rules, persons=setup.lift.persons)
    shape = next(o.shape for o in obstacles if o.name == row.obstacle)
    near = Nearest(a, row, _body_of(a, row), shape)
    step_steps(c, a, row.step)
    if near.is_line:
        _line_steps(c, near)
    _points(c, near)
    moved = float(Moving(near.body).whole_m.max()) if len(close.path) > 1 else 0.0
    pendulum = float(np.tan(np.radians(a.surroundings.given[2].swing_deg)))
    c.facts(w_n=moved, o_n=close.off_straight_m * (1.0 + pendulum))
    c.steps("e_n", e_n=row.between_steps_m)
    left, source = "D_n", "distance of the nearest points, less movement between steps"
    if row.distance_m > 0:
        left = "max(D_n - e_n, 0)"
    c.work("d", left, source)
    limit = "d_0_touch" if max(row.required_m, 1e-6) < 1e-3 else "d_0"
    c.ends(check, "d", limit, check.reference if check.condition else _required(near))


def _pinch(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Tail and obstacle in plan, whatever their heights."""
    surroundings, setup = a.surroundings, a.setup
    gap = surroundings.pinch[0]
    tail = next(b for b in surroundings.close_bodies if b.name == "counterweight tail")
    assert isinstance(tail, MovingPrism)
    obstacles = site_obstacles(setup.site, setup.rules, persons=setup.lift.persons)
    shape = next(o.shape for o in obstacles if o.name == gap.obstacle)
    assert isinstance(shape, Prism)
    one, other = shapely.Polygon(tail.corners_m[gap.step]), shapely.Polygon(shape.polygon_m)
    points = shapely.get_coordinates(shapely.shortest_line(one, other))
    step_steps(c, a, gap.step)
    body, found = outline_note(a, "counterweight tail"), f"survey: {gap.obstacle}; {_FOUND}"
    point_given(c, 1, "xy", points[0], body)
    point_given(c, 2, "xy", points[1], found)
    square = "sqrt((x_1 - x_2) ** 2 + (y_1 - y_2) ** 2)"
    c.work("d", square, "in plan: a person may stand there", value=gap.gap_m)
    c.ends(check, "d", "d_0", f"{setup.rules.clearance.tail_source}: counterweight tail")


_BY_ID: tuple[tuple[str, Callable[[Calculation, LiftAssessment, Check], None]], ...] = (
    ("clearance-own-boom", own_boom_steps), ("clearance-own-carrier", own_carrier_steps),
    ("clearance-", _of_row), ("zone-", _of_row), ("line-", _of_row), ("pinch-gap", _pinch),
)  # fmt: skip
"""Which check is calculated how; the first id that fits."""


def clearance_sections(c: Calculation, a: LiftAssessment, checks: Sequence[Check]) -> list[str]:
    """Add the calculation of every clearance among *checks*; returns their ids."""
    done = []
    for check in checks:
        if check.value is None or check.limit is None:
            continue  # nothing to reach: what is missing stands in its own row
        found = (make for prefix, make in _BY_ID if check.id.startswith(prefix))
        if (make := next(found, None)) is not None:
            if "s_1" not in c.symbols:
                place_section(c, a.setup, a.path)
                gross_section(c, a.setup)
            c.section(check)
            make(c, a, check)
            done.append(check.id)
    return done
