"""Site survey from a DXF drawing, by a mapping of layers to meanings.

Taken from model space: polylines of both kinds, lines (joined end to end where a ring is asked for), circles, arcs,
ellipses and splines (drawn by chords within 10 mm), outlines of hatches, points, texts that name an outline or state a
level, and block references (exploded; or as a round thing where the mapping states a radius). Everything else, and
every layer without a meaning, is left out and named.

Levels: an entity's own elevation, where it is not 0, is the base of an obstacle, and its
thickness its height; the mapping's values stand in for what the drawing does not carry.

Sources: DXF reference of the format's publisher, as implemented by ezdxf.
"""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from liftcalc.base.errors import InputError, Problem, missing_extra
from liftcalc.facts.limits import MOST_ENTITIES, MOST_POINTS
from liftcalc.facts.plain import read_input, require_few
from liftcalc.survey import parts
from liftcalc.survey.blocks import require_explodable
from liftcalc.survey.dxf_entities import FAULTS, EntityReader, Piece
from liftcalc.survey.joining import end_to_end
from liftcalc.survey.mapping import UNIT_OF_CODE, UNITS_M, DrawingMapping, LayerMeaning
from liftcalc.survey.parts import LINE_KINDS, POLYGON_KINDS, Feature, Note, Point, SurveyPart
from liftcalc.survey.repair import CLOSE_GAP_M, REPEATED_M, apart_m, repaired

_ENTITY = re.compile(rb"^ *0 *\r?\n *[A-Z_]", re.MULTILINE)


