"""Records of every release, made by its own code, are re-checked by this one for ever.

Two ways: by the present code (every number agrees, or the change log says which moved, from what
to what), and by the release itself from kept packages, without a network (byte for byte).
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from golden import archives
from publish_release import publish

from liftcalc.base.resources import shared_dir, source_hash, sources_hash
from liftcalc.base.strict_json import loads
from liftcalc.records.archive import entries
from liftcalc.records.check_record import outcome_lines
from liftcalc.records.compare import USUAL_TOLERANCE, Difference, compare
from liftcalc.records.entries import UNSEEN
from liftcalc.records.environment import environment_text, releases, versions_of
from liftcalc.records.manifest import manifest_bytes, resealed
from liftcalc.records.verify import require_record, verify_record
from liftcalc.run import keep
from liftcalc.run.job import usable_cores
from liftcalc.run.kept import find_kept, made_again
from liftcalc.run.recheck import recheck_many

ROOT = Path(__file__).parents[2]
_WORDS_ALONE = re.compile(r"results\.checks(\[\d+\]|\.[\w-]+)\.(title|remedy)")


def unexplained(sheet: str, differences: list[Difference], changes: str) -> list[Difference]:
    """Numbers that moved and do not stand in a table "Numbers that moved" of the change log.

    A row: sheet and lift | key | old | new | why. A number may have moved in several versions: the
    first row then begins at the old value and the last ends at the new one.
    """
    tables = re.findall(r"^### Numbers that moved\n(.*?)(?=^#|\Z)", changes, re.M | re.S)
    rows = [[cell.strip(" `") for cell in line.strip("|").split("|")] for t in tables
            for line in t.splitlines() if line.startswith("|")]  # fmt: skip
    known = [row for row in rows if len(row) == 5 and row[0] == sheet and row[4]]
    return [
        d
        for d in differences
        if not _WORDS_ALONE.fullmatch(d.where)
        and not (
            any(row[1] == d.where and row[2] == d.archived for row in known)
            and any(row[1] == d.where and row[3] == d.recalculated for row in known)
        )
    ]


@pytest.fixture(scope="module", params=archives.releases())
def golden(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The records of a release."""
    folder = tmp_path_factory.mktemp("golden") / str(request.param)
    archives.unpack(str(request.param), folder)
    return folder


def test_the_records_of_a_release_are_whole_and_name_its_published_code(golden: Path) -> None:
    records = [require_record(folder) for folder in sorted(golden.iterdir())]
    assert len(records) >= 13
    release = releases()[golden.name]
    for record in records:
        manifest = record.manifest
        assert manifest is not None
        assert manifest.versions["liftcalc"] == golden.name
        assert manifest.code_sha256 == release["code_sha256"]
        assert manifest.template_sha256 == release["templates"][manifest.template]
    assert any("sheet.pdf" in record.content for record in records)
    assert {record.manifest.verdict for record in records if record.manifest} >= {"within", "over"}


@pytest.mark.slow
def test_every_number_of_every_release_agrees_or_the_change_log_says_that_it_moved(golden: Path) -> None:
    folders = sorted(golden.iterdir())
    changes = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    moved: list[str] = []
    for outcome in recheck_many(folders, workers=usable_cores(), write=False, timeout_s=600):
        assert outcome.decision in ("matches", UNSEEN, "differs"), outcome_lines(outcome)
        assert outcome.numbers_compared > 10
        manifest = verify_record(golden / outcome.record).manifest
        assert manifest is not None
        sheet = f"{manifest.template} {manifest.lift}"
        moved += [f"{sheet}: {d}" for d in unexplained(sheet, outcome.differences, changes)]
        if not outcome.differences:
            assert not outcome.findings
    assert moved == []


def test_a_number_that_moves_unsaid_is_found() -> None:
    before = {"values": {"radius_m": 9.25}, "checks": [{"id": "wind", "title": "Wind"}]}
    after = {"values": {"radius_m": 9.5}, "checks": [{"id": "wind", "title": "Wind speed"}]}
    differences, _ = compare(before, after, USUAL_TOLERANCE)
    assert len(differences) == 2
    key = "results.values.radius_m"
    (found,) = unexplained("lift_check L1", differences, "# Changes\n\n## 0.3.0\n")
    assert (found.where, found.archived, found.recalculated) == (key, "9.25", "9.5")
    row = "| lift_check L1 | `{}` | {} | {} | {} |\n"
    head = "## 0.3.0\n\n### Numbers that moved\n\n| sheet | key | old | new | why |\n"
    said = head + row.format(key, 9.25, 9.5, "measured from the slew centre")
    assert unexplained("lift_check L1", differences, said) == []
    wrong = [
        said.replace("lift_check", "leg_layout"),
        said.replace("9.25", "9.26"),
        said.replace("| 9.5 |", "| 9.6 |"),
        said.replace("Numbers that moved", "Numbers"),
        head + row.format(key, 9.25, 9.5, ""),
    ]
    assert all(unexplained("lift_check L1", differences, text) == [found] for text in wrong)
    twice = head + row.format(key, 9.25, 9.4, "a") + row.format(key, 9.4, 9.5, "b")
    assert unexplained("lift_check L1", differences, twice) == []


