"""Facts refuse wrong input with field, value and what is allowed, and round-trip exactly."""

from __future__ import annotations

import copy
import csv
import json
from pathlib import Path
from typing import Any, get_args

import openpyxl
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.facts import base
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.base import Fact
from liftcalc.facts.chart import RatedChart
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.io import FACTS, json_schemas, lifts_from_rows, load_fact, load_job, parse_fact, read_data
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Lift, Load
from liftcalc.facts.machine import Machine
from liftcalc.facts.mats import Mat
from liftcalc.facts.plan import Plan
from liftcalc.facts.rule_set import RuleSet
from liftcalc.facts.site import Site
from liftcalc.facts.site_geojson import site_dict_from_geojson, site_dict_to_geojson
from liftcalc.facts.surveyed import OverheadLine
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.report import provenance_rows

SHARED = Path(__file__).parents[2] / "shared"
DEMO = SHARED / "demo"


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(DEMO / "job.yaml")


@pytest.fixture
def job_data(demo: Job) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(demo.model_dump_json())
    return data


def refused(data: Any, kind: Any = Job) -> str:
    with pytest.raises(InputError) as caught:
        parse_fact(kind, data)
    return str(caught.value)


def test_demo_job_has_eight_lifts_and_is_marked_invented(demo: Job) -> None:
    assert len(demo.lifts) == 8
    assert demo.invented
    assert all(m.provenance.kind == "invented" for m in demo.machines)
    assert all(c.provenance.kind == "invented" for c in demo.charts)
    assert demo.site.provenance.kind == "invented"


def test_a_load_of_12000_t_is_refused(job_data: dict[str, Any]) -> None:
    job_data["lifts"][0]["load"]["mass_t"] = 12000.0
    text = refused(job_data)
    assert "lifts[0].load.mass_t" in text
    assert "12000" in text
    assert "1500" in text


def test_a_load_in_kilograms_that_fits_the_field_is_still_caught(job_data: dict[str, Any]) -> None:
    job_data["lifts"][0]["load"]["mass_t"] = 420.0
    assert "is it in kilograms?" in refused(job_data)


def test_a_radius_below_the_machines_minimum_is_refused(job_data: dict[str, Any]) -> None:
    lift = job_data["lifts"][0]
    lift["pick"]["easting_m"] = lift["stand"]["easting_m"] + 1.0
    lift["pick"]["northing_m"] = lift["stand"]["northing_m"]
    text = refused(job_data)
    assert "radius 1.00 m" in text
    assert "3.0 m (the machine's minimum)" in text


def test_a_leg_outside_its_stroke_is_refused(job_data: dict[str, Any]) -> None:
    job_data["lifts"][0]["legs"]["FR"] = 3.9
    text = refused(job_data)
    assert "outrigger FR is 3.9 m" in text
    assert "1.25 to 3.2 m" in text


def test_a_leg_between_its_pins_is_refused(job_data: dict[str, Any]) -> None:
    lift = next(i for i in job_data["lifts"] if i["machine"] == "demo-90")
    lift["legs"]["FL"] = 2.0
    assert "pinned at (1.4, 2.5, 3.7)" in refused(job_data)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), "3.2", True, None, [], {}])
def test_nan_infinity_text_and_booleans_are_no_numbers(job_data: dict[str, Any], bad: Any) -> None:
    job_data["lifts"][0]["load"]["mass_t"] = bad
    assert "lifts[0].load.mass_t" in refused(job_data)


def test_an_unknown_field_is_refused_by_name(job_data: dict[str, Any]) -> None:
    job_data["lifts"][0]["load"]["mass_kg"] = 4200.0
    text = refused(job_data)
    assert "lifts[0].load.mass_kg" in text
    assert "no such field" in text


def test_every_wrong_field_is_named_in_one_error(job_data: dict[str, Any]) -> None:
    job_data["lifts"][0]["load"]["mass_t"] = -1.0
    job_data["lifts"][1]["wind_m_s"] = 99.0
    del job_data["lifts"][2]["pick"]
    text = refused(job_data)
    assert "lifts[0].load.mass_t" in text
    assert "lifts[1].wind_m_s" in text
    assert "lifts[2].pick (L3) is missing; a value must be given." in text
    assert len(text.splitlines()) == 3


@pytest.mark.parametrize(
    ("ring", "words"),
    [
        ([], "three distinct corners"),
        ([[0, 0], [1, 1]], "three distinct corners"),
        ([[0, 0], [2, 2], [2, 0], [0, 2]], "crosses itself"),
        ([[0, 0], [1, 1], [2, 2]], "encloses no area"),
        ([[0, 0], [1, 0], [1, 1e9]], "10000000"),
    ],
)
def test_bad_boundaries_are_explained(job_data: dict[str, Any], ring: Any, words: str) -> None:
    job_data["site"]["boundary"] = ring
    text = refused(job_data)
    assert "site.boundary" in text
    assert words in text


