"""Store which calculations each sheet and notebook runs, for the handbook ("Used by").

``python tests/store_uses.py`` after a change of what sheets or notebooks call, or after a module
was moved. Every template is run for every lift of the demo job, every notebook as it stands, with
a watch on which module's functions are called.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
from collections.abc import Iterable
from pathlib import Path

import nbformat
from nbclient import NotebookClient

from liftcalc.base import resources
from liftcalc.facts.io import load_job
from liftcalc.run.uses import USES

WATCH = """
import sys as _sys, threading as _threading
from liftcalc.handbook import calculation_modules as _modules
_of_file = {m.__file__: m.__name__.removeprefix("liftcalc.") for m in _modules()}
_files = set()
def _watch(frame, event, argument):
    if event == "call":
        _files.add(frame.f_code.co_filename)
_threading.setprofile(_watch)
_sys.setprofile(_watch)
"""
TELL = "_sys.setprofile(None); print(*sorted(_of_file[f] for f in _files if f in _of_file))"


def code_of(path: Path) -> list[str]:
    """Sources of the code cells of a notebook."""
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return ["".join(c["source"]) for c in cells if c["cell_type"] == "code"]


def called_by_template(path: Path, lifts: Iterable[str]) -> set[str]:
    """Modules whose functions run when the sheet of each lift is made."""
    called: set[str] = set()
    for lift in lifts:
        parameters, *cells = code_of(path)
        names: dict[str, object] = {"__name__": "sheet"}
        exec(WATCH, names)
        with contextlib.redirect_stdout(io.StringIO()):
            try:
                exec("\n".join([parameters, f"lift = {lift!r}", *cells]), names)
            finally:
                sys.setprofile(None)
        with contextlib.redirect_stdout(io.StringIO()) as words:
            exec(TELL, names)
        called |= set(words.getvalue().split())
    return called


def called_by_notebook(path: Path) -> set[str]:
    """Modules whose functions run when the notebook is run as it stands."""
    notebook = nbformat.read(path, 4)
    first, last = (nbformat.v4.new_code_cell(source) for source in (WATCH, TELL))
    notebook.cells = [first, *notebook.cells, last]
    folder = {"metadata": {"path": str(path.parent)}}
    NotebookClient(notebook, timeout=1200, kernel_name="python3", resources=folder).execute()
    return set(last.outputs[0]["text"].split())


def main() -> None:
    """Run everything and write the file that the handbook reads."""
    lifts = [lift.id for lift in load_job(resources.demo_job_path()).lifts]
    uses = {
        path.stem: called_by_template(path, lifts[:1] if path.stem in (*resources.WHOLE_JOB, "as_set_up") else lifts)
        for path in sorted(resources.templates_dir().glob("*.ipynb"))
    }
    for path in sorted(resources.notebooks_dir().glob("*.ipynb")):
        if path.stem != "handbook":
            name = f"notebook {path.stem}"
            uses[name] = called_by_notebook(path)
            print(name, len(uses[name]), flush=True)
    text = json.dumps({name: sorted(called) for name, called in uses.items()}, indent=1)
    USES.parent.mkdir(exist_ok=True)
    USES.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
