"""Forgeries of a record: each alters what is seen or read, and makes all hashes valid again.

A forger knows the package and uses it: page and PDF are drawn again from what was altered, manifest
fields are derived again, hashes, chain and name follow. What is left is the lie itself.
"""

from __future__ import annotations

import copy
import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from liftcalc.base.strict_json import dumps, loads, sha256_hex
from liftcalc.records.blocks import BLOCK_MIME
from liftcalc.records.derive import fields_of_sheet, run_key_of
from liftcalc.records.environment import versions_of
from liftcalc.records.html import page_facts, sheet_page
from liftcalc.records.manifest import MANIFEST_NAME, Manifest, chain_hash, manifest_of, name_stem, self_hash
from liftcalc.run.make import printed

Change = Callable[[Any], Any]


def _sealed(plain: dict[str, Any], files: dict[str, bytes]) -> dict[str, Any]:
    """A manifest with the hashes of these files, its chain and itself."""
    entries = {k: {"sha256": sha256_hex(v), "size": len(v)} for k, v in sorted(files.items())}
    plain = {**plain, "files": entries}
    plain["chain_sha256"] = chain_hash(plain["files"], plain["parents"])
    plain["manifest_sha256"] = self_hash(plain)
    return plain


@dataclass
class Draft:
    """A record in the forger's hands."""

    files: dict[str, bytes]
    manifest: dict[str, Any]
    beside: list[Path]
    """Records that lie beside it."""
    drafts: list[Draft] = field(default_factory=list)
    """Forged records that are put beside it."""
    folder: str = ""
    extra: dict[str, bytes] = field(default_factory=dict)
    """Files that the manifest does not list."""

    @classmethod
    def of(cls, record: Path, *beside: Path) -> Draft:
        """A copy of a record in memory."""
        files = {p.relative_to(record).as_posix(): p.read_bytes() for p in record.rglob("*") if p.is_file()}
        return cls(files, loads(files.pop(MANIFEST_NAME)), list(beside))

    def json(self, name: str, change: Change) -> None:
        """Change the value of a JSON file in place."""
        value = loads(self.files[name])
        change(value)
        self.files[name] = dumps(value)

    def notebook(self, change: Change) -> None:
        """Change the notebook in place."""
        self.json("sheet.ipynb", change)

    def outputs(self, change: Callable[[dict[str, Any]], None]) -> None:
        """Change each output that shows something."""
        self.notebook(lambda nb: [change(o) for c in nb["cells"] for o in c.get("outputs", ())])

    def shown(self, change: Callable[[str], str]) -> None:
        """Change every text in every output, not the names of fields."""

        def walk(value: Any) -> Any:
            if isinstance(value, str):
                return change(value)
            if isinstance(value, list):
                return [walk(item) for item in value]
            if isinstance(value, dict):
                kept = ("kind", "name", "status", "id")
                return {k: v if k in kept else walk(v) for k, v in value.items()}
            return value

        def one(output: dict[str, Any]) -> None:
            if "data" in output:
                output["data"] = walk(output["data"])

        self.outputs(one)

    def block(self, kind: str, change: Callable[[dict[str, Any]], None]) -> None:
        """Change the first block of a kind."""
        done: list[bool] = []

        def one(output: dict[str, Any]) -> None:
            block = output.get("data", {}).get(BLOCK_MIME)
            if block is not None and block["kind"] == kind and not done:
                change(block)
                done.append(True)

        self.outputs(one)
        assert done, f"no block of kind {kind}"

    def add_output(self, data: dict[str, Any], kind: str = "display_data") -> None:
        """One more output below the last block."""

        def add(notebook: dict[str, Any]) -> None:
            cell = [c for c in notebook["cells"] if c.get("outputs")][-1]
            cell["outputs"].append({"data": data, "metadata": {}, "output_type": kind})

        self.notebook(add)

    def swap(self, name: str, old: str | bytes, new: str | bytes) -> None:
        """Replace text in a file; it must occur."""
        old, new = (t.encode() if isinstance(t, str) else t for t in (old, new))
        assert old in self.files[name], f"{name} does not hold {old!r}"
        self.files[name] = self.files[name].replace(old, new)

    @property
    def plan(self) -> str:
        """Path of the plan."""
        return next(n for n in sorted(self.files) if n.endswith("plan.svg"))

    def derive(self) -> None:
        """Let every manifest field follow from the files."""
        m, inputs = self.manifest, loads(self.files["inputs.json"])
        lock = self.files["environment.txt"]
        m.update(fields_of_sheet(inputs, loads(self.files["results.json"])))
        m.update(environment_sha256=sha256_hex(lock), versions=versions_of(lock))
        self.key()
        if not m["invented"]:
            del m["invented"]

    def key(self) -> None:
        """Let the run key follow from template, inputs, version and code."""
        m = self.manifest
        m["run_key"] = run_key_of(
            template=m["template_sha256"], inputs=sha256_hex(self.files["inputs.json"]),
            version=m["versions"]["liftcalc"], code=m["code_sha256"],
        )  # fmt: skip

    def rename(self, digits: str = "0badcafe") -> None:
        """Let the name follow from the manifest."""
        m = self.manifest
        of = (m["job"], m["lift"], m["template"], m["revision"], m["prepared_utc"])
        m["record"] = f"{name_stem(*of)}_{digits}"

    def redraw(self) -> None:
        """Draw page and PDF again from the notebook and the figures."""
        notebook = loads(self.files["sheet.ipynb"])
        pdf = self.files.pop("sheet.pdf", None)
        self.files.pop("sheet.html")
        draft = manifest_of(_sealed(self.manifest, self.files))
        self.files["sheet.html"] = sheet_page(notebook, page_facts(draft))
        if pdf is not None:
            draft = manifest_of(_sealed(self.manifest, self.files))
            self.files["sheet.pdf"] = printed(draft, self.files, notebook)

    def link(self) -> dict[str, Any]:
        """Reference to the draft as a parent."""
        sealed = _sealed(self.manifest, self.files)
        return {n: sealed[n] for n in ("record", "manifest_sha256", "chain_sha256")}

    def write(self, archive: Path, manifest: bytes | None = None) -> Path:
        """Put it into an archive, with the records beside it; returns the folder."""
        for record in self.beside:
            shutil.copytree(record, archive / record.name)
        for other in self.drafts:
            other.write(archive)
        folder = archive / (self.folder or self.manifest["record"])
        sealed = dumps(_sealed(self.manifest, self.files)) if manifest is None else manifest
        for name, data in {**self.files, **self.extra, MANIFEST_NAME: sealed}.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        return folder