class _DrawingReader(EntityReader):
    def __init__(self, name: str, mapping: DrawingMapping, scale: float) -> None:
        super().__init__(name, mapping, scale)
        self.features: list[Feature] = []
        self.taken: list[Note] = []
        self.counter: Counter[str] = Counter()
        self.used_ids: set[str] = set()

    def finish(self) -> None:
        for level in self.text_levels:
            self._add(level)
        for layer, pieces in self.pieces.items():
            meaning = self.mapping.meaning(layer)
            if meaning is None:
                continue
            if meaning.kind in POLYGON_KINDS:
                self._areas(meaning, pieces)
                continue
            for piece in pieces:
                if piece.is_point and meaning.kind in LINE_KINDS:
                    self.left_out.append(Note(piece.where, f"a point, not a {meaning.kind}"))
                elif not piece.is_point and meaning.kind not in LINE_KINDS:
                    self.left_out.append(Note(piece.where, f"not a point ({meaning.kind})"))
                else:
                    self._emit(meaning, piece)
        for (layer, what), count in sorted(self.unknown.items()):
            words = "the mapping gives no meaning" if what == "no meaning" else f"{what} not read"
            self.left_out.append(Note(f"{self.name}, layer {layer}", f"{count} entities: {words}"))

    def _areas(self, meaning: LayerMeaning, pieces: list[Piece]) -> None:
        loose: list[Piece] = []
        for piece in pieces:
            if piece.is_point and meaning.radius_m is None:
                why = "a point; the mapping states no radius_m for its area"
                self.left_out.append(Note(piece.where, why))
            elif piece.is_point:
                x, y = piece.points[0][:2]
                self._emit(meaning, piece, parts.circle_around(x, y, meaning.radius_m or 0.0))
            elif piece.closed or apart_m(piece.points[0], piece.points[-1]) <= CLOSE_GAP_M:
                self._emit(meaning, piece)
            else:
                loose.append(piece)
        for piece, count in self._joined(loose):
            if count > 1:
                self.repairs.append(Note(piece.where, f"{count} separate lines joined end to end"))
            self._emit(meaning, piece)

    def _joined(self, loose: list[Piece]) -> Iterable[tuple[Piece, int]]:
        """Open pieces joined end to end where just two of their ends meet within the gap."""
        once: dict[frozenset[tuple[Point, ...]], Piece] = {}
        for piece in loose:
            line = tuple(tuple(round(v, 3) for v in p[:2]) for p in piece.points)
            if once.setdefault(frozenset((line, line[::-1])), piece) is not piece:
                self.repairs.append(Note(piece.where, "the same line drawn again: taken once"))
        left = list(once.values())
        if not left:
            return
        reported: set[tuple[float, ...]] = set()
        for chain in end_to_end([p.points[0][:2] for p in left], [p.points[-1][:2] for p in left], gap=CLOSE_GAP_M):
            first, count = left[chain.lines[0][0]], len(chain.lines)
            where = first.where if count == 1 else f"{first.where} and {count - 1} more"
            if chain.junctions:
                x, y = chain.junctions[0]
                if (at := (round(x, 1), round(y, 1))) not in reported:
                    reported.add(at)
                    self.problems.append(
                        Problem(where, f"three line ends or more at ({x:.3f}, {y:.3f})", "two",
                                "Draw each outline there as one closed polyline.")
                    )  # fmt: skip
                continue
            points: list[Point] = []
            for k, backward in chain.lines:
                more = left[k].points[::-1] if backward else left[k].points
                joined = bool(points) and apart_m(points[-1], more[0]) <= REPEATED_M
                points += more[1:] if joined else more
            yield replace(first, points=points, closed=False, where=where), count

    def _emit(self, meaning: LayerMeaning, piece: Piece, corners: Sequence[Point] | None = None) -> None:
        points = tuple(piece.points if corners is None else corners)
        fields = dict(meaning.properties if piece.fields is None else piece.fields)
        if meaning.kind == "obstacle" and piece.fields is None:
            base = fields.get("base_level_m", piece.base)
            if base is not None:
                fields["base_level_m"] = float(base)
                height = piece.thickness or meaning.height_m
                if piece.thickness < 0 and "base_level_m" not in meaning.properties:
                    fields["base_level_m"], height = float(base) + piece.thickness, -piece.thickness
                if "top_level_m" not in fields and height:
                    fields["top_level_m"] = fields["base_level_m"] + abs(float(height))
        if meaning.level_m is not None and meaning.kind in ("spot level", "overhead line"):
            points = tuple((p[0], p[1], meaning.level_m if len(p) < 3 or p[2] == 0 else p[2]) for p in points)
        if meaning.kind in POLYGON_KINDS:
            points = tuple(p[:2] for p in points)
        # drawings hold 0 where they hold no level at all
        flat = [p for p in points if len(p) < 3 or p[2] == 0] if piece.fields is None else []
        if meaning.kind == "spot level" and flat:
            self.left_out.append(Note(piece.where, "level 0: taken as not stated"))
            return
        if meaning.kind == "overhead line" and flat:
            given, wanted = "level 0 at every point", "the level of the lowest conductor"
            remedy = "Draw {} or state level_m in the mapping."
            if len(flat) == len(points):
                remedy = remedy.format("the line in space,")
            else:
                given = f"level 0 at ({flat[0][0]:.3f}, {flat[0][1]:.3f}), not at every point"
                wanted, remedy = f"{wanted} at each", remedy.format("each point at its level,")
            self.problems.append(Problem(piece.where, given, wanted, remedy))
            return
        self._add(
            Feature(meaning.kind, points, fields, piece.where),
            closed=piece.closed or len(points) < 2 or piece.is_point,
            layer=piece.layer,
        )

    def _add(self, feature: Feature, *, closed: bool = True, layer: str = "") -> None:
        good, notes, faults = repaired(feature, closed=closed)
        self.repairs += notes
        self.problems += faults
        if good is None:
            return
        if good.kind not in ("boundary", "spot level") and "id" not in good.properties:
            good = replace(good, properties={"id": self._id(good, layer), **good.properties})
        self.features.append(good)
        self.taken.append(Note(good.where, good.kind))

    def _id(self, feature: Feature, layer: str) -> str:
        """Name from the text in the outline or by the line, else from the layer and a number."""
        text = self._label(feature)
        made = name = re.sub(r"[^A-Za-z0-9_.-]+", "-", text or "").strip("-.")[:40]
        stem = re.sub(r"[^A-Za-z0-9_.-]+", "-", name or layer or feature.kind).strip("-.")[:34]
        while not made or made in self.used_ids:
            self.counter[stem] += 1
            made = f"{stem or 'item'}-{self.counter[stem]}"
        self.used_ids.add(made)
        return made

    @cached_property
    def label_points(self) -> Any:
        """Places of the names, once all are known."""
        return shapely.points([label[1:] for label in self.labels])

    def _label(self, feature: Feature) -> str | None:
        if not self.labels:
            return None
        flat = [p[:2] for p in feature.points]
        area = feature.shape == "Polygon"
        shape = Polygon(flat) if area else LineString(flat if len(flat) > 1 else flat * 2)
        gaps = shapely.distance(shape, self.label_points)
        nearest = int(np.argmin(gaps))
        return self.labels[nearest][0] if gaps[nearest] <= (0.0 if area else 2.0) else None


