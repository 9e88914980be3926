"""What moves above the surveyed ground: the load's underside, the counterweight tail and the boom.

Places outside the spot levels are left out, since no ground is known there. Plane geometry; sources
of limits beside each row.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.checks import Check
from liftcalc.crane.masses import BoomState
from liftcalc.lift.path import LoadPath, worst_step_check
from liftcalc.lift.placing import TOLERANCE_M, ground_below_m
from liftcalc.lift.setup import Setup, to_site_m
from liftcalc.lift.wind_checks import swing_deg


@dataclass(frozen=True, eq=False)
class AboveGround:
    """One body above the ground, at each step of the path."""

    id: str
    limit_m: float
    points_m: FloatArray
    """Points in plan at each step, machine frame, shape (N, P, 2) or (N, P) broadcast."""
    low_m: FloatArray
    """Level of the body at each of them, shape that broadcasts to (N, P)."""
    above_m: FloatArray
    """That level above the ground, shape (N, P); infinite where no ground is known."""

    @property
    def worst(self) -> tuple[int, int]:
        """Step and point with the minimum."""
        step = int(np.argmin(self.above_m.min(axis=1)))
        return step, int(np.argmin(self.above_m[step]))


def above_ground(setup: Setup, path: LoadPath, boom: BoomState) -> list[AboveGround]:
    """Load, tail and boom above the ground; none of those that move outside the spot levels."""
    slew = np.radians(path.slew_deg)
    ahead = np.stack([np.cos(slew), np.sin(slew)], axis=-1)
    found = []
    for id, (points, low), limit in (
        ("load", _underside(setup, path, boom, ahead), -TOLERANCE_M),
        ("tail", _tail(setup, ahead), TOLERANCE_M),
        ("boom", _boom_line(setup, path, boom, ahead), setup.rules.clearance.boom_m),
    ):
        above = low - ground_below_m(setup.site, to_site_m(points, setup.lift))
        if np.isnan(above).all():
            continue
        above = np.where(np.isnan(above), np.inf, above)
        found.append(AboveGround(f"{id}-above-ground", limit, points, low, above))
        carried = np.where(_carried(path)[:, None], above, np.inf)
        if id == "load" and np.isfinite(carried).any():
            found.append(AboveGround("load-carried-above-ground", TOLERANCE_M, points, low, carried))
    return found


def _carried(path: LoadPath) -> BoolArray:
    """Steps at which the load is carried: neither hoisted nor lowered over its own place."""
    return ~np.isin(path.stage, ("hoist", "lower"))


def load_above_ground(setup: Setup, path: LoadPath, boom: BoomState) -> list[Check]:
    """A row for each body of :func:`above_ground`."""
    return [
        worst_step_check(path, one.id, one.above_m.min(axis=1), one.limit_m, tolerance=TOLERANCE_M,
                         owner=setup.rules.clearance.reference)
        for one in above_ground(setup, path, boom)
    ]  # fmt: skip


def _underside(setup: Setup, path: LoadPath, boom: BoomState, ahead: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points below the load at each step, in the machine frame, and how low the load hangs there.

    While the load is carried, its lowest corner as it tilts and swings, anywhere within its reach; while it is hoisted
    and lowered over its own place, the planned underside, which starts and ends on something.
    """
    rope = boom.head_z_m - (path.level_m - setup.lift.stand.level_m)
    swung = dataclasses.replace(setup.hung, swing_deg=swing_deg(setup, path, boom))
    carried = _carried(path)
    reach = np.where(carried, swung.reach_m + rope * np.tan(np.radians(swung.swing_deg)), 0.0)
    turn = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    disc = np.concatenate([np.zeros((1, 2)), 0.5 * circle, circle])
    points = (path.radius_m[:, None] * ahead)[:, None] + reach[:, None, None] * disc
    return points, (path.level_m - np.where(carried, swung.low_m(rope), 0.0))[:, None]


def _tail(setup: Setup, ahead: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A fan of points behind the slew axis at each step, and the tail's underside."""
    outline = np.asarray(setup.shape.tail_outline_m)
    behind = np.concatenate([share * outline[outline[:, 0] < 0] for share in (1.0, 0.75, 0.5)])
    across = np.stack([-ahead[:, 1], ahead[:, 0]], axis=-1)
    points = behind[:, :1] * ahead[:, None] + behind[:, 1:] * across[:, None]
    return points, np.full((1, 1), setup.lift.stand.level_m + setup.shape.tail_base_m)


def _boom_line(setup: Setup, path: LoadPath, boom: BoomState, ahead: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The boom's middle line in half metres at each step, and its underside."""
    share = np.linspace(0.0, 1.0, int(2.0 * setup.boom.length_m) + 2)
    foot, foot_z = setup.machine.boom.foot_u_m, setup.machine.boom.foot_z_m
    out = foot + (path.radius_m[:, None] - foot) * share
    height = foot_z + (boom.head_z_m[:, None] - foot_z) * share
    low = setup.lift.stand.level_m + height - setup.shape.boom_half_width_m
    return out[..., None] * ahead[:, None], low
