"""All placements of one day: what Order, Crew and Day show against a plain listing.

A random job has some placements on one day and some on others. Python sorts them and their
loads by time, says the times as a clock does, and counts bags of pigment load by load.
"""

from __future__ import annotations

import math
import random
import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

import programs
import shop
from pourtally.model import Units
from reference.workbook import Answers, Typed, asking, entries
from sample import some
from shop import build

UNITS = pytest.mark.parametrize("units", ["us", "si"])
SEEDS = pytest.mark.parametrize("seed", range(some(12)))
DAY, PAGE, ON_ORDER, ON_CREW = 46183, 3, 12, 6
"""A day as cells count it, 2026-06-10, and the lines for placements and loads of a page."""
MINUTE = 1 / 1440

papers = asking(
    "placements.used", "trucks.loads", "loads", "load_color", "color", "pours", "window", "course",
    "today", "day", "day_page", "day_clash", "after", "shown", "timeline", "ticks",
    "order_to", "order_when", "order_mix", "order_color", "order_loads", "order_driver",
    "order_page", "crew_job", "crew_day", "crew_loads",
)  # fmt: skip


def clock(days: float) -> str:
    """Return a time of the day as it is said, to the nearest minute, a half up."""
    minutes = math.floor(days / MINUTE + 0.5 + 1e-4)
    return (datetime(2000, 1, 1) + timedelta(minutes=minutes)).strftime("%I:%M %p").lstrip("0")


def shown(times: list[Any]) -> list[str]:
    """Return what the cells of some times show."""
    return [shop.clock(time) for time in times]


@dataclass(frozen=True)
class Job:
    """A job as it is typed, with the line of the placement shown and which are of its day."""

    typed: Typed
    shown: int
    starts: list[float]
    of_day: list[int]

    @property
    def page(self) -> list[int]:
        """Return the lines on a page: by their first loads, the one shown among them."""
        turns = sorted(self.of_day, key=lambda n: (self.starts[n], n))
        skip = max(0, turns.index(self.shown) + 1 - PAGE)
        return turns[skip : skip + PAGE]

    @property
    def left_out(self) -> int:
        """Return how many placements of the day stand on no page."""
        return max(0, len(self.of_day) - PAGE)


def made(units: Units, seed: int) -> Job:
    """Return a random job of up to six placements, two of them or more on the day shown."""
    dice = random.Random(seed)
    count = dice.randint(2, 6)
    starts = [dice.choice([0, 20, 5 * 60, 7 * 60, 7 * 60, dice.randint(0, 1439)]) * MINUTE
              for _ in range(count)]  # fmt: skip
    dates = [DAY if dice.random() < 0.7 else DAY + 1 for _ in range(count)]
    shown = dice.randrange(count)
    dates[shown] = dates[shown - 1] = DAY
    long = "ft" if units == "us" else "m"
    lines = [
        {"date": dates[n], "start": starts[n], "mix": dice.choice(["Plain", "Colored"]),
         "placed": dice.choice(["Chute", "Pump"]), "crew": dice.choice([None, 2, 3])}
        for n in range(count)
    ]  # fmt: skip
    pieces = [
        {"shape": "Rectangle", f"a.{long}": dice.randint(10, 40) * (1 if units == "us" else 0.3),
         f"b.{long}": 20 if units == "us" else 6, "placement": f"Pour {n + 1}",
         "mix": lines[n]["mix"], "finish": dice.choice(["Stamped", "Broomed"])}
        for n in range(count)
    ]  # fmt: skip
    adds = dice.choice(["The plant", "Our crew, on site"])
    typed: Typed = {
        "pieces": pieces,
        "placements": lines,
        "papers": {"placement": f"Pour {shown + 1}"},
        "trucks": [{"each": dice.choice([None, 1.5, 2.75, 3.5])} for _ in range(count)],
        "delivery": {"truck": dice.choice([4, 9]), "drive": dice.randint(0, 60)},
        "orders": [{"strength": 4000}, {"strength": 5000, "adds": adds}],
        "coloring": {"pigment_bag": dice.choice([2, 12, 25, 60])},
    }
    return Job(typed, shown, starts, [n for n in range(count) if dates[n] == DAY])


