"""Presumptive (published, untested) allowable pressures, each with its owner and limits.

A table gives a value for a soil somebody named by eye. The lower end of a printed range is
taken; a row with only an upper bound gives no value.

Sources: International Building Code 2012, Table 1806.2 (read in public reprints). FHWA-SA-02-054 (GEC 6, 2002) Tables
5-7 (rock, after NAVFAC DM-7.02 1986) and 5-10 (compacted fill), read in the transcription of the package
geotech-references 1.4.1, with which the tests compare: source and reference are one transcription. NAVFAC DM-7.02
(1986) Chapter 4 Table 1, soil rows, and BS 8004:1986 Table 1: from memory. Massachusetts state building code Table
1804.1, a Canadian small-building table (believed to be National Building Code 9.4.4.1) and 24 CFR 3285.202: read in
public reprints as marked. Tables and rows stand in ``presumptive*.csv`` beside this module, in the unit of the print; a
row from memory is marked "memory".
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, cast

from liftcalc.base.errors import InputError, require_non_negative, require_positive
from liftcalc.base.files import rows_beside
from liftcalc.base.units import to_si

TableName = Literal[
    "ibc-1806.2", "gec6-rock", "gec6-fill", "navfac-soil", "bs8004", "massachusetts-1804.1",
    "canada-9.4.4.1", "24cfr3285",
]  # fmt: skip
Verification = Literal["seen", "memory"]

PRESUMPTIVE_WARNING = (
    "Presumptive value: the ground was named, not measured. It holds for level, undisturbed, "
    "uniform ground under a vertical load without voids, fill, services or a weaker layer below. "
    "Prove it by a test on site; a competent person must accept it."
)
"""Stands beside every presumptive value."""


@dataclass(frozen=True)
class PresumptiveRow:
    """One printed row. low, high: the printed range; a missing end was not printed."""

    table: TableName
    soil_class: str
    consistency: str
    low_kPa: float | None
    high_kPa: float | None
    recommended_kPa: float | None
    printed: str
    verification: Verification


@dataclass(frozen=True)
class _Table:
    owner: str
    edition: str
    limits: tuple[str, ...]
    min_width_m: float
    water_clear_of_base: bool


PRESUMPTIVE_TABLES: dict[TableName, _Table] = {
    cast(TableName, row["table"]): _Table(
        row["owner"], row["edition"], tuple(row["limits"].split("|")),
        float(row["min_width_m"] or 0.0), bool(row["water_clear_of_base"]),
    )
    for row in rows_beside(__file__, ".tables.csv")
}  # fmt: skip
"""Columns: table | owner | edition | limits | minimum width [m] | water clear of the base."""


def _psf(value: float) -> float:
    return float(to_si(value, "pressure_kPa", "us"))


_IN_KPA: dict[str, Callable[[float], float]] = {
    "psf": _psf, "tsf": lambda value: _psf(2000 * value), "kPa": float,
    "MPa": lambda value: 1000.0 * value,
}  # fmt: skip


def _row(cells: dict[str, str]) -> PresumptiveRow:
    """A row of the file of the tables, its numbers as they are printed there."""
    unit, names = _IN_KPA[cells["unit"]], ("low", "high", "recommended")
    low, high, recommended = (unit(float(cells[n])) if cells[n] else None for n in names)
    return PresumptiveRow(
        cast(TableName, cells["table"]), cells["soil_class"], cells["consistency"], low, high,
        recommended, cells["printed"], cast(Verification, cells["verification"]),
    )  # fmt: skip


PRESUMPTIVE: tuple[PresumptiveRow, ...] = tuple(map(_row, rows_beside(__file__)))
"""Every row. Columns: table | soil class | consistency | low [kPa] | high [kPa] | recommended [kPa]
| as printed | read or from memory."""


@dataclass(frozen=True)
class PresumptivePressure:
    """A presumptive value as it should stand on the sheet."""

    allowable_kPa: float
    row: PresumptiveRow
    owner: str
    edition: str
    limits: tuple[str, ...]
    source: str
    """Owner and edition as a sheet cites them, and whether the value is from memory."""


def presumptive_rows(table: TableName) -> tuple[PresumptiveRow, ...]:
    """Rows of one ``table``, in printed order.

    Raises: A table of another name.
    """
    if table not in PRESUMPTIVE_TABLES:
        raise InputError.of("table", table, ", ".join(PRESUMPTIVE_TABLES))
    return tuple(row for row in PRESUMPTIVE if row.table == table)


def presumptive_pressure(
    table: TableName, soil_class: str, *, consistency: str = "", width_m: float, water_below_base_m: float | None = None
) -> PresumptivePressure:
    """Presumptive allowable pressure of a published table.

    Parameters:
      table, soil_class, consistency: As in :func:`presumptive_rows`; "soil class / consistency" in one is accepted.
      width_m: > 0. Width of the mat. [m]
      water_below_base_m: optional. Depth of water below the mat; needed where the table asks for it. [m]
    Raises: No such row; a mat narrower than the table covers; water too near or unknown where the
      table is for dry ground; a row that prints only an upper bound.
    Source: See the module. No value is raised for short duration or for depth.
    """
    rows = presumptive_rows(table)
    about = PRESUMPTIVE_TABLES[table]
    if not consistency and " / " in soil_class:
        soil_class, consistency = soil_class.rsplit(" / ", 1)
    found = [r for r in rows if r.soil_class == soil_class and r.consistency == consistency]
    if not found:
        near = "; ".join(f"{r.soil_class} / {r.consistency}".rstrip(" /") for r in rows)
        asked = f"{soil_class} / {consistency}".rstrip(" /")
        raise InputError.of(f"name in presumptive table {table}", asked, near)
    row = found[0]
    width = float(require_positive("width_m", width_m))
    granular = "gravel" in row.soil_class or "sand" in row.soil_class.replace("sandstone", "")
    if width < about.min_width_m and (granular or table == "navfac-soil"):
        need = f"at least {about.min_width_m:g} m in {about.edition}"
        remedy = "Use a bearing capacity calculation or a wider mat."
        raise InputError.of("width_m", width, need, remedy)
    if about.water_clear_of_base and granular:
        if water_below_base_m is None:
            raise InputError.of("water_below_base_m", None, "a measured depth for this table")
        water = float(require_non_negative("water_below_base_m", water_below_base_m))
        if water < width:
            need = f"at least one mat width ({width:g} m)"
            remedy = "The table is for dry ground: calculate with the water level instead."
            raise InputError.of("water_below_base_m", water, need, remedy)
    if row.low_kPa is None:
        need = "a row that prints a lower value"
        remedy = "Test the ground and calculate."
        raise InputError.of(f"{row.soil_class}", row.printed, need, remedy)
    source = f"{about.owner}, {about.edition}"
    if row.verification == "memory":
        source += "; value from memory: look it up"
    return PresumptivePressure(row.low_kPa, row, about.owner, about.edition, about.limits, source)
