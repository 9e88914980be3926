"""Facts in and out: YAML, JSON, GeoJSON and CSV files, read strictly.

Contents: :func:`read_data` (plain data from YAML or JSON), :func:`load_fact`,
:func:`load_job`, :func:`json_schemas`.

YAML is read by the JSON-compatible core: ``012`` and ``yes`` stay text, duplicate keys and
NaN are refused, so that nothing turns into another number on its way in.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

import yaml
from pydantic import ValidationError

from liftcalc.base import strict_json
from liftcalc.base.errors import InputError, Problem, RecordError
from liftcalc.facts.base import Fact, input_error
from liftcalc.facts.boreholes import boreholes_from_rows
from liftcalc.facts.chart import RatedChart
from liftcalc.facts.confirmation import Confirmation
from liftcalc.facts.csv_rows import csv_rows
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Lift
from liftcalc.facts.machine import Machine
from liftcalc.facts.mats import Mat
from liftcalc.facts.rigging import Accessories
from liftcalc.facts.site import Site
from liftcalc.facts.site_geojson import site_dict_from_geojson
from liftcalc.facts.tandem import TandemLift
from liftcalc.facts.xlsx_cells import xlsx_cells

__all__ = [
    "FACTS",
    "json_schemas",
    "lifts_from_rows",
    "load_fact",
    "load_job",
    "parse_fact",
    "read_data",
]

FACTS: dict[str, type[Fact]] = {
    "machine": Machine,
    "rated-chart": RatedChart,
    "confirmation": Confirmation,
    "mat": Mat,
    "accessories": Accessories,
    "ground-profile": SurveyedProfile,
    "site": Site,
    "lift": Lift,
    "tandem-lift": TandemLift,
    "job": Job,
}
F = TypeVar("F", bound=Fact)
MAX_BYTES = 64 * 1024 * 1024


class _CoreLoader(yaml.SafeLoader):
    """YAML 1.2 core schema for scalars; duplicate keys are refused."""


_CoreLoader.yaml_implicit_resolvers = {}
for _tag, _pattern, _first in (
    ("bool", r"^(?:true|false)$", "tf"),
    ("null", r"^(?:~|null|)$", ["~", "n", ""]),
    ("int", r"^[-+]?(?:0|[1-9][0-9]*)$", "-+0123456789"),
    (
        "float",
        r"^[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?$|^[-+]?\.inf$|^\.nan$",
        "-+0123456789.",
    ),
):
    _CoreLoader.add_implicit_resolver(
        f"tag:yaml.org,2002:{_tag}", re.compile(_pattern), list(_first)
    )


def _mapping(loader: _CoreLoader, node: yaml.MappingNode) -> dict[Any, Any]:
    result: dict[Any, Any] = {}
    for key_node, value_node in node.value:
        key = loader.construct_object(key_node, deep=True)
        if not isinstance(key, str):
            raise InputError.of("key", key, "text", source=str(key_node.start_mark))
        if key in result:
            raise InputError.of("key", key, "given once", source=str(key_node.start_mark))
        result[key] = loader.construct_object(value_node, deep=True)
    return result


_CoreLoader.add_constructor("tag:yaml.org,2002:map", _mapping)


def _read_text(path: Path) -> str:
    try:
        if path.stat().st_size > MAX_BYTES:
            raise InputError.of(str(path), f"{path.stat().st_size} bytes", f"at most {MAX_BYTES}")
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError.of(
            str(path), f"byte {error.start}", "UTF-8 text", "Save it again as CSV UTF-8 or UTF-8."
        ) from None
    except (OSError, ValueError) as error:  # ValueError: a name no system accepts (null byte)
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError.of(str(path)[:200], reason, "a readable file") from None


def read_data(path: str | Path) -> Any:
    """Plain data from a YAML, JSON or GeoJSON file; anything doubtful raises InputError."""
    path = Path(path)
    text = _read_text(path)
    try:
        if path.suffix.lower() in {".json", ".geojson"}:
            return strict_json.loads(text)
        if path.suffix.lower() in {".yaml", ".yml"}:
            return yaml.load(text, Loader=_CoreLoader)
    except InputError as error:
        raise InputError(error.problems, source=str(path)) from None
    except (RecordError, yaml.YAMLError, RecursionError) as error:
        detail = str(error).removeprefix("JSON: ").replace("\n", " ")
        raise InputError.of(str(path), detail, f"well-formed {path.suffix[1:].upper()}") from None
    raise InputError.of(str(path), path.suffix, ".yaml, .yml, .json or .geojson")


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


def _cell(text: str) -> Any:
    text = text.strip()
    if text == "":
        return None
    if text in {"true", "false"}:
        return text == "true"
    try:
        value = float(text)
    except ValueError:
        return text
    if not math.isfinite(value) or text != text.strip("_") or "_" in text:
        return text
    return value


_TEXT_COLUMNS = {"id", "title", "machine", "counterweight", "hook_block", "mat"}
_TEXT_COLUMNS |= {"sling", "top_sling", "shackle", "beam", "name", "reference", "sail_reason"}
_CHOICE_COLUMNS = {"mass_basis", "slew_way", "hitch", "leg_lengths", "lug_plate", "wind_basis"}


def _is_text(column: str) -> bool:
    return column.strip().split(".")[-1] in _TEXT_COLUMNS | _CHOICE_COLUMNS


def lifts_from_rows(
    rows: Sequence[Mapping[str, Any]], *, source: str, provenance: Mapping[str, str]
) -> list[dict[str, Any]]:
    """Nested lift dicts from flat table rows whose columns are dotted (``load.mass_t``).

    An empty cell leaves the field out; deductions are numbered (``deductions.1.mass_t``). Text
    columns stay text (``012`` is not 12).
    """
    lifts: list[dict[str, Any]] = []
    problems: list[Problem] = []
    for n, row in enumerate(rows, start=2):
        lift: dict[str, Any] = {"provenance": dict(provenance)}
        for column, raw in row.items():
            if column is None or (raw is None and column not in row):
                continue
            if not isinstance(column, str) or isinstance(raw, list):
                problems.append(Problem(f"row {n}", raw, "as many cells as the header"))
                continue
            parts = column.strip().split(".")
            text_field = _is_text(column)
            value = raw
            if isinstance(raw, str):
                value = (raw.strip() or None) if text_field else _cell(raw)
            elif text_field and raw is not None:
                value = str(raw)
            if value is None:
                continue
            if parts[-1] == "sling_legs" and isinstance(value, float) and value.is_integer():
                value = int(value)
            node = lift
            for part in parts[:-1]:
                node = node.setdefault(part, {})
            node[parts[-1]] = value
        numbered = lift.get("deductions")
        if isinstance(numbered, dict):
            lift["deductions"] = [numbered[key] for key in sorted(numbered)]
        lifts.append(lift)
    if problems:
        raise InputError(problems, source=source)
    return lifts


def _read_lifts(path: Path, provenance: Mapping[str, str]) -> list[dict[str, Any]]:
    suffix = path.suffix.lower()
    if suffix == ".csv":
        rows, comma = csv_rows(path, _read_text(path), is_text=_is_text)
        if comma:
            provenance = {**provenance, "note": f"{provenance['note']}, comma as decimal mark"}
        table = [row for _, row in rows]
        return lifts_from_rows(table, source=str(path), provenance=provenance)
    if suffix == ".xlsx":
        return lifts_from_rows(_xlsx_rows(path), source=str(path), provenance=provenance)
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
    suffix = path.suffix.lower()
    if suffix == ".csv":
        rows = [
            {k: _cell(v) if isinstance(v, str) else v for k, v in row.items()}
            for _, row in csv_rows(path, _read_text(path), is_text=_is_text)[0]
        ]
    elif suffix == ".xlsx":
        rows = _xlsx_rows(path)
    else:
        raise InputError.of(str(path), suffix, ".csv or .xlsx")
    kind = "invented" if invented else "survey"
    ground, points = boreholes_from_rows(
        rows, source=str(path), provenance={"kind": kind, "note": f"borehole table {name}"}
    )
    return {
        **site,
        "ground": [*site.get("ground", ()), *ground],
        "boreholes": [*site.get("boreholes", ()), *points],
    }


def _xlsx_rows(path: Path) -> list[dict[str, Any]]:
    table = xlsx_cells(path)
    if not table:
        raise InputError.of(str(path), "empty sheet", "a header row and one row a lift")
    header = [str(h) if h is not None else None for h in table[0]]
    return [
        {h: v for h, v in zip(header, r, strict=True) if h is not None}
        for r in table[1:]
        if any(v is not None for v in r)
    ]


def load_job(path: str | Path, *, lifts: str | Path | None = None) -> Job:
    """Read a job file and everything it names; or the ``job`` of an archived inputs.json.

    *lifts* names a lift list (CSV, XLSX or YAML) to use in place of the job's own.

    The job file is YAML or JSON: ``id, title, client, invented, rules`` and the file names
    ``site``, ``machines``, ``charts``, ``mats``, ``accessories``, ``lifts`` and, where there are
    any, ``confirmations``, ``tandem_lifts`` and ``boreholes`` (relative to it; see
    :mod:`liftcalc.facts.boreholes`).
    A value given in place of a file name is taken as it stands.
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

    def resolve(value: Any) -> Any:
        return read_data(base / value) if isinstance(value, str) else value

    job = dict(data)
    holes = job.pop("boreholes", None)
    if isinstance(job.get("site"), str):
        name = job["site"]
        raw = read_data(base / name)
        is_geojson = isinstance(raw, dict) and raw.get("type") == "FeatureCollection"
        try:
            job["site"] = site_dict_from_geojson(raw) if is_geojson else raw
        except InputError as error:
            raise InputError(error.problems, source=str(base / name)) from None
        if holes is not None:
            job["site"] = _with_boreholes(job["site"], base, holes, bool(job.get("invented")))
        parse_fact(Site, job["site"], source=str(base / name))
    for field in ("machines", "charts", "confirmations", "mats", "tandem_lifts"):
        items: list[Any] = []
        entries = job.get(field, [])
        if not isinstance(entries, (str, list)):
            raise InputError.of(field, entries, "a file name or a list of them", source=str(path))
        for entry in [entries] if isinstance(entries, str) else entries:
            found = resolve(entry)
            items += found if isinstance(found, list) else [found]
        job[field] = items
    accessories = job.get("accessories", {})
    if isinstance(accessories, list):
        merged: dict[str, list[Any]] = {}
        for entry in accessories:
            found = resolve(entry)
            if not isinstance(found, dict) or not all(isinstance(v, list) for v in found.values()):
                raise InputError.of(
                    "accessories", entry, "a mapping of lists of accessories", source=str(path)
                )
            for key, value in found.items():
                merged.setdefault(key, []).extend(value)
        accessories = merged
    job["accessories"] = resolve(accessories)
    if isinstance(job.get("lifts"), str):
        kind = "invented" if job.get("invented") else "assumed"
        job["lifts"] = _read_lifts(base / job["lifts"], {"kind": kind, "note": str(data["lifts"])})
    return parse_fact(Job, job, source=str(path))


def json_schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema of every fact, by name."""
    return {name: kind.model_json_schema() for name, kind in FACTS.items()}
