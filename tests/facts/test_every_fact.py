"""Every fact changes something, or is refused; and no fact file holds a field that nobody knows."""

from __future__ import annotations

import copy
import importlib.util
import json
import shutil
import sys
from pathlib import Path
from types import ModuleType
from typing import Any, get_origin

import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.io import FACTS, load_fact, load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.facts.site import Site


def _beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


walk, other = _beside("fact_walk"), _beside("other_job")
FIELDS = list(walk.fields())

SILENT = {"machines[].class_t": "a label; a load of more than twice the class is refused, as a slip of units"}
"""Fields that change nothing, each with the reason why it stands in the file all the same."""

FIXED = {
    "machines[].legs": "a machine has four outriggers",
    "machines[].boom.head_offset_m": "must be 0: an offset head is not modelled",
    "tandem_lifts[].machines": "two machines",
    "as_set_up.centre.tapes": "two tapes",
    "as_set_up.mark.tapes": "two tapes",
}
"""Fields whose range holds no other value: any change is refused."""

_ID = "an id that other facts go by"
_BY_ID = "must be the id of another fact"
_USED = "what a lift uses cannot be left out"
_POINTS = "goes with the lifting points, which are stated from the centre of gravity"
REFUSED = {
    "invented": "true: no job that is not invented is among the two",
    "rules.zones.closed[].id": _ID,
    "site.ground": _USED,
    "site.ground[].id": _ID,
    "site.ground[].presumptive.table": "goes with the class's name in that table",
    "site.zones[].profile": "the borehole in the zone found the other",
    "site.boreholes[].profile": "the zone it lies in has the other",
    "machines": _USED,
    "machines[].id": _ID,
    "machines[].counterweights": _USED,
    "machines[].counterweights[].id": _ID,
    "machines[].boom.lengths_m": "goes with the charts",
    "machines[].hook_blocks": _USED,
    "machines[].hook_blocks[].id": _ID,
    "machines[].legs[].name": "four names in one order",
    "charts[].machine": _BY_ID,
    "charts[].boom_length_m": "goes with the machine's lengths",
    "confirmations[].machine": _BY_ID,
    "confirmations[].counterweight": _BY_ID,
    "confirmations[].boom_length_m": "a length of the machine",
    "accessories.slings": _USED,
    "accessories.slings[].id": _ID,
    "accessories.shackles": _USED,
    "accessories.shackles[].id": _ID,
    "accessories.beams": _USED,
    "accessories.beams[].id": _ID,
    "lifts[].load.held_down": "must be false: a load that is held down is no weight",
    "tandem_lifts[].load.height_m": _POINTS,
    "tandem_lifts[].load.cg_x_m": _POINTS,
    "tandem_lifts[].load.cg_y_m": _POINTS,
    "tandem_lifts[].load.cg_z_m": _POINTS,
    "tandem_lifts[].load.cg_error_x_m": _POINTS,
    "tandem_lifts[].load.held_down": "must be false: a load that is held down is no weight",
    "tandem_lifts[].machines[].machine": "goes with counterweight, block and charts",
    "tandem_lifts[].machines[].rigging.sling_legs": "goes with the spacing of the points",
    "tandem_lifts[].machines[].rigging.beam": "goes with the sling's legs",
    "tandem_lifts[].machines[].rigging.top_sling": "goes with a beam",
    "tandem_lifts[].machines[].rigging.point_spacing_x_m": "goes with the sling's legs",
    "tandem_lifts[].machines[].rigging.point_spacing_y_m": "goes with the sling's legs",
    "tandem_lifts[].machines[].rigging.point_height_m": _POINTS,
    "tandem_lifts[].lug_above_cg_m": _POINTS,
    "plan.load_own.rigid_by": "goes without a section",
    "as_set_up": "what the sheet as set up is made of",
    "as_set_up.mark": "goes with mark_x_m",
    "lifts[].machine": "goes with counterweight, block, outriggers and charts",
}
"""Fields of which every change tried is refused by name, each with what it has to agree with."""


@pytest.fixture(scope="module")
def demo() -> dict[str, Any]:
    """The demo job, measured at the crane as its file says."""
    data: dict[str, Any] = json.loads(load_job(demo_job_path()).model_dump_json())
    measured = load_fact(AsSetUp, demo_job_path().with_name("as_set_up.yaml"))
    return {**data, "as_set_up": json.loads(measured.model_dump_json())}


@pytest.fixture(scope="module")
def jobs(demo: dict[str, Any]) -> list[Any]:
    return [walk.Shown(demo), walk.Shown(other.other_job(demo))]


GROUPS = sorted({f.key.split(".")[0].split("[")[0] for f in FIELDS} - {"id", "title", "client"})


