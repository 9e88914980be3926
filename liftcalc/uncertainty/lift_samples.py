"""Whole utilisation of one lift in many samples at once, for a sensitivity study.

The same mechanics as the deterministic check, with every sample standing on its own base: load,
centre of gravity, radius, the extension of each leg, ground stiffness, allowable pressure, wind
and tilt may differ from sample to sample. One slew and one step of the path: the governing one.
Rated capacity, which belongs to the whole path, is in :mod:`liftcalc.lift.sampled_capacity`.

Method: tipping lines join the legs in order (the base must be convex in every sample); the rest as
in :mod:`liftcalc.crane.stability` and :mod:`liftcalc.reactions.carrier`. Wind acts outward square
to each line for stability, and along the boom for the outrigger reactions, which are the greater of
the rigid and the flexible carrier (and of the stated twist stiffness, if given).

Sources: statics; ISO 4305 test load 1.25 P + 0.1 F (from memory) or a share of the tipping load
(ASME B30.5, second-hand, no edition); wind pressure v^2/1.6 (EN 13001-2).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES, LEG_SIDE, tipping_lines
from liftcalc.crane.masses import AdverseTerms, BoomState, MachineMasses, straight_boom
from liftcalc.crane.stability import Rule, stability_capacity_t
from liftcalc.reactions.carrier import Carrier, carrier_supports, reactions_on
from liftcalc.reactions.moments import acting_point
from liftcalc.wind.pressure import dynamic_pressure_kPa


@dataclass(frozen=True, kw_only=True)
class SampledLift:
    """One lift at one step, with the nominal value of everything.

    Masses [t], lengths [m] in the machine frame, forces [kN]. Checks whose data are not given (leg capacity, mat,
    permissible wind) are left out, never passed silently: the result names what was checked.
    """

    masses: MachineMasses
    boom_length_m: float
    boom_mass_t: float
    boom_cg_from_foot_m: float
    boom_foot_u_m: float
    boom_foot_z_m: float
    slew_deg: float
    leg_x_m: tuple[float, float, float, float]
    extension_m: tuple[float, float, float, float]
    radius_m: float
    load_t: float
    rigging_t: float = 0.0
    """Hook block, rope and rigging: what hangs besides the load."""
    dynamic_factor: float = 1.0
    rule: Rule = "test_load"
    tipping_fraction: float = 0.85
    leg_stiffness_kN_m: tuple[float, float, float, float] | None = None
    """Stiffness of the legs themselves, in series with the ground; stiff if not given."""
    ground_stiffness_kN_m: float | None = None
    torsional_stiffness_kNm_rad: float | None = None
    leg_capacity_kN: tuple[float, float, float, float] | None = None
    mat_area_m2: tuple[float, float, float, float] | None = None
    """Effective area under each leg."""
    mat_weight_kN: float = 0.0
    allowable_kPa: float | None = None
    wind_m_s: float = 0.0
    wind_area_m2: tuple[float, float] = (0.0, 0.0)
    """Area times force coefficient of boom and of load."""
    boom_wind_z_m: float = 0.0
    permissible_wind_m_s: float | None = None

    def __post_init__(self) -> None:
        needed = "boom_length_m boom_mass_t boom_cg_from_foot_m radius_m load_t dynamic_factor"
        optional = (
            "leg_stiffness_kN_m ground_stiffness_kN_m torsional_stiffness_kNm_rad leg_capacity_kN "
            "mat_area_m2 allowable_kPa permissible_wind_m_s"
        )
        given = [name for name in optional.split() if getattr(self, name) is not None]
        for require, names in (
            (require_positive, needed),
            (require_finite, "boom_foot_u_m boom_foot_z_m slew_deg leg_x_m"),
            (require_non_negative, "rigging_t mat_weight_kN wind_m_s wind_area_m2 boom_wind_z_m"),
            (require_positive, " ".join(["extension_m", *given])),
        ):
            for name in names.split():
                require(name, getattr(self, name))
        for name in ("leg_x_m", "extension_m"):
            if len(getattr(self, name)) != 4:
                raise InputError.of(name, getattr(self, name), "four outriggers: FL, FR, RR, RL")
        if (self.mat_area_m2 is None) != (self.allowable_kPa is None):
            raise InputError.of("allowable_kPa", self.allowable_kPa, "given together with mat_area_m2")
        if self.torsional_stiffness_kNm_rad is not None and self.ground_stiffness_kN_m is None:
            raise InputError.of("ground_stiffness_kN_m", None, "given together with torsional_stiffness_kNm_rad")

    @property
    def nominal(self) -> dict[str, float]:
        """Nominal value of each quantity that samples of this lift may give, by its name.

        ``cg_offset_m`` is how far outward the load's centre of gravity is from where it was
        thought to be; tilts are of the machine toward the front (x) and the left (y).
        """
        values: dict[str, float | None] = {
            "load_t": self.load_t, "cg_offset_m": 0.0, "radius_m": self.radius_m,
            **{f"extension_{n}_m": e for n, e in zip(LEG_NAMES, self.extension_m, strict=True)},
            "ground_stiffness_kN_m": self.ground_stiffness_kN_m,
            **{f"ground_stiffness_{n}_kN_m": self.ground_stiffness_kN_m for n in LEG_NAMES},
            "allowable_kPa": self.allowable_kPa, "wind_m_s": self.wind_m_s, "tilt_x_deg": 0.0, "tilt_y_deg": 0.0,
        }  # fmt: skip
        return {name: float(value) for name, value in values.items() if value is not None}


def sampled_utilisation(lift: SampledLift, samples: Mapping[str, ArrayLike]) -> dict[str, FloatArray]:
    """Utilisation of every check in every sample.

    Parameters:
      lift: SampledLift. Nominal values of what the samples do not give.
      samples: mapping of name to array_like, shape (N). Names from :attr:`SampledLift.nominal`.
    Returns: dict of check to ndarray, shape (N). "stability" (gross load over stability-limited load), "leg" (worst leg
      over its strength), "ground" (worst pressure over allowable), "wind" (speed over permissible); those with data.
      Infinite where nothing may be lifted or the machine would tip.
    Raises: An unknown name, samples of different length, anything not finite or out of range, a
      radius that the boom cannot reach, or a base that is not convex in some sample.
    """
    if not samples:
        raise InputError.of("samples", "none", "at least one quantity")
    unknown = sorted(set(samples) - set(lift.nominal))
    if unknown:
        raise InputError.of("samples", ", ".join(unknown), ", ".join(lift.nominal))
    given = {name: require_finite(name, value) for name, value in samples.items()}
    shapes = {value.shape for value in given.values()}
    if len(shapes) != 1 or len(next(iter(shapes))) != 1:
        raise InputError.of("samples", sorted(shapes), "rows of one length")
    number = next(iter(shapes))[0]
    t = _sampled(lift, given, number)
    capacity = stability_capacity_t(
        t.slew_deg, t.boom, base=tipping_lines(t.legs_m), masses=lift.masses, rule=lift.rule,
        tipping_fraction=lift.tipping_fraction, adverse=t.adverse, layout="pairs",
    )  # fmt: skip
    checks = {"stability": _ratio(t.gross_t, capacity)}
    if lift.leg_capacity_kN is not None or lift.mat_area_m2 is not None:
        reaction = _worst_reactions_kN(lift, t)
        if lift.leg_capacity_kN is not None:
            checks["leg"] = (reaction / np.array(lift.leg_capacity_kN)).max(axis=-1)
        if lift.mat_area_m2 is not None and lift.allowable_kPa is not None:
            allowable = require_positive("allowable_kPa", given.get("allowable_kPa", np.asarray(lift.allowable_kPa)))
            q = (reaction + lift.mat_weight_kN) / np.array(lift.mat_area_m2)
            checks["ground"] = q.max(axis=-1) / allowable
    if lift.permissible_wind_m_s is not None:
        checks["wind"] = t.wind_m_s / lift.permissible_wind_m_s
    return checks


def _ratio(gross: FloatArray, capacity: FloatArray) -> FloatArray:
    """Gross load over capacity: infinite where nothing may be lifted, 0 where any load may."""
    return np.asarray(np.divide(gross, capacity, out=np.full(gross.shape, np.inf), where=capacity > 0))


@dataclass(frozen=True)
class _Sampled:
    """The lift in N samples."""

    slew_deg: FloatArray
    gross_t: FloatArray
    boom: BoomState
    legs_m: FloatArray
    """Leg points, shape (N, 4, 2)."""
    wind_m_s: FloatArray
    adverse: AdverseTerms
    """Lean, wind and dynamic factor of every sample."""
    wind_moment_kNm: FloatArray
    stiffness_kN_m: FloatArray | None
    """Leg and ground in series, shape (..., 4)."""


def _sampled(lift: SampledLift, given: Mapping[str, FloatArray], number: int) -> _Sampled:
    def value(name: str, nominal: float) -> FloatArray:
        return np.broadcast_to(given.get(name, np.asarray(nominal)), number)

    load = require_positive("load_t", value("load_t", lift.load_t))
    radius = require_positive("radius_m", value("radius_m", lift.radius_m) + value("cg_offset_m", 0.0))
    reach = radius - lift.boom_foot_u_m
    if not np.all((reach >= 0.0) & (reach < lift.boom_length_m)):
        raise InputError.of(
            "radius_m",
            float(np.max(radius)),
            f"within reach of a boom of {lift.boom_length_m:g} m",
            "Cut the distribution to what the boom can reach.",
        )
    boom = straight_boom(
        radius, lift.boom_length_m, mass_t=lift.boom_mass_t,
        cg_from_foot_m=lift.boom_cg_from_foot_m, foot_u_m=lift.boom_foot_u_m,
        foot_z_m=lift.boom_foot_z_m,
    )  # fmt: skip
    extension = [
        require_positive(f"extension_{leg}_m", value(f"extension_{leg}_m", nominal))
        for leg, nominal in zip(LEG_NAMES, lift.extension_m, strict=True)
    ]
    y = np.stack(extension, axis=-1) * LEG_SIDE
    wind = require_non_negative("wind_m_s", value("wind_m_s", lift.wind_m_s))
    boom_force, load_force = (dynamic_pressure_kPa(wind) * area for area in lift.wind_area_m2)
    return _Sampled(
        slew_deg=np.full(number, lift.slew_deg),
        gross_t=load + lift.rigging_t,
        boom=boom,
        legs_m=np.stack([np.broadcast_to(lift.leg_x_m, y.shape), y], axis=-1),
        wind_m_s=wind,
        adverse=AdverseTerms(
            tilt_x_deg=value("tilt_x_deg", 0.0), tilt_y_deg=value("tilt_y_deg", 0.0),
            wind_direction="worst", boom_wind_force_kN=boom_force, boom_wind_z_m=lift.boom_wind_z_m,
            load_wind_force_kN=load_force, dynamic_factor=lift.dynamic_factor,
        ),
        wind_moment_kNm=boom_force * lift.boom_wind_z_m + load_force * boom.head_z_m,
        stiffness_kN_m=_stiffness_kN_m(lift, given),
    )  # fmt: skip


def _stiffness_kN_m(lift: SampledLift, given: Mapping[str, FloatArray]) -> FloatArray | None:
    """Leg and ground in series; a leg's own ground stiffness counts before the common one."""
    legs = None if lift.leg_stiffness_kN_m is None else np.array(lift.leg_stiffness_kN_m)
    if lift.ground_stiffness_kN_m is None:
        return legs
    common = given.get("ground_stiffness_kN_m", np.asarray(lift.ground_stiffness_kN_m))
    ground = [given.get(f"ground_stiffness_{leg}_kN_m", common) for leg in LEG_NAMES]
    k = require_positive("ground_stiffness_kN_m", np.stack(np.broadcast_arrays(*ground), axis=-1))
    return k if legs is None else np.asarray(1.0 / (1.0 / k + 1.0 / legs))