@dataclass(frozen=True)
class Case:
    """Honest records that a forger begins with."""

    survey: Path
    layout: Path
    other_survey: Path
    other_layout: Path
    check: Path

    def draft(self) -> Draft:
        """The leg layout with its survey beside it."""
        return Draft.of(self.layout, self.survey)


@dataclass(frozen=True)
class Forgery:
    """One lie: *make* alters the draft; the rest follows unless it says otherwise."""

    kind: str
    name: str
    make: Callable[[Draft, Case], bytes | None]
    derive: bool = True
    redraw: bool = True

    def write(self, case: Case, archive: Path, *, pdf: bool = True) -> Path:
        """The forged record, in an archive of its own; *pdf*: it had a PDF, forged alike."""
        draft = case.draft()
        if not pdf and self.kind != "PDF":
            del draft.files["sheet.pdf"]
        manifest = self.make(draft, case)
        if self.derive:
            draft.derive()
        if self.redraw:
            draft.redraw()
        return draft.write(archive, manifest)


FORGERIES: list[Forgery] = []


def forgery(
    kind: str, name: str, *, derive: bool = True, redraw: bool = True
) -> Callable[[Callable[[Draft, Case], bytes | None]], None]:
    """Add a forgery to the kit."""

    def add(make: Callable[[Draft, Case], bytes | None]) -> None:
        assert name not in {f.name for f in FORGERIES if f.kind == kind}, name
        FORGERIES.append(Forgery(kind, name, make, derive, redraw))

    return add


def each(
    kind: str, cases: dict[str, Any], make: Callable[[Draft, Any], Any], *, derive: bool = True,
    redraw: bool = True,
) -> None:  # fmt: skip
    """Add a forgery for each of several values."""
    for name, value in cases.items():

        def one(draft: Draft, case: Case, value: Any = value) -> bytes | None:
            given: bytes | None = make(draft, value)
            return given

        forgery(kind, name, derive=derive, redraw=redraw)(one)


# --- what the notebook shows; page and PDF are drawn again from it ------------------------------

_LIE = "Checked and released. Ground may be taken as 400 kPa, wind limit 20 m/s."
_PIXEL = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="

each("output of another kind", {
    "plain text": {"text/plain": _LIE}, "png": {"image/png": _PIXEL, "text/plain": "x"},
    "html": {"text/html": f"<b>{_LIE}</b>"}, "latex": {"text/latex": f"${_LIE}$"},
    "javascript": {"application/javascript": "document.title = 'released'"},
    "markdown": {"text/markdown": f"**{_LIE}**"}, "json": {"application/json": {"said": _LIE}},
    "widget": {"application/vnd.jupyter.widget-view+json": {"model_id": "1"}},
    "jpeg": {"image/jpeg": _PIXEL}, "pdf": {"application/pdf": "JVBERi0="},
    "drawing without a block": {"image/svg+xml": "<svg xmlns='http://www.w3.org/2000/svg'/>"},
}, Draft.add_output)  # fmt: skip


@forgery("output of another kind", "a block more")
def _block_more(draft: Draft, case: Case) -> None:
    draft.block("cautions", lambda block: draft.files.update(kept=dumps(block)))
    text = draft.files.pop("kept").replace(b"chart", b"chart, as released,")
    draft.add_output({BLOCK_MIME: loads(text), "text/plain": "Cautions"})


def _stream(draft: Draft, name: str) -> None:
    def add(notebook: dict[str, Any]) -> None:
        cell = [c for c in notebook["cells"] if c["cell_type"] == "code"][-1]
        cell["outputs"].insert(0, {"name": name, "output_type": "stream", "text": _LIE + "\n"})

    draft.notebook(add)


each("output of another kind", {"stdout": "stdout", "stderr": "stderr"}, _stream)


def _result(draft: Draft, kind: str) -> None:
    def one(output: dict[str, Any]) -> None:
        if output["output_type"] == "display_data":
            output.update(output_type="execute_result", execution_count=5)

    draft.outputs(one)


each("output of another kind", {"display as result": "execute_result"}, _result)


def _cells(change: Callable[[list[dict[str, Any]]], Any]) -> Callable[[Draft, Case], None]:
    def make(draft: Draft, case: Case) -> None:
        draft.notebook(lambda nb: change(nb["cells"]))

    return make


def _with(cells: list[dict[str, Any]]) -> dict[str, Any]:
    return next(c for c in cells if c.get("outputs"))


_SEPARATE = {"cell_type": "markdown", "id": "more", "metadata": {}, "source": _LIE}
for _name, _change in {
    "execution count": lambda c: _with(c).update(execution_count=99),
    "no execution count": lambda c: _with(c).update(execution_count=None),
    "cell metadata": lambda c: _with(c)["metadata"].update(collapsed=True),
    "cell tag": lambda c: _with(c)["metadata"].update(tags=["remove-output"]),
    "cell identifier": lambda c: _with(c).update(id="another"),
    "attachment": lambda c: c[0].update(attachments={"a.png": {"image/png": _PIXEL}}),
    "output metadata": lambda c: _with(c)["outputs"][0].update(metadata={"said": _LIE}),
    "one output less": lambda c: _with(c)["outputs"].pop(),
    "one output twice": lambda c: _with(c)["outputs"].append(_with(c)["outputs"][0]),
    "outputs in another order": lambda c: _with(c)["outputs"].reverse(),
    "outputs of one cell in another": lambda c: c[-1].update(outputs=_with(c)["outputs"]),
    "all outputs gone": lambda c: [x.update(outputs=[]) for x in c if "outputs" in x],
    "a cell more": lambda c: c.append(dict(_SEPARATE)),
    "a raw cell": lambda c: c.append({**_SEPARATE, "cell_type": "raw"}),
    "an empty code cell": lambda c: c.append({**_SEPARATE, "cell_type": "code", "source": "",
                                              "execution_count": None, "outputs": []}),
    "a heading reworded": lambda c: c[0].update(source=c[0]["source"] + f"\n\n{_LIE}"),
    "a comment in code": lambda c: _with(c).update(source=_with(c)["source"] + "\n# checked"),
    "code in the cell of parameters": lambda c: next(
        x for x in c if x["id"] == "injected-parameters").update(
            source='lift = "L1"\nopen("never", "w")'),
    "a second cell of parameters": lambda c: c.insert(3, next(
        x for x in c if x["id"] == "injected-parameters")),
    "a field more in a cell": lambda c: _with(c).update(said=_LIE),
}.items():  # fmt: skip
    forgery("notebook's cells", _name)(_cells(_change))


