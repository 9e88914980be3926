"""The shelf that comes with the project: loads as facts and keeps to the published tables."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest

from liftcalc.facts.io import parse_fact, read_data
from liftcalc.facts.rigging import Accessories, LiftingBeam, Shackle, Sling
from liftcalc.rigging.tables import CHAIN_SLINGS_GRADE_8_EN, WIRE_ROPE_SLINGS_EN

SHELF = Path(__file__).parents[2] / "shared" / "rigging"


def shelf(name: str) -> Accessories:
    return parse_fact(Accessories, read_data(SHELF / name), source=name)


SLINGS = shelf("slings.yaml").slings
SHACKLES = shelf("shackles.yaml").shackles
BEAMS = shelf("beams.yaml").beams

# Working load limit [t]: nominal pin diameter [mm]. Bow and dee shackles, grade 6, of RR-C-271 and
# EN 13889, second-hand: a reprint that names no edition.
SHACKLE_PINS_MM = {
    2.0: 16, 3.25: 19, 4.75: 22, 6.5: 25, 8.5: 28, 9.5: 32, 12.0: 35, 13.5: 38, 17.0: 42, 25.0: 50
}  # fmt: skip


def test_every_entry_is_marked_invented_and_named_once() -> None:
    every = [*SLINGS, *SHACKLES, *BEAMS]
    assert len(SLINGS) >= 20
    assert len(SHACKLES) == len(SHACKLE_PINS_MM)
    assert len(BEAMS) == 5
    assert len({item.id for item in every}) == len(every)
    assert all(item.provenance.kind == "invented" for item in every)
    for name in ("slings.yaml", "shackles.yaml", "beams.yaml"):
        assert (SHELF / name).read_text().startswith("# INVENTED")


@pytest.mark.parametrize("sling", SLINGS, ids=[s.id for s in SLINGS])
def test_sling_limits_are_those_of_the_table_named(sling: Sling) -> None:
    tables = {"EN 13414-1:2003": WIRE_ROPE_SLINGS_EN, "EN 818-4": CHAIN_SLINGS_GRADE_8_EN}
    if sling.standard in tables:
        table = tables[sling.standard]
        assert sling.wll_t == table.row(sling.diameter_mm).wll_one_leg_t
        how = "second-hand" if sling.kind == "chain" else "Table 4, seen"
        assert f"{sling.standard}, {how}" in sling.provenance.note
        assert str(table.edition.document) in sling.standard
    else:
        assert sling.standard == "EN 1492-2"
        assert sling.wll_t in (1.0, 2.0, 3.0, 5.0, 8.0, 10.0)
        assert "from memory" in sling.provenance.note


@pytest.mark.parametrize("shackle", SHACKLES, ids=[s.id for s in SHACKLES])
def test_shackle_limits_and_pins_are_those_of_the_table(shackle: Shackle) -> None:
    assert shackle.pin_diameter_mm == SHACKLE_PINS_MM[shackle.wll_t]


def _steel_area_m2(note: str) -> float:
    """Section of the bar from its sizes in the note; sharp corners."""
    sizes = [float(n) / 1000.0 for n in re.findall(r"[\d.]+", note)]
    if note.startswith("tube"):
        outer, wall = sizes[:2]
        return math.pi * wall * (outer - wall)
    high, wide, wall = sizes[:3]
    return high * wide - (high - 2 * wall) * (wide - 2 * wall)


@pytest.mark.parametrize("beam", BEAMS, ids=[b.id for b in BEAMS])
def test_each_beam_weighs_its_bar_and_ends_and_lugs(beam: LiftingBeam) -> None:
    steel = _steel_area_m2(beam.provenance.note) * beam.span_m * 7.85
    assert steel < beam.mass_t < 3.0 * steel


def test_masses_rise_with_length_and_rating() -> None:
    ropes = sorted((s for s in SLINGS if s.kind == "wire rope"), key=lambda s: s.wll_t)
    per_m = [s.mass_t / s.length_m for s in ropes if s.length_m >= 6]
    assert np.all(np.diff(per_m) > 0)
    assert np.all(np.diff([s.mass_t for s in SHACKLES]) > 0)
