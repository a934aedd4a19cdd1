"""A job file in TOML to entries, with every problem it has.

A form is one table, a table is one ``[[block]]`` for each of its lines, in order::

    units = "us"
    size = "small"
    place = "canada"
    [usual]
    thickness = 5
    [[pieces]]
    shape = "Rectangle"
    a = [16, 4.5]         # 16 ft 4 1/2 in; a plain number is feet, or meters
    b = "16' 4.5"         # or as people write it; in meters "4,99", "4.99 m", "4990 mm"
    [[products]]
    line = 3              # a line by its number; the lines after it follow on
    coats = 1
    [[prices]]
    line = "boards"       # or by its code, where a table has codes
    price = 9.5
    [[pours]]
    order.yours = 6.5     # "your figure" in place of one worked out
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from . import accept, local
from .hint import near, short
from .lengths import feet_and_inches, in_words, meters
from .model import SIZES, UNITS, Block, Book, Entries, Field, Part, Size, Units
from .moved import gone, move_of, settle, spread
from .opened import UnopenedError, start
from .percent import kept
from .scalar import scalar

Table = dict[str, Any]
_Word = TypeVar("_Word", bound=str)
_LARGEST = 1_000_000  # bytes; a full job file has about 20,000
_MOST_DOTS = 40  # in a key; ours have two at most, and the parser takes the square of them
_WORD = r"""(?:[\w-]{1,40}|"[^"\n]{0,40}"|'[^'\n]{0,40}')[ \t]{0,9}\.[ \t]{0,9}"""
_DOTTED = re.compile(f"(?:{_WORD}){{{_MOST_DOTS}}}")
_AT_LINE = re.compile(r"at line (\d+)")
_CLOCK = re.compile(r"=\s*\d?\d:\d\d\s*(#|$)")
_WIDE = 200  # letters of a line that are looked at
_ENOUGH = 50  # problems of a file, after which nobody is told what was meant
_EXPECTED = {
    "time": "a time of the day with hours, minutes and seconds and without quotation marks, "
    "such as 07:30:00",
    "date": "a date without quotation marks, such as 2026-05-14",
}
"""What a job file takes, in words: TOML has values of its own for these."""


@dataclass(frozen=True)
class _Reading:
    """What is gathered while a job is read; ``larger`` yields the books that have more room."""

    book: Book
    entries: Entries
    larger: Callable[[], Iterable[Book]]
    notes: list[str]
    problems: list[str] = field(default_factory=list)
    chosen: list[tuple[str, Part, str]] = field(default_factory=list)
    came: dict[str, list[int]] = field(default_factory=dict)
    usual: dict[str, tuple[str, Any]] = field(default_factory=dict)


def read_job(
    path: Path, kind: str = "a job file", like: str = "a file from 'pourtally new'"
) -> tuple[Table, list[str]]:
    """Return the tables of a job file, or another of its ``kind``, or why it cannot be read.

    ``like`` is what to compare it with.
    """
    try:
        raw = start(path, _LARGEST)
        if len(raw) > _LARGEST:
            return {}, [f"{path}: over {_LARGEST:,} bytes; {kind} is a short text"]
        return _parsed(raw.decode("utf-8-sig").replace("\r\n", "\n")), []
    except UnopenedError as error:
        return {}, [f"{path}: {error}"]
    except UnicodeDecodeError:
        return {}, [f"{path}: not a text in UTF-8; {kind} is plain text, saved as UTF-8"]
    except ValueError as error:
        return {}, [f"{path}: not valid TOML: {error}; compare with {like}"]


def _parsed(text: str) -> Table:
    """Return the tables of a text; raise ``ValueError`` where they are none, or too deep."""
    if dotted := _DOTTED.search(text):
        line = text.count("\n", 0, dotted.start()) + 1
        raise ValueError(
            f"a key of over {_MOST_DOTS} words with dots between them (at line {line})"
        )
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise ValueError("brackets in brackets, too deep to be read") from None
    except ValueError as error:
        if not isinstance(error, tomllib.TOMLDecodeError):
            raise ValueError("a number with thousands of digits") from None
        line = int(at[1]) if (at := _AT_LINE.search(str(error))) else 0
        said = text.split("\n")[line - 1][:_WIDE] if line else ""
        hint = "; write a time with its seconds, 07:30:00" if _CLOCK.search(said) else ""
        raise ValueError(f"{error}{hint}") from None


def job_form(
    job: Table, units: Units | None, size: Size | None, where: str
) -> tuple[Units | None, Size | None, list[str]]:
    """Return the units and the size of a job; what was asked for on the command line must agree."""
    ours, problems = _agreed(job, "units", UNITS, units or "us", bool(units), where)
    room, more = _agreed(job, "size", SIZES, size or "usual", bool(size), where)
    return ours, room, problems + more


