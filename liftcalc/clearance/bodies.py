"""What moves in a lift, body by body: straight members and upright prisms at every step of a path.

Coordinates: site frame (easting, northing, level).

Sources: geometry only.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import FloatArray


@dataclass(frozen=True, eq=False)
class MovingMember:
    """A straight member of round section at every step of a path.

    Parameters:
      name: str
      start_m, end_m: shape (n, 3). Ends of the axis at each step, site frame. [m]
      half_width_m: shape (n,). Radius of the section that encloses the member. [m]
    """

    name: str
    start_m: FloatArray
    end_m: FloatArray
    half_width_m: FloatArray


@dataclass(frozen=True, eq=False)
class MovingPrism:
    """An upright prism that moves rigidly in plan, at every step of a path.

    Parameters:
      name: str
      corners_m: shape (n, k, 2). Plan corners at each step, anticlockwise (k = 1: a point that
        *spread_m* makes a cylinder). [m]
      base_m, top_m: shape (n,). Levels. [m]
      spread_m: shape (n,). Distance by which the plan is spread on every side. [m]
    """

    name: str
    corners_m: FloatArray
    base_m: FloatArray
    top_m: FloatArray
    spread_m: FloatArray

    def outline_m(self, step: NDArray[np.int64] | None = None, *, facets: int = 16) -> FloatArray:
        """Convex outline that encloses the spread plan, shape (n, k + facets, 2). [m]

        For the steps given, or for all.

        The spread is a regular polygon drawn around the circle, so the outline is outside the
        true one by at most ``spread_m * (1 / cos(pi / facets) - 1)``, on the safe side. Needs a
        convex plan.
        """
        corners = self.corners_m if step is None else self.corners_m[step]
        spread = self.spread_m if step is None else self.spread_m[step]
        k = corners.shape[1]
        first = corners[0]
        if k == 1:
            edge_angle = np.zeros(0)
            base_angle = np.zeros(len(corners))
        else:
            edge = np.roll(first, -1, axis=0) - first
            edge_angle = np.arctan2(edge[:, 1], edge[:, 0])
            along = corners[:, 1] - corners[:, 0]
            base_angle = np.arctan2(along[:, 1], along[:, 0])
            edge_angle = np.mod(edge_angle - base_angle[0] + 1e-9, 2.0 * np.pi)
        tangent = (np.arange(facets) + 0.5) * 2.0 * np.pi / facets
        order = np.argsort(np.concatenate([edge_angle, tangent]), kind="stable")
        corner, facet = 0, 0
        corner_of, facet_of = [], []
        for item in order:
            corner_of.append(corner % k)
            facet_of.append(facet % facets)
            if item < edge_angle.size:
                corner = int(item) + 1
            else:
                facet = int(item) - edge_angle.size + 1
        # facet j lies between tangents j - 1 and j; its vertex points half a facet clockwise
        # of the direction square to tangent j
        vertex_angle = tangent[facet_of] - np.pi / 2.0 - np.pi / facets + base_angle[:, None]
        reach = spread[:, None] / np.cos(np.pi / facets)
        vertex = np.stack([np.cos(vertex_angle), np.sin(vertex_angle)], axis=-1)
        return np.asarray(corners[:, corner_of] + reach[..., None] * vertex)


Body = MovingMember | MovingPrism


def placed_m(
    outline: Sequence[tuple[float, float]], east: FloatArray, north: FloatArray, angle: FloatArray
) -> FloatArray:
    """Plan outline turned and moved at every step, anticlockwise.

    In memory each corner's path lies in one piece, as the search for clearances takes it.

    Parameters:
      outline: sequence of (x, y). [m]
      east, north: shape (n,) or (). Where the outline's origin lies. [m]
      angle: shape (n,). From east, anticlockwise. [rad]
    Returns: ndarray, shape (n, k, 2). [m]
    """
    x, y = np.asarray(outline, dtype=np.float64).T
    if x[:-1] @ y[1:] - x[1:] @ y[:-1] + x[-1] * y[0] - x[0] * y[-1] < 0:
        x, y = x[::-1], y[::-1]
    x, y = x[:, None], y[:, None]
    c, s = np.cos(angle), np.sin(angle)
    placed = np.empty((2, len(x), len(c)))
    np.subtract(east + c * x, s * y, out=placed[0])
    np.add(north + s * x, c * y, out=placed[1])
    return placed.transpose(2, 1, 0)
