"""One row of the register, and what it may say of a record."""

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from liftcalc.base import resources
from liftcalc.base.foreign import visible
from liftcalc.base.text import CAUTION_LINE
from liftcalc.base.words import STATE_WORDS

UNSEEN: Final = "numbers match, page not verified"
STATES = (
    *("missing", "damaged", "withdrawn", "superseded", "check differs", "current twice"),
    *("parent damaged", "parent superseded", "checked", UNSEEN, "cannot be re-run", "prepared"),
    *("matches", "differs"),
)
"""States, the gravest first; what a check record decided is its own state."""


Links = Sequence[Sequence[str]]
"""Record and hash of its manifest; of a parent its chain's hash as well."""


class Entry(NamedTuple):
    """One row of the register."""

    record: str
    folder: str
    kind: str = ""
    job: str = ""
    lift: str = ""
    template: str = ""
    revision: str = ""
    verdict: str = ""
    governing: str = ""
    state: str = "prepared"
    prepared_by: str = ""
    prepared_utc: str = ""
    manifest_sha256: str = ""
    chain_sha256: str = ""
    run_key: str = ""
    decision: str = ""
    invented: str = ""
    revises: Links = ()
    checks: Links = ()
    parents: Links = ()
    superseded_by: str = ""
    checked_by: str = ""
    signed: str = ""
    remarks: str = ""

    @property
    def sheet(self) -> str:
        """Title of the sheet, or of the sheet that was checked."""
        title = resources.SHEET_TITLES.get(self.template, self.template)
        return f"Check of {title.lower()}" if self.kind == "check" else title

    @property
    def verdict_words(self) -> str:
        """What the sheet says, in the words that stand on it."""
        return STATE_WORDS.get(self.verdict, self.verdict)

    @property
    def day(self) -> str:
        """Day and minute."""
        return self.prepared_utc[:16].replace("T", " ")

    @property
    def of(self) -> tuple[str, str, str]:
        """Which sheet of which lift of which job this is a record of."""
        return self.job, self.lift, self.template

    @property
    def standing(self) -> str:
        """State, what superseded it, and what else holds of the record."""
        by = f" by {self.superseded_by}" if self.superseded_by else ""
        return f"{self.state}{by}{'; ' if self.remarks else ''}{self.remarks}"

    @property
    def caution(self) -> str:
        """The caution that goes with every row."""
        return CAUTION_LINE

    def shown(self, column: str) -> str:
        """A cell, as text in which nothing acts."""
        return visible(getattr(self, column))


def damaged(entry: Entry, problems: Sequence[str]) -> Entry:
    """The entry as that of a record that counts for nothing, and says no verdict."""
    more = f" and {len(problems) - 3} more" if len(problems) > 3 else ""
    return entry._replace(
        state="damaged", verdict="", decision="", run_key="", governing="; ".join(problems[:3]) + more
    )


def few(names: Iterable[str]) -> str:
    """Names in their order, of many only some."""
    several = sorted(names)
    more = f" and {len(several) - 3} more" if len(several) > 4 else ""
    return ", ".join(several[:3] if more else several) + more
