"""The command line: demo, run, batch, recheck, keep, register, sign, pdf, lab, schema, handbook.

Every error is one clear message; a traceback is shown only when ``LIFTCALC_DEBUG`` is set.
"""

import json
import os
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.errors import PROGRAM_FAULT, InputError, LiftcalcError, RecordError, failure_code
from liftcalc.base.terminal import outlet
from liftcalc.base.terminal import say as _say
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE, SCOPE_LINE
from liftcalc.base.words import STATE_WORDS

_PATH = click.Path(path_type=Path)


def _number(items: Sequence[Any], noun: str) -> str:
    return f"{len(items)} {noun}{'' if len(items) == 1 else 's'}"


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="liftcalc")
def cli() -> None:
    """Plan mobile-crane lifts on unequal outrigger bases, and archive what was calculated.

    A planning aid: the manufacturer's rated capacity chart and the rated capacity limiter govern,
    and a competent person decides.

    Exit codes: 0 all within limits, 1 some check over its limit, without capacity data or within
    only on condition (which is stated), 2 bad input, 3 a record does not match, 4 the program
    failed (a fault of its own, or a sheet that did not finish): no verdict, and nothing said of
    the input.
    """


def _batch(job: Path, out: Path, **options: Any) -> int:
    from liftcalc.run.batch import worst_code
    from liftcalc.run.job import run_job
    from liftcalc.run.summary import summary_text

    done = run_job(job, out, **options)
    _say(summary_text(done.rows, invented=done.invented))
    if done.files:
        _say(f"Records: {out.resolve()}")
        _say("Summary: " + ", ".join(path.name for path in done.files))
    return worst_code(done.rows)


_LONGEST = "Maximum time for one sheet, in seconds."
_TIMEOUT = click.option("--timeout", "timeout_s", type=click.FloatRange(1, 86400), help=_LONGEST)
_WORKERS = click.option("--workers", type=click.IntRange(1, 256), help="Worker processes.")
_PDF = click.option("--pdf/--no-pdf", default=None, help="PDF of each sheet, and of a whole job.")
_TRUSTED = click.option("--trusted", type=_PATH, help="Your list of trusted keys (YAML).")
_ROLE = click.Choice(["prepared", "checked", "approved"])
_FRESH = click.option("--fresh", is_flag=True, help="Make all records again.")


@cli.command()
@click.option("--out", type=_PATH, default=Path("demo-records"), show_default=True)
@_WORKERS
@_TIMEOUT
@_PDF
@_FRESH
def demo(out: Path, **options: Any) -> int:
    """Run the whole demo job (invented): eight lifts, four sheets each.

    Three lifts fail a check on purpose, so the exit code of a good run is 1.
    """
    return _batch(resources.demo_job_path(), out, prepared_by="demo", **options)


@cli.command()
@click.argument("job", type=_PATH)
@click.option("--out", type=_PATH, default=Path("records"), show_default=True)
@click.option("--lift", "lifts", multiple=True, help="Only this lift (may be repeated).")
@click.option("--lifts", "lift_file", type=_PATH, help="Lift list (CSV, XLSX, YAML) to use.")
@click.option("--units", type=click.Choice(["metric", "us"]), default="metric")
@click.option("--revision", default="A", show_default=True)
@click.option("--prepared-by", default="")
@click.option("--scheduler", default="", help="Address of a dask.distributed scheduler.")
@_WORKERS
@_TIMEOUT
@_PDF
@_FRESH
def batch(job: Path, **options: Any) -> int:
    """Run every lift of JOB (YAML or JSON) through every sheet.

    Resumes: a second run makes only what is missing or changed.
    """
    return _batch(job, **options)