def job_place(job: Table, asked: str, where: str) -> tuple[str, list[str]]:
    """Return the place of a job, none where it names none; what was asked for must agree."""
    said = job.get("place", asked)
    if not isinstance(said, str) or (said and local.problem(said)):
        wrong = local.problem(said) if isinstance(said, str) else f"came {accept.shown(said)}"
        return "", [f"{where}: place: {wrong}"]
    if asked and said != asked:
        return "", [f"{where}: place: the file says {said!r} and the command {asked!r}: "
                    "drop the option or correct the file"]  # fmt: skip
    return said, []


def _agreed(
    job: Table, key: str, known: tuple[_Word, ...], asked: _Word, firmly: bool, where: str
) -> tuple[_Word | None, list[str]]:
    """Return what a job says under a key, else what was asked for, and what is wrong with it."""
    said = job.get(key, asked)
    if said not in known:
        words = " or ".join(f'"{word}"' for word in known)
        return None, [f"{where}: {key}: came {accept.shown(said)}; expected {words}"]
    if firmly and said != asked:
        return said, [f"{where}: {key}: the file says {said!r} and the command {asked!r}: "
                      "drop the option or correct the file"]  # fmt: skip
    return said, []


def job_entries(
    book: Book, job: Table, where: str, larger: Callable[[], Iterable[Book]] = tuple,
    notes: list[str] | None = None, over: Entries | None = None,
) -> tuple[Entries, list[str]]:  # fmt: skip
    """Return the entries of a job, defaults filled in, and all problems found.

    What the job does not say is as in ``over``, or else usual. ``larger`` is asked for the books
    of larger sizes where the job does not fit this one. To ``notes`` is added what was taken
    otherwise than it was written.
    """
    reading = _Reading(book, {
        key: list(over[key]) if over else [part.value(line) for line in range(block.lines)]
        for key, (block, _, part) in book.entries().items()
    }, larger, [] if notes is None else notes)  # fmt: skip
    problems = reading.problems
    blocks = {b.key: b for b in book.blocks if any(p.kind == "entry" for p in b.parts(False))}
    for key, said in job.items():
        if key in ("units", "size", "place"):
            continue
        if key not in blocks:
            problems.append(_unknown(reading, where, key, list(blocks)))
            continue
        for number, line, place in _lines(reading, blocks[key], said, f"{where}: {key}"):
            _line(reading, blocks[key], number, line, place)
    settle(reading.entries, reading.came)
    _spread(reading)
    for place, part, name in reading.chosen:
        if wrong := accept.choice_problem(book, part, name, reading.entries):
            problems.append(f"{place}: {wrong}")
    return reading.entries, problems


def _lines(
    reading: _Reading, block: Block, said: Any, where: str
) -> Iterator[tuple[int, Table, str]]:
    problems = reading.problems
    if block.shape == "form":
        if isinstance(said, dict):
            yield 0, said, where
        else:
            problems.append(f"{where}: came {_kind(said)}; expected one table, [{block.key}]")
        return
    if not isinstance(said, list) or not all(isinstance(i, dict) for i in said):
        problems.append(f"{where}: came {_kind(said)}; expected lines, [[{block.key}]] for each")
        return
    number, seen = 0, set()
    for index, line in enumerate(said):
        at = line.get("line", number + 1)
        if isinstance(at, str) and at in block.codes:
            at = block.codes.index(at) + 1
        if type(at) is not int or at < 1:
            problems.append(f"{where}: line: came {accept.shown(at)}; {_line_expected(block)}")
            continue
        number = at
        if at > block.lines:
            problems.append(f"{where}: {_no_room(reading, block, _reach(said[index:], at))}")
            return
        if at in seen:
            problems.append(f"{where}[{at}]: the line is given twice; keep one of them")
        seen.add(at)
        yield at - 1, line, f"{where}[{at}]"


def _reach(lines: list[Table], at: int) -> int:
    """Return the greatest number of some lines, of which the first stands at one."""
    most = at
    for line in lines[1:]:
        said = line.get("line")
        at = said if type(said) is int else at + 1
        most = max(most, at)
    return most


def _no_room(reading: _Reading, block: Block, lines: int) -> str:
    """Return that a table has too few lines, and which size of workbook has enough."""
    most = block.lines
    for book in reading.larger():
        most = next(b.lines for b in book.blocks if b.key == block.key)
        if most >= lines:
            has = f"{lines} lines, {reading.book.size} has {block.lines}"
            return f'{has}; size = "{book.size}" takes {most}'
    return f"{lines} lines, the largest workbook has {most}; use a second job file"


