"""The working of the greatest leg reaction, for a checker with a pocket calculator.

Contents: :func:`reaction_rows`.

The state is the one that gives the worst leg its greatest force: a step of the path with the load,
or a slew with the empty hook, wind and lean toward the side that presses it most. Weight and point
of the resultant come first, then the four reactions of a rigid plane, then the twist of the carrier
and the lifting of legs, in the order of :mod:`liftcalc.reactions.working`. The last row checks the
sum. Rows are text; the results are the package's own.

Sources: statics; :mod:`liftcalc.reactions.contact` for the carrier.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from liftcalc.base.units import G_M_S2
from liftcalc.lift.leg_forces import CIRCLE_SLEW_DEG, LegForces, weight_on_base
from liftcalc.lift.leg_springs import ON_GROUND
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.wind_checks import wind_terms
from liftcalc.lift.working_row import WorkingRow, working_row
from liftcalc.reactions.carrier import reactions_on
from liftcalc.reactions.working import LegWorking, leg_working

__all__ = ["reaction_rows"]


@dataclass(frozen=True)
class _State:
    """The state whose reactions are worked."""

    leg: int
    loaded: bool
    slew_deg: float
    radius_m: float
    load_t: float
    carrier: str
    where: str
    direction_deg: float
    """Where wind and lean act toward, in the machine frame."""
    working: LegWorking | None


def _state(setup: Setup, forces: LegForces) -> _State:
    leg = int(np.argmax(forces.design_kN))
    loaded = bool(forces.on_path.max_kN[leg] >= forces.empty.max_kN[leg])
    envelope = forces.on_path if loaded else forces.empty
    state = int(envelope.max_state[leg])
    if loaded:
        slew, radius = forces.path.slew_deg[state], forces.path.radius_m[state]
        load, where = float(setup.gross.dynamic_gross_t), forces.path.describe(state)
    else:
        slew, radius = CIRCLE_SLEW_DEG[state], max(setup.boom.radius_min_m, 1e-3)
        load = setup.machine.hook_block(setup.lift.hook_block).mass_t
        where = f"empty hook, slew {slew:.1f}°, boom at its least radius {radius:.2f} m"
    found: tuple[float, str, float, LegWorking] | None = None
    if np.isfinite(envelope.max_kN[leg]):
        vertical, at, reach = weight_on_base(setup, [slew], radius, load_t=load)
        middle, width = 180.0, 180.0
        for step in (0.25, 0.0025):
            angle = np.arange(middle - width, middle + width + step / 2, step)
            a = np.radians(angle)
            moved = at + reach * np.stack([np.cos(a), np.sin(a)], axis=-1)
            for name, result in reactions_on(
                forces.supports, vertical, moved[:, None], stiffness_given=True
            ).items():
                k = int(np.argmax(result.reaction_kN[..., leg]))
                most = float(result.reaction_kN[..., leg].flat[k])
                if found is None or most > found[0]:
                    side = float(angle[k // result.reaction_kN.shape[1]])
                    found = (most, name, side, leg_working(result, k))
            assert found is not None
            middle, width = found[2], step
    return _State(
        leg,
        loaded,
        float(slew),
        float(radius),
        load,
        found[1] if found else "",
        where,
        found[2] % 360.0 if found else 0.0,
        found[3] if found else None,
    )


def _resultant_rows(setup: Setup, state: _State) -> list[WorkingRow]:
    """Where the resultant of all weights meets the base, axis by axis."""
    m, slew = setup.masses, np.radians(state.slew_deg)
    boom = boom_states(setup.machine, setup.boom, np.array([state.radius_m]))
    u, z, head = (float(v[0]) for v in (boom.u_m, boom.z_m, boom.head_z_m))
    total = m.carrier_mass_t + m.slewing_mass_t + boom.mass_t + state.load_t
    moment = m.slewing_mass_t * m.slewing_u_m + boom.mass_t * u + state.load_t * state.radius_m
    height = (
        m.carrier_mass_t * m.carrier_z_m
        + m.slewing_mass_t * m.slewing_z_m
        + boom.mass_t * z
        + state.load_t * head
    ) / total
    wind = wind_terms(setup, boom)
    parts = [
        (float(wind.boom_force_kN[0]), float(wind.boom_z_m[0])),
        (float(wind.superstructure_force_kN[0]), wind.superstructure_z_m),
    ]
    if state.loaded:
        parts.append((float(wind.load_force_kN[0]), head))
    _, at, reach = weight_on_base(setup, [state.slew_deg], state.radius_m, load_t=state.load_t)
    lean = float(np.tan(np.radians(setup.tilt_any_deg)))
    side = np.radians(state.direction_deg)
    rows = [
        working_row(
            "Moment of what slews, about the slew axis",
            "U = Σ mᵢ uᵢ" + ("; load φ₂ Q at r" if state.loaded else "; hook block at r"),
            f"{m.slewing_mass_t:.2f} × ({m.slewing_u_m:.3f}) + {boom.mass_t:.2f} × ({u:.3f}) + "
            f"{state.load_t:.3f} × {state.radius_m:.3f}",
            f"U = {moment:.3f} tm",
        ),
        working_row(
            f"Shift by wind and lean toward {state.direction_deg:.2f}° of the machine, the side "
            "that presses this leg most",
            "e = Σ F z / V" + (" + h tan τ" if lean else ""),
            "("
            + " + ".join(f"{f:.3f} × {h:.2f}" for f, h in parts)
            + f") / {total * G_M_S2:.2f}"
            + (f" + {height:.3f} × {lean:.5f}" if lean else ""),
            f"e = {float(reach[0]):.4f} m",
            "statics; forces from the wind working of the lift check",
        ),
    ]
    for axis, name, turn, own in (
        (0, "x", np.cos(slew), np.cos(side)),
        (1, "y", np.sin(slew), np.sin(side)),
    ):
        rows.append(
            working_row(
                f"Resultant on the base, {name}",
                f"{name} = (m_c {name}_c + U {'cos' if axis == 0 else 'sin'} φ) / Σ m"
                f" + e {'cos' if axis == 0 else 'sin'} β",
                f"({m.carrier_mass_t:.2f} × ({(m.carrier_x_m, m.carrier_y_m)[axis]:.3f}) + "
                f"{moment:.3f} × ({turn:.4f})) / {total:.3f} + {float(reach[0]):.4f} × "
                f"({own:.4f})",
                f"{name}_G = {float(at[0, axis] + reach[0] * own):.4f} m",
            )
        )
    return rows


def _plane_rows(setup: Setup, state: _State, w: LegWorking) -> list[WorkingRow]:
    names = [leg.name for leg in setup.machine.legs]
    k, xy, sums = w.stiffness_kN_m, w.leg_xy_m, w.sums_kNm
    ex, ey = w.resultant_xy_m - w.centre_xy_m
    a, b = w.slopes
    d = xy[state.leg] - w.centre_xy_m
    centre = [
        " + ".join(f"{ki:.0f} × ({p:.3f})" for ki, p in zip(k, xy[:, axis], strict=True))
        for axis in (0, 1)
    ]
    legs = [leg.stiffness_kN_m for leg in setup.machine.legs]
    springs = []
    if state.carrier == ON_GROUND:
        springs = [
            working_row(
                "Springs of the legs, each with the ground under its mat",
                "1/k = 1/k_leg + 1/k_ground, the ground as surveyed, half or twice as stiff",
                ", ".join(
                    f"{name}: {leg:.0f} and {ki * leg / (leg - ki):.0f}"
                    for name, leg, ki in zip(names, legs, k, strict=True)
                ),
                "k = " + ", ".join(f"{ki:.0f}" for ki in k) + " kN/m",
                "elastic half space under the whole mat",
            )
        ]
    return [
        *springs,
        working_row(
            "Centre of stiffness of the legs",
            "x_c = Σ k x / Σ k, y_c = Σ k y / Σ k",
            f"x: ({centre[0]}) / {k.sum():.0f}; y: ({centre[1]}) / {k.sum():.0f}",
            f"x_c = {w.centre_xy_m[0]:.4f} m, y_c = {w.centre_xy_m[1]:.4f} m",
        ),
        working_row(
            "Stiffness against leaning",
            "S_xx = Σ k (x − x_c)², S_yy = Σ k (y − y_c)², S_xy = Σ k (x − x_c)(y − y_c)",
            "legs "
            + ", ".join(f"{n} ({p[0]:.3f}, {p[1]:.3f}) m" for n, p in zip(names, xy, strict=True)),
            f"S_xx = {sums[0]:.1f}, S_yy = {sums[1]:.1f}, S_xy = {sums[2]:.1f} kNm",
        ),
        working_row(
            "Sinking and leaning of a rigid plane",
            "w₀ = V / Σ k; S_xx a + S_xy b = V (x_G − x_c), S_xy a + S_yy b = V (y_G − y_c)",
            f"{w.vertical_kN:.2f} / {k.sum():.0f}; right sides {w.vertical_kN * ex:.2f} and "
            f"{w.vertical_kN * ey:.2f} kNm",
            f"w₀ = {1000 * w.sinking_m:.4f} mm, a = {1000 * a:.5f}, b = {1000 * b:.5f} mm/m",
        ),
        working_row(
            f"Reaction of {names[state.leg]} under a rigid plane",
            "R = k (w₀ + a (x − x_c) + b (y − y_c))",
            f"{k[state.leg]:.0f} × ({1000 * w.sinking_m:.4f} + {1000 * a:.5f} × ({d[0]:.3f}) + "
            f"{1000 * b:.5f} × ({d[1]:.3f})) / 1000",
            f"R = {w.plane_kN[state.leg]:.2f} kN",
        ),
    ]


def _twist_rows(setup: Setup, state: _State, w: LegWorking) -> list[WorkingRow]:
    rows = []
    name = setup.machine.legs[state.leg].name
    n = w.pattern
    if len(n) and not state.carrier.startswith("rigid"):
        twist = setup.machine.carrier.torsional_stiffness_kNm_rad
        rows.append(
            working_row(
                "Twist of the carrier",
                "t₁ = −A (M − p V y_G) / (k_t Σ n²/k + A²), A = n_FL y_FL + n_FR y_FR",
                "n = "
                + ", ".join(f"{v:+.3f}" for v in n)
                + f"; A = {float(n[:2] @ w.leg_xy_m[:2, 1]):.3f} m, "
                f"Σ n²/k = {1000 * float(n**2 @ (1 / w.stiffness_kN_m)):.5f} mm/kN; "
                f"M = {w.front_moment_kNm:.2f}, p V y_G = {w.twist_moment_kNm:.2f} kNm; "
                + (
                    "k_t = 0 (flexible)"
                    if state.carrier.startswith("flexible")
                    else f"k_t = {twist:g}"
                ),
                f"t₁ = {w.twist_step_kN:.2f} kN",
                "statics of front and rear beam, each on two legs",
            )
        )
    if len(n) and abs(w.contact_step_kN) > 1e-9:
        rows.append(
            working_row(
                "Legs that would pull lift off",
                "t₂: the least further step along n that leaves no reaction below 0",
                "before: " + ", ".join(f"{v:.2f}" for v in w.bilateral_kN) + " kN",
                f"t₂ = {w.contact_step_kN:.2f} kN",
                "contact: the ground does not pull",
            )
        )
    if len(n):
        share = float(n[state.leg])
        rows.append(
            working_row(
                f"Reaction of {name}",
                "R + (t₁ + t₂) n",
                f"{w.plane_kN[state.leg]:.2f} + ({w.twist_step_kN:.2f} + "
                f"{round(w.contact_step_kN, 2) + 0.0:.2f}) × ({share:+.3f})",
                f"R = {w.reaction_kN[state.leg]:.1f} kN",
                f"{state.carrier} gives the greatest",
            )
        )
    rows.append(
        working_row(
            "Check: sum of the four reactions",
            "Σ R = V",
            " + ".join(f"{v:.1f}" for v in w.reaction_kN),
            f"{float(w.reaction_kN.sum()):.1f} kN",
        )
    )
    return rows


def reaction_rows(setup: Setup, forces: LegForces) -> list[WorkingRow]:
    """Every step to the greatest reaction of the worst leg."""
    m, state = setup.masses, _state(setup, forces)
    total = m.carrier_mass_t + m.slewing_mass_t + setup.boom.mass_t + state.load_t
    name = setup.machine.legs[state.leg].name
    rows = [
        working_row(
            f"Vertical force on the legs, worst state of {name}",
            "V = (Σ m + φ₂ Q) g" if state.loaded else "V = Σ m g",
            f"({m.carrier_mass_t:.2f} + {m.slewing_mass_t:.2f} + {setup.boom.mass_t:.2f} + "
            f"{state.load_t:.3f}) × {G_M_S2:.5f}",
            f"V = {total * G_M_S2:.2f} kN",
            f"sum of weights; {state.where}",
        ),
    ]
    if state.working is None:
        rows.append(
            working_row(
                f"Worst leg {name}",
                "resultant inside the legs",
                "the resultant leaves the base",
                "no equilibrium: the machine tips",
            )
        )
        return rows
    share = forces.design_kN[state.leg] / (total * G_M_S2)
    rows += _resultant_rows(setup, state)
    rows += _plane_rows(setup, state, state.working)
    rows += _twist_rows(setup, state, state.working)
    rows.append(
        working_row(
            f"Worst leg {name}",
            "compression-only supports, greatest of every model and side",
            f"share {100 * share:.0f} % of V",
            f"R = {forces.design_kN[state.leg]:.1f} kN",
            f"statics; {', '.join(forces.supports)}",
        )
    )
    return rows
