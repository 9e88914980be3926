"""Where the machine's outriggers and mats stand on the site, and the check rows of the base.

Plane geometry; sources of limits beside each row.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.crane.level import packing_height_m
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.mats import Mat
from liftcalc.ground.zones import mat_conflicts, mat_outlines
from liftcalc.lift.conditions import CONDITION_REMEDY, condition_of
from liftcalc.lift.path_study import PathStudy
from liftcalc.lift.setup import Setup, to_site_m
from liftcalc.lift.surveyed_ground import ground_level_m

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

    Bearing fails along a surface that comes up about one width of the base away (Prandtl's
    mechanism for clay, from memory; farther in sand), so weaker ground there takes part. That it
    counts wholly is on the safe side.
    """
    return min(mat.length_m, mat.width_m)


def mats_and_zones(
    setup: Setup, within_m: float = 0.0
) -> tuple[tuple[Polygon, ...], tuple[tuple[str, ...], ...]]:
    """Outline of each mat on the site, and the ground zones under it or as near as that."""
    xy = setup.leg_site_xy_m
    mats = mat_outlines(
        xy[:, 0],
        xy[:, 1],
        length_m=setup.mat.length_m,
        width_m=setup.mat.width_m,
        orientation_deg=mat_turn_deg(setup),
    )
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


def layout_checks(setup: Setup, place: Placing, study: PathStudy) -> list[Check]:
    """The base: mats apart, slew centre inside, capacity data for every slew of the path."""
    # long: one table of rows
    clashes = mat_conflicts(place.mats)
    capacity, offsets = study.capacity, setup.base.offsets_m
    missing = capacity.source >= ESTIMATE
    share = float(missing.mean() * 100)
    chart_rule = "29 CFR 1926.1404(q): legs set as the chart provides"
    condition, where = condition_of(capacity, study.path)
    return [
        limit_check(
            "mats-apart",
            "Overlap of mats" + (f" {clashes[0].mat} and {clashes[0].other}" if clashes else ""),
            value=max((c.overlap_m2 for c in clashes), default=0.0),
            limit=1e-6,
            quantity="area_m2",
            reference="plane geometry",
            remedy="Use smaller mats or extend the legs.",
        ),
        limit_check(
            "mats-on-shelf",
            f"Mats {setup.mat.id} missing on the shelf: {len(place.mats)} needed, "
            f"{setup.mat.quantity} there",
            value=float(max(len(place.mats) - setup.mat.quantity, 0)),
            limit=1e-6,
            quantity="ratio",
            reference="mats list",
            remedy="Choose a mat of which there are four, or fetch more.",
        ),
        limit_check(
            "slew-centre-inside",
            "Slew centre inside the nearest tipping line",
            value=float(-offsets.max()),
            limit=LEAST_MARGIN_M,
            quantity="length_m",
            sense="min",
            reference="statics",
            where=setup.base.line_names[int(np.argmax(offsets))],
            remedy="Extend the legs on that side.",
        ),
        no_data_check(
            "layout-capacity-data",
            f"Capacity data for this layout: missing on {share:.0f} % of the path",
            quantity="mass_t",
            value=setup.gross_t,
            reference=chart_rule,
            where=study.path.describe(int(np.argmax(missing))),
            remedy="Set the legs to a base of the charts, or ask the maker for this layout.",
        )
        if missing.any()
        else limit_check(
            "layout-capacity-data",
            "Part of the path without capacity data",
            value=share,
            limit=1e-6,
            quantity="percent",
            reference=chart_rule,
            where=where.removeprefix("; "),
            remedy=CONDITION_REMEDY,
            condition=condition,
        ),
    ]