@cli.command()
@click.argument("template")
@click.option("--params", type=_PATH, help="Parameters of the sheet (YAML or JSON).")
@click.option("--out", type=_PATH, default=Path("records"), show_default=True)
@_TIMEOUT
@_PDF
@_FRESH
@click.option("--revises", type=_PATH, help="Record folder that the new record revises.")
def run(template: str, params: Path | None, out: Path, revises: Path | None, **options: Any) -> int:
    """Run one TEMPLATE on the parameters of a file and archive the sheet.

    A sheet made of the same before is not made again; another of this lift is revised.
    """
    from liftcalc.records.pdf import pdf_wanted
    from liftcalc.run.make import make_record, order_of, prepare, revising

    options["pdf"] = pdf_wanted(options["pdf"])
    order = order_of(template, params)
    ready = prepare(order)
    if revises is not None:
        order = revising(order, ready, revises)
    made = make_record(order, out, prepared=ready, **options)
    words = STATE_WORDS.get(made.manifest.verdict, made.manifest.verdict)
    _say(f"{words[:1].upper()}{words[1:]}: {made.manifest.governing}")
    earlier = ", ".join(link.record for link in made.manifest.revises)
    if made.reused:
        _say("Already there, made of the same inputs. To make it again: --fresh")
        earlier = ""
    for said, names in (("Revises", earlier), ("Superseded by", ", ".join(made.superseded_by))):
        if names:
            _say(f"{said}: {names}")
    scope = f"{SCOPE_LINE}\n" * (made.manifest.template in resources.CHAIN)
    mark = f"{INVENTED_LINE}\n" * made.manifest.invented
    _say(f"Record: {made.folder}\n{scope}{mark}{CAUTION_LINE}")
    return 0 if made.manifest.verdict in ("within", "found") else 1


@cli.command()
@click.argument("records", type=_PATH, nargs=-1, required=True)
@click.option("--checker", default="", help="Name of the checker, written into the check record.")
@click.option("--out", type=_PATH, help="Where check records go (default: beside each record).")
@click.option("--no-record", is_flag=True, help="Only report; write no check record.")
@_WORKERS
@_TIMEOUT
@click.option("--rtol", type=float, default=1e-6, show_default=True, help="Relative tolerance.")
@click.option("--atol", type=float, default=1e-9, show_default=True, help="Absolute tolerance.")
@_TRUSTED
@click.option("--environment", type=_PATH, help="Archive with the packages kept for the records.")
@click.option("--require", multiple=True, type=_ROLE, help="Role in which a trusted key must sign.")
def recheck(
    records: Sequence[Path], no_record: bool, workers: int | None, rtol: float, atol: float,
    trusted: Path | None, **options: Any,
) -> int:  # fmt: skip
    """Re-check RECORDS: verify them, make them again from their inputs, compare all they show.

    A folder of records stands for all sheets in it. Nothing in a record is executed. Exit code 0:
    all match; 3: one does not, or lacks a required signature; 5: the numbers match, but page, PDF
    or drawings could not be made again here (another version made them).
    With --environment the packages kept there make it: whoever laid them there answers for them.
    """
    from liftcalc.records.check_record import RECHECK_LINE, UNVERIFIED, outcome_lines
    from liftcalc.records.compare import Tolerance
    from liftcalc.records.inputs import validate_parameters
    from liftcalc.run.job import usable_cores
    from liftcalc.run.recheck import recheck_many

    validate_parameters("site_survey", prepared_by=options["checker"])
    if options["require"] and trusted is None:
        raise InputError.of("", None, "--require needs the list of trusted keys: --trusted FILE")
    outcomes = recheck_many(
        _expand(records), write=not no_record, workers=workers or usable_cores(),
        tolerance=Tolerance(rtol, atol), trusted=_list_of(trusted) if trusted else None, **options,
    )  # fmt: skip
    for outcome in outcomes:
        _say("\n".join(outcome_lines(outcome)))
    found = [outcome for outcome in outcomes if outcome.decision != "not a record"]
    good, half = (sum(o.decision == word for o in found) for word in ("matches", UNVERIFIED))
    if found:
        counts = [f"{good} match", *([f"the numbers of {half} match"] if half else [])]
        counts.append(f"{len(found) - good - half} do not")
        _say(f"{_number(found, 'record')}: {', '.join(counts)}.")
    _say(f"{RECHECK_LINE}\n{CAUTION_LINE}")
    return next((code for code in (4, 3, 5) if code in {o.code for o in outcomes}), 0)


