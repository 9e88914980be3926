"""How many seeded cases: a small number in every run, more on request.

LIFTCALC_ENGINE_CASES=20000 python -m pytest tests/engines
"""

from __future__ import annotations

import os

import numpy as np
import pytest

SHARES = {"tipping": 60, "contact": 90, "distance": 120, "frame": 40, "laws": 90}
"""Cases of each kind in a normal run, in all 400."""


def cases(kind: str) -> int:
    wanted = int(os.environ.get("LIFTCALC_ENGINE_CASES", "0"))
    return max(SHARES[kind], round(wanted * SHARES[kind] / sum(SHARES.values())))


def random_legs(rng: np.random.Generator) -> np.ndarray:
    """Unlike legs FL, FR, RR, RL, machine frame. [m]"""
    front, rear = rng.uniform(2.5, 4.5), -rng.uniform(2.5, 4.5)
    y = rng.uniform(1.25, 3.8, 4)
    x = np.array([front, front, rear, rear]) + rng.uniform(-0.3, 0.3, 4)
    return np.column_stack([x, y * np.array([1, -1, -1, 1])])


@pytest.fixture(scope="session")
def draw_legs():  # type: ignore[no-untyped-def]
    return random_legs


@pytest.fixture(scope="session")
def case_count():  # type: ignore[no-untyped-def]
    return cases
