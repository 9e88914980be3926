"""Every drawing: what it shows, that it is to scale, legible and the same each time."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import matplotlib
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.text import Text

from liftcalc.base.errors import LiftcalcError
from liftcalc.lift.boom_plane import BoomPlane
from liftcalc.views.capacity import CapacityData, draw_capacity_by_slew, draw_capacity_circle
from liftcalc.views.elevation import draw_elevation
from liftcalc.views.forces import ForceData, draw_leg_forces
from liftcalc.views.locus import LocusData, draw_locus
from liftcalc.views.machine import LEG_ORDER
from liftcalc.views.paper import svg_text
from liftcalc.views.plan import PlanData, draw_plan
from liftcalc.views.screen import ScreenAxes
from liftcalc.views.screen_svg import screen_svg
from liftcalc.views.sensitivity import draw_sensitivity
from liftcalc.views.style import CURVES, SOURCE_LOOKS, TEXT_PT, new_axes
from liftcalc.views.utilisation import UtilisationData, draw_utilisation
from liftcalc.views.working_area import WorkingAreaData, draw_working_area

VIEWS: dict[str, tuple[Callable[..., None], str, tuple[float, float]]] = {
    "plan": (draw_plan, "plan", (170, 150)),
    "elevation": (draw_elevation, "elevation", (170, 150)),
    "capacity circle": (draw_capacity_circle, "capacity", (120, 130)),
    "capacity by slew": (draw_capacity_by_slew, "capacity", (170, 90)),
    "working area": (draw_working_area, "area", (170, 150)),
    "locus": (draw_locus, "locus", (120, 110)),
    "leg forces": (draw_leg_forces, "forces", (170, 90)),
    "utilisation": (draw_utilisation, "utilisation", (170, 90)),
    "sensitivity": (draw_sensitivity, "sensitivity", (170, 80)),
}
PLANS = ("plan", "elevation", "capacity circle", "working area", "locus")


def drawn(name: str, request: pytest.FixtureRequest, **options: Any) -> Axes:
    draw, fixture, (width, height) = VIEWS[name]
    left = 34.0 if name == "sensitivity" else 14.0
    _, ax = new_axes(width, height, margins_mm=(left, 26.0, 4.0, 10.0))
    draw(request.getfixturevalue(fixture), ax, **options)
    return ax


def words(ax: Axes) -> str:
    texts = [t.get_text() for t in ax.texts]
    return "\n".join([*texts, ax.get_title(loc="left"), ax.get_xlabel(), ax.get_ylabel()])


def artist(ax: Axes, gid: str) -> Any:
    found = [a for a in (*ax.lines, *ax.patches) if a.get_gid() == gid]
    assert found, f"{gid} is not drawn"
    return found[0]


def boxes(ax: Axes) -> list[tuple[Text, Any]]:
    renderer = ax.figure.canvas.get_renderer()  # type: ignore[union-attr, attr-defined]
    every = [*ax.texts, *ax.get_xticklabels(), *ax.get_yticklabels(), ax.xaxis.label, ax.yaxis.label]
    return [(t, t.get_window_extent(renderer)) for t in every if t.get_text()]


@pytest.mark.parametrize("name", VIEWS)
def test_no_text_is_smaller_than_seven_points(name: str, request: pytest.FixtureRequest) -> None:
    ax = drawn(name, request)
    ax.figure.canvas.draw()  # type: ignore[union-attr]
    sizes = [float(t.get_fontsize()) for t, _ in boxes(ax)]
    assert len(sizes) > 5
    assert min(sizes) >= TEXT_PT >= 7.0


@pytest.mark.parametrize("name", VIEWS)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_no_two_texts_overlap(name: str, system: str, request: pytest.FixtureRequest) -> None:
    options = {} if name == "sensitivity" else {"system": system}
    ax = drawn(name, request, **options)
    ax.figure.canvas.draw()  # type: ignore[union-attr]
    for (one, a), (two, b) in itertools.combinations(boxes(ax), 2):
        if one.get_rotation() not in (0.0, 90.0) or two.get_rotation() not in (0.0, 90.0):
            continue  # a turned text's upright box is larger than its ink
        wide = min(a.x1, b.x1) - max(a.x0, b.x0)
        high = min(a.y1, b.y1) - max(a.y0, b.y0)
        # a pixel and a half of line spacing is no overlap of ink
        assert not (wide > 1.5 and high > 1.5), (one.get_text(), two.get_text())


@pytest.mark.parametrize("name", PLANS)
def test_plans_have_equal_scales(name: str, request: pytest.FixtureRequest) -> None:
    ax = drawn(name, request)
    ax.figure.canvas.draw()  # type: ignore[union-attr]
    assert ax.get_aspect() == 1.0
    x0, y0 = ax.transData.transform((0.0, 0.0))
    x1, y1 = ax.transData.transform((1.0, 1.0))
    assert x1 - x0 == pytest.approx(y1 - y0, rel=1e-9)


@pytest.mark.parametrize("name", ["plan", "elevation", "locus"])
@pytest.mark.parametrize("system", ["metric", "us"])
def test_scale_in_words_is_the_scale_on_paper(name: str, system: str, request: pytest.FixtureRequest) -> None:
    ax = drawn(name, request, system=system)
    text = next(t.get_text() for t in ax.texts if "Scale 1:" in t.get_text())
    scale = float(text.split("1:")[1].split()[0])
    pixels = ax.transData.transform((1.0, 0.0))[0] - ax.transData.transform((0.0, 0.0))[0]
    inches = pixels / ax.figure.dpi  # type: ignore[union-attr]
    unit_inches = 12.0 if system == "us" else 1.0 / 0.0254
    assert unit_inches / inches == pytest.approx(scale, rel=1e-6)


@pytest.mark.parametrize("name", VIEWS)
def test_axes_name_their_units(name: str, request: pytest.FixtureRequest) -> None:
    ax = drawn(name, request)
    if name == "capacity circle":
        assert "15\u00a0t" in words(ax)  # the rings carry the unit
        return
    assert "[" in ax.get_xlabel()
    assert name == "sensitivity" or "[" in ax.get_ylabel()


@pytest.mark.parametrize("name", VIEWS)
def test_the_svg_is_the_same_each_time(name: str, request: pytest.FixtureRequest) -> None:
    first, second = (drawn(name, request).figure for _ in range(2))
    svg = svg_text(first)  # type: ignore[arg-type]
    assert svg == svg_text(second)  # type: ignore[arg-type]
    assert "<dc:date>" not in svg
    ET.fromstring(svg)


@pytest.mark.parametrize("name", VIEWS)
def test_nothing_global_is_drawn_on(name: str, request: pytest.FixtureRequest) -> None:
    before = dict(matplotlib.rcParams)
    drawn(name, request)
    assert dict(matplotlib.rcParams) == before
    import matplotlib.pyplot as plt

    assert plt.get_fignums() == []


def on_screen(name: str, request: pytest.FixtureRequest) -> ScreenAxes:
    draw, fixture, (width, height) = VIEWS[name]
    left = 34.0 if name == "sensitivity" else 14.0
    ax = ScreenAxes(width, height, margins_mm=(left, 26.0, 4.0, 10.0))
    draw(request.getfixturevalue(fixture), ax)
    return ax


def screen_words(ax: ScreenAxes) -> list[str]:
    return [item.what[1] for item in ax.items if item.kind == "text"]


def screen_things(ax: ScreenAxes) -> list[tuple[str, np.ndarray]]:
    """Name and points of each named line and shape, in points on the picture."""
    return [
        (item.style["gid"], item.what if item.kind == "line" else np.vstack(item.what))
        for item in ax.items
        if item.kind != "text" and item.style.get("gid")
    ]


@pytest.mark.parametrize("name", VIEWS)
def test_screen_and_paper_show_the_same_words_and_things(name: str, request: pytest.FixtureRequest) -> None:
    paper, screen = drawn(name, request), on_screen(name, request)
    assert sorted(t.get_text() for t in paper.texts) == sorted(screen_words(screen))
    assert paper.get_title(loc="left") == screen.title
    on_paper = sorted(
        (a.get_gid(), len(a.get_xydata()) if hasattr(a, "get_xydata") else None)
        for a in (*paper.lines, *paper.patches)
        if a.get_gid()
    )
    assert [gid for gid, _ in on_paper] == sorted(gid for gid, _ in screen_things(screen))
    assert len(on_paper) > 3


def _whole(points: np.ndarray) -> np.ndarray:
    return points[np.isfinite(points).all(axis=1)]


@pytest.mark.parametrize("name", VIEWS)
def test_screen_puts_every_line_where_paper_does(name: str, request: pytest.FixtureRequest) -> None:
    paper, screen = drawn(name, request), on_screen(name, request)
    to_pt = 72.0 / paper.figure.dpi  # type: ignore[union-attr]
    there: dict[str, list[np.ndarray]] = {}
    for gid, points in screen_things(screen):
        there.setdefault(gid, []).append(points)
    compared = 0
    for line in paper.lines:
        gid = line.get_gid()
        if not gid or gid in ("leader", "dimension"):
            continue
        pixels = _whole(line.get_transform().transform(line.get_xydata()) * to_pt)
        assert any(p.shape == pixels.shape and np.allclose(p, pixels, atol=0.02) for p in map(_whole, there[gid])), gid
        compared += 1
    assert compared > 0


@pytest.mark.parametrize("name", VIEWS)
def test_screen_svg_is_well_formed_and_named(name: str, request: pytest.FixtureRequest) -> None:
    screen = on_screen(name, request)
    svg = screen_svg(screen, title=name, description="a test <&>", prefix="t")
    root = ET.fromstring(svg)
    assert root.get("role") == "img"
    assert root.get("aria-label") == f"{name}. a test <&>"
    shown = {"".join(e.itertext()) for e in root.iter() if e.tag.endswith(("tspan", "text"))}
    for text in [*screen_words(screen), screen.title, screen.xlabel, screen.ylabel]:
        for line in text.split("\n"):
            assert line in shown or not line
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert all(str(i).startswith("t") for i in ids)
    for used in re.findall(r"url\(#(\w+)\)", svg):
        assert used in ids
    assert "nan" not in svg


def test_screen_refuses_what_it_cannot_draw() -> None:
    ax = ScreenAxes(50, 50)
    ax.stroke(np.array([[0.0, 0.0], [1.0, 1.0]]), {"linestyle": "dashdot"})
    with pytest.raises(LiftcalcError, match="'dashdot' is not known"):
        screen_svg(ax, title="x")
    ax = ScreenAxes(50, 50)
    ax.shape([np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]])], {"hatch": "*"})
    with pytest.raises(LiftcalcError, match="hatch"):
        screen_svg(ax, title="x")


def test_curves_differ_without_their_colour() -> None:
    looks = [(str(look.dash), look.marker) for look in CURVES]
    assert len({dash for dash, _ in looks}) == len(looks)
    assert len({marker for _, marker in looks}) == len(looks)
    assert len({hatch for _, hatch in SOURCE_LOOKS}) == len(SOURCE_LOOKS)


def test_plan_shows_legs_with_extension_and_force(request: pytest.FixtureRequest) -> None:
    ax = drawn("plan", request)
    text = words(ax)
    assert "FL  3.50\u00a0m\n212.0\u00a0kN" in text
    assert "FR  2.20\u00a0m\n188.0\u00a0kN" in text
    assert "RL  3.50\u00a0m\nlifts off" in text
    foot = artist(ax, "float FR").get_xydata()[0]
    heading = np.radians(12.0)
    east = 112.0 + 3.6 * np.cos(heading) + 2.2 * np.sin(heading)
    north = 208.0 + 3.6 * np.sin(heading) - 2.2 * np.cos(heading)
    assert foot == pytest.approx([east, north])


def test_plan_dimensions_are_the_distances_between_the_floats(request: pytest.FixtureRequest) -> None:
    texts = [t.get_text() for t in drawn("plan", request).texts]
    assert texts.count("5.70\u00a0m") == 1  # the rear is as wide: once is enough
    assert texts.count("7.40\u00a0m") == 1


def test_plan_in_feet_moves_every_coordinate(request: pytest.FixtureRequest) -> None:
    metric, feet = drawn("plan", request), drawn("plan", request, system="us")
    a = artist(metric, "slew centre").get_xydata()[0]
    b = artist(feet, "slew centre").get_xydata()[0]
    assert b == pytest.approx(a / 0.3048)
    assert "18.70\u00a0ft" in words(feet)
    assert "kip" in words(feet)


def test_plan_marks_governing_edge_and_both_ends(request: pytest.FixtureRequest, plan: PlanData) -> None:
    ax = drawn("plan", request)
    edge = artist(ax, "governing tipping line").get_xydata()
    assert edge == pytest.approx(plan.machine.base_m[[2, 3]])
    assert artist(ax, "Pick").get_xydata()[0] == pytest.approx(plan.path_m[0])  # type: ignore[index]
    assert artist(ax, "Set-down").get_xydata()[0] == pytest.approx(plan.path_m[-1])  # type: ignore[index]
    assert "Pick\nR 8.20\u00a0m" in words(ax)


def test_elevation_dimensions_add_up(request: pytest.FixtureRequest, elevation: BoomPlane) -> None:
    text = words(drawn("elevation", request))
    room = elevation.hook_highest_m - elevation.hook_z_m
    assert f"hook travel left {room:.2f}\u00a0m" in text
    assert f"radius {elevation.sheave_m[0]:.2f}\u00a0m" in text
    assert "boom 24.00\u00a0m at 62.0°" in text
    assert "estimate" in text
    assert "clearance 3.05\u00a0m" in text


def test_elevation_without_bent_boom_says_nothing_of_an_estimate(elevation: BoomPlane) -> None:
    _, ax = new_axes(170, 150)
    draw_elevation(replace(elevation, bent_uz_m=None), ax)
    assert "estimate" not in words(ax)


def test_capacity_circle_lays_off_each_capacity_in_its_direction(
    request: pytest.FixtureRequest, capacity: CapacityData
) -> None:
    curve = artist(drawn("capacity circle", request), "capacity").get_xydata()
    for slew in (0, 90, 266, 312):
        a = np.radians(slew)
        expected = capacity.capacity_t[slew] * np.array([np.cos(a), np.sin(a)])
        assert curve[slew] == pytest.approx(expected, abs=1e-9)
    assert np.isnan(curve[205]).all()
    assert curve[360] == pytest.approx(curve[0])


@pytest.mark.parametrize("name", ["capacity circle", "capacity by slew"])
def test_capacity_names_source_least_and_missing_data(
    name: str, request: pytest.FixtureRequest, capacity: CapacityData
) -> None:
    text = words(drawn(name, request))
    least = int(np.nanargmin(capacity.capacity_t))
    assert f"minimum {capacity.capacity_t[least]:.2f}\u00a0t at {least}.0°" in text
    assert "governed by a smaller-base chart" in text
    assert "no capacity data" in text


@pytest.mark.parametrize("draw", [draw_capacity_circle, draw_capacity_by_slew])
def test_an_estimate_is_never_part_of_the_capacity_curve(draw: Callable[..., None], capacity: CapacityData) -> None:
    _, ax = new_axes(120, 130)
    guessed = replace(capacity, estimates=frozenset({2}))
    draw(guessed, ax)
    of_estimate = np.append(capacity.source, capacity.source[0]) == 2
    curve = np.asarray(artist(ax, "capacity").get_ydata())
    line = np.asarray(artist(ax, "estimate").get_ydata())
    assert np.isnan(curve[of_estimate]).all()
    assert np.isfinite(line[of_estimate]).all()
    assert np.isnan(line[~of_estimate]).all()
    least = float(capacity.capacity_t[capacity.source < 2].min())
    assert f"minimum {least:.2f}\u00a0t" in words(ax)


def test_capacity_with_no_data_at_all_is_still_drawn(capacity: CapacityData) -> None:
    _, ax = new_axes(120, 130)
    nothing = replace(capacity, capacity_t=np.full(360, np.nan), source=np.full(360, 3, dtype=np.int64))
    draw_capacity_circle(nothing, ax)
    assert "minimum" not in words(ax)
    assert "no capacity data" in words(ax)


def test_source_areas_cover_the_whole_circle_once(request: pytest.FixtureRequest, capacity: CapacityData) -> None:
    ax = drawn("capacity by slew", request)
    parts = [p for p in ax.patches if str(p.get_gid()).startswith("source")]
    width = sum(np.ptp(p.get_path().vertices[:, 0]) for p in parts)
    # the two steps beside the gap belong to neither side
    assert width == pytest.approx(360.0, abs=2.0)


def test_working_area_keeps_its_holes_open(request: pytest.FixtureRequest) -> None:
    ax = drawn("working area", request)
    outer, hole = artist(ax, "within capacity").get_path().to_polygons()

    def signed_area(ring: np.ndarray) -> float:
        x, y = ring[:-1].T
        return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2.0

    # rings that turn opposite ways leave the hole open under every filling rule
    assert signed_area(outer) > 0 > signed_area(hole)
    assert signed_area(hole) == pytest.approx(-np.pi * 9.0, rel=0.01)
    assert "no capacity data (not allowed)" in words(ax)


def test_working_area_of_nothing_says_so(area: WorkingAreaData) -> None:
    _, ax = new_axes(170, 150)
    draw_working_area(replace(area, within=()), ax)
    assert "nowhere within rated capacity" in words(ax)


def test_locus_draws_a_path_and_its_worst_point(request: pytest.FixtureRequest, locus: LocusData) -> None:
    ax = drawn("locus", request)
    assert artist(ax, "resultant").get_xydata() == pytest.approx(locus.resultant_m)
    assert artist(ax, "worst").get_xydata()[0] == pytest.approx(locus.resultant_m[0])
    assert "nearest to a tipping line, at pick" in words(ax)
    assert len(artist(ax, "margin 85%").get_xydata()) == 5


def test_leg_forces_mark_greatest_force_and_lift_off(request: pytest.FixtureRequest, forces: ForceData) -> None:
    ax = drawn("leg forces", request)
    text = words(ax)
    assert f"maximum {forces.reaction_kN.max():.1f}\u00a0kN" in text
    assert "RR lifts off" in text
    lines = [artist(ax, f"force {name}") for name in LEG_ORDER]
    assert len({line.get_marker() for line in lines}) == 4
    assert lines[1].get_ydata() == pytest.approx(forces.reaction_kN[:, 1])


def test_utilisation_marks_the_worst_of_all_curves(
    request: pytest.FixtureRequest, utilisation: UtilisationData
) -> None:
    ax = drawn("utilisation", request)
    x, y = artist(ax, "maximum").get_xydata()[0]
    assert y == pytest.approx(104.0, abs=0.1)
    assert x == pytest.approx(11.0, abs=0.1)
    assert "maximum 104.0\u00a0%: rated capacity" in words(ax)
    limit = artist(ax, "limit").get_xydata()
    assert set(limit[:, 1]) == {100.0}


def test_sensitivity_puts_the_longest_bar_on_top(request: pytest.FixtureRequest) -> None:
    ax = drawn("sensitivity", request)
    names = [t.get_text() for t in ax.get_yticklabels()]
    assert names[-1] == "load mass"
    assert names[0] == "ground stiffness"
    low = artist(ax, "low leg extension FR").get_path().vertices
    assert low[:, 0].max() == pytest.approx(88.0)
