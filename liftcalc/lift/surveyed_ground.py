"""The surveyed ground of a site: its level at a place, and what passes above it.

Levels are linear over the triangles between the surveyed spot levels. Plane geometry; sources of
limits beside each row.
"""

import dataclasses
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import ArrayLike
from scipy.interpolate import LinearNDInterpolator
from shapely.geometry import MultiPoint, Polygon

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.crane.masses import BoomState
from liftcalc.facts.site import Site
from liftcalc.lift.path import LoadPath, worst_step_check
from liftcalc.lift.setup import Setup, to_site_m
from liftcalc.lift.wind_checks import swing_deg

TOLERANCE_M = 0.15
_ACCURACY = "its accuracy: common practice, no published source"


@lru_cache(maxsize=8)
def _ground_surface(surveyed: tuple[tuple[float, float, float], ...]) -> LinearNDInterpolator:
    """Triangles between the spot levels; made once for a site, since that is slow."""
    spread = MultiPoint([p[:2] for p in surveyed]).convex_hull
    if not spread.area > 1e-6:
        raise InputError.of(
            "site.levels", "in one line", "levels around the stand", "Survey levels on both sides."
        )
    points = np.array(surveyed)
    return LinearNDInterpolator(points[:, :2], points[:, 2])


def _surveyed(site: Site) -> tuple[tuple[float, float, float], ...]:
    return tuple((s.easting_m, s.northing_m, s.level_m) for s in site.levels)


def ground_level_m(site: Site, easting_m: ArrayLike, northing_m: ArrayLike) -> FloatArray:
    """Ground level between the surveyed spot levels, linear over triangles.

    Raises: Fewer than three spot levels, or a point outside all triangles: nothing is extrapolated.
    """
    if len(site.levels) < 3:
        raise InputError.of("site.levels", len(site.levels), "at least three spot levels")
    level = np.asarray(_ground_surface(_surveyed(site))(easting_m, northing_m), dtype=np.float64)
    unknown = np.isnan(np.atleast_1d(level))
    if unknown.any():
        k = int(np.argmax(unknown))
        place = (float(np.atleast_1d(easting_m)[k]), float(np.atleast_1d(northing_m)[k]))
        raise InputError.of(
            "ground level", place, "a point between the spot levels", "Survey a level there."
        )
    return level


def _ground_below_m(site: Site, xy_m: FloatArray) -> FloatArray:
    """Surveyed ground at site points (..., 2), NaN outside the spot levels; in an excavation its
    lowest bottom."""
    surveyed = _surveyed(site)
    ground = np.asarray(_ground_surface(surveyed)(xy_m[..., 0], xy_m[..., 1]))
    for pit in site.excavations:
        floor, outline = min(level for _, _, level in surveyed) - pit.depth_m, Polygon(pit.polygon)
        shapely.prepare(outline)
        inside = shapely.intersects_xy(outline, xy_m[..., 0], xy_m[..., 1])
        ground = np.where(inside, floor, ground)
    return ground


def load_above_ground(setup: Setup, path: LoadPath, boom: BoomState) -> list[Check]:
    """Load's underside, counterweight tail and boom against the surveyed ground.

    Places outside the spot levels are left out, since no ground is known there; no row where all
    are.
    """
    slew = np.radians(path.slew_deg)
    ahead = np.stack([np.cos(slew), np.sin(slew)], axis=-1)
    rows = []
    for (points, low), id, title, limit, reference, remedy in (
        (
            _underside(setup, path, boom, ahead),
            "load-above-ground",
            "Load's underside above the surveyed ground, carried with tilt and swing",
            -TOLERANCE_M,
            f"survey, {TOLERANCE_M:g} m allowed for {_ACCURACY}",
            "Correct the levels of pick, set-down and waypoints, carry higher, or survey the "
            "opening.",
        ),
        (
            _tail(setup, ahead),
            "tail-above-ground",
            "Counterweight tail's underside above the surveyed ground",
            TOLERANCE_M,
            f"survey, {TOLERANCE_M:g} m for {_ACCURACY}",
            "Stand farther from the rising ground.",
        ),
        (
            _boom_line(setup, path, boom, ahead),
            "boom-above-ground",
            "Boom above the surveyed ground",
            setup.rules.clearance.boom_m,
            setup.rules.clearance.reference,
            "Raise the boom or stand farther from the rising ground.",
        ),
    ):
        above = low - _ground_below_m(setup.site, to_site_m(points, setup.lift))
        if np.isnan(above).all():
            continue
        rows.append(
            worst_step_check(
                path,
                id,
                title,
                value=np.where(np.isnan(above), np.inf, above).min(axis=1),
                limit=limit,
                quantity="length_m",
                sense="min",
                reference=reference,
                remedy=remedy,
            )
        )
    return rows


def _underside(
    setup: Setup, path: LoadPath, boom: BoomState, ahead: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Points below the load at each step, in the machine frame, and how low the load hangs there.

    While the load is carried, its lowest corner as it tilts and swings, anywhere within its reach;
    while it is hoisted and lowered over its own place, the planned underside, which starts and ends
    on something.
    """
    rope = boom.head_z_m - (path.level_m - setup.lift.stand.level_m)
    swung = dataclasses.replace(setup.hung, swing_deg=swing_deg(setup, path, boom))
    carried = ~np.isin(path.stage, ("hoist", "lower"))
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


def _boom_line(
    setup: Setup, path: LoadPath, boom: BoomState, ahead: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The boom's middle line in half metres at each step, and its underside."""
    share = np.linspace(0.0, 1.0, int(2.0 * setup.boom.length_m) + 2)
    foot, foot_z = setup.machine.boom.foot_u_m, setup.machine.boom.foot_z_m
    out = foot + (path.radius_m[:, None] - foot) * share
    height = foot_z + (boom.head_z_m[:, None] - foot_z) * share
    low = setup.lift.stand.level_m + height - setup.shape.boom_half_width_m
    return out[..., None] * ahead[:, None], low
