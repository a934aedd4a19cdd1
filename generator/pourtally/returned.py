"""A customer's copy that came back: held against what was sent, its choices put into the job.

What was sent is worked out anew from the job's workbook, cell by cell; whoever saved the copy
may have used any program.  Both files are only read.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from .accept import shown
from .company import Company
from .grid import Cell, Place, is_formula
from .guard import UnusableError, package
from .model import Entries, Scalar
from .place import address
from .read import Filled
from .scalar import scalar
from .share import fitted, offered, offered_lines
from .sheets import Cells, Sheets
from .signed import keep
from .template import Template
from .values import open_stops

_FIX = (
    "it was changed in the copy, or the job was since: settle it with the customer, and send a "
    "fresh copy with 'pourtally share'"
)
_BEFORE = 30  # characters that words may have alike before they are shown from there on
_ANSWERS = {"yes": True, "y": True, "no": False, "n": False, "": False}


@dataclass
class Returned:
    """The entries of a job with a customer's choices in them, and what is to be said of them."""

    entries: Entries
    chosen: list[str] = field(default_factory=list)
    accepted: str = ""
    price: float = 0.0
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def said(self) -> str:
        """Return what was chosen, what the job comes to now, and who accepted, in words."""
        options = ", ".join(self.chosen) or "none"
        accepted = f"; {self.accepted}" if self.accepted else "; accepted by nobody yet"
        return f"options chosen: {options}; in all {self.price:,.2f}{accepted}"


@dataclass(frozen=True)
class _Copy:
    """A copy as it came, and the book and figures of the one that was sent."""

    path: Path
    sent: Template
    given: Entries
    typed: Sheets
    stored: Sheets

    def at(self, key: str, line: int = 0) -> Place:
        """Return where a part stands, by its name in ``[keys]``."""
        spot = self.sent.places.spots[self.sent.book.keys[key]]
        return spot.sheet, *spot.at(line)

    def came(self, place: Place) -> Scalar:
        """Return what stands in a cell: the figure, where a formula gave one."""
        sheet, *at = place
        where = at[0], at[1]
        kind, value = self.typed[sheet].get(where, ("n", None))
        return scalar(self.stored[sheet].get(where, ("n", None))[1] if kind == "f" else value)

    def told(self, place: Place) -> str:
        """Return a cell as a message names it."""
        return f"{self.path}: {place[0]} {address(place[1], place[2])}"


def returned(filled: Filled, copy: Path, company: Company) -> Returned:
    """Return a job's entries with the choices of a copy that came back, or all that is wrong.

    Raises ``UnusableError`` where the copy is no workbook, or none of ours.
    """
    worked, problems = offered(filled, company)
    out = Returned(filled.every_entry(), problems=problems, notes=list(filled.notes))
    parts = package(copy)
    typed = Sheets(parts)
    if problems:
        return out
    book, given = fitted(filled.template.book, worked, company)
    came = _Copy(copy, Template(book), given, typed, Sheets(parts, stored=True))
    sheets = {sheet.name for sheet in book.sheets}
    if not all(typed[sheet] for sheet in sheets):
        raise UnusableError("no copy that 'pourtally share' wrote: its sheets are not there")
    out.notes += [f"{copy}: {what} was added, and is not read" for what in typed.added(sheets, "")]
    if stranger := _of_another_job(came):
        out.problems.append(stranger)
        return out
    answers = _answers(came, out)
    _compare(came, answers, out)
    if not out.problems:
        _accepted(came, out)
        _choose(filled.template, worked, answers, out)
    return out


def _of_another_job(came: _Copy) -> str:
    """Say whose copy it is, where it has another number, or another customer and place."""
    wrong = {}
    for key in ("number", "customer", "site"):
        place = came.at(key)
        ours = came.given[came.sent.book.keys[key]][0]
        if not _same(came.came(place), ours):
            wrong[key] = (
                f"{came.told(place)}: came {shown(came.came(place))}; expected {shown(ours)}"
            )
    if "number" in wrong or len(wrong) > 1:
        told = "; ".join(wrong.values())
        return f"{told}: it is the copy of another job; give the workbook it was made from"
    return ""


def _answers(came: _Copy, out: Returned) -> dict[int, bool]:
    """Return which options were chosen, by their lines in the copy, and tell what is no answer."""
    keys = came.sent.book.keys
    found = {}
    for line, name in enumerate(came.given[keys["option"]]):
        place = came.at("chosen", line)
        word = str(came.came(place) or "")
        answer = _ANSWERS.get(word.strip().casefold())
        if answer is None:
            out.problems.append(f"{came.told(place)} ({name}): came {shown(word)}; expected Yes or "
                                "No: ask the customer, and type it there")  # fmt: skip
        else:
            found[line] = answer
    return found


