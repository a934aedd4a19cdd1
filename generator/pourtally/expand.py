"""From what the files say to what follows from it, line by line.

How many lines a block has where it derives from others; a gift for ``each`` line of a block
to as many gifts.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import prod
from typing import Any

from .declared import BlockSaid, CheckSaid, FieldSaid, GiftSaid, TakesSaid
from .hint import near
from .model import STATES
from .schema import Slips, own
from .shorthand import Shorthand

_LINE_OF = re.compile(r"\{([!?]?)([a-z]\w*)\.([a-z][\w.]*)\}")
_COLUMN_OF = re.compile(r"\{(\w+)\.\w+\[\]\}$")
_PLACE = re.compile(r"\{[!?]?([a-z]\w*(?:\.\w+)?)\.no\b")
Word = float | str
"""What a gift says under one name: a number, words, or a formula that starts with =."""


@dataclass(frozen=True)
class Gift:
    """One line given to what collects it: its code, and what it says by name."""

    to: str
    code: str
    says: dict[str, Word]
    where: str
    key: str = ""
    line: int = 0

    @property
    def told(self) -> dict[str, Word]:
        """Return all that can be asked of it: what it says, its code, its key and its line."""
        frame: dict[str, Word] = {
            "code": self.code,
            "key": self.key or self.code,
            "line": float(self.line),
        }
        return {**self.says, **frame}


@dataclass(frozen=True)
class Said:
    """Everything the files say, with the place of each piece."""

    blocks: dict[str, tuple[str, BlockSaid, tuple[FieldSaid, ...]]]
    gifts: tuple[tuple[str, GiftSaid], ...]
    checks: tuple[tuple[str, CheckSaid], ...]
    takes: dict[str, TakesSaid]


class Expanded:
    """What the files say, with what follows: lines, gifts, fields."""

    def __init__(self, said: Said, slips: Slips, words: dict[str, str]) -> None:
        """Take what was read, where to tell slips, and the program's own words."""
        self._said, self._slips, self._words = said, slips, words
        self.formula = Shorthand(
            {key: fields for key, (_, _, fields) in said.blocks.items()}, self._labels, slips
        ).formula

    # Lines -------------------------------------------------------------------------------

    def lines(self, key: str, asked: tuple[str, ...] = ()) -> int:
        """Return how many lines a block has; it may follow from other blocks."""
        if key in asked or key not in self._said.blocks:
            self._tell_lines(key, asked)
            return 1
        _, block, _ = self._said.blocks[key]
        asked = (*asked, key)
        if block.collect:
            return sum(self._many(g, block, asked) for g in self._given(block))
        if isinstance(block.lines, tuple):
            return prod(n if isinstance(n, int) else self.lines(n, asked) for n in block.lines)
        if block.lines is not None:
            return block.lines
        return self.lines(block.with_, asked) if block.with_ else 1

    def _tell_lines(self, key: str, asked: tuple[str, ...]) -> None:
        """Tell of lines that follow from nothing, or from themselves."""
        by = asked[-1] if asked else key
        where = f"{self._said.blocks[by][0]}: block {by}" if by in self._said.blocks else by
        if key in asked:
            self._slips.tell(where, f"its lines follow from themselves, by {' and '.join(asked)}")
        else:
            self._slips.tell(where, f"'{key}' is no block; {near(key, self._said.blocks)}")

    def group(self, key: str) -> str:
        """Return the block whose lines a block shares, itself where it shares none."""
        seen: list[str] = []
        while (block := self._said.blocks.get(key)) and block[1].with_ and key not in seen:
            seen.append(key)
            key = block[1].with_
        return key

    def _given(self, block: BlockSaid) -> list[GiftSaid | CheckSaid]:
        names = kinds(block.collect)
        out: list[GiftSaid | CheckSaid] = []
        for name in names:
            out += [g for _, g in self._said.gifts if g.to == name]
            out += [c for _, c in self._said.checks] if name == "check" else []
        return out

    def _many(self, gift: GiftSaid | CheckSaid, block: BlockSaid, asked: tuple[str, ...]) -> int:
        if isinstance(gift, CheckSaid) or block.whole or not gift.each:
            return 1
        return self.lines(gift.each, asked)

    # Gifts -------------------------------------------------------------------------------

    @cached_property
    def whole_gifts(self) -> list[Gift]:
        """Return the gifts as declared, one for each."""
        out = [
            replace(g, says={k: self._word(f"{g.where}: {k}", v) for k, v in g.says.items()})
            for g in self._raw_gifts
        ]
        return out + [self._check(where, check) for where, check in self._said.checks]

    @cached_property
    def _raw_gifts(self) -> list[Gift]:
        """Return the gifts as declared, in order, with what they say as it was written."""
        out = [Gift(g.to, g.key, dict(g.says), f"{where}: gives {g.key}")
               for where, g in self._said.gifts]  # fmt: skip
        for where, gift in self._said.gifts:
            if gift.after:
                self._move(out, gift, where)
        return out

    def _labels(self, key: str) -> list[str]:
        """Return the first words that each gift brings to a block that takes whole ones."""
        _, block, fields = self._said.blocks[key]
        name = next((f.from_ for f in fields if f.from_), "")
        wanted = kinds(block.collect) if block.whole else ()
        return [str(g.says.get(name, "")) for kind in wanted for g in self._raw_gifts
                if g.to == kind]  # fmt: skip

    def _move(self, out: list[Gift], said: GiftSaid, where: str) -> None:
        """Put a gift after the one it names."""
        alike = {g.code: g for g in out if g.to == said.to}
        if said.after not in alike:
            self._slips.tell(
                f"{where}: gives {said.key}", f"after '{said.after}'; {near(said.after, alike)}"
            )
        elif gift := alike.get(said.key):
            out.remove(gift)
            _put(out, gift, said.after)

    @cached_property
    def gifts(self) -> list[Gift]:
        """Return every gift, with one for each line where it is given so."""
        said = {(g.to, g.key): g for _, g in self._said.gifts}
        out: list[Gift] = []
        for gift in self.whole_gifts:
            one = said.get((gift.to, gift.code))
            for line in self._by_line(gift, one.each) if one and one.each else [gift]:
                before = line.code.replace(gift.code, one.after, 1) if one and one.after else ""
                _put(out, line, before)
        return out

    def collected(self, block: BlockSaid) -> list[Gift]:
        """Return what is given to a block, in the order of what it collects and of the files."""
        among = self.whole_gifts if block.whole else self.gifts
        wanted = [g for name in kinds(block.collect) for g in among if g.to == name]
        return [replace(g, says={**self.usual(g.to), **g.says}) for g in wanted]

    def usual(self, kind: str) -> dict[str, Word]:
        """Return what a gift is taken to say where it does not; what it must say is told apart."""
        takes = self._said.takes[kind]
        return dict.fromkeys(takes.needed, "") | {
            n: self._word(f"takes {kind}: usual {n}", v) for n, v in takes.usual.items()
        }

    def _word(self, where: str, came: Any) -> Word:
        came = own(came, self._slips)
        if isinstance(came, str):
            return f"={self.formula(where, came[1:])}" if came.startswith("=") else came
        if isinstance(came, (int, float)) and not isinstance(came, bool):
            return float(came)
        self._slips.tell(where, f"came {came!r}; expected a number, words or a formula")
        return 0.0

    def _by_line(self, gift: Gift, each: str) -> list[Gift]:
        group = self.group(each)
        shared = {key for key in self._said.blocks if self.group(key) == group}

        def on(word: Word, number: int) -> Word:
            if word == "{line}":
                return float(number)
            if not isinstance(word, str):
                return word
            told = word.replace("{line}", str(number))
            return _LINE_OF.sub(
                lambda m: f"{m[0][:-1]}[{number}]}}" if m[2] in shared else m[0], told
            )

        return [
            replace(
                gift,
                code=f"{gift.code}_{number}",
                key=gift.code,
                line=number,
                says={name: on(word, number) for name, word in gift.says.items()},
            )
            for number in range(1, self.lines(each) + 1)
        ]

    def _check(self, where: str, check: CheckSaid) -> Gift:
        """Return a check with its count and the first line it concerns, as formulas."""
        place = f"{where}: check {check.key}"
        if bool(check.lines) == bool(check.count):
            self._slips.tell(place, "needs either lines, a column of 0 and 1, or count")
        count = f"N({check.count})"
        first = check.first
        if check.lines:
            wrong = str(check.value) if check.value else '">0"'
            count = f"COUNTIF({check.lines},{wrong})"
            first = first or f"IFERROR(MATCH({check.value or 1},{check.lines},0),0)"
        says: dict[str, Word] = {
            "say": check.say,
            "at": check.at,
            "level": self._level(place, check),
            "kind": check.level.upper(),
            "holds": f", {check.holds}" if check.holds else "",
            "money": float(check.holds == "money"),
            "count": f"={self.formula(place, count)}",
            "first": f"={self.formula(place, first)}" if first else "",
            "down": float(self._runs(check) == "table"),
            "right": float(self._runs(check) == "across"),
        }
        return Gift("check", check.key, says, place)

    def _level(self, place: str, check: CheckSaid) -> Word:
        """Return the state of a check where it is open, a formula where that may change."""
        if check.level != "stop" and (check.holds or check.unless):
            self._slips.tell(place, "holds and unless are said of a stop only")
        state = float(STATES.index(check.level))
        if not check.unless:
            return state
        return f"={self.formula(place, f'{state:g}-N({check.unless}<>0)')}"

    def _runs(self, check: CheckSaid) -> str:
        """Return the shape of the entry's block where the lines of a check are those of it."""
        home, found = check.at.split(".")[0], _COLUMN_OF.match(check.lines)
        alike = found and home in self._said.blocks and self.group(found[1]) == self.group(home)
        return self._said.blocks[home][1].shape if alike else ""


