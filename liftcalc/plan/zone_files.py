"""Exclusion zones as files for the setting out: GeoJSON, and DXF of release 12.

Metres on the site's own grid, as in the survey; the same bytes in every run; each carries the
cautions. The DXF is written here on the head of ``zones_head.dxf`` (line types and layers): a
library takes longer to load than a sheet's zones to calculate.

Sources: RFC 7946 (geometry); DXF reference of the format's publisher, release 12 (from memory).
"""

import json
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE, text_in_units
from liftcalc.facts.job import Job
from liftcalc.plan.zones import ExclusionZones

_TEXT_M, _MM = 0.6, partial(np.round, decimals=3)


def _marks(job: Job) -> list[str]:
    lift = job.lifts[0]
    heading = f"Exclusion zones, job {job.id}, lift {lift.id}: {lift.title}"
    return [heading, *([INVENTED_LINE] if job.invented else []), CAUTION_LINE]


def _features(zones: ExclusionZones) -> list[tuple[shapely.Geometry, dict[str, Any]]]:
    """Zones, barrier and its numbered corners, with what is said of each."""
    return [
        *((z.area, {"kind": "exclusion zone", "id": z.id, "title": z.title,
                    "rule": text_in_units(z.rule, "metric"), "source": z.source,
                    "area_m2": round(float(z.area.area), 2)}) for z in zones.zones),
        (zones.barrier, {"kind": "barrier", "id": "barrier", "title": "Barrier",
                         "area_m2": round(float(zones.barrier.area), 2),
                         "length_m": round(float(zones.barrier.length), 2)}),
        *((shapely.Point(c), {"kind": "barrier corner", "id": f"corner-{k}",
                              "title": f"{k}: E {c[0]:.1f} N {c[1]:.1f}"})
          for k, c in enumerate(zones.corners_m.tolist(), start=1)),
    ]  # fmt: skip


def zones_geojson(job: Job, zones: ExclusionZones) -> str:
    """Zones, barrier and its corners of a job's one lift as a GeoJSON FeatureCollection."""
    heading, *cautions = _marks(job)
    features = [{"type": "Feature", "properties": said,
                 "geometry": json.loads(shapely.to_geojson(shapely.transform(s, _MM)))}
                for s, said in _features(zones)]  # fmt: skip
    document = {"type": "FeatureCollection", "title": heading, "cautions": cautions,
                "invented": job.invented, "grid": job.site.grid, "features": features}  # fmt: skip
    return json.dumps(document, ensure_ascii=False) + "\n"


def zones_dxf(job: Job, zones: ExclusionZones) -> str:
    """The same as DXF, each zone on its layer."""
    rows: list[tuple[int, object]] = []

    def text(words: str, x: float, y: float) -> None:
        plain = "".join(c if " " <= c <= "~" else f"\\U+{min(ord(c), 0xFFFF):04X}" for c in words)
        rows.extend([(0, "TEXT"), (8, "ZONE-TEXT"), (10, x), (20, y), (40, _TEXT_M), (1, plain)])

    for shape, said in _features(zones):
        points = shapely.get_coordinates(shape).round(3).tolist()
        x, y = max(points, key=lambda p: (p[1], p[0]))
        text(said["title"], x + 0.3, y + 0.3)
        if shape.geom_type == "Point":
            rows += [(0, "POINT"), (8, "ZONE-BARRIER"), (10, x), (20, y)]
            continue
        layer = (8, f"ZONE-{said['id'].upper()}")
        for part in shapely.get_parts(shape):
            for ring in (part.exterior, *part.interiors):
                rows += [(0, "POLYLINE"), layer, (66, 1), (70, 1), (10, 0.0), (20, 0.0)]
                for x, y in shapely.get_coordinates(ring)[:-1].round(3).tolist():
                    rows += [(0, "VERTEX"), layer, (10, x), (20, y)]
                rows += [(0, "SEQEND"), layer]
    west, south = zones.corners_m.min(axis=0).tolist()
    for n, words in enumerate((*_marks(job), f"Metres on the grid: {job.site.grid}"), start=2):
        text(words, west, south - 2 * n * _TEXT_M)
    head = Path(__file__).with_name("zones_head.dxf").read_text(encoding="ascii")
    rows += [(0, "ENDSEC"), (0, "EOF")]
    return head + "".join(f"{code:3d}\n{value}\n" for code, value in rows)
