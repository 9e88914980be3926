"""Two machines on one load, each checked by the same code as a single lift.

What concerns both machines is in :mod:`liftcalc.lift.tandem_checks`, tables are in :mod:`liftcalc.lift.tandem_report`.

The load moves from pick to set-down as one body, its two lifting points with it; each hook follows its point, step by
step together. The share of each machine is the greatest for the stated errors of level, plumb, centre of gravity and
weight (:mod:`liftcalc.rigging.tandem`); with that share as its load
each machine is a lift of its own: rated capacity derated as the engineer states, stability, legs, mats, ground,
clearances. A hoist line out of plumb pulls the boom head outward; that is taken as a radius longer by the head's height
times the tangent of the angle. The pull is the same in both lines, so that the line with the smaller share leans more
than the one that is out by the stated angle. Wind acts at the middle of the load's box, midway between the lifting
points: blowing across it gives each line half; blowing along it, each line what its share over its length takes.

Sources: statics; :mod:`liftcalc.rigging.tandem`.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from pydantic import ValidationError

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.facts.base import input_error
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Lift, Place
from liftcalc.facts.tandem import TandemLift
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.capacity_checks import path_checks
from liftcalc.lift.chart_forces import chart_force_checks
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup, boom_states, build_setup
from liftcalc.rigging.tandem import ShareEnvelope, tandem_share, tandem_share_envelope


@dataclass(frozen=True, eq=False)
class LoadWay:
    """The load at every step; arrays of shape (N,)."""

    east_m: FloatArray
    north_m: FloatArray
    level_m: FloatArray
    bearing_deg: FloatArray
    stage: tuple[str, ...]

    def along(self) -> FloatArray:
        """Unit vector from lifting point 1 to 2 in plan, shape (N, 2)."""
        turn = np.radians(self.bearing_deg)
        return np.stack([np.cos(turn), np.sin(turn)], axis=-1)

    def lug_m(self, tandem: TandemLift, machine: int) -> FloatArray:
        """Plan place of one lifting point, shape (N, 2)."""
        centre = np.stack([self.east_m, self.north_m], axis=-1)
        reach = (-tandem.lug_distance_m[0], tandem.lug_distance_m[1])[machine]
        return np.asarray(centre + reach * self.along())


def lug_level_m(tandem: TandemLift) -> float:
    """Least height of a lifting point above the load's underside. [m]"""
    return tandem.load.height_m / 2 + min(tandem.lug_above_cg_m)


def _way(tandem: TandemLift, steps: int) -> LoadWay:
    """Hoist at the pick, carry straight with a steady turn, lower at the set-down."""
    a, b = tandem.pick, tandem.set_down
    turn = (b.bearing_deg - a.bearing_deg + 180.0) % 360.0 - 180.0

    carry = tandem.carry_level_m
    poses = (a, a.level_m, 0.0), (a, carry, 0.0), (b, carry, turn), (b, b.level_m, turn)
    corners = np.array([(pose.easting_m, pose.northing_m, level, a.bearing_deg + turned)
                        for pose, level, turned in poses])  # fmt: skip
    parts, stages = [corners[:1]], ["hoist"]
    for k, (stage, share) in enumerate((("hoist", 0.2), ("travel", 0.6), ("lower", 0.2))):
        n = max(round(steps * share), 2)
        t = np.linspace(0.0, 1.0, n + 1)[1:, None]
        parts.append(corners[k] + t * (corners[k + 1] - corners[k]))
        stages += [stage] * n
    east, north, level, bearing = np.concatenate(parts).T
    return LoadWay(east, north, level, bearing, tuple(stages))


def tandem_lift_for(tandem: TandemLift, machine: int, share_t: float, *, wind_share: float = 1.0) -> Lift:
    """The lift of one machine (0 or 1), with its share as its load.

    The load is the piece of it at the lifting point, as wide as the whole; the whole is compared
    with everything in :mod:`liftcalc.lift.tandem_checks`. ``share_t`` holds the error of the
    weight: the load's mass is it without what the load adds for that. ``wind_share`` is the part
    of the wind on the whole load that this machine holds.

    Raises: Rigging that does not fit the load, with the machine named.
    """
    one = tandem.machines[machine]
    way = _way(tandem, 10)
    lug = way.lug_m(tandem, machine)

    def place(step: int) -> Place:
        east, north = lug[step].tolist()
        return Place(easting_m=east, northing_m=north, level_m=float(way.level_m[step]))

    whole = tandem.load
    load = whole.model_copy(update={
        "mass_t": share_t / (1 + whole.contingency_percent / 100), "length_m": whole.width_m,
        **{f"cg_error_{axis}_m": 0.0 for axis in "xyz"},
        "sail_area_m2": whole.sail_area_m2 * wind_share,
        "sail_reason": f"part of the whole sail {whole.sail_reason}".strip(),
    })  # fmt: skip
    own = {name: value for name, value in dict(one).items() if name != "derating_factor"}
    same = ("carry_level_m", "wind_m_s", "wind_basis", "provenance")
    facts: dict[str, Any] = {
        **own, **{name: getattr(tandem, name) for name in same}, "load": load, "pick": place(0),
        "set_down": place(-1), "id": f"{tandem.id}-{machine + 1}",
        "title": f"{tandem.title}, machine {machine + 1}",
    }  # fmt: skip
    try:
        return Lift(**facts)
    except ValidationError as error:
        raise input_error(error, source=f"tandem lift {tandem.id}, machines[{machine}]") from None


