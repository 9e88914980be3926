"""The manufacturer's rated capacity chart for one base, counterweight and slew sector."""

import itertools
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from liftcalc.facts.base import Fact, Ident, Positive, Provenance, Text
from liftcalc.facts.limits import LEAST
from liftcalc.facts.machine import LegName

Capacity = Annotated[float, Field(ge=LEAST, le=2000)]
Angle = Annotated[float, Field(ge=-720, le=720)]


class RatedChart(Fact):
    """Rated capacity (hook block and slinging included) by boom length and radius.

    ``capacity_t[k][n]`` belongs to ``boom_length_m[k]`` and ``radius_m[n]``; null where the manufacturer rates nothing.
    ``strength_t``, where the manufacturer states it, is the capacity that the structure alone allows. ``sector_deg``
    runs anticlockwise from the first to the second angle; (0, 360) is the full circle.
    """

    id: Ident
    machine: Ident
    counterweight: Ident
    base_name: Text
    leg_extension_m: dict[LegName, Positive]
    sector_deg: tuple[Angle, Angle] = (0.0, 360.0)
    rule: Literal["test_load", "tipping_fraction"]
    boom_length_m: tuple[Positive, ...]
    radius_m: tuple[Positive, ...]
    capacity_t: tuple[tuple[Capacity | None, ...], ...]
    strength_t: tuple[tuple[Capacity | None, ...], ...] | None = None
    wind_m_s: Annotated[float, Field(ge=0, le=30)]
    provenance: Provenance

    def faults(self) -> Iterator[str]:
        if set(self.leg_extension_m) != {"FL", "FR", "RR", "RL"}:
            yield "leg_extension_m for each of FL, FR, RR, RL"
        for name in ("boom_length_m", "radius_m"):
            axis = getattr(self, name)
            if len(axis) < 1 or any(b <= a for a, b in itertools.pairwise(axis)):
                yield f"{name} rising from the smallest value"
        for name in ("capacity_t", "strength_t"):
            table = getattr(self, name)
            if table is None:
                continue
            if len(table) != len(self.boom_length_m) or any(len(row) != len(self.radius_m) for row in table):
                yield f"{name} with {len(self.boom_length_m)} rows of {len(self.radius_m)} values"
        for length, row in zip(self.boom_length_m, self.capacity_t, strict=True):
            rated = [(r, c) for r, c in zip(self.radius_m, row, strict=True) if c is not None]
            for (near, more), (far, less) in itertools.pairwise(rated):
                if less > more + 1e-9:
                    yield (
                        f"capacity_t must not rise with radius, as from {more:g} t at {near:g} m "
                        f"to {less:g} t at {far:g} m (boom length {length:g} m)"
                    )
        for row, limits in zip(self.capacity_t, self.strength_t or (), strict=False):
            for radius, c, s in zip(self.radius_m, row, limits, strict=True):
                if c is not None and s is not None and c > s:
                    yield f"capacity_t {c} at most strength_t {s} (radius {radius} m)"
        if not any(c is not None for row in self.capacity_t for c in row):
            yield "at least one rated capacity"
