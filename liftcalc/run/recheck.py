"""Re-checking a record: trust nothing in it, recompute, compare, and say so in writing.

Order of work: the record is verified as something hostile; its template must be an installed one
(by hash) and its notebook must hold no other code; then the installed template runs, in a folder of
ours, on the archived inputs, which are data; results and everything the sheet shows are compared.
Nothing from the archive is executed at any point. The outcome becomes a record of its own.
"""

import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.errors import InputError, LiftcalcError, RecordError, failure_code
from liftcalc.records.blocks import BLOCK_MIME
from liftcalc.records.check_record import CheckOutcome, archive_check, outcome_from_plain
from liftcalc.records.compare import USUAL_TOLERANCE, Tolerance, causes, compare, compare_blocks
from liftcalc.records.html import PageFacts, blocks_of, figures_of, sheet_page
from liftcalc.records.inputs import validate_parameters
from liftcalc.records.manifest import MANIFEST_NAME, Manifest, library_versions
from liftcalc.records.verify import Verified, verify_record
from liftcalc.run.execute import Prepared, execute
from liftcalc.run.make import SheetOrder, page_facts, prepare
from liftcalc.run.workers import WorkItem, run_pool


def _expected_parameters(notebook: Mapping[str, Any]) -> str:
    for cell in notebook.get("cells", []):
        if "injected-parameters" in cell.get("metadata", {}).get("tags", []):
            source = cell.get("source", "")
            return "".join(source) if isinstance(source, list) else str(source)
    return ""


def _is_output(output: object) -> bool:
    if not isinstance(output, dict):
        return False
    data = output.get("data", {})
    return isinstance(data, dict) and isinstance(data.get(BLOCK_MIME, {}), dict)


def _is_notebook(notebook: Mapping[str, Any]) -> bool:
    """Has it the shape that the rest of the re-check relies on?"""
    cells = notebook.get("cells")
    if not isinstance(cells, list):
        return False
    for cell in cells:
        if not isinstance(cell, dict) or not isinstance(cell.get("metadata"), dict):
            return False
        tags, outputs = cell["metadata"].get("tags", []), cell.get("outputs", [])
        if not isinstance(tags, list) or not isinstance(outputs, list):
            return False
        if not isinstance(cell.get("source"), str) or not all(map(_is_output, outputs)):
            return False
    return True


def _check_notebook(verified: Verified, manifest: Manifest, outcome: CheckOutcome) -> None:
    """Does the archived notebook hold the template's code and nothing else?"""
    notebook = verified.json("sheet.ipynb")
    if not _is_notebook(notebook):
        outcome.findings.append("sheet.ipynb: is not an executed notebook")
        return
    cells = notebook["cells"]
    if resources.source_hash(notebook) != manifest.template_sha256:
        outcome.findings.append(
            "sheet.ipynb: its code or text is not that of the template the manifest names"
        )
    injected = [c for c in cells if "injected-parameters" in (c["metadata"].get("tags") or [])]
    if len(injected) != 1:
        outcome.findings.append("sheet.ipynb: does not hold exactly one cell of given parameters")


def _check_pages(
    verified: Verified, manifest: Manifest, ready: Prepared, outcome: CheckOutcome
) -> bool:
    """Do page and figures show what the archived notebook holds? False if it shows nothing."""
    notebook = verified.json("sheet.ipynb")
    try:
        figures = figures_of(notebook)
        facts: PageFacts = page_facts(
            ready, record=manifest.record, prepared_utc=manifest.prepared_utc,
            revises=manifest.revises,
        )  # fmt: skip
        page = sheet_page(notebook, facts)
    except (LiftcalcError, LookupError, TypeError, ValueError, AttributeError) as error:
        outcome.findings.append(f"sheet.ipynb: its outputs cannot be shown ({error})")
        return False
    archived = {k: v for k, v in verified.content.items() if k.startswith("figures/")}
    if archived != figures:
        outcome.findings.append("figures: are not those of the notebook")
    if manifest.code_sha256 != resources.code_hash():
        outcome.notes.append("page and PDF were not compared: another version drew them")
        return True
    if page != verified.content["sheet.html"]:
        outcome.findings.append("sheet.html: does not show what the notebook holds")
    if "sheet.pdf" not in verified.content:
        return True
    if manifest.versions.get("typst") != library_versions().get("typst"):
        outcome.notes.append("sheet.pdf was not compared: another version of typst drew it")
        return True
    from liftcalc.records.pdf import sheet_pdf

    if sheet_pdf(notebook, facts) != verified.content["sheet.pdf"]:
        outcome.findings.append("sheet.pdf: does not show what the notebook holds")
    return True


