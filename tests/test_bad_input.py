"""Whatever is typed or pasted into the entries: no error value, and no bad cell goes unseen.

The cells that are wrong are counted here from the declared limits and the lists alone, and
held against what the workbook's own list of limits says.
"""

from __future__ import annotations

import random

import pytest

from pourtally.build import laid_out, results
from pourtally.model import Book, Entries, Part, Scalar, Units

Worked = dict[str, list[Scalar]]

WORDS: list[Scalar] = ["about four", "4 ft", "12", " ", "n/a", "#N/A", "TRUE", "x" * 250]
NUMBERS: list[Scalar] = [-1.0, -0.5, -1e9, 0.0, 1e-9, 0.5, 1e6, 1e12]


def listed(book: Book, entries: Entries, blank: Worked, part: Part) -> list[str]:
    """Return the names an entry may be chosen from."""
    block, _, names = book.parts[part.limits.choices]
    if names.kind == "formula":
        return [str(n) for n in blank[names.key] if n]
    column = entries.get(names.key) or [names.value(line) for line in range(block.lines)]
    return [str(n) for n in column if n]


def is_bad(part: Part, required: bool, names: list[str], value: Scalar) -> bool:
    """Tell whether a cell is wrong, by what its declaration says."""
    if value is None:
        return required
    if part.entry == "choice":
        return str(value).casefold() not in [n.casefold() for n in names]
    if part.entry == "text":
        return False
    return isinstance(value, str) or not part.limits.least <= value <= part.limits.most


def good(rng: random.Random, part: Part, names: list[str]) -> Scalar:
    if part.entry == "choice":
        return rng.choice(names)
    if part.entry == "text":
        return rng.choice(["Walk", "Smith & Sons", "7"])
    least, most = part.limits.least, part.limits.most
    return rng.choice([least, most, round(rng.uniform(least, most), 2), min(most, least + 3)])


def bad(rng: random.Random, part: Part) -> Scalar:
    if part.entry == "text":
        return rng.choice([12.0, -1.0, "x" * 250])
    if part.entry == "choice":
        return rng.choice(["Nonsense", 3.0, " ", "yess"])
    return rng.choice(WORDS + NUMBERS)


def fill(seed: int, units: Units, blank: Worked) -> Entries:
    """Fill in a workbook: half-filled with fair values, or with bad ones, few or many."""
    rng = random.Random(seed)
    book, _ = laid_out(units)
    share_bad, share_good = [(0.0, 0.5), (0.01, 0.3), (0.3, 0.3), (1.0, 0.0)][seed % 4]
    entries: Entries = {}
    for key, (block, _, part) in book.entries().items():
        names = listed(book, {}, blank, part) if part.entry == "choice" else []
        column = [part.value(line) for line in range(block.lines)]
        for line in range(block.lines):
            dice = rng.random()
            if dice < share_bad:
                column[line] = bad(rng, part)
            elif dice < share_bad + share_good:
                column[line] = good(rng, part, names)
            elif dice > 0.97 and block.lines > 1:
                column[line] = None
        entries[key] = column
    return entries


@pytest.fixture(scope="module", params=["us", "si"])
def blank(request: pytest.FixtureRequest) -> tuple[Units, Worked]:
    return request.param, results(request.param, {})


@pytest.mark.parametrize("seed", range(20))
def test_every_bad_cell_is_counted_and_no_formula_fails(
    seed: int, blank: tuple[Units, Worked]
) -> None:
    units, usual = blank
    book, _ = laid_out(units)
    entries = fill(seed, units, usual)
    worked = results(units, entries)  # raises where a formula gives an error
    counted = dict(zip(worked["limits.at"], worked["limits.count"], strict=True))
    expected = {}
    for key, (block, _, part) in book.entries().items():
        if part.entry != "text":
            names = listed(book, entries, worked, part) if part.entry == "choice" else []
            required = block.lines == 1 and part.entry == "number" and not part.limits.optional
            expected[key] = sum(is_bad(part, required, names, v) for v in entries[key])
    assert {k: c for k, c in counted.items() if c != expected[str(k)]} == {}
    assert worked["status.limits_wrong"] == [sum(expected.values())]
    if sum(expected.values()):
        assert worked["status.stops"][0] > 0
        assert str(worked["headline.area"][0]).startswith("STOP")
