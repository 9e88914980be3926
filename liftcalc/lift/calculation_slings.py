"""The printed calculation of how a load hangs on its sling legs, and of the tension in each.

Frame of the load: that of :mod:`liftcalc.lift.gear`. The hook stands plumb over the centre of
gravity, and the tensions S along the unit vectors u from lifting point to hook carry the weight W
along the plumb line n: sum S u = W n. Four sling legs of a rigid load have one tension to spare;
the maximum of a leg is reached when one other leg hangs slack, and that state is shown.

Source: statics.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import G_M_S2
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_place import LIFT_LIST
from liftcalc.lift.gear import cg_as_stated_m
from liftcalc.lift.hanging import HangStates
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.lift.setup import Setup

AXES = "xyz"
_ALONG = ("along the load", "across the load", "above its underside")
WAY = ("along the load", "across the load", "square to its underside")


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
    c.given("g", "acceleration of free fall", G_M_S2, "m/s².5", "standard value")
    c.step("W_s", "weight on the sling legs",
           f"phi_2 * (m * (1 + c / 100) + m_r{' - m_e' if beam else ''}) * g", "kN",
           "sum of weights below the hook" + (", without the beam" if beam else ""),
           value=study.factor * gear.hung_t * G_M_S2)  # fmt: skip


def place_steps(c: Calculation, setup: Setup, at: Attitude) -> None:
    """Where the centre of gravity is taken: as stated, or off by its error."""
    load, stated, error = setup.lift.load, cg_as_stated_m(setup.lift), at.study.hanging.error_m
    adjusted = setup.lift.rigging.leg_lengths == "adjusted"
    size, off = (load.length_m, load.width_m, load.height_m), at.cg_m - at.study.cg_m
    for k, axis in enumerate(AXES):
        what, taken = f"centre of gravity {_ALONG[k]}", f"G_{axis}"
        moved = at.at_worst and abs(off[k]) > 1e-12
        first = f"G_0{axis}" if moved or (adjusted and axis != "z") else taken
        meaning = f"{what}, as stated" if first != taken else f"{what}, taken here"
        if axis == "z":
            c.given("o_h", "height of the load", load.height_m, "m", LIFT_LIST)
            c.given("o_z", "centre of gravity above mid-height", load.cg_z_m, "m", LIFT_LIST)
            c.step(first, meaning, "o_h / 2 + o_z", "m", "as stated", value=stated[2])
        else:
            c.given(first, meaning, stated[k], "m", f"{LIFT_LIST}, as stated")
        if first == taken:
            continue
        expression, source = first, "as stated"
        if moved:
            share = round(float(off[k] / error[k]), 6)
            own = getattr(load, f"cg_error_{axis}_m") is not None
            c.given(
                f"delta_{axis}", f"error of the centre of gravity {WAY[k]}, either way",
                float(error[k]), "m",
                LIFT_LIST if own else f"not stated: 5 % of the load's size, {size[k]:g} m, assumed",
            )  # fmt: skip
            sign, part = ("+" if share > 0 else "-"), abs(share)
            expression += f" {sign} " + (f"{part:g} * " if part != 1.0 else "") + f"delta_{axis}"
            source = f"worst of {len(at.states.cg_m)} places that fill the error"
        c.step(taken, f"{what}, taken here", expression, "m", source, value=at.cg_m[k])


def _points(study: RiggingStudy) -> list[tuple[str, str, str]]:
    """Each lifting point's coordinates taken off, as expressions of spacings and height."""
    points = []
    for x, y, _ in study.lugs_m:
        along, across = (
            "" if not v else f" - {what} / 2" if v > 0 else f" + {what} / 2"
            for v, what in ((x, "B_x"), (y, "B_y"))
        )
        points.append((along, across, " - z_p"))
    return points


def _leg_steps(c: Calculation, setup: Setup, at: Attitude) -> None:
    study, choice = at.study, setup.lift.rigging
    n = len(study.lugs_m)
    if n > 1:
        x = choice.point_spacing_x_m
        c.given("B_x", "spacing of the lifting points along the load", x, "m", LIFT_LIST)
    if n > 2:
        y = choice.point_spacing_y_m
        c.given("B_y", "spacing of the lifting points across the load", y, "m", LIFT_LIST)
    height = choice.point_height_m
    c.given("z_p", "lifting points above the load's underside", height, "m", LIFT_LIST)
    source = "sling, accessories' data"
    if choice.leg_length_m is not None:
        source = f"{LIFT_LIST}: length in the hitch"
    elif choice.hitch == "basket":
        source += ": half its length in a basket hitch"
    if choice.leg_lengths == "adjusted" and n > 1:
        source += "; adjusted so that the hook stands over the stated centre of gravity"
    for i, length in enumerate(study.hanging.gear.leg_lengths_m):
        c.given(f"l_{i + 1}", f"length of sling leg {i + 1}", length, "m.4", source)


def _in_line(c: Calculation) -> list[tuple[str, str, str]]:
    """Hook of one sling leg."""
    depth = "sqrt(G_x ** 2 + G_y ** 2 + (z_p - G_z) ** 2)"
    c.step("d_G", "centre of gravity to lifting point", depth, "m.4", "geometry")
    source = "in line with centre of gravity and lifting point"
    up = ("z", "z_p + l_1 * (z_p - G_z) / d_G", source)
    return [*((a, f"-l_1 * G_{a} / d_G", source) for a in "xy"), up]


