"""A company's own words in place of ours, on the papers that go to its customer.

A word is a piece of a text as the templates say it, "forms taken off".  Texts stand in formulas
and as fixed words; what a formula looks up or compares, and formats, are left alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial

from .accept import shown
from .hint import near
from .model import Block, Book, Field, Part

MOST = 200
"""Letters of a company's word: a text in a formula may have 255."""
_ROOM = 255
_TEXT = re.compile(r'"((?:[^"]|"")*)"')
_COMPARED = re.compile(r'(?:<>|=|\[\]\},|MATCH\()"(?:<>|=)?((?:[^"]|"")*)"')
_LETTERS = re.compile(r"[^\W\d_]{3}")
_FORMAT = re.compile(r"[#0,.:/ mdyhs]*")
_FORBIDDEN = re.compile(r'[{}"\x00-\x1f]')


def worded(book: Book, words: Mapping[str, str]) -> Book:
    """Return a book with a company's own words on the papers that go outside."""
    if not words:
        return book
    left = _compared(book)
    blocks = (_block(book, block, words, left) for block in book.blocks)
    return replace(book, blocks=tuple(blocks))


def word_problems(words: object, books: Iterable[Book]) -> list[str]:
    """Return what is wrong with the words of a company file; all books know what can be said."""
    if not isinstance(words, dict):
        return ["came no table; expected one, [words], of our words and yours"]
    known = {text for book in books for text in texts(book)}
    return [told for ours, theirs in words.items() for told in _problems(ours, theirs, known)]


def texts(book: Book) -> set[str]:
    """Return every text of the papers that go outside, as it may be replaced."""
    left = _compared(book)
    said = (part for block, _, part in book.parts.values() if _is_said(book, block, part))
    return {text for part in said for text in _texts(part) if _may(text, left)}


def _problems(ours: str, theirs: object, known: set[str]) -> Iterator[str]:
    found = [text for text in known if ours.strip() and _piece({ours: ""}).search(text)]
    if not found:
        pieces = {p.strip() for t in known for p in (t, *re.split(r"[,.;:]", t)) if p.strip()}
        yield f"'{ours}': none of our papers says this; {near(ours, sorted(pieces))}"
    if not isinstance(theirs, str) or not theirs.strip():
        yield f"'{ours}': came {shown(theirs)}; expected the words to say in its place"
    elif _FORBIDDEN.search(theirs) or theirs.startswith("="):
        yield (f"'{ours}': came {shown(theirs)}; expected one line without braces, double quotes "
               "or = at its head")  # fmt: skip
    elif len(theirs) > MOST or any(
        len(_said(t, {ours: theirs})) > max(_ROOM, len(t)) for t in found
    ):
        yield f"'{ours}': came {len(theirs)} letters; at most {MOST} are expected"


def _block(book: Book, block: Block, words: Mapping[str, str], left: set[str]) -> Block:
    fields = (_field(book, block, field, words, left) for field in block.fields)
    return replace(block, fields=tuple(fields))


def _field(
    book: Book, block: Block, field: Field, words: Mapping[str, str], left: set[str]
) -> Field:
    say = partial(_part, words=words, left=left)
    parts = (say(part) if _is_said(book, block, part) else part for part in field.parts)
    return replace(field, parts=tuple(parts))


def _is_said(book: Book, block: Block, part: Part) -> bool:
    """Tell whether a part stands on a paper that goes outside, or is named as said on one."""
    outside = (sheet.name for sheet in book.sheets if sheet.outside)
    return block.sheet in outside or block.key in book.said or part.key in book.said


def _texts(part: Part) -> Iterator[str]:
    if part.kind == "text":
        yield from (value for value in part.values if isinstance(value, str))
    for formula in part.formulas:
        yield from (text.replace('""', '"') for text in _TEXT.findall(formula))


def _compared(book: Book) -> set[str]:
    """Return the texts by which something is found: another would not find it."""
    formulas = (f for _, _, part in book.parts.values() for f in part.formulas)
    found = {text for formula in formulas for text in _COMPARED.findall(formula) if text}
    kept = (book.parts[k.removeprefix("-")][2] for k in book.said if k.startswith("-"))
    return found | {value for part in kept for value in part.values if isinstance(value, str)}


def _may(text: str, left: set[str]) -> bool:
    return bool(_LETTERS.search(text)) and not _FORMAT.fullmatch(text) and text not in left


def _part(part: Part, words: Mapping[str, str], left: set[str]) -> Part:
    def say(text: str) -> str:
        return _said(text, words) if _may(text, left) else text

    def quoted(found: re.Match[str]) -> str:
        return '"' + say(found[1].replace('""', '"')).replace('"', '""') + '"'

    formulas = tuple(_TEXT.sub(quoted, formula) for formula in part.formulas)
    if part.kind != "text":
        return replace(part, formulas=formulas)
    values = tuple(say(value) if isinstance(value, str) else value for value in part.values)
    return replace(part, formulas=formulas, values=values)


def _said(text: str, words: Mapping[str, str]) -> str:
    return _piece(words).sub(lambda found: words[found[0]], text)


def _piece(words: Mapping[str, str]) -> re.Pattern[str]:
    """Return the pattern of whole words, the longest first: none is said twice."""
    longest = sorted(words, key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, longest))})(?!\w)")
