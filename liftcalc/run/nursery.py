"""The preloaded process from which kernels are forked: libraries imported once, sheets isolated.

Run as ``python -m liftcalc.run.nursery FD FOLDER`` by :mod:`liftcalc.run.engine`; FD is a Unix socket to the owner,
FOLDER a private folder in which other processes of the owner may connect to the socket ``door``. For each request the
process forks a child that becomes an ordinary IPython kernel for one sheet. This process keeps a single thread. Kernels
end with whoever asked for them; when the owner's end of the socket closes, however the owner ended, the process ends
with every kernel it started and removes the folder.

Protocol, over connections of ``multiprocessing``: "R" once ready. A request is the arguments, the
folder and the environment of a kernel, and one file descriptor (the child's end of a pipe, held
open as long as the kernel lives; the child writes ``R`` into it when ready). Its reply is the pid.
"""

import contextlib
import gc
import importlib
import os
import pkgutil
import select
import shutil
import signal
import socket
import sys
from collections.abc import Mapping
from multiprocessing.connection import Connection
from multiprocessing.reduction import recv_handle
from pathlib import Path
from typing import Any, NoReturn

DOOR = "door"
"""Name of the socket to which other processes of the owner connect."""

_MODULES = (
    *("numpy", "scipy.optimize", "scipy.interpolate", "scipy.spatial", "shapely"),
    *("pydantic", "yaml", "faulthandler", "pdb", "tornado.platform.asyncio"),
    *("matplotlib.pyplot", "matplotlib.patches", "matplotlib.collections"),
    *("matplotlib.backends.backend_agg", "matplotlib.backends.backend_svg"),
    *("matplotlib_inline.config", "ipykernel.kernelapp", "ipykernel.ipkernel"),
    *("ipykernel.zmqshell", "ipykernel.datapub", "ipykernel.debugger"),
    *("IPython.core.completerlib", "IPython.core.debugger", "IPython.core.display"),
    *("IPython.core.interactiveshell", "IPython.core.magics.execution"),
    *("IPython.core.oinspect", "IPython.extensions.storemagic"),
    *("IPython.utils.module_paths", "IPython.utils.wildcard"),
)
_NOT_HERE = {"cli", "batch", "nursery", "engine", "panels"}


def preload() -> None:
    """Import what sheets need, and draw once so that fonts are read."""
    for name in _MODULES:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    import liftcalc

    for info in pkgutil.walk_packages(liftcalc.__path__, "liftcalc."):
        if not _NOT_HERE & set(info.name.split(".")):
            # A module that needs an extra, or is broken, must fail in the sheet that uses it.
            with contextlib.suppress(Exception):
                importlib.import_module(info.name)
    from matplotlib.figure import Figure

    from liftcalc.sheets import svg_text, use_print_style

    use_print_style()
    figure = Figure(figsize=(2, 2))
    axes = figure.subplots()
    axes.plot([0, 1], [0, 1], label="0123456789.−")
    axes.set_xlabel("radius [m]")
    axes.legend()
    svg_text(figure)


def _let_go(handle: int) -> None:
    with contextlib.suppress(OSError):
        os.close(handle)


def _become_kernel(argv: list[str], cwd: str, env: Mapping[str, str], ready: int) -> NoReturn:
    """In the child: turn into a kernel; never returns."""
    code = 1
    try:
        os.setsid()
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        null = os.open(os.devnull, os.O_RDWR)
        for handle in (0, 1, 2):
            os.dup2(null, handle)
        # What a sheet starts must not hold the pipe: the kernel would seem to live on with it.
        os.set_inheritable(ready, False)
        os.register_at_fork(after_in_child=lambda: _let_go(ready))
        os.chdir(cwd)
        os.environ.clear()
        os.environ.update(env)
        os.environ["MPLBACKEND"] = "module://matplotlib_inline.backend_inline"
        import matplotlib
        from ipykernel.kernelapp import IPKernelApp

        matplotlib.rcParams["backend"] = os.environ["MPLBACKEND"]
        # A sheet is short: most of what is made in it dies with its process.
        gc.set_threshold(100_000, 50, 100)
        app: Any = IPKernelApp.instance(parent_handle=os.getppid())
        app.initialize(argv)
        # The plotting backend was imported before there was a shell to show pictures in.
        app.shell.enable_matplotlib("inline")
        os.write(ready, b"R")
        app.start()
        code = 0
    finally:
        os._exit(code)


def _reap(children: dict[int, Connection]) -> None:
    while children:
        ended = os.waitid(os.P_ALL, 0, os.WEXITED | os.WNOHANG | os.WNOWAIT)
        if ended is None:
            return
        # What the sheet started ends with it; the number is its own until it is waited for.
        with contextlib.suppress(OSError):
            os.killpg(ended.si_pid, signal.SIGKILL)
        os.waitpid(ended.si_pid, 0)
        children.pop(ended.si_pid, None)


def _end(children: dict[int, Connection], of: Connection | None = None) -> None:
    for pid, asker in children.items():
        if of is None or asker is of:
            with contextlib.suppress(OSError):
                os.killpg(pid, signal.SIGKILL)


def _answer(asker: Connection, others: list[socket.socket | Connection]) -> int | None:
    """Fork one kernel for *asker*; its process id, or None when it has gone."""
    try:
        (argv, cwd, env), ready = asker.recv(), recv_handle(asker)
    except (OSError, EOFError):
        return None
    pid = os.fork()
    if pid == 0:
        for other in others:
            other.close()
        _become_kernel(argv, cwd, env, ready)
    os.close(ready)
    with contextlib.suppress(OSError):
        asker.send(pid)
    return pid


def _serve(owner: Connection, door: socket.socket) -> None:
    children: dict[int, Connection] = {}
    askers = [owner]
    try:
        while True:
            doors: list[Any] = [door, *askers]
            readable = select.select(doors, [], [], 1.0)[0]
            _reap(children)
            for asker in readable:
                if asker is door:
                    askers.append(Connection(door.accept()[0].detach()))
                    with contextlib.suppress(OSError):
                        askers[-1].send("R")
                    continue
                pid = _answer(asker, [door, *askers])
                if pid is not None:
                    children[pid] = asker
                elif asker is owner:
                    return
                else:
                    _end(children, asker)
                    askers.remove(asker)
                    asker.close()
    finally:
        _end(children)


def main() -> None:
    """Preload, then fork kernels until the owner goes away."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    owner: Connection = Connection(int(sys.argv[1]))
    folder = Path(sys.argv[2])
    door = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    door.bind(str(folder / DOOR))
    door.listen(64)
    os.chdir(folder)  # settings of libraries that lie where the owner works are not for sheets
    preload()
    gc.collect()
    gc.freeze()
    try:
        with contextlib.suppress(OSError):
            owner.send("R")
            _serve(owner, door)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
