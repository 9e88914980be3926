"""A second job of another kind, made from the demo job: what that one leaves out is in use here."""

from __future__ import annotations

import copy
from typing import Any

INVENTED = {"kind": "invented", "note": "another job, made up"}


def _part(items: list[dict[str, Any]], id: str) -> dict[str, Any]:
    return next(x for x in items if x["id"] == id)


def other_job(demo: dict[str, Any]) -> dict[str, Any]:
    """Data of the second job."""
    job = copy.deepcopy(demo)
    job["id"], job["title"] = "other-yard", "Another yard (invented)"
    _plan(job["plan"])
    _rules(job["rules"])
    _site(job["site"])
    _shelf(job)
    for machine in job["machines"]:
        _machine(machine)
    for chart in job["charts"]:
        chart["rule"] = "tipping_fraction"
    _lifts(job)
    _tandem(job["tandem_lifts"][0])
    _set_up(job["as_set_up"])
    return job


def _plan(plan: dict[str, Any]) -> None:
    """One load and one sort of weather for all lifts."""
    own = {k: v for k, v in copy.deepcopy(plan).items() if k != "lifts"}
    for name in ("load_own", "weather", "notices"):
        own[name] = own[name] or plan["lifts"]["L6"][name]
    own["weather"] |= {"low_C": 1.0, "light_from": "08:00", "ice_t": 0.2, "lighting_lux": 60.0}
    own["weather"] |= {"load_C": 90.0, "end": "16:00"}
    own["notices"] |= {"rules": ["US 14 CFR 77.9"], "nothing_nearer": "map 3"}
    own["notices"]["height_notice"] = "note 4"
    own["notices"]["neighbours"][0]["line"] = [[-50.0, -6.0], [90.0, -6.0]]
    own["answers"] |= {"beside a railway": False, "submerged": True}
    own["gear_tags"] = ["C5-01", "S6-01", "B4-01"]
    plan["answers"]["beside a railway"] = True
    plan["load_own"] = plan["lifts"]["L4"]["load_own"]
    plan["lifts"] = {"S1": own}
    plan["gear_tags"] = ["W6-01", "R4-05", "C5-01", "S4-01"]
    plan["weather"] |= {"lighting_lux": 40.0, "end": "16:30", "ice_t": 0.1, "load_C": 60.0}
    plan["weather"] |= {"low_C": -21.0, "high_C": 39.0}
    near = {"id": "helipad", "easting_m": 900.0, "northing_m": 0.0, "level_m": 2.0}
    plan["notices"]["aerodromes"].append({**near, "runway_m": 0.0, "notice": None})
    plan["notices"]["neighbours"][0]["line"] = [[-50.0, -6.0], [90.0, -6.0]]
    plan["notices"] |= {"nothing_nearer": "chart 12 (invented)", "height_notice": "none"}


def _rules(rules: dict[str, Any]) -> None:
    rules["least_leg_share_percent"] = 3.0
    rules["dynamic_factor_min"] = 1.3
    rules["clearance"]["power_line_table"] = "owner"
    rules["clearance"]["power_line_owner_rows"] = [[50.0, 4.0], [200.0, 6.0]]
    rules["ground"]["method"], rules["ground"]["safety"] = "en1997", "en1997 DA1"


def _site(site: dict[str, Any]) -> None:
    clay = {
        "name": "stiff clay",
        "thickness_m": 6.0,
        "unit_weight_kN_m3": 19.0,
        "cu_kPa": 90.0,
        "phi_deg": None,
        "c_kPa": None,
        "youngs_modulus_kPa": 30000.0,
        "poisson": 0.45,
    }
    ground = _part(site["ground"], "BH1")
    ground |= {"layers": [clay], "water_depth_m": None, "no_water_to_m": 5.0}
    ground["presumptive"] = {"table": "bs8004", "name": "stiff clays"}
    _part(site["ground"], "BH2").update({"water_depth_m": None, "no_water_to_m": 2.0})
    site["slopes"] = [{"id": "bank-slope", "crest": [[20.0, 22.5], [44.0, 22.5]], "height_m": 2.0, "angle_deg": 30.0}]
    site["retaining_walls"][0]["yielding"] = True
    site["overhead_lines"][0]["points"] = [[-5.0, 24.0, 38.0], [65.0, 26.0, 38.4]]
    site["overhead_lines"].append(
        {
            **site["overhead_lines"][0],
            "id": "line-dead",
            "points": [[-5.0, 5.0, 13.2], [65.0, 6.0, 13.4]],
            "conductor": {"diameter_mm": 12.0, "mass_kg_m": 0.4, "wind_m_s": 20.0},
            "dead": {"document": "certificate 4", "who": "network operator", "date": "2026-12-01"},
        }
    )
    control = _part(site["obstacles"], "control-room")
    control["base_level_m"] = -1.0
    site["stated"] = {"base-control-room": "it has a cellar that stands open on this side"}


