"""The printed calculation of how two machines share one load, level and plumb and at its worst.

Source: statics, as in :mod:`liftcalc.rigging.tandem`.
"""

import itertools

from liftcalc.base.checks import Check
from liftcalc.facts.tandem import TandemLift
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST
from liftcalc.lift.tandem import TandemAssessment, share_off_t

_TOWARD = {True: "+", False: "-"}


def _given_rows(c: Calculation, tandem: TandemLift) -> None:
    """Shares level and plumb, and what may be off."""
    load = tandem.load
    c.section(None, "Shares, hooks level and lines plumb")
    c.given("m", "load mass", load.mass_t, "t", f"{LIFT_LIST}: {load.mass_basis}")
    c.given("c", "contingency, more or less", load.contingency_percent, "%", LIFT_LIST)
    each = enumerate(zip(tandem.lug_distance_m, tandem.lug_above_cg_m, strict=True), 1)
    for n, (along, above) in each:
        what = f"centre of gravity to lifting point {n}, along the load"
        c.given(f"a_{n}", what, along, "m", LIFT_LIST)
        c.given(f"h_{n}", f"lifting point {n} above the centre of gravity", above, "m", LIFT_LIST)
    source = "moments about the other lifting point"
    for n, other in ((1, 2), (2, 1)):
        what = f"share of machine {n}, level and plumb"
        c.step(f"V_{n}", what, f"m * a_{other} / (a_1 + a_2)", "t", source)
    c.section(None, "Errors")
    c.given("e_l", "error of hook level, either way", tandem.level_error_m, "m", LIFT_LIST)
    plumb = tandem.out_of_plumb_error_deg
    c.given("e_p", "error of plumb of either line, either way", plumb, "°", LIFT_LIST)
    c.given("e_g", "error of the centre of gravity along the load, either way", tandem.cg_error_m,
            "m", LIFT_LIST)  # fmt: skip
    c.step("l_a", "distance of the lifting points", "sqrt((a_1 + a_2) ** 2 + (h_2 - h_1) ** 2)",
           "m.4", "plane geometry")  # fmt: skip
    c.step("t_0", "line through the lifting points, load level", "asin((h_2 - h_1) / l_a)", "°.4",
           "plane geometry")  # fmt: skip


Corner = tuple[int, int, int, int]
"""Line that is out of plumb (1 or -1: line 2), and signs of the errors of level, plumb and centre
of gravity."""


def _share_t(tandem: TandemLift, machine: int, corner: Corner) -> float:
    turn, level, plumb, off = corner
    high = level * tandem.level_error_m
    return float(share_off_t(tandem, turn=turn, level_m=high, lean=plumb, off=off)[machine])


def _corner_steps(c: Calculation, tandem: TandemLift, machine: int, corner: Corner, share_t: float,
                  word: str) -> None:  # fmt: skip
    """Share of one machine with every error at one end of its range."""
    turn, level, plumb, off = corner
    one = 1 if turn == 1 else 2  # the line out of plumb by the stated error
    level, off = level * turn, off * turn
    c.step("t_e", "line through the lifting points, hooks off level",
           f"asin((h_2 - h_1 {_TOWARD[level > 0]} e_l) / l_a)", "°.4",
           f"hook {2 if level > 0 else 1} high")  # fmt: skip
    c.step("t_t", "tilt of the load, lifting point 2 up", "t_e - t_0", "°.4", "difference")
    toward = f"centre of gravity toward point {2 if off > 0 else 1}"
    for n, sign in ((1, "-"), (2, "")):
        moved, turned = f"a_{n} {_TOWARD[(off > 0) == (n == 1)]} e_g", "turned by the tilt"
        what = f"centre of gravity to lifting point {n}, with its error"
        c.step(f"b_{n}", what, moved, "m", toward)
        what = f"lifting point {n} from the centre of gravity, level, toward point 2"
        c.step(f"x_{n}", what, f"{sign}b_{n} * cos(t_t) - h_{n} * sin(t_t)", "m.4", turned)
        what = f"lifting point {n} above the centre of gravity, tilted"
        c.step(f"z_{n}", what, f"{sign}b_{n} * sin(t_t) + h_{n} * cos(t_t)", "m.4", turned)
    # the pull of the line out of plumb, upper end toward the other machine positive
    sign = _TOWARD[plumb > 0]
    if one == 1:
        share = f"m * x_2 / (x_2 - x_1 {sign} tan(e_p) * (z_1 - z_2))"
    else:
        share = f"-m * x_1 / (x_2 - x_1 {sign} tan(e_p) * (z_2 - z_1))"
    way = "toward" if plumb > 0 else "away from"
    source = f"moments about the centre of gravity; line {one} out of plumb {way} the other machine"
    c.step("V_e", "share of the machine whose line is out of plumb", share, "t", source)
    of_one = machine + 1 == one
    factor = f"(1 {'+' if word == 'maximum' else '-'} c / 100)"
    c.step(f"V_{machine + 1}{'max' if word == 'maximum' else 'min'}",
           f"{word} share of machine {machine + 1}",
           f"V_e * {factor}" if of_one else f"(m - V_e) * {factor}", "t",
           f"worst of {2**4} combinations of the errors", value=share_t)  # fmt: skip


def share_calculation(a: TandemAssessment, tight: Check) -> Calculation:
    """Shares of both machines: level and plumb, maximum and minimum for the stated errors.

    Parameters:
      a: TandemAssessment
      tight: Check. The row that asks for a minimum share of each line.
    """
    tandem, c = a.tandem, Calculation()
    _given_rows(c, tandem)
    ends = (1, -1)
    corners = list(itertools.product(ends, ends, ends, ends))
    for machine in (0, 1):
        each = {corner: _share_t(tandem, machine, corner) for corner in corners}
        for word, pick, shares in (("maximum", max, a.shares.max_share_t),
                                   ("minimum", min, a.shares.min_share_t)):  # fmt: skip
            corner, share = pick(corners, key=each.__getitem__), float(shares[machine])
            c.section(None, f"{word.capitalize()} share of machine {machine + 1}")
            _corner_steps(c, tandem, machine, corner, share, word)
    machine = int(a.shares.min_share_t.argmin())
    c.section(tight)
    c.step("V_lim", "share below which a line may go slack", f"0.1 * V_{machine + 1}", "t",
           tight.reference)  # fmt: skip
    c.reaches(tight, f"V_{machine + 1}min", "V_lim")
    return c


def share_calculation_rows(c: Calculation) -> list[tuple[str, ...]]:
    """Its rows as texts: section, quantity, formula, values, result, source."""
    return [
        (s["title"], r["what"], r["formula"], r["numbers"], r["result"], r["source"])
        for s in c.block()["sections"]
        for r in s["rows"]
    ]
