"""What only two machines on one load can get wrong, and the verdict over all checks.

Slack and leaning hoist lines, wind on each, tilt and roll of the load, hook room with one hook high; the whole load,
wherever it may be (:mod:`liftcalc.lift.tandem_bodies`), against both machines and everything on the site; booms, ropes,
hooks and superstructures of the two against each other; mats. What is not checked stands in a row of its own without
data, so that no lift on two machines reads as within every limit.

Sources beside each row. 3 degrees off plumb: common practice, no published source.
"""

import dataclasses
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, Verdict, verdict
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.least import ClearanceRow, Obstacle, least_clearances
from liftcalc.clearance.members import Moving
from liftcalc.ground.zones import mat_conflicts
from liftcalc.lift import tandem_bodies
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.path import STAGE_WORDS
from liftcalc.lift.placing import overlap
from liftcalc.lift.setup import Setup
from liftcalc.lift.site_obstacles import site_obstacles
from liftcalc.lift.tandem import TandemAssessment
from liftcalc.lift.tandem_bodies import Sway, apart_m, boom_bodies, gear_bodies, sway_of
from liftcalc.lift.wind_checks import gust_at_head_m_s, permissible_gust_m_s

Body = MovingMember | MovingPrism
OUT_OF_PLUMB_LIMIT_DEG = 3.0
"""Hoist lines of two machines off plumb at most: common practice, no published source. [deg]"""
NOT_CHECKED = (
    "ground pressed by the mats of both machines together",
    "one machine stopping, slewing or failing while the other goes on",
    "booms bent, sprung up or out of level, against the whole load and the other machine",
    "bending and twisting of the booms by side pull",
    "the load's ends against the ground",
)


def _prism(m: LiftAssessment, name: str) -> MovingPrism:
    body = next(b for b in m.surroundings.bodies if b.name == name)
    assert isinstance(body, MovingPrism)
    return body


def _distance_check(a: TandemAssessment, name: str, distance_m: float, limit_m: float, step: int,
                    **words: Any) -> Check:  # fmt: skip
    """A distance at one step of the load path, to what has to be kept."""
    where = f"{STAGE_WORDS[a.way.stage[step]]} (step {step + 1} of {len(a.way.stage)})"
    return check_row(name, distance_m, max(limit_m, 1e-6), step=where, owner=a.job.rules.clearance.reference, **words)


def _least_check(a: TandemAssessment, name: str, distance: FloatArray, limit: float, **words: Any) -> Check:
    step = int(np.argmin(distance))
    return _distance_check(a, name, float(distance[step]), limit, step, **words)


def _fixed_check(a: TandemAssessment, name: str, row: ClearanceRow, **words: Any) -> Check:
    kept = max(row.distance_m - row.between_steps_m, 0.0) if row.distance_m > 0 else 0.0
    return _distance_check(a, name, kept, row.required_m, row.step, **words)


def _plan_gap(one: MovingPrism, other: MovingPrism) -> FloatArray:
    return np.asarray(shapely.distance(shapely.polygons(one.corners_m), shapely.polygons(other.corners_m)))


def _apart(ones: Sequence[Body], others: Sequence[Body]) -> FloatArray:
    return np.asarray(np.min([apart_m(one, other) for one in ones for other in others], axis=0))


def _moving(a: TandemAssessment, load: Sequence[Body], sway: Sway) -> Iterator[Check]:
    """What moves against what moves: load, booms, ropes and hooks, tails."""
    rules = a.job.rules.clearance
    booms = [boom_bodies(a, k, sway) for k in (0, 1)]
    gear = [gear_bodies(a, k, sway) for k in (0, 1)]
    tails = [_prism(m, "counterweight tail") for m in a.plumb]
    carriers = [_prism(m, "carrier") for m in a.plumb]
    yield _least_check(a, "boom-to-boom", _apart(booms[0], booms[1]), rules.boom_m)
    yield _least_check(a, "gear-to-gear", _apart(gear[0], gear[1]), rules.load_m)
    for k in (0, 1):
        yield _least_check(a, "load-to-boom", _apart(booms[k], load), rules.load_m, part=f"{k + 1}")
        yield _least_check(a, "gear", _apart(booms[1 - k], gear[k]),
                           max(rules.boom_m, rules.load_m), part=f"{k + 1}-to-boom-{2 - k}",
                           one=k + 1, other=2 - k)  # fmt: skip
        gap = np.minimum(_plan_gap(tails[k], carriers[1 - k]), _plan_gap(tails[k], tails[1 - k]))
        gap = gap - sum(float(Moving(tail).whole_m.max()) for tail in tails) / 2
        yield _least_check(a, "tail", np.maximum(gap, 0.0), rules.tail_m,
                           part=f"{k + 1}-to-machine-{2 - k}", one=k + 1, other=2 - k)  # fmt: skip


