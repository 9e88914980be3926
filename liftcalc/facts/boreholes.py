"""Boreholes as a table: one row a layer, from the surface down.

Columns of a layer: ``layer, thickness_m, unit_weight_kN_m3`` and whichever strengths and moduli
are known. Columns of a hole (on its first row, or the same on each): ``easting_m, northing_m,
water_depth_m`` or ``no_water_to_m``, ``voids, subgrade_modulus_kN_m3``. Each hole becomes a ground
profile of its own name, which ground zones may name. Layout of our own.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from liftcalc.base.errors import InputError, Problem

_LAYER = (
    "thickness_m", "unit_weight_kN_m3", "cu_kPa", "phi_deg", "c_kPa", "youngs_modulus_kPa",
    "poisson", "liquid_limit_percent", "plasticity_index_percent",
)  # fmt: skip
_HOLE = ("easting_m", "northing_m", "water_depth_m", "no_water_to_m", "voids", "subgrade_modulus_kN_m3")
COLUMNS: tuple[str, ...] = ("hole", "layer", *_LAYER, *_HOLE)


def boreholes_from_rows(
    rows: Sequence[Mapping[str, Any]], *, source: str, provenance: Mapping[str, str]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Ground profiles and borehole points, as plain dicts for the site's facts.

    Raises: An unknown column, a row without hole or layer, layers of one hole not together, a hole
      whose rows contradict each other, or a hole without a place; each named with its row.
    """
    problems: list[Problem] = []
    unknown = sorted({str(c) for row in rows for c in row} - set(COLUMNS))
    if unknown:
        raise InputError.of("columns", unknown, ", ".join(COLUMNS), source=source)
    holes: dict[str, dict[str, Any]] = {}
    last = ""
    for n, row in enumerate(rows, start=2):
        given = {k: v for k, v in row.items() if v is not None and v != ""}
        name, layer = str(given.get("hole", "")), given.get("layer")
        if not name or not layer:
            problems.append(Problem(f"row {n}", dict(given), "a hole and a layer"))
            continue
        if name in holes and name != last:
            problems.append(Problem(f"row {n}, hole", name, "the layers of one hole together"))
        last = name
        hole = holes.setdefault(name, {"layers": []})
        for field in _HOLE:
            if field in given and hole.setdefault(field, given[field]) != given[field]:
                before = f"{hole[field]}, as before"
                problems.append(Problem(f"row {n}, {field}", given[field], before))
        hole["layers"].append({"name": str(layer), **{f: given[f] for f in _LAYER if f in given}})
    for name, hole in holes.items():
        if "easting_m" not in hole or "northing_m" not in hole:
            problems.append(Problem(f"hole {name}", "no place", "easting_m and northing_m"))
    if not rows:
        problems.append(Problem("rows", 0, "one layer or more"))
    if problems:
        raise InputError(problems, source=source)
    ground, points = [], []
    for name, hole in holes.items():
        known = {f: hole[f] for f in ("layers", *_HOLE[2:]) if f in hole}
        ground.append({"id": name, **known, "provenance": dict(provenance)})
        place = {f: hole[f] for f in ("easting_m", "northing_m")}
        points.append({"id": f"hole-{name}", **place, "profile": name})
    return ground, points
