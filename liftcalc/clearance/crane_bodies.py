"""Boom, jib, rope, rigging, load, tail and carrier as bodies in the site frame, along a path.

Model
-----
Boom and jib are straight members of round section (give half the diagonal of the real section,
so that the model encloses it). What hangs: :mod:`liftcalc.clearance.hung`. The counterweight tail
and the carrier are upright prisms.

Coordinates: site frame (easting, northing, level); heading of the machine's +x anticlockwise from
east; slew anticlockwise from +x. Heights are above the stand level under the slew centre.

Sources: geometry only. Deflection of the boom is not modelled here: pass the deflected radius.
"""

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_positive
from liftcalc.clearance.bodies import Body, CraneShape, MovingMember, MovingPrism, placed_m
from liftcalc.clearance.hung import HungLoad, beam_body, hung_bodies
from liftcalc.clearance.solids import member_rings_m

_Point = tuple[FloatArray | float, FloatArray | float]


def crane_bodies(
    shape: CraneShape,
    load: HungLoad | None,
    *,
    easting_m: ArrayLike,
    northing_m: ArrayLike,
    level_m: ArrayLike,
    heading_deg: ArrayLike,
    slew_deg: ArrayLike,
    radius_m: ArrayLike,
    head_height_m: ArrayLike,
    load_base_height_m: ArrayLike = 0.0,
    jib_start_radius_m: ArrayLike | None = None,
    jib_start_height_m: ArrayLike | None = None,
) -> tuple[Body, ...]:
    """Bodies of machine and load at every step of a path.

    Parameters:
      load: HungLoad or None. None: nothing on the hook; then rope and block are left out as well.
      easting_m, northing_m, level_m: shape (n,) or (). Slew centre on the ground. [m]
      heading_deg, slew_deg: shape (n,) or (). Heading of +x from east, and slew from +x, both
        anticlockwise. [deg]
      radius_m: shape (n,) or (), > 0. Slew axis to hook, loaded. [m]
      head_height_m: shape (n,) or (). Head sheave (jib tip with a jib) above the stand. [m]
      load_base_height_m: shape (n,) or (). Underside of the load above the stand. [m]
      jib_start_radius_m, jib_start_height_m: shape (n,) or (), optional. Boom head where a jib
        starts. [m]
    Returns: tuple of MovingMember and MovingPrism, in the order boom, jib, hoist rope, hook block
      (where it has a width), rigging, load, counterweight tail, carrier.
    Raises: A jib start without its height, or a head that is not above hook and load.
    """
    if (jib_start_radius_m is None) != (jib_start_height_m is None):
        raise InputError.of("jib_start_radius_m", jib_start_radius_m, "given with its height")
    given = (
        ("easting_m", easting_m), ("northing_m", northing_m), ("level_m", level_m),
        ("heading_deg", heading_deg), ("slew_deg", slew_deg),
        ("radius_m", require_positive("radius_m", radius_m)), ("head_height_m", head_height_m),
        ("load_base_height_m", load_base_height_m),
    )  # fmt: skip
    east, north, level, heading, slew, radius, head, base = np.broadcast_arrays(
        *(np.atleast_1d(require_finite(name, value)) for name, value in given)
    )
    ahead = np.radians(heading + slew)
    points: list[_Point] = [(shape.boom_foot_x_m, shape.boom_foot_z_m), (radius, head)]
    if jib_start_radius_m is not None and jib_start_height_m is not None:
        knee = (
            require_finite("jib_start_radius_m", jib_start_radius_m),
            require_finite("jib_start_height_m", jib_start_height_m),
        )
        points.insert(1, knee)
    members = _boom(shape, points, np.stack([east, north, level]), ahead)
    bodies: list[Body] = [*members]
    if load is not None:
        _require_room_under_head(load, head, base)
        bodies += hung_bodies(
            load, members[-1].end_m, level + base, angle=ahead,
            rope_half_width_m=shape.rope_half_width_m,
        )  # fmt: skip
    for name, outline, low, high, turned in (
        ("counterweight tail", shape.tail_outline_m, shape.tail_base_m, shape.tail_top_m, ahead),
        ("carrier", shape.carrier_outline_m, shape.carrier_base_m, shape.carrier_top_m,
         np.radians(heading)),
    ):  # fmt: skip
        plan = placed_m(outline, east, north, turned)
        bodies.append(MovingPrism(name, plan, level + low, level + high, np.zeros(len(level))))
    return tuple(bodies)


