"""A job file in TOML to entries, with every problem it has.

    units = "us"
    [usual]                       # a form: one table
    thickness = 5
    [[pieces]]                    # a table: one entry a line, in order
    shape = "Rectangle"
    a = [16, 4.5]                 # 16 ft 4 1/2 in; a plain number is feet, or meters
    [[products]]
    line = 3                      # a line by its number; the lines after it follow on
    coats = 1
    [[concrete]]
    order.yours = 6.5             # "your figure" in place of one worked out
"""

from __future__ import annotations

import tomllib
from datetime import date
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from .declare import scalar
from .model import Block, Book, Entries, Part, Scalar, Units

Table = dict[str, Any]


def read_job(path: Path) -> tuple[Table, list[str]]:
    """Return the tables of a job file, or the reason why it cannot be read."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig")), []
    except FileNotFoundError:
        return {}, [f"{path}: there is no such file; check the name and the folder"]
    except (OSError, UnicodeDecodeError) as error:
        return {}, [f"{path}: cannot be read as text ({error}); a job file is UTF-8 text"]
    except tomllib.TOMLDecodeError as error:
        return {}, [f"{path}: not valid TOML: {error}; compare with a file from 'pourtally new'"]


def job_units(job: Table, asked: Units | None, where: str) -> tuple[Units, list[str]]:
    """Return the units of a job; what was asked for on the command line must agree."""
    said = job.get("units", asked or "us")
    if said not in ("us", "si"):
        return "us", [f"{where}: units: came {said!r}; expected \"us\" or \"si\""]
    if asked and said != asked:
        return said, [
            f"{where}: units: the file says {said!r} and the command {asked!r}; "
            "its numbers mean one of them: drop the option or correct the file"
        ]
    return said, []


def job_entries(book: Book, job: Table, where: str) -> tuple[Entries, list[str]]:
    """Return the entries of a job, defaults filled in, and all problems found."""
    entries: Entries = {
        key: [part.value(line) for line in range(block.lines)]
        for key, (block, _, part) in book.entries().items()
    }
    problems: list[str] = []
    blocks = {b.key: b for b in book.blocks if any(p.kind == "entry" for p in b.parts(False))}
    for key, said in job.items():
        if key == "units":
            continue
        if key not in blocks:
            problems.append(_unknown(where, key, list(blocks)))
            continue
        for number, line, place in _lines(blocks[key], said, f"{where}: {key}", problems):
            _line(book, blocks[key], number, line, place, entries, problems)
    return entries, problems


def _lines(
    block: Block, said: Any, where: str, problems: list[str]
) -> list[tuple[int, Table, str]]:
    if block.lines == 1:
        if isinstance(said, dict):
            return [(0, said, where)]
        problems.append(f"{where}: came {_kind(said)}; expected one table, [{block.key}]")
        return []
    if not isinstance(said, list) or not all(isinstance(i, dict) for i in said):
        problems.append(f"{where}: came {_kind(said)}; expected lines, [[{block.key}]] for each")
        return []
    out, number = [], 0
    for line in said:
        at = line.get("line")
        if at is not None and not (type(at) is int and 1 <= at <= block.lines):
            problems.append(f"{where}: line: came {at!r}; expected 1 to {block.lines}")
            continue
        number = at - 1 if at is not None else number
        if number >= block.lines:
            problems.append(f"{where}: more than {block.lines} lines; the workbook has no more")
            break
        out.append((number, line, f"{where}[{number + 1}]"))
        number += 1
    return out


def _line(
    book: Book, block: Block, number: int, line: Table, where: str, entries: Entries,
    problems: list[str],
) -> None:  # fmt: skip
    known = {
        p.key.split(".", 1)[1]: p for p in block.parts(False) if p.kind == "entry"
    }
    for key, value in line.items():
        if key == "line" and block.lines > 1:
            continue
        here = f"{where}.{key}"
        if f"{key}.ft" in known:
            _length(block, key, value, number, here, entries, problems, known)
        elif isinstance(value, dict) and f"{key}.yours" in known:
            for inner, given in value.items():
                if inner != "yours":
                    problems.append(_unknown(f"{here}", inner, ["yours"]))
                    continue
                _set(book, known[f"{key}.yours"], given, number, f"{here}.yours", entries, problems)
        elif key in known:
            _set(book, known[key], value, number, here, entries, problems)
        else:
            names = [k.removesuffix(".ft") for k in known if not k.endswith(".in")]
            problems.append(_unknown(where, key, names))


def _length(
    block: Block, key: str, value: Any, number: int, where: str, entries: Entries,
    problems: list[str], known: dict[str, Part],
) -> None:  # fmt: skip
    pair = value if isinstance(value, list) else [value]
    if not 1 <= len(pair) <= 2 or not all(_is_number(v) for v in pair):
        problems.append(f"{where}: came {value!r}; expected feet, or [feet, inches]")
        return
    for suffix, given in zip(("ft", "in"), [*pair, None], strict=False):
        part = known[f"{key}.{suffix}"]
        problem = number_problem(part, given) if given is not None else ""
        if problem:
            problems.append(f"{where}: {problem}")
            return
        entries[part.key][number] = None if given is None else float(given)


def _set(
    book: Book, part: Part, value: Any, number: int, where: str, entries: Entries,
    problems: list[str],
) -> None:  # fmt: skip
    problem = value_problem(book, part, value, entries)
    if problem:
        problems.append(f"{where}: {problem}")
    else:
        entries[part.key][number] = None if value == "" else scalar(value)


def value_problem(book: Book, part: Part, value: Any, entries: Entries) -> str:
    """Return what is wrong with the value of an entry, or nothing."""
    if value == "":
        return ""
    if part.entry in ("text", "choice"):
        if not isinstance(value, str):
            return f"came {value!r}; expected words in quotes"
        if len(value) > 250 or any(ord(c) < 32 for c in value):
            return "expected at most 250 plain characters on one line"
        return _choice_problem(book, part, value, entries) if part.entry == "choice" else ""
    if part.entry == "date":
        if isinstance(value, date):
            return ""
        return f"came {value!r}; expected a date such as 2026-05-14, without quotes"
    return number_problem(part, value)


def number_problem(part: Part, value: Any) -> str:
    """Return what is wrong with the number of an entry, or nothing."""
    if not _is_number(value):
        return f"came {value!r}; expected a number"
    if not part.limits.least <= value <= part.limits.most:
        unit = f" {part.unit}" if part.unit else ""
        return f"came {value:g}; expected {part.limits.least:g} to {part.limits.most:g}{unit}"
    return ""


def _choice_problem(book: Book, part: Part, value: str, entries: Entries) -> str:
    listed = book.parts[part.limits.choices][2]
    block = book.parts[part.limits.choices][0]
    if listed.kind == "formula":
        return ""  # names worked out in the workbook: its own checks look at them
    column = entries.get(listed.key) or [listed.value(i) for i in range(block.lines)]
    names = [str(n) for n in column if n]
    if value.casefold() in (n.casefold() for n in names):
        return ""
    near = get_close_matches(value, names, 1)
    hint = f"did you mean {near[0]!r}?" if near else f"expected one of {', '.join(names)}"
    return f"came {value!r}; {hint}"


def _is_number(value: Scalar | Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and value == value


def _kind(value: Any) -> str:
    names = {dict: "one table", list: "a list", str: "words", int: "a number", float: "a number"}
    return names.get(type(value), type(value).__name__)


def _unknown(where: str, key: str, known: list[str]) -> str:
    near = get_close_matches(key, known, 1)
    hint = f"did you mean '{near[0]}'?" if near else f"known here: {', '.join(known)}"
    return f"{where}: unknown key '{key}'; {hint}"
