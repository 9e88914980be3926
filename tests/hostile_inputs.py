"""Inputs that mean harm or carry a slip of the keyboard: each a file that has to be refused.

Contents: :func:`cases`: by name what makes the input and what of the refusal must be read.
"""

from __future__ import annotations

import copy
import json
import os
import shutil
import socket
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import yaml

from liftcalc.base import resources

ROLES = ("job", "site", "lifts", "machines", "charts", "mats", "accessories", "boreholes",
         "tandem_lifts", "confirmations", "rule_sets", "plan", "as_set_up")  # fmt: skip
SUFFIX = {"site": ".geojson", "lifts": ".csv", "boreholes": ".csv", "lift list": ".xlsx"}


BOMB_MB = int(os.environ.get("LIFTCALC_BOMB_MB", "40"))
"""Megabytes that one text of a workbook unpacks to; 4000 is tried by hand."""


@dataclass(frozen=True)
class Case:
    """Makes files in a folder and gives the command's arguments; *words* stand in the refusal."""

    make: Callable[[Path], list[str]]
    words: str


def demo_job() -> dict[str, Any]:
    """The demo's job file, its file names made absolute."""
    path = resources.demo_job_path()
    job: dict[str, Any] = yaml.safe_load(path.read_text(encoding="utf-8"))

    def whole(value: Any) -> Any:
        if isinstance(value, list):
            return [whole(v) for v in value]
        return str((path.parent / value).resolve()) if isinstance(value, str) else value

    for role in (*ROLES[1:], "rule_sets", "plan", "as_set_up"):
        if role in job:
            job[role] = whole(job[role])
    return job


def demo_file(role: str) -> Path:
    """One file that the demo's job names in this role."""
    given = demo_job()[role]
    return Path(given if isinstance(given, str) else given[0])


def batch(folder: Path, **changed: Any) -> list[str]:
    """Arguments of a batch of the demo's job with these members changed."""
    text = json.dumps({**demo_job(), **changed}, allow_nan=True)
    (folder / "job.json").write_text(text, encoding="utf-8")
    return ["batch", str(folder / "job.json"), "--no-pdf", "--out", str(folder / "out")]


def with_file(folder: Path, role: str, path: Path) -> list[str]:
    """Arguments of a batch whose job names *path* in this role."""
    if role == "job":
        return ["batch", str(path), "--no-pdf", "--out", str(folder / "out")]
    lists = ("machines", "charts", "mats", "confirmations")
    return batch(folder, **{role: [str(path)] if role in lists else str(path)})


def written(folder: Path, role: str, data: str | bytes, suffix: str = "") -> list[str]:
    """Arguments of a batch with a file of this text in this role."""
    path = folder / f"bad{suffix or SUFFIX.get(role, '.yaml')}"
    path.write_bytes(data.encode("utf-8", "surrogatepass") if isinstance(data, str) else data)
    return with_file(folder, role, path)


def _special(what: str, path: Path) -> None:
    if what == "device":
        path.symlink_to("/dev/zero")
    elif what == "pipe":
        os.mkfifo(path)
    elif what == "socket":
        here = os.open(".", os.O_RDONLY)
        try:
            os.chdir(path.parent)  # a socket's path is short
            with socket.socket(socket.AF_UNIX) as end:
                end.bind(path.name)
        finally:
            os.chdir(here)
            os.close(here)
    else:
        path.mkdir()


WORDS = {"device": "not a regular file", "pipe": "not a regular file",
         "socket": "not a regular file", "folder": "it is a folder"}  # fmt: skip


def special(role: str, what: str) -> Case:
    """What is no file, in the place of one."""

    def make(folder: Path) -> list[str]:
        suffix = {"drawing": ".dxf", "survey": ".csv", "mapping": ".yaml", "header": ".yaml",
                  "params": ".yaml", "job.json": ".json", "xlsx": ".xlsx",
                  **SUFFIX}.get(role, ".yaml")  # fmt: skip
        path = folder / f"odd{suffix}"
        _special(what, path)
        out = str(folder / "out.geojson")
        if role in ("drawing", "survey"):
            return ["survey", str(path), "--out", out]
        if role in ("mapping", "header"):
            return ["survey", str(demo_file("site")), f"--{role}", str(path), "--out", out]
        if role == "params":
            return ["run", "lift_check", "--params", str(path), "--out", str(folder / "out")]
        if role == "job.json":
            return parameters(folder, job=str(path))
        return with_file(folder, "lifts" if role == "xlsx" else role, path)

    return Case(make, WORDS[what])


