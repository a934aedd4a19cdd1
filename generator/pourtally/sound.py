"""Is a book sound? Asked once when it is loaded, so that no later room need ask.

All mistakes of a kind are named together, each with its key and what to do.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from typing import get_args

from . import style
from .formula import find
from .hint import near
from .model import PRICE_COLUMNS, Block, Book, Field, Part, Run, Shape, TemplateError


def check(book: Book) -> None:
    """Raise ``TemplateError`` with every mistake of a book's declarations."""
    mistakes = [m for block in book.blocks for m in _block_mistakes(book, block)]
    mistakes += [m for _, _, part in book.parts.values() for m in _part_mistakes(book, part)]
    mistakes += [m for b in book.blocks for f in b.fields for m in _taught_mistakes(book, b, f)]
    needs, meaningless = _needs(book)
    if mistakes + meaningless:
        raise TemplateError("\n".join(dict.fromkeys(mistakes + meaningless)))
    try:
        TopologicalSorter(needs).prepare()
    except CycleError as error:
        raise TemplateError(f"circular: {' needs '.join(reversed(error.args[1]))}") from None


def _block_mistakes(book: Book, block: Block) -> Iterator[str]:
    sheets = [s.name for s in book.sheets]
    if block.sheet not in sheets:
        hint = near(block.sheet, sheets)
        yield f"{block.key}: sheet '{block.sheet}' is not in sheets.toml; {hint}"
    if block.shape not in get_args(Shape):
        yield f"{block.key}: shape '{block.shape}'; expected one of {', '.join(get_args(Shape))}"
    leader = next((b for b in book.blocks if b.key == block.group), None)
    if leader is None:
        yield f"{block.key}: with '{block.group}' names no block"
    elif leader.lines != block.lines:
        yield f"{block.key}: {block.lines} lines, and {leader.key} it goes with has {leader.lines}"
    if block.beside:
        before = _before(book, block)
        if before is None or (before.shape, before.lines) != (block.shape, block.lines):
            yield f"{block.key}: beside needs a table of {block.lines} lines before it"
    if block.used and block.used not in book.parts:
        yield f"{block.key}: used '{block.used}'; {near(block.used, book.parts)}"
    if block.shape == "page":
        yield from _page_mistakes(block)
    yield from _drawing_mistakes(book, block)
    for code in sorted({c for c in block.codes if block.codes.count(c) > 1}):
        yield f"{block.key}: the code {code} stands for two lines; give one of them another"


def _drawing_mistakes(book: Book, block: Block) -> Iterator[str]:
    for number, chart in enumerate(block.charts):
        others = [c for b in book.blocks if b.key == chart.same for c in b.charts]
        if chart.same and not (chart.wide and any(c.wide and c.tall for c in others)):
            yield (f"{block.key}: its drawing is the same as those of '{chart.same}': that needs "
                   "drawings with wide and tall, and this one wide")  # fmt: skip
        if chart.over and not number:
            yield f"{block.key}: its first drawing stands over none; leave out over"
        if bad := [s.fill for s in chart.series if bool(s.fill) is not chart.fills]:
            yield f"{block.key}: fill '{bad[0]}'; a drawing with fills has one in every series"
        if block.shape == "form" and not (chart.column or chart.at or chart.over):
            yield f"{block.key}: a drawing beside a form needs the key in whose column it begins"
        if chart.column and chart.column not in book.parts:
            hint = near(chart.column, book.parts)
            yield f"{block.key}: its drawing begins at '{chart.column}'; {hint}"
        for run in (r for s in chart.series for r in (s.x, s.y)):
            yield from _run_mistakes(book, block, run)


def _page_mistakes(block: Block) -> Iterator[str]:
    """Yield what does not stand on a page as it should."""
    for part in block.parts(working=False):
        if not re.fullmatch(r"[A-Z]{1,2}[1-9]\d{0,3}", part.at):
            yield f"{part.key}: at '{part.at}'; on a page each field says its cell, such as B3"
        if part.kind == "entry":
            yield f"{part.key}: an entry on a page; put it in a form or a table"


def _run_mistakes(book: Book, block: Block, run: Run) -> Iterator[str]:
    for key, line in ((run.first, run.first_line), (run.last, run.last_line)):
        if key not in book.parts:
            yield f"{block.key}: its drawing names '{key}'; {near(key, book.parts)}"
        elif line >= (lines := book.parts[key][0].lines):
            yield f"{block.key}: its drawing names line {line + 1} of {key}, which has {lines}"


def _before(book: Book, block: Block) -> Block | None:
    """Return the block that stands before one on its sheet."""
    here = [b for b in book.blocks if b.sheet == block.sheet]
    at = here.index(block)
    return here[at - 1] if at else None


def _part_mistakes(book: Book, part: Part) -> Iterator[str]:
    choices = part.limits.choices
    if choices and choices not in book.parts:
        yield f"{part.key}: choices '{choices}'; {near(choices, book.parts)}"
    for old, new in part.formerly:
        if old in part.values or new not in part.values:
            yield f"{part.key}: former '{old}' = '{new}'; the new word stands in its list alone"
    if part.role not in style.ROLES:
        yield f"{part.key}: role '{part.role}'; {near(part.role, style.ROLES)}"
    if part.kind == "link":
        for link in (str(v) for v in part.values if v):
            try:
                book.pointed(link)
            except LookupError as error:
                yield f"{part.key}: at '{link}'; {near(str(error.args[0]), book.parts)}"
    if part.goes and len(part.goes) != len(part.values):
        yield f"{part.key}: goes: {len(part.goes)} for {len(part.values)} lines of words"
    sheets = [sheet.name for sheet in book.sheets]
    for link in (one for one in part.goes if one not in sheets):
        try:
            book.pointed(link)
        except LookupError as error:
            yield f"{part.key}: goes '{link}'; {near(str(error.args[0]), [*sheets, *book.parts])}"


def _taught_mistakes(book: Book, block: Block, item: Field) -> Iterator[str]:
    if item.csv not in ("", *PRICE_COLUMNS):
        yield f"{item.key}: csv '{item.csv}'; {near(item.csv, PRICE_COLUMNS)}"
    if not item.teaches:
        return
    if item.teaches not in book.entries():
        yield f"{item.key}: teaches '{item.teaches}'; {near(item.teaches, book.entries())}"
    elif book.parts[item.teaches][0].lines not in (1, block.lines):
        yield f"{item.key}: teaches '{item.teaches}', which has other lines"
    if item.weight not in book.parts:
        yield f"{item.key}: teaches needs a weight, a key of its own block"


def _needs(book: Book) -> tuple[dict[str, set[str]], list[str]]:
    """Return {part: the parts its formulas use}, and each reference without meaning."""
    needs: dict[str, set[str]] = {}
    wrong: list[str] = []
    for key, (block, _, part) in book.parts.items():
        needs[key] = set()
        for text in part.formulas:
            try:
                found = find(book, block, text, key)
            except TemplateError as error:
                wrong.append(str(error))
            else:
                # a line may use what stands above it, its own column too: no circle; nor is a link
                apart = ("above", "link", "link before")
                named = (r.part for r in found if r.lines not in apart)
                needs[key] |= {part for part in named if part in book.parts}
    return needs, wrong
