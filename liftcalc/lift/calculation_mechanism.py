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
from liftcalc.ground.profile import GroundLayer, GroundProfile, effective_water_depth_m, layer_tops_m, overburden_kPa
from liftcalc.ground.safety import Safety
from liftcalc.lift.calculation import Calculation, least_of
from liftcalc.lift.ground_facts import ground_safety
from liftcalc.lift.leg_ground import LegGround
from liftcalc.lift.setup import Setup

SPREAD_SOURCE = "1 horizontal to 2 vertical on each side: FHWA-SA-02-054 (GEC 6, 2002), Eq. 5-17"


@dataclass(frozen=True)
class Way:
    """One way in which the ground under one outrigger may fail, and what it allows there."""

    g: LegGround
    profile: GroundProfile
    mechanism: str
    layer: str
    value_kPa: float
    spacing_m: float
    key: str
    """What it allows, in the table of rows."""

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
                c.facts(source, h_of=layer.thickness_m, of=j)
            c.facts(source, gamma_of=layer.unit_weight_kN_m3, of=j)
        found = name if profile.water_depth_m is not None else f"{name}: none found to there"
        c.facts(found, z_w_mechanism=effective_water_depth_m(profile))

    def spread_rows(self, c: Calculation, start: int) -> None:
        """Loaded area at the top of layer *start*, and its area over that at the mat."""
        n, top = self.g.name, layer_tops_m(self.profile)[start]
        short, long = f"min(L_{n}, B_{n})", f"max(L_{n}, B_{n})"
        if top <= 0:
            c.steps("B_z L_z", of=n)
            return
        top_of = " + ".join(f"h_{j}" for j in range(1, start + 1))
        c.work("z_t_mechanism", top_of, value=top)
        free = not np.isfinite(self.spacing_m)
        source = SPREAD_SOURCE + ("; neighbours by their stress" if free else "; to the next outrigger")
        if not free:
            c.facts(l_o_mechanism=self.spacing_m)
        for key, side in (("B_z", short), ("L_z", long)):
            wide = f"{side} + 2 * 0.5 * z_t"
            c.work(key, wide if free else f"max(min({wide}, l_o), {side})", source)
        c.steps("a_z", of=n)

    def surcharge_rows(self, c: Calculation, *, effective: bool) -> None:
        i = self.index
        if i == 0:
            c.facts(q_0=0.0)
            return
        total = " + ".join(f"gamma_{j} * h_{j}" for j in range(1, i + 1))
        if effective:
            total = f"max({total} - {WATER} * max(z_t - z_w, 0), 0)"
        depth = layer_tops_m(self.profile)[i]
        value = overburden_kPa(self.profile, depth, effective=effective)
        c.work("q_0", total, "hydrostatic water" if effective else "total stress", value=value)

    def allowable_row(self, c: Calculation, expression: str, source: str) -> None:
        """The last step: what the layer allows, brought back to the mat by the ratio of areas."""
        back = f"({expression}) / (gamma_F * gamma_R)" + (" * a_z" if self.spreads else "")
        c.work(self.key, back, source, value=self.value_kPa, of=self.g.name)

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
    c.note("Set of factors", f"{s.name}: of the sets required, the one that governs")
    factors = ({"gamma_phi": s.tan_phi} if phi else {}) | ({"gamma_cu": s.cu} if cu else {})
    c.facts(s.source or s.name, **factors, gamma_F=s.load, gamma_R=s.resistance)


def phi_rows(c: Calculation, phi_deg: float, source: str) -> None:
    c.facts(source, phi_k=phi_deg)
    c.steps("phi_d")


def cu_rows(c: Calculation, cu_kPa: float, source: str) -> None:
    c.facts(source, c_u=cu_kPa)
    c.steps("c_ud")


def design_phi_deg(phi_deg: float, s: Safety) -> float:
    return float(np.degrees(np.arctan(np.tan(np.radians(phi_deg)) / s.tan_phi)))


_HANNA = "Meyerhof and Hanna 1978; UFC 3-220-20 (2025), 5-3.6.4"
_BROWN = "Brown and Meyerhof 1969; UFC 3-220-20 (2025), Eq. 5-25 and 5-3.6.2"


def _above_rows(c: Calculation, way: Way, start: int) -> None:
    """Layers and water, load spread, and the thickness to be punched."""
    way.layer_rows(c, way.index)
    way.spread_rows(c, start)
    through = " + ".join(f"h_{j}" for j in range(start + 1, way.index + 1))
    c.work("H_p", through)


def crust_rows(c: Calculation, setup: Setup, way: Way) -> None:
    """Punching through a stiff clay crust into softer clay, by the modified N_c."""
    i, start, profile = way.index, way.run_above, way.profile
    _above_rows(c, way, start)
    s = way.governing_set(setup)
    safety_rows(c, s, phi=False, cu=True)
    crust = min(a.cu_kPa for a in profile.layers[start:i] if a.cu_kPa is not None)
    softer = profile.layers[i].cu_kPa or 0.0
    c.facts(f"{profile.name}, minimum above", c_1=crust)
    c.facts(f"{profile.name}, {way.layer}", c_2=softer)
    c.steps("N_s N_o")
    near = "0.9 * " if 0.7 < softer / crust < 1.0 else ""
    rectangle = f"{near}(N_o * B_z / L_z + N_s * (1 - B_z / L_z))"
    less = "; 10 % less for 0.7 < c_2 / c_1 < 1" if near else ""
    c.work("N_m", rectangle, _BROWN + less)
    way.allowable_row(c, "c_1 / gamma_cu * N_m", s.source or s.name)


