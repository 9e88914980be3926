"""Writing a file whole or not at all, and never over another."""

import os
import tempfile
from pathlib import Path

from liftcalc.base.errors import InputError


def write_beside(path: Path, content: bytes) -> Path:
    """Write *content* beside *path* and name it so in one step; refuses an existing file.

    Raises: The file exists already, or the folder cannot be written.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
            os.chmod(name, 0o644)
            os.link(name, path)  # fails where the name is taken, unlike a rename
        finally:
            os.unlink(name)
    except FileExistsError:
        raise InputError.of(
            "path", str(path), "a new file", "Choose another name; nothing is overwritten."
        ) from None
    except OSError as error:
        raise InputError.of(
            "path", str(path), f"a file that can be written ({error.strerror})"
        ) from None
    return path
