"""What a cell to fill in asks for: the words shown beside it, and what it takes."""

from __future__ import annotations

import textwrap

from .grid import head
from .model import Block, Book, Field, Part
from .percent import is_percent, told
from .place import Places, column_range

_TITLE = 32
_MESSAGE = 255
"""The letters a spreadsheet takes for the title of such words, and for the words."""


def rule(book: Book, places: Places, block: Block, item: Field, part: Part) -> dict[str, object]:
    """Return what the cells of an entry say and take, as the writer's data validation."""
    length = _length_words(book, block, item, part)
    asked: dict[str, object] = {
        "ignore_blank": True,
        "validate": "any",
        "input_title": title(item, part),
        "input_message": _message(block, item, part, length[0]),
    }
    if part.entry == "text":
        return asked
    asked["error_title"] = book.words["entry_error_title"]
    if part.entry == "choice":
        source = "=" + column_range(book, places, part.limits.choices)
        return asked | {
            "validate": "list", "source": source,
            "error_message": book.words["entry_error_choice"],
        }  # fmt: skip
    return asked | _numbers(book, part, length[1])


def title(item: Field, part: Part) -> str:
    """Return the name of a column and its unit, so that it is told where its head is away."""
    name = head(item, part)
    whole = f"{item.over}: {name}"
    if item.over and len(whole) <= _TITLE:
        return whole
    unit = f" {part.unit}" if part.unit else ""
    short = textwrap.shorten(name.removesuffix(unit), _TITLE - len(unit), placeholder="…")
    return name if len(name) <= _TITLE else short + unit


def _message(block: Block, item: Field, part: Part, length: str) -> str:
    """Return how it is typed and what it means, or else whose column it is.

    A form shows what an entry means beside it.
    """
    shown = item.note if block.shape == "table" or is_percent(part) else ""
    return (" ".join(filter(None, (length, shown))) or block.title)[:_MESSAGE]


def _numbers(book: Book, part: Part, length: str) -> dict[str, object]:
    """Return the limits of a number, a date or a time, and what is said of another."""
    limits, words = part.limits, book.words
    low, high = (f"{told(part, end):g}" for end in (limits.least, limits.most))
    if part.entry == "date":
        low, high = "2000-01-01", "2099-12-31"
    if part.entry == "time":
        low, high = "0:00", "23:59"
    kind = "entry_error_whole" if limits.whole else "entry_error_number"
    error = words[kind].format(low=low, high=high, unit=part.unit)
    more = words["percent_error"] if is_percent(part) else ""
    return {
        "validate": "integer" if limits.whole else "decimal",
        "criteria": "between",
        "minimum": limits.least,
        "maximum": limits.most,
        "error_message": " ".join(filter(None, (length, error, more))),
    }


def _length_words(book: Book, block: Block, item: Field, part: Part) -> tuple[str, str]:
    """Return what a cell of a length asks for, and what it says where something else came."""
    if not item.is_length:
        return "", ""
    words, across = book.words, block.shape == "across"
    unit = {"ft": "feet", "in": "inches", "m": "meters"}[part.key.rpartition(".")[2]]
    after, before = ("cell_below", "cell_above") if across else ("next_cell", "cell_before")
    other = words[before if unit == "inches" else after]
    note, error = (words[f"{unit}_{kind}"].format(other=other) for kind in ("note", "error"))
    return note, error
