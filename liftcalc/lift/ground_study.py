"""Ground and mat checks of one lift, leg by leg.

Each leg takes the worst ground its mat touches. The mat's effective length is found, not assumed;
the allowable pressure is the lowest of every mechanism that applies to the layers
(:mod:`liftcalc.ground.allowable`). Settlement, tilt and radius are iterated to agreement
(:mod:`liftcalc.ground.level`).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.base.errors import ConvergenceError, InputError
from liftcalc.base.units import G_M_S2
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.mats import Mat
from liftcalc.facts.surveyed import BuriedService, RetainingWall
from liftcalc.ground.allowable import AllowablePressure, allowable_pressure
from liftcalc.ground.beam import centred_beam, subgrade_modulus_vesic_kN_m3
from liftcalc.ground.level import LevelledState, levelled_state
from liftcalc.ground.mats import MatProperties, mat_check
from liftcalc.ground.pipes import ServiceLoad, impact_factor, service_load, slab_load
from liftcalc.ground.presumptive import presumptive_pressure
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.ground.safety import EN1997_DA1, Safety, global_factor
from liftcalc.ground.settlement import elastic_settlement_m
from liftcalc.ground.walls import patch_wall_pressure_kPa
from liftcalc.ground.zones import mat_conflicts
from liftcalc.lift.leg_forces import LegForces, leg_checks
from liftcalc.lift.leg_springs import ground_spring_kN_m, least_modulus
from liftcalc.lift.placing import Placing, mat_turn_deg, placing
from liftcalc.lift.settled_capacity import settled_capacity_check
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.survey_checks import survey_checks
from liftcalc.reactions.carrier import leg_reactions_kN
from liftcalc.reactions.moments import resultant

__all__ = [
    "ElasticBending",
    "GroundStudy",
    "LegGround",
    "elastic_bending",
    "ground_checks",
    "all_ground_checks",
    "ground_profile",
    "study_ground",
    "ground_study",
    "mat_properties",
]

STRENGTH_DIVISOR = 2.0


@dataclass(frozen=True)
class ElasticBending:
    """A mat under one leg as a beam on springs that cannot pull; NaN where none is known."""

    subgrade_kN_m3: float
    moment_kNm: float
    capacity_kNm: float

    @property
    def utilisation(self) -> float:
        """Moment over the mat's allowable moment."""
        return self.moment_kNm / self.capacity_kNm


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
    stiffness_kN_m: float
    """Vertical stiffness of the ground under the mat; NaN where no modulus is known."""
    settlement_m: float
    warnings: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class GroundStudy:
    """All four legs in the order FL, FR, RR, RL, and what lies between and beside them."""

    legs: tuple[LegGround, ...]
    mat: MatProperties
    levelled: LevelledState | None
    level_problem: str
    services: tuple[tuple[str, ServiceLoad, float | None], ...]
    walls: tuple[tuple[RetainingWall, float, float], ...]
    """Wall, greatest sideways pressure [kPa], and the depth at which it acts [m]."""
    safety_words: str
    slabs: dict[str, str]
    """What a buried slab carries as a whole, in words, by its id."""


def mat_properties(mat: Mat) -> MatProperties:
    """Plain properties of a mat; characteristic strengths are halved."""
    basis = mat.strength_basis
    return MatProperties(
        name=mat.id,
        length_m=mat.length_m,
        width_m=mat.width_m,
        thickness_m=mat.thickness_m,
        mass_t=mat.mass_t,
        material=mat.material,
        modulus_kPa=mat.youngs_modulus_kPa,
        bending_strength_kPa=mat.bending_strength_kPa,
        shear_strength_kPa=mat.shear_strength_kPa,
        crushing_strength_kPa=mat.bearing_strength_kPa,
        strength_basis=basis,
        strength_divisor=1.0 if basis == "allowable" else STRENGTH_DIVISOR,
        across=mat.across,
        section_modulus_m3=mat.section_modulus_m3,
        second_moment_m4=mat.second_moment_m4,
        shear_area_m2=mat.shear_area_m2,
    )


