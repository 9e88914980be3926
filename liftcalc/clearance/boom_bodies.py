"""A bent boom and a machine out of level, as bodies that enclose every shape and lean.

Model
-----
A bent boom lies above the chord from foot to head, by a bow of at most a share of its tip
deflection (:func:`liftcalc.crane.boom_bending.bow_share`). It is taken as straight members, each
over a part of the chord, wide enough for chord and bow.

A machine that leans as a rigid body about the slew centre on the ground, in any direction, moves a
point of it by at most its distance from there times the lean. What hangs stays plumb and moves with
the boom head: by the head's height times the lean in plan, by its radius times the lean up or down.
Bodies are spread by that much, so that they enclose every lean up to the stated one, to the first
order: half the square of the lean times the distance is left out (1.3 mm at 25 m and 1 %, 11 mm at
25 m and 3 %).

Sources: geometry only; rotation by a small angle.
"""

import dataclasses
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike
from shapely import Polygon

from liftcalc.base.errors import require_between, require_finite, require_non_negative
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.crane_shape import CraneShape
from liftcalc.crane.boom_bending import bow_share

Body = MovingMember | MovingPrism
PARTS = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Ends of the members along the chord."""
_BOW = tuple(float(bow_share(np.linspace(a, b, 65)).max()) for a, b in pairwise(PARTS))


def largest_bow(part: int) -> float:
    """Largest bow of one part of a bent boom above its chord, as a share of the tip deflection.

    Parameters:
      part: 0 to 3. From the foot; the parts are those of :func:`bent_boom`.
    Source: :func:`liftcalc.crane.boom_bending.bow_share`.
    """
    return _BOW[part]


_OF_MACHINE = ("boom", "jib", "counterweight tail", "carrier")


def bent_boom(
    foot_m: ArrayLike,
    bearing_deg: ArrayLike,
    *,
    chord_m: ArrayLike,
    chord_deg: ArrayLike,
    tip_m: ArrayLike,
    half_width_m: float,
) -> tuple[MovingMember, ...]:
    """Members that together enclose a bent boom at every step.

    Parameters:
      foot_m: shape (n, 3). Boom foot, site frame. [m]
      bearing_deg: shape (n,). Boom from east, anticlockwise. [deg]
      chord_m, chord_deg, tip_m: shape (n,). Foot to head, its angle above the horizontal, and the
        tip deflection, as :class:`liftcalc.crane.boom_bending.LoadedBoom` gives them. [m, deg, m]
      half_width_m: >= 0. Radius that encloses the boom's section. [m]
    Returns: tuple of MovingMember, all of the name "boom", from the foot up.
    Raises: Anything not finite, or a negative width.
    Source: Module docstring.
    """
    foot = require_finite("foot_m", foot_m)
    bearing = np.radians(require_finite("bearing_deg", bearing_deg))
    chord = require_finite("chord_m", chord_m)
    angle = np.radians(require_finite("chord_deg", chord_deg))
    tip = require_non_negative("tip_m", tip_m)
    half = float(require_non_negative("half_width_m", half_width_m))
    ahead = np.stack([np.cos(bearing), np.sin(bearing), np.zeros_like(bearing)])
    up = np.array([[0.0], [0.0], [1.0]])
    along = np.cos(angle) * ahead + np.sin(angle) * up
    square = -np.sin(angle) * ahead + np.cos(angle) * up
    members = []
    for bow, start, end in zip(_BOW, PARTS, PARTS[1:], strict=False):
        aside = foot.T + 0.5 * bow * tip * square
        members.append(
            MovingMember(
                "boom", (aside + start * chord * along).T, (aside + end * chord * along).T,
                half + 0.5 * bow * tip,
            )
        )  # fmt: skip
    return tuple(members)


def leaned_shape(shape: CraneShape, lean_percent: float) -> CraneShape:
    """Shape whose tail and carrier enclose those of a machine that leans in any direction.

    Parameters:
      shape: CraneShape
      lean_percent: 0 to 5. Greatest lean off the level. [%]
    Raises: A lean out of range.
    Source: Module docstring.
    """
    lean = float(require_between("lean_percent", lean_percent, 0.0, 5.0)) / 100.0
    if lean < 1e-9:  # nothing moves by a micrometre
        return shape
    found: dict[str, object] = {}
    for part in ("tail", "carrier"):
        outline = np.asarray(getattr(shape, f"{part}_outline_m"))
        base, top = getattr(shape, f"{part}_base_m"), getattr(shape, f"{part}_top_m")
        drop = lean * float(np.hypot(*outline.T).max())
        wider = Polygon(outline).buffer(lean * top, join_style="mitre", mitre_limit=20.0)
        found |= {
            f"{part}_outline_m": tuple(wider.exterior.coords)[:-1],
            f"{part}_base_m": base - drop,
            f"{part}_top_m": top + drop,
        }
    return dataclasses.replace(shape, **found)  # type: ignore[arg-type]


def leaned_bodies(
    bodies: Sequence[Body], lean_percent: float, *, centre_m: ArrayLike, head_m: ArrayLike
) -> tuple[Body, ...]:
    """Boom and what hangs from it, spread so far that they enclose every lean of the machine.

    Parameters:
      bodies: sequence of MovingMember or MovingPrism. Tail and carrier are returned as they are:
        see :func:`leaned_shape`.
      lean_percent: 0 to 5. Greatest lean off the level. [%]
      centre_m: shape (3,). Slew centre on the ground, site frame. [m]
      head_m: shape (n, 3). Boom head at every step. [m]
    Raises: A lean out of range.
    Source: Module docstring.
    """
    lean = float(require_between("lean_percent", lean_percent, 0.0, 5.0)) / 100.0
    centre = require_finite("centre_m", centre_m)
    arm = require_finite("head_m", head_m) - centre
    radius, height = np.hypot(arm[:, 0], arm[:, 1]), np.abs(arm[:, 2])

    def leaned(body: Body) -> Body:
        if isinstance(body, MovingMember):
            way = np.hypot(radius, height)
            if body.name in _OF_MACHINE:
                ends = (np.linalg.norm(p - centre, axis=1) for p in (body.start_m, body.end_m))
                way = np.maximum(*ends)
            return dataclasses.replace(body, half_width_m=body.half_width_m + lean * way)
        if body.name in _OF_MACHINE:
            return body
        return dataclasses.replace(
            body, base_m=body.base_m - lean * radius, top_m=body.top_m + lean * radius,
            spread_m=body.spread_m + lean * height,
        )  # fmt: skip

    return tuple(leaned(body) for body in bodies)
