"""Masses that stand on the base: what is fixed, what slews, the boom, and adverse effects.

Signs: ``u`` runs from the slew centre along the boom direction (counterweight side negative).
A tilt is positive when the machine leans toward +x (front) or +y (left).

Sources: statics and plane geometry.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_non_negative
from liftcalc.crane.boom import boom_angle_deg, head_reduced_mass_t


@dataclass(frozen=True)
class MachineMasses:
    """Masses that do not change with the radius.

    Attributes:
      carrier_mass_t, carrier_x_m, carrier_y_m, carrier_z_m: Everything that does not slew (chassis,
        legs, outrigger boxes), and its centre of gravity.
      slewing_mass_t, slewing_u_m, slewing_z_m: Everything that slews except the boom (superstructure, counterweight),
        and its centre of gravity along the boom direction: negative behind the slew centre.
      Heights may be NaN when unknown; then tilt is refused.
    """

    carrier_mass_t: float
    carrier_x_m: float
    carrier_y_m: float
    slewing_mass_t: float
    slewing_u_m: float
    carrier_z_m: float = float("nan")
    slewing_z_m: float = float("nan")

    def __post_init__(self) -> None:
        require_non_negative("carrier_mass_t", self.carrier_mass_t)
        require_non_negative("slewing_mass_t", self.slewing_mass_t)
        for name in ("carrier_x_m", "carrier_y_m", "slewing_u_m"):
            require_finite(name, getattr(self, name))


@dataclass(frozen=True)
class BoomState:
    """Boom at each radius, for one boom length.

    Attributes:
      radius_m: (R,)   radius of the load from the slew centre [m]
      mass_t: float    mass of the boom [t]
      u_m: (R,)        centre of gravity of the boom along the boom direction [m]
      head_mass_t: float  F, boom mass reduced to the boom head [t]
      z_m: (R,)        height of the boom's centre of gravity above ground [m]
      head_z_m: (R,)   height of the load sheave above ground, where load and its wind act [m]; both
        NaN when unknown: then tilt and wind are refused.
      angle_deg: (R,)  boom angle above horizontal, NaN when unknown
    """

    radius_m: FloatArray
    mass_t: float
    u_m: FloatArray
    head_mass_t: float
    z_m: FloatArray
    head_z_m: FloatArray
    angle_deg: FloatArray

    def __post_init__(self) -> None:
        errors.require_positive("radius_m", self.radius_m)
        require_non_negative("boom mass_t", self.mass_t)
        require_non_negative("head_mass_t", self.head_mass_t)
        require_finite("boom u_m", self.u_m)
        for name in ("u_m", "z_m", "head_z_m", "angle_deg"):
            if np.shape(getattr(self, name)) != self.radius_m.shape:
                raise InputError.of(name, np.shape(getattr(self, name)), "the shape of radius_m")


@dataclass(frozen=True)
class AdverseTerms:
    """Effects beyond weight on level ground; each is zero unless given.

    Attributes:
      tilt_x_deg, tilt_y_deg: Lean of the machine toward +x and +y; a number or one for each radius. Points move by
        height times tan(tilt); the load hangs from the head, so it moves with the head.
      tilt_any_deg: Lean in a direction that is not known, in addition: toward each tipping line in turn.
      wind_direction: ``"boom"``: from behind, along the boom toward the load; ``"worst"``: square
        to each tipping line, outward; ``"fixed"``: toward ``wind_to_deg`` in the machine frame.
      boom_wind_force_kN, boom_wind_z_m, superstructure_wind_force_kN, superstructure_wind_z_m:
        Horizontal forces and the heights at which they act; a number or one for each radius.
      load_wind_force_kN: Horizontal force on the load, acting at the boom head.
      dynamic_factor: Multiplies the load's vertical effect, >= 1.
      side_load_ratio: Horizontal force at the head, square to the boom, either way, as a share of the load.
    """

    tilt_x_deg: ArrayLike = 0.0
    tilt_y_deg: ArrayLike = 0.0
    tilt_any_deg: float = 0.0
    wind_direction: Literal["boom", "worst", "fixed"] = "worst"
    wind_to_deg: float = 0.0
    boom_wind_force_kN: ArrayLike = 0.0
    boom_wind_z_m: ArrayLike = 0.0
    superstructure_wind_force_kN: ArrayLike = 0.0
    superstructure_wind_z_m: ArrayLike = 0.0
    load_wind_force_kN: ArrayLike = 0.0
    dynamic_factor: float = 1.0
    side_load_ratio: float = 0.0

    def __post_init__(self) -> None:
        require_between("tilt_x_deg", self.tilt_x_deg, -5.0, 5.0)
        require_between("tilt_y_deg", self.tilt_y_deg, -5.0, 5.0)
        require_between("tilt_any_deg", self.tilt_any_deg, 0.0, 5.0)
        require_finite("wind_to_deg", self.wind_to_deg)
        if self.wind_direction not in ("boom", "worst", "fixed"):
            raise InputError.of("wind_direction", self.wind_direction, "boom, worst or fixed")
        winds = [f"{on}_wind_{what}" for on in ("boom", "superstructure") for what in ("force_kN", "z_m")]
        for name in (*winds, "load_wind_force_kN"):
            require_non_negative(name, getattr(self, name))
        require_between("dynamic_factor", self.dynamic_factor, 1.0, 3.0)
        require_between("side_load_ratio", self.side_load_ratio, 0.0, 0.5)


NO_ADVERSE_TERMS = AdverseTerms()
"""No wind, no dynamic force, level: what counts where nothing adverse is stated."""


@dataclass(frozen=True)
class WeightAndMoment:
    """All that stands on the base, summed, for each radius of a boom state.

    Attributes:
      mass_t: total mass [t]
      fixed_x_tm, fixed_y_tm: moments about the slew centre of what does not slew [t m]
      slewing_tm: moment of what slews, toward the boom [t m]
      height_tm: moment of the heights above the ground; NaN where a height is unknown [t m]
    """

    mass_t: FloatArray
    fixed_x_tm: float
    fixed_y_tm: float
    slewing_tm: FloatArray
    height_tm: FloatArray

    @property
    def height_m(self) -> FloatArray:
        """Height of the common centre of gravity above the ground; NaN where unknown. [m]"""
        return np.asarray(self.height_tm / self.mass_t)


def weight_and_moment(masses: MachineMasses, boom: BoomState, load_t: ArrayLike = 0.0) -> WeightAndMoment:
    """Sum of the masses, and of mass times place, of machine, boom and load_t at the boom head.

    The load broadcasts with the radii. Raises nothing: masses and boom were checked when made.

    Returns: WeightAndMoment
    """
    load = np.asarray(load_t, dtype=np.float64)
    slewing = masses.slewing_mass_t * masses.slewing_u_m
    height = masses.carrier_mass_t * masses.carrier_z_m + masses.slewing_mass_t * masses.slewing_z_m
    return WeightAndMoment(
        mass_t=masses.carrier_mass_t + masses.slewing_mass_t + boom.mass_t + load,
        fixed_x_tm=masses.carrier_mass_t * masses.carrier_x_m,
        fixed_y_tm=masses.carrier_mass_t * masses.carrier_y_m,
        slewing_tm=slewing + boom.mass_t * boom.u_m + load * boom.radius_m,
        height_tm=height + boom.mass_t * boom.z_m + load * boom.head_z_m,
    )


def straight_boom(
    radius_m: ArrayLike,
    length_m: float,
    *,
    mass_t: float,
    cg_from_foot_m: float,
    foot_u_m: float,
    foot_z_m: float = float("nan"),
    head_offset_m: float = 0.0,
) -> BoomState:
    """Boom state of a straight boom for each radius.

    Rigid boom, no deflection: see :mod:`liftcalc.crane.boom_bending` for the loaded radius.

    Parameters:
      radius_m: shape (R,). Load radius from the slew centre; the load sheave stands at this radius. [m]
      length_m: Foot to head. [m]
      mass_t, cg_from_foot_m: Mass of the boom and distance of its centre of gravity from the foot. [t, m]
      foot_u_m, foot_z_m: Boom foot along the boom direction (negative behind the slew centre) and above ground.
      head_offset_m: Load sheave from the boom's axis, square to it, on the under side. [m]
    Raises: A radius that this boom cannot reach, or only with the boom below horizontal or leaning back.
    """
    r = errors.require_positive("radius_m", np.atleast_1d(np.asarray(radius_m, dtype=np.float64)))
    length = float(errors.require_positive("length_m", length_m))
    head = float(head_reduced_mass_t(mass_t, length, boom_cg_from_foot_m=cg_from_foot_m))
    angle_deg = boom_angle_deg(length, r, foot_u_m=foot_u_m, head_offset_m=head_offset_m)
    ok = (angle_deg >= -1e-9) & (angle_deg <= 90.0 + 1e-9)
    if not ok.all():
        need = f"a radius with the boom of {length:g} m between horizontal and vertical"
        raise InputError.of("radius_m", float(r[~ok][0]), need, "Choose another boom length.")
    angle = np.radians(angle_deg)
    cos, sin = np.cos(angle), np.sin(angle)
    return BoomState(
        radius_m=r, mass_t=float(mass_t), u_m=foot_u_m + cg_from_foot_m * cos, head_mass_t=head,
        z_m=foot_z_m + cg_from_foot_m * sin, head_z_m=foot_z_m + length * sin - head_offset_m * cos,
        angle_deg=angle_deg,
    )  # fmt: skip


def combined_mass(mass_t: ArrayLike, u_m: ArrayLike, *, z_m: ArrayLike = float("nan")) -> tuple[float, float, float]:
    """Mass [t] and centre of gravity u, z [m] of parts of mass_t (n,), at u_m and height z_m.

    u runs from the slew axis toward the boom; a height is NaN where unknown, and then stays unknown.

    Raises: A total that is not above 0.
    """
    mass = require_non_negative("mass_t", np.atleast_1d(np.asarray(mass_t, dtype=np.float64)))
    u = np.broadcast_to(require_finite("u_m", u_m), mass.shape)
    z = np.broadcast_to(np.asarray(z_m, dtype=np.float64), mass.shape)
    total = float(mass.sum())
    if not total > 0:
        raise InputError.of("mass_t", total, "a total greater than 0")
    return total, float(mass @ u) / total, float(mass @ z) / total


def tilted_radius_m(radius_m: ArrayLike, head_height_m: ArrayLike, *, tilt_toward_load_deg: ArrayLike) -> FloatArray:
    """Load radius of a machine that leans toward its load by a rotation about the slew centre.

    R' = R cos(a) + H sin(a); heights from the ground at the slew centre; |a| <= 5 degrees. [m]

    Parameters:
      radius_m: > 0. Radius on level ground, R. [m]
      head_height_m: >= 0. Height H of the boom head. [m]
      tilt_toward_load_deg: -5 to 5. Angle a, positive toward the load. [deg]
    """
    r = errors.require_positive("radius_m", radius_m)
    h = require_non_negative("head_height_m", head_height_m)
    a = np.radians(require_between("tilt_toward_load_deg", tilt_toward_load_deg, -5.0, 5.0))
    return r * np.cos(a) + h * np.sin(a)
