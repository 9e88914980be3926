"""Nobody is told to install a package by a name in a public index: anybody could register it."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
_COMMAND = re.compile(r"\bpip3? +(?:install|download)\b([^\n`;&|)<>]*)")
_PLACE = re.compile(r"-.*|\.(?:\[[\w{},]+\])?|.*\.(?:whl|lock|txt)|.*/.*")


def names_to_install(text: str) -> list[str]:
    """What commands in *text* fetch by name: neither an option nor a place on the reader's disk."""
    plain = [re.sub(r"[\\\"']", " ", found[1]) for found in _COMMAND.finditer(text)]
    words = [word.strip(",:") for line in plain for word in line.split()]
    return [word for word in words if word and not _PLACE.fullmatch(word)]


def test_no_text_of_the_project_advises_to_install_a_name_from_an_index() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    names = listed.stdout.split() or [str(p.relative_to(ROOT)) for p in ROOT.rglob("*.*")]
    read = [n for n in names if re.search(r"\.(py|md|ipynb|html|typ|js|toml|yaml)$", n)]
    assert len(read) > 400
    for name in read:
        if not name.startswith("tests/"):
            assert not names_to_install((ROOT / name).read_text(encoding="utf-8")), name


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("python -m pip install liftcalc==0.1.0", ["liftcalc==0.1.0"]),
        ("(pip install --force-reinstall liftcalc=={version}) again", ["liftcalc=={version}"]),
        ("python -m pip install 'liftcalc[pdf]'", ["liftcalc[pdf]"]),
        ("pip3 install pyproj", ["pyproj"]),
        ('"!pip install liftcalc\\n"', ["liftcalc", "n"]),
        ('python -m pip install ".[pdf]" && liftcalc demo', []),
        ('python -m pip install ".[pdf,cad,sign]"`.', []),
        ("pip install --no-index --require-hashes -r requirements.lock", []),
    ],
)
def test_a_name_is_told_from_the_folder_of_the_project(text: str, names: list[str]) -> None:
    assert names_to_install(text) == names
