"""``environment.txt``: complete, in one form, and refused in any other."""

from __future__ import annotations

import importlib.metadata
import platform
import subprocess
import sys

import pytest

from liftcalc import __version__
from liftcalc.base.errors import RecordError
from liftcalc.records.environment import environment_text, packages_of, versions_of


def test_every_library_that_a_sheet_imports_is_listed_with_its_installed_version() -> None:
    code = "import liftcalc.run.make, liftcalc.run.engine, liftcalc.records.pdf, typst, sys\n"
    code += "print(*sorted({name.split('.')[0] for name in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    distributions = importlib.metadata.packages_distributions()
    packages = packages_of(environment_text())
    imported = {d for name in done.stdout.split() for d in distributions.get(name, ())}
    named = {d.lower().replace("_", "-").replace(".", "-"): d for d in imported}
    for chance in ("setuptools", "msgpack", "orjson"):
        named.pop(chance, None)  # taken by Python or jupyter_client where they happen to be there
    assert {"numpy", "matplotlib", "typst", "mistune", "nbclient", "jinja2"} <= set(packages)
    for name, distribution in named.items():
        assert name in packages, name
        if name != "liftcalc":
            assert packages[name] == importlib.metadata.version(distribution)


def test_no_tool_for_tests_is_listed_and_the_text_is_the_same_in_every_process() -> None:
    packages = packages_of(environment_text())
    assert not {"pytest", "hypothesis", "ruff", "mypy", "mujoco"} & set(packages)
    code = "import sys\nfrom liftcalc.records.environment import environment_text\n"
    code += "sys.stdout.buffer.write(environment_text())"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert done.stdout == environment_text()


def test_the_versions_of_the_manifest_follow_from_the_text() -> None:
    versions = versions_of(environment_text())
    assert versions["liftcalc"] == __version__
    assert versions["python"] == platform.python_version()
    assert versions["platform"] == f"{platform.system()} {platform.machine()}"
    assert versions["numpy"] == importlib.metadata.version("numpy")
    small = b"python==3.11.2\nplatform==Linux x86_64\nnumpy==2.0.0\n"
    assert versions_of(small)["typst"] == "not installed"


HEAD = b"python==3.11.2\nplatform==Linux x86_64\n"


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"numpy==2.0.0\n",
        HEAD + b"numpy==2.0.0",
        HEAD + b"numpy==2.0.0\r\n",
        HEAD + b"numpy==2.0.0\n\n",
        HEAD + b"numpy==2.0.0\nnumpy==2.0.0\n",
        HEAD + b"scipy==1.0\nnumpy==2.0.0\n",
        HEAD + b"NumPy==2.0.0\n",
        HEAD + b"numpy==2.0.0 --index-url http://x\n",
        HEAD + b"numpy==2.0.0 --no-index\n",
        HEAD + b"numpy>=2.0.0\n",
        HEAD + b"../numpy==2.0.0\n",
        HEAD + b"numpy==\x1b[2J\n",
        HEAD + "numpy==２\n".encode(),
        b"platform==Linux\npython==3.11.2\n",
    ],
)
def test_a_text_of_another_form_is_refused(text: bytes) -> None:
    with pytest.raises(RecordError, match=r"environment\.txt"):
        packages_of(text)
