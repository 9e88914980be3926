"""The working of a leg's limit: how the mechanism that governs it gives the allowable pressure.

Shown with every factor: design strengths of the governing set of safety factors, load spread down
to the layer, N_c, N_q, N_gamma with their shape factors, the three terms, and the way back to the
mat. Results are the package's own; nothing is rounded on the way.

Sources: those of :mod:`liftcalc.ground.mechanisms`, beside each row.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.ground.bearing import BearingCapacity, DrainedSoil, UndrainedSoil, bearing_capacity
from liftcalc.ground.effective import WATER_UNIT_WEIGHT_KN_M3
from liftcalc.ground.factors import NC_UNDRAINED, bearing_factors
from liftcalc.ground.layers import punching_coefficient
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.mechanisms import SPREAD
from liftcalc.ground.profile import (
    GroundLayer,
    GroundProfile,
    effective_water_depth_m,
    layer_tops_m,
    overburden_kPa,
)
from liftcalc.ground.safety import Safety
from liftcalc.lift.ground_facts import ground_profile, ground_safety, leg_spacing_m
from liftcalc.lift.leg_ground import LegGround
from liftcalc.lift.setup import Setup
from liftcalc.lift.working_row import WorkingRow, working_row

_METHODS = {
    "meyerhof": "Meyerhof 1963",
    "hansen": "Brinch Hansen 1970",
    "vesic": "Vesić 1973",
    "en1997": "EN 1997-1 Annex D",
}

_N_GAMMA = {
    "meyerhof": "(N_q − 1) tan 1.4 φ",
    "hansen": "1.5 (N_q − 1) tan φ",
    "vesic": "2 (N_q + 1) tan φ",
    "en1997": "2 (N_q − 1) tan φ",
}


@dataclass(frozen=True)
class _Spread:
    """Sides of the loaded area at the top of a layer, and its area over that at the mat."""

    depth_m: float
    wide_m: float
    long_m: float
    ratio: float


def _spread(setup: Setup, g: LegGround, depth_m: float) -> _Spread:
    spacing = leg_spacing_m(setup)
    short, long = sorted((g.effective_width_m, g.effective_length_m))
    at = [max(min(side + 2 * SPREAD * depth_m, spacing), side) for side in (short, long)]
    return _Spread(depth_m, at[0], at[1], at[0] * at[1] / (short * long))


def _spread_rows(g: LegGround, spread: _Spread, layer: str) -> list[WorkingRow]:
    if spread.depth_m <= 0:
        return []
    short, long = sorted((g.effective_width_m, g.effective_length_m))
    return [
        working_row(
            f"Load spread to the top of {layer}",
            "side + 2 × 0.5 H, not beyond the distance to the next leg",
            f"({short:.3f} + {spread.depth_m:.2f}) and ({long:.3f} + {spread.depth_m:.2f})",
            f"{spread.wide_m:.3f} m × {spread.long_m:.3f} m, area {spread.ratio:.4f} times",
            "1 horizontal : 2 vertical, common practice, no published source",
        )
    ]


def _drained_rows(
    found: BearingCapacity, layer: GroundLayer, s: Safety, wide: float
) -> list[WorkingRow]:
    phi = _design_phi_deg(layer.phi_deg or 0.0, s)
    c = (layer.c_kPa or 0.0) / s.c
    assert found.unit_weight_below_kN_m3 is not None
    n = [_first(v) for v in (found.factors.Nc, found.factors.Nq, found.factors.Ngamma)]
    f = [_first(v) for v in (found.shape.c, found.shape.q, found.shape.gamma)]
    q0 = _first(found.surcharge_kPa)
    weight = _first(found.unit_weight_below_kN_m3)
    rows = [
        working_row(
            f"Design strength of {layer.name}",
            "tan φ_d = tan φ / γ_φ, c_d = c / γ_c",
            f"tan {layer.phi_deg:g}° / {s.tan_phi:g}; {layer.c_kPa or 0.0:g} / {s.c:g}",
            f"φ_d = {phi:.2f}°, c_d = {c:.2f} kPa",
            s.name,
        ),
        working_row(
            "Bearing capacity factors",
            "N_q = e^(π tan φ) tan²(45° + φ/2); N_c = (N_q − 1) cot φ; "
            f"N_γ = {_N_GAMMA[found.method]}",
            f"φ_d = {phi:.2f}°",
            f"N_c = {n[0]:.2f}, N_q = {n[1]:.2f}, N_γ = {n[2]:.2f}",
            _METHODS[found.method],
        ),
        working_row(
            "Ultimate bearing pressure, drained",
            "q = c N_c s_c + q₀ N_q s_q + 0.5 γ' B N_γ s_γ",
            f"{c:.2f} × {n[0]:.2f} × {f[0]:.3f} + {q0:.2f} × {n[1]:.2f} × {f[1]:.3f} + "
            f"0.5 × {weight:.2f} × {wide:.3f} × {n[2]:.2f} × {f[2]:.3f}",
            f"q = {float(found.q_ult_kPa):.1f} kPa",
            f"{_METHODS[found.method]}; γ' with the water level in it",
        ),
    ]
    return rows


def _undrained_rows(found: BearingCapacity, layer: GroundLayer, s: Safety) -> list[WorkingRow]:
    assert layer.cu_kPa is not None
    cu = layer.cu_kPa / s.cu
    n_c, s_c, q0 = (_first(v) for v in (found.factors.Nc, found.shape.c, found.surcharge_kPa))
    return [
        working_row(
            f"Design strength of {layer.name}",
            "c_u,d = c_u / γ_cu",
            f"{layer.cu_kPa:g} / {s.cu:g}",
            f"c_u,d = {cu:.2f} kPa",
            s.name,
        ),
        working_row(
            "Ultimate bearing pressure, undrained",
            "q = c_u N_c s_c + q₀, N_c = 5.14 (2 + π; N_q = 1, N_γ = 0)",
            f"{cu:.2f} × {n_c:.3f} × {s_c:.4f} + {q0:.2f}",
            f"q = {float(found.q_ult_kPa):.1f} kPa",
            _METHODS[found.method],
        ),
    ]


def _allowable_row(
    g: LegGround, formula: str, numbers: str, value_kPa: float, spread: _Spread, source: str
) -> WorkingRow:
    """The last step: what the layer allows, brought back to the mat by the ratio of areas."""
    below = spread.depth_m > 0
    return working_row(
        f"Allowable under {g.name}",
        formula + (" × area ratio" if below else ""),
        numbers + (f" × {spread.ratio:.4f}" if below else ""),
        f"q_all = {value_kPa * spread.ratio:.1f} kPa",
        source,
    )


def _first(value: ArrayLike) -> float:
    return float(np.asarray(value).reshape(-1)[0])


def _design_soil(
    layer: GroundLayer, s: Safety, undrained: bool, *, water_depth_m: float
) -> UndrainedSoil | DrainedSoil:
    """Strength of a layer divided by a set of factors."""
    if undrained:
        return UndrainedSoil((layer.cu_kPa or 0.0) / s.cu)
    return DrainedSoil(
        (layer.c_kPa or 0.0) / s.c,
        _design_phi_deg(layer.phi_deg or 0.0, s),
        layer.unit_weight_kN_m3,
        water_depth_m,
    )


def _design_phi_deg(phi_deg: float, s: Safety) -> float:
    return float(np.degrees(np.arctan(np.tan(np.radians(phi_deg)) / s.tan_phi)))


def _bearing_rows(setup: Setup, g: LegGround, profile: GroundProfile, i: int) -> list[WorkingRow]:
    """Bearing in layer *i*, with the set of factors that allows least."""
    layer, depth = profile.layers[i], layer_tops_m(profile)[i]
    undrained = g.mechanism.startswith("undrained")
    spread = _spread(setup, g, depth)
    surcharge = overburden_kPa(profile, depth, effective=not undrained)
    water = effective_water_depth_m(profile)
    trials = []
    for s in ground_safety(setup)[0]:
        capacity = bearing_capacity(
            spread.wide_m,
            spread.long_m,
            _design_soil(layer, s, undrained, water_depth_m=max(water - depth, 0.0)),
            surcharge_kPa=surcharge,
            method=setup.rules.ground.method,
        )
        net_kPa = float(capacity.q_ult_kPa) - (surcharge if i else 0.0)
        trials.append((max(net_kPa, 0.0) / s.overall, s, capacity))
    value, s, found = min(trials, key=lambda trial: trial[0])
    rows = _spread_rows(g, spread, layer.name)
    if undrained:
        rows += _undrained_rows(found, layer, s)
    else:
        rows += _drained_rows(found, layer, s, spread.wide_m)
    net, less = (" − q₀", f" − {surcharge:.2f}") if i else ("", "")
    rows.append(
        _allowable_row(
            g,
            f"q_all = (q{net}) / (γ_F γ_R)",
            f"({float(found.q_ult_kPa):.1f}{less}) / ({s.load:g} × {s.resistance:g})",
            value,
            spread,
            s.source or s.name,
        )
    )
    return rows


def _run_above(profile: GroundProfile, i: int) -> int:
    """First layer of the run just above layer *i* that is all clay or all granular."""
    clay = [layer.cu_kPa is not None for layer in profile.layers]
    start = i - 1
    while start > 0 and clay[start - 1] == clay[i - 1]:
        start -= 1
    return start


def _crust_rows(setup: Setup, g: LegGround, profile: GroundProfile, i: int) -> list[WorkingRow]:
    """Punching through a stiff clay crust into softer clay, by the modified N_c."""
    layer, tops = profile.layers[i], layer_tops_m(profile)
    start = _run_above(profile, i)
    spread = _spread(setup, g, tops[start])
    wide, ratio = spread.wide_m, spread.wide_m / spread.long_m
    thickness = tops[i] - tops[start]
    crust = min(a.cu_kPa for a in profile.layers[start:i] if a.cu_kPa is not None)
    share = (layer.cu_kPa or 0.0) / crust
    strip = min(1.5 * thickness / wide + 5.14 * share, 5.14)
    circle = min(3.0 * thickness / wide + 6.05 * share, 6.05)
    near = 0.9 if 0.7 < share < 1.0 else 1.0
    factor = near * (circle * ratio + strip * (1 - ratio))
    s = max(ground_safety(setup)[0], key=lambda one: one.cu * one.overall)
    value = crust / s.cu * factor / s.overall
    source = "Brown and Meyerhof 1969; UFC 3-220-20 Eq. 5-25"
    return [
        *_spread_rows(g, spread, profile.layers[start].name),
        working_row(
            f"Crust over softer {layer.name}",
            "strip 1.5 H/B + 5.14 c_u2/c_u1 ≤ 5.14; circle 3 H/B + 6.05 c_u2/c_u1 ≤ 6.05",
            f"H {thickness:.2f} m, B {wide:.3f} m, c_u2/c_u1 = {layer.cu_kPa:g} / {crust:g}",
            f"strip {strip:.3f}, circle {circle:.3f}",
            source,
        ),
        working_row(
            "Modified N_c",
            "circle × B/L + strip × (1 − B/L)"
            + ("; 10 % less for 0.7 < c_u2/c_u1 < 1" if near < 1 else ""),
            f"({circle:.3f} × {ratio:.4f} + {strip:.3f} × (1 − {ratio:.4f})) × {near:g}",
            f"N_c = {factor:.3f}",
            source,
        ),
        _allowable_row(
            g,
            "q_all = c_u1 / γ_cu × N_c / (γ_F γ_R)",
            f"{crust:g} / {s.cu:g} × {factor:.3f} / ({s.load:g} × {s.resistance:g})",
            value,
            spread,
            s.source or s.name,
        ),
    ]


def _punching_rows(setup: Setup, g: LegGround, profile: GroundProfile, i: int) -> list[WorkingRow]:
    """Punching through the granular layers above clay layer *i*."""
    layer, tops = profile.layers[i], layer_tops_m(profile)
    start = _run_above(profile, i)
    run = profile.layers[start:i]
    spread = _spread(setup, g, tops[start])
    thickness = tops[i] - tops[start]
    ratio = spread.wide_m / spread.long_m
    water = effective_water_depth_m(profile)
    weight = max(
        min(
            a.unit_weight_kN_m3 - (WATER_UNIT_WEIGHT_KN_M3 if water < tops[k + 1] else 0.0)
            for k, a in enumerate(run, start)
        ),
        0.1,
    )
    least = min(a.phi_deg for a in run if a.phi_deg is not None)
    trials = []
    for s in ground_safety(setup)[0]:
        phi = _design_phi_deg(least, s)
        cu = (layer.cu_kPa or 0.0) / s.cu
        clay = (1 + 0.2 * ratio) * NC_UNDRAINED * cu
        ks = 0.0
        if phi >= 20.0:
            q1 = 0.5 * weight * spread.wide_m * float(bearing_factors(phi, "meyerhof").Ngamma)
            ks = float(punching_coefficient(phi, min(5.14 * cu / q1, 1.0)))
        shear = weight * thickness**2 * (1 + ratio) * ks * np.tan(np.radians(phi)) / spread.wide_m
        trials.append((float((clay + shear) / s.overall), s, phi, cu, ks))
    value, s, phi, cu, ks = min(trials, key=lambda trial: trial[0])
    return [
        *_spread_rows(g, spread, run[0].name),
        working_row(
            f"Design strengths: {', '.join(a.name for a in run)} over {layer.name}",
            "tan φ_d = tan φ / γ_φ, c_u,d = c_u / γ_cu",
            f"tan {least:g}° / {s.tan_phi:g}; {layer.cu_kPa:g} / {s.cu:g}",
            f"φ_d = {phi:.2f}°, c_u,d = {cu:.2f} kPa",
            s.name,
        ),
        _allowable_row(
            g,
            "q_all = [(1 + 0.2 B/L) 5.14 c_u + γ' H² (1 + B/L) K_s tan φ / B] / (γ_F γ_R)",
            f"[(1 + 0.2 × {ratio:.4f}) × {NC_UNDRAINED:.4f} × {cu:.2f} + {weight:.2f} × "
            f"{thickness:.2f}² × (1 + {ratio:.4f}) × {ks:.3f} × tan {phi:.2f}° / "
            f"{spread.wide_m:.3f}] / ({s.load:g} × {s.resistance:g})",
            value,
            spread,
            "Meyerhof and Hanna 1978; K_s read 10 % below the chart",
        ),
    ]


def mechanism_rows(setup: Setup, g: LegGround, mat: MatProperties) -> list[WorkingRow]:
    """How the limit of one leg is reached, by the mechanism that governs it."""
    profile = ground_profile(g.profile, mat.width_m)
    i = next(k for k, layer in enumerate(profile.layers) if layer.name == g.layer)
    if " bearing" in g.mechanism:
        return _bearing_rows(setup, g, profile, i)
    if g.mechanism == "punching through granular layer":
        return _punching_rows(setup, g, profile, i)
    layer = profile.layers[i]
    if g.mechanism.startswith("presumptive"):
        spread = _spread(setup, g, layer_tops_m(profile)[i])
        return [
            *_spread_rows(g, spread, layer.name),
            _allowable_row(
                g,
                "tabulated value",
                f"{layer.presumptive_kPa:g}",
                layer.presumptive_kPa or 0.0,
                spread,
                layer.presumptive_source,
            ),
        ]
    return _crust_rows(setup, g, profile, i)
