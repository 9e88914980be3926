"""Allowable pressure under a mat on a ground profile: the lowest of every mechanism that applies.

Mechanisms
----------
For the layer under the mat: undrained bearing (where cu is known), drained bearing (where phi is known), presumptive
value (where given). For each deeper layer: the same three with the load spread down to it, punching through granular
ground into clay (Meyerhof-Hanna), and the modified Nc for stiff clay over soft (Brown-Meyerhof). Where a layer has both
strengths, both are checked and the lower counts.

Each is the pressure that it allows at the mat. Founding layer: gross q/(safety). Deeper layer: net
capacity on the spread area at its top, (q - q0)/safety, brought back to the mat by the ratio of
areas. Punching: design strengths in, result divided by the safety. The load is vertical and
central, the mat on the surface.

Sources: As in :mod:`liftcalc.ground.bearing`, :mod:`liftcalc.ground.layers`, :mod:`liftcalc.ground.safety`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.base.text import amount
from liftcalc.ground import bearing
from liftcalc.ground.bearing import NC_UNDRAINED, DrainedSoil, Method, UndrainedSoil, side_ratio
from liftcalc.ground.layers import clay_over_clay, sand_over_clay
from liftcalc.ground.presumptive import PRESUMPTIVE_WARNING
from liftcalc.ground.profile import (
    GroundLayer,
    GroundProfile,
    check_profile,
    effective_water_depth_m,
    layer_tops_m,
    needed_depth_m,
    overburden_kPa,
)
from liftcalc.ground.safety import Safety

Basis = Literal["undrained", "drained"]

SPREAD = 0.5
"""Horizontal per vertical at which the load spreads to deeper layers (1 : 2): FHWA GEC 6 (2002), Eq. 5-17."""
PHI_PUNCHING_DEG = 20.0
"""Below it the chart of punching through sand does not reach: no strength is taken. [deg]"""


@dataclass(frozen=True)
class Mechanism:
    """One way to fail: its name, the layer it is in, and the pressure it allows at the mat."""

    name: str
    layer: str
    q_allowable_kPa: FloatArray


@dataclass(frozen=True, eq=False)
class MatArea:
    """What bears, short side B and long side L, and the distance to the next leg."""

    B: FloatArray
    L: FloatArray
    spacing: FloatArray

    def spread(self, height_m: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Sides that far below the mat, and their area over that of the mat."""
        more = 2.0 * SPREAD * height_m
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
    safety: tuple[Safety, ...]
    method: Method


def mechanisms_of_layer(ground: Judged, mat: MatArea, i: int) -> list[Mechanism]:
    """Every way to fail in one layer: bearing by each strength, presumptive value, punching.

    Parameters:
      i: int. Place of the layer, from the top.
    Returns: list of Mechanism
    """
    layer = ground.profile.layers[i]
    suffix = " with load spread" if i else ""
    ratio = mat.spread(layer_tops_m(ground.profile)[i])[2]
    found: list[tuple[str, FloatArray]] = []
    if layer.cu_kPa is not None:
        found.append(("undrained bearing", _bearing(ground, mat, i, "undrained")))
    if layer.phi_deg is not None:
        found.append(("drained bearing", _bearing(ground, mat, i, "drained")))
    if layer.presumptive_kPa is not None:
        found.append(("presumptive value", np.asarray(layer.presumptive_kPa)))
    ways = [Mechanism(f"{way}{suffix}", layer.name, q * ratio) for way, q in found]
    if i and layer.cu_kPa is not None:
        ways += _punching(ground, mat, i)
    return ways


def _bearing(ground: Judged, mat: MatArea, i: int, basis: Basis) -> FloatArray:
    """Allowable gross (or net, in a deeper layer) pressure on the spread area in layer *i*.

    The sets of factors run along a leading axis, so that all are calculated in one call.
    """
    layer, safety = ground.profile.layers[i], ground.safety
    depth = layer_tops_m(ground.profile)[i]
    short, long, _ = mat.spread(depth)
    dims = max(short.ndim, long.ndim)
    surcharge = overburden_kPa(ground.profile, depth, effective=basis == "drained")
    soil: UndrainedSoil | DrainedSoil
    if basis == "undrained":
        soil = UndrainedSoil((layer.cu_kPa or 0.0) / _along_sets(safety, "cu", dims))
    else:
        soil = DrainedSoil(
            c_kPa=(layer.c_kPa or 0.0) / _along_sets(safety, "c", dims),
            phi_deg=_design_phi_deg(layer.phi_deg or 0.0, safety, dims),
            unit_weight_kN_m3=layer.unit_weight_kN_m3,
            water_depth_m=max(ground.water_m - depth, 0.0),
        )
    q = bearing.bearing_capacity(short, long, soil, surcharge_kPa=surcharge, method=ground.method).q_ult_kPa - (
        surcharge if i else 0.0
    )
    return np.asarray(np.min(np.maximum(q, 0.0) / _overall(ground, dims), axis=0))


