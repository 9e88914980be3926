"""The two sampled states of a lift: at rest where capacity governs, moving on the worst leg.

Facts of one lift in the form of :mod:`liftcalc.uncertainty.lift_samples`; no method of its own.
"""

from typing import Any

import numpy as np

from liftcalc.crane.masses import BoomState
from liftcalc.crane.stability import tipping_load
from liftcalc.dynamics.gross import with_contingency_t
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.path_study import adverse_terms
from liftcalc.lift.setup import boom_states
from liftcalc.lift.wind_checks import gust_at_head_m_s, permissible_gust_m_s, wind_terms
from liftcalc.uncertainty.lift_samples import SampledLift
from liftcalc.wind.pressure import dynamic_pressure_kPa


def gust_m_s(a: LiftAssessment) -> float:
    """Planned wind as the gust at the boom head of the worst-leg step."""
    return float(gust_at_head_m_s(a.setup, _boom_at(a, _leg_state(a)[1]).head_z_m)[0])


def _boom_at(a: LiftAssessment, radius_m: float) -> BoomState:
    return boom_states(a.setup.machine, a.setup.boom, np.array([radius_m]))


def _governing_state(a: LiftAssessment) -> tuple[float, float]:
    """Slew and radius of the step that governs capacity."""
    k = a.study.governing_step
    return float(a.path.slew_deg[k]), float(a.path.radius_m[k])


def _leg_state(a: LiftAssessment) -> tuple[float, float]:
    """Slew and radius of the step at which a leg is used most, with the load."""
    strength = np.array([leg.capacity_kN for leg in a.setup.machine.legs])
    used = np.nan_to_num(a.forces.path_reaction_kN / strength, nan=np.inf)
    step = int(np.argmax(used.max(axis=1)))
    return float(a.path.slew_deg[step]), float(a.path.radius_m[step])


def _lean_deg(a: LiftAssessment, toward: np.ndarray[Any, Any]) -> tuple[float, float]:
    """Lean toward +x and +y, as much as is included, in a direction (a unit vector, or none)."""
    x, y = np.degrees(np.arctan(a.setup.tilt_any_percent / 100 * toward))
    return float(x), float(y)


def boomward_lean_deg(a: LiftAssessment) -> tuple[float, float]:
    """Lean that the leg rows include, toward the boom, at the step that loads a leg most."""
    slew = np.radians(_leg_state(a)[0])
    return _lean_deg(a, np.array([np.cos(slew), np.sin(slew)]))


def worst_lean_deg(a: LiftAssessment) -> tuple[float, float]:
    """Lean that the stability row includes at the step that governs capacity."""
    setup, (slew, radius) = a.setup, _governing_state(a)
    adverse = adverse_terms(setup, wind=False, dynamic=False)
    line = tipping_load(
        [slew], _boom_at(a, radius), base=setup.base, masses=setup.masses, adverse=adverse,
        layout="pairs",
    ).line[0]  # fmt: skip
    return _lean_deg(a, -setup.base.normals[line] * (line >= 0))


def worst_allowable_kPa(a: LiftAssessment) -> float:
    """Allowable pressure under the leg whose ground is used most."""
    assert a.ground is not None
    return max(a.ground.legs, key=lambda g: g.pressure_kPa / g.allowable_kPa).allowable_kPa


def _common(a: LiftAssessment) -> dict[str, Any]:
    setup, boom, load = a.setup, a.setup.boom, a.setup.lift.load
    gross = float(with_contingency_t(load.mass_t, load.contingency_percent / 100))
    return {
        "masses": setup.masses,
        "boom_length_m": boom.length_m,
        "boom_mass_t": boom.mass_t,
        "boom_cg_from_foot_m": boom.cg_from_foot_m,
        "boom_foot_u_m": setup.machine.boom.foot_u_m,
        "boom_foot_z_m": setup.machine.boom.foot_z_m,
        "leg_x_m": tuple(leg.x_m for leg in setup.machine.legs),
        "extension_m": setup.lift.legs.as_tuple(),
        "load_t": gross,
        "rigging_t": setup.gross_t - gross,
        "rule": setup.machine.stability_rule,
        "tipping_fraction": setup.machine.tipping_fraction,
    }


def at_rest(a: LiftAssessment) -> SampledLift:
    """The step that governs capacity: load at rest, no wind."""
    slew, radius = _governing_state(a)
    return SampledLift(**_common(a), slew_deg=slew, radius_m=radius)


def moving(a: LiftAssessment) -> SampledLift:
    """The step that loads a leg most, with hoist factor and wind."""
    setup, legs = a.setup, a.setup.machine.legs
    slew, radius = _leg_state(a)
    limit = permissible_gust_m_s(setup)
    return SampledLift(
        **_common(a),
        **_wind(a, _boom_at(a, radius)),
        **_ground(a),
        slew_deg=slew,
        radius_m=radius,
        dynamic_factor=float(setup.gross.dynamic_factor),
        leg_stiffness_kN_m=_four([leg.stiffness_kN_m for leg in legs]),
        leg_capacity_kN=_four([leg.capacity_kN for leg in legs]),
        permissible_wind_m_s=limit if limit > 0 else None,
    )


def _four(values: list[float]) -> tuple[float, float, float, float]:
    """Values of the legs FL, FR, RR, RL."""
    front_left, front_right, rear_right, rear_left = values
    return front_left, front_right, rear_right, rear_left


def _wind(a: LiftAssessment, boom: BoomState) -> dict[str, Any]:
    """Planned gust, and the areas and height that give the wind forces of the leg rows."""
    wind = wind_terms(a.setup, boom)
    gust = float(wind.gust_m_s[0])
    pressure = float(dynamic_pressure_kPa(gust)) if gust > 0 else 1.0
    on_boom, on_upper = float(wind.boom_force_kN[0]), float(wind.superstructure_force_kN[0])
    push = on_boom + on_upper
    moment = on_boom * float(wind.boom_z_m[0]) + on_upper * wind.superstructure_z_m
    return {
        "wind_m_s": gust,
        "wind_area_m2": (push / pressure, float(wind.load_force_kN[0]) / pressure),
        "boom_wind_z_m": moment / push if push > 0 else 0.0,
    }


def _ground(a: LiftAssessment) -> dict[str, Any]:
    """Mats and ground springs; nothing where the ground was not studied."""
    if a.ground is None:
        return {}
    legs, least = a.ground.legs, worst_allowable_kPa(a)
    ground: dict[str, Any] = {
        "mat_area_m2": _four(
            [g.effective_length_m * g.effective_width_m * g.allowable_kPa / least for g in legs]
        ),
        "mat_weight_kN": a.ground.mat.weight_kN,
        "allowable_kPa": least,
    }
    stiff = [g.stiffness_kN_m for g in legs]
    if np.all(np.isfinite(stiff)):
        ground["ground_stiffness_kN_m"] = float(np.mean(stiff))
        torsion = a.setup.machine.carrier.torsional_stiffness_kNm_rad
        ground["torsional_stiffness_kNm_rad"] = torsion
    return ground
