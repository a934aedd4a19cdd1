"""What finished jobs teach: the rates they really took, pooled by quantity.

A figure of the template that ``teaches`` an entry says which, and by what it is pooled.
Workbooks are only read.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median

from . import accept, csvfile
from .guard import UnusableError
from .model import Book, Entries, Part, Scalar, Units
from .percent import kept, told
from .pricetable import COLUMNS, LEARNED, Table, figure, tables
from .read import read_workbook
from .template import Template, Templates
from .values import DAY, by_clock

_TWICE, _FAR, _THREE, _FEW = 2.0, 2.5, 3, 4
"""A job is odd beyond twice or half the middle rate of at least three, which an odd job does not
move; or, of at least four jobs, beyond two and a half times the middle distance from it."""


_NOT_ALL = 2
"""What the workbook says of a log that is not all in."""


@dataclass(frozen=True)
class Lesson:
    """What one job says of one entry: its rate, what that is weighed by, the rate it used."""

    job: str
    day: Scalar
    rate: float
    weight: float
    used: Scalar


@dataclass(frozen=True)
class Learned:
    """What all jobs say of one entry."""

    table: Table
    figure: str
    line: int
    row: csvfile.Row
    lessons: list[Lesson]

    @property
    def part(self) -> Part:
        """Return the entry."""
        return self.table.entries[self.figure][1]

    @property
    def wrong(self) -> str:
        """Return why the entry does not take what was learned, or nothing."""
        return accept.problem(self.part, kept(self.part, self.rate))

    @property
    def rates(self) -> list[float]:
        """Return the rate of each job."""
        return [lesson.rate for lesson in self.lessons]

    @property
    def pooled(self) -> float:
        """Return the amounts of all jobs over their quantities."""
        return _pooled(self.lessons)

    @property
    def rate(self) -> float:
        """Return the same of the jobs that count: what the next workbook takes."""
        return _pooled(self.counted)

    @property
    def spread(self) -> float:
        """Return the middle one of the distances from the middle rate."""
        middle = median(self.rates)
        return _rounded(median(abs(rate - middle) for rate in self.rates))

    @property
    def days(self) -> list[float]:
        """Return the days of the jobs that count and name one."""
        return [lesson.day for lesson in self.counted if isinstance(lesson.day, float)]

    @property
    def counted(self) -> list[Lesson]:
        """Return the jobs without the odd ones; all of them where those are no lesser part."""
        rest = [lesson for lesson in self.lessons if not self._why(lesson)]
        lesser = 2 * len(rest) > len(self.lessons) and 2 * _weight(rest) > _weight(self.lessons)
        return rest if lesser else self.lessons

    def odd(self) -> list[str]:
        """Return the jobs that are far from the others, each with the rule it breaks."""
        reasons = ((o, self._why(o)) for o in self.lessons)
        return [f"{o.job} {_short(o.rate)} ({why})" for o, why in reasons if why]

    def _why(self, lesson: Lesson) -> str:
        rate, middle, jobs = lesson.rate, median(self.rates), len(self.lessons)
        if jobs >= _THREE and rate > _TWICE * middle > 0:
            return f"more than twice the middle rate, {_short(middle)}"
        if jobs >= _THREE and rate < middle / _TWICE and middle > 0:
            return f"less than half the middle rate, {_short(middle)}"
        if jobs >= _FEW and abs(rate - middle) > _FAR * self.spread > 0:
            return f"more than {_FAR:g} times the spread from the middle rate, {_short(middle)}"
        return ""

    def doubts(self) -> list[str]:
        """Return what is to be said of jobs far from the others, and what counts of them."""
        odd, least, most = self.odd(), min(self.rates), max(self.rates)
        if len(self.lessons) < _THREE and most > _TWICE * least:
            return [f"{_short(least)} and {_short(most)} are far apart, and of two jobs nobody "
                    f"can tell which is odd: both count, {_short(self.pooled)}"]  # fmt: skip
        if len(self.counted) < len(self.lessons):
            which = "it" if len(odd) == 1 else "them"
            return [*odd, f"{_short(self.rate)} without {which}, which the rates file holds; "
                    f"{_short(self.pooled)} with all"]  # fmt: skip
        return odd and [*odd, "these are half of the jobs, or of the work, or more: who is odd is "
                        f"not known, and all count, {_short(self.pooled)}"]  # fmt: skip

    def used(self) -> str:
        """Return the rate in use, or the least and most where jobs differ."""
        values = {lesson.used for lesson in self.lessons if isinstance(lesson.used, float)}
        ends = sorted({min(values), max(values)}) if values else []
        return " to ".join(_short(v) for v in ends)

    def source(self) -> str:
        """Return where the rate comes from, in words."""
        jobs, all_jobs = len(self.counted), len(self.lessons)
        years = sorted({by_clock(day, "%Y") for day in self.days})
        when = f", {'-'.join(dict.fromkeys([years[0], years[-1]]))}" if years else ""
        of = f" of {all_jobs}" if jobs < all_jobs else ""
        return f"{jobs}{of} own job{'s' if all_jobs > 1 else ''}{when}"


@dataclass
class School:
    """What was learned, everything that stands in the way, and what is to be said of it."""

    learned: list[Learned]
    problems: list[str]
    notes: list[str]


def learn(workbooks: Iterable[Path], templates: Templates) -> School:
    """Return what finished workbooks teach; those that cannot be read are named."""
    school = School([], [], [])
    found: dict[tuple[str, str], Learned] = {}
    ours: Template | None = None
    seen: set[Path] = set()
    for path in workbooks:
        if path.resolve() in seen:
            school.problems.append(f"{path}: given twice, and would count twice; name it once")
            continue
        seen.add(path.resolve())
        try:
            filled = read_workbook(path, templates)
        except UnusableError as error:
            school.problems.append(f"{path}: {error}")
            continue
        school.problems += [f"{path}: {p}" for p in filled.problems]
        school.notes += [f"{path}: {n}" for n in filled.notes]
        template = filled.template
        ours = ours or template
        if template.units != ours.units:
            school.problems.append(f"{path}: {_SYSTEMS[template.units]}, and the files before it "
                                   f"{_SYSTEMS[ours.units]}: pool them apart")  # fmt: skip
        elif not filled.problems:
            worked = template.results(filled.entries)
            if worked[ours.book.keys["stops"]][0]:
                school.notes.append(f"{path}: a STOP is open on its Checks; look whether its "
                                    "figures can be trusted")  # fmt: skip
            if worked[ours.book.keys["logged"]][0] == _NOT_ALL:
                school.notes.append(f"{path}: not everything is in by its Outcome; hours and slips "
                                    "still to come will change what it teaches")  # fmt: skip
            _hear(school, found, path, ours.book, worked)
    places = {key: n for n, key in enumerate(ours.book.parts)} if ours else {}
    school.learned = sorted(found.values(), key=lambda one: (places[one.part.key], one.line))
    school.notes += [
        f"{one.row['what']}, {one.row['meaning']}: {one.wrong}; not written"
        for one in school.learned
        if one.wrong
    ]
    return school


_SYSTEMS: dict[Units, str] = {"us": "has feet", "si": "has meters"}


def _hear(
    school: School, found: dict[tuple[str, str], Learned], path: Path, book: Book,
    worked: Entries,
) -> None:  # fmt: skip
    """Take what one job teaches."""
    carried, day = tables(book), worked[book.keys["day"]][0]
    for block in book.blocks:
        for item in (f for f in block.fields if f.teaches):
            of, _, name = item.teaches.partition(".")
            table = carried[of]
            for line, (rate, weight) in enumerate(
                zip(worked[item.key], worked[item.weight], strict=True)
            ):
                if not isinstance(rate, float) or not isinstance(weight, float) or weight <= 0:
                    continue
                at = line if table.block.lines > 1 else 0
                part = table.entries[name][1]
                used = told(part, worked[item.teaches][at])
                lesson = Lesson(str(path), day, told(part, rate), weight, used)
                _take(school, found, Learned(table, name, at, table.row(worked, at, name, ""),
                                             [lesson]))  # fmt: skip


def _take(school: School, found: dict[tuple[str, str], Learned], heard: Learned) -> None:
    """Put a lesson to those of the same entry, or say why it does not go with them."""
    row = heard.row
    which = row["what"].strip().casefold() if heard.table.name else row["line"]
    if heard.table.name and not which:
        return  # a line without a name is nothing another job could know
    one = found.setdefault((heard.part.key, which), heard)
    if one is heard:
        return
    (lesson,) = heard.lessons
    if one.row["unit"] != row["unit"]:
        school.problems.append(
            f"{lesson.job}: {row['what']} goes by {row['unit']}, and in {one.lessons[0].job} by "
            f"{one.row['unit']}: give one of them another name, or leave a file out"
        )
    elif one.lessons[-1].job == lesson.job:
        one.lessons.append(_joined(one.lessons.pop(), lesson))
    else:
        one.lessons.append(lesson)


def _joined(one: Lesson, other: Lesson) -> Lesson:
    """Return two lessons of one job as one."""
    weight = one.weight + other.weight
    rate = (one.rate * one.weight + other.rate * other.weight) / weight
    return replace(one, rate=rate, weight=weight)


def csv_text(learned: Iterable[Learned]) -> str:
    """Return learned rates as a file that ``figures --load`` takes."""
    return csvfile.text((*COLUMNS, *LEARNED), [_row(o) for o in learned if not o.wrong])


def _row(one: Learned) -> csvfile.Row:
    return one.row | {
        "line": "" if one.table.name else one.row["line"],
        "value": figure(one.rate),
        "date": by_clock(max(one.days), DAY) if one.days else "",
        "source": one.source(),
        "jobs": str(len(one.lessons)),
        "with all": figure(one.pooled),
        "least": figure(_rounded(min(one.rates))),
        "most": figure(_rounded(max(one.rates))),
        "spread": figure(one.spread),
        "odd ones": csvfile.guarded("; ".join(one.odd())),
    }


def plain_text(learned: Iterable[Learned]) -> str:
    """Return learned rates as a table, each beside the rate in use, and the odd ones under it."""
    head = ("", "learned", "with all", "in use", "unit", "jobs", "least", "most", "spread")
    lines: list[tuple[str, ...]] = [head]
    odd, title = [], ""
    for one in learned:
        if title != (title := one.row["meaning"]):
            lines.append((title, *[""] * (len(head) - 1)))
        numbers = (min(one.rates), max(one.rates), one.spread)
        lines.append((f"  {one.row['what']}", _short(one.rate), _short(one.pooled), one.used(),
                      one.row["unit"], str(len(one.lessons)), *map(_short, numbers)))  # fmt: skip
        odd += [f"Odd: {one.row['what'] or title}: {said}" for said in one.doubts()]
    wide = [max(len(line[c]) for line in lines if any(line[1:])) for c in range(len(head))]
    table = [
        "  ".join(c.ljust(w) if n in (0, 4) else c.rjust(w)
                  for n, (c, w) in enumerate(zip(line, wide, strict=True))).rstrip()
        for line in lines
    ]  # fmt: skip
    return "\n".join([*table, *([""] if odd else []), *odd])


def _pooled(lessons: list[Lesson]) -> float:
    amount = sum(lesson.rate * lesson.weight for lesson in lessons)
    return _rounded(amount / _weight(lessons))


def _weight(lessons: list[Lesson]) -> float:
    return sum(lesson.weight for lesson in lessons)


def _rounded(value: float, digits: int = 6) -> float:
    return float(f"{value:.{digits}g}")


def _short(value: float) -> str:
    return figure(_rounded(value, 4))
