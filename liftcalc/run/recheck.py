"""Re-checking a record: trust nothing in it, recompute, compare, and say so in writing.

The record is verified as something hostile; its template must be an installed one (by hash) and its
notebook must hold no other code; then the installed template runs, in a folder of ours, on the
archived inputs, which are data; results and everything the sheet shows are compared. Nothing from
the archive is executed at any point. The outcome becomes a record of its own.
"""

import difflib
import tempfile
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.errors import InputError, LiftcalcError, RecordError, failure_code
from liftcalc.records import compare
from liftcalc.records.believed import remember_own
from liftcalc.records.check_record import CheckOutcome, archive_check, check_document, check_page
from liftcalc.records.drawings import drawing_differences
from liftcalc.records.entries import UNSEEN
from liftcalc.records.environment import environment_text, published, versions_of
from liftcalc.records.html import page_facts, page_faults, sheet_page
from liftcalc.records.manifest import MANIFEST_NAME, Manifest
from liftcalc.records.trust import Trusted, signature_findings
from liftcalc.records.verify import Verified, verify_record
from liftcalc.run.again import Again, check_notebook, figures_in, made_here, notebook_of
from liftcalc.run.kept import compare_kept
from liftcalc.run.links import chain_of, check_links, check_log
from liftcalc.run.workers import WorkItem, run_pool

_MOST_LINES = 40
_MAY_CHANGE = ("check.notes", "check.unverified", "check.versions_here", "check.tolerance")
"""What a later re-check may rightly say otherwise: signatures come, packages change."""


def _compare_shown(verified: Verified, again: Again, outcome: CheckOutcome) -> None:
    """Everything a reader sees, against the same made again."""
    notebook, inside = notebook_of(verified)
    told = outcome.findings if again.same_code else outcome.unverified
    shown = compare.compare_exactly(notebook, again.notebook, "sheet")
    edges = [d for d in shown if d.size == compare.ROUNDED]
    if again.same_code:
        outcome.differences += [d for d in shown if d not in edges]
        outcome.unverified += [f"{d.where}: {d.archived}, here {d.recalculated}" for d in edges]
    elif shown:
        outcome.unverified.append(f"sheet.ipynb: {len(shown)} things in it are not as made here")
    exact = outcome.findings if again.same_code and again.same_packages else outcome.unverified
    drawn = {**figures_in(verified), **inside}
    two = [name for name in inside if verified.content.get(name, inside[name]) != inside[name]]
    outcome.findings += [f"{name}: is not the drawing in sheet.ipynb" for name in two]
    for name in sorted(set(drawn) | set(again.figures)):
        if name not in drawn or name not in again.figures:
            told.append(f"{name}: {'is missing' if name not in drawn else 'is no drawing of it'}")
        elif drawn[name] != again.figures[name] and not name.endswith(".svg"):
            exact.append(f"{name}: is not what the sheet gives when it is made again")
        elif drawn[name] != again.figures[name]:
            where = drawing_differences(drawn[name], again.figures[name])
            exact += [f"{name}: {text}" for text in where]
            if again.same_code and again.same_packages and not where:
                outcome.unverified.append(f"{name}: the same as drawn, not byte for byte")
    for name, made in (("sheet.html", again.page), ("sheet.pdf", again.pdf)):
        if name in verified.content and made is None:
            outcome.unverified.append(f"{name}: cannot be printed here (extra 'pdf')")
        elif name in verified.content and made != verified.content[name]:
            exact.append(f"{name}: is not what the sheet gives when it is made again")
    outcome.findings += [
        f"{name}: {odd}"
        for name, page in verified.content.items() if name.endswith(".html")
        for odd in page_faults(page)
    ]  # fmt: skip


def _compare(
    verified: Verified, manifest: Manifest, again: Again, outcome: CheckOutcome, tolerance: compare.Tolerance
) -> None:
    archived = verified.json("results.json")
    found, outcome.numbers_compared = compare.compare(archived, again.results, tolerance)
    if not again.same_code:
        new = [d for d in found if d.archived == "not there"]
        outcome.notes += [f"only here: {d.where}" for d in new]
        found = [d for d in found if d not in new]
        outcome.unverified.append(_other_code(verified, manifest))
        outcome.notes += _template_lines(verified.json("sheet.ipynb"), again.notebook)
    elif again.inputs != verified.content["inputs.json"]:
        outcome.findings.append("inputs.json: is not what this program writes of it")
    outcome.differences += found
    if again.same_code and again.same_packages:
        near, _ = compare.compare(archived, again.results, compare.LAST_DIGITS)
        outcome.unverified += [f"{d.where}: {d.archived}, here {d.recalculated}" for d in near if d not in found]
    _compare_shown(verified, again, outcome)
    if not again.same_packages:
        outcome.unverified.append("environment.txt: the packages it names are not those here")
    if outcome.differences:
        outcome.causes = compare.causes(
            inputs_same=again.inputs == verified.content["inputs.json"],
            code_same=again.same_code, archived_versions=manifest.versions,
            versions=versions_of(environment_text()),
        )  # fmt: skip


