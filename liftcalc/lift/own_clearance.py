"""The load against the machine that carries it: its boom, its carrier and its outriggers.

Plane geometry; the required distance is the owner's.
"""

import dataclasses

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.clearance.crane_bodies import load_to_boom_m
from liftcalc.clearance.hung import swing_dip_m
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup
from liftcalc.lift.worst_step import worst_step_check


def _own_boxes(setup: Setup) -> list[tuple[FloatArray, FloatArray]]:
    """Carrier and outriggers in plan, in the machine frame: two corners of each. [m]

    An outrigger reaches from the centreline past its float. Mats are left out: a load may be set
    down on one.
    """
    outline = np.array(setup.shape.carrier_outline_m)  # a rectangle along the machine's axes
    boxes = [(outline.min(axis=0), outline.max(axis=0))]
    for leg, xy in zip(setup.machine.legs, setup.leg_xy_m, strict=True):
        half, root = np.array([leg.float_length_m, leg.float_width_m]) / 2.0, [xy[0], 0.0]
        boxes.append((np.minimum(xy, root) - half, np.maximum(xy, root) + half))
    return boxes


def own_checks(
    setup: Setup, path: LoadPath, head_height_m: FloatArray, swing_deg: float
) -> list[Check]:
    """Load and lifting beam to the machine's own boom, and to its carrier and outriggers.

    The load may swing any way, toward the boom as well: no point of it comes nearer to anything
    than by the way that it swings.
    """
    hung, base = setup.hung, path.level_m - setup.lift.stand.level_m
    # on its rope no point goes farther than the chord of its own circle about the head
    deep = np.maximum(head_height_m - base, 0.0) + hung.dip_m
    reach = max(hung.reach_m, hung.beam_reach_m)
    swung = 2.0 * np.hypot(reach, deep) * np.sin(np.radians(swing_deg) / 2.0)
    # a machine that leans sees its load swing by its lean as well
    swung = swung + setup.tilt_any_percent / 100.0 * deep
    to_boom = load_to_boom_m(
        setup.shape,
        hung,
        radius_m=path.radius_m,
        head_height_m=head_height_m,
        load_base_height_m=base,
    )
    low = base - dataclasses.replace(hung, swing_deg=swing_deg).low_m(head_height_m - base)
    parts = [(hung.reach_m, low)]
    if hung.beam_reach_m > 0:
        slings = base + hung.beam_slings_base_m
        parts.append((reach, slings - swing_dip_m(reach, deep, swing_deg=swing_deg)))
    what = "Load and beam" if hung.beam_reach_m > 0 else "Load"
    return [
        worst_step_check(
            path,
            f"clearance-own-{part.split()[0]}",
            f"{what}, turned to any angle and swung, to the machine's own {part}",
            value=distance,
            limit=max(setup.rules.clearance.load_m, 1e-6),
            quantity="length_m",
            sense="min",
            reference=setup.rules.clearance.reference,
            numbered=False,
            remedy=remedy,
        )
        for part, distance, remedy in (
            (
                "boom",
                np.maximum(to_boom - swung, 0.0),
                "Use a longer boom or longer slings, or hold the load by tag lines.",
            ),
            (
                "carrier and outriggers",
                _to_carrier_m(setup, path, parts, swung),
                "Carry the load higher or at a larger radius.",
            ),
        )
    ]


def _to_carrier_m(
    setup: Setup, path: LoadPath, parts: list[tuple[float, FloatArray]], swung_m: FloatArray
) -> FloatArray:
    """Least distance to carrier and outriggers of what hangs: reach in plan and underside of each.

    No fact states the height of an outrigger: it is taken as high as the carrier.
    """
    slew = np.radians(path.slew_deg)
    hook = path.radius_m[:, None] * np.stack([np.cos(slew), np.sin(slew)], axis=-1)
    # hoisted or lowered over its own place the load is guided clear of the outriggers
    still = np.isin(path.stage, ("hoist", "lower", "load off"))
    top, distances = setup.shape.carrier_top_m, []
    for n, (low_m, high_m) in enumerate(_own_boxes(setup)):
        outside = np.maximum(np.maximum(low_m - hook, hook - high_m), 0.0)
        away = np.hypot(outside[:, 0], outside[:, 1])
        way = np.where(still, 0.0, swung_m) if n else swung_m
        distances += [
            np.hypot(np.maximum(away - reach - way, 0.0), np.maximum(under - top, 0.0))
            for reach, under in parts
        ]
    return np.asarray(np.min(distances, axis=0))
