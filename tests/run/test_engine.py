"""Warm kernels: fresh for each sheet, gone with their owner, and plain where none can be forked."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import papermill
import pytest
from papermill.engines import papermill_engines

from liftcalc.run import engine
from liftcalc.run.engine import Nursery, can_fork

pytestmark = pytest.mark.skipif(not can_fork(), reason="needs a platform that can fork kernels")


def _run(*sources: str, name: str = "liftcalc", **options: Any) -> list[str]:
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source) for source in sources])
    notebook.metadata["kernelspec"] = {"name": "python3", "language": "python", "display_name": "p"}
    done = papermill.execute_notebook(notebook, None, engine_name=name, progress_bar=False, **options)
    return ["".join(o.get("text", "") for o in c.outputs).strip() for c in done.cells]


def test_papermill_finds_the_engine_by_its_entry_point() -> None:
    assert papermill_engines.get_engine("liftcalc").__name__ == "WarmEngine"


def test_a_kernel_is_forked_with_the_libraries_imported() -> None:
    (text,) = _run("import sys; print('numpy' in sys.modules, 'liftcalc.sheets' in sys.modules)")
    assert text == "True True"


def test_nothing_of_one_sheet_is_left_for_the_next() -> None:
    spoil = (
        "import numpy, liftcalc.base.units, os, sys\n"
        "liftcalc.base.units.G_M_S2 = 0.0; numpy.pi = 3; os.environ['LEFT'] = 'x'; left = 1\n"
        "print(os.getpid())"
    )
    look = (
        "import numpy, liftcalc.base.units, os\n"
        "u = liftcalc.base.units\n"
        "print(u.G_M_S2, numpy.pi > 3.1, 'LEFT' in os.environ, 'left' in globals())"
    )
    (first,) = _run(spoil)
    (second, other) = _run(look, "print(os.getpid())")
    assert second == "9.80665 True False False"
    assert first != other


def test_random_numbers_of_two_sheets_are_not_the_same() -> None:
    source = "import numpy, uuid; print(numpy.random.default_rng().random(), uuid.uuid4())"
    assert _run(source) != _run(source)


def test_a_kernel_works_in_the_folder_it_was_given(tmp_path: Path) -> None:
    options = {"resources": {"metadata": {"path": str(tmp_path)}}}
    (text,) = _run("import os; print(os.getcwd())", **options)
    assert Path(text) == tmp_path.resolve()


def test_plots_of_a_plain_cell_are_shown_as_pictures() -> None:
    notebook = nbformat.v4.new_notebook(
        cells=[
            nbformat.v4.new_code_cell(
                "from liftcalc.sheets import use_print_style; use_print_style()\n"
                "import matplotlib.pyplot as plt\nplt.plot([0, 1]);"
            )
        ]
    )
    notebook.metadata["kernelspec"] = {"name": "python3", "language": "python", "display_name": "p"}
    done = papermill.execute_notebook(notebook, None, engine_name="liftcalc", progress_bar=False)
    kinds = {kind for output in done.cells[0].outputs for kind in output.get("data", {})}
    assert "image/svg+xml" in kinds


def test_an_error_in_a_cell_stops_the_sheet() -> None:
    with pytest.raises(papermill.PapermillExecutionError, match="ZeroDivisionError"):
        _run("1 / 0")


def test_a_dead_kernel_is_noticed_and_the_next_one_lives() -> None:
    with pytest.raises(Exception, match=r"[Kk]ernel died"):
        _run("import os; os._exit(1)")
    assert _run("print(1)") == ["1"]


def test_a_dead_kernel_is_noticed_although_what_it_started_lives_on(tmp_path: Path) -> None:
    started = tmp_path / "pid"
    source = (
        "import os, time\n"
        "if os.fork() == 0:\n"
        "    if WAY == 'apart':\n"
        "        os.setsid()\n"
        f"    open({str(started)!r}, 'w').write(str(os.getpid()))\n"
        "    time.sleep(300)\n"
        f"while not os.path.exists({str(started)!r}) or not os.path.getsize({str(started)!r}):\n"
        "    time.sleep(0.01)\n"
        "os._exit(1)"
    )
    for way in ("below", "apart"):
        started.unlink(missing_ok=True)
        with pytest.raises(Exception, match=r"[Kk]ernel died"):
            _run(f"WAY = {way!r}", source, execution_timeout=60)
        pid = int(started.read_text())
        if way == "apart":
            os.kill(pid, signal.SIGKILL)
        end = time.monotonic() + 10
        while _lives(pid):
            assert time.monotonic() < end, "what the sheet started lives on after its kernel"
            time.sleep(0.05)


def test_a_dead_nursery_is_replaced() -> None:
    first = Nursery.shared()
    assert first._process is not None
    first._process.kill()
    first._process.wait()
    assert _run("print(2)") == ["2"]
    assert Nursery.shared() is not first


def test_kernels_end_with_their_sheet() -> None:
    (pid,) = _run("import os; print(os.getpid())")
    for _ in range(300):
        try:
            os.kill(int(pid), 0)
        except ProcessLookupError:
            return
        time.sleep(0.01)
    pytest.fail("the kernel lives on after its sheet")


def test_processes_below_join_a_nursery_and_their_kernels_end_with_them() -> None:
    above = Nursery()
    code = (
        "from liftcalc.run.engine import Nursery; import os, sys\n"
        "n = Nursery.shared(); name = n.new_name()\n"
        "argv = ['-f', name + '.json', '--transport=ipc', '--ip=' + name]\n"
        "k = n.fork(argv, cwd='/', env=dict(os.environ))\n"
        "print(n._process is None, k.pid, flush=True); sys.stdin.readline()"
    )
    below = subprocess.Popen(
        [sys.executable, "-c", code],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, **above.environment},
    )
    assert below.stdout is not None
    joined, pid = below.stdout.readline().split()
    assert joined == "True"
    os.kill(int(pid), 0)
    below.kill()
    below.wait()
    end = time.monotonic() + 10
    while _lives(int(pid)):
        assert time.monotonic() < end, "the kernel lives on after the process that asked for it"
        time.sleep(0.05)
    assert above.alive
    folder = above.folder
    above.close()
    assert not above.alive
    assert not folder.exists()


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="needs /proc")
def test_nursery_and_kernels_end_when_their_owner_is_killed() -> None:
    code = (
        "from liftcalc.run.engine import Nursery; import os, time, sys\n"
        "n = Nursery.shared(); name = n.new_name()\n"
        "argv = ['-f', name + '.json', '--transport=ipc', '--ip=' + name]\n"
        "k = n.fork(argv, cwd='/', env=dict(os.environ))\n"
        "print(n._process.pid, k.pid, flush=True); time.sleep(60)"
    )
    owner = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert owner.stdout is not None
    pids = [int(word) for word in owner.stdout.readline().split()]
    assert len(pids) == 2
    owner.kill()
    owner.wait()
    end = time.monotonic() + 10
    while time.monotonic() < end:
        if not any(_lives(pid) for pid in pids):
            return
        time.sleep(0.05)
    pytest.fail("a process lives on after its owner")


def _lives(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def test_plain_kernels_are_used_where_none_can_be_forked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "can_fork", lambda: False)
    source = "import os, sys; print('liftcalc.sheets' in sys.modules)"
    assert _run(source) == ["False"]


def test_a_failed_start_is_tried_again_and_a_cell_never_is(monkeypatch: pytest.MonkeyPatch) -> None:
    fork: Callable[..., Any] = Nursery.fork
    calls: list[int] = []

    def flaky(self: Nursery, *args: Any, **kwargs: Any) -> Any:
        calls.append(1)
        if len(calls) == 1:
            raise RuntimeError("Kernel died before it was ready")
        return fork(self, *args, **kwargs)

    monkeypatch.setattr(Nursery, "fork", flaky)
    assert _run("print(3)") == ["3"]
    assert len(calls) == 2
    calls.append(1)
    with pytest.raises(Exception, match=r"[Kk]ernel died"):
        _run("import os; os._exit(1)")
    assert len(calls) == 4


def _in_a_new_process(code: str, folder: Path, **environment: str) -> str:
    helper = f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
    done = subprocess.run(
        [sys.executable, "-c", f"{helper}from test_engine import _run\n{code}"],
        capture_output=True,
        text=True,
        timeout=120,
        cwd=folder,
        env={**os.environ, **environment},
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_an_environment_of_any_length_reaches_the_kernel(tmp_path: Path) -> None:
    long = {f"LONG_{n}": str(n) * 100_000 for n in range(5)}
    look = "import os; print(*(len(os.environ[f'LONG_{n}']) for n in range(5)))"
    told = _in_a_new_process(f"print(_run({look!r}))", tmp_path, **long)
    assert told == str([" ".join(["100000"] * 5)])


def test_kernels_start_where_the_folder_for_temporary_files_has_a_long_path(tmp_path: Path) -> None:
    deep = tmp_path / ("d" * 90)
    deep.mkdir()
    look = "import sys; print('liftcalc.sheets' in sys.modules)"
    assert _in_a_new_process(f"print(_run({look!r}))", tmp_path, TMPDIR=str(deep)) == "['True']"


def test_settings_that_lie_in_the_current_folder_do_not_reach_a_sheet(tmp_path: Path) -> None:
    (tmp_path / "matplotlibrc").write_text("axes.facecolor: red\n")
    look = "import matplotlib; print(matplotlib.rcParams['axes.facecolor'])"
    assert _in_a_new_process(f"print(_run({look!r}))", tmp_path) == "['white']"
