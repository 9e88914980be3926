"""Ways in which layered ground fails under a mat, each as the pressure that it allows at the mat.

Founding layer: gross q/(safety). Deeper layer: net capacity on the spread area at its top, (q -
q0)/safety, brought back to the mat by the ratio of areas. Punching: design strengths in, result
divided by the safety; with a horizontal load it is multiplied by the lesser of (1 - theta/90)^2
and (1 - theta/phi)^2.

Sources: as in :mod:`liftcalc.ground.bearing`, :mod:`liftcalc.ground.layers`,
:mod:`liftcalc.ground.safety`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.ground.bearing import BaseLoad, DrainedSoil, Footing, UndrainedSoil, bearing_capacity
from liftcalc.ground.effective import WATER_UNIT_WEIGHT_KN_M3
from liftcalc.ground.factors import NC_UNDRAINED, Method
from liftcalc.ground.layers import clay_over_clay, sand_over_clay
from liftcalc.ground.profile import GroundLayer, GroundProfile, layer_tops_m, overburden_kPa
from liftcalc.ground.safety import Safety

PressureBasis = Literal["undrained", "drained", "both", "presumptive"]

_PRESUMPTIVE_MAX_H_OVER_V = 0.05
_PHI_PUNCHING_DEG = 20.0


@dataclass(frozen=True)
class Mechanism:
    """One way to fail: its name, the layer it is in, and the pressure it allows at the mat."""

    name: str
    layer: str
    q_allowable_kPa: FloatArray


@dataclass(frozen=True, eq=False)
class MatLoad:
    """What presses where: effective sides (short B, long L), forces, and how the load spreads."""

    B: FloatArray
    L: FloatArray
    V: FloatArray
    H_short: FloatArray
    H_long: FloatArray
    depth_m: float
    horizontal_per_vertical: float
    spacing: FloatArray

    @property
    def H(self) -> FloatArray:
        """Horizontal load."""
        return np.asarray(np.hypot(self.H_short, self.H_long))

    @property
    def dims(self) -> int:
        """Axes of the states, behind the leading one of the safety sets."""
        return max(v.ndim for v in (self.B, self.L, self.V, self.H_short, self.H_long))

    def spread(self, height_m: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Sides that far below the mat, and their area over that of the mat."""
        more = 2.0 * self.horizontal_per_vertical * height_m
        short, long = (
            # a spread does not grow beyond the next leg
            np.asarray(np.maximum(np.minimum(side + more, self.spacing), side))
            for side in (self.B, self.L)
        )
        return short, long, np.asarray(short * long / (self.B * self.L))


@dataclass(frozen=True, eq=False)
class Judged:
    """The ground, and by what rule."""

    profile: GroundProfile
    water_m: float
    first: int
    """Layer under the mat."""
    safety: tuple[Safety, ...]
    method: Method
    basis: PressureBasis


def mechanisms_of_layer(ground: Judged, load: MatLoad, i: int) -> list[Mechanism]:
    """Every way to fail in layer *i*: bearing by each strength, presumptive value, punching."""
    layer, below = ground.profile.layers[i], i > ground.first
    height = max(layer_tops_m(ground.profile)[i] - load.depth_m, 0.0)
    suffix = " with load spread" if below else ""
    ratio = load.spread(height)[2]
    found = [
        Mechanism(f"{one} bearing{suffix}", layer.name, _bearing(ground, load, i, one) * ratio)
        for one in _bases(layer, ground.basis)
    ]
    if layer.presumptive_kPa is not None and ground.basis in ("both", "presumptive"):
        if not np.all(load.H <= _PRESUMPTIVE_MAX_H_OVER_V * load.V):
            raise InputError.of(
                "H_kN", float(np.max(load.H)), "at most 5 % of V_kN with presumptive values",
                "They are for vertical load: use a strength.",
            )  # fmt: skip
        found.append(
            Mechanism(f"presumptive value{suffix}", layer.name, layer.presumptive_kPa * ratio)
        )
    if below and layer.cu_kPa is not None and "undrained" in _bases(layer, ground.basis):
        found += _punching(ground, load, i)
    return found


