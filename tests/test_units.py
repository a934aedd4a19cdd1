"""Every formula worked out in units alone must come out in the unit its field declares.

Units are symbols here: foot, inch and yard know nothing of one another, so an area in
square feet times a thickness in inches is no volume until the constant that turns one
into the other stands in the formula.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache, reduce
from typing import Any

import formualizer
import pint
import pytest
from openpyxl.utils.cell import coordinate_to_tuple
from pint.facets.plain import PlainUnit

from pourtally.grid import is_formula
from pourtally.model import Part, Units
from pourtally.place import address
from pourtally.resolve import Resolver
from shop import laid_out, results, work_out

MIXED = {
    "limits.count": "each line counts the cells of an entry in its own unit",
    "drivers.value": "each line is a driver in its own unit",
    "drivers.narrow": "each line is a driver in its own unit",
    "drivers.on_area": "each line is a driver in its own unit, for a unit of area",
    "labor.quantity": "the driver chosen, in that driver's unit",
    "labor.slower": "the driver chosen, in that driver's unit",
    "labor.rate": "hours for each unit of the driver chosen",
    "supply.count": "each line is a package of its own, or tons",
    "prices.price": "money for one of what its line counts",
    "costs.count": "each line counts in its own unit",
    "card.count": "each line counts in its own unit",
    "costs.rate": "money for one of what its line counts",
    "subs.driven": "the driver chosen, in that driver's unit",
    "subs.each": "money for one of the driver's units",
    "own.driven": "the driver chosen, in that driver's unit",
    "own.typed": "how many for one of the driver's units, or in all",
    "own.price": "money for one of what its line counts",
    "receipts.quantity": "in the unit of the line of cost it pays for",
    "spent.planned": "each line counts in its own unit",
    "spent.count": "each line counts in its own unit",
    "spent.rate": "money for one of what its line counts",
    "learned_tasks.quantity": "the driver of the task, in its own unit",
    "learned_tasks.rate": "hours for each unit of the driver",
    "quantities_shown.value": "each line is a measure of its own",
    "hourly_day.in_shade": "a vapor pressure by Menzel, a power of the temperature by Uno",
    "hourly_day.in_sun": "the same",
    "hourly_day.factor": "of Menzel or of Uno",
    "hourly_day.still": "of Menzel or of Uno",
    "hourly_day.windy": "of Menzel or of Uno",
    "hourly.holds": "a vapor pressure by Menzel, a power of the temperature by Uno",
    "hourly.pull": "drying before the wind of Menzel or of Uno",
}
"""Columns whose lines have units of their own; what is worked out from them goes unjudged."""

GUARDS = {"const.least_step": "keeps a divisor from being 0, whatever its unit"}

ANGLES = ("degree", "radian")
SAME = {"SUM", "MIN", "MAX", "IFERROR"}
"""Functions whose arguments must share one unit, which is also the result's."""
FIRST = {"ROUND", "ROUNDUP", "ROUNDDOWN", "INT", "ABS", "N", "INDEX"}
"""Functions whose result has the unit of their first argument."""
PLAIN = {
    "COUNTIF", "COUNTIFS", "MATCH", "AND", "OR", "NOT", "PI", "MONTH", "DAY", "WEEKDAY",
}  # fmt: skip
"""Functions whose result is a plain number or a truth value, whatever they look at."""
FILLED = {"COUNT", "COUNTA", "ISBLANK", "ISERROR", "ISNUMBER", "ISTEXT", "LEN"}
"""The same, and they may look at cells of several units at once."""
RATIO = {
    "RADIANS", "SIN", "COS", "TAN", "ASIN", "ATAN2", "EXP", "LN", "NORMSDIST", "NORMSINV",
}  # fmt: skip
"""Functions of plain numbers (ATAN2: of two lengths) whose result is a plain number."""

Unit = PlainUnit | None
"""None goes with any unit: a text, the number 0, or what is not judged."""


class ClashError(Exception):
    """Units that do not go together; the text says where."""


