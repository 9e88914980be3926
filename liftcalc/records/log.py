"""The archive's log and lock: every record, check and signature there ever was, in its order.

``log.jsonl`` lies beside the records and only grows. A line is canonical JSON and holds the SHA-256
of the line before it, line end included (so ``sed -n 3p log.jsonl | sha256sum`` is what line 4 must
say): none can be changed, taken out or put in unseen. Lines cut off at the end are not seen from
the log alone; for that a signature carries its head. Who looks and then writes holds ``.lock``.
"""

import contextlib
import json
import os
import re
import stat
import time
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal, get_args

from filelock import FileLock, Timeout

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.files import read_regular, reason, writing
from liftcalc.base.strict_json import sha256_hex
from liftcalc.records.manifest import MANIFEST_NAME, PART_PREFIX, sealed_hash, utc_now
from liftcalc.records.verify import MAX_MANIFEST_BYTES

LOG_NAME = "log.jsonl"
What = Literal["beginning", "record", "check", "signature", "time stamp", "withdrawn"]
"""``beginning``: was there when the log began; ``withdrawn``: its writer ended before it stood."""
_PUT = ("record", "check")
_WAIT_S = 60.0
_WRITING_S = 600.0
"""How long something unfinished may lie there before what the log says of it is called missing."""
_MAX_BYTES = 500_000_000
_MAX_FILE_BYTES = 1_000_000
_TAIL_BYTES = 4096
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,139}(/[A-Za-z0-9][A-Za-z0-9_.-]{0,139})?")
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class LogLine:
    """One line: *sha256* is a record's ``manifest_sha256``, or the hash of a signature's file."""

    n: int
    utc: str
    what: str
    name: str
    sha256: str
    previous: str

    def text(self) -> bytes:
        """The one text of the line, with its end."""
        return json.dumps(asdict(self), sort_keys=True, separators=(",", ":")).encode() + b"\n"


@dataclass(frozen=True)
class ArchiveLog:
    """The lines up to the first broken one, which *problem* names; *head*: hash of the last."""

    lines: tuple[LogLine, ...]
    head: str
    problem: str = ""

    def standing(self) -> dict[str, LogLine]:
        """What should be there, by name: the first line of each, unless its writer withdrew it."""
        lines: dict[str, LogLine] = {}
        for line in self.lines:
            said = lines.setdefault(line.name, line)
            if (line.what, line.sha256) == ("withdrawn", said.sha256) and said.what in _PUT:
                lines[line.name] = line
        return {name: line for name, line in lines.items() if line.what != "withdrawn"}

    def withdrawn(self) -> list[str]:
        """What never stood by the word of the log alone."""
        there = self.standing()
        return [e.name for e in self.lines if e.what == "withdrawn" and e.name not in there]