def _line_expected(block: Block) -> str:
    codes = [code for code in block.codes if code]
    return f"expected 1 to {block.lines}" + (f", or a code such as {codes[0]!r}" if codes else "")


def _line(reading: _Reading, block: Block, number: int, line: Table, where: str) -> None:
    known = {f.key.split(".", 1)[1]: f for f in block.fields if f.typed}
    if block.fresh and line.keys() - {"line"}:
        for part in (p for item in known.values() for p in item.typed if len(set(p.values)) > 1):
            reading.entries[part.key][number] = None
    for key, value in line.items():
        here = f"{where}.{short(key)}"
        if key == "line" and block.shape != "form":
            continue
        move = None if key in known else move_of(f"{block.key}.{key}")
        if move and move.spreads:
            reading.usual[move.old] = (here, value)
        elif move:
            reading.came.setdefault(move.old, []).append(number)
            _field(reading, known[move.new.split(".")[1]], value, number, here)
        elif key not in known:
            now = gone(f"{block.key}.{key}")
            told = f"{here}: there is no such entry any more: {now}; take it out"
            reading.problems.append(told if now else _unknown(reading, where, key, list(known)))
        else:
            _field(reading, known[key], value, number, here)


def _spread(reading: _Reading) -> None:
    """Give what older job files say once to each line in use."""
    for old, (where, value) in reading.usual.items():
        if (move := move_of(old)) and value != "":
            part = reading.book.parts[move.new][2]
            now = accept.current(reading.book, part, value)
            if wrong := accept.problem(part, now):
                reading.problems.append(f"{where}: {wrong}")
            elif spread(reading.entries, reading.book, move, now):
                reading.chosen.append((where, part, now))


def _field(reading: _Reading, item: Field, value: Any, number: int, where: str) -> None:
    """Take what a job says of a field: a length of two cells, your figure, or a plain entry."""
    first = item.typed[0]
    if item.is_length:
        _length(reading, item.typed, value, number, where)
    elif first.role != "yours":
        _set(reading, first, value, number, where)
    elif isinstance(value, dict) and set(value) == {"yours"}:
        _set(reading, first, value["yours"], number, f"{where}.yours")
    else:
        reading.problems.append(
            f"{where}: this figure is worked out; write {where.rpartition('.')[2]}.yours = ... "
            "to replace it"
        )


def _length(
    reading: _Reading, parts: tuple[Part, ...], value: Any, number: int, where: str
) -> None:
    """Take a length: a number, feet and inches in a list, or a text as people write it."""
    pair = value if isinstance(value, list) else [value]
    if isinstance(value, str) and value:
        found = (feet_and_inches if len(parts) > 1 else meters)(value)
        if isinstance(found, str):
            reading.problems.append(f"{where}: came {accept.shown(value)}; {found}")
            return
        reading.notes.append(f"{where}: {value.strip()} is read as {in_words(found)}")
        pair = [found] if isinstance(found, float) else [found.feet or 0, found.inches or 0]
    elif value != "" and not (
        1 <= len(pair) <= len(parts) and all(accept.is_number(v) for v in pair)
    ):
        needs = "feet, or [feet, inches]" if len(parts) > 1 else "meters"
        reading.problems.append(f"{where}: came {accept.shown(value)}; expected {needs}")
        return
    for part, given in zip(parts, [*pair, ""], strict=False):
        _set(reading, part, given, number, where)


def _set(reading: _Reading, part: Part, value: Any, number: int, where: str) -> None:
    if value == "":
        reading.entries[part.key][number] = None
        return
    value = kept(part, accept.current(reading.book, part, value))
    wrong = accept.problem(part, value)
    if wrong:
        if part.entry == "time" or (part.entry == "date" and not isinstance(value, date)):
            wrong = f"came {accept.shown(value)}; expected {_EXPECTED[part.entry]}"
        reading.problems.append(f"{where}: {wrong}")
        return
    if part.entry == "choice":
        reading.chosen.append((where, part, value))
    reading.entries[part.key][number] = scalar(value)


def _kind(value: Any) -> str:
    names = {dict: "one table", list: "a list", str: "words", int: "a number", float: "a number"}
    return names.get(type(value), type(value).__name__)


def _unknown(reading: _Reading, where: str, key: str, known: list[str]) -> str:
    told = f"{where}: unknown key '{short(key)}'"
    many = len(reading.problems) > _ENOUGH
    return told if many else f"{told}; {near(key, known, 'known here:')}"
