"""Rule sets put to one lift: every question with its answer, what a yes demands, and the shares.

A question that the calculation answers is answered by it; one that only the plan can answer is
*not answered* until the plan does so, and then counts as yes. Sources: each rule set's own.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.files import rows_beside
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.rule_set import RuleSet, Trigger
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.lift_class import load_over_lines

READ_WORDS = {"seen": "seen in an excerpt", "memory": "from memory", "project": "the project's own citation"}
_QUESTIONS = {row["asks"]: row["question"] for row in rows_beside(__file__)}
RULE_COLUMNS = ("Question", "Answer", "Required by a yes", "Rule")


def source_words(rules: RuleSet, clause: str, read: str) -> str:
    """Owner, edition and clause of a rule, and how it was read."""
    return f"{rules.owner}, {rules.edition}, {clause} ({READ_WORDS[read]})"


@dataclass(frozen=True, eq=False)
class RuleAnswers:
    """The job's rule sets, answered for one lift."""

    lift: LiftAssessment

    @cached_property
    def shares(self) -> dict[str, float]:
        """Greatest share of the rated capacity along the path, and of any rigging item. [%]"""
        study = self.lift.study
        data = study.capacity.source < ESTIMATE
        rated = np.where(data, study.capacity.capacity_t, np.nan)
        used = np.where(np.isfinite(rated), self.lift.setup.gross_t / rated, np.inf)
        items = [float("inf") if c.utilisation is None and c.status != "within" else c.utilisation
                 for c in self.lift.lift
                 if c.id.startswith(("rigging", "rating", "sling", "eye", "shackle"))]  # fmt: skip
        rigging = max((u for u in items if u is not None), default=float("inf"))
        return {"rated capacity": 100 * float(used.max()), "rigging": 100 * rigging}

    def _beyond(self, ask: Trigger) -> bool:
        """Is the share passed anywhere beyond that part of the greatest radius that is rated?"""
        study, setup = self.lift.study, self.lift.setup
        rated = []
        for table in setup.tables:  # the row of this boom, or of the next shorter one
            row = np.searchsorted(table.boom_length_m, setup.boom.length_m + 1e-9) - 1
            known = np.isfinite(table.capacity_t[max(int(row), 0)])
            rated.append(float(table.radius_m[known].max(initial=0.0)))
        far = study.capacity.radius_m > (ask.radius_percent or 0.0) / 100 * max(rated, default=0.0)
        data = study.capacity.source < ESTIMATE
        passed = setup.gross_t > (ask.share_percent or 0.0) / 100 * study.capacity.capacity_t
        return bool((far & (passed | ~data)).any())

    def answer(self, ask: Trigger) -> bool | None:
        """Yes, no, or None where the plan does not say."""
        lift, setup = self.lift.setup.lift, self.lift.setup
        extension = lift.legs.as_tuple()
        most = tuple(leg.extension_max_m for leg in setup.machine.legs)
        own: dict[str, Callable[[], bool]] = {
            "share of rated capacity": lambda: self.shares["rated capacity"] > (ask.share_percent or 0.0),
            "share beyond a radius": lambda: self._beyond(ask),
            "share of rigging": lambda: self.shares["rigging"] > (ask.share_percent or 0.0),
            "persons": lambda: lift.persons,
            "out of view": lambda: lift.out_of_sight,
            "unusual rigging": lambda: lift.unusual_rigging,
            "over or between lines": lambda: bool(load_over_lines(setup, self.lift.path)),
            "unequal outriggers": lambda: extension != most,
            "not rated all round": lambda: bool((self.lift.circle.source >= ESTIMATE).any()),
            "other reason": lambda: bool(lift.critical_reason.strip()),
            "more than one crane": lambda: False,
        }
        if ask.asks in own:
            return own[ask.asks]()
        plan = self.lift.job.plan
        stated: Mapping[Any, bool] = {} if plan is None else plan.answers
        return stated.get(ask.asks)

    @cached_property
    def asked(self) -> tuple[tuple[RuleSet, Trigger, bool | None], ...]:
        """Every question of every rule set, with its answer."""
        return tuple((r, t, self.answer(t)) for r in self.lift.job.rule_sets for t in r.triggers)

    def is_critical(self, rules: RuleSet) -> bool:
        """By this rule set; what is not answered counts as yes."""
        return any(said is not False for own, _, said in self.asked if own.id == rules.id)


def _question(ask: Trigger) -> str:
    return _QUESTIONS[ask.asks].format(share=ask.share_percent, radius=ask.radius_percent)


def rule_rows(answers: RuleAnswers) -> list[tuple[str, ...]]:
    """Every question of every rule set: answer, what a yes demands, owner and clause."""
    words = {True: "Yes", False: "No", None: "not answered: counts as yes"}
    return [
        (_question(ask), words[said], "; ".join(ask.demands) or "–", source_words(rules, ask.clause, ask.read))
        for rules, ask, said in answers.asked
    ]


def class_rows(answers: RuleAnswers) -> list[tuple[str, str]]:
    """What each rule set calls the lift."""
    return [
        (f"{r.owner}, {r.edition}",
         ("critical lift" if answers.is_critical(r) else "not critical") if r.triggers
         else "does not define critical lifts")
        for r in answers.lift.job.rule_sets
    ]  # fmt: skip


def rule_checks(answers: RuleAnswers) -> list[Check]:
    """Questions that are not answered, and the shares that the rule sets allow."""
    open_ = [_question(ask) for _, ask, said in answers.asked if said is None]
    chosen = answers.lift.job.rule_sets
    rows = [
        check_row("plan-rule-sets", not chosen, len(chosen)),
        check_row("plan-answers", len(set(open_)), len(answers.asked), open="; ".join(dict.fromkeys(open_))),
    ]
    plan = answers.lift.job.plan
    said: Mapping[Any, bool] = {} if plan is None else plan.answers
    for rules in chosen:
        for n, share in enumerate(rules.shares, start=1):
            where = "" if share.where == "always" else share.where
            if share.where == "always" or said.get(share.where) is not False:
                rows.append(check_row(
                    "plan-share", answers.shares[share.of], share.most_percent, where=where,
                    part=f"{rules.id}-{n}", of=share.of, owner=rules.owner,
                    source=source_words(rules, share.clause, share.read),
                ))  # fmt: skip
    return rows
