"""What a test on the day must show to prove the ground that the calculation assumed.

Each correlation is asked backwards: from which reading on, among those that its source covers, does
it give the strength of the survey. Where it covers no such reading, that is said.

Sources: those of :mod:`liftcalc.ground.sitetests` and :mod:`liftcalc.ground.platetests`. Modulus of
a plate, 0.75 times width times pressure over settlement, and a second loading not more than 2.5
times as stiff as the first: DIN 18134 and German road works practice, from memory.
"""

import dataclasses
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.base.text import amount
from liftcalc.facts.ground import Layer
from liftcalc.ground import platetests, sitetests
from liftcalc.ground.sitetests import SiteTestValue
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.ground_tables import Row
from liftcalc.lift.leg_ground import LegGround

PLATE_M = 0.3
"""Width of the plate for which figures are printed. [m]"""
PLATE_FACTOR, RELOADED = 3.0, 2.5
"""Times the working pressure of the mat at which a plate must not have failed, unless the owner's
factor is greater; how many times as stiff a second loading of a plate may be as its first."""
PROOF_COLUMNS = ("Ground", "Assumed", "Test", "Proved by")
SOURCE_COLUMNS = ("Test", "Correlation", "Holds for")
PLATE = f"plate, {amount(1000 * PLATE_M, 'small_length_mm')}"
_READ = {"seen": "read in a transcription", "computed": "second-hand", "memory": "from memory"}
Said = tuple[str, str, str]
"""What proves it (empty where nothing does), the source, and what that holds for or why not."""


def first_reading(readings: FloatArray, given: FloatArray, need: float) -> float | None:
    """The reading from which on all give *need* or more; None where the last does not.

    *readings* run from the worst to the best that a source covers, *given* what each is worth.
    """
    short = np.flatnonzero(~(given >= need * (1.0 - 1e-9)))
    first = int(short[-1]) + 1 if short.size else 0
    return float(readings[first]) if first < len(readings) else None


def _proof(readings: FloatArray, derive: Callable[[FloatArray], SiteTestValue], need: float,
           words: Callable[[float], str]) -> Said:  # fmt: skip
    """What a test must read for its correlation to give *need*."""
    try:
        value = derive(readings)
    except InputError as error:
        return "", "", str(error)
    reading = first_reading(readings, np.asarray(value.value), need)
    source, holds = _sources(value)
    if reading is None:
        low, high = sorted((float(readings[0]), float(readings[-1])))
        return "", source, f"its readings, {low:g} to {high:g}, do not reach that"
    return words(reading), source, holds


def _sources(*values: SiteTestValue) -> tuple[str, str]:
    source = dict.fromkeys(f"{v.method}: {v.source} ({_READ[v.verification]})" for v in values)
    holds = dict.fromkeys(text for v in values for text in (*v.limits, *v.warnings))
    return "; ".join(source), " ".join(holds)


def vane_proof(layer: Layer) -> Said:
    """Least reading of a hand vane; by the lowest correction where no liquid limit is known."""
    liquid = layer.liquid_limit_percent
    words = "every reading at least {}"
    words += "" if liquid else "; liquid limit unknown: the lowest correction, 0.5"
    derive = partial(sitetests.vane_undrained_strength, liquid_limit_percent=liquid or 200.0)
    return _proof(np.linspace(1.0, 120.0, 239), derive, layer.cu_kPa or 0.0,
                  lambda kPa: words.format(amount(kPa, "pressure_kPa", "up")))  # fmt: skip


def probe_proof(layer: Layer) -> Said:
    """Most penetration of a dynamic cone in clay, by the strictest of the forms that may apply.

    The CBR is that of the strength, or of the modulus where that asks for more.
    """
    cbr, percent = np.linspace(0.5, 10.0, 191), 0.0
    by_cbr = sitetests.cbr_undrained_strength(cbr), sitetests.cbr_youngs_modulus(cbr)
    needs = layer.cu_kPa or 0.0, layer.youngs_modulus_kPa or 0.0
    for value, need in zip(by_cbr, needs, strict=True):
        least = first_reading(cbr, np.asarray(value.value), need)
        if least is None:
            return "", _sources(*by_cbr)[0], "the CBR that this asks for is above 10 %"
        percent = max(percent, least)
    forms: tuple[tuple[Any, float], ...] = (
        ("webster", 1.0), ("webster_ch", 1.0), ("webster_cl", 19.0)  # that one ends at a CBR of 10
    )  # fmt: skip
    cones = []
    for form, end in forms:
        mm = np.arange(100.0, end - 0.5, -1.0)
        value = sitetests.dcp_cbr(mm, correlation=form)
        cones.append((first_reading(mm, np.asarray(value.value), percent) or 0.0, value))
    most, value = min(cones, key=lambda one: one[0])
    if not most > 0.0:
        return "", _sources(value)[0], "no penetration from 19 to 100 mm a blow gives that CBR"
    words = (f"at most {amount(most, 'small_length_mm', 'down')} a blow: "
             f"{np.ceil(100.0 / most):.0f} blows or more for {amount(100.0, 'small_length_mm')} "
             f"(CBR {percent:.1f} %)")  # fmt: skip
    return words, *_sources(value, *by_cbr)


def blows_proof(layer: Layer) -> Said:
    """Least blow count of the standard penetration test, and the word for such ground."""
    if layer.cu_kPa is None:
        return _proof(np.arange(5.0, 50.5), sitetests.spt_friction_angle, layer.phi_deg or 0.0,
                      lambda n: f"at least {n:.0f} blows, N1,60 "
                                f"({sitetests.spt_consistency(n, 'sand')})")  # fmt: skip
    index = layer.plasticity_index_percent
    if index is None:
        return "", "", "no plasticity index surveyed"
    derive = partial(sitetests.spt_undrained_strength, plasticity_index_percent=index)
    return _proof(np.arange(1.0, 60.5), derive, layer.cu_kPa,
                  lambda n: f"at least {n:.0f} blows, "
                            f"{sitetests.spt_consistency(n, 'clay')}")  # fmt: skip


