"""Loose lines of a drawing joined end to end.

Plane geometry; no source needed.
"""

from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial import cKDTree


@dataclass(frozen=True)
class Chain:
    """Lines (index, and whether it runs backward) in the order in which they follow each other.

    ``junctions``: places where the chain stops because three ends or more meet there.
    """

    lines: tuple[tuple[int, bool], ...]
    junctions: tuple[tuple[float, float], ...]


def end_to_end(first_xy: ArrayLike, last_xy: ArrayLike, *, gap: float) -> list[Chain]:
    """Lines joined where just two ends meet; where more meet, nothing is guessed.

    first_xy, last_xy: shape (N, 2). Both ends of each line, met where no farther apart than *gap*.
    Returns: each line in one chain, in the order of their first lines; time grows as N log N.
    """
    first, last = np.asarray(first_xy, dtype=np.float64), np.asarray(last_xy, dtype=np.float64)
    ends = np.stack([first, last], axis=1).reshape(-1, 2)  # end 2k and 2k + 1 of line k
    reach = gap * (1 + 1e-9) + 1e-12
    _, near = cKDTree(ends).query(ends, k=min(3, len(ends)), distance_upper_bound=reach)
    meets = [[int(j) for j in row if j < len(ends) and j != i] for i, row in enumerate(np.atleast_2d(near))]
    crowded = [len(found) > 1 or any(len(meets[j]) > 1 for j in found) for found in meets]
    used = np.zeros(len(first), dtype=bool)
    chains = []
    for start in range(len(first)):
        if used[start]:
            continue
        used[start] = True
        lines, junctions = deque([(start, False)]), []
        for end, tail in ((2 * start + 1, True), (2 * start, False)):
            while True:
                if crowded[end]:
                    junctions.append((float(ends[end, 0]), float(ends[end, 1])))
                    break
                if not meets[end] or used[meets[end][0] // 2]:
                    break
                other = meets[end][0]
                used[other // 2] = True
                backward = (other % 2 == 1) if tail else (other % 2 == 0)
                (lines.append if tail else lines.appendleft)((other // 2, backward))
                end = other ^ 1
        chains.append(Chain(tuple(lines), tuple(junctions)))
    return chains
