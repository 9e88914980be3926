"""What a sheet says beside its checks: title rows, provenance, and the numbers it stores.

The values are what a re-check compares and the next sheet may read; plain numbers, texts and lists, no missing values.
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.text import Show, amount
from liftcalc.crane.sectors import SOURCES, CapacityBySlew, SlewSector, slew_sectors
from liftcalc.facts.job import Job
from liftcalc.facts.plausible import site_doubts
from liftcalc.facts.site import Site
from liftcalc.lift.calculation_gross import BASIS_WORDS
from liftcalc.lift.conditions import confirmation_rows
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.leg_forces import LegForces, lifted_legs
from liftcalc.lift.lift_class import critical_of
from liftcalc.lift.path_study import PathStudy
from liftcalc.lift.placing import Placing
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.lift.setup import Setup
from liftcalc.lift.standing import leg_room
from liftcalc.lift.survey_checks import line_reach_rows
from liftcalc.lift.wind_checks import gust_at_head_m_s, permissible_gust_m_s


def title_rows(setup: Setup) -> list[tuple[str, str]]:
    """Machine, base and place for the title block."""
    lift = setup.lift
    legs = ", ".join(
        f"{leg.name} {amount(value, 'extension_m')}"
        for leg, value in zip(setup.machine.legs, lift.legs.as_tuple(), strict=True)
    )
    boom, stand = amount(lift.boom_length_m, "length_m"), lift.stand
    return [
        ("Machine", f"{setup.machine.name}, {lift.counterweight}, boom {boom}"),
        ("Outrigger extension (from centreline), not less than", legs),
        ("Crane position",
         f"{amount(stand.easting_m, 'length_m')} E, {amount(stand.northing_m, 'length_m')} N, "
         f"heading {amount(stand.heading_deg, 'slew_deg')} (anticlockwise from east)"),
        ("Site", setup.site.name),
    ]  # fmt: skip


def _chart_rows(job: Job) -> list[tuple[str, str, str]]:
    """Charts, those of one provenance on one line."""
    by_source: dict[str, list[str]] = {}
    for chart in job.charts:
        by_source.setdefault(chart.provenance.words, []).append(f"{chart.id} ({chart.base_name})")
    return [("Rated capacity charts", ", ".join(ids), why) for why, ids in by_source.items()]


def _survey_rows(site: Site) -> list[tuple[str, str, str]]:
    """The survey, what stands and lies on it, its ground by zones, and what is only stated."""
    profiles = {p.id: p for p in site.ground}
    ground = []
    for zone, profile in {z.id: z.profile for z in site.zones}.items():
        holes = [
            f"borehole {h.id} at {amount(h.easting_m, 'length_m')} E, {amount(h.northing_m, 'length_m')} N"
            for h in site.boreholes
            if h.profile == profile
        ]
        words = f"{profile}; " + (", ".join(holes) or "no borehole on the survey")
        ground.append((f"Ground of zone {zone}", words, profiles[profile].provenance.words))
    place = f"{site.id}; {site.grid}; levels above {site.datum}"
    doubts = site_doubts(site) if site.stated else ()
    return [
        ("Site survey", place, site.provenance.words),
        *((f"Overhead line {x.id}", f"owner: {x.owner}", x.provenance.words) for x in site.overhead_lines),
        *((f"Buried {x.kind}", x.id, x.provenance.words) for x in site.services),
        *(("Retaining wall", x.id, x.provenance.words) for x in site.retaining_walls),
        *ground,
        *(("Survey, stated", x.what, f"assumed: {site.stated[x.id]}") for x in doubts),
    ]


_METHOD_WORDS = {
    "meyerhof": "factors of Meyerhof", "hansen": "factors of Hansen", "vesic": "factors of Vesić",
    "en1997": "EN 1997-1, Annex D",
}  # fmt: skip


def _load_rows(setup: Setup) -> list[tuple[str, str, str]]:
    """Load, accessories, centre of gravity and wind: stated or assumed."""
    lift, load, gear = setup.lift, setup.lift.load, setup.hanging.gear
    parts = {p.id: p for p in (gear.sling, gear.top_sling, gear.shackle, gear.beam) if p}
    sail = ("Load sail, less than a round body's", load.sail_reason, "assumed")
    return [
        ("Load mass", f"{amount(load.mass_t, 'mass_t')}, {load.contingency_percent:g} % added",
         BASIS_WORDS[load.mass_basis]),
        *([sail] if load.sail_reason else []),
        *(("Rigging", part, item.provenance.words) for part, item in parts.items()),
        ("Centre of gravity", setup.hanging.error_words, "lift list"),
        ("Slings",
         f"sling legs {lift.rigging.leg_lengths}, lifting point plates {lift.rigging.lug_plate}",
         "lift list; slings do not stretch, beam and load rigid: assumed"),
        ("Wind", f"{amount(lift.wind_m_s, 'speed_m_s')} {lift.wind_basis}", "lift list"),
    ]  # fmt: skip


def _assumed_rows(setup: Setup) -> list[tuple[str, str, str]]:
    """What every calculation of the sheet takes for granted."""
    twist = setup.machine.carrier.torsional_stiffness_kNm_rad
    return [
        ("Boom", "loaded radius; clearances by the deflected boom, and by the boom with the load off", "assumed"),
        ("Load", "free to turn to any angle", "assumed, on the safe side"),
        (
            "Carrier and ground under the outriggers",
            f"rigid and flexible carrier, and one of {twist:g} kNm/rad as stated, and rigid on the "
            "ground's springs as surveyed, half and twice as stiff, each kind of ground for itself; "
            "the maximum counts",
            "ground alike within a zone, known to a factor of 2: common practice, no published source",
        ),
    ]


def provenance_rows(setup: Setup, job: Job) -> list[tuple[str, str, str]]:
    """Each fact the sheet rests on, and where it comes from."""
    machine, mat, lift, rules = setup.machine, setup.mat, setup.lift, job.rules
    invented = ("The whole job", job.title, "INVENTED for demonstration: no real site")
    return [
        *([invented] if job.invented else []),
        ("Machine data", machine.id, machine.provenance.words),
        *_chart_rows(job), *confirmation_rows(setup), *_survey_rows(setup.site),
        ("Mat", mat.name, mat.provenance.words),
        ("Lift list", lift.id, lift.provenance.words),
        *_load_rows(setup),
        ("Critical lift share", f"{rules.critical_share_percent:g} %", rules.critical_share_owner),
        ("Bearing capacity of the ground", _METHOD_WORDS[rules.ground.method],
         rules.ground.reference),
        ("Clearance rule", "distances in the check table", rules.clearance.reference),
        ("Clearance rule, counterweight tail", "the same", rules.clearance.tail_source), *_assumed_rows(setup),
    ]  # fmt: skip


def leg_place_rows(setup: Setup, place: Placing, show: Show) -> list[tuple[str, ...]]:
    """Where each leg stands, its ground level, packing and ground zone."""
    legs = zip(setup.machine.legs, setup.leg_site_xy_m.tolist(), place.zones, strict=True)
    return [
        (leg.name, show(east, "length_m"), show(north, "length_m"),
         show(float(place.level_m[k]), "length_m"),
         show(1000 * float(place.packing_m[k]), "small_length_mm"), zone or "none")
        for k, (leg, (east, north), zone) in enumerate(legs)
    ]  # fmt: skip


def line_rows(setup: Setup, show: Show) -> list[tuple[str, ...]]:
    """Overhead lines: lowest level, study zone, and whether the boom could reach it."""
    rows: list[tuple[str, ...]] = [
        (name, show(lowest, "length_m"),
         "voltage unknown" if np.isnan(zone) else show(zone, "length_m"),
         "yes: the power-line steps of 29 CFR 1926.1408 apply" if reached else "no")
        for name, lowest, zone, reached in line_reach_rows(setup)
    ]  # fmt: skip
    return rows or [("none on the survey", "–", "–", "–")]


def leg_room_rows(setup: Setup, show: Show) -> list[tuple[str, ...]]:
    """What each outrigger may do at this position: set, available, maximum, what limits it.

    One extension is shown in one way: set at its very end, the end is not rounded below it.
    """

    def end(high: float, have: float) -> str:
        if abs(high - have) < 1e-6:
            return show(have, "extension_m")
        return show(high, "length_m", safe="down")

    return [
        (room.leg, show(have, "extension_m"),
         "; ".join(f"{show(low, 'length_m', safe='up')} to {end(high, have)}"
                   for low, high in room.ranges_m) or "nowhere",
         "none" if room.longest_m is None else end(room.longest_m, have),
         ", ".join(room.blocked_by) or "none: full extension")
        for room, have in zip(leg_room(setup).legs, setup.lift.legs.as_tuple(), strict=True)
    ]  # fmt: skip


def tipping_line_rows(setup: Setup, show: Show) -> list[tuple[str, ...]]:
    """Each tipping line, its distance from the slew centre and its length."""
    base, corners = setup.base, setup.base.vertices_m
    lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    return [
        (name, show(float(-offset), "length_m"), show(float(length), "length_m"))
        for name, offset, length in zip(base.line_names, base.offsets_m, lengths, strict=True)
    ]


def sector_rows(circle: CapacityBySlew) -> list[tuple[float, str, SlewSector]]:
    """Slew sectors at every radius, lettered from A."""
    return [
        (float(radius), chr(ord("A") + n % 26), sector)
        for k, radius in enumerate(circle.radius_m)
        for n, sector in enumerate(slew_sectors(circle, radius_index=k))
    ]


def sector_texts(circle: CapacityBySlew, show: Show) -> list[tuple[str, ...]]:
    """Slew sectors as texts: radius, name, from, to, source, chart, minimum, maximum."""

    def capacity(value: float) -> str:
        return "not rated" if np.isnan(value) else show(value, "mass_t")

    def ends(sector: SlewSector) -> tuple[str, str]:
        if sector.to_deg - sector.from_deg >= 360.0:
            return "full circle", "–"
        return show(sector.from_deg, "slew_deg"), show(sector.to_deg, "slew_deg")

    return [
        (show(radius, "length_m"), name, *ends(sector), sector.source, sector.chart_id or "–",
         capacity(sector.least_capacity_t), capacity(sector.greatest_capacity_t))
        for radius, name, sector in sector_rows(circle)
    ]  # fmt: skip


def lift_class_rows(setup: Setup, study: PathStudy) -> list[tuple[str, str, str]]:
    """Is this a critical lift: share used, every trigger with its answer, and the outcome."""
    lift_class = critical_of(setup, study)
    used = lift_class.used_ratio
    share = "not rated" if np.isnan(used) else f"{100 * used:.1f} %"
    asked = [(name, "yes" if applies else "no", who) for name, applies, who in lift_class.triggers]
    return [
        ("Utilisation of rated capacity", share, "at the step that governs"),
        *asked,
        ("Critical lift", "yes" if lift_class.critical else "no", "one reason is enough"),
    ]


def _list(values: ArrayLike, digits: int = 9) -> list[float]:
    return [float(v) for v in np.round(np.asarray(values, dtype=np.float64).reshape(-1), digits)]


def survey_values(setup: Setup, place: Placing) -> dict[str, Any]:
    """Numbers of the site survey sheet."""
    return {
        "leg_easting_m": _list(setup.leg_site_xy_m[:, 0]),
        "leg_northing_m": _list(setup.leg_site_xy_m[:, 1]), "ground_level_m": _list(place.level_m),
        "packing_m": _list(place.packing_m), "zone_under_leg": list(place.zones),
        "line_in_study_zone": [name for name, _, _, inside in line_reach_rows(setup) if inside],
    }  # fmt: skip


def layout_values(setup: Setup, circle: CapacityBySlew) -> dict[str, Any]:
    """Numbers of the leg layout sheet."""
    capacity = np.where(np.isnan(circle.capacity_t), 0.0, circle.capacity_t)
    return {
        "leg_extension_m": list(setup.lift.legs.as_tuple()), "base_area_m2": setup.base.area_m2,
        "tipping_lines": list(setup.base.line_names),
        "tipping_line_distance_m": _list(-setup.base.offsets_m),
        "circle_radius_m": _list(circle.radius_m), "least_capacity_t": _list(capacity.min(axis=0)),
        "greatest_capacity_t": _list(capacity.max(axis=0)),
        "least_capacity_slew_deg": _list(circle.slew_deg[capacity.argmin(axis=0)]),
        "not_rated_count": int(np.isnan(circle.capacity_t).sum()),
        "sectors": [
            f"{radius:.2f} m {name}: {x.from_deg:g} to {x.to_deg:g} deg, {x.source}, "
            f"{x.chart_id or '–'}, {x.least_capacity_t:.2f} t"
            for radius, name, x in sector_rows(circle)
        ],
    }  # fmt: skip


def lift_values(setup: Setup, study: PathStudy, rigging: RiggingStudy) -> dict[str, Any]:
    """Numbers of the lift check sheet."""
    k = study.governing_step
    rated = not np.isnan(study.capacity.capacity_t[k])
    used = float(study.utilisation[k]) if rated else 0.0
    return {
        "gross_load_t": setup.gross_t, "rope_below_head_t": float(setup.gross.rope_t),
        "deductions_t": float(setup.gross.other_t), "load_reach_m": setup.hung.reach_m,
        "load_dip_m": setup.hung.dip_m, "dynamic_gross_load_t": float(setup.gross.dynamic_gross_t),
        "hoist_factor": float(setup.hoist.phi2), "governing_step": k,
        "governing_slew_deg": float(study.path.slew_deg[k]),
        "governing_radius_m": float(study.path.radius_m[k]),
        "capacity_t": float(study.capacity.capacity_t[k]) if rated else 0.0,
        "capacity_source": SOURCES[int(study.capacity.source[k])], "capacity_used_ratio": used,
        "critical_lift": critical_of(setup, study).critical,
        "least_stability_t": float(study.stability_t.min()),
        "least_tipping_t": float(study.tipping_t.min()),
        "least_head_room_m": float(study.head_room_m.min()),
        "least_margin_m": float(study.margin_m.min()),
        "path_length_m": float(study.path.distance_m[-1]), "path_steps": len(study.path),
        "rigging_mass_t": rigging.mass_t, "sling_tension_kN": _list(rigging.tension_kN),
        "sling_angle_deg": rigging.angle_from_horizontal_deg, "load_tilt_deg": rigging.tilt_deg,
        "hook_height_m": rigging.hanging.hook_height_m,
        "rigging_items": [i.name for i in rigging.items],
        "rigging_utilisation": _list(np.nan_to_num([i.utilisation for i in rigging.items])),
        "permissible_gust_m_s": permissible_gust_m_s(setup),
        "gust_at_boom_head_m_s": float(gust_at_head_m_s(setup, study.boom.head_z_m.max())),
    }  # fmt: skip


def ground_values(forces: LegForces, study: GroundStudy | None) -> dict[str, Any]:
    """Numbers of the ground pressure sheet."""
    values: dict[str, Any] = {"tips_on_path": study is None}
    values["lifted_legs"] = lifted_legs(forces) or "none"
    if study is None:
        return values
    sizes = ("effective_length_m", "effective_width_m", "pressure_kPa", "allowable_kPa")
    values |= {
        "leg_reaction_kN": _list(forces.design_kN),
        "circle_unstable_slews": len(forces.on_circle.unstable_states),
        **{name: _list([getattr(g, name) for g in study.legs]) for name in sizes},
        "mechanism": [g.mechanism for g in study.legs],
        "zone": [g.zone for g in study.legs],
    }
    settled = [g.settlement_m for g in study.legs]
    if all(np.isfinite(settled)):
        values["settlement_m"] = _list(settled)
    if study.levelled is not None:
        values["tilt_percent"] = float(np.max(study.levelled.level.slope_percent))
        values["radius_growth_m"] = float(np.max(study.levelled.radius_growth_m))
    return values
