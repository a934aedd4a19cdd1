"""One thing changed at a time: what a slip of the pen could make of a formula or of a fixed word.

A change is told as ``before[old → new]after``, so that it is found again in the formula.
What a range would be with fewer lines no formula can say: a mark behind it does, and whoever
puts addresses in place of keys cuts the range that stands before the mark.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from pourtally.model import Scalar
from pourtally.syntax import Token, tokens

SHORTER, FIRST = "\N{SECTION SIGN}shorter", "\N{SECTION SIGN}first"
"""What stands behind a range that lacks its last line, or has its first one alone."""
Beside = Callable[[str], tuple[str, ...]]
"""What says which references could be taken for one: fields of its unit in the same block."""


class Mutant(NamedTuple):
    """What was changed, the formula with it, and what kind of change it is."""

    what: str
    formula: str
    kind: str


class _New(NamedTuple):
    """What stands in place of some words of a formula, from the first up to the last."""

    first: int
    last: int
    words: str
    kind: str


def none_beside(_: str) -> tuple[str, ...]:
    """Return no reference: none is taken for another."""
    return ()


SIGNS = {
    "+": "-", "-": "+", "*": "+", "/": "*", "<": "<=", "<=": "<", ">": ">=", ">=": ">",
    "=": "<>", "<>": "=",
}  # fmt: skip
FUNCTIONS = {
    "ROUND": ("ROUNDUP", "ROUNDDOWN"), "ROUNDUP": ("ROUND", "ROUNDDOWN"),
    "ROUNDDOWN": ("ROUND", "ROUNDUP"), "MIN": ("MAX",), "MAX": ("MIN",), "AND": ("OR",),
    "OR": ("AND",), "ABS": ("N",), "INT": ("N",),
}  # fmt: skip
NUMBERS = {"0": ("1",), "1": ("0", "2"), "2": ("1",)}
DIGITS = {"0": ("1", "2"), "1": ("0", "2"), "2": ("1", "0")}
ROUNDING = ("ROUND", "ROUNDUP", "ROUNDDOWN")
DUST = "6"
"""Digits of a rounding that takes off what binary arithmetic leaves, and no more."""
GUARD = "{const.least_step}"
"""What stands under a division by nothing: any figure far below a cent does."""
_CRITERION = re.compile(r'"(<>|<=|>=|<|>|=)(.*)"')
_LINE = re.compile(r"(\{.*\[)(\d+)(\]\})")


@dataclass
class _Call:
    """A function, or plain brackets: where its words stand."""

    name: str
    start: int
    commas: list[int] = field(default_factory=list)
    end: int = 0


def mutants(formula: str, beside: Beside = none_beside) -> list[Mutant]:
    """Return the formula with one thing changed, for each thing there is."""
    read = list(tokens(formula))
    words = [word for _, word in read]
    out = []
    for first, last, new, kind in _changes(read, beside):
        old = "".join(words[first:last])
        before, after = "".join(words[:first])[-14:], "".join(words[last:])[:14]
        whole = "".join((*words[:first], new, *words[last:]))
        if new != old:
            what = f"{before}[{old or 'nothing'} → {new or 'nothing'}]{after}"
            out.append(Mutant(what, whole, kind))
    return out


def fixed_mutants(value: Scalar) -> list[tuple[str, Scalar]]:
    """Return a fixed word or number with one thing changed."""
    if isinstance(value, float):
        return [(f"[{value:g} → {new}]", float(new)) for new in NUMBERS.get(f"{value:g}", ())]
    return [(f"[{value} → {value}~]", f"{value}~")] if isinstance(value, str) else []


def _changes(read: list[Token], beside: Beside) -> Iterator[_New]:
    """Yield from where to where words are taken out, and what is put in."""
    calls = list(_calls(read))
    digits = {call.commas[-1] + 1 for call in calls if call.name in ROUNDING}
    dust = {call.start for call in calls
            if call.name in ROUNDING and read[call.commas[-1] + 1][1] == DUST}  # fmt: skip
    for call in calls:
        yield from _of_call(call, [word for _, word in read])
    for at, (kind, word) in enumerate(read):
        if kind == "function" and at not in dust:
            yield from (_New(at, at + 1, new, _KINDS[word]) for new in FUNCTIONS.get(word, ()))
        elif kind == "number":
            of = "digits" if at in digits else "constant"
            news = (DIGITS if at in digits else NUMBERS).get(word, ())
            yield from (_New(at, at + 1, new, of) for new in news)
        elif kind == "sign":
            of = "comparison" if set(word) & set("<=>") else "sign"
            yield from (_New(at, at + 1, new, of) for new in _signs(read, at))
        elif kind == "string":
            rule = _CRITERION.fullmatch(word)
            yield _New(at, at + 1, _string(word), "comparison" if rule else "words")
        elif kind == "reference":
            yield from (_New(at, at + 1, *new) for new in _reference(word, beside))


_KINDS = {name: kind for kind, names in {
    "rounding": (*ROUNDING, "INT"), "extreme": ("MIN", "MAX"), "logic": ("AND", "OR", "ABS"),
}.items() for name in names}  # fmt: skip
_TAKES_TURNS = {"IF": (1, 2), "ATAN2": (0, 1), "CHOOSE": (1, 2), "SUMIF": (0, 2), "MATCH": (0, 1)}
"""Two arguments of a function that could stand in each other's place."""