def test_a_self_crossing_boundary_is_located(job_data: dict[str, Any]) -> None:
    job_data["site"]["boundary"] = [[0, 0], [2, 2], [2, 0], [0, 2]]
    assert "[1 1]" in refused(job_data)


def test_a_missing_water_level_is_refused(job_data: dict[str, Any]) -> None:
    profile = job_data["site"]["ground"][0]
    profile["water_depth_m"] = None
    assert "exactly one of water_depth_m and no_water_to_m" in refused(profile, SurveyedProfile)


def test_a_layer_without_strength_is_refused(job_data: dict[str, Any]) -> None:
    profile = job_data["site"]["ground"][0]
    profile["layers"][0]["phi_deg"] = None
    profile["layers"][0]["c_kPa"] = None
    assert "cannot carry an outrigger" in refused(profile, SurveyedProfile)


def test_a_capacity_that_rises_with_radius_is_refused(job_data: dict[str, Any]) -> None:
    chart = job_data["charts"][0]
    row = next(c for c in chart["capacity_t"] if sum(v is not None for v in c) > 2)
    rated = [k for k, v in enumerate(row) if v is not None]
    row[rated[1]] = row[rated[0]] + 5.0
    assert "must not rise with radius, as from" in refused(chart, RatedChart)


def test_a_chart_for_an_impossible_leg_setting_is_refused(job_data: dict[str, Any]) -> None:
    job_data["charts"][0]["leg_extension_m"]["FL"] = 9.0
    assert job_data["charts"][0]["id"] in refused(job_data)


def test_an_unknown_sling_names_the_shelf(job_data: dict[str, Any]) -> None:
    job_data["lifts"][0]["rigging"]["sling"] = "rope"
    text = refused(job_data)
    assert "sling is 'rope'" in text
    assert "wire-6m-20" in text


def test_a_centre_of_gravity_outside_the_load_is_refused(demo: Job) -> None:
    load = json.loads(demo.lifts[0].load.model_dump_json())
    load["cg_x_m"] = 5.0
    assert "cg_x_m within the load" in refused(load, Load)


@pytest.mark.parametrize(
    ("basis", "allowance", "least"),
    [("estimated", 9.9, 10), ("estimated", 0.0, 10), ("calculated", 0.0, 3), ("weighed", 0.0, 0)],
)
def test_a_mass_that_nobody_weighed_needs_an_allowance(
    job_data: dict[str, Any], basis: str, allowance: float, least: int
) -> None:
    load = job_data["lifts"][0]["load"]
    load |= {"mass_basis": basis, "contingency_percent": allowance}
    if not least:
        parse_fact(Job, job_data)
        return
    told = f"contingency_percent at least {least} with mass_basis '{basis}', not {allowance:g}"
    assert told in refused(job_data)
    load["contingency_percent"] = least
    parse_fact(Job, job_data)


@pytest.mark.parametrize(("field", "value", "least"), [("sail_area_m2", 0.1, 14.1), ("drag_coefficient", 0.1, 0.6)])
def test_a_load_that_hardly_catches_wind_says_why(
    job_data: dict[str, Any], field: str, value: float, least: float
) -> None:
    load = job_data["lifts"][0]["load"]
    load |= {"length_m": 6.0, "width_m": 3.0, "height_m": 3.0, "sail_area_m2": 18.0, field: value}
    assert f"{field} at least {least:g}" in refused(job_data)
    load["sail_reason"] = "   "
    assert "sail_reason says why" in refused(job_data)
    load["sail_reason"] = "lattice mast, members measured"
    job = parse_fact(Job, job_data)
    rows = provenance_rows(assess_lift(job, job.lifts[0].id, steps=4).setup, job)
    assert any(row[1] == "lattice mast, members measured" for row in rows)


def test_asking_for_an_unknown_lift_lists_the_lifts(demo: Job) -> None:
    with pytest.raises(InputError, match="L1, L2"):
        demo.for_lift("L99")


def test_for_lift_keeps_only_what_the_lift_needs(demo: Job) -> None:
    part = demo.for_lift("L5")
    assert [m.id for m in part.machines] == ["demo-90"]
    assert {c.counterweight for c in part.charts} == {part.lifts[0].counterweight}
    assert Job.model_validate_json(part.model_dump_json()) == part


