"""The working: each formula with its numbers, result and source, for the governing step.

Contents: :func:`lift_rows`, and of its parts :func:`gross_rows`, :func:`capacity_rows`,
:func:`wind_rows`, :func:`rigging_rows`; :func:`reaction_rows` and :func:`ground_rows`, for the
ground pressure sheet, stand in modules of their own.

Rows are plain text for a checker with a pocket calculator. The numbers shown are rounded; the
result beside them is the one the package used. Nothing is calculated here that is not calculated
elsewhere: moments come from :mod:`liftcalc.reactions.moments`, the rest from the studies.
"""

import dataclasses
from collections.abc import Iterator

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
from liftcalc.lift.working_rigging import tension_rows
from liftcalc.lift.working_row import WorkingRow, working_row
from liftcalc.reactions.moments import line_moments

Rows = Iterator[WorkingRow]


def gross_rows(setup: Setup) -> Rows:
    """Gross load, item by item."""
    gross, load, hoist = setup.gross, setup.lift.load, setup.hoist
    block = setup.machine.hook_block(setup.lift.hook_block)
    kg_m = setup.machine.rope_mass_kg_m(block)
    yield working_row(
        "Hoist rope below the boom head, at its longest on the path",
        "falls × length × mass of one fall",
        f"{block.falls} × {setup.rope_length_m:.2f} m × {kg_m:.2f} kg/m",
        f"{gross.rope_t:.3f} t",
        "machine data"
        if block.rope_kg_m is not None
        else "rope not stated: 0.4 kg/m for each tonne of pull of one fall, our own allowance",
    )
    for one in setup.lift.deductions:
        yield working_row(
            f"Deduction: {one.name}", "mass at the hook", "–", f"{one.mass_t:.3f} t", one.reference
        )
    if not setup.lift.deductions:
        yield working_row(
            "Deductions of the manufacturer's chart",
            "mass at the hook",
            "none stated: no auxiliary block hung, no jib stowed or erected",
            "0.000 t",
            "lift list",
        )
    yield working_row(
        "Gross load",
        "Q = m (1 + c) + rigging + hook block + rope + deductions",
        f"{load.mass_t:.2f} × (1 + {load.contingency_percent:g} %) + {gross.rigging_t:.3f} + "
        f"{gross.hook_block_t:.2f} + {gross.rope_t:.3f} + {gross.other_t:.3f}",
        f"Q = {setup.gross_t:.3f} t",
        f"sum; load mass: {load.mass_basis}",
    )
    yield working_row(
        "Hoist factor",
        "φ₂ = φ₂min + β₂ v",
        f"{hoist.phi2_min:.2f} + {hoist.beta2_s_m:.2f} × {setup.machine.hoist_speed_m_s:g} "
        f"({setup.machine.hoisting_class})",
        f"φ₂ = {hoist.phi2:.3f}",
        "EN 13001-2 / ISO 8686-1 (constants second-hand from EN 1991-3)",
    )


def _path_rows(study: PathStudy) -> Rows:
    """Steps of the path, and what a finer path would change."""
    path = study.path
    if path.refinement:
        yield working_row(
            "Steps of the load path",
            f"{len(path)} steps: {', '.join(dict.fromkeys(path.stage))}",
            path.refinement,
            f"governing: step {study.governing_step}",
            "step halving",
        )


def _geometry_rows(setup: Setup, study: PathStudy) -> Rows:
    """Boom angle and head height at the governing step."""
    k, foot, boom = study.governing_step, setup.machine.boom, setup.boom
    angle = study.boom.angle_deg[k]
    yield working_row(
        "Boom angle",
        "cos α = (r − foot) / L",
        f"({study.path.radius_m[k]:.2f} − ({foot.foot_u_m:.2f})) / {boom.length_m:.2f}",
        f"α = {angle:.2f}°",
        "plane trigonometry, straight boom",
    )
    yield working_row(
        "Boom head height",
        "z = foot + L sin α",
        f"{foot.foot_z_m:.2f} + {boom.length_m:.2f} × sin {angle:.2f}°",
        f"z = {study.boom.head_z_m[k]:.2f} m",
        "plane trigonometry",
    )
    yield working_row(
        "Boom's centre of gravity",
        "u = foot + x cos α",
        f"{foot.foot_u_m:.2f} + {boom.cg_from_foot_m:.2f} × cos {angle:.2f}°",
        f"u = {study.boom.u_m[k]:.3f} m",
        "plane trigonometry",
    )


def _boom_at(study: PathStudy, step: int) -> BoomState:
    """The boom at one step, its arrays of shape (1,)."""
    each = ("radius_m", "u_m", "z_m", "head_z_m", "angle_deg")
    one = {name: getattr(study.boom, name)[step : step + 1] for name in each}
    return dataclasses.replace(study.boom, **one)


