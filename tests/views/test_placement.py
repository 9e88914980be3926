"""The margin map draws what it was given."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes

from liftcalc.placement.measure import StandPlace
from liftcalc.placement.setups import MarginMap
from liftcalc.views.paper import svg_text
from liftcalc.views.placement import CLASSES, draw_margin_map
from liftcalc.views.style import new_axes


def margin(rows: int = 5, columns: int = 7) -> MarginMap:
    value = np.linspace(0.3, 1.4, rows * columns).reshape(rows, columns)
    value[0, 0] = np.inf
    fits = np.ones((rows, columns), dtype=bool)
    fits[0, 0] = False
    return MarginMap(
        100.0 + np.arange(columns, dtype=float),
        200.0 + np.arange(rows, dtype=float),
        value,
        np.zeros((rows, columns)),
        fits,
        True,
    )


def painted(ax: Axes, point: tuple[float, float]) -> list[str]:
    """Names of the areas of the map that cover a point."""
    names = {*(c[3] for c in CLASSES), "no room"}
    areas = [p for p in ax.patches if p.get_gid() in names]
    return [str(p.get_gid()) for p in areas if p.get_path().contains_point(point)]


PLACE = StandPlace(102.0, 203.0, 90.0, (3.0, 3.0, 3.0, 3.0), 0.6, (0.6,), 300.0, 0, 0)


@pytest.mark.parametrize("shape", [(5, 7), (1, 4)])
def test_map_shows_every_point_and_numbers_the_places(shape: tuple[int, int]) -> None:
    _, ax = new_axes()
    draw_margin_map(ax, margin(*shape), places=(PLACE, PLACE))
    map_ = margin(*shape)
    worst = np.where(np.isfinite(map_.utilisation), map_.utilisation, 9.0)
    ends = [c[0] for c in CLASSES]
    for (i, j), value in np.ndenumerate(worst):
        point = (map_.easting_m[j], map_.northing_m[i])
        name = CLASSES[sum(value >= end for end in ends)][3] if map_.fits[i, j] else "no room"
        for off in ((0.0, 0.0), (0.45, -0.45), (-0.45, 0.45)):
            assert painted(ax, (point[0] + off[0], point[1] + off[1])) == [name]
    outside = (map_.easting_m[0] - 0.55, map_.northing_m[0])
    assert painted(ax, outside) == []
    assert [t.get_text() for t in ax.texts if t.get_text() in "12"] == ["1", "2"]
    line = next(a for a in ax.lines if a.get_gid() == "heading of place 1")
    x, y = line.get_xdata(), line.get_ydata()
    assert x[1] == pytest.approx(x[0])  # heading north
    assert y[1] > y[0]
    words = [t.get_text().replace("\u00a0", " ") for t in ax.texts]
    grey_and_white = ["crane does not fit", "white, no hatch: not searched"]
    assert words[-len(CLASSES) - 2 :] == [c[3] for c in CLASSES] + grey_and_white
    one, two = (np.array(t.get_position()) for t in ax.texts if t.get_text() in ("1", "2"))
    assert np.hypot(*(ax.transData.transform(one) - ax.transData.transform(two))) > 13.0


def test_us_units_scale_the_axes() -> None:
    _, metric = new_axes()
    _, us = new_axes()
    draw_margin_map(metric, margin())
    draw_margin_map(us, margin(), system="us")
    assert us.get_xlabel() == "Easting [ft]"
    whole = [p for a in (metric, us) for p in a.patches if p.get_gid() == CLASSES[-1][3]]
    x = [np.ptp(p.get_path().vertices[:, 0]) for p in whole]
    assert x[1] == pytest.approx(x[0] / 0.3048)


def test_same_data_give_the_same_file() -> None:
    files = []
    for _ in range(2):
        figure, ax = new_axes()
        draw_margin_map(ax, margin(), places=(PLACE,))
        files.append(svg_text(figure))
    assert files[0] == files[1]
    assert "<image" not in files[0]
