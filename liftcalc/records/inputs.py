"""What a sheet is made from: its parameters, the facts of its lift, and the sheet before."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AfterValidator, Field, ValidationError, field_validator

from liftcalc.base import resources
from liftcalc.base.errors import InputError
from liftcalc.facts.base import Fact, Text, input_error, one_line
from liftcalc.records.manifest import ParentLink
from liftcalc.records.verify import require_record

if TYPE_CHECKING:
    from liftcalc.facts.job import Job

INPUTS_SCHEMA = "liftcalc/inputs/1"

LineText = Annotated[Text, Field(max_length=120)]
PathText = Annotated[str, Field(max_length=1000), AfterValidator(one_line)]


class SheetParameters(Fact):
    """The parameters cell of every template, strictly typed."""

    template: LineText
    job: PathText = ""
    lift: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,39}$")] = "L1"
    parent: PathText = ""
    results_file: PathText = ""
    units: Literal["metric", "us"] = "metric"
    revision: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,7}$")] = "A"
    prepared_by: LineText = ""

    @field_validator("template")
    @classmethod
    def _known(cls, value: str) -> str:
        if value not in resources.SHEET_TITLES:
            raise ValueError("one of " + ", ".join(resources.SHEET_TITLES))
        return value

    @field_validator("results_file")
    @classmethod
    def _json(cls, value: str) -> str:
        if value and not value.endswith(".json"):
            raise ValueError("a file name that ends in .json")
        return value


def validate_parameters(template: object, **given: object) -> SheetParameters:
    """Typed parameters, or one :class:`InputError` that lists every wrong one."""
    try:
        return SheetParameters.model_validate({"template": template, **given})
    except ValidationError as error:
        raise input_error(error, source="parameters") from None


class ParentResults(Fact):
    """The sheet before: what it is called, its hashes and its results; of a record, its facts."""

    link: ParentLink
    template: str
    results: dict[str, Any]
    facts: Annotated[dict[str, Any] | None, Field(exclude=True)] = None


def load_job_for(parameters: SheetParameters) -> tuple[Job, ParentResults | None]:
    """The job (facts) and, from an archived inputs file, the results it was built on."""
    from liftcalc.facts.io import load_job, parse_fact, read_data
    from liftcalc.facts.job import Job

    path = Path(parameters.job) if parameters.job else resources.demo_job_path()
    if path.suffix.lower() == ".json":
        document = read_data(path)
        if isinstance(document, dict) and document.get("schema") == INPUTS_SCHEMA:
            job = parse_fact(Job, document.get("job"), source=path.name)
            if (before := document.get("parent")) is None:
                return job, None
            return job, parse_fact(ParentResults, before, source=f"{path.name}, parent")
    return load_job(path), None


def _parent_from_record(folder: Path) -> ParentResults:
    verified = require_record(folder)
    manifest = verified.manifest
    assert manifest is not None
    facts, results = verified.json("inputs.json").get("job"), verified.json("results.json")
    return ParentResults(link=manifest.parent_link, template=manifest.template, results=results, facts=facts)


def facts_of(job: Job) -> dict[str, Any]:
    """The facts of a job as plain JSON values."""
    dumped: dict[str, Any] = job.model_dump(mode="json", by_alias=True)
    return dumped


def same_facts(job: dict[str, Any]) -> dict[str, Any]:
    """The facts that a sheet shares with the one before: all but what was measured afterwards."""
    return {name: value for name, value in job.items() if name != "as_set_up"}


def resolve_parent(parameters: SheetParameters, embedded: ParentResults | None, job: Job) -> ParentResults | None:
    """The sheet before, from the record folder given or from the archived inputs.

    *job* holds the facts of this lift only. Raises :class:`RecordError` when that record is not
    whole, :class:`InputError` when it is a record of another lift, of other facts, or of a sheet
    that does not come before this one.
    """
    before = embedded
    if parameters.parent:
        before = _parent_from_record(Path(parameters.parent))
        if embedded is not None and embedded != before.model_copy(update={"facts": None}):
            raise InputError.of("parent", parameters.parent, "the record that the archived inputs were made with")
    if before is None:
        return None
    wanted = resources.PARENT_OF.get(parameters.template, "")
    if before.template != wanted:
        allowed = f"a {wanted} record" if wanted else "none: this sheet is the first of the chain"
        raise InputError.of("parent", f"a {before.template} record", allowed)
    if before.results.get("lift") != parameters.lift:
        given = f"a record of lift {before.results.get('lift')}"
        raise InputError.of("parent", given, f"lift {parameters.lift}")
    if before.facts is not None and same_facts(before.facts) != same_facts(facts_of(job)):
        raise InputError.of(
            "parent", parameters.parent, "a record made from the same facts",
            "The job was changed since; make the sheet before again.",
        )  # fmt: skip
    return before


def facts_for(parameters: SheetParameters, job: Job) -> Job:
    """What the sheet may see of the job: its own lift, or all of it for a whole-job sheet."""
    own = job if parameters.template in resources.WHOLE_JOB else job.for_lift(parameters.lift)
    measured = parameters.template == "as_set_up"
    return own if measured else own.model_copy(update={"as_set_up": None})


def inputs_document(parameters: SheetParameters, job: Job, parent: ParentResults | None) -> dict[str, Any]:
    """Everything a sheet was made from, as archived in ``inputs.json``."""
    given = parameters.model_dump(mode="json")
    given.pop("template")
    return {
        "schema": INPUTS_SCHEMA, "template": parameters.template, "parameters": given,
        "job": facts_of(facts_for(parameters, job)),
        "parent": None if parent is None else parent.model_dump(),
    }  # fmt: skip
