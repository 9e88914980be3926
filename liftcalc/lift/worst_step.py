"""The check row of a path's worst step: :func:`worst_step_check`."""

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, Sense, limit_check
from liftcalc.lift.path import LoadPath


def worst_step_check(
    path: LoadPath,
    id: str,
    title: str,
    *,
    value: FloatArray | float,
    limit: FloatArray | float,
    quantity: str,
    reference: str,
    remedy: str,
    sense: Sense = "max",
    numbered: bool = True,
    also: str = "",
) -> Check:
    """Row of the step with the worst value; where *limit* has the steps, with the least limit.

    Of equal steps the first. *also* follows the words for the step.
    """
    steps = limit if isinstance(limit, np.ndarray) else value
    step = int(np.argmin(steps) if sense == "min" or steps is limit else np.argmax(steps))
    return limit_check(
        id,
        title,
        value=float(value[step]) if isinstance(value, np.ndarray) else value,
        limit=float(limit[step]) if isinstance(limit, np.ndarray) else limit,
        quantity=quantity,
        sense=sense,
        reference=reference,
        where=path.describe(step, numbered=numbered) + also,
        remedy=remedy,
    )
