"""Declared drawings to the cells they show: one of a block, or one for each of its lines."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from .declared import ChartSaid, SeriesSaid
from .expand import Expanded
from .model import Chart, Run, Series
from .schema import Slips

_RUN = re.compile(r"(\w+)\.(\w+)(?::(\w+))?\[(?:(\d+):(\d+))?\]")


def drawings(
    said: ChartSaid, block: str, where: str, expanded: Expanded, slips: Slips
) -> Iterator[Chart]:
    """Yield the drawing of a block, or each of them where there is one for every line."""
    for one in _each(said, block, expanded) if said.each else (said,):
        series = tuple(s for line in one.series for s in _series(line, where, expanded, slips))
        yield Chart(
            one.words, one.line, series, one.axis, one.rows, one.column, one.wide, one.tall,
            one.at, one.over, one.fills, one.bars, one.same,
        )  # fmt: skip


def _each(said: ChartSaid, block: str, expanded: Expanded) -> Iterator[ChartSaid]:
    """Yield a drawing for each line of the block it names, from that of the first line.

    A block that is drawn has the same number of lines for each: by so many the next one's
    runs, and the line it stands at, lie further on.
    """
    many = expanded.lines(said.each)
    for before in range(many):
        on = partial(_further, expanded, before, many)
        yield replace(
            said,
            words=said.words.replace("{line}", str(before + 1)),
            line=said.line + before * expanded.lines(block) // many,
            series=tuple(replace(s, x=on(s.x), y=on(s.y), name=on(s.name)) for s in said.series),
        )


def _further(expanded: Expanded, before: int, many: int, text: str) -> str:
    """Return the runs of a drawing, of ``many``, that has some ``before`` it."""
    match = _RUN.fullmatch(text)
    if not match or not match[4]:
        return text
    past = before * expanded.lines(match[1]) // many
    return f"{text.partition('[')[0]}[{int(match[4]) + past}:{int(match[5]) + past}]"


def _series(said: SeriesSaid, where: str, expanded: Expanded, slips: Slips) -> list[Series]:
    """Return the lines of a drawing; where x or y has one run, it serves all runs of the other."""
    runs = partial(_runs, where=where, expanded=expanded, slips=slips)
    x, y = runs(said.x), runs(said.y)
    names: list[Run | None] = [*(runs(said.name) if said.name else [None])]
    count = max(len(x), len(y))
    if any(count % max(len(some), 1) or not some for some in (x, y, names)):
        slips.tell(where, f"x '{said.x}' and y '{said.y}' have not as many runs as each other")
        return []
    look = said.fill, said.layer, said.name_at, said.round, said.center, said.elsewhere
    return [Series(a, b, said.width, said.tone, name, *look) for a, b, name in zip(
        x * (count // len(x)), y * (count // len(y)), names * (count // len(names)),
        strict=True)]  # fmt: skip


def _runs(text: str, where: str, expanded: Expanded, slips: Slips) -> list[Run]:
    """Return the runs of cells that a drawing names.

    ``block.part[3:6]`` is one run down lines 3 to 6; ``block.part:last[3:6]`` is four runs,
    each along a line from one part to another; ``[]`` in place of lines means all of them.
    """
    match = _RUN.fullmatch(text)
    if not match:
        slips.tell(where, f"'{text}' is no run of cells; write block.part[1:4]")
        return []
    block, part, last, start, end = match.groups()
    lines = range(int(start) - 1, int(end)) if start else range(expanded.lines(block))
    if not last:
        return [Run(f"{block}.{part}", lines[0], f"{block}.{part}", lines[-1])]
    return [Run(f"{block}.{part}", n, f"{block}.{last}", n) for n in lines]