def _along_sets(safety: tuple[Safety, ...], field: str, dims: int) -> FloatArray:
    """One factor of every set, along a leading axis in front of ``dims`` others."""
    return np.array([getattr(s, field) for s in safety], np.float64).reshape((-1,) + (1,) * dims)


def _design_phi_deg(phi_deg: float, safety: tuple[Safety, ...], dims: int) -> FloatArray:
    tan = np.tan(np.radians(phi_deg)) / _along_sets(safety, "tan_phi", dims)
    return np.asarray(np.degrees(np.arctan(tan)))


def _effective_weight(layers: Sequence[tuple[GroundLayer, float]], water_m: float) -> float:
    """Lowest effective unit weight over (layer, its bottom); submerged where water stands in it."""
    weights = [
        layer.unit_weight_kN_m3 - (bearing.WATER_UNIT_WEIGHT_KN_M3 if water_m < bottom else 0.0)
        for layer, bottom in layers
    ]
    return max(min(weights), 0.1)


def _punching(ground: Judged, mat: MatArea, i: int) -> list[Mechanism]:
    """Punching into clay layer *i*, or nothing where no form applies.

    The upper layer is the run of layers just above that are all clay or all granular; the load
    is spread down to the top of that run.
    """
    layers, tops = ground.profile.layers, layer_tops_m(ground.profile)
    start, kind_above = i - 1, _kind(layers[i - 1])
    while start > 0 and _kind(layers[start - 1]) == kind_above:
        start -= 1
    run = [(layers[j], tops[j + 1]) for j in range(start, i)]
    sides, thickness = mat.spread(tops[start]), tops[i] - tops[start]
    if kind_above == "clay":
        return _crust(ground, layers[i], run, sides, thickness)
    if kind_above == "granular":
        return _through_granular(ground, layers[i], run, sides, thickness)
    return []


def _kind(layer: GroundLayer) -> Literal["clay", "granular", "unknown"]:
    if layer.cu_kPa is not None:
        return "clay"
    return "granular" if layer.phi_deg is not None else "unknown"


def _overall(ground: Judged, dims: int) -> FloatArray:
    load, resistance = (_along_sets(ground.safety, f, dims) for f in ("load", "resistance"))
    return np.asarray(load * resistance)


def _crust(
    ground: Judged, layer: GroundLayer, run: Sequence[tuple[GroundLayer, float]],
    sides: tuple[FloatArray, FloatArray, FloatArray], thickness_m: float,
) -> list[Mechanism]:  # fmt: skip
    crust = min(a.cu_kPa for a, _ in run if a.cu_kPa is not None)
    if layer.cu_kPa is None or crust <= layer.cu_kPa:
        return []
    short, long, ratio = sides
    dims = max(short.ndim, long.ndim)
    cu = _along_sets(ground.safety, "cu", dims)
    two = clay_over_clay(short, long, thickness_m=thickness_m, cu_upper_kPa=crust / cu, cu_lower_kPa=layer.cu_kPa / cu)
    q = np.min(two.q_ult_kPa / _overall(ground, dims), axis=0)
    return [Mechanism("punching through stiffer clay", layer.name, q * ratio)]


def _through_granular(
    ground: Judged, layer: GroundLayer, run: Sequence[tuple[GroundLayer, float]],
    sides: tuple[FloatArray, FloatArray, FloatArray], thickness_m: float,
) -> list[Mechanism]:  # fmt: skip
    friction = [a.phi_deg for a, _ in run if a.phi_deg is not None]
    short, long, ratio = sides
    dims = max(short.ndim, long.ndim)
    phi = _design_phi_deg(min(friction), ground.safety, dims)
    cu = (layer.cu_kPa or 0.0) / _along_sets(ground.safety, "cu", dims)
    charted = phi >= PHI_PUNCHING_DEG
    two = sand_over_clay(
        short, long, thickness_m=thickness_m,
        phi_upper_deg=np.where(charted, phi, PHI_PUNCHING_DEG),
        unit_weight_upper_kN_m3=_effective_weight(run, ground.water_m), cu_lower_kPa=cu,
    )  # fmt: skip
    # below the chart the layer is given no strength of its own against punching
    bare = (1.0 + 0.2 * short / long) * NC_UNDRAINED * cu
    q = np.min(np.where(charted, two.q_punch_kPa, bare) / _overall(ground, dims), axis=0)
    return [Mechanism("punching through granular layer", layer.name, q * ratio)]


