"""What a re-check found: for the screen, for a page, and as a record of its own.

A check record names the record by the hash of its manifest, the checker, the decision, the stated
tolerance, every difference found and the causes known.
"""

from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Literal

from liftcalc.base import resources
from liftcalc.base.strict_json import dumps, sha256_hex
from liftcalc.base.text import text_table
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.archive import Staging
from liftcalc.records.blocks import table
from liftcalc.records.compare import Difference
from liftcalc.records.manifest import Manifest, library_versions, record_name, seal, utc_now
from liftcalc.records.pages import page, part, print_frame

Decision = Literal["matches", "differs", "cannot be re-run", "not a record"]
CHECK_SCHEMA = "liftcalc/check/1"
RECHECK_LINE = "The re-check confirms the arithmetic, not the facts."
_MOST_SHOWN = 500
_OF_THE_RECORD = (
    *("job", "job_title", "lift", "lift_title", "template", "revision", "units"),
    *("verdict", "governing", "template_sha256", "invented"),
)


@dataclass
class CheckOutcome:
    """What a re-check found."""

    record: str
    folder: str
    decision: Decision
    findings: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    differences: list[Difference] = field(default_factory=list)
    causes: list[str] = field(default_factory=list)
    numbers_compared: int = 0
    tolerance: str = ""
    check_record: str = ""
    verdict: str = ""
    fault: bool = False
    """The program failed, so that nothing was found out about the record."""

    @property
    def code(self) -> int:
        """Exit code: 0 when the record matches (whatever its verdict says), else 3, or 4."""
        if self.fault:
            return 4
        return 0 if self.decision == "matches" else 3


def _check_document(outcome: CheckOutcome, manifest: Manifest, checker: str) -> dict[str, Any]:
    return {
        "schema": CHECK_SCHEMA, "record": manifest.record,
        "manifest_sha256": manifest.manifest_sha256, "checker": checker,
        "decision": outcome.decision,
        "verdict_of_record": f"condition: {manifest.governing}"
        if manifest.verdict == "condition"
        else manifest.verdict,
        "findings": outcome.findings, "notes": outcome.notes, "tolerance": outcome.tolerance,
        "numbers_compared": outcome.numbers_compared,
        "differences": [asdict(d) for d in outcome.differences[:_MOST_SHOWN]],
        "differences_found": len(outcome.differences), "causes": outcome.causes,
        "versions_here": library_versions(), "code_sha256_here": resources.code_hash(),
    }  # fmt: skip


def archive_check(outcome: CheckOutcome, manifest: Manifest, checker: str, target: Path) -> Path:
    now = utc_now()
    name = record_name(manifest.job, manifest.lift, "check", manifest.revision, now)
    document = _check_document(outcome, manifest, checker)
    files = {"check.json": dumps(document), "check.html": _page(document, manifest, now)}
    with Staging(target) as staging:
        staging.write(files)
        sealed = seal(
            **{name: getattr(manifest, name) for name in _OF_THE_RECORD},
            kind="check", record=name, prepared_by=checker, prepared_utc=now,
            decision=outcome.decision, parents=(manifest.parent_link,), checks=manifest.link,
            code_sha256=resources.code_hash(), run_key=sha256_hex(files["check.json"]),
            versions=library_versions(), files=staging.entries(files),
        )  # fmt: skip
        return staging.commit(sealed)


def _page(document: dict[str, Any], manifest: Manifest, now: str) -> bytes:
    sheet = resources.SHEET_TITLES.get(manifest.template, manifest.template)
    verdict = STATE_WORDS.get(manifest.verdict, manifest.verdict)
    facts = (
        ("Decision", document["decision"]),
        ("Record", document["record"]),
        ("Sheet", f"{sheet}, lift {manifest.lift}, {manifest.job}, revision {manifest.revision}"),
        ("Verdict of the sheet", f"{verdict}: {manifest.governing}"),
        ("Checked by", document["checker"] or "not named"),
        ("Date and time (UTC)", now),
        ("Numbers compared", document["numbers_compared"]),
        ("Tolerance", document["tolerance"]),
        ("Manifest SHA-256", document["manifest_sha256"]),
    )
    names = ("Where", "Archived", "Recalculated", "Difference")
    rows = [[*d.values()] for d in document["differences"]]
    tables = (table("", ("Re-check", "Outcome"), facts), table("Differences", names, rows))
    lists = (
        ("Findings", document["findings"]),
        ("Causes known", document["causes"]),
        ("Notes", document["notes"]),
    )
    title = f"Check of {document['record']}"
    css = "body { margin: 0 auto; max-width: 190mm; padding: 6mm; } td { overflow-wrap: anywhere; }"
    return page(
        title, part("check_body", document["checker"], tables, lists, RECHECK_LINE),
        css + print_frame(title, manifest.units, manifest.invented), units=manifest.units,
        invented=manifest.invented,
    )  # fmt: skip


def outcome_lines(outcome: CheckOutcome) -> list[str]:
    """The outcome as lines for the screen, with the table of differences."""
    lines = [f"{outcome.record}: {outcome.decision}"]
    if outcome.numbers_compared:
        lines[0] += f" ({outcome.numbers_compared} numbers compared, {outcome.tolerance})"
    lines += [f"  found: {text}" for text in outcome.findings]
    shown = outcome.differences[:20]
    if shown:
        rows = [("where", "archived", "recalculated", "difference")]
        rows += [(d.where, d.archived[:40], d.recalculated[:40], d.size) for d in shown]
        lines += [f"  {line}" for line in text_table(rows)]
        if len(outcome.differences) > len(shown):
            lines.append(f"  ... and {len(outcome.differences) - len(shown)} more")
    lines += [f"  cause: {text}" for text in outcome.causes]
    lines += [f"  note: {text}" for text in outcome.notes]
    return lines


def outcome_from_plain(plain: dict[str, Any]) -> CheckOutcome:
    """The outcome from the plain values of a worker."""
    plain = {**plain, "differences": [Difference(**d) for d in plain["differences"]]}
    return CheckOutcome(**plain)
