"""Rule sets put to a lift: truth tables of the texts, texts that are missing, by name."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from liftcalc.base.checks import verdict
from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path, shared_dir
from liftcalc.facts.io import load_fact, load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.facts.plan import Plan
from liftcalc.facts.rule_set import RuleSet
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.plan.rules import RuleAnswers, class_rows, rule_checks, rule_rows
from liftcalc.plan.texts import text_checks, text_rows, wanted

JOB = load_job(demo_job_path()).for_lift("L1")
LIFT = assess_lift(JOB, "L1")
RULES = {r.id: r for r in JOB.rule_sets}


def _answers(job: Job = JOB, **lift: Any) -> RuleAnswers:
    own = assess_lift(job.with_lift(job.lifts[0].model_copy(update=lift)), "L1") if lift else LIFT
    return RuleAnswers(dataclasses.replace(own, job=own.job if lift else job))


def _plan(**changed: Any) -> Job:
    assert JOB.plan is not None
    return JOB.model_copy(update={"plan": JOB.plan.model_copy(update=changed)})


def _only(*ids: str, job: Job = JOB) -> Job:
    return job.model_copy(update={"rule_sets": tuple(RULES[i] for i in ids)})


def _critical(answers: RuleAnswers, id: str) -> bool:
    return answers.is_critical(RULES[id])


@pytest.mark.parametrize("path", sorted((shared_dir() / "rules").glob("*.yaml")), ids=lambda p: p.stem)
def test_every_rule_set_of_the_project_is_a_fact_with_owner_and_clauses(path: Any) -> None:
    rules = load_fact(RuleSet, path)
    assert rules.id == path.stem
    items = (*rules.triggers, *rules.shares, *rules.requires)
    assert items
    assert all(item.clause for item in items)


def test_the_demo_is_critical_where_outriggers_are_unequal_and_not_for_its_share() -> None:
    answers = _answers()
    said = {row[0]: row[1] for row in rule_rows(answers)}
    assert said["An outrigger not fully extended"] == "Yes"
    assert said["More than 75 % of the rated capacity"] == "No"
    classes = dict(class_rows(answers))
    assert [v for k, v in classes.items() if k.startswith("An owner")] == ["critical lift"]
    assert [v for k, v in classes.items() if k.startswith("US Army")] == ["not critical"]


@pytest.mark.parametrize(
    ("change", "rules"),
    [({"persons": True, "legs": None}, "em-385"), ({"out_of_sight": True}, "em-385"),
     ({"unusual_rigging": True}, "em-385"), ({"critical_reason": "the owner says so"}, "em-385")],
)  # fmt: skip
def test_each_fact_of_a_lift_that_makes_it_critical(change: dict[str, Any], rules: str) -> None:
    if "legs" in change:
        legs = JOB.lifts[0].legs
        change = {**change, "legs": legs.model_copy(update=dict.fromkeys(("FR", "RR"), 2.3))}
    assert not _critical(_answers(), rules)
    assert _critical(_answers(**change), rules)


@pytest.mark.parametrize(
    ("ask", "rules"),
    [("operator's belief", "em-385"), ("centre of gravity may change", "em-385"),
     ("submerged", "em-385"), ("hazardous contents", "em-385"),
     ("centre of gravity may change", "bc-ohsr"), ("sling length changes", "bc-ohsr"),
     ("submerged", "bc-ohsr"), ("unknown weight", "tight-site"), ("pick and carry", "tight-site"),
     ("beside a railway", "railway")],
)  # fmt: skip
def test_each_answer_of_the_plan_that_makes_a_lift_critical(ask: str, rules: str) -> None:
    assert JOB.plan is not None
    job = _only(rules, job=_plan(answers={**JOB.plan.answers, ask: True}))
    said = [answer for _, trigger, answer in _answers(job).asked if trigger.asks == ask]
    assert said == [True]
    assert _critical(_answers(job), rules)


@pytest.mark.parametrize(
    ("share", "radius", "critical"),
    [(70.0, None, True), (72.0, None, False), (70.0, 50.0, True), (70.0, 99.0, False),
     (72.0, 50.0, False)],
)  # fmt: skip
def test_shares_count_above_and_beyond_a_radius(share: float, radius: float | None, critical: bool) -> None:
    asks = "share of rated capacity" if radius is None else "share beyond a radius"
    trigger = {"asks": asks, "share_percent": share, "radius_percent": radius, "clause": "x",
               "read": "memory"}  # fmt: skip
    rules = parse_fact(RuleSet, {"id": "own", "owner": "x", "edition": "y", "triggers": [trigger]})
    answers = _answers(JOB.model_copy(update={"rule_sets": (rules,)}))
    assert answers.is_critical(rules) is critical


def test_beside_a_railway_crane_and_rigging_have_half_again() -> None:
    assert JOB.plan is not None
    plain = [c.id for c in rule_checks(_answers(_only("railway")))]
    assert plain == ["plan-rule-sets", "plan-answers"]
    beside = _plan(answers={**JOB.plan.answers, "beside a railway": True})
    checks = {c.id: c for c in rule_checks(_answers(_only("railway", job=beside)))}
    crane, rigging = checks["plan-share-railway-1"], checks["plan-share-railway-2"]
    assert (crane.status, rigging.status) == ("over", "over")
    assert crane.value == pytest.approx(100 * 5.2017 / 7.3, rel=1e-3)
    assert rigging.value == pytest.approx(82.7, abs=0.1)


def test_an_unanswered_question_counts_as_yes_and_leaves_the_plan_incomplete() -> None:
    job = _only("em-385", job=_plan(answers={}))
    answers = _answers(job)
    assert _critical(answers, "em-385")
    check = {c.id: c for c in rule_checks(answers)}["plan-answers"]
    assert check.status == "incomplete"
    assert "Load submerged" in check.where
    assert verdict([check]).words == ("Plan incomplete: Questions on critical lifts that are not answered.")


def test_without_plan_or_rule_sets_the_plan_is_incomplete_by_name() -> None:
    bare = _answers(JOB.model_copy(update={"plan": None, "rule_sets": ()}))
    assert {c.id: c.status for c in rule_checks(bare)}["plan-rule-sets"] == "incomplete"
    assert text_rows(bare, "rescue") == [("Emergency and rescue", "not stated", "")]


@pytest.mark.parametrize("text", sorted(wanted(_answers())))
def test_each_text_that_is_left_out_is_named(text: str) -> None:
    empty = Plan.model_fields[text].get_default(call_default_factory=True)
    checks = {c.id: c for c in text_checks(_answers(_plan(**{text: empty})))}
    check = checks[f"plan-text-{text}"]
    assert check.status == "incomplete"
    assert check.reference.endswith(")")
    assert checks["plan-texts"].value == 1


def test_papers_out_of_date_are_named() -> None:
    def status(**changed: Any) -> str:
        return {c.id: c.status for c in text_checks(_answers(_plan(**changed)))}["plan-papers"]

    assert status() == "within"
    assert status(date="2027-03-01") == "incomplete"
    assert status(date=None) == "incomplete"


def test_a_lift_of_its_own_says_otherwise_and_strangers_are_refused() -> None:
    job = load_job(demo_job_path())
    first, second = (job.for_lift(i).plan for i in ("L1", "L2"))
    assert first is not None
    assert second is not None
    assert first.load_contents != second.load_contents
    assert first.lifts == {}
    assert first.for_lift("L1") == first
    data = job.model_dump(mode="json")
    with pytest.raises(InputError, match=r"lifts\.L99 is not a lift"):
        parse_fact(Job, {**data, "plan": {**data["plan"], "lifts": {"L99": {}}}})
    with pytest.raises(InputError, match="rescue: a text, or left out"):
        parse_fact(Plan, {"rescue": "  "})
    poem = {"text": "poem", "clause": "1", "read": "seen"}
    rules = [{"id": "x", "owner": "x", "edition": "x", "requires": [poem]}]
    with pytest.raises(InputError, match="requires the text 'poem'"):
        parse_fact(Job, {**data, "rule_sets": rules})


@pytest.mark.parametrize("text", ["tbd", "n/a", "?", " - ", "To do", "TBC."])
def test_a_text_that_says_nothing_is_refused_wherever_it_stands(text: str) -> None:
    with pytest.raises(InputError, match="rescue: a text, or left out"):
        parse_fact(Plan, {"rescue": text})
    person = {"role": "rigger", "name": text, "qualification": "slinger"}
    with pytest.raises(InputError, match=r"team\[0\]\.name: a text, or left out"):
        parse_fact(Plan, {"team": [person]})
    hazard = {"hazard": "wind", "measure": text, "by": "supervisor"}
    with pytest.raises(InputError, match=r"lifts\.L1: hazards\[0\]\.measure: a text"):
        parse_fact(Plan, {"lifts": {"L1": {"hazards": [hazard]}}})


def test_a_document_that_is_named_by_nothing_is_refused() -> None:
    near = {"id": "road", "kind": "road", "line": [[0.0, 0.0], [9.0, 0.0]], "owner": "county"}
    for given, name in (
        ({"load_own": {"rigid_by": ""}}, r"load_own\.rigid_by"),
        ({"notices": {"rules": ["UK CAA"], "nothing_nearer": " "}}, r"notices\.nothing_nearer"),
        ({"notices": {"rules": ["UK CAA"], "neighbours": [{**near, "agreed": "tbc"}]}},
         r"notices\.neighbours\[0\]\.agreed"),
    ):  # fmt: skip
        with pytest.raises(InputError, match=f"{name}: a text, or left out"):
            parse_fact(Plan, given)


def test_a_paper_dated_after_the_lift_does_not_cover_it() -> None:
    assert JOB.plan is not None
    day = JOB.plan.date
    paper = {"what": "permit", "document": "P 1", "date": "2026-12-09"}
    later = parse_fact(Plan, {"date": day, "permits": [paper]})
    check = {c.id: c for c in text_checks(_answers(_plan(permits=later.permits)))}["plan-papers"]
    assert (check.status, check.where) == ("incomplete", "permit")
    with pytest.raises(InputError, match="until not before date"):
        parse_fact(Plan, {"permits": [{**paper, "until": "2026-12-01"}]})


@pytest.mark.parametrize(
    ("asks", "given"),
    [("share of rated capacity", {}), ("share beyond a radius", {"share_percent": 75.0}),
     ("persons", {"share_percent": 75.0}),
     ("share of rigging", {"share_percent": 75.0, "radius_percent": 50.0})],
)  # fmt: skip
def test_a_question_has_the_share_that_it_reads_and_no_other(asks: str, given: dict[str, float]) -> None:
    trigger = {"asks": asks, "clause": "1", "read": "seen", **given}
    with pytest.raises(InputError, match=r"_percent (not )?with asks"):
        parse_fact(RuleSet, {"id": "own", "owner": "x", "edition": "y", "triggers": [trigger]})


def test_a_rule_set_that_asks_for_nothing_is_refused() -> None:
    with pytest.raises(InputError, match="completes any plan"):
        parse_fact(RuleSet, {"id": "own", "owner": "x", "edition": "y"})


def test_rigging_beyond_any_share_counts_above_every_share() -> None:
    """A row over its limit without a number, as a sling in no direction that it may be used in."""
    rows = [dataclasses.replace(c, utilisation=None, status="over") if c.id == "rigging-cg" else c for c in LIFT.lift]
    worst = LiftAssessment(LIFT.job, LIFT.setup, LIFT.path).given(study=LIFT.study, lift=rows)
    assert RuleAnswers(worst).shares["rigging"] == float("inf")
    assert RuleAnswers(LIFT).shares["rigging"] < 100.0
