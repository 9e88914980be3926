"""Rows that every mechanism of the ground shares: layers, water, load spread, strengths, factors.

Sources: those of :mod:`liftcalc.ground.mechanisms`, beside each row.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.ground.effective import WATER_UNIT_WEIGHT_KN_M3 as WATER
from liftcalc.ground.mechanisms import Judged, MatArea, mechanisms_of_layer
from liftcalc.ground.profile import (
    GroundProfile,
    effective_water_depth_m,
    layer_tops_m,
    overburden_kPa,
)
from liftcalc.ground.safety import Safety
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.ground_facts import ground_safety
from liftcalc.lift.leg_ground import LegGround
from liftcalc.lift.setup import Setup

SPREAD_SOURCE = "1 horizontal to 2 vertical on each side: FHWA-SA-02-054 (GEC 6, 2002), Eq. 5-17"
FACTORS = "Prandtl 1920, Reissner 1924"
C_U = "undrained shear strength"
NC = ("N_c", "bearing capacity factor of cohesion")


@dataclass(frozen=True)
class Way:
    """One way in which the ground under one outrigger may fail, and what it allows there."""

    g: LegGround
    profile: GroundProfile
    mechanism: str
    layer: str
    value_kPa: float
    spacing_m: float
    symbol: str
    meaning: str

    @property
    def index(self) -> int:
        """Place of the layer, from the top."""
        return next(k for k, one in enumerate(self.profile.layers) if one.name == self.layer)

    def layer_rows(self, c: Calculation, upto: int) -> None:
        """Thickness and unit weight of the layers down to one, and the water."""
        profile, name = self.profile, self.profile.name
        for j, layer in enumerate(profile.layers[: upto + 1], 1):
            source = f"{name}, layer {j}: {layer.name}"
            if j <= upto:
                c.given(f"h_{j}", f"thickness of layer {j}", layer.thickness_m, "m", source)
            weight = f"unit weight of layer {j}"
            c.given(f"gamma_{j}", weight, layer.unit_weight_kN_m3, "kN/m³", source, digits=2)
        found = name if profile.water_depth_m is not None else f"{name}: none found to there"
        water = effective_water_depth_m(profile)
        c.given("z_w", "depth of the water table", water, "m", found)

    def spread_rows(self, c: Calculation, start: int) -> None:
        """Loaded area at the top of layer *start*, and its area over that at the mat."""
        n, top = self.g.name, layer_tops_m(self.profile)[start]
        short, long = f"min(L_{n}, B_{n})", f"max(L_{n}, B_{n})"
        width, length = "width of the area loaded", "length of the area loaded"
        if top <= 0:
            c.step("B_z", width, short, "m", "mat on the surface")
            c.step("L_z", length, long, "m", "mat on the surface")
            return
        top_of = " + ".join(f"h_{j}" for j in range(1, start + 1))
        c.step(
            "z_t", "depth at which the load is taken", top_of, "m", "top of the layer", value=top
        )
        free = not np.isfinite(self.spacing_m)
        source = SPREAD_SOURCE + (
            "; neighbours by their stress" if free else "; to the next outrigger"
        )
        if not free:
            nearest = "minimum distance between two outriggers"
            c.given("l_o", nearest, self.spacing_m, "m", "coordinates of the outriggers")
        for name, what, side in (("B_z", width, short), ("L_z", length, long)):
            wide = f"{side} + 2 * 0.5 * z_t"
            c.step(name, what, wide if free else f"max(min({wide}, l_o), {side})", "m", source)
        c.step("a_z", "area loaded there over that at the mat", f"B_z * L_z / (L_{n} * B_{n})", "",
               SPREAD_SOURCE, digits=5)  # fmt: skip

    def surcharge_rows(self, c: Calculation, *, effective: bool) -> None:
        i = self.index
        name = ("q_0", "pressure of the ground above")
        if i == 0:
            c.given(*name, 0.0, "kPa", "mat on the surface")
            return
        total = " + ".join(f"gamma_{j} * h_{j}" for j in range(1, i + 1))
        if effective:
            total = f"max({total} - {WATER} * max(z_t - z_w, 0), 0)"
        depth = layer_tops_m(self.profile)[i]
        value = overburden_kPa(self.profile, depth, effective=effective)
        c.step(
            *name, total, "kPa", "hydrostatic water" if effective else "total stress", value=value
        )

    def allowable_row(self, c: Calculation, expression: str, source: str) -> None:
        """The last step: what the layer allows, brought back to the mat by the ratio of areas."""
        back = f"({expression}) / (gamma_F * gamma_R)" + (" * a_z" if self.spreads else "")
        c.step(self.symbol, self.meaning, back, "kPa", source, value=self.value_kPa)

    @property
    def spreads(self) -> bool:
        """Whether the load is taken below the mat."""
        punches = self.mechanism.startswith("punching")
        return layer_tops_m(self.profile)[self.run_above if punches else self.index] > 0

    @property
    def run_above(self) -> int:
        """First layer of the run just above the layer that is all clay or all granular."""
        clay = [layer.cu_kPa is not None for layer in self.profile.layers]
        start = self.index - 1
        while start > 0 and clay[start - 1] == clay[self.index - 1]:
            start -= 1
        return start

    def governing_set(self, setup: Setup) -> Safety:
        """Of the sets of factors required, the one by which this mechanism allows least."""
        short, long = sorted((self.g.effective_width_m, self.g.effective_length_m))
        mat = MatArea(*(np.asarray(x) for x in (short, long, self.spacing_m)))
        water, method = effective_water_depth_m(self.profile), setup.rules.ground.method

        def allowed(s: Safety) -> float:
            ways = mechanisms_of_layer(Judged(self.profile, water, (s,), method), mat, self.index)
            return next(float(m.q_allowable_kPa) for m in ways if m.name == self.mechanism)

        return min(ground_safety(setup)[0], key=allowed)


def safety_rows(c: Calculation, s: Safety, *, phi: bool, cu: bool) -> None:
    source = s.source or s.name
    c.note("Set of factors", f"{s.name}: of the sets required, the one that governs")
    for used, of, what, value in (
        (phi, "phi", "on tan φ", s.tan_phi), (cu, "cu", "on the undrained strength", s.cu),
        (True, "F", "on the load", s.load), (True, "R", "on the resistance", s.resistance),
    ):  # fmt: skip
        if used:
            c.given(f"gamma_{of}", f"factor {what}", value, "", source, digits=2)


def phi_rows(c: Calculation, phi_deg: float, source: str) -> None:
    c.given("phi_k", "friction angle", phi_deg, "°", source)
    c.step("phi_d", "design friction angle", "atan(tan(phi_k) / gamma_phi)", "°", "tan φ / γ_φ",
           digits=4)  # fmt: skip


def cu_rows(c: Calculation, cu_kPa: float, source: str) -> None:
    c.given("c_u", C_U, cu_kPa, "kPa", source)
    c.step("c_ud", f"design {C_U}", "c_u / gamma_cu", "kPa", "c_u / γ_cu", digits=3)


def nq_row(c: Calculation) -> None:
    expression = "exp(3.14159265359 * tan(phi_d)) * tan(45 + phi_d / 2)**2"
    c.step("N_q", "bearing capacity factor of the surcharge", expression, "", FACTORS)


def design_phi_deg(phi_deg: float, s: Safety) -> float:
    return float(np.degrees(np.arctan(np.tan(np.radians(phi_deg)) / s.tan_phi)))
