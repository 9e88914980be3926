"""The wheel works without the checkout, from any folder: templates and shared data travel in it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from liftcalc.base import resources

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel's content, as if installed, and nothing of the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (wheel,) = folder.glob("*.whl")
    target = folder / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(target)
    return target


def run(installed: Path, code: str, cwd: Path) -> str:
    env = {**os.environ, "PYTHONPATH": str(installed), "PYTHONSAFEPATH": "1"}
    done = subprocess.run([sys.executable, "-c", code], cwd=cwd, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_installed_package_finds_its_templates_and_the_demo_job(installed: Path, tmp_path: Path) -> None:
    code = (
        "import json, liftcalc\n"
        "from liftcalc.base import resources\n"
        "from liftcalc.facts.io import load_job\n"
        "from liftcalc.lift.assess import assess_lift\n"
        "job = load_job(resources.demo_job_path())\n"
        "found = {'file': liftcalc.__file__, 'templates': resources.template_names(),\n"
        "  'verdict': assess_lift(job, 'L1').verdict.status}\n"
        "print(json.dumps(found))\n"
    )
    found = json.loads(run(installed, code, tmp_path))
    assert found["file"].startswith(str(installed))
    assert set(found["templates"]) >= {*resources.CHAIN, "as_set_up", "where_to_stand"}
    assert found["verdict"] == "within"


def test_the_wheel_carries_no_tests_and_no_records(installed: Path) -> None:
    names = {p.relative_to(installed).parts[0] for p in installed.rglob("*")}
    assert "tests" not in names
    assert not list(installed.rglob("manifest.json"))
    assert not list(installed.rglob("__pycache__"))
