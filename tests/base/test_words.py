"""The table of words: American words for British ones, and where the boom points."""

from __future__ import annotations

import pytest

from liftcalc.base.words import TERMS, US_WORDS, slew_words, us_words


@pytest.mark.parametrize(
    ("uk", "us"),
    [
        ("Slew angle 85.7°, anticlockwise", "Swing angle 85.7°, counterclockwise"),
        ("sling legs of equal length", "sling legs of equal length"),
        ("packing under FL; levelled", "cribbing under FL; leveled"),
        ("SLEW ONLY TO THE LEFT", "SWING ONLY TO THE LEFT"),
        ("the line is isolated and earthed", "the line is de-energized and grounded"),
        ("utilisation of the centreline", "utilization of the centerline"),
        ("unpacking, slews2", "unpacking, slews2"),
    ],
)
def test_the_us_page_has_the_words_of_the_us_trade(uk: str, us: str) -> None:
    assert us_words(uk) == us


def test_each_word_stands_in_the_table_once_and_is_not_replaced_twice() -> None:
    words = [term.uk for term in TERMS]
    assert len(words) == len(set(words))
    for uk, us in US_WORDS.items():
        assert us_words(us) == us, (uk, us)


@pytest.mark.parametrize(
    ("slew_deg", "words"),
    [
        (0.0, "over the front"),
        (359.0, "over the front"),
        (-115.7, "rear right"),
        (90.0, "over the left side"),
        (180.0, "over the rear"),
        (270.0, "over the right side"),
        (46.0, "front left"),
    ],
)
def test_where_the_boom_points_in_words(slew_deg: float, words: str) -> None:
    assert slew_words(slew_deg) == words
