"""Bars laid one by one and cut bar by bar, wire sheets laid sheet by sheet; in meters."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from shapely import LineString, Polygon

from .buying import DUST, packages_within
from .slabs import STRAIGHT, Slab


@dataclass(frozen=True)
class Bars:
    """How bars are laid and what they are cut from."""

    spacing: float
    cover: float
    stock: float
    lap: float
    shortest: float


@dataclass(frozen=True)
class Sheet:
    """A wire sheet and how far the next one lies on it."""

    long: float
    wide: float
    lap: float


def strip(slab: Slab) -> tuple[float, float]:
    """Return length and width of one slab piece as a strip of its area."""
    one = slab.area / slab.typed.get("count", 1)
    shape = slab.typed["shape"]
    if shape in STRAIGHT:
        long = max(slab.typed[k].base for k in STRAIGHT[shape][0])
    elif shape == "Circle":
        long = sqrt(one)
    else:  # a ring or a border, by its middle
        a, b = slab.typed["a"].base, slab.typed["b"].base
        long = one / (b - a if shape == "Ring or arc" else b)
    return long, one / long


def rows(across: float, spacing: float) -> list[float]:
    """Set a bar at one end and go on by the spacing until the other end has its own."""
    at = [0.0]
    while at[-1] < across - DUST * spacing:
        at.append(min(at[-1] + spacing, across))
    return at


def both_ways(long: float, wide: float, bars: Bars) -> tuple[list[float], list[float]]:
    """Lay the bars of one slab from cover to cover; return their lengths, each way."""
    inside, across = (max(0.0, side - 2 * bars.cover) for side in (long, wide))
    lengthwise = [inside for _ in rows(across, bars.spacing)]
    crosswise = [across for _ in rows(inside, bars.spacing)]
    return lengthwise if inside > 0 else [], crosswise if across > 0 else []


def pieces(run: float, bars: Bars) -> list[float]:
    """Lay one run bar after bar, each on the end of the last; return the pieces it takes."""
    out = [min(run, bars.stock)]
    reach = out[0]
    while reach < run - DUST * bars.stock:
        left = run - reach + bars.lap
        out.append(min(max(left, bars.shortest), bars.stock))
        reach += bars.stock - bars.lap
    return out


def _alike(runs: list[float]) -> list[list[float]]:
    """Sort runs into those of one length; a rounded length would split what lies on its edge."""
    groups: list[list[float]] = []
    for run in sorted(runs):
        if groups and run - groups[-1][-1] < DUST:
            groups[-1].append(run)
        else:
            groups.append([run])
    return groups


def bought(runs: list[float], bars: Bars) -> int:
    """Cut all runs, those of one length together, piece by piece from the bars bought."""
    count = 0
    for alike in _alike(runs):
        room = 0.0
        for piece in (p for run in alike for p in pieces(run, bars)):
            if piece >= bars.stock * (1 - DUST):  # a whole bar leaves the cut one as it is
                count += 1
                continue
            if room < piece - DUST * bars.stock:
                count, room = count + 1, bars.stock
            room -= piece
    return count


def laid(run: float, sheet: float, lap: float) -> int:
    """Lay sheets along a run, each on the edge of the last."""
    count, reach = 1, sheet
    while reach < run - DUST * sheet:
        count, reach = count + 1, reach + sheet - lap
    return count


def sheets(long: float, wide: float, times: int, sheet: Sheet, cover: float) -> int:
    """Lay a slab with sheets both ways round; of a narrow one, strips cut from a sheet."""
    inside, across = (max(0.0, side - 2 * cover) for side in (long, wide))
    if not inside * across:  # no steel has its cover in it
        return 0
    tries = []
    for first, other in ((sheet.long, sheet.wide), (sheet.wide, sheet.long)):
        parts = times * laid(inside, first, sheet.lap) * laid(across, other, sheet.lap)
        from_one = max(1, packages_within(other, across))
        tries.append(-(-parts // from_one))
    return min(tries)


def left_out(hole: Polygon, slab: Polygon, bars: Bars) -> float:
    """Measure what of the bars of a drawn slab lies in a hole."""
    left, low, right, high = slab.bounds
    c = bars.cover
    lines = [
        LineString([(left + c, low + c + y), (right - c, low + c + y)])
        for y in rows(high - low - 2 * c, bars.spacing)
    ] + [
        LineString([(left + c + x, low + c), (left + c + x, high - c)])
        for x in rows(right - left - 2 * c, bars.spacing)
    ]
    return float(sum(line.intersection(hole).length for line in lines))
