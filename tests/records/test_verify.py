"""Broken and hostile records: each fault is found and named; nothing is executed or followed."""

from __future__ import annotations

import json
import os
import random
import shutil
import socket
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.base.errors import RecordError
from liftcalc.records.manifest import MANIFEST_NAME, Manifest
from liftcalc.records.verify import require_record, verify_record

BYTE_CHANGES = int(os.environ.get("LIFTCALC_BYTE_CHANGES", "1000"))


def _codes(folder: Path) -> set[str]:
    return {finding.code for finding in verify_record(folder).findings}


def test_a_fresh_record_is_whole(made_chain: tuple[Path, ...], copied: Path) -> None:
    assert verify_record(made_chain[0]).ok
    assert verify_record(copied).ok
    names = set(verify_record(copied).content)
    assert {"inputs.json", "results.json", "sheet.ipynb", "sheet.html", "sheet.pdf"} <= names
    assert any(name.startswith("figures/") and name.endswith(".svg") for name in names)


def test_every_single_byte_change_in_any_file_is_found(copied: Path) -> None:
    rng = random.Random(20260501)
    files = sorted(p for p in copied.rglob("*") if p.is_file())
    missed = []
    for number in range(BYTE_CHANGES):
        path = files[number % len(files)]
        data = bytearray(path.read_bytes())
        place = rng.randrange(len(data))
        old = data[place]
        data[place] = rng.choice([b for b in range(256) if b != old])
        path.write_bytes(data)
        if verify_record(copied).ok:
            missed.append((path.name, place))
        data[place] = old
        path.write_bytes(data)
    assert missed == []
    assert verify_record(copied).ok


def test_a_missing_file_is_named(copied: Path) -> None:
    (copied / "results.json").unlink()
    verified = verify_record(copied)
    assert [str(f) for f in verified.findings] == ["results.json: is missing"]


def test_an_extra_file_is_named(copied: Path) -> None:
    (copied / "figures" / "extra.py").write_text("raise SystemExit")
    assert [str(f) for f in verify_record(copied).findings] == ["figures/extra.py: is not listed in the manifest"]


def test_a_longer_and_a_shorter_file_are_named(copied: Path) -> None:
    with (copied / "results.json").open("ab") as stream:
        stream.write(b" ")
    (copied / "inputs.json").write_bytes(b"{}")
    text = " ".join(map(str, verify_record(copied).findings))
    assert "results.json: has" in text
    assert "inputs.json: has 2 bytes; the manifest says" in text


def test_links_are_named_and_not_followed(copied: Path, tmp_path: Path) -> None:
    secret = tmp_path / "secret.json"
    shutil.copyfile(copied / "results.json", secret)
    (copied / "results.json").unlink()
    (copied / "results.json").symlink_to(secret)
    (copied / "more").symlink_to(tmp_path)
    verified = verify_record(copied)
    assert {(f.code, f.file) for f in verified.findings} == {("link", "results.json"), ("link", "more")}
    assert "results.json" not in verified.content


def test_a_record_that_is_a_link_is_refused(made_chain: tuple[Path, ...], tmp_path: Path) -> None:
    link = tmp_path / made_chain[0].name
    link.symlink_to(made_chain[0])
    assert _codes(link) == {"link"}


def test_a_manifest_that_is_a_link_is_refused(copied: Path, tmp_path: Path) -> None:
    target = tmp_path / "m.json"
    shutil.move(copied / MANIFEST_NAME, target)
    (copied / MANIFEST_NAME).symlink_to(target)
    assert "link" in " ".join(str(f) for f in verify_record(copied).findings)
    assert verify_record(copied).manifest is None


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_pipes_and_sockets_are_named_and_not_opened(copied: Path) -> None:
    os.mkfifo(copied / "pipe")
    (copied / "inputs.json").unlink()
    os.mkfifo(copied / "inputs.json")
    here = os.open(".", os.O_RDONLY)
    os.chdir(copied)  # the path of a socket must be short
    try:
        server = socket.socket(socket.AF_UNIX)
        server.bind("door")
    finally:
        os.fchdir(here)
        os.close(here)
    found = {(f.code, f.file) for f in verify_record(copied).findings}
    server.close()
    assert {("special", "pipe"), ("special", "inputs.json"), ("special", "door")} <= found


@pytest.mark.parametrize(
    "path",
    [
        "../../etc/passwd",
        "/etc/passwd",
        "a/../../b",
        "C:/x",
        "..\\x",
        "a//b",
        "./a",
        "a/b/c/d/e",
        "x\x00y",
        ".hidden",
        "é.json",
        "a\n",
        "manifest.json",
    ],
)
def test_a_path_that_leaves_the_record_is_named_and_not_read(copied: Path, path: str) -> None:
    manifest = Manifest.model_validate_json((copied / MANIFEST_NAME).read_bytes())
    entry = manifest.files["results.json"]
    files = {**manifest.files, path: entry}
    _reseal(copied, manifest, files)
    verified = verify_record(copied)
    assert "path" in {f.code for f in verified.findings}
    assert path not in verified.content


