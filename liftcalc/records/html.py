"""The page of a sheet: one HTML file that needs no network, no script and no notebook server.

Only plain data of the notebook reaches the page: blocks are drawn again and escaped, Markdown is
rendered with raw HTML escaped, drawings are shown as images from the record's ``figures`` (a script
in one cannot run), other outputs as their text. A content policy in the page forbids all else.
"""

import functools
import html
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import mistune
from jinja2 import TemplateError
from markupsafe import Markup

from liftcalc.base import resources
from liftcalc.base.errors import RecordError
from liftcalc.base.text import text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.records.blocks import BLOCK_MIME, FILE_MIME, figure_block
from liftcalc.records.manifest import Manifest, safe_name
from liftcalc.records.pages import block_html, page, part, print_frame

_PAGE_CSS = Path(__file__).with_name("page.css").read_text(encoding="utf-8")


@dataclass(frozen=True)
class PageFacts:
    """What page and PDF say about the record they belong to."""

    record: str
    title: str
    prepared_utc: str
    template: str
    template_sha256: str
    inputs_sha256: str
    version: str
    revises: str = ""
    units: UnitSystem = "metric"
    invented: bool = False

    @property
    def date(self) -> str:
        """Day on which the sheet was prepared (UTC)."""
        return self.prepared_utc[:10]

    def foot(self) -> str:
        """The record in a few words, for the foot of every page."""
        return f"{self.title}, {self.date}. Record …{self.record[-8:]}"

    def identity(self) -> list[tuple[str, str]]:
        """What identifies the record, once at the end of the sheet."""
        return [
            ("Record", self.record),
            *([("Revises", self.revises)] if self.revises else []),
            ("Prepared", f"{self.prepared_utc} with liftcalc {self.version}"),
            ("Template", f"{self.template}, SHA-256 {self.template_sha256}"),
            ("Inputs", f"SHA-256 {self.inputs_sha256}"),
        ]


def page_facts(manifest: Manifest) -> PageFacts:
    """What page and PDF of a record say about it."""
    m = manifest
    title = resources.SHEET_TITLES.get(m.template, m.template)
    return PageFacts(
        record=m.record, title=f"{title}, lift {m.lift}, {m.job}, revision {m.revision}",
        prepared_utc=m.prepared_utc, template=m.template, template_sha256=m.template_sha256,
        inputs_sha256=m.files["inputs.json"].sha256, version=m.versions.get("liftcalc", ""),
        revises=", ".join(link.record for link in m.revises), units=m.units, invented=m.invented,
    )  # fmt: skip


@dataclass(frozen=True)
class Item:
    """One thing a sheet shows, in order: kind is markdown, block, figure or text."""

    kind: str
    text: str = ""
    block: Mapping[str, Any] | None = None


def _joined(value: object) -> str:
    return "".join(map(str, value)) if isinstance(value, list) else str(value)


def drawing_path(name: object) -> str:
    """Where in a record the drawing of a figure block lies."""
    return f"figures/{safe_name(str(name)).lower()}.svg"


def file_path(name: object) -> str:
    """Where in a record a file that travels with the sheet lies."""
    return f"files/{safe_name(str(name)).lower()}"


def take_drawings(notebook: Mapping[str, Any]) -> dict[str, bytes]:
    """Take drawings and files out of an executed notebook, each to its path inside the record.

    In their place the notebook keeps a link, so that it still opens by itself beside them. A
    notebook whose drawings were taken out before has none.
    """
    drawings: dict[str, bytes] = {}
    for cell in notebook.get("cells", []):
        for output in cell.get("outputs", []):
            data = output.get("data", {})
            if FILE_MIME in data:
                drawings[file_path(data[BLOCK_MIME]["name"])] = _joined(data.pop(FILE_MIME)).encode()
            if "image/svg+xml" not in data:
                continue
            block = data.setdefault(BLOCK_MIME, figure_block(f"figure_{len(drawings) + 1}", ""))
            path = drawing_path(block.get("name"))
            if path in drawings:
                raise RecordError(f"two figures are called {block.get('name')}")
            drawings[path] = clean_svg(_joined(data.pop("image/svg+xml"))).encode("utf-8")
            data["text/markdown"] = f"![Drawing]({path})"
    return drawings


def items_of(notebook: Mapping[str, Any]) -> Iterator[Item]:
    """Everything an executed notebook shows, in order, as plain data.

    Outputs that are neither block nor text do not occur in a sheet and are left out.
    """
    for cell in notebook.get("cells", []):
        if cell.get("cell_type") == "markdown":
            yield Item("markdown", _joined(cell.get("source", "")))
            continue
        for output in cell.get("outputs", []):
            kind = output.get("output_type")
            if kind == "stream":
                yield Item("text", _joined(output.get("text", "")))
            elif kind in {"display_data", "execute_result"}:
                data = output.get("data", {})
                block = data.get(BLOCK_MIME)
                if block is not None:
                    yield Item("figure" if block["kind"] == "figure" else "block", block=block)
                elif "text/plain" in data:
                    yield Item("text", _joined(data["text/plain"]))


