"""A papermill engine that runs every sheet in a fresh kernel that is warm already.

Starting Python, importing the libraries and meeting the kernel over the network take longer than a
sheet calculates. Here a preloaded process (see :mod:`liftcalc.run.nursery`) forks one kernel for
each sheet, over Unix sockets in a private folder: no two race for ports. Where the platform cannot
fork, plain kernels are started; a failed start is tried again.

Sources: papermill's engine interface; the kernel provisioner interface of jupyter_client.
"""

from __future__ import annotations

import asyncio
import contextlib
import functools
import itertools
import os
import queue
import select
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import weakref
from collections.abc import Mapping
from multiprocessing import Pipe
from multiprocessing.connection import Client, Connection
from multiprocessing.reduction import send_handle
from pathlib import Path
from typing import Any, ClassVar

from jupyter_client.asynchronous.client import AsyncKernelClient
from jupyter_client.kernelspec import KernelSpec
from jupyter_client.manager import AsyncKernelManager
from jupyter_client.provisioning.local_provisioner import LocalProvisioner

from liftcalc.run.nursery import DOOR

PROVISIONER = "liftcalc-warm"
_DOOR_VARIABLE = "LIFTCALC_NURSERY"
_START_ATTEMPTS = 3
_LONGEST_PLACE = 70
_QUIET = ("--HistoryManager.enabled=False", "--IPKernelApp.capture_fd_output=False")


def can_fork() -> bool:
    """True where kernels may be forked from a preloaded process (not macOS, not Windows)."""
    return hasattr(os, "fork") and hasattr(socket, "send_fds") and sys.platform.startswith(("linux", "freebsd"))


class ForkedKernel:
    """One forked kernel, with the part of ``subprocess.Popen`` that a provisioner uses."""

    stdin = stdout = stderr = None

    def __init__(self, pid: int, pipe: int) -> None:
        self.pid = pid
        self._pipe = pipe
        self.returncode: int | None = None
        os.set_blocking(pipe, False)

    def poll(self) -> int | None:
        """None while the kernel lives. The pipe closes when its process ends."""
        if self.returncode is None:
            try:
                data = os.read(self._pipe, 64)
            except BlockingIOError:
                return None
            if not data:
                os.close(self._pipe)
                self.returncode = 1
        return self.returncode

    def wait(self, timeout: float | None = None) -> int | None:
        """Wait for the end of the process."""
        end = None if timeout is None else time.monotonic() + timeout
        while self.poll() is None and (end is None or time.monotonic() < end):
            time.sleep(0.002)
        return self.returncode

    def send_signal(self, signum: int) -> None:
        """Signal the kernel's process, if it still lives."""
        if self.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, signum)

    def kill(self) -> None:
        """End the kernel at once; it has nothing to put in order."""
        self.send_signal(signal.SIGKILL)

    terminate = kill


