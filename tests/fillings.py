"""Random fillings of the workbook: no error is seen, no figure without its stop, no line lost.

    python tests/fillings.py 10000 --seed 1

A filling is a random part of all that can be typed, on any sheet: what fits, what another
person types, and garbage.  After each the whole workbook is worked out, and three things hold:
no cell that a person sees shows an error value; while a stop is open, or garbage is typed, the
figures it holds are words and each paper says so; and each total is the sum of its lines,
added up here.  What fails is shrunk to the few entries that show it.  The same seed gives the
same fillings.  A program to run; ``test_fillings`` does so with a few.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from random import Random

import ironcalc

from filled import filled
from noticed import Sheets, World
from pourtally.cause import Upstream
from pourtally.grid import UNSEEN, Cell, Place, is_formula
from pourtally.model import SIZES, Block, Entries, Part, Scalar, Size, Units
from pourtally.percent import kept, told
from pourtally.place import address
from shop import STOP

Typed = dict[tuple[str, int], object]
"""{(entry, line): what is typed there}; nothing where a usual value is emptied."""
ERRORS = ("#N/A", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!")
OFTEN = 500
"""After so many fillings a run says how far it is."""
DATES = (46353.0, 46353.3125, 1.0, 36526.0, 73050.0)
"""November 27, 2026, the same at 7:30, a whole day, and the ends of the years that are taken."""
NUMBERS = (-1.0, -0.5, -1e9, 0.0, 1e-9, 0.5, 1e6, 1e12, 1e15, *DATES)
TYPING = ("4 ft", "24'6", "1,5", "$ 12", "n/a", "TBD", "½", "12", " 12 ", "7.30 am", "about four",
          "x" * 250, "word " * 400, " ", "TRUE", "'", "é", "-", "5%", "Broomed*", "~",
          "?")  # fmt: skip
NO_CHOICE = ("None of them", 3.25, -7e11, "yess", "x" * 300)
"""What stands in no list, whatever its lines are called."""
CHOSEN_SHARES = (0.05, 0.2, 0.6, 1.0)
GARBAGE_SHARES = (0.0, 0.0, 0.005, 0.03, 0.3, 1.0)


def is_error(value: object) -> bool:
    """Tell whether what is typed is an error value."""
    return isinstance(value, str) and value in ERRORS


def spoils(part: Part, value: object) -> bool:
    """Tell whether what is typed cannot be used, by what its entry declares alone."""
    if value is None or is_error(value):
        return value is not None
    if part.entry == "text":
        return False
    if part.entry == "choice":
        return value in NO_CHOICE
    if isinstance(value, (str, bool)) or not isinstance(value, float):
        return True
    within = part.limits.least <= value <= part.limits.most
    return not within or (part.limits.whole and value != int(value))


class Filler:
    """What draws fillings of one lay-out, by number; the same number gives the same one."""

    def __init__(self, entries: Iterable[tuple[Block, Part]], fits: Entries) -> None:
        """Take what can be typed, and what fits there, of a workbook filled to its last line."""
        self._fits = fits
        self._blocks: dict[str, list[tuple[Block, Part]]] = defaultdict(list)
        for block, part in entries:
            self._blocks[block.key].append((block, part))

    def filling(self, seed: int, number: int) -> Typed:
        """Return a filling."""
        dice = Random(f"{seed} {number}")
        share, garbage = dice.choice(CHOSEN_SHARES), dice.choice(GARBAGE_SHARES)
        out: Typed = {}
        for parts in self._blocks.values():
            if dice.random() < share:
                lines = self._lines(dice, parts[0][0].lines)
                most = dice.choice((0.3, 0.8, 1.0))
                for line, like in lines:
                    for _, part in parts:
                        if dice.random() < most:
                            out[part.key, line] = self._value(dice, part, like, garbage)
        return out

    def _lines(self, dice: Random, many: int) -> list[tuple[int, int]]:
        """Return which lines are filled, each with the line whose values it takes."""
        first = range(dice.randint(1, many))
        kind = dice.randrange(6)
        if kind == 0:
            return [(line, line) for line in range(many)]
        if kind == 1:  # the last one alone
            return [(many - 1, dice.randrange(many))]
        if kind == 2:  # all alike
            return [(line, 0) for line in first]
        if kind == 3:  # lines skipped in the middle
            return [(line, line) for line in range(many) if dice.random() < 0.4]
        return [(line, line) for line in first]

    def _value(self, dice: Random, part: Part, line: int, garbage: float) -> object:
        if dice.random() < garbage:
            return self._garbage(dice, part)
        if dice.random() < 0.05:
            return None
        column = self._fits[part.key]
        if dice.random() < 0.8 or part.entry == "text":
            return column[line % len(column)]
        if part.entry == "choice":
            return dice.choice(column)
        if part.entry == "date":
            return float(dice.randint(46000, 46400))
        least, most = told(part, part.limits.least), told(part, part.limits.most)
        some = round(dice.uniform(least, most), 0 if part.limits.whole else 2)
        return kept(part, dice.choice((least, most, some, min(most, least + 2))))

    def _garbage(self, dice: Random, part: Part) -> object:
        if dice.random() < 0.1:
            return dice.choice(ERRORS)
        if part.entry == "choice":
            return dice.choice((*NO_CHOICE, True))
        if part.entry == "text":
            return dice.choice((*NUMBERS, *TYPING, True))
        return dice.choice((*NUMBERS, *TYPING, True, False))


class Typing(Sheets):
    """An engine into which people type what they like."""

    def type_in(self, place: Place, value: object) -> None:
        """Type a value, an error value or a truth value into a cell."""
        at = self._at(place)
        if isinstance(value, bool):
            self._held.pop(place, None)
            self._model.update_cell_with_bool(*at, value)
        elif is_error(value):
            self._held.pop(place, None)
            self._model.set_user_input(*at, str(value))
        elif value is None or isinstance(value, (str, float)):
            self.put(place, None if value == "" else value)
        else:
            raise TypeError(f"{value!r} is nothing that a cell holds")

    def number(self, place: Place) -> float:
        """Return a cell's number, 0 where it holds a word, nothing, or a truth value."""
        value = self._model.get_cell_value(*self._at(place))
        return 0.0 if isinstance(value, (bool, str)) or value is None else float(value)

    def fails(self, place: Place) -> bool:
        """Tell whether a cell shows an error value."""
        return bool(self._model.get_cell_type(*self._at(place)) == ironcalc.CellType.ErrorValue)


