"""The margin map draws what it was given."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.collections import QuadMesh

from liftcalc.placement.places import StandPlace
from liftcalc.placement.poses import MarginMap
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


PLACE = StandPlace(102.0, 203.0, 90.0, (3.0, 3.0, 3.0, 3.0), 0.6, (0.6,), 300.0, 0, 0)


@pytest.mark.parametrize("shape", [(5, 7), (1, 4)])
def test_map_shows_every_point_and_numbers_the_places(shape: tuple[int, int]) -> None:
    _, ax = new_axes()
    draw_margin_map(ax, margin(*shape), places=(PLACE, PLACE))
    mesh = [c for c in ax.collections if isinstance(c, QuadMesh)]
    shown = np.ma.asarray(mesh[0].get_array())
    np.testing.assert_allclose(
        shown.compressed(), margin(*shape).utilisation[margin(*shape).fits], rtol=1e-12
    )
    assert np.ma.asarray(mesh[1].get_array()).count() == 1  # the point without room
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
    x = [np.ptp(a.collections[0].get_coordinates()[..., 0]) for a in (metric, us)]
    assert x[1] == pytest.approx(x[0] / 0.3048)


def test_same_data_give_the_same_file() -> None:
    files = []
    for _ in range(2):
        figure, ax = new_axes()
        draw_margin_map(ax, margin(), places=(PLACE,))
        files.append(svg_text(figure))
    assert files[0] == files[1]
