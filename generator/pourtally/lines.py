"""Which line of ours each line of a table in a workbook is.

A table may have had fewer lines, or more, where another template made the workbook; the
numbers beside its lines tell whether all of them stand in order.  A table that collects has
a line for each item that gives to it, and items come and go: so its lines are known by the
codes that stand beside them.  A version that wrote none is told apart by the order its lines
had, which ``older.toml`` keeps.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from .files import older
from .model import Block
from .place import Places, address
from .sheets import Cells, Sheets, Where

CODED = (0, 4, 0)
"""The first version that writes the codes of every table that collects."""

Lines = dict[int, int | str]
"""{line there: line here, or what it was called where there is none here}, counted from 0."""


@dataclass(frozen=True)
class Given:
    """A workbook as far as its lines are to be told: its cells, its names, who made it."""

    typed: Sheets
    spots: dict[str, Where]
    made: tuple[int, ...]


def known_lines(
    given: Given, places: Places, block: Block, entries: list[str]
) -> tuple[Lines, list[str]]:
    """Return the lines of a block that a workbook has, and what is wrong with them.

    ``entries`` are those of the block that stand in the workbook, at least one.
    """
    if block.shape == "form":
        return {0: 0}, []
    first = entries[0]
    numbers = _numbers(given, places, block, first)
    count = next((n for n, at in enumerate(numbers) if at != (n, n + 1)), len(numbers))
    if count < len(numbers) or not count or _filled(given, places, entries, count):
        return {}, [f"{block.title}: line {count + 1} is not where it belongs, so nothing of this "
                    "table is taken. A row or column was put in or taken out: undo that, or copy "
                    "the entries into a fresh workbook"]  # fmt: skip
    if not block.codes:
        return {line: line if line < block.lines else str(line + 1) for line in range(count)}, []
    column = _column(given, block, first)
    if column is None:
        return _by_order(given, block, count)
    sheet, row, _ = given.spots[first]
    return _by_code(given.typed[sheet], block, (sheet, row, column), count)


def _numbers(given: Given, places: Places, block: Block, first: str) -> list[tuple[int, Any]]:
    """Return the numbers beside or over the lines of a table, each with how far on it stands.

    They end where those of the next table begin.  Over lines they stand in the nearest row
    that begins with 1: older workbooks have a drawing between.
    """
    sheet, row, column = given.spots[first]
    ours = places.spots[first]
    ones = (
        down
        for (down, right), (kind, number) in given.typed[sheet].items()
        if right == column and down < row and (kind, number) == ("n", 1)
    )
    head = max(ones, default=row - 1)
    beside = [
        (down - row if ours.down else right - column, number)
        for (down, right), (kind, number) in given.typed[sheet].items()
        if kind == "n" and (right == 0 if ours.down else down == head)
    ]
    numbers = sorted(found for found in beside if found[0] >= 0)
    ends = (n for n, (_, number) in enumerate(numbers) if n and number == 1)
    return numbers[: next(ends, None)]


def _filled(given: Given, places: Places, entries: list[str], line: int) -> bool:
    """Tell whether something stands where a line would follow the last one, though it has none."""
    stand = [given.spots[key] for key in entries if places.spots[key].down]
    return any((row + line, column) in given.typed[sheet] for sheet, row, column in stand)


def _column(given: Given, block: Block, first: str) -> int | None:
    """Return the column in which the codes of a table stand, by its name or by its head."""
    if there := given.spots.get(f"{block.key}.code"):
        return there[2]
    sheet, row, _ = given.spots[first]
    head = older().get("headed", {}).get(block.key)
    heads = (c for (r, c), (_, said) in given.typed[sheet].items() if r == row - 1 and said == head)
    return next(heads, None)


def _by_code(cells: Cells, block: Block, where: Where, count: int) -> tuple[Lines, list[str]]:
    sheet, row, column = where
    renamed = older().get("renamed", {}).get(block.key, {})
    lines: Lines = {}
    seen: dict[str, int] = {}
    problems = []
    for line in range(count):
        code = str(cells.get((row + line, column), ("", ""))[1]).strip()
        here = f"{sheet} {address(row + line, column)} ({block.title}, line {line + 1})"
        if code and code not in seen:
            seen[code] = line
            lines[line] = _ours(block, renamed.get(code, code))
        else:
            wrong = f"the code {code!r} of line {seen[code] + 1}" if code else "no code"
            problems.append(f"{here}: has {wrong}, so nothing of this line is taken: "
                            "copy its entries into a fresh workbook")  # fmt: skip
    return lines, problems


def _by_order(given: Given, block: Block, count: int) -> tuple[Lines, list[str]]:
    """Return the lines of a version that wrote no codes, as it ordered them."""
    if given.made >= CODED:
        return {}, [f"{block.title}: the codes of its lines are not found, so nothing of this "
                    "table is taken. Copy the entries into a fresh workbook"]  # fmt: skip
    codes = _codes_then(block, given.made)
    if len(codes) != count:
        return {}, [f"{block.title}: has {count} lines and no codes beside them; expected "
                    f"{len(codes)}, so nothing of this table is taken: copy its entries into "
                    "a fresh workbook"]  # fmt: skip
    return {line: _ours(block, code) for line, code in enumerate(codes)}, []


def _codes_then(block: Block, made: tuple[int, ...]) -> list[str]:
    """Return the codes of a table's lines in a version, or in the nearest older one listed."""
    listed = {
        tuple(map(int, version.split("."))): blocks[block.key]
        for version, blocks in older().items()
        if re.fullmatch(r"[\d.]+", version) and block.key in blocks
    }
    before = [version for version in listed if version <= made]
    return list(listed[max(before)]) if before else []


def _ours(block: Block, code: str) -> int | str:
    return block.codes.index(code) if code in block.codes else code
