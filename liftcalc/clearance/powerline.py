"""Overhead lines: required distance by voltage, study zones, and the sagging line in space.

Conventions
-----------
Site frame: easting, northing, level in metres. Voltages are nominal alternating current between phases. Tables are kept
in the unit of their source (feet are exactly 0.3048 m). A voltage that a table does not cover is refused, never
extrapolated: there the utility or an engineer sets the distance and it is a row of the owner's table.

Sources: US 29 CFR 1926.1408 Table A and 1926.1409 (text seen in a public copy), 1926.1411 Table T
(second-hand, a reprint), US 30 CFR 77.807-2 (seen in a public copy). DIN VDE 0105-100 as accident
insurers print it (seen in excerpts). UK HSE guidance GS6: the exclusion distances are from memory,
confirm before use. Catenary: statics of a hanging cord, as in any textbook of mechanics; the form for supports at two
levels is derived in :func:`catenary_constant_m`.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.base.units import G_M_S2
from liftcalc.wind.pressure import dynamic_pressure_kPa

_FT = 0.3048


@dataclass(frozen=True)
class DistanceTable:
    """Required distance by voltage band, in rising order.

    Parameters:
      name, source, verification: What it is, where it comes from, and how far it was verified
        (``seen``, ``second-hand``, ``memory``, or the user's own word).
      limit_kV: The voltage that closes each band (``limit_belongs_to="lower"``: the limit itself is
        in the band it closes) or opens the next (``"upper"``). [kV]
      distance_m: Required distance in each band. Same length as *limit_kV*. [m]
      limit_belongs_to: Which band holds a voltage equal to a limit.
      unknown_m: Distance that the text sets where the voltage is not known; None: no distance. [m]
      swing_counts: Whether the text asks that the conductor's swing in the wind be added.
    """

    name: str
    source: str
    verification: str
    limit_kV: tuple[float, ...]
    distance_m: tuple[float, ...]
    limit_belongs_to: Literal["lower", "upper"] = "lower"
    unknown_m: float | None = None
    swing_counts: bool = False

    def __post_init__(self) -> None:
        problems: list[errors.Problem] = []
        limit = np.asarray(self.limit_kV, dtype=float)
        distance = np.asarray(self.distance_m, dtype=float)

        def wrong(name: str, allowed: str) -> None:
            problems.append(errors.Problem(name, getattr(self, name), allowed))

        if limit.size == 0 or limit.size != distance.size:
            wrong("limit_kV", "one limit for each distance, at least one row")
        elif not (np.all(limit > 0) and np.all(np.diff(limit) > 0)):
            wrong("limit_kV", "rising voltages above 0")
        if not (np.all(distance > 0) and np.all(np.isfinite(distance))):
            wrong("distance_m", "finite distances above 0")
        elif distance.size > 1 and not np.all(np.diff(distance) >= 0):
            wrong("distance_m", "distances that do not fall with voltage")
        if problems:
            raise InputError(problems, source=self.name)


TABLE_A = DistanceTable(
    "29 CFR 1926.1408 Table A", "US 29 CFR 1926.1408 Table A, equipment operations", "seen",
    (50.0, 200.0, 350.0, 500.0, 750.0, 1000.0), tuple(ft * _FT for ft in (10, 15, 20, 25, 35, 45)),
)  # fmt: skip
"""Distances by voltage; the table that a job takes unless its owner states rows of his own."""
TABLE_T = DistanceTable(
    "29 CFR 1926.1411 Table T",
    "US 29 CFR 1926.1411 Table T, travelling without load, boom lowered", "second-hand",
    (0.75, 50.0, 345.0, 750.0, 1000.0), tuple(ft * _FT for ft in (4, 6, 10, 16, 20)),
)  # fmt: skip
"""Distances by voltage while the machine travels without load, its boom lowered."""
US_COAL_SURFACE = DistanceTable(
    "30 CFR 77.807-2",
    "US 30 CFR 77.807-2, booms and masts near energized overhead lines, surface coal mines; "
    "the last row (500 kV and more) is closed at 1000 kV here",
    "seen",
    (69.0, 115.0, 230.0, 345.0, 500.0, 1000.0),
    tuple(ft * _FT for ft in (10, 12, 15, 20, 25, 35)),
    "upper",
)
"""Distances by voltage in surface coal mines."""
UK_GS6 = DistanceTable(
    "HSE GS6",
    "UK HSE guidance GS6 (4th edition): low voltage 1 m, 11 and 33 kV 3 m, 132 kV 6 m, "
    "275 and 400 kV 7 m; a voltage between two rows takes the larger distance",
    "memory",
    (1.0, 33.0, 132.0, 400.0),
    (1.0, 3.0, 6.0, 7.0),
)
"""Distances by voltage in the United Kingdom."""
DIN_VDE_0105 = DistanceTable(
    "DIN VDE 0105-100",
    "DIN VDE 0105-100 as printed by accident insurers: 1, 3, 4 and 5 m up to 1, 110, 220 and "
    "380 kV, 5 m where the voltage is unknown; blow-out of the conductors by wind counts",
    "seen",
    (1.0, 110.0, 220.0, 380.0),
    (1.0, 3.0, 4.0, 5.0),
    unknown_m=5.0,
    swing_counts=True,
)
"""Distances by voltage in Germany."""
TABLES = {t.name: t for t in (TABLE_A, TABLE_T, US_COAL_SURFACE, UK_GS6, DIN_VDE_0105)}
"""Columns: name | table."""


def required_distance_m(voltage_kV: ArrayLike, *, table: DistanceTable = TABLE_A) -> FloatArray:
    """Least distance that any part of machine, rigging or load must keep from a line.

    Parameters:
      voltage_kV: > 0. Nominal voltage, alternating current. [kV]
      table: One of :data:`TABLES`, or a user's own.
    Returns: ndarray, shape (...): required distance. [m]
    Raises: Voltage not positive (also NaN: an unknown voltage has no required distance), or above the table.
    Source: See the table's own ``source`` and ``verification``.
    """
    voltage = require_positive("voltage_kV", voltage_kV)
    side: Literal["left", "right"] = "left" if table.limit_belongs_to == "lower" else "right"
    band = np.searchsorted(np.asarray(table.limit_kV), voltage, side=side)
    if np.any(band >= len(table.limit_kV)):
        remedy = "Ask the utility or a registered engineer for the distance and give it as a row "
        remedy += "of rules.clearance.power_line_owner_rows in the job."
        limit = f"up to {table.limit_kV[-1]:g} kV in {table.name}"
        raise InputError.of("voltage_kV", float(np.max(voltage)), limit, remedy)
    return np.asarray(np.asarray(table.distance_m)[band], dtype=np.float64)


def study_zone_m(voltage_kV: ArrayLike) -> FloatArray:
    """Distance from the work zone within which the power-line steps of US law begin.

    Parameters:
      voltage_kV: > 0 and at most 1000. Nominal voltage, alternating current. [kV]
    Returns: ndarray, shape (...): 20 ft up to 350 kV, 50 ft above. [m]
    Raises: Voltage not positive or above 1000 kV (then the utility or an engineer sets it).
    Source: US 29 CFR 1926.1408(a) and 1926.1409(a).
    """
    voltage = require_positive("voltage_kV", voltage_kV)
    if not np.all(voltage <= 1000.0):
        remedy = "Above that the utility or a registered engineer sets the distance."
        raise InputError.of("voltage_kV", float(np.max(voltage)), "up to 1000 kV", remedy)
    return np.where(voltage > 350.0, 50.0 * _FT, 20.0 * _FT)


def distances_for_persons(table: DistanceTable) -> DistanceTable:
    """The same table while persons are lifted: 20 ft up to 350 kV and 50 ft above at least.

    A band that holds voltages on both sides of 350 kV takes 50 ft.

    Parameters:
      table: One of :data:`TABLES`, or a user's own.
    Source: US 29 CFR 1926.1431(n), from memory: persons are not hoisted within 20 ft of a line of
      up to 350 kV or within 50 ft of one above.
    """
    unknown = None if table.unknown_m is None else max(table.unknown_m, 50.0 * _FT)
    least = np.where(np.asarray(table.limit_kV) > 350.0, 50.0 * _FT, 20.0 * _FT)
    return replace(
        table,
        name=f"{table.name}, persons lifted",
        source=f"{table.source}; 29 CFR 1926.1431(n), from memory",
        distance_m=tuple(float(d) for d in np.maximum(table.distance_m, least)),
        unknown_m=unknown,
    )


CONDUCTOR_DRAG = 1.2
"""Drag coefficient of a conductor: a round cylinder below its critical Reynolds number, from
memory; codes for lines take 1.0, which is less."""


def conductor_swing_deg(wind_m_s: float, *, diameter_mm: float, mass_kg_m: float) -> float:
    """Angle by which the wind swings a conductor about the line through its supports.

    tan a = F / W, with F = q d c, the wind's force on a metre of it, and W = m g its weight.

    Parameters:
      wind_m_s: >= 0. Gust, square to the line. [m/s]
      diameter_mm, mass_kg_m: > 0. Outside diameter [mm] and mass [kg/m], with ice where it may be.
    Returns: float: angle from plumb. [deg]
    Source: Statics; 1.25 kg/m3 of air, as in :mod:`liftcalc.wind.pressure`.
    """
    speed = float(require_non_negative("wind_m_s", wind_m_s))
    diameter = float(require_positive("diameter_mm", diameter_mm)) / 1000.0
    weight = float(require_positive("mass_kg_m", mass_kg_m)) * G_M_S2
    force_N_m = float(dynamic_pressure_kPa(speed)) * 1000.0 * diameter * CONDUCTOR_DRAG
    return float(np.degrees(np.arctan(force_N_m / weight)))


def blow_out_m(sag_m: float, swing_deg: float) -> float:
    """How far any point of a conductor swung by *swing_deg* may lie from its place at rest.

    Each point turns about the chord at its own sag: 2 f sin(a / 2), most at the greatest sag.

    Parameters:
      sag_m: >= 0. Greatest sag. [m]
      swing_deg: 0 to 90. [deg]
    """
    sag, angle = float(require_non_negative("sag_m", sag_m)), float(swing_deg)
    return 2.0 * sag * float(np.sin(np.radians(errors.require_between("swing_deg", angle, 0.0, 90.0)) / 2))


def catenary_constant_m(span_m: float, sag_m: float, *, height_difference_m: float = 0.0) -> float:
    """Catenary constant c = H/w [m] that gives a span_m its sag_m below the chord at mid-span.

    With y = c cosh((x - x0)/c) + k and a = (L/2 - x0)/c: h = 2 c sinh(L/2c) sinh(a) and D = c cosh(a) (cosh(L/2c) - 1).
    D falls as c grows, so the root in c is single. The far support lies height_difference_m above the near one.

    Raises: ConvergenceError: No catenary with this sag was found.
    """
    span, sag = float(require_positive("span_m", span_m)), float(require_positive("sag_m", sag_m))
    height = float(require_finite("height_difference_m", height_difference_m))

    def excess(log_constant: float) -> float:
        c = float(np.exp(log_constant))
        half = span / (2.0 * c)
        a = np.arcsinh(height / (2.0 * c * np.sinh(half)))
        return float(c * np.cosh(a) * 2.0 * np.sinh(half / 2.0) ** 2 - sag)

    low, high = np.log(span / 600.0), np.log(span**2 / (8.0 * sag) * 4.0 + span + abs(height) * 4)
    if not (excess(low) > 0.0 > excess(high)):
        given = f"{span:g} m with a sag of {sag:g} m and {height:g} m between supports"
        raise errors.ConvergenceError(f"No catenary spans {given}.")
    return float(np.exp(brentq(excess, low, high, xtol=1e-14, rtol=1e-14)))


@dataclass(frozen=True, eq=False)
class LinePath:
    """A conductor as a chain of straight pieces, with what the chain leaves out.

    Parameters:
      points_m: shape (n, 3). Easting, northing, level. [m]
      chord_error_m: No point of the true curve is farther than this from the chain; taken off every distance.
    """

    points_m: FloatArray
    chord_error_m: float


def sagged_span(start_m: ArrayLike, end_m: ArrayLike, *, sag_m: float, pieces: int = 32) -> LinePath:
    """One sagging span between attachment points start_m and end_m (easting, northing, level).

    sag_m >= 0 is the distance from the chord to the conductor at mid-span, in its lowest state (hot
    or iced); ``pieces`` >= 2 are straight and equal in plan.

    Raises: Supports in one plan point, or too few pieces.
    """
    start, end = require_finite("start_m", start_m), require_finite("end_m", end_m)
    sag = float(require_non_negative("sag_m", sag_m))
    if start.shape != (3,) or end.shape != (3,):
        raise InputError.of("start_m", start.shape, "easting, northing and level")
    if pieces < 2:
        raise InputError.of("pieces", pieces, "2 or more")
    span = float(np.hypot(*(end - start)[:2]))
    if not span > 0:
        raise InputError.of("end_m", end.tolist(), "a plan position other than the start's")
    s = np.linspace(0.0, 1.0, pieces + 1)
    points = start + s[:, None] * (end - start)
    if sag == 0.0:
        return LinePath(points, 0.0)
    height = float(end[2] - start[2])
    c = catenary_constant_m(span, sag, height_difference_m=height)
    half = span / (2.0 * c)
    a = np.arcsinh(height / (2.0 * c * np.sinh(half)))
    arg = a + (2.0 * s - 1.0) * half
    curve = c * (np.cosh(arg) - np.cosh(arg[0]))
    points[:, 2] -= s * height - curve
    # |chord - curve| <= (piece length in plan)^2 / 8 times the greatest curvature y''
    return LinePath(points, float((span / pieces) ** 2 / 8.0 * np.cosh(np.max(np.abs(arg))) / c))


def sagged_line(supports_m: ArrayLike, *, sag_m: ArrayLike = 0.0, pieces: int = 32) -> LinePath:
    """Points along a line over several supports.

    Parameters:
      supports_m: shape (n, 3), n >= 2. Attachment points in order. [m]
      sag_m: shape () or (n - 1,), >= 0. Sag of each span. [m]
      pieces: As in :func:`sagged_span`.
    Raises: As in :func:`sagged_span`, or a wrong number of sags.
    """
    supports = require_finite("supports_m", supports_m)
    if supports.ndim != 2 or supports.shape[1] != 3 or supports.shape[0] < 2:
        raise InputError.of("supports_m", supports.shape, "two or more points of three values")
    try:
        sags = np.broadcast_to(require_non_negative("sag_m", sag_m), (supports.shape[0] - 1,))
    except ValueError:
        need = f"one sag, or {supports.shape[0] - 1} of them"
        raise InputError.of("sag_m", np.shape(sag_m), need) from None
    spans = [
        sagged_span(a, b, sag_m=float(s), pieces=pieces)
        for a, b, s in zip(supports[:-1], supports[1:], sags, strict=True)
    ]
    points = np.vstack([spans[0].points_m[:1]] + [span.points_m[1:] for span in spans])
    return LinePath(points, max(span.chord_error_m for span in spans))
