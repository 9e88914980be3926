"""Optional signatures with a key of the user's own: prepared, checked, approved.

A signature is a DSSE envelope around an in-toto statement whose subject is the record's ``manifest.json``, and so every
file and the whole chain behind it. It lies beside the record, in ``<record>.signatures``, because a record is never
written again. A valid one says that the holder of the key signed; whose key that is, a list of trusted keys says
(:mod:`liftcalc.records.trust`). Signatures of the schema ``liftcalc/signature/1`` are still read.

Sources: DSSE protocol 1.0.0 and its JSON envelope (secure-systems-lab/dsse, ``protocol.md``,
``envelope.md``); in-toto Attestation Framework, Statement v1 (in-toto/attestation,
``spec/v1/statement.md``); Ed25519, RFC 8032, through the ``cryptography`` library (extra ``sign``).
"""

from __future__ import annotations

import base64
import os
import re
import secrets
import unicodedata
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from liftcalc.base.errors import InputError, RecordError, missing_extra
from liftcalc.base.files import read_regular, writing
from liftcalc.base.foreign import visible
from liftcalc.base.strict_json import dumps, loads, sha256_hex
from liftcalc.records.log import What, append, archive_lock, log_head, write_new
from liftcalc.records.manifest import MANIFEST_NAME, Manifest, manifest_bytes, safe_name, utc_now
from liftcalc.records.verify import require_record

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

ROLES = ("prepared", "checked", "approved")
_PREDICATE = "liftcalc:signature:2"
_MOST_READ = 100
"""Files of one signature folder that are read; the others are counted in one line."""
TIME_STAMP = ".tsr"
"""How the name of a time-stamp reply ends; it lies in the same folder."""
_STATEMENT = "https://in-toto.io/Statement/v1"
_PAYLOAD = "application/vnd.in-toto+json"
_OLD = "liftcalc/signature/1"
_OLD_KEYS = {*("schema", "record", "manifest_sha256", "role"), *("name", "utc", "public_key", "signature")}
_MAX_BYTES = 20_000
_UTC = "%Y-%m-%dT%H:%M:%SZ"
_P = 2**255 - 19
_D = -121665 * pow(121666, -1, _P)


@dataclass(frozen=True)
class Signature:
    """One signature found beside a record, and what is wrong with it (empty if it is valid)."""

    file: str
    role: str = ""
    name: str = ""
    utc: str = ""
    public_key: str = ""
    problem: str = ""
    log: object = None
    """Entries and head of the archive's log when it was signed."""

    @property
    def fingerprint(self) -> str:
        """Short name of the key."""
        return sha256_hex(bytes.fromhex(self.public_key))[:16]


def _crypto() -> Any:
    try:
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError:
        raise missing_extra("sign", "signing") from None
    return ed25519


def signer_name(name: str) -> str:
    """A signer's name as it is stored; a text that can show as another is refused."""
    name = unicodedata.normalize("NFC", name)
    if not 1 <= len(name) <= 120 or name != " ".join(name.split()) or visible(name) != name:
        allowed = "1 to 120 characters that can be seen, single spaces between them"
        raise InputError.of("name", visible(name), allowed)
    return name


def public_key_hex(key: str) -> str:
    """An Ed25519 public key, given in hexadecimal or as PEM, in hexadecimal.

    Refused: an encoding that is not the canonical one (RFC 8032, 5.1.3), and a point whose order divides 8, for which a
    signature can be made without any private key. With the curve -x² + y² = 1 + d x² y², doubling gives y = 1 (order
    1), y = -1 (2), y = 0 (4) and d y⁴ + 2 y² - 1 = 0 (8).
    """
    ed25519 = _crypto()
    if "-----BEGIN" in key:
        from cryptography.hazmat.primitives import serialization as s

        loaded = s.load_pem_public_key(key.encode())
        if not isinstance(loaded, ed25519.Ed25519PublicKey):
            raise ValueError("an Ed25519 public key")
        key = loaded.public_bytes_raw().hex()
    if not re.fullmatch("[0-9a-f]{64}", key):
        raise ValueError("an Ed25519 public key: 64 hexadecimal digits, or PEM")
    y = int.from_bytes(bytes.fromhex(key), "little") % 2**255
    if y >= _P or y * (y**2 - 1) * (_D * y**4 + 2 * y**2 - 1) % _P == 0:
        raise ValueError("a key for which not everybody can sign (this one has a low order)")
    return key


