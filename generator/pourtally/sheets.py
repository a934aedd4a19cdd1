"""The bytes of a workbook to what its cells hold; the only room that reads with openpyxl.

A sheet is parsed when it is first asked for: a workbook of ours has more workings than
entries, and only the entries are wanted.
"""

from __future__ import annotations

import io
import math
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import openpyxl
from openpyxl.utils.cell import coordinate_to_tuple

from .guard import Package, UnusableError

_MOST_ROWS, _MOST_COLUMNS = 10_000, 120
_CELL = re.compile(r"(?:'(.+)'|([^'!]+))!\$?([A-Z]{1,3})\$?(\d{1,7})")
_MOST_WHOLE = 2**53  # what a number of a cell holds to the last digit
_MOST_BITS = 1_023  # what a number of any program holds at all
_LONGEST_SAID = 100  # letters of what a library says of damage
LOGO = "the company's logo"
_PICTURE = re.compile(rb"<(?:\w+:)?(pic|cNvPr)(?=[\s>])[^<>]*>")  # a picture, and what tells of it

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

    def __init__(self, package: Package, stored: bool = False) -> None:
        """Open a workbook that has passed the guard."""
        self._package = package
        with _damage_told():
            self._book = openpyxl.load_workbook(
                io.BytesIO(package.raw), read_only=True, keep_links=False, data_only=stored
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
        parts = [name.lower() for name in self._package.names]
        pictures = [found for part in self._package.drawings for found in _pictures(part)]
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


def _pictures(drawing: bytes) -> Iterator[bytes]:
    """Yield what is said of each picture of a drawing."""
    begun = False
    for tag in _PICTURE.finditer(drawing):
        if tag[1] == b"cNvPr" and begun:
            yield tag[0]
        begun = tag[1] == b"pic"


def _cells(sheet: Any) -> Cells:
    rows = sheet.iter_rows(max_row=_MOST_ROWS, max_col=_MOST_COLUMNS)
    return {
        (row, column): (_kind(cell), _finite(cell.value))
        for row, cells in enumerate(rows)
        for column, cell in enumerate(cells)
        if cell.value is not None
    }


def _kind(cell: Any) -> str:
    return "%" if cell.data_type == "n" and "%" in cell.number_format else str(cell.data_type)


def _finite(value: Any) -> Any:
    """Return a value whose number fits a cell: one of 400 digits is beyond all, and so is inf."""
    if isinstance(value, int) and abs(value) > _MOST_WHOLE:
        if value.bit_length() < _MOST_BITS:
            return float(value)
        return math.inf if value > 0 else -math.inf
    return value


@contextmanager
def _damage_told() -> Iterator[None]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what openpyxl cannot keep, it need not
            yield
    except Exception as error:  # openpyxl fails in whatever way the damage leads to
        said = next(iter(str(error.__cause__ or error).splitlines()), "")[:_LONGEST_SAID]
        said = "a number with thousands of digits" if "digits" in said else said
        raise UnusableError(
            f"damaged: it cannot be read as a workbook ({said or type(error).__name__}); "
            "open it in your spreadsheet program and save it again"
        ) from error
