"""An archive handed over: a BagIt bag whose payload is an RO-Crate, as archivists' tools read it.

The payload holds the records, what lies beside them (signatures, log, environments, summaries) and
``ro-crate-metadata.json``, derived from the manifests: which sheet was made by whom, when, with
which program, from which inputs. Re-check, register and PDF take the bag like any other folder.

Sources: BagIt, RFC 8493; RO-Crate 1.1 (w3id.org/ro/crate/1.1) with Process Run Crate 0.5.
"""

import contextlib
import hashlib
import os
import re
import shutil
from collections.abc import Collection, Iterable, Iterator
from pathlib import Path
from typing import Any

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.strict_json import dumps, sha256_hex
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.archive import Staging
from liftcalc.records.believed import record_folders
from liftcalc.records.log import LOG_NAME, missing, read_log
from liftcalc.records.manifest import utc_now
from liftcalc.records.verify import Verified, verify_record

_CRATE = "https://w3id.org/ro/crate/1.1"
_PROFILE = "https://w3id.org/ro/wfrun/process/0.5"
_PLAIN_PATH = re.compile(r"[\w.-]+(/[\w.-]+)*", re.ASCII)
_BESIDE = re.compile(r"log\.jsonl|environments|summary\.(csv|html|xlsx)|[\w.-]+\.pdf", re.ASCII)
"""What of an archive is handed over beside its records; nothing else that may lie there."""
_FORMATS = {
    ".html": "text/html", ".ipynb": "application/x-ipynb+json", ".json": "application/json",
    ".pdf": "application/pdf", ".svg": "image/svg+xml", ".whl": "application/zip",
}  # fmt: skip
_NO_LICENCE = "No licence stated: ask who prepared the records before other use"

Graph = dict[str, dict[str, Any]]
Info = list[tuple[str, str]]


def _files(folder: Path) -> Iterator[str]:
    """Paths of regular files below a folder that any system can hold; links are not followed."""
    for root, folders, names in os.walk(folder):
        folders.sort()
        for path in (Path(root, name) for name in sorted(names)):
            relative = path.relative_to(folder).as_posix()
            if path.is_file() and not path.is_symlink() and _PLAIN_PATH.fullmatch(relative):
                yield relative


def _lay(source: Path, target: Path) -> None:
    """Put a file, or the files of a folder, in the bag; linked if nobody can write it any more."""
    names = _files(source) if source.is_dir() else [""]
    for old, new in ((source / name, target / name) for name in names):
        new.parent.mkdir(parents=True, exist_ok=True)
        if not old.stat().st_mode & 0o222:
            with contextlib.suppress(OSError):
                os.link(old, new)
                continue
        shutil.copy2(old, new)


def _add(graph: Graph, key: str, kind: str, **stated: Any) -> dict[str, str]:
    """Add an entity without its empty fields; returns the reference to it."""
    plain = {k: v[0] if isinstance(v, list) and len(v) == 1 else v for k, v in stated.items() if v}
    graph[key] = {"@id": key, "@type": kind, **plain}
    return {"@id": key}


def _add_files(graph: Graph, data: Path, place: str, **stated: Any) -> list[dict[str, str]]:
    """Add a file, or a folder with every file in it; returns the references to the files."""
    folder = (data / place).is_dir()
    files = [
        _add(
            graph, name, "File", name=name.rpartition("/")[2],
            contentSize=str((data / name).stat().st_size),
            encodingFormat=_FORMATS.get(Path(name).suffix, "text/plain"),
        )
        for name in ([f"{place}/{n}" for n in _files(data / place)] if folder else [place])
    ]  # fmt: skip
    if folder:
        _add(graph, f"{place}/", "Dataset", hasPart=files, **{"name": place, **stated})
    return files


