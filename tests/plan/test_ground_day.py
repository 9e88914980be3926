"""The ground on the day: platform, tests that prove the ground, sections, what is not checked."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import Safe, format_value, text_in_units
from liftcalc.facts.ground import Layer
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.ground import platetests, sitetests
from liftcalc.ground.check import mat_on_ground
from liftcalc.ground.platform import working_platform
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.ground_facts import bearing_rule, mat_properties
from liftcalc.lift.ground_sections import ground_sections, leg_section
from liftcalc.plan import ground_day, ground_platform, ground_proof

DEMO = json.loads(load_job(demo_job_path()).model_dump_json())
Change = Callable[[Any, Any], object]


def show(value: float | None, quantity: str, safe: Safe = "") -> str:
    return format_value(value, quantity, "metric", safe)


def assessed(lift_id: str, change: Change = lambda job, lift: None) -> LiftAssessment:
    data = copy.deepcopy(DEMO)
    lift = next(one for one in data["lifts"] if one["id"] == lift_id)
    change(data, lift)
    return assess_lift(parse_fact(Job, data), lift_id, steps=40)


@pytest.fixture(scope="module")
def bank() -> LiftAssessment:
    """L8: two outriggers on the soft bank."""
    return assessed("L8")


@pytest.fixture(scope="module")
def hard() -> LiftAssessment:
    """L1: all on the hardstand."""
    return assessed("L1")


def fill_of(job: Any) -> Any:
    return job["rules"]["ground"]["platform_fill"]


def zone(job: Any, id: str) -> Any:
    return next(p for p in job["site"]["ground"] if p["id"] == id)


def test_a_mat_that_does_needs_no_platform_and_has_no_row(hard: LiftAssessment) -> None:
    assert [p.thickness_m for p in ground_platform.leg_platforms(hard)] == [0.0] * 4
    assert ground_platform.platform_checks(hard) == []
    assert [r[2] for r in ground_platform.platform_rows(hard, show)] == ["none needed"] * 4


def test_the_platform_below_the_bank_is_checked_anew_by_both_methods(bank: LiftAssessment) -> None:
    """The thickness answered holds by the owner's rule and by BR 470; 0.1 m less does not."""
    fill, g = bank.setup.rules.ground.platform_fill, bank.ground.legs[0]
    platform, leg = ground_platform.leg_platforms(bank)[0], bank.setup.machine.legs[0]
    mat = mat_properties(bank.setup.mat)

    def on(thickness: float) -> Any:
        ground = ground_platform.with_fill(g.profile, fill, thickness, mat.width_m)
        return mat_on_ground(mat, g.reaction_kN, ground, bearing_rule(bank.setup),
                             float_length_m=leg.float_length_m,
                             float_width_m=leg.float_width_m).check  # fmt: skip

    check = on(platform.thickness_m)
    assert check.pressure_kPa <= check.allowable_kPa
    W, L = sorted((float(check.effective_width_m), float(check.effective_length_m)))
    need = working_platform(W, L, q_kPa=float(check.pressure_kPa), cu_kPa=28.0,
                            phi_platform_deg=40.0, unit_weight_platform_kN_m3=20.0,
                            water="below the platform").thickness_m  # fmt: skip
    assert 0.0 < need <= platform.thickness_m
    thinner = on(platform.thickness_m - 0.1)
    assert thinner.pressure_kPa > thinner.allowable_kPa


def test_a_larger_mat_needs_a_thinner_platform_or_none(bank: LiftAssessment) -> None:
    def mat(id: str) -> LiftAssessment:
        return assessed("L8", lambda job, lift: lift.update(mat=id))

    own, larger, bare = (ground_platform.leg_platforms(a)[0].thickness_m
                         for a in (bank, mat("timber-1.8"), mat("steel-2.4")))  # fmt: skip
    assert own > larger > bare == 0.0


def test_extent_covers_the_ground_that_counts_beside_a_mat(bank: LiftAssessment) -> None:
    found = [p for p in ground_platform.leg_platforms(bank) if p.thickness_m > 0]
    assert len(found) == 2
    for p in found:
        assert p.extent_m >= p.thickness_m
        assert p.extent_m >= bank.setup.mat.width_m


