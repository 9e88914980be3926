"""The working of the ground: pressure under each leg, the worst one's limit, neighbours and mat.

Sources: beside each row.
"""

import numpy as np

from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.leg_ground import LegGround
from liftcalc.lift.setup import Setup
from liftcalc.lift.working_mechanism import mechanism_rows
from liftcalc.lift.working_row import WorkingRow, working_row


def pressure_rows(study: GroundStudy) -> list[WorkingRow]:
    """Mean pressure on the effective area under each leg."""
    return [
        working_row(
            f"Pressure under {g.name}",
            "q = (R + W) / (L B)",
            f"({g.reaction_kN:.1f} + {study.mat.weight_kN:.1f}) / "
            f"({g.effective_length_m:.3f} × {g.effective_width_m:.3f})",
            f"q = {(g.reaction_kN + study.mat.weight_kN) / g.area_m2:.1f} kPa",
            "vertical equilibrium; effective length Duerr 2010",
        )
        for g in study.legs
    ]


def neighbour_rows(g: LegGround) -> list[WorkingRow]:
    """Pressure of the worst leg raised by the stress of all legs, and what the layer allows."""
    added = g.neighbours
    if added is None:
        return []
    return [
        working_row(
            f"Stress of all legs below {g.name}, {added.depth_m:.2f} m down in {added.layer}",
            "q σ_all / σ_own ≤ q_all of the layer without neighbours",
            f"{added.pressure_kPa / added.factor:.1f} × {added.factor:.4f}; {added.mechanism}",
            f"{added.pressure_kPa:.1f} kPa of {added.allowable_kPa:.1f} kPa",
            "Boussinesq, rectangles summed below the middle of the mat",
        )
    ]


def mat_rows(study: GroundStudy, g: LegGround) -> list[WorkingRow]:
    """Strength of the mat under the worst leg as a cantilever, and as a beam on the ground."""
    bent = g.elastic_bending
    beam = [
        working_row(
            f"Mat under {g.name}: bending on the ground",
            "λ = (k_s b / 4 EI)^¼; M of a free beam on springs that cannot pull / allowable M",
            f"k_s = {bent.subgrade_kN_m3:.0f} kN/m³, M = {bent.moment_kNm:.2f} kNm, allowable "
            f"{bent.capacity_kNm:.2f} kNm",
            f"{100 * bent.utilisation:.1f} %",
            "Hetényi 1946; k_s the softer of survey and Vesić 1961",
        )
    ]
    return (beam if np.isfinite(bent.moment_kNm) else []) + [
        working_row(
            f"Mat under {g.name}: {part}",
            "demand / strength",
            f"mat {study.mat.name}, {g.reaction_kN:.1f} kN on {g.effective_length_m:.3f} m × "
            f"{g.effective_width_m:.3f} m",
            f"{100 * value:.1f} %",
            "Duerr 2010, cantilever form",
        )
        for part, value in g.mat_utilisation.items()
    ]


def ground_rows(setup: Setup, study: GroundStudy | None) -> list[WorkingRow]:
    """Pressure of each leg, every mechanism of the worst, and the governing one in full."""
    if study is None:
        return []
    worst = max(study.legs, key=lambda g: g.pressure_kPa / max(g.allowable_kPa, 1e-9))
    rows = pressure_rows(study)
    for name, layer, value in worst.mechanisms:
        rows.append(
            working_row(
                f"Allowable under {worst.name}",
                name,
                layer,
                f"{value:.1f} kPa" + (" (governs)" if value <= worst.allowable_kPa + 1e-9 else ""),
                study.safety_words,
            )
        )
    rows += mechanism_rows(setup, worst, study.mat)
    return rows + neighbour_rows(worst) + mat_rows(study, worst)
