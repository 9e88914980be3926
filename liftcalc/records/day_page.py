"""The day card: one page that holds alone, for a phone without network and for paper.

It stands in ``files`` beside the plan. A lift that must not be made as planned gets no answers.
"""

from collections.abc import Sequence

from liftcalc.base.checks import Check, verdict
from liftcalc.base.text import CAUTIONS, Safe, format_value
from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.card import CARD_COLUMNS, card_blanks, card_headline, card_legs, card_rows
from liftcalc.lift.shortfall import SHORTFALL_COLUMNS, shortfall_rows
from liftcalc.lift.what_if import WhatIf
from liftcalc.plan.day_answers import day_answers
from liftcalc.plan.day_tables import HOW_TO_READ, day_tables
from liftcalc.plan.zone_rows import zone_lines
from liftcalc.plan.zones import exclusion_zones
from liftcalc.records import blocks
from liftcalc.records.derive import given_names
from liftcalc.records.inputs import facts_of
from liftcalc.records.pages import DAY_CSS, block_html, page, part, print_frame

NO_ANSWERS = "No answers are given: this lift is not to be made as planned."


def day_page(lift: LiftAssessment, *, units: UnitSystem = "metric",
             plan: Sequence[Check] = ()) -> str:  # fmt: skip
    """The whole page of one lift; *plan* are the rows of the lift plan, where there is one."""

    def show(value: float | None, quantity: str, safe: Safe = "") -> str:
        return format_value(value, quantity, units, safe)

    data, what = lift.setup.lift, WhatIf(lift)
    heading = f"Day card: {data.id}, {data.title}"
    answers, rows_of_card = day_answers(what), list(card_rows(lift, show))
    if answers is not None:
        rows_of_card += zone_lines(exclusion_zones(lift), show)
    shown = [blocks.card(heading, card_headline(lift), rows_of_card, blanks=card_blanks(lift))]
    how = [NO_ANSWERS]
    if answers is not None:
        how = list(HOW_TO_READ)
        columns, *rows = zip(CARD_COLUMNS, *card_legs(lift, show), strict=True)
        short = [(row[0], *row[2:]) for row in shortfall_rows(what, show)]
        title = "Greatest shortfall of each outrigger, by every check"
        tables = [("Outriggers as planned", columns, rows),
                  (title, (SHORTFALL_COLUMNS[0], *SHORTFALL_COLUMNS[2:]), short),
                  *day_tables(lift.setup, answers, show)]  # fmt: skip
        shown += [blocks.table(*one) for one in tables]
    names = frozenset(given_names(facts_of(lift.job)))
    card, *tables_html = (block_html(blocks.in_units(b, units, names)) for b in shown)
    state = f"Calculation: {lift.verdict.head}"
    if plan:
        whole = verdict(plan)
        settled = whole.status in ("within", "condition")
        state += f". Lift plan: {whole.head}"
        state += "" if settled else ". Do not lift until this is settled"
    body = part("day_body", card, state, how, tables_html, list(CAUTIONS))
    css = DAY_CSS + print_frame(heading, units, lift.job.invented)
    return page(heading, body, css, units=units, invented=lift.job.invented, phone=True).decode()
