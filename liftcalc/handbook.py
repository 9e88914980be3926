"""The handbook of methods: formula, source and limits of every calculation, from its docstring.

This module only collects the docstrings, with the constants and tables as the code holds them, so
that the handbook can never differ from the code; of modules to which a command, sheet, notebook or
panel leads, and with the sheets and notebooks that run each of them.
"""

import html
import importlib
import inspect
import json
import pkgutil
import re
from dataclasses import dataclass, field
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Literal, get_args, get_origin, get_type_hints

import liftcalc
from liftcalc.base.errors import InputError
from liftcalc.base.files import rows_beside
from liftcalc.base.text import CAUTION_LINE
from liftcalc.records.pages import print_frame
from liftcalc.run.constants import PrintedConstant, constants
from liftcalc.run.handbook_words import page_words
from liftcalc.run.uses import reached_modules, used_by

GROUPS: dict[str, tuple[str, ...]] = {row["group"]: tuple(row["modules"].split()) for row in rows_beside(__file__)}
"""Chapters in the order of a reader, from ``handbook.csv``: group title, then modules (a package
stands for all in it)."""

REST = "More calculations"
"""Group of the modules that no group names."""

_OUTSIDE = {"base", "cli", "cli_records", "facts", "handbook", "lift", "panels", "records"}
_OUTSIDE |= {"plan", "run", "sheets", "survey", "views"}
_YET = {"base.units", "base.text", "lift.lift_class"}
_HEADING = re.compile(
    r"^(Parameters|Attributes|Returns|Raises|Warns|Yields|Source|Examples):(?= |$)"
    r"|^([A-Z][A-Za-z ]+)\n-{3,}[ ]*$",
    re.MULTILINE,
)
_ROLE = re.compile(r":[a-z]+:`~?(?:[\w.]+\.)?([^`]+)`")
_CODE = re.compile(r"(``[^`]+``|`[^`]+`)")
_ITEM = re.compile(r"^(?:[-*]|\d+[.)]) ")


@dataclass(frozen=True)
class HandbookEntry:
    """One public calculation function, or one public class that a function takes or returns."""

    module: str
    name: str
    signature: str
    summary: str
    sections: dict[str, str] = field(default_factory=dict)


_OWN_VALUES = "Source: beside each value; where none is named, an assumption of this program."


def calculation_modules() -> list[ModuleType]:
    """Every module of the calculation floor, in order of name."""
    modules = []
    for info in pkgutil.walk_packages(liftcalc.__path__, "liftcalc."):
        short = info.name.removeprefix("liftcalc.")
        if short.split(".")[0] in _OUTSIDE and short not in _YET:
            continue
        modules.append(importlib.import_module(info.name))
    return sorted(modules, key=lambda m: m.__name__)


def chapter_groups() -> dict[str, list[ModuleType]]:
    """Modules that something leads to, in the order of a reader; those of no group come last."""
    place = {name: title for title, names in GROUPS.items() for name in names}
    order = {name: n for n, name in enumerate(place)}
    groups: dict[str, list[ModuleType]] = {title: [] for title in (*GROUPS, REST)}
    keys = {}
    for module in (*calculation_modules(), *_assuming()):
        if module.__name__ not in reached_modules():
            continue
        if not (entries(module) or _classes(module) or constants(module)):
            continue
        short = module.__name__.removeprefix("liftcalc.")
        known = [n for n in place if short == n or short.startswith(f"{n}.")]
        best = max(known, key=len, default="")
        groups[place.get(best, REST)].append(module)
        keys[module.__name__] = (order.get(best, len(order)), short)
    for modules in groups.values():
        modules.sort(key=lambda m: keys[m.__name__])
    return {title: modules for title, modules in groups.items() if modules}


def _assuming() -> list[ModuleType]:
    """Modules of checks and facts that hold a number of their own: only that is printed of them."""
    rooms = ("liftcalc.lift.", "liftcalc.facts.")
    modules = (importlib.import_module(m) for m in sorted(reached_modules()) if m.startswith(rooms))
    return [m for m in modules if _only_assumes(m) and any(c.numbers for c in constants(m))]


def _only_assumes(module: ModuleType) -> bool:
    room, _, rest = module.__name__.removeprefix("liftcalc.").partition(".")
    return room in ("lift", "facts") and f"{room}.{rest}" not in _YET


def sections(docstring: str) -> tuple[str, dict[str, str]]:
    """Text before the first section of a docstring, and its sections by name: ``Name: text``."""
    text = inspect.cleandoc(docstring)
    pieces = _HEADING.split(text)
    named = zip(pieces[1::3], pieces[2::3], pieces[3::3], strict=True)
    body = {short or long: inspect.cleandoc(content) for short, long, content in named}
    return pieces[0].strip(), body


