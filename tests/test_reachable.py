"""Every definition is reached from a command, a sheet, a notebook, a panel or the batch.

The walk begins at the commands, the processes that a batch starts and the code cells of sheets
and notebooks, and follows names as Python resolves them: a name to the definition of its module
or to what was imported under it, ``module.name`` to that definition, and ``.name`` on anything
else to every member of that name of a class that is reached. What is reached by none of
these is used by no one. ``YET_TO_BE_WIRED`` lists what a later sheet will call, with the reason.
"""

from __future__ import annotations

import ast
import json
from collections import defaultdict
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "liftcalc"

ENTRANCES = {
    "liftcalc.cli:main": "the command line",
    "liftcalc.run.engine:WarmEngine": "entry point of papermill",
    "liftcalc.run.engine:WarmEngine.execute_notebook": "called by papermill",
    "liftcalc.run.engine:WarmEngine.nb_language": "called by papermill",
    "liftcalc.run.engine:WarmProvisioner": "entry point of jupyter_client",
    "liftcalc.run.nursery:": "a process of its own",
    "liftcalc.run.workers:": "a process of its own",
    "liftcalc.run.batch:run_lift": "called by name in a worker",
    "liftcalc.run.recheck:recheck_told": "called by name in a worker",
    "liftcalc.run.book:print_part": "called by name in a worker",
    "liftcalc.panels.stand_search:StandSearch._repr_mimebundle_": "called by IPython",
}

_JIB = "the machine's sheet, once a configuration may carry a jib"

YET_TO_BE_WIRED = {
    "liftcalc.crane.boom:fixed_jib_pose": _JIB,
    "liftcalc.crane.boom:luffing_jib_pose": _JIB,
    "liftcalc.crane.boom:JibPose": _JIB,
    "liftcalc.crane.boom:_jib": _JIB,
    "liftcalc.rigging.upending": "the sheet of a lift by two machines that turns its load upright",
}
"""Module or ``module:name`` -> which sheet is to call it."""


