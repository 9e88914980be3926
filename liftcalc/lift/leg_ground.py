"""Ground and mat under each leg: the worst ground that the mat touches, at the greatest force.

The mat's effective length is found, not assumed; the allowable pressure is the lowest of every
mechanism that applies to the layers (:mod:`liftcalc.ground.check`).

Sources: those of :mod:`liftcalc.ground.check` and :mod:`liftcalc.ground.stress`.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.mats import Mat
from liftcalc.ground.check import ElasticBending, NeighbourStress, elastic_bending, mat_on_ground, neighbour_stress
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.mats import MatCheck
from liftcalc.ground.stress import MatsInPlan, elastic_settlement_m
from liftcalc.lift.ground_facts import bearing_rule, ground_profile, mat_properties, zones_under
from liftcalc.lift.leg_springs import ground_spring_kN_m, least_modulus
from liftcalc.lift.placing import Placing, mat_turn_deg
from liftcalc.lift.setup import Setup

_PARTS = ("bending", "shear", "crushing", "punching")


@dataclass(frozen=True, eq=False)
class LegGround:
    """One leg: its ground, its mat under the design force, and how far it settles."""

    name: str
    zone: str
    profile: SurveyedProfile
    reaction_kN: float
    effective_length_m: float
    effective_width_m: float
    pressure_kPa: float
    allowable_kPa: float
    mechanism: str
    layer: str
    mechanisms: tuple[tuple[str, str, float], ...]
    """Every mechanism checked: name, layer, allowable pressure [kPa]."""
    mat_utilisation: dict[str, float]
    """Strength at the effective length, by part."""
    elastic_bending: ElasticBending
    """The whole mat as a beam on the ground's springs under the same force."""
    utilisation: float
    """Greatest of bearing, strength and bending of the mat."""
    stiffness_kN_m: float
    """Vertical stiffness of the ground under the mat; NaN where no modulus is known."""
    settlement_m: float
    warnings: tuple[str, ...]
    neighbours: NeighbourStress | None = None
    """Deeper layers under the stress of all legs; None where the ground has one layer."""

    @property
    def area_m2(self) -> float:
        return self.effective_length_m * self.effective_width_m


def _stiffness_and_settlement(profile: SurveyedProfile, mat: MatProperties, force: float,
                              length: float, width: float) -> tuple[float, float]:  # fmt: skip
    spring = ground_spring_kN_m(profile, mat_width_m=mat.width_m, length_m=length, width_m=width)
    modulus, poisson = least_modulus(profile, mat.width_m)
    if not np.isfinite(modulus):
        return spring, force / spring
    settled = elastic_settlement_m(force / (length * width), modulus, length_m=length,
                                   width_m=width, poisson=poisson, position="average")  # fmt: skip
    return spring, float(settled)


def bending_on(mat: MatProperties, fact: SurveyedProfile, force_kN: float, *, width_m: float,
               float_length_m: float) -> ElasticBending:  # fmt: skip
    """Bending of the whole mat on the springs of one ground."""
    modulus, poisson = least_modulus(fact, mat.width_m)
    return elastic_bending(mat, force_kN, width_m=width_m, float_length_m=float_length_m,
                           modulus_kPa=modulus, poisson=poisson,
                           surveyed_kN_m3=fact.subgrade_modulus_kN_m3)  # fmt: skip


def _on_zone(setup: Setup, mat: MatProperties, zone: str, members: list[int],
             forces: FloatArray) -> dict[int, LegGround]:  # fmt: skip
    """Legs *members*, floats alike, with their mats on one zone."""
    legs = [setup.machine.legs[k] for k in members]
    fact = setup.site.profile({z.id: z.profile for z in setup.site.zones}[zone])
    force = forces[members]
    on_ground = mat_on_ground(mat, force, ground_profile(fact, mat.width_m), bearing_rule(setup),
                              float_length_m=legs[0].float_length_m,
                              float_width_m=legs[0].float_width_m)  # fmt: skip
    check, bearing = on_ground.check, on_ground.bearing
    length, width = check.effective_length_m, check.effective_width_m
    unit = {
        wide: bending_on(mat, fact, 1.0, width_m=wide, float_length_m=legs[0].float_length_m)
        for wide in dict.fromkeys(width.tolist())
    }  # moments are proportional to the force
    grounds = {}
    for n, (k, leg) in enumerate(zip(members, legs, strict=True)):
        one = unit[float(width[n])]
        bent = dataclasses.replace(one, moment_kNm=float(force[n]) * one.moment_kNm)
        spring, settled = _stiffness_and_settlement(fact, mat, float(force[n]), float(length[n]), float(width[n]))
        mechanisms = ((m.name, m.layer, float(m.q_allowable_kPa[n])) for m in bearing.mechanisms)
        used = {part: float(getattr(check, f"{part}_utilisation")[n]) for part in _PARTS}
        grounds[k] = LegGround(
            name=leg.name, zone=zone, profile=fact, reaction_kN=float(force[n]), effective_length_m=float(length[n]),
            effective_width_m=float(width[n]), pressure_kPa=float(check.pressure_kPa[n]),
            allowable_kPa=float(check.allowable_kPa[n]), mechanism=str(bearing.governing_name[n]),
            layer=str(bearing.governing_layer[n]), mechanisms=tuple(mechanisms), mat_utilisation=used,
            elastic_bending=bent, utilisation=float(np.fmax(check.utilisation[n], bent.utilisation)),
            stiffness_kN_m=spring, settlement_m=settled, warnings=bearing.warnings,
        )  # fmt: skip
    return grounds


