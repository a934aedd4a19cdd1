"""Adapters: a written workbook goes in, the value of every formula cell comes out.

Each engine loads the file as a person's program would; none sees the cells in memory.
Numbers come as float, truth values as 0 and 1, texts as they are, nothing as "".
"""

from __future__ import annotations

import contextlib
import gc
import io
import math
import re
import warnings
import zipfile
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from decimal import ROUND_DOWN, ROUND_HALF_UP, ROUND_UP, Context, Decimal
from functools import lru_cache, partial
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import formualizer
import formulas
import ironcalc
import numpy as np
import openpyxl
import schedula
from formulas.functions import (
    Array,
    parse_ranges,
    raise_errors,
    wrap_func,
    wrap_impure_func,
    wrap_ufunc,
    xfilters,
)
from formulas.functions.look import xindex
from formulas.ranges import Ranges
from openpyxl.utils import get_column_letter
from openpyxl.utils.cell import coordinate_to_tuple
from openpyxl.utils.datetime import to_excel

from programs import convert

EPOCH = datetime(1899, 12, 30)
"""Day 0 of a spreadsheet."""

Place = tuple[str, int, int]
"""Sheet, row and column, counted from 1 as spreadsheets do."""

Value = float | str
Values = dict[Place, Value]


def formula_cells(path: Path) -> dict[Place, str]:
    """Return the formula of every formula cell as it stands in the file."""
    return {place: formula for place, (formula, _) in _written(path).items()}


def stored(path: Path) -> Values:
    """Return the values written beside the formulas: what a preview shows."""
    return {place: value for place, (_, value) in _written(path).items()}


def by_ironcalc(path: Path) -> Values:
    """Load the written file, not the model in memory, and work it out again."""
    model, numbers = _ironcalc(path)
    return {
        (sheet, row, column): _plain(model.get_cell_value(numbers[sheet], row, column))
        for sheet, row, column in formula_cells(path)
    }


def _ironcalc(path: Path) -> tuple[Any, dict[str, int]]:
    """Return the file worked out, and the number of each of its sheets."""
    model = ironcalc.load_from_xlsx(str(path), "en", "UTC", "en")
    model.evaluate()
    return model, {p["name"]: i for i, p in enumerate(model.get_worksheets_properties())}


def truths(path: Path) -> list[Place]:
    """Return the formula cells whose value is a truth value, which programs show each in its way.

    Of the engines this one tells a truth value from a number.
    """
    model, numbers = _ironcalc(path)
    return [
        (sheet, row, column)
        for sheet, row, column in formula_cells(path)
        if isinstance(model.get_cell_value(numbers[sheet], row, column), bool)
    ]


def by_formualizer(path: Path) -> Values:
    """Work the file out with formualizer."""
    book = formualizer.load_workbook(str(path))
    book.evaluate_all()
    return {place: _plain(book.get_value(*place)) for place in formula_cells(path)}


def thinned(path: Path, copy: Path, gone: set[Place]) -> Path:
    """Copy a workbook with the stored value alone in some of the cells that hold a formula."""
    with zipfile.ZipFile(path) as package, zipfile.ZipFile(copy, "w") as out:
        sheets = re.findall(r'<sheet name="(\w+)"', package.read("xl/workbook.xml").decode())
        for part in package.namelist():
            content = package.read(part)
            if match := re.fullmatch(r"xl/worksheets/sheet(\d+)\.xml", part):
                name = sheets[int(match[1]) - 1]
                here = {f"{get_column_letter(c)}{r}" for s, r, c in gone if s == name}
                content = _CELL.sub(partial(_value_alone, here), content.decode()).encode()
            out.writestr(part, content)
    return copy


_CELL = re.compile(r'(<c r="([A-Z]+\d+)"[^>]*>)<f>[^<]*</f>')


def _value_alone(gone: set[str], cell: re.Match[str]) -> str:
    return cell[1] if cell[2] in gone else cell[0]


class _Model(formulas.ExcelModel):  # type: ignore[misc]  # a library without types
    """A model that leaves the names of cells alone: no formula uses one."""

    def add_references(self, book: Any, context: Any = None) -> dict[str, Any]:
        """Return no names."""
        return {}


def by_formulas(paths: Sequence[Path]) -> dict[Path, Values]:
    """Work out files of one lay-out with formulas, loading the formulas once.

    Loading takes most of the time, so the first file is loaded, and what the others hold
    in place of its entries is put in before each is worked out.
    """
    first, *_ = paths
    asked = formula_cells(first)
    assert all(formula_cells(p) == asked for p in paths), "the files differ in their formulas"
    _correct(formulas.get_functions())
    gc.disable()  # thousands of small graphs: looking for rubbish in them takes a third longer
    try:
        with warnings.catch_warnings(), contextlib.redirect_stderr(io.StringIO()):
            warnings.simplefilter("ignore")
            model = _Model().loads(str(first)).finish()
            return {p: _by_formulas(model, first, p, asked) for p in paths}
    finally:
        gc.enable()


def _by_formulas(model: _Model, first: Path, path: Path, asked: Iterable[Place]) -> Values:
    def name(place: Place) -> str:
        sheet, row, column = place
        return f"'[{first.name}]{sheet.upper()}'!{get_column_letter(column)}{row}"

    here, there = _typed(first), _typed(path)
    nothing = np.asarray([[schedula.EMPTY]], object)
    changed = {
        name(p): there.get(p, nothing)
        for p in here.keys() | there.keys()
        if here.get(p) != there.get(p)
    }
    solution = model.calculate(inputs=changed)
    return {place: _plain(solution[name(place)].value[0, 0]) for place in asked}


