"""What moisture and the duration of the load do to the strength of large timbers.

Sources: NDS 2018 (allowable stress design), Table 2.3.2; NDS Supplement 2018, Table 4D (timbers
5 x 5 in and larger), second-hand: one public transcription. The strength itself comes with the mat.
"""

from typing import Literal

from liftcalc.base.errors import InputError

Duration = Literal["permanent", "ten years", "two months", "seven days"]

LOAD_DURATION: dict[Duration, float] = {"permanent": 0.9, "ten years": 1.0, "two months": 1.15, "seven days": 1.25}
"""Columns: duration of the load | C_D. On bending and shear only. NDS 2018, Table 2.3.2."""
WET_SERVICE: dict[Literal["dry", "wet"], dict[str, float]] = {
    "dry": {"bending": 1.0, "shear": 1.0, "crushing": 1.0, "modulus": 1.0},
    "wet": {"bending": 1.0, "shear": 1.0, "crushing": 0.67, "modulus": 1.0},
}
"""Columns: moisture | C_M bending | C_M shear | C_M crushing | C_M modulus. NDS Supplement 2018,
Table 4D."""


def load_duration_factor(duration: Duration) -> float:
    """Load duration factor C_D, for bending and shear only.

    Parameters:
      duration: {"permanent", "ten years", "two months", "seven days"}. Shorter loads than seven
        days gain nothing more here.
    Returns: float. [-]
    Raises: An unknown duration.
    Source: NDS 2018, Table 2.3.2.
    """
    if duration not in LOAD_DURATION:
        raise InputError.of("duration", duration, ", ".join(LOAD_DURATION))
    return LOAD_DURATION[duration]


def wet_service_factors(moisture: Literal["dry", "wet"]) -> dict[str, float]:
    """Wet service factors C_M of large timbers.

    Parameters:
      moisture: {"dry", "wet"}. A mat on the ground is wet.
    Returns: dict with keys "bending", "shear", "crushing", "modulus". [-]
    Raises: Any other word.
    Source: NDS Supplement 2018, Table 4D adjustment factors.
    """
    if moisture not in WET_SERVICE:
        raise InputError.of("moisture", moisture, ", ".join(WET_SERVICE))
    return dict(WET_SERVICE[moisture])
