"""Making one record: run a template on validated inputs and archive what it concluded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.errors import InputError, Problem
from liftcalc.base.strict_json import dumps, sha256_hex
from liftcalc.facts.io import read_data
from liftcalc.records.archive import Staging
from liftcalc.records.html import PageFacts, blocks_of, figures_of, sheet_page
from liftcalc.records.inputs import (
    facts_for,
    inputs_document,
    load_job_for,
    resolve_parent,
    validate_parameters,
)
from liftcalc.records.manifest import Link, Manifest, library_versions, record_name, seal, utc_now
from liftcalc.records.verify import require_record
from liftcalc.run.execute import Prepared, execute

if TYPE_CHECKING:
    from liftcalc.facts.job import Job

_GIVEN = ("job", "lift", "parent", "prepared_by", "revision", "units")


@dataclass(frozen=True)
class SheetOrder:
    """What to make: the parameters of one sheet, and the record it revises if any."""

    template: str
    job: str = ""
    lift: str = "L1"
    parent: str = ""
    units: str = "metric"
    revision: str = "A"
    prepared_by: str = ""
    revises: Link | None = None


@dataclass(frozen=True)
class Made:
    """A record that was written (or found to exist already)."""

    folder: Path
    manifest: Manifest
    reused: bool = False


def prepare(
    order: SheetOrder, *, templates: Path | None = None, job: Job | None = None
) -> Prepared:
    """Validate an order and gather its inputs, before any kernel starts.

    *job* saves reading the facts again when the caller has them. Raises :class:`InputError` with
    every wrong parameter or fact, :class:`RecordError` when the parent record is not whole.
    """
    values = {name: getattr(order, name) for name in _GIVEN}
    given = validate_parameters(order.template, results_file="results.json", **values)
    template_sha256 = resources.template_hash(order.template, templates)
    embedded = None
    if job is None:
        job, embedded = load_job_for(given)
    own = facts_for(given, job)
    parent = resolve_parent(given, embedded, own)
    run = given.model_copy(update={"job": "inputs.json", "parent": ""})
    inputs = dumps(inputs_document(run, own, parent))
    made_by = {"template": template_sha256, "inputs": sha256_hex(inputs)}
    made_by |= {"version": __version__, "code": resources.code_hash()}
    return Prepared(
        parameters=run, job=own, parent=parent, inputs=inputs, template_sha256=template_sha256,
        run_key=sha256_hex(dumps(made_by)),
    )  # fmt: skip


def _governing(results: Mapping[str, Any], notebook: Mapping[str, Any]) -> str:
    """Governing check in the words of the sheet, with the condition on which it holds."""
    said = [b["check"] for b in blocks_of(notebook) if b["kind"] == "verdict" and "check" in b]
    check = next(c for c in results["checks"] if c["id"] == results["governing"])
    on = f", on condition: {check['condition']}" if check["condition"] else ""
    return (said[0] if said else str(check["title"]))[: 500 - len(on)] + on


def page_facts(
    prepared: Prepared, *, record: str, prepared_utc: str, revises: Link | None
) -> PageFacts:
    """What page and PDF say about the record."""
    p = prepared.parameters
    title = resources.SHEET_TITLES.get(p.template, p.template)
    return PageFacts(
        record=record, title=f"{title}, lift {p.lift}, {prepared.job.id}, revision {p.revision}",
        prepared_utc=prepared_utc, template=p.template, template_sha256=prepared.template_sha256,
        inputs_sha256=sha256_hex(prepared.inputs), version=__version__,
        revises="" if revises is None else revises.record,
        units=p.units,
        invented=prepared.job.invented,
    )  # fmt: skip


def make_record(
    order: SheetOrder, archive: Path, *, pdf: bool = False, timeout_s: float | None = None,
    templates: Path | None = None, prepared: Prepared | None = None,
) -> Made:  # fmt: skip
    """Run one sheet and archive it in *archive*; returns the new record.

    Nothing is left behind when the sheet does not reach its conclusion. Raises
    :class:`InputError`, :class:`RecordError` or :class:`SheetError`.
    """
    ready = prepared or prepare(order, templates=templates)
    p = ready.parameters
    with Staging(archive) as staging:
        staging.write({"inputs.json": ready.inputs})
        executed = execute(ready, staging.path, timeout_s=timeout_s, templates=templates)
        now = utc_now()
        job = ready.job
        name = record_name(job.id, p.lift, p.template, p.revision, now)
        facts = page_facts(ready, record=name, prepared_utc=now, revises=order.revises)
        results = executed.plain_results
        files = {
            "sheet.ipynb": dumps(executed.notebook),
            "sheet.html": sheet_page(executed.notebook, facts),
            **figures_of(executed.notebook),
        }
        if pdf:
            from liftcalc.records.pdf import sheet_pdf

            files["sheet.pdf"] = sheet_pdf(executed.notebook, facts)
        staging.write(files)
        content = {"inputs.json": ready.inputs, "results.json": executed.results, **files}
        lift = next(item for item in job.lifts if item.id == p.lift)
        manifest = seal(
            kind="sheet", record=name, job=job.id, job_title=job.title[:500], invented=job.invented,
            lift=p.lift, lift_title=lift.title[:500], template=p.template, revision=p.revision,
            units=p.units, prepared_by=p.prepared_by, prepared_utc=now, verdict=results["verdict"],
            governing=_governing(results, executed.notebook),
            parents=() if ready.parent is None or not ready.parent.link else (ready.parent.link,),
            revises=order.revises, template_sha256=ready.template_sha256,
            code_sha256=resources.code_hash(), run_key=ready.run_key, versions=library_versions(),
            files=staging.entries(content),
        )  # fmt: skip
        return Made(staging.commit(manifest), manifest)


def order_of(template: str, params: Path | None) -> SheetOrder:
    """The order for a sheet with the parameters of a file; paths in it start where the file is."""
    given = {} if params is None else read_data(params)
    if not isinstance(given, dict):
        raise InputError.of("params", type(given).__name__, "a mapping of parameters")
    unknown = sorted({*map(str, given)} - {*_GIVEN})
    if unknown:
        known = f"known: {', '.join(_GIVEN)}"
        problems = [Problem("", None, f'Unknown parameter "{name}"; {known}') for name in unknown]
        raise InputError(problems)
    base = Path() if params is None else params.resolve().parent
    for name in ("job", "parent"):
        if isinstance(given.get(name), str) and given[name]:
            given = {**given, name: str(base / given[name])}
    return SheetOrder(template=template, **given)


def revising(order: SheetOrder, ready: Prepared, record: Path) -> SheetOrder:
    """The same order as a revision of a record, which must be of the same sheet, job and lift."""
    old = require_record(record).manifest
    assert old is not None
    what = (ready.parameters.template, ready.job.id, ready.parameters.lift)
    if old.kind != "sheet" or (old.template, old.job, old.lift) != what:
        allowed = "a record of the same sheet, job and lift: " + ", ".join(what)
        raise InputError.of("revises", old.record, allowed)
    return replace(order, revises=old.link)
