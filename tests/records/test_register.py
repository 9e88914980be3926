"""The register believes only what verifies; what it does not believe is listed, not left out."""

from __future__ import annotations

import csv
import hashlib
import html
import io
import json
import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Literal

import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.records import believed, register
from liftcalc.records.believed import NOT_OWN, fingerprints
from liftcalc.records.check_record import CheckOutcome, archive_check
from liftcalc.records.doubts import doubts
from liftcalc.records.entries import Entry
from liftcalc.records.listing import (
    COLUMNS,
    register_csv,
    register_html,
    register_lines,
    safe_cell,
    select,
    with_signatures,
)
from liftcalc.records.log import LOG_NAME, append
from liftcalc.records.manifest import MANIFEST_NAME, Manifest, name_stem, read_manifest
from liftcalc.records.register import scan, states_of
from liftcalc.records.verify import verify_record
from liftcalc.run.batch import Row
from liftcalc.run.summary import list_records, summary_text, with_states

Forge = Callable[..., Manifest]
MAY, JUNE = "2026-05-01T00:00:00Z", "2026-06-01T00:00:00Z"


class Shelf:
    """An archive into which whole records are put: honest ones, and those of a forger."""

    def __init__(self, folder: Path, chain: tuple[Path, ...], forge: Forge) -> None:
        self.folder, self.chain, self.forge = folder, chain, forge
        self.count = 0

    def sheet(self, number: int = 0, utc: str = MAY, lift: str = "L2", under: str = "", **fields: Any) -> Manifest:
        """A record of the chain's sheet under a new name and time, whole in itself."""
        self.count += 1
        source = self.chain[number]
        plain = read_manifest((source / MANIFEST_NAME).read_bytes())
        stem = name_stem(plain.job, lift, plain.template, plain.revision, utc)
        folder = self.folder / under / f"{stem}_{self.count:08x}"
        shutil.copytree(source, folder)
        for path in [folder, *folder.rglob("*")]:
            path.chmod(0o755 if path.is_dir() else 0o644)
        files = {
            name: (folder / name).read_bytes().replace(b'"L2"', json.dumps(lift).encode())
            for name in ("inputs.json", "results.json")
        }
        if "parents" in fields:
            inputs = json.loads(files["inputs.json"])
            inputs["parent"]["link"] = fields["parents"][0].model_dump()
            files["inputs.json"] = register_dumps(inputs)
        key = run_key(plain, files["inputs.json"])
        given = {"record": folder.name, "prepared_utc": utc, "lift": lift, "run_key": key}
        return self.forge(folder, files, **given | fields)

    def check(self, of: Manifest, decision: Any = "matches", checker: str = "B. Checker", utc: str = "") -> Path:
        """A check record of a record, dated now or as asked."""
        outcome = CheckOutcome(of.record, "", decision)
        with pytest.MonkeyPatch.context() as patch:
            if utc:
                patch.setattr("liftcalc.records.check_record.utc_now", lambda: utc)
            made = archive_check(outcome, of, checker, self.folder, {})
        for path in [made, *made.rglob("*")]:
            path.chmod(0o755 if path.is_dir() else 0o644)
        return made

    def at(self, manifest: Manifest) -> Path:
        """Folder of a record."""
        return self.folder / manifest.record

    def entries(self) -> dict[str, Entry]:
        """The register by record."""
        (self.folder / LOG_NAME).unlink(missing_ok=True)  # written by a check; forgers have none
        return {e.record: e for e in scan(self.folder)}

    def state(self, manifest: Manifest) -> str:
        """State of one record."""
        return self.entries()[manifest.record].state


def register_dumps(value: object) -> bytes:
    """Canonical JSON."""
    from liftcalc.base.strict_json import dumps

    return dumps(value)


def run_key(plain: Manifest, inputs: bytes) -> str:
    """The key that belongs to other inputs."""
    from liftcalc.base.strict_json import sha256_hex
    from liftcalc.records.derive import run_key_of

    return run_key_of(
        template=plain.template_sha256, inputs=sha256_hex(inputs),
        version=plain.versions["liftcalc"], code=plain.code_sha256,
    )  # fmt: skip


@pytest.fixture
def shelf(archive: Path, made_chain: tuple[Path, ...], forge: Forge) -> Shelf:
    """An empty archive."""
    return Shelf(archive, made_chain, forge)


