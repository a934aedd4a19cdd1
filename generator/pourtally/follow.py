"""What follows from all declarations together.

Every entry gives a line to the list of limits, every "your figure" a line to the list of
replaced figures, every formula a line to the Basis sheet.
"""

from __future__ import annotations

import re
from dataclasses import replace

from .accept import label
from .cells import BROKEN, ODD
from .declare import Maker
from .declared import FieldSaid
from .expand import Gift, Word
from .formula import in_words
from .model import WORKINGS, Block, Book, Field, Part
from .percent import is_percent, told


def with_lists(book: Book, maker: Maker) -> Book:
    """Return the book with its lists of limits and of replaced figures."""
    return _with(book, [_limits(book, maker), _replaced(book, maker)])


def with_basis(book: Book, maker: Maker) -> Book:
    """Return the book with every formula in words; its references must be sound."""
    return _with(book, [_basis(book, maker)])


def _with(book: Book, blocks: list[Block]) -> Book:
    return replace(book, blocks=(*book.blocks, *(b for b in blocks if b.lines)))


def _list(
    maker: Maker, key: str, sheet: str, fields: tuple[FieldSaid, ...], lines: dict[str, _Line]
) -> Block:
    gifts = [Gift(key, code, says, code) for code, says in lines.items()]
    made = tuple(maker.field(key, f, len(gifts), key, gifts) for f in fields)
    words = maker.words
    return Block(key, sheet, words[f"{key}_title"], "table", len(gifts), made, key,
                 note=words[f"{key}_note"], codes=tuple(lines), numbered=False)  # fmt: skip


_Line = dict[str, Word]
_AGAIN = re.compile(r"\{[\w.]+\}|IF\(\{at\}>0,INDEX\(\{[\w.]+\[\]\},\{at\}\)(&\"\")?,(0|\"\")\)")
"""A formula that only shows a figure again, or picks it from a list."""
_SENTENCE = re.compile(r'^HYPERLINK|(?<!"[<>]")(?<!"[<>][=>]")&')
"""What puts words together, where it is no condition such as ">"&0."""


def _limits(book: Book, maker: Maker) -> Block:
    lines: dict[str, _Line] = {}
    order = [s.name for s in book.sheets]
    for block in sorted(book.blocks, key=lambda b: order.index(b.sheet) if b.sheet in order else 0):
        for item in block.fields:
            if typed := item.typed:
                number, time = typed[0].entry == "number", typed[0].entry == "time"
                lines[item.key] = {
                    "say": f"{block.title}: {item.label}",
                    "count": "=" + _wrong(book, block, item),
                    "least": told(typed[0], typed[0].limits.least) if number else "0:00" * time,
                    "most": told(typed[0], typed[0].limits.most) if number else "23:59" * time,
                    "unit": typed[0].unit if number else "",
                }
    words = maker.words
    return _list(maker, "limits", "Checks", (
        FieldSaid(key="say", label=words["entry"], from_="say", role="linked"),
        FieldSaid(key="count", label=words["wrong"], from_="count", quantity="count"),
        FieldSaid(key="least", label=words["least"], from_="least", role="plain"),
        FieldSaid(key="most", label=words["most"], from_="most", role="plain"),
        FieldSaid(key="unit", label=words["unit"], from_="unit", role="plain"),
    ), lines)  # fmt: skip


def _wrong(book: Book, block: Block, item: Field) -> str:
    """Return how many cells of an entry cannot be used: beyond limits, in no list, an error."""
    typed = item.typed
    if (
        block.shape == "form" and len(typed) > 1
    ):  # feet and inches stand in one row, and are read as one
        return f"{{?{item.key}}}-{_within(block, typed[0])}"
    return "+".join(_wrong_cells(book, block, part) for part in typed)


def _wrong_cells(book: Book, block: Block, part: Part) -> str:
    column, single = f"{{{part.key}[]}}", block.shape == "form"
    if part.entry == "text":  # anything may stand there but an error value
        odd = f"+SUM({{{part.key}{ODD}[]}})" if f"{part.key}{ODD}" in book.parts else ""
        return f"N(ISERROR({f'{{!{part.key}}}' if single else f'SUM({column})'})){odd}"
    if part.entry != "choice":
        needed = single and part.entry == "number" and not part.limits.optional
        return f"{'1' if needed else f'COUNTA({column})'}-{_within(block, part)}"
    number = f"{part.key}.no"
    if number not in book.parts:
        return f"COUNTA({column})" + _known(book, part, column)
    if single:
        used = f"*N({{{block.used}}}>0)" if block.used else ""
        return f"COUNTA({column})*N({{{number}}}=0){used}"
    used = f',{{{block.used}[]}},">0"' if block.used else ""
    return f'COUNTIFS({column},"<>",{{{number}[]}},0{used})'


