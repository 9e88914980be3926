"""Every field of every fact model, the places where a job holds it, and what a change of it shows.

Contents: :func:`fields`, :func:`places`, :func:`changes`, :class:`Shown`, :func:`outcome`.
"""

from __future__ import annotations

import copy
import dataclasses
import hashlib
import itertools
import json
from collections.abc import Callable, Iterator
from functools import cache, cached_property
from types import NoneType
from typing import Any, Literal, get_args, get_origin

import numpy as np
import shapely
from pydantic import ValidationError

from liftcalc.base.errors import InputError
from liftcalc.base.text import Safe, format_value
from liftcalc.facts.base import Fact, input_error
from liftcalc.facts.job import Job
from liftcalc.lift import (
    calculation_ground,
    card,
    edge_slip,
    ground_tables,
    leg_setting,
    leg_slews,
    report,
    rigging_checks,
    tandem_report,
    wind_checks,
)
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.boom_plane import boom_plane
from liftcalc.lift.calculation_lift import lift_calculation
from liftcalc.lift.tandem import TandemAssessment, assess_tandem
from liftcalc.lift.tandem_checks import tandem_checks
from liftcalc.plan import (
    accessories,
    as_set_up,
    ground_day,
    ground_platform,
    ground_proof,
    load_own,
    notices,
    rules,
    tables,
    texts,
    weather,
    zone_rows,
)
from liftcalc.plan.zones import exclusion_zones
from liftcalc.sheets import job_rows
from liftcalc.views import ground_mat, ground_stress
from liftcalc.views.plan import plan_data
from liftcalc.views.rigging import rigging_data
from liftcalc.views.tandem import share_data, tandem_plan_data


def show(value: float | None, quantity: str, safe: Safe = "") -> str:
    """A value as a metric sheet shows it."""
    return format_value(value, quantity, "metric", safe)


Path = tuple[str | int, ...]
UNITS = {"m", "mm", "t", "kN", "kPa", "deg", "percent", "s", "kg", "m2", "m3"}


ECHOED = {
    "machines[].carrier.torsional_stiffness_kNm_rad": "the greatest of a rigid carrier, a flexible "
    "one and this stiffness counts: the one between the other two seldom governs",
    "site.boreholes[].easting_m": "printed; asked about where it lies in a zone of other ground",
    "site.boreholes[].northing_m": "printed; asked about where it lies in a zone of other ground",
    "rules.ground.platform_fill.unit_weight_kN_m3": "printed; a platform is sized in steps of 0.1 m, which "
    "so small a change of its weight need not move",
    **{
        f"as_set_up.packing_m.{leg}": "printed beside the planned one; the measured tilt counts"
        for leg in ("FL", "FR", "RR", "RL")
    },
    **{
        f"as_set_up.{fix}.error_m": "printed beside the place; tapes that do not meet are refused"
        for fix in ("centre", "mark")
    },
}
"""Numbers that need only be printed, each with the reason."""


FIRST: dict[str, tuple[int, Path, Any]] = {
    "site.ground[].presumptive.name": (
        1, ("site", "ground", 0, "presumptive", "name"), "firm clays",
    ),
    "site.ground[].subgrade_modulus_kN_m3": (
        1, ("site", "ground", 0, "subgrade_modulus_kN_m3"), 21000.0,
    ),
    "machines[].legs[].extension_min_m": (
        0, ("machines", 0, "legs", 0, "extension_min_m"), 0.865,
    ),
    "machines[].level_limit_percent": (1, ("machines", 0, "level_limit_percent"), 0.69),
    "machines[].wind_limit_m_s": (1, ("machines", 0, "wind_limit_m_s"), 6.85),
    "charts[].wind_m_s": (1, ("charts", 3, "wind_m_s"), 6.85),
    "charts[].sector_deg": (1, ("charts", 3, "sector_deg"), [0.0, 324.0]),
    "confirmations[].radius_m": (0, ("confirmations", 0, "radius_m"), 14.7),
    "accessories.tagged[].kind": (0, ("accessories", "tagged", 0, "kind"), "wire-4m-16"),
    "accessories.tagged[].last": (0, ("accessories", "tagged", 0, "last"), "2026-12-10"),
    "accessories.tagged[].next": (0, ("accessories", "tagged", 0, "next"), "2026-11-20"),
    "rule_sets[].triggers[].share_percent": (
        0, ("rule_sets", 0, "triggers", 0, "share_percent"), 20.0,
    ),
    "rule_sets[].requires[].text": (1, ("rule_sets", 0, "requires", 0, "text"), "railway"),
    "plan.weather.start": (1, ("plan", "weather", "start"), "09:30"),
    "plan.weather.light_from": (1, ("plan", "weather", "light_from"), "08:15"),
    "plan.weather.light_to": (1, ("plan", "weather", "light_to"), "16:00"),
    "plan.lifts[].weather.start": (1, ("plan", "lifts", "S1", "weather", "start"), "09:30"),
    "plan.lifts[].weather.light_to": (1, ("plan", "lifts", "S1", "weather", "light_to"), "15:55"),
    "plan.load_own.rigid_by": (1, ("plan", "load_own", "rigid_by"), "certificate 9"),
    "lifts[].rigging.hook_diameter_mm": (0, ("lifts", 0, "rigging", "hook_diameter_mm"), 4.5),
}  # fmt: skip
"""Where to look first, to spare time: the job's number, the place, the new value.

Where that no longer shows anything, every place and change is tried as for any other field.
"""


