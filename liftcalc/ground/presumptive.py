"""Presumptive (published, untested) allowable pressures, each with its owner and limits.

A table gives a value for a soil somebody named by eye. The lower end of a printed range is
taken; a row with only an upper bound gives no value.

Sources: International Building Code 2012, Table 1806.2 (read in public reprints). FHWA-SA-02-054
(GEC 6, 2002) Tables 5-7 (rock, after NAVFAC DM-7.02 1986) and 5-10 (compacted fill), read in the
transcription of the package geotech-references 1.4.1, with which the tests compare: source and
reference are one transcription. NAVFAC DM-7.02 (1986) Chapter 4 Table 1, soil rows, and BS
8004:1986 Table 1: from memory. Massachusetts state building code Table 1804.1, a Canadian
small-building table (believed to be National Building Code 9.4.4.1) and 24 CFR 3285.202: read in
public reprints as marked. A row added from memory is marked "memory".
"""

from dataclasses import dataclass
from functools import partial
from typing import Literal

from liftcalc.base.errors import InputError, require_non_negative, require_positive
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
    min_width_m: float = 0.0
    water_clear_of_base: bool = False


PRESUMPTIVE_TABLES: dict[TableName, _Table] = {
    "ibc-1806.2": _Table(
        "International Code Council", "International Building Code 2012, Table 1806.2",
        ("Not for mud, organic silt or clay, peat or unprepared fill.",),
    ),
    "gec6-rock": _Table(
        "FHWA, after NAVFAC", "FHWA-SA-02-054 (GEC 6, 2002) Table 5-7, after DM-7.02 (1986)",
        ("Rock sound as named; less where fractured, and never above its compressive strength.",),
    ),
    "gec6-fill": _Table(
        "US state road agencies", "FHWA-SA-02-054 (GEC 6, 2002) Table 5-10",
        ("Compacted and tested structural fill only; settlement as each agency accepts it.",),
    ),
    "navfac-soil": _Table(
        "NAVFAC", "DM-7.02 (1986) Chapter 4 Table 1",
        ("Base wider than 0.9 m; reduce for water near the base and weak lower layers.",),
        min_width_m=0.9,
    ),
    "bs8004": _Table(
        "BSI", "BS 8004:1986 Table 1 (withdrawn)",
        (
            "Static vertical load.",
            "Granular soils: base at least 1 m wide, water at least one width below the base.",
            "Clays and silts settle with time.",
        ),
        min_width_m=1.0, water_clear_of_base=True,
    ),
    "massachusetts-1804.1": _Table(
        "Commonwealth of Massachusetts",
        "State building code Table 1804.1 (reprint, edition unknown)",
        ("Not for loose granular soil, soft clay, fill or organic soil.",),
    ),
    "canada-9.4.4.1": _Table(
        "National Research Council Canada", "Small-building table, believed to be NBC 9.4.4.1",
        ("Small buildings on undisturbed soil.",),
    ),
    "24cfr3285": _Table(
        "US HUD", "24 CFR 3285.202",
        ("Manufactured homes; not for peat, organic clay or uncompacted fill.",),
    ),
}  # fmt: skip
"""Columns: table | owner | edition | limits | minimum width [m] | water clear of the base."""


def _psf(value: float) -> float:
    return float(to_si(value, "pressure_kPa", "us"))


def _max(
    table: TableName, soil: str, most: float, seen: Verification = "seen", unit: str = "psf"
) -> PresumptiveRow:
    kPa = {"psf": _psf(most), "tsf": _psf(2000 * most), "kPa": most}[unit]
    return PresumptiveRow(table, soil, "", kPa, kPa, kPa, f"{most:g} {unit}", seen)


def _range(rock: bool, soil: str, consistency: str, *values: float) -> PresumptiveRow:
    """Low, high and recommended: of rock in MPa (GEC 6), of soil in tsf (NAVFAC)."""
    table: TableName = "gec6-rock" if rock else "navfac-soil"
    printed = "{:g} to {:g}, recommended {:g} ".format(*values) + ("MPa" if rock else "tsf")
    low, high, rec = (v * 1000.0 if rock else _psf(2000 * v) for v in values)
    seen: Verification = "seen" if rock else "memory"
    return PresumptiveRow(table, soil, consistency, low, high, rec, printed, seen)


