"""Engines that work a workbook out, and where one of them differs by itself.

No engine sees a stored value: each stands in the file as a wrong one.  A cell that differs
makes those differ that read it; so an engine that does not agree gets each formula once more
by itself, with the true values of all it reads: what differs then is its own way.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import zipfile
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import formualizer
import xlsxwriter
from openpyxl.utils import range_boundaries
from openpyxl.utils.cell import coordinate_to_tuple
from xlsxwriter.worksheet import Worksheet

import engines
from engines import Place, Value, Values

from .contents import cells
from .trips import HERE, GaveUpError, LeftOutError, found, modules, run

WRONG = {"number": "-987654321", "words": "not worked out"}
"""What stands in a file in place of what a formula comes to."""

_STORED = re.compile(r'(<c r="[^"]*"[^>]*>)(<f>[^<]*</f>)<v[^>]*>[^<]*</v>')
_CORNER = r"\$?([A-Z]{1,3})\$?(\d+)"
_REFERENCE = re.compile(
    rf"(?<![\w.$!:])(?:(?:'([^']+)'|([A-Za-z]\w*))!)?{_CORNER}(?::{_CORNER})?(?![\w(])"
)
_WORDS = re.compile(r'"[^"]*"')

Engine = Callable[[Path, Path, Path | None], Values]
"""From a workbook, a folder to work in, and the folder of what was installed, to values."""


@dataclass
class Worked:
    """What an engine made of a workbook: cells, those that differ, those that do so first."""

    cells: int
    differ: int
    own: dict[Place, tuple[str, Value, Value]] = field(default_factory=dict)


def wrong(path: Path, copy: Path) -> Path:
    """Copy a workbook with a wrong value beside each formula."""
    with zipfile.ZipFile(path) as package, zipfile.ZipFile(copy, "w") as out:
        for part in package.namelist():
            content = package.read(part)
            if part.startswith("xl/worksheets/sheet"):
                content = _STORED.sub(_wrong, content.decode()).encode()
            out.writestr(part, content)
    return copy


def _wrong(cell: re.Match[str]) -> str:
    value = WRONG["words" if 't="str"' in cell[1] else "number"]
    return f"{cell[1]}{cell[2]}<v>{value}</v>"


def held(engine: Engine, path: Path, folder: Path, installed: Path | None) -> Worked:
    """Hold what an engine makes of a workbook against what is stored in it.

    What differs first stands in ``own`` even where the formula by itself is right.
    """
    formulas, shown = engines.formula_cells(path), engines.stored(path)
    worked = engine(wrong(path, folder / path.name), folder, installed)
    if missing := shown.keys() - worked.keys():
        raise GaveUpError(f"gave no value for {len(missing)} cells")
    differ = {p for p in shown if engines.difference(shown[p], worked[p])}
    if not differ:
        return Worked(len(shown), 0)
    by_itself = engine(alone(path, folder / f"alone-{path.name}"), folder, installed)
    alike = {(f"{sheet}_", row, column): (sheet, row, column) for sheet, row, column in shown}
    own = {
        alike[p]: (formulas[alike[p]], shown[alike[p]], value)
        for p, value in by_itself.items()
        if p in alike and engines.difference(shown[alike[p]], value)
    }
    before = {p: (formulas[p], shown[p], worked[p]) for p in first(differ, formulas)}
    return Worked(len(shown), len(differ), before | own)


def alone(path: Path, copy: Path) -> Path:
    """Copy a workbook as values, and each formula to a sheet of its own that reads those.

    So what a formula comes to follows from no other formula.
    """
    with xlsxwriter.Workbook(copy, _PLAIN) as out:
        sheets: dict[str, Worksheet] = {}
        for (name, row, column), cell in cells(path).items():
            at = (row - 1, column - 1)
            for asked in (name, f"{name}_"):
                if asked not in sheets:
                    sheets[asked] = out.add_worksheet(asked)
            if cell.formula is not None:
                words = isinstance(cell.value, str)
                lie = WRONG["words" if words else "number"]
                told = lie if words else float(lie)
                sheets[f"{name}_"].write_formula(*at, f"={away(cell.formula, name)}", None, told)
            if isinstance(cell.value, float):
                sheets[name].write_number(*at, cell.value)
            elif cell.value:
                sheets[name].write_string(*at, cell.value)
            elif cell.formula is not None:
                sheets[name].write_formula(*at, '=""', None, WRONG["words"])  # no empty cell
    return copy


_PLAIN = dict.fromkeys(("strings_to_formulas", "strings_to_urls", "strings_to_numbers"), False)


def away(formula: str, sheet: str) -> str:
    """Return a formula that reads the cells of its sheet from another one."""
    parts = re.split(r'("[^"]*")', formula)
    return "".join(
        part
        if n % 2
        else _REFERENCE.sub(lambda m: m[0] if m[1] or m[2] else f"{sheet}!{m[0]}", part)
        for n, part in enumerate(parts)
    )


def first(differ: set[Place], formulas: dict[Place, str]) -> set[Place]:
    """Return the cells that differ while all they read agrees; all, where they go in a circle."""
    columns: dict[tuple[str, int], list[int]] = defaultdict(list)
    for sheet, row, column in sorted(differ):
        columns[sheet, column].append(row)

    def reads_another(place: Place) -> bool:
        return any(
            _within(columns.get((sheet, column), []), top, bottom)
            for sheet, left, top, right, bottom in read(formulas[place], place[0])
            for column in range(left, right + 1)
        )

    return {p for p in differ if not reads_another(p)} or differ


def _within(rows: list[int], top: int, bottom: int) -> bool:
    at = bisect_left(rows, top)
    return at < len(rows) and rows[at] <= bottom


def read(formula: str, sheet: str) -> list[tuple[str, int, int, int, int]]:
    """Return the ranges that a formula reads: sheet, left, top, right and bottom."""
    out = []
    for quoted, name, *corners in _REFERENCE.findall(_WORDS.sub('""', formula)):
        left, top, right, bottom = corners
        ref = f"{left}{top}:{right or left}{bottom or top}"
        x0, y0, x1, y1 = range_boundaries(ref)
        out.append((quoted or name or sheet, x0, y0, x1, y1))
    return out


def again(path: Path, asked: Iterable[str]) -> dict[str, Value]:
    """Work cells such as Start!B2 out with formualizer, whatever program wrote the workbook.

    IronCalc takes an empty cell with a look, as some programs write it, for one that holds a text.
    """
    book = formualizer.load_workbook(str(path))
    book.evaluate_all()
    worked = {}
    for name in asked:
        sheet, at = name.split("!")
        worked[name] = _plain(book.get_value(sheet, *coordinate_to_tuple(at)))
    return worked


def _by_libreoffice(path: Path, folder: Path, _: Path | None) -> Values:
    found("soffice", "libreoffice-calc")
    try:
        return engines.by_libreoffice([path], folder)[path]
    except subprocess.SubprocessError as error:
        raise GaveUpError.told(str(error)) from None


def _by_ironcalc(path: Path, _: Path, __: Path | None) -> Values:
    return engines.by_ironcalc(path)


def _by_formualizer(path: Path, _: Path, __: Path | None) -> Values:
    return engines.by_formualizer(path)


def _by_formulas(path: Path, _: Path, __: Path | None) -> Values:
    return engines.by_formulas([path])[path]


def _by_gnumeric(path: Path, folder: Path, _: Path | None) -> Values:
    out = folder / "gnumeric.xlsx"
    run(found("ssconvert", "gnumeric"), "--recalc", path, out)
    return {p: c.value for p, c in cells(out).items() if c.formula is not None}


def _by_hyperformula(path: Path, _: Path, installed: Path | None) -> Values:
    own = modules(installed, "hyperformula", "xlsx")
    told = run("node", HERE / "recalc_hyperformula.mjs", own, path)
    return {(s, r, c): _plain(v) for s, r, c, v in json.loads(told)}


def _by_python(module: str) -> Engine:
    def worked(path: Path, _: Path, installed: Path | None) -> Values:
        if installed is None or not (installed / "python" / module).exists():
            raise LeftOutError(f"{module} not in the folder given; see --install")
        places = list(engines.formula_cells(path))
        done = subprocess.run(
            [sys.executable, HERE / "recalc_python.py", module, path], check=False,
            input=json.dumps(places), capture_output=True, text=True, timeout=600,
            env=os.environ | {"PYTHONPATH": str(installed / "python")},
        )  # fmt: skip
        if done.returncode:
            raise GaveUpError.told(done.stderr)
        return dict(zip(places, map(_plain, json.loads(done.stdout)), strict=True))

    return worked


def _plain(value: Any) -> Value:
    if value is None:
        return ""
    return float(value) if isinstance(value, (bool, int, float)) else str(value)


ENGINES: dict[str, Engine] = {
    "LibreOffice": _by_libreoffice,
    "IronCalc": _by_ironcalc,
    "formualizer": _by_formualizer,
    "Formulon": _by_python("formulon"),
    "BetterOffice": _by_python("betteroffice_xlsx"),
    "Gnumeric": _by_gnumeric,
    "HyperFormula": _by_hyperformula,
    "formulas": _by_formulas,
}
"""Each engine; ``formulas`` takes minutes."""
