"""What the ground sheet shows by outrigger: ground, pressure, mat, settlement, stock, and curves.

Sources: those of :mod:`liftcalc.ground.mats`, :mod:`liftcalc.ground.allowable`,
:mod:`liftcalc.ground.stress`, :mod:`liftcalc.ground.beam` and :mod:`liftcalc.ground.stress`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.text import Show, amount
from liftcalc.facts.mats import Mat
from liftcalc.ground.beam import centred_beam_shape
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.stress import MatsInPlan, spread_stress_kPa
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.card import card_headline, lifts_as_planned
from liftcalc.lift.ground_facts import mat_properties, shelf_order
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.leg_ground import LegGround, mat_check_of, mat_trial
from liftcalc.lift.setup import Setup


def pressure_along_mat_kPa(
    mat: MatProperties, force_kN: float, *, width_m: float, float_length_m: float, subgrade_kN_m3: float
) -> tuple[FloatArray, FloatArray]:
    """Places along a mat from its middle [m], and the pressure there with the mat's own weight.

    The same beam on the same springs as in :func:`liftcalc.ground.check.elastic_bending`; empty
    where no spring is known (NaN).
    """
    if not np.isfinite(subgrade_kN_m3):
        return np.empty(0), np.empty(0)
    x = np.linspace(-mat.length_m / 2.0, mat.length_m / 2.0, 161)
    shape = centred_beam_shape(force_kN, mat.length_m, width_m=width_m,
                               stiffness_kNm2=mat.stiffness_kNm2 * width_m / mat.width_m,
                               subgrade_modulus_kN_m3=subgrade_kN_m3, patch_m=float_length_m,
                               x_m=x)  # fmt: skip
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
    by_leg = mats.stress_kPa(pressure_kPa, depth, x_m=np.full(depth.shape, mats.x_m[leg]),
                             y_m=np.full(depth.shape, mats.y_m[leg]))  # fmt: skip
    return StressBelow(depth_m=depth, own_kPa=by_leg[:, leg], all_legs_kPa=by_leg.sum(axis=-1),
                       mean_2to1_kPa=spread_stress_kPa(pressure_kPa[leg] * length * width, depth,
                                                       length_m=length, width_m=width))  # fmt: skip


Row = tuple[str, ...]


def _used(ratio: float, show: Show) -> str:
    """Utilisation as printed; a dash where there is none."""
    return show(100 * ratio, "percent") if np.isfinite(ratio) else "–"


def _size(length_m: float, width_m: float, show: Show) -> str:
    return f"{show(length_m, 'length_m')} × {show(width_m, 'length_m')}"


def profile_rows(study: GroundStudy | None, show: Show) -> list[Row]:
    """The ground under the outriggers as surveyed, layer by layer."""
    rows: list[Row] = []
    for fact in {g.profile.id: g.profile for g in (study.legs if study is not None else ())}.values():
        top, found = 0.0, fact.water_depth_m is not None
        water = fact.water_depth_m if found else fact.no_water_to_m
        level = f"water {'at' if found else 'not found to'} {show(water, 'length_m')}"
        for n, layer in enumerate(fact.layers, 1):
            bottom = top + layer.thickness_m
            given = (
                (layer.unit_weight_kN_m3, "unit_weight_kN_m3"), (layer.cu_kPa, "pressure_kPa"),
                (layer.phi_deg, "angle_deg"), (layer.c_kPa, "pressure_kPa"),
                (layer.youngs_modulus_kPa, "pressure_kPa"), (layer.poisson, "ratio"),
            )  # fmt: skip
            ground = f"{fact.id}; {level}" if n == 1 else fact.id
            depth = f"{show(top, 'length_m')} to {show(bottom, 'length_m')}"
            rows.append((ground, f"{n}: {layer.name}", depth, *(show(*one) for one in given)))
            top = bottom
    return rows


def mechanism_rows(study: GroundStudy | None, show: Show) -> list[Row]:
    """Every mechanism of the ground, and the pressure that it allows under each outrigger."""
    if study is None:
        return []
    names = list(dict.fromkeys((n, layer) for g in study.legs for n, layer, _ in g.mechanisms))
    rows: list[Row] = []
    for name, layer in names:
        cells = []
        for g in study.legs:
            value = next((v for n, where, v in g.mechanisms if (n, where) == (name, layer)), None)
            governs = (name, layer) == (g.mechanism, g.layer)
            cells.append(show(value, "pressure_kPa") + (" (governs)" if governs else ""))
        rows.append((name, layer, *cells))
    return rows


def mat_rows(setup: Setup, study: GroundStudy | None, show: Show) -> list[Row]:
    """Demand and strength of each part of the mat under each outrigger."""
    rows: list[Row] = []
    for g in study.legs if study is not None else ():
        check, bent, mat = mat_check_of(setup, g), g.elastic_bending, mat_properties(setup.mat)
        share, divisor = g.effective_width_m / mat.width_m, mat.strength_divisor
        crush, punch = check.punching.crushing_stress_kPa, check.punching.punching_stress_kPa
        parts = (
            (check.actions.moment_kNm, mat.moment_capacity_kNm * share, "moment_kNm"),
            (check.actions.shear_kN, mat.shear_capacity_kN * share, "force_kN"),
            (crush, mat.crushing_strength_kPa / divisor, "pressure_kPa"),
            (punch, mat.shear_strength_kPa / divisor, "pressure_kPa"),
            (bent.moment_kNm, bent.capacity_kNm, "moment_kNm"),
        )
        shown = (f"{show(float(a), q)} / {show(float(b), q)}" for a, b, q in parts)
        length = min(float(check.required_length_m), mat.length_m)
        rows.append((g.name, show(length, "length_m"), *shown))
    return rows


def leg_ground_rows(study: GroundStudy | None, show: Show) -> list[Row]:
    """Each outrigger: ground, reaction, effective size, pressure, what is allowed, and by what."""
    return [
        (g.name, f"{g.zone} ({g.profile.id})", show(g.reaction_kN, "force_kN"),
         _size(g.effective_length_m, g.effective_width_m, show),
         show(g.pressure_kPa, "pressure_kPa"), show(g.allowable_kPa, "pressure_kPa"),
         _used(g.pressure_kPa / g.allowable_kPa if g.allowable_kPa > 0 else np.inf, show),
         f"{g.mechanism}, {g.layer}")
        for g in (study.legs if study is not None else ())
    ]  # fmt: skip


def settlement_rows(study: GroundStudy | None, show: Show) -> list[Row]:
    """Each outrigger: ground stiffness, settlement, and how much more than the minimum."""
    if study is None:
        return []
    settled = np.array([g.settlement_m for g in study.legs])
    least = float(settled.min())  # NaN where one is unknown

    def mm(value_m: float) -> str:
        return show(1000 * value_m, "small_length_mm") if np.isfinite(value_m) else "unknown"

    rows: list[Row] = []
    for g, s in zip(study.legs, settled.tolist(), strict=True):
        stiff = show(g.stiffness_kN_m / 1000, "stiffness_kN_mm") if np.isfinite(s) else "unknown"
        rows.append((g.name, stiff, mm(s), mm(s - least)))
    if study.levelled is not None:
        slope = float(np.max(study.levelled.level.slope_percent))
        grown = "radius + " + mm(float(np.max(study.levelled.radius_growth_m)))
        rows.append(("all, iterated", "–", f"out of level {show(slope, 'percent')}", grown))
    return rows


def _groups(study: GroundStudy) -> list[tuple[str, LegGround]]:
    """Outriggers on the same ground together, with the one that presses most."""
    legs_on: dict[str, list[LegGround]] = {}
    for g in study.legs:
        legs_on.setdefault(g.profile.id, []).append(g)
    return [(", ".join(g.name for g in legs), max(legs, key=lambda g: g.reaction_kN)) for legs in legs_on.values()]


def shelf_rows(setup: Setup, study: GroundStudy | None, mats: Sequence[Mat], show: Show) -> list[Row]:
    """Every mat in stock, smallest first, under the most pressed outrigger of each ground."""
    rows: list[Row] = []
    for names, g in _groups(study) if study is not None else ():
        passed = False
        for mat in sorted(mats, key=shelf_order):
            trial = mat_trial(setup, g, mat)
            fits = trial.utilisation <= 1.0
            word = "smallest that passes" if fits and not passed else "passes"
            word = word if fits else "not enough"
            passed = passed or fits
            word += ", chosen" if mat.id == setup.mat.id else ""
            size = _size(mat.length_m, mat.width_m, show)
            rows.append((f"{names} on {g.profile.id}", show(g.reaction_kN, "force_kN"), mat.id,
                         size, _used(trial.utilisation, show), trial.governs, word))  # fmt: skip
    return rows


def site_instructions(a: LiftAssessment) -> list[tuple[str, str]]:
    """One line for the site crew for each outrigger: mat, packing, how to verify the ground.

    Nothing to set up by where the lift must not be made as planned, as on the site card.
    """
    if a.ground is None:
        return [("all", "DO NOT LIFT: the crane tips over on this path.")]
    if not lifts_as_planned(a):
        return [("all", card_headline(a))]
    rows = []
    for g, packing in zip(a.ground.legs, a.place.packing_m, strict=True):
        clay = any(layer.cu_kPa is not None for layer in g.profile.layers[:2])
        proof = "hand vane or DCP" if clay else "plate test or DCP"
        words = (f"{a.setup.mat.name}, long side parallel to crane, centred under the float; "
                 f"packing {amount(1000 * float(packing), 'small_length_mm')}; force "
                 f"{amount(g.reaction_kN, 'force_kN')}, pressure "
                 f"{amount(g.pressure_kPa, 'pressure_kPa')}; verify {g.zone} ({g.profile.id}) by "
                 f"{proof} to two mat widths.")  # fmt: skip
        rows.append((g.name, words))
    return rows


def ground_cautions(study: GroundStudy | None) -> list[str]:
    """What the ground calculation leaves out, each said once."""
    warnings = [w for g in (study.legs if study is not None else ()) for w in g.warnings]
    return [
        "Settlement is elastic and immediate; clay goes on settling under a standing load.",
        "Outrigger reactions take the ground as alike within a zone: a hard or soft spot under one "
        "mat alone loads the outriggers beside it more.",
        *dict.fromkeys(warnings),
    ]
