"""Leg reactions of one lift: along the path and round the slew circle, loaded and empty.

The load acts with its hoist factor; wind and lean out of level may act toward any side, each at
its greatest. A rigid and a torsionally flexible carrier are enveloped, between which one of any
stated stiffness lies (see :mod:`liftcalc.reactions.carrier`), and the rigid one once more on the
springs of the ground (:mod:`liftcalc.lift.leg_springs`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.crane.masses import BoomState, weight_and_moment
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.wind_checks import wind_terms
from liftcalc.reactions.contact import Supports
from liftcalc.reactions.envelope import ReachEnvelope, reach_envelope
from liftcalc.reactions.moments import acting_point

CIRCLE_SLEW_DEG = np.arange(0.0, 360.0, 1.0)


@dataclass(frozen=True, eq=False)
class LegForces:
    """Reactions in the order FL, FR, RR, RL; compression positive. [kN]"""

    path: LoadPath
    on_path: ReachEnvelope
    """Loaded machine at every step of the path."""
    on_circle: ReachEnvelope
    """Loaded machine at every degree of slew at the greatest radius of the path."""
    empty: ReachEnvelope
    """Empty hook at every degree, boom at its least radius: the boom is laid up and away outside the path as well."""
    circle_radius_m: float
    supports: dict[str, Supports]
    """Models enveloped, by name."""

    @property
    def path_reaction_kN(self) -> FloatArray:
        """Greatest reaction of each leg, shape (N, 4); NaN where the machine would tip."""
        return _known(self.on_path)

    @property
    def circle_reaction_kN(self) -> FloatArray:
        """The same round the circle, shape (360, 4)."""
        return _known(self.on_circle)

    @property
    def states_kN(self) -> FloatArray:
        """Reactions of every state, on the path and then with the empty hook, shape (S, 4)."""
        return np.concatenate([self.on_path.reaction_kN, self.empty.reaction_kN])

    @property
    def stands(self) -> bool:
        """Whether every state on the path, loaded and empty, is in equilibrium."""
        return bool(np.all(np.isfinite(self.design_kN)))

    @property
    def design_kN(self) -> FloatArray:
        """Greatest reaction of each leg, on the path loaded or empty, shape (4,)."""
        greatest: FloatArray = np.maximum(self.on_path.max_kN, self.empty.max_kN)
        return greatest


def _known(envelope: ReachEnvelope) -> FloatArray:
    return np.where(envelope.unstable[:, None], np.nan, envelope.reaction_kN)


def weight_on_base(setup: Setup, slew_deg: ArrayLike, radius_m: ArrayLike, *,
                   load_t: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:  # fmt: skip
    """Vertical force [kN], where the weights' resultant meets the base [m], and its reach [m].

    Shapes (N,), (N, 2), (N,). Wind on boom, superstructure and (with more than the hook block on
    the hook) load, square on each whatever its direction, and a lean that shifts each mass by its
    height times the slope, move the resultant by at most the reach, toward any side.
    """
    slew = np.atleast_1d(np.asarray(slew_deg, dtype=np.float64))
    radius = np.broadcast_to(np.asarray(radius_m, dtype=np.float64), slew.shape).copy()
    boom = boom_states(setup.machine, setup.boom, radius)
    total_t, x, y = acting_point(slew, boom, setup.masses, load_t=load_t, layout="pairs")
    total_kN = total_t * G_M_S2
    reach = wind_moment_kNm(setup, boom, load_t=load_t) / total_kN
    lean = setup.tilt_any_percent / 100
    return (total_kN, np.stack([x, y], axis=-1), reach + lean * weight_and_moment(setup.masses, boom, load_t).height_m)


def wind_moment_kNm(setup: Setup, boom: BoomState, *, load_t: ArrayLike) -> FloatArray:
    """Moment of the planned wind about the ground, at each state of the boom."""
    terms = wind_terms(setup, boom)
    moment = terms.boom_force_kN * terms.boom_z_m + terms.superstructure_force_kN * terms.superstructure_z_m
    hangs = np.asarray(load_t) > setup.machine.hook_block(setup.lift.hook_block).mass_t
    return np.asarray(moment + hangs * terms.load_force_kN * boom.head_z_m)


def path_envelope(setup: Setup, path: LoadPath, *, supports: dict[str, Supports]) -> ReachEnvelope:
    """Leg reactions of the loaded machine at every step of the path."""
    load = float(setup.gross.dynamic_gross_t)
    vertical, at, reach = weight_on_base(setup, path.slew_deg, path.radius_m, load_t=load)
    return reach_envelope(supports, vertical, at, reach_m=reach)


def leg_forces(setup: Setup, path: LoadPath, supports: dict[str, Supports]) -> LegForces:
    """Leg reactions over the path and round the circle, for every model of carrier and ground."""
    radius, load = float(path.radius_m.max()), float(setup.gross.dynamic_gross_t)
    block = setup.machine.hook_block(setup.lift.hook_block).mass_t
    least = max(setup.boom.radius_min_m, 1e-3)
    turn = np.ones(CIRCLE_SLEW_DEG.size)
    vertical, at, reach = weight_on_base(
        setup,
        np.concatenate([path.slew_deg, CIRCLE_SLEW_DEG, CIRCLE_SLEW_DEG]),
        np.concatenate([path.radius_m, radius * turn, least * turn]),
        load_t=np.concatenate([np.full(len(path), load), load * turn, block * turn]),
    )
    envelope = reach_envelope(supports, vertical, at, reach_m=reach)
    ends = len(path), len(path) + turn.size
    return LegForces(path=path, on_path=envelope.of(slice(0, ends[0])),
                     on_circle=envelope.of(slice(*ends)), empty=envelope.of(slice(ends[1], None)),
                     circle_radius_m=radius, supports=supports)  # fmt: skip


def leg_checks(setup: Setup, forces: LegForces) -> list[Check]:
    """One row for each leg: greatest reaction against the leg's own strength; lift-off shown."""
    rows = []
    for k, leg in enumerate(setup.machine.legs):
        if forces.on_path.max_kN[k] >= forces.empty.max_kN[k]:
            where = f"{forces.path.describe(int(forces.on_path.max_state[k]))}, {forces.on_path.max_carrier[k]}"
        else:
            where = f"empty hook, boom at its minimum radius, {forces.empty.max_carrier[k]}"
        rows.append(check_row("leg", float(forces.design_kN[k]), leg.capacity_kN, part=leg.name,
                              models=", ".join(forces.supports), state=where))  # fmt: skip
    return rows


def lifted_legs(forces: LegForces) -> str:
    """Which legs lift off somewhere on the path, in words; empty where none does."""
    lifted = np.atleast_1d(forces.on_path.lifted.any(axis=0))
    return ", ".join(name for name, up in zip(LEG_NAMES, lifted, strict=True) if up)
