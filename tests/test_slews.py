"""Slews are 0 to 360 degrees, 0 over the front, anticlockwise, wherever somebody reads them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from shown import shown, texts_of

from liftcalc.base import resources
from liftcalc.base.words import slew_words
from liftcalc.panels.workbench import open_workbench

NEGATIVE = re.compile(r"[-−]\s?\d[\d.]*\s?(?:°(?!C)|deg\b)")
SLEW = re.compile(r"\b(?:slew|swing)\w* (?:angle )?([-−]?\d+(?:\.\d+)?)°", re.IGNORECASE)


def wrong_angles(text: str) -> list[str]:
    """Angles below 0, and slews beyond a turn."""
    beyond = [m[0] for m in SLEW.finditer(text) if float(m[1].replace("−", "-")) > 360.0]
    return NEGATIVE.findall(text) + beyond


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("slew −115.7°, radius 9.21 m", True),
        ("at -30 deg", True),
        ("slew 372.1°", True),
        ("slew 244.3° (rear right), level −1.20 m", False),
        ("A 30.0°–159.0°", False),
    ],
)
def test_an_angle_that_is_none_of_the_circle_is_seen(text: str, wrong: bool) -> None:
    assert bool(wrong_angles(text)) is wrong


@pytest.mark.parametrize("lift", ["L1", "L4", "L5", "L8"])
@pytest.mark.parametrize("template", [*resources.CHAIN, "where_to_stand"])
def test_no_table_card_or_drawing_of_a_sheet_shows_a_slew_outside_the_circle(template: str, lift: str) -> None:
    """L1 slews over the rear, L5 over the front: one of them passes any end of a half circle."""
    seen = shown(template, lift, "metric")
    texts = [t for block in seen.blocks for t in texts_of(block)]
    texts += [t for figure in seen.drawn for t in figure]
    # a turn has a sign, a direction has none
    texts += [
        f"slew {row['result']}"
        for block in seen.kind("calculation")
        for section in block["sections"]
        for row in section["rows"]
        if "slew angle" in row["what"].lower()
    ]
    assert len(texts) > 30
    assert [t for t in texts if wrong_angles(t)] == []


def leaves(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        yield from (text for item in value.values() for text in leaves(item))
    elif isinstance(value, list):
        yield from (text for item in value for text in leaves(item))


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("lift", ["L1", "L5"])
def test_the_workbench_shows_slews_of_the_circle_with_their_words(lift: str, units: Any) -> None:
    bench = open_workbench(lift=lift, units=units)
    word = "Swing" if units == "us" else "Slew"
    for slew in (0.0, 12.5, 200.0, 300.0, 360.0):
        state = bench.answer({"kind": "set", "values": {"slew": slew, "heading": slew}})
        assert state["errors"] == {}
        assert state["values"]["slew"] == state["values"]["heading"] == slew % 360.0
        assert state["said"]["slew"] == slew_words(slew)
        bearing = f"{(90.0 - slew) % 360.0:.1f}°"
        assert state["said"]["heading"] == f"front {bearing} clockwise from north"
        assert f"{slew % 360.0:.1f}°, {slew_words(slew)}" in state["position"]
        svg = [re.sub(r"<style.*?</style>|<[^>]*>", " ", p) for p in state["pictures"].values()]
        shown_texts = [*leaves({k: v for k, v in state.items() if k != "pictures"}), *svg]
        assert [t for t in shown_texts if wrong_angles(re.sub(r"<[^>]*>", " ", t))] == []
        label = next(c["label"] for c in state["controls"] if c["id"] == "slew")
        assert label == word
    refused = bench.answer({"kind": "set", "values": {"slew": -90.0}})["errors"]["slew"]
    assert refused == f"{word} is -90.0; allowed: 0.0 to 360.0 °."


def test_the_words_of_the_page_follow_its_units_and_no_mark_is_left_in_it() -> None:
    bench = open_workbench(lift="L1")
    for units, words, other in (
        ("metric", ("Capacity by slew", "Utilisation along path", "centreline"), "swing"),
        ("us", ("Capacity by swing", "Utilization along path", "centerline"), "slew"),
    ):
        state = bench.answer({"kind": "units", "system": units})
        texts = " | ".join(state["texts"].values())
        assert all(word in texts for word in words)
        assert other not in texts.lower()
        assert ("Utilization" if units == "us" else "Utilisation") in state["checks"]
        assert state["texts"]["caution"].startswith("INVENTED job")
        assert "rated capacity limiter govern" in state["texts"]["caution"]
        assert "⟦" not in "".join(leaves(state))
