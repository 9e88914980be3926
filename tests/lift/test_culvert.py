"""A culvert below the stand is judged over its whole width, by its own quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import dblquad

from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import text_in_units
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import assess_lift


def test_the_edge_of_a_culvert_beside_the_mats_governs() -> None:
    demo = load_job(demo_job_path())
    (lift,) = demo.for_lift("L5").lifts
    stand = lift.stand.model_copy(update={"easting_m": 13.0, "northing_m": 15.0})
    services = tuple(
        s.model_copy(update={"stand_off_m": 0.0, "allowable_stress_kPa": 40.0}) for s in demo.site.services
    )
    site = demo.site.model_copy(update={"services": services})
    job = demo.model_copy(update={"lifts": (lift.model_copy(update={"stand": stand}),), "site": site})
    a = assess_lift(job, "L5")
    (service,) = services
    assert a.ground is not None
    (row,) = (c for c in a.ground_rows if c.id == f"service-{service.id}")
    start, end = np.array(service.line[0]), np.array(service.line[-1])
    along = (end - start) / np.linalg.norm(end - start)
    square = np.array([-along[1], along[0]])
    mat, turn = a.setup.mat, np.radians(stand.heading_deg)
    depth = service.crown_depth_m

    def share(point: np.ndarray, centre: np.ndarray) -> float:
        x, y = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) @ (point - centre)
        top = 3 * depth**3 / (2 * np.pi)
        found, _ = dblquad(
            lambda v, u: top / ((x - u) ** 2 + (y - v) ** 2 + depth**2) ** 2.5,
            -mat.length_m / 2, mat.length_m / 2, -mat.width_m / 2, mat.width_m / 2,
        )  # fmt: skip
        return found

    area = mat.length_m * mat.width_m
    most = {}
    for where, off in (("middle", 0.0), ("edge", service.width_m / 2)):
        best = 0.0
        for side in (-1.0, 1.0):
            for leg in a.setup.leg_site_xy_m:
                point = start + along * ((leg - start) @ along) + side * off * square
                part = np.array([share(point, xy) for xy in a.setup.leg_site_xy_m])
                force = a.forces.on_path.reaction_kN + a.ground.mat.weight_kN
                best = max(best, float((force / area @ part).max()))
        most[where] = best
    profiles = [leg.profile for leg in a.ground.legs]
    cover = depth * max(x.unit_weight_kN_m3 for p in profiles for x in p.layers)
    assert most["middle"] + cover < 40.0 < most["edge"] + cover
    assert row.value is not None
    assert row.value == pytest.approx(most["edge"] + cover, rel=0.02)
    assert row.value >= most["edge"] + cover - 0.05
    assert row.status == "over"


def test_a_slab_is_judged_all_over_and_says_what_it_carries_as_a_whole() -> None:
    demo = load_job(demo_job_path())
    (lift,) = demo.for_lift("L5").lifts
    at = (lift.stand.easting_m, lift.stand.northing_m)
    line = ((at[0] - 6.0, at[1]), (at[0] + 6.0, at[1]))
    (slab,) = (
        s.model_copy(update={"kind": "slab", "line": line, "width_m": 9.0, "crown_depth_m": 1.0})
        for s in demo.site.services[:1]
    )
    site = demo.site.model_copy(update={"services": (slab,)})
    a = assess_lift(demo.model_copy(update={"lifts": (lift,), "site": site}), "L5")
    assert a.ground is not None
    (row,) = (c for c in a.ground_rows if c.id == f"service-{slab.id}")
    (load,) = (one.load for one in a.ground.services)
    assert float(load.live_kPa.max()) > 20.0
    # every mat stands over it: in all, nearly the whole machine and the cover of 12 m x 9 m
    words = text_in_units(row.where, "metric").split("; ")[1]
    force = float(words.split(" kN")[0].replace("\u2009", ""))
    cover = 12.0 * 9.0 * max(x.unit_weight_kN_m3 for g in a.ground.legs for x in g.profile.layers)
    mats = 4 * a.ground.mat.weight_kN
    assert cover + 0.6 * 500.0 < force < cover + mats + float(a.forces.on_path.reaction_kN.sum(axis=1).max())
