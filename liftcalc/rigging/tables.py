"""Published sling tables and factors, each with its edition and owner.

Contents
--------
:class:`Edition`; :class:`SlingTable`, :class:`SlingTableRow`, :data:`WIRE_ROPE_SLINGS_EN`,
:data:`CHAIN_SLINGS_GRADE_8_EN`, :func:`sling_table_wll`; :class:`UsChainRow`,
:data:`CHAIN_SLINGS_GRADE_80_US`, :func:`us_chain_rating`; :data:`SHACKLES_GRADE_6`; the editions
of the factors used in ``hitches`` and ``shackles``; :class:`TableRating`.

Tables differ by edition and owner: every value travels with its :class:`Edition`, and both are
to be printed beside it. A table is read on the safe side: no interpolation, next worse column.

Sources: EN 13414-1:2003 Table 4 (seen in two public copies); EN 818-4 grade 8 (seen as reprinted in
a lifting-gear catalogue); ASME B30.9 grade 80 (seen alike in two chain suppliers' public tables);
shackle sizes of RR-C-271 and EN 13889 (seen as reprinted). Only the sizes seen are listed; 7/32 in
chain is left out, because the tables seen differ there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between

__all__ = [
    "ASME_B30_26",
    "ASME_B30_9_CHAIN",
    "ASME_B30_9_CHOKE",
    "BEND_EFFICIENCY",
    "CHAIN_SLINGS_GRADE_80_US",
    "CHAIN_SLINGS_GRADE_8_EN",
    "EN_13414_1",
    "EN_1492",
    "EN_818_4",
    "Edition",
    "SHACKLES_GRADE_6",
    "SHACKLE_SIZES",
    "SlingTable",
    "SlingTableRow",
    "TableRating",
    "UsChainRow",
    "WIRE_ROPE_SLINGS_EN",
    "sling_table_wll",
    "us_chain_rating",
]


MAX_LEG_ANGLE_DEG = 60.0
"""Greatest angle of a sling leg from the vertical: no published table goes further."""


@dataclass(frozen=True)
class Edition:
    """Which document a value comes from: print it beside the value."""

    owner: str
    document: str
    edition: str
    section: str
    verification: Literal["seen", "memory"]
    note: str = ""

    def __str__(self) -> str:
        return f"{self.document}, {self.edition}, {self.section} ({self.owner})"


EN_13414_1 = Edition(
    "CEN",
    "EN 13414-1",
    "2003",
    "Table 4: ferrule-secured eyes, steel core",
    "seen",
    "Seen in two public copies. Soft eyes over pins of at least twice the rope diameter.",
)
EN_818_4 = Edition(
    "CEN",
    "EN 818-4",
    "edition not stated in the copy seen",
    "grade 8 chain slings, uniform load method",
    "seen",
    "As reprinted in a lifting-gear catalogue. Holds for a symmetrical load only (EN 818-6).",
)
EN_1492 = Edition(
    "CEN",
    "EN 1492-1 and EN 1492-2",
    "edition not stated in the copy seen",
    "mode factors of textile slings",
    "seen",
    "As quoted in a sling user manual.",
)
ASME_B30_9_CHAIN = Edition(
    "ASME",
    "ASME B30.9",
    "edition not stated in the copies seen",
    "grade 80 alloy chain, rated load by angle from the horizontal, design factor 4",
    "seen",
    "Seen alike in two suppliers' tables. The older tables once in 29 CFR 1910.184 and 1926.251 "
    "are no longer law (final rule 2011, correction 2012).",
)
ASME_B30_9_CHOKE = Edition(
    "ASME",
    "ASME B30.9",
    "edition not stated in the copy seen",
    "wire rope slings: rating by angle of choke",
    "seen",
)
ASME_B30_26 = Edition(
    "ASME",
    "ASME B30.26",
    "edition not stated in the copies seen",
    "side loading of screw-pin and bolt-type shackles",
    "seen",
    "Bands 0-5, 6-45, 46-90 degrees as in WAC 296-155-33905 (Washington State).",
)
SHACKLE_SIZES = Edition(
    "US General Services Administration / CEN",
    "RR-C-271 and EN 13889",
    "2003 (EN); edition of RR-C-271 not stated in the copy seen",
    "bow and dee shackles, grade 6, by nominal size",
    "seen",
    "As reprinted in a supplier's table; EN 13889 covers 0.5 t to 25 t.",
)
BEND_EFFICIENCY = Edition(
    "US Department of Energy",
    "rigging handbook material, as in DOE-STD-1090",
    "edition not seen",
    "bend efficiency of wire rope by D/d",
    "memory",
)


@dataclass(frozen=True)
class SlingTableRow:
    """One size: working load limits [t]; angles of the legs from the vertical [deg]."""

    size_mm: float
    wll_one_leg_t: float
    wll_two_leg_0_45_t: float
    wll_two_leg_45_60_t: float
    wll_three_four_leg_0_45_t: float
    wll_three_four_leg_45_60_t: float
    wll_endless_choke_t: float


@dataclass(frozen=True)
class SlingTable:
    """A published sling table and its edition."""

    name: str
    edition: Edition
    rows: tuple[SlingTableRow, ...]

    def row(self, size_mm: float) -> SlingTableRow:
        """Row of a nominal size, exactly as listed."""
        for row in self.rows:
            if row.size_mm == size_mm:
                return row
        sizes = ", ".join(f"{row.size_mm:g}" for row in self.rows)
        raise InputError.of("size_mm", size_mm, sizes, f"Sizes listed of {self.edition}.")


WIRE_ROPE_SLINGS_EN = SlingTable(
    "wire rope slings, ferrule-secured eyes, steel core",
    EN_13414_1,
    (
        SlingTableRow(8, 0.75, 1.05, 0.75, 1.55, 1.1, 1.2),
        SlingTableRow(9, 0.95, 1.3, 0.95, 2.0, 1.4, 1.5),
        SlingTableRow(10, 1.15, 1.6, 1.15, 2.4, 1.7, 1.85),
        SlingTableRow(11, 1.4, 2.0, 1.4, 3.0, 2.12, 2.25),
        SlingTableRow(12, 1.7, 2.3, 1.7, 3.55, 2.5, 2.7),
        SlingTableRow(13, 2.0, 2.8, 2.0, 4.15, 3.0, 3.15),
        SlingTableRow(14, 2.25, 3.15, 2.25, 4.8, 3.4, 3.7),
        SlingTableRow(16, 3.0, 4.2, 3.0, 6.3, 4.5, 4.8),
        SlingTableRow(18, 3.7, 5.2, 3.7, 7.8, 5.65, 6.0),
        SlingTableRow(20, 4.6, 6.5, 4.6, 9.8, 6.9, 7.35),
        SlingTableRow(22, 5.65, 7.8, 5.65, 11.8, 8.4, 9.0),
        SlingTableRow(24, 6.7, 9.4, 6.7, 14.0, 10.0, 10.6),
        SlingTableRow(26, 7.8, 11.0, 7.8, 16.5, 11.5, 12.5),
        SlingTableRow(28, 9.0, 12.5, 9.0, 19.0, 13.5, 14.5),
        SlingTableRow(32, 11.8, 16.5, 11.8, 25.0, 17.5, 19.0),
        SlingTableRow(36, 15.0, 21.0, 15.0, 31.5, 22.5, 23.5),
        SlingTableRow(40, 18.5, 26.0, 18.5, 39.0, 28.0, 30.0),
        SlingTableRow(44, 22.5, 31.5, 22.5, 47.0, 33.5, 36.0),
        SlingTableRow(48, 26.0, 37.0, 26.0, 55.0, 40.0, 42.0),
        SlingTableRow(52, 31.5, 44.0, 31.5, 66.0, 47.0, 50.0),
        SlingTableRow(56, 36.0, 50.0, 36.0, 76.0, 54.0, 58.0),
        SlingTableRow(60, 42.0, 58.0, 42.0, 88.0, 63.0, 67.0),
    ),
)
CHAIN_SLINGS_GRADE_8_EN = SlingTable(
    "chain slings, grade 8",
    EN_818_4,
    (
        SlingTableRow(6, 1.12, 1.6, 1.12, 2.36, 1.7, 1.8),
        SlingTableRow(7, 1.5, 2.12, 1.5, 3.15, 2.24, 2.5),
        SlingTableRow(8, 2.0, 2.8, 2.0, 4.25, 3.0, 3.15),
        SlingTableRow(10, 3.15, 4.25, 3.15, 6.7, 4.75, 5.0),
        SlingTableRow(13, 5.3, 7.5, 5.3, 11.2, 8.0, 8.5),
        SlingTableRow(16, 8.0, 11.2, 8.0, 17.0, 11.8, 12.5),
        SlingTableRow(20, 12.5, 17.0, 12.5, 26.5, 19.0, 20.0),
        SlingTableRow(22, 15.0, 21.2, 15.0, 31.5, 22.4, 23.6),
        SlingTableRow(26, 21.2, 30.0, 21.2, 45.0, 31.5, 33.5),
        SlingTableRow(32, 31.5, 45.0, 31.5, 67.0, 47.5, 50.0),
    ),
)


# Nominal body diameter [mm]: (working load limit [t], nominal pin diameter [mm]).
SHACKLES_GRADE_6: dict[int, tuple[float, int]] = {
    13: (2.0, 16),
    16: (3.25, 19),
    19: (4.75, 22),
    22: (6.5, 25),
    25: (8.5, 28),
    28: (9.5, 32),
    32: (12.0, 35),
    35: (13.5, 38),
    38: (17.0, 42),
    45: (25.0, 50),
}


@dataclass(frozen=True)
class UsChainRow:
    """One size of grade 80 chain sling: rated loads [lb] by angle from the horizontal."""

    size_in: str
    single_90deg_lb: float
    double_60deg_lb: float
    double_45deg_lb: float
    double_30deg_lb: float
    triple_quad_60deg_lb: float
    triple_quad_45deg_lb: float
    triple_quad_30deg_lb: float


CHAIN_SLINGS_GRADE_80_US: tuple[UsChainRow, ...] = (
    UsChainRow("9/32", 3500, 6100, 4900, 3500, 9100, 7400, 5200),
    UsChainRow("5/16", 4500, 7800, 6400, 4500, 11700, 9500, 6800),
    UsChainRow("3/8", 7100, 12300, 10000, 7100, 18400, 15100, 10600),
    UsChainRow("1/2", 12000, 20800, 17000, 12000, 31200, 25500, 18000),
    UsChainRow("5/8", 18100, 31300, 25600, 18100, 47000, 38400, 27100),
    UsChainRow("3/4", 28300, 49000, 40000, 28300, 73500, 60000, 42400),
    UsChainRow("7/8", 34200, 59200, 48400, 34200, 88900, 72500, 51300),
    UsChainRow("1", 47700, 82600, 67400, 47700, 123900, 101200, 71500),
    UsChainRow("1-1/4", 72300, 125200, 102200, 72300, 187800, 153400, 108400),
)


@dataclass(frozen=True)
class TableRating:
    """A rated load read from a published table, with the edition to print beside it."""

    value: FloatArray
    unit: Literal["t", "lb"]
    column: str
    edition: Edition


def sling_table_wll(
    table: SlingTable,
    size_mm: float,
    *,
    legs: Literal[1, 2, 3, 4] = 1,
    angle_from_vertical_deg: ArrayLike = 0.0,
) -> TableRating:
    """Working load limit of a sling of 1 to 4 legs from a European table.

    Parameters:
      table: SlingTable
      size_mm: float. Nominal size, exactly as listed. [mm]
      legs: {1, 2, 3, 4}
      angle_from_vertical_deg: array_like, shape (...), 0 to 60. [deg] Greatest angle of any leg;
        one leg must hang plumb (0).
    Returns: TableRating. Limit of the whole sling [t] for a uniformly shared load.
    Raises: Size not listed; legs not 1 to 4; angle outside 0 to 60, or not 0 for one leg.
    Source: The table's own edition.
    """
    row = table.row(size_mm)
    angle = require_between(
        "angle_from_vertical_deg", angle_from_vertical_deg, 0.0, MAX_LEG_ANGLE_DEG
    )
    steep = angle <= 45.0
    if legs == 1:
        require_between("angle_from_vertical_deg of one leg", angle, 0.0, 0.0)
        return TableRating(np.full(angle.shape, row.wll_one_leg_t), "t", "one leg", table.edition)
    if legs == 2:
        value = np.where(steep, row.wll_two_leg_0_45_t, row.wll_two_leg_45_60_t)
    elif legs in (3, 4):
        value = np.where(steep, row.wll_three_four_leg_0_45_t, row.wll_three_four_leg_45_60_t)
    else:
        raise InputError.of("legs", legs, "1, 2, 3 or 4")
    return TableRating(value, "t", f"{legs} legs, by angle 0-45 or 45-60", table.edition)


def us_chain_rating(
    size_in: str,
    *,
    legs: Literal[1, 2, 3, 4] = 1,
    angle_from_horizontal_deg: ArrayLike = 90.0,
) -> TableRating:
    """Rated load of a grade 80 chain sling from the US table.

    Parameters:
      size_in: str. Nominal size in inches, as listed (``"3/8"``).
      legs: {1, 2, 3, 4}
      angle_from_horizontal_deg: array_like, shape (...), 30 to 90. [deg] Least angle of any leg;
        one leg must hang plumb (90).
    Returns: TableRating. Rated load of the whole sling [lb], from the column of the next flatter
      angle listed.
    Raises: Size not listed; legs not 1 to 4; angle outside 30 to 90, or not 90 for one leg.
    Source: ASME B30.9, grade 80 (seen; triple and quad columns count three legs).
    """
    row = next((r for r in CHAIN_SLINGS_GRADE_80_US if r.size_in == size_in), None)
    if row is None:
        raise InputError.of(
            "size_in", size_in, ", ".join(r.size_in for r in CHAIN_SLINGS_GRADE_80_US)
        )
    angle = require_between("angle_from_horizontal_deg", angle_from_horizontal_deg, 30.0, 90.0)
    if legs == 1:
        require_between("angle_from_horizontal_deg of one leg", angle, 90.0, 90.0)
        value = np.full(angle.shape, float(row.single_90deg_lb))
    elif legs == 2:
        value = _by_angle(angle, row.double_60deg_lb, row.double_45deg_lb, row.double_30deg_lb)
    elif legs in (3, 4):
        value = _by_angle(
            angle, row.triple_quad_60deg_lb, row.triple_quad_45deg_lb, row.triple_quad_30deg_lb
        )
    else:
        raise InputError.of("legs", legs, "1, 2, 3 or 4")
    return TableRating(value, "lb", f"{legs} legs, next flatter angle listed", ASME_B30_9_CHAIN)


def _by_angle(angle: FloatArray, at_60: float, at_45: float, at_30: float) -> FloatArray:
    return np.asarray(
        np.where(angle >= 60.0, at_60, np.where(angle >= 45.0, at_45, at_30)), dtype=np.float64
    )
