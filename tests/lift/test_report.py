"""Each table and list of numbers of a sheet, against facts and places worked out by hand.

The demo machine of L1, L2 and L6 stands at 31.00 m E, 18.30 m N, front toward east; its legs are
3.3 m before and 3.5 m behind the slew centre, extended 2.3 m to the left and 3.2 m to the right.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from liftcalc.base.text import text_in_units
from liftcalc.crane.sectors import ESTIMATE, NOT_RATED
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.card import card_headline
from liftcalc.lift.ground_tables import ground_cautions, site_instructions
from liftcalc.lift.report import (
    ground_values,
    layout_values,
    leg_place_rows,
    leg_room_rows,
    lift_class_rows,
    lift_values,
    line_rows,
    provenance_rows,
    sector_rows,
    sector_texts,
    survey_values,
    tipping_line_rows,
    title_rows,
)

Assess = Callable[..., LiftAssessment]


def show(value: float | None, quantity: str, safe: str = "") -> str:
    return f"{value:.3f} {quantity}"


def only_full_charts(job: Any, lift: Any) -> None:
    """The demo lifts stand on less than full outriggers: nothing then rates them all round."""
    job["charts"] = [c for c in job["charts"] if "full" in c["id"]]


def unrated(a: LiftAssessment) -> LiftAssessment:
    """The same lift where nothing is rated at all."""
    capacity = a.study.capacity
    nothing = dataclasses.replace(
        capacity,
        capacity_t=np.full_like(capacity.capacity_t, np.nan),
        source=np.full_like(capacity.source, NOT_RATED),
        chart=np.full_like(capacity.chart, -1),
    )
    a.__dict__["study"] = dataclasses.replace(a.study, capacity=nothing)
    return a


def test_the_title_names_extensions_that_are_never_short_of_the_plan(assess: Assess) -> None:
    a = assess("L1", lambda job, lift: lift["legs"].update(FL=2.3004))
    rows = [(label, text_in_units(text, "metric")) for label, text in title_rows(a.setup)]
    assert rows == [
        ("Machine", "Invented mobile crane, 50 t class, cw-9, boom 25.00 m"),
        ("Outrigger extension (from centreline), not less than", "FL 2.31 m, FR 3.20 m, RR 3.20 m, RL 2.30 m"),
        ("Crane position", "31.00 m E, 18.30 m N, heading 0.0° (anticlockwise from east)"),
        ("Site", "Riverside pumping station behind a flood wall (invented)"),
    ]


def test_every_fact_is_told_with_where_it_comes_from(assess: Assess) -> None:
    a = assess("L1")
    rows = provenance_rows(a.setup, a.job)
    assert rows[0] == ("The whole job", a.job.title, "INVENTED for demonstration: no real site")
    charts = [ids for what, ids, _ in rows if what == "Rated capacity charts"]
    assert ", ".join(charts) == ", ".join(f"{c.id} ({c.base_name})" for c in a.job.charts)
    told = {what: (text_in_units(fact, "metric"), source) for what, fact, source in rows}
    assert told["Machine data"] == (
        "demo-50",
        "invented: Made up for the demo job; plausible in size, true of no real machine.",
    )
    assert told["Overhead line line-33"] == ("owner: invented network operator", "invented: demo job")
    assert told["Ground of zone bank"][0] == "BH2; borehole bh-2 at 34.00 m E, 25.00 m N"
    assert told["Load mass"] == ("4.20 t, 10 % added", "stated by the manufacturer of the load")
    assert told["Centre of gravity"][0] == "centre of gravity ±0.05 m, ±0.05 m, ±0.10 m (x, y, z)"
    assert "Load sail, less than a round body's" not in told
    twist = a.setup.machine.carrier.torsional_stiffness_kNm_rad
    assert f", and one of {twist:g} kNm/rad as stated, " in (told["Carrier and ground under the outriggers"][0])


def test_what_is_left_out_or_stated_otherwise_is_told_so(assess: Assess) -> None:
    def change(job: Any, lift: Any) -> None:
        job["invented"] = False
        job["site"]["boreholes"] = []
        for machine in job["machines"]:
            machine["carrier"]["torsional_stiffness_kNm_rad"] = 9000.0
        lift["load"].update(cg_error_x_m=None, cg_error_y_m=None, cg_error_z_m=None)

    a = assess("L1", change)
    rows = provenance_rows(a.setup, a.job)
    assert rows[0][0] == "Machine data"
    told = {what: text_in_units(fact, "metric") for what, fact, _ in rows}
    assert told["Ground of zone bank"] == "BH2; no borehole on the survey"
    assert told["Centre of gravity"] == (  # of a box 1.6 x 1.6 x 2.6 m
        "centre of gravity ±0.08 m, ±0.08 m, ±0.13 m (x, y, z); x, y, z not stated: 5 % of the load's size assumed"
    )
    assert "and one of 9000 kNm/rad as stated" in told["Carrier and ground under the outriggers"]


def test_each_leg_stands_where_stand_heading_and_extension_put_it(assess: Assess) -> None:
    a = assess("L1")
    level = a.place.level_m
    assert leg_place_rows(a.setup, a.place, show) == [
        (
            name,
            f"{31.0 + x:.3f} length_m",
            f"{18.3 + y:.3f} length_m",
            f"{level[k]:.3f} length_m",
            f"{1000 * (level.max() - level[k]):.3f} small_length_mm",
            "hardstand",
        )
        for k, (name, x, y) in enumerate((("FL", 3.3, 2.3), ("FR", 3.3, -3.2), ("RR", -3.5, -3.2), ("RL", -3.5, 2.3)))
    ]
    assert float(level.max()) > float(level.min())
    outside = dataclasses.replace(a.place, zones=(None, *a.place.zones[1:]))
    assert leg_place_rows(a.setup, outside, show)[0][-1] == "none"


def test_a_leg_of_a_turned_machine_stands_where_the_turn_puts_it(assess: Assess) -> None:
    """Heading 90°: the front looks north, the left side west."""
    a = assess("L1", lambda job, lift: lift["stand"].update(heading_deg=90.0))
    rows = leg_place_rows(a.setup, a.place, show)
    places = [(31.0 - y, 18.3 + x) for x, y in ((3.3, 2.3), (3.3, -3.2), (-3.5, -3.2), (-3.5, 2.3))]
    assert [r[1:3] for r in rows] == [(f"{e:.3f} length_m", f"{n:.3f} length_m") for e, n in places]


@pytest.mark.parametrize(
    ("change", "row"),
    [
        # lowest of 13.2 + 0.2 t - 4.8 t (1 - t); 20 ft of study up to 350 kV, else 50 ft
        ({}, ("line-33", "12.098 length_m", "6.096 length_m", "yes")),
        ({"voltage_kV": None}, ("line-33", "12.098 length_m", "voltage unknown", "yes")),
        ({"voltage_kV": 400.0}, ("line-33", "12.098 length_m", "15.240 length_m", "yes")),
        (
            {"points": [[-5.0, 100.0, 13.2], [65.0, 100.0, 13.2]]},
            ("line-33", "12.000 length_m", "6.096 length_m", "no"),
        ),
    ],
)
def test_a_line_is_told_with_its_height_and_study_zone(
    assess: Assess, change: dict[str, Any], row: tuple[str, ...]
) -> None:
    a = assess("L1", lambda job, lift: job["site"]["overhead_lines"][0].update(change))
    ((name, lowest, zone, reached),) = line_rows(a.setup, show)
    assert (name, lowest, zone, reached.split(":")[0]) == row


def test_a_site_without_lines_says_so(assess: Assess) -> None:
    a = assess("L1", lambda job, lift: job["site"].update(overhead_lines=[]))
    assert line_rows(a.setup, show) == [("none on the survey", "–", "–", "–")]


def test_a_leg_may_go_as_far_as_stroke_and_neighbours_let_it(assess: Assess) -> None:
    a = assess("L1")

    def row(name: str, have: float, as_set: str) -> tuple[str, ...]:
        """One at its full extension shows it as it is set: rounded up on both."""
        full = f"3.200 {as_set}"
        return (
            name, f"{have:.3f} extension_m", f"1.250 length_m to {full}", full,
            "none: full extension",
        )  # fmt: skip

    assert leg_room_rows(a.setup, show) == [
        row("FL", 2.3, "length_m"),
        row("FR", 3.2, "extension_m"),
        row("RR", 3.2, "extension_m"),
        row("RL", 2.3, "length_m"),
    ]


def test_what_stands_beside_a_leg_is_told_as_what_blocks_it(assess: Assess) -> None:
    """A kiosk from 21.6 m N on: the mat, 0.9 m to each side, reaches it at 2.4 m of extension."""

    def change(job: Any, lift: Any) -> None:
        kiosk = next(o for o in job["site"]["obstacles"] if o["id"] == "switch-kiosk")
        kiosk["polygon"] = [[33.0, 21.6], [36.0, 21.6], [36.0, 24.0], [33.0, 24.0]]

    rows = {r[0]: r for r in leg_room_rows(assess("L1", change).setup, show)}
    _, _, allowed, longest, blocked_by = rows["FL"]
    assert blocked_by == "switch-kiosk"
    assert allowed == f"1.250 length_m to {longest}"
    assert 2.38 < float(longest.split()[0]) <= 2.4  # looked for in small steps, never beyond
    assert rows["RL"][4] == "none: full extension"


def test_tipping_lines_have_the_distance_and_length_of_plane_geometry(assess: Assess) -> None:
    """Front left at 1.9 m: the line to the rear left at 2.3 m is no longer along the machine."""
    a = assess("L1", lambda job, lift: lift["legs"].update(FL=1.9))
    side = float(np.hypot(6.8, 0.4))
    expected = {
        "RR-FR": (3.2, 6.8),
        "FR-FL": (3.3, 5.1),
        "FL-RL": ((3.3 * 2.3 + 3.5 * 1.9) / side, side),
        "RL-RR": (3.5, 5.5),
    }
    assert {name: cells for name, *cells in tipping_line_rows(a.setup, show)} == {
        name: [f"{distance:.3f} length_m", f"{length:.3f} length_m"] for name, (distance, length) in expected.items()
    }


def test_sectors_are_lettered_at_each_radius_and_a_circle_that_is_not_rated_says_so(assess: Assess) -> None:
    circle = assess("L1").circle
    rows = sector_rows(circle)
    radii = [float(r) for r in circle.radius_m]
    for radius in radii:
        letters = [letter for r, letter, _ in rows if r == radius]
        assert letters == ["A", "B"]
    texts = sector_texts(circle, show)
    assert [t[0] for t in texts] == [f"{r:.3f} length_m" for r in radii for _ in "AB"]
    # the weaker side is the left one, where the legs are short: about 90°
    weak = [t for t in texts if t[4] == "chart of a base inside this one"]
    assert all(t[5] == "demo-50-intermediate-cw-9" and t[6] == t[7] for t in weak)
    nothing = dataclasses.replace(
        circle,
        capacity_t=np.full_like(circle.capacity_t, np.nan),
        source=np.full_like(circle.source, NOT_RATED),
        chart=np.full_like(circle.chart, -1),
    )
    assert sector_texts(nothing, show) == [
        (
            f"{radius:.3f} length_m", "A", "full circle", "–", "not rated",
            "–", "not rated", "not rated",
        )
        for radius in radii
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("lift", "gross_t", "rated_t", "critical"),
    [("L1", 5.202, 7.3, "no"), ("L2", 3.272, 7.3, "no"), ("L6", 7.831, 5.8, "yes")],
)
def test_the_share_that_makes_a_lift_critical_is_gross_load_to_rating(
    assess: Assess, lift: str, gross_t: float, rated_t: float, critical: str
) -> None:
    a = assess(lift)
    rows = {r[0]: r[1] for r in lift_class_rows(a.setup, a.study)}
    assert float(rows["Utilisation of rated capacity"].split()[0]) == pytest.approx(100 * gross_t / rated_t, abs=0.06)
    assert rows["More than 75 % of the rated capacity"] == rows["Critical lift"] == critical
    assert rows["Persons lifted"] == rows["More than one crane"] == "no"


def test_without_capacity_data_a_lift_is_critical_and_its_share_is_not_rated(assess: Assess) -> None:
    a = assess("L2", only_full_charts)
    step = a.study.governing_step
    assert a.study.capacity.source[step] == ESTIMATE
    assert np.isfinite(a.study.capacity.capacity_t[step])
    rows = {r[0]: r[1] for r in lift_class_rows(a.setup, a.study)}
    assert rows["Utilisation of rated capacity"] == "not rated"
    assert rows["Critical lift"] == "yes"


def test_each_caution_of_the_ground_is_said_once(assess: Assess) -> None:
    study = assess("L1").ground
    assert study is not None
    always = ground_cautions(None)
    assert len(always) == 2
    legs = tuple(dataclasses.replace(g, warnings=("wet", g.name)) for g in study.legs)
    again = dataclasses.replace(study)
    vars(again)["legs"] = legs
    assert ground_cautions(again) == [*always, "wet", "FL", "FR", "RR", "RL"]


def test_the_survey_stores_where_legs_stand_and_lines_that_the_boom_could_reach(assess: Assess) -> None:
    a = assess("L2")
    values = survey_values(a.setup, a.place)
    assert values["leg_easting_m"] == [34.3, 34.3, 27.5, 27.5]
    assert values["leg_northing_m"] == [20.6, 15.1, 15.1, 20.6]
    level = np.array(values["ground_level_m"])
    assert values["packing_m"] == pytest.approx(level.max() - level, abs=1e-8)
    assert values["zone_under_leg"] == ["hardstand"] * 4
    assert values["line_in_study_zone"] == ["line-33"]
    away = [[-5.0, 100.0, 13.2], [65.0, 100.0, 13.2]]
    far = assess("L2", lambda job, lift: job["site"]["overhead_lines"][0].update(points=away))
    assert survey_values(far.setup, far.place)["line_in_study_zone"] == []


def test_the_layout_stores_its_base_and_the_weakest_slew(assess: Assess) -> None:
    a = assess("L1")
    values = layout_values(a.setup, a.circle)
    assert values["base_area_m2"] == pytest.approx(6.8 * 5.5)
    assert dict(zip(values["tipping_lines"], values["tipping_line_distance_m"], strict=True)) == (
        pytest.approx({"RR-FR": 3.2, "FR-FL": 3.3, "FL-RL": 2.3, "RL-RR": 3.5})
    )
    for k, slew in enumerate(values["least_capacity_slew_deg"]):
        at = int(np.flatnonzero(a.circle.slew_deg == slew)[0])
        assert a.circle.capacity_t[at, k] == a.circle.capacity_t[:, k].min()
    assert values["least_capacity_t"] == [12.7, 7.3]
    assert values["not_rated_count"] == 0
    assert len(values["sectors"]) == 4
    holes = a.circle.capacity_t.copy()
    holes[5:8, 1] = np.nan
    values = layout_values(a.setup, dataclasses.replace(a.circle, capacity_t=holes))
    assert values["not_rated_count"] == 3
    assert values["least_capacity_t"] == [12.7, 0.0]
    assert values["least_capacity_slew_deg"][1] == a.circle.slew_deg[5]


def test_a_lift_over_its_capacity_stores_that_it_is(assess: Assess) -> None:
    a = assess("L6")
    values = lift_values(a.setup, a.study, a.rigging)
    load = a.setup.lift.load
    lifted = load.mass_t * (1 + load.contingency_percent / 100)
    block = a.setup.machine.hook_block(a.setup.lift.hook_block).mass_t
    gross = lifted + values["rigging_mass_t"] + block + values["rope_below_head_t"]
    assert values["gross_load_t"] == pytest.approx(gross)
    assert values["dynamic_gross_load_t"] == pytest.approx(gross * values["hoist_factor"])
    assert (values["capacity_t"], values["capacity_source"]) == (5.8, "chart of a base inside this one")
    assert values["capacity_used_ratio"] == pytest.approx(gross / 5.8)
    assert values["capacity_used_ratio"] > 1.0
    assert values["critical_lift"] is True
    assert len(values["sling_tension_kN"]) == 6
    assert values["rigging_items"][4] == "spreader-4m"


def test_a_lift_that_nothing_rates_stores_no_capacity_and_the_reason(assess: Assess) -> None:
    a = unrated(assess("L2"))
    values = lift_values(a.setup, a.study, a.rigging)
    assert (values["capacity_t"], values["capacity_source"]) == (0.0, "not rated")
    assert values["critical_lift"] is True


def test_ground_values_are_those_of_each_leg_or_only_that_the_machine_tips(assess: Assess) -> None:
    a = assess("L1")
    values = ground_values(a.forces, a.ground)
    assert values["leg_reaction_kN"] == pytest.approx(a.forces.design_kN)
    own = a.setup.mat.mass_t * 9.80665
    area = np.array(values["effective_length_m"]) * values["effective_width_m"]
    pressure = (np.array(values["leg_reaction_kN"]) + own) / area
    assert values["pressure_kPa"] == pytest.approx(pressure)
    assert values["zone"] == ["hardstand"] * 4
    assert values["tips_on_path"] is False
    assert ground_values(a.forces, None) == {"tips_on_path": True, "lifted_legs": "none"}


@pytest.mark.parametrize("lift", ["L6", "L7", "L8"])
def test_the_crew_gets_nothing_to_set_up_by_where_the_lift_must_not_be_made(assess: Assess, lift: str) -> None:
    a = assess(lift)
    assert site_instructions(a) == [("all", card_headline(a))]
    assert card_headline(a).startswith("DO NOT LIFT AS PLANNED: ")
    assert not re.search(r"packing|verify| kN| kPa| mm|[\d.]+ m ", card_headline(a))


@pytest.mark.parametrize("lift", ["L1", "L4"])
def test_the_crew_is_told_mat_packing_and_how_to_prove_the_ground(assess: Assess, lift: str) -> None:
    a = assess(lift)
    rows = dict(site_instructions(a))
    assert list(rows) == ["FL", "FR", "RR", "RL"]
    assert "by hand vane or DCP to two mat widths." in rows["FL"]
    words = text_in_units(rows["FL"], "metric")
    assert f"packing {1000 * a.place.packing_m[0]:.0f} mm; " in words
    assert f"force {a.forces.design_kN[0]:.1f} kN" in words


def test_ground_without_clay_is_proved_by_plate_or_probe(assess: Assess) -> None:
    a = assess("L1")
    assert a.ground is not None
    sand = [layer.model_copy(update={"cu_kPa": None}) for layer in a.ground.legs[0].profile.layers]
    dry = a.ground.legs[0].profile.model_copy(update={"layers": tuple(sand)})
    legs = (dataclasses.replace(a.ground.legs[0], profile=dry), *a.ground.legs[1:])
    dug = dataclasses.replace(a)
    ground = dataclasses.replace(a.ground)
    vars(ground)["legs"] = legs
    vars(dug).update(vars(a), ground=ground)
    rows = site_instructions(dug)
    assert "by plate test or DCP" in rows[0][1]
    assert "by hand vane or DCP" in rows[1][1]