def entries(module: ModuleType) -> list[HandbookEntry]:
    """Public functions of a module in source order; without sections it is no method here."""
    functions = [
        (name, item)
        for name, item in inspect.getmembers(module, inspect.isfunction)
        if not name.startswith("_") and item.__module__ == module.__name__
    ]
    result = []
    for name, item in sorted(functions, key=lambda pair: pair[1].__code__.co_firstlineno):
        summary, body = sections(item.__doc__ or "")
        if not body:
            continue
        names = ", ".join(_shown(p) for p in inspect.signature(item).parameters.values())
        told = told_by_signature(item)
        body.setdefault("Returns", told.pop("return", ""))
        heads = (line.partition(":")[0] for line in re.findall(r"^\S.*", body.get("Parameters", ""), re.M))
        listed = re.findall(r"\w+", " ".join(heads))
        own = [f"{name}: {words}" for name, words in told.items() if name not in listed]
        body["Parameters"] = "\n".join([*own, body.get("Parameters", "")]).rstrip()
        body = {title: text for title, text in body.items() if text}
        result.append(HandbookEntry(module.__name__, name, f"{name}({names})", summary, body))
    return result


def told_by_signature(item: FunctionType) -> dict[str, str]:
    """Arguments, and ``return``, whose annotation tells all: a class of the package, or words."""
    told = {}
    for name, hint in get_type_hints(item).items():
        if inspect.isclass(hint) and hint.__module__.startswith("liftcalc."):
            told[name] = hint.__name__
        elif get_origin(hint) is Literal:
            told[name] = "{" + ", ".join(map(json.dumps, get_args(hint))) + "}"
    return told


def _shown(parameter: inspect.Parameter) -> str:
    simple = isinstance(parameter.default, str | int | float | bool)
    return f"{parameter.name}={parameter.default!r}" if simple else parameter.name


def _classes(module: ModuleType) -> list[HandbookEntry]:
    """Public classes of a module; one whose docstring is only its signature is left out."""
    own = {n: item for n, item in vars(module).items() if inspect.isclass(item) and n[0] != "_"}
    return [
        HandbookEntry(module.__name__, name, name, *sections(item.__doc__))
        for name, item in own.items()
        if item.__module__ == module.__name__ and item.__doc__ and not item.__doc__.startswith(f"{name}(")
    ]


def _text(text: str) -> str:
    """One run of docstring text as Markdown: nothing in it may turn into markup by accident."""
    pieces = _CODE.split(_ROLE.sub(r"``\1``", text))
    for n in range(0, len(pieces), 2):
        plain = html.escape(pieces[n], quote=False)
        plain = re.sub(r"(?<![\w*])\*(\w+)\*(?![\w*])", "\x00\\1\x00", plain)
        plain = re.sub(r"\*\*([\w ]+)\*\*", "\x00\x00\\1\x00\x00", plain)
        plain = re.sub(r"([\\*$~])", r"\\\1", plain).replace("](", "]&#40;")
        plain = re.sub(r"(?<!\w)_|_(?!\w)", r"\\_", plain)
        pieces[n] = plain.replace("\x00", "*")
    return "".join(pieces)


def _paragraphs(text: str) -> list[str]:
    """Docstring text as Markdown lines: paragraphs, lists, and set-out lines as they stand."""
    result: list[str] = []
    for block in re.split(r"\n\s*\n", text.strip("\n")):
        lines = block.splitlines()
        if not lines:
            continue
        if all(line.startswith("  ") for line in lines) or any(re.search(r"\S {3,}\S", line) for line in lines):
            text = inspect.cleandoc("\n" + "\n".join(lines))
            result += ["```text", *text.splitlines(), "```", ""]
        elif _ITEM.match(lines[0]):
            for line in lines:
                item = _ITEM.match(line)
                words = _text(line[item.end() :] if item else line.strip())
                result.append(f"- {words}" if item else f"  {words}")
            result.append("")
        else:
            joined = " ".join(line.strip() for line in lines)
            result += [_text(re.sub(r"::$", ":", joined)), ""]
    return result


def _definitions(text: str) -> list[str]:
    """Lines ``name: meaning`` with their indented continuations, as a list."""
    result: list[str] = []
    for line in text.splitlines():
        name, colon, meaning = line.partition(":")
        if line.startswith(" ") and result:
            result.append("  " + _text(line.strip()))
        elif re.fullmatch(r"[*\w]+(, [*\w]+)*", name):
            result.append(f"- **`{name}`**" + (f": {_text(meaning.strip())}" if colon else ""))
        elif line.strip():
            result.append(f"- {_text(line)}")
    return [*result, ""]


_TITLES = {
    "Parameters": "What it takes", "Attributes": "What it holds", "Returns": "What it gives",
    "Raises": "What it refuses", "Warns": "What it warns of", "Source": "Source", "Examples": "Example",
}  # fmt: skip
_LISTED = ("Parameters", "Attributes")


def _section_lines(title: str, text: str) -> list[str]:
    return _definitions(text) if title in _LISTED else _paragraphs(text)


