"""Making a record again with the packages that were kept for it, without a network.

Nothing of the record is executed: the code that runs is that of the kept environment, and whoever
lays wheels there decides what runs. liftcalc itself must be what the record or a published release
names; every other wheel must be the one that the lock names.
"""

import io
import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path

import platformdirs
from filelock import FileLock

from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.files import read_regular
from liftcalc.base.resources import source_hash, sources_hash
from liftcalc.base.strict_json import dumps, loads, sha256_hex
from liftcalc.records.check_record import CheckOutcome
from liftcalc.records.compare import Tolerance, compare
from liftcalc.records.environment import packages_of, published, versions_of
from liftcalc.records.manifest import Manifest
from liftcalc.records.verify import Verified, require_record
from liftcalc.run.keep import ENVIRONMENTS, LOCK

_LOCKED = re.compile(r"([a-z0-9-]+)==([^ ]+) --hash=sha256:([0-9a-f]{64})")
_MAKE = """
import json, sys
from pathlib import Path
from liftcalc.records.manifest import Link
from liftcalc.run import make
with open(sys.argv[1], encoding="utf-8") as file:
    order = json.load(file)
make.utc_now = lambda: order["prepared_utc"]
make.record_name = lambda *parts: order["record"]
links = tuple(Link(**link) for link in order["revises"])
several = isinstance(make.SheetOrder.revises, tuple)
revises = links if several else links[0] if links else None
sheet = make.SheetOrder(**order["sheet"], revises=revises)
make.make_record(sheet, Path(order["out"]), pdf=order["pdf"], timeout_s=order["timeout_s"])
"""


@dataclass(frozen=True)
class KeptPackages:
    """An environment found for a record: where it lies, its packages and its lock."""

    folder: Path
    packages: dict[str, str]
    lock: dict[str, str]
    """SHA-256 of each wheel by ``name==version``."""
    lock_sha256: str
    is_release: bool
    """Whether code and template of its liftcalc are those of a published release."""


def compare_kept(
    verified: Verified, manifest: Manifest, environment: Path, outcome: CheckOutcome, *,
    tolerance: Tolerance, timeout_s: float | None,
) -> None:  # fmt: skip
    """Re-check a record with the packages kept for it: every file must be the same, byte for byte.

    environment: The archive beside which they were kept, or the folder of one environment.
    """
    kept = find_kept(environment, manifest)
    version = kept.packages["liftcalc"]
    with tempfile.TemporaryDirectory(prefix="liftcalc-check-") as scratch:
        made = require_record(made_again(kept, verified, manifest, Path(scratch), timeout_s))
    differences, outcome.numbers_compared = compare(verified.json("results.json"), made.json("results.json"), tolerance)
    outcome.differences += differences
    assert made.manifest is not None
    # The patch of Python is not kept: it is named in the record made here, and so in its PDF.
    same_python = made.manifest.versions["python"] == manifest.versions.get("python")
    told = outcome.findings if same_python else outcome.unverified
    for name in sorted({*verified.content, *made.content}):
        if verified.content.get(name) != made.content.get(name):
            told.append(f"{name}: is not what the kept packages give")
    if made.manifest != manifest:
        told.append("manifest.json: is not what the kept packages give")
    if not kept.is_release:
        outcome.unverified.append(f"the kept liftcalc {version} is not a published release")
    outcome.notes.append(
        f"made again with liftcalc {version} and the packages kept in {kept.folder.name}, which "
        f"whoever laid them there answers for; {LOCK} has the SHA-256 {kept.lock_sha256}"
    )


