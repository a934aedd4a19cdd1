"""Pour days simulated strip by strip, against hand arithmetic and against the workbook.

The simulation (``reference/day.py``) knows no formula. What formulas of earlier versions had
wrong stands first, worked out by hand; then random days must agree with the workbook.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache

import pytest

from reference import day as site
from reference.day import Day, Late, Line, Mix, Plan, Weather
from reference.days import MARGIN, Drawn, draw
from reference.workbook import asking
from sample import some

MINUTE = 1 / 60
HOURS = ((100, 1.667), (90, 2.667), (80, 4), (70, 6), (60, 8), (50, 11), (40, 14), (30, 19))
TABLE = site.by_table(*HOURS)


def even(at: float) -> Weather:
    """Return a day on which air and concrete are as warm all day."""
    return Weather(at, (Line(0, at),))


def planned(*sizes: float, rate: float = 15) -> Plan:
    """Return trucks for 7:00 half an hour from the plant, none of which waits for another."""
    return Plan(7, sizes, rate, interval=max(sizes) / rate, loading=1 / 6, drive=1 / 3)


ONE = Day(planned(4), even(90), Mix(TABLE), man_hours=10.9733, stampers=2)


# By hand ----------------------------------------------------------------------------------


@pytest.mark.parametrize("later", [0, 1, 4, 9.5])
def test_a_retarder_moves_the_window_and_makes_it_no_wider(later: float) -> None:
    # 90 °F: 2.667 h, open for a quarter of it, 0.6668; 10.9733 / 2 = 5.4867: 4.82 h too late
    day = replace(ONE, mix=Mix(TABLE, later=later))
    assert site.slack(day) == pytest.approx(-4.82, abs=MINUTE)
    # batched half an hour before 7:00, 40 % of 2.667 h is 1.0668 h
    opens = site.moments(day, site.arriving(day.plan)[0]).opens
    assert opens == pytest.approx(7 - 0.5 + 1.0668 + later, abs=MINUTE)


def test_time_in_the_drum_counts() -> None:
    # 85 °F: 3.3335 h, opens after 1.3334 and closes after 2.1668 h. 4.75 and 4.5 yd³ at 15:
    # discharge from 0 and 0.3167 h, batched at -0.5 and -0.1833. 1.35 h of stamping begin at
    # 0.8334: 2.1834. The second load closes at 1.9835: 0.2 h, 12 min too late, where an age
    # counted from discharge showed 6 min to spare
    day = Day(planned(4.75, 4.5), even(85), Mix(TABLE), man_hours=2.7, stampers=2)
    assert [load.age for load in site.arriving(day.plan)] == pytest.approx([49, 48])
    assert site.slack(day) == pytest.approx(-0.2, abs=MINUTE)


def test_an_afternoon_that_grows_hot_closes_the_window_early() -> None:
    # Slab as warm as the air, 70 °F until 10:00, then 90. Batched at 6:30: 2.4 h to 40 %, at
    # 8:54; by 10:00 3.5 / 6 = 58.33 %, and 6.67 % at 2.667 h a set are 0.1778 h: 10:10:40
    hot = Weather(70, (Line(7, 70), Line(10, 90)), share=1)
    day = replace(ONE, weather=hot, man_hours=2.0)
    seen = site.moments(day, site.arriving(day.plan)[0])
    assert (seen.opens, seen.closes) == pytest.approx((8.9, 10.1778), abs=MINUTE)
    assert seen.sets == pytest.approx(10 + (1 - 3.5 / 6) * 2.667, abs=MINUTE)
    assert site.slack(day) == pytest.approx(10.1778 - 9.9, abs=MINUTE)


def test_half_of_the_air_and_all_of_the_sun() -> None:
    # 70 + half of 10 = 75 °F in the shade; 5 °F of sun: 80 °F, 4 h; until 7:00 as from 7:00
    sunny = Weather(70, (Line(7, 80, sunny=True),), share=0.5, sun=5)
    day = replace(ONE, weather=sunny)
    seen = site.moments(day, site.arriving(day.plan)[0])
    assert seen.sets == pytest.approx(6.5 + 4, abs=MINUTE)
    assert site.slack_warm(day, 10) == pytest.approx(0.25 * 3.3335 - 5.4867, abs=MINUTE)


def test_an_accelerator_takes_its_hours_off_the_set_and_its_part_off_each_moment() -> None:
    # 70 °F: 6 h; 1.5 h are a quarter: opens after 1.8, closes after 2.925, sets after 4.5 h
    day = replace(ONE, weather=even(70), mix=Mix(TABLE, sooner=1.5))
    seen = site.moments(day, site.arriving(day.plan)[0])
    assert (seen.opens, seen.closes, seen.sets) == pytest.approx((8.3, 9.425, 11), abs=MINUTE)
    both = replace(day, mix=Mix(TABLE, later=2, sooner=1.5))
    assert site.slack(both) == pytest.approx(1.125 - 5.4867, abs=MINUTE)
    assert site.moments(both, site.arriving(both.plan)[0]).sets == pytest.approx(13, abs=MINUTE)


TWO = Day(planned(6, 6), even(70), Mix(site.always(6)), man_hours=3.0, stampers=2)


def test_a_truck_held_up_on_the_road_brings_older_concrete() -> None:
    # 0.4 h a load. Second load: batched at -0.1, due at 0.4, comes at 0.7333, opens at 2.3 and
    # closes at 3.8. The first is stamped from 1.9 to 2.65, the second to 3.4: 0.4 h left,
    # late or not. With 1 yd³/h it is discharged from 6.3333 to 12.3333, and closed at 9.4
    late = site.arriving(TWO.plan, Late(1, on_the_road=True))
    assert [load.begins - 7 for load in late] == pytest.approx([0, 0.7333], abs=1e-4)
    assert [load.batched - 7 for load in late] == pytest.approx([-0.5, -0.1])
    assert site.least_left(TWO, late) == pytest.approx(0.4, abs=MINUTE)
    slow = replace(TWO, plan=planned(6, 6, rate=1))
    late = site.arriving(slow.plan, Late(1, on_the_road=True))
    assert site.least_left(slow, late) == pytest.approx(9.4 - 12.3333, abs=2 * MINUTE)


def test_trucks_behind_a_late_one_wait_and_grow_older() -> None:
    # All held up from the first on: 20 min each, the second 20 min older at its end
    plan = planned(6, 6, 6)
    late = site.arriving(plan, Late(0, on_the_road=False))
    assert [load.begins - 7 for load in late] == pytest.approx([1 / 3, 0.4 + 1 / 3, 0.8 + 1 / 3])
    assert [load.age for load in late] == pytest.approx([54, 74, 74])
    gaps = replace(plan, interval=0.6)  # 0.2 h of nothing after each load take it up again
    late = site.arriving(gaps, Late(0, on_the_road=True))
    assert [load.begins - 7 for load in late] == pytest.approx([1 / 3, 0.4 + 1 / 3, 1.2])
    assert [load.age for load in late] == pytest.approx([74, 62, 54])


def test_the_worst_truck_and_the_worse_way_count() -> None:
    # 0.4 h left as planned. The first truck late from the plant: batched at -0.1667, it opens
    # at 2.2333, both are stamped by 3.7333, the second closes at 3.8: 0.0667 h
    assert site.slack(TWO) == pytest.approx(0.4, abs=MINUTE)
    assert site.slack_late(TWO) == pytest.approx(0.0667, abs=MINUTE)
    # one stamper: 1.9 to 4.9, closed at 3.8
    assert site.slack_fewer(TWO) == pytest.approx(-1.1, abs=MINUTE)
    assert site.slack_fewer(replace(TWO, stampers=1)) == -float("inf")


def test_hours_to_set_by_equivalent_age() -> None:
    # 1 h at 20 °C: e^(-5000 (1/T - 1/293.15)) is 0.3986 at 5 °C and 2.2939 at 35 °C
    sets = site.by_age(1, 20, 5000, lambda celsius: celsius + 273.15)
    for at, factor in ((5, 0.3986), (35, 2.2939)):
        day = replace(ONE, weather=even(at), mix=Mix(sets))
        seen = site.moments(day, site.arriving(day.plan)[0]).sets
        assert seen == pytest.approx(6.5 + 1 / factor, abs=MINUTE)


# Random days ------------------------------------------------------------------------------

DAYS = some(300)
answers = asking("window", "loads", "trucks")


@cache
def drawn(number: int) -> Drawn:
    return draw(number)


def test_a_third_of_the_days_is_late_a_third_hardly_holds_a_third_holds() -> None:
    verdicts = Counter(drawn(number).verdict for number in range(DAYS))
    assert min(verdicts[v] for v in ("late", "hardly", "holds")) > 0.28 * DAYS
    sizes = Counter(len(drawn(number).day.plan.sizes) for number in range(DAYS))
    assert min(sizes[n] for n in (1, 2, 3, 4)) > 0.08 * DAYS
    assert {len(drawn(number).day.weather.lines) for number in range(DAYS)} == set(range(1, 15))


def expected(day: Drawn) -> dict[str, float]:
    """Return what a workbook must say of a day, times as hours after the planned start."""
    loads = site.arriving(day.day.plan)
    first, last = (site.moments(day.day, loads[n]) for n in (0, -1))
    start = day.day.plan.start
    fewer = {"slack_fewer": site.slack_fewer(day.day)} if day.day.stampers > 1 else {}
    return fewer | {
        "slack": site.slack(day.day),
        "slack_warm": day.slack_warm,
        "slack_late": site.slack_late(day.day),
        "opens": first.opens - start,
        "first_closes": first.closes - start,
        "last_opens": last.opens - start,
        "closes": last.closes - start,
        "sets": site.sets_in(day.day),
        "set_at": last.sets - start,
        "placing": loads[-1].ends - start,
        "stamping": day.day.man_hours / day.day.stampers,
    }


@pytest.mark.parametrize("group", range(10))
def test_random_days_of_a_workbook_are_those_of_the_simulation(group: int) -> None:
    wrong = [said for number in range(group, DAYS, 10) for said in differences(drawn(number))]
    assert not wrong, "\n".join(wrong)


def differences(day: Drawn) -> list[str]:
    """Return all that a workbook says otherwise than the simulation."""
    got = answers(day.units, day.typed)
    near = 1.5 * MINUTE + day.day.man_hours / day.day.stampers / site.STRIPS
    loads = site.arriving(day.day.plan)
    pairs = [(key, got[f"window.{key}"][0], value) for key, value in expected(day).items()]
    pairs += [("size", *both) for both in zip(got["loads.size"], day.day.plan.sizes, strict=False)]
    pairs += [
        ("age", minutes / 60, load.age / 60)
        for minutes, load in zip(got["loads.age"], loads, strict=False)
    ]
    pairs.append(("interval", got["trucks.interval"][0] / 60, day.day.plan.interval))
    if nearest(day) > 2 * MINUTE:
        pairs.append(("state", got["window.state"][0], state(day)))
    return [
        f"{day.units} {key}: {told:.3f}, simulated {seen:.3f}: {day.typed}"
        for key, told, seen in pairs
        if abs(told - seen) > near
    ]


def state(day: Drawn) -> int:
    """Return how a workbook must judge a day: 1 in time, 2 hardly, 3 too slow, 4 not at all."""
    shut = site.is_shut(day.day)
    return 4 if shut else {"holds": 1, "hardly": 2, "late": 3}[day.verdict]


def nearest(day: Drawn) -> float:
    """Return the hours that some slack is from where the verdict turns."""
    slack = site.slack(day.day)
    others = (day.slack_warm, site.slack_late(day.day), site.slack_fewer(day.day))
    return min(abs(slack), abs(slack - MARGIN), *(abs(other) for other in others))