def test_a_published_version_is_not_published_again_with_other_hashes(tmp_path: Path) -> None:
    path = tmp_path / "releases.json"
    shutil.copyfile(shared_dir() / "releases.json", path)
    before = path.read_bytes()
    entry = releases()["0.1.0"]
    publish(path, "0.1.0", {**entry, "date": "2027-01-01"})
    assert path.read_bytes() == before
    with pytest.raises(SystemExit, match=r"0\.1\.0 is published with other hashes"):
        publish(path, "0.1.0", {**entry, "code_sha256": "0" * 64})
    publish(path, "9.9.9", {**entry, "code_sha256": "0" * 64})
    assert set(loads(path.read_bytes())) == {*releases(), "9.9.9"}


def _wheel() -> Path:
    (wheel,) = (archives.ROOT / "0.1.0").glob("*.whl")
    return wheel


def test_the_wheel_of_a_release_is_the_published_one() -> None:
    with zipfile.ZipFile(_wheel()) as archive:
        content = {name.removeprefix("liftcalc/"): archive.read(name) for name in archive.namelist()}
    inside = {n: d for n, d in content.items() if not n.startswith("liftcalc-")}
    release = releases()["0.1.0"]
    assert sources_hash(inside) == release["code_sha256"]
    for name, expected in release["templates"].items():
        assert source_hash(loads(content[f"_data/templates/{name}.ipynb"])) == expected


_NOT_NEEDED = {"cryptography", "ezdxf", "pyproj", "babel", "jedi", "json5", "lark"}


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """An archive with release 0.1.0 and those of the present packages that its sheets need."""
    archive = tmp_path_factory.mktemp("kept")
    lines = environment_text().decode().splitlines(keepends=True)
    needed = [
        line for line in lines if line.split("==")[0] not in _NOT_NEEDED and not line.startswith("jupyter-server")
    ]
    needed = [line for line in needed if not line.startswith(("jupyterlab", "notebook"))]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(keep, "environment_text", lambda: "".join(needed).encode())
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        keep.keep_environment(archive, release=_wheel())
        yield archive


def _offline() -> list[str]:
    """Words before a command that leave it without any network, where the system allows that."""
    words = ["unshare", "--map-root-user", "--net"]
    allowed = shutil.which("unshare") and not subprocess.run([*words, "true"]).returncode
    return words if allowed else []


def _recheck(record: Path, environment: Path) -> tuple[int, str]:
    nowhere = {f"{kind}_proxy": "http://127.0.0.1:9" for kind in ("http", "https", "all")}
    done = subprocess.run(
        [*_offline(), sys.executable, "-m", "liftcalc.cli", "recheck", "--no-record",
         "--environment", str(environment), str(record)],
        env={**os.environ, **nowhere, "PIP_INDEX_URL": "http://127.0.0.1:9"},
        capture_output=True, text=True,
    )  # fmt: skip
    return done.returncode, done.stdout + done.stderr


@pytest.mark.slow
def test_a_record_of_a_release_comes_out_byte_for_byte_of_its_kept_packages_offline(kept: Path, tmp_path: Path) -> None:
    folders = archives.unpack("0.1.0", tmp_path / "records")
    (record,) = (folder for folder in folders if "_L1_lift_check_" in folder.name)
    verified = require_record(record)
    manifest = verified.manifest
    assert manifest is not None
    assert "sheet.pdf" in manifest.files
    (environment,) = (kept / keep.ENVIRONMENTS).iterdir()
    text = (environment / "environment.txt").read_bytes()
    if versions_of(text) != manifest.versions:
        # Other libraries draw and print otherwise: the release makes the record once more here.
        scratch = tmp_path / "scratch"
        scratch.mkdir()
        found = find_kept(environment, manifest)
        made = require_record(made_again(found, verified, manifest, scratch, None))
        was, now = (v.json("results.json") for v in (verified, made))
        assert compare(was, now, USUAL_TOLERANCE)[0] == []
        shutil.copytree(made.folder, tmp_path / "made" / record.name)
        before = next(f for f in folders if f.name == manifest.parents[0].record)
        shutil.copytree(before, tmp_path / "made" / before.name)
        record = tmp_path / "made" / record.name
    code, said = _recheck(record, kept)
    assert code == 0, said
    assert f"{record.name}: matches" in said
    assert "whoever laid them there answers for" in said
    forged = (record / "sheet.html").read_bytes().replace(b"within limits", b"within Limits", 1)
    for path in [record, *record.rglob("*")]:
        path.chmod(0o755)
    (record / "sheet.html").write_bytes(forged)
    sealed = resealed(manifest, {**manifest.files, **entries({"sheet.html": forged})})
    (record / "manifest.json").write_bytes(manifest_bytes(sealed))
    code, said = _recheck(record, kept)
    assert code == 3
    assert "sheet.html: is not what the kept packages give" in said
