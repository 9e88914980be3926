"""Ground as found: layers from the top down, water level, and whether voids are ruled out.

What is unknown is unsafe: ground not explored deep enough, a water level nobody looked for,
or voids nobody ruled out are refused here, with every other problem in the same message.

Sources: Needed depth of exploration: 2 B below the base, where a load spread at 2 to 1 has fallen
to 1/9 under a square; UFC 3-220-20 (2025) section 5-1.1 asks for the depth at which the stress
change is negligible. Hydrostatic water.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from liftcalc.base.errors import InputError, Problem
from liftcalc.ground.bearing import PHI_MAX_DEG, WATER_UNIT_WEIGHT_KN_M3

Voids = Literal["none found", "present", "unknown"]

_CU_MAX_KPA = 1000.0
_UNIT_WEIGHT_RANGE_KN_M3 = (10.0, 27.0)
NEEDED_DEPTH_OVER_B = 2.0
"""Depth, over the width of the mat, to which the ground must be known."""


@dataclass(frozen=True)
class GroundLayer:
    """One layer. Give the strengths that are known; at least one basis must be.

    thickness_m: inf for the lowest layer if it goes on. cu_kPa: undrained strength of clay.
    phi_deg and c_kPa: effective strength (c_kPa None counts as 0). presumptive_kPa: a
    published allowable pressure for this ground, with its source.
    """

    name: str
    thickness_m: float
    unit_weight_kN_m3: float
    cu_kPa: float | None = None
    phi_deg: float | None = None
    c_kPa: float | None = None
    youngs_modulus_kPa: float | None = None
    poisson: float | None = None
    presumptive_kPa: float | None = None
    presumptive_source: str = ""


@dataclass(frozen=True)
class GroundProfile:
    """Layers top-down with the water level and the state of knowledge about voids.

    water_depth_m: measured depth of the water table below ground; or None together with
    water_not_found_to_m, the depth to which none was found (water is then taken just there).
    voids: "none found" only after somebody has looked (records, survey).
    """

    layers: tuple[GroundLayer, ...]
    water_depth_m: float | None = None
    water_not_found_to_m: float | None = None
    voids: Voids = "unknown"
    name: str = "ground"


def _number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


_OPTIONAL: tuple[tuple[str, Callable[[float], bool], str, str], ...] = (
    (
        "cu_kPa", lambda v: 0.0 < v <= _CU_MAX_KPA,
        f"greater than 0 and at most {_CU_MAX_KPA:g} kPa", "Leave it out if it is not known.",
    ),
    (
        "phi_deg", lambda v: 0.0 < v <= PHI_MAX_DEG,
        f"greater than 0 and at most {PHI_MAX_DEG:g} degrees",
        "Leave it out if not known; for clay without friction give cu_kPa.",
    ),
    ("c_kPa", lambda v: 0.0 <= v <= _CU_MAX_KPA, "0 to 1000 kPa", ""),
    ("youngs_modulus_kPa", lambda v: v > 0.0, "greater than 0", ""),
    ("poisson", lambda v: 0.0 <= v <= 0.5, "0 to 0.5", ""),
    ("presumptive_kPa", lambda v: v > 0.0, "greater than 0", ""),
)  # fmt: skip
"""Values that may be missing: name, what holds, that in words, remedy."""


def _layer_problems(layer: GroundLayer, field: str, last: bool) -> list[Problem]:
    found: list[Problem] = []

    def need(ok: bool, name: str, allowed: str, remedy: str = "") -> None:
        if not ok:
            found.append(Problem(f"{field}.{name}", getattr(layer, name), allowed, remedy))

    t = layer.thickness_m
    endless = isinstance(t, float) and math.isinf(t) and t > 0
    need(
        (_number(t) and t > 0) or (endless and last), "thickness_m", "greater than 0",
        "Only the lowest layer may go on without end." if endless else "",
    )  # fmt: skip
    low, high = _UNIT_WEIGHT_RANGE_KN_M3
    weight = layer.unit_weight_kN_m3
    need(
        _number(weight) and low <= weight <= high, "unit_weight_kN_m3",
        f"{low:g} to {high:g} kN/m3",
        "Peat and organic soil carry no outrigger." if _number(weight) and weight < low else "",
    )  # fmt: skip
    for name, ok, allowed, remedy in _OPTIONAL:
        value = getattr(layer, name)
        need(value is None or (_number(value) and ok(value)), name, allowed, remedy)
    need(
        layer.c_kPa is None or layer.phi_deg is not None,
        "phi_deg", "a value where c_kPa is given",
        "c' goes with phi'; for undrained clay give cu_kPa.",
    )  # fmt: skip
    if layer.presumptive_kPa is not None:
        need(bool(layer.presumptive_source.strip()), "presumptive_source", "the table it is from")
    need(
        not (layer.cu_kPa is None and layer.phi_deg is None and layer.presumptive_kPa is None),
        "cu_kPa", "a strength: cu_kPa, phi_deg or presumptive_kPa", "Test the ground.",
    )  # fmt: skip
    return found


def profile_problems(profile: GroundProfile, *, needed_depth_m: float = 0.0) -> list[Problem]:
    """Everything wrong with a ``profile``: contradictions, gaps, values out of range.

    needed_depth_m is the depth below ground to which the layers must be known.
    """
    found: list[Problem] = []
    if not profile.layers:
        found.append(Problem("layers", (), "at least one layer"))
    names = [layer.name for layer in profile.layers]
    for i, layer in enumerate(profile.layers):
        field = f"layers[{i}] {layer.name!r}"
        found += _layer_problems(layer, field, i == len(profile.layers) - 1)
        if names.count(layer.name) > 1 and names.index(layer.name) == i:
            found.append(Problem("layers", layer.name, "layer names that differ"))
    explored = sum(layer.thickness_m for layer in profile.layers if layer.thickness_m > 0)
    if not explored >= needed_depth_m:
        needed = f"ground known to {needed_depth_m:.2f} m below the surface"
        remedy = "Explore deeper: a weak layer below would not be seen."
        found.append(Problem("layers", explored, needed, remedy))
    found += _water_problems(profile.water_depth_m, profile.water_not_found_to_m)
    if profile.voids != "none found":
        remedy = _VOIDS.get(profile.voids, "")
        allowed = "none found" if remedy else "none found, present, unknown"
        found.append(Problem("voids", profile.voids, allowed, remedy))
    return found


_VOIDS: dict[str, str] = {
    "unknown": "Ask for records of cellars, mines, sewers, old tanks and backfill; then survey.",
    "present": "Bearing capacity does not apply over a void: move the outrigger or bridge it.",
}


def _water_problems(water: float | None, dry_to: float | None) -> list[Problem]:
    if water is None and dry_to is None:
        remedy = "Measure it; if it cannot be measured, enter 0 (water at the surface)."
        return [Problem("water_depth_m", None, "a depth, or water_not_found_to_m", remedy)]
    if water is not None and dry_to is not None:
        allowed = "a depth or water_not_found_to_m, not both"
        return [Problem("water_depth_m", (water, dry_to), allowed)]
    return [
        Problem(name, value, "0 or greater")
        for name, value in (("water_depth_m", water), ("water_not_found_to_m", dry_to))
        if value is not None and not (_number(value) and value >= 0.0)
    ]


def check_profile(profile: GroundProfile, *, needed_depth_m: float = 0.0) -> None:
    """Raise one InputError that lists every problem of the profile, or return.

    Parameters:
      needed_depth_m: Depth below ground to which the layers must be known. [m]
    Raises: Everything that :func:`profile_problems` finds, in one message.
    """
    found = profile_problems(profile, needed_depth_m=needed_depth_m)
    if found:
        raise InputError(found, source=f"ground {profile.name!r}")


def effective_water_depth_m(profile: GroundProfile) -> float:
    """Water depth to calculate with: measured, or the depth to which none was found. [m]

    Raises: A profile that tells neither.
    """
    for value in (profile.water_depth_m, profile.water_not_found_to_m):
        if value is not None:
            return float(value)
    raise InputError.of("water_depth_m", None, "a depth, or water_not_found_to_m")


def layer_tops_m(profile: GroundProfile) -> tuple[float, ...]:
    """Depth of the top of each layer below ground.

    Returns: tuple of float. [m]
    """
    tops, z = [], 0.0
    for layer in profile.layers:
        tops.append(z)
        z += layer.thickness_m
    return tuple(tops)


def overburden_kPa(profile: GroundProfile, depth_m: float, *, effective: bool) -> float:
    """Vertical stress of the ground at depth_m below it, total or *effective*, never below 0. [kPa]

    Sum of unit weight times thickness, less hydrostatic water pressure where effective.

    Raises: Effective stress in a profile that tells nothing of water.
    """
    z, total = 0.0, 0.0
    for layer in profile.layers:
        total += layer.unit_weight_kN_m3 * min(layer.thickness_m, max(depth_m - z, 0.0))
        z += layer.thickness_m
    if effective:
        total -= WATER_UNIT_WEIGHT_KN_M3 * max(depth_m - effective_water_depth_m(profile), 0.0)
    return max(total, 0.0)


def needed_depth_m(width_m: float) -> float:
    """Depth to which the ground must be known for a base on the surface: twice its width. [m]"""
    return NEEDED_DEPTH_OVER_B * width_m