def _other_code(verified: Verified, manifest: Manifest) -> str:
    version = manifest.versions.get("liftcalc", "unknown")
    known = published(version, manifest.template, manifest.template_sha256, manifest.code_sha256)
    return (
        f"it was made by liftcalc {version} in {'its published' if known else 'NO published'} "
        f"state, here is {__version__}: what it shows was not made again. With the packages kept "
        "beside the archive: recheck --environment"
    )


def _template_lines(archived: Mapping[str, Any], here: Mapping[str, Any]) -> list[str]:
    """Lines of the template that are not the same, at most some forty."""
    was, now = (
        [
            line
            for cell in notebook["cells"]
            if "injected-parameters" not in cell["metadata"].get("tags", [])
            for line in str(cell["source"]).splitlines()
        ]
        for notebook in (archived, here)
    )
    lines = [
        line
        for line in difflib.unified_diff(was, now, n=0, lineterm="")
        if line[:3] not in ("---", "+++") and line[:2] != "@@"
    ]
    head = [f"{len(lines)} lines of the template differ (- archived, + here)"] if lines else []
    return [*head, *lines[:_MOST_LINES]]


@dataclass(frozen=True)
class How:
    """How records are made again and compared; *decided*: what was just found of others."""

    timeout_s: float | None = None
    templates: Path | None = None
    tolerance: compare.Tolerance = compare.USUAL_TOLERANCE
    environment: Path | None = None
    decided: Mapping[str, str] = field(default_factory=dict)


def _examine(
    folder: Path, outcome: CheckOutcome, how: How, read: Verified | None = None
) -> tuple[Manifest | None, dict[str, bytes]]:
    def again_of(other: Verified) -> CheckOutcome:
        found = _blank(other.folder, how)
        _examine(other.folder, found, how, other)
        return found

    def decision(other: Verified) -> str:
        assert other.manifest is not None
        return how.decided.get(other.manifest.manifest_sha256) or again_of(other).decision

    if not (folder.is_symlink() or (folder / MANIFEST_NAME).exists()):
        outcome.decision = "not a record"
        what = f"holds no {MANIFEST_NAME}" if folder.is_dir() else "is no folder"
        outcome.findings.append(f"it {what}" if folder.exists() else "there is no such folder")
        return None, {}
    verified = read or verify_record(folder)  # what was read once is not read again
    manifest = verified.manifest
    outcome.findings = [str(f) for f in verified.findings]
    if manifest is not None:
        outcome.verdict, outcome.manifest_sha256 = manifest.verdict, manifest.manifest_sha256
    if manifest is None or not verified.ok:
        return manifest, {}
    check_log(verified, manifest, outcome)
    if manifest.kind == "check":
        _examine_check(verified, manifest, outcome, again_of)
        return manifest, {}
    check_notebook(verified, manifest, outcome)
    if outcome.findings:
        return manifest, {}
    check_links(verified, manifest, outcome, decision)
    made: dict[str, bytes] = {}
    with tempfile.TemporaryDirectory(prefix="liftcalc-check-") as scratch:
        work = Path(scratch)
        try:
            if how.environment is None:
                again = made_here(verified, manifest, work, timeout_s=how.timeout_s, templates=how.templates)
                _compare(verified, manifest, again, outcome, how.tolerance)
            else:
                compare_kept(
                    verified, manifest, how.environment, outcome, tolerance=how.tolerance, timeout_s=how.timeout_s
                )
        except LiftcalcError as error:
            outcome.fault = failure_code(error.kind) == 4
            refused = outcome.fault or manifest.code_sha256 != resources.code_hash()
            refused |= how.environment is not None
            outcome.decision = "cannot be re-run" if refused else "differs"
            outcome.findings.append(f"it cannot be made again: {error}")
            return manifest, {}
    if outcome.differences or outcome.findings:
        return manifest, {}
    outcome.decision = UNSEEN if outcome.unverified else "matches"
    if outcome.unverified and how.environment is None:
        facts = replace(page_facts(manifest), title=f"Recalculated: {page_facts(manifest).title}")
        made = {"recalculated.html": sheet_page(again.notebook, facts), **again.figures}
    return manifest, made


