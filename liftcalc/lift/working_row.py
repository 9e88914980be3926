"""One row of the working: a formula with its numbers, result and source, all as text.

Contents: :data:`WorkingRow`, :func:`working_row`.
"""

from __future__ import annotations

__all__ = ["WorkingRow", "working_row"]

WorkingRow = dict[str, str]
"""``what`` is calculated, its ``formula``, the same with ``numbers``, ``result`` and ``source``."""


def working_row(
    what: str, formula: str, numbers: str, result: str, source: str = "statics"
) -> WorkingRow:
    """A row of the working, as a sheet prints it."""
    return {
        "what": what,
        "formula": formula,
        "numbers": numbers,
        "result": result,
        "source": source,
    }
