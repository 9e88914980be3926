"""Build the rated capacity charts of the invented machines from their own data.

Usage: ``python build_charts.py [OUT_DIR]`` (default: ``../charts`` beside this file).

Model, the same for every chart, so that the charts are consistent with the machine data:

* stability: test-load rule 1.25 P + 0.1 F about every tipping line of the chart's base, least over
  the whole slew circle (every degree, and square to each line and over each leg); level ground, no
  wind, no dynamics, straight boom;
* strength: an invented limit, the lesser of the rope and head limit ``head_t (L0 / L) ** a`` and
  the boom limit ``moment_tm (L0 / L) ** b / (r - foot)``;
* backward: not rated where less than 15 % of the weight stands on the boom side without load;
* every value rounded DOWN to 0.1 t; nothing rated below 0.5 t.

Everything here is invented. No real maker's chart was used.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from numpy.typing import NDArray

from liftcalc.crane.legs import BasePolygon, base_polygon, leg_points_m
from liftcalc.crane.masses import BoomState, MachineMasses, combined_mass, straight_boom
from liftcalc.crane.stability import stability_capacity_t
from liftcalc.facts.chart import RatedChart
from liftcalc.facts.io import load_fact, parse_fact
from liftcalc.facts.machine import Machine
from liftcalc.reactions.moments import boom_side_share

FloatArray = NDArray[np.float64]
HERE = Path(__file__).resolve().parent
RADII_M = [3.0, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0]
RADII_M += [float(r) for r in range(12, 50, 2)]
ROUND_T = 0.1
LEAST_T = 0.5
BACKWARD_SHARE = 0.15
NOTE = (
    "Built by shared/machines/build_charts.py from the invented machine data (test-load rule, "
    "least over the slew circle) and an invented strength limit; rounded down to 0.1 t."
)


@dataclass(frozen=True)
class Strength:
    """Invented strength limit of one machine."""

    head_t: float
    head_power: float
    moment_tm: float
    moment_power: float


@dataclass(frozen=True)
class Plan:
    """Charts to build for one machine."""

    machine: str
    bases_m: dict[str, float]
    strength: Strength


PLANS = (
    Plan(
        "demo-50",
        {"full": 3.2, "intermediate": 2.3, "retracted": 1.25},
        Strength(head_t=50.0, head_power=0.8, moment_tm=215.0, moment_power=0.25),
    ),
    Plan(
        "demo-90",
        {"full": 3.7, "intermediate": 2.5, "retracted": 1.4},
        Strength(head_t=90.0, head_power=0.85, moment_tm=405.0, moment_power=0.25),
    ),
)


def round_down(values: FloatArray) -> FloatArray:
    """Values rounded down to the chart's step (1e-9 guards numbers that are on it)."""
    return np.round(np.floor(values / ROUND_T + 1e-9) * ROUND_T, 1)


def machine_masses(machine: Machine, counterweight: str) -> MachineMasses:
    """Masses without the boom, with one counterweight fitted."""
    carrier, top, weight = (machine.carrier, machine.superstructure, machine.counterweight(counterweight))
    mass, u, z = combined_mass(
        [top.mass_t, weight.mass_t], [top.cg_u_m, weight.cg_u_m], z_m=[top.cg_z_m, weight.cg_z_m]
    )
    return MachineMasses(
        carrier_mass_t=carrier.mass_t,
        carrier_x_m=carrier.cg_x_m,
        carrier_y_m=carrier.cg_y_m,
        carrier_z_m=carrier.cg_z_m,
        slewing_mass_t=mass,
        slewing_u_m=u,
        slewing_z_m=z,
    )


def boom_state(machine: Machine, index: int, radius_m: FloatArray) -> BoomState:
    """Boom of one length at each radius."""
    boom = machine.boom
    return straight_boom(
        radius_m,
        boom.lengths_m[index],
        mass_t=boom.mass_t,
        cg_from_foot_m=boom.cg_from_foot_m[index],
        foot_u_m=boom.foot_u_m,
        foot_z_m=boom.foot_z_m,
        head_offset_m=boom.head_offset_m,
    )