@cli.command()
@click.argument("archive", type=_PATH)
@click.option("--fetch", is_flag=True, help="Download what cannot be packed from what is here.")
@click.option("--release", type=_PATH, help="Wheel of another version of liftcalc, to keep it.")
def keep(archive: Path, **options: Any) -> int:
    """Keep the packages that records are made with beside them, in ARCHIVE, for a later re-check.

    Once for an environment, some 230 MB. What is kept there runs when records are made again.
    """
    from liftcalc.run.keep import keep_environment

    _say(f"Packages: {keep_environment(archive, **options)}\n{CAUTION_LINE}")
    return 0


def _list_of(trusted: Path) -> Any:
    from liftcalc.records.trust import load_trusted

    return load_trusted(trusted)


def _expand(paths: Sequence[Path]) -> list[Path]:
    """Records named, and every sheet below the folders named."""
    from liftcalc.records.listing import sheets_named

    folders, passed_over = sheets_named(paths)
    for path in passed_over:
        _say(f"{path}: the batch's summary, not a record; passed over.", err=True)
    return folders


_STATES = (
    "missing, damaged, superseded, check differs, current twice, parent damaged, parent superseded,"
    " checked, cannot be re-run, prepared; of a check: matches, differs"
)


@cli.command()
@click.argument("folder", type=_PATH)
@click.option("--csv", "csv_file", type=_PATH, help="Also write the register as CSV.")
@click.option("--html", "html_file", type=_PATH, help="Also write the register as HTML pages.")
@click.option("--job", default="")
@click.option("--lift", default="")
@click.option("--template", default="")
@click.option("--verdict", type=click.Choice(list(STATE_WORDS)))
@click.option("--state", default="", help=f"{_STATES}; or numbers match, page not verified.")
@click.option("--kind", type=click.Choice(["sheet", "check"]))
@click.option("--since", default="", help="First date (UTC), such as 2026-05-01.")
@click.option("--until", default="", help="Last date (UTC).")
@click.option("--text", default="", help="Only records with this text in any column.")
@click.option("--page", type=click.IntRange(1), default=1, help="Page of the screen to show.")
@click.option("--page-size", type=click.IntRange(1), help="Records a page (default: a screenful).")
@click.option("--full", is_flag=True, help="Verify every record again, changed or not.")
@_TRUSTED
def register(folder: Path, **options: Any) -> int:
    """List the records below FOLDER. A record that does not verify is listed as damaged."""
    from liftcalc.run.summary import list_records

    _say("\n".join(list_records(folder, **options)))
    return 0


@cli.command()
@click.argument("records", type=_PATH, nargs=-1)
@click.option("--key", "key_file", type=_PATH, required=True, help="Private key (PEM, Ed25519).")
@click.option("--new-key", is_flag=True, help="Make the key file first.")
@click.option("--role", type=_ROLE, default="prepared")
@click.option("--name", default="", help="Name of the signer.")
@click.option("--password", default="", envvar="LIFTCALC_KEY_PASSWORD")
@click.option("--anyway", is_flag=True, help="Sign what is over, on condition, differs or is old.")
def sign(
    records: Sequence[Path], key_file: Path, new_key: bool, role: str, name: str, password: str,
    anyway: bool,
) -> int:  # fmt: skip
    """Sign RECORDS in a role, with your private key. Signatures are stored beside the records.

    A folder of records stands for all sheets in it. The public key of a new key is what a checker
    enters into the list of trusted keys.
    """
    from liftcalc.records import sign as signing
    from liftcalc.records.verify import require_record

    if not records and not new_key:
        raise InputError.of("records", "none", "one record folder or more, or --new-key")
    key = None if new_key else signing.load_key(key_file, password)
    name = signing.signer_name(name) if records else name
    folders = _expand(records) if records else []
    for folder in folders:
        require_record(folder)
    if folders:
        _answer(folders, role=role, name=name, anyway=anyway)
    if key is None:
        _say(f"New key {key_file}, public_key: {signing.new_key(key_file, password)}")
        key = signing.load_key(key_file, password)
    for folder in folders:
        _say(f"Signed: {signing.sign_record(folder, key, role=role, name=name)}")
    return 0


