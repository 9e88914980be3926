"""Check rows of the lift plan: each calculation sheet's own, then what the plan adds."""

import dataclasses
from collections.abc import Sequence

from liftcalc.base.checks import Check, verdict
from liftcalc.base.resources import SHEET_TITLES
from liftcalc.lift.assess import LiftAssessment
from liftcalc.plan.accessories import accessory_checks
from liftcalc.plan.ground_day import ground_checks
from liftcalc.plan.load_own import load_own_checks
from liftcalc.plan.notices import notice_checks
from liftcalc.plan.place_tolerance import place_checks
from liftcalc.plan.rules import RuleAnswers, rule_checks
from liftcalc.plan.texts import text_checks
from liftcalc.plan.weather import weather_checks
from liftcalc.plan.zone_rows import zone_checks
from liftcalc.plan.zones import exclusion_zones


def _of_sheet(name: str, checks: Sequence[Check]) -> list[Check]:
    """What a calculation sheet says: every row that is not within, or the one that governs."""
    said = verdict(checks)
    rows = (*said.failed, *said.conditional) or (said.governing,)
    title = SHEET_TITLES[name]
    return [dataclasses.replace(c, title=f"{title}: {c.title[0].lower()}{c.title[1:]}") for c in rows]


def sheet_checks(lift: LiftAssessment) -> list[Check]:
    """What each calculation sheet says of the lift."""
    return [
        *_of_sheet("site_survey", lift.survey), *_of_sheet("leg_layout", lift.layout),
        *_of_sheet("lift_check", lift.lift), *_of_sheet("ground_pressure", lift.ground_rows),
    ]  # fmt: skip


def plan_checks(lift: LiftAssessment, answers: RuleAnswers) -> list[Check]:
    """All rows of the lift plan."""
    return [
        *sheet_checks(lift), *place_checks(lift), *rule_checks(answers), *text_checks(answers),
        *ground_checks(lift), *load_own_checks(lift), *accessory_checks(lift),
        *weather_checks(lift), *notice_checks(lift), *zone_checks(exclusion_zones(lift)),
    ]  # fmt: skip
