"""Over many invented machines: no accepted fit's lower limit lies above the true stability."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from liftcalc.base.errors import CapacityError, ConvergenceError
from liftcalc.calibration.calibrate import calibrate
from liftcalc.calibration.model import CalibrationChart
from liftcalc.calibration.result import Calibration, predicted_capacity_t
from liftcalc.crane.chart import ChartTable
from liftcalc.crane.legs import BasePolygon, base_polygon, leg_points_m
from liftcalc.crane.masses import MachineMasses, straight_boom
from liftcalc.crane.stability import stability_capacity_t

RADII = np.concatenate([np.arange(3.0, 10.0, 1.0), np.arange(10.0, 32.0, 2.0)])
UNEVEN = (
    (0.9, 0.6, 0.75, 0.95),
    (0.5, 1.0, 1.0, 0.5),
    (1.0, 0.45, 1.0, 1.0),
    (0.6, 0.6, 1.0, 1.0),
    (1.0, 1.0, 0.6, 0.6),
)


def whole_turn_deg(base: BasePolygon) -> np.ndarray:
    """Every other degree, square to each tipping line and over each corner."""
    square = np.degrees(np.arctan2(-base.normals[:, 1], -base.normals[:, 0]))
    corner = np.degrees(np.arctan2(base.vertices_m[:, 1], base.vertices_m[:, 0]))
    return np.union1d(np.arange(0.0, 360.0, 2.0), np.concatenate([square, corner]) % 360.0)


@dataclass(frozen=True)
class Invented:
    """A machine drawn at random; strength falls with radius and length, the same on every base."""

    rng: np.random.Generator
    leg_x: np.ndarray
    lengths: np.ndarray
    boom_cg: np.ndarray
    boom_t: float
    foot_u: float
    carrier: tuple[float, float]
    top: tuple[float, float]
    weights: tuple[tuple[float, float], tuple[float, float]]
    legs: tuple[float, float, float]
    strength: float

    def base(self, shares: tuple[float, ...]) -> BasePolygon:
        return base_polygon(leg_points_m(self.leg_x, tuple(self.legs[0] * s for s in shares)))

    def radii(self, k: int) -> np.ndarray:
        low, high = (self.foot_u + f * self.lengths[k] for f in (0.14, 0.97))
        return (low < RADII) & (high > RADII)

    def stability_t(self, base: BasePolygon, weight: int, k: int, radius: np.ndarray) -> np.ndarray:
        mass, u = self.weights[weight]
        top, top_u = self.top
        at = (top * top_u + mass * u) / (top + mass)
        masses = MachineMasses(self.carrier[0], self.carrier[1], 0.0, top + mass, at)
        boom = straight_boom(
            radius, self.lengths[k], mass_t=self.boom_t, cg_from_foot_m=self.boom_cg[k],
            foot_u_m=self.foot_u,
        )  # fmt: skip
        slew = whole_turn_deg(base)
        return stability_capacity_t(slew, boom, base=base, masses=masses).min(axis=0)

    def charts(self) -> list[CalibrationChart]:
        out = []
        for weight, (mass, u) in enumerate(self.weights):
            for leg in self.legs:
                base = self.base((leg / self.legs[0],) * 4)
                capacity = np.full((3, RADII.size), np.nan)
                for k in range(3):
                    at = self.radii(k)
                    radius = RADII[at]
                    strong = self.strength * radius**-1.15 * self.lengths[k] ** -0.25
                    value = np.minimum(self.stability_t(base, weight, k, radius), strong)
                    value = value * (1.0 + 0.01 * self.rng.standard_normal(radius.size))
                    value = np.floor(value * 10.0 + 1e-9) / 10.0
                    capacity[k, at] = np.where(value >= 0.5, value, np.nan)
                table = ChartTable(
                    f"{leg:.2f} m, weight {weight}", self.lengths, RADII, capacity, base,
                    counterweight=str(weight), rule="test_load",
                )  # fmt: skip
                m0, u0 = self.weights[0]
                more = mass - m0
                out.append(CalibrationChart(table, more, (mass * u - m0 * u0) / more if more else 0.0))
        return out


def invented(seed: int) -> Invented:
    rng = np.random.default_rng(seed)
    ahead, behind = rng.uniform(2.6, 3.8, 2)
    lengths = rng.uniform([10.0, 18.0, 28.0], [13.0, 24.0, 36.0])
    foot, boom = rng.uniform(-1.8, -0.6), rng.uniform(6.0, 12.0)
    share = rng.uniform(0.38, 0.48)
    carrier = (rng.uniform(18.0, 32.0), rng.uniform(-0.3, 0.9))
    top = (rng.uniform(5.0, 10.0), rng.uniform(-1.6, -0.6))
    weights = ((rng.uniform(2.0, 5.0), rng.uniform(-3.4, -2.6)), (rng.uniform(6.0, 12.0), rng.uniform(-3.6, -2.8)))
    out = rng.uniform(2.8, 3.5)
    legs = (out, out * rng.uniform(0.65, 0.8), out * rng.uniform(0.35, 0.5))
    return Invented(
        rng=rng,
        leg_x=np.array([ahead, ahead, -behind, -behind]),
        lengths=lengths,
        boom_cg=lengths * share,
        boom_t=boom,
        foot_u=foot,
        carrier=carrier,
        top=top,
        weights=weights,
        legs=legs,
        strength=float(rng.uniform(250.0, 500.0, 3)[0]),
    )


def worst_excess(machine: Invented, fit: Calibration, charts: list[CalibrationChart]) -> float:
    """Greatest excess of a lower limit over the true stability capacity, as a share of it."""
    worst = -np.inf
    for shares in UNEVEN:
        base = machine.base(shares)
        for weight in (0, 1):
            for k in range(3):
                radius = RADII[machine.radii(k)]
                true = machine.stability_t(base, weight, k, radius)
                lift = true > 0.5
                if lift.any():
                    _, lower = predicted_capacity_t(
                        fit, charts[3 * weight], base=base,
                        boom_length_m=float(machine.lengths[k]), radius_m=radius[lift],
                    )  # fmt: skip
                    worst = max(worst, float(np.max(lower / true[lift] - 1.0)))
    return worst


SEEDS = (62, 65, 69, 78, 79, 80, 83, 86, 91, 92, 94, 95, 97, 100, 102, 103, 106, 108, 111, 112, 113,
         114, 118, 119, 120, 126, 127, 130, 133, 137, 139)  # fmt: skip


@pytest.mark.slow
def test_no_accepted_lower_limit_lies_above_the_true_stability() -> None:
    """31 machines with strength cells, 1 % scatter, rounded down; 1 % allowed, as the scatter is.

    The seeds are those of 140 for which a fit was found that follows the charts.
    """
    accepted = 0
    for seed in SEEDS:
        machine = invented(seed)
        charts = machine.charts()
        try:
            fit = calibrate(charts, machine.foot_u, rounding="down")
        except ConvergenceError:
            continue
        if fit.accepted:
            accepted += 1
            assert worst_excess(machine, fit, charts) <= 0.01, seed
    assert accepted >= 10


def test_a_fit_with_a_chart_that_the_others_do_not_predict_is_refused() -> None:
    """Its carrier moment is off by 11 t m and its limits lie up to 10 % above the truth."""
    machine = invented(133)
    charts = machine.charts()
    fit = calibrate(charts, machine.foot_u, rounding="down")
    assert any("could not be predicted from the others" in r for r in fit.reasons)
    i = fit.names.index("carrier_moment_tm")
    value, low, high = fit.value[i], fit.low[i], fit.high[i]
    true = machine.carrier[0] * machine.carrier[1]
    assert not low <= true <= high
    assert value - true > 10.0
    with pytest.raises(CapacityError, match="could not be predicted"):
        worst_excess(machine, fit, charts)


def test_front_and_rear_line_are_both_told_where_the_charts_leave_it_open() -> None:
    """The cells that stability governs are chosen for each explanation by itself."""
    machine = invented(78)
    fit = calibrate(machine.charts(), machine.foot_u, rounding="down")
    assert fit.accepted, fit.reasons
    moments = [e.theta[1] for e in fit.explanations]
    assert min(moments) < 0.0 < max(moments)
    i = fit.names.index("carrier_moment_tm")
    low, high = fit.low[i], fit.high[i]
    assert low < 0.0 < machine.carrier[0] * machine.carrier[1] < high


def test_moments_with_which_the_machine_falls_over_without_load_are_refused() -> None:
    machine = invented(78)
    charts = machine.charts()
    fit = calibrate(
        charts, machine.foot_u, rounding="down", hold_out="none",
        bounds={"slewing_moment_tm": (-20000.0, -150.0)},
    )  # fmt: skip
    assert any("falls over" in r and "unladen" in r for r in fit.reasons)
