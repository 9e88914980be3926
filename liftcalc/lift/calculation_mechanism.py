"""The calculation of what the ground allows under one outrigger, by one mechanism.

With every factor: layers and water, the set of safety factors that allows least, load spread down
to the layer, bearing, or punching through a stronger layer into clay (granular ground, or a
crust), and the way back to the mat by the ratio of areas.

Sources: those of :mod:`liftcalc.ground.allowable`, beside each row.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.ground.allowable import PHI_PUNCHING_DEG, Judged, MatArea, mechanisms_of_layer
from liftcalc.ground.bearing import METHOD_NAMES, NC_UNDRAINED, Method
from liftcalc.ground.bearing import WATER_UNIT_WEIGHT_KN_M3 as WATER
from liftcalc.ground.layers import KS, KS_PHI_DEG, KS_RATIO
from liftcalc.ground.profile import (
    GroundLayer,
    GroundProfile,
    effective_water_depth_m,
    layer_tops_m,
    overburden_kPa,
)
from liftcalc.ground.safety import Safety
from liftcalc.lift.calculation import Calculation, least_of
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
        c.given("z_w", "depth of the water table", effective_water_depth_m(profile), "m", found)

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


_HANNA = "Meyerhof and Hanna 1978; UFC 3-220-20 (2025), 5-3.6.4"
_BROWN = "Brown and Meyerhof 1969; UFC 3-220-20 (2025), Eq. 5-25 and 5-3.6.2"
N_GAMMA = {"meyerhof": "(N_q - 1) * tan(1.4 * phi_d)", "hansen": "1.5 * (N_q - 1) * tan(phi_d)",
           "vesic": "2 * (N_q + 1) * tan(phi_d)",
           "en1997": "2 * (N_q - 1) * tan(phi_d)"}  # fmt: skip


def _above_rows(c: Calculation, way: Way, start: int) -> None:
    """Layers and water, load spread, and the thickness to be punched."""
    way.layer_rows(c, way.index)
    way.spread_rows(c, start)
    through = " + ".join(f"h_{j}" for j in range(start + 1, way.index + 1))
    c.step("H_p", "thickness to be punched", through, "m", "layers above the weaker one")


def crust_rows(c: Calculation, setup: Setup, way: Way) -> None:
    """Punching through a stiff clay crust into softer clay, by the modified N_c."""
    i, start, profile = way.index, way.run_above, way.profile
    _above_rows(c, way, start)
    s = way.governing_set(setup)
    safety_rows(c, s, phi=False, cu=True)
    crust = min(a.cu_kPa for a in profile.layers[start:i] if a.cu_kPa is not None)
    softer = profile.layers[i].cu_kPa or 0.0
    c.given("c_1", f"{C_U} of the crust", crust, "kPa", f"{profile.name}, minimum above")
    c.given("c_2", f"{C_U} of the softer clay", softer, "kPa", f"{profile.name}, {way.layer}")
    strip = "min(1.5 * H_p / B_z + 5.14 * c_2 / c_1, 5.14)"
    circle = "min(3 * H_p / B_z + 6.05 * c_2 / c_1, 6.05)"
    c.step("N_s", "modified factor of a strip", strip, "", _BROWN)
    c.step("N_o", "modified factor of a circle", circle, "", _BROWN)
    near = "0.9 * " if 0.7 < softer / crust < 1.0 else ""
    rectangle = f"{near}(N_o * B_z / L_z + N_s * (1 - B_z / L_z))"
    less = "; 10 % less for 0.7 < c_2 / c_1 < 1" if near else ""
    c.step("N_m", "modified factor of the rectangle", rectangle, "", _BROWN + less)
    way.allowable_row(c, "c_1 / gamma_cu * N_m", s.source or s.name)


def _chart_rows(c: Calculation, phi_deg: float) -> None:
    """K_s read from the chart between its curves and columns."""
    ratio = c.value("rho_q") or 0.0
    i = int(np.clip(np.searchsorted(KS_PHI_DEG, phi_deg, "right") - 1, 0, len(KS_PHI_DEG) - 2))
    j = int(np.clip(np.searchsorted(KS_RATIO, ratio, "right") - 1, 0, len(KS_RATIO) - 2))
    chart = "Meyerhof and Hanna 1978, chart as numbers in geofound 1.1.4"
    for k in (0, 1):
        c.given(f"phi_{'ab'[k]}", f"column {k + 1} of the chart", KS_PHI_DEG[i + k], "°", chart)
        c.given(f"rho_{'ab'[k]}", f"curve {k + 1} of the chart", KS_RATIO[j + k], "", chart)
    for m, curve in enumerate("ab"):
        for k, column in enumerate("ab"):
            what = f"chart value at column {k + 1}, curve {m + 1}"
            c.given(f"K_{column}{curve}", what, KS[j + m, i + k], "", chart, digits=2)
    c.step("t_phi", "place between the columns", "(phi_d - phi_a) / (phi_b - phi_a)", "", chart)
    c.step("t_rho", "place between the curves", "(rho_q - rho_a) / (rho_b - rho_a)", "", chart)
    low, high = (f"(1 - t_phi) * K_a{m} + t_phi * K_b{m}" for m in "ab")
    c.step("K_s", "punching coefficient", f"0.9 * ((1 - t_rho) * ({low}) + t_rho * ({high}))", "",
           f"{chart}; 10 % less for the reading")  # fmt: skip


def punching_rows(c: Calculation, setup: Setup, way: Way) -> None:
    """Punching through the granular layers above the clay layer."""
    i, start, profile = way.index, way.run_above, way.profile
    run, tops = profile.layers[start:i], layer_tops_m(profile)
    water = effective_water_depth_m(profile)
    weight = [
        f"gamma_{j + 1}" + (f" - {WATER}" if water < tops[j + 1] else "") for j in range(start, i)
    ]
    least = min(a.phi_deg for a in run if a.phi_deg is not None)
    s = way.governing_set(setup)
    phi_deg = design_phi_deg(least, s)
    _above_rows(c, way, start)
    safety_rows(c, s, phi=True, cu=True)
    above = ", ".join(a.name for a in run)
    phi_rows(c, least, f"{profile.name}, minimum of {above}")
    cu_rows(c, profile.layers[i].cu_kPa or 0.0, f"{profile.name}, {way.layer}")
    c.given(*NC, NC_UNDRAINED, "", "2 + π: Prandtl 1920", digits=5)
    clay = "(1 + 0.2 * B_z / L_z) * N_c * c_ud"
    if phi_deg < PHI_PUNCHING_DEG:
        c.note("Granular layers", "below the chart (φ_d < 20°): no strength of their own", "–")
        way.allowable_row(c, clay, _HANNA)
        return
    wet = "water at z_w stands in it" if any("-" in w for w in weight) else "above the water"
    lightest = f"max({least_of(weight)}, 0.1)"
    c.step("gamma_p", "effective unit weight punched", lightest, "kN/m³", wet)
    nq_row(c)
    c.step("N_gammaM", "Meyerhof's factor of the width", N_GAMMA["meyerhof"], "", "Meyerhof 1963")
    strips = "min(5.14 * c_ud / (0.5 * gamma_p * B_z * N_gammaM), 1)"
    c.step("rho_q", "strip capacity of the clay over that of the layer above", strips, "", _HANNA)
    _chart_rows(c, phi_deg)
    shear = "gamma_p * H_p**2 * (1 + B_z / L_z) * K_s * tan(phi_d) / B_z"
    way.allowable_row(c, f"{clay} + {shear}", _HANNA)


_SHAPES: dict[Method, tuple[str, str, str]] = {
    "meyerhof": ("1 + 0.2 * K_p * B_z / L_z", "1 + 0.1 * K_p * B_z / L_z", "s_q"),
    "hansen": ("1 + N_q / N_c * cos(phi_d) * B_z / L_z", "1 + sin(phi_d) * B_z / L_z",
               "1 - 0.4 * B_z / L_z"),
    "vesic": ("1 + N_q / N_c * B_z / L_z", "1 + tan(phi_d) * B_z / L_z", "1 - 0.4 * B_z / L_z"),
    "en1997": ("(s_q * N_q - 1) / (N_q - 1)", "1 + sin(phi_d) * B_z / L_z", "1 - 0.3 * B_z / L_z"),
}  # fmt: skip
"""Shape factors of cohesion, surcharge and width, by method."""


def _drained_rows(c: Calculation, way: Way, layer: GroundLayer, method: Method, s: Safety) -> None:
    i, name = way.index, METHOD_NAMES[method]
    c.given("c_k", "effective cohesion", layer.c_kPa or 0.0, "kPa", way.profile.name)
    c.given("gamma_c", "factor on the cohesion", s.c, "", s.source or s.name, digits=2)
    c.step("c_d", "design cohesion", "c_k / gamma_c", "kPa", "c / γ_c", digits=3)
    phi_rows(c, layer.phi_deg or 0.0, f"{way.profile.name}, {layer.name}")
    nq_row(c)
    c.step(*NC, "(N_q - 1) / tan(phi_d)", "", FACTORS)
    c.step("N_gamma", "bearing capacity factor of the width", N_GAMMA[method], "", name)
    below = f"gamma_{i + 1}"
    depth = "max(z_w - z_t, 0)" if i else "z_w"
    wet = f"{below} - {WATER} + min({depth} / (1.5 * B_z), 1) * {WATER}"
    source = "UFC 3-220-20 (2025), 5-3.2; depth of influence 1.5 B: GEC 6 (2002), 5.2.3.2"
    c.step("gamma_e", "effective unit weight below", wet, "kN/m³", source)
    if method == "meyerhof":
        c.step("K_p", "passive coefficient", "tan(45 + phi_d / 2)**2", "", name)
    of_c, of_q, of_gamma = _SHAPES[method]
    shapes = [("s_c", "cohesion", of_c), ("s_q", "surcharge", of_q), ("s_gamma", "width", of_gamma)]
    if method == "en1997":  # there the factor of the cohesion rests on that of the surcharge
        shapes[:2] = shapes[1::-1]
    flat = method == "meyerhof" and not design_phi_deg(layer.phi_deg or 0.0, s) > 10
    for symbol, what, expression in shapes:
        meaning = f"shape factor of the {what}"
        if flat and symbol == "s_q":
            c.given(symbol, meaning, 1.0, "", f"{name}: φ not above 10°")
        else:
            c.step(symbol, meaning, expression, "", name)
    way.surcharge_rows(c, effective=True)
    three = "c_d * N_c * s_c + q_0 * N_q * s_q + 0.5 * gamma_e * B_z * N_gamma * s_gamma"
    c.step("q_u", "ultimate bearing pressure", three, "kPa", f"{name}; drained")


def _undrained_rows(c: Calculation, way: Way, layer: GroundLayer, method: Method) -> None:
    cu_rows(c, layer.cu_kPa or 0.0, f"{way.profile.name}, {layer.name}")
    c.given(*NC, NC_UNDRAINED, "", "2 + π: Prandtl 1920", digits=5)
    shape = "1 + B_z / L_z / N_c" if method == "vesic" else "1 + 0.2 * B_z / L_z"
    c.step("s_c", "shape factor of the cohesion", shape, "", METHOD_NAMES[method])
    way.surcharge_rows(c, effective=False)
    source = f"{METHOD_NAMES[method]}; undrained"
    c.step("q_u", "ultimate bearing pressure", "c_ud * N_c * s_c + q_0", "kPa", source)


def _bearing_rows(c: Calculation, setup: Setup, way: Way) -> None:
    """Bearing in the layer, with the set of factors that allows least."""
    i, method, s = way.index, setup.rules.ground.method, way.governing_set(setup)
    undrained = way.mechanism.startswith("undrained")
    way.layer_rows(c, i)
    way.spread_rows(c, i)
    safety_rows(c, s, phi=not undrained, cu=undrained)
    if undrained:
        _undrained_rows(c, way, way.profile.layers[i], method)
    else:
        _drained_rows(c, way, way.profile.layers[i], method, s)
    way.allowable_row(c, "max(q_u - q_0, 0)" if i else "q_u", s.source or s.name)


def allowable_rows(c: Calculation, setup: Setup, way: Way) -> None:
    """How one mechanism gives what the ground allows under one outrigger."""
    if " bearing" in way.mechanism:
        _bearing_rows(c, setup, way)
    elif way.mechanism == "punching through granular layer":
        punching_rows(c, setup, way)
    elif way.mechanism.startswith("presumptive"):
        layer = way.profile.layers[way.index]
        way.layer_rows(c, way.index)
        way.spread_rows(c, way.index)
        value = layer.presumptive_kPa or 0.0
        c.given("q_tab", "tabulated allowable pressure", value, "kPa", layer.presumptive_source)
        back = "q_tab * a_z" if way.spreads else "q_tab"
        c.step(way.symbol, way.meaning, back, "kPa", "table", value=way.value_kPa)
    else:
        crust_rows(c, setup, way)
