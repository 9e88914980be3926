"""Sheets on paper: A4 (letter with US units), page numbers, vector drawings.

The content of the executed notebooks goes as data (JSON) into one fixed layout (``sheet.typ``), so that nothing a job
contains can act as markup. Typesetting is done by typst (extra ``pdf``), without TeX, a browser, the network or fonts
of the machine; the same sheet gives the same bytes. A sheet is PDF/A-3a and PDF/UA-1: dated as its record, tagged, each
drawing with its caption as text, and with the files it was made from inside.
"""

import functools
import io
import re
import tempfile
import unicodedata
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import mistune

from liftcalc.base.errors import RecordError, missing_extra
from liftcalc.base.strict_json import dumps
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.base.units import UnitSystem
from liftcalc.records.blocks import with_notes
from liftcalc.records.formula import formula_parts, row_groups, step_parts
from liftcalc.records.html import PageFacts, drawing_path, shown_items
from liftcalc.records.pages import LANGUAGE, PAPER

_LAYOUT = Path(__file__).with_name("sheet.typ")
_LONG_WORD = 22
_OUTLINE = re.compile(rb"/c\d+ CS [\d. ]+ SCN [\d.]+ w [-\d.mlchJjMd\[\] \n]{100,}?\nS(?=\nQ\n)")
"""A stroked path with all that it sets, alone between q and Q, as typst writes it."""
_TEXT_OR_NUMBER = re.compile(rb"\((?:\\.|[^\\()])*\)|(\d+\.\d{4,})", re.DOTALL)
_ESCAPED = re.compile(rb"\\(?:([0-3][0-7][0-7])|.)", re.DOTALL)
_SPECIAL = b"\n\r()\\"
_PAPER = {"A4": "a4", "letter": "us-letter"}
_NOTED = ("Rule", "Asked for by", "Holds for", "Correlation")
"""Last columns of tables whose long texts stand below the table, by number."""
_ATTACHED = {
    "inputs.json": ("source", "The facts and parameters that the sheet was calculated from"),
    "results.json": ("data", "The check rows and numbers that the sheet shows"),
    "manifest.json": ("supplement", "The record's manifest as it stood before it held this PDF"),
}
"""Relationship to the page, and description, of the files laid inside."""


def pdf_wanted(asked: bool | None) -> bool:
    """Whether to print: as asked, else where the extra is installed."""
    installed = all(find_spec(name) is not None for name in ("typst", "pikepdf"))
    if asked and not installed:
        raise missing_extra("pdf", "--pdf")
    return installed if asked is None else asked


def _soft(text: str) -> str:
    """Let long words (names, hashes) break after their separators."""
    return " ".join(
        re.sub(r"([_/\\.\-:])", "\\1\u200b", word) if len(word) > _LONG_WORD else word for word in text.split(" ")
    )


def soften(value: Any) -> Any:
    """The same data with :func:`_soft` done to every text."""
    if isinstance(value, str):
        return _soft(value)
    if isinstance(value, list):
        return [soften(item) for item in value]
    if isinstance(value, Mapping):
        return {key: soften(item) for key, item in value.items()}
    return value


def _nodes(parts: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"kind": kind, "text": part} for kind, part in parts]


def _laid_out(block: Mapping[str, Any], entry: str) -> dict[str, Any]:
    """A block as the layout takes it: formulas in pieces, sources of checks by number."""
    shown = dict(block)
    if shown["kind"] == "title":
        shown["entry"] = entry
    elif shown["kind"] == "checks" or shown.get("columns", [""])[-1] in _NOTED:
        shown = with_notes(shown)
    elif shown["kind"] == "calculation":
        shown["sections"] = [
            {
                "title": section["title"],
                "where": section["where"],
                "groups": [
                    {
                        "given": group[0]["numbers"] == "given",
                        "rows": [[r["what"], _nodes(step_parts(r)), r["source"]] for r in group],
                    }
                    for group in row_groups(section["rows"])
                ],
            }
            for section in shown["sections"]
        ]
        shown["symbols"] = [[_nodes(formula_parts(symbol)), *rest] for symbol, *rest in shown["symbols"]]
    softened: dict[str, Any] = soften(shown)
    if "columns" in softened:
        softened["heads"] = [_nodes(formula_parts(name)) for name in softened["columns"]]
    return softened


