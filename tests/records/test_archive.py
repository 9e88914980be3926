"""Records appear whole or not at all, once, and from many writers at a time."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.strict_json import dumps, sha256_hex
from liftcalc.records.archive import Staging, clear_abandoned, entries
from liftcalc.records.environment import environment_text, versions_of
from liftcalc.records.log import missing, read_log
from liftcalc.records.manifest import MANIFEST_NAME, PART_PREFIX, Link, Manifest, ParentLink, record_name, seal, utc_now
from liftcalc.records.register import scan
from liftcalc.records.verify import verify_record

BLANK = "0" * 64


def _write_one(archive: Path, lift: str, *, name: str = "") -> Path:
    """A whole check record, of a record that is not there."""
    now = utc_now()
    versions = versions_of(environment_text())
    sheet = {
        "job": "job", "job_title": "", "lift": lift, "lift_title": "", "template": "lift_check",
        "revision": "A", "units": "metric", "verdict": "none", "governing": "",
        "template_sha256": BLANK, "invented": False,
    }  # fmt: skip
    link = {"record": "x", "manifest_sha256": BLANK}
    said = {
        **link, "chain_sha256": BLANK, "sheet": sheet, "checker": "", "decision": "matches",
        "versions_here": versions, "code_sha256_here": BLANK,
    }  # fmt: skip
    files = {"check.json": dumps(said), "check.html": b"page", "figures/a.svg": b"<svg/>"}
    with Staging(archive) as staging:
        staging.write(files)
        manifest = seal(
            **sheet,
            kind="check",
            record=name or record_name("job", lift, "check", "A", now),
            prepared_by="",
            prepared_utc=now,
            decision="matches",
            parents=(ParentLink(**link, chain_sha256=BLANK),),
            checks=Link(**link),
            code_sha256=BLANK,
            run_key=sha256_hex(files["check.json"]),
            versions=versions,
            files=entries(files),
        )
        return staging.commit(manifest)


def _writer(archive: str, number: int, count: int) -> None:
    for k in range(count):
        _write_one(Path(archive), f"W{number}-{k}")


def test_eight_writers_with_fifty_records_each_give_400_whole_distinct_records(archive: Path) -> None:
    writers = [subprocess.Popen([sys.executable, __file__, str(archive), str(n), "50"]) for n in range(8)]
    assert [writer.wait() for writer in writers] == [0] * 8
    folders = [p for p in archive.iterdir() if p.is_dir()]
    assert len(folders) == 400
    assert all(verify_record(folder).ok for folder in folders)
    entries = scan(archive)
    assert len({e.manifest_sha256 for e in entries}) == 400
    assert {e.lift for e in entries} == {f"W{n}-{k}" for n in range(8) for k in range(50)}


def test_a_record_is_read_only_once_written(archive: Path) -> None:
    folder = _write_one(archive, "L1")
    for path in [folder, *folder.rglob("*")]:
        assert not stat.S_IMODE(path.stat().st_mode) & 0o222


def test_a_record_is_never_overwritten(archive: Path) -> None:
    folder = _write_one(archive, "L1")
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    with pytest.raises(RecordError, match="never overwritten"):
        _write_one(archive, "L2", name=folder.name)
    assert before == {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    assert [p.name for p in archive.glob("[!.]*/")] == [folder.name]
    log = read_log(archive)
    assert log is not None
    assert [line.what for line in log.lines] == ["check"]


def test_an_error_before_the_end_leaves_nothing_behind(archive: Path) -> None:
    def fail() -> None:
        with Staging(archive) as staging:
            staging.write({"check.json": b"{}"})
            raise RuntimeError("stop")

    with pytest.raises(RuntimeError, match="stop"):
        fail()
    assert list(archive.iterdir()) == []


def test_a_file_that_the_manifest_does_not_know_stops_the_record(archive: Path) -> None:
    with Staging(archive) as staging:
        staging.write({"check.json": b"{}", "b.json": b"{}"})
        manifest = verify_record(_write_one(archive, "L1")).manifest
        assert manifest is not None
        with pytest.raises(RecordError, match=r"do not belong to a record: b\.json"):
            staging.commit(manifest)


def test_an_archive_that_cannot_be_written_is_one_clear_error(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match=r"archive is .*allowed: a folder that can be written"):
        Staging(tmp_path / "file" / "archive")


@pytest.mark.skipif(os.name == "nt", reason="needs process ids of this machine")
def test_what_a_killed_writer_left_is_cleared_and_the_living_is_not(archive: Path) -> None:
    code = (
        "import os, sys; from pathlib import Path; "
        "from liftcalc.records.archive import Staging; "
        "s = Staging(Path(sys.argv[1])); s.write({'a.json': b'{}'}); os.kill(os.getpid(), 9)"
    )
    subprocess.run([sys.executable, "-c", code, str(archive)], check=False)
    left = [p for p in archive.iterdir() if p.name.startswith(PART_PREFIX)]
    assert len(left) == 1
    assert scan(archive) == []
    with Staging(archive) as living:
        assert clear_abandoned(archive) == 1
        assert living.path.is_dir()
    assert not left[0].exists()


STOPPED = """
import os, sys
from pathlib import Path
from liftcalc.records import archive
sys.path.insert(0, sys.argv[2])
from test_archive import _write_one

