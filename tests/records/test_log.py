"""The log: no line can be changed, taken out or put in unseen; what is gone is named."""

from __future__ import annotations

import errno
import fcntl
import hashlib
import json
import os
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from liftcalc.base.errors import InputError, RecordError
from liftcalc.records.listing import sheets_named
from liftcalc.records.log import LOG_NAME, append, archive_lock, found_in, log_head, missing, read_log
from liftcalc.records.manifest import PART_PREFIX
from liftcalc.records.register import scan


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _fill(archive: Path, count: int = 5) -> list[bytes]:
    for n in range(count):
        append(archive, "record", f"job_L{n}", _hash(str(n)))
    return (archive / LOG_NAME).read_bytes().splitlines(keepends=True)


def _problem(archive: Path) -> str:
    log = read_log(archive)
    assert log is not None
    return log.problem


def test_each_line_holds_the_sha_256_of_the_line_before(archive: Path) -> None:
    lines = _fill(archive)
    log = read_log(archive)
    assert log is not None
    assert not log.problem
    assert [line.n for line in log.lines] == [1, 2, 3, 4, 5]
    assert [line.name for line in log.lines] == [f"job_L{n}" for n in range(5)]
    before = "0" * 64
    for text in lines:
        plain = json.loads(text)
        assert set(plain) == {"n", "utc", "what", "name", "sha256", "previous"}
        assert plain["previous"] == before
        before = hashlib.sha256(text).hexdigest()
    assert log.head == before
    assert log_head(archive) == (5, before)


def test_an_archive_without_a_log_is_said_to_have_none(archive: Path) -> None:
    assert read_log(archive) is None
    assert log_head(archive) is None
    assert missing(archive) == ([], [])


def test_every_single_byte_changed_in_the_log_is_seen(archive: Path) -> None:
    lines = _fill(archive, 3)
    path, data = archive / LOG_NAME, b"".join(lines)
    head = hashlib.sha256(lines[-1]).hexdigest()
    for place in range(len(data)):
        for flip in (1, 0x20):
            path.write_bytes(data[:place] + bytes([data[place] ^ flip]) + data[place + 1 :])
            log = read_log(archive)
            assert log is not None
            if place < len(data) - len(lines[-1]):
                assert log.problem
            assert log.problem or log.head != head  # the last line: as good as cut off


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda x: [x[0], x[2], x[3], x[4]], "line 2 does not follow"),
        (lambda x: [x[0], x[2], x[1], x[3], x[4]], "line 2 does not follow"),
        (lambda x: [x[0], x[0], *x[1:]], "line 2 does not follow"),
        (lambda x: x[1:], "line 1 does not follow"),
        (lambda x: [*x[:3], b"\n", *x[3:]], "line 4 is no line"),
        (lambda x: [*x[:3], x[3][:-1] + b"\r\n", x[4]], "line 4 is no line"),
        (lambda x: [x[0].replace(b'"n":1', b'"n":true'), *x[1:]], "line 1 is no line"),
        (lambda x: [x[0].replace(b'":', b'": ', 1), *x[1:]], "line 1 is no line"),
        (lambda x: [x[0].replace(b"job_L0", b"../../x"), *x[1:]], "line 1 is no line"),
        (lambda x: [b"[" * 100_000 + b"\n", *x], "line 1 is no line"),
        (lambda x: [b"\xff\xfe\n", *x], "line 1 is no line"),
    ],
)  # fmt: skip
def test_the_first_broken_line_is_named(archive: Path, change: object, words: str) -> None:
    assert callable(change)
    changed = change(_fill(archive))
    (archive / LOG_NAME).write_bytes(b"".join(changed))
    assert words in _problem(archive)


