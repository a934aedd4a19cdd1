"""Loads, bags and trucks over random jobs, and the chance of running short.

Trucks are sent round by a small event loop that knows nothing of the workbook; the chance
is that of the standard library's normal curve.
"""

from __future__ import annotations

import math
import random
from statistics import NormalDist, fmean, stdev
from typing import Any

import pytest
from hypothesis import assume, given, seed, settings
from hypothesis import strategies as st

from pourtally.model import Units
from reference.workbook import Typed, asking
from sample import some
from shop import STOP

answers = asking("loads", "load_color", "trucks", "color.bags", "fitting", "short_chance", "depth",
                 "pours.order")  # fmt: skip
checks = asking("checks")
SYSTEMS = pytest.mark.parametrize("units", ["us", "si"])
LINES = 24
CEMENTITIOUS = {"us": 564, "si": 335}
RANDOM = settings(max_examples=some(60), deadline=None, database=None)
DUST = 1e-6

placement = st.fixed_dictionaries(
    {"steps": st.integers(0, 120), "dose": st.sampled_from([0, 1.5, 3, 6, 10])}
)
plant = st.fixed_dictionaries(
    {
        "step": st.sampled_from([0.1, 0.25, 0.5, 1]),
        "truck": st.sampled_from([4, 7.3, 9, 11]),
        "bag": st.sampled_from([0.5, 1, 5, 12]),
        "drive": st.integers(0, 90),
        "rate": st.sampled_from([4, 8, 15, 40]),
    }
)


def job(where: dict[str, float], orders: list[dict[str, Any]]) -> Typed:
    """Order so many steps of the plant at each placement, six mixes, a dose each."""
    return {
        "plant": {"step": where["step"]},
        "delivery": {"truck": where["truck"], "drive": where["drive"]},
        "coloring": {"pigment_bag": where["bag"]},
        "ways": [{"typed": where["rate"]}] * 3,
        "mixes": [{"pigment": o["dose"]} for o in orders],
        "pours": [{"order.yours": o["steps"] * where["step"]} for o in orders],
    }


@SYSTEMS
@seed(1)
@RANDOM
@given(where=plant, orders=st.lists(placement, min_size=2, max_size=6))
def test_loads_bags_and_trucks_of_a_random_job(
    units: Units, where: dict[str, float], orders: list[dict[str, Any]]
) -> None:
    counts = loads_of(where, orders)
    assume(sum(counts) <= LINES)
    got = answers(units, job(where, orders))
    assert got["trucks.loads"][: len(orders)] == counts
    sizes, bags = iter(got["loads.size"]), iter(got["load_color.bags"])
    for number, (order, count) in enumerate(zip(orders, counts, strict=True)):
        volume = order["steps"] * where["step"]
        own = [next(sizes) for _ in range(count)]
        assert sum(own) == pytest.approx(volume)
        near_equal(own, where)
        dose = order["dose"] / 100 * CEMENTITIOUS[units] / where["bag"]
        in_bags = [next(bags) for _ in range(count)]
        whole(own, in_bags, dose)
        assert got["color.bags"][number] == max(sum(in_bags), math.ceil(round(dose * volume, 6)))
        if count:
            unload = max(own) / where["rate"] * 60
            assert got["trucks.interval"][number] == pytest.approx(unload)
            supplied(int(got["trucks.needed"][number]), count, 15 + 2 * where["drive"], unload)
    assert set(sizes) | set(bags) <= {0.0}
    for size, count, dose in zip(
        got["load_color.size"], got["load_color.bags"], got["load_color.given"], strict=True
    ):
        assert dose * size == pytest.approx(count * where["bag"])


def loads_of(where: dict[str, float], orders: list[dict[str, Any]]) -> list[int]:
    """Return how many trucks full each order takes."""
    most = math.floor(where["truck"] / where["step"] + DUST)
    return [math.ceil(order["steps"] / most) for order in orders]


@SYSTEMS
@pytest.mark.parametrize("more", [0, 1])
def test_more_loads_than_the_list_has_lines_stop_the_job(units: Units, more: int) -> None:
    where = {"step": 1.0, "truck": 4.0, "bag": 1.0, "drive": 20.0, "rate": 8.0}
    orders = [{"steps": 16.0, "dose": 0.0}] * 5 + [{"steps": 16.0 + more, "dose": 0.0}]
    assert sum(loads_of(where, orders)) == LINES + more
    got = checks(units, job(where, orders))
    said = [say for say, state in zip(got["checks.say"], got["checks.state"], strict=True)
            if state == STOP]  # fmt: skip
    assert any("loads do not add up" in say for say in said) == bool(more)


def near_equal(loads: list[float], where: dict[str, float]) -> None:
    """Assert that loads fit the truck and differ by one step at most, the larger first."""
    assert max(loads, default=0) <= where["truck"] + DUST
    assert max(loads, default=0) - min(loads, default=0) <= where["step"] + DUST
    assert loads == sorted(loads, reverse=True)


def whole(loads: list[float], bags: list[float], dose: float) -> None:
    """Assert that bags are whole, near the dose, and alike where a step is worth little."""
    assert all(b == int(b) and (b > 0) == (dose > 0) for b in bags)
    for size, count in zip(loads, bags, strict=True):
        # half a bag for the smallest load, and half a bag for what a load is larger by
        assert abs(count - size * dose) <= 1 + DUST
    if loads and (loads[0] - loads[-1]) * dose < 0.5 - DUST:
        assert len(set(bags)) == 1


