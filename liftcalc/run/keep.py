"""Keeping the packages that records were made with: a wheel of each, once, beside the archive.

A wheel is packed again from what is installed, by the list of files that the installer left with
their hashes; nothing is fetched. liftcalc itself may run from its own folder.

Sources: PyPA specifications of wheels and of installed projects (from memory).
"""

import base64
import csv
import hashlib
import importlib.metadata
import io
import os
import sys
import sysconfig
import tempfile
import zipfile
from pathlib import Path

import liftcalc
from liftcalc.base import resources
from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.strict_json import sha256_hex
from liftcalc.base.text import CAUTION_LINE
from liftcalc.records.archive import make_read_only
from liftcalc.records.environment import environment_text, packages_of
from liftcalc.records.manifest import PART_PREFIX

ENVIRONMENTS = "environments"
LOCK = "requirements.lock"
NOT_PACKED = ("INSTALLER", "RECORD", "REQUESTED", "direct_url.json")
_SKIPPED = ("__pycache__", ".ipynb_checkpoints")
_README = """Packages that records of this archive were made with
====================================================

{caution}

environment.txt    name and version of each package; a record names it by its SHA-256:
                   {sha256}
wheels/            an installable file of each package
requirements.lock  the SHA-256 of each of these files

    liftcalc recheck --environment ARCHIVE RECORD

makes a record again with these packages, without a network, and compares every file.

Python {python} for {platform} is needed and is not kept here: keep an installer, a container or a
machine with it. A later patch of the same Python may do; records made again then name it.

What lies in wheels/ is what runs. Whoever can write here decides that: keep this folder as you keep
the records, and compare requirements.lock with a copy kept elsewhere. The re-check looks whether
liftcalc itself is a published release; it cannot know the others.
"""
Members = dict[str, tuple[bytes, bool]]
"""Content of a wheel by name, and whether a file may be executed."""


def keep_environment(archive: Path, *, release: Path | None = None) -> Path:
    """Lay the running environment beside the records of *archive*; one that is there must be it.

    release: A wheel of another release of liftcalc, to be kept in place of the running one.
    Raises: :class:`InputError` naming every package that is not as it was installed.
    """
    packages = packages_of(environment_text())
    if release is not None:
        packages["liftcalc"] = release.name.split("-")[1]
    text = "".join(f"{name}=={version}\n" for name, version in packages.items()).encode()
    target = archive / ENVIRONMENTS / sha256_hex(text)
    target.parent.mkdir(parents=True, exist_ok=True)
    about = {"python": packages.pop("python"), "platform": packages.pop("platform")}
    with tempfile.TemporaryDirectory(prefix=PART_PREFIX, dir=target.parent) as scratch:
        part = Path(scratch) / target.name
        (part / "wheels").mkdir(parents=True)
        lines, problems = [], []
        for name, version in packages.items():
            try:
                if name == "liftcalc" and release is not None:
                    file, wheel = release.name, release.read_bytes()
                else:
                    installed = importlib.metadata.distribution(name)
                    file, wheel = _packed(installed, _own() if name == "liftcalc" else None)
            except RecordError as error:
                problems.append(f"{name} {version}: {error}")
                continue
            (part / "wheels" / file).write_bytes(wheel)
            lines.append(f"{name}=={version} --hash=sha256:{sha256_hex(wheel)}\n")
        if problems:
            raise InputError.of("", None, "Cannot be kept: " + "; ".join(problems))
        readme = _README.format(caution=CAUTION_LINE, sha256=target.name, **about)
        laid = {"environment.txt": text.decode(), LOCK: "".join(lines), "README.txt": readme}
        for file, content in laid.items():
            (part / file).write_text(content, encoding="utf-8", newline="\n")
        if os.path.lexists(target):
            if odd := sorted(_contents(part).items() ^ _contents(target).items()):
                allowed = f"the packages that run here; {odd[0][0]} is another"
                remedy = "Another installation laid it there: find out by whom, or move it away."
                raise InputError.of("archive", str(target), allowed, remedy)
            return target
        part.rename(target)
    make_read_only(target)
    return target


def _contents(folder: Path) -> dict[str, str]:
    """SHA-256 of every file below a folder, empty of what is none."""
    files = {p.relative_to(folder).as_posix(): p for p in folder.rglob("*") if not p.is_dir()}
    plain = {n for n, p in files.items() if p.is_file() and not p.is_symlink()}
    return {n: sha256_hex(p.read_bytes()) if n in plain else "" for n, p in files.items()}