def ground_profile(fact: SurveyedProfile, width_m: float) -> GroundProfile:
    """Plain ground profile; a presumptive class, where named, is looked up for the top layer."""
    value, source = None, ""
    if fact.presumptive is not None:
        found = presumptive_pressure(
            fact.presumptive.table,  # type: ignore[arg-type]
            fact.presumptive.name,
            width_m=width_m,
            water_below_base_m=fact.water_depth_m
            if fact.water_depth_m is not None
            else fact.no_water_to_m,
        )
        value, source = found.allowable_kPa, f"{found.owner}, {found.edition}"
    layers = tuple(
        GroundLayer(
            name=layer.name,
            thickness_m=layer.thickness_m,
            unit_weight_kN_m3=layer.unit_weight_kN_m3,
            cu_kPa=layer.cu_kPa,
            phi_deg=layer.phi_deg,
            c_kPa=layer.c_kPa,
            youngs_modulus_kPa=layer.youngs_modulus_kPa,
            poisson=layer.poisson,
            presumptive_kPa=value if k == 0 else None,
            presumptive_source=source if k == 0 else "",
        )
        for k, layer in enumerate(fact.layers)
    )
    return GroundProfile(
        layers=layers,
        water_depth_m=fact.water_depth_m,
        water_not_found_to_m=fact.no_water_to_m,
        voids=fact.voids,
        name=fact.id,
    )


def leg_spacing_m(setup: Setup) -> float:
    """Least distance between two legs; load spread to deep layers stops at the neighbour."""
    xy = setup.leg_xy_m
    apart = np.linalg.norm(xy[:, None] - xy[None, :], axis=-1)
    return float(apart[np.triu_indices(len(xy), 1)].min())


def ground_safety(setup: Setup) -> tuple[tuple[Safety, ...], str]:
    """Safety set of the owner's ground rule, and its words for the sheet."""
    rule = setup.rules.ground
    if rule.safety == "en1997 DA1":
        return tuple(EN1997_DA1), "EN 1997-1 design approach 1, both combinations"
    words = f"factor of safety {rule.factor_of_safety:g} ({rule.reference})"
    return (global_factor(rule.factor_of_safety, source=rule.reference),), words


def _touched(setup: Setup, place: Placing, k: int) -> list[str]:
    """Ground zones under one mat; InputError unless they cover it."""
    shapes = {z.id: Polygon(z.polygon) for z in setup.site.zones}
    touched = [z.strip() for z in place.zones[k].split(",") if z.strip()]
    mat = place.mats[k]
    bare = mat.difference(shapely.union_all([shapes[z] for z in touched])) if touched else mat
    if bare.area > 1e-6 * mat.area:
        raise InputError.of(
            f"mat {setup.machine.legs[k].name}",
            f"{100 * bare.area / mat.area:.0f} % outside every ground zone",
            "wholly within zones of known ground",
            "Survey that ground or move the leg.",
        )
    return touched


def _stiffness_and_settlement(
    profile: SurveyedProfile, mat: MatProperties, force: float, length: float, width: float
) -> tuple[float, float]:
    spring = ground_spring_kN_m(profile, mat_width_m=mat.width_m, length_m=length, width_m=width)
    modulus, poisson = least_modulus(profile, mat.width_m)
    if not np.isfinite(modulus):
        return spring, force / spring
    settled = elastic_settlement_m(
        force / (length * width),
        modulus,
        length_m=length,
        width_m=width,
        poisson=poisson,
        position="average",
    )
    return spring, float(settled)


def elastic_bending(
    mat: MatProperties,
    profile: SurveyedProfile,
    force_kN: float,
    *,
    width_m: float,
    float_length_m: float,
) -> ElasticBending:
    """Bending of the whole mat on the softer of the surveyed subgrade and that of the modulus.

    *width_m* is the width that bears; stiffness and strength go with it. The softer the ground,
    the more a mat bends.
    """
    share = width_m / mat.width_m
    known = [profile.subgrade_modulus_kN_m3] if profile.subgrade_modulus_kN_m3 is not None else []
    modulus, poisson = least_modulus(profile, mat.width_m)
    if np.isfinite(modulus):
        vesic = subgrade_modulus_vesic_kN_m3(
            modulus, width_m, stiffness_kNm2=mat.stiffness_kNm2 * share, poisson=poisson
        )
        known.append(float(vesic))
    capacity = mat.moment_capacity_kNm * share
    if not known:
        return ElasticBending(float("nan"), float("nan"), capacity)
    beam = centred_beam(
        force_kN,
        mat.length_m,
        width_m=width_m,
        stiffness_kNm2=mat.stiffness_kNm2 * share,
        subgrade_modulus_kN_m3=min(known),
        patch_m=float_length_m,
    )
    return ElasticBending(min(known), float(beam.moment_max_kNm), capacity)


