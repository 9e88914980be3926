"""Published releases: the hashes of code and templates by which the code of a record is known."""

import functools
from typing import Any

from liftcalc.base.resources import shared_dir
from liftcalc.base.strict_json import loads


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
