"""Tables and numbers of a tandem lift.

Sources: those of :mod:`liftcalc.rigging.tandem`.
"""

import itertools

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.text import Show
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.tandem import TandemLift
from liftcalc.lift.lift_class import CriticalLift, critical_lift
from liftcalc.lift.rigging_checks import rigging_item_rows
from liftcalc.lift.tandem import TandemAssessment, share_off_t
from liftcalc.lift.tandem_checks import common_checks
from liftcalc.rigging.tandem import several_crane_capacity_t

Row = tuple[str, ...]


def share_rows(a: TandemAssessment, show: Show) -> list[Row]:
    """Share of each machine: level and plumb, maximum, minimum, growth; line force, pull, angle."""
    shares = a.shares
    return [
        (f"Machine {k + 1}: {m.setup.machine.name}",
         *(show(float(each[k]), "mass_t")
           for each in (shares.nominal.share_t, shares.max_share_t, shares.min_share_t)),
         f"{float(shares.growth_ratio[k]):.3f}",
         show(float(shares.max_line_force_kN[k]), "force_kN"),
         show(float(shares.max_side_pull_kN), "force_kN"),
         show(float(shares.max_out_of_plumb_deg[k]), "angle_deg"))
        for k, m in enumerate(a.plumb)
    ]  # fmt: skip


def _derated_t(a: TandemAssessment, machine: int) -> float:
    """Rated capacity where it governs, derated; NaN where nothing is rated: an estimate is not."""
    study = a.pulled[machine].study
    step, capacity = study.governing_step, study.capacity
    rated = capacity.capacity_t[step] if capacity.source[step] < ESTIMATE else np.nan
    return float(rated) * a.tandem.machines[machine].derating_factor


def use_rows(a: TandemAssessment, show: Show) -> list[Row]:
    """Each machine where it governs: gross share, capacity, derated, and a published margin."""
    rows: list[Row] = []
    for k, m in enumerate(a.pulled):
        study, gross = m.study, m.setup.gross_t
        step, derated = study.governing_step, _derated_t(a, k)
        factor = a.tandem.machines[k].derating_factor
        margin = several_crane_capacity_t(float(a.shares.nominal.share_t[k]), 2)
        capacity = ("not rated", f"{factor:g}", "–", "–")
        if not np.isnan(derated):
            rated = show(float(study.capacity.capacity_t[step]), "mass_t")
            used = f"{100 * gross / derated:.1f} %"
            capacity = (rated, f"{factor:g}", show(derated, "mass_t"), used)
        rows.append(
            (
                f"Machine {k + 1}", show(gross, "mass_t"),
                show(float(study.path.radius_m[step]), "length_m"), *capacity,
                show(float(margin), "mass_t"),
            )
        )  # fmt: skip
    return rows


def rigging_rows(a: TandemAssessment, show: Show) -> list[Row]:
    """Every item of the rigging on each machine, as on a lift check sheet."""
    return [(f"Machine {k + 1}", *row) for k, m in enumerate(a.plumb) for row in rigging_item_rows(m.rigging, show)]


def tandem_class(a: TandemAssessment) -> CriticalLift:
    """Why the lift is critical: more than one crane, and what the more used machine adds."""
    each = [
        critical_lift(
            m.setup.gross_t, _derated_t(a, k), share_ratio=a.job.rules.critical_share_percent / 100,
            share_owner=a.job.rules.critical_share_owner, cranes=len(a.pulled), persons=False,
            out_of_sight=False, crosses_line=False, stated=(),
        )
        for k, m in enumerate(a.pulled)
    ]  # fmt: skip
    return max(each, key=lambda c: np.inf if np.isnan(c.used_ratio) else c.used_ratio)


def share_curve(tandem: TandemLift, *, points: int = 41) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Shares over the difference of hook levels, within the stated error.

    Returns differences (N,), shares with plumb lines, and least and greatest shares for lines out
    of plumb and a centre of gravity off by their stated errors, each of shape (N, 2).
    """
    level = np.linspace(-tandem.level_error_m, tandem.level_error_m, points)

    corners = [
        share_off_t(tandem, turn=turn, level_m=turn * level, lean=lean, off=off)
        for turn, lean, off in itertools.product((1, -1), (-1.0, 1.0), (-1.0, 1.0))
    ]
    plumb = share_off_t(tandem, turn=1, level_m=level, lean=0.0, off=0.0)
    return level, plumb, np.min(corners, axis=0), np.max(corners, axis=0)


def tandem_rows(a: TandemAssessment, show: Show) -> list[Row]:
    """What is stated of the tandem lift."""
    t = a.tandem
    why = "; ".join(name for name, applies, _ in tandem_class(a).triggers if applies)
    machines = [(f"Machine {k + 1}", m) for k, m in enumerate(t.machines)]
    return [
        ("Load", f"{show(t.load.mass_t, 'mass_t')}, {t.load.mass_basis}"),
        *([("Sail less than a round body's", t.load.sail_reason)] if t.load.sail_reason else []),
        ("Centre of gravity to lifting point 1", show(t.lug_distance_m[0], "length_m")),
        ("Centre of gravity to lifting point 2", show(t.lug_distance_m[1], "length_m")),
        ("Lifting point 1 above the centre of gravity", show(t.lug_above_cg_m[0], "length_m")),
        ("Lifting point 2 above the centre of gravity", show(t.lug_above_cg_m[1], "length_m")),
        ("Error of mass, more or less", f"{t.load.contingency_percent:g} %"),
        ("Error of hook level", show(t.level_error_m, "length_m")),
        ("Error of plumb", show(t.out_of_plumb_error_deg, "angle_deg")),
        ("Error of the centre of gravity", show(t.cg_error_m, "length_m")),
        *((name, f"{m.machine}, derated to {100 * m.derating_factor:g} %") for name, m in machines),
        *((f"{name}, further weight on the hook",
           f"{d.name}, {show(d.mass_t, 'mass_t')} ({d.reference})")
          for name, m in machines for d in m.deductions),
        ("Derating", t.derating_reference),
        ("Source", t.provenance.words),
        ("Critical lift", why),
    ]  # fmt: skip


def common_rows(a: TandemAssessment, show: Show) -> list[Row]:
    return [
        (
            c.title, c.where, show(c.value, c.quantity),
            f"{'≥' if c.sense == 'min' else '≤'} {show(c.limit, c.quantity)}", c.words,
        )
        for c in common_checks(a)
    ]  # fmt: skip
