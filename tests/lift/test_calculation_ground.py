"""The calculation of the ground pressure sheet leads to every check, from what it prints."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from liftcalc.facts.io import parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift import calculation_ground
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_ground import governing_way, ground_calculation
from liftcalc.lift.calculation_mechanism import allowable_rows
from liftcalc.lift.ground_tables import mat_rows, mechanism_rows, profile_rows

sys.path.insert(0, str(Path(__file__).parents[1] / "facts"))
from other_job import other_job

LIFTS = ["L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8"]


@pytest.fixture(scope="module")
def lifts(demo: Job) -> dict[str, LiftAssessment]:
    return {lift.id: assess_lift(demo, lift.id) for lift in demo.lifts}


def whole(a: LiftAssessment, monkeypatch: pytest.MonkeyPatch) -> Calculation:
    """The calculation of every check, not only of those near their limit."""
    monkeypatch.setattr(calculation_ground, "NEAR", 0.0)
    return ground_calculation(a, a.ground_rows)


def numbered(a: LiftAssessment) -> set[str]:
    """Checks with a value and a limit: those that a calculation can reach."""
    return {c.id for c in a.ground_rows if c.value is not None and c.limit is not None}


@pytest.mark.parametrize("lift", LIFTS)
def test_every_check_of_every_demo_lift_follows_from_what_is_printed(
    lifts: dict[str, LiftAssessment], lift: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = whole(lifts[lift], monkeypatch)
    assert c.mismatches == []
    assert c.reached.keys() == numbered(lifts[lift])


@pytest.mark.parametrize("lift", LIFTS)
def test_the_sheet_works_what_governs_and_what_comes_near(lifts: dict[str, LiftAssessment], lift: str) -> None:
    a = lifts[lift]
    c = ground_calculation(a, a.ground_rows)
    near = {r.id for r in a.ground_rows if (r.utilisation or 0) >= 0.8}
    most = max(a.ground_rows, key=lambda r: r.utilisation or 0)
    assert near | {most.id} <= c.reached.keys()
    assert len([id for id in c.reached if id.startswith("leg-")]) >= 1
    assert len([id for id in c.reached if id.startswith("ground-")]) >= 1
    assert all(row["source"] for s in c.block()["sections"] for row in s["rows"] if row["numbers"])


def test_the_outrigger_whose_ground_fails_is_worked_not_the_one_pressed_most(lifts: dict[str, LiftAssessment]) -> None:
    a = lifts["L8"]
    sections = ground_calculation(a, a.ground_rows).block()["sections"]
    assert a.forces.design_kN.argmax() == 2
    assert "FL" in sections[2]["title"]
    assert "FL" in sections[3]["title"]


def ground_job(demo: Job, layers: list[dict[str, Any]], **rule: Any) -> Job:
    """The demo job with other ground under every outrigger of L1."""
    data = json.loads(demo.model_dump_json())
    for profile in data["site"]["ground"]:
        base = profile["layers"][-1]
        profile["layers"] = [{**base, "cu_kPa": None, "phi_deg": None, "c_kPa": None, **layer}
                             for layer in layers]  # fmt: skip
        profile["presumptive"] = None
    data["rules"]["ground"] |= rule
    return parse_fact(Job, data)


SAND = {"name": "sand", "thickness_m": 1.2, "phi_deg": 34.0, "c_kPa": 0.0}
THIN = {"name": "fill", "thickness_m": 0.4, "phi_deg": 36.0, "c_kPa": 0.0}
CLAY = {"name": "clay", "thickness_m": 20.0, "cu_kPa": 60.0}
CRUST = {"name": "crust", "thickness_m": 0.8, "cu_kPa": 110.0}
C_PHI = {"name": "silt", "thickness_m": 20.0, "phi_deg": 27.0, "c_kPa": 8.0}
GROUND = {
    "clay": [CLAY],
    "sand": [{**SAND, "thickness_m": 20.0}],
    "c-phi": [C_PHI],
    "little friction": [{**C_PHI, "phi_deg": 9.0, "c_kPa": 40.0}],
    "sand over clay": [SAND, CLAY],
    "hardly any friction over clay": [{**SAND, "phi_deg": 19.0, "c_kPa": 30.0}, CLAY],
    "thin fill over clay": [THIN, CLAY],
    "fill and sand over clay": [THIN, SAND, CLAY],
    "fill and looser sand over clay": [THIN, {**SAND, "thickness_m": 0.3, "phi_deg": 31.0}, {**CLAY, "cu_kPa": 45.0}],
    "crust over clay": [CRUST, CLAY],
    "crust over little softer clay": [CRUST, {**CLAY, "cu_kPa": 95.0}],
    "dense over loose sand": [{**THIN, "phi_deg": 42.0}, {**SAND, "thickness_m": 20.0, "phi_deg": 26.0}],
    "clay over sand over clay": [CRUST, {**SAND, "name": "band"}, {**CLAY, "cu_kPa": 30.0}],
}


@pytest.mark.parametrize("method", ["meyerhof", "hansen", "vesic", "en1997"])
@pytest.mark.parametrize("safety", ["global", "en1997 DA1"])
@pytest.mark.parametrize("ground", GROUND)
def test_every_mechanism_follows_from_what_is_printed(
    demo: Job, ground: str, safety: str, method: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    a = assess_lift(ground_job(demo, GROUND[ground], safety=safety, method=method), "L1", steps=12)
    c = whole(a, monkeypatch)
    assert c.mismatches == []
    assert c.reached.keys() == numbered(a)
    assert a.ground is not None
    for g in a.ground.legs[:1]:
        for name, layer, value in g.mechanisms:
            way = replace(governing_way(a, g), mechanism=name, layer=layer, value_kPa=value)
            allowable_rows(c, a.setup, way)
    assert c.mismatches == []


def test_the_set_of_ground_cases_covers_every_mechanism(demo: Job) -> None:
    seen = set()
    for layers in GROUND.values():
        ground = assess_lift(ground_job(demo, layers), "L1", steps=12).ground
        assert ground is not None
        seen |= {name for name, _, _ in ground.legs[0].mechanisms}
    assert seen == {
        "undrained bearing",
        "undrained bearing with load spread",
        "drained bearing",
        "drained bearing with load spread",
        "punching through granular layer",
        "punching through stiffer clay",
    }


def test_a_presumptive_value_is_worked(demo: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    data = json.loads(ground_job(demo, [CLAY]).model_dump_json())
    for profile in data["site"]["ground"]:
        profile["presumptive"] = {"table": "ibc-1806.2", "name": "sandy gravel and gravel (GW, GP)"}
    a = assess_lift(parse_fact(Job, data), "L1", steps=12)
    c = whole(a, monkeypatch)
    assert c.mismatches == []
    assert a.ground is not None
    g = a.ground.legs[0]
    name, layer, value = next(m for m in g.mechanisms if m[0].startswith("presumptive"))
    way = replace(governing_way(a, g), mechanism=name, layer=layer, value_kPa=value)
    allowable_rows(c, a.setup, way)
    assert c.mismatches == []


def _mean_wind(data: Any, lift: Any) -> None:
    lift["wind_basis"], lift["wind_m_s"] = "at 10 m mean", 6.0


def _plate_test(data: Any, lift: Any) -> None:
    for profile in data["site"]["ground"]:
        profile["subgrade_modulus_kN_m3"] = 9000.0
        for layer in profile["layers"]:
            layer["youngs_modulus_kPa"] = None


def _both_moduli(data: Any, lift: Any) -> None:
    for profile in data["site"]["ground"]:
        profile["subgrade_modulus_kN_m3"] = 9000.0


def _no_modulus(data: Any, lift: Any) -> None:
    for profile in data["site"]["ground"]:
        profile["subgrade_modulus_kN_m3"] = None
        for layer in profile["layers"]:
            layer["youngs_modulus_kPa"] = None


def _unequal_beams(data: Any, lift: Any) -> None:
    for leg in data["machines"][0]["legs"]:
        leg["x_m"] += {"FL": 0.1, "RR": -0.2}.get(leg["name"], 0.0)


def _tilted(data: Any, lift: Any) -> None:
    lift["stand"]["tilt_x_percent"], lift["stand"]["tilt_y_percent"] = 0.6, -0.4


def _steel(data: Any, lift: Any) -> None:
    lift["mat"] = "steel-2.4"


def _composite(data: Any, lift: Any) -> None:
    lift["mat"] = "composite-2.4"


def _long(data: Any, lift: Any) -> None:
    lift["mat"] = "timber-4.0"


def _share(data: Any, lift: Any) -> None:
    data["rules"]["utilisation_limit_percent"] = 90.0


def _beside_pit(data: Any, lift: Any) -> None:
    lift["stand"] |= {"easting_m": 38.0, "northing_m": 17.4, "level_m": 3.02}


CHANGES = [
    _mean_wind,
    _plate_test,
    _both_moduli,
    _no_modulus,
    _unequal_beams,
    _tilted,
    _steel,
    _composite,
    _long,
    _share,
]


@pytest.mark.parametrize("lift", ["L1", "L6", "L8"])
@pytest.mark.parametrize("change", CHANGES, ids=lambda c: c.__name__.strip("_"))
def test_other_facts_are_worked_to_every_check(
    assess: Any, lift: str, change: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    a = assess(lift, change, steps=40)
    c = whole(a, monkeypatch)
    assert c.mismatches == []
    assert c.reached.keys() == numbered(a)


@pytest.mark.parametrize("lift", ["S2", "S3", "S4"])
def test_lifts_of_another_job_are_worked_to_every_check(demo: Job, lift: str, monkeypatch: pytest.MonkeyPatch) -> None:
    a = assess_lift(parse_fact(Job, other_job(json.loads(demo.model_dump_json()))), lift)
    c = whole(a, monkeypatch)
    assert c.mismatches == []
    assert c.reached.keys() == numbered(a)


def test_an_edge_beside_a_mat_is_worked(assess: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    c = whole(assess("L1", _beside_pit), monkeypatch)
    assert c.mismatches == []
    assert "slip-cable-pit" in c.reached


def test_outriggers_that_lift_are_worked_by_statics(
    lifts: dict[str, LiftAssessment], monkeypatch: pytest.MonkeyPatch
) -> None:
    text = json.dumps(whole(lifts["L6"], monkeypatch).block(), ensure_ascii=False)
    assert "in the air, V on the three others" in text


def test_a_crane_that_tips_says_so_and_works_nothing(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    next(x for x in data["lifts"] if x["id"] == "L6")["load"]["mass_t"] = 9.5
    a = assess_lift(parse_fact(Job, data), "L6")
    assert not np.isfinite(a.forces.design_kN).all()
    c = ground_calculation(a, a.ground_rows)
    assert c.reached == {}
    assert "DO NOT LIFT" in json.dumps(c.block())


def test_a_symbol_keeps_its_meaning_over_the_whole_sheet(
    lifts: dict[str, LiftAssessment], monkeypatch: pytest.MonkeyPatch
) -> None:
    symbols = [s[0] for s in whole(lifts["L8"], monkeypatch).block()["symbols"]]
    assert len(set(symbols)) == len(symbols)


def test_a_governing_check_without_a_number_is_said_not_calculated(assess: Any) -> None:
    a = assess("L1", _no_modulus, steps=12)
    sections = ground_calculation(a, a.ground_rows).block()["sections"]
    assert sections[-1]["rows"][0]["result"] == "no data"
    assert all("≤" not in row["formula"] for row in sections[-1]["rows"])


def show(value: float | None, quantity: str, safe: str = "") -> str:
    return "–" if value is None else f"{value:.4f}"


def test_the_tables_of_the_ground_say_what_the_calculation_rests_on(lifts: dict[str, LiftAssessment]) -> None:
    a = lifts["L8"]
    assert a.ground is not None
    layers = profile_rows(a.ground, show)
    assert {row[0].partition(";")[0] for row in layers} == {"BH1", "BH2"}
    assert "1: topsoil and made ground" in {row[1] for row in layers if row[0].startswith("BH2")}
    for k, g in enumerate(a.ground.legs):
        (governs,) = [r for r in mechanism_rows(a.ground, show) if "governs" in r[2 + k]]
        assert governs[:2] == (g.mechanism, g.layer)
        assert governs[2 + k] == f"{g.allowable_kPa:.4f} (governs)"
    for g, row in zip(a.ground.legs, mat_rows(a.setup, a.ground, show), strict=True):
        shares = [float(x) / float(y) for x, y in (cell.split(" / ") for cell in row[2:])]
        assert row[0] == g.name
        assert shares[:4] == pytest.approx(list(g.mat_utilisation.values()), abs=2e-3)
        assert shares[4] == pytest.approx(g.elastic_bending.utilisation, abs=1e-4)
    assert profile_rows(None, show) == mechanism_rows(None, show) == []
    assert mat_rows(a.setup, None, show) == []


def test_rows_stand_in_the_order_in_which_a_checker_reads(lifts: dict[str, LiftAssessment]) -> None:
    ids = [c.id for c in lifts["L1"].ground_rows]
    assert ids[:6] == ["leg-FL", "ground-FL", "ground-neighbours-FL", "mat-FL", "mat-bending-FL",
                       "leg-FR"]  # fmt: skip
    after = ids[ids.index("settlement-FL") :]
    assert after[:6] == [*(f"settlement-{n}" for n in ("FL", "FR", "RR", "RL")), "tilt",
                         "capacity-settled"]  # fmt: skip
    assert after[6:] == ["service-culvert", "wall-flood-wall-face"]
