"""Reading one file that may be anything: a regular one, and never more than stated."""

import os
import stat
from pathlib import Path

from liftcalc.base.errors import RecordError


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
