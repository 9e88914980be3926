"""Where the hook is at a step of the load path, and where masses and boom are then: shared rows.

Source: plane geometry.
"""

import numpy as np

from liftcalc.facts.lift import Place, Stand
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.close_path import path_corners
from liftcalc.lift.path import STAGE_WORDS, LoadPath
from liftcalc.lift.setup import Setup
from liftcalc.placement.measure import StandPlace

LIFT_LIST = "lift list"
MACHINE = "machine data"
PLANE = "plane geometry"
STATICS = "statics"


def turned(c: Calculation, name: str, meaning: str, expression: str, slew_deg: float) -> float:
    """A slew angle from 0 to 360 degrees, by an expression that may be whole turns off it."""
    shown = slew_deg % 360.0
    probe = c.probe(expression)
    turns = round((shown - probe) / 360.0)
    if turns:
        sign = "+" if turns > 0 else "-"
        expression = f"{expression} {sign} {360 * abs(turns)}"
    return c.step(name, meaning, expression, "°", PLANE, value=shown)


def position_rows(c: Calculation, at: Stand | StandPlace, source: str) -> None:
    c.given("E_0", "easting of the slew centre", at.easting_m, "m", source)
    c.given("N_0", "northing of the slew centre", at.northing_m, "m", source)
    heading = "heading of the crane's front, anticlockwise from east"
    c.given("H", heading, at.heading_deg, "°", source)


def end_rows(c: Calculation, n: int, name: str, place: Place, slew_deg: float,
             radius_m: float | None = None) -> None:  # fmt: skip
    """Slew and radius of pick or set-down from its coordinates."""
    c.given(f"E_{n}", f"easting of the {name}", place.easting_m, "m", LIFT_LIST)
    c.given(f"N_{n}", f"northing of the {name}", place.northing_m, "m", LIFT_LIST)
    slew = f"atan2(N_{n} - N_0, E_{n} - E_0) - H"
    turned(c, f"s_{n}", f"slew angle at the {name}", slew, slew_deg)
    away = f"sqrt((E_{n} - E_0)**2 + (N_{n} - N_0)**2)"
    c.step(f"r_{n}", f"radius at the {name}", away, "m", PLANE, value=radius_m)


def place_section(c: Calculation, setup: Setup, path: LoadPath) -> None:
    """Slew and radius of pick and set-down from their coordinates, and the steps between."""
    lift, stand = setup.lift, setup.lift.stand
    c.section(None, "Crane position and load path")
    position_rows(c, stand, LIFT_LIST)
    for n, name, place, k in ((1, "pick", lift.pick, 0), (2, "set-down", lift.set_down, -1)):
        end_rows(c, n, name, place, float(path.slew_deg[k]), float(path.radius_m[k]))
    if not lift.via:
        c.step("r_c", "radius while slewing", "min(r_1, r_2)", "m",
               "load path: luffing in first, out last",
               value=float(path.radius_m.min()))  # fmt: skip
        turn = float(path.slew_deg[-1] - path.slew_deg[0])
        whole = round((turn - (c.value("s_2") or 0.0) + (c.value("s_1") or 0.0)) / 360.0)
        more = f" {'+' if whole > 0 else '-'} {360 * abs(whole)}" if whole else ""
        meaning = "angle slewed from pick to set-down, anticlockwise positive"
        c.step("D_s", meaning, f"s_2 - s_1{more}", "°", f"load path: {lift.slew_way}", value=turn)
    stages = "; ".join(dict.fromkeys(STAGE_WORDS[s] for s in path.stage))
    c.note("Steps of the load path", stages, f"{len(path)} steps", path.refinement)


def _share_covered(c: Calculation, path: LoadPath, step: int) -> tuple[int, int]:
    """Rows of the share covered of a step's part of the path; where that part begins and ends."""
    corner = path_corners(path)
    end = int(corner[np.searchsorted(corner, step)])
    start = int(corner[max(int(np.searchsorted(corner, step)) - 1, 0)])
    place = np.stack([path.slew_deg, path.radius_m, path.level_m])
    along = place[:, end] - place[:, start]
    covered = 1.0
    if end > start:
        covered = float(along @ (place[:, step] - place[:, start]) / (along @ along))
    name, meaning = "q", "share covered of this part of the path"
    if end > start and abs((step - start) / (end - start) - covered) < 1e-9:
        c.given("j", "step within this part of the path", step - start, ".0", "load path")
        c.given("n_p", "steps of this part of the path", end - start, ".0", "load path")
        c.step(name, meaning, "j / n_p", ".6", "load path", value=covered)
    else:
        c.given(name, meaning, covered, ".6", "load path")
    return start, end


def at_step(c: Calculation, setup: Setup, path: LoadPath, step: int) -> None:
    """Slew and radius at one step, from those of pick and set-down or of the waypoints."""
    slew, radius = float(path.slew_deg[step]), float(path.radius_m[step])
    if c.value("s") == slew % 360.0 and c.value("r") == radius:
        return
    stage = path.stage[step]
    at_pick = stage == "hoist" or step == 0
    if stage == "travel" and step > 0:
        _between_waypoints(c, path, step)
        return
    if at_pick or stage == "lower":
        n = 1 if at_pick else 2
        s_of, r_of = f"s_{n}", f"r_{n}"
    else:
        start, end = _share_covered(c, path, step)
        if stage == "slew":
            s_of, r_of = "s_1 + D_s * q", "r_c"
        elif path.radius_m[end] < path.radius_m[start]:
            s_of, r_of = "s_1", "r_1 + (r_c - r_1) * q"
        else:
            s_of, r_of = "s_2", "r_c + (r_2 - r_c) * q"
    turned(c, "s", "slew angle at this step", s_of, slew)
    c.step("r", "radius at this step", r_of, "m", "load path", value=radius)


