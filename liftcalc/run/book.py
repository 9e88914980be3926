"""A job's book: cover, then each lift with plan, card and its calculation in brief, then the annex.

Each lift is typeset in a worker of its own, then all are joined behind the cover. Memory does not grow with the job
beyond what is printed, and a drawing that takes too long stops its own worker alone. The whole is PDF/A-3u (untagged;
the sheets' own PDFs are tagged). What a record says is printed only after the record was verified; what the other
records beside it say of it (superseded, check differs) stands on the cover.
"""

import io
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from liftcalc.base import resources
from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.text import CAUTIONS
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.believed import NOT_OWN, own_records
from liftcalc.records.blocks import table
from liftcalc.records.brief import (
    PROVENANCE,
    REQUIREMENT_COLUMNS,
    REQUIREMENTS,
    brief_notebook,
    card_notebook,
    once_rows,
    provenance_table,
)
from liftcalc.records.drawings import drawing_differences
from liftcalc.records.html import page_facts, take_drawings
from liftcalc.records.manifest import Manifest, manifest_bytes, read_manifest
from liftcalc.records.pages import PAPER
from liftcalc.records.pdf import lift_pdf, pdf_wanted, sheet_pdf, soften, typeset
from liftcalc.records.register import states_of
from liftcalc.records.verify import require_record
from liftcalc.run.links import chain_of
from liftcalc.run.workers import WorkItem, run_pool

PRINT_S = 60.0
"""Time in which a sheet must be printed; a drawing made to take long would hold up the job."""
_GOOD_STATES = ("prepared", "checked")
_RANK = ("within", "found", "condition", "incomplete", "no_data", "not_found", "over")
"""States of a sheet, the worst last."""


def _held(folder: Path) -> tuple[Manifest, dict[str, Any], dict[str, bytes], str]:
    """A record that was verified: manifest, notebook, drawings and the job's client."""
    verified = require_record(folder)
    manifest = verified.manifest
    if manifest is None or manifest.kind != "sheet":
        raise RecordError(f"{verified.folder.name}: is not the record of a sheet")
    notebook = verified.json("sheet.ipynb")
    figures = {**verified.content, **take_drawings(notebook)}
    for path, drawing in figures.items():
        # held against itself, a drawing has what none of a sheet holds named
        if path.endswith(".svg") and (wrong := drawing_differences(drawing, drawing)):
            raise RecordError(f"{manifest.record}: {path}: {wrong[0]}")
    client = str(verified.json("inputs.json").get("job", {}).get("client", ""))
    return manifest, notebook, figures, client


def _brief(held: Sequence[tuple[Manifest, dict[str, Any], dict[str, bytes], str]],
           arguments: Mapping[str, Any]) -> bytes:  # fmt: skip
    """One lift in brief: the plan, the card, then each calculation sheet."""
    order = sorted(held, key=lambda h: h[0].template != "lift_plan")
    sheets = []
    for n, (m, notebook, figures, _) in enumerate(order):
        facts = page_facts(m)
        name = resources.SHEET_TITLES.get(m.template, m.template)
        heading = f"{name}: {STATE_WORDS.get(m.verdict, m.verdict)}, {m.governing}"
        shown = brief_notebook(notebook, template=m.template, heading=heading, first=n == 0)
        sheets.append((shown, figures, facts))
    cards = [
        (shown, figures, page_facts(m))
        for m, notebook, figures, _ in order if (shown := card_notebook(notebook))["cells"]
    ]  # fmt: skip
    last = order[-1][0]
    date = max(m.prepared_utc for m, *_ in order)[:10]
    sheets[1:1] = cards
    return lift_pdf(
        sheets, numbered=f"Lift {last.lift}, sheet", paper=arguments["paper"] or PAPER[last.units],
        foot=f"{last.job}, lift {last.lift}: {last.lift_title}, revision {last.revision}, {date}",
        identity=[(resources.SHEET_TITLES.get(m.template, m.template),
                   f"record {m.record}, manifest SHA-256 {m.manifest_sha256}")
                  for m, *_ in order],
    )  # fmt: skip