def _examine_check(
    verified: Verified, manifest: Manifest, outcome: CheckOutcome, again_of: Callable[[Verified], CheckOutcome]
) -> None:
    """A check record: what it checks is re-checked, and must be found as it says."""
    document = verified.json("check.json")
    try:
        page = check_page(document, manifest.prepared_utc)
    except (LookupError, TypeError, ValueError, AttributeError) as error:
        outcome.findings.append(f"check.json: is not that of a check record ({error!r})"[:200])
        return
    here = manifest.code_sha256 == resources.code_hash()
    if page != verified.content["check.html"]:
        (outcome.findings if here else outcome.unverified).append("check.html: does not show what check.json says")
    for name in sorted(verified.content.keys() - {"check.json", "check.html"}):
        outcome.unverified.append(f"{name}: re-check the record itself to see it")
        if name.endswith(".html"):
            odd = page_faults(verified.content[name])
            outcome.findings += [f"{name}: {text}" for text in odd]
    checked = verify_record(verified.folder.parent / str(document["record"]))
    if checked.manifest is not None and checked.manifest.kind != "sheet":
        outcome.findings.append("it checks what is no sheet")
    elif checked.manifest is None or not here:
        outcome.unverified.append(
            "it was written by another state of liftcalc's code" if not here
            else "the record that it checks is not there, so that it was not re-checked"
        )  # fmt: skip
    else:
        found = again_of(checked)
        as_here = check_document(found, checked.manifest, manifest.prepared_by)
        for d in compare.compare_exactly(document, as_here, "check"):
            if d.where.startswith(_MAY_CHANGE):
                outcome.unverified.append(f"{d.where}: {d.archived}, here {d.recalculated}")
            else:
                outcome.differences.append(d)
    if not (outcome.findings or outcome.differences):
        outcome.decision = UNSEEN if outcome.unverified else "matches"


def _blank(folder: Path, how: How) -> CheckOutcome:
    return CheckOutcome(folder.name, str(folder), "differs", tolerance=str(how.tolerance))


def recheck_record(
    folder: Path, *, checker: str = "", out: Path | None = None, write: bool = True,
    trusted: Trusted | None = None, require: Collection[str] = (), **options: Any,
) -> CheckOutcome:  # fmt: skip
    """Re-check one record and (unless *write* is false) archive it; *options*: see :class:`How`.

    The check record goes to *out*, or beside the record. A record that is broken, hostile or made
    by a template that is not installed gives an outcome, never an exception; only a check record
    that cannot be written raises :class:`InputError`. A signature that is not valid, or is required
    and missing, is found of the record as it lies there, and is a note of the check record.
    """
    how = How(**options)
    outcome = _blank(folder, how)
    try:
        manifest, made = _examine(folder, outcome, how)
    except RecordError as error:
        manifest, made = None, {}
        outcome.decision = "differs"
        outcome.findings.append(str(error))
    if manifest is None:
        return outcome
    if outcome.decision == "matches" and how.environment is None:
        remember_own(manifest.manifest_sha256)
    of_signatures, notes = signature_findings(folder, manifest, trusted, require)
    outcome.notes += notes
    if write and manifest.kind == "sheet":
        target = out or folder.resolve().parent
        noted = replace(outcome, notes=[*outcome.notes, *of_signatures])
        outcome.check_record = archive_check(noted, manifest, checker, target, made).name
    outcome.findings += of_signatures
    if of_signatures and outcome.decision != "cannot be re-run":
        outcome.decision = "differs"
    return outcome


def recheck_told(arguments: dict[str, Any], *, tell: Callable[[dict[str, Any]], None]) -> object:
    """:func:`recheck_record` in a worker process; in words, what keeps its outcome from a disk."""
    tell({"begin": arguments["folder"]})
    try:
        return recheck_record(**arguments)
    except LiftcalcError as error:
        return str(error)


def recheck_many(folders: Sequence[Path], *, workers: int, **options: Any) -> list[CheckOutcome]:
    """Re-check many records on worker processes; outcomes in the order of the folders.

    *options* are those of :func:`recheck_record`.
    """
    items = []
    decided: dict[str, dict[str, str]] = {}
    places = [(folder.absolute(), *chain_of(str(folder.absolute()))) for folder in folders]
    # What a sheet builds on is decided before it where that can be, and is then not made twice.
    for number in sorted(range(len(places)), key=lambda n: places[n][2]):
        folder, chain, _ = places[number]
        arguments = {"folder": folder, "decided": decided.setdefault(chain, {}), **options}
        work = f"{__name__}:recheck_told"
        items.append(WorkItem(str(number), work, arguments, options.get("timeout_s")))
    outcomes: dict[str, CheckOutcome] = {}

    def lost(item: WorkItem, why: str, overdue: bool) -> None:
        tolerance = options.get("tolerance", compare.USUAL_TOLERANCE)
        outcomes[item.key] = replace(
            _blank(item.arguments["folder"], How(tolerance=tolerance)), fault=True,
            decision="cannot be re-run", findings=[f"the re-check stopped: {why}"],
        )  # fmt: skip

    def message(item: WorkItem, content: dict[str, Any]) -> None:
        if "done" not in content:
            return
        if isinstance(outcome := content["done"], str):
            raise InputError.of(
                "check record", str(item.arguments["folder"]), f"a place to write it ({outcome})",
                "Name another place with --out, or use --no-record.",
            )  # fmt: skip
        outcomes[item.key] = outcome
        item.arguments["decided"][outcome.manifest_sha256] = outcome.decision

    run_pool(items, workers=workers, on_message=message, on_lost=lost)
    return [outcomes[str(number)] for number in range(len(folders))]
