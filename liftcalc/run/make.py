"""Making one record: run a template on validated inputs and archive what it concluded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.errors import InputError, Problem
from liftcalc.base.strict_json import dumps, loads, sha256_hex
from liftcalc.facts.io import read_data
from liftcalc.records.archive import Staging, current, entries, records_of_sheet
from liftcalc.records.believed import own_records, remember_own
from liftcalc.records.derive import fields_of_sheet, run_key_of
from liftcalc.records.environment import environment_text, versions_of
from liftcalc.records.html import page_facts, sheet_page
from liftcalc.records.inputs import facts_for, inputs_document, load_job_for, resolve_parent, validate_parameters
from liftcalc.records.log import archive_lock
from liftcalc.records.manifest import (
    MANIFEST_NAME,
    Link,
    Manifest,
    ParentLink,
    manifest_bytes,
    record_name,
    resealed,
    seal,
    utc_now,
)
from liftcalc.records.verify import require_record, verify_record
from liftcalc.run.execute import Executed, Prepared, execute

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
    revises: tuple[Link, ...] = ()


@dataclass(frozen=True)
class Made:
    """A record that was written (or found to exist already), and the sheet's *before* it."""

    folder: Path
    manifest: Manifest
    reused: bool = False
    before: tuple[Manifest, ...] = field(default=(), repr=False)

    @property
    def superseded_by(self) -> list[str]:
        """Later records that revise this one."""
        own = self.manifest.link
        return [m.record for m in self.before if own in m.revises]

    @property
    def on_trust(self) -> list[str]:
        """Records built on that this user's program neither made nor found to match."""
        parents = self.manifest.parents
        return [p.record for p in parents if p.manifest_sha256 not in own_records()]


def prepare(order: SheetOrder, *, templates: Path | None = None, job: Job | None = None) -> Prepared:
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
    key = run_key_of(
        template=template_sha256, inputs=sha256_hex(inputs), version=__version__, code=resources.code_hash()
    )
    return Prepared(parameters=run, job=own, parent=parent, inputs=inputs, template_sha256=template_sha256, run_key=key)


def compose(
    ready: Prepared, executed: Executed, *, record: str, prepared_utc: str,
    revises: Sequence[Link] = (), pdf: bool = False,
) -> tuple[Manifest, dict[str, bytes]]:  # fmt: skip
    """The whole of a record from an executed sheet: its manifest and every other file.

    The same sheet, name and time give the same bytes, which a re-check relies on.
    """
    environment = environment_text()
    files = {
        "inputs.json": ready.inputs, "results.json": executed.results,
        "sheet.ipynb": dumps(executed.notebook), "environment.txt": environment, **executed.figures,
    }  # fmt: skip
    fields = fields_of_sheet(loads(ready.inputs, "inputs.json"), executed.plain_results)
    fields |= {
        "kind": "sheet", "record": record, "prepared_utc": prepared_utc,
        "parents": tuple(ParentLink(**link) for link in fields["parents"]),
        "revises": tuple(revises), "template_sha256": ready.template_sha256,
        "code_sha256": resources.code_hash(), "run_key": ready.run_key,
        "versions": versions_of(environment), "environment_sha256": sha256_hex(environment),
    }  # fmt: skip
    draft = seal(**fields, files=entries(files))
    files["sheet.html"] = sheet_page(executed.notebook, page_facts(draft))
    if pdf:
        files["sheet.pdf"] = printed(resealed(draft, entries(files)), files, executed.notebook)
    return seal(**fields, files=entries(files)), files


def printed(manifest: Manifest, files: Mapping[str, bytes], notebook: Mapping[str, Any]) -> bytes:
    """The PDF of a record, with its data in it; *manifest* as it is without the PDF."""
    from liftcalc.records.pdf import sheet_pdf

    attached = {name: files[name] for name in ("inputs.json", "results.json")}
    attached[MANIFEST_NAME] = manifest_bytes(manifest)
    return sheet_pdf(notebook, files, page_facts(manifest), attached)


