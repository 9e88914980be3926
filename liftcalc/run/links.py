"""The records that a record names: are they those that it means, and are they right themselves?"""

from collections.abc import Callable

from liftcalc.base import resources
from liftcalc.base.strict_json import dumps
from liftcalc.records.check_record import CheckOutcome
from liftcalc.records.inputs import same_facts
from liftcalc.records.log import read_log
from liftcalc.records.manifest import Manifest, utc_now
from liftcalc.records.verify import Verified, verify_record


def check_links(
    verified: Verified, manifest: Manifest, outcome: CheckOutcome, again: Callable[[Verified], str]
) -> None:
    """Are the records that it builds on and revises there, whole, right, and those that it means?

    again: the decision about a record before this one, whose results this one shows.
    """
    inputs = verified.json("inputs.json")
    of = (manifest.job, manifest.lift)
    for known in manifest.parents:
        before = verify_record(verified.folder.parent / known.record)
        name = f"the sheet before, {known.record},"
        if not before.folder.is_dir():
            outcome.unverified.append(f"{name} is not there: what it handed over was not compared")
        elif before.manifest is None or not before.ok:
            outcome.findings.append(f"{name} is not whole")
        elif before.manifest.parent_link != known:
            outcome.findings.append(f"{name} is not the one built on")
        elif (before.manifest.job, before.manifest.lift) != of or before.manifest.kind != "sheet":
            outcome.findings.append(f"{name} is of another job or lift")
        elif before.manifest.template != resources.PARENT_OF.get(manifest.template):
            outcome.findings.append(f"{name} is not of the sheet that comes before")
        elif before.content["results.json"] != dumps(inputs["parent"]["results"]):
            outcome.findings.append(f"inputs.json: holds other results than {name[:-1]}")
        elif dumps(same_facts(before.json("inputs.json")["job"])) != dumps(same_facts(inputs["job"])):
            outcome.findings.append(f"{name} was made from other facts")
        elif (decision := again(before)) != "matches":
            told = outcome.findings if decision == "differs" else outcome.unverified
            told.append(f"{name} was made again: {decision}")
    for old in manifest.revises:
        before = verify_record(verified.folder.parent / old.record)
        if not before.folder.is_dir():
            outcome.unverified.append(f"the record that it revises, {old.record}, is not there")
        elif before.manifest is None or not before.ok or before.manifest.link != old:
            outcome.findings.append(f"the record that it revises, {old.record}, is another one")
        elif (before.manifest.kind, before.manifest.job, before.manifest.lift,
              before.manifest.template) != ("sheet", *of, manifest.template):  # fmt: skip
            outcome.findings.append(f"it revises {old.record}, which is of another sheet")


def check_log(verified: Verified, manifest: Manifest, outcome: CheckOutcome) -> None:
    """Is the record the one that the log of its archive names, where there is one; of which day?"""
    if manifest.prepared_utc > utc_now():
        outcome.notes.append("it is dated in the future")
    log = read_log(verified.folder.absolute().parent)
    if log is None:
        return
    if log.problem:
        outcome.findings.append(log.problem)
    named = [line for line in log.lines if line.name == manifest.record]
    if not named:
        outcome.unverified.append("the log of its archive does not name it")
    elif named[0].sha256 != manifest.manifest_sha256:
        outcome.findings.append("the log of its archive names another state of it")
    elif len(named) > 1:
        what = named[1].what
        outcome.findings.append(f"the log of its archive names it a second time, as {what}")


def chain_of(folder: str) -> tuple[str, int]:
    """Chain of a record and its place in it, by its name: only work that is spared hangs on it."""
    for number, sheet in enumerate(resources.CHAIN):
        lift, found, _ = folder.rpartition(f"_{sheet}_")
        if found:
            return lift, number
    return folder, len(resources.CHAIN)
