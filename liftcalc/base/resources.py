"""Where the templates, notebooks and shared data are: in a checkout or inside the wheel.

A template is identified by its cells' kinds, sources and tags. Stored outputs and execution
counts do not belong to it, so that running it by hand does not make another template of it.
"""

import functools
import hashlib
import json
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from liftcalc.base.errors import InputError
from liftcalc.base.files import writing

CHAIN: tuple[str, ...] = ("site_survey", "leg_layout", "lift_check", "ground_pressure", "lift_plan")
"""The templates in the order in which one lift passes through them."""

PARENT_OF: dict[str, str] = {**dict(zip(CHAIN[1:], CHAIN[:-1], strict=True)), "as_set_up": "lift_plan"}
"""Which sheet each sheet builds on."""

SHEET_TITLES: dict[str, str] = {
    "site_survey": "Site survey",
    "leg_layout": "Leg layout",
    "lift_check": "Lift check",
    "ground_pressure": "Ground pressure",
    "lift_plan": "Lift plan",
    "as_set_up": "As set up",
    "where_to_stand": "Crane position search",
}

WHOLE_JOB: frozenset[str] = frozenset({"where_to_stand"})
"""Sheets that look at every lift of the job, not only at one; they stand outside the chain."""

_PACKAGE = Path(__file__).resolve().parents[1]


def data_dir() -> Path:
    """Folder that holds ``templates``, ``notebooks`` and ``shared``."""
    installed = _PACKAGE / "_data"
    return installed if installed.is_dir() else _PACKAGE.parent


def templates_dir() -> Path:
    """Folder of the templates."""
    return data_dir() / "templates"


def notebooks_dir() -> Path:
    """Folder of the interactive notebooks."""
    return data_dir() / "notebooks"


def shared_dir() -> Path:
    """Folder of the demo job, machines, charts and other data that travel with the package."""
    return data_dir() / "shared"


def demo_job_path() -> Path:
    """The demo job (invented)."""
    return shared_dir() / "demo" / "job.yaml"


def template_names(folder: Path | None = None) -> tuple[str, ...]:
    """Names of the templates found, those of the chain first and in its order."""
    names = {p.stem for p in (folder or templates_dir()).glob("*.ipynb")}
    known = [name for name in CHAIN if name in names]
    return (*known, *sorted(names - set(known)))


def template_path(name: str, folder: Path | None = None) -> Path:
    """File of the template *name*; :class:`InputError` names the known ones."""
    names = template_names(folder)
    if name not in names:
        raise InputError.of("template", name, ", ".join(names) or "none is installed")
    return (folder or templates_dir()) / f"{name}.ipynb"


def _text(source: object) -> str:
    return "".join(source) if isinstance(source, list) else str(source)


def source_hash(notebook: Mapping[str, Any]) -> str:
    """SHA-256 over what a notebook does: kinds, sources and tags of its cells, in order.

    The cell that papermill injects is left out, so that an executed notebook and
    its template have the same hash exactly when no code was altered.
    """
    digest = hashlib.sha256()
    for cell in notebook.get("cells", []):
        tags = sorted(str(t) for t in cell.get("metadata", {}).get("tags", []))
        if "injected-parameters" in tags:
            continue
        part = [cell.get("cell_type"), _text(cell.get("source", "")), tags]
        digest.update(json.dumps(part, ensure_ascii=True).encode())
        digest.update(b"\x00")
    return digest.hexdigest()


def template_hash(name: str, folder: Path | None = None) -> str:
    """SHA-256 that identifies the installed template *name*."""
    path = template_path(name, folder)
    try:
        return source_hash(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, AttributeError) as error:
        raise InputError.of("template", str(path), f"a readable notebook ({error})") from None


_SOURCES = (".py", ".csv", ".html", ".css", ".typ")
"""Endings of the files that make numbers, pages and print."""


def sources_hash(files: Mapping[str, bytes]) -> str:
    """SHA-256 over the sources among *files*, named as within the package."""
    digest = hashlib.sha256()
    for name in sorted(files, key=lambda name: name.split("/")):
        # What lies in _data is the wheel's; a checkout has it elsewhere.
        if name.endswith(_SOURCES) and not name.startswith("_data/"):
            digest.update(name.encode() + b"\x00")
            digest.update(files[name].replace(b"\r\n", b"\n") + b"\x00")
    return digest.hexdigest()


@functools.cache
def code_hash() -> str:
    """SHA-256 over every source of the package: names the code that calculated and drew."""
    paths = [p for p in _PACKAGE.rglob("*.*") if p.suffix in _SOURCES]
    return sources_hash({p.relative_to(_PACKAGE).as_posix(): p.read_bytes() for p in paths})


def lay_out_notebooks(folder: Path) -> None:
    """Copy notebooks and templates into a folder; files that are there already are left alone."""
    with writing("dir", folder):
        for source in (notebooks_dir(), templates_dir()):
            for path in sorted(source.glob("*.ipynb")):
                target = folder / source.name / path.name
                target.parent.mkdir(parents=True, exist_ok=True)
                if not target.exists():
                    shutil.copyfile(path, target)