def test_a_log_that_is_a_link_is_neither_read_nor_written(archive: Path, tmp_path: Path) -> None:
    _fill(archive, 1)
    (archive / LOG_NAME).rename(tmp_path / "other")
    (archive / LOG_NAME).symlink_to(tmp_path / "other")
    before = (tmp_path / "other").read_bytes()
    assert "is a link" in _problem(archive)
    with pytest.raises(InputError, match="allowed: a file that can be written"):
        append(archive, "record", "job_L9", _hash("9"))
    assert (tmp_path / "other").read_bytes() == before


def test_a_line_that_was_only_begun_stands_for_nothing_and_the_log_goes_on(archive: Path) -> None:
    lines = _fill(archive, 2)
    with (archive / LOG_NAME).open("ab") as stream:
        stream.write(lines[1][:40])
    assert not _problem(archive)
    assert log_head(archive) == (2, hashlib.sha256(lines[1]).hexdigest())
    append(archive, "record", "job_L9", _hash("9"))
    log = read_log(archive)
    assert log is not None
    assert not log.problem
    assert [line.name for line in log.lines] == ["job_L0", "job_L1", "job_L9"]


def test_nothing_is_added_to_what_does_not_end_like_a_log(archive: Path) -> None:
    _fill(archive, 2)
    with (archive / LOG_NAME).open("ab") as stream:
        stream.write(b"x" * 10_000 + b"\n")
    before = (archive / LOG_NAME).read_bytes()
    with pytest.raises(RecordError, match="last line is no line of a log; nothing is added"):
        append(archive, "record", "job_L9", _hash("9"))
    assert (archive / LOG_NAME).read_bytes() == before


@pytest.mark.parametrize("name", ["", "../x", "a/b/c", ".hidden", "a\nb", "x" * 300])
def test_a_name_that_leads_out_of_the_archive_is_refused(archive: Path, name: str) -> None:
    with pytest.raises(InputError, match="a name and a hash that the log can hold"):
        append(archive, "signature", name, _hash(""))


def test_what_was_there_before_the_log_is_its_beginning_and_no_alarm(archive: Path, copied: Path) -> None:
    signatures = archive / f"{copied.name}.signatures"
    signatures.mkdir()
    (signatures / "checked.json").write_bytes(b"{}")
    sha = scan(archive)[0].manifest_sha256
    append(archive, "record", "job_L9", _hash("9"))
    log = read_log(archive)
    assert log is not None
    assert [(line.what, line.name, line.sha256) for line in log.lines] == [
        ("beginning", copied.name, sha),
        ("beginning", f"{copied.name}.signatures/checked.json", _hash("{}")),
        ("record", "job_L9", _hash("9")),
    ]
    gone, unlisted = missing(archive)
    assert [line.name for line in gone] == ["job_L9"]
    assert unlisted == []
    append(archive, "withdrawn", "job_L9", _hash("9"))
    assert missing(archive) == ([], [])


def test_what_was_deleted_replaced_or_brought_in_is_named(
    archive: Path, copied: Path, made_chain: tuple[Path, ...]
) -> None:
    there = found_in(archive)
    append(archive, "record", copied.name, there[copied.name])
    append(archive, "signature", f"{copied.name}.signatures/a.json", _hash("a"))
    (archive / f"{copied.name}.signatures").mkdir()
    signature = archive / f"{copied.name}.signatures" / "a.json"
    signature.write_bytes(b"a")
    assert missing(archive) == ([], [])
    signature.write_bytes(b"b")
    gone, unlisted = missing(archive)
    assert ([e.name for e in gone], unlisted) == ([f"{copied.name}.signatures/a.json"], [])
    signature.unlink()
    shutil.rmtree(copied)
    gone, unlisted = missing(archive)
    assert [e.what for e in gone] == ["record", "signature"]
    copied.mkdir()  # an empty folder of that name is not the record
    assert len(missing(archive)[0]) == 2
    shutil.copytree(made_chain[0], archive / made_chain[0].name)
    gone, unlisted = missing(archive)
    assert unlisted == [made_chain[0].name]
    assert len(gone) == 2


