"""The day of a pour as it goes on site: trucks, strips of slab that stiffen, people who stamp.

Trucks are batched, drive, wait for their turn and discharge. Every load is a row of strips;
what they have gained towards their set is added up from batching on, every quarter of a
minute, at the temperature of that quarter. The stampers walk from strip to strip in the order
of placing with a clock of their own. Hours of the clock throughout; temperatures and volumes
in whatever unit the job is in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from math import inf

import numpy as np
import numpy.typing as npt

Many = npt.NDArray[np.floating]
Sets = Callable[[Many], Many]
"""Hours in which concrete sets that stays at some temperatures."""

STEP = 0.25 / 60
LONGEST = 48.0
STRIPS = 200
LATE = 20 / 60


def by_table(*lines: tuple[float, float]) -> Sets:
    """Return hours to set from (temperature, hours): in proportion between, held beyond."""
    warm, hours = zip(*sorted(lines), strict=True)
    return lambda at: np.interp(at, warm, hours)


def by_age(hours: float, at: float, activation: float, kelvin: Callable[[Many], Many]) -> Sets:
    """Return hours to set by Arrhenius from those at one temperature; activation in kelvin."""
    reference = kelvin(np.array([at]))
    return lambda warm: hours * np.exp(activation * (1 / kelvin(warm) - 1 / reference))


def always(hours: float) -> Sets:
    """Return the same hours to set at every temperature."""
    return lambda at: np.full_like(at, hours)


@dataclass(frozen=True)
class Line:
    """What the forecast says from some hour on, until the next line."""

    at: float
    air: float
    sunny: bool = False


@dataclass(frozen=True)
class Weather:
    """A forecast and how much of it the slab takes."""

    concrete: float
    lines: tuple[Line, ...]
    share: float = 0.5
    sun: float = 0.0

    def slab(self, clock: Many) -> Many:
        """Return the temperature of the slab at some times of the day."""
        starts = [line.at for line in self.lines]
        now = np.maximum(np.searchsorted(starts, clock, side="right") - 1, 0)
        air = np.array([line.air for line in self.lines])[now]
        shines = np.array([line.sunny for line in self.lines])[now]
        return self.concrete + self.share * (air - self.concrete) + self.sun * shines

    def warmer(self, by: float) -> Weather:
        """Return the same day with warmer air in all hours."""
        return replace(self, lines=tuple(replace(n, air=n.air + by) for n in self.lines))


@dataclass(frozen=True)
class Mix:
    """How the concrete sets: by itself, later by a retarder, sooner by an accelerator."""

    sets: Sets
    later: float = 0.0
    sooner: float = 0.0


@dataclass(frozen=True)
class Plan:
    """Trucks as they are ordered; the first one begins to discharge at ``start``."""

    start: float
    sizes: tuple[float, ...]
    rate: float
    interval: float
    loading: float
    drive: float


@dataclass(frozen=True)
class Late:
    """The truck, from 0, that is late, and whether it was batched before it was held up."""

    truck: int
    on_the_road: bool


@dataclass(frozen=True)
class Load:
    """What a truck brought, and when."""

    size: float
    batched: float
    begins: float
    ends: float

    @property
    def age(self) -> float:
        """Return the minutes from batching to the end of discharge."""
        return (self.ends - self.batched) * 60


@dataclass(frozen=True)
class Day:
    """A placement, its weather and its crew; moments are shares of the progress to the set."""

    plan: Plan
    weather: Weather
    mix: Mix
    man_hours: float
    stampers: int
    opens: float = 0.4
    closes: float = 0.65


@dataclass(frozen=True)
class Moments:
    """When the concrete of a load may be stamped, may be no more, and has set."""

    opens: float
    closes: float
    sets: float


# Trucks -----------------------------------------------------------------------------------


def arriving(plan: Plan, late: Late | None = None) -> list[Load]:
    """Send the trucks; those behind a late one wait until it is their turn at the forms."""
    loads: list[Load] = []
    free = -inf
    for number, size in enumerate(plan.sizes):
        due = plan.start + number * plan.interval
        batched = due - plan.drive - plan.loading
        if late and late.truck == number:
            due += LATE
            batched += 0 if late.on_the_road else LATE
        begins = max(due, free)
        loads.append(Load(size, batched, begins, begins + size / plan.rate))
        free = begins + size / plan.rate
    return loads


# Concrete ---------------------------------------------------------------------------------


@lru_cache(maxsize=64)
def gained(weather: Weather, sets: Sets, begins: float) -> Many:
    """Return the progress after every step since it began to count; 1 is the set."""
    clock = begins + STEP * (np.arange(round(LONGEST / STEP)) + 0.5)
    return np.cumsum(STEP / sets(weather.slab(clock)))


def hours_to(weather: Weather, sets: Sets, begins: float, share: float) -> float:
    """Return the hours from when progress begins to count until it has come to a share."""
    progress = gained(weather, sets, begins)
    assert progress[-1] >= share, "it does not set within the days looked at"
    return STEP * float(np.searchsorted(progress, share) + 1) if share > 0 else 0.0


def alone(day: Day) -> float:
    """Return the hours in which the first load planned would set without admixtures."""
    first = arriving(day.plan)[0].batched + day.mix.later
    return hours_to(day.weather, day.mix.sets, first, 1)


def sets_in(day: Day) -> float:
    """Return the hours from batching in which the first load planned sets."""
    return day.mix.later + max(0.0, alone(day) - day.mix.sooner)


def moments(day: Day, load: Load) -> Moments:
    """Watch a load from batching on; a retarder keeps it as it is for its hours."""
    begins = load.batched + day.mix.later
    left = max(0.0, 1 - day.mix.sooner / alone(day))
    at = (
        begins + hours_to(day.weather, day.mix.sets, begins, share * left)
        for share in (day.opens, day.closes, 1.0)
    )
    return Moments(*at)


# People -----------------------------------------------------------------------------------


def least_left(day: Day, loads: list[Load]) -> float:
    """Walk from strip to strip; return the hours left on the strip that was nearest to hard."""
    if day.stampers < 1:
        return -inf
    takes = day.man_hours / day.stampers / sum(load.size for load in loads) / STRIPS
    now, left = -inf, inf
    for load in loads:
        window = moments(day, load)
        each = (load.ends - load.begins) / STRIPS
        for strip in range(1, STRIPS + 1):
            poured = load.begins + each * strip
            now = max(max(now, window.opens, poured - each) + takes * load.size, poured)
            left = min(left, window.closes - now)
    return left


# What is asked ----------------------------------------------------------------------------


def slack(day: Day) -> float:
    """Return the hours left where all goes as planned; below zero it is that much too late."""
    return least_left(day, arriving(day.plan))


def is_shut(day: Day) -> bool:
    """Tell whether some load may be stamped no more when it could be at the earliest."""
    loads = arriving(day.plan)
    windows = [moments(day, load) for load in loads]
    return any(w.closes <= max(w.opens, n.begins) for w, n in zip(windows, loads, strict=True))


def slack_warm(day: Day, by: float) -> float:
    """Return the hours left with air that much warmer than the forecast."""
    return slack(replace(day, weather=day.weather.warmer(by)))


def slack_late(day: Day) -> float:
    """Return the hours left when the worst of all single trucks is late, in the worse way."""
    each = [Late(n, on_road) for n in range(len(day.plan.sizes)) for on_road in (False, True)]
    return min(least_left(day, arriving(day.plan, late)) for late in each)


def slack_fewer(day: Day) -> float:
    """Return the hours left with one stamper fewer."""
    return slack(replace(day, stampers=day.stampers - 1))