def parameters(folder: Path, **given: Any) -> list[str]:
    """Arguments that run a sheet with these parameters."""
    (folder / "params.json").write_text(json.dumps(given), encoding="utf-8")
    return ["run", "lift_check", "--params", str(folder / "params.json"),
            "--out", str(folder / "out")]  # fmt: skip


def changed(path: tuple[Any, ...], value: Any, role: str = "lifts") -> Callable[[Path], list[str]]:
    """A batch with one value of the demo's facts changed, given as JSON text."""

    def make(folder: Path) -> list[str]:
        facts = json.loads(resources_facts())[role]
        facts = copy.deepcopy(facts)
        node = facts
        for key in path[:-1]:
            node = node[key]
        node[path[-1]] = "@@"
        text = json.dumps({"lifts": facts} if role == "lifts" else facts)
        text = text.replace('"@@"', value if isinstance(value, str) else json.dumps(value))
        return written(folder, role, text, ".json")

    return make


@cache
def resources_facts() -> str:
    """The demo's facts as JSON."""
    from liftcalc.facts.io import load_job

    return load_job(resources.demo_job_path()).model_dump_json()


def table(folder: Path, change: Callable[[Any], None]) -> Path:
    """The demo's lift list as a workbook, changed."""
    from liftcalc.facts.table_rows import table_rows

    cells = table_rows(demo_file("lifts"), is_text=lambda _: True).cells
    book = openpyxl.Workbook()
    page = book.active
    page.append(list(cells[0]))
    for row in cells:
        page.append([_typed(v) for v in row.values()])
    change(page)
    book.save(folder / "lifts.xlsx")
    return folder / "lifts.xlsx"


def _typed(text: str) -> Any:
    try:
        return float(text)
    except ValueError:
        return {"true": True, "false": False, "": None}.get(text, text)


def xlsx(change: Callable[[Any], None]) -> Callable[[Path], list[str]]:
    """A batch with the demo's lift list as a workbook, changed."""
    return lambda folder: with_file(folder, "lifts", table(folder, change))


def repacked(member: str, content: Callable[[bytes], bytes | list[bytes]],
             copies: int = 0) -> Callable[[Path], list[str]]:  # fmt: skip
    """A batch with a workbook one part of which is another."""

    def make(folder: Path) -> list[str]:
        plain = table(folder, lambda page: None)
        bad = folder / "repacked.xlsx"
        with zipfile.ZipFile(plain) as old, zipfile.ZipFile(bad, "w", zipfile.ZIP_DEFLATED) as new:
            names = old.namelist()
            for name in [*names, *([member] if member not in names else [])]:
                data: Any = old.read(name) if name in names else b""
                if name == member:
                    data = content(data)
                with new.open(name, "w", force_zip64=True) as stream:
                    for part in data if isinstance(data, list) else [data]:
                        stream.write(part)
            for k in range(copies):
                new.writestr(f"xl/worksheets/sheet{k + 10}.xml", b"<worksheet/>")
        shutil.move(bad, plain)
        return with_file(folder, "lifts", plain)

    return make


def bomb(data: bytes, megabytes: int) -> list[bytes]:
    """A sheet whose first text cell holds that many megabytes."""
    head, tail = data.split(b"</row>", 1)
    text = b'<c r="CZ1" t="inlineStr"><is><t>'
    return [head, text, *[b"a" * 1_000_000] * megabytes, b"</t></is></c></row>", tail]