@pytest.fixture
def three(shelf: Shelf) -> Path:
    """Three records of one sheet: the second revises the first, the third is damaged."""
    first = shelf.sheet()
    shelf.sheet(utc=JUNE, under="sub", revises=(first.link,))
    third = shelf.sheet(utc=JUNE, lift="L3", under="sub")
    results = shelf.folder / "sub" / third.record / "results.json"
    results.write_bytes(results.read_bytes().replace(b"within", b"wlthin"))
    return shelf.folder


def test_states_follow_from_the_records_found(three: Path) -> None:
    found = scan(three)
    states = sorted(e.state for e in found)
    assert states == ["damaged", "prepared", "superseded"]
    damaged = next(e for e in found if e.state == "damaged")
    assert "results.json: was changed" in damaged.governing
    assert (damaged.lift, damaged.verdict) == ("L3", "")
    superseded = next(e for e in found if e.state == "superseded")
    assert superseded.superseded_by == next(e.record for e in found if e.state == "prepared")


def test_a_record_that_builds_on_a_superseded_one_says_so(shelf: Shelf) -> None:
    first = shelf.sheet(0)
    second = shelf.sheet(1, parents=(first.parent_link,))
    assert {e.state for e in shelf.entries().values()} == {"prepared"}
    new = shelf.sheet(0, JUNE, revises=(first.link,))
    found = shelf.entries()
    states = {m.record: found[m.record].state for m in (first, second, new)}
    assert [*states.values()] == ["superseded", "parent superseded", "prepared"]


def test_the_register_believes_exactly_what_verifies(shelf: Shelf) -> None:
    made = shelf.sheet()
    check = shelf.check(made)
    for path in (shelf.at(made) / MANIFEST_NAME, shelf.at(made) / "sheet.html", check / "check.json"):
        data = path.read_bytes()
        for place in range(0, len(data), max(1, len(data) // 25)):
            path.write_bytes(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :])
            entry = shelf.entries()[path.parent.name]
            assert entry.state == "damaged", (path, place)
            assert not verify_record(path.parent).ok
            assert shelf.entries()[made.record].checked_by == ""
        path.write_bytes(data)
    assert shelf.state(made) == "checked"


# A forger seals what he writes; each of these verifies by itself.


def test_a_check_that_its_own_file_contradicts_counts_for_nothing(shelf: Shelf) -> None:
    made = shelf.sheet()
    check = shelf.check(made, "differs")
    assert shelf.state(made) == "check differs"
    shelf.forge(check, decision="matches")
    found = shelf.entries()
    assert found[check.name].state == "damaged"
    assert "decision" in found[check.name].governing
    assert (found[made.record].state, found[made.record].checked_by) == ("prepared", "")
    assert found[made.record].remarks == f"named by {check.name}, damaged"


@pytest.mark.parametrize("found", ["findings", "unverified", "differences"])
def test_a_check_that_matches_in_spite_of_what_it_found_counts_for_nothing(shelf: Shelf, found: str) -> None:
    made = shelf.sheet()
    check = shelf.check(made)
    assert shelf.state(made) == "checked"
    said = json.loads((check / "check.json").read_bytes())
    said[found] = [{"where": "x"}] if found == "differences" else ["it is over"]
    data = register_dumps(said)
    shelf.forge(check, {"check.json": data}, run_key=hashlib.sha256(data).hexdigest())
    assert shelf.entries()[check.name].state == "damaged"
    assert shelf.state(made) == "prepared"


def test_whatever_the_dates_a_check_that_differs_outranks_one_that_matches(shelf: Shelf) -> None:
    made = shelf.sheet()
    shelf.check(made, "differs", "Honest", MAY)
    shelf.check(made, "matches", "Nobody", JUNE)
    late = shelf.check(made, "matches", "Forger", "2099-01-01T00:00:00Z")
    entry = shelf.entries()[made.record]
    assert (entry.state, entry.checked_by) == ("check differs", "Honest")
    assert f"check dated in the future: {late.name}" in entry.remarks


def test_a_check_that_this_machine_did_not_make_is_said_to_be_one(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    manifest = shelf.sheet()
    shelf.check(manifest)
    entry = shelf.entries()[manifest.record]
    assert (entry.state, entry.remarks) == ("checked", "")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "another"))
    entry = shelf.entries()[manifest.record]
    assert entry.state == "checked"
    assert entry.standing == f"checked; its check by B. Checker was {NOT_OWN}"
    _, known = doubts([shelf.at(manifest)], role="approved", name="C. Chief")
    assert any(f"its check by B. Checker was {NOT_OWN}" in line for line in known)


