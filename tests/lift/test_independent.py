"""The whole lift against a second, slow model written from first principles.

Nothing here calls a calculation of the package to get its expectation: the base is judged by
linear programmes over leg forces that cannot pull, the path by complex numbers in the site frame,
leg forces by least work over every set of standing legs, distances by shapely, charts row by row.
"""

from __future__ import annotations

import itertools
import json
import math
import random
from typing import Any

import numpy as np
import pytest
import shapely
from demo_changes import changed
from scipy.optimize import linprog
from shapely.geometry import Point, Polygon

from liftcalc.base.errors import InputError
from liftcalc.base.text import text_in_units
from liftcalc.clearance.bodies import MovingPrism
from liftcalc.crane.sectors import CARRIED, ESTIMATE, OWN, SMALLER, SOURCES
from liftcalc.facts.io import parse_fact
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Lift
from liftcalc.facts.machine import Machine
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.leg_forces import leg_forces, weight_on_base
from liftcalc.lift.leg_springs import leg_supports
from liftcalc.lift.path import load_path
from liftcalc.lift.path_study import adverse_terms, study_path
from liftcalc.lift.refine import refined_study
from liftcalc.lift.remedies import enough
from liftcalc.lift.setup import build_setup
from liftcalc.lift.surroundings import surroundings
from liftcalc.lift.wind_checks import swing_deg


@pytest.mark.parametrize(("axis", "toward"), [("x", 0.0), ("y", 90.0)])
def test_a_lean_toward_the_load_and_its_settlement_add_up(demo: Job, axis: str, toward: float) -> None:
    """A machine set up leaning over its load settles further that way, not back to level."""
    slews = {"slew_way": "shortest"}
    at = np.radians(toward)
    place = {"easting_m": 31 + 10 * np.cos(at), "northing_m": 18.3 + 10 * np.sin(at)}
    base = {
        **slews,
        "stand__heading_deg": 0.0,
        "pick": {**place, "level_m": 4.2},
        "set_down": {**place, "level_m": 4.2},
    }
    value = {}
    for lean in (-0.6, 0.0, 0.6):
        job = changed(demo, "L3", **base, **{f"stand__tilt_{axis}_percent": lean})
        rows = {c.id: c for c in assess_lift(job, "L3").ground_rows}
        value[lean] = rows["tilt"].value
    assert value[0.0] > 0.01  # it settles toward the load
    assert value[0.6] > 0.61
    assert value[-0.6] < 0.59


def with_site(job: Job, **parts: list[dict[str, Any]]) -> Job:
    """The demo job with things added to its survey."""
    data = json.loads(job.model_dump_json())
    for name, items in parts.items():
        data["site"][name] = [*data["site"][name], *items]
    return parse_fact(Job, data)


def rows_of(checks: Any) -> dict[str, Any]:
    return {c.id: c for c in checks}


def test_a_mat_beside_the_crest_of_a_slope_does_not_pass(demo: Job) -> None:
    """Mats of L1 reach to y = 21.5; a bank of 3 m falls away from a crest 2.5 m beyond."""
    crest = {"id": "bank-crest", "crest": [[20.0, 24.0], [40.0, 24.0]], "height_m": 3.0}
    job = with_site(demo, slopes=[{**crest, "angle_deg": 40.0}])
    row = rows_of(assess_lift(job, "L1").survey)["set-back-bank-crest"]
    assert row.value == pytest.approx(24.0 - 21.5)
    assert row.status == "over"
    job = with_site(demo, slopes=[{**crest, "height_m": 2.4, "angle_deg": 40.0}])
    assert rows_of(assess_lift(job, "L1").survey)["set-back-bank-crest"].status == "within"


def test_a_wall_between_the_carrier_and_a_mat_does_not_pass(demo: Job) -> None:
    """A wall 0.2 m thick that crosses a leg's beam, though the mat stands clear beyond it."""
    wall = [[30.0, 19.8], [38.0, 19.8], [38.0, 20.0], [30.0, 20.0]]
    solid = {"id": "kerb", "kind": "wall", "base_level_m": 3.0, "top_level_m": 4.0}
    job = with_site(demo, obstacles=[{**solid, "polygon": wall}])
    row = rows_of(assess_lift(job, "L1").survey)["mat-kerb"]
    assert row.status == "over"
    assert "FL" in row.where


def test_a_mat_near_a_supported_edge_needs_the_word_of_its_designer(demo: Job) -> None:
    """Mats of L1 end 8.0 m from the forebay; the set-back without support is 1.0 x depth."""
    data = json.loads(demo.model_dump_json())
    pit = next(e for e in data["site"]["excavations"] if e["id"] == "forebay")
    for depth, stated, status in (
        (7.9, None, "within"),
        (8.1, None, "no_data"),
        (8.1, 7.9, "within"),
        (8.1, 8.1, "over"),
    ):
        pit |= {"depth_m": depth, "supported_mats_from_m": stated}
        row = rows_of(assess_lift(parse_fact(Job, data), "L1").survey)["set-back-forebay"]
        assert row.status == status, (depth, stated)


def test_a_carrier_across_the_boundary_does_not_pass(demo: Job) -> None:
    """The carrier reaches 6.6 m ahead of the slew centre, its front mats only 4.2 m."""
    data = json.loads(demo.model_dump_json())
    data["site"]["boundary"] = [[0.0, 0.0], [36.0, 0.0], [36.0, 40.0], [0.0, 40.0]]
    row = rows_of(assess_lift(parse_fact(Job, data), "L1").survey)["carrier-on-site"]
    assert row.status == "over"
    assert row.value == pytest.approx((31 + 6.6 - 36) * 2.55)