def reachable(machine: Machine, length: float) -> NDArray[np.bool_]:
    """Which chart radii this boom length reaches within its angle limits."""
    boom = machine.boom
    low = boom.foot_u_m + length * np.cos(np.radians(boom.angle_max_deg))
    high = boom.foot_u_m + length * np.cos(np.radians(max(boom.angle_min_deg, 15.0)))
    radius = np.array(RADII_M)
    return np.asarray((radius >= max(low, machine.radius_min_m)) & (radius <= high))


def strength_t(machine: Machine, strength: Strength, length: float) -> FloatArray:
    """Invented strength limit at every chart radius."""
    ratio = machine.boom.lengths_m[0] / length
    head = strength.head_t * ratio**strength.head_power
    moment = strength.moment_tm * ratio**strength.moment_power
    return np.asarray(np.minimum(head, moment / (np.array(RADII_M) - machine.boom.foot_u_m)))


def chart_base(machine: Machine, extension_m: float) -> BasePolygon:
    """Base with all four legs at one extension."""
    return base_polygon(leg_points_m([leg.x_m for leg in machine.legs], [extension_m] * 4))


def chart_row(
    machine: Machine, plan: Plan, counterweight: str, base: BasePolygon, index: int
) -> tuple[list[float | None], list[float | None]]:
    """Rated capacity and strength limit of one boom length at every chart radius."""
    length = machine.boom.lengths_m[index]
    reach = reachable(machine, length)
    radius = np.array(RADII_M)[reach]
    limit = round_down(strength_t(machine, plan.strength, length)[reach])
    masses, boom = machine_masses(machine, counterweight), boom_state(machine, index, radius)
    # every degree, square to each tipping line and over each corner
    to = np.concatenate([-base.normals, base.vertices_m])
    slew = np.union1d(np.arange(360.0), np.degrees(np.arctan2(to[:, 1], to[:, 0])) % 360.0)
    stable = stability_capacity_t(slew, boom, base=base, masses=masses, rule="test_load")
    back = boom_side_share(slew, boom, base=base, masses=masses)
    capacity = round_down(np.minimum(stable.min(axis=0), limit))
    rated = (capacity >= LEAST_T) & (back.min(axis=0) >= BACKWARD_SHARE)
    row: list[float | None] = [None] * len(RADII_M)
    strong: list[float | None] = [None] * len(RADII_M)
    for k, i in enumerate(np.flatnonzero(reach)):
        strong[i] = float(limit[k])
        if rated[k]:
            row[i] = float(capacity[k])
    return row, strong


def build(plan: Plan) -> list[RatedChart]:
    """All charts of one machine, validated."""
    machine = load_fact(Machine, HERE / f"{plan.machine}.yaml")
    charts = []
    for weight in machine.counterweights:
        for name, extension in plan.bases_m.items():
            base = chart_base(machine, extension)
            rows = [chart_row(machine, plan, weight.id, base, k) for k in range(len(machine.boom.lengths_m))]
            data: dict[str, Any] = {
                "id": f"{machine.id}-{name}-{weight.id}",
                "machine": machine.id,
                "counterweight": weight.id,
                "base_name": name,
                "leg_extension_m": dict.fromkeys(("FL", "FR", "RR", "RL"), extension),
                "sector_deg": [0.0, 360.0],
                "rule": "test_load",
                "boom_length_m": list(machine.boom.lengths_m),
                "radius_m": RADII_M,
                "capacity_t": [row for row, _ in rows],
                "strength_t": [strong for _, strong in rows],
                "wind_m_s": machine.wind_limit_m_s,
                "provenance": {"kind": "invented", "note": NOTE},
            }
            charts.append(parse_fact(RatedChart, data, source=data["id"]))
    return charts


def to_yaml(charts: list[RatedChart]) -> str:
    """The charts as YAML text, one row of the chart on one line."""
    head = "# INVENTED rated capacity charts. No real maker, model or maker's data.\n"
    data = [chart.model_dump(mode="json") for chart in charts]
    return head + yaml.safe_dump(data, sort_keys=False, default_flow_style=None, width=400)


def main(out: Path) -> None:
    """Write one file of charts for each machine."""
    out.mkdir(parents=True, exist_ok=True)
    for plan in PLANS:
        path = out / f"{plan.machine}.yaml"
        path.write_text(to_yaml(build(plan)), encoding="utf-8")
        print(path)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE.parent / "charts")
