"""The surveyed ground of a site, and where the machine's outriggers and mats stand on it.

Levels are linear over the triangles between the surveyed spot levels. Plane geometry; sources of
limits beside each row.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import ArrayLike
from scipy.interpolate import LinearNDInterpolator
from shapely.geometry import LineString, MultiPoint, Polygon

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.crane.legs import packing_height_m
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.mats import Mat
from liftcalc.facts.site import Site
from liftcalc.ground.zones import MatConflict, mat_conflicts, mat_outlines
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.conditions import CONDITION_REMEDY, condition_of
from liftcalc.lift.path_study import PathStudy
from liftcalc.lift.setup import Setup, to_site_m

TOLERANCE_M = 0.15
"""Accuracy to which a crane is placed: common practice, no published source. [m]"""


@lru_cache(maxsize=8)
def _ground_surface(surveyed: tuple[tuple[float, float, float], ...]) -> LinearNDInterpolator:
    """Triangles between the spot levels; made once for a site, since that is slow."""
    if not MultiPoint([p[:2] for p in surveyed]).convex_hull.area > 1e-6:
        raise InputError.of("site.levels", "in one line", "levels around the crane position",
                            "Survey levels on both sides.")  # fmt: skip
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
        remedy = "Survey a level there."
        raise InputError.of("ground level", place, "a point between the spot levels", remedy)
    return level


def spot_levels_around(site: Site, easting_m: float, northing_m: float) -> FloatArray:
    """Easting, northing and level of the three spot levels around a point, shape (3, 3). [m]

    Raises: A point outside all triangles.
    """
    surface = _ground_surface(_surveyed(site))
    triangle = int(surface.tri.find_simplex([easting_m, northing_m], tol=1e-9))
    if triangle < 0:
        raise InputError.of("ground level", (easting_m, northing_m), "between the spot levels")
    return np.asarray(np.array(_surveyed(site))[surface.tri.simplices[triangle]], dtype=np.float64)


def ground_below_m(site: Site, xy_m: FloatArray) -> FloatArray:
    """Surveyed ground at site points (..., 2), NaN outside the spot levels; in an excavation its lowest bottom."""
    surveyed = _surveyed(site)
    ground = np.asarray(_ground_surface(surveyed)(xy_m[..., 0], xy_m[..., 1]))
    for pit in site.excavations:
        floor, outline = min(level for _, _, level in surveyed) - pit.depth_m, Polygon(pit.polygon)
        shapely.prepare(outline)
        inside = shapely.intersects_xy(outline, xy_m[..., 0], xy_m[..., 1])
        ground = np.where(inside, floor, ground)
    return ground


LEAST_MARGIN_M = 0.001


@dataclass(frozen=True, eq=False)
class Placing:
    """Mats on the site and the ground levels under them, in the order FL, FR, RR, RL."""

    mats: tuple[Polygon, ...]
    level_m: FloatArray
    packing_m: FloatArray
    """Packing that brings every leg to the highest of the four ground points."""
    zones: tuple[str, ...]
    """Ground zones under each mat and beside it, comma separated; empty where there is none."""


def mat_turn_deg(setup: Setup) -> float:
    """Direction of the mats' length: along the machine."""
    return setup.lift.stand.heading_deg


def beside_m(mat: Mat) -> float:
    """How far ground beside a mat counts as ground under it: the mat's shorter side. [m]

    Bearing fails along a surface that comes up about one width of the base away (Prandtl's mechanism for clay, from
    memory; farther in sand), so weaker ground there takes part. That it counts wholly is on the safe side.
    """
    return min(mat.length_m, mat.width_m)


def mats_and_zones(setup: Setup, within_m: float = 0.0) -> tuple[tuple[Polygon, ...], tuple[tuple[str, ...], ...]]:
    """Outline of each mat on the site, and the ground zones under it or as near as that."""
    xy = setup.leg_site_xy_m
    mats = mat_outlines(xy[:, 0], xy[:, 1], length_m=setup.mat.length_m, width_m=setup.mat.width_m,
                        orientation_deg=mat_turn_deg(setup))  # fmt: skip
    names = np.array([z.id for z in setup.site.zones])
    shapes = np.array([Polygon(z.polygon) for z in setup.site.zones])
    outlines = np.array(mats)[:, None]
    under = shapely.area(shapely.intersection(outlines, shapes)) > 1e-6 * shapely.area(outlines)
    near = under | (shapely.distance(outlines, shapes) < within_m)
    return mats, tuple(tuple(names[row]) for row in near)


def placing(setup: Setup) -> Placing:
    """Mat outlines, ground levels, packing and ground zones under the four legs."""
    xy = setup.leg_site_xy_m
    mats, touched = mats_and_zones(setup, beside_m(setup.mat))
    level = ground_level_m(setup.site, xy[:, 0], xy[:, 1])
    return Placing(mats, level, packing_height_m(level), tuple(", ".join(t) for t in touched))


def leg_beams(setup: Setup) -> tuple[LineString, ...]:
    """Each leg's beam in plan: from the machine's centreline out to its float."""
    roots = np.stack([setup.leg_xy_m[:, 0], np.zeros(len(setup.leg_xy_m))], axis=-1)
    ends = np.stack([to_site_m(roots, setup.lift), setup.leg_site_xy_m], axis=1)
    return tuple(LineString(e) for e in ends)


def base_checks(setup: Setup, study: PathStudy) -> list[Check]:
    """The base: slew centre inside, capacity data at every step of the path."""
    capacity, offsets = study.capacity, setup.base.offsets_m
    missing = capacity.source >= ESTIMATE
    share = float(missing.mean() * 100)
    condition, where = condition_of(capacity, study.path)
    centre = check_row("slew-centre-inside", float(-offsets.max()), LEAST_MARGIN_M,
                       line=setup.base.line_names[int(np.argmax(offsets))])  # fmt: skip
    if missing.any():
        return [centre, check_row("layout-capacity-data", setup.gross_t, None, share=share,
                                  first=study.path.describe(int(np.argmax(missing))))]  # fmt: skip
    return [centre, check_row("layout-capacity-data", share, 1e-6, how=CONDITION_REMEDY,
                              on_condition=where.removeprefix("; "),
                              condition=condition)]  # fmt: skip


def overlap(name: str, clashes: Sequence[MatConflict]) -> Check:
    """Row of the overlap of mats, the first that clash named."""
    clash = f"{clashes[0].mat} and {clashes[0].other}" if clashes else ""
    return check_row(name, max((c.overlap_m2 for c in clashes), default=0.0), 1e-6, clash=clash)


def mat_checks(setup: Setup, place: Placing) -> list[Check]:
    """Mats apart from one another, and enough of them."""
    need, stock = len(place.mats), setup.mat.quantity
    return [
        overlap("mats-apart", mat_conflicts(place.mats)),
        check_row("mats-on-shelf", float(max(need - stock, 0)), 1e-6, mat=setup.mat.id, required=need, stock=stock),
    ]
