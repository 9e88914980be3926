"""Signatures: DSSE envelopes around in-toto statements, beside the record.

Outside checks: the algorithm against RFC 8032, section 7.1, TEST 1 (from memory); the encoding
against the example of DSSE's protocol.md (seen); envelopes against securesystemslib and against
openssl alone; weak keys against the list of low-order encodings in the README of C2SP/CCTV, folder
ed25519 (seen).
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.strict_json import dumps, sha256_hex
from liftcalc.records import sign
from liftcalc.records.log import append, log_head, missing, read_log
from liftcalc.records.manifest import Manifest, manifest_bytes
from liftcalc.records.trust import signature_findings
from liftcalc.records.verify import verify_record

pytest.importorskip("cryptography")


def test_the_algorithm_agrees_with_rfc_8032() -> None:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    secret = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
    public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    signature = (
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
        "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"
    )
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    assert key.public_key().public_bytes_raw().hex() == public
    assert key.sign(b"").hex() == signature


@pytest.fixture
def signed(copied: Path, tmp_path: Path) -> tuple[Path, Path, str]:
    """A record, its signature in the role checked, and the public key."""
    public = sign.new_key(tmp_path / "key.pem", "secret")
    key = sign.load_key(tmp_path / "key.pem", "secret")
    return copied, sign.sign_record(copied, key, role="checked", name="B. Checker"), public


def _manifest(record: Path) -> Manifest:
    manifest = verify_record(record).manifest
    assert manifest is not None
    return manifest


def _read(record: Path) -> list[sign.Signature]:
    return sign.read_signatures(record, _manifest(record))


def _resigned(record: Path, key: Any, change: Callable[[dict[str, Any]], object]) -> None:
    """Put an envelope beside the record whose statement was changed and signed with *key*."""
    (path,) = sign.beside(record).glob("*.json")
    path.chmod(0o644)
    envelope = json.loads(path.read_bytes())
    statement = json.loads(base64.b64decode(envelope["payload"]))
    public = key.public_key().public_bytes_raw()
    statement["predicate"]["public_key"] = public.hex()
    change(statement)
    _write(path, envelope, dumps(statement), key, sha256_hex(public))


def _write(path: Path, envelope: dict[str, Any], payload: bytes, key: Any, keyid: str) -> None:
    kind = envelope["payloadType"].encode()
    message = b"DSSEv1 %d %b %d %b" % (len(kind), kind, len(payload), payload)
    envelope["payload"] = base64.b64encode(payload).decode()
    sig = base64.b64encode(key.sign(message)).decode()
    envelope["signatures"] = [{"keyid": keyid, "sig": sig}]
    path.write_bytes(dumps(envelope))


def test_a_signature_is_valid_and_leaves_the_record_alone(signed: tuple[Path, Path, str]) -> None:
    record, _, public = signed
    (found,) = _read(record)
    assert (found.role, found.name, found.problem) == ("checked", "B. Checker", "")
    assert found.public_key == public
    assert found.fingerprint == sha256_hex(bytes.fromhex(public))[:16]
    assert verify_record(record).ok


def test_the_statement_pins_manifest_code_and_template(signed: tuple[Path, Path, str]) -> None:
    record, path, public = signed
    envelope = json.loads(path.read_bytes())
    statement = json.loads(base64.b64decode(envelope["payload"]))
    manifest = _manifest(record)
    data = (record / "manifest.json").read_bytes()
    assert envelope["payloadType"] == "application/vnd.in-toto+json"
    assert statement["_type"] == "https://in-toto.io/Statement/v1"
    assert statement["subject"] == [{"name": f"{record.name}/manifest.json", "digest": {"sha256": sha256_hex(data)}}]
    assert statement["predicateType"] == "liftcalc:signature:2"
    digests = {m["name"]: m["digest"]["sha256"] for m in statement["predicate"]["materials"]}
    assert digests == {
        "liftcalc": manifest.code_sha256,
        manifest.template: manifest.template_sha256,
        "environment.txt": manifest.environment_sha256,
    }
    assert statement["predicate"]["manifest_sha256"] == manifest.manifest_sha256
    assert envelope["signatures"][0]["keyid"] == sha256_hex(bytes.fromhex(public))


def test_each_signature_is_in_the_log_and_states_where_the_log_stood(
    signed: tuple[Path, Path, str], tmp_path: Path
) -> None:
    record, first, _ = signed
    before = log_head(record.parent)
    second = sign.sign_record(record, sign.load_key(tmp_path / "key.pem", "secret"), role="approved", name="C. Chief")
    assert before is not None
    found = {s.file: s.log for s in _read(record)}
    assert found[first.name] is None  # the log begins with the first signature of this archive
    assert found[second.name] == {"entries": before[0], "head": before[1]}
    log = read_log(record.parent)
    assert log is not None
    assert [line.name for line in log.lines if line.what == "signature"] == [
        f"{record.name}.signatures/{p.name}" for p in (first, second)
    ]
    assert signature_findings(record, _manifest(record))[0] == []


def test_the_encoding_is_that_of_the_protocol_and_another_engine_verifies_it(signed: tuple[Path, Path, str]) -> None:
    dsse = pytest.importorskip("securesystemslib.dsse")
    from securesystemslib.signer import SSlibKey

    example = dsse.Envelope(b"hello world", "http://example.com/HelloWorld", {})
    assert example.pae() == b"DSSEv1 29 http://example.com/HelloWorld 11 hello world"
    _, path, public = signed
    keyid = sha256_hex(bytes.fromhex(public))
    known = SSlibKey(keyid, "ed25519", "ed25519", {"public": public})
    dsse.Envelope.from_dict(json.loads(path.read_bytes())).verify([known], 1)
    other = SSlibKey(keyid, "ed25519", "ed25519", {"public": "d75a98" + public[6:]})
    with pytest.raises(Exception, match="Found: 0, Expected 1"):
        dsse.Envelope.from_dict(json.loads(path.read_bytes())).verify([other], 1)


def test_an_envelope_that_another_engine_signed_is_read(signed: tuple[Path, Path, str], tmp_path: Path) -> None:
    dsse = pytest.importorskip("securesystemslib.dsse")
    from securesystemslib.signer import CryptoSigner

    record, path, _ = signed
    key = sign.load_key(tmp_path / "key.pem", "secret")
    signer = CryptoSigner(key)
    signer.public_key.keyid = sha256_hex(key.public_key().public_bytes_raw())
    payload = base64.b64decode(json.loads(path.read_bytes())["payload"])
    envelope = dsse.Envelope(payload, "application/vnd.in-toto+json", {})
    envelope.sign(signer)
    path.unlink()
    text = envelope.to_dict()
    sig = text["signatures"][0]["sig"]
    text["signatures"][0]["sig"] = sig.translate(str.maketrans("+/", "-_"))  # URL-safe alphabet
    (path.parent / "other.json").write_text(json.dumps(text, indent=4))
    (found,) = _read(record)
    assert (found.name, found.problem) == ("B. Checker", "")


def test_openssl_alone_verifies_a_signature(signed: tuple[Path, Path, str], tmp_path: Path) -> None:
    if shutil.which("openssl") is None:
        pytest.skip("no openssl here")
    _, path, _ = signed
    envelope = json.loads(path.read_bytes())
    payload, kind = base64.b64decode(envelope["payload"]), envelope["payloadType"]
    message = f"DSSEv1 {len(kind)} {kind} {len(payload)} ".encode() + payload
    (tmp_path / "m").write_bytes(message)
    (tmp_path / "s").write_bytes(base64.b64decode(envelope["signatures"][0]["sig"]))
    run = ("openssl", "pkey", "-in", "key.pem", "-passin", "pass:secret", "-pubout", "-out", "p")
    subprocess.run(run, cwd=tmp_path, check=True)
    verify = ("pkeyutl", "-verify", "-rawin", "-pubin", "-inkey", "p", "-in", "m", "-sigfile", "s")
    done = subprocess.run(("openssl", *verify), cwd=tmp_path, capture_output=True, text=True)
    assert "Signature Verified Successfully" in done.stdout
    (tmp_path / "m").write_bytes(message[:-1] + b"x")
    done = subprocess.run(("openssl", *verify), cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode != 0


def test_every_single_byte_change_of_a_signature_file_is_found(signed: tuple[Path, Path, str]) -> None:
    record, path, _ = signed
    path.chmod(0o644)
    data = path.read_bytes()
    for place in range(len(data)):
        path.write_bytes(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :])
        assert _read(record)[0].problem, place


CHANGES: dict[str, tuple[Callable[[dict[str, Any]], object], str]] = {
    "another role": (lambda s: s["predicate"].update(role="boss"), "is not a signature file"),
    "another subject": (lambda s: s["subject"][0].update(name="x/manifest.json"), "another record"),
    "another file": (
        lambda s: s["subject"][0]["digest"].update(sha256="0" * 64), "another record"),
    "a second subject": (lambda s: s["subject"].append(s["subject"][0]), "another record"),
    "another manifest": (
        lambda s: s["predicate"].update(manifest_sha256="0" * 64), "another record"),
    "other code": (
        lambda s: s["predicate"]["materials"][0]["digest"].update(sha256="0" * 64),
        "another record"),
    "more said": (lambda s: s["predicate"].update(verdict="within"), "another record"),
    "another type": (lambda s: s.update(predicateType="liftcalc:other:1"), "is not a signature"),
    "another statement": (lambda s: s.update(_type="https://in-toto.io/Statement/v0.1"), "another"),
    "no day": (
        lambda s: s["predicate"].update(utc="2026-13-40T00:00:00Z"), "is not a signature file"),
    "no clock": (lambda s: s["predicate"].update(utc="2026-01-01"), "is not a signature file"),
    "no time": (lambda s: s["predicate"].update(utc="today"), "is not a signature file"),
    "a list for a role": (lambda s: s["predicate"].update(role=[]), "is not a signature file"),
    "a number for a name": (lambda s: s["predicate"].update(name=7), "is not a signature file"),
    "no name": (lambda s: s["predicate"].update(name=""), "cannot be seen"),
    "escape in the name": (lambda s: s["predicate"].update(name="B\x1b[2J"), "cannot be seen"),
    "C1 in the name": (lambda s: s["predicate"].update(name="B\x9b2J"), "cannot be seen"),
    "name turned round": (lambda s: s["predicate"].update(name="B\u202eC"), "cannot be seen"),
    "zero width in the name": (lambda s: s["predicate"].update(name="B\u200bC"), "cannot be seen"),
    "no predicate": (lambda s: s.pop("predicate"), "is not a signature file"),
    "another key in the statement": (
        lambda s: s["predicate"].update(public_key="d75a98" + "0" * 58), "is not a signature file"),
}  # fmt: skip


@pytest.mark.parametrize("name", CHANGES)
def test_a_statement_that_says_otherwise_is_found_though_its_signature_holds(
    name: str, signed: tuple[Path, Path, str], tmp_path: Path
) -> None:
    record, _, _ = signed
    change, why = CHANGES[name]
    _resigned(record, sign.load_key(tmp_path / "key.pem", "secret"), change)
    (found,) = _read(record)
    assert why in found.problem
    assert found.problem.isprintable()
    findings, notes = signature_findings(record, _manifest(record))
    assert len(findings) == 1
    assert notes == []


@pytest.mark.parametrize("field", ["role", "name", "utc", "manifest_sha256", "public_key", "log"])
def test_a_field_changed_without_the_key_is_found(field: str, signed: tuple[Path, Path, str]) -> None:
    record, path, _ = signed
    envelope = json.loads(path.read_bytes())
    statement = json.loads(base64.b64decode(envelope["payload"]))
    other = {"role": "approved", "name": "Prof. Honest", "utc": "2019-01-01T00:00:00Z", "log": 1}
    statement["predicate"][field] = other.get(field, "d75a98" + "1" * 58)
    envelope["payload"] = base64.b64encode(dumps(statement)).decode()
    path.chmod(0o644)
    path.write_bytes(dumps(envelope))
    (found,) = _read(record)
    assert found.problem
    assert "Honest" not in repr(found)


@pytest.mark.parametrize("sig", ["", "AAAA", base64.b64encode(bytes(64)).decode()])
def test_no_signature_or_one_of_zeros_is_found(sig: str, signed: tuple[Path, Path, str]) -> None:
    record, path, _ = signed
    envelope = json.loads(path.read_bytes())
    envelope["signatures"][0]["sig"] = sig
    path.chmod(0o644)
    path.write_bytes(dumps(envelope))
    assert _read(record)[0].problem == "the signature is not valid"


LOW_ORDER = [
    "0000000000000000000000000000000000000000000000000000000000000000",
    "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "0000000000000000000000000000000000000000000000000000000000000080",
    "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
    "0100000000000000000000000000000000000000000000000000000000000000",
    "0100000000000000000000000000000000000000000000000000000000000080",
    "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "eeffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
    "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc85",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
    "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
    "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff",
]


@pytest.mark.parametrize("key", LOW_ORDER)
def test_a_key_with_which_everybody_can_sign_is_refused(key: str) -> None:
    with pytest.raises(ValueError, match="low order"):
        sign.public_key_hex(key)


def test_only_low_orders_and_other_encodings_are_refused() -> None:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    for seed in range(200):
        secret = Ed25519PrivateKey.from_private_bytes(seed.to_bytes(32, "big"))
        public = secret.public_key().public_bytes_raw().hex()
        assert sign.public_key_hex(public) == public
    for beyond in range(19):  # 2**255 - 19 + beyond: encodings of 0 to 18 that are not canonical
        with pytest.raises(ValueError, match="low order"):
            sign.public_key_hex((2**255 - 19 + beyond).to_bytes(32, "little").hex())


@pytest.mark.parametrize("old", [False, True])
def test_a_signature_that_holds_for_every_message_is_refused(old: bool, signed: tuple[Path, Path, str]) -> None:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    record, path, _ = signed
    public, signature = b"\x01" + bytes(31), b"\x01" + bytes(63)
    Ed25519PublicKey.from_public_bytes(public).verify(signature, b"anything")  # no error: it holds
    path.chmod(0o644)
    if old:
        path.write_bytes(dumps(_old(record, public.hex()) | {"signature": signature.hex()}))
    else:
        envelope = json.loads(path.read_bytes())
        statement = json.loads(base64.b64decode(envelope["payload"]))
        statement["predicate"]["public_key"] = public.hex()
        envelope["payload"] = base64.b64encode(dumps(statement)).decode()
        sig = base64.b64encode(signature).decode()
        envelope["signatures"] = [{"keyid": sha256_hex(public), "sig": sig}]
        path.write_bytes(dumps(envelope))
    assert "everybody can sign" in _read(record)[0].problem


def _old(record: Path, public: str) -> dict[str, Any]:
    return {
        "schema": "liftcalc/signature/1", "record": record.name, "role": "approved",
        "manifest_sha256": _manifest(record).manifest_sha256, "name": "C. Chief",
        "utc": "2026-06-01T12:00:00Z", "public_key": public,
    }  # fmt: skip


def test_a_signature_of_the_first_form_is_still_read(
    signed: tuple[Path, Path, str], tmp_path: Path, forge: Callable[..., Manifest]
) -> None:
    record, path, public = signed
    path.chmod(0o644)
    key = sign.load_key(tmp_path / "key.pem", "secret")
    old = _old(record, public)
    whole = old | {"signature": key.sign(dumps(old)).hex()}
    path.write_bytes(dumps(whole))
    (found,) = _read(record)
    assert (found.role, found.name, found.problem) == ("approved", "C. Chief", "")
    for field in ("role", "name", "utc", "record", "manifest_sha256"):
        value = "prepared" if field == "role" else whole[field][:-1] + "x"
        path.write_bytes(dumps(whole | {field: value}))
        assert _read(record)[0].problem, field
    path.write_bytes(dumps(whole))
    forge(record, governing="something else")
    assert "signs another record, or an earlier state" in _read(record)[0].problem


def test_a_forger_without_the_key_is_found(signed: tuple[Path, Path, str], forge: Callable[..., Manifest]) -> None:
    record, path, _ = signed
    manifest = forge(record, governing="something else")
    assert "signs another record, or an earlier state" in _read(record)[0].problem
    envelope = json.loads(path.read_bytes())
    statement = json.loads(base64.b64decode(envelope["payload"]))
    statement["predicate"]["manifest_sha256"] = manifest.manifest_sha256
    digest = sha256_hex(manifest_bytes(manifest))
    statement["subject"][0]["digest"]["sha256"] = digest
    envelope["payload"] = base64.b64encode(dumps(statement)).decode()
    path.chmod(0o644)
    path.write_bytes(dumps(envelope))
    assert _read(record)[0].problem == "the signature is not valid"


def test_a_deleted_signature_is_missed_by_the_log(signed: tuple[Path, Path, str]) -> None:
    record, path, _ = signed
    path.unlink()
    assert _read(record) == []
    gone, _ = missing(record.parent)
    assert [line.name for line in gone] == [f"{record.name}.signatures/{path.name}"]


def test_a_log_cut_off_after_a_signature_is_found(signed: tuple[Path, Path, str], tmp_path: Path) -> None:
    record, _, _ = signed
    key = sign.load_key(tmp_path / "key.pem", "secret")
    sign.sign_record(record, key, role="approved", name="C. Chief")
    log = record.parent / "log.jsonl"
    lines = log.read_bytes().splitlines(keepends=True)
    assert signature_findings(record, _manifest(record))[0] == []
    log.write_bytes(b"".join(lines[:-2]))
    (finding,) = signature_findings(record, _manifest(record))[0]
    assert finding.startswith("log.jsonl: is not that of the time of signature approved-C.-Chief")
    log.unlink()
    sha256 = _manifest(record).manifest_sha256
    for what in ("record", "withdrawn"):  # written anew, as if the record had never stood
        append(record.parent, what, record.name, sha256)
        assert signature_findings(record, _manifest(record))[0] == [finding]
    log.unlink()  # a record taken elsewhere leaves its log behind, and may find another there
    for there in ("none", "another"):
        if there == "another":
            append(tmp_path, "record", "another", "1" * 64)
            log.write_bytes((tmp_path / log.name).read_bytes())
        findings, notes = signature_findings(record, _manifest(record))
        assert findings == []
        assert len([n for n in notes if n.endswith("not here: what came later is not seen")]) == 1


def test_a_record_that_changed_since_the_signer_saw_it_is_not_signed(
    copied: Path, tmp_path: Path, forge: Callable[..., Manifest]
) -> None:
    seen = _manifest(copied)
    results = json.loads((copied / "results.json").read_bytes())
    results["checks"][0]["value"] *= 0.5
    forge(copied, {"results.json": dumps(results)})
    sign.new_key(tmp_path / "key.pem")
    key = sign.load_key(tmp_path / "key.pem")
    with pytest.raises(RecordError, match="was changed meanwhile"):
        sign.sign_record(copied, key, role="checked", name="B", seen=seen)
    assert not sign.beside(copied).exists()


def test_a_broken_record_is_not_signed(copied: Path, tmp_path: Path) -> None:
    sign.new_key(tmp_path / "key.pem")
    key = sign.load_key(tmp_path / "key.pem")
    (copied / "results.json").write_bytes(b"{}")
    with pytest.raises(RecordError, match=r"results\.json"):
        sign.sign_record(copied, key, role="checked", name="B")
    assert not sign.beside(copied).exists()


def test_wrong_keys_roles_and_names_are_one_clear_error(copied: Path, tmp_path: Path) -> None:
    path = tmp_path / "key.pem"
    sign.new_key(path, "secret")
    with pytest.raises(InputError, match="a new file"):
        sign.new_key(path)
    with pytest.raises(InputError, match="a PEM key and its password"):
        sign.load_key(path, "wrong")
    with pytest.raises(InputError, match="a PEM key and its password"):
        sign.load_key(path)
    (tmp_path / "no.pem").write_text("no key")
    (tmp_path / "no.pem").chmod(0o600)
    with pytest.raises(InputError, match="key file"):
        sign.load_key(tmp_path / "no.pem")
    with pytest.raises(InputError, match="is missing"):
        sign.load_key(tmp_path / "nothing.pem")
    key = sign.load_key(path, "secret")
    with pytest.raises(InputError, match="role is 'boss'"):
        sign.sign_record(copied, key, role="boss", name="B")
    for name in ("", " B", "B  C", "B\x1b[2J", "B\x9b", "B\u202eC", "B\u200bC", "B\u2028C", "B" * 121):
        with pytest.raises(InputError, match="can be seen") as caught:
            sign.sign_record(copied, key, role="checked", name=name)
        assert str(caught.value).isprintable()
    assert path.stat().st_mode & 0o077 == 0


@pytest.mark.skipif(os.name != "posix", reason="file modes of this kind")
@pytest.mark.parametrize("mode", [0o666, 0o640, 0o604, 0o620, 0o601])
def test_a_key_file_that_others_may_use_is_refused_with_the_remedy(mode: int, tmp_path: Path) -> None:
    path = tmp_path / "key.pem"
    sign.new_key(path)
    path.chmod(mode)
    with pytest.raises(InputError, match="chmod 600"):
        sign.load_key(path)
    path.chmod(0o400)
    sign.load_key(path)


def test_nothing_is_written_through_a_link(copied: Path, tmp_path: Path) -> None:
    sign.new_key(tmp_path / "key.pem")
    key = sign.load_key(tmp_path / "key.pem")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    sign.beside(copied).symlink_to(elsewhere)
    with pytest.raises(InputError, match="is a link"):
        sign.sign_record(copied, key, role="checked", name="B")
    assert list(elsewhere.iterdir()) == []
    (found,) = _read(copied)
    assert found.problem == "is a link; nothing in it was read"


def test_at_most_a_hundred_files_are_read_and_the_others_are_one_line(signed: tuple[Path, Path, str]) -> None:
    record, path, _ = signed
    for number in range(300):
        (path.parent / f"x{number:05}.json").write_bytes(b"{}")
    found = _read(record)
    assert len(found) == 101
    assert found[-1].problem == "201 files more than the 100 that are read were not read"
    findings, _ = signature_findings(record, _manifest(record))
    assert len(findings) == 100


@pytest.mark.parametrize("data", [b"", b"[]", b"{}", b"\xff", b"[" * 9999, b'{"a": NaN}', b"7"])
def test_what_is_no_signature_is_named_without_a_crash(signed: tuple[Path, Path, str], data: bytes) -> None:
    record, path, _ = signed
    (path.parent / "x.json").write_bytes(data)
    (path.parent / "link.json").symlink_to("/etc/passwd")
    (path.parent / "folder").mkdir()
    (path.parent / "esc\x1b[2J\u202e.json").write_bytes(data)
    found = {s.file: s.problem for s in _read(record)}
    assert found.pop(path.name) == ""
    assert len(found) == 4
    assert all(found.values())
    assert all(f"{file}{problem}".isprintable() for file, problem in found.items())


def test_signatures_travel_beside_the_record(signed: tuple[Path, Path, str], tmp_path: Path) -> None:
    record, path, _ = signed
    target = tmp_path / "elsewhere"
    target.mkdir()
    shutil.copytree(record, target / record.name)
    shutil.copytree(path.parent, target / path.parent.name)
    assert _read(target / record.name)[0].problem == ""
