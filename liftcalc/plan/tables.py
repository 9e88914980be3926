"""Tables of the lift plan that only put together what is stated or calculated elsewhere.

Source of what is asked of a plan: ``requirements.csv``, one row a requirement, with the public
text that asks for it, how that was read, and where this plan answers or why it does not.
"""

from pathlib import Path
from typing import Any

import numpy as np

from liftcalc.base.files import rows_beside
from liftcalc.base.text import Show, filled
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
LOAD = ("load_source", "load_weighing", "load_contents", "load_strength", "edge_protection", "tag_lines")
PLACE = ("other_cranes", "traffic", "railway", "rigging_up", "access", "ground_papers")
PAPERS = ("crane_papers", "manual", "permits", "attachments", "records")
SIGN_ON_LINES = 4
"""Empty lines below the team, for who joins on the day."""
REQUIREMENTS = rows_beside(str(Path(__file__).with_name("requirements")))
"""Columns: no | asks | source | read | sheet, table and row that answer | why it is outside."""


def requirement_rows() -> list[tuple[str, ...]]:
    """What public texts ask of a plan, and where it is answered."""
    return [
        (r["no"], r["asks"], r["source"],
         " / ".join(READ_WORDS[read] for read in r["read"].split(" / ")),
         f"outside this tool's scope: {r['outside']}" if r["outside"]
         else ": ".join(x for x in (r["sheet"], r["table"], r["row"]) if x))
        for r in REQUIREMENTS
    ]  # fmt: skip


def data_rows(lift: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """Load, crane, its speeds and its set-up."""
    setup, radius, slew = lift.setup, lift.path.radius_m, lift.path.slew_deg
    words = {
        "fact": setup.lift, "load": setup.lift.load, "machine": setup.machine, "setup": setup,
        "block": setup.hook_block, "gross": setup.gross, "rope": rope_off_drum_m(setup),
        "basis": BASIS_WORDS[setup.lift.load.mass_basis], "accuracy": ACCURACY,
        "indicator": (SHOWS_LEAST * least_t(lift), setup.gross_t),
        "error": setup.hanging.error_words.removeprefix("centre of gravity "),
        "radius": (radius.min(), radius.max()), "slew": (slew[0], slew[-1]),
    }  # fmt: skip
    return [filled(r.values(), words, show) for r in rows_beside(__file__, ".data.csv")]


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
        "requirements_outside": sum(bool(r["outside"]) for r in REQUIREMENTS),
        **zone_values(exclusion_zones(answers.lift)),
    }