class Nursery:
    """The preloaded process, our own or one that a process above us shares with its workers."""

    _shared: ClassVar[Nursery | None] = None
    _lock: ClassVar[threading.Lock] = threading.Lock()

    def __init__(self, *, door: str = "") -> None:
        self._numbers = itertools.count(1)
        self._asking = threading.Lock()
        self._owner = os.getpid()
        self._warm = False
        self._broken = False
        self._process: subprocess.Popen[bytes] | None = None
        if door:
            self._line: Connection = Client(door, "AF_UNIX")
            self.folder = Path(tempfile.mkdtemp(prefix="w", dir=Path(door).parent))
        else:
            self.folder = _private_folder()
            self._line, self._process = _start_nursery(self.folder)
        self._finalizer = weakref.finalize(self, _end, self._line, self._process, self.folder)

    @classmethod
    def shared(cls) -> Nursery:
        """The living nursery of this process, joined or started when there is none."""
        with cls._lock:
            if cls._shared is None or not cls._shared.alive:
                try:
                    cls._shared = cls(door=os.environ[_DOOR_VARIABLE])
                except (KeyError, OSError):  # no process above shares one, or it is gone
                    cls._shared = cls()
            return cls._shared

    @property
    def alive(self) -> bool:
        """True while the preloaded process can be asked by this process."""
        if self._owner != os.getpid() or self._broken:
            return False
        return self._process is None or self._process.poll() is None

    @property
    def environment(self) -> dict[str, str]:
        """Environment by which a child process joins this nursery."""
        return {_DOOR_VARIABLE: str(self.folder / DOOR)}

    def close(self) -> None:
        """End the kernels asked for here, and the preloaded process if it is our own."""
        self._broken = True
        self._finalizer()

    def new_name(self) -> str:
        """Path prefix for the connection files of one kernel."""
        return str(self.folder / f"k{next(self._numbers)}")

    def wait_until_warm(self, timeout: float = 120.0) -> None:
        """Wait until kernels can be forked; RuntimeError when the process ended instead."""
        with self._asking:
            if self._warm:
                return
            self._warm = self._answer(timeout) == "R"

    def _answer(self, timeout: float) -> Any:
        with contextlib.suppress(OSError, EOFError):
            if self._line.poll(timeout):
                return self._line.recv()
        self._broken = True
        raise RuntimeError("the process that forks kernels ended")

    def fork(self, argv: list[str], *, cwd: str, env: Mapping[str, str], timeout: float = 120.0) -> ForkedKernel:
        """Fork one kernel; RuntimeError when it does not come up."""
        self.wait_until_warm(timeout)
        read_end, write_end = os.pipe()
        environment = {**env, "IPYTHONDIR": str(self.folder / "ipython")}
        try:
            with self._asking:
                with contextlib.suppress(OSError):  # its answer then says that it ended
                    self._line.send((argv, cwd, environment))
                    send_handle(self._line, write_end, 0)
                pid = self._answer(timeout)
        except RuntimeError:
            os.close(read_end)
            raise
        finally:
            os.close(write_end)
        kernel = ForkedKernel(pid, read_end)
        bound, _, _ = select.select([read_end], [], [], timeout)  # its sockets, or it ended
        if not bound or kernel.poll() is not None:
            raise RuntimeError("Kernel died before it was ready")
        return kernel


def _private_folder() -> Path:
    """A new folder whose path is short enough for the names of sockets (107 bytes) in it."""
    usual = tempfile.gettempdir()
    for place in (usual, "/tmp", "/var/tmp"):
        if len(os.fsencode(place)) <= _LONGEST_PLACE and os.access(place, os.W_OK | os.X_OK):
            return Path(tempfile.mkdtemp(prefix="lc-", dir=place))
    return Path(tempfile.mkdtemp(prefix="lc-", dir=usual))


def _start_nursery(folder: Path) -> tuple[Connection, subprocess.Popen[bytes]]:
    ours, theirs = Pipe()
    environment = {
        **os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1",
        "IPYTHONDIR": str(folder / "ipython"),
        "MPLBACKEND": "module://matplotlib_inline.backend_inline",
    }  # fmt: skip
    try:
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", "liftcalc.run.nursery", str(theirs.fileno()), str(folder)],
            pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, env=environment, start_new_session=True,
        )  # fmt: skip
    finally:
        theirs.close()
    return ours, process


def _end(line: Connection, process: subprocess.Popen[bytes] | None, folder: Path) -> None:
    line.close()
    if process is not None:
        try:
            process.wait(5)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(5)
    shutil.rmtree(folder, ignore_errors=True)


class WarmProvisioner(LocalProvisioner):
    """Kernel provisioner that forks from the nursery instead of starting Python."""

    async def launch_kernel(self, cmd: list[str], **kwargs: Any) -> Any:
        """Fork a kernel; *cmd* is used for its arguments only."""
        if not can_fork():
            return await super().launch_kernel(cmd, **kwargs)
        argv = cmd[cmd.index("-f") :] if "-f" in cmd else cmd[3:]
        cwd = os.path.abspath(kwargs.get("cwd") or os.getcwd())
        loop = asyncio.get_running_loop()
        env = {**os.environ, **(kwargs.get("env") or {})}
        kernel: Any = await loop.run_in_executor(None, functools.partial(Nursery.shared().fork, argv, cwd=cwd, env=env))
        self.process = kernel
        self.pid = kernel.pid
        self.pgid = kernel.pid  # the child made itself the leader of a group
        self.cwd = cwd
        return self.connection_info

    async def kill(self, restart: bool = False) -> None:
        """End the kernel and see it gone, which takes a millisecond, not a polling interval."""
        await super().kill(restart=restart)
        for _ in range(500):
            if not self.process or self.process.poll() is not None:
                return
            await asyncio.sleep(0.001)


