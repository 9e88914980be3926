"""A lift on condition is told so wherever its records are read, and the exit code is 1."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from liftcalc.base import resources
from liftcalc.base.checks import MAKER_CONFIRMS
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.cli import main
from liftcalc.facts.io import load_job
from liftcalc.records.html import blocks_of
from liftcalc.records.verify import verify_record

LEGS = {"FL": 2.5, "FR": 1.4, "RR": 1.4, "RL": 2.5}


def job_file(folder: Path, *, confirmed: bool) -> Path:
    """The demo's L5 on a base that no chart is made for, with or without a confirmation."""
    data = json.loads(load_job(resources.demo_job_path()).model_dump_json())
    gone = {o["id"] for o in data["site"]["obstacles"]}
    closed = data["rules"]["zones"]["closed"]
    data["site"]["obstacles"] = []
    data["rules"]["zones"]["closed"] = [c for c in closed if c["id"] not in gone]
    lift = next(i for i in data["lifts"] if i["id"] == "L5")
    lift["legs"] = LEGS
    stated = {
        "id": "C1",
        "who": "A. Example, product support",
        "document": "letter 17",
        "date": "2026-05-01",
        "machine": lift["machine"],
        "counterweight": lift["counterweight"],
        "boom_length_m": lift["boom_length_m"],
        "leg_extension_m": LEGS,
        "sector_deg": [-45.0, 90.0],
        "radius_m": 20.0,
        "capacity_t": 3.5,
        "provenance": {"kind": "invented"},
    }
    data["plan"]["lifts"] = {"L5": data["plan"]["lifts"]["L5"]}
    data["as_set_up"] = None
    data |= {"lifts": [lift], "tandem_lifts": [], "confirmations": [stated] if confirmed else []}
    path = folder / "job.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


@pytest.fixture(scope="module", params=[False, True], ids=["on condition", "confirmed"])
def batch(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder = tmp_path_factory.mktemp("batch")
    job, out = job_file(folder, confirmed=request.param), folder / "out"
    code = main(["batch", str(job), "--out", str(out), "--workers", "1"])
    return bool(request.param), code, out


def test_exit_code_terminal_summary_register_and_records(batch: Any, capsys: pytest.CaptureFixture[str]) -> None:
    confirmed, code, out = batch
    assert code == 1  # the plan's own condition stands: how near the crane is set to its place
    page = (out / "summary.html").read_text(encoding="utf-8")
    with (out / "summary.csv").open(encoding="utf-8", newline="") as stream:
        rows = {r["template"]: r for r in csv.DictReader(stream)}
    bound = {t for t, r in rows.items() if r["verdict"] == "condition"}
    on = set() if confirmed else {"leg_layout", "lift_check", "ground_pressure", "lift_plan"}
    assert bound == {*on, "lift_plan"}
    assert all(r["verdict"] == "within" for t, r in rows.items() if t not in bound)
    assert main(["register", str(out), "--html", str(out.parent / "register.html")]) == 0
    told = capsys.readouterr().out
    assert ("within limits on condition: " + MAKER_CONFIRMS in told) != confirmed
    register = (out.parent / "register.html").read_text(encoding="utf-8")
    for text in (page, register):
        assert text.count(f"on condition: {MAKER_CONFIRMS}") == len(on)
    main(["register", str(out), "--verdict", "condition"])
    assert f"{len(bound)} record" in capsys.readouterr().out
    for template, row in rows.items():
        verified = verify_record(out / row["record"])
        assert verified.ok
        results = verified.json("results.json")
        assert results["verdict"] == verified.manifest.verdict == row["verdict"]  # type: ignore
        sheet = verified.content["sheet.html"].decode("utf-8")
        assert (f"on condition: {MAKER_CONFIRMS}" in sheet) == (template in on)
        stated = verified.json("inputs.json")["job"]["confirmations"]
        assert [c["id"] for c in stated] == (["C1"] if confirmed else [])
        if template == "lift_check":
            assert ("letter 17" in sheet) == confirmed
        for block in blocks_of(verified.json("sheet.ipynb")):
            if block["kind"] == "card":
                first = f"DO NOT LIFT UNTIL {MAKER_CONFIRMS}"
                assert block["headline"].startswith(first) != confirmed
                assert ("letter 17" in json.dumps(block)) == confirmed


def test_the_cover_of_the_printed_job_and_a_batch_run_again_say_it(
    batch: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from liftcalc.run import book

    confirmed, code, out = batch
    seen: dict[str, Any] = {}

    def keep(title: str, files: Any, **data: Any) -> bytes:
        seen.update(data)
        return typeset(title, files, **data)

    typeset = book.typeset
    monkeypatch.setattr(book, "typeset", keep)
    records = sorted(p for p in out.iterdir() if p.is_dir())
    printed = PdfReader(io.BytesIO(book.book_pdf(records, title="x"))).pages[0].extract_text()
    cover = seen["cover"]["overview"]
    words = [row[4] for row in cover["rows"]]
    assert words == ["within limits on condition"]  # one row a lift, that of its plan
    for row, state in zip(cover["rows"], cover["states"], strict=True):
        assert (state == "") == (row[4] == "within limits")
        on = row[4] == "within limits on condition" and not confirmed
        assert (MAKER_CONFIRMS in row[5].replace("\u200b", "")) == on
    assert CAUTION_LINE in " ".join(printed.split())
    assert INVENTED_LINE in printed
    job = out.parent / "job.json"
    assert main(["batch", str(job), "--out", str(out), "--workers", "1", "--no-pdf"]) == code
    again = capsys.readouterr().out
    assert "5 already there" in again
    assert (f"within limits on condition: {MAKER_CONFIRMS}" in again) != confirmed