def test_a_step_over_its_rating_is_not_hidden_by_steps_without_data(demo: Job) -> None:
    """Charts for the sector of the set-down only: the rest has no data, that sector is over."""
    data = json.loads(demo.model_dump_json())
    for chart in data["charts"]:
        chart["sector_deg"] = [40.0, 70.0]
    a = assess_lift(parse_fact(Job, data), "L6")
    rows = rows_of(a.lift)
    assert rows["capacity"].status == "no_data"
    assert rows["capacity-rated-part"].status == "over"
    assert rows["capacity-rated-part"].limit == 5.8  # read on the chart, row 16 m
    assert a.verdict.status == "over"
    whole = rows_of(assess_lift(demo, "L6").lift)
    assert "capacity-rated-part" not in whole


def test_a_wide_load_hoisted_against_its_own_boom_does_not_pass(demo: Job) -> None:
    """Corner of the turned load against the boom's under side, by the distance point to line."""
    size = {"load__length_m": 8.0, "load__width_m": 3.0, "load__height_m": 1.0}
    points = {"rigging__point_height_m": 0.9, "load__sail_area_m2": 3.0, "load__sail_reason": "lattice"}
    for carry in (5.4, 14.0, 18.0, 19.5):
        a = assess_lift(changed(demo, "L4", carry_level_m=carry, **size, **points), "L4")
        row = rows_of(a.lift)["clearance-own-boom"]
        boom = a.setup.machine.boom
        hung = a.setup.hung  # centre of gravity 0.2 m off the middle, 0.15 m in doubt
        assert hung.reach_m == pytest.approx(np.hypot(4.0 + 0.2 + 0.15, 1.5), abs=0.1)
        half, thick = hung.reach_m, np.hypot(boom.width_m, boom.depth_m) / 2
        least = np.inf
        swing = swing_deg(a.setup, a.path, a.study.boom)
        for radius, level, lag in zip(
            a.path.radius_m, a.path.level_m, np.broadcast_to(swing, len(a.path)), strict=True
        ):
            angle = np.arccos((radius - boom.foot_u_m) / 30.0)
            head = boom.foot_z_m + 30.0 * np.sin(angle)
            hang = head - (level - a.setup.lift.stand.level_m)
            du = radius - half - boom.foot_u_m
            dz = level + 1.0 + hung.rise_m - a.setup.lift.stand.level_m - boom.foot_z_m
            still = du * np.sin(angle) - dz * np.cos(angle) - thick
            far = 2.0 * np.hypot(half, hang + hung.dip_m) * np.sin(np.radians(lag) / 2.0)
            # the machine may lean by 1 %: its load then swings by as much off its boom
            far += 0.01 * (hang + hung.dip_m)
            least = min(least, still - far)
        assert row.value == pytest.approx(max(least, 0.0), abs=0.1)  # a turned load as 16 sides
        assert row.status == ("within" if row.value >= 0.3 else "over")
    assert row.status == "over"
    assert rows_of(a.lift)["head-room"].status == "within"  # hook room alone would pass it


def test_a_load_that_swings_comes_nearer_to_its_own_boom_and_carrier(demo: Job) -> None:
    def own(speed: float) -> list[float]:
        job = changed(demo, "L4", wind_m_s=speed)
        rows = rows_of(assess_lift(job, "L4").lift)
        return [float(rows[f"clearance-own-{p}"].value or 0.0) for p in ("boom", "carrier")]

    calm, windy = own(0.0), own(8.0)
    assert windy[0] < calm[0] - 0.1
    assert windy[1] < calm[1] - 0.1


def test_a_load_slewed_low_over_the_carrier_does_not_pass(demo: Job) -> None:
    """From left to right over the front of the carrier, underside 0.5 m above the ground."""
    low = {"easting_m": 31.0, "level_m": 3.5}
    job = changed(
        demo,
        "L3",
        pick={**low, "northing_m": 18.3 + 6.0},
        set_down={**low, "northing_m": 18.3 - 6.0},
        carry_level_m=3.5,
        slew_way="clockwise",
    )
    row = rows_of(assess_lift(job, "L3").lift)["clearance-own-carrier"]
    assert row.value == 0.0
    assert row.status == "over"


