"""Compare what two archives' sheets calculated, record by record, within a stated tolerance.

    python tests/same_archives.py BEFORE AFTER [--relative 1e-12]

Records are paired by job, lift, template and revision. Every number of ``results.json`` must agree;
checks are paired by their id. What only AFTER has is listed as added; all else that differs (a
number, a verdict, a row that is gone) fails. Words are compared too, and listed apart. Nothing of
the package is used, so that both archives may come from any commit of it.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import Any

NAMES = ("job", "lift", "template", "revision")
LEAVE_OUT = {"parent"}  # pins a manifest, which holds the time


def records(archive: Path) -> dict[str, dict[str, Any]]:
    """Results of every record in an archive by what it is of."""
    found = {}
    for path in sorted(archive.rglob("manifest.json")):
        manifest = json.loads(path.read_text(encoding="utf-8"))
        results = json.loads((path.parent / "results.json").read_text(encoding="utf-8"))
        name = " / ".join(str(manifest.get(key, "")) for key in NAMES)
        found[name] = {k: v for k, v in results.items() if k not in LEAVE_OUT}
    return found


def flat(value: Any, where: str = "") -> dict[str, Any]:
    """Leaves of a JSON value by their path; rows that carry an id are named by it."""
    if isinstance(value, dict):
        return {k: v for key, part in value.items() for k, v in flat(part, f"{where}.{key}").items()}
    if isinstance(value, list):
        ids = [part.get("id") if isinstance(part, dict) else None for part in value]
        named = None not in ids and len(set(ids)) == len(ids)
        keys = ids if named else range(len(value))
        return {k: v for key, part in zip(keys, value, strict=True) for k, v in flat(part, f"{where}[{key}]").items()}
    return {where: value}


def agree(a: Any, b: Any, relative: float) -> bool:
    """Equal, or two numbers within the tolerance."""
    plain = all(isinstance(x, int | float) and not isinstance(x, bool) for x in (a, b))
    return math.isclose(a, b, rel_tol=relative, abs_tol=relative) if plain else a == b


def main() -> int:
    """Print the differences; 0 when no number and no row is lost or changed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("before", type=Path)
    parser.add_argument("after", type=Path)
    parser.add_argument("--relative", type=float, default=1e-12)
    args = parser.parse_args()
    before, after = records(args.before), records(args.after)
    changed = [f"record gone: {name}" for name in sorted(set(before) - set(after))]
    words, added, numbers = [], [], 0
    for name in sorted(set(before) & set(after)):
        old, new = flat(before[name]), flat(after[name])
        added += [f"{name}{path}" for path in new if path not in old]
        for path, value in old.items():
            text = isinstance(value, str) and isinstance(new.get(path), str)
            numbers += isinstance(value, int | float) and not isinstance(value, bool)
            if path not in new:
                changed.append(f"{name}{path}: {value!r} -> not there")
            elif not agree(value, new[path], args.relative):
                (words if text else changed).append(f"{name}{path}: {value!r} -> {new[path]!r}")
    for title, lines in (("changed", changed), ("words", words), ("added", added)):
        for line in lines:
            print(f"{title}: {line}")
    print(
        f"{len(set(before) & set(after))} records, {numbers} numbers: {len(changed)} changed, "
        f"{len(words)} words changed, {len(added)} values added"
    )
    return bool(changed) or not numbers


if __name__ == "__main__":
    sys.exit(main())
