"""The machine in plan: carrier with its front, superstructure and counterweight, outriggers, boom.

Site coordinates; outriggers and all that belongs to one run FL, FR, RR, RL. Sizes are the machine's
data; two that none give are drawn by rule: the superstructure reaches as far forward as half its
width, and the counterweight lies evenly about its centre of gravity.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.text import amount
from liftcalc.clearance.bodies import tail_outline_m
from liftcalc.facts.machine import Machine
from liftcalc.lift.setup import Setup, to_site_m
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import closed, mark, polygon, polyline
from liftcalc.views.style import BLUE, CENTRE_LINE, GREY, INK, LONG_DASH, Display

LEG_ORDER = ("FL", "FR", "RR", "RL")
TIPPING: dict[str, Any] = {"color": BLUE, "linestyle": LONG_DASH, "linewidth": 1.1}
GOVERNING: dict[str, Any] = {"color": BLUE, "linestyle": "-", "linewidth": 2.4}
MAT: dict[str, Any] = {"facecolor": "#ede3cf", "edgecolor": INK, "linewidth": 0.7, "hatch": "///"}
BODY: dict[str, Any] = {"facecolor": "#f4f4f4", "edgecolor": INK, "linewidth": 1.0}
UPPER: dict[str, Any] = {"facecolor": "#dcdcdc", "edgecolor": INK, "linewidth": 0.9}
WEIGHT: dict[str, Any] = {"facecolor": "#9a9a9a", "edgecolor": INK, "linewidth": 0.9}
TAIL: dict[str, Any] = {"color": GREY, "linestyle": CENTRE_LINE, "linewidth": 0.9}


@dataclass(frozen=True, eq=False)
class MachineDrawing:
    """The machine as it stands on the site."""

    stand_m: FloatArray
    """Slew centre, (2,)."""
    heading_deg: float
    carrier_m: FloatArray
    leg_root_m: FloatArray
    leg_m: FloatArray
    extension_m: FloatArray
    base_m: FloatArray
    """Corners of the base polygon, anticlockwise."""
    tail_radius_m: float
    boom_width_m: float = 0.8
    reaction_kN: FloatArray | None = None
    mats_m: tuple[FloatArray, ...] = ()
    mat_text: str = ""
    governing_edge: int | None = None
    """Index of the base polygon's edge (from corner i to i + 1) that governs stability."""
    name: str = ""
    upper_m: FloatArray | None = None
    """Superstructure as seen from above, boom along x, from the slew centre."""
    counterweight_m: FloatArray | None = None
    """The counterweight fitted, the same way; None where none is."""

    @property
    def front_m(self) -> FloatArray:
        """Middle of the carrier's front end."""
        out = (self.carrier_m - self.stand_m) @ self.along()
        return self.stand_m + float(out.max()) * self.along()

    def turned_m(self, outline_m: FloatArray, slew_deg: float) -> FloatArray:
        """An outline of the superstructure on the site, at a slew."""
        along, left = self.along(slew_deg), self.along(slew_deg + 90.0)
        return self.stand_m + outline_m[:, :1] * along + outline_m[:, 1:] * left

    def along(self, turn_deg: float = 0.0) -> FloatArray:
        """Unit vector forward, or turned from it anticlockwise."""
        turn = np.radians(self.heading_deg + turn_deg)
        return np.array([np.cos(turn), np.sin(turn)])


def _rear(outline: Sequence[tuple[float, float]], front_m: float) -> FloatArray:
    """An outline of a tail, its front end at *front_m*."""
    ring = np.array(outline)
    ring[[0, -1], 0] = front_m
    return ring


def _superstructure_m(machine: Machine, counterweight: str) -> tuple[FloatArray, FloatArray | None]:
    upper, weight = machine.superstructure, machine.counterweight(counterweight)
    body = _rear(tail_outline_m(upper.tail_radius_m, upper.width_m), upper.width_m / 2.0)
    if not weight.mass_t > 0.0:
        return body, None
    tail = tail_outline_m(weight.tail_radius_m, weight.tail_width_m)
    return body, _rear(tail, 2.0 * (weight.tail_radius_m + weight.cg_u_m) - weight.tail_radius_m)


