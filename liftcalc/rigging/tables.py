"""Published sling tables and factors with edition and owner, and the uniform load method.

Tables differ by edition and owner: every value travels with its :class:`Edition`, and both are
to be printed beside it. A table is read on the safe side: no interpolation, next worse column.

Sources: EN 13414-1:2003 Table 4 (seen in two public copies); EN 818-4 grade 8, second-hand (a reprint that states no
edition). Only the sizes seen are listed: they stand in ``tables.csv`` beside this module. Leg factors of EN
13414-1:2003 (seen), EN 818-4 and EN 1492 (second-hand). EN 818-6: the four conditions for a load to count as
symmetrical (first two seen as reprinted, the others from memory).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive
from liftcalc.base.files import rows_beside

MAX_LEG_ANGLE_DEG = 60.0
"""Maximum angle of a sling leg from the vertical: no published table goes further. [deg]"""


@dataclass(frozen=True)
class Edition:
    """Which document a value comes from: print it beside the value."""

    owner: str
    document: str
    edition: str
    section: str
    verification: Literal["seen", "second-hand", "memory"]
    note: str = ""

    def __str__(self) -> str:
        return f"{self.document}, {self.edition}, {self.section} ({self.owner})"


EN_13414_1 = Edition(
    "CEN", "EN 13414-1", "2003", "Table 4: ferrule-secured eyes, steel core", "seen",
    "Seen in two public copies. Soft eyes over pins of at least twice the rope diameter.",
)  # fmt: skip
"""Edition of the wire rope slings."""
EN_818_4 = Edition(
    "CEN", "EN 818-4", "edition not stated in the reprint seen",
    "grade 8 chain slings, uniform load method", "second-hand",
    "Read in a reprint. Holds for a symmetrical load only (EN 818-6).",
)  # fmt: skip
"""Edition of the chain slings."""
EN_1492 = Edition(
    "CEN", "EN 1492-1 and EN 1492-2", "edition not stated where it was quoted",
    "mode factors of textile slings", "second-hand",
)  # fmt: skip
"""Edition of the textile slings."""
ASME_B30_9_CHOKE = Edition(
    "ASME", "ASME B30.9", "edition not seen", "wire rope slings: rating by angle of choke", "memory"
)
"""Edition of the choker bands."""
ASME_B30_26 = Edition(
    "ASME", "ASME B30.26", "edition not stated where it was quoted",
    "side loading of screw-pin and bolt-type shackles", "second-hand",
    "Bands 0-5, 6-45, 46-90 degrees as in WAC 296-155-33905 (Washington State), seen.",
)  # fmt: skip
"""Edition of the shackles."""
BEND_EFFICIENCY = Edition(
    "US Department of Energy", "rigging handbook material, as in DOE-STD-1090", "edition not seen",
    "bend efficiency of wire rope by D/d", "memory",
)  # fmt: skip
"""Edition of the bend efficiency."""


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


def _rows(sling: str) -> tuple[SlingTableRow, ...]:
    mine = (row for row in rows_beside(__file__) if row.pop("sling") == sling)
    return tuple(SlingTableRow(*map(float, row.values())) for row in mine)


WIRE_ROPE_SLINGS_EN = SlingTable("wire rope slings, ferrule-secured eyes, steel core", EN_13414_1, _rows("wire rope"))
"""Working load limits [t]; angles of the sling legs from the vertical [deg]. Columns: size [mm] |
one leg | two legs 0-45 | two legs 45-60 | three or four 0-45 | three or four 45-60 | endless,
choked."""
CHAIN_SLINGS_GRADE_8_EN = SlingTable("chain slings, grade 8", EN_818_4, _rows("chain"))
"""Working load limits [t]; angles of the sling legs from the vertical [deg]. Columns: size [mm] |
one leg | two legs 0-45 | two legs 45-60 | three or four 0-45 | three or four 45-60 | endless,
choked."""


@dataclass(frozen=True)
class TableRating:
    """A rated load read from a published table, with the edition to print beside it."""

    value: FloatArray
    unit: Literal["t", "lb"]
    column: str
    edition: Edition


def sling_table_wll(
    table: SlingTable, size_mm: float, *, legs: Literal[1, 2, 3, 4] = 1, angle_from_vertical_deg: ArrayLike = 0.0
) -> TableRating:
    """Working load limit of a sling of 1 to 4 legs from a European table.

    Parameters:
      size_mm: Nominal size, exactly as listed. [mm]
      legs: {1, 2, 3, 4}
      angle_from_vertical_deg: 0 to 60. [deg] Greatest angle of any leg; one leg must hang plumb (0).
    Returns: TableRating. Limit of the whole sling [t] for a uniformly shared load.
    Raises: Size not listed; legs not 1 to 4; angle outside 0 to 60, or not 0 for one leg.
    Source: The table's own edition.
    """
    row = table.row(size_mm)
    angle = require_between("angle_from_vertical_deg", angle_from_vertical_deg, 0.0, MAX_LEG_ANGLE_DEG)
    steep = angle <= 45.0
    if legs == 1:
        require_between("angle_from_vertical_deg of one sling leg", angle, 0.0, 0.0)
        value = np.full(angle.shape, row.wll_one_leg_t)
        return TableRating(value, "t", "one sling leg", table.edition)
    if legs == 2:
        value = np.where(steep, row.wll_two_leg_0_45_t, row.wll_two_leg_45_60_t)
    elif legs in (3, 4):
        value = np.where(steep, row.wll_three_four_leg_0_45_t, row.wll_three_four_leg_45_60_t)
    else:
        raise InputError.of("legs", legs, "1, 2, 3 or 4")
    return TableRating(value, "t", f"{legs} sling legs, by angle 0-45 or 45-60", table.edition)


MAX_SHARE_OF_WLL = 0.8
"""Load over the marked limit, below which the load may count as symmetrical."""
MIN_ANGLE_DEG, MAX_SPREAD_DEG = 15.0, 15.0
"""Sling legs from the plumb line at least; their angles, and gaps in plan, alike within. [deg]"""


@dataclass(frozen=True)
class UniformLoad:
    """Whether a load counts as symmetrical, and the figure behind each condition."""

    share_of_wll: FloatArray
    least_angle_deg: FloatArray
    angle_spread_deg: FloatArray
    plan_gap_spread_deg: FloatArray
    applies: NDArray[np.bool_]


def uniform_load_applies(
    load_t: ArrayLike, wll_t: ArrayLike, *, angle_from_vertical_deg: ArrayLike, plan_angle_deg: ArrayLike
) -> UniformLoad:
    """Whether the load on a sling of 2 to 4 legs counts as symmetrical by EN 818-6.

    Parameters:
      load_t, wll_t: > 0. [t] Load, and marked limit of the whole sling.
      angle_from_vertical_deg: shape (..., n), n = 2 to 4. [deg]
      plan_angle_deg: shape (..., n). [deg] Direction of each leg in plan, from the hook to the lug, any zero.
    Returns: UniformLoad. ``applies`` where the load is below 80 % of the limit, every leg at least
      15 degrees from the plumb line, the legs' angles within 15 degrees of each other, and for
      three and four legs the gaps between legs in plan that face each other within 15 degrees
      (three legs: all gaps; four legs: opposite gaps). Where it does not apply, use statics.
    Raises: Anything not finite or of another shape; angle outside 0 to 60.
    Source: EN 818-6:2000+A1:2008 (first two conditions seen as reprinted, the others from memory).
    """
    load = require_positive("load_t", load_t)
    wll = require_positive("wll_t", wll_t)
    angle = require_between("angle_from_vertical_deg", angle_from_vertical_deg, 0.0, MAX_LEG_ANGLE_DEG)
    plan = require_finite("plan_angle_deg", plan_angle_deg)
    legs = angle.shape[-1] if angle.ndim else 0
    if legs not in (2, 3, 4) or plan.ndim == 0 or plan.shape[-1] != legs:
        raise InputError.of("angle_from_vertical_deg", angle.shape, "2 to 4 sling legs, as many plan angles")
    ordered = np.sort(np.mod(plan, 360.0), axis=-1)
    gaps = np.diff(ordered, axis=-1, append=ordered[..., :1] + 360.0)
    if legs == 4:
        facing = np.abs(gaps[..., :2] - gaps[..., 2:])
        spread = facing.max(axis=-1)
    else:
        spread = gaps.max(axis=-1) - gaps.min(axis=-1)
    share = load / wll
    least = angle.min(axis=-1)
    angle_spread = angle.max(axis=-1) - least
    ok = (share < MAX_SHARE_OF_WLL) & (least >= MIN_ANGLE_DEG) & (angle_spread <= MAX_SPREAD_DEG)
    if legs > 2:
        ok = ok & (spread <= MAX_SPREAD_DEG)
    return UniformLoad(
        share_of_wll=np.asarray(share), least_angle_deg=np.asarray(least),
        angle_spread_deg=np.asarray(angle_spread), plan_gap_spread_deg=np.asarray(spread), applies=np.asarray(ok),
    )  # fmt: skip
