"""Every sheet in US customary units: no metric value or British word is left but in names,
citations and the calculation, and every quantity has one value on both pages."""

from __future__ import annotations

import html
import re
from pathlib import Path

import numpy as np
import pytest
from shown import given_names, shown, texts_of

from liftcalc.base import resources
from liftcalc.base.text import DECIMALS
from liftcalc.base.units import QUANTITIES, from_si
from liftcalc.base.words import US_WORDS, has_british_word
from liftcalc.facts.io import load_job
from liftcalc.panels.session import Session
from liftcalc.panels.tables import check_table_html, compare_table_html, position_table_html, verdict_words
from liftcalc.run.batch import plan, run_lift

METRIC = re.compile(r"\d[\s\u00a0\u2009]?(?:mm|m|m²|t|kg|kN|kNm|kPa|MPa|kN/m³|kN/mm|m/s)(?![\w²³/·^*]|\s*/)")
US = re.compile(r"\d[\s\u00a0](?:ft|in|lb|kip|psf|mph|ft²)(?!\w)")
BARE_PLACE = re.compile(r"\d [EN]\b")  # an easting or northing without its unit
SHEETS = [
    *((t, "L1") for t in resources.template_names()),
    *(("lift_check", x) for x in ("L4", "L6")),
    *(("ground_pressure", x) for x in ("L5", "L6", "L8")),
    ("leg_layout", "L5"),
]


def ours(text: str) -> str:
    """A text without the names that the facts give."""
    for name in given_names():
        text = text.replace(name, "")
    return text


def metric_values(text: str) -> bool:
    """Is a metric value left in a text, outside the names that the facts give?"""
    text = ours(text)
    return METRIC.search(text) is not None or BARE_PLACE.search(text) is not None


@pytest.mark.parametrize(("template", "lift"), SHEETS)
def test_a_us_sheet_shows_no_metric_value_and_no_british_word(template: str, lift: str) -> None:
    seen = shown(template, lift, "us")
    texts = [t for block in seen.blocks for t in texts_of(block)]
    drawn = [t for figure in seen.drawn for t in figure]
    assert [t for t in texts + drawn if metric_values(t)] == []
    assert [t for t in texts + drawn if has_british_word(ours(t))] == []
    assert len([t for t in texts if US.search(t)]) > 3


@pytest.mark.parametrize(("template", "lift"), SHEETS)
def test_a_metric_sheet_shows_no_us_value(template: str, lift: str) -> None:
    seen = shown(template, lift, "metric")
    texts = [t for block in seen.blocks for t in texts_of(block)]
    texts += [t for figure in seen.drawn for t in figure]
    assert [t for t in texts if US.search(ours(t))] == []


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize(("template", "lift"), SHEETS)
def test_no_mark_of_an_exact_value_is_left_in_what_is_shown(template: str, lift: str, units: str) -> None:
    seen = shown(template, lift, units)
    texts = [t for block in seen.blocks for t in texts_of(block, cited=True)]
    texts += [*seen.printed, *(t for figure in seen.drawn for t in figure)]
    assert [t for t in texts if "⟦" in t] == []


LABELS = {
    label[n]: name
    for n in (0, 1)
    for name, label in QUANTITIES.items()
    if label[0] != label[1] and name not in ("extension_m", "settlement_mm")
}
_UNIT = "|".join(map(re.escape, sorted(LABELS, key=len, reverse=True)))
VALUE = re.compile(
    rf"([−-]?\d[\d\u2009,]*(?:\.\d+)?)[ \u00a0]({_UNIT})"
    r"(?![\w²³/·^])"
)


def values(text: str) -> list[tuple[float, str, float]]:
    """Values of a text with quantity and the step of their last digit."""
    found = []
    for number, label in VALUE.findall(ours(text)):
        digits = re.sub("[\u2009,]", "", number).replace("−", "-")
        step = 10.0 ** -len(digits.partition(".")[2])
        found.append((float(digits), LABELS[label], step))
    return found


def differing(metric: str, us: str) -> list[str]:
    """Values of a text that are not the same on the two pages, within their last digits."""
    pairs = values(metric), values(us)
    if [q for _, q, _ in pairs[0]] != [q for _, q, _ in pairs[1]]:
        return [f"other quantities: {metric!r} and {us!r}"]
    wrong = []
    for (a, quantity, step_a), (b, _, step_b) in zip(*pairs, strict=True):
        in_us = float(from_si(a, quantity, "us"))
        # each is rounded once from the exact value, a limit to its safe side
        slack = float(from_si(step_a, quantity, "us")) + step_b
        if abs(in_us - b) > slack * (1 + 1e-6):
            wrong.append(f"{a} {quantity}: {in_us:.4f} and {b} in {us!r}")
        same = [q for q, labels in QUANTITIES.items() if labels == QUANTITIES[quantity]]
        steps = [tuple(10.0**-d for d in DECIMALS[q]) for q in same]
        if not any(np.allclose((step_a, step_b), own, rtol=1e-9, atol=0) for own in steps):
            wrong.append(f"{quantity} is rounded otherwise than elsewhere in {metric!r} / {us!r}")
    return wrong


@pytest.mark.parametrize(("template", "lift"), SHEETS)
def test_both_pages_show_one_value_of_a_quantity_with_one_rounding(template: str, lift: str) -> None:
    metric, us = (shown(template, lift, units) for units in ("metric", "us"))
    assert [b["kind"] for b in metric.blocks] == [b["kind"] for b in us.blocks]
    wrong, compared = [], 0
    for one, other in zip(metric.blocks, us.blocks, strict=True):
        first, second = list(texts_of(one)), list(texts_of(other))
        assert len(first) == len(second)
        for a, b in zip(first, second, strict=True):
            wrong += differing(a, b)
            compared += len(values(a))
    assert wrong == []
    assert compared > 10


def test_a_value_converted_from_a_rounded_text_is_seen() -> None:
    assert differing("at 13.24 m", "at 43.45 ft") == []
    assert differing("at 13.24 m", "at 43.50 ft") != []
    assert differing("at 13.2 m", "at 43.31 ft") != []
    assert values("at 13.24 m, 2\u2009505.0 kPa") == [(13.24, "length_m", 0.01), (2505.0, "pressure_kPa", 0.1)]


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


def test_the_check_itself_sees_the_metric_values_of_a_metric_sheet() -> None:
    seen = shown("lift_check", "L1", "metric")
    assert sum(metric_values(t) for block in seen.blocks for t in texts_of(block)) > 10
    assert any(metric_values(t) for texts in seen.drawn for t in texts)
    assert any(has_british_word(t) for block in seen.blocks for t in texts_of(block))
    assert US_WORDS


def test_the_summary_of_a_us_batch_says_the_remedy_in_us_units(tmp_path: Path) -> None:
    job = load_job(resources.demo_job_path())
    (task,) = plan(job, tmp_path, lifts=["L6"], units="us")
    rows = run_lift(task)
    remedy = next(row.remedy for row in rows if row.template == "lift_check")
    assert US.search(remedy)
    assert not metric_values(remedy)
