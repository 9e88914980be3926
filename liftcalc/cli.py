"""The command line: demo, run, batch, recheck, register, sign, pdf, lab, schema, handbook.

Exit codes: 0 all within limits, 1 some check over its limit, without capacity data or within only
on condition, 2 bad input, 3 a record does not match, 4 the program failed: a fault of its own, or a
sheet that did not finish. Every error is one clear message; a traceback is shown only when
``LIFTCALC_DEBUG`` is set.
"""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.checks import MAKER_CONFIRMS, VERDICT_WORDS
from liftcalc.base.errors import (
    PROGRAM_FAULT,
    InputError,
    LiftcalcError,
    RecordError,
    failure_code,
    missing_extra,
)

if TYPE_CHECKING:
    from liftcalc.run.batch import BatchLift, Row

__all__ = ["cli", "main"]

_PATH = click.Path(path_type=Path)


def _workers() -> int:
    try:
        return max(1, len(os.sched_getaffinity(0)))
    except AttributeError:
        return max(1, os.cpu_count() or 1)


def _with_pdf(asked: bool | None) -> bool:
    """Whether to print: as asked, else where the extra is installed."""
    from importlib.util import find_spec

    there = find_spec("typst") is not None
    if asked and not there:
        raise missing_extra("pdf", "--pdf")
    return there if asked is None else asked


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="liftcalc")
def cli() -> None:
    """Plan mobile-crane lifts on unequal outrigger bases, and archive what was calculated.

    A planning aid: the maker's rated capacity chart and the rated capacity limiter govern, and a
    competent person decides.

    Exit codes: 0 all within limits, 1 some check over its limit, without capacity data or within
    only on condition (which is told), 2 bad input, 3 a record does not match, 4 the program failed
    (a fault of its own, or a sheet that did not finish): no verdict, and no word on the input.
    """


def _run_tasks(tasks: list[BatchLift], workers: int, scheduler: str) -> list[Row]:
    from tqdm import tqdm

    from liftcalc.run.batch import run_batch, run_batch_on_cluster

    total = len(tasks) * len([t for t in resources.template_names() if t in resources.CHAIN])
    with tqdm(
        total=total, unit="sheet", desc="Sheets", file=sys.stderr, disable=None, mininterval=0.2
    ) as bar:

        def step(row: Row) -> None:
            bar.update()

        if not scheduler:
            return run_batch(tasks, workers=workers, on_row=step)
        try:
            from distributed import Client
        except ImportError:
            raise missing_extra("cluster", f"scheduler {scheduler}") from None
        try:
            client = Client(scheduler, timeout=20)  # type: ignore[no-untyped-call]
        except (OSError, ValueError) as error:
            raise InputError.of(
                "scheduler", scheduler, f"the address of a dask scheduler ({error})"
            ) from None
        with client:
            return run_batch_on_cluster(tasks, client, on_row=step)


def _batch(
    job_path: Path,
    out: Path,
    *,
    workers: int | None,
    timeout: float | None,
    pdf: bool | None,
    lifts: Sequence[str] = (),
    lift_file: Path | None = None,
    units: str = "metric",
    revision: str = "A",
    prepared_by: str = "",
    fresh: bool = False,
    scheduler: str = "",
) -> int:
    from liftcalc.facts.io import load_job
    from liftcalc.lift.chart_statics import require_plausible_charts
    from liftcalc.records.inputs import validate_parameters
    from liftcalc.run.batch import plan, worst_code
    from liftcalc.run.summary import summary_text, write_summary

    validate_parameters("site_survey", units=units, revision=revision, prepared_by=prepared_by)
    want_pdf = _with_pdf(pdf)
    job = load_job(job_path) if lift_file is None else load_job(job_path, lifts=lift_file)
    require_plausible_charts(job)
    tasks = plan(
        job,
        out,
        lifts=lifts,
        units=units,
        revision=revision,
        prepared_by=prepared_by,
        pdf=want_pdf,
        fresh=fresh,
        timeout_s=timeout,
    )
    rows = _run_tasks(tasks, workers or _workers(), scheduler)
    click.echo(summary_text(rows))
    if any(row.record for row in rows):
        written = write_summary(rows, out, title=f"{job.id}: {job.title}")
        if want_pdf:
            from liftcalc.records.pdf import book_pdf
            from liftcalc.run.summary import replace_file

            book = out / f"{job.id}.pdf"
            folders = [Path(row.folder) for row in rows if row.folder]
            replace_file(book, book_pdf(folders, title=f"{job.id}: {job.title}"))
            written.append(book)
        click.echo(f"Records: {out.resolve()}")
        click.echo("Summary: " + ", ".join(path.name for path in written))
    return worst_code(rows)