class Filled:
    """One lay-out in an engine, filled and emptied again and again."""

    def __init__(self, units: Units, size: Size, keys: frozenset[str] = frozenset()) -> None:
        """Load a whole workbook, or what some keys are worked out from."""
        self.world = world = World.of(units, size)
        blank = world.template.blank
        self._cells = {c.place: c for c in (Upstream(blank).of(keys) if keys else blank)}
        here = {cell.part for cell in self._cells.values()}
        entries = world.book.entries().items()
        self.filler = Filler(((b, p) for k, (b, _, p) in entries if k in here),
                             filled(units, size))  # fmt: skip
        self.engine = Typing({sheet.name: at for at, sheet in enumerate(world.book.sheets)})
        for place, cell in self._cells.items():
            self.engine.put(place, cell.content if cell.content != "" else None)
        self._typed: set[tuple[str, int]] = set()

    @contextmanager
    def with_change(self, part: Part) -> Iterator[None]:
        """Put other formulas into a part for a while."""
        changed = self.world.contents(part)
        for place, content in changed.items():
            self.engine.put(place, content)
        yield
        for place in changed:
            self.engine.put(place, self._cells[place].content)

    @cached_property
    def seen(self) -> list[Cell]:
        """Return the cells that a person sees: formulas on sheets that are not hidden.

        What has a format that shows nothing is not seen.  Cells of papers and checks are.
        """
        hidden = {sheet.name for sheet in self.world.book.sheets if sheet.hidden}
        return [
            cell for cell in self._cells.values()
            if is_formula(cell.content) and cell.sheet not in hidden and cell.format != UNSEEN
        ]  # fmt: skip

    @cached_property
    def hidden(self) -> list[Cell]:
        """Return the other formulas."""
        seen = {cell.place for cell in self.seen}
        return [c for p, c in self._cells.items() if is_formula(c.content) and p not in seen]

    @cached_property
    def states(self) -> dict[str, list[Place]]:
        """Return {sheet: the cells that say the state of the checks}, but of Start.

        One stands under each title, one on each paper.
        """
        spots = self.world.template.places.spots
        keys = ("status.says", "status.work", "status.hard", "crew_at.stop")
        at = [f"Workings!{address(*spots[key].at(0), fixed=True)}" for key in keys]
        out: dict[str, list[Place]] = defaultdict(list)
        for cell in self.seen:
            text = str(cell.content)
            begins = text.startswith((*(f"={a}" for a in at), f"=IF({at[2]}>0,", "=CHOOSE(MAX(1"))
            if begins and any(a in text for a in at) and not cell.part.startswith("figures."):
                out[cell.sheet].append(cell.place)
        return dict(out)

    def fill(self, typed: Typed) -> None:
        """Type a filling into a blank workbook, and work it out."""
        for key, line in self._typed - typed.keys():
            place = self.world.of_part[key][line]
            self.engine.type_in(place, self._cells[place].content)
        for (key, line), value in typed.items():
            self.engine.type_in(self.world.of_part[key][line], value)
        self._typed = set(typed)
        self.engine.work_out()

    def column(self, key: str) -> list[Scalar]:
        """Return what the lines of a part show."""
        return [self.engine.value(place) for place in self.world.of_part[key]]

    def numbers(self, key: str) -> list[float]:
        """Return the numbers of the lines of a part; what is none counts as nothing."""
        return [self.engine.number(place) for place in self.world.of_part[key]]

    def broken(self, key: str) -> bool:
        """Tell whether a line of a part holds an error value."""
        return any(self.engine.fails(place) for place in self.world.of_part[key])

    def one(self, key: str) -> Scalar:
        """Return what the only line of a part shows."""
        return self.column(key)[0]


