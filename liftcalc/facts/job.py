"""The job: site, machines, charts, mats, accessories, owner's rules and the list of lifts."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from liftcalc.base.errors import InputError
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.base import Fact, Faults, Ident, NonNegative, Positive, Text
from liftcalc.facts.chart import RatedChart
from liftcalc.facts.confirmation import Confirmation
from liftcalc.facts.ground import PlatformFill
from liftcalc.facts.lift import Lift
from liftcalc.facts.limits import LEAST
from liftcalc.facts.machine import Machine
from liftcalc.facts.mats import Mat
from liftcalc.facts.plan import TITLES, Plan
from liftcalc.facts.rigging import Accessories
from liftcalc.facts.rule_set import RuleSet
from liftcalc.facts.site import Site
from liftcalc.facts.tandem import TandemLift, TandemMachine
from liftcalc.facts.zone_rule import ZoneRule

_UP_TO_KV = {"29 CFR 1926.1408 Table A": 1000.0, "30 CFR 77.807-2": 1000.0, "HSE GS6": 400.0, "DIN VDE 0105-100": 380.0}
"""Where each table of distances to overhead lines ends. [kV]"""


class ClearanceRule(Fact):
    """Least distances the owner asks for."""

    boom_m: NonNegative = 0.5
    load_m: NonNegative = 0.5
    tail_m: NonNegative = 0.6
    head_room_m: NonNegative = 0.3
    power_line_table: Literal["29 CFR 1926.1408 Table A", "30 CFR 77.807-2", "HSE GS6", "DIN VDE 0105-100", "owner"] = (
        "29 CFR 1926.1408 Table A"
    )
    power_line_owner_rows: tuple[tuple[Positive, Positive], ...] = ()
    """With the table "owner" only: up to which voltage [kV], and the distance there [m]."""
    reference: Text
    tail_reference: Text | None = None
    """Source of ``tail_m`` where it is another than that of the other distances."""

    @property
    def tail_source(self) -> str:
        """Source printed beside the counterweight tail's distances."""
        return self.tail_reference or self.reference

    @property
    def power_line_up_to_kV(self) -> float:
        """Voltage at which the table in use ends. [kV]"""
        rows = self.power_line_owner_rows
        return rows[-1][0] if rows else _UP_TO_KV[self.power_line_table]

    @model_validator(mode="after")
    def _owner_rows(self) -> Self:
        rows = self.power_line_owner_rows
        if (self.power_line_table == "owner") != bool(rows):
            raise ValueError(
                "power_line_owner_rows, such as [[50, 3.0], [200, 4.6]] (up to 50 kV keep 3.0 m), "
                "with power_line_table 'owner' and with no other"
            )
        for (low, near), (high, far) in itertools.pairwise(rows):
            if not (high > low and far >= near):
                raise ValueError(
                    "power_line_owner_rows with rising voltages and distances that do not fall, "
                    f"not {[low, near]} before {[high, far]}"
                )
        return self


class OwnerGroundRule(Fact):
    """How ground pressure is judged."""

    method: Literal["meyerhof", "hansen", "vesic", "en1997"] = "vesic"
    safety: Literal["global", "en1997 DA1"] = "global"
    factor_of_safety: Annotated[float, Field(ge=2, le=10)] = 2.0
    edge_set_back_ratio: Annotated[float, Field(ge=0, le=5)] = 1.0
    settlement_limit_m: Annotated[float, Field(ge=LEAST, le=1)] = 0.05
    platform_fill: PlatformFill | None = None
    reference: Text


class Rules(Fact):
    """Limits that differ by edition and owner: value and owner are both printed."""

    critical_share_percent: Annotated[float, Field(ge=LEAST, le=100)] = 75.0
    critical_share_owner: Text
    utilisation_limit_percent: Annotated[float, Field(ge=LEAST, le=100)] = 100.0
    least_leg_share_percent: Annotated[float, Field(ge=0, le=50)] = 0.0
    backward_share_percent: Annotated[float, Field(ge=0, le=50)] = 15.0
    dynamic_factor_min: Annotated[float, Field(ge=1, le=2)] = 1.0
    clearance: ClearanceRule
    ground: OwnerGroundRule
    zones: ZoneRule | None = None
    """Left out, the lift plan has no exclusion zones and says so."""


