"""The working: each formula with its numbers, result and source, for the governing step.

Contents: :func:`gross_rows`, :func:`geometry_rows`, :func:`stability_rows`,
:func:`capacity_rows`, :func:`wind_rows`, :func:`reaction_rows`, :func:`ground_rows`,
:func:`rigging_rows`, :func:`lift_rows`.

Rows are plain text for a checker with a pocket calculator. The numbers shown are rounded; the
result beside them is the one the package used. Nothing is calculated here that is not calculated
elsewhere: moments come from :mod:`liftcalc.reactions.moments`, the rest from the studies.
"""

from __future__ import annotations

import numpy as np

from liftcalc.base.units import G_M_S2
from liftcalc.crane.chart import rated_capacity_t
from liftcalc.crane.masses import BoomState
from liftcalc.crane.sectors import CONFIRMED, SOURCES
from liftcalc.crane.stability import rule_test_load_t, tipping_load
from liftcalc.lift.boom_setting import boom_setting_rows
from liftcalc.lift.close_path import clearance_rows
from liftcalc.lift.conditions import confirmation_words
from liftcalc.lift.path_study import PathStudy, adverse_terms
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.lift.setup import Setup
from liftcalc.lift.wind_checks import gust_at_head_m_s, permissible_gust_m_s, wind_terms
from liftcalc.lift.working_ground import ground_rows
from liftcalc.lift.working_legs import reaction_rows
from liftcalc.lift.working_rigging import tension_rows
from liftcalc.lift.working_row import WorkingRow, working_row
from liftcalc.reactions.moments import line_moments

__all__ = [
    "capacity_rows",
    "geometry_rows",
    "gross_rows",
    "lift_rows",
    "ground_rows",
    "reaction_rows",
    "rigging_rows",
    "stability_rows",
    "wind_rows",
]


def gross_rows(setup: Setup) -> list[WorkingRow]:
    """Gross load, item by item."""
    gross, load = setup.gross, setup.lift.load
    block = setup.machine.hook_block(setup.lift.hook_block)
    kg_m = setup.machine.rope_mass_kg_m(block)
    rows = [
        working_row(
            "Hoist rope below the boom head, at its longest on the path",
            "falls × length × mass of one fall",
            f"{block.falls} × {setup.rope_length_m:.2f} m × {kg_m:.2f} kg/m",
            f"{float(gross.rope_t):.3f} t",
            "machine data"
            if block.rope_kg_m is not None
            else "rope not stated: 0.4 kg/m for each tonne of pull of one fall, our own allowance",
        ),
        *(
            working_row(
                f"Deduction: {d.name}", "mass at the hook", "–", f"{d.mass_t:.3f} t", d.reference
            )
            for d in setup.lift.deductions
        ),
    ]
    if not setup.lift.deductions:
        rows.append(
            working_row(
                "Deductions of the manufacturer's chart",
                "mass at the hook",
                "none stated: no auxiliary block hung, no jib stowed or erected",
                "0.000 t",
                "lift list",
            )
        )
    return [
        *rows,
        working_row(
            "Gross load",
            "Q = m (1 + c) + rigging + hook block + rope + deductions",
            f"{load.mass_t:.2f} × (1 + {load.contingency_percent:g} %) + "
            f"{float(gross.rigging_t):.3f} + {float(gross.hook_block_t):.2f} + "
            f"{float(gross.rope_t):.3f} + {float(gross.other_t):.3f}",
            f"Q = {setup.gross_t:.3f} t",
            f"sum; load mass: {load.mass_basis}",
        ),
        working_row(
            "Hoist factor",
            "φ₂ = φ₂min + β₂ v",
            f"{setup.hoist.phi2_min:.2f} + {setup.hoist.beta2_s_m:.2f} × "
            f"{setup.machine.hoist_speed_m_s:g} ({setup.machine.hoisting_class})",
            f"φ₂ = {float(setup.hoist.phi2):.3f}",
            "EN 13001-2 / ISO 8686-1 (constants second-hand from EN 1991-3)",
        ),
    ]


