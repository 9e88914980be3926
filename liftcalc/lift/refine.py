"""Steps of the load path fine enough that the worst values no longer move.

The path is sampled, then sampled again at half the step; the worst utilisation, stability by rule, tipping load and leg
forces of both are compared. Where one of them moves by more than the tolerance, the finer path is kept and halved
again. Where a chart's sector begins or ends inside the path, a step is set close on either side, so that no gap between
sectors lies between two steps. Clearances have steps of their own (:mod:`liftcalc.lift.close_path`).

Method: step halving; no published source needed.
"""

import dataclasses
from collections.abc import Iterable

import numpy as np

from liftcalc.base.errors import ConvergenceError, LiftcalcError
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.lift.leg_forces import path_envelope
from liftcalc.lift.leg_springs import leg_supports
from liftcalc.lift.path import LoadPath, load_path, path_at
from liftcalc.lift.path_study import PathStudy, study_path
from liftcalc.lift.setup import Setup
from liftcalc.reactions.contact import Supports

TOLERANCE = 0.001
"""Share by which a worst value may still move when the step is halved."""
MAX_HALVINGS = 6
BESIDE_DEG = 1e-6


def with_slews(path: LoadPath, slew_deg: Iterable[float]) -> LoadPath:
    """The same path with a step on either side of each slew that it passes between two steps."""
    start, end = path.slew_deg[:-1], path.slew_deg[1:]
    low, high = np.minimum(start, end), np.maximum(start, end)
    passed: list[float] = []
    for angle in slew_deg:
        for turn in range(-2, 3):
            for slew in (angle + 360.0 * turn - BESIDE_DEG, angle + 360.0 * turn + BESIDE_DEG):
                k = np.flatnonzero((low < slew) & (slew < high))
                passed += (k + (slew - start[k]) / (end[k] - start[k])).tolist()
    if not passed:
        return path
    where = np.arange(len(path), dtype=np.float64)
    return path_at(path, np.unique(np.concatenate([where, passed])))


def _worst(setup: Setup, study: PathStudy, supports: dict[str, Supports]) -> dict[str, float]:
    on_path = path_envelope(setup, study.path, supports=supports)
    worst = {
        "utilisation of capacity": float(np.nanmax(study.utilisation, initial=0.0)),
        "share of path without data": float((study.capacity.source >= ESTIMATE).any()),
        "stability by rule": float(study.stability_t.min()),
        "tipping load": float(study.tipping_t.min()),
        "head-room": float(study.head_room_m.min()),
    }
    for leg, force in zip(setup.machine.legs, on_path.max_kN, strict=True):
        worst[f"force of outrigger {leg.name}"] = float(force)
    return worst


def _moved(coarse: float, fine: float) -> float:
    if coarse == fine:
        return 0.0
    if not (np.isfinite(coarse) and np.isfinite(fine)):
        return float("inf")
    return abs(fine - coarse) / max(abs(coarse), abs(fine))


def refined_study(setup: Setup, supports: dict[str, Supports] | None = None, *,
                  slew_step_deg: float = 1.0,
                  length_step_m: float = 0.25) -> tuple[LoadPath, PathStudy | None]:  # fmt: skip
    """The lift's path at steps whose halving moves no worst value by more than the tolerance, and
    the study that found it fine enough.

    Where the facts do not let the path be studied (no chart, a radius out of reach) the path is
    returned as first sampled, without a study: whoever asks for it gets the error.

    Raises: ConvergenceError: A worst value that still moves after six halvings.
    """
    bounds = {angle for table in setup.tables for angle in table.sector_deg}

    def sampled(halvings: int) -> LoadPath:
        share = 0.5**halvings
        path = load_path(setup.lift, slew_step_deg=slew_step_deg * share, length_step_m=length_step_m * share)
        return with_slews(path, sorted(bounds))

    path = sampled(0)
    try:
        supports = leg_supports(setup) if supports is None else supports
        study = study_path(setup, path)
        worst = _worst(setup, study, supports)
        for halvings in range(MAX_HALVINGS + 1):
            fine = study_path(setup, sampled(halvings + 1))
            at_half = _worst(setup, fine, supports)
            moved = {name: _moved(worst[name], at_half[name]) for name in worst}
            most = max(moved, key=lambda name: moved[name])
            if moved[most] <= TOLERANCE:
                share = 0.5**halvings
                words = (
                    f"steps of at most {slew_step_deg * share:g}° and {length_step_m * share:g} m; "
                    f"at half of that the worst values move by {100 * moved[most]:.3f} % at most "
                    f"({most}), {100 * TOLERANCE:g} % allowed"
                )
                path = dataclasses.replace(study.path, refinement=words)
                return path, dataclasses.replace(study, path=path)
            path, study, worst = fine.path, fine, at_half
    except ConvergenceError:
        raise
    except LiftcalcError:
        return path, None
    raise ConvergenceError(
        f"refined_path: after {MAX_HALVINGS} halvings of the step the {most} still moves by {100 * moved[most]:.2f} %"
    )
