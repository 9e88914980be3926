"""Search for a crane position with a progress bar and a stop button.

The search runs beside the page, so that it can be stopped; what it found until then is shown and
named as incomplete. Positions, plans and changes come from :mod:`liftcalc.lift.stand_study`.
"""

import html
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from liftcalc.base import resources
from liftcalc.base.errors import PROGRAM_FAULT, LiftcalcError
from liftcalc.base.text import CAUTION_LINE, Safe, format_value, text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.lift import stand_rows as rows
from liftcalc.lift.stand_study import StandStudy, study_stand
from liftcalc.panels.texts import INVENTED
from liftcalc.views.paper import svg_text
from liftcalc.views.placement import margin_figure
from liftcalc.views.style import finish

_STEPS_M = (0.5, 1.0, 2.0)
_STEPS_DEG = (5.0, 15.0, 30.0)


class StandSearch:
    """Choose a lift and steps, start, watch, stop, and read the positions found."""

    def __init__(self, job: Job, *, units: UnitSystem = "metric") -> None:
        self.job, self.units = job, units
        self.study: StandStudy | None = None
        self.error = ""
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        layout = widgets.Layout(width="24em")
        look = {"style": {"description_width": "9em"}, "layout": layout}
        lifts = [(f"{lift.id}: {lift.title}", lift.id) for lift in job.lifts]
        grids = [(self._number(s, "length_m"), s) for s in _STEPS_M]
        turns = [(self._number(s, "angle_deg"), s) for s in _STEPS_DEG]
        self.lift = widgets.Dropdown(options=lifts, description="Lift", **look)
        self.step_m = widgets.Dropdown(options=grids, value=1.0, description="Grid", **look)
        self.step_deg = widgets.Dropdown(options=turns, value=15.0, description="Headings", **look)
        self.start = widgets.Button(description="Search", tooltip="Search every crane position")
        keep = "Stop and keep what was found"
        self.stop = widgets.Button(description="Stop", tooltip=keep, disabled=True)
        self.progress = widgets.IntProgress(min=0, max=1, description="Progress", layout=layout)
        self.state = widgets.HTML("Not started.")
        self.result = widgets.HTML("")
        self.start.on_click(lambda _: self.begin())
        self.stop.on_click(lambda _: self.halt())
        caution = f"{INVENTED} {CAUTION_LINE}" if job.invented else CAUTION_LINE
        choices = widgets.HBox([self.lift, self.step_m, self.step_deg])
        buttons = widgets.HBox([self.start, self.stop, self.progress])
        said = widgets.HTML(f"<p>{html.escape(self._words(caution))}</p>")
        self.box = widgets.VBox([choices, buttons, self.state, said, self.result])

    def _number(self, value: float | None, quantity: str, safe: Safe = "") -> str:
        return format_value(value, quantity, self.units, safe)

    def _words(self, text: str) -> str:
        """A sentence in the display units; names of the facts as given."""
        names = [m.name for m in self.job.mats] + [m.name for m in self.job.machines]
        names += [lift.title for lift in self.job.lifts]
        return text_in_units(text, self.units, keep=names)

    def _table(self, title: str, heads: Sequence[str], lines: Sequence[Sequence[str]]) -> str:
        def say(text: object) -> str:
            return html.escape(self._words(str(text)))

        head = "".join(f'<th scope="col">{say(h)}</th>' for h in heads)
        body = ("".join(f"<td>{say(c)}</td>" for c in line) for line in lines)
        return (
            f"<h3>{say(title)}</h3><table><thead><tr>{head}</tr></thead>"
            f"<tbody>{''.join(f'<tr>{cells}</tr>' for cells in body)}</tbody></table>"
        )

    def begin(self) -> None:
        """Start a search unless one is under way."""
        if self._thread is not None and self._thread.is_alive():
            return
        self._stop.clear()
        self.study, self.error = None, ""
        self.start.disabled, self.stop.disabled = True, False
        self.result.value = ""
        self.state.value = "Searching."
        self.progress.value, self.progress.max = 0, 1
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def halt(self) -> None:
        """Ask the search to stop; it ends within about a second, whatever it is doing."""
        self._stop.set()
        self.state.value = "Stopping."

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait for the search; whether it has ended."""
        if self._thread is not None:
            self._thread.join(timeout_s)
        return self._thread is None or not self._thread.is_alive()

    def _tell(self, done: int, of: int) -> None:
        self.progress.max = max(of, 1)
        self.progress.value = done

    def _say(self, phase: str) -> None:
        if not self._stop.is_set():
            self.state.value = self._words(phase.capitalize()) + "."

    def _run(self) -> None:
        try:
            steps = {"step_m": self.step_m.value, "heading_step_deg": self.step_deg.value}
            told: dict[str, Any] = {"progress": self._tell, "phase": self._say}
            told["stop"] = self._stop.is_set
            self.study = study_stand(self.job, self.lift.value, **steps, **told)
            self._show(self.study)
        except LiftcalcError as error:
            self.error = str(error)
            self.state.value = "Not done: " + html.escape(self.error)
        except Exception as error:
            self.error = f"{type(error).__name__}: {error}. {PROGRAM_FAULT}"
            self.state.value = "Stopped: " + html.escape(self.error)
            raise
        finally:
            self.start.disabled, self.stop.disabled = False, True

    def _show(self, study: StandStudy) -> None:
        show, table = self._number, self._table
        result, lifts = study.result, html.escape(", ".join(study.lift_ids))
        figure = margin_figure(study, system=self.units)
        finish(figure, invented=self.job.invented, system=self.units)
        self.result.value = (
            table("Crane positions, best first", rows.PLACE_COLUMNS, rows.place_rows(study, show))
            + table("Plans by number of set-ups", rows.PLAN_COLUMNS, rows.plan_rows(study, show))
            + table("Remedies", ("Lift", "Remedy"), rows.alternative_rows(study))
            + svg_text(figure)
        )
        how = "Done" if study.complete else "Stopped, incomplete" if study.stopped else "Incomplete"
        # last, so that "Done" is never read above an empty page
        self.state.value = (
            f"{how}: {len(result.places)} positions found for {lifts}; of "
            f"{show(result.poses, 'count')} positions and headings, "
            f"{show(result.fitting, 'count')} with clearance for the crane, "
            f"{show(result.measured, 'count')} rated, {show(len(result.rejected), 'count')} "
            "rejected by the full check."
        )

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle: dict[str, Any] = self.box._repr_mimebundle_(**kwargs)
        return {**bundle, "text/plain": f"Search for a crane position: job {self.job.id}"}


def open_stand_search(job: str | Path = "", *, units: UnitSystem = "metric") -> StandSearch:
    """Panel for a job file; the demo job when none is given."""
    return StandSearch(load_job(job or resources.demo_job_path()), units=units)