def _legs(
    setup: Setup, place: Placing, mat: MatProperties, safety: tuple[Safety, ...], forces: FloatArray
) -> tuple[LegGround, ...]:
    """Every leg on the worst ground under its mat; legs on the same ground are done at once."""
    zones = {z.id: z for z in setup.site.zones}
    groups: dict[tuple[str, float, float], list[int]] = {}
    for k, leg in enumerate(setup.machine.legs):
        for zone in _touched(setup, place, k):
            groups.setdefault((zone, leg.float_length_m, leg.float_width_m), []).append(k)
    spacing = leg_spacing_m(setup)
    worst: dict[int, LegGround] = {}
    bends: dict[int, ElasticBending] = {}
    for (zone, float_length, float_width), members in groups.items():
        fact = setup.site.profile(zones[zone].profile)
        profile = ground_profile(fact, mat.width_m)
        force = forces[members]

        def allowed(width: FloatArray, length: FloatArray) -> AllowablePressure:
            return allowable_pressure(
                profile,  # noqa: B023 (used within this pass only)
                width,
                L_m=length,
                V_kN=force + mat.weight_kN,  # noqa: B023
                safety=safety,
                method=setup.rules.ground.method,
                spacing_m=spacing,
            )

        asked: list[tuple[FloatArray, FloatArray, AllowablePressure]] = []

        def limit(width: FloatArray, length: FloatArray) -> FloatArray:
            asked.append((width, length, allowed(width, length)))  # noqa: B023
            return asked[-1][2].q_allowable_kPa  # noqa: B023

        check = mat_check(
            mat,
            force,
            allowable_kPa=limit,
            float_length_m=float_length,
            float_width_m=float_width,
        )
        width, length = check.effective_width_m, check.effective_length_m
        sides = np.minimum(width, length), np.maximum(width, length)
        bearing = next(
            (
                found
                for short, long, found in asked
                if np.array_equal(short, sides[0]) and np.array_equal(long, sides[1])
            ),
            None,
        ) or allowed(*sides)
        units: dict[float, ElasticBending] = {}
        for n, k in enumerate(members):
            stiffness, settled = _stiffness_and_settlement(
                fact, mat, float(force[n]), float(length[n]), float(width[n])
            )
            one = units.get(float(width[n])) or elastic_bending(
                mat, fact, 1.0, width_m=float(width[n]), float_length_m=float_length
            )
            units[float(width[n])] = one  # moments are proportional to the force
            bent = dataclasses.replace(one, moment_kNm=float(force[n]) * one.moment_kNm)
            if k not in bends or not bent.utilisation <= bends[k].utilisation:
                bends[k] = bent  # a mat on two kinds of ground bends as on the worse one
            found = LegGround(
                name=setup.machine.legs[k].name,
                zone=zone,
                profile=fact,
                reaction_kN=float(force[n]),
                effective_length_m=float(length[n]),
                effective_width_m=float(width[n]),
                pressure_kPa=float(check.pressure_kPa[n]),
                allowable_kPa=float(check.allowable_kPa[n]),
                mechanism=str(bearing.governing_name[n]),
                layer=str(bearing.governing_layer[n]),
                mechanisms=tuple(
                    (m.name, m.layer, float(m.q_allowable_kPa[n])) for m in bearing.mechanisms
                ),
                mat_utilisation={
                    part: float(getattr(check, f"{part}_utilisation")[n])
                    for part in ("bending", "shear", "crushing", "punching")
                },
                elastic_bending=bent,
                utilisation=float(np.fmax(check.utilisation[n], bent.utilisation)),
                stiffness_kN_m=stiffness,
                settlement_m=settled,
                warnings=bearing.warnings,
            )
            if k not in worst or found.utilisation > worst[k].utilisation:
                worst[k] = found
    return tuple(
        dataclasses.replace(
            worst[k],
            elastic_bending=bends[k],
            utilisation=float(np.fmax(worst[k].utilisation, bends[k].utilisation)),
        )
        for k in range(len(setup.machine.legs))
    )


