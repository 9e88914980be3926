"""Worker processes for work that must not be able to stop its neighbours.

Workers speak pickles over their own pipes, so any platform has them and none imports the caller's
script. A worker that dies or takes too long is replaced, and its item is reported lost; a
worker whose owner is gone leaves at once, even in the middle of a sheet.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import pkgutil
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from liftcalc.base.errors import InputError
from liftcalc.run.engine import Nursery, can_fork

_IDLE_S = 0.1


@dataclass(frozen=True)
class WorkItem:
    """One piece of work: what to do, its arguments, and the time each step may take."""

    key: str
    operation: str
    """A function by name, ``module:function``, called with *arguments* and ``tell=``."""
    arguments: Any = field(repr=False)
    timeout_s: float | None = None


class _Worker:
    def __init__(
        self, inbox: queue.Queue[tuple[_Worker, dict[str, Any] | None]],
        environment: dict[str, str], operations: Sequence[str],
    ) -> None:  # fmt: skip
        self.item: WorkItem | None = None
        self.step_began: float | None = None
        self.overdue = False
        # -P keeps the current folder off the module path: it may be anybody's.
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "liftcalc.run.workers", *operations],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=None if os.environ.get("LIFTCALC_DEBUG") else subprocess.DEVNULL,
            env={**os.environ, **environment}, start_new_session=os.name != "nt",
        )  # fmt: skip
        self._inbox = inbox
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        with contextlib.suppress(ValueError, OSError, EOFError, pickle.UnpicklingError):
            while True:
                self._inbox.put((self, pickle.load(self._process.stdout)))
        self._inbox.put((self, None))

    def give(self, item: WorkItem) -> None:
        self.item, self.step_began, self.overdue = item, None, False
        assert self._process.stdin is not None
        with contextlib.suppress(OSError, ValueError):  # a dead worker is reported by its reader
            pickle.dump((item.operation, item.arguments), self._process.stdin)
            self._process.stdin.flush()

    def kill(self) -> None:
        with contextlib.suppress(OSError):
            if os.name == "nt":
                self._process.kill()
            else:
                os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()

    def end(self, patience_s: float) -> str:
        """End the worker, by force if it does not go by itself; returns how it ended, in words."""
        assert self._process.stdin is not None
        with contextlib.suppress(OSError):
            self._process.stdin.close()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(patience_s)
        self.kill()
        return f"its process ended (exit code {self._process.returncode})"

    def check_time(self) -> None:
        if self.item is None or self.step_began is None or self.overdue:
            return
        limit = self.item.timeout_s
        if limit is not None and time.monotonic() - self.step_began > limit:
            self.overdue = True
            self.kill()


class _Pool:
    """The living workers and the items that wait for one."""

    def __init__(
        self, items: Sequence[WorkItem], environment: dict[str, str],
        on_message: Callable[[WorkItem, dict[str, Any]], None],
        on_lost: Callable[[WorkItem, str, bool], None], warm: bool,
    ) -> None:  # fmt: skip
        self.unfinished = len(items)
        self._waiting = list(reversed(items))
        names = sorted({item.operation for item in items})
        self._operations = ["warm" if warm else "cold", *names]
        self._environment = environment
        self._on_message, self._on_lost = on_message, on_lost
        self._inbox: queue.Queue[tuple[_Worker, dict[str, Any] | None]] = queue.Queue()
        self.workers: set[_Worker] = set()

    def start_worker(self) -> None:
        worker = _Worker(self._inbox, self._environment, self._operations)
        self.workers.add(worker)
        worker.give(self._waiting.pop())

    def take_message(self) -> None:
        """End what is overdue, then handle one message if there is one soon."""
        for worker in self.workers:
            worker.check_time()
        try:
            worker, message = self._inbox.get(timeout=_IDLE_S)
        except queue.Empty:
            return
        if worker not in self.workers:
            return
        if message is None:
            self._replace(worker)
            return
        assert worker.item is not None
        worker.step_began = time.monotonic() if "begin" in message else None
        self._on_message(worker.item, message)
        if "done" in message:
            self.unfinished -= 1
            worker.item = None
            if self._waiting:
                worker.give(self._waiting.pop())

    def _replace(self, worker: _Worker) -> None:
        """Report the item of a worker that ended as lost, and start another in its place."""
        self.workers.discard(worker)
        why = worker.end(2)
        item = worker.item
        if item is not None:
            if worker.overdue:
                why = f"took longer than {item.timeout_s:g} s and was stopped"
            self._on_lost(item, why, worker.overdue)
            self.unfinished -= 1
        if self._waiting:
            self.start_worker()


def run_pool(
    items: Sequence[WorkItem], *, workers: int,
    on_message: Callable[[WorkItem, dict[str, Any]], None],
    on_lost: Callable[[WorkItem, str, bool], None], warm: bool = True,
) -> None:  # fmt: skip
    """Work through the items; every item ends in a ``done`` message or in *on_lost*.

    *on_message* gets what the work reports; ``{"begin": ...}`` starts the clock of a step.
    *on_lost* gets why in words, and whether the time limit was the reason. *warm*: the work runs
    kernels, so libraries are loaded for them first. An exception ends every worker first.
    """
    if not 1 <= workers <= 256:
        raise InputError.of("workers", workers, "1 to 256")
    if not items:
        return
    # One preloaded process for all workers, so that a replaced worker is warm at once.
    nursery = Nursery() if warm and can_fork() else None
    environment = {} if nursery is None else nursery.environment
    pool = _Pool(items, environment, on_message, on_lost, warm)
    try:
        for _ in range(min(workers, len(items))):
            pool.start_worker()
        while pool.unfinished:
            pool.take_message()
    except BaseException:
        for worker in pool.workers:
            worker.kill()
        raise
    finally:
        for worker in pool.workers:
            worker.end(10)
        if nursery is not None:
            nursery.close()


def _work() -> None:
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # a library that prints must not disturb the messages
    tasks: queue.Queue[tuple[str, Any]] = queue.Queue()

    def listen() -> None:
        try:
            while True:
                tasks.put(pickle.load(sys.stdin.buffer))
        finally:  # the owner is gone
            os._exit(0)

    def tell(message: dict[str, Any]) -> None:
        pickle.dump(message, out)
        out.flush()

    threading.Thread(target=listen, daemon=True).start()
    temperature, *operations = sys.argv[1:]
    for name in operations:  # imported now, so that no sheet waits for it
        pkgutil.resolve_name(name)
    if temperature == "warm":
        import papermill.execute  # noqa: F401  (so that the clock of no sheet runs meanwhile)
    if temperature == "warm" and can_fork():
        # The clock of the first step must not run while libraries are being imported.
        with contextlib.suppress(RuntimeError):
            Nursery.shared().wait_until_warm()

    while True:
        operation, arguments = tasks.get()
        tell({"done": pkgutil.resolve_name(operation)(arguments, tell=tell)})


if __name__ == "__main__":
    _work()
