"""What a hostile record tries to hide beside what the re-check looks at."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from run.forgeries import Draft

from liftcalc.records.blocks import BLOCK_MIME
from liftcalc.run.recheck import recheck_record


@pytest.fixture
def draft(copied: Path, made_chain: tuple[Path, ...]) -> Draft:
    """An honest record in the forger's hands, the sheet before beside it."""
    made = Draft.of(copied, made_chain[0])
    shutil.rmtree(copied)
    return made


def test_a_drawing_in_the_notebook_cannot_stand_in_for_the_one_that_is_looked_at(
    draft: Draft, archive: Path, toy_templates: Path
) -> None:
    name = next(n for n in draft.files if n.endswith(".svg"))
    true = draft.files[name].decode()
    draft.files[name] = true.replace("</svg>", "<text>400 kPa, released</text></svg>").encode()

    def hide(output: dict[str, Any]) -> None:
        if output["data"].get(BLOCK_MIME, {}).get("kind") == "figure":
            output["data"]["image/svg+xml"] = true

    draft.outputs(hide)
    outcome = recheck_record(draft.write(archive), write=False, templates=toy_templates)
    assert outcome.decision == "differs"
    assert "a drawing of its own" in " ".join(outcome.findings)
