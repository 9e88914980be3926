"""Fields of a manifest that follow from what else lies in the record.

The writer fills them from here and every reader derives them again, so that a manifest can state
nothing that its record does not say. The preparer's word alone are the time and the person.
"""

import re
from collections.abc import Iterator, Mapping
from types import SimpleNamespace
from typing import Any

from liftcalc.base.errors import RecordError
from liftcalc.base.strict_json import dumps, loads, sha256_hex
from liftcalc.base.text import text_in_units
from liftcalc.records.blocks import used_words
from liftcalc.records.environment import versions_of
from liftcalc.records.manifest import SCHEMAS, Manifest, name_stem

ALWAYS = ("inputs.json", "results.json", "sheet.ipynb", "sheet.html")
OF_THE_SHEET = (
    *("job", "job_title", "invented", "lift", "lift_title", "template", "revision", "units"),
    *("verdict", "governing", "template_sha256"),
)
"""What a check record repeats of the record that it checks."""


_SENTENCE = 20
"""From so many characters on, a text of plan or rule set is its writer's sentence, no word of the page."""


def given_names(facts: Any, *, told: bool = False) -> Iterator[str]:
    """Names and sentences that facts give: a page shows them as they stand in every unit system."""
    if isinstance(facts, Mapping):
        for key, value in facts.items():
            if key in ("id", "name", "title", "document") and isinstance(value, str):
                yield value
            else:
                yield from given_names(value, told=told or key in ("plan", "rule_sets"))
    elif isinstance(facts, list):
        for item in facts:
            yield from given_names(item, told=told)
    elif told and isinstance(facts, str) and len(facts) >= _SENTENCE:
        yield facts


def governing_words(results: Mapping[str, Any], units: Any, names: frozenset[str]) -> str:
    """Governing check in the words of the sheet, with the condition on which it holds."""
    check = next(c for c in results["checks"] if c["id"] == results["governing"])
    used = used_words(SimpleNamespace(**check))
    on = f", on condition: {check['condition']}" if check["condition"] else ""
    said = text_in_units(str(check["title"]), units, keep=names)
    return (said + ("" if used == "–" else f" ({used})"))[: 500 - len(on)] + on


def fields_of_sheet(inputs: Mapping[str, Any], results: Mapping[str, Any]) -> dict[str, Any]:
    """Fields of a sheet's manifest that its inputs and results state."""
    job, given = inputs["job"], inputs["parameters"]
    lift = next(item for item in job["lifts"] if item["id"] == given["lift"])
    before = inputs["parent"]
    return {
        "job": job["id"], "job_title": job["title"][:500], "invented": bool(job["invented"]),
        "lift": given["lift"], "lift_title": lift["title"][:500], "template": inputs["template"],
        "revision": given["revision"], "units": given["units"],
        "prepared_by": given["prepared_by"], "verdict": results["verdict"],
        "governing": governing_words(results, given["units"], frozenset(given_names(job))),
        "parents": [] if before is None else [before["link"]],
    }  # fmt: skip


def run_key_of(*, template: str, inputs: str, version: str, code: str) -> str:
    """What makes a sheet: hashes of template and inputs, the version, the hash of its code."""
    made_by = {"template": template, "inputs": inputs, "version": version, "code": code}
    return sha256_hex(dumps(made_by))


def _of_check(manifest: Manifest, content: Mapping[str, bytes]) -> dict[str, Any]:
    said = loads(content["check.json"], "check.json")
    link = {"record": said["record"], "manifest_sha256": said["manifest_sha256"]}
    against = any(map(said.get, ("findings", "unverified", "differences", "differences_found")))
    wrong = against and said["decision"] == "matches"
    fields = {
        "decision": "differs" if wrong else said["decision"],
        "prepared_by": said["checker"], "checks": link,
        "versions": said["versions_here"], "code_sha256": said["code_sha256_here"],
        "run_key": sha256_hex(content["check.json"]), "revises": [], "environment_sha256": "",
    }  # fmt: skip
    if manifest.schema_ == SCHEMAS[0]:
        return fields
    fields["parents"] = [{**link, "chain_sha256": said["chain_sha256"]}]
    return fields | {name: said["sheet"][name] for name in OF_THE_SHEET}


def _of_sheet(manifest: Manifest, content: Mapping[str, bytes]) -> dict[str, Any]:
    results = loads(content["results.json"], "results.json")
    fields = fields_of_sheet(loads(content["inputs.json"], "inputs.json"), results)
    if manifest.schema_ != SCHEMAS[0]:
        lock = content["environment.txt"]
        fields |= {"environment_sha256": sha256_hex(lock), "versions": versions_of(lock)}
    key = run_key_of(
        template=manifest.template_sha256, inputs=sha256_hex(content["inputs.json"]),
        version=manifest.versions.get("liftcalc", ""), code=manifest.code_sha256,
    )  # fmt: skip
    return fields | {"run_key": key, "decision": "", "checks": None}


def contradictions(manifest: Manifest, content: Mapping[str, bytes]) -> list[str]:
    """Fields of a manifest that are not what follows from the record's other files, in words."""
    try:
        of = _of_check if manifest.kind == "check" else _of_sheet
        own = of(manifest, content)
    except (AttributeError, LookupError, RecordError, StopIteration, TypeError, ValueError) as e:
        return [f"its fields do not follow from its files ({type(e).__name__}: {e})"[:200]]
    stated = manifest.model_dump(mode="json", by_alias=True)
    found = [
        f"{name} is {_cut(stated.get(name))}; the record's files say {_cut(value)}"
        for name, value in own.items()
        if stated.get(name) != value or type(stated.get(name)) is not type(value)
    ]
    what = "check" if manifest.kind == "check" else manifest.template
    stem = name_stem(manifest.job, manifest.lift, what, manifest.revision, manifest.prepared_utc)
    if not re.fullmatch(re.escape(stem) + r"_[0-9a-f]{8}", manifest.record):
        found.append(f"the name {manifest.record} is not that of its job, lift, sheet and time")
    if len(set(manifest.revises)) != len(manifest.revises):
        found.append("it revises a record twice")
    if manifest.schema_ != SCHEMAS[0] and b'"image/svg+xml":' in content.get("sheet.ipynb", b""):
        found.append("sheet.ipynb holds a drawing of its own, beside that in figures")
    return found


def _cut(value: object) -> str:
    return repr(value)[:80]


def misplaced(manifest: Manifest) -> list[str]:
    """Files that do not belong to a record of this kind, and those that it lacks."""
    if manifest.kind == "check":
        needed, optional = ("check.json", "check.html"), ("recalculated.html",)
    else:
        lock = () if manifest.schema_ == SCHEMAS[0] else ("environment.txt",)
        needed, optional = (*ALWAYS, *lock), ("sheet.pdf",)
    drawing = re.compile(r"figures/[A-Za-z0-9][A-Za-z0-9_.-]*\.svg|files/[a-z0-9][a-z0-9_.-]*\.(html|geojson|dxf|csv)")
    odd = [
        f"{name} does not belong to a record"
        for name in manifest.files
        if name not in (*needed, *optional) and not drawing.fullmatch(name)
    ]
    lacking = [name for name in needed if name not in manifest.files]
    return odd + [f"{name} is not part of the record" for name in lacking]
