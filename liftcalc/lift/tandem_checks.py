"""What only two machines on one load can get wrong, and the verdict over all checks.

Contents: :func:`load_body`, :func:`common_checks`, :func:`tandem_checks`,
:func:`tandem_verdict`.

Slack and leaning hoist lines, hook room with one hook high, the load against booms and everything
on the site, booms and superstructures against each other, and mats.

Sources beside each row. 3 degrees off plumb: common practice, no published source.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import shapely
from numpy.typing import NDArray

from liftcalc.bodies import MovingMember, MovingPrism
from liftcalc.checks import Check, Verdict, limit_check, verdict
from liftcalc.clearance import least_clearances
from liftcalc.ground.zones import mat_conflicts
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.surroundings import site_obstacles
from liftcalc.lift.tandem import TandemAssessment
from liftcalc.solids import member_prism_distance_m, segment_segment_distance_m

__all__ = ["common_checks", "load_body", "tandem_checks", "tandem_verdict"]

FloatArray = NDArray[np.float64]
OUT_OF_PLUMB_LIMIT_DEG = 3.0


def load_body(a: TandemAssessment) -> MovingPrism:
    """The whole load at every step, on its two lines: it cannot turn on its own."""
    load, way, tandem = a.tandem.load, a.way, a.tandem
    along = way.along()
    across = np.stack([-along[:, 1], along[:, 0]], axis=-1)
    # middle of the lifting points is the middle of the box
    shift = (tandem.lug_distance_m[1] - tandem.lug_distance_m[0]) / 2
    middle = np.stack([way.east_m, way.north_m], axis=-1) + shift * along
    half, side = load.length_m / 2, load.width_m / 2
    corners = np.stack(
        [
            middle + u * along + v * across
            for u, v in ((half, side), (-half, side), (-half, -side), (half, -side))
        ],
        axis=1,
    )
    n = len(way.level_m)
    return MovingPrism("load", corners, way.level_m, way.level_m + load.height_m, np.zeros(n))


def _of(a: LiftAssessment, name: str) -> MovingMember | MovingPrism:
    return next(b for b in a.surroundings.bodies if b.name == name)


def _least_check(
    a: TandemAssessment, id: str, title: str, distance: FloatArray, limit: float, remedy: str
) -> Check:
    step = int(np.argmin(distance))
    return limit_check(
        id,
        title,
        value=float(distance[step]),
        limit=max(limit, 1e-6),
        quantity="length_m",
        sense="min",
        reference=a.job.rules.clearance.reference,
        where=f"step {step} of {len(distance) - 1} ({a.way.stage[step]})",
        remedy=remedy,
    )


def _plan_gap(one: MovingPrism, other: MovingPrism) -> FloatArray:
    return np.asarray(
        shapely.distance(shapely.polygons(one.corners_m), shapely.polygons(other.corners_m))
    )


def _between_machines(a: TandemAssessment) -> list[Check]:
    rules = a.job.rules.clearance
    booms = [_of(m, "boom") for m in a.plumb]
    tails = [_of(m, "counterweight tail") for m in a.plumb]
    carriers = [_of(m, "carrier") for m in a.plumb]
    assert isinstance(booms[0], MovingMember)
    assert isinstance(booms[1], MovingMember)
    apart = segment_segment_distance_m(
        booms[0].start_m, booms[0].end_m, start_b_m=booms[1].start_m, end_b_m=booms[1].end_m
    )
    apart = np.maximum(apart - booms[0].half_width_m - booms[1].half_width_m, 0.0)
    rows = [
        _least_check(
            a, "boom-to-boom", "Boom of machine 1 to boom of machine 2", apart, rules.boom_m,
            "Stand the machines farther apart or carry the load by another way.",
        )
    ]  # fmt: skip
    load = load_body(a)
    for k, boom in enumerate(booms):
        assert isinstance(boom, MovingMember)
        distance, _, _ = member_prism_distance_m(
            boom.start_m, boom.end_m, load.corners_m, load.base_m, load.top_m
        )
        rows.append(
            _least_check(
                a, f"load-to-boom-{k + 1}", f"Load to the boom of machine {k + 1}",
                np.maximum(distance - boom.half_width_m, 0.0), rules.load_m,
                "Use a longer boom or longer slings, or turn the load.",
            )
        )  # fmt: skip
    for i, j in ((0, 1), (1, 0)):
        tail, carrier, other = tails[i], carriers[j], tails[j]
        assert isinstance(tail, MovingPrism)
        assert isinstance(carrier, MovingPrism)
        assert isinstance(other, MovingPrism)
        gap = np.minimum(_plan_gap(tail, carrier), _plan_gap(tail, other))
        rows.append(
            _least_check(
                a, f"tail-{i + 1}-to-machine-{j + 1}",
                f"Counterweight of machine {i + 1} to machine {j + 1}, in plan",
                gap, rules.tail_m, "Stand the machines farther apart.",
            )
        )  # fmt: skip
    return rows


def _load_clearances(a: TandemAssessment) -> list[Check]:
    obstacles = [
        o for o in site_obstacles(a.job.site, a.job.rules) if o.bodies is None or "load" in o.bodies
    ]
    obstacles = [dataclasses.replace(o, bodies=("load",)) for o in obstacles]
    if not obstacles:
        return []
    rows = []
    for row in least_clearances([load_body(a)], obstacles).rows:
        value = max(row.distance_m - row.between_steps_m, 0.0) if row.distance_m > 0 else 0.0
        rows.append(
            limit_check(
                f"load-to-{row.obstacle}",
                f"Whole load to {row.obstacle}",
                value=value,
                limit=max(row.required_m, 1e-6),
                quantity="length_m",
                sense="min",
                reference=a.job.rules.clearance.reference,
                where=f"step {row.step} of {len(a.way.stage) - 1} ({a.way.stage[row.step]})",
                remedy=f"Carry the load higher or farther from {row.obstacle}.",
            )
        )
    return rows


def common_checks(a: TandemAssessment) -> list[Check]:
    tandem, shares = a.tandem, a.shares
    least = int(np.argmin(shares.min_share_t))
    rows = [
        limit_check(
            "both-lines-tight",
            f"Least share of machine {least + 1}: its line must not go slack",
            value=float(shares.min_share_t[least]),
            limit=0.1 * float(shares.nominal.share_t[least]),
            quantity="mass_t",
            sense="min",
            reference="a tenth of the share: common practice, no published source",
            remedy="Keep the hooks level, or move a lifting point.",
        ),
        limit_check(
            "out-of-plumb",
            "Hoist lines out of plumb, as stated",
            value=tandem.out_of_plumb_error_deg,
            limit=OUT_OF_PLUMB_LIMIT_DEG,
            quantity="angle_deg",
            reference="3° off plumb: common practice, no published source",
            remedy="Move more slowly and in smaller steps, one motion at a time.",
        ),
    ]
    for k, one in enumerate(a.plumb):
        room = one.study.head_room_m - tandem.level_error_m
        rows.append(
            _least_check(
                a, f"head-room-{k + 1}",
                f"Hook room of machine {k + 1} with its hook high by the stated level error",
                np.maximum(room, 0.0), a.job.rules.clearance.head_room_m,
                "Use a longer boom or shorter slings.",
            )
        )  # fmt: skip
    rows += _between_machines(a) + _load_clearances(a)
    names = [f"{k + 1} {leg.name}" for k, m in enumerate(a.plumb) for leg in m.setup.machine.legs]
    mats = [mat for m in a.plumb for mat in m.place.mats]
    clashes = [c for c in mat_conflicts(mats, names=names) if c.mat[0] != c.other[0]]
    rows.append(
        limit_check(
            "mats-of-both",
            "Overlap of mats of the two machines"
            + (f": {clashes[0].mat} and {clashes[0].other}" if clashes else ""),
            value=max((c.overlap_m2 for c in clashes), default=0.0),
            limit=1e-6,
            quantity="area_m2",
            reference="plane geometry",
            remedy="Stand the machines farther apart.",
        )
    )
    return rows


def tandem_checks(a: TandemAssessment) -> tuple[Check, ...]:
    """Every row: what concerns both, then each machine."""
    return (*common_checks(a), *a.of_machine(0), *a.of_machine(1))


def tandem_verdict(a: TandemAssessment) -> Verdict:
    """Verdict over every check."""
    return verdict(tandem_checks(a))
