"""Boreholes as a table become ground profiles; contradictions are named with their row."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import yaml

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.boreholes import COLUMNS, boreholes_from_rows
from liftcalc.facts.io import load_job, read_data
from liftcalc.facts.site_geojson import site_dict_from_geojson
from liftcalc.lift.assess import assess_lift

DEMO = demo_job_path().parent


def demo_rows() -> list[dict[str, Any]]:
    """The demo site's ground profiles as table rows."""
    rows = []
    site = read_data(DEMO / "site.geojson")
    holes = {
        f["properties"]["profile"]: f["geometry"]["coordinates"]
        for f in site["features"]
        if f["properties"]["kind"] == "borehole"
    }
    for profile in site["site"]["ground"]:
        for k, layer in enumerate(profile["layers"]):
            row = {"hole": profile["id"], **layer, "layer": layer["name"]}
            del row["name"]
            if k == 0:
                place = holes[profile["id"]]
                row |= {"easting_m": place[0], "northing_m": place[1]}
                for field in ("water_depth_m", "voids", "subgrade_modulus_kN_m3"):
                    row[field] = profile[field]
            rows.append(row)
    return rows


def write_job(folder: Path, table: str) -> Path:
    site = read_data(DEMO / "site.geojson")
    site["site"]["ground"] = []
    site["features"] = [f for f in site["features"] if f["properties"]["kind"] != "borehole"]
    import json

    (folder / "site.geojson").write_text(json.dumps(site), encoding="utf-8")
    job = read_data(DEMO / "job.yaml")
    for field in ("machines", "charts", "mats", "tandem_lifts", "rule_sets", "accessories"):
        names = job.get(field, [])
        names = [names] if isinstance(names, str) else names
        job[field] = [str((DEMO / n).resolve()) for n in names]
    job |= {"site": "site.geojson", "boreholes": table}
    job |= {"lifts": str(DEMO / "lifts.csv"), "plan": str(DEMO / "plan.yaml")}
    job["as_set_up"] = str(DEMO / "as_set_up.yaml")
    path = folder / "job.yaml"
    path.write_text(yaml.safe_dump(job), encoding="utf-8")
    return path


def test_a_table_adds_to_a_site_that_stands_in_the_job_file(tmp_path: Path) -> None:
    with (tmp_path / "holes.csv").open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, COLUMNS)
        writer.writeheader()
        writer.writerows(demo_rows())
    path = write_job(tmp_path, "holes.csv")
    job = read_data(path)
    job["site"] = site_dict_from_geojson(read_data(tmp_path / "site.geojson"))
    (tmp_path / "whole.yaml").write_text(yaml.safe_dump(job), encoding="utf-8")
    assert load_job(tmp_path / "whole.yaml").site == load_job(path).site


@pytest.mark.parametrize("suffix", ["csv", "xlsx"])
def test_ground_from_a_table_gives_the_same_ground_checks(tmp_path: Path, suffix: str) -> None:
    rows = demo_rows()
    table = tmp_path / f"boreholes.{suffix}"
    if suffix == "csv":
        with table.open("w", newline="", encoding="utf-8") as stream:
            writer = csv.DictWriter(stream, COLUMNS)
            writer.writeheader()
            writer.writerows(rows)
    else:
        book = openpyxl.Workbook()
        sheet = book.active
        assert sheet is not None
        sheet.append(list(COLUMNS))
        for row in rows:
            sheet.append([row.get(c) for c in COLUMNS])
        book.save(table)
    ours = assess_lift(load_job(write_job(tmp_path, table.name)), "L8")
    demo = assess_lift(load_job(demo_job_path()), "L8")
    assert [(c.id, c.value, c.limit) for c in ours.ground_rows] == [(c.id, c.value, c.limit) for c in demo.ground_rows]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda r: r[1].update(depth=3.0), "columns"),
        (lambda r: r[1].pop("layer"), "row 3"),
        (lambda r: r.append(dict(r[0])), "layers of one hole together"),
        (lambda r: r[1].update(water_depth_m=9.9), "as before"),
        (lambda r: r[0].pop("easting_m"), "easting_m and northing_m"),
        (lambda r: r.clear(), "one layer or more"),
    ],
)
def test_a_doubtful_table_is_refused_in_words(change: Any, words: str) -> None:
    rows = demo_rows()
    change(rows)
    with pytest.raises(InputError, match=words):
        boreholes_from_rows(rows, source="t.csv", provenance={"kind": "survey"})


def test_a_hole_without_water_level_is_refused(tmp_path: Path) -> None:
    rows = demo_rows()
    del rows[0]["water_depth_m"]
    with (tmp_path / "b.csv").open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, COLUMNS)
        writer.writeheader()
        writer.writerows(rows)
    with pytest.raises(InputError, match="water_depth_m and no_water_to_m"):
        load_job(write_job(tmp_path, "b.csv"))