def test_facts_round_trip_through_yaml_and_json(demo: Job, tmp_path: Path) -> None:
    for name, fact in (("machine", demo.machines[0]), ("chart", demo.charts[0]), ("job", demo)):
        kind = type(fact)
        assert kind.model_validate_json(fact.model_dump_json()) == fact
        path = tmp_path / f"{name}.yaml"
        path.write_text(yaml.safe_dump(fact.model_dump(mode="json")), encoding="utf-8")
        assert load_fact(kind, path) == fact


def test_site_round_trips_through_geojson(demo: Job) -> None:
    document = site_dict_to_geojson(json.loads(demo.site.model_dump_json()))
    assert parse_fact(Site, site_dict_from_geojson(document)) == demo.site


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.update(type="Feature"), "FeatureCollection"),
        (lambda d: d["features"][1]["properties"].update(kind="gnd"), "ground zone"),
        (lambda d: d["features"][1]["geometry"].update(type="Point"), "Polygon"),
        (lambda d: d["features"].append(d["features"][0]), "one boundary"),
        (lambda d: d["features"][2].pop("geometry"), "incomplete"),
        (lambda d: d["features"][2]["geometry"].update(coordinates=5), "incomplete"),
        (lambda d: d["features"][2]["properties"].update(kind=["obstacle"]), "incomplete"),
        (lambda d: d["features"][1]["geometry"]["coordinates"].append([]), "no holes"),
    ],
)
def test_bad_geojson_is_refused(change: Any, words: str) -> None:
    document = copy.deepcopy(read_data(DEMO / "site.geojson"))
    change(document)
    with pytest.raises(InputError, match=words):
        site_dict_from_geojson(document)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a: 1\na: 2\n", "given once"),
        ("a: [1, 2\n", "as YAML: "),
        ("? [1, 2]\n: 3\n", "text"),
        ("a: !!python/object:os.system {}\n", "no tag"),
    ],
)
def test_doubtful_yaml_is_refused(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "x.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        read_data(path)


@pytest.mark.parametrize("text", ['{"a": 1, "a": 2}', '{"a": NaN}', '{"a": Infinity}', "{", ""])
def test_doubtful_json_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"x\.json"):
        read_data(path)


