"""The calculation of the ground pressure sheet, from the inputs to each check that governs.

Calculated are the governing check, each check at or above 80 % of its limit, and always reaction,
pressure and allowable pressure of the outrigger that governs. What is found by iteration or search
is given with its result; what follows from it is calculated again. With what all mats together do
below and beside them: to deeper ground, buried services, retaining walls and edges.

Sources: Newmark 1935 and Fadum 1948, corner of a rectangle, from Boussinesq 1885; Terzaghi 1954;
Bishop 1955: beside each row.
"""

from collections.abc import Sequence

import numpy as np
from shapely.geometry import LineString

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, verdict
from liftcalc.base.text import amount
from liftcalc.ground.pipes import impact_factor
from liftcalc.ground.safety import EN1997_DA1_2
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_legs import reaction_section
from liftcalc.lift.calculation_lift import NEAR
from liftcalc.lift.calculation_mat import (
    bending_section,
    effective_area_rows,
    effective_rows,
    mat_rows,
    settled_section,
    settlement_section,
    strength_section,
    tilt_section,
)
from liftcalc.lift.calculation_mechanism import Way, allowable_rows
from liftcalc.lift.calculation_place import place_section
from liftcalc.lift.edge_slip import SAFETY
from liftcalc.lift.ground_facts import ground_profile, leg_spacing_m
from liftcalc.lift.ground_services import wall_parts_kPa
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.leg_ground import LegGround, mats_in_plan

NEWMARK = "Newmark 1935, Fadum 1948 (Boussinesq), corners of the mat summed"


def place_words(easting_m: float, northing_m: float) -> str:
    return f"{amount(easting_m, 'length_m')} E, {amount(northing_m, 'length_m')} N"


def influence_rows(c: Calculation, a: LiftAssessment, study: GroundStudy, *, state: int, influence: FloatArray) -> None:
    """Pressure under each mat in one state, and what 1 kPa under it adds at the place looked at."""
    forces = a.forces.states_kN[state]
    mat_rows(c, a)
    effective_area_rows(c, study)
    where = f"empty hook at minimum radius, slew {state - len(a.path)}°"
    if state < len(a.path):
        where = a.path.describe(state)
    c.note("State", where, "", "the one with the maximum sum")
    middles = zip(study.legs, a.setup.leg_site_xy_m, strict=True)
    c.note("Middles of the mats", "; ".join(f"{g.name} {place_words(*xy)}" for g, xy in middles),
           f"length at {a.setup.lift.stand.heading_deg % 360:g}° from east",
           "coordinates; length along the crane")  # fmt: skip
    source, here = "calculated as in the section of its reaction", "in this state"
    for g, force, share in zip(study.legs, forces, influence, strict=True):
        c.facts(source, R_of=float(force), of=g.name, detail=here)
        c.steps("p_of", of=g.name, detail=here)
        c.facts(I_of=float(share), of=g.name)


def neighbour_section(c: Calculation, a: LiftAssessment, study: GroundStudy, g: LegGround, check: Check) -> None:
    """Pressure raised by the stress of all mats, against what the deeper layer allows."""
    added = g.neighbours
    assert added is not None
    n, k = g.name, [one.name for one in study.legs].index(g.name)
    mats = mats_in_plan(a.setup, study.legs)
    x, y, depth = mats.x_m[k : k + 1], mats.y_m[k : k + 1], np.array([added.depth_m])
    share = mats.stress_kPa(1.0, depth, x_m=x, y_m=y)[0]
    area = np.array([one.area_m2 for one in study.legs])
    pressure = (a.forces.states_kN + study.mat.weight_kN) / area
    state = int(np.argmax(pressure @ (share / share[k])))
    place = a.setup.leg_site_xy_m[k]
    c.note("Point checked", f"below the middle of the mat of {n}: {place_words(*place)}",
           f"top of {added.layer}, {amount(added.depth_m, 'length_m')} down", NEWMARK)  # fmt: skip
    influence_rows(c, a, study, state=state, influence=share)
    c.steps("p_N_of", p_N_of=added.pressure_kPa, of=n)
    profile = ground_profile(a.setup.site.profile(added.profile), a.setup.mat.width_m)
    way = Way(g, profile, added.mechanism, added.layer, added.allowable_kPa, float("inf"), "q_N_of")
    allowable_rows(c, a.setup, way)
    c.reaches(check, f"p_N{n}", f"q_N{n}")


