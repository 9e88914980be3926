"""Change one constant, sign or comparison at a time, and see whether a test notices.

    python tests/mutation/mutate.py --count 300            # a fresh map of tests, then 300 changes
    python tests/mutation/mutate.py --count 50 --only liftcalc/lift/card.py --map tests.map

First every test is run once, to learn which tests execute which line. Then each change is made in
a copy of the package, and the tests that execute its line are run, the most particular first,
until one fails. What no test notices is listed with its line, so that a test can be written.

The choice is drawn by seed; files of ``FIRST`` (what the crew reads) are changed wholly before the
rest is drawn. Changes that alter nothing a reader or a limit can show stand in ``equivalent.txt``
beside this script, one a line, with the reason; they are not counted.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import json
import multiprocessing
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from multiprocessing.queues import Queue
from pathlib import Path

ROOT = Path(__file__).parents[2]
EQUIVALENT = Path(__file__).parent / "equivalent.txt"
FIRST = ("liftcalc/lift/card.py",)
LEFT_OUT = ("views", "panels", "records", "run", "facts", "survey", "__init__", "cli", "handbook",
            "resources", "sheets", "errors")  # fmt: skip
"""Not calculation, nor what the crew reads: drawings, files and the running of sheets."""
TESTS = [
    "tests", "--ignore=tests/browser", "--ignore=tests/records", "--ignore=tests/run",
    "--ignore=tests/panels", "--ignore=tests/test_wheel.py", "--ignore=tests/test_bad_inputs.py",
    "--ignore=tests/test_docstrings.py", "--ignore=tests/test_notebooks.py",
]  # fmt: skip
LIBRARIES = (
    "pytest", "hypothesis", "numpy", "scipy.optimize", "scipy.integrate", "scipy.stats",
    "scipy.interpolate", "shapely", "pydantic", "yaml", "pandas", "matplotlib.figure", "openpyxl",
)  # fmt: skip
"""Loaded once, not once a change."""
TOLERANCE = 1e-5
"""Constants smaller than this are tolerances of rounding."""

COMPARE = {ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt,
           ast.Eq: ast.NotEq, ast.NotEq: ast.Eq}  # fmt: skip
BINARY = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
EXTREME = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum",
           "argmin": "argmax", "argmax": "argmin", "fmax": "fmin", "fmin": "fmax"}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change: where, and the text of the line's node before and after."""

    file: str
    line: int
    start: int
    end_line: int
    end: int
    before: str
    after: str

    @property
    def name(self) -> str:
        """Stable as long as the line's text is."""
        return f"{self.file}: {self.before} -> {self.after}"


