"""Packages kept beside an archive: whole, the same each time, and nothing else is run."""

from __future__ import annotations

import base64
import hashlib
import importlib.metadata
import io
import json
import platform
import subprocess
import sys
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.errors import InputError, LiftcalcError
from liftcalc.base.resources import source_hash, sources_hash
from liftcalc.base.strict_json import loads, sha256_hex
from liftcalc.base.text import CAUTION_LINE
from liftcalc.records.environment import environment_text
from liftcalc.records.manifest import Manifest
from liftcalc.records.verify import require_record, verify_record
from liftcalc.run import keep, kept
from liftcalc.run.kept import find_kept, made_again
from liftcalc.run.make import SheetOrder, make_record

HEAD = "".join(environment_text().decode().splitlines(keepends=True)[:2])


def _only(monkeypatch: pytest.MonkeyPatch, *names: str) -> None:
    """As if nothing but these were installed."""
    versions = {name: importlib.metadata.version(name) for name in names}
    versions |= {"liftcalc": __version__} if "liftcalc" in names else {}
    text = HEAD + "".join(f"{name}=={versions[name]}\n" for name in sorted(versions))
    monkeypatch.setattr(keep, "environment_text", text.encode)


def _members(folder: Path, name: str) -> dict[str, bytes]:
    (wheel,) = (folder / "wheels").glob(f"{name}-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        assert archive.testzip() is None
        return {member: archive.read(member) for member in archive.namelist()}


@pytest.fixture
def environment(archive: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two packages of one environment, kept: liftcalc and a small one."""
    _only(monkeypatch, "liftcalc", "six")
    folder = keep.keep_environment(archive)
    for path in [folder, *folder.rglob("*")]:
        path.chmod(0o755)
    return folder


def test_an_environment_is_kept_once_under_the_hash_that_a_record_names(environment: Path, archive: Path) -> None:
    text = (environment / "environment.txt").read_bytes()
    assert environment == archive / "environments" / sha256_hex(text)
    before = {p: (p.stat().st_mtime_ns, p.stat().st_ino) for p in environment.rglob("*")}
    assert keep.keep_environment(archive) == environment
    assert list((archive / "environments").iterdir()) == [environment]
    assert {p: (p.stat().st_mtime_ns, p.stat().st_ino) for p in environment.rglob("*")} == before
    lock = (environment / "requirements.lock").read_text(encoding="utf-8").splitlines()
    wheels = {sha256_hex(p.read_bytes()) for p in (environment / "wheels").iterdir()}
    assert {line.split("sha256:")[1] for line in lock} == wheels
    assert [line.split(" ")[0] for line in lock] == text.decode().splitlines()[2:]
    said = (environment / "README.txt").read_text(encoding="utf-8")
    for words in (CAUTION_LINE, platform.python_version(), "What lies in wheels/ is what runs"):
        assert words in said


def test_the_kept_liftcalc_has_the_code_and_the_templates_that_run(environment: Path) -> None:
    content = _members(environment, "liftcalc")
    inside = {name.removeprefix("liftcalc/"): data for name, data in content.items()}
    assert sources_hash(inside) == resources.code_hash()
    for name in resources.template_names():
        notebook = loads(inside[f"_data/templates/{name}.ipynb"])
        assert source_hash(notebook) == resources.template_hash(name)
    assert "_data/shared/demo/job.yaml" in inside
    assert b"liftcalc.run.engine:WarmEngine" in content[f"liftcalc-{__version__}.dist-info/entry_points.txt"]
    assert not [name for name in content if "__pycache__" in name or "/tests/" in name]


def test_a_wheel_holds_what_was_installed_and_is_the_same_each_time(
    archive: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = ("six", "jupyterlab-widgets", "ipykernel")
    _only(monkeypatch, *names)
    first, second = (keep.keep_environment(archive / place) for place in ("a", "b"))
    assert first.name == second.name
    for path in (first / "wheels").iterdir():
        assert path.read_bytes() == (second / "wheels" / path.name).read_bytes()
    for name in names:
        content = _members(first, name.replace("-", "_"))
        for file in importlib.metadata.distribution(name).files or ():
            if file.suffix != ".pyc" and ".." not in file.parts and file.name not in keep.NOT_PACKED:
                assert content[file.as_posix()] == Path(str(file.locate())).read_bytes()
    widgets = _members(first, "jupyterlab_widgets")
    assert any(".data/data/share/jupyter/labextensions/" in name for name in widgets)
    assert any(n.endswith("share/jupyter/kernels/python3/kernel.json") for n in _members(first, "ipykernel"))


WHEEL = b"Wheel-Version: 1.0\nTag: py3-none-any\n"


def _line(name: str, data: bytes) -> str:
    digest = base64.urlsafe_b64encode(hashlib.sha256(data).digest()).decode().strip("=")
    return f"{name},sha256={digest},{len(data)}\n"


def _install(site: Path, record: str) -> None:
    about = site / "invented-1.0.dist-info"
    about.mkdir(parents=True)
    (about / "METADATA").write_text("Metadata-Version: 2.1\nName: invented\nVersion: 1.0\n")
    (about / "WHEEL").write_bytes(WHEEL)
    (about / "RECORD").write_text(record)
    (site / "invented.py").write_text("VALUE = 1\n")
    (site / "invented.py").chmod(0o755)


ABOUT = _line("invented-1.0.dist-info/WHEEL", WHEEL)


@pytest.mark.parametrize(
    ("record", "said"),
    [
        ("", "left no list of files"),
        ("invented-1.0.dist-info/WHEEL,,\n", "WHEEL is not as it was installed"),
        (ABOUT + _line("invented.py", b"VALUE = 2\n"), "invented.py is not as it was installed"),
        (ABOUT + _line("gone.py", b"VALUE = 1\n"), "gone.py is not as it was installed"),
        (ABOUT + "invented.py,,\n", "invented.py is not as it was installed"),
    ],
)
def test_a_package_that_is_not_as_it_was_installed_is_not_kept(
    archive: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, record: str, said: str
) -> None:
    _install(tmp_path / "site", record)
    monkeypatch.setattr(sys, "path", [str(tmp_path / "site"), *sys.path])
    _only(monkeypatch, "invented", "six")
    with pytest.raises(InputError, match=said) as refused:
        keep.keep_environment(archive)
    assert "invented 1.0: " in str(refused.value)
    assert list((archive / "environments").iterdir()) == []


def test_a_file_that_may_be_executed_stays_so(archive: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    _install(tmp_path / "site", ABOUT + _line("invented.py", b"VALUE = 1\n"))
    monkeypatch.setattr(sys, "path", [str(tmp_path / "site"), *sys.path])
    _only(monkeypatch, "invented")
    (wheel,) = (keep.keep_environment(archive) / "wheels").iterdir()
    assert wheel.name == "invented-1.0-py3-none-any.whl"
    with zipfile.ZipFile(wheel) as opened:
        modes = {i.filename: i.external_attr >> 16 & 0o777 for i in opened.infolist()}
    assert modes["invented.py"] == 0o755
    assert modes["invented-1.0.dist-info/RECORD"] == 0o644


@pytest.fixture
def named(environment: Path, copied: Path, forge: Callable[..., Manifest], toy_templates: Path) -> Manifest:
    """Manifest of a record that names this environment and what its liftcalc holds."""
    sheet = "_data/templates/leg_layout.ipynb"
    template = source_hash(loads(_members(environment, "liftcalc")[f"liftcalc/{sheet}"]))
    text = (environment / "environment.txt").read_bytes()
    return forge(
        copied, {"environment.txt": text}, environment_sha256=sha256_hex(text),
        template_sha256=template,
    )  # fmt: skip


def test_the_environment_of_a_record_is_found_in_its_archive_or_by_its_folder(
    environment: Path, archive: Path, named: Manifest
) -> None:
    for place in (archive, environment):
        found = find_kept(place, named)
        assert found.folder == environment
        assert set(found.lock) == {f"liftcalc=={__version__}", f"six=={importlib.metadata.version('six')}"}
    other = named.model_copy(update={"environment_sha256": "0" * 64})
    with pytest.raises(LiftcalcError, match="no environment kept in"):
        find_kept(archive, other)
    with pytest.raises(LiftcalcError, match="no environment kept in"):
        find_kept(archive / "nowhere", named)


def _alter_lock(folder: Path, old: str, new: str) -> None:
    lock = folder / "requirements.lock"
    text = lock.read_text(encoding="utf-8")
    assert old in text
    lock.write_text(text.replace(old, new), encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("six==", "--index-url https://example.org\nsix=="),
        ("six==", "six @ https://example.org/six.whl#"),
        ("six==", "seven=="),
        (" --hash=sha256:", " --hash=md5:"),
        ("liftcalc==", "# liftcalc=="),
    ],
)
def test_a_lock_of_another_form_or_of_other_packages_is_refused(
    environment: Path, archive: Path, named: Manifest, old: str, new: str
) -> None:
    _alter_lock(environment, old, new)
    with pytest.raises(LiftcalcError, match="does not name each package"):
        find_kept(archive, named)


def _forged_wheel(environment: Path, member: str, data: bytes, *, lock: bool = True) -> None:
    (wheel,) = (environment / "wheels").glob("liftcalc-*.whl")
    before, content = wheel.read_bytes(), _members(environment, "liftcalc")
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as opened:
        for name, old in {**content, member: data}.items():
            opened.writestr(name, old)
    wheel.write_bytes(stream.getvalue())
    if lock:
        _alter_lock(environment, sha256_hex(before), sha256_hex(stream.getvalue()))


def test_another_liftcalc_than_the_record_names_is_not_run(environment: Path, archive: Path, named: Manifest) -> None:
    unit = "liftcalc/base/units.py"
    old = _members(environment, "liftcalc")[unit]
    _forged_wheel(environment, unit, old + b"\nG_M_S2 = 9.0\n", lock=False)
    with pytest.raises(LiftcalcError, match=r"is not the file that requirements\.lock names"):
        find_kept(archive, named)


@pytest.mark.parametrize(
    "member",
    [
        *("liftcalc/base/units.so", "numpy.py", "start.pth", "liftcalc//base/units.py"),
        *("liftcalc/../a", "liftcalc/_data/__init__.py", "liftcalc/_data/shared/__init__.py"),
        *("liftcalc/_data/a.py", "liftcalc/_data/templates/a.py"),
    ],
)
def test_nothing_may_lie_in_the_kept_liftcalc_that_could_run_in_its_place(
    environment: Path, archive: Path, named: Manifest, member: str
) -> None:
    _forged_wheel(environment, member, b"print()\n")
    with pytest.raises(LiftcalcError, match="which is none of it"):
        find_kept(archive, named)


def test_what_the_hashes_leave_out_of_the_kept_liftcalc_is_refused(
    environment: Path, archive: Path, named: Manifest
) -> None:
    sheet = f"liftcalc/_data/templates/{named.template}.ipynb"
    members = _members(environment, "liftcalc")
    notebook = json.loads(members[sheet])
    cell = {**notebook["cells"][-1], "source": "print()"}
    cell["metadata"] = {"tags": ["injected-parameters"]}
    notebook["cells"].append(cell)
    (entries,) = (name for name in members if name.endswith("/entry_points.txt"))
    for member, data in (
        (sheet, json.dumps(notebook).encode()),
        (entries, members[entries] + b"\n[papermill.engine]\nnbclient = six:main\n"),
    ):
        _forged_wheel(environment, member, data)
        with pytest.raises(LiftcalcError, match="holds code that no release has"):
            find_kept(archive, named)
        _forged_wheel(environment, member, members[member])
        find_kept(archive, named)


def test_packages_that_somebody_else_laid_there_are_not_taken_for_those_that_run(
    environment: Path, archive: Path
) -> None:
    _forged_wheel(environment, "liftcalc/base/units.py", b"G_M_S2 = 9.0\n")
    with pytest.raises(LiftcalcError, match="the packages that run here") as refused:
        keep.keep_environment(archive)
    assert "is another" in str(refused.value)


def test_a_wheel_that_is_no_archive_is_refused(environment: Path, archive: Path, named: Manifest) -> None:
    (wheel,) = (environment / "wheels").glob("liftcalc-*.whl")
    _alter_lock(environment, sha256_hex(wheel.read_bytes()), sha256_hex(b"PK"))
    wheel.write_bytes(b"PK")
    with pytest.raises(LiftcalcError, match="cannot be read"):
        find_kept(archive, named)


@pytest.mark.parametrize("member", ["base/units.py", "_data/templates/leg_layout.ipynb"])
def test_altered_code_or_an_altered_template_in_the_kept_liftcalc_is_not_run(
    environment: Path, archive: Path, named: Manifest, member: str
) -> None:
    old = _members(environment, "liftcalc")[f"liftcalc/{member}"]
    new = old.replace(b"sheets.begin", b"sheets.begin ") + (b" " if member.endswith("b") else b"\n")
    assert new != old
    _forged_wheel(environment, f"liftcalc/{member}", new)
    with pytest.raises(LiftcalcError, match="neither a published release nor what the record"):
        find_kept(archive, named)


def test_packages_for_another_python_or_machine_are_refused_in_words(
    environment: Path, archive: Path, named: Manifest, copied: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    found = find_kept(archive, named)
    verified = verify_record(copied)
    cases = {
        "python": ("3.9.1", "need Python 3.9, and no python3.9 is found here"),
        "platform": ("Plan9 mips", "its packages are for Plan9 mips; here is"),
    }
    monkeypatch.setenv("PATH", str(tmp_path))
    for field, (value, said) in cases.items():
        other = kept.KeptPackages(found.folder, {**found.packages, field: value}, found.lock, found.lock_sha256, False)
        with pytest.raises(LiftcalcError, match=said):
            made_again(other, verified, named, tmp_path, None)


def test_this_version_makes_its_own_records_again_byte_for_byte(
    environment: Path, archive: Path, named: Manifest, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    order = SheetOrder("site_survey", units="us", revision="B", prepared_by="A. Person")
    revised = make_record(order, archive).manifest.link
    made = make_record(replace(order, revises=(revised,)), archive, pdf=True)
    (tmp_path / "scratch").mkdir()

    def run(command: list[str], folder: Path, home: Path) -> None:
        subprocess.run([sys.executable, *command[2:]], check=True, cwd=folder)

    monkeypatch.setattr(kept, "_installed", lambda found: tmp_path / "bin" / "python")
    monkeypatch.setattr(kept, "_run", run)
    verified = require_record(made.folder)
    found = find_kept(archive, named)
    again = require_record(made_again(found, verified, made.manifest, tmp_path / "scratch", None))
    assert again.folder != made.folder
    assert again.manifest == made.manifest
    assert again.content == verified.content
