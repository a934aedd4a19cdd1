"""What follows from all declarations together.

Items give lines or columns to blocks that collect them; every entry gives a line to the
list of limits, every "your figure" a line to the list of replaced figures, every formula
a line to the Basis sheet.  So a new item is one file and nothing else need know of it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from .accept import label
from .declare import Maker
from .formula import in_words
from .model import EFFECT, Block, Book, Field, Part, TemplateError
from .percent import is_percent, told

Table = dict[str, Any]


def givers(items: dict[str, Table], words: dict[str, str]) -> dict[str, list[Table]]:
    """Return {what is given: its givers in the order of the files}."""
    out: dict[str, list[Table]] = {}
    for name, item in items.items():
        for gift in item.get("gives", []):
            if "to" not in gift:
                raise TemplateError(f"{name}: gives: lacks to")
            out.setdefault(gift["to"], []).append(gift)
        for check in item.get("check", []):
            missing = {"key", "level", "say", "at"} - set(check)
            if missing or check["level"] not in ("stop", "look"):
                raise TemplateError(f"{name}: check {check.get('key')}: lacks {missing or 'level'}")
            out.setdefault("check", []).append(_check(check, words))
    return out


def collected(gives: dict[str, list[Table]], names: str | list[str]) -> list[Table]:
    """Return the givers of one thing, or of several in that order."""
    wanted = [names] if isinstance(names, str) else names
    return [gift for name in wanted for gift in gives.get(name, [])]


def _check(check: Table, words: dict[str, str]) -> Table:
    """Return a check with its count and the first line it concerns, as formulas."""
    if "lines" in check:
        column = check["lines"]
        count = f'=COUNTIF({column},">0")'
        first = f'=IFERROR("{words["at_line"]} "&MATCH(1,{column},0),"")'
    else:
        count, first = f"=N({check['count']})", ""
    return {**check, "word": words[check["level"]], "count": count, "first": first}


def columns(
    maker: Maker, block: str, raw: Table, gives: dict[str, list[Table]], lines: int
) -> list[Field]:
    """Return one column for each item that gives to ``collect``."""
    fields = []
    for gift in gives.get(raw["collect"], []):
        if not set(raw.get("needs", ())) <= set(gift):
            continue
        formula = raw["formula"]
        for name, value in gift.items():
            formula = formula.replace("{@" + name + "}", str(value))
        declared = {k: v for k, v in raw.items() if k not in ("collect", "needs")}
        declared.update(key=f"{raw['key']}_{gift['key']}", label=gift["label"], formula=formula)
        fields.append(maker.field(block, declared, lines, f"{block}: given by {gift['key']}"))
    if not fields:
        raise TemplateError(f"{block}.{raw['key']}: nothing gives '{raw['collect']}'")
    return fields


def fill(book: Book, maker: Maker, gives: dict[str, list[Table]]) -> Book:
    """Return the book with its lists of limits, replaced figures and workings in words."""
    book = _with(book, [_limits(book, maker), _replaced(book, maker)])
    return _with(book, [_basis(book, maker)])


def _with(book: Book, blocks: list[Block]) -> Book:
    return replace(book, blocks=(*book.blocks, *(b for b in blocks if b.lines)))


def _list(maker: Maker, key: str, sheet: str, fields: list[Table], gifts: list[Table]) -> Block:
    made = tuple(maker.field(key, f, len(gifts), key, gifts) for f in fields)
    words = maker.words
    return Block(key, sheet, words[f"{key}_title"], "table", len(gifts), made, key,
                 note=words[f"{key}_note"])  # fmt: skip


def _limits(book: Book, maker: Maker) -> Block:
    gifts = []
    for block in book.blocks:
        for item in block.fields:
            typed = [p for p in item.parts if p.kind == "entry" and p.entry != "text"]
            if typed:
                counts = [_wrong(book, block, part) for part in typed]
                number = typed[0].entry in ("number", "time")
                gifts.append(
                    {
                        "say": f"{block.title}: {item.label}",
                        "at": typed[0].key,
                        "count": "=" + "+".join(counts),
                        "least": told(typed[0], typed[0].limits.least) if number else "",
                        "most": told(typed[0], typed[0].limits.most) if number else "",
                        "unit": typed[0].unit if number else "",
                    }
                )
    fields: list[Table] = [
        {"key": "say", "label": maker.words["entry"], "from": "say"},
        {"key": "count", "label": maker.words["wrong"], "from": "count", "quantity": "count"},
        {"key": "least", "label": maker.words["least"], "from": "least"},
        {"key": "most", "label": maker.words["most"], "from": "most"},
        {"key": "unit", "label": maker.words["unit"], "from": "unit"},
        {"key": "at", "label": maker.words["where"], "from": "at", "role": "link"},
    ]
    return _list(maker, "limits", "Checks", fields, gifts)


def _wrong(book: Book, block: Block, part: Part) -> str:
    """Return how many cells of an entry are no number in its limits, or not in its list."""
    column = f"{{{part.key}[]}}"
    if part.entry == "choice":
        return f"COUNTA({column})" + _known(book, part, column)
    least, most = "{least}", "{most}"
    if part.entry == "date":
        least, most = "{const.first_day}", "{const.last_day}"
    if is_percent(part):
        least, most = f"{least}/{{const.hundred}}", f"{most}/{{const.hundred}}"
    needed = block.lines == 1 and part.entry == "number" and not part.limits.optional
    typed = "1" if needed else f"COUNTA({column})"
    return f'{typed}-COUNTIFS({column},">="&{least},{column},"<="&{most})'


def _known(book: Book, part: Part, column: str) -> str:
    """Return the terms that take off the cells whose word stands in its list."""
    if f"{part.key}.no" in book.parts:
        return f'-SUMPRODUCT(({column}<>"")*({{{part.key}.no[]}}>0))'
    lines = book.parts[part.limits.choices][0].lines
    names = [f"{{{part.limits.choices}[{n}]}}" for n in range(1, lines + 1)]
    return "".join(f"-COUNTIF({column},{name})" for name in names)


def _replaced(book: Book, maker: Maker) -> Block:
    gifts = []
    for block, item, part in book.entries().values():
        if part.role == "yours":
            gifts.append({"say": f"{block.title}: {item.label}", "at": part.key,
                          "count": f"=COUNTA({{{part.key}[]}})"})  # fmt: skip
    fields: list[Table] = [
        {"key": "say", "label": maker.words["figure"], "from": "say"},
        {"key": "count", "label": maker.words["replaced"], "from": "count", "quantity": "count"},
        {"key": "at", "label": maker.words["where"], "from": "at", "role": "link"},
    ]
    return _list(maker, "replaced", "Checks", fields, gifts)


def _explained(block: Block, item: Field, part: Part) -> bool:
    """Tell whether a part has a line on Basis: what was declared has, what follows has not.

    A rate of a table has one for its source, which a form shows beside the cell.
    """
    if block.key in ("limits", "replaced"):
        return False
    if part is not item.parts[0]:
        return part.key.endswith(EFFECT)
    if part.kind == "entry":
        return block.shape != "form" and bool(item.source)
    return part.kind == "formula" and len(part.formulas) == 1


def _basis(book: Book, maker: Maker) -> Block:
    gifts = []
    for block, item, part in book.parts.values():
        if _explained(block, item, part):
            formula = part.kind == "formula"
            gifts.append(
                {
                    "block": block.title,
                    "say": item.label if part is item.parts[0] else label(item, part),
                    "words": in_words(book, block, part.formula(0), part.key) if formula
                    else maker.words["typed"],
                    "unit": part.unit,
                    "note": item.note,
                    "source": item.source,
                }
            )  # fmt: skip
    fields: list[Table] = [
        {"key": "block", "label": maker.words["table"], "from": "block"},
        {"key": "say", "label": maker.words["figure"], "from": "say"},
        {"key": "unit", "label": maker.words["unit"], "from": "unit"},
        {"key": "words", "label": maker.words["worked"], "from": "words", "role": "wrap"},
        {"key": "note", "label": maker.words["meaning"], "from": "note", "role": "wrap"},
        {"key": "source", "label": maker.words["source"], "from": "source", "role": "wrap"},
    ]
    return _list(maker, "basis", "Basis", fields, gifts)
