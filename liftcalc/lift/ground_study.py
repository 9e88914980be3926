"""Ground and mat study of one lift, leg by leg, what lies between the legs, and the check rows.

Settlement, tilt and radius are iterated to agreement (:mod:`liftcalc.ground.level`); services and
walls feel all mats together, and so do deeper layers below each leg.

Rated capacity after settlement: the chart holds for the radius under load. The planned radius is that radius on the
machine as set up; what the legs settle under the load comes on top, unless the operator luffs up. A row of the chart
may end in between. Sideways movement is left out: it is smaller than a degree of slew.

Sources: those of the modules that it puts together, and the charts; of each row, named in it.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.errors import ConvergenceError, InputError
from liftcalc.base.text import amount
from liftcalc.base.units import G_M_S2
from liftcalc.crane.masses import tilted_radius_m
from liftcalc.crane.sectors import ESTIMATE, SOURCES, CapacityBySlew
from liftcalc.facts.mats import Mat
from liftcalc.facts.surveyed import RetainingWall
from liftcalc.ground.bearing import METHOD_NAMES
from liftcalc.ground.level import LevelledState, levelled_state
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.zones import mat_conflicts
from liftcalc.lift import ground_services
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.conditions import CONDITION_REMEDY, condition_of, confirmation_words
from liftcalc.lift.ground_facts import ground_safety, mat_properties, shelf_order
from liftcalc.lift.ground_services import ServiceUnderMats, service_row, wall_pressure, wall_row
from liftcalc.lift.leg_forces import LegForces, leg_checks
from liftcalc.lift.leg_ground import LegGround, leg_grounds, mat_trial, with_neighbours
from liftcalc.lift.path import LoadPath
from liftcalc.lift.path_study import capacity_at
from liftcalc.lift.persons import PERSONS_CAPACITY_SHARE
from liftcalc.lift.placing import Placing, placing
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.survey_checks import survey_checks
from liftcalc.reactions.carrier import leg_reactions_kN
from liftcalc.reactions.moments import resultant


def settled_capacity_check(setup: Setup, state: LevelledState, path: LoadPath, planned: CapacityBySlew) -> Check | None:
    """Rated capacity at the radius to which settlement lets the boom head lean out.

    *planned* is that of the path as planned. None where it is over its limit already or has no
    data: the lift check says so.
    """
    share = setup.usable_ratio
    if setup.lift.persons:
        share = min(share, PERSONS_CAPACITY_SHARE)
    enough = planned.capacity_t * share >= setup.gross_t
    if not np.all(enough & (planned.source < ESTIMATE)):
        return None
    growth = radius_growth_m(setup, state, path)
    radius = path.radius_m + growth
    luff = "Luff up as the machine settles, use larger mats, or plan a smaller radius."
    if not np.all(radius <= setup.boom.radius_max_m):
        return check_row("capacity-settled", setup.gross_t, None, ask=luff,
                         beyond=": beyond the reach of the boom",
                         step=path.describe(int(np.argmax(radius))))  # fmt: skip
    settled = capacity_at(setup, path.slew_deg, radius)
    missing = settled.source >= ESTIMATE
    if missing.any():
        ask = "Set the outriggers to a base of the charts, or ask the manufacturer for this layout."
        return check_row("capacity-settled", setup.gross_t, None, ask=ask, beyond="",
                         step=path.describe(int(np.argmax(missing))))  # fmt: skip
    least = np.flatnonzero(settled.capacity_t <= settled.capacity_t.min())
    step = int(least[np.argmax(radius[least])])
    condition, where = condition_of(settled, path)
    chart = f"{SOURCES[int(settled.source[step])]} ({settled.chart_name(step)})"
    return check_row("capacity-settled", setup.gross_t, float(settled.capacity_t[step]) * share,
                     chart=chart + confirmation_words(setup, settled, step), luff=luff,
                     step=path.describe(step), growth=1000 * float(growth[step]),
                     on_condition=where, condition=condition, met=CONDITION_REMEDY)  # fmt: skip


def radius_growth_m(setup: Setup, state: LevelledState, path: LoadPath) -> FloatArray:
    """By how much the radius of each step grows as the legs settle; not below 0."""
    slew = np.radians(path.slew_deg)
    boom = boom_states(setup.machine, setup.boom, path.radius_m)
    toward_load = np.tan(np.radians(setup.tilt_x_deg)) * np.cos(slew)
    toward_load += np.tan(np.radians(setup.tilt_y_deg)) * np.sin(slew)
    set_up = np.degrees(np.arctan(toward_load))
    before = tilted_radius_m(path.radius_m, boom.head_z_m, tilt_toward_load_deg=set_up)
    return np.asarray(np.maximum(state.radius_m - before, 0.0))


def levelled_legs(setup: Setup, forces: LegForces, stiffness: FloatArray) -> LevelledState:
    """Settlement, tilt and radius at every step of the path, on ground of that stiffness [kN/m]."""
    path = forces.path
    slew = np.radians(path.slew_deg)
    boom = boom_states(setup.machine, setup.boom, path.radius_m)
    bare = resultant(path.slew_deg, boom, base=setup.base, masses=setup.masses, load_t=0.0, layout="pairs")
    load = float(setup.gross.dynamic_gross_t)
    total = bare.total_t + load
    legs = np.array([leg.stiffness_kN_m for leg in setup.machine.legs])
    springs = 1.0 / (1.0 / legs + 1.0 / stiffness)

    def reactions(radius_m: FloatArray, sideways_m: FloatArray) -> FloatArray:
        x = radius_m * np.cos(slew) - sideways_m * np.sin(slew)
        y = radius_m * np.sin(slew) + sideways_m * np.cos(slew)
        both = ((bare.x_m, x), (bare.y_m, y))
        centre = np.stack([(b * bare.total_t + load * of) / total for b, of in both], axis=-1)
        return leg_reactions_kN(total * G_M_S2, centre, leg_xy_m=setup.leg_xy_m, leg_stiffness_kN_m=springs).reaction_kN

    return levelled_state(reactions, lambda reaction: reaction / stiffness,
                          leg_x_m=setup.leg_xy_m[:, 0], leg_y_m=setup.leg_xy_m[:, 1],
                          slew_deg=path.slew_deg, radius_m=path.radius_m,
                          head_height_m=boom.head_z_m, limit_percent=setup.permitted_tilt_percent,
                          setup_tilt_x=setup.lift.stand.tilt_x_percent / 100,
                          setup_tilt_y=setup.lift.stand.tilt_y_percent / 100)  # fmt: skip


def level_row(setup: Setup, levelled: LevelledState | None, problem: str) -> Check:
    """Out of level with settlement; over the limit where it does not come to rest (*problem*)."""
    limit = setup.permitted_tilt_percent
    if problem:
        return check_row("tilt unstable", float("inf"), limit, problem=problem)
    if levelled is None:
        return check_row("tilt", None, None)
    return check_row("tilt", float(np.max(levelled.level.slope_percent)), limit,
                     growth=1000 * float(np.max(levelled.radius_growth_m)))  # fmt: skip


@dataclass(frozen=True, eq=False)
class GroundStudy:
    """All four legs in the order FL, FR, RR, RL, and what lies between and beside them."""

    setup: Setup
    place: Placing
    forces: LegForces
    mat: MatProperties
    alone: tuple[LegGround, ...]
    """Each leg without its neighbours."""
    levelled: LevelledState | None
    level_problem: str

    @property
    def safety_words(self) -> str:
        return ground_safety(self.setup)[1]

    @cached_property
    def pressure_kPa(self) -> FloatArray:
        """Pressure under each mat in every state, shape (S, 4)."""
        area = np.array([g.area_m2 for g in self.alone])
        return np.asarray((self.forces.states_kN + self.mat.weight_kN) / area)

    @cached_property
    def legs(self) -> tuple[LegGround, ...]:
        return with_neighbours(self.setup, self.place, self.mat, self.alone, self.pressure_kPa)

    @cached_property
    def services(self) -> tuple[ServiceUnderMats, ...]:
        return ground_services.services_under_mats(self.setup, self.alone, self.pressure_kPa)

    @cached_property
    def walls(self) -> tuple[tuple[RetainingWall, float, float], ...]:
        """Wall, greatest sideways pressure [kPa], and the depth at which it acts [m]."""
        return tuple((wall, *wall_pressure(self.place, self.forces.design_kN, wall))
                     for wall in self.setup.site.retaining_walls)  # fmt: skip


def ground_study(setup: Setup, place: Placing, forces: LegForces) -> GroundStudy:
    """Mat, bearing, settlement, level and neighbours under the greatest force of each leg.

    Raises: Ground that cannot be judged (voids, missing water level, contradictory layers), a mat
      on no ground zone, a float larger than its mat, or a machine that tips on its path.
    """
    if not np.all(np.isfinite(forces.design_kN)):
        need = "a crane that stays on its outriggers"
        remedy = "See the lift check: the crane tips over before the ground matters."
        raise InputError.of("outrigger forces", "no equilibrium on the path", need, remedy)
    mat = mat_properties(setup.mat)
    legs = leg_grounds(setup, place, mat, forces.design_kN)
    return GroundStudy(setup, place, forces, mat, legs, *_levelled(setup, forces, legs))


def _levelled(setup: Setup, forces: LegForces, legs: Sequence[LegGround]) -> tuple[LevelledState | None, str]:
    """Where the legs come to rest, or why they do not; nothing where a stiffness is not known."""
    stiffness = np.array([leg.stiffness_kN_m for leg in legs])
    if not np.all(np.isfinite(stiffness)):
        return None, ""
    try:
        return levelled_legs(setup, forces, stiffness), ""
    except ConvergenceError as error:
        return None, str(error)


def relevelled(study: GroundStudy, setup: Setup, forces: LegForces) -> GroundStudy:
    """The same ground under a machine set up at another tilt, in which nothing else differs."""
    levelled, problem = _levelled(setup, forces, study.legs)
    found = dataclasses.replace(study, setup=setup, levelled=levelled, level_problem=problem)
    same = {name: getattr(study, name) for name in ("legs", "services", "walls")}
    found.__dict__.update(same)
    return found


def study_ground(setup: Setup, place: Placing, forces: LegForces) -> GroundStudy | None:
    """Ground study, or None where the machine tips over on its path."""
    return ground_study(setup, place, forces) if forces.stands else None


def all_ground_checks(setup: Setup, forces: LegForces, study: GroundStudy | None,
                      mats: Sequence[Mat], settled: Check | None) -> list[Check]:  # fmt: skip
    """Rows in the order in which a checker reads them; remedies name the smallest mat that passes.

    Outrigger by outrigger its strength, its ground and its mat; settlement, level and capacity
    after it; services and walls.
    """
    legs = leg_checks(setup, forces)
    if study is None:
        return legs
    rows: list[Check] = []
    for leg, g in zip(legs, study.legs, strict=True):
        rows += [leg, bearing_row(setup, study, g, mats)]
        if g.neighbours is not None:
            rows.append(neighbour_row(setup, study, g))
        rows += [strength_row(study.mat, g), bending_row(study.mat, g)]
    rows += [settlement_row(setup, g) for g in study.legs]
    rows.append(level_row(setup, study.levelled, study.level_problem))
    rows += [] if settled is None else [settled]
    rows += [service_row(one) for one in study.services]
    return rows + [wall_row(*one) for one in study.walls]


def bearing_row(setup: Setup, study: GroundStudy, g: LegGround, mats: Sequence[Mat]) -> Check:
    """Pressure under a mat against the lowest of every mechanism of its ground."""
    return check_row("ground", g.pressure_kPa, g.allowable_kPa, part=g.name, mechanism=g.mechanism,
                     layer=g.layer, method=METHOD_NAMES[setup.rules.ground.method], safety=study.safety_words,
                     zone=g.zone, force=g.reaction_kN, length=g.effective_length_m, width=g.effective_width_m,
                     larger_mat=_mat_remedy(setup, g, mats)
                     if g.pressure_kPa > g.allowable_kPa else "")  # fmt: skip


def neighbour_row(setup: Setup, study: GroundStudy, g: LegGround) -> Check:
    """Pressure under a mat, raised by what the other legs add, against the layers below."""
    added = g.neighbours
    assert added is not None
    return check_row("ground-neighbours", added.pressure_kPa, added.allowable_kPa, part=g.name,
                     mechanism=added.mechanism, layer=added.layer,
                     method=METHOD_NAMES[setup.rules.ground.method], safety=study.safety_words,
                     depth=added.depth_m, factor=added.factor)  # fmt: skip


def strength_row(mat: MatProperties, g: LegGround) -> Check:
    """The part of the mat's strength that is used most, at the length that the ground needs."""
    worst = max(g.mat_utilisation, key=lambda part: g.mat_utilisation[part])
    return check_row("mat strength", g.mat_utilisation[worst] * 100, 100.0, part=g.name, mat=mat.name, worst=worst)


