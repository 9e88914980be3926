"""Working of one state of the leg reactions, for a checker with a pocket calculator.

Contents
--------
LegWorking : every intermediate figure of one state.
leg_working : the working of one state of a result of :mod:`liftcalc.reactions.carrier`.

Order of the working
--------------------
1. Centre of stiffness x_c = sum k x / sum k (likewise y); S_xx = sum k (x - x_c)^2 and so on.
2. Rigid plane: w_0 = V / sum k; slopes from S_xx a + S_xy b = V (x_G - x_c) and
   S_xy a + S_yy b = V (y_G - y_c); R = k (w_0 + a (x - x_c) + b (y - y_c)).
3. Twist (not for the rigid carrier): side moment of the front legs, M = sum R y, less what twist
   alone would give them, p V y_G; step t_1 = -A (M - p V y_G) / (k_t sum n^2/k + A^2) along the
   self-balancing pattern n, with A = n_FL y_FL + n_FR y_FR; R becomes R + t_1 n.
4. Contact: if some R < 0, the least further step t_2 along n that leaves none below zero.

Sources: as :mod:`liftcalc.reactions.contact`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.reactions.carrier import LegReactions


@dataclass(frozen=True)
class LegWorking:
    """Figures of one state in the order of the working; legs FL, FR, RR, RL."""

    carrier: str
    vertical_kN: float
    resultant_xy_m: FloatArray
    leg_xy_m: FloatArray
    stiffness_kN_m: FloatArray
    """1 for each leg where no stiffness was given: equal legs."""
    centre_xy_m: FloatArray
    """Centre of stiffness."""
    sums_kNm: tuple[float, float, float]
    """S_xx, S_yy, S_xy."""
    sinking_m: float
    """w_0, at the centre of stiffness."""
    slopes: tuple[float, float]
    """a along x and b along y."""
    plane_kN: FloatArray
    """Reactions of a rigid plane on springs that may pull."""
    pattern: FloatArray
    """n; none for three legs."""
    front_moment_kNm: float
    """M of the front legs with the plane's reactions."""
    twist_moment_kNm: float
    """p V y_G: what twist alone would give the front legs; NaN for a rigid carrier."""
    twist_step_kN: float
    """t_1; 0 for a rigid carrier."""
    bilateral_kN: FloatArray
    contact_step_kN: float
    """t_2; 0 where no leg wants to lift, NaN without equilibrium."""
    reaction_kN: FloatArray
    sum_error_kN: float
    """Sum of the reactions less V."""
    moment_error_kNm: FloatArray
    """Moments of the reactions less those of V, about y and about x."""


def leg_working(result: LegReactions, state: int | Sequence[int] = ()) -> LegWorking:
    """Working of one state.

    Parameters:
      result: LegReactions
      state: int or sequence of int. Index of the state in the leading shape of the result, or its
        flat index; nothing for a result with a single state.
    Returns: LegWorking
    Raises: An index that is not there.
    Source: Statics; recomputed by hand in the tests from the rounded figures.
    """
    shape = result.unstable.shape
    try:
        if isinstance(state, int | np.integer):
            at = int(state)
            if not 0 <= at < result.unstable.size:
                raise IndexError
        else:
            at = int(np.arange(result.unstable.size).reshape(shape)[tuple(state)])
    except (IndexError, TypeError):
        raise InputError.of("state", state, f"an index of one state in shape {shape}") from None
    s = result.supports
    column = at if s.x.shape[1] > 1 else 0
    legs = np.stack([s.x[:, column], s.y[:, column]], axis=-1)
    k = s.k[:, column]
    v, vx, vy = (float(f) for f in result.force[:, at])
    centre = k @ legs / k.sum()
    d = legs - centre
    sxx, syy, sxy = (float(k @ (d[:, i] * d[:, j])) for i, j in ((0, 0), (1, 1), (0, 1)))
    a, b = np.linalg.solve([[sxx, sxy], [sxy, syy]], [vx - v * centre[0], vy - v * centre[1]])
    sinking = v / float(k.sum())
    plane = k * (sinking + a * d[:, 0] + b * d[:, 1])
    n = s.pattern[:, min(column, s.pattern.shape[1] - 1)]
    front = float(plane[:2] @ legs[:2, 1])
    twist_moment, step = float("nan"), 0.0
    if s.twist:
        wide = min(column, s.front_arm.size - 1)
        twist_moment = float(s.front_share[wide]) * vy
        arm = float(s.front_arm[wide])
        give = float(s.k_t[min(column, s.k_t.size - 1)]) * float(n**2 @ (1 / k)) + arm**2
        step = -arm * (front - twist_moment) / give
    bilateral = plane + step * n if len(n) else plane
    reaction = result.reaction_kN.reshape(-1, len(k))[at]
    contact = 0.0
    if len(n):
        contact = float((reaction - bilateral) @ n / (n @ n))
    return LegWorking(
        carrier=result.carrier,
        vertical_kN=v,
        resultant_xy_m=np.array([vx, vy]) / v,
        leg_xy_m=legs,
        stiffness_kN_m=k,
        centre_xy_m=centre,
        sums_kNm=(sxx, syy, sxy),
        sinking_m=sinking,
        slopes=(float(a), float(b)),
        plane_kN=plane,
        pattern=n,
        front_moment_kNm=front,
        twist_moment_kNm=twist_moment,
        twist_step_kN=step,
        bilateral_kN=bilateral,
        contact_step_kN=contact,
        reaction_kN=reaction,
        sum_error_kN=float(reaction.sum()) - v,
        moment_error_kNm=reaction @ legs - np.array([vx, vy]),
    )
