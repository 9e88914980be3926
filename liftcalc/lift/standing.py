"""Where to stand for a job's lifts: the search of :mod:`liftcalc.placement` on the job's facts.

The search measures rated capacity and room; a place counts only when the full check, which is the
same assessment as on the sheets, is within every limit there. Ground that cannot carry a leg for
certain is screened out first: the mat check of :mod:`liftcalc.ground.check` is run for each zone over a ladder of
forces, without the limit that a neighbouring leg sets to load spread (which only lowers what is allowed). Above the
least rung that fails the mat fails for certain; below it the full study decides. No published source needed.
"""

from collections.abc import Callable, Collection, Sequence

import numpy as np
import shapely
from pydantic import ValidationError
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError, LiftcalcError
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.facts.base import input_error
from liftcalc.facts.job import Job, Rules
from liftcalc.facts.machine import Machine
from liftcalc.facts.mats import Mat
from liftcalc.facts.site import Site
from liftcalc.facts.surveyed import GroundZone
from liftcalc.ground.check import BearingRule, mat_on_ground
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.ground_facts import ground_profile, ground_safety, mat_properties
from liftcalc.lift.placing import beside_m, ground_level_m
from liftcalc.lift.setup import Setup, boom_at_length, build_setup, chart_tables, machine_masses
from liftcalc.placement.capacity import ChartCapacity, LiftDuty
from liftcalc.placement.fit import StandGrid
from liftcalc.placement.ground import Blocker, LegRanges, StandingGround, StandingMachine, leg_ranges
from liftcalc.placement.measure import SearchProblem, StandPlace, StopAsked

LADDER_KN = np.concatenate([np.arange(10.0, 400.0, 10.0), np.arange(400.0, 3000.0, 50.0)])


def most_force_by_zone_kN(setup: Setup) -> dict[str, float]:
    """Leg force above which the lift's mat fails on each ground zone; 0 where it may not stand."""
    mat = mat_properties(setup.mat)
    rule = BearingRule(ground_safety(setup)[0], setup.rules.ground.method)
    leg = min(setup.machine.legs, key=lambda one: one.float_length_m * one.float_width_m)
    most: dict[str, float] = {}
    for zone in setup.site.zones:
        if not Polygon(zone.polygon).area > 0:
            continue
        try:
            profile = ground_profile(setup.site.profile(zone.profile), mat.width_m)
            check = mat_on_ground(
                mat, LADDER_KN, profile, rule, float_length_m=leg.float_length_m, float_width_m=leg.float_width_m
            ).check
        except InputError:
            most[zone.id] = 0.0
            continue
        failed = check.utilisation > 1.0
        most[zone.id] = float(LADDER_KN[np.argmax(failed)]) if failed.any() else float("inf")
    return most


EXTENSION_STEP_M = 0.1
EDGE_M = 0.01


def soft_zones(setup: Setup) -> dict[str, tuple[float, float]]:
    """Zones too soft to search: what a mat carries there, and a quarter of the empty machine. [kN]

    A zone where the lift's mat fails under a quarter of the empty machine's weight is not
    searched: some leg carries at least so much at every slew. A place with only its least loaded
    leg on such ground is lost to the search, on the safe side, and the zone is named.
    """
    masses = setup.masses
    empty = masses.carrier_mass_t + masses.slewing_mass_t + setup.boom.mass_t
    quarter = empty * G_M_S2 / 4
    most = most_force_by_zone_kN(setup)
    return {zone: (force, quarter) for zone, force in most.items() if force < quarter}


def standing_ground(site: Site, rules: Rules, mat: Mat, *, left_out: Collection[str] = ()) -> StandingGround:
    """Allowed ground: inside boundary, stand areas and explored zones; and what blocks it.

    Zones named in *left_out* are not searched, nor ground beside them that takes part in them.

    Obstacles block mats and carrier and stop a leg beam; excavations keep their set-back;
    services keep mats (not the carrier, which hangs on its legs) at their stand-off.
    """
    allowed: BaseGeometry = Polygon(site.boundary)
    stand = [Polygon(a.polygon) for a in site.areas if a.kind == "stand area"]
    if stand:
        allowed = allowed.intersection(shapely.union_all(stand))
    known: list[GroundZone] = []
    unsafe: list[GroundZone] = []
    for zone in site.zones:
        good = site.profile(zone.profile).voids == "none found" and zone.id not in left_out
        (known if good else unsafe).append(zone)
    if not known:
        need = "a zone of explored ground that carries an outrigger"
        raise InputError.of("site.zones", "none to search", need)
    allowed = allowed.intersection(shapely.union_all([Polygon(z.polygon) for z in known]))
    blockers = [Blocker(o.id, Polygon(o.polygon), EDGE_M, ("mats", "carrier"), solid=True) for o in site.obstacles]
    beside = beside_m(mat) + EDGE_M
    blockers += [Blocker(z.id, Polygon(z.polygon), beside, ("mats",)) for z in unsafe]
    for pit in site.excavations:
        back = EDGE_M if pit.supported else rules.ground.edge_set_back_ratio * pit.depth_m
        blockers.append(Blocker(pit.id, Polygon(pit.polygon), max(back, EDGE_M), solid=True))
    for service in site.services:
        clear = service.width_m / 2 + service.stand_off_m
        blockers.append(Blocker(service.id, LineString(service.line), clear, ("mats",)))
    return StandingGround(allowed, tuple(blockers))


