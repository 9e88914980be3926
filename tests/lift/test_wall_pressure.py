"""Pressure of several mats on one retaining wall against a plain sum over many places along it."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from liftcalc.lift.ground_services import wall_pressure


def point_pressure_kPa(load: float, depth: float, x: float, y: float, height: float) -> float:
    """Terzaghi's point load on a rigid wall, as DM-7.02 prints it."""
    m, n = x / height, depth / height
    shape = 0.28 * n**2 / (0.16 + n**2) ** 3 if m <= 0.4 else 1.77 * m**2 * n**2 / (m**2 + n**2) ** 3
    turn = 1.1 * np.arctan(abs(y) / x)
    return float(load / height**2 * shape * np.cos(turn) ** 2) if turn < np.pi / 2 else 0.0


class Plain(SimpleNamespace):
    """Known by itself, as facts and places are."""

    __hash__ = object.__hash__


def wall_pressure_kPa(mats: list[Polygon], forces: np.ndarray, height: float) -> float:
    wall = Plain(line=[(-20.0, 0.0), (20.0, 0.0)], retained_height_m=height, yielding=False)
    found, _ = wall_pressure(cast(Any, Plain(mats=mats)), forces, cast(Any, wall))
    return found


@pytest.mark.parametrize("apart_m", [0.8, 1.6, 2.4, 4.0])
def test_two_mats_that_press_most_between_them(apart_m: float) -> None:
    """Mats so small that each is a point load: the greatest sum of both over wall and depth."""
    height, away, load = 3.0, 2.0, 300.0
    mats = [box(x - 0.01, away - 0.01, x + 0.01, away + 0.01) for x in (0.0, apart_m)]
    greatest = max(
        sum(point_pressure_kPa(load, z, away, y - x, height) for x in (0.0, apart_m))
        for y in np.linspace(0.0, apart_m, 81)
        for z in np.linspace(0.02, 1.0, 50) * height
    )
    opposite = max(
        sum(point_pressure_kPa(load, z, away, x, height) for x in (0.0, apart_m))
        for z in np.linspace(0.02, 1.0, 50) * height
    )
    assert wall_pressure_kPa(mats, np.full(2, load), height) == pytest.approx(greatest, rel=5e-3)
    if apart_m == 1.6:
        assert greatest > 1.05 * opposite  # opposite a mat is not the worst place


def test_one_mat_and_the_same_mat_twice() -> None:
    mat = box(-0.5, 1.0, 0.5, 2.0)
    one = wall_pressure_kPa([mat], np.array([200.0]), 3.0)
    assert one > 0.0
    both = wall_pressure_kPa([mat, mat], np.array([150.0, 50.0]), 3.0)
    assert both == pytest.approx(one, rel=1e-12)
