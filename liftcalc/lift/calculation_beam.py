"""The printed calculation of how a load hangs under a spreader or lifting beam, and of its forces.

The place of rest has no closed form: it is that of minimum potential energy, found by search. Its
points are given values; lengths of slings and beam are calculated back from them, and the sums of
forces on the load prove the equilibrium. Plane of the beam, in the load's own frame: x along the
load from the middle of its lifting points, z above them; end 1 at -x.

Source: statics.
"""

import math

from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST
from liftcalc.lift.calculation_slings import Attitude, place_steps, weight_steps
from liftcalc.lift.hanging import load_under_beam
from liftcalc.lift.setup import Setup

_FOUND = "place of rest of load and beam, minimum potential energy, found by search to 1e-9 rad"


def _given_places(c: Calculation, setup: Setup, at: Attitude) -> None:
    """Beam ends, hook and tilt at rest; slings and beam calculated back from them."""
    study, choice = at.study, setup.lift.rigging
    gear, beam = study.hanging.gear, study.beam
    assert beam is not None
    found = load_under_beam(gear, beam, at.cg_m[None])
    c.given("B_x", "spacing of the lifting points along the load", choice.point_spacing_x_m, "m",
            LIFT_LIST)  # fmt: skip
    height = choice.point_height_m
    c.given("z_p", "lifting points above the load's underside", height, "m", LIFT_LIST)
    c.step("d_G", "centre of gravity below the lifting points", "z_p - G_z", "m", "difference")
    for name, what, point in (
        ("A_1", "end 1 of the beam", found.beam_1_xz_m[0]),
        ("A_2", "end 2 of the beam", found.beam_2_xz_m[0]),
        ("K", "hook", found.hook_xz_m[0]),
    ):
        for axis, way, value in zip("xz", ("along the load", "square to it"), point, strict=True):
            place = f"{what} from the middle of the lifting points, {way}"
            c.given(f"{name}{'_' if name == 'K' else ''}{axis}", place, value, "m.5", _FOUND)
    c.given("lambda_l", "tilt of the load along the beam, end 2 down",
            float(found.load_tilt_deg[0]), "°.5", _FOUND)  # fmt: skip
    c.step("p_x", "plumb line, unit vector up, along the load", "-sin(lambda_l)", ".5", "geometry")
    c.step("p_z", "plumb line, unit vector up, square to its underside", "cos(lambda_l)", ".5",
           "geometry")  # fmt: skip
    _lengths(c, setup, at)


def _lengths(c: Calculation, setup: Setup, at: Attitude) -> None:
    """What the places found must keep: lengths of slings and beam, each a proof."""
    gear, choice = at.study.hanging.gear, setup.lift.rigging
    beam, length = at.study.beam, gear.leg_length_m
    assert beam is not None
    c.given("l_s", "length of a bottom sling", length, "m", "accessories' data")
    in_plane, drop = length, "l_s"
    if choice.sling_legs == 4:
        y = choice.point_spacing_y_m
        c.given("B_y", "spacing of the lifting points across the load", y, "m", LIFT_LIST)
        drop = "sqrt(l_s ** 2 - (B_y / 2) ** 2)"
        in_plane = math.sqrt(length**2 - y**2 / 4)
    c.step("l_b", "length of the bottom slings in the beam's plane", drop, "m", "geometry")
    proof = "proof: as stated"
    for i, sign in ((1, "+"), (2, "-")):
        c.step(f"l_b{i}", f"bottom sling {i}, lifting point to the place found of the beam's end",
               f"sqrt((A_{i}x {sign} B_x / 2) ** 2 + A_{i}z ** 2)", "m.4", f"{proof}, l_b",
               value=in_plane)  # fmt: skip
    c.step("B_b", "span of the beam between its slings",
           "sqrt((A_2x - A_1x) ** 2 + (A_2z - A_1z) ** 2)", "m.4",
           f"{proof}, {beam.span_m:g} m, accessories' data", value=beam.span_m)  # fmt: skip