@dataclass(frozen=True)
class Fault:
    """What is wrong after a filling: of which kind, in which part, in words."""

    kind: str
    part: str
    says: str


KINDS = ("error cells", "headlines without stop", "totals that differ")

# What is seen ------------------------------------------------------------------------------


def failing(book: Filled) -> Iterator[Fault]:
    """Yield the cells that a person sees, and that show an error."""
    for cell in book.seen:
        if book.engine.fails(cell.place):
            here = f"{cell.sheet} {address(cell.row, cell.column)}"
            yield Fault(KINDS[0], cell.part or here, f"{here} {cell.part}[{cell.line + 1}]")


# Figures and their stops -------------------------------------------------------------------

FIGURES = ("area", "concrete", "hours", "window")
MONEY = ("price", "margin")
HEADLINES = ("area", "concrete", "mixes", "hours", "days", "when", "stamping")
OFFERS = ("Proposal", "Invoice")
"""The papers on which money goes outside."""


def unheld(book: Filled, typed: Typed) -> Iterator[Fault]:
    """Yield what garbage no check names, and the figures that stand beside an open stop."""
    states, money = book.numbers("checks.state"), book.numbers("checks.money")
    hard = any(s == STOP and not m for s, m in zip(states, money, strict=True))
    bad = list(_spoiled(book, typed))
    counts = dict(zip(book.world.book.parts["limits.count"][0].codes,
                      book.numbers("limits.count"), strict=True))  # fmt: skip
    for item, (key, line) in bad:
        if not counts[item]:
            says = f"{key}[{line + 1}] holds {typed[key, line]!r}, and no limit says so"
            yield Fault(KINDS[1], item, says)
    if hard or bad:
        yield from _shown(book, [f"figures.{n}" for n in FIGURES], "a stop is open")
        yield from _shown(book, [f"headline.{n}" for n in HEADLINES], "a stop is open")
        yield from _silent(book)
    if hard or bad or STOP in states:
        yield from _shown(book, [f"figures.{n}" for n in MONEY], "a stop holds money")
        yield from _shown(book, ["headline.price"], "a stop holds money")
        yield from _offered(book)


def _spoiled(book: Filled, typed: Typed) -> Iterator[tuple[str, tuple[str, int]]]:
    """Yield {entry: a cell of it} for what cannot be used; words count on lines in use."""
    for (key, line), value in typed.items():
        block, item, part = book.world.book.parts[key]
        looked_up = part.entry == "choice" and block.used
        used = not looked_up or book.numbers(block.used)[line if block.lines > 1 else 0] > 0
        if used and spoils(part, value):
            yield item.key, (key, line)


def _shown(book: Filled, keys: Iterable[str], why: str) -> Iterator[Fault]:
    for key in keys:
        value = book.one(key)
        if isinstance(value, float):
            yield Fault(KINDS[1], key, f"{key} shows {value:g} while {why}")


def _silent(book: Filled) -> Iterator[Fault]:
    """Yield the sheets and papers that say nothing of an open stop."""
    for sheet, places in book.states.items():
        for place in places:
            if "STOP" not in str(book.engine.value(place)):
                says = f"{sheet} {address(*place[1:])} says {book.engine.value(place)!r}"
                yield Fault(KINDS[1], f"{sheet} state", says)


def _offered(book: Filled) -> Iterator[Fault]:
    """Yield money that a paper for the customer shows."""
    for cell in book.seen:
        if cell.sheet in OFFERS and cell.part:
            part = book.world.book.parts[cell.part][2]
            value = book.engine.value(cell.place)
            if part.pint.startswith("dollar") and isinstance(value, float) and value:
                yield Fault(KINDS[1], cell.part, f"{cell.part}[{cell.line + 1}] shows {value:g}")