def print_part(arguments: dict[str, Any], *, tell: Any) -> None:
    """In a worker: verify a lift's records and print them in brief, or one of them whole."""
    tell({"begin": arguments["folders"][0]})
    name = Path(arguments["folders"][0]).name
    try:
        held = [_held(Path(folder)) for folder in arguments["folders"]]
        if arguments["whole"]:
            m, notebook, figures, _ = held[0]
            paper = arguments["paper"] or PAPER[m.units]
            place = arguments["place"]
            pdf = sheet_pdf(notebook, figures, page_facts(m), {}, place=place, paper=paper)
        else:
            pdf = _brief(held, arguments)
        Path(arguments["part"]).write_bytes(pdf)
    except RecordError as error:
        tell({"refused": str(error)})
        return
    except (LookupError, TypeError, ValueError, AttributeError) as error:
        said = f"{type(error).__name__}: {error}"[:300]
        tell({"refused": f"{name}: cannot be printed ({said})"})
        return
    tell({
        "manifests": [manifest_bytes(m).decode("utf-8") for m, *_ in held],
        "client": [client for *_, client in held],
        "provenance": [(m.lift, once_rows(notebook, PROVENANCE)) for m, notebook, *_ in held],
        "requirements": next(filter(None, (once_rows(h[1], REQUIREMENTS) for h in held)), []),
    })  # fmt: skip


def _listed(values: Iterable[str]) -> str:
    return ", ".join(sorted({value for value in values if value})) or "–"


def _states(folders: Sequence[Path], manifests: Sequence[Manifest]) -> list[str]:
    """What the records beside each record, and this machine, say of it, in their order.

    Raises: A record is not the one that was printed any more.
    """
    own, said = own_records(), states_of(folders)
    for entry, printed in zip(said, manifests, strict=True):
        if entry.manifest_sha256 != printed.manifest_sha256:
            raise RecordError(f"{printed.record}: it was exchanged while it was printed")
    return [e.standing if e.manifest_sha256 in own else f"{e.standing}; {NOT_OWN}" for e in said]


def _row(number: int, part: Sequence[tuple[Manifest, str]]) -> tuple[list[str], str]:
    """A part in the overview, and its state: the worst of its sheets, and what is said of them."""
    worst = max((m for m, _ in part), key=lambda m: _RANK.index(m.verdict))
    odd = [f"{resources.SHEET_TITLES.get(m.template, m.template)}: {state}" if len(part) > 1
           else state for m, state in part if state not in _GOOD_STATES]  # fmt: skip
    first = part[0][0]
    names = ", ".join(resources.SHEET_TITLES.get(m.template, m.template) for m, _ in part)
    said = "; ".join(odd) or _listed(state for _, state in part)
    good = worst.verdict in ("within", "found")
    row = [str(number), first.lift, first.lift_title, names,
           STATE_WORDS.get(worst.verdict, worst.verdict), worst.governing, said]  # fmt: skip
    return row, ("broken" if odd else "") if good else worst.verdict


def _cover(
    parts: Sequence[Sequence[tuple[Manifest, str]]], clients: Iterable[str], once: Sequence[Mapping[str, Any]]
) -> dict[str, Any]:
    """What the first pages of a job say: whose job, when and by whom prepared, each verdict.

    *once*: tables that are the same for every lift.
    """
    manifests = [m for part in parts for m, _ in part]
    rows = [_row(number, part) for number, part in enumerate(parts, start=1)]
    dates = sorted(m.prepared_utc[:10] for m in manifests)
    people = _listed(m.prepared_by for m in manifests)
    return {
        "rows": soften([
            ["Job number", _listed(m.job for m in manifests)],
            ["Job", _listed(m.job_title for m in manifests)],
            ["Client", _listed(clients)],
            ["Revision", _listed(m.revision for m in manifests)],
            ["Date", " to ".join(dict.fromkeys((dates[0], dates[-1])))],
            ["Sheets", str(len(manifests))],
        ]),
        "people": [
            ["Prepared by", "" if people == "–" else people], ["Checked by", ""], ["Approved by", ""],
        ],
        "overview": {
            "columns": ["No.", "Lift", "What", "Sheets", "State", "Governing check", "Record"],
            "align": ["right", *["left"] * 6],
            "rows": soften([row for row, _ in rows]), "states": [state for _, state in rows],
        },
        "once": soften([dict(block) for block in once]),
        "cautions": list(CAUTIONS),
    }  # fmt: skip


def _joined(cover: bytes, parts: Sequence[tuple[str, Path]]) -> bytes:
    """Cover and parts (title, file) in one, with bookmarks, page labels and places to go to."""
    import pikepdf
    from pikepdf import Dictionary, Name, OutlineItem

    with pikepdf.open(io.BytesIO(cover)) as book:
        front, places = len(book.pages), []
        for _, path in parts:
            places.append(len(book.pages))
            with pikepdf.open(path) as part:
                book.pages.extend(part.pages)
        labels: list[Any] = [0, Dictionary(S=Name.r)]
        for number, place in enumerate(places, start=1):
            labels += [place, Dictionary(S=Name.D, P=f"{number}-")]
        book.Root.PageLabels = Dictionary(Nums=pikepdf.Array(labels))
        with book.open_outline() as outline:
            outline.root[:] = [OutlineItem(title, place) for (title, _), place in zip(parts, places, strict=True)]
        for page in book.pages[:front]:
            for note in page.get("/Annots", []):
                number = int(str(note.A.URI).removeprefix("sheet:"))
                del note["/A"]
                target = book.pages[places[number - 1]].obj
                note.Dest = pikepdf.Array([target, Name.Fit])
        whole = io.BytesIO()
        streams = pikepdf.ObjectStreamMode.generate
        book.save(whole, object_stream_mode=streams, deterministic_id=True)
    return whole.getvalue()


