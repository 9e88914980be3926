"""Rows worked by general-purpose libraries (cases/reference_libraries.jsonl).

Each expected value was worked without this package, by the library that its row names.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely.geometry import Polygon

from liftcalc.base.errors import InputError
from liftcalc.calibration.calibrate import calibrate
from liftcalc.calibration.model import CalibrationChart
from liftcalc.calibration.result import equivalent_boom, equivalent_masses, predicted_capacity_t
from liftcalc.clearance import solids
from liftcalc.clearance.powerline import sagged_line
from liftcalc.crane import legs
from liftcalc.crane.boom import radius_range_m
from liftcalc.crane.boom_bending import deflected_boom
from liftcalc.crane.chart import ChartTable, slew_in_sector
from liftcalc.crane.masses import combined_mass
from liftcalc.crane.sectors import SOURCES, CapacityBySlew, slew_sectors
from liftcalc.crane.stability import stability_capacity_t
from liftcalc.dynamics.hoisting import refuse_snatch
from liftcalc.ground.beam import centred_beam_shape
from liftcalc.ground.platetests import plate_undrained_strength
from liftcalc.ground.slopes import patch_wall_pressure_kPa
from liftcalc.ground.stress import legs_stress_by_leg_kPa, spread_stress_kPa
from liftcalc.ground.zones import mat_conflicts, mat_outlines
from liftcalc.reactions import carrier as reactions
from liftcalc.reactions import contact as leg_contact
from liftcalc.reactions import envelope as leg_envelope
from liftcalc.rigging.hitches import soft_eye_bearing
from liftcalc.rigging.tandem import tandem_share_envelope
from liftcalc.rigging.under_beam import hang_under_beam
from liftcalc.rigging.upending import hook_line_equilibrium
from liftcalc.uncertainty.propagation import TruncatedNormal, exceedance_probability, sample_utilisation, tornado

CASES = Path(__file__).parent / "cases" / "reference_libraries.jsonl"
ROWS = [json.loads(line) for line in CASES.read_text(encoding="utf-8").splitlines()]

Given = Mapping[str, Any]


def base(points: Any) -> legs.BasePolygon:
    return legs.base_polygon(np.array(points))


def circle(i: Given) -> CapacityBySlew:
    """A capacity by slew at one radius."""
    count = len(i["slew_deg"])
    column = np.zeros((count, 1))
    return CapacityBySlew(
        slew_deg=np.array(i["slew_deg"], dtype=float),
        radius_m=np.array([10.0]),
        capacity_t=np.array(i["capacity_t"], dtype=float)[:, None],
        source=np.array(i["source"], dtype=np.int8)[:, None],
        chart=np.zeros((count, 1), dtype=np.int8),
        capped_by=np.full((count, 1), -1, dtype=np.int8),
        margin_m=column,
        required_margin_m=column,
        stability_t=column,
        strength_t=np.array([99.0]),
        strength_basis="stated strength limit",
        chart_ids=("only",),
    )


def sectors(i: Given) -> dict[str, Any]:
    return {
        "sectors": [
            {
                "from_deg": s.from_deg,
                "to_deg": s.to_deg,
                "source": SOURCES.index(s.source),
                "least_t": s.least_capacity_t,
                "greatest_t": s.greatest_capacity_t,
            }
            for s in slew_sectors(circle(i), radius_index=0)
        ]
    }


def carrier(i: Given) -> dict[str, Any]:
    return {"torsional_stiffness_kNm_rad": i["torsional_stiffness_kNm_rad"], "slew_x_m": i["slew_x_m"]}


def supports(i: Given) -> Any:
    return reactions.carrier_supports(i["leg_xy_m"], i["leg_stiffness_kN_m"], carriers=("stiffness",), **carrier(i))


def on_supports(i: Given) -> reactions.LegReactions:
    found = reactions.reactions_on(supports(i), i["vertical_kN"], i["resultant_xy_m"], stiffness_given=True)
    return found["stiffness"]


def in_contact(i: Given, prepared: Callable[[Any], leg_contact.Supports]) -> dict[str, Any]:
    v, xy = np.array(i["vertical_kN"]), np.array(i["resultant_xy_m"])
    legs_of_all = np.broadcast_to(np.array(i["leg_xy_m"]), (v.size, 4, 2))
    force = np.stack([v, v * xy[:, 0], v * xy[:, 1]])
    found, _, unstable = leg_contact.contact_kN(prepared(legs_of_all), force)
    assert not unstable.any()
    return {"reaction_kN": found.T}


def stated(i: Given) -> Callable[[Any], leg_contact.Supports]:
    return lambda xy: leg_contact.build_supports(xy, i["leg_stiffness_kN_m"], twist=True, **carrier(i))


def twisted(i: Given) -> Callable[[Any], leg_contact.Supports]:
    return lambda xy: leg_contact.twisting(
        leg_contact.build_supports(xy, i["leg_stiffness_kN_m"]),
        i["torsional_stiffness_kNm_rad"],
        slew_x_m=i["slew_x_m"],
    )


def slewing(i: Given) -> dict[str, Any]:
    rest = dict(i)
    rigid = reactions.carrier_supports(rest.pop("leg_xy_m"), rest.pop("leg_stiffness_kN_m", None), carriers=("rigid",))
    found = leg_envelope.slew_envelope(rest.pop("vertical_kN"), rest.pop("slewing_moment_kNm"), supports=rigid, **rest)
    return {"max_kN": found.envelope.max_kN}


def interval(i: Given) -> dict[str, Any]:
    low, high, empty = leg_contact.contact_interval_kN(
        np.array(i["pattern"])[:, None], np.array(i["r"])[:, None], np.zeros(1)
    )
    assert not empty.any()
    return {"low": low[0], "high": high[0]}


def radii(i: Given) -> dict[str, Any]:
    rest = dict(i)
    low, high = radius_range_m(rest.pop("length_m"), **rest)
    return {"low": low, "high": high}


def linear(i: Given) -> tuple[Callable[[Any], dict[str, Any]], dict[str, TruncatedNormal]]:
    factor = i["coefficient"]
    return (
        lambda s: {"capacity": sum(factor[n] * np.asarray(s[n]) for n in factor)},
        {  # cut so far out that the cut shows in no digit
            n: TruncatedNormal(m := i["mean"][n], s := i["sd"][n], m - 8 * s, m + 8 * s) for n in factor
        },
    )


def swings(i: Given) -> dict[str, Any]:
    check, spread = linear(i)
    found = tornado(check, spread, nominal=i["mean"])
    return {
        "nominal": found.nominal,
        "at_low": dict(zip(found.names, found.at_low.tolist(), strict=True)),
        "at_high": dict(zip(found.names, found.at_high.tolist(), strict=True)),
    }


def sampled(i: Given) -> dict[str, Any]:
    """Interval of the sampled probability."""
    check, spread = linear(i)
    found = sample_utilisation(check, spread, nominal=i["mean"], seed=i["seed"], number=i["number"])
    assert found.exceedance["capacity"] == exceedance_probability(found.utilisation["capacity"])
    share = exceedance_probability(found.utilisation["capacity"], confidence=0.999)
    return {"between": (share.low, share.high)}


def fitted(i: Given) -> Any:
    charts = []
    for one in i["charts"]:
        table = ChartTable(
            f"legs {one['extension_m']} m",
            np.array(i["boom_length_m"]),
            np.array(i["radius_m"]),
            np.array(one["capacity_t"], dtype=float),
            base(legs.leg_points_m(i["leg_x_m"], [one["extension_m"]] * 4)),
            rule="tipping_fraction",
            tipping_fraction=i["tipping_fraction"],
        )
        charts.append(CalibrationChart(table))
    found = calibrate(charts, i["boom_foot_u_m"], noise_percent=0.01, step_t=1e-6)
    # two of three charts do not predict the widest: refused for that alone, and here the numbers
    # are confirmed by what lies behind the charts instead
    assert all("could not be predicted from the others" in r for r in found.reasons), found.reasons
    return dataclasses.replace(found, reasons=()), charts


def calibrated(i: Given) -> dict[str, Any]:
    found, _ = fitted(i)
    value = found.value.tolist()
    assert found.low[1] <= i["carrier_moment_tm"] <= found.high[1]
    return {"total_mass_t": value[0], "slewing_moment_tm": value[2], "boom": value[3:]}


def predicted(i: Given) -> dict[str, Any]:
    found, charts = fitted(i)
    asked = i["asked"]
    value, low = predicted_capacity_t(
        found,
        charts[0],
        base=base(legs.leg_points_m(i["leg_x_m"], [asked["extension_m"]] * 4)),
        boom_length_m=asked["boom_length_m"],
        radius_m=asked["radius_m"],
    )
    assert np.all(low <= value)
    return {"capacity_t": value}


def square_slew_deg(on: legs.BasePolygon) -> np.ndarray:
    """Slews with the boom square to each tipping line."""
    return np.degrees(np.arctan2(-on.normals[:, 1], -on.normals[:, 0])) % 360.0


def equivalent(i: Given) -> dict[str, Any]:
    """Capacity of the machine built from the fit, by the stability calculation itself."""
    found, _ = fitted(i)
    asked = i["asked"]
    on = base(legs.leg_points_m(i["leg_x_m"], [asked["extension_m"]] * 4))
    value = stability_capacity_t(
        np.union1d(np.arange(0.0, 360.0, 0.25), square_slew_deg(on)),
        equivalent_boom(found, asked["radius_m"], boom_length_m=asked["boom_length_m"]),
        base=on,
        masses=equivalent_masses(found, boom_length_m=asked["boom_length_m"]),
        rule="tipping_fraction",
        tipping_fraction=i["tipping_fraction"],
    )
    return {"capacity_t": value.min(axis=0)}


def refused(i: Given) -> dict[str, Any]:
    try:
        refuse_snatch(**i)
    except InputError:
        return {"refused": True}
    return {"refused": False}


def middle_of_beam(i: Given) -> dict[str, Any]:
    found = centred_beam_shape(**i, x_m=0.0)
    return {"pressure_max_kPa": found.pressure_kPa, "moment_max_kNm": found.moment_kNm}


def first(function: Callable[..., Any], *names: str) -> Callable[[Given], dict[str, Any]]:
    """Call with the named inputs first and the others by keyword; a value or attributes."""

    def solve(i: Given) -> dict[str, Any]:
        rest = {k: v for k, v in i.items() if k not in names}
        found = function(*(i[n] for n in names), **rest)
        if hasattr(found, "__dataclass_fields__"):
            return {k: getattr(found, k) for k in found.__dataclass_fields__}
        return {"value": found}

    return solve


def outlines(i: Given) -> dict[str, Any]:
    found = mat_outlines(i["leg_x_m"], i["leg_y_m"], **{k: i[k] for k in ("length_m", "width_m", "orientation_deg")})
    return {"area_m2": [m.area for m in found], "bounds": [m.bounds for m in found]}


def conflicts(i: Given) -> dict[str, Any]:
    found = mat_conflicts([Polygon(m) for m in i["mats"]])
    return {"pairs": sorted([c.mat, c.other] for c in found)}


def sagged(i: Given) -> dict[str, Any]:
    path = sagged_line(i["supports_m"], sag_m=i["sag_m"], pieces=i["pieces"])
    x, z = path.points_m[:, 0], path.points_m[:, 2]
    at = [float(np.interp(v, x, z)) for v in (15.0, 30.0, 90.0)]
    return dict(zip(("quarter_z_m", "middle_z_m", "second_span_z_m"), at, strict=True))


def one_state(i: Given) -> dict[str, Any]:
    return {"reaction_kN": on_supports(i).reaction_kN[i["state"]]}


SOLVE: dict[str, Callable[[Given], dict[str, Any]]] = {
    "contains_base": lambda i: {"value": legs.contains_base(base(i["outer"]), base(i["inner"]))},
    "same_base": lambda i: {"value": legs.same_base(base(i["a"]), base(i["b"]))},
    "leg_points_m": first(legs.leg_points_m, "leg_x_m", "extension_m"),
    "slew_in_sector": lambda i: {"value": slew_in_sector(i["slew_deg"], tuple(i["sector_deg"])).tolist()},
    "slew_sectors": sectors,
    "combined_mass": first(combined_mass, "mass_t", "u_m"),
    "carrier_supports": lambda i: {"reaction_kN": on_supports(i).reaction_kN},
    "reactions_on": lambda i: {"reaction_kN": on_supports(i).reaction_kN},
    "build_supports": lambda i: in_contact(i, stated(i)),
    "contact_kN": lambda i: in_contact(i, stated(i)),
    "twisting": lambda i: in_contact(i, twisted(i)),
    "slew_envelope": slewing,
    "contact_interval_kN": interval,
    "radius_range_m": radii,
    "deflected_boom": first(deflected_boom, "length_m", "straight_radius_m"),
    "tandem_share_envelope": first(tandem_share_envelope, "load_t", "cg_to_lug_m"),
    "tornado": swings,
    "sample_utilisation": sampled,
    "calibrate": calibrated,
    "predicted_capacity_t": predicted,
    "equivalent_masses": equivalent,
    "equivalent_boom": equivalent,
    "hook_line_equilibrium": first(hook_line_equilibrium, "load_t", "cg_to_lug_m"),
    "soft_eye_bearing": first(soft_eye_bearing, "pin_diameter_mm", "rope_diameter_mm"),
    "hang_under_beam": first(hang_under_beam, "load_t", "beam_span_m"),
    "refuse_snatch": refused,
    "LegReactions": one_state,
    "legs_stress_by_leg_kPa": first(legs_stress_by_leg_kPa, "pressure_kPa", "depth_m"),
    "legs_stress_kPa": lambda i: {
        "value": first(legs_stress_by_leg_kPa, "pressure_kPa", "depth_m")(i)["value"].sum(axis=-1)
    },
    "spread_stress_kPa": first(spread_stress_kPa, "load_kN", "depth_m"),
    "patch_wall_pressure_kPa": first(patch_wall_pressure_kPa, "load_kN", "depth_m"),
    "mat_outlines": outlines,
    "mat_conflicts": conflicts,
    "segment_segment_distance_m": first(solids.segment_segment_distance_m, "start_a_m", "end_a_m"),
    "member_prism_distance_m": lambda i: {
        "value": solids.member_prism_distance_m(
            *(np.array([i[k]], dtype=float) for k in ("start_m", "end_m", "corners_m")),
            *(np.array([i[k]]) for k in ("base_m", "top_m")),
        )[0][0]
    },
    "sagged_line": sagged,
    "plate_undrained_strength": lambda i: {"value": plate_undrained_strength(i["q_ult_plate_kPa"]).value},
    "centred_beam": middle_of_beam,
}


@pytest.mark.parametrize("row", ROWS, ids=[r["id"] for r in ROWS])
def test_agrees_with_the_library(row: Any) -> None:
    got = SOLVE[row["function"]](row["inputs"])
    for name, want in row["expected"].items():
        if name == "probability":
            low, high = got["between"]
            assert low <= want <= high
        elif name in ("sectors", "pairs"):
            assert got[name] == want
        elif isinstance(want, dict):
            assert got[name] == pytest.approx(want, rel=row["rel_tol"])
        else:
            scale = float(np.max(np.abs(np.asarray(want, dtype=float)))) or 1.0
            np.testing.assert_allclose(
                np.asarray(got[name], dtype=float),
                np.asarray(want, dtype=float),
                rtol=row["rel_tol"],
                atol=row["rel_tol"] * scale,
            )


def test_every_row_names_a_function_and_a_library() -> None:
    assert {r["function"] for r in ROWS} == set(SOLVE)
    assert all(r["source"] and r["section"] for r in ROWS)
