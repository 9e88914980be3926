"""What the ground sheet shows leg by leg: pressure, settlement, every mat on the shelf, and curves.

Sources: those of :mod:`liftcalc.ground.mats`, :mod:`liftcalc.ground.allowable`,
:mod:`liftcalc.ground.settlement`, :mod:`liftcalc.ground.beam` and :mod:`liftcalc.ground.stress`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.text import Show
from liftcalc.facts.mats import Mat
from liftcalc.ground.beam import centred_beam_shape
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.stress import MatsInPlan, spread_stress_kPa
from liftcalc.lift.ground_facts import shelf_order
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.leg_ground import LegGround, mat_trial
from liftcalc.lift.setup import Setup


def pressure_along_mat_kPa(
    mat: MatProperties,
    force_kN: float,
    *,
    width_m: float,
    float_length_m: float,
    subgrade_kN_m3: float,
) -> tuple[FloatArray, FloatArray]:
    """Places along a mat from its middle [m], and the pressure there with the mat's own weight.

    The same beam on the same springs as in :func:`liftcalc.ground.check.elastic_bending`; empty
    where no spring is known (NaN).
    """
    if not np.isfinite(subgrade_kN_m3):
        return np.empty(0), np.empty(0)
    x = np.linspace(-mat.length_m / 2.0, mat.length_m / 2.0, 161)
    shape = centred_beam_shape(
        force_kN,
        mat.length_m,
        width_m=width_m,
        stiffness_kNm2=mat.stiffness_kNm2 * width_m / mat.width_m,
        subgrade_modulus_kN_m3=subgrade_kN_m3,
        patch_m=float_length_m,
        x_m=x,
    )
    return x, shape.pressure_kPa + mat.weight_kN / mat.area_m2


@dataclass(frozen=True, eq=False)
class StressBelow:
    """Vertical stress that the mats add below the middle of one of them."""

    depth_m: FloatArray
    own_kPa: FloatArray
    all_legs_kPa: FloatArray
    mean_2to1_kPa: FloatArray
    """Mean of the leg's own, spread 2 vertical to 1 horizontal."""


def stress_below(leg: int, pressure_kPa: FloatArray, mats: MatsInPlan) -> StressBelow:
    """Stress below one leg down to three times the shorter side that bears there."""
    length, width = float(mats.length_m[leg]), float(mats.width_m[leg])
    deep = 3.0 * min(length, width)
    depth = np.linspace(deep / 400.0, deep, 200)
    by_leg = mats.stress_kPa(
        pressure_kPa,
        depth,
        x_m=np.full(depth.shape, mats.x_m[leg]),
        y_m=np.full(depth.shape, mats.y_m[leg]),
    )
    return StressBelow(
        depth_m=depth,
        own_kPa=by_leg[:, leg],
        all_legs_kPa=by_leg.sum(axis=-1),
        mean_2to1_kPa=spread_stress_kPa(
            pressure_kPa[leg] * length * width, depth, length_m=length, width_m=width
        ),
    )


Row = tuple[str, ...]


def leg_ground_rows(study: GroundStudy | None, show: Show) -> list[Row]:
    """Each leg: ground, force, effective size, pressure, what the ground allows, and by what."""
    return [
        (
            g.name,
            f"{g.zone} ({g.profile.id})",
            show(g.reaction_kN, "force_kN"),
            f"{show(g.effective_length_m, 'length_m')} × {show(g.effective_width_m, 'length_m')}",
            show(g.pressure_kPa, "pressure_kPa"),
            show(g.allowable_kPa, "pressure_kPa"),
            f"{100 * g.pressure_kPa / g.allowable_kPa:.0f} %" if g.allowable_kPa > 0 else "–",
            f"{g.mechanism}, {g.layer}",
        )
        for g in (study.legs if study is not None else ())
    ]


def settlement_rows(study: GroundStudy | None, show: Show) -> list[Row]:
    """Each leg: spring of the ground, settlement, and how much more than the least of the four."""
    if study is None:
        return []
    settled = np.array([g.settlement_m for g in study.legs])
    known = bool(np.all(np.isfinite(settled)))
    rows: list[Row] = []
    for g, s in zip(study.legs, settled.tolist(), strict=True):
        if not np.isfinite(s):
            rows.append((g.name, "unknown", "unknown", "unknown"))
            continue
        rows.append(
            (
                g.name,
                f"{g.stiffness_kN_m / 1000:.1f} kN/mm",
                show(1000 * s, "small_length_mm"),
                show(1000 * (s - float(settled.min())), "small_length_mm") if known else "unknown",
            )
        )
    if study.levelled is not None:
        state = study.levelled
        rows.append(
            (
                "tilt and radius, iterated",
                "–",
                f"out of level {float(np.max(state.level.slope_percent)):.2f} %",
                "radius + " + show(1000 * float(np.max(state.radius_growth_m)), "small_length_mm"),
            )
        )
    return rows


def _groups(study: GroundStudy) -> list[tuple[str, LegGround]]:
    """Legs on the same ground together, with the one that presses most."""
    legs_on: dict[str, list[LegGround]] = {}
    for g in study.legs:
        legs_on.setdefault(g.profile.id, []).append(g)
    return [
        (", ".join(g.name for g in legs), max(legs, key=lambda g: g.reaction_kN))
        for legs in legs_on.values()
    ]


def shelf_rows(
    setup: Setup, study: GroundStudy | None, mats: Sequence[Mat], show: Show
) -> list[Row]:
    """Every mat on the shelf, smallest first, under the most pressed leg of each ground."""
    rows: list[Row] = []
    for names, g in _groups(study) if study is not None else ():
        passed = False
        for mat in sorted(mats, key=shelf_order):
            trial = mat_trial(setup, g, mat)
            fits = trial.utilisation <= 1.0
            word = "smallest that passes" if fits and not passed else "passes" if fits else "no"
            passed = passed or fits
            rows.append(
                (
                    f"{names} on {g.profile.id}",
                    show(g.reaction_kN, "force_kN"),
                    mat.id,
                    f"{show(mat.length_m, 'length_m')} × {show(mat.width_m, 'length_m')}",
                    "–" if np.isinf(trial.utilisation) else f"{100 * trial.utilisation:.0f} %",
                    trial.governs,
                    word + (", chosen" if mat.id == setup.mat.id else ""),
                )
            )
    return rows
