"""Stability: moments about the governing tipping line, tipping load and rule; shares of the weight.

The shares are those of backward stability unladen, and of the least loaded side: a rigid carrier on four equal springs
that cannot pull. Each outrigger in contact carries 1/n + a (x - X) + b (y - Y) of the weight, where X, Y is the centre
of those in contact and a, b follow from where the weight acts.

Source: statics; those of :mod:`liftcalc.crane.stability`; :mod:`liftcalc.reactions.carrier`.
"""

from collections.abc import Mapping

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES, LEG_SIDE, BasePolygon
from liftcalc.crane.masses import NO_ADVERSE_TERMS
from liftcalc.crane.stability import tipping_load
from liftcalc.lift import calculation_place
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import GRAVITY, Calculation, printed
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, PLANE, STATICS, at_step, boom_rows
from liftcalc.lift.calculation_plan import across_of
from liftcalc.lift.calculation_wind import force_rows, gust_rows
from liftcalc.lift.capacity_checks import side_percent, unladen_percent
from liftcalc.lift.path_study import PathStudy, adverse_terms
from liftcalc.lift.setup import Setup, boom_at
from liftcalc.lift.wind_checks import wind_terms
from liftcalc.reactions.moments import LineMoments, acting_point, leg_shares, line_moments


def machine_rows(c: Calculation, setup: Setup) -> None:
    """Masses of the machine, and its boom at the radius in reach."""
    calculation_place.masses_rows(c, setup)
    boom_rows(c, setup)


def line_rows(c: Calculation, setup: Setup, base: BasePolygon, line: int, *,
              extensions: Mapping[str, float], source: str, words: str) -> None:  # fmt: skip
    """A tipping line from its two outriggers: unit normal, distance, and slew against it."""
    ends = base.edge_legs[line]
    x_of = {str(leg.name): leg.x_m for leg in setup.machine.legs}
    for letter, name in zip("ab", ends, strict=True):
        across = extensions[name] if name.endswith("L") else -extensions[name]
        c.facts(detail=f"{name} ({words})", **{f"x_line_{letter}": x_of[name]})
        c.facts(source, detail=name, **{f"y_line_{letter}": across})
    c.steps("l_t n_x n_y b kappa", b=-float(base.offsets_m[line]))


def _lines_note(c: Calculation, setup: Setup, moments: LineMoments, line: int, dynamic_factor: float = 1.0) -> None:
    """Tipping load about each line: the minimum governs."""
    holding = (moments.fixed_moment_kNm[0] - moments.wind_moment_kNm[0]) / G_M_S2
    arm = moments.load_arm_m[0] * dynamic_factor
    text = ", ".join(
        f"{name} {printed(max(h, 0.0) / a, 't')} t" if a > 0 else f"{name}: load inside the line"
        for name, h, a in zip(setup.base.line_names, holding, arm, strict=True)
    )
    c.note("Tipping load about each line", text, f"{setup.base.line_names[line]} governs",
           "statics, calculated below for the line that governs")  # fmt: skip


