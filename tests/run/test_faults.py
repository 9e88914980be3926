"""A crash is never told as a refusal, nor a refusal as a crash: exit codes and words."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import pytest
import yaml

from liftcalc.base import resources
from liftcalc.base.errors import PROGRAM_FAULT, failure_code
from liftcalc.clearance.powerline import TABLE_A
from liftcalc.cli import main
from liftcalc.run.recheck import recheck_record

Toy = Callable[..., nbformat.NotebookNode]
CRASH = "1 / 0"
REFUSE = "from liftcalc.base.errors import InputError\nraise InputError.of('a', 1, 'b')"


@pytest.mark.parametrize(("extra", "code", "told"), [(CRASH, 4, True), (REFUSE, 2, False)])
def test_a_sheet_that_crashes_and_one_that_refuses_are_told_apart(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    toy: Toy,
    extra: str,
    code: int,
    told: bool,
) -> None:
    nbformat.write(toy("site_survey", extra=extra), tmp_path / "site_survey.ipynb")
    monkeypatch.setattr(resources, "templates_dir", lambda: tmp_path)
    assert main(["run", "site_survey", "--out", str(tmp_path / "out"), "--no-pdf"]) == code
    said = capsys.readouterr().err
    assert (PROGRAM_FAULT in said) == told
    assert "Traceback" not in said


def test_a_fault_outside_a_sheet_has_its_own_exit_code(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def crash(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr("liftcalc.run.job.load_job", crash)
    monkeypatch.delenv("LIFTCALC_DEBUG", raising=False)
    assert main(["batch", "job.yaml"]) == 4
    assert f"ZeroDivisionError: division by zero\n{PROGRAM_FAULT}" in capsys.readouterr().err
    assert main(["--help"]) == 0
    words = " ".join(capsys.readouterr().out.split())
    for text in ("1 some check over its limit", "on condition", "2 bad input", "4 the program"):
        assert text in words
    kinds = ("input", "calculation", "record", "program", "kernel", "timeout")
    assert [failure_code(kind) for kind in kinds] == [2, 2, 3, 4, 4, 4]


def test_a_re_check_that_crashes_does_not_say_that_the_record_differs(
    monkeypatch: pytest.MonkeyPatch, made_chain: tuple[Path, ...], toy_templates: Path
) -> None:
    from liftcalc.run import execute

    def crash(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(execute, "_run", crash)
    outcome = recheck_record(made_chain[0], write=False, templates=toy_templates)
    assert (outcome.decision, outcome.code) == ("cannot be re-run", 4)
    assert PROGRAM_FAULT in outcome.findings[-1]


@pytest.mark.parametrize(
    ("module", "extra", "arguments"),
    [
        ("cryptography", "sign", ["sign", "--key", "{tmp}/k.pem", "--new-key"]),
        ("cryptography", "sign", ["sign", "{tmp}", "--key", "{tmp}/k.pem", "--name", "A"]),
        ("typst", "pdf", ["demo", "--pdf", "--out", "{tmp}/out"]),
        ("typst", "pdf", ["run", "lift_check", "--pdf", "--out", "{tmp}/out"]),
        ("ezdxf", "cad", ["survey", "{tmp}/a.dxf", "--out", "{tmp}/b.geojson"]),
        ("ezdxf.filemanagement", "cad", ["survey", "{site}", "--out", "{tmp}/b.dxf"]),
        ("distributed", "cluster", ["batch", "{job}", "--out", "{tmp}/o", "--scheduler", "tcp://x"]),
    ],
)
def test_a_missing_extra_names_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    module: str,
    extra: str,
    arguments: list[str],
) -> None:
    for name in [module, *(n for n in sys.modules if n.startswith(f"{module}."))]:
        monkeypatch.setitem(sys.modules, name, None)  # also what another test has loaded before
    (tmp_path / "a.dxf").write_text("0\nEOF\n", encoding="utf-8")
    job = resources.demo_job_path()
    places = {"tmp": tmp_path, "job": job, "site": job.with_name("site.geojson")}
    assert main([word.format(**places) for word in arguments]) == 2
    said = capsys.readouterr().err
    assert f'python -m pip install ".[{extra}]"' in said
    assert "fault of the program" not in said
    assert not list(tmp_path.glob("o*/*"))


def _job(tmp_path: Path, **rules: dict[str, Any]) -> Path:
    source = resources.demo_job_path()
    data = yaml.safe_load(source.read_text(encoding="utf-8"))
    for group, changes in rules.items():
        data["rules"][group] |= changes

    def far(value: Any) -> Any:
        if isinstance(value, list):
            return [far(v) for v in value]
        is_file = isinstance(value, str) and value.endswith((".yaml", ".csv", ".geojson"))
        return str((source.parent / value).resolve()) if is_file else value

    path = tmp_path / "job.yaml"
    path.write_text(yaml.safe_dump({k: far(v) for k, v in data.items()}), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("rules", "words"),
    [
        ({"ground": {"factor_of_safety": 1.0}}, "rules.ground.factor_of_safety is 1.0; allowed:"),
        ({"ground": {"factor_of_safety": 1.99}}, "greater than or equal to 2"),
        ({"clearance": {"power_line_table": "owner"}}, "power_line_owner_rows, such as [[50, 3.0]"),
        ({"clearance": {"power_line_owner_rows": [[50.0, 3.0]]}}, "with no other"),
        (
            {"clearance": {"power_line_table": "owner", "power_line_owner_rows": [[50.0, 3.0], [20.0, 4.0]]}},
            "rising voltages and distances that do not fall",
        ),
        (
            {"clearance": {"power_line_table": "owner", "power_line_owner_rows": [[50.0, 3.0], [60.0, 2.0]]}},
            "rising voltages and distances that do not fall",
        ),
        (
            {"clearance": {"power_line_table": "owner", "power_line_owner_rows": [[1.0, 3.0]]}},
            "allowed: up to 1, where owner ends",
        ),
    ],
)
def test_a_rule_that_a_sheet_would_refuse_is_refused_before_any_sheet(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], rules: dict[str, Any], words: str
) -> None:
    out = tmp_path / "out"
    assert main(["batch", str(_job(tmp_path, **rules)), "--out", str(out)]) == 2
    assert words in capsys.readouterr().err
    assert not out.exists()


def test_the_voltage_at_which_the_standard_table_ends_is_that_of_the_table() -> None:
    from liftcalc.facts.job import ClearanceRule

    assert ClearanceRule(reference="-").power_line_up_to_kV == TABLE_A.limit_kV[-1]