def test_the_row_holds_the_platform_to_the_water_and_to_what_lies_below(bank: LiftAssessment) -> None:
    rows = {c.id: c for c in ground_platform.platform_checks(bank)}
    assert rows.keys() == {"platform-FL", "platform-RL"}
    assert rows["platform-FL"].status == "over"
    assert rows["platform-FL"].limit == 1.0  # the water of BH2, above the permissible 1.2 m
    assert "water" in rows["platform-FL"].reference

    def deep(job: Any, lift: Any) -> None:
        zone(job, "BH2")["water_depth_m"], fill_of(job)["permissible_depth_m"] = 3.0, 2.0

    rows = {c.id: c for c in ground_platform.platform_checks(assessed("L8", deep))}
    assert {c.status for c in rows.values()} == {"within"}

    def pipe(job: Any, lift: Any) -> None:
        deep(job, lift)
        main = {**job["site"]["services"][0], "id": "main", "kind": "pipe", "width_m": 0.3}
        line = [[35.0, 26.4], [38.0, 26.4]]
        job["site"]["services"].append(main | {"line": line, "crown_depth_m": 0.8})

    row = ground_platform.platform_checks(assessed("L8", pipe))[0]
    assert (row.id, row.status, row.limit) == ("platform-FL", "over", pytest.approx(0.8 - 0.5))
    assert "crown of main" in row.reference

    def pit(job: Any, lift: Any) -> None:
        deep(job, lift)
        hole = [[36.0, 26.0], [37.0, 26.0], [37.0, 26.6], [36.0, 26.6]]
        job["site"]["excavations"].append({"id": "sump", "polygon": hole, "depth_m": 0.5})

    row = ground_platform.platform_checks(assessed("L8", pit))[0]
    assert (row.status, row.limit) == ("over", 0.0)


@pytest.mark.parametrize(("field", "value"), [("used", False), ("fill", None)])
def test_without_a_platform_that_is_laid_there_is_no_row(field: str, value: Any) -> None:
    def change(job: Any, lift: Any) -> None:
        if field == "fill":
            job["rules"]["ground"]["platform_fill"] = None
        else:
            fill_of(job)[field] = value

    a = assessed("L8", change)
    assert ground_platform.platform_checks(a) == []
    words = ground_platform.platform_rows(a, show)[0]
    assert ("no fill stated" in words[-1]) == (field == "fill")


def test_a_platform_full_of_water_is_thicker_or_none(bank: LiftAssessment) -> None:
    wet = assessed("L8", lambda job, lift: fill_of(job).update(drained=False))
    for dry, soaked in zip(*map(ground_platform.leg_platforms, (bank, wet)), strict=True):
        assert not soaked.thickness_m < dry.thickness_m


def test_soft_ground_outside_the_method_is_refused_with_the_reason() -> None:
    def soft(job: Any, lift: Any) -> None:
        for layer in zone(job, "BH2")["layers"][:2]:
            layer.update(cu_kPa=15.0, phi_deg=None, c_kPa=None)

    a = assessed("L8", soft)
    platform = ground_platform.leg_platforms(a)[0]
    assert np.isnan(platform.thickness_m)
    row = ground_platform.platform_checks(a)[0]
    assert row.status == "no_data"
    assert "will do" in row.title


CLAY = Layer(name="clay", thickness_m=4.0, unit_weight_kN_m3=18.0, cu_kPa=40.0,
             liquid_limit_percent=50.0, plasticity_index_percent=30.0)  # fmt: skip


def test_each_figure_gives_the_strength_and_one_step_less_does_not() -> None:
    grid = np.linspace(1.0, 120.0, 239)
    value = sitetests.vane_undrained_strength(grid, 50.0).value
    reading = ground_proof.first_reading(grid, value, 40.0)
    assert sitetests.vane_undrained_strength(reading, 50.0).value >= 40.0 - 1e-9
    assert sitetests.vane_undrained_strength(reading - 0.5, 50.0).value < 40.0
    assert ground_proof.first_reading(grid, value, 1000.0) is None
    assert ground_proof.first_reading(grid, np.full(239, np.nan), 1.0) is None
    # a dip after the first that is enough: only the readings beyond it prove
    assert ground_proof.first_reading(np.arange(4.0), np.array([5.0, 1.0, 5.0, 6.0]), 4.0) == 2.0


def test_the_probe_holds_by_every_form_that_may_apply() -> None:
    words, source, holds = ground_proof.probe_proof(CLAY)
    most = float(words.split("⟦")[1].split()[0])
    for form in ("webster", "webster_ch", "webster_cl"):
        cbr = float(sitetests.dcp_cbr(most, correlation=form).value)
        assert sitetests.cbr_undrained_strength(cbr).value >= 40.0 * 0.999
    assert "from memory" in source
    assert "stones give false high values" in holds
    assert ground_proof.probe_proof(CLAY.model_copy(update={"cu_kPa": 240.0}))[0] == ""


def test_an_unknown_index_is_unsafe_or_no_figure() -> None:
    plain = CLAY.model_copy(update={"liquid_limit_percent": None, "plasticity_index_percent": None})
    words = text_in_units(ground_proof.vane_proof(plain)[0], "metric")
    assert words.startswith("every reading at least 80.0 kPa")  # 40 kPa over the lowest mu, 0.5
    assert "unknown" in words
    assert ground_proof.blows_proof(plain)[0] == ""
    fat = CLAY.model_copy(update={"plasticity_index_percent": 80.0})
    assert ground_proof.blows_proof(fat)[0] == ""
    stiff = CLAY.model_copy(update={"cu_kPa": 150.0})
    assert ground_proof.vane_proof(stiff)[0] == ""