def plate_proof(g: LegGround, settlement_limit_mm: float, factor: float) -> Said:
    """Pressures and settlements of a plate on the layer right below the mat.

    They are put through the evaluation of a plate test, and count only if that gives the pressure.
    """
    layer, pressure, last_mm = g.profile.layers[0], g.pressure_kPa, 100.0 * PLATE_M
    modulus = layer.youngs_modulus_kPa
    wide = max(min(g.effective_width_m, g.effective_length_m), PLATE_M)
    soil: sitetests.Soil = "sand" if layer.cu_kPa is None else "clay"
    # a plate on clay must show the strength itself
    strength = (layer.cu_kPa or 0.0) / float(platetests.plate_undrained_strength(1.0).value)
    last_kPa = max(factor * pressure, strength)
    scale = float(platetests.plate_settlement(1.0, PLATE_M, B_m=wide, soil=soil))
    mm = [settlement_limit_mm / scale, 1000.0 * g.settlement_m / scale,
          np.nan if modulus is None else 1000.0 * 0.75 * PLATE_M * pressure / modulus]  # fmt: skip
    most = float(np.nanmin(mm))
    try:
        value = platetests.plate_test_allowable(
            [0.0, 0.5 * pressure, pressure, last_kPa], [0.0, 0.5 * most, most, last_mm],
            plate_width_m=PLATE_M, B_m=wide, soil=soil, factor=factor,
            settlement_limit_mm=settlement_limit_mm,
        )  # fmt: skip
    except InputError as error:
        return "", "Terzaghi and Peck (from memory)", str(error)
    if not float(value.value) >= pressure * (1.0 - 1e-6):
        return "", _sources(value)[0], "no such test gives this pressure"
    asked = np.array([pressure, last_kPa, 1.0, RELOADED]) * [1.0, 1.0, *[modulus or 0.0] * 2]
    at, last, ev1, ev2 = (amount(kPa, "pressure_kPa", "up") for kPa in asked.tolist())
    words = (f"{amount(most, 'settlement_mm', 'down')} or less at {at}, "
             f"{amount(last_mm, 'small_length_mm', 'down')} or less at {last}")  # fmt: skip
    if modulus is not None:
        words += f"; Ev1 at least {ev1}, or Ev2 at least {ev2} and at most {RELOADED:g} Ev1 (DIN 18134, from memory)"
    return words, *_sources(value)


def _leg_proofs(a: LiftAssessment, g: LegGround) -> Iterator[tuple[str, str, str, Said]]:
    """Layer, what is assumed, test and what proves it, down to two widths of the mat."""
    rule, layers, depth = a.setup.rules.ground, g.profile.layers, 0.0
    under = f"strength and stiffness under {amount(g.pressure_kPa, 'pressure_kPa')}"
    judged = 1000.0 * rule.settlement_limit_m, max(PLATE_FACTOR, rule.factor_of_safety)
    carries, fill = g.pressure_kPa <= g.allowable_kPa, rule.platform_fill
    yield layers[0].name, under, PLATE, plate_proof(g, *judged) if carries else (
        "", "", "the ground as surveyed does not carry it: see the platform")  # fmt: skip
    if not carries and fill is not None:
        own = Layer(name=fill.name, thickness_m=1.0, phi_deg=fill.phi_deg, unit_weight_kN_m3=fill.unit_weight_kN_m3)
        laid = dataclasses.replace(g, profile=g.profile.model_copy(update={"layers": (own,)}))
        yield f"platform of {fill.name}", under, PLATE, plate_proof(laid, *judged)
    for layer in layers:
        if depth >= 2.0 * a.setup.mat.width_m:
            return
        depth += layer.thickness_m
        if layer.cu_kPa is None:
            strength = f"friction angle {layer.phi_deg or 0.0:g}°"
            none = ("", "", "neither gives a friction angle: plate test, blow count, laboratory")
            yield layer.name, strength, "hand vane, dynamic cone (DCP)", none
        else:
            strength = f"cu {amount(layer.cu_kPa, 'pressure_kPa')}"
            yield layer.name, strength, "hand vane", vane_proof(layer)
            yield layer.name, strength, "dynamic cone (DCP)", probe_proof(layer)
        yield layer.name, strength, "standard penetration", blows_proof(layer)


def _every(a: LiftAssessment) -> Iterator[tuple[str, str, str, Said]]:
    """As :func:`_leg_proofs` for the greatest pressure on each ground, its outriggers named."""
    legs = a.ground.legs if a.ground is not None else ()
    worst = {g.profile.id: g for g in sorted(legs, key=lambda one: one.pressure_kPa)}
    for id, g in worst.items():
        names = ", ".join(x.name for x in legs if x.profile.id == id)
        for layer, assumed, test, said in _leg_proofs(a, g):
            yield f"{id} ({names}): {layer}", assumed, test, said


def proof_rows(a: LiftAssessment) -> list[Row]:
    """What proves each ground under the outriggers, or that a test does not."""
    return [(*what, figure or f"NOT COVERED: {why}") for *what, (figure, _, why) in _every(a)]


def source_rows(a: LiftAssessment) -> list[Row]:
    """The correlation of each test that proves something, and what it holds for, said once."""
    return list(dict.fromkeys((test, *said[1:]) for *_, test, said in _every(a) if said[0]))