PHI_LOOSE_DEG = 30.0
"""Granular ground of a lower friction angle is warned of as loose. [deg]"""


@dataclass(frozen=True)
class AllowablePressure:
    """Allowable service pressure on the bearing area, with every mechanism kept.

    Arrays have the common shape of the inputs. ``governing`` indexes ``mechanisms``;
    ``governing_name`` and ``governing_layer`` spell it out.
    """

    q_allowable_kPa: FloatArray
    governing: NDArray[np.intp]
    mechanisms: tuple[Mechanism, ...]
    warnings: tuple[str, ...]

    @property
    def governing_name(self) -> NDArray[np.str_]:
        """Name of the governing mechanism."""
        return np.asarray(np.array([m.name for m in self.mechanisms])[self.governing])

    @property
    def governing_layer(self) -> NDArray[np.str_]:
        """Layer in which the governing mechanism lies."""
        return np.asarray(np.array([m.layer for m in self.mechanisms])[self.governing])


def allowable_pressure(
    profile: GroundProfile,
    B_m: ArrayLike,
    *,
    L_m: ArrayLike,
    safety: Safety | Sequence[Safety],
    method: Method = "en1997",
    spacing_m: ArrayLike = np.inf,
) -> AllowablePressure:
    """Allowable pressure under a mat, by every mechanism that applies to the ground.

    The mat is on the surface, its load vertical and central. Settlement, nearby slopes and
    neighbours are separate checks.

    Parameters:
      profile: GroundProfile. Checked first; every problem in one error.
      B_m, L_m: > 0, B <= L. Sides of the mat, or its effective bearing sides. [m]
      safety: Safety or sequence of Safety. For example ``global_factor(2.5)`` or ``EN1997_DA1``.
      spacing_m: > 0. Centre distance of the nearest other leg; a spread does not grow beyond it,
        since there the neighbour's begins. inf for a leg on its own. [m]
    Raises: Any problem of the profile (missing water level, voids unknown, contradictory or too
      shallow layers, strengths out of range).
    """
    sets = (safety,) if isinstance(safety, Safety) else tuple(safety)
    if not sets:
        raise InputError.of("safety", safety, "at least one set of factors")
    side_ratio(B_m, L_m)  # refuses sides that are not positive, and B above L
    B, L = np.asarray(B_m, dtype=np.float64), np.asarray(L_m, dtype=np.float64)
    spacing = np.asarray(spacing_m, dtype=np.float64)
    if not np.all(spacing > 0.0):
        raise InputError.of("spacing_m", spacing_m, "greater than 0")
    check_profile(profile, needed_depth_m=needed_depth_m(float(np.max(B))))
    ground = Judged(profile, effective_water_depth_m(profile), sets, method)
    mat = MatArea(B, L, spacing)
    shape = np.broadcast_shapes(B.shape, L.shape, spacing.shape)
    mechanisms = tuple(
        Mechanism(m.name, m.layer, np.broadcast_to(np.asarray(m.q_allowable_kPa), shape))
        for i in range(len(profile.layers))
        for m in mechanisms_of_layer(ground, mat, i)
    )
    stack = np.stack([m.q_allowable_kPa for m in mechanisms])
    least, governing = np.asarray(np.min(stack, axis=0)), np.asarray(np.argmin(stack, axis=0))
    return AllowablePressure(least, governing, mechanisms, _warnings(profile))


def _warnings(profile: GroundProfile) -> tuple[str, ...]:
    found = []
    dry = profile.water_not_found_to_m
    if profile.water_depth_m is None and dry is not None:
        found.append(f"No water was found to {amount(dry, 'length_m')}; water is taken there.")
    loose = [a.name for a in profile.layers if a.cu_kPa is None and a.phi_deg is not None and a.phi_deg < PHI_LOOSE_DEG]
    if loose:
        found.append(
            f"Loose ground ({', '.join(loose)}) may punch before it shears: lower its strength as "
            "for local shear, or compact it."
        )
    if any(layer.presumptive_kPa is not None for layer in profile.layers):
        found.append(PRESUMPTIVE_WARNING)
    if any(a.cu_kPa is not None and a.phi_deg is None for a in profile.layers):
        found.append("Clay was checked undrained only: a load left standing softens and settles it.")
    return tuple(found)
