"""The packages a record was made with: ``environment.txt``, what follows from it, and releases.

One ``name==version`` a line, sorted: Python and the platform first, then liftcalc and every
distribution that its installed requirements reach. Tools for tests are not among them.
Source of names and markers: PyPA specifications, read by the library ``packaging``.
"""

import functools
import importlib.metadata
import platform
import re
from collections.abc import Iterator
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from liftcalc import __version__
from liftcalc.base.errors import RecordError
from liftcalc.base.resources import shared_dir
from liftcalc.base.strict_json import loads

_EXTRAS = frozenset({"pdf", "cad", "sign"})
_SHOWN = (
    *("liftcalc", "ipykernel", "matplotlib", "nbclient", "numpy", "pandas"),
    *("papermill", "pydantic", "scipy", "shapely", "typst"),
)
_WORD = r"[A-Za-z0-9][A-Za-z0-9.!+_-]{0,60}"
_LINE = re.compile(rf"([a-z0-9](?:[a-z0-9-]{{0,60}}[a-z0-9])?)==({_WORD}(?: {_WORD})?)")


def _reached(name: str, extras: frozenset[str]) -> Iterator[tuple[str, frozenset[str]]]:
    """Installed distributions that *name*, with these extras, asks for."""
    for line in importlib.metadata.distribution(name).requires or ():
        asked = Requirement(line)
        if asked.marker is None or any(asked.marker.evaluate({"extra": e}) for e in {"", *extras}):
            yield canonicalize_name(asked.name), frozenset(asked.extras)


@functools.cache
def environment_text() -> bytes:
    """Content of ``environment.txt`` for the running environment; the same in every process.

    What an extra asks for and is not installed is left out. Where liftcalc itself is not installed,
    all that is installed is listed.
    """
    versions = {"liftcalc": __version__}
    todo, seen = [("liftcalc", _EXTRAS)], set()
    while todo:
        if (item := todo.pop()) in seen:
            continue
        seen.add(item)
        try:
            todo += _reached(*item)
            versions.setdefault(item[0], importlib.metadata.version(item[0]))
        except importlib.metadata.PackageNotFoundError:
            if item[0] == "liftcalc":
                found = importlib.metadata.distributions()
                todo += [(canonicalize_name(d.metadata["Name"]), frozenset()) for d in found]
    head = [f"python=={platform.python_version()}", f"platform=={platform.system()} {platform.machine()}"]
    lines = [*head, *(f"{name}=={versions[name]}" for name in sorted(versions))]
    return ("\n".join(lines) + "\n").encode()


def packages_of(text: bytes) -> dict[str, str]:
    """Version by name from an ``environment.txt``, which may be hostile; else refused."""
    try:
        lines = text.decode("ascii").removesuffix("\n").split("\n")
    except UnicodeDecodeError:
        lines = [""]
    found = [_LINE.fullmatch(line) for line in lines]
    names = [match[1] for match in found if match]
    in_order = names[:2] == ["python", "platform"] and names[2:] == sorted(set(names[2:]))
    if len(names) != len(lines) or not in_order or not text.endswith(b"\n"):
        raise RecordError("environment.txt: not a sorted list of name==version after the platform")
    return {match[1]: match[2] for match in found if match}


def versions_of(text: bytes) -> dict[str, str]:
    """Versions of Python, the platform and every library a number may depend on, from *text*."""
    packages = packages_of(text)
    return {n: packages.get(n, "not installed") for n in ("python", "platform", *_SHOWN)}


@functools.cache
def releases() -> dict[str, Any]:
    """Releases by version, from ``shared/releases.json``."""
    path = shared_dir() / "releases.json"
    known: dict[str, Any] = loads(path.read_bytes(), path.name) if path.is_file() else {}
    return known


def published(version: str, template: str, template_sha256: str, code_sha256: str) -> bool:
    """Whether a release of this version has this template and this code."""
    release = releases().get(version, {})
    known = (release.get("code_sha256"), release.get("templates", {}).get(template))
    return known == (code_sha256, template_sha256)
