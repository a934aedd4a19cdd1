"""One job in both systems of units: every entry turned by pint, none of them rounded."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

import pint

from pourtally.model import Part
from pourtally.percent import told
from shop import laid_out

from .measure import UREG
from .workbook import Answers, Typed, asking, contents

answers = asking()
UREG.define("hundred_square_feet = 100 * foot**2")
UREG.define("dollar = [money]")
DEGREES = ("fahrenheit", "celsius")
"""Alone, these are read on a thermometer; with other units they are steps of it."""
DRIVEN = {"ft": "foot", "ft²": "foot**2", "yd³": "yard**3", "lb": "pound"}
"""Units that labor is driven by; all others are counted pieces."""


def in_both(typed: Typed) -> tuple[Answers, Answers]:
    """Return a US job's results, and those of the same job with every entry in SI units."""
    us, _ = laid_out("us")
    si, _ = laid_out("si")
    entries = us.entries()
    given = {(key, line): value for key, line, value in contents(typed)}
    cells: dict[tuple[str, int], Any] = {}
    for key, (block, _, part) in entries.items():
        if key.endswith(".in"):
            continue
        for line in range(block.lines):
            value: Any = given.get((key, line), told(part, part.value(line)))
            twin = key.removesuffix(".ft") + ".m" if key.endswith(".ft") else key
            if key.endswith(".ft"):
                name = key.removesuffix(".ft") + ".in"
                inches = given.get((name, line), entries[name][2].value(line))
                blank = value is None and inches is None
                value = None if blank else (value or 0) + _ratio("inch", "foot") * (inches or 0)
            is_number = isinstance(value, (int, float))
            cells[twin, line] = turned(value, part, si.parts[twin][2]) if is_number else value
    first = answers("us", typed)
    for line, unit in enumerate(first["labor.unit"]):
        rate = cells["labor.rate", line]
        if rate and unit in DRIVEN:  # hours for each foot, square foot, yard or pound
            cells["labor.rate", line] = rate / UREG.Quantity(1, DRIVEN[unit]).to_base_units().m
    twice: Typed = {}
    for (key, line), value in cells.items():
        table, entry = key.split(".", 1)
        twice.setdefault(table, [{} for _ in range(si.parts[key][0].lines)])[line][entry] = value
    return first, answers("si", twice)


WARMER = {"setting_rates.sun", "stamping.warmer", "setting_rates.hotter"}
"""Differences of temperatures, which have no zero of their own."""


def turned(value: float, part: Part, twin: Part) -> float:
    """Return a figure of a US part in the unit of its twin."""
    if part.key in WARMER:
        return float(UREG.Quantity(value, "delta_degF").to("delta_degC").magnitude)
    if part.pint in DEGREES:
        return float(UREG.Quantity(value, part.pint).to(twin.pint).magnitude)
    return value * _ratio(part.pint, twin.pint)


@cache
def _ratio(unit: str, other: str) -> float:
    steps = [re.sub("|".join(DEGREES), r"delta_\g<0>", u or "dimensionless") for u in (unit, other)]
    one: pint.Quantity[float] = UREG.Quantity(1, steps[0])
    return float(one.to(steps[1]).magnitude)
