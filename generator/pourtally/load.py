"""From what the files of ``templates/`` say to a book.

The files are read and held to what may be said in them; then what follows from it is
declared: the two cells of a length, the number of a choice, the cells of a "your figure",
the columns that several items give to one table, a check of every entry's limits, the
Basis sheet.  Every mistake of every file is named at once.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

from . import follow, sound
from .cells import Common, former_lists
from .declare import Maker, quantities
from .declared import BlockSaid, CheckSaid, ConstantSaid, ExampleSaid, FieldSaid, LedgerSaid, Said
from .drawings import drawings
from .expand import Expanded, numbered_choices
from .expand import Said as Gathered
from .fields import Fields
from .files import Table, items, read, release, templates_folder
from .gather import charts, gather
from .local import applied, local, usual
from .model import WORKINGS, Block, Book, Ledger, Sheet, Size, TemplateError, Units, Words
from .schema import Slips, declared

_CODE = FieldSaid(key="code", label="Code", from_="code", role="code")
"""The column of codes that a block has that collects, where something is typed."""


def load_book(units: Units = "us", size: Size = "usual", place: str = "") -> Book:
    """Return the whole template in one system of units and one size, for a place, checked."""
    return _load(units, templates_folder(), True, size, place)


def load_copy(units: Units = "us", place: str = "") -> Book:
    """Return the template of the customer's copy, whose figures come from a job's workbook."""
    return _load(units, templates_folder() / "copy", False, "usual", place)


def _load(units: Units, folder: Path, kept: bool, size: Size, place: str) -> Book:
    sheets = read(folder / "sheets.toml")
    measures = read(templates_folder() / "units.toml")
    tables = {p.name: read(p, upto="\n[[example]]") for p in items(folder)}
    return make_book(units, sheets, measures, tables, kept, size, place)


def load_examples() -> list[tuple[str, ExampleSaid]]:
    """Return every hand-worked example with the file it stands in; raise at a mistake."""
    slips = Slips("us", [])
    found = [
        (path.name, declared(ExampleSaid, raw, f"{path.name}: example {raw.get('say')}", slips))
        for path in items(templates_folder())
        for raw in read(path).get("example", [])
    ]
    _end(slips)
    return [(file, example) for file, example in found if example]


def make_book(
    units: Units, sheets: Table, measures: Table, items: dict[str, Table], kept: bool = True,
    size: Size = "usual", place: str = "",
) -> Book:  # fmt: skip
    """Build a book from the tables of the files; raise ``TemplateError`` at a mistake.

    Without a ``place`` it is for the usual one of its units.
    """
    place = place or usual(units)
    sheets, measures, items = (applied(each, place) for each in (sheets, measures, items))
    slips = Slips(units, [], size)
    words = Words(sheets.get("words", {}))
    pages = [_sheet(raw, slips) for raw in sheets.get("sheet", [])]
    constants = [
        declared(ConstantSaid, raw, f"units.toml: constant {raw.get('key', '?')}", slips)
        for raw in measures.get("constant", [])
    ]
    said = _in_order(gather(items, slips), [page.name for page in pages if page])
    former = former_lists({key: fields for key, (_, _, fields) in said.blocks.items()})
    languages = {page.language for page in pages if page and page.language}
    numbered = numbered_choices(said) | languages
    measured = quantities(measures, units, slips)
    keys, summary = sheets.get("keys", {}), sheets.get("summary", [])
    if not isinstance(summary, list):
        slips.tell("sheets.toml: summary", "expected a list of keys")
    ledgers = [
        declared(LedgerSaid, raw, f"sheets.toml: books {raw.get('file', '?')}", slips)
        for raw in sheets.get("books", [])
    ]
    maker = Maker(Common(units, words, keys, former, numbered, measured, slips))
    _end(slips)
    expanded = Expanded(said, slips, words)
    fields = Fields(said, expanded, slips)
    blocks = [maker.constants([c for c in constants if c])] if kept else []
    for file, block, _ in said.blocks.values():
        blocks.append(_block(maker, expanded, fields.of(block.key), block, file))
    _end(slips)
    book = Book(
        title=words["product"],
        version=release(),
        units=units,
        sheets=tuple(page for page in pages if page),
        blocks=tuple(blocks),
        words=words,
        kept=kept,
        keys=keys,
        size=size,
        summary=tuple(summary),
        ledgers=tuple(_ledger(said) for said in ledgers if said),
        said=tuple(sheets.get("said", ())),
        local=local(place),
    )
    if kept:
        book = follow.with_lists(book, maker)
    try:
        sound.check(book)
    except TemplateError as error:
        lines = str(error).splitlines()
        raise TemplateError("\n".join(_placed(line, said) for line in lines)) from None
    return _without_empty(follow.with_basis(book, maker) if kept else book)


def _without_empty(book: Book) -> Book:
    """Leave out the sheets on which no block stands."""
    filled = {block.sheet for block in book.blocks} | {WORKINGS}
    return replace(book, sheets=tuple(s for s in book.sheets if s.name in filled))


def _in_order(said: Gathered, sheets: list[str]) -> Gathered:
    """Return what was said with the checks in the order of the sheets they go to."""

    def place(check: tuple[str, CheckSaid]) -> int:
        key = check[1].at.split(".")[0]
        sheet = said.blocks[key][1].sheet if key in said.blocks else ""
        return sheets.index(sheet) if sheet in sheets else len(sheets)

    return replace(said, checks=tuple(sorted(said.checks, key=place)))


def _end(slips: Slips) -> None:
    """Raise where there are slips: what follows from them would only repeat them."""
    if slips.told:
        raise TemplateError("\n".join(dict.fromkeys(slips.told)))


def _placed(slip: str, said: Gathered) -> str:
    """Return a slip that begins with the key of a part or a block, with its file before it."""
    block = re.split(r"[.:]", slip, maxsplit=1)[0]
    return f"{said.blocks[block][0]}: {slip}" if block in said.blocks else slip


def _sheet(raw: Any, slips: Slips) -> Sheet | None:
    name = raw.get("name", "?") if isinstance(raw, dict) else "?"
    return declared(Sheet, raw, f"sheets.toml: sheet {name}", slips)


def _block(
    maker: Maker, expanded: Expanded, own: list[FieldSaid], said: BlockSaid, file: str
) -> Block:
    where = f"{file}: block {said.key}"
    gifts = expanded.collected(said) if said.collect else None
    lines = expanded.lines(said.key)
    declared_fields = [*own, *(_code(own) if gifts is not None else [])]
    fields = [
        maker.field(said.key, one, lines, f"{where}, field {one.key}", gifts)
        for one in declared_fields
    ]
    texts = [w if isinstance(w, Said) else Said(say=w) for w in said.words]
    return Block(
        key=said.key,
        sheet=said.sheet,
        title=said.title,
        shape=said.shape,
        lines=lines,
        fields=tuple(fields),
        group=expanded.group(said.key),
        note=said.note,
        words=tuple(_filled_in(t.say, maker.slips.size) for t in texts),
        words_also=tuple(t.also for t in texts),
        also=said.also,
        charts=tuple(
            drawing
            for chart in charts(said, file, maker.slips)
            for drawing in drawings(chart, said.key, where, expanded, maker.slips)
        ),
        drawing_rows=said.drawing_rows,
        beside=said.beside,
        numbered=said.numbered,
        fresh=said.fresh,
        carried=said.carried,
        in_order=said.in_order,
        at=said.at,
        untitled=said.untitled,
        used=f"{said.key}.{said.used}" if said.used else "",
        codes=tuple(g.code for g in gifts or ()),
    )


def _ledger(said: LedgerSaid) -> Ledger:
    columns = {
        head: (keys,) if isinstance(keys, str) else tuple(keys)
        for head, keys in said.columns.items()
    }
    return Ledger(said.file, said.of, columns, said.once)


def _code(beside: list[FieldSaid]) -> list[FieldSaid]:
    """Return the column of codes, by which what is typed beside them is found again."""
    if any(one.key == _CODE.key for one in beside):
        return []
    return [_CODE] if any(one.entry or one.order for one in beside) else []


def _filled_in(words: str, size: Size) -> str:
    return words.replace("{version}", release()).replace("{size}", size)
