"""Safety sets: EN 1997-1 Annex A values, design strengths, the worse set governs."""

from __future__ import annotations

import numpy as np
import pytest
from geotech_references.eurocode_7_1 import equations as ec7
from geotech_references.eurocode_7_1 import tables as annex_a
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.bearing import bearing_capacity
from liftcalc.ground.safety import (
    EN1997_DA1,
    EN1997_DA1_1,
    EN1997_DA1_2,
    Safety,
    design_bearing,
    design_phi_deg,
    en1997_da1_split,
    global_factor,
    user_partial,
)

SAND = {"basis": "drained", "c_kPa": 3.0, "phi_deg": 33.0, "water_depth_m": 5.0,
        "unit_weight_kN_m3": 19.0}  # fmt: skip
CLAY = {"basis": "undrained", "cu_kPa": 40.0, "unit_weight_kN_m3": 18.0}


def test_partial_factors_are_those_of_annex_a() -> None:
    for safety, approach in ((EN1997_DA1_1, "DA1-C1"), (EN1997_DA1_2, "DA1-C2")):
        sets = annex_a.design_approach_sets(approach)
        material = {
            p: annex_a.table_a_4_str_geo_soil_parameters(p, sets["material_set"])
            for p in ("phi", "c", "cu")
        }
        assert (safety.tan_phi, safety.c, safety.cu) == (
            material["phi"], material["c"], material["cu"],
        )  # fmt: skip
        variable = annex_a.table_a_3_str_geo_actions("variable", "unfavourable", sets["action_set"])
        assert safety.load == variable
        resistance = annex_a.table_a_5_spread_foundation_resistance(
            "bearing", sets["resistance_set"]
        )
        assert safety.resistance == resistance
        G = annex_a.table_a_3_str_geo_actions("permanent", "unfavourable", sets["action_set"])
        split = en1997_da1_split(200.0, 100.0)[0 if safety is EN1997_DA1_1 else 1]
        assert split == pytest.approx(G * 200.0 + variable * 100.0)


def test_combination_2_on_sand_equals_a_hand_built_annex_d_calculation() -> None:
    r = design_bearing(1.5, 2.0, safety=EN1997_DA1_2, V_kN=200.0, H_B_kN=10.0, **SAND)
    phi_d = np.degrees(np.arctan(np.tan(np.radians(33.0)) / 1.25))
    # Annex D with water at 5 m below the surface: deeper than 1.5 B, so the bulk weight.
    theirs = ec7.drained_bearing_resistance(
        phi_d, 3.0 / 1.25, 0.0, 19.0, 1.5, 2.0, H=13.0, V=260.0, load_direction="B"
    )
    assert r.q_allowable_kPa == pytest.approx(theirs["bearing_pressure_kpa"] / 1.3)
    assert r.utilisation == pytest.approx(260.0 / (theirs["bearing_pressure_kpa"] * 3.0))
    assert design_phi_deg(33.0, 1.25) == pytest.approx(phi_d)


@given(
    cu=st.floats(10, 150), phi=st.floats(20, 42), V=st.floats(1, 600), tan=st.floats(0, 0.1),
    e=st.floats(0, 0.4),
)  # fmt: skip
@settings(deadline=None, max_examples=60)
def test_the_worse_of_two_combinations_governs(cu, phi, V, tan, e) -> None:
    load = {"V_kN": V, "H_B_kN": tan * V, "eccentricity_B_m": e}
    for ground in ({**CLAY, "cu_kPa": cu}, {**SAND, "phi_deg": phi}):
        both = design_bearing(1.5, 2.0, safety=EN1997_DA1, **load, **ground)
        each = [design_bearing(1.5, 2.0, safety=s, **load, **ground) for s in EN1997_DA1]
        assert both.q_allowable_kPa == pytest.approx(min(float(r.q_allowable_kPa) for r in each))
        lower = int(np.argmin([float(r.q_allowable_kPa) for r in each]))
        assert EN1997_DA1[lower].name in str(both.governing)


def test_global_factor_divides_the_gross_capacity() -> None:
    q = bearing_capacity(1.2, 2.0, **CLAY).q_ult_kPa
    r = design_bearing(1.2, 2.0, safety=global_factor(2.5), V_kN=[0.0, 100.0], **CLAY)
    assert r.q_allowable_kPa == pytest.approx(np.full(2, float(q) / 2.5))
    assert r.utilisation == pytest.approx([0.0, 100.0 / (float(q) / 2.5 * 2.4)])


def test_load_outside_the_mat_gives_infinite_utilisation() -> None:
    r = design_bearing(
        1.2, 2.0, safety=global_factor(2.0), V_kN=[0.0, 50.0], eccentricity_B_m=0.7, **CLAY
    )
    assert r.utilisation.tolist() == [0.0, np.inf]
    assert all("outside" in text for text in r.governing)


def test_users_own_factors_need_a_name_and_a_source_and_are_never_below_one() -> None:
    given = {"load": 1.5, "tan_phi": 1.25, "c": 1.25, "cu": 1.4, "resistance": 1.1}
    own = user_partial(**given, name="site rule", source="client")
    assert own.overall == pytest.approx(1.65)
    with pytest.raises(InputError, match="where they are from"):
        user_partial(load=1, tan_phi=1, c=1, cu=1, resistance=1, name=" ", source="x")
    with pytest.raises(InputError, match=r"safety.cu is 0.9; allowed: 1 to 10"):
        Safety("lenient", cu=0.9)
    with pytest.raises(InputError, match=r"factor is 1.5; allowed: 2 to 10"):
        global_factor(1.5)
    # together no weaker than the least global factor: each factor on strength in its turn
    at_least = {"load": 1.25, "tan_phi": 1.6, "c": 1.6, "cu": 1.6, "resistance": 1.0}
    assert user_partial(**at_least, name="least", source="x").overall == 1.25
    for weak in ("load", "tan_phi", "c", "cu"):
        with pytest.raises(InputError, match=r"is 1\.9\d*; allowed: 2 or more"):
            user_partial(**{**at_least, weak: at_least[weak] * 0.97}, name="weak", source="x")
    with pytest.raises(InputError, match=r"load x resistance x tan_phi is 1; allowed: 2"):
        user_partial(load=1, tan_phi=1, c=1, cu=1, resistance=1, name="none", source="x")
    with pytest.raises(InputError, match="at least one set"):
        design_bearing(1, 1, safety=(), **CLAY)


def test_a_factor_on_the_friction_angle_is_1_to_10() -> None:
    assert design_phi_deg(30.0, 10.0) < design_phi_deg(30.0, 9.0) < 4.0
    for factor in (0.99, 10.01):
        with pytest.raises(InputError, match=r"factor is .*; allowed: 1 to 10"):
            design_phi_deg(30.0, factor)
