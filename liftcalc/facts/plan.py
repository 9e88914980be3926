"""What a lift plan says in words: team, communication, hazards, contingency, and what is attached.

A text that is left out is missing: whether that makes the plan incomplete is for the job's rule
sets to say (:mod:`liftcalc.facts.rule_set`). What is so for every lift stands once; ``lifts`` adds
to it, or says otherwise for one lift.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal, Self

from pydantic import Field, model_validator

from liftcalc.facts.base import Day, Fact, Faults, Ident, Text, Words, says_nothing
from liftcalc.facts.load_own import LoadOwn
from liftcalc.facts.notices import Notices
from liftcalc.facts.rule_set import Stated
from liftcalc.facts.weather import Weather

Role = Literal[
    "lift planner", "lift supervisor", "crane operator", "rigger", "signaller", "tag lines",
    "crane supplier", "site manager",
]  # fmt: skip


class Person(Fact):
    """Who does what, and by which proof of competence."""

    role: Role
    name: Text
    qualification: Text


class Hazard(Fact):
    """One hazard of the lift, what is done against it, and by whom."""

    hazard: Text
    measure: Text
    by: Text


class Paper(Fact):
    """A permit, certificate or other document: what it is, its number, date and end of validity."""

    what: Text
    document: Text
    date: Day
    until: Day | None = None

    def faults(self) -> Iterator[str]:
        """An end of validity before the document's own date."""
        if self.until is not None and self.until < self.date:
            yield f"until not before date ({self.date}), not {self.until}"


class PlanTexts(Fact):
    """The texts of a plan; every one may be left out, and is then missing."""

    date: Day | None = Field(None, title="Date of the lift")
    time_of_day: Text | None = Field(None, title="Working time")
    team: tuple[Person, ...] = Field((), title="Team")
    communication: Words | None = Field(None, title="Communication and signals")
    communication_lost: Words | None = Field(None, title="When communication is lost")
    signaller_position: Words | None = Field(None, title="Position of the signaller, and why there")
    stop_rules: Words | None = Field(None, title="When to stop, and who may stop the lift")
    procedure: Words | None = Field(None, title="Procedure and special instructions")
    briefing: Words | None = Field(None, title="Briefing of the team")
    meeting: Words | None = Field(None, title="Meeting before the lift, and when it is repeated")
    field_changes: Words | None = Field(None, title="Changes of the plan on site")
    hazards: tuple[Hazard, ...] = Field((), title="Hazards and measures")
    contingency: Words | None = Field(None, title="When the lift cannot be finished")
    rescue: Words | None = Field(None, title="Emergency and rescue")
    load_source: Words | None = Field(None, title="Source of the load's mass")
    load_weighing: Words | None = Field(None, title="How the load's mass is verified on the day")
    load_contents: Words | None = Field(None, title="Contents of the load, hazardous or not")
    load_strength: Words | None = Field(None, title="Strength of the load while it is lifted")
    edge_protection: Words | None = Field(None, title="Edges and bends of the slings")
    tag_lines: Words | None = Field(None, title="Tag lines")
    manual: Words | None = Field(None, title="Chart and manual in the cab")
    crane_papers: tuple[Paper, ...] = Field((), title="Crane's certificates and inspections")
    power_lines: Words | None = Field(None, title="Measures near overhead lines")
    buried: Words | None = Field(None, title="Voids, tanks and services below, and who named them")
    below_path: Words | None = Field(None, title="Live plant and pipes below the load path")
    other_cranes: Words | None = Field(None, title="Other cranes within reach")
    traffic: Words | None = Field(None, title="Public, traffic and closures")
    railway: Words | None = Field(None, title="Railway")
    rigging_up: Words | None = Field(None, title="Rigging up and down, and who directs it")
    access: Words | None = Field(None, title="Access, and wheel loads on it")
    ground_papers: Words | None = Field(None, title="Ground calculation and who accepts the ground")
    records: Words | None = Field(None, title="Keeping of plan and records")
    permits: tuple[Paper, ...] = Field((), title="Permits and notices")
    attachments: tuple[Paper, ...] = Field((), title="Attachments")
    answers: dict[Stated, bool] = Field(default_factory=dict, title="Answers")
    load_own: LoadOwn | None = None
    weather: Weather | None = None
    notices: Notices | None = None
    gear_tags: tuple[Ident, ...] = ()
    """Accessories of the lift by their tags in the register; left out, any item of its kind."""


TITLES: dict[str, str] = {k: v.title for k, v in PlanTexts.model_fields.items() if v.title}
"""What each text is called on the page, by its name in the file."""


def _strings(name: str, value: object) -> Iterator[tuple[str, str]]:
    """Every text of a field and of what lies in it, by its name in the file."""
    if isinstance(value, str):
        yield name, value
    elif isinstance(value, tuple):
        for n, item in enumerate(value):
            yield from _strings(f"{name}[{n}]", item)
    elif isinstance(value, Fact):
        for key, item in value:
            yield from _strings(f"{name}.{key}", item)


class Plan(PlanTexts):
    """The texts of a job's plan, and what one lift adds to them or says otherwise."""

    lifts: dict[Ident, PlanTexts] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _no_empty_text(self) -> Self:
        empty = [
            f"{where}{name}: a text, or left out where it is missing"
            for where, texts in (("", self), *((f"lifts.{k}: ", t) for k, t in self.lifts.items()))
            for title in (*TITLES, "load_own", "weather", "notices")
            for name, text in _strings(title, getattr(texts, title))
            if says_nothing(text)
        ]
        if empty:
            raise Faults(empty)
        return self

    def for_lift(self, id: str) -> Plan:
        """The plan of one lift alone: its own texts in place of the job's."""
        own = self.lifts.get(id)
        given: dict[str, Any] = {} if own is None else {k: v for k, v in own if v not in (None, (), {})}
        given["answers"] = {**self.answers, **given.get("answers", {})}
        return self.model_copy(update={**given, "lifts": {}})
