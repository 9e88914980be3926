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


def turned(c: Calculation, key: str, expression: str, slew_deg: float) -> None:
    """A slew angle from 0 to 360 degrees, by an expression that may be whole turns off it."""
    shown = slew_deg % 360.0
    expression += _whole_turns(shown - c.probe(expression))
    c.work(key, expression, PLANE, value=shown)


def _whole_turns(angle_deg: float) -> str:
    """What to add to an angle that is so far off; nothing where it is less than half a turn."""
    turns = round(angle_deg / 360.0)
    return f" {'+' if turns > 0 else '-'} {360 * abs(turns)}" if turns else ""


def position_rows(c: Calculation, at: Stand | StandPlace, source: str) -> None:
    c.facts(source, E_0=at.easting_m, N_0=at.northing_m, H=at.heading_deg)


def end_rows(c: Calculation, n: int, place: Place, slew_deg: float, radius_m: float | None = None) -> None:
    """Slew and radius of pick (1) or set-down (2) from its coordinates."""
    c.facts(**{f"E_{n}": place.easting_m, f"N_{n}": place.northing_m})
    turned(c, f"s_{n}", f"atan2(N_{n} - N_0, E_{n} - E_0) - H", slew_deg)
    c.work(f"r_{n}", value=radius_m)


def place_section(c: Calculation, setup: Setup, path: LoadPath) -> None:
    """Slew and radius of pick and set-down from their coordinates, and the steps between."""
    lift, stand = setup.lift, setup.lift.stand
    c.section(None, "Crane position and load path")
    position_rows(c, stand, LIFT_LIST)
    for n, place, k in ((1, lift.pick, 0), (2, lift.set_down, -1)):
        end_rows(c, n, place, float(path.slew_deg[k]), float(path.radius_m[k]))
    if not lift.via:
        c.steps("r_c", r_c=float(path.radius_m.min()))
        turn = float(path.slew_deg[-1] - path.slew_deg[0])
        more = _whole_turns(turn - c.probe("s_2 - s_1"))
        c.work("D_s", f"s_2 - s_1{more}", f"load path: {lift.slew_way}", value=turn)
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
    if end > start and abs((step - start) / (end - start) - covered) < 1e-9:
        c.facts(j=step - start, n_p=end - start)
        c.steps("q", q=covered)
    else:
        c.facts(q=covered)
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
    turned(c, "s", s_of, slew)
    c.work("r", r_of, value=radius)


def _between_waypoints(c: Calculation, path: LoadPath, step: int) -> None:
    start, end = _share_covered(c, path, step)
    slews, radii = path.slew_deg.tolist(), path.radius_m.tolist()
    c.facts(s_A=slews[start], r_A=radii[start], s_B=slews[end], r_B=radii[end])
    turned(c, "s", "s_A + (s_B - s_A) * q", slews[step])
    c.work("r", "r_A + (r_B - r_A) * q", value=radii[step])


def masses_rows(c: Calculation, setup: Setup) -> None:
    """Carrier, and superstructure with its counterweight: masses and centres of gravity."""
    machine, carrier, upper = setup.machine, setup.machine.carrier, setup.machine.superstructure
    weight = machine.counterweight(setup.lift.counterweight)
    if c.value("m_s") is not None:
        return
    c.facts(m_c=carrier.mass_t, x_c=carrier.cg_x_m, y_c=carrier.cg_y_m, z_c=carrier.cg_z_m)
    c.facts(m_u=upper.mass_t, u_u=upper.cg_u_m, z_u=upper.cg_z_m)
    c.facts(m_k=weight.mass_t, detail=weight.id)
    c.facts(u_k=weight.cg_u_m, z_k=weight.cg_z_m)
    m = setup.masses
    c.steps("m_s u_s z_s", m_s=m.slewing_mass_t, u_s=m.slewing_u_m, z_s=m.slewing_z_m)


def boom_rows(c: Calculation, setup: Setup) -> None:
    """Angle of the straight boom at the radius in reach, its centre of gravity and its head."""
    foot, boom = setup.machine.boom, setup.boom
    c.facts(L=boom.length_m, u_f=foot.foot_u_m, z_f=foot.foot_z_m, m_B=boom.mass_t)
    c.facts(x_B=boom.cg_from_foot_m)
    c.steps("alpha u_B z_B h_h")


def level_row(c: Calculation, setup: Setup, path: LoadPath, step: int) -> None:
    """Level of the load's underside at one step."""
    c.facts(Z_0=setup.lift.stand.level_m)
    c.facts(level_source(setup, path, step), Z=float(path.level_m[step]))


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
