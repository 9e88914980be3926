"""Sheets on paper: A4 (letter with US units), page numbers, vector drawings, whole jobs.

The content of the executed notebooks goes as data (JSON) into one fixed layout (``sheet.typ``), so
that nothing a job contains can act as markup. Typesetting is done by typst (extra ``pdf``), without
TeX, a browser, the network or fonts of the machine; the same sheet gives the same bytes.
"""

import functools
import re
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import mistune

from liftcalc.base import resources
from liftcalc.base.errors import InputError, RecordError, missing_extra
from liftcalc.base.strict_json import dumps
from liftcalc.base.text import CAUTION_LINE, CAUTIONS, INVENTED_LINE
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.blocks import with_notes
from liftcalc.records.formula import formula_parts, row_groups, step_parts
from liftcalc.records.html import PageFacts, drawing_path, page_facts, shown_items, take_drawings
from liftcalc.records.manifest import Manifest
from liftcalc.records.pages import LANGUAGE, PAPER
from liftcalc.records.verify import require_record

_LAYOUT = Path(__file__).with_name("sheet.typ")
_LONG_WORD = 22
_PAPER = {"A4": "a4", "letter": "us-letter"}


def pdf_wanted(asked: bool | None) -> bool:
    """Whether to print: as asked, else where the extra is installed."""
    installed = find_spec("typst") is not None
    if asked and not installed:
        raise missing_extra("pdf", "--pdf")
    return installed if asked is None else asked


def _soft(text: str) -> str:
    """Let long words (names, hashes) break after their separators."""
    return " ".join(
        re.sub(r"([_/\\.\-:])", "\\1\u200b", word) if len(word) > _LONG_WORD else word
        for word in text.split(" ")
    )


def _soften(value: Any) -> Any:
    if isinstance(value, str):
        return _soft(value)
    if isinstance(value, list):
        return [_soften(item) for item in value]
    if isinstance(value, Mapping):
        return {key: _soften(item) for key, item in value.items()}
    return value


def _nodes(parts: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"kind": kind, "text": part} for kind, part in parts]


def _laid_out(block: Mapping[str, Any], entry: str) -> dict[str, Any]:
    """A block as the layout takes it: formulas in pieces, sources of checks by number."""
    shown = dict(block)
    if shown["kind"] == "title":
        shown["entry"] = entry
    elif shown["kind"] == "checks":
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
        shown["symbols"] = [
            [_nodes(formula_parts(symbol)), *rest] for symbol, *rest in shown["symbols"]
        ]
    softened: dict[str, Any] = _soften(shown)
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
            nodes.append(
                {"kind": "heading", "level": level, "children": _inline(token["children"])}
            )
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
    notebook: Mapping[str, Any], figures: Mapping[str, bytes], facts: PageFacts, prefix: str
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
            path, name = drawing_path(item.block["name"]), f"{prefix}-{number}.svg"
            if path not in figures:
                raise RecordError(f"the drawing {path} is not there")
            files[name] = figures[path]
            width, height = _size_pt(figures[path].decode("utf-8"))
            caption = str(item.block["caption"])
            items.append(
                {
                    "kind": "figure", "file": name, "caption": caption, "width_pt": width,
                    "height_pt": height,
                }
            )  # fmt: skip
        elif item.kind == "block" and item.block is not None:
            items.append({"kind": "block", "block": _laid_out(item.block, facts.title)})
    sheet = {
        "foot": _soft(facts.foot()),
        "identity": _soften([list(row) for row in facts.identity()]),
        "region": LANGUAGE[facts.units][3:],
        "items": items,
    }
    return sheet, files


def _document(
    title: str, sheets: list[dict[str, Any]], *, paper: str, invented: bool, cover: Any = None
) -> dict[str, Any]:
    """The data of the layout."""
    return {
        "title": title, "paper": _PAPER[paper], "caution": CAUTION_LINE,
        "invented": INVENTED_LINE if invented else "",
        "cover": cover,
        "sheets": sheets,
    }  # fmt: skip


