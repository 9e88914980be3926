"""What the contributor guide says of rooms, files and functions is so."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def table(title: str) -> list[list[str]]:
    """Rows of the table under a heading, without its head."""
    part = re.split(r"^#+ ", GUIDE.split(f"# {title}\n", 1)[1], maxsplit=1, flags=re.MULTILINE)[0]
    rows = [line.strip("|").split("|") for line in part.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row] for row in rows[2:]]


def test_the_way_of_a_load_names_files_and_functions_in_their_order() -> None:
    rows = table("One load's way from lifts.csv to the record")
    assert 10 <= len(rows) <= 12
    assert [int(row[0]) for row in rows] == list(range(1, len(rows) + 1))
    files = []
    for row in rows:
        file, name = re.findall(r"`([^`]+)`", row[1])
        files.append(file)
        owner = ast.parse((ROOT / "liftcalc" / file).read_text(encoding="utf-8"))
        for part in name.split("."):
            named = {n.name: n for n in owner.body if hasattr(n, "name")}
            assert part in named, f"{file} has no {name}"
            owner = named[part]
    assert len(set(files)) == len(files), "a step back"


def test_every_room_of_the_package_stands_in_the_guide() -> None:
    package = ROOT / "liftcalc"
    rooms = {p.name for p in package.iterdir() if (p / "__init__.py").exists()}
    rooms |= {p.stem for p in package.glob("*.py")} - {"__init__"}
    named = {n.strip("/") for row in table("Rooms and floors") for n in re.findall(r"`([\w/]+)`", row[0])}
    assert rooms == named


def test_a_new_formula_has_a_place_that_is_there() -> None:
    for row in table("Where does my new formula go?"):
        for place in re.findall(r"`((?:lift|crane|reactions|rigging|ground|views|panels)/\w*)[`.]", row[1]):
            path = ROOT / "liftcalc" / place
            if place != "views/NAME":
                assert path.is_dir() or path.with_suffix(".py").exists(), place


def test_every_row_function_of_report_card_and_search_is_called_in_a_test() -> None:
    called = {
        node.id
        for path in (ROOT / "tests").rglob("test_*.py")
        for test in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(test, ast.FunctionDef)
        for node in ast.walk(test)
        if isinstance(node, ast.Name)
    }
    for name in ("report", "card", "stand_rows", "ground_tables", "tandem_report"):
        tree = ast.parse((ROOT / "liftcalc" / "lift" / f"{name}.py").read_text(encoding="utf-8"))
        public = {n.name for n in tree.body if isinstance(n, ast.FunctionDef)}
        public = {n for n in public if not n.startswith("_")}
        assert public <= called, f"{name}: {sorted(public - called)}"
