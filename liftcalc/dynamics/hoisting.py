"""Dynamic factors of hoisting and of sudden release.

Sources: ISO 8686-1 / EN 13001-2, hoisting classes HC1 to HC4: the constants are second-hand, quoted
from EN 1991-3, Table 2.5, in a report on a runway beam that names no edition; neither crane
standard was seen. Later editions of EN 13001-2 make the speed to be used depend on the hoist drive
class (HD1 to HD5); that table is not in here: state the speed at which the load really leaves the
ground.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative

HoistClass = Literal["HC1", "HC2", "HC3", "HC4"]

HOIST_CLASSES: dict[HoistClass, tuple[float, float]] = {
    "HC1": (1.05, 0.17),
    "HC2": (1.10, 0.34),
    "HC3": (1.15, 0.51),
    "HC4": (1.20, 0.68),
}
"""Hoisting classes. Columns: class | phi2min (at zero speed) | beta2 [s/m]. EN 1991-3 Table 2.5,
second-hand, no edition."""

MAX_HOIST_SPEED_M_S = 1.5
"""Greatest hoisting speed the linear rule was drawn for (ISO 8686-1:1989, from memory)."""


def refuse_snatch(*, slack_rope_m: ArrayLike = 0.0, load_held_down: bool = False) -> None:
    """Raise if the lift would snatch: picking up with slack rope, or a load held down.

    No factor covers a snatch; it is refused, not calculated.

    Parameters:
      slack_rope_m: >= 0. [m] Slack left in hoist rope or slings when the hoist runs at its speed.
      load_held_down: Frozen in, bedded, bolted or wedged: it could let go suddenly.
    Raises: Any slack at all, or a load held down.
    """
    slack = require_non_negative("slack_rope_m", slack_rope_m)
    if np.any(slack > 0.0):
        raise InputError.of(
            "slack_rope_m", float(slack.max()), "0 (a snatch is refused)",
            "Take the slack out at creep speed before hoisting.",
        )  # fmt: skip
    if load_held_down:
        raise InputError.of(
            "load_held_down", True, "a load that is free (a snatch is refused)",
            "Free the load first; never pull it loose with the crane.",
        )  # fmt: skip


@dataclass(frozen=True)
class HoistFactor:
    """Hoist factor phi2 and the constants it came from."""

    phi2_min: float
    beta2_s_m: float
    hoist_speed_m_s: FloatArray
    phi2: FloatArray
    source: str = "EN 13001-2 / ISO 8686-1; constants second-hand from EN 1991-3 Table 2.5"


def hoist_factor(hoist_speed_m_s: ArrayLike, hoist_class: HoistClass) -> HoistFactor:
    """Factor on the hoisted load when it is lifted off the ground: phi2 = phi2min + beta2 v.

    Parameters:
      hoist_speed_m_s: 0 to 1.5. [m/s] Speed at which the load leaves the ground: creep speed where
        the drive makes sure of it, else the greatest hoisting speed of the load.
      hoist_class: {"HC1", "HC2", "HC3", "HC4"}. From soft (HC1) to stiff (HC4) response of crane
        and support.
    Raises: Speed outside 0 to 1.5 m/s, unknown class.
    Source: EN 13001-2 / ISO 8686-1; constants as quoted from EN 1991-3 Table 2.5
      (second-hand, no edition); the speed limit is from memory of ISO 8686-1:1989.
    """
    speed = require_between("hoist_speed_m_s", hoist_speed_m_s, 0.0, MAX_HOIST_SPEED_M_S)
    try:
        phi2_min, beta2 = HOIST_CLASSES[hoist_class]
    except KeyError:
        raise InputError.of("hoist_class", hoist_class, ", ".join(HOIST_CLASSES)) from None
    return HoistFactor(phi2_min, beta2, speed, np.asarray(phi2_min + beta2 * speed))
