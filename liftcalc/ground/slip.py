"""Slip check of a slope or excavation edge that carries a mat.

A search over circular slips in plane strain: the mat counts as if it ran on along the crest, which
is on the safe side. The crest is the origin; x points out over the slope, z up. The ground is level
behind the crest (x < 0), falls at the slope angle, and is level again at the toe.

Sources: Bishop (1955), simplified method; limit on m_alpha after Whitman and Bailey (1967) (from
memory). Taylor (1937) stability numbers are a check.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from liftcalc.base import errors
from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import ConvergenceError, InputError, refuse_unless, require_positive
from liftcalc.ground.bearing import WATER_UNIT_WEIGHT_KN_M3

_SLICES = 40


@dataclass(frozen=True)
class SoilLayer:
    """A level layer. Undrained clay: cohesion cu and a friction angle of 0.

    Parameters:
      thickness_m: From the crest level or from the layer above; infinity for the last one. [m]
      unit_weight_kN_m3, cohesion_kPa, friction_deg: Above 0; not negative; 0 to 50. [kN/m3, kPa, degrees]
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
        refuse_unless(*((ok, f, getattr(self, f, "both 0"), text) for f, ok, text in tests))


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


def _cut(ground: SlopeSection, entry: FloatArray, exit_s: FloatArray, half_angle: FloatArray) -> CircleSlices:
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


def try_circles(ground: SlopeSection, entry: FloatArray, exit_s: FloatArray, half_angle: FloatArray) -> CircleTrial:
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


_GRID = 18
"""Trials in each of the three directions, before refining."""


@dataclass(frozen=True)
class SlipResult:
    """The least safe circle found.

    Attributes:
      safety_factor: resisting over driving moment.
      centre_x_m, centre_z_m, radius_m: of the circle.
      entry_x_m: where it meets the ground behind the crest.
      exit_x_m: where it comes out.
      resisting_kN_m, driving_kN_m: sums over the slices, per metre.
    """

    safety_factor: float
    centre_x_m: float
    centre_z_m: float
    radius_m: float
    entry_x_m: float
    exit_x_m: float
    resisting_kN_m: float
    driving_kN_m: float


def _search(ground: SlopeSection) -> tuple[float, float, float] | None:
    """Entry, exit and half angle of the least safe circle, None where none slips.

    A coarse box of circles, then boxes of 7 x 7 x 7 round the least safe one, each half as wide.
    """
    loads = ground.loads
    far = max([0.0, *(s.edge_distance_m + s.width_m for s in loads)])
    reach = far + 4.0 * ground.height + 2.0 * max([0.0, *(s.width_m for s in loads)])
    out = 1.0 + 4.0 + far / ground.height
    # entries crowd towards the crest, and stand just behind every surcharge
    entries = np.union1d(
        -reach * np.linspace(0.02, 1.0, _GRID) ** 1.5, [-(s.edge_distance_m + s.width_m) * 1.0001 for s in loads]
    )
    exits = np.union1d(np.linspace(0.1, 1.0, _GRID), 1.0 + (out - 1.0) * np.linspace(0.02, 1, _GRID) ** 1.5)
    axes = (entries, exits, np.deg2rad(np.linspace(4.0, 88.0, _GRID)))
    step = np.array([reach / _GRID * 1.5, (out - 1.0) / _GRID * 1.5, np.deg2rad(84.0) / _GRID])
    best = None
    for _ in range(9):
        e, x, a = (g.ravel() for g in np.meshgrid(*axes, indexing="ij"))
        factor = try_circles(ground, e, x, a).factor
        k = int(np.argmin(factor))
        if not np.isfinite(factor[k]):
            break
        best = (float(e[k]), float(x[k]), float(a[k]))
        around = np.linspace(-1, 1, 7)
        axes = (
            np.minimum(best[0] + step[0] * around, -1e-6 * ground.height),
            np.clip(best[1] + step[1] * around, 0.02, out + 1.0),
            np.clip(best[2] + step[2] * around, np.deg2rad(1), np.deg2rad(89.9)),
        )
        step = step * 0.5
    return best


def _check_request(layers: Sequence[SoilLayer], surcharges: Sequence[Surcharge]) -> None:
    if len(layers) == 0 or not np.isinf(layers[-1].thickness_m):
        raise InputError.of("layers", len(layers), "one or more, the last of infinite thickness")
    if any(np.isinf(layer.thickness_m) for layer in layers[:-1]):
        raise InputError.of("layers", "an infinite layer above others", "infinite only at the end")
    for s in surcharges:
        require_positive("pressure_kPa", s.pressure_kPa)
        errors.require_non_negative("edge_distance_m", s.edge_distance_m)
        require_positive("width_m", s.width_m)


def slip_check(
    layers: Sequence[SoilLayer],
    *,
    height_m: float,
    slope_deg: float,
    surcharges: Sequence[Surcharge] = (),
    water_depth_m: float | None,
) -> SlipResult:
    """Least safety factor against a circular slip of an edge that carries mats.

    Circles only, no tension crack, no standing water outside the toe. On weightless undrained
    ground a circle finds 5.52 cu under a strip where the exact answer is 5.14: allow 7 % for it.

    Parameters:
      layers: sequence of SoilLayer. From the crest level down; the last one must have infinite thickness.
      height_m: > 0. Crest above toe. [m]
      slope_deg: 5 to 90. Of the face; 90 is a vertical cut. [degrees]
      surcharges: sequence of Surcharge. Strips behind the crest, pressures above 0: only circles
        that take some of a strip with them count. Empty for the bare slope.
      water_depth_m: float or None, >= 0. Level water table below the crest; it follows the face where the face is
        lower. None says that there is none: it has no default, since missing water is unsafe. [m]
    Raises: Layers without a last one. ConvergenceError: No circle that can slip was found, or
      Bishop's factor did not settle.
    Source: Bishop (1955).
    """
    height = float(require_positive("height_m", height_m))
    beta = float(errors.require_between("slope_deg", slope_deg, 5.0, 90.0))
    _check_request(layers, surcharges)
    bottoms = -np.cumsum([layer.thickness_m for layer in layers])
    water = None
    if water_depth_m is not None:
        water = -float(errors.require_non_negative("water_depth_m", water_depth_m))
    ground = SlopeSection(
        height=height, tan_slope=np.inf if beta == 90.0 else float(np.tan(np.deg2rad(beta))),
        tops=np.concatenate([[0.0], bottoms[:-1]]), bottoms=bottoms,
        gamma=np.array([layer.unit_weight_kN_m3 for layer in layers]),
        cohesion=np.array([layer.cohesion_kPa for layer in layers]),
        tan_phi=np.tan(np.deg2rad([layer.friction_deg for layer in layers])), water=water, loads=tuple(surcharges),
    )  # fmt: skip
    best = _search(ground)
    if best is None:
        raise ConvergenceError("slip_check: no circle that can slip was found")
    entry, exit_s, half_angle = (np.array([v]) for v in best)
    one = try_circles(ground, entry, exit_s, half_angle)
    cut = one.slices
    exit_x, _ = ground.exit_point(exit_s)
    return SlipResult(
        safety_factor=float(one.factor[0]), centre_x_m=float(cut.centre_x[0]),
        centre_z_m=float(cut.centre_z[0]), radius_m=float(cut.radius[0]), entry_x_m=best[0],
        exit_x_m=float(exit_x[0]), resisting_kN_m=float(one.resisting[0]),
        driving_kN_m=float(one.driving[0]),
    )  # fmt: skip