def _job_for(job: Job, tandem: TandemLift, lift: Lift, machine: int) -> Job:
    limit = min(job.rules.utilisation_limit_percent, 100.0 * tandem.machines[machine].derating_factor)
    rules = job.rules.model_copy(update={"utilisation_limit_percent": limit})
    kept = tuple(c for c in job.confirmations if c.concerns(lift))
    try:
        alone = {
            "lifts": (lift,),
            "tandem_lifts": (),
            "confirmations": kept,
            "rules": rules,
            "plan": None,
            "as_set_up": None,
        }
        whole = Job(**{**dict(job), **alone})
    except ValidationError as error:
        raise input_error(error, source=f"tandem lift {tandem.id}") from None
    return whole.for_lift(lift.id)


def line_length_m(setup: Setup, lug_level_m: FloatArray, radius_m: FloatArray) -> FloatArray:
    """Hoist line with slings of one machine, boom head to lifting point; below 0: no room. [m]"""
    head = boom_states(setup.machine, setup.boom, radius_m).head_z_m
    return np.asarray(head - (lug_level_m - setup.lift.stand.level_m))


def _wind_shares(setups: Sequence[Setup], paths: Sequence[LoadPath], shares: ShareEnvelope, lug_m: float) -> FloatArray:
    """Greatest part of the wind on the whole load that each machine holds, shape (2,)."""
    each = zip(setups, paths, strict=True)
    length = np.stack([line_length_m(s, p.level_m + lug_m, p.radius_m) for s, p in each])
    most, least = (v[:, None] / length for v in (shares.max_share_t, shares.min_share_t))
    along = (most / (most + least[::-1])).max(axis=1)
    return np.asarray(np.clip(np.where(length.min(axis=1) > 0, along, 1.0), 0.5, 1.0))


def _path(setup: Setup, tandem: TandemLift, way: LoadWay, machine: int, grow: float) -> LoadPath:
    """Steps of one hook; with *grow*, radius longer by head height times that tangent."""
    lug, stand = way.lug_m(tandem, machine), setup.lift.stand
    east, north = lug[:, 0] - stand.easting_m, lug[:, 1] - stand.northing_m
    slew = np.degrees(np.unwrap(np.arctan2(north, east))) - stand.heading_deg
    radius = np.hypot(east, north)
    if grow:
        foot = setup.machine.boom
        rise = np.sqrt(np.maximum(setup.boom.length_m**2 - (radius - foot.foot_u_m) ** 2, 0.0))
        radius = radius + (foot.foot_z_m + rise) * grow
    xyz = np.column_stack([lug, way.level_m])
    gone = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(xyz, axis=0), axis=1))])
    return LoadPath(slew, radius, way.level_m, way.stage, gone)


@dataclass(frozen=True, eq=False)
class TandemAssessment:
    """Both machines and the load between them; each study is made when first asked for."""

    job: Job
    tandem: TandemLift
    shares: ShareEnvelope
    way: LoadWay
    plumb: tuple[LiftAssessment, LiftAssessment]
    """Each machine with its greatest share, hoist lines plumb."""
    pulled: tuple[LiftAssessment, LiftAssessment]
    """The same with the boom head pulled outward by a line out of plumb."""

    def of_machine(self, machine: int) -> tuple[Check, ...]:
        """Rows of one machine, marked with its number."""
        plumb, pulled = self.plumb[machine], self.pulled[machine]
        along = [[*path_checks(a.setup, a.study), *chart_force_checks(a.setup, a.study)] for a in (plumb, pulled)]
        others = [c for c in plumb.lift if c.id not in {r.id for r in along[0]}]
        rows = [*plumb.survey, *pulled.layout, *along[1], *others, *pulled.ground_rows]
        n = machine + 1
        named = ((c, f"machine-{n}-{c.id}", f"Machine {n}: {c.title}") for c in rows)
        return tuple(dataclasses.replace(c, id=id, title=title) for c, id, title in named)