def _reseal(folder: Path, manifest: Manifest, files: dict[str, object]) -> None:
    from liftcalc.records.manifest import manifest_bytes, seal

    given = {name: getattr(manifest, name) for name in Manifest.model_fields}
    for name in ("schema_", "chain_sha256", "manifest_sha256"):
        given.pop(name)
    sealed = seal(**{**given, "files": files})
    (folder / MANIFEST_NAME).write_bytes(manifest_bytes(sealed))


def test_a_huge_file_is_named_and_not_read(copied: Path) -> None:
    with (copied / "results.json").open("r+b") as stream:
        stream.truncate(50_000_000_000)  # sparse: takes no room
    found = verify_record(copied).findings
    assert [f.code for f in found] == ["size"]
    assert "50000000000 bytes" in found[0].message


@pytest.mark.parametrize("name", [MANIFEST_NAME, "results.json"])
def test_a_folder_in_the_place_of_a_file_is_named(copied: Path, name: str) -> None:
    (copied / name).unlink()
    (copied / name).mkdir()
    assert any(f.file == name for f in verify_record(copied).findings)


def test_a_huge_manifest_is_refused(copied: Path) -> None:
    with (copied / MANIFEST_NAME).open("r+b") as stream:
        stream.truncate(50_000_000_000)
    assert "more than the" in str(verify_record(copied).findings[0])


def test_a_size_stated_as_huge_is_refused(copied: Path) -> None:
    manifest = Manifest.model_validate_json((copied / MANIFEST_NAME).read_bytes())
    entry = manifest.files["results.json"].model_copy(update={"size": 10**15})
    _reseal(copied, manifest, {**manifest.files, "results.json": entry})
    assert "huge" in _codes(copied)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b'{"verdict": NaN}', "NaN is not a JSON number"),
        (b'{"verdict": "within", "verdict": "over"}', "given twice"),
        ('{"verdict": "é"}'.encode("latin-1"), "not UTF-8"),
        (b"[1, 2]", "an object is expected"),
        (b"[" * 500 + b"]" * 500, "nested deeper"),
    ],
)
def test_bad_json_is_named_even_when_its_hash_matches(
    copied: Path, forge: Callable[..., Manifest], data: bytes, words: str
) -> None:
    forge(copied, {"results.json": data})
    text = " ".join(map(str, verify_record(copied).findings))
    assert words in text


def test_results_that_contradict_the_manifest_are_named(copied: Path, forge: Callable[..., Manifest]) -> None:
    forge(copied, verdict="over")
    assert "verdict is 'over'; the record's files say 'within'" in str(verify_record(copied).findings[0])


def test_a_manifest_of_another_record_is_named(copied: Path, made_chain: tuple[Path, ...]) -> None:
    shutil.copyfile(made_chain[0] / MANIFEST_NAME, copied / MANIFEST_NAME)
    assert {"name", "changed"} & _codes(copied)
    assert "name" in _codes(copied)


def test_a_record_without_its_needed_files_is_refused(copied: Path, forge: Callable[..., Manifest]) -> None:
    manifest = Manifest.model_validate_json((copied / MANIFEST_NAME).read_bytes())
    files = {k: v for k, v in manifest.files.items() if k != "results.json"}
    (copied / "results.json").unlink()
    _reseal(copied, manifest, files)
    assert "manifest.json: results.json is not part of the record" in map(str, verify_record(copied).findings)


def test_an_unfinished_folder_is_never_a_record(copied: Path) -> None:
    target = copied.with_name(".part-1-2-3")
    copied.rename(target)
    assert _codes(target) == {"unfinished"}


@pytest.mark.parametrize("name", ["nothing", "file"])
def test_what_is_no_folder_is_named(tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("x")
    assert _codes(tmp_path / name) == {"missing"}


def test_a_folder_name_with_a_null_byte_does_not_crash() -> None:
    assert not verify_record(Path("a\x00b")).ok


def test_a_thousand_extra_files_are_reported_and_reading_stops(copied: Path) -> None:
    for number in range(1100):
        (copied / f"x{number}").touch()
    assert "more than" in " ".join(map(str, verify_record(copied).findings))


def test_require_record_names_every_fault(copied: Path) -> None:
    (copied / "results.json").unlink()
    (copied / "extra").touch()
    with pytest.raises(RecordError, match=r"results.json: is missing; extra: is not listed"):
        require_record(copied)


def test_the_notebook_of_a_record_holds_no_time_and_no_path(made_chain: tuple[Path, ...]) -> None:
    text = (made_chain[1] / "sheet.ipynb").read_text(encoding="utf-8")
    notebook = json.loads(text)
    assert str(made_chain[1].parent) not in text
    assert set(notebook["metadata"]) <= {"kernelspec", "language_info"}
    assert all(set(cell["metadata"]) <= {"tags"} for cell in notebook["cells"])
