"""The handbook holds every calculation, tells it in the code's own words, and needs no network."""

from __future__ import annotations

import importlib.util
import inspect
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from liftcalc import cli, handbook
from liftcalc.base import resources
from liftcalc.base.errors import InputError
from liftcalc.base.text import CAUTION_LINE
from liftcalc.clearance import powerline
from liftcalc.crane import stability
from liftcalc.dynamics import hoisting
from liftcalc.rigging import tables
from liftcalc.run.constants import constants
from liftcalc.run.handbook_words import page_words
from liftcalc.run.uses import USES, reached_modules, used_by


class _Page(HTMLParser):
    """Ids, links, tags and text of a page; open and closed tags must match."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.outside: list[str] = []
        self.tags: set[str] = set()
        self.cells = 0
        self.open: list[str] = []
        self.text = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.cells += tag == "tr"
        if tag not in ("meta", "br", "hr", "img"):
            self.open.append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            if name == "href":
                self.links.append(value or "")
            if name in ("src", "srcset", "data", "action"):
                self.outside.append(value or "")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def store_uses() -> ModuleType:
    """The script that stores what sheets run."""
    return _load("store_uses")


def listed_modules() -> list[str]:
    """Modules that wait for the sheet that is to call them."""
    return [name for name in _load("test_reachable").YET_TO_BE_WIRED if ":" not in name]


def _load(name: str) -> ModuleType:
    path = Path(__file__).with_name(f"{name}.py")
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def page() -> _Page:
    return _Page(handbook.handbook_html())


def printed() -> list[ModuleType]:
    return [m for modules in handbook.chapter_groups().values() for m in modules]


def test_every_calculation_that_something_leads_to_stands_in_exactly_one_group() -> None:
    names = [m.__name__ for m in printed()]
    with_functions = {m.__name__ for m in handbook.calculation_modules() if handbook.entries(m)}
    assert with_functions & reached_modules() <= set(names)
    assert len(names) == len(set(names))
    assert len(names) > 60


def test_what_no_command_sheet_or_notebook_leads_to_is_not_printed() -> None:
    assert "liftcalc.rigging.upending" not in reached_modules()
    assert not {m.__name__ for m in printed()} & set(listed_modules())
    assert "rigging.upending" not in handbook.handbook_html()


def test_a_chapter_names_the_sheets_that_run_it(page: _Page) -> None:
    assert "Ground pressure" in used_by("liftcalc.ground.bearing")
    assert "Lift check" in used_by("liftcalc.crane.stability")
    assert used_by("liftcalc.rigging.tandem") == "notebook tandem"
    assert "Lift plan" in used_by("liftcalc.ground.platform")
    for module in printed():
        if not handbook._only_assumes(module):
            assert f"Used by: {used_by(module.__name__)}." in page.text


def test_stored_uses_are_those_of_a_sheet_that_is_run_now() -> None:
    uses = json.loads(USES.read_text(encoding="utf-8"))
    stored = {name for modules in uses.values() for name in modules}
    known = {m.__name__.removeprefix("liftcalc.") for m in handbook.calculation_modules()}
    assert stored <= known, "run python tests/store_uses.py"
    template = resources.template_path("ground_pressure")
    assert store_uses().called_by_template(template, ["L1"]) <= set(uses["ground_pressure"])


def test_every_constant_of_a_calculation_is_printed_with_its_meaning() -> None:
    missing = []
    for module in printed():
        if module.__name__.split(".")[1] in ("lift", "facts", "base"):
            continue
        shown = {name for c in constants(module) for name in c.name.split(", ")}
        missing += [
            f"{module.__name__}.{name}"
            for name, value in vars(module).items()
            if name.isupper() and len(name) > 1 and name[0] != "_"
            if isinstance(value, int | float | dict | tuple | np.ndarray)
            if re.search(rf"^{name}\b[^=\n]*=", inspect.getsource(module), re.MULTILINE)
            if name not in shown
        ]
    assert missing == []


def test_a_chapter_prints_the_tables_that_the_code_holds(page: _Page) -> None:
    assert "| HC2 | 1.1 | 0.34 |" in handbook.handbook_markdown(hoisting)
    assert "| class | phi2min (at zero speed) | beta2 [s/m] |" in handbook.handbook_markdown(hoisting)
    lines = handbook.handbook_markdown(powerline)
    for table in powerline.TABLES.values():
        assert table.name in lines
        for limit, distance in zip(table.limit_kV, table.distance_m, strict=True):
            assert f"| {limit:.8g} | {distance:.8g} |" in lines
    slings = handbook.handbook_markdown(tables)
    for row in tables.WIRE_ROPE_SLINGS_EN.rows + tables.CHAIN_SLINGS_GRADE_8_EN.rows:
        assert "| " + " | ".join(f"{v:.8g}" for v in vars(row).values()) + " |" in slings
    rows = sum(len(c.rows) for module in printed() for c in handbook._of_chapter(module))
    assert page.cells == rows + sum(bool(c.rows) for m in printed() for c in handbook._of_chapter(m))


def test_a_table_whose_heads_do_not_fit_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "odd.py"
    file.write_text('"""Odd."""\nROWS = ((1, 2), (3, 4))\n"""Columns: one | two | three."""\n')
    spec = importlib.util.spec_from_file_location("odd", file)
    assert spec
    assert spec.loader
    odd = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(odd)
    with pytest.raises(ValueError, match="ROWS"):
        constants(odd)


def test_every_name_in_the_groups_is_a_module() -> None:
    known = {m.__name__.removeprefix("liftcalc.") for m in handbook.calculation_modules()}
    named = {name for names in handbook.GROUPS.values() for name in names}
    assert named - {"lift", "facts"} <= known


def test_every_public_function_stands_in_its_chapter_with_each_argument(page: _Page) -> None:
    for module in printed():
        chapter = handbook.handbook_markdown(module)
        for entry in [] if handbook._only_assumes(module) else handbook.entries(module):
            assert f"### `{entry.signature}`" in chapter
            assert entry.signature in page.text


def test_a_chapter_tells_formula_units_limits_and_source() -> None:
    chapter = handbook.handbook_markdown(stability)
    assert "T = N / (d - s r)" in chapter
    assert "ISO 4305" in chapter
    assert "**`slew_deg`**: shape (S,)" in chapter
    assert "[deg]" in chapter
    part = next(p for p in chapter.split("### `") if p.startswith("tipping_load_t("))
    assert "#### What it refuses" in part
    assert "#### Source" in part


@pytest.mark.parametrize(
    ("told", "shown"),
    [
        ("a*b*c and 3 * 4", r"a\*b\*c and 3 \* 4"),
        ("*load_t* above", "*load_t* above"),
        ("1 < B/L <= 2 & more", "1 &lt; B/L &lt;= 2 &amp; more"),
        ("as :func:`~liftcalc.crane.legs.margin_m`", "as ``margin_m``"),
        ("``a < b*c`` stays", "``a < b*c`` stays"),
        ("_private and N_q", r"\_private and N_q"),
        ("costs $5 to $6", r"costs \$5 to \$6"),
    ],
)
def test_docstring_signs_do_not_turn_into_markup(told: str, shown: str) -> None:
    assert handbook._text(told) == shown


@pytest.mark.parametrize(
    ("told", "module", "shown"),
    [
        ("Least force of a leg `leg_x_m`", "crane.legs", "Minimum force of an outrigger `leg_x_m`"),
        ("each leg, at least 2 sling legs", "rigging.slings", "each sling leg, at least 2 sling legs"),
        ("least squares; it leans, greatest", "crane.x", "least squares; it tilts, maximum"),
        ("```text\nleg = least\n```", "crane.x", "```text\nleg = least\n```"),
    ],
)
def test_a_chapter_is_in_the_words_of_the_page_and_leaves_code(told: str, module: str, shown: str) -> None:
    assert page_words(told, f"liftcalc.{module}") == shown


def test_sections_splits_at_their_names_and_at_underlined_titles_only() -> None:
    text = "One: two.\n\nParameters:\n  a: float\n    long\nReturns: x\n\nMethod\n------\ny"
    summary, body = handbook.sections(text)
    assert summary == "One: two."
    assert body == {"Parameters": "a: float\n  long", "Returns": "x", "Method": "y"}
    assert handbook.sections("No title - only a dash\n--\nhere")[1] == {}


def test_page_is_whole_and_needs_no_network(page: _Page) -> None:
    assert page.open == []
    assert page.outside == []
    assert "script" not in page.tags
    assert "link" not in page.tags
    assert all(link.startswith("#") for link in page.links)
    targets = {link[1:] for link in page.links if not link.startswith("#What")}
    sections = {i for i in page.ids if i.startswith(("group-", "liftcalc."))}
    assert sections <= targets
    assert sections == {i for i in targets if i.startswith(("group-", "liftcalc."))}
    assert "url(" not in handbook.handbook_html()


def test_notebook_shows_every_group_once_and_stores_no_chapter() -> None:
    notebook = json.loads((resources.notebooks_dir() / "handbook.ipynb").read_text("utf-8"))
    code = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    shown = ["".join(cell["source"]).split('"')[1] for cell in code if "group_markdown" in "".join(cell["source"])]
    assert shown == list(handbook.GROUPS)
    assert all(cell["outputs"] == [] for cell in code if "group_markdown" in "".join(cell["source"]))


def test_page_carries_the_caution(page: _Page) -> None:
    assert CAUTION_LINE in page.text


def test_group_markdown_refuses_an_unknown_title() -> None:
    with pytest.raises(InputError, match="title is 'Sails'"):
        handbook.group_markdown("Sails")
    assert handbook.group_markdown("Units").startswith("# Units\n")


def test_command_writes_the_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "book.html"
    assert cli.main(["handbook", "--out", str(target)]) == 0
    assert target.read_text(encoding="utf-8") == handbook.handbook_html()
    assert re.search(r"Handbook of \d+ chapters", capsys.readouterr().out)


def test_command_refuses_a_file_that_is_no_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["handbook", "--out", str(tmp_path / "book.pdf")]) == 2
    assert "ends in .html" in capsys.readouterr().err
    assert cli.main(["handbook", "--out", str(tmp_path / "no" / "book.html")]) == 2
    assert list(tmp_path.iterdir()) == []
