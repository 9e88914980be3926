"""A job of many sheets as one PDF: seconds, file size, and memory of all processes together.

Run with ``python benchmarks/bench_book.py [ARCHIVE] [--sheets 400] [--workers 1]``; nothing here is
a test. The records of ARCHIVE (the demo's, made first, if none is named) are printed again and
again until there are as many sheets. Memory is read from ``/proc`` (Linux) ten times a second:
resident, with pages that processes share counted in each.
"""

from __future__ import annotations

import argparse
import itertools
import os
import tempfile
import threading
import time
from pathlib import Path

from liftcalc.base import resources
from liftcalc.facts.io import load_job
from liftcalc.records.listing import sheets_named
from liftcalc.run.batch import plan, run_batch
from liftcalc.run.book import book_pdf


def resident_mb() -> float:
    """Resident memory of this process and all below it."""
    parents: dict[int, int] = {}
    pages: dict[int, int] = {}
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            words = (entry / "stat").read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        parents[int(entry.name)], pages[int(entry.name)] = int(words[1]), int(words[21])
    ours = {os.getpid()}
    while more := {pid for pid, parent in parents.items() if parent in ours} - ours:
        ours |= more
    return sum(pages.get(pid, 0) for pid in ours) * os.sysconf("SC_PAGE_SIZE") / 2**20


def main() -> None:
    """Print the job and say what it took."""
    parser = argparse.ArgumentParser()
    parser.add_argument("archive", type=Path, nargs="?")
    parser.add_argument("--sheets", type=int, default=400)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out", type=Path, help="where to leave the PDF")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        archive = given.archive or Path(scratch, "demo")
        if given.archive is None:
            run_batch(plan(load_job(resources.demo_job_path()), archive), workers=2)
        folders = list(itertools.islice(itertools.cycle(sheets_named([archive])[0]), given.sheets))
        most, done = [0.0], threading.Event()

        def watch() -> None:
            while not done.wait(0.1):
                most[0] = max(most[0], resident_mb())

        watcher = threading.Thread(target=watch)
        watcher.start()
        started = time.perf_counter()
        try:
            pdf = book_pdf(folders, title="Benchmark", workers=given.workers)
        finally:
            done.set()
            watcher.join()
        took = time.perf_counter() - started
    print(f"{len(folders)} sheets: {took:.1f} s, {len(pdf) / 1e6:.1f} MB, resident {most[0]:.0f} MB")
    if given.out:
        given.out.write_bytes(pdf)


if __name__ == "__main__":
    main()
