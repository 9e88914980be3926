"""Safety on the ground: one global factor, or the partial factors of EN 1997-1.

Sources: EN 1997-1:2004 Annex A Tables A.3, A.4, A.5 and clause 2.4.7.3.4.2, read in the transcription of the package
geotech-references 1.4.1, with which the tests compare: source and reference are one transcription. The national annex
governs where there is one. Global factors: UFC 3-220-20 (2025) section 5-2.4.
"""

from dataclasses import dataclass

from liftcalc.base.errors import require_between

LEAST_OVERALL = 2.0
"""Least factor between the ultimate capacity of ground and the service load."""


@dataclass(frozen=True)
class Safety:
    """Factors applied to loads, strengths and resistance; all at least 1.

    ``load`` multiplies the leg load (vertical and horizontal alike, permanent and variable part not separated),
    ``tan_phi``, ``c`` and ``cu`` divide the strength, ``resistance`` divides the resulting capacity.
    """

    name: str
    load: float = 1.0
    tan_phi: float = 1.0
    c: float = 1.0
    cu: float = 1.0
    resistance: float = 1.0
    source: str = ""

    def __post_init__(self) -> None:
        for field in ("load", "tan_phi", "c", "cu", "resistance"):
            require_between(f"safety.{field}", getattr(self, field), 1.0, 10.0)


EN1997_DA1_1 = Safety(
    "EN 1997-1 design approach 1, combination 1", load=1.5,
    source="EN 1997-1:2004 Tables A.3 (A1), A.4 (M1), A.5 (R1); whole load taken as variable",
)  # fmt: skip
"""Partial factors of combination 1."""
EN1997_DA1_2 = Safety(
    "EN 1997-1 design approach 1, combination 2", load=1.3, tan_phi=1.25, c=1.25, cu=1.4,
    source="EN 1997-1:2004 Tables A.3 (A2), A.4 (M2), A.5 (R1); whole load taken as variable",
)  # fmt: skip
"""Partial factors of combination 2."""
EN1997_DA1: tuple[Safety, Safety] = (EN1997_DA1_1, EN1997_DA1_2)
"""Both combinations; the worse of the two governs."""


def global_factor(factor: float, *, source: str = "chosen by the user") -> Safety:
    """One factor of safety on the ultimate capacity: allowable = q_ult / factor (gross).

    Below 2 is refused: the ground strength is uncertain and a failure is sudden. Usual
    values 2 to 3 (UFC 3-220-20 section 5-2.4).

    Parameters:
      factor: 2 to 10. On the ultimate capacity.
      source: Where the factor is from, for the sheet.
    """
    require_between("factor", factor, LEAST_OVERALL, 10.0)
    return Safety(f"global factor {factor:g}", resistance=float(factor), source=source)
