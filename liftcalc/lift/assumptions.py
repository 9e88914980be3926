"""What is assumed of each quantity of a lift that is not exactly known.

The spreads are assumptions (no published source), to be replaced by what is known on site.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.sampled_states import gust_m_s, worst_allowable_kPa
from liftcalc.uncertainty.distributions import Distribution, LogNormal, TruncatedNormal

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


def _normal(sd: float, mean: float = 0.0) -> Distribution:
    """Normal about the mean, cut at three times its spread."""
    return TruncatedNormal(mean, sd, mean - 3.0 * sd, mean + 3.0 * sd)


def default_assumptions(a: LiftAssessment) -> tuple[Assumption, ...]:
    """Spreads taken where nothing better is known; every one is an assumption.

    Weight about the stated mass by how it is known; radius and centre of gravity together;
    extension of each leg; ground stiffness and strength; wind below the planned gust; set-up lean.
    """
    return (*_of_load(a), *_of_legs(a), *_of_ground(a), *_of_wind(a), *_of_lean())


def _of_load(a: LiftAssessment) -> Iterator[Assumption]:
    load = a.setup.lift.load
    spread = _LOAD_SPREAD[load.mass_basis]
    reach = float(np.hypot(0.10, a.rigging.hanging.error_m[0] / 2))
    yield Assumption(
        "load_t", "weight of the load", "t", load.mass_t * (1 + load.contingency_percent / 100),
        _normal(spread * load.mass_t, load.mass_t),
        f"normal, {100 * spread:g} % ({load.mass_basis}), about the stated mass",
    )  # fmt: skip
    yield Assumption(
        "cg_offset_m", "load farther out than planned", "m", 0.0, _normal(reach),
        f"normal, {reach:.2f} m: radius 0.10 m, half the centre of gravity's error",
    )  # fmt: skip


def _of_legs(a: LiftAssessment) -> Iterator[Assumption]:
    """Legs that slide freely; a pinned one is as planned in every sample."""
    for leg, planned in zip(a.setup.machine.legs, a.setup.lift.legs.as_tuple(), strict=True):
        low, high = leg.extension_min_m, leg.extension_max_m
        if not leg.steps_m and high > low:
            yield Assumption(
                f"extension_{leg.name}_m", f"extension of leg {leg.name}", "m", planned,
                TruncatedNormal(planned, 0.02, max(planned - 0.06, low), min(planned + 0.06, high)),
                "normal, 0.02 m, cut at three times and at the stroke",
            )  # fmt: skip


def _of_ground(a: LiftAssessment) -> Iterator[Assumption]:
    if a.ground is None:
        return
    if np.all(np.isfinite([g.stiffness_kN_m for g in a.ground.legs])):
        for g in a.ground.legs:
            yield Assumption(
                f"ground_stiffness_{g.name}_kN_m", f"ground stiffness under {g.name}", "kN/m",
                g.stiffness_kN_m, LogNormal(g.stiffness_kN_m, 0.4),
                "log-normal, coefficient of variation 40 %, each leg for itself",
            )  # fmt: skip
    allowable = worst_allowable_kPa(a)
    yield Assumption(
        "allowable_kPa", "allowable ground pressure", "kPa", allowable,
        LogNormal(allowable * 1.1, 0.15), "log-normal, 15 %, mean 10 % above the value used",
    )  # fmt: skip


def _of_wind(a: LiftAssessment) -> Iterator[Assumption]:
    gust = gust_m_s(a)
    if gust > 0:
        yield Assumption(
            "wind_m_s", "gust at the boom head", "m/s", gust,
            TruncatedNormal(0.6 * gust, 0.25 * gust, 0.0, 1.2 * gust),
            "normal, 0.6 of the planned gust, sd 0.25, cut at 1.2",
        )  # fmt: skip


def _of_lean() -> Iterator[Assumption]:
    for axis, side in (("x", "front"), ("y", "left")):
        yield Assumption(
            f"tilt_{axis}_deg", f"lean toward the {side} beside the one in the check", "°", 0.0,
            _normal(0.1), "normal, 0.1° about the lean that the check includes",
        )  # fmt: skip