def leg_grounds(setup: Setup, place: Placing, mat: MatProperties, forces: FloatArray) -> tuple[LegGround, ...]:
    """Every leg on the worst ground under its mat; legs on the same ground are done at once."""
    groups: dict[tuple[str, float, float], list[int]] = {}
    for k, leg in enumerate(setup.machine.legs):
        for zone in zones_under(setup, place, k):
            groups.setdefault((zone, leg.float_length_m, leg.float_width_m), []).append(k)
    on_zones: dict[int, list[LegGround]] = {}
    for (zone, _, _), members in groups.items():
        for k, ground in _on_zone(setup, mat, zone, members, forces).items():
            on_zones.setdefault(k, []).append(ground)
    return tuple(_worst(on_zones[k]) for k in range(len(setup.machine.legs)))


def _worst(grounds: list[LegGround]) -> LegGround:
    """The ground that uses the mat most; a mat on two kinds of ground bends as on the worse one.

    Ground without a modulus is the worse one: how the mat bends there is unknown.
    """
    worst = max(grounds, key=lambda g: g.utilisation)
    bends = max((g.elastic_bending for g in grounds),
                key=lambda b: b.utilisation if np.isfinite(b.utilisation) else np.inf)  # fmt: skip
    return dataclasses.replace(worst, elastic_bending=bends)


def mats_in_plan(setup: Setup, legs: Sequence[LegGround]) -> MatsInPlan:
    """Bearing areas of all mats, in site coordinates."""
    return MatsInPlan(x_m=setup.leg_site_xy_m[:, 0], y_m=setup.leg_site_xy_m[:, 1],
                      length_m=np.array([g.effective_length_m for g in legs]),
                      width_m=np.array([g.effective_width_m for g in legs]),
                      orientation_deg=mat_turn_deg(setup))  # fmt: skip


def with_neighbours(setup: Setup, place: Placing, mat: MatProperties, legs: Sequence[LegGround],
                    pressure_kPa: FloatArray) -> tuple[LegGround, ...]:  # fmt: skip
    """The legs with what the others add below them, on the worst ground that each mat touches.

    *pressure_kPa* is the pressure under each mat in every state, shape (S, 4).
    """
    touching: dict[str, list[int]] = {}
    for k in range(len(legs)):
        for zone in zones_under(setup, place, k):
            touching.setdefault(zone, []).append(k)
    profiles, mats = {z.id: z.profile for z in setup.site.zones}, mats_in_plan(setup, legs)
    worst: list[NeighbourStress | None] = [None] * len(legs)
    for zone, members in touching.items():
        profile = ground_profile(setup.site.profile(profiles[zone]), mat.width_m)
        stresses = neighbour_stress(profile, bearing_rule(setup), legs=members, mats=mats, pressure_kPa=pressure_kPa)
        for k, stress in zip(members, stresses, strict=True):
            before = worst[k]
            if stress and (before is None or stress.utilisation > before.utilisation):
                worst[k] = stress
    return tuple(dataclasses.replace(g, neighbours=worst[k]) for k, g in enumerate(legs))


def mat_check_of(setup: Setup, g: LegGround, mat: MatProperties | None = None) -> MatCheck:
    """The check of a mat under one outrigger on its ground; of the lift's own mat by default."""
    leg = next(one for one in setup.machine.legs if one.name == g.name)
    plain = mat_properties(setup.mat) if mat is None else mat
    return mat_on_ground(plain, g.reaction_kN, ground_profile(g.profile, plain.width_m),
                         bearing_rule(setup), float_length_m=leg.float_length_m,
                         float_width_m=leg.float_width_m).check  # fmt: skip


@dataclass(frozen=True)
class MatTrial:
    """A mat of the shelf under one leg: what it would use, greatest of every check, and by what."""

    utilisation: float
    governs: str


def mat_trial(setup: Setup, g: LegGround, mat: Mat) -> MatTrial:
    """The check of a leg on its ground with another mat; infinite where the float does not fit."""
    leg = next(one for one in setup.machine.legs if one.name == g.name)
    plain = mat_properties(mat)
    if leg.float_length_m > plain.length_m or leg.float_width_m > plain.width_m:
        return MatTrial(float("inf"), "the float does not fit")
    check = mat_check_of(setup, g, plain)
    bent = bending_on(plain, g.profile, g.reaction_kN, width_m=float(check.effective_width_m),
                      float_length_m=leg.float_length_m).utilisation  # fmt: skip
    if bent > float(check.utilisation):
        return MatTrial(bent, "bending on the ground")
    return MatTrial(float(check.utilisation), str(np.ravel(check.governs)[0]))
