"""Writing a record: beside, whole, then renamed into place, and never again.

A record appears under its name only when every file and the manifest are on the disk, so a reader
or another writer never sees half of one, whatever moment the machine stops at. Several processes
may write into one archive: every writer has its own staging folder, and names carry random digits.
"""

import contextlib
import os
import secrets
import shutil
import socket
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Self

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.files import read_regular, reason, writing
from liftcalc.base.strict_json import sha256_hex
from liftcalc.records.log import What, append, archive_lock, read_log, sync_folder, write_new
from liftcalc.records.manifest import (
    MANIFEST_NAME,
    PART_PREFIX,
    FileEntry,
    Manifest,
    manifest_bytes,
    read_manifest,
    sheet_stem,
)
from liftcalc.records.verify import MAX_MANIFEST_BYTES


def _host() -> str:
    return sha256_hex(socket.gethostname().encode())[:8]


def make_read_only(folder: Path) -> None:
    """Take the write permission from a record; best effort, the hashes are the real guard."""
    for path in [*sorted(folder.rglob("*"), reverse=True), folder]:
        if not path.is_symlink():
            with contextlib.suppress(OSError):
                path.chmod(0o555 if path.is_dir() else 0o444)


def entries(content: Mapping[str, bytes]) -> dict[str, FileEntry]:
    """Manifest entries of a record's files."""
    return {name: FileEntry(sha256=sha256_hex(data), size=len(data)) for name, data in sorted(content.items())}


class Staging:
    """A folder in which one record is prepared; left without :meth:`commit`, it is removed."""

    def __init__(self, archive: Path) -> None:
        with writing("archive", archive):
            archive.mkdir(parents=True, exist_ok=True)
            self.archive = archive.resolve()
            name = f"{PART_PREFIX}{_host()}-{os.getpid()}-{secrets.token_hex(6)}"
            self.path = self.archive / name
            self.path.mkdir()
        self._committed = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *ended: object) -> None:
        if not self._committed:
            _discard(self.path)

    def write(self, files: Mapping[str, bytes]) -> None:
        """Write files into the folder; an existing file raises."""
        for name, data in files.items():
            (self.path / name).parent.mkdir(parents=True, exist_ok=True)
            write_new(self.path / name, data)

    def commit(self, manifest: Manifest) -> Path:
        """Seal the folder with its manifest and give it its name; returns the record folder.

        The archive's log names the record first, so that none was ever there without it.
        """
        found = (p for p in self.path.rglob("*") if p.is_symlink() or not p.is_dir())
        if odd := {p.relative_to(self.path).as_posix() for p in found} ^ set(manifest.files):
            names = ", ".join(sorted(odd))
            raise RecordError(f"the sheet left files that do not belong to a record: {names}")
        self.write({MANIFEST_NAME: manifest_bytes(manifest)})
        for folder in [*(p for p in self.path.rglob("*") if p.is_dir()), self.path]:
            sync_folder(folder)
        target = self.archive / manifest.record
        with archive_lock(self.archive):
            if os.path.lexists(target):
                raise RecordError(f"{manifest.record} exists; a record is never overwritten")
            what: What = "check" if manifest.kind == "check" else "record"
            append(self.archive, what, manifest.record, manifest.manifest_sha256)
            try:
                # A record is never empty, so a rename cannot replace one written in between.
                self.path.rename(target)
            except OSError as error:
                why = f"{manifest.record} cannot be put in place ({reason(error)})"
                raise RecordError(why) from None
            self._committed = True
            sync_folder(self.archive)
        make_read_only(target)
        return target


def _discard(folder: Path) -> None:
    """Remove an unfinished folder; the log's word of it is withdrawn first, or the folder stays."""
    archive = folder.parent
    with contextlib.ExitStack() as held, contextlib.suppress(InputError, RecordError):
        try:
            sealed = read_manifest(read_regular(folder / MANIFEST_NAME, MAX_MANIFEST_BYTES))
        except RecordError:  # not sealed, so the log knows nothing of it
            pass
        else:
            held.enter_context(archive_lock(archive))
            log = read_log(archive)
            said = log.standing().get(sealed.record) if log else None
            stands = os.path.lexists(archive / sealed.record)
            if said and said.sha256 == sealed.manifest_sha256 and not stands:
                append(archive, "withdrawn", sealed.record, sealed.manifest_sha256)
        shutil.rmtree(folder, ignore_errors=True)


def records_of_sheet(archive: Path, job: str, lift: str, template: str) -> list[Manifest]:
    """Manifests of the records of one sheet in an archive, newest first, met by their names."""
    stem = sheet_stem(job, lift, template)
    found = []
    for name in os.listdir(archive) if archive.is_dir() else ():
        if name.startswith(stem):
            with contextlib.suppress(RecordError):  # damaged: the register says so
                data = read_regular(archive / name / MANIFEST_NAME, MAX_MANIFEST_BYTES)
                m = read_manifest(data)
                if (name, "sheet", job, lift, template) == (m.record, m.kind, m.job, m.lift, m.template):
                    found.append(m)
    return sorted(found, key=lambda m: (m.prepared_utc, m.record), reverse=True)


def current(records: Sequence[Manifest]) -> list[Manifest]:
    """Those of one sheet's records that no other of them revises."""
    revised = {link.manifest_sha256 for m in records for link in m.revises}
    return [m for m in records if m.manifest_sha256 not in revised]


def clear_abandoned(archive: Path) -> int:
    """Remove what writers of this machine left when they were killed; returns how many.

    Folders of other machines or of living processes are left alone.
    """
    if os.name == "nt":
        return 0
    count, prefix = 0, f"{PART_PREFIX}{_host()}-"
    for path in archive.glob(f"{prefix}*/"):
        pid = path.name.removeprefix(prefix).split("-", 1)[0]
        if not pid.isdigit() or path.is_symlink():
            continue
        try:
            os.kill(int(pid), 0)
        except ProcessLookupError:
            _discard(path)
            count += 1
        except (OSError, OverflowError):
            continue
    return count
