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
    load_reach_steps,
    pendulum_steps,
    section_given,
)
from liftcalc.lift.calculation_place import at_step, boom_rows, level_row
from liftcalc.lift.calculation_plan import level_rows
from liftcalc.lift.setup import to_site_m


def above_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """The body's level at its worst point, less the ground there."""
    setup, path, boom = a.setup, a.path, a.study.boom
    one = next(b for b in above_ground(setup, path, boom) if b.id == check.id)
    step, n = one.worst
    at_step(c, setup, path, step)
    boom_rows(c, setup)
    level_row(c, setup, path, step)
    c.steps("x_h y_h")
    point = np.broadcast_to(one.points_m, (len(path), *one.points_m.shape[1:]))[step, n]
    east, north = to_site_m(point, setup.lift).tolist()
    low = float(np.broadcast_to(one.low_m, one.above_m.shape)[step, n])
    rows = {"load": _load_rows, "tail": _tail_rows, "boom": _boom_rows}[check.id.partition("-")[0]]
    rows(c, a, one, east=east, north=north, low=low)
    ground = low - float(one.above_m[step, n])
    _ground_rows(c, a, east, north=north, ground_m=ground)
    c.steps("k_g", k_g=low - ground)
    source = a.setup.rules.clearance.reference if check.id.startswith("boom") else ""
    c.ends(check, "k_g", "k_q", source, known=one.limit_m)


def _load_rows(c: Calculation, a: LiftAssessment, one: AboveGround, *, east: float,
               north: float, low: float) -> None:  # fmt: skip
    """The load's lowest corner anywhere within its reach; hoisted and lowered, its underside."""
    step, n = one.worst
    setup, path = a.setup, a.path
    if path.stage[step] in ("hoist", "lower"):
        c.work("E_g", "x_h", "below the hook", value=east)
        c.work("N_g", "y_h", "below the hook", value=north)
        c.work("Z_p", "Z", "planned underside over its own place", value=low)
        return
    c.steps("l_p")
    pendulum_steps(c, a)
    load_reach_steps(c, setup)
    dip_given(c, setup)
    share = 0.0 if n == 0 else 0.5 if n <= 16 else 1.0
    turn = ((n - 1) % 16) * 22.5 if n else 0.0
    c.facts(f_g=share, a_g=turn)
    c.steps("d_g E_g N_g", E_g=east, N_g=north)
    corner_drop_steps(c, above="l_p")
    c.steps("Z_p", Z_p=low)


def _tail_rows(c: Calculation, a: LiftAssessment, one: AboveGround, *, east: float,
               north: float, low: float) -> None:  # fmt: skip
    """A point of the tail's outline, and its underside."""
    _, n = one.worst
    outline = np.asarray(a.setup.shape.tail_outline_m)
    behind = np.concatenate([share * outline[outline[:, 0] < 0] for share in (1.0, 0.75, 0.5)])
    along, across = behind[n].tolist()
    c.facts(u_t=along, y_t=across)
    c.work("E_g", "E_0 + u_t * cos(H + s) - y_t * sin(H + s)", value=east)
    c.work("N_g", "N_0 + u_t * sin(H + s) + y_t * cos(H + s)", value=north)
    c.facts(z_t=a.setup.shape.tail_base_m)
    c.work("Z_p", "Z_0 + z_t", "heights", value=low)


def _boom_rows(c: Calculation, a: LiftAssessment, one: AboveGround, *, east: float,
               north: float, low: float) -> None:  # fmt: skip
    """A point of the straight boom's middle line, and its underside."""
    _, n = one.worst
    count = int(2.0 * a.setup.boom.length_m) + 2
    c.facts(j_b=n, n_b=count - 1)
    c.steps("u_g")
    c.work("E_g", "E_0 + u_g * cos(H + s)", value=east)
    c.work("N_g", "N_0 + u_g * sin(H + s)", value=north)
    section_given(c, a.setup)
    below = "Z_0 + z_f + (h_h - z_f) * j_b / n_b - sqrt(b_w ** 2 + b_d ** 2) / 2"
    c.work("Z_p", below, "underside of the straight boom", value=low)


def _ground_rows(c: Calculation, a: LiftAssessment, east: float, *, north: float,
                 ground_m: float) -> None:  # fmt: skip
    """The surveyed ground at the point; in an excavation its lowest bottom."""
    site = a.setup.site
    pits = [p for p in site.excavations if Polygon(p.polygon).contains(Point(east, north))]
    if not pits:
        level_rows(c, a.setup, "Z_g", at="g", place="the point looked at", level_m=ground_m)
        return
    pit = pits[-1]
    c.facts(Z_s=min(s.level_m for s in site.levels))
    c.facts(f"survey, {pit.id}", h_p=pit.depth_m)
    c.steps("Z_g", Z_g=ground_m)
