"""What the layers of a drawing mean: the mapping file of a DXF survey.

A mapping is YAML or JSON::

    units: m                # only used where the drawing does not say
    units_override: false   # true: the drawing's own unit is wrong, take the one above
    labels: [NAMES]         # layers whose texts name the outline they stand in
    ignore: [FRAME]         # layers left out without a word
    site: {id: ..., name: ..., grid: ..., datum: ..., provenance: {...}, ground: [...]} layers: BUILDINGS: {kind:
    obstacle, obstacle_kind: building, base_level_m: 4.0, top_level_m: 12.0} TREES: {kind: obstacle, obstacle_kind:
    tree, radius_m: 2.5, height_m: 9.0} LEVELS: {kind: spot level}

``kind`` is a kind of the site's GeoJSON; ``radius_m`` makes an area of a point or a block; ``height_m`` adds to the
base level; ``level_m`` stands for levels that the drawing does not carry; everything else goes to the fact as it is.
Layer names match whatever their case, and may end in ``*``.
"""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, ConfigDict, Field

from liftcalc.base.files import rows_beside
from liftcalc.facts.base import Fact, Positive
from liftcalc.facts.io import load_fact, parse_fact
from liftcalc.facts.site_geojson import KINDS

_UNITS = rows_beside(__file__, ".units.csv")
UNIT_OF_CODE: dict[int, str] = {int(row["insunits_code"]): row["unit"] for row in _UNITS}
"""Unit of a drawing by the code in its header ($INSUNITS)."""
UNITS_M: dict[str, float] = {row["unit"]: float(row["metres"]) for row in _UNITS}
"""Metres in one drawing unit."""


def _kind(value: str) -> str:
    if value not in KINDS:
        raise ValueError(", ".join(KINDS))
    return value


def _unit(value: str) -> str:
    if value not in UNITS_M:
        raise ValueError(", ".join(UNITS_M))
    return value


class LayerMeaning(Fact):
    """What one layer means; what else is given goes to every feature of the layer."""

    model_config = ConfigDict(extra="allow")

    kind: Annotated[str, AfterValidator(_kind)]
    radius_m: Positive | None = None
    height_m: Positive | None = None
    level_m: float | None = None

    @property
    def properties(self) -> dict[str, Any]:
        """Fields given to every feature of the layer."""
        return dict(self.model_extra or {})


class DrawingMapping(Fact):
    """Meaning of a drawing: layers, labels, what to ignore, units, and the site's own fields."""

    layers: dict[str, LayerMeaning]
    labels: tuple[str, ...] = ()
    ignore: tuple[str, ...] = ()
    units: Annotated[str, AfterValidator(_unit)] | None = None
    units_override: bool = False
    header: dict[str, Any] = Field(default_factory=dict, alias="site")

    def faults(self) -> Iterator[str]:
        if not self.layers:
            yield "layers: one layer or more, each with its kind"
        if self.units_override and self.units is None:
            yield "units_override: true needs units"

    def meaning(self, layer: str) -> LayerMeaning | None:
        """Meaning of a layer, or None; an exact name goes before one that ends in ``*``."""
        name = layer.casefold()
        for key, value in self.layers.items():
            if key.casefold() == name:
                return value
        for key, value in self.layers.items():
            if key.endswith("*") and name.startswith(key[:-1].casefold()):
                return value
        return None

    def is_label(self, layer: str) -> bool:
        """Whether the layer's texts name things."""
        return layer.casefold() in {name.casefold() for name in self.labels}

    def is_ignored(self, layer: str) -> bool:
        """Whether the layer is left out without a word."""
        return layer.casefold() in {name.casefold() for name in self.ignore}


def read_mapping(source: str | Path | Mapping[str, Any]) -> DrawingMapping:
    """Mapping from a YAML or JSON file, or from plain data; refused as any fact is."""
    if isinstance(source, str | Path):
        return load_fact(DrawingMapping, source)
    return parse_fact(DrawingMapping, source, source="mapping")


LAYER_TABLE = rows_beside(__file__, ".layers.csv")
"""Layer of each kind in the drawings that this package writes, and how it is drawn."""
LAYERS: dict[str, str] = {row["kind"]: row["layer"] for row in LAYER_TABLE}

_OWN = {layer: LayerMeaning(kind=kind) for kind, layer in LAYERS.items()}
OWN_MAPPING = DrawingMapping(layers=_OWN, ignore=("NAMES", "LEVEL-TEXTS", "SHEET"))
"""Mapping that reads such a drawing back; every field travels with its entity."""