def _check_links(verified: Verified, manifest: Manifest, outcome: CheckOutcome) -> None:
    """Do inputs, manifest and (where it is there) the parent record agree?"""
    inputs = verified.json("inputs.json")
    parent = inputs.get("parent")
    link = parent.get("link") if isinstance(parent, dict) else None
    stated = [p.model_dump(mode="json") for p in manifest.parents]
    if stated != ([link] if link else []):
        outcome.findings.append("inputs.json: names another parent record than the manifest")
    if inputs.get("template") != manifest.template:
        outcome.findings.append("inputs.json: is for another template than the manifest says")
    for known in manifest.parents:
        folder = verified.folder.parent / known.record
        if not folder.is_dir():
            outcome.notes.append(f"the parent record {known.record} is not there")
            continue
        before = verify_record(folder)
        if not before.ok or before.manifest is None:
            outcome.findings.append(f"the parent record {known.record} is not whole")
        elif before.manifest.parent_link != known:
            outcome.findings.append(f"the parent record {known.record} is not the one built on")
        elif isinstance(parent, dict) and before.json("results.json") != parent.get("results"):
            outcome.findings.append("inputs.json: holds other results than the parent record")


def _note_signatures(folder: Path, manifest: Manifest, outcome: CheckOutcome) -> None:
    """Say which signatures lie beside the record; whose keys they are, the reader must know."""
    beside = folder.absolute().parent / f"{manifest.record}.signatures"
    if not beside.is_dir():
        return
    from liftcalc.records.sign import read_signatures

    try:
        signatures = read_signatures(beside, manifest.manifest_sha256)
    except InputError as error:
        outcome.notes.append(f"signatures were not verified: {error}")
        return
    for s in signatures:
        good = f"signed as {s.role} by {s.name} at {s.utc}, key {s.fingerprint}"
        outcome.notes.append(f"signature {s.file}: {s.problem}" if s.problem else good)


def _how_to_get(manifest: Manifest) -> str:
    version = manifest.versions.get("liftcalc", "unknown")
    python = manifest.versions.get("python", "unknown")
    made = (
        f"made with liftcalc {version} (Python {python}), template {manifest.template} "
        f"{manifest.template_sha256[:16]}; "
    )
    if version == __version__:
        return (
            f"{made}here is the same version with another text of that template. Install that "
            "version again from where this copy of it came from"
        )
    return (
        f"{made}here is liftcalc {__version__}. Re-check it in the environment kept beside the "
        "archive: liftcalc recheck --environment DIR"
    )


def _prepare_again(
    verified: Verified, manifest: Manifest, folder: Path, templates: Path | None
) -> Prepared:
    inputs = verified.content["inputs.json"]
    given = verified.json("inputs.json").get("parameters")
    if not isinstance(given, dict):
        raise InputError.of("parameters", given, "the parameters of the sheet")
    validate_parameters(manifest.template, **{str(k): v for k, v in given.items()})
    path = folder / "inputs.json"
    path.write_bytes(inputs)
    order = SheetOrder(
        template=manifest.template, job=str(path), lift=given.get("lift", ""),
        units=given.get("units", ""), revision=given.get("revision", ""),
        prepared_by=given.get("prepared_by", ""),
    )  # fmt: skip
    return prepare(order, templates=templates)


def _installed(manifest: Manifest, templates: Path | None) -> bool:
    try:
        return resources.template_hash(manifest.template, templates) == manifest.template_sha256
    except InputError:
        return False


def _examine(
    folder: Path, outcome: CheckOutcome, *, timeout_s: float | None, templates: Path | None,
    tolerance: Tolerance,
) -> Manifest | None:  # fmt: skip
    if not (folder.is_symlink() or (folder / MANIFEST_NAME).exists()):
        outcome.decision = "not a record"
        what = f"holds no {MANIFEST_NAME}" if folder.is_dir() else "is no folder"
        outcome.findings.append(f"it {what}" if folder.exists() else "there is no such folder")
        return None
    verified = verify_record(folder)
    manifest = verified.manifest
    outcome.findings = [str(f) for f in verified.findings]
    if manifest is not None:
        outcome.verdict = manifest.verdict
    if manifest is None or not verified.ok:
        outcome.decision = "differs"
        return manifest
    _note_signatures(folder, manifest, outcome)
    if manifest.kind == "check":
        outcome.decision = "matches"
        outcome.notes.append("a check record: its files were verified, there is nothing to re-run")
        return manifest
    _check_notebook(verified, manifest, outcome)
    _check_links(verified, manifest, outcome)
    if outcome.findings:
        outcome.decision = "differs"
        return manifest
    if not _installed(manifest, templates):
        outcome.decision = "cannot be re-run"
        outcome.findings.append(f"its template is not installed here: {_how_to_get(manifest)}")
        return manifest
    with tempfile.TemporaryDirectory(prefix="liftcalc-check-") as scratch:
        work = Path(scratch)
        try:
            ready = _prepare_again(verified, manifest, work, templates)
            if not _check_pages(verified, manifest, ready, outcome):
                outcome.decision = "differs"
                return manifest
            (work / "inputs.json").write_bytes(ready.inputs)
            executed = execute(ready, work, timeout_s=timeout_s, templates=templates)
        except LiftcalcError as error:
            outcome.fault = failure_code(getattr(error, "kind", "")) == 4
            outcome.decision = "cannot be re-run" if outcome.fault else "differs"
            outcome.findings.append(f"the archived inputs do not give a sheet: {error}")
            return manifest
    archived = verified.json("results.json")
    differences, outcome.numbers_compared = compare(archived, executed.plain_results, tolerance)
    notebook = verified.json("sheet.ipynb")
    if _expected_parameters(notebook) != _expected_parameters(executed.notebook):
        outcome.findings.append("sheet.ipynb: ran with other parameters than inputs.json states")
    differences += compare_blocks(blocks_of(notebook), blocks_of(executed.notebook), tolerance)
    outcome.differences = differences
    if differences:
        outcome.causes = causes(
            inputs_same=ready.inputs == verified.content["inputs.json"],
            code_same=manifest.code_sha256 == resources.code_hash(),
            archived_versions=manifest.versions,
            versions=library_versions(),
        )
    outcome.decision = "differs" if differences or outcome.findings else "matches"
    return manifest


