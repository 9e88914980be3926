"""Along the load path: hook path on the site, utilisation of each limit, lines of equal margin.

What the drawings of a lift show besides its checks; geometry and ratios of numbers that the studies
give, no published source.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup, to_site_m


def hook_way_m(setup: Setup, path: LoadPath) -> FloatArray:
    """Place of the hook at each step of the path, shape (N, 2), site coordinates."""
    return to_site_m(path.hook_m, setup.lift)


def load_outlines_m(setup: Setup) -> tuple[FloatArray, FloatArray]:
    """Outline of the load in plan at pick and at set-down, shape (4, 2), site coordinates."""
    load, lift = setup.lift.load, setup.lift
    half = np.array([load.length_m, load.width_m]) / 2.0
    box = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
    box += [setup.hung.middle_x_m, setup.hung.middle_y_m]
    pick, end = (np.array([p.easting_m, p.northing_m]) for p in (lift.pick, lift.set_down))
    return box + pick, box + end


@dataclass(frozen=True, eq=False)
class LimitUse:
    """Utilisation of one limit at each step of the path (1 = at the limit); NaN: none."""

    name: str
    share: FloatArray


def limit_uses(assessment: LiftAssessment) -> tuple[LimitUse, ...]:
    """Utilisation of rated capacity, stability and outrigger strength at each step of the path.

    What rests on a chart on condition, or on an estimate, has a line of its own and never counts as rated.
    """
    setup, study = assessment.setup, assessment.study
    data, argued = study.capacity.has_capacity_data, study.capacity.on_condition
    rows = [("rated capacity", data & ~argued, True)]
    rows.append(("rated capacity, on condition", argued, bool(argued.any())))
    rows.append(("estimate, no capacity data", ~data, not data.all()))
    uses = [LimitUse(n, np.where(at, study.utilisation, np.nan)) for n, at, shown in rows if shown]
    limit_kN = np.array([leg.capacity_kN for leg in setup.machine.legs])
    leg_share = (assessment.forces.path_reaction_kN / limit_kN).max(axis=1)
    stability = LimitUse("stability on this base", setup.gross_t / study.stability_t)
    return (*uses, stability, LimitUse("outrigger strength", leg_share))


def margin_rings(base_m: FloatArray) -> list[tuple[float, FloatArray]]:
    """Up to four lines, 0.5 m apart, inside the tipping lines: the distance and the ring, (n, 2).

    Parameters:
      base_m: shape (n, 2). [m] Corners of the base polygon.
    """
    base = shapely.Polygon(base_m)
    rings = []
    for k in range(1, 5):
        inner = base.buffer(-k * 0.5, join_style="mitre")
        if inner.is_empty or not isinstance(inner, shapely.Polygon):
            break
        rings.append((k * 0.5, np.asarray(inner.exterior.coords)[:-1]))
    return rings
