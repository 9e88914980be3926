"""Docstrings and comments use the trade's words and plain English, one word for one thing."""

import ast
import io
import re
import tokenize
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "liftcalc"

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
