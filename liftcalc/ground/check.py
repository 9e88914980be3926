"""The whole ground check of all legs, over any number of states at once.

Contents
--------
LegGround (what stands where on what), LegGroundCheck, leg_ground_check. Lines for a check table are
made by :mod:`liftcalc.ground.check_rows`.

Composes the pieces: effective size and strength of each mat (:mod:`.mats`), allowable pressure by
every mechanism of the ground (:mod:`.allowable`), bending on ground of real stiffness
(:mod:`.beam`), settlement (:mod:`.settlement`) and the stress that the other legs add to deeper
layers (:mod:`.stress`). Legs on the same ground with the same mat and float are worked in one go.

Sources: Those of the modules named. Factor for neighbours: Boussinesq stress of all legs over that
of the leg's own mat, at the top of the layer (own statement).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative
from liftcalc.ground.allowable import AllowablePressure, PressureBasis, allowable_pressure
from liftcalc.ground.beam import CentredBeam, centred_beam
from liftcalc.ground.factors import Method
from liftcalc.ground.mats import MatCheck, MatProperties, mat_check
from liftcalc.ground.profile import GroundProfile, layer_tops_m
from liftcalc.ground.safety import Safety
from liftcalc.ground.settlement import half_space_factor
from liftcalc.ground.stress import legs_stress_by_leg_kPa
from liftcalc.ground.subgrade import subgrade_modulus_vesic_kN_m3

__all__ = ["LegGround", "LegGroundCheck", "leg_ground_check"]


@dataclass(frozen=True)
class LegGround:
    """One leg's place: mat centre, mat, float and the ground below (the worst that it touches).

    Parameters:
      name: str
      x_m, y_m: float. Mat centre in the frame common to all legs. [m]
      mat: MatProperties
      float_length_m, float_width_m: float. Along the mat's length and width. [m]
      profile: GroundProfile
      orientation_deg: float. Direction of the mat's length, anticlockwise from +x. [degrees]
    """

    name: str
    x_m: float
    y_m: float
    mat: MatProperties
    float_length_m: float
    float_width_m: float
    profile: GroundProfile
    orientation_deg: float = 0.0


@dataclass(frozen=True)
class LegGroundCheck:
    """Everything found for all legs; arrays have shape (..., N) unless told otherwise.

    Attributes:
      legs: as given.
      reaction_kN: as given.
      mats: N :class:`MatCheck`, arrays of shape (...).
      bearing: N :class:`AllowablePressure` at the effective sizes, arrays of shape (...).
      beams: N :class:`CentredBeam` for 1 kN (shape of the effective width), None where the.
        ground's modulus is not known.
      pressure_kPa, allowable_kPa: under each mat.
      ground_utilisation, mat_utilisation: bearing, and the worst strength check of the mat.
      elastic_bending_utilisation: bending on ground of real stiffness; NaN where no modulus.
      elastic_pressure_kPa: greatest pressure of that, own weight included; NaN where no modulus.
      neighbour_factor: stress of all legs over the leg's own, the worst of the deeper layers (1.
        where there is none).
      neighbour_utilisation: worst deeper layer with that factor (0 where there is none).
      settlement_m, stiffness_kN_m: elastic; NaN where no modulus.
      utilisation: greatest of the utilisations above that are known.
    """

    legs: tuple[LegGround, ...]
    reaction_kN: FloatArray
    mats: tuple[MatCheck, ...]
    bearing: tuple[AllowablePressure, ...]
    beams: tuple[CentredBeam | None, ...]
    pressure_kPa: FloatArray
    allowable_kPa: FloatArray
    ground_utilisation: FloatArray
    mat_utilisation: FloatArray
    elastic_bending_utilisation: FloatArray
    elastic_pressure_kPa: FloatArray
    neighbour_factor: FloatArray
    neighbour_utilisation: FloatArray
    settlement_m: FloatArray
    stiffness_kN_m: FloatArray
    utilisation: FloatArray


def _least_modulus(profile: GroundProfile, width_m: float) -> tuple[float, float] | None:
    """Least modulus within two mat widths with its Poisson's ratio; None if any is missing."""
    found: list[tuple[float, float]] = []
    for layer, top in zip(profile.layers, layer_tops_m(profile), strict=True):
        if top >= 2.0 * width_m:
            break
        if layer.youngs_modulus_kPa is None or layer.poisson is None:
            return None
        found.append((layer.youngs_modulus_kPa, layer.poisson))
    return min(found)


