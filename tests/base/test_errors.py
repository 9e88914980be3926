"""The range tests behind every calculation: what they let pass, and what they say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from liftcalc.base.errors import (
    InputError,
    Problem,
    require_between,
    require_finite,
    require_non_negative,
    require_positive,
)

ANY_FLOAT = st.floats(allow_nan=True, allow_infinity=True)
TESTS: dict[str, tuple[Callable[..., Any], Callable[[float], bool]]] = {
    "finite": (require_finite, np.isfinite),
    "positive": (require_positive, lambda v: bool(v > 0) and bool(np.isfinite(v))),
    "non_negative": (require_non_negative, lambda v: bool(v >= 0) and bool(np.isfinite(v))),
    "between": (lambda f, v: require_between(f, v, -2.0, 3.0), lambda v: bool(-2 <= v <= 3)),
}


@pytest.mark.parametrize("name", TESTS)
@given(values=st.lists(ANY_FLOAT, max_size=6))
def test_an_array_passes_exactly_when_every_element_does(name: str, values: list[float]) -> None:
    check, allowed = TESTS[name]
    if all(allowed(v) for v in values):
        assert np.array_equal(check("x_m", values), np.asarray(values, dtype=float))
        return
    with pytest.raises(InputError, match="x_m is"):
        check("x_m", values)


@pytest.mark.parametrize("name", TESTS)
@given(value=ANY_FLOAT)
def test_a_scalar_passes_exactly_when_it_is_allowed(name: str, value: float) -> None:
    check, allowed = TESTS[name]
    if allowed(value):
        assert float(check("x_m", value)) == value
        return
    with pytest.raises(InputError):
        check("x_m", value)


@pytest.mark.parametrize("value", ["three", None, object(), [1.0, "a"], {}])
def test_what_is_no_number_is_told_as_such(value: object) -> None:
    with pytest.raises(InputError, match="x_m"):
        require_finite("x_m", value)  # type: ignore[arg-type]


def test_the_first_wrong_value_and_what_is_allowed_are_named() -> None:
    with pytest.raises(InputError, match=r"radius_m is -1\.0; allowed: greater than 0\."):
        require_positive("radius_m", [3.0, -1.0, np.nan])
    with pytest.raises(InputError, match="0 to 50"):
        require_between("phi_deg", 51.0, 0.0, 50.0)


def test_an_error_lists_every_problem() -> None:
    error = InputError([Problem("a", 1, "2"), Problem("b", 3, "4", "Do it.")], source="f")
    assert str(error) == "f: a is 1; allowed: 2.\nb is 3; allowed: 4. Do it."