def recheck_record(
    folder: Path, *, checker: str = "", out: Path | None = None, write: bool = True,
    timeout_s: float | None = None, templates: Path | None = None,
    tolerance: Tolerance = USUAL_TOLERANCE,
) -> CheckOutcome:  # fmt: skip
    """Re-check one record and (unless *write* is false) archive the outcome.

    The check record goes to *out*, or beside the record. A record that is broken, hostile or made
    by a template that is not installed gives an outcome, never an exception; only a check record
    that cannot be written raises :class:`InputError`.
    """
    outcome = CheckOutcome(
        record=folder.name, folder=str(folder), decision="differs", tolerance=str(tolerance)
    )
    try:
        manifest = _examine(
            folder, outcome, timeout_s=timeout_s, templates=templates, tolerance=tolerance
        )
    except RecordError as error:
        manifest = None
        outcome.decision = "differs"
        outcome.findings.append(str(error))
    if write and manifest is not None and manifest.kind == "sheet":
        target = out or folder.resolve().parent
        outcome.check_record = archive_check(outcome, manifest, checker, target).name
    return outcome


def recheck_plain(
    plain: dict[str, Any], *, tell: Callable[[dict[str, Any]], None]
) -> dict[str, Any]:
    """:func:`recheck_record` for a worker process: plain arguments in, plain outcome out."""
    tell({"begin": plain["folder"]})
    paths = {name: Path(plain[name]) if plain[name] else None for name in ("out", "templates")}
    tolerance = Tolerance(*plain["tolerance"])
    try:
        outcome = recheck_record(
            Path(plain["folder"]), **{**plain["options"], **paths, "tolerance": tolerance}
        )
    except LiftcalcError as error:
        return {"error": str(error)}
    return asdict(outcome)


def recheck_many(
    folders: Sequence[Path], *, workers: int, checker: str = "", out: Path | None = None,
    write: bool = True, timeout_s: float | None = None, templates: Path | None = None,
    tolerance: Tolerance = USUAL_TOLERANCE,
) -> list[CheckOutcome]:  # fmt: skip
    """Re-check many records on worker processes; outcomes in the order of the folders."""
    arguments = {
        "out": "" if out is None else str(out.absolute()),
        "templates": "" if templates is None else str(templates.absolute()),
        "tolerance": [tolerance.relative, tolerance.absolute],
        "options": {"checker": checker, "write": write, "timeout_s": timeout_s},
    }
    items = [
        WorkItem(
            str(number), f"{__name__}:recheck_plain",
            {"folder": str(folder.absolute()), **arguments}, timeout_s,
        )
        for number, folder in enumerate(folders)
    ]  # fmt: skip
    outcomes: dict[str, CheckOutcome] = {}

    def lost(item: WorkItem, why: str, overdue: bool) -> None:
        folder = item.arguments["folder"]
        outcomes[item.key] = CheckOutcome(
            record=Path(folder).name, folder=folder, decision="cannot be re-run",
            findings=[f"the re-check stopped: {why}"], tolerance=str(tolerance), fault=True,
        )  # fmt: skip

    def message(item: WorkItem, content: dict[str, Any]) -> None:
        if "done" not in content:
            return
        if "error" in content["done"]:
            raise InputError.of(
                "check record",
                item.arguments["folder"],
                f"a place to write it ({content['done']['error']})",
                "Name another place with --out, or use --no-record.",
            )
        outcomes[item.key] = outcome_from_plain(content["done"])

    run_pool(items, workers=workers, on_message=message, on_lost=lost)
    return [outcomes[item.key] for item in items]
