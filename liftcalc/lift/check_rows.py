"""The check rows of a lift: what each is called, its reference and its remedy, from one table.

The table is ``check_rows.csv`` beside this module. A row is named by the first word of its name; a
name of more words is the same row in another case, "no data" where there is no limit to hold it to.
``{name}`` in a text is a word that the caller gives, ``{name:length_m}`` a value in that quantity.
"""

import dataclasses
from typing import Any, cast

from liftcalc.base.checks import Check, Sense, limit_check, no_data_check, stated_check
from liftcalc.base.files import rows_beside
from liftcalc.base.text import filled

CHECK_ROWS: dict[str, dict[str, str]] = {row.pop("name"): row for row in rows_beside(__file__)}
"""Texts of every row by its name."""


def check_row(name: str, value: float | None, limit: float | None, *, part: str = "",
              condition: str = "", met: str = "", **words: Any) -> Check:  # fmt: skip
    """A row of the table; without a limit the one that says what is not known.

    *part* is what the row is of where there are several, and follows its name in the id; *met* says how the *condition*
    on which it is within its limit is met. Where the sense is "stated", *value* facts of *limit* are missing.
    """
    row = CHECK_ROWS[name if limit is not None else f"{name.split()[0]} no data"]
    id = "-".join([name.split()[0], *([part] if part else [])])
    texts = [row[text] for text in ("title", "reference", "where", "remedy")]
    title, reference, where, remedy = filled(texts, {"part": part, **words})
    if limit is None:
        return no_data_check(id, title, quantity=row["quantity"], value=value, where=where,
                             reference=reference, remedy=remedy)  # fmt: skip
    assert value is not None
    if row["sense"] == "stated":
        return stated_check(id, title, missing=int(value), of=int(limit), where=where,
                            reference=reference, remedy=remedy)  # fmt: skip
    check = limit_check(
        id, title, value=value, limit=limit, quantity=row["quantity"],
        sense=cast(Sense, row["sense"]), reference=reference, where=where, remedy=remedy, condition=condition,
    )  # fmt: skip
    return dataclasses.replace(check, remedy=met) if met and check.condition else check