def _inline(tokens: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    nodes: list[dict[str, Any]] = []
    for token in tokens:
        kind = token["type"]
        if kind in {"strong", "emphasis"}:
            nodes.append({"kind": kind, "children": _inline(token["children"])})
        elif kind == "codespan":
            nodes.append({"kind": "code", "text": token["raw"]})
        elif kind == "linebreak":
            nodes.append({"kind": "break"})
        elif kind == "softbreak":
            nodes.append({"kind": "text", "text": " "})
        elif "children" in token:
            nodes.extend(_inline(token["children"]))
        else:
            nodes.append({"kind": "text", "text": str(token.get("raw", ""))})
    return nodes


def _plain(nodes: Iterable[Mapping[str, Any]]) -> str:
    return "".join(n.get("text", "") or _plain(n.get("children", ())) for n in nodes)


def _table_rows(token: Mapping[str, Any]) -> list[list[str]]:
    rows: list[list[str]] = []
    for part in token["children"]:
        lines = [part] if part["type"] == "table_head" else part["children"]
        rows += [[_plain(_inline(c["children"])) for c in line["children"]] for line in lines]
    return rows


def _flow(tokens: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    nodes: list[dict[str, Any]] = []
    for token in tokens:
        kind = token["type"]
        if kind == "heading":
            level = token["attrs"]["level"]
            nodes.append({"kind": "heading", "level": level, "children": _inline(token["children"])})
        elif kind in {"paragraph", "block_text"}:
            nodes.append({"kind": "paragraph", "children": _inline(token["children"])})
        elif kind == "list":
            items = [_flow(item["children"]) for item in token["children"]]
            ordered = bool(token["attrs"].get("ordered"))
            nodes.append({"kind": "list", "ordered": ordered, "items": items})
        elif kind == "thematic_break":
            nodes.append({"kind": "rule"})
        elif kind == "table":
            nodes.append({"kind": "grid", "rows": _table_rows(token)})
        elif kind in {"block_code", "block_html"}:
            nodes.append({"kind": "pre", "text": token["raw"].rstrip()})
        elif kind == "block_quote":
            nodes.extend(_flow(token["children"]))
    return nodes


@functools.cache
def _markdown() -> Any:
    return mistune.create_markdown(renderer=None, plugins=["table"])


def _size_pt(svg: str) -> tuple[float, float]:
    """Width and height that a drawing states; its scale holds at no other size."""
    head = svg[: svg.find(">") + 1]
    sizes = []
    for name in ("width", "height"):
        match = re.search(rf'\s{name}="([\d.]+)(pt|px)?"', head)
        if match is None:
            raise RecordError(f"a drawing does not state its {name} in points")
        sizes.append(float(match[1]) * (0.75 if match[2] == "px" else 1.0))
    return sizes[0], sizes[1]


def _sheet_data(
    notebook: Mapping[str, Any], figures: Mapping[str, bytes], facts: PageFacts, part: str = ""
) -> tuple[dict[str, Any], dict[str, bytes]]:
    """Items of one sheet as data for the layout, and its image files."""
    items: list[dict[str, Any]] = []
    files: dict[str, bytes] = {}
    for number, item in enumerate(shown_items(notebook, facts)):
        if item.kind == "markdown":
            items.append({"kind": "flow", "nodes": _flow(_markdown()(item.text))})
        elif item.kind == "text" and item.text.strip():
            items.append({"kind": "text", "text": item.text.rstrip()})
        elif item.kind == "figure":
            assert item.block is not None
            path, name = drawing_path(item.block["name"]), f"{part}{number}.svg"
            if path not in figures:
                raise RecordError(f"the drawing {path} is not there")
            svg = figures[path].decode("utf-8")
            files[name] = _printable(svg).encode("utf-8")
            width, height = _size_pt(svg)
            caption = str(item.block["caption"])
            items.append(
                {
                    "kind": "figure", "file": name, "caption": caption, "alt": caption or path,
                    "width_pt": width, "height_pt": height,
                }
            )  # fmt: skip
        elif item.kind == "block" and item.block is not None:
            items.append({"kind": "block", "block": _laid_out(item.block, facts.title)})
    return {"foot": _soft(facts.foot()), "items": items}, files


@functools.cache
def _fonts() -> Path:
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@functools.cache
def _unprintable() -> re.Pattern[str]:
    """Characters without a glyph in the fonts, and those that act or hide instead of showing."""
    from matplotlib.ft2font import FT2Font

    have = FT2Font(str(_fonts() / "DejaVuSans.ttf")).get_charmap()
    shown = [c for c in map(chr, have) if unicodedata.category(c)[0] != "C"]
    return re.compile(f"[^{re.escape(''.join(shown))}\u200b\t\n\r]")


def _printable(value: Any) -> Any:
    """The data with each character that cannot be shown as its number: nothing is left out."""
    if isinstance(value, str):
        return _unprintable().sub(lambda found: ascii(found[0])[1:-1], value)
    if isinstance(value, list | tuple):
        return [_printable(item) for item in value]
    if isinstance(value, Mapping):
        return {key: _printable(item) for key, item in value.items()}
    return value


def typeset(
    title: str, files: Mapping[str, bytes], *, paper: str, units: UnitSystem, invented: bool,
    prepared_utc: str, numbered: str, whole: bool = True, **content: Any,
) -> bytes:  # fmt: skip
    """One document of the layout: of a sheet or, with *cover*, the head of many.

    *whole*: PDF/A-3a and PDF/UA-1; else PDF/A-3u without tags, to be joined with others.
    """
    try:
        import pikepdf  # noqa: F401  (needed below, where it is not missed any more)
        import typst
    except ImportError:
        raise missing_extra("pdf", "pdf") from None
    data = {
        "title": title, "paper": _PAPER[paper], "region": LANGUAGE[units][3:],
        "date": re.findall(r"\d+", prepared_utc), "caution": CAUTION_LINE,
        "invented": INVENTED_LINE if invented else "", "numbered": numbered,
        "attached": [], "cover": None, "sheets": [], "identity": [], **content,
    }  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="liftcalc-pdf-") as scratch:
        root = Path(scratch)
        (root / "attached").mkdir()
        (root / "sheet.typ").write_bytes(_LAYOUT.read_bytes())
        (root / "data.json").write_bytes(dumps(_printable(data)))
        for name, held in files.items():
            (root / name).write_bytes(held)
        try:
            pdf = typst.compile(
                str(root / "sheet.typ"), root=str(root), font_paths=[str(_fonts())],
                ignore_system_fonts=True, pdf_tags=whole,
                pdf_standards=["a-3a", "ua-1"] if whole else ["a-3u"],
            )  # fmt: skip
        except Exception as error:  # typst raises its own kinds; the words are what helps
            text = " ".join(str(error).split())[:500]
            raise RecordError(f"the sheet cannot be printed: {text}") from None
    return _packed(pdf)


def _byte(found: re.Match[bytes]) -> bytes:
    byte = bytes([int(found[1], 8)]) if found[1] else b"("
    return found[0] if byte in _SPECIAL else byte


def _brief(found: re.Match[bytes]) -> bytes:
    if found[1] is None:
        return _ESCAPED.sub(_byte, found[0])
    number = float(found[1])
    return f"{number:.{3 if number >= 1 else 5}f}".rstrip("0").rstrip(".").encode()


def _rounded(drawn: bytes) -> bytes:
    """Drawing operators with places to 0.001 pt and factors to 0.00001; each text is the same."""
    return _TEXT_OR_NUMBER.sub(_brief, drawn)


def _packed(pdf: bytes) -> bytes:
    """The same pages in fewer bytes: an outline that is drawn often (of a letter) stands once."""
    import pikepdf
    from pikepdf import Name

    pikepdf.settings.set_flate_compression_level(9)
    with pikepdf.open(io.BytesIO(pdf)) as document:
        forms: dict[tuple[bytes, bytes], Any] = {}
        for page in document.pages:
            drawn = page.Contents.read_bytes()
            found: Any = page.Resources.get("/ColorSpace", pikepdf.Dictionary())
            colours = document.make_indirect(found)
            for path, times in Counter(_OUTLINE.findall(drawn)).items():
                key = (path, colours.unparse(resolved=True))
                if times > 1 and key not in forms:
                    forms[key] = document.make_stream(
                        _rounded(path), Type=Name.XObject, Subtype=Name.Form,
                        BBox=[-9999, -9999, 9999, 9999],
                        Resources=pikepdf.Dictionary(ColorSpace=colours),
                    )  # fmt: skip
                if key in forms:
                    name = Name(f"/outline{list(forms).index(key)}")
                    page.add_resource(forms[key], Name.XObject, name)
                    drawn = drawn.replace(path + b"\nQ", f"{name} Do\nQ".encode())
            page.Contents = document.make_stream(_rounded(drawn))
        packed = io.BytesIO()
        document.save(
            packed, object_stream_mode=pikepdf.ObjectStreamMode.generate, deterministic_id=True, recompress_flate=True
        )
    return packed.getvalue()


def sheet_pdf(
    notebook: Mapping[str, Any], figures: Mapping[str, bytes], facts: PageFacts,
    attached: Mapping[str, bytes], *, place: str = "", paper: str = "",
) -> bytes:  # fmt: skip
    """One executed sheet as PDF, on the paper that goes with its units unless *paper* is given.

    *figures*: its drawings by path, *attached*: files to lay inside by name. *place*: where the
    sheet stands among others ("No. 3 of 8"); its pages are then to be joined with theirs.
    """
    sheet, files = _sheet_data(notebook, figures, facts)
    return typeset(
        facts.title, files | {f"attached/{name}": data for name, data in attached.items()},
        paper=paper or PAPER[facts.units], units=facts.units, invented=facts.invented,
        prepared_utc=facts.prepared_utc, numbered=f"{place}, page" if place else "Page",
        whole=not place, sheets=[sheet], identity=soften([list(r) for r in facts.identity()]),
        attached=[[name, *_ATTACHED[name]] for name in sorted(attached)],
    )  # fmt: skip


def lift_pdf(
    sheets: Sequence[tuple[Mapping[str, Any], Mapping[str, bytes], PageFacts]], *, foot: str,
    numbered: str, identity: Sequence[Sequence[str]], paper: str,
) -> bytes:  # fmt: skip
    """Several sheets of one lift (notebook, drawings, facts) one after the other, to be joined."""
    parts: list[dict[str, Any]] = []
    files: dict[str, bytes] = {}
    for n, (notebook, figures, facts) in enumerate(sheets):
        data, own = _sheet_data(notebook, figures, facts, f"{n}-")
        parts.append({**data, "foot": _soft(foot)})
        files |= own
    last = sheets[-1][2]
    return typeset(
        foot, files, paper=paper, units=last.units, invented=any(s[2].invented for s in sheets),
        prepared_utc=last.prepared_utc, numbered=numbered, whole=False, sheets=parts,
        identity=soften([list(row) for row in identity]),
    )  # fmt: skip
