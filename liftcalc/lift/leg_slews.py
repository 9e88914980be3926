"""At which slew each leg carries most, and over which slews a leg lifts.

The machine carries the load of the lift at one radius and turns once round; the slew is found to a hundredth of a
degree (:func:`liftcalc.reactions.envelope.slew_envelope`), not only at whole degrees. Everything else is as in
:mod:`liftcalc.lift.leg_forces`: hoist factor, models of carrier and ground, and wind and tilt, here toward the heavier
of boom and counterweight, where they press the worst leg most. Statics.
"""

from typing import Any

import numpy as np

from liftcalc.base.text import Show
from liftcalc.lift.leg_forces import weight_on_base
from liftcalc.lift.leg_springs import leg_supports
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup
from liftcalc.reactions.envelope import SlewEnvelope, slew_envelope


def leg_slews(setup: Setup, path: LoadPath) -> SlewEnvelope:
    """Envelope over one turn at the greatest radius of the path.

    The point where the weight meets the base goes round a circle: its centre is the part that
    does not slew, its radius the part that does.
    """
    radius = float(path.radius_m.max())
    load = float(setup.gross.dynamic_gross_t)
    force, at, reach = weight_on_base(setup, [0.0, 180.0], radius, load_t=load)
    centre = at.mean(axis=0)
    arm = float(at[0, 0] - centre[0])
    return slew_envelope(float(force[0]), float(force[0] * (arm + np.copysign(reach[0], arm))),
                         fixed_moment_kNm=force[0] * centre,
                         supports=leg_supports(setup))  # fmt: skip


def _sector_words(found: SlewEnvelope, leg: int, show: Show) -> str:
    sectors = [(s.start_deg, s.end_deg) for s in found.lift_off if s.leg == leg]
    if not sectors:
        return "stays on the ground"
    if sectors == [(0.0, 360.0)]:
        return "off the ground at every slew"
    return ", ".join(f"{show(a, 'slew_deg')} to {show(b, 'slew_deg')}" for a, b in sectors)


def leg_slew_rows(setup: Setup, found: SlewEnvelope, show: Show) -> list[tuple[str, ...]]:
    """For each leg: greatest reaction, the slew and carrier model of it, where it lifts."""
    rows: list[tuple[str, ...]] = []
    for k, leg in enumerate(setup.machine.legs):
        most = float(found.envelope.max_kN[k])
        stands = bool(np.isfinite(most))
        rows.append(
            (leg.name, show(most, "force_kN") if stands else "no equilibrium",
             show(float(found.max_slew_deg[k]), "slew_deg") if stands else "–",
             str(found.envelope.max_carrier[k]) if stands else "–", _sector_words(found, k, show)),
        )  # fmt: skip
    return rows


def leg_slew_values(setup: Setup, found: SlewEnvelope) -> dict[str, Any]:
    """Numbers for the record; no reactions where the machine would tip at some slew."""
    names = [leg.name for leg in setup.machine.legs]
    off = [f"{names[s.leg]}: {s.start_deg:g} to {s.end_deg:g} deg" for s in found.lift_off]
    values: dict[str, Any] = {"lift_off_sectors": off}
    if np.all(np.isfinite(found.envelope.max_kN)):
        values["circle_leg_reaction_kN"] = [float(v) for v in np.round(found.envelope.max_kN, 9)]
        values["circle_worst_slew_deg"] = [float(v) for v in found.max_slew_deg]
    return values