def test_yaml_keeps_codes_as_text(tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    path.write_text("a: 012\nb: yes\nc: 2026-11-25\nd: 1.5e3\ne: 12\nf: 1_000\n", encoding="utf-8")
    assert read_data(path) == {"a": "012", "b": "yes", "c": "2026-11-25", "d": 1500.0, "e": 12, "f": "1_000"}


def test_unreadable_files_are_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.yaml"):
        read_data(tmp_path / "none.yaml")
    path = tmp_path / "latin.yaml"
    path.write_bytes(b"a: \xff\xfe\n")
    with pytest.raises(InputError, match="UTF-8"):
        read_data(path)


def test_lift_list_reads_the_same_from_csv_and_xlsx(tmp_path: Path, demo: Job) -> None:
    rows = list(csv.reader((DEMO / "lifts.csv").open(encoding="utf-8")))
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(rows[0])
    for row in rows[1:]:
        values = []
        for cell in row:
            try:
                values.append(float(cell))
            except ValueError:
                values.append(cell or None)  # type: ignore[arg-type]
        sheet.append(values)
    book.save(tmp_path / "lifts.xlsx")
    job = read_data(DEMO / "job.yaml")
    job["lifts"] = str(tmp_path / "lifts.xlsx")
    for field in ("machines", "charts", "mats", "accessories", "rule_sets"):
        job[field] = [str((DEMO / p).resolve()) for p in job[field]]
    for field in ("site", "tandem_lifts", "plan", "as_set_up"):
        job[field] = str(DEMO / job[field])
    path = tmp_path / "job.yaml"
    path.write_text(yaml.safe_dump(job), encoding="utf-8")
    from_xlsx = load_job(path)
    strip = {"provenance"}
    assert [i.model_dump(exclude=strip) for i in from_xlsx.lifts] == [i.model_dump(exclude=strip) for i in demo.lifts]


def test_text_columns_keep_leading_zeros() -> None:
    rows = lifts_from_rows([{"id": "007", "load.mass_t": "4.2"}], source="t", provenance={"kind": "assumed"})
    assert rows[0]["id"] == "007"
    assert rows[0]["load"]["mass_t"] == 4.2


def test_a_column_that_is_a_field_and_holds_fields_is_refused() -> None:
    row = {"load": "4.2", "load.mass_t": "4.2"}
    with pytest.raises(InputError, match=r"load\.mass_t is 4\.2; allowed: no column load besides"):
        lifts_from_rows([row], source="t", provenance={"kind": "assumed"})


@settings(deadline=None, max_examples=60)
@given(st.text(max_size=12))
def test_any_text_in_a_number_cell_is_a_number_or_refused(demo: Job, text: str) -> None:
    row = json.loads(demo.lifts[0].model_dump_json())
    cell = lifts_from_rows([{"load.mass_t": text}], source="t", provenance={"kind": "assumed"})
    row["load"]["mass_t"] = cell[0].get("load", {}).get("mass_t")
    value = row["load"]["mass_t"]
    if isinstance(value, float) and 0 < value <= 1500:
        assert parse_fact(Lift, row).load.mass_t == float(text)
    else:
        with pytest.raises(InputError, match=r"load\.mass_t"):
            parse_fact(Lift, row)


def test_every_shared_fact_is_valid() -> None:
    for path in sorted((SHARED / "machines").glob("*.yaml")):
        load_fact(Machine, path)
    for path in sorted((SHARED / "mats").glob("*.yaml")):
        for item in read_data(path):
            parse_fact(Mat, item, source=str(path))
    for path in sorted((SHARED / "rules").glob("*.yaml")):
        load_fact(RuleSet, path)
    load_fact(AsSetUp, DEMO / "as_set_up.yaml")
    load_fact(Plan, DEMO / "plan.yaml")


def test_json_schemas_cover_every_fact_and_forbid_unknown_fields() -> None:
    schemas = json_schemas()
    assert set(schemas) == set(FACTS)
    for name, schema in schemas.items():
        assert schema["additionalProperties"] is False
        assert schema.get("required") or name in ("accessories", "plan")


def test_what_may_be_null_is_said_where_it_is_missing() -> None:
    nullable: set[str] = set()
    waiting: list[Any] = list(FACTS.values())
    seen: set[Any] = set()
    while waiting:
        model = waiting.pop()
        seen.add(model)
        for name, info in model.model_fields.items():
            parts = [info.annotation]
            while parts:
                part = parts.pop()
                parts += get_args(part)
                if isinstance(part, type) and issubclass(part, Fact) and part not in seen:
                    waiting.append(part)
            if info.is_required() and type(None) in get_args(info.annotation):
                nullable.add(name)
    assert nullable == base.NULL_IS_UNKNOWN
    line = {"id": "line-1", "points": [[0, 0, 9], [9, 0, 9]], "sag_m": 0.1, "owner": "x"}
    text = refused({**line, "provenance": {"kind": "survey", "note": "x"}}, OverheadLine)
    assert "voltage_kV is missing; a value must be given, null where it is not known." in text


def test_a_name_that_is_none_is_refused_in_words() -> None:
    text = refused({"id": "a b"}, Mat)
    assert "id is 'a b'; allowed: 1 to 40 letters, digits and the signs . _ - of which" in text
    assert "[A-Za" not in text


def test_a_rule_over_several_fields_names_the_fact_and_not_its_content() -> None:
    chart = read_data(SHARED / "charts" / "demo-50.yaml")[0]
    chart["capacity_t"][0][2] = 405.0
    with pytest.raises(InputError) as caught:
        parse_fact(RatedChart, chart, source="charts.yaml")
    assert str(caught.value) == (
        "charts.yaml: demo-50-full-cw-3: capacity_t must not rise with radius, as from 44.7 t at "
        "3.5 m to 405 t at 4 m (boom length 10.5 m)."
    )


def _list(tmp_path: Path, change: Any, *, mark: str = ",", encoding: str = "utf-8") -> Path:
    with (DEMO / "lifts.csv").open(encoding="utf-8", newline="") as stream:
        table = list(csv.reader(stream))
    change(table)
    path = tmp_path / "lifts.csv"
    with path.open("w", encoding=encoding, newline="") as stream:
        csv.writer(stream, delimiter=mark).writerows(table)
    return path


def _comma(table: list[list[str]]) -> None:
    for row in table[1:]:
        for n, cell in enumerate(row):
            if cell.replace(".", "", 1).replace("-", "", 1).isdecimal():
                row[n] = cell.replace(".", ",")


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("change", [lambda table: None, _comma])
def test_a_lift_list_is_read_as_spreadsheets_of_any_language_write_it(
    demo: Job, tmp_path: Path, mark: str, change: Any
) -> None:
    path = _list(tmp_path, change, mark=mark, encoding="utf-8-sig")
    if mark == "," and change is _comma:  # quoted cells with commas: which mark is in doubt
        with pytest.raises(InputError, match="Write a point for decimals"):
            load_job(DEMO / "job.yaml", lifts=path)
        return
    job = load_job(DEMO / "job.yaml", lifts=path)
    for mine, theirs in zip(job.lifts, demo.lifts, strict=True):
        assert mine.model_dump(exclude={"provenance"}) == theirs.model_dump(exclude={"provenance"})
    assert ("comma as decimal mark" in job.lifts[0].provenance.note) == (change is _comma)


def _slide(table: list[list[str]]) -> None:
    table[1][6:7] = [*table[1][6].replace(".", ",").split(","), "5"]  # 31,5 without quotation marks


def _twice(table: list[list[str]]) -> None:
    table[0][-1] = table[0][5]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (_slide, "lifts.csv, row 2 is '49 cells'; allowed: 48, as the header. A comma inside"),
        (lambda table: table[2].pop(), "lifts.csv, row 3 is '47 cells'; allowed: 48, as the header.$"),
        (_twice, r"header is \['boom_length_m'\]; allowed: a name for each column, each once"),
        (lambda table: table.clear(), "'empty'; allowed: a header row"),
        (lambda table: table.__delitem__(slice(1, None)), r"lifts is \[\]; allowed: at least 1"),
        (
            lambda table: table[1].__setitem__(table[0].index("load.mass_t"), "4200 kg"),
            r"mass_t \(L1\) is '4200 kg'; allowed: a number. Give the number alone",
        ),
        (
            lambda table: table[1].__setitem__(table[0].index("mat"), "nothing"),
            r"job\.yaml: lift L1: mat is 'nothing'; allowed: composite-2\.4, ",
        ),
    ],
)
def test_a_lift_list_that_may_have_slid_is_refused_by_row(tmp_path: Path, change: Any, words: str) -> None:
    with pytest.raises(InputError, match=words):
        load_job(DEMO / "job.yaml", lifts=_list(tmp_path, change))


