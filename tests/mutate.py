"""One thing changed at a time: what a slip of the pen could make of a formula or of a fixed word.

A change is told as ``before[old → new]after``, so that it is found again in the formula.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from pourtally.model import Scalar
from pourtally.syntax import Token, tokens

Mutant = tuple[str, str]
"""What was changed, and the formula with it."""

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


def mutants(formula: str) -> list[Mutant]:
    """Return the formula with one thing changed, for each thing there is."""
    read = list(tokens(formula))
    words = [word for _, word in read]
    out = []
    for first, last, new in _changes(read):
        old = "".join(words[first:last])
        before, after = "".join(words[:first])[-14:], "".join(words[last:])[:14]
        whole = "".join((*words[:first], new, *words[last:]))
        out.append((f"{before}[{old or 'nothing'} → {new or 'nothing'}]{after}", whole))
    return out


def fixed_mutants(value: Scalar) -> list[tuple[str, Scalar]]:
    """Return a fixed word or number with one thing changed."""
    if isinstance(value, float):
        return [(f"[{value:g} → {new}]", float(new)) for new in NUMBERS.get(f"{value:g}", ())]
    return [(f"[{value} → {value}~]", f"{value}~")] if isinstance(value, str) else []


def _changes(read: list[Token]) -> Iterator[tuple[int, int, str]]:
    """Yield from where to where words are taken out, and what is put in."""
    calls = list(_calls(read))
    digits = {call.commas[-1] + 1 for call in calls if call.name in ROUNDING}
    dust = {call.start for call in calls
            if call.name in ROUNDING and read[call.commas[-1] + 1][1] == DUST}  # fmt: skip
    for call in calls:
        if call.name == "IF":
            for always in ("1", "0"):
                yield call.start + 2, call.commas[0], always
    for at, (kind, word) in enumerate(read):
        if kind == "function" and at not in dust:
            news = FUNCTIONS.get(word, ())
        elif kind == "number":
            news = (DIGITS if at in digits else NUMBERS).get(word, ())
        elif kind == "sign":
            news = _signs(read, at)
        elif kind == "string":
            news = (_string(word),)
        elif kind == "reference":
            news = _reference(word)
        else:
            news = ()
        for new in news:
            yield at, at + 1, new


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


def _reference(word: str) -> tuple[str, ...]:
    """Return the line before (the second for the first), nothing above, twice a constant."""
    if word.endswith("^}"):
        return ("0",)
    if word.startswith("{const.") and word != GUARD:
        return (f"({word}+{word})",)
    if line := _LINE.fullmatch(word):
        number = int(line[2])
        return (f"{line[1]}{number - 1 if number > 1 else 2}{line[3]}",)
    return ()