def _worst_reactions_kN(lift: SampledLift, t: _Sampled) -> FloatArray:
    """Maximum reaction of each outrigger over the carrier models, infinite where it would tip."""
    total, x, y = acting_point(
        t.slew_deg, t.boom, lift.masses, load_t=lift.dynamic_factor * t.gross_t,
        tilt_x_deg=t.adverse.tilt_x_deg, tilt_y_deg=t.adverse.tilt_y_deg, layout="pairs",
    )  # fmt: skip
    vertical, slew = total * G_M_S2, np.radians(t.slew_deg)
    by_wind = t.wind_moment_kNm / vertical
    models: list[Carrier] = ["rigid", "flexible"]
    if lift.torsional_stiffness_kNm_rad is not None:
        models.append("stiffness")
    supports = carrier_supports(
        t.legs_m, t.stiffness_kN_m, carriers=models, torsional_stiffness_kNm_rad=lift.torsional_stiffness_kNm_rad
    )
    xy = np.stack([x + by_wind * np.cos(slew), y + by_wind * np.sin(slew)], axis=-1)
    reactions = reactions_on(supports, vertical, xy, stiffness_given=t.stiffness_kN_m is not None)
    found = [np.where(r.unstable[..., None], np.inf, r.reaction_kN) for r in reactions.values()]
    return np.asarray(np.max(found, axis=0))