class Job(Fact):
    """A fully resolved job: all facts inside, nothing looked up elsewhere."""

    id: Ident
    title: Text
    client: Text
    invented: bool
    rules: Rules
    site: Site
    machines: Annotated[tuple[Machine, ...], Field(min_length=1)]
    charts: tuple[RatedChart, ...]
    confirmations: tuple[Confirmation, ...] = ()
    mats: Annotated[tuple[Mat, ...], Field(min_length=1)]
    accessories: Accessories
    lifts: Annotated[tuple[Lift, ...], Field(min_length=1)]
    tandem_lifts: tuple[TandemLift, ...] = ()
    rule_sets: tuple[RuleSet, ...] = ()
    plan: Plan | None = None
    as_set_up: AsSetUp | None = None

    @model_validator(mode="after")
    def _references(self) -> Self:
        known = _Known(
            machines={m.id: m for m in self.machines},
            mats={m.id for m in self.mats},
            slings={s.id for s in self.accessories.slings},
            shackles={s.id for s in self.accessories.shackles},
            beams={b.id for b in self.accessories.beams},
        )
        problems = [
            f"{name}: ids used once each, not {ids}"
            for name, ids in (
                ("machines", [m.id for m in self.machines]),
                ("charts", [c.id for c in self.charts]),
                ("confirmations", [c.id for c in self.confirmations]),
                ("mats", [m.id for m in self.mats]),
                ("rule_sets", [r.id for r in self.rule_sets]),
                ("lifts", [*(x.id for x in self.lifts), *(x.id for x in self.tandem_lifts)]),
            )
            if len(set(ids)) != len(ids)
        ]
        for chart in self.charts:
            problems += _chart_problems(chart, known.machines.get(chart.machine))
        problems += self._confirmation_problems()
        for lift in self.lifts:
            problems += _lift_problems(lift, known)
        problems += self._plan_problems()
        for tandem in self.tandem_lifts:
            for k, one in enumerate(tandem.machines):
                problems += _choice_problems(f"tandem lift {tandem.id}: machines[{k}]", one, known)
        if self.rules.zones is not None:
            problems += self.rules.zones.faults_on(self.site)
        most = self.rules.clearance.power_line_up_to_kV
        problems += [
            f"site: overhead line {line.id}: voltage_kV is {line.voltage_kV:g}; allowed: "
            f"up to {most:g}, where {self.rules.clearance.power_line_table} ends. State "
            "the distance that the utility sets in rules.clearance.power_line_owner_rows"
            for line in self.site.overhead_lines
            if line.voltage_kV is not None and line.voltage_kV > most
        ]
        problems += [
            f"site: overhead line {line.id}: conductor.wind_m_s is {line.conductor.wind_m_s:g}; "
            f"allowed: at least {gust:g}, as lift {lift.id} is planned (1.8 times a mean)"
            for line in self.site.overhead_lines
            if line.conductor is not None
            for lift in self.lifts
            if line.conductor.wind_m_s < (gust := lift.wind_m_s * (1.0 if lift.wind_basis == "at boom head" else 1.8))
        ]
        if problems:
            raise Faults(problems)
        return self

    def _confirmation_problems(self) -> list[str]:
        users: list[Lift | TandemMachine] = [*self.lifts, *(m for t in self.tandem_lifts for m in t.machines)]
        problems: list[str] = []
        for k, one in enumerate(self.confirmations):
            problems += [
                f"confirmation {one.id}: contradicts {other.id} (one layout, and less nearer in); "
                "state only the one that holds"
                for other in self.confirmations[:k]
                if one.contradicts(other)
            ]
            if one.provenance.kind == "invented" and not self.invented:
                problems.append(f"confirmation {one.id}: invented, in a job that is not")
            if not any(one.concerns(user) for user in users):
                problems.append(
                    f"confirmation {one.id}: no lift of the job has machine {one.machine!r}, "
                    f"counterweight {one.counterweight!r}, boom_length_m {one.boom_length_m:g} "
                    f"and outriggers at {one.leg_extension_m.as_tuple()} m or farther out"
                )
        return problems

    def _plan_problems(self) -> list[str]:
        """Lifts that the plan speaks of and the job has not, and texts that no plan has."""
        known = {lift.id for lift in self.lifts}
        lifts = self.plan.lifts if self.plan is not None else {}
        return [
            *(f"plan: lifts.{id} is not a lift of the job" for id in lifts if id not in known),
            *(f"rule set {r.id}: requires the text {x.text!r}; allowed: {', '.join(TITLES)}"
              for r in self.rule_sets for x in r.requires if x.text not in TITLES),
        ]  # fmt: skip

    def lift(self, id: str) -> Lift:
        """The lift with this id; KeyError where there is none."""
        return {item.id: item for item in self.lifts}[id]

    def machine(self, id: str) -> Machine:
        """The machine with this id; KeyError where there is none."""
        return {item.id: item for item in self.machines}[id]

    def mat(self, id: str) -> Mat:
        """The mat with this id; KeyError where there is none."""
        return {item.id: item for item in self.mats}[id]

    def charts_for(self, lift: Lift) -> tuple[RatedChart, ...]:
        """Charts of the lift's machine with the lift's counterweight."""
        return tuple(c for c in self.charts if c.machine == lift.machine and c.counterweight == lift.counterweight)

    def for_lift(self, id: str) -> Job:
        """The same job with only what this lift needs."""
        ids = [item.id for item in self.lifts]
        if id not in ids:
            raise InputError.of("lift", id, f"one of {', '.join(ids)}")
        lift, measured = self.lift(id), self.as_set_up
        return self.model_copy(
            update={
                "lifts": (lift,),
                "machines": (self.machine(lift.machine),),
                "charts": self.charts_for(lift),
                "confirmations": tuple(c for c in self.confirmations if c.concerns(lift)),
                "tandem_lifts": (),
                "as_set_up": measured if measured and measured.lift == id else None,
                "plan": None if self.plan is None else self.plan.for_lift(id),
            }
        )

    def with_lift(self, lift: Lift) -> Job:
        """What :meth:`for_lift` gives, with that lift changed; references are checked again."""
        kept = tuple(c for c in self.confirmations if c.concerns(lift))
        own = dict(self.for_lift(lift.id))
        return Job.model_validate({**own, "lifts": (lift,), "confirmations": kept})


