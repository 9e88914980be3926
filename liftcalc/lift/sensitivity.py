"""How sure one lift's governing checks are: samples of what is not exactly known, and a tornado.

The same draws are taken in three ways: rated capacity along the whole path, every sample rated on
its own base (:mod:`liftcalc.lift.sampled_capacity`); stability by rule at the step that governs
capacity (load at rest, no wind); and leg strength, ground and wind at the step that loads a leg
most (with hoist factor). A sample whose rating is an argument that the manufacturer has yet to
confirm is on condition: not over, and no pass. Outriggers that are pinned at steps are as planned
in every sample; others end at their stroke. The deterministic check always governs; a probability
only says how near a wrong guess would bring it. The spread of each quantity is an assumption (no
published source), to be replaced by what is known on site, and is printed beside it.

Sources: those of :mod:`liftcalc.uncertainty.lift_samples` and :mod:`liftcalc.uncertainty.propagation`.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.checks import MAKER_CONFIRMS
from liftcalc.base.errors import InputError
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.conditions import condition_of
from liftcalc.lift.sampled_capacity import (
    SampledCapacity,
    at_rest,
    boomward_lean_deg,
    gust_m_s,
    moving,
    sampled_capacity,
    worst_allowable_kPa,
    worst_lean_deg,
)
from liftcalc.uncertainty import propagation
from liftcalc.uncertainty.lift_samples import SampledLift, sampled_utilisation
from liftcalc.uncertainty.propagation import Exceedance, LogNormal, TruncatedNormal, tornado

LOAD_SPREAD = {"weighed": 0.01, "maker": 0.02, "calculated": 0.03, "estimated": 0.07}
"""Standard deviation of the load by how its mass is known, over its mass: assumed."""


@dataclass(frozen=True)
class Assumption:
    """What is assumed of one quantity."""

    name: str
    """Name in :attr:`liftcalc.uncertainty.lift_samples.SampledLift.nominal`."""
    words: str
    unit: str
    nominal: float
    """Value in the deterministic check."""
    distribution: propagation.Distribution
    spread: str
    """The distribution in words."""


def _normal(sd: float, mean: float = 0.0) -> propagation.Distribution:
    """Normal about the mean, cut at three times its spread."""
    return TruncatedNormal(mean, sd, mean - 3.0 * sd, mean + 3.0 * sd)


def default_assumptions(a: LiftAssessment) -> tuple[Assumption, ...]:
    """Spreads taken where nothing better is known; every one is an assumption.

    Weight about the stated mass by how it is known; radius and centre of gravity together;
    extension of each leg; ground stiffness and strength; wind below the planned gust; set-up lean.
    """
    return tuple(_assumed(a))


def _assumed(a: LiftAssessment) -> Iterator[Assumption]:
    load = a.setup.lift.load
    spread = LOAD_SPREAD[load.mass_basis]
    reach = float(np.hypot(0.10, a.rigging.hanging.error_m[0] / 2))
    yield Assumption(
        "load_t", "weight of the load", "t", at_rest(a).load_t,
        _normal(spread * load.mass_t, load.mass_t),
        f"normal, {100 * spread:g} % ({load.mass_basis}), about the stated mass",
    )  # fmt: skip
    yield Assumption(
        "cg_offset_m", "load farther out than planned", "m", 0.0, _normal(reach),
        f"normal, {reach:.2f} m: radius 0.10 m, half the centre of gravity's error",
    )  # fmt: skip
    # legs that slide freely; a pinned one is as planned in every sample
    for leg, planned in zip(a.setup.machine.legs, a.setup.lift.legs.as_tuple(), strict=True):
        low, high = leg.extension_min_m, leg.extension_max_m
        if not leg.steps_m and high > low:
            yield Assumption(
                f"extension_{leg.name}_m", f"extension of outrigger {leg.name}", "m", planned,
                TruncatedNormal(planned, 0.02, max(planned - 0.06, low), min(planned + 0.06, high)),
                "normal, 0.02 m, cut at three times and at the stroke",
            )  # fmt: skip
    legs = () if a.ground is None else a.ground.legs
    if np.all(np.isfinite([g.stiffness_kN_m for g in legs])):
        for g in legs:
            yield Assumption(
                f"ground_stiffness_{g.name}_kN_m", f"ground stiffness under {g.name}", "kN/m",
                g.stiffness_kN_m, LogNormal(g.stiffness_kN_m, 0.4),
                "log-normal, coefficient of variation 40 %, each outrigger on its own",
            )  # fmt: skip
    if a.ground is not None:
        allowable = worst_allowable_kPa(a)
        yield Assumption("allowable_kPa", "allowable ground pressure", "kPa", allowable,
                         LogNormal(allowable * 1.1, 0.15),
                         "log-normal, 15 %, mean 10 % above the value used")  # fmt: skip
    gust = gust_m_s(a)
    if gust > 0:
        yield Assumption("wind_m_s", "gust at the boom head", "m/s", gust,
                         TruncatedNormal(0.6 * gust, 0.25 * gust, 0.0, 1.2 * gust),
                         "normal, 0.6 of the planned gust, sd 0.25, cut at 1.2")  # fmt: skip
    for axis, side in (("x", "front"), ("y", "left")):
        yield Assumption(f"tilt_{axis}_deg", f"tilt toward the {side} beside the one in the check",
                         "°", 0.0, _normal(0.1),
                         "normal, 0.1° about the tilt that the check includes")  # fmt: skip


DEFAULT_SEED = 20250101
WORDS = {
    "stability": "stability by rule", "rated": "rated capacity", "leg": "outrigger strength",
    "ground": "ground pressure", "wind": "wind", "any": "any of them",
}  # fmt: skip
NOT_WITHIN = "any of them, or only on condition"
_ONLY_MOVING = ("wind", "ground", "allowable")
"""Quantities that the load at rest, without wind, does not depend on."""


@dataclass(frozen=True, eq=False)
class LiftSensitivity:
    """Samples and tornado of one lift."""

    assumptions: tuple[Assumption, ...]
    study: propagation.UncertaintyStudy
    tornado: propagation.Tornado
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
        """Result in words, the samples on condition kept apart."""
        e, held = self.not_within, f"on condition that {MAKER_CONFIRMS}"
        return (
            f"{self.study.statement} {f'The check itself holds only {held}. ' * self.nominal_held}"
            f"Not within limits, in total: {100 * e.probability:.2f} % "
            f"({100 * e.confidence:.0f} % confidence: {100 * e.low:.2f} % to "
            f"{100 * e.high:.2f} %), of which {100 * self.on_condition.mean():.2f} % exceed no "
            f"limit but are only {held}."
        )


def _rated(a: LiftAssessment, planned: SampledLift, samples: Mapping[str, FloatArray]) -> SampledCapacity:
    """Rated capacity of every sample, along the whole path."""
    number = len(next(iter(samples.values())))

    def value(name: str, nominal: float) -> FloatArray:
        return np.asarray(np.broadcast_to(samples.get(name, nominal), number))

    extension = zip(LEG_NAMES, planned.extension_m, strict=True)
    return sampled_capacity(
        a.setup,
        a.path,
        gross_t=value("load_t", planned.load_t) + planned.rigging_t,
        extension_m=np.stack([value(f"extension_{n}_m", e) for n, e in extension], axis=-1),
        radius_shift_m=value("radius_m", planned.radius_m) - planned.radius_m + value("cg_offset_m", 0.0),
    )


def _leaning(samples: Mapping[str, FloatArray], lean_deg: tuple[float, float]) -> dict[str, FloatArray]:
    """Samples whose lean is counted from the one that the check includes."""
    tilt = {
        f"tilt_{a}_deg": np.asarray(samples.get(f"tilt_{a}_deg", 0.0) + d) for a, d in zip("xy", lean_deg, strict=True)
    }
    return {**samples, **tilt}


def lift_sensitivity(
    a: LiftAssessment, *, assumptions: Sequence[Assumption] | None = None, seed: int = DEFAULT_SEED,
    number: int = 100_000, check: str | None = None,
) -> LiftSensitivity:  # fmt: skip
    """Probability of passing each limit, and what moves the result most.

    Parameters:
      a: LiftAssessment
      assumptions: sequence of Assumption, optional. :func:`default_assumptions` unless given.
      seed: Fixes the samples.
      number: How many samples.
      check: optional. Check that the tornado is drawn for, "any" for the greatest of all; unless given, the greatest
        deterministic one other than wind, which is measured during the lift, and rated capacity, which goes in steps.
    Raises: A machine that tips on its path, or a quantity that no part of the lift depends on.
    """
    if not a.forces.stands:
        need = "a machine that stands on its whole path"
        remedy = "Nothing is gained from a probability: the deterministic check fails."
        raise InputError.of("lift", a.setup.lift.id, need, remedy)
    assumed = tuple(default_assumptions(a) if assumptions is None else assumptions)
    still, in_motion = at_rest(a), moving(a)
    worst, boomward = worst_lean_deg(a), boomward_lean_deg(a)
    has_data = not bool((a.study.capacity.source >= ESTIMATE).any())
    conditions: list[BoolArray] = []

    def utilisation(samples: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
        whole = sampled_utilisation(in_motion, _leaning(samples, boomward))
        resting = {n: v for n, v in samples.items() if not n.startswith(_ONLY_MOVING)}
        used = {"stability": sampled_utilisation(still, _leaning(resting, worst))["stability"]}
        if has_data:
            rated = _rated(a, still, samples)
            conditions.append(rated.on_condition)
            used["rated"] = rated.utilisation
        return used | {name: whole[name] for name in ("leg", "ground", "wind") if name in whole}

    spread = {one.name: one.distribution for one in assumed}
    nominal = {one.name: one.nominal for one in assumed}
    study = propagation.sample_utilisation(utilisation, spread, nominal=nominal, seed=seed, number=number)
    # the samples are what was asked first; a lift without capacity data is named as left out
    on_condition = conditions[0] if conditions else np.zeros(number, dtype=np.bool_)
    drawn = check or max((n for n in study.nominal if n not in ("wind", "rated")), key=lambda n: study.nominal[n])
    condition = condition_of(a.study.capacity, a.path)[0]
    return LiftSensitivity(
        assumptions=assumed, study=study,
        tornado=tornado(utilisation, spread, nominal=nominal, check=drawn),
        not_within=propagation.exceedance_probability(np.where(on_condition, np.inf, study.worst)),
        on_condition=on_condition & (study.worst <= 1.0), nominal_held=bool(condition),
        left_out=tuple(_left_out(a, in_motion, spread, condition)),
    )  # fmt: skip


def _left_out(a: LiftAssessment, in_motion: SampledLift, sampled: Collection[str], condition: str) -> Iterator[str]:
    """What is not sampled, and why."""
    if (a.study.capacity.source >= ESTIMATE).any():
        yield "rated capacity: no capacity data for this layout"
    if condition:
        yield f"whether {condition}: the sampled rating holds only on this condition"
    fixed = [n for n in LEG_NAMES if f"extension_{n}_m" not in sampled]
    if fixed:
        yield f"outriggers {', '.join(fixed)}: as planned in every sample, without spread"
    yield ("clearances, rigging, and the outriggers with the boom anywhere but at the step that "
           "loads one most: only the full check has them")  # fmt: skip
    if in_motion.permissible_wind_m_s is None:
        yield "wind: no lifting in any wind"
    if in_motion.ground_stiffness_kN_m is None:
        yield "ground stiffness: no modulus known"
    if bool(np.any(a.forces.empty.max_kN > a.forces.on_path.max_kN + 1e-9)):
        yield "outriggers: one carries more with the empty hook, which is not sampled"


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
    """Each check: utilisation, its 95 % quantile, probability of exceeding its limit."""
    study = found.study
    rows: list[Row] = []
    for name, e in study.exceedance.items():
        nominal = max(study.nominal.values()) if name == "any" else study.nominal[name]
        share = study.governing_share.get(name)
        rows.append(
            (
                WORDS[name], f"{100 * nominal:.1f} %", f"{100 * study.quantiles[name][0.95]:.1f} %",
                _chances(e), "–" if share is None else f"{100 * share:.0f} %",
            )
        )  # fmt: skip
    return [*rows, (NOT_WITHIN, "–", "–", _chances(found.not_within), "–")]
