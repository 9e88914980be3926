"""Check rows and the verdict that follows from them.

A sheet has four verdicts, not two: within every limit, within limits on condition, over a limit,
or no capacity data for this layout. One check over its limit fails the whole sheet; missing data
never reads as a pass, nor does what holds only on a condition, which is always stated with it. A
search has its own: positions found or no position found; it never says that a lift passes.
Method: comparison of a stated value with a stated limit (no published source needed).
"""

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from liftcalc.base.errors import InputError
from liftcalc.base.text import text_in_units
from liftcalc.base.words import NO_DATA, STATE_WORDS

Status = Literal["within", "found", "condition", "over", "not_found", "no_data", "incomplete"]
Sense = Literal["max", "min"]
FAILED: tuple[Status, ...] = ("over", "no_data", "not_found", "incomplete")
"""States that fail a sheet."""

MAKER_CONFIRMS = "the manufacturer confirms this layout"
"""Condition of whatever rests on a chart carried over to a base that it was not made for."""
_CAPACITY = ("capacity", "capacity-settled", "layout-capacity-data", "persons-capacity")


@dataclass(frozen=True)
class Check:
    """One line of the check table.

    Attributes:
      id: short machine name, unique on its sheet.
      title: what is checked, in words.
      value, limit: numbers in the package's own unit, or None where there is none to show.
      quantity: key of ``liftcalc.base.units.QUANTITIES``, gives unit and conversion.
      sense: "max": the value must not exceed the limit; "min": it must not fall below it.
      utilisation: value/limit (max) or limit/value (min, 0 where the limit is below 0); None where.
        it cannot be formed.
      status: "within", "condition" (within, if ``condition`` is met), "over" or "no_data"; of a.
        search "found" or "not_found".
      reference: standard, clause and edition, or the owner of the limit.
      where: the governing place, step or leg, in words.
      remedy: what would bring the check within its limit; empty when it is within.
      condition: what must be so for the check to be within; empty unless the status is "condition".
    """

    id: str
    title: str
    value: float | None
    limit: float | None
    quantity: str
    sense: Sense
    utilisation: float | None
    status: Status
    reference: str
    where: str = ""
    remedy: str = ""
    condition: str = ""

    def __post_init__(self) -> None:
        if bool(self.condition) != (self.status == "condition"):
            raise InputError.of(f"check {self.id}", self.condition, "a condition with this status and no other")

    @property
    def words(self) -> str:
        """Status in words, as printed; data that are missing elsewhere are not capacity data."""
        if self.status == "no_data" and self.id not in _CAPACITY:
            return NO_DATA
        return STATE_WORDS[self.status] + (f": {self.condition}" if self.condition else "")

    def to_dict(self) -> dict[str, Any]:
        """Plain JSON values; texts in metric units."""
        return {
            key: text_in_units(value, "metric") if isinstance(value, str) else value
            for key, value in asdict(self).items()
        }


def limit_check(
    id: str, title: str, *, value: float, limit: float, quantity: str, reference: str,
    sense: Sense = "max", where: str = "", remedy: str = "", condition: str = "",
) -> Check:  # fmt: skip
    """Compare *value* with *limit* and return the check row.

    With a *condition* a row that is within its limit is so on that condition; *remedy* then says
    how the condition is met. A value equal to its limit (within a billionth) is within it. NaN
    raises :class:`InputError`; an infinite value is over a "max" limit and within a "min" limit
    and is shown without a number. A count has no utilisation: one of one is not near its limit.
    """
    value = float(value)
    limit = float(limit)
    if math.isnan(value) or math.isnan(limit) or math.isinf(limit):
        raise InputError.of(f"check {id}", (value, limit), "a number and a finite limit")
    slack = 1e-9 * max(abs(value) if math.isfinite(value) else 0.0, abs(limit), 1e-12)
    if sense == "max":
        ok = value <= limit + slack
        ratio = value / limit if limit > 0 else (0.0 if ok else math.inf)
    else:
        ok = value >= limit - slack
        # At or below a limit of 0 nothing is used up: a share below 0 would say nothing.
        ratio = max(limit, 0.0) / value if value > 0 else (0.0 if ok else math.inf)
    return Check(
        id=id, title=title, value=value if math.isfinite(value) else None, limit=limit, quantity=quantity, sense=sense,
        utilisation=ratio if math.isfinite(ratio) and quantity != "count" else None,
        status=("condition" if condition else "within") if ok else "over", reference=reference,
        where=where, remedy="" if ok and not condition else remedy,
        condition=condition if ok else "",
    )  # fmt: skip


