"""Facts in and out: YAML, JSON, GeoJSON and CSV files, read strictly.

YAML is read by the JSON-compatible core: ``012`` and ``yes`` stay text, duplicate keys and
NaN are refused, so that nothing turns into another number on its way in. Paths in a job may be
absolute or lead upward: a job is written by whoever starts it, and what a file holds is shown only
where it is a known field of a fact.
"""

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

import yaml
from pydantic import ValidationError

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.foreign import visible
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.base import Fact, input_error
from liftcalc.facts.boreholes import boreholes_from_rows
from liftcalc.facts.chart import RatedChart
from liftcalc.facts.confirmation import Confirmation
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Lift
from liftcalc.facts.limits import MOST_FILES
from liftcalc.facts.machine import Machine
from liftcalc.facts.mats import Mat
from liftcalc.facts.plain import fault_of, json_data, read_text, require_few, require_plain, yaml_data
from liftcalc.facts.plan import Plan
from liftcalc.facts.rigging import Accessories
from liftcalc.facts.rule_set import RuleSet
from liftcalc.facts.site import Site
from liftcalc.facts.site_geojson import site_dict_from_geojson
from liftcalc.facts.table_rows import table_rows
from liftcalc.facts.tandem import TandemLift

FACTS: dict[str, type[Fact]] = {
    "machine": Machine, "rated-chart": RatedChart, "confirmation": Confirmation, "mat": Mat,
    "accessories": Accessories, "ground-profile": SurveyedProfile, "site": Site, "lift": Lift,
    "tandem-lift": TandemLift, "rule-set": RuleSet, "plan": Plan, "as-set-up": AsSetUp, "job": Job,
}  # fmt: skip
F = TypeVar("F", bound=Fact)


def read_data(path: str | Path) -> Any:
    """Plain data from a YAML, JSON or GeoJSON file; anything doubtful raises InputError."""
    path = Path(path)
    parse = _PARSERS.get(path.suffix.lower())
    if parse is None:
        raise InputError.of(str(path), path.suffix, ".yaml, .yml, .json or .geojson")
    text = read_text(path)
    try:
        return require_plain(parse(text))
    except InputError as error:
        raise InputError(error.problems, source=str(path)) from None
    except (RecordError, yaml.YAMLError, RecursionError) as error:
        kind = path.suffix[1:].upper()
        words = f"Cannot read {visible(path, 300)} as {kind}: {_fault(error)}"
        raise InputError.of("", None, words) from None


_PARSERS = {".yaml": yaml_data, ".yml": yaml_data, ".json": json_data, ".geojson": json_data}


def _fault(error: Exception) -> str:
    """What is wrong with a text that cannot be parsed, and where."""
    if isinstance(error, yaml.MarkedYAMLError) and error.problem and error.problem_mark:
        mark = error.problem_mark
        return f"{visible(error.problem, 300)} (line {mark.line + 1}, column {mark.column + 1})"
    return visible(" ".join(str(error).removeprefix("JSON: ").split()), 300)


def parse_fact(kind: type[F], data: Any, *, source: str = "") -> F:
    """Validate plain data as a fact; every wrong field is named in one InputError."""
    try:
        return kind.model_validate_json(json.dumps(data))
    except ValidationError as error:
        raise input_error(error, source=source, data=data) from None
    except (TypeError, ValueError, RecursionError) as error:
        raise InputError.of(source or "input", str(error), "plain JSON values") from None


def load_fact(kind: type[F], path: str | Path) -> F:
    """Read and validate one fact from a YAML or JSON file."""
    return parse_fact(kind, read_data(path), source=str(path))


_NUMBER = re.compile(r"[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")


def _cell(text: str) -> Any:
    text = text.strip()
    if text in {"", "true", "false"}:
        return text == "true" if text else None
    number = float(text) + 0.0 if _NUMBER.fullmatch(text) else None  # -0 is 0
    return text if number is None or fault_of(number) else number


_TEXT_COLUMNS = {"id", "title", "machine", "counterweight", "hook_block", "mat"}
_TEXT_COLUMNS |= {"sling", "top_sling", "shackle", "beam", "name", "reference", "sail_reason"}
_CHOICE_COLUMNS = {"mass_basis", "slew_way", "hitch", "leg_lengths", "lug_plate", "wind_basis"}


def _is_text(column: str) -> bool:
    return column.strip().split(".")[-1] in _TEXT_COLUMNS | _CHOICE_COLUMNS


def _value(column: str, raw: Any) -> Any:
    """What a cell of a lift list holds; None where it is empty."""
    if _is_text(column):
        return None if raw is None else str(raw).strip() or None
    value = _cell(raw) if isinstance(raw, str) else raw
    if column.endswith("sling_legs") and isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def lifts_from_rows(
    rows: Sequence[Mapping[str, Any]], *, source: str, provenance: Mapping[str, str]
) -> list[dict[str, Any]]:
    """Nested lift dicts from flat table rows whose columns are dotted (``load.mass_t``).

    An empty cell leaves the field out; deductions are numbered (``deductions.1.mass_t``). Text
    columns stay text (``012`` is not 12). A column that is a field and has fields is refused.
    """
    lifts: list[dict[str, Any]] = []
    for row in rows:
        lift: dict[str, Any] = {"provenance": dict(provenance)}
        for column, raw in row.items():
            value = _value(column.strip(), raw)
            if value is None:
                continue
            *parents, field = column.strip().split(".")
            node = lift
            for part in parents:
                node = node.setdefault(part, {})
                if not isinstance(node, dict):
                    raise InputError.of(column, value, f"no column {part} besides", source=source)
            node[field] = value
        numbered = lift.get("deductions")
        if isinstance(numbered, dict):
            lift["deductions"] = [numbered[key] for key in sorted(numbered)]
        lifts.append(lift)
    return lifts


