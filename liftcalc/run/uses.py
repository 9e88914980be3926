"""Which calculations the commands, sheets, notebooks and panels lead to, for the handbook."""

import ast
import functools
import itertools
import json
from collections.abc import Iterator
from pathlib import Path

import liftcalc
from liftcalc.base import resources

USES = resources.shared_dir() / "handbook" / "uses.json"
"""Which modules each sheet and notebook runs, as found by running them on the demo job."""


def _imported(source: str) -> Iterator[str]:
    """Names of the package that a source imports: modules, and members of modules."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom):
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
            yield str(node.module)
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def _code(notebook: Path) -> str:
    cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    sources = ["".join(c["source"]).splitlines() for c in cells if c["cell_type"] == "code"]
    lines = itertools.chain.from_iterable(sources)
    return "\n".join("pass" if line[:1] in ("%", "!") else line for line in lines)


@functools.cache
def reached_modules() -> frozenset[str]:
    """Modules to which the imports of the commands, templates and notebooks lead."""
    package = Path(liftcalc.__file__).parent
    files = {".".join(("liftcalc", *p.relative_to(package).with_suffix("").parts)): p for p in package.rglob("*.py")}
    notebooks = [*resources.templates_dir().glob("*.ipynb")]
    notebooks += resources.notebooks_dir().glob("*.ipynb")
    waiting = {"liftcalc.cli", *(name for path in notebooks for name in _imported(_code(path)))}
    reached: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name in files and name not in reached:
            reached.add(name)
            waiting |= set(_imported(files[name].read_text(encoding="utf-8")))
    return frozenset(reached)


def used_by(module: str) -> str:
    """Sheets and notebooks that run functions of a module, in words."""
    short = module.removeprefix("liftcalc.")
    uses = json.loads(USES.read_text(encoding="utf-8"))
    users = [name for name, modules in uses.items() if short in modules]
    words = [resources.SHEET_TITLES.get(name, name) for name in users]
    return ", ".join(words) or "no sheet of the demo job; a job with other facts may lead to it"