def make_record(
    order: SheetOrder, archive: Path, *, pdf: bool = False, timeout_s: float | None = None,
    templates: Path | None = None, prepared: Prepared | None = None, fresh: bool = False,
) -> Made:  # fmt: skip
    """Run one sheet and archive it in *archive*; returns the record.

    A whole record made of the same by the same is not made again, unless *fresh*: one that this user's program did not
    make is taken only if it is the same, byte for byte, once made again. Otherwise the new one revises what is current
    of its sheet at the moment when it is put in place, so that two who work at once never leave two current records of
    one sheet. Nothing is left behind when the sheet does not reach its conclusion.

    Raises: :class:`InputError`, :class:`RecordError` or :class:`SheetError`.
    """
    ready = prepared or prepare(order, templates=templates)
    p = ready.parameters

    def look() -> tuple[Made | None, tuple[Link, ...], tuple[Manifest, ...]]:
        before = records_of_sheet(archive, ready.job.id, p.lift, p.template)
        revises = _to_revise(order, before)
        same = None
        if not (fresh or order.revises or len(revises) > 1):
            same = _made_already(ready.run_key, archive, before, pdf=pdf)
        return same, revises, tuple(before)

    same, revises, _ = look()
    if same is not None and same.manifest.manifest_sha256 in own_records():
        return same
    with Staging(archive) as staging:
        staging.write({"inputs.json": ready.inputs})
        executed = execute(ready, staging.path, timeout_s=timeout_s, templates=templates)
        while True:
            now = utc_now()
            name = record_name(ready.job.id, p.lift, p.template, p.revision, now)
            manifest, files = compose(ready, executed, record=name, prepared_utc=now, revises=revises, pdf=pdf)
            written = ("inputs.json", "results.json")
            with archive_lock(archive):
                seen = revises
                same, revises, before = look()
                if same is not None and _is_right(same.manifest, ready, executed):
                    return same
                if revises == seen:
                    staging.write({k: data for k, data in files.items() if k not in written})
                    folder = staging.commit(manifest)
                    remember_own(manifest.manifest_sha256)
                    return Made(folder, manifest, before=before)


def _is_right(manifest: Manifest, ready: Prepared, executed: Executed) -> bool:
    """Is a record what the sheet gives, executed just now, under its name and time?"""
    again, _ = compose(
        ready, executed, record=manifest.record, prepared_utc=manifest.prepared_utc,
        revises=manifest.revises, pdf="sheet.pdf" in manifest.files,
    )  # fmt: skip
    remember_own(again.manifest_sha256)
    return again == manifest


def _to_revise(order: SheetOrder, before: Sequence[Manifest]) -> tuple[Link, ...]:
    """What a new record of a sheet revises: what was asked for, and all that is current."""
    now = [m.link for m in current(before)]
    for link in order.revises:
        if link not in now and link in [m.link for m in before]:
            allowed = "a record that is current: " + ", ".join(n.record for n in now)
            remedy = "Somebody has revised it meanwhile: look at what they changed first."
            raise InputError.of("revises", link.record, allowed, remedy)
    return tuple(dict.fromkeys((*order.revises, *now)))


def _made_already(run_key: str, archive: Path, before: Sequence[Manifest], *, pdf: bool) -> Made | None:
    """The record that is made of the same, unless it was overtaken under its own revision letter:

    who goes back to it then means it to be current, who orders an earlier revision does not.
    """
    now = current(before)
    for manifest in before:
        overtaken = manifest not in now and manifest.revision in {m.revision for m in now}
        if manifest.run_key == run_key and not overtaken:
            folder = archive.resolve() / manifest.record
            verified = verify_record(folder)
            if verified.ok and (not pdf or "sheet.pdf" in verified.content):
                return Made(folder, manifest, reused=True, before=tuple(before))
    return None


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
    there = records_of_sheet(record.resolve().parent, old.job, old.lift, old.template)
    order = replace(order, revises=(old.link,))
    _to_revise(order, there)
    return order
