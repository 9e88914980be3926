"""Time stamps by a third party: that a record existed at a time, beside its preparer's word.

A query over ``manifest.json`` goes to a time-stamp authority by whatever way the office has; its reply is verified and
laid beside the record, all offline. The query holds no nonce: an old reply for this very record is the better proof.
The authority's certificate must have been valid at the time stamped; whether it was revoked is not looked up.

Source: RFC 3161, Time-Stamp Protocol, through the ``rfc3161-client`` library (extra ``sign``).
"""

import contextlib
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from liftcalc.base.errors import InputError, RecordError, missing_extra
from liftcalc.base.files import read_regular
from liftcalc.base.foreign import visible
from liftcalc.records.manifest import MANIFEST_NAME
from liftcalc.records.sign import TIME_STAMP, beside, files_beside, lay_beside
from liftcalc.records.verify import MAX_MANIFEST_BYTES, require_record

_SHA256 = "2.16.840.1.101.3.4.2.1"
_MAX_BYTES = 100_000


@dataclass(frozen=True)
class TimeStamp:
    """One reply found beside a record, and what is wrong with it (empty if nothing)."""

    file: str
    utc: str = ""
    authority: str = ""
    trusted: bool = False
    problem: str = ""

    @property
    def words(self) -> str:
        """What it says, and whether it was verified."""
        if self.trusted:
            return f"the record existed at {self.utc} by a trusted authority ({self.authority})"
        return f"says {self.utc} ({self.authority}); not verified, for no authority was given"


def _library() -> Any:
    try:
        import rfc3161_client
    except ImportError:
        raise missing_extra("sign", "a time stamp") from None
    return rfc3161_client


def root_certificates(pems: Collection[str]) -> list[Any]:
    """Certificates in PEM texts; ValueError for a text that is none."""
    if not pems:
        return []
    from cryptography import x509

    return [c for pem in pems for c in x509.load_pem_x509_certificates(pem.encode())]


def write_query(folder: Path, out: Path) -> Path:
    """Write the query for a record's time stamp into *out*."""
    require_record(folder)
    client = _library()
    data = read_regular(folder / MANIFEST_NAME, MAX_MANIFEST_BYTES)
    query = client.TimestampRequestBuilder(data, client.HashAlgorithm.SHA256, nonce=False).build()
    out.mkdir(parents=True, exist_ok=True)
    path = out / f"{folder.resolve().name}.tsq"
    path.write_bytes(query.as_bytes())
    return path


def _parts(data: bytes, start: int, end: int) -> Iterator[tuple[int, int, int]]:
    """Where each element of a DER text begins, its content begins, and it ends."""
    while start < end:
        head, size = start + 2, data[start + 1]
        if size & 0x80:
            head += size & 0x7F
            size = int.from_bytes(data[start + 2 : head])
        yield start, head, head + size
        start = head + size


def _ordered(reply: bytes) -> bytes:
    """The reply with its certificates, which nobody signs, in DER's order (X.690, 11.6).

    Authorities that run OpenSSL leave them as they were given, and the library refuses that.
    """
    at = (0, 0, len(reply))
    with contextlib.suppress(IndexError):
        for child in (0, 1, 1, 0):  # reply, token, its content, signed data
            at = list(_parts(reply, *at[1:]))[child]
        for start, head, end in _parts(reply, *at[1:]):
            if reply[start] == 0xA0:
                certificates = sorted(reply[a:c] for a, _, c in _parts(reply, head, end))
                return reply[:head] + b"".join(certificates) + reply[end:]
    return reply


def _verify(client: Any, reply: bytes, manifest: bytes, roots: list[Any]) -> dict[str, Any]:
    response = client.decode_timestamp_response(_ordered(reply))
    if response.status:
        return {"problem": visible(f"holds no time stamp ({', '.join(response.status_string)})")}
    info, digest = response.tst_info, sha256(manifest).digest()
    imprint = info.message_imprint
    if (imprint.hash_algorithm.dotted_string, imprint.message) != (_SHA256, digest):
        return {"problem": "is for another record, or an earlier state of this one"}
    if roots:
        client.VerifierBuilder(roots=roots).build().verify(response, digest)
    (signer,) = response.signed_data.signer_infos
    issuer = visible(signer.issuer.rfc4514_string())
    utc = info.gen_time.strftime("%Y-%m-%dT%H:%M:%SZ")
    return {"utc": utc, "authority": f"certified by {issuer}", "trusted": bool(roots)}


def _read_one(path: Path, manifest: bytes, authorities: Collection[str]) -> TimeStamp:
    client, stamp = _library(), TimeStamp(visible(path.name))
    try:
        reply = read_regular(path, _MAX_BYTES)
        return replace(stamp, **_verify(client, reply, manifest, root_certificates(authorities)))
    except RecordError as error:
        return replace(stamp, problem=str(error))
    except Exception as error:  # whatever the readers of another's ASN.1 raise
        why = re.findall(r'Verify error: ([^"]+)|reason: "([^"]+)', str(error))
        reason = next(filter(None, why[-1])) if why else str(error)
        return replace(stamp, problem=visible(f"does not verify: {reason}"))


def read_stamps(folder: Path, authorities: Collection[str] = ()) -> list[TimeStamp]:
    """Every time-stamp reply beside a record, verified where PEM roots to be trusted are given."""
    paths = [p for p in files_beside(folder)[0] if p.suffix == TIME_STAMP]
    if not paths:
        return []
    manifest = read_regular(folder / MANIFEST_NAME, MAX_MANIFEST_BYTES)
    return [_read_one(path, manifest, authorities) for path in paths]


def store_reply(folder: Path, reply: Path, authorities: Collection[str] = ()) -> TimeStamp:
    """Verify an authority's reply for a whole record and lay it beside the record.

    reply: The reply, or a folder in which it has the record's name.
    """
    require_record(folder)
    path = reply / f"{folder.resolve().name}{TIME_STAMP}" if reply.is_dir() else reply
    manifest = read_regular(folder / MANIFEST_NAME, MAX_MANIFEST_BYTES)
    stamp = _read_one(path, manifest, authorities)
    if stamp.problem:
        raise InputError.of("", None, f"{path}: {stamp.problem}")
    data = read_regular(path, _MAX_BYTES)
    name = f"time-{sha256(data).hexdigest()[:16]}{TIME_STAMP}"
    if not (beside(folder) / name).exists():
        lay_beside(folder, "time stamp", name, data)
    return stamp