def standing_machine(machine: Machine, mat: Mat) -> StandingMachine:
    """Plan of a machine on its legs; free strokes are tried every 0.1 m."""
    options = []
    for leg in machine.legs:
        if leg.steps_m:
            options.append(tuple(sorted(leg.steps_m)))
            continue
        steps = np.arange(leg.extension_min_m, leg.extension_max_m - 1e-9, EXTENSION_STEP_M)
        options.append((*(float(s) for s in np.round(steps, 6)), leg.extension_max_m))
    carrier = machine.carrier
    x = [leg.x_m for leg in machine.legs]
    return StandingMachine(carrier_m=(carrier.front_x_m, carrier.rear_x_m, carrier.width_m / 2),
                           leg_x_m=(x[0], x[1], x[2], x[3]), extension_options_m=tuple(options),
                           mat_length_m=mat.length_m, mat_width_m=mat.width_m)  # fmt: skip


def leg_room(setup: Setup) -> LegRanges:
    """What each leg may do at the lift's own stand."""
    stand = setup.lift.stand
    return leg_ranges(standing_ground(setup.site, setup.rules, setup.mat),
                      standing_machine(setup.machine, setup.mat), easting_m=stand.easting_m,
                      northing_m=stand.northing_m, heading_deg=stand.heading_deg)  # fmt: skip


def _capacity(job: Job, lift_id: str) -> ChartCapacity:
    own = job.for_lift(lift_id)
    lift, machine = own.lifts[0], own.machines[0]
    boom = boom_at_length(machine, lift.boom_length_m)
    x = [leg.x_m for leg in machine.legs]
    return ChartCapacity(charts=chart_tables(machine, own.charts),
                         masses=machine_masses(machine, lift.counterweight),
                         counterweight=lift.counterweight, boom_length_m=boom.length_m, boom_mass_t=boom.mass_t,
                         boom_cg_from_foot_m=boom.cg_from_foot_m, boom_foot_u_m=machine.boom.foot_u_m,
                         leg_x_m=(x[0], x[1], x[2], x[3]), radius_from_m=max(boom.radius_min_m, machine.radius_min_m),
                         radius_to_m=boom.radius_max_m - 1e-6,
                         interpolation="linear" if machine.interpolation_allowed else "none",
                         setting_tolerance_m=machine.setting_tolerance_m)  # fmt: skip


def search_problem(job: Job, lift_ids: Sequence[str], *, step_m: float = 1.0,
                   heading_step_deg: float = 15.0) -> SearchProblem:  # fmt: skip
    """Search over the whole stand area for lifts of one machine and mat.

    Raises: No lift, lifts of different machines or mats, or a heading step that does not divide 360.
    """
    if not lift_ids:
        raise InputError.of("lift_ids", [], "at least one lift")
    lifts = [job.for_lift(i).lifts[0] for i in lift_ids]
    if len({(i.machine, i.mat) for i in lifts}) > 1:
        kinds = sorted({f"{i.machine} on {i.mat}" for i in lifts})
        raise InputError.of("lift_ids", kinds, "lifts of one machine on one mat")
    if not (heading_step_deg > 0 and abs(360 / heading_step_deg % 1) < 1e-9):
        raise InputError.of("heading_step_deg", heading_step_deg, "a divisor of 360")
    soft = soft_zones(build_setup(job, lifts[0].id))
    machine, mat = job.machine(lifts[0].machine), job.mat(lifts[0].mat)
    ground = standing_ground(job.site, job.rules, mat, left_out=soft)
    tasks = tuple(
        LiftDuty(
            name=i.id, gross_t=build_setup(job, i.id).gross_t,
            pick_m=(i.pick.easting_m, i.pick.northing_m),
            set_down_m=(i.set_down.easting_m, i.set_down.northing_m), capacity=_capacity(job, i.id),
            slew_way=i.slew_way,
        )
        for i in lifts
    )  # fmt: skip
    return SearchProblem(
        ground=ground, machine=standing_machine(machine, mat),
        grid=StandGrid.over(ground.allowed, step_m=step_m),
        headings_deg=tuple(float(h) for h in np.arange(0.0, 360.0, heading_step_deg)), lifts=tasks,
        limit=job.rules.utilisation_limit_percent / 100,
    )  # fmt: skip


