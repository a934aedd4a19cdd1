"""The bytes of a workbook to what its cells hold; the only room that reads with openpyxl.

A sheet is parsed when it is first asked for: a workbook of ours has more workings than
entries, and only the entries are wanted.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import openpyxl
from openpyxl.utils.cell import coordinate_to_tuple

from .guard import UnusableError

_MOST_ROWS, _MOST_COLUMNS = 10_000, 120
_CELL = re.compile(r"(?:'(.+)'|([^'!]+))!\$?([A-Z]{1,3})\$?(\d{1,7})")
LOGO = "the company's logo"
_PICTURE = re.compile(rb"<(?:\w+:)?pic[\s>].*?<(?:\w+:)?cNvPr\s[^>]*>", re.DOTALL)

Cells = dict[tuple[int, int], tuple[str, Any]]
"""What stands at a row and column, counted from 0: its kind and value.

The kind is openpyxl's: n number, s text, b truth value, d date or time, e error, f formula;
and % for a number shown as a percentage.
"""

Where = tuple[str, int, int]
"""Sheet, row and column, counted from 0."""


class Sheets(dict[str, Cells]):
    """The cells of each sheet by its name; nothing where there is no such sheet.

    Cells are as typed, or with ``stored`` as the last program worked them out.
    """

    def __init__(self, raw: bytes, stored: bool = False) -> None:
        """Open a workbook that has passed the guard."""
        self._raw = raw
        with _damage_told():
            self._book = openpyxl.load_workbook(
                io.BytesIO(raw), read_only=True, keep_links=False, data_only=stored
            )

    def __missing__(self, name: str) -> Cells:
        """Parse a sheet."""
        self[name] = {}
        if name in self._book.sheetnames:
            with _damage_told():
                self[name] = _cells(self._book[name])
        return self[name]

    def description(self) -> str:
        """Return what the workbook's properties say of it."""
        return str(self._book.properties.description or "")

    def added(self, ours: set[str], logo: str) -> list[str]:
        """Return what is no cell of ours: sheets, comments, pictures, and the ``LOGO``.

        A logo is a picture whose description begins with the words ``logo``.
        """
        with zipfile.ZipFile(io.BytesIO(self._raw)) as package:
            parts = [name.lower() for name in package.namelist()]
            drawn = [package.read(n) for n in package.namelist() if "xl/drawings/d" in n.lower()]
        pictures = [found for part in drawn for found in _PICTURE.findall(part)]
        logos = [found for found in pictures if f'descr="{logo}'.encode() in found]
        files = sum("xl/media/" in name for name in parts)
        sheets = [f"the sheet {name!r}" for name in self._book.sheetnames if name not in ours]
        sheets += ["comments"] * any("comments" in name for name in parts)
        sheets += ["pictures"] * (len(pictures) > len(logos) or files > len(pictures))
        return sheets + [LOGO] * bool(logos)

    def names(self) -> dict[str, Where]:
        """Return the names that point at a single cell of a sheet that is there."""
        names: dict[str, Where] = {}
        for name, defined in self._book.defined_names.items():
            match = _CELL.fullmatch(defined.value or "")
            if match:
                sheet = (match.group(1) or match.group(2)).replace("''", "'")
                row, column = coordinate_to_tuple(match.group(3) + match.group(4))
                if sheet in self._book.sheetnames:
                    names[name] = (sheet, row - 1, column - 1)
        return names

    def astray(self) -> dict[str, str]:
        """Return the names that point at anything else, and what they say of it."""
        known = self.names()
        defined = self._book.defined_names.items()
        return {name: str(one.value) for name, one in defined if name not in known}


def _cells(sheet: Any) -> Cells:
    rows = sheet.iter_rows(max_row=_MOST_ROWS, max_col=_MOST_COLUMNS)
    return {
        (row, column): (_kind(cell), cell.value)
        for row, cells in enumerate(rows)
        for column, cell in enumerate(cells)
        if cell.value is not None
    }


def _kind(cell: Any) -> str:
    return "%" if cell.data_type == "n" and "%" in cell.number_format else str(cell.data_type)


@contextmanager
def _damage_told() -> Iterator[None]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what openpyxl cannot keep, it need not
            yield
    except Exception as error:  # openpyxl fails in whatever way the damage leads to
        raise UnusableError(
            f"damaged: it cannot be read as a workbook ({type(error).__name__}: {error}); "
            "open it in your spreadsheet program and save it again"
        ) from error
