"""A survey read from files of several formats, and written in another."""

from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

from liftcalc.base.errors import InputError
from liftcalc.facts.io import read_data
from liftcalc.facts.site import Site
from liftcalc.survey.assemble import site_from_parts
from liftcalc.survey.dxf_in import read_dxf
from liftcalc.survey.dxf_out import write_dxf
from liftcalc.survey.geojson import read_geojson, write_geojson
from liftcalc.survey.mapping import OWN_MAPPING, read_mapping
from liftcalc.survey.tables import read_table, write_csv, write_xlsx

_WRITERS: dict[str, Callable[[Site, Path], Path]] = {
    ".geojson": write_geojson,
    ".dxf": write_dxf,
    ".csv": write_csv,
    ".xlsx": write_xlsx,
}


def convert(files: Iterable[Path], out: Path, *, mapping: Path | None = None, header: Path | None = None) -> list[str]:
    """Read a survey from *files* and write it to *out*; returns the lines of the report.

    *mapping* says what the layers of a drawing mean, *header* holds the site's own fields. Nothing
    is written unless the whole site is valid.
    """
    if out.suffix.lower() not in _WRITERS:
        raise InputError.of("out", str(out), "a file that ends in " + ", ".join(_WRITERS))
    layers = OWN_MAPPING if mapping is None else read_mapping(mapping)
    readers = dict.fromkeys((".geojson", ".json"), read_geojson) | {
        ".dxf": partial(read_dxf, mapping=layers), ".csv": read_table, ".xlsx": read_table
    }  # fmt: skip
    parts = []
    for path in files:
        if (suffix := path.suffix.lower()) not in readers:
            raise InputError.of(str(path), suffix, ".geojson, .json, .dxf, .csv or .xlsx")
        parts.append(readers[suffix](path))
    members = None if header is None else read_data(header)
    if members is not None and not isinstance(members, dict):
        raise InputError.of(str(header), type(members).__name__, "a mapping of site fields")
    read = site_from_parts(parts, header=members)
    _WRITERS[out.suffix.lower()](read.site, out)
    return list(read.report.lines())
