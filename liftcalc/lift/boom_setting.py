"""Where to set the boom before the load comes on the hook: radius growth by bending (estimate).

A manufacturer's chart is for the loaded radius. When the load comes on, the boom bends and the hook moves out; so the
boom is set short of the pick radius. The growth is that of :func:`liftcalc.crane.boom_bending.deflected_boom` with the
load, less that with the empty hook block, at the same angle of the boom foot. Tilt by settlement of the legs adds to it
(ground pressure sheet).

Sources: those of :mod:`liftcalc.crane.boom_bending`; an estimate, never a manufacturer's figure.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import ConvergenceError, InputError
from liftcalc.crane.boom_bending import (
    LARGEST_DEFLECTION_RATIO,
    UNKNOWN_STIFFNESS_RATIO,
    DeflectedBoom,
    LoadedBoom,
    deflected_boom,
    loaded_boom,
)
from liftcalc.crane.chart import equal_runs
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup


@dataclass(frozen=True)
class BoomSetting:
    """Boom at one place of the path, or why its bending is not estimated."""

    place: str
    loaded_radius_m: float
    """Radius that the load hangs at: the one of the chart and of this sheet. [m]"""
    unloaded_radius_m: float
    """Radius of the empty hook at the same angle of the boom foot; NaN without estimate. [m]"""
    loaded: DeflectedBoom | None
    problem: str = ""

    @property
    def short_m(self) -> float:
        """How far the empty hook hangs short of the loaded radius; NaN without estimate. [m]"""
        return self.loaded_radius_m - self.unloaded_radius_m


def boom_bend(setup: Setup, radius_m: ArrayLike) -> tuple[LoadedBoom, str]:
    """Bent boom at loaded radii, and why its bending is not estimated (empty where it is).

    Where it is not, the deflection at which the method is refused is taken: the sheet then says
    that there is no data. The static gross load counts.
    """
    boom, stiffness = setup.boom, setup.boom.bending_stiffness_kNm2
    # while the machine slews nothing changes: each radius is calculated once
    radius = np.asarray(radius_m, dtype=np.float64)
    first, place = equal_runs(radius)

    def bent(stiffness: float | None, unknown: float) -> LoadedBoom:
        each = loaded_boom(boom.length_m, radius[first], foot_u_m=setup.machine.boom.foot_u_m,
                           bending_stiffness_kNm2=stiffness, hook_load_t=setup.gross_t,
                           empty_hook_t=setup.machine.hook_block(setup.lift.hook_block).mass_t,
                           boom_mass_t=boom.mass_t, boom_cg_from_foot_m=boom.cg_from_foot_m,
                           unknown_ratio=unknown)  # fmt: skip
        return LoadedBoom(*(getattr(each, f.name)[place] for f in dataclasses.fields(each)))

    try:
        return bent(stiffness, UNKNOWN_STIFFNESS_RATIO), ""
    except (InputError, ConvergenceError) as error:
        return bent(None, LARGEST_DEFLECTION_RATIO), str(error)


def loaded_head_z_m(setup: Setup, bend: LoadedBoom) -> FloatArray:
    """Height of the loaded boom head above the stand."""
    rise = bend.chord_m * np.sin(np.radians(bend.chord_deg))
    return np.asarray(setup.machine.boom.foot_z_m + rise)


def bend_words(setup: Setup) -> str:
    """On what the bending of the boom rests."""
    if setup.boom.bending_stiffness_kNm2 is None:
        return (
            f"boom stiffness not stated: taken as bent by {100 * UNKNOWN_STIFFNESS_RATIO:g} % of "
            "its length, our own allowance, not from the manufacturer"
        )
    return "boom deflected, and at pick and set-down also sprung up with the load off (estimate)"


def _bent(setup: Setup, straight_radius_m: float, load_t: float) -> DeflectedBoom:
    boom = setup.boom
    if boom.bending_stiffness_kNm2 is None:
        remedy = "The machine's data state none."
        raise InputError.of("bending_stiffness_kNm2", None, "greater than 0", remedy)
    return deflected_boom(boom.length_m, straight_radius_m, hook_load_t=load_t,
                          boom_mass_t=boom.mass_t, boom_cg_from_foot_m=boom.cg_from_foot_m,
                          bending_stiffness_kNm2=boom.bending_stiffness_kNm2,
                          foot_u_m=setup.machine.boom.foot_u_m)  # fmt: skip


def boom_setting(setup: Setup, loaded_radius_m: float, *, place: str = "") -> BoomSetting:
    """Radius at which the empty hook hangs when the loaded one is to hang at *loaded_radius_m*.

    The static gross load counts: the boom is set for the load at rest.

    Raises: Never for a boom outside the method: ``problem`` says so.
    """
    load, most = setup.gross_t, loaded_radius_m
    block = setup.machine.hook_block(setup.lift.hook_block).mass_t
    try:
        # the straight radius lies inside the loaded one by about the growth found there
        least = most - 2.0 * float(_bent(setup, most, load).radius_growth_m) - 1e-3
        straight = float(brentq(lambda r: float(_bent(setup, r, load).radius_m) - most, least, most, xtol=1e-7))
        loaded, empty = _bent(setup, straight, load), _bent(setup, straight, block)
    except (InputError, ConvergenceError, ValueError) as error:
        return BoomSetting(place, most, float("nan"), None, str(error))
    return BoomSetting(place, most, float(empty.radius_m), loaded)


def boom_settings(setup: Setup, path: LoadPath) -> tuple[BoomSetting, BoomSetting]:
    return (boom_setting(setup, float(path.radius_m[0]), place="pick"),
            boom_setting(setup, float(path.radius_m[-1]), place="set-down"))  # fmt: skip
