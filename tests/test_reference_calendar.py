"""The calendar of random jobs against a walk from day to day."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

import pytest

from pourtally.model import Units
from reference.visits import Crew, Job, Own, Pour, Visit, Week, arrivals, promised, walk
from reference.workbook import Answers, asking
from sample import some

answers = asking("visits", "crew_days", "calendar", "visit_hours.hours", "window.placing",
                 "after.begins", "after.set", "course.done", "workdays")  # fmt: skip
UNITS = pytest.mark.parametrize("units", ["us", "si"])
ZERO = date(1899, 12, 30)
"""The day that cells count as 0."""
KINDS = ("Dig and base", "Form and steel", "Pour", "Strip and saw", "Wash", "Seal")
SHORT = ("dig", "form", "pour", "strip", "wash", "seal")
WAITS = {"strip": 24.0, "wash": 24.0, "seal": 28 * 24.0}
MOST_COLD = {"us": 50, "si": 10}
Typed = dict[str, Any]


def number(day: date | None) -> float | None:
    return float((day - ZERO).days) if day else None


def drawn(rng: random.Random, units: Units) -> Typed:
    """Return what a contractor types for a job of one to four pours."""
    first = date(2026, 3, 1) + timedelta(days=rng.randrange(200))

    def near(most: int) -> float | None:
        return number(first + timedelta(days=rng.randrange(most)))

    pours = rng.randint(1, 4)
    wide, long = (10.0, 30.0) if units == "us" else (3.0, 9.0)
    unit = {"us": "ft", "si": "m"}[units]
    return {
        "labor": [
            {"driver": rng.choice(["Visits of the crew", "Once for the job"]), "rate": 1.5},
            *[{}] * 36,
            {"difficulty": 0},  # cleaning up
        ],
        "terms": {"start": number(first) if rng.random() < 0.8 else None},
        "crew": {"size": rng.randint(2, 6), "day": rng.choice([8, 8, 10])},
        "workdays": {"saturday": rng.choice(["Yes", "No"]), "sunday": rng.choice(["Yes", "No"]),
                     "latest": rng.choice([0.25, 0.5, 0.75]), "rain": rng.randint(0, 3)},
        "days_off": [{"day": near(40)} for _ in range(rng.randint(0, 6))],
        "mixes": {"placed": "Chute", "allowance": 0, "waste": 0},
        "setting_rates": {"method": "Your own hours", "own": rng.choice([5, 9, 30])},
        "ways": {"typed": rng.choice([5, 12]), "set_up": rng.choice([0, 0.75]),
                 "wash_up": rng.choice([0, 1.5])},
        "placements": [
            {"date": near(20) if rng.random() < 0.4 else None, "mix": "Plain",
             "placed": "Chute", "start": rng.choice([0.25, 0.375, 0.5]),
             "crew": rng.choice([None, 3])}
            for _ in range(pours)
        ],
        "weather": [
            {"air": rng.choice([68, 45] if units == "us" else [20, 7]),
             "low": rng.choice([None, 41 if units == "us" else 5])}
            for _ in range(pours)
        ],
        "pieces": [
            {"shape": "Rectangle", f"a.{unit}": wide, f"b.{unit}": rng.uniform(long / 5, long),
             "thickness": 4 if units == "us" else 100, "placement": f"Pour {n + 1}",
             "mix": "Plain", "finish": rng.choice(["Stamped", "Broomed"])}
            for n in range(pours)
        ],
        "visits": [{"typed": near(35) if rng.random() < 0.15 else None}
                   for _ in range(19)],
        "own_visits": [
            {"what": f"Call {n}", "after": rng.choice([*KINDS, None]), "hours": rng.choice([2, 90]),
             "from": near(60) if rng.random() < 0.5 else None,
             "people": rng.choice([None, 1])}
            for n in range(rng.randint(0, 2))
        ],
    }  # fmt: skip


def day_of(value: float | None) -> date | None:
    return ZERO + timedelta(days=int(value)) if value else None


def as_job(typed: Typed, got: Answers, units: Units) -> Job:
    """Return the job as a walk needs it: what was typed, and hours that others prove."""
    unit = {"us": "ft", "si": "m"}[units]
    crew = Crew(typed["crew"]["size"], typed["crew"]["day"], 0.85)
    hours = dict(zip(SHORT, got["visit_hours.hours"], strict=True))
    each = 1.5 / len([n for n in got["visits.there"] if n]) * _by_visits(typed, got)
    sizes = [piece[f"b.{unit}"] for piece in typed["pieces"]]
    stamped = [piece["finish"] == "Stamped" for piece in typed["pieces"]]
    of_stamped = sum(s for s, is_ in zip(sizes, stamped, strict=True) if is_) or 1
    way, codes = typed["ways"], got["visits.code"]
    pours = tuple(
        Pour(day_of(line["date"]), line["start"] * 24, stamped[n], got["window.placing"][n],
             _set(got, n), _cold(typed["weather"][n], units),
             line["crew"] or crew.size, way["set_up"] + got["course.done"][n] + way["wash_up"],
             {"pour": each + hours["pour"] * sizes[n] / sum(sizes),
              "strip": each + hours["strip"] * sizes[n] / sum(sizes),
              "wash": each + hours["wash"] * sizes[n] / of_stamped})
        for n, line in enumerate(typed["placements"])
    )  # fmt: skip
    own = tuple(
        Own(SHORT[KINDS.index(o["after"])] if o["after"] else "", day_of(o["from"]),
            o["hours"] + each, o["people"] or crew.size)
        for o in typed["own_visits"]
    )  # fmt: skip
    days = typed["workdays"]
    off = frozenset(day for o in typed["days_off"] if (day := day_of(o["day"])))
    week = Week(days["saturday"] == "Yes", days["sunday"] == "Yes", off, days["latest"] * 24)
    mine = zip(codes, typed["visits"], strict=False)
    yours = {code: day for code, line in mine if (day := day_of(line["typed"]))}
    work = {kind: each + hours[kind] for kind in SHORT}
    return Job(week, crew, day_of(typed["terms"]["start"]), work, pours, WAITS, 1.5,
               any(stamped), days["rain"], yours, own)  # fmt: skip


def _by_visits(typed: Typed, got: Answers) -> float:
    """Return how many times moving in is counted: once a visit, washing with stripping."""
    if typed["labor"][0]["driver"] != "Visits of the crew":
        return 0.0
    codes = [c for c, on in zip(got["visits.code"], got["visits.there"], strict=True) if on]
    return float(sum(1 for code in codes if not code.startswith("wash")))


def _set(got: Answers, pour: int) -> float:
    """Return the hours from the first load until the last has set, which other proofs hold."""
    return 24 * (float(got["after.set"][pour]) - float(got["after.begins"][pour]))


def _cold(weather: Typed, units: Units) -> bool:
    low = weather["low"]
    return bool(min(weather["air"], weather["air"] if low is None else low) < MOST_COLD[units])


def shown(got: Answers, key: str, count: int) -> list[float]:
    return [float(value or 0) for value in got[f"crew_days.{key}"][:count]]


def listed(visits: list[Visit]) -> list[tuple[float, float, int, float]]:
    return [(number(v.day) or 0.0, number(v.last) or 0.0, v.days, round(v.each, 6))
            for v in visits]  # fmt: skip


@UNITS
@pytest.mark.parametrize("seed", range(some(30)))
def test_the_crew_comes_on_the_days_that_a_walk_from_day_to_day_finds(
    seed: int, units: Units
) -> None:
    typed = drawn(random.Random(seed), units)
    got = answers(units, typed)
    job = as_job(typed, got, units)
    visits = walk(job)
    days = {v.code: number(v.day) or 0.0 for v in visits}
    held = dict(zip(got["visits.code"], got["visits.date"], strict=True))
    assert {code: day for code, day in held.items() if day} == {c: d for c, d in days.items() if d}
    count = len(visits)
    rows = zip(*(shown(got, key, count) for key in ("day", "last", "days", "each")), strict=True)
    assert [(d, e, int(n), round(h, 6)) for d, e, n, h in rows] == listed(visits)
    assert sum(1 for at in got["crew_days.at"] if at) == count
    assert got["calendar.arrivals"] == [arrivals(visits)]
    assert (got["calendar.until"][0] or None) == number(promised(job, visits))
