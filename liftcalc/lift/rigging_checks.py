"""Rigging checks of one lift: slings, shackles, beam, and the weakest item.

Contents: :class:`RiggingStudy`, :func:`rigging_study`, :func:`rigging_checks`.

Tensions by statics in three dimensions with the load's own centre of gravity; four legs of a
rigid load are judged by the greatest tension that is statically possible
(:mod:`liftcalc.rigging.slings`). The load acts with its contingency and hoist factor.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from liftcalc.checks import Check, limit_check
from liftcalc.errors import InputError
from liftcalc.facts.job import Job
from liftcalc.facts.rigging import LiftingBeam, Shackle, Sling
from liftcalc.lift.setup import Setup
from liftcalc.rigging import (
    Bridle,
    RiggingItem,
    Spreader,
    bridle_tensions,
    leg_rating,
    shackle_rating,
    spreader_forces,
    weakest_item,
)
from liftcalc.rigging.assembly import WeakestItem
from liftcalc.units import G_M_S2

__all__ = ["RiggingStudy", "rigging_checks", "rigging_study"]

FloatArray = NDArray[np.float64]
LEAST_SLING_ANGLE_DEG = 45.0
CHOKE_ANGLE_DEG = 120.0


@dataclass(frozen=True, eq=False)
class RiggingStudy:
    """Geometry, tensions and utilisation of the rigging."""

    sling: Sling
    shackle: Shackle | None
    beam: LiftingBeam | None
    lugs_m: FloatArray
    hook_m: FloatArray
    cg_m: FloatArray
    bridle: Bridle | None
    spreader: Spreader | None
    tension_kN: FloatArray
    """Design tension of each sling leg (with a spreader: of each top leg, then each bottom leg)."""
    angle_from_horizontal_deg: float
    tilt_deg: float
    weakest: WeakestItem
    mass_t: float


def _lugs(setup: Setup) -> FloatArray:
    choice = setup.lift.rigging
    dx, dy = choice.point_spacing_x_m / 2, choice.point_spacing_y_m / 2
    z = choice.point_height_m
    layouts = {
        1: [(0.0, 0.0)],
        2: [(dx, 0.0), (-dx, 0.0)],
        3: [(dx, 0.0), (-dx, dy), (-dx, -dy)],
        4: [(dx, dy), (dx, -dy), (-dx, -dy), (-dx, dy)],
    }
    return np.array([(x, y, z) for x, y in layouts[choice.sling_legs]])


def rigging_study(setup: Setup, job: Job) -> RiggingStudy:
    """Tensions and ratings of every rigging item of the lift.

    Raises
    ------
    InputError
        A rigging that cannot hang (centre of gravity outside the lifting points, slings too flat
        or too short), or a load whose lifting points lie below its centre of gravity.
    """
    choice, load = setup.lift.rigging, setup.lift.load
    sling = {s.id: s for s in job.accessories.slings}[choice.sling]
    shackle = {s.id: s for s in job.accessories.shackles}.get(choice.shackle or "")
    beam = {b.id: b for b in job.accessories.beams}.get(choice.beam or "")
    lugs = _lugs(setup)
    cg = np.array([load.cg_x_m, load.cg_y_m, load.height_m / 2 + load.cg_z_m])
    # the hook finds its place over the centre of gravity
    hook = np.array([cg[0], cg[1], choice.point_height_m + setup.sling_height_m])
    factor = float(setup.gross.dynamic_factor)
    mass = load.mass_t * (1 + load.contingency_percent / 100)
    hung = (mass + setup.rigging_mass_t) * factor
    rating = float(
        leg_rating(
            sling.wll_t,
            hitch=choice.hitch,
            choke_angle_deg=CHOKE_ANGLE_DEG if choice.hitch == "choke" else None,
            part_angle_from_vertical_deg=0.0 if choice.hitch == "basket" else None,
        ).rated_t
    )
    basis = f"{sling.standard}, {choice.hitch} hitch"
    items: list[RiggingItem] = []
    bridle = spreader = None
    if beam is None:
        bridle = bridle_tensions(hung, lugs, hook_m=hook, cg_m=cg)
        tension = np.asarray(bridle.tension_kN, dtype=np.float64)
        angle = float(np.min(bridle.angle_from_horizontal_deg))
        tilt = float(bridle.tilt_deg)
        for k, value in enumerate(tension):
            items.append(RiggingItem(f"sling leg {k + 1}", float(value), rating, basis))
    else:
        if choice.sling_legs not in (2, 4):
            raise InputError.of(
                f"lift {setup.lift.id}: sling_legs", choice.sling_legs, "2 or 4 with a beam"
            )
        per_end = choice.sling_legs // 2
        top = float(np.sqrt(sling.length_m**2 - (beam.span_m / 2) ** 2))
        spreader = spreader_forces(
            mass * factor,
            beam.span_m,
            hook_above_spreader_m=top,
            spreader_mass_t=beam.mass_t * factor,
            cg_offset_m=load.cg_x_m,
        )
        tops = np.array([float(spreader.top_tension_1_kN), float(spreader.top_tension_2_kN)])
        bottoms = np.array(
            [float(spreader.bottom_tension_1_kN), float(spreader.bottom_tension_2_kN)]
        )
        # two bottom legs at one end of a rigid load: either may carry the whole end
        tension = np.concatenate([tops, np.repeat(bottoms, per_end)])
        angle = float(min(spreader.top_angle_1_deg, spreader.top_angle_2_deg))
        tilt = 0.0
        for k, value in enumerate(tops):
            items.append(RiggingItem(f"top sling {k + 1}", float(value), rating, basis))
        for k, value in enumerate(bottoms):
            items.append(RiggingItem(f"bottom sling at end {k + 1}", float(value), rating, basis))
        items.append(
            RiggingItem(
                f"{beam.kind} {beam.id}",
                mass * factor * G_M_S2,
                beam.wll_t,
                "rated mass of the beam",
            )
        )
    if shackle is not None:
        rated = shackle_rating(shackle.wll_t)
        items.append(
            RiggingItem(
                f"shackle {shackle.id}",
                float(np.max(tension)),
                float(rated.rated_t),
                f"{shackle.standard}; pulled in line with its bow",
            )
        )
    return RiggingStudy(
        sling=sling,
        shackle=shackle,
        beam=beam,
        lugs_m=lugs,
        hook_m=hook,
        cg_m=cg,
        bridle=bridle,
        spreader=spreader,
        tension_kN=tension,
        angle_from_horizontal_deg=angle,
        tilt_deg=tilt,
        weakest=weakest_item(items),
        mass_t=setup.rigging_mass_t,
    )


def rigging_checks(setup: Setup, study: RiggingStudy) -> list[Check]:
    """Weakest item, sling angle, and lifting points above the centre of gravity."""
    weakest = study.weakest
    rows = [
        limit_check(
            "rigging",
            f"Weakest rigging item: {weakest.name}",
            value=weakest.greatest_utilisation * 100,
            limit=100.0,
            quantity="percent",
            reference=weakest.basis,
            where=f"hoist factor {float(setup.gross.dynamic_factor):.2f} included",
            remedy="Choose a larger item or more legs.",
        )
    ]
    if setup.lift.rigging.sling_legs > 1:
        least = study.beam.min_top_angle_deg if study.beam else LEAST_SLING_ANGLE_DEG
        rows.append(
            limit_check(
                "sling-angle",
                "Sling angle from the horizontal",
                value=study.angle_from_horizontal_deg,
                limit=least,
                quantity="angle_deg",
                sense="min",
                reference="beam data"
                if study.beam
                else "45°: common practice, no published source",
                remedy="Use longer slings or a spreader.",
            )
        )
    points = float(np.min(study.lugs_m[:, 2]) - study.cg_m[2])
    rows.append(
        limit_check(
            "points-above-cg",
            "Height of the lifting points above the centre of gravity",
            value=points,
            limit=1e-6,
            quantity="length_m",
            sense="min",
            reference="statics: below it the load may topple through its slings",
            remedy="Lift from points above the centre of gravity.",
        )
    )
    return rows
