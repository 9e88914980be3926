"""Stability about the governing tipping line: moments of all masses, tipping load and the rule.

Contents: :func:`stability_section`, :func:`tipping_section`, :func:`stability_rows`,
:func:`line_rows`, :func:`machine_rows`, :func:`boom_at`.

Source: statics; those of :mod:`liftcalc.crane.stability`.
"""

import dataclasses
from collections.abc import Mapping

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import BasePolygon
from liftcalc.crane.masses import NO_ADVERSE_TERMS, BoomState
from liftcalc.crane.stability import tipping_load
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import GRAVITY, Calculation, printed
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, at_step, boom_rows, masses_rows
from liftcalc.lift.calculation_wind import force_rows, gust_rows
from liftcalc.lift.path_study import PathStudy, adverse_terms
from liftcalc.lift.setup import Setup
from liftcalc.lift.wind_checks import wind_terms
from liftcalc.reactions.moments import LineMoments, line_moments


def boom_at(study: PathStudy, step: int) -> BoomState:
    """The boom at one step, its arrays of shape (1,)."""
    each = ("radius_m", "u_m", "z_m", "head_z_m", "angle_deg")
    one = {name: getattr(study.boom, name)[step : step + 1] for name in each}
    return dataclasses.replace(study.boom, **one)


def machine_rows(calc: Calculation, setup: Setup) -> None:
    """Masses of the machine, and its boom at the radius in reach."""
    masses_rows(calc, setup)
    boom_rows(calc, setup)


def line_rows(calc: Calculation, setup: Setup, base: BasePolygon, line: int, *,
              extensions: Mapping[str, float], source: str, words: str) -> None:  # fmt: skip
    """A tipping line from its two outriggers: unit normal, distance, and slew against it."""
    ends = base.edge_legs[line]
    x_of = {str(leg.name): leg.x_m for leg in setup.machine.legs}
    for letter, name in zip(("a", "b"), ends, strict=True):
        which = "first" if letter == "a" else "second"
        of = f"of the {which} outrigger of the tipping line"
        side = 1 if name.endswith("L") else -1
        calc.given(f"x_{letter}", f"place {of}, forward", x_of[name], "m", MACHINE,
                   detail=f"{name} ({words})")  # fmt: skip
        calc.given(f"y_{letter}", f"place {of}, to the left", side * extensions[name], "m", source,
                   detail=name)  # fmt: skip
    calc.step("l_t", "length of the tipping line", "sqrt((x_b - x_a)**2 + (y_b - y_a)**2)", "m",
              "plane geometry")  # fmt: skip
    normal = "inward normal of the tipping line"
    calc.step("n_x", f"{normal}, forward", "(y_a - y_b) / l_t", ".6", "plane geometry")
    calc.step("n_y", f"{normal}, to the left", "(x_b - x_a) / l_t", ".6", "plane geometry")
    calc.step("b", "slew centre inside the tipping line", "-(n_x * x_a + n_y * y_a)", "m",
              "plane geometry", value=-float(base.offsets_m[line]))  # fmt: skip
    calc.step("kappa", "share of the radius that counts toward the line, inward positive",
              "n_x * cos(s) + n_y * sin(s)", ".6", "plane geometry")  # fmt: skip


def _lines_note(calc: Calculation, setup: Setup, moments: LineMoments, line: int,
                dynamic_factor: float = 1.0) -> None:  # fmt: skip
    """Tipping load about each line: the minimum governs."""
    holding = (moments.fixed_moment_kNm[0] - moments.wind_moment_kNm[0]) / G_M_S2
    arm = moments.load_arm_m[0] * dynamic_factor
    text = ", ".join(
        f"{name} {printed(max(h, 0.0) / a, 't')} t" if a > 0 else f"{name}: load inside the line"
        for name, h, a in zip(setup.base.line_names, holding, arm, strict=True)
    )
    calc.note("Tipping load about each line", text, f"{setup.base.line_names[line]} governs",
              "statics, calculated below for the line that governs")  # fmt: skip


def stability_section(calc: Calculation, lift: LiftAssessment, check: Check) -> None:
    """Gross load against the load that the rule leaves on the actual base."""
    step = int(np.argmin(lift.study.stability_t))
    calc.section(check)
    at_step(calc, lift.setup, lift.path, step)
    stability_rows(calc, lift.setup, lift.study, step)
    calc.reaches(check, "Q", "P")


def tilt_rows(calc: Calculation, setup: Setup) -> None:
    """Out of level that is counted: what is permitted, or what is stated where that is more."""
    calc.given("t_p", "out of level counted, toward the worst side", setup.tilt_any_percent, "%",
               "permitted on the site card, or stated where that is more")  # fmt: skip