_rock, _navfac = partial(_range, True), partial(_range, False)
_metric_max = partial(_max, unit="kPa")
_mass = partial(_max, "massachusetts-1804.1", unit="tsf")


def _bs(soil: str, low: float | None, high: float | None) -> PresumptiveRow:
    if low is None:
        printed = f"below {high:g} kPa"
    elif high is None:
        printed = f"above {low:g} kPa"
    else:
        printed = f"{low:g} to {high:g} kPa" if low < high else f"{low:g} kPa"
    return PresumptiveRow("bs8004", soil, "", low, high, None, printed, "memory")


_GRAVEL = "gravel, gravel-sand, boulder-gravel (GW, GP, SW, SP)"
_SAND = "coarse to medium sand, sand with little gravel (SW, SP)"
_FINE_SAND = "fine to medium sand, silty or clayey medium to coarse sand (SW, SM, SC)"
_CLAY = "homogeneous inorganic clay, sandy or silty clay (CL, CH)"
_SILT = "inorganic silt, sandy or clayey silt, varved (ML, MH)"

PRESUMPTIVE: tuple[PresumptiveRow, ...] = (
    _max("ibc-1806.2", "crystalline bedrock", 12000),
    _max("ibc-1806.2", "sedimentary and foliated rock", 4000),
    _max("ibc-1806.2", "sandy gravel and gravel (GW, GP)", 3000, "memory"),
    _max("ibc-1806.2",
         "sand, silty sand, clayey sand, silty gravel, clayey gravel (SW, SP, SM, SC, GM, GC)",
         2000),
    _max("ibc-1806.2",
         "clay, sandy clay, silty clay, clayey silt, silt, sandy silt (CL, ML, MH, CH)", 1500),
    _rock("massive crystalline igneous and metamorphic rock, sound", "hard sound rock",
          5.8, 9.6, 7.7),
    _rock("foliated metamorphic rock, sound", "medium hard sound rock", 2.9, 3.8, 3.4),
    _rock("sedimentary rock, hard cemented, sound", "medium hard sound rock", 1.4, 2.4, 1.9),
    _rock("weathered or broken bedrock except shale", "soft rock", 0.8, 1.2, 1.0),
    _rock("compaction shale or argillaceous rock, sound", "soft rock", 0.8, 1.2, 1.0),
    _metric_max("gec6-fill", "compacted gravel borrow (Washington)", 290),
    _metric_max("gec6-fill", "compacted type 1A aggregate base (Nevada)", 190),
    _metric_max("gec6-fill", "compacted granular material class III (Michigan)", 170),
    _navfac("well graded fine and coarse mixture: till, hardpan, boulder clay (GW-GC, GC, SC)",
            "very compact", 8, 12, 10),
    _navfac(_GRAVEL, "very compact", 6, 10, 7),
    _navfac(_GRAVEL, "medium to compact", 4, 7, 5),
    _navfac(_GRAVEL, "loose", 2, 6, 3),
    _navfac(_SAND, "very compact", 4, 6, 4),
    _navfac(_SAND, "medium to compact", 2, 4, 3),
    _navfac(_SAND, "loose", 1, 3, 1.5),
    _navfac(_FINE_SAND, "very compact", 3, 5, 3),
    _navfac(_FINE_SAND, "medium to compact", 2, 4, 2.5),
    _navfac(_FINE_SAND, "loose", 1, 2, 1.5),
    _navfac(_CLAY, "very stiff to hard", 3, 6, 4),
    _navfac(_CLAY, "medium to stiff", 1, 3, 2),
    _navfac(_CLAY, "soft", 0.5, 1, 0.5),
    _navfac(_SILT, "very stiff to hard", 2, 4, 3),
    _navfac(_SILT, "medium to stiff", 1, 3, 1.5),
    _navfac(_SILT, "soft", 0.5, 1, 0.5),
    _bs("strong igneous and gneissic rocks in sound condition", 10000, 10000),
    _bs("strong limestones and strong sandstones", 4000, 4000),
    _bs("schists and slates", 3000, 3000),
    _bs("strong shales, mudstones and siltstones", 2000, 2000),
    _bs("dense gravel, or dense sand and gravel", 600, None),
    _bs("medium dense gravel, or medium dense sand and gravel", 200, 600),
    _bs("loose gravel, or loose sand and gravel", None, 200),
    _bs("compact sand", 300, None),
    _bs("medium dense sand", 100, 300),
    _bs("loose sand", None, 100),
    _bs("very stiff boulder clays and hard clays", 300, 600),
    _bs("stiff clays", 150, 300),
    _bs("firm clays", 75, 150),
    _bs("soft clays and silts", None, 75),
    _mass("sandy gravel and gravel, dense", 10),
    _mass("sandy gravel and gravel, medium", 6),
    _mass("granular soils, dense", 6),
    _mass("granular soils, medium", 3),
    _mass("clay, hard", 5),
    _mass("clay, stiff", 3),
    _mass("clay, medium", 2),
    _mass("silt, dense", 3),
    _mass("silt, medium", 1.5),
    _metric_max("canada-9.4.4.1", "dense or compact sand or gravel", 150),
    _metric_max("canada-9.4.4.1", "loose sand or gravel", 50),
    _metric_max("canada-9.4.4.1", "dense or compact silt", 100, "memory"),
    _metric_max("canada-9.4.4.1", "stiff clay", 150),
    _metric_max("canada-9.4.4.1", "firm clay", 75),
    _metric_max("canada-9.4.4.1", "soft clay", 40, "memory"),
    _metric_max("canada-9.4.4.1", "till", 200),
    _metric_max("canada-9.4.4.1", "clay shale", 300),
    _metric_max("canada-9.4.4.1", "sound rock", 500, "memory"),
    _max("24cfr3285", "rock or hard pan", 4000),
    _max("24cfr3285", "sandy gravel and gravel, very dense sand, preloaded silt, clay", 2000),
    _max("24cfr3285", "sand, silty or clayey sand, silty gravel, very stiff silt, sand clay", 1500,
         "memory"),
)  # fmt: skip
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
    """Rows of one table, in printed order.

    Parameters:
      table: One of :data:`TableName`.
    Raises: A table of another name.
    """
    if table not in PRESUMPTIVE_TABLES:
        raise InputError.of("table", table, ", ".join(PRESUMPTIVE_TABLES))
    return tuple(row for row in PRESUMPTIVE if row.table == table)