def stop(*given):
    os.kill(os.getpid(), 9)

if sys.argv[3] == "before":
    archive.append = stop
else:
    Path.rename = stop
_write_one(Path(sys.argv[1]), "L1")
"""


@pytest.mark.skipif(os.name == "nt", reason="needs process ids of this machine")
@pytest.mark.parametrize(("moment", "lines"), [("before", []), ("after", ["check", "withdrawn"])])
def test_a_writer_killed_at_the_moment_of_its_line_never_reads_as_a_deletion(
    archive: Path, moment: str, lines: list[str]
) -> None:
    here = str(Path(__file__).parent)
    command = [sys.executable, "-c", STOPPED, str(archive), here, moment]
    assert subprocess.run(command, check=False).returncode == -9
    assert missing(archive) == ([], [])
    for cleared in (1, 0):
        assert clear_abandoned(archive) == cleared
        assert missing(archive) == ([], [])
        log = read_log(archive)
        assert [line.what for line in (log.lines if log else ())] == lines
    assert not list(archive.glob("[!.]*/"))


@pytest.mark.skipif(os.name == "nt", reason="needs process ids of this machine")
def test_what_another_machine_has_not_finished_is_left_alone_and_is_not_called_deleted(archive: Path) -> None:
    here = str(Path(__file__).parent)
    command = [sys.executable, "-c", STOPPED, str(archive), here, "after"]
    assert subprocess.run(command, check=False).returncode == -9
    (left,) = archive.glob(".part-*")
    theirs = left.rename(archive / f"{PART_PREFIX}0123abcd-1-{left.name[-12:]}")
    assert clear_abandoned(archive) == 0
    assert theirs.is_dir()
    assert missing(archive) == ([], [])
    shutil.rmtree(theirs)
    gone, unlisted = missing(archive)
    assert ([e.what for e in gone], unlisted) == (["check"], [])


@pytest.mark.skipif(os.name == "nt", reason="needs process ids of this machine")
def test_a_record_that_stands_is_never_withdrawn(archive: Path) -> None:
    made = _write_one(archive, "L1")
    part = Staging(archive).path
    left = part.rename(archive / part.name.replace(f"-{os.getpid()}-", "-999999-"))
    shutil.copy(made / MANIFEST_NAME, left)
    clear_abandoned(archive)
    assert not left.exists()
    log = read_log(archive)
    assert log is not None
    assert [line.what for line in log.lines] == ["check"]


def test_a_record_that_cannot_be_put_in_place_is_withdrawn(archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as full:
        full.setattr(Path, "rename", refuse)
        with pytest.raises(RecordError, match=r"put in place \(No space left on device\)"):
            _write_one(archive, "L1")
    log = read_log(archive)
    assert log is not None
    assert [line.what for line in log.lines] == ["check", "withdrawn"]
    assert not list(archive.glob("[!.]*/"))
    assert not list(archive.glob(".part-*"))


def test_the_manifest_pins_the_chain(made_chain: tuple[Path, ...]) -> None:
    first, second = (verify_record(folder).manifest for folder in made_chain)
    assert isinstance(first, Manifest)
    assert isinstance(second, Manifest)
    assert second.parents[0].manifest_sha256 == first.manifest_sha256
    assert second.parents[0].chain_sha256 == first.chain_sha256
    assert first.chain_sha256 != second.chain_sha256


if __name__ == "__main__":
    _writer(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
