"""``liftcalc survey``: a survey read from one format and written in another, or refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml

from liftcalc.base.resources import demo_job_path
from liftcalc.cli import main
from liftcalc.facts.io import load_job, parse_fact, read_data
from liftcalc.facts.site import Site
from liftcalc.facts.site_geojson import site_dict_from_geojson

SITE = demo_job_path().parent / "site.geojson"


@pytest.mark.parametrize("suffix", ["dxf", "csv", "xlsx"])
def test_the_demo_survey_comes_back_the_same_through_every_format(
    tmp_path: Path, suffix: str, capsys: pytest.CaptureFixture[str]
) -> None:
    header = tmp_path / "header.yaml"
    header.write_text(yaml.safe_dump(read_data(SITE)["site"]), encoding="utf-8")
    middle, back = tmp_path / f"site.{suffix}", tmp_path / "back.geojson"
    assert main(["survey", str(SITE), "--out", str(middle)]) == 0
    assert main(["survey", str(middle), "--header", str(header), "--out", str(back)]) == 0
    assert "Taken: 1 boundary" in capsys.readouterr().out
    document = json.loads(back.read_text(encoding="utf-8"))
    site = parse_fact(Site, site_dict_from_geojson(document))
    assert site == load_job(demo_job_path()).site


def test_unknown_formats_and_existing_files_are_refused_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["survey", str(SITE), "--out", str(tmp_path / "a.pdf")]) == 2
    assert "file that ends in" in capsys.readouterr().err
    (tmp_path / "b.geojson").write_text("{}", encoding="utf-8")
    assert main(["survey", str(SITE), "--out", str(tmp_path / "b.geojson")]) == 2
    assert (tmp_path / "b.geojson").read_text(encoding="utf-8") == "{}"
    assert main(["survey", str(tmp_path / "none.dxf"), "--out", str(tmp_path / "c.csv")]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_a_survey_without_its_header_says_where_to_give_it_and_what_was_left_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "a.csv"
    table.write_text("kind,easting_m,northing_m,level_m\npond,1,2,3\n,1,2,3\n", encoding="utf-8")
    assert main(["survey", str(table), "--out", str(tmp_path / "a.geojson")]) == 2
    said = capsys.readouterr().err
    assert "datum is missing; a value must be given. Give it with --header, or" in said
    assert "left out: a.csv, row 2, kind 'pond' is not known" in said
