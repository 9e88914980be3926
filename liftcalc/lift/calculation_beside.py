"""The calculation of what all mats together do below and beside them.

To deeper ground, buried services, retaining walls and edges. Where the worst place is found by a
search, it is given; the stress there is calculated again.

Sources: Newmark 1935 and Fadum 1948, corner of a rectangle, from Boussinesq 1885; Terzaghi 1954;
Bishop 1955: beside each row.
"""

import numpy as np
from shapely.geometry import LineString

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.ground.pipes import impact_factor
from liftcalc.ground.safety import EN1997_DA1_2
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_level import effective_area_rows
from liftcalc.lift.calculation_mat import mat_rows
from liftcalc.lift.calculation_mechanism import Way, allowable_rows
from liftcalc.lift.edge_slip import SAFETY
from liftcalc.lift.ground_facts import ground_profile
from liftcalc.lift.ground_services import wall_parts_kPa
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.leg_ground import LegGround, mats_in_plan

NEWMARK = "Newmark 1935, Fadum 1948 (Boussinesq), corners of the mat summed"


def place_words(easting_m: float, northing_m: float) -> str:
    return f"{amount(easting_m, 'length_m')} E, {amount(northing_m, 'length_m')} N"


def influence_rows(c: Calculation, a: LiftAssessment, study: GroundStudy, *, state: int,
                   influence: FloatArray) -> None:  # fmt: skip
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
    for g, force, share in zip(study.legs, forces, influence, strict=True):
        n = g.name
        c.given(f"R_{n}", f"reaction of outrigger {n}", float(force), "kN",
                "calculated as in the section of its reaction", detail="in this state")  # fmt: skip
        c.step(f"p_{n}", f"pressure under the mat of {n}", f"(R_{n} + W) / (L_{n} * B_{n})", "kPa",
               "vertical equilibrium", detail="in this state")  # fmt: skip
        what = f"influence of the mat of {n}, stress over its pressure"
        c.given(f"I_{n}", what, float(share), "", NEWMARK, digits=6)


def neighbour_section(c: Calculation, a: LiftAssessment, study: GroundStudy, g: LegGround,
                      check: Check) -> None:  # fmt: skip
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
    all_mats = " + ".join(f"p_{one.name} * I_{one.name}" for one in study.legs)
    c.step(f"p_N{n}", f"pressure under {n} raised by the stress of all mats",
           f"({all_mats}) / I_{n}", "kPa", "stress of all mats over that of its own",
           value=added.pressure_kPa)  # fmt: skip
    profile = ground_profile(a.setup.site.profile(added.profile), a.setup.mat.width_m)
    way = Way(g, profile, added.mechanism, added.layer, added.allowable_kPa, float("inf"),
              f"q_N{n}", f"allowable pressure under {n} by the layer below")  # fmt: skip
    allowable_rows(c, a.setup, way)
    c.reaches(check, f"p_N{n}", f"q_N{n}")


_SURVEY = "survey"


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
    c.given("h_c", "cover above the crown", service.crown_depth_m, "m", _SURVEY)
    weight = max(layer.unit_weight_kN_m3 for g in study.legs for layer in g.profile.layers)
    c.given("gamma_c0", "unit weight of the cover", weight, "kN/m³", "maximum of the layers")
    factor = float(impact_factor(service.crown_depth_m))
    traffic = "by the cover, as for traffic; on standing outriggers on the safe side"
    c.given("f_i", "impact factor", factor, "", f"Moser, Table 2.5: {traffic}", digits=2)
    live = " + ".join(f"p_{g.name} * I_{g.name}" for g in study.legs)
    c.step("sigma_L", "stress of all mats on the crown", f"f_i * ({live})", "kPa", "Boussinesq",
           value=float(load.live_kPa[state]))  # fmt: skip
    c.step("sigma_v", "vertical stress on the crown, cover included", "sigma_L + gamma_c0 * h_c",
           "kPa", "prism load of the cover", value=float(load.total_kPa[state]))  # fmt: skip
    limit = service.allowable_stress_kPa or 0.0
    c.given("sigma_a", "allowed stress on the crown", limit, "kPa", _SURVEY)
    c.reaches(check, "sigma_v", "sigma_a")


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
        c.given(f"R_{n}", f"reaction of outrigger {n}", force, "kN", "its maximum reaction",
                detail="its maximum")  # fmt: skip
        c.given(f"w_{n}", f"pressure on the wall by each kN on {n}", float(parts[k]) / force
                if force else 0.0, "1/m²", source, digits=6)  # fmt: skip
    total = " + ".join(f"R_{g.name} * w_{g.name}" for g in study.legs)
    c.step("sigma_h", "sideways pressure of all mats on the wall", total, "kPa", "sum",
           value=pressure)  # fmt: skip
    limit = wall.allowable_surcharge_kPa or 0.0
    c.given("sigma_w", "allowed sideways pressure", limit, "kPa", _SURVEY)
    c.reaches(check, "sigma_h", "sigma_w")


def slip_section(c: Calculation, a: LiftAssessment, study: GroundStudy, check: Check) -> None:
    """Forces along the least safe circle under an edge."""
    edge = check.id.removeprefix("slip-")
    slips = [s for s in a.slips if s.edge == edge and s.result is not None]
    worst = min(slips, key=lambda s: s.result.safety_factor if s.result else np.inf)
    found, factored = worst.result, a.setup.rules.ground.safety == "en1997 DA1"
    assert found is not None
    n = worst.leg
    mat_rows(c, a)
    g = next(g for g in study.legs if g.name == n)
    c.given(f"R_{n}", f"reaction of outrigger {n}", g.reaction_kN, "kN", "its maximum reaction",
            detail="its maximum")  # fmt: skip
    load = EN1997_DA1_2.load if factored else 1.0
    c.given("gamma_S", "factor on the load beside the edge", load, "", check.reference, digits=2)
    whole = f"gamma_S * (R_{n} + W) / (L_m * B_m)"
    c.step("p_S", "strip load on the crest", whole, "kPa", "whole mat, endless along the edge")
    c.given("x_S", "mat to the edge", worst.distance_m, "m", _SURVEY)
    c.given("h_S", "height of the edge", worst.height_m, "m", _SURVEY)
    c.note("Circle with the minimum safety",
           f"centre {amount(found.centre_x_m, 'length_m')} out from the crest and "
           f"{amount(found.centre_z_m, 'length_m')} above it, radius "
           f"{amount(found.radius_m, 'length_m')}", f"{worst.strength} strength of {g.profile.id}",
           "Bishop 1955, found by search")  # fmt: skip
    source = "sum over the slices of that circle"
    c.given("F_r", "resisting force along the circle", found.resisting_kN_m, "kN/m", source)
    c.given("F_d", "driving force along the circle", found.driving_kN_m, "kN/m", source)
    c.step("F_S", "factor of safety against slip", "F_r / F_d", "", "Bishop 1955",
           value=found.safety_factor, tolerance=1e-5)  # fmt: skip
    c.given("F_a", "factor of safety asked for", 1.0 if factored else SAFETY, "", check.reference)
    c.reaches(check, "F_S", "F_a")