def _options(command: Any) -> Any:
    for option in reversed(
        [
            click.option("--workers", type=click.IntRange(1, 256), help="Worker processes."),
            click.option(
                "--timeout",
                type=click.FloatRange(1, 86400),
                help="Longest time for one sheet, in seconds.",
            ),
            click.option(
                "--pdf/--no-pdf", default=None, help="PDF of each sheet and of the whole job."
            ),
            click.option("--fresh", is_flag=True, help="Make every record anew."),
        ]
    ):
        command = option(command)
    return command


@cli.command()
@click.option("--out", type=_PATH, default=Path("demo-records"), show_default=True)
@_options
def demo(
    out: Path, workers: int | None, timeout: float | None, pdf: bool | None, fresh: bool
) -> int:
    """Run the whole demo job (invented): eight lifts, four sheets each.

    Three lifts fail a check on purpose, so the exit code of a good run is 1.
    """
    return _batch(
        resources.demo_job_path(),
        out,
        workers=workers,
        timeout=timeout,
        pdf=pdf,
        prepared_by="demo",
        fresh=fresh,
    )


@cli.command()
@click.argument("job", type=_PATH)
@click.option("--out", type=_PATH, default=Path("records"), show_default=True)
@click.option("--lift", "lifts", multiple=True, help="Only this lift (may be repeated).")
@click.option("--lifts", "lift_file", type=_PATH, help="Lift list (CSV, XLSX, YAML) to use.")
@click.option("--units", type=click.Choice(["metric", "us"]), default="metric")
@click.option("--revision", default="A", show_default=True)
@click.option("--prepared-by", default="")
@click.option("--scheduler", default="", help="Address of a dask.distributed scheduler.")
@_options
def batch(job: Path, **options: Any) -> int:
    """Run every lift of JOB (YAML or JSON) through every sheet.

    Started again, it makes only what is missing or changed.
    """
    return _batch(job, **options)


@cli.command()
@click.argument("template")
@click.option("--params", type=_PATH, help="Parameters of the sheet (YAML or JSON).")
@click.option("--out", type=_PATH, default=Path("records"), show_default=True)
@click.option("--timeout", type=click.FloatRange(1, 86400))
@click.option("--pdf/--no-pdf", default=None)
@click.option("--revises", type=_PATH, help="Record folder that the new record revises.")
def run(
    template: str,
    params: Path | None,
    out: Path,
    timeout: float | None,
    pdf: bool | None,
    revises: Path | None,
) -> int:
    """Run one TEMPLATE on the parameters of a file and archive the sheet."""
    from liftcalc.facts.io import read_data
    from liftcalc.records.verify import require_record
    from liftcalc.run.make import SheetOrder, make_record, prepare, require_no_unknown

    want_pdf = _with_pdf(pdf)
    given: dict[str, Any] = {}
    if params is not None:
        data = read_data(params)
        if not isinstance(data, dict):
            raise InputError.of("params", type(data).__name__, "a mapping of parameters")
        given = data
    require_no_unknown(given)
    base = params.resolve().parent if params is not None else Path()
    for name in ("job", "parent"):
        # Paths in a parameters file are meant from where that file is.
        if isinstance(given.get(name), str) and given[name]:
            given = {**given, name: str(base / given[name])}
    order = SheetOrder(template=template, **given)
    ready = prepare(order)
    if revises is not None:
        old = require_record(revises).manifest
        assert old is not None
        what = (ready.parameters.template, str(ready.job.id), ready.parameters.lift)
        if old.kind != "sheet" or (old.template, old.job, old.lift) != what:
            raise InputError.of(
                "revises",
                old.record,
                "a record of the same sheet, job and lift: " + ", ".join(what),
            )
        order = replace(order, revises=old.link)
    made = make_record(
        order,
        out,
        prepared=ready,
        pdf=want_pdf,
        timeout_s=timeout,
    )
    click.echo(f"{made.manifest.verdict}: {made.manifest.governing}")
    click.echo(f"Record: {made.folder}")
    return 0 if made.manifest.verdict in ("within", "found") else 1


