"""Entities of a DXF drawing as pieces of geometry in metres, before they mean anything.

Blocks are exploded, arrays of them too; what is drawn from below or mirrored is taken where it is
seen (world coordinates), and what is drawn in a tilted plane is refused. Sources: DXF reference of
the format's publisher, as implemented by ezdxf.
"""

import re
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import Any

from shapely.geometry import Polygon

from liftcalc.base import strict_json
from liftcalc.base.errors import Problem, RecordError
from liftcalc.facts.limits import MOST_POINTS
from liftcalc.survey.mapping import DrawingMapping
from liftcalc.survey.parts import POLYGON_KINDS, Feature, Note, Point
from liftcalc.survey.repair import GREATEST_M

APP_ID = "LIFTCALC_SURVEY"
"""Name under which fields travel with an entity (extended data)."""

_CHORD_M = 0.01
_DECIMAL_M = (0.001, 0.01, 0.1, 1.0, 10.0, 100.0, 1000.0)
_PLANAR = {"LWPOLYLINE", "CIRCLE", "ARC", "HATCH", "INSERT", "TEXT", "ATTRIB"}  # in their own plane
FAULTS = (TypeError, ValueError, ZeroDivisionError, IndexError, AttributeError)
_CURVES = {"CIRCLE", "ARC", "ELLIPSE", "SPLINE"}
_POLYLINES = {"LWPOLYLINE", "POLYLINE", "LINE", *_CURVES}


@dataclass
class Piece:
    """Geometry of one entity, in metres."""

    layer: str
    points: list[Point]
    closed: bool
    where: str
    base: float | None
    thickness: float
    fields: dict[str, Any] | None
    kind: str  # entity type

    @property
    def is_point(self) -> bool:
        """Whether the entity is one place and no line."""
        return self.kind in ("POINT", "INSERT")


