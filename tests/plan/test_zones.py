"""Exclusion zones of lifts: what they enclose, whom they meet, and what is handed on."""

from __future__ import annotations

import copy
import importlib.util
import io
import json
import math
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
import shapely

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE, format_value, text_in_units
from liftcalc.clearance.bodies import MovingPrism
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.facts.zone_rule import ClosedPlace
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.plan.day_card import day_card
from liftcalc.plan.zone_files import zones_dxf, zones_geojson
from liftcalc.plan.zone_rows import corner_rows, meeting_rows, zone_checks, zone_lines, zone_rows, zone_values
from liftcalc.plan.zones import ExclusionZones, exclusion_zones
from liftcalc.records.day_page import day_page
from liftcalc.views.zones import zones_figure

ezdxf = pytest.importorskip("ezdxf")
DEMO = load_job(demo_job_path())
Data = dict[str, Any]


def show(value: float | None, quantity: str, safe: Any = "") -> str:
    return format_value(value, quantity, "metric", safe)


def laws() -> ModuleType:
    place = Path(__file__).parents[1] / "engines" / "test_laws.py"
    spec = importlib.util.spec_from_file_location("laws", place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def told(lift: str, **rule: Any) -> Data:
    data: Data = DEMO.for_lift(lift).model_dump(mode="json")
    data["rules"]["zones"].update(rule)
    return data


def of(data: Data) -> tuple[LiftAssessment, ExclusionZones]:
    job = parse_fact(Job, data)
    lift = assess_lift(job, job.lifts[0].id)
    zones = exclusion_zones(lift)
    assert zones is not None
    return lift, zones


def areas(zones: ExclusionZones) -> dict[str, float]:
    return {z.id: float(z.area.area) for z in zones.zones}


def ground(zones: ExclusionZones, id: str) -> shapely.Geometry:
    return next(z.area for z in zones.zones if z.id == id)


@pytest.mark.parametrize("lift", ["L1", "L4", "L6"])
def test_zones_enclose_what_moves_at_every_step_and_the_barrier_encloses_all(lift: str) -> None:
    assessed, zones = of(told(lift, tag_lines=[]))
    for body in assessed.surroundings.close_bodies:
        if not isinstance(body, MovingPrism) or body.name == "carrier":
            continue
        into = "tail" if body.name == "counterweight tail" else "load"
        zone = ground(zones, into)
        for k in range(0, len(body.spread_m), 7):
            plan = shapely.MultiPoint(body.corners_m[k]).convex_hull
            assert zone.contains(plan.buffer(body.spread_m[k], quad_segs=32)), (body.name, k)
    assert ground(zones, "fall").contains(ground(zones, "load"))
    for zone in zones.zones:
        assert zones.barrier.contains(zone.area), zone.id
    assert len(zones.corners_m) <= 12


def test_the_tail_all_round_is_a_circle_of_its_radius_and_the_margin() -> None:
    lift, zones = of(told("L1"))
    exact = math.pi * zones.tail_radius_m**2
    assert exact <= areas(zones)["tail"] <= 1.02 * exact
    tail = lift.setup.machine.counterweight(lift.setup.lift.counterweight).tail_radius_m
    margin = lift.setup.rules.clearance.tail_m
    assert tail + margin <= zones.tail_radius_m <= tail + margin + 0.15


def test_the_boom_falls_in_a_sector_with_its_margin_laid_flat() -> None:
    lift, zones = of(told("L1"))
    slew = lift.surroundings.close.path.slew_deg
    reach = lift.setup.boom.length_m + lift.setup.machine.boom.foot_u_m
    margin = 1.0 + lift.setup.shape.boom_half_width_m
    turn = math.radians(float(np.ptp(slew)))
    sector = turn * reach**2 / 2.0
    exact = sector + (2.0 + turn) * reach * margin + math.pi * margin**2
    assert exact <= areas(zones)["boom"] <= 1.05 * exact


def test_the_fall_zone_grows_by_the_owners_ratio_of_the_height_and_his_margin() -> None:
    lift, zones = of(told("L1", fall_ratio=0.001, fall_margin_m=2.0))
    load = ground(zones, "load")
    assert ground(zones, "fall").contains(load.buffer(1.95, quad_segs=32))
    assert load.buffer(2.2).contains(ground(zones, "fall"))
    steep = of(told("L1", fall_ratio=0.5, fall_margin_m=2.0))[1]
    assert areas(steep)["fall"] > areas(zones)["fall"]
    # highest: carried at 5.4 over the forebay, 4.5 below the lowest spot level, 2.6 high
    lowest = min(s.level_m for s in lift.setup.site.levels)
    high = 5.4 + 2.6 - (lowest - 4.5)
    words = next(z.rule for z in steep.zones if z.id == "fall")
    most = float(words.split("at most ⟦")[1].split(" ")[0])
    assert 2.0 + 0.5 * high <= most <= 2.0 + 0.5 * (high + 1.0)


def test_tag_lines_keep_the_load_within_what_it_sweeps_when_it_turns_freely() -> None:
    free = of(told("L4", tag_lines=[]))[1]
    before = free
    for within in (90.0, 45.0, 5.0):
        tag = {"lift": "L4", "angle_deg": 10.0, "within_deg": within, "held_by": "two riggers"}
        held = of(told("L4", tag_lines=[tag]))[1]
        assert ground(before, "load").buffer(0.25).contains(ground(held, "load"))
        assert areas(held)["load"] <= areas(before)["load"] + 1.0
        before = held
    assert areas(before)["load"] < 0.8 * areas(free)["load"]
    other = {"lift": "L5", "angle_deg": 0.0, "within_deg": 5.0, "held_by": "nobody of this lift"}
    assert areas(of(told("L4", tag_lines=[other]))[1]) == areas(free)


def test_a_held_load_is_enclosed_at_every_angle_it_may_have() -> None:
    tag = {"lift": "L4", "angle_deg": 30.0, "within_deg": 20.0, "held_by": "two riggers"}
    lift, zones = of(told("L4", tag_lines=[tag]))
    hung, way = lift.setup.hung, lift.surroundings.close.path
    turn = np.radians(way.slew_deg + lift.setup.lift.stand.heading_deg)
    hook = way.radius_m[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=-1) + zones.stand_m
    half = np.array([hung.length_m, hung.width_m]) / 2.0
    middle = np.array([hung.middle_x_m, hung.middle_y_m])
    box = shapely.box(*(middle - half), *(middle + half))
    for k in range(0, len(hook), 25):
        for angle in (10.0, 21.3, 30.0, 47.0, 50.0):
            load = shapely.affinity.rotate(box, angle, origin=(0.0, 0.0))
            placed = shapely.affinity.translate(load, *hook[k])
            assert ground(zones, "load").contains(placed), (k, angle)


def test_an_area_that_nobody_closes_is_over_its_limit_and_says_what_to_do() -> None:
    _, zones = of(told("L1", closed=[]))
    rows = {c.id: c for c in zone_checks(zones)}
    assert rows["exclusion-zones"].status == "within"
    for id in ("footpath", "outside-boundary"):
        row, met = rows[f"exclusion-{id}"], next(m for m in zones.meetings if m.id == id)
        assert row.status == "over"
        assert row.value == pytest.approx(met.area_m2["all"])
        assert "Close" in row.remedy
        assert "load path" in row.remedy
    footpath = shapely.Polygon(next(a.polygon for a in DEMO.site.areas if a.id == "footpath"))
    exact = shapely.intersection(footpath, zones.union).area
    assert rows["exclusion-footpath"].value == pytest.approx(exact)
    assert dict(zone_lines(zones, show))["NOT CLOSED"] == "footpath, outside-boundary"
    assert "NOBODY STATED" in {row[-1] for row in meeting_rows(zones, show)}
    assert {c.status for c in zone_checks(of(told("L1"))[1])} == {"within"}


def test_a_job_without_the_owners_rule_is_incomplete_by_name() -> None:
    data = told("L1")
    data["rules"]["zones"] = None
    job = parse_fact(Job, data)
    lift = assess_lift(job, "L1")
    assert exclusion_zones(lift) is None
    (row,) = zone_checks(None)
    assert row.status == "incomplete"
    assert "rules.zones" in row.where
    assert "missing" in zone_rows(None, show)[0][2]
    assert zone_lines(None, show)[0][1].startswith("NOT STATED")
    assert zone_values(None)


def test_a_closed_place_that_the_survey_does_not_know_or_that_is_named_twice_is_refused() -> None:
    known = {"id": "footpath", "closed_by": "somebody", "reference": "notice"}
    with pytest.raises(InputError, match=r"rules.zones.closed: foot-path is not among"):
        parse_fact(Job, told("L1", closed=[{**known, "id": "foot-path"}]))
    with pytest.raises(InputError, match=r"rules.zones.closed: each named once"):
        parse_fact(Job, told("L1", closed=[known, known]))
    tag = {"lift": "L1", "angle_deg": 0.0, "within_deg": 5.0, "held_by": "two riggers"}
    with pytest.raises(InputError, match=r"rules.zones.tag_lines: each named once"):
        parse_fact(Job, told("L1", tag_lines=[tag, {**tag, "angle_deg": 90.0}]))


def test_buildings_are_places_of_people_and_buried_services_are_not() -> None:
    _, zones = of(told("L7", closed=[]))
    found = {m.id: m for m in zones.meetings}
    assert found["control-room"].peopled
    assert found["control-room"].open_m2 == pytest.approx(found["control-room"].area_m2["all"])
    assert not found["culvert"].peopled


@pytest.mark.parametrize("degrees", [37.0, -142.0])
def test_a_turned_site_has_the_same_zones(degrees: float) -> None:
    data = told("L4")
    turned = laws().turned(copy.deepcopy(data), degrees)
    turned["rules"]["zones"]["tag_lines"][0]["angle_deg"] += degrees
    before, after = of(data)[1], of(turned)[1]
    for id, area in areas(before).items():
        assert areas(after)[id] == pytest.approx(area, rel=3e-3), id
    met = {m.id: m.area_m2["all"] for m in before.meetings}
    assert {m.id: m.area_m2["all"] for m in after.meetings} == pytest.approx(met, rel=0.02)


def test_a_site_moved_to_a_national_grid_has_the_same_zones() -> None:
    data = told("L1")
    away = laws().moved(copy.deepcopy(data), lambda e, n: (e + 412_000.0, n + 5_654_000.0), 41.0)
    before, after = of(data)[1], of(away)[1]
    assert areas(after) == pytest.approx(areas(before), rel=1e-5)
    assert after.barrier.area == pytest.approx(before.barrier.area, rel=0.02)
    for zone in after.zones:
        assert after.barrier.contains(zone.area)


def test_corners_are_set_out_alike_from_the_grid_and_from_the_slew_centre() -> None:
    data = told("L5")
    data["lifts"][0]["stand"]["heading_deg"] = 12.0
    _, zones = of(data)
    rows = corner_rows(zones, lambda v, *_: repr(v), heading_deg=12.0)
    for number, (row, corner) in enumerate(zip(rows, zones.corners_m, strict=True), start=1):
        assert row[0] == str(number)
        east, north, away, bearing, slew = (float(v) for v in row[1:])
        assert (east, north) == pytest.approx(tuple(corner))
        turn = math.radians(bearing)
        back = zones.stand_m + away * np.array([math.sin(turn), math.cos(turn)])
        assert tuple(back) == pytest.approx(tuple(corner))
        turn = math.radians(slew + 12.0)
        back = zones.stand_m + away * np.array([math.cos(turn), math.sin(turn)])
        assert tuple(back) == pytest.approx(tuple(corner))


def test_geojson_reads_back_with_its_cautions_and_the_ground_it_stands_for() -> None:
    lift, zones = of(told("L1"))
    text = zones_geojson(lift.job, zones)
    document = json.loads(text)
    assert document["cautions"] == [INVENTED_LINE, CAUTION_LINE]
    assert document["invented"] is True
    assert document["grid"] == DEMO.site.grid
    assert "⟦" not in text
    shapes = {f["properties"]["id"]: shapely.geometry.shape(f["geometry"])
              for f in document["features"]}  # fmt: skip
    for zone in zones.zones:
        assert shapely.symmetric_difference(shapes[zone.id], zone.area).area < 0.2
        assert shapes["barrier"].contains(shapes[zone.id])
    assert [shapes[f"corner-{k}"].coords[0] for k in range(1, len(zones.corners_m) + 1)] == [
        tuple(c) for c in zones.corners_m.tolist()
    ]


def test_dxf_reads_back_to_scale_on_its_layers_with_its_cautions() -> None:
    lift, zones = of(told("L1"))
    text = zones_dxf(lift.job, zones)
    assert text == zones_dxf(lift.job, zones)
    drawing = ezdxf.read(io.StringIO(text))
    assert drawing.units == 6
    assert not drawing.audit().errors
    space = drawing.modelspace()
    texts = " ".join(t.dxf.text for t in space.query("TEXT"))
    assert CAUTION_LINE in texts
    assert INVENTED_LINE in texts
    for id, area in (*((z.id, z.area) for z in zones.zones), ("barrier", zones.barrier)):
        lines = space.query(f'POLYLINE[layer=="ZONE-{id.upper()}"]')
        rings = [shapely.Polygon([v.dxf.location.vec2 for v in p.vertices]) for p in lines]
        assert all(p.is_closed for p in lines)
        outer = max(rings, key=lambda r: r.area)
        inner = sum(r.area for r in rings) - outer.area
        assert outer.area - inner == pytest.approx(area.area, rel=1e-3), id
    assert len(space.query("POINT")) == len(zones.corners_m)


def test_the_drawing_shows_every_zone_the_barrier_and_each_numbered_corner() -> None:
    lift, zones = of(told("L1"))
    (ax,) = zones_figure(lift, areas=zones.drawn, corners_m=zones.corners_m).axes
    gids = {a.get_gid() for a in ax.get_children()}
    assert {f"zone {z.id}" for z in zones.zones} <= gids
    assert {"barrier", *(f"corner {k}" for k in range(1, len(zones.corners_m) + 1))} <= gids
    words = {t.get_text() for t in ax.texts}
    assert {str(k) for k in range(1, len(zones.corners_m) + 1)} <= words
    assert {"tail swing", "fall zone of the load", "fall sector of the boom"} <= words
    assert "N" in words


def test_rows_and_values_hold_what_the_zones_hold() -> None:
    _, zones = of(told("L5"))
    rows = zone_rows(zones, show)
    assert [r[0] for r in rows[:5]] == [z.title for z in zones.zones]
    assert text_in_units(rows[2][2], "metric").startswith("spread 0.3 × height + 1.00 m")
    assert all(r[1].endswith("m²") for r in rows)
    values = zone_values(zones)
    assert values["exclusion_area_m2"] == areas(zones)
    json.dumps(values, allow_nan=False)


def test_the_day_card_says_what_is_kept_clear_and_what_is_put_up() -> None:
    lift, zones = of(told("L1", closed=[]))
    page = day_page(lift.job, day_card(lift, show))
    for title, words in zone_lines(zones, show):
        assert title in page
        assert words in page
    assert "NOT CLOSED" in page


@pytest.mark.parametrize("said", [" ", "tbd", "?", "n/a"])
def test_a_place_is_closed_by_somebody_who_is_named(said: str) -> None:
    with pytest.raises(InputError, match="a text that says something"):
        parse_fact(ClosedPlace, {"id": "footpath", "closed_by": said, "reference": "permit 1"})
    with pytest.raises(InputError, match="a text that says something"):
        parse_fact(ClosedPlace, {"id": "footpath", "closed_by": "manager", "reference": said})