def _stability_rows(setup: Setup, study: PathStudy) -> Rows:
    """Moments about the governing tipping line, tipping load and the rule, at that step."""
    k, base, m = study.governing_step, setup.base, setup.masses
    slew, boom = study.path.slew_deg[k : k + 1], _boom_at(study, k)
    adverse = adverse_terms(setup, wind=False, dynamic=False)
    level = tipping_load(slew, boom, base=base, masses=m, layout="pairs", adverse=adverse)
    line = int(level.line[0])
    if line < 0:
        yield working_row("Tipping load", "load inside every tipping line", "–", "no limit")
        return
    moments = line_moments(
        slew, boom, base=base, masses=m, load_t=setup.gross_t, layout="pairs", adverse=adverse
    )
    holding, arm = moments.fixed_moment_kNm[0, line] / G_M_S2, moments.load_arm_m[0, line]
    yield from _moment_rows(setup, boom, float(np.radians(slew[0])), line, holding, arm)
    tipping = level.tipping_t[0]
    yield working_row(
        "Tipping load", "T = N / a", f"{holding:.2f} / {arm:.3f}", f"T = {tipping:.2f} t"
    )
    by_test_load = setup.machine.stability_rule == "test_load"
    yield working_row(
        "Load by the test-load rule" if by_test_load else "Load by the share of the tipping load",
        "P = (T − 0.1 F) / 1.25, F = m x / L" if by_test_load else "P = f T",
        f"({tipping:.2f} − 0.1 × {boom.head_mass_t:.3f}) / 1.25"
        if by_test_load
        else f"{setup.machine.tipping_fraction:g} × {tipping:.2f}",
        f"P = {study.stability_t[k]:.2f} t",
        "ISO 4305 (from memory)" if by_test_load else "ASME B30.5 / SAE J765 (second-hand)",
    )


def _moment_rows(
    setup: Setup, boom: BoomState, slew_rad: float, line: int, holding_tm: float, arm_m: float
) -> Rows:
    """Holding moment and arm of the load about one tipping line."""
    n, d = setup.base.normals[line], float(setup.base.offsets_m[line])
    name, m = setup.base.line_names[line], setup.masses
    s = float(n @ [np.cos(slew_rad), np.sin(slew_rad)])
    t = float(np.tan(np.radians(setup.tilt_any_deg)))
    masses = (
        (m.carrier_mass_t, float(n @ [m.carrier_x_m, m.carrier_y_m]) - d, m.carrier_z_m),
        (m.slewing_mass_t, s * m.slewing_u_m - d, m.slewing_z_m),
        (boom.mass_t, s * float(boom.u_m[0]) - d, float(boom.z_m[0])),
    )
    yield working_row(
        f"Holding moment about {name}",
        "N = Σ mᵢ (aᵢ − hᵢ t)",
        " + ".join(f"{mass:.2f} × ({a:.3f} − {h:.2f} × {t:.4g})" for mass, a, h in masses),
        f"N = {holding_tm:.2f} tm",
        "moments: carrier, superstructure with counterweight, boom; t: out of level",
    )
    yield working_row(
        f"Arm of the load beyond {name}",
        "a = d − s r + h t",
        f"{d:.3f} − ({s:.4f}) × {boom.radius_m[0]:.3f} + {boom.head_z_m[0]:.2f} × {t:.4g}",
        f"a = {arm_m:.3f} m",
        "plane geometry; t: out of level, which moves the head",
    )


def _chart_rows(setup: Setup, study: PathStudy, source: str) -> Rows:
    """Why a chart holds on this base at the governing step."""
    k, result = study.governing_step, study.capacity
    chart = int(result.chart[k])
    if result.source[k] == CONFIRMED:
        yield working_row(
            f"Chart {setup.tables[chart].chart_id} on this base",
            "min(chart carried over, confirmed by the manufacturer)",
            study.path.describe(k),
            f"{result.capacity_t[k]:.2f} t",
            confirmation_words(setup, result, k).removeprefix("; "),
        )
    elif chart >= 0 and np.isfinite(result.margin_m[k]):
        table = setup.tables[chart]
        rated = rated_capacity_t(
            table,
            setup.boom.length_m,
            radius_m=result.radius_m[k],
            interpolation="linear" if setup.machine.interpolation_allowed else "none",
        )
        test_load = rule_test_load_t(
            rated,
            study.boom.head_mass_t,
            rule="test_load" if table.rule == "unknown" else table.rule,
            tipping_fraction=table.tipping_fraction,
        )
        yield working_row(
            f"Chart {table.chart_id} on this base",
            "test-load resultant no nearer to a tipping line than on the chart's base",
            f"test load {test_load:.2f} t: here {result.margin_m[k]:.3f} m inside, "
            f"on the chart's base {result.required_margin_m[k]:.3f} m",
            source,
            "resultant of all weights; or chart's base inside this base",
        )