def geometry_rows(setup: Setup, study: PathStudy) -> list[WorkingRow]:
    """Boom angle and head height at the governing step."""
    k, foot = study.governing_step, setup.machine.boom
    radius = study.path.radius_m[k]
    angle = float(study.boom.angle_deg[k])
    return [
        working_row(
            "Boom angle",
            "cos α = (r − foot) / L",
            f"({radius:.2f} − ({foot.foot_u_m:.2f})) / {setup.boom.length_m:.2f}",
            f"α = {angle:.2f}°",
            "plane trigonometry, straight boom",
        ),
        working_row(
            "Boom head height",
            "z = foot + L sin α",
            f"{foot.foot_z_m:.2f} + {setup.boom.length_m:.2f} × sin {angle:.2f}°",
            f"z = {float(study.boom.head_z_m[k]):.2f} m",
            "plane trigonometry",
        ),
        working_row(
            "Boom's centre of gravity",
            "u = foot + x cos α",
            f"{foot.foot_u_m:.2f} + {setup.boom.cg_from_foot_m:.2f} × cos {angle:.2f}°",
            f"u = {float(study.boom.u_m[k]):.3f} m",
            "plane trigonometry",
        ),
    ]


def path_rows(study: PathStudy) -> list[WorkingRow]:
    """Steps of the path, and what a finer path would change."""
    path = study.path
    if not path.refinement:
        return []
    return [
        working_row(
            "Steps of the load path",
            f"{len(path)} steps: {', '.join(dict.fromkeys(path.stage))}",
            path.refinement,
            f"governing: step {study.governing_step}",
            "step halving",
        )
    ]


def stability_rows(setup: Setup, study: PathStudy) -> list[WorkingRow]:
    """Moments about the governing tipping line, tipping load and the rule, at that step."""
    k = study.governing_step
    slew = study.path.slew_deg[k : k + 1]
    boom = _one(study, k)
    level = tipping_load(
        slew, boom, base=setup.base, masses=setup.masses, layout="pairs",
        adverse=adverse_terms(setup, wind=False, dynamic=False),
    )  # fmt: skip
    line = int(level.line[0])
    if line < 0:
        return [
            working_row(
                "Tipping load", "load inside every tipping line", "–", "no limit", "statics"
            )
        ]
    n, d = setup.base.normals[line], float(setup.base.offsets_m[line])
    name = setup.base.line_names[line]
    s = float(n @ [np.cos(np.radians(slew[0])), np.sin(np.radians(slew[0]))])
    m = setup.masses
    t = float(np.tan(np.radians(setup.tilt_any_deg)))
    arms = (
        (m.carrier_mass_t, float(n @ [m.carrier_x_m, m.carrier_y_m]) - d, m.carrier_z_m),
        (m.slewing_mass_t, s * m.slewing_u_m - d, m.slewing_z_m),
        (boom.mass_t, s * float(boom.u_m[0]) - d, float(boom.z_m[0])),
    )
    moments = line_moments(
        slew, boom, base=setup.base, masses=m, load_t=setup.gross_t, layout="pairs",
        adverse=adverse_terms(setup, wind=False, dynamic=False),
    )  # fmt: skip
    fixed = float(moments.fixed_moment_kNm[0, line]) / G_M_S2
    arm = float(moments.load_arm_m[0, line])
    rows = [
        working_row(
            f"Holding moment about {name}",
            "N = Σ mᵢ (aᵢ − hᵢ t)",
            " + ".join(f"{mass:.2f} × ({a:.3f} − {h:.2f} × {t:.4g})" for mass, a, h in arms),
            f"N = {fixed:.2f} tm",
            "moments: carrier, superstructure with counterweight, boom; t: out of level",
        ),
        working_row(
            f"Arm of the load beyond {name}",
            "a = d − s r + h t",
            f"{d:.3f} − ({s:.4f}) × {float(boom.radius_m[0]):.3f} + "
            f"{float(boom.head_z_m[0]):.2f} × {t:.4g}",
            f"a = {arm:.3f} m",
            "plane geometry; t: out of level, which moves the head",
        ),
        working_row(
            "Tipping load",
            "T = N / a",
            f"{fixed:.2f} / {arm:.3f}",
            f"T = {float(level.tipping_t[0]):.2f} t",
            "statics",
        ),
    ]
    stable = float(study.stability_t[k])
    if setup.machine.stability_rule == "test_load":
        rows.append(
            working_row(
                "Load by the test-load rule",
                "P = (T − 0.1 F) / 1.25, F = m x / L",
                f"({float(level.tipping_t[0]):.2f} − 0.1 × {boom.head_mass_t:.3f}) / 1.25",
                f"P = {stable:.2f} t",
                "ISO 4305 (from memory)",
            )
        )
    else:
        share = setup.machine.tipping_fraction
        rows.append(
            working_row(
                "Load by the share of the tipping load",
                "P = f T",
                f"{share:g} × {float(level.tipping_t[0]):.2f}",
                f"P = {stable:.2f} t",
                "ASME B30.5 / SAE J765",
            )
        )
    return rows