def service_section(c: Calculation, a: LiftAssessment, study: GroundStudy, check: Check) -> None:
    """Stress of all mats on the crown of a service, its cover included, against its limit."""
    one = next(s for s in study.services if f"service-{s.service.id}" == check.id)
    load, service = one.load, one.service
    state = int(np.argmax(load.total_kPa))
    x, y = float(load.worst_x_m[state]), float(load.worst_y_m[state])
    mats = mats_in_plan(a.setup, study.legs)
    share = mats.stress_kPa(1.0, service.crown_depth_m, x_m=np.array([x]), y_m=np.array([y]))[0]
    c.note("Point checked", place_words(x, y),
           f"crown {amount(service.crown_depth_m, 'length_m')} below the ground",
           "the worst of the whole crown, found by search")  # fmt: skip
    influence_rows(c, a, study, state=state, influence=share)
    weight = max(layer.unit_weight_kN_m3 for g in study.legs for layer in g.profile.layers)
    c.facts(h_c_beside=service.crown_depth_m, gamma_c0=weight)
    c.facts(f_i=float(impact_factor(service.crown_depth_m)))
    live, total = float(load.live_kPa[state]), float(load.total_kPa[state])
    c.steps("sigma_L sigma_v", sigma_L=live, sigma_v=total)
    c.ends(check, "sigma_v", "sigma_a", known=service.allowable_stress_kPa or 0.0)


def wall_section(c: Calculation, a: LiftAssessment, study: GroundStudy, check: Check) -> None:
    """Sideways pressure of all mats on a wall, mat by mat, against what it may carry."""
    wall, pressure, depth = next(w for w in study.walls if f"wall-{w[0].id}" == check.id)
    station, parts = wall_parts_kPa(a.place, a.forces.design_kN, wall, depth)
    at = LineString(wall.line).interpolate(station)
    c.note("Point checked", f"{at.x:.3f} E, {at.y:.3f} N, {depth:.3f} m below the top",
           f"height retained {wall.retained_height_m:g} m",
           "the worst of the wall, found by search")  # fmt: skip
    kind = "yielding: 75 %" if wall.yielding else "rigid"
    source = f"Terzaghi 1954, point load, integrated over the mat; wall {kind}"
    for k, g in enumerate(study.legs):
        n, force = g.name, float(a.forces.design_kN[k])
        c.facts(R_of=force, of=n, detail="its maximum")
        c.facts(source, w_of=float(parts[k]) / force if force else 0.0, of=n)
    c.steps("sigma_h", sigma_h=pressure)
    c.ends(check, "sigma_h", "sigma_w", known=wall.allowable_surcharge_kPa or 0.0)


def slip_section(c: Calculation, a: LiftAssessment, study: GroundStudy, check: Check) -> None:
    """Forces along the least safe circle under an edge."""
    edge = check.id.removeprefix("slip-")
    slips = [s for s in a.slips if s.edge == edge and s.result is not None]
    worst = min(slips, key=lambda s: s.result.safety_factor if s.result else np.inf)
    found, factored = worst.result, a.setup.rules.ground.safety == "en1997 DA1"
    assert found is not None
    mat_rows(c, a)
    g = next(g for g in study.legs if g.name == worst.leg)
    c.facts(R_of=g.reaction_kN, of=g.name, detail="its maximum")
    c.facts(check.reference, gamma_S=EN1997_DA1_2.load if factored else 1.0)
    c.steps("p_S", of=g.name)
    c.facts(x_S=worst.distance_m, h_S=worst.height_m)
    c.note("Circle with the minimum safety",
           f"centre {amount(found.centre_x_m, 'length_m')} out from the crest and "
           f"{amount(found.centre_z_m, 'length_m')} above it, radius "
           f"{amount(found.radius_m, 'length_m')}", f"{worst.strength} strength of {g.profile.id}",
           "Bishop 1955, found by search")  # fmt: skip
    c.facts(F_r=found.resisting_kN_m, F_d=found.driving_kN_m)
    c.work("F_S", value=found.safety_factor, tolerance=1e-5)
    c.ends(check, "F_S", "F_a", known=1.0 if factored else SAFETY)


