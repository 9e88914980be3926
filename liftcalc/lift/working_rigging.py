"""The working of the sling tensions by components, for a checker with a pocket calculator.

Under a hook the tensions T_i along the unit vectors u_i (lifting point to hook, in the load's
frame) carry the weight W along the plumb line p: sum T_i u_i = W p. Four legs of a rigid load have
one tension to spare; the greatest of the worst leg is reached when one other leg hangs slack, and
that state is shown. Under a beam: verticals at its two ends, and top slings from their angles.

Source: statics.
"""

import itertools
from collections.abc import Iterator

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import G_M_S2
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.lift.working_row import WorkingRow, two_decimals, working_row


def _state_kN(direction: FloatArray, weight: FloatArray, worst: int) -> FloatArray:
    """Tensions in which the worst leg carries most: at most three legs bear."""
    n = len(direction)
    if n <= 3:
        tension, *_ = np.linalg.lstsq(direction.T, weight, rcond=None)
        return np.asarray(tension)
    best = np.zeros(n)
    for slack in range(n):
        bearing = [i for i in range(n) if i != slack]
        if slack == worst:
            continue
        try:
            part = np.linalg.solve(direction[bearing].T, weight)
        except np.linalg.LinAlgError:
            continue
        least = part.min() / np.linalg.norm(weight)
        if least >= -1e-9 and part[bearing.index(worst)] > best[worst]:
            best = np.zeros(n)
            best[bearing] = part
    if best.any():
        return best
    for pair in itertools.combinations(range(n), 2):  # two opposite legs carry all
        part, *_ = np.linalg.lstsq(direction[list(pair)].T, weight, rcond=None)
        if worst in pair and np.allclose(direction[list(pair)].T @ part, weight):
            best[list(pair)] = part
    assert best.any()
    return best


def _bridle_rows(study: RiggingStudy) -> Iterator[WorkingRow]:
    stated = study.stated
    u, plumb = stated.leg_direction[0], stated.plumb[0]
    worst = int(np.argmax(stated.leg_tension_kN[0]))
    weight = study.factor * study.hanging.gear.hung_t * G_M_S2
    tension = _state_kN(u, weight * plumb, worst)
    for i, (v, t) in enumerate(zip(u, tension, strict=True)):
        yield working_row(
            f"Sling leg {i + 1}" + (", greatest" if i == worst else ""),
            "u = (hook − lifting point) / length",
            f"u = ({v[0]:+.4f}, {v[1]:+.4f}, {v[2]:+.4f}), "
            f"angle {np.degrees(np.arcsin(v @ plumb)):.2f}°",
            f"T = {t:.2f} kN" if t > 1e-9 else "T = 0: slack",
        )
    for axis, name in enumerate("xyz"):
        bearing = [(t, v) for t, v in zip(tension, u[:, axis], strict=True) if t > 1e-9]
        yield working_row(
            f"Check: components along the load's {name}",
            f"Σ T u_{name} = W p_{name}",
            " + ".join(f"{t:.2f} × ({v:+.4f})" for t, v in bearing),
            f"Σ T u = {two_decimals(tension @ u[:, axis])} kN; "
            f"{weight:.2f} × ({plumb[axis]:+.4f}) = {two_decimals(weight * plumb[axis])} kN",
        )


def _beam_rows(study: RiggingStudy) -> Iterator[WorkingRow]:
    stated, gear, factor = study.stated, study.hanging.gear, study.factor
    hung = factor * gear.hung_t * G_M_S2
    if stated.end_kN is not None:
        ends = factor * stated.end_kN[0]
        yield working_row(
            "Verticals at the beam's ends",
            "E₁ + E₂ = φ₂ × hung load × g, by the load's centre of gravity",
            f"{ends[0]:.2f} + {ends[1]:.2f}",
            f"E₁ + E₂ = {ends.sum():.2f} kN; weight {hung:.2f} kN",
        )
    if stated.top_tension_kN is not None and stated.top_angle_deg is not None:
        tops, angles = factor * stated.top_tension_kN[0], stated.top_angle_deg[0]
        total = hung + (factor * gear.beam.mass_t * G_M_S2 if gear.beam else 0.0)
        upright = float(tops @ np.sin(np.radians(angles)))
        yield working_row(
            "Top slings",
            "T₁ sin α₁ + T₂ sin α₂ = φ₂ (hung load + beam) g",
            " + ".join(f"{t:.2f} × sin {a:.2f}°" for t, a in zip(tops, angles, strict=True)),
            f"Σ = {upright:.2f} kN; weight {total:.2f} kN",
        )
    legs, angles = factor * stated.leg_tension_kN[0], stated.leg_angle_deg[0]
    for i, (t, a) in enumerate(zip(legs, angles, strict=True)):
        alone = len(legs) == 2
        yield working_row(
            f"Bottom sling {i + 1}",
            "T = E / sin α" if alone else "each may carry the whole end alone, plumb",
            f"{t * np.sin(np.radians(a)):.2f} / sin {a:.2f}°" if alone else f"E = {t:.2f} kN",
            f"T = {t:.2f} kN",
        )


def tension_rows(study: RiggingStudy) -> list[WorkingRow]:
    """Every sling with its direction and tension, and the sum that proves them."""
    return list(_bridle_rows(study) if study.beam is None else _beam_rows(study))