def test_blank_rows_are_passed_over_and_both_decimal_marks_are_refused(tmp_path: Path) -> None:
    path = _list(tmp_path, lambda table: table.insert(2, [""] * len(table[0])))
    assert len(load_job(DEMO / "job.yaml", lifts=path).lifts) == 8
    path = _list(tmp_path, lambda table: table[1].__setitem__(6, "31,5"), mark=";")
    with pytest.raises(InputError, match=r"row 2, stand\.easting_m is 'a comma'"):
        load_job(DEMO / "job.yaml", lifts=path)


def test_a_missing_column_is_told_once_a_lift_and_without_its_list(tmp_path: Path) -> None:
    def drop(table: list[list[str]]) -> None:
        n = table[0].index("load.mass_t")
        for row in table:
            del row[n]

    with pytest.raises(InputError) as caught:
        load_job(DEMO / "job.yaml", lifts=_list(tmp_path, drop))
    assert [p.field for p in caught.value.problems] == [f"lifts[{n}].load.mass_t (L{n + 1})" for n in range(8)]


@pytest.mark.parametrize(
    ("where", "value"),
    [
        (("mats", 0, "bending_strength_kPa"), 1.2e7),  # Pa
        (("mats", 0, "youngs_modulus_kPa"), 1e10),
        (("mats", 2, "section_modulus_m3"), 1.05),  # cm3
        (("mats", 2, "second_moment_m4"), 0.0105),
        (("mats", 2, "shear_area_m2"), 7.2),
        (("machines", 0, "legs", 0, "capacity_kN"), 4e5),  # N
        (("machines", 0, "boom", "bending_stiffness_kNm2", 0), 5.2e8),  # N m2
        (("machines", 0, "standard_sail_area_m2_t"), 1000.0),
        (("charts", 0, "wind_m_s"), 98.0),
        (("charts", 0, "sector_deg", 1), 1e12),
        (("site", "services", 0, "allowable_stress_kPa"), 4e4),  # Pa
        (("site", "ground", 0, "water_depth_m"), 2000.0),  # mm
        (("rules", "ground", "settlement_limit_m"), 50.0),  # mm
        (("accessories", "shackles", 0, "pin_diameter_mm"), 22000.0),
        (("lifts", 0, "rigging", "hook_diameter_mm"), 90000.0),
    ],
)
def test_a_number_that_another_unit_would_give_is_refused(
    job_data: dict[str, Any], where: tuple[Any, ...], value: float
) -> None:
    """Each of these passes what the right number fails."""
    node = job_data
    for part in where[:-1]:
        node = node[part]
    assert isinstance(node[where[-1]], float)
    node[where[-1]] = value
    name = next(part for part in reversed(where) if isinstance(part, str))
    assert name in refused(job_data)
