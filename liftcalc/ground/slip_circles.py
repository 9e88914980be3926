"""Slices of circular slips through a slope that carries strip loads, and their safety factors.

Plane strain. The crest is the origin; x points out over the slope, z up. The ground is level behind
the crest (x < 0), falls at the slope angle, and is level again at the toe.

Sources: Bishop (1955), simplified method; limit on m_alpha after Whitman and Bailey (1967) (from
memory).
"""

from dataclasses import dataclass, replace

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import ConvergenceError, InputError, Problem
from liftcalc.ground.effective import WATER_UNIT_WEIGHT_KN_M3

_SLICES = 40


@dataclass(frozen=True)
class SoilLayer:
    """A level layer. Undrained clay: cohesion cu and a friction angle of 0.

    Parameters:
      thickness_m: From the crest level or from the layer above; infinity for the last one. [m]
      unit_weight_kN_m3, cohesion_kPa, friction_deg: Above 0; not negative; 0 to 50. [kN/m3, kPa,
        degrees]
    """

    thickness_m: float
    unit_weight_kN_m3: float
    cohesion_kPa: float
    friction_deg: float

    def __post_init__(self) -> None:
        some = self.cohesion_kPa > 0 or self.friction_deg > 0
        tests = (
            ("thickness_m", self.thickness_m > 0, "greater than 0"),
            ("unit_weight_kN_m3", 0 < self.unit_weight_kN_m3 < 100, "greater than 0, below 100"),
            ("cohesion_kPa", 0 <= self.cohesion_kPa < 1e6, "0 or greater"),
            ("friction_deg", 0 <= self.friction_deg <= 50, "0 to 50"),
            ("cohesion_kPa and friction_deg", some, "one of them above 0"),
        )
        bad = [Problem(f, getattr(self, f, "both 0"), text) for f, ok, text in tests if not ok]
        if bad:
            raise InputError(bad)


@dataclass(frozen=True)
class Surcharge:
    """A strip load behind the crest: pressure, distance of its near edge, width square to it."""

    pressure_kPa: float
    edge_distance_m: float
    width_m: float