def write_new(path: Path, data: bytes) -> None:
    """Write a file that is not there yet, and bring it to the disk."""
    with path.open("xb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def sync_folder(folder: Path) -> None:
    """Bring the names in a folder to the disk."""
    if os.name == "nt":  # a folder cannot be opened for syncing there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextlib.contextmanager
def archive_lock(archive: Path, *, wait_s: float = _WAIT_S) -> Iterator[None]:
    """Hold the archive so that nobody writes meanwhile; its holder may enter again.

    Raises: The folder cannot be written or locked, or another holds it for longer than *wait_s*.
    """
    try:
        # Whoever may write into the archive may also hold it.
        lock = FileLock(
            archive.resolve() / ".lock", mode=archive.stat().st_mode & 0o666, is_singleton=True, fallback_to_soft=False
        )
        lock.acquire(wait_s, poll_interval=0.01)
    except Timeout:
        raise InputError.of(
            "", None, f"{archive} has been held by somebody else for {wait_s:g} s: a run, batch, "
            "re-check or signing, here or on a machine that shares the folder",
            "Nothing was written. Start again when that has ended.",
        ) from None  # fmt: skip
    except (OSError, NotImplementedError) as error:
        why = getattr(error, "strerror", None) or str(error) or "no locks on this file system"
        raise InputError.of(
            "archive", str(archive), f"a folder that can be written and locked ({why})",
            "Write into a folder on a disk of this machine, and copy the records from there.",
        ) from None  # fmt: skip
    try:
        yield
    finally:
        lock.release()


def _parsed(text: bytes) -> LogLine | None:
    try:
        line = LogLine(**json.loads(text))
    except (ValueError, TypeError, RecursionError):
        return None
    words = (line.utc, line.what, line.name, line.sha256, line.previous)
    if type(line.n) is not int or not all(isinstance(word, str) for word in words):
        return None
    named = _NAME.fullmatch(line.name) and _SHA256.fullmatch(line.sha256)
    return line if line.what in get_args(What) and named and line.text() == text else None


def read_log(archive: Path) -> ArchiveLog | None:
    """The log, every line checked against the one before; None where there is none.

    A last line without its end was never finished, stands for nothing and is passed over.
    """
    path = archive / LOG_NAME
    if not os.path.lexists(path):
        return None
    try:
        data = read_regular(path, _MAX_BYTES)
    except RecordError as error:
        return ArchiveLog((), "", f"{LOG_NAME} {error}")
    lines: list[LogLine] = []
    head = "0" * 64
    for n, part in enumerate(data.split(b"\n")[:-1], start=1):
        text = part + b"\n"
        line = _parsed(text)
        if line is None or (line.n, line.previous) != (n, head):
            why = "does not follow from the line before it" if line else "is no line of a log"
            return ArchiveLog(tuple(lines), head, f"{LOG_NAME}: line {n} {why}")
        lines.append(line)
        head = sha256_hex(text)
    return ArchiveLog(tuple(lines), head)


def _last(handle: int) -> tuple[int, str, int]:
    """Number and hash of the last finished line, and where it ends."""
    size = os.fstat(handle).st_size
    start = max(0, size - _TAIL_BYTES)
    os.lseek(handle, start, os.SEEK_SET)
    text = os.read(handle, _TAIL_BYTES)
    end = text.rfind(b"\n") + 1
    if not end and not start:
        return 0, "0" * 64, 0
    last = text[text.rfind(b"\n", 0, max(0, end - 1)) + 1 : end]
    line = _parsed(last)
    if line is None:
        raise RecordError(f"{LOG_NAME}: its last line is no line of a log; nothing is added to it")
    return line.n, sha256_hex(last), start + end


def log_head(archive: Path) -> tuple[int, str] | None:
    """Number and SHA-256 of the log's last line; None where there is no log, or RecordError."""
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    try:
        handle = os.open(archive / LOG_NAME, flags)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise RecordError(f"{LOG_NAME}: {reason(error)}") from None
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise RecordError(f"{LOG_NAME}: is not a regular file")
        return _last(handle)[:2]
    finally:
        os.close(handle)


def append(archive: Path, what: What, name: str, sha256: str) -> None:
    """Add a line under the archive's lock and bring it to the disk; a log that is not there begins.

    *name* is the record, or a file beside it (``RECORD.signatures/FILE``), written before its line,
    so that a stop in between is no deletion.
    """
    path = archive / LOG_NAME
    with writing("log", path, "file"), archive_lock(archive):
        if not os.path.lexists(path):
            draft = archive / f".{LOG_NAME}"
            draft.unlink(missing_ok=True)
            there = sorted((k, v) for k, v in found_in(archive).items() if v and k != name)
            _add(draft, [("beginning", *item) for item in there])
            draft.replace(path)
            sync_folder(archive)
        _add(path, [(what, name, sha256)])


def _add(path: Path, added: list[tuple[What, str, str]]) -> None:
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    mode = path.parent.stat().st_mode & 0o666
    handle = os.open(path, flags, mode)
    try:
        before, previous, end = _last(handle)
        lines = []
        for n, (what, name, sha256) in enumerate(added, start=before + 1):
            lines.append(LogLine(n, utc_now(), what, name, sha256, previous).text())
            if _parsed(lines[-1]) is None:
                raise InputError.of("name", name, "a name and a hash that the log can hold")
            previous = sha256_hex(lines[-1])
        os.ftruncate(handle, end)  # a line that a stopped writer had only begun
        os.lseek(handle, end, os.SEEK_SET)
        with os.fdopen(handle, "wb", closefd=False) as stream:
            stream.writelines(lines)
        os.fsync(handle)
    finally:
        os.close(handle)
    with contextlib.suppress(OSError):
        path.chmod(mode)  # whoever may write into the archive may go on with its log


def _hash_at(path: Path) -> str:
    """Hash of the record or signature at a path; empty where it cannot be read."""
    try:
        if path.is_dir() and not path.is_symlink():
            return sealed_hash(read_regular(path / MANIFEST_NAME, MAX_MANIFEST_BYTES))
        return sha256_hex(read_regular(path, _MAX_FILE_BYTES))
    except RecordError:
        return ""


def found_in(archive: Path, *, records: bool = True) -> dict[str, str]:
    """Records (if wanted) and what lies in their folders of signatures, with the hash of each."""
    found = {}
    for folder in archive.glob("[!.]*/"):
        if folder.name.endswith(".signatures"):
            files = [p for p in folder.iterdir() if not p.name.startswith(".")]
            found.update({f"{folder.name}/{p.name}": _hash_at(p) for p in files})
        elif records and os.path.lexists(folder / MANIFEST_NAME):
            found[folder.name] = _hash_at(folder)
    return found


def missing(archive: Path, present: Mapping[str, str] | None = None) -> tuple[list[LogLine], list[str]]:
    """What the log names and is not there (or is another), and what is there and not in the log.

    *present*: what :func:`found_in` gives. A damaged record (hash empty) is there; what a writer
    that was killed, or still writes, has not finished is not gone.
    """
    there = found_in(archive) if present is None else present
    log = read_log(archive)
    if log is None:
        return [], []
    standing = log.standing()
    gone = [e for e in standing.values() if there.get(e.name) not in ("", e.sha256)]
    if gone:
        # Looked at in this order, one that is being put in place is met before or after.
        unfinished = set()
        for part in archive.glob(f"{PART_PREFIX}*"):
            with contextlib.suppress(FileNotFoundError):
                if part.lstat().st_ctime > time.time() - _WRITING_S:
                    unfinished.add(_hash_at(part))
        gone = [e for e in gone if e.sha256 not in unfinished]
        gone = [e for e in gone if e.name in there or _hash_at(archive / e.name) != e.sha256]
    return gone, sorted(set(there) - set(standing))
