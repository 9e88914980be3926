"""Beams on elastic ground against PyNiteFEA, a general frame library, in random cases."""

from __future__ import annotations

import numpy as np
import pytest
from Pynite import FEModel3D

from liftcalc.ground.beam import centred_beam
from liftcalc.ground.beam_fe import beam_on_ground

ELEMENTS = 60


def random_cases() -> list[dict]:
    """Twenty-four mats: half loaded in the middle, half off it; half may lift, half may not."""
    rng = np.random.default_rng(20261125)
    cases = []
    for i in range(24):
        length = float(rng.uniform(2.0, 6.0))
        middle = length / 2.0
        place = middle if i % 2 == 0 else float(rng.uniform(0.3, 0.7) * length)
        cases.append(
            {
                "load_kN": float(rng.uniform(50.0, 900.0)),
                # loads stand on nodes of the library's mesh
                "place_m": round(place / length * ELEMENTS) * length / ELEMENTS,
                "length_m": length,
                "width_m": float(rng.uniform(0.8, 2.4)),
                "stiffness_kNm2": float(10.0 ** rng.uniform(3.3, 5.0)),
                "subgrade_modulus_kN_m3": float(10.0 ** rng.uniform(3.7, 4.9)),
                "contact": "compression only" if i % 4 < 2 else "linear",
            }
        )
    return cases


def frame_library(case: dict) -> dict:
    model = FEModel3D()
    model.add_material("mat", 1e6, 4e5, 0.3, 0.0)
    inertia = case["stiffness_kNm2"] / 1e6
    model.add_section("mat", 1.0, inertia, inertia, inertia)
    step = case["length_m"] / ELEMENTS
    direction = "-" if case["contact"] == "compression only" else None
    for i in range(ELEMENTS + 1):
        model.add_node(f"N{i}", i * step, 0.0, 0.0)
        share = 0.5 if i in (0, ELEMENTS) else 1.0
        spring = case["subgrade_modulus_kN_m3"] * case["width_m"] * step * share
        model.def_support(f"N{i}", i == 0, False, True, True, True, False)
        model.def_support_spring(f"N{i}", "DY", spring, direction)
    for i in range(ELEMENTS):
        model.add_member(f"M{i}", f"N{i}", f"N{i + 1}", "mat", "mat")
    at = round(case["place_m"] / step)
    model.add_node_load(f"N{at}", "FY", -case["load_kN"])
    model.analyze(check_statics=False)
    w = -np.array([model.nodes[f"N{i}"].DY["Combo 1"] for i in range(ELEMENTS + 1)])
    moment = [abs(model.members[f"M{i}"].moment("Mz", 0.0)) for i in range(ELEMENTS)]
    return {"w": w, "moment": max(moment), "at": at}


@pytest.mark.parametrize("case", random_cases(), ids=lambda c: f"L{c['length_m']:.2f}")
def test_beam_agrees_with_a_frame_library_within_one_percent(case: dict) -> None:
    library = frame_library(case)
    rest = {k: case[k] for k in ("width_m", "stiffness_kNm2", "subgrade_modulus_kN_m3", "contact")}
    found = beam_on_ground(
        [case["load_kN"]], [case["place_m"]], length_m=case["length_m"], elements=ELEMENTS, **rest
    )
    w = np.interp(np.linspace(0.0, case["length_m"], ELEMENTS + 1), found.x_m, found.deflection_m)
    under = library["w"][library["at"]]
    assert w[library["at"]] == pytest.approx(under, rel=0.01)
    # everywhere else within one percent of the greatest deflection
    assert np.abs(w - library["w"]).max() <= 0.01 * np.abs(library["w"]).max()
    assert found.pressure_max_kPa == pytest.approx(
        case["subgrade_modulus_kN_m3"] * library["w"].max(), rel=0.01
    )
    greatest = max(found.moment_max_kNm, -found.moment_min_kNm)
    assert greatest == pytest.approx(library["moment"], rel=0.01)
    if case["place_m"] == pytest.approx(case["length_m"] / 2.0):
        closed = centred_beam(case["load_kN"], case["length_m"], **rest)
        assert closed.deflection_centre_m == pytest.approx(under, rel=0.01)
        assert closed.moment_max_kNm == pytest.approx(library["moment"], rel=0.01)


def test_the_random_cases_include_mats_that_lift_and_mats_that_do_not() -> None:
    lifted = []
    for case in random_cases():
        if case["contact"] == "compression only":
            rest = {k: case[k] for k in ("width_m", "stiffness_kNm2", "subgrade_modulus_kN_m3")}
            found = beam_on_ground(
                [case["load_kN"]], [case["place_m"]], length_m=case["length_m"], **rest
            )
            lifted.append(bool(found.contact_length_m < 0.98 * case["length_m"]))
    assert sum(lifted) >= 3
    assert sum(lifted) < len(lifted)
