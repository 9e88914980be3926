"""The command line: demo, run, batch, lab, schema, handbook, survey (records: cli_records).

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
from liftcalc.base.checks import verdict
from liftcalc.base.errors import PROGRAM_FAULT, InputError, LiftcalcError, RecordError, failure_code
from liftcalc.base.files import write_file
from liftcalc.base.terminal import outlet, say
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE, SCOPE_LINE, Safe, format_value, text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.base.words import STATE_WORDS
from liftcalc.cli_records import COMMANDS, PATH, TIMEOUT, WORKERS


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="liftcalc")
def cli() -> None:
    """Plan mobile-crane lifts on unequal outrigger bases, and archive what was calculated.

    A planning aid: the manufacturer's rated capacity chart and the rated capacity limiter govern,
    and a competent person decides.

    Exit codes: 0 all within limits, 1 some check over its limit, without capacity data or within only on condition
    (which is stated), 2 bad input, 3 a record does not match, 4 the program failed (a fault of its own, or a sheet that
    did not finish): no verdict, and nothing said of the input.
    """


def _batch(job: Path, out: Path, **options: Any) -> int:
    from liftcalc.run.batch import worst_code
    from liftcalc.run.job import run_job
    from liftcalc.run.summary import summary_text

    done = run_job(job, out, **options)
    say(summary_text(done.rows, invented=done.invented))
    if done.files:
        say(f"Records: {out.resolve()}")
        say("Summary: " + ", ".join(path.name for path in done.files))
    return worst_code(done.rows)


_PDF = click.option("--pdf/--no-pdf", default=None, help="PDF of each sheet, and of a whole job.")
_ANNEX = click.option("--annex", is_flag=True, help="Full working of each sheet, in the job's PDF.")
_FRESH = click.option("--fresh", is_flag=True, help="Make all records again.")


@cli.command()
@click.option("--out", type=PATH, default=Path("demo-records"), show_default=True)
@WORKERS
@TIMEOUT
@_PDF
@_ANNEX
@_FRESH
def demo(out: Path, **options: Any) -> int:
    """Run the whole demo job (invented): eight lifts, five sheets each.

    Three lifts fail a check on purpose, so the exit code of a good run is 1.
    """
    return _batch(resources.demo_job_path(), out, prepared_by="demo", **options)


@cli.command()
@click.argument("job", type=PATH)
@click.option("--out", type=PATH, default=Path("records"), show_default=True)
@click.option("--lift", "lifts", multiple=True, help="Only this lift (may be repeated).")
@click.option("--lifts", "lift_file", type=PATH, help="Lift list (CSV, XLSX, YAML) to use.")
@click.option("--units", type=click.Choice(["metric", "us"]), default="metric")
@click.option("--revision", default="A", show_default=True)
@click.option("--prepared-by", default="")
@click.option("--scheduler", default="", help="Address of a dask.distributed scheduler.")
@WORKERS
@TIMEOUT
@_PDF
@_ANNEX
@_FRESH
def batch(job: Path, **options: Any) -> int:
    """Run every lift of JOB (YAML or JSON) through every sheet.

    Resumes: a second run makes only what is missing or changed.
    """
    return _batch(job, **options)


@cli.command()
@click.argument("template")
@click.option("--params", type=PATH, help="Parameters of the sheet (YAML or JSON).")
@click.option("--out", type=PATH, default=Path("records"), show_default=True)
@TIMEOUT
@_PDF
@_FRESH
@click.option("--revises", type=PATH, help="Record folder that the new record revises.")
def run(template: str, params: Path | None, out: Path, revises: Path | None, **options: Any) -> int:
    """Run one TEMPLATE on the parameters of a file and archive the sheet.

    A sheet made of the same before is not made again; another of this lift is revised.
    """
    from liftcalc.records.believed import NOT_OWN
    from liftcalc.records.pdf import pdf_wanted
    from liftcalc.run.make import make_record, order_of, prepare, revising

    options["pdf"] = pdf_wanted(options["pdf"])
    order = order_of(template, params)
    ready = prepare(order)
    if revises is not None:
        order = revising(order, ready, revises)
    made = make_record(order, out, prepared=ready, **options)
    words = STATE_WORDS.get(made.manifest.verdict, made.manifest.verdict)
    say(f"{words[:1].upper()}{words[1:]}: {made.manifest.governing}")
    earlier = ", ".join(link.record for link in made.manifest.revises)
    if made.reused:
        say("Already there, made of the same inputs. To make it again: --fresh")
        earlier = ""
    later, trust = ", ".join(made.superseded_by), ", ".join(made.on_trust)
    told = (("Revises", earlier), ("Superseded by", later), (f"Builds on what is {NOT_OWN}", trust))
    for said, names in told:
        if names:
            say(f"{said}: {names}")
    scope = f"{SCOPE_LINE}\n" * (made.manifest.template in resources.CHAIN)
    mark = f"{INVENTED_LINE}\n" * made.manifest.invented
    say(f"Record: {made.folder}\n{scope}{mark}{CAUTION_LINE}")
    return 0 if made.manifest.verdict in ("within", "found") else 1


@cli.command()
@click.option("--dir", "folder", type=PATH, default=Path("liftcalc-workbench"), show_default=True)
@click.option("--no-start", is_flag=True, help="Only copy the files.")
def lab(folder: Path, no_start: bool) -> int:
    """Copy the notebooks to a folder and open them in JupyterLab.

    Files that are already there are not overwritten.
    """
    import subprocess

    resources.lay_out_notebooks(folder)
    say(f"Notebooks: {folder.resolve()}")
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
@click.option("--out", type=PATH, default=Path("handbook.html"), show_default=True)
def handbook(out: Path) -> int:
    """Write the handbook of methods: formula, source, limits, constants and tables.

    One page of HTML that needs no network and prints on A4.
    """
    from liftcalc.handbook import chapter_groups, handbook_html

    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError.of("out", str(out), "a file name that ends in .html")
    write_file(out, handbook_html().encode("utf-8"))
    modules = sum(len(group) for group in chapter_groups().values())
    say(f"Handbook of {modules} chapters: {out}")
    return 0


@cli.command()
@click.argument("job", type=PATH)
@click.option("--lift", required=True, help="Id of the lift.")
@click.option("--units", type=click.Choice(["metric", "us"]), default="metric")
@click.option("--out", type=PATH, default=Path("day_card.html"), show_default=True)
def card(job: Path, lift: str, units: UnitSystem, out: Path) -> int:
    """Write the day card of one lift of JOB: limits, and answers to what may differ on the day.

    One page of HTML for a phone without network and for A4 paper. It is no record: the lift plan
    holds the card that belongs to it.
    """
    from liftcalc.facts.io import load_job
    from liftcalc.lift.assess import assess_lift
    from liftcalc.plan.checks import plan_checks
    from liftcalc.plan.day_card import day_card
    from liftcalc.plan.rules import RuleAnswers
    from liftcalc.records.day_page import day_page

    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError.of("out", str(out), "a file name that ends in .html")
    assessed = assess_lift(load_job(job), lift)

    def show(value: float | None, quantity: str, safe: Safe = "") -> str:
        return format_value(value, quantity, units, safe)

    checks = plan_checks(assessed, RuleAnswers(assessed))
    said = day_card(assessed, show, checks)
    write_file(out, day_page(assessed.job, said, units=units).encode("utf-8"))
    mark = f"{INVENTED_LINE}\n" * assessed.job.invented
    whole = verdict(checks)
    say(f"{text_in_units(whole.head, units)}\nDay card: {out}\n{mark}{CAUTION_LINE}")
    return 0 if whole.status == "within" else 1


@cli.command()
@click.argument("files", nargs=-1, required=True, type=PATH)
@click.option("--out", type=PATH, required=True, help="New .geojson, .dxf, .csv or .xlsx file.")
@click.option("--mapping", type=PATH, help="What the layers of a DXF drawing mean (YAML).")
@click.option("--header", type=PATH, help="YAML: id, name, grid, datum, provenance, ground, stated.")
def survey(files: tuple[Path, ...], out: Path, mapping: Path | None, header: Path | None) -> int:
    """Read a site survey from FILES (GeoJSON, DXF, CSV, XLSX) and write it in another format.

    Prints what was read, left out and repaired. Nothing is written unless the whole site is valid.

    Coordinates are metres on the site's own grid, in GeoJSON too: degrees, and a coordinate system
    that the site's grid does not name, are refused. So is what is doubtful (a site of 6 cm, ground
    far from the bases of what stands on it); the message says how to answer it under "stated".

    A table has a point on each row, with the columns easting_m, northing_m and level_m; without a
    column kind every row is a spot level. A mapping file says what the layers of a drawing are:

    \b layers:
        LIMIT: {kind: boundary}
        YARD: {kind: ground zone, profile: BH1}
        HOUSES: {kind: obstacle, obstacle_kind: building, base_level_m: 3.0, top_level_m: 9.0}
        LEVELS: {kind: spot level}
      ignore: [FRAME]          # layers left out without a message
      units: m                 # only where the drawing does not say
      site: {id: my-site, ...} # what else goes into --header

    Kinds and their fields are those of the site's GeoJSON: see a survey that exists, or "liftcalc schema site".
    """
    from liftcalc.survey.convert import convert

    for line in convert(files, out, mapping=mapping, header=header):
        say(line)
    say(f"Survey: {out}\n{CAUTION_LINE}")
    return 0


for _command in COMMANDS:
    cli.add_command(_command)


def main(arguments: Sequence[str] | None = None) -> int:
    """Entry point; returns (and, as a script, exits with) the exit code."""
    if arguments is None:
        # Asked to end, it ends as by Ctrl-C: workers end and nothing unfinished is left.
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
        say("Interrupted. Start the same command again to go on.", err=True)
        return 130
    except LiftcalcError as error:
        lead = {RecordError: "Record: ", InputError: "Input: "}.get(type(error), "")
        say(f"{lead}{error}", err=True)
        return failure_code(error.kind)
    except OSError as error:
        name = "" if error.filename is None else f"{str(error.filename)[:200]}: "
        say(f"Input: {name}{error.strerror or error}", err=True)
        return 2
    except Exception as error:
        if os.environ.get("LIFTCALC_DEBUG"):
            raise
        text = f"{type(error).__name__}: {' '.join(str(error).split())[:500]}\n{PROGRAM_FAULT}"
        say(f"liftcalc stopped: {text} Set LIFTCALC_DEBUG=1 to see where.", err=True)
        return failure_code("program")


if __name__ == "__main__":
    main()
