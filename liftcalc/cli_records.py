"""The commands on records that exist: recheck, keep, register, sign, stamp, pdf, handover."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from liftcalc.base.errors import InputError
from liftcalc.base.files import write_file
from liftcalc.base.terminal import say
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.base.words import STATE_WORDS

PATH = click.Path(path_type=Path)
_LONGEST = "Maximum time for one sheet, in seconds."
TIMEOUT = click.option("--timeout", "timeout_s", type=click.FloatRange(1, 86400), help=_LONGEST)
WORKERS = click.option("--workers", type=click.IntRange(1, 256), help="Worker processes.")
_TRUSTED = click.option("--trusted", type=PATH, help="Your list of trusted keys (YAML).")
_ROLE = click.Choice(["prepared", "checked", "approved"])


def _number(items: Sequence[Any], noun: str) -> str:
    return f"{len(items)} {noun}{'' if len(items) == 1 else 's'}"


@click.command()
@click.argument("records", type=PATH, nargs=-1, required=True)
@click.option("--checker", default="", help="Name of the checker, written into the check record.")
@click.option("--out", type=PATH, help="Where check records go (default: beside each record).")
@click.option("--no-record", is_flag=True, help="Only report; write no check record.")
@WORKERS
@TIMEOUT
@click.option("--rtol", type=float, default=1e-6, show_default=True, help="Relative tolerance.")
@click.option("--atol", type=float, default=1e-9, show_default=True, help="Absolute tolerance.")
@_TRUSTED
@click.option("--environment", type=PATH, help="Archive with the packages kept for the records.")
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
    from liftcalc.records.check_record import RECHECK_LINE, outcome_lines
    from liftcalc.records.compare import Tolerance
    from liftcalc.records.entries import UNSEEN
    from liftcalc.records.inputs import validate_parameters
    from liftcalc.records.trust import load_trusted
    from liftcalc.run.job import usable_cores
    from liftcalc.run.recheck import recheck_many

    validate_parameters("site_survey", prepared_by=options["checker"])
    if options["require"] and trusted is None:
        raise InputError.of("", None, "--require needs the list of trusted keys: --trusted FILE")
    outcomes = recheck_many(
        _expand(records), write=not no_record, workers=workers or usable_cores(),
        tolerance=Tolerance(rtol, atol), **options,
        trusted=load_trusted(trusted) if trusted else None,
    )  # fmt: skip
    for outcome in outcomes:
        say("\n".join(outcome_lines(outcome)))
    found = [outcome for outcome in outcomes if outcome.decision != "not a record"]
    good, half = (sum(o.decision == word for o in found) for word in ("matches", UNSEEN))
    if found:
        counts = [f"{good} match", *([f"the numbers of {half} match"] if half else [])]
        counts.append(f"{len(found) - good - half} do not")
        say(f"{_number(found, 'record')}: {', '.join(counts)}.")
    say(f"{RECHECK_LINE}\n{CAUTION_LINE}")
    return next((code for code in (4, 3, 5) if code in {o.code for o in outcomes}), 0)


@click.command()
@click.argument("archive", type=PATH)
@click.option("--release", type=PATH, help="Wheel of another version of liftcalc, to keep it.")
def keep(archive: Path, **options: Any) -> int:
    """Keep the packages that records are made with beside them, in ARCHIVE, for a later re-check.

    Once for an environment, some 230 MB. What is kept there runs when records are made again.
    """
    from liftcalc.run.keep import keep_environment

    say(f"Packages: {keep_environment(archive, **options)}\n{CAUTION_LINE}")
    return 0


def _expand(paths: Sequence[Path]) -> list[Path]:
    """Records named, and every sheet below the folders named."""
    from liftcalc.records.listing import sheets_named

    folders, passed_over = sheets_named(paths)
    for path in passed_over:
        say(f"{path}: the batch's summary, not a record; passed over.", err=True)
    return folders


_STATES = (
    "missing, damaged, withdrawn, superseded, check differs, current twice, parent damaged, parent"
    " superseded, checked, cannot be re-run, prepared; of a check: matches, differs"
)


@click.command()
@click.argument("folder", type=PATH)
@click.option("--csv", "csv_file", type=PATH, help="Also write the register as CSV.")
@click.option("--html", "html_file", type=PATH, help="Also write the register as HTML pages.")
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

    say("\n".join(list_records(folder, **options)))
    return 0


@click.command()
@click.argument("records", type=PATH, nargs=-1)
@click.option("--key", "key_file", type=PATH, required=True, help="Private key (PEM, Ed25519).")
@click.option("--new-key", is_flag=True, help="Make the key file first.")
@click.option("--role", type=_ROLE, default="prepared")
@click.option("--name", default="", help="Name of the signer.")
@click.option("--password", default="", envvar="LIFTCALC_KEY_PASSWORD")
@click.option("--anyway", is_flag=True, help="Sign what is over, on condition, differs or is old.")
def sign(
    records: Sequence[Path], key_file: Path, new_key: bool, role: str, name: str, password: str, anyway: bool
) -> int:
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
    seen = [require_record(folder).manifest for folder in folders]
    if folders:
        _answer(folders, seen, role=role, name=name, anyway=anyway)
    if key is None:
        say(f"New key {key_file}, public_key: {signing.new_key(key_file, password)}")
        key = signing.load_key(key_file, password)
    for folder, one in zip(folders, seen, strict=True):
        say(f"Signed: {signing.sign_record(folder, key, role=role, name=name, seen=one)}")
    return 0


def _answer(folders: Sequence[Path], seen: Sequence[Any], *, role: str, name: str, anyway: bool) -> None:
    """Show what speaks against signing; go on only if the signer says so."""
    from liftcalc.records.doubts import doubts

    against, known = doubts(folders, role=role, name=name, seen=seen)
    for line in (*against, *known):
        say(f"Warning: {line}", err=True)
    if against and not anyway:
        if sys.stdin.isatty() and click.confirm(f"Sign as {role} all the same?", err=True):
            return
        raise InputError.of("", None, "Nothing was signed", "Sign other records, or these with --anyway.")


@click.command()
@click.argument("records", type=PATH, nargs=-1, required=True)
@click.option("--query", type=PATH, help="Folder for the queries, one RECORD.tsq for each record.")
@click.option("--reply", type=PATH, help="The authority's reply, or a folder of RECORD.tsr.")
@_TRUSTED
def stamp(records: Sequence[Path], query: Path | None, reply: Path | None, trusted: Path | None) -> int:
    """Get a time stamp (RFC 3161) for RECORDS: write the queries, verify and store the replies.

    Nothing is sent anywhere: take a query to a time-stamp authority, and bring its reply back.
    """
    from liftcalc.records import stamp as stamping
    from liftcalc.records.trust import load_trusted

    if (query is None) is (reply is None):
        raise InputError.of("", None, "Give --query to ask for time stamps, or --reply to store them")
    authorities = load_trusted(trusted).time_stamp_authorities if trusted else ()
    for folder in _expand(records):
        if query is not None:
            say(f"Query: {stamping.write_query(folder, query)}")
        elif reply is not None:
            done = stamping.store_reply(folder, reply, authorities)
            say(f"{folder.resolve().name}: {done.words}")
    return 0


@click.command()
@click.argument("records", type=PATH, nargs=-1, required=True)
@click.option("--out", type=PATH, required=True, help="PDF file to write.")
@click.option("--title", default="Lift plan")
@click.option("--paper", type=click.Choice(["A4", "letter"]), help="Default: as the units go.")
@click.option("--annex", is_flag=True, help="Full working of each sheet behind the lifts.")
@WORKERS
@TIMEOUT
def pdf(
    records: Sequence[Path], out: Path, title: str, paper: str | None, workers: int | None,
    timeout_s: float | None, annex: bool,
) -> int:  # fmt: skip
    """Print RECORDS (or folders of them) as one PDF: cover, then each lift in brief."""
    from liftcalc.run.book import book_pdf

    folders = _expand(records)
    write_file(
        out, book_pdf(folders, title=title, paper=paper or "", workers=workers or 1, timeout_s=timeout_s, annex=annex)
    )
    say(f"{_number(folders, 'sheet')}: {out}")
    return 0


@click.command("as-set-up")
@click.argument("record", type=PATH)
@click.argument("measured", type=PATH, required=False)
@click.option("--form", type=PATH, help="Write a page to fill in at the crane, offline (HTML).")
@click.option("--prepared-by", default="", help="Who makes the sheet.")
@click.option("--pdf/--no-pdf", default=None, help="PDF of the sheet.")
@TIMEOUT
def as_set_up(record: Path, measured: Path | None, form: Path | None, prepared_by: str, **options: Any) -> int:
    """Archive what was MEASURED at the crane (YAML) beside the lift plan RECORD, as its child.

    \b lift: L1 date: "2026-12-08" measured_by: S. Example legs: {FL: 2.31, FR: 3.20, RR: 3.20, RL: 2.30} mat:
      timber-1.8 tilt_x_percent: 0.1 tilt_y_percent: 0.0 trial: {slew_deg: 86.0, radius_m: 13.2, indicator_t: 5.1}

    The other fields: "liftcalc schema as-set-up".
    """
    from liftcalc.run.measured import form_page, make_as_set_up

    if (measured is None) is (form is None):
        raise InputError.of("", None, "Give what was measured, or --form for a page to fill in")
    if measured is None:
        assert form is not None
        write_file(form, form_page(record))
        say(f"Form: {form}\n{CAUTION_LINE}")
        return 0
    made = make_as_set_up(record, measured, prepared_by=prepared_by, **options)
    words = STATE_WORDS.get(made.manifest.verdict, made.manifest.verdict)
    say(f"{words[:1].upper()}{words[1:]}: {made.manifest.governing}")
    mark = f"{INVENTED_LINE}\n" * made.manifest.invented
    say(f"Record: {made.folder}\n{mark}{CAUTION_LINE}")
    return 0 if made.manifest.verdict == "within" else 1


@click.command()
@click.argument("archive", type=PATH)
@click.option("--out", type=PATH, required=True, help="New folder for the bag.")
@click.option("--damaged", is_flag=True, help="Hand over damaged records too, each named.")
@click.option("--licence", help="Under which the records may be used.")
def handover(archive: Path, out: Path, **options: Any) -> int:
    """Hand ARCHIVE over as a BagIt bag (hashes of all files), described as an RO-Crate."""
    from liftcalc.records.handover import hand_over

    say("\n".join([*hand_over(archive, out, **options), f"Bag: {out}"]))
    return 0


COMMANDS = (as_set_up, recheck, keep, register, sign, stamp, pdf, handover)
