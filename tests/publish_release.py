"""Write the hashes of this version's code and templates into ``shared/releases.json``.

Run once, when nothing in ``liftcalc/`` or ``templates/`` will change any more::

    python tests/publish_release.py 2026-12-01 [ARCHIVE]

ARCHIVE, a folder of records that this version has just made, becomes the release's golden archive
under ``tests/golden/``. A version that was published is never published again with other hashes.
"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

from golden.archives import ROOT, pack

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.strict_json import dumps, loads


def entry(day: str) -> dict[str, object]:
    """What is published of the version that runs."""
    names = sorted(resources.SHEET_TITLES)
    return {
        "code_sha256": resources.code_hash(),
        "date": date.fromisoformat(day).isoformat(),
        "templates": {name: resources.template_hash(name) for name in names},
    }


def publish(path: Path, version: str, new: dict[str, object]) -> None:
    """Add an entry to the file; the same again changes nothing, another one is refused."""
    known = loads(path.read_bytes(), path.name) if path.exists() else {}
    old = known.get(version, new)
    if {**old, "date": ""} != {**new, "date": ""}:
        raise SystemExit(f"{version} is published with other hashes: give this one a new number")
    path.write_bytes(dumps({**known, version: old}))


if __name__ == "__main__":
    publish(resources.shared_dir() / "releases.json", __version__, entry(sys.argv[1]))
    if len(sys.argv) > 2:
        (ROOT / __version__).mkdir(exist_ok=True)
        pack(Path(sys.argv[2]), ROOT / __version__ / "records.tar.xz")
