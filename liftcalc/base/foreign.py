"""Text of somebody else, as a message, list or page may show it."""

import re
import unicodedata

_BLANK = re.compile("[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]")
"""Fillers and variation selectors: letters and marks by their category that show nothing."""


def _as_seen(sign: str) -> str:
    if (sign.isprintable() and not _BLANK.match(sign)) or unicodedata.category(sign) == "Zs":
        return sign
    return f"\\u{ord(sign):04x}" if ord(sign) < 0x10000 else f"\\U{ord(sign):08x}"


def visible(text: object, most: int | None = None) -> str:
    """Foreign text on one line in which nothing acts or hides: ``\\u202e`` for what shows no sign.

    Controls (C0, C1), line ends, marks that turn the direction of writing, zero-width and other
    format characters, fillers, single surrogates, private and unassigned characters. What is
    longer than *most* is cut and ends in three dots.
    """
    plain = str(text)
    part = plain if most is None else plain[: most + 1]
    if not part.isprintable() or not (part.isascii() or not _BLANK.search(part)):
        part = "".join(map(_as_seen, part))
    return part if most is None or len(part) <= most else f"{part[: most - 3]}..."