def _bottom(c: Calculation, at: Attitude) -> None:
    """Bottom slings by moments about the lifting points, and what they put on the beam's ends."""
    ends = at.states.end_kN
    assert ends is not None
    right = at.study.lugs_m[:, 0] > 0
    tensions = at.states.leg_tension_kN[at.place]
    for i, sign, other, side in ((1, "+", "-", ~right), (2, "-", "+", right)):
        runs = ((f"(A_{i}x {sign} B_x / 2)", "along the load"), (f"A_{i}z", "square to it"))
        for axis, (run, way) in zip("xz", runs, strict=True):
            what = f"unit vector of bottom sling {i}, lifting point to beam, {way}"
            c.step(f"u_{i}{axis}", what, f"{run} / l_b{i}", ".5", "geometry")
        minus, source = other.strip("+"), f"moments about the lifting point at end {3 - i}"
        moment = f"(G_x {other} B_x / 2) * p_z + d_G * p_x"
        c.step(f"S_{i}", f"tension in the bottom slings at end {i}",
               f"W_s * ({moment}) / ({minus}B_x * u_{i}z)", "kN", source,
               value=at.study.factor * float(tensions[side][0]))  # fmt: skip
    for axis, way in (("x", "along the load"), ("z", "square to its underside")):
        total = f"S_1 * u_1{axis} + S_2 * u_2{axis} - W_s * p_{axis}"
        c.step(f"E_{axis}", f"sum of all forces {way}", total, "kN", "proof of equilibrium: 0")
    for i in (1, 2):
        c.step(f"V_{i}", f"vertical force on end {i} of the beam",
               f"S_{i} * (u_{i}x * p_x + u_{i}z * p_z)", "kN", "component along the plumb line",
               value=at.study.factor * float(ends[at.place, i - 1]))  # fmt: skip


def _top(c: Calculation, at: Attitude) -> None:
    """Top slings of a spreader by the balance of each end of the beam."""
    states, top = at.states, at.study.hanging.gear.top_sling
    if states.top_tension_kN is None or top is None:
        return
    c.step("W_e", "weight of the beam", "phi_2 * m_e * g", "kN", "hoist factor included")
    for axis, way in (("x", "along the load"), ("z", "square to it")):
        c.step(f"b_{axis}", f"unit vector of the beam, end 1 to end 2, {way}",
               f"(A_2{axis} - A_1{axis}) / B_b", ".5", "geometry")  # fmt: skip
    offset = at.study.hanging.gear.hook_offset_m
    source = "geometry" if offset else f"proof: as stated, {top.length_m:g} m"
    for i in (1, 2):
        what = f"top sling {i}, beam's end to the place found of the hook"
        c.step(f"l_T{i}", what, f"sqrt((K_x - A_{i}x) ** 2 + (K_z - A_{i}z) ** 2)", "m.4", source,
               value=None if offset else top.length_m)  # fmt: skip
        for axis, way in (("x", "along the load"), ("z", "square to it")):
            what = f"unit vector of top sling {i}, beam to hook, {way}"
            c.step(f"j_{i}{axis}", what, f"(K_{axis} - A_{i}{axis}) / l_T{i}", ".5", "geometry")
        pull_x, pull_z = (f"(S_{i} * u_{i}{a} + W_e / 2 * p_{a})" for a in "xz")
        c.step(f"S_t{i}", f"tension in top sling {i}",
               f"({pull_x} * b_z - {pull_z} * b_x) / (j_{i}x * b_z - j_{i}z * b_x)", "kN",
               f"forces square to the beam at end {i}, with half the beam's weight",
               value=at.study.factor * float(states.top_tension_kN[at.place, i - 1]),
               tolerance=1e-5)  # fmt: skip
        c.step(f"theta_t{i}", f"angle of top sling {i} from the horizontal",
               f"asin(j_{i}x * p_x + j_{i}z * p_z)", "°",
               "scalar product of unit vectors")  # fmt: skip


def beam_steps(c: Calculation, setup: Setup, at: Attitude) -> None:
    """Place of rest, bottom slings, ends of the beam, top slings; roll and tilt."""
    weight_steps(c, setup, at.study)
    place_steps(c, setup, at)
    _given_places(c, setup, at)
    _bottom(c, at)
    _top(c, at)
    pairs = len(at.study.lugs_m) == 4
    line = "beam's line: pairs of slings" if pairs else "line of the two lifting points"
    c.step("z_r", "line that the load rolls about, above its lifting points",
           "(A_1z + A_2z) / 2" if pairs else "0", "m.4", line)  # fmt: skip
    c.step("psi_r", "roll of the load across the beam", "-atan2(G_y, d_G + z_r)", "°",
           "centre of gravity below that line")  # fmt: skip
    c.step("tau_l", "tilt of the load", "acos(cos(lambda_l) * cos(psi_r))", "°",
           "angle between the load's z and the plumb line")  # fmt: skip
