"""The calculation of a search for crane positions: how the best position's utilisation follows.

The search reads rated capacity from a grid of slew and radius, for charts of bases inside the one
at the position, and takes the worst of the four grid points around a state: the rows name the one
that counts, and the chart that is read there.

Source: :mod:`liftcalc.placement.measure`, :mod:`liftcalc.placement.capacity`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.crane.capacity import capacity_by_slew
from liftcalc.crane.legs import LEG_NAMES, base_polygon, leg_points_m
from liftcalc.lift.calculation import Calculation, least_of
from liftcalc.lift.calculation_chart import around_row, read_rows, strength_row
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_place import PLANE, end_rows, position_rows
from liftcalc.lift.setup import build_setup
from liftcalc.lift.stand_study import StandStudy
from liftcalc.lift.standing import search_problem
from liftcalc.placement.capacity import ChartCapacity, LiftDuty
from liftcalc.placement.measure import StandPlace

_SEARCH = "search grid"


def stand_calculation(study: StandStudy, checks: Sequence[Check]) -> Calculation:
    """The calculation of a search for crane positions; *checks* are those that its sheet shows."""
    c = Calculation()
    for check in checks:
        (_best if check.id == "best-place" else _count)(c, study, check)
    return c


def _count(c: Calculation, study: StandStudy, check: Check) -> None:
    result, grid = study.result, amount(study.step_m, "length_m")
    c.section(check)
    words = f"every {grid}, headings every {study.heading_step_deg:g}°"
    c.note("Positions and headings of the search grid", words, f"{result.poses}", _SEARCH)
    c.note("Of these, crane and outriggers fit the site", "", f"{result.fitting}", PLANE)
    c.note("Of these, rejected by the full check", "in the order of utilisation, until enough "
           "positions are found", f"{len(result.rejected)}", "checks of the sheets")  # fmt: skip
    c.facts(n_p_stand=check.value or 0.0)
    c.ends(check, "n_p", "n_min")


@dataclass(frozen=True)
class _Read:
    """A state of the search grid: slew and radius of its grid point, and the capacity there."""

    capacity_t: float
    slew_deg: float
    radius_m: float
    where: str


def _cell(axis: np.ndarray, value: float) -> list[int]:
    """Grid points below and above a value on an evenly spaced axis."""
    k = int(np.floor((value - axis[0]) / (axis[1] - axis[0])))
    k = min(max(k, 0), axis.size - 2)
    return [k, k + 1]


def _seen(place: StandPlace, point_m: tuple[float, float]) -> tuple[float, float]:
    """Slew [deg], in whatever turn, and radius [m] of a point on the site."""
    east, north = point_m[0] - place.easting_m, point_m[1] - place.northing_m
    slew = float(np.degrees(np.arctan2(north, east))) - place.heading_deg
    return slew, float(np.hypot(east, north))


def _reads(duty: LiftDuty, place: StandPlace, grid: np.ndarray) -> list[_Read]:
    """Every grid point that the search reads for one lift: pick, set-down and the slew between."""
    source = duty.capacity
    step, radii = source.slew_step_deg, np.asarray(source.radius_m)
    count = grid.shape[0]
    ends = []
    for point in (duty.pick_m, duty.set_down_m):
        slew, radius = _seen(place, point)
        ends.append((slew % 360.0 / step, radius))
    (at_pick, r_pick), (at_set, r_set) = ends
    turn = (at_set - at_pick) % count
    back = {"anticlockwise": False, "clockwise": turn > 0}.get(duty.slew_way, turn > count / 2)
    start, length = (at_set, count - turn) if back else (at_pick, turn)
    first = int(np.floor(start))
    arc = range(first, int(np.floor(start + length)) + 2)
    nearer = min(_cell(radii, r_pick), _cell(radii, r_set))
    states = [("pick", [int(at_pick), int(at_pick) + 1], _cell(radii, r_pick)),
              ("set-down", [int(at_set), int(at_set) + 1], _cell(radii, r_set)),
              ("slewing", list(arc), nearer)]  # fmt: skip
    return [
        _Read(float(grid[s % count, r]), (s % count) * step, float(radii[r]), where)
        for where, slews, columns in states
        for s in slews
        for r in columns
    ]


def _best(c: Calculation, study: StandStudy, check: Check) -> None:
    place = study.result.places[0]
    lift_id = study.lift_ids[int(np.argmax(place.by_lift))]
    setup = build_setup(study.job, lift_id)
    gross_section(c, setup)
    c.section(check)
    c.note("Lift that governs at this position", lift_id, "", "the maximum of all lifts")
    found, lift = "search, position 1", setup.lift
    position_rows(c, place, found)
    for name, extension in zip(LEG_NAMES, place.extension_m, strict=True):
        c.facts(found, e_of=extension, of=name)
    for n, at in ((1, lift.pick), (2, lift.set_down)):
        end_rows(c, n, at, _seen(place, (at.easting_m, at.northing_m))[0])
    (duty,) = search_problem(study.job, (lift_id,), step_m=study.step_m, heading_step_deg=study.heading_step_deg).lifts
    source = duty.capacity
    assert isinstance(source, ChartCapacity)
    grid = source.capacity_t(place.extension_m)
    worst = min(_reads(duty, place, grid), key=lambda one: (one.capacity_t, -one.radius_m))
    apart = f"radii {source.radius_step_m:g} m apart; the worst of the four points around each state"
    c.facts(f"{_SEARCH}, {apart}", r_g_stand=worst.radius_m, detail=worst.where)
    c.facts(f"{_SEARCH}, slews {source.slew_step_deg:g}° apart", s_g=worst.slew_deg)
    _chart_rows(c, source, place, worst)
    c.steps("p_u_stand", p_u_stand=100 * place.utilisation)
    c.ends(check, "p_u", "p_lim")


def _chart_rows(c: Calculation, source: ChartCapacity, place: StandPlace, worst: _Read) -> None:
    """The rows of the chart that gives the capacity at the grid point, and what limits it."""
    result = capacity_by_slew([worst.slew_deg], [worst.radius_m],
                              boom_length_m=source.boom_length_m,
                              base=base_polygon(leg_points_m(source.leg_x_m, place.extension_m)), charts=source.charts,
                              counterweight=source.counterweight, interpolation=source.interpolation,
                              setting_tolerance_m=source.setting_tolerance_m)  # fmt: skip
    table = source.charts[int(result.chart[0, 0])]
    c.note("Chart read", "charts of bases inside the one at this position; the one that allows "
           "most", table.chart_id, "rated capacity charts")  # fmt: skip
    c.facts(L=source.boom_length_m)
    c.work("r", "r_g", _SEARCH)
    read_rows(c, table, length_m=source.boom_length_m, radius_m=worst.radius_m, how=source.interpolation)
    limits = ["C_r"]
    if int(result.capped_by[0, 0]) >= 0:
        limits.append(around_row(c, worst.capacity_t, source.charts[int(result.capped_by[0, 0])]))
    limits += strength_row(c, float(result.strength_t[0]), result.strength_basis)
    c.work("C", least_of(limits), value=worst.capacity_t)
