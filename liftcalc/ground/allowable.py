"""Allowable pressure under a mat on a ground profile: the lowest of every mechanism that applies.

Mechanisms
----------
For the layer under the mat: undrained bearing (where cu is known), drained bearing (where phi
is known), presumptive value (where given). For each deeper layer: the same three with the load
spread down to it, punching through granular ground into clay (Meyerhof-Hanna), and the modified
Nc for stiff clay over soft (Brown-Meyerhof). Where a layer has both strengths, both are checked and
the lower counts.

Sources: As in :mod:`liftcalc.ground.bearing`, :mod:`liftcalc.ground.layers`,
:mod:`liftcalc.ground.safety`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.base.text import amount
from liftcalc.ground.factors import Method
from liftcalc.ground.mechanisms import Judged, MatArea, Mechanism, mechanisms_of_layer
from liftcalc.ground.presumptive import PRESUMPTIVE_WARNING
from liftcalc.ground.profile import (
    GroundProfile,
    check_profile,
    effective_water_depth_m,
    needed_depth_m,
)
from liftcalc.ground.safety import Safety
from liftcalc.ground.shape import side_ratio

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

    How each is calculated is in :mod:`liftcalc.ground.mechanisms`: the mat on the surface, its load
    vertical and central. Settlement, nearby slopes and neighbours are separate checks.

    Parameters:
      profile: GroundProfile. Checked first; every problem in one error.
      B_m, L_m: > 0, B <= L. Sides of the mat, or its effective bearing sides. [m]
      safety: Safety or sequence of Safety. For example ``global_factor(2.5)`` or ``EN1997_DA1``.
      method: {"meyerhof", "hansen", "vesic", "en1997"}
      spacing_m: > 0. Centre distance of the nearest other leg; a spread does not grow beyond it,
        since there the neighbour's begins. inf for a leg on its own. [m]
    Returns: AllowablePressure
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
    loose = [
        a.name
        for a in profile.layers
        if a.cu_kPa is None and a.phi_deg is not None and a.phi_deg < PHI_LOOSE_DEG
    ]
    if loose:
        found.append(
            f"Loose ground ({', '.join(loose)}) may punch before it shears: lower its strength as "
            "for local shear, or compact it."
        )
    if any(layer.presumptive_kPa is not None for layer in profile.layers):
        found.append(PRESUMPTIVE_WARNING)
    if any(a.cu_kPa is not None and a.phi_deg is None for a in profile.layers):
        found.append(
            "Clay was checked undrained only: a load left standing softens and settles it."
        )
    return tuple(found)