def _levelled(setup: Setup, forces: LegForces, stiffness: FloatArray) -> LevelledState:
    path = forces.path
    slew = np.radians(path.slew_deg)
    boom = boom_states(setup.machine, setup.boom, path.radius_m)
    bare = resultant(
        path.slew_deg, boom, base=setup.base, masses=setup.masses, load_t=0.0, layout="pairs"
    )
    load = float(setup.gross.dynamic_gross_t)
    total = bare.total_t + load
    springs = 1.0 / (
        1.0 / np.array([leg.stiffness_kN_m for leg in setup.machine.legs]) + 1.0 / stiffness
    )

    def reactions(radius_m: FloatArray, sideways_m: FloatArray) -> FloatArray:
        x = radius_m * np.cos(slew) - sideways_m * np.sin(slew)
        y = radius_m * np.sin(slew) + sideways_m * np.cos(slew)
        at = np.stack(
            [
                (bare.x_m * bare.total_t + load * x) / total,
                (bare.y_m * bare.total_t + load * y) / total,
            ],
            axis=-1,
        )
        return leg_reactions_kN(
            total * G_M_S2, at, leg_xy_m=setup.leg_xy_m, leg_stiffness_kN_m=springs
        ).reaction_kN

    return levelled_state(
        reactions,
        lambda reaction: reaction / stiffness,
        leg_x_m=setup.leg_xy_m[:, 0],
        leg_y_m=setup.leg_xy_m[:, 1],
        slew_deg=path.slew_deg,
        radius_m=path.radius_m,
        head_height_m=boom.head_z_m,
        limit_percent=setup.permitted_tilt_percent,
        setup_tilt_x=setup.lift.stand.tilt_x_percent / 100,
        setup_tilt_y=setup.lift.stand.tilt_y_percent / 100,
    )


def _wall(place: Placing, forces: FloatArray, wall: RetainingWall) -> tuple[float, float]:
    """Greatest sideways pressure of all mats on a wall, and its depth.

    Looked for opposite each mat and, since two mats may press most between them, at nine places
    between neighbours.
    """
    line = LineString(wall.line)
    depth = np.linspace(0.02, 1.0, 50) * wall.retained_height_m
    chainage = np.array([float(line.project(m.centroid)) for m in place.mats])
    own = np.sort(chainage)
    station = np.unique(np.concatenate([own[-1:], *np.linspace(own[:-1], own[1:], 10, False)]))
    total = np.zeros((len(station), len(depth)))
    for mat, where, force in zip(place.mats, chainage, forces, strict=True):
        low, high = _extents(mat, line)
        total += patch_wall_pressure_kPa(
            force,
            depth,
            edge_distance_m=max(low[1], 0.0),
            across_m=high[1] - low[1],
            along_m=high[0] - low[0],
            wall_height_m=wall.retained_height_m,
            offset_along_m=(station - where)[:, None],
            wall="yielding" if wall.yielding else "rigid",
        )
    there, at = np.unravel_index(int(np.argmax(total)), total.shape)
    return float(total[there, at]), float(depth[at])


def _extents(mat: Polygon, line: LineString) -> tuple[tuple[float, float], tuple[float, float]]:
    """Least and greatest (along, across) of a mat, seen from the nearest straight of a line."""
    corners = np.asarray(mat.exterior.coords)[:-1]
    segments = list(zip(line.coords[:-1], line.coords[1:], strict=True))
    a, b = (
        np.array(p[:2]) for p in min(segments, key=lambda s: float(LineString(s).distance(mat)))
    )
    direction = (b - a) / np.linalg.norm(b - a)
    along = (corners - a) @ direction
    across = (corners - a) @ np.array([-direction[1], direction[0]])
    if across.mean() < 0:
        across = -across
    return (float(along.min()), float(across.min())), (float(along.max()), float(across.max()))