def made_again(
    kept: KeptPackages, verified: Verified, manifest: Manifest, scratch: Path, timeout_s: float | None
) -> Path:
    """Make a record again under its own name and time, in a folder of ours; returns its folder."""
    python = _installed(kept)
    inputs, order, out = scratch / "inputs.json", scratch / "order.json", scratch / "out"
    inputs.write_bytes(verified.content["inputs.json"])
    given = verified.json("inputs.json")["parameters"]
    names = ("lift", "units", "revision", "prepared_by")
    sheet = {"template": manifest.template, "job": str(inputs), **{n: given[n] for n in names}}
    plain = manifest.model_dump(mode="json", include={"record", "prepared_utc", "revises"})
    plain |= {"sheet": sheet, "out": str(out), "pdf": "sheet.pdf" in manifest.files}
    order.write_bytes(dumps({**plain, "timeout_s": timeout_s}))
    _run([str(python), "-I", "-c", _MAKE, str(order)], scratch, python.parents[1] / "home")
    return out / manifest.record


def find_kept(environment: Path, manifest: Manifest) -> KeptPackages:
    """The environment of a record, its lock read and its liftcalc known by its hashes."""
    one = (environment / "environment.txt").is_file()
    folders = [environment] if one else sorted((environment / ENVIRONMENTS).glob("[0-9a-f]*"))
    texts = {folder: read_regular(folder / "environment.txt", 100_000) for folder in folders}
    if manifest.environment_sha256:
        found = [f for f in folders if sha256_hex(texts[f]) == manifest.environment_sha256]
    else:  # the first form of a record names versions only
        same = ("liftcalc",) if one else tuple(manifest.versions)
        wanted = {name: manifest.versions.get(name) for name in same}
        found = [f for f in folders if wanted.items() <= versions_of(texts[f]).items()]
    if len(found) != 1:
        name = manifest.environment_sha256 or f"liftcalc {manifest.versions.get('liftcalc')}"
        many = f"{len(found)} environments" if found else "no environment"
        raise RecordError(f"{many} kept in {environment} for this record ({name})")
    packages = packages_of(texts[found[0]])
    lock_text = read_regular(found[0] / LOCK, 1_000_000)
    lines = lock_text.decode("utf-8", "replace").splitlines()
    parts = [_LOCKED.fullmatch(line) for line in lines]
    lock = {f"{match[1]}=={match[2]}": match[3] for match in parts if match}
    listed = {f"{n}=={v}" for n, v in packages.items() if n not in ("python", "platform")}
    if len(lock) != len(lines) or set(lock) != listed:
        raise RecordError(f"{LOCK} does not name each package of environment.txt with its hash")
    known = _known(found[0], packages["liftcalc"], lock, manifest)
    return KeptPackages(found[0], packages, lock, sha256_hex(lock_text), known)


def _known(folder: Path, version: str, lock: dict[str, str], manifest: Manifest) -> bool:
    """Whether the kept liftcalc is a release; refused unless that or what the record names."""
    (wheel,) = [*(folder / "wheels").glob(f"liftcalc-{version}-*.whl")][:1] or [folder / "none"]
    data = read_regular(wheel, 50_000_000)
    if sha256_hex(data) != lock[f"liftcalc=={version}"]:
        raise RecordError(f"{wheel.name} is not the file that {LOCK} names")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            content = _content(archive, version)
            called = archive.read(f"liftcalc-{version}.dist-info/entry_points.txt")
    except (zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, LookupError) as error:
        raise RecordError(f"{wheel.name} cannot be read ({error})") from None
    code, sheet = sources_hash(content), f"_data/templates/{manifest.template}.ipynb"
    notebook = loads(content.get(sheet, b"{}"), sheet)
    template = source_hash(notebook)
    unhashed = b"injected-parameters" in dumps(notebook)  # cells that the hash leaves out
    ours = re.compile(rb"liftcalc\.(?!_data)[\w.]+:\w+\r?")
    if unhashed or not all(map(ours.fullmatch, re.findall(rb"=\s*(.*)", called))):
        raise RecordError(f"{wheel.name} holds code that no release has: it is not run")
    if published(version, manifest.template, template, code):
        return True
    if (code, template) != (manifest.code_sha256, manifest.template_sha256):
        raise RecordError(
            f"the liftcalc {version} kept in {folder.name[:16]} is neither a published release nor "
            "what the record names: it is not run"
        )
    return False


