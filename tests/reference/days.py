"""Random pour days: what is typed in a workbook, and the same day for the simulation.

Mats fit the slab exactly, so that whoever counts them need not ask the workbook. What is drawn
is rounded as it is typed.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil

from . import day as site
from .day import Day, Line, Many, Mix, Plan, Weather
from .measure import Units
from .workbook import Typed

STEP = 0.25
DATE = 46200.0
MARGIN = 15 / 60
SKY = ("Shade", "Sun")
METHODS = ("Temperature table", "Temperature table", "Equivalent age", "Your own hours")

TABLES: dict[Units, tuple[tuple[float, float], ...]] = {
    "us": ((100, 1.667), (90, 2.667), (80, 4), (70, 6), (60, 8), (50, 11), (40, 14), (30, 19)),
    "si": ((37.8, 1.667), (32.2, 2.667), (26.7, 4), (21.1, 6), (15.6, 8), (10, 11), (4.4, 14),
           (-1.1, 19)),
}  # fmt: skip
WARMER: dict[Units, float] = {"us": 5, "si": 2.8}
MAT: dict[Units, tuple[float, float]] = {"us": (3, 2), "si": (0.9, 0.6)}
KELVIN: dict[Units, Callable[[Many], Many]] = {
    "us": lambda warm: (warm - 32) / 1.8 + 273.15,
    "si": lambda warm: warm + 273.15,
}


@dataclass(frozen=True)
class Drawn:
    """A day in both tongues."""

    units: Units
    day: Day
    typed: Typed

    @property
    def verdict(self) -> str:
        """Return how the simulation sees it: in time, hardly, or too late."""
        slack = site.slack(self.day)
        worst = min(self.slack_warm, site.slack_late(self.day), site.slack_fewer(self.day))
        return "late" if slack < 0 else "hardly" if worst < 0 or slack < MARGIN else "holds"

    @property
    def slack_warm(self) -> float:
        """Return the hours left on a day 5 °F (2.8 °C) warmer."""
        return site.slack_warm(self.day, WARMER[self.units])


def draw(number: int) -> Drawn:
    """Return the day of a number, always the same one; odd ones are metric."""
    dice = random.Random(number)
    units: Units = "si" if number % 2 else "us"
    typed: Typed = {}
    wide, tall = dice.randint(2, 6), dice.randint(2, 8)
    plan = trucks(dice, units, wide * tall, typed)
    weather = forecast(dice, units, typed)
    mix = concrete(dice, units, typed)
    opens = dice.randint(30, 50)
    closes = opens + dice.randint(15, 40)
    stampers = dice.randint(1, 8)
    typed["stamping"] = {"opens": opens, "closes": closes}
    typed["hands"] = {"stampers": stampers}
    mats = slab(units, wide, tall, typed)
    day = Day(plan, weather, mix, 0, stampers, opens / 100, closes / 100)
    rate, difficulty = round(fitting(dice, day) / mats, 4), dice.choice([1, 1.3])
    typed["labor"] = [{}] * 25 + [{"rate": rate, "difficulty": difficulty, "least": 0}]
    return Drawn(units, replace(day, man_hours=mats * rate * difficulty), typed)


def fitting(dice: random.Random, day: Day) -> float:
    """Return man-hours of stamping that may or may not be done between opening and closing."""
    loads = site.arriving(day.plan)
    time = site.moments(day, loads[-1]).closes - site.moments(day, loads[0]).opens
    return max(0.1, dice.uniform(0.2, 1.15) * time) * day.stampers


def slab(units: Units, wide: int, tall: int, typed: Typed) -> int:
    """Type a rectangle of whole mats and return their number; 6 of them make a square."""
    side = MAT[units][0] * MAT[units][1] / (1 if units == "us" else 0.3)
    cells = ("a.ft", "b.ft") if units == "us" else ("a.m", "b.m")
    typed["pieces"] = {
        "shape": "Rectangle", cells[0]: round(side * wide, 3), cells[1]: round(side * tall, 3),
        "thickness": 4 if units == "us" else 100, "finish": "Stamped",
    }  # fmt: skip
    return 6 * wide * tall


def trucks(dice: random.Random, units: Units, squares: int, typed: Typed) -> Plan:
    """Type an order, its loads and where the plant is; return what comes when."""
    steps = max(4, round(squares * (36 / 81 if units == "us" else 0.324) / STEP))
    truck, each = dice.choice([2.5, 4, 9]), dice.choice([None, None, 2.25])
    count = ceil(steps * STEP / (each or truck))
    rate, loading, drive = dice.randint(3, 24), dice.randint(5, 20), dice.randint(5, 50)
    washing, sent = dice.randint(0, 10), dice.choice([None, None, None, 1, 2, 3])
    sizes = typed_sizes(steps * STEP, each) if each else even_sizes(steps, count)
    start = dice.randint(5 * 4, 14 * 4) / 4
    way = dice.choice(["Chute", "Pump"])
    typed["plant"] = {"step": STEP}
    typed["delivery"] = {"truck": truck, "loading": loading, "drive": drive, "washing": washing}
    typed["pours"] = {"order.yours": steps * STEP}
    typed["trucks"] = {"sent": sent, "each": each}
    typed["ways"] = [{"typed": rate}, {}, {"typed": rate}]
    typed["placements"] = {"date": DATE, "start": start / 24, "placed": way}
    unload = max(sizes) / rate
    cycle = (loading + washing + 2 * drive) / 60 + unload
    interval = max(unload, cycle / sent) if sent and count > sent else unload
    return Plan(start, sizes, rate, interval, loading / 60, drive / 60)


def typed_sizes(order: float, each: float) -> tuple[float, ...]:
    """Return loads of one size and what is left."""
    full = ceil(order / each) - 1
    return (*[each] * full, order - full * each)


def even_sizes(steps: int, count: int) -> tuple[float, ...]:
    """Return loads that differ by one step of the plant at most, the larger first."""
    least, more = divmod(steps, count)
    return tuple((least + (number < more)) * STEP for number in range(count))


def warmth(dice: random.Random, units: Units, least: float, most: float) -> float:
    """Draw a temperature between two in °F, as it is typed."""
    drawn = dice.randint(round(least), round(most))
    return drawn if units == "us" else round((drawn - 32) / 1.8, 1)


def forecast(dice: random.Random, units: Units, typed: Typed) -> Weather:
    """Type a day on one line or by the hour."""
    share = dice.choice([0, 25, 50, 75, 100])
    sun = dice.randint(0, 20)
    typed["setting_rates"] = {"share": share, "sun": sun}
    concrete, air = warmth(dice, units, 55, 95), warmth(dice, units, 50, 100)
    typed["weather"] = {"air": air, "concrete": concrete}
    if dice.random() < 0.4:
        return Weather(concrete, (Line(0, air),), share / 100)
    times = sorted(dice.sample(range(4 * 4, 23 * 4), dice.randint(1, 14)))
    lines = tuple(Line(at / 4, warmth(dice, units, 50, 100), dice.random() < 0.5) for at in times)
    typed["hourly_day"] = {"date": DATE, "concrete": concrete}
    typed["weather"] = {"air": warmth(dice, units, 50, 100)}
    typed["hourly"] = [
        {"at": n.at / 24, "air": n.air, "humidity": 50, "wind": 5, "sky": SKY[n.sunny]}
        for n in lines
    ]
    return Weather(concrete, lines, share / 100, sun)


def concrete(dice: random.Random, units: Units, typed: Typed) -> Mix:
    """Type how the mix sets, and what the plant puts in."""
    later, sooner = dice.choice([0, 0, 0.5, 2, 4.5]), dice.choice([0, 0, 0, 0.5, 1.5])
    typed["weather"] |= {"later": later, "sooner": sooner}
    method = dice.choice(METHODS)
    own, at = dice.randint(4, 20) / 2, warmth(dice, units, 60, 80)
    activation = dice.choice([4000, 5000, 5413])
    typed["setting_rates"] |= {
        "method": method, "own": own, "reference": own, "reference_at": at,
        "activation": activation,
    }  # fmt: skip
    if method == "Your own hours":
        return Mix(site.always(own), later, sooner)
    if method == "Equivalent age":
        return Mix(site.by_age(own, at, activation, KELVIN[units]), later, sooner)
    return Mix(site.by_table(*TABLES[units]), later, sooner)
