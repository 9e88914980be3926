"""Rows and numbers of a study of crane positions, for the sheet and the panel."""

from typing import Any

from liftcalc.base.checks import Check, limit_check, search_check
from liftcalc.base.errors import LiftcalcError
from liftcalc.base.text import Show
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.stand_study import HELP_CHECKS, HELP_WITHIN_M, StandStudy
from liftcalc.placement.places import StandPlace

_STOPPED = "stopped before all was tried: more may be found"


def soft_rows(study: StandStudy, show: Show) -> list[tuple[str, ...]]:
    """Ground that was not searched, and why."""
    rows: list[tuple[str, ...]] = [
        (
            zone,
            f"the mat carries less than {show(most, 'force_kN')} there; a quarter of the empty "
            f"machine weighs {show(quarter, 'force_kN')}",
        )
        for zone, most, quarter in study.soft
    ]
    return rows or [("none", "every explored zone was searched")]


def stand_checks(job: Job, study: StandStudy) -> list[Check]:
    """A place for every lift at once, and its utilisation; a lift asked for and left out fails."""
    names = ", ".join(study.lift_ids)
    grid = f"every {study.step_m:g} m and {study.heading_step_deg:g}°"
    rows = [
        limit_check(
            "places",
            f"Positions from which {names} are within every limit (as planned now, "
            f"{study.asked} is {study.asked_state})",
            value=float(len(study.result.places)),
            limit=1.0,
            quantity="ratio",
            sense="min",
            reference=f"search over the stand area, {grid}; full check of the sheets",
            remedy="Plan more than one set-up, another machine, or change the stand area. "
            "Layouts that the manufacturer would have to confirm are not counted.",
        )
    ]
    if study.asked not in study.lift_ids:
        # The places above serve its companions only: they must not read as a pass of this lift.
        rows.append(
            limit_check(
                "places-asked",
                f"Positions from which {study.asked} is within every limit",
                value=0.0,
                limit=1.0,
                quantity="ratio",
                sense="min",
                reference="full check of the sheets where it is planned",
                remedy=dict(study.left_out)[study.asked],
            )
        )
    if study.result.places:
        rows.append(
            limit_check(
                "best-place",
                "Capacity used at the best position",
                value=100 * study.result.places[0].utilisation,
                limit=job.rules.utilisation_limit_percent,
                quantity="percent",
                reference="maker's charts of bases inside the actual one; owner's rule",
                where=_where(study.result.places[0]),
            )
        )
    return [search_check(row) for row in rows]


def _where(place: StandPlace) -> str:
    return (
        f"{place.easting_m:.2f} m E, {place.northing_m:.2f} m N, heading {place.heading_deg:.0f}°"
    )


def place_rows(study: StandStudy, show: Show) -> list[tuple[str, ...]]:
    """The present place and the best ones."""
    rows: list[tuple[str, ...]] = []
    for name, place in (
        ("as planned", study.present),
        *((str(n + 1), p) for n, p in enumerate(study.result.places)),
    ):
        legs = " / ".join(show(e, "length_m") for e in place.extension_m)
        force = place.leg_force_kN
        rows.append(
            (
                name,
                show(place.easting_m, "length_m"),
                show(place.northing_m, "length_m"),
                show(place.heading_deg, "angle_deg"),
                legs,
                "no data" if place.utilisation == float("inf") else f"{place.utilisation:.0%}",
                "tips" if force == float("inf") else show(force, "force_kN"),
            )
        )
    return rows


def plan_rows(study: StandStudy, show: Show) -> list[tuple[str, ...]]:
    """Plans that no other betters in margin, set-ups and mat area."""
    rows: list[tuple[str, ...]] = [
        (
            str(plan.setups),
            f"{plan.utilisation:.0%}",
            show(plan.leg_force_kN, "force_kN"),
            show(plan.mat_area_m2, "area_m2"),
            "; ".join(
                f"{', '.join(names)} from {_where(place)}"
                for names, place in zip(plan.lifts, plan.places, strict=True)
            ),
        )
        for plan in study.plans
    ]
    if study.stopped:
        rows.append(("not finished", "–", "–", "–", _STOPPED))
    elif not study.plans_settled:
        rows.append(
            ("not settled", "–", "–", "–", "the full checks were spent: search one lift alone")
        )
    return rows or [("none", "–", "–", "–", "no place serves every lift")]


def alternative_rows(study: StandStudy) -> list[tuple[str, str]]:
    """For each lift that fails where it stands: the smallest changes that make it pass."""
    rows = [(lift, alternative.words) for lift, helpful in study.helped for alternative in helpful]
    rows += [
        (
            lift,
            f"nothing within {HELP_WITHIN_M:g} m helps"
            + (f" among the first {checks} changes tried" if checks >= HELP_CHECKS else "")
            + ": other mats, another machine or a larger stand area",
        )
        for (lift, helpful), checks in zip(study.helped, study.help_checks, strict=True)
        if not helpful
    ]
    rows += list(study.left_out)
    if study.stopped:
        rows.append(("not finished", _STOPPED))
    return rows or [("–", "every lift passes where it stands")]


def job_rows(job: Job, show: Show) -> list[tuple[str, ...]]:
    """Every lift of the job where it is planned now: machine, stand, load, verdict."""
    rows: list[tuple[str, ...]] = []
    for lift in job.lifts:
        where = (
            f"{show(lift.stand.easting_m, 'length_m')} E, "
            f"{show(lift.stand.northing_m, 'length_m')} N"
        )
        try:
            assessed = assess_lift(job, lift.id)
            gross = show(assessed.setup.gross_t, "mass_t")
            words = assessed.verdict.words
        except LiftcalcError as error:
            gross, words = "–", str(error).splitlines()[0]
        rows.append((lift.id, lift.title, lift.machine, where, gross, words))
    return rows


def stand_values(study: StandStudy) -> dict[str, Any]:
    """Numbers that a re-check compares."""
    return {
        "lifts": list(study.lift_ids),
        "asked_as_planned": study.asked_state,
        "left_out": [lift for lift, _ in study.left_out],
        "poses": study.result.poses,
        "fitting": study.result.fitting,
        "complete": study.complete,
        "places": len(study.result.places),
        "utilisation": [p.utilisation for p in study.result.places],
        "easting_m": [p.easting_m for p in study.result.places],
        "northing_m": [p.northing_m for p in study.result.places],
        "heading_deg": [p.heading_deg for p in study.result.places],
        "leg_force_kN": [p.leg_force_kN for p in study.result.places],
        "setups": [plan.setups for plan in study.plans],
    }