def _units(code: int, mapping: DrawingMapping, path: Path, notes: list[Note]) -> str:
    """Unit of the drawing: its own, or the mapping's where it says none or is overridden."""
    units = UNIT_OF_CODE.get(code, mapping.units)
    if units is None or (code and code not in UNIT_OF_CODE and not mapping.units_override):
        given = f"code {code} in the drawing" if code else "not stated in the drawing"
        wrong = ", and units_override: true where the drawing's own is wrong" if code else ""
        remedy = f"State units in the mapping{wrong}."
        raise InputError.of("units", given, ", ".join(UNITS_M), remedy, source=str(path))
    if code in UNIT_OF_CODE and mapping.units not in (None, units):
        if not mapping.units_override:
            raise InputError.of(
                "units", mapping.units, f"{units}, as the drawing says",
                "If the drawing is wrong, say so by units_override: true.", source=str(path),
            )  # fmt: skip
        notes.append(Note(path.name, f"the drawing says {units}; overridden by the mapping"))
        units = str(mapping.units)
    elif code and code not in UNIT_OF_CODE:
        notes.append(Note(path.name, f"the drawing's unit code {code}; overridden by the mapping"))
    return units


def read_dxf(path: str | Path, mapping: DrawingMapping) -> SurveyPart:
    """Features of a DXF drawing.

    Raises: Not a DXF file, no unit known, or ezdxf (extra ``cad``) not installed.
    """
    try:
        from ezdxf import recover
        from ezdxf.filemanagement import readfile
        from ezdxf.lldxf.const import DXFError, DXFStructureError
    except ImportError:
        raise missing_extra("cad", f"DXF file {path}") from None
    notes: list[Note] = []
    name = Path(path).name
    count = len(_ENTITY.findall(read_input(Path(path))))
    require_few(count, MOST_ENTITIES, f"entities of {name}")
    try:
        try:
            document = readfile(path)
        except DXFStructureError:
            document, audit = recover.readfile(path)
            notes.append(
                Note(name, f"a damaged file: {len(audit.fixes)} faults repaired or taken out by "
                      f"the reader, {len(audit.errors)} remaining")
            )  # fmt: skip
        require_explodable(document, source=name)
        entities = list(document.modelspace())
        code = int(document.header.get("$INSUNITS", 0) or 0)
    except InputError:
        raise
    except Exception as error:  # a damaged file raises whatever its reader stumbles over
        why = " ".join(str(error).split())[:120] or type(error).__name__
        raise InputError.of("path", str(path), f"a readable DXF file ({why})") from None
    units = _units(code, mapping, Path(path), notes)
    notes.append(Note(name, f"drawing unit {units}; coordinates read in metres"))
    reader = _DrawingReader(name, mapping, UNITS_M[units])
    for entity in entities:
        try:
            reader.entity(entity)
        except (DXFError, *FAULTS) as error:
            where = f"{name}, {entity.dxftype()} {entity.dxf.get('handle', '')}"
            reader.problems.append(Problem(where, str(error)[:120], "an entity that can be read"))
        require_few(reader.points, MOST_POINTS, f"points of {name}, curves as chords")
    reader.finish()
    reader.paper(document)
    report = map(tuple, (reader.taken, reader.left_out, reader.repairs, notes))
    features, problems = tuple(reader.features), tuple(reader.problems)
    return SurveyPart(features, parts.SurveyReport(*report), problems, dict(mapping.header))
