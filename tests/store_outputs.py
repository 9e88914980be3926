"""Run notebooks in place and store their outputs, without timings, paths or pictures.

``python tests/store_outputs.py templates/*.ipynb`` after a change of a template. Drawing cells
(tag ``nbval-ignore-output``) are run, but their pictures are not stored: they would bury every
later change of the notebook.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient


def joined(outputs: list[Any]) -> list[Any]:
    """Outputs with printed text in one piece: where a kernel parts it differs from run to run."""
    kept: list[Any] = []
    for output in outputs:
        last = kept[-1] if kept else {}
        if output["output_type"] == "stream" and last.get("name") == output["name"]:
            last["text"] += output["text"]
        else:
            kept.append(output)
    return kept


def store(path: Path) -> None:
    """Execute one notebook and write it back with outputs that every run repeats."""
    notebook = nbformat.read(path, 4)
    resources = {"metadata": {"path": str(path.parent)}}
    NotebookClient(
        notebook, timeout=600, record_timing=False, store_widget_state=False, kernel_name="python3", resources=resources
    ).execute()
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        if cell.cell_type == "code":
            cell.outputs = joined(cell.outputs)
        for output in cell.get("outputs", []):  # a widget lives only as long as its kernel
            output.get("data", {}).pop("application/vnd.jupyter.widget-view+json", None)
        if "nbval-ignore-output" in cell.metadata.get("tags", []):
            cell.outputs = []
    notebook.metadata["language_info"] = {"name": "python"}
    nbformat.write(notebook, path)


if __name__ == "__main__":
    for name in sys.argv[1:]:
        store(Path(name).resolve())
