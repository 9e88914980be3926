"""What moves above the surveyed ground, in the calculation: the point, its level, the ground there.

Source: plane geometry; those of :mod:`liftcalc.lift.above_ground`.
"""

import numpy as np
from shapely.geometry import Point, Polygon

from liftcalc.base.checks import Check
from liftcalc.lift.above_ground import AboveGround, above_ground
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_bodies import (
    corner_drop_steps,
    dip_given,
    hoist_line_steps,
    load_reach_steps,
    pendulum_steps,
    section_given,
)
from liftcalc.lift.calculation_place import MACHINE, PLANE, at_step, boom_rows, level_row
from liftcalc.lift.calculation_plan import level_rows
from liftcalc.lift.setup import to_site_m

_EAST, _NORTH = "easting of the point looked at", "northing of the point looked at"
_LOW = "level of what moves at that point"


def above_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """The body's level at its worst point, less the ground there."""
    setup, path, boom = a.setup, a.path, a.study.boom
    one = next(b for b in above_ground(setup, path, boom) if b.id == check.id)
    step, n = one.worst
    at_step(c, setup, path, step)
    boom_rows(c, setup)
    level_row(c, setup, path, step)
    hoist_line_steps(c)
    point = np.broadcast_to(one.points_m, (len(path), *one.points_m.shape[1:]))[step, n]
    east, north = to_site_m(point, setup.lift).tolist()
    low = float(np.broadcast_to(one.low_m, one.above_m.shape)[step, n])
    rows = {"load": _load_rows, "tail": _tail_rows, "boom": _boom_rows}[check.id.partition("-")[0]]
    rows(c, a, one, east=east, north=north, low=low)
    ground = low - float(one.above_m[step, n])
    _ground_rows(c, a, east, north=north, ground_m=ground)
    c.step("k_g", "clearance to the surveyed ground", "Z_p - Z_g", "m", "heights",
           value=low - ground)  # fmt: skip
    source = (
        a.setup.rules.clearance.reference
        if check.id.startswith("boom")
        else "accuracy of the survey"
    )
    c.given("k_q", "clearance asked to the surveyed ground", one.limit_m, "m", source)
    c.reaches(check, "k_g", "k_q")


def _load_rows(c: Calculation, a: LiftAssessment, one: AboveGround, *, east: float,
               north: float, low: float) -> None:  # fmt: skip
    """The load's lowest corner anywhere within its reach; hoisted and lowered, its underside."""
    step, n = one.worst
    setup, path = a.setup, a.path
    if path.stage[step] in ("hoist", "lower"):
        c.step("E_g", _EAST, "x_h", "m.4", "below the hook", value=east)
        c.step("N_g", _NORTH, "y_h", "m.4", "below the hook", value=north)
        c.step("Z_p", _LOW, "Z", "m", "planned underside over its own place", value=low)
        return
    c.step("l_p", "boom head to the load's underside", "h_h - (Z - Z_0)", "m", PLANE)
    pendulum_steps(c, a)
    load_reach_steps(c, setup)
    dip_given(c, setup)
    share = 0.0 if n == 0 else 0.5 if n <= 16 else 1.0
    turn = ((n - 1) % 16) * 22.5 if n else 0.0
    c.given("f_g", "share of its reach at which the load is looked at", share, "",
            "middle, half and whole reach")  # fmt: skip
    c.given("a_g", "direction of that point from the hoist line, from the front", turn, "°",
            "16 directions")  # fmt: skip
    c.step("d_g", "that point from the hoist line", "f_g * (R_o + l_p * tan(psi_p))", "m.4",
           "outline of the load, and pendulum")  # fmt: skip
    c.step("E_g", _EAST, "x_h + d_g * cos(H + a_g)", "m.4", PLANE, value=east)
    c.step("N_g", _NORTH, "y_h + d_g * sin(H + a_g)", "m.4", PLANE, value=north)
    corner_drop_steps(c, above="l_p")
    c.step("Z_p", _LOW, "Z - o_d - o_p", "m", "underside, less tilt and pendulum", value=low)


def _tail_rows(c: Calculation, a: LiftAssessment, one: AboveGround, *, east: float,
               north: float, low: float) -> None:  # fmt: skip
    """A point of the tail's outline, and its underside."""
    _, n = one.worst
    outline = np.asarray(a.setup.shape.tail_outline_m)
    behind = np.concatenate([share * outline[outline[:, 0] < 0] for share in (1.0, 0.75, 0.5)])
    along, across = behind[n].tolist()
    c.given("u_t", "point of the tail, along the boom direction", along, "m.4",
            "outline of the tail, rounded to its radius")  # fmt: skip
    c.given("y_t", "point of the tail, to the left of the boom", across, "m.4",
            "outline of the tail, rounded to its radius")  # fmt: skip
    c.step("E_g", _EAST, "E_0 + u_t * cos(H + s) - y_t * sin(H + s)", "m.4", PLANE, value=east)
    c.step("N_g", _NORTH, "N_0 + u_t * sin(H + s) + y_t * cos(H + s)", "m.4", PLANE, value=north)
    c.given("z_t", "underside of the tail above the ground at the slew centre",
            a.setup.shape.tail_base_m, "m", MACHINE)  # fmt: skip
    c.step("Z_p", _LOW, "Z_0 + z_t", "m", "heights", value=low)


def _boom_rows(c: Calculation, a: LiftAssessment, one: AboveGround, *, east: float,
               north: float, low: float) -> None:  # fmt: skip
    """A point of the straight boom's middle line, and its underside."""
    _, n = one.worst
    count = int(2.0 * a.setup.boom.length_m) + 2
    c.given("j_b", "point of the boom, counted from its foot", n, ".0", "points along the boom")
    c.given("n_b", "parts of the boom", count - 1, ".0", "points along the boom")
    c.step("u_g", "that point from the slew axis", "u_f + (r - u_f) * j_b / n_b", "m.4", PLANE)
    c.step("E_g", _EAST, "E_0 + u_g * cos(H + s)", "m.4", PLANE, value=east)
    c.step("N_g", _NORTH, "N_0 + u_g * sin(H + s)", "m.4", PLANE, value=north)
    section_given(c, a.setup)
    c.step("Z_p", _LOW, "Z_0 + z_f + (h_h - z_f) * j_b / n_b - sqrt(b_w ** 2 + b_d ** 2) / 2",
           "m", "underside of the straight boom", value=low)  # fmt: skip


def _ground_rows(c: Calculation, a: LiftAssessment, east: float, *, north: float,
                 ground_m: float) -> None:  # fmt: skip
    """The surveyed ground at the point; in an excavation its lowest bottom."""
    site, meaning = a.setup.site, "surveyed ground at that point"
    pits = [p for p in site.excavations if Polygon(p.polygon).contains(Point(east, north))]
    if not pits:
        level_rows(c, a.setup, at="g", place="the point looked at", meaning=meaning,
                   symbol="Z_g", level_m=ground_m)  # fmt: skip
        return
    pit = pits[-1]
    c.given("Z_s", "lowest spot level of the survey", min(s.level_m for s in site.levels), "m",
            "survey")  # fmt: skip
    c.given("h_p", "depth of the excavation at that point", pit.depth_m, "m", f"survey, {pit.id}")
    c.step("Z_g", meaning, "Z_s - h_p", "m", "lowest bottom of the excavation", value=ground_m)
