"""From the TOML files of ``templates/`` to a book.

``load_book`` reads every file, then declares what follows from each declaration: the two
cells of a length, the number of a choice, the cells of a "your figure", the columns that
several items give to one table, a check of every entry's limits, the Basis sheet.
An unknown key is an error that names the file and suggests the word meant.
"""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from . import follow, sound
from .declare import Maker, former_lists, own_words
from .hint import near
from .model import Block, Book, Chart, Run, Series, Sheet, TemplateError, Units

Table = dict[str, Any]

_RUN = re.compile(r"(\w+)\.(\w+)(?::(\w+))?\[(\d+):(\d+)\]")
_ITEM_KEYS = {
    "": {"block", "gives", "check", "example"},
    "block": {
        "key", "sheet", "title", "note", "shape", "lines", "with", "field", "words",
        "chart", "collect", "drawing_rows", "also", "beside", "used",
    },
    "gives": None,  # what is given is named by the block that collects it
    "check": {"key", "level", "count", "lines", "say", "at"},
    "example": {"say", "source", "units", "job", "expect", "working", "places"},
    "chart": {"words", "series", "line", "axis", "rows", "column"},
}  # fmt: skip


def templates_folder() -> Path:
    """Return the folder of the trade's files, in a checkout or in an installed package."""
    installed = Path(__file__).parent / "templates"
    return installed if installed.is_dir() else Path(__file__).parents[2] / "templates"


def release() -> str:
    """Return the version of this program."""
    try:
        return version("pourtally")
    except PackageNotFoundError:
        return "0"


@lru_cache(maxsize=2)
def load_book(units: Units = "us") -> Book:
    """Return the whole template in one system of units, checked."""
    return _load(units, templates_folder(), kept=True)


@lru_cache(maxsize=2)
def load_copy(units: Units = "us") -> Book:
    """Return the template of the customer's copy, whose figures come from a job's workbook."""
    return _load(units, templates_folder() / "copy", kept=False)


def _load(units: Units, folder: Path, kept: bool) -> Book:
    sheets = _read(folder / "sheets.toml")
    measures = _read(templates_folder() / "units.toml")
    items = {p.name: _read(p, upto="\n[[example]]") for p in _items(folder)}
    return make_book(units, sheets, measures, items, kept)


def load_examples() -> list[tuple[str, Table]]:
    """Return every hand-worked example with the file it stands in."""
    return [(p.name, e) for p in _items(templates_folder()) for e in _read(p).get("example", [])]


def _items(folder: Path) -> list[Path]:
    """Return the items' files in the order of their names."""
    return sorted((folder / "items").glob("*.toml"))


def make_book(
    units: Units, sheets: Table, measures: Table, items: dict[str, Table], kept: bool = True
) -> Book:
    """Build a book from the tables of the files; raise ``TemplateError`` at a mistake."""
    for name, item in items.items():
        _known_keys(name, item)
    words = sheets["words"]
    maker = Maker(units, measures, words, former_lists(items.values()))
    gives = follow.givers(items, words)
    blocks = [maker.constants(measures["constant"])] if kept else []
    blocks += [
        _block(maker, raw, name, gives) for name, item in items.items() for raw in item["block"]
    ]
    book = Book(
        title=words["product"],
        version=release(),
        units=units,
        sheets=tuple(
            Sheet(**{k: own_words(v, units) for k, v in s.items()}) for s in sheets["sheet"]
        ),
        blocks=tuple(blocks),
        words=words,
        kept=kept,
    )  # fmt: skip
    if kept:
        book = follow.fill(book, maker, gives)
    sound.check(book)
    return book


def _read(path: Path, upto: str = "") -> Table:
    """Return a file's tables; examples stand last in it and are a third of the reading."""
    text = path.read_text(encoding="utf-8")
    try:
        return tomllib.loads(text.partition(upto)[0] if upto else text)
    except tomllib.TOMLDecodeError as error:
        raise TemplateError(f"{path.name}: {error}") from None