def _compile(data: dict[str, Any], files: Mapping[str, bytes]) -> bytes:
    try:
        import typst
    except ImportError:
        raise missing_extra("pdf", "pdf") from None
    import matplotlib

    fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    with tempfile.TemporaryDirectory(prefix="liftcalc-pdf-") as scratch:
        root = Path(scratch)
        (root / "sheet.typ").write_bytes(_LAYOUT.read_bytes())
        (root / "data.json").write_bytes(dumps(data))
        for name, content in files.items():
            (root / name).write_bytes(content)
        try:
            pdf = typst.compile(
                str(root / "sheet.typ"), root=str(root), font_paths=[str(fonts)],
                ignore_system_fonts=True, timestamp=0,
            )  # fmt: skip
        except Exception as error:  # typst raises its own kinds; the words are what helps
            text = " ".join(str(error).split())[:500]
            raise RecordError(f"the sheet cannot be printed: {text}") from None
    return bytes(pdf)


def sheet_pdf(
    notebook: Mapping[str, Any], figures: Mapping[str, bytes], facts: PageFacts,
    attached: Mapping[str, bytes],
) -> bytes:  # fmt: skip
    """One executed sheet as PDF, on the paper that goes with its units."""
    sheet, files = _sheet_data(notebook, figures, facts, "f")
    paper = PAPER[facts.units]
    return _compile(_document(facts.title, [sheet], paper=paper, invented=facts.invented), files)


def _listed(values: Iterable[str]) -> str:
    return ", ".join(sorted({value for value in values if value})) or "–"


def _cover(manifests: Sequence[Manifest], clients: Iterable[str]) -> dict[str, Any]:
    """What the first page of a job says: whose job, when and by whom prepared, each verdict."""
    dates = sorted(m.prepared_utc[:10] for m in manifests)
    people = _listed(m.prepared_by for m in manifests)
    return {
        "rows": _soften(
            [
                ["Job number", _listed(m.job for m in manifests)],
                ["Job", _listed(m.job_title for m in manifests)],
                ["Client", _listed(clients)],
                ["Revision", _listed(m.revision for m in manifests)],
                ["Date", " to ".join(dict.fromkeys((dates[0], dates[-1])))],
                ["Sheets", str(len(manifests))],
            ]
        ),
        "people": [
            ["Prepared by", "" if people == "–" else people],
            ["Checked by", ""],
            ["Approved by", ""],
        ],
        "overview": {
            "columns": ["Lift", "What", "Sheet", "State", "Governing check"],
            "align": ["left"] * 5,
            "rows": _soften(
                [
                    [
                        m.lift, m.lift_title, resources.SHEET_TITLES.get(m.template, m.template),
                        STATE_WORDS.get(m.verdict, m.verdict), m.governing,
                    ]
                    for m in manifests
                ]
            ),
            "states": ["" if m.verdict in ("within", "found") else m.verdict for m in manifests],
        },
        "cautions": list(CAUTIONS),
    }  # fmt: skip


def book_pdf(folders: Sequence[Path], *, title: str, paper: str = "") -> bytes:
    """Many records as one PDF: overview, list of contents, then every sheet.

    *paper* is "A4" or "letter"; if empty, what goes with the units of the first record. Each
    record is verified first; :class:`RecordError` when one is not whole.
    """
    if not folders:
        raise InputError.of("records", "none", "at least one record to print")
    sheets: list[dict[str, Any]] = []
    images: dict[str, bytes] = {}
    manifests: list[Manifest] = []
    clients: list[str] = []
    for number, folder in enumerate(folders):
        verified = require_record(folder)
        manifest = verified.manifest
        if manifest is None or manifest.kind != "sheet":
            raise InputError.of("record", folder.name, "the record of a sheet")
        notebook = verified.json("sheet.ipynb")
        figures = {**verified.content, **take_drawings(notebook)}
        sheet, files = _sheet_data(notebook, figures, page_facts(manifest), f"s{number}")
        sheets.append(sheet)
        images.update(files)
        manifests.append(manifest)
        clients.append(str(verified.json("inputs.json").get("job", {}).get("client", "")))
    data = _document(
        title, sheets, paper=paper or PAPER[manifests[0].units],
        invented=any(m.invented for m in manifests),
        cover=_cover(manifests, clients),
    )  # fmt: skip
    return _compile(data, images)
