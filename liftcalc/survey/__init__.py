"""Site surveys as surveyors send them, in and out: GeoJSON, DXF, CSV, XLSX."""
