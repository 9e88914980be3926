"""Shares of the weight on the outriggers: backward stability unladen, and the least loaded side.

Contents: :func:`unladen_section`, :func:`side_section`.

A rigid carrier on four equal springs that cannot pull: each outrigger in contact carries
1/n + a (x - X) + b (y - Y) of the weight, where X, Y is the centre of those in contact and a, b
follow from where the weight acts.

Source: statics; :mod:`liftcalc.reactions.carrier`.
"""

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.crane.legs import LEG_NAMES, LEG_SIDE
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import MACHINE, at_step
from liftcalc.lift.calculation_stability import machine_rows, tilt_rows
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.reactions.moments import acting_point, boom_side_share, leg_shares, side_shares

_STATICS = "statics"
_SIDES = {"front": ("FL", "FR"), "rear": ("RR", "RL"), "left": ("FL", "RL"), "right": ("FR", "RR")}
"""Outriggers of each side, in the order of :func:`liftcalc.reactions.moments.side_shares`."""


def _weight_rows(c: Calculation, *, load: bool) -> None:
    """Weight and where it acts on the base, with the tilt in the worst direction."""
    mass, moment = "m_c + m_s + m_B", "m_s * u_s + m_B * u_B"
    height = "m_c * z_c + m_s * z_s + m_B * z_B"
    if load:
        mass, moment, height = f"{mass} + Q", f"{moment} + Q * r", f"{height} + Q * h_h"
    c.step("M_g", "mass on the outriggers", mass, "t", "sum")
    c.step("h_w", "height of the common centre of gravity", f"({height}) / M_g", "m", _STATICS)
    why = "corner of eight directions about every tilt"
    c.step("k_w", "shift of the weight by the tilt", "h_w * t_p / 100 / cos(180 / 8)", "m", why)
    for name, way, turn in (("x", "forward", "cos"), ("y", "left", "sin")):
        what = f"place where the weight acts, {way} of the slew centre"
        place = f"(m_c * {name}_c + ({moment}) * {turn}(s)) / M_g + k_w * {turn}(theta)"
        c.step(f"{name.upper()}_w", what, place, "m", _STATICS)


def _y(k: int) -> str:
    return f"{'' if LEG_SIDE[k] > 0 else '-'}e_{LEG_NAMES[k]}"


def _share_rows(c: Calculation, setup: Setup, shares: np.ndarray) -> None:
    """Share of the weight on each outrigger; NaN where the weight acts outside the base."""
    down = [k for k in range(4) if shares[k] > 1e-12]
    if len(down) < 3:
        c.note("Outriggers that carry", ", ".join(LEG_NAMES[k] for k in down) or "none",
               "the weight acts on or outside a tipping line", _STATICS)  # fmt: skip
        for k, name in enumerate(LEG_NAMES):
            c.given(f"f_{name}", f"share of the weight on outrigger {name}",
                    100 * float(np.nan_to_num(shares[k])), "%", _STATICS)  # fmt: skip
        return
    n, names = len(down), [LEG_NAMES[k] for k in down]
    if n == 3:
        c.note("Outriggers that carry", ", ".join(names), "the other is clear of the ground",
               "supports cannot pull")  # fmt: skip
    x = [f"x_{name}" for name in names]
    y = [_y(k) for k in down]
    c.step("X_n", "centre of the outriggers that carry, forward", f"({' + '.join(x)}) / {n}", "m",
           _STATICS)  # fmt: skip
    across = "".join(f" {'+' if LEG_SIDE[k] > 0 else '-'} e_{LEG_NAMES[k]}" for k in down)
    c.step("Y_n", "centre of the outriggers that carry, to the left",
           f"({across.removeprefix(' + ')}) / {n}", "m", _STATICS)  # fmt: skip
    dx, dy = [f"({one} - X_n)" for one in x], [f"({one} - Y_n)" for one in y]
    second = "second moment of the outriggers that carry"
    c.step("S_x", f"{second}, lengthwise", " + ".join(f"{a}**2" for a in dx), "m²", _STATICS)
    c.step("S_y", f"{second}, across", " + ".join(f"{b}**2" for b in dy), "m²", _STATICS)
    both = " + ".join(f"{a} * {b}" for a, b in zip(dx, dy, strict=True))
    c.step("S_xy", f"{second}, mixed", both, "m²", _STATICS)
    off = ("X_w - X_n", "Y_w - Y_n")
    for name, way, other, one, two in (
        ("x", "forward", "y", *off), ("y", "to the left", "x", *off[::-1]),
    ):  # fmt: skip
        slope = f"(({one}) * S_{other} - ({two}) * S_xy) / (S_x * S_y - S_xy**2)"
        c.step(f"g_{name}", f"share more for each metre {way}", slope, "1/m.6", _STATICS)
    for k, name in enumerate(LEG_NAMES):
        meaning = f"share of the weight on outrigger {name}"
        if k not in down:
            c.given(f"f_{name}", meaning, 0.0, "%", "clear of the ground")
            continue
        c.step(f"f_{name}", meaning,
               f"100 * (1 / {n} + g_x * (x_{name} - X_n) + g_y * ({_y(k)} - Y_n))", "%",
               "rigid carrier on equal springs", value=100 * float(shares[k]))  # fmt: skip


