"""Entries that older workbooks and job files have under another name, by ``older.toml``.

Most of them only changed their name.  Some counted more than they do now, and a usual figure
that there is no longer goes to each line in use that has none of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

from .files import older
from .model import Book, Entries, Scalar, Units

_Stand = TypeVar("_Stand")


@dataclass(frozen=True)
class Move:
    """An entry's older name and its name now, without the units of a length.

    ``less`` are answers in the same line: each that says ``where`` was counted in it.  ``unless``
    names what an empty cell stands for now: the same need not be filled in.
    """

    old: str
    new: str
    less: tuple[str, ...] = ()
    where: str = ""
    unless: str = ""

    @property
    def spreads(self) -> bool:
        """Tell whether it stood once for all lines of the block it goes to."""
        return bool(self.unless)


@lru_cache(maxsize=1)
def moves() -> tuple[Move, ...]:
    """Return every entry that has another name now."""
    return tuple(
        Move(said["from"], said["to"], tuple(said.get("less", ())), said.get("where", ""),
             said.get("unless", ""))
        for said in older().get("moved", ())
    )  # fmt: skip


def move_of(key: str) -> Move | None:
    """Return how an entry's older name is to be taken; ``key`` may end in a unit."""
    return next((m for m in moves() if key == m.old or key.startswith(f"{m.old}.")), None)


def gone(key: str) -> str:
    """Return what counts now in place of an entry that is gone, or nothing."""
    return str(older().get("gone", {}).get(key, {}).get("now", ""))


def was_usual(key: str, units: Units, value: Scalar) -> bool:
    """Tell whether an entry that is gone was left as it came."""
    return bool(value == older()["gone"][key]["usual"][units])


def worked_out(key: str, made: tuple[int, ...]) -> bool:
    """Tell whether a version worked out what is an entry now."""
    until = str(older().get("worked", {}).get(key, "0"))
    return made < tuple(map(int, until.split(".")))


def beside() -> dict[str, dict[str, str]]:
    """Return {entry: the figure it stands beside, and what of an older workbook it was}."""
    return dict(older().get("beside", {}))


def renamed(names: dict[str, _Stand], book: Book) -> dict[str, _Stand]:
    """Return what stands under names, each under the name it has now; others are left."""
    out = dict(names)
    for name in names:
        move = move_of(name)
        if move and not move.spreads and name not in book.entries():
            out[move.new + name.removeprefix(move.old)] = out.pop(name)
    return out


def settle(entries: Entries, came: Mapping[str, Iterable[int]]) -> None:
    """Take off what was counted in an entry; ``came`` is {older name: lines it is from}."""
    for move in moves():
        for line in came.get(move.old, ()) if move.less else ():
            value = entries[move.new][line]
            if isinstance(value, (int, float)):
                fewer = value - sum(entries[key][line] == move.where for key in move.less)
                entries[move.new][line] = fewer if fewer > 0 else None


def spread(entries: Entries, book: Book, move: Move, value: Scalar) -> list[int]:
    """Fill what was usual for all lines into those in use, and return these."""
    if value is None or value == entries[move.unless][0]:
        return []
    lines = [n for n in _in_use(entries, book, move.new) if entries[move.new][n] is None]
    for line in lines:
        entries[move.new][line] = value
    return lines


def clear_spare(entries: Entries, book: Book, made: tuple[int, ...]) -> None:
    """Empty what older versions had filled in on lines that nobody used."""
    for key, before in older().get("spare", {}).items():
        if key in entries and made < tuple(map(int, before.split("."))):
            used = set(_in_use(entries, book, key))
            entries[key] = [v if n in used else None for n, v in enumerate(entries[key])]


def price_at_nothing(entries: Entries, book: Book, made: tuple[int, ...]) -> list[str]:
    """Price lines that an older version did not ask for at 0 where anything else is priced.

    Return the codes of those that were filled.
    """
    filled: list[str] = []
    for before, said in older().get("unpaid", {}).items():
        priced = any(v is not None for key in said["where"] for v in entries.get(key, ()))
        if priced and said["entry"] in entries and made < tuple(map(int, before.split("."))):
            ours = book.parts[said["entry"]][0].codes
            filled += (there := sorted({*said["lines"]} & {*ours}))
            for code in there:
                entries[said["entry"]][ours.index(code)] = 0.0
    return filled


def _in_use(entries: Entries, book: Book, key: str) -> list[int]:
    """Return the lines of an entry's block in which something is measured."""
    block = key.partition(".")[0]
    measured = {f"{block}.{name}" for name in older()["measured"][block]}
    columns = [entries[k] for k in book.entries() if {k, k.rpartition(".")[0]} & measured]
    return [n for n, cells in enumerate(zip(*columns, strict=True)) if any(cells)]
