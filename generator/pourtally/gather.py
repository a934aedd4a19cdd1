"""The tables of all files to what they say, each piece with its place and every slip told."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any, TypeVar

from . import rules, syntax
from .declared import BlockSaid, ChartSaid, CheckSaid, FieldSaid, GiftSaid, GoesSaid, TakesSaid
from .expand import Said, kinds
from .hint import near
from .schema import Slips, Table, declared, own
from .shorthand import plain

T = TypeVar("T")
_SHOWN = 120  # characters: a longer formula is not repeated beside its slip
_KINDS = ("block", "gives", "check", "takes", "example")
_GIFT = {f.name for f in fields(GiftSaid)} - {"says"}
_CHECKED = TakesSaid(
    what="check",
    needed=("say", "at", "level", "kind", "holds", "money", "count", "first", "down", "right"),
)
"""What a check says, which needs no declaring: its own kind of table does."""


def gather(items: dict[str, Table], slips: Slips) -> Said:
    """Return what all files say; ``slips`` has everything that is wrong with them."""
    gifts: list[tuple[str, GiftSaid]] = []
    checks: list[tuple[str, CheckSaid]] = []
    takes: dict[str, TakesSaid] = {"check": _CHECKED}
    for file, item in items.items():
        for key in item.keys() - set(_KINDS):
            slips.tell(file, f"unknown key '{key}'; {near(key, _KINDS)}")
        made = [_gift(raw, file, slips) for raw in _tables(item, "gives", file, slips)]
        gifts += [(file, gift) for gift in made if gift]
        checks += [(file, check) for check in _all(CheckSaid, "check", item, file, slips)]
        for one in _all(TakesSaid, "takes", item, file, slips):
            if one.what in takes:
                slips.tell(file, f"takes {one.what}: described twice; keep one of them")
            takes[one.what] = one
            _words(f"{file}: takes {one.what}: usual", dict(one.usual), slips)
    for file, gift in gifts:
        _held(gift, f"{file}: gives {gift.key}", takes, slips)
    for file, check in checks:
        _check(check, file, slips)
    blocks = _blocks(items, slips)
    for file, block, _ in blocks.values():
        for kind in kinds(block.collect):
            if kind not in takes:
                slips.tell(f"{file}: block {block.key}", f"collects '{kind}', which no takes "
                           f"describes; {near(kind, takes)}")  # fmt: skip
    _twice([(f"{g.to} {g.key}", file) for file, g in gifts], "gives", slips)
    _twice([(c.key, file) for file, c in checks], "check", slips)
    return Said(blocks, tuple(gifts), tuple(checks), takes)


def _all(kind: type[T], name: str, item: Table, file: str, slips: Slips) -> list[T]:
    """Return the tables of one kind in a file."""
    raws = _tables(item, name, file, slips)
    made = [declared(kind, raw, f"{file}: {name} {_called(raw)}", slips) for raw in raws]
    return [one for one in made if one is not None]


def _blocks(
    items: dict[str, Table], slips: Slips
) -> dict[str, tuple[str, BlockSaid, tuple[FieldSaid, ...]]]:
    blocks: dict[str, tuple[str, BlockSaid, tuple[FieldSaid, ...]]] = {}
    for file, item in items.items():
        for raw in _tables(item, "block", file, slips):
            if made := _block(raw, file, slips):
                if made[0].key in blocks:
                    first = blocks[made[0].key][0]
                    slips.tell(file, f"block {made[0].key}: declared twice; it stands in {first}")
                blocks.setdefault(made[0].key, (file, *made))
    return blocks


def charts(block: BlockSaid, file: str, slips: Slips) -> list[ChartSaid]:
    """Return the drawings of a block."""
    where = f"{file}: block {block.key}, chart"
    made = [declared(ChartSaid, raw, where, slips) for raw in block.chart]
    return [chart for chart in made if chart]


def _tables(item: Table, kind: str, file: str, slips: Slips) -> list[Any]:
    found = item.get(kind, [])
    if not isinstance(found, list):
        slips.tell(file, f"{kind} came as one table; write [[{kind}]]")
        return []
    return found


def _called(raw: Any) -> str:
    return str(raw.get("key", raw.get("what", "without a key"))) if isinstance(raw, dict) else "?"


def _block(raw: Any, file: str, slips: Slips) -> tuple[BlockSaid, tuple[FieldSaid, ...]] | None:
    where = f"{file}: block {_called(raw)}"
    block = declared(BlockSaid, raw, where, slips)
    found = raw.get("field", []) if isinstance(raw, dict) else []
    made = [_field(one, f"{where}, field {_called(one)}", slips) for one in found]
    said = [one for one in made if one]
    names = [one.key for one in said]
    for name in sorted({n for n in names if names.count(n) > 1}):
        slips.tell(where, f"field {name}: declared twice; keep one of them")
    if block is None:
        return None
    if block.lines and block.collect:
        slips.tell(where, "lines follow from what is collected; leave lines out")
    for one in said:
        if isinstance(one.former, str) and one.former and one.former not in names:
            hint = near(one.former, names)
            slips.tell(f"{where}, field {one.key}", f"former '{one.former}'; {hint}")
    if block.lines and block.with_:
        slips.tell(where, f"lines follow from {block.with_}, which it goes with; leave lines out")
    return block, tuple(_with_former(one, said) for one in said)


def _with_former(one: FieldSaid, said: list[FieldSaid]) -> FieldSaid:
    """Return a field of former names with the usual names of its list to start with."""
    names = next((f.default for f in said if f.key == one.former), None)
    return replace(one, default=names) if one.entry and one.former else one


def _field(raw: Any, where: str, slips: Slips) -> FieldSaid | None:
    said = declared(FieldSaid, raw, where, slips)
    for slip in rules.slips(said) if said else ():
        slips.tell(where, slip)
    if said and said.formula is not None:
        _grammar(where, said.formula, slips)
    if said and said.effect:
        _grammar(where, said.effect.formula, slips)
    for text in (said.goes.line, said.goes.by) if said and isinstance(said.goes, GoesSaid) else ():
        if text:
            _grammar(where, text, slips)
    return said


def _grammar(where: str, text: str, slips: Slips) -> None:
    """Tell what is wrong with the grammar of a formula."""
    for slip in syntax.mistakes(plain(text)):
        slips.tell(where, f"{slip}: {text}" if len(text) < _SHOWN else slip)


def _words(where: str, words: dict[str, Any], slips: Slips) -> None:
    """Tell what is wrong with those of some words that are formulas."""
    for name, said in words.items():
        text = own(said, slips)
        if isinstance(text, str) and text.startswith("="):
            _grammar(f"{where}: {name}", text[1:], slips)


def _gift(raw: Any, file: str, slips: Slips) -> GiftSaid | None:
    where = f"{file}: gives {_called(raw)}"
    if not isinstance(raw, dict):
        slips.tell(where, "expected a table")
        return None
    frame = {key: value for key, value in raw.items() if key in _GIFT}
    says = {key: value for key, value in raw.items() if key not in _GIFT}
    _words(where, says, slips)
    return declared(GiftSaid, {**frame, "says": says}, where, slips)


def _held(gift: GiftSaid, where: str, takes: dict[str, TakesSaid], slips: Slips) -> None:
    """Hold a gift to what its collector wants to know."""
    wanted = takes.get(gift.to)
    if wanted is None:
        slips.tell(where, f"to '{gift.to}' is collected nowhere; {near(gift.to, takes)}")
        return
    known = [*wanted.needed, *wanted.usual, *wanted.when]
    for name in gift.says:
        if name not in known:
            slips.tell(where, f"unknown name '{name}'; {near(name, known)}")
    if missing := [n for n in wanted.needed if n not in gift.says]:
        slips.tell(where, f"lacks {', '.join(missing)}, which every {gift.to} says")
    for name, others in wanted.when.items():
        if others in gift.says and name not in gift.says:
            slips.tell(where, f"says {others} and so needs {name}")


def _check(check: CheckSaid, file: str, slips: Slips) -> None:
    """Tell what is wrong with the formulas of a check."""
    where = f"{file}: check {check.key}"
    column = f"=SUM({check.lines})" if check.lines else ""
    count = f"={check.count}" if check.count else ""
    first = f"={check.first}" if check.first else ""
    unless = f"={check.unless}" if check.unless else ""
    _words(where, {"count": count, "lines": column, "first": first, "unless": unless}, slips)


def _twice(found: list[tuple[str, str]], kind: str, slips: Slips) -> None:
    """Tell of a code that stands for two things."""
    first: dict[str, str] = {}
    for name, file in found:
        if name in first:
            slips.tell(file, f"{kind} {name}: this code stands in {first[name]} already; "
                       "give it one of its own")  # fmt: skip
        first.setdefault(name, file)