@pytest.mark.parametrize("group", [*GROUPS, ""])
def test_every_fact_changes_a_check_a_number_or_a_drawing_or_is_refused(jobs: list[Any], group: str) -> None:
    wrong = []
    for field in FIELDS:
        own = field.key.split(".")[0].split("[")[0]
        if field.key in SILENT or (own if own in GROUPS else "") != group:
            continue
        wanted = ("counts", "shown")
        if field.key in FIXED or field.key in REFUSED:
            wanted = ("range",) if field.key in FIXED else ("refused",)
        got, where = walk.best(jobs, field)
        if got not in wanted:
            wrong.append(f"{field.key}: {got or 'changes nothing'} ({where})")
    assert not wrong, "\n".join(wrong)


def test_what_is_said_to_be_silent_is_so(jobs: list[Any]) -> None:
    by_key = {f.key: f for f in FIELDS}
    for key in SILENT:
        assert walk.best(jobs, by_key[key], most=6)[0] == "", key


def test_each_field_with_a_reason_exists() -> None:
    keys = {f.key for f in FIELDS}
    assert len(keys) > 400
    for reasons in (SILENT, FIXED, REFUSED, walk.ECHOED, walk.FIRST):
        assert reasons.keys() <= keys


_RIG = ("tandem_lifts", 0, "machines", 0, "rigging")
TOGETHER = {
    "another table of lines": {
        ("rules", "clearance", "power_line_table"): "29 CFR 1926.1408 Table A",
        ("rules", "clearance", "power_line_owner_rows"): [],
    },
    "another presumptive table": {
        ("site", "ground", 0, "presumptive", "table"): "massachusetts-1804.1",
        ("site", "ground", 0, "presumptive", "name"): "clay, medium",
    },
    "a document in place of a section": {("plan", "load_own"): {"rigid_by": "certificate 9"}},
    "two legs on a machine of two": {(*_RIG, "sling_legs"): 2, (*_RIG, "point_spacing_x_m"): 0.6},
    "four legs on a machine of two": {
        (*_RIG, "sling_legs"): 4,
        (*_RIG, "point_spacing_x_m"): 0.6,
        (*_RIG, "point_spacing_y_m"): 0.5,
    },
    "points of the load of two machines": {
        ("tandem_lifts", 0, "lug_above_cg_m"): [0.5, 0.5],
        (*_RIG, "point_height_m"): None,
        ("tandem_lifts", 0, "machines", 1, "rigging", "point_height_m"): None,
    },
    "a higher load of two machines": {
        ("tandem_lifts", 0, "load", "height_m"): None,
        (*_RIG, "point_height_m"): None,
        ("tandem_lifts", 0, "machines", 1, "rigging", "point_height_m"): None,
    },
}


@pytest.mark.parametrize("which", TOGETHER)
def test_facts_that_go_with_one_another_change_something_together(jobs: list[Any], which: str) -> None:
    base = jobs[1]
    load = base.data["tandem_lifts"][0]["load"]["height_m"]
    above = base.data["tandem_lifts"][0]["lug_above_cg_m"]
    height = load + (0.2 if "higher" in which else 0.0)
    point = height / 2 + (0.5 if "points" in which else above[0])
    given = {"height_m": height, "point_height_m": point}
    values = {p: given[p[-1]] if v is None else v for p, v in TOGETHER[which].items()}
    assert walk.together(base, values)


NEWLY_READ = [
    "client",
    "site.grid",
    "site.datum",
    "site.obstacles[].kind",
    "site.overhead_lines[].owner",
    "site.boreholes",
    "site.boreholes[].id",
    "charts[].base_name",
]


@pytest.mark.parametrize("key", NEWLY_READ)
def test_a_fact_that_nothing_read_is_shown(jobs: list[Any], key: str) -> None:
    field = next(f for f in FIELDS if f.key == key)
    assert walk.best(jobs, field)[0] in ("counts", "shown")