def _content(archive: zipfile.ZipFile, version: str) -> dict[str, bytes]:
    """Files of liftcalc in its wheel; what could run in their place is refused."""
    names, about = archive.namelist(), f"liftcalc-{version}.dist-info/"
    if sum(info.file_size for info in archive.infolist()) > 200_000_000 or len(names) > 5000:
        raise RecordError("the wheel of liftcalc is larger than it ever was")
    for name in names:
        odd = not name.startswith(("liftcalc/", about)) or "//" in name or ".." in name
        # The hash of the sources leaves out what lies in _data: nothing there may be imported.
        inside, last = name.startswith("liftcalc/_data/"), name.rpartition("/")[2]
        odd |= inside and (last == "__init__.py" or (last[-3:] == ".py" and "/shared/" not in name))
        if odd or name.endswith((".so", ".pyd", ".pyc", ".pth")) or names.count(name) > 1:
            raise RecordError(f"the wheel of liftcalc holds {name[:120]!r}, which is none of it")
    return {name.removeprefix("liftcalc/"): archive.read(name) for name in names}


def _python(version: str) -> str:
    """A Python of the same minor version."""
    minor = version.rpartition(".")[0]
    for name in (sys.executable, f"python{minor}"):
        path = shutil.which(name)
        ask = [path or name, "-I", "-c", "import platform; print(platform.python_version())"]
        if path and subprocess.run(ask, capture_output=True, text=True).stdout.startswith(f"{minor}."):
            return path
    needed = f"These packages need Python {minor}, and no python{minor} is found here"
    remedy = "Install it, or re-check on a machine or in a container that has it."
    raise InputError.of("", None, needed, remedy)


def _installed(kept: KeptPackages) -> Path:
    """Python of a virtual environment with exactly the kept packages; built once, then reused."""
    here = f"{platform.system()} {platform.machine()}"
    if kept.packages["platform"] != here:
        raise RecordError(f"its packages are for {kept.packages['platform']}; here is {here}")
    base = _python(kept.packages["python"])
    text = "".join(f"{name} --hash=sha256:{kept.lock[name]}\n" for name in sorted(kept.lock))
    place = platformdirs.user_cache_path("liftcalc") / ENVIRONMENTS / sha256_hex(text.encode())[:32]
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    python = place / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    done, lock = place / "home" / LOCK, place / LOCK
    with FileLock(place.with_suffix(".lock")):
        if done.is_file():
            return python
        shutil.rmtree(place, ignore_errors=True)
        _run([base, "-I", "-m", "venv", str(place)], place.parent, place.parent)
        lock.write_text(text, encoding="utf-8", newline="\n")
        _run(
            [str(python), "-I", "-m", "pip", "--isolated", "--disable-pip-version-check", "install",
             "-q", "--no-index", "--no-deps", "--require-hashes", "--no-compile", "--find-links",
             str((kept.folder / "wheels").absolute()), "-r", str(lock)], place, place,
        )  # fmt: skip
        done.parent.mkdir()
        lock.rename(done)
    return python


def _run(command: list[str], folder: Path, home: Path) -> None:
    """Run a command with nothing of our surroundings: no settings, no start-up files, no proxy."""
    kept = {n: os.environ[n] for n in ("PATH", "TMPDIR", "SYSTEMROOT", "TEMP") if n in os.environ}
    surroundings = {**kept, "HOME": str(home), "USERPROFILE": str(home), "LANG": "C.UTF-8"}
    ran = subprocess.run(
        command, cwd=folder, env=surroundings, capture_output=True, check=False, text=True, errors="replace"
    )
    if ran.returncode:
        lines = [line for line in (ran.stderr or ran.stdout).splitlines() if line.strip()]
        last = "".join(c if c.isprintable() else "?" for c in "; ".join(lines[-2:]))
        raise RecordError(f"the kept packages do not make it again: {last[:500]}")