def _tilt_direction(c: Calculation, turn_deg: float) -> None:
    c.given("theta", "direction of the tilt", turn_deg, "°",
            "the worst of eight; 0° is forward, anticlockwise")  # fmt: skip


def unladen_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Share of the weight under the boom without load, the boom at its minimum radius."""
    setup = a.setup
    radius = max(setup.boom.radius_min_m, 1e-3)
    boom = boom_states(setup.machine, setup.boom, np.array([radius]))
    slews = np.arange(0.0, 360.0, 1.0)
    tilt_x, tilt_y = setup.tilts_deg().T
    back = boom_side_share(slews, boom, base=setup.base, masses=setup.masses, tilt_x_deg=tilt_x,
                           tilt_y_deg=tilt_y)  # fmt: skip
    share = 100 * np.nan_to_num(back, nan=0.0).reshape(len(slews), -1)
    k = int(np.argmax(share.min(axis=1) <= share.min() + 1e-9))
    turn = int(np.argmin(share[k]))
    slew = float(slews[k])
    c.given("r", "radius at this step", radius, "m", f"{MACHINE}: minimum radius of the boom")
    c.given("s", "slew angle at this step", slew, "°", "the worst of every whole degree")
    machine_rows(c, setup)
    tilt_rows(c, setup)
    _tilt_direction(c, 45.0 * turn)
    _weight_rows(c, load=False)
    _, x, y = acting_point(slews[k : k + 1], boom, setup.masses, tilt_x_deg=tilt_x[turn],
                           tilt_y_deg=tilt_y[turn])  # fmt: skip
    _share_rows(c, setup, leg_shares(x, y, base=setup.base)[0, 0])
    legs = setup.base.leg_xy_m
    ahead = legs @ [np.cos(np.radians(slew)), np.sin(np.radians(slew))] > 1e-9
    names = [name for name, under in zip(LEG_NAMES, ahead, strict=True) if under]
    c.step("f_B", "share of the weight on the outriggers ahead of the slew centre",
           " + ".join(f"f_{name}" for name in names), "%", "sum, in the direction of the boom",
           value=check.value, detail=", ".join(names))  # fmt: skip
    c.ends(check, "f_B", "f_min", "minimum share", "%")


def side_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Share of the weight on the least loaded side along the load path, load on the hook."""
    setup, study, path = a.setup, a.study, a.path
    tilt_x, tilt_y = setup.tilts_deg().T
    sides = 100 * np.nan_to_num(
        side_shares(path.slew_deg, study.boom, base=setup.base, masses=setup.masses,
                    load_t=setup.gross_t, tilt_x_deg=tilt_x[:, None], tilt_y_deg=tilt_y[:, None],
                    layout="pairs")
    )  # fmt: skip
    step = int(np.argmin(sides.min(axis=-1).min(axis=0)))
    turn, side = np.unravel_index(int(np.argmin(sides[:, step])), sides[:, step].shape)
    at_step(c, setup, path, step)
    machine_rows(c, setup)
    tilt_rows(c, setup)
    _tilt_direction(c, 45.0 * int(turn))
    _weight_rows(c, load=True)
    _, x, y = acting_point(path.slew_deg, study.boom, setup.masses, load_t=setup.gross_t,
                           tilt_x_deg=tilt_x[turn], tilt_y_deg=tilt_y[turn],
                           layout="pairs")  # fmt: skip
    _share_rows(c, setup, leg_shares(x[step], y[step], base=setup.base))
    name = list(_SIDES)[int(side)]
    c.step("f_S", "minimum share of the weight on one side",
           " + ".join(f"f_{leg}" for leg in _SIDES[name]), "%", "sum", value=check.value,
           detail=name)  # fmt: skip
    c.ends(check, "f_S", "f_Sm", "minimum share of a side", "%")
