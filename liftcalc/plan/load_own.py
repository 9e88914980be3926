"""The load's own part: its lifting points, its bending between them, and its tag lines.

Forces are those of the rigging, with contingency, gear, hoist factor and the centre of gravity at
its worst. A pull that slopes also presses the load together and, at points above its middle, bends
it down: both are added. Twisting and buckling are not covered: a slender load needs the document of its designer.

Sources: Statics; tag lines: the wind's centre a fifth of the width off the middle of a plate, as
ASCE 7 places it on a sign (from memory); persons on a line: the owner's rule.
"""

import math
from collections.abc import Sequence

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.base.units import G_M_S2
from liftcalc.dynamics.gross import with_contingency_t
from liftcalc.facts.load_own import HeldLines, LoadOwn
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.hanging import HangStates
from liftcalc.lift.rigging_items import plate_normals
from liftcalc.lift.wind_checks import wind_terms
from liftcalc.rigging.hitches import side_load_angle_deg
from liftcalc.rigging.load_beam import load_bending

WIND_CENTRE_SHARE = 0.2
"""Centre of the wind's force off the middle of the load, as a share of its width in plan: ASCE 7
for a sign (from memory)."""
OWN_COLUMNS = ("Subject", "Value", "Limit", "State", "Where", "Source")
_FORM = "standard lift plan form of USACE New England (seen in an excerpt)"


def _states(a: LiftAssessment) -> HangStates:
    """How the load hangs, over every place of its centre of gravity where that is known."""
    return a.rigging.worst or a.rigging.stated


def _point_checks(a: LiftAssessment, own: LoadOwn) -> list[Check]:
    if a.setup.lift.rigging.hitch != "straight":
        return []  # the sling goes round the load: it has no lifting point
    if own.points is None:
        return [check_row("own-points", 1, 1, form=_FORM)]
    states, points = _states(a), own.points
    force = a.rigging.factor * float(states.leg_tension_kN.max()) / G_M_S2
    if a.rigging.worst is None:
        force = math.inf
    legs = states.leg_direction
    upright = np.degrees(np.arccos(np.clip(legs[..., 2], -1.0, 1.0)))
    side = np.zeros(1)
    if a.setup.lift.rigging.lug_plate != "toward hook":
        side = side_load_angle_deg(legs, plate_normals(a.setup.hanging.gear, a.rigging.stated))
    where = f"{a.setup.hanging.error_words}; hoist factor {a.rigging.factor:.2f} included"
    paper, plate = points.document, a.setup.lift.rigging.lug_plate
    return [
        check_row("own-point-force", force, points.wll_t, where=where, document=paper, form=_FORM),
        check_row("own-point-angle", float(upright.max()), points.angle_limit_deg, where=where, document=paper),
        check_row("own-point-side", float(side.max()), points.side_limit_deg, plate=plate, document=paper),
    ]


def _bending_check(a: LiftAssessment, own: LoadOwn) -> Check:
    if own.section is None:
        return check_row("own-bending stated", own.rigid_by is None, 1, document=own.rigid_by or _FORM)
    lift = a.setup.lift
    section, load, choice, states = own.section, lift.load, lift.rigging, _states(a)
    mass = float(with_contingency_t(load.mass_t, load.contingency_percent / 100))
    weight = a.rigging.factor * mass * G_M_S2
    pull = a.rigging.factor * states.leg_tension_kN[..., None] * states.leg_direction
    lugs = a.rigging.lugs_m
    squeeze = [float(max(np.abs(pull[:, lugs[:, k] > 0, k]).sum(-1).max(initial=0.0),
                         np.abs(pull[:, lugs[:, k] < 0, k]).sum(-1).max(initial=0.0)))
               for k in (0, 1)]  # fmt: skip
    off = np.abs(states.cg_m[:, :2]).max(axis=0)
    size, spacing = (load.length_m, load.width_m), (choice.point_spacing_x_m, choice.point_spacing_y_m)
    planes = [("along", size[0], spacing[0], float(off[0]), squeeze[0]),
              ("across", size[1], spacing[1], float(off[1]), squeeze[1])]  # fmt: skip
    if choice.sling_legs == 4:  # a stiff load may hang on two points across
        planes.append(("corner to corner", math.hypot(*size), math.hypot(*spacing),
                       math.hypot(*off), math.hypot(*squeeze)))  # fmt: skip
    lever = abs(choice.point_height_m - load.height_m / 2)
    worst, where = 0.0, ""
    for name, length, apart, away, pressed in planes:
        if apart and away > apart / 2:
            worst, where = math.inf, f"{name}: centre of gravity outside the lifting points"
            break
        # the spread that is stated, or the worst one where that cannot be
        spread = section.mass_along if away <= length / 6 else "anywhere"
        bent = load_bending(weight, length, min(apart, length), offset_m=away, mass_along=spread)
        moment = max(bent.sagging_kNm + pressed * lever, bent.hogging_kNm)
        stress = 1000.0 * moment / section.modulus_cm3 + 10.0 * pressed / section.area_cm2  # MPa
        if stress >= worst:
            worst = stress
            where = (
                f"{name}: {amount(moment, 'moment_kNm')}, pressed by {amount(pressed, 'force_kN')},"
                f" {amount(1000.0 * stress, 'pressure_kPa')} of "
                f"{amount(1000.0 * section.permissible_MPa, 'pressure_kPa')}; mass "
                f"{section.mass_along}; no twisting, no buckling"
            )
    return check_row("own-bending", 100.0 * worst / section.permissible_MPa, 100.0, where=where,
                    document=section.document)  # fmt: skip