# Totals ------------------------------------------------------------------------------------

Sums = Callable[[Filled], Iterator[tuple[str, int, list[float]]]]
"""What yields a total, its line, and the figures that it is to be the sum of."""


def whole(total: str, *lines: str) -> Sums:
    """Say that a total is the sum of whole columns."""

    def sums(book: Filled) -> Iterator[tuple[str, int, list[float]]]:
        if not any(map(book.broken, lines)):
            yield total, 0, [value for key in lines for value in book.numbers(key)]

    return sums


def by(total: str, lines: str, of: str) -> Sums:
    """Say that each line of a total is the sum of the lines that name its place."""

    def sums(book: Filled) -> Iterator[tuple[str, int, list[float]]]:
        if not book.broken(lines):
            values, places = book.numbers(lines), book.numbers(of)
            for line in range(len(book.column(total))):
                mine = [v for v, at in zip(values, places, strict=True) if at == line + 1]
                yield total, line, mine

    return sums


def named(total: str, lines: str, of: str) -> Sums:
    """Say that a total is the sum of the lines that name any place at all."""

    def sums(book: Filled) -> Iterator[tuple[str, int, list[float]]]:
        if not book.broken(lines):
            pairs = zip(book.numbers(lines), book.numbers(of), strict=True)
            yield total, 0, [value for value, at in pairs if at > 0]

    return sums


TOTALS: list[Sums] = [
    # areas by finish, volumes by mix
    by("finish_area.total", "slabs.area", "slabs.finish"),
    named("total.area", "slabs.area", "slabs.finish"),
    by("mix_volume.neat", "slabs.volume", "slabs.mix"),
    named("total.volume", "slabs.volume", "slabs.mix"),
    by("mix_volume.ground", "slabs.area", "slabs.mix"),
    whole("total.form", "edges.form"),
    whole("total.joint", "edges.joint"),
    whole("total.isolation", "edges.isolation"),
    whole("total.tool", "edges.tool"),
    # hours
    whole("hours.total", "labor.hours"),
    by("finish_hours.direct", "labor.hours", "labor.finish.no"),
    whole("logging.man", "hour_log.man"),
    by("learned_tasks.hours", "hour_log.counted", "hour_log.task.no"),
    # order lines
    by("concrete.order", "pours.order", "placements.mix_no"),
    by("concrete.deeper", "pours.deeper", "placements.mix_no"),
    whole("order_to.volume", "order_when.volume"),
    # lines of cost to the price
    by("kind_cost.cost", "costs.amount", "costs.kind"),
    whole("price.cost", "kind_cost.cost", "price.use_tax"),
    whole("price.listed", "estimate.amount", "price.use_tax"),
    whole("card_price.listed", "card.amount"),
    whole("by_finish.cost", "finish_price.cost"),
    whole("by_finish.price", "finish_price.price"),
    # tickets, receipts, bills and payments
    by("delivered.volume", "ticket.size", "ticket.placement"),
    by("measured.delivered", "ticket.size", "ticket.mix"),
    whole("logging.spent", "receipts.paid", "receipts.taxed"),
    whole("schedule.total", "draws.due"),
    whole("contract.changes", "changes.counted"),
    whole("contract.billed", "billing.billed"),
    whole("contract.retained", "billing.held"),
    whole("contract.paid", "billing.paid"),
    whole("contract.owed", "billing.open"),
]

TO_A_CENT = ("contract.paid", "contract.owed")
"""Totals of money that are rounded to a whole cent, as no payment of a part of one can be made."""


def differing(book: Filled) -> Iterator[Fault]:
    """Yield the totals that are not the sum of their lines."""
    for sums in TOTALS:
        for total, line, parts in sums(book):
            have = book.column(total)[line]
            want = math.fsum(parts)
            dust = max(1e-6, 1e-9 * math.fsum(map(abs, parts)))
            if total in TO_A_CENT:
                dust += 0.005
            if not isinstance(have, float) or abs(have - want) > dust:
                says = f"{total}[{line + 1}] is {have!r}, its lines come to {want!r}"
                yield Fault(KINDS[2], total, says)


# All of it ---------------------------------------------------------------------------------


def faults(book: Filled, typed: Typed) -> list[Fault]:
    """Return all that is wrong after a filling."""
    book.fill(typed)
    return [*failing(book), *unheld(book, typed), *differing(book)]


