"""Plan of a tandem lift, and each crane's share over the difference of hook levels."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.tandem import TandemAssessment
from liftcalc.lift.tandem_bodies import load_body
from liftcalc.lift.tandem_report import share_curve
from liftcalc.views import style
from liftcalc.views.machine import front_mark_m
from liftcalc.views.marks import north_arrow, to_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import polygon, polyline
from liftcalc.views.style import BLUE, GREY, INK, LONG_DASH, RED, TEXT_PT, Display, prepare

SHOWN = 5
"""Steps of the load path at which load and booms are drawn."""
MACHINE: dict[str, Any] = {"facecolor": "#e8e8e8", "edgecolor": INK, "linewidth": 0.8}
MAT: dict[str, Any] = {"facecolor": "#cfe3f1", "edgecolor": INK, "linewidth": 0.7}
FIXED: dict[str, Any] = {"facecolor": "none", "edgecolor": GREY, "linewidth": 0.8, "hatch": "///"}
LOOKS: tuple[dict[str, Any], ...] = ({"color": BLUE, "linestyle": "-"}, {"color": RED, "linestyle": LONG_DASH})


@dataclass(frozen=True, eq=False)
class TandemPlanData:
    """Plan in site coordinates; pairs are machine 1, machine 2."""

    title: str
    load_rings_m: FloatArray
    """Outline of the load at some steps from pick to set-down, shape (K, 4, 2)."""
    hook_way_m: tuple[FloatArray, ...]
    """Ways of both hooks, each of shape (N, 2)."""
    carrier_m: tuple[FloatArray, ...]
    """Corners of each carrier, its front two first."""
    mats_m: tuple[tuple[FloatArray, ...], ...]
    booms_m: tuple[tuple[FloatArray, ...], ...]
    """Booms at the same steps as the load, each of shape (2, 2)."""
    obstacles_m: tuple[tuple[str, FloatArray], ...]


@dataclass(frozen=True, eq=False)
class ShareData:
    """Share of each machine where hook 2 hangs higher by a difference; pairs are machines."""

    title: str
    level_difference_m: FloatArray
    plumb_t: FloatArray
    """Hoist lines plumb, shape (N, 2)."""
    least_t: FloatArray
    greatest_t: FloatArray
    """For lines out of plumb either way and the centre of gravity off by its error."""


def _carrier_and_boom(lift: LiftAssessment) -> tuple[MovingPrism, MovingMember]:
    bodies = {body.name: body for body in lift.surroundings.bodies}
    carrier, boom = bodies["carrier"], bodies["boom"]
    assert isinstance(carrier, MovingPrism)
    assert isinstance(boom, MovingMember)
    return carrier, boom


def tandem_plan_data(study: TandemAssessment, *, title: str = "") -> TandemPlanData:
    """Plan of both machines and the load at some steps of its way."""
    load = load_body(study)
    steps = np.unique(np.linspace(0, len(load.base_m) - 1, SHOWN).round().astype(int))
    carriers, booms = zip(*(_carrier_and_boom(one) for one in study.plumb), strict=True)
    mats = [[np.asarray(m.exterior.coords)[:-1] for m in one.place.mats] for one in study.plumb]
    ends = [np.stack([boom.start_m[steps, :2], boom.end_m[steps, :2]], axis=1) for boom in booms]
    return TandemPlanData(
        title=title, load_rings_m=load.corners_m[steps],
        hook_way_m=tuple(boom.end_m[:, :2] for boom in booms),
        carrier_m=tuple(carrier.corners_m[0] for carrier in carriers),
        mats_m=tuple(map(tuple, mats)), booms_m=tuple(map(tuple, ends)),
        obstacles_m=tuple((o.id, np.array(o.polygon)) for o in study.job.site.obstacles),
    )  # fmt: skip


def share_data(study: TandemAssessment, *, title: str = "") -> ShareData:
    """Shares over the difference of hook levels."""
    return ShareData(title, *share_curve(study.tandem))


def draw_tandem_plan(data: TandemPlanData, ax: Drawable) -> None:
    """Draw both machines, their mats and booms, and the load on its way, to scale."""
    display = Display()
    style.prepare_site(ax, data.title, display)
    rings = [data.load_rings_m.reshape(-1, 2), *data.carrier_m]
    points = np.concatenate([*rings, *data.mats_m[0], *data.mats_m[1]])
    low, high = points.min(axis=0) - 3.0, points.max(axis=0) + 3.0
    for name, ring in data.obstacles_m:
        if np.any((ring.max(axis=0) >= low) & (ring.min(axis=0) <= high)):
            polygon(ax, ring, zorder=1, gid=f"obstacle {name}", **FIXED)
    middle: dict[str, Any] = {"fontsize": TEXT_PT + 2, "ha": "center", "va": "center", "zorder": 6}
    for k, look in enumerate(LOOKS):
        carrier = data.carrier_m[k]
        polygon(ax, carrier, zorder=2, gid=f"carrier {k + 1}", **MACHINE)
        front, rear = carrier[:2].mean(axis=0), carrier[2:].mean(axis=0)
        along = (front - rear) / float(np.hypot(*(front - rear)))
        mark = front_mark_m(front, along, float(np.hypot(*(carrier[1] - carrier[0]))))
        polygon(ax, mark, zorder=2.1, gid=f"front {k + 1}", facecolor=INK)
        for mat in data.mats_m[k]:
            polygon(ax, mat, zorder=2, gid=f"mat {k + 1}", **MAT)
        for boom in data.booms_m[k]:
            polyline(ax, boom, zorder=3, linewidth=1.6, alpha=0.6, **look)
        polyline(ax, data.hook_way_m[k], zorder=4, linewidth=0.9, **look)
        x, y = (0.25 * front + 0.75 * rear).tolist()  # clear of the booms
        ax.text(x, y, f"{k + 1}", **middle)
    outline: dict[str, Any] = {"facecolor": "none", "edgecolor": INK, "zorder": 5}
    for k, ring in enumerate(data.load_rings_m):
        at_end = k in (0, len(data.load_rings_m) - 1)
        polygon(ax, ring, linewidth=1.6 if at_end else 0.7, gid=f"load {k}", **outline)
    north_arrow(to_scale(ax, np.concatenate([low, high]), display))


def draw_shares(data: ShareData, ax: Drawable) -> None:
    """Draw both shares over the difference of hook levels, with the band of the other errors."""
    prepare(ax, Display(), data.title, "Hook 2 higher than level by [m]", "Share [t]")
    x, end = data.level_difference_m, float(data.level_difference_m[-1])
    for k, look in enumerate(LOOKS):
        greatest, least, plumb = (
            np.column_stack([x, share[:, k]]) for share in (data.greatest_t, data.least_t, data.plumb_t)
        )
        band: dict[str, Any] = {"facecolor": look["color"], "alpha": 0.15, "edgecolor": "none"}
        polygon(ax, np.vstack([greatest, least[::-1]]), zorder=1, gid=f"band {k + 1}", **band)
        polyline(ax, plumb, zorder=3, linewidth=1.8, gid=f"share {k + 1}", **look)
        name: dict[str, Any] = {"fontsize": TEXT_PT, "va": "center", "color": look["color"]}
        ax.text(end, float(plumb[-1, 1]), f" crane {k + 1}", **name)
    ends = np.concatenate([data.least_t, data.greatest_t])
    pad = 0.1 * max(float(np.ptp(ends)), 0.1)
    ax.set_ylim(float(ends.min()) - pad, float(ends.max()) + pad)
    ax.set_xlim(float(x[0]), end + 0.25 * float(np.ptp(x)))