def tag_line_kN(wind_kN: float, *, width_m: float, off_m: float, lines: HeldLines) -> float:
    """Pull in the tag line most used, to keep the load from turning in the wind. [kN]

    The wind turns it about the hook's line by F (0.2 b + e); a line only pulls, so that half of
    them (one at least) hold at a time, each by the level part of its pull.

    Parameters:
      wind_kN: Wind on the load. [kN]
      width_m: Greatest width of the load in plan. [m]
      off_m: Its middle from the hook's line in plan. [m]
      lines: The lines as stated.
    Source: Statics; :data:`WIND_CENTRE_SHARE`.
    """
    turning = wind_kN * (WIND_CENTRE_SHARE * width_m + off_m)
    level = turning / (lines.arm_m * max(lines.lines // 2, 1))
    return level / math.cos(math.radians(lines.down_deg))


def _tag_checks(a: LiftAssessment, lines: HeldLines) -> list[Check]:
    load = a.setup.lift.load
    wind = float(wind_terms(a.setup, a.study.boom).load_force_kN.max())
    off = float(np.hypot(*np.abs(_states(a).cg_m[:, :2]).max(axis=0)))
    pull = tag_line_kN(wind, width_m=max(load.length_m, load.width_m), off_m=off, lines=lines)
    down = lines.lines * pull * math.sin(math.radians(lines.down_deg))
    return [check_row("own-tag-lines", pull, lines.each * lines.each_kN, lines=lines, wind=wind, down=down)]


def load_own_checks(a: LiftAssessment) -> list[Check]:
    """Rows of the plan on the load itself; what is not stated is missing by name."""
    own = (a.job.plan.load_own if a.job.plan else None) or LoadOwn()
    tags = [] if own.tag_lines is None else _tag_checks(a, own.tag_lines)
    return [*_point_checks(a, own), _bending_check(a, own), *tags]


def load_own_rows(a: LiftAssessment, checks: Sequence[Check]) -> list[tuple[str, ...]]:
    """The same as a table; *checks* are the rows of the plan."""
    checks = [c for c in checks if c.id.startswith("own-")]
    rows: list[tuple[str, ...]] = [
        (c.title, "not stated" if c.value else "stated", "–", c.words, "–", c.reference)
        if c.quantity == "count" else
        (c.title, *("–" if x is None else amount(x, c.quantity) for x in (c.value, c.limit)),
         c.words, c.where or "–", c.reference)
        for c in checks
    ]  # fmt: skip
    if a.setup.lift.rigging.hitch != "straight":
        rows.append(("Lifting points", "none: the sling goes round the load", "–", "–",
                     f"{a.setup.lift.rigging.hitch} hitch", "lift list"))  # fmt: skip
    if not any(c.id == "own-tag-lines" for c in checks):
        rows.append(("Tag line", "none stated", "–", "–", "load taken as free to turn to any "
                     "angle", "WAC 296-155-53715(6) asks for one where turning is hazardous "
                     "(seen in an excerpt)"))  # fmt: skip
    return rows
