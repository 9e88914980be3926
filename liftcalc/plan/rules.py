"""Rule sets put to one lift: every question with its answer, what a yes demands, and the shares.

A question that the calculation answers is answered by it; one that only the plan can answer is
*not answered* until the plan does so, and then counts as yes. Sources: each rule set's own.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from liftcalc.base.checks import Check, limit_check, stated_check
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.rule_set import RuleSet, Trigger
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.lift_class import load_over_lines

READ_WORDS = {
    "seen": "seen in an excerpt", "memory": "from memory", "project": "the project's own citation",
}  # fmt: skip
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
        items = [c.utilisation for c in self.lift.lift
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
            "share of rated capacity":
                lambda: self.shares["rated capacity"] > (ask.share_percent or 0.0),
            "share beyond a radius": lambda: self._beyond(ask),
            "share of rigging": lambda: self.shares["rigging"] > (ask.share_percent or 0.0),
            "persons": lambda: lift.persons, "out of view": lambda: lift.out_of_sight,
            "unusual rigging": lambda: lift.unusual_rigging,
            "over or between lines": lambda: bool(load_over_lines(setup, self.lift.path)),
            "unequal outriggers": lambda: extension != most,
            "not rated all round": lambda: bool((self.lift.circle.source >= ESTIMATE).any()),
            "other reason": lambda: bool(lift.critical_reason.strip()),
            "more than one crane": lambda: False,
        }  # fmt: skip
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
    words = {
        "share of rated capacity": "More than {share:g} % of the rated capacity",
        "share beyond a radius": "More than {share:g} % of the rated capacity at more than "
        "{radius:g} % of the maximum rated radius",
        "share of rigging": "More than {share:g} % of a rigging item's rating",
        "persons": "Persons lifted", "out of view": "Load out of the operator's view",
        "unusual rigging": "Rigging that is not routine",
        "over or between lines": "Load over, under or between overhead conductors",
        "unequal outriggers": "An outrigger not fully extended",
        "not rated all round": "Not rated over the full circle",
        "other reason": "Another reason, stated in the lift list",
        "operator's belief": "The operator believes that it is critical",
        "centre of gravity may change": "Centre of gravity may change",
        "sling length changes": "Sling length changes during the lift",
        "submerged": "Load submerged", "hazardous contents": "Hazardous contents",
        "unknown weight": "Mass of the load not known",
        "pick and carry": "Crane travels with the load", "beside a railway": "Beside a railway",
        "more than one crane": "More than one crane on the load",
    }  # fmt: skip
    return words[ask.asks].format(share=ask.share_percent, radius=ask.radius_percent)


def rule_rows(answers: RuleAnswers) -> list[tuple[str, ...]]:
    """Every question of every rule set: answer, what a yes demands, owner and clause."""
    words = {True: "Yes", False: "No", None: "not answered: counts as yes"}
    return [
        (_question(ask), words[said], "; ".join(ask.demands) or "–",
         source_words(rules, ask.clause, ask.read))
        for rules, ask, said in answers.asked
    ]  # fmt: skip


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
        stated_check(
            "plan-rule-sets", "Rule sets chosen", missing=int(not chosen), of=len(chosen),
            reference="owner's choice", where="none is chosen",
            remedy="Name the rule sets that the job is under as rule_sets of the job.",
        ),
        stated_check(
            "plan-answers", "Questions on critical lifts that are not answered",
            missing=len(set(open_)), of=len(answers.asked), where="; ".join(dict.fromkeys(open_)),
            reference="the job's rule sets", remedy="Answer them in the plan, under answers.",
        ),
    ]  # fmt: skip
    plan = answers.lift.job.plan
    for rules in chosen:
        for n, share in enumerate(rules.shares, start=1):
            said = True if share.where == "always" else (
                None if plan is None else plan.answers.get(share.where)
            )  # fmt: skip
            if said is False:
                continue
            rows.append(limit_check(
                f"plan-share-{rules.id}-{n}", f"Share of {share.of} allowed by {rules.owner}",
                value=answers.shares[share.of], limit=share.most_percent, quantity="percent",
                reference=source_words(rules, share.clause, share.read),
                where="" if share.where == "always" else share.where,
                remedy="Use a larger crane, a smaller radius, or stronger rigging.",
            ))  # fmt: skip
    return rows
