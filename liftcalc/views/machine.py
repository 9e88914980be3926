"""The machine in plan: carrier, legs, mats, base polygon, tail swing and boom.

Site coordinates; legs and all that belongs to a leg run FL, FR, RR, RL.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.lift.setup import Setup, to_site_m
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import mark, polygon, polyline
from liftcalc.views.style import BLUE, CENTRE_LINE, GREY, INK, LONG_DASH, Display

LEG_ORDER = ("FL", "FR", "RR", "RL")
TIPPING: dict[str, Any] = {"color": BLUE, "linestyle": LONG_DASH, "linewidth": 1.1}
GOVERNING: dict[str, Any] = {"color": BLUE, "linestyle": "-", "linewidth": 2.4}
MAT: dict[str, Any] = {"facecolor": "#ede3cf", "edgecolor": INK, "linewidth": 0.7, "hatch": "///"}
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

    def along(self, turn_deg: float = 0.0) -> FloatArray:
        """Unit vector forward, or turned from it anticlockwise."""
        turn = np.radians(self.heading_deg + turn_deg)
        return np.array([np.cos(turn), np.sin(turn)])


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
    names = setup.base.line_names
    return MachineDrawing(
        stand_m=np.array([stand.easting_m, stand.northing_m]),
        heading_deg=stand.heading_deg,
        carrier_m=to_site_m([(front, -half), (front, half), (rear, half), (rear, -half)], lift),
        leg_root_m=to_site_m(roots, lift),
        leg_m=to_site_m(legs, lift),
        extension_m=np.array(lift.legs.as_tuple()),
        base_m=to_site_m(setup.base.vertices_m, lift),
        tail_radius_m=setup.machine.counterweight(lift.counterweight).tail_radius_m,
        boom_width_m=setup.machine.boom.width_m,
        reaction_kN=reaction_kN,
        mats_m=tuple(np.asarray(m.exterior.coords)[:-1, :2] for m in mats),
        mat_text=f"{setup.mat.length_m:g} × {setup.mat.width_m:g} m",
        governing_edge=names.index(governing_line) if governing_line in names else None,
        name=setup.machine.name,
    )


def circle_m(centre_m: FloatArray, radius_m: float) -> FloatArray:
    """Points of a circle, first and last the same."""
    turn = np.radians(np.linspace(0.0, 360.0, 121))
    return centre_m + radius_m * np.column_stack([np.cos(turn), np.sin(turn)])


def draw_machine(ax: Drawable, machine: MachineDrawing, display: Display) -> None:
    """Draw carrier, legs, mats, base polygon and tail swing, without boom and texts."""
    shown = display.length
    for name, xy in zip(LEG_ORDER, machine.mats_m, strict=False):
        polygon(ax, shown(xy), zorder=3, gid=f"mat {name}", **MAT)
    base = shown(np.vstack([machine.base_m, machine.base_m[:1]]))
    polyline(ax, base, zorder=3.6, gid="tipping lines", **TIPPING)
    edge = machine.governing_edge
    if edge is not None:
        polyline(ax, base[edge : edge + 2], zorder=3.7, gid="governing tipping line", **GOVERNING)
    body: dict[str, Any] = {"facecolor": "#f4f4f4", "edgecolor": INK, "linewidth": 1.0}
    polygon(ax, shown(machine.carrier_m), zorder=4, gid="carrier", **body)
    roots, feet = shown(machine.leg_root_m), shown(machine.leg_m)
    for name, root, foot in zip(LEG_ORDER, roots, feet, strict=True):
        polyline(ax, [root, foot], color=INK, linewidth=3.2, zorder=4.2, gid=f"leg {name}")
        polyline(ax, [root, foot], color="white", linewidth=1.8, zorder=4.3)
        mark(ax, foot, "s", markersize=4.5, zorder=5, gid=f"float {name}")
    tail = circle_m(machine.stand_m, machine.tail_radius_m)
    polyline(ax, shown(tail), zorder=4.5, gid="tail swing", **TAIL)


def draw_boom(
    ax: Drawable, machine: MachineDrawing, display: Display, *, slew_deg: float, radius_m: float
) -> None:
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
