"""What the records of an archive say of one another."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta

from liftcalc.base import resources
from liftcalc.records.believed import NOT_OWN, own_records
from liftcalc.records.entries import STATES, UNSEEN, Entry, damaged, few

_CLOCKS_APART = timedelta(minutes=10)
_SIGNIFICANT = ("job", "lift", "template", "revision", "verdict", "governing", "invented")


def _foreign_links(entry: Entry, by_hash: dict[str, Entry]) -> list[str]:
    """Links to records that are here and are not what the link must lead to."""
    wrong = []
    for record, sha256, *chain in (*entry.revises, *entry.checks, *entry.parents):
        other = by_hash.get(sha256)
        if other is None:
            continue
        fits = other.kind == "sheet" and other.record == record and other.of[:2] == entry.of[:2]
        if chain:
            sheet = resources.PARENT_OF.get(entry.template, other.template)
            fits &= other.chain_sha256 == chain[0]
            fits &= other.template == (entry.template if entry.kind == "check" else sheet)
        else:
            fits &= other.of == entry.of and other is not entry
        if entry.kind == "check":
            fits &= all(getattr(other, name) == getattr(entry, name) for name in _SIGNIFICANT)
        if not fits:
            wrong.append(f"names {record}, which is a record of another sheet or says otherwise")
    return wrong


def _below(start: Iterable[str], entries: Iterable[Entry]) -> set[str]:
    """Hashes of the records that build, through any number of sheets, on one of those given."""
    children: dict[str, list[str]] = {}
    for entry in entries:
        for _, parent, _ in entry.parents:
            children.setdefault(parent, []).append(entry.manifest_sha256)
    found: set[str] = set()
    todo = list(start)
    while todo:
        new = set(children.get(todo.pop(), ())) - found
        found |= new
        todo += new
    return found


class Standing:
    """Which record of an archive says what of which other."""

    def __init__(self, entries: Sequence[Entry]) -> None:
        whole = {e.manifest_sha256: e for e in entries if e.state != "damaged"}
        wrong = {e.folder: _foreign_links(e, whole) for e in entries if e.state != "damaged"}
        self.entries = [damaged(e, wrong[e.folder]) if wrong.get(e.folder) else e for e in entries]
        self.own = own_records()
        self.late = (datetime.now(UTC) + _CLOCKS_APART).strftime("%Y-%m-%dT%H:%M:%SZ")
        self.whole = {e.manifest_sha256: e for e in self.entries if e.state != "damaged"}
        self.damaged = {e.record: e for e in self.entries if e.state == "damaged"}
        self.copies: dict[str, list[str]] = {}
        self.naming: dict[str, list[Entry]] = {}
        self.current: dict[tuple[str, str, str], list[str]] = {}
        for entry in self.entries:
            self.copies.setdefault(entry.manifest_sha256, []).append(entry.folder)
        for entry in (*self.whole.values(), *self.damaged.values()):
            for _, sha256 in (*entry.revises, *entry.checks):
                self.naming.setdefault(sha256, []).append(entry)
        sheets = [e for e in self.whole.values() if e.kind == "sheet"]
        revised = {sha256 for e in sheets for _, sha256 in e.revises}
        for entry in sheets:
            if entry.manifest_sha256 not in revised:
                self.current.setdefault(entry.of, []).append(entry.record)
        parents = [parent for e in sheets for parent in e.parents]
        lost = {p[1] for p in parents if p[1] not in self.whole and p[0] in self.damaged}
        self.stale, self.baseless = _below(revised, sheets), _below(lost, sheets)

    def _checks(self, naming: Sequence[Entry]) -> tuple[str, str]:
        """What the checks of a record come to, and who made those that say so."""
        for decision in ("differs", "matches", UNSEEN, "cannot be re-run"):
            made = [c for c in naming if c.decision == decision]
            if decision == "matches":
                made = [c for c in made if c.prepared_utc <= self.late]
            if made:
                state = {"differs": "check differs", "matches": "checked"}.get(decision, decision)
                return state, few({c.prepared_by or "not named" for c in made})
        return "", ""

    def _remarks(self, entry: Entry, naming: Sequence[Entry]) -> Iterator[str]:
        """What else a reader must know of a record, each by the name of the other record."""
        if entry.prepared_utc > self.late:
            yield "dated in the future"
        foreign = [
            c.prepared_by or "not named" for c in naming
            if c.decision == "matches" and c.manifest_sha256 not in self.own
        ]  # fmt: skip
        if foreign:
            yield f"its check by {few({*foreign})} was {NOT_OWN}"
        for what in ("revises", "checks", "parents"):
            for record, sha256, *_ in getattr(entry, what):
                if sha256 not in self.whole:
                    how = "damaged" if record in self.damaged else "not here"
                    yield f"{what.replace('parents', 'builds on')} {record}, which is {how}"
        said = {
            "named by {}, damaged": [e.record for e in naming if e.state == "damaged"],
            "check dated in the future: {}": [
                e.record for e in naming if e.kind == "check" and e.prepared_utc > self.late
            ],
            "lies in {} as well": [f for f in self.copies[entry.manifest_sha256] if f != entry.folder],
        }
        yield from (words.format(few(names)) for words, names in said.items() if names)

    def judged(self, entry: Entry) -> Entry:
        """The entry with its state, who says so, and remarks."""
        if entry.state == "damaged":
            return entry
        naming = self.naming.get(entry.manifest_sha256, [])
        remarks = list(self._remarks(entry, naming))
        if entry.kind == "check":
            return entry._replace(remarks="; ".join(remarks))
        later = few(e.record for e in naming if e.kind == "sheet" and e.state != "damaged")
        others = [r for r in self.current.get(entry.of, ()) if r != entry.record and not later]
        checked, checked_by = self._checks(naming)
        holds = {
            "superseded": later, "current twice": others, checked: checked, "prepared": True,
            "parent damaged": entry.manifest_sha256 in self.baseless,
            "parent superseded": entry.manifest_sha256 in self.stale,
        }  # fmt: skip
        state, *more = [name for name in STATES if holds.get(name)]
        if others:
            remarks.insert(0, f"current beside {few(others)}")
        return entry._replace(
            state=state, superseded_by=later, checked_by=checked_by,
            remarks="; ".join([*(m for m in more if m != "prepared"), *remarks]),
        )  # fmt: skip
