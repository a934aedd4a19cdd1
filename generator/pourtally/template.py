"""One template made ready: its book, where everything stands, its blank cells, its engine.

A command makes ``Templates`` once and passes them, or one of them, along; so whatever it
does, a template is loaded once, and what follows from it is worked out once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from .cause import Upstream
from .grid import Cell, Place, enter, lay
from .hint import near
from .load import load_book
from .local import usual
from .model import SIZES, Block, Book, Entries, Scalar, Size, TemplateError, Units
from .place import Places, place
from .recalc import Calculator
from .wording import worded

KEYS = (
    "day",
    "stops",
    "logged",
    "state",
    "state_also",
    "check_say",
    "check_first",
    "check_state",
    "check_at",
    "wrong_at",
    "wrong_count",
    "states",
    "fractions",
    "sized",
    "company",
    "job",
    "plan",
    "plan_scale",
    "plan_steps",
    "contract_stands",
    "contract_kept",
    "contract",
    "signed_today",
    "signed_figure",
    "draws_today",
    "draws_figure",
    "rates_today",
    "rates_figure",
    "trial_option",
    "trial_also",
    "trial_price",
    "trial_taxed",
    "price_step",
    "trial_clash",
    "tax_of_material",
    "option_name",
    "option_whole",
    "option_open",
    "option_at",
    "option_price",
    "option_material",
    "pair_one",
    "pair_two",
    "pair_price",
    "pair_material",
    "option_suggest",
    "pair_suggest",
    "option_offer",
    "option_on",
    "option_chosen",
    "state_money",
    "check_money",
)
"""What the program itself looks at in a job's workbook; ``sheets.toml`` names the parts.

The ``plan`` is a block, for its drawings.
"""


_FINE = 10_000.0  # steps of a drawing's axis in place of one


@dataclass(frozen=True)
class Template:
    """A book with all that is the same for every job of it."""

    book: Book

    @property
    def units(self) -> Units:
        """Return its system of units."""
        return self.book.units

    @cached_property
    def places(self) -> Places:
        """Return the place of every cell."""
        return place(self.book)

    @cached_property
    def blank(self) -> list[Cell]:
        """Return the cells of a blank workbook; their formulas are the same for every job."""
        return lay(self.book, self.places)

    def work_out(
        self, entries: Entries, keys: frozenset[str] = frozenset()
    ) -> tuple[list[Cell], dict[Place, Scalar]]:
        """Return the cells of a workbook filled with entries, and its formulas' values.

        Where keys are given, only their cells are, and those that these are worked out from.
        Raises ``RecalcError`` where a formula fails.
        """
        blank, calculator = self._engine(keys)
        cells = enter(self.book, blank, entries)
        return cells, calculator.values(cells)

    def results(self, entries: Entries, keys: frozenset[str] = frozenset()) -> Entries:
        """Return every entry and result of a job, or those of some keys alone.

        They come as {part key: one value a line}. For a few keys only what they need is worked
        out; ``KeyError`` says which of them is no part.
        """
        found = columns(*self.work_out(entries, keys))
        return {key: found[key] for key in found if not keys or key in keys}

    @cached_property
    def fine(self) -> Template:
        """Return it with drawings whose areas begin and end where no one measures a difference."""
        finer = (_finer(block, self.book.keys["plan_steps"]) for block in self.book.blocks)
        return Template(replace(self.book, blocks=tuple(finer)))

    def _engine(self, keys: frozenset[str]) -> tuple[list[Cell], Calculator]:
        """Return the blank cells that some keys need, and an engine made of them once."""
        if keys not in self._engines:
            if unknown := sorted(keys - self.book.parts.keys()):
                told = (f"{key} is no part; {near(key, self.book.parts)}" for key in unknown)
                raise KeyError("; ".join(told))
            cells = self._upstream.of(keys) if keys else self.blank
            sheets = [s.name for s in self.book.sheets]
            self._engines[keys] = cells, Calculator(cells, sheets)
        return self._engines[keys]

    @cached_property
    def _upstream(self) -> Upstream:
        return Upstream(self.blank)

    @cached_property
    def _engines(self) -> dict[frozenset[str], tuple[list[Cell], Calculator]]:
        return {}


def columns(cells: list[Cell], values: dict[Place, Scalar]) -> Entries:
    """Return {part key: one value a line} of cells and of what their formulas came to."""
    out: Entries = {}
    for cell in cells:
        if cell.part:
            out.setdefault(cell.part, []).append(values.get(cell.place, cell.content))
    return out


def _finer(block: Block, key: str) -> Block:
    """Return a block with a constant so many times as large, where it has it."""
    if block.key != key.partition(".")[0]:
        return block
    return replace(block, fields=tuple(
        replace(field, parts=tuple(
            replace(p, values=tuple(_FINE * v if isinstance(v, float) else v for v in p.values))
            if p.key == key else p for p in field.parts))
        for field in block.fields))  # fmt: skip


Kind = tuple[Units, Size] | tuple[Units, Size, str]
"""Which template: units, size, and the place, where it is not the usual one of the units."""


class Templates(dict[Kind, Template]):
    """The template in each system of units, each size, each place, loaded when first asked for.

    Its papers say a company's own ``words`` in place of ours.
    """

    def __init__(self, words: Mapping[str, str] | None = None) -> None:
        """Take our words with a company's in their place; none are loaded yet."""
        super().__init__()
        self.words = dict(words or {})

    def __missing__(self, key: Kind) -> Template:
        """Load a template; raise ``TemplateError`` where its files have a mistake."""
        units, size, *place = key
        if place and place[0] in ("", usual(units)):
            return self[units, size]
        book = load_book(*key)
        if mistakes := list(_key_mistakes(book)):
            raise TemplateError("\n".join(mistakes))
        self[key] = Template(worded(book, self.words))
        return self[key]

    def saying(self, words: Mapping[str, str]) -> Templates:
        """Return the templates with a company's words: these where they have them already."""
        return self if self.words == words else type(self)(words)

    def larger(self, book: Book) -> Iterator[Book]:
        """Yield the books of all larger sizes, the least first."""
        for size in SIZES[SIZES.index(book.size) + 1 :]:
            yield self[book.units, size, book.local.key].book


