"""The printed calculation of how a load hangs on its sling legs or under a beam, and its tensions.

Frame of the load: that of :mod:`liftcalc.lift.gear`. The hook stands plumb over the centre of
gravity, and the tensions S along the unit vectors u from lifting point to hook carry the weight W
along the plumb line n: sum S u = W n. Four sling legs of a rigid load have one tension to spare;
the maximum of a leg is reached when one other leg hangs slack, and that state is shown.

Under a spreader or lifting beam the place of rest has no closed form: it is that of minimum potential energy, found by
search. Its points are given values; lengths of slings and beam are calculated back from them, and the sums of forces on
the load prove the equilibrium. Plane of the beam, in the load's own frame: x along the load from the middle of its
lifting points, z above them; end 1 at -x.

Source: statics.
"""

import math
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import G_M_S2
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_place import LIFT_LIST
from liftcalc.lift.gear import cg_as_stated_m
from liftcalc.lift.hanging import HangStates, load_under_beam
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.lift.setup import Setup

AXES = "xyz"


@dataclass(frozen=True)
class Attitude:
    """The load as it hangs with its centre of gravity as stated, or at one place of its error."""

    study: RiggingStudy
    at_worst: bool = False
    place: int = 0
    worst_leg: int = 0
    """Sling leg whose tension is shown at its maximum, from 0."""

    @property
    def states(self) -> HangStates:
        """States among which the place lies."""
        if not self.at_worst:
            return self.study.stated
        assert self.study.worst is not None
        return self.study.worst

    @property
    def cg_m(self) -> FloatArray:
        """Place of the centre of gravity."""
        return np.asarray(self.states.cg_m[self.place])

    @property
    def title(self) -> str:
        """Heading of what is calculated for it."""
        if not self.at_worst:
            return "How the load hangs, centre of gravity as stated"
        return "How the load hangs, worst-case centre of gravity"


def weight_steps(c: Calculation, setup: Setup, study: RiggingStudy) -> None:
    """Weight on the slings: load with contingency and all rigging below the hook, hoisted."""
    gear, beam = study.hanging.gear, study.beam
    if "m_r" not in c.symbols:
        gross_section(c, setup)
        c.section(None, "Weight on the sling legs")
    c.facts(g=G_M_S2)
    weight = f"phi_2 * (m * (1 + c / 100) + m_r{' - m_e' if beam else ''}) * g"
    source = "sum of weights below the hook" + (", without the beam" if beam else "")
    c.work("W_s", weight, source, value=study.factor * gear.hung_t * G_M_S2)


def place_steps(c: Calculation, setup: Setup, at: Attitude) -> None:
    """Where the centre of gravity is taken: as stated, or off by its error."""
    load, stated, error = setup.lift.load, cg_as_stated_m(setup.lift), at.study.hanging.error_m
    adjusted = setup.lift.rigging.leg_lengths == "adjusted"
    size, off = (load.length_m, load.width_m, load.height_m), at.cg_m - at.study.cg_m
    for k, axis in enumerate(AXES):
        taken, moved = f"G_{axis}", at.at_worst and abs(off[k]) > 1e-12
        first = f"G_0{axis}" if moved or (adjusted and axis != "z") else taken
        if axis == "z":
            c.facts(o_h=load.height_m, o_z=load.cg_z_m)
            c.work(first, "o_h / 2 + o_z", "as stated", value=stated[2])
        else:
            c.facts(f"{LIFT_LIST}, as stated", **{first: stated[k]})
        if first == taken:
            continue
        expression, source = first, "as stated"
        if moved:
            share = round(float(off[k] / error[k]), 6)
            own = getattr(load, f"cg_error_{axis}_m") is not None
            assumed = f"not stated: 5 % of the load's size, {size[k]:g} m, assumed"
            c.facts(LIFT_LIST if own else assumed, **{f"delta_{axis}": float(error[k])})
            sign, part = ("+" if share > 0 else "-"), abs(share)
            expression += f" {sign} " + (f"{part:g} * " if part != 1.0 else "") + f"delta_{axis}"
            source = f"worst of {len(at.states.cg_m)} places that fill the error"
        c.work(taken, expression, source, value=at.cg_m[k])