def listed(got: Answers, job: Job) -> list[int]:
    """Return the lines of the loads of a page as they leave; of two at once the earlier line."""
    on_page = [n for n, p in enumerate(got["loads.placement"]) if p and p - 1 in job.page]
    return sorted(on_page, key=lambda n: (round(got["loads.arrives"][n], 4), n))


def filled(column: list[Any], rows: list[Any], lines: int) -> None:
    """Assert that a column of a paper shows these rows, and nothing in its other lines."""
    empty = "" if any(isinstance(value, str) for value in column) else 0
    assert column == pytest.approx([*rows, *[empty] * (lines - len(rows))][:lines])


# Order ---------------------------------------------------------------------------------


@UNITS
@SEEDS
def test_the_order_lists_all_placements_of_the_day_by_their_first_loads(
    units: Units, seed: int
) -> None:
    job = made(units, seed)
    got = papers(units, job.typed)
    page, lines = job.page, job.typed["placements"]
    assert all(got["placements.used"][n] for n in job.of_day)
    assert got["today.at"] == [n + 1 for n in page] + [0] * (PAGE - len(page))
    filled(got["order_when.name"], [f"Pour {n + 1}" for n in page], PAGE)
    filled(shown(got["order_when.first"]), [clock(job.starts[n]) for n in page], PAGE)
    filled(got["order_when.volume"], [got["pours.order"][n] for n in page], PAGE)
    filled(got["order_when.loads"], [got["trucks.loads"][n] for n in page], PAGE)
    filled(got["order_mix.name"], [lines[n]["mix"] for n in page], PAGE)
    strength = {"Plain": 4000, "Colored": 5000}
    filled(got["order_mix.strength"], [strength[lines[n]["mix"]] for n in page], PAGE)
    assert got["order_to.date"] == [DAY]
    told = re.search(r"More placements this day: (\d+);", got["order_driver.besides"][0])
    assert int(told[1] if told else 0) == job.left_out


@UNITS
@SEEDS
def test_the_order_lists_the_loads_in_the_order_they_leave_the_plant(
    units: Units, seed: int
) -> None:
    job = made(units, seed)
    got = papers(units, job.typed)
    loads = listed(got, job)
    first = loads[:ON_ORDER]
    number, of = got["loads.number"], got["loads.of"]
    name = [f"{got['loads.name'][n]}, {number[n]:g} of {of[n]:g}" for n in first]
    filled(got["order_loads.name"], name, ON_ORDER)
    filled(got["order_loads.size"], [got["loads.size"][n] for n in first], ON_ORDER)
    starts = [got["loads.arrives"][n] for n in first]
    assert starts == pytest.approx(sorted(starts), abs=MINUTE / 4)
    filled(shown(got["order_loads.arrives"]), [clock(t) for t in starts], ON_ORDER)
    ahead = (10 + job.typed["delivery"]["drive"]) * MINUTE
    filled(shown(got["order_loads.batched"]), [clock(t - ahead) for t in starts], ON_ORDER)
    evening = sum((got["loads.arrives"][n] - ahead) / MINUTE < -0.5001 for n in loads)
    told = re.match(r"Batched on the evening before: loads up to no. (\d+)\.",
                    got["order_driver.besides"][0])  # fmt: skip
    assert int(told[1] if told else 0) == evening
    more = re.match(r"\d+", got["order_driver.further"][0])
    assert int(more[0] if more else 0) == max(0, len(loads) - ON_ORDER)
    if len(loads) <= ON_ORDER:
        assert sum(got["order_loads.size"]) == pytest.approx(sum(got["order_when.volume"]))


# Crew ----------------------------------------------------------------------------------