class Walk:
    """Definitions of the package and which of them each names."""

    def __init__(self) -> None:
        self.lines: dict[str, int] = {}
        self.uses: dict[str, set[str]] = defaultdict(set)
        self.members: dict[str, dict[str, str]] = defaultdict(dict)  # class -> attribute -> node
        self.attributes: dict[str, set[str]] = defaultdict(set)  # node -> names asked of anything
        self.scopes: dict[str, dict[str, str]] = {}
        self.trees = {}
        for path in sorted(PACKAGE.rglob("*.py")):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
            self.trees[name] = ast.parse(path.read_text(encoding="utf-8"))
        for name, tree in self.trees.items():
            self.scopes[name] = self._scope(name, tree)
        self.classes = {
            f"{name}:{node.name}"
            for name, tree in self.trees.items()
            for node in tree.body
            if isinstance(node, ast.ClassDef)
        }
        for name, tree in self.trees.items():
            self._module(name, tree)

    def _imported(self, node: ast.AST) -> dict[str, str]:
        found = {}
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                target = whole if whole in self.trees else f"{node.module}:{alias.name}"
                found[alias.asname or alias.name] = target
        elif isinstance(node, ast.Import):
            for alias in node.names:
                found[alias.asname or alias.name.split(".")[0]] = (
                    alias.name if alias.asname else alias.name.split(".")[0]
                )
        return {k: v for k, v in found.items() if v.split(":")[0].split(".")[0] == "liftcalc"}

    def _scope(self, name: str, tree: ast.Module) -> dict[str, str]:
        scope = {}
        for node in ast.walk(tree):
            scope |= self._imported(node)
        for node in tree.body:
            for bound in _bound(node):
                scope[bound] = f"{name}:{bound}"
        return scope

    def _module(self, module: str, tree: ast.Module) -> None:
        for node in tree.body:
            names = _bound(node)
            if isinstance(node, ast.ClassDef):
                self._class(module, node)
            elif names:
                for bound in names:
                    self._add(f"{module}:{bound}", node, module)
                    if bound.startswith("__"):  # Python asks for it
                        self.uses[f"{module}:"].add(f"{module}:{bound}")
            elif not isinstance(node, (ast.Import, ast.ImportFrom)) and not _is_text(node):
                self._use(f"{module}:", node, module)  # runs when the module is imported

    def _class(self, module: str, node: ast.ClassDef) -> None:
        owner = f"{module}:{node.name}"
        self.lines[owner] = node.end_lineno - _first(node) + 1
        for part in [*node.bases, *node.keywords, *node.decorator_list]:
            self._use(owner, part, module)
        for part in node.body:
            if isinstance(part, ast.FunctionDef | ast.AsyncFunctionDef):
                inner = f"{owner}.{part.name}"
                self._add(inner, part, module)
                self.lines[owner] -= self.lines[inner]
                plain = {"property", "staticmethod", "classmethod", "cached_property", "wraps"}
                named = {_last(d) for d in part.decorator_list} - plain - {"abstractmethod"}
                if (part.name.startswith("__") and part.name.endswith("__")) or named:
                    self.uses[owner].add(inner)
                self.members[owner][part.name] = inner
            else:
                self._use(owner, part, module)
        for base in node.bases:
            target = self._target(base, module)
            if target in self.classes:
                self.members[owner]["<base>" + target] = target
            else:  # a class of a library calls what is redefined
                self.uses[owner] |= {v for k, v in self.members[owner].items() if k[0] != "<"}

    def _add(self, key: str, node: ast.stmt, module: str) -> None:
        self.lines[key] = node.end_lineno - _first(node) + 1
        self._use(key, node, module)

    def _target(self, node: ast.AST, module: str) -> str | None:
        scope = self.scopes[module]
        if isinstance(node, ast.Name):
            return scope.get(node.id)
        if isinstance(node, ast.Attribute):
            base = self._target(node.value, module)
            if base in self.trees:
                whole = f"{base}.{node.attr}"
                return whole if whole in self.trees else f"{base}:{node.attr}"
        return None

    def _use(self, key: str, node: ast.AST, module: str) -> None:
        for part in ast.walk(node):
            if isinstance(part, ast.Name | ast.Attribute):
                target = self._target(part, module)
                if target:
                    self.uses[key].add(target)
                    if target in self.trees:  # a package may hold a function of its module's name
                        package, _, name = target.rpartition(".")
                        self.uses[key].add(self.scopes.get(package, {}).get(name, target))
                elif isinstance(part, ast.Attribute):
                    self.attributes[key].add(part.attr)
            elif isinstance(part, ast.Constant) and str(part.value).isidentifier():
                self.attributes[key].add(str(part.value))  # getattr, names of columns

    def notebook(self, path: Path) -> str:
        """Add the code cells of one notebook; returns its node."""
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        source = "\n".join(
            "".join(c["source"])
            for c in cells
            if c["cell_type"] == "code" and not "".join(c["source"]).startswith("%%")
        )
        source = "\n".join("pass" if s.lstrip()[:1] in "%!" else s for s in source.splitlines() if s)
        key = f"{path.name}"
        tree = ast.parse(source)
        scope: dict[str, str] = {}
        for node in ast.walk(tree):
            scope |= self._imported(node)
        self.scopes[key] = scope
        self._use(key, tree, key)
        return key

    def reached(self, starts: set[str]) -> set[str]:
        """Everything that *starts* lead to."""
        seen: set[str] = set()
        asked: set[str] = set()
        waiting = list(starts)
        classes: set[str] = set()
        while waiting:
            key = self._resolve(waiting.pop())
            if key is None or key in seen:
                continue
            seen.add(key)
            new = self.uses[key] | {f"{key.split(':')[0]}:"}
            fresh = self.attributes[key] - asked
            asked |= fresh
            for owner in classes:
                new |= {self.members[owner][a] for a in fresh if a in self.members[owner]}
            if key in self.members:
                classes.add(key)
                for name, inner in self.members[key].items():
                    if name.startswith("<base>") or name in asked:
                        new.add(inner)
            waiting.extend(new - seen)
        return seen

    def _resolve(self, key: str) -> str | None:
        """The definition behind a name, through modules that only pass it on."""
        for _ in range(5):
            if key in self.lines or key.endswith(":") or ":" not in key:
                return key
            module, _, name = key.partition(":")
            onward = self.scopes.get(module, {}).get(name.split(".")[0])
            if onward is None or onward == key:
                return None
            key = onward
        return None


