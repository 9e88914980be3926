"""Drawings of the mat under one outrigger, in plan and with its pressure: record, data, strokes."""

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.ground_tables import pressure_along_mat_kPa
from liftcalc.views.labels import Labels
from liftcalc.views.marks import dimension, key, scale_bar, set_scale
from liftcalc.views.strokes import box, mark, polygon, polyline
from liftcalc.views.style import BLUE, CURVES, INK, Display, figure_of, fill, prepare

MAT: dict[str, Any] = {"facecolor": "#f3ead8", "edgecolor": INK, "linewidth": 1.0}
EFFECTIVE = fill("#cfe3f1", BLUE, hatch="////")
FLOAT = fill("#8a8a8a")
LIMIT: dict[str, Any] = {"color": INK, "linestyle": "-", "linewidth": 2.0}
ELASTIC = CURVES[1]


@dataclass(frozen=True, eq=False)
class MatDrawing:
    """One mat under one outrigger, loaded in its middle; lengths along the mat from its middle.

    ``pressure_kPa`` acts evenly on the effective size; ``elastic_x_m`` and
    ``elastic_pressure_kPa`` are the pressure on the ground's springs, empty where none is known.
    """

    title: str
    mat_name: str
    length_m: float
    width_m: float
    thickness_m: float
    effective_length_m: float
    effective_width_m: float
    float_length_m: float
    float_width_m: float
    reaction_kN: float
    pressure_kPa: float
    allowable_kPa: float
    elastic_x_m: FloatArray
    elastic_pressure_kPa: FloatArray


def standing_ground(lift: LiftAssessment) -> GroundStudy:
    """The ground of a lift whose machine stays on its legs."""
    if lift.ground is None:
        need = "a crane that stays on its outriggers"
        remedy = "There is no ground drawing of a machine that tips over."
        raise InputError.of("lift", lift.setup.lift.id, need, remedy)
    return lift.ground


def worst_leg(study: GroundStudy) -> int:
    """Which leg is nearest to its limit of bearing."""
    return int(np.argmax([g.pressure_kPa / max(g.allowable_kPa, 1e-9) for g in study.legs]))


def leg_mat_data(lift: LiftAssessment, leg: int | None = None) -> MatDrawing:
    """The mat of one leg (the one nearest to its limit unless given) with its pressure."""
    study = standing_ground(lift)
    k = worst_leg(study) if leg is None else leg
    g, machine_leg, mat = study.legs[k], lift.setup.machine.legs[k], study.mat
    ground = {"width_m": g.effective_width_m, "subgrade_kN_m3": g.elastic_bending.subgrade_kN_m3}
    pad_m = machine_leg.float_length_m
    x, elastic = pressure_along_mat_kPa(mat, g.reaction_kN, float_length_m=pad_m, **ground)
    return MatDrawing(
        title=f"Mat {mat.name} under outrigger {g.name}, on {g.zone}", mat_name=mat.name, length_m=mat.length_m,
        width_m=mat.width_m, thickness_m=mat.thickness_m, effective_length_m=g.effective_length_m,
        effective_width_m=g.effective_width_m, float_length_m=pad_m, float_width_m=machine_leg.float_width_m,
        reaction_kN=g.reaction_kN, pressure_kPa=g.pressure_kPa, allowable_kPa=g.allowable_kPa, elastic_x_m=x,
        elastic_pressure_kPa=elastic,
    )  # fmt: skip


