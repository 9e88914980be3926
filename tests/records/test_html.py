"""A sheet's page: its name once, the date of its record, cautions and marks, words of its units."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.records.blocks import BLOCK_MIME, Block, screen_block, table, title_block, with_notes
from liftcalc.records.html import PageFacts, sheet_page, shown_items

FACTS = PageFacts(
    record="job_L1_lift_check_A_20260501T101112Z_0123abcd",
    title="Lift check, lift L1, job, revision A",
    prepared_utc="2026-05-01T10:11:12Z",
    template="lift_check",
    template_sha256="0" * 64,
    inputs_sha256="1" * 64,
    version="0",
)
TITLE = title_block(
    "Lift check",
    [("Job number", "job"), ("Revision", "A"), ("Previous sheet", "none")],
    number="Sheet 3 of 4",
    people=[("Prepared by", "A. Planner"), ("Checked by", "")],
)


def _notebook(text: str, blocks: Sequence[Block]) -> dict[str, object]:
    outputs = [{"output_type": "display_data", "data": {BLOCK_MIME: b}} for b in blocks]
    return {
        "cells": [
            {"cell_type": "markdown", "metadata": {}, "source": text},
            {"cell_type": "code", "metadata": {}, "source": "", "outputs": outputs},
        ]
    }


SHEET = _notebook("# Lift check\n\nThe load slewed past the centre.", [TITLE])


def test_the_name_stands_once_before_all_else() -> None:
    page = sheet_page(SHEET, FACTS).decode()
    body = page[page.index("<body") :]
    assert body.count("Lift check</h1>") == body.count("<h1>") == 1
    assert body.index("<h1>") < body.index("The load slewed")
    assert "Sheet 3 of 4" in body
    other = _notebook("# Another heading\n\nText.", [TITLE])
    assert "Another heading</h1>" in sheet_page(other, FACTS).decode()


def test_the_date_is_that_of_the_record_and_stands_with_the_revision() -> None:
    block = shown_items(SHEET, FACTS)[0].block
    assert block is not None
    assert [*map(tuple, block["rows"])] == [
        ("Job number", "job"),
        ("Revision", "A"),
        ("Date", "2026-05-01"),
        ("Previous sheet", "none"),
    ]
    assert "Date" not in str(SHEET)


def test_every_signature_has_a_name_a_line_and_a_date() -> None:
    page = sheet_page(SHEET, FACTS).decode()
    people = page[page.index('<table class="people">') :].partition("</table>")[0]
    assert people.count("<tr>") == people.count(">Signature<") == people.count(">Date<") == 2
    assert "A. Planner" in people


@pytest.mark.parametrize("invented", [True, False])
def test_caution_and_mark_stand_on_the_page_and_in_the_margin_of_its_print(invented: bool) -> None:
    page = sheet_page(SHEET, replace(FACTS, invented=invented)).decode()
    head, body = page.split("<body", 1)
    assert html.escape(CAUTION_LINE) in body
    assert (INVENTED_LINE in body) == invented
    assert "Planning aid. The manufacturer" in head  # @page, with its own escapes
    assert ("@top-center" in head) == invented
    assert FACTS.record in body.partition("<footer>")[2]


def test_us_pages_are_letter_in_american_words_and_units() -> None:
    page = sheet_page(SHEET, replace(FACTS, units="us")).decode()
    assert "size: letter" in page
    assert '<html lang="en-US">' in page
    assert "The load swung past the center." in page
    metric = sheet_page(SHEET, FACTS).decode()
    assert "size: A4" in metric
    assert '<html lang="en-GB">' in metric


def test_a_line_for_the_screen_is_not_on_the_page() -> None:
    page = sheet_page(_notebook("", [TITLE, screen_block("only on screen")]), FACTS).decode()
    assert "only on screen" not in page


def test_sources_of_checks_stand_once_below_and_each_row_names_its_own() -> None:
    rows = [["a", "s1"], ["b", "s2"], ["c", "s1"], ["d", ""]]
    noted = with_notes(table("T", ["Check", "Source"], rows))
    assert [row[-1] for row in noted["rows"]] == ["[1]", "[2]", "[1]", ""]
    assert noted["notes"] == [["[1]", "s1"], ["[2]", "s2"]]


def test_a_title_cannot_leave_its_style_sheet() -> None:
    hostile = '"; } </style><script>x</script> @import "y'
    page = sheet_page(SHEET, replace(FACTS, title=hostile)).decode()
    assert "<script" not in page
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)
    assert style is not None
    assert "@import" not in style[1]
    assert style[1].count("{") == style[1].count("}")