@UNITS
@SEEDS
def test_the_crew_sees_all_placements_of_the_day_and_their_loads(units: Units, seed: int) -> None:
    job = made(units, seed)
    got = papers(units, job.typed)
    page, lines = job.page, job.typed["placements"]
    filled(got["crew_day.pour"], [f"Pour {n + 1}, {lines[n]['mix']}" for n in page], PAGE)
    filled(shown(got["crew_day.first"]), [clock(job.starts[n]) for n in page], PAGE)
    people = [lines[n]["crew"] or 5 for n in page]
    filled(got["crew_day.people"], people, PAGE)
    filled(got["crew_day.placed"], [lines[n]["placed"] for n in page], PAGE)
    stamped = [job.typed["pieces"][n]["finish"] == "Stamped" for n in page]
    for key in ("stamp_from", "stamp_until", "hands"):
        assert [bool(v) for v in got[f"crew_day.{key}"][: len(page)]] == stamped
    loads = listed(got, job)
    first = loads[:ON_CREW]
    for key, column in (("starts", "arrives"), ("ends", "ends")):
        times = [clock(got[f"loads.{column}"][n]) for n in first]
        filled(shown(got[f"crew_loads.{key}"]), times, ON_CREW)
    filled(got["crew_loads.size"], [got["loads.size"][n] for n in first], ON_CREW)
    over = max(0, len(loads) - ON_CREW)
    missing = f"more pours: {job.left_out}, loads: {over}" if job.left_out + over else ""
    assert got["crew_job.more"] == [missing]


@UNITS
@SEEDS
def test_who_is_needed_twice_is_named(units: Units, seed: int) -> None:
    job = made(units, seed)
    got = papers(units, job.typed)
    work = {n: (job.starts[n], job.starts[n] + got["course.done"][n] / 24) for n in job.of_day}
    people = {n: job.typed["placements"][n]["crew"] or 5 for n in work}
    named = []
    for n in job.page:
        begins, ends = work[n]
        others = [m for m, (b, e) in work.items() if b < ends - 1e-6 and e > begins + 1e-6]
        if sum(people[m] for m in others) > max(5, people[n]):
            named.append(f"Pour {n + 1} {clock(begins)}-{clock(ends)}; ")
    next_day = [n for n, p in enumerate(job.typed["placements"]) if p["date"] != DAY]
    if any(end > 1 for _, end in work.values()) and next_day:
        return  # what runs into the next day may meet the placements of that one
    assert got["day_clash.says"] == ["".join(named)]
    assert bool(got["crew_job.clash"][0]) == bool(named)


# Day -----------------------------------------------------------------------------------


@UNITS
@SEEDS
def test_the_day_draws_all_placements_on_one_clock(units: Units, seed: int) -> None:
    job = made(units, seed)
    got = papers(units, job.typed)
    page = job.page
    zero = job.starts[page[0]]
    hours = got["shown.horizon"][0]
    filled(shown(got["day.first_at"]), [clock(job.starts[n]) for n in page], PAGE)
    for said, drawn, after in (
        ("placed_at", "x_placed", got["window.placing"]),
        ("begins_at", "x_begins", got["course.begins"]),
        ("ends_at", "x_ends", got["course.ends"]),
        ("done_at", "x_done", got["course.done"]),
    ):
        times = [job.starts[n] + after[n] / 24 for n in page]
        filled(shown(got[f"day.{said}"]), [clock(t) for t in times], PAGE)
        shares = [min(1, (t - zero) * 24 / hours) for t in times]
        assert got[f"day.{drawn}"][: len(page)] == pytest.approx(shares, abs=1e-6)
    own = (job.starts[job.shown] - zero) * 24
    for line, begins in enumerate(got["timeline.begins"]):
        if got["timeline.there"][line]:
            share = min(1, (own + begins) / hours)
            assert got["timeline.x1"][line] == pytest.approx(share)
            said = clock(job.starts[job.shown] + begins / 24)
            assert f", {said}" in got["timeline.label"][line]
    rows = [y for y in got["day.y1"] if y > 0]
    assert len(rows) == len(page)
    assert rows == sorted(rows, reverse=True)
    assert min(rows) > max(got["timeline.y1"])
    assert hours <= 24 or pytest.fail("a day has 24 hours")


# Bags, load by load ------------------------------------------------------------------------


