"""What is bought, from the definitions of the trade; every figure in SI base units."""

from __future__ import annotations

from math import pi

from shapely import LineString

from .banded import Banded
from .figures import ring

DUST = 1e-6
"""Share of a package that counts as nothing: figures that differ only in their last digits."""


def packages(amount: float, each: float) -> int:
    """Open one package after the other until there is enough."""
    count = 0
    while count * each < amount - DUST * each:
        count += 1
    return count


def parts(length: float, most: float) -> int:
    """Return the fewest equal parts of a length that are none longer than the most."""
    count = 1
    while length / count > most * (1 + DUST):
        count += 1
    return count


def cylinder(bore: float, length: float) -> float:
    """Return what a pump line holds."""
    return ring(0, bore / 2, 2 * pi).area * length


def lines(band: Banded) -> list[tuple[str, str, float]]:
    """Draw the center line of every strip of border and bands, each to that of the border it meets.

    Returns what it belongs to, border or inside, which way it runs, and how long it is.
    """
    out = []
    ways = {"x": (band.grid.y, band.grid.x), "y": (band.grid.x, band.grid.y)}
    for runs, (way, along) in ways.items():
        start, end = along.first / 2, along.whole - along.last / 2
        edges = [(0.0, way.first), (way.whole - way.last, way.whole)]
        strips = [("border", a, b) for a, b in edges if b > a]
        for part, a, b in [*strips, *(("inside", a, b) for a, b in way.of("b"))]:
            middle = (a + b) / 2
            out.append((part, runs, LineString([(start, middle), (end, middle)]).length))
    return out


def center_lines(band: Banded) -> float:
    """Return how long all center lines of border and bands are."""
    return sum(length for _, _, length in lines(band))


def strips(across: float, roll: float, lap: float) -> int:
    """Lay strips of a roll beside each other, each over the edge of the last one."""
    count, covered = 0, 0.0
    while covered < across - DUST * roll:
        covered += roll if count == 0 else roll - lap
        count += 1
    return count


def truckloads(order: float, step: float, truck: float) -> list[int]:
    """Deal an order out, step by step, onto as few trucks as carry it; return their steps."""
    most, steps = packages_within(truck, step), packages(order, step)
    trucks = [0] * packages(steps, most)
    for number in range(steps):
        trucks[number % len(trucks)] += 1
    return trucks


def packages_within(room: float, each: float) -> int:
    """Put one package after the other in until there is no room."""
    count = 0
    while (count + 1) * each <= room + DUST * each:
        count += 1
    return count


def bags_by_load(loads: list[int], dose: float, bag: float) -> int:
    """Color every load of a mix alike: the smallest in its nearest whole bags, and the step more.

    ``dose`` is the pigment of one step.  No colored load goes without a bag.
    """
    if not loads or dose <= 0:
        return 0
    least = min(loads)
    first = nearest(least * dose / bag)
    return sum(max(1, first + nearest((steps - least) * dose / bag)) for steps in loads)


def nearest(bags: float) -> int:
    """Return the nearest whole number, a half upward."""
    return int(bags + 0.5 + DUST)
