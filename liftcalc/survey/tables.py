"""Site survey from and to tables: CSV and XLSX.

One row is one point. The columns ``easting_m`` and ``northing_m`` are needed; ``level_m`` is the level. Without a
column ``kind`` every row is a spot level. Rows of one ``kind`` and ``id`` are the corners or points of one thing, in
the order of ``point`` (or of the rows). Other columns are fields of the thing, given in its first row; the column
``fields`` holds such fields as JSON.

Numbers are read as they stand, with a point or a comma for decimals, but not both and never with
separators for thousands. Sources: RFC 4180 (CSV).
"""

import csv
import io
import json
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from liftcalc.base import strict_json
from liftcalc.base.errors import InputError, Problem, RecordError
from liftcalc.facts.limits import MOST_POINTS
from liftcalc.facts.plain import require_few
from liftcalc.facts.site import Site
from liftcalc.facts.site_geojson import KINDS, site_dict_to_geojson
from liftcalc.facts.table_rows import is_empty, table_rows
from liftcalc.survey.parts import Feature, Note, Point, SurveyPart, SurveyReport, write_new
from liftcalc.survey.repair import repaired_part

COLUMNS = ("kind", "id", "point", "easting_m", "northing_m", "level_m", "fields")
"""Columns that are written."""

_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?")
_Row = tuple[int, dict[str, Any]]


def _number(value: Any) -> float | None:
    """A number, or None where the cell holds none that is beyond doubt."""
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return float(value) if np.isfinite(value) else None
    text = str(value).strip()
    return float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else None


def _field(value: Any) -> Any:
    """Value of a field: a number where it is one, else true, false, null or text."""
    number = _number(value)
    if number is not None:
        return number
    text = str(value).strip()
    return {"true": True, "false": False, "null": None}.get(text.lower(), text)


def read_table(path: str | Path) -> SurveyPart:
    """Features of a CSV table (comma, semicolon or tab), or of the first sheet of an XLSX file.

    Raises: Unreadable, a column missing, a row of another length than the header, or degrees.
    """
    path = Path(path)
    rows = table_rows(path, is_text=lambda _: True).rows
    require_few(len(rows), MOST_POINTS, f"points of {path.name}")
    if not rows:
        raise InputError.of(str(path), "no rows", "one row or more below the header")
    missing = [c for c in ("easting_m", "northing_m") if c not in rows[0][1]]
    if missing:
        raise InputError.of(
            f"{path.name}, header", list(rows[0][1]), "columns " + " and ".join(missing),
            "Name the columns of the table so.",
        )  # fmt: skip
    note = _decimal_marks(path.name, rows)
    part = _features(path.name, rows)
    return replace(part, report=part.report + SurveyReport(notes=note))


def _decimal_marks(name: str, rows: Sequence[_Row]) -> tuple[Note, ...]:
    """Note on the decimal mark of text numbers; two marks in one table are refused."""
    first: dict[str, str] = {}
    for n, row in rows:
        for column in ("easting_m", "northing_m", "level_m"):
            text = row.get(column)
            if isinstance(text, str) and _NUMBER.fullmatch(text.strip()):
                for mark in (".", ","):
                    if mark in text:
                        first.setdefault(mark, f"{name}, row {n}, {column}")
    if len(first) == 2:
        raise InputError.of(
            first[","], "a comma", f"a point for decimals, as in {first['.']}",
            "One of the two may be a mark for thousands.",
        )  # fmt: skip
    return (Note(name, "comma read as the decimal mark"),) if "," in first else ()


def _features(name: str, rows: Sequence[_Row]) -> SurveyPart:
    groups: dict[tuple[str, str], list[_Row]] = {}
    left_out, problems = [], []
    for n, row in rows:
        kind = "spot level" if is_empty(row.get("kind")) else str(row["kind"]).strip()
        if kind not in KINDS:
            why = f"kind {kind!r} is not known (known: {', '.join(KINDS)})"
            left_out.append(Note(f"{name}, row {n}", why))
            continue
        id = "" if is_empty(row.get("id")) else str(row["id"]).strip()
        single = kind in ("spot level", "borehole") or (kind != "boundary" and not id)
        groups.setdefault((kind, f"{id}\0{n}" if single else id), []).append((n, row))
    features = []
    for (kind, _), members in groups.items():
        feature, wrong = _feature(name, kind, members)
        problems += wrong
        features += [feature] if feature is not None else []
    return repaired_part(features, left_out=left_out, problems=problems, closed=True)


