"""The shelf that comes with the project: loads as facts and keeps to the published tables."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest

from liftcalc import rigging
from liftcalc.facts.io import parse_fact, read_data
from liftcalc.facts.rigging import Accessories, LiftingBeam, Shackle, Sling

SHELF = Path(__file__).parents[2] / "shared" / "rigging"


def shelf(name: str) -> Accessories:
    return parse_fact(Accessories, read_data(SHELF / name), source=name)


SLINGS = shelf("slings.yaml").slings
SHACKLES = shelf("shackles.yaml").shackles
BEAMS = shelf("beams.yaml").beams


def test_every_entry_is_marked_invented_and_named_once() -> None:
    every = [*SLINGS, *SHACKLES, *BEAMS]
    assert len(SLINGS) >= 20
    assert len(SHACKLES) == len(rigging.SHACKLES_GRADE_6)
    assert len(BEAMS) == 5
    assert len({item.id for item in every}) == len(every)
    assert all(item.provenance.kind == "invented" for item in every)
    for name in ("slings.yaml", "shackles.yaml", "beams.yaml"):
        assert (SHELF / name).read_text().startswith("# INVENTED")


@pytest.mark.parametrize("sling", SLINGS, ids=[s.id for s in SLINGS])
def test_sling_limits_are_those_of_the_table_named(sling: Sling) -> None:
    tables = {
        "EN 13414-1:2003": rigging.WIRE_ROPE_SLINGS_EN,
        "EN 818-4": rigging.CHAIN_SLINGS_GRADE_8_EN,
    }
    if sling.standard in tables:
        table = tables[sling.standard]
        assert sling.wll_t == table.row(sling.diameter_mm).wll_one_leg_t
        assert "seen" in sling.provenance.note
        assert str(table.edition.document) in sling.standard
    else:
        assert sling.standard == "EN 1492-2"
        assert sling.wll_t in (1.0, 2.0, 3.0, 5.0, 8.0, 10.0)
        assert "from memory" in sling.provenance.note


@pytest.mark.parametrize("shackle", SHACKLES, ids=[s.id for s in SHACKLES])
def test_shackle_limits_and_pins_are_those_of_the_table(shackle: Shackle) -> None:
    sizes = dict(rigging.SHACKLES_GRADE_6.values())
    assert shackle.pin_diameter_mm == sizes[shackle.wll_t]


def _section(note: str) -> rigging.BeamSection:
    """Section from its sizes in the note; sharp corners, least radius of gyration."""
    numbers = [float(n) for n in re.findall(r"[\d.]+", note)]
    fy = numbers[-1]
    if note.startswith("tube"):
        outer, wall = numbers[:2]
        inner = outer - 2 * wall
        area = math.pi / 4 * (outer**2 - inner**2)
        second = math.pi / 64 * (outer**4 - inner**4)
        return rigging.BeamSection(
            area, second / (outer / 2), math.sqrt(second / area), area / 2, fy
        )
    high, wide, wall = numbers[:3]
    h1, b1 = high - 2 * wall, wide - 2 * wall
    area = high * wide - h1 * b1
    strong = (wide * high**3 - b1 * h1**3) / 12
    weak = (high * wide**3 - h1 * b1**3) / 12
    return rigging.BeamSection(
        area, strong / (high / 2), math.sqrt(weak / area), 2 * high * wall, fy
    )


@pytest.mark.parametrize("beam", BEAMS, ids=[b.id for b in BEAMS])
def test_rated_load_keeps_each_beam_within_its_section(beam: LiftingBeam) -> None:
    section = _section(beam.provenance.note)
    if beam.kind == "spreader":
        height = 0.5 * beam.span_m * math.tan(math.radians(beam.min_top_angle_deg))
        forces = rigging.spreader_forces(
            beam.wll_t, beam.span_m, hook_above_spreader_m=height, spreader_mass_t=beam.mass_t
        )
        check = rigging.member_check(
            section,
            beam.span_m,
            category="B",
            compression_kN=forces.compression_kN,
            bending_moment_kNm=forces.self_weight_moment_kNm,
        )
    else:
        out = rigging.lifting_beam_forces(beam.wll_t, beam.span_m, beam_mass_t=beam.mass_t)
        check = rigging.member_check(
            section,
            beam.span_m,
            category="B",
            bending_moment_kNm=out.bending_moment_kNm,
            shear_kN=out.shear_kN,
        )
    assert 0.2 < float(check.utilisation) <= 1.0
    steel = section.area_mm2 * 1e-6 * beam.span_m * 7.85
    assert steel < beam.mass_t < 3.0 * steel  # bar, ends and lugs


def test_masses_rise_with_length_and_rating() -> None:
    ropes = sorted((s for s in SLINGS if s.kind == "wire rope"), key=lambda s: s.wll_t)
    per_m = [s.mass_t / s.length_m for s in ropes if s.length_m >= 6]
    assert np.all(np.diff(per_m) > 0)
    assert np.all(np.diff([s.mass_t for s in SHACKLES]) > 0)
