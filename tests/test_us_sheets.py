"""Every sheet in US customary units: no metric value is left but names, citations and working."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from matplotlib.text import Text

from liftcalc import sheets
from liftcalc.base import resources
from liftcalc.facts.io import load_job
from liftcalc.panels.session import Session
from liftcalc.panels.tables import (
    check_table_html,
    compare_table_html,
    position_table_html,
    verdict_words,
)
from liftcalc.run.batch import plan, run_lift

METRIC = re.compile(r"\d[\s\u00a0]?(?:mm|m|m²|t|kg|kN|kNm|kPa|MPa|kN/m³|m/s)(?![\w²³/·^*]|\s*/)")
US = re.compile(r"\d[\s\u00a0](?:ft|in|lb|kip|psf|mph|ft²)(?!\w)")
BARE_PLACE = re.compile(r"\d [EN]\b")  # an easting or northing without its unit
CITED = {"Reference", "Rule", "Source", "Where it comes from"}


def _names() -> list[str]:
    facts = sheets.facts_of(load_job(resources.demo_job_path()))
    return sorted(set(sheets._given_names(facts)), key=len, reverse=True)


NAMES = _names()


class Seen:
    """What a sheet shows: its blocks, and the texts of its drawings."""

    def __init__(self) -> None:
        self.blocks: list[dict[str, Any]] = []
        self.drawn: dict[str, list[str]] = {}

    def show(self, bundle: dict[str, Any]) -> None:
        self.blocks.append(bundle[sheets.blocks.BLOCK_MIME])

    def svg(self, figure: Any) -> str:
        texts = [t.get_text() for t in figure.findobj(Text) if t.get_visible()]
        self.drawn[f"drawing {len(self.drawn)}"] = texts
        return "<svg/>"


def texts_of(block: dict[str, Any]) -> Iterator[str]:
    """Texts of a block that must be in display units."""
    if block["kind"] == "working":
        yield block["title"]
        return
    rows = block.get("rows", [])
    columns = block.get("columns")
    for row in rows:
        for k, cell in enumerate(row):
            if columns is None or columns[k] not in CITED:
                yield cell
    for name in ("words", "governing", "caption", "headline", "text", "title"):
        yield block.get(name, "")
    for row in block.get("remedies", []):
        yield from row
    yield from block.get("items", [])
    if block.get("table"):
        yield from texts_of(block["table"])


def metric_values(text: str) -> bool:
    """Is a metric value left in a text, outside the names that the facts give?"""
    for name in NAMES:
        text = text.replace(name, "")
    return METRIC.search(text) is not None or BARE_PLACE.search(text) is not None


def run(template: str, lift: str, units: str, monkeypatch: pytest.MonkeyPatch) -> Seen:
    """The template's own cells, run here; what they show is kept instead of shown."""
    seen = Seen()
    monkeypatch.setattr(sheets, "_show", seen.show)
    monkeypatch.setattr(sheets, "svg_text", seen.svg)
    notebook = json.loads(resources.template_path(template).read_text(encoding="utf-8"))
    code = ["".join(c["source"]) for c in notebook["cells"] if c["cell_type"] == "code"]
    space: dict[str, Any] = {"print": lambda *args: None}
    exec(code[0], space)
    space |= {"units": units, "lift": lift}
    for source in code[1:]:
        # a coarse search shows the same kinds of text in a fraction of the time
        coarse = source.replace(
            "step_m=1.0, heading_step_deg=15.0", "step_m=4, heading_step_deg=90"
        )
        exec(coarse, space)
    return seen


@pytest.mark.parametrize(
    ("template", "lift"),
    [(t, "L1") for t in resources.template_names()]
    + [("lift_check", "L6"), ("ground_pressure", "L8"), ("leg_layout", "L5")]
    + [("ground_pressure", "L5")],
)
def test_a_us_sheet_shows_no_metric_value(
    template: str, lift: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = run(template, lift, "us", monkeypatch)
    left = [t for block in seen.blocks for t in texts_of(block) if metric_values(t)]
    assert left == []
    drawn = [t for texts in seen.drawn.values() for t in texts if metric_values(t)]
    assert drawn == []
    shown = [t for block in seen.blocks for t in texts_of(block) if US.search(t)]
    assert len(shown) > 3


@pytest.mark.parametrize("lift", ["L1", "L6", "L8"])
def test_the_tables_of_the_workbench_show_no_metric_value(lift: str) -> None:
    session = Session.open(lift_id=lift)
    session.system = "us"
    session.keep()
    session.set({"wind": 12.0})
    assert session.kept is not None
    tables = (
        check_table_html(session.now, "us"),
        position_table_html(session.now, "us"),
        compare_table_html(session.kept, session.now, "us"),
        verdict_words(session.now, "us")[1],
    )
    for table in tables:
        cells = re.split(r"</t[dh]>", re.sub(r'<td class="lw-ref">.*?</td>', "", table))
        texts = [html.unescape(re.sub(r"<[^>]+>", " ", cell)) for cell in cells]
        assert [text for text in texts if metric_values(text)] == []
    assert US.search(tables[0])


def test_the_working_of_a_us_sheet_says_that_it_is_in_si(monkeypatch: pytest.MonkeyPatch) -> None:
    seen = run("lift_check", "L1", "us", monkeypatch)
    titles = [block["title"] for block in seen.blocks if block["kind"] == "working"]
    assert titles
    assert all(title.endswith("(in SI units, as calculated)") for title in titles)


def test_the_check_itself_sees_the_metric_values_of_a_metric_sheet(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    seen = run("lift_check", "L1", "metric", monkeypatch)
    assert sum(metric_values(t) for block in seen.blocks for t in texts_of(block)) > 10
    assert any(metric_values(t) for texts in seen.drawn.values() for t in texts)


def test_the_summary_of_a_us_batch_tells_the_remedy_in_us_units(tmp_path: Path) -> None:
    job = load_job(resources.demo_job_path())
    (task,) = plan(job, tmp_path, lifts=["L6"], units="us")
    rows = run_lift(task)
    remedy = next(row.remedy for row in rows if row.template == "lift_check")
    assert US.search(remedy)
    assert not metric_values(remedy)
