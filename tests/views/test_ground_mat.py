"""Drawings of the ground sheet: what they show, to scale and legible."""

from __future__ import annotations

import itertools
from typing import Any

import matplotlib
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb

from liftcalc.ground.beam import centred_beam_shape
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.stress import MatsInPlan, rectangle_stress_kPa
from liftcalc.lift.ground_tables import pressure_along_mat_kPa, stress_below
from liftcalc.views.ground_mat import MatDrawing, draw_mat_plan, draw_mat_pressure
from liftcalc.views.ground_stress import DepthDrawing, draw_stress_with_depth
from liftcalc.views.paper import svg_text
from liftcalc.views.style import TEXT_PT, new_axes

TIMBER = MatProperties(
    "timber 4.0 × 1.2", 4.0, 1.2, 0.3, 0.9, "timber", 9e6, 11e3, 1.2e3, 4e3, strength_basis="allowable"
)
FT = 0.3048
PRESSURE_KPA = np.array([160.0, 90.0, 60.0, 90.0])
LEGS = MatsInPlan(
    x_m=np.array([2.0, 2.0, -2.0, -2.0]),
    y_m=np.array([1.8, -1.8, -1.8, 1.8]),
    length_m=np.full(4, 3.2),
    width_m=np.full(4, 1.2),
)


def mat(*, subgrade_kN_m3: float = 25000.0, **more: Any) -> MatDrawing:
    x, elastic = pressure_along_mat_kPa(TIMBER, 600.0, width_m=1.1, float_length_m=0.6, subgrade_kN_m3=subgrade_kN_m3)
    values: dict[str, Any] = {
        "title": "Mat under FL",
        "mat_name": TIMBER.name,
        "length_m": TIMBER.length_m,
        "width_m": TIMBER.width_m,
        "thickness_m": TIMBER.thickness_m,
        "reaction_kN": 600.0,
        "effective_length_m": 3.2,
        "effective_width_m": 1.1,
        "pressure_kPa": (600.0 + TIMBER.weight_kN) / (3.2 * 1.1),
        "allowable_kPa": 210.0,
        "float_length_m": 0.6,
        "float_width_m": 0.5,
        "elastic_x_m": x,
        "elastic_pressure_kPa": elastic,
    }
    return MatDrawing(**(values | more))


def depth() -> DepthDrawing:
    stress = stress_below(0, PRESSURE_KPA, LEGS)
    return DepthDrawing("Stress below FL", stress, (0.0, 1.0), ("fill", "soft clay"), 1.5)


CASES: dict[str, tuple[Any, Any, tuple[float, float]]] = {
    "plan": (draw_mat_plan, mat, (170, 90)),
    "narrow plan": (draw_mat_plan, mat, (90, 90)),
    "pressure": (draw_mat_pressure, mat, (170, 90)),
    "narrow pressure": (draw_mat_pressure, mat, (110, 90)),
    "rigid": (draw_mat_pressure, lambda: mat(subgrade_kN_m3=np.nan), (170, 90)),
    "strong ground": (draw_mat_pressure, lambda: mat(allowable_kPa=2000.0), (170, 90)),
    "depth": (draw_stress_with_depth, depth, (120, 110)),
}


def drawn(name: str, system: str = "metric") -> Axes:
    draw, data, (width, height) = CASES[name]
    _, ax = new_axes(width, height, margins_mm=(14.0, 26.0, 4.0, 10.0))
    draw(data(), ax, system=system)
    return ax


def artist(ax: Axes, gid: str) -> Any:
    found = [a for a in (*ax.lines, *ax.patches, *ax.artists) if a.get_gid() == gid]
    assert found, f"{gid} is not drawn"
    return found[0]


def words(ax: Axes) -> str:
    return "\n".join(t.get_text() for t in ax.texts)


def inside(value: float, limits: tuple[float, float]) -> bool:
    return min(limits) <= value <= max(limits)


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("name", CASES)
def test_texts_are_legible_and_apart(name: str, system: str) -> None:
    ax = drawn(name, system)
    canvas: Any = ax.figure.canvas  # type: ignore[union-attr]
    canvas.draw()
    # matplotlib also lists labels of ticks outside the limits, which it does not draw
    across = [t for t in ax.get_xticklabels() if inside(t.get_position()[0], ax.get_xlim())]
    up = [t for t in ax.get_yticklabels() if inside(t.get_position()[1], ax.get_ylim())]
    every = [*ax.texts, *across, *up]
    boxes = [(t, t.get_window_extent(canvas.get_renderer())) for t in every if t.get_text()]
    assert len(boxes) > 8
    assert min(float(t.get_fontsize()) for t, _ in boxes) >= TEXT_PT >= 7.0
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        wide = min(a.x1, b.x1) - max(a.x0, b.x0)
        high = min(a.y1, b.y1) - max(a.y0, b.y0)
        assert not (wide > 1.5 and high > 1.5), (one.get_text(), two.get_text())