def _bases(layer: GroundLayer, basis: PressureBasis) -> tuple[Literal["undrained", "drained"], ...]:
    """Which strengths of a layer count; a layer with one of the two is checked by that one."""
    has_cu, has_phi = layer.cu_kPa is not None, layer.phi_deg is not None
    if basis == "presumptive" and layer.presumptive_kPa is not None:
        return ()
    if has_cu and has_phi:
        return (basis,) if basis in ("undrained", "drained") else ("undrained", "drained")
    return ("undrained",) if has_cu else ("drained",) if has_phi else ()


def _bearing(
    ground: Judged, load: MatLoad, i: int, basis: Literal["undrained", "drained"]
) -> FloatArray:
    """Allowable gross (or net, in a deeper layer) pressure on the spread area in layer *i*.

    The sets of factors run along a leading axis, so that all are calculated in one call.
    """
    layer, safety = ground.profile.layers[i], ground.safety
    top = layer_tops_m(ground.profile)[i]
    depth = max(top, load.depth_m)
    short, long, _ = load.spread(max(top - load.depth_m, 0.0))
    surcharge = overburden_kPa(ground.profile, depth, effective=basis == "drained")
    factor = _along_sets(safety, "load", load.dims)
    soil: UndrainedSoil | DrainedSoil
    if basis == "undrained" and layer.cu_kPa is not None:
        soil = UndrainedSoil(
            layer.cu_kPa / _along_sets(safety, "cu", load.dims), layer.unit_weight_kN_m3
        )
    else:
        soil = DrainedSoil(
            c_kPa=(layer.c_kPa or 0.0) / _along_sets(safety, "c", load.dims),
            phi_deg=_design_phi_deg(layer.phi_deg or 0.0, safety, load.dims),
            unit_weight_kN_m3=layer.unit_weight_kN_m3,
            water_depth_m=max(ground.water_m - depth, 0.0),
        )
    capacity = bearing_capacity(
        Footing(short, long, surcharge_kPa=surcharge, use_depth_factors=False),
        soil,
        load=BaseLoad(load.V * factor, load.H_short * factor, load.H_long * factor),
        method=ground.method,
    )
    q = capacity.q_ult_kPa - surcharge if i > ground.first else capacity.q_ult_kPa
    overall = factor * _along_sets(safety, "resistance", load.dims)
    return np.asarray(np.min(np.maximum(q, 0.0) / overall, axis=0))


def _along_sets(safety: tuple[Safety, ...], field: str, dims: int) -> FloatArray:
    """One factor of every set, along a leading axis in front of ``dims`` others."""
    return np.array([getattr(s, field) for s in safety], np.float64).reshape((-1,) + (1,) * dims)


def _design_phi_deg(phi_deg: float, safety: tuple[Safety, ...], dims: int) -> FloatArray:
    tan = np.tan(np.radians(phi_deg)) / _along_sets(safety, "tan_phi", dims)
    return np.asarray(np.degrees(np.arctan(tan)))


def _effective_weight(layers: Sequence[tuple[GroundLayer, float]], water_m: float) -> float:
    """Lowest effective unit weight over (layer, its bottom); submerged where water stands in it."""
    weights = [
        layer.unit_weight_kN_m3 - (WATER_UNIT_WEIGHT_KN_M3 if water_m < bottom else 0.0)
        for layer, bottom in layers
    ]
    return max(min(weights), 0.1)