def supplied(needed: int, loads: int, cycle: float, unload: float) -> None:
    """Assert that the crew never waits, and would with one truck fewer."""
    assert longest_wait(needed, loads, cycle, unload) <= DUST
    if needed > 1:
        assert longest_wait(needed - 1, loads, cycle, unload) > DUST


@SYSTEMS
def test_a_load_of_a_size_that_fits_keeps_its_dose(units: Units) -> None:
    dice = random.Random(3)
    mixed: Typed = {
        "mixes": [{"pigment": dice.uniform(1, 5)} for _ in range(6)],
        "coloring": {"pigment_bag": dice.uniform(2, 20)},
    }
    usual = answers(units, {**mixed, "pours": [{"order.yours": 1.0 + n} for n in range(6)]})
    for size in ("smaller", "next", "full"):
        fits = usual[f"fitting.{size}"][:6]
        assert min(fits) > 0
        one = {"pours": [{"order.yours": v} for v in fits], "trucks": [{"loads.yours": 1}] * 6}
        got = answers(units, {**mixed, **one})
        assert got["load_color.moved"][:6] == pytest.approx([0] * 6, abs=1e-6)
        assert got["load_color.off"][:6] == [0] * 6


# Trucks -------------------------------------------------------------------------------


def longest_wait(trucks: int, loads: int, round_trip: float, unload: float) -> float:
    """Send trucks round until all loads are out; return the crew's longest wait.

    The first truck discharges at 0, the others stand in line; each goes round as soon as
    it is empty.
    """
    back = [0.0] * trucks
    free = 0.0
    wait = 0.0
    for _ in range(loads):
        back.sort()
        begins = max(free, back[0])
        wait = max(wait, begins - free)
        free = begins + unload
        back[0] = free + round_trip
    return wait


def test_fewer_trucks_than_needed_stretch_the_interval_to_what_the_loop_shows() -> None:
    for sent in (1, 2, 3):
        got = answers(
            "us", {"pours": {"order.yours": 72}, "trucks": {"sent": sent}, "ways": [{}, {}, {}]}
        )
        loads = int(got["trucks.loads"][0])
        unload, cycle = 72 / 8 / 15 * 60, 10 + 5 + 2 * 20
        assert (loads, got["trucks.needed"][0]) == (8, 3)
        begins = [0.0] * sent
        free, starts = 0.0, []
        for _ in range(loads):
            begins.sort()
            starts.append(max(free, begins[0]))
            free = starts[-1] + unload
            begins[0] = free + cycle
        rounds = [b - a for a, b in zip(starts, starts[sent:], strict=False)]
        assert set(rounds) == {max(cycle + unload, sent * unload)}
        assert got["trucks.interval"][0] == pytest.approx(rounds[0] / sent)


# The chance of running short --------------------------------------------------------------


@SYSTEMS
def test_the_chance_of_running_short_is_that_of_a_normal_curve(units: Units) -> None:
    dice = random.Random(5)
    side, per_volume, deep = ("ft", 324, 4) if units == "us" else ("m", 1000, 100)
    for _ in range(3):
        mean, spread = dice.uniform(-0.1, 0.1) * deep, dice.uniform(0.01, 0.2) * deep
        checks, accept = dice.randint(1, 40), dice.uniform(0.5, 40)
        plant_yield, waste = dice.uniform(0, 3), dice.uniform(0, 10)
        areas = [dice.uniform(20, 400) for _ in range(8)]
        pieces = [
            {"shape": "Rectangle", f"a.{side}": a / 10, f"b.{side}": 10, "thickness": deep,
             "mix": "Plain", "placement": f"Pour {n}"}
            for n, a in enumerate(areas, 1)
        ]  # fmt: skip
        depth = {"mean": mean, "spread": spread, "checks": checks, "yield": plant_yield}
        got = answers(
            units,
            {
                "pieces": pieces,
                "placements": [{"mix": "Plain", "placed": "Chute"}] * 8,
                "mixes": {"waste": waste},
                "depth": {**depth, "accept": accept},
            },
        )
        for line, area in enumerate(areas):
            expected = area * (deep + mean) / per_volume
            by_depth = area * spread / math.sqrt(checks) / per_volume
            takes = NormalDist(expected, math.hypot(by_depth, expected * plant_yield / 100))
            drawn = area * deep / per_volume * (1 + waste / 100)
            keeps = got["short_chance.keeps"][line]
            for key, volume in (("chance", got["pours.order"][line]), ("by_waste", drawn)):
                short = (1 - takes.cdf(volume)) * 100
                assert got[f"short_chance.{key}"][line] == pytest.approx(short, rel=1e-6, abs=1e-9)
            assert (1 - takes.cdf(keeps)) * 100 <= accept + DUST
            assert (1 - takes.cdf(keeps - 0.25)) * 100 > accept - DUST


@SYSTEMS
@pytest.mark.parametrize("count", [2, 11, 24])
def test_readings_are_averaged_as_the_standard_library_does(units: Units, count: int) -> None:
    dice = random.Random(count)
    typed = [round(dice.uniform(-2, 2), 3) for _ in range(count)]
    lines: list[dict[str, Any]] = [{} for _ in range(LINES)]
    for place, reading in zip(dice.sample(range(LINES), count), typed, strict=True):
        lines[place] = {"reading": reading}
    got = answers(units, {"depths": lines})
    assert got["depth.count"] == [count]
    assert got["depth.deeper"][0] == pytest.approx(fmean(typed))
    assert got["depth.wide"][0] == pytest.approx(stdev(typed))
    assert got["depth.sure"][0] == pytest.approx(stdev(typed) / math.sqrt(count))
