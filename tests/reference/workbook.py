"""A workbook filled in by a test: entries typed line by line, results by the real formulas."""

from __future__ import annotations

from typing import Any

from pourtally.build import laid_out, results
from pourtally.model import Entries

from .measure import Length, Units, base


class Answers:
    """The values of one workbook."""

    def __init__(self, units: Units, values: dict[str, list[Any]]) -> None:
        """Take {part key: one value a line}."""
        self.units, self.values = units, values

    def __getitem__(self, key: str) -> list[Any]:
        """Return a column as the workbook shows it."""
        return self.values[key]

    def base(self, key: str, kind: str) -> list[float]:
        """Return a column of figures of one kind in SI base units."""
        return [base(v or 0.0, kind, self.units) for v in self.values[key]]


def answers(units: Units, typed: dict[str, Any]) -> Answers:
    """Type {block: lines, or one line, of {entry: value}} over the defaults and work it out.

    A value None empties the cell; a ``Length`` is typed as the workbook asks for it.
    """
    book, _ = laid_out(units)
    entries: Entries = {}
    for block, lines in typed.items():
        for number, line in enumerate(lines if isinstance(lines, list) else [lines]):
            for key, value in line.items():
                parts = value.cells() if isinstance(value, Length) else {"": value}
                for suffix, content in parts.items():
                    part = f"{block}.{key}{suffix}"
                    if part not in entries:
                        owner, _, declared = book.entries()[part]
                        entries[part] = [declared.value(n) for n in range(owner.lines)]
                    entries[part][number] = float(content) if isinstance(content, int) else content
    return Answers(units, results(units, entries))
