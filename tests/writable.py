"""Records are read-only; a test that alters a copy makes it writable first."""

from pathlib import Path


def unlock(folder: Path) -> None:
    """Make a copied record writable."""
    for path in [folder, *folder.rglob("*")]:
        if not path.is_symlink():
            path.chmod(0o755 if path.is_dir() else 0o644)
