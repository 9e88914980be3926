"""Generated bad inputs through the command line and the templates: no traceback, ever.

``LIFTCALC_BAD_INPUTS`` sets how many (240 by default, 10,000 for the full count). Every input must
end in a clear message and an exit code of the contract, or in a sheet.
"""

from __future__ import annotations

import contextlib
import copy
import importlib.util
import io
import json
import os
import random
import re
import resource
import string
import sys
import zipfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import yaml

from liftcalc import cli
from liftcalc.base import resources
from liftcalc.base.errors import LiftcalcError
from liftcalc.facts.io import load_job, read_data
from liftcalc.survey.convert import convert

COUNT = int(os.environ.get("LIFTCALC_BAD_INPUTS", "240"))
Gen = Callable[[random.Random], Any]


def _beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


hostile = _beside("hostile_inputs")
HOSTILE = hostile.cases()
MEMORY = 500_000_000

ODD: list[Any] = [
    float("nan"),
    float("inf"),
    -float("inf"),
    -1,
    0,
    1e308,
    12000,
    -0.0,
    10**400,
    True,
    None,
    "",
    " ",
    "nan",
    "12",
    "1,5",
    "../../etc/passwd",
    "/",
    ".",
    "a\x00b",
    "a\nb",
    "\ud800",
    "é" * 50,
    "x" * 5000,
    "{{7*7}}",
    "$(touch x)",
    "'; DROP",
    "<script>",
    [],
    {},
    [1, 2],
    {"a": 1},
    [[[[]]]],
    "L1",
    "2026-05-01",
    1e-308,
    5e-324,
    -1e-308,
    "1e400",
    "1:30",
    "a\x1b[2Jb",
    "a\x9bb",
    "a\u202eb",
    "a\u200bb",
    "x" * 50_000,
]
RAW = ["9" * 5000, "1e400", "-0", "-0.0", ".nan", "NaN", "Infinity", "012", "1:30", "no", "*x",
       "&a [*a]", "&b b", "!!python/name:os.system ''", "<<", "1e-400", "0x10",
       "[" * 200]  # fmt: skip
"""Written as they stand in place of a number."""


def _odd(rng: random.Random) -> Any:
    kind = rng.randrange(5)
    if kind == 0:
        return rng.uniform(-1e6, 1e6)
    if kind == 1:
        return "".join(rng.choice(string.printable) for _ in range(rng.randrange(30)))
    if kind == 2:
        return rng.randrange(-(10**9), 10**9)
    return copy.deepcopy(rng.choice(ODD))


def _places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from _places(inner, (*path, key))


def _mutated(rng: random.Random, value: Any) -> Any:
    """The value with one to three places changed, dropped, doubled or renamed."""
    value = copy.deepcopy(value)
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        places = list(_places(value))
        if not places:
            return _odd(rng)
        *path, last = rng.choice(places)
        parent = value
        for key in path:
            parent = parent[key]
        action = rng.randrange(6)
        if action == 0:
            del parent[last]
        elif action == 1 and isinstance(parent, dict):
            parent[f"{last}x"] = parent.pop(last)
        elif action == 2 and isinstance(parent[last], (int, float)):
            parent[last] = parent[last] * rng.choice((-1, 0, 1e-9, 10, 1000, 1e6, 1e300))
        elif action == 3 and isinstance(parent, list):
            parent.append(copy.deepcopy(parent[last]))
        else:
            parent[last] = _odd(rng)
    return value


def _text(rng: random.Random, value: Any) -> bytes:
    """The value as YAML or JSON text, now and then spoiled."""
    try:
        text = json.dumps(value) if rng.random() < 0.5 else yaml.safe_dump(value, allow_unicode=True)
        data = text.encode("utf-8", "surrogatepass")
    except (yaml.YAMLError, ValueError, TypeError):
        data = repr(value).encode("utf-8", "surrogatepass")
    if rng.random() < 0.1 and (numbers := list(re.finditer(rb"[0-9]+(?:\.[0-9]+)?", data))):
        found = rng.choice(numbers)
        data = data[: found.start()] + rng.choice(RAW).encode() + data[found.end() :]
    if rng.random() < 0.15:
        spoiled = bytearray(data or b"x")
        for _ in range(rng.randrange(1, 4)):
            spoiled[rng.randrange(len(spoiled))] = rng.randrange(256)
        data = bytes(spoiled)
    return data


def _run(arguments: list[str]) -> tuple[int, str]:
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        code = cli.main(arguments)
    return code, out.getvalue()


def _accept(code: int, text: str, arguments: object) -> None:
    assert code in (0, 1, 2, 3), (code, arguments)
    assert "Traceback (most recent" not in text, (arguments, text)
    assert 'File "' not in text, (arguments, text)
    assert "fault of the program" not in text, (arguments, text)
    assert text.strip(), arguments


