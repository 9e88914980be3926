"""The working of the sling tensions by components, for a checker with a pocket calculator.

Contents: :func:`tension_rows`.

Under a hook the tensions T_i along the unit vectors u_i (lifting point to hook, in the load's
frame) carry the weight W along the plumb line p: sum T_i u_i = W p. Four legs of a rigid load have
one tension to spare; the greatest of the worst leg is reached when one other leg hangs slack, and
that state is shown. Under a beam: verticals at its two ends, and top slings from their angles.

Source: statics.
"""

from __future__ import annotations

import itertools

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import G_M_S2
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.lift.working_row import WorkingRow, working_row

__all__ = ["tension_rows"]


def _state_kN(direction: FloatArray, weight: FloatArray, worst: int) -> FloatArray:
    """Tensions in which the worst leg carries most: at most three legs bear."""
    n = len(direction)
    if n <= 3:
        found, *_ = np.linalg.lstsq(direction.T, weight, rcond=None)
        return np.asarray(found)
    best: FloatArray | None = None
    for slack in range(n):
        if slack == worst:
            continue
        bearing = [i for i in range(n) if i != slack]
        try:
            part = np.linalg.solve(direction[bearing].T, weight)
        except np.linalg.LinAlgError:
            continue
        if part.min() < -1e-9 * np.linalg.norm(weight):
            continue
        tension = np.zeros(n)
        tension[bearing] = part
        if best is None or tension[worst] > best[worst]:
            best = tension
    if best is None:  # two opposite legs carry all
        for pair in itertools.combinations(range(n), 2):
            part, *_ = np.linalg.lstsq(direction[list(pair)].T, weight, rcond=None)
            if worst in pair and np.allclose(direction[list(pair)].T @ part, weight):
                best = np.zeros(n)
                best[list(pair)] = part
    assert best is not None
    return best


def _bridle_rows(study: RiggingStudy) -> list[WorkingRow]:
    stated = study.stated
    u, plumb = stated.leg_direction[0], stated.plumb[0]
    design = study.factor * stated.leg_tension_kN[0]
    worst = int(np.argmax(design))
    weight = study.factor * study.hanging.gear.hung_t * G_M_S2
    tension = _state_kN(u, weight * plumb, worst)
    rows = [
        working_row(
            f"Sling leg {i + 1}" + (", greatest" if i == worst else ""),
            "u = (hook − lifting point) / length",
            f"u = ({v[0]:+.4f}, {v[1]:+.4f}, {v[2]:+.4f}), "
            f"angle {np.degrees(np.arcsin(v @ plumb)):.2f}°",
            f"T = {t:.2f} kN" if t > 1e-9 else "T = 0: slack",
        )
        for i, (v, t) in enumerate(zip(u, tension, strict=True))
    ]
    for axis, name in enumerate("xyz"):
        rows.append(
            working_row(
                f"Check: components along the load's {name}",
                f"Σ T u_{name} = W p_{name}",
                " + ".join(
                    f"{t:.2f} × ({v[axis]:+.4f})"
                    for v, t in zip(u, tension, strict=True)
                    if t > 1e-9
                ),
                f"Σ T u = {round(float(tension @ u[:, axis]), 2) + 0.0:.2f} kN; "
                f"{weight:.2f} × ({plumb[axis]:+.4f}) = {weight * plumb[axis] + 0.0:.2f} kN",
            )
        )
    return rows


def _beam_rows(study: RiggingStudy) -> list[WorkingRow]:
    stated, gear, factor = study.stated, study.hanging.gear, study.factor
    rows = []
    if stated.end_kN is not None:
        ends = factor * stated.end_kN[0]
        hung = factor * gear.hung_t * G_M_S2
        rows.append(
            working_row(
                "Verticals at the beam's ends",
                "E₁ + E₂ = φ₂ × hung load × g, by the load's centre of gravity",
                f"{ends[0]:.2f} + {ends[1]:.2f}",
                f"E₁ + E₂ = {float(ends.sum()):.2f} kN; weight {hung:.2f} kN",
            )
        )
    if stated.top_tension_kN is not None and stated.top_angle_deg is not None:
        tops, angles = factor * stated.top_tension_kN[0], stated.top_angle_deg[0]
        beam = gear.beam.mass_t if gear.beam else 0.0
        total = factor * (gear.hung_t + beam) * G_M_S2
        upright = tops * np.sin(np.radians(angles))
        rows.append(
            working_row(
                "Top slings",
                "T₁ sin α₁ + T₂ sin α₂ = φ₂ (hung load + beam) g",
                " + ".join(f"{t:.2f} × sin {a:.2f}°" for t, a in zip(tops, angles, strict=True)),
                f"Σ = {float(upright.sum()):.2f} kN; weight {total:.2f} kN",
            )
        )
    legs, angles = factor * stated.leg_tension_kN[0], stated.leg_angle_deg[0]
    for i, (t, a) in enumerate(zip(legs, angles, strict=True)):
        rows.append(
            working_row(
                f"Bottom sling {i + 1}",
                "T = E / sin α" if len(legs) == 2 else "each may carry the whole end alone, plumb",
                f"{t * np.sin(np.radians(a)):.2f} / sin {a:.2f}°"
                if len(legs) == 2
                else f"E = {t:.2f} kN",
                f"T = {t:.2f} kN",
            )
        )
    return rows


def tension_rows(study: RiggingStudy) -> list[WorkingRow]:
    """Every sling with its direction and tension, and the sum that proves them."""
    return _bridle_rows(study) if study.beam is None else _beam_rows(study)
