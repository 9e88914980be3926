"""Dynamic effects of hoisting, slewing, travelling and release, and the gross load.

Contents
--------
``gross``    gross load on the hook, static and dynamic
``hoisting`` hoist factor by class and speed, release, acceleration; snatch refused
``swing``    slewing side load and radius growth, swing of the load on starting and stopping
"""

from liftcalc.dynamics.gross import (
    GrossLoad,
    gross_load_t,
)
from liftcalc.dynamics.hoisting import (
    HOIST_CLASSES,
    HoistAcceleration,
    HoistClass,
    HoistFactor,
    ReleaseKind,
    dynamic_test_factor,
    hoist_acceleration,
    hoist_factor,
    refuse_snatch,
    release_factor,
)
from liftcalc.dynamics.swing import (
    PendulumSwing,
    SlewingEffect,
    pendulum_swing,
    slewing_effect,
)

__all__ = [
    "GrossLoad",
    "HOIST_CLASSES",
    "HoistAcceleration",
    "HoistClass",
    "HoistFactor",
    "PendulumSwing",
    "ReleaseKind",
    "SlewingEffect",
    "dynamic_test_factor",
    "gross_load_t",
    "hoist_acceleration",
    "hoist_factor",
    "pendulum_swing",
    "refuse_snatch",
    "release_factor",
    "slewing_effect",
]