def _feature(name: str, kind: str, members: list[_Row]) -> tuple[Feature | None, list[Problem]]:
    """The feature that these rows make, or what is wrong with them."""
    if all(not is_empty(row.get("point")) for _, row in members) and len(members) > 1:
        order = [_number(row["point"]) for _, row in members]
        if None in order or len(set(order)) != len(order):
            where = f"{name}, row {members[0][0]}, point"
            return None, [Problem(where, order, "numbers, each once")]
        members = [m for _, m in sorted(zip(order, members, strict=True), key=lambda o: o[0] or 0)]
    problems: list[Problem] = []
    points = [_point(f"{name}, row {n}", kind, row, problems) for n, row in members]
    number, first = members[0]
    where = f"{name}, row {number}"
    fields = _fields(where, kind, first, problems)
    if problems:
        return None, problems
    where += f" to {members[-1][0]}" if len(members) > 1 else ""
    return Feature(kind, tuple(points), fields, f"{where} ({kind})"), []


def _point(where: str, kind: str, row: dict[str, Any], problems: list[Problem]) -> Point:
    values = []
    for column in ("easting_m", "northing_m", "level_m"):
        cell = row.get(column)
        if column == "level_m" and is_empty(cell):
            continue
        value = _number(cell)
        if value is None:
            problems.append(Problem(f"{where}, {column}", cell, "a plain number"))
        else:
            values.append(value)
    if kind in ("spot level", "overhead line") and is_empty(row.get("level_m")):
        problems.append(Problem(f"{where}, level_m", "empty", f"a level ({kind})"))
    return tuple(values)


def _fields(where: str, kind: str, row: dict[str, Any], problems: list[Problem]) -> dict[str, Any]:
    """Fields of a feature, from its first row: its own columns, and those held as JSON."""
    fields = {c: _field(v) for c, v in row.items() if c not in COLUMNS and not is_empty(v)}
    if not is_empty(row.get("fields")):
        try:
            more = strict_json.loads(str(row["fields"]))
        except RecordError:
            more = None
        if isinstance(more, dict):
            fields.update(more)
        else:
            problems.append(Problem(f"{where}, fields", row["fields"], "a JSON object"))
    if kind == "spot level":
        return {}
    if kind != "boundary" and not is_empty(row.get("id")):
        fields["id"] = str(row["id"]).strip()
    return fields


def _rows(site: Site) -> list[list[Any]]:
    out: list[list[Any]] = []
    for feature in site_dict_to_geojson(site.model_dump(mode="json"))["features"]:
        fields = dict(feature["properties"])
        kind, id = fields.pop("kind"), fields.pop("id", "")
        coordinates = feature["geometry"]["coordinates"]
        shape = feature["geometry"]["type"]
        points = coordinates
        if shape != "LineString":
            points = coordinates[0][:-1] if shape == "Polygon" else [coordinates]
        for k, point in enumerate(points):
            level = point[2] if len(point) > 2 else ""
            note = json.dumps(fields, ensure_ascii=False) if fields and k == 0 else ""
            out.append([kind, id, k + 1, point[0], point[1], level, note])
    return out


def write_csv(site: Site, path: str | Path) -> Path:
    """Write a site as CSV, one row for each point; an existing file is not overwritten."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows(_rows(site))
    return write_new(path, text.getvalue().encode("utf-8"))


def write_xlsx(site: Site, path: str | Path) -> Path:
    """Write a site as XLSX, one row for each point; an existing file is not overwritten."""
    import openpyxl

    book = openpyxl.Workbook()
    page = book.active
    page.title = "survey"
    page.append(list(COLUMNS))
    for row in _rows(site):
        page.append([None if v == "" else v for v in row])
    page.freeze_panes = "A2"
    content = io.BytesIO()
    book.save(content)
    return write_new(path, content.getvalue())
