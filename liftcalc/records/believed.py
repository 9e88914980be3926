"""What verified before, remembered outside the archive by size, times and inode of every file.

A row is believed only for exactly the files, folder, archive and program that it was made with,
and only from a file of this user. A file changed less than two seconds before it was verified is
never remembered: the clock of a file system is coarse. Whoever sets the machine's clock back, or
writes through a file mapped into memory before, can make a file look unchanged; ``register --full``
does not ask here, nor does what prints or signs a record.
"""

import contextlib
import os
import sqlite3
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import chain, repeat
from multiprocessing import get_context
from pathlib import Path

import platformdirs

from liftcalc import __version__
from liftcalc.base import resources
from liftcalc.base.strict_json import sha256_hex
from liftcalc.records.manifest import MANIFEST_NAME, PART_PREFIX
from liftcalc.records.verify import MAX_FILES

NOT_OWN = "neither made nor found to match on this machine"
_COARSE_NS = 2_000_000_000
_DEEPEST = 4
_MANY = 5000


def record_folders(
    root: str, starts: tuple[str, ...] = ("",), depth: int = 0
) -> Iterator[tuple[str, list[os.DirEntry[str]]]]:
    """Record folders below *root* whose names start so, and what lies in each; no links."""
    try:
        with os.scandir(root) as found:
            entries = list(found)
    except OSError:
        return
    if any(entry.name == MANIFEST_NAME for entry in entries):
        if "" in starts or os.path.basename(os.path.abspath(root)).startswith(starts):
            yield root, entries
        return
    for entry in sorted(entries, key=lambda e: e.name):
        hidden = entry.name.startswith((PART_PREFIX, "."))
        if depth < _DEEPEST and not hidden and entry.is_dir(follow_symlinks=False):
            yield from record_folders(entry.path, starts, depth + 1)


def fingerprint(entries: Sequence[os.DirEntry[str]]) -> str:
    """Names, kinds, sizes, times, inodes of all below a folder; empty if not to be remembered."""
    lines: list[tuple[str, int, int, int, int, int, int]] = []
    todo = [("", entries)]
    try:
        while todo:
            above, found = todo.pop()
            for entry in found:
                s = entry.stat(follow_symlinks=False)
                times = (s.st_mtime_ns, s.st_ctime_ns)
                lines.append((above + entry.name, s.st_mode, s.st_size, *times, s.st_ino, s.st_dev))
                if entry.is_dir(follow_symlinks=False):
                    with os.scandir(entry.path) as below:
                        todo.append((f"{above}{entry.name}/", list(below)))
            if len(lines) > 3 * MAX_FILES:
                return ""
    except OSError:
        return ""
    if os.name == "nt" or max(line[4] for line in lines) > time.time_ns() - _COARSE_NS:
        return ""
    return sha256_hex(repr(sorted(lines)).encode())


def _walked(places: Sequence[str], starts: tuple[str, ...]) -> list[tuple[str, str]]:
    return [(p, fingerprint(c)) for top in places for p, c in record_folders(top, starts, 1)]


@contextlib.contextmanager
def fingerprints(root: str, starts: tuple[str, ...]) -> Iterator[Iterable[tuple[str, str]]]:
    """Path and fingerprint of each record folder below *root*; of many, on every core meanwhile."""
    with os.scandir(root) as found:
        tops = sorted(e.path for e in found if e.name[:1] != "." and e.is_dir(follow_symlinks=False))
    cores = len(os.sched_getaffinity(0)) if sys.platform == "linux" else 1
    if len(tops) < _MANY or cores < 2:
        yield ((path, fingerprint(found)) for path, found in record_folders(root, starts))
        return
    step = -(-len(tops) // (8 * cores))
    parts = [tops[n : n + step] for n in range(0, len(tops), step)]
    with ProcessPoolExecutor(cores, get_context("fork")) as pool:
        yield chain.from_iterable(pool.map(_walked, parts, repeat(starts)))


def _opened(root: str) -> sqlite3.Connection:
    name = sha256_hex(root.encode("utf-8", "surrogateescape"))[:32]
    cache = platformdirs.user_cache_dir("liftcalc", appauthor=False)
    path = Path(cache, "register", f"{name}.sqlite")
    for _ in range(2):
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            if os.name != "nt" and path.exists() and path.lstat().st_uid != os.getuid():
                break
            base = sqlite3.connect(path, timeout=1.0)
            base.execute("CREATE TABLE IF NOT EXISTS said (folder PRIMARY KEY, files, words, seal)")
            return base
        except (OSError, sqlite3.OperationalError):
            break
        except sqlite3.DatabaseError:  # damaged, of no use to anyone
            path.unlink()
    return sqlite3.connect(":memory:")


Rows = Iterable[tuple[str, str, str]]
"""Folder of a record, fingerprint of its files, and what it said."""


@contextlib.contextmanager
def memory(root: str) -> Iterator[tuple[dict[str, tuple[str, str]], Callable[[Rows], None]]]:
    """What is known of an archive by folder (fingerprint and words), and what remembers more."""
    root = os.path.realpath(root)
    program = f"{root}\n{__version__} {resources.code_hash()}"

    def seal(*row: str) -> str:
        return sha256_hex("\n".join((program, *row)).encode("utf-8", "surrogateescape"))

    def keep(rows: Rows) -> None:
        sealed = [(*row, seal(*row)) for row in rows]
        with contextlib.suppress(sqlite3.Error, UnicodeError), base:
            base.executemany("INSERT OR REPLACE INTO said VALUES (?,?,?,?)", sealed)

    known = {}
    with contextlib.closing(_opened(root)) as base:
        with contextlib.suppress(sqlite3.Error):
            for folder, files, words, sealed in base.execute("SELECT folder, files, words, seal FROM said"):
                if isinstance(words, str) and sealed == seal(folder, files, words):
                    known[folder] = (files, words)
        yield known, keep


def own_records() -> frozenset[str]:
    """Manifests of the records that this user's program made, or made again and found the same."""
    with contextlib.closing(_opened("made")) as base, contextlib.suppress(sqlite3.Error):
        return frozenset(own for (own,) in base.execute("SELECT folder FROM said"))
    return frozenset()


def remember_own(manifest_sha256: str) -> None:
    """Remember that this user's program just made this very record."""
    with contextlib.closing(_opened("made")) as base, contextlib.suppress(sqlite3.Error), base:
        base.execute("INSERT OR IGNORE INTO said (folder) VALUES (?)", (manifest_sha256,))
