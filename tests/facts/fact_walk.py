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
from functools import cache, partial
from types import NoneType
from typing import Any, Literal, get_args, get_origin

import numpy as np
import shapely
from pydantic import ValidationError

from liftcalc.errors import InputError
from liftcalc.facts.base import Fact, input_error
from liftcalc.facts.job import Job
from liftcalc.lift import (
    assess_lift,
    card,
    edge_slip,
    ground_tables,
    leg_slews,
    report,
    rigging_checks,
    tandem_report,
    wind_checks,
    working,
)
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.tandem import TandemAssessment, assess_tandem
from liftcalc.lift.tandem_checks import tandem_checks
from liftcalc.records.blocks import format_value
from liftcalc.sheets import _named, job_words
from liftcalc.views import adapters, adapters_elevation, adapters_ground, adapters_rigging
from liftcalc.views.adapters_tandem import share_data, tandem_plan_data

show = partial(format_value, units="metric")
Path = tuple[str | int, ...]


ECHOED = {
    "machines[].carrier.torsional_stiffness_kNm_rad": "the greatest of a rigid carrier, a flexible "
    "one and this stiffness counts: the one between the other two seldom governs",
    "site.boreholes[].easting_m": "printed; asked about where it lies in a zone of other ground",
    "site.boreholes[].northing_m": "printed; asked about where it lies in a zone of other ground",
}
"""Numbers that need only be printed, each with the reason."""


@dataclasses.dataclass(frozen=True)
class Field:
    """One field of the models under the job: ``lifts[].load.mass_t``."""

    key: str
    annotation: Any
    is_list_of_facts: bool


def _models(annotation: Any) -> list[type[Fact]]:
    if isinstance(annotation, type) and issubclass(annotation, Fact):
        return [annotation]
    return [m for a in get_args(annotation) for m in _models(a)]


def fields(model: type[Fact] = Job, before: str = "") -> Iterator[Field]:
    """Every field, automatically from the models: a field added later is among them."""
    for name, info in model.model_fields.items():
        key, inner = f"{before}{name}", _models(info.annotation)
        listed = get_origin(info.annotation) is tuple
        if listed or not inner or NoneType in get_args(info.annotation):
            yield Field(key, info.annotation, bool(inner) and listed)
        for one in dict.fromkeys(inner):
            yield from fields(one, f"{key}[]." if listed else f"{key}.")


