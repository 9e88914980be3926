"""The calculation of the lift check: from the inputs to each check that governs or comes near.

Calculated are the governing check, each check at or above 80 % of its limit, and always capacity, stability, tipping
and wind. What is asked while persons are lifted stands here, every other section in a module of its own.

Source: persons: those of :mod:`liftcalc.lift.persons`.
"""

from collections.abc import Callable, Sequence

from liftcalc.base.checks import Check, verdict
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.lift import calculation_hook as hook
from liftcalc.lift import calculation_wind as wind
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_bodies import above_section
from liftcalc.lift.calculation_chart import capacity_section, rated_rows
from liftcalc.lift.calculation_chart_forces import LAST, chart_force_section
from liftcalc.lift.calculation_clearance import clearance_sections
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_place import LIFT_LIST, place_section
from liftcalc.lift.calculation_rigging import rigging_sections
from liftcalc.lift.calculation_stability import stability_section, tipping_section
from liftcalc.lift.persons import PERSONS_CAPACITY_SHARE, PERSONS_SLOPE_PERCENT


def persons_level_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Tilt that may come up while persons are lifted."""
    hook.stated_tilt_rows(c, a.setup)
    c.facts(t_m=a.setup.permitted_tilt_percent)
    c.steps("t_e")
    c.ends(check, "t_e", "t_q", known=PERSONS_SLOPE_PERCENT)


def persons_legs_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """How many different extensions the outriggers have."""
    legs = a.setup.lift.legs.as_tuple()
    text = ", ".join(f"{n} {e:.3f} m" for n, e in zip(LEG_NAMES, legs, strict=True))
    c.note("Extensions of the outriggers", text, "", LIFT_LIST)
    c.facts(n_e=len(set(legs)))
    c.ends(check, "n_e", "n_q", known=1)


def persons_base_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Steps of the path that no chart made for this very base rates."""
    names = ", ".join(dict.fromkeys(t.chart_id for t in a.setup.tables))
    c.note("Charts of this machine", names, "", "rated capacity charts")
    c.facts(n_o=check.value or 0.0)
    c.ends(check, "n_o", "n_z", known=0)


def persons_capacity_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Gross load against half of the rated capacity."""
    if not rated_rows(c, a, check):
        return
    c.facts(check.reference, f_p=PERSONS_CAPACITY_SHARE)
    c.work("C_p", "", check.reference)
    c.reaches(check, "Q", "C_p")


ALWAYS = ("capacity", "stability-rule", "stability-tipping", "wind")
"""Checks that are calculated on every lift check sheet, whatever they come to."""
NEAR = 0.80
"""Utilisation from which a check is worked."""


Section = Callable[[Calculation, LiftAssessment, Check], None]


def worked(checks: Sequence[Check]) -> list[Check]:
    """The checks whose calculation a sheet prints, in the order of its check table."""
    always = (verdict(checks).governing.id, *ALWAYS)
    return [c for c in checks if c.id in always or c.status in ("over", "no_data") or (c.utilisation or 0.0) >= NEAR]


def lift_calculation(a: LiftAssessment, checks: Sequence[Check]) -> Calculation:
    """The calculation of a lift check sheet.

    Parameters:
      a: LiftAssessment
      checks: sequence of Check. The rows that the sheet shows.
    """
    setup, path = a.setup, a.path
    c = Calculation()
    place_section(c, setup, path)
    gross_section(c, setup)
    near = worked(checks)
    _own_sections(c, a, [one for one in near if not one.id.startswith(_AFTER_RIGGING)])
    done = {*rigging_sections(c, a, near), *SECTIONS}
    for start in _AFTER_RIGGING:
        _own_sections(c, a, [one for one in near if one.id.startswith(start)])
    clearance_sections(c, a, near)
    for check in near:
        if check.id not in done and (check.limit is None or check.value is None):
            no_data_rows(c, check)
    hook.setting_section(c, setup, path)
    return c


_AFTER_RIGGING = ("wind", "slew-side-pull", "load-above", "load-carried", "tail-above", "boom-above", "persons")


def _own_sections(c: Calculation, a: LiftAssessment, checks: Sequence[Check]) -> None:
    for check in checks:
        if check.id in SECTIONS:
            c.section(check)
            SECTIONS[check.id](c, a, check)


def no_data_rows(c: Calculation, check: Check) -> None:
    """A check without numbers: what is missing, in words."""
    c.section(check)
    c.note(check.title, check.remedy, check.words, check.reference)


SECTIONS: dict[str, Section] = {
    **dict.fromkeys(("capacity", "capacity-rated-part"), capacity_section),
    **{f"{what}-above-ground": above_section for what in ("load", "load-carried", "tail", "boom")},
    **dict.fromkeys(LAST, chart_force_section),
    "stability-rule": stability_section, "stability-tipping": tipping_section,
    "hook-block": hook.hook_block_section, "head-room": hook.head_room_section,
    "hoist-rope": hook.rope_section, "level": hook.level_section,
    **dict.fromkeys(("radius-greatest", "radius-least"), hook.radius_section),
    "wind": wind.wind_section, "wind-side-pull": wind.side_pull_section,
    "slew-side-pull": wind.slewing_section, "persons-wind": wind.persons_wind_section,
    "persons-level": persons_level_section, "persons-legs": persons_legs_section,
    "persons-base": persons_base_section, "persons-capacity": persons_capacity_section,
}  # fmt: skip
"""What works a check, by its id."""