_OF_LEG = ("ground-neighbours", "ground", "mat-bending", "mat", "settlement", "leg")
_SECTIONS_OF_LEG = {"mat": strength_section, "mat-bending": bending_section, "settlement": settlement_section}


def _split(check: Check) -> tuple[str, str]:
    """Kind of a check and its outrigger; no outrigger for what concerns the crane as a whole."""
    kind, _, name = check.id.rpartition("-")
    return (kind, name) if kind in _OF_LEG else (check.id, "")


def _worked(study: GroundStudy, checks: Sequence[Check]) -> list[Check]:
    """Checks whose calculation is printed: of outriggers with what they rest on, then the rest."""
    governing = verdict(checks).governing
    # the outrigger of the governing check; else the one whose ground comes nearest its limit
    nearest = max(study.legs, key=lambda g: g.pressure_kPa / max(g.allowable_kPa, 1e-9)).name
    first = _split(governing)[1] or nearest
    wanted = {f"leg-{first}", f"ground-{first}"}
    shown = [c for c in checks if c.value is not None and c.limit is not None]
    for c in shown:
        near = c.utilisation is not None and c.utilisation >= NEAR
        if near or c.status == "over" or c.id == governing.id:
            kind, name = _split(c)
            wanted |= {c.id} | ({f"leg-{name}"} if name else set())
            wanted |= {f"ground-{name}"} if name and kind != "leg" else set()
    order = ("leg", "ground", "mat", "mat-bending", "settlement", "ground-neighbours")

    def rank(c: Check) -> tuple[int, int, int]:
        kind, name = _split(c)
        if not name:
            return 9, 0, 0
        place = [g.name for g in study.legs].index(name)
        return 0, -1 if name == first else place, order.index(kind)

    return sorted((c for c in shown if c.id in wanted), key=rank)


def ground_calculation(a: LiftAssessment, checks: Sequence[Check]) -> Calculation:
    """The calculation of a ground pressure sheet; *checks* are the rows that it shows."""
    c, study = Calculation(), a.ground
    if study is None:
        c.section(None, "Outriggers")
        c.note("No equilibrium", "the resultant of all weights leaves the base on this path",
               "the crane tips over: DO NOT LIFT", "statics; see the lift check")  # fmt: skip
        return c
    place_section(c, a.setup, a.path)
    gross_section(c, a.setup)
    for check in _worked(study, checks):
        _work(c, a, study, check)
    governing = verdict(checks).governing
    if governing.value is None or governing.limit is None:
        c.section(governing)
        c.note(governing.title, governing.remedy, governing.words, governing.reference)
    return c


def _work(c: Calculation, a: LiftAssessment, study: GroundStudy, check: Check) -> None:
    kind, name = _split(check)
    g = next((g for g in study.legs if g.name == name), None)
    if g is None:
        found = (section for start, section in _OF_SITE.items() if check.id.startswith(start))
        if (section := next(found, None)) is not None:
            c.section(check)
            section(c, a, study, check)
        return
    c.section(check)
    if kind == "leg":
        reaction_section(c, a, check)
    elif kind == "ground":
        ground_section(c, a, g, check)
    elif kind == "ground-neighbours":
        neighbour_section(c, a, study, g, check)
    else:
        _SECTIONS_OF_LEG[kind](c, a, g, check)


def ground_section(c: Calculation, a: LiftAssessment, g: LegGround, check: Check) -> None:
    """Effective area, pressure, and what the ground allows there, by its governing mechanism."""
    effective_rows(c, a, g)
    c.note("Mechanism that governs", f"{g.mechanism}, {g.layer}, zone {g.zone}",
           "others: table of mechanisms",
           "the lowest of every mechanism of every layer")  # fmt: skip
    allowable_rows(c, a.setup, governing_way(a, g))
    c.reaches(check, f"p_{g.name}", f"q_{g.name}")


def governing_way(a: LiftAssessment, g: LegGround) -> Way:
    """The mechanism that governs one outrigger."""
    return Way(g, ground_profile(g.profile, a.setup.mat.width_m), g.mechanism, g.layer,
               g.allowable_kPa, leg_spacing_m(a.setup), "q_of")  # fmt: skip


_OF_SITE = {"tilt": tilt_section, "capacity-settled": settled_section, "service-": service_section,
            "wall-": wall_section, "slip-": slip_section}  # fmt: skip
"""Sections of what concerns the crane or the site as a whole, by the start of the check's id."""