def draw_mat_plan(data: MatDrawing, ax: Axes, *, system: UnitSystem = "metric") -> None:
    """Draw a mat from above, to scale, with its float and its effective area."""
    display = Display(system)
    unit = display.unit("length_m")
    prepare(ax, display, data.title, f"Along the mat [{unit}]", f"Across [{unit}]", plan=True)

    half_l, half_w, eff_l, eff_w, float_l, float_w = _halves(data, display)
    room = 0.42 * max(half_l, half_w)
    right, top = half_l + room, half_w + room
    scale = set_scale(ax, (-right, -top, right, top), system=system)
    labels = Labels(ax, display)
    scale_bar(labels, scale=scale)
    polygon(ax, box(-half_l, -half_w, half_l, half_w), zorder=1, gid="mat", **MAT)
    polygon(ax, box(-eff_l, -eff_w, eff_l, eff_w), zorder=2, gid="effective area", **EFFECTIVE)
    polygon(ax, box(-float_l, -float_w, float_l, float_w), zorder=3, gid="float", **FLOAT)
    labels.reserve((*labels.at_pt((-float_l, -float_w)), *labels.at_pt((float_l, float_w))))

    _plan_dimensions(data, labels)
    text = partial(display.text, quantity="length_m")
    float_text = f"float {text(data.float_length_m)} × {text(data.float_width_m)}"
    labels.add((-float_l, -float_w), float_text, toward_deg=225.0, ground=True, gap_pt=2.0)
    mat_text = f"{data.mat_name}, {text(data.thickness_m)} thick"
    labels.add((-half_l, -half_w), mat_text, toward_deg=-80.0, leader=False, ground=True)
    bearing = ("effective area, from the mat's strength", EFFECTIVE)
    key(ax, [("mat", MAT), bearing, ("float", FLOAT)], display)


def _halves(data: MatDrawing, display: Display) -> list[float]:
    """Half the sizes of the mat, its effective area and the float, length before width."""
    mat = (data.length_m, data.width_m, data.effective_length_m, data.effective_width_m)
    sizes = (*mat, data.float_length_m, data.float_width_m)
    return [float(display.length(size)) / 2 for size in sizes]


def _plan_dimensions(data: MatDrawing, labels: Labels) -> None:
    """Dimensions grow outwards: the effective size next to the mat, the whole size beyond it."""
    half_l, half_w, eff_l, eff_w, _, _ = _halves(data, labels.display)
    text = partial(labels.display.text, quantity="length_m")
    up = labels.at_pt((0.0, half_w))[1] - labels.at_pt((0.0, eff_w))[1]
    side = labels.at_pt((half_l, 0.0))[0] - labels.at_pt((eff_l, 0.0))[0]
    along = ((-half_l, half_w), (half_l, half_w)), ((-eff_l, eff_w), (eff_l, eff_w))
    across = ((half_l, half_w), (half_l, -half_w)), ((eff_l, eff_w), (eff_l, -eff_w))
    for whole, bears, (ends, inner_ends), inner_pt, outer_pt in (
        (data.length_m, data.effective_length_m, along, up + 9.0, 26.0),
        (data.width_m, data.effective_width_m, across, side + 17.0, 35.0),
    ):
        if whole - bears > 0.0005:
            dimension(labels, *ends, text(whole), offset_pt=outer_pt)
            dimension(labels, *inner_ends, f"{text(bears)} effective", offset_pt=inner_pt)
        else:
            dimension(labels, *ends, f"{text(whole)} (all effective)", offset_pt=17.0)


class _Scales:
    """Lengths and pressures of the pressure drawing, in the units shown."""

    def __init__(self, data: MatDrawing, display: Display) -> None:
        self.half, self.bears, self.pad = (
            float(display.length(v)) / 2.0 for v in (data.length_m, data.effective_length_m, data.float_length_m)
        )
        self.even = float(display.show(data.pressure_kPa, "pressure_kPa"))
        self.limit = float(display.show(data.allowable_kPa, "pressure_kPa"))
        self.elastic = np.asarray(display.show(data.elastic_pressure_kPa, "pressure_kPa"))
        self.elastic_x = np.asarray(display.length(data.elastic_x_m))
        peak = max(self.even, float(self.elastic.max()) if self.elastic.size else 0.0)
        self.shows_limit = self.limit <= 2.5 * peak
        self.deepest = max(peak, self.limit if self.shows_limit else 0.0)
        self.mat_top, self.float_top = -0.12 * self.deepest, -0.20 * self.deepest


