"""Rows and numbers of a study of crane positions, for the sheet and the panel."""

from typing import Any

from liftcalc.base.checks import Check, limit_check, search_check
from liftcalc.base.errors import LiftcalcError
from liftcalc.base.text import Show, amount
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.stand_study import HELP_CHECKS, HELP_WITHIN_M, StandStudy
from liftcalc.placement.measure import StandPlace

PLACE_COLUMNS = ("Position", "Easting", "Northing", "Heading (from east)",
                 "Outriggers FL / FR / RR / RL", "Utilisation of rated capacity",
                 "Outrigger reaction")  # fmt: skip
PLAN_COLUMNS = ("Set-ups", "Utilisation of rated capacity", "Outrigger reaction", "Mat area",
                "Lifts and crane positions")  # fmt: skip
_STOPPED = "stopped before every position was tried: more may be found"


def soft_rows(study: StandStudy, show: Show) -> list[tuple[str, ...]]:
    """Ground that was not searched, and why."""
    rows: list[tuple[str, ...]] = [
        (zone, f"the mat carries less than {show(most, 'force_kN')} there; a quarter of the "
         f"unladen machine weighs {show(quarter, 'force_kN')}")
        for zone, most, quarter in study.soft
    ]  # fmt: skip
    return rows or [("none", "every explored zone was searched")]


def stand_checks(job: Job, study: StandStudy) -> list[Check]:
    """A place for every lift at once, and its utilisation; a lift asked for and left out fails."""
    names, count = ", ".join(study.lift_ids), len(study.result.places)
    grid = f"every {amount(study.step_m, 'length_m')} and {study.heading_step_deg:g}°"
    positions = "1 position" if count == 1 else f"{count or 'No'} positions"
    passes = "is" if len(study.lift_ids) == 1 else "are"
    rows = [
        limit_check(
            "places",
            f"{positions} from which {names} {passes} within limits (as planned now, "
            f"{study.asked} is {study.asked_state})",
            value=float(count), limit=1.0, quantity="count", sense="min",
            reference="search over the permitted outrigger area; full check of the sheets", where=f"search grid {grid}",
            remedy="Plan more than one set-up, another machine, or have the permitted outrigger "
            "area extended. Layouts that the manufacturer would have to confirm are not counted.",
        )
    ]  # fmt: skip
    if study.asked not in study.lift_ids:
        # The places above serve its companions only: they must not read as a pass of this lift.
        rows.append(limit_check("places-asked",
                                f"No position from which {study.asked} is within limits", value=0.0,
                                limit=1.0, quantity="count", sense="min",
                                reference="full check of the sheets where it is planned",
                                remedy=dict(study.left_out)[study.asked]))  # fmt: skip
    if study.result.places:
        rows.append(limit_check(
            "best-place", "Utilisation of rated capacity at position 1",
            value=100 * study.result.places[0].utilisation,
            limit=job.rules.utilisation_limit_percent, quantity="percent",
            reference="manufacturer's charts of bases inside the actual one; owner's rule",
            where=_where(study.result.places[0]),
        ))  # fmt: skip
    return [search_check(row) for row in rows]


def _where(place: StandPlace) -> str:
    return (
        f"{amount(place.easting_m, 'length_m')} E, {amount(place.northing_m, 'length_m')} N, "
        f"heading {amount(place.heading_deg, 'slew_deg')}"
    )


def _percent(ratio: float) -> str:
    return f"{100 * ratio:.0f} %"


def place_rows(study: StandStudy, show: Show) -> list[tuple[str, ...]]:
    """The planned position and the best ones."""
    rows: list[tuple[str, ...]] = []
    places = [("as planned", study.present)]
    for name, place in [*places, *((str(n + 1), p) for n, p in enumerate(study.result.places))]:
        legs = " / ".join(show(e, "extension_m") for e in place.extension_m)
        force = place.leg_force_kN
        rows.append((
            name, show(place.easting_m, "length_m"), show(place.northing_m, "length_m"),
            show(place.heading_deg, "slew_deg"), legs,
            "no data" if place.utilisation == float("inf") else _percent(place.utilisation),
            "tips over" if force == float("inf") else show(force, "force_kN"),
        ))  # fmt: skip
    return rows


def plan_rows(study: StandStudy, show: Show) -> list[tuple[str, ...]]:
    """Plans that no other betters in margin, set-ups and mat area."""
    rows: list[tuple[str, ...]] = [
        (str(plan.setups), _percent(plan.utilisation), show(plan.leg_force_kN, "force_kN"),
         show(plan.mat_area_m2, "area_m2"),
         "; ".join(f"{', '.join(names)} from {_where(place)}"
                   for names, place in zip(plan.lifts, plan.places, strict=True)))
        for plan in study.plans
    ]  # fmt: skip
    if study.stopped:
        rows.append(("not finished", "–", "–", "–", _STOPPED))
    elif not study.plans_settled:
        rows.append(
            ("not settled", "–", "–", "–", "the allowed number of full checks was reached: search one lift alone")
        )
    return rows or [("none", "–", "–", "–", "no position serves every lift")]


def alternative_rows(study: StandStudy) -> list[tuple[str, str]]:
    """For each lift that fails as planned: the smallest changes that make it pass."""
    rows = [(lift, alternative.words) for lift, helpful in study.helped for alternative in helpful]
    for (lift, helpful), checks in zip(study.helped, study.help_checks, strict=True):
        if not helpful:
            none = f"no remedy within {amount(HELP_WITHIN_M, 'length_m')}"
            none += f" among the first {checks} changes tried" if checks >= HELP_CHECKS else ""
            other = "other mats, another machine or a larger permitted outrigger area"
            rows.append((lift, f"{none}: {other}"))
    rows += list(study.left_out)
    if study.stopped:
        rows.append(("not finished", _STOPPED))
    return rows or [("–", "every lift is within limits as planned")]


def job_rows(job: Job, show: Show) -> list[tuple[str, ...]]:
    """Every lift of the job as planned now: machine, crane position, load, verdict."""
    rows: list[tuple[str, ...]] = []
    for lift in job.lifts:
        east, north = (show(x, "length_m") for x in (lift.stand.easting_m, lift.stand.northing_m))
        try:
            assessed = assess_lift(job, lift.id)
            gross = show(assessed.setup.gross_t, "mass_t")
            words = assessed.verdict.words
        except LiftcalcError as error:
            gross, words = "–", str(error).splitlines()[0]
        rows.append((lift.id, lift.title, lift.machine, f"{east} E, {north} N", gross, words))
    return rows


def stand_values(study: StandStudy) -> dict[str, Any]:
    """Numbers that a re-check compares."""
    of_place = ("utilisation", "easting_m", "northing_m", "heading_deg", "leg_force_kN")
    return {
        "lifts": list(study.lift_ids), "asked_as_planned": study.asked_state,
        "left_out": [lift for lift, _ in study.left_out],
        "poses": study.result.poses, "fitting": study.result.fitting, "complete": study.complete,
        "places": len(study.result.places),
        **{name: [getattr(p, name) for p in study.result.places] for name in of_place},
        "setups": [plan.setups for plan in study.plans],
    }  # fmt: skip