def tandem_shares(tandem: TandemLift) -> ShareEnvelope:
    """Shares within the stated errors, where either line may be the one out of plumb.

    Raises: A load that would turn over or hang on one line alone.
    """

    def envelope(turn: int) -> ShareEnvelope:
        return tandem_share_envelope(
            tandem.load.mass_t, tandem.lug_distance_m[::turn],
            lug_above_cg_m=tandem.lug_above_cg_m[::turn], level_error_m=tandem.level_error_m,
            out_of_plumb_error_deg=tandem.out_of_plumb_error_deg, cg_error_m=tandem.cg_error_m,
            load_error_ratio=tandem.load.contingency_percent / 100.0,
        )  # fmt: skip

    one, other = envelope(1), envelope(-1)
    most = np.maximum(one.max_share_t, other.max_share_t[::-1])
    least = np.minimum(one.min_share_t, other.min_share_t[::-1])
    force = np.maximum(one.max_line_force_kN, other.max_line_force_kN[::-1])
    side = np.maximum(one.max_side_pull_kN, other.max_side_pull_kN)
    lean = np.maximum(one.max_out_of_plumb_deg, other.max_out_of_plumb_deg[::-1])
    growth = most / one.nominal.share_t
    return ShareEnvelope(one.nominal, most, least, force, side, lean, growth)


def share_off_t(tandem: TandemLift, *, turn: int, level_m: ArrayLike, lean: float, off: float) -> FloatArray:
    """Share of each machine, line 1 (turn 1) or 2 (turn -1) out of plumb, hook levels differing by *level_m* toward
    that line; *lean* and *off* are shares of the errors of plumb and centre of gravity. [t]
    """
    reach = np.asarray(tandem.lug_distance_m[::turn], dtype=np.float64)
    found = tandem_share(tandem.load.mass_t,
                         reach + off * tandem.cg_error_m * np.array([1.0, -1.0]),
                         lug_above_cg_m=tandem.lug_above_cg_m[::turn], level_difference_m=level_m,
                         out_of_plumb_deg=lean * tandem.out_of_plumb_error_deg)  # fmt: skip
    return np.asarray(found.share_t[..., ::turn])


def assess_tandem(job: Job, tandem_id: str, *, steps: int = 240) -> TandemAssessment:
    """Assess one tandem lift of a job.

    Parameters:
      job: Job
      tandem_id: str
      steps: About how many steps the load's way is sampled at.
    Raises: No such tandem lift; a load that would turn over or hang on one line; a lifting point
      out of reach of its machine; facts that do not fit.
    """
    found = {t.id: t for t in job.tandem_lifts}
    if tandem_id not in found:
        raise InputError.of("tandem lift", tandem_id, f"one of {', '.join(found) or 'none'}")
    tandem = found[tandem_id]
    shares = tandem_shares(tandem)
    way = _way(tandem, steps)
    tangent = np.tan(np.radians(shares.max_out_of_plumb_deg))

    def made(machine: int, wind: float) -> tuple[Job, Setup]:
        share = float(shares.max_share_t[machine])
        lift = tandem_lift_for(tandem, machine, share, wind_share=wind)
        own = _job_for(job, tandem, lift, machine)
        reach = way.lug_m(tandem, machine) - [lift.stand.easting_m, lift.stand.northing_m]
        nearest = float(np.hypot(*reach.T).min())
        return own, build_setup(own, lift.id, least_radius_m=nearest)

    first = [made(k, 1.0)[1] for k in (0, 1)]
    paths = [_path(setup, tandem, way, k, 0.0) for k, setup in enumerate(first)]
    wind = _wind_shares(first, paths, shares, lug_level_m(tandem))
    plumb: list[LiftAssessment] = []
    pulled: list[LiftAssessment] = []
    for k in (0, 1):
        own, setup = made(k, float(wind[k]))
        for grow, into in ((0.0, plumb), (float(tangent[k]), pulled)):
            path = _path(setup, tandem, way, k, grow)
            into.append(LiftAssessment(job=own, setup=setup, path=path))
    return TandemAssessment(job=job, tandem=tandem, shares=shares, way=way,
                            plumb=(plumb[0], plumb[1]), pulled=(pulled[0], pulled[1]))  # fmt: skip