def _changes(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in COMPARE:
        yield ast.Compare(node.left, [COMPARE[type(node.ops[0])]()], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in BINARY:
        text = (node.left, node.right)
        if not any(isinstance(t, ast.JoinedStr | ast.List | ast.Tuple) for t in text) and not any(
            isinstance(t, ast.Constant) and isinstance(t.value, str) for t in text
        ):
            yield ast.BinOp(node.left, BINARY[type(node.op)](), node.right)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        if not isinstance(node.operand, ast.Constant) or node.operand.value != 1:
            yield node.operand
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield node.operand
    elif isinstance(node, ast.Call):
        called = node.func
        name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
        if name in EXTREME:
            new: ast.expr = (
                ast.Attribute(called.value, EXTREME[name], ast.Load())
                if isinstance(called, ast.Attribute)
                else ast.Name(EXTREME[name], ast.Load())
            )
            yield ast.Call(new, node.args, node.keywords)
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        value = node.value
        if isinstance(value, float) and abs(value) > TOLERANCE and value not in (1.0, 2.0):
            yield ast.Constant(round(value * 1.2, 12))
            yield ast.Constant(round(value * 0.8, 12))


def mutants_of(file: Path) -> list[Mutant]:
    """Every change of one file, outside docstrings, annotations, indices and format texts."""
    source = file.read_text(encoding="utf-8")
    tree = ast.parse(source)
    raw = source.encode("utf-8").split(b"\n")
    skipped: set[int] = set()
    for node in ast.walk(tree):
        parts: list[ast.AST | None] = []
        if isinstance(node, ast.Subscript):
            parts.append(node.slice)
        if isinstance(node, ast.AnnAssign | ast.arg):
            parts.append(node.annotation)
        if isinstance(node, ast.FunctionDef):
            parts += [node.returns, *node.decorator_list]
        if isinstance(node, ast.FormattedValue):
            parts.append(node.format_spec)
        if isinstance(node, ast.Raise):
            parts.append(node)
        for part in parts:
            if part is not None:
                skipped |= {id(n) for n in ast.walk(part)}
    name = file.relative_to(ROOT).as_posix()
    found = []
    for node in ast.walk(tree):
        if id(node) in skipped or not hasattr(node, "lineno"):
            continue
        changes = list(_changes(node))
        if not changes:
            continue
        first, last = node.lineno - 1, (node.end_lineno or node.lineno) - 1
        text = b"\n".join(raw[first : last + 1])
        tail = len(raw[last]) - (node.end_col_offset or 0)
        before = text[node.col_offset : len(text) - tail].decode("utf-8")
        for new in changes:
            after = ast.unparse(ast.fix_missing_locations(new))
            found.append(
                Mutant(
                    name, node.lineno, node.col_offset, node.end_lineno or node.lineno,
                    node.end_col_offset or 0, " ".join(before.split()), f"({after})",
                )
            )  # fmt: skip
    return found


def with_change(source: str, mutant: Mutant) -> str:
    """The file's text with one node replaced (columns count bytes)."""
    lines = source.encode("utf-8").split(b"\n")
    first, last = mutant.line - 1, mutant.end_line - 1
    head, tail = lines[first][: mutant.start], lines[last][mutant.end :]
    lines[first : last + 1] = [head + mutant.after.encode("utf-8") + tail]
    return b"\n".join(lines).decode("utf-8")


def choose(count: int, seed: int, only: list[str]) -> list[Mutant]:
    """Files of ``FIRST`` wholly, then as many from every other room as its share of lines."""
    files = [
        f
        for f in sorted((ROOT / "liftcalc").rglob("*.py"))
        if not any(part in LEFT_OUT for part in f.relative_to(ROOT / "liftcalc").with_suffix("").parts)
    ]
    if only:
        files = [f for f in files if any(f.relative_to(ROOT).as_posix().startswith(o) for o in only)]
    known = set()
    if EQUIVALENT.exists():
        known = {line.split("  # ")[0].strip() for line in EQUIVALENT.read_text().splitlines()}
    every = [m for f in files for m in mutants_of(f) if m.name not in known]
    first = [m for m in every if m.file in FIRST]
    rest = [m for m in every if m.file not in FIRST]
    draw = random.Random(seed)
    draw.shuffle(rest)
    draw.shuffle(first)
    return (first[: count // 5] + rest)[:count]


def tests_by_line(out: Path, jobs: int) -> dict[str, dict[str, list[str]]]:
    """Run every test once under coverage; which tests execute which line of which file."""
    data = out.with_suffix(".coverage")
    environment = {**os.environ, "COVERAGE_FILE": str(data), "PYTHONPATH": str(ROOT)}
    command = [
        sys.executable, "-m", "pytest", "-q", "-n", str(jobs), "--dist", "loadfile", *TESTS,
        "--cov=liftcalc", "--cov-context=test", "--cov-report=",
    ]  # fmt: skip
    ended = subprocess.run(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True, check=False)
    failing = {row.split()[1] for row in ended.stdout.split("\n") if row.startswith("FAILED ")}
    if failing:  # a test that fails anyway would seem to notice everything
        print("left out, for they fail as it is: " + ", ".join(sorted(failing)), flush=True)
    from coverage import CoverageData

    covered = CoverageData(basename=str(data))
    covered.read()
    lines: dict[str, dict[str, list[str]]] = {}
    for file in covered.measured_files():
        by_line = covered.contexts_by_lineno(file)
        name = Path(file).relative_to(ROOT).as_posix()
        lines[name] = {
            str(line): sorted({c.split("|")[0] for c in contexts if c} - failing) for line, contexts in by_line.items()
        }
    out.write_text(json.dumps(lines))
    return lines


def _ordered(mutant: Mutant, lines: dict[str, dict[str, list[str]]], breadth: Counter[str]) -> list[str]:
    """Tests that run the change, those that run least else first.

    A table or default is read when its module is loaded, by no test in particular: then every test
    that runs any line of the file counts.
    """
    of_file = lines.get(mutant.file, {})
    here = {t for k in range(mutant.line, mutant.end_line + 1) for t in of_file.get(str(k), [])}
    here = here or {t for tests in of_file.values() for t in tests}
    return sorted(here, key=lambda t: (breadth[t], t))


def judge(mutant: Mutant, tests: list[str], copy: Path, limit_s: float) -> str:
    """ "killed", "survived" or "not run by any test"; the copy is as before afterwards."""
    if not tests:
        return "not run by any test"
    target = copy / mutant.file
    source = target.read_text(encoding="utf-8")
    try:
        target.write_text(with_change(source, mutant), encoding="utf-8")
        for part in (tests[:25], tests[25:400]):
            if part and not _pass(part, copy, limit_s):
                return "killed"
        return "survived"
    finally:
        target.write_text(source, encoding="utf-8")


def _pass(tests: list[str], copy: Path, limit_s: float) -> bool:
    """Whether the tests pass in a child that starts with the libraries loaded."""
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            os.setsid()
            os.chdir(copy)
            os.environ["PYTHONPATH"] = sys.path[0] = str(copy)
            sys.dont_write_bytecode = True
            silent = os.open(os.devnull, os.O_WRONLY)
            os.dup2(silent, 1)
            os.dup2(silent, 2)
            import pytest

            code = int(pytest.main(["-x", "-q", "-p", "no:xdist", "-p", "no:cov", *tests]))
        finally:
            os._exit(code)
    until = time.monotonic() + limit_s
    while time.monotonic() < until:
        ended, status = os.waitpid(pid, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status) == 0
        time.sleep(0.05)
    os.killpg(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return False  # a change that never ends is noticed


def _load_libraries() -> None:
    for name in LIBRARIES:
        importlib.import_module(name)


_COPIES: Queue[Path]


def _start(copies: Queue[Path]) -> None:
    global _COPIES
    _COPIES = copies
    _load_libraries()


def _work(task: tuple[Mutant, list[str], float]) -> tuple[Mutant, str]:
    mutant, tests, limit_s = task
    copy = _COPIES.get()
    try:
        outcome = judge(mutant, tests, copy, limit_s)
    finally:
        _COPIES.put(copy)
    if outcome != "killed":
        line = f"{mutant.file}:{mutant.line}: {mutant.before} -> {mutant.after}"
        print(f"{outcome}: {line}", flush=True)
    return mutant, outcome


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--only", nargs="*", default=[], help="files or folders to change")
    parser.add_argument("--map", type=Path, help="keep the map of tests here, and use it if there")
    parser.add_argument("--limit-s", type=float, default=180.0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        kept = asked.map or Path(folder) / "tests.map"
        lines = json.loads(kept.read_text()) if kept.exists() else tests_by_line(kept, asked.jobs)
        breadth: Counter[str] = Counter(
            test for by_line in lines.values() for tests in by_line.values() for test in tests
        )
        context = multiprocessing.get_context("fork")
        copies: Queue[Path] = context.Queue()
        for k in range(asked.jobs):
            copy = Path(folder) / f"copy{k}"
            skip = shutil.ignore_patterns(".git", "__pycache__", ".venv", "*.egg-info", ".*_cache")
            shutil.copytree(ROOT, copy, ignore=skip)
            copies.put(copy)
        chosen = choose(asked.count, asked.seed, asked.only)

        tasks = [(m, _ordered(m, lines, breadth), asked.limit_s) for m in chosen]
        # no threads here: each change is judged in a fork of a process that has the libraries
        with context.Pool(asked.jobs, _start, (copies,)) as pool:
            outcomes = pool.map(_work, tasks, chunksize=1)
    by_room: dict[str, Counter[str]] = defaultdict(Counter)
    for mutant, outcome in outcomes:
        by_room[mutant.file.rpartition("/")[0]][outcome] += 1
    for room, counts in sorted(by_room.items()):
        print(f"{room}: " + ", ".join(f"{n} {outcome}" for outcome, n in sorted(counts.items())))
    alive = sum(outcome != "killed" for _, outcome in outcomes)
    share = alive / max(len(outcomes), 1)
    print(f"{len(outcomes)} changes, {alive} not noticed ({share:.1%})")
    return 0 if share < 0.03 else 1


if __name__ == "__main__":
    sys.exit(main())
