"""Settings and fixtures that tests of several rooms share.

Property tests draw the same examples in every run, so that a run says something about the code and
not about its luck; ``pytest --hypothesis-profile=search`` draws new ones.

Records and runs are tested on a small job and four small ("toy") templates, without the real
sheets.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import nbformat
import pytest
import yaml
from hypothesis import settings
from writable import unlock

from liftcalc.base import resources
from liftcalc.base.strict_json import sha256_hex
from liftcalc.records.derive import run_key_of
from liftcalc.records.manifest import MANIFEST_NAME, FileEntry, Manifest, manifest_bytes, seal
from liftcalc.run.make import SheetOrder, make_record

settings.register_profile("fixed", derandomize=True, deadline=None)
settings.register_profile("search", derandomize=False, deadline=None, print_blob=True)
settings.load_profile("fixed")

PARAMETERS = '''job: str = ""
lift: str = "L1"
parent: str = ""
results_file: str = ""
units: str = "metric"
revision: str = "A"
prepared_by: str = ""'''

BEGIN = """from liftcalc import sheets
from liftcalc.base.checks import limit_check

sheet = sheets.begin("{name}", job=job, lift=lift, parent=parent, results_file=results_file,
                     units=units, revision=revision, prepared_by=prepared_by)
sheet.title_block(rows=[("Site", sheet.job.title)])"""

CALCULATE = """from liftcalc.base.units import G_M_S2

before = sheet.parent.results["values"]["sum_kN"] if sheet.parent else 0.0
weight_kN = G_M_S2 * sheet.lift.load.mass_t
checks = [limit_check("weight", "Weight of the load", value=weight_kN, limit=LIMIT,
                      quantity="force_kN", reference="toy", remedy="Split the load.")]"""

SHOW = """import matplotlib.pyplot as plt

from liftcalc.lift.calculation import Calculation

fig, ax = plt.subplots(figsize=(3, 2))
ax.plot([0, 1], [0, weight_kN])
ax.set_xlabel("x")
sheet.figure(fig, "weight", "Weight")
calc = Calculation()
calc.section(None, "Weight")
calc.given("m", "load mass", sheet.lift.load.mass_t, "t", "lift list")
calc.step("W", "weight", f"m * {G_M_S2}", "kN", "definition", value=weight_kN, tolerance=1e-4)
sheet.calculation(calc)
sheet.check_table(checks)
sheet.verdict_block(checks)
sheet.cautions()"""

CONCLUDE = """sheet.conclude(checks, {"weight_kN": weight_kN, "sum_kN": before + weight_kN,
                        "list": [weight_kN, 2 * weight_kN], "word": "toy"});"""


def toy_notebook(name: str, limit: str = "60.0", extra: str = "") -> nbformat.NotebookNode:
    """A notebook of the same shape as the real templates."""
    v4 = nbformat.v4
    cells = [
        v4.new_markdown_cell(f"# Toy {name}\n\nWith *text*, `code` and a list:\n\n- one\n- two"),
        v4.new_code_cell(PARAMETERS, metadata={"tags": ["parameters"]}),
        v4.new_code_cell(BEGIN.format(name=name)),
        v4.new_code_cell(CALCULATE.replace("LIMIT", limit)),
        *([v4.new_code_cell(extra)] if extra else []),
        v4.new_code_cell(SHOW),
        v4.new_code_cell(CONCLUDE),
    ]
    for number, cell in enumerate(cells):
        cell["id"] = f"cell-{number}"
    notebook = v4.new_notebook(cells=cells)
    notebook.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
    notebook.metadata["language_info"] = {"name": "python"}
    return notebook


@pytest.fixture(autouse=True, scope="session")
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What the register remembers stays out of the user's own cache folder."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="session")
def toy_templates(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with toy templates named like the real ones."""
    folder = tmp_path_factory.mktemp("templates")
    for name in resources.CHAIN:
        nbformat.write(toy_notebook(name), folder / f"{name}.ipynb")
    return folder


@pytest.fixture(scope="session")
def toy_job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo job without its charts, read from its own folder."""
    folder = tmp_path_factory.mktemp("job")
    source = resources.demo_job_path()
    job = yaml.safe_load(source.read_text(encoding="utf-8"))
    job["charts"] = []
    for field, value in job.items():
        if isinstance(value, str) and (source.parent / value).is_file():
            job[field] = str(source.parent / value)
        elif isinstance(value, list):
            job[field] = [str(source.parent / e) if isinstance(e, str) else e for e in value]
    path = folder / "job.yaml"
    path.write_text(yaml.safe_dump(job, sort_keys=False), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def toy() -> Callable[..., nbformat.NotebookNode]:
    """Builder of toy notebooks."""
    return toy_notebook


@pytest.fixture(scope="session")
def made_chain(tmp_path_factory: pytest.TempPathFactory, toy_templates: Path, toy_job: Path) -> tuple[Path, ...]:
    """Two records of one lift, the second built on the first; not to be changed."""
    archive = tmp_path_factory.mktemp("made")
    folders: list[Path] = []
    for template in resources.CHAIN[:2]:
        order = SheetOrder(
            template, job=str(toy_job), lift="L2", parent=str(folders[-1]) if folders else "", prepared_by="A. Person"
        )
        made = make_record(order, archive, templates=toy_templates, pdf=True)
        folders.append(made.folder)
    return tuple(folders)


@pytest.fixture
def copied(made_chain: tuple[Path, ...], archive: Path) -> Path:
    """A writable copy of the second record, without its parent at hand."""
    target = archive / made_chain[1].name
    shutil.copytree(made_chain[1], target)
    unlock(target)
    return target


@pytest.fixture
def forge() -> Callable[..., Manifest]:
    """Change files of a record and seal it anew, as a forger without a key would."""

    def _forge(folder: Path, files: dict[str, bytes] | None = None, **fields: Any) -> Manifest:
        plain = Manifest.model_validate_json((folder / MANIFEST_NAME).read_bytes())
        entries = dict(plain.files)
        for name, data in (files or {}).items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(data)
            entries[name] = FileEntry(sha256=sha256_hex(data), size=len(data))
        given = {name: getattr(plain, name) for name in Manifest.model_fields}
        for name in ("schema_", "chain_sha256", "manifest_sha256"):
            given.pop(name)
        given["files"] = entries
        if plain.kind == "sheet":
            given["run_key"] = run_key_of(
                template=fields.get("template_sha256", plain.template_sha256),
                inputs=entries["inputs.json"].sha256,
                version=plain.versions["liftcalc"],
                code=fields.get("code_sha256", plain.code_sha256),
            )
        sealed = seal(**{**given, **fields})
        (folder / MANIFEST_NAME).write_bytes(manifest_bytes(sealed))
        return sealed

    return _forge


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Path]:
    """An empty archive; made writable again afterwards so that it can be removed."""
    folder = tmp_path / "archive"
    folder.mkdir()
    yield folder
    for path in [folder, *folder.rglob("*")]:
        if not path.is_symlink() and path.is_dir():
            path.chmod(0o755)
    shutil.rmtree(folder, ignore_errors=True)
