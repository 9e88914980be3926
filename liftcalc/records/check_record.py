"""What a re-check found: for the screen, for a page, and as a record of its own.

A check record names the record by the hash of its manifest, the checker, the decision, the stated
tolerance, every difference found and the causes known.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Literal

from liftcalc.base import resources
from liftcalc.base.foreign import visible
from liftcalc.base.strict_json import dumps, sha256_hex
from liftcalc.base.text import text_table
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.archive import Staging, entries
from liftcalc.records.believed import remember_own
from liftcalc.records.blocks import table
from liftcalc.records.compare import Difference
from liftcalc.records.derive import OF_THE_SHEET
from liftcalc.records.entries import UNSEEN
from liftcalc.records.environment import environment_text, versions_of
from liftcalc.records.manifest import Manifest, record_name, seal, utc_now
from liftcalc.records.pages import page, part, print_frame

Decision = Literal["matches", "differs", "numbers match, page not verified", "cannot be re-run", "not a record"]
_CODES = {"matches": 0, UNSEEN: 5}
CHECK_SCHEMA = "liftcalc/check/2"
RECHECK_LINE = "The re-check confirms the arithmetic, not the facts."
_MOST_SHOWN = 500


@dataclass
class CheckOutcome:
    """What a re-check found."""

    record: str
    folder: str
    decision: Decision
    findings: list[str] = field(default_factory=list)
    unverified: list[str] = field(default_factory=list)
    """What a reader sees and this re-check could not make again."""
    notes: list[str] = field(default_factory=list)
    differences: list[Difference] = field(default_factory=list)
    causes: list[str] = field(default_factory=list)
    numbers_compared: int = 0
    tolerance: str = ""
    check_record: str = ""
    verdict: str = ""
    manifest_sha256: str = ""
    fault: bool = False
    """The program failed, so that nothing was found out about the record."""

    @property
    def code(self) -> int:
        """Exit code: 0 when all matches (whatever its verdict says), 5 when only the numbers do."""
        return 4 if self.fault else _CODES.get(self.decision, 3)


def check_document(outcome: CheckOutcome, manifest: Manifest, checker: str) -> dict[str, Any]:
    """What ``check.json`` says of an outcome."""
    stated = manifest.model_dump(mode="json")
    return {
        "schema": CHECK_SCHEMA, "record": manifest.record,
        "manifest_sha256": manifest.manifest_sha256, "chain_sha256": manifest.chain_sha256,
        "sheet": {name: stated[name] for name in OF_THE_SHEET},
        "checker": checker, "decision": outcome.decision, "findings": outcome.findings,
        "unverified": outcome.unverified, "notes": outcome.notes, "tolerance": outcome.tolerance,
        "numbers_compared": outcome.numbers_compared,
        "differences": [asdict(d) for d in outcome.differences[:_MOST_SHOWN]],
        "differences_found": len(outcome.differences), "causes": outcome.causes,
        "versions_here": versions_of(environment_text()),
        "code_sha256_here": resources.code_hash(),
    }  # fmt: skip


def archive_check(
    outcome: CheckOutcome, manifest: Manifest, checker: str, target: Path, recalculated: Mapping[str, bytes]
) -> Path:
    """Archive the outcome; *recalculated* is the page as made here, where that is another one."""
    now = utc_now()
    name = record_name(manifest.job, manifest.lift, "check", manifest.revision, now)
    document = check_document(outcome, manifest, checker)
    files = {"check.json": dumps(document), "check.html": check_page(document, now)}
    files |= recalculated
    with Staging(target) as staging:
        staging.write(files)
        sealed = seal(
            **{name: getattr(manifest, name) for name in OF_THE_SHEET},
            kind="check", record=name, prepared_by=checker, prepared_utc=now,
            decision=outcome.decision, parents=(manifest.parent_link,), checks=manifest.link,
            code_sha256=document["code_sha256_here"], run_key=sha256_hex(files["check.json"]),
            versions=document["versions_here"], files=entries(files),
        )  # fmt: skip
        folder = staging.commit(sealed)
    remember_own(sealed.manifest_sha256)
    return folder


def check_page(document: Mapping[str, Any], now: str) -> bytes:
    """The page of a check record, from its document and its time."""
    of = document["sheet"]
    sheet = resources.SHEET_TITLES.get(of["template"], of["template"])
    verdict = STATE_WORDS.get(of["verdict"], of["verdict"])
    facts = (
        ("Decision", document["decision"]),
        ("Record", document["record"]),
        ("Sheet", f"{sheet}, lift {of['lift']}, {of['job']}, revision {of['revision']}"),
        ("Verdict of the sheet", f"{verdict}: {of['governing']}"),
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
        ("Not verified", document["unverified"]),
        ("Causes known", document["causes"]),
        ("Notes", document["notes"]),
    )
    title = f"Check of {document['record']}"
    css = "body { margin: 0 auto; max-width: 190mm; padding: 6mm; } td { overflow-wrap: anywhere; }"
    return page(
        title, part("check_body", document["checker"], tables, lists, RECHECK_LINE),
        css + print_frame(title, of["units"], of["invented"]), units=of["units"], invented=of["invented"],
    )  # fmt: skip


def outcome_lines(outcome: CheckOutcome) -> list[str]:
    """The outcome as lines for the screen, with the table of differences."""
    lines = [f"{outcome.record}: {outcome.decision}"]
    if outcome.numbers_compared:
        lines[0] += f" ({outcome.numbers_compared} numbers compared, {outcome.tolerance})"
    lines += [f"  found: {text}" for text in outcome.findings]
    lines += [f"  not verified: {text}" for text in outcome.unverified]
    shown = outcome.differences[:20]
    if shown:
        rows = [("where", "archived", "recalculated", "difference")]
        rows += [(d.where, d.archived[:40], d.recalculated[:40], d.size) for d in shown]
        lines += [f"  {line}" for line in text_table(rows)]
        if len(outcome.differences) > len(shown):
            lines.append(f"  ... and {len(outcome.differences) - len(shown)} more")
    lines += [f"  cause: {text}" for text in outcome.causes]
    lines += [f"  note: {text}" for text in outcome.notes]
    return list(map(visible, lines))
