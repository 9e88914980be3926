"""Signatures: Ed25519 over the hash of the manifest, beside the record.

Outside check: the algorithm against RFC 8032, section 7.1, TEST 1 (from memory).
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.strict_json import dumps, loads
from liftcalc.records import sign
from liftcalc.records.manifest import Manifest
from liftcalc.records.register import scan
from liftcalc.records.verify import verify_record
from liftcalc.run.recheck import recheck_record

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
    """A record, its signature in the role checked, and the fingerprint of the key."""
    fingerprint = sign.new_key(tmp_path / "key.pem", "secret")
    key = sign.load_key(tmp_path / "key.pem", "secret")
    return copied, sign.sign_record(copied, key, role="checked", name="B. Checker"), fingerprint


def _read(record: Path) -> list[sign.Signature]:
    manifest = verify_record(record).manifest
    assert manifest is not None
    folder = record.parent / f"{record.name}.signatures"
    return sign.read_signatures(folder, manifest.manifest_sha256)


def test_a_signature_is_valid_and_leaves_the_record_alone(signed: tuple[Path, Path, str]) -> None:
    record, _, fingerprint = signed
    (found,) = _read(record)
    assert (found.role, found.name, found.problem) == ("checked", "B. Checker", "")
    assert found.fingerprint == fingerprint
    assert verify_record(record).ok
    assert next(e for e in scan(record.parent)).signed == "checked"


def test_every_single_byte_change_of_a_signature_file_is_found(
    signed: tuple[Path, Path, str],
) -> None:
    record, path, _ = signed
    path.chmod(0o644)
    data = path.read_bytes()
    for place in range(len(data)):
        path.write_bytes(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :])
        assert _read(record)[0].problem, place


def test_a_forger_without_the_key_is_found(
    signed: tuple[Path, Path, str], forge: Callable[..., Manifest]
) -> None:
    record, path, _ = signed
    forge(record, governing="something else")
    assert "signs another record, or an earlier state" in _read(record)[0].problem
    assert next(e for e in scan(record.parent)).signed == "1 not valid"
    plain = loads(path.read_bytes())
    manifest = verify_record(record).manifest
    assert manifest is not None
    plain["manifest_sha256"] = manifest.manifest_sha256
    path.chmod(0o644)
    path.write_bytes(dumps(plain))
    assert _read(record)[0].problem == "the signature is not valid"


def test_a_recheck_tells_the_signatures(
    signed: tuple[Path, Path, str], toy_templates: Path
) -> None:
    record, path, fingerprint = signed
    (path.parent / "bad.json").write_text("{}")
    outcome = recheck_record(record, templates=toy_templates, write=False)
    assert outcome.decision == "matches"
    text = " ".join(outcome.notes)
    assert "signed as checked by B. Checker" in text
    assert f"key {fingerprint}" in text
    assert "bad.json: is not a signature file" in text


def test_a_broken_record_is_not_signed(copied: Path, tmp_path: Path) -> None:
    sign.new_key(tmp_path / "key.pem")
    key = sign.load_key(tmp_path / "key.pem")
    (copied / "results.json").write_bytes(b"{}")
    with pytest.raises(RecordError, match=r"results\.json"):
        sign.sign_record(copied, key, role="checked", name="B")


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
    with pytest.raises(InputError, match="key file"):
        sign.load_key(tmp_path / "no.pem")
    with pytest.raises(InputError, match="is missing"):
        sign.load_key(tmp_path / "nothing.pem")
    key = sign.load_key(path, "secret")
    with pytest.raises(InputError, match="role is 'boss'"):
        sign.sign_record(copied, key, role="boss", name="B")
    with pytest.raises(InputError, match="name is ''"):
        sign.sign_record(copied, key, role="checked", name="")
    assert path.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("data", [b"", b"[]", b"{}", b"\xff", b"[" * 9999, b'{"a": NaN}'])
def test_what_is_no_signature_is_named_without_a_crash(
    signed: tuple[Path, Path, str], data: bytes
) -> None:
    record, path, _ = signed
    (path.parent / "x.json").write_bytes(data)
    (path.parent / "link.json").symlink_to("/etc/passwd")
    (path.parent / "folder").mkdir()
    found = {s.file: s.problem for s in _read(record)}
    assert found.pop(path.name) == ""
    assert len(found) == 3
    assert all(found.values())


def test_signatures_travel_beside_the_record(
    signed: tuple[Path, Path, str], tmp_path: Path
) -> None:
    record, path, _ = signed
    target = tmp_path / "elsewhere"
    target.mkdir()
    shutil.copytree(record, target / record.name)
    shutil.copytree(path.parent, target / path.parent.name)
    assert _read(target / record.name)[0].problem == ""
    assert json.loads(path.read_bytes())["record"] == record.name
