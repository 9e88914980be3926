"""What stands on the site, with the distance that each thing asks for.

Required distances: the owner's rule in the job, 29 CFR 1926.1408 Table A (or the owner's own
table) for overhead lines.
"""

import numpy as np

from liftcalc.clearance.least import Obstacle, ObstacleKind
from liftcalc.clearance.powerline import (
    TABLE_A,
    DistanceTable,
    distances_for_persons,
    required_distance_m,
    sagged_line,
)
from liftcalc.clearance.solids import Prism
from liftcalc.facts.job import Rules
from liftcalc.facts.site import Site
from liftcalc.facts.surveyed import OverheadLine

_KIND: dict[str, ObstacleKind] = {
    "building": "building", "wall": "wall", "tree": "tree", "tank": "structure",
    "plant": "structure", "other": "structure",
}  # fmt: skip
HUNG_BODIES = ("load", "rigging", "hook block")
_SOLID_BODIES = ("boom", "hoist rope", *HUNG_BODIES, "counterweight tail", "carrier")


def line_distance_table(rules: Rules, *, persons: bool) -> DistanceTable:
    """The table by which overhead lines are judged: the owner's, and more for persons."""
    rows = rules.clearance.power_line_owner_rows
    table = TABLE_A
    if rules.clearance.power_line_table == "owner":
        table = DistanceTable(name="owner's table", source=rules.clearance.reference,
                              verification="the owner's own word",
                              limit_kV=tuple(r[0] for r in rows),
                              distance_m=tuple(r[1] for r in rows))  # fmt: skip
    return distances_for_persons(table) if persons else table


def kept_distance_m(line: OverheadLine, rules: Rules, *, persons: bool) -> float | None:
    """Distance to keep from an overhead line; None where its voltage is not known. [m]"""
    if line.voltage_kV is None:
        return None
    table = line_distance_table(rules, persons=persons)
    return float(required_distance_m(line.voltage_kV, table=table))


def line_table_words(rules: Rules, *, persons: bool) -> str:
    """Whose distances they are."""
    words = "29 CFR 1926.1408 Table A"
    if rules.clearance.power_line_table == "owner":
        words = f"owner's table: {rules.clearance.reference}"
    more = "; persons lifted: minimum 20 ft, above 350 kV 50 ft, 1926.1431(n) (from memory)"
    return words + (more if persons else "")


def site_obstacles(site: Site, rules: Rules, *, persons: bool) -> list[Obstacle]:
    """Obstacles, zones and overhead lines of known voltage, with the distance each asks for.

    Boom, rope and load may pass over a thing that stands on the ground; the distance is kept in
    three dimensions.
    """
    obstacles: list[Obstacle] = []
    groups = (
        (rules.clearance.boom_m, ("boom", "hoist rope")), (rules.clearance.load_m, HUNG_BODIES),
        (rules.clearance.tail_m, ("counterweight tail",)), (0.0, ("carrier",)),
    )  # fmt: skip
    for item in site.obstacles:
        shape = Prism(np.array(item.polygon), item.base_level_m, item.top_level_m)
        obstacles += [
            Obstacle(item.id, _KIND[item.kind], shape, required, bodies)
            for required, bodies in groups
        ]
    for area in site.areas:
        if area.kind == "stand area":
            continue
        kind: ObstacleKind = "no-overfly" if area.kind == "no-overfly" else "people"
        shape = Prism(np.array(area.polygon), -np.inf, np.inf)
        obstacles.append(Obstacle(area.id, kind, shape, 0.0, (*HUNG_BODIES, "counterweight tail")))
    for line in site.overhead_lines:
        required = kept_distance_m(line, rules, persons=persons)
        if required is not None:
            sagged = sagged_line(np.array(line.points), sag_m=line.sag_m)
            obstacles.append(Obstacle(line.id, "overhead line", sagged, required, _SOLID_BODIES))
    return obstacles
