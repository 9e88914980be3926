"""Least squares on the cells of charts, and all explanations that fit about as well.

Which end line governs depends on the carrier's moment X, and the misfit is not smooth in it: X is
therefore scanned, everything else is fitted for each value, and every value whose misfit lies
within the confidence limit of the best counts as an explanation (profile likelihood, textbook).

Sources: as in :mod:`liftcalc.calibration.calibrate`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares, lsq_linear
from scipy.stats import chi2

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import ConvergenceError
from liftcalc.calibration.model import ChartModel, start_values, sure_cells, tail_cells

LEAST_CELLS = 5
"""Cells governed by stability that a fit needs."""
_ROUNDS = 40
OUTLIER = 3.5
"""Standard deviations beyond which a cell is not taken as governed by stability."""
SCAN_END_M, SCAN_STEP_M = 1.5, 0.025
"""Carrier moment over total mass at which the scan looks: to either side, in steps. [m]"""
_SCAN_M: FloatArray = np.linspace(-SCAN_END_M, SCAN_END_M, 121)
_COARSE_M: FloatArray = np.linspace(-SCAN_END_M, SCAN_END_M, 13)
_X = 1  # index of the carrier moment


@dataclass(frozen=True, eq=False)
class Task:
    """Ratings of several charts, cell by cell (C), and the bounds of the parameters (P)."""

    models: tuple[ChartModel, ...]
    cells: FloatArray
    """Ratings of all charts, corrected for rounding; NaN where not rated. [t]"""
    sigma: FloatArray
    """Standard deviation of each rating. [t]"""
    given: BoolArray | None
    """Cells governed by stability, if the user says which."""
    low: FloatArray
    high: FloatArray
    confidence: float

    def cells_of(self, index: int) -> BoolArray:
        """Which cells belong to one chart."""
        sizes = [m.chart.table.capacity_t.size for m in self.models]
        return np.asarray(np.repeat(np.arange(len(sizes)), sizes) == index)

    def without(self, index: int) -> Task:
        """The same without one chart."""
        rest = ~self.cells_of(index)
        return replace(
            self, models=tuple(m for i, m in enumerate(self.models) if i != index),
            cells=self.cells[rest], sigma=self.sigma[rest],
            given=None if self.given is None else self.given[rest],
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Explanation:
    """One solution; covariance and undetermined directions hold for a given carrier moment."""

    theta: FloatArray
    covariance: FloatArray
    undetermined: FloatArray


@dataclass(frozen=True, eq=False)
class Fit:
    """Best solution, the cells it rests on and its rivals."""

    theta: FloatArray
    residual: FloatArray
    """Over the stated standard deviation, cells in use only."""
    use: BoolArray
    at_bound: BoolArray
    rank: int
    explanations: tuple[Explanation, ...]
    open_below: bool
    """The scan of the carrier moment found no lower end."""
    open_above: bool

    @property
    def degrees_of_freedom(self) -> int:
        return int(self.residual.size) - self.rank

    @property
    def scatter(self) -> float:
        return float(np.sqrt(np.sum(self.residual**2) / max(self.degrees_of_freedom, 1)))


@dataclass(frozen=True, eq=False)
class _Solution:
    theta: FloatArray
    cost: float  # half the sum of squares


@dataclass(frozen=True)
class _Problem:
    """Cells in use of all charts together."""

    model: ChartModel
    wanted: FloatArray
    sigma: FloatArray
    low: FloatArray
    high: FloatArray

    @property
    def movable(self) -> BoolArray:
        """Parameters not held at a known value."""
        return np.asarray(self.high - self.low > 1e-6)

    def residual(self, theta: FloatArray) -> FloatArray:
        return np.asarray((self.model.predict(theta)[0] - self.wanted) / self.sigma)

    def jacobian(self, theta: FloatArray) -> FloatArray:
        return np.asarray(self.model.predict(theta)[1] / self.sigma[:, None])

    def solve(self, x0: FloatArray, free: BoolArray) -> _Solution | None:
        """Bounded least squares over the free parameters; the others stay as in *x0*.

        The rating is linear as long as the same line governs each cell, so a linear fit is repeated until the governing
        lines stay; where they do not settle, the general fit takes over. None without convergence.
        """
        low, high = self.low[free], self.high[free]
        theta = x0.copy()
        theta[free] = np.clip(theta[free], low, high)
        before: FloatArray | None = None
        for _ in range(12):
            rating, rows = self.model.predict(theta)
            if before is not None and np.array_equal(rows, before):
                return _Solution(theta, 0.5 * float(np.sum(self.residual(theta) ** 2)))
            before = rows
            step = rows[:, free] / self.sigma[:, None]
            right = (self.wanted - rating) / self.sigma + step @ theta[free]
            scale = np.maximum(np.linalg.norm(step, axis=0), 1e-12)
            part = np.linalg.lstsq(step / scale, right - step @ theta[free], rcond=1e-9)[0]
            part = theta[free] + part / scale
            if np.any(part < low) or np.any(part > high):
                found = lsq_linear(step / scale, right, bounds=(low * scale, high * scale), method="bvls")
                part = np.clip(found.x / scale, low, high)
            theta = theta.copy()
            theta[free] = part
        return self._general(theta, free)

    def _general(self, x0: FloatArray, free: BoolArray) -> _Solution | None:
        low, high = self.low[free], self.high[free]
        start = np.clip(x0[free], low + 1e-6 * (high - low), high - 1e-6 * (high - low))

        def full(part: FloatArray) -> FloatArray:
            theta = x0.copy()
            theta[free] = part
            return theta

        found = least_squares(
            lambda part: self.residual(full(part)), start,
            jac=lambda part: self.jacobian(full(part))[:, free], bounds=(low, high),
            x_scale=np.maximum(np.abs(start), 1.0), max_nfev=300,
        )  # fmt: skip
        return _Solution(full(found.x), float(found.cost)) if found.status > 0 else None


def left_open(rows: FloatArray, undetermined: FloatArray) -> BoolArray:
    """Whether a linear form of the parameters depends on what the charts do not determine.

    Parameters:
      rows: shape (c, p). The forms.
      undetermined: shape (u, p). Directions that the charts leave open.
    """
    part = np.abs(rows @ undetermined.T)
    size = np.abs(rows) @ np.abs(undetermined).T
    return np.asarray(np.any(part > 1e-6 * size, axis=1))


def _rank(jacobian: FloatArray) -> tuple[int, FloatArray, FloatArray]:
    """Rank, covariance and undetermined directions (rows), scaled by column."""
    norm = np.sqrt(np.sum(jacobian**2, axis=0))
    scale = np.where(norm > 0, norm, 1.0)
    rows = np.vstack([jacobian / scale, np.zeros((jacobian.shape[1], jacobian.shape[1]))])
    _, s, vt = np.linalg.svd(rows, full_matrices=False)
    good = s > 1e-7 * s[0]
    rows = vt[good] / s[good, None] / scale
    null = np.where(np.abs(vt[~good]) > 1e-6, vt[~good], 0.0)
    return int(good.sum()), rows.T @ rows, null / scale


def _explain(problem: _Problem, theta: FloatArray, *, scanned: bool) -> tuple[Explanation, int]:
    """Solution with its covariance; of the scan: for the carrier moment as it stands."""
    held = ~problem.movable
    jacobian = np.where(held, 0.0, problem.jacobian(theta))
    rank, covariance, null = _rank(jacobian)
    if scanned or np.any(null[:, ~held] != 0.0):
        held = held | (np.arange(theta.size) == _X)  # X itself is scanned
        rank, covariance, null = _rank(np.where(held, 0.0, jacobian))
    null = null[np.any(null[:, ~held] != 0.0, axis=1)]
    return Explanation(theta, covariance, null), rank


def _scan(problem: _Problem, x0: FloatArray, places_m: FloatArray) -> list[_Solution]:
    """Solutions for carrier moments of total mass times each place."""
    moments = np.unique(np.clip(places_m * x0[0], problem.low[_X], problem.high[_X]))
    free = problem.movable & (np.arange(x0.size) != _X)
    out = []
    theta = x0
    for moment in moments:
        begin = theta.copy()
        begin[_X] = moment
        found = problem.solve(begin, free)
        if found is not None:
            out.append(found)
            theta = found.theta
    return out


def _best(problem: _Problem, starts: Sequence[FloatArray]) -> _Solution:
    found = [f for f in (problem.solve(theta, problem.movable) for theta in starts) if f is not None]
    if not found:
        raise ConvergenceError("the least-squares fit of the masses did not converge")
    return min(found, key=lambda f: f.cost)


def fit_cells(task: Task) -> Fit:
    """Fit, choosing the cells governed by stability unless they are given.

    Raises: ConvergenceError: Fewer cells than can be fitted, no convergence, or no stable choice of cells.
    """
    models, cells, sigma, given = task.models, task.cells, task.sigma, task.given
    low, high = task.low, task.high
    model = ChartModel.join(models)
    # a load inside every line cannot tip the machine: never governed by stability
    rated = np.isfinite(cells) & np.isfinite(model.constant).any(axis=1)
    sure = sure_cells(models, cells, sigma) & rated
    use = given & rated if given is not None else sure | tail_cells(models, rated, count=2)
    seen: list[bytes] = []
    for _ in range(_ROUNDS):
        if use.sum() < LEAST_CELLS:
            raise ConvergenceError(f"only {int(use.sum())} cells are governed by stability, too few to fit")
        problem = _Problem(model.only(use), cells[use], sigma[use], low, high)
        x0 = start_values(problem.model, problem.wanted, low=low, high=high)
        scan = _scan(problem, x0, _COARSE_M)
        best = _best(problem, [f.theta for f in sorted(scan, key=lambda f: f.cost)[:3]])
        free = max(int(use.sum()) - low.size, 1)
        scatter = max(1.0, np.sqrt(2 * best.cost / free))
        off = (cells - model.predict(best.theta)[0]) / (sigma * scatter)
        fits = rated & (np.abs(off) <= OUTLIER)
        again = (sure & fits) | tail_cells(models, fits | ~rated, count=None, rated=rated)
        # a rating above the model cannot be a strength limit: it must be explained
        again |= rated & (off > OUTLIER)
        if given is not None or np.array_equal(again, use) or again.tobytes() in seen:
            return _fit(problem, best, use, confidence=task.confidence)
        seen.append(use.tobytes())
        use = again
    raise ConvergenceError("no stable set of cells governed by stability was found")


def _fit(problem: _Problem, best: _Solution, use: BoolArray, *, confidence: float) -> Fit:
    """The best solution with every rival within the confidence limit."""
    low, high = problem.low, problem.high
    span = high - low
    scan = _scan(problem, best.theta, _SCAN_M)
    best = _best(problem, [best.theta, *(f.theta for f in sorted(scan, key=lambda f: f.cost)[:3])])
    first, rank = _explain(problem, best.theta, scanned=False)
    residual = problem.residual(best.theta)
    free = max(residual.size - low.size, 1)
    limit = best.cost + 0.5 * float(chi2.ppf(confidence, 1)) * max(1.0, 2 * best.cost / free)
    rivals = [f for f in scan if f.cost <= limit]
    near = (best.theta - low < 1e-4 * span) | (high - best.theta < 1e-4 * span)
    fixed = not problem.movable[_X]
    ends = (scan[0], scan[-1]) if scan else (best, best)
    return Fit(
        theta=best.theta, residual=residual, use=use, at_bound=near & problem.movable, rank=rank,
        explanations=(first, *(_explain(problem, f.theta, scanned=True)[0] for f in rivals)),
        open_below=bool(not fixed and ends[0] in rivals),
        open_above=bool(not fixed and ends[1] in rivals),
    )  # fmt: skip