def job_at(job: Job, lift_id: str, place: StandPlace) -> Job:
    """The job with one lift moved to a place: stand, level, heading and legs."""
    lift = job.for_lift(lift_id).lifts[0]
    stand = {name: getattr(place, name) for name in ("easting_m", "northing_m", "heading_deg")}
    level = round(float(ground_level_m(job.site, place.easting_m, place.northing_m)), 3)
    legs = dict(zip(LEG_NAMES, place.extension_m, strict=True))
    moved = lift.model_copy(update={
        "stand": lift.stand.model_copy(update=stand | {"level_m": level}),
        "legs": lift.legs.model_copy(update=legs),
    })  # fmt: skip
    try:  # nested facts are taken as they stand
        return job.with_lift(moved)
    except ValidationError as error:
        raise input_error(error) from None


_SHEETS: tuple[Callable[[LiftAssessment], tuple[Check, ...]], ...] = (
    lambda a: a.survey, lambda a: a.layout, lambda a: a.lift, lambda a: a.bearing_rows, lambda a: a.slip_rows,
)  # fmt: skip
"""Asked for one by one: the ground of a place whose lift fails is never calculated."""


class SheetCheck:
    """Full check of places by the rows of every sheet, for named lifts of a job.

    What no place can change, and what was once checked, is calculated once for each lift. *stop* is
    asked before each lift.
    """

    def __init__(self, job: Job, *, stop: Callable[[], bool] | None = None) -> None:
        self.job, self.stop = job, stop
        self.made = 0
        """Full checks of places made."""
        self._most: dict[tuple[str, str], dict[str, float]] = {}
        self._known: dict[tuple[object, ...], str] = {}

    def __call__(self, place: StandPlace, lift_ids: Sequence[str]) -> tuple[bool, str]:
        """Whether every lift passes there, or why not; the first that does not ends the check.

        Raises: StopAsked: *stop* says so.
        """
        self.made += 1
        for lift_id in lift_ids:
            if self.stop is not None and self.stop():
                raise StopAsked
            reason = self._reason(place, lift_id)
            if reason:
                return False, f"{lift_id}: {reason}"
        return True, ""

    def of(self, *lift_ids: str) -> Callable[[StandPlace], tuple[bool, str]]:
        """The same check for these lifts."""
        return lambda place: self(place, lift_ids)

    def _reason(self, place: StandPlace, lift_id: str) -> str:
        """Why a lift does not pass at a place; empty where it does. Remembered."""
        at = (place.easting_m, place.northing_m, place.heading_deg, place.extension_m)
        if (lift_id, *at) not in self._known:
            self._known[lift_id, *at] = self._judge(place, lift_id)
        return self._known[lift_id, *at]

    def _judge(self, place: StandPlace, lift_id: str) -> str:
        """Rows in the order of the sheets, after the quick screen of soft ground."""
        try:
            assessed = assess_lift(job_at(self.job, lift_id, place), lift_id)
            soft = self._too_soft(assessed)
            if soft:
                return soft
            for rows in _SHEETS:
                failed = [c for c in rows(assessed) if c.status != "within"]
                if failed:
                    on = failed[0].condition
                    return failed[0].title + (f": only on condition: {on}" if on else "")
        except LiftcalcError as error:
            return str(error).splitlines()[0]
        return ""

    def _too_soft(self, assessed: LiftAssessment) -> str:
        """Quick refusal by ground that cannot carry a leg; empty where it may."""
        setup, forces = assessed.setup, assessed.forces.design_kN
        mat = (setup.mat.id, setup.machine.id)
        if mat not in self._most:
            self._most[mat] = most_force_by_zone_kN(setup)
        for leg, force, zones in zip(LEG_NAMES, forces, assessed.place.zones, strict=True):
            for zone in zones.split(", "):
                if zone and force > self._most[mat].get(zone, np.inf):
                    return f"Pressure under the mat of outrigger {leg} on {zone}"
        return ""