def aliases(levels: int = 12) -> str:
    """Some hundred bytes of YAML that stand for ten to the power of *levels* values."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{k}: &a{k} [{', '.join([f'*a{k - 1}'] * 10)}]" for k in range(1, levels)]
    return "\n".join(lines) + "\n"


def survey(folder: Path, name: str, text: str | bytes, *options: str) -> list[str]:
    """Arguments that read one survey."""
    (folder / name).write_bytes(text.encode() if isinstance(text, str) else text)
    return ["survey", str(folder / name), *options, "--out", str(folder / "out.geojson")]


def many_vertices(count: int) -> str:
    """A GeoJSON site whose boundary has that many corners."""
    ring = [[round(100 + k * 1e-3, 3), round(5 + (k % 2) * 1e-3, 3)] for k in range(count)]
    return _geojson([_area("boundary", ring)])


def many_features(kind: str, count: int) -> str:
    """A GeoJSON site with that many features of one kind."""
    if kind == "overhead line":
        shape: Any = {"type": "LineString", "coordinates": [[0.0, 0.0, 9.0], [1.0, 0.0, 9.0]]}
    elif kind == "spot level":
        shape = {"type": "Point", "coordinates": [0.0, 0.0, 3.0]}
    else:
        shape = {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0]]]}
    return _geojson(
        [{"type": "Feature", "geometry": shape, "properties": {"kind": kind, "id": f"x{k}"}}
         for k in range(count)]
    )  # fmt: skip


def _area(kind: str, ring: list[list[float]]) -> dict[str, Any]:
    geometry = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    return {"type": "Feature", "geometry": geometry, "properties": {"kind": kind}}


def _geojson(features: list[Any]) -> str:
    site = json.loads(demo_file("site").read_text(encoding="utf-8"))
    return json.dumps({**site, "features": [*site["features"], *features]})


def drawing(entities: int) -> str:
    """A drawing of that many lines."""
    head = "  0\nSECTION\n  2\nENTITIES\n"
    lines = "".join(f"  0\nLINE\n  8\nL{k % 7}\n 10\n{k}.0\n 20\n0.0\n 11\n{k}.5\n 21\n1.0\n" for k in range(entities))
    return f"{head}{lines}  0\nENDSEC\n  0\nEOF\n"


def blocks(count: int) -> str:
    """A drawing of a block of a hundred texts, that many times."""
    place = "\n 10\n{}.0\n 20\n0.0\n"
    texts = "".join(f"  0\nTEXT\n  8\nL0{place.format(k)} 40\n1.0\n  1\nx\n" for k in range(100))
    refs = "".join(f"  0\nINSERT\n  8\nL0\n  2\nB{place.format(k)}" for k in range(count))
    block = f"  0\nBLOCK\n  8\n0\n  2\nB{place.format(0)}{texts}  0\nENDBLK\n  8\n0\n"
    inside = {"BLOCKS": block, "ENTITIES": refs}.items()
    return "".join(f"  0\nSECTION\n  2\n{n}\n{t}  0\nENDSEC\n" for n, t in inside) + "  0\nEOF\n"


def _csv_of(name: str, value: str) -> Callable[[Path], list[str]]:
    """A batch whose CSV lift list has another text in one cell of its first row."""

    def make(folder: Path) -> list[str]:
        lines = demo_file("lifts").read_text(encoding="utf-8").splitlines()
        cells = lines[1].split(",")
        cells[lines[0].split(",").index(name)] = value
        return written(folder, "lifts", "\n".join([lines[0], ",".join(cells), *lines[2:]]) + "\n")

    return make


def _cell(row: int, column: str, value: Any) -> Callable[[Any], None]:
    def change(page: Any) -> None:
        names = [cell.value for cell in page[1]]
        page.cell(row, names.index(column) + 1).value = value

    return change


def _headed(old: str, new: str) -> Callable[[Any], None]:
    def change(page: Any) -> None:
        names = [cell.value for cell in page[1]]
        page.cell(1, names.index(old) + 1).value = new

    return change


def _mapping(folder: Path) -> str:
    """A mapping file for the layers of :func:`drawing`."""
    path = folder / "mapping.yaml"
    path.write_text("units: m\nlayers: {L0: {kind: area, area_kind: no-overfly}}\n")
    return str(path)


def _machine(mass: str) -> str:
    """The demo's first machine as YAML, with another mass of its carrier."""
    machine = yaml.safe_load(demo_file("machines").read_text(encoding="utf-8"))
    machine["carrier"]["mass_t"] = "@@"
    return yaml.safe_dump(machine).replace("'@@'", mass)


