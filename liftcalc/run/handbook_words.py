"""Short words of the code's own texts as the words of the page, for the handbook.

A docstring may say leg and least; a page says outrigger and minimum (:mod:`liftcalc.base.words`).
"""

import re

_CODE = re.compile(r"(```.*?```|`[^`]*`)", re.DOTALL)
_WORDS: tuple[tuple[str, str], ...] = (
    (r"\bstand point(s?)\b", r"crane position\1"),
    (r"(?<!at )\bleast\b(?![ -](?:squares|work|potential|complementary|energy))", "minimum"),
    (r"\bgreatest\b", "maximum"),
    (r"\blean(s|ing|)\b", r"tilt\1"),
    (r"\bgap(s?)\b(?= (?:in plan|of 0\.6|behind|between the counterweight))", r"clearance\1"),
)
_LEG = r"(?<!sling )\bleg(s?)\b(?! layout)"


def _said(text: str, old: str, new: str) -> str:
    def one(match: re.Match[str]) -> str:
        word = match.expand(new)
        return word[0].upper() + word[1:] if match[0][0].isupper() else word

    return re.sub(old, one, text, flags=re.IGNORECASE)


def page_words(markdown: str, module: str) -> str:
    """Markdown of a module's chapter in the words of the page; code stays as it is."""
    leg = r"sling leg\1" if ".rigging" in module else r"outrigger\1"
    parts = _CODE.split(markdown)
    for n in range(0, len(parts), 2):
        for old, new in (*_WORDS, (_LEG, leg)):
            parts[n] = _said(parts[n], old, new)
        parts[n] = re.sub(r"\b([Aa]) (?=outrigger)", r"\1n ", parts[n])
    return "".join(parts)
