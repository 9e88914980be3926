"""The preloaded process from which kernels are forked: libraries imported once, sheets isolated.

Run as ``python -m liftcalc.nursery FD`` by :mod:`liftcalc.engine`; FD is a Unix socket to the
owner. For each request the process forks a child that becomes an ordinary IPython kernel for one
sheet. This process keeps a single thread, never runs a sheet itself, and ends (with every kernel it
started) as soon as the owner's end of the socket closes, however the owner ended.

Protocol: one JSON object per message. Request ``{"argv", "cwd", "env"}`` together with one file
descriptor (the child's end of a pipe, held open as long as the kernel lives; the child writes ``R``
into it when it is ready). Reply ``{"pid": ...}``.

Contents: :func:`main`, :func:`preload`.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import json
import os
import pkgutil
import select
import signal
import socket
import sys
from collections.abc import Mapping
from typing import Any, NoReturn

__all__ = ["main", "preload"]

_MODULES = (
    "numpy",
    "scipy.optimize",
    "scipy.interpolate",
    "scipy.spatial",
    "shapely",
    "pydantic",
    "yaml",
    "matplotlib.pyplot",
    "matplotlib.backends.backend_agg",
    "matplotlib.backends.backend_svg",
    "matplotlib.patches",
    "matplotlib.collections",
    "IPython.core.display",
    "IPython.core.interactiveshell",
    "ipykernel.kernelapp",
    "ipykernel.ipkernel",
    "ipykernel.zmqshell",
    "ipykernel.datapub",
    "ipykernel.debugger",
    "matplotlib_inline.config",
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


def _become_kernel(argv: list[str], cwd: str, env: Mapping[str, str], ready: int) -> NoReturn:
    """In the child: turn into a kernel; never returns."""
    code = 1
    try:
        os.setsid()
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        null = os.open(os.devnull, os.O_RDWR)
        for handle in (0, 1, 2):
            os.dup2(null, handle)
        os.chdir(cwd)
        os.environ.clear()
        os.environ.update(env)
        os.environ["MPLBACKEND"] = "module://matplotlib_inline.backend_inline"
        import matplotlib
        from ipykernel.kernelapp import IPKernelApp

        matplotlib.rcParams["backend"] = os.environ["MPLBACKEND"]
        gc.enable()
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
    if not data:
        return None
    request: dict[str, Any] = json.loads(data)
    return request, handles[0]


def _serve(owner: socket.socket) -> None:
    children: set[int] = set()
    try:
        while True:
            readable, _, _ = select.select([owner], [], [], 1.0)
            while children:
                pid, _ = os.waitpid(-1, os.WNOHANG)
                if pid == 0:
                    break
                children.discard(pid)
            if not readable:
                continue
            received = _receive(owner)
            if received is None:
                return
            request, ready = received
            pid = os.fork()
            if pid == 0:
                owner.close()
                _become_kernel(request["argv"], request["cwd"], request["env"], ready)
            children.add(pid)
            os.close(ready)
            owner.sendall(json.dumps({"pid": pid}).encode())
    finally:
        for pid in children:
            with contextlib.suppress(OSError):
                os.killpg(pid, signal.SIGKILL)


def main() -> None:
    """Preload, then fork kernels until the owner goes away."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    owner = socket.socket(fileno=int(sys.argv[1]))
    preload()
    gc.collect()
    gc.freeze()
    owner.sendall(b"R")
    with contextlib.suppress(ConnectionError, BrokenPipeError):
        _serve(owner)


if __name__ == "__main__":
    main()