def draw_mat_pressure(data: MatDrawing, ax: Axes, *, system: UnitSystem = "metric") -> None:
    """Draw the pressure under a mat, downwards, with what the ground allows.

    The mat above it is not to scale.
    """
    display = Display(system)
    along = f"Along the mat, from the middle of the float [{display.unit('length_m')}]"
    under = f"Pressure on the ground [{display.unit('pressure_kPa')}]"
    prepare(ax, display, data.title, along, under)
    s = _Scales(data, display)
    ax.set_xlim(-1.25 * s.half, 1.25 * s.half)
    ax.set_ylim(1.25 * s.deepest, -0.62 * s.deepest)
    ax.set_yticks([t for t in ax.get_yticks() if 0.0 <= t <= 1.25 * s.deepest])
    labels = Labels(ax, display)
    _mat_and_force(ax, s)
    edge = [(-s.bears, 0.0), (-s.bears, s.even), (s.bears, s.even), (s.bears, 0.0)]
    labels.keep_line_clear(edge)
    if s.elastic.size:
        curve = np.column_stack([s.elastic_x, s.elastic])
        polyline(ax, curve, zorder=4, gid="elastic pressure", **ELASTIC.line())
        labels.keep_line_clear(curve)
    if s.shows_limit:
        ends = [(-s.half, s.limit), (s.half, s.limit)]
        polyline(ax, ends, zorder=5, gid="allowable", **LIMIT)
        labels.keep_line_clear(ends)
    _pressure_labels(data, labels, s)
    even = "uniform pressure on effective area, mat weight included"
    entries = [(even, EFFECTIVE)]
    if s.elastic.size:
        entries.append(("pressure on elastic ground", ELASTIC.line()))
    if s.shows_limit:
        entries.append(("allowable pressure", LIMIT))
    key(ax, entries, display)


def _mat_and_force(ax: Axes, s: _Scales) -> None:
    """The mat, the float on it, the reaction, and the uniform pressure below."""
    for half, low, high, zorder, gid, look in (
        (s.half, s.mat_top, 0.0, 3, "mat", MAT),
        (s.pad, s.float_top, s.mat_top, 3, "float", FLOAT),
        (s.bears, 0.0, s.even, 1, "uniform pressure", EFFECTIVE),
    ):
        polygon(ax, box(-half, low, half, high), zorder=zorder, gid=gid, **look)
    top, line = s.float_top, {"color": INK, "linewidth": 1.4}
    polyline(ax, [(0.0, top - 0.22 * s.deepest), (0.0, top)], gid="reaction", **line)
    tip, back = 0.03 * s.half, top - 0.07 * s.deepest
    polyline(ax, [(-tip, back), (0.0, top), (tip, back)], **line)


def _pressure_labels(data: MatDrawing, labels: Labels, s: _Scales) -> None:
    """Texts of the pressure drawing, and the mark at the peak."""
    display = labels.display
    whole = f"{display.text(data.length_m, 'length_m')} mat"
    dimension(labels, (-s.half, s.mat_top), (s.half, s.mat_top), whole, offset_pt=30.0)
    plain: dict[str, Any] = {"leader": False, "ground": True}
    bold = plain | {"weight": "bold"}
    force = f"outrigger reaction {display.text(data.reaction_kN, 'force_kN')}"
    labels.add((0.0, s.float_top - 0.2 * s.deepest), force, toward_deg=20.0, gap_pt=1.0, **bold)
    even = f"{display.text(data.pressure_kPa, 'pressure_kPa')} over "
    even += display.text(data.effective_length_m, "length_m")
    labels.add((-0.5 * s.bears, s.even), even, toward_deg=90.0, **bold)
    note, place = f"allowable {display.text(data.allowable_kPa, 'pressure_kPa')}", (s.half, s.limit)
    if not s.shows_limit:
        note, place = f"{note}: below this drawing", (0.75 * s.half, 1.2 * s.deepest)
    labels.add(place, note, toward_deg=-120.0 if s.shows_limit else 120.0, **plain)
    if s.elastic.size:
        k = int(np.argmax(s.elastic))
        place = (float(s.elastic_x[k]), float(s.elastic[k]))
        look = {"markersize": 4.0, "color": ELASTIC.colour, "zorder": 6}
        mark(labels.ax, place, "o", gid="peak", **look)
        peak = display.text(float(data.elastic_pressure_kPa[k]), "pressure_kPa")
        labels.add(place, f"maximum {peak}", toward_deg=80.0, ground=True)


mat_figure = figure_of(leg_mat_data, draw_mat_plan, 150.0, 110.0)
"""Mat nearest to its limit, from above."""

mat_pressure_figure = figure_of(leg_mat_data, draw_mat_pressure, 160.0, 100.0)
"""Pressure under the mat nearest to its limit."""
