"""The ground check of a mat under a leg: bearing, strength, bending, and what other legs add.

Every sheet, search and table of mats runs these functions and no others: a mat on one kind of ground
(:func:`mat_on_ground`), its bending as a beam on that ground's springs (:func:`elastic_bending`), and the stress of the
other legs in the layers below (:func:`neighbour_stress`).

Sources: those of :mod:`liftcalc.ground.mats`, :mod:`liftcalc.ground.allowable`,
:mod:`liftcalc.ground.beam` and :mod:`liftcalc.ground.stress`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.ground.allowable import AllowablePressure, allowable_pressure
from liftcalc.ground.beam import centred_beam_shape, subgrade_modulus_vesic_kN_m3
from liftcalc.ground.bearing import Method
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.mats import MatCheck, mat_check
from liftcalc.ground.profile import GroundProfile, layer_tops_m
from liftcalc.ground.safety import Safety
from liftcalc.ground.stress import MatsInPlan


@dataclass(frozen=True)
class BearingRule:
    """How bearing is judged.

    ``spacing_m``: distance to the next leg, where the spread of load to deeper layers ends; inf for a leg on its own.
    """

    safety: tuple[Safety, ...]
    method: Method
    spacing_m: float = float("inf")


@dataclass(frozen=True, eq=False)
class MatOnGround:
    """Mat and ground under every force: the mat check, and bearing at the effective size."""

    check: MatCheck
    bearing: AllowablePressure


def mat_on_ground(
    mat: MatProperties,
    reaction_kN: ArrayLike,
    profile: GroundProfile,
    rule: BearingRule,
    *,
    float_length_m: float,
    float_width_m: float,
) -> MatOnGround:
    """Effective size of a mat, its strength, and every mechanism of the ground below it.

    Parameters:
      reaction_kN: >= 0. Leg force on the float. [kN]
      float_length_m, float_width_m: > 0. Float size along the mat's length and width. [m]
    """
    force = np.asarray(reaction_kN, dtype=np.float64)
    answers: list[AllowablePressure] = []

    def limit(width: FloatArray, length: FloatArray) -> FloatArray:
        answers.append(
            allowable_pressure(
                profile, width, L_m=length, safety=rule.safety, method=rule.method, spacing_m=rule.spacing_m
            )
        )
        return answers[-1].q_allowable_kPa

    check = mat_check(mat, force, allowable_kPa=limit, float_length_m=float_length_m, float_width_m=float_width_m)
    # the mat check asks for the limit at the effective size before it asks for any other
    return MatOnGround(check, answers[0])


@dataclass(frozen=True)
class ElasticBending:
    """A mat under one leg as a beam on springs that cannot pull; NaN where none is known."""

    subgrade_kN_m3: float
    moment_kNm: float
    capacity_kNm: float

    @property
    def utilisation(self) -> float:
        """Moment over the mat's allowable moment."""
        return self.moment_kNm / self.capacity_kNm


def elastic_bending(
    mat: MatProperties,
    force_kN: float,
    *,
    width_m: float,
    float_length_m: float,
    modulus_kPa: float,
    poisson: float,
    surveyed_kN_m3: float | None,
) -> ElasticBending:
    """Bending of the whole mat on the softer of the surveyed spring and that of the modulus.

    The softer the ground, the more a mat bends.

    Parameters:
      force_kN: >= 0. In the middle of the mat. [kN]
      width_m: > 0. Width that bears; stiffness and strength go with it. [m]
      float_length_m: > 0. Along the mat. [m]
      modulus_kPa, poisson: Of the ground; NaN where none is known. [kPa, -]
      surveyed_kN_m3: float or None, > 0. Spring of the ground by a plate test. [kN/m3]
    Source: Hetenyi (1946); Vesic (1961).
    """
    share = width_m / mat.width_m
    springs = [] if surveyed_kN_m3 is None else [surveyed_kN_m3]
    if np.isfinite(modulus_kPa):
        vesic = subgrade_modulus_vesic_kN_m3(
            modulus_kPa, width_m, stiffness_kNm2=mat.stiffness_kNm2 * share, poisson=poisson
        )
        springs.append(float(vesic))
    capacity = mat.moment_capacity_kNm * share
    if not springs:
        return ElasticBending(float("nan"), float("nan"), capacity)
    beam = centred_beam_shape(
        force_kN, mat.length_m, width_m=width_m, stiffness_kNm2=mat.stiffness_kNm2 * share,
        subgrade_modulus_kN_m3=min(springs), patch_m=float_length_m, x_m=0.0,
    )  # fmt: skip
    return ElasticBending(min(springs), float(beam.moment_kNm), capacity)


