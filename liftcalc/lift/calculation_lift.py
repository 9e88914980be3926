"""The calculation of the lift check: from the inputs to each check that governs or comes near.

Contents: :func:`lift_calculation`, :func:`worked`.

Calculated are the governing check, each check at or above 80 % of its limit, and always capacity,
stability, tipping and wind. Sections for rigging and clearances stand in modules of their own.
"""

from collections.abc import Callable, Sequence

import numpy as np

from liftcalc.base.checks import Check, verdict
from liftcalc.crane.masses import BoomState
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_above import above_section
from liftcalc.lift.calculation_chart import capacity_section
from liftcalc.lift.calculation_chart_forces import chart_force_section
from liftcalc.lift.calculation_clearance import clearance_sections
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_hook import (
    head_room_section,
    hook_block_section,
    level_section,
    radius_section,
    rope_section,
    setting_section,
)
from liftcalc.lift.calculation_persons import (
    persons_base_section,
    persons_capacity_section,
    persons_legs_section,
    persons_level_section,
)
from liftcalc.lift.calculation_place import place_section
from liftcalc.lift.calculation_rigging import rigging_sections
from liftcalc.lift.calculation_stability import stability_section, tipping_section
from liftcalc.lift.calculation_wind import (
    persons_wind_section,
    side_pull_section,
    slewing_section,
    wind_section,
)
from liftcalc.lift.capacity_checks import rated_part_step
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup

ALWAYS = ("capacity", "stability-rule", "stability-tipping", "wind")
"""Checks that are calculated on every lift check sheet, whatever they come to."""
NEAR = 0.80
"""Utilisation from which a check is worked."""


Section = Callable[[Calculation, LiftAssessment, Check], None]


def worked(checks: Sequence[Check]) -> list[Check]:
    """The checks whose calculation a sheet prints, in the order of its check table."""
    governing = verdict(checks).governing.id
    return [
        c
        for c in checks
        if c.id in (governing, *ALWAYS)
        or c.status in ("over", "no_data")
        or (c.utilisation is not None and c.utilisation >= NEAR)
    ]


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
    near = worked(checks)
    early = [c for c in near if not c.id.startswith(_AFTER_RIGGING)]
    _own_sections(calc, assessed, early)
    done = {*rigging_sections(calc, assessed, near), *SECTIONS}
    for start in _AFTER_RIGGING:
        _own_sections(calc, assessed, [c for c in near if c.id.startswith(start)])
    clearance_sections(calc, assessed, near)
    for check in near:
        if check.id not in done and (check.limit is None or check.value is None):
            no_data_rows(calc, check)
    setting_section(calc, setup, path)
    return calc


_AFTER_RIGGING = ("wind", "slew-side-pull", "load-above", "tail-above", "boom-above", "persons")


def _own_sections(calc: Calculation, assessed: LiftAssessment, checks: Sequence[Check]) -> None:
    for check in checks:
        section = SECTIONS.get(check.id)
        if section is not None:
            section(calc, assessed, check)


def no_data_rows(calc: Calculation, check: Check) -> None:
    """A check without numbers: what is missing, in words."""
    calc.section(check)
    calc.note(check.title, check.remedy, check.words, check.reference)


def _capacity(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    study = assessed.study
    capacity_section(calc, assessed.setup, study, study.governing_step, check)


def _rated_part(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    study = assessed.study
    capacity_section(calc, assessed.setup, study, rated_part_step(study), check)


def _stability(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    study = assessed.study
    step = int(np.argmin(study.stability_t))
    stability_section(calc, assessed.setup, study, step, check)


def _tipping(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    study = assessed.study
    tipping_section(calc, assessed.setup, study, int(np.argmin(study.tipping_t)), check)


def _windy(section: Callable[[Calculation, Setup, LoadPath, BoomState, Check], None]) -> Section:
    def of(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
        section(calc, assessed.setup, assessed.path, assessed.study.boom, check)

    return of


SECTIONS: dict[str, Section] = {
    "capacity": _capacity,
    "capacity-rated-part": _rated_part,
    "load-above-ground": above_section,
    "tail-above-ground": above_section,
    "boom-above-ground": above_section,
    "chart-outrigger-force": chart_force_section,
    "chart-outrigger-beam": chart_force_section,
    "chart-carrier-twist": chart_force_section,
    "stability-rule": _stability,
    "stability-tipping": _tipping,
    "hook-block": lambda calc, a, check: hook_block_section(calc, a.setup, check),
    "head-room": lambda calc, a, check: head_room_section(calc, a.setup, a.study, check),
    "hoist-rope": lambda calc, a, check: rope_section(calc, a.setup, check),
    "radius-greatest": lambda calc, a, check: radius_section(calc, a.setup, a.path, check),
    "radius-least": lambda calc, a, check: radius_section(calc, a.setup, a.path, check),
    "level": lambda calc, a, check: level_section(calc, a.setup, check),
    "wind": _windy(wind_section),
    "wind-side-pull": _windy(side_pull_section),
    "slew-side-pull": _windy(slewing_section),
    "persons-level": lambda calc, a, check: persons_level_section(calc, a.setup, check),
    "persons-legs": lambda calc, a, check: persons_legs_section(calc, a.setup, check),
    "persons-base": lambda calc, a, check: persons_base_section(calc, a.setup, a.study, check),
    "persons-wind": _windy(persons_wind_section),
    "persons-capacity": lambda calc, a, check: persons_capacity_section(
        calc, a.setup, a.study, check
    ),
}
"""What works a check, by its id."""