@cli.command()
@click.argument("records", type=_PATH, nargs=-1, required=True)
@click.option("--checker", default="", help="Name of the checker, written into the check record.")
@click.option("--out", type=_PATH, help="Where check records go (default: beside each record).")
@click.option("--no-record", is_flag=True, help="Only report; write no check record.")
@click.option("--workers", type=click.IntRange(1, 256))
@click.option("--timeout", type=click.FloatRange(1, 86400))
@click.option("--rtol", type=float, default=1e-6, show_default=True, help="Relative tolerance.")
@click.option("--atol", type=float, default=1e-9, show_default=True, help="Absolute tolerance.")
def recheck(
    records: Sequence[Path],
    checker: str,
    out: Path | None,
    no_record: bool,
    workers: int | None,
    timeout: float | None,
    rtol: float,
    atol: float,
) -> int:
    """Re-check RECORDS: verify them, calculate anew from their inputs, compare every number.

    A folder of records stands for all sheets in it. Nothing in a record is executed.
    """
    from liftcalc.records.check_record import outcome_lines
    from liftcalc.records.compare import Tolerance
    from liftcalc.records.inputs import validate_parameters
    from liftcalc.run.recheck import recheck_many

    validate_parameters("site_survey", prepared_by=checker)
    outcomes = recheck_many(
        _expand(records),
        checker=checker,
        out=out,
        write=not no_record,
        workers=workers or _workers(),
        timeout_s=timeout,
        tolerance=Tolerance(rtol, atol),
    )
    for outcome in outcomes:
        click.echo("\n".join(outcome_lines(outcome)))
    good = sum(outcome.decision == "matches" for outcome in outcomes)
    click.echo(f"{_count(outcomes, 'record')}: {good} match, {len(outcomes) - good} do not.")
    return max(outcome.code for outcome in outcomes)


def _count(things: Sequence[Any], noun: str) -> str:
    return f"{len(things)} {noun}{'' if len(things) == 1 else 's'}"


def _place(job: str, lift: str, template: str) -> tuple[str, list[tuple[int, str]], int]:
    """Sort key: job, lift (L2 before L10), place in the chain; other sheets last."""
    parts = [(int(p) if p.isdecimal() else -1, p) for p in re.split(r"(\d+)", lift)]
    chain = resources.CHAIN
    return job, parts, chain.index(template) if template in chain else len(chain)


_BESIDE_RECORDS = ("summary.csv", "summary.xlsx", "summary.html")