def shrunk(book: Filled, typed: Typed, fault: Fault, tries: int = 150) -> Typed:
    """Return a small part of a filling that still has a fault: entries are dropped, many first."""
    left = dict(typed)
    step = len(left) // 2
    while step:
        entries = list(left)
        for begin in range(0, len(entries), step):
            less = {e: left[e] for e in left if e not in entries[begin : begin + step]}
            tries -= 1
            if any((f.kind, f.part) == (fault.kind, fault.part) for f in faults(book, less)):
                left = less
            if not tries:
                return left
        step = min(step // 2, len(left))
    return left


@dataclass
class Found:
    """What a run came to."""

    fillings: int = 0
    looked: int = 0
    hidden: int = 0
    stopped: int = 0
    totals: int = 0
    seconds: float = 0.0

    def __post_init__(self) -> None:
        """Begin with nothing found."""
        self.counts: Counter[str] = Counter()
        self.parts: Counter[tuple[str, str]] = Counter()
        self.hidden_first: dict[str, int] = {}
        self.first: dict[tuple[str, str], tuple[int, Fault, Typed]] = {}

    def take(self, book: Filled, number: int, typed: Typed) -> None:
        """Try one filling."""
        found = faults(book, typed)
        self.fillings += 1
        self.looked += len(book.seen)
        hidden = [f"{c.part}[{c.line + 1}]" for c in book.hidden if book.engine.fails(c.place)]
        self.hidden += len(hidden)
        if hidden:
            self.hidden_first.setdefault(hidden[0], number)
        self.stopped += STOP in book.numbers("checks.state")
        self.totals += sum(1 for sums in TOTALS for _ in sums(book))
        for fault in found:
            if (fault.kind, fault.part) not in self.parts:
                print(f"{number}: {fault.kind}: {fault.says}", file=sys.stderr, flush=True)
            self.counts[fault.kind] += 1
            self.parts[fault.kind, fault.part] += 1
            self.first.setdefault((fault.kind, fault.part), (number, fault, typed))

    def table(self) -> str:
        """Return the counts, a line each."""
        rows = [
            ("fillings", self.fillings), ("of them with a stop open", self.stopped),
            ("cells looked at", self.looked), ("totals added up", self.totals),
            *((kind, self.counts[kind]) for kind in KINDS),
            ("error cells on hidden sheets", self.hidden), ("seconds", round(self.seconds)),
        ]  # fmt: skip
        return "\n".join(f"{count:12,}  {what}" for what, count in rows)


def run(book: Filled, seed: int, numbers: Iterable[int], found: Found) -> None:
    """Try fillings by their numbers."""
    begun = time.time()
    for number in numbers:
        found.take(book, number, book.filler.filling(seed, number))
        if found.fillings % OFTEN == 0:
            print(f"{found.fillings} fillings, {sum(found.counts.values())} wrong",
                  file=sys.stderr, flush=True)  # fmt: skip
    found.seconds += time.time() - begun


def told_of(book: Filled, found: Found, most: int) -> Iterator[str]:
    """Yield the first offenders, each with the smallest filling that shows it."""
    for (_, part), (number, fault, typed) in list(found.first.items())[:most]:
        small = shrunk(book, typed, fault)
        many = found.parts[fault.kind, part]
        yield f"{fault.kind}, {many} times, first in filling {number}: {fault.says}"
        for (key, line), value in small.items():
            yield f"    {key}[{line + 1}] = {value!r}"


def asked() -> argparse.Namespace:
    """Return what the command line asks for."""
    line = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    line.add_argument("fillings", nargs="?", type=int, default=10_000)
    line.add_argument("--seed", type=int, default=1)
    line.add_argument("--units", nargs="+", choices=("us", "si"), default=["us", "si"])
    line.add_argument("--sizes", nargs="+", choices=SIZES, default=["small"])
    line.add_argument("--first", type=int, default=0, help="the number to begin with")
    line.add_argument("--shrink", type=int, default=5, help="how many offenders to shrink")
    return line.parse_args()


def main() -> int:
    """Try fillings, print what was found."""
    said = asked()
    kinds = [(units, size) for size in said.sizes for units in said.units]
    wrong = 0
    for at, (units, size) in enumerate(kinds):
        book, found = Filled(units, size), Found()
        numbers = range(said.first + at, said.first + said.fillings, len(kinds))
        run(book, said.seed, numbers, found)
        print(f"{units}, {size}\n{found.table()}", flush=True)
        for words in told_of(book, found, said.shrink):
            print(words, flush=True)
        for (kind, part), many in found.parts.most_common():
            print(f"{many:6}  {kind}  {part}")
        for part, number in found.hidden_first.items():
            print(f"hidden error, first in filling {number}: {part}")
        wrong += sum(found.counts.values())
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