def _bound(node: ast.stmt) -> list[str]:
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
        return [node.name]
    if isinstance(node, ast.Assign):
        return [n.id for t in node.targets for n in ast.walk(t) if isinstance(n, ast.Name)]
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        return [node.target.id]
    return []


def _is_text(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _first(node: ast.stmt) -> int:
    return min([node.lineno, *(d.lineno for d in getattr(node, "decorator_list", []))])


def _last(node: ast.expr) -> str:
    node = node.func if isinstance(node, ast.Call) else node
    return node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", "")


def unreached() -> dict[str, int]:
    """Definitions that nothing leads to, and their lines."""
    walk = Walk()
    starts = set(ENTRANCES)
    for folder in ("templates", "notebooks"):
        starts |= {walk.notebook(p) for p in sorted((ROOT / folder).glob("*.ipynb"))}
    # a command of click is reached through its group
    cli = [k for k in walk.lines if k.startswith("liftcalc.cli:")]
    seen = walk.reached(starts | set(cli))
    out = {}
    for key, lines in walk.lines.items():
        owner = key.rsplit(".", 1)[0] if "." in key.split(":")[1] else ""
        if key not in seen and (not owner or owner in seen):
            whole = lines + sum(n for k, n in walk.lines.items() if k.startswith(f"{key}."))
            out[key] = whole
    return out


def reason(key: str) -> str | None:
    """The entry of the list that excuses a definition."""
    return next((k for k in (key, key.split(":")[0]) if k in YET_TO_BE_WIRED), None)


def test_every_definition_is_reached_from_sheet_command_notebook_or_panel() -> None:
    left = {k: n for k, n in unreached().items() if reason(k) is None}
    assert not left, "\n".join(f"{n:4d} {k}" for k, n in sorted(left.items()))


def test_nothing_stands_in_the_list_that_is_reached_or_gone() -> None:
    assert {reason(k) for k in unreached()} - {None} == set(YET_TO_BE_WIRED)


def test_the_walk_sees_what_nothing_calls(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "liftcalc"
    package.mkdir()
    (package / "cli.py").write_text("from liftcalc import sums\n\ndef main():\n    return sums.Sum(2).twice\n")
    (package / "sums.py").write_text(
        "class Sum:\n    def __init__(self, a):\n        self.a = a\n\n"
        "    @property\n    def twice(self):\n        return _double(self.a)\n\n"
        "    def never(self):\n        return 1\n\n"
        "def _double(a):\n    return 2 * a\n\ndef alone():\n    return _double(1)\n"
    )
    monkeypatch.setattr(f"{__name__}.ROOT", tmp_path)
    monkeypatch.setattr(f"{__name__}.PACKAGE", package)
    assert set(unreached()) == {"liftcalc.sums:Sum.never", "liftcalc.sums:alone"}


if __name__ == "__main__":
    found = unreached()
    rooms: dict[str, int] = defaultdict(int)
    for key, n in sorted(found.items()):
        print(f"{n:5d} {key}")
        rooms[key.split(":")[0]] += n
    print()
    for room, n in sorted(rooms.items()):
        print(f"{n:5d} {room}")
    print(sum(found.values()))
