"""Check rows and the verdict that follows from them.

Contents: :class:`Check` (one line of the check table), :func:`limit_check` (build one from a
value and its limit), :func:`no_data_check`, :class:`Verdict` and :func:`verdict`.

A sheet has three verdicts, not two: within every limit, over a limit, or no capacity data for
this layout. One check over its limit fails the whole sheet; missing data never reads as a pass.
Method: comparison of a stated value with a stated limit (no published source needed).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from liftcalc.errors import InputError

__all__ = ["Check", "Status", "Verdict", "limit_check", "no_data_check", "verdict"]

Status = Literal["within", "over", "no_data"]
Sense = Literal["max", "min"]

STATUS_WORDS: dict[str, str] = {
    "within": "WITHIN LIMIT",
    "over": "OVER LIMIT",
    "no_data": "NO CAPACITY DATA",
}
VERDICT_WORDS: dict[str, str] = {
    "within": "Within every limit",
    "over": "Over a limit",
    "no_data": "No capacity data for this layout",
}
_CAPACITY = ("capacity", "capacity-settled", "layout-capacity-data", "persons-capacity")


@dataclass(frozen=True)
class Check:
    """One line of the check table.

    Attributes
    ----------
    id : short machine name, unique on its sheet.
    title : what is checked, in words.
    value, limit : numbers in the package's own unit, or None where there is none to show.
    quantity : key of ``liftcalc.units.QUANTITIES``, gives unit and conversion.
    sense : "max": the value must not exceed the limit; "min": it must not fall below it.
    utilisation : value/limit (max) or limit/value (min, 0 where the limit is below 0); None where
        it cannot be formed.
    status : "within", "over" or "no_data".
    reference : standard, clause and edition, or the owner of the limit.
    where : the governing place, step or leg, in words.
    remedy : what would bring the check within its limit; empty when it is within.
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

    @property
    def words(self) -> str:
        """Status in words, as printed; data that are missing elsewhere are not capacity data."""
        if self.status == "no_data" and self.id not in _CAPACITY:
            return "NO DATA"
        return STATUS_WORDS[self.status]

    def to_dict(self) -> dict[str, Any]:
        """Plain JSON values."""
        return asdict(self)


def limit_check(
    id: str,
    title: str,
    *,
    value: float,
    limit: float,
    quantity: str,
    reference: str,
    sense: Sense = "max",
    where: str = "",
    remedy: str = "",
    rel_tol: float = 1e-9,
) -> Check:
    """Compare *value* with *limit* and return the check row.

    A value equal to its limit (within *rel_tol*) is within it. NaN raises
    :class:`InputError`; an infinite value is over a "max" limit and within a "min" limit and
    is shown without a number.
    """
    value = float(value)
    limit = float(limit)
    if math.isnan(value) or math.isnan(limit) or math.isinf(limit):
        raise InputError.of(f"check {id}", (value, limit), "a number and a finite limit")
    slack = rel_tol * max(abs(value) if math.isfinite(value) else 0.0, abs(limit), 1e-12)
    if sense == "max":
        ok = value <= limit + slack
        ratio = value / limit if limit > 0 else (0.0 if ok else math.inf)
    else:
        ok = value >= limit - slack
        # At or below a limit of 0 nothing is used up: a share below 0 would say nothing.
        ratio = max(limit, 0.0) / value if value > 0 else (0.0 if ok else math.inf)
    return Check(
        id=id,
        title=title,
        value=value if math.isfinite(value) else None,
        limit=limit,
        quantity=quantity,
        sense=sense,
        utilisation=ratio if math.isfinite(ratio) else None,
        status="within" if ok else "over",
        reference=reference,
        where=where,
        remedy="" if ok else remedy,
    )


def no_data_check(
    id: str,
    title: str,
    *,
    quantity: str,
    reference: str,
    value: float | None = None,
    estimate: float | None = None,
    where: str = "",
    remedy: str = "",
) -> Check:
    """Row for a check that has no capacity data; *estimate* is shown, never used as a pass."""
    ratio = value / estimate if value is not None and estimate else None
    return Check(
        id=id,
        title=title,
        value=value,
        limit=estimate,
        quantity=quantity,
        sense="max",
        utilisation=ratio,
        status="no_data",
        reference=reference,
        where=where,
        remedy=remedy,
    )


@dataclass(frozen=True)
class Verdict:
    """What the whole sheet says: status, governing check and every check that failed."""

    status: Status
    governing: Check
    failed: tuple[Check, ...]

    @property
    def head(self) -> str:
        """Verdict in a few words."""
        if self.status == "no_data" and not any(c.id in _CAPACITY for c in self.failed):
            return "No data for a check"
        return VERDICT_WORDS[self.status]

    @property
    def words(self) -> str:
        """Verdict in words, naming what failed."""
        head = self.head
        if not self.failed:
            return f"{head}. Governing check: {self.governing.title}."
        return f"{head}: " + "; ".join(c.title for c in self.failed) + "."


def _severity(check: Check) -> tuple[int, float]:
    rank = {"over": 2, "no_data": 1, "within": 0}[check.status]
    return rank, check.utilisation if check.utilisation is not None else (1e9 if rank else 0.0)


def verdict(checks: Sequence[Check]) -> Verdict:
    """Verdict over all checks of a sheet; an empty list raises :class:`InputError`."""
    if not checks:
        raise InputError.of("checks", [], "at least one check row")
    ids = [c.id for c in checks]
    if len(set(ids)) != len(ids):
        raise InputError.of("checks", sorted({i for i in ids if ids.count(i) > 1}), "unique ids")
    ranked = sorted(checks, key=_severity, reverse=True)
    failed = tuple(c for c in ranked if c.status != "within")
    return Verdict(status=ranked[0].status, governing=ranked[0], failed=failed)
