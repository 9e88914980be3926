"""Drawings of an assessed tandem lift: its data, and the figure of both.

Contents: :func:`tandem_plan_data`, :func:`share_data`, :func:`tandem_figure`. No formula and no
published source.
"""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.tandem import TandemAssessment
from liftcalc.lift.tandem_bodies import load_body
from liftcalc.lift.tandem_report import share_curve
from liftcalc.views.style import new_axes
from liftcalc.views.tandem import ShareData, TandemPlanData, draw_shares, draw_tandem_plan

__all__ = ["share_data", "share_figure", "tandem_figure", "tandem_plan_data"]

SHOWN = 5


def _body(lift: LiftAssessment, name: str) -> MovingMember | MovingPrism:
    return next(b for b in lift.surroundings.bodies if b.name == name)


def tandem_plan_data(found: TandemAssessment, *, title: str = "") -> TandemPlanData:
    """Plan of both machines and the load at some steps of its way."""
    load = load_body(found)
    steps = np.unique(np.linspace(0, len(load.base_m) - 1, SHOWN).round().astype(int))
    carriers, booms, ways, mats = [], [], [], []
    for one in found.plumb:
        carrier, boom = _body(one, "carrier"), _body(one, "boom")
        assert isinstance(carrier, MovingPrism)
        assert isinstance(boom, MovingMember)
        carriers.append(carrier.corners_m[0])
        booms.append(
            tuple(np.stack([boom.start_m[s, :2], boom.end_m[s, :2]]) for s in steps.tolist())
        )
        ways.append(boom.end_m[:, :2])
        mats.append(tuple(np.asarray(m.exterior.coords)[:-1] for m in one.place.mats))
    return TandemPlanData(
        title=title,
        load_rings_m=load.corners_m[steps],
        hook_way_m=(ways[0], ways[1]),
        carrier_m=(carriers[0], carriers[1]),
        mats_m=(mats[0], mats[1]),
        booms_m=(booms[0], booms[1]),
        obstacles_m=tuple((o.id, np.array(o.polygon)) for o in found.job.site.obstacles),
    )


def share_data(found: TandemAssessment, *, title: str = "") -> ShareData:
    """Shares over the difference of hook levels."""
    level, plumb, least, greatest = share_curve(found.tandem)
    return ShareData(title, level, plumb, least, greatest)


def tandem_figure(found: TandemAssessment, *, title: str = "") -> Figure:
    """Plan of the tandem lift."""
    figure, ax = new_axes(170.0, 120.0)
    draw_tandem_plan(tandem_plan_data(found, title=title), ax)
    return figure


def share_figure(found: TandemAssessment, *, title: str = "") -> Figure:
    """Share of each machine over the difference of hook levels."""
    figure, ax = new_axes(150.0, 90.0)
    draw_shares(share_data(found, title=title), ax)
    return figure
