"""Quick site tests turned into a strength or a stiffness, each with its limits.

Every function raises InputError outside the range its source covers. A test speaks only for
the ground it reached: a vane a few centimetres, a cone a metre.

Sources: FHWA-SA-02-054 (GEC 6, 2002) Table 4-1, UFC 3-220-10 (2022) Eq. 8-26 (Stroud and Butler; form inferred), Table
8-24 (DCP), Wolff 1989 as in its chapter 8, and EN 1997-2:2007 Annex I.5: read in the transcription of the package
geotech-references 1.4.1, with which the tests compare: source and reference are one transcription. Webster 1992, ASTM
D6951, TRL/Kleyn (second-hand). Black and Lister 1979, Powell 1984 (from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative

Soil = Literal["sand", "clay"]


@dataclass(frozen=True)
class SiteTestValue:
    """A value derived from a test. ``quantity`` carries the unit suffix."""

    value: FloatArray
    quantity: str
    method: str
    source: str
    verification: Literal["seen", "computed", "memory"]
    limits: tuple[str, ...]
    warnings: tuple[str, ...]


_SPT_LIMITS = ("Blow count of the weakest metre within one to two mat widths below the mat.",)
_CLAY_WARNING = "A correlation: prove the clay by vane or laboratory tests before relying on it."


_CONSISTENCY: dict[str, tuple[tuple[float, str], ...]] = {
    "clay": (
        (0.0, "very soft"), (2.0, "soft"), (4.0, "medium (firm)"), (8.0, "stiff"), (15.0, "very stiff"), (30.0, "hard"),
    ),
    "sand": (
        (0.0, "very loose"), (4.0, "loose"), (10.0, "medium"), (30.0, "dense"),
        (50.0, "very dense"),
    ),
}  # fmt: skip


def spt_consistency(N: ArrayLike, soil: Soil) -> NDArray[np.str_]:
    """Name of the consistency (clay) or density (sand) by SPT; lower limit inclusive.

    Parameters:
      N: >= 0. Blows per 0.3 m. [-]
    Returns: ndarray of str
    Raises: A soil of another name.
    Source: FHWA-SA-02-054 (GEC 6) Table 4-1 (Terzaghi and Peck).
    """
    blows = require_non_negative("N", N)
    if soil not in _CONSISTENCY:
        raise InputError.of("soil", soil, "sand, clay")
    limits, names = zip(*_CONSISTENCY[soil], strict=True)
    return np.asarray(np.array(names)[np.searchsorted(limits, blows, side="right") - 1])


def spt_undrained_strength(N: ArrayLike, plasticity_index_percent: ArrayLike) -> SiteTestValue:
    """Undrained strength of stiff clay from SPT: cu = N (4.36 + 8910/PI^3). [kPa]

    Parameters:
      N: 1 to 60. Blows per 0.3 m. [-]
      plasticity_index_percent: 15 to 65 (4.4 to 7 kPa per blow; below, the fit runs away). PI. [%]
    Source: Stroud and Butler 1975, fit in UFC 3-220-10 Eq. 8-26; the form is inferred (from memory).
    """
    blows = require_between("N", N, 1.0, 60.0)
    PI = require_between("plasticity_index_percent", plasticity_index_percent, 15.0, 65.0)
    return SiteTestValue(
        np.asarray(blows * (4.36 + 8910.0 / PI**3)), "cu_kPa", "SPT, Stroud and Butler",
        "Stroud and Butler 1975; UFC 3-220-10 Eq. 8-26", "memory",
        ("Overconsolidated clay, not soft or sensitive clay.",), (_CLAY_WARNING,),
    )  # fmt: skip


def spt_friction_angle(N1_60: ArrayLike) -> SiteTestValue:
    """Friction angle of sand from SPT: 27.1 + 0.3 N - 0.00054 N^2. [deg]

    Parameters:
      N1_60: 5 to 50. Blows per 0.3 m, corrected to 60 % energy and 100 kPa. [-]
    Source: Wolff 1989, as in UFC 3-220-10 chapter 8.
    """
    blows = require_between("N1_60", N1_60, 5.0, 50.0)
    return SiteTestValue(
        np.asarray(27.1 + 0.3 * blows - 0.00054 * blows**2), "phi_deg", "SPT, Wolff",
        "Wolff 1989; UFC 3-220-10 chapter 8", "seen",
        (*_SPT_LIMITS, "Clean sand; gravel raises N without raising strength."),
        ("Take a cautious value from several tests, not the mean.",),
    )  # fmt: skip


_DCP_CBR: dict[str, Callable[[FloatArray], FloatArray]] = {
    "webster": lambda dcp: 292.0 / dcp**1.12,
    "webster_cl": lambda dcp: 1.0 / (0.017019 * dcp) ** 2,
    "webster_ch": lambda dcp: 1.0 / (0.002871 * dcp),
    "trl_60": lambda dcp: 10.0 ** (2.48 - 1.057 * np.log10(dcp)),
    "trl_30": lambda dcp: 10.0 ** (2.503 - 1.15 * np.log10(dcp)),
}


_DCP_WORDS = {
    "webster": "DCP, Webster", "webster_cl": "DCP, Webster for CL clay",
    "webster_ch": "DCP, Webster for CH clay", "trl_60": "DCP, TRL, 60° cone",
    "trl_30": "DCP, TRL, 30° cone",
}  # fmt: skip


def dcp_cbr(
    penetration_mm_per_blow: ArrayLike,
    *,
    correlation: Literal["webster", "webster_cl", "webster_ch", "trl_60", "trl_30"] = "webster",
) -> SiteTestValue:
    """CBR from the dynamic cone (8 kg, 575 mm). [percent]

    Parameters:
      penetration_mm_per_blow: 1 to 100 [mm]
      correlation: "webster" 292/DCP^1.12; "webster_cl" 1/(0.017019 DCP)^2, low-plasticity clay with
        CBR below 10; "webster_ch" 1/(0.002871 DCP), fat clay; "trl_60" and "trl_30" 10^(2.48 -
        1.057 log DCP) and 10^(2.503 - 1.15 log DCP), 60 and 30 degree cone.
    Raises: A correlation of another name, or one that does not reach this penetration.
    Source: Webster 1992, ASTM D6951, UFC 3-220-10 Eq. 8-37; TRL/Kleyn (the two clay forms from memory).
    """
    dcp = require_between("penetration_mm_per_blow", penetration_mm_per_blow, 1.0, 100.0)
    if correlation not in _DCP_CBR:
        raise InputError.of("correlation", correlation, "webster, _cl, _ch, trl_60, trl_30")
    cbr = _DCP_CBR[correlation](dcp)
    if correlation == "webster_cl" and not np.all(cbr < 10.0):
        field, least = "penetration_mm_per_blow", float(np.min(dcp))
        raise InputError.of(field, least, "a CBR below 10 in this form", "Use webster.")
    return SiteTestValue(
        np.asarray(cbr), "cbr_percent", _DCP_WORDS[correlation], "Webster 1992; ASTM D6951; TRL",
        "memory" if correlation in ("webster_cl", "webster_ch") else "computed",
        ("Reaches about 1 m; stones give false high values; the weakest 150 mm counts.",),
        ("Test when the ground is as wet as it may become on the day.",),
    )  # fmt: skip


def cbr_undrained_strength(cbr_percent: ArrayLike, *, kPa_per_percent: float = 23.0) -> SiteTestValue:
    """Undrained strength of soft to stiff clay from CBR: cu = 23 CBR. [kPa]

    Parameters:
      cbr_percent: 0.5 to 10. California bearing ratio. [percent]
      kPa_per_percent: 20 to 30. Strength for each per cent of CBR (Giroud and Noiray 1981 use 30;
        the lower is the safer). [kPa]
    Source: Black and Lister 1979 (from memory).
    """
    cbr = require_between("cbr_percent", cbr_percent, 0.5, 10.0)
    factor = require_between("kPa_per_percent", kPa_per_percent, 20.0, 30.0)
    return SiteTestValue(
        np.asarray(cbr * factor), "cu_kPa", f"CBR times {float(factor):g}", "Black and Lister 1979",
        "memory", ("Saturated fine soil near the surface.",),
        (_CLAY_WARNING, "CBR says nothing of the ground below the depth tested."),
    )  # fmt: skip


def cbr_youngs_modulus(cbr_percent: ArrayLike) -> SiteTestValue:
    """Stiffness of a subgrade from CBR: E = 17.6 CBR^0.64 MPa, returned in kPa.

    Parameters:
      cbr_percent: 0.5 to 12. California bearing ratio. [percent]
    Source: Powell et al. 1984, TRRL LR 1132 (from memory).
    """
    cbr = require_between("cbr_percent", cbr_percent, 0.5, 12.0)
    return SiteTestValue(
        np.asarray(17600.0 * cbr**0.64), "youngs_modulus_kPa", "CBR, Powell",
        "Powell et al. 1984", "memory", ("Small strain under traffic, fine soil.",),
        ("Too stiff for a slow heavy load: take a fraction for settlement.",),
    )  # fmt: skip


def vane_undrained_strength(vane_strength_kPa: ArrayLike, liquid_limit_percent: ArrayLike) -> SiteTestValue:
    """Undrained strength from a vane, corrected for rate and anisotropy. [kPa]

    cu = mu c_v, mu = (0.43/w_L)^0.45 with w_L as a fraction, not below 0.5 and, on the safe side,
    not above 1. Normally or lightly overconsolidated clay.

    Parameters:
      vane_strength_kPa: 1 to 120. Peak reading; above 120 kPa a hand vane is past its range. [kPa]
      liquid_limit_percent: 20 to 200 [percent]
    Source: EN 1997-2:2007 Annex I.5.
    """
    c_v = require_between("vane_strength_kPa", vane_strength_kPa, 1.0, 120.0)
    w_L = require_between("liquid_limit_percent", liquid_limit_percent, 20.0, 200.0) / 100.0
    mu = np.clip((0.43 / w_L) ** 0.45, 0.5, 1.0)
    return SiteTestValue(
        np.asarray(mu * c_v), "cu_kPa", "vane, corrected", "EN 1997-2:2007 Annex I.5", "seen",
        ("Soft to firm clay without sand, gravel or roots; several readings at several depths.",),
        (
            "A vane reads a few centimetres of intact clay; fissures make the mass weaker.",
            "The clay softens under standing water.",
        ),
    )  # fmt: skip
