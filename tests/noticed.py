"""Which changes of formulas the hand-worked examples notice.

An example is worked out once as it is.  For a change only what follows from it is worked out
again, and only as far as an example looks: all else stands as it was.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Any

import ironcalc

from mutate import FIRST, SHORTER, Beside, fixed_mutants, mutants
from pourtally.cause import inputs
from pourtally.declared import ExampleSaid
from pourtally.files import items, read, templates_folder
from pourtally.gather import gather
from pourtally.grid import Cell, Place, enter, is_formula
from pourtally.jobfile import job_entries
from pourtally.load import load_examples
from pourtally.model import Block, Book, Field, Part, Scalar, Size, TemplateError, Units
from pourtally.percent import told
from pourtally.place import column_number
from pourtally.resolve import Resolver
from pourtally.scalar import scalar
from pourtally.schema import Slips
from shop import TEMPLATES

ERROR = "=1/0"
"""What stands for any error in a cell that others read."""


@dataclass(frozen=True)
class Change:
    """One thing changed in a part: its formulas and fixed words as they are then."""

    file: str
    what: str
    part: Part
    kind: str = "words"

    @property
    def named(self) -> tuple[str, str, str]:
        """Return what it is known by."""
        return self.file, self.part.key, self.what


@cache
def givers() -> dict[tuple[str, str], str]:
    """Return {(kind, code): the file that gives it}."""
    said = gather({p.name: read(p, upto="\n[[example]]") for p in items(templates_folder())},
                  Slips("us", []))  # fmt: skip
    out = {(gift.to, gift.key): file for file, gift in said.gifts}
    return out | {("check", check.key): file for file, check in said.checks if check.count}


@cache
def homes() -> dict[str, tuple[str, tuple[str, ...], frozenset[str]]]:
    """Return {block: its file, what it collects, which of its fields say what gifts say}."""
    out = {}
    for path in items(templates_folder()):
        for block in read(path, upto="\n[[example]]").get("block", []):
            collects = block.get("collect", ())
            told_by = frozenset(f["key"] for f in block.get("field", ()) if "from" in f)
            kinds = (collects,) if isinstance(collects, str) else tuple(collects)
            out[block["key"]] = path.name, kinds, told_by
    return out


def changes(book: Book, files: Iterable[str]) -> Iterator[Change]:
    """Yield every change of what some files declare."""
    wanted = frozenset(files)
    places = {key: at for at, key in enumerate(book.parts)}
    for block, item, part in book.parts.values():
        if block.key not in homes() or not _declared(item, part):
            continue  # the constants, and what the program adds
        for file, lines in _origins(block, item).items():
            if file.partition(" ")[0] in wanted:
                yield from _changed(
                    file.partition(" ")[0], part, lines, neighbors(book, block, part, places)
                )


def _declared(item: Field, part: Part) -> bool:
    """Tell whether an item says what stands there, or the program what follows from it."""
    beside = part.key.removeprefix(item.key)
    if part.kind == "formula":
        return beside in (".computed", ".effect") or not (beside or item.typed)
    return part.kind == "text" and not part.tells and not part.goes


def _origins(block: Block, item: Field) -> dict[str, list[int]]:
    """Return {file, and what in it: the lines of which it says what stands there}."""
    file, kinds, told_by = homes()[block.key]
    if item.key.partition(".")[2] not in told_by or not block.codes:
        return {file: list(range(block.lines))}
    out: dict[str, list[int]] = defaultdict(list)
    for line, code in enumerate(block.codes):
        for name in (code, code.rpartition("_")[0]):
            found = [givers()[kind, name] for kind in kinds if (kind, name) in givers()]
            if found and (kinds != ("check",) or item.key.endswith(".count")):
                out[f"{found[0]} {name}"].append(line)
                break
    return out


def slipped(book: Book, file: str, key: str, old: str, new: str) -> Change:
    """Return a part with other words in the formulas that a file gives it, where they stand."""
    block, item, part = book.parts[key]
    origins = _origins(block, item).items()
    lines = {line for origin, found in origins if origin.split()[0] == file for line in found}
    formulas = tuple(
        text.replace(old, new, 1) if len(part.formulas) == 1 or line in lines else text
        for line, text in enumerate(part.formulas)
    )
    assert any(old in text for text in part.formulas), f"{key} has no {old}"
    return Change(file, f"[{old} → {new}]", replace(part, formulas=formulas))


def neighbors(book: Book, block: Block, part: Part, places: Mapping[str, int]) -> Beside:
    """Return what says which fields of the same unit stand beside one that a formula reads.

    Only one that is typed, or declared before the formula: else it would need itself.
    ``places`` says in which order all parts are declared.
    """

    def beside(word: str) -> tuple[str, ...]:
        found = _NAMED.fullmatch(word)
        if not found:
            return ()
        mark, named, tail = found.groups("")
        own = f"{block.key}.{named}"
        key = own if own in book.parts else named
        if key not in book.parts:
            return ()
        home, _, read_one = book.parts[key]
        alike = [
            p.key for f in home.fields for p in f.parts
            if p.key not in (key, part.key) and _alike(p, read_one)
            and (p.kind == "entry" or places[p.key] < places[part.key])
        ]  # fmt: skip
        nearest = sorted(alike, key=lambda other: abs(places[other] - places[key]))[:1]
        return tuple(f"{{{mark}{other}{tail}}}" for other in nearest)

    return beside


_NAMED = re.compile(r"\{(!?)([a-z][a-z0-9_.]*)(\[\d*\]|\^)?\}")


def _alike(one: Part, other: Part) -> bool:
    kinds = {one.kind, other.kind} <= {"entry", "formula"}
    same_entry = (one.entry == other.entry) or "formula" in (one.kind, other.kind)
    return kinds and same_entry and (one.unit, one.pint, one.format, one.role in _SAID) == (
        other.unit, other.pint, other.format, other.role in _SAID
    )  # fmt: skip


_SAID = ("says", "said")


def _changed(file: str, part: Part, lines: list[int], beside: Beside) -> Iterator[Change]:
    """Yield each change of a part on some of its lines, which say the same."""
    if len(part.formulas) == 1:
        for what, text, kind in mutants(part.formulas[0], beside):
            yield Change(file, what, replace(part, formulas=(text,)), kind)
        return
    on = [line for line in lines if line < len(part.formulas) and part.formulas[line]]
    made = {line: mutants(part.formulas[line], beside) for line in on}
    for number in range(min(map(len, made.values()), default=0)):
        formulas = [made[i][number].formula if i in made else f
                    for i, f in enumerate(part.formulas)]  # fmt: skip
        first = made[on[0]][number]
        yield Change(file, first.what, replace(part, formulas=tuple(formulas)), first.kind)
    if part.kind != "text" or part.role in ("fixed", "said"):
        yield from _fixed(file, part, [i for i in lines if i not in on])


def _fixed(file: str, part: Part, lines: list[int]) -> Iterator[Change]:
    """Yield each change of a number or a word that is fixed, or brought by a gift."""
    on = [i for i in lines if i < len(part.values) and part.values[i] not in (None, "")]
    alike: dict[Scalar, list[int]] = defaultdict(list)
    for line in on:
        alike[part.values[line]].append(line)
    for value, where in alike.items():
        for what, new in fixed_mutants(value):
            values = tuple(new if i in where else v for i, v in enumerate(part.values))
            yield Change(file, what, replace(part, values=values), "fixed")


_CUT = re.compile(rf"((?:\w+!)?)(\$?[A-Z]+\$?)(\d+):(\$?[A-Z]+\$?)(\d+)(?:({SHORTER})|({FIRST}))")


class Sheets:
    """Some formulas in an engine; what else they read is put in as figures."""

    def __init__(self, sheets: dict[str, int]) -> None:
        """Begin empty, with the sheets of a book."""
        self._model = ironcalc.create("book", "en", "UTC", "en")
        self._sheets = sheets
        for name, number in sheets.items():
            if number:
                self._model.add_sheet(name)
            else:
                self._model.rename_sheet(0, name)
        self._held: dict[Place, Scalar] = {}

    def put(self, place: Place, content: Scalar) -> None:
        """Put a formula, a figure, words or nothing into a cell."""
        if place in self._held and self._held[place] == content:
            return
        self._held[place] = content
        at = self._at(place)
        if content is None:
            self._model.clear_cell_contents(*at)
        elif is_formula(content):
            self._model.update_cell_with_formula(*at, content)
        elif isinstance(content, float):
            self._model.update_cell_with_number(*at, content)
        else:
            self._model.update_cell_with_text(*at, content)

    def work_out(self) -> None:
        """Work out all formulas."""
        self._model.evaluate()

    def value(self, place: Place) -> Scalar:
        """Return what a cell shows, as it may be put into another engine."""
        value = self._model.get_cell_value(*self._at(place))
        if isinstance(value, bool):
            return float(value)
        if value is None:
            return None
        if isinstance(value, str):
            kind = self._model.get_cell_type(*self._at(place))
            return ERROR if kind == ironcalc.CellType.ErrorValue else value
        return float(value)

    def _at(self, place: Place) -> tuple[int, int, int]:
        return self._sheets[place[0]], place[1] + 1, place[2] + 1


def looked_at(book: Book, said: ExampleSaid) -> Iterator[tuple[str, int, Any]]:
    """Yield the part, the line and the worth of each cell that an example looks at."""
    for key, value in said.expect.items():
        if isinstance(value, dict):
            yield from ((key, book.parts[key][0].codes.index(code), v) for code, v in value.items())
        else:
            column = value if isinstance(value, list) else [value]
            yield from ((key, line, want) for line, want in enumerate(column))


@dataclass(frozen=True)
class Example:
    """A hand-worked example with the cells it looks at: what each should show, how exactly."""

    number: int
    file: str
    said: ExampleSaid
    wanted: dict[Place, tuple[Part, Scalar, float]]

    def misses(self, place: Place, value: Scalar) -> bool:
        """Tell whether what a cell shows is not what was worked out by hand."""
        part, want, off = self.wanted[place]
        have = told(part, value)
        if isinstance(want, float) and isinstance(have, float):
            return abs(have - want) > off
        return ("" if have is None else have) != want


class World:
    """The template in one system of units with its examples."""

    def __init__(self, units: Units, files: frozenset[str] = frozenset(),
                 size: Size = "usual") -> None:  # fmt: skip
        """Take the examples of some files, or of all; those of the usual size alone have any."""
        self.template = TEMPLATES[units, size]
        self.book = self.template.book
        self._resolver = Resolver(self.book, self.template.places)
        self._sheets = {sheet.name: at for at, sheet in enumerate(self.book.sheets)}
        self.cells = {cell.place: cell for cell in self.template.blank}
        self._at = {(c.part, c.line): c.place for c in self.template.blank if c.part}
        self.examples = [
            self._example(number, file, said)
            for number, (file, said) in enumerate(load_examples())
            if said.units == units
            and not said.place
            and (not files or file in files)
            and size == "usual"
        ]
        self._read_by: dict[Place, tuple[Place, ...]] = {}
        self._known: dict[int, dict[Place, Scalar]] = {}

    def _example(self, number: int, file: str, said: ExampleSaid) -> Example:
        wanted = {}
        off = 0.5000001 * 10**-said.places
        for key, line, want in looked_at(self.book, said):
            wanted[self._at[key, line]] = self.book.parts[key][2], scalar(want), off
        return Example(number, file, said, wanted)

    @cached_property
    def needed(self) -> dict[Place, tuple[Place, ...]]:
        """Return {cell: what it reads}, of all lines of the parts that an example asks for."""
        ahead = [place for example in self.examples for place in example.wanted]
        out: dict[Place, tuple[Place, ...]] = {}
        while ahead:
            place = ahead.pop()
            if place not in out:
                cell = self.cells[place]
                out[place] = self.reads(place, cell.content)
                ahead += out[place]
                ahead += self.of_part.get(cell.part, ())
        return out

    @cached_property
    def of_part(self) -> dict[str, list[Place]]:
        """Return {part: its cells}."""
        out: dict[str, list[Place]] = defaultdict(list)
        for (part, _), place in self._at.items():
            out[part].append(place)
        return dict(out)

    @classmethod
    @cache
    def of(cls, units: Units, size: Size = "usual") -> World:
        """Return the world in these units with the examples of all files, made once."""
        return cls(units, size=size)

    def read_by(self, place: Place) -> tuple[Place, ...]:
        """Return the cells that a cell reads as it stands."""
        if place not in self._read_by:
            self._read_by[place] = self.reads(place, self.cells[place].content)
        return self._read_by[place]

    @cached_property
    def all_readers(self) -> dict[Place, list[Place]]:
        """Return {cell: the cells that read it}, of the whole workbook."""
        return turned({place: self.read_by(place) for place in self.cells})

    def reads(self, place: Place, content: Scalar) -> tuple[Place, ...]:
        """Return the cells that a formula reads where it stands there."""
        if not is_formula(content):
            return ()
        found = inputs(replace(self.cells[place], content=content))
        return tuple({one for one in found if one in self.cells})

    @cached_property
    def readers(self) -> dict[Place, list[Place]]:
        """Return {cell: the cells that read it}."""
        return turned(self.needed)

    def sheets(self) -> Sheets:
        """Return an empty engine."""
        return Sheets(self._sheets)

    def contents(self, part: Part) -> dict[Place, Scalar]:
        """Return the cells of a part as it is then."""
        block = self.book.parts[part.key][0]
        out: dict[Place, Scalar] = {}
        for line in range(block.lines):
            if place := self._at.get((part.key, line)):
                formula = part.kind == "formula" and part.formula(line)
                out[place] = self._resolved(block, part, line) if formula else part.value(line)
        return out

    def _resolved(self, block: Block, part: Part, line: int) -> str:
        """Return a formula with addresses, and its marked range cut."""
        text = self._resolver.formula(block, part, line)
        if SHORTER[0] not in text:
            return text
        here = self._at[part.key, line][0]

        def cut(found: re.Match[str]) -> str:
            sheet, first_column, first, last_column, last, shorter, _ = found.groups()
            column = column_number(last_column.replace("$", ""))
            at = sheet.removesuffix("!") or here
            rows = [row for row in range(int(first), int(last) + 1)
                    if self._shown_at(at, row - 1, column)]  # fmt: skip
            if len(rows) < 2:
                raise TemplateError("a range of one line")
            row = rows[-2] if shorter else rows[0]
            return f"{sheet}{first_column}{first}:{last_column}{row}"

        done, count = _CUT.subn(cut, text)
        if not count or SHORTER[0] in done:
            raise TemplateError("no range to cut")
        return done

    def _shown_at(self, *place: Any) -> bool:
        return place in self.cells and bool(self.cells[place].part)

    @cached_property
    def _whole(self) -> tuple[Sheets, list[Cell]]:
        return self.sheets(), [self.cells[p] for p in self.cells if p in self.needed]

    def shown(self, example: Example) -> dict[Place, Scalar]:
        """Return every cell of an example as it is."""
        if example.number not in self._known:
            engine, cells = self._whole
            entries, _ = job_entries(self.book, example.said.job, example.said.say)
            entered = {cell.place: cell.content for cell in enter(self.book, cells, entries)}
            for place, content in entered.items():
                engine.put(place, content if content != "" else None)
            engine.work_out()
            self._known[example.number] = {
                place: engine.value(place) if is_formula(content) else content or None
                for place, content in entered.items()
            }
        return self._known[example.number]


@dataclass(frozen=True)
class _Made:
    """The cells of a changed part, and what they read beside what follows from it."""

    contents: dict[Place, Scalar]
    reads: frozenset[Place]


class Bench:
    """One part on the bench: what follows from it, as far as examples look."""

    def __init__(self, world: World, key: str) -> None:
        """Find what follows from a part."""
        self._world = world
        self._own = {place for place in world.of_part.get(key, ()) if place in world.needed}
        after = walked(self._own, world.readers)
        before = walked(self._own, world.needed)
        self._core = self._own | (after & before)
        self._after = after
        self._later: dict[str, tuple[Sheets, set[Place], set[Place]]] = {}
        home = homes()[key.partition(".")[0]][0]
        looking = [e for e in world.examples if not (after | self._own).isdisjoint(e.wanted)]
        self.examples = sorted(looking, key=lambda e: e.file != home)

    def noticed(self, changed: list[Change]) -> dict[Change, Example]:
        """Return the changes that an example notices, each with the first that does."""
        made = {c: c_ for c in changed if (c_ := self._made(c)) is not None}
        out: dict[Change, Example] = {}
        for example in self.examples:
            for change, cells in made.items():
                if change not in out and self._differs(example, cells):
                    out[change] = example
            if len(out) == len(made):
                break
        return out

    def _made(self, change: Change) -> _Made | None:
        """Return the cells of a changed part; none where a formula has no meaning then."""
        try:
            contents = self._world.contents(change.part)
        except (TemplateError, IndexError):
            return None
        own = {place: contents[place] for place in self._own}
        found = (one for place, text in own.items() for one in self._world.reads(place, text))
        return _Made(own, frozenset(found) - self._core)

    def _differs(self, example: Example, made: _Made) -> bool:
        """Tell whether an example notices what stands in the cells of the part."""
        shown = self._world.shown(example)
        values = self._near(shown, made)
        if all(same(value, shown[place]) for place, value in values.items()):
            return False
        if any(example.misses(p, v) for p, v in values.items() if p in example.wanted):
            return True
        engine, later, read_ones = self._further(example.file)
        if later.isdisjoint(example.wanted):
            return False
        for place in read_ones:
            engine.put(place, as_input(values.get(place, shown[place])))
        engine.work_out()
        return any(example.misses(p, engine.value(p)) for p in later & example.wanted.keys())

    def _near(self, shown: dict[Place, Scalar], made: _Made) -> dict[Place, Scalar]:
        """Return what the part, and all that feeds back into it, comes to."""
        engine, read_ones = self._close
        for place in read_ones | made.reads:
            engine.put(place, as_input(shown.get(place)))
        for place, content in made.contents.items():
            engine.put(place, content)
        engine.work_out()
        return {place: engine.value(place) for place in self._core}

    @cached_property
    def _close(self) -> tuple[Sheets, set[Place]]:
        """Return an engine with what feeds back into the part, and what it reads."""
        engine = self._world.sheets()
        for place in self._core - self._own:
            engine.put(place, self._world.cells[place].content)
        return engine, self._inputs(self._core)

    def _further(self, file: str) -> tuple[Sheets, set[Place], set[Place]]:
        """Return an engine with what follows as far as the examples of a file look.

        And the cells that stand in it, and those that they read.
        """
        if file not in self._later:
            world = self._world
            looked = {p for e in world.examples if e.file == file for p in e.wanted}
            later = (self._after & (walked(looked, world.needed) | looked)) - self._core
            engine = world.sheets()
            for place in later:
                engine.put(place, world.cells[place].content)
            self._later[file] = engine, later, self._inputs(later)
        return self._later[file]

    def _inputs(self, formulas: set[Place]) -> set[Place]:
        return {one for p in formulas for one in self._world.needed[p]} - formulas


def turned(needs: Mapping[Place, Iterable[Place]]) -> dict[Place, list[Place]]:
    """Return {cell: the cells that read it} of {cell: the cells that it reads}."""
    out: dict[Place, list[Place]] = defaultdict(list)
    for place, read_ones in needs.items():
        for one in read_ones:
            out[one].append(place)
    return dict(out)


def walked(begin: Iterable[Place], ways: Mapping[Place, Iterable[Place]]) -> set[Place]:
    """Return the places that ways lead to from some places, those themselves if led back to."""
    ahead, out = list(begin), set()
    while ahead:
        for place in ways.get(ahead.pop(), ()):
            if place not in out:
                out.add(place)
                ahead.append(place)
    return out


def same(one: Scalar, other: Scalar) -> bool:
    """Tell whether two values show the same."""
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= 1e-9 * max(1.0, abs(one))
    return one == other


def as_input(value: Scalar) -> Scalar:
    """Return what is put into a cell to stand for a formula's value."""
    return '=""' if value == "" else value