def capacity_rows(setup: Setup, study: PathStudy) -> Rows:
    """Why the chart holds on this base at the governing step, and the share used."""
    k, result = study.governing_step, study.capacity
    source, capped = SOURCES[int(result.source[k])], result.capped_by[k]
    if capped >= 0:
        source += f"; no more than {result.chart_ids[capped]}, whose base contains this"
    yield from _chart_rows(setup, study, source)
    capacity = result.capacity_t[k]
    rated = np.isfinite(capacity)
    yield working_row(
        "Capacity used",
        "Q / capacity",
        f"{setup.gross_t:.3f} / {capacity:.2f}" if rated else "not rated",
        f"{100 * study.utilisation[k]:.1f} %" if rated else "–",
        f"{source}; {study.path.describe(k)}",
    )


def wind_rows(setup: Setup, study: PathStudy) -> Rows:
    """Gust at the boom head, permissible wind for the load, wind on the boom."""
    load, machine = setup.lift.load, setup.machine
    reference = machine.standard_sail_area_m2_t * machine.standard_drag_coefficient
    highest = float(study.boom.head_z_m.max())
    if setup.lift.wind_basis == "at 10 m mean":
        yield working_row(
            "Gust at the boom head",
            "v = v_m ((z / 10)^0.14 + 0.4)",
            f"{setup.lift.wind_m_s:g} × (({highest:.1f} / 10)^0.14 + 0.4)",
            f"v = {float(gust_at_head_m_s(setup, highest)):.2f} m/s",
            "EN 13001-2 / EN 13000 / FEM 5.016 (from memory)",
        )
    yield working_row(
        "Permissible wind",
        "v = v_chart √(a m / (A c)), at most v_chart"
        + (" and 20 mph with persons" if setup.lift.persons else ""),
        f"{setup.wind_limit_m_s:g} × √({reference:g} × {load.mass_t:g} / "
        f"({load.sail_area_m2:g} × {load.drag_coefficient:g}))",
        f"v = {permissible_gust_m_s(setup):.2f} m/s",
        "EN 13000 practice (from memory); 3 s gust at the boom head",
    )
    terms = wind_terms(setup, _boom_at(study, study.governing_step))
    yield working_row(
        "Wind on the boom at this step",
        "F = Σ q A c, q = v² / 1.6, at z = Σ F z / F",
        f"v {terms.gust_m_s[0]:.2f} m/s at the head, A {setup.boom.sail_area_m2:.1f} m², "
        f"c {machine.boom.drag_coefficient:g}",
        f"F = {terms.boom_force_kN[0]:.2f} kN at {terms.boom_z_m[0]:.2f} m",
        "ISO 4302 (from memory), wind square on the boom",
    )


def rigging_rows(study: RiggingStudy) -> Rows:
    """How the load hangs, the tension of the worst sling and the weakest item."""
    gear, factor, hook = study.hanging.gear, study.factor, study.hook_m - study.cg_m
    tension = float(study.tension_kN.max())
    weakest = next(i for i in study.items if i.name == study.weakest.name)
    beam = gear.beam.mass_t if gear.beam else 0.0
    yield working_row(
        "Weight on the slings",
        "W = φ₂ (m (1 + c) + gear) g",
        f"{factor:.3f} × {gear.hung_t:.3f} × {G_M_S2:.3f}"
        + (f"; beam {factor:.3f} × {beam:.3f} × {G_M_S2:.3f}" if beam else ""),
        f"W = {factor * (gear.hung_t + beam) * G_M_S2:.1f} kN",
        "sum of weights under the hook",
    )
    yield working_row(
        "Tilt of the load",
        "angle between the load's z and the line from centre of gravity to hook"
        if gear.beam is None
        else "least potential energy of load and beam",
        f"hook {hook[0]:+.3f}, {hook[1]:+.3f}, {hook[2]:+.3f} m from the centre of gravity",
        f"{study.tilt_deg:.2f}°",
        f"statics; legs {gear.lift.rigging.leg_lengths}",
    )
    yield working_row(
        "Greatest sling tension",
        "Σ T u = W; four legs: greatest possible on a rigid load",
        f"flattest sling {study.angle_from_horizontal_deg:.1f}° from the horizontal",
        f"T = {tension:.1f} kN = {tension / G_M_S2:.2f} t",
    )
    yield from tension_rows(study)
    yield working_row(
        "Weakest item",
        "F / (rating × g)",
        f"{weakest.name}: {weakest.force_kN:.1f} / ({weakest.rated_t:.2f} × {G_M_S2:.3f})",
        f"{100 * study.weakest.greatest_utilisation:.1f} %",
        f"{weakest.edition} ({weakest.owner}): {weakest.basis}",
    )


def lift_rows(setup: Setup, study: PathStudy, rigging: RiggingStudy) -> list[WorkingRow]:
    """All rows of the lift check."""
    return [
        *gross_rows(setup),
        *_path_rows(study),
        *_geometry_rows(setup, study),
        *boom_setting_rows(setup, study.path),
        *clearance_rows(setup, study.path),
        *_stability_rows(setup, study),
        *capacity_rows(setup, study),
        *wind_rows(setup, study),
        *rigging_rows(rigging),
    ]
