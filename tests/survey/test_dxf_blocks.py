"""DXF surveys: nothing drawn is lost, moved, mirrored or resized without a word."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from ezdxf.document import Drawing
from shapely.geometry import Polygon

from liftcalc.base.errors import InputError
from liftcalc.survey.dxf_in import read_dxf
from liftcalc.survey.joining import end_to_end
from liftcalc.survey.mapping import UNITS_M, read_mapping
from liftcalc.survey.parts import SurveyPart

LAYERS: dict[str, Any] = {
    "B": {"kind": "obstacle", "obstacle_kind": "building", "height_m": 6.0},
    "T": {"kind": "obstacle", "obstacle_kind": "tree", "radius_m": 2.0, "height_m": 8.0,
          "base_level_m": 1.0},
    "L": {"kind": "spot level"},
    "O": {"kind": "overhead line", "sag_m": 1.0, "voltage_kV": 11.0, "owner": "n",
          "provenance": {"kind": "survey"}},
}  # fmt: skip
BOX = [(0, 0), (4, 0), (4, 3), (0, 3)]


def drawing(units: int = 6) -> Drawing:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    return document


def read(document: Drawing, tmp_path: Path, **change: Any) -> SurveyPart:
    path = tmp_path / "plan.dxf"
    document.saveas(path)
    return read_dxf(path, read_mapping({"layers": LAYERS, **change}))


def house(document: Drawing, name: str = "HOUSE") -> Any:
    block = document.blocks.new(name)
    block.add_lwpolyline(BOX, close=True, dxfattribs={"layer": "0"})
    return block


def centres(part: SurveyPart) -> list[tuple[float, float]]:
    return sorted(
        (round(float(x), 6) + 0.0, round(float(y), 6) + 0.0)
        for x, y in (np.mean([p[:2] for p in f.points], axis=0) for f in part.features)
    )


def test_an_array_of_blocks_is_read_block_by_block(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    house(document)
    grid = {"row_count": 2, "column_count": 5, "row_spacing": 10.0, "column_spacing": 20.0}
    space.add_blockref("HOUSE", (100, 0), dxfattribs={"layer": "B", **grid})
    tree = document.blocks.new("TREE")
    tree.add_circle((0, 0), 0.5)
    row = {"column_count": 5, "column_spacing": 7.0}
    space.add_blockref("TREE", (0, 50), dxfattribs={"layer": "T", **row})
    part = read(document, tmp_path)
    assert centres(part) == sorted(
        [(102.0 + 20 * k, 1.5 + 10 * n) for k in range(5) for n in range(2)] + [(7.0 * k, 50.0) for k in range(5)]
    )


def test_what_is_drawn_from_below_or_mirrored_lies_where_it_is_seen(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    below = {"extrusion": (0, 0, -1)}
    tree = document.blocks.new("TREE")
    tree.add_circle((0, 0), 0.5)
    space.add_blockref("TREE", (20, 5), dxfattribs={"layer": "T", **below})
    space.add_text("3.25", dxfattribs={"layer": "L", "insert": (21, 6), **below})
    level = document.blocks.new("LEVEL")
    level.add_text("4.50", dxfattribs={"layer": "L", "insert": (90, 7)})
    space.add_blockref("LEVEL", (0, 0), dxfattribs={"xscale": -1})
    points = [f.points[0] for f in read(document, tmp_path).features if f.kind == "spot level"]
    assert sorted(points) == [(-90.0, 7.0, 4.5), (-21.0, 6.0, 3.25)]
    assert centres(read(document, tmp_path))[1:] == [(-21.0, 6.0), (-20.0, 5.0)]
    polyline = drawing()
    polyline.modelspace().add_lwpolyline(
        BOX, close=True, dxfattribs={"layer": "B", "elevation": -2, "thickness": 5, **below}
    )
    (feature,) = read(polyline, tmp_path).features
    assert centres(read(polyline, tmp_path)) == [(-2.0, 1.5)]
    # drawn downward from level 2: it stands from -3 to 2
    assert (feature.properties["base_level_m"], feature.properties["top_level_m"]) == (-3.0, 2.0)


def test_what_is_drawn_in_a_tilted_plane_is_refused(tmp_path: Path) -> None:
    document = drawing()
    document.modelspace().add_lwpolyline(BOX, close=True, dxfattribs={"layer": "B", "extrusion": (0, 0.6, 0.8)})
    assert "drawn in a tilted plane" in str(read(document, tmp_path).problems[0])


def test_levels_in_block_attributes_and_centred_texts_are_read(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    document.blocks.new("PT").add_point((0, 0), dxfattribs={"layer": "0"})
    pin = space.add_blockref("PT", (1, 2), dxfattribs={"layer": "N"})
    pin.add_attrib("LEVEL", "2.75", (3, 4), dxfattribs={"layer": "L"})
    space.add_text("3.00", dxfattribs={"layer": "L"}).set_placement(
        (8, 9), align=ezdxf.enums.TextEntityAlignment.MIDDLE_CENTER
    )
    part = read(document, tmp_path)
    assert [f.points[0] for f in part.features] == [(3.0, 4.0, 2.75), (8.0, 9.0, 3.0)]


@pytest.mark.parametrize(
    ("code", "metres"),
    [(3, 1609.344), (7, 1000.0), (10, 0.9144), (15, 10.0), (16, 100.0), (21, 1200 / 3937),
     (22, 100 / 3937), (23, 3600 / 3937), (24, 1609.3472)],
)  # fmt: skip
def test_every_unit_of_length_that_a_site_can_have_is_obeyed(code: int, metres: float, tmp_path: Path) -> None:
    """International and US survey units (one survey foot is 1200/3937 m), whatever else is said."""
    document = drawing(code)
    document.modelspace().add_lwpolyline(BOX, close=True, dxfattribs={"layer": "B"})
    feature = read(document, tmp_path).features[0]
    assert Polygon([p[:2] for p in feature.points]).area == pytest.approx(12 * metres**2, rel=1e-7)
    with pytest.raises(InputError, match="as the drawing says"):
        read(document, tmp_path, units="m")


def test_units_that_no_site_has_are_refused_unless_the_mapping_overrides(tmp_path: Path) -> None:
    for code in (8, 9, 11, 12, 13, 17, 18, 19, 20, 99):
        with pytest.raises(InputError, match=f"code {code} in the drawing.*units_override"):
            read(drawing(code), tmp_path, units="m")
    notes = read(drawing(9), tmp_path, units="m", units_override=True).report.notes
    assert "unit code 9; overridden" in notes[0].what
    assert UNITS_M["mi"] == 1760 * 3 * UNITS_M["ft"]


def test_a_written_level_without_its_unit_is_not_taken_for_metres_in_a_drawing_in_feet(tmp_path: Path) -> None:
    document = drawing(2)
    for k, text in enumerate(("46.3", "14.1 m")):
        document.modelspace().add_text(text, dxfattribs={"layer": "L", "insert": (10 * k, 0)})
    part = read(document, tmp_path)
    assert [f.points[0][2] for f in part.features] == [14.1]
    assert "level '46.3' in a drawing that is not metric" in str(part.problems[0])


def test_what_lies_in_other_files_and_on_paper_is_named(tmp_path: Path) -> None:
    document = drawing()
    document.add_xref_def("neighbours.dxf", "NEIGHBOURS")
    document.modelspace().add_blockref("NEIGHBOURS", (0, 0), dxfattribs={"layer": "B"})
    page = document.layouts.get("Layout1")
    page.add_lwpolyline(BOX, close=True, dxfattribs={"layer": "B"})
    page.add_text("frame", dxfattribs={"layer": "FRAME"})
    words = "\n".join(read(document, tmp_path).report.lines())
    assert "external reference to 'neighbours.dxf'" in words
    assert "paper space Layout1: 1 entities: only model space is read" in words


def test_a_block_that_is_not_there_is_a_fault_of_the_drawing(tmp_path: Path) -> None:
    document = drawing()
    document.modelspace().add_blockref("NOWHERE", (0, 0), dxfattribs={"layer": "B"})
    assert "'NOWHERE' not in the file" in str(read(document, tmp_path).problems[0])


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([("A", "A")], "block is 'a in a'; allowed: a block that does not hold itself"),
        ([("A", "B"), ("B", "A")], "'a in b in a'"),
        ([(f"N{k}", f"N{k + 1}") for k in range(2000)], "at most 32 blocks within blocks"),
        # 12 levels of 5 each
        ([(f"N{k}", f"N{k + 1}") for k in range(11) for _ in range(5)], "at most 12,000"),
    ],
    ids=["itself", "each other", "2000 deep", "5 to the 12"],
)
def test_blocks_that_never_end_are_refused_at_once(pairs: list[tuple[str, str]], words: str, tmp_path: Path) -> None:
    document = drawing()
    for name in dict.fromkeys(n for pair in pairs for n in pair):
        house(document, name)
    for outer, inner in pairs:
        document.blocks.get(outer).add_blockref(inner, (0, 0))
    for _ in range(5):
        document.modelspace().add_blockref(pairs[0][0], (0, 0), dxfattribs={"layer": "B"})
    with pytest.raises(InputError, match=words):
        read(document, tmp_path)


def test_an_array_without_end_is_refused(tmp_path: Path) -> None:
    document = drawing()
    house(document)
    array = {"row_count": 10_000, "column_count": 10_000, "row_spacing": 1, "column_spacing": 1}
    document.modelspace().add_blockref("HOUSE", (0, 0), dxfattribs={"layer": "B", **array})
    with pytest.raises(InputError, match="100,000,000 entities once exploded"):
        read(document, tmp_path)


def test_lines_of_one_point_and_damaged_files_are_told_in_words(tmp_path: Path) -> None:
    document = drawing()
    document.modelspace().add_lwpolyline([(1, 1)], dxfattribs={"layer": "B"})
    document.modelspace().add_polyline3d([(1, 1, 1)], dxfattribs={"layer": "O"})
    part = read(document, tmp_path)
    assert part.features == ()
    said = [*(e.what for e in part.report.left_out), *map(str, part.problems)]
    assert len(said) == 2
    path = tmp_path / "binary.dxf"
    document.saveas(path, fmt="bin")
    whole = path.read_bytes()
    for at in (22, 30, 60, 200):
        path.write_bytes(whole[:at] + b"\xff\xfe\x00\x07" + whole[at + 4 :])
        with pytest.raises(InputError, match=r"readable DXF file|not stated in the drawing|code"):
            read_dxf(path, read_mapping({"layers": LAYERS}))


def test_a_line_with_a_level_at_one_end_only_is_refused(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    space.add_line((0, 0, 12), (50, 0, 0), dxfattribs={"layer": "O"})
    part = read(document, tmp_path)
    assert part.features == ()
    assert "level 0 at (50.000, 0.000), not at every point" in str(part.problems[0])
    stated = {"layers": {"O": {**LAYERS["O"], "level_m": 11.0}}}
    assert read(document, tmp_path, **stated).features[0].points == ((0.0, 0.0, 12.0), (50.0, 0.0, 11.0))


def test_20000_loose_lines_are_joined(tmp_path: Path) -> None:
    corner = np.array(BOX, dtype=float)
    boxes = corner + 10.0 * np.stack(np.meshgrid(range(50), range(100)), -1).reshape(-1, 1, 2)
    lines = np.stack([boxes, np.roll(boxes, -1, axis=1)], axis=2).reshape(-1, 2, 2)
    order = np.random.default_rng(1).permutation(len(lines))
    chains = end_to_end(lines[order, 0], lines[order, 1], gap=0.05)
    assert len(lines) == 20_000
    assert [len(c.lines) for c in chains] == [4] * 5000
    assert not any(c.junctions for c in chains)
    ring = end_to_end(*(np.array([[[0, 0], [1, 0], [1, 1]], [[1, 0], [1, 1], [0, 0]]])), gap=0.01)
    assert ring[0].lines == ((0, False), (1, False), (2, False))


def test_lines_drawn_either_way_and_twice_make_one_outline(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    for a, b in ((0, 1), (2, 1), (3, 2), (3, 0), (0, 1), (1, 0)):
        space.add_line(BOX[a], BOX[b], dxfattribs={"layer": "B"})
    part = read(document, tmp_path)
    assert part.problems == ()
    assert [Polygon([p[:2] for p in f.points]).area for f in part.features] == [12.0]
    words = "\n".join(part.report.lines())
    assert words.count("the same line drawn again: taken once") == 2


def test_lines_that_meet_in_threes_are_not_guessed_at(tmp_path: Path) -> None:
    document = drawing()
    space = document.modelspace()
    for start, end in zip(BOX, [*BOX[1:], BOX[0]], strict=True):
        space.add_line(start, end, dxfattribs={"layer": "B"})
    space.add_line(BOX[1], (9, 0), dxfattribs={"layer": "B"})
    part = read(document, tmp_path)
    assert part.features == ()
    assert len(part.problems) == 1
    assert "three line ends or more at (4.000, 0.000)" in str(part.problems[0])