def stability_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Gross load against the load that the rule leaves on the actual base."""
    step = int(np.argmin(a.study.stability_t))
    at_step(c, a.setup, a.path, step)
    stability_rows(c, a.setup, a.study, step)
    c.reaches(check, "Q", "P")


def tilt_rows(c: Calculation, setup: Setup) -> None:
    """Out of level that is counted: what is permitted, or what is stated where that is more."""
    c.facts(t_p=setup.tilt_any_percent)


def moment_rows(c: Calculation, setup: Setup, line: int, *, level: bool = False,
                known: tuple[float, float] | None = None) -> None:  # fmt: skip
    """Holding moment about one tipping line and the arm of the load beyond it.

    *level*: without what the crane may be out of level. *known*: moment [tm] and arm [m] that the package used.
    """
    holding, arm = known or (None, None)
    line_rows(c, setup, setup.base, line, extensions=dict(setup.lift.legs), source=LIFT_LIST,
              words="governing tipping line")  # fmt: skip
    if not level:
        tilt_rows(c, setup)
    back = {z: "" if level else f" - {z} * t_p / 100" for z in ("z_c", "z_s", "z_B")}
    moments = (f"m_c * (n_x * x_c + n_y * y_c + b{back['z_c']})"
               f" + m_s * (kappa * u_s + b{back['z_s']})"
               f" + m_B * (kappa * u_B + b{back['z_B']})")  # fmt: skip
    c.work("M_h", moments, value=holding)
    beyond = "- b - kappa * r" if level else "h_h * t_p / 100 - b - kappa * r"
    c.work("a_l", beyond, "" if level else f"{PLANE}; out of level moves the head", value=arm)


def stability_rows(c: Calculation, setup: Setup, study: PathStudy, step: int, *, level: bool = False) -> str:
    """Stability-limited load by the rule of the machine, at the slew and radius in reach.

    *level*: as an estimate of capacity takes it, without what the crane may be out of level.
    Returns the symbol of the load.
    """
    machine_rows(c, setup)
    slew, boom = study.path.slew_deg[step : step + 1], boom_at(study.boom, [step])
    adverse = NO_ADVERSE_TERMS if level else adverse_terms(setup, wind=False, dynamic=False)
    found = tipping_load(slew, boom, base=setup.base, masses=setup.masses, adverse=adverse, layout="pairs")
    about = line_moments(slew, boom, base=setup.base, masses=setup.masses, adverse=adverse, layout="pairs")
    line = max(int(found.line[0]), 0)
    _lines_note(c, setup, about, line)
    known = float(about.fixed_moment_kNm[0, line]) / G_M_S2, float(about.load_arm_m[0, line])
    moment_rows(c, setup, line, level=level, known=known)
    c.steps("T", T=float(found.tipping_t[0]))
    key = "P_e" if level else "P"
    value = float((study.capacity.stability_t if level else study.stability_t)[step])
    if setup.machine.stability_rule == "test_load":
        c.steps("F_B")
        rule = "ISO 4305: test load 1.25 P + 0.1 F_B (from memory)"
        c.work(key, "(T - 0.1 * F_B) / 1.25", rule, value=value)
    else:
        c.facts(f_t=setup.machine.tipping_fraction)
        c.steps(key, **{key: value})
    return key


def tipping_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Gross load against the load that tips the crane in the planned wind, hoisted."""
    setup, study = a.setup, a.study
    step = int(np.argmin(study.tipping_t))
    at_step(c, setup, study.path, step)
    machine_rows(c, setup)
    line = setup.base.line_names.index(study.tipping_line[step])
    boom = boom_at(study.boom, [step])
    windy = adverse_terms(setup, wind=True, dynamic=True, boom=boom)
    about = line_moments(study.path.slew_deg[step : step + 1], boom, base=setup.base,
                         masses=setup.masses, adverse=windy, layout="pairs")  # fmt: skip
    _lines_note(c, setup, about, line, windy.dynamic_factor)
    moment_rows(c, setup, line)
    terms = wind_terms(setup, boom)
    gust_rows(c, setup, float(study.boom.head_z_m[step]))
    force_rows(c, setup, terms)
    c.given(*GRAVITY)
    c.steps("M_w T_w", T_w=float(study.tipping_t[step]))
    c.reaches(check, "Q", "T_w")


_SIDES = {"front": ("FL", "FR"), "rear": ("RR", "RL"), "left": ("FL", "RL"), "right": ("FR", "RR")}
"""Outriggers of each side, in the order of :func:`liftcalc.reactions.moments.side_shares`."""


def _weight_rows(c: Calculation, setup: Setup, tilt: int, *, load: bool) -> None:
    """Weight and where it acts on the base, with the tilt in the worst direction, of eight."""
    machine_rows(c, setup)
    tilt_rows(c, setup)
    c.facts(theta=45.0 * tilt)
    mass, moment = "m_c + m_s + m_B", "m_s * u_s + m_B * u_B"
    height = "m_c * z_c + m_s * z_s + m_B * z_B"
    if load:
        mass, moment, height = f"{mass} + Q", f"{moment} + Q * r", f"{height} + Q * h_h"
    c.work("M_g", mass)
    c.work("h_w", f"({height}) / M_g")
    c.steps("k_w")
    c.work("X_w", f"(m_c * x_c + ({moment}) * cos(s)) / M_g + k_w * cos(theta)")
    c.work("Y_w", f"(m_c * y_c + ({moment}) * sin(s)) / M_g + k_w * sin(theta)")


