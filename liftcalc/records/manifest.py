"""The manifest of a record: what is in it, what made it, what it builds on.

A manifest seals itself: ``manifest_sha256`` is the SHA-256 of its own canonical JSON without that
field, and the file must be exactly the canonical text of its content. ``chain_sha256`` runs over
the files and over the chain hashes of the parents, so that one number pins a whole chain.
"""

import re
import secrets
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from liftcalc.base.checks import Status
from liftcalc.base.errors import RecordError
from liftcalc.base.strict_json import dumps, loads, sha256_hex

MANIFEST_NAME = "manifest.json"
PART_PREFIX = ".part-"
"""Folders with this prefix are still being written and are never a record."""

SCHEMAS = ("liftcalc/record/1", "liftcalc/record/2")
"""Forms of a manifest that are read; the last is written. The first (version 0.1.0) knows one
revised record and no environment."""


def _a_time(text: str) -> str:
    datetime.fromisoformat(text)  # a day that no calendar has is a ValueError
    return text


Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
SafeName = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,119}$")]
ShortText = Annotated[str, Field(max_length=500)]
Utc = Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$"), AfterValidator(_a_time)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class FileEntry(_Part):
    """Size and hash of one file of the record."""

    sha256: Sha256
    size: Annotated[int, Field(ge=0)]


class Link(_Part):
    """Another record, pinned by the hash of its manifest."""

    record: SafeName
    manifest_sha256: Sha256


class ParentLink(Link):
    """The record this one builds on, with the hash of the whole chain behind it."""

    chain_sha256: Sha256


class Manifest(_Part):
    """What a record says about itself."""

    schema_: Annotated[Literal["liftcalc/record/1", "liftcalc/record/2"], Field(alias="schema")] = "liftcalc/record/2"
    kind: Literal["sheet", "check"]
    record: SafeName
    job: ShortText
    job_title: ShortText = ""
    invented: bool = False
    lift: ShortText
    lift_title: ShortText = ""
    template: ShortText
    revision: ShortText
    units: Literal["metric", "us"]
    prepared_by: ShortText
    prepared_utc: Utc
    verdict: Status | Literal["none"]
    governing: ShortText
    decision: Literal["", "matches", "differs", "numbers match, page not verified", "cannot be re-run"] = ""
    parents: tuple[ParentLink, ...] = ()
    revises: tuple[Link, ...] = ()
    checks: Link | None = None
    environment_sha256: Sha256 | Literal[""] = ""
    template_sha256: Sha256
    code_sha256: Sha256
    run_key: Sha256
    versions: dict[str, ShortText]
    files: dict[str, FileEntry]
    chain_sha256: Sha256
    manifest_sha256: Sha256

    def to_plain(self) -> dict[str, Any]:
        """Plain JSON values; an invented job says so, another says nothing of it."""
        plain = self.model_dump(mode="json", by_alias=True)
        if self.schema_ == SCHEMAS[0]:
            plain["revises"] = plain["revises"][0] if plain["revises"] else None
            plain.pop("environment_sha256")
        return plain if self.invented else {k: v for k, v in plain.items() if k != "invented"}

    @property
    def link(self) -> Link:
        """Reference to this record."""
        return Link(record=self.record, manifest_sha256=self.manifest_sha256)

    @property
    def parent_link(self) -> ParentLink:
        """Reference to this record as a parent."""
        return ParentLink(**dict(self.link), chain_sha256=self.chain_sha256)


def chain_hash(files: Mapping[str, Any], parents: Sequence[Any]) -> str:
    """Hash over the files of a record and the chain hashes of its parents."""
    return sha256_hex(dumps({"files": files, "parents": [p["chain_sha256"] for p in parents]}))


def self_hash(plain: Mapping[str, Any]) -> str:
    """Hash of a manifest's content without the hash itself."""
    return sha256_hex(dumps({k: v for k, v in plain.items() if k != "manifest_sha256"}))


_SELF = re.compile(rb'^ "manifest_sha256": "([0-9a-f]{64})",\n', re.MULTILINE)


