"""A mat beside an excavation or slope: set-back rules and slip check together.

Contents
--------
slip_layers (a ground profile as layers for the slip check), EdgeSlip, EdgeCheck, edge_check.

Sources: Those of :mod:`liftcalc.ground.slopes` and :mod:`liftcalc.ground.slip`. Which strength
governs a cut is not known beforehand: short-term (undrained) and long-term (drained) strength are
both checked where both are known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from liftcalc.base.errors import (
    ConvergenceError,
    InputError,
    Problem,
    require_between,
    require_non_negative,
    require_positive,
)
from liftcalc.ground.profile import GroundProfile, check_profile, effective_water_depth_m
from liftcalc.ground.slip import Method, SlipResult, SoilLayer, Surcharge, slip_check
from liftcalc.ground.slopes import PitSoil, SetBack, set_back_rules

__all__ = ["EdgeCheck", "EdgeSlip", "Strength", "edge_check", "slip_layers"]

Strength = Literal["undrained", "drained"]


def slip_layers(
    profile: GroundProfile, strength: Strength, *, needed_depth_m: float
) -> tuple[SoilLayer, ...]:
    """Layers for the slip check, in one kind of strength.

    Parameters:
      profile: GroundProfile. Checked first.
      strength: {"undrained", "drained"}. Which strength counts in a layer that has both; a layer
        with one is taken by that one.
      needed_depth_m: float, > 0. Depth to which the ground must be known. [m]
    Returns: tuple of SoilLayer: the lowest one is carried on downwards.
    Raises: A layer without strength (a presumptive value is none), ground not known deep enough, or
      any problem of the profile.
    Source: Common practice, no published source.
    """
    if strength not in ("undrained", "drained"):
        raise InputError.of("strength", strength, "undrained, drained")
    check_profile(profile, needed_depth_m=float(require_positive("needed_depth_m", needed_depth_m)))
    out: list[SoilLayer] = []
    problems: list[Problem] = []
    last = len(profile.layers) - 1
    for i, layer in enumerate(profile.layers):
        thickness = float("inf") if i == last else layer.thickness_m
        use_cu = layer.cu_kPa is not None and (strength == "undrained" or layer.phi_deg is None)
        if use_cu and layer.cu_kPa is not None:
            out.append(SoilLayer(thickness, layer.unit_weight_kN_m3, layer.cu_kPa, 0.0))
        elif layer.phi_deg is not None:
            c = layer.c_kPa or 0.0
            out.append(SoilLayer(thickness, layer.unit_weight_kN_m3, c, layer.phi_deg))
        else:
            problems.append(
                Problem(
                    f"layer {layer.name!r}",
                    "a presumptive value only",
                    "a strength (cu_kPa or phi_deg) beside an edge",
                    "Test the ground or stand away from the edge.",
                )
            )
    if problems:
        raise InputError(problems)
    return tuple(out)


@dataclass(frozen=True)
class EdgeSlip:
    """Slip check in one kind of strength.

    Attributes:
      strength: which.
      bare: the edge without the mat; None where no circle could slip.
      loaded: the least safe circle that takes the mat with it; None where none could slip.
    """

    strength: Strength
    bare: SlipResult | None
    loaded: SlipResult | None


@dataclass(frozen=True)
class EdgeCheck:
    """A mat beside an edge.

    Attributes:
      rules: set-back rules, strictest first.
      slips: one for each kind of strength that differs.
      safety_factor: least factor with the mat; infinite where nothing can slip.
      required_factor, utilisation: what is asked for, and that over the factor.
      rules_met: whether every binding set-back rule is met.
      cautions: sentences for the sheet.
    """

    rules: tuple[SetBack, ...]
    slips: tuple[EdgeSlip, ...]
    safety_factor: float
    required_factor: float
    utilisation: float
    rules_met: bool
    cautions: tuple[str, ...]


def _slip(
    layers: tuple[SoilLayer, ...],
    height: float,
    slope: float,
    water: float,
    load: Surcharge | None,
    method: Method,
) -> SlipResult | None:
    try:
        return slip_check(
            layers,
            height_m=height,
            slope_deg=slope,
            surcharges=() if load is None else (load,),
            water_depth_m=water,
            method=method,
            through="anything" if load is None else "surcharge",
        )
    except ConvergenceError as error:
        if "no circle that can slip" in str(error):
            return None
        raise


def edge_check(
    profile: GroundProfile,
    *,
    distance_m: float,
    depth_m: float,
    slope_deg: float,
    pressure_kPa: float,
    mat_across_m: float,
    gross_mass_t: float,
    soil: PitSoil,
    required_factor: float,
    influence_angle_deg: float = 45.0,
    method: Method = "bishop",
) -> EdgeCheck:
    """Check one mat beside an unsupported excavation or a slope.

    Plane strain: the mat counts as if it ran on along the crest (safe side). Circles only: a weak
    seam, cracks, or water standing in the cut ask for an engineer.

    Parameters:
      profile: GroundProfile. Known to twice the depth of the edge at least.
      distance_m: float, >= 0. Nearest point of the mat to the crest. [m]
      depth_m: float, > 0. Depth of the excavation or height of the slope. [m]
      slope_deg: float, 5 to 90. Of the face; 90 is a vertical cut. [degrees]
      pressure_kPa: float, > 0. Greatest pressure under the mat. [kPa]
      mat_across_m: float, > 0. (Effective) mat size square to the crest. [m]
      gross_mass_t: float, > 0. Machine and load, for the rule by mass. [t]
      soil: {"natural cohesive", "fill or granular"}. For the rule by depth.
      required_factor: float, 1 to 5. Safety factor asked for; the engineer's choice, no default.
      influence_angle_deg: float, 15 to 80. [degrees]
      method: {"bishop", "ordinary"}
    Returns: EdgeCheck
    Raises: Anything out of range, and as :func:`slip_layers`. ConvergenceError: As
      :func:`liftcalc.ground.slip.slip_check`.
    Source: :mod:`liftcalc.ground.slopes`, :mod:`liftcalc.ground.slip`.
    """
    distance = float(require_non_negative("distance_m", distance_m))
    depth = float(require_positive("depth_m", depth_m))
    need = float(require_between("required_factor", required_factor, 1.0, 5.0))
    load = Surcharge(
        float(require_positive("pressure_kPa", pressure_kPa)),
        distance,
        float(require_positive("mat_across_m", mat_across_m)),
    )
    rules = set_back_rules(
        distance,
        depth,
        gross_mass_t=gross_mass_t,
        soil=soil,
        influence_angle_deg=influence_angle_deg,
    )
    done: list[tuple[SoilLayer, ...]] = []
    slips: list[EdgeSlip] = []
    both: tuple[Strength, ...] = ("undrained", "drained")
    for strength in both:
        layers = slip_layers(profile, strength, needed_depth_m=2.0 * depth)
        if layers in done:
            continue
        done.append(layers)
        water = effective_water_depth_m(profile)
        bare = _slip(layers, depth, slope_deg, water, None, method)
        loaded = _slip(layers, depth, slope_deg, water, load, method)
        slips.append(EdgeSlip(strength, bare, loaded))
    least = min(
        (s.loaded.safety_factor for s in slips if s.loaded is not None), default=float("inf")
    )
    cautions = [
        "The slip check knows circles only: look for cracks, seams, loose spots and water in the "
        "face before and during the lift."
    ]
    for s in slips:
        if s.bare is not None and s.bare.safety_factor < 1.0:
            cautions.append(
                f"In {s.strength} strength the face does not stand by itself "
                f"(safety factor {s.bare.safety_factor:.2f}): keep everything and everyone away."
            )
    return EdgeCheck(
        rules=rules,
        slips=tuple(slips),
        safety_factor=least,
        required_factor=need,
        utilisation=need / least,
        rules_met=all(r.utilisation <= 1.0 for r in rules if r.binding),
        cautions=tuple(cautions),
    )
