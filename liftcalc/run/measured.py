"""What was measured at the crane, archived as the child of the lift plan it is held against."""

from pathlib import Path

from liftcalc.base.errors import InputError
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.io import load_fact, parse_fact
from liftcalc.facts.job import Job
from liftcalc.records.pdf import pdf_wanted
from liftcalc.records.verify import require_record
from liftcalc.run.make import Made, SheetOrder, make_record, prepare


def planned_job(record: Path) -> Job:
    """The facts of the lift plan in a record; :class:`InputError` for one of another sheet."""
    verified = require_record(record)
    manifest = verified.manifest
    if manifest is None or manifest.template != "lift_plan":
        raise InputError.of("record", record.name, "the record of a lift plan")
    return parse_fact(Job, verified.json("inputs.json")["job"], source=record.name)


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
        order, record.resolve().parent, pdf=pdf_wanted(pdf), timeout_s=timeout_s,
        prepared=prepare(order, job=job),
    )  # fmt: skip
