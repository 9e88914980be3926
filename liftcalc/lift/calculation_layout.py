"""The calculation of the leg layout: from the outriggers to base, capacity and backward stability.

Calculated are the governing check, each check at or above 80 % of its limit, and always the tipping
lines and the minimum rated capacity round the slew circle at the maximum radius of the load path.

Source: plane geometry, statics; the sources of the limits stand beside each check.
"""

import dataclasses
from collections.abc import Callable, Sequence

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.crane.sectors import ESTIMATE, NOT_RATED
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_chart import capacity_rows
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_lift import no_data_rows, worked
from liftcalc.lift.calculation_place import MACHINE, PLANE, place_section
from liftcalc.lift.calculation_plan import SURVEY, across_of, frame_rows, mat_rows
from liftcalc.lift.calculation_stability import side_section, unladen_section
from liftcalc.lift.leg_setting import ShortSetting, at_extensions
from liftcalc.lift.path import LoadPath
from liftcalc.lift.path_study import PathStudy, capacity_grid, study_path
from liftcalc.lift.setup import Setup
from liftcalc.lift.standing import leg_room
from liftcalc.placement.ground import TOUCH_M


def layout_calculation(a: LiftAssessment, checks: Sequence[Check]) -> Calculation:
    """The calculation of a leg layout sheet; *checks* are the rows that it shows."""
    setup = a.setup
    c = Calculation()
    c.section(None, "Outriggers")
    frame_rows(c, setup)
    _available_rows(c, setup)
    _line_sections(c, setup)
    shown = worked(checks)
    if any(one.id == "least-side-share" for one in shown):
        place_section(c, setup, a.path)
    gross_section(c, setup)
    for check in shown:
        if check.limit is None:
            no_data_rows(c, check)
        elif check.id in SECTIONS:
            c.section(check)
            SECTIONS[check.id](c, a, check)
    _circle_section(c, a)
    _short_section(c, a)
    return c


def _available_rows(c: Calculation, setup: Setup) -> None:
    """Extension available to each outrigger, and what is left of it."""
    for leg, room in zip(setup.machine.legs, leg_room(setup).legs, strict=True):
        name, most = room.leg, room.longest_m
        by = ", ".join(room.blocked_by)
        if most is None:
            c.note(f"Outrigger {name}", f"no extension available here: {by}", "none", SURVEY)
            continue
        if room.blocked_by:
            width = setup.mat.width_m
            c.facts(b_m=width)
            source = f"{SURVEY}: {by}, distance to keep included"
            c.facts(source, y_k_of=most + width / 2 + TOUCH_M, of=name)
            c.work("e_m_of", f"y_k{name} - b_m / 2 - {TOUCH_M:g}", value=most, of=name)
        else:
            c.facts(f"{MACHINE}: full extension", e_m_of=leg.extension_max_m, of=name)
        c.steps("d_e_of", of=name)


def _line_sections(c: Calculation, setup: Setup) -> None:
    """Each tipping line: its length, and the slew centre's distance by its two outriggers."""
    base = setup.base
    c.section(None, "Tipping lines")
    for (first, second), offset in zip(base.edge_legs, base.offsets_m, strict=True):
        line = f"{first}-{second}"
        x = (f"x_{first}", f"x_{second}")
        y = (across_of(first), across_of(second))
        c.step(f"l_{first}{second}", f"length of tipping line {line}",
               f"sqrt(({x[1]} - {x[0]})**2 + ({y[1]} - ({y[0]}))**2)", "m", PLANE)  # fmt: skip
        c.step(f"b_{first}{second}", f"slew centre inside tipping line {line}",
               f"({x[0]} * ({y[1]}) - {x[1]} * ({y[0]})) / l_{first}{second}", "m",
               "distance of a point from a line through two points",
               value=-float(offset))  # fmt: skip


def _centre(c: Calculation, a: LiftAssessment, check: Check) -> None:
    base = a.setup.base
    names = ["".join(ends) for ends in base.edge_legs]
    c.work("b_n", f"min({', '.join(f'b_{n}' for n in names)})", value=-float(base.offsets_m.max()))
    c.ends(check, "b_n", "b_min")


def _data(c: Calculation, a: LiftAssessment, check: Check) -> None:
    capacity = a.study.capacity
    c.facts(n_s=len(a.path), n_0=int((capacity.source >= ESTIMATE).sum()))
    c.steps("p_0", p_0=check.value)
    c.facts(check.reference, p_max=check.limit or 0.0)
    if check.condition:
        c.facts(n_c=int(capacity.on_condition.sum()))
        c.steps("p_c")
    c.reaches(check, "p_0", "p_max")