def _share_rows(c: Calculation, setup: Setup, shares: np.ndarray) -> None:
    """Share of the weight on each outrigger; NaN where the weight acts outside the base."""
    down = [k for k in range(4) if shares[k] > 1e-12]
    if len(down) < 3:
        c.note("Outriggers that carry", ", ".join(LEG_NAMES[k] for k in down) or "none",
               "the weight acts on or outside a tipping line", STATICS)  # fmt: skip
        for k, name in enumerate(LEG_NAMES):
            c.facts(STATICS, f_of=100 * float(np.nan_to_num(shares[k])), of=name)
        return
    n, names = len(down), [LEG_NAMES[k] for k in down]
    if n == 3:
        c.note("Outriggers that carry", ", ".join(names), "the other is clear of the ground", "supports cannot pull")
    x = [f"x_{name}" for name in names]
    y = [across_of(name) for name in names]
    c.work("X_n", f"({' + '.join(x)}) / {n}")
    across = "".join(f" {'+' if LEG_SIDE[k] > 0 else '-'} e_{LEG_NAMES[k]}" for k in down)
    c.work("Y_n", f"({across.removeprefix(' + ')}) / {n}")
    dx, dy = [f"({one} - X_n)" for one in x], [f"({one} - Y_n)" for one in y]
    c.work("S_x", " + ".join(f"{a}**2" for a in dx))
    c.work("S_y", " + ".join(f"{b}**2" for b in dy))
    c.work("S_xy", " + ".join(f"{a} * {b}" for a, b in zip(dx, dy, strict=True)))
    c.steps("g_x_share g_y_share")
    for k, name in enumerate(LEG_NAMES):
        if k not in down:
            c.facts("clear of the ground", f_of=0.0, of=name)
            continue
        share = f"100 * (1 / {n} + g_x * (x_{name} - X_n) + g_y * ({across_of(name)} - Y_n))"
        c.work("f_of", share, value=100 * float(shares[k]), of=name)


def unladen_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Share of the weight under the boom without load, the boom at its minimum radius."""
    setup = a.setup
    boom, share = unladen_percent(setup)
    k = int(np.argmax(share.min(axis=1) <= share.min() + 1e-9))
    turn, slew = int(np.argmin(share[k])), float(k)
    tilt_x, tilt_y = setup.tilts_deg()[turn].tolist()
    c.facts(f"{MACHINE}: minimum radius of the boom", r=float(boom.radius_m[0]))
    c.facts(s=slew)
    _weight_rows(c, setup, turn, load=False)
    _, x, y = acting_point([slew], boom, setup.masses, tilt_x_deg=tilt_x, tilt_y_deg=tilt_y)
    _share_rows(c, setup, leg_shares(x, y, base=setup.base)[0, 0])
    legs = setup.base.leg_xy_m
    ahead = legs @ [np.cos(np.radians(slew)), np.sin(np.radians(slew))] > 1e-9
    names = [name for name, under in zip(LEG_NAMES, ahead, strict=True) if under]
    total = " + ".join(f"f_{name}" for name in names)
    c.work("f_B", total, value=check.value, detail=", ".join(names))
    c.ends(check, "f_B", "f_min")


def side_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Share of the weight on the least loaded side along the load path, load on the hook."""
    setup, study, path = a.setup, a.study, a.path
    sides = side_percent(setup, study)
    step = int(np.argmin(sides.min(axis=-1).min(axis=0)))
    turn, side = np.unravel_index(int(np.argmin(sides[:, step])), sides[:, step].shape)
    at_step(c, setup, path, step)
    tilt_x, tilt_y = setup.tilts_deg()[turn].tolist()
    _weight_rows(c, setup, int(turn), load=True)
    _, x, y = acting_point(path.slew_deg, study.boom, setup.masses, load_t=setup.gross_t,
                           tilt_x_deg=tilt_x, tilt_y_deg=tilt_y, layout="pairs")  # fmt: skip
    _share_rows(c, setup, leg_shares(x[step], y[step], base=setup.base))
    name = list(_SIDES)[int(side)]
    c.work("f_S", " + ".join(f"f_{leg}" for leg in _SIDES[name]), value=check.value, detail=name)
    c.ends(check, "f_S", "f_Sm")