def _one(study: PathStudy, k: int) -> BoomState:
    """The boom at one step."""
    b = study.boom
    part = slice(k, k + 1)
    return BoomState(
        radius_m=b.radius_m[part],
        mass_t=b.mass_t,
        u_m=b.u_m[part],
        head_mass_t=b.head_mass_t,
        z_m=b.z_m[part],
        head_z_m=b.head_z_m[part],
        angle_deg=b.angle_deg[part],
    )


def capacity_rows(setup: Setup, study: PathStudy) -> list[WorkingRow]:
    """Why the chart holds on this base at the governing step, and the share used."""
    k, found = study.governing_step, study.capacity
    source = SOURCES[int(found.source[k])]
    if found.capped_by[k] >= 0:
        source += f"; no more than {found.chart_ids[found.capped_by[k]]}, whose base contains this"
    capacity = float(found.capacity_t[k])
    rows = []
    chart = int(found.chart[k])
    if found.source[k] == CONFIRMED:
        rows.append(
            working_row(
                f"Chart {setup.tables[chart].chart_id} on this base",
                "min(chart carried over, confirmed by the manufacturer)",
                f"{study.path.describe(k)}",
                f"{capacity:.2f} t",
                confirmation_words(setup, found, k).removeprefix("; "),
            )
        )
    elif chart >= 0 and np.isfinite(found.margin_m[k]):
        table = setup.tables[chart]
        rated = rated_capacity_t(
            table,
            setup.boom.length_m,
            radius_m=found.radius_m[k],
            interpolation="linear" if setup.machine.interpolation_allowed else "none",
        )
        test = float(
            rule_test_load_t(
                rated,
                study.boom.head_mass_t,
                rule="test_load" if table.rule == "unknown" else table.rule,
                tipping_fraction=table.tipping_fraction,
            )
        )
        rows.append(
            working_row(
                f"Chart {table.chart_id} on this base",
                "test-load resultant no nearer to a tipping line than on the chart's base",
                f"test load {test:.2f} t: here {float(found.margin_m[k]):.3f} m inside, "
                f"on the chart's base {float(found.required_margin_m[k]):.3f} m",
                source,
                "resultant of all weights; or chart's base inside this base",
            )
        )
    rows.append(
        working_row(
            "Capacity used",
            "Q / capacity",
            f"{setup.gross_t:.3f} / {capacity:.2f}" if np.isfinite(capacity) else "not rated",
            f"{100 * float(study.utilisation[k]):.1f} %" if np.isfinite(capacity) else "–",
            f"{source}; {study.path.describe(k)}",
        )
    )
    return rows


