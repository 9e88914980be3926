"""Check rows: value, limit, share used, and a verdict that never reads worse as better."""

from __future__ import annotations

import pytest

from liftcalc.checks import limit_check


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
    row = limit_check(
        "a", "a", value=value, limit=limit, quantity="length_m", reference="-", sense="min"
    )
    assert (row.utilisation, row.status) == (used, status)
