"""A whole job as one PDF: cover, contents, every sheet; only what verifies is printed."""

import io
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from archival import archival_faults
from pypdf import PdfReader
from writable import unlock

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.records.manifest import MANIFEST_NAME, Manifest, read_manifest
from liftcalc.records.register import states_of
from liftcalc.run.book import book_pdf
from liftcalc.run.recheck import recheck_record

pytest.importorskip("typst")


@pytest.fixture(scope="module")
def book(made_chain: tuple[Path, ...]) -> bytes:
    return book_pdf(list(made_chain), title="Two sheets")


def _texts(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def test_a_book_holds_cover_each_lift_in_brief_and_the_annex(made_chain: tuple[Path, ...], book: bytes) -> None:
    cover, *pages = _texts(book)
    for words in ("Job number", "Client", "Revision", "Date", "Prepared by", "Signature"):
        assert words in cover
    for words in ("within limits", "Cautions", "Contents", "Site survey", "Leg layout", "prepared"):
        assert words in cover
    assert "leg_layout" not in cover
    assert cover.index("Cautions") < cover.index("Contents")
    for number, text in enumerate(pages, start=1):
        assert f"Lift L2, sheet {number} of {len(pages)}" in text
    assert "Assumptions and provenance" not in "".join(pages)
    whole = _texts(book_pdf(list(made_chain), title="Two sheets", annex=True))
    alone = [len(PdfReader(folder / "sheet.pdf").pages) for folder in made_chain]
    annex = whole[1 + len(pages) :]
    assert len(annex) == sum(alone)
    numbers = [(n, page, count) for n, count in enumerate(alone, 2) for page in range(1, count + 1)]
    for text, (number, page, count) in zip(annex, numbers, strict=True):
        assert f"Annex, No. {number} of {len(alone) + 1}, page {page} of {count}" in text
    for text in (cover, *pages, *annex):
        assert CAUTION_LINE in text
        assert INVENTED_LINE in text


def test_the_cover_says_what_this_machine_neither_made_nor_made_again(
    made_chain: tuple[Path, ...], toy_templates: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    words = "neither made nor found to match on this machine"
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    for there in (True, False):
        assert (words in _texts(book_pdf(made_chain[:1], title="One"))[0]) is there
        found = recheck_record(made_chain[0], write=False, templates=toy_templates)
        assert found.decision == "matches"


def test_bookmarks_labels_and_contents_lead_to_the_sheets(made_chain: tuple[Path, ...]) -> None:
    book = book_pdf(list(made_chain), title="Two sheets", annex=True)
    reader = PdfReader(io.BytesIO(book))
    marks = [(m.title, reader.get_destination_page_number(m)) for m in reader.outline]  # type: ignore
    assert [title.split(",")[0] for title, _ in marks] == [
        "Lift L2: New pump motor into the pump bay", "Site survey", "Leg layout",
    ]  # fmt: skip
    labels = reader.page_labels
    assert labels[0] == "i"
    assert [labels[place] for _, place in marks if place is not None] == ["1-1", "2-1", "3-1"]
    with pikepdf.open(io.BytesIO(book)) as pdf:
        first: Any = [page.obj.objgen for page in pdf.pages]
        notes: Any = pdf.pages[0].Annots
        assert [first.index(note.Dest[0].objgen) for note in notes] == [p for _, p in marks]
        assert all("/A" not in note for note in notes)


def test_the_book_is_pdf_a_3(book: bytes) -> None:
    assert archival_faults(book, conformance="U") == []


def test_the_same_records_give_the_same_book_on_the_paper_that_was_asked_for(
    made_chain: tuple[Path, ...], book: bytes
) -> None:
    assert book_pdf(list(made_chain), title="Two sheets") == book
    letter = PdfReader(io.BytesIO(book_pdf(list(made_chain), title="x", paper="letter")))
    assert {tuple(page.mediabox[2:]) for page in letter.pages} == {(612, 792)}


def test_a_damaged_record_is_refused_by_name(copied: Path) -> None:
    (copied / "results.json").write_bytes(b"{}")
    with pytest.raises(RecordError, match=rf"{re.escape(copied.name)}.*results\.json"):
        book_pdf([copied], title="x")
    with pytest.raises(InputError, match="at least one record"):
        book_pdf([], title="x")


def _sheet(name: str, archive: Path, forge: Any, of: Path, **fields: Any) -> Path:
    folder = archive / name
    shutil.copytree(of, folder)
    unlock(folder)
    forge(folder, record=name, **fields)
    return folder


def test_what_other_records_say_of_a_sheet_stands_beside_it(copied: Path, forge: Callable[..., Manifest]) -> None:
    """Superseded by a later record, and current beside another: told on the cover by name."""
    link = read_manifest((copied / MANIFEST_NAME).read_bytes()).link
    later = _sheet(copied.name[:-8] + "00000001", copied.parent, forge, copied, revises=(link,))
    twin = _sheet(copied.name[:-8] + "00000002", copied.parent, forge, copied)
    cover = "".join(_texts(book_pdf([copied, later, twin], title="x"))[0].split())
    assert f"supersededby{later.name}" in cover.replace("\u200b", "")
    assert cover.count("currenttwice") == 2


def test_a_record_that_is_exchanged_while_it_is_printed_is_refused(
    copied: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (entry,) = states_of([copied])
    other = entry._replace(manifest_sha256="0" * 64)
    monkeypatch.setattr("liftcalc.run.book.states_of", lambda folders: [other])
    with pytest.raises(RecordError, match=f"{copied.name}: it was exchanged while it was printed"):
        book_pdf([copied], title="x")


def test_a_drawing_that_takes_long_or_holds_what_none_has_is_refused_by_name(
    copied: Path, forge: Callable[..., Manifest]
) -> None:
    path = next((copied / "figures").glob("*.svg"))
    name = f"figures/{path.name}"
    good = path.read_text(encoding="utf-8")
    blur = '<filter id="f"><feGaussianBlur stdDeviation="9000"/></filter></svg>'
    forge(copied, {name: good.replace("</svg>", blur).encode("utf-8")})
    with pytest.raises(RecordError, match=f"{re.escape(copied.name)}.*filter"):
        book_pdf([copied], title="x")
    forge(copied, {name: good.encode("utf-8")})
    with pytest.raises(RecordError, match=f"{re.escape(copied.name)}.*took longer than"):
        book_pdf([copied], title="x", timeout_s=0.001)
