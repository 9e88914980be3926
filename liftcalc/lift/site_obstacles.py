"""What stands on the site, with the distance that each thing asks for.

Required distances: the owner's rule in the job; for overhead lines the table that the job names.
"""

from typing import Any

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.clearance import powerline
from liftcalc.clearance.least import Obstacle, ObstacleKind
from liftcalc.clearance.powerline import TABLES, DistanceTable, blow_out_m, sagged_line
from liftcalc.clearance.solids import Prism
from liftcalc.facts.job import Rules
from liftcalc.facts.site import Site
from liftcalc.facts.surveyed import OverheadLine
from liftcalc.lift.check_rows import check_row

_KIND: dict[str, ObstacleKind] = {
    "building": "building", "wall": "wall", "tree": "tree", "tank": "structure",
    "plant": "structure", "other": "structure",
}  # fmt: skip
HUNG_BODIES = ("load", "rigging", "hook block")
_SOLID_BODIES = ("boom", "hoist rope", *HUNG_BODIES, "counterweight tail", "carrier")


def line_distance_table(rules: Rules, *, persons: bool) -> DistanceTable:
    """The table by which overhead lines are judged: the owner's, and more for persons."""
    rows = rules.clearance.power_line_owner_rows
    table = TABLES.get(rules.clearance.power_line_table)
    if table is None:
        table = DistanceTable(name="owner's table", source=rules.clearance.reference,
                              verification="the owner's own word",
                              limit_kV=tuple(r[0] for r in rows),
                              distance_m=tuple(r[1] for r in rows))  # fmt: skip
    return powerline.distances_for_persons(table) if persons else table


def _swing_deg(line: OverheadLine, rules: Rules) -> float:
    """Angle by which the wind is taken to swing the conductor: level where nothing is stated."""
    if (wire := line.conductor) is None:
        return 90.0 if line_distance_table(rules, persons=False).swing_counts else 0.0
    return powerline.conductor_swing_deg(wire.wind_m_s, diameter_mm=wire.diameter_mm, mass_kg_m=wire.mass_kg_m)


def kept_distance_m(line: OverheadLine, rules: Rules, *, persons: bool) -> float | None:
    """Distance to keep from an overhead line, with its swing in the wind where that counts. [m]

    None where its voltage is not known and the table sets nothing for that, unless it is dead.
    """
    table = line_distance_table(rules, persons=persons)
    if line.voltage_kV is None:
        kept = rules.clearance.boom_m if line.dead and not table.unknown_m else table.unknown_m
        if kept is None:
            return None
    else:
        kept = float(powerline.required_distance_m(line.voltage_kV, table=table))
    return kept + blow_out_m(line.sag_m, _swing_deg(line, rules))


def line_table_words(rules: Rules, line: OverheadLine | None = None, *, persons: bool) -> str:
    """Whose distances they are, and what is added to them for the swing of this line."""
    table = line_distance_table(rules, persons=False)
    words = table.name
    if rules.clearance.power_line_table == "owner":
        words = f"owner's table: {rules.clearance.reference}"
    elif words != "29 CFR 1926.1408 Table A":
        words += " (from memory)" if table.verification == "memory" else " (seen in an excerpt)"
    if line is not None and (angle := _swing_deg(line, rules)):
        how = "" if line.conductor else ": conductor data not stated, taken as blown level"
        words += (
            f"; with {amount(blow_out_m(line.sag_m, angle), 'length_m', 'up')} for the conductor "
            f"blown out {amount(angle, 'angle_deg')} by wind{how}"
        )
    more = "; persons lifted: minimum 20 ft, above 350 kV 50 ft, 1926.1431(n) (from memory)"
    return words + (more if persons else "")


def line_check(line: OverheadLine, rules: Rules, name: str, distance_m: float, kept_m: float, *,
               persons: bool, also: str = "", **words: Any) -> Check:  # fmt: skip
    """Distance to an overhead line against what its table asks for.

    Nearer than that, and at an unknown voltage, it holds only on the condition that the line is dead and earthed as its
    document says (then the owner's distance counts), or on that of the voltage up to which the table sets one distance.
    """
    kept, condition = kept_m, ""
    reference = line_table_words(rules, line, persons=persons)
    if line.dead is not None and not (distance_m >= kept_m and line.voltage_kV is not None):
        paper = line.dead
        kept, reference = max(rules.clearance.boom_m, 1e-6), rules.clearance.reference
        condition = (
            f"overhead line {line.id} is dead and earthed throughout: {paper.document} ({paper.who}, {paper.date})"
        )
    elif line.voltage_kV is None:
        most = rules.clearance.power_line_up_to_kV
        condition = f"{line.owner} confirms that overhead line {line.id} has at most {most:g} kV"
    known = "voltage unknown" if line.voltage_kV is None else f"{line.voltage_kV:g} kV"
    return check_row(name, distance_m, kept, part=line.id, known=known, table=reference + also,
                     condition=condition, **words)  # fmt: skip


def site_obstacles(site: Site, rules: Rules, *, persons: bool) -> list[Obstacle]:
    """Obstacles, zones and overhead lines of known voltage, with the distance each asks for.

    Boom, rope and load may pass over a thing that stands on the ground; the distance is kept in three dimensions.
    """
    obstacles: list[Obstacle] = []
    groups = (
        (rules.clearance.boom_m, ("boom", "hoist rope")), (rules.clearance.load_m, HUNG_BODIES),
        (rules.clearance.tail_m, ("counterweight tail",)), (0.0, ("carrier",)),
    )  # fmt: skip
    for item in site.obstacles:
        shape = Prism(np.array(item.polygon), item.base_level_m, item.top_level_m)
        obstacles += [Obstacle(item.id, _KIND[item.kind], shape, required, bodies) for required, bodies in groups]
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
