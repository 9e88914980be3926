"""The rooms of the package and which may import which, taken from the imports themselves.

An import inside a function or under ``TYPE_CHECKING`` counts like any other.
"""

from __future__ import annotations

import ast
import sys
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "liftcalc"

ROOMS = (
    *("base", "facts", "survey"),
    *("crane", "reactions", "wind", "dynamics", "rigging", "ground", "clearance"),
    *("calibration", "uncertainty", "placement"),
    *("lift", "plan", "views", "records", "sheets", "run", "panels", "handbook", "cli_records", "cli"),
)
"""Lowest first: a room imports only from itself and from rooms before it."""

CALCULATION = ROOMS[ROOMS.index("crane") : ROOMS.index("lift")]
MAX_LINES, MAX_BYTES, MAX_BODY = 400, 20_000, 60


def module_name(path: Path) -> str:
    """Dotted name of a file of the package."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


@cache
def trees() -> dict[str, ast.Module]:
    """Every module's syntax tree."""
    paths = sorted(PACKAGE.rglob("*.py"))
    return {module_name(p): ast.parse(p.read_text(encoding="utf-8")) for p in paths}


def imported(tree: ast.AST) -> dict[str, set[str]]:
    """Modules of the package that a tree imports, and the names it takes from each."""
    found: dict[str, set[str]] = defaultdict(set)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                found[alias.name].add("")
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, "imports are written in full"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                found[whole if whole in trees() else str(node.module)].add(alias.name)
    return {m: names for m, names in found.items() if m.split(".")[0] == "liftcalc"}


def room(module: str) -> str:
    """Folder, or file at the root, that a module lies in; '' for the package itself."""
    return module.split(".")[1] if "." in module else ""


def arrows(inside: str | None = None) -> dict[str, set[str]]:
    """Which room imports which; or, within one room, which module imports which."""
    found: dict[str, set[str]] = defaultdict(set)
    for module, tree in trees().items():
        for target in imported(tree):
            if inside is None and "" not in (room(module), room(target)):
                found[room(module)] |= {room(target)} - {room(module)}
            elif inside is not None and {room(module), room(target)} == {inside}:
                found[module].add(target)
    return found


def floor_of(name: str, graph: dict[str, set[str]], above: tuple[str, ...] = ()) -> int:
    """Longest way down from a node; a circle raises AssertionError with its members."""
    assert name not in above, " -> ".join((*above[above.index(name) :], name))
    return 1 + max((floor_of(x, graph, (*above, name)) for x in graph.get(name, ())), default=0)


def test_there_are_few_rooms_and_each_is_named_here() -> None:
    found = {room(m) for m in trees()} - {""}
    assert found == set(ROOMS)
    assert len(found) <= 26
    assert len(list(PACKAGE.glob("*.py"))) <= 6


@pytest.mark.parametrize("name", ROOMS)
def test_a_room_imports_only_from_rooms_below(name: str) -> None:
    below = set(ROOMS[: ROOMS.index(name)])
    if name in CALCULATION:
        below -= {"facts", "survey"}
    assert arrows()[name] <= below


def test_there_is_no_circle_of_rooms_and_at_most_ten_floors() -> None:
    graph = arrows()
    assert max(floor_of(name, graph) for name in ROOMS) <= 10


@pytest.mark.parametrize("name", ROOMS)
def test_there_is_no_circle_of_modules_within_a_room(name: str) -> None:
    graph = arrows(name)
    for module in list(graph):
        floor_of(module, graph)


def test_no_private_name_is_taken_from_another_module() -> None:
    taken = [
        f"{module} takes {target}.{name}"
        for module, tree in trees().items()
        for target, names in imported(tree).items()
        for name in names
        if name.startswith("_") and not name.startswith("__")
    ]
    for module, tree in trees().items():
        names = {a.asname or a.name for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)
                 for a in n.names if f"{n.module}.{a.name}" in trees()}  # fmt: skip
        taken += [
            f"{module}: {node.value.id}.{node.attr}"
            for node in ast.walk(tree)
            if isinstance(node, ast.Attribute)
            and isinstance(node.value, ast.Name)
            and node.value.id in names
            and node.attr.startswith("_")
            and not node.attr.startswith("__")
        ]
    assert taken == []


