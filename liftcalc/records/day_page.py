"""The day card as one page that holds alone, for a phone without network and for paper.

It stands in ``files`` beside the plan; what it says comes from :mod:`liftcalc.plan.day_card`.
"""

from collections.abc import Mapping
from typing import Any

from liftcalc.base.text import CAUTIONS, text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.facts.job import Job
from liftcalc.records import blocks
from liftcalc.records.derive import given_names
from liftcalc.records.inputs import facts_of
from liftcalc.records.pages import DAY_CSS, block_html, page, part, print_frame


def day_page(job: Job, card: Mapping[str, Any], *, units: UnitSystem = "metric") -> str:
    """The whole page of one lift of a job."""
    heading, names = card["heading"], frozenset(given_names(facts_of(job)))
    shown = [blocks.card(heading, card["headline"], card["rows"], blanks=card["blanks"]),
             *(blocks.table(*one) for one in card["tables"])]  # fmt: skip
    first, *tables = (block_html(blocks.in_units(b, units, names)) for b in shown)
    how = [text_in_units(line, units, keep=names) for line in card["how"]]
    body = part("day_body", first, how, tables, list(CAUTIONS))
    css = DAY_CSS + print_frame(heading, units, job.invented)
    return page(heading, body, css, units=units, invented=job.invented, phone=True).decode()