def moment_rows(calc: Calculation, setup: Setup, line: int, *, level: bool = False,
                known: tuple[float, float] | None = None) -> None:  # fmt: skip
    """Holding moment about one tipping line and the arm of the load beyond it.

    *level*: without what the crane may be out of level. *known*: moment [tm] and arm [m] that the
    package used.
    """
    holding, arm = known or (None, None)
    line_rows(calc, setup, setup.base, line, extensions=dict(setup.lift.legs), source=LIFT_LIST,
              words="governing tipping line")  # fmt: skip
    if not level:
        tilt_rows(calc, setup)
    back = {z: "" if level else f" - {z} * t_p / 100" for z in ("z_c", "z_s", "z_B")}
    calc.step("M_h", "holding moment about the tipping line",
              f"m_c * (n_x * x_c + n_y * y_c + b{back['z_c']})"
              f" + m_s * (kappa * u_s + b{back['z_s']})" f" + m_B * (kappa * u_B + b{back['z_B']})",
              "tm", "moments of carrier, superstructure with counterweight, and boom",
              value=holding)  # fmt: skip
    calc.step("a_l", "arm of the load beyond the tipping line",
              f"{'' if level else 'h_h * t_p / 100'} - b - kappa * r".removeprefix(" "), "m",
              "plane geometry" + ("" if level else "; out of level moves the head"),
              value=arm)  # fmt: skip


def stability_rows(calc: Calculation, setup: Setup, study: PathStudy, step: int, *,
                   level: bool = False) -> str:  # fmt: skip
    """Stability-limited load by the rule of the machine, at the slew and radius in reach.

    *level*: as an estimate of capacity takes it, without what the crane may be out of level.
    Returns the symbol of the load.
    """
    machine_rows(calc, setup)
    slew, boom = study.path.slew_deg[step : step + 1], boom_at(study, step)
    adverse = NO_ADVERSE_TERMS if level else adverse_terms(setup, wind=False, dynamic=False)
    found = tipping_load(
        slew, boom, base=setup.base, masses=setup.masses, adverse=adverse, layout="pairs"
    )
    about = line_moments(
        slew, boom, base=setup.base, masses=setup.masses, adverse=adverse, layout="pairs"
    )
    line = max(int(found.line[0]), 0)
    _lines_note(calc, setup, about, line)
    known = float(about.fixed_moment_kNm[0, line]) / G_M_S2, float(about.load_arm_m[0, line])
    moment_rows(calc, setup, line, level=level, known=known)
    calc.step("T", "tipping load", "M_h / a_l", "t", "moments in balance",
              value=float(found.tipping_t[0]))  # fmt: skip
    name, meaning = ("P_e", "stability-limited load, level") if level else (
        "P", "stability-limited load"
    )  # fmt: skip
    value = float((study.capacity.stability_t if level else study.stability_t)[step])
    if setup.machine.stability_rule == "test_load":
        calc.step("F_B", "boom mass reduced to its head", "m_B * x_B / L", "t", "statics")
        calc.step(name, meaning, "(T - 0.1 * F_B) / 1.25", "t",
                  "ISO 4305: test load 1.25 P + 0.1 F_B (from memory)", value=value)  # fmt: skip
    else:
        calc.given("f_t", "share of the tipping load that may be rated",
                   setup.machine.tipping_fraction, "", MACHINE)  # fmt: skip
        calc.step(name, meaning, "f_t * T", "t", "ASME B30.5 / SAE J765 (second-hand)", value=value)
    return name


def tipping_section(calc: Calculation, lift: LiftAssessment, check: Check) -> None:
    """Gross load against the load that tips the crane in the planned wind, hoisted."""
    setup, study = lift.setup, lift.study
    step = int(np.argmin(study.tipping_t))
    calc.section(check)
    at_step(calc, setup, study.path, step)
    machine_rows(calc, setup)
    line = setup.base.line_names.index(study.tipping_line[step])
    boom = boom_at(study, step)
    windy = adverse_terms(setup, wind=True, dynamic=True, boom=boom)
    about = line_moments(study.path.slew_deg[step : step + 1], boom, base=setup.base,
                         masses=setup.masses, adverse=windy, layout="pairs")  # fmt: skip
    _lines_note(calc, setup, about, line, windy.dynamic_factor)
    moment_rows(calc, setup, line)
    terms = wind_terms(setup, boom)
    gust_rows(calc, setup, float(study.boom.head_z_m[step]))
    force_rows(calc, setup, terms)
    calc.given(*GRAVITY)
    calc.step("M_w", "moment of the wind about the tipping line",
              "(F_b * z_w + F_u * z_m + F_l * h_h) / g", "tm",
              "wind square on the boom, toward the line")  # fmt: skip
    calc.step("T_w", "tipping load with wind, tilt and hoist factor", "(M_h - M_w) / (phi_2 * a_l)",
              "t", "moments in balance", value=float(study.tipping_t[step]))  # fmt: skip
    calc.reaches(check, "Q", "T_w")
