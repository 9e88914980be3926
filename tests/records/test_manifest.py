"""Manifests seal themselves; names are safe on Windows and Linux."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import RecordError
from liftcalc.records.manifest import MANIFEST_NAME, manifest_bytes, read_manifest, record_name, safe_name

# Names that Windows keeps for devices: Microsoft, "Naming Files, Paths, and Namespaces" (memory).
DEVICES = ["CON", "prn", "AUX", "nul", "COM1", "com9", "LPT1", "lpt9", "con.txt", "NUL.tar.gz"]


def _windows_refuses(name: str) -> bool:
    device = name.split(".")[0].lower()
    return (
        bool(re.search(r'[<>:"/\\|?*\x00-\x1f]', name))
        or name.endswith((" ", "."))
        or device in {"con", "prn", "aux", "nul"}
        or bool(re.fullmatch(r"(com|lpt)\d", device))
    )


@pytest.mark.parametrize("text", [*DEVICES, "", "...", "a/b", "a\\b", "c:x", "x?", "é", "a" * 300])
def test_a_name_is_safe_whatever_it_was_made_from(text: str) -> None:
    name = safe_name(text)
    assert name
    assert not _windows_refuses(name)
    assert len(name) <= 42


@settings(deadline=None)
@given(st.text(max_size=80), st.text(max_size=40), st.text(max_size=20))
def test_a_record_name_is_safe_for_any_job_and_lift(job: str, lift: str, revision: str) -> None:
    name = record_name(job, lift, "lift_check", revision, "2026-05-01T10:11:12Z")
    assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,119}", name)
    assert not _windows_refuses(name)


def test_two_records_of_the_same_second_have_different_names() -> None:
    names = {record_name("j", "L1", "t", "A", "2026-05-01T10:11:12Z") for _ in range(1000)}
    assert len({name.lower() for name in names}) == 1000


def test_a_manifest_reads_back_equal(made_chain: tuple[Path, ...]) -> None:
    data = (made_chain[1] / MANIFEST_NAME).read_bytes()
    manifest = read_manifest(data)
    assert manifest_bytes(manifest) == data
    parent = read_manifest((made_chain[0] / MANIFEST_NAME).read_bytes())
    assert manifest.parents == (parent.parent_link,)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (b'"lift": "L2"', b'"lift": "L3"', "changed after it was sealed"),
        (b'"kind": "sheet"', b'"kind":  "sheet"', "changed after it was sealed"),
        (b'"kind": "sheet"', b'"kind": "other"', "field kind"),
        (b'"kind": "sheet"', b'"kind": "sheet", "x": 1', "field x"),
        (b"liftcalc/record/2", b"liftcalc/record/9", "schema is 'liftcalc/record/9'"),
        (b'"units": "metric",\n', b"", "field units"),
    ],
)
def test_a_changed_manifest_is_refused(made_chain: tuple[Path, ...], old: bytes, new: bytes, words: str) -> None:
    data = (made_chain[1] / MANIFEST_NAME).read_bytes()
    assert old in data
    with pytest.raises(RecordError, match=words):
        read_manifest(data.replace(old, new, 1))


@pytest.mark.parametrize("data", [b"[]", b"3", b"null", b'"x"', b"{}", b"\x00", b"{" * 5000])
def test_what_is_no_manifest_is_refused_without_a_crash(data: bytes) -> None:
    with pytest.raises(RecordError, match=r"manifest\.json"):
        read_manifest(data)