def _mats_apart(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Overlap of the pair of mats that lies nearest: all mats are turned alike."""
    setup, mat = a.setup, a.setup.mat
    place = setup.leg_xy_m

    def common(pair: tuple[int, int]) -> tuple[float, float]:
        apart = np.abs(place[pair[0]] - place[pair[1]])
        left = np.array([mat.length_m, mat.width_m]) - apart
        return float(np.prod(np.maximum(left, 0.0))), float(left.min())

    pairs = [(i, j) for i in range(4) for j in range(i + 1, 4)]
    first, second = (LEG_NAMES[k] for k in max(pairs, key=common))
    mat_rows(c, mat)
    c.work("d_l", f"abs(x_{first} - x_{second})", detail=f"{first} and {second}")
    c.work("d_b", f"abs({across_of(first)} - ({across_of(second)}))")
    c.steps("A_b", A_b=check.value)
    c.ends(check, "A_b", "A_max")


def _stock(c: Calculation, a: LiftAssessment, check: Check) -> None:
    c.facts(n_m=len(a.place.mats), n_k=a.setup.mat.quantity)
    c.steps("n_0m", n_0m=check.value)
    c.ends(check, "n_0m", "n_max")


SECTIONS: dict[str, Callable[[Calculation, LiftAssessment, Check], None]] = {
    "mats-apart": _mats_apart, "mats-on-shelf": _stock, "slew-centre-inside": _centre,
    "layout-capacity-data": _data, "backward-stability": unladen_section,
    "least-side-share": side_section,
}  # fmt: skip
"""What works a check, by its id."""


def _one_place(setup: Setup, slew_deg: float, radius_m: float, level_m: float) -> PathStudy:
    """Study of one slew and radius; its capacity as round the circle, whatever the load."""
    path = LoadPath(slew_deg=np.array([slew_deg]), radius_m=np.array([radius_m]),
                    level_m=np.array([level_m]), stage=("slew",),
                    distance_m=np.zeros(1))  # fmt: skip
    grid = capacity_grid(setup, slew_deg, radius_m)
    names = ("capacity_t", "source", "chart", "capped_by", "margin_m", "required_margin_m", "stability_t")
    flat = {name: getattr(grid, name)[:, 0] for name in names}
    one = dataclasses.replace(grid, layout="pairs", **flat)
    return dataclasses.replace(study_path(setup, path), capacity=one)


def _here(c: Calculation, setup: Setup, slew_deg: float, radius_m: float, *, source: str, where: str = "") -> None:
    c.facts(source, s=slew_deg % 360.0, detail=where)
    c.facts(source, r=radius_m)
    c.facts(L=setup.boom.length_m)


def _circle_section(c: Calculation, a: LiftAssessment) -> None:
    """Minimum rated capacity of every whole degree of slew at the maximum radius of the path."""
    setup, circle = a.setup, a.circle
    n = int(np.argmax(circle.radius_m))
    capacity = np.where(circle.source[:, n] < ESTIMATE, circle.capacity_t[:, n], -np.inf)
    k = int(np.argmin(capacity))
    slew, radius = float(circle.slew_deg[k]), float(circle.radius_m[n])
    c.section(None, "Minimum rated capacity round the slew circle, maximum radius of the path")
    if not np.isfinite(capacity[k]):
        missing = int((circle.source[:, n] >= ESTIMATE).sum())
        c.note("Slews without capacity data", f"{missing} of {circle.slew_deg.size}, one is "
               f"{amount(slew, 'slew_deg')}", "no capacity data there", "charts")  # fmt: skip
    if circle.source[k, n] == NOT_RATED:
        return
    _here(c, setup, slew, radius, source="slew circle, every whole degree; the minimum counts")
    capacity_rows(c, setup, _one_place(setup, slew, radius, a.setup.lift.carry_level_m), 0)


def _short_section(c: Calculation, a: LiftAssessment) -> None:
    """Rated capacity with the outrigger set short that costs most, at its worst step."""
    setup, path = a.setup, a.path
    single = [one for one in a.settings[1:] if len(one.outriggers) == 1]
    worst: ShortSetting = max(single, key=lambda one: one.used_ratio)
    name, extension = worst.outriggers[0], worst.extension_m[0]
    c.section(None, f"Rated capacity with outrigger {name} set short")
    if extension == worst.planned_m[0]:
        c.note(f"Outrigger {name}", "fully in as planned", "not set short", MACHINE)
        return
    planned = dict(zip(LEG_NAMES, setup.lift.legs.as_tuple(), strict=True))
    moved = at_extensions(setup, tuple((planned | {name: extension}).values()))
    c.facts(e_of=extension, of=name, detail="set short")
    if not np.isfinite(worst.used_ratio):
        c.note(worst.where, worst.source, "not rated", "charts")
        return
    step = worst.step
    slew, radius = float(path.slew_deg[step]), float(path.radius_m[step])
    _here(c, setup, slew, radius, source="load path, the worst step", where=worst.where)
    capacity_rows(c, moved, study_path(moved, path), step)
    c.steps("p_u", p_u=100 * worst.used_ratio)