def _typed(path: Path) -> dict[Place, Any]:
    """Return what stands in the cells that hold no formula."""
    return {
        (sheet.title, cell.row, cell.column): to_excel(cell.value) if cell.is_date else cell.value
        for sheet in openpyxl.load_workbook(path)
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None and cell.data_type != "f"
    }


def by_libreoffice(
    paths: Iterable[Path], folder: Path, country: str = "en-US"
) -> dict[Path, Values]:
    """Let LibreOffice recalculate the files, all in one call with a profile of its own.

    It then works as in a country, such as "de-DE", where a comma is the decimal sign.
    """
    profile, out = folder / "profile", folder / "out"
    (profile / "user").mkdir(parents=True, exist_ok=True)
    (profile / "user" / "registrymodifications.xcu").write_text(_PROFILE.format(country), "utf-8")
    files = list(paths)
    convert(files, "xlsx", out, profile)
    worked = {}
    for path in files:
        worked[path] = stored(out / path.name)
    return worked


_PROFILE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry"
 xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
<item oor:path="/org.openoffice.Setup/L10N">
<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{}</value></prop></item>
</oor:items>
"""


def difference(one: Value, other: Value) -> bool:
    """Tell whether two engines disagree on a cell."""
    if isinstance(one, float) and isinstance(other, float):
        return not math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)
    return one != other


@lru_cache(maxsize=20)
def _written(path: Path) -> dict[Place, tuple[str, Value]]:
    """Return formula and value of every formula cell, straight from the file's XML."""
    out: dict[Place, tuple[str, Value]] = {}
    with zipfile.ZipFile(path) as package:
        links = ET.fromstring(package.read("xl/_rels/workbook.xml.rels"))
        targets = {link.get("Id"): link.get("Target") for link in links}
        for sheet in ET.fromstring(package.read("xl/workbook.xml")).iter(f"{_MAIN}sheet"):
            content = package.read(f"xl/{targets[sheet.get(_LINK)]}")
            for cell in ET.fromstring(content).iter(f"{_MAIN}c"):
                formula = cell.findtext(f"{_MAIN}f")
                if formula is not None:
                    row, column = coordinate_to_tuple(cell.get("r", ""))
                    words = cell.get("t") in ("str", "e")
                    value = cell.findtext(f"{_MAIN}v") or ""
                    here = (sheet.get("name", ""), row, column)
                    out[here] = (f"={formula}", value if words or not value else float(value))
    return out


_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_LINK = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


def _plain(value: Any) -> Value:
    if value is None:
        return ""
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, (bool, int, float)):
        return float(value)
    return str(value)


def _correct(functions: dict[str, Any]) -> None:
    """Replace what formulas works out otherwise than spreadsheets do.

    Its roundings are a cent off on some halves, its N leaves a truth value as it is
    (or makes 0 of it), where N(TRUE) is 1, its INDEX knows no whole row, its COUNTIFS
    takes "<>", which is any cell that holds something, for "before >".  It has no HYPERLINK.
    """
    for name, rounding in (
        ("ROUND", ROUND_HALF_UP),
        ("ROUNDUP", ROUND_UP),
        ("ROUNDDOWN", ROUND_DOWN),
    ):
        functions[name] = wrap_ufunc(_decimal(rounding))
    functions["N"] = wrap_func(_number)
    index = {**functions["INDEX"], "function": wrap_impure_func(wrap_func(_index, ranges=True))}
    functions["INDEX"] = index
    functions["COUNTIFS"] = wrap_func(_count)
    functions["HYPERLINK"] = wrap_func(_linked)


def _linked(_: Any, words: Any) -> Any:
    """Return the words of a link, which is what its cell shows; the library has no links."""
    return words


def _count(*pairs: Any) -> Any:
    told: list[Any] = []
    for cells, condition in zip(pairs[::2], pairs[1::2], strict=True):
        if np.asarray(condition, object).ravel()[0] == "<>":
            holds = np.vectorize(lambda v: "yes" if v not in (schedula.EMPTY, "") else "no")
            told += [holds(np.asarray(cells, object)).astype(object), "yes"]
        else:
            told += [cells, condition]
    return xfilters(len, None, *told)


def _index(array: Any, row: Any, column: Any = None, area: Any = 1) -> Any:
    (line, over), _ = parse_ranges(row, column)
    if over is None or np.asarray(over, object).ravel()[0] != 0:
        return xindex(array, row, column, area)
    at = int(np.asarray(line, object).ravel()[0]) - 1
    values = array.value if isinstance(array, Ranges) else array
    return values[at : at + 1].view(Array)


def _number(value: Any) -> Any:
    first = np.asarray(value, object).ravel()[0]
    raise_errors(first)
    counts = isinstance(first, (bool, int, float, np.bool_, np.number))
    return np.asarray([[float(first) if counts else 0.0]], object).view(Array)


def _decimal(rounding: str) -> Callable[[float, float], float]:
    def rounded(number: float, digits: float) -> float:
        # Spreadsheets keep 15 digits, and so do the roundings.
        short = Context(prec=15).create_decimal(repr(float(number)))
        return float(short.quantize(Decimal(1).scaleb(-int(digits)), rounding, Context(prec=40)))

    return rounded