def _answer(folders: Sequence[Path], *, role: str, name: str, anyway: bool) -> None:
    """Show what speaks against signing; go on only if the signer says so."""
    from liftcalc.records.doubts import doubts

    against, known = doubts(folders, role=role, name=name)
    for line in (*against, *known):
        _say(f"Warning: {line}", err=True)
    if against and not anyway:
        if sys.stdin.isatty() and click.confirm(f"Sign as {role} all the same?", err=True):
            return
        raise InputError.of(
            "", None, "Nothing was signed", "Sign other records, or these with --anyway."
        )


@cli.command()
@click.argument("records", type=_PATH, nargs=-1, required=True)
@click.option("--query", type=_PATH, help="Folder for the queries, one RECORD.tsq for each record.")
@click.option("--reply", type=_PATH, help="The authority's reply, or a folder of RECORD.tsr.")
@_TRUSTED
def stamp(
    records: Sequence[Path], query: Path | None, reply: Path | None, trusted: Path | None
) -> int:
    """Get a time stamp (RFC 3161) for RECORDS: write the queries, verify and store the replies.

    Nothing is sent anywhere: take a query to a time-stamp authority, and bring its reply back.
    """
    from liftcalc.records import stamp as stamping

    if (query is None) is (reply is None):
        raise InputError.of(
            "", None, "Give --query to ask for time stamps, or --reply to store them"
        )
    authorities = _list_of(trusted).time_stamp_authorities if trusted else ()
    for folder in _expand(records):
        if query is not None:
            _say(f"Query: {stamping.write_query(folder, query)}")
        elif reply is not None:
            done = stamping.store_reply(folder, reply, authorities)
            _say(f"{folder.resolve().name}: {done.words}")
    return 0


@cli.command()
@click.argument("records", type=_PATH, nargs=-1, required=True)
@click.option("--out", type=_PATH, required=True, help="PDF file to write.")
@click.option("--title", default="Lift plan")
@click.option("--paper", type=click.Choice(["A4", "letter"]), help="Default: as the units go.")
@_WORKERS
@_TIMEOUT
def pdf(
    records: Sequence[Path], out: Path, title: str, paper: str | None, workers: int | None,
    timeout_s: float | None,
) -> int:  # fmt: skip
    """Print RECORDS (or folders of them) as one PDF with a list of contents."""
    from liftcalc.run.book import book_pdf
    from liftcalc.run.summary import replace_file

    folders = _expand(records)
    replace_file(
        out,
        book_pdf(
            folders, title=title, paper=paper or "", workers=workers or 1, timeout_s=timeout_s
        ),
    )
    _say(f"{_number(folders, 'sheet')}: {out}")
    return 0


@cli.command()
@click.argument("archive", type=_PATH)
@click.option("--out", type=_PATH, required=True, help="New folder for the bag.")
@click.option("--damaged", is_flag=True, help="Hand over damaged records too, each named.")
@click.option("--licence", help="Under which the records may be used.")
def handover(archive: Path, out: Path, **options: Any) -> int:
    """Hand ARCHIVE over as a BagIt bag (hashes of all files), described as an RO-Crate."""
    from liftcalc.records.handover import hand_over

    _say("\n".join([*hand_over(archive, out, **options), f"Bag: {out}"]))
    return 0


