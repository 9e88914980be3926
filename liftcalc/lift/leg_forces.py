"""Leg reactions of one lift: along the path and round the slew circle, loaded and empty.

Contents: :class:`LegForces`, :func:`leg_forces`, :func:`leg_checks`, :func:`weight_on_base`.

The load acts with its hoist factor, wind presses toward the boom (the direction that loads the
legs under it most), and the machine may stand out of level. Three models of the carrier are
enveloped: rigid, torsionally flexible, and the machine's stated torsional stiffness between both
(see :mod:`liftcalc.reactions`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.checks import Check, limit_check
from liftcalc.leg_contact import Supports
from liftcalc.leg_envelope import ReactionEnvelope, envelope_on
from liftcalc.legs import LEG_NAMES
from liftcalc.lift.capacity_checks import adverse_terms
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.moments import resultant
from liftcalc.reactions import Carrier, carrier_supports
from liftcalc.units import G_M_S2

__all__ = ["LegForces", "leg_checks", "leg_forces", "path_envelope", "weight_on_base"]

FloatArray = NDArray[np.float64]
CIRCLE_SLEW_DEG = np.arange(0.0, 360.0, 1.0)


@dataclass(frozen=True, eq=False)
class LegForces:
    """Reactions in the order FL, FR, RR, RL; compression positive. [kN]"""

    path: LoadPath
    on_path: ReactionEnvelope
    """Loaded machine at every step of the path."""
    on_circle: ReactionEnvelope
    """Loaded machine at every degree of slew at the greatest radius of the path."""
    empty: ReactionEnvelope
    """Empty hook at every degree, boom at its least radius: the boom is laid up and away
    outside the path as well."""
    circle_radius_m: float
    path_reaction_kN: FloatArray
    """Greatest reaction of each leg over the carrier models, shape (N, 4)."""
    circle_reaction_kN: FloatArray
    """The same round the circle, shape (360, 4); NaN where the machine would tip."""
    empty_slew_deg: FloatArray
    """Slews of the states of *empty*."""
    empty_wind_sign: FloatArray
    """+1 where the wind blows toward the boom, -1 where it comes from the front; as ``empty``."""

    @property
    def stands(self) -> bool:
        """Whether every state on the path, loaded and empty, is in equilibrium."""
        return bool(np.all(np.isfinite(self.design_kN)))

    @property
    def design_kN(self) -> FloatArray:
        """Greatest reaction of each leg, on the path loaded or empty, shape (4,)."""
        greatest: FloatArray = np.maximum(self.on_path.max_kN, self.empty.max_kN)
        return greatest


def weight_on_base(
    setup: Setup,
    slew_deg: ArrayLike,
    radius_m: ArrayLike,
    *,
    load_t: float,
    wind: bool = True,
    wind_sign: ArrayLike = 1.0,
) -> tuple[FloatArray, FloatArray]:
    """Vertical force [kN] and point [m] where the resultant meets the base, shapes (N,), (N, 2).

    Wind on boom, superstructure and (with more than the hook block on the hook) load acts toward
    the boom direction, or against it where ``wind_sign`` is -1; out-of-level shifts each mass by
    its height times the slope.
    """
    slew = np.atleast_1d(np.asarray(slew_deg, dtype=np.float64))
    radius = np.broadcast_to(np.asarray(radius_m, dtype=np.float64), slew.shape).copy()
    boom = boom_states(setup.machine, setup.boom, radius)
    at = resultant(slew, boom, base=setup.base, masses=setup.masses, load_t=load_t, layout="pairs")
    total_kN = at.total_t * G_M_S2
    moment = np.zeros_like(radius)
    if wind:
        terms = adverse_terms(setup, wind=True, dynamic=False, boom=boom)
        moment = (
            np.asarray(terms.boom_wind_force_kN) * np.asarray(terms.boom_wind_z_m)
            + np.asarray(terms.superstructure_wind_force_kN)
            * np.asarray(terms.superstructure_wind_z_m)
            + radius * 0.0
        )
        if load_t > setup.machine.hook_block(setup.lift.hook_block).mass_t:
            moment = moment + np.asarray(terms.load_wind_force_kN) * boom.head_z_m
    heights = (
        setup.masses.carrier_mass_t * setup.masses.carrier_z_m
        + setup.masses.slewing_mass_t * setup.masses.slewing_z_m
        + boom.mass_t * boom.z_m
        + load_t * boom.head_z_m
    ) / at.total_t
    shift = np.asarray(wind_sign, dtype=np.float64) * moment / total_kN
    x = at.x_m + shift * np.cos(np.radians(slew)) + heights * np.tan(np.radians(setup.tilt_x_deg))
    y = at.y_m + shift * np.sin(np.radians(slew)) + heights * np.tan(np.radians(setup.tilt_y_deg))
    return total_kN, np.stack([x, y], axis=-1)


def _supports(setup: Setup) -> dict[Carrier, Supports]:
    """The machine on its legs, rigid, flexible and as stated."""
    return carrier_supports(
        setup.leg_xy_m,
        [leg.stiffness_kN_m for leg in setup.machine.legs],
        carriers=("rigid", "flexible", "stiffness"),
        torsional_stiffness_kNm_rad=setup.machine.carrier.torsional_stiffness_kNm_rad,
    )


def _greatest(envelope: ReactionEnvelope) -> FloatArray:
    stacked = np.stack(
        [
            np.where(r.unstable[..., None], np.nan, r.reaction_kN)
            for r in envelope.by_carrier.values()
        ]
    )
    greatest: FloatArray = stacked.max(axis=0)
    return greatest


def path_envelope(
    setup: Setup, path: LoadPath, *, supports: dict[Carrier, Supports] | None = None
) -> ReactionEnvelope:
    """Leg reactions of the loaded machine at every step of the path."""
    load = float(setup.gross.dynamic_gross_t)
    vertical, at = weight_on_base(setup, path.slew_deg, path.radius_m, load_t=load)
    return envelope_on(supports or _supports(setup), vertical, at, stiffness_given=True)


def leg_forces(setup: Setup, path: LoadPath) -> LegForces:
    """Leg reactions over the path and round the circle, for three models of the carrier."""
    load = float(setup.gross.dynamic_gross_t)
    supports = _supports(setup)
    on_path = path_envelope(setup, path, supports=supports)
    radius = float(path.radius_m.max())
    around = weight_on_base(setup, CIRCLE_SLEW_DEG, radius, load_t=load)
    circle = envelope_on(supports, *around, stiffness_given=True)
    block = setup.machine.hook_block(setup.lift.hook_block).mass_t
    slews = CIRCLE_SLEW_DEG
    # without load the wind from the front presses the legs under the counterweight more
    toward = np.repeat([1.0, -1.0], slews.size)
    slews = np.concatenate([slews, slews])
    least = max(setup.boom.radius_min_m, 1e-3)
    bare = weight_on_base(setup, slews, least, load_t=block, wind_sign=toward)
    empty = envelope_on(supports, *bare, stiffness_given=True)
    return LegForces(
        path=path,
        on_path=on_path,
        on_circle=circle,
        empty=empty,
        circle_radius_m=radius,
        path_reaction_kN=_greatest(on_path),
        circle_reaction_kN=_greatest(circle),
        empty_slew_deg=slews,
        empty_wind_sign=toward,
    )


def leg_checks(setup: Setup, forces: LegForces) -> list[Check]:
    """One row for each leg: greatest reaction against the leg's own strength; lift-off shown."""
    rows = []
    for k, leg in enumerate(setup.machine.legs):
        loaded = forces.on_path.max_kN[k] >= forces.empty.max_kN[k]
        if loaded:
            where = (
                f"{forces.path.describe(int(forces.on_path.max_state[k]))}, "
                f"{forces.on_path.max_carrier[k]} carrier"
            )
        else:
            where = f"empty hook, boom at its least radius, {forces.empty.max_carrier[k]} carrier"
        rows.append(
            limit_check(
                f"leg-{leg.name}",
                f"Reaction of leg {leg.name} to the leg's strength",
                value=float(forces.design_kN[k]),
                limit=leg.capacity_kN,
                quantity="force_kN",
                reference="machine data; envelope of rigid, flexible and stated carrier",
                where=where,
                remedy="Reduce radius or load, or extend the legs to share the force.",
            )
        )
    return rows


def lifted_legs(forces: LegForces) -> str:
    """Which legs lift off somewhere on the path, in words; empty where none does."""
    lifted = np.zeros(4, dtype=bool)
    for result in forces.on_path.by_carrier.values():
        lifted |= result.lifted.reshape(-1, 4).any(axis=0)
    return ", ".join(name for name, up in zip(LEG_NAMES, lifted, strict=True) if up)
