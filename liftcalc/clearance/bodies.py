"""What moves in a lift, body by body: straight members and upright prisms at every step of a path.

Coordinates: site frame (easting, northing, level).

Model
-----
A bent boom lies above the chord from foot to head, by a bow of at most a share of its tip
deflection (:func:`liftcalc.crane.boom_bending.bow_share`). It is taken as straight members, each
over a part of the chord, wide enough for chord and bow.

A machine that leans as a rigid body about the slew centre on the ground, in any direction, moves a
point of it by at most its distance from there times the lean. What hangs stays plumb and moves with
the boom head: by the head's height times the lean in plan, by its radius times the lean up or down.
Bodies are spread by that much, so that they enclose every lean up to the stated one, to the first
order: half the square of the lean times the distance is left out (1.3 mm at 25 m and 1 %, 11 mm at 25 m and 3 %).

Sources: geometry only; rotation by a small angle.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import Problem, require_between, require_finite, require_non_negative
from liftcalc.crane.boom_bending import bow_share


@dataclass(frozen=True, eq=False)
class MovingMember:
    """A straight member of round section at every step of a path.

    Parameters:
      start_m, end_m: shape (n, 3). Ends of the axis at each step, site frame. [m]
      half_width_m: shape (n,). Radius of the section that encloses the member. [m]
    """

    name: str
    start_m: FloatArray
    end_m: FloatArray
    half_width_m: FloatArray


@dataclass(frozen=True, eq=False)
class MovingPrism:
    """An upright prism that moves rigidly in plan, at every step of a path.

    Parameters:
      corners_m: shape (n, k, 2). Plan corners at each step, anticlockwise (k = 1: a point that
        *spread_m* makes a cylinder). [m]
      base_m, top_m: shape (n,). Levels. [m]
      spread_m: shape (n,). Distance by which the plan is spread on every side. [m]
    """

    name: str
    corners_m: FloatArray
    base_m: FloatArray
    top_m: FloatArray
    spread_m: FloatArray

    def outline_m(self, step: NDArray[np.int64] | None = None, *, facets: int = 16) -> FloatArray:
        """Convex outline that encloses the spread plan, shape (n, k + facets, 2). [m]

        For the steps given, or for all.

        The spread is a regular polygon drawn around the circle, so the outline is outside the true one by at most
        ``spread_m * (1 / cos(pi / facets) - 1)``, on the safe side. Needs a convex plan.
        """
        corners = self.corners_m if step is None else self.corners_m[step]
        spread = self.spread_m if step is None else self.spread_m[step]
        k = corners.shape[1]
        first = corners[0]
        if k == 1:
            edge_angle = np.zeros(0)
            base_angle = np.zeros(len(corners))
        else:
            edge = np.roll(first, -1, axis=0) - first
            edge_angle = np.arctan2(edge[:, 1], edge[:, 0])
            along = corners[:, 1] - corners[:, 0]
            base_angle = np.arctan2(along[:, 1], along[:, 0])
            edge_angle = np.mod(edge_angle - base_angle[0] + 1e-9, 2.0 * np.pi)
        tangent = (np.arange(facets) + 0.5) * 2.0 * np.pi / facets
        order = np.argsort(np.concatenate([edge_angle, tangent]), kind="stable")
        corner, facet = 0, 0
        corner_of, facet_of = [], []
        for item in order:
            corner_of.append(corner % k)
            facet_of.append(facet % facets)
            if item < edge_angle.size:
                corner = int(item) + 1
            else:
                facet = int(item) - edge_angle.size + 1
        # facet j lies between tangents j - 1 and j; its vertex points half a facet clockwise
        # of the direction square to tangent j
        vertex_angle = tangent[facet_of] - np.pi / 2.0 - np.pi / facets + base_angle[:, None]
        reach = spread[:, None] / np.cos(np.pi / facets)
        vertex = np.stack([np.cos(vertex_angle), np.sin(vertex_angle)], axis=-1)
        return np.asarray(corners[:, corner_of] + reach[..., None] * vertex)


Body = MovingMember | MovingPrism


def placed_m(
    outline: Sequence[tuple[float, float]], east: FloatArray, north: FloatArray, angle: FloatArray
) -> FloatArray:
    """Plan outline (x, y), turned by an angle [rad] and moved at every step, anticlockwise.

    In memory each corner's path lies in one piece, as the search for clearances takes it.
    """
    x, y = np.asarray(outline, dtype=np.float64).T
    if x[:-1] @ y[1:] - x[1:] @ y[:-1] + x[-1] * y[0] - x[0] * y[-1] < 0:
        x, y = x[::-1], y[::-1]
    x, y = x[:, None], y[:, None]
    c, s = np.cos(angle), np.sin(angle)
    placed = np.empty((2, len(x), len(c)))
    np.subtract(east + c * x, s * y, out=placed[0])
    np.add(north + s * x, c * y, out=placed[1])
    return placed.transpose(2, 1, 0)


@dataclass(frozen=True)
class CraneShape:
    """Outer shape of a machine, for clearances only.

    Parameters:
      boom_foot_x_m, boom_foot_z_m: Boom foot pin in the superstructure's frame (x toward the head). [m]
      boom_half_width_m, rope_half_width_m: Half the diagonal of the greatest section; half the
        width of the rope bundle. [m]
      tail_outline_m: Plan corners of counterweight and rear superstructure, superstructure frame, convex. [m]
      tail_base_m, tail_top_m: Heights above the stand. [m]
      carrier_outline_m: Plan corners of the carrier, machine frame, convex. [m]
      carrier_base_m, carrier_top_m: Heights above the stand. [m]
    """

    boom_foot_x_m: float
    boom_foot_z_m: float
    boom_half_width_m: float
    tail_outline_m: tuple[tuple[float, float], ...]
    tail_base_m: float
    tail_top_m: float
    carrier_outline_m: tuple[tuple[float, float], ...]
    carrier_base_m: float
    carrier_top_m: float
    rope_half_width_m: float = 0.1

    def __post_init__(self) -> None:
        problems = errors.field_problems(
            self,
            finite=("boom_foot_x_m", "boom_foot_z_m", "tail_base_m", "carrier_base_m"),
            non_negative=("boom_half_width_m", "rope_half_width_m"),
        )
        for part in ("tail", "carrier"):
            outline = np.asarray(getattr(self, f"{part}_outline_m"), dtype=float)
            if outline.ndim != 2 or outline.shape[1] != 2 or len(outline) < 3:
                problems.append(Problem(f"{part}_outline_m", outline.tolist(), "three corners or more"))
            elif not _is_convex(outline):
                problems.append(Problem(f"{part}_outline_m", outline.tolist(), "a convex outline"))
            base, top = getattr(self, f"{part}_base_m"), getattr(self, f"{part}_top_m")
            if not top > base:
                problems.append(Problem(f"{part}_top_m", top, f"above {part}_base_m, {base}"))
        if problems:
            raise errors.InputError(problems, source="crane shape")

    @property
    def tail_radius_m(self) -> float:
        """Greatest distance of the tail from the slew axis. [m]"""
        return float(np.max(np.hypot(*np.asarray(self.tail_outline_m).T)))


_FRONT_M = 0.5
"""How far forward of the slew axis the plan of a tail reaches. [m]"""
_CHORDS = 4
"""Chords along the rear arc of a tail."""


def tail_outline_m(tail_radius_m: float, tail_width_m: float) -> tuple[tuple[float, float], ...]:
    """Plan of a rounded counterweight tail, superstructure frame, drawn around its arc.

    A rectangle whose rear corners lie on the tail radius leaves out what a rounded tail has behind
    their chord; where the manufacturer states only the radius, take the arc. The plan lies outside
    the arc by at most ``tail_radius_m * (1 / cos(a) - 1)``, a being half the angle of a chord.

    Parameters:
      tail_radius_m: > 0. Tail swing radius: no part of the tail is farther from the slew axis. [m]
      tail_width_m: > 0, at most twice the radius
    Returns: tuple of (x, y), anticlockwise, convex
    """
    radius = float(errors.require_positive("tail_radius_m", tail_radius_m))
    width = float(require_between("tail_width_m", tail_width_m, 1e-6, 2.0 * radius))
    half = float(np.arcsin(width / (2.0 * radius)))
    step = half / _CHORDS
    # tangents to the arc at the chords' middles meet at these corners, outside the arc
    angle = np.pi + np.linspace(-half, half, _CHORDS + 1)
    tangent = angle[:-1] + step
    inner = tangent[:-1] + step
    reach = radius / np.cos(step)
    rear = [(reach * np.cos(a), reach * np.sin(a)) for a in inner]
    y = width / 2.0
    # where the first and last tangent meet the sides of the tail
    side = [(radius - abs(np.sin(a)) * y) / np.cos(a) for a in (tangent[0], tangent[-1])]
    outline = [(_FRONT_M, y), (side[0], y), *rear, (side[1], -y), (_FRONT_M, -y)]
    return tuple((float(px), float(py)) for px, py in outline)


def _is_convex(outline: FloatArray) -> bool:
    step = np.roll(outline, -1, axis=0) - outline
    after = np.roll(step, -1, axis=0)
    turn = step[:, 0] * after[:, 1] - step[:, 1] * after[:, 0]
    return bool(np.all(turn > -1e-9) or np.all(turn < 1e-9)) and bool(np.any(np.abs(turn) > 1e-9))


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


_OF_MACHINE = ("boom", "counterweight tail", "carrier")


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
                "boom", (aside + start * chord * along).T, (aside + end * chord * along).T, half + 0.5 * bow * tip
            )
        )
    return tuple(members)


def leaned_shape(shape: CraneShape, lean_percent: float) -> CraneShape:
    """Shape whose tail and carrier enclose those of a machine that leans in any direction.

    Parameters:
      lean_percent: 0 to 5. Greatest lean off the level. [%]
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
