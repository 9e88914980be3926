"""Site surveys as surveyors send them, in and out: GeoJSON, DXF, CSV, XLSX.

Contents
--------
``geojson``, ``dxf_in``, ``dxf_out``, ``tables``   readers and writers
``mapping``    what the layers of a drawing mean
``grid``       projected coordinates and local grids
``parts``      features with their origin, the report, what is mended
``assemble``   parts to one validated site: :func:`site_from_parts`

A reader gives a :class:`SurveyPart`; several parts make one site.
"""

from __future__ import annotations

from liftcalc.survey.assemble import Survey, site_from_parts
from liftcalc.survey.dxf_in import read_dxf
from liftcalc.survey.dxf_out import PlanShape, write_dxf
from liftcalc.survey.geojson import read_geojson, write_geojson
from liftcalc.survey.grid import GridChange, LocalGrid
from liftcalc.survey.mapping import OWN_MAPPING, DrawingMapping, read_mapping
from liftcalc.survey.parts import Entry, Feature, SurveyPart, SurveyReport
from liftcalc.survey.tables import read_table, write_csv, write_xlsx

__all__ = [
    "OWN_MAPPING",
    "DrawingMapping",
    "Entry",
    "Feature",
    "GridChange",
    "LocalGrid",
    "PlanShape",
    "Survey",
    "SurveyPart",
    "SurveyReport",
    "read_dxf",
    "read_geojson",
    "read_mapping",
    "read_table",
    "site_from_parts",
    "write_csv",
    "write_dxf",
    "write_geojson",
    "write_xlsx",
]
