"""Clearance of the load from the boom, the carrier and the outriggers of the crane that lifts it.

Required distance: the owner's for the load. Plane geometry.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.clearance.crane_bodies import load_to_boom_m, swing_dip_m
from liftcalc.lift.path import LoadPath, worst_step_check
from liftcalc.lift.setup import Setup


def own_boxes(setup: Setup) -> list[tuple[FloatArray, FloatArray]]:
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


@dataclass(frozen=True, eq=False)
class OwnClearance:
    """Load and lifting beam from the machine's own boom, carrier and outriggers, at every step.

    The load may swing any way, toward the boom as well: no point of it comes nearer to anything
    than by the way that it swings.
    """

    swung_m: FloatArray
    """The most that any point moves as a pendulum and by the machine's tilt."""
    deep_m: FloatArray
    """Lowest point of the load below the boom head."""
    to_boom_m: FloatArray
    """From the boom, the load hanging plumb."""
    parts: tuple[tuple[float, FloatArray], ...]
    """Of the load, and of a beam: reach in plan from the hoist line, and level of the underside."""
    carrier_m: FloatArray
    """From each box of the machine by each part, shape (boxes, parts, steps)."""
    still: NDArray[np.bool_]
    """Steps at which the load is guided clear of the outriggers: hoisted or lowered in place."""


def own_clearance(setup: Setup, path: LoadPath, head_height_m: FloatArray,
                  swing_deg: float) -> OwnClearance:  # fmt: skip
    """Distances of the load from the machine that carries it."""
    hung, base = setup.hung, path.level_m - setup.lift.stand.level_m
    # on its rope no point goes farther than the chord of its own circle about the head
    deep = np.maximum(head_height_m - base, 0.0) + hung.dip_m
    reach = max(hung.reach_m, hung.beam_reach_m)
    swung = 2.0 * np.hypot(reach, deep) * np.sin(np.radians(swing_deg) / 2.0)
    # a machine out of level sees its load move by its tilt as well
    swung = swung + setup.tilt_any_percent / 100.0 * deep
    to_boom = load_to_boom_m(setup.shape, hung, radius_m=path.radius_m, head_height_m=head_height_m,
                             load_base_height_m=base)  # fmt: skip
    low = base - dataclasses.replace(hung, swing_deg=swing_deg).low_m(head_height_m - base)
    parts = [(hung.reach_m, low)]
    if hung.beam_reach_m > 0:
        slings = base + hung.beam_slings_base_m
        parts.append((reach, slings - swing_dip_m(reach, deep, swing_deg=swing_deg)))
    still = np.isin(path.stage, ("hoist", "lower", "load off"))
    return OwnClearance(swung_m=swung, deep_m=deep, to_boom_m=to_boom, parts=tuple(parts),
                        carrier_m=_to_carrier_m(setup, path, parts, swung, still),
                        still=still)  # fmt: skip


def own_checks(setup: Setup, path: LoadPath, own: OwnClearance) -> list[Check]:
    """Load and lifting beam to the machine's own boom, and to its carrier and outriggers."""
    what = "load and beam" if setup.hung.beam_reach_m > 0 else "load"
    to_boom, to_carrier = np.maximum(own.to_boom_m - own.swung_m, 0.0), own.carrier_m.min((0, 1))
    return [
        worst_step_check(path, f"clearance-own-{part}", np.asarray(distance),
                         max(setup.rules.clearance.load_m, 1e-6), numbered=False, what=what,
                         owner=setup.rules.clearance.reference)
        for part, distance in (("boom", to_boom), ("carrier", to_carrier))
    ]  # fmt: skip


def _to_carrier_m(
    setup: Setup, path: LoadPath, parts: list[tuple[float, FloatArray]], swung_m: FloatArray,
    still: NDArray[np.bool_],
) -> FloatArray:  # fmt: skip
    """From carrier and outriggers of what hangs: reach in plan and underside of each.

    No fact states the height of an outrigger: it is taken as high as the carrier.
    """
    hook, top, distances = path.hook_m, setup.shape.carrier_top_m, []
    for n, (low_m, high_m) in enumerate(own_boxes(setup)):
        outside = np.maximum(np.maximum(low_m - hook, hook - high_m), 0.0)
        away = np.hypot(outside[:, 0], outside[:, 1])
        # hoisted or lowered over its own place the load is guided clear of the outriggers
        way = np.where(still, 0.0, swung_m) if n else swung_m
        each = [
            np.hypot(np.maximum(away - reach - way, 0.0), np.maximum(under - top, 0.0))
            for reach, under in parts
        ]
        distances.append(each)
    return np.asarray(distances)