def new_key(path: Path, password: str = "") -> str:
    """Write a private key (PEM, encrypted with a password) into a new file; its public key."""
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
    return str(key.public_key().public_bytes_raw().hex())


def load_key(path: Path, password: str = "") -> Ed25519PrivateKey:
    """Read a private key made by :func:`new_key` or by another tool (PEM, Ed25519)."""
    ed25519 = _crypto()
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    if os.name == "posix" and path.exists() and path.stat().st_mode & 0o077:
        raise InputError.of(
            "", None, f"Others than its owner may read or write the key file {path}",
            f"Make it yours alone (chmod 600 {path}); if others had it, make a new key.",
        )  # fmt: skip
    try:
        pem = read_regular(path, _MAX_BYTES)
        key = load_pem_private_key(pem, password.encode() if password else None)
    except RecordError as error:
        raise InputError.of(
            "key file", str(path), f"a readable file (it {error})",
            "A key is made with --new-key." if not path.exists() else "",
        ) from None  # fmt: skip
    except (ValueError, TypeError) as error:
        allowed = f"a PEM key and its password ({error})"
        raise InputError.of("key file", str(path), allowed) from None
    if not isinstance(key, ed25519.Ed25519PrivateKey):
        raise InputError.of("key file", str(path), "an Ed25519 key")
    return key  # type: ignore[no-any-return]


def _statement(manifest: Manifest, signed: dict[str, Any]) -> dict[str, Any]:
    """The statement that a signature of this record in these words carries."""
    made_with = {"liftcalc": manifest.code_sha256, manifest.template: manifest.template_sha256}
    if manifest.environment_sha256:
        made_with["environment.txt"] = manifest.environment_sha256
    return {
        "_type": _STATEMENT,
        "subject": [
            {"name": f"{manifest.record}/{MANIFEST_NAME}", "digest": {"sha256": sha256_hex(manifest_bytes(manifest))}}
        ],
        "predicateType": _PREDICATE,
        "predicate": {
            **{name: signed[name] for name in ("role", "name", "utc", "public_key", "log")},
            "manifest_sha256": manifest.manifest_sha256,
            "materials": [{"name": n, "digest": {"sha256": d}} for n, d in made_with.items()],
        },
    }


def _encoded(payload: bytes) -> bytes:
    """DSSE's pre-authentication encoding of a statement: what is signed."""
    return b"DSSEv1 %d %b %d %b" % (len(_PAYLOAD), _PAYLOAD.encode(), len(payload), payload)


def sign_record(folder: Path, key: Ed25519PrivateKey, *, role: str, name: str, seen: Manifest | None = None) -> Path:
    """Sign a whole record in a role; returns the new signature file beside it.

    Raises: :class:`RecordError` for a record that is not whole, or not the one *seen*.
    """
    if role not in ROLES:
        raise InputError.of("role", role, ", ".join(ROLES))
    name = signer_name(name)
    manifest = require_record(folder).manifest
    assert manifest is not None
    if seen not in (None, manifest):
        raise RecordError(f"{folder.name}: was changed meanwhile; nothing was signed")
    public = key.public_key().public_bytes_raw()
    with archive_lock(folder.resolve().parent):
        head = log_head(folder.resolve().parent)
        signed = {
            "role": role, "name": name, "utc": utc_now(), "public_key": public.hex(),
            "log": {"entries": head[0], "head": head[1]} if head else None,
        }  # fmt: skip
        payload = dumps(_statement(manifest, signed))
        envelope = {
            "payload": base64.b64encode(payload).decode(),
            "payloadType": _PAYLOAD,
            "signatures": [
                {"keyid": sha256_hex(public), "sig": base64.b64encode(key.sign(_encoded(payload))).decode()}
            ],
        }
        file = f"{role}-{safe_name(name, longest=24)}-{secrets.token_hex(4)}.json"
        return lay_beside(folder, "signature", file, dumps(envelope))


def beside(folder: Path) -> Path:
    """Where the signatures and time stamps of a record lie."""
    folder = folder.absolute()
    return folder.parent / f"{folder.name}.signatures"


