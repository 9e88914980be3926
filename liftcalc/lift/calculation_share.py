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
    c.facts(f"{LIFT_LIST}: {load.mass_basis}", m=load.mass_t)
    c.facts(c_share=load.contingency_percent)
    each = enumerate(zip(tandem.lug_distance_m, tandem.lug_above_cg_m, strict=True), 1)
    for n, (along, above) in each:
        c.facts(a_of=along, h_of_share=above, of=n)
    for n, other in ((1, 2), (2, 1)):
        c.work("V_of_share", f"m * a_{other} / (a_1 + a_2)", of=n)
    c.section(None, "Errors")
    c.facts(e_l=tandem.level_error_m)
    c.facts(e_p=tandem.out_of_plumb_error_deg, e_g=tandem.cg_error_m)
    c.steps("l_a t_0")


def _corner_steps(c: Calculation, machine: int, corner: tuple[int, ...], share_t: float, word: str) -> None:
    """Share of one machine with every error at one end of its range.

    *corner*: line that is out of plumb (1 or -1: line 2), and signs of the errors of level, plumb
    and centre of gravity.
    """
    turn, level, plumb, off = corner
    one = 1 if turn == 1 else 2  # the line out of plumb by the stated error
    level, off = level * turn, off * turn
    line = f"asin((h_2 - h_1 {_TOWARD[level > 0]} e_l) / l_a)"
    c.work("t_e_share", line, f"hook {2 if level > 0 else 1} high")
    c.steps("t_t")
    toward = f"centre of gravity toward point {2 if off > 0 else 1}"
    for n, sign in ((1, "-"), (2, "")):
        c.work("b_of", f"a_{n} {_TOWARD[(off > 0) == (n == 1)]} e_g", toward, of=n)
        c.work("x_of_share", f"{sign}b_{n} * cos(t_t) - h_{n} * sin(t_t)", of=n)
        c.work("z_of", f"{sign}b_{n} * sin(t_t) + h_{n} * cos(t_t)", of=n)
    # the pull of the line out of plumb, upper end toward the other machine positive
    sign = _TOWARD[plumb > 0]
    if one == 1:
        share = f"m * x_2 / (x_2 - x_1 {sign} tan(e_p) * (z_1 - z_2))"
    else:
        share = f"-m * x_1 / (x_2 - x_1 {sign} tan(e_p) * (z_2 - z_1))"
    way = "toward" if plumb > 0 else "away from"
    source = f"moments about the centre of gravity; line {one} out of plumb {way} the other machine"
    c.work("V_e", share, source)
    factor = f"(1 {'+' if word == 'maximum' else '-'} c / 100)"
    of = "V_e" if machine + 1 == one else "(m - V_e)"
    c.work(f"V_{machine + 1}{word[:3]}", f"{of} * {factor}", value=share_t)


def share_calculation(a: TandemAssessment, tight: Check) -> Calculation:
    """Shares of both machines: level and plumb, maximum and minimum for the stated errors.

    Parameters:
      a: TandemAssessment
      tight: Check. The row that asks for a minimum share of each line.
    """
    tandem, c = a.tandem, Calculation()
    _given_rows(c, tandem)
    error_m, corners = tandem.level_error_m, list(itertools.product((1, -1), repeat=4))
    both = [share_off_t(tandem, turn=turn, level_m=level * error_m, lean=lean, off=off)
            for turn, level, lean, off in corners]  # fmt: skip
    for machine in (0, 1):
        each = {corner: float(two[machine]) for corner, two in zip(corners, both, strict=True)}
        for word, pick, shares in (("maximum", max, a.shares.max_share_t), ("minimum", min, a.shares.min_share_t)):
            corner, share = pick(corners, key=each.__getitem__), float(shares[machine])
            c.section(None, f"{word.capitalize()} share of machine {machine + 1}")
            _corner_steps(c, machine, corner, share, word)
    machine = int(a.shares.min_share_t.argmin())
    c.section(tight)
    c.work("V_lim", f"0.1 * V_{machine + 1}", tight.reference)
    c.reaches(tight, f"V_{machine + 1}min", "V_lim")
    return c


def share_calculation_rows(c: Calculation) -> list[tuple[str, ...]]:
    """Its rows as texts: section, quantity, formula, values, result, source."""
    return [
        (s["title"], r["what"], r["formula"], r["numbers"], r["result"], r["source"])
        for s in c.block()["sections"]
        for r in s["rows"]
    ]