def _take(check: MatCheck, index: int) -> MatCheck:
    """One leg's column of a check made for several legs at once."""

    def column(value: object) -> object:
        if isinstance(value, np.ndarray):
            return value[..., index]
        if hasattr(value, "__dataclass_fields__"):
            parts = {f: column(getattr(value, f)) for f in value.__dataclass_fields__}
            return type(value)(**parts)
        return value

    taken = column(check)
    assert isinstance(taken, MatCheck)
    return taken


def _take_bearing(found: AllowablePressure, index: int) -> AllowablePressure:
    def column(value: object) -> object:
        if isinstance(value, np.ndarray) and value.ndim:
            return value[..., index]
        if isinstance(value, tuple) and value and hasattr(value[0], "__dataclass_fields__"):
            return tuple(column(v) for v in value)
        if hasattr(value, "__dataclass_fields__"):
            parts = {f: column(getattr(value, f)) for f in value.__dataclass_fields__}
            return type(value)(**parts)
        return value

    taken = column(found)
    assert isinstance(taken, AllowablePressure)
    return taken


def _neighbours(
    legs: Sequence[LegGround],
    mats: Sequence[MatCheck],
    bearing: Sequence[AllowablePressure],
    pressure: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Worst factor and utilisation of deeper layers with the stress of all legs."""
    factor, use = np.ones(pressure.shape), np.zeros(pressure.shape)
    place = {
        "leg_x_m": np.array([leg.x_m for leg in legs]),
        "leg_y_m": np.array([leg.y_m for leg in legs]),
        "length_m": np.stack([m.effective_length_m for m in mats], axis=-1),
        "width_m": np.stack([m.effective_width_m for m in mats], axis=-1),
        "orientation_deg": np.array([leg.orientation_deg for leg in legs]),
    }
    same = all(
        np.ptp(place[k].reshape(-1, len(legs)), axis=0).max() == 0.0
        for k in ("length_m", "width_m")
    )
    if same:  # one size for all states: the influence is one row of numbers
        for k in ("length_m", "width_m"):
            place[k] = place[k].reshape(-1, len(legs))[0]
    for i, leg in enumerate(legs):
        tops = dict(
            zip((a.name for a in leg.profile.layers), layer_tops_m(leg.profile), strict=True)
        )
        done: dict[str, FloatArray] = {}
        for mechanism in bearing[i].mechanisms:
            depth = tops[mechanism.layer]
            if not depth > 0.0:
                continue
            if mechanism.layer not in done:
                x, y = np.asarray(leg.x_m), np.asarray(leg.y_m)
                unit = legs_stress_by_leg_kPa(1.0, depth, **place, x_m=x, y_m=y)
                part = unit * pressure
                own = part[..., i]
                ratio = part.sum(axis=-1) / np.where(own > 0.0, own, 1.0)
                done[mechanism.layer] = np.where(own > 0.0, ratio, 1.0)
                factor[..., i] = np.maximum(factor[..., i], done[mechanism.layer])
            q = mechanism.q_allowable_kPa
            loaded = pressure[..., i] * done[mechanism.layer]
            worse = np.where(q > 0.0, loaded / np.where(q > 0.0, q, 1.0), np.inf)
            use[..., i] = np.maximum(use[..., i], worse)
    return factor, use


def leg_ground_check(
    reaction_kN: ArrayLike,
    legs: Sequence[LegGround],
    *,
    safety: Safety | Sequence[Safety],
    basis: PressureBasis = "both",
    method: Method = "en1997",
) -> LegGroundCheck:
    """Check mats and ground under all legs, in every state at once.

    The load stands in the middle of its mat. Settlement is the mean elastic one under the leg's own
    mat; levelling is a loop of its own (:func:`liftcalc.ground.level.levelled_state`).

    Parameters:
      reaction_kN: array_like, shape (..., N), >= 0. Leg forces; leading axes are slews or steps.
        [kN]
      legs: sequence of N LegGround
      safety, basis, method: As for :func:`liftcalc.ground.allowable.allowable_pressure`.
    Returns: LegGroundCheck
    Raises: A force that is negative or not finite; ground, mats or floats that are refused by the
      functions composed here. ConvergenceError: As :func:`liftcalc.ground.mats.mat_check`.
    Source: The modules composed.
    """
    force = require_non_negative("reaction_kN", reaction_kN)
    n = len(legs)
    if n == 0 or force.ndim == 0 or force.shape[-1] != n:
        raise InputError.of("reaction_kN", force.shape, f"a last axis of {n} legs, at least one")
    for leg in legs:
        require_finite(f"place of leg {leg.name}", [leg.x_m, leg.y_m, leg.orientation_deg])
    groups: dict[tuple[object, ...], list[int]] = {}
    for i, leg in enumerate(legs):
        key = (leg.mat, leg.profile, leg.float_length_m, leg.float_width_m)
        groups.setdefault(key, []).append(i)
    mats: list[MatCheck | None] = [None] * n
    bearing: list[AllowablePressure | None] = [None] * n
    beams: list[CentredBeam | None] = [None] * n
    nan = np.full(force.shape, np.nan)
    elastic_use, elastic_p = nan.copy(), nan.copy()
    settlement, stiffness = nan.copy(), nan.copy()
    for members in groups.values():
        leg = legs[members[0]]
        mine = force[..., members]

        answers: list[AllowablePressure] = []

        def allowed(width: FloatArray, length: FloatArray) -> FloatArray:
            answer = allowable_pressure(
                leg.profile,  # noqa: B023 (called within this pass only)
                width,
                L_m=length,
                V_kN=mine + leg.mat.weight_kN,  # noqa: B023
                safety=safety,
                basis=basis,
                method=method,
            )
            if not answers:  # noqa: B023
                answers.append(answer)  # noqa: B023
            return answer.q_allowable_kPa

        check = mat_check(
            leg.mat,
            mine,
            allowable_kPa=allowed,
            float_length_m=leg.float_length_m,
            float_width_m=leg.float_width_m,
        )
        length, width = check.effective_length_m, check.effective_width_m
        # the mat check asks for the limit at the size it found before it asks for anything else
        found = answers[0]
        assert np.array_equal(found.q_allowable_kPa, check.allowable_kPa)
        for column, i in enumerate(members):
            mats[i] = _take(check, column)
            bearing[i] = _take_bearing(found, column)
        ground = _least_modulus(leg.profile, leg.mat.width_m)
        if ground is None:
            continue
        modulus, poisson = ground
        long, short = np.maximum(length, width), np.minimum(length, width)
        per_pressure = (
            half_space_factor(long / short, "average") * short * (1.0 - poisson**2) / modulus
        )
        settlement[..., members] = mine / (length * width) * per_pressure
        stiffness[..., members] = length * width / per_pressure
        share = width / leg.mat.width_m
        one_width = bool(np.ptp(width) == 0.0)
        for column, i in enumerate(members):
            at = mats[i]
            assert at is not None
            w = width.reshape(-1)[:1].reshape(()) if one_width else at.effective_width_m
            ks = subgrade_modulus_vesic_kN_m3(
                modulus,
                w,
                stiffness_kNm2=leg.mat.stiffness_kNm2 * w / leg.mat.width_m,
                poisson=poisson,
            )
            if one_width and column:
                beams[i] = beams[members[0]]
                continue
            beams[i] = centred_beam(
                1.0,
                leg.mat.length_m,
                width_m=w,
                stiffness_kNm2=leg.mat.stiffness_kNm2 * w / leg.mat.width_m,
                subgrade_modulus_kN_m3=ks,
                patch_m=leg.float_length_m,
            )
        for column, i in enumerate(members):
            beam = beams[i]
            assert beam is not None
            p = mine[..., column]
            capacity = leg.mat.moment_capacity_kNm * share[..., column]
            elastic_use[..., i] = p * beam.moment_max_kNm / capacity
            elastic_p[..., i] = p * beam.pressure_max_kPa + leg.mat.weight_kN / leg.mat.area_m2
    all_mats = tuple(m for m in mats if m is not None)
    all_bearing = tuple(b for b in bearing if b is not None)
    pressure = np.stack([m.pressure_kPa for m in all_mats], axis=-1)
    strength = np.stack(
        [
            np.maximum.reduce(
                [
                    m.bending_utilisation,
                    m.shear_utilisation,
                    m.crushing_utilisation,
                    m.punching_utilisation,
                ]
            )
            for m in all_mats
        ],
        axis=-1,
    )
    bearing_use = np.stack([m.ground_utilisation for m in all_mats], axis=-1)
    factor, neighbour = _neighbours(legs, all_mats, all_bearing, pressure)
    known = np.stack([bearing_use, strength, neighbour, np.nan_to_num(elastic_use, nan=0.0)])
    return LegGroundCheck(
        legs=tuple(legs),
        reaction_kN=force,
        mats=all_mats,
        bearing=all_bearing,
        beams=tuple(beams),
        pressure_kPa=pressure,
        allowable_kPa=np.stack([m.allowable_kPa for m in all_mats], axis=-1),
        ground_utilisation=bearing_use,
        mat_utilisation=strength,
        elastic_bending_utilisation=elastic_use,
        elastic_pressure_kPa=elastic_p,
        neighbour_factor=factor,
        neighbour_utilisation=neighbour,
        settlement_m=settlement,
        stiffness_kN_m=stiffness,
        utilisation=known.max(axis=0),
    )