def _expand(records: Sequence[Path]) -> list[Path]:
    from liftcalc.records.manifest import MANIFEST_NAME
    from liftcalc.records.register import scan

    found: list[Path] = []
    for path in records:
        if path.is_dir() and not path.is_symlink() and not (path / MANIFEST_NAME).exists():
            entries = [e for e in scan(path, signatures=False) if e.kind != "check"]
            entries.sort(key=lambda e: _place(e.job, e.lift, e.template))
            inside = [path / e.folder for e in entries]
            found += inside or [path]
        elif path.is_file() and (path.name in _BESIDE_RECORDS or path.suffix == ".pdf"):
            # what a batch lays beside its records, met by a shell's * over the folder
            click.echo(f"{path}: the batch's summary, not a record; passed over.", err=True)
        else:
            found.append(path)
    if not found:
        raise InputError.of("records", [str(p) for p in records], "a record or a folder of records")
    return found


@cli.command()
@click.argument("folder", type=_PATH)
@click.option("--csv", "csv_file", type=_PATH, help="Also write the register as CSV.")
@click.option("--html", "html_file", type=_PATH, help="Also write the register as an HTML page.")
@click.option("--job", default="")
@click.option("--lift", default="")
@click.option("--template", default="")
@click.option("--verdict", type=click.Choice(list(VERDICT_WORDS)))
@click.option(
    "--state",
    type=click.Choice(
        ["prepared", "checked", "check differs", "superseded", "parent superseded", "broken"]
    ),
)
@click.option("--kind", type=click.Choice(["sheet", "check"]))
@click.option("--since", default="", help="First date (UTC), such as 2026-05-01.")
@click.option("--until", default="", help="Last date (UTC).")
def register(
    folder: Path, csv_file: Path | None, html_file: Path | None, **filters: str | None
) -> int:
    """List the records below FOLDER."""
    from liftcalc.records.register import register_csv, register_html, scan, select
    from liftcalc.run.summary import replace_file

    entries = select(scan(folder), **{k: v or "" for k, v in filters.items()})
    columns = ["record", "kind", "lift", "template", "verdict", "state", "checked_by", "signed"]
    if any(e.superseded_by for e in entries):
        columns.append("superseded_by")
    table = [tuple(columns), *(tuple(str(getattr(e, c)) for c in columns) for e in entries)]
    widths = [max(len(row[i]) for row in table) for i in range(len(columns))]
    lines = [
        "  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip()
        for row in table
    ]
    if any(e.verdict == "condition" for e in entries):
        lines.append(f"condition: {VERDICT_WORDS['condition'].lower()}: {MAKER_CONFIRMS}.")
    click.echo("\n".join([*lines, f"{_count(entries, 'record')}."]))
    if csv_file is not None:
        replace_file(csv_file, register_csv(entries).encode("utf-8"))
    if html_file is not None:
        prefix = os.path.relpath(folder.resolve(), html_file.resolve().parent)
        page = register_html(entries, title=f"Records in {folder.name}", prefix=f"{prefix}/")
        replace_file(html_file, page)
    return 0


@cli.command()
@click.argument("records", type=_PATH, nargs=-1)
@click.option("--key", "key_file", type=_PATH, required=True, help="Private key (PEM, Ed25519).")
@click.option("--new-key", is_flag=True, help="Make the key file first.")
@click.option("--role", type=click.Choice(["prepared", "checked", "approved"]), default="prepared")
@click.option("--name", default="", help="Name of the signer.")
@click.option("--password", default="", envvar="LIFTCALC_KEY_PASSWORD")
def sign(
    records: Sequence[Path], key_file: Path, new_key: bool, role: str, name: str, password: str
) -> int:
    """Sign RECORDS in a role, with a key of your own. Signatures lie beside the records."""
    from liftcalc.records import sign as signing

    if not records and not new_key:
        raise InputError.of("records", "none", "one record folder or more, or --new-key")
    if new_key:
        click.echo(f"New key {signing.new_key(key_file, password)}: {key_file}")
    if records:
        key = signing.load_key(key_file, password)
        for folder in records:
            click.echo(f"Signed: {signing.sign_record(folder, key, role=role, name=name)}")
    return 0