def _within(block: Block, part: Part) -> str:
    """Return how many cells of an entry hold a number in its limits."""
    if part.entry == "time":  # a whole day or more is a date
        return f'COUNTIFS({{{part.key}[]}},">=0",{{{part.key}[]}},"<1")'
    ends = ["{const.first_day}", "{const.last_day}"] if part.entry == "date" else [
        "{least}", "{most}"]  # fmt: skip
    if is_percent(part):
        ends = [f"{end}/{{const.hundred}}" for end in ends]
    least, most = ends
    if part.role == "yours" and block.shape == "form":  # it shares its fence with others
        typed = f"{{!{part.key}}}"
        return f"IFERROR(N(ISNUMBER({typed}))*({typed}>={least})*({typed}<={most}),0)"
    column = f"{{{part.key}[]}}"
    broken = f"{part.key}{BROKEN}"
    whole = f",{{{broken}[]}},0" if part.limits.whole and block.shape != "form" else ""
    counted = f'COUNTIFS({column},">="&{least},{column},"<="&{most}{whole})'
    single = part.limits.whole and block.shape == "form"
    return f"{counted}*(1-{{{broken}}})" if single else counted


def _known(book: Book, part: Part, column: str) -> str:
    """Return the terms that take off the cells whose word stands in its list."""
    lines = book.parts[part.limits.choices][0].lines
    names = [f"{{{part.limits.choices}[{n}]}}" for n in range(1, lines + 1)]
    return "".join(f"-COUNTIF({column},{name})" for name in names)


def _replaced(book: Book, maker: Maker) -> Block:
    lines: dict[str, _Line] = {
        part.key: {
            "say": f"{block.title}: {item.label}",
            "count": f"=COUNTA({{{part.key}[]}})",
        }
        for block, item, part in book.entries().values()
        if part.role == "yours"
    }
    words = maker.words
    return _list(maker, "replaced", "Checks", (
        FieldSaid(key="say", label=words["figure"], from_="say", role="linked"),
        FieldSaid(key="count", label=words["replaced"], from_="count", quantity="count"),
    ), lines)  # fmt: skip


def _explained(book: Book, block: Block, item: Field, part: Part) -> bool:
    """Tell whether a part has a line on Basis: what was declared has, what follows has not.

    A rate of a table has one for its source, which a form shows beside the cell.  What only
    shows a figure again has none, nor has a sentence.
    """
    if block.key in ("limits", "replaced"):
        return False
    if book.size == "small" and _between(book, block, part):
        return False
    if part is not item.parts[0]:
        return part.role == "effect"
    if part.kind == "entry":
        return block.shape != "form" and bool(item.source)
    if part.kind != "formula" or len(part.formulas) > 1:
        return False
    return not (_AGAIN.fullmatch(part.formula(0)) or _SENTENCE.search(part.formula(0)))


def _between(book: Book, block: Block, part: Part) -> bool:
    """Tell whether a part is a step to a figure, or one on a paper: its cell says how.

    A small workbook is to be light, so its Basis has the figures that are worked with.
    """
    papers = {page.name for page in book.sheets if page.paper}
    step = part.working or part.role == "effect"
    return part.kind == "formula" and (step or block.sheet in {WORKINGS, *papers})


def _basis(book: Book, maker: Maker) -> Block:
    lines: dict[str, _Line] = {}
    before = ""
    for block, item, part in book.parts.values():
        if _explained(book, block, item, part):
            lines[part.key] = {
                "block": block.title if block.key != before else "",
                "say": _named(item, part),
                "words": _worked(book, block, part, maker),
                "note": item.source if part.kind == "entry" else item.explained,
            }
            before = block.key
    words = maker.words
    made = _list(maker, "basis", "Basis", (
        FieldSaid(key="block", label=words["table"], from_="block", role="step", width=36),
        FieldSaid(key="say", label=words["figure"], from_="say", role="step", width=30),
        FieldSaid(key="words", label=words["worked"], from_="words", role="step", width=58),
        FieldSaid(key="note", label=words["explained"], from_="note", role="step", width=50),
    ), lines)  # fmt: skip
    less = f" {words['basis_small']}" if book.size == "small" else ""
    return replace(made, note=made.note + less)


def _named(item: Field, part: Part) -> str:
    """Return what a figure is called, and its unit on a line of its own, as over a column."""
    name = item.label if part is item.parts[0] else label(item, part)
    return f"{name}\n{part.unit}" if part.unit else name


def _worked(book: Book, block: Block, part: Part, maker: Maker) -> str:
    if part.kind != "formula":
        return maker.words["typed"]
    return in_words(book, block, part.formula(0), part.key)