def _compare(came: _Copy, answers: dict[int, bool], out: Returned) -> None:
    """Tell each price and word that differs from what was sent, and words in what was empty."""
    book = came.sent.book
    given = dict(came.given)
    chosen = book.keys["chosen"]
    given[chosen] = [came.came(came.at("chosen", n)) for n in range(len(given[chosen]))]
    cells, values = came.sent.work_out(given)
    entries = book.entries()
    held = [c for c in cells if c.part not in entries]
    found = [*_changed(came, held, values), *_written(came, {c.place for c in cells})]
    out.problems += [f"{told}: {_FIX}" for told in found]
    late = [c.place for c in held if is_formula(c.content) and _late(came, c, values[c.place])]
    if late and not found:
        out.notes.append(f"{came.told(late[0])}: its figure was not worked out anew after a choice "
                         "changed; the job's own figures are taken")  # fmt: skip
    for key in ("clash", "over"):
        if words := values[came.at(key)]:
            out.notes.append(f"{came.told(came.at(key))}: {words}")


def _changed(came: _Copy, held: list[Cell], values: dict[Place, Scalar]) -> Iterator[str]:
    for cell in held:
        kind, value = came.typed[cell.sheet].get((cell.row, cell.column), ("n", None))
        expected = values.get(cell.place, cell.content)
        as_sent = kind == "f" and _spelled(value) == _spelled(cell.content)
        if not as_sent and not _same(came.came(cell.place), expected):
            now = value if kind == "f" else came.came(cell.place)
            now_said, then = _shown(now, expected), _shown(expected, now)
            yield f"{came.told(cell.place)}: came {now_said}; expected {then}"


def _written(came: _Copy, known: set[Place]) -> Iterator[str]:
    """Yield each cell that holds something where the copy that was sent has none."""
    for sheet in came.sent.book.sheets:
        cells: Cells = came.typed[sheet.name]
        for at, (_, value) in cells.items():
            if (sheet.name, *at) not in known and str(value).strip():
                yield f"{came.told((sheet.name, *at))}: came {shown(value)}; expected nothing"


def _late(came: _Copy, cell: Cell, expected: Scalar) -> bool:
    figure = came.stored[cell.sheet].get((cell.row, cell.column))
    return figure is not None and not _same(scalar(figure[1]), expected)


def _spelled(formula: Any) -> str:
    return "".join(str(formula).split()).replace("$", "").upper()


def _same(came: Scalar, expected: Scalar) -> bool:
    """Tell whether two cells say the same; programs keep 15 digits, and some drop spaces."""
    if isinstance(came, float) and isinstance(expected, (int, float)):
        return abs(came - expected) <= 1e-9 * max(1.0, abs(expected))
    return str(came or "").split() == str(expected or "").split()


def _shown(value: Scalar, other: Scalar) -> str:
    """Return a value as a message shows it, long words from shortly before they differ."""
    if value in (None, ""):
        return "nothing"
    words, least = str(value), min(len(str(value)), len(str(other)))
    pairs = enumerate(zip(words, str(other), strict=False))
    same = next((n for n, (ours, theirs) in pairs if ours != theirs), least)
    return shown(value if same < _BEFORE else "..." + words[same - _BEFORE // 2 :])


def _accepted(came: _Copy, out: Returned) -> None:
    """Say who accepted and when, and what the customer wishes or asks."""
    by, on, words = (came.came(came.at(f"accepted_{what}")) for what in ("by", "on", "words"))
    day = came.typed[came.at("accepted_on")[0]].get(came.at("accepted_on")[1:], ("n", on))[1]
    dated = f" on {shown(day).strip(chr(39))}" if on else ""
    out.accepted = f"accepted by {by}{dated}" if by else ""
    if words:
        out.notes.append(f"{came.told(came.at('accepted_words'))}: the customer writes {words!r}")


def _choose(job: Template, worked: Entries, answers: dict[int, bool], out: Returned) -> None:
    """Put the choices into the job; what a contract that stands comes to is kept first."""
    keys = job.book.keys
    kept = keep(job, out.entries)
    words = job.book.words
    for line, row in enumerate(offered_lines(job.book, worked)):
        yes = answers[line]
        if yes != bool(worked[keys["option_on"]][row]):
            out.entries[keys["option_chosen"]][row] = words["option_yes" if yes else "option_no"]
        if yes:
            out.chosen.append(str(worked[keys["option_offer"]][row]))
    if kept:
        out.notes += [kept, words["option_unsummed"]]
    now = job.results(out.entries)
    out.price = float(now[keys["contract"]][0] or 0)
    out.notes += [f"with these choices: {stop}" for stop in open_stops(job.book, now)]
