"""Plain data of files that others wrote: read as meant, or refused by field and limit."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from liftcalc.base.errors import InputError, Problem
from liftcalc.base.files import read_regular
from liftcalc.base.foreign import visible
from liftcalc.base.strict_json import MAX_DEPTH
from liftcalc.facts import limits
from liftcalc.facts.base import MassT, Positive, Text, Words
from liftcalc.facts.io import read_data
from liftcalc.facts.plain import fault_of, json_data, read_text, require_plain, yaml_data

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**15), 10**15)
    | st.text(st.characters(codec="utf-8")) | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("ab:-"), inner),
    max_leaves=12,
)  # fmt: skip


@settings(deadline=None)
@given(PLAIN)
def test_json_and_yaml_of_the_same_text_give_the_same_data(value: Any) -> None:
    text = json.dumps(value)
    assert json_data(text) == value
    if "\\u" not in text:  # escapes of half characters are JSON's own
        assert yaml_data(text) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("012", "012"), ("0o14", "0o14"), ("0x1F", "0x1F"), ("1:30", "1:30"), ("1_000", "1_000"),
        ("no", "no"), ("yes", "yes"), ("on", "on"), ("True", "True"), ("2026-05-01", "2026-05-01"),
        ("nan", "nan"), ("inf", "inf"), ("true", True), ("false", False), ("null", None),
        ("~", None), ("", None), ("-0", 0), ("-0.0", 0.0), ("1.", 1.0), (".5", 0.5), ("+7", 7),
        ("1e3", 1000.0), ("'12'", "12"), ('"true"', "true"), ("|\n  12\n", "12\n"),
    ],
)  # fmt: skip
def test_a_yaml_value_is_read_as_it_stands(text: str, value: Any) -> None:
    got = require_plain(yaml_data(f"a: {text}"))["a"]
    assert got == value
    assert type(got) is type(value)
    assert str(got) == str(value), "-0 is 0"


def test_an_alias_stands_for_what_its_anchor_holds() -> None:
    assert yaml_data("a: &x [1, {b: 2}]\nc: *x\nd: &y text\ne: *y\n") == {
        "a": [1, {"b": 2}], "c": [1, {"b": 2}], "d": "text", "e": "text"
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a: &x [*x]", r"a\[0\], line 1 is '\*x'; allowed: an alias of what stands before it"),
        ("a: *x", "a, line 1 is"),
        ("a:\n  - b: !!float nan", r"a\[0\].b, line 2 .*no tag"),
        ("a: ! x", "no tag"),
        ("a: !x y", "no tag"),
        ("a: 1\n---\nb: 2", "One YAML document"),
        ("a: {b: 1, b: 2}", "a.key, line 1 is 'b'; allowed: given once"),
        ("1: a", "key, line 1 is 1; allowed: text"),
        ("a: {[1]: 2}", r"a.key, line 1 is \[1\]; allowed: text"),
        ("a: " + "[" * 150 + "]" * 150, f"nested no deeper than {MAX_DEPTH} levels"),
    ],
)
def test_doubtful_yaml_names_its_place(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        yaml_data(text)


@pytest.mark.parametrize("text", ["9" * 5000, "1e400", "-1e400", "NaN", "Infinity", "-Infinity"])
def test_a_number_that_is_none_is_refused_by_its_field_in_json(text: str) -> None:
    data = json_data('{"a": [0, {"b": ' + text + "}]}")
    with pytest.raises(InputError, match=r"^a\[1\]\.b is '.*'; allowed: a finite number\.$") as one:
        require_plain(data)
    assert len(str(one.value)) < 200


@pytest.mark.parametrize("text", ["9" * 5000, "1e400", ".inf", "-.inf", "+.INF", ".Inf", ".nan", ".NaN", ".NAN"])
def test_a_number_that_is_none_is_refused_by_its_field_in_yaml(text: str) -> None:
    with pytest.raises(InputError, match=r"^a\[1\]\.b is '.*'; allowed: a finite number\.$"):
        require_plain(yaml_data(f"a:\n- 0\n- b: {text}\n"))


@pytest.mark.parametrize(
    ("value", "fault"),
    [
        (0, ""), (0.0, ""), (1e-99, ""), (-1e-99, ""), (1e-101, "at least"), (5e-324, "at least"),
        (-2e-308, "at least"), (1e300, ""), (1e301, "finite"), (10**301, "finite"),
        (float("nan"), "finite"), (float("-inf"), "finite"), (True, ""), (None, ""),
        (object(), "a number, a text"), ("x" * limits.MOST_TEXT, ""),
        ("x" * (limits.MOST_TEXT + 1), f"{limits.MOST_TEXT:,} characters"),
        ("Größe 5\u00a0t, 3\u202f\u00b0, \u4e2d\u6587 \u0639\u0631\u0628\u064a", ""),
        ("two\nlines\tand\r\nmore", ""),
        *((f"a{c}b", "control") for c in
          "\x00\x07\x1b\x7f\x85\x9b\xad\u200b\u200d\u200e\u200f\u202a\u202e\u2028\u2029\u2066"
          "\u2069\u061c\ufeff\u034f\u3164\ufe0f\U000e0041\ud800"),
    ],
)  # fmt: skip
def test_each_plain_value_is_judged(value: Any, fault: str) -> None:
    assert bool(fault_of(value)) == bool(fault), fault_of(value)
    assert fault in fault_of(value)


def test_a_line_has_no_breaks_and_a_text_may() -> None:
    line, words = TypeAdapter(Text), TypeAdapter(Words)
    assert words.validate_python("a\nb") == "a\nb"
    for wrong in ("a\nb", "a\tb", "a\x1bb", "a\u202eb", "x" * (limits.MOST_LINE + 1)):
        with pytest.raises(ValidationError, match=r"one line of text|at most 400"):
            line.validate_python(wrong)
    with pytest.raises(ValidationError, match="text without control"):
        words.validate_python("a\u202eb")


@pytest.mark.parametrize("value", [0.0, -0.0, 5e-324, 1e-308, 1e-7, -1.0])
def test_what_is_above_zero_is_more_than_a_trace(value: float) -> None:
    for kind in (Positive, MassT):
        with pytest.raises(ValidationError, match="greater than or equal to"):
            TypeAdapter(kind).validate_python(value)
    assert TypeAdapter(Positive).validate_python(limits.LEAST) == limits.LEAST
    assert TypeAdapter(MassT).validate_python(0.001) == 0.001
    with pytest.raises(ValidationError):
        TypeAdapter(MassT).validate_python(0.000999)


def test_every_limit_holds_just_inside_and_not_just_outside(tmp_path: Path) -> None:
    most = limits.MOST_VALUES
    assert len(yaml_data("- 1\n" * (most - 1))) == most - 1
    with pytest.raises(InputError, match=f"number of values is .*at most {most:,}"):
        yaml_data("- 1\n" * (most + 1))
    assert require_plain([1] * (most - 1))
    with pytest.raises(InputError, match="number of values"):
        require_plain([1] * (most + 1))
    with pytest.raises(InputError, match="number of values"):
        json_data("[" + "1," * (most + 1) + "1]")
    path = tmp_path / "a.json"
    path.write_bytes(b" " * (limits.MOST_BYTES - 2) + b"[]")
    assert read_data(path) == []
    path.write_bytes(b" " * (limits.MOST_BYTES - 1) + b"[]")
    with pytest.raises(InputError, match=f"more than the {limits.MOST_BYTES} allowed"):
        read_data(path)


def test_links_to_files_are_followed_and_records_follow_none(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text("a: 1\n")
    link = tmp_path / "link.yaml"
    link.symlink_to("a.yaml")
    assert read_data(link) == {"a": 1}
    assert read_regular(link, 10, follow=True) == b"a: 1\n"
    with pytest.raises(Exception, match="is a link, not a file"):
        read_regular(link, 10)
    (tmp_path / "round.yaml").symlink_to("round.yaml")
    with pytest.raises(InputError, match="symbolic links"):
        read_text(tmp_path / "round.yaml")
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError, match="a device, pipe or socket is not a regular file"):
        read_text(tmp_path / "pipe")


def test_a_message_is_cut_and_escaped() -> None:
    text = str(InputError.of("a\x1b[2J" + "f" * 900, "v" * 10**6, "one", source="s\u202e" * 900))
    assert len(text) < 900
    assert text.isprintable()
    many = InputError(Problem(f"f{k}", k, "less") for k in range(1000))
    assert str(many).count("\n") == 40
    assert "And 960 more" in str(many)
    assert len(many.problems) == 1000
    assert visible("é\u00a0\t" * 99, 9) == "é\u00a0\\u00..."
