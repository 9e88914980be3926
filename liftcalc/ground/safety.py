"""Safety on the ground: one global factor, or the partial factors of EN 1997-1.

Contents
--------
Safety: the set of factors. global_factor, EN1997_DA1, user_partial: the ways to get one.
BearingDesign, design_bearing: capacity with the safety applied, as an allowable pressure
that is compared with the service pressure.

Sources: EN 1997-1:2004 Annex A Tables A.3, A.4, A.5 and clause 2.4.7.3.4.2 (read in a digitised
edition). The national annex governs where there is one. Global factors: UFC 3-220-20 (2025) section
5-2.4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    require_between,
    require_non_negative,
)
from liftcalc.ground.bearing import Basis, BearingCapacity, bearing_capacity
from liftcalc.ground.factors import Method

__all__ = [
    "EN1997_DA1",
    "EN1997_DA1_1",
    "EN1997_DA1_2",
    "BearingDesign",
    "Safety",
    "design_bearing",
    "design_phi_deg",
    "en1997_da1_split",
    "global_factor",
    "user_partial",
]

LEAST_OVERALL = 2.0
"""Least factor between the ultimate capacity of ground and the service load."""


@dataclass(frozen=True)
class Safety:
    """Factors applied to loads, strengths and resistance; all at least 1.

    ``load`` multiplies the leg load (vertical and horizontal alike, permanent and variable
    part not told apart), ``tan_phi``, ``c`` and ``cu`` divide the strength, ``resistance``
    divides the resulting capacity.
    """

    name: str
    load: float = 1.0
    tan_phi: float = 1.0
    c: float = 1.0
    cu: float = 1.0
    resistance: float = 1.0
    source: str = ""

    def __post_init__(self) -> None:
        for field in ("load", "tan_phi", "c", "cu", "resistance"):
            require_between(f"safety.{field}", getattr(self, field), 1.0, 10.0)

    @property
    def overall(self) -> float:
        """Factor between a capacity that is itself measured or tabulated and the service load."""
        return self.load * self.resistance


EN1997_DA1_1 = Safety(
    "EN 1997-1 design approach 1, combination 1", load=1.5,
    source="EN 1997-1:2004 Tables A.3 (A1), A.4 (M1), A.5 (R1); whole load taken as variable",
)  # fmt: skip
EN1997_DA1_2 = Safety(
    "EN 1997-1 design approach 1, combination 2", load=1.3, tan_phi=1.25, c=1.25, cu=1.4,
    source="EN 1997-1:2004 Tables A.3 (A2), A.4 (M2), A.5 (R1); whole load taken as variable",
)  # fmt: skip
EN1997_DA1: tuple[Safety, Safety] = (EN1997_DA1_1, EN1997_DA1_2)
"""Both combinations; the worse of the two governs."""


def global_factor(factor: float, *, source: str = "chosen by the user") -> Safety:
    """One factor of safety on the ultimate capacity: allowable = q_ult / factor (gross).

    Below 2 is refused: the ground strength is uncertain and a failure is sudden. Usual
    values 2 to 3 (UFC 3-220-20 section 5-2.4).

    Parameters:
      factor: float, 2 to 10. On the ultimate capacity.
      source: str. Where the factor is from, for the sheet.
    Returns: Safety
    """
    require_between("factor", factor, LEAST_OVERALL, 10.0)
    return Safety(f"global factor {factor:g}", resistance=float(factor), source=source)


def user_partial(
    *,
    load: float,
    tan_phi: float,
    c: float,
    cu: float,
    resistance: float,
    name: str,
    source: str,
) -> Safety:
    """Partial factors of the user's own, for example of a national annex; each 1 to 10.

    Together they may not be weaker than :func:`global_factor` allows: load times resistance times
    the least factor on strength is at least 2. (A lower set is had only as EN1997_DA1.)

    Parameters:
      load: float. On the actions.
      tan_phi, c, cu: float. On tan phi', c' and cu.
      resistance: float. On the bearing resistance.
      name, source: str. What the set is called and where it is from; not empty.
    Returns: Safety
    Raises: A product below 2.
    """
    if not name.strip() or not source.strip():
        raise InputError.of("name, source", (name, source), "text that tells where they are from")
    safety = Safety(name, load, tan_phi, c, cu, resistance, source)
    least = {"tan_phi": tan_phi, "c": c, "cu": cu}
    weakest = min(least, key=lambda k: least[k])
    product = load * resistance * least[weakest]
    if not product >= LEAST_OVERALL - 1e-9:
        raise InputError.of(
            f"load x resistance x {weakest}",
            round(product, 4),
            f"{LEAST_OVERALL:g} or more, as for a global factor",
            "Raise the factor on load or resistance.",
        )
    return safety


def en1997_da1_split(
    permanent_kN: ArrayLike, variable_kN: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Design load of a leg by combination 1 (1.35 G + 1.5 Q) and 2 (1.0 G + 1.3 Q). [kN]

    For unfavourable actions. EN 1997-1:2004 Table A.3.

    Parameters:
      permanent_kN, variable_kN: array_like, >= 0. Shares G and Q of the leg force. [kN]
    Returns: tuple of ndarray: design load of combination 1 and of combination 2. [kN]
    """
    G = require_non_negative("permanent_kN", permanent_kN)
    Q = require_non_negative("variable_kN", variable_kN)
    return 1.35 * G + 1.5 * Q, 1.0 * G + 1.3 * Q


