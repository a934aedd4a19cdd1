"""A workbook filled in by a test: entries typed line by line, results by the real formulas.

A file of tests says once which blocks or parts it asks for, and only what these need is
worked out. ``test_part_of_a_book`` makes sure that this comes to the same as the whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from pourtally.model import Entries
from pourtally.percent import kept, told
from shop import keys_of, laid_out, results

from .measure import Length, Units, base

Typed = dict[str, Any]
"""{block: lines, or one line, of {entry: value}}; a value None empties a cell."""


class Answers:
    """The values of one workbook."""

    def __init__(self, units: Units, values: dict[str, list[Any]]) -> None:
        """Take {part key: one value a line}."""
        self.units, self.values = units, values

    def __getitem__(self, key: str) -> list[Any]:
        """Return a column as the workbook shows it; only those asked for are there."""
        return self.values[key]

    def base(self, key: str, kind: str) -> list[float]:
        """Return a column of figures of one kind in SI base units."""
        return [base(v or 0.0, kind, self.units) for v in self.values[key]]


def asking(*names: str) -> Callable[[Units, Typed], Answers]:
    """Return what shows the parts of some blocks, or single parts, of any workbook."""

    def answers(units: Units, typed: Typed) -> Answers:
        parts = laid_out(units)[0].parts
        worked = results(units, entries(units, typed), keys_of(units, names))
        return Answers(units, {
            key: [told(parts[key][2], value) for value in column]
            for key, column in worked.items()
        })  # fmt: skip

    return answers


def entries(units: Units, typed: Typed) -> Entries:
    """Return the usual entries of the parts that are typed, with what is typed put in."""
    parts = laid_out(units)[0].parts
    filled: Entries = {}
    for key, line, value in contents(typed):
        block, _, part = parts[key]
        assert part.kind == "entry", f"{key} is no entry"
        column = filled.setdefault(key, [part.value(n) for n in range(block.lines)])
        held = kept(part, value)
        column[line] = float(held) if isinstance(held, int) else held
    return filled


def contents(typed: Typed) -> Iterator[tuple[str, int, Any]]:
    """Return every cell that is typed: its part's key, its line from 0, its content."""
    for block, lines in typed.items():
        for number, line in enumerate(lines if isinstance(lines, list) else [lines]):
            for key, value in line.items():
                parts = value.cells() if isinstance(value, Length) else {"": value}
                for suffix, content in parts.items():
                    yield f"{block}.{key}{suffix}", number, content
