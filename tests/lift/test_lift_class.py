"""Every trigger of a critical lift on its own, and how far overhead lines keep from persons."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.clearance.powerline import TABLE_A, UK_GS6, DistanceTable, distances_for_persons
from liftcalc.lift.lift_class import CriticalLift, critical_lift

ROUTINE: dict[str, Any] = {
    "share_ratio": 0.75,
    "share_owner": "owner",
    "cranes": 1,
    "persons": False,
    "out_of_sight": False,
    "crosses_line": False,
    "stated": (),
}


def lift(gross: float = 3.0, rated: float = 10.0, **changes: Any) -> CriticalLift:
    return critical_lift(gross, rated, **{**ROUTINE, **changes})


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"gross": 7.5001}, "More than 75 % of the rated capacity"),
        ({"rated": float("nan")}, "More than 75 % of the rated capacity"),
        ({"gross": 9.0, "share_ratio": 0.89}, "More than 89 % of the rated capacity"),
        ({"cranes": 2}, "More than one crane"),
        ({"persons": True}, "Persons lifted"),
        ({"out_of_sight": True}, "Blind lift: load out of the operator's view"),
        ({"crosses_line": True}, "Load crosses an overhead line"),
        ({"stated": ["unusual rigging"]}, "Unusual rigging"),
    ],
)
def test_each_trigger_alone_makes_a_lift_critical(change: dict[str, Any], words: str) -> None:
    assert not lift().critical
    found = lift(**change)
    assert found.critical
    assert [name for name, applies, _ in found.triggers if applies] == [words]


def test_at_the_share_a_lift_is_not_critical_and_just_above_it_is() -> None:
    assert not lift(7.5).critical
    assert lift(float(np.nextafter(7.5, 8))).critical
    assert not lift(8.99, share_ratio=0.9).critical


def test_lines_keep_twenty_and_fifty_feet_from_persons() -> None:
    table = distances_for_persons(TABLE_A)
    assert dict(zip(table.limit_kV, np.array(table.distance_m) / 0.3048, strict=True)) == (
        pytest.approx({50: 20, 200: 20, 350: 20, 500: 50, 750: 50, 1000: 50})
    )
    own = DistanceTable("own", "own", "own", (100.0, 400.0), (30.0, 40.0))
    assert distances_for_persons(own).distance_m == (30.0, 40.0)
    assert distances_for_persons(UK_GS6).distance_m[-1] == pytest.approx(15.24)  # up to 400 kV


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: lift(-1.0), "gross_load_t"),
        (lambda: lift(1.0, 0.0), "rated_capacity_t"),
        (lambda: lift(share_ratio=75.0), "share_ratio is 75.0; allowed: 0 to 1"),
        (lambda: lift(cranes=0), "cranes"),
    ],
)
def test_bad_input_is_refused(call: Any, text: str) -> None:
    with pytest.raises(InputError, match=text):
        call()
