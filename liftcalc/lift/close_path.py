"""The load path in steps so close that no clearance depends on how the path was sampled.

Clearances are looked at in steps of their own, laid between the corners of the path by geometry
alone: neither the steps of the path nor the wind move them. At the pick and at the set-down the load comes off the hook
as well, in steps that move the boom head no farther. Geometry; no published source.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.crane.boom_bending import LoadedBoom
from liftcalc.lift.boom_setting import boom_bend
from liftcalc.lift.path import LoadPath, path_at
from liftcalc.lift.setup import Setup

STEP_M = 0.08
"""How far head and load move between two steps, about."""


@dataclass(frozen=True, eq=False)
class ClosePath:
    """Steps for clearances, with the boom as it is bent at each of them."""

    path: LoadPath
    eased: FloatArray
    """Share of the load that is off the hook, 0 to 1: above 0 at pick and set-down only."""
    bend: LoadedBoom
    off_straight_m: float
    """By how much at most a point leaves the straight way between two steps."""
    unknown_bend: str
    """Why the bending of the boom could not be estimated; empty where it could."""


def path_corners(path: LoadPath) -> NDArray[np.int64]:
    """Steps at which the path turns, first and last included."""
    place = np.stack([path.slew_deg, path.radius_m, path.level_m])
    before, whole = place[:, 1:-1] - place[:, :-2], place[:, 2:] - place[:, :-2]
    share = (before * whole).sum(axis=0) / np.maximum((whole * whole).sum(axis=0), 1e-300)
    aside = np.abs(before - share * whole).max(axis=0, initial=0.0)
    turns = (share < 0.0) | (share > 1.0) | (aside > 1e-9)
    return np.unique([0, *(np.flatnonzero(turns) + 1).tolist(), len(path) - 1])


def close_path(setup: Setup, path: LoadPath) -> ClosePath:
    """Steps of at most about :data:`STEP_M` along the path, and the load coming off at its ends."""
    corner = path_corners(path)
    half = float(np.hypot(setup.hung.length_m, setup.hung.width_m)) / 2.0
    reach = float(path.radius_m.max()) + half
    turn, luff, rise = (np.abs(np.diff(v[corner])) for v in (np.radians(path.slew_deg), path.radius_m, path.level_m))
    bend, problem = boom_bend(setup, path.radius_m[corner])
    steep = np.sin(np.radians(np.minimum(bend.chord_deg[1:], bend.chord_deg[:-1])))
    luff = luff / np.maximum(steep, 0.05)
    way = np.sqrt((reach * turn) ** 2 + luff**2 + rise**2)
    count = np.maximum(np.ceil(way / STEP_M - 1e-6), 1.0).astype(int)
    parts = [a + (b - a) * np.arange(1, n + 1) / n for a, b, n in zip(corner, corner[1:], count.tolist(), strict=False)]
    where = np.concatenate([np.zeros(1), *parts])
    sprung = bend.empty_chord_m * np.radians(bend.empty_chord_deg - bend.chord_deg)
    first, last = (np.linspace(0.0, 1.0, max(int(np.ceil(float(sprung[k]) / STEP_M)), 1) + 1)[1:] for k in (0, -1))
    off = np.concatenate([first[::-1], np.zeros(where.size), last])
    where = np.concatenate([np.zeros(first.size), where, np.full(last.size, len(path) - 1.0)])
    close = path_at(path, where)
    stage = tuple("load off" if share > 0 else s for share, s in zip(off, close.stage, strict=True))
    bend, problem = boom_bend(setup, close.radius_m)
    most_turn = float(np.max(turn / count, initial=0.0))
    most_luff = float(np.max(luff / count, initial=0.0)) / setup.boom.length_m
    return ClosePath(
        path=dataclasses.replace(close, stage=stage), eased=off, bend=bend,
        off_straight_m=(reach * most_turn**2 + 2.0 * setup.boom.length_m * most_luff**2) / 8.0, unknown_bend=problem,
    )  # fmt: skip
