"""One row of the working: a formula with its numbers, result and source, all as text."""

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


def two_decimals(value: float) -> str:
    """A number that may be 0, without the minus sign of one just below it."""
    return f"{round(value, 2) + 0.0:.2f}"
