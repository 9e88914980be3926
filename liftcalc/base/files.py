"""Files: reading one that may be anything, writing one whole or not at all."""

import contextlib
import csv
import os
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path

from liftcalc.base.errors import InputError, RecordError


def rows_beside(module_file: str, ending: str = ".csv") -> list[dict[str, str]]:
    """Rows of the table that lies beside a module and is named like it."""
    text = Path(module_file).with_suffix(ending).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def read_regular(path: Path, limit: int, *, follow: bool = False) -> bytes:
    """Bytes of a regular file, never more than *limit*; through a link only to *follow* it.

    Raises: :class:`RecordError` with what is wrong, as the end of a sentence about the file. No
      device is opened, and no pipe is waited for.
    """
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        if not follow:
            flags |= getattr(os, "O_NOFOLLOW", 0)
            if path.is_symlink():
                raise RecordError("is a link, not a file")
        if not path.is_file() and path.exists():
            raise RecordError("is a folder, not a file" if path.is_dir() else _NOT_REGULAR)
        handle = os.open(path, flags)
    except FileNotFoundError:
        raise RecordError("is missing") from None
    except (OSError, ValueError) as error:
        raise RecordError(f"cannot be opened ({reason(error)})") from None
    info = os.fstat(handle)
    if not stat.S_ISREG(info.st_mode):
        os.close(handle)
        raise RecordError(_NOT_REGULAR)
    with os.fdopen(handle, "rb") as stream:
        if info.st_size > limit:
            raise RecordError(f"has {info.st_size} bytes, more than the {limit} allowed")
        try:
            data = stream.read(limit + 1)
        except OSError as error:
            raise RecordError(f"cannot be read ({reason(error)})") from None
    if len(data) > limit:
        raise RecordError(f"has more than the {limit} bytes allowed")
    return data


_NOT_REGULAR = "is not a regular file"


def reason(error: Exception) -> str:
    """Why the system refuses a file, in its own words."""
    return str(getattr(error, "strerror", None) or error)


@contextlib.contextmanager
def writing(field: str, path: Path, what: str = "folder") -> Iterator[None]:
    """Say of a path that cannot be written which input names it, and why."""
    try:
        yield
    except OSError as error:
        allowed = f"a {what} that can be written ({reason(error)})"
        raise InputError.of(field, str(path), allowed) from None


def write_file(path: Path, data: bytes, *, field: str = "output file", new: str = "") -> None:
    """Write a file whole or not at all, in the place of one of its name.

    new: What to do where a file has that name already, which is then refused and not replaced.
    """
    with writing(field, path, "file"):
        _write_whole(path, data, field, new)


def _write_whole(path: Path, data: bytes, field: str, new: str) -> None:
    if path.exists() and not path.is_file():  # a device or pipe would be gone
        raise InputError.of(field, str(path), "a regular file, or a new one")
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".part-file-")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, 0o644)
        if not new:
            os.replace(temporary, path)
            return
        try:
            os.link(temporary, path)  # fails where the name is taken, unlike a rename
        except OSError as error:
            if isinstance(error, FileExistsError) or path.exists():
                raise InputError.of(field, str(path), "a new file", new) from None
            os.rename(temporary, path)  # a file system without hard links
    finally:
        Path(temporary).unlink(missing_ok=True)