@dataclass(frozen=True)
class _Known:
    """What a job's lifts may name."""

    machines: dict[str, Machine]
    mats: set[str]
    slings: set[str]
    shackles: set[str]
    beams: set[str]


def _chart_problems(chart: RatedChart, machine: Machine | None) -> list[str]:
    """What of a chart does not belong to its machine."""
    if machine is None:
        return [f"chart {chart.id}: machine {chart.machine!r} is not in the job"]
    problems = []
    if chart.counterweight not in {c.id for c in machine.counterweights}:
        problems.append(f"chart {chart.id}: counterweight {chart.counterweight!r} unknown")
    for leg in machine.legs:
        extension = chart.leg_extension_m[leg.name]
        if not leg.allows(extension):
            problems.append(f"chart {chart.id}: outrigger {leg.name} at {extension} m")
    return problems + _boom_problems(chart, machine)


def _boom_problems(chart: RatedChart, machine: Machine) -> list[str]:
    """Boom lengths that the machine has not, and ratings beyond what a boom reaches."""
    lengths = machine.boom.lengths_m
    problems = []
    for length, row in zip(chart.boom_length_m, chart.capacity_t, strict=True):
        where = f"chart {chart.id}: boom length {length:g} m"
        if not any(abs(length - own) < 1e-6 for own in lengths):
            problems.append(f"{where} is not among lengths_m of machine {machine.id}: {lengths}")
            continue
        rated = [r for r, c in zip(chart.radius_m, row, strict=True) if c is not None]
        reach = length + machine.boom.foot_u_m
        if rated and not rated[-1] <= reach + 1e-6:
            problems.append(
                f"{where} is rated at radius {rated[-1]:g} m; allowed: at most {reach:.2f} m, "
                "which it reaches flat; are the rows in the order of boom_length_m?"
            )
    return problems