def sealed_hash(data: bytes) -> str:
    """A manifest's own hash, where it seals the text; else nothing. Looks at nothing else."""
    own = _SELF.search(data)
    # The text is canonical, so its hash without its own line needs no second rendering.
    if own is None or sha256_hex(data[: own.start()] + data[own.end() :]) != own[1].decode():
        return ""
    return own[1].decode()


def seal(**fields: Any) -> Manifest:
    """Build a manifest from its fields and add the chain hash and its own hash."""
    blank = "0" * 64
    draft = Manifest(**fields, chain_sha256=blank, manifest_sha256=blank).to_plain()
    draft["chain_sha256"] = chain_hash(draft["files"], draft["parents"])
    draft["manifest_sha256"] = self_hash(draft)
    return manifest_of(draft)


def resealed(manifest: Manifest, files: Mapping[str, FileEntry]) -> Manifest:
    """The manifest as it would be with these files."""
    kept = {name: getattr(manifest, name) for name in Manifest.model_fields}
    for name in ("schema_", "chain_sha256", "manifest_sha256"):
        kept.pop(name)
    return seal(**{**kept, "files": dict(files)}, schema=manifest.schema_)


def manifest_of(plain: Mapping[str, Any]) -> Manifest:
    """The manifest of plain JSON values, in either form."""
    given = dict(plain)
    if given.get("schema") == SCHEMAS[0]:
        one = given.get("revises")
        given["revises"] = [] if one is None else [one]
        if "environment_sha256" in given:
            raise RecordError("environment_sha256 is a field of a later form")
    return Manifest.model_validate_json(dumps(given))


def manifest_bytes(manifest: Manifest) -> bytes:
    """The one text of a manifest."""
    return dumps(manifest.to_plain())


def read_manifest(data: bytes, *, name: str = MANIFEST_NAME) -> Manifest:
    """Read and check a manifest by itself; :class:`RecordError` says what is wrong.

    Checks: strict JSON, known fields only, canonical text, own hash, chain hash.
    """
    plain = loads(data, name)
    if not isinstance(plain, dict):
        raise RecordError(f"{name}: not a manifest (an object is expected)")
    if plain.get("schema") not in SCHEMAS:
        given = str(plain.get("schema"))[:60]
        raise RecordError(f"{name}: schema is {given!r}, not {' or '.join(SCHEMAS)}")
    try:
        manifest = manifest_of(plain)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"])[:120]
        raise RecordError(f"{name}: field {where}: {first['msg']}") from None
    if self_hash(plain) != manifest.manifest_sha256:
        raise RecordError(f"{name}: changed after it was sealed (its own hash does not match)")
    if dumps(plain) != data or manifest.to_plain() != plain:
        raise RecordError(f"{name}: changed after it was sealed (not its canonical text)")
    if chain_hash(plain["files"], plain["parents"]) != manifest.chain_sha256:
        raise RecordError(f"{name}: the chain hash does not match files and parents")
    return manifest


_RESERVED = {"con", "prn", "aux", "nul"} | {f"{p}{i}" for p in ("com", "lpt") for i in range(10)}


def safe_name(text: str, *, longest: int = 40) -> str:
    """A file name that Windows and Linux both accept, made from *text*."""
    name = re.sub(r"[^A-Za-z0-9_.-]+", "-", text).strip("-._")[:longest].rstrip("-._")
    name = name or "x"
    if name.split(".", 1)[0].lower() in _RESERVED:
        name = f"x-{name}"
    return name


def sheet_stem(job: str, lift: str, template: str) -> str:
    """What the names of all records of one sheet begin with."""
    parts = [(job, 24), (lift, 16), (template, 24)]
    return "_".join([safe_name(text, longest=longest) for text, longest in parts]) + "_"


def name_stem(job: str, lift: str, template: str, revision: str, utc: str) -> str:
    """Name of a record without its digits: job, lift, template, revision, time."""
    time = utc.replace("-", "").replace(":", "")
    return f"{sheet_stem(job, lift, template)}{safe_name(revision, longest=8)}_{time}"


def record_name(job: str, lift: str, template: str, revision: str, utc: str) -> str:
    """Name of a new record: its stem and eight random digits."""
    return f"{name_stem(job, lift, template, revision, utc)}_{secrets.token_hex(4)}"


def utc_now() -> str:
    """Time now, in UTC, to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