def test_the_plan_is_to_scale_with_both_sizes() -> None:
    ax = drawn("plan")
    outline = artist(ax, "mat").get_path().vertices
    assert np.ptp(outline[:, 0]) == pytest.approx(4.0)
    assert np.ptp(outline[:, 1]) == pytest.approx(1.2)
    bears = artist(ax, "effective area").get_path().vertices
    assert np.ptp(bears[:, 0]) == pytest.approx(3.2)
    assert np.ptp(bears[:, 1]) == pytest.approx(1.1)
    assert ax.get_aspect() == 1.0
    text = words(ax)
    for part in ("4.00\u00a0m", "3.20\u00a0m effective", "1.20\u00a0m", "1.10\u00a0m effective", "float"):
        assert part in text


def test_the_plan_in_feet_is_the_same_mat() -> None:
    ax = drawn("plan", "us")
    outline = artist(ax, "mat").get_path().vertices
    assert np.ptp(outline[:, 0]) == pytest.approx(4.0 / FT)
    assert "13.12\u00a0ft" in words(ax)


def test_the_pressure_block_and_curve_carry_the_leg() -> None:
    ax = drawn("pressure")
    block = artist(ax, "uniform pressure").get_path().vertices
    even = np.ptp(block[:, 1])
    assert even * np.ptp(block[:, 0]) * 1.1 == pytest.approx(600.0 + TIMBER.weight_kN)
    curve = artist(ax, "elastic pressure").get_xydata()
    carried = np.trapezoid(curve[:, 1] - TIMBER.weight_kN / 4.8, curve[:, 0]) * 1.1
    assert carried == pytest.approx(600.0, rel=1e-3)
    beam = centred_beam_shape(
        600.0,
        4.0,
        width_m=1.1,
        stiffness_kNm2=TIMBER.stiffness_kNm2 * 1.1 / 1.2,
        subgrade_modulus_kN_m3=25000.0,
        patch_m=0.6,
        x_m=0.0,
    )
    assert curve[:, 1].max() == pytest.approx(float(beam.pressure_kPa) + TIMBER.weight_kN / 4.8)
    assert artist(ax, "allowable").get_ydata()[0] == pytest.approx(210.0)
    # pressure grows downwards
    low, high = ax.get_ylim()
    assert low > high


def test_an_allowable_pressure_far_below_is_told_in_words() -> None:
    ax = drawn("strong ground")
    assert "allowable 2\u2009000.0\u00a0kPa: below this drawing" in words(ax)
    assert not [a for a in ax.lines if a.get_gid() == "allowable"]


def test_no_elastic_curve_without_a_modulus() -> None:
    ax = drawn("rigid")
    assert not [a for a in ax.lines if a.get_gid() == "elastic pressure"]
    assert "elastic" not in words(ax)


def test_stress_with_depth_shows_the_sum_and_the_layers() -> None:
    ax = drawn("depth")
    both = artist(ax, "all outriggers, Boussinesq").get_xydata()
    alone = artist(ax, "this outrigger alone, Boussinesq").get_xydata()
    k = 120
    z = both[k, 1]
    place = {"x_m": 2.0, "y_m": 1.8}
    parts = LEGS.stress_kPa(PRESSURE_KPA, z, **place)
    assert both[k, 0] == pytest.approx(float(parts.sum()))
    own = rectangle_stress_kPa(160.0, z, length_m=3.2, width_m=1.2)
    assert alone[k, 0] == pytest.approx(float(own))
    assert np.all(both[:, 0] >= alone[:, 0])
    assert artist(ax, "top of soft clay").get_ydata()[0] == pytest.approx(1.0)
    assert artist(ax, "water").get_ydata()[0] == pytest.approx(1.5)
    text = words(ax)
    for part in ("fill", "soft clay", "water"):
        assert part in text


def test_lines_differ_without_colour() -> None:
    ax = drawn("depth")
    looks = {
        (str(line.get_linestyle()), str(line._dash_pattern), line.get_marker())
        for line in ax.lines
        if "Boussinesq" in str(line.get_gid()) or "spread" in str(line.get_gid())
    }
    assert len(looks) == 3
    plan = drawn("plan")
    assert artist(plan, "effective area").get_hatch()
    shade = [np.mean(to_rgb(artist(plan, g).get_facecolor())) for g in ("mat", "float")]
    assert abs(shade[0] - shade[1]) > 0.2


def test_the_same_data_give_the_same_file() -> None:
    first, second = (svg_text(drawn("pressure").figure) for _ in range(2))  # type: ignore[arg-type]
    assert first == second
    assert matplotlib.get_backend()
