"""A workbook filled in to its last line: every entry of every line holds something.

A number keeps the default of its line, or of the line above; without one it is a modest
share of its limits.  Choices go round their list.  Only what must fit together (the sides
of a triangle, the corners of an outline, either a coverage or a dose) is named here by key.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import time
from math import cos, pi, sin
from random import Random

from pourtally.jobfile import job_entries
from pourtally.model import Block, Entries, Part, Scalar, Size, Units
from pourtally.percent import kept, told
from shop import laid_out, results

SHAPES = ["Rectangle", "Right triangle", "Triangle", "Trapezoid", "Circle", "Ring or arc",
          "Border strip"]  # fmt: skip
DICED = ("Pours", "Tickets", "Prices", "Estimate", "Terms", "Actuals")
FEET_PER_METER = 3.28084
WRONG: list[Scalar] = ["word", -5.0, 1e7, None, "12 ft", 0.0]
"""What a person may paste over a number."""


def filled(units: Units, size: Size = "usual") -> Entries:
    """Return an entry for every line of every part that a person can fill in."""
    book, _ = laid_out(units, size)
    listed = {part.limits.choices for _, _, part in book.entries().values()} - {""}
    blank = results(units, {}, frozenset(listed), size)
    entries: Entries = {}
    for key, (block, _, part) in book.entries().items():
        column = [_value(blank, block, part, line) for line in range(block.lines)]
        entries[key] = column
    fits = _fitting(units) | (_few() if size == "small" else {})
    for key, lines in fits.items():
        assert key in entries, f"{key} is no entry any more"
        entries[key] = [lines(line) for line in range(book.parts[key][0].lines)]
    return entries


def spoiled(units: Units) -> Entries:
    """Return the same with every other number, and every third choice, gone wrong."""
    book, _ = laid_out(units)
    entries = filled(units)
    at = 0
    for key, (_, _, part) in book.entries().items():
        for line in range(len(entries[key])):
            at += 1
            if part.entry in ("number", "date") and at % 2:
                entries[key][line] = WRONG[at // 2 % len(WRONG)]
            if part.entry == "choice" and not at % 3:
                entries[key][line] = "nothing of the kind"
    return entries


def days(units: Units) -> Entries:
    """Return the filled workbook with eight random days and prices, some at the limits.

    Every number on the sheets of the day and of money lies anywhere between its limits, or on
    one of them; starts and dates are any.
    """
    book, _ = laid_out(units)
    entries = filled(units)
    dice = Random(1923)
    for key, (block, _, part) in book.entries().items():
        if block.sheet in DICED and part.role != "yours":
            least, most = told(part, part.limits.least), told(part, part.limits.most)
            for line in range(len(entries[key])):
                if part.entry == "number":
                    between = round(dice.uniform(least, most), 2)
                    entries[key][line] = kept(part, dice.choice([least, most, between, between]))
                if part.entry == "time":
                    entries[key][line] = dice.randrange(24 * 60) / (24 * 60)
                if part.entry == "date":
                    entries[key][line] = float(46000 + dice.randrange(3))
    return entries


def halves(units: Units) -> Entries:
    """Return a job whose stamping ends on half a minute, but for the dust of binary numbers."""
    job = {
        "placements": [{"start": time(7, 10)}],
        "mixes": [{"placed": "Chute", "allowance": 0, "waste": 7.25}],
        "setting_rates": {"method": "Your own hours", "own": 6},
        "pieces": [{"shape": "Rectangle", "a": 20, "b": 16.0625, "finish": "Stamped"}],
        "usual": {"thickness": 4},
        "ways": [{"typed": 4}],
        "stamping": {"stampers": 4},
    }
    entries, problems = job_entries(laid_out(units)[0], job, "halves")
    assert problems == []
    return entries


def _value(blank: dict[str, list[Scalar]], block: Block, part: Part, line: int) -> Scalar:
    if part.entry == "text":
        return part.value(line) or f"{part.heading} {line + 1}"
    if part.entry == "choice":
        # a list may be empty that only fills as the workbook does
        names = [n for n in blank[part.limits.choices] if n]
        usual = names[line % len(names)] if names else None
        return part.value(line) or usual
    if part.role == "yours":
        return float(5 + line % 5)
    defaults = [part.value(at) for at in range(line, -1, -1)]
    known = next((v for v in defaults if v is not None), None)
    if known is not None:
        return known
    if part.key.endswith(".in"):
        return float(line * 5 % 12)
    least, most = told(part, part.limits.least), told(part, part.limits.most)
    whole = round(least + (most - least) * (0.02 + line % 5 / 200), 2)
    return kept(part, max(least, min(most, float(round(whole)) if whole > 2 else whole)))


def _fitting(units: Units) -> dict[str, Callable[[int], Scalar]]:
    """Return what must fit together, by key; lengths are given in feet."""
    fits: dict[str, Callable[[int], Scalar]] = {
        "pieces.shape": lambda n: SHAPES[n % 7],
        "hourly.at": lambda n: (6 + n) / 24,
        "trucks.each": lambda _: None,  # the number of loads is typed
        "options.out": lambda _: "No",  # not every part can be left out
        "options.chosen": lambda n: "No" if n else "Yes",  # two may change the same thing
        "pairs.one": lambda n: f"Option {1 + n % 5}",
        "pairs.two": lambda n: f"Option {2 + n % 5}",
        "pieces.number": lambda n: [0.0, 0.0, 0.0, 0.0, 0.0, 75.0, 4.0][n % 7],
        "pieces.count": lambda n: float(1 + n % 3),
        "pieces.sign": lambda n: (
            "Hole"
            if n % 7 == 4
            else "Cut at an edge"
            if n == 8
            else "Cut at a corner"
            if n == 7
            else "Add"
        ),
        "pieces.out_of": lambda n: "Panel" if n % 7 == 6 else "Slab",
        "outlines.sign": lambda _: "Add",
        "bands.inside_across": lambda n: float(1 + n % 6),
        "bands.inside_along": lambda n: float(n % 6),
        "products.also": lambda _: "Not used",
        "products.coverage": lambda n: None if n % 2 else 200.0 / (1 if units == "us" else 40),
        "products.dose": lambda n: (3.0 if units == "us" else 0.15) if n % 2 else None,
        "curves.angle": lambda n: 60.0 + 15 * n,
        "curves.placement": lambda n: f"Pour {2 + 2 * n}",  # of the colored mix, as the even ones
        "bands.border_finish": lambda _: "Stamped",
        "bands.border_mix": lambda _: "Colored",
        "bands.inside_finish": lambda _: "Stamped",
        "bands.inside_mix": lambda _: "Colored",
        "walks.finish": lambda _: "Broomed",
        "walks.mix": lambda _: "Plain",
        "walks.placement": lambda n: f"Pour {1 + 2 * (n % 4)}",
        "walks.band_finish": lambda _: "Stamped",
        "walks.band_mix": lambda _: "Colored",
        "walks.band_placement": lambda n: f"Pour {2 + 2 * (n % 4)}",
        "legs.walk": lambda n: float(n // 10 + 1) if n % 10 == 0 else None,
        "legs.kind": lambda n: ["Straight", "Bend left", "Bend right"][n % 5 % 3],
        "legs.angle": lambda n: 60.0 if n % 5 == 1 else None,
        "bands.panel_finish": lambda _: "Broomed",
        "bands.panel_mix": lambda _: "Plain",
        "curves.finish": lambda _: "Stamped",
        "curves.mix": lambda _: "Colored",
        "bands.border_placement": lambda n: f"Pour {2 + 2 * (n % 4)}",
        "bands.inside_placement": lambda n: f"Pour {2 + 2 * (n % 4)}",
        "bands.panel_placement": lambda n: f"Pour {1 + 2 * (n % 4)}",
        "trucks.loads.yours": lambda n: 2.0 + n % 2,
        "color.pails.yours": lambda _: 0.0,  # as many supplies as their list has lines
        "fiber.bags.yours": lambda _: 0.0,
        "steel_more.dowels.yours": lambda _: 0.0,
        "own.typed": lambda _: 0.0,  # and as many lines of cost as Estimate has
        "own.driver": lambda _: None,
        "equipment.typed": lambda _: 0.0,
        "equipment.days": lambda _: 0.0,
        "equipment.task": lambda _: None,
        "subs.lump": lambda _: 0.0,
        "subs.each": lambda _: 0.0,
        "subs.least": lambda _: 0.0,
        "draws.percent": lambda n: [0.1, 0.3, 0.2, 0.2, 0.1, 0.1][n],
        "draws.amount": lambda _: None,
        "draws.signed": lambda _: None,  # the price is signed in one sum
        "signed.figure": lambda _: None,
        "visits.typed": lambda n: 41000.0 + n,  # after every wait
        "steps.count": lambda n: 2.0 + n,
        "steps.riser": lambda _: 6.0 if units == "us" else 150.0,
    }
    lengths: dict[str, Callable[[int], float | None]] = {
        "pieces.a": lambda n: 2.0 if n in (7, 8) else [20.0, 8, 9, 16, 2, 6, 64][n % 7] + n // 7,
        "pieces.b": lambda n: (
            2.0
            if n in (7, 8)
            else ([12.0, 6, 8, 12, 3, 9, 1][n % 7] + (n // 7 if n % 7 != 6 else 0))
        ),
        "pieces.c": lambda n: [1.0, 1, 7, 10, 1, 1, 9][n % 7],
        "pieces.against": lambda _: 2.0,
        "pieces.seam": lambda n: 0.5 * (n % 3),
        "corners.x": lambda n: 20 + 15 * cos(2 * pi * n / 24),
        "corners.y": lambda n: 20 + 10 * sin(2 * pi * n / 24),
        "outlines.against": lambda n: 3.0 + n,
        "outlines.seam": lambda _: 2.0,
        "outlines.wide": lambda n: 1.0 + n / 2,
        "bands.length": lambda n: 30.0 + 4 * n,
        "bands.width": lambda n: 18.0 + 3 * n,
        "curves.inner": lambda n: 10.0 + n,
        "curves.wide": lambda _: 2.0,
        "curves.against": lambda _: 3.0,
        "walks.width": lambda n: 4.0 + n,
        "walks.width_end": lambda n: 5.0 + n,
        "walks.band_wide": lambda _: 1.0,
        "walks.against": lambda _: 3.0,
        "legs.length": lambda n: [12.0, None, 14.0, 9.0, None][n % 5],
        "legs.radius": lambda n: [None, 25.0, 30.0, None, None][n % 5],
        "legs.chord": lambda n: 30.0 if n % 5 == 4 else None,
        "legs.rise": lambda n: 4.0 if n % 5 == 4 else None,
    }
    for key, feet in lengths.items():
        fits.update(_length(units, key, feet))
    # All places of a rectangle are typed or none: the first one has one band across
    places = {
        "strings_x.own": lambda n: None if n else 12.0 if units == "us" else 3.6,
        "strings_y.own": lambda _: None,
    }
    for key, place in places.items():
        fits.update(
            {f"{key}.{unit}": place for unit in (("ft", "in") if units == "us" else ("m",))}
        )
    return fits


def _few() -> dict[str, Callable[[int], Scalar]]:
    """Return what fits a small workbook: fewer placements, loads, supplies and lines of cost."""
    return {
        "forms.strips.yours": lambda _: 0.0,  # one line of cost less, for that of long days
        "bands.border_placement": lambda n: f"Pour {2 + 2 * (n % 2)}",
        "bands.inside_placement": lambda n: f"Pour {2 + 2 * (n % 2)}",
        "bands.panel_placement": lambda n: f"Pour {1 + 2 * (n % 2)}",
        "walks.band_placement": lambda n: f"Pour {2 + 2 * (n % 2)}",
        "walks.placement": lambda n: f"Pour {1 + 2 * (n % 2)}",
        "legs.walk": lambda n: float(1 + n // 3) if n % 3 == 0 else None,
        "trucks.loads.yours": lambda n: 2.0 - n % 2,
        "shake.bags.yours": lambda _: 0.0,
        "product_order.packages.yours": lambda n: float(n == 1),
        "forms.bender.yours": lambda _: 0.0,
        "grout.volume.yours": lambda _: 0.0,
        "old_out.loads.yours": lambda _: 0.0,
    }


def _length(
    units: Units, key: str, feet: Callable[[int], float | None]
) -> dict[str, Callable[[int], Scalar]]:
    def some(turned: Callable[[float], float]) -> Callable[[int], Scalar]:
        return lambda n: None if (length := feet(n)) is None else turned(length)

    if units == "si":
        return {f"{key}.m": some(lambda length: round(length / FEET_PER_METER, 3))}
    return {
        f"{key}.ft": some(lambda length: float(int(length))),
        f"{key}.in": some(lambda length: float(round(length % 1 * 12, 3))),
    }
