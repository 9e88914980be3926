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

from collections.abc import Sequence
from dataclasses import dataclass

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
from liftcalc.ground.effective import EffectiveArea, effective_area
from liftcalc.ground.factors import Method
from liftcalc.ground.mechanisms import (
    Judged,
    MatLoad,
    Mechanism,
    PressureBasis,
    mechanisms_of_layer,
)
from liftcalc.ground.profile import (
    GroundProfile,
    check_profile,
    effective_water_depth_m,
    layer_at,
    needed_depth_m,
)
from liftcalc.ground.safety import Safety

_PHI_LOOSE_DEG = 30.0


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

    How each is calculated is in :mod:`liftcalc.ground.mechanisms`. Settlement, nearby slopes and
    neighbours are separate checks.

    Parameters:
      profile: GroundProfile. Checked first; every problem in one error.
      B_m, L_m: > 0. Sides of the mat in any order, or its effective bearing sides. [m]
      V_kN: >= 0. Service load on the ground, mat weight included; 0 for a leg in the air. [kN]
      safety: Safety or sequence of Safety. For example ``global_factor(2.5)`` or ``EN1997_DA1``.
      basis: {"undrained", "drained", "both", "presumptive"}. Which strength counts in a layer that
        has both. A layer with only one is checked by that one. "both" also checks presumptive
        values where given. "presumptive" needs one for the layer under the mat; a deeper layer
        without one is checked by its strengths.
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
      H_B_kN, H_L_kN, eccentricity_B_m, eccentricity_L_m: Horizontal service load and eccentricity
        along B and L. [kN, m]
      depth_m: >= 0. Depth of the underside of the mat; the strength of the ground above is not
        counted. [m]
      horizontal_per_vertical: 0 to 1. Load spread to deeper layers.
      spacing_m: > 0. Centre distance of the nearest other leg; a spread does not grow beyond it,
        since there the neighbour's begins. inf for a leg on its own. [m]
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
    first = layer_at(profile, D)
    if basis == "presumptive" and profile.layers[first].presumptive_kPa is None:
        raise InputError.of(
            f"layers {profile.layers[first].name!r} presumptive_kPa", None,
            "a published value for the layer under the mat",
        )  # fmt: skip
    area = effective_area(
        B_in, L_in, eccentricity_B_m=eccentricity_B_m, eccentricity_L_m=eccentricity_L_m
    )
    ground = Judged(profile, effective_water_depth_m(profile), first, sets, method, basis)
    load = MatLoad(
        # a load outside the mat is set to zero at the end; a dummy side keeps the rest finite
        B=np.where(area.outside, 1.0, area.B_eff_m),
        L=np.where(area.outside, 1.0, area.L_eff_m),
        V=V,
        H_short=np.where(area.turned, H_L, H_B),
        H_long=np.where(area.turned, H_B, H_L),
        depth_m=D,
        horizontal_per_vertical=k,
        spacing=spacing,
    )
    shape = np.broadcast_shapes(area.A_eff_m2.shape, V.shape, H_B.shape, H_L.shape, spacing.shape)
    found = [
        Mechanism(m.name, m.layer, np.broadcast_to(np.asarray(m.q_allowable_kPa), shape))
        for i in range(first, len(profile.layers))
        for m in mechanisms_of_layer(ground, load, i)
    ]
    if not found:
        raise InputError.of("basis", basis, "a basis for which the layers have a strength")
    stack = np.stack([m.q_allowable_kPa for m in found])
    q_all = np.where(area.outside, 0.0, np.min(stack, axis=0))
    carried = q_all * area.A_eff_m2
    none = np.where(V > 0.0, np.inf, 0.0)
    A = np.where(area.outside, 1.0, area.A_eff_m2)
    return AllowablePressure(
        q_allowable_kPa=q_all,
        allowable_kN=carried,
        pressure_kPa=np.where(area.outside, none, V / A),
        utilisation=np.where(carried > 0.0, V / np.where(carried > 0.0, carried, 1.0), none),
        governing=np.asarray(np.argmin(stack, axis=0)),
        mechanisms=tuple(found),
        area=area,
        water_depth_m=ground.water_m,
        warnings=_warnings(profile, first, area, basis),
    )


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