def shown_items(notebook: Mapping[str, Any], facts: PageFacts) -> list[Item]:
    """What page and PDF show: :func:`items_of` in the frame of the record.

    The title stands once, before what else is said; with the date of the record, which the notebook
    does not know. Text of the template is in the words of the page's units.
    """
    items = [item for item in items_of(notebook) if (item.block or {}).get("kind") != "screen"]
    titles = [n for n, item in enumerate(items) if (item.block or {}).get("kind") == "title"]
    if titles:
        head = items.pop(titles[0])
        assert head.block is not None
        heading = f"# {head.block['title']}\n"
        rows = [*head.block["rows"], ["Date", facts.date]]
        labels = [str(row[0]) for row in rows]
        if "Revision" in labels:
            rows.insert(labels.index("Revision") + 1, rows.pop())
        items.insert(0, replace(head, block={**head.block, "rows": rows}))
        items = [
            replace(item, text=item.text[len(heading) :].lstrip("\n"))
            if item.kind == "markdown" and item.text.startswith(heading)
            else item
            for item in items
        ]
    return [
        replace(item, text=text_in_units(item.text, facts.units)) if item.kind == "markdown" else item for item in items
    ]


def blocks_of(notebook: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The blocks a sheet shows, in order."""
    return [item.block for item in items_of(notebook) if item.block is not None]


def clean_svg(svg: str) -> str:
    """The drawing without its metadata, which names addresses and dates."""
    body = svg[max(svg.find("<svg"), 0) :]
    start, end = body.find("<metadata>"), body.find("</metadata>")
    if 0 <= start < end:
        body = body[:start].rstrip() + body[end + len("</metadata>") :]
    return body


_ACTIVE = {"script", "iframe", "object", "embed", "form", "base", "link", "svg", "video", "audio"}
_DRAWING = r"figures/[\w.-]+\.svg|data:image/svg\+xml;base64,[A-Za-z0-9+/=]+"


class _PageReader(HTMLParser):
    """Names what a page of this package never holds."""

    def __init__(self) -> None:
        super().__init__()
        self.faults: list[str] = []
        self.policies = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag in _ACTIVE:
            self.faults.append(f"holds <{tag}>")
        self.policies += given.get("http-equiv", "").lower() == "content-security-policy"
        if "http-equiv" in given and not self.policies:
            self.faults.append("its content policy does not come first")
        for name, value in given.items():
            shown = {"src": _DRAWING, "href": r"#.*|files/[\w.-]+"}.get(name)
            if name.startswith("on") or name == "srcdoc":
                self.faults.append(f"holds {name}")
            elif shown is not None and not re.fullmatch(shown, value):
                self.faults.append(f"holds {name}={value[:40]!r}")

    def handle_comment(self, data: str) -> None:
        self.faults.append("holds a comment")


def page_faults(page: bytes) -> list[str]:
    """What makes an archived page unfit to be opened, whatever version drew it."""
    reader = _PageReader()
    reader.feed(page.decode("utf-8", "replace"))
    reader.close()
    return [*reader.faults[:10], *([] if reader.policies == 1 else ["has no single content policy"])]


@functools.cache
def _markdown() -> Callable[[str], Any]:
    return mistune.create_markdown(escape=True, plugins=["table"])


def _item_html(item: Item) -> str:
    if item.kind == "markdown":
        return str(_markdown()(item.text))
    if item.kind == "text":
        return f"<pre>{html.escape(item.text)}</pre>" if item.text.strip() else ""
    assert item.block is not None
    if item.kind == "figure":
        alt, path = str(item.block["caption"]), drawing_path(item.block["name"])
        image = f'<img alt="{html.escape(alt, quote=True)}" src="{path}">'
        return block_html(dict(item.block), image)
    return block_html(dict(item.block))


def sheet_page(notebook: Mapping[str, Any], facts: PageFacts) -> bytes:
    """The whole page of an executed sheet.

    The same notebook and facts give the same bytes; a re-check relies on it.
    """
    cells = [c for c in notebook.get("cells", []) if c.get("cell_type") == "code"]
    codes = [_joined(cell.get("source", "")) for cell in cells]
    try:
        items = [Markup(_item_html(item)) for item in shown_items(notebook, facts)]
    except (KeyError, TypeError, ValueError, TemplateError) as error:
        raise RecordError(f"the notebook holds a block that cannot be shown ({error})") from None
    body = part("sheet_body", items, codes, facts.identity())
    css = _PAGE_CSS + print_frame(facts.foot(), facts.units, facts.invented)
    return page(facts.title, body, css, units=facts.units, invented=facts.invented)
