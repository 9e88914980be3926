"""Check rows: value, limit, share used, and a verdict that never reads worse as better."""

from __future__ import annotations

import pytest

from liftcalc.base.checks import MAKER_CONFIRMS, Check, limit_check, no_data_check, verdict
from liftcalc.base.errors import InputError
from liftcalc.records.blocks import check_table, verdict_block
from liftcalc.records.pages import block_html


@pytest.mark.parametrize(
    ("value", "limit", "used", "status"),
    [
        (0.5, -0.15, 0.0, "within"),
        (-0.1, -0.15, 0.0, "within"),
        (-0.2, -0.15, None, "over"),
        (0.5, 0.0, 0.0, "within"),
        (2.0, 1.0, 0.5, "within"),
        (0.5, 1.0, 2.0, "over"),
    ],
)
def test_no_less_than_nothing_is_used_of_a_least_value(
    value: float, limit: float, used: float | None, status: str
) -> None:
    row = limit_check("a", "a", value=value, limit=limit, quantity="length_m", reference="-", sense="min")
    assert (row.utilisation, row.status) == (used, status)


def row(id: str, value: float, condition: str = "") -> Check:
    return limit_check(
        id, f"Row {id}", value=value, limit=1.0, quantity="ratio", reference="-", remedy="ask", condition=condition
    )


WITHIN, ON = row("a", 0.9), row("b", 0.2, MAKER_CONFIRMS)
MISSING = no_data_check("capacity", "Row c", quantity="ratio", reference="-")
OVER = row("d", 1.1, MAKER_CONFIRMS)


def test_a_condition_holds_only_for_what_is_within_and_is_told_with_it() -> None:
    assert (ON.status, ON.remedy) == ("condition", "ask")
    assert ON.words == "within limits on condition: the manufacturer confirms this layout"
    assert (OVER.status, OVER.condition, OVER.words) == ("over", "", "over a limit")
    with pytest.raises(InputError, match="condition"):
        Check("a", "a", 1.0, 2.0, "ratio", "max", 0.5, "condition", "-")
    with pytest.raises(InputError, match="condition"):
        Check("a", "a", 1.0, 2.0, "ratio", "max", 0.5, "within", "-", condition="so")


@pytest.mark.parametrize(
    ("rows", "status"),
    [
        ((WITHIN,), "within"),
        ((WITHIN, ON), "condition"),
        ((ON, MISSING, WITHIN), "no_data"),
        ((ON, WITHIN, MISSING, OVER), "over"),
    ],
)
def test_over_outranks_no_data_outranks_condition_outranks_within(rows: tuple[Check, ...], status: str) -> None:
    for order in (rows, rows[::-1]):
        found = verdict(order)
        assert found.status == found.governing.status == status
        assert {c.id for c in found.failed} == {c.id for c in rows} & {"capacity", "d"}
        on = ON in rows
        assert found.conditional == ((ON,) if on else ())
        assert (MAKER_CONFIRMS in found.words and ON.title in found.words) == on


def test_verdict_and_check_table_print_the_condition_and_its_remedy() -> None:
    rows = [WITHIN, ON]
    head = "Within limits on condition: the manufacturer confirms this layout"
    assert verdict(rows).head == head
    page = block_html(verdict_block(rows)) + block_html(check_table(rows))
    assert head in page
    assert page.count(ON.words) == 2
    assert "<td>ask</td>" in page
    assert 'class="verdict condition"' in page
    assert '<tr class="condition">' in page