def test_the_walk_finds_a_fact_that_nothing_reads(jobs: list[Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """The grid is shown among the sources; without that table it would be found to be silent."""
    field = next(f for f in FIELDS if f.key == "site.grid")
    assert walk.best(jobs, field)[0] == "shown"
    monkeypatch.setattr(walk, "WORDS", ())
    monkeypatch.setattr(walk, "COUNTS", ())
    fresh = [walk.Shown(job.data) for job in jobs]
    assert walk.best(fresh, field)[0] == ""


def _dicts(model: Any, data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Places of every fact in the data, one of each kind of place."""
    found = [path]
    for name, info in model.model_fields.items():
        if get_origin(info.annotation) is dict:  # facts by name
            continue
        for inner in walk._models(info.annotation):
            value = data.get(name)
            by_id = get_origin(info.annotation) is dict
            if value and (by_id or isinstance(value, list)):
                first = next(iter(value)) if by_id else 0
                found += _dicts(inner, value[first], (*path, name, first))
            elif isinstance(value, dict) and not by_id:
                found += _dicts(inner, value, (*path, name))
    return found


def test_an_unknown_field_is_refused_by_its_name_in_every_fact(demo: dict[str, Any]) -> None:
    data = other.other_job(demo)
    places = _dicts(Job, data)
    assert len(places) > 60
    for path in places:
        changed = copy.deepcopy(data)
        walk.at(changed, path)["colour_of_it"] = 1.0
        with pytest.raises(InputError, match=r"colour_of_it.*no such field is known"):
            parse_fact(Job, changed)


def test_each_kind_of_fact_file_refuses_an_unknown_field(demo: dict[str, Any]) -> None:
    data = other.other_job(demo)
    one = {
        "machine": data["machines"][0],
        "rated-chart": data["charts"][0],
        "confirmation": data["confirmations"][0],
        "mat": data["mats"][0],
        "accessories": data["accessories"],
        "ground-profile": data["site"]["ground"][0],
        "site": data["site"],
        "lift": data["lifts"][0],
        "tandem-lift": data["tandem_lifts"][0],
        "rule-set": data["rule_sets"][0],
        "plan": data["plan"],
        "as-set-up": data["as_set_up"],
        "job": data,
    }
    assert one.keys() == FACTS.keys()
    for name, kind in FACTS.items():
        parse_fact(kind, one[name])
        with pytest.raises(InputError, match="colour_of_it"):
            parse_fact(kind, {**one[name], "colour_of_it": 1.0})


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("demo/job.yaml", "client:", "colour_of_it: red\nclient:"),
        ("demo/lifts.csv", "id,title,", "id,title,colour_of_it,"),
        ("demo/tandem.yaml", "cg_error_m:", "colour_of_it: 1.0\ncg_error_m:"),
        ("demo/site.geojson", '"sag_m"', '"colour_of_it": 1.0, "sag_m"'),
        ("machines/demo-50.yaml", "  height_m: 1.6", "  height_m: 1.6\n  colour_of_it: 1.0"),
        ("charts/demo-50.yaml", "  base_name: full", "  base_name: full\n  colour_of_it: 1.0"),
        ("mats/mats.yaml", "  material:", "  colour_of_it: 1.0\n  material:"),
        ("rigging/accessories.yaml", "pin: bolt", "colour_of_it: 1.0, pin: bolt"),
        ("rules/em-385.yaml", "owner:", "colour_of_it: red\nowner:"),
        ("rules/em-385.yaml", "{asks:", "{colour_of_it: red, asks:"),
        ("demo/plan.yaml", "time_of_day:", "colour_of_it: red\ntime_of_day:"),
        ("demo/plan.yaml", "weather:\n", "weather:\n  colour_of_it: red\n"),
        ("demo/plan.yaml", "  L1:\n", "  L1:\n    colour_of_it: red\n"),
        ("demo/register.yaml", "{tag: W6-01,", "{tag: W6-01, colour_of_it: red,"),
    ],
)
def test_a_file_of_the_job_refuses_an_unknown_field(tmp_path: Path, name: str, old: str, new: str) -> None:
    shared = tmp_path / "shared"
    shutil.copytree(demo_job_path().parents[1], shared)
    text = (shared / name).read_text(encoding="utf-8")
    assert old in text
    text = text.replace(old, new, 1)
    if name.endswith("csv"):  # a column for each row
        head, *rows = text.splitlines()
        at = head.split(",").index("colour_of_it")
        text = "\n".join([head, *(",".join([*r.split(",")[:at], "red", *r.split(",")[at:]]) for r in rows)])
    (shared / name).write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="colour_of_it"):
        load_job(shared / "demo" / "job.yaml")


def test_a_borehole_that_found_other_ground_than_its_zone_has_is_asked_about(demo: dict[str, Any]) -> None:
    site = copy.deepcopy(demo["site"])
    hole = site["boreholes"][0]
    hole["profile"] = "BH2"
    with pytest.raises(InputError, match="bh-1 found profile BH2, and lies in zone hardstand"):
        parse_fact(Site, site)
    site["stated"] = {"borehole-bh-1": "bored before the hardstand was made"}
    parse_fact(Site, site)
    hole["profile"] = "BH1"
    del site["stated"]
    hole["easting_m"], hole["northing_m"] = 34.0, 25.0  # now in the bank, whose ground is BH2
    with pytest.raises(InputError, match="lies in zone bank, whose profile is BH2"):
        parse_fact(Site, site)


def test_a_tandem_lifting_point_above_its_load_is_refused_before_it_is_assessed(demo: dict[str, Any]) -> None:
    data = copy.deepcopy(demo)
    data["tandem_lifts"][0]["load"]["height_m"] = 1.17
    with pytest.raises(InputError, match=r"rigging\.point_height_m at most load\.height_m"):
        parse_fact(Job, data)
