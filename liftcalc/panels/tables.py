"""The tables of the workbench as HTML: checks, numbers at the boom's position, comparison.

Contents: :func:`check_table_html`, :func:`position_table_html`, :func:`compare_table_html`,
:func:`verdict_words`. Status is told in words and by a sign, never by colour alone. No formula and
no published source.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from html import escape

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.text import format_value, text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.panels.session import Evaluation

__all__ = [
    "check_table_html",
    "compare_table_html",
    "position_table_html",
    "verdict_words",
]

SIGNS = {"within": "✓", "condition": "!", "over": "✗", "no_data": "?"}
LEGS = ("FL", "FR", "RR", "RL")


def _used(check: Check) -> str:
    return "–" if check.utilisation is None else f"{100.0 * check.utilisation:.1f} %"


def _limit(check: Check, system: UnitSystem) -> str:
    text = format_value(check.limit, check.quantity, system)
    if check.limit is None:
        return text
    if check.status == "no_data":
        return f"estimate {text}"
    return f"{'≤' if check.sense == 'max' else '≥'} {text}"


def _order(checks: tuple[Check, ...]) -> list[Check]:
    """What fails first, then by use."""
    rank = {"over": 0, "no_data": 1, "condition": 2, "within": 3}
    return sorted(checks, key=lambda c: (rank[c.status], -(c.utilisation or 0.0)))


def _words(evaluation: Evaluation, system: UnitSystem) -> Callable[[str], str]:
    """How a sentence is shown: its quantities in display units, names of the facts as given."""
    job = evaluation.job
    names = [] if job is None else [m.name for m in job.mats] + [m.name for m in job.machines]
    return partial(text_in_units, system=system, keep=names)


def check_table_html(evaluation: Evaluation, system: UnitSystem) -> str:
    """Every check with value, limit, use and status; what fails comes first."""
    if evaluation.assessment is None:
        return '<p class="lw-none">No checks: this set-up cannot be judged.</p>'
    say = _words(evaluation, system)
    rows = []
    for c in _order(evaluation.checks):
        title, where, remedy = (say(text) for text in (c.title, c.where, c.remedy))
        remedy = f'<div class="lw-remedy">{escape(remedy)}</div>' if remedy else ""
        where = f'<span class="lw-where"> {escape(where)}</span>' if where else ""
        rows.append(
            f'<tr class="lw-{c.status}" data-check="{escape(c.id, quote=True)}">'
            f'<th scope="row">{escape(title)}{where}{remedy}</th>'
            f"<td>{escape(format_value(c.value, c.quantity, system))}</td>"
            f"<td>{escape(_limit(c, system))}</td><td>{_used(c)}</td>"
            f'<td class="lw-state">{SIGNS[c.status]} {c.words}</td>'
            f'<td class="lw-ref">{escape(c.reference)}</td></tr>'
        )
    return (
        '<table class="lw-table"><caption>Checks, the most used first</caption><thead><tr>'
        '<th scope="col">Check</th><th scope="col">Value</th><th scope="col">Limit</th>'
        '<th scope="col">Used</th><th scope="col">Status</th><th scope="col">Reference</th>'
        f"</tr></thead><tbody>{''.join(rows)}</tbody></table>"
    )


def position_table_html(evaluation: Evaluation, system: UnitSystem) -> str:
    """Capacity, stability, room and leg reactions with the boom where it is looked at."""
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
        ("Gross load", value(setup.gross_t, "mass_t")),
        (f"Capacity ({at.source})", value(study.capacity.capacity_t[0], "mass_t")),
        (f"Share of {words} used", "–" if np.isnan(used) else f"{100.0 * used:.1f} %"),
        ("Stability-limited load", value(study.stability_t[0], "mass_t")),
        ("Resultant inside the tipping line", value(study.margin_m[0], "length_m")),
        ("Boom angle", value(study.boom.angle_deg[0], "angle_deg")),
        ("Room below the hoist stop", value(study.head_room_m[0], "length_m")),
    ]
    forces = at.forces.path_reaction_kN[0]
    for leg, force in zip(LEGS, forces, strict=True):
        text = value(force, "force_kN")
        rows.append((f"Leg {leg}", "lifts off" if force <= 0.0 else text))
    body = "".join(
        f'<tr data-row="{escape(name, quote=True)}"><th scope="row">{escape(name)}</th>'
        f"<td>{escape(text)}</td></tr>"
        for name, text in rows
    )
    return (
        '<table class="lw-table lw-narrow"><caption>Boom looked at, load with its hoist factor on '
        f"the legs</caption><tbody>{body}</tbody></table>"
    )


def compare_table_html(kept: Evaluation, now: Evaluation, system: UnitSystem) -> str:
    """Settings and checks of two set-ups side by side, the rows that differ marked."""
    rows = []
    names = {"leg_FL": "Leg FL", "leg_FR": "Leg FR", "leg_RR": "Leg RR", "leg_RL": "Leg RL"}
    quantities = {"heading": "angle_deg", "slew": "angle_deg", "load": "mass_t"}
    quantities["wind"] = "speed_m_s"
    for name in vars(kept.settings):
        a, b = getattr(kept.settings, name), getattr(now.settings, name)
        quantity = quantities.get(name, "length_m")

        def text(v: object, quantity: str = quantity) -> str:
            if isinstance(v, float):
                return format_value(v, quantity, system)
            if isinstance(v, tuple):
                return " / ".join(format_value(x, "length_m", system) for x in v)
            return str(v)

        label = names.get(name, name.replace("_", "-").capitalize())
        rows.append((label, text(a), text(b), a != b))
    say = _words(now, system)
    first = {c.id: c for c in kept.checks}
    second = {c.id: c for c in now.checks}
    for key in dict.fromkeys([*first, *second]):
        pair = [first.get(key), second.get(key)]
        shown = ["–" if c is None else f"{_used(c)} {SIGNS[c.status]} {c.words}" for c in pair]
        title = say(next(c.title for c in pair if c is not None))
        rows.append((title, shown[0], shown[1], shown[0] != shown[1]))
    body = "".join(
        f'<tr class="{"lw-differs" if differs else ""}"><th scope="row">{escape(label)}</th>'
        f"<td>{escape(a)}</td><td>{escape(b)}</td>"
        f"<td>{'differs' if differs else 'same'}</td></tr>"
        for label, a, b, differs in rows
    )
    return (
        '<table class="lw-table"><caption>Two set-ups side by side</caption><thead><tr>'
        '<th scope="col">Setting or check</th><th scope="col">Kept</th><th scope="col">Now</th>'
        f'<th scope="col">Difference</th></tr></thead><tbody>{body}</tbody></table>'
    )


def verdict_words(evaluation: Evaluation, system: UnitSystem = "metric") -> tuple[str, str]:
    """Status and words of the verdict; a set-up that cannot be judged is no verdict."""
    found = evaluation.verdict
    if found is None:
        return "none", f"Cannot be judged. {evaluation.problem}"
    words = _words(evaluation, system)(found.words)
    return found.status, f"{SIGNS[found.status]} {words}"
