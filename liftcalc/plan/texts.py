"""The plan's texts: what the rule sets ask for, what is missing, and the texts as tables.

Sources: the clauses of the job's rule sets, each named beside the text that it asks for.
"""

from liftcalc.base.checks import Check
from liftcalc.facts.plan import TITLES, Plan
from liftcalc.lift.check_rows import check_row
from liftcalc.plan.rules import RuleAnswers, source_words

MISSING = "missing"


def wanted(answers: RuleAnswers) -> dict[str, list[str]]:
    """Each text that a rule set asks for in this lift, and who asks for it."""
    lift = answers.lift
    asked: dict[str, list[str]] = {}
    for rules in lift.job.rule_sets:
        holds = {"always": True, "critical": answers.is_critical(rules), "persons": lift.setup.lift.persons}
        for item in rules.requires:
            if holds[item.when]:
                asked.setdefault(item.text, []).append(source_words(rules, item.clause, item.read))
    return asked


def _lines(plan: Plan, name: str) -> list[str]:
    """One text as lines; none where it is missing."""
    value = getattr(plan, name)
    if name == "team":
        return [f"{p.role}: {p.name} ({p.qualification})" for p in value]
    if name == "hazards":
        return [f"{h.hazard}: {h.measure} ({h.by})" for h in value]
    if name in ("crane_papers", "permits", "attachments"):
        until = (f", valid until {p.until}" if p.until else "" for p in value)
        return [f"{p.what}: {p.document}, {p.date}{u}" for p, u in zip(value, until, strict=True)]
    if name == "answers":
        return [f"{ask}: {'yes' if said else 'no'}" for ask, said in value.items()]
    return [value] if value else []


def text_checks(answers: RuleAnswers) -> list[Check]:
    """A row for each text that is asked for and missing, by name; one for all that are there; one
    for papers out of date on the day of the lift, or that cannot be judged without a day."""
    plan, asked = answers.lift.job.plan or Plan(), wanted(answers)
    missing = [name for name in asked if not _lines(plan, name)]
    papers, day = (*plan.crane_papers, *plan.permits), plan.date
    old = [
        p.what
        for p in papers
        if (p.until is not None and (day is None or p.until < day)) or (day is not None and day < p.date)
    ]
    return [
        *(check_row("plan-text", 1, 1, part=name, title=TITLES[name], source="; ".join(asked[name]))
          for name in missing),
        check_row("plan-texts", len(missing), len(asked),
                 missing=", ".join(TITLES[n] for n in missing)),
        check_row("plan-papers", len(old), len(papers), old="; ".join(old)),
    ]  # fmt: skip


def text_rows(answers: RuleAnswers, *names: str) -> list[tuple[str, str, str]]:
    """Texts of the plan: what it is, the text or *missing*, and who asks for it."""
    plan, asked = answers.lift.job.plan or Plan(), wanted(answers)
    rows = []
    for name in names:
        lines = _lines(plan, name) or [MISSING if name in asked else "not stated"]
        rows += [
            (TITLES[name] if n == 0 else "", line, "; ".join(asked.get(name, ())) if n == 0 else "")
            for n, line in enumerate(lines)
        ]
    return rows
