"""Drawing of the stress with depth below one outrigger: its record, its data and its strokes."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from liftcalc.base.units import UnitSystem
from liftcalc.ground.profile import layer_tops_m
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.ground_facts import ground_profile
from liftcalc.lift.ground_tables import StressBelow, stress_below
from liftcalc.lift.leg_ground import mats_in_plan
from liftcalc.views.ground_mat import standing_ground, worst_leg
from liftcalc.views.labels import Labels
from liftcalc.views.marks import key
from liftcalc.views.strokes import polyline
from liftcalc.views.style import BLUE, CURVES, GREY, Display, figure_of, prepare

LAYER: dict[str, Any] = {"color": GREY, "linestyle": (0, (8, 3)), "linewidth": 0.7}
WATER: dict[str, Any] = {"color": BLUE, "linestyle": (0, (3, 2)), "linewidth": 0.9}


@dataclass(frozen=True, eq=False)
class DepthDrawing:
    """Vertical stress below the middle of one mat, and the layers it passes.

    ``layer_top_m`` and ``layer_name`` go together; ``water_depth_m`` is None where no water was found.
    """

    title: str
    stress: StressBelow
    layer_top_m: tuple[float, ...]
    layer_name: tuple[str, ...]
    water_depth_m: float | None


def leg_depth_data(lift: LiftAssessment, leg: int | None = None) -> DepthDrawing:
    """Stress below one leg (the one nearest to its limit unless given), with that of all legs."""
    study = standing_ground(lift)
    k = worst_leg(study) if leg is None else leg
    g = study.legs[k]
    profile = ground_profile(g.profile, study.mat.width_m)
    pressure = np.array([one.pressure_kPa for one in study.legs])
    stress = stress_below(k, pressure, mats_in_plan(lift.setup, study.legs))
    tops = layer_tops_m(profile)
    passed = [i for i, top in enumerate(tops) if top < stress.depth_m[-1]]
    title = f"Vertical stress below outrigger {g.name}, each outrigger at its maximum reaction"
    layers = tuple(tops[i] for i in passed), tuple(profile.layers[i].name for i in passed)
    return DepthDrawing(title, stress, *layers, profile.water_depth_m)


def draw_stress_with_depth(data: DepthDrawing, ax: Axes, *, system: UnitSystem = "metric") -> None:
    """Draw the vertical stress that outriggers add below the middle of a mat, depth downwards."""
    display = Display(system)
    added = f"Added vertical stress [{display.unit('pressure_kPa')}]"
    prepare(ax, display, data.title, added, f"Depth below the mat [{display.unit('length_m')}]")
    z = np.asarray(display.length(data.stress.depth_m))
    curves = (
        ("all outriggers, Boussinesq", data.stress.all_legs_kPa),
        ("this outrigger alone, Boussinesq", data.stress.own_kPa),
        ("this outrigger, mean by 2:1 spread", data.stress.mean_2to1_kPa),
    )
    values = [np.asarray(display.show(v, "pressure_kPa")) for _, v in curves]
    right = 1.12 * max(float(v.max()) for v in values)
    ax.set_xlim(0.0, right if right > 0.0 else 1.0)
    ax.set_ylim(float(z[-1]), 0.0)
    labels, entries = Labels(ax, display), [("top of a layer", LAYER)]
    for k, ((name, _), value, look) in enumerate(zip(curves, values, CURVES, strict=False)):
        curve, style = np.column_stack([value, z]), look.line()
        style |= {"marker": look.marker, "markersize": 3.5}
        polyline(ax, curve, zorder=4, gid=name, markevery=(20, 45), **style)
        labels.keep_line_clear(curve)
        entries.insert(k, (name, style))
    edge = ax.get_xlim()[1]

    def level_line(level: float, gid: str, look: dict[str, Any]) -> None:
        line = [(0.0, level), (edge, level)]
        polyline(ax, line, zorder=2, gid=gid, **look)
        labels.keep_line_clear(line)

    for top, name in zip(data.layer_top_m, data.layer_name, strict=True):
        level = float(display.length(top))
        if level > 0.0:
            level_line(level, f"top of {name}", LAYER)
            k = int(np.argmin(np.abs(z - level)))
            text = display.text(float(data.stress.all_legs_kPa[k]), "pressure_kPa")
            place = (float(values[0][k]), level)
            labels.add(place, text, toward_deg=-20.0, weight="bold", ground=True)
    if data.water_depth_m is not None and data.water_depth_m < float(data.stress.depth_m[-1]):
        level = float(display.length(data.water_depth_m))
        level_line(level, "water", WATER)
        labels.add((0.97 * edge, level), "water", toward_deg=150.0, leader=False, colour=BLUE)
    for top, name in zip(data.layer_top_m, data.layer_name, strict=True):
        level = float(display.length(top))
        # beside the curves, which run from the upper right to the lower left
        left = level < 0.4 * float(z[-1])
        place, toward = ((0.03 * edge, level), -35.0) if left else ((0.97 * edge, level), 215.0)
        labels.add(place, name, toward_deg=toward, leader=False, ground=True)
    key(ax, entries, display)


stress_figure = figure_of(leg_depth_data, draw_stress_with_depth, 130.0, 120.0)
"""Stress with depth below the leg nearest to its limit."""
