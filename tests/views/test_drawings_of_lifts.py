"""From assessed demo lifts to drawings: numbers kept, nothing covered, scale kept."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import amount
from liftcalc.base.words import has_british_word
from liftcalc.crane.sectors import CARRIED, CONFIRMED, SOURCES
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.boom_plane import boom_plane
from liftcalc.lift.position import position_study
from liftcalc.lift.working_area import working_area
from liftcalc.views.capacity import capacity_data, draw_capacity_by_slew, draw_capacity_circle
from liftcalc.views.elevation import draw_elevation
from liftcalc.views.forces import draw_leg_forces, force_data
from liftcalc.views.locus import draw_locus, locus_data
from liftcalc.views.plan import draw_plan, plan_bounds, plan_data
from liftcalc.views.screen import ScreenAxes
from liftcalc.views.style import text_size_pt
from liftcalc.views.utilisation import draw_utilisation, utilisation_data
from liftcalc.views.working_area import draw_working_area, working_area_data

JOB = load_job(demo_job_path())
LIFTS = [lift.id for lift in JOB.lifts]


@pytest.fixture(scope="module")
def assessed() -> dict[str, LiftAssessment]:
    return {name: assess_lift(JOB, name) for name in LIFTS}


def _area(a: LiftAssessment) -> Any:
    return working_area_data(a, working_area(a.setup, a.setup.gross_t))


def _circle(a: LiftAssessment) -> Any:
    return capacity_data(a.setup, a.circle, path=a.path)


DRAWINGS: dict[str, tuple[Callable[..., Any], Callable[[LiftAssessment], Any]]] = {
    "plan": (draw_plan, plan_data),
    "elevation": (draw_elevation, boom_plane),
    "capacity circle": (draw_capacity_circle, _circle),
    "capacity by slew": (draw_capacity_by_slew, _circle),
    "locus": (draw_locus, locus_data),
    "forces": (draw_leg_forces, force_data),
    "utilisation": (draw_utilisation, utilisation_data),
    "working area": (draw_working_area, _area),
}


def text_boxes(ax: ScreenAxes) -> list[tuple[str, np.ndarray]]:
    """Texts inside the frame with their boxes in points, turned texts left out."""
    found = []
    for clip, _, kind, thing, style in ax.items:
        if kind != "text" or not clip or style.get("rotation") or not thing[1]:
            continue
        weight = style.get("fontweight", "normal")
        wide, high = text_size_pt(thing[1], float(style["fontsize"]), weight)
        x, y = thing[0]
        left = {"left": 0.0, "center": wide / 2.0, "right": wide}[style.get("ha", "left")]
        found.append((thing[1], np.array([x - left, y - high / 2, x - left + wide, y + high / 2])))
    return found


@pytest.mark.parametrize("lift", LIFTS)
@pytest.mark.parametrize("name", DRAWINGS)
def test_no_texts_overlap_at_any_demo_lift(assessed: dict[str, LiftAssessment], name: str, lift: str) -> None:
    draw, data = DRAWINGS[name]
    ax = ScreenAxes(170, 150, margins_mm=(14, 26, 4, 10))
    draw(data(assessed[lift]), ax)
    boxes = text_boxes(ax)
    assert boxes
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        wide = min(a[2], b[2]) - max(a[0], b[0])
        high = min(a[3], b[3]) - max(a[1], b[1])
        assert not (wide > 1.0 and high > 1.5), (one, two)


def test_plan_shows_the_forces_of_the_governing_step(assessed: dict[str, LiftAssessment]) -> None:
    for a in assessed.values():
        data = plan_data(a)
        step = a.study.governing_step
        assert data.radius_m == pytest.approx(float(a.path.radius_m[step]))
        if data.machine.reaction_kN is not None:
            assert data.machine.reaction_kN == pytest.approx(a.forces.path_reaction_kN[step])
        assert data.machine.extension_m == pytest.approx(a.setup.lift.legs.as_tuple())
        # mats lie on their legs
        for ring, foot in zip(data.machine.mats_m, a.setup.leg_site_xy_m, strict=True):
            assert ring.mean(axis=0) == pytest.approx(foot, abs=1e-6)


def test_path_of_the_plan_runs_from_pick_to_set_down(assessed: dict[str, LiftAssessment]) -> None:
    for a in assessed.values():
        path = plan_data(a).path_m
        assert path is not None
        lift = a.setup.lift
        assert path[0] == pytest.approx((lift.pick.easting_m, lift.pick.northing_m), abs=1e-6)
        end = (lift.set_down.easting_m, lift.set_down.northing_m)
        assert path[-1] == pytest.approx(end, abs=1e-6)


def test_locus_names_the_distance_of_each_contour(assessed: dict[str, LiftAssessment]) -> None:
    a = assessed[LIFTS[0]]
    data = locus_data(a)
    assert [name for name, _ in data.contours][:2] == [f"{amount(k / 2, 'length_m')} inside" for k in (1, 2)]
    assert data.worst == int(np.argmin(a.study.margin_m))


def test_estimates_are_named_as_no_capacity_data(assessed: dict[str, LiftAssessment]) -> None:
    a = assessed[LIFTS[0]]
    data = capacity_data(a.setup, a.circle)
    assert len(data.sources) == len(SOURCES)
    for k in data.estimates:
        assert "estimate" in data.sources[k] or "not rated" in data.sources[k]
    for k, words in enumerate(SOURCES):
        assert ("applied" in data.sources[k]) == ("applied" in words)
        assert ("on condition" in data.sources[k]) == (k == CARRIED)
        assert ("confirmed" in data.sources[k]) == (k == CONFIRMED)
    with pytest.raises(InputError, match="radius_index"):
        capacity_data(a.setup, a.circle, radius_index=99)


def test_working_area_never_reaches_beyond_capacity(assessed: dict[str, LiftAssessment]) -> None:
    import shapely

    a = assessed[LIFTS[0]]
    area = working_area(a.setup, a.setup.gross_t, slew_step_deg=4.0)
    rng = np.random.default_rng(3)
    inside = 0
    for _ in range(300):
        slew = float(rng.uniform(-180, 180))
        radius = float(rng.uniform(a.setup.boom.radius_min_m, a.setup.boom.radius_max_m))
        xy = radius * np.array([np.cos(np.radians(slew)), np.sin(np.radians(slew))])
        if not area.within.contains(shapely.Point(xy)):
            continue
        inside += 1
        at = position_study(a.setup, slew, radius_m=radius)
        assert float(at.study.capacity.capacity_t[0]) >= a.setup.gross_t * (1 - 0.02)
    assert inside > 20
    heavier = working_area(a.setup, 1.5 * a.setup.gross_t, slew_step_deg=4.0)
    assert heavier.within.difference(area.within).area == pytest.approx(0.0, abs=1e-5)
    nothing = working_area(a.setup, 1e4)
    assert nothing.within.is_empty
    with pytest.raises(InputError, match="divides 360"):
        working_area(a.setup, 2.0, slew_step_deg=7.0)


def test_position_study_agrees_with_the_path_at_its_steps(assessed: dict[str, LiftAssessment]) -> None:
    a = assessed[LIFTS[0]]
    for step in (0, len(a.path) // 2, len(a.path) - 1):
        at = position_study(a.setup, float(a.path.slew_deg[step]), radius_m=float(a.path.radius_m[step]))
        assert at.study.capacity.capacity_t[0] == pytest.approx(float(a.study.capacity.capacity_t[step]))
        assert at.forces.path_reaction_kN[0] == pytest.approx(a.forces.path_reaction_kN[step])
    with pytest.raises(InputError, match="radius_m"):
        position_study(a.setup, 0.0, radius_m=200.0)
    with pytest.raises(InputError, match="slew_deg"):
        position_study(a.setup, float("nan"), radius_m=float(a.path.radius_m[0]))


def _texts(ax: Any) -> str:
    return " ".join(item.what[1] for item in ax.items if item.kind == "text")


@pytest.mark.parametrize("name", ["L1", "L5", "L8"])
def test_a_line_within_reach_of_the_boom_is_in_the_plans_frame(assessed: dict[str, LiftAssessment], name: str) -> None:
    data = plan_data(assessed[name])
    _, low, _, high = plan_bounds(data)
    line = next(s for s in data.shapes if s.kind == "power line")
    centre = data.machine.stand_m
    north = np.interp(centre[0], line.xy_m[:, 0], line.xy_m[:, 1])
    assert low < north < high
    ax = ScreenAxes(190, 210)
    draw_plan(data, ax)
    assert "overhead line" in _texts(ax)
    assert "clearance strip of an overhead line" in _texts(ax)


def test_a_line_out_of_the_frame_is_named_at_its_border_and_not_in_the_key(assessed: dict[str, LiftAssessment]) -> None:
    data = replace(plan_data(assessed["L1"]), reach_m=0.0)
    ax = ScreenAxes(190, 210)
    draw_plan(data, ax, standard_scale=False)
    assert "33\u00a0kV overhead line, 15." in _texts(ax)
    assert "clearance strip of an overhead line" not in _texts(ax)


def test_the_key_lists_only_what_lies_in_the_frame(assessed: dict[str, LiftAssessment]) -> None:
    data = plan_data(assessed["L1"])
    east, north = data.machine.stand_m.tolist()
    frames = ((None, True), ((east - 6.0, north - 6.0, east + 6.0, north + 6.0), False))
    for bounds, seen in frames:
        ax = ScreenAxes(170, 170, margins_mm=(14, 26, 4, 10))
        draw_plan(data, ax, bounds_m=bounds, standard_scale=False)
        key = [i.what[1] for i in ax.items if i.kind == "text" and not i.clipped]
        assert "ground zone" in key  # under the crane
        for words in ("retaining wall", "excavation", "no-lift-over zone", "overhead line"):
            assert (words in key) == seen, words
        arrows = [i for i in ax.items if str(i.style.get("gid")).startswith("toward line-33")]
        assert bool(arrows) != seen


def test_the_working_area_reads_as_capacity_alone(assessed: dict[str, LiftAssessment]) -> None:
    data = _area(assessed["L1"])
    assert data.barred
    ax = ScreenAxes(170, 150)
    draw_working_area(data, ax)
    assert "clearances not checked" in ax.title


def _shape(ax: Any, gid: str) -> np.ndarray:
    """Points of a named line or shape, in points on the picture."""
    item = next(i for i in ax.items if i.kind != "text" and i.style.get("gid") == gid)
    return item.what if item.kind == "line" else np.vstack(item.what)


@pytest.mark.parametrize("name", LIFTS)
def test_front_superstructure_and_counterweight_are_drawn_as_the_machine_stands(
    assessed: dict[str, LiftAssessment], name: str
) -> None:
    a = assessed[name]
    data = plan_data(a)
    ax = ScreenAxes(170, 150, margins_mm=(14, 26, 4, 10))
    draw_plan(data, ax)
    assert "FRONT" in _texts(ax)
    tip, *back = _shape(ax, "front")
    heading = np.radians(a.setup.lift.stand.heading_deg)
    assert (tip - np.mean(back, axis=0)) @ [np.cos(heading), np.sin(heading)] > 1.0
    turn = heading + np.radians(data.slew_deg)
    centre = _shape(ax, "slew centre")[0]
    per_m = np.ptp(_shape(ax, "tail swing")[:, 0]) / (2.0 * data.machine.tail_radius_m)
    weight = (_shape(ax, "counterweight") - centre) / per_m
    along = weight @ [np.cos(turn), np.sin(turn)]
    counterweight = a.setup.machine.counterweight(a.setup.lift.counterweight)
    assert along.max() < 0.0  # behind the slew centre, away from the boom
    assert np.hypot(*weight.T).max() == pytest.approx(counterweight.tail_radius_m, rel=0.02)
    assert 0.5 * (along.max() + along.min()) == pytest.approx(counterweight.cg_u_m, abs=0.05)


@pytest.mark.parametrize("name", LIFTS)
def test_no_name_lies_across_the_carrier(assessed: dict[str, LiftAssessment], name: str) -> None:
    import shapely

    ax = ScreenAxes(170, 150, margins_mm=(14, 26, 4, 10))
    draw_plan(plan_data(assessed[name]), ax)
    carrier = shapely.Polygon(_shape(ax, "carrier"))
    for text, box in text_boxes(ax):
        assert shapely.box(*box).intersection(carrier).area < 0.03 * carrier.area, text


def test_front_and_rear_spread_are_dimensioned_once_where_they_are_equal(assessed: dict[str, LiftAssessment]) -> None:
    data = plan_data(assessed["L1"])
    feet = data.machine.leg_m.copy()
    feet[0] += 0.4 * data.machine.along(90.0)
    for machine, count in ((data.machine, 1), (replace(data.machine, leg_m=feet), 2)):
        ax = ScreenAxes(170, 150, margins_mm=(14, 26, 4, 10))
        draw_plan(replace(data, machine=machine), ax)
        spreads = [t for t, _ in _turned(ax) if t in ("5.50\u00a0m", "5.90\u00a0m")]
        assert len(spreads) == count


def _turned(ax: Any) -> list[tuple[str, float]]:
    texts = [i for i in ax.items if i.kind == "text"]
    return [(i.what[1], i.style["rotation"]) for i in texts if i.style.get("rotation")]


def test_the_elevation_says_where_no_levels_are_surveyed(assessed: dict[str, LiftAssessment]) -> None:
    data = boom_plane(assessed["L1"])
    everywhere = np.array([[-60.0, 0.0], [60.0, 0.0]])
    for ground, said in ((data.ground_uz_m, 2), (np.zeros((0, 2)), 1), (everywhere, 0)):
        ax = ScreenAxes(170, 150, margins_mm=(14, 26, 4, 10))
        draw_elevation(replace(data, ground_uz_m=ground), ax)
        assert _texts(ax).replace("\n", " ").count("no levels surveyed") == said
        assert ("ground as surveyed" in _texts(ax)) == bool(len(ground))
        supports = [i for i in ax.items if i.style.get("gid") == "support"]
        assert bool(supports) == (said > 0)  # wall and load stand on something
    assert data.rests == "pick"


def test_the_scale_bar_stands_below_the_ground(assessed: dict[str, LiftAssessment]) -> None:
    for a in assessed.values():
        ax = ScreenAxes(170, 150, margins_mm=(14, 26, 4, 10))
        draw_elevation(boom_plane(a), ax)
        assert _shape(ax, "ground")[:, 1].min() > _shape(ax, "scale bar")[:, 1].max() + 5.0


@pytest.mark.parametrize("extension_m", [2.3, 1.8])
def test_rings_and_minimum_are_named_clear_of_the_curves(extension_m: float) -> None:
    lift = JOB.lifts[0]
    legs = lift.legs.model_copy(update={"FL": extension_m})
    job = JOB.model_copy(update={"lifts": (lift.model_copy(update={"legs": legs}),)})
    for size in ((142.0, 140.0), (78.0, 100.0)):
        ax = ScreenAxes(*size, margins_mm=(5, 12, 5, 8))
        draw_capacity_circle(_circle(assess_lift(job, lift.id)), ax)
        curves = np.vstack([_shape(ax, "capacity"), _shape(ax, "gross load")])
        assert "minimum" in _texts(ax)
        for text, (x0, y0, x1, y1) in text_boxes(ax):
            hit = (curves > [x0, y0 + 1.5]) & (curves < [x1, y1 - 1.5])
            assert not hit.all(axis=1).any(), text


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_us_drawing_has_us_words_and_no_metric_value(assessed: dict[str, LiftAssessment], name: str) -> None:
    import re

    draw, data = DRAWINGS[name]
    ax = ScreenAxes(170, 150, margins_mm=(14, 26, 4, 10))
    draw(data(assessed["L1"]), ax, system="us")
    texts = [_texts(ax), ax.title, ax.xlabel, ax.ylabel]
    assert not [t for t in texts if has_british_word(t)]
    assert not re.search(r"\d[ \u00a0](?:m|t|kN|kPa)\b", " ".join(texts))
    assert "⟦" not in " ".join(texts)
