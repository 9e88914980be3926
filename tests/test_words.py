"""The trade's words and plain English, one word for one thing: in the code, and on the page.

What is shown is found twice: every sentence that the package, its notebooks and its script can
show, wherever it stands, and the pages, drawings and tables of the demo as they come out.
"""

import ast
import csv
import functools
import io
import json
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from shown import given_names, shown, texts_of

from liftcalc.base import resources
from liftcalc.base.words import TERMS
from liftcalc.cli import cli

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "liftcalc"

INSTEAD = {
    r"told": "stated, defined, named, shown",
    r"anew": "again, new",
    r"mended|mend|mends": "repaired, corrected",
    r"parted by": "separated by",
    r"struck out": "removed",
    r"worked (?!example)\w*": "calculated, computed",
    r"maker|makers|maker's": "manufacturer",
}
ALLOWED = ("maker's chart", "maker's data", "rope maker", '"maker"')
"""Kinds of provenance as they are written in a job, and who makes a rope."""


def prose(path: Path) -> list[tuple[int, str]]:
    """Docstrings and comments of a file with their lines."""
    source = path.read_text(encoding="utf-8")
    found = [
        (token.start[0], token.string)
        for token in tokenize.generate_tokens(io.StringIO(source).readline)
        if token.type == tokenize.COMMENT
    ]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            text = node.value.value
            if isinstance(text, str):
                found += [(node.lineno + n, line) for n, line in enumerate(text.splitlines())]
    return found


def wrong_words(text: str) -> list[str]:
    """Words of one line that have a better one."""
    for allowed in ALLOWED:
        text = text.replace(allowed, "")
    return [m.group() for w in INSTEAD for m in re.finditer(rf"\b(?:{w})\b", text, re.I)]


def test_docstrings_and_comments_use_plain_words() -> None:
    found = [
        f"{path.relative_to(PACKAGE)}:{line}: {', '.join(words)}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for line, text in prose(path)
        if (words := wrong_words(text))
    ]
    assert not found, "\n".join(found)


def test_the_check_sees_a_word_that_has_a_better_one() -> None:
    assert wrong_words("Rows are told anew.") == ["told", "anew"]
    assert wrong_words('kind: "maker\'s chart"') == []


KINDS = ("maker's chart", "maker's data")
"""Kinds of provenance as they are written in a job; pages say manufacturer."""


@functools.cache
def better() -> re.Pattern[str]:
    """What a page does not say, by the package's own table."""
    wrong = [pattern for term in TERMS for pattern in term.instead_of]
    return re.compile(rf"(?<![\w-])(?:{'|'.join(wrong)})(?![\w-])", re.IGNORECASE)


def not_said(text: str) -> list[str]:
    """Words of a shown text that have a better one, outside the names that the facts give."""
    for name in (*given_names(), *KINDS):
        text = text.replace(name, "")
    return [match.group() for match in better().finditer(text)]


def sentences(path: Path) -> Iterator[tuple[int, str]]:
    """Texts of a module that somebody may read: those with a space, without docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docstrings = {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(part.value) if isinstance(part, ast.Constant) else "#" for part in node.values)
            yield node.lineno, text
        elif (
            isinstance(node, ast.Constant)
            and id(node) not in docstrings
            and isinstance(node.value, str)
            and " " in node.value
        ):
            yield node.lineno, node.value


def cells(path: Path) -> Iterator[tuple[int, str]]:
    """Cells of a notebook, text and code: its strings are read with it."""
    for n, cell in enumerate(json.loads(path.read_text(encoding="utf-8"))["cells"]):
        source = "".join(cell["source"])
        if cell["cell_type"] == "markdown":
            yield n, re.sub(r"`[^`]*`|\]\([^)]*\)", "", source)
        else:
            yield from ((n, text) for text in re.findall(r'"([^"\n]* [^"\n]*)"', source))


def prose_of(path: Path) -> Iterator[tuple[int, str]]:
    """Lines of a text page without its code, and of a web page without its style sheet."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".html":
        style = r"<style>.*?</style>|{[%#].*?[%#]}|{{.*?}}"
        text = re.sub(style, lambda m: "\n" * m.group().count("\n"), text, flags=re.DOTALL)
    text = re.sub(r"```.*?```", lambda m: "\n" * m.group().count("\n"), text, flags=re.DOTALL)
    for n, line in enumerate(text.splitlines(), 1):
        yield n, re.sub(r"`[^`]*`|\]\([^)]*\)", "", line)


