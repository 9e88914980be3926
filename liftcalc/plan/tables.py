"""Tables of the lift plan that only put together what is stated or calculated elsewhere.

Source of what is asked of a plan: ``requirements.csv``, one row a requirement, with the public
text that asks for it, how that was read, and where this plan answers or why it does not.
"""

import csv
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from liftcalc.base.text import Show
from liftcalc.facts.plan import Plan
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation_gross import BASIS_WORDS
from liftcalc.lift.setup import rope_off_drum_m
from liftcalc.plan.rules import READ_WORDS, RuleAnswers
from liftcalc.plan.trial_lift import ACCURACY, SHOWS_LEAST, least_t
from liftcalc.plan.zone_rows import zone_values
from liftcalc.plan.zones import exclusion_zones

DATA_COLUMNS = ("Subject", "Value", "Source")
TEAM = ("date", "time_of_day", "team", "communication", "communication_lost", "signaller_position",
        "stop_rules", "procedure", "briefing", "meeting", "field_changes")  # fmt: skip
SAFETY = ("hazards", "contingency", "rescue", "power_lines", "buried", "below_path")
LOAD = ("load_source", "load_weighing", "load_contents", "load_strength", "edge_protection",
        "tag_lines")  # fmt: skip
PLACE = ("other_cranes", "traffic", "railway", "rigging_up", "access", "ground_papers")
PAPERS = ("crane_papers", "manual", "permits", "attachments", "records")
SIGN_ON_LINES = 4
"""Empty lines below the team, for who joins on the day."""


@cache
def requirements() -> tuple[dict[str, str], ...]:
    """The rows of ``requirements.csv``: no, asks, source, read; sheet, table and row that answer,
    or why it is outside."""
    text = Path(__file__).with_name("requirements.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


def requirement_rows() -> list[tuple[str, ...]]:
    """What public texts ask of a plan, and where it is answered."""
    return [
        (r["no"], r["asks"], r["source"],
         " / ".join(READ_WORDS[read] for read in r["read"].split(" / ")),
         f"outside this tool's scope: {r['outside']}" if r["outside"]
         else ": ".join(x for x in (r["sheet"], r["table"], r["row"]) if x))
        for r in requirements()
    ]  # fmt: skip


def data_rows(lift: LiftAssessment, show: Show) -> list[tuple[str, str, str]]:
    """Load, crane, its speeds and its set-up."""
    setup = lift.setup
    fact, load, machine = setup.lift, setup.lift.load, setup.machine
    block, gross = setup.hook_block, setup.gross
    size = " x ".join(show(x, "length_m") for x in (load.length_m, load.width_m, load.height_m))
    centre = ", ".join(show(x, "length_m") for x in (load.cg_x_m, load.cg_y_m, load.cg_z_m))
    radius = lift.path.radius_m
    return [
        ("Load", f"{fact.title}: {show(load.mass_t, 'mass_t')}, {load.contingency_percent:g} % "
         "added", BASIS_WORDS[load.mass_basis]),
        ("Size of the load, length x width x height", size, "lift list"),
        ("Centre of gravity", f"{centre} from the middle of the load (x, y, z); uncertain by "
         + setup.hanging.error_words.removeprefix("centre of gravity "), "lift list"),
        ("Gross load on the hook, everything below the boom head", show(setup.gross_t, "mass_t"),
         "calculated, lift check"),
        ("of which rigging, hook block, rope and deductions", "; ".join(
            show(float(x), "mass_t") for x in (gross.rigging_t, gross.hook_block_t, gross.rope_t,
                                               gross.other_t)), "calculated, lift check"),
        ("Machine", machine.name, machine.provenance.words),
        ("Counterweight and boom",
         f"{fact.counterweight}; {show(setup.boom.length_m, 'length_m')}", "lift list"),
        ("Hook block, falls, rope off the drum", f"{block.id}, {block.falls} falls, "
         f"{show(rope_off_drum_m(setup), 'length_m', 'up')}", "calculated, lift check"),
        ("Hoist speed at the hook, maximum", f"{show(machine.hoist_speed_m_s, 'speed_m_s')}",
         machine.provenance.words),
        ("Slew speed, maximum", f"{machine.slew_speed_rpm:g} turns a minute, stopped in "
         f"{machine.slew_stop_time_s:g} s or more", machine.provenance.words),
        ("Load indicator at the trial lift", " to ".join(
            (show(SHOWS_LEAST * least_t(lift), "mass_t", "up"),
             show(setup.gross_t, "mass_t", "down"))), ACCURACY),
        ("Radius, minimum and maximum", " to ".join(
            show(float(x), "length_m") for x in (radius.min(), radius.max())), "load path"),
        ("Slews", " to ".join(show(float(x), "slew_deg") for x in lift.path.slew_deg[[0, -1]])
         + "; 0° over the front, anticlockwise", "load path"),
    ]  # fmt: skip


def sign_on_rows(answers: RuleAnswers) -> list[tuple[str, str, str, str]]:
    """Who signs on at the meeting: the team, and empty lines for who joins on the day."""
    plan = answers.lift.job.plan or Plan()
    rows = [(p.role, p.name, "", "") for p in plan.team]
    return [*rows, *[("", "", "", "")] * SIGN_ON_LINES]


def plan_values(answers: RuleAnswers) -> dict[str, Any]:
    """Numbers and texts for the record."""
    return {
        "critical_by": [r.id for r in answers.lift.job.rule_sets if answers.is_critical(r)],
        "share_of_rated_percent": float(np.nan_to_num(answers.shares["rated capacity"], posinf=-1)),
        "share_of_rigging_percent": float(np.nan_to_num(answers.shares["rigging"], posinf=-1)),
        "requirements_outside": sum(bool(r["outside"]) for r in requirements()),
        **zone_values(exclusion_zones(answers.lift)),
    }  # fmt: skip
