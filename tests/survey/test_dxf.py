"""DXF surveys: drawings by other programs, what is repaired, and what is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from ezdxf.document import Drawing
from shapely.geometry import Polygon

from liftcalc.base.errors import InputError
from liftcalc.survey.assemble import site_from_parts
from liftcalc.survey.dxf_in import read_dxf
from liftcalc.survey.mapping import DrawingMapping, read_mapping
from liftcalc.survey.parts import SurveyPart

DATA = Path(__file__).parent / "data"


def drawing(units: int = 6) -> Drawing:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    return document


def mapping(**change: Any) -> DrawingMapping:
    data: dict[str, Any] = {
        "layers": {
            "B": {"kind": "obstacle", "obstacle_kind": "building", "height_m": 6.0},
            "T": {"kind": "obstacle", "obstacle_kind": "tree", "radius_m": 2.0, "height_m": 8.0,
                  "base_level_m": 1.0},
            "L": {"kind": "spot level"},
            "O": {"kind": "overhead line", "sag_m": 1.0, "voltage_kV": 11.0, "owner": "n",
                  "provenance": {"kind": "survey"}},
            "D*": {"kind": "buried service", "service_kind": "duct"},
        }
    }  # fmt: skip
    data.update(change)
    return read_mapping(data)


def read(document: Drawing, tmp_path: Path, **change: Any) -> SurveyPart:
    path = tmp_path / "plan.dxf"
    document.saveas(path)
    return read_dxf(path, mapping(**change))


def test_drawing_by_a_javascript_writer_is_read_without_hand_work() -> None:
    name = "yard_by_js_writer"
    part = read_dxf(DATA / f"{name}.dxf", read_mapping(DATA / f"{name}.yaml"))
    assert part.problems == ()
    survey = site_from_parts([part])
    assert survey.report.counts() == {
        "spot level": 9,
        "boundary": 1,
        "obstacle": 6,
        "overhead line": 1,
        "buried service": 1,
        "excavation": 1,
        "retaining wall": 1,
    }
    site = survey.site
    area = {o.id: Polygon(o.polygon).area for o in site.obstacles}
    assert area["Store-1"] == pytest.approx(12 * 9 - 6 * 4)
    assert area["Switch-room"] == pytest.approx(60.0)
    # bulge tan(90 deg / 4): a quarter circle over the chord of 4 m on the right side
    radius = 4.0 / np.sqrt(2.0)
    assert area["G-BUILDING-1"] == pytest.approx(24.0 + radius**2 * (np.pi / 4 - 0.5), abs=4 * 0.01)
    trees = [o for o in site.obstacles if o.kind == "tree"]
    for tree in trees:
        assert Polygon(tree.polygon).area == pytest.approx(np.pi * 4.0, rel=0.01)
        assert (tree.base_level_m, tree.top_level_m) == (2.4, 11.4)
    assert site.overhead_lines[0].points[1] == pytest.approx((30.0, 42.0, 13.4))
    assert sorted(s.level_m for s in site.levels)[0] == pytest.approx(2.31)
    assert {2.42, 2.55} <= {round(s.level_m, 6) for s in site.levels}
    assert site.excavations[0].id == "Wet-well"
    assert site.services[0].id == "11-kV-duct"
    words = "\n".join(survey.report.lines())
    assert "4 separate lines joined end to end" in words
    assert "marked flat; levels taken from its own points" in words
    assert "text 'approx.' is not a level" in words
    assert "layer 0: 1 entities: the mapping gives no meaning" in words
    assert "drawing unit mm" in words
    assert "G-DIM" not in words  # ignored by name


def test_drawing_by_a_gis_converter_is_read_without_hand_work() -> None:
    name = "yard_by_gis"
    layers = read_mapping(DATA / f"{name}.yaml")
    part = read_dxf(DATA / f"{name}.dxf", layers)
    assert part.problems == ()
    site = site_from_parts([part]).site
    assert Polygon(site.boundary).area == pytest.approx(2400.0)
    assert sorted(Polygon(o.polygon).area for o in site.obstacles) == pytest.approx([60.0, 96.0])
    assert site.overhead_lines[0].points[1] == pytest.approx((500030.0, 5700047.0, 14.6))
    assert "the drawing says in; overridden" in "\n".join(part.report.lines())
    plain = DrawingMapping(layers=layers.layers, units="m", site=layers.header)
    with pytest.raises(InputError, match="units_override"):
        read_dxf(DATA / f"{name}.dxf", plain)


@pytest.mark.parametrize(("code", "metres"), [(4, 0.001), (5, 0.01), (6, 1.0), (2, 0.3048), (1, 0.0254), (14, 0.1)])
def test_drawing_units_become_metres(code: int, metres: float, tmp_path: Path) -> None:
    document = drawing(code)
    document.modelspace().add_lwpolyline(
        [(0, 0), (3 / metres, 0), (3 / metres, 4 / metres)],
        close=True,
        dxfattribs={"layer": "B", "elevation": 2 / metres, "thickness": 5 / metres},
    )
    feature = read(document, tmp_path).features[0]
    assert Polygon(feature.points).area == pytest.approx(6.0)
    assert feature.properties["base_level_m"] == pytest.approx(2.0)
    assert feature.properties["top_level_m"] == pytest.approx(7.0)


def test_unit_must_be_known_and_not_contradict(tmp_path: Path) -> None:
    document = drawing(0)
    document.modelspace().add_point((1, 2, 3), dxfattribs={"layer": "L"})
    with pytest.raises(InputError, match=r"not stated in the drawing.*State units"):
        read(document, tmp_path)
    assert read(document, tmp_path, units="ft").features[0].points[0] == pytest.approx((0.3048, 0.6096, 0.9144))
    with pytest.raises(InputError, match="as the drawing says"):
        read(drawing(4), tmp_path, units="m")


def test_faults_are_told_with_coordinates(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (4, 4), (4, 0), (0, 4)], close=True, dxfattribs={"layer": "B"})
    space.add_lwpolyline([(10, 0), (14, 0), (14, 4), (10, 3)], dxfattribs={"layer": "B"})
    space.add_lwpolyline([(20, 0), (24, 0)], close=True, dxfattribs={"layer": "B"})
    part = read(document, tmp_path)
    assert part.features == ()
    words = "\n".join(str(p) for p in part.problems)
    assert "Self-intersection[2 2]" in words
    assert "open by 3.000 m from (10.000, 3.000) to (10.000, 0.000)" in words
    assert "2 corners at (20.000, 0.000)" in words
    with pytest.raises(InputError, match=r"Self-intersection\[2 2\]"):
        site_from_parts([part])


def test_small_faults_are_repaired_and_reported(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    ring = [(0, 0), (4, 0), (4, 0.0004), (4, 4), (0, 4), (0.0, 0.03)]
    space.add_lwpolyline(ring, dxfattribs={"layer": "B"})
    part = read(document, tmp_path)
    assert part.problems == ()
    assert len(part.features[0].points) == 4
    words = "\n".join(part.report.lines())
    assert "1 repeated point(s) taken away" in words
    assert "ring closed over 0.030 m at (0.000, 0.000)" in words


def test_blocks_hatches_and_curves(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    tree = document.blocks.new("TREE")
    tree.add_circle((0, 0), 0.5, dxfattribs={"layer": "0"})
    space.add_blockref("TREE", (5, 6), dxfattribs={"layer": "T"})
    shed = document.blocks.new("SHED")
    shed.add_lwpolyline([(0, 0), (2, 0), (2, 3), (0, 3)], close=True, dxfattribs={"layer": "0"})
    space.add_blockref("SHED", (20, 0), dxfattribs={"layer": "B", "xscale": 2, "yscale": 2})
    hatch = space.add_hatch(dxfattribs={"layer": "B"})
    hatch.paths.add_polyline_path([(30, 0), (40, 0), (40, 10), (30, 10)], is_closed=True)
    hatch.paths.add_polyline_path([(33, 3), (36, 3), (36, 6), (33, 6)], is_closed=True, flags=0)
    space.add_circle((60, 0), 3.0, dxfattribs={"layer": "B"})
    space.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)], dxfattribs={"layer": "B"})
    part = read(document, tmp_path)
    areas = sorted(Polygon(f.points).area for f in part.features)
    assert part.problems == ()
    # the round tree is drawn outside its circle; the circle of 3 m by chords inside it
    assert areas[0] == pytest.approx(np.pi * 4.0, rel=0.02)
    assert areas[0] > np.pi * 4.0
    assert areas[1:] == pytest.approx([24.0, np.pi * 9.0, 100.0], rel=0.01)
    words = "\n".join(part.report.lines())
    assert "a hole filled" in words
    assert "1 entities: 3DFACE not read" in words


def test_levels_that_are_not_there_are_never_zero(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    space.add_point((1, 2, 0), dxfattribs={"layer": "L"})
    space.add_lwpolyline([(0, 0), (50, 0)], dxfattribs={"layer": "O"})
    space.add_text("+3,25 m", dxfattribs={"layer": "L", "insert": (7, 8)})
    part = read(document, tmp_path)
    assert [f.points for f in part.features] == [((7.0, 8.0, 3.25),)]
    assert "level 0: taken as not stated" in "\n".join(part.report.lines())
    assert "level of the lowest conductor" in str(part.problems[0])


def test_one_mapping_names_many_layers_and_unknown_ones_are_told(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    for layer in ("D-WATER", "d-power", "ZZZ"):
        space.add_lwpolyline([(0, 0), (5, 1)], dxfattribs={"layer": layer})
    space.add_text("kiosk", dxfattribs={"layer": "N", "insert": (2, 0.5)})
    part = read(document, tmp_path, labels=["N"])
    assert [f.kind for f in part.features] == ["buried service"] * 2
    assert part.features[0].properties["id"] == "kiosk"
    assert part.features[1].properties["id"] == "kiosk-1"
    assert "layer ZZZ: 1 entities: the mapping gives no meaning" in "\n".join(part.report.lines())


@pytest.mark.parametrize(
    ("data", "text"),
    [
        ({"layers": {"A": {"kind": "castle"}}}, r"layers\.A\.kind is 'castle'"),
        ({"layers": {}}, "one layer or more"),
        ({"layers": {"A": {"kind": "area"}}, "scale": 2}, "scale is given"),
        ({"layers": {"A": {"kind": "area"}}, "units": "furlong"}, "units is 'furlong'"),
        ({"layers": {"A": {"kind": "area", "radius_m": True}}}, "radius_m is True"),
        ({"layers": {"A": {"kind": "area", "height_m": float("nan")}}}, "height_m is nan"),
        ({"layers": {"A": {"kind": "area"}}, "units_override": True}, "true needs units"),
        ({"layers": {"A": {"kind": "area"}}, "labels": "N"}, "labels is 'N'"),
        ([], "an object"),
    ],
)
def test_wrong_mappings_are_refused(data: Any, text: str) -> None:
    with pytest.raises(InputError, match=text):
        read_mapping(data)


def test_files_that_are_no_drawings_are_refused(tmp_path: Path) -> None:
    bad = tmp_path / "a.dxf"
    bad.write_text("this is not a drawing")
    with pytest.raises(InputError, match="readable DXF"):
        read_dxf(bad, mapping())
    with pytest.raises(InputError, match="no such file"):
        read_dxf(tmp_path / "none.dxf", mapping())