def test_a_class_name_has_one_meaning() -> None:
    names = Counter(
        node.name
        for tree in trees().values()
        for node in tree.body
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    )
    assert [name for name, count in names.items() if count > 1] == []


def test_a_package_holds_nothing_but_what_it_says_of_itself() -> None:
    for path in PACKAGE.glob("*/**/__init__.py"):
        body = trees()[module_name(path)].body
        assert len(body) <= 1, f"{path.relative_to(ROOT)} passes names on"


def test_files_can_be_read_in_one_sitting() -> None:
    large = {
        str(path.relative_to(ROOT)): (text.count("\n"), len(text.encode()))
        for path in PACKAGE.rglob("*.py")
        if (text := path.read_text(encoding="utf-8")).count("\n") > MAX_LINES or len(text.encode()) > MAX_BYTES
    }
    assert large == {}


def test_a_long_function_says_why_it_is_one_piece() -> None:
    silent = []
    for path in sorted(PACKAGE.rglob("*.py")):
        lines = path.read_text(encoding="utf-8").split("\n")
        for node in ast.walk(trees()[module_name(path)]):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                if not body or body[-1].end_lineno - body[0].lineno < MAX_BODY:
                    continue
                head = "\n".join(lines[node.lineno - 1 : body[0].lineno])
                if "# long: " not in head:
                    silent.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.name}")
    assert silent == []


def lines_of(path: Path) -> Counter[str]:
    """Lines of a file by what they hold."""
    text = path.read_text(encoding="utf-8")
    documented = ast.Module | ast.ClassDef | ast.FunctionDef
    doc = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, documented) and ast.get_docstring(node) is not None:
            doc |= set(range(node.body[0].lineno, (node.body[0].end_lineno or 0) + 1))
    count = Counter(lines=text.count("\n"), docstring=len(doc), files=1)
    for number, line in enumerate(text.splitlines(), start=1):
        if number not in doc:
            word = line.strip()
            count["blank" if not word else "comment" if word[0] == "#" else "code"] += 1
    return count


def print_figures(package: Path) -> None:
    """Lines by room, largest files and longest functions of a package."""
    rooms: dict[str, Counter[str]] = defaultdict(Counter)
    files, bodies = [], []
    for path in sorted(package.rglob("*.py")):
        inside = path.relative_to(package)
        count = lines_of(path)
        rooms[inside.parts[0] if len(inside.parts) > 1 else "(root)"] += count
        rooms["all"] += count
        files.append((count["lines"], str(inside)))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                length = (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0
                bodies.append((length, f"{inside} {node.name}"))
    columns = ("files", "lines", "code", "docstring", "comment", "blank")
    print(f"{'room':12s}" + "".join(f"{c:>10s}" for c in columns))
    for name, count in rooms.items():
        if name != "all":
            print(f"{name:12s}" + "".join(f"{count[c]:10d}" for c in columns))
    print(f"{'all':12s}" + "".join(f"{rooms['all'][c]:10d}" for c in columns))
    print(f"{sum(n > MAX_LINES for n, _ in files)} files above {MAX_LINES} lines; largest:")
    print(*(f"  {n:4d} {name}" for n, name in sorted(files)[-3:]), sep="\n")
    print(f"{sum(n > MAX_BODY for n, _ in bodies)} functions above {MAX_BODY} lines; longest:")
    print(*(f"  {n:4d} {name}" for n, name in sorted(bodies)[-3:]), sep="\n")


if __name__ == "__main__":  # figures of the layout; of another checkout's lines with its path
    if len(sys.argv) > 1:
        print_figures(Path(sys.argv[1]) / "liftcalc")
        sys.exit()
    print_figures(PACKAGE)
    graph = arrows()
    for name in sorted(ROOMS, key=lambda n: (floor_of(n, graph), n)):
        print(f"floor {floor_of(name, graph):2d}  {name:12s} <- {' '.join(sorted(graph[name]))}")
    print(len(ROOMS), "rooms,", sum(map(len, graph.values())), "arrows")
