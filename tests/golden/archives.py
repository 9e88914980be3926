"""Packing records of a release as one file, and unpacking them again, byte for byte.

Releases before 0.2.0 stored each drawing three times. Here a drawing lies once: in page and
notebook a mark stands for it. That nothing was lost is shown by the manifests, whose hashes are
those of the whole files.
"""

from __future__ import annotations

import base64
import io
import json
import lzma
import tarfile
from pathlib import Path

ROOT = Path(__file__).parent


def _forms(name: str, drawing: bytes) -> list[tuple[bytes, bytes]]:
    """A mark, and the text that it stands for, in a page and in a notebook."""
    text = json.dumps(drawing.decode().rstrip("\n"), ensure_ascii=False)[1:-1].encode()
    mark = name.encode()
    return [(b"\x00p" + mark + b"\x00", base64.b64encode(drawing)), (b"\x00n" + mark + b"\x00", text)]


def pack(folder: Path, target: Path) -> None:
    """Write all records of *folder* into one file; the same records give the same bytes."""
    members = {}
    for record in sorted(p for p in folder.iterdir() if (p / "manifest.json").is_file()):
        content = {p.relative_to(record).as_posix(): p.read_bytes() for p in record.rglob("*") if p.is_file()}
        for drawing in [name for name in content if name.startswith("figures/")]:
            for mark, text in _forms(drawing, content[drawing]):
                for page in ("sheet.html", "sheet.ipynb"):
                    content[page] = content[page].replace(text, mark)
        members |= {f"{record.name}/{name}": data for name, data in content.items()}
    stream = io.BytesIO()
    with tarfile.open(fileobj=stream, mode="w", format=tarfile.PAX_FORMAT) as archive:
        for name in sorted(members, key=lambda n: (n.rsplit("/", 1)[1], n)):
            info = tarfile.TarInfo(name)
            info.size = len(members[name])
            archive.addfile(info, io.BytesIO(members[name]))
    target.write_bytes(lzma.compress(stream.getvalue(), preset=9 | lzma.PRESET_EXTREME))


def unpack(release: str, target: Path) -> list[Path]:
    """Write the records of a release into *target*; returns their folders, sorted."""
    with tarfile.open(ROOT / release / "records.tar.xz") as archive:
        archive.extractall(target, filter="data")
    folders = sorted(p for p in target.iterdir() if p.is_dir())
    for record in folders:
        for path in record.glob("figures/*"):
            for mark, text in _forms(f"figures/{path.name}", path.read_bytes()):
                for page in (record / "sheet.html", record / "sheet.ipynb"):
                    page.write_bytes(page.read_bytes().replace(mark, text))
    return folders


def releases() -> list[str]:
    """Every release whose records are kept here."""
    return sorted(p.parent.name for p in ROOT.glob("*/records.tar.xz"))