@forgery("notebook's cells", "template hash with the altered text")
def _template_too(draft: Draft, case: Case) -> None:
    from liftcalc.base import resources

    draft.notebook(lambda nb: nb["cells"][0].update(source=f"# Leg layout\n\n{_LIE}"))
    draft.manifest["template_sha256"] = resources.source_hash(loads(draft.files["sheet.ipynb"]))


for _name, _change in {
    "title": lambda nb: nb["metadata"].update(title=_LIE),
    "language": lambda nb: nb["metadata"]["language_info"].update(version="3.99"),
    "kernel": lambda nb: nb["metadata"]["kernelspec"].update(display_name="Checked kernel"),
    "format": lambda nb: nb.update(nbformat_minor=4),
    "a field more": lambda nb: nb.update(said=_LIE),
}.items():
    forgery("notebook's metadata", _name)(lambda d, c, f=_change: d.notebook(lambda nb: f(nb)))


# --- words and numbers in what is shown, in notebook, page, PDF and drawings alike --------------

_RAISE = re.compile(r"(?<![\d.,])\d+(?![\d.,])")


def _everywhere(old: str, new: str) -> Callable[[Draft, Case], None]:
    def make(draft: Draft, case: Case) -> None:
        before = draft.files["sheet.ipynb"]
        draft.shown(lambda text: re.sub(old, new, text))
        assert draft.files["sheet.ipynb"] != before, old

    return make


@forgery("words and numbers shown", "every whole number raised by one")
def _all_raised(draft: Draft, case: Case) -> None:
    draft.shown(lambda text: _RAISE.sub(lambda m: str(int(m[0]) + 1), text))


@forgery("words and numbers shown", "every last digit of a fraction raised by one")
def _last_digits(draft: Draft, case: Case) -> None:
    draft.shown(lambda text: re.sub(r"(?<![\w.])(\d+\.\d*)([0-8])(?![\w.])", lambda m: m[1] + str(int(m[2]) + 1), text))


for _name, (_old, _new) in {
    "lift": (r"\bL1\b", "L2"), "standard": (r"B30\.5", "B30.6"),
    "edition": (r"1926\.1404", "1926.1405"), "outrigger": (r"\bFL\b", "FR"),
    "unit": (r" t\b", " kN"), "unit of length": (r" m\b", " ft"),
    "machine": ("demo-50", "demo-90"), "percent": (r"80\.3", "60.3"), "limit": (r"15\.0", "12.0"),
    "state": ("[Ww]ithin", "Approved, within"), "look-alike letter": ("a", "\u0430"),
    "bidirectional mark": ("Backward", "\u202eBackward"),
    "zero-width space": ("Backward", "Back\u200bward"),
    "soft hyphen": ("Backward", "Back\u00adward"), "thin space": (" %", "\u2009%"),
    "full-width digit": ("15", "１５"), "minus sign": ("-", "−"), "capital": ("statics", "Statics"),
    "trailing space": ("statics", "statics "), "composed letter": ("e", "e\u0301"),
    "no invented mark": ("INVENTED[^<]*", ""), "from memory": (r" \(from memory\)", ""),
    "a decimal more": (r"80\.3 ", "80.30 "), "comma for point": (r"80\.3", "80,3"),
}.items():  # fmt: skip
    forgery("words and numbers shown", _name)(
        _everywhere(_old, _new) if _name != "no invented mark" else _everywhere("[Ii]nvented", "Certified")
    )


for _name, (_kind, _change) in {
    "another verdict": ("verdict", lambda b: b.update(status="condition")),
    "another governing check": ("verdict", lambda b: b.update(check="Overlap of mats")),
    "a row less": ("table", lambda b: b["rows"].pop()),
    "a row more": ("table", lambda b: b["rows"].append(list(b["rows"][0]))),
    "rows in another order": ("table", lambda b: b["rows"].reverse()),
    "a caution less": ("cautions", lambda b: [v.pop() for v in b.values() if isinstance(v, list)]),
    "a caption": ("figure", lambda b: b.update(caption="Plan, as built and approved")),
    "a title": ("title", lambda b: b.update(title="Approved leg layout")),
    "a title row": ("title", lambda b: b["rows"].append(["Approved by", "A. Chief"])),
    "a field more": ("title", lambda b: b.update(said=_LIE)),
    "a step of the calculation": ("calculation", lambda b: b["sections"][0]["rows"][0].update(
        what="as measured on site")),
}.items():  # fmt: skip
    forgery("blocks", _name)(lambda d, c, k=_kind, f=_change: d.block(k, lambda b: f(b)))


# --- drawings -----------------------------------------------------------------------------------


def _in_plan(old: str, new: str) -> Callable[[Draft, Case], None]:
    return lambda draft, case: draft.swap(draft.plan, old, new)


