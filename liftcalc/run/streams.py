"""Printed output of a sheet's kernel, sent only when there is some.

Contents: :class:`Stream`. No formula and no published source.

A kernel flushes both streams before and after every cell and before every picture, and each time
waits for its sending thread to say that there was nothing to send. A sheet prints one line.
"""

from __future__ import annotations

from typing import Any

from ipykernel.iostream import OutStream

__all__ = ["Stream"]

_OutStream: Any = OutStream


class Stream(_OutStream):  # type: ignore[misc]  # a base without types
    """Output stream that does not wait when nothing was written since it was last flushed."""

    _written = False

    def write(self, string: str) -> Any:
        """Write text; it is sent at the next flush, or soon."""
        result = super().write(string)
        self._written = True  # not before: another thread may flush in between
        return result

    def flush(self) -> None:
        """Send what was written."""
        if self._written:
            self._written = False
            super().flush()