def test_a_later_line_of_a_name_changes_nothing_and_only_a_record_can_be_withdrawn(archive: Path) -> None:
    append(archive, "record", "job_L1", _hash("honest"))
    append(archive, "record", "job_L1", _hash("put in its place"))
    append(archive, "withdrawn", "job_L1", _hash("put in its place"))
    append(archive, "signature", "job_L1.signatures/a.json", _hash("a"))
    append(archive, "withdrawn", "job_L1.signatures/a.json", _hash("a"))
    append(archive, "record", "job_L2", _hash("2"))
    append(archive, "withdrawn", "job_L2", _hash("2"))
    log = read_log(archive)
    assert log is not None
    standing = {name: line.sha256 for name, line in log.standing().items()}
    assert standing == {"job_L1": _hash("honest"), "job_L1.signatures/a.json": _hash("a")}
    assert log.withdrawn() == ["job_L2"]


def test_what_lies_unfinished_for_long_is_missing(archive: Path, copied: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    append(archive, "record", copied.name, found_in(archive)[copied.name])
    copied.rename(archive / f"{PART_PREFIX}0123abcd-1-0")
    assert missing(archive) == ([], [])
    later = time.time() + 700.0
    monkeypatch.setattr(time, "time", lambda: later)
    assert [e.name for e in missing(archive)[0]] == [copied.name]


def test_a_damaged_record_is_there_and_not_called_deleted(archive: Path, copied: Path) -> None:
    append(archive, "record", copied.name, found_in(archive)[copied.name])
    (copied / "manifest.json").write_bytes(b"{}")
    assert found_in(archive) == {copied.name: ""}
    assert missing(archive) == ([], [])


def test_lock_and_log_are_no_records_and_a_star_passes_over_them(archive: Path, copied: Path) -> None:
    append(archive, "record", copied.name, found_in(archive)[copied.name])
    assert [entry.record for entry in scan(archive)] == [copied.name]
    records, passed_over = sheets_named(sorted(archive.glob("[!.]*")))
    assert records == [copied]
    assert passed_over == [archive / LOG_NAME]


def test_two_processes_and_two_threads_never_hold_an_archive_at_once(archive: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from liftcalc.records.log import archive_lock\n"
        "with archive_lock(Path(sys.argv[1])):\n"
        "    print('held', flush=True); sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(archive)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == b"held\n"
        with (
            pytest.raises(InputError, match=r"held by somebody else for 0\.1 s: a run, batch, re-ch"),
            archive_lock(archive, wait_s=0.1),
        ):
            pytest.fail("the archive was held twice")
        other.communicate()
    refused: list[str] = []

    def attempt() -> None:
        try:
            with archive_lock(archive, wait_s=0.1):
                pass
        except InputError as error:
            refused.append(str(error))

    with archive_lock(archive), archive_lock(archive):  # its holder may enter again
        thread = threading.Thread(target=attempt)
        thread.start()
        thread.join()
    assert len(refused) == 1
    attempt()
    assert len(refused) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="the locks of POSIX")
@pytest.mark.parametrize("code", [errno.ENOSYS, errno.ENOLCK, errno.EOPNOTSUPP])
def test_a_file_system_without_locks_is_refused_in_words_and_nothing_is_written(
    archive: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    def refuse(handle: int, how: int) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(fcntl, "flock", refuse)
    with pytest.raises(InputError, match="allowed: a folder that can be written and locked"):
        append(archive, "record", "job_L1", _hash("1"))
    assert not (archive / LOG_NAME).exists()


def test_an_archive_that_cannot_be_written_is_refused_in_words(archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.open

    def read_only(path: object, flags: int, *more: object, **given: object) -> int:
        if flags & os.O_CREAT:
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))
        return real(path, flags, *more, **given)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", read_only)
    with pytest.raises(InputError, match=r"folder that can be written and locked \(Read-only"):
        append(archive, "record", "job_L1", _hash("1"))