def wind_rows(setup: Setup, study: PathStudy) -> list[WorkingRow]:
    """Gust at the boom head, permissible wind for the load, wind on the boom."""
    load, machine = setup.lift.load, setup.machine
    reference = machine.standard_sail_area_m2_t * machine.standard_drag_coefficient
    k = study.governing_step
    highest = float(study.boom.head_z_m.max())
    terms = wind_terms(setup, _one(study, k))
    gust = float(gust_at_head_m_s(setup, highest))
    rows = []
    if setup.lift.wind_basis == "at 10 m mean":
        rows.append(
            working_row(
                "Gust at the boom head",
                "v = v_m ((z / 10)^0.14 + 0.4)",
                f"{setup.lift.wind_m_s:g} × (({highest:.1f} / 10)^0.14 + 0.4)",
                f"v = {gust:.2f} m/s",
                "EN 13001-2 / EN 13000 / FEM 5.016 (from memory)",
            )
        )
    return [
        *rows,
        working_row(
            "Permissible wind",
            "v = v_chart √(a m / (A c)), at most v_chart"
            + (" and 20 mph with persons" if setup.lift.persons else ""),
            f"{setup.wind_limit_m_s:g} × √({reference:g} × {load.mass_t:g} / "
            f"({load.sail_area_m2:g} × {load.drag_coefficient:g}))",
            f"v = {permissible_gust_m_s(setup):.2f} m/s",
            "EN 13000 practice (from memory); 3 s gust at the boom head",
        ),
        working_row(
            "Wind on the boom at this step",
            "F = Σ q A c, q = v² / 1.6, at z = Σ F z / F",
            f"v {float(terms.gust_m_s[0]):.2f} m/s at the head, "
            f"A {setup.boom.sail_area_m2:.1f} m², c {machine.boom.drag_coefficient:g}",
            f"F = {float(terms.boom_force_kN[0]):.2f} kN at {float(terms.boom_z_m[0]):.2f} m",
            "ISO 4302 (from memory), wind square on the boom",
        ),
    ]


def rigging_rows(setup: Setup, study: RiggingStudy) -> list[WorkingRow]:
    """How the load hangs, the tension of the worst sling and the weakest item."""
    gear = study.hanging.gear
    k = int(np.argmax(study.tension_kN))
    tension = float(study.tension_kN[k])
    weakest = next(i for i in study.items if i.name == study.weakest.name)
    hook = study.hook_m - study.cg_m
    beam = gear.beam.mass_t if gear.beam else 0.0
    return [
        working_row(
            "Weight on the slings",
            "W = φ₂ (m (1 + c) + gear) g",
            f"{study.factor:.3f} × {gear.hung_t:.3f} × {G_M_S2:.3f}"
            + (f"; beam {study.factor:.3f} × {beam:.3f} × {G_M_S2:.3f}" if beam else ""),
            f"W = {study.factor * (gear.hung_t + beam) * G_M_S2:.1f} kN",
            "sum of weights under the hook",
        ),
        working_row(
            "Tilt of the load",
            "angle between the load's z and the line from centre of gravity to hook"
            if gear.beam is None
            else "least potential energy of load and beam",
            f"hook {hook[0]:+.3f}, {hook[1]:+.3f}, {hook[2]:+.3f} m from the centre of gravity",
            f"{study.tilt_deg:.2f}°",
            f"statics; legs {gear.lift.rigging.leg_lengths}",
        ),
        working_row(
            "Greatest sling tension",
            "Σ T u = W; four legs: greatest possible on a rigid load",
            f"flattest sling {study.angle_from_horizontal_deg:.1f}° from the horizontal",
            f"T = {tension:.1f} kN = {tension / G_M_S2:.2f} t",
            "statics",
        ),
        *tension_rows(study),
        working_row(
            "Weakest item",
            "F / (rating × g)",
            f"{weakest.name}: {weakest.force_kN:.1f} / ({weakest.rated_t:.2f} × {G_M_S2:.3f})",
            f"{100 * study.weakest.greatest_utilisation:.1f} %",
            f"{weakest.edition} ({weakest.owner}): {weakest.basis}",
        ),
    ]


def lift_rows(setup: Setup, study: PathStudy, rigging: RiggingStudy) -> list[WorkingRow]:
    """All rows of the lift check."""
    return (
        gross_rows(setup)
        + path_rows(study)
        + geometry_rows(setup, study)
        + boom_setting_rows(setup, study.path)
        + clearance_rows(setup, study.path)
        + stability_rows(setup, study)
        + capacity_rows(setup, study)
        + wind_rows(setup, study)
        + rigging_rows(setup, rigging)
    )