def machine_drawing(
    setup: Setup,
    *,
    mats: Sequence[shapely.Polygon] = (),
    reaction_kN: FloatArray | None = None,
    governing_line: str | None = None,
) -> MachineDrawing:
    """The machine of a set-up with its mats as placed."""
    carrier, stand, lift = setup.machine.carrier, setup.lift.stand, setup.lift
    legs, half = setup.leg_xy_m, carrier.width_m / 2.0
    roots = np.column_stack([legs[:, 0], np.clip(legs[:, 1], -half, half)])
    front, rear = carrier.front_x_m, carrier.rear_x_m
    names, mat = setup.base.line_names, setup.mat
    upper, counterweight = _superstructure_m(setup.machine, lift.counterweight)
    return MachineDrawing(
        stand_m=np.array([stand.easting_m, stand.northing_m]), heading_deg=stand.heading_deg,
        carrier_m=to_site_m([(front, -half), (front, half), (rear, half), (rear, -half)], lift),
        leg_root_m=to_site_m(roots, lift), leg_m=to_site_m(legs, lift),
        extension_m=np.array(lift.legs.as_tuple()), base_m=to_site_m(setup.base.vertices_m, lift),
        tail_radius_m=setup.machine.counterweight(lift.counterweight).tail_radius_m,
        boom_width_m=setup.machine.boom.width_m, reaction_kN=reaction_kN,
        mats_m=tuple(np.asarray(m.exterior.coords)[:-1, :2] for m in mats),
        mat_text=f"{amount(mat.length_m, 'length_m')} × {amount(mat.width_m, 'length_m')}",
        governing_edge=names.index(governing_line) if governing_line in names else None,
        name=setup.machine.name, upper_m=upper, counterweight_m=counterweight,
    )  # fmt: skip


def circle_m(centre_m: FloatArray, radius_m: float) -> FloatArray:
    """Points of a circle, first and last the same."""
    turn = np.radians(np.linspace(0.0, 360.0, 121))
    return centre_m + radius_m * np.column_stack([np.cos(turn), np.sin(turn)])


def draw_machine(ax: Drawable, machine: MachineDrawing, display: Display) -> None:
    """Draw carrier and its front, outriggers, mats, base and tail swing; no boom, no texts."""
    shown = display.length
    for name, xy in zip(LEG_ORDER, machine.mats_m, strict=False):
        polygon(ax, shown(xy), zorder=3, gid=f"mat {name}", **MAT)
    base = shown(closed(machine.base_m))
    polyline(ax, base, zorder=3.6, gid="tipping lines", **TIPPING)
    edge = machine.governing_edge
    if edge is not None:
        polyline(ax, base[edge : edge + 2], zorder=3.7, gid="governing tipping line", **GOVERNING)
    polygon(ax, shown(machine.carrier_m), zorder=4, gid="carrier", **BODY)
    width = float(np.ptp((machine.carrier_m - machine.stand_m) @ machine.along(90.0)))
    front = front_mark_m(machine.front_m, machine.along(), width)
    polygon(ax, shown(front), zorder=4.1, gid="front", facecolor=INK)
    roots, feet = shown(machine.leg_root_m), shown(machine.leg_m)
    for name, root, foot in zip(LEG_ORDER, roots, feet, strict=True):
        polyline(ax, [root, foot], color=INK, linewidth=3.2, zorder=4.2, gid=f"outrigger {name}")
        polyline(ax, [root, foot], color="white", linewidth=1.8, zorder=4.3)
        mark(ax, foot, "s", markersize=4.5, zorder=5, gid=f"float {name}")
    tail = circle_m(machine.stand_m, machine.tail_radius_m)
    polyline(ax, shown(tail), zorder=4.5, gid="tail swing", **TAIL)


def front_mark_m(front_m: FloatArray, along: FloatArray, width_m: float) -> FloatArray:
    """Arrow head inside a carrier's front end, pointing forward (unit vector *along*)."""
    back = front_m - 0.5 * width_m * along
    side = 0.32 * width_m * np.array([-along[1], along[0]])
    return np.array([front_m - 0.06 * width_m * along, back + side, back - side])


def draw_superstructure(ax: Drawable, machine: MachineDrawing, display: Display, *, slew_deg: float) -> None:
    """Draw superstructure and counterweight at a slew, to scale."""
    parts = (("superstructure", machine.upper_m, UPPER, 4.6), ("counterweight", machine.counterweight_m, WEIGHT, 4.7))
    for gid, outline, look, order in parts:
        if outline is not None:
            ring = display.length(machine.turned_m(outline, slew_deg))
            polygon(ax, ring, zorder=order, gid=gid, **look)


def draw_boom(ax: Drawable, machine: MachineDrawing, display: Display, *, slew_deg: float, radius_m: float) -> None:
    """Draw the boom over its slew with its axis and the slew centre."""
    along, side = machine.along(slew_deg), machine.along(slew_deg + 90.0)
    tail = machine.stand_m - along * min(1.2, machine.tail_radius_m / 2)
    head, half = machine.stand_m + along * radius_m, machine.boom_width_m / 2.0
    ring = [tail + side * half, head + side * half * 0.6, head - side * half * 0.6]
    ring.append(tail - side * half)
    body: dict[str, Any] = {"facecolor": "white", "edgecolor": INK, "linewidth": 0.9, "alpha": 0.92}
    polygon(ax, display.length(ring), zorder=6, gid="boom", **body)
    axis = display.length([machine.stand_m, head])
    polyline(ax, axis, color=INK, linestyle=CENTRE_LINE, linewidth=0.6, zorder=6.1)
    mark(ax, axis[0], "o", markersize=5, markerfacecolor="white", zorder=6.2, gid="slew centre")
