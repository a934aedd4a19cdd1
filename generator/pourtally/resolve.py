"""A formula with its keys to a formula with addresses, as it stands in one cell."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import groupby

from .formula import Reference, find_one, translate, typed_number
from .model import Block, Book, Part, TemplateError
from .place import Places, address, column_name, column_range
from .reading import Fence, fence, spelled

_ASKED = re.compile(r"\b(IS(?:BLANK|NUMBER|TEXT)\()\{(?=[a-z])")
"""Where a formula asks what a cell holds: the cell itself, and nothing in place of an error."""


class Resolver:
    """Puts addresses in place of keys, for one lay-out."""

    def __init__(self, book: Book, places: Places) -> None:
        """Take a book and where everything stands in it."""
        self._book, self._places = book, places
        self._spelled = lru_cache(maxsize=None)(self._spell)
        self.fence = lru_cache(maxsize=None)(self._fence)

    def formula(self, block: Block, part: Part, line: int) -> str:
        """Return the formula of one cell, with its ``=``."""
        text = self._spelled(block.key, part.key, part.formula(line))
        cell = _Cell(self, self._book, self._places, block, part, line)
        return "=" + translate(self._book, block, text, part.key, cell.of)

    def _fence(self, key: str) -> tuple[Fence, str]:
        """Return the fence of a part, and its range."""
        around = fence(self._book, self._places, key)
        ends = (address(*at, fixed=True) for at in (around.first, around.last))
        return around, ":".join(ends)

    def _spell(self, block_key: str, key: str, text: str) -> str:
        text = _ASKED.sub(r"\1{!", text)
        if "[]" not in text:
            return text
        block = self._book.parts[key][0]

        def part_of(word: str) -> Part | None:
            named = find_one(self._book, block, word, key).part
            return self._book.parts[named][2] if named in self._book.parts else None

        try:
            return spelled(self._book, part_of, text)
        except TemplateError as error:
            raise TemplateError(f"{key}: {error}") from None


class _Cell:
    """One cell whose formula is made."""

    def __init__(
        self, all_of: Resolver, book: Book, places: Places, block: Block, part: Part, line: int
    ) -> None:
        self.book, self.places, self.block, self.part, self.line = book, places, block, part, line
        self.fence = all_of.fence
        self.here = places.spots[part.key].sheet

    def of(self, ref: Reference) -> str:
        """Return what stands for a reference in this cell's formula."""
        if own := self._of_this_line(ref):
            return own
        if ref.lines.startswith("link"):
            spot = self.places.spots[ref.part]
            before = f'"#{spot.sheet}!{column_name(spot.column)}'
            return f'{before}"&{spot.row}' if ref.lines != "link" else f'{before}{spot.row + 1}"'
        if ref.lines == "wide":
            return self._sheet(ref.part) + self.fence(ref.part)[1]
        if ref.lines == "all":
            whole = column_range(self.book, self.places, ref.part, ref.last)
            return whole.removeprefix(f"{self.here}!")
        if ref.filled:
            typed = self.book.parts[ref.part][1].typed
            return f"COUNTA({','.join(self._one(p, ref.lines) for p in typed)})"
        return self._read(ref, self.book.parts[ref.part][2])

    def _read(self, ref: Reference, target: Part) -> str:
        """Return one cell as it is read: what should be a number as one, a word for a word.

        An error value that was typed or pasted is nothing, so that it spreads to no figure;
        a choice's place in its list has its own word for what stands in no list.
        """
        text = self._one(target, ref.lines)
        if ref.raw:
            return text
        if typed_number(target) or ref.lines == "above":  # over the first line stands a head
            return f"IFERROR(N({text}),0)" if target.kind == "entry" else f"N({text})"
        guarded = target.kind == "entry" and not self.part.key.endswith(".no")
        return f'IFERROR({text}&"","")' if guarded else text  # engines differ on an empty cell

    def _one(self, target: Part, lines: str) -> str:
        """Return one cell, an entry as the n-th between its fence."""
        spot = self.places.spots[target.key]
        same = lines == "same"
        if lines == "above":
            return self._sheet(target.key) + address(*spot.at(self.line - 1))
        index = self.line if same else 0 if lines == "single" else int(lines) - 1
        if target.kind != "entry":
            return self._sheet(target.key) + address(*spot.at(index), fixed=not same)
        around, ends = self.fence(target.key)
        number = f"{self._line_cell()}+1" if same else str(around.number(index))
        numbers = f"{number},1" if around.down else f"1,{number}"
        return f"INDEX({self._sheet(target.key)}{ends},{numbers})"

    def _sheet(self, key: str) -> str:
        sheet = self.places.spots[key].sheet
        return "" if sheet == self.here else f"{sheet}!"

    def _of_this_line(self, ref: Reference) -> str:
        """Return what a reference means that names no part, or nothing where it names one."""
        if ref.lines == "line":
            return self._line_cell()
        if ref.lines in ("lines", "wide lines"):
            return self._line_cells(int(ref.lines != "lines"))
        if ref.lines == "entries":
            runs = [f"COUNTA(INDEX({r},{self._line_cell()}+1,0))" for r in self._line_entries()]
            return runs[0] if len(runs) == 1 else f"({'+'.join(runs)})"
        if ref.lines in ("row", "joined"):
            spots = self.places.spots.items()
            cells = [s.at(self.line) for k, s in spots if k.startswith(f"{ref.part}_")]
            if ref.lines == "joined":
                return "&".join(address(*at) for at in cells)
            return f"{address(*min(cells))}:{address(*max(cells))}"
        return ""

    def _line_cell(self) -> str:
        """Return the cell that holds this line's number, beside the part or over it.

        A page has none: there the row tells it.
        """
        spot = self.places.spots[self.part.key]
        if self.block.shape == "page" and spot.sheet == self.block.sheet:
            return f"(ROW()-{spot.row})"
        stand = self.places.stand(self.block.key, spot.sheet)
        if spot.down:
            return f"$A{stand.first_row + self.line + 1}"
        return f"{column_name(spot.column + self.line)}${stand.head_row + 1}"

    def _line_cells(self, wide: int) -> str:
        """Return the range of the numbers of a table's lines, ``wide`` from head to foot."""
        if self.block.shape == "page" and self.here == self.block.sheet:
            raise TemplateError(f"{self.part.key}: a page has no column of lines; count in a table")
        stand = self.places.stand(self.block.key, self.here)
        last = stand.first_row + self.block.lines + wide
        return f"$A${stand.first_row + 1 - wide}:$A${last}"

    def _line_entries(self) -> Iterator[str]:
        """Yield the entries of a table from head to foot, a range for those side by side."""
        shown = groupby(self.block.parts(working=False), key=lambda part: part.kind == "entry")
        for typed in (list(parts) for is_typed, parts in shown if is_typed):
            first, last = (self.fence(p.key)[0] for p in (typed[0], typed[-1]))
            corners = (address(*at, fixed=True) for at in (first.first, last.last))
            yield self._sheet(typed[0].key) + ":".join(corners)
