"""The days of a job walked one by one: when the crew comes, for what, and how long it stays.

Days are dates of Python, and each is reached from the day before it; hours are counted on
from the first load.  Nothing is looked up in a list of days.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from math import ceil

DAY = timedelta(days=1)
DUST = 1e-6
MOMENT = timedelta(seconds=1)
"""Clock times that differ by less are the same."""


@dataclass(frozen=True)
class Week:
    """Which days are worked, and until what hour of a day a wait may end to count as that day's."""

    saturdays: bool
    sundays: bool
    off: frozenset[date]
    latest: float  # hours

    def worked(self, day: date) -> bool:
        """Tell whether a crew may be sent on a day."""
        weekend = {5: self.saturdays, 6: self.sundays}
        return weekend.get(day.weekday(), True) and day not in self.off

    def first(self, day: date) -> date:
        """Return the first day from ``day`` on that is worked."""
        while not self.worked(day):
            day += DAY
        return day

    def last(self, first: date, days: int) -> date:
        """Return the last of so many days of work; the first is worked whatever day it is."""
        day = first
        for _ in range(days - 1):
            day = self.first(day + DAY)
        return day

    def come(self, due: datetime) -> date:
        """Return the day on which what is due by then can be done."""
        day = due.date()
        late = due - datetime.combine(day, datetime.min.time()) > timedelta(hours=self.latest)
        return self.first(day + DAY if late else day)


@dataclass(frozen=True)
class Crew:
    """How many come, and how much work each does in a day."""

    size: int
    day: float
    productive: float

    def days(self, hours: float, people: int) -> int:
        """Return the days that so many people take for some hours of work, at least one."""
        return max(1, ceil(hours / (people * self.day * self.productive) - DUST))


@dataclass(frozen=True)
class Pour:
    """A placement: its date where one is typed, and how its concrete behaves, in hours."""

    typed: date | None
    starts: float
    stamped: bool
    placing: float
    sets: float  # the last of it, after the first load
    cold: bool
    people: int
    there: float  # from setting up until all is washed up
    hours: dict[str, float]  # of the pour itself, of stripping, of washing


@dataclass(frozen=True)
class Own:
    """A visit of the contractor's own."""

    after: str
    not_before: date | None
    hours: float
    people: int


@dataclass(frozen=True)
class Job:
    """All that days follow from."""

    week: Week
    crew: Crew
    start: date | None
    hours: dict[str, float]  # of digging, forming, sealing
    pours: tuple[Pour, ...]
    waits: dict[str, float]  # hours
    slower: float  # times the wait where it is cold
    sealed: bool
    rain: int
    yours: dict[str, date] = field(default_factory=dict)
    own: tuple[Own, ...] = ()


@dataclass(frozen=True)
class Visit:
    """One visit: its first and last day, and the hours a person is there on each of them."""

    code: str
    day: date | None
    last: date | None
    days: int
    each: float


def walk(job: Job) -> list[Visit]:
    """Return every visit of a job, those of a day in the order of their work."""
    found = list(_visits(job))
    return sorted(found, key=lambda v: v.day or date.min)


def promised(job: Job, visits: list[Visit]) -> date | None:
    """Return the day on which all but sealing is done, days kept for rain counted."""
    seal = next((v.day for v in visits if v.code == "seal" and v.day), date.max)
    ends = [v.last for v in visits if v.day and v.last and v.day < seal]
    if not ends:
        return None
    day = max(ends)
    for _ in range(job.rain):
        day = job.week.first(day + DAY)
    return day


def arrivals(visits: list[Visit]) -> int:
    """Return on how many days the crew comes anew before it seals."""
    seal = next((v.day for v in visits if v.code == "seal" and v.day), date.max)
    undated = sum(1 for v in visits if not v.day)
    return undated + len({v.day for v in visits if v.day and v.day < seal})


def _visits(job: Job) -> Iterator[Visit]:
    reached: date | None = None
    ready: dict[str, datetime] = {}
    for kind, start in (("dig", job.start), ("form", None)):
        waits = reached + DAY if reached else start
        begun = job.yours.get(kind) or (job.week.first(waits) if waits else None)
        visit = _of(job, kind, begun, job.hours[kind], job.crew.size)
        reached = visit.last
        if reached:
            ready[kind] = _midnight(reached + DAY)
        yield visit
    poured = list(_pours(job, reached))
    days = [v.day for v in poured if v.day]
    if days:
        ready["pour"] = _midnight(max(days) + DAY)
    yield from poured
    for kind in ("strip", "wash"):
        for number, (pour, on) in enumerate(zip(job.pours, poured, strict=True), 1):
            if kind == "strip" or pour.stamped:
                due = _due(job, pour, on.day, kind)
                if due:
                    ready[kind] = max(due, ready.get(kind, due))
                yield _later(job, f"{kind}_{number}", due, pour.hours[kind], job.crew.size)
    seals = [_due(job, p, v.day, "seal") for p, v in zip(job.pours, poured, strict=True)]
    if known := [due for due in seals if due]:
        ready["seal"] = max(known)
    if job.sealed:
        yield _later(job, "seal", ready.get("seal"), job.hours["seal"], job.crew.size)
    for number, own in enumerate(job.own, 1):
        dated = _midnight(own.not_before) if own.not_before else None
        last = max((d for d in (ready.get(own.after), dated) if d), default=None)
        yield _later(job, f"own_{number}", last, own.hours, own.people)


def _pours(job: Job, formed: date | None) -> Iterator[Visit]:
    before: date | None = None
    for number, pour in enumerate(job.pours, 1):
        past = max((d for d in (before, formed) if d), default=None)
        code = f"pour_{number}"
        chained = job.week.first(past + DAY) if past else None
        day = pour.typed or job.yours.get(code) or chained
        before = day
        work = pour.hours["pour"] / (pour.people * job.crew.productive)
        yield Visit(code, day, day, 1, max(pour.there, work))


def _due(job: Job, pour: Pour, day: date | None, kind: str) -> datetime | None:
    """Return when the wait of some work on a pour is over."""
    if not day:
        return None
    slower = 1.0 if kind == "seal" or not pour.cold else job.slower
    over = max(pour.sets, pour.placing + job.waits[kind] * slower)
    return _midnight(day) + timedelta(hours=pour.starts + over)


def _later(job: Job, code: str, due: datetime | None, hours: float, people: int) -> Visit:
    day = job.yours.get(code) or (job.week.come(due - MOMENT) if due else None)
    return _of(job, code, day, hours, people)


def _of(job: Job, code: str, day: date | None, hours: float, people: int) -> Visit:
    days = job.crew.days(hours, people)
    each = hours / (people * days * job.crew.productive)
    return Visit(code, day, day and job.week.last(day, days), days, each)


def _midnight(day: date) -> datetime:
    return datetime.combine(day, datetime.min.time())