def ground_study(setup: Setup, place: Placing, forces: LegForces) -> GroundStudy:
    """Mat, bearing, settlement, level and neighbours under the greatest force of each leg.

    Raises: Ground that cannot be judged (voids, missing water level, contradictory layers), a mat
      on no ground zone, a float larger than its mat, or a machine that tips on its path.
    """
    if not np.all(np.isfinite(forces.design_kN)):
        raise InputError.of(
            "leg forces", "no equilibrium on the path", "a machine that stays on its legs",
            "See the lift check: the machine tips over before the ground matters.",
        )  # fmt: skip
    mat = mat_properties(setup.mat)
    safety, words = ground_safety(setup)
    legs = _legs(setup, place, mat, safety, forces.design_kN)
    stiffness = np.array([leg.stiffness_kN_m for leg in legs])
    levelled, problem = None, ""
    if np.all(np.isfinite(stiffness)):
        try:
            levelled = _levelled(setup, forces, stiffness)
        except ConvergenceError as error:
            problem = str(error)
    area = np.array([g.effective_length_m * g.effective_width_m for g in legs])
    reaction = np.concatenate([forces.on_path.reaction_kN, forces.empty.reaction_kN])
    pressure = (reaction + mat.weight_kN) / area
    services, slabs = [], {}
    weight = max(layer.unit_weight_kN_m3 for g in legs for layer in g.profile.layers)
    for service in setup.site.services:
        line = np.array(service.line)
        load = service_load(
            pressure,
            service.crown_depth_m,
            leg_x_m=setup.leg_site_xy_m[:, 0],
            leg_y_m=setup.leg_site_xy_m[:, 1],
            length_m=np.array([g.effective_length_m for g in legs]),
            width_m=np.array([g.effective_width_m for g in legs]),
            orientation_deg=mat_turn_deg(setup),
            line_x_m=line[:, 0],
            line_y_m=line[:, 1],
            diameter_m=service.width_m,
            unit_weight_kN_m3=weight,
            impact=float(impact_factor(service.crown_depth_m)),
            limit_kPa=service.allowable_stress_kPa,
        )
        services.append((service.id, load, service.allowable_stress_kPa))
        if service.kind == "slab":
            slabs[service.id] = _slab_words(setup, service, pressure, legs, weight)
    walls = tuple(
        (wall, *_wall(place, forces.design_kN, wall)) for wall in setup.site.retaining_walls
    )
    return GroundStudy(legs, mat, levelled, problem, tuple(services), walls, words, slabs)


def _slab_words(
    setup: Setup,
    slab: BuriedService,
    pressure_kPa: FloatArray,
    legs: Sequence[LegGround],
    unit_weight_kN_m3: float,
) -> str:
    """Greatest force on a slab as a whole and its mean stress, piece by piece of its line."""
    most = (0.0, 0.0)
    for a, b in zip(slab.line[:-1], slab.line[1:], strict=True):
        turn, length = (
            np.arctan2(b[1] - a[1], b[0] - a[0]),
            float(np.hypot(b[0] - a[0], b[1] - a[1])),
        )
        if not length > 0:
            continue
        own = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        x, y = own @ (setup.leg_site_xy_m - np.array(a[:2])).T
        found = slab_load(
            pressure_kPa,
            slab.crown_depth_m,
            leg_x_m=x,
            leg_y_m=y,
            length_m=np.array([g.effective_length_m for g in legs]),
            width_m=np.array([g.effective_width_m for g in legs]),
            orientation_deg=mat_turn_deg(setup) - float(np.degrees(turn)),
            slab_x_m=(0.0, length),
            slab_y_m=(-slab.width_m / 2, slab.width_m / 2),
            unit_weight_kN_m3=unit_weight_kN_m3,
        )
        force = float(found.total_force_kN.max())
        most = max(most, (force, force / (length * slab.width_m)))
    return f"{most[0]:.0f} kN on the slab in all, {most[1]:.1f} kPa in the mean, cover included"


def _against(setup: Setup, mat: Mat) -> str:
    """What another mat would break on the survey that the present one does not, in words."""
    other = dataclasses.replace(setup, mat=mat)
    place = placing(other)
    kept = {c.id for c in survey_checks(setup, placing(setup)) if c.status == "within"}
    rows = survey_checks(other, place)
    titles = [c.title for c in rows if c.status != "within" and c.id in kept]
    if mat_conflicts(place.mats):
        titles.append("Overlap of mats")
    return ", ".join(titles)