def test_many_records_are_walked_on_every_core_with_the_same_outcome(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    def walked() -> list[tuple[str, str]]:
        with fingerprints(str(shelf.folder), ("",)) as found:
            return sorted(found)

    manifest = shelf.sheet()
    shelf.check(manifest)
    shelf.sheet(under="below")
    alone, before = scan(shelf.folder), walked()
    monkeypatch.setattr("liftcalc.records.believed._MANY", 1)
    monkeypatch.setattr("os.sched_getaffinity", lambda _: {0, 1})
    assert walked() == before
    (shelf.folder / "linked").symlink_to(shelf.at(manifest))
    (shelf.folder / ".part-x").mkdir()
    assert walked() == before
    assert scan(shelf.folder) == alone


def test_what_was_judged_ahead_is_taken_only_if_no_file_is_another(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("liftcalc.records.believed._COARSE_NS", -(10**15))
    made = [shelf.sheet(), shelf.sheet(lift="L3"), shelf.sheet(lift="L4")]
    alone = scan(shelf.folder)
    judged: list[int] = []
    real = register._judged

    def counting(entries: Sequence[Entry]) -> list[Entry]:
        judged.append(len(entries))
        return real(entries)

    monkeypatch.setattr(register, "_judged", counting)
    monkeypatch.setattr(register, "_MANY", 2)
    assert scan(shelf.folder) == alone
    assert judged == [3]
    (shelf.at(made[0]) / "sheet.html").write_bytes(b"RELEASED")
    shutil.rmtree(shelf.at(made[1]))
    late = shelf.sheet(utc=JUNE, lift="L4", revises=(made[2].link,))
    states = {e.record: e.state for e in scan(shelf.folder)}
    assert states == {
        made[0].record: "damaged", made[2].record: "superseded", late.record: "prepared",
    }  # fmt: skip


def test_a_check_of_the_future_does_not_make_a_record_checked(shelf: Shelf) -> None:
    made = shelf.sheet()
    late = shelf.check(made, utc="2099-01-01T00:00:00Z")
    found = shelf.entries()
    assert found[made.record].state == "prepared"
    assert found[late.name].remarks == "dated in the future"
    shelf.check(made, "differs", utc="2099-01-01T00:00:00Z")
    assert shelf.state(made) == "check differs"  # on the safe side it does count


@pytest.mark.parametrize(
    ("decisions", "state"),
    [
        (["numbers match, page not verified"], "numbers match, page not verified"),
        (["numbers match, page not verified", "matches"], "checked"),
        (["cannot be re-run"], "cannot be re-run"),
        (["cannot be re-run", "numbers match, page not verified"], "numbers match, page not verified"),
        (["matches", "cannot be re-run", "differs"], "check differs"),
    ],
)
def test_each_decision_has_its_state(shelf: Shelf, decisions: list[str], state: str) -> None:
    made = shelf.sheet()
    for decision in decisions:
        shelf.check(made, decision)
    assert shelf.state(made) == state


@pytest.mark.parametrize("other", [{"number": 1}, {"lift": "L3"}, {"utc": "check"}])
def test_a_revision_of_another_sheet_supersedes_nothing(shelf: Shelf, other: dict[str, Any]) -> None:
    made = shelf.sheet()
    if other == {"utc": "check"}:  # a sheet may not revise a check either
        check = verify_record(shelf.check(made)).manifest
        assert check is not None
        forged = shelf.sheet(utc=JUNE, lift="L3", revises=(check.link,))
    else:
        forged = shelf.sheet(**{"utc": JUNE, **other}, revises=(made.link,))
    found = shelf.entries()
    assert found[made.record].state in ("prepared", "checked")
    assert found[forged.record].state == "damaged"
    assert "a record of another sheet" in found[forged.record].governing
    assert verify_record(shelf.at(forged)).ok  # by itself it is whole


def test_a_check_for_another_lift_or_verdict_counts_for_nothing(shelf: Shelf) -> None:
    made = shelf.sheet()
    for forged in (shelf.sheet(lift="L3"), made.model_copy(update={"verdict": "over"})):
        link = {"record": made.record, "manifest_sha256": made.manifest_sha256}
        claimed = forged.model_copy(update={**link, "chain_sha256": made.chain_sha256})
        check = shelf.check(claimed)
        found = shelf.entries()
        assert found[check.name].state == "damaged"
        assert found[made.record].state == "prepared"


def test_a_manifest_of_six_fields_or_without_its_files_is_damaged(shelf: Shelf) -> None:
    made = shelf.sheet()
    bare = shelf.folder / "bare"
    bare.mkdir()
    shutil.copyfile(shelf.at(made) / MANIFEST_NAME, bare / MANIFEST_NAME)
    six = shelf.folder / "six"
    six.mkdir()
    keys = ("record", "kind", "job", "lift", "template", "verdict")
    plain = {key: made.to_plain()[key] for key in keys}
    (six / MANIFEST_NAME).write_bytes(register_dumps(plain))
    found = shelf.entries()
    assert found["bare"].state == found["six"].state == "damaged"
    assert found["six"].verdict == found["bare"].verdict == ""


def test_two_current_records_of_one_sheet_are_both_named(shelf: Shelf) -> None:
    first, twin, other = shelf.sheet(), shelf.sheet(utc=JUNE), shelf.sheet(lift="L3")
    found = shelf.entries()
    assert [found[m.record].state for m in (first, twin, other)] == ["current twice"] * 2 + ["prepared"]
    assert found[first.record].remarks == f"current beside {twin.record}"
    assert found[twin.record].remarks == f"current beside {first.record}"
    both = shelf.sheet(utc=JUNE, revises=(first.link, twin.link))
    found = shelf.entries()
    assert [found[m.record].state for m in (first, twin, both)] == ["superseded"] * 2 + ["prepared"]


def test_a_copy_of_a_record_is_named_and_is_no_twin(shelf: Shelf) -> None:
    made = shelf.sheet()
    (shelf.folder / "copy").mkdir()
    shutil.copytree(shelf.at(made), shelf.folder / "copy" / made.record)
    states = [(e.state, e.remarks) for e in scan(shelf.folder)]
    assert sorted(states) == [("prepared", f"lies in {place}{made.record} as well") for place in ("copy/", "")]


def test_what_builds_on_a_damaged_record_says_so_and_a_lost_one_is_named(shelf: Shelf) -> None:
    first = shelf.sheet(0)
    second = shelf.sheet(1, parents=(first.parent_link,))
    new = shelf.sheet(0, JUNE, revises=(first.link,))
    (shelf.at(first) / "results.json").write_bytes(b"{}")
    found = shelf.entries()
    assert found[second.record].state == "parent damaged"
    assert f"builds on {first.record}, which is damaged" in found[second.record].remarks
    assert found[new.record].remarks == f"revises {first.record}, which is damaged"
    (shelf.at(first) / MANIFEST_NAME).write_bytes(b"{}")
    assert shelf.state(second) == "parent damaged"
    shutil.rmtree(shelf.at(first))
    found = shelf.entries()
    assert found[new.record].remarks == f"revises {first.record}, which is not here"
    assert found[second.record].state == "parent superseded"
    assert found[second.record].remarks == f"builds on {first.record}, which is not here"


def test_what_the_log_names_and_is_not_here_is_missing(shelf: Shelf) -> None:
    old = shelf.sheet()
    append(shelf.folder, "record", old.record, old.manifest_sha256)
    new = shelf.sheet(utc=JUNE, revises=(old.link,))
    append(shelf.folder, "record", new.record, new.manifest_sha256)
    append(shelf.folder, "signature", f"{old.record}.signatures/approved.json", "0" * 64)
    shutil.rmtree(shelf.at(new))
    extra = shelf.sheet(1)
    signatures = shelf.folder / f"{extra.record}.signatures"
    signatures.mkdir()
    (signatures / "mine.json").write_bytes(b"{}")
    for found in (scan(shelf.folder), scan(shelf.folder, starts=("river",))):
        by_name = {e.record: e for e in found}
        gone = [e.record for e in found if e.state == "missing"]
        assert sorted(gone) == sorted([new.record, f"{old.record}.signatures/approved.json"])
        assert by_name[old.record].state == "prepared"
        assert f"missing: {new.record}" in by_name[old.record].remarks
        assert f"not in the log: {extra.record}" in by_name[extra.record].remarks
        assert "not in the log: " + extra.record + ".signatures/mine.json" in (by_name[extra.record].remarks)
    (entry,) = states_of([shelf.at(old)])
    assert new.record in entry.remarks
    log = shelf.folder / LOG_NAME
    log.write_bytes(log.read_bytes().replace(b'"n":1', b'"n":7'))
    damaged = [e for e in scan(shelf.folder) if e.record == LOG_NAME]
    assert [e.state for e in damaged] == ["damaged"]


@pytest.mark.parametrize(
    ("kind", "words"),
    [("pipe", "not a regular file"), ("folder", "not a regular file"), ("link", "link"),
     ("junk", "no line of a log")],
)  # fmt: skip
def test_the_register_is_shown_whatever_lies_where_the_log_was(shelf: Shelf, kind: str, words: str) -> None:
    there, log = shelf.sheet(), shelf.folder / LOG_NAME
    make = {"pipe": os.mkfifo, "folder": os.mkdir, "link": lambda p: os.symlink("/dev/zero", p)}
    make.get(kind, lambda p: p.write_bytes(b"junk\n"))(log)
    lines = list_records(shelf.folder)
    assert any(line.startswith(there.record) for line in lines)
    assert any(line.startswith("Damaged log: ") and words in line for line in lines)


@pytest.mark.parametrize("hidden", ["deleted", "withdrawn"])
@pytest.mark.parametrize("kind", ["record", "check"])
def test_a_signer_is_told_of_a_revision_or_check_that_the_log_names_alone(
    shelf: Shelf, kind: Literal["record", "check"], hidden: str
) -> None:
    old = shelf.sheet()
    append(shelf.folder, "record", old.record, old.manifest_sha256)
    against, (known,) = doubts([shelf.at(old)], role="approved", name="C. Signer")
    assert not against
    assert "neither made nor found to match on this machine" in known
    if kind == "check":
        gone = shelf.check(old, "differs")
    else:
        new = shelf.sheet(utc=JUNE, revises=(old.link,))
        append(shelf.folder, "record", new.record, new.manifest_sha256)
        gone = shelf.at(new)
    sha256 = read_manifest((gone / MANIFEST_NAME).read_bytes()).manifest_sha256
    shutil.rmtree(gone)
    if hidden == "withdrawn":
        append(shelf.folder, "withdrawn", gone.name, sha256)
    (words,), _ = doubts([shelf.at(old)], role="approved", name="C. Signer")
    assert words.endswith(gone.name)
    assert {"deleted": "missing: ", "withdrawn": "by the log: "}[hidden] in words


@pytest.mark.parametrize("how", ["manifest", "results"])
def test_a_signer_is_told_of_a_revision_that_was_made_unreadable(shelf: Shelf, how: str) -> None:
    old = shelf.sheet()
    new = shelf.sheet(utc=JUNE, revises=(old.link,))
    path = shelf.at(new) / (MANIFEST_NAME if how == "manifest" else "results.json")
    path.write_bytes(b"x")
    (words,), _ = doubts([shelf.at(old)], role="approved", name="C. Signer")
    assert re.search(rf"damaged: {new.record}|named by {new.record}, damaged", words)


def test_files_laid_beside_a_record_do_not_hide_what_is_missing(shelf: Shelf) -> None:
    old = shelf.sheet()
    append(shelf.folder, "record", old.record, old.manifest_sha256)
    gone = shelf.check(old, "differs")
    shutil.rmtree(gone)
    junk = shelf.folder / f"{old.record}.signatures"
    junk.mkdir()
    for name in "abcd":
        (junk / name).write_bytes(b"x")
    (words,), _ = doubts([shelf.at(old)], role="approved", name="C. Signer")
    assert f"missing: {gone.name}" in words


@pytest.mark.parametrize("what", ["missing: ", "by the log: "])
def test_a_revision_whose_letter_holds_a_line_is_missed_as_any_other(shelf: Shelf, what: str) -> None:
    old = shelf.sheet()
    append(shelf.folder, "record", old.record, old.manifest_sha256)
    name = old.record.replace("_A_", "_B_1_")
    append(shelf.folder, "record", name, "1" * 64)
    if what != "missing: ":
        append(shelf.folder, "withdrawn", name, "1" * 64)
    (words,), _ = doubts([shelf.at(old)], role="approved", name="C. Signer")
    assert f"{what}{name}" in words


def test_a_sheet_of_which_the_log_alone_says_that_it_never_stood_has_a_row(shelf: Shelf) -> None:
    old = shelf.sheet()
    append(shelf.folder, "record", old.record, old.manifest_sha256)
    other = shelf.sheet(lift="L3")
    append(shelf.folder, "record", other.record, other.manifest_sha256)
    shutil.rmtree(shelf.at(other))
    append(shelf.folder, "withdrawn", other.record, other.manifest_sha256)
    found = {e.record: (e.state, e.governing) for e in scan(shelf.folder)}
    assert found[other.record] == ("withdrawn", "withdrawn before it stood, by the log")
    lines = list_records(shelf.folder, lift="L2")
    assert any("not listed here: 1" in line for line in lines)
    assert other.record not in {e.record for e in scan(shelf.folder, starts=("another",))}


def test_what_is_printed_or_signed_is_not_believed_from_memory(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    made = shelf.sheet()
    monkeypatch.setattr("liftcalc.records.believed.fingerprint", lambda entries: "as it was")
    assert shelf.state(made) == "prepared"
    (shelf.at(made) / "sheet.html").write_bytes(b"RELEASED")
    assert shelf.state(made) == "prepared"  # its memory was deceived
    assert [e.state for e in states_of([shelf.at(made)])] == ["damaged"]


def test_states_of_records_come_in_their_order(three: Path) -> None:
    folders = [three / e.folder for e in scan(three)]
    found = states_of([*folders, three / "nothing"])
    # Each folder of records by itself: a revision elsewhere is not known of.
    assert [e.record for e in found] == [*(f.name for f in folders), "nothing"]
    assert found[-1].state == "damaged"


# What verified is remembered by its files, and by nothing less.


@pytest.fixture
def settled(shelf: Shelf, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Shelf:
    """One record, remembered at once, in a cache of its own; *verified* counts."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(believed, "_COARSE_NS", -(10**12))
    shelf.sheet()
    return shelf


def counted(shelf: Shelf, monkeypatch: pytest.MonkeyPatch, **options: Any) -> int:
    """How many records a scan verifies."""
    seen = []
    with monkeypatch.context() as patch:
        patch.setattr(register, "verify_record", lambda p: seen.append(p) or verify_record(p))
        scan(shelf.folder, **options)
    return len(seen)


def test_a_record_is_verified_once_and_again_when_asked(settled: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    before = [1, 0, 0]
    assert [counted(settled, monkeypatch) for _ in before] == before
    first = scan(settled.folder)
    assert counted(settled, monkeypatch, full=True) == 1
    assert scan(settled.folder) == first == scan(settled.folder, full=True)
    settled.sheet(1)
    assert counted(settled, monkeypatch) == 1


def test_what_changed_just_now_is_not_remembered(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf.sheet()
    assert [counted(shelf, monkeypatch) for _ in range(2)] == [1, 1]


@pytest.mark.parametrize("how", ["same size and time", "one more", "another file", "less"])
def test_a_record_that_was_touched_is_verified_again(settled: Shelf, how: str) -> None:
    (entry,) = scan(settled.folder)
    path = settled.folder / entry.folder / "results.json"
    info, data = path.stat(), path.read_bytes()
    if how == "same size and time":
        path.write_bytes(data.replace(b"within", b"wlthin"))
    elif how == "one more":
        path.with_name("more.bin").touch()
    elif how == "less":
        path.unlink()
    else:
        path.rename(path.with_name("old"))
        shutil.copyfile(path.with_name("old"), path)
        path.with_name("old").unlink()
        path.write_bytes(data.replace(b"within", b"wlthin"))
    if path.exists():
        os.utime(path, ns=(info.st_atime_ns, info.st_mtime_ns))
    (entry,) = scan(settled.folder)
    assert entry.state == "damaged"


def cache_of(tmp_path: Path) -> Path:
    """The one file of the cache that is of an archive."""
    made = hashlib.sha256(b"made").hexdigest()[:32]
    (path,) = (p for p in (tmp_path / "cache").rglob("*.sqlite") if p.stem != made)
    return path


def test_a_row_of_the_cache_is_believed_only_for_its_key(
    settled: Shelf, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (honest,) = scan(settled.folder)
    assert counted(settled, monkeypatch) == 0
    monkeypatch.setattr(believed, "__version__", "9.9")  # another program
    assert counted(settled, monkeypatch) == 1
    with sqlite3.connect(cache_of(tmp_path)) as base:
        (words,) = base.execute("SELECT words FROM said").fetchone()
        base.execute("UPDATE said SET words = ?", (words.replace('"within"', '"over"'),))
    base.close()
    assert scan(settled.folder) == [honest]
    shutil.copytree(settled.folder, tmp_path / "elsewhere")
    assert [e.state for e in scan(tmp_path / "elsewhere")] == ["prepared"]


@pytest.mark.parametrize("how", ["junk", "folder", "empty", "other table", "no rights", "null"])
def test_a_cache_that_is_damaged_or_foreign_is_passed_over(
    settled: Shelf, tmp_path: Path, how: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = scan(settled.folder)
    path = cache_of(tmp_path)
    if how == "other table" or how == "null":
        with sqlite3.connect(path) as base:
            if how == "null":
                base.execute("UPDATE said SET words = NULL, files = NULL")
            else:
                base.execute("DROP TABLE said")
                base.execute("CREATE TABLE said (x)")
                base.execute("INSERT INTO said VALUES (1)")
        base.close()
    elif how == "no rights":
        shutil.rmtree(tmp_path / "cache")
        (tmp_path / "cache").write_bytes(b"")  # a file where the folder should be
    else:
        path.unlink()
        if how == "folder":
            path.mkdir()
        else:
            path.write_bytes(b"" if how == "empty" else b"junk" * 5000)
    assert scan(settled.folder) == honest
    assert scan(settled.folder) == honest


# Filters, pages, and what reaches a reader.


@pytest.mark.parametrize(
    ("filters", "count"),
    [
        ({}, 3),
        ({"lift": "L2"}, 2),
        ({"lift": "L9"}, 0),
        ({"state": "superseded"}, 1),
        ({"state": "damaged"}, 1),
        ({"verdict": "within"}, 2),
        ({"verdict": "over"}, 0),
        ({"template": "site_survey"}, 3),
        ({"job": "riverside-pumps", "kind": "sheet"}, 3),
        ({"until": "2026-05-01"}, 1),
        ({"since": "2026-05-01", "until": "2026-05"}, None),
        ({"since": "2026-05-01T00:00:00Z", "until": "2026-05-02"}, 1),
        ({"since": "yesterday"}, None),
        ({"state": "lost"}, None),
        ({"text": "WAS CHANGED"}, 1),
        ({"text": "a. person", "lift": "L2"}, 2),
    ],
)
def test_filters(three: Path, filters: dict[str, str], count: int | None) -> None:
    if count is None:
        with pytest.raises(InputError, match="allowed: "):
            select(scan(three), **filters)
    else:
        assert len(select(scan(three), **filters)) == count


def test_a_page_of_the_screen_says_how_many_more(three: Path) -> None:
    found = scan(three)
    lines = register_lines(found, root=three, size=2)
    assert lines[-1] == "Page 1 of 2, 1 more: --page 2."
    assert sum(e.record in "\n".join(lines[1:3]) for e in found) == 2
    assert register_lines(found, root=three, page=2, size=2)[-1] == "Page 2 of 2."
    assert not any("--page" in line for line in register_lines(found, root=three, size=3))
    with pytest.raises(InputError, match="page is 3; allowed: 1 to 2"):
        register_lines(found, root=three, page=3, size=2)


def test_html_comes_in_pages_that_lead_to_one_another(three: Path) -> None:
    pages = register_html(scan(three), title="T", name="r.html", rows=2)
    assert [*pages] == ["r.html", "r-2.html"]
    assert b'href="r-2.html"' in pages["r.html"]
    assert b'href="r.html"' in pages["r-2.html"]
    assert pages["r.html"].count(b"<tr") == 3


HOSTILE = "a\x1b[2Jb\x85\nc\u202ed\u200b;=1+1"


def hostile() -> list[Entry]:
    """An entry that would act on a terminal, a spreadsheet and a page, were it let."""
    texts = dict.fromkeys(("job", "lift", "governing", "prepared_by", "remarks"), HOSTILE)
    return [Entry(record="r", folder="r", state="damaged", prepared_utc=MAY, **texts)]


def test_nothing_foreign_acts_on_terminal_table_or_page(tmp_path: Path) -> None:
    page = register_html(hostile(), title=HOSTILE)["register.html"].decode()
    table = register_csv(hostile())
    lines = "\n".join(register_lines(hostile(), root=tmp_path))
    for text in (page, table, lines):
        assert "\\u001b[2Jb\\u0085\\u000ac\\u202ed\\u200b" in text
        assert not set(text) & set("\x1b\x85\u202e\u200b")
    assert ";=1+1" not in table


def test_a_folder_whose_name_is_no_text_is_listed_and_led_to(shelf: Shelf) -> None:
    there = shelf.sheet(under=os.fsdecode(b"\xff"))
    page = register_html(scan(shelf.folder), title="x")["register.html"].decode()
    assert f'href="%FF/{there.record}/sheet.html"' in page


@pytest.mark.parametrize("ending", ["csv", "html"])
def test_a_pipe_is_not_replaced_by_a_register(shelf: Shelf, ending: str) -> None:
    pipe = shelf.folder / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(InputError, match="a regular file, or a new one"):
        list_records(shelf.folder, **{f"{ending}_file": pipe})  # type: ignore[arg-type]
    assert pipe.is_fifo()


def test_the_csv_reads_back_and_holds_no_formula(three: Path) -> None:
    text = register_csv(scan(three))
    for separator in ",;\t|":
        rows = [*csv.reader(io.StringIO(text), delimiter=separator)]
        assert not any(cell.lstrip("\"' ").startswith(("=", "+", "@")) for row in rows for cell in row)
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[0] == list(COLUMNS)
    assert len(rows) == 4


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        *((text, f"'{text}") for text in ("=1+1", "+1", "-1", "@x", "＝1")),
        ("\t=1", "\\u0009=1"),
        ("a;=1+1", "a;'=1+1"),
        ("a,  @x", "a,  '@x"),
        ('a;"=1+1"', 'a;"\'=1+1"'),
        ("a|-2", "a|'-2"),
        (" =1", " '=1"),
        ("L1 = x - 2", "L1 = x - 2"),
        ("1\u2009234 kN; −2 m", "1\u2009234 kN; −2 m"),
    ],
)
def test_a_cell_that_some_spreadsheet_would_calculate_becomes_text(text: str, cell: str) -> None:
    assert safe_cell(text) == cell


def test_the_page_links_to_the_sheets_and_escapes(three: Path) -> None:
    found = scan(three)
    page = register_html(found, title="<b>", prefix="../x/")["register.html"].decode()
    whole = [e for e in found if e.state != "damaged"]
    assert all(f'href="../x/{e.folder}/sheet.html"' in page for e in whole)
    assert page.count("sheet.html") == len(whole)
    assert "<title>&lt;b&gt;</title>" in page
    assert "<script" not in page
    assert "3 records" in page
    assert html.escape(CAUTION_LINE) in page
    assert INVENTED_LINE in page
    assert "leg_layout" not in re.sub(r"<a .*?</a>|<title>.*?</title>", "", page)


def test_only_what_is_shown_is_asked_for_its_signatures(three: Path) -> None:
    found = scan(three)
    (three / f"{found[0].folder}.signatures").mkdir()
    assert [e.signed for e in with_signatures(found, three)] == [""] * 3


def test_links_and_unfinished_folders_are_not_followed(three: Path) -> None:
    (three / "link").symlink_to(three / "sub")
    (three / ".part-x").mkdir()
    name = next(p.name for p in (three / "sub").iterdir())
    shutil.copyfile(three / "sub" / name / MANIFEST_NAME, three / ".part-x" / MANIFEST_NAME)
    assert len(scan(three)) == 3


def test_a_folder_that_is_not_there_is_one_clear_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="an existing folder of records"):
        scan(tmp_path / "nothing")


def test_the_summary_of_a_batch_says_what_the_register_says(shelf: Shelf) -> None:
    first, twin, other = shelf.sheet(), shelf.sheet(utc=JUNE), shelf.sheet(lift="L3")
    rows = [Row(m.lift, "", m.template, "made", record=m.record, folder=str(shelf.at(m))) for m in (first, other)]
    rows.append(Row("L4", "", first.template, "failed", message="no ground"))
    said = with_states(rows)
    assert [row.message for row in said] == [
        f"current twice; current beside {twin.record}", "", "no ground",
    ]  # fmt: skip
    text = summary_text(said)
    assert f"L2: current twice; current beside {twin.record}.\n" in text
    assert "next --revision" not in text