def _parts(folders: Sequence[Path], annex: bool) -> list[tuple[list[Path], bool]]:
    """Records of one lift together in brief, in the order given; with *annex* each whole as well.

    Which lift a record is of is shown by its name, on which only the order of the pages hangs.
    """
    lifts: dict[str, list[Path]] = {}
    for folder in folders:
        lifts.setdefault(chain_of(folder.name)[0], []).append(folder)
    whole = [([folder], True) for folder in folders] if annex else []
    return [*((of, False) for of in lifts.values()), *whole]


def book_pdf(  # long: a process prints each part; their pages become one book
    folders: Sequence[Path], *, title: str, paper: str = "", workers: int = 1,
    timeout_s: float | None = None, annex: bool = False,
) -> bytes:  # fmt: skip
    """Many records as one PDF: cover with contents, then each lift: plan, card, calculation.

    The calculation stands in brief; with *annex* the full working of each sheet follows. What is the same for every
    lift stands once, behind the cover. *paper* is "A4" or "letter"; if empty, what goes with the units of each record.
    Each record is verified first; :class:`RecordError` when one is not whole, cannot be printed, or takes longer than
    *timeout_s* (``PRINT_S`` where not given).
    """
    if not folders:
        raise InputError.of("records", "none", "at least one record to print")
    pdf_wanted(True)
    said: dict[str, dict[str, Any]] = {}

    def heard(item: WorkItem, message: dict[str, Any]) -> None:
        if "refused" in message:
            raise RecordError(message["refused"])
        if "manifests" in message:
            said[item.key] = message

    def lost(item: WorkItem, why: str, late: bool) -> None:
        name = Path(item.arguments["folders"][0]).name
        raise RecordError(f"{name}: cannot be printed: {why}")

    parts = _parts(folders, annex)
    with tempfile.TemporaryDirectory(prefix="liftcalc-book-") as scratch:
        items = [
            WorkItem(
                str(number), f"{__name__}:print_part",
                {
                    "folders": [str(folder.absolute()) for folder in own], "paper": paper, "whole": whole,
                    "place": f"Annex, No. {number} of {len(parts)}", "part": str(Path(scratch, f"{number}.pdf")),
                },
                timeout_s or PRINT_S,
            )
            for number, (own, whole) in enumerate(parts, start=1)
        ]  # fmt: skip
        run_pool(items, workers=workers, on_message=heard, on_lost=lost, warm=False)
        told = [said[item.key] for item in items]
        printed = [[read_manifest(text.encode("utf-8")) for text in message["manifests"]] for message in told]
        states = {
            m.record: state
            for own, ms in zip((own for own, _ in parts), printed, strict=True)
            for m, state in zip(ms, _states(own, ms), strict=True)
        }
        every = [m for ms in printed for m in ms]
        briefs = [m for m, (_, whole) in zip(told, parts, strict=True) if not whole]
        facts = provenance_table(pair for message in briefs for pair in message["provenance"])
        once = [facts] if facts["rows"] else []
        asked = [message["requirements"] for message in briefs if message["requirements"]]
        if asked:
            once.append(table(REQUIREMENTS, REQUIREMENT_COLUMNS, asked[0]))
        cover = typeset(
            title, {}, paper=paper or PAPER[every[0].units], units=every[0].units,
            invented=any(m.invented for m in every),
            prepared_utc=max(m.prepared_utc for m in every), numbered="Cover, sheet", whole=False,
            cover=_cover(
                [[(m, states[m.record]) for m in ms] for ms in printed],
                [client for message in told for client in message["client"]], once,
            ),
        )  # fmt: skip
        titles = [
            page_facts(ms[0]).title if whole or len(ms) == 1 else f"Lift {ms[0].lift}: {ms[0].lift_title}"
            for ms, (_, whole) in zip(printed, parts, strict=True)
        ]
        paths = [Path(item.arguments["part"]) for item in items]
        return _joined(cover, list(zip(titles, paths, strict=True)))