def _over_two(c: Calculation) -> list[tuple[str, str, str]]:
    """Hook of two sling legs, in one plane with the lifting points and the centre of gravity."""
    c.step("K_0", "hook along the line of the lifting points, from its middle",
           "(l_2 ** 2 - l_1 ** 2) / (2 * B_x)", "m.4", "two circles meet")  # fmt: skip
    c.step("K_h", "hook from the line of the lifting points",
           "sqrt(l_1 ** 2 - (B_x / 2 - K_0) ** 2)", "m.4", "right triangle")  # fmt: skip
    c.step("d_G", "centre of gravity from the line of the lifting points",
           "sqrt(G_y ** 2 + (z_p - G_z) ** 2)", "m.4", "geometry")  # fmt: skip
    source = "hook, lifting points and centre of gravity in one plane"
    return [
        ("x", "K_0", source),
        ("y", "-K_h * G_y / d_G", source),
        ("z", "z_p + K_h * (z_p - G_z) / d_G", source),
    ]


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
        k = AXES.index(axis)
        c.step(f"K_{axis}", f"hook {_ALONG[k]}", expression, "m.4", source, value=hook[k])
    for i, point in enumerate(points):
        u = at.states.leg_direction[at.place, i]
        for k, axis in enumerate(AXES):
            c.step(f"u_{i + 1}{axis}",
                   f"unit vector of sling leg {i + 1}, lifting point to hook, {WAY[k]}",
                   f"(K_{axis}{point[k]}) / l_{i + 1}" if point[k] else f"K_{axis} / l_{i + 1}",
                   ".5", "hook less lifting point, over length", value=u[k])  # fmt: skip


def tilt_steps(c: Calculation) -> None:
    """Tilt of a load on sling legs gathered in the hook."""
    c.step("tau_l", "tilt of the load", "atan2(sqrt(p_x ** 2 + p_y ** 2), p_z)", "°",
           "angle between the load's z and the plumb line")  # fmt: skip


def angle_steps(c: Calculation, leg: int) -> None:
    c.step(f"theta_{leg + 1}", f"angle of sling leg {leg + 1} from the horizontal",
           "asin(" + " + ".join(f"u_{leg + 1}{a} * p_{a}" for a in AXES) + ")", "°",
           "scalar product of unit vectors")  # fmt: skip


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
        f"{a}x * ({b}y * {c}z - {b}z * {c}y) - {a}y * ({b}x * {c}z - {b}z * {c}x) "
        f"+ {a}z * ({b}x * {c}y - {b}y * {c}x)"
    )


def _tension_steps(c: Calculation, at: Attitude) -> None:
    """Tension of each bearing leg, and the sums that prove them."""
    bearing, factor = _bearing(at), at.study.factor
    greatest = factor * at.states.leg_tension_kN[at.place]

    def tension(i: int, expression: str, source: str) -> None:
        exact = None if len(greatest) == 4 and i != at.worst_leg else float(greatest[i])
        what = f"tension in sling leg {i + 1}"
        c.step(f"S_{i + 1}", what, expression, "kN", source, value=exact)

    if len(bearing) == 1:
        tension(0, "W_s", "in line with the plumb line")
    elif len(bearing) == 2:
        angle_steps(c, 0)
        angle_steps(c, 1)
        c.step("k_12", "cosine of the angle between the two sling legs",
               " + ".join(f"u_1{a} * u_2{a}" for a in AXES), ".5", "scalar product")  # fmt: skip
        for one, other in ((1, 2), (2, 1)):
            along = "W_s * (sin(theta_{}) - k_12 * sin(theta_{})) / (1 - k_12 ** 2)"
            tension(one - 1, along.format(one, other), "Σ S u = W n in the plane of both")
    else:
        names = [f"u_{i + 1}" for i in bearing]
        slack = next((i for i in range(4) if i not in bearing), None)
        source = "Σ S u = W n, by determinants"
        if len(greatest) == 4 and slack is not None:
            source += f"; sling leg {slack + 1} slack: worst case for sling leg {at.worst_leg + 1}"
        what = "determinant of the directions of the bearing sling legs"
        c.step("D_u", what, _determinant(*names), ".6", source)
        for k, i in enumerate(bearing):
            others = [*names[:k], "p_", *names[k + 1 :]]
            c.step(f"D_{i + 1}", f"the same with the plumb line in place of sling leg {i + 1}",
                   _determinant(*others), ".6", "Cramer's rule")  # fmt: skip
        for i in bearing:
            tension(i, f"W_s * D_{i + 1} / D_u", source)
    for k, axis in enumerate(AXES):
        total = " + ".join(f"S_{i + 1} * u_{i + 1}{axis}" for i in bearing)
        c.step(f"E_{axis}", f"sum of all forces {WAY[k]}", f"{total} - W_s * p_{axis}", "kN",
               "proof of equilibrium: 0")  # fmt: skip


def bridle_steps(c: Calculation, setup: Setup, at: Attitude, *, forces: bool) -> None:
    """Hook and plumb line of a load on sling legs gathered in the hook, and their tensions."""
    if forces:
        weight_steps(c, setup, at.study)
    place_steps(c, setup, at)
    _leg_steps(c, setup, at)
    _hook_steps(c, setup, at)
    square = " + ".join(f"(K_{a} - G_{a}) ** 2" for a in AXES)
    c.step("l_G", "centre of gravity to hook", f"sqrt({square})", "m.4", "geometry")
    source = "the hook stands plumb over the centre of gravity"
    for axis, way, up in zip(AXES, WAY, at.states.plumb[at.place], strict=True):
        what, unit = f"plumb line, unit vector up, {way}", f"(K_{axis} - G_{axis}) / l_G"
        c.step(f"p_{axis}", what, unit, ".5", source, value=up)
    if forces:
        _tension_steps(c, at)