@dataclass(frozen=True)
class NeighbourStress:
    """Deeper layer that comes nearest to its limit when the stress of every leg counts.

    ``pressure_kPa`` is the leg's own pressure times ``factor``, the stress of all legs over the leg's own at the top of
    the layer, below the middle of its mat; ``allowable_kPa`` is what the layer allows at the mat.
    """

    pressure_kPa: float
    allowable_kPa: float
    factor: float
    mechanism: str
    layer: str
    depth_m: float
    profile: str
    """Name of the ground below the mat in which that layer lies."""

    @property
    def utilisation(self) -> float:
        """Pressure over what the layer allows."""
        return self.pressure_kPa / self.allowable_kPa if self.allowable_kPa > 0 else float("inf")


def neighbour_stress(
    profile: GroundProfile, rule: BearingRule, *, legs: Sequence[int], mats: MatsInPlan, pressure_kPa: ArrayLike
) -> list[NeighbourStress | None]:
    """What the other legs add in the layers below some legs on one ground; None in a single layer.

    Each mechanism of a deeper layer is judged with the load of the leg spread on its own, without
    the limit at the next leg, and the leg's pressure raised by the factor: so the neighbours count
    once. A uniform half space; a stiff crust spreads more (see :mod:`liftcalc.ground.stress`).

    Parameters:
      profile, rule: ground below these legs, and how it is judged.
      legs: sequence of int. Which of the N legs stand on it.
      mats: MatsInPlan, of all N mats
      pressure_kPa: shape (S, N), >= 0. Under each mat, mat included, in every state. [kPa]
    Returns: list of NeighbourStress or None, one for each of the legs
    Source: Boussinesq rectangles, summed; the factor is the project's own statement.
    """
    tops = dict(zip((a.name for a in profile.layers), layer_tops_m(profile), strict=True))
    if not any(top > 0.0 for top in tops.values()):
        return [None] * len(legs)
    pressure = np.atleast_2d(np.asarray(pressure_kPa, dtype=np.float64))
    width, length = np.asarray(mats.width_m)[legs], np.asarray(mats.length_m)[legs]
    alone = allowable_pressure(
        profile, np.minimum(width, length), L_m=np.maximum(width, length), safety=rule.safety, method=rule.method
    )
    deeper = [m for m in alone.mechanisms if tops[m.layer] > 0.0]
    with_others: dict[float, FloatArray] = {}
    for depth in {tops[m.layer] for m in deeper}:
        share = mats.stress_kPa(1.0, np.full(len(legs), depth), x_m=mats.x_m[legs], y_m=mats.y_m[legs])
        own = share[np.arange(len(legs)), legs]
        with_others[depth] = pressure @ (share / own[:, None]).T
    worst: list[NeighbourStress | None] = []
    for n, leg in enumerate(legs):
        found = []
        for mechanism in deeper:
            depth = tops[mechanism.layer]
            raised = with_others[depth][:, n]
            state = int(np.argmax(raised))
            found.append(
                NeighbourStress(
                    pressure_kPa=float(raised[state]),
                    allowable_kPa=float(mechanism.q_allowable_kPa[n]),
                    factor=float(raised[state] / pressure[state, leg]), mechanism=mechanism.name,
                    layer=mechanism.layer, depth_m=depth, profile=profile.name,
                )
            )  # fmt: skip
        worst.append(max(found, key=lambda one: one.utilisation, default=None))
    return worst
