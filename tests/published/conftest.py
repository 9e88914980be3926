"""One comparison for the published rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest


@pytest.fixture
def agrees() -> Callable[..., None]:
    """Compare every value that a row expects with what was found for it.

    *not_given* names values that liftcalc has no function for, with the reason; any other value
    without a result fails the row. *printed* is the rounding of the source, by name.
    """

    def compare(
        case: Mapping[str, Any],
        found: Mapping[str, Any],
        *,
        not_given: Mapping[str, str] | None = None,
        printed: Callable[[str], float] = lambda name: 0.0,
    ) -> None:
        wanted = {n: v for n, v in case["expected"].items() if n not in (not_given or {})}
        assert wanted, f"nothing is compared: {case['source']}"
        assert not wanted.keys() - found.keys(), "values without a result"
        numbers = [abs(v) for v in case["expected"].values() if not isinstance(v, str | list)]
        for name, expected in wanted.items():
            if isinstance(expected, str | bool):
                assert found[name] == expected, f"{name}: {case['source']}"
            else:
                zero = printed(name) + 1e-6 * max([1.0, *numbers])
                assert found[name] == pytest.approx(expected, rel=case["rel_tol"], abs=zero), (
                    f"{name}: {case['source']}"
                )

    return compare