@cli.command()
@click.argument("records", type=_PATH, nargs=-1, required=True)
@click.option("--out", type=_PATH, required=True, help="PDF file to write.")
@click.option("--title", default="Lift plan")
def pdf(records: Sequence[Path], out: Path, title: str) -> int:
    """Print RECORDS (or folders of them) as one PDF with a list of contents."""
    from liftcalc.records.pdf import book_pdf
    from liftcalc.run.summary import replace_file

    folders = _expand(records)
    replace_file(out, book_pdf(folders, title=title))
    click.echo(f"{_count(folders, 'sheet')}: {out}")
    return 0


@cli.command()
@click.option("--dir", "folder", type=_PATH, default=Path("liftcalc-workbench"), show_default=True)
@click.option("--no-start", is_flag=True, help="Only lay out the files.")
def lab(folder: Path, no_start: bool) -> int:
    """Lay out the notebooks in a folder of yours and open them in JupyterLab.

    Files that are there already are left as they are.
    """
    import shutil
    import subprocess

    try:
        for source in (resources.notebooks_dir(), resources.templates_dir()):
            for path in sorted(source.glob("*.ipynb")):
                target = folder / source.name / path.name
                target.parent.mkdir(parents=True, exist_ok=True)
                if not target.exists():
                    shutil.copyfile(path, target)
    except OSError as error:
        raise InputError.of(
            "dir", str(folder), f"a folder that can be written ({error.strerror})"
        ) from None
    click.echo(f"Notebooks: {folder.resolve()}")
    if no_start:
        return 0
    return subprocess.call([sys.executable, "-m", "jupyterlab", str(folder)])


@cli.command()
@click.argument("name", required=False)
def schema(name: str | None) -> int:
    """Print the JSON Schema of every kind of fact, or of NAME alone."""
    from liftcalc.facts.io import json_schemas
    from liftcalc.records.manifest import Manifest

    schemas = {**json_schemas(), "manifest": Manifest.model_json_schema()}
    if name is not None and name not in schemas:
        raise InputError.of("name", name, ", ".join(schemas))
    shown = schemas if name is None else schemas[name]
    click.echo(json.dumps(shown, indent=2, ensure_ascii=False))
    return 0


@cli.command()
@click.option("--out", type=_PATH, default=Path("handbook.html"), show_default=True)
def handbook(out: Path) -> int:
    """Write the handbook of methods: formula, source and limits of every calculation.

    One page of HTML that needs no network and prints on A4.
    """
    from liftcalc.handbook import chapter_groups, handbook_html
    from liftcalc.run.summary import replace_file

    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError.of("out", str(out), "a file name that ends in .html")
    replace_file(out, handbook_html().encode("utf-8"))
    modules = sum(len(found) for found in chapter_groups().values())
    click.echo(f"Handbook of {modules} chapters: {out}")
    return 0