def places(data: Any, key: str) -> list[Path]:
    """Where the job's data hold this field."""
    found: list[tuple[Path, Any]] = [((), data)]
    for part in key.split("."):
        name, listed = part.removesuffix("[]"), part.endswith("[]")
        found = [((*p, name), d[name]) for p, d in found if isinstance(d, dict)]
        if listed:
            found = [((*p, k), x) for p, d in found for k, x in enumerate(d or ())]
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
    if field.is_list_of_facts:
        yield from (value[:k] + value[k + 1 :] for k in range(len(value)))
    elif isinstance(value, bool):
        yield not value
    elif literals and not isinstance(value, (list, dict)):
        yield from (x for x in literals if x != value)
    elif isinstance(value, str):
        yield from (x for x in others if x != value)
        yield f"{value}-other"
        yield "2026-06-30"
    elif isinstance(value, int):
        yield from (value + 1, value - 1, 2 * value, value + 20)
    elif isinstance(value, float):
        yield from (
            1.4 * value + 0.1,
            0.7 * value - 0.01,
            1.03 * value + 0.01,
            0.97 * value,
            4 * value,
        )
        yield from (x for x in (0.0, 0.01 * value, 1.0, 0.1, 5.0, 20.0, 90.0) if x != value)
    elif isinstance(value, dict) and value:
        name, one = next(iter(value.items()))
        yield from ({**value, name: x} for x in changes(field, one, others))
    elif isinstance(value, list) and value:
        for by in (lambda x: x + 0.3, lambda x: 0.9 * x, lambda x: x - 0.3, lambda x: 1.2 * x):
            for k in dict.fromkeys((0, len(value) // 2, -1)):
                changed = copy.deepcopy(value)
                changed[k] = _scaled(value[k], by)
                yield changed
            yield _scaled(value, by)
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


COUNTS: tuple[Stage, ...] = (
    lambda a: a.survey,
    lambda a: a.lift,
    lambda a: a.layout,
    lambda a: report.lift_values(a.setup, a.study, a.rigging),
    lambda a: a.ground_rows,
    lambda a: (report.layout_values(a.setup, a.circle), report.ground_values(a.forces, a.ground)),
    lambda a: report.survey_values(a.setup, a.place),
    lambda a: adapters.plan_data(a),
    lambda a: report.leg_room_rows(a.setup, show),
    lambda a: report.critical_rows(report.critical_of(a.setup, a.study)),
    lambda a: rigging_checks.rigging_item_rows(a.rigging, show),
    lambda a: rigging_checks.table_rows(a.rigging, show),
    lambda a: rigging_checks.height_rows(a.setup, a.rigging, show),
    lambda a: wind_checks.wind_limit_rows(a.setup, a.path, a.study.boom, show),
    lambda a: ground_tables.leg_ground_rows(a.ground, show),
    lambda a: ground_tables.settlement_rows(a.ground, show),
    lambda a: ground_tables.shelf_rows(a.setup, a.ground, a.job.mats, show),
    lambda a: edge_slip.set_back_table(a.setup, a.place),
    lambda a: report.line_rows(a.setup, show),
    lambda a: adapters_elevation.elevation_data(a),
    lambda a: adapters_rigging.rigging_data(a),
    lambda a: _ground(a, adapters_ground.leg_mat_data),
    lambda a: _ground(a, adapters_ground.leg_depth_data),
    lambda a: leg_slews.leg_slew_rows(a.setup, leg_slews.leg_slews(a.setup, a.path), show),
    lambda a: working.lift_rows(a.setup, a.study, a.rigging),
    lambda a: working.reaction_rows(a.setup, a.forces) + working.ground_rows(a.setup, a.ground),
)
"""What a fact that counts must change: checks, numbers, drawings; cheapest first."""

WORDS: tuple[Stage, ...] = (
    lambda a: report.title_rows(a.setup),
    lambda a: (job_words(a.job), _named(a.setup.lift)),
    lambda a: report.provenance_rows(a.setup, a.job),
    lambda a: (card.card_headline(a), card.card_rows(a, show), card.card_legs(a, show)),
    lambda a: report.site_instructions(a.setup, a.place, a.ground),
)
"""Where a fact may be repeated without counting."""

TANDEM: tuple[Stage, ...] = (
    tandem_report.tandem_values,
    tandem_checks,
    lambda a: tandem_report.share_rows(a, show),
    lambda a: tandem_report.use_rows(a, show),
    tandem_plan_data,
    share_data,
)
TANDEM_WORDS: tuple[Stage, ...] = (
    lambda a: tandem_report.tandem_rows(a, show),
    lambda a: [report.provenance_rows(m.setup, m.job) for m in a.plumb],
    lambda a: (a.tandem.title, a.tandem.provenance.kind),
)


class Shown:
    """A job as the sheets would show it, each part made when first asked for."""

    def __init__(self, data: Any) -> None:
        self.data = data
        self.job = Job.model_validate_json(json.dumps(data))
        self._made: dict[str, LiftAssessment | TandemAssessment] = {}
        self.part = cache(self._part)

    def assessed(self, id: str) -> LiftAssessment | TandemAssessment:
        if id not in self._made:
            tandem = id in {t.id for t in self.job.tandem_lifts}
            self._made[id] = (
                assess_tandem(self.job, id, steps=20)
                if tandem
                else assess_lift(self.job, id, steps=40)
            )
        return self._made[id]

    def _part(self, id: str, words: bool, stage: int) -> str:
        tandem = id in {t.id for t in self.job.tandem_lifts}
        stages = (TANDEM_WORDS if tandem else WORDS) if words else (TANDEM if tandem else COUNTS)
        return repr(_plain(stages[stage](self.assessed(id))))

    def stages(self, id: str, words: bool) -> int:
        tandem = id in {t.id for t in self.job.tandem_lifts}
        return len((TANDEM_WORDS if tandem else WORDS) if words else (TANDEM if tandem else COUNTS))


def users(job: Job, path: Path) -> list[str]:
    """Lifts that the fact at a place may concern."""
    lifts, tandems = [x.id for x in job.lifts], [t.id for t in job.tandem_lifts]
    match path:
        case ("lifts", int(k), *_):
            return [job.lifts[k].id]
        case ("tandem_lifts", int(k), *_):
            return [job.tandem_lifts[k].id]
        case ("machines", int(k), "counterweights" | "hook_blocks" as part, int(n), *_):
            machine, own = job.machines[k].id, getattr(job.machines[k], part)[n].id
            users = [x for x in job.lifts if x.machine == machine]
            return [x.id for x in users if own in (x.counterweight, x.hook_block)] + tandems
        case ("machines" | "charts" | "confirmations", int(k), *_):
            item = getattr(job, str(path[0]))[k]
            machine = item.id if path[0] == "machines" else item.machine
            weight = None if path[0] == "machines" else item.counterweight
            return [
                x.id
                for x in job.lifts
                if x.machine == machine and weight in (None, x.counterweight)
            ] + ([] if path[0] == "confirmations" else tandems)
        case ("mats", int(k), *_):
            return [id for id in lifts if job.lift(id).mat == job.mats[k].id] or lifts[:2]
        case ("accessories", str(_), int(_), *_):
            own = job.accessories.model_dump()[path[1]][path[2]]["id"]
            using = [id for id in lifts if own in job.lift(id).rigging.model_dump().values()]
            return using or lifts[:1]
    return lifts


def _id(item: Any) -> Any:
    return item.get("id") if isinstance(item, dict) else None


def outcome(base: Shown, field: Field, path: Path, value: Any) -> str:
    """What a change does: "counts", "shown" (a text only), "refused", "" (nothing), or "range".

    "range" is a value outside the field's own range. A refusal that does not say what is wrong
    is "unnamed". Words are looked at for texts and choices only: a number must count.
    """
    data = copy.deepcopy(base.data)
    before = at(data, path)
    at(data, path[:-1])[path[-1]] = value
    gone = (
        [x["id"] for x in before if x not in value and "id" in x] if field.is_list_of_facts else []
    )
    names = [str(path[-1]), str(path[-1]).rsplit("_", 1)[0], str(value), *gone]
    names += [i for n in range(1, len(path)) if isinstance(i := _id(at(data, path[:n])), str)]

    def refused(text: str) -> str:
        return "refused" if any(n in text for n in names) else f"unnamed: {text}"

    try:
        changed = Shown(data)
    except ValidationError as error:
        if all(e["type"] not in ("value_error", "assertion_error") for e in error.errors()):
            return "range"
        return refused(str(input_error(error, data=data)))
    known = {x.id for x in (*changed.job.lifts, *changed.job.tandem_lifts)}
    if path in (("lifts",), ("tandem_lifts",)):
        return "shown"  # a lift the less
    is_text = isinstance(before, str) or isinstance(value, str)
    is_text = is_text or field.is_list_of_facts or field.key in ECHOED
    for words in (True, False) if is_text else (False,):
        for id in users(base.job, path):
            if id not in known:
                return "shown"  # the lift goes by another name, or is gone
            try:
                for k in range(base.stages(id, words)):
                    if base.part(id, words, k) != changed.part(id, words, k):
                        return "shown" if words else "counts"
            except InputError as error:
                return refused(str(error))
    return ""


def best(bases: list[Shown], field: Field, *, most: int = 40) -> tuple[str, str]:
    """The most that any change of a field does in any of the jobs, and where."""
    found: dict[str, str] = {}
    held = [
        (base, path, at(base.data, path))
        for base in reversed(bases)
        for path in places(base.data, field.key)
    ]
    held.sort(key=lambda x: not x[2])  # where the fact is in use first
    others = list({repr(value): value for _, _, value in held}.values())
    tries = [
        [(base, path, new) for new in changes(field, value, others) if new != value]
        for base, path, value in held
    ]
    tried = 0
    for turn in itertools.zip_longest(*tries):  # each place in turn, then the next change
        for base, path, new in filter(None, turn):
            got = outcome(base, field, path, new)
            if got in ("counts", "shown"):
                return got, f"{'.'.join(map(str, path))} = {str(new)[:60]}"
            found.setdefault(
                got.split(":")[0], f"{'.'.join(map(str, path))} = {str(new)[:60]} {got}"
            )
            tried += got != "range"
            if tried >= most:
                break
        if tried >= most:
            break
    for kind in ("refused", "unnamed", ""):
        if kind in found:
            return kind, found[kind]
    return ("range" if "range" in found else "nowhere"), found.get("range", "")