def numbered_choices(said: Said) -> set[str]:
    """Return the choices whose place in their list is asked for, as ``{mix.no}`` does."""
    out: set[str] = set()
    for key, (_, _, fields) in said.blocks.items():
        texts = [t for f in fields for t in (f.formula, f.effect and f.effect.formula) if t]
        found = _PLACE.findall(" ".join(texts))
        out |= {name if "." in name else f"{key}.{name}" for name in found}
        out |= {f.empty for f in fields if f.empty}
    words = [str(w) for _, gift in said.gifts for w in gift.says.values()]
    words += [str(w) for takes in said.takes.values() for w in takes.usual.values()]
    words += [f"{c.count} {c.lines} {c.first} {c.unless}" for _, c in said.checks]
    return out | set(_PLACE.findall(" ".join(words)))


def _put(out: list[Gift], gift: Gift, before: str) -> None:
    """Put a gift after the one of its kind with the code ``before``, else at the end."""
    codes = [g.code if g.to == gift.to else "" for g in out] if before else []
    out.insert(codes.index(before) + 1 if before in codes else len(out), gift)


def kinds(collect: str | Iterable[str]) -> tuple[str, ...]:
    """Return the kinds of things that a block collects."""
    if isinstance(collect, str):
        return (collect,) if collect else ()
    return tuple(collect)