def lay_beside(folder: Path, what: What, name: str, data: bytes) -> Path:
    """Write a new file into a record's signature folder, and into the log; no link is followed."""
    target = beside(folder.resolve())
    with writing("folder", target):
        target.mkdir(exist_ok=True)
        if target.is_symlink():
            raise InputError.of("", None, f"{target} is a link; nothing is written through it")
        path = target / name
        write_new(path, data)
        path.chmod(0o444)
    append(target.parent, what, f"{target.name}/{name}", sha256_hex(data))
    return path


def _bytes(text: str) -> bytes:
    """What a base64 text (either alphabet) stands for, if it is the one text that does."""
    text = text.translate(str.maketrans("-_", "+/"))
    data = base64.b64decode(text, validate=True)
    if base64.b64encode(data).decode() != text:
        raise ValueError
    return data


def _opened(plain: Any, data: bytes) -> tuple[dict[str, Any], Any, bytes, bytes]:
    """What was signed in which words, the statement, and the bytes and signature to be verified."""
    if plain.get("schema") == _OLD:
        if set(plain) != _OLD_KEYS or dumps(plain) != data:
            raise ValueError
        message = dumps({k: v for k, v in plain.items() if k != "signature"})
        return plain, plain, message, bytes.fromhex(plain["signature"])
    ((one,), payload) = plain["signatures"], _bytes(plain["payload"])
    statement = loads(payload, "the statement")
    signed = statement["predicate"]
    if (
        set(plain) != {"payload", "payloadType", "signatures"}
        or set(one) != {"keyid", "sig"}
        or plain["payloadType"] != _PAYLOAD
        or statement["predicateType"] != _PREDICATE
        or one["keyid"] != sha256_hex(bytes.fromhex(signed["public_key"]))
    ):
        raise ValueError
    return signed, statement, _encoded(payload), _bytes(one["sig"])


def _read_one(path: Path, manifest: Manifest) -> Signature:
    ed25519 = _crypto()
    from cryptography.exceptions import InvalidSignature

    blank = Signature(visible(path.name))
    try:
        data = read_regular(path, _MAX_BYTES)
        signed, statement, message, signature = _opened(loads(data, "it"), data)
        role, name, utc = signed["role"], signer_name(signed["name"]), signed["utc"]
        if role not in ROLES or datetime.fromisoformat(utc).strftime(_UTC) != utc:
            raise ValueError
        public = public_key_hex(signed["public_key"])
        key = ed25519.Ed25519PublicKey.from_public_bytes(bytes.fromhex(public))
        key.verify(signature, message)
    except RecordError as error:
        return replace(blank, problem=visible(str(error)))
    except InvalidSignature:
        return replace(blank, problem="the signature is not valid")
    except InputError:
        return replace(blank, problem="the signer's name holds what cannot be seen")
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        low = "low order" in str(error)
        why = "its key is one with which everybody can sign" if low else ""
        return replace(blank, problem=why or "is not a signature file, or was changed")
    found = replace(blank, role=role, name=name, utc=utc, public_key=public, log=signed.get("log"))
    if "schema" in signed:
        ours = {**signed, "record": manifest.record, "manifest_sha256": manifest.manifest_sha256}
    else:
        ours = _statement(manifest, signed)
    if statement != ours:
        return replace(found, problem="signs another record, or an earlier state of this one")
    return found


def files_beside(folder: Path) -> tuple[list[Path], list[Signature]]:
    """Files of a record's signature folder that are read, and what is said of the others."""
    place = beside(folder)
    if place.is_symlink():
        return [], [Signature(visible(place.name), problem="is a link; nothing in it was read")]
    names = sorted(os.listdir(place)) if place.is_dir() else []
    more = f"{len(names) - _MOST_READ} files more than the {_MOST_READ} that are read were not read"
    rest = [Signature(visible(place.name), problem=more)] if len(names) > _MOST_READ else []
    return [place / name for name in names[:_MOST_READ]], rest


def read_signatures(folder: Path, manifest: Manifest) -> list[Signature]:
    """Every signature beside a record, and what in its folder is none."""
    paths, others = files_beside(folder)
    return [_read_one(p, manifest) for p in paths if p.suffix != TIME_STAMP] + others
