"""Formulas as they are set on a page: which characters stand below and which above the line.

Contents: :func:`formula_parts`.

A formula is kept as plain text: an index follows a short symbol and an underscore (``R_FL``,
``phi_2`` as φ_2), an exponent a circumflex (``h^2``, ``h^(1 / 3)``). Words and names with
underscores in them stay as they are.

Source: none; ordinary typesetting.
"""

import re

_RAISED = r"\^(?:\((?P<power>[^()]*)\)|(?P<plain>−?(?:\d+(?:\.\d+)?|[A-Za-zα-ωΑ-Ω]+)))"
_LOWERED = r"(?<![^\W_])(?P<symbol>[A-Za-zα-ωΑ-Ω]{1,3})_(?P<index>[^\W_]+(?:_[^\W_]+)*)(?!\w)"
_EITHER = re.compile(f"{_RAISED}|{_LOWERED}")


def formula_parts(text: str) -> list[tuple[str, str]]:
    """The text in pieces, each with its kind: "text", "sub" or "sup".

    Parameters:
      text: str. Nothing in it is read as markup.
    """
    parts: list[tuple[str, str]] = []
    end = 0
    for match in _EITHER.finditer(text):
        parts.append(("text", text[end : match.start()] + (match["symbol"] or "")))
        index = match["index"]
        raised = match["plain"] if match["power"] is None else match["power"]
        parts.append(("sub", index.replace("_", ",")) if index else ("sup", raised))
        end = match.end()
    parts.append(("text", text[end:]))
    return [part for part in parts if part[1]]
