"""The grammar of a formula: read once when a book is loaded, every slip named.

A formula is what a spreadsheet takes, with references in braces in place of addresses.
What is allowed is less than a spreadsheet allows: functions that every engine in use
works out alike, each with as many arguments as it takes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from .hint import near

_MANY = 255
ARGUMENTS: dict[str, tuple[int, int]] = {
    "ABS": (1, 1), "ADDRESS": (2, 2), "AND": (1, _MANY), "ASIN": (1, 1), "ATAN2": (2, 2),
    "CHOOSE": (2, _MANY), "COS": (1, 1), "COUNT": (1, _MANY), "COUNTA": (1, _MANY),
    "COUNTIF": (2, 2), "COUNTIFS": (2, _MANY), "DAY": (1, 1), "EXP": (1, 1), "FIXED": (2, 3),
    "IF": (2, 3), "IFERROR": (2, 2), "INDEX": (2, 3), "INT": (1, 1), "ISBLANK": (1, 1),
    "ISERROR": (1, 1), "ISNUMBER": (1, 1), "LEN": (1, 1), "LN": (1, 1), "LOWER": (1, 1),
    "MATCH": (2, 3), "MAX": (1, _MANY), "MIN": (1, _MANY), "MONTH": (1, 1), "N": (1, 1),
    "NORMSDIST": (1, 1), "NORMSINV": (1, 1), "OR": (1, _MANY), "PI": (0, 0), "RADIANS": (1, 1),
    "RIGHT": (2, 2), "ROUND": (2, 2), "ROUNDDOWN": (2, 2), "ROUNDUP": (2, 2), "SIN": (1, 1),
    "SQRT": (1, 1), "SUBSTITUTE": (3, 3), "SUM": (1, _MANY), "SUMIF": (2, 3), "SUMIFS": (3, _MANY),
    "SUMPRODUCT": (1, _MANY), "TAN": (1, 1), "TRIM": (1, 1), "WEEKDAY": (1, 1),
}  # fmt: skip
"""Every function a formula may use, with the least and the most arguments it takes."""
_PAIRED = {"COUNTIFS": 0, "SUMIFS": 1}
"""Functions of pairs, and what stands before the first one."""
COLUMN_FUNCTIONS = frozenset({
    "SUM", "SUMIF", "SUMIFS", "SUMPRODUCT", "COUNTIF", "COUNTIFS", "COUNTA", "COUNT", "MIN",
    "MAX", "INDEX", "MATCH",
})  # fmt: skip
"""Functions that take a whole column."""

_TOKEN = re.compile(
    r"""\s*(?: (?P<string>"(?:[^"]|"")*")
          | (?P<reference>\{[^{}]*\})
          | (?P<number>\d+\.?\d*)
          | (?P<function>[A-Za-z][A-Za-z0-9.]*)(?=\()
          | (?P<sign><>|<=|>=|[-+*/^&=<>])
          | (?P<mark>[(),])
          | (?P<other>\S+?(?=[\s(),{}"]|$)|\S) )""",
    re.VERBOSE,
)
_KNOWN_REFERENCE = re.compile(
    r"\{(?:[!?]|>>?)?[a-z][a-z0-9_.]*(?:\[\d*\]|[*&^]|:[a-z][a-z0-9_]*\[\])?\}"
)
_UNARY = ("+", "-")

Token = tuple[str, str]


def mistakes(text: str) -> list[str]:
    """Return everything wrong with the grammar of a formula, in words."""
    read = list(tokens(text))
    wrong = [_stray(kind, word) for kind, word in read if _stray(kind, word)]
    return wrong or [*_Reader(read).mistakes()]


def tokens(text: str) -> Iterator[Token]:
    """Yield the words of a formula, each with its kind."""
    for match in _TOKEN.finditer(text.rstrip()):
        kind = match.lastgroup or "other"
        yield kind, match.group(kind)


def _stray(kind: str, word: str) -> str:
    if kind == "reference" and not _KNOWN_REFERENCE.fullmatch(word):
        return f"{word} is no reference; write {{key}}, {{block.key[]}} or {{block.key[3]}}"
    if kind != "other":
        return ""
    if word.startswith('"'):
        return 'a text lacks its closing "'
    if word in "{}":
        return f"{word} stands alone; a reference is {{key}}"
    return f"'{word}' is no part of a formula; a key needs braces, a text quotation marks"


class _Reader:
    """Walks through a formula once, from left to right."""

    def __init__(self, tokens: list[Token]) -> None:
        self._tokens = [*tokens, ("end", "its end")]
        self._at = 0
        self._wrong: list[str] = []

    def mistakes(self) -> list[str]:
        """Return what is wrong; after a bracket that does not fit nothing more is read."""
        try:
            self._sum(())
            if self._next[0] != "end":
                word = self._next[1]
                self._stop("a surplus )" if word == ")" else f"{word} where a sign was expected")
        except _UnreadableError as stop:
            self._wrong.append(str(stop))
        return self._wrong

    @property
    def _next(self) -> Token:
        return self._tokens[self._at]

    def _take(self) -> str:
        self._at += 1
        return self._tokens[self._at - 1][1]

    def _stop(self, words: str) -> None:
        raise _UnreadableError(words)

    def _sum(self, within: tuple[str, ...]) -> None:
        """Read terms with signs between them, inside the functions ``within``."""
        self._term(within)
        while self._next[0] == "sign":
            self._take()
            self._term(within)

    def _term(self, within: tuple[str, ...]) -> None:
        while self._next[1] in _UNARY:
            self._take()
        kind, word = self._next
        if kind == "function":
            self._call(within)
        elif word == "(":
            self._take()
            self._sum(within)
            self._close("(")
        elif kind in ("number", "string", "reference"):
            self._take()
            if word.endswith("[]}") and not COLUMN_FUNCTIONS & set(within):
                where = within[-1] if within else "plain arithmetic"
                self._wrong.append(f"a whole column stands in {where}; sum or index it")
        else:
            self._stop(f"{word} where a value was expected")

    def _call(self, within: tuple[str, ...]) -> None:
        name = self._take()
        if name not in ARGUMENTS:
            self._wrong.append(f"{name} is no function in use; {near(name, sorted(ARGUMENTS))}")
        self._take()  # the bracket, which made it a function
        count = 0
        if self._next[1] != ")":
            count = 1
            self._sum((*within, name))
            while self._next[1] == ",":
                self._take()
                self._sum((*within, name))
                count += 1
        self._close(f"{name}(")
        least, most = ARGUMENTS.get(name, (0, _MANY))
        came = f"{name} came with {count} argument{'' if count == 1 else 's'}"
        if not least <= count <= most:
            takes = f"{least}" if least == most else f"{least} to {most}"
            takes = f"at least {least}" if most == _MANY else takes
            self._wrong.append(f"{came}; it takes {takes}")
        elif (count - _PAIRED.get(name, count)) % 2:
            self._wrong.append(f"{came}; it takes ranges and criteria in pairs")

    def _close(self, opened: str) -> None:
        if self._next[1] != ")":
            self._stop(f"{opened} lacks its ), before {self._next[1]}")
        self._take()


class _UnreadableError(Exception):
    """What stands here cannot be read past."""
