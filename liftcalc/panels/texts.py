"""The words of the workbench's page, each by a key; the page has none of its own.

Shown through :func:`liftcalc.base.text.text_in_units`, so that they follow the units like any text.
"""

from liftcalc.base.text import CAUTION_LINE, text_in_units
from liftcalc.base.units import UnitSystem

TEXTS: dict[str, str] = {
    "bar": "Lift and set-up",
    "lift": "Lift",
    "units": "Units",
    "metric": "metric (m, t, kN)",
    "us": "US (ft, lb, kip)",
    "undo": "Undo",
    "redo": "Redo",
    "reset": "Reset",
    "keep": "Hold for comparison",
    "drop": "End comparison",
    "use-pick": "Use as pick",
    "use-set-down": "Use as set-down",
    "drawings": "Drawings shown",
    "compare": "Comparison",
    "held": "Held",
    "checks": "Check table",
    "files": "Job file and records",
    "job": "Job file",
    "open": "Open job",
    "archive": "Archive folder",
    "who": "Prepared by",
    "save": "Save as record",
    "record": "Record folder",
    "open-record": "Open record",
    "measured": "File of what was measured at the crane, for the lift plan in the record folder",
    "hold-against": "Hold against the plan",
    "caution": CAUTION_LINE,
    "saving": "Running and archiving the sheets …",
    "entry": "entry in",
    "empty": "Nothing to draw for this set-up.",
    "late": "No answer yet: what is shown is not up to date. If this stays, the kernel is busy or "
    "gone: run the cell again.",
    "gone": "Not connected to the kernel: what is shown is not up to date. Run the cell again.",
}
INVENTED = "INVENTED job, for demonstration: not for any real lift."


def page_texts(system: UnitSystem, own: dict[str, str], *, invented: bool) -> dict[str, str]:
    """All texts, *own* first, in the units' words; an invented job says so beside the caution."""
    texts = own | TEXTS | ({"caution": f"{INVENTED} {CAUTION_LINE}"} if invented else {})
    return {key: text_in_units(text, system) for key, text in texts.items()}
