"""PDF: A4 or letter, page numbers, contents, cautions, the same bytes, nothing read as markup."""

from __future__ import annotations

import copy
import io
import re
import zlib
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest
from archival import SPOILT, archival_faults
from pypdf import PdfReader

from liftcalc.base.errors import RecordError
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.base.units import UnitSystem
from liftcalc.records.blocks import BLOCK_MIME, cautions, figure_block, table, title_block
from liftcalc.records.html import PageFacts, take_drawings
from liftcalc.records.manifest import MANIFEST_NAME, read_manifest
from liftcalc.records.pdf import _flow, _markdown, sheet_pdf

pytest.importorskip("typst")

HOSTILE = '#import "x": * ] } $ @a <b> \\ _ * `` // /* = - + "quoted" #sys.inputs #{1/0}'
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100pt" height="50pt" viewBox="0 0 100 50">'
    '<path d="M 0 0 L 100 50" stroke="black"/></svg>'
)


def _facts() -> PageFacts:
    return PageFacts(
        record="r",
        title="Sheet " + HOSTILE,
        prepared_utc="2026-05-01T00:00:00Z",
        template="lift_check",
        template_sha256="0" * 64,
        inputs_sha256="1" * 64,
        version="0",
    )


def _notebook(*outputs: dict[str, object], markdown: str = "") -> dict[str, object]:
    return {
        "cells": [
            {"cell_type": "markdown", "metadata": {}, "source": markdown},
            {
                "cell_type": "code",
                "metadata": {},
                "source": "",
                "outputs": [{"output_type": "display_data", "data": o} for o in outputs],
            },
        ]
    }


def _pdf(notebook: dict[str, object], facts: PageFacts, **attached: bytes) -> bytes:
    files = {f"{name}.json": data for name, data in attached.items()}
    return sheet_pdf(notebook, take_drawings(notebook), facts, files)


