"""Lines, shapes and points on a drawing, on paper or on the screen.

Only plain lines, patches and texts are used, so that a drawing can also be written as a small SVG for the screen.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch, Polygon
from matplotlib.path import Path
from matplotlib.transforms import Affine2D, ScaledTranslation, Transform
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.views.screen import Drawable, ScreenAxes
from liftcalc.views.style import INK


def points_from(ax: Drawable, x: float, y: float) -> Any:
    """Transform of points (1/72 in) counted from a place given in Axes fractions."""
    if isinstance(ax, ScreenAxes):
        return ax.points_from(x, y)
    figure = ax.figure
    assert figure is not None
    scale: Transform = Affine2D().scale(1.0 / 72.0) + figure.dpi_scale_trans
    return scale + ScaledTranslation(x, y, ax.transAxes)  # type: ignore[arg-type]


def box(x0: float, y0: float, x1: float, y1: float) -> FloatArray:
    """Corners of a rectangle, anticlockwise from the lower left."""
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def closed(ring: FloatArray) -> FloatArray:
    """A ring with its first corner once more at the end."""
    return np.vstack([ring, ring[:1]])


def direction_deg(step: ArrayLike) -> float:
    """Way in which a step goes, anticlockwise from the right."""
    x, y = np.asarray(step)
    return float(np.degrees(np.arctan2(y, x)))


def polyline(ax: Drawable, xy: ArrayLike, **style: Any) -> None:
    """Add a line without touching the limits."""
    points = np.asarray(xy, dtype=np.float64)
    if isinstance(ax, ScreenAxes):
        ax.stroke(points, style)
    else:
        # add_artist, unlike add_line, does not search the limits again
        ax.add_artist(Line2D(points[:, 0], points[:, 1], **style))


def _anticlockwise(ring: FloatArray) -> FloatArray:
    x, y = ring[:, 0], ring[:, 1]
    return ring if float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) >= 0.0 else ring[::-1]


def polygon(ax: Drawable, xy: ArrayLike, *, holes: Sequence[ArrayLike] = (), **style: Any) -> None:
    """Add a closed shape, with holes if any, without touching the limits."""
    ring = np.asarray(xy, dtype=np.float64)
    # a hole runs the other way round, so that every filling rule leaves it open
    inner = [_anticlockwise(np.asarray(h, dtype=np.float64))[::-1] for h in holes]
    if isinstance(ax, ScreenAxes):
        ax.shape([ring, *inner], style)
        return
    if not inner:
        patch: Patch = Polygon(ring, closed=True, **style)
    else:
        vertices: list[FloatArray] = []
        codes: list[Any] = []
        for part in (_anticlockwise(ring), *inner):
            whole = part if np.array_equal(part[0], part[-1]) else closed(part)
            vertices.append(whole)
            codes += [Path.MOVETO, *[Path.LINETO] * (len(whole) - 2), Path.CLOSEPOLY]
        patch = PathPatch(Path(np.vstack(vertices), codes), **style)
    if patch.get_hatch():
        patch.set_hatch_linewidth(0.45)
    ax.add_artist(patch)


def mark(ax: Drawable, place: ArrayLike, marker: str, **style: Any) -> None:
    """Add one marker at a point, in ink unless *style* says otherwise."""
    look = {"color": INK, "marker": marker, "linestyle": "none", **style}
    polyline(ax, np.atleast_2d(np.asarray(place)), **look)