def _points(study: RiggingStudy) -> list[tuple[str, str, str]]:
    """Each lifting point's coordinates taken off, as expressions of spacings and height."""
    points = []
    for x, y, _ in study.lugs_m:
        along, across = (
            "" if not v else f" - {what} / 2" if v > 0 else f" + {what} / 2" for v, what in ((x, "B_x"), (y, "B_y"))
        )
        points.append((along, across, " - z_p"))
    return points


def _leg_steps(c: Calculation, setup: Setup, at: Attitude) -> None:
    study, choice = at.study, setup.lift.rigging
    n = len(study.lugs_m)
    if n > 1:
        c.facts(B_x=choice.point_spacing_x_m)
    if n > 2:
        c.facts(B_y=choice.point_spacing_y_m)
    c.facts(z_p=choice.point_height_m)
    source = "sling, accessories' data"
    if choice.leg_length_m is not None:
        source = f"{LIFT_LIST}: length in the hitch"
    elif choice.hitch == "basket":
        source += ": half its length in a basket hitch"
    if choice.leg_lengths == "adjusted" and n > 1:
        source += "; adjusted so that the hook stands over the stated centre of gravity"
    for i, length in enumerate(study.hanging.gear.leg_lengths_m):
        c.facts(source, l_of=length, of=i + 1)


def _in_line(c: Calculation) -> list[tuple[str, str, str]]:
    """Hook of one sling leg."""
    c.steps("d_G_slings")
    source = "in line with centre of gravity and lifting point"
    up = ("z", "z_p + l_1 * (z_p - G_z) / d_G", source)
    return [*((a, f"-l_1 * G_{a} / d_G", source) for a in "xy"), up]


def _over_two(c: Calculation) -> list[tuple[str, str, str]]:
    """Hook of two sling legs, in one plane with the lifting points and the centre of gravity."""
    c.steps("K_0 K_h d_G_slings_2")
    source = "hook, lifting points and centre of gravity in one plane"
    return [("x", "K_0", source), ("y", "-K_h * G_y / d_G", source), ("z", "z_p + K_h * (z_p - G_z) / d_G", source)]


def _hook_steps(c: Calculation, setup: Setup, at: Attitude) -> None:
    """The hook in the load's frame."""
    n, hook, points = len(at.study.lugs_m), at.states.hook_m[at.place], _points(at.study)
    triangle = "right triangle over lifting point 1"
    if n == 1:
        rows = _in_line(c)
    elif n == 2:
        rows = _over_two(c)
    elif setup.lift.rigging.leg_lengths == "adjusted":
        source = "sling legs adjusted to the stated centre of gravity"
        aside = f"(K_x{points[0][0]}) ** 2 - (K_y{points[0][1]}) ** 2"
        rows = [(a, f"G_0{a}", source) for a in "xy"]
        rows.append(("z", f"z_p + sqrt(l_1 ** 2 - {aside})", triangle))
    elif n == 3:
        rows = [
            ("x", "-(B_y / 2) ** 2 / (2 * B_x)", "as far from point 1 as from points 2 and 3"),
            ("y", "0", "symmetry"),
            ("z", "z_p + sqrt(l_1 ** 2 - (K_x - B_x / 2) ** 2)", triangle),
        ]
    else:
        rows = [(a, "0", "sling legs of equal length") for a in "xy"]
        aside = "(B_x / 2) ** 2 - (B_y / 2) ** 2"
        rows.append(("z", f"z_p + sqrt(l_1 ** 2 - {aside})", triangle))
    for axis, expression, source in rows:
        c.work(f"K_{axis}", expression, source, value=hook[AXES.index(axis)])
    for i, point in enumerate(points):
        directions = at.states.leg_direction[at.place, i]
        for axis, off, u in zip(AXES, point, directions, strict=True):
            along = f"(K_{axis}{off})" if off else f"K_{axis}"
            c.work(f"u_leg_{axis}", f"{along} / l_{i + 1}", value=u, of=i + 1)