def _own() -> Members | None:
    """What belongs to liftcalc where it runs from its own folder, else None."""
    package = Path(liftcalc.__file__).parent
    installed = importlib.metadata.distribution("liftcalc")
    if installed.version != liftcalc.__version__:
        raise RecordError(f"it is installed as {installed.version}; install it again")
    if Path(str(installed.locate_file("liftcalc/__init__.py"))) == package / "__init__.py":
        return None
    roots = {package: "liftcalc"}
    if resources.data_dir() == package.parent:
        folders = (resources.templates_dir(), resources.shared_dir(), resources.notebooks_dir())
        roots |= {folder: f"liftcalc/_data/{folder.name}" for folder in folders}
    return {
        f"{prefix}/{path.relative_to(root).as_posix()}": (path.read_bytes(), False)
        for root, prefix in roots.items()
        for path in root.rglob("*")
        if path.is_file() and not set(_SKIPPED) & set(path.parts)
    }


def _packed(installed: importlib.metadata.Distribution, own: Members | None) -> tuple[str, bytes]:
    """The wheel of an installed distribution; *own*: its files where they are not installed."""
    files = [f for f in installed.files or () if f.suffix != ".pyc" and f.name not in NOT_PACKED]
    # Other libraries that read this list leave out what is not there.
    listed = {row[0] for row in csv.reader((installed.read_text("RECORD") or "").splitlines())}
    for gone in sorted(listed - {f.as_posix() for f in installed.files or ()}):
        if not gone.endswith(".pyc"):
            raise RecordError(f"{gone} is not as it was installed")
    about = next((f for f in files if f.name == "WHEEL" and f.parent.suffix == ".dist-info"), None)
    if about is None:
        raise RecordError("its installer left no list of files")
    stem = about.parent.stem
    made = {e.name for e in installed.entry_points if e.group.endswith("_scripts")}
    members = dict(own or {})
    for file in files:
        if own is not None and file.parts[0] != about.parent.name:
            continue
        path = Path(os.path.normpath(str(file.locate())))
        data = path.read_bytes() if path.is_file() else b""
        if file.hash is None or file.hash.value != _digest(data, file.hash.mode):
            raise RecordError(f"{file} is not as it was installed")
        name = file.as_posix()
        if ".." in file.parts:
            name = _outside(path, stem)
            if name.startswith(f"{stem}.data/scripts/"):
                if path.stem in made:  # the installer makes it again
                    continue
                if data.startswith(b"#!") and b"python" in data.split(b"\n", 1)[0]:
                    data = b"#!python\n" + data.partition(b"\n")[2]
        members[name] = (data, os.access(path, os.X_OK))
    tags = [w[5:] for w in members[about.as_posix()][0].decode().split("\n") if w[:5] == "Tag: "]
    parts = zip(*(tag.strip().split("-") for tag in tags), strict=True)
    file_name = "-".join([stem, *(".".join(dict.fromkeys(part)) for part in parts)])
    return f"{file_name}.whl", _zipped(members, f"{about.parent.as_posix()}/RECORD")


def _outside(path: Path, stem: str) -> str:
    """Name within the wheel of a file that was not installed among the modules."""
    for root, kind in ((sysconfig.get_path("scripts"), "scripts"), (sys.prefix, "data")):
        if path.is_relative_to(root):
            return f"{stem}.data/{kind}/{path.relative_to(root).as_posix()}"
    raise RecordError(f"{path.name} lies outside of Python's folder")


def _digest(data: bytes, mode: str = "sha256") -> str:
    return base64.urlsafe_b64encode(hashlib.new(mode, data).digest()).decode().strip("=")


def _zipped(members: Members, record: str) -> bytes:
    """The same members give the same bytes."""
    files = sorted(members.items())
    lines = [f'"{name}",sha256={_digest(data)},{len(data)}\n' for name, (data, _) in files]
    listed = "".join([*lines, f"{record},,\n"]).encode()
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, (data, runs) in sorted({**members, record: (listed, False)}.items()):
            info = zipfile.ZipInfo(name)
            info.external_attr = (0o100755 if runs else 0o100644) << 16
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, data)
    return stream.getvalue()