def _read_lifts(path: Path, provenance: Mapping[str, str]) -> list[dict[str, Any]]:
    if path.suffix.lower() in {".csv", ".xlsx"}:
        table = table_rows(path, is_text=_is_text)
        if table.decimal_comma:
            provenance = {**provenance, "note": f"{provenance['note']}, comma as decimal mark"}
        return lifts_from_rows(table.cells, source=str(path), provenance=provenance)
    data = read_data(path)
    lifts = data.get("lifts") if isinstance(data, dict) else data
    if not isinstance(lifts, list):
        raise InputError.of("lifts", type(lifts).__name__, "a list of lifts", source=str(path))
    return lifts


def _with_boreholes(site: Any, base: Path, name: Any, invented: bool) -> Any:
    """The site with the ground profiles and holes of a table added."""
    if not isinstance(name, str) or not isinstance(site, dict):
        raise InputError.of("boreholes", name, "the name of a CSV or XLSX file")
    path = base / name
    rows = [
        {column: _cell(cell) if isinstance(cell, str) else cell for column, cell in row.items()}
        for row in table_rows(path, is_text=_is_text).cells
    ]
    kind = "invented" if invented else "survey"
    ground, points = boreholes_from_rows(
        rows, source=str(path), provenance={"kind": kind, "note": f"borehole table {name}"}
    )
    return {**site, "ground": [*site.get("ground", ()), *ground], "boreholes": [*site.get("boreholes", ()), *points]}


def _read_site(path: Path) -> Any:
    """Plain data of a site file; a GeoJSON survey is read as one."""
    raw = read_data(path)
    if not (isinstance(raw, dict) and raw.get("type") == "FeatureCollection"):
        return raw
    try:
        return site_dict_from_geojson(raw)
    except InputError as error:
        raise InputError(error.problems, source=str(path)) from None


def _listed(field: str, entries: Any, base: Path, source: Path) -> list[Any]:
    """Items of a job's list: each as it stands, or the file that holds one or several."""
    if not isinstance(entries, (str, list)):
        raise InputError.of(field, entries, "a file name or a list of them", source=str(source))
    require_few(len(entries) * isinstance(entries, list), MOST_FILES, f"{field} of the job")
    items: list[Any] = []
    for entry in [entries] if isinstance(entries, str) else entries:
        held = read_data(base / entry) if isinstance(entry, str) else entry
        items += held if isinstance(held, list) else [held]
    return items


def _accessories(given: Any, base: Path, source: Path) -> Any:
    """Accessories of one file or mapping, or of several together."""
    if not isinstance(given, list):
        return read_data(base / given) if isinstance(given, str) else given
    require_few(len(given), MOST_FILES, "accessories of the job")
    merged: dict[str, list[Any]] = {}
    for entry in given:
        part = read_data(base / entry) if isinstance(entry, str) else entry
        if not isinstance(part, dict) or not all(isinstance(v, list) for v in part.values()):
            raise InputError.of("accessories", entry, "a mapping of lists of accessories", source=str(source))
        for kind, items in part.items():
            merged.setdefault(kind, []).extend(items)
    return merged


def load_job(path: str | Path, *, lifts: str | Path | None = None) -> Job:
    """Read a job file and everything it names; or the ``job`` of an archived inputs.json.

    A job is YAML or JSON: ``id, title, client, invented, rules`` and the file names ``site``, ``machines``, ``charts``,
    ``mats``, ``accessories``, ``lifts`` and, where there are any, ``confirmations``, ``tandem_lifts``, ``rule_sets``,
    ``plan``, ``as_set_up`` and ``boreholes`` (relative to it), or what they hold. *lifts* names a lift list (CSV, XLSX
    or YAML) to use in place of the job's own.
    """
    path = Path(path)
    data = read_data(path)
    if not isinstance(data, dict):
        raise InputError.of(str(path), type(data).__name__, "a mapping of job fields")
    if lifts is not None:
        data = {**data, "lifts": str(Path(lifts).resolve())}
    elif "job" in data and "template" in data:
        return parse_fact(Job, data["job"], source=str(path))
    base = path.resolve().parent
    job = dict(data)
    holes = job.pop("boreholes", None)
    invented = bool(job.get("invented"))
    site = job.get("site")
    source = base / site if isinstance(site, str) else None
    if source is not None:
        job["site"] = _read_site(source)
    if holes is not None:
        job["site"] = _with_boreholes(job.get("site"), base, holes, invented)
    if source is not None:
        parse_fact(Site, job["site"], source=str(source))
    for field in ("plan", "as_set_up"):
        if isinstance(job.get(field), str):
            job[field] = read_data(base / job[field])
    for field in ("machines", "charts", "confirmations", "mats", "tandem_lifts", "rule_sets"):
        job[field] = _listed(field, job.get(field, []), base, path)
    job["accessories"] = _accessories(job.get("accessories", {}), base, path)
    if isinstance(job.get("lifts"), str):
        kind = "invented" if invented else "assumed"
        job["lifts"] = _read_lifts(base / job["lifts"], {"kind": kind, "note": str(data["lifts"])})
    return parse_fact(Job, job, source=str(path))


def json_schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema of every fact, by name."""
    return {name: kind.model_json_schema() for name, kind in FACTS.items()}
