"""From what the files say to what follows from it, line by line.

How many lines a block has where it derives from others; a gift ``each`` line of a block to
as many gifts; words of a list to the cells that hold them; lines that are ``on`` packed one
after the other.  What comes out has no more short-hand in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import prod
from typing import Any

from . import syntax
from .declared import BlockSaid, CheckSaid, FieldSaid, GiftSaid, Packs, TakesSaid
from .hint import near
from .model import TemplateError
from .schema import Slips, own

_LINE_OF = re.compile(r"\{([!?]?)([a-z]\w*)\.([a-z][\w.]*)\}")
_IS = re.compile(r"\{([a-z][\w.]*) is ([^{}]+)\}")
_OF = re.compile(r"\{([a-z][\w.]*) of ([^{}]+)\}")
_AT = re.compile(r"\{@(\w+)\}")
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
        frame = {"code": self.code, "key": self.key or self.code, "line": float(self.line)}
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

    # Lines -------------------------------------------------------------------------------

    def lines(self, key: str, asked: tuple[str, ...] = ()) -> int:
        """Return how many lines a block has; it may follow from other blocks."""
        if key in asked:
            raise TemplateError(f"{key}: its lines follow from themselves, by {' and '.join(asked)}")
        if key not in self._said.blocks:
            raise TemplateError(
                f"{asked[-1] if asked else key}: '{key}' is no block; "
                f"{near(key, self._said.blocks)}"
            )
        _, block, _ = self._said.blocks[key]
        asked = (*asked, key)
        if block.collect:
            return sum(self._many(g, block, asked) for g in self._given(block))
        if isinstance(block.lines, tuple):
            return prod(n if isinstance(n, int) else self.lines(n, asked) for n in block.lines)
        if block.lines is not None:
            return block.lines
        return self.lines(block.with_, asked) if block.with_ else 1

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
        each = isinstance(gift, GiftSaid) and gift.each and not block.whole
        return self.lines(gift.each, asked) if each and isinstance(gift, GiftSaid) else 1

    # Gifts -------------------------------------------------------------------------------

    @cached_property
    def whole_gifts(self) -> list[Gift]:
        """Return the gifts as declared, one for each."""
        out = []
        for where, gift in self._said.gifts:
            place = f"{where}: gives {gift.key}"
            if takes := self._takes(place, gift):
                self._hold(place, gift, takes)
                words = {k: self._word(f"{place}: {k}", v) for k, v in gift.says.items()}
                out.append(Gift(gift.to, gift.key, words, place))
        return out + [self._check(where, check) for where, check in self._said.checks]

    @cached_property
    def gifts(self) -> list[Gift]:
        """Return every gift, with one for each line where it is given so."""
        said = {(g.to, g.key): g for _, g in self._said.gifts}
        out: list[Gift] = []
        for gift in self.whole_gifts:
            one = said.get((gift.to, gift.code))
            for line in self._by_line(gift, one.each) if one and one.each else [gift]:
                before = line.code.replace(gift.code, one.after, 1) if one and one.after else ""
                codes = [g.code if g.to == gift.to else "" for g in out] if before else []
                out.insert(codes.index(before) + 1 if before in codes else len(out), line)
        return out

    def collected(self, block: BlockSaid) -> list[Gift]:
        """Return what is given to a block, in the order of what it collects and of the files."""
        among = self.whole_gifts if block.whole else self.gifts
        wanted = [g for name in kinds(block.collect) for g in among if g.to == name]
        return [replace(g, says={**self._usual(g.to), **g.says}) for g in wanted]

    def _usual(self, kind: str) -> dict[str, Word]:
        """Return what a gift is taken to say where it does not."""
        takes = self._said.takes[kind]
        return {n: self._word(f"takes {kind}: usual {n}", v) for n, v in takes.usual.items()}

    def _takes(self, where: str, gift: GiftSaid) -> TakesSaid | None:
        takes = self._said.takes.get(gift.to)
        if takes is None:
            self._slips.tell(where, f"to '{gift.to}' is collected nowhere; "
                             f"{near(gift.to, self._said.takes)}")  # fmt: skip
        return takes

    def _hold(self, where: str, gift: GiftSaid, takes: TakesSaid) -> None:
        """Hold a gift to what its collector wants to know."""
        known = [*takes.needed, *takes.usual, *takes.when]
        for name in gift.says:
            if name not in known:
                self._slips.tell(where, f"unknown name '{name}'; {near(name, known)}")
        if missing := [n for n in takes.needed if n not in gift.says]:
            self._slips.tell(where, f"lacks {', '.join(missing)}, which every {gift.to} says")
        for name, others in takes.when.items():
            if others in gift.says and name not in gift.says:
                self._slips.tell(where, f"says {others} and so needs {name}")

    def _word(self, where: str, came: Any) -> Word:
        came = own(came, self._slips.units)
        if isinstance(came, str):
            return self.formula(where, came[1:], "=") if came.startswith("=") else came
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
            count = f'COUNTIF({check.lines},">0")'
            first = first or f'IFERROR("{self._words["at_line"]} "&MATCH(1,{check.lines},0),"")'
        says: dict[str, Word] = {
            "say": check.say,
            "at": check.at,
            "word": self._words[check.level],
            "level": float(("", "look", "stop").index(check.level)),
            "count": self.formula(f"{place}: {'lines' if check.lines else 'count'}", count, "="),
            "first": self.formula(f"{place}: first", first, "=") if first else "",
        }
        return Gift("check", check.key, says, place)

    # Fields and formulas -----------------------------------------------------------------

    def fields(self, key: str) -> list[FieldSaid]:
        """Return the fields of a block with those that follow, every formula in full."""
        where, block, declared = self._said.blocks[key]
        out: list[FieldSaid] = []
        if block.packs:
            out.append(_place_in(block.packs))
        for said in declared:
            out += self._columns(key, said) if said.collect else [self._field(key, said)]
        return out + [_rank(p) for p in self._packed.get(key, ())]

    @cached_property
    def _packed(self) -> dict[str, list[Packs]]:
        """Return {block: the ways in which others pack it}."""
        out: dict[str, list[Packs]] = {}
        for where, block, _ in self._said.blocks.values():
            if block.packs:
                of = block.packs.of
                if of not in self._said.blocks:
                    hint = near(of, self._said.blocks)
                    self._slips.tell(f"{where}: block {block.key}", f"packs '{of}'; {hint}")
                ways = out.setdefault(of, [])
                if _rank(block.packs).key not in [_rank(p).key for p in ways]:
                    ways.append(block.packs)
        return out

    def _field(self, block: str, said: FieldSaid) -> FieldSaid:
        where = f"{self._said.blocks[block][0]}: block {block}, field {said.key}"
        if said.pick is not None:
            return self._picked(block, said, where)
        if said.fixed:
            cycle, run = said.fixed.cycle, said.fixed.run
            return replace(said, fixed=replace(
                said.fixed,
                run=run if isinstance(run, int) else self.lines(run),
                cycle=cycle if isinstance(cycle, int) else self.lines(cycle),
            ))  # fmt: skip
        if said.formula is None:
            return said
        return replace(said, formula=self.formula(where, said.formula, "", block))

    def _picked(self, block: str, said: FieldSaid, where: str) -> FieldSaid:
        packs = self._said.blocks[block][1].packs
        if packs is None:
            self._slips.tell(where, "pick stands only in a block that packs another")
            return replace(said, pick=None, formula="0")
        cell = f"INDEX({{{packs.of}.{said.pick}[]}},{{at}})"
        words = not said.quantity
        formula = f'IF({{at}}>0,{cell}&"","")' if words else f"IF({{at}}>0,{cell},0)"
        return replace(said, pick=None, formula=formula)

    def _columns(self, block: str, said: FieldSaid) -> list[FieldSaid]:
        """Return one column for each gift of a kind."""
        where = f"{self._said.blocks[block][0]}: block {block}, field {said.key}"
        out: list[FieldSaid] = []
        for gift in self.whole_gifts:
            says = not said.saying or said.saying in gift.says
            if gift.to == said.collect and said.formula is not None and says:
                known = {**self._usual(gift.to), **gift.told}
                formula = _AT.sub(lambda m, known=known: self._said_of(where, m[1], known),
                                  said.formula)  # fmt: skip
                label = str(gift.says.get("label", gift.code))
                made = replace(said, key=f"{said.key}_{gift.code}", label=label, collect="", saying="",
                               formula=formula)  # fmt: skip
                column = self._field(block, made)
                if column.formula not in [one.formula for one in out]:
                    out.append(column)
        if not out:
            self._slips.tell(where, f"nothing gives '{said.collect}'")
        return out

    def _said_of(self, where: str, name: str, known: dict[str, Word]) -> str:
        if name not in known:
            self._slips.tell(where, f"{{@{name}}} is said by no gift; {near(name, known)}")
        word = known.get(name, "")
        return f"{word:g}" if isinstance(word, float) else word.removeprefix("=")

    def formula(self, where: str, text: str, sign: str = "", block: str = "") -> str:
        """Return a formula with the cells of a list in place of its words, its grammar checked."""
        text = _IS.sub(lambda m: self._is(where, block, m[1], m[2]), text)
        text = _OF.sub(lambda m: self._of(where, m[1], m[2]), text)
        for slip in syntax.mistakes(text):
            self._slips.tell(where, f"{slip}: {text}" if len(text) < 120 else slip)
        return sign + text

    def _is(self, where: str, block: str, key: str, word: str) -> str:
        """Return the comparison of a choice with a word of its list."""
        home, _, name = key.rpartition(".")
        said = next((f for f in self._declared(home or block) if f.key == name), None)
        if said is None or not said.choices:
            self._slips.tell(where, f"{{{key} is {word}}}: {key} is no choice")
            return "0"
        listed = said.choices
        return f"{{{key}}}={self._of(where, listed, word)}"

    def _of(self, where: str, key: str, word: str) -> str:
        """Return the cell of a column on the line of a word, the first text of its block."""
        home, _, name = key.rpartition(".")
        declared = self._declared(home)
        words = next((f.text for f in declared if f.text is not None), None)
        if words is None or name not in {f.key for f in declared}:
            self._slips.tell(where, f"{{{key} of {word}}}: {key} is no column beside fixed words")
            return "0"
        listed = [words] if isinstance(words, str) else list(words)
        if word not in listed:
            self._slips.tell(where, f"'{word}' is not in {home}; {near(word, listed)}")
            return "0"
        return f"{{{key}[{listed.index(word) + 1}]}}"

    def _declared(self, block: str) -> tuple[FieldSaid, ...]:
        return self._said.blocks[block][2] if block in self._said.blocks else ()


def kinds(collect: str | Iterable[str]) -> tuple[str, ...]:
    """Return the kinds of things that a block collects."""
    if isinstance(collect, str):
        return (collect,) if collect else ()
    return tuple(collect)


def _rank(packs: Packs) -> FieldSaid:
    """Return the column that counts the lines that are on, beside those that are packed."""
    on = packs.on
    rank = f'{{{on}}}*COUNTIFS({{{on}[]}},1,{{line[]}},"<="&{{line}})'
    if packs.by:
        before = f'COUNTIFS({{{on}[]}},1,{{{packs.by}[]}},"<"&{{{packs.by}}})'
        alike = f'COUNTIFS({{{on}[]}},1,{{{packs.by}[]}},{{{packs.by}}},{{line[]}},"<="&{{line}})'
        rank = f"{{{on}}}*({before}+{alike})"
    return FieldSaid(key=f"{on}_rank", label="Place among the lines in use", formula=rank,
                     quantity="count", working=True)  # fmt: skip


def _place_in(packs: Packs) -> FieldSaid:
    """Return the column that says which line of the packed block stands here."""
    match = f"IFERROR(MATCH({{line}},{{{packs.of}.{packs.on}_rank[]}},0),0)"
    shown = f"{{{packs.while_}}}*{match}" if packs.while_ else match
    return FieldSaid(key="at", label="Its line in the whole list", formula=shown,
                     quantity="count", working=True)  # fmt: skip