def _choice_problems(where: str, choice: Lift | TandemMachine, known: _Known) -> list[str]:
    """What of a lift's choices is not in the job, or not possible on its machine."""
    machine = known.machines.get(choice.machine)
    if machine is None:
        return [f"{where}: machine {choice.machine!r} is not among {sorted(known.machines)}"]
    problems = []
    choices = (
        ("counterweight", choice.counterweight, {c.id for c in machine.counterweights}),
        ("hook_block", choice.hook_block, {h.id for h in machine.hook_blocks}),
        ("mat", choice.mat, known.mats),
        ("sling", choice.rigging.sling, known.slings),
        ("top_sling", choice.rigging.top_sling, known.slings | {None}),
        ("shackle", choice.rigging.shackle, known.shackles | {None}),
        ("beam", choice.rigging.beam, known.beams | {None}),
    )
    for field, value, allowed in choices:
        if value not in allowed:
            names = sorted(str(a) for a in allowed if a is not None)
            whose = f" (machine {choice.machine})" if field in ("counterweight", "hook_block") else ""
            problems.append(f"{where}: {field} is {value!r}; allowed: {', '.join(names)}{whose}")
    for leg, extension in zip(machine.legs, choice.legs.as_tuple(), strict=True):
        if not leg.allows(extension):
            steps = f", pinned at {leg.steps_m}" if leg.steps_m else ""
            problems.append(
                f"{where}: outrigger {leg.name} is {extension} m; allowed: "
                f"{leg.extension_min_m} to {leg.extension_max_m} m{steps}"
            )
    lengths = machine.boom.lengths_m
    if not lengths[0] - 1e-9 <= choice.boom_length_m <= lengths[-1] + 1e-9:
        problems.append(f"{where}: boom_length_m is {choice.boom_length_m}; allowed: {lengths[0]} to {lengths[-1]} m")
    return problems


def _lift_problems(lift: Lift, known: _Known) -> list[str]:
    where = f"lift {lift.id}"
    problems = _choice_problems(where, lift, known)
    machine = known.machines.get(lift.machine)
    if machine is None:
        return problems
    for name, place in (("pick", lift.pick), ("set_down", lift.set_down)):
        radius = math.hypot(place.easting_m - lift.stand.easting_m, place.northing_m - lift.stand.northing_m)
        if not machine.radius_min_m <= radius <= lift.boom_length_m + machine.boom.foot_u_m:
            problems.append(
                f"{where}: {name} lies at radius {radius:.2f} m; allowed: "
                f"{machine.radius_min_m} m (the machine's minimum) to "
                f"{lift.boom_length_m + machine.boom.foot_u_m:.2f} m (boom flat)"
            )
    for k, point in enumerate(lift.via):
        if not point.radius_m >= machine.radius_min_m:
            problems.append(
                f"{where}: via[{k}].radius_m is {point.radius_m}; allowed: "
                f"at least {machine.radius_min_m} m (the machine's minimum)"
            )
    if lift.persons and len(set(lift.legs.as_tuple())) > 1:
        problems.append(
            f"{where}: persons is true with outriggers at {lift.legs.as_tuple()} m; allowed: "
            "persons are lifted only with every outrigger at the same extension (29 CFR 1926.1431)"
        )
    if not lift.load.mass_t <= 2 * machine.class_t:
        problems.append(
            f"{where}: load.mass_t is {lift.load.mass_t}; allowed: at most twice the machine's "
            f"class ({machine.class_t} t); is it in kilograms?"
        )
    return problems
