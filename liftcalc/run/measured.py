"""What was measured at the crane, archived as the child of the lift plan it is held against."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import jinja2

from liftcalc.base.errors import InputError
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE, Safe, Show, format_value
from liftcalc.base.units import UnitSystem
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.io import load_fact, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.wind_checks import stop_gust_m_s
from liftcalc.records.pages import LANGUAGE
from liftcalc.records.pdf import pdf_wanted
from liftcalc.records.verify import require_record
from liftcalc.run.make import Made, SheetOrder, make_record, prepare

METRIC: UnitSystem = "metric"


def planned_job(record: Path) -> Job:
    """The facts of the lift plan in a record; :class:`InputError` for one of another sheet."""
    verified = require_record(record)
    manifest = verified.manifest
    if manifest is None or manifest.template != "lift_plan":
        raise InputError.of("record", record.name, "the record of a lift plan")
    return parse_fact(Job, verified.json("inputs.json")["job"], source=record.name)


def _groups(job: Job, show: Show) -> list[dict[str, Any]]:
    # long: one table of what the form asks for
    """What the form asks for, with the planned value beside it where there is one."""
    study = assess_lift(job, job.lifts[0].id)
    lift, path, setup = study.setup.lift, study.path, study.setup

    def field(path: str, label: str, planned: str = "", text: str | None = None) -> dict[str, Any]:
        return {"path": path, "label": label, "planned": planned, "text": text is not None, "value": text or ""}

    def legs(path: str, unit: str, planned: Sequence[str]) -> list[dict[str, Any]]:
        return [field(f"{path}.{name}", f"{name} [{unit}]", said)
                for name, said in zip(LEG_NAMES, planned, strict=True)]  # fmt: skip

    tapes = [
        field(f"{where}.tapes.{n}.{key}", f"{word}, tape {n + 1}: {name}", text=text)
        for where, word in (("centre", "Centre of rotation"), ("mark", "Mark on the centreline"))
        for n in (0, 1)
        for key, name, text in (
            ("point", "point of the survey", ""), ("easting_m", "its easting [m]", None),
            ("northing_m", "its northing [m]", None), ("distance_m", "distance [m]", None),
        )
    ]  # fmt: skip
    slew, radius = float(path.slew_deg[0]), float(path.radius_m[0])
    stop = stop_gust_m_s(setup, float(study.study.boom.head_z_m.max()))
    return [
        {"name": "Lift", "fields": [
            field("lift", "Lift", text=str(lift.id)), field("date", "Date, as 2026-05-01", text=""),
            field("measured_by", "Measured by", text="")]},
        {"name": "Extension, centreline to float centre", "legs": True,
         "fields": legs("legs", "m", [show(x, "extension_m") for x in lift.legs.as_tuple()])},
        {"name": "Mat and packing", "legs": True, "fields": [
            field("mat", "Mat under every outrigger", str(lift.mat), text=""),
            *legs("packing_m", "m", [show(x, "length_m")
                                     for x in study.place.packing_m.tolist()])]},
        {"name": "Level", "fields": [
            field("tilt_x_percent", "Tilt, front low positive [%]",
                  f"within {show(setup.permitted_tilt_percent, 'percent', 'down')}"),
            field("tilt_y_percent", "Tilt, left low positive [%]")]},
        {"name": "Crane position, by two tapes each", "fields": [
            *tapes, *(field(f"{name}.error_m", f"Accuracy of each tape to the {word}, either way "
                            "[m], 0.02 where left out")
                      for name, word in (("centre", "centre"), ("mark", "mark"))),
            field("mark_x_m", "Mark ahead of the centre of rotation by [m]")],
         "note": f"planned {show(lift.stand.easting_m, 'length_m')} E, "
         f"{show(lift.stand.northing_m, 'length_m')} N"},
        {"name": "Wind and trial lift", "fields": [
            field("gust_m_s", "Gust at the boom head [m/s]",
                  f"at most {show(stop, 'speed_m_s', 'down')}"),
            field("trial.slew_deg", "Slew [degrees]", show(slew, "slew_deg")),
            field("trial.radius_m", "Radius [m]", show(radius, "length_m")),
            field("trial.indicator_t", "Reading of the load indicator [t]",
                  show(setup.gross_t, "mass_t"))]},
        {"name": "Outriggers' forces at the trial lift", "legs": True, "fields": [
            *legs("trial.forces_kN", "kN", ["at most " + show(x, "force_kN")
                                            for x in study.forces.design_kN.tolist()]),
            *legs("trial.unladen_kN", "kN, unladen", [""] * 4),
            field("trial.force_error_percent", "Accuracy of each force, either way [%]")]},
    ]  # fmt: skip


def form_page(record: Path) -> bytes:
    """A page on which a crew writes down what it measured for the lift plan in *record*.

    It needs no network and saves the facts as a file for :func:`make_as_set_up`; in metric units,
    which the facts are in.
    """
    job = planned_job(record)
    lift, units = job.lifts[0], METRIC

    def show(value: float | None, quantity: str, safe: Safe = "") -> str:
        return format_value(value, quantity, units, safe)

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent), autoescape=True,
        undefined=jinja2.StrictUndefined, trim_blocks=True,
    )  # fmt: skip
    groups = [{"note": "", "legs": False, **group} for group in _groups(job, show)]
    page: str = environment.get_template("as_set_up_form.html").render(
        language=LANGUAGE[units], lift=lift.id, title=lift.title, record=record.resolve().name,
        marks=[INVENTED_LINE] if job.invented else [], caution=CAUTION_LINE, groups=groups,
    )  # fmt: skip
    return page.encode()


def make_as_set_up(
    record: Path, measured: Path | AsSetUp, *, prepared_by: str = "", pdf: bool | None = None,
    timeout_s: float | None = None,
) -> Made:  # fmt: skip
    """Hold what was measured against the lift plan in *record*, and archive it beside that.

    Raises: What does not fit the lift or its machine, each named; a record that is not whole.
    """
    job = planned_job(record)
    fact = measured if isinstance(measured, AsSetUp) else load_fact(AsSetUp, measured)
    if fact.lift != job.lifts[0].id:
        raise InputError.of("lift", fact.lift, f"{job.lifts[0].id}, the lift of the plan")
    manifest = require_record(record).manifest
    assert manifest is not None
    order = SheetOrder(
        template="as_set_up", lift=fact.lift, parent=str(record), units=manifest.units,
        revision=manifest.revision, prepared_by=prepared_by,
    )  # fmt: skip
    job = job.model_copy(update={"as_set_up": fact})
    return make_record(
        order, record.resolve().parent, pdf=pdf_wanted(pdf), timeout_s=timeout_s, prepared=prepare(order, job=job)
    )