def _entry_lines(entry: HandbookEntry) -> list[str]:
    lines = [f"### `{entry.signature}`", "", *_paragraphs(entry.summary)]
    for title, words in _TITLES.items():
        if title in entry.sections:
            lines += [f"#### {words}", "", *_section_lines(title, entry.sections[title])]
    return lines


def _of_chapter(module: ModuleType) -> list[PrintedConstant]:
    """Constants that a chapter prints: of a module that is no calculation, only the numbers."""
    method = module.__name__.split(".")[1] not in ("lift", "facts", "base")
    return [c for c in constants(module) if method or c.numbers]


def _constant_lines(found: list[PrintedConstant]) -> list[str]:
    """Constants as Markdown: single values in a list, tables below their heads."""
    lines = ["### Constants and tables", ""] if found else []
    for one in found:
        meaning = _text(" ".join(one.meaning.split()))
        value = f" = {_text(one.value)}" if one.value else ""
        lines += [f"`{one.name}`{value}" + (f": {meaning}" if meaning else ""), ""]
        if one.rows:
            cells = [one.heads, ("---",) * len(one.heads), *one.rows]
            lines += ["| " + " | ".join(map(_text, row)) + " |" for row in cells] + [""]
    return lines


def handbook_markdown(module: ModuleType) -> str:
    """One chapter: what the module says of itself, its functions, and what they take and return.

    Parameters:
      module: module of the calculation floor, see :func:`chapter_groups`
    Returns: str, Markdown
    """
    summary, body = sections(module.__doc__ or "")
    if _only_assumes(module):
        lines = _constant_lines(_of_chapter(module))
        head = [f"## `{module.__name__}`", "", _OWN_VALUES, ""]
        return page_words("\n".join([*head, *lines]), module.__name__)
    lines = [f"## `{module.__name__}`", "", f"Used by: {used_by(module.__name__)}.", ""]
    lines += _paragraphs(summary)
    for title, text in body.items():
        lines += [f"### {title}", "", *_paragraphs(text)]
    lines += _constant_lines(_of_chapter(module))
    for entry in entries(module):
        lines += _entry_lines(entry)
    classes = _classes(module)
    if classes:
        lines += ["### Data it takes and gives", ""]
        for entry in classes:
            lines += [f"#### `{entry.name}`", "", *_paragraphs(entry.summary)]
            for title, text in entry.sections.items():
                lines += [f"*{_TITLES.get(title, title)}*", "", *_section_lines(title, text)]
    return page_words("\n".join(lines).rstrip() + "\n", module.__name__)


def group_markdown(title: str) -> str:
    """All chapters of one group.

    Parameters:
      title: a key of :func:`chapter_groups`
    Raises: An unknown title.
    """
    groups = chapter_groups()
    if title not in groups:
        raise InputError.of("title", title, "; ".join(groups))
    chapters = [handbook_markdown(module) for module in groups[title]]
    return "\n".join([f"# {title}", "", *chapters])


_CSS = "\n" + Path(__file__).with_suffix(".css").read_text(encoding="utf-8")


def handbook_html() -> str:
    """The whole handbook as one self-contained page that prints on A4.

    Returns: str, HTML; needs no network, holds no script
    """
    from nbconvert.filters import markdown2html

    groups = chapter_groups()
    contents, body = [], []
    for number, (title, modules) in enumerate(groups.items(), start=1):
        links = ", ".join(
            f'<a href="#{m.__name__}">{html.escape(m.__name__.removeprefix("liftcalc."))}</a>' for m in modules
        )
        heading = html.escape(title)
        contents.append(f'<li><a href="#group-{number}">{heading}</a>: {links}</li>')
        body.append(f'<section class="group" id="group-{number}"><h1>{heading}</h1>')
        for module in modules:
            chapter = markdown2html(handbook_markdown(module))
            body.append(f'<section id="{module.__name__}">{chapter}</section>')
        body.append("</section>")
    count = sum(len(entries(m)) for ms in groups.values() for m in ms if not _only_assumes(m))
    title = f"Handbook of methods, liftcalc {html.escape(liftcalc.__version__)}"
    return "\n".join(
        [
            '<!DOCTYPE html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{title}</title>\n<style>{_CSS}{print_frame(title)}</style>\n</head>\n<body>",
            f"<header><h1>{title}</h1>",
            f"<p>{count} calculations: what each takes and gives with its units, the method with "
            "its limits, its constants and tables, what it refuses, and its source. Made from the "
            "program's own text and short names: leg_x_m is a place of an outrigger, swing_deg an "
            "angle of the pendulum of the load.</p>",
            f'<p class="caution">{html.escape(CAUTION_LINE)}</p></header>',
            "<nav><h2>Contents</h2>\n<ol>",
            *contents,
            "</ol></nav>\n<main>",
            *body,
            "</main>\n</body>\n</html>\n",
        ]
    )