@dataclasses.dataclass(frozen=True)
class Field:
    """One field of the models under the job: ``lifts[].load.mass_t``."""

    key: str
    annotation: Any
    is_list_of_facts: bool
    """Of facts by their ids too."""


def _models(annotation: Any) -> list[type[Fact]]:
    if isinstance(annotation, type) and issubclass(annotation, Fact):
        return [annotation]
    return [m for a in get_args(annotation) for m in _models(a)]


def fields(model: type[Fact] = Job, before: str = "") -> Iterator[Field]:
    """Every field, automatically from the models: a field added later is among them."""
    for name, info in model.model_fields.items():
        key, inner = f"{before}{name}", _models(info.annotation)
        listed = get_origin(info.annotation) is tuple
        listed |= bool(inner) and get_origin(info.annotation) is dict
        if listed or not inner or NoneType in get_args(info.annotation):
            yield Field(key, info.annotation, bool(inner) and listed)
        for one in dict.fromkeys(inner):
            yield from fields(one, f"{key}[]." if listed else f"{key}.")


def _entries(held: Any) -> Iterator[tuple[Any, Any]]:
    """Facts of a list by their place in it, or of a mapping by their ids."""
    yield from held.items() if isinstance(held, dict) else enumerate(held or ())


def places(data: Any, key: str) -> list[Path]:
    """Where the job's data hold this field."""
    found: list[tuple[Path, Any]] = [((), data)]
    for part in key.split("."):
        name, listed = part.removesuffix("[]"), part.endswith("[]")
        found = [((*p, name), d[name]) for p, d in found if isinstance(d, dict) and name in d]
        if listed:
            found = [((*p, k), x) for p, d in found for k, x in _entries(d)]
    return [p for p, _ in found]


def at(data: Any, path: Path) -> Any:
    """The value at a place."""
    for part in path:
        data = data[part]
    return data


def _literals(annotation: Any) -> tuple[Any, ...]:
    if get_origin(annotation) is Literal:
        return get_args(annotation)
    return tuple(x for a in get_args(annotation) for x in _literals(a))


_UNSET = (0.3, 1.0, 5.0, 20.0, 60.0, 400.0, 2e4)


