"""The rigging drawing: what it shows, that it is to scale, legible and the same each time."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import assess_lift
from liftcalc.views.paper import svg_text
from liftcalc.views.rigging import RiggingDrawing, RiggingLine, draw_rigging, rigging_data
from liftcalc.views.style import TEXT_PT, new_axes

JOB = load_job(demo_job_path())
LIFTS = [lift.id for lift in JOB.lifts]
BOX = (3.6, 2.4, 2.7)
LUGS = np.array([[1.5, 1.0, 2.6], [1.5, -1.0, 2.6], [-1.5, -1.0, 2.6], [-1.5, 1.0, 2.6]])
CG, HOOK = np.array([0.3, 0.1, 1.3]), np.array([0.3, 0.1, 5.6])


def line(name: str, start: Any, end: Any, force_kN: float, used: float | None = None, **rest: Any) -> RiggingLine:
    start_m, end_m = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    kind = "beam" if "beam" in name else "sling"
    return RiggingLine(name, kind, start_m, end_m, force_kN, used, **rest)


def legs(lugs: np.ndarray, hook: np.ndarray, force_kN: list[float]) -> tuple[RiggingLine, ...]:
    return tuple(
        line(f"sling leg {k + 1}", lug, hook, force, 100 * force / 29.4, angle_deg=61.0)
        for k, (lug, force) in enumerate(zip(lugs, force_kN, strict=True))
    )


def four_legs() -> RiggingDrawing:
    lines = legs(LUGS, HOOK, [8.6, 7.4, 5.1, 5.9])
    return RiggingDrawing(BOX, LUGS, HOOK, CG, lines, "sling leg 1", "Rigging, lift 7")


def two_legs() -> RiggingDrawing:
    lugs, hook = np.array([[-1.0, 0.0, 1.0], [3.0, 0.0, 1.0]]), np.array([0, 0, 4.0])
    lines = legs(lugs, hook, [47.0, 21.0])
    cg = np.array([0, 0, 0.4])
    return RiggingDrawing((8.0, 0.8, 0.9), lugs, hook, cg, lines, "shackle S1")


def under_a_spreader() -> RiggingDrawing:
    lugs = np.array([[2, 0.25, 2.0], [2, -0.25, 2.0], [-2, -0.25, 2.0], [-2, 0.25, 2.0]])
    ends, hook = np.array([[-2, 0, 7.0], [2, 0, 7.0]]), np.array([0.19, 0.0, 11.0])
    lines = [line("beam", ends[0], ends[1], 16.0, 62.0)]
    for k, (force, used) in enumerate(((34.0, 70.0), (36.0, 74.0))):
        lines.append(line(f"top sling {k + 1}", ends[k], hook, force, used, angle_deg=64.0))
    for lug in lugs:
        end = int(lug[0] > 0)
        lines.append(line(f"bottom sling at end {end + 1}", lug, ends[end], 14.0 + end))
    cg = np.array([0.2, 0.0, 1.1])
    size, weakest = (5.0, 0.6, 2.2), "spreader spreader-4m"
    return RiggingDrawing(size, lugs, hook, cg, tuple(lines), weakest)


DRAWINGS = {"four legs": four_legs, "two legs": two_legs, "spreader": under_a_spreader}
VIEWS = ("side", "end", "plan")


def drawn(data: RiggingDrawing, view: Any = "side", **options: Any) -> Axes:
    _, ax = new_axes(120, 130, margins_mm=(14.0, 26.0, 4.0, 10.0))
    draw_rigging(data, ax, view=view, **options)
    return ax


def artists(ax: Axes, gid: str) -> list[Any]:
    return [a for a in (*ax.lines, *ax.patches) if a.get_gid() == gid]


def words(ax: Axes) -> str:
    return "\n".join(t.get_text() for t in ax.texts)


@pytest.mark.parametrize("name", DRAWINGS)
@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_texts_are_legible_and_none_covers_another(name: str, view: str, system: str) -> None:
    ax = drawn(DRAWINGS[name](), view, system=system)
    ax.figure.canvas.draw()  # type: ignore[union-attr]
    renderer = ax.figure.canvas.get_renderer()  # type: ignore[union-attr, attr-defined]
    texts = [*ax.texts, ax.xaxis.label, ax.yaxis.label]
    for axis, limits in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
        ticks = zip(axis.get_ticklocs(), axis.get_ticklabels(), strict=True)
        texts += [t for at, t in ticks if limits[0] <= at <= limits[1]]  # the others are not drawn
    texts = [t for t in texts if t.get_text()]
    assert min(float(t.get_fontsize()) for t in texts) >= TEXT_PT >= 7.0
    boxes = [(t, t.get_window_extent(renderer)) for t in texts]
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        if one.get_rotation() not in (0.0, 90.0) or two.get_rotation() not in (0.0, 90.0):
            continue
        wide = min(a.x1, b.x1) - max(a.x0, b.x0)
        high = min(a.y1, b.y1) - max(a.y0, b.y0)
        assert not (wide > 1.5 and high > 1.5), (one.get_text(), two.get_text())


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_scale_in_words_is_the_scale_on_paper_and_equal_both_ways(view: str, system: str) -> None:
    ax = drawn(four_legs(), view, system=system)
    ax.figure.canvas.draw()  # type: ignore[union-attr]
    text = next(t.get_text() for t in ax.texts if "Scale 1:" in t.get_text())
    scale = float(text.split("1:")[1].split()[0])
    (x0, y0), (x1, y1) = ax.transData.transform([(0.0, 0.0), (1.0, 1.0)])
    assert x1 - x0 == pytest.approx(y1 - y0, rel=1e-9)
    unit_inches = 12.0 if system == "us" else 1.0 / 0.0254
    assert unit_inches * ax.figure.dpi / (x1 - x0) == pytest.approx(scale)  # type: ignore[union-attr]


def test_slings_run_from_the_lifting_points_to_the_hook() -> None:
    ax = drawn(four_legs(), "plan")
    for k in range(4):
        (line,) = artists(ax, f"sling leg {k + 1}")
        np.testing.assert_allclose(line.get_xydata(), [LUGS[k, :2], HOOK[:2]])
    assert len(artists(ax, "lifting point")) == 4
    us = drawn(four_legs(), "plan", system="us")
    (line,) = artists(us, "sling leg 1")
    np.testing.assert_allclose(line.get_xydata(), np.array([LUGS[0, :2], HOOK[:2]]) / 0.3048)


def test_legs_behind_each_other_share_one_text_with_the_greater_force() -> None:
    data = four_legs()
    text = words(drawn(data, "side"))
    assert "sling legs 1, 2" in text
    assert "sling legs 3, 4" in text
    front = max(line.force_kN for line in data.lines[:2])
    assert f"{front:.1f}\u00a0kN" in text
    assert "sling legs 1, 4" in words(drawn(data, "end"))


def test_weakest_item_is_told_by_words_width_and_dash() -> None:
    ax = drawn(four_legs(), "plan")
    (worst,) = artists(ax, "sling leg 1")
    (other,) = artists(ax, "sling leg 3")
    assert worst.get_linewidth() > 1.5 * other.get_linewidth()
    assert worst.is_dashed()
    assert not other.is_dashed()
    assert "governs" in words(ax)
    assert "governs: shackle S1" in words(drawn(two_legs()))
    assert "compression\nutilisation 62.0\u00a0%, governs" in words(drawn(under_a_spreader()))


def test_heights_and_sizes_are_dimensioned() -> None:
    text = words(drawn(four_legs(), "side"))
    for part in ("length 3.60\u00a0m", "height 2.70\u00a0m", "rigging height 3.00\u00a0m"):
        assert part in text
    assert "width 2.40\u00a0m" in words(drawn(four_legs(), "end"))
    assert "rigging height 9.84\u00a0ft" in words(drawn(four_legs(), "side", system="us"))


def test_centre_of_gravity_and_hook_stand_on_the_plumb_line() -> None:
    ax = drawn(four_legs(), "side")
    (plumb,) = artists(ax, "plumb line")
    np.testing.assert_allclose(plumb.get_xydata(), [[0.3, 5.6], [0.3, 1.3]])
    np.testing.assert_allclose(artists(ax, "hook")[0].get_xydata(), [[0.3, 5.6]])
    for mark in artists(ax, "centre of gravity"):
        np.testing.assert_allclose(mark.get_xydata(), [[0.3, 1.3]])


def test_slack_leg_looks_slack() -> None:
    data = four_legs()
    loose = replace(data.lines[2], force_kN=0.0)
    ax = drawn(replace(data, lines=(*data.lines[:2], loose, data.lines[3])), "plan")
    (line,) = artists(ax, "sling leg 3")
    assert line.is_dashed()
    assert "slack sling" in words(ax)


def test_drawing_is_the_same_bytes_each_time() -> None:
    one, two = (drawn(under_a_spreader()).figure for _ in range(2))
    assert svg_text(one) == svg_text(two)  # type: ignore[arg-type]


def test_unknown_view_is_refused() -> None:
    with pytest.raises(InputError, match="view is 'back'; allowed: side, end, plan"):
        drawn(four_legs(), "back")


@pytest.mark.parametrize("lift_id", LIFTS)
def test_the_rigging_of_a_lift_is_drawn_with_the_numbers_of_its_study(lift_id: str) -> None:
    study = assess_lift(JOB, lift_id).rigging
    data = rigging_data(assess_lift(JOB, lift_id))
    legs = [one for one in data.lines if one.name.startswith(("sling leg", "bottom sling"))]
    tension = study.factor * study.stated.leg_tension_kN[0]
    assert [one.force_kN for one in legs] == pytest.approx(tension.tolist())
    used = {item.name: 100.0 * item.utilisation for item in study.items}
    for one in data.lines:
        if one.utilisation_percent is not None and one.kind == "sling":
            assert one.utilisation_percent == pytest.approx(used[one.name])
    beams = [one for one in data.lines if one.kind == "beam"]
    assert len(beams) == (study.stated.beam_ends_m is not None)
    if beams and study.stated.top_tension_kN is not None:
        tops = [one.force_kN for one in data.lines if one.name.startswith("top sling")]
        assert tops == pytest.approx((study.factor * study.stated.top_tension_kN[0]).tolist())
        assert study.stated.compression_kN is not None
        pressed = study.factor * float(study.stated.compression_kN[0])
        assert beams[0].force_kN == pytest.approx(pressed)
    elif beams:
        assert study.stated.end_kN is not None
        carried = study.factor * float(study.stated.end_kN[0].sum())
        assert beams[0].force_kN == pytest.approx(carried)
    assert data.weakest == study.weakest.name