def _key_mistakes(book: Book) -> Iterator[str]:
    """Yield what is wrong with the keys that ``sheets.toml`` names."""
    if lacking := [name for name in KEYS if name not in book.keys]:
        yield f"sheets.toml: keys: lacks {', '.join(lacking)}"
    known = [*book.parts, *(block.key for block in book.blocks)]
    for name, key in book.keys.items():
        if name not in KEYS:
            yield f"sheets.toml: keys: unknown key '{name}'; {near(name, KEYS)}"
        elif key not in known:
            yield f"sheets.toml: keys: {name} '{key}'; {near(key, known)}"
    for key in book.summary:
        if key not in book.parts:
            yield f"sheets.toml: summary: '{key}'; {near(str(key), book.parts)}"
    yield from _ledger_mistakes(book)
    for key in book.said:
        if (named := key.removeprefix("-")) not in known:
            yield f"sheets.toml: said: '{key}'; {near(named, known)}"
    blocks = [block.key for block in book.blocks]
    for sheet in book.sheets:
        for named in filter(None, (sheet.frozen, sheet.printed)):
            if named not in blocks:
                hint = near(named, blocks)
                yield f"sheets.toml: sheet {sheet.name}: '{named}' is no block; {hint}"
        if sheet.language and f"{sheet.language}.no" not in book.parts:
            hint = near(sheet.language, book.parts)
            yield f"sheets.toml: sheet {sheet.name}: language '{sheet.language}'; {hint}"


def _ledger_mistakes(book: Book) -> Iterator[str]:
    for ledger in book.ledgers:
        for key in (*ledger.of, *(k for keys in ledger.columns.values() for k in keys)):
            if (named := key.removeprefix("-")) not in book.parts:
                yield f"sheets.toml: books {ledger.file}: '{key}'; {near(named, book.parts)}"
