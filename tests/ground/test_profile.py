"""Ground profile: every problem in one message, stresses, depths."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.profile import (
    GroundLayer,
    GroundProfile,
    check_profile,
    effective_water_depth_m,
    layer_tops_m,
    needed_depth_m,
    overburden_kPa,
)

FILL = GroundLayer("fill", 0.6, 19.0, phi_deg=34.0)
CLAY = GroundLayer("clay", 3.0, 18.0, cu_kPa=40.0, phi_deg=24.0, c_kPa=2.0)
GRAVEL = GroundLayer("gravel", math.inf, 20.0, phi_deg=36.0)
GOOD = GroundProfile((FILL, CLAY, GRAVEL), water_depth_m=1.0, voids="none found", name="trial pit 1")


def test_a_good_profile_passes_and_knows_its_layers() -> None:
    check_profile(GOOD, needed_depth_m=10.0)
    assert layer_tops_m(GOOD) == pytest.approx((0.0, 0.6, 3.6))
    assert needed_depth_m(1.2) == pytest.approx(2.4)


def test_overburden_by_hand() -> None:
    total = 0.6 * 19.0 + 1.4 * 18.0
    assert overburden_kPa(GOOD, 2.0, effective=False) == pytest.approx(total)
    assert overburden_kPa(GOOD, 2.0, effective=True) == pytest.approx(total - 9.81)
    assert overburden_kPa(GOOD, 0.0, effective=True) == 0.0


@given(a=st.floats(0, 8), b=st.floats(0, 8))
@settings(deadline=None)
def test_overburden_never_falls_with_depth_and_effective_is_the_lesser(a: float, b: float) -> None:
    low, high = sorted((a, b))
    for effective in (True, False):
        assert overburden_kPa(GOOD, low, effective=effective) <= overburden_kPa(
            GOOD, high, effective=effective
        ) + 1e-9  # fmt: skip
    assert overburden_kPa(GOOD, a, effective=True) <= overburden_kPa(GOOD, a, effective=False)


def test_water_not_found_is_taken_at_the_depth_explored() -> None:
    dry = replace(GOOD, water_depth_m=None, water_not_found_to_m=4.0)
    check_profile(dry)
    assert effective_water_depth_m(dry) == 4.0
    with pytest.raises(InputError, match="water_not_found_to_m"):
        effective_water_depth_m(replace(GOOD, water_depth_m=None))


@pytest.mark.parametrize(
    ("profile", "texts"),
    [
        (replace(GOOD, voids="unknown"), ["voids is 'unknown'; allowed: none found", "cellars"]),
        (replace(GOOD, voids="present"), ["voids is 'present'", "move the outrigger or bridge it"]),
        (replace(GOOD, voids="perhaps"), ["voids is 'perhaps'"]),
        (replace(GOOD, water_depth_m=None), ["water_depth_m is None", "enter 0"]),
        (replace(GOOD, water_not_found_to_m=3.0), ["not both"]),
        (replace(GOOD, water_depth_m=-0.5), ["water_depth_m is -0.5; allowed: 0 or greater"]),
        (replace(GOOD, water_depth_m=math.nan), ["water_depth_m is nan"]),
        (replace(GOOD, layers=()), ["at least one layer"]),
        (replace(GOOD, layers=(FILL, replace(CLAY, name="fill"), GRAVEL)), ["names that differ"]),
        (replace(GOOD, layers=(GRAVEL, CLAY)), ["Only the lowest layer may go on without end"]),
    ],
)
def test_each_gap_or_contradiction_is_refused(profile, texts) -> None:
    with pytest.raises(InputError) as error:
        check_profile(profile)
    for text in texts:
        assert text in str(error.value)
    assert "ground 'trial pit 1'" in str(error.value)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"thickness_m": 0.0}, "thickness_m is 0.0; allowed: greater than 0"),
        ({"thickness_m": math.nan}, "thickness_m is nan"),
        ({"unit_weight_kN_m3": 9.9}, "Peat and organic soil carry no outrigger"),
        ({"unit_weight_kN_m3": 27.1}, "10 to 27 kN/m3"),
        ({"cu_kPa": -40.0}, "cu_kPa is -40.0; allowed: greater than 0"),
        ({"cu_kPa": 0.0}, "Leave it out if it is not known"),
        ({"cu_kPa": math.inf}, "cu_kPa is inf"),
        ({"phi_deg": 50.1}, "phi_deg is 50.1; allowed: greater than 0 and at most 50"),
        ({"phi_deg": 0.0}, "for clay without friction give cu_kPa"),
        ({"c_kPa": -1.0}, "c_kPa is -1.0"),
        ({"phi_deg": None}, "c' goes with phi'"),
        ({"youngs_modulus_kPa": -5.0}, "youngs_modulus_kPa is -5.0"),
        ({"poisson": 0.51}, "poisson is 0.51"),
        ({"cu_kPa": None, "phi_deg": None, "c_kPa": None}, "a strength: cu_kPa, phi_deg"),
        ({"presumptive_kPa": 100.0}, "presumptive_source is ''"),
        ({"presumptive_kPa": -100.0, "presumptive_source": "x"}, "presumptive_kPa is -100.0"),
        ({"cu_kPa": True}, "cu_kPa is True"),
    ],
)
def test_each_wrong_value_of_a_layer_is_refused_by_name(change, text) -> None:
    with pytest.raises(InputError) as error:
        check_profile(replace(GOOD, layers=(FILL, replace(CLAY, **change), GRAVEL)))
    assert text in str(error.value)
    assert "layers[1]" in str(error.value)


def test_all_problems_come_in_one_message() -> None:
    bad = GroundProfile((replace(FILL, phi_deg=58.0), replace(CLAY, cu_kPa=-3.0, thickness_m=-1.0)), name="pit")
    with pytest.raises(InputError) as error:
        check_profile(bad, needed_depth_m=4.0)
    fields = [p.field for p in error.value.problems]
    assert len(fields) == 6
    text = str(error.value)
    for part in ("phi_deg is 58.0", "cu_kPa is -3.0", "thickness_m is -1.0", "ground known to 4.00",
                 "water_depth_m is None", "voids is 'unknown'"):  # fmt: skip
        assert part in text


def test_ground_not_explored_deep_enough_is_refused() -> None:
    shallow = replace(GOOD, layers=(FILL, CLAY))
    check_profile(shallow, needed_depth_m=3.6)
    with pytest.raises(InputError, match="Explore deeper"):
        check_profile(shallow, needed_depth_m=np.nextafter(3.6, 4.0))
