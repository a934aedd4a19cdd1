"""The files of the trade: where they are, and their tables."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from .model import TemplateError

Table = dict[str, Any]


def templates_folder() -> Path:
    """Return the folder of the trade's files, in a checkout or in an installed package."""
    installed = Path(__file__).parent / "templates"
    return installed if installed.is_dir() else Path(__file__).parents[2] / "templates"


def places_folder() -> Path:
    """Return the folder of the files of places."""
    return templates_folder() / "places"


@lru_cache(maxsize=1)
def release() -> str:
    """Return the version of this program."""
    try:
        return version("pourtally")
    except PackageNotFoundError:
        return "0"


def items(folder: Path) -> list[Path]:
    """Return the items' files in the order of their names."""
    return sorted((folder / "items").glob("*.toml"))


def read(path: Path, upto: str = "") -> Table:
    """Return a file's tables; examples stand last in it and are a third of the reading."""
    text = path.read_text(encoding="utf-8")
    try:
        return tomllib.loads(text.partition(upto)[0] if upto else text)
    except tomllib.TOMLDecodeError as error:
        raise TemplateError(f"{path.name}: {error}") from None


@lru_cache(maxsize=1)
def older() -> Table:
    """Return what older versions did not write into their workbooks: the codes of lines."""
    return read(templates_folder() / "older.toml")
