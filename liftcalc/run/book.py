"""A whole job on paper: each sheet typeset by itself in a worker, then all joined behind a cover.

Memory does not grow with the job beyond what is printed, and a drawing that takes too long stops
its own worker alone. The whole is PDF/A-3u (untagged; the sheets' own PDFs are tagged). What a
record says is printed only after the record was verified; what the other records beside it say of
it (superseded, check differs) stands on the cover.
"""

import io
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from liftcalc.base import resources
from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.text import CAUTIONS
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.believed import NOT_OWN, own_records
from liftcalc.records.drawings import drawing_differences
from liftcalc.records.html import page_facts, take_drawings
from liftcalc.records.manifest import Manifest, manifest_bytes, read_manifest
from liftcalc.records.pages import PAPER
from liftcalc.records.pdf import pdf_wanted, sheet_pdf, soften, typeset
from liftcalc.records.register import states_of
from liftcalc.records.verify import require_record
from liftcalc.run.workers import WorkItem, run_pool

PRINT_S = 60.0
"""Time in which a sheet must be printed; a drawing made to take long would hold up the job."""
_GOOD_STATES = ("prepared", "checked")


def print_sheet(arguments: dict[str, Any], *, tell: Any) -> None:
    """In a worker: verify one record and print it as a part of the job, or say why not."""
    tell({"begin": arguments["folder"]})
    try:
        verified = require_record(Path(arguments["folder"]))
        manifest = verified.manifest
        if manifest is None or manifest.kind != "sheet":
            raise RecordError(f"{verified.folder.name}: is not the record of a sheet")
        paper = arguments["paper"] or PAPER[manifest.units]
        notebook = verified.json("sheet.ipynb")
        figures = {**verified.content, **take_drawings(notebook)}
        for path, drawing in figures.items():
            # held against itself, a drawing has what none of a sheet holds named
            if path.endswith(".svg") and (wrong := drawing_differences(drawing, drawing)):
                raise RecordError(f"{manifest.record}: {path}: {wrong[0]}")
        pdf = sheet_pdf(
            notebook, figures, page_facts(manifest), {}, place=arguments["place"], paper=paper
        )
        Path(arguments["part"]).write_bytes(pdf)
        client = str(verified.json("inputs.json").get("job", {}).get("client", ""))
    except RecordError as error:
        tell({"refused": str(error)})
        return
    except (LookupError, TypeError, ValueError, AttributeError) as error:
        said = f"{type(error).__name__}: {error}"[:300]
        tell({"refused": f"{Path(arguments['folder']).name}: cannot be printed ({said})"})
        return
    tell({"manifest": manifest_bytes(manifest).decode("utf-8"), "client": client})


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


def _cover(
    manifests: Sequence[Manifest], clients: Iterable[str], said: Sequence[str]
) -> dict[str, Any]:
    """What the first page of a job says: whose job, when and by whom prepared, each verdict."""
    dates = sorted(m.prepared_utc[:10] for m in manifests)
    people = _listed(m.prepared_by for m in manifests)
    good = [m.verdict in ("within", "found") for m in manifests]
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
            ["Prepared by", "" if people == "–" else people], ["Checked by", ""],
            ["Approved by", ""],
        ],
        "overview": {
            "columns": ["No.", "Lift", "What", "Sheet", "State", "Governing check", "Record"],
            "align": ["right", *["left"] * 6],
            "rows": soften([
                [
                    str(number), m.lift, m.lift_title,
                    resources.SHEET_TITLES.get(m.template, m.template),
                    STATE_WORDS.get(m.verdict, m.verdict), m.governing, state,
                ]
                for number, (m, state) in enumerate(zip(manifests, said, strict=True), start=1)
            ]),
            "states": [
                ("" if state in _GOOD_STATES else "broken") if fine else m.verdict
                for m, state, fine in zip(manifests, said, good, strict=True)
            ],
        },
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
            outline.root[:] = [
                OutlineItem(title, place) for (title, _), place in zip(parts, places, strict=True)
            ]
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


def book_pdf(
    folders: Sequence[Path], *, title: str, paper: str = "", workers: int = 1,
    timeout_s: float | None = None,
) -> bytes:  # fmt: skip
    """Many records as one PDF: overview with the list of contents, then every sheet.

    *paper* is "A4" or "letter"; if empty, what goes with the units of each record. Each record is
    verified first; :class:`RecordError` when one is not whole, cannot be printed, or takes longer
    than *timeout_s* (``PRINT_S`` where not given).
    """
    if not folders:
        raise InputError.of("records", "none", "at least one record to print")
    pdf_wanted(True)
    said: dict[str, dict[str, Any]] = {}

    def heard(item: WorkItem, message: dict[str, Any]) -> None:
        if "refused" in message:
            raise RecordError(message["refused"])
        if "manifest" in message:
            said[item.key] = message

    def lost(item: WorkItem, why: str, late: bool) -> None:
        name = Path(item.arguments["folder"]).name
        raise RecordError(f"{name}: cannot be printed: {why}")

    with tempfile.TemporaryDirectory(prefix="liftcalc-book-") as scratch:
        items = [
            WorkItem(
                str(number), f"{__name__}:print_sheet",
                {
                    "folder": str(folder.absolute()), "paper": paper,
                    "place": f"No. {number} of {len(folders)}",
                    "part": str(Path(scratch, f"{number}.pdf")),
                },
                timeout_s or PRINT_S,
            )
            for number, folder in enumerate(folders, start=1)
        ]  # fmt: skip
        run_pool(items, workers=workers, on_message=heard, on_lost=lost, warm=False)
        manifests = [read_manifest(said[i.key]["manifest"].encode("utf-8")) for i in items]
        cover = typeset(
            title, {}, paper=paper or PAPER[manifests[0].units], units=manifests[0].units,
            invented=any(m.invented for m in manifests),
            prepared_utc=max(m.prepared_utc for m in manifests), numbered="Contents, page",
            whole=False,
            cover=_cover(
                manifests, [said[i.key]["client"] for i in items], _states(folders, manifests)
            ),
        )  # fmt: skip
        titles = [page_facts(m).title for m in manifests]
        paths = [Path(item.arguments["part"]) for item in items]
        return _joined(cover, list(zip(titles, paths, strict=True)))
