"""What the layers of a drawing mean: the mapping file of a DXF survey.

A mapping is YAML or JSON::

    units: m                # only used where the drawing does not say
    units_override: false   # true: the drawing's own unit is wrong, take the one above
    labels: [NAMES]         # layers whose texts name the outline they stand in
    ignore: [FRAME]         # layers left out without a word
    site: {id: ..., name: ..., grid: ..., datum: ..., provenance: {...}, ground: [...]}
    layers:
      BUILDINGS: {kind: obstacle, obstacle_kind: building, base_level_m: 4.0, top_level_m: 12.0}
      TREES: {kind: obstacle, obstacle_kind: tree, radius_m: 2.5, height_m: 9.0}
      LEVELS: {kind: spot level}

``kind`` is a kind of the site's GeoJSON; ``radius_m`` makes an area of a point or a block;
``height_m`` adds to the base level; ``level_m`` stands for levels that the drawing does not
carry; everything else goes to the fact as it is. Layer names match whatever their case, and may
end in ``*``.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from liftcalc.base.errors import InputError, Problem
from liftcalc.facts.io import read_data
from liftcalc.facts.site_geojson import KINDS

_US_FT_M = 1200.0 / 3937.0
UNITS_M: dict[str, float] = {
    "mm": 0.001, "cm": 0.01, "dm": 0.1, "m": 1.0, "dam": 10.0, "hm": 100.0, "km": 1000.0,
    "in": 0.0254, "ft": 0.3048, "yd": 0.9144, "mi": 1609.344, "us survey in": 100.0 / 3937.0,
    "us survey ft": _US_FT_M, "us survey yd": 3600.0 / 3937.0, "us survey mi": 5280.0 * _US_FT_M,
}  # fmt: skip
"""Metres in one drawing unit."""


@dataclass(frozen=True)
class LayerMeaning:
    """What one layer means.

    Attributes:
      kind: str
      properties: dict. Fields given to every feature of the layer.
      radius_m, height_m, level_m: optional. See the module docstring. [m]
    """

    kind: str
    properties: dict[str, Any] = field(default_factory=dict)
    radius_m: float | None = None
    height_m: float | None = None
    level_m: float | None = None


@dataclass(frozen=True)
class DrawingMapping:
    """Meaning of a drawing: layers, labels, what to ignore, units, and the site's own fields."""

    layers: dict[str, LayerMeaning]
    labels: tuple[str, ...] = ()
    ignore: tuple[str, ...] = ()
    units: str | None = None
    units_override: bool = False
    header: dict[str, Any] = field(default_factory=dict)

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
    """Mapping from a YAML or JSON file, or from plain data.

    Raises: Unknown fields, kinds or units, or values that are not what they should be.
    """
    where = str(source) if isinstance(source, str | Path) else "mapping"
    data = read_data(source) if isinstance(source, str | Path) else source
    problems: list[Problem] = []
    if not isinstance(data, Mapping):
        raise InputError.of("mapping", type(data).__name__, "an object", source=where)
    known = {"layers", "labels", "ignore", "units", "units_override", "site"}
    for key in sorted(set(data) - known):
        problems.append(Problem(key, data[key], "one of " + ", ".join(sorted(known))))
    units = data.get("units")
    if units is not None and units not in UNITS_M:
        problems.append(Problem("units", units, ", ".join(UNITS_M)))
    override = data.get("units_override", False)
    if not isinstance(override, bool) or (override and units is None):
        problems.append(Problem("units_override", override, "true or false; true needs units"))
    layers: dict[str, LayerMeaning] = {}
    raw = data.get("layers")
    if not isinstance(raw, Mapping) or not raw:
        problems.append(Problem("layers", raw, "one layer or more, each with its kind"))
        raw = {}
    for name, entry in raw.items():
        fields = dict(entry) if isinstance(entry, Mapping) else {}
        kind = fields.pop("kind", None)
        if not isinstance(kind, str) or kind not in KINDS:
            problems.append(Problem(f"layers.{name}.kind", kind, ", ".join(KINDS)))
            continue
        numbers: dict[str, float] = {}
        for key in ("radius_m", "height_m", "level_m"):
            value = fields.pop(key, None)
            good = isinstance(value, int | float) and not isinstance(value, bool)
            if good and (key == "level_m" or value > 0):
                numbers[key] = float(value)
            elif value is not None:
                problems.append(Problem(f"layers.{name}.{key}", value, "a number above 0"))
        layers[name] = LayerMeaning(kind, fields, **numbers)
    lists = {}
    for key in ("labels", "ignore"):
        value = data.get(key, [])
        if not isinstance(value, list | tuple) or not all(isinstance(v, str) for v in value):
            problems.append(Problem(key, value, "a list of layer names"))
            value = []
        lists[key] = tuple(value)
    header = data.get("site", {})
    if not isinstance(header, Mapping):
        problems.append(Problem("site", header, "an object"))
        header = {}
    if problems:
        raise InputError(problems, source=where)
    named = lists["labels"], lists["ignore"]
    return DrawingMapping(layers, *named, units, bool(override), dict(header))


_OTHER_NAMES = {"boundary": "SITE-BOUNDARY", "slope": "SLOPE-CRESTS"}
LAYERS: dict[str, str] = {
    kind: _OTHER_NAMES.get(kind, f"{kind.upper().replace(' ', '-')}S") for kind in KINDS
}
"""Layer of each kind in the drawings that this package writes."""

_OWN = {layer: LayerMeaning(kind) for kind, layer in LAYERS.items()}
OWN_MAPPING = DrawingMapping(_OWN, ignore=("NAMES", "LEVEL-TEXTS", "SHEET"))
"""Mapping that reads such a drawing back; every field travels with its entity."""
