"""Safety sets: EN 1997-1 Annex A values, design strengths, the worse set governs."""

from __future__ import annotations

from geotech_references.eurocode_7_1 import tables as annex_a

from liftcalc.ground.safety import EN1997_DA1_1, EN1997_DA1_2

SAND = {"basis": "drained", "c_kPa": 3.0, "phi_deg": 33.0, "water_depth_m": 5.0,
        "unit_weight_kN_m3": 19.0}  # fmt: skip
CLAY = {"basis": "undrained", "cu_kPa": 40.0, "unit_weight_kN_m3": 18.0}


def test_partial_factors_are_those_of_annex_a() -> None:
    for safety, approach in ((EN1997_DA1_1, "DA1-C1"), (EN1997_DA1_2, "DA1-C2")):
        sets = annex_a.design_approach_sets(approach)
        material = {p: annex_a.table_a_4_str_geo_soil_parameters(p, sets["material_set"]) for p in ("phi", "c", "cu")}
        assert (safety.tan_phi, safety.c, safety.cu) == (
            material["phi"], material["c"], material["cu"],
        )  # fmt: skip
        variable = annex_a.table_a_3_str_geo_actions("variable", "unfavourable", sets["action_set"])
        assert safety.load == variable
        resistance = annex_a.table_a_5_spread_foundation_resistance("bearing", sets["resistance_set"])
        assert safety.resistance == resistance