def _of_call(call: _Call, words: list[str]) -> Iterator[_New]:
    """Yield the changes of a function's arguments: always, never, left out, in another order."""
    ends = [*call.commas, call.end]
    given = [(a + 1, b) for a, b in zip([call.start + bool(call.name), *call.commas], ends,
                                        strict=True)]  # fmt: skip
    if call.name == "IF":
        yield from (_New(*given[0], always, "condition") for always in ("1", "0"))
    if call.name in ("AND", "OR") and len(given) > 1:
        for number, (first, last) in enumerate(given):
            with_comma = (first, last + 1) if not number else (first - 1, last)
            yield _New(*with_comma, "", "condition")
    if call.name in _TAKES_TURNS and len(given) > max(_TAKES_TURNS[call.name]):
        (a, b), (c, d) = (given[at] for at in _TAKES_TURNS[call.name])
        one, between, other = ("".join(words[x:y]) for x, y in ((a, b), (b, c), (c, d)))
        yield _New(a, d, other + between + one, "order")


def _calls(read: list[Token]) -> Iterator[_Call]:
    """Yield the functions of a formula, innermost first."""
    opened: list[_Call] = []
    for at, (_, word) in enumerate(read):
        if word == "(":
            named = at > 0 and read[at - 1][0] == "function"
            opened.append(_Call(read[at - 1][1] if named else "", at - named))
        elif word == "," and opened:
            opened[-1].commas.append(at)
        elif word == ")":
            call = opened.pop()
            call.end = at
            yield call


def _signs(read: list[Token], at: int) -> tuple[str, ...]:
    sign = read[at][1]
    before = read[at - 1] if at else ("mark", "(")
    if before[0] == "sign" or before[1] in ("(", ","):
        return ("",) if sign == "-" else ()
    return (SIGNS[sign],) if sign in SIGNS else ()


def _string(word: str) -> str:
    """Return other words, or another rule where a function counts by one."""
    rule = _CRITERION.fullmatch(word)
    return f'"{SIGNS[rule[1]]}{rule[2]}"' if rule else f'{word[:-1]}~"'


def _reference(word: str, beside: Beside) -> Iterator[tuple[str, str]]:
    """Yield another line, nothing above, twice a constant, a field beside it, fewer lines."""
    if word.endswith("^}"):
        yield "0", "line"
    elif word.startswith("{const.") and word != GUARD:
        yield f"({word}+{word})", "constant"
    elif line := _LINE.fullmatch(word):
        number = int(line[2])
        yield f"{line[1]}{number - 1 if number > 1 else 2}{line[3]}", "line"
    elif word.endswith("[]}"):
        yield from ((word + mark, "range") for mark in (SHORTER, FIRST))
    if not word.startswith("{const."):
        yield from ((other, "reference") for other in beside(word))
