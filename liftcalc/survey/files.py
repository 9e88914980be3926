"""Writing a survey whole or not at all, and never over another."""

from pathlib import Path

from liftcalc.base.files import write_file, writing


def write_beside(path: Path, content: bytes) -> Path:
    """Write a new file; raises where there is one already, or the folder cannot be written."""
    with writing("path", path, "file"):
        remedy = "Choose another name; nothing is overwritten."
        write_file(path, content, field="path", new=remedy)
    return path
