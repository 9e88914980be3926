"""The words of the page: one table, in British and in American English, and what not to write.

Sentences are written once, in British English. What is shown in US units is shown in the words of
the US trade, by this table alone.

Sources: ordinary usage of the trade in both countries, from memory; US terms as in 29 CFR 1926
Subpart CC (swing, signal person, blocking, de-energized and grounded), from memory.
"""

import functools
import re
from dataclasses import dataclass

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


_SPELLINGS = """
    centre/center centres/centers centred/centered centreline/centerline centrelines/centerlines
    metre/meter metres/meters colour/color colours/colors grey/gray neighbour/neighbor
    neighbours/neighbors neighbouring/neighboring levelled/leveled levelling/leveling
    travelling/traveling labelled/labeled modelled/modeled recognised/recognized
    authorised/authorized organisation/organization licence/license programme/program kerb/curb
    towards/toward behaviour/behavior judgement/judgment
"""

TERMS: tuple[Term, ...] = (
    Term("outrigger", instead_of=(r"(?<!sling )(?<![\w-])legs?(?! layout)",)),
    Term("sling leg"),
    Term("slew centre", "center of rotation"),
    Term("slew", "swing"),
    Term("slews", "swings"),
    Term("slewed", "swung"),
    Term("slewing", "swinging"),
    Term("pendulum", instead_of=(r"(?<!tail[ -])swing(?:s|ing)?", "swung")),
    Term("anticlockwise", "counterclockwise"),
    Term("crane position", instead_of=("stands? (?:of|point)", "(?:the|this|each|best) stand")),
    Term("load path", instead_of=(r"way of the (?:load|hook)", "way along", "load's way")),
    Term("manufacturer", instead_of=(r"makers?",)),
    Term("minimum", instead_of=(r"(?<!at )least",)),
    Term("maximum", instead_of=("greatest",)),
    Term("clearance", instead_of=("(?:head|hook|leg) room", "room (?:for|below|between)", "gaps?")),
    Term("utilisation", "utilization", ("used up", "% used", "share used")),
    Term("tilt", instead_of=(r"lean(?:s|ing)?",)),
    Term("settlement", instead_of=("sinking", "sinks?")),
    Term("packing", "cribbing"),
    Term("signaller", "signal person"),
    Term("signallers", "signal persons"),
    Term("isolated and earthed", "de-energized and grounded"),
    Term("earthed", "grounded"),
    Term("uniform pressure", instead_of=("even pressure", "part that bears")),
    Term("backward stability", instead_of=("boom-side",)),
    Term("no-lift-over zone", instead_of=("no load above",)),
    Term("exclusion zone", instead_of=("keep people out",)),
    Term("remedy", instead_of=("what would (?:help|fix)",)),
    Term("values", instead_of=("with numbers",)),
    Term("source", instead_of=("told", "where it comes from")),
    Term("step 1 of", instead_of=("step 0 of",)),
    Term(
        "defined, repaired, again", instead_of=("mend(?:ed|s)?", "anew", "struck out", "parted by")
    ),
    Term("appointed person", "lift director"),
    Term("tonne", "metric ton"),
    Term("tonnes", "metric tons"),
    Term("re-levelled", "re-leveled"),
    *(Term(uk, us) for uk, _, us in (pair.partition("/") for pair in _SPELLINGS.split())),
)
"""One thing, one word; the forms of a word that ends otherwise have a line of their own."""

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