for _name, (_old, _new) in {
    "words over it": ("</svg>", f'<text x="100" y="100" font-size="30">{_LIE}</text></svg>'),
    "a white sheet over it": ("</svg>", '<rect width="999" height="999" fill="#fff"/></svg>'),
    "an invisible overlay": ("</svg>", '<rect width="999" height="999" opacity="0"/></svg>'),
    "a style that hides": ("</style>", " text{display:none}</style>"),
    "a comment": ("</svg>", "<!-- released --></svg>"),
    "metadata": ("</svg>", "<metadata>released</metadata></svg>"),
    "a title": ("</svg>", "<title>Released</title></svg>"),
    "a script": ("</svg>", "<script>alert(1)</script></svg>"),
    "an image inside": ("</svg>", f'<image href="data:image/png;base64,{_PIXEL}"/></svg>'),
    "an animation": ("</svg>", '<rect width="9"><set attributeName="x" to="5"/></rect></svg>'),
    "moved by a hair": ("39.69", "39.70"),
    "scaled": ('viewBox="0 0 481', 'viewBox="0 0 961'),
    "mirrored": ("<svg ", '<svg transform="scale(-1 1)" '),
    "another colour": ("#f6f3ec", "#f6f3ed"),
    "an identifier": ("ground: hardstand", "ground: rock"),
    "a space at the end": ("</svg>", "</svg> "),
}.items():
    forgery("drawings", _name)(_in_plan(_old, _new))


@forgery("drawings", "of another lift")
def _other_drawings(draft: Draft, case: Case) -> None:
    other = Draft.of(case.other_layout)
    draft.files.update({k: v for k, v in other.files.items() if k.startswith("figures/")})


@forgery("drawings", "two swapped")
def _swapped(draft: Draft, case: Case) -> None:
    a, b = sorted(n for n in draft.files if n.startswith("figures/"))[:2]
    draft.files[a], draft.files[b] = draft.files[b], draft.files[a]


@forgery("drawings", "one left out of record and notebook")
def _left_out(draft: Draft, case: Case) -> None:
    del draft.files[draft.plan]

    def drop(notebook: dict[str, Any]) -> None:
        for cell in notebook["cells"]:
            if "outputs" in cell:
                cell["outputs"] = [o for o in cell["outputs"] if "plan.svg" not in o["data"].get("text/markdown", "")]

    draft.notebook(drop)


@forgery("drawings", "one missing in the record", redraw=False)
def _missing(draft: Draft, case: Case) -> None:
    del draft.files[draft.plan]


@forgery("drawings", "one more, not shown")
def _one_more(draft: Draft, case: Case) -> None:
    draft.files["figures/released.svg"] = draft.files[draft.plan]


@forgery("drawings", "one more, shown")
def _shown_too(draft: Draft, case: Case) -> None:
    draft.files["figures/released.svg"] = draft.files[draft.plan]
    block = {"kind": "figure", "name": "released", "caption": "Released plan"}
    draft.add_output({BLOCK_MIME: block, "text/markdown": "![Drawing](figures/released.svg)"})


@forgery("drawings", "a label")
def _label(draft: Draft, case: Case) -> None:
    text = draft.files[draft.plan].decode()
    altered = re.sub(
        r"(<text[^>]*>[^<]*)([0-8])([^<\d]*</text>)",
        lambda m: f"{m[1]}{int(m[2]) + 1}{m[3]}", text, count=1,
    )  # fmt: skip
    assert altered != text, "the plan has no label with a digit"
    draft.files[draft.plan] = altered.encode()


@forgery("drawings", "the link in the notebook leads to another")
def _other_link(draft: Draft, case: Case) -> None:
    draft.swap("sheet.ipynb", "![Drawing](figures/plan.svg)", "![Drawing](figures/capacity_circle.svg)")


# --- page and PDF alone -------------------------------------------------------------------------


def _in_page(old: str, new: str) -> Callable[[Draft, Case], None]:
    def make(draft: Draft, case: Case) -> None:
        text = draft.files["sheet.html"].decode()
        altered = re.sub(old, lambda m: m.expand(new), text, count=1)
        assert altered != text, old
        draft.files["sheet.html"] = altered.encode()

    return make


for _name, (_old, _new) in {
    "a script": ("</body>", "<script>document.title='x'</script></body>"),
    "a sentence": ("</body>", f"<p>{_LIE}</p></body>"),
    "hidden text": ("</body>", f'<p style="display:none">{_LIE}</p></body>'),
    "a rule that hides a row": ("</style>", "tr:nth-child(3){display:none}</style>"),
    "a rule that adds words": ("</style>", "h1::after{content:'RELEASED'}</style>"),
    "another content policy": (r"default-src 'none'", "default-src *"),
    "no content policy": (r"<meta http-equiv=[^>]*>", ""),
    "another title": (r"<title>[^<]*</title>", "<title>Released</title>"),
    "a base address": ("<head>", '<head><base href="http://example.org/">'),
    "a refresh": ("<head>", '<head><meta http-equiv="refresh" content="0;url=http://example.org">'),
    "another language": (r'lang="[^"]*"', 'lang="ar"'),
    "written from the right": (r"<html ", '<html dir="rtl" '),
    "a comment": ("</body>", "<!-- released --></body>"),
    "a frame": ("</body>", '<iframe src="//example.org"></iframe></body>'),
    "a handler": ("<body", '<body onload="alert(1)"'),
    "a form": ("</body>", "<form action='//example.org'><input></form></body>"),
    "a style sheet": ("</head>", '<link rel="stylesheet" href="//example.org/a.css"></head>'),
    "an image from elsewhere": (r'src="figures/plan.svg"', 'src="//example.org/plan.svg"'),
    "another drawing": (r'src="figures/plan.svg"', 'src="figures/capacity_circle.svg"'),
    "another alternative text": (r'alt="[^"]*"', 'alt="Released"'),
    "a number": (r"80\.3", "60.3"),
    "no caution": (r"Planning aid\.", ""),
    "a space": (r"</html>", "</html> "),
    "a line end": ("\n", "\r\n"),
    "a letter as an entity": ("Backward", "&#66;ackward"),
    "another charset": ('charset="utf-8"', 'charset="utf-7"'),
    "a template element": ("</body>", f"<template>{_LIE}</template></body>"),
}.items():
    forgery("page", _name, redraw=False)(_in_page(_old, _new))


def _put(name: str, data: Callable[[Draft, Case], bytes]) -> Callable[[Draft, Case], None]:
    def make(draft: Draft, case: Case) -> None:
        draft.files[name] = data(draft, case)

    return make


def _pdf(change: Callable[[Any], Any]) -> Callable[[Draft, Case], bytes]:
    def data(draft: Draft, case: Case) -> bytes:
        import io

        from pypdf import PdfReader, PdfWriter

        writer = PdfWriter(clone_from=PdfReader(io.BytesIO(draft.files["sheet.pdf"])))
        change(writer)
        stream = io.BytesIO()
        writer.write(stream)
        return stream.getvalue()

    return data