def _mat_remedy(setup: Setup, leg: LegGround, mats: Sequence[Mat]) -> str:
    """The smallest mat on the shelf that passes under this leg on the same ground, by trying."""
    profile_of = leg.profile
    float_leg = next(m for m in setup.machine.legs if m.name == leg.name)
    safety, _ = ground_safety(setup)
    for mat in sorted(mats, key=lambda m: m.length_m * m.width_m):
        plain = mat_properties(mat)
        if float_leg.float_length_m > plain.length_m or float_leg.float_width_m > plain.width_m:
            continue
        profile = ground_profile(profile_of, plain.width_m)

        def allowed(width: FloatArray, length: FloatArray) -> FloatArray:
            return allowable_pressure(
                profile,  # noqa: B023 (used within this pass only)
                width,
                L_m=length,
                V_kN=leg.reaction_kN + plain.weight_kN,  # noqa: B023
                safety=safety,
                method=setup.rules.ground.method,
                spacing_m=leg_spacing_m(setup),
            ).q_allowable_kPa

        found = mat_check(
            plain,
            leg.reaction_kN,
            allowable_kPa=allowed,
            float_length_m=float_leg.float_length_m,
            float_width_m=float_leg.float_width_m,
        )
        bent = elastic_bending(
            plain,
            profile_of,
            leg.reaction_kN,
            width_m=float(found.effective_width_m),
            float_length_m=float_leg.float_length_m,
        )
        used = float(np.fmax(found.utilisation, bent.utilisation))
        if used <= 1:
            words = f"Use mat {mat.id} ({100 * used:.0f} % used here)"
            against = _against(setup, mat)
            if against:
                words += f"; with it no longer within: {against}, so move the machine as well"
            return words + "."
    need = (leg.reaction_kN + 10.0) / leg.allowable_kPa
    return (
        f"No mat on the shelf is enough: about {need:.1f} m² of stiff mat would be needed at "
        f"{leg.allowable_kPa:.0f} kPa; build a granular platform or move the leg to better ground."
    )


def ground_checks(setup: Setup, study: GroundStudy, mats: Sequence[Mat] = ()) -> list[Check]:
    """Rows for each leg, then level, services and walls."""
    rows: list[Check] = []
    rule = setup.rules.ground
    for g in study.legs:
        rows.append(
            limit_check(
                f"ground-{g.name}",
                f"Pressure under the mat of {g.name} on {g.zone}",
                value=g.pressure_kPa,
                limit=g.allowable_kPa,
                quantity="pressure_kPa",
                reference=f"{g.mechanism}, {g.layer}; {rule.method}; {study.safety_words}",
                where=f"{g.reaction_kN:.0f} kN on {g.effective_length_m:.2f} m x "
                f"{g.effective_width_m:.2f} m found effective",
                remedy=_mat_remedy(setup, g, mats) if g.pressure_kPa > g.allowable_kPa else "",
            )
        )
        worst = max(g.mat_utilisation, key=lambda part: g.mat_utilisation[part])
        rows.append(
            limit_check(
                f"mat-{g.name}",
                f"Strength of mat {study.mat.name} under {g.name} at the length that the ground "
                f"needs: {worst}",
                value=g.mat_utilisation[worst] * 100,
                limit=100.0,
                quantity="percent",
                reference="Duerr 2010, cantilever form; mat data",
                remedy="Use a stronger mat or better ground.",
            )
        )
        rows.append(_bending_row(study.mat, g))
        if np.isfinite(g.settlement_m):
            rows.append(
                limit_check(
                    f"settlement-{g.name}",
                    f"Elastic settlement of {g.name}",
                    value=g.settlement_m * 1000,
                    limit=rule.settlement_limit_m * 1000,
                    quantity="small_length_mm",
                    reference=f"Schleicher 1926, least modulus within two mat widths; "
                    f"limit: {rule.reference}",
                    remedy="Use a larger mat or better ground; watch the level during the lift.",
                )
            )
        else:
            rows.append(
                no_data_check(
                    f"settlement-{g.name}",
                    f"Elastic settlement of {g.name}: no modulus known",
                    quantity="small_length_mm",
                    reference="survey",
                    remedy="Give Young's modulus or a subgrade modulus (plate test).",
                )
            )
    rows += _level_rows(setup, study)
    for name, load, limit in study.services:
        step = int(np.argmax(load.total_kPa))
        value = float(load.total_kPa[step])
        if limit is None:
            rows.append(
                no_data_check(
                    f"service-{name}",
                    f"Vertical stress on {name}: its strength is unknown",
                    quantity="pressure_kPa",
                    value=value,
                    reference="Boussinesq, sum of four legs, greatest over the whole crown",
                    remedy="Ask the owner of the service what it may carry.",
                )
            )
            continue
        rows.append(
            limit_check(
                f"service-{name}",
                f"Vertical stress on the crown of {name}, cover included",
                value=value,
                limit=limit,
                quantity="pressure_kPa",
                reference="Boussinesq, sum of four legs with impact, greatest over the whole width "
                "and length; a roof stiffer than the ground draws more; limit: survey",
                where=f"at {float(load.worst_x_m[step]):.1f} m E, "
                f"{float(load.worst_y_m[step]):.1f} m N"
                + (f"; {study.slabs[name]}" if name in study.slabs else ""),
                remedy="Move the machine away or bridge the service.",
            )
        )
    for wall, pressure, depth in study.walls:
        if wall.allowable_surcharge_kPa is None:
            rows.append(
                no_data_check(
                    f"wall-{wall.id}",
                    f"Sideways pressure on {wall.id}: its strength is unknown",
                    quantity="pressure_kPa",
                    value=pressure,
                    reference="Terzaghi 1954",
                    remedy="Have the wall's owner state what it may carry.",
                )
            )
            continue
        rows.append(
            limit_check(
                f"wall-{wall.id}",
                f"Sideways pressure of all mats on {wall.id}",
                value=pressure,
                limit=wall.allowable_surcharge_kPa,
                quantity="pressure_kPa",
                reference="Terzaghi 1954, point loads summed; limit: survey",
                where=f"{depth:.1f} m below the top",
                remedy="Stand farther from the wall or use larger mats.",
            )
        )
    return rows


