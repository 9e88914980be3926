"""What goes to the terminal: nothing in it acts, and work does not stop when nobody reads it."""

import io
import os
import sys
from typing import Any, TextIO

from liftcalc.base.foreign import visible


class _Outlet(io.FileIO):
    """Output whose reader may go away: the words then go nowhere, the work goes on."""

    def write(self, data: Any) -> int:
        try:
            return super().write(data)
        except BrokenPipeError:
            return len(data)


def outlet(stream: TextIO | None) -> TextIO:
    """The stream of this process as one that a closed pipe does not stop; none is a black hole."""
    if stream is None:
        return open(os.devnull, "w", encoding="utf-8")
    if stream.isatty() or not isinstance(stream, io.TextIOWrapper):
        return stream
    raw: Any = io.BufferedWriter(_Outlet(stream.fileno(), "w", closefd=False))
    return io.TextIOWrapper(raw, stream.encoding, "backslashreplace", line_buffering=True)


def say(text: str, *, err: bool = False) -> None:
    """Print lines in which every sign that acts or hides is shown as its number."""
    print("\n".join(map(visible, text.split("\n"))), file=sys.stderr if err else sys.stdout)