def _add_record(graph: Graph, data: Path, place: str, found: Verified, places: Collection[str]) -> Info:
    """Add a record: files, what it says, by whom and with what made; what bag-info says of it."""
    damage = "; ".join(map(str, found.findings))
    info = [("Damaged-Record", f"{place}: {damage}")] if damage else []
    damage = f"DAMAGED: {damage}. " * bool(damage)
    m = found.manifest
    if m is None:
        _add_files(graph, data, place, description=damage)
        return info
    name = f"{resources.SHEET_TITLES.get(m.template, m.template)}, lift {m.lift}, {m.job}"
    name = f"{'Check of ' * (m.kind == 'check')}{name}, revision {m.revision}"
    said = f"{damage}{m.decision or f'{STATE_WORDS.get(m.verdict, m.verdict)}: {m.governing}'}"
    cautions = f"{CAUTION_LINE}{f' {INVENTED_LINE}' * m.invented}"
    files = _add_files(
        graph, data, place, name=name, identifier=m.manifest_sha256, dateCreated=m.prepared_utc,
        description=f"{said}. {cautions}",
    )  # fmt: skip
    given = {"@id": f"{place}/inputs.json"}
    person = f"#person-{sha256_hex(m.prepared_by.encode())[:16]}"
    before = [f"{Path(place).parent.as_posix()}/{link.record}".removeprefix("./") for link in m.parents]
    _add(
        graph, f"#made-{place}", "CreateAction", name=name, description=said,
        endTime=m.prepared_utc,
        agent=_add(graph, person, "Person", name=m.prepared_by) if m.prepared_by else None,
        instrument=_add(
            graph, f"#liftcalc-{m.code_sha256}", "SoftwareApplication", name="liftcalc",
            softwareVersion=m.versions.get("liftcalc"), identifier=f"code SHA-256 {m.code_sha256}",
        ),
        object=[f for f in files if f == given] + [{"@id": f"{p}/"} for p in before if p in places],
        result=[{"@id": f"{place}/"}, *(f for f in files if f != given)],
    )  # fmt: skip
    info += [("Job", f"{m.job}: {m.job_title}"), *([("Caution", INVENTED_LINE)] if m.invented else [])]
    if found.ok and m.kind == "sheet":
        info.append(("Client", str(found.json("inputs.json")["job"]["client"])))
    return info


def _archives(archive: Path, places: Collection[str]) -> list[Path]:
    """The archive, and the folders in it that hold records."""
    return sorted({archive, *((archive / p).parent for p in places if p != ".")})


def _beside(archive: Path, places: Collection[str]) -> Iterator[tuple[str, str | None]]:
    """What lies beside the records, with the record it is about: "" of none, None if left out."""
    names = {Path(place).name: f"{place}/" for place in places}
    for folder in _archives(archive, places):
        for entry in sorted(folder.iterdir()):
            place = entry.relative_to(archive).as_posix()
            if not (entry.name[0] == "." or any(f"{p}/".startswith(f"{place}/") for p in places)):
                about = names.get(entry.name.rpartition(".")[0], "")
                known = not entry.is_symlink() and (about or _BESIDE.fullmatch(entry.name))
                yield place, about if known else None


def _write_crate(graph: Graph, data: Path, **stated: Any) -> None:
    """Write the payload's description of itself, its root last."""
    profile = _add(graph, _PROFILE, "CreativeWork", name="Process Run Crate", version="0.5")
    parts = [{"@id": k} for k, e in graph.items() if e["@type"] in ("Dataset", "File")]
    actions = [{"@id": k} for k, e in graph.items() if e["@type"] == "CreateAction"]
    _add(graph, "./", "Dataset", datePublished=utc_now(), conformsTo=profile, hasPart=parts, mentions=actions, **stated)
    root = {"about": {"@id": "./"}, "conformsTo": {"@id": _CRATE}}
    _add(graph, "ro-crate-metadata.json", "CreativeWork", **root)
    crate = {"@context": f"{_CRATE}/context", "@graph": list(graph.values())}
    (data / "ro-crate-metadata.json").write_bytes(dumps(crate))


def _hashes(bag: Path, names: Iterable[str]) -> bytes:
    hashes = ((hashlib.sha256((bag / name).read_bytes()).hexdigest(), name) for name in names)
    return "".join(f"{digest}  {name}\n" for digest, name in hashes).encode()