def _between_waypoints(c: Calculation, path: LoadPath, step: int) -> None:
    start, end = _share_covered(c, path, step)
    for letter, k, words in (("A", start, "start"), ("B", end, "end")):
        meaning = f"at the {words} of this part of the path"
        c.given(f"s_{letter}", f"slew angle {meaning}", float(path.slew_deg[k]), "°",
                "waypoints of the lift list")  # fmt: skip
        c.given(f"r_{letter}", f"radius {meaning}", float(path.radius_m[k]), "m",
                "waypoints of the lift list")  # fmt: skip
    slew, radius = float(path.slew_deg[step]), float(path.radius_m[step])
    turned(c, "s", "slew angle at this step", "s_A + (s_B - s_A) * q", slew)
    c.step("r", "radius at this step", "r_A + (r_B - r_A) * q", "m", "load path", value=radius)


def masses_rows(c: Calculation, setup: Setup) -> None:
    """Carrier, and superstructure with its counterweight: masses and centres of gravity."""
    machine, carrier, upper = setup.machine, setup.machine.carrier, setup.machine.superstructure
    weight = machine.counterweight(setup.lift.counterweight)
    if c.value("m_s") is not None:
        return
    c.given("m_c", "mass of the carrier, outriggers included", carrier.mass_t, "t", MACHINE)
    centre = "of the carrier's centre of gravity"
    c.given("x_c", f"place {centre}, forward of the slew centre", carrier.cg_x_m, "m", MACHINE)
    c.given("y_c", f"place {centre}, left of the slew centre", carrier.cg_y_m, "m", MACHINE)
    c.given("z_c", f"height {centre}", carrier.cg_z_m, "m", MACHINE)
    for letter, name, part, id in (("u", "superstructure", upper, ""),
                                   ("k", "counterweight", weight, weight.id)):  # fmt: skip
        c.given(f"m_{letter}", f"mass of the {name}", part.mass_t, "t", MACHINE, detail=id)
        centre = f"of the {name}'s centre of gravity"
        c.given(f"u_{letter}", f"place {centre}, toward the boom", part.cg_u_m, "m", MACHINE)
        c.given(f"z_{letter}", f"height {centre}", part.cg_z_m, "m", MACHINE)
    m = setup.masses
    both, what = "of their common centre of gravity", "mass of superstructure and counterweight"
    c.step("m_s", what, "m_u + m_k", "t", "sum", value=m.slewing_mass_t)
    for axis, what, value in (("u", f"place {both}, toward the boom", m.slewing_u_m),
                              ("z", f"height {both}", m.slewing_z_m)):  # fmt: skip
        mean = f"(m_u * {axis}_u + m_k * {axis}_k) / m_s"
        c.step(f"{axis}_s", what, mean, "m", STATICS, value=value)


def boom_rows(c: Calculation, setup: Setup) -> None:
    """Angle of the straight boom at the radius in reach, its centre of gravity and its head."""
    foot, boom = setup.machine.boom, setup.boom
    c.given("L", "boom length", boom.length_m, "m", LIFT_LIST)
    c.given("u_f", "place of the boom foot, toward the boom", foot.foot_u_m, "m", MACHINE)
    c.given("z_f", "height of the boom foot", foot.foot_z_m, "m", MACHINE)
    c.given("m_B", "mass of the boom", boom.mass_t, "t", MACHINE)
    c.given("x_B", "boom foot to the boom's centre of gravity", boom.cg_from_foot_m, "m",
            f"{MACHINE}, at this boom length")  # fmt: skip
    straight = "plane trigonometry, straight boom"
    c.step("alpha", "boom angle", "acos((r - u_f) / L)", "°", straight)
    c.step("u_B", "place of the boom's centre of gravity, toward the boom",
           "u_f + x_B * cos(alpha)", "m", straight)  # fmt: skip
    c.step("z_B", "height of the boom's centre of gravity", "z_f + x_B * sin(alpha)", "m", straight)
    c.step("h_h", "height of the boom head, straight boom", "z_f + L * sin(alpha)", "m", straight)


def level_row(c: Calculation, setup: Setup, path: LoadPath, step: int) -> None:
    """Level of the load's underside at one step."""
    c.given("Z_0", "ground level at the slew centre", setup.lift.stand.level_m, "m", LIFT_LIST)
    c.given("Z", "level of the load's underside at this step", float(path.level_m[step]), "m",
            level_source(setup, path, step))  # fmt: skip


def level_source(setup: Setup, path: LoadPath, step: int) -> str:
    """Where the level of the load's underside at a step comes from."""
    lift, level = setup.lift, float(path.level_m[step])
    for name, at in (("carry level", lift.carry_level_m), ("level of the pick", lift.pick.level_m),
                     ("level of the set-down", lift.set_down.level_m)):  # fmt: skip
        if abs(level - at) < 1e-9:
            return f"{LIFT_LIST}: {name}"
    corner = path_corners(path)
    n = int(np.searchsorted(corner, step))
    ends = [float(path.level_m[corner[k]]) for k in (max(n - 1, 0), n)]
    return f"load path, between levels {ends[0]:.3f} m and {ends[1]:.3f} m"