@cli.command()
@click.argument("files", nargs=-1, required=True, type=_PATH)
@click.option("--out", type=_PATH, required=True, help="New .geojson, .dxf, .csv or .xlsx file.")
@click.option("--mapping", type=_PATH, help="What the layers of a DXF drawing mean (YAML).")
@click.option(
    "--header", type=_PATH, help="id, name, grid, datum, provenance, ground, stated (YAML)."
)
def survey(files: tuple[Path, ...], out: Path, mapping: Path | None, header: Path | None) -> int:
    """Read a site survey from FILES (GeoJSON, DXF, CSV, XLSX) and write it in another format.

    Prints what was taken, left out and mended. Nothing is written unless the whole site is valid.

    Coordinates are metres on the site's own grid, in GeoJSON too: degrees, and a coordinate system
    that the site's grid does not name, are refused. So is what is doubtful (a site of 6 cm, ground
    far from the bases of what stands on it); the message says how to answer it under "stated".

    A table has a point on each row, with the columns easting_m, northing_m and level_m; without a
    column kind every row is a spot level. A mapping file says what the layers of a drawing are:

    \b
      layers:
        LIMIT: {kind: boundary}
        YARD: {kind: ground zone, profile: BH1}
        HOUSES: {kind: obstacle, obstacle_kind: building, base_level_m: 3.0, top_level_m: 9.0}
        LEVELS: {kind: spot level}
      ignore: [FRAME]          # layers left out without a word
      units: m                 # only where the drawing does not say
      site: {id: my-site, ...} # what else goes into --header

    Kinds and their fields are those of the site's GeoJSON: see a survey that exists, or
    "liftcalc schema site".
    """
    from liftcalc.facts.io import read_data
    from liftcalc.survey.assemble import site_from_parts
    from liftcalc.survey.dxf_in import read_dxf
    from liftcalc.survey.dxf_out import write_dxf
    from liftcalc.survey.geojson import read_geojson, write_geojson
    from liftcalc.survey.mapping import OWN_MAPPING, read_mapping
    from liftcalc.survey.tables import read_table, write_csv, write_xlsx

    writers: dict[str, Callable[[Any, Path], Path]] = {
        ".geojson": write_geojson,
        ".dxf": write_dxf,
        ".csv": write_csv,
        ".xlsx": write_xlsx,
    }
    if out.suffix.lower() not in writers:
        raise InputError.of("out", str(out), "a file that ends in " + ", ".join(writers))
    layers = OWN_MAPPING if mapping is None else read_mapping(mapping)
    parts = []
    for path in files:
        suffix = path.suffix.lower()
        if suffix in (".geojson", ".json"):
            parts.append(read_geojson(path))
        elif suffix == ".dxf":
            parts.append(read_dxf(path, layers))
        elif suffix in (".csv", ".xlsx"):
            parts.append(read_table(path))
        else:
            raise InputError.of(str(path), suffix, ".geojson, .json, .dxf, .csv or .xlsx")
    members = None if header is None else read_data(header)
    if members is not None and not isinstance(members, dict):
        raise InputError.of(str(header), type(members).__name__, "a mapping of site fields")
    found = site_from_parts(parts, header=members)
    writers[out.suffix.lower()](found.site, out)
    for line in found.report.lines():
        click.echo(line)
    click.echo(f"Survey: {out}")
    return 0


def main(arguments: Sequence[str] | None = None) -> int:
    """Entry point; returns (and, as a script, exits with) the exit code."""
    code = _guarded(list(sys.argv[1:] if arguments is None else arguments))
    if arguments is None:
        sys.exit(code)
    return code


def _guarded(arguments: list[str]) -> int:
    for name in ("stdout", "stderr"):
        if (
            getattr(sys, name) is None
        ):  # closed by the shell: the words go nowhere, the work goes on
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
    try:
        result = cli.main(arguments, prog_name="liftcalc", standalone_mode=False)
        sys.stdout.flush()
        return result if isinstance(result, int) else 0
    except click.ClickException as error:
        error.show()
        return 2
    except (click.Abort, KeyboardInterrupt):
        click.echo("Interrupted. Start the same command again to go on.", err=True)
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 2
    except RecordError as error:
        click.echo(f"Record: {error}", err=True)
        return 3
    except LiftcalcError as error:
        click.echo(f"Input: {error}" if isinstance(error, InputError) else str(error), err=True)
        return failure_code(getattr(error, "kind", ""))
    except OSError as error:
        name = "" if error.filename is None else f"{str(error.filename)[:200]}: "
        click.echo(f"Input: {name}{error.strerror or error}", err=True)
        return 2
    except Exception as error:
        if os.environ.get("LIFTCALC_DEBUG"):
            raise
        text = " ".join(str(error).split())[:500]
        click.echo(
            f"liftcalc stopped: {type(error).__name__}: {text}\n"
            f"{PROGRAM_FAULT} Set LIFTCALC_DEBUG=1 to see where.",
            err=True,
        )
        return failure_code("program")


if __name__ == "__main__":
    main()