def test_the_plate_figures_pass_the_evaluation_of_a_plate_test(hard: LiftAssessment) -> None:
    g = max(hard.ground.legs, key=lambda one: one.pressure_kPa)
    words = text_in_units(ground_proof.plate_proof(g, 40.0, 3.0)[0], "metric")
    assert words.startswith("0.5 mm or less at ")
    assert "Ev1 at least 60" in words
    # modulus of the rock, 60 MPa: 0.75 x 0.3 m x 156.8 kPa / 60 MPa = 0.588 mm
    q = g.pressure_kPa
    settled = 0.75 * 0.3 * q / 60000.0 * 1000.0
    value = platetests.plate_test_allowable(
        [0.0, 0.5 * q, q, 3.0 * q], [0.0, 0.5 * settled, settled, 30.0], plate_width_m=0.3,
        B_m=g.effective_width_m, soil="sand", factor=3.0, settlement_limit_mm=40.0,
    )  # fmt: skip
    assert value.value >= q * (1 - 1e-9)


def test_ground_that_does_not_carry_has_no_plate_figure_for_it(bank: LiftAssessment) -> None:
    rows = [r for r in ground_proof.proof_rows(bank) if r[0].startswith("BH2") and "plate" in r[2]]
    assert rows[0][3].startswith("NOT COVERED: the ground as surveyed does not carry it")
    assert "platform of crushed rock" in rows[1][0]
    assert "30 mm or less" in text_in_units(rows[1][3], "metric")


def test_every_figure_names_its_correlation_and_what_it_holds_for(bank: LiftAssessment) -> None:
    named = {row[0]: row for row in ground_proof.source_rows(bank)}
    for *_, test, figure in ground_proof.proof_rows(bank):
        if not figure.startswith("NOT COVERED"):
            _, source, holds = named[test]
            assert "from memory" in source or "transcription" in source or "second-hand" in source
            assert len(holds) > 20


def test_a_section_shows_true_distances_and_depths(bank: LiftAssessment) -> None:
    wall = leg_section(bank, 0)
    assert wall.nearest == "flood-wall-face"
    assert wall.gap_m == pytest.approx(bank.place.mats[0].distance(wall.things[0].thing.shape))
    (beside,) = wall.things
    assert beside.span_m[0] == pytest.approx(wall.mat_m[1] + 2.5)
    assert beside.top_m - beside.bottom_m == pytest.approx(2.2)
    u, was, now = wall.surface_m.T
    assert np.interp(0.0, u, now) == pytest.approx(bank.place.level_m[0], abs=0.02)
    assert np.allclose((was - now)[u > beside.span_m[0] + 1e-3], 2.2, atol=0.05)
    assert not wall.surveyed[u > beside.span_m[0] + 1e-3].any()
    assert {p.id for _, p in wall.bands} == {"BH1", "BH2"}
    pit = leg_section(bank, 1)
    assert (pit.nearest, round(pit.gap_m, 2)) == ("cable-pit", 3.1)


def test_outriggers_that_stand_alike_share_one_section(bank: LiftAssessment) -> None:
    sections = ground_sections(bank)
    assert [s.legs for s in sections] == [("FL", "RL"), ("FR",)]
    assert sections[0].leg.reaction_kN >= bank.ground.legs[3].reaction_kN


def test_with_nothing_beside_a_section_shows_the_mat_on_its_layers() -> None:
    def empty(job: Any, lift: Any) -> None:
        job["site"] |= {"excavations": [], "services": [], "retaining_walls": []}

    (section,) = ground_sections(assessed("L1", empty))
    assert (section.nearest, section.gap_m, section.things) == ("", 0.0, ())
    assert len(section.legs) == 4


def test_a_slab_says_what_is_not_checked() -> None:
    def slab(job: Any, lift: Any) -> None:
        job["site"]["services"][0]["kind"] = "slab"

    for change, words in ((slab, "NOT checked"), (lambda job, lift: None, "none stated")):
        rows = {r[0]: r[1] for r in ground_day.day_rows(assessed("L5", change))}
        assert words in rows["Suspended slabs"]
        assert "NOT looked for" in rows["Voids, BH1"]


@pytest.mark.parametrize(("service", "factor"), [(None, 0.67), ("dry", 0.67), ("wet", 1.0)])
def test_timber_not_stated_for_wet_service_is_weaker(service: str | None, factor: float) -> None:
    def change(job: Any, lift: Any) -> None:
        next(m for m in job["mats"] if m["id"] == lift["mat"])["service"] = service

    a = assessed("L1", change)
    (row,) = ground_day.wet_mat_check(a)
    crushed = max(g.mat_utilisation["crushing"] for g in a.ground.legs)
    assert row.value == pytest.approx(100.0 * crushed / factor)
    assert ground_day.wet_mat_check(assessed("L5")) == []  # steel
