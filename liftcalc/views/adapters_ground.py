"""Drawings of one leg's mat and ground for the ground sheet."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from liftcalc.base.errors import InputError
from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.ground_facts import ground_profile
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.placing import mat_turn_deg
from liftcalc.views.ground import draw_mat_plan, draw_mat_pressure, draw_stress_with_depth
from liftcalc.views.ground_data import DepthDrawing, MatDrawing, depth_drawing, mat_drawing
from liftcalc.views.style import new_axes

__all__ = [
    "leg_depth_data",
    "leg_mat_data",
    "mat_figure",
    "mat_pressure_figure",
    "stress_figure",
]


def _ground(lift: LiftAssessment) -> GroundStudy:
    if lift.ground is None:
        raise InputError.of(
            "lift", lift.setup.lift.id, "a machine that stays on its legs",
            "There is no ground drawing of a machine that tips over.",
        )  # fmt: skip
    return lift.ground


def _worst(study: GroundStudy) -> int:
    return int(np.argmax([g.pressure_kPa / max(g.allowable_kPa, 1e-9) for g in study.legs]))


def leg_mat_data(lift: LiftAssessment, leg: int | None = None) -> MatDrawing:
    """The mat of one leg (the one nearest to its limit unless given) with its pressure."""
    study = _ground(lift)
    k = _worst(study) if leg is None else leg
    g, machine_leg = study.legs[k], lift.setup.machine.legs[k]
    spring = g.stiffness_kN_m / (g.effective_length_m * g.effective_width_m)
    return mat_drawing(
        f"Mat {study.mat.name} under {g.name}, on {g.zone}",
        study.mat,
        reaction_kN=g.reaction_kN,
        effective_length_m=g.effective_length_m,
        effective_width_m=g.effective_width_m,
        allowable_kPa=g.allowable_kPa,
        float_length_m=machine_leg.float_length_m,
        float_width_m=machine_leg.float_width_m,
        subgrade_modulus_kN_m3=spring if np.isfinite(spring) else None,
    )


def leg_depth_data(lift: LiftAssessment, leg: int | None = None) -> DepthDrawing:
    """Stress below one leg (the one nearest to its limit unless given), with that of all legs."""
    study = _ground(lift)
    k = _worst(study) if leg is None else leg
    g = study.legs[k]
    return depth_drawing(
        f"Vertical stress below {g.name}, every leg at its greatest force",
        ground_profile(g.profile, study.mat.width_m),
        leg=k,
        pressure_kPa=[one.pressure_kPa for one in study.legs],
        leg_x_m=lift.setup.leg_site_xy_m[:, 0],
        leg_y_m=lift.setup.leg_site_xy_m[:, 1],
        length_m=[one.effective_length_m for one in study.legs],
        width_m=[one.effective_width_m for one in study.legs],
        orientation_deg=mat_turn_deg(lift.setup),
    )


def mat_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Mat nearest to its limit, from above."""
    figure, ax = new_axes(150.0, 110.0)
    draw_mat_plan(leg_mat_data(lift), ax, system=system)
    return figure


def mat_pressure_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Pressure under the mat nearest to its limit."""
    figure, ax = new_axes(160.0, 100.0)
    draw_mat_pressure(leg_mat_data(lift), ax, system=system)
    return figure


def stress_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Stress with depth below the leg nearest to its limit."""
    figure, ax = new_axes(130.0, 120.0)
    draw_stress_with_depth(leg_depth_data(lift), ax, system=system)
    return figure
