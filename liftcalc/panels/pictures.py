"""The drawings of the workbench as SVG, drawn from one evaluation.

Contents: :data:`PICTURES`, :class:`Easel`. The drawings are those of the printed sheets; no formula
and no published source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from liftcalc.base.errors import InputError
from liftcalc.base.text import text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.lift.working_area import working_area
from liftcalc.panels.session import Evaluation
from liftcalc.views.adapters import (
    capacity_data,
    force_data,
    locus_data,
    plan_data,
    utilisation_data,
    working_area_data,
)
from liftcalc.views.adapters_elevation import elevation_data
from liftcalc.views.capacity import draw_capacity_by_slew, draw_capacity_circle
from liftcalc.views.elevation import draw_elevation
from liftcalc.views.forces import draw_leg_forces
from liftcalc.views.locus import draw_locus
from liftcalc.views.plan import draw_plan
from liftcalc.views.screen import ScreenAxes
from liftcalc.views.utilisation import draw_utilisation
from liftcalc.views.working_area import draw_working_area

__all__ = ["PICTURES", "Easel"]

Bounds = tuple[float, float, float, float]
Drawer = Callable[[ScreenAxes, Evaluation, UnitSystem], str | None]


@dataclass(frozen=True)
class Picture:
    """One picture: its name for the page, its size and its margins in mm."""

    name: str
    size_mm: tuple[float, float]
    margins_mm: tuple[float, float, float, float]


# small sheets, so that the text stays legible beside the controls on a 1366 x 768 screen
PICTURES: dict[str, Picture] = {
    "plan": Picture("Plan", (112.0, 118.0), (12.5, 19.0, 1.5, 7.0)),
    "capacity": Picture("Capacity circle", (78.0, 100.0), (1.5, 23.5, 1.5, 11.0)),
    "forces": Picture("Leg forces", (78.0, 67.0), (12.5, 18.0, 3.5, 11.0)),
    "elevation": Picture("Elevation", (112.0, 112.0), (12.5, 18.0, 1.5, 7.0)),
    "by_slew": Picture("Capacity by slew", (112.0, 84.0), (12.5, 24.0, 3.5, 11.0)),
    "locus": Picture("Resultant", (100.0, 96.0), (12.5, 18.5, 1.5, 7.0)),
    "utilisation": Picture("Along the path", (112.0, 80.0), (12.5, 18.5, 3.5, 7.0)),
    "area": Picture("Working area", (112.0, 118.0), (12.5, 19.0, 1.5, 7.0)),
}


class Easel:
    """Draws pictures of evaluations; the view of the site stays until the lift changes."""

    def __init__(self) -> None:
        self._bounds: dict[str, Bounds] = {}

    def new_lift(self) -> None:
        """Forget the view of the site: another lift is on the table."""
        self._bounds.clear()

    def _axes(self, name: str) -> ScreenAxes:
        picture = PICTURES[name]
        return ScreenAxes(*picture.size_mm, margins_mm=picture.margins_mm)

    def draw(
        self, names: Iterable[str], evaluation: Evaluation, *, system: UnitSystem, prefix: str = ""
    ) -> dict[str, str]:
        """SVG of each picture by name; empty text where there is nothing to draw.

        Raises: A name that is not in :data:`PICTURES`.
        """
        shown: dict[str, str] = {}
        for name in names:
            if name not in PICTURES:
                raise InputError.of("picture", name, ", ".join(PICTURES))
            ax = self._axes(name)
            drawer: Callable[[ScreenAxes, Evaluation, UnitSystem], str | None] = getattr(
                self, f"_{name}"
            )
            words = drawer(ax, evaluation, system)
            shown[name] = (
                ""
                if words is None
                else ax.svg(
                    title=PICTURES[name].name,
                    description=text_in_units(words, system),
                    prefix=f"{prefix}{name}",
                )
            )
        return shown

    def _view(self, ax: ScreenAxes, evaluation: Evaluation) -> Bounds | None:
        """The part of the site shown first for this lift, while it still holds the machine."""
        place = (evaluation.settings.easting, evaluation.settings.northing)
        kept = self._bounds.get("plan")
        if kept is not None:
            x0, y0, x1, y1 = kept
            if x0 + 5 < place[0] < x1 - 5 and y0 + 5 < place[1] < y1 - 5:
                return kept
        return None

    def _plan(self, ax: ScreenAxes, evaluation: Evaluation, system: UnitSystem) -> str | None:
        assessment = evaluation.assessment
        if assessment is None:
            return None
        data = plan_data(assessment, at=evaluation.position)
        bounds = self._view(ax, evaluation)
        draw_plan(data, ax, system=system, bounds_m=bounds, standard_scale=False, site_key=False)
        if bounds is None:
            factor = 0.3048 if system == "us" else 1.0
            (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
            self._bounds["plan"] = (x0 * factor, y0 * factor, x1 * factor, y1 * factor)
        return (
            f"Site plan with the machine at easting {data.easting_m:.2f} m and northing "
            f"{data.northing_m:.2f} m, boom at slew {data.slew_deg:.0f} degrees and radius "
            f"{data.radius_m:.2f} m; the figures are in the tables."
        )

    def _capacity_data(self, evaluation: Evaluation):  # type: ignore[no-untyped-def]
        position, assessment = evaluation.position, evaluation.assessment
        if position is None or assessment is None:
            return None
        return capacity_data(
            assessment.setup, position.circle, path=assessment.path, at_slew_deg=position.slew_deg
        )

    def _capacity(self, ax: ScreenAxes, evaluation: Evaluation, system: UnitSystem) -> str | None:
        data = self._capacity_data(evaluation)
        if data is None:
            return None
        draw_capacity_circle(data, ax, system=system)
        return f"Capacity for every slew at radius {data.radius_m:.2f} m, and what governs it."

    def _by_slew(self, ax: ScreenAxes, evaluation: Evaluation, system: UnitSystem) -> str | None:
        data = self._capacity_data(evaluation)
        if data is None:
            return None
        draw_capacity_by_slew(data, ax, system=system)
        return f"Capacity against slew at radius {data.radius_m:.2f} m, and what governs it."

    def _forces(self, ax: ScreenAxes, evaluation: Evaluation, system: UnitSystem) -> str | None:
        if evaluation.assessment is None:
            return None
        data = force_data(evaluation.assessment, at=evaluation.position)
        draw_leg_forces(data, ax, system=system)
        return "Force on each leg against slew angle."

    def _elevation(self, ax: ScreenAxes, evaluation: Evaluation, system: UnitSystem) -> str | None:
        if evaluation.assessment is None:
            return None
        data = elevation_data(evaluation.assessment)
        draw_elevation(data, ax, system=system, standard_scale=False)
        return f"{data.title}: boom at {data.boom_angle_deg:.1f} degrees."

    def _locus(self, ax: ScreenAxes, evaluation: Evaluation, system: UnitSystem) -> str | None:
        if evaluation.assessment is None:
            return None
        draw_locus(locus_data(evaluation.assessment), ax, system=system, standard_scale=False)
        return "Way of the resultant of all weights over the base during the lift."

    def _utilisation(
        self, ax: ScreenAxes, evaluation: Evaluation, system: UnitSystem
    ) -> str | None:
        if evaluation.assessment is None:
            return None
        draw_utilisation(utilisation_data(evaluation.assessment), ax, system=system)
        return "Share of each limit along the path of the load."

    def _area(self, ax: ScreenAxes, evaluation: Evaluation, system: UnitSystem) -> str | None:
        assessment = evaluation.assessment
        if assessment is None:
            return None
        area = working_area(assessment.setup, assessment.setup.gross_t, slew_step_deg=4.0)
        data = working_area_data(assessment, area)
        draw_working_area(data, ax, system=system, standard_scale=False, site_key=False)
        return "Where the gross load may be taken within capacity."
