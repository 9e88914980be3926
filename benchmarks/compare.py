"""Time this checkout beside another one, alternately, and print the ratio of each item.

    python benchmarks/compare.py OTHER_CHECKOUT [--rounds 3] [--only bench_lift bench_boom]

Each side runs its own copy of a benchmark file (this one's where it has none) in its own process,
with processor time and one thread; the least time of all rounds counts on either side. Items of one
side only are left out. Exit code 1 when an item takes more than ``--limit`` times as long here.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
WALL_TIME_OR_BROWSER = {"bench_batch", "bench_panels"}


def least_times(checkout: Path, name: str, args: argparse.Namespace) -> dict[str, float]:
    """Least time [s] of each item of one benchmark file, run once on *checkout*."""
    own = checkout / "benchmarks" / f"{name}.py"
    file = own if own.exists() else HERE / "benchmarks" / f"{name}.py"
    threads = {f"{lib}_NUM_THREADS": "1" for lib in ("OMP", "OPENBLAS", "MKL")}
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "times.json"
        command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"]
        command += [f"--rootdir={checkout}", f"--confcutdir={file.parent}", str(file)]
        command += ["--benchmark-timer=time.process_time", "--benchmark-disable-gc"]
        command += ["--benchmark-min-rounds=3", f"--benchmark-max-time={args.seconds}"]
        command += [f"--benchmark-json={out}", "-k", args.items] if args.items else [f"--benchmark-json={out}"]
        environment = {**os.environ, **threads, "PYTHONPATH": str(checkout)}
        done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True)
        if not out.exists() or not out.stat().st_size:
            print(f"{name} on {checkout}: nothing timed\n{done.stdout[-2000:]}", file=sys.stderr)
            return {}
        return {b["name"]: b["stats"]["min"] for b in json.loads(out.read_text())["benchmarks"]}


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("other", type=Path, help="path of the other checkout")
    parser.add_argument("--rounds", type=int, default=3, help="alternations (3)")
    parser.add_argument("--seconds", type=float, default=1.0, help="longest time of one item (1)")
    parser.add_argument("--limit", type=float, default=1.3, help="highest ratio allowed (1.3)")
    parser.add_argument("--only", nargs="+", metavar="FILE", help="benchmark files without .py")
    parser.add_argument("--items", help="pytest's -k")
    args = parser.parse_args()
    files = sorted(p.stem for p in (HERE / "benchmarks").glob("bench_*.py"))
    slow = 0
    print(f"{'ms':>51s} {'other':>10s} {'here':>10s} {'ratio':>6s}")
    for name in args.only or [f for f in files if f not in WALL_TIME_OR_BROWSER]:
        least: list[dict[str, float]] = [{}, {}]
        for _ in range(args.rounds):
            for side, checkout in enumerate((args.other.resolve(), HERE)):
                for item, time_s in least_times(checkout, name, args).items():
                    least[side][item] = min(time_s, least[side].get(item, time_s))
        print(name)
        for item in (i for i in least[0] if i in least[1]):
            other, here = least[0][item] * 1e3, least[1][item] * 1e3
            slow += here > args.limit * other
            mark = " *" if here > args.limit * other else ""
            label = item.removeprefix("test_")[:49]
            print(f"  {label:49s} {other:10.3f} {here:10.3f} {here / other:6.2f}{mark}", flush=True)
    print(f"{slow} items above {args.limit}")
    return 1 if slow else 0


if __name__ == "__main__":
    raise SystemExit(main())
