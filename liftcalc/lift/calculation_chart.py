"""From the rated capacity charts to the capacity at one step: which rows, which chart, and why.

Source: those of :mod:`liftcalc.crane.capacity`.
"""

from collections.abc import Iterator

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.crane.chart import ChartBase, ChartTable, Interpolation, chart_bases, rated_capacity_t, slew_in_sector
from liftcalc.crane.legs import LEG_NAMES, BasePolygon
from liftcalc.crane.sectors import CARRIED, CONFIRMED, ESTIMATE, SOURCES
from liftcalc.crane.stability import rule_test_load_t
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation, least_of, printed
from liftcalc.lift.calculation_place import LIFT_LIST, at_step
from liftcalc.lift.calculation_stability import line_rows, machine_rows, stability_rows
from liftcalc.lift.capacity_checks import rated_part_step
from liftcalc.lift.conditions import confirmation_words
from liftcalc.lift.path_study import PathStudy, interpolation_of
from liftcalc.lift.setup import Setup, boom_at
from liftcalc.reactions.moments import resultant


def rated_rows(c: Calculation, a: LiftAssessment, check: Check) -> bool:
    """Charts and capacity at the step of a check; False where no chart rates it."""
    study = a.study
    step = rated_part_step(study) if check.id == "capacity-rated-part" else study.governing_step
    at_step(c, a.setup, study.path, step)
    capacity_rows(c, a.setup, study, step)
    if check.limit is None:
        c.note(check.title, "No chart rates this step.", check.words, check.reference)
    return check.limit is not None


