"""The calculation of what all mats together do to ground, services and walls below and beside them.

Source: Newmark 1935 and Fadum 1948, corner of a rectangle, from Boussinesq 1885.
"""

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_layers import Way
from liftcalc.lift.calculation_level import effective_area_rows
from liftcalc.lift.calculation_mat import mat_rows
from liftcalc.lift.calculation_mechanism import allowable_rows
from liftcalc.lift.ground_facts import ground_profile
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.leg_ground import LegGround, mats_in_plan

NEWMARK = "Newmark 1935, Fadum 1948 (Boussinesq), corners of the mat summed"


def place_words(easting_m: float, northing_m: float) -> str:
    """A place on the site."""
    return f"{amount(easting_m, 'length_m')} E, {amount(northing_m, 'length_m')} N"


def state_words(a: LiftAssessment, state: int) -> str:
    """Which of the states on the path and with the empty hook one is."""
    if state < len(a.path):
        return a.path.describe(state)
    return f"empty hook at minimum radius, slew {state - len(a.path)}°"


def influence_rows(
    c: Calculation, a: LiftAssessment, study: GroundStudy, *, state: int, influence: FloatArray
) -> None:
    """Pressure under each mat in one state, and what 1 kPa under it adds at the place looked at."""
    forces = a.forces.states_kN[state]
    mat_rows(c, a)
    effective_area_rows(c, study)
    c.note("State", state_words(a, state), "", "the one with the maximum sum")
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


def neighbour_section(
    c: Calculation, a: LiftAssessment, study: GroundStudy, g: LegGround, check: Check
) -> None:
    """Pressure raised by the stress of all mats, against what the deeper layer allows."""
    added = g.neighbours
    assert added is not None
    n, k = g.name, [one.name for one in study.legs].index(g.name)
    mats = mats_in_plan(a.setup, study.legs)
    share = mats.stress_kPa(
        1.0, np.array([added.depth_m]), x_m=mats.x_m[k : k + 1], y_m=mats.y_m[k : k + 1]
    )[0]
    pressure = (a.forces.states_kN + study.mat.weight_kN) / np.array(
        [one.area_m2 for one in study.legs]
    )
    state = int(np.argmax(pressure @ (share / share[k])))
    c.section(check)
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
