"""A file that somebody names, to its bytes; whatever is no plain file is said to be none.

A pipe is never opened: nobody may ever write to it, and the program would wait for good.
"""

from __future__ import annotations

from pathlib import Path


class UnopenedError(Exception):
    """A file that cannot be read at all; the text says why and what to do."""


def start(path: Path, most: int) -> bytes:
    """Return a file's first bytes, at most so many and one more, which tells that it is longer."""
    try:
        if path.is_file():
            with path.open("rb") as file:
                return file.read(most + 1)
        there = path.exists()
    except (OSError, ValueError) as error:
        said = error.strerror if isinstance(error, OSError) else str(error)
        raise UnopenedError(f"cannot be read: {said}") from None
    if not there:
        raise UnopenedError("there is no such file; check the name and the folder")
    kind = "a folder" if path.is_dir() else "a pipe or a device"
    raise UnopenedError(f"not a file but {kind}")
