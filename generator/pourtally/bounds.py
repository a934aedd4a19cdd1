"""How much an XML part of a workbook may hold; asked before any library makes objects of it.

A part of a hundred kilobytes unpacks to a hundred megabytes, and a library that reads it makes
gigabytes of that.  The bounds are several times what the largest workbook of ours holds, also as
other programs save it: 14 MB a part, 280,000 elements, 10,500 texts, 9,500 rows.
"""

from __future__ import annotations

import re
from xml.parsers import expat

LARGEST, LARGEST_TOGETHER = 20_000_000, 60_000_000  # bytes, of a part, and of all that are read
_MOST_MARKS = 1_400_000  # < in a part; elements have two
_MOST_SIGNS = 1_200_000  # = in a part; each attribute has one
_LONGEST = re.compile(rb"(?:\A|<)[^<]{300000}")  # one tag, or one text, on its own
_DEEPEST = 60  # a drawing has 20
_MOST_TOGETHER = 50_000  # rows of a sheet, texts of a workbook
_MOST_IN_LINE = 20_000  # cells of a row; the widest sheet of any program has 16,384
_MOST_SMALL = 20_000  # elements of what is neither sheet nor list of texts: styles, names
_MOST_SHARED = 1_000_000  # letters of formulas that other cells share, each time one does
_LONG = ("worksheet", "sst")
_STYLES = "xl/styles.xml"
_LETTERS = ("utf-8", "utf-16", "us-ascii", "iso-8859-1")


class BoundsError(Exception):
    """A part that holds more than it may; the text says of what."""


class BrokenError(Exception):
    """A part that is no sound XML; the text says why."""


def check(name: str, part: bytes) -> None:
    """Raise where an XML part is not sound, or holds more than any of ours."""
    if len(part) > LARGEST:
        raise BoundsError(f"is over {LARGEST // 1_000_000} MB")
    if part.count(b"<") > _MOST_MARKS or part.count(b"=") > _MOST_SIGNS:
        raise BoundsError("has too many elements")
    if _LONGEST.search(part):
        raise BoundsError("has a text that is too long")
    _Count(name).parse(part)


class _Count:
    """What is counted while a part is read; nothing of it is kept."""

    def __init__(self, name: str) -> None:
        self.small = name == _STYLES
        self.elements = 0
        self.inside = [0]
        self.parser = expat.ParserCreate()
        self.parser.ordered_attributes = True
        self.parser.XmlDeclHandler = self.declared
        self.parser.StartDoctypeDeclHandler = self.typed
        self.parser.StartElementHandler = self.begin
        self.parser.EndElementHandler = self.end
        self.shared = _Shared()

    def parse(self, part: bytes) -> None:
        try:
            self.parser.Parse(part, True)
        except expat.ExpatError as error:
            said = expat.errors.messages[error.code]
            raise BrokenError(f"is broken XML ({said} in line {error.lineno})") from None

    def declared(self, _version: str, letters: str | None, _alone: int) -> None:
        if letters and letters.lower() not in _LETTERS:
            raise BrokenError("has letters that no workbook is written in")

    def typed(self, *_: object) -> None:
        raise BrokenError("declares a type of its own")

    def begin(self, name: str, said: list[str]) -> None:
        self.elements += 1
        depth, inside = len(self.inside), self.inside
        inside[-1] += 1
        if inside[-1] > _MOST_TOGETHER or (depth > 3 and inside[-1] > _MOST_IN_LINE):
            raise BoundsError("has too much in one place")
        if depth > _DEEPEST:
            raise BoundsError("is nested too deep")
        if depth == 1 and name.rpartition(":")[2] not in _LONG:
            self.small = True
        if self.small and self.elements > _MOST_SMALL:
            raise BoundsError("has too many styles, names or the like")
        inside.append(0)
        if "shared" in said:
            self.shared.begin(self.parser, said)

    def end(self, _name: str) -> None:
        self.inside.pop()
        if self.shared.reads:
            self.shared.end(self.parser)


class _Shared:
    """The formulas that other cells share: a library writes each out anew for each cell."""

    def __init__(self) -> None:
        self.lengths: dict[str, int] = {}
        self.total = 0
        self.reads = False

    def begin(self, parser: expat.XMLParserType, said: list[str]) -> None:
        names = dict(zip(said[::2], said[1::2], strict=True))
        number = names.get("si", "")
        self.total += self.lengths.setdefault(number, 0)
        if self.total > _MOST_SHARED:
            raise BoundsError("has too many shared formulas")

        def letters(text: str) -> None:
            self.lengths[number] += len(text)
            if self.lengths[number] > _MOST_SHARED:
                raise BoundsError("has a formula that is too long")

        self.reads = True
        parser.CharacterDataHandler = letters

    def end(self, parser: expat.XMLParserType) -> None:
        self.reads = False
        parser.CharacterDataHandler = None
