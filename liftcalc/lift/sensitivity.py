"""How sure one lift's governing checks are: samples of what is not exactly known, and a tornado.

Contents: :class:`Assumption`, :class:`LiftSensitivity`, :func:`default_assumptions`,
:func:`lift_sensitivity`, :func:`assumption_rows`, :func:`probability_rows`,
:func:`sensitivity_values`.

Two steps of the lift are sampled with the same draws: the one that governs capacity (stability by
rule and rated capacity, load at rest, no wind) and the one that loads a leg most (leg strength,
ground, wind, with hoist factor). The deterministic check always governs; a probability only tells
how near a wrong guess would bring it. What is assumed of each quantity is printed beside it:
the spreads are assumptions (no published source), to be replaced by what is known on site.

Sources: those of :mod:`liftcalc.lift_sampling` and :mod:`liftcalc.uncertainty`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from liftcalc.capacity import ESTIMATE
from liftcalc.distributions import Distribution, LogNormal, TruncatedNormal
from liftcalc.errors import InputError
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.capacity_checks import adverse_terms, capacity_grid
from liftcalc.lift.conditions import condition_of
from liftcalc.lift.setup import boom_states
from liftcalc.lift.wind_checks import gust_at_head_m_s, permissible_gust_m_s, wind_terms
from liftcalc.lift_sampling import SampledLift, sampled_utilisation
from liftcalc.masses import BoomState
from liftcalc.stability import tipping_load
from liftcalc.uncertainty import Tornado, UncertaintyStudy, sample_utilisation, tornado
from liftcalc.wind import dynamic_pressure_kPa

__all__ = [
    "Assumption",
    "LiftSensitivity",
    "assumption_rows",
    "default_assumptions",
    "lift_sensitivity",
    "probability_rows",
    "sensitivity_values",
]

FloatArray = NDArray[np.float64]
DEFAULT_SEED = 20250101
WORDS = {
    "stability": "stability by rule",
    "rated": "rated capacity",
    "leg": "leg strength",
    "ground": "ground pressure",
    "wind": "wind",
    "any": "any of them",
}
_ONLY_MOVING = ("wind", "ground", "allowable")
"""Quantities that the load at rest, without wind, does not depend on."""
_LOAD_SPREAD = {"weighed": 0.01, "maker": 0.02, "calculated": 0.03, "estimated": 0.07}


@dataclass(frozen=True)
class Assumption:
    """What is assumed of one quantity."""

    name: str
    """Name in :data:`liftcalc.lift_sampling.VARIABLES`."""
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
    left_out: tuple[str, ...]
    """Checks that were not sampled, and why."""


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
        found.append(
            Assumption(
                f"extension_{leg.name}_m", f"extension of leg {leg.name}", "m", extension,
                _normal(extension, 0.02, low=0.1), "normal, 0.02 m, cut at three times",
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


def _capacity_lift(a: LiftAssessment) -> tuple[SampledLift, str]:
    """The step that governs capacity: load at rest, no wind; and why ratings are left out."""
    k, path, setup = a.study.governing_step, a.path, a.setup
    slew, radius = float(path.slew_deg[k]), float(path.radius_m[k])
    rows: dict[str, Any] = {}
    why = ""
    radii = np.unique(
        np.append(np.arange(radius - 1.0, min(radius + 2.0, setup.boom.radius_max_m), 0.1), radius)
    )
    radii = radii[radii >= setup.boom.radius_min_m]
    circle = capacity_grid(setup, [slew], radii)
    known = circle.source[0] < ESTIMATE
    if a.study.capacity.source[k] < ESTIMATE and known.any():
        at = int(np.argmin(np.abs(circle.radius_m - radius)))
        first, last = at, at
        while first > 0 and known[first - 1]:
            first -= 1
        while last + 1 < len(known) and known[last + 1]:
            last += 1
        share = setup.rules.utilisation_limit_percent / 100
        rows = {
            "chart_radius_m": tuple(float(r) for r in circle.radius_m[first : last + 1]),
            "chart_capacity_t": tuple(
                float(c) * share for c in circle.capacity_t[0, first : last + 1]
            ),
        }
    else:
        why = "rated capacity: no capacity data for this layout"
    lift = SampledLift(
        **_common(a),
        slew_deg=slew,
        radius_m=radius,
        **rows,
    )
    return lift, why


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

    Parameters
    ----------
    a : LiftAssessment
    assumptions : sequence of Assumption, optional
        :func:`default_assumptions` unless given.
    seed : int
        Fixes the samples.
    number : int
        How many samples.
    check : str, optional
        Check that the tornado is drawn for, "any" for the greatest of all; unless given, the
        greatest deterministic one other than wind, which is measured during the lift, and rated
        capacity, which goes in steps.

    Raises
    ------
    InputError
        A machine that tips on its path, or a quantity that no part of the lift depends on.
    """
    if not a.forces.stands:
        raise InputError.of(
            "lift", a.setup.lift.id, "a machine that stays on its legs on its whole path",
            "Nothing is gained from a probability: the deterministic check fails.",
        )  # fmt: skip
    assumed = tuple(default_assumptions(a) if assumptions is None else assumptions)
    at_rest, why = _capacity_lift(a)
    moving = _leg_lift(a)
    worst, boomward = _worst_lean_deg(a), _boomward_lean_deg(a)

    def utilisation(samples: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
        whole = sampled_utilisation(moving, _leaning(samples, boomward))
        still = {n: v for n, v in samples.items() if not n.startswith(_ONLY_MOVING)}
        rest = sampled_utilisation(at_rest, _leaning(still, worst))
        found = {name: rest[name] for name in ("stability", "rated") if name in rest}
        return found | {name: whole[name] for name in ("leg", "ground", "wind") if name in whole}

    spread = {one.name: one.distribution for one in assumed}
    nominal = {one.name: one.nominal for one in assumed}
    left = [why] if why else []
    if condition := condition_of(a.study.capacity, a.path)[0]:
        left.append(f"whether {condition}: the sampled rating holds only on this condition")
    if moving.permissible_wind_m_s is None:
        left.append("wind: no lifting in any wind")
    if moving.ground_stiffness_kN_m is None:
        left.append("ground stiffness: no modulus known")
    if bool(np.any(a.forces.empty.max_kN > a.forces.on_path.max_kN + 1e-9)):
        left.append("legs: some leg carries more with the empty hook, which is not sampled")
    study = sample_utilisation(utilisation, spread, nominal=nominal, seed=seed, number=number)
    drawn = check or max(
        (n for n in study.nominal if n not in ("wind", "rated")), key=lambda n: study.nominal[n]
    )
    return LiftSensitivity(
        assumptions=assumed,
        study=study,
        tornado=tornado(utilisation, spread, nominal=nominal, check=drawn),
        left_out=tuple(left),
    )


Row = tuple[str, ...]


def assumption_rows(found: LiftSensitivity) -> list[Row]:
    """What is assumed of each quantity: name, value in the check, spread."""
    return [(one.words, f"{one.nominal:.4g} {one.unit}", one.spread) for one in found.assumptions]


def _chance(value: float) -> str:
    percent = 100 * value
    return f"{percent:.0f} %" if percent == 0 or percent >= 10 else f"{percent:.2g} %"


def probability_rows(found: LiftSensitivity) -> list[Row]:
    """Each check: deterministic use, use exceeded by 5 %, probability of passing its limit."""
    study = found.study
    rows: list[Row] = []
    for name, e in study.exceedance.items():
        nominal = max(study.nominal.values()) if name == "any" else study.nominal[name]
        rows.append(
            (
                WORDS[name],
                f"{100 * nominal:.1f} %",
                f"{100 * study.quantiles[name][0.95]:.1f} %",
                f"{_chance(e.probability)} ({_chance(e.low)} to {_chance(e.high)})",
                f"{100 * study.governing_share[name]:.0f} %"
                if name in study.governing_share
                else "–",
            )
        )
    return rows


def sensitivity_values(found: LiftSensitivity) -> dict[str, Any]:
    """Numbers for the record."""
    e = found.study.exceedance["any"]
    return {
        "sensitivity_seed": found.study.seed,
        "sensitivity_samples": e.number,
        "sensitivity_count": e.count,
        "sensitivity_high": e.high,
        "sensitivity_first": found.tornado.names[0],
    }