def cases() -> dict[str, Case]:  # long: one line a case
    """Every hostile input by name."""
    places = (*ROLES, "xlsx", "drawing", "survey", "mapping", "header", "params", "job.json")
    found = {f"{what} as {role}": special(role, what) for role in places for what in WORDS}
    mass = (0, "load", "mass_t")
    digits = "9" * 5000
    found |= {
        "workbook, header twice": Case(
            xlsx(_headed("load.cg_x_m", "load.mass_t")), "a name for each column, each once"
        ),
        "workbook, cell in the last corner": Case(
            xlsx(lambda page: page.cell(1048576, 16384, "x")), "XFD1048576"
        ),
        "workbook, cell far right": Case(xlsx(lambda page: page.cell(3, 16384, "x")), "XFD3"),
        "workbook, one text without end": Case(
            repacked("xl/worksheets/sheet1.xml", lambda data: bomb(data, BOMB_MB)), "unpacked"
        ),
        "workbook, one text of 5 MB": Case(
            repacked("xl/worksheets/sheet1.xml", lambda data: bomb(data, 5)), "header"
        ),
        "workbook, shared texts of 30 MB": Case(
            repacked("xl/sharedStrings.xml", lambda data: [
                b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">',
                *[b"<si><t>" + b"a" * 1000 + b"</t></si>"] * 30_000, b"</sst>"]), "unpacked",
        ),
        "workbook, a million shared texts": Case(
            repacked("xl/sharedStrings.xml", lambda data: [
                b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">',
                *[b"<si><t>a</t></si>"] * 1_000_000, b"</sst>"]), "unpacked",
        ),
        "workbook, entities within entities": Case(
            repacked("xl/worksheets/sheet1.xml", lambda data: (
                b"<!DOCTYPE x [<!ENTITY a 'aaaaaaaaaaaaaaaa'>"
                + b"".join(b"<!ENTITY %c '%s'>" % (98 + k, b"&%c;" % (97 + k) * 16)
                           for k in range(8))
                + b"]><worksheet>&i;</worksheet>")), "",
        ),
        "workbook, 5,000 sheets": Case(repacked("xl/styles.xml", lambda d: d, 5000), "parts"),
        "workbook, an integer of 5,000 digits": Case(
            repacked("xl/worksheets/sheet1.xml", lambda data: data.replace(
                b'<c r="A2"', b'<c r="A2"><v>' + digits.encode() + b'</v></c><c r="A2"', 1)),
            "",
        ),
        "aliases in job": Case(lambda f: written(f, "job", aliases()), "values"),
        "aliases in machine": Case(lambda f: written(f, "machines", aliases()), "values"),
        "aliases in params": Case(
            lambda f: [*written(f, "job", aliases())[:0], "run", "lift_check", "--params",
                       written(f, "job", aliases())[1]], "values"
        ),
        "alias of itself": Case(lambda f: written(f, "job", "a: &a [*a]\n"), "alias"),
        "nested lists": Case(lambda f: written(f, "job", "a: " + "[" * 100_000), "nest"),
        "nested mappings": Case(
            lambda f: written(f, "job", "".join(" " * k + "a:\n" for k in range(2000))), "nested"
        ),
        "nested lists in JSON": Case(
            lambda f: written(f, "site", '{"a": ' + "[" * 100_000), "nested"
        ),
        "key twice": Case(lambda f: written(f, "job", "id: a\nid: b\n"), "once"),
        "key twice, far down": Case(
            lambda f: written(f, "job", "id: a\nrules:\n  x: [{b: 1, b: 2}]\n"), "rules.x[0]"
        ),
        "tag that makes an object": Case(
            lambda f: written(f, "job", "id: !!python/object/apply:os.system ['true']\n"), "tag"
        ),
        "tag that makes a number": Case(
            lambda f: written(f, "job", 'id: !!float "nan"\n'), "tag"
        ),
        "merge key": Case(lambda f: written(f, "job", "<<: {id: a}\n"), "<<"),
        "two documents": Case(lambda f: written(f, "job", "a: 1\n---\nb: 2\n"), "document"),
        "12 MB of short lists": Case(
            lambda f: written(f, "job", "a:\n" + "- [1, 2]\n" * 1_300_000), "at most"
        ),
        "a million values": Case(lambda f: written(f, "job", "- 1\n" * 1_000_000), "values"),
        "a text of 5 MB": Case(lambda f: batch(f, title="x" * 5_000_000), "title"),
        "a text of 3 MB in YAML": Case(
            lambda f: written(f, "job", f"title: {'x' * 3_000_000}\n"), "title"
        ),
        "a key of 3 MB": Case(lambda f: written(f, "job", f"? {'x' * 3_000_000}\n: 1\n"), "key"),
        "a CSV cell of 3 MB": Case(_csv_of("title", "x" * 3_000_000), "row 2"),
        "a CSV cell of 100,000 signs": Case(_csv_of("title", "x" * 100_000), "title"),
        "a CSV quote never closed": Case(_csv_of("title", '"x'), "row"),
        "ten million empty CSV cells": Case(
            lambda f: written(f, "lifts", "id,a\n" + ",\n" * 5_000_000), "at most"
        ),
        "an integer of 5,000 digits in JSON": Case(changed(mass, digits), "load.mass_t"),
        "an integer of 5,000 digits in YAML": Case(
            lambda f: written(f, "machines", f"carrier:\n  mass_t: {digits}\n"), "carrier.mass_t"
        ),
        "an integer of 5,000 digits in CSV": Case(_csv_of("load.mass_t", digits), "mass_t"),
        "an integer of 400 digits in JSON": Case(changed(mass, "9" * 400), "load.mass_t"),
        "an integer of 5,000 digits as title": Case(
            changed((0, "title"), digits), "title"
        ),
        "two million vertices": Case(
            lambda f: survey(f, "a.geojson", many_vertices(2_000_000)), "more than the"
        ),
        "two million vertices in a job": Case(
            lambda f: written(f, "site", many_vertices(2_000_000)), "more than the"
        ),
        "60,000 vertices": Case(
            lambda f: survey(f, "a.geojson", many_vertices(60_000)), "at most"
        ),
        "100,000 lines": Case(
            lambda f: survey(f, "a.geojson", many_features("overhead line", 100_000)), "bytes"
        ),
        "100,000 lines in a job": Case(
            lambda f: written(f, "site", many_features("overhead line", 100_000)), "bytes"
        ),
        "20,000 obstacles in a job": Case(
            lambda f: written(f, "site", many_features("obstacle", 20_000)), "at most"
        ),
        "100,000 levels in a table": Case(
            lambda f: survey(f, "a.csv", "easting_m,northing_m,level_m\n"
                             + "".join(f"{k % 300}.0,{k // 300}.0,3.0\n" for k in range(100_000))),
            "at most",
        ),
        "60,000 lines": Case(
            lambda f: survey(f, "a.geojson", many_features("overhead line", 60_000)), "at most"
        ),
        "40,000 texts of blocks": Case(lambda f: survey(f, "a.dxf", blocks(400)), "at most 12,000"),
        "100,000 entities": Case(lambda f: survey(f, "a.dxf", drawing(100_000)), "at most"),
        "300,000 entities": Case(lambda f: survey(f, "a.dxf", drawing(300_000)), "more than the"),
    }  # fmt: skip
    odd = {"1e400": "1e400", "NaN": "NaN", "Infinity": "Infinity", "-Infinity": "-Infinity"}
    found |= {f"mass {k} in JSON": Case(changed(mass, v), "load.mass_t") for k, v in odd.items()}
    small = ("1e-308", "5e-324", "1e-9", "0.0009")
    found |= {f"mass {k}": Case(changed(mass, k), "load.mass_t") for k in (*small, "-0.0", "-0")}
    found |= {f"mass {k} in CSV": Case(_csv_of("load.mass_t", k), "load.mass_t")
              for k in (*small, "nan", "NaN", "inf", "-inf", "Infinity", "1e400", "1_0", "1:30",
                        "0x10", "0o14", "\u0661\u0662", "true", "no")}  # fmt: skip
    found |= {f"mass {v} in a workbook": Case(xlsx(_cell(2, "load.mass_t", v)), "load.mass_t")
              for v in (1e-308, "nan", "1:30", "12 t", True, "1e400")}  # fmt: skip
    found |= {f"YAML number {v}": Case(
        lambda f, v=v: written(f, "machines", _machine(v)), "carrier.mass_t")
        for v in ("012", "0o14", "0x1F", "1:30", "1_000", ".inf", "-.inf", "+.inf", ".INF", ".nan",
                  ".NaN", "nan", "inf", "1e400", "no", "True", "~")}  # fmt: skip
    found |= {f"sign {ord(c):04X} in {'.'.join(map(str, path))}": Case(
        changed(path, json.dumps(f"a{c}b", ensure_ascii=True), role), str(path[-1]))
        for c in ("\x1b", "\x07", "\x7f", "\x9b", "\u202e", "\u2066", "\u200b", "\u200f", "\ufeff",
                  "\u2028", "\u00ad", "\U000e0041", "\u034f", "\u3164")
        for path, role in (((0, "id"), "lifts"), ((0, "title"), "lifts"),
                           ((0, "critical_reason"), "lifts"),
                           ((0, "provenance", "note"), "lifts"),
                           (("name",), "site"), (("provenance", "note"), "site"),
                           ((0, "name"), "machines"))}  # fmt: skip
    found |= {
        f"a line break in {'.'.join(map(str, path))}": Case(changed(path, json.dumps("a\nb"), role), str(path[-1]))
        for path, role in (((0, "title"), "lifts"), (("name",), "site"), ((0, "name"), "machines"))
    }
    found |= {
        "ESC in a key": Case(lambda f: written(f, "job", '"a\\u001b[2J": 1\n'), "key"),
        "ESC in a file name": Case(lambda f: batch(f, site="\x1b[2J.geojson"), "site"),
        "ESC in prepared_by": Case(lambda f: parameters(f, prepared_by="\x1b[2J"), "prepared_by"),
        "ESC as parameter": Case(lambda f: parameters(f, **{"\x1b[2J": "a"}), "key"),
        "ESC in a CSV header": Case(
            lambda f: written(f, "lifts", "id,\x1b[2J\nL1,1\n"), "header"
        ),
        "ESC in a workbook": Case(
            xlsx(_cell(2, "title", "a\u202eb")), "title"
        ),
        "ESC in a mapping": Case(
            lambda f: survey(f, "a.dxf", drawing(2), "--mapping",
                             written(f, "job", '"layers": {"\\u202e": {kind: boundary}}\n')[1]),
            "key",
        ),
        "ESC in a feature": Case(
            lambda f: survey(f, "a.geojson", _geojson([{
                "type": "Feature", "geometry": None, "properties": {"kind": "\u202ex"}}])),
            "features[",
        ),
        "a workbook of half a gigabyte": Case(
            lambda f: written(f, "lifts", b"PK" + bytes(16_000_001), ".xlsx"), "more than the"
        ),
        "a drawing with a circle as wide as the earth's way": Case(
            lambda f: survey(f, "a.dxf", drawing(1).replace(
                "  0\nENDSEC", "  0\nCIRCLE\n  8\nL0\n 10\n0.0\n 20\n0.0\n 40\n1e15\n  0\nENDSEC"),
                "--mapping", _mapping(f)), "coordinates within 1e+07 m"),
        "a drawing of circles that are too many chords": Case(
            lambda f: survey(f, "a.dxf", drawing(1).replace("  0\nENDSEC", "".join(
                f"  0\nCIRCLE\n  8\nL0\n 10\n0.0\n 20\n{k}.0\n 40\n9e5\n" for k in range(99))
                + "  0\nENDSEC"), "--mapping", _mapping(f)), "curves as chords"),
        "a secret in a foreign file": Case(
            lambda f: written(f, "site", '{"password": "hunter2"}', ".json"), "password"
        ),
        "a file of another kind": Case(lambda f: batch(f, site="/etc/passwd"), ".yaml"),
    }  # fmt: skip
    return found
