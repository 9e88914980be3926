"""What is asked while persons are lifted, in the calculation.

Source: those of :mod:`liftcalc.lift.persons`.
"""

from liftcalc.base.checks import Check
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_chart import rated_rows
from liftcalc.lift.calculation_place import LIFT_LIST
from liftcalc.lift.persons import PERSONS_CAPACITY_SHARE, PERSONS_SLOPE_PERCENT

_RULE = "29 CFR 1926.1431(c)"


def persons_level_section(calc: Calculation, lift: LiftAssessment, check: Check) -> None:
    """Tilt that may come up while persons are lifted."""
    calc.section(check)
    stand = lift.setup.lift.stand
    calc.given("t_x", "tilt toward the front", stand.tilt_x_percent, "%", LIFT_LIST)
    calc.given("t_y", "tilt toward the left", stand.tilt_y_percent, "%", LIFT_LIST)
    calc.given("t_m", "tilt permitted", lift.setup.permitted_tilt_percent, "%",
               "machine, lift list, at most 1 % (ISO 4305, SAE J765, second-hand)")  # fmt: skip
    calc.step("t_e", "tilt while persons are lifted", "max(sqrt(t_x**2 + t_y**2), t_m)", "%",
              "stated, or permitted where that is more")  # fmt: skip
    calc.given("t_q", "tilt permitted while persons are lifted", PERSONS_SLOPE_PERCENT, "%", _RULE)
    calc.reaches(check, "t_e", "t_q")


def persons_legs_section(calc: Calculation, lift: LiftAssessment, check: Check) -> None:
    """How many different extensions the outriggers have."""
    calc.section(check)
    legs = lift.setup.lift.legs.as_tuple()
    text = ", ".join(f"{n} {e:.3f} m" for n, e in zip(LEG_NAMES, legs, strict=True))
    calc.note("Extensions of the outriggers", text, "", LIFT_LIST)
    calc.given("n_e", "different extensions of the outriggers", len(set(legs)), ".0",
               "counted in the row above")  # fmt: skip
    calc.given("n_q", "extensions permitted while persons are lifted", 1, ".0", _RULE)
    calc.reaches(check, "n_e", "n_q")


def persons_base_section(calc: Calculation, lift: LiftAssessment, check: Check) -> None:
    """Steps of the path that no chart made for this very base rates."""
    calc.section(check)
    names = ", ".join(dict.fromkeys(t.chart_id for t in lift.setup.tables))
    calc.note("Charts of this machine", names, "", "rated capacity charts")
    calc.given("n_o", "steps of the path without a chart made for this very base",
               check.value or 0.0, ".0", "counted along the load path")  # fmt: skip
    calc.given("n_z", "such steps permitted while persons are lifted", 0, ".0",
               check.reference)  # fmt: skip
    calc.reaches(check, "n_o", "n_z")


def persons_capacity_section(calc: Calculation, lift: LiftAssessment, check: Check) -> None:
    """Gross load against half of the rated capacity."""
    if not rated_rows(calc, lift, check):
        return
    calc.given("f_p", "share of the rated capacity that may be used while persons are lifted",
               PERSONS_CAPACITY_SHARE, "", check.reference)  # fmt: skip
    calc.step("C_p", "capacity while persons are lifted", "f_p * C", "t", check.reference)
    calc.reaches(check, "Q", "C_p")