class Checker:
    """Works formulas out in units alone, for one lay-out."""

    def __init__(self, units: Units) -> None:
        """Give every cell of the lay-out the unit its part declares."""
        book, places = laid_out(units)
        shown = results(units, {})
        texts = {key for key, column in shown.items() if isinstance(column[0], str)}
        self.unjudged = texts | set(MIXED) | set(GUARDS)
        names = {p.pint for _, _, p in book.parts.values()}
        self.registry = symbols(names)
        self.plain = self.registry.dimensionless
        self.declared = {k: self.unit(p.pint) for k, (_, _, p) in book.parts.items()}
        self.part_at = {
            (spot.sheet, *spot.at(line)): key
            for key, spot in places.spots.items()
            for line in range(book.parts[key][0].lines)
        }

    def unit(self, name: str) -> pint.Unit:
        """Return the unit of a name, with angles as plain numbers."""
        return self.registry.Unit(re.sub("|".join(ANGLES), "dimensionless", name))

    def complaint(self, key: str, formula: str, sheet: str) -> str:
        """Return what is wrong with the units of a part's formula, or nothing."""
        want = self.declared[key]
        try:
            got = self._of(formualizer.parse(formula).to_dict(), sheet)
        except ClashError as clash:
            return f"{key}: {clash}"
        if got is None or got == want:
            return ""
        return f"{key}: says {want}, comes out as {got}"

    def _of(self, node: dict[str, Any], sheet: str) -> Unit:
        kind = node["node_type"]
        if kind == "Literal":
            return None if isinstance(node["value"], str) or node["value"] == 0 else self.plain
        if kind == "Reference":
            return self._cells(node["reference"], sheet)
        if kind == "UnaryOp":
            return self._of(node["operand"], sheet)
        if kind == "BinaryOp":
            return self._operation(node, sheet)
        return self._call(node["name"].upper(), node["args"], sheet)

    def _operation(self, node: dict[str, Any], sheet: str) -> Unit:
        sign = node["operator"]
        left, right = self._of(node["left"], sheet), self._of(node["right"], sheet)
        if sign == "&":
            return None
        if sign == "*":
            return times(left, right)
        if sign == "/":
            return times(left, None if right is None else self.plain / right)
        if sign == "^":
            return self._power(left, node["right"])
        common = self._one([left, right], sign)
        return common if sign in "+-" else self.plain

    def _power(self, base: Unit, exponent: dict[str, Any]) -> Unit:
        if base is None or base == self.plain:
            return base
        if exponent["node_type"] != "Literal":
            raise ClashError(f"{base} to a power that is not a fixed number")
        return base ** float(exponent["value"])

    def _call(self, name: str, args: list[dict[str, Any]], sheet: str) -> Unit:
        if name in FILLED:
            return self.plain
        if name == "INDEX" and [a["node_type"] for a in args] == ["Reference", *["Literal"] * 2]:
            return self._cells(
                _cell(args[0]["reference"], args[1]["value"], args[2]["value"]), sheet
            )
        of = [self._of(a, sheet) for a in args]
        rules: dict[str, Callable[[], Unit]] = {
            **dict.fromkeys(SAME, lambda: self._one(of, name)),
            **dict.fromkeys(FIRST, lambda: of[0]),
            **dict.fromkeys(PLAIN, lambda: self.plain),
            **dict.fromkeys(RATIO, lambda: self._ratio(name, of)),
            **dict.fromkeys(("IF", "CHOOSE"), lambda: self._one(of[1:], name)),
            **dict.fromkeys(("SUMIF", "SUMIFS"), lambda: self._sum_if(name, of)),
            "SQRT": lambda: None if of[0] is None else of[0] ** 0.5,
            "SUMPRODUCT": lambda: reduce(times, of),
            **dict.fromkeys(("FIXED", "RIGHT", "SUBSTITUTE", "TRIM"), lambda: None),
            "ADDRESS": lambda: None,
            "HYPERLINK": lambda: of[1],
            "LOWER": lambda: None,
        }
        if name not in rules:
            raise ClashError(f"{name}: no rule of units; add one to this test")
        return rules[name]()

    def _ratio(self, name: str, of: list[Unit]) -> Unit:
        self._one(of if name == "ATAN2" else [*of, self.plain], name)
        return self.plain

    def _sum_if(self, name: str, of: list[Unit]) -> Unit:
        if name == "SUMIF":
            self._one(of[:2], name)
            return of[2]
        for number in range(1, len(of), 2):
            self._one(of[number : number + 2], name)
        return of[0]

    def _one(self, units: list[Unit], where: str) -> Unit:
        known = [u for u in units if u is not None]
        for unit in known[1:]:
            if unit != known[0]:
                raise ClashError(f"{where}: {known[0]} with {unit}")
        return known[0] if known else None

    def _cells(self, reference: str, sheet: str) -> Unit:
        name, _, area = reference.rpartition("!")
        corners = [_corner(c) for c in area.split(":")]
        (top, left), (bottom, right) = corners[0], corners[-1]
        found = {
            self.part_at.get((name or sheet, row, column), "")
            for row in range(top, bottom + 1)
            for column in range(left, right + 1)
        }
        if found & self.unjudged:
            return None
        found = found - {""} or found  # heads, labels and units stand at the ends of what is read
        return self._one([self.declared.get(k, self.plain) for k in sorted(found)], reference)