def _punching(ground: Judged, load: MatLoad, i: int) -> list[Mechanism]:
    """Punching into clay layer *i*, or nothing where no form applies.

    The upper layer is the run of layers just above that are all clay or all granular; the load
    is spread down to the top of that run.
    """
    layers, tops = ground.profile.layers, layer_tops_m(ground.profile)
    start, kind_above = i - 1, _kind(layers[i - 1], ground.basis)
    while start > ground.first and _kind(layers[start - 1], ground.basis) == kind_above:
        start -= 1
    run = [(layers[j], tops[j + 1]) for j in range(start, i)]
    top = max(tops[start], load.depth_m)
    sides, thickness = load.spread(top - load.depth_m), tops[i] - top
    if kind_above == "clay":
        return _crust(ground, load, layers[i], run, sides, thickness)
    if kind_above == "granular":
        return _through_granular(ground, load, layers[i], run, sides, thickness)
    return []


def _kind(layer: GroundLayer, basis: PressureBasis) -> Literal["clay", "granular", "unknown"]:
    if "undrained" in _bases(layer, "both" if basis == "presumptive" else basis):
        return "clay"
    return "granular" if layer.phi_deg is not None else "unknown"


def _overall(ground: Judged, dims: int) -> FloatArray:
    load, resistance = (_along_sets(ground.safety, f, dims) for f in ("load", "resistance"))
    return np.asarray(load * resistance)


def _tilt(load: MatLoad) -> tuple[FloatArray, FloatArray]:
    """Angle of the load from the vertical [degrees], and what it leaves of the capacity."""
    theta = np.degrees(np.arctan2(load.H, load.V))
    return theta, np.asarray((1.0 - theta / 90.0) ** 2)


def _crust(
    ground: Judged,
    load: MatLoad,
    layer: GroundLayer,
    run: Sequence[tuple[GroundLayer, float]],
    sides: tuple[FloatArray, FloatArray, FloatArray],
    thickness_m: float,
) -> list[Mechanism]:
    crust = min(a.cu_kPa for a, _ in run if a.cu_kPa is not None)
    if layer.cu_kPa is None or crust <= layer.cu_kPa:
        return []
    short, long, ratio = sides
    dims = max(short.ndim, long.ndim)
    cu = _along_sets(ground.safety, "cu", dims)
    two = clay_over_clay(
        short, long, thickness_m=thickness_m, cu_upper_kPa=crust / cu,
        cu_lower_kPa=layer.cu_kPa / cu,
    )  # fmt: skip
    q = np.min(two.q_ult_kPa / _overall(ground, dims), axis=0)
    return [Mechanism("punching through stiffer clay", layer.name, q * _tilt(load)[1] * ratio)]


def _through_granular(
    ground: Judged,
    load: MatLoad,
    layer: GroundLayer,
    run: Sequence[tuple[GroundLayer, float]],
    sides: tuple[FloatArray, FloatArray, FloatArray],
    thickness_m: float,
) -> list[Mechanism]:
    friction = [a.phi_deg for a, _ in run if a.phi_deg is not None]
    short, long, ratio = sides
    dims = max(short.ndim, long.ndim)
    phi = _design_phi_deg(min(friction), ground.safety, dims)
    cu = (layer.cu_kPa or 0.0) / _along_sets(ground.safety, "cu", dims)
    charted = phi >= _PHI_PUNCHING_DEG
    two = sand_over_clay(
        short,
        long,
        thickness_m=thickness_m,
        phi_upper_deg=np.where(charted, phi, _PHI_PUNCHING_DEG),
        unit_weight_upper_kN_m3=_effective_weight(run, ground.water_m),
        cu_lower_kPa=cu,
    )
    # below the chart the layer is given no strength of its own against punching
    bare = (1.0 + 0.2 * short / long) * NC_UNDRAINED * cu
    q = np.min(np.where(charted, two.q_punch_kPa, bare) / _overall(ground, dims), axis=0)
    theta, tilt = _tilt(load)
    inclined = np.minimum(tilt, np.maximum(1.0 - theta / float(np.min(phi)), 0.0) ** 2)
    return [Mechanism("punching through granular layer", layer.name, q * inclined * ratio)]
