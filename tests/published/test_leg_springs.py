"""Spring of the ground under a mat, and legs of a rigid carrier on unequal ground, by hand."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from liftcalc.lift import leg_springs
from liftcalc.reactions.envelope import reach_envelope

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "leg_springs.jsonl").read_text().splitlines()]


def profile(layers: list, subgrade_modulus_kN_m3: float | None = None) -> SimpleNamespace:
    names = ("thickness_m", "youngs_modulus_kPa", "poisson")
    return SimpleNamespace(
        layers=[SimpleNamespace(**dict(zip(names, layer, strict=True))) for layer in layers],
        subgrade_modulus_kN_m3=subgrade_modulus_kN_m3,
    )


def under_mat(given: dict) -> dict:
    rest = dict(given)
    ground = profile(rest.pop("layers"), rest.pop("subgrade_modulus_kN_m3", None))
    return {"spring_kN_m": leg_springs.ground_spring_kN_m(ground, **rest)}


def on_springs(given: dict, monkeypatch: pytest.MonkeyPatch) -> dict:
    """Greatest reaction of each leg over all that the ground may be, load in the middle."""
    grounds = {name: profile([(9.0, None, None)], modulus) for name, modulus in given["subgrade_modulus_kN_m3"].items()}
    touched = tuple((name,) for name in given["under"])
    monkeypatch.setattr(leg_springs, "mats_and_zones", lambda _: (None, touched))
    leg = SimpleNamespace(stiffness_kN_m=given["leg_stiffness_kN_m"])
    setup = SimpleNamespace(
        machine=SimpleNamespace(legs=[leg] * 4),
        leg_xy_m=np.array(given["leg_xy_m"]),
        mat=SimpleNamespace(length_m=given["mat_m"], width_m=given["mat_m"]),
        site=SimpleNamespace(
            zones=[SimpleNamespace(id=name, profile=name) for name in grounds], profile=grounds.__getitem__
        ),
    )
    found = reach_envelope(leg_springs.leg_supports(setup), [given["vertical_kN"]], [[0.0, 0.0]], reach_m=[0.0])
    return {"reaction_kN": found.reaction_kN[0]}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None], monkeypatch: pytest.MonkeyPatch) -> None:
    given = case["inputs"]
    agrees(case, under_mat(given) if case["topic"] == "ground" else on_springs(given, monkeypatch))