def _block(maker: Maker, raw: Table, file: str, gives: dict[str, list[Table]]) -> Block:
    where = f"{file}: block {raw.get('key', '?')}"
    missing = {"key", "sheet", "title", "shape"} - set(raw)
    if missing:
        raise TemplateError(f"{where}: lacks {', '.join(sorted(missing))}")
    collected = follow.collected(gives, raw["collect"]) if "collect" in raw else None
    lines = raw.get("lines", 1) if collected is None else len(collected)
    fields = []
    usual = {f["key"]: f["default"] for f in raw.get("field", []) if "default" in f}
    for written in raw.get("field", []):
        renamed = "entry" in written and written.get("former") in usual
        declared = {"default": usual[written["former"]], **written} if renamed else written
        if "collect" in declared:
            fields += follow.columns(maker, raw["key"], declared, gives, lines)
        else:
            fields.append(maker.field(raw["key"], declared, lines, where, collected))
    return Block(
        key=raw["key"],
        sheet=raw["sheet"],
        title=raw["title"],
        shape=raw["shape"],
        lines=lines,
        fields=tuple(fields),
        group=str(raw.get("with", raw["key"])),
        note=own_words(raw.get("note", ""), maker.units),
        words=tuple(_words(w, maker.units) for w in raw.get("words", [])),
        words_also=tuple(_also(w) for w in raw.get("words", [])),
        also=raw.get("also", ""),
        charts=tuple(_chart(c) for c in raw.get("chart", [])),
        drawing_rows=raw.get("drawing_rows", 0),
        beside=raw.get("beside", False),
        used=f"{raw['key']}.{raw['used']}" if "used" in raw else "",
        codes=tuple(str(g.get("key", "")) for g in collected or []),
    )


def _words(raw: Any, units: Units) -> str:
    said = raw["say"] if isinstance(raw, dict) and "say" in raw else own_words(raw, units)
    return str(said).replace("{version}", release())


def _also(raw: Any) -> str:
    return str(raw.get("also", "")) if isinstance(raw, dict) else ""


def _chart(raw: Table) -> Chart:
    series = tuple(s for line in raw["series"] for s in _series(line))
    axis, rows = raw.get("axis", ""), float(raw.get("rows", 1))
    return Chart(raw["words"], raw.get("line", 1), series, axis, rows, raw.get("column", ""))


def _series(raw: Table) -> list[Series]:
    """Return the lines of a drawing; where x or y has one run, it serves all runs of the other."""
    x, y = _runs(raw["x"]), _runs(raw["y"])
    count = max(len(x), len(y))
    names = _runs(raw["name"]) if "name" in raw else [None]
    return [Series(a, b, raw["width"], raw.get("tone", "dark"), name) for a, b, name in zip(
        x * (count // len(x)), y * (count // len(y)), names * (count // len(names)),
        strict=True)]  # fmt: skip


def _runs(text: str) -> list[Run]:
    """Return the runs of cells that a drawing names.

    ``block.part[3:6]`` is one run down lines 3 to 6; ``block.part:last[3:6]`` is four runs,
    each along a line from one part to another.
    """
    match = _RUN.fullmatch(text)
    if not match:
        raise TemplateError(f"chart: '{text}' is no run of cells; write block.part[1:4]")
    block, part, last, start, end = match.groups()
    lines = range(int(start) - 1, int(end))
    if not last:
        return [Run(f"{block}.{part}", lines[0], f"{block}.{part}", lines[-1])]
    return [Run(f"{block}.{part}", n, f"{block}.{last}", n) for n in lines]


def _known_keys(file: str, item: Table) -> None:
    for kind, known in _ITEM_KEYS.items():
        tables = [item] if kind == "" else item.get(kind, [])
        if kind == "chart":
            tables = [c for b in item.get("block", []) for c in b.get("chart", [])]
        for table in tables:
            for key in table if known else ():
                if known and key not in known:
                    where = f"{file}: {kind}" if kind else file
                    raise TemplateError(f"{where}: unknown key '{key}'; {near(key, sorted(known))}")