def _fixed(bodies: Sequence[Body], obstacles: Sequence[Obstacle]) -> dict[str, ClearanceRow]:
    """Least clearance of each obstacle from any of the bodies; names of obstacles that count."""
    names = {body.name for body in bodies}
    mine = []
    for o in obstacles:
        count = tuple(sorted(names if o.bodies is None else names & set(o.bodies)))
        if count:
            mine.append(dataclasses.replace(o, bodies=count))
    found: dict[str, ClearanceRow] = {}
    for row in least_clearances(bodies, mine).rows if mine else ():
        had = found.get(row.obstacle)
        if had is None or row.margin_m - row.between_steps_m < had.margin_m - had.between_steps_m:
            found[row.obstacle] = row
    return found


def _to_machines(a: TandemAssessment, load: Sequence[Body], sway: Sway) -> Iterator[Check]:
    """The whole load against both machines; boom, rope and hook of each against the other."""
    rules = a.job.rules.clearance
    for k, m in enumerate(a.plumb):
        parts = tandem_bodies.machine_parts(m, k)
        others = (*boom_bodies(a, 1 - k, sway), *gear_bodies(a, 1 - k, sway))
        for name, part, bodies, need in (
            ("load-to-machine", f"{k + 1}", load, rules.load_m),
            ("boom", f"{2 - k}-to-machine-{k + 1}", others, max(rules.boom_m, rules.load_m)),
        ):
            obstacles = [Obstacle(name, "structure", shape, need) for name, shape in parts]
            nearest = _fixed(bodies, obstacles).values()
            worst = min(nearest, key=lambda r: r.distance_m - r.between_steps_m)
            yield _fixed_check(a, name, worst, part=part, one=2 - k, nearest=worst.obstacle)


def _to_site(a: TandemAssessment, load: Sequence[Body], sway: Sway) -> Iterator[Check]:
    """Load, ropes, hooks and booms off their place against all that stands on the site."""
    bodies = list(load)
    for k in (0, 1):
        bodies += [*boom_bodies(a, k, sway), *gear_bodies(a, k, sway)]
    obstacles = site_obstacles(a.job.site, a.job.rules, persons=False)
    for name, row in _fixed(bodies, obstacles).items():
        yield _fixed_check(a, "load-to", row, part=name, body=row.body)


def _with_least_share(a: TandemAssessment, machine: int) -> Setup:
    """A machine whose load is the least that it may carry: the wind moves it most."""
    setup = a.plumb[machine].setup
    light = setup.lift.load.model_copy(update={"mass_t": float(a.shares.min_share_t[machine])})
    return dataclasses.replace(setup, lift=setup.lift.model_copy(update={"load": light}))


def _lines(a: TandemAssessment, sway: Sway) -> Iterator[Check]:
    """Lean of both lines, wind on each one's part of the load, and the load's tilt and roll."""
    for k, m in enumerate(a.plumb):
        stated, wind = float(sway.stated_deg[k]), float(sway.wind_deg[k])
        yield check_row("out-of-plumb", stated + wind, OUT_OF_PLUMB_LIMIT_DEG, part=f"{k + 1}",
                        stated=stated, wind=wind)  # fmt: skip
        gust = float(gust_at_head_m_s(m.setup, float(m.study.boom.head_z_m.max())))
        most = permissible_gust_m_s(_with_least_share(a, k))
        yield check_row("wind-least-share", gust, most, part=f"{k + 1}")
    limit = min(m.setup.lift.rigging.tilt_limit_deg for m in a.plumb)
    yield check_row("load-tilt tandem", sway.tilt_deg, limit)
    yield check_row("load-roll", sway.roll_deg, limit)


def _tight(a: TandemAssessment) -> Iterator[Check]:
    """Lines that stay tight, and room for each hook."""
    shares = a.shares
    least = int(np.argmin(shares.min_share_t))
    yield check_row("both-lines-tight", float(shares.min_share_t[least]),
                    0.1 * float(shares.nominal.share_t[least]), machine=least + 1)  # fmt: skip
    for k, m in enumerate(a.plumb):
        room = np.maximum(m.study.head_room_m - a.tandem.level_error_m, 0.0)
        need = a.job.rules.clearance.head_room_m
        yield _least_check(a, "head-room tandem", room, need, part=f"{k + 1}")


def _mats(a: TandemAssessment) -> Check:
    names = [f"{k + 1} {leg.name}" for k, m in enumerate(a.plumb) for leg in m.setup.machine.legs]
    mats = [mat for m in a.plumb for mat in m.place.mats]
    clashes = [c for c in mat_conflicts(mats, names=names) if c.mat[0] != c.other[0]]
    return overlap("mats-of-both", clashes)


def common_checks(a: TandemAssessment) -> list[Check]:
    """What concerns both machines."""
    sway = sway_of(a)
    load = tandem_bodies.load_bodies(a, sway)
    left_out = check_row("two-machines-not-checked", None, None, what="; ".join(NOT_CHECKED))
    return [*_tight(a), *_lines(a, sway), *_moving(a, load, sway), *_to_machines(a, load, sway),
            *_to_site(a, load, sway), _mats(a), left_out]  # fmt: skip


def tandem_checks(a: TandemAssessment) -> tuple[Check, ...]:
    """Every row: what concerns both, then each machine."""
    return (*common_checks(a), *a.of_machine(0), *a.of_machine(1))


def tandem_verdict(a: TandemAssessment) -> Verdict:
    """Verdict over every check."""
    return verdict(tandem_checks(a))
