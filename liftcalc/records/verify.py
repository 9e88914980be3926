"""Is a record whole and unchanged? Reads it as something that may be hostile.

Nothing in a record is executed, imported or followed: links are named and not opened, files are
opened without following links and never read beyond the size that the manifest states, and no path
of a manifest is used before it is known to lie inside the record.
"""

import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from liftcalc.base.errors import RecordError
from liftcalc.base.files import read_regular, reason
from liftcalc.base.strict_json import dumps, loads, sha256_hex
from liftcalc.records.derive import contradictions, misplaced
from liftcalc.records.manifest import MANIFEST_NAME, PART_PREFIX, Manifest, read_manifest

MAX_MANIFEST_BYTES = 1_000_000
MAX_FILE_BYTES = 100_000_000
MAX_FILES = 500

_SAFE_PATH = re.compile(r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,119}(/[A-Za-z0-9][A-Za-z0-9_.-]{0,119}){0,3}$")


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong with a record: a short code, the file, and words."""

    code: str
    file: str
    message: str

    def __str__(self) -> str:
        return f"{self.file}: {self.message}" if self.file else self.message


@dataclass(frozen=True)
class Verified:
    """Outcome of :func:`verify_record`; *content* holds the bytes whose hashes were checked."""

    folder: Path
    manifest: Manifest | None
    findings: tuple[Finding, ...]
    content: dict[str, bytes] = field(default_factory=dict, repr=False)

    @property
    def ok(self) -> bool:
        """True when nothing is wrong."""
        return not self.findings

    def json(self, name: str) -> Any:
        """A JSON file of the record, from the bytes that were checked."""
        if name not in self.content:
            raise RecordError(f"{self.folder.name}: has no readable {name}")
        return loads(self.content[name], name)


def _listing(folder: Path, findings: list[Finding]) -> set[str]:
    """Relative paths of every regular file below *folder*; anything else becomes a finding."""
    files: set[str] = set()
    todo = [(folder, "")]
    while todo:
        current, prefix = todo.pop()
        try:
            entries = sorted(os.scandir(current), key=lambda e: e.name)
        except OSError as error:
            findings.append(Finding("unreadable", prefix, f"cannot be listed ({reason(error)})"))
            continue
        if not entries:
            findings.append(Finding("extra", _show(prefix), "is an empty folder"))
        for entry in entries:
            name = prefix + entry.name
            if entry.is_symlink():
                findings.append(Finding("link", _show(name), "is a link; a record holds none"))
            elif entry.is_dir(follow_symlinks=False):
                if prefix.count("/") >= 3:
                    findings.append(Finding("extra", _show(name), "is nested too deep"))
                else:
                    todo.append((Path(entry.path), name + "/"))
            elif entry.is_file(follow_symlinks=False):
                files.add(name)
            else:
                findings.append(Finding("special", _show(name), "is neither file nor folder"))
            if len(files) + len(findings) + len(todo) > 2 * MAX_FILES:
                findings.append(Finding("extra", "", f"holds more than {2 * MAX_FILES} files"))
                return files
    return files


def _show(name: str) -> str:
    return name.encode("utf-8", "backslashreplace").decode("utf-8")[:200]


def _check_files(folder: Path, manifest: Manifest, present: set[str], findings: list[Finding]) -> dict[str, bytes]:
    content: dict[str, bytes] = {}
    if len(manifest.files) > MAX_FILES:
        findings.append(Finding("manifest", MANIFEST_NAME, f"lists more than {MAX_FILES} files"))
        return content
    lowered = [name.lower() for name in manifest.files]
    if len(set(lowered)) != len(lowered):
        findings.append(Finding("path", MANIFEST_NAME, "lists names that differ only in case"))
    for name, entry in manifest.files.items():
        shown = _show(name)
        if not _SAFE_PATH.fullmatch(name) or name == MANIFEST_NAME:
            findings.append(Finding("path", shown, "the manifest points outside the record"))
            continue
        if name not in present:
            if not any(f.file == shown for f in findings):
                findings.append(Finding("missing", shown, "is missing"))
            continue
        if entry.size > MAX_FILE_BYTES:
            findings.append(Finding("huge", shown, f"is stated to have {entry.size} bytes"))
            continue
        try:
            data = read_regular(folder / name, entry.size)
        except RecordError as error:
            findings.append(Finding("size", shown, f"{error} by the manifest"))
            continue
        if len(data) != entry.size:
            findings.append(Finding("size", shown, f"has {len(data)} bytes; the manifest says {entry.size}"))
        elif sha256_hex(data) != entry.sha256:
            findings.append(Finding("changed", shown, "was changed (its hash does not match)"))
        else:
            content[name] = data
    for name in sorted(present - set(manifest.files) - {MANIFEST_NAME}):
        findings.append(Finding("extra", _show(name), "is not listed in the manifest"))
    return content


def _check_content(manifest: Manifest, content: dict[str, bytes]) -> list[Finding]:
    """Do the files say the same as the manifest? (A forger may have sealed it again.)"""
    findings = [Finding("files", MANIFEST_NAME, text) for text in misplaced(manifest)]
    for name in sorted(content):
        if not name.endswith((".json", ".ipynb")):
            continue
        try:
            value = loads(content[name], name)
        except RecordError as error:
            findings.append(Finding("json", name, str(error).removeprefix(f"{name}: ")))
            continue
        if not isinstance(value, dict):
            findings.append(Finding("json", name, "an object is expected"))
        elif dumps(value) != content[name]:
            findings.append(Finding("json", name, "is not in the one form that is written"))
    if not findings and set(content) == set(manifest.files):
        said = contradictions(manifest, content)
        findings += [Finding("contradiction", MANIFEST_NAME, text) for text in said]
    return findings


def verify_record(folder: Path) -> Verified:
    """Check one record folder and report everything that is wrong with it.

    Never raises for what is in the folder; a folder that cannot be read at all is a finding.
    """
    findings: list[Finding] = []

    def broken(*finding: str) -> Verified:
        return Verified(folder, None, (*findings, Finding(*finding)))

    name = folder.name or folder.resolve().name
    try:
        if folder.is_symlink():
            return broken("link", "", "the record is a link, not a folder")
        if not folder.is_dir():
            return broken("missing", "", "there is no such record folder")
    except (OSError, ValueError) as error:
        return broken("unreadable", "", f"cannot be opened ({reason(error)})")
    if name.startswith(PART_PREFIX):
        return broken("unfinished", "", "was never finished; it is not a record")
    present = _listing(folder, findings)
    try:
        manifest = read_manifest(read_regular(folder / MANIFEST_NAME, MAX_MANIFEST_BYTES))
    except RecordError as error:
        text = str(error).removeprefix(f"{MANIFEST_NAME}: ")
        return broken("manifest", MANIFEST_NAME, text)
    if manifest.record != name:
        text = f"belongs to the record {manifest.record}; if the folder was renamed, name it back"
        findings.append(Finding("name", MANIFEST_NAME, text))
    content = _check_files(folder, manifest, present, findings)
    findings.extend(_check_content(manifest, content))
    return Verified(folder, manifest, tuple(findings), content)


def require_record(folder: Path) -> Verified:
    """Verify *folder*; raise :class:`RecordError` with every finding unless it is whole."""
    verified = verify_record(folder)
    if not verified.ok:
        raise RecordError(f"{folder.name}: " + "; ".join(str(f) for f in verified.findings))
    return verified
