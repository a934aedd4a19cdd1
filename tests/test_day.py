"""The stampers needed, the largest share and the parts of a placement, tried out as workbooks.

That the time left is right is shown by the simulation of ``test_reference_day``.  Here a
workbook is filled once more, as it advises, and must then be in time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import pytest
from hypothesis import Phase, given, seed, settings
from hypothesis import strategies as st

from pourtally.model import Units
from reference.workbook import asking
from shop import laid_out

answers, everything = asking("window", "trucks"), asking()
DAYS = settings(max_examples=40, deadline=None, database=None, phases=(Phase.generate,))
"""One seed for all, so that each day is worked out once."""
MOST = 8  # placements of a workbook of the usual size


@dataclass(frozen=True)
class Day:
    """A strip one mat wide, stamped all over, in one or several placements; feet, yards, hours."""

    mats: float
    rate: float  # yd³ placed in an hour
    load: float  # yd³
    sets: float
    stampers: int
    each: float  # hours for a mat
    parts: int = 1

    def typed(self) -> dict[str, Any]:
        """Return the entries of the workbook; mats of 3 by 2 ft, 4 in thick."""
        slabs = [
            {"shape": "Rectangle", "a.ft": 3 * self.mats / self.parts, "b.ft": 2, "b.in": 0,
             "thickness": 4, "finish": "Stamped", "placement": f"Pour {n + 1}"}
            for n in range(self.parts)
        ]  # fmt: skip
        return {
            "mixes": {"allowance": 0, "waste": 0},
            "pieces": slabs,
            "plant": {"step": 0.01},
            "placements": [{"mix": "Plain", "placed": "Chute"}] * self.parts,
            "trucks": [{"each": self.load}] * self.parts,
            "ways": {"typed": self.rate},
            "setting_rates": {"method": "Your own hours", "own": self.sets},
            "labor": [{}] * 25 + [{"rate": self.each}],
            "stamping": {"stampers": self.stampers},
        }


@st.composite
def days(draw: st.DrawFn) -> Day:
    """Draw a day whose mats divide by every number of parts there is room for."""
    return Day(
        mats=840.0 * draw(st.sampled_from([0.25, 0.5, 1])),
        rate=draw(st.integers(4, 30)),
        load=draw(st.integers(1, 9)),
        sets=draw(st.integers(4, 24)) / 2,
        stampers=draw(st.integers(2, 12)),
        each=draw(st.integers(2, 12)) / 100,
    )


@lru_cache(maxsize=400)
def window(day: Day) -> dict[str, list[float]]:
    got = answers("us", day.typed())
    names = ("slack", "needed", "apart", "split", "shut", "drowned")
    return {name: got[f"window.{name}"][: day.parts] for name in names}


def can_be_stamped(day: Day) -> bool:
    """Tell whether any number of stampers is enough, so that advice means something."""
    got = window(day)
    return not got["shut"][0] and not got["drowned"][0]


@seed(1)
@DAYS
@given(days())
def test_the_stampers_needed_are_enough_and_one_less_is_not(day: Day) -> None:
    needed = int(window(day)["needed"][0])
    if can_be_stamped(day) and needed <= 50:
        assert window(replace(day, stampers=needed))["slack"][0] >= -1e-6
        if needed > 1:
            assert window(replace(day, stampers=needed - 1))["slack"][0] < 0


@seed(1)
@DAYS
@given(days())
def test_the_largest_share_of_an_area_is_in_time(day: Day) -> None:
    got = window(day)
    if not can_be_stamped(day):
        return
    if got["apart"][0] == 0:  # the stampers keep up, whatever the area
        assert got["slack"][0] >= -1e-6
        assert window(replace(day, mats=2 * day.mats))["slack"][0] >= -1e-6
        return
    limit = replace(day, mats=float(math.floor(day.mats * got["apart"][0])))
    if limit.mats:
        assert window(limit)["slack"][0] >= -1e-6
    if got["slack"][0] < -1e-6:
        assert got["apart"][0] < 1


@seed(1)
@DAYS
@given(days())
def test_split_as_told_every_part_is_in_time(day: Day) -> None:
    parts = int(window(day)["split"][0])
    if can_be_stamped(day) and 1 < parts <= MOST:
        assert window(day)["slack"][0] < 0
        assert min(window(replace(day, parts=parts))["slack"]) >= -1e-6


def test_a_warmer_day_or_fewer_stampers_never_leave_more_time() -> None:
    day = Day(mats=105, rate=8, load=3, sets=6, stampers=4, each=0.1)
    by_setting = [window(replace(day, sets=sets))["slack"][0] for sets in (12, 8, 6, 4, 2)]
    by_hands = [window(replace(day, stampers=n))["slack"][0] for n in (12, 6, 4, 2, 1)]
    assert by_setting == sorted(by_setting, reverse=True) and len(set(by_setting)) == 5
    assert by_hands == sorted(by_hands, reverse=True) and by_hands[0] > by_hands[-1]


ENTRIES = ("stamping", "waits", "hands", "weather", "hourly", "hourly_day", "trucks", "ways",
           "delivery", "setting_rates")  # fmt: skip


@pytest.mark.parametrize("units", ["us", "si"])
def test_a_day_at_the_limits_of_its_entries_shows_no_error(units: Units) -> None:
    book, _ = laid_out(units)
    numbers = {
        key: part.limits
        for key, (block, _, part) in book.entries().items()
        if block.key in ENTRIES and part.entry == "number"
    }
    assert len(numbers) > 30

    @seed(5)
    @settings(max_examples=12, deadline=None, database=None, phases=(Phase.generate,))
    @given(st.data())
    def try_a_day(data: st.DataObject) -> None:
        typed: dict[str, Any] = {
            "pieces": {"shape": "Rectangle", "a.ft" if units == "us" else "a.m": 30,
                       "b.ft" if units == "us" else "b.m": 20, "finish": "Stamped"},
            "placements": {"date": data.draw(st.sampled_from([None, 36526.0, 73050.0]))},
        }  # fmt: skip
        for key, limits in numbers.items():
            block, _, entry = key.partition(".")
            wild: list[Any] = [limits.least, limits.most, None, 0, -1, 1e9, "word"]
            if data.draw(st.booleans()):
                typed.setdefault(block, {})[entry] = data.draw(st.sampled_from(wild))
        got = everything(units, typed)  # raises where a formula gives an error
        assert got["window.area"][0] > 0

    try_a_day()