def _shelf(job: dict[str, Any]) -> None:
    shelf = job["accessories"]
    shelf["beams"].append(
        {
            "id": "beam-2m",
            "kind": "lifting beam",
            "wll_t": 6.0,
            "span_m": 2.0,
            "length_m": 2.2,
            "mass_t": 0.2,
            "min_top_angle_deg": 45.0,
            "provenance": INVENTED,
        }
    )


def _machine(machine: dict[str, Any]) -> None:
    machine["stability_rule"], machine["tipping_fraction"] = "tipping_fraction", 0.8
    machine["setting_tolerance_m"], machine["interpolation_allowed"] = 0.02, True
    for leg in machine["legs"]:
        least, most = leg["extension_min_m"], leg["extension_max_m"]
        leg["steps_m"] = sorted({least, 1.9, 2.3, 2.5, most})


def _lifts(job: dict[str, Any]) -> None:
    lifts = {x["id"]: x for x in job["lifts"]}
    spread, choke, basket, cage = (copy.deepcopy(lifts[i]) for i in ("L6", "L4", "L3", "L2"))
    for one, id in ((spread, "S1"), (choke, "S2"), (basket, "S3"), (cage, "S4")):
        one["id"] = id
    spread["rigging"]["top_sling"] = "wire-6m-20"
    spread["stand"] |= {"tilt_x_percent": 0.3, "tilt_y_percent": -0.2, "level_within_percent": 0.6}
    spread["deductions"] = [{"name": "auxiliary block", "mass_t": 0.2, "reference": "manual, page 9 (invented)"}]
    spread["wind_basis"] = "at 10 m mean"
    spread["slew_way"] = "anticlockwise"
    choke["rigging"] |= {"hitch": "choke", "leg_length_m": 5.0, "choke_angle_deg": 110.0, "leg_lengths": "adjusted"}
    choke["unusual_rigging"], choke["critical_reason"] = True, "load of an old make"
    basket["rigging"] |= {
        "hitch": "basket",
        "leg_length_m": 1.9,
        "basket_part_angle_deg": 20.0,
        "bend_diameter_mm": 60.0,
        "shackle": None,
    }
    basket["via"] = [{"slew_deg": 60.0, "radius_m": 10.0, "level_m": 6.0}]
    basket["out_of_sight"] = True
    cage["persons"] = True
    cage["legs"] = {"FL": 3.2, "FR": 3.2, "RR": 3.2, "RL": 3.2}
    cage["wind_m_s"] = 5.0
    job["lifts"] = [spread, choke, basket, cage]
    job["confirmations"] = [
        {
            "id": "word-1",
            "who": "A. Person, office of the maker (invented)",
            "document": "letter 7",
            "date": "2026-05-01",
            "machine": spread["machine"],
            "counterweight": spread["counterweight"],
            "boom_length_m": spread["boom_length_m"],
            "leg_extension_m": spread["legs"],
            "sector_deg": [0.0, 360.0],
            "radius_m": 30.0,
            "capacity_t": 9.0,
            "provenance": INVENTED,
        }
    ]


def _tandem(tandem: dict[str, Any]) -> None:
    one, two = tandem["machines"]
    one["rigging"] |= {"hitch": "choke", "choke_angle_deg": 110.0}
    two["rigging"] |= {"hitch": "basket", "basket_part_angle_deg": 10.0, "bend_diameter_mm": 60.0}
    two["rigging"] |= {"sling": "wire-6m-20", "leg_length_m": 2.4, "hook_diameter_mm": 90.0}
    one["deductions"] = [{"name": "jib, stowed", "mass_t": 0.3, "reference": "manual (invented)"}]
    one["stand"] |= {"tilt_x_percent": 0.2, "level_within_percent": 0.5}


def _set_up(measured: dict[str, Any]) -> None:
    """Another lift measured, its outriggers' forces too."""
    measured |= {"lift": "S3", "legs": {"FL": 2.3, "FR": 3.2, "RR": 3.2, "RL": 2.3}}
    measured |= {"gust_at": "at 10 m mean", "remarks": "wet ground", "mark": None, "mark_x_m": None}
    measured["trial"] = {
        "slew_deg": -124.4,
        "radius_m": 8.85,
        "indicator_t": 2.6,
        "forces_kN": {"FL": 102.0, "FR": 112.0, "RR": 122.0, "RL": 109.0},
        "unladen_kN": {"FL": 110.0, "FR": 105.0, "RR": 100.0, "RL": 105.0},
        "force_error_percent": 2.0,
    }
