"""Canonical JSON out, strict JSON in (RFC 8259; strictness beyond it is our own rule)."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.strict_json import MAX_DEPTH, dumps, loads, plain, sha256_hex

VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**15), 10**15)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@settings(deadline=None)
@given(VALUES)
def test_what_is_written_reads_back_equal_and_has_one_text(value: object) -> None:
    try:
        data = dumps(value)
    except UnicodeEncodeError:  # text with half a surrogate pair has no UTF-8 form
        return
    assert loads(data) == value
    assert dumps(loads(data)) == data
    assert json.loads(data) == value


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b'{"a": NaN}', "NaN is not a JSON number"),
        (b'{"a": -Infinity}', "-Infinity is not a JSON number"),
        (b'{"a": 1e999}', "too large"),
        (b'{"a": 1, "a": 2}', "'a' is given twice"),
        (b'{"a": {"b": 1, "b": 1}}', "'b' is given twice"),
        (b"\xff\xfe{}", "not UTF-8"),
        ('{"a": "é"}'.encode("latin-1"), "not UTF-8"),
        ('{"a": 1}'.encode("utf-16"), "not UTF-8"),
        (b'{"a": "\\ud800"}', "not Unicode"),
        (b"", "not valid JSON"),
        (b'{"a": 1', "not valid JSON"),
        (b'{"a": ' + b"9" * 5000 + b"}", "not valid JSON"),
        (b"[" * 200 + b"]" * 200, "nested deeper"),
        (b"[" * 200_000, "nested deeper|not valid JSON"),
    ],
)
def test_doubtful_json_is_refused_by_name(data: bytes, words: str) -> None:
    with pytest.raises(RecordError, match=f"x.json: .*({words})"):
        loads(data, "x.json")


def test_nesting_is_allowed_up_to_the_stated_depth() -> None:
    assert loads(b"[" * MAX_DEPTH + b"]" * MAX_DEPTH) is not None
    with pytest.raises(RecordError, match="nested deeper"):
        loads(b"[" * (MAX_DEPTH + 1) + b"]" * (MAX_DEPTH + 1))


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_canonical_json_never_holds_what_is_not_a_number(value: float) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        dumps({"a": value})


def test_the_hash_is_sha_256() -> None:
    # FIPS 180-4, worked example for the message "abc" (from memory).
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sha256_hex(b"abc") == expected


def test_numpy_values_become_plain_ones() -> None:
    value = {"a": np.float64(1.5), "b": np.arange(3), "c": (np.int64(2), np.bool_(True)), "d": "x"}
    assert plain(value) == {"a": 1.5, "b": [0, 1, 2], "c": [2, True], "d": "x"}
    assert all(type(v) is not np.float64 for v in plain(value).values())


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ({"a": [1.0, math.nan]}, r"values.a\[1\] is nan; allowed: a finite number"),
        ({"a": {"b": np.float64("inf")}}, "values.a.b is inf; allowed: a finite number"),
        ({"a": None}, "values.a is None; allowed: a number"),
        ({"a": object()}, "values.a is 'object'; allowed: a number"),
        ({"a": np.array([1.0, np.nan])}, r"values.a\[1\] is nan"),
    ],
)
def test_a_result_that_is_no_number_is_refused_by_its_path(value: object, words: str) -> None:
    with pytest.raises(InputError, match=words):
        plain(value, "values")
