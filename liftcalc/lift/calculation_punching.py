"""The calculation of punching through a stronger layer into clay: granular ground, or a crust.

Sources: Meyerhof and Hanna 1978; Brown and Meyerhof 1969, beside each row.
"""

import numpy as np

from liftcalc.ground.effective import WATER_UNIT_WEIGHT_KN_M3 as WATER
from liftcalc.ground.factors import NC_UNDRAINED
from liftcalc.ground.layers import KS, KS_PHI_DEG, KS_RATIO
from liftcalc.ground.mechanisms import PHI_PUNCHING_DEG
from liftcalc.ground.profile import effective_water_depth_m, layer_tops_m
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_layers import (
    C_U,
    NC,
    Way,
    cu_rows,
    design_phi_deg,
    nq_row,
    phi_rows,
    safety_rows,
)
from liftcalc.lift.setup import Setup

_HANNA = "Meyerhof and Hanna 1978; UFC 3-220-20 (2025), 5-3.6.4"
_BROWN = "Brown and Meyerhof 1969; UFC 3-220-20 (2025), Eq. 5-25 and 5-3.6.2"
N_GAMMA = {"meyerhof": "(N_q - 1) * tan(1.4 * phi_d)", "hansen": "1.5 * (N_q - 1) * tan(phi_d)",
           "vesic": "2 * (N_q + 1) * tan(phi_d)",
           "en1997": "2 * (N_q - 1) * tan(phi_d)"}  # fmt: skip


def _lowest(terms: list[str], floor: str) -> str:
    inner = terms[0] if len(terms) == 1 else f"min({', '.join(terms)})"
    return f"max({inner}, {floor})"


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
    c.step("gamma_p", "effective unit weight punched", _lowest(weight, "0.1"), "kN/m³", wet)
    nq_row(c)
    c.step("N_gammaM", "Meyerhof's factor of the width", N_GAMMA["meyerhof"], "", "Meyerhof 1963")
    strips = "min(5.14 * c_ud / (0.5 * gamma_p * B_z * N_gammaM), 1)"
    c.step("rho_q", "strip capacity of the clay over that of the layer above", strips, "", _HANNA)
    _chart_rows(c, phi_deg)
    shear = "gamma_p * H_p**2 * (1 + B_z / L_z) * K_s * tan(phi_d) / B_z"
    way.allowable_row(c, f"{clay} + {shear}", _HANNA)