def test_four_mats_are_not_planned_with_two(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    for mat in data["mats"]:
        mat["quantity"] = 2
    row = rows_of(assess_lift(parse_fact(Job, data), "L1").layout)["mats-on-shelf"]
    assert (row.value, row.status) == (2.0, "over")
    assert rows_of(assess_lift(demo, "L1").layout)["mats-on-shelf"].status == "within"


def test_missing_data_other_than_capacity_are_not_called_capacity_data(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    for profile in data["site"]["ground"]:
        profile["subgrade_modulus_kN_m3"] = None
        for layer in profile["layers"]:
            layer["youngs_modulus_kPa"] = None
    a = assess_lift(parse_fact(Job, data), "L1")
    assert a.verdict.status == "no_data"
    assert a.verdict.words.startswith("No data for a check: ")
    assert rows_of(a.ground_rows)["tilt"].words == "no data"


def test_spot_levels_in_one_line_are_refused_in_words(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    data["site"]["levels"] = [{"easting_m": float(i), "northing_m": float(i), "level_m": 3.0} for i in range(4)]
    with pytest.raises(InputError, match="in one line"):
        _ = assess_lift(parse_fact(Job, data), "L1").survey


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"slew_way": "clockwise", "via": [{"slew_deg": 180.0, "radius_m": 9.3, "level_m": 6.0}]},
            "the points name the way round",
        ),
        ({"rigging__point_spacing_x_m": 5.0}, "lifting points belong to the load"),
        ({"rigging__point_height_m": 9.0}, "lifting points belong to the load"),
    ],
)
def test_facts_that_would_be_passed_over_are_refused(demo: Job, change: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        changed(demo, "L1", **change)


# ------------------------------------------------------------------- the second, slow model
# Plan positions are complex numbers; masses in t, moments in tm unless a name says otherwise.

OWN_BASE, CARRIED_OVER, SMALLER_BASE = (SOURCES[k] for k in (OWN, CARRIED, SMALLER))
G = 9.80665
Part = tuple[float, complex, float]


def legs_of(machine: Machine, extension_m: tuple[float, ...]) -> list[complex]:
    return [
        complex(leg.x_m, x if leg.name.endswith("L") else -x) for leg, x in zip(machine.legs, extension_m, strict=True)
    ]


def parts_of(job: Job, lift: Lift, slew: float, radius: float) -> tuple[list[Part], complex, float, float]:
    """Mass, place and height of every part; the hook; head height; boom mass at the head."""
    machine = job.machine(lift.machine)
    weight, boom, length = (machine.counterweight(lift.counterweight), machine.boom, lift.boom_length_m)
    angle = math.acos((radius - boom.foot_u_m) / length)
    cg = float(np.interp(length, boom.lengths_m, boom.cg_from_foot_m))
    out = complex(math.cos(math.radians(slew)), math.sin(math.radians(slew)))
    upper, carrier = machine.superstructure, machine.carrier
    parts = [
        (carrier.mass_t, complex(carrier.cg_x_m, carrier.cg_y_m), carrier.cg_z_m),
        (upper.mass_t, upper.cg_u_m * out, upper.cg_z_m),
        (weight.mass_t, weight.cg_u_m * out, weight.cg_z_m),
        (boom.mass_t, (boom.foot_u_m + cg * math.cos(angle)) * out, boom.foot_z_m + cg * math.sin(angle)),
    ]
    head = boom.foot_z_m + length * math.sin(angle)
    return parts, radius * out, head, boom.mass_t * cg / length


def tipping_t(
    parts: list[Part],
    hook: complex,
    head: float,
    legs: list[complex],
    lean: complex,
    moment_kNm: complex = 0j,
    factor: float = 1.0,
) -> float:
    """Greatest load for which four legs that cannot pull find an equilibrium."""
    weight = sum(p[0] for p in parts)
    moment = sum(p[0] * (p[1] + p[2] * lean) for p in parts) + moment_kNm / G
    hook = factor * (hook + head * lean)
    equal = [[1.0] * 4 + [-factor], [p.real for p in legs] + [-hook.real], [p.imag for p in legs] + [-hook.imag]]
    right = [weight, moment.real, moment.imag]
    found = linprog([0, 0, 0, 0, -1], A_eq=equal, b_eq=right, bounds=[(0, None)] * 5)
    if found.status == 2:
        return 0.0
    if found.status == 3:
        return math.inf
    assert found.status == 0
    return float(found.x[-1])


def lines_of(legs: list[complex]) -> list[tuple[complex, complex]]:
    """Tipping lines: pairs of legs with every other leg to the left of them."""
    lines = []
    for a, b in itertools.permutations(legs, 2):
        along = (b - a) / abs(b - a)
        if all(((p - a) * along.conjugate()).imag >= -1e-9 for p in legs):
            lines.append((a, along))
    return lines


def inside_m(point: complex, legs: list[complex]) -> float:
    return min(((point - a) * along.conjugate()).imag for a, along in lines_of(legs))


def on_chart(
    lengths: tuple[float, ...], radii: tuple[float, ...], rows: Any, length: float, radius: float
) -> float | None:
    """Least of the neighbouring entries; None outside the chart or beside an empty entry."""

    def beside(axis: tuple[float, ...], value: float) -> list[int]:
        on = [k for k, a in enumerate(axis) if abs(a - value) <= 1e-9]
        between = [[k, k + 1] for k in range(len(axis) - 1) if axis[k] < value < axis[k + 1]]
        return on or (between[0] if between else [])

    found = [rows[i][j] for i in beside(lengths, length) for j in beside(radii, radius)]
    return None if not found or None in found else min(found)


def capacity_of(job: Job, lift: Lift, slew: float, radius: float, gross_t: float) -> tuple[float | None, str]:
    """Rated capacity as the design tells: own base, smaller base, carried over where the load
    needs it, estimate; never above the chart of a base around this one."""
    machine, length = job.machine(lift.machine), lift.boom_length_m
    legs = legs_of(machine, lift.legs.as_tuple())
    parts, hook, head, at_head = parts_of(job, lift, slew, radius)
    weight, moment = sum(p[0] for p in parts), sum(p[0] * p[1] for p in parts)
    stands = inside_m(moment / weight, legs) > 1e-9
    strength, found, around = [], [], []
    for chart in job.charts:
        if chart.machine != lift.machine or chart.counterweight != lift.counterweight:
            continue
        axes = (chart.boom_length_m, chart.radius_m)
        limit = on_chart(*axes, chart.strength_t, length, radius) if chart.strength_t else None
        strength += [] if limit is None else [limit]
        start, end = chart.sector_deg
        if end - start < 360 and not (slew - start) % 360 <= (end - start) % 360:
            continue
        base = legs_of(machine, tuple(chart.leg_extension_m[leg.name] for leg in machine.legs))
        rated = on_chart(*axes, chart.capacity_t, length, radius)
        smaller = all(inside_m(p, legs) >= -1e-6 for p in base)
        contained = all(inside_m(p, base) >= -1e-6 for p in legs)
        if contained:
            around.append(rated)
        if rated is None:
            continue
        if smaller and contained:
            found.append((rated, OWN_BASE))
            continue
        test = 1.25 * rated + 0.1 * at_head if chart.rule == "test_load" else rated / machine.tipping_fraction
        point = (moment + test * hook) / (weight + test)
        far_enough = inside_m(point, legs) >= max(inside_m(point, base), 0.0) - 1e-9
        if smaller or (far_enough and stands):
            found.append((rated, SMALLER_BASE if smaller else CARRIED_OVER))
    if None in around:
        return None, "not rated"
    upper = [u for u in around if u is not None]
    if found:
        firm = [value for value, why in found if why != CARRIED_OVER]
        enough = [min([max(firm), *upper, *strength])] if firm else []
        if enough and enough[0] * job.rules.utilisation_limit_percent / 100 >= gross_t:
            found = [one for one in found if one[1] != CARRIED_OVER]
        best = min([max(value for value, _ in found), *upper])
        order = [OWN_BASE, SMALLER_BASE, CARRIED_OVER]
        why = min((why for value, why in found if value >= best), key=order.index)
        return min([best, *strength]), why
    if not strength:
        return None, "not rated"
    tip = tipping_t(parts, hook, head, legs, 0j)
    by_rule = (
        max((tip - 0.1 * at_head) / 1.25, 0.0)
        if machine.stability_rule == "test_load"
        else machine.tipping_fraction * tip
    )
    return min([by_rule, *strength, *upper]), "estimate only"


def least_work_kN(total_kN: float, at: complex, legs: list[complex], springs: list[float], twist: float | None) -> Any:
    """Reactions by least work over every set of standing legs; None without equilibrium.

    ``twist``: stiffness of the carrier between its beams (None: rigid), shared by the two bars
    from the slew axis to the beams in inverse proportion to their lengths.
    """
    best = None
    front, rear = legs[0].real, -legs[2].real
    for count in (1, 2, 3, 4):
        for on in map(list, itertools.combinations(range(4), count)):
            p = np.array([legs[i] for i in on])
            equal = np.stack([np.ones(count), p.real, p.imag])
            right = total_kN * np.array([1.0, at.real, at.imag])
            work = np.diag([1 / springs[i] for i in on])
            if twist is not None:
                for arm, beam in ((front, (0, 1)), (rear, (2, 3))):
                    side = np.array([legs[i].imag if i in beam else 0.0 for i in on])
                    work = work + np.outer(side, side) / (twist * (front + rear) / arm)
            matrix = np.block([[work, equal.T], [equal, np.zeros((3, 3))]])
            force = np.linalg.lstsq(matrix, np.concatenate([np.zeros(count), right]), rcond=None)[0]
            force = force[:count]
            if np.abs(equal @ force - right).max() > 1e-6 * total_kN or force.min() < -1e-6:
                continue
            energy = force @ work @ force
            if best is None or energy < best[0] * (1 - 1e-12):
                whole = np.zeros(4)
                whole[on] = force
                best = (energy, whole)
    return None if best is None else best[1]


def springs_under(job: Job, lift: Lift) -> list[list[float]]:
    """Springs of the legs alone, and with each kind of ground as surveyed, half and twice as stiff.

    The ground's spring: even pressure on a rectangle of an elastic half space, mean settlement by
    the fourfold integral of 1/r over it.
    """
    machine, stand, mat = job.machine(lift.machine), lift.stand, job.mat(lift.mat)
    a, b = mat.length_m, mat.width_m
    fourfold = 2 * a * a * b * math.asinh(b / a) + 2 * a * b * b * math.asinh(a / b)
    fourfold += 2 / 3 * (a**3 + b**3 - math.hypot(a, b) ** 3)
    alone = [leg.stiffness_kN_m for leg in machine.legs]
    turn = np.exp(1j * np.radians(stand.heading_deg))
    under, spring = [], {}
    for leg in legs_of(machine, lift.legs.as_tuple()):
        at = complex(stand.easting_m, stand.northing_m) + leg * turn
        corners = [at + turn * complex(x * a / 2, y * b / 2) for x, y in ((1, 1), (-1, 1), (-1, -1), (1, -1))]
        outline = Polygon([(c.real, c.imag) for c in corners])
        kinds = set()
        for zone in job.site.zones:
            if outline.intersection(Polygon(zone.polygon)).area > 1e-6 * outline.area:
                kinds.add(zone.profile)
                top, least = 0.0, []
                for layer in job.site.profile(zone.profile).layers:
                    if top < 2 * mat.width_m:
                        least.append((layer.youngs_modulus_kPa, layer.poisson))
                    top += layer.thickness_m
                if any(e is None for e, _ in least):
                    return [alone]
                e, nu = min(least)
                spring[zone.profile] = math.pi * e * (a * b) ** 2 / ((1 - nu**2) * fourfold)
        under.append(sorted(kinds))
    if not all(under):
        return [alone]
    found = [alone]
    kinds = sorted(spring)
    for scales in ([1.0] * len(kinds), *itertools.product((0.5, 2.0), repeat=len(kinds))):
        scaled = {kind: spring[kind] * s for kind, s in zip(kinds, scales, strict=True)}
        for ground in itertools.product(*([scaled[kind] for kind in leg] for leg in under)):
            found.append([1 / (1 / k + 1 / g) for k, g in zip(alone, ground, strict=True)])
    return found


def random_lift(job: Job, rng: random.Random) -> Job:
    """A demo lift on other legs, heading, boom, places, lean, wind, load and counterweight."""
    lift = rng.choice(job.lifts)
    machine = job.machine(lift.machine)
    strokes = [
        rng.choice(leg.steps_m)
        if leg.steps_m
        else rng.choice(
            [leg.extension_min_m, leg.extension_max_m, rng.uniform(leg.extension_min_m, leg.extension_max_m)]
        )
        for leg in machine.legs
    ]
    if rng.random() < 0.15:
        strokes = [strokes[0]] * 4
    lengths = machine.boom.lengths_m
    length = rng.choice([*lengths, rng.uniform(lengths[0], lengths[-1])])
    stand = lift.stand.model_copy(
        update={
            "heading_deg": rng.choice([0.0, 37.0, 143.0, -90.0, 180.0, rng.uniform(-360, 360)]),
            "tilt_x_percent": rng.choice([0.0, rng.uniform(-1, 1)]),
            "tilt_y_percent": rng.choice([0.0, rng.uniform(-1, 1)]),
        }
    )

    def place() -> dict[str, float]:
        radius = rng.choice([rng.uniform(3.2, length - 1.6), float(rng.randint(4, int(length) - 2))])
        bearing = rng.uniform(0, 2 * math.pi)
        return {
            "easting_m": stand.easting_m + radius * math.cos(bearing),
            "northing_m": stand.northing_m + radius * math.sin(bearing),
            "level_m": 3.0,
        }

    size = {"length_m": 1.0, "width_m": 1.0, "height_m": 1.0, "mass_t": rng.uniform(0.3, 8.0)}
    moved = lift.model_copy(
        update={
            "boom_length_m": length,
            "stand": stand,
            "legs": lift.legs.model_copy(update=dict(zip(("FL", "FR", "RR", "RL"), strokes, strict=True))),
            "pick": lift.pick.model_copy(update=place()),
            "set_down": lift.set_down.model_copy(update=place()),
            "carry_level_m": 3.5,
            "slew_way": rng.choice(["shortest", "clockwise", "anticlockwise"]),
            "wind_m_s": rng.choice([0.0, 7.0, 12.0]),
            "load": lift.load.model_copy(update=size),
            "counterweight": rng.choice([c.id for c in machine.counterweights]),
        }
    )
    return job.model_copy(update={"lifts": (moved,)})


def drawn(job: Job, rng: random.Random, steps: int, **changes: float) -> Any:
    """The first random lift that the facts and the boom's geometry let stand, with its studies."""
    for _ in range(20):
        own = random_lift(job, rng)
        own = own.model_copy(update={"lifts": (own.lifts[0].model_copy(update=changes),)})
        try:
            setup = build_setup(own, own.lifts[0].id)
            path = load_path(setup.lift, steps=steps)
            study = study_path(setup, path)
            around = surroundings(setup, path)
        except InputError:
            continue  # a load higher than its boom, a sling too short: refused, tried elsewhere
        return own, setup, path, study, around
    raise AssertionError("no lift in twenty stands")


@pytest.mark.parametrize("seed", range(60))
def test_random_lifts_agree_with_the_second_model(demo: Job, seed: int) -> None:
    rng = random.Random(seed)
    job, setup, path, study, _ = drawn(demo, rng, 12)
    lift = job.lifts[0]
    machine, stand = job.machine(lift.machine), lift.stand
    forces = leg_forces(setup, path, leg_supports(setup))
    centre, turn = (complex(stand.easting_m, stand.northing_m), np.exp(1j * np.radians(stand.heading_deg)))
    legs = legs_of(machine, lift.legs.as_tuple())
    for leg, (east, north) in zip(legs, setup.leg_site_xy_m, strict=True):
        assert centre + leg * turn == pytest.approx(complex(east, north), abs=1e-9)
    for place, k in ((lift.pick, 0), (lift.set_down, -1)):
        at = centre + path.radius_m[k] * np.exp(1j * np.radians(path.slew_deg[k])) * turn
        assert at == pytest.approx(complex(place.easting_m, place.northing_m), abs=1e-6)
    turned = path.slew_deg[-1] - path.slew_deg[0]
    if lift.slew_way == "shortest":
        assert abs(turned) <= 180 + 1e-9
    else:
        assert turned * (1 if lift.slew_way == "anticlockwise" else -1) >= -1e-9
    lean = complex(stand.tilt_x_percent, stand.tilt_y_percent) / 100
    factor = float(setup.gross.dynamic_factor)
    dynamic = float(setup.gross.dynamic_gross_t)
    for k in rng.sample(range(len(path)), min(2, len(path))):
        slew, radius = float(path.slew_deg[k]), float(path.radius_m[k])
        capacity, why = capacity_of(job, lift, slew, radius, setup.gross_t)
        got = study.capacity.capacity_t[k]
        if capacity is None:
            assert np.isnan(got)
        else:
            assert got == pytest.approx(capacity, rel=1e-6, abs=1e-6), why
        # data where the design gives data, an estimate only where it does not
        assert (study.capacity.source[k] >= ESTIMATE) == (why in ("estimate only", "not rated"))
        parts, hook, head, at_head = parts_of(job, lift, slew, radius)
        off = max(abs(lean), 0.01)  # 1 % is permitted, to any side
        outward = [-1j * along for _, along in lines_of(legs)]
        tip = min(tipping_t(parts, hook, head, legs, out * off) for out in outward)
        rule = (
            max((tip - 0.1 * at_head) / 1.25, 0.0)
            if machine.stability_rule == "test_load"
            else machine.tipping_fraction * tip
        )
        assert study.stability_t[k] == pytest.approx(rule, rel=1e-6, abs=1e-6)
        # wind forces are taken over (their own tests tell them); where they act is not
        wind = adverse_terms(setup, wind=True, dynamic=True, boom=study.boom)
        moment = float(
            np.broadcast_to(wind.boom_wind_force_kN, len(path))[k] * np.broadcast_to(wind.boom_wind_z_m, len(path))[k]
            + np.broadcast_to(wind.superstructure_wind_force_kN, len(path))[k]
            * np.broadcast_to(wind.superstructure_wind_z_m, len(path))[k]
            + np.broadcast_to(wind.load_wind_force_kN, len(path))[k] * head
        )
        worst = min(tipping_t(parts, hook, head, legs, out * off, out * moment, factor) for out in outward)
        assert study.tipping_t[k] == pytest.approx(worst, rel=1e-6, abs=1e-6)
        total = sum(p[0] for p in parts) + dynamic
        at = (sum(p[0] * p[1] for p in parts) + dynamic * hook) / total
        reach = moment / G / total
        reach += off * (sum(p[0] * p[2] for p in parts) + dynamic * head) / total
        weight, (xy,), found = weight_on_base(setup, [slew], radius, load_t=dynamic)
        assert float(weight[0]) == pytest.approx(total * G)
        assert complex(*xy) == pytest.approx(at, abs=1e-9)
        assert float(found[0]) == pytest.approx(reach, abs=1e-9)
        springs = springs_under(job, lift)
        stated = machine.carrier.torsional_stiffness_kNm_rad
        cases = [(None, one) for one in springs]
        cases += [(stated, one) for one in rng.sample(springs, min(2, len(springs)))]
        worst = np.zeros(4)
        for twist, one in (*cases, (1e-4, springs[0])):
            for angle in range(0, 360, 45):
                side = at + reach * np.exp(1j * np.radians(angle))
                force = least_work_kN(total * G, side, legs, one, twist)
                worst = np.maximum(worst, np.inf if force is None else force)
        had = forces.on_path.reaction_kN[k]
        # no side, carrier or ground in the model gives more, and the model claims little more
        assert np.all(had >= worst - 2e-4 * total * G)
        if np.all(np.isfinite(worst)):
            assert np.all(had <= worst + 0.02 * total * G)


def _heads(setup: Any) -> tuple[Any, Any]:
    """Radii and the heights of a straight boom's head there."""
    boom = setup.machine.boom
    angle = np.radians(np.linspace(85.0, 1.0, 5000))
    length = setup.boom.length_m
    return boom.foot_u_m + length * np.cos(angle), boom.foot_z_m + length * np.sin(angle)


@pytest.mark.parametrize("seed", range(8))
def test_distances_along_the_path_agree_with_shapely_step_by_step(
    demo: Job, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Load as a disc, boom as 200 points, tail as a polygon, all placed by complex numbers.

    A stiff boom on a machine that does not lean: what bends and leans has its own tests.
    """
    monkeypatch.setattr("liftcalc.lift.setup.Setup.tilt_any_percent", 0.0)
    rng = random.Random(seed)
    high = rng.uniform(3.0, 6.0)
    data = json.loads(demo.model_dump_json())
    for one in data["machines"]:
        one["boom"]["bending_stiffness_kNm2"] = [1e7] * len(one["boom"]["lengths_m"])
    job, setup, _, _, around = drawn(parse_fact(Job, data), rng, 20, carry_level_m=high, boom_length_m=30.0)
    lift, path, found = job.lifts[0], around.close.path, around.result
    heads = np.interp(path.radius_m, *_heads(setup))
    machine, stand = job.machine(lift.machine), lift.stand
    # the boom is several members: the nearest counts
    ordered = sorted(found.rows, key=lambda r: -r.distance_m)
    rows = {(r.obstacle, r.body): r.distance_m for r in ordered}
    weight, upper, boom = (machine.counterweight(lift.counterweight), machine.superstructure, machine.boom)
    half = max(weight.tail_width_m, upper.width_m) / 2
    reach = max(weight.tail_radius_m, upper.tail_radius_m)
    disc = math.hypot(lift.load.length_m, lift.load.width_m) / 2
    rear = math.asin(half / reach) * np.linspace(-1, 1, 60)
    rounded = [complex(-reach * math.cos(a), -reach * math.sin(a)) for a in rear]
    centre = complex(stand.easting_m, stand.northing_m)
    swung = next(b for b in around.close_bodies if b.name == "load")
    assert isinstance(swung, MovingPrism)
    corners_of_path = [k for k in range(1, len(path)) if path.stage[k] != path.stage[k - 1]]
    beside = {k + d for k in corners_of_path for d in (-1, 0, 1)} | {0, len(path) - 1}
    looked_at = sorted({k for k in beside if k < len(path)} | set(range(0, len(path), 3)))
    for thing in job.site.obstacles:
        plan = Polygon(thing.polygon)
        least = {"load": math.inf, "boom": math.inf, "counterweight tail": math.inf}

        def take(
            body: str,
            flat: Any,
            low: Any,
            high: Any,
            less: float = 0.0,
            *,
            least: dict[str, float] = least,
            thing: Any = thing,
        ) -> None:
            apart = np.maximum(np.maximum(thing.base_level_m - high, low - thing.top_level_m), 0)
            near = float(np.min(np.hypot(np.maximum(flat, 0.0), apart))) - less
            least[body] = min(least[body], max(near, 0.0))

        for k in looked_at:
            out = np.exp(1j * np.radians(path.slew_deg[k] + stand.heading_deg))
            tip = centre + path.radius_m[k] * out
            low, hang = path.level_m[k], heads[k] + stand.level_m - path.level_m[k]
            # what wind and slewing swing the load by is taken over (the rope's own rows tell it)
            spread = float(swung.spread_m[k])
            assert spread >= disc - 1e-9
            lift_m = hang * (1 - math.cos(math.atan((spread - disc) / hang)))
            at = Point(tip.real, tip.imag)
            take("load", plan.distance(at) - spread, low, low + lift.load.height_m + lift_m)
            foot = centre + boom.foot_u_m * out
            share = np.linspace(0, 1, 200)
            axis = foot + (tip - foot) * share
            level = stand.level_m + boom.foot_z_m + (heads[k] - boom.foot_z_m) * share
            flat = shapely.distance(plan, shapely.points(axis.real, axis.imag))
            take("boom", flat, level, level, math.hypot(boom.width_m, boom.depth_m) / 2)
            corners = [complex(0.5, -half), complex(0.5, half), *rounded]
            tail = Polygon([((centre + c * out).real, (centre + c * out).imag) for c in corners])
            take(
                "counterweight tail",
                plan.distance(tail),
                stand.level_m + upper.bottom_z_m,
                stand.level_m + upper.top_z_m,
            )
        for body, tolerance in (("load", 0.03), ("boom", 0.02), ("counterweight tail", 0.03)):
            assert rows[thing.id, body] == pytest.approx(least[body], abs=tolerance), body
        # the package's outline lies around the rounded tail, never inside it
        assert rows[thing.id, "counterweight tail"] <= least["counterweight tail"] + 1e-3


def test_the_path_is_refined_until_the_worst_values_stand_still(demo: Job) -> None:
    """A lift that slews past a corner of its base, sampled ever finer from coarse steps."""
    job = changed(
        demo,
        "L3",
        pick={"easting_m": 41.0, "northing_m": 18.3, "level_m": 4.2},
        set_down={"easting_m": 31.0, "northing_m": 28.3, "level_m": 4.2},
    )
    setup = build_setup(job, "L3")
    coarse = refined_study(setup, slew_step_deg=40.0, length_step_m=5.0)[0]
    assert len(coarse) > len(load_path(setup.lift, slew_step_deg=40.0, length_step_m=5.0))
    dense = study_path(setup, load_path(setup.lift, slew_step_deg=0.02, length_step_m=0.02))
    found = study_path(setup, coarse)
    assert found.stability_t.min() == pytest.approx(dense.stability_t.min(), rel=0.002)
    assert found.utilisation.max() == pytest.approx(dense.utilisation.max(), rel=0.002)
    a = assess_lift(job, "L3")
    assert "0.1 % allowed" in a.path.refinement


def test_a_gap_between_chart_sectors_narrower_than_a_step_is_found(demo: Job) -> None:
    """L1 slews from 86 to 244 degrees: charts rated up to 150.2 and again from 150.4 degrees."""
    data = json.loads(demo.model_dump_json())
    for chart in data["charts"]:
        chart["sector_deg"] = [150.4, 150.2 + 360.0]
    a = assess_lift(parse_fact(Job, data), "L1")
    assert rows_of(a.lift)["capacity"].status == "no_data"
    assert rows_of(a.layout)["layout-capacity-data"].status == "no_data"
    gap = a.study.capacity.source >= ESTIMATE
    assert np.all((a.path.slew_deg[gap] > 150.2) & (a.path.slew_deg[gap] < 150.4))
    assert a.path.slew_deg[0] == pytest.approx(85.7, abs=0.1)


def test_the_greatest_sling_tension_is_what_statics_allows(demo: Job) -> None:
    """Four legs of a rigid load: the greatest tension of any leg, by linear programme."""
    for name in ("L1", "L2", "L7", "L8"):
        a = assess_lift(changed(demo, name, load__cg_x_m=0.2, load__cg_y_m=-0.1), name)
        hang, load = a.rigging.hanging, a.setup.lift.load
        ropes = a.rigging.hook_m - a.rigging.lugs_m
        ropes = ropes / np.linalg.norm(ropes, axis=1)[:, None]
        up = a.rigging.hook_m - np.array([0.2, -0.1, load.height_m / 2 + load.cg_z_m])
        up = up / np.linalg.norm(up)
        hung = load.mass_t * (1 + load.contingency_percent / 100) + hang.gear.mass_t
        greatest = [
            -linprog(-np.eye(4)[i], A_eq=ropes.T, b_eq=hung * G * up, bounds=[(0, None)] * 4).fun for i in range(4)
        ]
        expected = float(a.setup.gross.dynamic_factor) * np.array(greatest)
        assert a.rigging.tension_kN == pytest.approx(expected, rel=1e-6)


def test_mats_press_with_the_whole_force_and_their_own_weight(demo: Job) -> None:
    for name in ("L1", "L6", "L8"):
        a = assess_lift(demo, name)
        assert a.ground is not None
        for leg, force in zip(a.ground.legs, a.forces.design_kN, strict=True):
            area = leg.effective_length_m * leg.effective_width_m
            weight = a.setup.mat.mass_t * G
            assert leg.pressure_kPa * area == pytest.approx(force + weight, rel=1e-6)
            assert leg.effective_length_m <= a.setup.mat.length_m + 1e-9
            assert leg.effective_width_m <= a.setup.mat.width_m + 1e-9


def _number(text: str, before: str, after: str) -> float:
    return float(text_in_units(text, "metric").split(before)[1].split(after)[0])


@pytest.mark.parametrize("limit_percent", [100.0, 90.0, 75.0])
def test_each_remedy_for_a_load_over_its_capacity_is_enough_when_followed(demo: Job, limit_percent: float) -> None:
    """Mass off the hook, a smaller radius, and legs fully out, each tried as the sheet says."""
    data = json.loads(demo.model_dump_json())
    data["rules"]["utilisation_limit_percent"] = limit_percent
    job = parse_fact(Job, data)
    plan = job.lift("L6")
    east, north = plan.set_down.easting_m, plan.set_down.northing_m
    east, north = east - plan.stand.easting_m, north - plan.stand.northing_m

    def assessed(**changes: Any) -> LiftAssessment:
        return assess_lift(changed(job, "L6", **changes), "L6")

    def capacity(**changes: Any) -> Any:
        return rows_of(assessed(**changes).lift)["capacity"]

    remedy = capacity().remedy
    assert remedy.startswith("For rated capacity alone: ")
    over = _number(remedy, "ake ", " t off")
    assert capacity(load__mass_t=6.2 - over / 1.10).status == "within"
    assert capacity(load__mass_t=6.2 - (over - 0.03) / 1.10).status == "over"
    radius = _number(remedy, "within ", " m radius")
    nearer = _number(remedy, "(crane position ", " m nearer)")
    farthest = math.hypot(east, north)
    assert farthest - 0.1 < radius + nearer < farthest + 0.2
    at = math.atan2(north, east)
    place = {
        "easting_m": plan.stand.easting_m + radius * math.cos(at),
        "northing_m": plan.stand.northing_m + radius * math.sin(at),
    }
    assert capacity(set_down={**place, "level_m": 4.2}).status == "within"
    full = assessed(legs__FL=3.2, legs__RL=3.2)
    before = assessed()
    over_before, over_full = ({c.id for c in a.checks if c.status != "within"} for a in (before, full))
    helps = "capacity" not in over_full and over_full <= over_before
    named = enough(before, rows_of(before.lift)["capacity"])
    assert any(change.update.keys() == {"legs"} for change in named) == helps


def test_the_wind_named_in_a_remedy_is_low_enough(demo: Job) -> None:
    remedy = rows_of(assess_lift(demo, "L7").lift)["wind"].remedy
    named = _number(remedy, "up to ", " m/s")
    at = changed(demo, "L7", wind_m_s=named)
    assert rows_of(assess_lift(at, "L7").lift)["wind"].status == "within"
    above = changed(demo, "L7", wind_m_s=named + 0.1)
    assert rows_of(assess_lift(above, "L7").lift)["wind"].status == "over"


def test_carrying_the_load_as_high_as_the_remedy_says_is_enough(demo: Job) -> None:
    """L1 carried over the flood wall (top 4.6 m, 0.3 m to keep) too low: into it, and just over."""
    for level in (4.3, 4.62, 4.77):
        row = rows_of(assess_lift(changed(demo, "L1", carry_level_m=level), "L1").lift)["clearance-load"]
        assert row.status == "over"
        named = _number(row.remedy, "at level ", " m or higher")
        assert 4.9 <= named < 5.1
        lifted = changed(demo, "L1", carry_level_m=named)
        assert rows_of(assess_lift(lifted, "L1").lift)["clearance-load"].status == "within"


def test_a_chart_row_that_ends_within_the_settlement_is_read_beyond_it(demo: Job) -> None:
    """L3 moved to slew at exactly 10 m: a millimetre of lean leaves that row of the chart."""
    job = changed(
        demo,
        "L3",
        pick={"easting_m": 41.0, "northing_m": 18.3, "level_m": 4.2},
        set_down={"easting_m": 31.0, "northing_m": 28.3, "level_m": 4.2},
    )
    a = assess_lift(job, "L3")
    row = rows_of(a.ground_rows)["capacity-settled"]
    planned = rows_of(a.lift)["capacity"]
    chart = next(c for c in job.charts if c.id in row.reference)
    row_25 = chart.capacity_t[chart.boom_length_m.index(25.0)]
    by_radius = dict(zip(chart.radius_m, row_25, strict=True))
    assert planned.limit == by_radius[10.0]
    assert row.limit == by_radius[12.0]
    assert row.status == "within"
    more = (by_radius[10.0] + by_radius[12.0]) / 2 - a.setup.gross_t
    heavy = assess_lift(changed(job, "L3", load__mass_t=1.8 + more / 1.1), "L3")
    assert rows_of(heavy.lift)["capacity"].status == "within"
    assert rows_of(heavy.ground_rows)["capacity-settled"].status == "over"


def test_the_mat_remedy_of_the_slab_brings_every_check_within(demo: Job) -> None:
    slab = assess_lift(demo, "L8")
    remedies = {c.remedy for c in slab.verdict.failed if "neighbours" not in c.id}
    assert all("Use mat steel-2.4" in r and "no longer" not in r for r in remedies)
    assert assess_lift(changed(demo, "L8", mat="steel-2.4"), "L8").verdict.status == "within"
    beside_pit = changed(demo, "L8", stand__easting_m=34.0)
    remedy = rows_of(assess_lift(beside_pit, "L8").ground_rows)["ground-FL"].remedy
    assert "no longer within: Set-back, mat to edge of cable-pit" in remedy


def test_the_empty_machine_loads_its_legs_at_slews_outside_the_path(demo: Job) -> None:
    """L7 slews over one side only; its boom comes from and returns over the other."""
    a = assess_lift(changed(demo, "L7", wind_m_s=0.0), "L7")
    lift, machine = a.setup.lift, a.setup.machine
    block = machine.hook_block(lift.hook_block).mass_t
    legs = legs_of(machine, lift.legs.as_tuple())
    springs = [leg.stiffness_kN_m for leg in machine.legs]
    radius = a.setup.boom.radius_min_m
    worst = np.zeros(4)
    for slew in range(0, 360, 5):
        parts, hook, *_ = parts_of(a.job, lift, float(slew), radius)
        total = sum(p[0] for p in parts) + block
        at = (sum(p[0] * p[1] for p in parts) + block * hook) / total
        worst = np.maximum(worst, least_work_kN(total * G, at, legs, springs, None))
    assert np.all(a.forces.design_kN >= worst - 1e-6)
    on_path = a.forces.on_path.max_kN
    assert np.any(a.forces.design_kN > on_path + 10.0)


@pytest.mark.parametrize(
    ("place", "level", "status"),
    [
        ("set_down", 3.0, "within"),  # the hardstand lies at about 3.0 m there
        ("set_down", 2.5, "over"),
        ("set_down", -30.0, "over"),
        ("pick", -1.2, "within"),  # on the floor of the forebay
        ("pick", -30.0, "over"),
    ],
)
def test_a_level_below_the_ground_does_not_pass(demo: Job, place: str, level: float, status: str) -> None:
    job = changed(demo, "L1", **{f"{place}__level_m": level})
    assert rows_of(assess_lift(job, "L1").lift)["load-above-ground"].status == status


def test_a_counterweight_wider_than_its_tail_radius_is_refused(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    data["machines"][0]["counterweights"][0] |= {"tail_radius_m": 1.0, "tail_width_m": 2.5}
    with pytest.raises(InputError, match="half of tail_width_m"):
        parse_fact(Job, data)