def times(one: Unit, other: Unit) -> Unit:
    """Return the unit of a product, unjudged where one of its units is."""
    return None if one is None or other is None else one * other


def symbols(names: set[str]) -> pint.UnitRegistry[Any]:
    """Return a registry in which every unit is a base of its own."""
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    for word in sorted({w for n in names for w in re.findall(r"[a-z_]+", n)} - {*ANGLES}):
        registry.define(f"{word} = [{word}]")
    return registry


def _corner(text: str) -> tuple[int, int]:
    row, column = coordinate_to_tuple(text.replace("$", ""))
    return row - 1, column - 1


def _cell(area: str, row: float, column: float) -> str:
    """Return the cell of an area by its numbers, which count from 1."""
    sheet, _, cells = area.rpartition("!")
    top, left = _corner(cells.split(":")[0])
    at = address(top + int(row) - 1, left + int(column) - 1)
    return f"{sheet}!{at}" if sheet else at


@lru_cache(maxsize=2)
def checker(units: Units) -> Checker:
    return Checker(units)


def complaints(units: Units) -> list[str]:
    """Return a line for every formula whose unit is not the declared one."""
    book, _ = laid_out(units)
    check, out, seen = checker(units), [], set()
    for cell in work_out(units, {})[0]:
        if not cell.part or not is_formula(cell.content) or cell.part in MIXED:
            continue
        if not book.parts[cell.part][2].formulas:
            continue  # fixed words, said in the language chosen
        formula = book.parts[cell.part][2].formula(cell.line)
        if "^}" in formula and cell.line == 0:
            continue  # a head stands above, which has no unit; the second line is judged
        if (cell.part, formula) not in seen:
            seen.add((cell.part, formula))
            wrong = check.complaint(cell.part, cell.content, cell.sheet)
            out += [f"{wrong}: {formula}"] if wrong else []
    return out


@pytest.mark.parametrize("units", ["us", "si"])
def test_every_formula_comes_out_in_its_declared_unit(units: Units) -> None:
    assert complaints(units) == []


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize(
    ("key", "wrong"),
    [
        ("pieces.volume", "{area}*{depth}"),
        ("pieces.volume", "{area}*{depth}/{const.cubic_length_per_volume}"),
        ("pieces.area", "{area}+{edge}"),
        ("pieces.area", "IF({used}=1,{area},{edge})"),
        ("pieces.edge", "SQRT({a})"),
        ("pieces.drop", "{a}*{usual.thickness}"),
        ("concrete.waste", "{neat}*{mixes.allowance}"),
        ("concrete.need", "MAX(0,{neat},{mixes.allowance})"),
        ("total.area", "SUM({mix_volume.neat[]})"),
        ("mix_volume.neat", "SUMIF({pieces.mix.no[]},{line},{pieces.area[]})"),
        ("outlines.edge", "SUMPRODUCT(({corners.outline[]}={line})*{corners.x[]}*{corners.y[]})"),
    ],
)
def test_a_wrong_formula_is_caught(units: Units, key: str, wrong: str) -> None:
    book, places = laid_out(units)
    block, _, part = book.parts[key]
    planted = Resolver(book, places).formula(block, replace(part, formulas=(wrong,)), 0)
    assert checker(units).complaint(key, planted, places.spots[key].sheet) != ""


@pytest.mark.parametrize("units", ["us", "si"])
def test_what_repeats_a_day_or_a_time_is_shown_as_one(units: Units) -> None:
    parts = laid_out(units)[0].parts
    bare = [(part, found[1]) for *_, part in parts.values() for formula in part.formulas
            if (found := re.fullmatch(r"\{([a-z_.]+)(?:\[\d*\])?\}", formula))]  # fmt: skip
    repeated = [(part, parts[key][2]) for part, key in bare if key in parts]
    assert len(repeated) > 100
    wrong = [part.key for part, of in repeated if dated(of) and not dated(part)]
    assert wrong == []


def dated(part: Part) -> bool:
    """Tell whether a number is shown as a day or as a time of day."""
    return bool(re.search(r"h:mm|yy|mmm|ddd", part.format))
