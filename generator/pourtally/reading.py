"""How a formula reads what a person typed: a place between locked cells, never a cell.

A cell that is cut and pasted elsewhere takes every formula that names it along, and the
job is wrong with nothing to see.  A range does so only where one of its ends is moved; so an
entry is read as the n-th cell of a range that begins and ends with locked cells, its fence:
``INDEX($D$26:$D$67,$A27+1,1)``.  No formula stands inside a fence, so none can need itself.

A column runs from head to foot too wherever a function looks at what is typed in it.  There
a place that MATCH finds counts the head, and so does COUNTA; INDEX counts it likewise.  An
item's formula counts lines, so what is one too many is taken off here, or put on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from .model import Block, Book, Field, Part, TemplateError
from .place import LABEL_COLUMN, Places, Stand
from .syntax import Token, tokens

WIDE = "[:]"
"""What stands behind a key for its column from head to foot."""


@dataclass(frozen=True)
class Fence:
    """A run of cells between two locked ones; ``before`` stand before its first entry."""

    first: tuple[int, int]
    last: tuple[int, int]
    before: int
    down: bool

    def number(self, line: int) -> int:
        """Return which of its cells is that of a line, the first one being 1."""
        return self.before + line + 1


def fence(book: Book, places: Places, key: str) -> Fence:
    """Return the cells between which a part stands, from head to foot of its block."""
    block, item, part = book.parts[key]
    spot = places.spots[key]
    stand = places.stand(block.key, spot.sheet)
    row, column = spot.at(0)
    if block.shape == "form":
        return _in_form(places, stand, item, part)
    if spot.down:
        return Fence((stand.head_row, column), (row + block.lines, column), 1, down=True)
    return Fence((row, LABEL_COLUMN), (row, column + block.lines), 1, down=False)


def _in_form(places: Places, stand: Stand, item: Field, part: Part) -> Fence:
    """Return the fence of a form's cell: its label and its unit, or head and foot.

    Beside a figure of one's own stands the figure used, which reads it: so its fence runs
    down the column, where such figures stand alone.
    """
    row, column = places.spots[part.key].at(0)
    if part.role == "yours":
        foot = max(places.spots[p.key].row for p in stand.parts) + 1
        return Fence((stand.head_row, column), (foot, column), row - stand.head_row, down=True)
    beside = [places.spots[p.key].column for p in item.typed] or [column]
    return Fence((row, min(beside) - 1), (row, max(beside) + 1), column - min(beside) + 1,
                 down=False)  # fmt: skip


@dataclass(frozen=True)
class Anchor:
    """The locked cell that an entry is named by, and the way from it to the first line."""

    at: tuple[int, int]
    way: tuple[int, int]


def anchor(book: Book, places: Places, key: str) -> Anchor:
    """Return the head of a column, or the label of a row, that an entry's name stands on."""
    around = fence(book, places, key)
    row, column = places.spots[key].at(0)
    if book.parts[key][0].shape != "form":
        return Anchor(around.first, (1, 0) if around.down else (0, 1))
    label = min(places.spots[p.key].column for p in book.parts[key][1].parts if not p.working) - 1
    return Anchor((row, label), (0, column - label))


def frame_filled(block: Block, item: Field, part: Part) -> int:
    """Return how many cells of the two ends of a fence hold something."""
    if block.shape == "across":
        named = part is item.parts[0]
        return named + (named and bool(item.explained))
    return 1


@dataclass
class _Call:
    """A function being read: where its words stand, and the columns it is given."""

    name: str
    start: int
    columns: list[int] = field(default_factory=list)
    commas: list[int] = field(default_factory=list)


def spelled(book: Book, part_of: Callable[[str], Part | None], text: str) -> str:
    """Return a formula with its whole columns, and what counts their lines, as cells are read.

    ``part_of`` says which part a reference means, none for ``{line[]}``.  Raises
    ``TemplateError`` where SUMPRODUCT is given a column that is typed: its head is a word.
    """
    return _Speller(book, part_of).spell(list(tokens(text)))


