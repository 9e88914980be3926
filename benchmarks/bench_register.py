"""The register of 50,000 records: ``python benchmarks/bench_register.py [FOLDER]``.

Makes one lift's four records, clones them (other lifts by rewriting inputs and results, revisions
by hard links to the same files with a manifest of their own) and prints time and memory of the
register: nothing remembered, everything remembered, a page deep in the list, CSV, HTML.
``LIFTCALC_BENCH_RECORDS`` sets how many.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from liftcalc.base import resources
from liftcalc.base.strict_json import dumps, sha256_hex
from liftcalc.records.derive import run_key_of
from liftcalc.records.manifest import MANIFEST_NAME, FileEntry, Manifest, ParentLink, manifest_bytes, seal

COUNT = int(os.environ.get("LIFTCALC_BENCH_RECORDS", "50000"))
REVISIONS = 25
SMALL = b"<svg xmlns='http://www.w3.org/2000/svg' width='1pt' height='1pt'/>\n"


def originals(folder: Path) -> list[Path]:
    """The four records of one lift of the demo job, in the order of the chain."""
    order = ["batch", str(resources.demo_job_path()), "--lift", "L1", "--no-pdf"]
    command = [sys.executable, "-m", "liftcalc.cli", *order, "--out", str(folder)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return [next(folder.glob(f"*_{name}_*")) for name in resources.CHAIN]


def thin(record: Path, lift: str, parent: ParentLink | None) -> dict[str, bytes]:
    """Small files of the same names: outputs and drawings left out, another lift and parent."""
    files = {}
    for path in sorted(p for p in record.rglob("*") if p.is_file() and p.name != MANIFEST_NAME):
        data = path.read_bytes()
        if path.suffix == ".ipynb":
            notebook = json.loads(data)
            for cell in notebook["cells"]:
                cell |= {"outputs": []} if cell["cell_type"] == "code" else {}
            data = dumps(notebook)
        elif path.suffix == ".json":
            data = data.replace(b'"L1"', json.dumps(lift).encode())
            if parent and path.name == "inputs.json":
                inputs = json.loads(data)
                inputs["parent"]["link"] = parent.model_dump()
                data = dumps(inputs)
        elif path.suffix in (".svg", ".html"):
            data = SMALL
        files[path.relative_to(record).as_posix()] = data
    return files


def clones(records: list[Path], root: Path) -> Iterator[Path]:
    """Each record again for other lifts, with revisions one upon the other."""
    lift = 0
    while True:
        lift += 1
        parent: ParentLink | None = None
        for record in records:
            plain = Manifest.model_validate_json((record / MANIFEST_NAME).read_bytes())
            given = {name: getattr(plain, name) for name in Manifest.model_fields}
            for name in ("schema_", "chain_sha256", "manifest_sha256"):
                given.pop(name)
            files = thin(record, f"L{lift}", parent)
            key = run_key_of(
                template=plain.template_sha256, inputs=sha256_hex(files["inputs.json"]),
                version=plain.versions["liftcalc"], code=plain.code_sha256,
            )  # fmt: skip
            entries = {n: FileEntry(sha256=sha256_hex(d), size=len(d)) for n, d in files.items()}
            before, first, made = None, None, plain
            for revision in range(REVISIONS):
                utc = f"2026-01-{revision + 1:02}T00:00:00Z"
                when = utc.replace("-", "").replace(":", "")
                name = f"{plain.job}_L{lift}_{plain.template}_A_{when}_{lift:04}{revision:04}"
                link = made.link if revision else None
                made = seal(**given | {
                    "record": name, "lift": f"L{lift}", "prepared_utc": utc, "files": entries,
                    "revises": (link,) if link else (), "run_key": key,
                    "parents": (parent,) if parent else (),
                })  # fmt: skip
                folder = root / name
                for own in files:
                    path = folder / own
                    path.parent.mkdir(parents=True, exist_ok=True)
                    if before is None:
                        path.write_bytes(files[own])
                    else:
                        os.link(before / own, path)
                (folder / MANIFEST_NAME).write_bytes(manifest_bytes(made))
                before = first = first or folder
                yield folder
            parent = made.parent_link


def timed(what: str, arguments: list[str], cache: Path) -> None:
    """Print how long the command took, what it took at most, and its last words."""
    environment = {**os.environ, "XDG_CACHE_HOME": str(cache)}
    program = [sys.executable, "-m", "liftcalc.cli", "register", *arguments]
    started = time.monotonic()
    with subprocess.Popen(program, stdout=subprocess.PIPE, env=environment, text=True) as process:
        assert process.stdout is not None
        words = process.stdout.read().splitlines()
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    seconds = time.monotonic() - started
    said = next(line for line in reversed(words) if line.endswith("records."))
    print(f"{what:28} {seconds:7.2f} s {usage.ru_maxrss / 1024:6.0f} MB  exit {process.returncode}")
    print(f"{'':28} {said}", flush=True)


def main() -> None:
    """Make the records and time the register."""
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if sys.argv[1:] else None) as name:
        work = Path(name)
        records, root, cache = originals(work / "one"), work / "archive", work / "cache"
        started = time.monotonic()
        for number, _ in enumerate(clones(records, root), start=1):
            if number >= COUNT:
                break
        print(f"{COUNT} records made in {time.monotonic() - started:.0f} s", flush=True)
        time.sleep(2.5)  # what was changed just now is not remembered
        at = str(root)
        timed("nothing remembered", [at], cache)
        timed("everything remembered", [at], cache)
        timed("the same again", [at], cache)
        timed("page 9 of one sheet", [at, "--template", "lift_check", "--page", "9"], cache)
        timed("with CSV", [at, "--csv", str(work / "r.csv")], cache)
        timed("with HTML", [at, "--html", str(work / "r.html")], cache)


if __name__ == "__main__":
    main()
