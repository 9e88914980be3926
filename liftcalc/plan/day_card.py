"""What the day card of a lift says: limits of the plan, and the answers of the day.

A lift that must not be made as planned gets no answers.
"""

from collections.abc import Sequence
from typing import Any

from liftcalc.base.checks import Check, verdict
from liftcalc.base.text import Show
from liftcalc.lift import card
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.card import CARD_COLUMNS, card_blanks, card_headline, card_legs, card_rows
from liftcalc.lift.shortfall import SHORTFALL_COLUMNS, shortfall_rows
from liftcalc.lift.what_if import WhatIf
from liftcalc.plan.day_answers import day_answers
from liftcalc.plan.day_tables import HOW_TO_READ, Table, day_tables
from liftcalc.plan.zone_rows import zone_lines
from liftcalc.plan.zones import exclusion_zones

NO_ANSWERS = "No answers are given: this lift is not to be made as planned."


def day_card(lift: LiftAssessment, show: Show, plan: Sequence[Check] = ()) -> dict[str, Any]:
    """Texts and tables of the card; *plan* are the rows of the lift plan, where there is one."""
    data, what = lift.setup.lift, WhatIf(lift)
    said = verdict(plan) if plan else lift.verdict
    holds = card.lifts_as_planned(lift, said)
    answers, tables = day_answers(what) if holds else None, list[Table]()
    limits, legs = list(card_rows(lift, show, said)), card_legs(lift, show, said)
    if answers is not None:
        limits += zone_lines(exclusion_zones(lift), show)
        columns, *rows = zip(CARD_COLUMNS, *legs, strict=True)
        short = [(row[0], *row[2:]) for row in shortfall_rows(what, show)]
        title = "Maximum shortfall of each outrigger, by every check"
        tables = [("Outriggers as planned", columns, rows),
                  (title, (SHORTFALL_COLUMNS[0], *SHORTFALL_COLUMNS[2:]), short),
                  *day_tables(lift.setup, answers, show)]  # fmt: skip
    return {
        "heading": f"Day card: {data.id}, {data.title}", "headline": card_headline(lift, said),
        "rows": limits, "legs": legs, "blanks": card_blanks(lift, said),
        "how": [NO_ANSWERS] if answers is None else list(HOW_TO_READ), "tables": tables,
    }  # fmt: skip
