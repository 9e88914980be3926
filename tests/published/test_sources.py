"""Every row says where it is from, and a vague source says that it is second-hand."""

import json
import re
from pathlib import Path

import pytest

CASES = sorted((Path(__file__).parent / "cases").glob("*.jsonl"))
VAGUE = re.compile(
    r"data sheet|catalogue|trade (?:page|handbook|practice)|training note|calculator|forum"
    r"|public (?:article|sheet|document|reprint|page|transcription)|digitised|reprint",
    re.IGNORECASE,
)
HONEST = re.compile(r"second-hand|from memory|read in (?:reprints|the transcription)", re.IGNORECASE)


def vague(row: dict[str, str]) -> bool:
    """Does a row lean on something without a name or an edition, and not say so?"""
    words = f"{row['source']} {row['note']}"
    return bool(VAGUE.search(words)) and not HONEST.search(words) and row["verification"] == "seen"


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_every_row_has_a_source_that_is_named_or_said_to_be_second_hand(path: Path) -> None:
    rows = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    assert all(row["source"].strip() for row in rows)
    assert {row["verification"] for row in rows} <= {"seen", "computed", "memory"}
    assert [row["id"] for row in rows if vague(row)] == []


def test_a_vague_source_is_found() -> None:
    row = {"source": "Choker table", "note": "Seen in a data sheet.", "verification": "seen"}
    assert vague(row)
    assert not vague({**row, "note": "Second-hand: a data sheet."})
