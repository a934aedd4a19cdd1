"""Which slips in a formula nothing notices: ``python tests/mutants.py 75-wages``.

Takes the stems of files under ``templates/items``, all of them where none is named; changes one
thing at a time in the formulas of these files, and asks the hand-worked examples, first those of
the same file; of what lives, whether it moves a figure of the jobs that ``as_before`` keeps.
What changes no figure of any workbook on the shelf of the tests, nor of random jobs, does not
count.  Prints what nothing noticed, and how many there were.

``--sample 1500 --seed 1`` takes so many at random, of each file its part; ``--suite`` asks the
comparisons of the suite about what no example noticed, which takes long; ``--words`` changes
words and fixed figures, too; ``--jobs 300`` is how many random jobs.  What was found stands in
a file of this user, so that a run begins where the last one ended: a formula is tried again
when it has changed, or when what noticed it has.  A program to run, not a test.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from random import Random

from as_before import SIZE, Before
from judged import judged
from noticed import Change, World, changes
from pourtally.files import items, templates_folder
from pourtally.model import Part
from ranges import Ranges
from sweep import Told, Trial, change_a_figure, noticed, random_jobs, shelf, trials
from verdicts import Found, Verdicts

_DAY = "a day is a number in the ten thousands: it is never 1"
_PAY, _OUT = "87-payments.toml", "89-outcome.toml"
EQUAL: dict[tuple[str, str, str], str] = {
    (_PAY, "payment.stands", "N(N({signed}>[0 → 1])+N(SUM({billi"): _DAY,
    (_PAY, "payment.stands", "lling.day[]})>[0 → 1])+N(COUNT({bil"): _DAY,
    (_PAY, "changes.on", "e}>0)*N({day}>[0 → 1])"): _DAY,
    (_PAY, "billing.twice", "N({day}>[0 → 1])*N(SUMPRODUCT"): _DAY,
    (_PAY, "billing.twice", "ed})*({day[]}>[0 → 1]))>1)"): _DAY,
    (_PAY, "billing.early", "N({day}>[0 → 1])*N({payment.s"): _DAY,
    (_PAY, "billing.early", "yment.signed}>[0 → 1])*N({day}<{pay"): _DAY,
    (_PAY, "billing.on", "used}*N({day}>[0 → 1])"): _DAY,
    (_PAY, "billing.billed", "N({day}>[0 → 1])*{amount}"): _DAY,
    (_PAY, "billing.odd", "N({day}>[0 → 1])*N({used}=0)+"): _DAY,
    (_PAY, "cancel.ends", "yment.signed}>[0 → 1])*IFERROR({bas"): _DAY,
    (_PAY, "cancel.ends", "g.count[]},0),[0 → 1])"):
        "28 days less 6 gone by, 4 Sundays and 6 holidays hold the 10 that may be typed",
    (_OUT, "made.better_says", 'E(1+N({better}[< → <=]0)," more"," l'):
        "where it is 0 other words are said",
}  # fmt: skip
"""{(file, part, what was changed): why no figure can tell}."""
WORDS = ("words", "fixed")
WHOLE = "test_reading.py::test_every_range_is_the_whole_of_its_column"
AT_ONCE = 3000
OFTEN = 100
LEAST = 8
"""Of each file at least so many are in a sample."""
USUAL_CACHE = Path.home() / ".cache" / "pourtally" / "mutants.json"


def files(stems: list[str]) -> list[str]:
    """Return the names of some files, of all where none is named."""
    known = [path.name for path in items(templates_folder())]
    if unknown := [stem for stem in stems if f"{stem}.toml" not in known]:
        raise SystemExit(f"no file of templates/items: {', '.join(unknown)}")
    return [f"{stem}.toml" for stem in stems] or known


def sampled(changed: list[Change], many: int, seed: int) -> list[Change]:
    """Return so many changes at random, of each file as large a part as of all."""
    by_file: dict[str, list[Change]] = {}
    for change in changed:
        by_file.setdefault(change.file, []).append(change)
    out = []
    for file, mine in by_file.items():
        wanted = max(LEAST, round(many * len(mine) / len(changed)))
        out += Random(f"{seed} {file}").sample(mine, min(wanted, len(mine)))
    return out


def cut(world: World, ranges: Ranges, trial: Trial) -> bool:
    """Tell whether a change makes a range leave out lines of what it reads."""
    made = (replace(world.cells[place], content=text) for place, text in trial.contents.items())
    return any(ranges.cut(cell) for cell in made)


class Run:
    """One run over some changes: what is known of each, and what is still to be tried."""

    def __init__(self, known: Verdicts, many_jobs: int, say: Told) -> None:
        """Begin with what earlier runs found."""
        self._known, self._many_jobs, self._say = known, many_jobs, say
        self._us = World.of("us")

    def found(self, changed: list[Change], *, suite: bool) -> dict[Change, Found]:
        """Return what there is to say of each change that means something."""
        out: dict[Change, Found] = {}
        tried = trials(self._us, changed)
        for change in tried:
            if known := self._known.of(self._part(change), change, suite=suite):
                out[change] = known
        left = [trial for change, trial in tried.items() if change not in out]
        self._say(f"{len(changed)} changes, {len(out)} known, {len(left)} to try")
        try:
            for change, now in self._tried(left, suite=suite):
                out[change] = now
                self._known.put(self._part(change), change, now)
                if len(out) % OFTEN == 0:
                    self._known.save()
        finally:  # whoever interrupts a run begins the next one here
            self._known.save()
        return out

    def _part(self, change: Change) -> Part:
        """Return the part that a change is made in, as it is."""
        return self._us.book.parts[change.part.key][2]

    def _tried(self, left: list[Trial], *, suite: bool) -> Iterator[tuple[Change, Found]]:
        alive = [t for t in left if self._known.of(self._part(t.change), t.change, suite=False)]
        yield from self._by_examples([t for t in left if t not in alive], alive)
        for trial in alive:
            self._known.put(self._part(trial.change), trial.change, self._known.alive(suite=False))
        self._known.save()
        ranges = Ranges(self._us.book, self._us.cells)
        by_test = {t: self._known.by_test(WHOLE) for t in alive if cut(self._us, ranges, t)}

        def seen(trial: Trial, by: str) -> None:
            by_test[trial] = self._known.by_test(by)
            self._known.put(self._part(trial.change), trial.change, by_test[trial])
            self._known.save()  # each has taken long

        if suite and (left := [t for t in alive if t not in by_test]):
            judged(left, seen, self._say)
        unnoticed = self._known.alive(suite=suite)
        yield from ((t.change, by_test.get(t, unnoticed)) for t in alive)

    def _by_examples(self, left: list[Trial], alive: list[Trial]) -> Iterator[tuple[Change, Found]]:
        """Yield what an example notices and what changes no figure; add the rest to ``alive``."""
        for units in ("us", "si"):
            world = World.of(units)
            mine = {t.change: t for t in left}
            here = mine if units == "us" else trials(world, mine)
            for trial, example in noticed(world, here.values(), self._say):
                yield trial.change, self._known.by_example(example)
                left.remove(mine[trial.change])
        seen = self._change_a_figure(left)
        yield from ((t.change, self._known.equal()) for t in left if t not in seen)
        alive += [t for t in left if t in seen]

    def _change_a_figure(self, left: list[Trial]) -> set[Trial]:
        """Return what changes a figure on the shelf or, of the rest, of random jobs."""
        seen = change_a_figure(self._us, left, shelf("us"), self._say) if left else set()
        if rest := [trial for trial in left if trial not in seen]:
            made = random_jobs("us", self._many_jobs)
            seen |= change_a_figure(self._us, rest, made, self._say)
        return seen


def moving(found: dict[Change, Found], say: Told) -> set[Change]:
    """Return what nothing proves wrong, but moves a figure of a job that ``as_before`` keeps."""
    alive = [change for change, now in found.items() if now.verdict == "alive"]
    world = World.of("us", SIZE)
    kept = (entries for units, entries in Before.read().jobs.values() if units == "us")
    return {t.change for t in change_a_figure(world, trials(world, alive).values(), kept, say)}


def table(found: dict[Change, Found], moved: set[Change], of: str) -> str:
    """Return a line for each file, or for each kind of change, and one for all.

    What an example or a comparison notices is proven wrong; what only moves a figure of a kept
    job is noticed, too, but whoever looks at it must know which of the two is right.
    """
    counts: Counter[tuple[str, str]] = Counter()
    for change, now in found.items():
        for row in (getattr(change, of), "all"):
            counts[row, "moved" if change in moved else now.verdict] += 1
    rows = [*sorted({row for row, _ in counts} - {"all"}), "all"]
    lines = [f" tried  changes a figure  proven wrong  percent  moved  percent  alive  {of}"]
    for row in rows:
        proven, other, equal, alive = (
            counts[row, v] for v in ("noticed", "moved", "equal", "alive")
        )
        real = proven + other + alive
        shares = [f"{100 * n / real:.1f}" if real else "-" for n in (proven, proven + other)]
        lines.append(f"{real + equal:6}  {real:16}  {proven:12}  {shares[0]:>7}  {other:5}"
                     f"  {shares[1]:>7}  {alive:5}  {row}")  # fmt: skip
    return "\n".join(lines)


def asked() -> argparse.Namespace:
    """Return what the command line asks for."""
    line = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    line.add_argument("stems", nargs="*")
    line.add_argument("--sample", type=int, default=0)
    line.add_argument("--seed", type=int, default=1)
    line.add_argument("--jobs", type=int, default=300)
    line.add_argument("--suite", action="store_true")
    line.add_argument("--words", action="store_true")
    line.add_argument("--cache", type=Path, default=USUAL_CACHE)
    return line.parse_args()


def main() -> int:
    """Try the changes of the named files, print those alive and two tables."""
    said = asked()
    begun = time.time()

    def say(words: str) -> None:
        print(f"{time.time() - begun:6.0f} s  {words}", file=sys.stderr, flush=True)

    every = [
        change for change in changes(World.of("us").book, files(said.stems))
        if change.named not in EQUAL and (said.words or change.kind not in WORDS)
    ]  # fmt: skip
    chosen = sampled(every, said.sample, said.seed) if said.sample else every
    run = Run(Verdicts(said.cache, said.jobs), said.jobs, say)
    found: dict[Change, Found] = {}
    for first in range(0, len(chosen), AT_ONCE):
        found |= run.found(chosen[first : first + AT_ONCE], suite=said.suite)
    moved = moving(found, say)
    for change, now in found.items():
        if now.verdict == "alive" and change not in moved:
            print(f"{change.file}  {change.part.key}  {change.kind}  {change.what}")
    print(f"\n{len(chosen)} of {len(every)} changes\n")
    print(table(found, moved, "file"), "\n", table(found, moved, "kind"), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