_UPDATE = b"\n9999 0 obj\n<< /Said (released) >>\nendobj\nxref\n0 0\ntrailer\n<< >>\n%%EOF\n"
for _name, _data in {
    "of another record": lambda d, c: Draft.of(c.other_layout).files["sheet.pdf"],
    "an update appended": lambda d, c: d.files["sheet.pdf"] + _UPDATE,
    "a byte appended": lambda d, c: d.files["sheet.pdf"] + b"\n",
    "cut short": lambda d, c: d.files["sheet.pdf"][:-100],
    "empty": lambda d, c: b"",
    "no PDF at all": lambda d, c: b"released",
    "other metadata": _pdf(lambda w: w.add_metadata({"/Title": "Released"})),
    "an attachment more": _pdf(lambda w: w.add_attachment("released.txt", b"released")),
    "a page less": _pdf(lambda w: w.remove_page(w.pages[0])),
    "written again": _pdf(lambda w: None),
}.items():
    forgery("PDF", _name, redraw=False)(_put("sheet.pdf", _data))


@forgery("page", "of another record", redraw=False)
def _other_page(draft: Draft, case: Case) -> None:
    draft.files["sheet.html"] = Draft.of(case.other_layout).files["sheet.html"]


@forgery("page", "page and PDF of another state of the notebook", redraw=False)
def _page_only(draft: Draft, case: Case) -> None:
    kept = draft.files["sheet.ipynb"]
    draft.shown(lambda text: text.replace("80.3", "60.3"))
    draft.redraw()
    draft.files["sheet.ipynb"] = kept


# --- results ------------------------------------------------------------------------------------


def _results(change: Change) -> Callable[[Draft, Case], None]:
    return lambda draft, case: draft.json("results.json", lambda r: change(r))


def _check(results: dict[str, Any], name: str = "backward-stability") -> dict[str, Any]:
    return next(c for c in results["checks"] if c["id"] == name)


for _name, _change in {
    "a value": lambda r: r["values"].update(base_area_m2=47.4),
    "a value by 1e-7 of it": lambda r: r["values"].update(
        base_area_m2=r["values"]["base_area_m2"] * (1 + 1e-7)),
    "a limit by 1e-7 of it": lambda r: _check(r).update(limit=15.0 * (1 - 1e-7)),
    "a value onto its limit": lambda r: _check(r).update(value=15.0, utilisation=1.0),
    "nought as minus nought": lambda r: _check(r, "mats-apart").update(value=-0.0),
    "a whole number as a fraction": lambda r: r["values"].update(not_rated_count=0.0),
    "a whole number as false": lambda r: r["values"].update(not_rated_count=False),
    "a whole number": lambda r: r["values"].update(not_rated_count=1),
    "a missing utilisation": lambda r: _check(r, "mats-on-shelf").update(utilisation=0.0),
    "a verdict": lambda r: r.update(verdict="condition"),
    "another governing check": lambda r: r.update(governing="mats-apart"),
    "a reference": lambda r: _check(r).update(reference="ASME B30.5, 12 %"),
    "a title": lambda r: _check(r).update(title="Backward stability, approved"),
    "a remedy": lambda r: _check(r).update(remedy="None required"),
    "a unit": lambda r: _check(r).update(quantity="length_m"),
    "an identifier": lambda r: (_check(r).update(id="backward"), r.update(governing="backward")),
    "a check less": lambda r: r["checks"].pop(0),
    "a check more": lambda r: r["checks"].append({**r["checks"][0], "id": "approved"}),
    "checks in another order": lambda r: r["checks"].reverse(),
    "a key more": lambda r: r["values"].update(approved="yes"),
    "a key less": lambda r: r["values"].pop("base_area_m2"),
    "words of the verdict": lambda r: r.update(verdict_words="Within limits, approved."),
    "a look-alike letter": lambda r: r["values"].update(
        tipping_lines=[t.replace("R", "Ʀ") for t in r["values"]["tipping_lines"]]),
    "a condition": lambda r: _check(r).update(condition="as agreed"),
    "parent": lambda r: r.update(parent="0" * 64),
    "job": lambda r: r.update(job="riverside-pumps-2"),
    "a list in another order": lambda r: r["values"]["tipping_line_distance_m"].reverse(),
}.items():  # fmt: skip
    forgery("results", _name)(_results(_change))


def _raw(name: str, change: Callable[[bytes], bytes]) -> Callable[[Draft, Case], None]:
    def make(draft: Draft, case: Case) -> None:
        before = draft.files[name]
        draft.files[name] = change(before)
        assert draft.files[name] != before

    return make


for _file in ("results.json", "inputs.json", "sheet.ipynb"):
    for _name, _change in {
        "spaces": lambda b: b + b"  ",
        "other layout": lambda b: json.dumps(json.loads(b)).encode(),
        "a key doubled": lambda b: b.replace(b"{", b'{"schema": "released", ', 1),
        "NaN": lambda b: re.sub(rb": -?\d+\.\d+", b": NaN", b, count=1),
        "escaped letters": lambda b: b.replace(b"within", b"w\\u0069thin", 1)
        if b"within" in b else b.replace(b"riverside", b"r\\u0069verside", 1),
        "byte order mark": lambda b: b"\xef\xbb\xbf" + b,
        "a number in another form": lambda b: re.sub(rb"(: \d+\.\d),", rb"\g<1>0,", b, count=1),
    }.items():  # fmt: skip
        if _file != "sheet.ipynb" or _name not in ("NaN", "a number in another form"):
            forgery(f"text of {_file}", _name, derive=False, redraw=False)(_raw(_file, _change))


@forgery("results", "of another lift, page and drawings alike")
def _other_results(draft: Draft, case: Case) -> None:
    other = Draft.of(case.other_layout)
    for name in list(draft.files):
        if name.startswith("figures/"):
            del draft.files[name]
    for name, data in other.files.items():
        if name.startswith("figures/") or name in ("results.json", "sheet.ipynb"):
            draft.files[name] = data
    draft.swap("sheet.ipynb", "L3", "L1")
    draft.json("results.json", lambda r: r.update(lift="L1"))