def tilt_steps(c: Calculation) -> None:
    """Tilt of a load on sling legs gathered in the hook."""
    c.work("tau_l", "atan2(sqrt(p_x ** 2 + p_y ** 2), p_z)")


def _bearing(at: Attitude) -> list[int]:
    """Sling legs that bear when the worst leg carries most: three of four, else all."""
    u, plumb = at.states.leg_direction[at.place], at.states.plumb[at.place]
    if len(u) < 4:
        return list(range(len(u)))
    best, bearing = -1.0, list(range(3))
    for slack in range(4):
        three = [i for i in range(4) if i != slack]
        if slack == at.worst_leg or abs(np.linalg.det(u[three])) < 1e-9:
            continue
        share = np.linalg.solve(u[three].T, plumb)
        if share.min() >= -1e-9 and share[three.index(at.worst_leg)] > best:
            best, bearing = float(share[three.index(at.worst_leg)]), three
    return bearing


def _determinant(a: str, b: str, c: str) -> str:
    return (
        f"{a}x * ({b}y * {c}z - {b}z * {c}y) - {a}y * ({b}x * {c}z - {b}z * {c}x) + {a}z * ({b}x * {c}y - {b}y * {c}x)"
    )


def _tension_steps(c: Calculation, at: Attitude) -> None:
    """Tension of each bearing leg, and the sums that prove them."""
    bearing, factor = _bearing(at), at.study.factor
    greatest = factor * at.states.leg_tension_kN[at.place]

    def tension(i: int, expression: str, source: str) -> None:
        exact = None if len(greatest) == 4 and i != at.worst_leg else float(greatest[i])
        c.work("S_of_slings", expression, source, value=exact, of=i + 1)

    if len(bearing) == 1:
        tension(0, "W_s", "in line with the plumb line")
    elif len(bearing) == 2:
        c.steps("theta_of", of=1)
        c.steps("theta_of", of=2)
        c.steps("k_12")
        for one, other in ((1, 2), (2, 1)):
            along = "W_s * (sin(theta_{}) - k_12 * sin(theta_{})) / (1 - k_12 ** 2)"
            tension(one - 1, along.format(one, other), "Σ S u = W n in the plane of both")
    else:
        names = [f"u_{i + 1}" for i in bearing]
        slack = next((i for i in range(4) if i not in bearing), None)
        source = "Σ S u = W n, by determinants"
        if len(greatest) == 4 and slack is not None:
            source += f"; sling leg {slack + 1} slack: worst case for sling leg {at.worst_leg + 1}"
        c.work("D_u", _determinant(*names), source)
        for k, i in enumerate(bearing):
            others = [*names[:k], "p_", *names[k + 1 :]]
            c.work("D_of", _determinant(*others), of=i + 1)
        for i in bearing:
            tension(i, f"W_s * D_{i + 1} / D_u", source)
    for axis in AXES:
        total = " + ".join(f"S_{i + 1} * u_{i + 1}{axis}" for i in bearing)
        c.work(f"E_{axis}", f"{total} - W_s * p_{axis}")


def bridle_steps(c: Calculation, setup: Setup, at: Attitude, *, forces: bool) -> None:
    """Hook and plumb line of a load on sling legs gathered in the hook, and their tensions."""
    if forces:
        weight_steps(c, setup, at.study)
    place_steps(c, setup, at)
    _leg_steps(c, setup, at)
    _hook_steps(c, setup, at)
    c.steps("l_G")
    source = "the hook stands plumb over the centre of gravity"
    for axis, up in zip(AXES, at.states.plumb[at.place], strict=True):
        c.work(f"p_{axis}", f"(K_{axis} - G_{axis}) / l_G", source, value=up)
    if forces:
        _tension_steps(c, at)


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