class EntityReader:
    """Takes entities one by one; with what is left out, repaired or wrong."""

    def __init__(self, name: str, mapping: DrawingMapping, scale: float) -> None:
        self.name, self.mapping, self.scale = name, mapping, scale
        self.text_levels: list[Feature] = []
        self.left_out: list[Note] = []
        self.repairs: list[Note] = []
        self.problems: list[Problem] = []
        self.pieces: defaultdict[str, list[Piece]] = defaultdict(list)
        self.labels: list[tuple[str, float, float]] = []
        self.unknown: Counter[tuple[str, str]] = Counter()
        self.points = 0

    def entity(self, entity: Any, layer: str | None = None) -> None:
        """Take one entity; *layer* is that of the block reference it lies in."""
        own = str(entity.dxf.get("layer", "0"))
        name = layer if layer is not None and own == "0" else own  # blocks: 0 means the insert's
        kind = entity.dxftype()
        if self.mapping.is_ignored(name):
            return
        meaning = self.mapping.meaning(name)
        if kind in _PLANAR or (kind == "POLYLINE" and entity.is_2d_polyline):
            up = entity.dxf.extrusion
            if not abs(up[0]) + abs(up[1]) <= 1e-6 and (meaning or self.mapping.is_label(name)):
                self.problems.append(Problem(self._where(entity, name), "drawn in a tilted plane", "drawn in plan"))
                return
        if kind in ("TEXT", "MTEXT", "ATTRIB"):
            self._text(entity, name)
            return
        if kind == "INSERT":
            several = entity.mcount > 1
            for part in entity.multi_insert() if several else entity.attribs:
                self.entity(part, name)
            if several:
                return
        if kind == "INSERT" and (meaning is None or meaning.radius_m is None):
            self._block(entity, name)
            return
        if kind == "HATCH" and meaning is not None and meaning.kind in POLYGON_KINDS:
            self._hatch(entity, name)
            return
        if meaning is None or kind not in {*_POLYLINES, "POINT", "INSERT"}:
            self.unknown[name, "no meaning" if meaning is None else kind] += 1
            return
        piece = self._piece(entity, name, kind)
        if piece is not None:
            self.pieces[name].append(piece)

    def _block(self, entity: Any, layer: str) -> None:
        """What a block reference draws; what of it cannot be drawn is reported."""
        where, block = self._where(entity, layer), entity.block()
        if block is None:
            self.problems.append(Problem(where, f"block {entity.dxf.get('name', '')!r} not in the "
                                         "file", "a block that the drawing holds"))  # fmt: skip
            return
        if block.block.is_xref:
            file = str(block.block.dxf.get("xref_path", "")) or block.name
            self.left_out.append(Note(where, f"external reference to {file!r}: not in this file"))
            return
        lost: list[str] = []
        try:
            parts = list(
                entity.virtual_entities(skipped_entity_callback=lambda e, why: lost.append(f"{e.dxftype()} ({why})"))
            )
        except FAULTS as error:
            self.problems.append(Problem(where, str(error), "a block that can be drawn"))
            return
        self.left_out += [Note(where, f"{what} of the block not read") for what in lost]
        for part in parts:
            self.entity(part, layer)

    def paper(self, document: Any) -> None:
        """Tell what stands on paper and not in the model."""
        for page in document.layouts:
            layers = [] if page.is_modelspace else [str(e.dxf.get("layer", "0")) for e in page]
            known = [x for x in layers if self.mapping.meaning(x) and not self.mapping.is_ignored(x)]
            if count := len(known):
                where = f"{self.name}, paper space {page.name}"
                self.left_out.append(Note(where, f"{count} entities: only model space is read"))

    def _where(self, entity: Any, layer: str) -> str:
        handle = entity.dxf.get("handle") or "of a block"
        return f"{self.name}, {entity.dxftype()} {handle} on layer {layer}"

    def _xyz(self, point: Any) -> Point:
        return tuple(float(point[k]) * self.scale for k in range(3))

    def _flat(self, path: Any, where: str) -> list[Point]:
        """Points of a line, curves by chords; none where it is too far, or after too many."""
        far = max((abs(v) for p in path.control_vertices() for v in p), default=0.0) * self.scale
        if not far <= GREATEST_M:
            self.problems.append(Problem(where, far, f"coordinates within {GREATEST_M:.0e} m"))
        if not far <= GREATEST_M or self.points > MOST_POINTS:
            return []
        points = [self._xyz(p) for p in path.flattening(_CHORD_M / self.scale)]
        self.points += len(points)
        return points

    def _hatch(self, entity: Any, layer: str) -> None:
        """Outlines of a filled area; what lies inside another outline of it is a hole, filled."""
        from ezdxf.path import from_hatch

        where = self._where(entity, layer)
        rings = [self._flat(path, where) for path in from_hatch(entity)]
        areas = [Polygon([p[:2] for p in ring]) for ring in rings if len(ring) >= 3]
        if len(areas) != len(rings):
            self.problems.append(Problem(where, "an outline without area", "areas"))
            return
        for k, (ring, area) in enumerate(zip(rings, areas, strict=True)):
            inside = any(
                j != k and other.contains(area.representative_point()) and other.area > area.area
                for j, other in enumerate(areas)
            )
            if inside:
                self.repairs.append(Note(where, "a hole filled: the area counts as solid"))
                continue
            base = ring[0][2] or None
            self.pieces[layer].append(Piece(layer, ring, True, where, base, 0.0, self._fields(entity, where), "HATCH"))

    def _piece(self, entity: Any, layer: str, kind: str) -> Piece | None:
        from ezdxf.path import make_path

        where = self._where(entity, layer)
        closed = False
        if kind == "POINT":
            points = [self._xyz(entity.dxf.location)]
        elif kind == "INSERT":
            points = [self._xyz(entity.ocs().to_wcs(entity.dxf.insert))]
        else:
            try:
                path = make_path(entity)
                points = self._own_levels(entity, kind, self._flat(path, where), where)
            except FAULTS as error:
                self.left_out.append(Note(where, f"not a plain line or curve ({error})"))
                return None
            if not points:
                self.left_out.append(Note(where, "a line of one point or none"))
                return None
            if kind in _CURVES or path.has_curves:
                chords = f"curve drawn by {len(points) - 1} chords within 10 mm"
                self.repairs.append(Note(where, chords))
            closed = bool(path.is_closed) or bool(getattr(entity, "is_closed", False))
        elevations = {round(p[2], 6) for p in points if len(p) > 2}
        base = (elevations.pop() or None) if len(elevations) == 1 else None
        high, fields = self._thickness(entity), self._fields(entity, where)
        return Piece(layer, points, closed, where, base, high, fields, kind)

    def _thickness(self, entity: Any) -> float:
        """Height of an extruded entity, negative downward. [m]"""
        if not entity.dxf.is_supported("thickness"):
            return 0.0
        up = float(entity.dxf.extrusion[2]) if entity.dxf.is_supported("extrusion") else 1.0
        return float(entity.dxf.get("thickness", 0.0)) * self.scale * (1.0 if up >= 0 else -1.0)

    def _own_levels(self, entity: Any, kind: str, points: list[Point], where: str) -> list[Point]:
        """Levels of the points themselves, where a polyline is marked flat but is not."""
        if kind != "POLYLINE" or not entity.is_2d_polyline or len(entity.vertices) != len(points):
            return points
        plane = entity.ocs()
        own = [self._xyz(plane.to_wcs(v.dxf.location)) for v in entity.vertices]
        if len({round(p[2], 6) for p in own}) < 2:
            return points
        self.repairs.append(Note(where, "marked flat; levels taken from its own points"))
        return own

    def _fields(self, entity: Any, where: str) -> dict[str, Any] | None:
        """Fields that travel with the entity, None when there are none."""
        if not entity.has_xdata(APP_ID):
            return None
        text = "".join(tag.value for tag in entity.get_xdata(APP_ID) if tag.code == 1000)
        try:
            fields = strict_json.loads(text)
        except RecordError:
            fields = None
        if not isinstance(fields, dict):
            self.problems.append(Problem(where, text[:60], "well-formed fields of this package"))
            return None
        return fields

    def _text(self, entity: Any, layer: str) -> None:
        text = entity.plain_text() if entity.dxftype() == "MTEXT" else entity.dxf.text
        text = str(text).strip()
        place = entity.dxf.insert
        if entity.dxftype() != "MTEXT":
            place = entity.ocs().to_wcs(entity.get_placement()[1])
        x, y, _ = self._xyz(place)
        if self.mapping.is_label(layer):
            self.labels.append((text, x, y))
            return
        meaning = self.mapping.meaning(layer)
        where = self._where(entity, layer)
        if meaning is not None and meaning.kind == "spot level":
            number = re.fullmatch(r"[+]?(-?\d+(?:[.,]\d+)?)\s*(m?)", text)
            if number and not number.group(2) and self.scale not in _DECIMAL_M:
                self.problems.append(
                    Problem(where, f"level {text!r} in a drawing that is not metric", "metres",
                            "Write the m behind it, or draw a point at that level.")
                )  # fmt: skip
                return
            if number:
                level = float(number.group(1).replace(",", "."))
                self.text_levels.append(Feature("spot level", ((x, y, level),), {}, where))
                return
            self.left_out.append(Note(where, f"text {text!r} is not a level"))
            return
        self.unknown[layer, "no meaning" if meaning is None else entity.dxftype()] += 1
