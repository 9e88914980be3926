"""How far a study of crane positions has come, and whether it was asked to stop.

Work is counted in positions measured for one lift at one heading; a full check of one lift
costs as much as many of these. How many full checks a search needs is not known beforehand: it is
estimated again after each, from the share of places that passed so far. An estimate that grows
would set the bar back; the bar then waits until the work has caught up.
"""

from collections.abc import Callable

PARTS = 1000
"""Parts of the whole that progress is counted in."""
READING = "reading the lifts"
SEARCHING = "searching"
CHECKING = "checking in full"
PLANNING = "planning set-ups"
HELPING = "finding remedies"
MAPPING = "mapping utilisation"
_CHECK = 20_000.0
"""A full check of one lift, in positions measured for one lift at one heading."""


class _Task:
    """One piece of a phase: what it should cost at first sight, and what its parts say."""

    def __init__(self, first: float) -> None:
        self.first = first
        self.done: list[float] = []
        self.expected: list[float] = []

    def part(self) -> int:
        self.done.append(0.0)
        self.expected.append(0.0)
        return len(self.done) - 1

    @property
    def whole(self) -> float:
        return max(self.first, sum(self.expected))


class StudyProgress:
    """Collects what is done of every phase, and reports the fraction of the whole.

    Parameters:
      progress: callable, optional. Called with (parts done, :data:`PARTS`). The parts never fall,
        and are full only at the end.
      phase: callable, optional. Called with words for the work whenever another phase begins.
      stop: callable, optional. Asked often; True ends the study.
    """

    def __init__(
        self, progress: Callable[[int, int], None] | None, phase: Callable[[str], None] | None,
        stop: Callable[[], bool] | None,
    ) -> None:  # fmt: skip
        self._progress, self._phase, self._stop = progress, phase, stop
        self._now = ""
        self._parts = 0
        self._tasks: dict[tuple[str, str], _Task] = {}
        self.stopped = False
        """Whether the study was asked to stop before it was through."""

    def stop(self) -> bool:
        """Whether to stop; once stopped, always."""
        if not self.stopped and self._stop is not None and self._stop():
            self.stopped = True
        return self.stopped

    def begin(self, phase: str) -> None:
        """Say that another phase begins, or goes on."""
        if phase != self._now:
            self._now = phase
            if self._phase is not None:
                self._phase(phase)

    def expect(self, phase: str, work: float, *, of: str = "") -> None:
        """Say what a phase (of one lift) should cost, before it begins."""
        self._tasks[phase, of] = _Task(work)

    def end(self, phase: str, *, of: str = "") -> None:
        """A phase (of one lift) is through: what it should have cost beyond falls away."""
        task = self._tasks.get((phase, of))
        if task is not None and not self.stopped:
            task.first = 0.0
            task.expected = list(task.done)
            self._report()

    def passes(self, phase: str, work: float, *, of: str = "") -> Callable[[int, int], None]:
        """Callback for passes over the grid, each set of them costing *work*.

        Another set begins when the number done falls back.
        """
        task = self._tasks.setdefault((phase, of), _Task(0.0))
        part, before, last = task.part(), 0.0, 0

        def advance(done: int, whole: int) -> None:
            nonlocal before, last
            self.begin(phase)
            if done < last:
                before += work
            last = done
            task.done[part] = before + work * done / max(whole, 1)
            task.expected[part] = before + work
            self._report()

        return advance

    def checks(self, phase: str, lifts: int, *, wanted: int, most: int,
               of: str = "") -> Callable[[int, int], None]:  # fmt: skip
        """Callback for full checks of *lifts* each, until *wanted* passed or *most* were made."""
        task = self._tasks.setdefault((phase, of), _Task(0.0))
        part = task.part()

        def advance(checks: int, passed: int) -> None:
            self.begin(phase)
            total = checks * wanted / passed if passed else 2.0 * checks
            total = max(min(total, float(most)), float(checks)) if passed < wanted else checks
            task.done[part] = self.check_work(checks, lifts)
            task.expected[part] = self.check_work(total, lifts)
            self._report()

        return advance

    @staticmethod
    def check_work(checks: float, lifts: int) -> float:
        """What so many full checks of *lifts* each should cost."""
        return _CHECK * lifts * checks

    def finish(self) -> None:
        """All is done: the bar is full, unless the study was stopped."""
        if not self.stopped and self._progress is not None:
            self._parts = PARTS
            self._progress(PARTS, PARTS)

    def _report(self) -> None:
        if self._progress is None:
            return
        whole = sum(task.whole for task in self._tasks.values())
        done = sum(sum(task.done) for task in self._tasks.values())
        parts = int(PARTS * done / whole) if whole > 0 else 0
        self._parts = max(self._parts, min(parts, PARTS - 1))
        self._progress(self._parts, PARTS)