def _boom(
    shape: CraneShape, points: list[_Point], centre: FloatArray, ahead: FloatArray
) -> list[MovingMember]:
    """Boom, and a jib where there is a point between foot and head; points (radius, height)."""
    n = ahead.size
    cos, sin = np.cos(ahead), np.sin(ahead)
    placed = []
    for r, z in points:
        place = np.empty((3, n))
        place[0], place[1], place[2] = centre[0] + r * cos, centre[1] + r * sin, centre[2] + z
        placed.append(place.T)
    halves = (("boom", shape.boom_half_width_m), ("jib", shape.jib_half_width_m))
    return [
        MovingMember(name, start, end, np.full(n, half))
        for (name, half), start, end in zip(halves, placed, placed[1:], strict=False)
    ]


def _require_room_under_head(load: HungLoad, head: FloatArray, base: FloatArray) -> None:
    slack = head - base - load.height_m - load.gear_height_m
    if not np.all(slack >= 0):
        worst = int(np.argmin(slack))
        needed = float(base[worst]) + load.height_m + load.gear_height_m
        need = f"at least {needed:.3f} m, load, rigging and hook under the head (step {worst})"
        remedy = "Raise the boom, lengthen it or shorten the rigging."
        raise InputError.of("head_height_m", float(head[worst]), need, remedy)


def load_to_boom_m(
    shape: CraneShape,
    load: HungLoad,
    *,
    radius_m: ArrayLike,
    head_height_m: ArrayLike,
    load_base_height_m: ArrayLike,
) -> FloatArray:
    """Least distance of the load, and of a beam above it, from the boom that carries them.

    Parameters:
      shape, load: As in :func:`crane_bodies`.
      radius_m, head_height_m, load_base_height_m: shape (n,) or ()
    Returns: ndarray, shape (n,): distance, 0 where they meet. [m]
    Raises: A head that is not above hook and load.
    """
    given = (
        require_positive("radius_m", radius_m), require_finite("head_height_m", head_height_m),
        require_finite("load_base_height_m", load_base_height_m),
    )  # fmt: skip
    states = np.column_stack(np.broadcast_arrays(*map(np.atleast_1d, given)))
    # while the machine slews nothing changes between load and boom: each state once
    new = np.concatenate([[True], (states[1:] != states[:-1]).any(axis=1)])
    radius, head, base = states[new].T
    _require_room_under_head(load, head, base)
    points: list[_Point] = [(shape.boom_foot_x_m, shape.boom_foot_z_m), (radius, head)]
    ahead = np.zeros(radius.size)
    (boom,) = _boom(shape, points, np.zeros((3, radius.size)), ahead)
    box = hung_bodies(
        load, boom.end_m, base, angle=ahead, rope_half_width_m=shape.rope_half_width_m
    )[-1]
    assert isinstance(box, MovingPrism)
    least = _to_boom_m(boom, box)
    if load.beam_reach_m > 0:
        least = np.minimum(least, _to_boom_m(boom, beam_body(load, boom.end_m, base)))
    return np.asarray(least[np.cumsum(new) - 1])


def _to_boom_m(boom: MovingMember, box: MovingPrism) -> FloatArray:
    """Distance of what hangs from its boom, which lies in the plane y = 0, at every step. [m]"""
    if box.corners_m.shape[1] == 1:
        # the boom lies in the plane of symmetry of a load that turns freely, and so does the
        # nearest point: a rectangle with the same section there is as near
        reach = box.spread_m / np.cos(np.pi / 16)
        x, y = box.corners_m[:, 0, 0], box.corners_m[:, 0, 1]
        ring_x = np.stack([x + reach, x + reach, x - reach, x - reach])
        ring_y = np.stack([y - reach, y + reach, y + reach, y - reach])
    else:
        ring_x, ring_y = np.moveaxis(box.outline_m(), (2, 1), (0, 1))
    start, along = boom.start_m, boom.end_m - boom.start_m
    distance = member_rings_m(
        (start[:, 0], start[:, 1], start[:, 2]), (along[:, 0], along[:, 1], along[:, 2]), ring_x,
        ring_y, box.base_m, box.top_m,
    )  # fmt: skip
    return np.asarray(np.maximum(distance - boom.half_width_m, 0.0))