@forgery("results", "results and page alike")
def _with_page(draft: Draft, case: Case) -> None:
    def better(results: dict[str, Any]) -> None:
        check = _check(results)
        check.update(value=28.677311721932334, utilisation=15 / 28.677311721932334)

    draft.json("results.json", better)
    for old, new in (("80.3", "52.3"), ("18.7", "28.7"), ("18.68", "28.68")):
        draft.shown(lambda text, old=old, new=new: text.replace(old, new))


# --- inputs -------------------------------------------------------------------------------------


def _lift(inputs: dict[str, Any]) -> dict[str, Any]:
    return next(x for x in inputs["job"]["lifts"] if x["id"] == "L1")


def _in_inputs(old: str, new: str) -> Callable[[Draft, Case], None]:
    def make(draft: Draft, case: Case) -> None:
        draft.swap("inputs.json", old, new)
        draft.key()

    return make


for _name, _change in {
    "a lighter load": lambda i: _lift(i)["load"].update(mass_t=_lift(i)["load"]["mass_t"] / 2),
    "a load by 1e-7 of it": lambda i: _lift(i)["load"].update(
        mass_t=_lift(i)["load"]["mass_t"] * (1 + 1e-7)),
    "a title": lambda i: _lift(i).update(title="Approved lift"),
    "title of the job": lambda i: i["job"].update(title="Approved job (invented)"),
    "client": lambda i: i["job"].update(client="Another client"),
    "no invented job": lambda i: i["job"].update(invented=False),
    "units": lambda i: i["parameters"].update(units="us"),
    "revision": lambda i: i["parameters"].update(revision="B"),
    "prepared by": lambda i: i["parameters"].update(prepared_by="Prof. Honest"),
    "another results file": lambda i: i["parameters"].update(results_file="other.json"),
    "a parent's path": lambda i: i["parameters"].update(parent="elsewhere"),
    "another job file": lambda i: i["parameters"].update(job="other.json"),
    "a key more": lambda i: i.update(said=_LIE),
    "a key more in the job": lambda i: i["job"].update(said=_LIE),
    "a key more in the parameters": lambda i: i["parameters"].update(said=_LIE),
    "a key more beside the parent": lambda i: i["parent"].update(said=_LIE),
    "no parent": lambda i: i.update(parent=None),
    "results of the parent": lambda i: i["parent"]["results"]["values"].update(said=_LIE),
    "verdict of the parent": lambda i: i["parent"]["results"].update(verdict="condition"),
    "link to the parent": lambda i: i["parent"]["link"].update(manifest_sha256="0" * 64),
    "chain of the parent": lambda i: i["parent"]["link"].update(chain_sha256="0" * 64),
    "template of the parent": lambda i: i["parent"].update(template="lift_check"),
    "another template": lambda i: i.update(template="site_survey"),
    "a lift more": lambda i: i["job"]["lifts"].append({**_lift(i), "id": "L9"}),
    "an owner's reference": lambda i: i["job"]["rules"]["clearance"].update(reference="law"),
}.items():  # fmt: skip
    forgery("inputs", _name)(lambda d, c, f=_change: d.json("inputs.json", lambda i: f(i)))

for _name, (_old, _new) in {
    "whole numbers for fractions": (".0,", ","),
    "a look-alike letter": ("riverside", "r\u0456verside"),
    "a bidirectional mark": ("Old pump", "\u202eOld pump"), "minus nought": (": 0.0,", ": -0.0,"),
    "true as 1": (": true", ": 1"), "a step on a limit": (": 0.3,", ": 0.30000000000000004,"),
    "a tab in a title": ("Old pump", "Old\\tpump"),
}.items():  # fmt: skip
    forgery("inputs", _name, derive=False)(_in_inputs(_old, _new))


@forgery("inputs", "another lift in the parameters", derive=False)
def _lift_in_parameters(draft: Draft, case: Case) -> None:
    draft.json("inputs.json", lambda i: i["parameters"].update(lift="L2"))
    draft.key()


@forgery("inputs", "of another lift")
def _other_inputs(draft: Draft, case: Case) -> None:
    draft.files["inputs.json"] = Draft.of(case.other_layout).files["inputs.json"]
    draft.json("results.json", lambda r: r.update(lift="L3"))


@forgery("inputs", "a lighter load, in inputs and page alike")
def _inputs_and_page(draft: Draft, case: Case) -> None:
    mass = _lift(loads(draft.files["inputs.json"]))["load"]["mass_t"]
    draft.json("inputs.json", lambda i: _lift(i)["load"].update(mass_t=mass / 2))
    draft.shown(lambda text: text.replace(f"{mass:.2f}", f"{mass / 2:.2f}"))


# --- manifest, name and environment -------------------------------------------------------------

_ZERO = {"record": "riverside-pumps_L1_leg_layout_A_20190101T000000Z_00000000", "manifest_sha256": "0" * 64}
_FIELDS: dict[str, Any] = {
    "schema": "liftcalc/record/1", "kind": "check", "job": "another-job", "job_title": "Approved",
    "invented": False, "lift": "L2", "lift_title": "Approved", "template": "site_survey",
    "revision": "B", "units": "us", "prepared_by": "Prof. Honest",
    "prepared_utc": "2019-01-01T00:00:00Z", "verdict": "condition", "governing": "Approved (1.0 %)",
    "decision": "matches", "parents": [], "checks": _ZERO, "environment_sha256": "0" * 64,
    "template_sha256": "1" * 64, "code_sha256": "2" * 64, "run_key": "3" * 64, "versions": {},
    "record": "riverside-pumps_L2_leg_layout_A_20261128T170024Z_5bcdbbce", "revises": [_ZERO],
}  # fmt: skip
assert set(_FIELDS) == {
    *(f.alias or n for n, f in Manifest.model_fields.items())
} - {"files", "chain_sha256", "manifest_sha256"}  # fmt: skip
each("manifest field", {k: (k, v) for k, v in _FIELDS.items()},
     lambda d, kv: d.manifest.update({kv[0]: kv[1]}), derive=False, redraw=False)  # fmt: skip
