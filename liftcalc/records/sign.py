"""Optional signatures with a key of the user's own: prepared, checked, approved.

A signature covers the hash of the record's manifest, and so every file and the whole chain behind
it. It lies beside the record, in ``<record>.signatures``, because a record is never written again.
A valid signature says that the holder of the key signed; whose key it is, the reader must know.

Source: Ed25519, RFC 8032, through the ``cryptography`` library (extra ``sign``).
"""

from __future__ import annotations

import os
import re
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from liftcalc.base.errors import InputError, RecordError, missing_extra
from liftcalc.base.files import read_regular
from liftcalc.base.strict_json import dumps, loads, sha256_hex
from liftcalc.records.manifest import safe_name, utc_now
from liftcalc.records.verify import require_record

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

ROLES = ("prepared", "checked", "approved")
SCHEMA = "liftcalc/signature/1"
_KEYS = {"schema", "record", "manifest_sha256", "role", "name", "utc", "public_key", "signature"}
_MAX_BYTES = 20_000


@dataclass(frozen=True)
class Signature:
    """One signature found beside a record, and what is wrong with it (empty if it is valid)."""

    file: str
    role: str
    name: str
    utc: str
    fingerprint: str
    problem: str = ""


def _crypto() -> Any:
    try:
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError:
        raise missing_extra("sign", "signing") from None
    return ed25519


def new_key(path: Path, password: str = "") -> str:
    """Write a new private key (PEM, encrypted when a password is given); returns its fingerprint.

    An existing file is never replaced.
    """
    key = _crypto().Ed25519PrivateKey.generate()
    from cryptography.hazmat.primitives import serialization as s

    lock: Any = s.BestAvailableEncryption(password.encode()) if password else s.NoEncryption()
    pem = key.private_bytes(s.Encoding.PEM, s.PrivateFormat.PKCS8, lock)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as error:
        raise InputError.of("key file", str(path), f"a new file ({error.strerror})") from None
    with os.fdopen(handle, "wb") as stream:
        stream.write(pem)
    return _fingerprint(key.public_key().public_bytes_raw())


def load_key(path: Path, password: str = "") -> Ed25519PrivateKey:
    """Read a private key made by :func:`new_key` or by another tool (PEM, Ed25519)."""
    ed25519 = _crypto()
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        pem = read_regular(path, _MAX_BYTES)
        key = load_pem_private_key(pem, password.encode() if password else None)
    except RecordError as error:
        raise InputError.of(
            "key file", str(path), f"a readable file (it {error})",
            "A key is made with --new-key." if not path.exists() else "",
        ) from None  # fmt: skip
    except (ValueError, TypeError) as error:
        raise InputError.of(
            "key file", str(path), f"a PEM key and its password ({error})"
        ) from None
    if not isinstance(key, ed25519.Ed25519PrivateKey):
        raise InputError.of("key file", str(path), "an Ed25519 key")
    return key  # type: ignore[no-any-return]


def _fingerprint(public: bytes) -> str:
    return sha256_hex(public)[:16]


def _signed_bytes(plain: dict[str, Any]) -> bytes:
    return dumps({k: v for k, v in plain.items() if k != "signature"})


def sign_record(folder: Path, key: Ed25519PrivateKey, *, role: str, name: str) -> Path:
    """Sign a whole record in a role; returns the new signature file beside it.

    Raises :class:`RecordError` when the record is not whole: nobody signs a broken one.
    """
    if role not in ROLES:
        raise InputError.of("role", role, ", ".join(ROLES))
    if not re.fullmatch(r"[^\x00-\x1f\x7f]{1,120}", name):
        raise InputError.of("name", name, "the signer's name, 1 to 120 characters")
    manifest = require_record(folder).manifest
    assert manifest is not None
    plain: dict[str, Any] = {
        "schema": SCHEMA, "record": manifest.record, "manifest_sha256": manifest.manifest_sha256,
        "role": role, "name": name, "utc": utc_now(),
        "public_key": key.public_key().public_bytes_raw().hex(),
    }  # fmt: skip
    plain["signature"] = key.sign(_signed_bytes(plain)).hex()
    target = folder.resolve().parent / f"{manifest.record}.signatures"
    try:
        target.mkdir(exist_ok=True)
        path = target / f"{role}-{safe_name(name, longest=24)}-{secrets.token_hex(4)}.json"
        with path.open("xb") as stream:
            stream.write(dumps(plain))
            stream.flush()
            os.fsync(stream.fileno())
        path.chmod(0o444)
    except OSError as error:
        raise InputError.of(
            "folder", str(target), f"a folder that can be written ({error.strerror})"
        ) from None
    return path


def _read_one(path: Path, manifest_sha256: str) -> Signature:
    ed25519 = _crypto()
    from cryptography.exceptions import InvalidSignature

    try:
        data = read_regular(path, _MAX_BYTES)
        plain = loads(data, path.name)
    except RecordError as error:
        return Signature(path.name, "", "", "", "", str(error))
    if (
        not isinstance(plain, dict)
        or set(plain) != _KEYS
        or not all(isinstance(v, str) for v in plain.values())
        or plain["schema"] != SCHEMA
        or plain["role"] not in ROLES
        or dumps(plain) != data
    ):
        return Signature(path.name, "", "", "", "", "is not a signature file, or was changed")
    try:
        public = bytes.fromhex(plain["public_key"])
        ed25519.Ed25519PublicKey.from_public_bytes(public).verify(
            bytes.fromhex(plain["signature"]), _signed_bytes(plain)
        )
    except (InvalidSignature, ValueError):
        problem, public = "the signature is not valid", b""
    else:
        problem = ""
        if plain["manifest_sha256"] != manifest_sha256:
            problem = "signs another record, or an earlier state of this one"
    return Signature(
        path.name, plain["role"], plain["name"], plain["utc"], _fingerprint(public), problem
    )


def read_signatures(folder: Path, manifest_sha256: str) -> list[Signature]:
    """Every signature in a record's signature folder."""
    if folder.is_symlink() or not folder.is_dir():
        return []
    return [
        _read_one(Path(entry.path), manifest_sha256)
        for entry in sorted(os.scandir(folder), key=lambda e: e.name)
    ]


def roles_signed(folder: Path, manifest_sha256: str) -> str:
    """Text for the register: roles with a valid signature, and how many are not valid."""
    try:
        signatures = read_signatures(folder, manifest_sha256)
    except InputError:
        return "not verified"
    good = [role for role in ROLES if any(s.role == role and not s.problem for s in signatures)]
    bad = sum(1 for s in signatures if s.problem)
    return ", ".join([*good, *([f"{bad} not valid"] if bad else [])])
