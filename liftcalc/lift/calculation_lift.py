"""The calculation of the lift check: from the inputs to each check that governs or comes near.

Contents: :func:`lift_calculation`, :func:`worked`.

Calculated are the governing check, each check at or above 80 % of its limit, and always capacity,
stability, tipping and wind. Sections for rigging and clearances stand in modules of their own.
"""

from collections.abc import Callable, Sequence

from liftcalc.base.checks import Check, verdict
from liftcalc.lift import calculation_hook as hook
from liftcalc.lift import calculation_persons as persons
from liftcalc.lift import calculation_wind as wind
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_above import above_section
from liftcalc.lift.calculation_chart import capacity_section
from liftcalc.lift.calculation_chart_forces import chart_force_section
from liftcalc.lift.calculation_clearance import clearance_sections
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_place import place_section
from liftcalc.lift.calculation_rigging import rigging_sections
from liftcalc.lift.calculation_stability import stability_section, tipping_section

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
    hook.setting_section(calc, setup, path)
    return calc


_AFTER_RIGGING = ("wind", "slew-side-pull", "load-above", "load-carried",
                  "tail-above", "boom-above", "persons")  # fmt: skip


def _own_sections(calc: Calculation, assessed: LiftAssessment, checks: Sequence[Check]) -> None:
    for check in checks:
        section = SECTIONS.get(check.id)
        if section is not None:
            section(calc, assessed, check)


def no_data_rows(calc: Calculation, check: Check) -> None:
    """A check without numbers: what is missing, in words."""
    calc.section(check)
    calc.note(check.title, check.remedy, check.words, check.reference)


SECTIONS: dict[str, Section] = {
    "capacity": capacity_section,
    "capacity-rated-part": capacity_section,
    "load-above-ground": above_section,
    "load-carried-above-ground": above_section,
    "tail-above-ground": above_section,
    "boom-above-ground": above_section,
    "chart-outrigger-force": chart_force_section,
    "chart-outrigger-beam": chart_force_section,
    "chart-carrier-twist": chart_force_section,
    "stability-rule": stability_section,
    "stability-tipping": tipping_section,
    "hook-block": hook.hook_block_section,
    "head-room": hook.head_room_section,
    "hoist-rope": hook.rope_section,
    "radius-greatest": hook.radius_section,
    "radius-least": hook.radius_section,
    "level": hook.level_section,
    "wind": wind.wind_section,
    "wind-side-pull": wind.side_pull_section,
    "slew-side-pull": wind.slewing_section,
    "persons-level": persons.persons_level_section,
    "persons-legs": persons.persons_legs_section,
    "persons-base": persons.persons_base_section,
    "persons-wind": wind.persons_wind_section,
    "persons-capacity": persons.persons_capacity_section,
}
"""What works a check, by its id."""
