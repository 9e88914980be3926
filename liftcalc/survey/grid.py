"""From one plan grid to another: projected coordinates, and a local grid laid on them.

A local grid has its origin at a point of the projected grid and its north turned by an angle;
lengths are not changed, and the scale of the projection at the site is stated in the report, for
the engineer to judge. Projections are pyproj's (PROJ); axes are always taken as easting
(longitude) first.

Sources: PROJ, by pyproj; plane geometry.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, Problem, missing_extra
from liftcalc.base.plan import to_frame
from liftcalc.survey.parts import Feature, Note, SurveyPart, SurveyReport


@dataclass(frozen=True)
class LocalGrid:
    """A local grid on a projected one.

    Parameters:
      easting_m, northing_m: Projected coordinates of the local origin. [m]
      north_deg: Direction of local north, anticlockwise from projected north. [deg]
    """

    easting_m: float
    northing_m: float
    north_deg: float = 0.0

    def __post_init__(self) -> None:
        if not np.isfinite([self.easting_m, self.northing_m, self.north_deg]).all():
            raise InputError.of("local grid", self, "finite numbers")

    def to_local(self, east: FloatArray, north: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Local coordinates of projected ones. [m]"""
        local = to_frame(
            np.stack([east, north], axis=-1),
            easting_m=self.easting_m,
            northing_m=self.northing_m,
            heading_deg=self.north_deg,
        )
        return local[:, 0], local[:, 1]


def _crs(name: str) -> Any:
    try:
        from pyproj import CRS
        from pyproj.exceptions import CRSError
    except ImportError:
        raise missing_extra("cad", f"change of grid {name}") from None
    try:
        return CRS.from_user_input(name)
    except CRSError as error:
        raise InputError.of("grid", name, f"a known grid ({error})") from None


@dataclass(frozen=True)
class GridChange:
    """How coordinates of a survey become coordinates of the site.

    Parameters:
      source, target: optional. Grids by name or code (``EPSG:25832``); both or neither. The target
        is in metres.
      local: LocalGrid, optional. Local grid, laid on the target (or on the survey's own grid).
    """

    source: str | None = None
    target: str | None = None
    local: LocalGrid | None = None

    def __post_init__(self) -> None:
        if (self.source is None) != (self.target is None):
            raise InputError.of("grid", (self.source, self.target), "both or neither")
        if self.target is not None:
            crs = _crs(self.target)
            units = {axis.unit_name for axis in crs.axis_info}
            if not crs.is_projected or units != {"metre"}:
                raise InputError.of("target grid", self.target, "a projected grid in metres")

    def applied(self, part: SurveyPart) -> SurveyPart:
        """The part with its coordinates changed, and a note that says so.

        For parts in metres; a survey in degrees is changed while it is read (``change`` of the
        readers), for nothing can be repaired in degrees.

        Raises: A point that the projection cannot take, with its coordinates.
        """
        features, notes = self.changed(part.features)
        return replace(part, features=features, report=part.report + SurveyReport(notes=notes))

    def changed(self, features: Sequence[Feature]) -> tuple[tuple[Feature, ...], tuple[Note, ...]]:
        """Features with their coordinates changed, and notes that say so; errors as above."""
        if not features:
            return (), ()
        count = [len(f.points) for f in features]
        xy = np.array([p[:2] for f in features for p in f.points], dtype=np.float64)
        x, y = xy[:, 0], xy[:, 1]
        notes = []
        if self.source is not None and self.target is not None:
            from pyproj import Transformer

            change = Transformer.from_crs(_crs(self.source), _crs(self.target), always_xy=True)
            x, y = (np.asarray(v, dtype=np.float64) for v in change.transform(x, y))
            bad = ~(np.isfinite(x) & np.isfinite(y))
            if bad.any():
                where = np.repeat(np.arange(len(count)), count)[bad]
                raise InputError(
                    [
                        Problem(
                            features[k].where,
                            tuple(xy[i].tolist()),
                            f"a point within the area of {self.target}",
                        )
                        for k, i in zip(where.tolist(), np.flatnonzero(bad).tolist(), strict=True)
                    ][:10]
                )
            scale = self._scale(float(x.mean()), float(y.mean()))
            notes.append(
                Note(
                    "grid",
                    f"changed from {self.source} to {self.target}; there 100 m on the grid are "
                    f"{100.0 / scale:.3f} m on the ellipsoid",
                )
            )
        if self.local is not None:
            x, y = self.local.to_local(x, y)
            notes.append(
                Note(
                    "grid",
                    f"local origin at {self.local.easting_m:.3f}, {self.local.northing_m:.3f}, "
                    f"local north {self.local.north_deg:g}° anticlockwise from grid north",
                )
            )
        moved, at = [], 0
        for feature, n in zip(features, count, strict=True):
            points = tuple(
                (float(x[at + i]), float(y[at + i]), *feature.points[i][2:]) for i in range(n)
            )
            moved.append(replace(feature, points=points))
            at += n
        return tuple(moved), tuple(notes)

    def _scale(self, east: float, north: float) -> float:
        """Scale of the target projection at a point (grid length by ellipsoid length)."""
        from pyproj import Proj, Transformer

        crs = _crs(str(self.target))
        lon, lat = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True).transform(
            east, north
        )
        return float(Proj(crs).get_factors(lon, lat).meridional_scale)
