"""What each option comes to: the whole job with it, less the job as it stands.

An option changes entries, so loads, pours, whole packages and hours follow; two options in one
job may come to something else than one by one, which is what a line of pairs is for.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import combinations

from .model import Entries, Scalar
from .template import Template

_ASKED = ("trial_price", "trial_taxed", "trial_clash", "stops", "tax_of_material", "option_open",
          "option_whole", "contract_stands", "price_step")  # fmt: skip


@dataclass
class Tried:
    """The entries of a job with its options priced, how many were, and what is to be said."""

    entries: Entries
    options: int = 0
    pairs: int = 0
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class _Shown:
    """A job with one option or two: price before tax, its taxed part, and what stops it."""

    price: float
    taxed: float
    stops: float
    clash: bool


class _Trial:
    """A job, and the same with what is shown on trial."""

    def __init__(self, template: Template, entries: Entries) -> None:
        self.template, self.book = template, template.book
        self.key = template.book.keys
        self.entries = {
            key: list(entries.get(key) or [part.value(n) for n in range(block.lines)])
            for key, (block, _, part) in self.book.entries().items()
        }
        self.now = self.results()
        self.base = self.shown()

    def results(self, *names: Scalar) -> Entries:
        """Return what is asked of the job with options of these names shown, at most two."""
        option, also = (*names, None, None)[:2]
        shown = self.entries | {self.key["trial_option"]: [option], self.key["trial_also"]: [also]}
        return self.template.results(shown, frozenset(self.key[name] for name in _ASKED))

    def shown(self, *names: Scalar) -> _Shown:
        """Return what the job with these options comes to."""
        got = self.results(*names) if names else self.now
        price, taxed, stops, clash = (
            float(got[self.key[name]][0] or 0)
            for name in ("trial_price", "trial_taxed", "stops", "trial_clash")
        )
        return _Shown(price, taxed, stops - bool(names), bool(clash))

    def asks(self, name: str) -> list[Scalar]:
        """Return what a key says of each option of the job as it stands."""
        return self.now[self.key[name]]


def tried(template: Template, entries: Entries, missing_only: bool = False) -> Tried:
    """Return the entries with a price for every option, and for pairs that come to another.

    With ``missing_only`` only options without a price get one.  A job that has no price yet, or
    whose contract stands, is left alone.
    """
    if "trial_option" not in template.book.keys:
        return Tried(dict(entries))
    trial = _Trial(template, entries)
    out = Tried(trial.entries)
    if trial.asks("contract_stands")[0]:
        out.notes.append(trial.book.words["trial_signed"])
        return out
    if trial.base.price <= 0 or not any(trial.entries[trial.key["option_name"]]):
        return out
    lines = list(_lines(trial, out, missing_only))
    exact = {line: price for line in lines if (price := _priced(trial, out, line)) is not None}
    if exact:
        _round(trial, "option_price", "option_suggest", exact)
        _pairs(trial, out, exact)
    return out


def _round(trial: _Trial, price: str, suggest: str, lines: Iterable[int]) -> None:
    """Put in the round figures that a job suggests for prices."""
    got = trial.template.results(trial.entries, frozenset([trial.key[suggest]]))
    for line in lines:
        trial.entries[trial.key[price]][line] = got[trial.key[suggest]][line]


def _lines(trial: _Trial, out: Tried, missing_only: bool) -> Iterator[int]:
    """Yield the lines of whole options, each name once."""
    names = trial.entries[trial.key["option_name"]]
    seen: set[str] = set()
    for line, whole in enumerate(trial.asks("option_whole")):
        name = str(names[line] or "")
        alike = name.casefold().strip()
        if whole and alike in seen:
            out.notes.append(trial.book.words["trial_twice"].format(name=name))
        elif whole and (trial.asks("option_open")[line] or not missing_only):
            yield line
        seen.add(alike)


def _priced(trial: _Trial, out: Tried, line: int) -> float | None:
    """Put in what the option of a line comes to; nothing where something it needs has no price."""
    key, name = trial.key, trial.entries[trial.key["option_name"]][line]
    with_it = trial.shown(name)
    if with_it.stops > trial.base.stops:
        out.notes.append(trial.book.words["trial_stops"].format(name=name))
        return None
    price = round(with_it.price - trial.base.price, 2)
    trial.entries[key["option_at"]][line] = trial.base.price
    trial.entries[key["option_price"]][line] = price
    trial.entries[key["option_material"]][line] = _material(trial, with_it)
    out.options += 1
    return price


def _material(trial: _Trial, with_it: _Shown) -> float | None:
    """Return the price of material in it, where that alone is taxed."""
    if not trial.asks("tax_of_material")[0]:
        return None
    return round(with_it.taxed - trial.base.taxed, 2)


def _pairs(trial: _Trial, out: Tried, exact: dict[int, float]) -> None:
    """Put in every pair of options that comes to another price together than one by one.

    ``exact`` are the prices just worked out, by line, before they were rounded.
    """
    key, entries = trial.key, trial.entries
    names, prices = entries[key["option_name"]], entries[key["option_price"]]
    whole, step = trial.asks("option_whole"), float(trial.asks("price_step")[0] or 0)
    priced = [n for n, name in enumerate(names) if name and whole[n] and prices[n] is not None]
    found: list[tuple[float, int, int, _Shown]] = []
    for one, two in combinations(priced, 2):
        both = trial.shown(names[one], names[two])
        if both.clash or both.stops > trial.base.stops:
            continue
        apart = sum(exact.get(n, float(prices[n] or 0)) for n in (one, two))
        more = both.price - trial.base.price - apart
        if round(abs(more) - step, 2) > 0:  # less is only the rounding of the job's price
            found.append((abs(more), one, two, both))
    room = len(entries[key["pair_one"]])
    if len(found) > room:
        said = trial.book.words["trial_pairs"]
        out.notes.append(said.format(found=len(found), room=room))
    most = sorted(found, key=lambda f: -f[0])[:room]
    out.pairs = len(most)
    for key_name in ("pair_one", "pair_two", "pair_price", "pair_material"):
        entries[key[key_name]] = [None] * room
    for line, (_, one, two, both) in enumerate(sorted(most, key=lambda f: f[1:3])):
        entries[key["pair_one"]][line], entries[key["pair_two"]][line] = names[one], names[two]
        entries[key["pair_price"]][line] = round(both.price - trial.base.price, 2)
        entries[key["pair_material"]][line] = _material(trial, both)
    _round(trial, "pair_price", "pair_suggest", range(out.pairs))
