"""Worker processes for work that must not be able to stop its neighbours.

Contents: :class:`Item`, :func:`run_pool`, and the worker itself (``python -m
liftcalc.run.workers``).

Workers speak JSON lines over their own pipes, so any platform has them and none imports the
caller's script. A worker that dies or takes too long is replaced, and its item is reported lost; a
worker whose owner is gone leaves at once, even in the middle of a sheet.
"""

from __future__ import annotations

import contextlib
import json
import os
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

__all__ = ["Item", "run_pool"]

_IDLE_S = 0.1
_MANY_ITEMS = 10
"""From about this many items, a rehearsal in the preloaded process saves more than it costs."""


@dataclass(frozen=True)
class Item:
    """One piece of work: what to do, plain arguments, and the time each step may take."""

    key: str
    operation: str
    """A function by name, ``module:function``, called with *arguments* and ``tell=``."""
    arguments: dict[str, Any] = field(repr=False)
    timeout_s: float | None = None


class _Worker:
    def __init__(
        self,
        inbox: queue.Queue[tuple[_Worker, dict[str, Any] | None]],
        environment: dict[str, str],
        operations: set[str],
    ) -> None:
        self.item: Item | None = None
        self.step_began: float | None = None
        self.overdue = False
        # -P keeps the current folder off the module path: it may be anybody's.
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "liftcalc.run.workers", *operations],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=None if os.environ.get("LIFTCALC_DEBUG") else subprocess.DEVNULL,
            env={**os.environ, **environment},
            start_new_session=os.name != "nt",
        )
        self._inbox = inbox
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        with contextlib.suppress(ValueError, OSError):
            for line in self._process.stdout:
                with contextlib.suppress(ValueError):
                    self._inbox.put((self, json.loads(line)))
        self._inbox.put((self, None))

    def give(self, item: Item) -> None:
        self.item, self.step_began, self.overdue = item, None, False
        assert self._process.stdin is not None
        line = json.dumps({"operation": item.operation, "arguments": item.arguments})
        with contextlib.suppress(OSError, ValueError):  # a dead worker is reported by its reader
            self._process.stdin.write(line.encode() + b"\n")
            self._process.stdin.flush()

    def kill(self) -> None:
        with contextlib.suppress(OSError):
            if os.name == "nt":
                self._process.kill()
            else:
                os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()

    def settle(self) -> str:
        """End a worker that closed its output; returns why it ended, in words."""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(2)
        self.kill()
        return f"its process ended (exit code {self._process.returncode})"

    def close(self) -> None:
        assert self._process.stdin is not None
        with contextlib.suppress(OSError):
            self._process.stdin.close()
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self.kill()

    def check_time(self) -> None:
        if self.item is None or self.step_began is None or self.overdue:
            return
        limit = self.item.timeout_s
        if limit is not None and time.monotonic() - self.step_began > limit:
            self.overdue = True
            self.kill()


def run_pool(
    items: Sequence[Item],
    *,
    workers: int,
    on_message: Callable[[Item, dict[str, Any]], None],
    on_lost: Callable[[Item, str, bool], None],
) -> None:
    """Work through the items; every item ends in a ``done`` message or in *on_lost*.

    *on_message* gets what the work reports; ``{"begin": ...}`` starts the clock of a step.
    *on_lost* gets why in words, and whether the time limit was the reason. On an exception
    (``KeyboardInterrupt`` among them) every worker is ended before it passes on.
    """
    if not 1 <= workers <= 256:
        raise InputError.of("workers", workers, "1 to 256")
    inbox: queue.Queue[tuple[_Worker, dict[str, Any] | None]] = queue.Queue()
    waiting = list(reversed(items))
    left = len(items)
    pool: set[_Worker] = set()
    # One preloaded process for all workers, so that a replaced worker is warm at once.
    nursery = Nursery(rehearse=len(items) >= _MANY_ITEMS) if can_fork() and items else None
    environment = {} if nursery is None else nursery.environment

    def start() -> None:
        worker = _Worker(inbox, environment, {item.operation for item in items})
        pool.add(worker)
        worker.give(waiting.pop())

    def lost(worker: _Worker) -> bool:
        pool.discard(worker)
        why = worker.settle()
        item = worker.item
        if item is not None:
            if worker.overdue:
                why = f"took longer than {item.timeout_s:g} s and was stopped"
            on_lost(item, why, worker.overdue)
        if waiting:
            start()
        return item is not None

    try:
        for _ in range(min(workers, len(items))):
            start()
        while left:
            for worker in pool:
                worker.check_time()
            try:
                worker, message = inbox.get(timeout=_IDLE_S)
            except queue.Empty:
                continue
            if worker not in pool:
                continue
            if message is None:
                left -= lost(worker)
                continue
            assert worker.item is not None
            worker.step_began = time.monotonic() if "begin" in message else None
            on_message(worker.item, message)
            if "done" in message:
                left -= 1
                worker.item = None
                if waiting:
                    worker.give(waiting.pop())
    except BaseException:
        for worker in pool:
            worker.kill()
        raise
    finally:
        for worker in pool:
            worker.close()
        if nursery is not None:
            nursery.close()


def _work() -> None:
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # a library that prints must not disturb the messages
    tasks: queue.Queue[str] = queue.Queue()

    def listen() -> None:
        for line in sys.stdin:
            tasks.put(line)
        os._exit(0)

    def tell(message: dict[str, Any]) -> None:
        out.write(json.dumps(message) + "\n")
        out.flush()

    threading.Thread(target=listen, daemon=True).start()
    # jsonschema would build a large grammar of internet addresses, which no notebook check uses.
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]
    import papermill.execute  # noqa: F401  (so that the clock of no sheet runs meanwhile)

    for name in sys.argv[1:]:  # imported now, so that no sheet waits for it
        pkgutil.resolve_name(name)
    if can_fork():
        # The clock of the first step must not run while libraries are being imported.
        with contextlib.suppress(RuntimeError):
            Nursery.shared().wait_until_warm()

    while True:
        request = json.loads(tasks.get())
        run = pkgutil.resolve_name(request["operation"])
        result = run(request["arguments"], tell=tell)
        tell({"done": result})


if __name__ == "__main__":
    _work()
