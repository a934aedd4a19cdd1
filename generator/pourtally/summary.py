"""A workbook on one page: the figures that ``sheets.toml`` names for it, as people read them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import groupby

from .accept import label
from .model import Block, Book, Local, Part, Scalar
from .values import Report, number, one_line, plain

_DECIMALS = re.compile(r"[^;]*?\.(0+)(?:[;%]|$)")


def summary(found: Report) -> str:
    """Return a report in a page of words, without what is empty, 0 or fine."""
    lines: list[str] = []
    for block, parts in _sections(found.book):
        if rows := list(_rows(found, block, parts)):
            lines += ["", block.title, *_aligned(rows)]
    return "\n".join(lines).strip("\n")


def _sections(book: Book) -> Iterator[tuple[Block, list[Part]]]:
    """Yield the parts to tell, those that follow each other in one block together."""
    named = [book.parts[key] for key in book.summary]
    for _, together in groupby(named, key=lambda one: one[0].key):
        several = list(together)
        yield several[0][0], [part for _, _, part in several]


def _rows(found: Report, block: Block, parts: list[Part]) -> Iterator[list[str]]:
    """Yield the words of each row: a field of a form, or the columns of a line of a table."""
    fine = found.book.parts[found.book.keys["states"]][2].values[0]
    nothing = (None, "", 0.0, fine)
    for line in zip(*(found.worked[part.key] for part in parts), strict=True):
        shown = [
            _shown(part, value, found.book.local) for part, value in zip(parts, line, strict=True)
        ]
        if block.shape == "form":
            names = [label(found.book.parts[part.key][1], part) for part in parts]
            told = zip(names, shown, line, strict=True)
            yield from ([name, words] for name, words, value in told if value not in nothing)
        elif not any(value in nothing for value in line):
            yield shown


def _shown(part: Part, value: Scalar, local: Local) -> str:
    """Return a value as its cell shows it, with its unit."""
    value = plain(part, value)
    if not isinstance(value, float):
        return one_line(value)
    fixed = _DECIMALS.match(part.format)
    text = f"{value:,.{len(fixed.group(1))}f}" if fixed else number(value)
    money = part.unit and part.unit == local.sign
    return local.money(text) if money else f"{text} {part.unit}".rstrip()


def _aligned(rows: list[list[str]]) -> Iterator[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = [f"{words:<{width}}" for words, width in zip(row, widths, strict=True)]
        yield f"  {'  '.join(cells)}".rstrip()