def presumptive_pressure(
    table: TableName,
    soil_class: str,
    *,
    consistency: str = "",
    width_m: float,
    water_below_base_m: float | None = None,
) -> PresumptivePressure:
    """Presumptive allowable pressure of a published table.

    Parameters:
      table, soil_class, consistency: As in :func:`presumptive_rows`; "soil class / consistency" in
        one is accepted.
      width_m: > 0. Width of the mat. [m]
      water_below_base_m: optional. Depth of water below the mat; needed where the table asks for
        it. [m]
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
        raise InputError.of(
            "width_m", width, f"at least {about.min_width_m:g} m in {about.edition}",
            "Use a bearing capacity calculation or a wider mat.",
        )  # fmt: skip
    if about.water_clear_of_base and granular:
        if water_below_base_m is None:
            raise InputError.of("water_below_base_m", None, "a measured depth for this table")
        water = float(require_non_negative("water_below_base_m", water_below_base_m))
        if water < width:
            raise InputError.of(
                "water_below_base_m", water, f"at least one mat width ({width:g} m)",
                "The table is for dry ground: calculate with the water level instead.",
            )  # fmt: skip
    if row.low_kPa is None:
        raise InputError.of(
            f"{row.soil_class}", row.printed, "a row that prints a lower value",
            "Test the ground and calculate.",
        )  # fmt: skip
    source = f"{about.owner}, {about.edition}"
    if row.verification == "memory":
        source += "; value from memory: look it up"
    return PresumptivePressure(row.low_kPa, row, about.owner, about.edition, about.limits, source)