_SPREADS = ("INDEX", "SUM", "MAX", "MIN", "SUMIF", "SUMIFS")
"""Functions that hand on an error value from a column: it counts as nothing."""
_ASKED = ["ISERROR"]
"""What asks for one."""


class _Speller:
    def __init__(self, book: Book, part_of: Callable[[str], Part | None]) -> None:
        self._book, self._part_of = book, part_of
        self._words: list[str] = []
        self._calls: list[_Call] = []

    def spell(self, read: list[Token]) -> str:
        for at, (kind, word) in enumerate(read):
            self._words.append(word)
            if kind == "function" or (word == "(" and read[at - 1][0] != "function"):
                self._calls.append(_Call(word if kind == "function" else "", at))
            elif kind == "reference" and word.endswith("[]}"):
                self._innermost().columns.append(at)
            elif word == ",":
                self._calls[-1].commas.append(at)
            elif word == ")":
                call = self._calls.pop()
                after = read[at + 1][1] if at + 1 < len(read) else ""
                self._close(call, read[call.start - 1][1] if call.start else "", after)
        return "".join(self._words)

    def _innermost(self) -> _Call:
        """Return the function that a column is given to, through plain brackets."""
        return next((c for c in reversed(self._calls) if c.name), self._calls[-1])

    def _close(self, call: _Call, before: str, after: str) -> None:
        words = self._words
        parts = [self._part_of(words[at]) for at in call.columns]
        typed = [p for p in parts if p and p.kind == "entry" and not self._in_form(p)]
        if typed and call.name == "SUMPRODUCT":
            raise TemplateError(f"SUMPRODUCT takes workings only, and {typed[0].key} is typed; "
                                "use COUNTIFS or SUMIFS, or a column that reads it")  # fmt: skip
        for at, part in zip(call.columns, parts, strict=True):
            if part and part.kind == "entry" and self._in_form(part):
                words[at] = _single(words[at], call.name)
            elif typed:
                words[at] = words[at].replace("[]", WIDE)
        if call.name == "INDEX" and call.columns:
            self._number_lines(call, parts[0], bool(typed))
        if typed and call.name in _SPREADS and words[call.start - 2 : call.start - 1] != _ASKED:
            said = call.name == "INDEX" and typed[0].entry in ("text", "choice")
            words[call.start] = f"IFERROR({words[call.start]}"
            words[-1] += '&"","")' if said else ",0)"
        if typed and call.name in ("MATCH", "COUNTA"):
            many = 1 if call.name == "MATCH" else sum(self._filled(p) for p in typed)
            words[-1] += f"-{many}" if many else ""
            if before in tuple("-*/^") or after in tuple("*/^"):
                words[call.start] = f"({words[call.start]}"
                words[-1] += ")"

    def _in_form(self, part: Part) -> bool:
        return self._book.parts[part.key][0].shape == "form"

    def _filled(self, part: Part) -> int:
        block, item, _ = self._book.parts[part.key]
        return frame_filled(block, item, part)

    def _number_lines(self, call: _Call, column: Part | None, typed: bool) -> None:
        """Give INDEX the number of a cell in its range, and both numbers where that matters."""
        first, last = call.commas[0] + 1, len(self._words) - 1
        number = "".join(self._words[first:last])
        if typed:
            number = f"({number})+1" if set(number) & set("<=>") else f"{number}+1"
        across = column is not None and self._book.parts[column.key][0].shape == "across"
        if across:
            number = f"1,{number}"
        elif typed:
            number = f"{number},1"
        self._words[first:last] = [number, *[""] * (last - first - 1)]


def _single(word: str, name: str) -> str:
    """Return a form's entry as a column of one: functions that count by a rule take a range."""
    if name in ("COUNTIF", "COUNTIFS"):
        return word.replace("[]", WIDE)
    return "{!" + word.strip("{!}").removesuffix("[]") + "}"
