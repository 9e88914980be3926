"""How far off its planned position the crane may be set with every check as planned.

The whole lift is checked again with the crane set off to each side by the accuracy to which a crane is placed; where
that is worse than planned, the greatest distance that holds is found in steps of 10 mm. Pick and set-down stay where
they are. Source: each check's own; the accuracy is common practice, no published source.
"""

from functools import cache

from pydantic import ValidationError

from liftcalc.base.checks import Check
from liftcalc.base.errors import LiftcalcError
from liftcalc.base.text import amount
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.placing import TOLERANCE_M

TAPES_M = 0.03
"""How exactly two tapes place a crane: tapes to 20 mm that meet at a right angle. [m]"""
_SIDES = {"east": (1, 0), "north": (0, 1), "west": (-1, 0), "south": (0, -1)}
_GOOD = ("within", "condition")


def _holds(lift: LiftAssessment, east_m: float, north_m: float) -> bool:
    """Are all checks as planned, or better, with the crane set off?"""
    own = lift.setup.lift
    stand = own.stand.model_copy(update={"easting_m": own.stand.easting_m + east_m,
                                         "northing_m": own.stand.northing_m + north_m})  # fmt: skip
    try:
        job = lift.job.with_lift(own.model_copy(update={"stand": stand}))
        status = assess_lift(job, own.id).verdict.status
    except (LiftcalcError, ValidationError):
        return False  # out of the machine's reach, or off the surveyed ground
    return status == "within" or status == lift.verdict.status == "condition"


def place_tolerances_m(lift: LiftAssessment) -> dict[str, float]:
    """To each side, how far off its planned place the crane may stand; at most TOLERANCE_M. [m]

    Empty where the lift must not be made as planned.
    """
    found: dict[str, float] = {}
    if lift.verdict.status not in _GOOD:
        return found
    for side, (east, north) in _SIDES.items():
        held = cache(lambda mm, e=east, n=north: _holds(lift, e * mm / 1000, n * mm / 1000))
        low, high = 0, round(1000 * TOLERANCE_M)
        if held(high):
            low = high
        while high - low > 10:
            middle = (low + high) // 20 * 10
            low, high = (middle, high) if held(middle) else (low, middle)
        found[side] = low / 1000
    return found


def place_checks(lift: LiftAssessment) -> list[Check]:
    """The minimum distance off the planned position that keeps every check, and its condition."""
    found = place_tolerances_m(lift)
    if not found:
        return []
    short = {side: m for side, m in found.items() if m < TOLERANCE_M}
    far = ", ".join(f"{amount(m, 'length_m', 'down')} to the {side}" for side, m in short.items())
    side = min(found, key=lambda name: found[name])
    condition = (
        "the crane and every outrigger are set up no farther from their planned positions than "
        f"{far}, measured by two tapes"
    )
    return [check_row("plan-place", found[side], TAPES_M, side=side, most=TOLERANCE_M,
                     condition=condition if short else "")]  # fmt: skip