@cli.command()
@click.option("--dir", "folder", type=_PATH, default=Path("liftcalc-workbench"), show_default=True)
@click.option("--no-start", is_flag=True, help="Only copy the files.")
def lab(folder: Path, no_start: bool) -> int:
    """Copy the notebooks to a folder and open them in JupyterLab.

    Files that are already there are not overwritten.
    """
    import subprocess

    resources.lay_out_notebooks(folder)
    _say(f"Notebooks: {folder.resolve()}")
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
    """Write the handbook of methods: formula, source, limits, constants and tables.

    One page of HTML that needs no network and prints on A4.
    """
    from liftcalc.handbook import chapter_groups, handbook_html
    from liftcalc.run.summary import replace_file

    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError.of("out", str(out), "a file name that ends in .html")
    replace_file(out, handbook_html().encode("utf-8"))
    modules = sum(len(group) for group in chapter_groups().values())
    _say(f"Handbook of {modules} chapters: {out}")
    return 0


@cli.command()
@click.argument("files", nargs=-1, required=True, type=_PATH)
@click.option("--out", type=_PATH, required=True, help="New .geojson, .dxf, .csv or .xlsx file.")
@click.option("--mapping", type=_PATH, help="What the layers of a DXF drawing mean (YAML).")
@click.option(
    "--header", type=_PATH, help="YAML: id, name, grid, datum, provenance, ground, stated."
)
def survey(files: tuple[Path, ...], out: Path, mapping: Path | None, header: Path | None) -> int:
    """Read a site survey from FILES (GeoJSON, DXF, CSV, XLSX) and write it in another format.

    Prints what was read, left out and repaired. Nothing is written unless the whole site is valid.

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
      ignore: [FRAME]          # layers left out without a message
      units: m                 # only where the drawing does not say
      site: {id: my-site, ...} # what else goes into --header

    Kinds and their fields are those of the site's GeoJSON: see a survey that exists, or
    "liftcalc schema site".
    """
    from liftcalc.survey.convert import convert

    for line in convert(files, out, mapping=mapping, header=header):
        _say(line)
    _say(f"Survey: {out}\n{CAUTION_LINE}")
    return 0


def main(arguments: Sequence[str] | None = None) -> int:
    """Entry point; returns (and, as a script, exits with) the exit code."""
    if arguments is None:
        # Told to end, it ends as by Ctrl-C: workers end and nothing unfinished is left.
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
                signal.signal(number, signal.default_int_handler)
    if arguments is not None:
        return _guarded(list(arguments))
    sys.stdout, sys.stderr = outlet(sys.stdout), outlet(sys.stderr)
    sys.exit(_guarded(sys.argv[1:]))


def _guarded(arguments: list[str]) -> int:
    try:
        result = cli.main(arguments, prog_name="liftcalc", standalone_mode=False)
        sys.stdout.flush()
        return result if isinstance(result, int) else 0
    except click.ClickException as error:
        error.show()
        return 2
    except (click.Abort, KeyboardInterrupt):
        _say("Interrupted. Start the same command again to go on.", err=True)
        return 130
    except RecordError as error:
        _say(f"Record: {error}", err=True)
        return 3
    except LiftcalcError as error:
        _say(f"Input: {error}" if isinstance(error, InputError) else str(error), err=True)
        return failure_code(getattr(error, "kind", ""))
    except OSError as error:
        name = "" if error.filename is None else f"{str(error.filename)[:200]}: "
        _say(f"Input: {name}{error.strerror or error}", err=True)
        return 2
    except Exception as error:
        if os.environ.get("LIFTCALC_DEBUG"):
            raise
        text = f"{type(error).__name__}: {' '.join(str(error).split())[:500]}\n{PROGRAM_FAULT}"
        _say(f"liftcalc stopped: {text} Set LIFTCALC_DEBUG=1 to see where.", err=True)
        return failure_code("program")


if __name__ == "__main__":
    main()