def _scaled(value: Any, by: Callable[[float], float]) -> Any:
    if isinstance(value, list):
        return [_scaled(v, by) for v in value]
    return by(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else value


def changes(field: Field, value: Any, others: list[Any]) -> Iterator[Any]:
    """Other values that this field might have; *others* are its values elsewhere."""
    literals = _literals(field.annotation)
    if field.is_list_of_facts and isinstance(value, dict):
        yield from ({k: x for k, x in value.items() if k != gone} for gone in value)
    elif field.is_list_of_facts:
        yield from (value[:k] + value[k + 1 :] for k in range(len(value)))
    elif isinstance(value, bool):
        yield not value
    elif literals and isinstance(value, (str, NoneType)):
        yield from (x for x in literals if x != value)
    elif isinstance(value, str):
        yield f"{value}-other"
        yield from (x for x in others if x != value)
        yield "2026-06-30"
    elif isinstance(value, int):
        yield from (value + 1, value - 1, 2 * value, value + 20)
    elif isinstance(value, float):
        yield from (1.4 * value + 0.1, 0.7 * value - 0.01, 0.05 * value, 4 * value)
        yield from (1.03 * value + 0.01, 0.97 * value)
        yield from (x for x in (0.0, 1.0, 0.1, 5.0, 20.0, 90.0) if x != value)
    elif isinstance(value, dict) and value:
        name, one = next(iter(value.items()))
        yield from ({**value, name: x} for x in changes(field, one, others))
    elif isinstance(value, list) and value and isinstance(value[0], str):
        yield from (value[:k] + value[k + 1 :] for k in range(len(value)))
        yield [*value, f"{value[0]}-other"]
        yield from others
    elif isinstance(value, list) and value:
        for by in (lambda x: x + 0.3, lambda x: 0.9 * x, lambda x: x - 0.3, lambda x: 1.2 * x):
            yield _scaled(value, by)
        for by in (lambda x: x + 0.3, lambda x: 0.9 * x, lambda x: x - 0.3, lambda x: 1.2 * x):
            for k in dict.fromkeys((0, len(value) // 2, -1)):
                changed = copy.deepcopy(value)
                changed[k] = _scaled(value[k], by)
                yield changed
    else:
        yield from (x for x in others if x not in (None, [], {}))
        yield from _UNSET
    if value is not None and NoneType in get_args(field.annotation):
        yield None


def _plain(thing: Any) -> Any:
    """A text that is the same only if what is shown is the same."""
    if isinstance(thing, np.ndarray):
        if thing.dtype == object:
            return [_plain(x) for x in thing.tolist()]
        return (thing.shape, hashlib.sha256(np.ascontiguousarray(thing).tobytes()).hexdigest())
    if isinstance(thing, shapely.Geometry):
        return thing.wkt
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        return [(f.name, _plain(getattr(thing, f.name))) for f in dataclasses.fields(thing)]
    if isinstance(thing, Fact):
        return thing.model_dump_json()
    if isinstance(thing, dict):
        return [(k, _plain(v)) for k, v in thing.items()]
    if isinstance(thing, (list, tuple)):
        return [_plain(x) for x in thing]
    return repr(thing)


Stage = Callable[[Any], Any]


def _ground(a: LiftAssessment, of: Callable[..., Any]) -> Any:
    return None if a.ground is None else of(a)


def _zones(a: LiftAssessment) -> Any:
    zones = exclusion_zones(a)
    if zones is None:
        return None
    rows = zone_rows.zone_rows(zones, show), zone_rows.meeting_rows(zones, show)
    return zone_rows.zone_checks(zones), rows


COUNTS: tuple[Stage, ...] = (
    lambda a: a.survey,
    lambda a: a.layout,
    plan_data,
    boom_plane,
    lambda a: report.lift_values(a.setup, a.study, a.rigging),
    lambda a: (report.layout_values(a.setup, a.circle), report.ground_values(a.forces, a.ground)),
    lambda a: report.survey_values(a.setup, a.place),
    lambda a: report.leg_room_rows(a.setup, show),
    lambda a: report.lift_class_rows(a.setup, a.study),
    lambda a: rigging_checks.rigging_item_rows(a.rigging, show),
    lambda a: rigging_checks.table_rows(a.rigging, show),
    lambda a: rigging_checks.height_rows(a.setup, a.rigging, show),
    lambda a: wind_checks.wind_limit_rows(a.setup, a.path, a.study.boom, show),
    lambda a: ground_tables.leg_ground_rows(a.ground, show),
    lambda a: ground_tables.shelf_rows(a.setup, a.ground, a.job.mats, show),
    lambda a: edge_slip.set_back_table(a.setup, a.place),
    lambda a: report.line_rows(a.setup, show),
    rigging_data,
    lambda a: _ground(a, ground_mat.leg_mat_data),
    lambda a: lift_calculation(a, a.lift).block(),
    lambda a: calculation_ground.ground_calculation(a, a.ground_rows).block(),
    lambda a: a.lift,
    lambda a: leg_slews.leg_slew_rows(a.setup, leg_slews.leg_slews(a.setup, a.path), show),
    lambda a: leg_setting.setting_rows(a.settings, show),
    lambda a: a.ground_rows,
    lambda a: _ground(a, ground_stress.leg_depth_data),
    lambda a: ground_tables.settlement_rows(a.ground, show),
    ground_day.ground_checks,
    lambda a: ground_platform.platform_rows(a, show),
    ground_proof.proof_rows,
    _zones,
)
"""What a fact that counts must change: checks, numbers, drawings; cheapest first."""

WORDS: tuple[Stage, ...] = (
    lambda a: report.title_rows(a.setup),
    lambda a: job_rows(a.job, a.setup.lift),
    lambda a: report.provenance_rows(a.setup, a.job),
    ground_tables.site_instructions,
    ground_day.day_rows,
    lambda a: (card.card_headline(a), card.card_rows(a, show), card.card_legs(a, show)),
)
"""Where a fact may be repeated without counting."""

TANDEM: tuple[Stage, ...] = (
    lambda a: tandem_report.share_rows(a, show),
    lambda a: tandem_report.use_rows(a, show),
    tandem_plan_data,
    share_data,
    lambda a: tandem_report.rigging_rows(a, show),
    tandem_checks,
)
TANDEM_WORDS: tuple[Stage, ...] = (
    lambda a: tandem_report.tandem_rows(a, show),
    lambda a: [report.provenance_rows(m.setup, m.job) for m in a.plumb],
    lambda a: (a.tandem.title, a.tandem.provenance.kind),
)


PLAN: tuple[Stage, ...] = (
    lambda a: rules.rule_checks(rules.RuleAnswers(a)),
    lambda a: rules.class_rows(rules.RuleAnswers(a)),
    lambda a: [said for _, _, said in rules.RuleAnswers(a).asked],
    lambda a: texts.text_checks(rules.RuleAnswers(a)),
    load_own.load_own_checks,
    accessories.accessory_checks,
    weather.weather_checks,
    lambda a: weather.weather_rows(a, show),
    notices.notice_checks,
    lambda a: notices.notice_rows(a, show),
    lambda a: tables.plan_values(rules.RuleAnswers(a)),
)
"""What a fact of the lift plan must change, where it counts."""
PLAN_WORDS: tuple[Stage, ...] = (
    lambda a: rules.rule_rows(rules.RuleAnswers(a)),
    lambda a: texts.text_rows(
        rules.RuleAnswers(a),
        *tables.TEAM, *tables.SAFETY, *tables.LOAD, *tables.PLACE, *tables.PAPERS,
    ),
    lambda a: tables.sign_on_rows(rules.RuleAnswers(a)),
    accessories.accessory_rows,
)  # fmt: skip

SET_UP: tuple[Stage, ...] = (as_set_up.set_up_values, as_set_up.set_up_checks, lambda s: as_set_up.again_rows(s, show))
"""What a measurement must change, where it counts."""
SET_UP_WORDS: tuple[Stage, ...] = (as_set_up.measured_rows, lambda s: as_set_up.difference_rows(s, show))

Room = Literal["lift", "tandem", "plan", "set up"]
STAGES: dict[Room, tuple[str, str]] = {
    "lift": ("COUNTS", "WORDS"), "tandem": ("TANDEM", "TANDEM_WORDS"),
    "plan": ("PLAN", "PLAN_WORDS"), "set up": ("SET_UP", "SET_UP_WORDS"),
}  # fmt: skip
"""Names of what each kind of sheet shows: what counts, and its words."""


def stages(room: Room, words: bool) -> tuple[Stage, ...]:
    """What that kind of sheet shows."""
    found: tuple[Stage, ...] = globals()[STAGES[room][words]]
    return found


def own_room(key: str) -> Room | None:
    """The one sheet that reads a fact; None for facts that the calculation sheets read."""
    first, *inner = key.replace("[]", "").split(".")
    if first == "as_set_up":
        return "set up"
    return "plan" if first in ("plan", "rule_sets") or inner[:1] == ["tagged"] else None


class Shown:
    """A job as the sheets would show it, each part made when first asked for.

    *like* is a job that differs in facts of the lift plan alone: studies are then taken over.
    """

    def __init__(self, data: Any, like: Shown | None = None) -> None:
        self.data = data
        self.job = Job.model_validate_json(json.dumps(data))
        self._made: dict[str, LiftAssessment | TandemAssessment] = {}
        self._like = like
        self.part = cache(self._part)

    def assessed(self, id: str) -> LiftAssessment | TandemAssessment:
        if id not in self._made:
            tandem = id in {t.id for t in self.job.tandem_lifts}
            self._made[id] = (
                assess_tandem(self.job, id, steps=20)
                if tandem
                else self._changed(id)
                if self._like is not None
                else assess_lift(self.job, id, steps=40)
            )
        return self._made[id]

    def _changed(self, id: str) -> LiftAssessment:
        """A lift of which only the plan is another: every study as it was."""
        assert self._like is not None
        before = self._like.assessed(id)
        assert isinstance(before, LiftAssessment)
        job = self.job.for_lift(id)
        calculated = {"plan": None, "rule_sets": (), "as_set_up": None}
        alike = [
            j.model_copy(update={**calculated, "accessories": _untagged(j.accessories)}) for j in (job, before.job)
        ]
        assert alike[0] == alike[1]
        return dataclasses.replace(before, job=job).given(
            **{k: v for k, v in vars(before).items() if k not in ("job", "setup", "path")}
        )

    @cached_property
    def set_up(self) -> as_set_up.AsSetUpStudy:
        """What was measured, held against the plan; the lift as planned is calculated once."""
        study = as_set_up.AsSetUpStudy(self.job)
        vars(study)["planned"] = (self._like or self).assessed(study.fact.lift)
        return study

    def _part(self, id: str, room: Room, words: bool, stage: int) -> str:
        thing = self.set_up if room == "set up" else self.assessed(id)
        return repr(_plain(stages(room, words)[stage](thing)))

    def listed(self) -> list[tuple[str, str]]:
        """What the summary, the register and the cover list."""
        return [(x.id, x.title) for x in (*self.job.lifts, *self.job.tandem_lifts)]

    def room(self, id: str) -> Room:
        """Which sheets a lift of the calculation has."""
        return "tandem" if id in {t.id for t in self.job.tandem_lifts} else "lift"


def _untagged(shelf: Any) -> Any:
    return shelf.model_copy(update={"tagged": ()})


def users(job: Job, path: Path) -> tuple[list[str], bool]:
    """Lifts that the fact at a place may concern, and whether any of them uses it."""
    every = [(x.id, [x]) for x in job.lifts] + [(t.id, list(t.machines)) for t in job.tandem_lifts]

    def using(**own: str) -> tuple[list[str], bool]:
        """Lifts, or lifts on two machines, of which a part holds all of these."""
        found = [id for id, parts in every if any(all(getattr(p, k) == v for k, v in own.items()) for p in parts)]
        return found or [job.lifts[0].id], bool(found)

    match path:
        case ("as_set_up", *_) if job.as_set_up is not None:
            return [job.as_set_up.lift], True
        case ("plan", "lifts", str(id), *_):
            return [id], True
        case ("plan" | "rule_sets", *_):
            return [x.id for x in job.lifts], True
        case ("accessories", "tagged", int(k), *_):
            kind = job.accessories.tagged[k].kind
            found = [x.id for x in job.lifts if kind in x.rigging.model_dump().values()]
            return found or [job.lifts[0].id], bool(found)
        case ("lifts", int(k), *_):
            return [job.lifts[k].id], True
        case ("tandem_lifts", int(k), *_):
            return [job.tandem_lifts[k].id], True
        case ("machines", int(k), "counterweights" | "hook_blocks" as part, int(n), *_):
            own = getattr(job.machines[k], part)[n].id
            return using(machine=job.machines[k].id, **{part.removesuffix("s"): own})
        case ("machines", int(k), *_):
            return using(machine=job.machines[k].id)
        case ("charts" | "confirmations", int(k), *_):
            item = getattr(job, str(path[0]))[k]
            return using(machine=item.machine, counterweight=item.counterweight)
        case ("mats", int(k), *_):
            return using(mat=job.mats[k].id)
        case ("accessories", str(_), int(_), *_):
            item = job.accessories.model_dump()[path[1]][path[2]]["id"]
            found = [
                id for id, parts in every
                if any(item in p.rigging.model_dump().values() for p in parts)
            ]  # fmt: skip
            return found or [job.lifts[0].id], bool(found)
    return [x.id for x in job.lifts], True


def _refused(error: InputError, path: Path, data: Any, gone: list[str]) -> str:
    """ "refused" if the message says which field is wrong; else "unnamed" and the message.

    An id, or an entry taken out of a list, is named by itself.
    """
    text = str(error)
    if path[-1] == "id" or gone:
        return "refused" if any(i in text for i in gone) else f"unnamed: {text}"
    field = next(str(p) for p in reversed(path) if isinstance(p, str))
    stem = field.rsplit("_", 1)[0] if field.rsplit("_", 1)[-1] in UNITS else field
    words = {field, field.replace("_", " "), stem, stem.replace("_", " ")}
    return "refused" if any(w in text for w in words) else f"unnamed: {text}"


def outcome(base: Shown, field: Field, path: Path, value: Any) -> str:
    """What a change does: "counts", "shown" (a text only), "refused", "" (nothing), or "range".

    "range" is a value outside the field's own range, "unused" nothing where no lift uses the
    fact. A refusal that does not say what is wrong is "unnamed". Words are looked at for texts
    and choices only: a number must count.
    """
    data = copy.deepcopy(base.data)
    before = at(data, path)
    at(data, path[:-1])[path[-1]] = value
    gone = [before, value] if path[-1] == "id" else []
    if field.is_list_of_facts:
        gone = [x if isinstance(x, str) else str(x.get("id", x.get("name", ""))) for x in before if x not in value]
        gone = [name for name in gone if name]
    room = own_room(field.key)
    try:
        changed = Shown(data, like=base if room else None)
    except ValidationError as error:
        if all(e["type"] not in ("value_error", "assertion_error") for e in error.errors()):
            return "range"
        return _refused(input_error(error, data=data), path, data, gone)
    if base.listed() != changed.listed():
        return "counts"
    is_text = any(isinstance(x, (str, dict)) for y in (before, value) for x in (y, *_first_of(y)))
    is_text = is_text or field.is_list_of_facts or field.key in ECHOED
    ids, used = users(base.job, path)
    used = used and not field.is_list_of_facts  # what is taken out may be what nothing used
    for words in (False, True) if is_text else (False,):
        rooms = {id: room or base.room(id) for id in ids}
        for k in range(max(len(stages(r, words)) for r in rooms.values())):
            for id, own in rooms.items():
                if k >= len(stages(own, words)):
                    continue
                try:
                    if base.part(id, own, words, k) != changed.part(id, own, words, k):
                        return "shown" if words else "counts"
                except InputError as error:
                    return _refused(error, path, data, gone)
    return "" if used else "unused"


def _first_of(value: Any) -> list[Any]:
    """The first entry of a list."""
    return value[:1] if isinstance(value, list) else []


def _alike(bases: list[Shown], field: Field) -> Iterator[Any]:
    """Values of the fields of this name and kind, wherever they stand."""
    leaf = field.key.rpartition(".")[2]
    for other in fields():
        if other.key.rpartition(".")[2] == leaf and other.annotation == field.annotation:
            for base in bases:
                yield from (at(base.data, path) for path in places(base.data, other.key))


def _first(bases: list[Shown], field: Field) -> Iterator[tuple[int, Path, Any]]:
    if field.key in FIRST:
        job, path, value = FIRST[field.key]
        if path in places(bases[job].data, field.key):
            yield job, path, value


def together(base: Shown, values: dict[Path, Any]) -> bool:
    """Whether facts that go with one another, changed together, change a row or a number."""
    data = copy.deepcopy(base.data)
    for path, value in values.items():
        at(data, path[:-1])[path[-1]] = value
    changed = Shown(data)
    return any(
        base.part(id, own, False, k) != changed.part(id, own, False, k)
        for id in users(base.job, next(iter(values)))[0]
        for own in (own_room(".".join(str(p) for p in next(iter(values)))) or base.room(id),)
        for k in range(len(stages(own, False)))
    )


def best(bases: list[Shown], field: Field, *, most: int = 40) -> tuple[str, str]:
    """The most that any change of a field does in any of the jobs, and where.

    A refusal is the most only where no change is taken and shows nothing.
    """
    found: dict[str, str] = {}
    held = [(base, path, at(base.data, path)) for base in reversed(bases) for path in places(base.data, field.key)]
    first = [(bases[job], path, value) for job, path, value in _first(bases, field)]
    held.sort(key=lambda x: not x[2])  # where the fact is in use first
    others = list({repr(value): value for value in _alike(bases, field)}.values())
    tries = [[(base, path, new) for new in changes(field, value, others) if new != value] for base, path, value in held]
    tried = 0
    for turn in (first, *itertools.zip_longest(*tries)):  # each place in turn, then the next change
        for base, path, new in filter(None, turn):
            got = outcome(base, field, path, new)
            if got in ("counts", "shown"):
                return got, f"{'.'.join(map(str, path))} = {str(new)[:60]}"
            found.setdefault(got.split(":")[0], f"{'.'.join(map(str, path))} = {str(new)[:60]} {got}")
            tried += got != "range"
            if tried >= most:
                break
        if tried >= most:
            break
    for kind in ("", "unnamed", "refused"):
        if kind in found:
            return kind, found[kind]
    return ("range" if "range" in found else "nowhere"), found.get("range", "")