def bending_row(mat: MatProperties, g: LegGround) -> Check:
    """Bending of the whole mat under the working force, as far as the ground lets it bend."""
    bent = g.elastic_bending
    if not np.isfinite(bent.moment_kNm):
        return check_row("mat-bending", None, None, part=g.name)
    return check_row("mat-bending", 100 * bent.utilisation, 100.0, part=g.name, mat=mat.name,
                     moment=bent.moment_kNm, capacity=bent.capacity_kNm)  # fmt: skip


def settlement_row(setup: Setup, g: LegGround) -> Check:
    """Elastic settlement of a leg against the owner's limit; no data without a modulus."""
    rule = setup.rules.ground
    if not np.isfinite(g.settlement_m):
        return check_row("settlement", None, None, part=g.name)
    return check_row("settlement", g.settlement_m * 1000, rule.settlement_limit_m * 1000,
                     part=g.name, owner=rule.reference)  # fmt: skip


def _mat_remedy(setup: Setup, g: LegGround, mats: Sequence[Mat]) -> str:
    """The smallest mat on the shelf that passes under this leg on the same ground, by trying."""
    for mat in sorted(mats, key=shelf_order):
        used = mat_trial(setup, g, mat).utilisation
        if used <= 1:
            words = f"Use mat {mat.id} (utilisation {amount(100 * used, 'percent')} here)"
            broken = _broken_by(setup, mat)
            if broken:
                words += f"; with it no longer within: {broken}, so move the crane as well"
            return words + "."
    need = (g.reaction_kN + 10.0) / g.allowable_kPa
    return (
        f"No mat in stock is enough: about {amount(need, 'area_m2', 'up')} of stiff mat would be "
        f"needed at {amount(g.allowable_kPa, 'pressure_kPa', 'down')}; build a granular platform "
        "or move the outrigger to better ground."
    )


def _broken_by(setup: Setup, mat: Mat) -> str:
    """What another mat would break on the survey that the present one does not, in words."""
    other = dataclasses.replace(setup, mat=mat)
    place = placing(other)
    kept = {c.id for c in survey_checks(setup, placing(setup)) if c.status == "within"}
    rows = survey_checks(other, place)
    titles = [c.title for c in rows if c.status != "within" and c.id in kept]
    if mat_conflicts(place.mats):
        titles.append("Overlap of mats")
    return ", ".join(titles)
