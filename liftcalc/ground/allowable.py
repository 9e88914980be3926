"""Allowable pressure under a mat on a ground profile: the lowest of every mechanism that applies.

Mechanisms
----------
For the layer under the mat: undrained bearing (where cu is known), drained bearing (where phi
is known), presumptive value (where given). For each deeper layer: the same three with the load
spread down to it, punching through granular ground into clay (Meyerhof-Hanna), and the modified
Nc for stiff clay over soft (Brown-Meyerhof). Where a layer has both strengths and the basis is
"both", both are checked and the lower counts.

Sources: As in :mod:`liftcalc.ground.bearing`, :mod:`liftcalc.ground.layers`,
:mod:`liftcalc.ground.safety`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    require_between,
    require_finite,
    require_non_negative,
    require_positive,
)
from liftcalc.ground.bearing import (
    BaseLoad,
    DrainedSoil,
    Footing,
    UndrainedSoil,
    bearing_capacity,
)
from liftcalc.ground.effective import WATER_UNIT_WEIGHT_KN_M3, EffectiveArea, effective_area
from liftcalc.ground.factors import NC_UNDRAINED, Method
from liftcalc.ground.layers import clay_over_clay, sand_over_clay
from liftcalc.ground.profile import (
    GroundLayer,
    GroundProfile,
    check_profile,
    effective_water_depth_m,
    layer_at,
    layer_tops_m,
    needed_depth_m,
    overburden_kPa,
)
from liftcalc.ground.safety import Safety

__all__ = ["AllowablePressure", "Mechanism", "PressureBasis", "allowable_pressure"]

PressureBasis = Literal["undrained", "drained", "both", "presumptive"]

_PRESUMPTIVE_MAX_H_OVER_V = 0.05
_PHI_PUNCHING_DEG = 20.0
_PHI_LOOSE_DEG = 30.0


@dataclass(frozen=True)
class Mechanism:
    """One way to fail: its name, the layer it is in, and the pressure it allows at the mat."""

    name: str
    layer: str
    q_allowable_kPa: FloatArray


@dataclass(frozen=True)
class AllowablePressure:
    """Allowable service pressure on the effective area, with every mechanism kept.

    Arrays have the common shape of the inputs. utilisation = V / (q_allowable A');
    inf where nothing is allowed but something stands on it. ``governing`` indexes
    ``mechanisms``; ``governing_name`` and ``governing_layer`` spell it out.
    """

    q_allowable_kPa: FloatArray
    allowable_kN: FloatArray
    pressure_kPa: FloatArray
    utilisation: FloatArray
    governing: NDArray[np.intp]
    mechanisms: tuple[Mechanism, ...]
    area: EffectiveArea
    water_depth_m: float
    warnings: tuple[str, ...]

    @property
    def governing_name(self) -> NDArray[np.str_]:
        """Name of the governing mechanism, or "load outside the mat"."""
        names = np.array([m.name for m in self.mechanisms])[self.governing]
        return np.where(self.area.outside, "load outside the mat", names)

    @property
    def governing_layer(self) -> NDArray[np.str_]:
        """Layer in which the governing mechanism lies."""
        return np.asarray(np.array([m.layer for m in self.mechanisms])[self.governing])


def _bases(layer: GroundLayer, basis: PressureBasis) -> tuple[Literal["undrained", "drained"], ...]:
    """Which strengths of a layer count; a layer with one of the two is checked by that one."""
    has_cu, has_phi = layer.cu_kPa is not None, layer.phi_deg is not None
    if basis == "presumptive" and layer.presumptive_kPa is not None:
        return ()
    if has_cu and has_phi:
        return (basis,) if basis in ("undrained", "drained") else ("undrained", "drained")
    return ("undrained",) if has_cu else ("drained",) if has_phi else ()


def _bearing(
    layer: GroundLayer,
    basis: Literal["undrained", "drained"],
    profile: GroundProfile,
    *,
    depth_m: float,
    water_m: float,
    B: FloatArray,
    L: FloatArray,
    V: FloatArray,
    H_B: FloatArray,
    H_L: FloatArray,
    method: Method,
    safety: tuple[Safety, ...],
    net: bool,
) -> FloatArray:
    """Allowable gross (or net) pressure on B x L at the top of a layer or inside it.

    The sets of factors run along a new leading axis, so that all are worked in one call.
    """
    surcharge = overburden_kPa(profile, depth_m, effective=basis == "drained")
    dims = max(B.ndim, L.ndim, V.ndim, H_B.ndim, H_L.ndim)
    load = _along_sets(safety, "load", dims)
    soil: UndrainedSoil | DrainedSoil
    if basis == "undrained" and layer.cu_kPa is not None:
        soil = UndrainedSoil(
            layer.cu_kPa / _along_sets(safety, "cu", dims), layer.unit_weight_kN_m3
        )
    else:
        tan = np.tan(np.radians(layer.phi_deg or 0.0)) / _along_sets(safety, "tan_phi", dims)
        soil = DrainedSoil(
            c_kPa=(layer.c_kPa or 0.0) / _along_sets(safety, "c", dims),
            phi_deg=np.degrees(np.arctan(tan)),
            unit_weight_kN_m3=layer.unit_weight_kN_m3,
            water_depth_m=max(water_m - depth_m, 0.0),
        )
    capacity = bearing_capacity(
        Footing(B, L, surcharge_kPa=surcharge, use_depth_factors=False),
        soil,
        load=BaseLoad(V * load, H_B * load, H_L * load),
        method=method,
    )
    q = capacity.q_ult_kPa - surcharge if net else capacity.q_ult_kPa
    overall = load * _along_sets(safety, "resistance", dims)
    return np.asarray(np.min(np.maximum(q, 0.0) / overall, axis=0))


def _spread(side: FloatArray, more: float, spacing: FloatArray) -> FloatArray:
    """Side grown by the spread, but not beyond the distance to the next leg."""
    return np.asarray(np.maximum(np.minimum(side + more, spacing), side))


def _along_sets(safety: tuple[Safety, ...], field: str, dims: int) -> FloatArray:
    """One factor of every set, along a leading axis in front of ``dims`` others."""
    return np.array([getattr(s, field) for s in safety], np.float64).reshape((-1,) + (1,) * dims)


def _effective_weight(layers: Sequence[tuple[GroundLayer, float, float]], water_m: float) -> float:
    """Lowest effective unit weight over (layer, from, to); submerged where water stands in it."""
    weights = [
        layer.unit_weight_kN_m3 - (WATER_UNIT_WEIGHT_KN_M3 if water_m < bottom else 0.0)
        for layer, _, bottom in layers
    ]
    return max(min(weights), 0.1)


def allowable_pressure(
    profile: GroundProfile,
    B_m: ArrayLike,
    *,
    L_m: ArrayLike,
    V_kN: ArrayLike,
    safety: Safety | Sequence[Safety],
    basis: PressureBasis = "both",
    method: Method = "en1997",
    H_B_kN: ArrayLike = 0.0,
    H_L_kN: ArrayLike = 0.0,
    eccentricity_B_m: ArrayLike = 0.0,
    eccentricity_L_m: ArrayLike = 0.0,
    depth_m: float = 0.0,
    horizontal_per_vertical: float = 0.5,
    spacing_m: ArrayLike = np.inf,
) -> AllowablePressure:
    """Allowable pressure under a mat, by every mechanism that applies to the ground.

    Founding layer: gross q/(safety). Deeper layer: net capacity on the spread area at its top, (q -
    q0)/safety, brought back to the mat by the ratio of areas. Punching: design strengths in, result
    divided by the safety; with a horizontal load it is multiplied by the lesser of (1 - theta/90)^2
    and (1 - theta/phi)^2. Settlement, nearby slopes and neighbours are separate checks.

    Parameters:
      profile: GroundProfile. Checked first; every problem in one error.
      B_m, L_m: array_like, > 0. Sides of the mat in any order, or its effective bearing sides. [m]
      V_kN: array_like, >= 0. Service load on the ground, mat weight included; 0 for a leg in the
        air. [kN]
      safety: Safety or sequence of Safety. For example ``global_factor(2.5)`` or ``EN1997_DA1``.
      basis: {"undrained", "drained", "both", "presumptive"}. Which strength counts in a layer that
        has both. A layer with only one is checked by that one. "both" also checks presumptive
        values where given. "presumptive" needs one for the layer under the mat; a deeper layer
        without one is checked by its strengths.
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
      H_B_kN, H_L_kN, eccentricity_B_m, eccentricity_L_m: array_like. Horizontal service load and
        eccentricity along B and L. [kN, m]
      depth_m: float, >= 0. Depth of the underside of the mat; the strength of the ground above is
        not counted. [m]
      horizontal_per_vertical: float, 0 to 1. Load spread to deeper layers.
      spacing_m: array_like, > 0. Centre distance of the nearest other leg; a spread does not grow
        beyond it, since there the neighbour's begins. inf for a leg on its own. [m]
    Returns: AllowablePressure
    Raises: Any problem of the profile (missing water level, voids unknown, contradictory or too
      shallow layers, strengths out of range), of the loads, or of the basis.
    """
    sets = (safety,) if isinstance(safety, Safety) else tuple(safety)
    if not sets:
        raise InputError.of("safety", safety, "at least one set of factors")
    if basis not in ("undrained", "drained", "both", "presumptive"):
        raise InputError.of("basis", basis, "undrained, drained, both, presumptive")
    B_in, L_in = require_positive("B_m", B_m), require_positive("L_m", L_m)
    V = require_non_negative("V_kN", V_kN)
    H_B, H_L = require_finite("H_B_kN", H_B_kN), require_finite("H_L_kN", H_L_kN)
    D = float(require_non_negative("depth_m", depth_m))
    k = float(require_between("horizontal_per_vertical", horizontal_per_vertical, 0.0, 1.0))
    spacing = np.asarray(spacing_m, dtype=np.float64)
    if not np.all(spacing > 0.0):
        raise InputError.of("spacing_m", spacing_m, "greater than 0")
    width = float(np.max(np.minimum(B_in, L_in)))
    check_profile(profile, needed_depth_m=needed_depth_m(D, width))
    water_m = effective_water_depth_m(profile)
    tops = layer_tops_m(profile)
    first = layer_at(profile, D)
    if basis == "presumptive" and profile.layers[first].presumptive_kPa is None:
        raise InputError.of(
            f"layers {profile.layers[first].name!r} presumptive_kPa", None,
            "a published value for the layer under the mat",
        )  # fmt: skip
    area = effective_area(
        B_in, L_in, eccentricity_B_m=eccentricity_B_m, eccentricity_L_m=eccentricity_L_m
    )
    H = np.hypot(H_B, H_L)
    shape = np.broadcast_shapes(area.A_eff_m2.shape, V.shape, H.shape, spacing.shape)
    # A load outside the mat is set to zero at the end; a dummy side keeps the rest finite.
    B = np.where(area.outside, 1.0, area.B_eff_m)
    L = np.where(area.outside, 1.0, area.L_eff_m)
    h_short = np.where(area.turned, H_L, H_B)
    h_long = np.where(area.turned, H_B, H_L)

    found: list[Mechanism] = []

    def add(name: str, layer: GroundLayer, q: ArrayLike) -> None:
        array = np.broadcast_to(np.asarray(q, dtype=np.float64), shape)
        found.append(Mechanism(name, layer.name, array))

    for i in range(first, len(profile.layers)):
        layer = profile.layers[i]
        H_m = max(tops[i] - D, 0.0)
        below = i > first
        wide, long = (_spread(v, 2.0 * k * H_m, spacing) for v in (B, L))
        ratio = wide * long / (B * L)
        suffix = " with load spread" if below else ""
        for one in _bases(layer, basis):
            q = _bearing(
                layer, one, profile, depth_m=max(tops[i], D), water_m=water_m, B=wide, L=long,
                V=V, H_B=h_short, H_L=h_long, method=method, safety=sets, net=below,
            )  # fmt: skip
            add(f"{one} bearing{suffix}", layer, q * ratio)
        if layer.presumptive_kPa is not None and basis in ("both", "presumptive"):
            if not np.all(H <= _PRESUMPTIVE_MAX_H_OVER_V * V):
                raise InputError.of(
                    "H_kN", float(np.max(H)), "at most 5 % of V_kN with presumptive values",
                    "They are for vertical load: use a strength.",
                )  # fmt: skip
            add(f"presumptive value{suffix}", layer, layer.presumptive_kPa * ratio)
        punch = _punching(profile, i, first, D, k, B, L, H, V, water_m, sets, basis, spacing)
        if punch is not None:
            add(punch[0], layer, punch[1])
    if not found:
        raise InputError.of("basis", basis, "a basis for which the layers have a strength")
    stack = np.stack([m.q_allowable_kPa for m in found])
    worst = np.argmin(stack, axis=0)
    q_all = np.where(area.outside, 0.0, np.min(stack, axis=0))
    carried = q_all * area.A_eff_m2
    none = np.where(V > 0.0, np.inf, 0.0)
    A = np.where(area.outside, 1.0, area.A_eff_m2)
    return AllowablePressure(
        q_allowable_kPa=q_all,
        allowable_kN=carried,
        pressure_kPa=np.where(area.outside, none, V / A),
        utilisation=np.where(carried > 0.0, V / np.where(carried > 0.0, carried, 1.0), none),
        governing=np.asarray(worst),
        mechanisms=tuple(found),
        area=area,
        water_depth_m=water_m,
        warnings=_warnings(profile, first, area, basis),
    )


def _punching(
    profile: GroundProfile,
    i: int,
    first: int,
    D: float,
    k: float,
    B: FloatArray,
    L: FloatArray,
    H: FloatArray,
    V: FloatArray,
    water_m: float,
    sets: tuple[Safety, ...],
    basis: PressureBasis,
    spacing: FloatArray,
) -> tuple[str, FloatArray] | None:
    """Pressure at the mat allowed by punching into clay layer i, or None where no form applies.

    The upper layer is the run of layers just above that are all clay or all granular; the load
    is spread down to the top of that run.
    """
    layer, tops = profile.layers[i], layer_tops_m(profile)
    if i == first or layer.cu_kPa is None or "undrained" not in _bases(layer, basis):
        return None

    def kind(j: int) -> str:
        upper = profile.layers[j]
        bases = _bases(upper, "both" if basis == "presumptive" else basis)
        if "undrained" in bases:
            return "clay"
        return "granular" if upper.phi_deg is not None else "unknown"

    start, kind_above = i - 1, kind(i - 1)
    while start > first and kind(start - 1) == kind_above:
        start -= 1
    run = [(profile.layers[j], max(tops[j], D), tops[j + 1]) for j in range(start, i)]
    top = run[0][1]
    thickness, spread = tops[i] - top, 2.0 * k * (top - D)
    wide, long = _spread(B, spread, spacing), _spread(L, spread, spacing)
    ratio = wide * long / (B * L)
    theta = np.degrees(np.arctan2(H, V))
    tilt = (1.0 - theta / 90.0) ** 2
    dims = max(wide.ndim, long.ndim)
    cu = layer.cu_kPa / _along_sets(sets, "cu", dims)
    overall = _along_sets(sets, "load", dims) * _along_sets(sets, "resistance", dims)
    if kind_above == "clay":
        crust = min(a.cu_kPa for a, _, _ in run if a.cu_kPa is not None)
        if crust <= layer.cu_kPa:
            return None
        two = clay_over_clay(
            wide, long, thickness_m=thickness,
            cu_upper_kPa=crust / _along_sets(sets, "cu", dims), cu_lower_kPa=cu,
        )  # fmt: skip
        q = np.min(two.q_ult_kPa / overall, axis=0)
        return "punching through stiffer clay", q * tilt * ratio
    phi_run = [a.phi_deg for a, _, _ in run if a.phi_deg is not None]
    if kind_above != "granular" or not phi_run:
        return None
    tan = np.tan(np.radians(min(phi_run))) / _along_sets(sets, "tan_phi", dims)
    phi = np.degrees(np.arctan(tan))
    charted = phi >= _PHI_PUNCHING_DEG
    two = sand_over_clay(
        wide, long, thickness_m=thickness, phi_upper_deg=np.where(charted, phi, _PHI_PUNCHING_DEG),
        unit_weight_upper_kN_m3=_effective_weight(run, water_m), cu_lower_kPa=cu,
    )  # fmt: skip
    # Below the chart the layer is given no strength of its own against punching.
    bare = (1.0 + 0.2 * wide / long) * NC_UNDRAINED * cu
    q = np.min(np.where(charted, two.q_punch_kPa, bare) / overall, axis=0)
    weakest = float(np.min(phi))
    inclined = np.minimum(tilt, np.maximum(1.0 - theta / weakest, 0.0) ** 2)
    return "punching through granular layer", q * inclined * ratio


def _warnings(
    profile: GroundProfile, first: int, area: EffectiveArea, basis: PressureBasis
) -> tuple[str, ...]:
    found = []
    if profile.water_depth_m is None:
        found.append(
            f"No water was found to {profile.water_not_found_to_m:g} m; water is taken there."
        )
    if np.any(area.lifts):
        found.append("The load is outside the kern of the mat: part of it has no contact.")
    loose = [
        a.name
        for a in profile.layers[first:]
        if a.cu_kPa is None and a.phi_deg is not None and a.phi_deg < _PHI_LOOSE_DEG
    ]
    if loose:
        found.append(
            f"Loose ground ({', '.join(loose)}) may punch before it shears: lower its strength as "
            "for local shear, or compact it."
        )
    if basis in ("both", "presumptive") and any(
        layer.presumptive_kPa is not None for layer in profile.layers[first:]
    ):
        found.append("A presumptive value is a guess by soil type: prove it by a test on site.")
    if basis in ("undrained", "drained"):
        other = "drained" if basis == "undrained" else "undrained"
        if any(a.cu_kPa is not None and a.phi_deg is not None for a in profile.layers[first:]):
            found.append(f"The {other} strength is known as well and was not checked.")
    if any(a.cu_kPa is not None and a.phi_deg is None for a in profile.layers[first:]):
        found.append(
            "Clay was checked undrained only: a load left standing softens and settles it."
        )
    return tuple(found)
