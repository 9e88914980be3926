"""An archive handed over: a bag and a crate to tools that others wrote, an archive to ours."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import bagit
import pytest
from rocrate.rocrate import ROCrate
from writable import unlock

from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.cli import main
from liftcalc.records.handover import hand_over
from liftcalc.records.log import append
from liftcalc.records.sign import load_key, new_key, sign_record
from liftcalc.records.verify import verify_record
from liftcalc.run.recheck import recheck_record


@pytest.fixture
def full(made_chain: tuple[Path, ...], archive: Path, tmp_path: Path, toy_templates: Path) -> Iterator[Path]:
    """An archive with a chain of two records, a check, a signature, a log and other files."""
    for folder in made_chain:
        shutil.copytree(folder, archive / folder.name)
    recheck_record(archive / made_chain[1].name, checker="B. Checker", templates=toy_templates)
    new_key(tmp_path / "key.pem")
    sign_record(archive / made_chain[0].name, load_key(tmp_path / "key.pem"),
                role="prepared", name="A. Person")  # fmt: skip
    (archive / "summary.csv").write_text("lift\n", encoding="utf-8")
    wheel = archive / "environments" / ("0" * 64) / "wheels" / "toy-1.0-py3-none-any.whl"
    wheel.parent.mkdir(parents=True)
    wheel.write_bytes(b"PK")
    (archive / "private.pem").write_text("a key", encoding="utf-8")
    (archive / "link").symlink_to(tmp_path)
    (archive / ".part-file-1").write_text("half", encoding="utf-8")
    yield archive
    bag = tmp_path / "bag"
    if bag.exists():
        unlock(bag)


def _entities(bag: Path) -> dict[str, dict[str, object]]:
    crate = json.loads((bag / "data" / "ro-crate-metadata.json").read_bytes())
    return {entity["@id"]: entity for entity in crate["@graph"]}


def test_tools_of_other_people_find_bag_and_crate_whole(full: Path, tmp_path: Path) -> None:
    bag = tmp_path / "bag"
    told = hand_over(full, bag)
    bagit.Bag(str(bag)).validate()
    for listing in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        subprocess.run(["sha256sum", "--check", "--strict", listing], cwd=bag, check=True)
    info = bagit.Bag(str(bag)).info
    assert info["Job"].startswith("riverside-pumps: ")
    assert info["Client"] == "Invented drainage board"
    assert info["Caution"] == [CAUTION_LINE, INVENTED_LINE]
    assert info["Left-Out"] == ["link", "private.pem"]
    assert "summary.csv: lies beside the records" in info["Not-Verified"]
    assert set(told) == set((bag / "bag-info.txt").read_text(encoding="utf-8").splitlines())
    crate = ROCrate(bag / "data")
    root = crate.root_dataset
    assert CAUTION_LINE in root["description"]
    assert INVENTED_LINE in root["description"]
    assert root["license"]["name"].startswith("No licence stated")
    listed = {entity.id for entity in crate.data_entities if entity.type == "File"}
    there = {p.relative_to(bag / "data").as_posix() for p in (bag / "data").rglob("*") if p.is_file()}
    assert listed == there - {"ro-crate-metadata.json"}
    assert any(name.startswith("environments/") for name in there)
    # A byte changed afterwards is found by them too.
    unlock(bag)
    page = next((bag / "data").glob("*_site_survey_*/sheet.html"))
    data = page.read_bytes()
    page.unlink()
    page.write_bytes(data[:-1] + b"?")
    with pytest.raises(bagit.BagValidationError):
        bagit.Bag(str(bag)).validate()


def test_each_sheet_and_check_is_an_action_with_agent_program_and_inputs(
    full: Path, made_chain: tuple[Path, ...], tmp_path: Path
) -> None:
    bag = tmp_path / "bag"
    hand_over(full, bag, licence="CC-BY-4.0")
    entities = _entities(bag)
    survey, layout = (folder.name for folder in made_chain)
    manifest = verify_record(made_chain[1]).manifest
    assert manifest is not None
    made = entities[f"#made-{layout}"]
    assert made["endTime"] == manifest.prepared_utc
    assert made["object"] == [{"@id": f"{layout}/inputs.json"}, {"@id": f"{survey}/"}]
    assert {"@id": f"{layout}/sheet.html"} in made["result"]
    assert {"@id": f"{layout}/inputs.json"} not in made["result"]
    assert entities[made["agent"]["@id"]]["name"] == "A. Person"
    program = entities[made["instrument"]["@id"]]
    assert program["softwareVersion"] == manifest.versions["liftcalc"]
    assert manifest.code_sha256 in program["identifier"]
    assert entities[f"{layout}/"]["identifier"] == manifest.manifest_sha256
    (check,) = (e for k, e in entities.items() if k.startswith("#made-") and "_check_" in k)
    assert entities[check["agent"]["@id"]]["name"] == "B. Checker"
    assert check["object"] == {"@id": f"{layout}/"}
    assert check["description"] == "matches"
    assert entities[f"{survey}.signatures/"]["about"] == {"@id": f"{survey}/"}
    assert entities["#licence"]["name"] == "CC-BY-4.0"


def test_a_bag_is_rechecked_listed_and_printed_as_it_is(
    full: Path, made_chain: tuple[Path, ...], toy_templates: Path, tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    bag = tmp_path / "bag"
    assert main(["handover", str(full), "--out", str(bag)]) == 0
    for folder in made_chain:
        outcome = recheck_record(bag / "data" / folder.name, templates=toy_templates, write=False)
        assert outcome.decision == "matches", outcome
    capsys.readouterr()
    assert main(["register", str(bag)]) == 0
    listed = capsys.readouterr().out
    assert all(folder.name in listed for folder in made_chain)
    assert "B. Checker" in listed
    assert "prepared" in listed
    assert main(["pdf", str(bag), "--out", str(tmp_path / "book.pdf")]) == 0
    assert (tmp_path / "book.pdf").read_bytes().startswith(b"%PDF")


def test_a_damaged_record_is_refused_by_name_or_handed_over_and_named(
    full: Path, made_chain: tuple[Path, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name, lost = made_chain[0].name, "lost_L1_site_survey_A"
    unlock(full / name)
    (full / name / "results.json").write_bytes(b"{}")
    (full / name / "line\nbreak").touch()
    (full / name / "outside").symlink_to("/etc/hostname")
    (full / lost).mkdir()
    (full / lost / "manifest.json").write_bytes(b"{}")
    bag = tmp_path / "bag"
    assert main(["handover", str(full), "--out", str(bag)]) == 3
    said = capsys.readouterr().err
    assert f"{name}: results.json: has 2 bytes" in said
    assert lost in said
    assert not bag.exists()
    assert not list(tmp_path.glob(".part-*"))
    assert main(["handover", str(full), "--out", str(bag), "--damaged"]) == 0
    bagit.Bag(str(bag)).validate()
    named = bagit.Bag(str(bag)).info["Damaged-Record"]
    assert [text.partition(":")[0] for text in named] == sorted([lost, name])
    entities = _entities(bag)
    assert entities[f"{name}/"]["description"].startswith("DAMAGED: results.json")
    assert entities[f"{lost}/"]["description"].startswith("DAMAGED: ")
    assert not (bag / "data" / name / "outside").exists()


def test_what_may_still_grow_is_copied_and_records_keep_their_place_in_folders(
    full: Path, made_chain: tuple[Path, ...], tmp_path: Path
) -> None:
    (full / "older").mkdir()
    shutil.copytree(made_chain[0], full / "older" / made_chain[0].name)
    bag = tmp_path / "bag"
    hand_over(full, bag)
    data = bag / "data"
    assert (data / "older" / made_chain[0].name / "sheet.html").is_file()
    assert (data / made_chain[0].name / "sheet.html").is_file()
    with (full / "log.jsonl").open("a", encoding="utf-8") as stream:
        stream.write("{}\n")
    bagit.Bag(str(bag)).validate()
    sheet = made_chain[1].name + "/sheet.html"
    assert (data / sheet).samefile(full / sheet)


def test_what_the_log_names_and_is_gone_is_named(full: Path, made_chain: tuple[Path, ...], tmp_path: Path) -> None:
    assert not any("Missing" in line for line in hand_over(full, tmp_path / "whole"))
    unlock(full / made_chain[1].name)
    shutil.rmtree(full / made_chain[1].name)
    hand_over(full, tmp_path / "bag")
    assert bagit.Bag(str(tmp_path / "bag")).info["Missing"].startswith(made_chain[1].name)
    with (full / "log.jsonl").open("a", encoding="utf-8") as stream:
        stream.write("{}\n")
    assert "is no line of a log" in "".join(hand_over(full, tmp_path / "broken"))


def test_a_folder_that_the_bag_cannot_name_is_refused_and_each_folders_log_is_read(
    full: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    top = tmp_path / "top"
    shutil.copytree(full, top / "job 1", symlinks=True)
    assert main(["handover", str(top), "--out", str(tmp_path / "bag")]) == 2
    assert "'job 1/" in capsys.readouterr().err
    (top / "job 1").rename(top / "job-1")
    append(top / "job-1", "record", "job_L9", "0" * 64)
    append(top / "job-1", "record", "job_L8", "0" * 64)
    append(top / "job-1", "withdrawn", "job_L8", "0" * 64)
    info = hand_over(top, tmp_path / "bag")
    assert [x.split()[:2] for x in info if x.startswith(("Missing", "Withdrawn"))] == [
        ["Missing:", "job_L9:"], ["Withdrawn:", "job_L8:"]
    ]  # fmt: skip
    listed = (tmp_path / "bag" / "manifest-sha256.txt").read_text(encoding="utf-8").splitlines()
    held = [p for p in (tmp_path / "bag" / "data").rglob("*") if p.is_file()]
    assert len(listed) == len(held)


def test_a_bag_is_new_and_outside_the_archive(full: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "empty").mkdir()
    for source, out in (
        (full, full / "bag"),
        (full, tmp_path / "there"),
        (tmp_path / "empty", tmp_path / "bag"),
        (tmp_path / "missing", tmp_path / "bag"),
    ):
        assert main(["handover", str(source), "--out", str(out)]) == 2
    assert capsys.readouterr().err.count("a new folder outside the archive") == 2
    assert not (tmp_path / "bag").exists()
