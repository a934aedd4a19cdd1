"""References in formulas: ``{key}`` to a cell or a column, and to plain words.

Forms of a reference
    ``{width}``          the cell of this line, in this block
    ``{bands.width}``    the cell of this line in a block of the same group, or a single cell
    ``{bands.width[]}``  the whole declared column; never a part of it
    ``{legs.x0:x4[]}``   the whole declared columns from one to the other
    ``{bands.width[3]}`` the third line, for a drawing of one item
    ``{volume*}``        this line's cells of all the columns collected as ``volume``
    ``{where&}``         the same, their words one after the other
    ``{!width}``         the same cell, but as typed: text stays text
    ``{?width}``         how many of its cells are filled (a length may have two)
    ``{line}``           this line's number
    ``{line[]}``         the numbers of all lines
    ``{?line}``          how many entries of this line are filled
    ``{sum^}``           the cell of the line above, 0 on the first line
    ``{!said^}``         the same as it stands: text stays text, on the first line a head
    ``{>bands.width}``   where a link to it goes, as text: ``#Bands!C5``
    ``{>>pieces.count}`` the same down to the row before its first line, so that ``+{line}`` follows

A number that a person types is read through ``N()``, so that a word in a number cell
counts as nothing instead of spreading an error; the checks then say where it stands.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from .hint import near
from .model import Block, Book, Part, TemplateError
from .percent import told

_REFERENCE = re.compile(
    r"\{([!?]|>>?)?([a-z][a-z0-9_.]*)(\[\d*\]|\[:\]|[*&^]|:[a-z][a-z0-9_]*\[\])?\}"
)
_SIGNS = {
    "*": " × ", "/": " ÷ ", "+": " + ", "-": " - ", "<>": " is not ", "<=": " ≤ ", ">=": " ≥ ",
    "<": " < ", ">": " > ", "=": " = ", "^2": " squared", "&": " then ", ",": ", ", "PI()": "π",
}  # fmt: skip
_SAYABLE = re.compile(r'"[^"]*"|PI\(\)|[A-Z][A-Z0-9]*\(|\^2|<>|<=|>=|[*/+<>=&,-]')

_LINES = {"[]": "lines", "[:]": "wide lines"}
_LINKS = {">": "link", ">>": "link before"}
_COLUMN = {"[]": "all", "[:]": "wide"}
_TAIL = {"all": "…", "above": ", line above"}
_LINE_WORDS = {"line": "line", "lines": "lines…", "entries": "cells filled on this line"}


@dataclass(frozen=True)
class Reference:
    """One ``{…}`` of a formula: the part it means and which of its lines."""

    part: str
    lines: str  # "same", "single", "above", a number, "all" or "wide" (from head to foot), "row",
    # "joined", "line", "lines", "wide lines", "entries", "link" or "link before"
    raw: bool = False
    filled: bool = False
    last: str = ""  # the part whose column is the last of several side by side


def find(book: Book, block: Block, text: str, where: str) -> list[Reference]:
    """Return the references of a formula in order; raise where one has no meaning."""
    return [_meaning(book, block, m, where) for m in _REFERENCE.finditer(text)]


def find_one(book: Book, block: Block, word: str, where: str) -> Reference:
    """Return what one reference means, given with its braces."""
    return find(book, block, word, where)[0]


def asks_line(book: Book, block: Block, part: Part) -> bool:
    """Tell whether a formula needs the number of its line: an entry is read by it, too."""
    found = (ref for text in part.formulas for ref in find(book, block, text, part.key))
    return any(
        ref.part not in book.parts  # {line} and the like name none
        or (ref.lines == "same" and book.parts[ref.part][2].kind == "entry")
        for ref in found
    )


def translate(
    book: Book, block: Block, text: str, where: str, cell: Callable[[Reference], str]
) -> str:
    """Replace every reference of a formula by what ``cell`` makes of it."""
    return _REFERENCE.sub(lambda m: cell(_meaning(book, block, m, where)), text)


def in_words(book: Book, block: Block, text: str, where: str) -> str:
    """Return the formula with labels in place of keys, for a person to read."""

    def label(ref: Reference) -> str:
        if ref.lines in _LINE_WORDS:
            return _LINE_WORDS[ref.lines]
        if ref.lines in ("row", "joined"):
            return f"all {ref.part.split('.')[-1].replace('_', ' ')} to the left"
        home, item, part = book.parts[ref.part]
        if ref.filled:
            return f"cells filled of [{item.label}]"
        if home.key == "const":
            return f"{told(part, part.value(0)):g} {part.unit}".strip()
        if part.kind == "text" and ref.lines.isdigit():
            return f'"{part.value(int(ref.lines) - 1)}"'
        alike = part.heading.startswith(item.label)
        words = part.heading if alike else f"{item.label} {part.heading}"
        name = words if home.key == block.key else f"{home.title}: {words}"
        last = f" to {book.parts[ref.last][2].heading}" if ref.last else ""
        return f"[{name}{last}{_TAIL.get(ref.lines, '')}]"

    words, end = "", 0
    for match in _REFERENCE.finditer(text):
        words += _plain(book, text[end : match.start()])
        words += label(_meaning(book, block, match, where))
        end = match.end()
    return words + _plain(book, text[end:])


def _plain(book: Book, text: str) -> str:
    """Return what stands between references with words for functions and signs set apart."""

    def say(match: re.Match[str]) -> str:
        word = match.group(0)
        if word.startswith('"'):
            return word
        if word.endswith("("):
            return book.words.get(f"function_{word[:-1]}", word[:-1].lower()) + "("
        return _SIGNS[word]

    return _SAYABLE.sub(say, text)


def _meaning(book: Book, block: Block, match: re.Match[str], where: str) -> Reference:
    mark, key, tail = match.group(1) or "", match.group(2), match.group(3) or ""
    own = f"{block.key}.{key}"
    if mark in _LINKS:
        return Reference(_goal(book, block, key, mark, where), _LINKS[mark])
    if key == "line":
        return Reference(own, "entries" if mark == "?" else _LINES.get(tail, "line"))
    if mark == "?":
        return _filled(book, block, key, where)
    if tail in ("*", "&"):
        return Reference(own, "row" if tail == "*" else "joined")
    full = own if own in book.parts else key
    if full not in book.parts:
        raise TemplateError(f"{where}: {{{key}}} names no part; {_suggest(book, block, key)}")
    if tail == "^" and book.parts[full][2].kind == "entry":
        raise TemplateError(f"{where}: {{{key}^}} is typed; name a working that reads it")
    home = book.parts[full][0]
    last = f"{home.key}.{tail[1:-2]}" if tail.startswith(":") else ""
    if last and last not in book.parts:
        raise TemplateError(f"{where}: {{{key}{tail}}}: {last} names no part")
    tail = "[]" if last else tail
    return Reference(full, _lines(home, block, tail, f"{where}: {{{key}}}"), raw=mark == "!",
                     last=last)  # fmt: skip


def _lines(home: Block, block: Block, tail: str, where: str) -> str:
    """Return which lines of the block ``home`` a reference from ``block`` means."""
    if tail == "^":
        return _above(home, block, where)
    if tail:
        return _COLUMN.get(tail, tail[1:-1])
    if home.lines == 1:
        return "single"
    if home.group == block.group:
        return "same"
    raise TemplateError(
        f"{where} has {home.lines} lines and this block does not share them; write [] after the "
        f'key inside SUM, INDEX or the like, or give the block with = "{home.group}"'
    )


def _goal(book: Book, block: Block, key: str, mark: str, where: str) -> str:
    """Return the part that a link to a key goes to."""
    part = book.goal(key)
    if part is None:
        raise TemplateError(f"{where}: goes to '{key}'; {_suggest(book, block, key)}")
    if mark == ">>" and book.parts[part.key][0].shape not in ("table", "page"):
        raise TemplateError(f"{where}: goes to a line of '{key}', whose lines do not run down")
    return part.key


def _above(home: Block, block: Block, where: str) -> str:
    if home.shape in ("table", "page") and home.group == block.group:
        return "above"
    raise TemplateError(f"{where}: only a table with the lines of this block has a line above")


def _filled(book: Book, block: Block, key: str, where: str) -> Reference:
    own = f"{block.key}.{key}"
    typed = book.typed(own) or book.typed(key)
    if typed:
        home = book.parts[typed[0].key][0]
        return Reference(typed[0].key, "single" if home.lines == 1 else "same", filled=True)
    raise TemplateError(f"{where}: {{?{key}}} names no entry; {_suggest(book, block, key)}")


def _suggest(book: Book, block: Block, key: str) -> str:
    own = [k.removeprefix(f"{block.key}.") for k in book.parts if k.startswith(f"{block.key}.")]
    return near(key, [*own, *book.parts])


def typed_number(part: Part) -> bool:
    """Tell whether a cell is a number typed by a person, to be read through ``N()``."""
    return part.kind == "entry" and part.entry in ("number", "date", "time")