def table_cells(path: Path) -> Iterator[tuple[int, str]]:
    """Cells of a table of texts; what a caller puts in is left out."""
    for n, row in enumerate(csv.reader(path.read_text(encoding="utf-8").splitlines()), 1):
        yield from ((n, re.sub(r"{[^}]*}", "#", text)) for text in row if " " in text)


def sources() -> list[tuple[Path, Iterator[tuple[int, str]]]]:
    """Every file whose texts somebody reads."""
    table = (PACKAGE / "base" / "words.py", PACKAGE / "base" / "words.csv")
    notebooks = [p for name in ("templates", "notebooks") for p in (ROOT / name).glob("*.ipynb")]
    pages = [ROOT / "README.md", *PACKAGE.rglob("*.js"), *PACKAGE.rglob("*.html")]
    return [
        *((p, sentences(p)) for p in sorted(PACKAGE.rglob("*.py")) if p not in table),
        *((p, cells(p)) for p in sorted(notebooks)),
        *((p, prose_of(p)) for p in sorted(pages)),
        *((p, table_cells(p)) for p in sorted(PACKAGE.rglob("*.csv")) if p not in table),
    ]


def test_no_sentence_shown_has_a_word_that_has_a_better_one() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{line}: {', '.join(words)}: {text.strip()[:90]}"
        for path, texts in sources()
        for line, text in texts
        if (words := not_said(text))
    ]
    assert not found, f"{len(found)} texts:\n" + "\n".join(found)


@pytest.mark.parametrize("lift", ["L1", "L4", "L6", "L8"])
@pytest.mark.parametrize("template", [*resources.CHAIN, "where_to_stand"])
def test_no_page_or_drawing_shown_has_a_word_that_has_a_better_one(template: str, lift: str) -> None:
    seen = shown(template, lift, "metric")
    texts = [t for block in seen.blocks for t in texts_of(block)]
    texts += [t for figure in seen.drawn for t in figure]
    assert [f"{words}: {t}" for t in texts if (words := not_said(t))] == []
    cited = [t for block in seen.blocks for t in texts_of(block, cited=True)]
    assert [t for t in cited if "⟦" in t] == []  # no quantity is left as its mark, in sources too


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("Reaction of leg FL", ["leg"]),
        ("Leg layout: sling leg 1, at least 1 m, tail-swing clearance", []),
        ("least clearance, swing of the load", ["least", "swing"]),
        ("ask the maker of the crane", ["maker"]),
    ],
)
def test_words_that_have_a_better_one_are_seen(text: str, wrong: list[str]) -> None:
    assert not_said(text) == wrong


VOCABULARY = Path(__file__).with_name("words_on_the_page.txt")
WORD = re.compile(r"[A-Za-zÀ-ž][A-Za-zÀ-ž'’]*(?:-[A-Za-zÀ-ž'’]+)*")


def words_in(text: str) -> set[str]:
    """Words of a text in small letters, without the names that the facts give."""
    for name in given_names():
        text = text.replace(name, " ")
    return {word.lower() for word in WORD.findall(text) if len(word) > 2}


def words_on_pages() -> set[str]:
    """Every word of the demo's pages and drawings, and of the commands' help."""
    words: set[str] = set()
    for template in [*resources.CHAIN, "where_to_stand"]:
        for lift in ("L1", "L4", "L5", "L6", "L7", "L8"):
            seen = shown(template, lift, "metric")
            texts = [t for block in seen.blocks for t in texts_of(block)]
            texts += [t for figure in seen.drawn for t in figure]
            words |= set().union(*map(words_in, texts))
    for command in cli.commands.values():
        with click.Context(command, info_name=command.name) as context:
            words |= words_in(command.get_help(context))
    return words


def test_every_word_on_the_page_is_in_the_vocabulary() -> None:
    """A new word is asked about once: would a lift engineer say so? Then it is written down."""
    known = set(VOCABULARY.read_text(encoding="utf-8").split())
    assert sorted(words_on_pages() - known) == [], f"write them into {VOCABULARY.name} or not at all"


if __name__ == "__main__":
    VOCABULARY.write_text("\n".join(sorted(words_on_pages())) + "\n", encoding="utf-8")
