"""The words of the page: one table, in British and in American English, and what not to write.

The table is ``words.csv`` beside this module: one thing, one word; its American word where that
differs, and patterns of what not to write, separated by semicolons. Sentences are written once, in
British English; what is shown in US units is shown in the words of the US trade, by it alone.

Sources: ordinary usage of the trade in both countries, from memory; US terms as in 29 CFR 1926
Subpart CC (swing, signal person, blocking, de-energized and grounded), from memory.
"""

import functools
import re
from dataclasses import dataclass

from liftcalc.base.files import rows_beside

STATE_WORDS: dict[str, str] = {
    "within": "within limits",
    "condition": "within limits on condition",
    "over": "over a limit",
    "no_data": "no capacity data",
    "found": "positions found",
    "not_found": "no position found",
    "incomplete": "plan incomplete",
}
"""The states of a check and of a sheet, the same wherever they are shown."""

NO_DATA = "no data"
"""State of a check other than of capacity for which a fact is missing."""


@dataclass(frozen=True)
class Term:
    """One thing: its British and American word, and patterns of what not to call it.

    Where the two words differ, each form of the British word is replaced by the American one.
    """

    uk: str
    us: str = ""
    instead_of: tuple[str, ...] = ()


TERMS: tuple[Term, ...] = tuple(
    Term(row["uk"], row["us"], tuple(filter(None, row["instead_of"].split(" ; ")))) for row in rows_beside(__file__)
)
"""The forms of a word that ends otherwise have a line of their own."""

US_WORDS: dict[str, str] = {term.uk: term.us for term in TERMS if term.us}


@functools.cache
def _british() -> re.Pattern[str]:
    words = sorted(US_WORDS, key=len, reverse=True)
    return re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, words))})(?![\w])", re.IGNORECASE)


def has_british_word(text: str) -> bool:
    """Whether the American page says something of this text otherwise."""
    return _british().search(text) is not None


def us_words(text: str) -> str:
    """The text in the words of the US trade; capitals stay capitals."""

    def say(match: re.Match[str]) -> str:
        said = match.group()
        word = US_WORDS[said.lower()]
        if said.isupper() and len(said) > 1:
            return word.upper()
        return word[0].upper() + word[1:] if said[0].isupper() else word

    return _british().sub(say, text)


_SECTORS = (
    "over the front", "front left", "over the left side", "rear left", "over the rear",
    "rear right", "over the right side", "front right",
)  # fmt: skip


def slew_words(slew_deg: float) -> str:
    """Where the boom points, in eighths of a turn, as one says it to a crew.

    Parameters:
      slew_deg: float, finite. [deg] 0 over the front, anticlockwise seen from above.
    """
    return _SECTORS[round((slew_deg % 360.0) / 45.0) % 8]
