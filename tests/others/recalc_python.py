"""Works a workbook out with an engine for Python that is no part of the project's own tests.

python recalc_python.py ENGINE workbook.xlsx, the places of its formulas as JSON on the way in:
a JSON list of their values.
"""

from __future__ import annotations

import importlib
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

Place = tuple[str, int, int]


def by_formulon(path: Path, places: list[Place]) -> list[Any]:
    """Use Formulon, which is held against values that Excel itself gave."""
    formulon = importlib.import_module("formulon")
    with formulon.Workbook.load(path.read_bytes()) as book:
        book.recalc()
        sheets = {book.sheet_name(n): n for n in range(book.sheet_count())}
        values = (book.get_value(sheets[s], r - 1, c - 1) for s, r, c in places)
        return [f"#{v.error_code}" if v.kind.name == "ERROR" else v.to_python() for v in values]


def by_betteroffice(path: Path, places: list[Place]) -> list[Any]:
    """Use the engine of BetterOffice."""
    letters = importlib.import_module("openpyxl.utils").get_column_letter
    book = importlib.import_module("betteroffice_xlsx").Workbook.open_path(str(path))
    book.recalculate()
    sheets = {name: book[name] for name in {s for s, _, _ in places}}
    found = [sheets[s][f"{letters(c)}{r}"] for s, r, c in places]
    return [getattr(cell, "value", cell) for cell in found]


ENGINES: dict[str, Callable[[Path, list[Place]], list[Any]]] = {
    "formulon": by_formulon,
    "betteroffice_xlsx": by_betteroffice,
}

if __name__ == "__main__":
    name, workbook = sys.argv[1:]
    json.dump(ENGINES[name](Path(workbook), json.load(sys.stdin)), sys.stdout, default=str)