each("manifest field, page and PDF alike",
     {k: (k, v) for k, v in _FIELDS.items() if k not in ("schema", "kind")},
     lambda d, kv: d.manifest.update({kv[0]: kv[1]}), derive=False)  # fmt: skip
each("manifest field", {"one version": "numpy", "a version more": "seaborn"}, derive=False,
     make=lambda d, n: d.manifest["versions"].update({n: "9.9"}), redraw=False)  # fmt: skip
each("manifest field", {"a field more": "said"}, derive=False,
     make=lambda d, n: d.manifest.update({n: _LIE}), redraw=False)  # fmt: skip


@forgery("manifest field", "another code, with its run key, page and PDF", derive=False)
def _other_code(draft: Draft, case: Case) -> None:
    draft.manifest["code_sha256"] = "2" * 64
    draft.key()


@forgery("manifest field", "another template, with its run key", derive=False)
def _other_template(draft: Draft, case: Case) -> None:
    draft.manifest["template_sha256"] = "1" * 64
    draft.key()


@forgery("manifest field", "another code, and a page of lies", derive=False)
def _other_code_and_page(draft: Draft, case: Case) -> None:
    draft.manifest["code_sha256"] = "2" * 64
    draft.key()
    draft.redraw()
    draft.swap("sheet.html", "</body>", f"<p>{_LIE}</p></body>")


for _name, _change in {
    "doubled field": lambda b: b.replace(b"{", b'{"verdict": "within", ', 1),
    "spaces": lambda b: b + b" ",
    "other layout": lambda b: json.dumps(json.loads(b)).encode(),
}.items():

    @forgery("manifest's text", _name)
    def _manifest_text(draft: Draft, case: Case, change: Callable[[bytes], bytes] = _change) -> bytes:
        return change(dumps(_sealed(draft.manifest, draft.files)))


@forgery("name", "folder renamed")
def _renamed(draft: Draft, case: Case) -> None:
    draft.folder = draft.manifest["record"].replace("_L1_", "_L2_")


@forgery("name", "of another lift, folder and page alike")
def _name_of_other(draft: Draft, case: Case) -> None:
    draft.manifest["record"] = draft.manifest["record"].replace("_L1_", "_L2_")


@forgery("name", "of another revision, folder and page alike")
def _name_of_revision(draft: Draft, case: Case) -> None:
    draft.manifest["record"] = draft.manifest["record"].replace("_A_", "_B_")


@forgery("name", "of another day, folder and page alike")
def _name_of_day(draft: Draft, case: Case) -> None:
    draft.manifest["record"] = re.sub(r"_\d{8}T\d{6}Z_", "_20190101T000000Z_", draft.manifest["record"])


@forgery("name", "another day, but not on the page", redraw=False)
def _backdated(draft: Draft, case: Case) -> None:
    draft.manifest["prepared_utc"] = "2019-01-01T00:00:00Z"
    draft.rename()


@forgery("name", "other digits, but not on the page", redraw=False)
def _digits(draft: Draft, case: Case) -> None:
    draft.rename()


for _name, _change in {
    "a version": lambda t: re.sub(rb"numpy==[^\n]+", b"numpy==9.9.9", t),
    "a package more": lambda t: t + b"zzz==1.0\n",
    "a package less": lambda t: re.sub(rb"numpy==[^\n]+\n", b"", t),
    "another Python": lambda t: re.sub(rb"python==[^\n]+", b"python==3.99.0", t),
    "another liftcalc": lambda t: re.sub(rb"\nliftcalc==[^\n]+", b"\nliftcalc==9.9", t),
    "another typst": lambda t: re.sub(rb"typst==[^\n]+", b"typst==0.0.1", t),
    "a comment": lambda t: t + b"# released\n",
    "another order": lambda t: b"\n".join(sorted(t.split(b"\n"), reverse=True)),
    "no line end": lambda t: t.rstrip(b"\n"),
    "a line twice": lambda t: t + t.split(b"\n")[-2] + b"\n",
    "empty": lambda t: b"",
}.items():

    @forgery("environment", _name, derive=False)
    def _environment(draft: Draft, case: Case, change: Callable[[bytes], bytes] = _change) -> None:
        before = draft.files["environment.txt"]
        draft.files["environment.txt"] = change(before)
        assert draft.files["environment.txt"] != before
        try:
            draft.derive()
        except Exception:  # not even a forger can derive versions from it
            draft.manifest["environment_sha256"] = sha256_hex(draft.files["environment.txt"])


@forgery("environment", "left out", derive=False)
def _no_environment(draft: Draft, case: Case) -> None:
    del draft.files["environment.txt"]
    draft.manifest["environment_sha256"] = ""


@forgery("environment", "another package set, and drawings of another lift", derive=False)
def _other_packages(draft: Draft, case: Case) -> None:
    text = draft.files["environment.txt"]
    draft.files["environment.txt"] = re.sub(rb"matplotlib==[^\n]+", b"matplotlib==9.9", text)
    other = Draft.of(case.other_layout)
    draft.files.update({k: v for k, v in other.files.items() if k.startswith("figures/")})
    draft.derive()


# --- files and links ----------------------------------------------------------------------------

each("files", {
    "a listed text": "released.txt", "a listed pickle": "data.pkl", "a listed array": "data.npz",
    "a listed page": "released.html", "a listed notebook": "figures/sheet.ipynb",
    "a listed folder": "figures/more/plan.svg", "a listed drawing elsewhere": "plan.svg",
    "a name that differs in case": "Sheet.html", "a hidden file": ".released",
}, lambda d, n: d.files.update({n: b"released"}))  # fmt: skip
each("files", {
    "an unlisted text": "released.txt", "an unlisted drawing": "figures/released.svg",
    "an unlisted hidden file": ".released", "an unlisted folder": "more/released.txt",
}, lambda d, n: d.extra.update({n: b"released"}))  # fmt: skip


def _without(draft: Draft, name: str) -> None:
    del draft.files[name]


each("files", {
    f"without {n}": n for n in ("inputs.json", "results.json", "sheet.ipynb", "sheet.html")
}, _without, derive=False, redraw=False)  # fmt: skip


