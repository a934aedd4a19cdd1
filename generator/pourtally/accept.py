"""What an entry accepts: one judge for job files and for filled-in workbooks."""

from __future__ import annotations

from datetime import date, time
from reprlib import Repr
from typing import Any

from .hint import near
from .model import Block, Book, Entries, Field, Part, Scalar
from .percent import told
from .scalar import day_number

_LONGEST_TEXT = 250
_FEW = Repr()  # says no more than the beginning of tables and lists, however deep they are
_FEW.maxlevel, _FEW.maxdict, _FEW.maxlist, _FEW.maxstring, _FEW.maxother = 3, 6, 9, 60, 60


def problem(part: Part, value: Any) -> str:
    """Return what is wrong with a value that is not blank, or nothing.

    A percentage comes as the share it is.  Whether a choice stands in its list is asked
    apart, once all entries are known.
    """
    if part.entry in ("text", "choice"):
        return _text_problem(value)
    if part.entry == "date":
        return _date_problem(part, value)
    if part.entry == "time":
        return "" if isinstance(value, time) else f"came {shown(value)}; expected {expected(part)}"
    return _number_problem(part, value)


def choice_problem(book: Book, part: Part, value: str, entries: Entries) -> str:
    """Return what is wrong with a choice, or nothing; case does not matter."""
    block, _, listed = book.parts[part.limits.choices]
    if listed.kind == "formula":
        return ""  # names worked out in the workbook: its own checks look at them
    column = _column(block, listed, entries)
    names = [str(n) for n in column if n]
    known = {n.casefold() for n in names} | _former(block, listed, column, entries)
    if value.casefold() in known:
        return ""
    return f"came {value!r}; {near(value, names, 'expected one of')}"


def _column(block: Block, part: Part, entries: Entries) -> list[Scalar]:
    return entries.get(part.key) or [part.value(line) for line in range(block.lines)]


def _former(block: Block, listed: Part, column: list[Scalar], entries: Entries) -> set[str]:
    """Return what the lines of a list that have a name were called before."""
    parts = (p for f in block.fields for p in f.parts if p.former == listed.key)
    return {
        str(was).casefold()
        for part in parts
        for name, was in zip(column, _column(block, part, entries), strict=True)
        if name and was
    }


def current(book: Book, part: Part, value: Any) -> Any:
    """Return the word that stands for a word of older files now, or the value as it is."""
    if part.entry != "choice" or not isinstance(value, str):
        return value
    formerly = dict(book.parts[part.limits.choices][2].formerly)
    return next((new for old, new in formerly.items() if old.casefold() == value.casefold()), value)


def expected(part: Part) -> str:
    """Return in words what an entry takes."""
    if part.entry == "number":
        unit = f" {part.unit}" if part.unit else ""
        least, most = (told(part, end) for end in (part.limits.least, part.limits.most))
        whole = "whole " if part.limits.whole else ""
        return f"a {whole}number from {least:g} to {most:g}{unit}"
    return {
        "text": "words",
        "choice": "a name of its list",
        "date": "a date",
        "time": "a time of the day such as 7:30",
    }[part.entry]


def label(item: Field, part: Part) -> str:
    """Return what a part is called: the label of its field, and which cell of it."""
    alike = part.heading.startswith(item.label)
    return part.heading if alike else f"{item.label}, {part.heading}"


def is_number(value: Any) -> bool:
    """Tell whether a value is a number; true and false are none."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _number_problem(part: Part, value: Any) -> str:
    fits = is_number(value) and part.limits.least <= value <= part.limits.most
    if fits and not (part.limits.whole and value % 1):
        return ""
    return f"came {shown(told(part, value))}; expected {expected(part)}"


def _text_problem(value: Any) -> str:
    if not isinstance(value, str):
        return f"came {shown(value)}; expected words"
    if value.startswith("="):
        return f"came {shown(value)}; expected words that do not start with ="
    if len(value) > _LONGEST_TEXT or any(ord(c) < 32 and c not in "\t\n" for c in value):
        return f"came {len(value)} characters; expected at most {_LONGEST_TEXT} plain ones"
    return ""


def _date_problem(part: Part, value: Any) -> str:
    if not isinstance(value, date):
        return f"came {shown(value)}; expected a date"
    if not part.limits.least <= day_number(value) <= part.limits.most:
        return f"came {value:%Y-%m-%d}; expected a date from 2000 to 2099"
    return ""


def shown(value: Any) -> str:
    """Return a value as a message shows it: short, whatever came."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, date):
        return f"{value:%Y-%m-%d}"
    text = repr(value) if isinstance(value, (str, int)) else _FEW.repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