@dataclass(frozen=True)
class SlopeSection:
    """Face, layers, water and loads; levels from the crest, upwards positive."""

    height: float
    tan_slope: float  # infinite for a vertical face
    tops: FloatArray
    bottoms: FloatArray
    gamma: FloatArray
    cohesion: FloatArray
    tan_phi: FloatArray
    water: float | None
    loads: tuple[Surcharge, ...]

    def surface(self, x: FloatArray) -> FloatArray:
        if np.isinf(self.tan_slope):
            return np.where(x <= 0.0, 0.0, -self.height)
        return np.clip(-x * self.tan_slope, -self.height, 0.0)

    def exit_point(self, s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Point at share s of the face (0..1), and beyond the toe for s > 1 (in heights)."""
        run = 0.0 if np.isinf(self.tan_slope) else self.height / self.tan_slope
        face = np.minimum(s, 1.0)
        return face * run + np.maximum(s - 1.0, 0.0) * self.height, -face * self.height

    def soil(self, base: FloatArray, top: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Weight above each base per metre of width, and cohesion and tan phi there."""
        weight, cohesion, tan_phi = (np.zeros_like(base) for _ in range(3))
        for i in range(self.tops.size):
            inside = np.minimum(top, self.tops[i]) - np.maximum(base, self.bottoms[i])
            weight += self.gamma[i] * np.maximum(inside, 0.0)
            in_layer = (base < self.tops[i]) & (base >= self.bottoms[i])
            in_layer |= (base >= 0.0) & (i == 0)
            cohesion = np.where(in_layer, self.cohesion[i], cohesion)
            tan_phi = np.where(in_layer, self.tan_phi[i], tan_phi)
        return weight, cohesion, tan_phi

    def load(self, edge: FloatArray) -> FloatArray:
        """Surcharge on each slice between its edges."""
        load = np.zeros_like(edge[:, 1:])
        for s in self.loads:
            high, low = -s.edge_distance_m, -s.edge_distance_m - s.width_m
            share = np.minimum(edge[:, 1:], high) - np.maximum(edge[:, :-1], low)
            load += s.pressure_kPa * np.maximum(share, 0.0)
        return load


@dataclass(frozen=True)
class CircleSlices:
    """Slices of C circles, shape (C, n), and which circles can slip, shape (C,)."""

    usable: BoolArray
    centre_x: FloatArray
    centre_z: FloatArray
    radius: FloatArray
    x: FloatArray
    width: FloatArray
    base: FloatArray
    sin_alpha: FloatArray
    cos_alpha: FloatArray
    weight: FloatArray
    load: FloatArray
    uplift: FloatArray
    cohesion: FloatArray
    tan_phi: FloatArray


@dataclass(frozen=True)
class CircleTrial:
    """Circles tried: factor (infinite where one cannot slip), sums over slices, and the slices."""

    factor: FloatArray
    resisting: FloatArray
    driving: FloatArray
    slices: CircleSlices


def _cut(
    ground: SlopeSection, entry: FloatArray, exit_s: FloatArray, half_angle: FloatArray
) -> CircleSlices:
    """Slices of circles given by entry, exit and half the angle of the arc (flat arrays)."""
    bx, bz = ground.exit_point(exit_s)
    dx, dz = bx - entry, bz
    chord = np.hypot(dx, dz)
    radius = chord / (2.0 * np.sin(half_angle))
    # the centre lies square to the chord, on the upper side
    up = radius * np.cos(half_angle)
    cx = entry + dx / 2.0 + up * (-dz / chord)
    cz = dz / 2.0 + up * (dx / chord)
    # a centre below the entry would undercut the ground behind it
    usable = (cz >= 0.0) & (dx > 1e-9)
    edge = entry[:, None] + dx[:, None] * (np.arange(_SLICES + 1.0) / _SLICES)[None, :]
    x = (edge[:, 1:] + edge[:, :-1]) / 2.0
    width = (dx / _SLICES)[:, None]
    sin_a = np.clip((cx[:, None] - x) / radius[:, None], -1.0, 1.0)
    cos_a = np.sqrt(np.maximum(1.0 - sin_a**2, 1e-12))
    base, top = cz[:, None] - radius[:, None] * cos_a, ground.surface(x)
    usable &= np.all(base <= top + 1e-9 * (1.0 + radius[:, None]), axis=1)
    weight, cohesion, tan_phi = ground.soil(base, top)
    pore = np.zeros_like(base)
    if ground.water is not None:
        pore = WATER_UNIT_WEIGHT_KN_M3 * np.maximum(np.minimum(ground.water, top) - base, 0.0)
    return CircleSlices(
        usable=usable, centre_x=cx, centre_z=cz, radius=radius, x=x, width=width, base=base,
        sin_alpha=sin_a, cos_alpha=cos_a, weight=weight * width, load=ground.load(edge),
        uplift=pore * width, cohesion=cohesion, tan_phi=tan_phi,
    )  # fmt: skip


def _bishop(s: CircleSlices, driving: FloatArray) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Factor, resisting sum, and which circles it holds for: Bishop's simplified method."""
    strength = s.cohesion * s.width + np.maximum(s.weight + s.load - s.uplift, 0.0) * s.tan_phi
    factor = np.ones(s.x.shape[0])
    for _ in range(200):
        m = s.cos_alpha + s.sin_alpha * s.tan_phi / factor[:, None]
        resisting = (strength / np.maximum(m, 0.05)).sum(axis=1)
        new = np.where(s.usable, resisting / driving, 1.0)
        moved = np.abs(new - factor) / new
        factor = new
        if np.all(moved < 1e-7):
            # steep passive ends make m_alpha meaningless (Whitman and Bailey)
            return factor, resisting, s.usable & np.all(m >= 0.2, axis=1)
    raise ConvergenceError("slip_check: Bishop's factor did not settle within 200 rounds")


def try_circles(
    ground: SlopeSection, entry: FloatArray, exit_s: FloatArray, half_angle: FloatArray
) -> CircleTrial:
    """Safety factors of circles; infinite where one cannot slip, or leaves every load behind."""
    s = _cut(ground, entry, exit_s, half_angle)
    total = s.weight + s.load
    driving = (total * s.sin_alpha).sum(axis=1)
    usable = s.usable & (driving > 1e-9 * (1.0 + np.abs(total).sum(axis=1)))
    if ground.loads:
        usable &= s.load.sum(axis=1) > 0.0
    s = replace(s, usable=usable)
    factor, resisting, holds = _bishop(s, np.where(usable, driving, 1.0))
    return CircleTrial(np.where(holds, factor, np.inf), resisting, driving, s)
