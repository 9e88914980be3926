"""Surveys that parse and cannot be so: stopped, unless the site says that they are meant."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.cli import main
from liftcalc.facts.io import load_job, parse_fact, read_data
from liftcalc.facts.plausible import site_doubts
from liftcalc.facts.site import Site
from liftcalc.facts.site_geojson import site_dict_from_geojson, site_dict_to_geojson
from liftcalc.lift import report
from liftcalc.lift.assess import assess_lift

SITE = demo_job_path().parent / "site.geojson"
REASON = "seen on site by the planner"
Change = Callable[[dict[str, Any]], Any]


@pytest.fixture(scope="module")
def data() -> dict[str, Any]:
    return site_dict_from_geojson(read_data(SITE))


def moved(site: dict[str, Any], plan: Callable[[float, float], Any]) -> None:
    """Move everything in plan, in place; levels stay."""
    site["boundary"] = [plan(*p) for p in site["boundary"]]
    for group, key in (("zones", "polygon"), ("obstacles", "polygon"), ("excavations", "polygon"),
                       ("areas", "polygon"), ("services", "line"), ("retaining_walls", "line"),
                       ("slopes", "crest"), ("overhead_lines", "points")):  # fmt: skip
        for item in site.get(group, ()):
            item[key] = [[*plan(*p[:2]), *p[2:]] for p in item[key]]
    for group in ("levels", "boreholes"):
        for item in site.get(group, ()):
            item["easting_m"], item["northing_m"] = plan(item["easting_m"], item["northing_m"])


def scaled(site: dict[str, Any], k: float, *, levels: bool = False) -> None:
    moved(site, lambda e, n: (e * k, n * k))
    if levels:
        for item in site["levels"]:
            item["level_m"] *= k


def exchange_levels(site: dict[str, Any], east: float = 0.0, north: float = 0.0) -> None:
    moved(site, lambda e, n: (e + east, n + north))
    for item in site["levels"]:
        item["easting_m"], item["northing_m"] = item["northing_m"], item["easting_m"]


def obstacle(site: dict[str, Any], id: str) -> dict[str, Any]:
    found: dict[str, Any] = next(o for o in site["obstacles"] if o["id"] == id)
    return found


CASES: list[tuple[str, str, Change]] = [
    # a drawing in metres whose header says millimetres: 6 cm long, levels of 3 mm
    ("extent", "0.06 m by 0.04 m, which", lambda s: scaled(s, 1e-3, levels=True)),
    ("extent", "or degrees would give; coordinates are metres", lambda s: moved(
        s, lambda e, n: (9.0 + e * 1e-4, 53.5 + n * 1e-4))),
    ("extent", "boundary is 60000 m by 40000 m", lambda s: scaled(s, 1000.0)),
    ("outside", "15 of 31 .* spot level .*exchanged", lambda s: exchange_levels(s, 5e5, 5e6)),
    ("exchanged", "4 of 15 spot levels", lambda s: exchange_levels(s)),
    ("exchanged", "3 of 5 obstacles lie outside", lambda s: [
        o.update(polygon=[[n, e] for e, n in o["polygon"]]) for o in s["obstacles"]]),
    ("outside", "1 of 3. things lie more than 100 m outside the boundary, poplar first",
     lambda s: obstacle(s, "poplar").update(polygon=[[952, 11], [955, 11], [953, 14]])),
    # a site 3 m above its datum, drawn in feet and read as metres, beside walls stated in metres
    ("base-control-room", "control-room stands at 3 m, where .* is 10.3", lambda s: scaled(
        s, 1 / 0.3048, levels=True)),
    # ground on another datum
    ("base-flood-wall", "flood-wall stands at 0.8 m", lambda s: [
        level.update(level_m=level["level_m"] + 8.0) for level in s["levels"]]),
    ("base-pump-house", "stands at -4.5 m", lambda s: obstacle(s, "pump-house").update(
        base_level_m=-4.5)),
    ("line-line-33", "lie 1.", lambda s: s["overhead_lines"][0].update(
        points=[[-5, 2, 4.6], [65, 3, 4.6]])),
    ("line-line-33", "line-33 lie -3.0 to 10.", lambda s: s["overhead_lines"][0].update(
        points=[[-5, 2, 13.2], [65, 3, 0.0]])),
    ("line-line-33", "lie .* 197", lambda s: s["overhead_lines"][0].update(
        points=[[-5, 2, 200.0], [65, 3, 200.0]])),
    # half of a line surveyed: the boom passes where it goes on
    ("end-line-33", r"ends inside the boundary, at \(30.0, 3.0\)", lambda s: s["overhead_lines"][
        0].update(points=[[-5, 2, 13.2], [30, 3, 13.4]])),
    ("levels-twice", "two levels, 3.02 and 3.3 m, at", lambda s: s["levels"].append(
        {"easting_m": 4.0, "northing_m": 8.0, "level_m": 3.3})),
    ("levels-zero", "1 spot levels are 0 among", lambda s: s["levels"][3].update(level_m=0.0)),
    ("levels-range", "from 2.78 to 59", lambda s: s["levels"][3].update(level_m=59.0)),
]  # fmt: skip


def test_the_demo_survey_leaves_no_doubt(data: dict[str, Any]) -> None:
    assert site_doubts(parse_fact(Site, data)) == ()


@pytest.mark.parametrize(("id", "words", "change"), CASES, ids=[f"{c[0]}-{c[1]}" for c in CASES])
def test_a_doubtful_survey_is_refused_and_says_how_to_answer_it(
    data: dict[str, Any], id: str, words: str, change: Change
) -> None:
    site = copy.deepcopy(data)
    change(site)
    with pytest.raises(InputError, match=words) as caught:
        parse_fact(Site, site)
    assert f"stated: {{{id}: the reason}}" in str(caught.value)


def answered(site: dict[str, Any]) -> Site:
    """The site with every doubt about it answered."""
    with pytest.raises(InputError) as caught:
        parse_fact(Site, site)
    ids = [str(p).split("stated: {")[1].split(":")[0] for p in caught.value.problems]
    return parse_fact(Site, {**site, "stated": dict.fromkeys(ids, REASON)})


@pytest.mark.parametrize(("id", "words", "change"), CASES, ids=[f"{c[0]}-{c[1]}" for c in CASES])
def test_an_answer_is_kept_with_the_site_and_answers_that_doubt_only(
    data: dict[str, Any], id: str, words: str, change: Change
) -> None:
    site = copy.deepcopy(data)
    change(site)
    fact = answered(site)
    assert id in fact.stated
    again = parse_fact(Site, site_dict_from_geojson(site_dict_to_geojson(fact.model_dump(mode="json"))))
    assert again == fact
    with pytest.raises(InputError, match="answers no doubt"):
        parse_fact(Site, {**data, "stated": {id: REASON}})
    with pytest.raises(InputError, match="at least 10"):
        parse_fact(Site, {**site, "stated": {id: "yes"}})


@pytest.mark.parametrize(("gap", "doubtful"), [(3.1, False), (3.2, True), (-3.1, False), (-3.2, True)])
def test_a_base_may_differ_from_the_ground_by_three_metres_and_a_tenth_of_the_way_to_its_level(
    data: dict[str, Any], gap: float, doubtful: bool
) -> None:
    """The nearest level to the kiosk, at (15, 18) of 3.04 m, lies sqrt(0.5**2 + 1.5**2) m away."""
    site = copy.deepcopy(data)
    kiosk = obstacle(site, "switch-kiosk")
    kiosk.update(polygon=[[14, 19.5], [14.5, 19.5], [14.5, 21], [14, 21]],
                 base_level_m=3.04 - gap, top_level_m=9.0)  # fmt: skip
    found = [d.id for d in _doubts(site)]
    assert found == (["base-switch-kiosk"] if doubtful else [])


def _doubts(site: dict[str, Any]) -> tuple[Any, ...]:
    try:
        return site_doubts(parse_fact(Site, site))
    except InputError:
        return site_doubts(answered(site))


@pytest.mark.parametrize("levels", [1, 2, "line"])
def test_levels_that_span_no_ground_are_refused_with_the_survey(data: dict[str, Any], levels: Any) -> None:
    some = [{"easting_m": 4.0 + 9 * k, "northing_m": 8.0, "level_m": 3.0} for k in range(5)]
    site = {**data, "levels": some if levels == "line" else some[:levels]}
    with pytest.raises(InputError, match="lie in one line" if levels == "line" else "at least 3"):
        parse_fact(Site, site)


def test_many_obstacles_off_the_ground_are_one_doubt(data: dict[str, Any]) -> None:
    site = copy.deepcopy(data)
    one = obstacle(site, "poplar")
    site["obstacles"] += [{**one, "id": f"p{k}", "base_level_m": -9.0} for k in range(40)]
    (doubt,) = _doubts(site)
    assert doubt.id == "bases"
    assert doubt.what.startswith("40 of 45 obstacles: p0 stands at -9 m")


def test_a_large_survey_is_looked_through(data: dict[str, Any]) -> None:
    site = copy.deepcopy(data)
    one = obstacle(site, "poplar")
    site["obstacles"] += [{**one, "id": f"p{k}"} for k in range(2000)]
    site["levels"] += [
        {"easting_m": 1 + k % 100 * 0.5, "northing_m": 1 + k // 100 * 0.3, "level_m": 3.0} for k in range(10_000)
    ]
    fact = parse_fact(Site, site)
    assert list(site_doubts(fact)) == []


def test_jobs_and_the_survey_command_refuse_and_print_the_same(
    data: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = copy.deepcopy(data)
    obstacle(site, "pump-house")["base_level_m"] = -4.5
    document = site_dict_to_geojson(site)
    survey = tmp_path / "site.geojson"
    survey.write_text(json.dumps(document), encoding="utf-8")
    job = read_data(demo_job_path())
    shared = demo_job_path().parent.parent
    for key in ("machines", "charts", "mats", "accessories", "rule_sets"):
        job[key] = [str(shared / "demo" / name) for name in job[key]]
    for key in ("lifts", "tandem_lifts", "plan", "as_set_up"):
        job[key] = str(shared / "demo" / job[key])
    job["site"] = str(survey)
    path = tmp_path / "job.yaml"
    path.write_text(yaml.safe_dump(job), encoding="utf-8")
    assert main(["batch", str(path), "--out", str(tmp_path / "r"), "--no-pdf"]) == 2
    assert main(["survey", str(survey), "--out", str(tmp_path / "a.csv")]) == 2
    said = capsys.readouterr().err
    assert said.count("doubtful: pump-house stands at -4.5 m") == 2
    document["site"]["stated"] = {"base-pump-house": REASON}
    survey.write_text(json.dumps(document), encoding="utf-8")
    assert main(["survey", str(survey), "--out", str(tmp_path / "a.geojson")]) == 0
    assert "Note: pump-house stands at -4.5 m, where the nearest spot level, 3." in (
        capsys.readouterr().out
    )  # fmt: skip
    assessed = assess_lift(load_job(path), "L1")
    rows = report.provenance_rows(assessed.setup, assessed.job)
    (row,) = [r for r in rows if r[0] == "Survey, stated"]
    assert row[1].startswith("pump-house stands at -4.5 m")
    assert row[2] == f"assumed: {REASON}"


def crs(name: str) -> dict[str, Any]:
    return {"type": "name", "properties": {"name": name}}


UTM = "ETRS89 / UTM zone 33N, EPSG:25833"


@pytest.mark.parametrize(
    ("member", "grid", "words"),
    [
        (crs("urn:ogc:def:crs:EPSG::25833"), "local grid", "'EPSG:25833'; allowed: the site's own"),
        (crs("EPSG:2263"), "EPSG:2263 New York", "its unit is not the metre"),
        (crs("urn:ogc:def:crs:EPSG::3857"), "EPSG:3857", "a metre on the ground is 1.6.. m on it"),
        (crs("urn:ogc:def:crs:OGC:1.3:CRS84"), "local grid", "does not name it"),
        (crs("urn:ogc:def:crs:EPSG::4326"), "EPSG:4326", "its unit is not the metre"),
        (crs("EPSG:2583"), UTM, "does not name it"),
        ({"type": "link"}, "local grid", "does not name it"),
        (crs("EPSG:25833"), UTM, ""),
        (None, "local grid", ""),
    ],
)
def test_a_coordinate_system_member_must_be_the_sites_own_grid(
    data: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str],
    member: Any, grid: str, words: str,
) -> None:  # fmt: skip
    site = copy.deepcopy(data)
    at = (-8231e3, 7.08e6) if "3857" in grid else (400e3, 5.93e6)
    moved(site, lambda e, n: (e + at[0], n + at[1]))
    document = {**site_dict_to_geojson(site), "crs": member}
    document["site"]["grid"] = grid
    path = tmp_path / "a.geojson"
    path.write_text(json.dumps(document), encoding="utf-8")
    code = main(["survey", str(path), "--out", str(tmp_path / "b.csv")])
    if words:
        assert code == 2
        with pytest.raises(InputError, match=words) as caught:
            site_dict_from_geojson(document)
        assert "name the crs in site.grid" in str(caught.value)
        assert str(caught.value.problems[0]) in capsys.readouterr().err
    else:
        assert code == 0
        assert parse_fact(Site, site_dict_from_geojson(document)).grid == grid


@pytest.mark.parametrize("odd", ["0", False, 1e300, 1e8, None, [1.0]])
def test_coordinates_that_are_no_plain_numbers_on_a_grid_are_refused(
    odd: Any, data: dict[str, Any], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = site_dict_to_geojson(copy.deepcopy(data))
    document["features"][0]["geometry"]["coordinates"][0][2][0] = odd
    path = tmp_path / "a.geojson"
    path.write_text(json.dumps(document), encoding="utf-8")
    assert main(["survey", str(path), "--out", str(tmp_path / "b.csv")]) == 2
    said = capsys.readouterr().err
    assert "a.geojson, feature 0 (boundary)" in said
    assert "coordinates" in said
    with pytest.raises(InputError):
        parse_fact(Site, site_dict_from_geojson(document))


def test_a_csv_cell_without_end_is_told_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.csv"
    path.write_text(f'easting_m,northing_m,level_m\n1,2,"{"9" * 140_000}"\n', encoding="utf-8")
    assert main(["survey", str(path), "--out", str(tmp_path / "b.csv")]) == 2
    assert "a readable CSV table" in capsys.readouterr().err