class WarmClient(AsyncKernelClient):
    """Kernel client that is ready when the kernel says so, not after fixed waits."""

    def start_channels(
        self, shell: bool = True, iopub: bool = True, stdin: bool = False, hb: bool = False, control: bool = True
    ) -> None:
        """Open the channels; the pipe of the kernel takes the place of the heartbeat."""
        super().start_channels(shell=shell, iopub=iopub, stdin=False, hb=False, control=control)

    async def wait_for_ready(self, timeout: float | None = None) -> None:
        """Wait for the welcome on the output channel, then for one request to pass through."""
        try:
            while (await self.get_iopub_msg(timeout=2))["msg_type"] != "iopub_welcome":
                pass
        except queue.Empty:  # a kernel that sends no welcome
            await super().wait_for_ready(timeout=timeout)
            return
        identity, limit = self.kernel_info(), 60.0 if timeout is None else float(timeout)
        end = time.monotonic() + limit

        async def answer(get: Any) -> Any:
            while time.monotonic() <= end:
                with contextlib.suppress(queue.Empty):
                    message = await get(timeout=1)
                    if message["parent_header"].get("msg_id") == identity:
                        return message
                    continue
                if not await self.is_alive():
                    raise RuntimeError("Kernel died before replying to kernel_info")
            raise RuntimeError(f"Kernel did not respond in {limit:g} seconds")

        self._handle_kernel_info_reply(await answer(self.get_shell_msg))
        while (await answer(self.get_iopub_msg))["content"].get("execution_state") != "idle":
            pass


class WarmManager(AsyncKernelManager):
    """Kernel manager whose kernels are forked and reached over Unix sockets."""

    def __init__(self, **kwargs: Any) -> None:
        name = Nursery.shared().new_name()
        super().__init__(
            **{
                **kwargs, "transport": "ipc", "connection_file": f"{name}.json", "ip": name,
                "client_factory": WarmClient,
            }
        )  # fmt: skip

    @property
    def kernel_spec(self) -> KernelSpec:
        """A kernel specification of our own: no file to install, none to be changed."""
        return KernelSpec(
            argv=[sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"],
            display_name="liftcalc (warm)",
            language="python",
            metadata={"kernel_provisioner": {"provisioner_name": PROVISIONER}},
        )


class WarmEngine:
    """papermill engine: warm forked kernels where the platform can, plain ones elsewhere.

    It hands over to papermill's own and does not derive from it: papermill loads engines while it
    is being imported itself.
    """

    @staticmethod
    def nb_kernel_name(nb: Any, name: str | None = None) -> Any:
        """Kernel that a notebook names."""
        return _plain_engine().nb_kernel_name(nb, name)

    @staticmethod
    def nb_language(nb: Any, language: str | None = None) -> Any:
        """Language that a notebook names."""
        return _plain_engine().nb_language(nb, language)

    @staticmethod
    def execute_notebook(nb: Any, kernel_name: str, **kwargs: Any) -> Any:
        """Run the notebook; a kernel that fails to start is tried again, a cell never is."""
        if can_fork():
            kwargs |= {
                "kernel_manager_class": WarmManager, "shutdown_kernel": "immediate", "extra_arguments": list(_QUIET),
            }  # fmt: skip
        for left in reversed(range(_START_ATTEMPTS)):
            try:
                return _plain_engine().execute_notebook(nb, kernel_name, **kwargs)
            except RuntimeError:
                if not left or any(cell.metadata.papermill.start_time for cell in nb.cells):
                    raise


def _plain_engine() -> Any:
    from papermill.engines import NBClientEngine

    return NBClientEngine