def capacity_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Gross load against what may be used of the rated capacity where it governs."""
    if not rated_rows(c, a, check):
        return
    share = a.setup.rules.utilisation_limit_percent
    usable_rows(c, check, 100.0 if check.status == "no_data" else share)


def usable_rows(c: Calculation, check: Check, percent: float) -> None:
    """The last rows: gross load against the share of the capacity that may be used."""
    limit = "C"
    if percent != 100.0:
        c.facts(u=percent)
        limit = "C_u"
        c.steps("C_u")
    c.reaches(check, "Q", limit)


def _extensions(table: ChartTable) -> dict[str, float]:
    return dict(zip(LEG_NAMES, np.abs(table.base.leg_xy_m[:, 1]).tolist(), strict=True))


def _neighbours(axis: np.ndarray, value: float) -> tuple[int, int] | None:
    """Rows on either side of a value, the same row twice where it is on one; None outside."""
    on = np.flatnonzero(np.abs(axis - value) <= 1e-9)
    if on.size:
        return int(on[0]), int(on[0])
    high = int(np.searchsorted(axis, value))
    return None if high in (0, axis.size) else (high - 1, high)


def _cells(table: ChartTable, length_m: float, radius_m: float) -> list[tuple[float, float, float]]:
    """Boom length, radius and rating of each row that is read; none outside the chart."""
    rows = _neighbours(table.boom_length_m, length_m)
    columns = _neighbours(table.radius_m, radius_m)
    if rows is None or columns is None:
        return []
    return [
        (float(table.boom_length_m[k]), float(table.radius_m[n]), float(table.capacity_t[k, n]))
        for k in dict.fromkeys(rows)
        for n in dict.fromkeys(columns)
    ]


def _cell_words(cells: list[tuple[float, float, float]]) -> str:
    if not cells:
        return "outside the chart"
    return "; ".join(
        f"boom {length:g} m, radius {radius:g} m: " + ("not rated" if np.isnan(t) else f"{t:g} t")
        for length, radius, t in cells
    )


def _margins(setup: Setup, study: PathStudy, step: int, table: ChartTable, rated_t: float) -> tuple[float, float]:
    """How far inside the nearest tipping line the test-load resultant lies: here, and on the base of the chart. [m]"""
    boom, slew = boom_at(study.boom, [step]), study.path.slew_deg[step : step + 1]
    test = _test_load(table, study, rated_t)
    here, there = (
        float(resultant(slew, boom, base=base, masses=setup.masses, load_t=test, layout="pairs").margin_m[0])
        for base in (setup.base, table.base)
    )
    return here, there


def _test_load(table: ChartTable, study: PathStudy, rated_t: float) -> float:
    rule = "test_load" if table.rule == "unknown" else table.rule
    return float(rule_test_load_t(rated_t, study.boom.head_mass_t, rule=rule, tipping_fraction=table.tipping_fraction))


def _candidates(setup: Setup, study: PathStudy, step: int) -> dict[int, ChartBase]:
    slew = study.path.slew_deg[step : step + 1]
    found = chart_bases(setup.tables, setup.base, slew, counterweight=setup.lift.counterweight,
                        setting_tolerance_m=setup.machine.setting_tolerance_m,
                        layout="pairs")  # fmt: skip
    return {k: one for k, one in found.items() if bool(np.all(one.covers))}


def _rated(setup: Setup, table: ChartTable, radius_m: float) -> float:
    return float(rated_capacity_t(table, setup.boom.length_m, radius_m=radius_m, interpolation=interpolation_of(setup)))


def _inside(margin_m: float) -> str:
    """How far inside, or outside, the nearest tipping line."""
    return f"{printed(abs(margin_m), 'm')} m {'inside' if margin_m >= 0 else 'outside'}"


def _outcome(setup: Setup, study: PathStudy, step: int, k: int, one: ChartBase) -> tuple[str, str]:
    """Why one chart counts at a step or drops out, in words and in short."""
    table, result = setup.tables[k], study.capacity
    rated = _rated(setup, table, float(study.path.radius_m[step]))
    if np.isnan(rated):
        return "rates nothing here", "drops out"
    words, short = [f"rated {rated:g} t"], "may be applied"
    if one.own:
        words.append("its base is this base")
        short = "holds"
    elif one.inside:
        words.append("its base lies inside this base")
        short = "holds"
    elif table.rule == "unknown":
        words.append("rule not known")
        short = "not applied"
    else:
        here, there = _margins(setup, study, step, table, rated)
        words.append(
            f"test load {printed(_test_load(table, study, rated), 't')} t: its resultant lies "
            f"{_inside(here)} this base, {_inside(there)} the base of the chart"
        )
        if not here >= max(there, 0.0) - 1e-9:
            short = "not applied"
    if one.around and not one.own:
        words.append("its base contains this base: its rating is not exceeded")
    if k == int(result.chart[step]):
        short += ", governs"
    elif k == int(result.capped_by[step]):
        short += ", limits the chart that governs"
    return "; ".join(words), short


def _candidate_notes(setup: Setup, study: PathStudy, step: int) -> Iterator[tuple[str, str, str]]:
    """What each chart says at a step: its name, what was read and why, the outcome in short."""
    radius = float(study.path.radius_m[step])
    found = _candidates(setup, study, step)
    for k, one in found.items():
        table = setup.tables[k]
        cells = _cell_words(_cells(table, setup.boom.length_m, radius))
        words, short = _outcome(setup, study, step, k, one)
        lengths = ", ".join(f"{name} {y:.2f} m" for name, y in _extensions(table).items())
        yield f"Chart {table.chart_id}", f"outriggers {lengths}; {cells}; {words}", short
    fitted = setup.lift.counterweight
    others = [t for k, t in enumerate(setup.tables) if k not in found]
    elsewhere = [t.chart_id for t in others if t.counterweight == fitted]
    other_weight = [t.chart_id for t in others if t.counterweight != fitted]
    if elsewhere:
        yield "Charts of another slew sector", ", ".join(elsewhere), "not for this slew"
    if other_weight:
        yield "Charts of another counterweight", ", ".join(other_weight), f"not for {fitted}"


def read_rows(c: Calculation, table: ChartTable, *, length_m: float, radius_m: float, how: Interpolation) -> None:
    """The rating C_r read from the rows of a chart, by the rule of the machine.

    Boom length L and radius r are in reach.
    """
    cells = _cells(table, length_m, radius_m)
    source = f"chart {table.chart_id}"
    names = []
    for n, (length, radius, rated) in enumerate(cells, 1):
        names.append(f"C_{n}")
        c.facts(f"{source}, boom {length:g} m, radius {radius:g} m", C_of=rated, of=n)
    value = float(rated_capacity_t(table, length_m, radius_m=radius_m, interpolation=how))
    if how == "none" or len(cells) == 1:
        c.work("C_r", least_of(names), "the lesser of the neighbouring rows", value=value)
        return
    lengths, radii = (list(dict.fromkeys(cell[i] for cell in cells)) for i in (0, 1))
    for axis, ends in (("L", lengths), ("r", radii)):
        if len(ends) == 2:
            c.facts(source, **{f"{axis}_a": ends[0], f"{axis}_b": ends[1]})
            c.steps(f"p_{axis}")
    rows = [names[i : i + len(radii)] for i in range(0, len(names), len(radii))]
    along = [a[0] if len(a) == 1 else f"({a[0]} + p_r * ({a[1]} - {a[0]}))" for a in rows]
    expression = along[0] if len(along) == 1 else f"{along[0]} + p_L * ({along[1]} - {along[0]})"
    c.work("C_r", expression, value=value)


def _carried_rows(c: Calculation, setup: Setup, study: PathStudy, step: int, table: ChartTable) -> None:
    """The argument by which a chart is carried over: its test-load resultant here and there."""
    machine_rows(c, setup)
    c.steps("F_B")
    if table.rule == "tipping_fraction":
        c.facts(f_t=table.tipping_fraction)
        test = "C_r / f_t"
    else:
        test = "1.25 * C_r + 0.1 * F_B"
    c.work("W_t", test)
    c.steps("M_t")
    boom, slew = boom_at(study.boom, [step]), study.path.slew_deg[step : step + 1]
    test_t = c.value("W_t") or 0.0
    bases: tuple[tuple[str, str, BasePolygon, dict[str, float], str], ...] = (
        ("e_h", "this base", setup.base, dict(setup.lift.legs), LIFT_LIST),
        ("e_c", "the base of the chart", table.base, _extensions(table), f"chart {table.chart_id}"),
    )
    for name, which, base, legs, source in bases:
        acting = resultant(slew, boom, base=base, masses=setup.masses, load_t=test_t, layout="pairs")
        line_rows(c, setup, base, int(acting.line[0]), extensions=legs, source=source, words=f"nearest line of {which}")
        c.steps(name, **{name: float(acting.margin_m[0])})
    here, there = (printed(c.value(name) or 0.0, "m") for name in ("e_h", "e_c"))
    words = "resultant no nearer to a tipping line than on the base of the chart"
    c.note(f"Chart {table.chart_id} on this base", f"{words}: {here} m, {there} m",
           "may be applied",
           "planning argument of this package, to be confirmed by the manufacturer")  # fmt: skip


def capacity_rows(c: Calculation, setup: Setup, study: PathStudy, step: int) -> None:
    """Rows of the charts at one step, and the capacity C that follows from them."""
    result, radius = study.capacity, float(study.path.radius_m[step])
    for what, text, short in _candidate_notes(setup, study, step):
        c.note(what, text, short, "rated capacity charts")
    capacity, source = float(result.capacity_t[step]), int(result.source[step])
    chart, capped = int(result.chart[step]), int(result.capped_by[step])
    if np.isnan(capacity):
        return
    limits = []
    if chart >= 0:
        read_rows(c, setup.tables[chart], length_m=setup.boom.length_m, radius_m=radius, how=interpolation_of(setup))
        limits.append("C_r")
        if source in (CARRIED, CONFIRMED) and not _candidates(setup, study, step)[chart].inside:
            _carried_rows(c, setup, study, step, setup.tables[chart])
    else:
        limits.append(stability_rows(c, setup, study, step, level=True))
    if capped >= 0:
        table = setup.tables[capped]
        limits.append(around_row(c, _rated(setup, table, radius), table))
    limits += strength_row(c, float(result.strength_t[step]), result.strength_basis)
    if source == CONFIRMED:
        who = confirmation_words(setup, result, step).removeprefix("; ")
        c.facts(who, C_m=_confirmed_t(setup, study, step))
        limits.append("C_m")
    if source == ESTIMATE and capped < 0:  # never above the rating of a base that contains this one
        around = [setup.tables[k] for k, one in _candidates(setup, study, step).items() if one.around]
        rated = [(t, table) for table in around if np.isfinite(t := _rated(setup, table, radius))]
        limits += [around_row(c, *min(rated, key=lambda one: one[0]))] if rated else []
    c.work("C", least_of(limits), SOURCES[source], value=capacity)


def around_row(c: Calculation, rated_t: float, table: ChartTable) -> str:
    """What a larger base is rated at; returns the symbol."""
    c.facts(f"chart {table.chart_id}", C_a=rated_t)
    return "C_a"


def strength_row(c: Calculation, strength_t: float, basis: str) -> list[str]:
    """The strength limit, where one is stated; returns its symbol."""
    if not np.isfinite(strength_t):
        return []
    c.facts(basis, C_s=strength_t)
    return ["C_s"]


def _confirmed_t(setup: Setup, study: PathStudy, step: int) -> float:
    """The greatest capacity confirmed that covers the step. [t]"""
    slew, radius = study.path.slew_deg[step], float(study.path.radius_m[step])
    stated = [
        one.capacity_t
        for one in setup.confirmations
        if radius <= one.radius_m + 1e-9 and bool(slew_in_sector(slew, one.sector_deg))
    ]
    return max(stated, default=float("nan"))