def _bending_row(mat: MatProperties, g: LegGround) -> Check:
    """Bending of the whole mat under the working force, as far as the ground lets it bend."""
    bent = g.elastic_bending
    id = f"mat-bending-{g.name}"
    title = f"Bending of the whole mat {mat.name} under {g.name}, as a beam on the ground's springs"
    reference = "Hetényi 1946, no tension; softer of surveyed subgrade and Vesić 1961; mat data"
    if not np.isfinite(bent.moment_kNm):
        return no_data_check(
            id,
            f"{title}: no modulus known",
            quantity="percent",
            reference=reference,
            remedy="Give Young's modulus or a subgrade modulus (plate test).",
        )
    return limit_check(
        id,
        title,
        value=100 * bent.utilisation,
        limit=100.0,
        quantity="percent",
        reference=reference,
        where=f"{bent.moment_kNm:.1f} kNm on {bent.subgrade_kN_m3:.0f} kN/m³",
        remedy="Use a stronger or stiffer mat, or better ground.",
    )


def _level_rows(setup: Setup, study: GroundStudy) -> list[Check]:
    if study.level_problem:
        return [
            limit_check(
                "tilt",
                "Tilt by settlement: the machine keeps leaning further",
                value=float("inf"),
                limit=setup.permitted_tilt_percent,
                quantity="percent",
                reference=study.level_problem,
                remedy="Use larger mats or better ground.",
            )
        ]
    if study.levelled is None:
        return [
            no_data_check(
                "tilt",
                "Tilt by settlement: no modulus known",
                quantity="percent",
                reference="survey",
                remedy="Give Young's modulus or a subgrade modulus for every zone in use.",
            )
        ]
    state = study.levelled
    step = int(np.argmax(state.level.slope_percent))
    return [
        limit_check(
            "tilt",
            "Out-of-level with settlement under load",
            value=float(state.level.slope_percent.reshape(-1)[step]),
            limit=setup.permitted_tilt_percent,
            quantity="percent",
            reference="reaction, settlement, tilt and radius iterated; limit: machine data",
            where=f"radius grows {float(np.max(state.radius_growth_m)) * 1000:.0f} mm at most",
            remedy="Use larger mats, better ground or re-level during the lift.",
        )
    ]


def study_ground(setup: Setup, place: Placing, forces: LegForces) -> GroundStudy | None:
    """Ground study, or None where the machine tips over on its path."""
    return ground_study(setup, place, forces) if forces.stands else None


def all_ground_checks(
    setup: Setup, forces: LegForces, study: GroundStudy | None, mats: Sequence[Mat]
) -> list[Check]:
    """Leg rows, then ground rows; remedies name the smallest mat on the shelf that passes."""
    rows = leg_checks(setup, forces)
    if study is None:
        return rows
    rows += ground_checks(setup, study, mats)
    if study.levelled is not None:
        settled = settled_capacity_check(setup, study.levelled, forces.path)
        rows += [] if settled is None else [settled]
    return rows
