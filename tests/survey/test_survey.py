"""Surveys in and out: the same site back from every format; reports; grids; refusals."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.facts.site import Site
from liftcalc.survey.assemble import site_from_parts
from liftcalc.survey.dxf_in import read_dxf
from liftcalc.survey.dxf_out import write_dxf
from liftcalc.survey.geojson import read_geojson, write_geojson
from liftcalc.survey.mapping import LAYERS, OWN_MAPPING
from liftcalc.survey.parts import SurveyPart
from liftcalc.survey.tables import read_table, write_csv, write_xlsx

INVENTED = {"kind": "invented", "note": "for a test"}
HEADER: dict[str, Any] = {
    "id": "yard",
    "name": "Yard (invented)",
    "grid": "local grid",
    "datum": "site datum",
    "provenance": INVENTED,
    "ground": [
        {
            "id": "G1",
            "layers": [{"name": "gravel", "thickness_m": 3.0, "unit_weight_kN_m3": 19.0,
                        "phi_deg": 34.0, "c_kPa": 0.0}],
            "no_water_to_m": 3.0,
            "voids": "none found",
            "provenance": INVENTED,
        }
    ],
}  # fmt: skip


def feature(kind: str, shape: str, coordinates: Any, **fields: Any) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": shape, "coordinates": coordinates},
        "properties": {"kind": kind, **fields},
    }


def ring(x0: float, y0: float, x1: float, y1: float) -> list[list[list[float]]]:
    return [[[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]]]


FEATURES = [
    feature("boundary", "Polygon", ring(0, 0, 60, 40)),
    feature("ground zone", "Polygon", ring(0, 0, 60, 40), id="Z1", profile="G1"),
    feature("obstacle", "Polygon", ring(5, 30, 15, 38.25), id="Store", obstacle_kind="building",
            base_level_m=2.0, top_level_m=9.5),
    feature("overhead line", "LineString", [[-5, 45, 12.5], [65, 45.5, 12.75]], id="OHL",
            sag_m=1.25, voltage_kV=33.0, owner="operator", provenance=INVENTED),
    feature("overhead line", "LineString", [[-5, 60, 9.5], [65, 60, 9.5]], id="OHL2", sag_m=0.5,
            voltage_kV=None, owner="unknown", provenance=INVENTED),
    feature("buried service", "LineString", [[0, 10], [60, 12.125]], id="Duct",
            service_kind="duct", crown_depth_m=0.75, width_m=0.5, allowable_stress_kPa=None,
            stand_off_m=1.0, provenance=INVENTED),
    feature("excavation", "Polygon", ring(30, 20, 36, 26), id="Pit", depth_m=3.0,
            supported=False),
    feature("retaining wall", "LineString", [[0, 1], [60, 1]], id="Wall", retained_height_m=2.0,
            allowable_surcharge_kPa=10.0, yielding=True, provenance=INVENTED),
    feature("slope", "LineString", [[0, 39], [60, 39]], id="Bank", height_m=2.0, angle_deg=30.0),
    feature("area", "Polygon", ring(20, 5, 50, 18), id="Pad", area_kind="stand area"),
    feature("spot level", "Point", [1, 1, 2.0]),
    feature("spot level", "Point", [59, 1, 2.125]),
    feature("spot level", "Point", [30, 39, 2.25]),
    feature("borehole", "Point", [10, 10], id="B1", profile="G1"),
]  # fmt: skip


def save(tmp_path: Path, features: list[dict[str, Any]], header: dict[str, Any] | None) -> Path:
    data: dict[str, Any] = {"type": "FeatureCollection", "features": features}
    if header is not None:
        data["site"] = header
    path = tmp_path / "survey.geojson"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


@pytest.fixture
def site(tmp_path: Path) -> Site:
    return site_from_parts([read_geojson(save(tmp_path, FEATURES, HEADER))]).site


Writer = Callable[[Site, Path], Path]
Reader = Callable[[Path], SurveyPart]
FORMATS: list[tuple[str, Writer, Reader]] = [
    ("a.geojson", write_geojson, read_geojson),
    ("a.csv", write_csv, read_table),
    ("a.xlsx", write_xlsx, read_table),
    ("a.dxf", write_dxf, lambda path: read_dxf(path, OWN_MAPPING)),
]


@pytest.mark.parametrize(("name", "write", "read"), FORMATS, ids=[f[0] for f in FORMATS])
def test_every_format_reads_back_as_the_same_site(
    site: Site, tmp_path: Path, name: str, write: Writer, read: Reader
) -> None:
    path = write(site, tmp_path / name)
    part = read(path)
    assert part.problems == ()
    back = site_from_parts([part], header=HEADER)
    assert back.site == site
    assert sum(back.report.counts().values()) == len(FEATURES)
    assert back.report.left_out == ()
    with pytest.raises(InputError, match="nothing is overwritten"):
        write(site, path)
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []


def test_dxf_plan_is_valid_to_scale_and_on_named_layers(site: Site, tmp_path: Path) -> None:
    document = ezdxf.readfile(write_dxf(site, tmp_path / "plan.dxf"))
    for space in (document.modelspace(), document.layouts.get("plan")):
        words = " ".join(text.dxf.text for text in space.query("TEXT"))
        assert CAUTION_LINE in words
        assert (INVENTED_LINE in words) == (site.provenance.kind == "invented")
    assert document.audit().errors == []
    assert document.header["$INSUNITS"] == 6
    layers = {layer.dxf.name for layer in document.layers}
    assert {*LAYERS.values(), "NAMES"} <= layers
    store = next(e for e in document.modelspace() if e.dxf.layer == "OBSTACLES")
    assert store.dxf.elevation == 2.0
    assert store.dxf.thickness == 7.5
    sheet = document.layouts.get("plan")
    view = next(v for v in sheet.query("VIEWPORT") if v.dxf.id != 1)
    # a metre on the ground is 2 mm on the sheet
    assert view.dxf.view_height * 1000 / view.dxf.height == pytest.approx(500.0)
    texts = [t.dxf.text for t in sheet.query("TEXT")]
    assert site.name in texts
    assert any("Scale 1 : 500" in t for t in texts)
    assert any("rated capacity chart" in t for t in texts)


def test_report_tells_taken_left_out_and_repaired(tmp_path: Path) -> None:
    features = [*FEATURES, feature("flower bed", "Polygon", ring(1, 1, 2, 2), id="F")]
    features[0] = feature("boundary", "Polygon", [[[0, 0], [60, 0], [60, 0.0005], [60, 40], [0, 40], [0.0, 0.02]]])
    survey = site_from_parts([read_geojson(save(tmp_path, features, HEADER))])
    lines = survey.report.lines()
    assert lines[0].startswith("Taken: 1 boundary, 1 ground zone, 1 obstacle, 2 overhead line")
    assert any("feature 14" in t and "'flower bed' is not known" in t for t in lines)
    assert any("ring closed over 0.020 m at (0.000, 0.000)" in t for t in lines)
    assert any("1 repeated point(s) taken away" in t for t in lines)


def test_invalid_geometry_is_explained_with_its_coordinates(tmp_path: Path) -> None:
    features = [
        *FEATURES,
        feature("area", "Polygon", [[[0, 0], [4, 4], [4, 0], [0, 4], [0, 0]]], id="A",
                area_kind="no-overfly"),
        feature("area", "Polygon", [[[0, 0], [4, 0], [4, 4], [1, 3]]], id="A2",
                area_kind="no-overfly"),
        feature("slope", "LineString", [[3, 3], [3, 3]], id="S", height_m=1.0, angle_deg=30.0),
        feature("area", "Point", [3, 3], id="A3", area_kind="no-overfly"),
        feature("area", "Polygon", [[[0, 0], [4, 0], [4, 4], [0, 0]], [[1, 1], [2, 1], [2, 2]]]),
    ]  # fmt: skip
    part = read_geojson(save(tmp_path, features, HEADER))
    with pytest.raises(InputError) as caught:
        site_from_parts([part])
    text = str(caught.value)
    assert "feature 14 (area) is 'Self-intersection[2 2]'" in text
    assert "open by 3.162 m from (1.000, 3.000) to (0.000, 0.000)" in text
    assert "one point at (3.000, 3.000)" in text
    assert "geometry of type Polygon" in text
    assert "2 rings" in text


def test_several_files_make_one_site(site: Site, tmp_path: Path) -> None:
    plan = [f for f in FEATURES if f["properties"]["kind"] != "spot level"]
    part = read_geojson(save(tmp_path, plan, HEADER))
    levels = tmp_path / "levels.csv"
    levels.write_text("easting_m;northing_m;level_m\n1;1;2,0\n59;1;2,125\n30;39;2,25\n")
    survey = site_from_parts([part, read_table(levels)])
    assert survey.site == site
    assert any("comma read as the decimal mark" in e.what for e in survey.report.notes)
    with pytest.raises(InputError, match=r"site\.datum"):
        site_from_parts([part, SurveyPart((), survey.report.__class__(), (), {"datum": "another"})])


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("easting_m,northing_m,level_m\n1,2\n", r"row 2 is '2 cells'"),
        ("easting_m,northing_m,level_m\n", "no rows"),
        ("", "empty"),
        ("Rechtswert,Hochwert\n1,2\n", "easting_m and northing_m"),
        ("easting_m,easting_m,level_m\n1,2,3\n", "each once"),
        ("easting_m;northing_m;level_m\n1.5;2,5;3\n", "mark for thousands"),
    ],
)
def test_wrong_tables_are_refused(text: str, message: str, tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=message):
        read_table(path)


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("1,x,3", "northing_m is 'x'"),
        ("1,nan,3", "northing_m is 'nan'"),
        ("1,inf,3", "northing_m is 'inf'"),
        ("1,2,", "level_m is 'empty'"),
        ("1,1 000,3", "northing_m is '1 000'"),
    ],
)
def test_cells_that_are_no_plain_numbers_are_told(row: str, message: str, tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("easting_m,northing_m,level_m\n" + row + "\n")
    part = read_table(path)
    assert part.features == ()
    assert message in str(part.problems[0])
    assert "row 2" in str(part.problems[0])


def test_corners_follow_their_point_numbers(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text(
        "kind,id,point,easting_m,northing_m,area_kind\n"
        "area,A,2,4,0,no-overfly\narea,A,1,0,0,no-overfly\narea,A,3,4,3,no-overfly\n"
        "pond,P,1,0,0,\n"
    )
    part = read_table(path)
    assert part.features[0].points == ((0.0, 0.0), (4.0, 0.0), (4.0, 3.0))
    assert part.features[0].properties == {"area_kind": "no-overfly", "id": "A"}
    assert "'pond' is not known" in part.report.left_out[0].what


def test_degrees_are_refused(tmp_path: Path) -> None:
    features = [
        feature("boundary", "Polygon", ring(9.0, 50.0, 9.001, 50.001)),
        feature("spot level", "Point", [9.0, 50.0, 100.0]),
    ]
    with pytest.raises(InputError, match="as degrees would"):
        read_geojson(save(tmp_path, features, None))
    table = tmp_path / "t.csv"
    table.write_text("easting_m,northing_m,level_m\n9.0,50.0,100.0\n9.001,50.0,101.0\n")
    with pytest.raises(InputError, match="as degrees would"):
        read_table(table)


def test_one_profile_for_the_whole_site_is_said_and_noted(tmp_path: Path) -> None:
    plain = [f for f in FEATURES if f["properties"]["kind"] != "ground zone"]
    header = {**HEADER, "whole_site_profile": "G1"}
    survey = site_from_parts([read_geojson(save(tmp_path, plain, HEADER))], header=header)
    assert [(z.id, z.profile) for z in survey.site.zones] == [("whole-site", "G1")]
    assert survey.site.zones[0].polygon == survey.site.boundary
    assert any("profile G1 taken for the whole site" in e.what for e in survey.report.notes)
    with pytest.raises(InputError, match="whole_site_profile"):
        site_from_parts([read_geojson(save(tmp_path, FEATURES, HEADER))], header=header)


def test_survey_without_what_a_site_needs_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="boundary"):
        site_from_parts([read_geojson(save(tmp_path, FEATURES[1:], HEADER))])
    with pytest.raises(InputError, match="one part"):
        site_from_parts([])
    with pytest.raises(InputError, match="weather"):
        site_from_parts([read_geojson(save(tmp_path, FEATURES, HEADER))], header={"weather": "fine"})
    bad = tmp_path / "a.geojson"
    bad.write_text('{"type": "Feature"}')
    with pytest.raises(InputError, match="FeatureCollection"):
        read_geojson(bad)


def test_a_damaged_file_of_any_format_is_refused_and_never_a_fault_of_the_program(site: Site, tmp_path: Path) -> None:
    rng = random.Random(4)
    whole = {name: (write(site, tmp_path / name).read_bytes(), read) for name, write, read in FORMATS}
    refused = dict.fromkeys(whole, 0)
    for n in range(120):
        name = rng.choice(list(whole))
        content, read = bytearray(whole[name][0]), whole[name][1]
        for _ in range(rng.randint(1, 6)):
            content[rng.randrange(len(content))] = rng.randrange(256)
        path = tmp_path / f"{n}-{name}"
        path.write_bytes(content[: rng.randrange(len(content))] if n % 5 == 0 else content)
        try:
            site_from_parts([read(path)], header=HEADER)
        except InputError:
            refused[name] += 1
    assert min(refused.values()) > 5
