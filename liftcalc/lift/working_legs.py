"""The working of the greatest leg reaction, for a checker with a pocket calculator.

The state is the one that gives the worst leg its greatest force: a step of the path with the load,
or a slew with the empty hook, wind and lean toward the side that presses it most. Weight and point
of the resultant come first, then the four reactions of a rigid plane, then the twist of the carrier
and the lifting of legs, in the order of :mod:`liftcalc.reactions.working`. The last row checks the
sum. Rows are text; the results are the package's own.

Sources: statics; :mod:`liftcalc.reactions.contact` for the carrier.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import G_M_S2
from liftcalc.lift.leg_forces import CIRCLE_SLEW_DEG, LegForces, weight_on_base
from liftcalc.lift.leg_springs import ON_GROUND
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.wind_checks import wind_terms
from liftcalc.lift.working_row import WorkingRow, two_decimals, working_row
from liftcalc.reactions.carrier import reactions_on
from liftcalc.reactions.working import LegWorking, leg_working


@dataclass(frozen=True)
class _State:
    """The state whose reactions are shown, and how it presses the worst leg most."""

    leg: int
    loaded: bool
    slew_deg: float
    radius_m: float
    load_t: float
    total_t: float
    where: str
    vertical_kN: FloatArray
    centre_m: FloatArray
    """Where the resultant meets the base without wind and lean, shape (1, 2)."""
    shift_m: FloatArray
    """How far wind and lean move it, shape (1,)."""


@dataclass(frozen=True)
class _WorstSide:
    """The side toward which wind and lean press a leg most, and its reactions step by step."""

    direction_deg: float
    """In the machine frame."""
    carrier: str
    working: LegWorking


def _state(setup: Setup, forces: LegForces) -> _State:
    leg, m = int(np.argmax(forces.design_kN)), setup.masses
    loaded = bool(forces.on_path.max_kN[leg] >= forces.empty.max_kN[leg])
    state = int((forces.on_path if loaded else forces.empty).max_state[leg])
    if loaded:
        slew, radius = forces.path.slew_deg[state], forces.path.radius_m[state]
        load, where = float(setup.gross.dynamic_gross_t), forces.path.describe(state)
    else:
        slew, radius = CIRCLE_SLEW_DEG[state], max(setup.boom.radius_min_m, 1e-3)
        load = setup.machine.hook_block(setup.lift.hook_block).mass_t
        where = f"empty hook, slew {slew:.1f}°, boom at its least radius {radius:.2f} m"
    total = m.carrier_mass_t + m.slewing_mass_t + setup.boom.mass_t + load
    weight = weight_on_base(setup, [slew], radius, load_t=load)
    return _State(leg, loaded, float(slew), float(radius), load, total, where, *weight)


def _worst_side(forces: LegForces, state: _State) -> _WorstSide | None:
    """None where the resultant leaves the base."""
    envelope = forces.on_path if state.loaded else forces.empty
    if not np.isfinite(envelope.max_kN[state.leg]):
        return None
    greatest, worst = -np.inf, None
    middle, width = 180.0, 180.0
    for step in (0.25, 0.0025):
        angle = np.arange(middle - width, middle + width + step / 2, step)
        a = np.radians(angle)
        resultant = state.centre_m + state.shift_m * np.stack([np.cos(a), np.sin(a)], axis=-1)
        for carrier, result in reactions_on(
            forces.supports, state.vertical_kN, resultant[:, None], stiffness_given=True
        ).items():
            reaction = result.reaction_kN[..., state.leg]
            k = int(np.argmax(reaction))
            if reaction.flat[k] > greatest:
                greatest, middle = float(reaction.flat[k]), float(angle[k // reaction.shape[1]])
                worst = _WorstSide(middle % 360.0, carrier, leg_working(result, k))
        width = step
    return worst


def _resultant_rows(setup: Setup, state: _State, side: _WorstSide) -> Iterator[WorkingRow]:
    """Where the resultant of all weights meets the base, axis by axis."""
    m, total = setup.masses, state.total_t
    boom = boom_states(setup.machine, setup.boom, np.array([state.radius_m]))
    u, z, head = (float(v[0]) for v in (boom.u_m, boom.z_m, boom.head_z_m))
    moment = m.slewing_mass_t * m.slewing_u_m + boom.mass_t * u + state.load_t * state.radius_m
    height = (
        m.carrier_mass_t * m.carrier_z_m
        + m.slewing_mass_t * m.slewing_z_m
        + boom.mass_t * z
        + state.load_t * head
    ) / total
    wind = wind_terms(setup, boom)
    blown = [
        (float(wind.boom_force_kN[0]), float(wind.boom_z_m[0])),
        (float(wind.superstructure_force_kN[0]), wind.superstructure_z_m),
        *([(float(wind.load_force_kN[0]), head)] if state.loaded else []),
    ]
    forces = " + ".join(f"{force:.3f} × {at:.2f}" for force, at in blown)
    shift, lean = float(state.shift_m[0]), float(np.tan(np.radians(setup.tilt_any_deg)))
    yield working_row(
        "Moment of what slews, about the slew axis",
        "U = Σ mᵢ uᵢ" + ("; load φ₂ Q at r" if state.loaded else "; hook block at r"),
        f"{m.slewing_mass_t:.2f} × ({m.slewing_u_m:.3f}) + {boom.mass_t:.2f} × ({u:.3f}) + "
        f"{state.load_t:.3f} × {state.radius_m:.3f}",
        f"U = {moment:.3f} tm",
    )
    yield working_row(
        f"Shift by wind and lean toward {side.direction_deg:.2f}° of the machine, the side "
        "that presses this leg most",
        "e = Σ F z / V" + (" + h tan τ" if lean else ""),
        f"({forces}) / {total * G_M_S2:.2f}" + (f" + {height:.3f} × {lean:.5f}" if lean else ""),
        f"e = {shift:.4f} m",
        "statics; forces from the wind working of the lift check",
    )
    slew, toward = np.radians(state.slew_deg), np.radians(side.direction_deg)
    for axis, name, function, of, carrier in (
        (0, "x", "cos", np.cos, m.carrier_x_m),
        (1, "y", "sin", np.sin, m.carrier_y_m),
    ):
        yield working_row(
            f"Resultant on the base, {name}",
            f"{name} = (m_c {name}_c + U {function} φ) / Σ m + e {function} β",
            f"({m.carrier_mass_t:.2f} × ({carrier:.3f}) + {moment:.3f} × ({of(slew):.4f})) / "
            f"{total:.3f} + {shift:.4f} × ({of(toward):.4f})",
            f"{name}_G = {state.centre_m[0, axis] + shift * of(toward):.4f} m",
        )


def _plane_rows(setup: Setup, leg: int, side: _WorstSide) -> Iterator[WorkingRow]:
    """Reactions of a rigid plane on springs."""
    legs, w = setup.machine.legs, side.working
    k, xy, sums = w.stiffness_kN_m, w.leg_xy_m, w.sums_kNm
    if side.carrier == ON_GROUND:
        springs = [
            f"{one.name}: {one.stiffness_kN_m:.0f} and "
            f"{ki * one.stiffness_kN_m / (one.stiffness_kN_m - ki):.0f}"
            for one, ki in zip(legs, k, strict=True)
        ]
        yield working_row(
            "Springs of the legs, each with the ground under its mat",
            "1/k = 1/k_leg + 1/k_ground, the ground as surveyed, half or twice as stiff",
            ", ".join(springs),
            "k = " + ", ".join(f"{ki:.0f}" for ki in k) + " kN/m",
            "elastic half space under the whole mat",
        )
    centre = [
        " + ".join(f"{ki:.0f} × ({p:.3f})" for ki, p in zip(k, along, strict=True))
        for along in xy.T
    ]
    yield working_row(
        "Centre of stiffness of the legs",
        "x_c = Σ k x / Σ k, y_c = Σ k y / Σ k",
        f"x: ({centre[0]}) / {k.sum():.0f}; y: ({centre[1]}) / {k.sum():.0f}",
        f"x_c = {w.centre_xy_m[0]:.4f} m, y_c = {w.centre_xy_m[1]:.4f} m",
    )
    places = [f"{one.name} ({x:.3f}, {y:.3f}) m" for one, (x, y) in zip(legs, xy, strict=True)]
    yield working_row(
        "Stiffness against leaning",
        "S_xx = Σ k (x − x_c)², S_yy = Σ k (y − y_c)², S_xy = Σ k (x − x_c)(y − y_c)",
        f"legs {', '.join(places)}",
        f"S_xx = {sums[0]:.1f}, S_yy = {sums[1]:.1f}, S_xy = {sums[2]:.1f} kNm",
    )
    ex, ey = w.vertical_kN * (w.resultant_xy_m - w.centre_xy_m)
    sinking, a, b = 1000 * w.sinking_m, *(1000 * np.asarray(w.slopes))
    yield working_row(
        "Sinking and leaning of a rigid plane",
        "w₀ = V / Σ k; S_xx a + S_xy b = V (x_G − x_c), S_xy a + S_yy b = V (y_G − y_c)",
        f"{w.vertical_kN:.2f} / {k.sum():.0f}; right sides {ex:.2f} and {ey:.2f} kNm",
        f"w₀ = {sinking:.4f} mm, a = {a:.5f}, b = {b:.5f} mm/m",
    )
    dx, dy = xy[leg] - w.centre_xy_m
    yield working_row(
        f"Reaction of {legs[leg].name} under a rigid plane",
        "R = k (w₀ + a (x − x_c) + b (y − y_c))",
        f"{k[leg]:.0f} × ({sinking:.4f} + {a:.5f} × ({dx:.3f}) + {b:.5f} × ({dy:.3f})) / 1000",
        f"R = {w.plane_kN[leg]:.2f} kN",
    )


def _twist_rows(setup: Setup, leg: int, side: _WorstSide) -> Iterator[WorkingRow]:
    """What the twist of the carrier and the lifting of legs add."""
    w, n = side.working, side.working.pattern
    if len(n) and not side.carrier.startswith("rigid"):
        flexible = side.carrier.startswith("flexible")
        twist = setup.machine.carrier.torsional_stiffness_kNm_rad
        yield working_row(
            "Twist of the carrier",
            "t₁ = −A (M − p V y_G) / (k_t Σ n²/k + A²), A = n_FL y_FL + n_FR y_FR",
            f"n = {', '.join(f'{v:+.3f}' for v in n)}; "
            f"A = {float(n[:2] @ w.leg_xy_m[:2, 1]):.3f} m, "
            f"Σ n²/k = {1000 * float(n**2 @ (1 / w.stiffness_kN_m)):.5f} mm/kN; "
            f"M = {w.front_moment_kNm:.2f}, p V y_G = {w.twist_moment_kNm:.2f} kNm; "
            + ("k_t = 0 (flexible)" if flexible else f"k_t = {twist:g}"),
            f"t₁ = {w.twist_step_kN:.2f} kN",
            "statics of front and rear beam, each on two legs",
        )
    if len(n) and abs(w.contact_step_kN) > 1e-9:
        yield working_row(
            "Legs that would pull lift off",
            "t₂: the least further step along n that leaves no reaction below 0",
            "before: " + ", ".join(f"{v:.2f}" for v in w.bilateral_kN) + " kN",
            f"t₂ = {w.contact_step_kN:.2f} kN",
            "contact: the ground does not pull",
        )
    if len(n):
        yield working_row(
            f"Reaction of {setup.machine.legs[leg].name}",
            "R + (t₁ + t₂) n",
            f"{w.plane_kN[leg]:.2f} + ({w.twist_step_kN:.2f} + "
            f"{two_decimals(w.contact_step_kN)}) × ({n[leg]:+.3f})",
            f"R = {w.reaction_kN[leg]:.1f} kN",
            f"{side.carrier} gives the greatest",
        )
    yield working_row(
        "Check: sum of the four reactions",
        "Σ R = V",
        " + ".join(f"{v:.1f}" for v in w.reaction_kN),
        f"{w.reaction_kN.sum():.1f} kN",
    )


def _rows(setup: Setup, forces: LegForces) -> Iterator[WorkingRow]:
    m, state = setup.masses, _state(setup, forces)
    vertical, name = state.total_t * G_M_S2, setup.machine.legs[state.leg].name
    yield working_row(
        f"Vertical force on the legs, worst state of {name}",
        "V = (Σ m + φ₂ Q) g" if state.loaded else "V = Σ m g",
        f"({m.carrier_mass_t:.2f} + {m.slewing_mass_t:.2f} + {setup.boom.mass_t:.2f} + "
        f"{state.load_t:.3f}) × {G_M_S2:.5f}",
        f"V = {vertical:.2f} kN",
        f"sum of weights; {state.where}",
    )
    side = _worst_side(forces, state)
    if side is None:
        yield working_row(
            f"Worst leg {name}",
            "resultant inside the legs",
            "the resultant leaves the base",
            "no equilibrium: the machine tips",
        )
        return
    yield from _resultant_rows(setup, state, side)
    yield from _plane_rows(setup, state.leg, side)
    yield from _twist_rows(setup, state.leg, side)
    greatest = forces.design_kN[state.leg]
    yield working_row(
        f"Worst leg {name}",
        "compression-only supports, greatest of every model and side",
        f"share {100 * greatest / vertical:.0f} % of V",
        f"R = {greatest:.1f} kN",
        f"statics; {', '.join(forces.supports)}",
    )


def reaction_rows(setup: Setup, forces: LegForces) -> list[WorkingRow]:
    """Every step to the greatest reaction of the worst leg."""
    return list(_rows(setup, forces))
