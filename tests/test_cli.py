"""The command line on the real templates and the demo job: exit codes, messages, resuming."""

from __future__ import annotations

import csv
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest
import yaml

from liftcalc.base import resources
from liftcalc.base.text import CAUTION_LINE
from liftcalc.cli import main
from liftcalc.facts.io import json_schemas, load_job
from liftcalc.records.manifest import MANIFEST_NAME
from liftcalc.records.verify import verify_record

LIFTS = ("L1", "L6")


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two lifts of the demo job, one of which is over a limit."""
    folder = tmp_path_factory.mktemp("archive") / "records"
    arguments = ["batch", str(resources.demo_job_path()), "--out", str(folder), "--workers", "2"]
    code = main([*arguments, *(x for lift in LIFTS for x in ("--lift", lift))])
    assert code == 1
    return folder


def _record(archive: Path, lift: str, template: str) -> Path:
    (found,) = (p for p in archive.iterdir() if f"_{lift}_{template}_" in p.name)
    return found


def _copy(record: Path, target: Path) -> Path:
    copied = target / record.name
    shutil.copytree(record, copied)
    for path in [copied, *copied.rglob("*")]:
        path.chmod(0o755 if path.is_dir() else 0o644)
    return copied


def test_every_sheet_of_the_lifts_is_archived_whole(archive: Path) -> None:
    for lift in LIFTS:
        for template in resources.CHAIN:
            verified = verify_record(_record(archive, lift, template))
            assert verified.ok, verified.findings
            assert {"sheet.pdf", "sheet.html"} <= set(verified.content)
            results = verified.json("results.json")
            assert results["checks"]
            assert b"laceholder" not in verified.content["sheet.html"]
    with (archive / "summary.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert {(r["lift"], r["template"]) for r in rows} == {(lift, t) for lift in LIFTS for t in resources.CHAIN}
    over = [r for r in rows if r["verdict"] == "over"]
    assert over
    assert all(r["remedy"] for r in over)
    assert (archive / "riverside-pumps.pdf").read_bytes().startswith(b"%PDF")


def test_recheck_confirms_and_the_register_shows_it(
    archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    records = [str(_record(archive, "L1", t)) for t in resources.CHAIN[2:]]
    assert main(["recheck", *records, "--checker", "B. Checker", "--workers", "1"]) == 0
    said = capsys.readouterr().out
    assert "3 records: 3 match, 0 do not." in said
    assert f"confirms the arithmetic, not the facts.\n{CAUTION_LINE}" in said
    csv_file, page = tmp_path / "r.csv", tmp_path / "r.html"
    arguments = ["register", str(archive), "--csv", str(csv_file), "--html", str(page)]
    assert main([*arguments, "--state", "checked", "--lift", "L1"]) == 0
    out = capsys.readouterr().out
    assert "3 records." in out
    assert "B. Checker" in out
    assert CAUTION_LINE in out
    listed = list(csv.DictReader(csv_file.read_text(encoding="utf-8").splitlines()))
    assert len(listed) == 3
    assert {(r["caution"], r["invented"]) for r in listed} == {(CAUTION_LINE, "INVENTED")}
    (link,) = set(re.findall(r'href="([^"]*lift_check[^"]*)"', page.read_text(encoding="utf-8")))
    assert (page.parent / link).resolve().is_file()


def test_what_a_batch_lays_beside_its_records_is_passed_over_in_words(
    archive: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    beside = [str(archive / "summary.csv"), str(archive / "riverside-pumps.pdf")]
    record = str(_record(archive, "L1", "site_survey"))
    assert main(["recheck", record, *beside, "--no-record", "--workers", "1"]) == 0
    said = capsys.readouterr()
    assert "1 record: 1 match, 0 do not." in said.out
    assert said.err.count("not a record; passed over") == 2
    assert main(["recheck", *beside]) == 2
    assert "allowed: a record or a folder of records" in capsys.readouterr().err
    other = archive.parent / "notes.txt"
    other.write_text("x", encoding="utf-8")
    assert main(["recheck", str(other), "--no-record"]) == 3  # anything else is a broken record


def test_a_revision_is_of_the_same_sheet_and_lift_and_is_named_in_the_register(
    archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    params, out = tmp_path / "p.yaml", tmp_path / "out"
    params.write_text("{lift: L6, revision: B}", encoding="utf-8")
    order = ["run", "site_survey", "--params", str(params), "--out", str(out), "--no-pdf"]
    for lift, template in (("L1", "site_survey"), ("L6", "lift_check")):
        assert main([*order, "--revises", str(_record(archive, lift, template))]) == 2
        said = capsys.readouterr().err
        assert "a record of the same sheet, job and lift: site_survey, riverside-pumps, L6" in said
    assert not out.exists()
    old = _copy(_record(archive, "L6", "site_survey"), tmp_path)
    assert main([*order, "--revises", str(old)]) == 0
    capsys.readouterr()
    assert main(["register", str(tmp_path), "--state", "superseded"]) == 0
    said = capsys.readouterr().out
    assert "1 record." in said
    (new,) = out.glob("[!.]*/")
    assert re.search(rf"{old.name} .* superseded .* {new.name}", said)


def test_a_record_that_does_not_match_ends_with_3(
    archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copied = _copy(_record(archive, "L1", "lift_check"), tmp_path)
    (copied / "results.json").write_bytes(b"{}")
    assert main(["recheck", str(copied), "--workers", "1"]) == 3
    assert "results.json: has 2 bytes" in capsys.readouterr().out
    params = tmp_path / "p.yaml"
    params.write_text(yaml.safe_dump({"lift": "L1", "parent": str(copied)}), encoding="utf-8")
    assert main(["run", "ground_pressure", "--params", str(params), "--out", str(tmp_path)]) == 3
    assert "Record: " in capsys.readouterr().err
    (copied / MANIFEST_NAME).unlink()
    assert main(["register", str(tmp_path)]) == 0


def test_run_makes_one_record_from_a_parameters_file(
    archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    params = tmp_path / "params.json"
    parent = _record(archive, "L1", "lift_check")
    params.write_text(
        json.dumps({"lift": "L1", "parent": str(parent), "units": "us", "prepared_by": "A"}), encoding="utf-8"
    )
    out = tmp_path / "out"
    assert main(["run", "ground_pressure", "--params", str(params), "--out", str(out)]) == 0
    (folder,) = out.glob("[!.]*/")
    verified = verify_record(folder)
    assert verified.ok
    assert verified.manifest is not None
    assert verified.manifest.units == "us"
    assert verified.manifest.parents[0].record == parent.name
    # The display unit changes what is shown and no result.
    metric = verify_record(_record(archive, "L1", "ground_pressure")).json("results.json")
    assert verified.json("results.json")["values"] == metric["values"]
    assert "Record: " in capsys.readouterr().out
    assert main(["run", "ground_pressure", "--params", str(params), "--out", str(out)]) == 0
    assert "Already there, made of the same inputs. To make it" in capsys.readouterr().out
    assert list(out.glob("[!.]*/")) == [folder]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["run", "no_such"], "template is 'no_such'"),
        (["run", "lift_check", "--params", "{tmp}/none.yaml"], "none.yaml"),
        (["run", "lift_check", "--params", "{tmp}/bad.yaml"], "lift is 'L99'"),
        (["run", "lift_check", "--params", "{tmp}/odd.yaml"], "Unknown parameter .result_file."),
        (["batch", "{tmp}/none.yaml"], "none.yaml"),
        (["batch", "{demo}", "--lift", "L99"], "lift is 'L99'"),
        (["batch", "{demo}", "--revision", "a b"], "revision is 'a b'"),
        (["batch", "{demo}", "--lifts", "{tmp}/none.csv"], "none.csv"),
        (["batch", "{demo}", "--scheduler", "nowhere"], "scheduler is 'nowhere'"),
        (["batch", "{demo}", "--workers", "0"], "--workers"),
        (["register", "{tmp}/none"], "an existing folder of records"),
        (["register", "{tmp}", "--since", "soon"], "since is 'soon'"),
        (["recheck", "{tmp}", "--rtol", "nan"], "tolerance is nan"),
        (["recheck", "{tmp}", "--checker", "a\nb"], "prepared_by|checker"),
        (["schema", "nothing"], "name is 'nothing'"),
        (["sign", "--key", "{tmp}/none.pem", "{tmp}"], "key file.*--new-key"),
        (["sign", "--key", "{tmp}/none.pem", "--name", "A"], "records is 'none'"),
        (["pdf", "{tmp}/none", "--out", "{tmp}/x.pdf"], "no such record folder"),
        (["bogus"], "No such command"),
        (["run", "lift_check", "--bogus"], "No such option"),
    ],
)
def test_bad_input_is_one_clear_message_and_an_exit_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    (tmp_path / "bad.yaml").write_text("lift: L99", encoding="utf-8")
    (tmp_path / "odd.yaml").write_text("result_file: x", encoding="utf-8")
    places = {"{tmp}": str(tmp_path), "{demo}": str(resources.demo_job_path())}
    filled = arguments
    for key, value in places.items():
        filled = [word.replace(key, value) for word in filled]
    code = main(filled)
    caught = capsys.readouterr()
    assert code == (3 if arguments[0] == "pdf" else 2)
    assert re.search(words, caught.err), caught.err
    assert "Traceback" not in caught.err + caught.out
    assert "fault of the program" not in caught.err


def test_a_lift_list_may_be_csv_xlsx_or_yaml(tmp_path: Path) -> None:
    source = resources.demo_job_path().with_name("lifts.csv")
    with source.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append([_typed(cell) for cell in row])
    book.save(tmp_path / "lifts.xlsx")
    job = load_job(resources.demo_job_path())
    plain = json.loads(job.model_dump_json())
    (tmp_path / "lifts.yaml").write_text(yaml.safe_dump({"lifts": plain["lifts"]}, sort_keys=False), encoding="utf-8")
    shutil.copyfile(source, tmp_path / "lifts.csv")
    for name in ("lifts.csv", "lifts.xlsx", "lifts.yaml"):
        found = load_job(resources.demo_job_path(), lifts=tmp_path / name)
        assert [x.model_dump(exclude={"provenance"}) for x in found.lifts] == [
            x.model_dump(exclude={"provenance"}) for x in job.lifts
        ], name


def _typed(cell: str) -> object:
    try:
        return float(cell)
    except ValueError:
        return {"": None, "true": True, "false": False}.get(cell, cell)


def test_schemas_are_published(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert set(found) == {*json_schemas(), "manifest"}
    assert main(["schema", "machine"]) == 0
    assert json.loads(capsys.readouterr().out) == found["machine"]


def test_signing_from_the_command_line(archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("cryptography")
    copied = _copy(_record(archive, "L1", "site_survey"), tmp_path / "x")
    arguments = ["sign", "--key", str(tmp_path / "k.pem"), "--new-key", "--name", "A. Person"]
    assert main([*arguments, "--role", "approved", str(copied)]) == 0
    assert main(["register", str(copied.parent)]) == 0
    assert "approved" in capsys.readouterr().out
    again = ["sign", "--key", str(tmp_path / "k.pem"), "--name", "B. Person", "--role", "checked"]
    assert main([*again, str(copied.parent)]) == 0  # a folder of records stands for its sheets
    assert capsys.readouterr().out.count("Signed: ") == 1
    unborn = tmp_path / "unborn.pem"
    assert main(["sign", "--key", str(unborn), "--new-key", "--name", "A", str(tmp_path / "k")]) == 3
    assert not unborn.exists()


def test_one_pdf_of_many_records(archive: Path, tmp_path: Path) -> None:
    assert main(["pdf", str(archive), "--out", str(tmp_path / "all.pdf")]) == 0
    assert (tmp_path / "all.pdf").read_bytes().startswith(b"%PDF")


def test_the_notebooks_are_laid_out_and_never_overwritten(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    assert main(["lab", "--dir", str(folder), "--no-start"]) == 0
    mine = folder / "templates" / "lift_check.ipynb"
    mine.write_text("changed", encoding="utf-8")
    assert main(["lab", "--dir", str(folder), "--no-start"]) == 0
    assert mine.read_text(encoding="utf-8") == "changed"


def test_the_module_runs_as_a_program_from_any_folder(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "liftcalc.cli", "register", "nowhere"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr.startswith("Input: folder is 'nowhere'")


def test_a_closed_output_is_no_fault_of_the_program(archive: Path, tmp_path: Path) -> None:
    page = tmp_path / "register.html"
    command = f'"{sys.executable}" -m liftcalc.cli register "{archive}" --html "{page}" >&- 2>&-'
    assert subprocess.run(["sh", "-c", command], check=False).returncode == 0
    assert page.is_file()


@pytest.mark.parametrize("reader", ["true", "head -1", "cat"])
@pytest.mark.parametrize("order", ["register", "recheck --no-record", "batch"])
def test_a_reader_who_goes_away_does_not_make_a_lift_over_its_limit(
    archive: Path, tmp_path: Path, order: str, reader: str
) -> None:
    what = f'"{archive}"' if order == "register" else f'"{_record(archive, "L1", "leg_layout")}"'
    page = tmp_path / "register.html"
    if order == "register":
        what += f' --page-size 1 --html "{page}"'
    if order == "batch":  # everything is there already and within its limits
        what = f'"{resources.demo_job_path()}" --lift L1 --out "{archive}"'
    program = f'"{sys.executable}" -m liftcalc.cli {order} {what} 2>&1'
    # The reader is gone before the first word is written.
    command = f'{{ sleep 0.2; {program}; echo $? >"{tmp_path}/code"; }} | {reader}'
    subprocess.run(["bash", "-c", command], check=False, stdout=subprocess.DEVNULL)
    expected = "1\n" if order == "batch" else "0\n"  # the plan of L1 is within its limits on a condition
    assert (tmp_path / "code").read_text(encoding="utf-8") == expected
    assert page.is_file() == (order == "register")  # the work was done to its end


def test_the_register_is_filtered_and_comes_in_pages(archive: Path, capsys: pytest.CaptureFixture[str]) -> None:
    order = ["register", str(archive), "--text", "LEG LAYOUT", "--kind", "sheet"]
    assert main([*order, "--page-size", "1"]) == 0
    said = capsys.readouterr().out
    assert "Page 1 of 2, 1 more: --page 2." in said
    assert "2 records." in said
    assert re.search(r"Log: \d+ lines, the last with SHA-256 [0-9a-f]{64}\.", said)
    assert main([*order, "--page-size", "1", "--page", "3"]) == 2
    assert "page is 3; allowed: 1 to 2" in capsys.readouterr().err


def test_a_damaged_record_and_a_deleted_one_are_named_and_nothing_in_them_acts(
    archive: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copied = tmp_path / "x\x1b[2J\u202e"
    shutil.copytree(archive, copied)
    deleted, damaged = (_record(copied, "L1", name) for name in ("site_survey", "leg_layout"))
    for path in [deleted, damaged, *deleted.rglob("*"), *damaged.rglob("*")]:
        path.chmod(0o755 if path.is_dir() else 0o644)
    shutil.rmtree(deleted)
    (damaged / "results.json").write_bytes(b"{}")
    (damaged / "\x1b]0;x\x07").touch()
    assert main(["register", str(copied), "--full"]) == 0
    said = capsys.readouterr().out
    assert f"{deleted.name}: record of 2" in said
    assert "in the log, and not here as it was" in said
    assert "results.json: has 2 bytes" in said
    assert "\\u001b]0;x\\u0007" in said
    assert main(["register", str(copied), "--lift", "L6"]) == 0
    assert "Missing or damaged and not listed here: 2" in capsys.readouterr().out
    assert main(["recheck", str(copied / "nothing\x1b[2J\u202e"), "--no-record"]) == 3
    said += "".join(capsys.readouterr())
    assert not set(said) & set("\x1b\x07\u202e")
