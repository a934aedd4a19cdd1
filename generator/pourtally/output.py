"""Where files go: their names, whole, and never over one that is there unless told so."""

from __future__ import annotations

import os
import platform
import secrets
import stat
import zlib
from contextlib import suppress
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

FOLDER = Path("output")
_PREFIX = f".pourtally-{zlib.crc32(platform.node().encode()):08x}-"  # of what this machine writes
_BINARY = getattr(os, "O_BINARY", 0)
_NO_FILE = "no file and no folder, but a device or a pipe; give the name of a file"
fcntl: Any = import_module("fcntl") if os.name == "posix" else None  # locks; Windows has others


@dataclass(frozen=True)
class Care:
    """How a file is written: whether over one that is there, and what it is made of.

    Nobody may read it who may not read each of its ``sources``.
    """

    replace: bool = True
    sources: tuple[Path, ...] = ()


OVER = Care()


class UseError(Exception):
    """What was asked for cannot be done; the text says why and what to do."""


def targets(names: list[str], out: str | None, replace: bool) -> list[Path]:
    """Return the workbook of each job, or raise ``UseError`` where one cannot be written."""
    place = Path(out) if out else FOLDER
    if place.exists() and not (place.is_dir() or place.is_file()):
        raise UseError(f"{out}: {_NO_FILE}")
    if place.is_file() and not place.suffix:
        raise UseError(f"{out}: is a file; expected a folder, or a name that ends in .xlsx")
    if place.is_dir() or not place.suffix:
        paths = [place / f"{name}.xlsx" for name in names]
    elif place.suffix.lower() != ".xlsx":
        raise UseError(f"{out}: a workbook's name ends in .xlsx; a folder must exist already")
    elif len(names) > 1:
        raise UseError(f"{out}: {len(names)} jobs do not fit in one workbook; give a folder")
    else:
        paths = [place]
    _all_different(paths)
    free(paths, replace)
    return paths


def with_suffix(path: Path, suffix: str) -> Path:
    """Return a path whose name ends as it must, or raise ``UseError``."""
    if path.exists() and not (path.is_dir() or path.is_file()):
        raise UseError(f"{path}: {_NO_FILE}")
    if path.is_dir() or path.suffix.lower() != suffix:
        raise UseError(f"{path}: expected a file whose name ends in {suffix}")
    return path


def free(paths: list[Path], replace: bool) -> None:
    """Raise ``UseError`` where a file stands already and may not be replaced."""
    taken = [str(p) for p in paths if p.is_dir() or (p.exists() and not replace)]
    if taken:
        raise UseError(
            f"{', '.join(taken)}: there already, nothing was written; "
            "give another name, or --replace to write over a file"
        )


def write_text(path: Path, text: str, care: Care = OVER) -> None:
    """Write a text, whole or not at all."""
    write_bytes(path, text.encode("utf-8"), care)


def write_bytes(path: Path, content: bytes, care: Care = OVER) -> None:
    """Write a file, whole or not at all; a link stays, and what it leads to is written.

    It is written beside the one that is there, and takes its name once all of it is on the disk.
    An ``OSError`` names ``path``, for nobody knows the other.
    """
    goal = _followed(path)
    try:
        goal.parent.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise UseError(f"{goal.parent}: a file is where a folder is needed; give another "
                       "name") from None  # fmt: skip
    part: Path | None = None
    handle = -1
    try:
        _sweep(goal.parent)
        handle, part = _begun(goal.parent)
        part.chmod(_mode(goal, part, care.sources))
        with os.fdopen(handle, "wb", closefd=False) as file:
            file.write(content)
            file.flush()
            os.fsync(handle)
        if not fcntl:  # where a file that is open has no other name
            handle = _closed(handle)
        _put(part, goal, care.replace)
    except BaseException as error:
        if part:
            part.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise OSError(error.errno, error.strerror or str(error), str(path)) from error
        raise
    finally:
        _closed(handle)


def _closed(handle: int) -> int:
    if handle >= 0:
        os.close(handle)
    return -1


def _followed(path: Path) -> Path:
    """Return what is to be written under a name: where a link leads, but to no device."""
    try:
        goal = path.resolve() if path.is_symlink() else path
    except RuntimeError:
        raise UseError(f"{path}: a link that leads back to itself; give another name") from None
    if goal.exists() and not goal.is_file():
        raise UseError(f"{path}: {_NO_FILE}")
    return goal


def _begun(folder: Path) -> tuple[int, Path]:
    """Return a new file that is locked as long as its writer lives, and its name."""
    while True:
        part = folder / f"{_PREFIX}{secrets.token_hex(8)}.part"
        handle = os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY | _BINARY, 0o666)
        try:
            if fcntl:
                with suppress(OSError):  # a disk of another machine may know no locks
                    fcntl.flock(handle, fcntl.LOCK_EX)
            if part.exists():  # and nobody took it for a leftover before it was locked
                return handle, part
        except BaseException:
            _closed(handle)
            part.unlink(missing_ok=True)
            raise
        _closed(handle)


def _mode(goal: Path, part: Path, sources: tuple[Path, ...]) -> int:
    """Return who may read a file: as before, else as usual, and nobody who may not its sources."""
    there = goal.stat() if goal.exists() else part.stat()
    if goal.exists() and hasattr(os, "chown"):
        with suppress(OSError):  # it stays whose it was, where that may be done
            os.chown(part, there.st_uid, there.st_gid)
    mode = stat.S_IMODE(there.st_mode) & 0o777
    for source in sources:
        with suppress(OSError):
            mode &= 0o700 | source.stat().st_mode
    return mode


def _put(part: Path, goal: Path, replace: bool) -> None:
    """Give a file its name, over none that came meanwhile unless it may be."""
    if replace:
        part.replace(goal)
        return
    try:
        try:
            os.link(part, goal)
        except FileExistsError:
            raise
        except OSError:  # a disk that gives a file one name only
            _closed(os.open(goal, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
            part.replace(goal)
    except FileExistsError:
        raise UseError(f"{goal}: written by another program meanwhile, and left as it is; give "
                       "another name, or --replace to write over it") from None  # fmt: skip
    part.unlink(missing_ok=True)


def _sweep(folder: Path) -> None:
    """Take away what a program that was killed left here: ours by its name, and locked no more."""
    for left in folder.glob(f"{_PREFIX}*.part") if fcntl else ():
        with suppress(OSError):
            handle = os.open(left, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
            try:
                there = os.fstat(handle)
                if stat.S_ISREG(there.st_mode) and there.st_uid == os.geteuid():
                    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                    left.unlink()
            finally:
                os.close(handle)


def _all_different(paths: list[Path]) -> None:
    seen: set[str] = set()
    for path in paths:
        name = str(path).casefold()  # as Windows and macOS compare names
        if name in seen:
            raise UseError(f"{path}: two jobs would be written to it; rename one of the job files")
        seen.add(name)
