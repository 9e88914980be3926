"""The calculation of what the ground allows under one outrigger, by one mechanism.

With every factor: layers and water, the set of safety factors that allows least, load spread down
to the layer, bearing or punching, and the way back to the mat by the ratio of areas.

Sources: those of :mod:`liftcalc.ground.mechanisms`, beside each row.
"""

from liftcalc.ground.effective import WATER_UNIT_WEIGHT_KN_M3 as WATER
from liftcalc.ground.factors import METHOD_NAMES, NC_UNDRAINED, Method
from liftcalc.ground.profile import GroundLayer
from liftcalc.ground.safety import Safety
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_layers import (
    FACTORS,
    NC,
    Way,
    cu_rows,
    design_phi_deg,
    nq_row,
    phi_rows,
    safety_rows,
)
from liftcalc.lift.calculation_punching import N_GAMMA, crust_rows, punching_rows
from liftcalc.lift.setup import Setup

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
