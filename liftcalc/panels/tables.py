"""The tables of the workbench as HTML: checks, numbers at the boom's position, comparison.

Status is given in words and by a sign, never by colour alone.
"""

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from html import escape

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.text import format_value, quantities_in_units, text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.base.words import slew_words
from liftcalc.panels.session import Evaluation
from liftcalc.panels.settings import Settings
from liftcalc.records.blocks import limit_words, used_words, verdict_block
from liftcalc.views.machine import LEG_ORDER

SIGNS = {"within": "✓", "condition": "!", "over": "✗", "no_data": "?"}
_QUANTITIES = {"heading": "slew_deg", "slew": "slew_deg", "load": "mass_t", "wind": "speed_m_s"}


def _order(checks: tuple[Check, ...]) -> list[Check]:
    """What fails first, then by utilisation."""
    rank = {"over": 0, "no_data": 1, "condition": 2, "within": 3}
    return sorted(checks, key=lambda c: (rank[c.status], -(c.utilisation or 0.0)))


def _words(evaluation: Evaluation, system: UnitSystem) -> Callable[[str], str]:
    """How a sentence is shown: its quantities in display units, names of the facts as given."""
    job = evaluation.job
    names = [] if job is None else [m.name for m in job.mats] + [m.name for m in job.machines]
    return partial(text_in_units, system=system, keep=names)


def _table(caption: str, heads: Sequence[str], rows: Iterable[str], *, look: str = "") -> str:
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    return (
        f'<table class="lw-table{look}"><caption>{escape(caption)}</caption>'
        + (f"<thead><tr>{head}</tr></thead>" if heads else "")
        + f"<tbody>{''.join(rows)}</tbody></table>"
    )


def check_table_html(evaluation: Evaluation, system: UnitSystem) -> str:
    """Every check with value, limit, utilisation and state; what fails comes first."""
    if evaluation.assessment is None:
        return '<p class="lw-none">No checks: this set-up cannot be judged.</p>'
    say = _words(evaluation, system)
    rows = []
    for c in _order(evaluation.checks):
        title, where, remedy = (escape(say(text)) for text in (c.title, c.where, c.remedy))
        remedy = f'<div class="lw-remedy">{say("Remedy")}: {remedy}</div>' if remedy else ""
        where = f'<span class="lw-where"> {where}</span>' if where else ""
        rows.append(
            f'<tr class="lw-{c.status}" data-check="{escape(c.id, quote=True)}">'
            f'<th scope="row">{title}{where}{remedy}</th>'
            f"<td>{escape(format_value(c.value, c.quantity, system))}</td>"
            f"<td>{escape(limit_words(c, system))}</td><td>{used_words(c)}</td>"
            f'<td class="lw-state">{SIGNS[c.status]} {escape(say(c.words))}</td>'
            f'<td class="lw-ref">{escape(quantities_in_units(c.reference, system))}</td></tr>'
        )
    heads = ("Check", "Value", "Limit", "Utilisation", "State", "Source")
    return _table(say("Checks by utilisation"), [say(head) for head in heads], rows)


def position_table_html(evaluation: Evaluation, system: UnitSystem) -> str:
    """Capacity, stability, hook travel and outrigger reactions at the boom position viewed."""
    at = evaluation.position
    if at is None:
        return f'<p class="lw-none">{escape(evaluation.position_problem or "No position.")}</p>'
    study, setup = at.study, at.setup

    def value(number: float, quantity: str) -> str:
        return format_value(None if np.isnan(number) else float(number), quantity, system)

    used = float(study.utilisation[0])
    data = bool(study.capacity.has_capacity_data[0])
    words = "capacity" if data else "estimate, no capacity data"
    rows = [
        ("Slew", f"{value(at.slew_deg, 'slew_deg')}, {slew_words(at.slew_deg)}"),
        ("Radius", value(at.radius_m, "length_m")),
        ("Gross load", value(setup.gross_t, "mass_t")),
        (f"Capacity ({at.source})", value(study.capacity.capacity_t[0], "mass_t")),
        (f"Utilisation of {words}", "–" if np.isnan(used) else value(100.0 * used, "percent")),
        ("Stability-limited load", value(study.stability_t[0], "mass_t")),
        ("Resultant inside the tipping line", value(study.margin_m[0], "length_m")),
        ("Boom angle", value(study.boom.angle_deg[0], "angle_deg")),
        ("Hook travel left to the upper hoist limit", value(study.head_room_m[0], "length_m")),
    ]
    for leg, force in zip(LEG_ORDER, at.forces.path_reaction_kN[0], strict=True):
        rows.append((f"Outrigger {leg}", "lifts off" if force <= 0.0 else value(force, "force_kN")))
    say = _words(evaluation, system)
    body = (
        f'<tr data-row="{escape(name, quote=True)}"><th scope="row">{escape(say(name))}</th>'
        f"<td>{escape(text)}</td></tr>"
        for name, text in rows
    )
    caption = "Boom position viewed (not the governing one); outriggers incl. hoist factor"
    return _table(caption, (), body, look=" lw-narrow")


_Pair = tuple[str, str, str, bool]
"""Label, what is held, what is now, and whether they differ."""


def _setting_rows(kept: Settings, now: Settings, system: UnitSystem) -> list[_Pair]:
    """Each setting, as held and now; one that differs by less than is shown differs still."""

    def text(value: object, quantity: str) -> str:
        if isinstance(value, tuple):
            return " / ".join(format_value(part, quantity, system) for part in value)
        return format_value(value, quantity, system) if isinstance(value, float) else str(value)

    rows = []
    for name in vars(kept):
        quantity = _QUANTITIES.get(name, "length_m")
        label = text_in_units(name.replace("leg_", "outrigger ").replace("_", "-"), system)
        old, new = getattr(kept, name), getattr(now, name)
        label = label[0].upper() + label[1:]
        rows.append((label, text(old, quantity), text(new, quantity), old != new))
    return rows


def compare_table_html(kept: Evaluation, now: Evaluation, system: UnitSystem) -> str:
    """Settings and checks of two set-ups side by side, the rows that differ marked."""
    rows = _setting_rows(kept.settings, now.settings, system)
    say = _words(now, system)
    first, second = ({c.id: c for c in one.checks} for one in (kept, now))
    for name in dict.fromkeys([*first, *second]):
        pair = [first.get(name), second.get(name)]
        old, new = ("–" if c is None else f"{used_words(c)} {SIGNS[c.status]} {say(c.words)}" for c in pair)
        title = say(next(c.title for c in pair if c is not None))
        rows.append((title, old, new, old != new))
    body = (
        f'<tr class="{"lw-differs" if differs else ""}"><th scope="row">{escape(label)}</th>'
        f"<td>{escape(old)}</td><td>{escape(new)}</td>"
        f"<td>{'differs' if differs else 'same'}</td></tr>"
        for label, old, new, differs in rows
    )
    heads = ("Setting or check", "Held", "Now", "Difference")
    return _table("Two set-ups side by side", heads, body)


def verdict_words(evaluation: Evaluation, system: UnitSystem = "metric") -> tuple[str, str]:
    """Status and words of the verdict, those of a sheet; without an assessment there is none."""
    if evaluation.assessment is None:
        return "none", f"Cannot be judged. {evaluation.problem}"
    block = verdict_block(evaluation.checks)
    words = f"{SIGNS[block['status']]} {block['words']} Governing check: {block['governing']}"
    return block["status"], _words(evaluation, system)(words)