def search_check(check: Check) -> Check:
    """The same row in a search's own states: positions found, or none; no lift passes by it."""
    return dataclasses.replace(check, status="found" if check.status == "within" else "not_found")


def no_data_check(
    id: str, title: str, *, quantity: str, reference: str, value: float | None = None,
    estimate: float | None = None, where: str = "", remedy: str = "",
) -> Check:  # fmt: skip
    """Row for a check that has no capacity data; *estimate* is shown, never used as a pass."""
    ratio = value / estimate if value is not None and estimate else None
    return Check(
        id=id, title=title, value=value, limit=estimate, quantity=quantity, sense="max",
        utilisation=ratio, status="no_data", reference=reference, where=where, remedy=remedy,
    )  # fmt: skip


def stated_check(
    id: str, title: str, *, missing: int, of: int, reference: str, where: str = "", remedy: str = ""
) -> Check:
    """Row of a lift plan: how many of the facts that are asked for are not stated."""
    return Check(
        id=id, title=title, value=float(missing), limit=0.0, quantity="count", sense="max",
        utilisation=None, status="incomplete" if missing else "within", reference=reference,
        where=where if missing else f"{of} stated", remedy=remedy if missing else "",
    )  # fmt: skip


@dataclass(frozen=True)
class Verdict:
    """What the whole sheet says: status, governing check, and every check that is not within.

    ``failed`` holds what is over its limit or without data, ``conditional`` what is within on a condition.
    """

    status: Status
    governing: Check
    failed: tuple[Check, ...]
    conditional: tuple[Check, ...] = ()
    found: tuple[Check, ...] = ()
    """Rows of a search that found something; they never say that a lift passes."""

    @property
    def conditions(self) -> str:
        """Every condition, each once."""
        return "; ".join(dict.fromkeys(c.condition for c in self.conditional))

    @property
    def head(self) -> str:
        """Verdict in a few words."""
        if self.status == "no_data" and not any(c.id in _CAPACITY for c in self.failed):
            return NO_DATA.capitalize() + " for a check"
        words = STATE_WORDS[self.status].capitalize()
        return f"{words}: {self.conditions}" if self.status == "condition" else words

    @property
    def words(self) -> str:
        """Verdict in words, naming what failed and what holds only on a condition."""
        head = self.head
        on = ", ".join(c.title for c in self.conditional)
        if self.status == "condition":
            return f"{head}. On this condition: {on}."
        if self.status == "found":
            counted = [c.title for c in self.found if c.quantity == "count"]
            return f"{head}: {'; '.join(counted or [c.title for c in self.found])}."
        if not self.failed:
            return f"{head}."
        also = f" Moreover, {on}: only on condition: {self.conditions}." if on else ""
        return f"{head}: " + "; ".join(c.title for c in self.failed) + "." + also


def _severity(check: Check) -> tuple[int, float]:
    rank = {"over": 4, "not_found": 4, "no_data": 3, "incomplete": 2, "condition": 1, "found": 0, "within": 0}[
        check.status
    ]
    return rank, check.utilisation if check.utilisation is not None else (1e9 if rank else 0.0)


def verdict(checks: Sequence[Check]) -> Verdict:
    """Verdict over all checks of a sheet; an empty list raises :class:`InputError`."""
    if not checks:
        raise InputError.of("checks", [], "at least one check row")
    ids = [c.id for c in checks]
    if len(set(ids)) != len(ids):
        raise InputError.of("checks", sorted({i for i in ids if ids.count(i) > 1}), "unique ids")
    ranked = sorted(checks, key=_severity, reverse=True)
    return Verdict(
        status=ranked[0].status,
        governing=ranked[0],
        failed=tuple(c for c in ranked if c.status in FAILED),
        found=tuple(c for c in ranked if c.status == "found"),
        conditional=tuple(c for c in ranked if c.status == "condition"),
    )
