"""Set-back rules side by side."""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.ground.slopes import plant_set_back_m, set_back_rules


def test_the_strictest_rule_comes_first_and_all_are_told() -> None:
    rules = set_back_rules(2.5, 3.0, gross_mass_t=36.0, soil="fill or granular")
    assert [r.required_m for r in rules] == sorted((r.required_m for r in rules), reverse=True)
    assert rules[0].rule == "multiple of depth"
    assert rules[0].required_m == pytest.approx(6.0)
    assert rules[0].utilisation == pytest.approx(2.4)
    assert {r.binding for r in rules} == {True, False}
    assert all(r.source for r in rules)


def test_above_forty_tonnes_no_distance_is_enough_without_proof() -> None:
    assert plant_set_back_m([12.0, 12.1, 40.0]).tolist() == [1.0, 2.0, 2.0]
    with pytest.raises(InputError, match="Prove the stability"):
        plant_set_back_m(40.1)
    rules = set_back_rules(50.0, 1.0, gross_mass_t=60.0, soil="natural cohesive")
    assert rules[0].rule == "plant by mass"
    assert rules[0].utilisation == np.inf


def test_at_the_edge_nothing_passes() -> None:
    rules = set_back_rules(0.0, 1.0, gross_mass_t=10.0, soil="natural cohesive")
    assert all(r.utilisation == np.inf for r in rules)
