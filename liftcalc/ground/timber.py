"""Reference strengths of large timbers, and their adjustment to the job.

Sources: NDS 2018 (allowable stress design), Tables 2.3.2 and 4.3.1; NDS Supplement 2018, Table 4D
(timbers 5 x 5 in and larger), second-hand: one public transcription. Grades of a manufacturer's mat
come with the mat: the table serves only where the timber's own grade is known.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_positive

Duration = Literal["permanent", "ten years", "two months", "seven days"]

_PSI_KPA = 4.4482216152605e-3 / 0.0254**2


@dataclass(frozen=True)
class TimberGrade:
    """Reference design values of one species, class and grade. [kPa]"""

    bending_kPa: float
    shear_kPa: float
    crushing_kPa: float
    modulus_kPa: float
    source: str


def _grade(fb: float, fv: float, fc_perp: float, e: float, *, memory: bool = False) -> TimberGrade:
    return TimberGrade(
        fb * _PSI_KPA, fv * _PSI_KPA, fc_perp * _PSI_KPA, e * _PSI_KPA,
        "NDS Supplement 2018, Table 4D" + (", from memory" if memory else ""),
    )  # fmt: skip


TIMBER_GRADES: dict[tuple[str, str, str], TimberGrade] = {
    ("Douglas fir-larch", "beams and stringers", "Select Structural"):
        _grade(1600, 170, 625, 1.6e6),
    ("Douglas fir-larch", "beams and stringers", "No. 1"): _grade(1350, 170, 625, 1.6e6),
    ("Douglas fir-larch", "beams and stringers", "No. 2"):
        _grade(875, 170, 625, 1.3e6, memory=True),
    ("Douglas fir-larch", "posts and timbers", "Select Structural"): _grade(1500, 170, 625, 1.6e6),
    ("Douglas fir-larch", "posts and timbers", "No. 1"): _grade(1200, 170, 625, 1.6e6, memory=True),
    ("Douglas fir-larch", "posts and timbers", "No. 2"): _grade(750, 170, 625, 1.3e6),
    ("Mixed oak", "beams and stringers", "Select Structural"):
        _grade(1350, 155, 800, 1.0e6, memory=True),
    ("Mixed oak", "beams and stringers", "No. 1"): _grade(1150, 155, 800, 1.0e6, memory=True),
    ("Mixed oak", "beams and stringers", "No. 2"): _grade(725, 155, 800, 0.8e6, memory=True),
}  # fmt: skip
"""Reference design values. Columns: species | class | grade | bending [kPa] | shear [kPa] |
crushing [kPa] | modulus [kPa] | source, which says whether it was read or is from memory."""


LOAD_DURATION: dict[Duration, float] = {
    "permanent": 0.9,
    "ten years": 1.0,
    "two months": 1.15,
    "seven days": 1.25,
}
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


def size_factor(depth_m: ArrayLike) -> FloatArray:
    """Size factor C_F of large timbers in bending.

    Parameters:
      depth_m: > 0. [m]
    Returns: ndarray: (12 in / d)^(1/9) above 12 in, else 1. [-]
    Source: NDS Supplement, Table 4D.
    """
    d = require_positive("depth_m", depth_m) / 0.0254
    return np.minimum((12.0 / d) ** (1.0 / 9.0), 1.0)


@dataclass(frozen=True)
class AdjustedTimber:
    """Allowable stresses for the job. [kPa]"""

    bending_kPa: FloatArray
    shear_kPa: FloatArray
    crushing_kPa: FloatArray
    modulus_kPa: FloatArray


def adjusted_strengths(
    grade: TimberGrade,
    depth_m: ArrayLike,
    *,
    duration: Duration,
    moisture: Literal["dry", "wet"] = "wet",
) -> AdjustedTimber:
    """Allowable stresses of a timber mat from its grade.

    Parameters:
      depth_m: > 0. Thickness of the timbers. [m]
    Source: NDS 2018, Table 4.3.1 (allowable stress design): C_D on bending and shear, C_M on
      crushing, C_F on bending.
    """
    cd, cm, cf = load_duration_factor(duration), wet_service_factors(moisture), size_factor(depth_m)
    one = np.ones_like(cf)
    bending, shear = grade.bending_kPa * cd * cm["bending"], grade.shear_kPa * cd * cm["shear"]
    crushing, modulus = grade.crushing_kPa * cm["crushing"], grade.modulus_kPa * cm["modulus"]
    values = (bending * cf, shear * one, crushing * one, modulus * one)
    return AdjustedTimber(*map(np.asarray, values))
