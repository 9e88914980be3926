"""Site surveys as surveyors send them, in and out: GeoJSON, DXF, CSV, XLSX.

``geojson``, ``dxf_in``, ``dxf_out``, ``tables`` readers and writers, each reader giving a part of a
survey; ``mapping`` what the layers of a drawing mean; ``grid`` projected coordinates and local
grids; ``parts`` features with their origin, the report, what is repaired; ``assemble`` several
parts to one validated site.
"""