@UNITS
@SEEDS
def test_bags_counted_load_by_load(units: Units, seed: int) -> None:
    job = made(units, seed)
    got = papers(units, job.typed)
    bag, places = job.typed["coloring"]["pigment_bag"], 1 if units == "us" else 2
    spent = {"whole": 0, "weighed": 0.0}
    for line, size in enumerate(got["loads.size"]):
        wanted = size * (got["color.dose"][int(got["load_color.mix"][line]) - 1] if size else 0)
        whole, weighed = in_words(got["load_color.says"][line])
        spent = {"whole": spent["whole"] + whole, "weighed": spent["weighed"] + weighed}
        if got["load_color.off"][line]:  # weighed out, to the scale
            assert whole * bag + weighed == pytest.approx(wanted, abs=0.51 * 10**-places)
            assert 0 <= weighed < bag + 10**-places
        else:  # whole bags, within the drift allowed
            assert weighed == 0
            assert whole * bag == pytest.approx(wanted, rel=0.05 + 1e-9)
    assert spent["whole"] + math.ceil(spent["weighed"] / bag - 0.5) <= sum(got["color.bags"])


def in_words(says: str) -> tuple[int, float]:
    """Return the whole bags and the weight that a person reads."""
    bags, weight = re.search(r"(\d+) bags?\b", says), re.search(r"([\d.]+) (?:lb|kg) weighed", says)
    assert bool(says) == bool(bags or weight)
    return int(bags[1]) if bags else 0, float(weight[1]) if weight else 0.0


@UNITS
@SEEDS
def test_whoever_doses_reads_it_beside_the_load(units: Units, seed: int) -> None:
    job = made(units, seed)
    got = papers(units, job.typed)
    ours = job.typed["orders"][1]["adds"] != "The plant"
    for place, line in enumerate(listed(got, job)[:ON_CREW]):
        says, short = (got[f"load_color.{key}"][line] for key in ("says", "short"))
        assert re.findall(r"[\d.]+", says) == re.findall(r"[\d.]+", short)
        on_order, on_crew = got["order_loads.color"][place], got["crew_loads.load"][place]
        assert on_order == (f"on site: {says}" if ours and says else says)
        assert on_crew.endswith(f": {short}") == bool(ours and says)


# Print ---------------------------------------------------------------------------------


def crowded(units: Units, language: str) -> Typed:
    """Return a job with four placements and all 24 loads on one day, and long names."""
    long, scale = ("ft", 1.0) if units == "us" else ("m", 0.3048)
    names = ["Driveway, north strip", "Court, bands and border", "Front walk to the gate", "Apron"]
    places = [
        {"name": name, "date": DAY, "start": start * MINUTE, "mix": mix, "placed": "Chute"}
        for name, start, mix in zip(names, (20, 420, 450, 480), ["Plain", "Colored"] * 2,
                                    strict=True)
    ]  # fmt: skip
    pieces = [
        {"shape": "Rectangle", f"a.{long}": 81 * scale, f"b.{long}": 12 * scale,
         "finish": "Stamped", "placement": place["name"], "mix": place["mix"]} for place in places
    ]  # fmt: skip
    return {
        "job": {"name": "Juniper Row 14", "customer": "Ostrander residence"},
        "papers": {"placement": names[2], "language": language},
        "placements": places,
        "pieces": pieces,
        "trucks": [{"loads.yours": 6}] * 4,
        "orders": [{"note": "No fly ash"}, {"adds": "Our crew, on site", "note": "Low alkali"}],
    }


@pytest.mark.parametrize(("units", "language"), [("us", "English"), ("us", "Both"), ("si", "Both")])
def test_a_crowded_day_prints_on_one_page_a_paper(
    units: Units, language: str, tmp_path: Path
) -> None:
    path = tmp_path / "day.xlsx"
    build(units, entries(units, crowded(units, language)), path)
    paper = programs.printed([path], tmp_path, "Order", "Crew")[path]
    pages = programs.asked("pdftotext", "-layout", paper, "-").split("\f")[:-1]
    assert len(pages) == 2
    order, crew = pages
    assert "###" not in order + crew and "Pourtally" not in order + crew
    for said in ("11:50 PM", "12:20 AM", "Batched on the evening before",
                 "More placements this day: 1; choose one of them on Pours", "6 more, as far apart",
                 "on site: ", "ask before crossing a curb."):  # fmt: skip
        assert said in order, said
    assert "more pours: 1, loads: 12" in crew
    assert ("más colados: 1, cargas: 12" in crew) == (language == "Both")
    calls = {"us": ("call 911.", "llame al 911."), "si": ("call for help.", "pida ayuda.")}
    assert calls[units][language == "Both"] in crew
