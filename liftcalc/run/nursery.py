"""The preloaded process from which kernels are forked: libraries imported once, sheets isolated.

Run as ``python -m liftcalc.run.nursery FD FOLDER`` by :mod:`liftcalc.run.engine`; FD is a Unix
socket to the owner, FOLDER a private folder in which other processes of the owner may connect to
the socket ``door``. For each request the process forks a child that becomes an ordinary IPython
kernel for one sheet. This process keeps a single thread. Kernels end with whoever asked for them;
when the owner's end of the socket closes, however the owner ended, the process ends with every
kernel it started and removes the folder.

Protocol: ``R`` once ready, then one JSON object per message. Request ``{"argv", "cwd", "env"}``,
ended by a line break (an environment can be longer than the system passes on at once),
together with one file descriptor (the child's end of a pipe, held open as long as the kernel lives;
the child writes ``R`` into it when it is ready). Reply ``{"pid": ...}``.
"""

import contextlib
import gc
import importlib
import json
import os
import pkgutil
import select
import shutil
import signal
import socket
import sys
from collections.abc import Mapping
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
MAX_MESSAGE = 1_000_000


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


def _receive(owner: socket.socket) -> tuple[dict[str, Any], int] | None:
    data, handles, _, _ = socket.recv_fds(owner, MAX_MESSAGE, 1)
    while data and not data.endswith(b"\n"):
        more = owner.recv(MAX_MESSAGE)
        if not more:
            for handle in handles:
                os.close(handle)
        data = data + more if more else b""
    if not data:
        return None
    request: dict[str, Any] = json.loads(data)
    return request, handles[0]


def _reap(children: dict[int, socket.socket]) -> None:
    while children:
        ended = os.waitid(os.P_ALL, 0, os.WEXITED | os.WNOHANG | os.WNOWAIT)
        if ended is None:
            return
        # What the sheet started ends with it; the number is its own until it is waited for.
        with contextlib.suppress(OSError):
            os.killpg(ended.si_pid, signal.SIGKILL)
        os.waitpid(ended.si_pid, 0)
        children.pop(ended.si_pid, None)


def _end(children: dict[int, socket.socket], of: socket.socket | None = None) -> None:
    for pid, asker in children.items():
        if of is None or asker is of:
            with contextlib.suppress(OSError):
                os.killpg(pid, signal.SIGKILL)


def _answer(asker: socket.socket, others: list[socket.socket]) -> int | None:
    """Fork one kernel for *asker*; its process id, or None when it has gone."""
    try:
        received = _receive(asker)
    except OSError:
        return None
    if received is None:
        return None
    request, ready = received
    pid = os.fork()
    if pid == 0:
        for other in others:
            other.close()
        _become_kernel(request["argv"], request["cwd"], request["env"], ready)
    os.close(ready)
    with contextlib.suppress(OSError):
        asker.sendall(json.dumps({"pid": pid}).encode())
    return pid


def _serve(owner: socket.socket, door: socket.socket) -> None:
    children: dict[int, socket.socket] = {}
    askers = [owner]
    try:
        while True:
            readable, _, _ = select.select([door, *askers], [], [], 1.0)
            _reap(children)
            for asker in readable:
                if asker is door:
                    new, _ = door.accept()
                    with contextlib.suppress(OSError):
                        new.sendall(b"R")
                    askers.append(new)
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
    owner = socket.socket(fileno=int(sys.argv[1]))
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
            owner.sendall(b"R")
            _serve(owner, door)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
