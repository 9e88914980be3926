"""Whose key it is: the checker's list, roles that are required, doubts before signing."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import yaml

from liftcalc.base.errors import InputError
from liftcalc.cli import main
from liftcalc.records import sign
from liftcalc.records.check_record import CheckOutcome, archive_check
from liftcalc.records.doubts import doubts
from liftcalc.records.entries import Entry
from liftcalc.records.manifest import Manifest
from liftcalc.records.trust import Trusted, load_trusted, signature_findings, signed_words
from liftcalc.records.verify import verify_record
from liftcalc.run.recheck import recheck_many, recheck_record

pytest.importorskip("cryptography")

TODAY = datetime.now(UTC).date()


@pytest.fixture
def key(tmp_path: Path) -> tuple[Any, str]:
    """A private key, and its public key in hexadecimal."""
    public = sign.new_key(tmp_path / "key.pem")
    return sign.load_key(tmp_path / "key.pem"), public


@pytest.fixture
def listed(tmp_path: Path, key: tuple[Any, str]) -> Callable[..., Path]:
    """A list of trusted keys that holds the key, with fields changed as given."""

    def _listed(**fields: Any) -> Path:
        entry = {
            "name": "C. Chief", "public_key": key[1], "roles": ["checked", "approved"],
            "valid_from": str(TODAY - timedelta(days=400)),
            "valid_until": str(TODAY + timedelta(days=400)),
        }  # fmt: skip
        path = tmp_path / "trusted.yaml"
        path.write_text(yaml.safe_dump({"keys": [{**entry, **fields}]}), encoding="utf-8")
        return path

    return _listed


def _manifest(record: Path) -> Manifest:
    manifest = verify_record(record).manifest
    assert manifest is not None
    return manifest


def test_a_signature_by_a_listed_key_counts(copied: Path, key: tuple[Any, str], listed: Callable[..., Path]) -> None:
    sign.sign_record(copied, key[0], role="approved", name="C. Chief")
    trusted = load_trusted(listed())
    findings, notes = signature_findings(copied, _manifest(copied), trusted, ("approved",))
    assert findings == []
    assert notes[0].startswith("signed as approved by C. Chief at ")
    assert notes[0].endswith(": a trusted key")
    assert signed_words(copied, trusted) == "approved"


REASONS: dict[str, tuple[dict[str, Any], str]] = {
    "unlisted": ({"public_key": "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"},
                 "its key is not in the list"),
    "role": ({"roles": ["checked"]}, "its key is trusted for checked only"),
    "name": ({"name": "Prof. Honest"}, "its key is that of Prof. Honest"),
    "ended": ({"valid_until": str(TODAY - timedelta(days=2))}, "its key is trusted from "),
    "not yet": ({"valid_from": str(TODAY + timedelta(days=2))}, "its key is trusted from "),
}  # fmt: skip


@pytest.mark.parametrize("why", REASONS)
def test_a_signature_that_does_not_count_is_found_where_it_is_required(
    why: str, copied: Path, key: tuple[Any, str], listed: Callable[..., Path]
) -> None:
    sign.sign_record(copied, key[0], role="approved", name="C. Chief")
    fields, text = REASONS[why]
    trusted = load_trusted(listed(**fields))
    manifest = _manifest(copied)
    findings, notes = signature_findings(copied, manifest, trusted, ("approved",))
    assert len(findings) == 2
    assert text in findings[0]
    assert findings[1] == "not signed as approved with a trusted key"
    assert notes == []
    findings, notes = signature_findings(copied, manifest, trusted)
    assert findings == []
    assert text in notes[0]
    assert signed_words(copied, trusted) == "approved (no trusted key)"


@pytest.mark.parametrize("days", [-2, 2])
def test_a_signature_from_before_the_record_or_from_the_future_does_not_count(
    days: int, copied: Path, key: tuple[Any, str], listed: Callable[..., Path],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    utc = f"{TODAY + timedelta(days=days)}T12:00:00Z"
    monkeypatch.setattr(sign, "utc_now", lambda: utc)
    sign.sign_record(copied, key[0], role="approved", name="C. Chief")
    findings, _ = signature_findings(copied, _manifest(copied), load_trusted(listed()), ("approved",))
    assert "dated before the record was prepared, or after today" in findings[0]


def test_the_days_of_a_key_include_both_ends(copied: Path, key: tuple[Any, str], listed: Callable[..., Path]) -> None:
    path = sign.sign_record(copied, key[0], role="approved", name="C. Chief")
    assert path.exists()
    (signed,) = sign.read_signatures(copied, _manifest(copied))
    day = signed.utc[:10]
    trusted = load_trusted(listed(valid_from=day, valid_until=day))
    assert trusted.objection(signed, _manifest(copied)) == ""


def test_nothing_signed_is_found_only_where_it_is_required(copied: Path, listed: Callable[..., Path]) -> None:
    manifest, trusted = _manifest(copied), load_trusted(listed())
    assert signature_findings(copied, manifest) == ([], [])
    assert signature_findings(copied, manifest, trusted) == ([], [])
    findings, _ = signature_findings(copied, manifest, trusted, ("approved", "checked"))
    assert findings == [f"not signed as {r} with a trusted key" for r in ("checked", "approved")]


def test_without_a_list_a_note_says_that_the_key_is_not_known(copied: Path, key: tuple[Any, str]) -> None:
    sign.sign_record(copied, key[0], role="approved", name="Prof. Honest")
    findings, (note,) = signature_findings(copied, _manifest(copied))
    assert findings == []
    assert "whose key it is, is not known" in note
    assert signed_words(copied) == "approved (no trusted key)"
    with pytest.raises(InputError, match="only with a list of trusted keys"):
        signature_findings(copied, _manifest(copied), None, ("approved",))


def test_a_signature_that_is_not_valid_is_always_found(
    copied: Path, key: tuple[Any, str], listed: Callable[..., Path]
) -> None:
    path = sign.sign_record(copied, key[0], role="approved", name="C. Chief")
    sign.sign_record(copied, key[0], role="approved", name="C. Chief")
    path.chmod(0o644)
    path.write_bytes(path.read_bytes().replace(b'"sig": "', b'"sig": "A'))
    for trusted, require in ((None, ()), (load_trusted(listed()), ("approved",))):
        findings, notes = signature_findings(copied, _manifest(copied), trusted, require)
        assert len(findings) == len(notes) == 1
        assert findings[0].startswith(f"signature {path.name}: ")
    assert signed_words(copied, load_trusted(listed())) == "approved, 1 not valid"


BAD_LISTS: dict[str, tuple[dict[str, Any], str]] = {
    "low order": ({"public_key": "01" + "0" * 62}, "low order"),
    "short": ({"public_key": "01"}, "64 hexadecimal digits"),
    "no PEM": ({"public_key": "-----BEGIN PUBLIC KEY-----\nAAAA\n"}, "public_key"),
    "role": ({"roles": ["boss"]}, "roles"),
    "no role": ({"roles": []}, "at least 1"),
    "days": ({"valid_until": "2001-01-01"}, "valid_until lies before valid_from"),
    "no day": ({"valid_until": "soon"}, "valid_until"),
    "hidden": ({"name": "C\u202eChief"}, "invisible"),
    "unknown field": ({"rolls": 1}, "check the spelling"),
}


@pytest.mark.parametrize("fault", BAD_LISTS)
def test_a_faulty_list_is_refused_by_field(fault: str, listed: Callable[..., Path]) -> None:
    fields, text = BAD_LISTS[fault]
    with pytest.raises(InputError, match=text):
        load_trusted(listed(**fields))


def test_a_key_has_one_entry(listed: Callable[..., Path]) -> None:
    path = listed()
    data = yaml.safe_load(path.read_text())
    path.write_text(yaml.safe_dump({"keys": [data["keys"][0], {**data["keys"][0], "name": "B"}]}))
    with pytest.raises(InputError, match=r"keys\[1\] \(B\) is not the first entry of its key"):
        load_trusted(path)


def test_a_key_may_be_given_as_pem(key: tuple[Any, str], listed: Callable[..., Path]) -> None:
    from cryptography.hazmat.primitives import serialization as s
    from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key

    form = (s.Encoding.PEM, s.PublicFormat.SubjectPublicKeyInfo)
    pem = key[0].public_key().public_bytes(*form).decode()
    assert load_trusted(listed(public_key=pem)).keys[0].public_key == key[1]
    other = generate_private_key(SECP256R1()).public_key().public_bytes(*form).decode()
    with pytest.raises(InputError, match="an Ed25519 public key"):
        load_trusted(listed(public_key=other))


NO_LISTS = (
    *("keys: 7", "- a", "keys: [a]", "time_stamp_authorities: [x.pem]"),
    *("time_stamp_authorities: [7]", "time_stamp_authorities: ['-----BEGIN CERTIFICATE-----']"),
)


@pytest.mark.parametrize("text", NO_LISTS)
def test_what_is_no_list_is_refused(text: str, tmp_path: Path) -> None:
    (tmp_path / "t.yaml").write_text(text)
    with pytest.raises(InputError):
        load_trusted(tmp_path / "t.yaml")


def test_a_recheck_finds_what_is_missing_and_its_record_keeps_the_decision(
    copied: Path, key: tuple[Any, str], listed: Callable[..., Path], toy_templates: Path,
    made_chain: tuple[Path, ...],
) -> None:  # fmt: skip
    shutil.copytree(made_chain[0], copied.parent / made_chain[0].name)
    trusted: Trusted = load_trusted(listed())
    how: dict[str, Any] = {"templates": toy_templates, "trusted": trusted}
    before = recheck_record(copied, require=["approved"], **how)
    assert (before.decision, before.code) == ("differs", 3)
    assert before.findings == ["not signed as approved with a trusted key"]
    stated = verify_record(copied.parent / before.check_record).json("check.json")
    assert stated["decision"] == "matches"
    assert "not signed as approved with a trusted key" in stated["notes"]
    sign.sign_record(copied, key[0], role="approved", name="C. Chief")
    (after,) = recheck_many([copied], workers=1, require=["approved"], write=False, **how)
    assert (after.decision, after.code, after.findings) == ("matches", 0, [])
    assert any(note.endswith(": a trusted key") for note in after.notes)
    (sign.beside(copied) / "bad.json").write_text("{}")
    bad = recheck_record(copied, templates=toy_templates, write=False)
    assert (bad.decision, bad.code) == ("differs", 3)
    assert bad.findings == ["signature bad.json: is not a signature file, or was changed"]


def test_what_speaks_against_signing_is_said(copied: Path, forge: Callable[..., Manifest]) -> None:
    for role, name in (("prepared", "A. Person"), ("checked", "B. Checker")):
        against, (alone,) = doubts([copied], role=role, name=name)
        assert not against
        assert alone.endswith(", which is not here")
    _, (_, own) = doubts([copied], role="approved", name="a.  person")
    assert own == f"{copied.name}: approved by its own preparer, a.  person"


@pytest.mark.parametrize("decision", ["differs", "cannot be re-run"])
def test_a_check_that_does_not_match_speaks_against_signing(copied: Path, decision: Any) -> None:
    outcome = CheckOutcome(record=copied.name, folder=str(copied), decision=decision)
    archive_check(outcome, _manifest(copied), "B. Checker", copied.parent, {})
    ((line,), _) = doubts([copied], role="approved", name="C. Chief")
    assert line.startswith(f"{copied.name}: ")


def _signing(record: Path, tmp_path: Path, *more: str) -> int:
    given = ("--key", str(tmp_path / "key.pem"), "--role", "approved", "--name", "C. Chief")
    return main(["sign", str(record), *given, *more])


def test_signing_what_is_over_needs_a_word(
    copied: Path, key: tuple[Any, str], tmp_path: Path, forge: Callable[..., Manifest],
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    from liftcalc.records import doubts as room

    entry = Entry(
        copied.name, copied.name, verdict="over", governing="weight: split the load\x1b[2J",
        state="superseded", superseded_by="another", prepared_by="C. CHIEF",
    )  # fmt: skip
    (seen,) = room.states_of([copied])
    entry = entry._replace(manifest_sha256=seen.manifest_sha256)
    monkeypatch.setattr(room, "states_of", lambda folders: [entry])
    assert _signing(copied, tmp_path) == 2
    said = capsys.readouterr().err
    assert f"Warning: {copied.name}: over a limit: weight: split the load\\u001b[2J" in said
    assert f"Warning: {copied.name}: superseded by another" in said
    assert f"Warning: {copied.name}: approved by its own preparer, C. Chief" in said
    assert "Nothing was signed" in said
    assert not sign.beside(copied).exists()
    assert _signing(copied, tmp_path, "--anyway") == 0
    assert "over a limit" in capsys.readouterr().err
    assert len(list(sign.beside(copied).iterdir())) == 1
    entry = entry._replace(manifest_sha256="0" * 64)
    assert _signing(copied, tmp_path) == 2
    assert f"{copied.name}: it was exchanged while it was looked at" in capsys.readouterr().err


def test_the_command_asks_at_a_terminal(
    copied: Path, key: tuple[Any, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import click

    from liftcalc import cli

    asked = []
    monkeypatch.setattr("liftcalc.records.doubts.doubts", lambda *a, **k: (["x: over"], []))
    monkeypatch.setattr(cli.sys.stdin, "isatty", lambda: True, raising=False)
    for answer, code in ((False, 2), (True, 0)):
        monkeypatch.setattr(click, "confirm", lambda text, a=answer, **k: asked.append(text) or a)
        assert _signing(copied, tmp_path) == code
        assert sign.beside(copied).exists() is answer
    assert asked == ["Sign as approved all the same?"] * 2


def test_a_role_is_required_only_with_a_list(copied: Path, capsys: Any) -> None:
    assert main(["recheck", str(copied), "--no-record", "--require", "approved"]) == 2
    assert "--trusted FILE" in capsys.readouterr().err


def test_the_register_says_whose_keys_are_trusted(
    copied: Path, key: tuple[Any, str], listed: Callable[..., Path],
    capsys: pytest.CaptureFixture[str], tmp_path: Path,
) -> None:  # fmt: skip
    sign.sign_record(copied, key[0], role="approved", name="C. Chief")
    table = tmp_path / "r.csv"
    for told, cell in ((["--trusted", str(listed())], ",approved,"), ([], ",approved (no trusted")):
        assert main(["register", str(copied.parent), "--csv", str(table), *told]) == 0
        assert cell in table.read_text(encoding="utf-8")
        assert cell.strip(",") in capsys.readouterr().out
