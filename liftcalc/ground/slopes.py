"""How far to stay from an excavation, a slope or a wall: set-backs, and the pressure on a wall.

The rules of set-back differ by owner and purpose, so each keeps its name and source; the greatest
distance governs. None of them replaces the slip check in :mod:`liftcalc.ground.slip`. On a wall,
only the added pressure from the surface load counts; earth and water pressure stand on it already.
A wall that can move enough to reach the active state takes 75 % of the rigid-wall value.

Sources: DIN 4124, second-hand from German accident-insurance leaflets that name no edition (plant near an edge); a
multiple of the depth for supports near pits, second-hand from German safety guidance that names no edition;
International Building Code 1808.7 (from memory); 29 CFR 1926.651(j)(2) (from memory); influence line: geometry. Walls:
Terzaghi (1954), point load, as in UFC 3-220-20 (2025), Fig. 4-18 (text read in the transcription of the package
geotech-references 1.4.1); formulas second-hand, no edition.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive

PitSoil = Literal["natural cohesive", "fill or granular"]

_FT = 0.3048


def footing_set_back_m(slope_height_m: ArrayLike) -> FloatArray:
    """Distance of permanent footings from the crest of slope_height_m H: H/3, at most 40 ft. [m]

    For permanent work on slopes not steeper than 1:1; only a guide for a leg.
    Source: International Building Code, 1808.7 and Fig. 1808.7.1 (fractions from memory).
    """
    return np.minimum(require_positive("slope_height_m", slope_height_m) / 3.0, 40.0 * _FT)


def plant_set_back_m(gross_mass_t: ArrayLike) -> FloatArray:
    """Least distance of plant from an unshored edge by gross_mass_t: 1.0 m to 12 t, 2.0 m to 40 t.

    Raises: Above 40 t: the rule ends there and stability must be proved.
    Source: DIN 4124, second-hand from accident-insurance leaflets, no edition.
    """
    mass = require_positive("gross_mass_t", gross_mass_t)
    if not np.all(mass <= 40.0):
        need = "at most 40 t for this rule"
        remedy = "Prove the stability of the edge by a slip check."
        raise InputError.of("gross_mass_t", float(np.max(mass)), need, remedy)
    return np.where(mass <= 12.0, 1.0, 2.0)


def pit_depth_set_back_m(pit_depth_m: ArrayLike, soil: PitSoil) -> FloatArray:
    """Distance of a support from a pit's edge as a multiple of pit_depth_m by ``soil``. [m]

    One depth in undisturbed cohesive ground, two in fill or running ground.
    Raises: An unknown soil.
    Source: German safety guidance for supports near pits, second-hand, no edition.
    """
    depth = require_positive("pit_depth_m", pit_depth_m)
    if soil == "natural cohesive":
        return np.asarray(depth)
    if soil == "fill or granular":
        return np.asarray(2.0 * depth)
    raise InputError.of("soil", soil, "natural cohesive, fill or granular")


def influence_line_distance_m(pit_depth_m: ArrayLike) -> FloatArray:
    """Distance at which a line down from the pad at 45 degrees just clears a face of pit_depth_m.

    Source: Geometry; 45 and 30 degrees are both in published use.
    """
    return np.asarray(require_positive("pit_depth_m", pit_depth_m) / np.tan(np.deg2rad(45.0)))


def edge_clearance_m() -> float:
    """Least distance of anything that could roll or fall in from the edge: 2 ft. [m]

    Source: 29 CFR 1926.651(j)(2) (from memory); a falling-object rule, not a bearing check.
    """
    return 2.0 * _FT


@dataclass(frozen=True)
class SetBack:
    """One rule against the distance there is.

    Attributes:
      rule, source: what it is and where it stands.
      required_m, actual_m: distance from the mat's edge to the crest.
      utilisation: required over actual; infinite at the edge.
      binding: whether the rule was made for plant near an edge (else a guide).
    """

    rule: str
    source: str
    required_m: float
    actual_m: float
    utilisation: float
    binding: bool


def set_back_rules(distance_m: float, depth_m: float, *, gross_mass_t: float, soil: PitSoil) -> tuple[SetBack, ...]:
    """All set-back rules for one mat near an excavation or slope, strictest first.

    Parameters:
      distance_m: >= 0. Nearest point of the mat to the crest. [m]
      depth_m: > 0. Depth of the excavation or height of the slope. [m]
      gross_mass_t: > 0. Machine and load. [t]
    Returns: tuple of SetBack. Above 40 t the mass rule asks for a proof of stability: its row then
      has an infinite required distance, so it cannot be met by distance alone.
    """
    actual = float(require_non_negative("distance_m", distance_m))
    depth = float(require_positive("depth_m", depth_m))
    mass = float(require_positive("gross_mass_t", gross_mass_t))
    by_mass = float(plant_set_back_m(mass)) if mass <= 40.0 else float("inf")
    by_depth = float(pit_depth_set_back_m(depth, soil))
    pits = "safety guidance for supports near pits (second-hand, no edition)"
    footing = float(footing_set_back_m(depth))
    rows = (
        ("plant by mass", "DIN 4124 (second-hand, no edition)", by_mass, True),
        ("multiple of depth", pits, by_depth, True),
        ("influence line at 45 degrees", "geometry", float(influence_line_distance_m(depth)), True),
        ("edge clearance", "29 CFR 1926.651(j)(2), from memory", edge_clearance_m(), True),
        ("permanent footing at a crest", "IBC 1808.7, from memory", footing, False),
    )
    out = []
    for rule, source, need, binding in rows:
        used = need / actual if actual > 0.0 else float("inf")
        out.append(SetBack(rule, source, need, actual, used, binding))
    return tuple(sorted(out, key=lambda r: -r.required_m))


WallCondition = Literal["rigid", "yielding"]

_GAUSS_PLACE, _GAUSS_WEIGHT = np.polynomial.legendre.leggauss(12)


def point_wall_pressure_kPa(
    load_kN: ArrayLike,
    depth_m: ArrayLike,
    *,
    distance_m: ArrayLike,
    wall_height_m: ArrayLike,
    offset_along_m: ArrayLike = 0.0,
    wall: WallCondition = "rigid",
) -> FloatArray:
    """Sideways pressure on a wall at depth_m (within its height) from a point load_kN behind it.

    m = x/H (distance_m over wall_height_m), n = z/H. m <= 0.4: 0.28 n^2/(0.16 + n^2)^3, else 1.77
    m^2 n^2/(m^2 + n^2)^3, times Q/H^2; sideways times cos^2(1.1 psi), psi the angle in plan to a
    place offset_along_m along the wall, zero beyond 90/1.1 degrees; ``wall`` "rigid" or "yielding".

    Raises: A depth below the wall, or a wall of another kind.
    Source: Terzaghi (1954); UFC 3-220-20 (2025), Fig. 4-18.
    """
    q = require_non_negative("load_kN", load_kN)
    height = require_positive("wall_height_m", wall_height_m)
    x = require_positive("distance_m", distance_m)
    z = require_non_negative("depth_m", depth_m)
    if not np.all(z <= height * (1.0 + 1e-12)):
        raise InputError.of("depth_m", float(np.max(z)), "at most wall_height_m")
    if wall not in ("rigid", "yielding"):
        raise InputError.of("wall", wall, "rigid, yielding")
    turn = 1.1 * np.abs(np.arctan(require_finite("offset_along_m", offset_along_m) / x))
    side = np.where(turn < np.pi / 2.0, np.cos(turn) ** 2, 0.0)
    share = 1.0 if wall == "rigid" else 0.75
    m, n = x / height, z / height
    near, far = 0.28 * n**2 / (0.16 + n**2) ** 3, 1.77 * m**2 * n**2 / (m**2 + n**2) ** 3
    return np.asarray(share * q / height**2 * np.where(m <= 0.4, near, far) * side)


def patch_wall_pressure_kPa(
    load_kN: ArrayLike,
    depth_m: ArrayLike,
    *,
    edge_distance_m: float,
    across_m: float,
    along_m: float,
    wall_height_m: float,
    offset_along_m: ArrayLike = 0.0,
    wall: WallCondition = "rigid",
) -> FloatArray:
    """Pressure on a wall at depth_m from a mat of load_kN in all, every part of it a point load.

    The mat, across_m square to the wall and along_m along it, begins edge_distance_m from it; offset_along_m is the
    point of the wall looked at, from the point opposite the mat's middle; wall_height_m as
    :func:`point_wall_pressure_kPa`. Gauss points each way: nearer and farther than 0.4 of the wall's height, where the
    formula has a kink, and over the angle in plan, so that a mat hard by the wall is not missed.

    Source: Superposition of :func:`point_wall_pressure_kPa`.
    """
    edge = float(require_non_negative("edge_distance_m", edge_distance_m))
    across = float(require_positive("across_m", across_m))
    along = float(require_positive("along_m", along_m))
    place, weight = _GAUSS_PLACE, _GAUSS_WEIGHT
    height = float(require_positive("wall_height_m", wall_height_m))
    middle = require_finite("offset_along_m", offset_along_m)[..., None, None]
    load = require_non_negative("load_kN", load_kN)[..., None, None]
    depth = np.asarray(depth_m, dtype=np.float64)[..., None, None]
    ends = np.array([edge, np.clip(0.4 * height, edge, edge + across), edge + across])
    half = np.diff(ends)[:, None] / 2.0
    x = (ends[:-1, None] + half * (place + 1.0)).ravel()[:, None]
    low, high = (
        np.clip(np.arctan((middle + side * along / 2.0) / x), -np.pi / 2.2, np.pi / 2.2) for side in (-1.0, 1.0)
    )
    turn = low + (high - low) * (place + 1.0) / 2.0
    part = point_wall_pressure_kPa(
        load, depth, distance_m=x, wall_height_m=height, offset_along_m=x * np.tan(turn), wall=wall
    )
    share = (half * weight).ravel()[:, None] * weight * (high - low) * x / np.cos(turn) ** 2
    return np.asarray((part * share).sum(axis=(-2, -1)) / (2.0 * across * along))
