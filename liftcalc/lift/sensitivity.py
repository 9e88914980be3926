"""How sure one lift's governing checks are: samples of what is not exactly known, and a tornado.

Contents: :class:`Assumption`, :class:`LiftSensitivity`, :func:`default_assumptions`,
:func:`lift_sensitivity`, :func:`assumption_rows`, :func:`probability_rows`.

The same draws are taken in three ways: rated capacity along the whole path, every sample rated anew
on its own base (:mod:`liftcalc.lift.sampled_capacity`); stability by rule at the step that governs
capacity (load at rest, no wind); and leg strength, ground and wind at the step that loads a leg
most (with hoist factor). A sample whose rating is an argument that the manufacturer has yet to
confirm is on condition: not over, and no pass. Outriggers that are pinned at steps are as planned
in every sample; others end at their stroke. The deterministic check always governs; a probability
only tells how near a wrong guess would bring it. What is assumed of each quantity is printed beside
it: the spreads are assumptions (no published source), to be replaced by what is known on site.

Sources: those of :mod:`liftcalc.uncertainty.lift_samples` and
:mod:`liftcalc.uncertainty.propagation`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.checks import MAKER_CONFIRMS
from liftcalc.base.errors import InputError
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.crane.masses import BoomState
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.crane.stability import tipping_load
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.conditions import condition_of
from liftcalc.lift.path_study import adverse_terms
from liftcalc.lift.sampled_capacity import SampledCapacity, sampled_capacity
from liftcalc.lift.setup import boom_states
from liftcalc.lift.wind_checks import gust_at_head_m_s, permissible_gust_m_s, wind_terms
from liftcalc.uncertainty.distributions import Distribution, LogNormal, TruncatedNormal
from liftcalc.uncertainty.lift_samples import SampledLift, sampled_utilisation
from liftcalc.uncertainty.propagation import (
    Exceedance,
    Tornado,
    UncertaintyStudy,
    exceedance_probability,
    sample_utilisation,
    tornado,
)
from liftcalc.wind.pressure import dynamic_pressure_kPa

__all__ = [
    "Assumption",
    "LiftSensitivity",
    "assumption_rows",
    "default_assumptions",
    "lift_sensitivity",
    "probability_rows",
]

DEFAULT_SEED = 20250101
WORDS = {
    "stability": "stability by rule",
    "rated": "rated capacity",
    "leg": "leg strength",
    "ground": "ground pressure",
    "wind": "wind",
    "any": "any of them",
}
NOT_WITHIN = "any of them, or only on condition"
_ONLY_MOVING = ("wind", "ground", "allowable")
"""Quantities that the load at rest, without wind, does not depend on."""
_LOAD_SPREAD = {"weighed": 0.01, "maker": 0.02, "calculated": 0.03, "estimated": 0.07}


@dataclass(frozen=True)
class Assumption:
    """What is assumed of one quantity."""

    name: str
    """Name in :data:`liftcalc.uncertainty.lift_samples.VARIABLES`."""
    words: str
    unit: str
    nominal: float
    """Value in the deterministic check."""
    distribution: Distribution
    spread: str
    """The distribution in words."""


@dataclass(frozen=True, eq=False)
class LiftSensitivity:
    """Samples and tornado of one lift."""

    assumptions: tuple[Assumption, ...]
    study: UncertaintyStudy
    tornado: Tornado
    not_within: Exceedance
    """Passing any limit, or rated capacity only on condition."""
    on_condition: BoolArray
    """Samples that pass no limit, but whose rated capacity holds only on condition, shape (N,)."""
    nominal_held: bool
    """Whether the deterministic check is within only on condition."""
    left_out: tuple[str, ...]
    """What was not sampled, and why."""

    @property
    def statement(self) -> str:
        """Result in words, the samples on condition told apart."""
        e, held = self.not_within, f"on condition that {MAKER_CONFIRMS}"
        return (
            f"{self.study.statement} {f'The check itself holds only {held}. ' * self.nominal_held}"
            f"Not within, all told: {e.probability:.2%} ({e.confidence:.0%} confidence: "
            f"{e.low:.2%} to {e.high:.2%}), of which {self.on_condition.mean():.2%} pass no limit "
            f"but are only {held}."
        )


def _normal(mean: float, sd: float, reach: float = 3.0, low: float = -np.inf) -> Distribution:
    return TruncatedNormal(mean, sd, max(mean - reach * sd, low), mean + reach * sd)


def _gust_m_s(a: LiftAssessment) -> float:
    """Planned wind as the gust at the boom head of the worst-leg step."""
    return float(gust_at_head_m_s(a.setup, _boom_at(a, _leg_state(a)[1]).head_z_m)[0])


def _boom_at(a: LiftAssessment, radius_m: float) -> BoomState:
    return boom_states(a.setup.machine, a.setup.boom, np.array([radius_m]))


def _leg_state(a: LiftAssessment) -> tuple[float, float]:
    """Slew and radius of the step at which a leg is used most, with the load."""
    reaction = a.forces.path_reaction_kN
    strength = np.array([leg.capacity_kN for leg in a.setup.machine.legs])
    step = int(np.argmax(np.nan_to_num(reaction / strength, nan=np.inf).max(axis=1)))
    return float(a.path.slew_deg[step]), float(a.path.radius_m[step])


def default_assumptions(a: LiftAssessment) -> tuple[Assumption, ...]:
    """Spreads taken where nothing better is known; every one is an assumption.

    Weight about the stated mass by how it is known; radius and centre of gravity together;
    extension of each leg; ground stiffness and strength; wind below the planned gust; set-up lean.
    """
    setup, load = a.setup, a.setup.lift.load
    spread = _LOAD_SPREAD[load.mass_basis]
    cg = a.rigging.hanging.error_m[0]
    reach = float(np.hypot(0.10, cg / 2))
    gust = _gust_m_s(a)
    found = [
        Assumption(
            "load_t", "weight of the load", "t",
            load.mass_t * (1 + load.contingency_percent / 100),
            _normal(load.mass_t, spread * load.mass_t),
            f"normal, {100 * spread:g} % ({load.mass_basis}), about the stated mass",
        ),
        Assumption(
            "cg_offset_m", "load farther out than planned", "m", 0.0, _normal(0.0, reach),
            f"normal, {reach:.2f} m: radius 0.10 m, half the centre of gravity's error",
        ),
    ]  # fmt: skip
    for leg, extension in zip(setup.machine.legs, setup.lift.legs.as_tuple(), strict=True):
        low, high = leg.extension_min_m, leg.extension_max_m
        if leg.steps_m or not high > low:
            continue
        found.append(
            Assumption(
                f"extension_{leg.name}_m", f"extension of leg {leg.name}", "m", extension,
                TruncatedNormal(
                    extension, 0.02, max(extension - 0.06, low), min(extension + 0.06, high)
                ),
                "normal, 0.02 m, cut at three times and at the stroke",
            )
        )  # fmt: skip
    ground = a.ground
    if ground is not None:
        stiff = [g.stiffness_kN_m for g in ground.legs]
        if np.all(np.isfinite(stiff)):
            for g in ground.legs:
                found.append(
                    Assumption(
                        f"ground_stiffness_{g.name}_kN_m", f"ground stiffness under {g.name}",
                        "kN/m", g.stiffness_kN_m, LogNormal(g.stiffness_kN_m, 0.4),
                        "log-normal, coefficient of variation 40 %, each leg for itself",
                    )
                )  # fmt: skip
        found.append(
            Assumption(
                "allowable_kPa", "allowable ground pressure", "kPa", _worst_allowable(a),
                LogNormal(_worst_allowable(a) * 1.1, 0.15),
                "log-normal, 15 %, mean 10 % above the value used",
            )
        )  # fmt: skip
    if gust > 0:
        found.append(
            Assumption(
                "wind_m_s", "gust at the boom head", "m/s", gust,
                TruncatedNormal(0.6 * gust, 0.25 * gust, 0.0, 1.2 * gust),
                "normal, 0.6 of the planned gust, sd 0.25, cut at 1.2",
            )
        )  # fmt: skip
    for axis, side in (("x", "front"), ("y", "left")):
        found.append(
            Assumption(
                f"tilt_{axis}_deg", f"lean toward the {side} beside the one in the check", "°",
                0.0, _normal(0.0, 0.1), "normal, 0.1° about the lean that the check includes",
            )
        )  # fmt: skip
    return tuple(found)


def _worst_allowable(a: LiftAssessment) -> float:
    assert a.ground is not None
    return max(a.ground.legs, key=lambda g: g.pressure_kPa / g.allowable_kPa).allowable_kPa


def _common(a: LiftAssessment) -> dict[str, Any]:
    setup, boom, load = a.setup, a.setup.boom, a.setup.lift.load
    gross = load.mass_t * (1 + load.contingency_percent / 100)
    return {
        "masses": setup.masses,
        "boom_length_m": boom.length_m,
        "boom_mass_t": boom.mass_t,
        "boom_cg_from_foot_m": boom.cg_from_foot_m,
        "boom_foot_u_m": setup.machine.boom.foot_u_m,
        "boom_foot_z_m": setup.machine.boom.foot_z_m,
        "leg_x_m": tuple(leg.x_m for leg in setup.machine.legs),
        "extension_m": setup.lift.legs.as_tuple(),
        "load_t": gross,
        "rigging_t": setup.gross_t - gross,
        "rule": setup.machine.stability_rule,
        "tipping_fraction": setup.machine.tipping_fraction,
    }


def _capacity_lift(a: LiftAssessment) -> SampledLift:
    """The step that governs capacity: load at rest, no wind."""
    k, path = a.study.governing_step, a.path
    slew, radius = float(path.slew_deg[k]), float(path.radius_m[k])
    return SampledLift(**_common(a), slew_deg=slew, radius_m=radius)


def _rated(
    a: LiftAssessment, at_rest: SampledLift, samples: Mapping[str, FloatArray]
) -> SampledCapacity:
    """Rated capacity of every sample, along the whole path."""
    number = len(next(iter(samples.values())))

    def value(name: str, nominal: float) -> FloatArray:
        return np.asarray(np.broadcast_to(samples.get(name, nominal), number))

    extension = zip(LEG_NAMES, at_rest.extension_m, strict=True)
    return sampled_capacity(
        a.setup,
        a.path,
        gross_t=value("load_t", at_rest.load_t) + at_rest.rigging_t,
        extension_m=np.stack([value(f"extension_{n}_m", e) for n, e in extension], axis=-1),
        radius_shift_m=value("radius_m", at_rest.radius_m)
        - at_rest.radius_m
        + value("cg_offset_m", 0.0),
    )


def _leaning(
    samples: Mapping[str, FloatArray], lean_deg: tuple[float, float]
) -> dict[str, FloatArray]:
    """Samples whose lean is counted from the one that the check includes."""
    tilt = {
        f"tilt_{a}_deg": np.asarray(samples.get(f"tilt_{a}_deg", 0.0) + d)
        for a, d in zip("xy", lean_deg, strict=True)
    }
    return {**samples, **tilt}


def _boomward_lean_deg(a: LiftAssessment) -> tuple[float, float]:
    """Lean that the leg rows include, toward the boom, at the step that loads a leg most."""
    slew, size = np.radians(_leg_state(a)[0]), np.tan(np.radians(a.setup.tilt_any_deg))
    x, y = np.degrees(np.arctan(size * np.array([np.cos(slew), np.sin(slew)])))
    return float(x), float(y)


def _worst_lean_deg(a: LiftAssessment) -> tuple[float, float]:
    """Lean that the stability row includes at the step that governs capacity."""
    setup, path, k = a.setup, a.path, slice(a.study.governing_step, a.study.governing_step + 1)
    line = tipping_load(
        path.slew_deg[k], _boom_at(a, float(path.radius_m[k][0])), layout="pairs",
        base=setup.base, masses=setup.masses,
        adverse=adverse_terms(setup, wind=False, dynamic=False),
    ).line[0]  # fmt: skip
    outward = -setup.base.normals[line] * (line >= 0)
    x, y = np.degrees(np.arctan(outward * np.tan(np.radians(setup.tilt_any_deg))))
    return float(x), float(y)


def _leg_lift(a: LiftAssessment) -> SampledLift:
    """The step that loads a leg most, with hoist factor and wind."""
    setup = a.setup
    slew, radius = _leg_state(a)
    boom = _boom_at(a, radius)
    wind = wind_terms(setup, boom)
    gust = float(wind.gust_m_s[0])
    q = float(dynamic_pressure_kPa(gust)) if gust > 0 else 1.0
    body = float(wind.boom_force_kN[0]), float(wind.superstructure_force_kN[0])
    push = sum(body)
    height = (
        (body[0] * float(wind.boom_z_m[0]) + body[1] * wind.superstructure_z_m) / push
        if push > 0
        else 0.0
    )
    ground: dict[str, Any] = {}
    if a.ground is not None:
        least = _worst_allowable(a)
        ground = {
            "mat_area_m2": tuple(
                g.effective_length_m * g.effective_width_m * g.allowable_kPa / least
                for g in a.ground.legs
            ),
            "mat_weight_kN": a.ground.mat.weight_kN,
            "allowable_kPa": least,
        }
        stiff = [g.stiffness_kN_m for g in a.ground.legs]
        if np.all(np.isfinite(stiff)):
            ground["ground_stiffness_kN_m"] = float(np.mean(stiff))
            ground["torsional_stiffness_kNm_rad"] = (
                setup.machine.carrier.torsional_stiffness_kNm_rad
            )
    limit, legs = permissible_gust_m_s(setup), setup.machine.legs
    return SampledLift(
        **_common(a),
        slew_deg=slew,
        radius_m=radius,
        dynamic_factor=float(setup.gross.dynamic_factor),
        leg_stiffness_kN_m=(
            legs[0].stiffness_kN_m,
            legs[1].stiffness_kN_m,
            legs[2].stiffness_kN_m,
            legs[3].stiffness_kN_m,
        ),
        leg_capacity_kN=(
            legs[0].capacity_kN,
            legs[1].capacity_kN,
            legs[2].capacity_kN,
            legs[3].capacity_kN,
        ),
        wind_m_s=gust,
        wind_area_m2=(push / q, float(wind.load_force_kN[0]) / q),
        boom_wind_z_m=height,
        permissible_wind_m_s=limit if limit > 0 else None,
        **ground,
    )


def lift_sensitivity(
    a: LiftAssessment,
    *,
    assumptions: Sequence[Assumption] | None = None,
    seed: int = DEFAULT_SEED,
    number: int = 100_000,
    check: str | None = None,
) -> LiftSensitivity:
    """Probability of passing each limit, and what moves the result most.

    Parameters:
      a: LiftAssessment
      assumptions: sequence of Assumption, optional. :func:`default_assumptions` unless given.
      seed: int. Fixes the samples.
      number: int. How many samples.
      check: str, optional. Check that the tornado is drawn for, "any" for the greatest of all;
        unless given, the greatest deterministic one other than wind, which is measured during the
        lift, and rated capacity, which goes in steps.
    Raises: A machine that tips on its path, or a quantity that no part of the lift depends on.
    """
    if not a.forces.stands:
        raise InputError.of(
            "lift", a.setup.lift.id, "a machine that stays on its legs on its whole path",
            "Nothing is gained from a probability: the deterministic check fails.",
        )  # fmt: skip
    assumed = tuple(default_assumptions(a) if assumptions is None else assumptions)
    at_rest = _capacity_lift(a)
    has_data = not bool((a.study.capacity.source >= ESTIMATE).any())
    moving = _leg_lift(a)
    worst, boomward = _worst_lean_deg(a), _boomward_lean_deg(a)

    conditions: list[BoolArray] = []

    def utilisation(samples: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
        whole = sampled_utilisation(moving, _leaning(samples, boomward))
        still = {n: v for n, v in samples.items() if not n.startswith(_ONLY_MOVING)}
        rest = sampled_utilisation(at_rest, _leaning(still, worst))
        found = {"stability": rest["stability"]}
        if has_data:
            rated = _rated(a, at_rest, samples)
            conditions.append(rated.on_condition)
            found["rated"] = rated.utilisation
        return found | {name: whole[name] for name in ("leg", "ground", "wind") if name in whole}

    spread = {one.name: one.distribution for one in assumed}
    nominal = {one.name: one.nominal for one in assumed}
    left = [] if has_data else ["rated capacity: no capacity data for this layout"]
    condition = condition_of(a.study.capacity, a.path)[0]
    if condition:
        left.append(f"whether {condition}: the sampled rating holds only on this condition")
    fixed = [n for n in LEG_NAMES if f"extension_{n}_m" not in spread]
    if fixed:
        left.append(f"outriggers {', '.join(fixed)}: as planned in every sample, without spread")
    left.append(
        "clearances, rigging, hook room, and the legs with the boom anywhere but at the step that "
        "loads one most: only the full check has them"
    )
    if moving.permissible_wind_m_s is None:
        left.append("wind: no lifting in any wind")
    if moving.ground_stiffness_kN_m is None:
        left.append("ground stiffness: no modulus known")
    if bool(np.any(a.forces.empty.max_kN > a.forces.on_path.max_kN + 1e-9)):
        left.append("legs: some leg carries more with the empty hook, which is not sampled")
    study = sample_utilisation(utilisation, spread, nominal=nominal, seed=seed, number=number)
    # the samples are what was asked first; a lift without capacity data is named above
    on_condition = conditions[0] if conditions else np.zeros(number, dtype=np.bool_)
    drawn = check or max(
        (n for n in study.nominal if n not in ("wind", "rated")), key=lambda n: study.nominal[n]
    )
    return LiftSensitivity(
        assumptions=assumed,
        study=study,
        tornado=tornado(utilisation, spread, nominal=nominal, check=drawn),
        not_within=exceedance_probability(np.where(on_condition, np.inf, study.worst)),
        on_condition=on_condition & (study.worst <= 1.0),
        nominal_held=bool(condition),
        left_out=tuple(left),
    )


Row = tuple[str, ...]


def assumption_rows(found: LiftSensitivity) -> list[Row]:
    """What is assumed of each quantity: name, value in the check, spread."""
    return [(one.words, f"{one.nominal:.4g} {one.unit}", one.spread) for one in found.assumptions]


def _chance(value: float) -> str:
    percent = 100 * value
    return f"{percent:.0f} %" if percent == 0 or percent >= 10 else f"{percent:.2g} %"


def _chances(e: Exceedance) -> str:
    return f"{_chance(e.probability)} ({_chance(e.low)} to {_chance(e.high)})"


def probability_rows(found: LiftSensitivity) -> list[Row]:
    """Each check: deterministic use, use exceeded by 5 %, probability of passing its limit."""
    study = found.study
    rows: list[Row] = []
    for name, e in study.exceedance.items():
        nominal = max(study.nominal.values()) if name == "any" else study.nominal[name]
        share = study.governing_share.get(name)
        rows.append(
            (
                WORDS[name],
                f"{100 * nominal:.1f} %",
                f"{100 * study.quantiles[name][0.95]:.1f} %",
                _chances(e),
                "–" if share is None else f"{100 * share:.0f} %",
            )
        )
    return [*rows, (NOT_WITHIN, "–", "–", _chances(found.not_within), "–")]