def _chart_rows(c: Calculation, phi_deg: float) -> None:
    """K_s read from the chart between its curves and columns."""
    ratio = c.value("rho_q") or 0.0
    i = int(np.clip(np.searchsorted(KS_PHI_DEG, phi_deg, "right") - 1, 0, len(KS_PHI_DEG) - 2))
    j = int(np.clip(np.searchsorted(KS_RATIO, ratio, "right") - 1, 0, len(KS_RATIO) - 2))
    (phi_a, phi_b), (rho_a, rho_b) = KS_PHI_DEG[i : i + 2], KS_RATIO[j : j + 2]
    c.facts(phi_a=phi_a, rho_a=rho_a, phi_b=phi_b, rho_b=rho_b)
    c.facts(K_aa=KS[j, i], K_ba=KS[j, i + 1], K_ab=KS[j + 1, i], K_bb=KS[j + 1, i + 1])
    c.steps("t_phi t_rho K_s")


def punching_rows(c: Calculation, setup: Setup, way: Way) -> None:
    """Punching through the granular layers above the clay layer."""
    i, start, profile = way.index, way.run_above, way.profile
    run, tops = profile.layers[start:i], layer_tops_m(profile)
    water = effective_water_depth_m(profile)
    weight = [f"gamma_{j + 1}" + (f" - {WATER}" if water < tops[j + 1] else "") for j in range(start, i)]
    least = min(a.phi_deg for a in run if a.phi_deg is not None)
    s = way.governing_set(setup)
    phi_deg = design_phi_deg(least, s)
    _above_rows(c, way, start)
    safety_rows(c, s, phi=True, cu=True)
    above = ", ".join(a.name for a in run)
    phi_rows(c, least, f"{profile.name}, minimum of {above}")
    cu_rows(c, profile.layers[i].cu_kPa or 0.0, f"{profile.name}, {way.layer}")
    c.facts(N_c=NC_UNDRAINED)
    clay = "(1 + 0.2 * B_z / L_z) * N_c * c_ud"
    if phi_deg < PHI_PUNCHING_DEG:
        c.note("Granular layers", "below the chart (φ_d < 20°): no strength of their own", "–")
        way.allowable_row(c, clay, _HANNA)
        return
    wet = "water at z_w stands in it" if any("-" in w for w in weight) else "above the water"
    c.work("gamma_p", f"max({least_of(weight)}, 0.1)", wet)
    c.steps("N_q N_gammaM rho_q")
    _chart_rows(c, phi_deg)
    shear = "gamma_p * H_p**2 * (1 + B_z / L_z) * K_s * tan(phi_d) / B_z"
    way.allowable_row(c, f"{clay} + {shear}", _HANNA)


def _drained_rows(c: Calculation, way: Way, layer: GroundLayer, method: Method, s: Safety) -> None:
    i, name = way.index, METHOD_NAMES[method]
    c.facts(way.profile.name, c_k=layer.c_kPa or 0.0)
    c.facts(s.source or s.name, gamma_c=s.c)
    c.steps("c_d")
    phi_rows(c, layer.phi_deg or 0.0, f"{way.profile.name}, {layer.name}")
    c.steps("N_q N_c_mechanism")
    c.work(f"N_gamma_{method}", "", name)
    depth = "max(z_w - z_t, 0)" if i else "z_w"
    wet = f"gamma_{i + 1} - {WATER} + min({depth} / (1.5 * B_z), 1) * {WATER}"
    c.work("gamma_e", wet)
    if method == "meyerhof":
        c.work("K_p", "", name)
    # in EN 1997-1 the factor of the cohesion rests on that of the surcharge
    shapes = ("s_q", "s_c", "s_gamma") if method == "en1997" else ("s_c", "s_q", "s_gamma")
    flat = method == "meyerhof" and not design_phi_deg(layer.phi_deg or 0.0, s) > 10
    for symbol in shapes:
        if flat and symbol == "s_q":
            c.facts(f"{name}: φ not above 10°", s_q_meyerhof=1.0)
        else:
            c.work(f"{symbol}_{method}", "", name)
    way.surcharge_rows(c, effective=True)
    c.work("q_u", "", f"{name}; drained")


def _undrained_rows(c: Calculation, way: Way, layer: GroundLayer, method: Method) -> None:
    cu_rows(c, layer.cu_kPa or 0.0, f"{way.profile.name}, {layer.name}")
    c.facts(N_c=NC_UNDRAINED)
    shape = "1 + B_z / L_z / N_c" if method == "vesic" else "1 + 0.2 * B_z / L_z"
    c.work("s_c", shape, METHOD_NAMES[method])
    way.surcharge_rows(c, effective=False)
    c.work("q_u", "c_ud * N_c * s_c + q_0", f"{METHOD_NAMES[method]}; undrained")


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
        c.facts(layer.presumptive_source, q_tab=layer.presumptive_kPa or 0.0)
        back = "q_tab * a_z" if way.spreads else "q_tab"
        c.work(way.key, back, value=way.value_kPa, of=way.g.name)
    else:
        crust_rows(c, setup, way)
