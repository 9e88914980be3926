"""The tool that changes the package: what it changes, and what it tells of the tests."""

from __future__ import annotations

import ast
import importlib.util
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def mutate() -> Any:
    spec = importlib.util.spec_from_file_location("mutate", HERE / "mutate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["mutate"] = module
    spec.loader.exec_module(module)
    return module


def test_a_change_touches_one_place_and_still_reads_as_python(mutate: Any) -> None:
    file = mutate.ROOT / "liftcalc" / "crane" / "stability.py"
    source = file.read_text(encoding="utf-8")
    found = mutate.mutants_of(file)
    assert len(found) > 30
    for mutant in found[::5]:
        changed = mutate.with_change(source, mutant)
        assert ast.dump(ast.parse(changed)) != ast.dump(ast.parse(source))
        different = [
            k for k, (a, b) in enumerate(zip(source.split("\n"), changed.split("\n"), strict=False))
            if a != b
        ]  # fmt: skip
        assert different[0] + 1 == mutant.line


def test_a_noticed_change_is_killed_and_an_unnoticed_one_survives(tmp_path: Path) -> None:
    (tmp_path / "room.py").write_text("def room(a, b):\n    return a + b\n")
    (tmp_path / "test_room.py").write_text(
        "from room import room\n\ndef test_sum():\n    assert room(2, 3) == 5\n\n"
        "def test_blind():\n    assert room(2, 0) == 2\n"
    )
    # in a process of its own: the tool forks, and a test within a test shares what it captures
    script = (
        "import sys; sys.path.insert(0, sys.argv[1]); import mutate; from pathlib import Path\n"
        "change = mutate.Mutant('room.py', 2, 11, 2, 16, 'a + b', '(a - b)')\n"
        "for tests in (['test_room.py::test_sum'], ['test_room.py::test_blind'], []):\n"
        "    print(mutate.judge(change, tests, Path(sys.argv[2]), 120.0))\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", script, str(HERE), str(tmp_path)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert ended.stdout.split("\n")[:3] == ["killed", "survived", "not run by any test"]
    assert (tmp_path / "room.py").read_text() == "def room(a, b):\n    return a + b\n"


def test_the_site_card_comes_first_in_the_draw(mutate: Any) -> None:
    chosen = mutate.choose(100, 1, [])
    assert len(chosen) == 100
    assert sum(m.file == "liftcalc/lift/card.py" for m in chosen) >= 10
    assert {m.name for m in chosen} == {m.name for m in mutate.choose(100, 1, [])}