@forgery("links", "parent of another lift", derive=False)
def _other_parent(draft: Draft, case: Case) -> None:
    other = Draft.of(case.other_survey)
    draft.beside.append(case.other_survey)
    draft.json("inputs.json", lambda i: i["parent"].update(link=other.link()))
    draft.json("results.json", lambda r: r.update(parent=other.link()["manifest_sha256"]))
    draft.derive()


@forgery("links", "parent that is not there")
def _no_parent(draft: Draft, case: Case) -> None:
    draft.beside.clear()


@forgery("links", "parent altered without the child")
def _altered_parent(draft: Draft, case: Case) -> None:
    draft.beside.clear()
    parent = Draft.of(case.survey)
    parent.json("results.json", lambda r: r["values"].update(said=_LIE))
    parent.redraw()
    draft.drafts.append(parent)


@forgery("links", "a parent of lies, and a child made from it", derive=False)
def _forged_parent(draft: Draft, case: Case) -> None:
    draft.beside.clear()
    parent = Draft.of(case.survey)
    parent.json("results.json", lambda r: r["values"].update(said=_LIE))
    parent.redraw()
    draft.drafts.append(parent)
    link = parent.link()

    def build(inputs: dict[str, Any]) -> None:
        inputs["parent"]["link"] = link
        inputs["parent"]["results"]["values"]["said"] = _LIE

    draft.json("inputs.json", build)
    draft.json("results.json", lambda r: r.update(parent=link["manifest_sha256"]))
    draft.derive()


@forgery("links", "a check record as the parent", derive=False)
def _check_parent(draft: Draft, case: Case) -> None:
    check = Draft.of(case.check)
    draft.beside.append(case.check)
    draft.json("inputs.json", lambda i: i["parent"].update(link=check.link()))
    draft.json("results.json", lambda r: r.update(parent=check.link()["manifest_sha256"]))
    draft.derive()


def _revises(draft: Draft, link: dict[str, Any]) -> None:
    draft.manifest["revises"] = [{n: link[n] for n in ("record", "manifest_sha256")}]


@forgery("links", "revises another lift")
def _revises_other(draft: Draft, case: Case) -> None:
    draft.beside.append(case.other_layout)
    _revises(draft, Draft.of(case.other_layout).link())


@forgery("links", "revises another sheet")
def _revises_sheet(draft: Draft, case: Case) -> None:
    _revises(draft, Draft.of(case.survey).link())


@forgery("links", "revises what is not there")
def _revises_nothing(draft: Draft, case: Case) -> None:
    _revises(draft, _ZERO)


@forgery("links", "revises a check record")
def _revises_check(draft: Draft, case: Case) -> None:
    draft.beside.append(case.check)
    _revises(draft, Draft.of(case.check).link())


@forgery("links", "revises a record with another hash")
def _revises_hash(draft: Draft, case: Case) -> None:
    _revises(draft, {**Draft.of(case.survey).link(), "manifest_sha256": "0" * 64})


# --- check records ------------------------------------------------------------------------------


def check_drafts(case: Case) -> Iterator[tuple[str, Draft]]:
    """Forged check records of the honest layout: each says what no re-check said."""
    from liftcalc.records.check_record import check_page

    def of(change: Change, *, page: bool = True, derive: bool = True, beside: Path = case.layout) -> Draft:
        draft = Draft.of(case.check, case.survey, beside)
        draft.json("check.json", change)
        said, m = loads(draft.files["check.json"]), draft.manifest
        if derive:
            link = {"record": said["record"], "manifest_sha256": said["manifest_sha256"]}
            m.update({**said["sheet"], "decision": said["decision"], "checks": link})
            m.update(prepared_by=said["checker"], versions=said["versions_here"])
            m.update(parents=[{**link, "chain_sha256": said["chain_sha256"]}])
            m.update(code_sha256=said["code_sha256_here"])
            m["run_key"] = sha256_hex(draft.files["check.json"])
        if page:
            draft.files["check.html"] = check_page(said, m["prepared_utc"])
        return draft

    other = Draft.of(case.other_layout).link()
    for name, change in {
        "differs": lambda s: s.update(decision="differs"),
        "cannot be re-run": lambda s: s.update(decision="cannot be re-run"),
        "fewer numbers compared": lambda s: s.update(numbers_compared=1),
        "a wide tolerance": lambda s: s.update(tolerance="relative 0.01, absolute 0.01"),
        "a note": lambda s: s["notes"].append(_LIE),
        "a finding": lambda s: s["findings"].append(_LIE),
        "another verdict of the sheet": lambda s: s["sheet"].update(verdict="condition"),
        "another governing check": lambda s: s["sheet"].update(governing="Approved (1.0 %)"),
        "of a record that is not there": lambda s: s.update(**_ZERO),
        "of another hash": lambda s: s.update(manifest_sha256="0" * 64),
        "of another lift": lambda s: s.update(**other),
        "a key more": lambda s: s.update(said=_LIE),
        "other code": lambda s: s.update(code_sha256_here="2" * 64),
        "other versions": lambda s: s["versions_here"].update(numpy="9.9"),
    }.items():
        yield name, of(lambda s, f=change: f(s))
    yield "another checker, not on the page", of(lambda s: s.update(checker="C."), page=False)
    draft = of(lambda s: None)
    draft.swap("check.html", "</body>", f"<p>{_LIE}</p></body>")
    yield "a sentence on its page", draft
    draft = of(lambda s: None)
    draft.manifest["decision"] = "differs"
    yield "manifest only", draft
    draft = of(lambda s: None)
    draft.files["recalculated.html"] = Draft.of(case.layout).files["sheet.html"]
    yield "a page recalculated by the forger", draft
    # The record that it checks was altered, and says so itself; its check says that it matches.
    lie = Draft.of(case.layout)
    lie.json("results.json", lambda r: r["values"].update(base_area_m2=47.4))
    lie.redraw()
    sealed = _sealed(lie.manifest, lie.files)
    draft = of(lambda s: s.update(manifest_sha256=sealed["manifest_sha256"],
                                  chain_sha256=sealed["chain_sha256"]))  # fmt: skip
    draft.beside.remove(case.layout)
    draft.drafts.append(copy.deepcopy(lie))
    yield "matches, of a record of lies", draft