def design_phi_deg(phi_deg: ArrayLike, factor: float) -> FloatArray:
    """Design friction angle atan(tan phi / factor). [deg]

    Parameters:
      phi_deg: array_like, 0 to 50. Characteristic friction angle. [deg]
      factor: float, 1 to 10. Partial factor on tan phi.
    """
    phi = np.radians(require_between("phi_deg", phi_deg, 0.0, 50.0))
    return np.degrees(np.arctan(np.tan(phi) / require_between("factor", factor, 1.0, 10.0)))


@dataclass(frozen=True)
class BearingDesign:
    """A capacity with its safety applied.

    q_allowable_kPa is on the effective area and is compared with the service pressure
    V / A'. utilisation = service pressure / allowable, None without V_kN.
    ``worst`` is the index of the set of factors that gives the lowest value; ``governing``
    names the failure and the set.
    """

    q_allowable_kPa: FloatArray
    allowable_kN: FloatArray
    utilisation: FloatArray | None
    worst: NDArray[np.intp]
    safety: tuple[Safety, ...]
    capacities: tuple[BearingCapacity, ...]

    @property
    def governing(self) -> NDArray[np.str_]:
        """What governs, in words, in the shape of q_allowable_kPa."""
        shape = self.q_allowable_kPa.shape
        names = np.stack(
            [
                np.broadcast_to(np.char.add(np.char.add(cap.governing, ", "), s.name), shape)
                for cap, s in zip(self.capacities, self.safety, strict=True)
            ]
        )
        return np.asarray(np.take_along_axis(names, self.worst[None, ...], axis=0)[0])


def design_bearing(
    B_m: ArrayLike,
    L_m: ArrayLike,
    *,
    safety: Safety | Sequence[Safety],
    basis: Basis,
    method: Method = "en1997",
    cu_kPa: ArrayLike | None = None,
    c_kPa: ArrayLike | None = None,
    phi_deg: ArrayLike | None = None,
    V_kN: ArrayLike | None = None,
    H_B_kN: ArrayLike = 0.0,
    H_L_kN: ArrayLike = 0.0,
    **others: Any,
) -> BearingDesign:
    """Allowable pressure on the effective area by one or several sets of factors.

    For each set: strengths divided, loads multiplied, capacity q worked, then q_allowable = q /
    (resistance factor * load factor).

    Parameters:
      safety: Safety or sequence of Safety. With several, such as EN1997_DA1, the lowest result
        governs at each element.
      basis, method, cu_kPa, c_kPa, phi_deg, V_kN, H_B_kN, H_L_kN, others: As for
        :func:`liftcalc.ground.bearing.bearing_capacity`; loads are service loads and strengths
        characteristic values.
      B_m, L_m: array_like, > 0. Sides of the base, in any order. [m]
    Returns: BearingDesign
    Raises: No set of factors, or what :func:`liftcalc.ground.bearing.bearing_capacity` refuses.
    Source: EN 1997-1:2004 clauses 2.4.7.3.4.2, 6.5.2.1; UFC 3-220-20 Eq. 5-13.
    """
    sets = (safety,) if isinstance(safety, Safety) else tuple(safety)
    if not sets:
        raise InputError.of("safety", safety, "at least one set of factors")
    allowable: list[FloatArray] = []
    capacities: list[BearingCapacity] = []
    for s in sets:
        capacity = bearing_capacity(
            B_m, L_m, basis=basis, method=method,
            cu_kPa=None if cu_kPa is None else np.asarray(cu_kPa, np.float64) / s.cu,
            c_kPa=None if c_kPa is None else np.asarray(c_kPa, np.float64) / s.c,
            phi_deg=None if phi_deg is None else design_phi_deg(phi_deg, s.tan_phi),
            V_kN=None if V_kN is None else np.asarray(V_kN, np.float64) * s.load,
            H_B_kN=np.asarray(H_B_kN, np.float64) * s.load,
            H_L_kN=np.asarray(H_L_kN, np.float64) * s.load,
            **others,
        )  # fmt: skip
        capacities.append(capacity)
        allowable.append(capacity.q_ult_kPa / s.overall)
    shape = np.broadcast_shapes(
        *(a.shape for a in allowable), np.asarray(0.0 if V_kN is None else V_kN).shape
    )
    stack = np.stack([np.broadcast_to(a, shape) for a in allowable])
    worst = np.argmin(stack, axis=0)
    q = np.min(stack, axis=0)
    area = capacities[0].area.A_eff_m2
    utilisation = None
    if V_kN is not None:
        V = require_non_negative("V_kN", V_kN)
        carried = q * area
        ratio = V / np.where(carried > 0.0, carried, 1.0)
        utilisation = np.where(carried > 0.0, ratio, np.where(V > 0.0, np.inf, 0.0))
    return BearingDesign(
        q_allowable_kPa=q, allowable_kN=q * area, utilisation=utilisation,
        worst=np.asarray(worst), safety=sets, capacities=tuple(capacities),
    )  # fmt: skip
