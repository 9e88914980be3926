"""Whose key it is: a checker's list of trusted keys, and what signatures are worth by it.

The list is a YAML file that the checker holds, not the archive::

    keys:
      - name: A. Engineer
        public_key: 3b6a...          # 64 hexadecimal digits, or PEM
        roles: [checked, approved]
        valid_from: "2026-01-01"
        valid_until: "2027-12-31"
    time_stamp_authorities: [root.pem]   # files beside the list, or PEM

The time of a signature is the signer's word; a time stamp (:mod:`liftcalc.records.stamp`) is not.
"""

from collections.abc import Collection
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.files import read_regular
from liftcalc.base.strict_json import sha256_hex
from liftcalc.facts.base import Fact, Faults
from liftcalc.facts.io import parse_fact, read_data
from liftcalc.facts.plain import read_text
from liftcalc.records.log import LOG_NAME, ArchiveLog, read_log
from liftcalc.records.manifest import MANIFEST_NAME, Manifest, read_manifest
from liftcalc.records.sign import ROLES, Signature, public_key_hex, read_signatures, signer_name
from liftcalc.records.stamp import read_stamps, root_certificates
from liftcalc.records.verify import MAX_MANIFEST_BYTES


class TrustedKey(Fact):
    """A key, whose it is, for which roles and from which day to which (UTC, both included)."""

    name: Annotated[str, AfterValidator(signer_name)]
    public_key: Annotated[str, AfterValidator(public_key_hex)]
    roles: Annotated[tuple[Literal["prepared", "checked", "approved"], ...], Field(min_length=1)]
    valid_from: date
    valid_until: date
    note: str = ""


class Trusted(Fact):
    """Keys and roots of time-stamp authorities that a checker trusts."""

    keys: tuple[TrustedKey, ...] = ()
    time_stamp_authorities: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _each_once(self) -> Self:
        known = [k.public_key for k in self.keys]
        faults = [
            f"keys[{i}] ({k.name}) is not the first entry of its key: one person, one entry a key"
            for i, k in enumerate(self.keys) if k.public_key in known[:i]
        ]  # fmt: skip
        faults += [
            f"keys[{i}] ({k.name}): valid_until lies before valid_from"
            for i, k in enumerate(self.keys) if k.valid_until < k.valid_from
        ]  # fmt: skip
        if faults:
            raise Faults(faults)
        root_certificates(self.time_stamp_authorities)
        return self

    def objection(self, signature: Signature, manifest: Manifest) -> str:
        """Why a valid signature does not count; empty if it does."""
        key = next((k for k in self.keys if k.public_key == signature.public_key), None)
        if key is None:
            return "its key is not in the list of trusted keys"
        if key.name != signature.name:
            return f"its key is that of {key.name}"
        if signature.role not in key.roles:
            return f"its key is trusted for {', '.join(key.roles)} only"
        day = date.fromisoformat(signature.utc[:10])
        if not key.valid_from <= day <= key.valid_until:
            return f"its key is trusted from {key.valid_from} to {key.valid_until} only"
        if not manifest.prepared_utc[:10] <= signature.utc[:10] <= str(datetime.now(UTC).date()):
            return "it is dated before the record was prepared, or after today"
        return ""


def load_trusted(path: Path) -> Trusted:
    """Read a list of trusted keys; certificates named as files are read with it."""
    data = read_data(path)
    roots = data.get("time_stamp_authorities") if isinstance(data, dict) else None
    if isinstance(roots, list):
        data["time_stamp_authorities"] = [
            read_text(path.parent / r) if isinstance(r, str) and "-----BEGIN" not in r else r for r in roots
        ]
    return parse_fact(Trusted, data, source=str(path))


def _continues(log: ArchiveLog, stated: Any) -> bool:
    """Does the log still hold, where it stood, the line that was its last when it was signed?"""
    match stated:
        case None | {"entries": 0}:
            return True
        case {"entries": int(n), "head": str(head)}:
            return len(log.lines) >= n > 0 and sha256_hex(log.lines[n - 1].text()) == head
    return False


def signature_findings(
    folder: Path, manifest: Manifest, trusted: Trusted | None = None, require: Collection[str] = ()
) -> tuple[list[str], list[str]]:
    """What is wrong with the signatures and time stamps beside a record, and what they say.

    require: Roles that a trusted key must have signed in.
    Returns: Findings (a signature that is not valid; one that is required and missing) and notes.
    """
    if require and trusted is None:
        raise InputError.of("", None, "A signature can be required only with a list of trusted keys")
    try:
        signatures = read_signatures(folder, manifest)
        stamps = read_stamps(folder, trusted.time_stamp_authorities if trusted else ())
    except InputError as error:
        said = [f"signatures were not verified: {error}"]
        return (said, []) if require else ([], said)
    findings = [f"signature {s.file}: {s.problem}" for s in signatures if s.problem]
    findings += [f"time stamp {s.file}: {s.problem}" for s in stamps if s.problem]
    notes = [f"time stamp {s.file}: {s.words}" for s in stamps if not s.problem]
    log = read_log(folder.absolute().parent) if any(s.log for s in signatures) else None
    # Whatever it says of the record: a log that does not name it is that of another archive.
    named = log is not None and any(line.name == manifest.record for line in log.lines)
    counted = set()
    for s in signatures:
        if s.problem:
            continue
        if s.log and not named:
            alone = "the log that it names is not here: what came later is not seen"
            notes.append(f"signature {s.file}: {alone}")
        elif log and named and not _continues(log, s.log):
            findings.append(f"{LOG_NAME}: is not that of the time of signature {s.file}, and more")
        words = f"signed as {s.role} by {s.name} at {s.utc}, key {s.fingerprint}"
        against = (
            trusted.objection(s, manifest)
            if trusted
            else "whose key it is, is not known (no list of trusted keys was given)"
        )
        if against and s.role in require:
            findings.append(f"{words}: {against}")
        else:
            notes.append(f"{words}: {against or 'a trusted key'}")
        if not against:
            counted.add(s.role)
    missing = [role for role in ROLES if role in require and role not in counted]
    findings += [f"not signed as {role} with a trusted key" for role in missing]
    return findings, notes


def signed_words(folder: Path, trusted: Trusted | None = None) -> str:
    """The same for the register: roles signed in, the time stamped, and how many do not verify."""
    try:
        manifest = read_manifest(read_regular(folder / MANIFEST_NAME, MAX_MANIFEST_BYTES))
        signatures = read_signatures(folder, manifest)
        stamps = read_stamps(folder, trusted.time_stamp_authorities if trusted else ())
    except (InputError, RecordError):
        return "not verified"
    good = [s for s in signatures if not s.problem]
    counted = {s.role for s in good if trusted and not trusted.objection(s, manifest)}
    words = [
        role if role in counted else f"{role} (no trusted key)" for role in ROLES if any(s.role == role for s in good)
    ]
    words += [f"time stamp {min(t)}" for t in [[s.utc for s in stamps if s.trusted]] if t]
    bad = sum(bool(s.problem) for s in signatures) + sum(bool(s.problem) for s in stamps)
    return ", ".join([*words, *([f"{bad} not valid"] if bad else [])])
