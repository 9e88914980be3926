"""The printed calculation of how a load hangs under a spreader or lifting beam, and of its forces.

The place of rest has no closed form: it is that of minimum potential energy, found by search. Its
points are given values; lengths of slings and beam are calculated back from them, and the sums of
forces on the load prove the equilibrium. Plane of the beam, in the load's own frame: x along the
load from the middle of its lifting points, z above them; end 1 at -x.

Source: statics.
"""

import math

from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_slings import Attitude, place_steps, weight_steps
from liftcalc.lift.hanging import load_under_beam
from liftcalc.lift.setup import Setup


def _given_places(c: Calculation, setup: Setup, at: Attitude) -> None:
    """Beam ends, hook and tilt at rest; slings and beam calculated back from them."""
    study, choice = at.study, setup.lift.rigging
    gear, beam = study.hanging.gear, study.beam
    assert beam is not None
    found = load_under_beam(gear, beam, at.cg_m[None])
    c.facts(B_x=choice.point_spacing_x_m, z_p=choice.point_height_m)
    c.steps("d_G")
    (x_1, z_1), (x_2, z_2) = found.beam_1_xz_m[0], found.beam_2_xz_m[0]
    x_k, z_k = found.hook_xz_m[0]
    c.facts(A_1x=x_1, A_1z=z_1, A_2x=x_2, A_2z=z_2, K_x_found=x_k, K_z_found=z_k)
    c.facts(lambda_l=float(found.load_tilt_deg[0]))
    c.steps("p_x p_z")
    _lengths(c, setup, at)


def _lengths(c: Calculation, setup: Setup, at: Attitude) -> None:
    """What the places found must keep: lengths of slings and beam, each a proof."""
    gear, choice = at.study.hanging.gear, setup.lift.rigging
    beam, length = at.study.beam, gear.leg_length_m
    assert beam is not None
    c.facts(l_s=length)
    in_plane, drop = length, "l_s"
    if choice.sling_legs == 4:
        y = choice.point_spacing_y_m
        c.facts(B_y=y)
        drop = "sqrt(l_s ** 2 - (B_y / 2) ** 2)"
        in_plane = math.sqrt(length**2 - y**2 / 4)
    c.work("l_b", drop)
    for i, sign in ((1, "+"), (2, "-")):
        c.work("l_b_of", f"sqrt((A_{i}x {sign} B_x / 2) ** 2 + A_{i}z ** 2)", value=in_plane, of=i)
    c.work("B_b", "", f"proof: as stated, {beam.span_m:g} m, accessories' data", value=beam.span_m)


def _bottom(c: Calculation, at: Attitude) -> None:
    """Bottom slings by moments about the lifting points, and what they put on the beam's ends."""
    ends = at.states.end_kN
    assert ends is not None
    right = at.study.lugs_m[:, 0] > 0
    tensions = at.states.leg_tension_kN[at.place]
    for i, sign, other, side in ((1, "+", "-", ~right), (2, "-", "+", right)):
        c.work("u_of_x", f"(A_{i}x {sign} B_x / 2) / l_b{i}", of=i)
        c.steps("u_of_z", of=i)
        source, arm = f"moments about the lifting point at end {3 - i}", other.strip("+")
        tension = at.study.factor * float(tensions[side][0])
        moment = f"W_s * ((G_x {other} B_x / 2) * p_z + d_G * p_x)"
        c.work("S_of", f"{moment} / ({arm}B_x * u_{i}z)", source, value=tension, of=i)
    c.steps("E_x E_z")
    for i in (1, 2):
        c.steps("V_of", V_of=at.study.factor * float(ends[at.place, i - 1]), of=i)


def _top(c: Calculation, at: Attitude) -> None:
    """Top slings of a spreader by the balance of each end of the beam."""
    states, top = at.states, at.study.hanging.gear.top_sling
    if states.top_tension_kN is None or top is None:
        return
    c.steps("W_e b_x b_z")
    offset = at.study.hanging.gear.hook_offset_m
    source = "geometry" if offset else f"proof: as stated, {top.length_m:g} m"
    for i in (1, 2):
        c.work("l_T_of", "", source, value=None if offset else top.length_m, of=i)
        c.steps("j_of_x j_of_z", of=i)
        tension = at.study.factor * float(states.top_tension_kN[at.place, i - 1])
        c.work("S_t_of", value=tension, of=i, tolerance=1e-5)
        c.steps("theta_t_of", of=i)


def beam_steps(c: Calculation, setup: Setup, at: Attitude) -> None:
    """Place of rest, bottom slings, ends of the beam, top slings; roll and tilt."""
    weight_steps(c, setup, at.study)
    place_steps(c, setup, at)
    _given_places(c, setup, at)
    _bottom(c, at)
    _top(c, at)
    pairs = len(at.study.lugs_m) == 4
    line = "beam's line: pairs of slings" if pairs else "line of the two lifting points"
    c.work("z_r", "(A_1z + A_2z) / 2" if pairs else "0", line)
    c.steps("psi_r tau_l")