def _write_tags(bag: Path, info: Info) -> None:
    """Write the bag's own files: declaration, bag-info and both lists of hashes."""
    payload = [f"data/{name}" for name in _files(bag / "data")]
    octets = sum((bag / name).stat().st_size for name in payload)
    lines = [*info, ("Payload-Oxum", f"{octets}.{len(payload)}"), ("Bagging-Date", utc_now()[:10])]
    text = "".join(f"{label}: {' '.join(said.split())}\n" for label, said in dict.fromkeys(lines))
    tags = {
        "bag-info.txt": text.encode(),
        "bagit.txt": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
        "manifest-sha256.txt": _hashes(bag, payload),
    }
    for name, data in tags.items():
        (bag / name).write_bytes(data)
    (bag / "tagmanifest-sha256.txt").write_bytes(_hashes(bag, tags))


def hand_over(archive: Path, out: Path, *, damaged: bool = False, licence: str | None = None) -> list[str]:
    """Write a new bag with every record below an archive; returns the lines of its bag-info.

    damaged: hand over damaged records too, each named in bag-info.
    licence: under which the records may be used; None: not stated.
    Raises: *out* exists or lies in the archive; a damaged record, with every finding.
    """
    archive, out = archive.resolve(), out.parent.resolve() / out.name
    places = {Path(p).relative_to(archive).as_posix() for p, _ in record_folders(str(archive))}
    if not places:
        raise InputError.of("archive", str(archive), "a folder that holds records")
    if os.path.lexists(out) or archive in out.parents:
        raise InputError.of("out", str(out), "a new folder outside the archive")
    for place in sorted(places):
        if not _PLAIN_PATH.fullmatch(place):  # its files could not be named in the bag
            allowed = "folders named with letters, digits, dots, _ and - alone"
            raise InputError.of("archive", place, allowed, "Give the folder such a name.")
    graph: Graph = {}
    info = [("Bag-Software-Agent", f"liftcalc {__version__}"), ("Caution", CAUTION_LINE)]
    with Staging(out.parent) as staging:
        data = staging.path / "data"
        for place in sorted(places):
            _lay(archive / place, data / place)
            found = verify_record(data / place)  # what is handed over, not where it came from
            info += _add_record(graph, data, place, found, places)
        broken = [said for label, said in info if label == "Damaged-Record"]
        if broken and not damaged:
            raise RecordError("\n".join([*broken, "Nothing was handed over; see --damaged."]))
        for place, about in _beside(archive, places):
            if about is None:
                info.append(("Left-Out", place))
            else:
                if not about and Path(place).name != LOG_NAME:
                    info.append(("Not-Verified", f"{place}: lies beside the records"))
                _lay(archive / place, data / place)
                _add_files(graph, data, place, about={"@id": about} if about else None)
        days = [e["endTime"] for e in graph.values() if "endTime" in e] or ["date unknown"]
        for folder in _archives(archive, places):
            log = read_log(folder)
            info += [("Log", log.problem)] if log and log.problem else []
            gone = [line.name for line in missing(folder)[0]]
            info += [("Missing", f"{n}: the log names it, and it is not there so") for n in gone]
            out_of_it = log.withdrawn() if log else []
            info += [("Withdrawn", f"{n}: never stood, by the log") for n in out_of_it]
        jobs = ", ".join(sorted({said for label, said in info if label == "Job"}))
        title = f"{len(places)} lift calculation records, {min(days)} to {max(days)}: {jobs}"
        info.insert(0, ("External-Description", title))
        licensed = licence or _NO_LICENCE
        _write_crate(
            graph, data, name=title,
            description=" ".join(dict.fromkeys(s for label, s in info if label == "Caution")),
            license=_add(graph, "#licence", "CreativeWork", name=licensed, description=licensed),
        )  # fmt: skip
        _write_tags(staging.path, info)
        staging.path.rename(out)
    return (out / "bag-info.txt").read_text(encoding="utf-8").splitlines()