_COMMANDS = ["run", "batch", "recheck", "register", "sign", "pdf", "schema", "lab", "demo", "x", ""]
_OPTIONS = [
    "--params",
    "--workers",
    "--timeout",
    "--rtol",
    "--atol",
    "--checker",
    "--since",
    "--until",
    "--state",
    "--verdict",
    "--revision",
    "--units",
    "--lift",
    "--lifts",
    "--key",
    "--role",
    "--name",
    "--revises",
    "--csv",
    "--html",
    "--bogus",
    "--kind",
    "--prepared-by",
]


def _argument(rng: random.Random) -> str:
    value = _odd(rng)
    text = value if isinstance(value, str) else str(value)
    return text.encode("utf-8", "replace").decode("utf-8")[:400].replace("\x00", "0")


def test_bad_command_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    rng = random.Random(1)
    for _ in range(COUNT // 4):
        command = rng.choice(_COMMANDS)
        arguments = [command, *(_argument(rng) for _ in range(rng.randrange(3)))]
        for _ in range(rng.randrange(3)):
            arguments += [rng.choice(_OPTIONS), _argument(rng)]
        if command in {"lab", "demo"}:
            arguments = [command, "--bogus", *arguments[1:]]  # a good one would start work
        if command == "batch" and len(arguments) > 1:
            arguments[1] = f"no-{arguments[1]}".replace("/", "-")[:50]
        _accept(*_run(arguments), arguments)


def test_bad_parameter_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    rng = random.Random(2)
    good = {"job": "", "lift": "L1", "parent": "", "units": "metric", "revision": "A"}
    names = [*good, "results_file", "prepared_by", "lifts", "Job", "extra"]
    for number in range(COUNT // 4):
        # One value that no sheet takes, whatever else is wrong.
        given: Any = {**good, rng.choice(("lift", "units", "revision")): ["wrong"]}
        for _ in range(rng.randrange(3)):
            given[rng.choice(names)] = _odd(rng)
        if not any(isinstance(given[k], list) for k in ("lift", "units", "revision")):
            given["units"] = {"wrong": 1}
        if rng.random() < 0.1:
            given = _odd(rng) if rng.random() < 0.5 else [given]
            given = given if not isinstance(given, dict) else [given]
        path = tmp_path / f"p{number % 7}{rng.choice(('.yaml', '.json', '.yml', '.txt', ''))}"
        path.write_bytes(_text(rng, given))
        template = rng.choice([*resources.CHAIN, "no_such", "../x", ""])
        arguments = ["run", template, "--params", str(path), "--out", str(tmp_path / "out")]
        code, text = _run(arguments)
        _accept(code, text, path.read_bytes()[:300])
        assert code == 2, (code, text, path.read_bytes()[:300])
    assert not (tmp_path / "out").exists() or not any((tmp_path / "out").iterdir())


@pytest.fixture(scope="module")
def job() -> dict[str, Any]:
    found = load_job(resources.demo_job_path()).for_lift("L2")
    plain: dict[str, Any] = json.loads(found.model_dump_json())
    measured = read_data(resources.demo_job_path().with_name("as_set_up.yaml"))
    return {**plain, "as_set_up": {**measured, "lift": "L2"}}


def _cells(template: str) -> list[str]:
    notebook = json.loads(resources.template_path(template).read_text(encoding="utf-8"))
    return ["".join(c["source"]) for c in notebook["cells"] if c["cell_type"] == "code"]


def _run_template(template: str, given: dict[str, Any]) -> str:
    """Run a template's cells as a kernel would; returns the error's words, empty if none."""
    space: dict[str, Any] = {}
    words = ""
    with contextlib.redirect_stdout(io.StringIO()):
        first, *rest = _cells(template)
        exec(compile(first, template, "exec"), space)
        space.update(given)
        try:
            for source in rest:
                exec(compile(source, template, "exec"), space)
        except LiftcalcError as error:
            words = str(error) or "an error without words"
    assert words != "an error without words"
    return words


def test_bad_facts_through_the_templates(job: dict[str, Any], tmp_path: Path) -> None:
    """A changed fact is refused by name, or gives a sheet; nothing else may come out."""
    from IPython.core.interactiveshell import InteractiveShell

    InteractiveShell.clear_instance()
    rng = random.Random(3)
    refused = 0
    total = COUNT // 2
    crashed: list[str] = []
    templates = [*resources.CHAIN, "as_set_up"]
    for number in range(total):
        path = tmp_path / f"job{number % 5}{rng.choice(('.json', '.json', '.yaml'))}"
        path.write_bytes(_text(rng, _mutated(rng, job)))
        template = templates[number % len(templates)]
        given = {"job": str(path), "lift": "L2", "units": rng.choice(("metric", "us"))}
        try:
            refused += bool(_run_template(template, given))
        except Exception as error:
            kept = Path(os.environ.get("LIFTCALC_KEEP", str(tmp_path)))
            (kept / f"bad-{number}{path.suffix}").write_bytes(path.read_bytes())
            crashed.append(f"{template}, input {number}: {error!r}")
    assert crashed == []
    assert refused > total // 3


def _limited(arguments: list[str], folder: Path) -> tuple[int, str, int]:
    """Exit code, words and resident bytes of a command in a process of its own, in bounds."""
    said = folder / "said.txt"
    child = os.fork()
    if child == 0:  # pragma: no cover
        code = 99
        try:
            resource.setrlimit(resource.RLIMIT_AS, (3 << 30, 3 << 30))
            resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
            os.chdir(folder)
            code, text = _run(arguments)
            said.write_text(text, encoding="utf-8", errors="surrogateescape")
        finally:
            os._exit(code)
    _, status, used = os.wait4(child, 0)
    text = said.read_text(encoding="utf-8", errors="surrogateescape") if said.exists() else ""
    scale = 1 if sys.platform == "darwin" else 1024
    return os.waitstatus_to_exitcode(status), text, used.ru_maxrss * scale


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes with limits of their own")
@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_input_is_refused_in_few_words_and_little_memory(name: str, tmp_path: Path) -> None:
    case = HOSTILE[name]
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    code, text, resident = _limited(case.make(tmp_path), tmp_path)
    assert code == 2, text[:500]
    assert case.words in text, text[:500]
    assert "fault of the program" not in text, text[:500]
    assert len(text) < 2000, text[:500]
    assert text.replace("\n", "").isprintable(), ascii(text[:500])
    assert "hunter2" not in text
    assert resident < before + MEMORY
    assert not (tmp_path / "out").exists()
    assert not (tmp_path / "out.geojson").exists()


def test_a_job_that_only_looks_odd_is_read_as_meant(tmp_path: Path) -> None:
    """What the hostile ones are changed from, and what they must not be mistaken for."""
    path = tmp_path / "job.yaml"
    given = hostile.demo_job()
    given["title"], given["client"] = "012", "no"
    given["lifts"] = str(hostile.table(tmp_path, lambda page: None))
    text = yaml.safe_dump(given).replace("'012'", "012").replace("client: 'no'", "client: no")
    assert "title: 012\n" in text
    assert "client: no\n" in text
    anchored = text.replace("invented: true", "invented: true\nconfirmations: []")
    path.write_text(anchored if "confirmations" not in given else text, encoding="utf-8")
    found, plain = load_job(path), load_job(resources.demo_job_path())
    assert (found.title, found.client) == ("012", "no")
    assert [x.load.mass_t for x in found.lifts] == [x.load.mass_t for x in plain.lifts]


def _spoiled(rng: random.Random, data: bytes) -> bytes:
    changed = bytearray(data)
    for _ in range(rng.randrange(1, 6)):
        at = rng.randrange(len(changed))
        piece = rng.choice([b"", b"\x00", b'"', b",", b";", b"\n", bytes([rng.randrange(256)]),
                            rng.choice(RAW).encode(), b"\xe2\x80\xae"])  # fmt: skip
        changed[at : at + rng.randrange(3)] = piece
    return bytes(changed)


def _refused_or_taken(read: Callable[[], Any], what: object) -> bool:
    try:
        read()
    except LiftcalcError as error:
        words = str(error)
        assert words.strip(), what
        assert words.replace("\n", "").isprintable(), (what, ascii(words[:300]))
        assert len(words) < 40_000, what
        return True
    return False


def test_bad_tables_and_surveys(tmp_path: Path) -> None:
    """Lift lists, drawings, tables and GeoJSON with some bytes changed: refused, or taken."""
    rng = random.Random(4)
    lifts = hostile.demo_file("lifts").read_bytes()
    book = hostile.table(tmp_path, lambda page: None)
    site, whole = hostile.demo_file("site"), tmp_path / "site.dxf"
    convert([site], whole)
    convert([site], tmp_path / "site.csv")
    header = tmp_path / "header.json"
    document = json.loads(site.read_text(encoding="utf-8"))["site"]
    header.write_text(json.dumps(document), encoding="utf-8")
    sources = [site.read_bytes(), whole.read_bytes(), (tmp_path / "site.csv").read_bytes()]
    refused = 0
    for number in range(max(COUNT // 8, 12)):
        kind = number % 5
        if kind == 0:
            path = tmp_path / "bad.csv"
            path.write_bytes(_spoiled(rng, lifts))
        elif kind == 1:
            path = tmp_path / "bad.xlsx"
            with zipfile.ZipFile(book) as old, zipfile.ZipFile(path, "w") as new:
                for name in old.namelist():
                    data = old.read(name)
                    new.writestr(name, _spoiled(rng, data) if "sheet1" in name else data)
        else:
            path = tmp_path / f"bad{('.geojson', '.dxf', '.csv')[kind - 2]}"
            path.write_bytes(_spoiled(rng, sources[kind - 2]))
        out = tmp_path / f"out{number}.geojson"
        read: Callable[[], Any] = partial(load_job, resources.demo_job_path(), lifts=path)
        if kind >= 2:
            read = partial(convert, [path], out, header=header if kind > 2 else None)
        refused += _refused_or_taken(read, path.read_bytes()[:200])
    assert refused
