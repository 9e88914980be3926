"""Mats bend on the ground that was surveyed, against beam elements on springs of the test's own."""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.ground_tables import shelf_rows


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def on_mat(demo: Job, mat: str, *, strength: float = 1.0, modulus: float | None = 1.0) -> LiftAssessment:
    """L1 on another mat, its bending strength and the ground's stiffness times a factor."""
    (lift,) = demo.for_lift("L1").lifts
    mats = tuple(m.model_copy(update={"bending_strength_kPa": m.bending_strength_kPa * strength}) for m in demo.mats)
    ground = tuple(
        p.model_copy(
            update={
                "subgrade_modulus_kN_m3": modulus and (p.subgrade_modulus_kN_m3 or 1e4) * modulus,
                "layers": tuple(
                    x.model_copy(
                        update={
                            "youngs_modulus_kPa": modulus and x.youngs_modulus_kPa and x.youngs_modulus_kPa * modulus
                        }
                    )
                    for x in p.layers
                ),
            }
        )
        for p in demo.site.ground
    )
    update = {
        "lifts": (lift.model_copy(update={"mat": mat}),),
        "mats": mats,
        "site": demo.site.model_copy(update={"ground": ground}),
    }
    return assess_lift(demo.model_copy(update=update), "L1")


def moment_kNm(force: float, *, length: float, width: float, ei: float, ks: float, patch: float) -> float:
    """Cubic beam elements, each node on a spring that lets go where it would pull."""
    count = 240
    h = length / count
    x = (np.arange(count + 1) - count / 2) * h
    bend = (
        ei
        / h**3
        * np.array(
            [
                [12, 6 * h, -12, 6 * h],
                [6 * h, 4 * h * h, -6 * h, 2 * h * h],
                [-12, -6 * h, 12, -6 * h],
                [6 * h, 2 * h * h, -6 * h, 4 * h * h],
            ]
        )
    )
    beam = np.zeros((2 * count + 2, 2 * count + 2))
    for k in range(count):
        beam[2 * k : 2 * k + 4, 2 * k : 2 * k + 4] += bend
    spring = ks * width * h * np.where(np.abs(x) > length / 2 - h / 2, 0.5, 1.0)
    overlap = np.clip(np.minimum(x + h / 2, patch / 2) - np.maximum(x - h / 2, -patch / 2), 0, h)
    load = np.zeros(2 * count + 2)
    load[::2] = force * overlap / overlap.sum()
    on = np.ones(count + 1, dtype=bool)
    for _ in range(60):
        whole = beam.copy()
        whole[::2, ::2] += np.diag(spring * on)
        sink = np.linalg.solve(whole, load)[::2]
        if np.array_equal(on, sink > 0):
            break
        on = sink > 0
    push = load[::2] - spring * on * sink
    left = x < 0
    return float(push[left] @ x[left])


@pytest.mark.parametrize("mat", ["timber-1.8", "timber-4.0", "steel-2.4"])
def test_a_mat_bends_as_beam_elements_on_springs_do(demo: Job, mat: str) -> None:
    a = on_mat(demo, mat)
    assert a.ground is not None
    rows = {c.id: c for c in a.ground_rows}
    plain = a.ground.mat
    for g, leg in zip(a.ground.legs, a.setup.machine.legs, strict=True):
        own = moment_kNm(
            g.reaction_kN,
            length=plain.length_m,
            width=g.effective_width_m,  # boards spread the force across so far only
            ei=plain.stiffness_kNm2 * g.effective_width_m / plain.width_m,
            ks=g.elastic_bending.subgrade_kN_m3,
            patch=leg.float_length_m,
        )
        use = own / (plain.moment_capacity_kNm * g.effective_width_m / plain.width_m)
        assert g.elastic_bending.utilisation == pytest.approx(use, rel=0.01)
        assert g.elastic_bending.subgrade_kN_m3 <= g.profile.subgrade_modulus_kN_m3
        assert rows[f"mat-bending-{g.name}"].value == pytest.approx(100 * use, rel=0.01)
        # strength at the length that the ground needs says far less of what the mat will do
        assert use > 1.5 * g.mat_utilisation["bending"]


def test_a_mat_that_breaks_as_a_beam_is_over_though_a_short_piece_of_it_is_strong_enough(demo: Job) -> None:
    a = on_mat(demo, "timber-4.0", strength=0.5)
    rows = {c.id: c.status for c in a.ground_rows}
    assert rows["ground-FL"] == rows["mat-FL"] == "within"
    assert rows["mat-bending-FL"] == "over"
    assert a.verdict.status == "over"
    assert a.ground is not None
    assert a.ground.legs[0].utilisation > 1
    shelf = {r[2]: r for r in shelf_rows(a.setup, a.ground, a.job.mats, lambda v, q: f"{v}")}
    assert shelf["timber-4.0"][5:] == ("bending on the ground", "not enough, chosen")


def test_softer_ground_bends_a_mat_more_and_unknown_ground_never_passes(demo: Job) -> None:
    def use(a: LiftAssessment) -> float:
        assert a.ground is not None
        return a.ground.legs[0].elastic_bending.utilisation

    assert use(on_mat(demo, "timber-4.0", modulus=0.5)) > use(on_mat(demo, "timber-4.0")) * 1.02
    blind = on_mat(demo, "timber-4.0", modulus=None)
    assert {c.id: c.status for c in blind.ground_rows}["mat-bending-FL"] == "no_data"
