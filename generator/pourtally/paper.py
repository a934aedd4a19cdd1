"""A page to draw on: its size, the scales that people draw to, and round steps for a bar."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from .model import Units

Size = tuple[float, float]


@dataclass(frozen=True)
class Scale:
    """How long a foot or a meter is on the page, in its inches or millimeters, and in words."""

    length: float
    words: str


@dataclass(frozen=True)
class Page:
    """A page in inches or millimeters: its margin, the foot for words, and its letters."""

    name: str
    size: Size
    millimeters: float
    margin: float
    foot: float
    letters: float
    scales: tuple[Scale, ...]

    @property
    def room(self) -> Size:
        """Return the width and height that is left for a drawing."""
        wide, tall = self.size
        return wide - 2 * self.margin, tall - 2 * self.margin - self.foot

    def scale(self, needed: Callable[[float], Size]) -> Scale:
        """Return the largest scale at which as much fits as is needed at so long a foot or meter.

        What is needed is told in feet or meters.
        """
        for scale in self.scales:
            wide, tall = (side * scale.length for side in needed(scale.length))
            if wide <= self.room[0] and tall <= self.room[1] - self.letters:
                return scale
        return self.scales[-1]

    def step(self, scale: Scale) -> int:
        """Return the round length of one of two steps of a bar, at most a quarter of the page."""
        most = self.room[0] / 4 / 2 / scale.length
        return max((step for step in _rounds() if step <= most), default=1)


def _rounds() -> Iterator[int]:
    for power in range(5):
        yield from (digit * 10**power for digit in (1, 2, 5))


def _architects() -> Iterator[Scale]:
    """Yield the scales of an architect's rule, then of an engineer's."""
    for sixteenths in (48, 24, 16, 12, 8, 6, 4, 3, 2, Fraction(3, 2), 1):
        inches = Fraction(sixteenths) / 16
        whole, part = divmod(inches, 1)
        words = " ".join(str(n) for n in (whole, part) if n)
        yield Scale(float(inches), f"{words} in = 1 ft")
    for feet in (20, 30, 40, 50, 60, 100, 200, 500):
        yield Scale(1 / feet, f"1 in = {feet} ft")


def _metric() -> Iterator[Scale]:
    for less in (5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000):
        yield Scale(1000 / less, f"1:{less}")


PAGES: dict[Units, Page] = {
    "us": Page("Letter", (11, 8.5), 25.4, 0.4, 0.8, 0.1, tuple(_architects())),
    "si": Page("A4", (297, 210), 1, 10, 20, 2.5, tuple(_metric())),
}
"""The page that is printed on where each system of units is used, lying on its side."""


@dataclass(frozen=True)
class Foot:
    """What stands under a drawing: whose it is, more about it, and what is wrong with it."""

    title: str
    about: tuple[str, ...]
    warning: str = ""
