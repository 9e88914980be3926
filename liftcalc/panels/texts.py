"""The words of the workbench's page, by key from ``texts.csv``; the page has none of its own.

Shown through :func:`liftcalc.base.text.text_in_units`, so that they follow the units like any text.
"""

from liftcalc.base.files import rows_beside
from liftcalc.base.text import CAUTION_LINE, text_in_units
from liftcalc.base.units import UnitSystem

TEXTS: dict[str, str] = {row["key"]: row["text"] for row in rows_beside(__file__)}
TEXTS["caution"] = CAUTION_LINE
INVENTED = "INVENTED job, for demonstration: not for any real lift."


def page_texts(system: UnitSystem, own: dict[str, str], *, invented: bool) -> dict[str, str]:
    """All texts, *own* first, in the units' words; an invented job says so beside the caution."""
    texts = own | TEXTS | ({"caution": f"{INVENTED} {CAUTION_LINE}"} if invented else {})
    return {key: text_in_units(text, system) for key, text in texts.items()}
