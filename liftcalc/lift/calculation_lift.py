"""The calculation of the lift check: from the inputs to each check that governs or comes near.

Contents: :func:`lift_calculation`, :func:`worked`.

Worked are the governing check, each check at or above 80 % of its limit, and always capacity,
stability, tipping and wind. Sections for rigging and clearances stand in modules of their own.
"""

from collections.abc import Callable, Sequence

import numpy as np

from liftcalc.base.checks import Check, verdict
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_chart import capacity_section
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_place import place_section
from liftcalc.lift.calculation_stability import stability_section

ALWAYS = ("capacity", "stability-rule", "stability-tipping", "wind")
"""Checks that are worked on every lift check sheet, whatever they come to."""
NEAR = 0.80
"""Utilisation from which a check is worked."""


def worked(checks: Sequence[Check]) -> list[Check]:
    """The checks whose calculation a sheet prints, in the order of its check table."""
    governing = verdict(checks).governing.id
    return [
        c
        for c in checks
        if c.id == governing or c.id in ALWAYS or (c.utilisation is not None
                                                  and c.utilisation >= NEAR)
    ]  # fmt: skip


def lift_calculation(assessed: LiftAssessment, checks: Sequence[Check]) -> Calculation:
    """The calculation of a lift check sheet.

    Parameters:
      assessed: LiftAssessment
      checks: sequence of Check. The rows that the sheet shows.
    """
    setup, path = assessed.setup, assessed.path
    calc = Calculation()
    place_section(calc, setup, path)
    gross_section(calc, setup)
    for check in worked(checks):
        section = SECTIONS.get(check.id)
        if section is not None:
            section(calc, assessed, check)
    return calc


def _capacity(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    study = assessed.study
    capacity_section(calc, assessed.setup, study, study.governing_step, check)


def _stability(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    study = assessed.study
    step = int(np.argmin(study.stability_t))
    stability_section(calc, assessed.setup, study, step, check)


Section = Callable[[Calculation, LiftAssessment, Check], None]
SECTIONS: dict[str, Section] = {"capacity": _capacity, "stability-rule": _stability}
"""What works a check, by its id."""
