"""Plan of the lift: site, machine, legs, base polygon, mats, load path and swing, to scale.

North is up the page; coordinates are the site's.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import UnitSystem
from liftcalc.lift.along_path import hook_way_m, load_outlines_m
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.position import PositionStudy
from liftcalc.views.labels import Labels
from liftcalc.views.machine import (
    GOVERNING,
    LEG_ORDER,
    MAT,
    TAIL,
    TIPPING,
    WEIGHT,
    MachineDrawing,
    circle_m,
    draw_boom,
    draw_machine,
    draw_superstructure,
    machine_drawing,
)
from liftcalc.views.marks import KeyEntry, dimension, key, north_arrow, to_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.site_shapes import (
    SiteShape,
    draw_shapes,
    in_window,
    keep_edges_clear,
    name_shapes,
    shape_key,
    site_shapes,
)
from liftcalc.views.strokes import closed, direction_deg, mark, polygon, polyline
from liftcalc.views.style import INK, RED, Display, figure_of, prepare_site

PATH: dict[str, Any] = {"color": RED, "linestyle": (0, (5, 2)), "linewidth": 1.6}
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class PlanData:
    """Plan of site, machine and lift; site coordinates."""

    machine: MachineDrawing
    slew_deg: float
    radius_m: float
    shapes: tuple[SiteShape, ...] = ()
    path_m: FloatArray | None = None
    """Path of the hook from pick to set-down, (n, 2)."""
    loads_m: tuple[FloatArray, ...] = ()
    """Outline of the load at pick and at set-down."""
    reach_m: float = 0.0
    """Greatest radius of the boom at this length."""
    title: str = "Plan"

    @property
    def head_m(self) -> FloatArray:
        """Place of the boom head."""
        return self.machine.stand_m + self.radius_m * self.machine.along(self.slew_deg)


def plan_data(assessment: LiftAssessment, *, at: PositionStudy | None = None, title: str = "") -> PlanData:
    """Plan with the boom at *at*, or at the governing step of the path."""
    setup, path, lift = assessment.setup, assessment.path, assessment.setup.lift
    if at is None:
        study, step, forces = assessment.study, assessment.study.governing_step, assessment.forces
        slew, radius = float(path.slew_deg[step]), float(path.radius_m[step])
    else:
        study, step, forces = at.study, 0, at.forces
        slew, radius = at.slew_deg, at.radius_m
    reaction = forces.path_reaction_kN[step]
    way = hook_way_m(setup, path)
    moves = np.concatenate([[True], np.hypot(*np.diff(way, axis=0).T) > 1e-9])
    drawn = machine_drawing(setup, mats=assessment.place.mats,
                            reaction_kN=None if np.isnan(reaction).any() else reaction,
                            governing_line=study.tipping_line[step])  # fmt: skip
    shapes = site_shapes(setup.site, setup.rules, persons=lift.persons)
    return PlanData(drawn, slew, radius, shapes, way[moves], load_outlines_m(setup),
                    reach_m=setup.boom.radius_max_m,
                    title=title or f"Plan, lift {lift.id}: {lift.title}")  # fmt: skip


def plan_bounds(data: PlanData, *, margin_m: float = 1.5) -> Bounds:
    """Bounds (x0, y0, x1, y1) of machine, boom, path and load, in metres.

    An overhead line that the boom can reach is in the frame at its nearest point, its strip too.
    """
    machine = data.machine
    path = [] if data.path_m is None else [data.path_m]
    points = [machine.carrier_m, machine.leg_m, *machine.mats_m, *path, *data.loads_m]
    points += [circle_m(machine.stand_m, machine.tail_radius_m), data.head_m[None, :]]
    for shape in data.shapes:
        if shape.kind == "power line":
            near = _nearest(shape.xy_m, machine.stand_m)
            if np.hypot(*(near - machine.stand_m)) <= data.reach_m + shape.width_m:
                beyond = (near - machine.stand_m) / max(np.hypot(*(near - machine.stand_m)), 1e-9)
                points += [near[None, :], (near + shape.width_m * beyond)[None, :]]
    every = np.vstack(points)
    low, high = every.min(axis=0) - margin_m, every.max(axis=0) + margin_m
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _nearest(line: FloatArray, point: FloatArray) -> FloatArray:
    """Point of a line (n, 2) nearest to *point*."""
    way = shapely.LineString(line[:, :2])
    near = way.interpolate(way.project(shapely.Point(point)))
    return np.array([near.x, near.y])


def draw_path(ax: Drawable, data: PlanData, display: Display) -> None:
    """Load outlines at both ends, path of the hook, arrow heads."""
    looks = (("load at pick", "#f6dcc8", "-"), ("load at set-down", "white", (0, (4, 2))))
    for load, (gid, face, dash) in zip(data.loads_m, looks, strict=False):
        style: dict[str, Any] = {"facecolor": face, "linestyle": dash, "linewidth": 1.0}
        polygon(ax, display.length(load), edgecolor=RED, zorder=6.5, gid=gid, **style)
    if data.path_m is None or len(data.path_m) < 2:
        return
    path = display.length(data.path_m)
    polyline(ax, path, zorder=6.8, gid="load path", **PATH)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    if way[-1] <= 0:
        return
    window = ax.get_window_extent()
    dpi = ax.figure.dpi if ax.figure is not None else 100.0
    size = 5.5 / 72.0 * dpi * abs(ax.get_xlim()[1] - ax.get_xlim()[0]) / window.width
    for share in (0.3, 0.7):
        k = int(np.clip(np.searchsorted(way, share * way[-1]), 1, len(path) - 1))
        step = path[k] - path[k - 1]
        length = float(np.hypot(*step))
        if length == 0.0:
            continue
        along = step / length
        side = np.array([-along[1], along[0]]) * size * 0.6
        middle = path[k - 1] + along * (share * way[-1] - way[k - 1])
        back = middle - along * size * 0.6
        ring = [middle + along * size, back + side, back - side]
        polygon(ax, ring, facecolor=RED, edgecolor="white", linewidth=0.5, zorder=7, gid="way")


def _name_legs(data: PlanData, labels: Labels) -> None:
    machine, display = data.machine, labels.display
    for k, (name, foot) in enumerate(zip(LEG_ORDER, machine.leg_m, strict=True)):
        text = f"{name}  {display.text(float(machine.extension_m[k]), 'extension_m')}"
        if machine.reaction_kN is not None:
            force = float(machine.reaction_kN[k])
            text += f"\n{display.text(force, 'force_kN')}" if force > 0 else "\nlifts off"
        away = direction_deg(foot - machine.stand_m)
        place = display.length(foot)
        labels.add(place, text, toward_deg=away, weight="bold", gap_pt=7.0, gid=f"text {name}")


def _dimension_base(data: PlanData, labels: Labels) -> None:
    """Spread of the front and of the rear legs, and distance between the two."""
    machine, display = data.machine, labels.display
    feet = display.length(machine.leg_m)
    front_left, front_right, rear_right, rear_left = range(4)
    shown = set()
    for first, second in ((rear_left, rear_right), (front_right, front_left)):
        spread = float(np.hypot(*(machine.leg_m[first] - machine.leg_m[second])))
        text = display.text(spread, "length_m")
        if text in shown:  # equal front and rear: once is enough
            continue
        shown.add(text)
        dimension(labels, feet[first], feet[second], text, offset_pt=-26.0)
    left = np.sin(np.radians(data.slew_deg)) < 0.0  # on the side away from the boom
    first, second = (rear_left, front_left) if left else (front_right, rear_right)
    apart = (machine.leg_m[front_left] - machine.leg_m[rear_left]) @ machine.along()
    text = display.text(float(abs(apart)), "length_m")
    dimension(labels, feet[first], feet[second], text, offset_pt=30.0)


def _name_radii(data: PlanData, labels: Labels) -> None:
    machine, display, ax = data.machine, labels.display, labels.ax
    if data.path_m is None:
        text = f"R {display.text(data.radius_m, 'length_m')}"
        toward = data.slew_deg + machine.heading_deg
        labels.add(display.length(data.head_m), text, toward_deg=toward, weight="bold")
        return
    shown = display.length(data.path_m)
    edge = {"markeredgecolor": "white", "markeredgewidth": 0.6}
    for name, k, marker in (("Pick", 0, "o"), ("Set-down", -1, "X")):
        place, way = shown[k], data.path_m[k] - machine.stand_m
        mark(ax, place, marker, color=RED, markersize=6.5, zorder=8, gid=name, **edge)
        (left, bottom), (right, top) = np.column_stack([ax.get_xlim(), ax.get_ylim()])
        if not (left <= place[0] <= right and bottom <= place[1] <= top):
            continue  # what is not seen has no name
        text = f"{name}\nR {display.text(float(np.hypot(*way)), 'length_m')}"
        labels.add(place, text, toward_deg=direction_deg(way), weight="bold", gap_pt=5.0)
    labels.keep_line_clear(shown[:: max(1, len(shown) // 60)])


def draw_plan(
    data: PlanData,
    ax: Drawable,
    *,
    system: UnitSystem = "metric",
    bounds_m: Bounds | None = None,
    standard_scale: bool = True,
    site_key: bool = True,
) -> None:
    """Draw site, machine, outriggers with extension and force, mats, base and path to scale.

    Parameters:
      bounds_m: (x0, y0, x1, y1). [m] Part of the site to show; machine, path and load if None.
      standard_scale: Take the nearest round drawing scale.
      site_key: Whether the key holds the kinds of site shapes.
    """
    names = frozenset({data.title, *(shape.name for shape in data.shapes)})
    display = Display(system, names)
    prepare_site(ax, data.title, display)
    bounds = bounds_m or plan_bounds(data, margin_m=3.0)
    labels = to_scale(ax, bounds, display, standard=standard_scale)
    north_arrow(labels)
    draw_shapes(ax, data.shapes, display)
    draw_machine(ax, data.machine, display)
    draw_superstructure(ax, data.machine, display, slew_deg=data.slew_deg)
    draw_boom(ax, data.machine, display, slew_deg=data.slew_deg, radius_m=data.radius_m)
    draw_path(ax, data, display)
    _keep_clear(data, labels)
    keep_edges_clear([s for s in data.shapes if s.kind == "wall"], labels)
    for name in (_dimension_base, _name_legs, _name_front, _point_to_lines, _name_radii):
        name(data, labels)
    keep_edges_clear([s for s in data.shapes if s.kind != "wall"], labels)
    name_shapes(data.shapes, labels)
    entries = _machine_key(data) + (shape_key(data.shapes, ax, display) if site_key else [])
    key(ax, entries, display)


def _point_to_lines(data: PlanData, labels: Labels) -> None:
    """An overhead line outside the frame is pointed to at the border nearest to it."""
    ax, display = labels.ax, labels.display
    for shape in data.shapes:
        if shape.kind != "power line" or in_window(shape, ax, display):
            continue
        near = _nearest(shape.xy_m, data.machine.stand_m)
        step = near - data.machine.stand_m
        away = float(np.hypot(*step))
        tip = np.array(labels.at_pt(display.length(near)))
        centre = np.array(labels.at_pt(display.length(data.machine.stand_m)))
        # the place where the line of sight leaves the frame, a little inside
        frame = np.array(labels.frame).reshape(2, 2) + np.array([[4.0], [-4.0]])
        way = tip - centre
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = np.where(way > 0, frame[1] - centre, frame[0] - centre) / way
        tip = centre + way * float(np.nanmin(np.where(reach > 0, reach, np.nan)))
        along = way / float(np.hypot(*way))
        side = np.array([-along[1], along[0]])
        head = [tip, tip - 8.0 * along + 3.5 * side, tip - 8.0 * along - 3.5 * side]
        look = {"color": INK, "linewidth": 1.4, "zorder": 8}
        shaft = [labels.to_data(*p) for p in (tip - 22.0 * along, tip - 7.0 * along)]
        polyline(ax, shaft, gid=f"toward {shape.name}", **look)
        polygon(ax, [labels.to_data(*p) for p in head], facecolor=INK, zorder=8)
        ends = np.array([tip, tip - 22.0 * along])
        low, high = (ends.min(axis=0) - 4.0).tolist(), (ends.max(axis=0) + 4.0).tolist()
        labels.reserve((*low, *high))
        text = f"{shape.title}, {display.text(away, 'length_m', 'down')}\nfrom slew centre"
        toward = direction_deg(step) + 180.0
        labels.add(shaft[0], text, toward_deg=toward, weight="bold", ground=True)


def _name_front(data: PlanData, labels: Labels) -> None:
    machine = data.machine
    look: dict[str, Any] = {"toward_deg": machine.heading_deg, "weight": "bold", "leader": False}
    labels.add(labels.display.length(machine.front_m), "FRONT", **look)


def _keep_clear(data: PlanData, labels: Labels) -> None:
    machine, display = data.machine, labels.display
    labels.keep_line_clear(display.length([machine.stand_m, data.head_m]), radius_pt=4.0)
    labels.keep_area_clear(display.length(machine.carrier_m))
    labels.keep_area_clear(display.length(circle_m(machine.stand_m, machine.tail_radius_m)))
    for ring in (*data.loads_m, *machine.mats_m):
        labels.keep_area_clear(display.length(ring))
    labels.keep_line_clear(display.length(closed(machine.base_m)))
    for root, foot in zip(machine.leg_root_m, machine.leg_m, strict=True):
        labels.keep_line_clear(display.length([root, foot]))
        labels.keep_clear(display.length(foot), radius_pt=7.0)


def _machine_key(data: PlanData) -> list[KeyEntry]:
    machine = data.machine
    entries = (
        (True, "tipping line", TIPPING),
        (machine.governing_edge is not None, "governing tipping line", GOVERNING),
        (True, "tail swing", TAIL),
        (machine.counterweight_m is not None, "counterweight", WEIGHT),
        (data.path_m is not None, "load path", PATH),
        (machine.mats_m, f"mat {machine.mat_text}".strip(), MAT),
    )
    return [(words, look) for drawn, words, look in entries if drawn]


plan_figure = figure_of(plan_data, draw_plan, 170.0, 150.0)
"""Plan of site, machine and path at print size."""
