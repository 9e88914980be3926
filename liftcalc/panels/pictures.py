"""The drawings of the workbench as SVG, drawn from one evaluation.

The drawings are those of the printed sheets.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from liftcalc.base.text import amount, text_in_units
from liftcalc.base.units import UnitSystem, to_si
from liftcalc.base.words import slew_words
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.boom_plane import boom_plane
from liftcalc.lift.position import PositionStudy
from liftcalc.lift.working_area import working_area
from liftcalc.panels.session import Evaluation
from liftcalc.panels.settings import require_known
from liftcalc.views.capacity import capacity_data, draw_capacity_by_slew, draw_capacity_circle
from liftcalc.views.elevation import draw_elevation
from liftcalc.views.forces import draw_leg_forces, force_data
from liftcalc.views.locus import draw_locus, locus_data
from liftcalc.views.plan import draw_plan, plan_data
from liftcalc.views.screen import ScreenAxes
from liftcalc.views.screen_svg import screen_svg
from liftcalc.views.style import mark_invented
from liftcalc.views.utilisation import draw_utilisation, utilisation_data
from liftcalc.views.working_area import draw_working_area, working_area_data

Bounds = tuple[float, float, float, float]


@dataclass
class _Scene:
    """What a picture is drawn from, and the part of the site that plans show."""

    assessment: LiftAssessment
    position: PositionStudy | None
    system: UnitSystem
    bounds_m: Bounds | None = None


Drawer = Callable[[ScreenAxes, _Scene], str | None]
"""Draws and says what is shown; None where there is nothing to draw."""


def _plan(ax: ScreenAxes, scene: _Scene) -> str:
    data = plan_data(scene.assessment, at=scene.position)
    draw_plan(data, ax, system=scene.system, bounds_m=scene.bounds_m, standard_scale=False, site_key=False)
    if scene.bounds_m is None:
        corners = np.column_stack([ax.get_xlim(), ax.get_ylim()]).ravel()
        x0, y0, x1, y1 = to_si(corners, "length_m", scene.system).tolist()
        scene.bounds_m = (x0, y0, x1, y1)
    east, north = (amount(v, "length_m") for v in data.machine.stand_m.tolist())
    return (
        f"Site plan with the crane at easting {east} and northing {north}, boom at slew "
        f"{amount(data.slew_deg, 'slew_deg')} ({slew_words(data.slew_deg)}) and radius "
        f"{amount(data.radius_m, 'length_m')}; the figures are in the tables."
    )


def _of_capacity(draw: Callable[..., None], words: str) -> Drawer:
    """Drawer of the capacity at the radius of the boom position viewed."""

    def picture(ax: ScreenAxes, scene: _Scene) -> str | None:
        at, lift = scene.position, scene.assessment
        if at is None:
            return None
        data = capacity_data(lift.setup, at.circle, path=lift.path, at_slew_deg=at.slew_deg)
        draw(data, ax, system=scene.system)
        radius = amount(data.radius_m, "length_m")
        return f"{words} at radius {radius}, and what governs it."

    return picture


_capacity = _of_capacity(draw_capacity_circle, "Rated capacity for every slew")
_by_slew = _of_capacity(draw_capacity_by_slew, "Rated capacity against slew")


def _forces(ax: ScreenAxes, scene: _Scene) -> str:
    draw_leg_forces(force_data(scene.assessment, at=scene.position), ax, system=scene.system)
    return "Reaction of each outrigger against slew angle, incl. hoist factor."


def _elevation(ax: ScreenAxes, scene: _Scene) -> str:
    plane = boom_plane(scene.assessment)
    draw_elevation(plane, ax, system=scene.system, standard_scale=False)
    return f"Elevation, {plane.place}: boom at {amount(plane.boom_angle_deg, 'angle_deg')}."


def _locus(ax: ScreenAxes, scene: _Scene) -> str:
    draw_locus(locus_data(scene.assessment), ax, system=scene.system, standard_scale=False)
    return "Locus of the resultant of all weights on the base during the lift."


def _utilisation(ax: ScreenAxes, scene: _Scene) -> str:
    draw_utilisation(utilisation_data(scene.assessment), ax, system=scene.system)
    return "Utilisation of each limit along the load path."


def _area(ax: ScreenAxes, scene: _Scene) -> str:
    setup = scene.assessment.setup
    area = working_area(setup, setup.gross_t, slew_step_deg=4.0)
    data = working_area_data(scene.assessment, area)
    draw_working_area(data, ax, system=scene.system)
    return "Area within rated capacity for the gross load; clearances not checked."


@dataclass(frozen=True)
class Picture:
    """One picture: its name for the page, how it is drawn, its size and its margins in mm."""

    name: str
    draw: Drawer
    size_mm: tuple[float, float]
    margins_mm: tuple[float, float, float, float]


# small sheets, so that the text stays legible beside the controls on a 1366 x 768 screen
PICTURES: dict[str, Picture] = {
    "plan": Picture("Plan", _plan, (112.0, 118.0), (12.5, 19.0, 1.5, 7.0)),
    "capacity": Picture("Capacity circle", _capacity, (78.0, 100.0), (1.5, 23.5, 1.5, 11.0)),
    "forces": Picture("Outrigger reactions", _forces, (78.0, 67.0), (12.5, 18.0, 3.5, 11.0)),
    "elevation": Picture("Elevation", _elevation, (112.0, 116.0), (12.5, 22.0, 1.5, 11.0)),
    "by_slew": Picture("Capacity by slew", _by_slew, (112.0, 84.0), (14.5, 24.0, 3.5, 11.0)),
    "locus": Picture("Resultant", _locus, (100.0, 96.0), (12.5, 18.5, 1.5, 7.0)),
    "utilisation": Picture("Utilisation along path", _utilisation, (112.0, 80.0), (12.5, 18.5, 3.5, 7.0)),
    "area": Picture("Area within rated capacity", _area, (112.0, 118.0), (12.5, 19.0, 1.5, 7.0)),
}


class Easel:
    """Draws pictures of evaluations; the view of the site stays until the lift changes."""

    def __init__(self) -> None:
        self._bounds_m: Bounds | None = None

    def new_lift(self) -> None:
        """Forget the view of the site: another lift is on the table."""
        self._bounds_m = None

    def draw(
        self, names: Iterable[str], evaluation: Evaluation, *, system: UnitSystem, prefix: str = ""
    ) -> dict[str, str]:
        """SVG of each picture by name; empty text where there is nothing to draw.

        Raises: A name that is not in :data:`PICTURES`.
        """
        shown: dict[str, str] = {}
        for name in names:
            require_known("picture", name, PICTURES)
            picture, assessment = PICTURES[name], evaluation.assessment
            shown[name] = ""
            if assessment is None:
                continue
            scene = _Scene(assessment, evaluation.position, system, self._view_m(evaluation))
            ax = ScreenAxes(*picture.size_mm, margins_mm=picture.margins_mm)
            words = picture.draw(ax, scene)
            if assessment.job.invented:
                mark_invented(ax)
            self._bounds_m = scene.bounds_m
            if words is not None:
                title, description = (text_in_units(t, system) for t in (picture.name, words))
                svg_id = f"{prefix}{name}"
                shown[name] = screen_svg(ax, title=title, description=description, prefix=svg_id)
        return shown

    def _view_m(self, evaluation: Evaluation) -> Bounds | None:
        """The part of the site shown first for this lift, while it still holds the machine."""
        if self._bounds_m is None:
            return None
        x0, y0, x1, y1 = self._bounds_m
        east, north = evaluation.settings.easting, evaluation.settings.northing
        inside = x0 + 5 < east < x1 - 5 and y0 + 5 < north < y1 - 5
        return self._bounds_m if inside else None
