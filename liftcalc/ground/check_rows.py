"""Lines for a check table from the ground check, and the line for the site crew.

Contents
--------
GroundRow, worst_rows, crew_instruction.

Sources: Named in each row.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import require_non_negative, require_positive
from liftcalc.ground.check import LegGroundCheck
from liftcalc.ground.mats import MatProperties
from liftcalc.ground.profile import GroundLayer

__all__ = ["GroundRow", "crew_instruction", "worst_rows"]


@dataclass(frozen=True)
class GroundRow:
    """One line of a check table, at its worst state.

    ``value`` and ``limit`` are None, and ``utilisation`` infinite, where data are missing:
    unknown is unsafe. ``state`` is the flat index of the worst state.
    """

    leg: str
    name: str
    value: float | None
    limit: float | None
    unit: str
    utilisation: float
    state: int
    reference: str


_MAT_PARTS = ("bending", "shear", "crushing", "punching")


def worst_rows(
    found: LegGroundCheck, *, settlement_limit_m: float | None = None
) -> tuple[GroundRow, ...]:
    """Check rows of each leg, each at its own worst state.

    Parameters:
      found: LegGroundCheck
      settlement_limit_m: float or None, > 0. Elastic settlement that is still accepted; None leaves
        the row out. [m]
    Returns: tuple of GroundRow, leg by leg
    Raises: A limit that is not above 0.
    Source: Named in each row.
    """
    limit_s = (
        None
        if settlement_limit_m is None
        else float(require_positive("settlement_limit_m", settlement_limit_m))
    )
    rows: list[GroundRow] = []
    for i, leg in enumerate(found.legs):
        mat, bearing = found.mats[i], found.bearing[i]

        def worst(use: FloatArray) -> int:
            return int(np.argmax(use.reshape(-1)))

        def at(array: ArrayLike, state: int) -> float:
            flat = np.ravel(np.asarray(array, dtype=np.float64))
            return float(flat[state] if flat.size > 1 else flat[0])

        def add(
            name: str,
            value: ArrayLike,
            limit: ArrayLike,
            unit: str,
            use: FloatArray,
            reference: str,
            leg_name: str = leg.name,
        ) -> None:
            s = worst(use)
            rows.append(
                GroundRow(
                    leg_name,
                    name,
                    at(value, s),
                    at(limit, s),
                    unit,
                    at(use, s),
                    s,
                    reference,
                )
            )

        s = worst(mat.ground_utilisation)
        name = np.ravel(bearing.governing_name)[s if bearing.governing_name.size > 1 else 0]
        layer = np.ravel(bearing.governing_layer)[s if bearing.governing_layer.size > 1 else 0]
        add(
            "ground pressure",
            mat.pressure_kPa,
            mat.allowable_kPa,
            "kPa",
            mat.ground_utilisation,
            f"{name}, {layer}",
        )
        divisor = leg.mat.strength_divisor
        shear = leg.mat.shear_strength_kPa / divisor
        strengths = (
            (mat.bending_stress_kPa, leg.mat.bending_strength_kPa / divisor, "Duerr 2010, Eqs 3-4"),
            (mat.shear_stress_kPa, shear, "Duerr 2010, Eqs 5-7"),
            (
                mat.punching.crushing_stress_kPa,
                leg.mat.crushing_strength_kPa / divisor,
                "force over float area",
            ),
            (mat.punching.punching_stress_kPa, shear, "ACI 318-19, 22.6.4 (from memory)"),
        )
        for part, (value, limit, reference) in zip(_MAT_PARTS, strengths, strict=True):
            use = getattr(mat, f"{part}_utilisation")
            add(f"mat {part}", value, limit, "kPa", use, reference)
        if found.neighbour_utilisation[..., i].any():
            add(
                "deeper layer under all legs",
                found.neighbour_utilisation[..., i],
                1.0,
                "-",
                found.neighbour_utilisation[..., i],
                "Boussinesq, sum of all legs",
            )
        beam = found.beams[i]
        if beam is None:
            for name in ("mat bending on elastic ground", "settlement"):
                if name != "settlement" or limit_s is not None:
                    rows.append(
                        GroundRow(
                            leg.name,
                            name,
                            None,
                            None,
                            "",
                            float("inf"),
                            0,
                            "no modulus of the ground",
                        )
                    )
            continue
        use = found.elastic_bending_utilisation[..., i]
        section = leg.mat.z_m3 * mat.effective_width_m / leg.mat.width_m
        add(
            "mat bending on elastic ground",
            found.reaction_kN[..., i] * beam.moment_max_kNm / section,
            leg.mat.bending_strength_kPa / divisor,
            "kPa",
            use,
            "Hetenyi 1946; spring by Vesic 1961",
        )
        if limit_s is not None:
            s_i = found.settlement_m[..., i]
            add(
                "settlement",
                1000.0 * s_i,
                1000.0 * limit_s,
                "mm",
                s_i / limit_s,
                "Schleicher 1926, least modulus within two mat widths",
            )
    return tuple(rows)


def crew_instruction(
    leg: str, mat: MatProperties, *, packing_m: float, pressure_kPa: float, ground: GroundLayer
) -> str:
    """One line for the site crew: mat, packing, and the test that proves the ground.

    Parameters:
      leg: str
      mat: MatProperties
      packing_m: float, >= 0. Packing that levels the float, from the survey. [m]
      pressure_kPa: float, > 0. Greatest pressure under the mat. [kPa]
      ground: GroundLayer. The layer on which the mat lies.
    Returns: str
    Raises: A packing or pressure out of range.
    Source: Choice of test: common practice, no published source.
    """
    packing = float(require_non_negative("packing_m", packing_m))
    pressure = float(require_positive("pressure_kPa", pressure_kPa))
    pack = f"packing {1000.0 * packing:.0f} mm" if packing >= 0.0005 else "no packing"
    if ground.cu_kPa is not None:
        proof = f"hand vane at three points: not below {ground.cu_kPa:.0f} kPa"
    elif ground.phi_deg is not None:
        proof = f"plate test to {1.5 * pressure:.0f} kPa, or a cone penetrometer run beside it"
    else:
        proof = f"plate test to {1.5 * pressure:.0f} kPa: the value was taken from a table"
    return (
        f"{leg}: mat {mat.name} ({mat.length_m:.2f} x {mat.width_m:.2f} x "
        f"{mat.thickness_m:.2f} m), "
        f"{pack}, on {ground.name}; before the lift {proof}."
    )