def _streams(pdf: bytes) -> bytes:
    """Everything in the PDF with its compressed streams opened (PDF 32000-1, 7.3.8)."""
    parts = [pdf]
    for match in re.finditer(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        try:
            parts.append(zlib.decompress(match[1]))
        except zlib.error:
            continue
    return b"\n".join(parts)


def _texts(pdf: bytes) -> list[str]:
    """The words of each page, as a PDF reader finds them."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", _streams(pdf)))


def test_text_that_looks_like_markup_is_printed_and_not_read() -> None:
    block = table(HOSTILE, [HOSTILE], [[HOSTILE]])
    notebook = _notebook(
        {BLOCK_MIME: title_block(HOSTILE, [(HOSTILE, HOSTILE)])},
        {BLOCK_MIME: block},
        {BLOCK_MIME: cautions([HOSTILE])},
        {"text/plain": HOSTILE},
        markdown=HOSTILE + "\n\n# " + HOSTILE + "\n\n- " + HOSTILE,
    )
    pdf = _pdf(notebook, _facts())
    assert pdf.startswith(b"%PDF-")
    assert _pages(pdf) >= 1


def test_the_same_sheet_gives_the_same_bytes() -> None:
    notebook = _notebook({"image/svg+xml": SVG}, markdown="# A")
    again = copy.deepcopy(notebook)
    assert _pdf(notebook, _facts()) == _pdf(again, _facts())


@pytest.mark.parametrize(
    ("units", "inches"),
    # A4 is 210 mm x 297 mm (ISO 216); letter is 8.5 in x 11 in (ANSI/ASME Y14.1, from memory).
    [("metric", (210 / 25.4, 297 / 25.4)), ("us", (8.5, 11.0))],
)
def test_pages_are_a4_or_letter(units: UnitSystem, inches: tuple[float, float]) -> None:
    facts = replace(_facts(), units=units)
    pdf = _streams(_pdf(_notebook(markdown="# A"), facts))
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", pdf)
    assert boxes
    for box in boxes:
        assert [float(x) / 72 for x in box] == pytest.approx(inches, abs=0.002)


def test_each_page_bears_the_caution_and_the_mark_of_an_invented_job() -> None:
    rows = [[str(n), "x"] for n in range(200)]
    notebook = _notebook({BLOCK_MIME: table("T", ["a", "b"], rows)})
    for invented in (True, False):
        pages = _texts(_pdf(notebook, replace(_facts(), invented=invented)))
        assert len(pages) >= 3
        for number, text in enumerate(pages, start=1):
            assert CAUTION_LINE in text
            assert (INVENTED_LINE in text) == invented
            assert f"Page {number} of {len(pages)}" in text


def test_a_long_table_goes_on_over_pages() -> None:
    rows = [[str(n), "x"] for n in range(300)]
    pdf = _pdf(_notebook({BLOCK_MIME: table("T", ["a", "b"], rows)}), _facts())
    assert _pages(pdf) >= 4


def test_the_drawings_stand_after_the_text_and_interrupt_no_table() -> None:
    tables = [table(f"Table {n}", ["a", "b"], [[f"row {k}", "x"] for k in range(70)]) for n in "AB"]
    figure = {"image/svg+xml": SVG, BLOCK_MIME: figure_block("plan", "Plan of the lift")}
    outputs = [{BLOCK_MIME: tables[0]}, figure, {BLOCK_MIME: tables[1]}]
    text = "\n".join(_texts(_pdf(_notebook(*outputs), _facts())))
    order = ["Table A", "Table B", "row 69", "Drawings", "Plan of the lift", "SHA-256"]
    places = [text.rindex(words) for words in order]
    assert places == sorted(places)
    assert text.count("Drawings") == 1
    assert "Drawings" not in "".join(_texts(_pdf(_notebook(outputs[0]), _facts())))


def test_drawings_stay_vectors() -> None:
    pdf = _pdf(_notebook({"image/svg+xml": SVG}), _facts())
    assert b"/Subtype/Image" not in pdf.replace(b" ", b"")


def test_what_cannot_be_printed_is_one_clear_error() -> None:
    with pytest.raises(RecordError, match="cannot be printed"):
        _pdf(_notebook({"image/svg+xml": '<svg width="90pt" height="60pt"><g'}), _facts())
    # a drawing to scale printed at a guessed size would state a wrong scale
    no_height = '<svg xmlns="http://www.w3.org/2000/svg" width="100pt" viewBox="0 0 100 50"/>'
    with pytest.raises(RecordError, match="does not state its height in points"):
        _pdf(_notebook({"image/svg+xml": no_height}), _facts())


def test_markdown_becomes_plain_nodes() -> None:
    nodes = _flow(_markdown()("# A *b*\n\npara `c` **d**\n\n1. x\n2. y\n\n---\n\n|a|b|\n|-|-|\n|1|2|\n\n<b>z</b>"))
    assert [n["kind"] for n in nodes] == ["heading", "paragraph", "list", "rule", "grid", "paragraph"]
    assert nodes[2]["ordered"] is True
    assert nodes[4]["rows"] == [["a", "b"], ["1", "2"]]
    assert "".join(n["text"] for n in nodes[5]["children"]) == "<b>z</b>"


def _attached(pdf: bytes) -> dict[str, tuple[str, str, bytes]]:
    with pikepdf.open(io.BytesIO(pdf)) as document:
        return {
            name: (str(spec.relationship), spec.get_file().mime_type, spec.get_file().read_bytes())
            for name, spec in document.attachments.items()
        }


def test_the_pdf_of_a_record_is_pdf_a_3_dated_as_the_record(made_chain: tuple[Path, ...]) -> None:
    for folder in made_chain:
        pdf = (folder / "sheet.pdf").read_bytes()
        assert archival_faults(pdf, conformance="A") == []
        manifest = read_manifest((folder / MANIFEST_NAME).read_bytes())
        stated = re.sub(r"\D", "", manifest.prepared_utc)
        reader = PdfReader(io.BytesIO(pdf))
        assert reader.metadata is not None
        assert reader.metadata["/CreationDate"] == f"D:{stated}Z"
        assert reader.metadata.title is not None
        assert manifest.job in reader.metadata.title
        assert reader.root_object["/Lang"] == "en-GB"


def test_inputs_results_and_manifest_lie_inside_as_they_are(made_chain: tuple[Path, ...]) -> None:
    folder = made_chain[0]
    held = _attached((folder / "sheet.pdf").read_bytes())
    for name, relationship in (("inputs.json", "/Source"), ("results.json", "/Data")):
        content = (folder / name).read_bytes()
        assert held.pop(name) == (relationship, "application/json", content)
    relationship, mime, content = held.pop(MANIFEST_NAME)
    assert (relationship, mime, held) == ("/Supplement", "application/json", {})
    before = read_manifest(content)  # as it stood before the PDF, and sealed by itself
    now = read_manifest((folder / MANIFEST_NAME).read_bytes())
    assert set(now.files) - set(before.files) == {"sheet.pdf"}
    assert all(now.files[name] == entry for name, entry in before.files.items())
    assert before.record == now.record


@pytest.mark.parametrize("name", SPOILT)
def test_a_spoilt_pdf_is_found(name: str, made_chain: tuple[Path, ...]) -> None:
    spoil, words = SPOILT[name]
    with pikepdf.open(made_chain[0] / "sheet.pdf") as pdf:
        spoil(pdf)
        changed = io.BytesIO()
        pdf.save(changed)
    assert any(words in fault for fault in archival_faults(changed.getvalue(), conformance="A"))


def test_characters_without_a_sign_are_printed_as_their_numbers() -> None:
    # a CJK letter, an emoji, a mark that turns the direction of writing, a letter of no standard
    odd = "\u4e2d \U0001f3d7 \u202e \ue000"
    block = title_block("T", [("Job", f"ä {odd} 2 °")])
    pdf = _pdf(_notebook({BLOCK_MIME: block}), replace(_facts(), title=odd))
    text = _texts(pdf)[0]
    for number in ("\\u4e2d", "\\U0001f3d7", "\\u202e", "\\ue000"):
        assert text.count(number) >= 2
    assert "ä" in text
    assert archival_faults(pdf, conformance="A") == []
