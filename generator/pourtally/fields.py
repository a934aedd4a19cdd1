"""The fields of a block with those that follow: a column for each gift, lines packed.

A block that ``packs`` another shows its lines that are on, one after the other: the other
gets a column of their places, this one a column of the line that stands here.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cached_property

from .declared import Columns, FieldSaid, GoesSaid, Packs
from .expand import Expanded, Said, Word
from .hint import near
from .schema import Slips

_AT = re.compile(r"\{@(\w+)\}")


class Fields:
    """The fields of all blocks."""

    def __init__(self, said: Said, expanded: Expanded, slips: Slips) -> None:
        """Take what the files say, its lines and gifts, and where to tell slips."""
        self._said, self._expanded, self._slips = said, expanded, slips

    def of(self, key: str) -> list[FieldSaid]:
        """Return the fields of a block with those that follow, every formula in full."""
        _, block, declared = self._said.blocks[key]
        out: list[FieldSaid] = []
        if block.packs:
            out.append(_place_in(block.packs))
        for said in declared:
            out += (
                self._columns(key, said, said.collect) if said.collect else [self._field(key, said)]
            )
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
                alike = [p for p in ways if p.on == block.packs.on]
                if alike and alike[0].by != block.packs.by:
                    self._slips.tell(f"{where}: block {block.key}", f"packs {of} by "
                                     f"'{block.packs.by}', and another by '{alike[0].by}'; one "
                                     "column on has one order")  # fmt: skip
                ways += [] if alike else [block.packs]
        return out

    def _field(self, block: str, said: FieldSaid) -> FieldSaid:
        where = f"{self._said.blocks[block][0]}: block {block}, field {said.key}"
        if said.from_ is not None and self._said.blocks[block][1].packs:
            return self._picked(block, said, where)
        if said.fixed:
            rule = said.fixed
            run, cycle, most = map(self._many, (rule.run, rule.cycle, rule.most))
            return replace(said, fixed=replace(rule, run=run, cycle=cycle, most=most))
        if said.effect:
            checked = self._expanded.formula(where, said.effect.formula, block)
            return replace(said, effect=replace(said.effect, formula=checked))
        if said.instead:
            return replace(said, instead=self._expanded.formula(where, said.instead, block))
        if said.formula is None:
            return said
        said = replace(said, formula=linked(said.formula, said.goes)) if said.goes else said
        return replace(said, formula=self._expanded.formula(where, str(said.formula), block))

    def _many(self, lines: int | str) -> int:
        """Return a number of lines, or as many as a block has."""
        return lines if isinstance(lines, int) else self._expanded.lines(lines)

    def _picked(self, block: str, said: FieldSaid, where: str) -> FieldSaid:
        packs = self._said.blocks[block][1].packs
        assert packs
        cell = f"INDEX({{{packs.of}.{said.from_}[]}},{{at}})"
        words = not said.quantity
        formula = f'IF({{at}}>0,{cell}&"","")' if words else f"IF({{at}}>0,{cell},0)"
        return replace(said, from_=None, formula=formula)

    def _columns(self, block: str, said: FieldSaid, of: str | Columns) -> list[FieldSaid]:
        """Return one column for each gift of a kind."""
        asked = Columns(of=of) if isinstance(of, str) else of
        where = f"{self._said.blocks[block][0]}: block {block}, field {said.key}"
        out: list[FieldSaid] = []
        for gift in self._expanded.whole_gifts:
            says = not asked.saying or asked.saying in gift.says
            if gift.to == asked.of and said.formula is not None and says:
                label = str(gift.says.get("label", gift.code))
                known = {**self._expanded.usual(gift.to), **gift.told}
                made = replace(
                    said, key=f"{said.key}_{gift.code}", label=label, collect="",
                    formula=self._told(where, said.formula, known),
                )  # fmt: skip
                column = self._field(block, made)
                if column.formula not in [one.formula for one in out]:
                    out.append(column)
        if not out:
            self._slips.tell(where, f"nothing gives '{asked.of}'")
        return out

    def _told(self, where: str, formula: str, known: dict[str, Word]) -> str:
        return _AT.sub(lambda m: self._said_of(where, m[1], known), formula)

    def _said_of(self, where: str, name: str, known: dict[str, Word]) -> str:
        if name not in known:
            self._slips.tell(where, f"{{@{name}}} is said by no gift; {near(name, known)}")
        word = known.get(name, "")
        return f"{word:g}" if isinstance(word, float) else word.removeprefix("=")


def linked(words: str, goes: str | tuple[str, ...] | GoesSaid) -> str:
    """Return the formula of words that lead to a cell: its address is known once all stand."""
    if not isinstance(goes, GoesSaid):
        return f"HYPERLINK({{>{goes}}},{words})"
    to = f"{{>{goes.to}}}" if not goes.line else f"{{>>{goes.to}}}+MAX(1,{goes.line})"
    return f"HYPERLINK({goes.by or to},{words})"


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
