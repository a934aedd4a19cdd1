"""Words of the place: what money, tax, burdens and digging are called where a company works.

A place is one file of ``templates/places/``.  The files of the trade hold marks in their stead:
``¤`` where the sign of money goes, before a figure; ``‹tax›`` for a word, a figure or a list
of the place, ``‹Tax›`` for it at the beginning of a sentence.  What differs with the number of
taxes is a value of two, ``{ one_tax = …, two_taxes = … }``, or a table that says ``taxes = 2``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal

from . import files
from .files import Table
from .hint import near
from .model import Local, TemplateError, Units
from .schema import Slips, declared

BURDENS = 10
"""Lines of the table of burdens, which a place may fill in part."""

Way = Literal["Nothing", "Material cost", "Material price", "The total"]
_COUNTED = ("one_tax", "two_taxes")
_MOST_PERCENT = 40
_LONGEST_SIGN = 4
_MARK = re.compile(r"‹([^›]*)›")
_FORMAT = re.compile(r'"([^"¤]*)¤"((?:#,##0|0)(?:\.0+)?)')
_AMOUNT = re.compile(r"¤(\d[\d,]*(?:\.\d+)?)")


@dataclass(frozen=True, kw_only=True)
class TaxSaid:
    """A tax: its name, its rate in percent where law says one for the whole place, what it is on.

    ``source`` says where the rate is from.
    """

    name: str
    rate: float = 0.0
    on: Way = "Nothing"
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class WagesSaid:
    """What comes on top of pay: a name a line, its percent and the pay it is on at most."""

    burdens: tuple[str, ...]
    percents: tuple[float | str, ...]
    percents_source: str
    bases: tuple[float | str, ...]
    bases_source: str
    note: str


@dataclass(frozen=True, kw_only=True)
class SafetySaid:
    """Whom to call before digging, and whom when somebody is hurt, as each paper says it."""

    dig: str
    dig_who: str
    dig_lines: tuple[str, ...]
    dig_crew: str
    dig_crew_also: str
    help: str
    help_also: str


@dataclass(frozen=True, kw_only=True)
class LawSaid:
    """What the law may ask of a contract there."""

    lines: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class PlaceSaid:
    """A file of a place; DEVELOPERS.md says what each key means."""

    name: str
    units: Units
    paper: Literal["Letter", "A4"]
    sign: str
    tax: str
    tax_number: str
    tax_note: str
    supplier_note: str
    taxes: tuple[TaxSaid, ...]
    wages: WagesSaid
    safety: SafetySaid
    law: LawSaid
    after: bool = False
    dates: Literal["", "month first", "day first"] = ""
    tax_shown: Literal["On a line of its own", "In one figure with the price"] = (
        "On a line of its own"
    )
    usual_for: Literal["", "us", "si"] = ""


def known() -> tuple[str, ...]:
    """Return the keys of all places there are."""
    return tuple(sorted(path.stem for path in files.places_folder().glob("*.toml")))


def problem(key: str) -> str:
    """Return what is wrong with the key of a place; nothing where there is such a file."""
    there = known()
    return "" if key in there else f"came {key!r}; {near(key, there)}"


def usual(units: Units) -> str:
    """Return the place of a workbook in some units that names none."""
    return next(key for key in known() if said(key).usual_for == units)


def said(key: str) -> PlaceSaid:
    """Return what the file of a place says; raise ``TemplateError`` with every slip in it."""
    if wrong := problem(key):
        raise TemplateError(f"place: {wrong}")
    where = f"{key}.toml"
    slips = Slips("us", [])
    found = declared(PlaceSaid, files.read(files.places_folder() / where), where, slips)
    for slip in _slips(found) if found else ():
        slips.tell(where, slip)
    if slips.told or not found:
        raise TemplateError("\n".join(slips.told))
    return found


def local(key: str) -> Local:
    """Return what the program itself asks of a place."""
    place = said(key)
    return Local(key, place.name, place.sign, place.after, place.dates, place.paper)


def applied(tables: Any, key: str) -> Any:
    """Return the tables of a file with the words of a place where their marks stand."""
    return Applied(said(key)).to(tables)


def _slips(place: PlaceSaid) -> list[str]:
    """Return what is wrong with a place beyond the kinds of its values."""
    told = []
    if not 1 <= len(place.taxes) <= len(_COUNTED):
        told.append(f"taxes: came {len(place.taxes)}; expected one or two")
    told += [f"taxes {t.name}: rate: came {t.rate:g}; expected 0 to {_MOST_PERCENT}"
             for t in place.taxes if not 0 <= t.rate <= _MOST_PERCENT]  # fmt: skip
    told += [f"taxes {t.name}: a rate needs its source" for t in place.taxes
             if t.rate and not t.source]  # fmt: skip
    if re.search(r'["¤‹›{}\d]', place.sign) or len(place.sign) > _LONGEST_SIGN:
        told.append(f"sign: came {place.sign!r}; expected up to {_LONGEST_SIGN} letters or signs")
    wages = place.wages
    for name in ("burdens", "percents", "bases"):
        if (lines := len(getattr(wages, name))) > BURDENS:
            told.append(f"wages: {name}: came {lines} lines; expected up to {BURDENS}")
        words = [w for w in getattr(wages, name) if isinstance(w, str) and w]
        if name != "burdens" and words:
            told.append(f"wages: {name}: came {words[0]!r}; expected a number, or an empty text")
    return told


def _words(place: PlaceSaid) -> Table:
    """Return what each mark stands for."""
    taxes, wages, safety = place.taxes, place.wages, place.safety
    out: Table = {
        "place": place.name,
        "tax": place.tax,
        "tax number": place.tax_number,
        "tax note": place.tax_note,
        "tax shown": place.tax_shown,
        "supplier note": place.supplier_note,
        "burdens": [*wages.burdens, *[""] * BURDENS][:BURDENS],
        "burden percents": [*wages.percents, *[""] * BURDENS][:BURDENS],
        "burden percents source": wages.percents_source,
        "burden bases": [*wages.bases, *[""] * BURDENS][:BURDENS],
        "burden bases source": wages.bases_source,
        "burden note": wages.note,
        "law": list(place.law.lines),
    }
    for word in ("dig", "dig_who", "dig_crew", "dig_crew_also", "help", "help_also"):
        out[word.replace("_", " ")] = getattr(safety, word)
    out["dig lines"] = list(safety.dig_lines)
    for tax, no in zip(taxes, ("one", "two"), strict=False):
        out |= {f"tax {no}": tax.name, f"tax {no} rate": tax.rate, f"tax {no} on": tax.on,
                f"tax {no} source": tax.source or "Your tax adviser"}  # fmt: skip
    return out


class Applied:
    """Puts the words of a place where their marks stand."""

    def __init__(self, place: PlaceSaid) -> None:
        """Take the place."""
        self._place = place
        self._taxes = len(place.taxes)
        self._words = _words(place)

    def to(self, value: Any) -> Any:
        """Return a value of a file, and all that is in it, as it is said at the place."""
        if isinstance(value, str):
            return self._said(value) if "¤" in value or "‹" in value else value
        if isinstance(value, list):
            return [one for item in value if self._counts(item) for one in self._items(item)]
        if not isinstance(value, dict):
            return value
        if set(value) == set(_COUNTED):
            return self.to(value[_COUNTED[self._taxes - 1]])
        return {k: self.to(v) for k, v in value.items() if k != "taxes" or not isinstance(v, int)}

    def _counts(self, item: Any) -> bool:
        """Tell whether a table is one for as many taxes as the place has."""
        taxes = item.get("taxes") if isinstance(item, dict) else None
        return not isinstance(taxes, int) or taxes == self._taxes

    def _items(self, item: Any) -> list[Any]:
        """Return an item of a list; a mark that stands for a list gives all of its lines."""
        new = self.to(item)
        return new if isinstance(item, str) and isinstance(new, list) else [new]

    def _said(self, text: str) -> Any:
        if (alone := _MARK.fullmatch(text)) and not isinstance(self._word(alone[1]), str):
            return self._word(alone[1])
        return self._money(_MARK.sub(lambda mark: str(self._word(mark[1])), text))

    def _word(self, name: str) -> Any:
        if name in self._words:
            return self._words[name]
        if (lower := name[:1].lower() + name[1:]) in self._words:
            words = str(self._words[lower])
            return words[:1].upper() + words[1:]
        raise TemplateError(f"‹{name}›: no word of a place; {near(name, self._words)}")

    def _money(self, text: str) -> str:
        """Return words, a format or a formula with the sign of money where it goes."""
        if "¤" not in text:
            return text
        sign = self._place.sign
        if not sign:
            text = _FORMAT.sub(lambda m: (f'"{m[1]}"' if m[1] else "") + m[2], text)
            text = re.sub(r"¤(?=[\d\"])", "", text).replace("¤/", "per ").replace(" ¤", "")
            return text.replace("¤ ", "").replace("¤", "")
        if not self._place.after:
            return re.sub(r"¤(?=[\d\"])", sign + " " * sign[-1].isalpha(), text).replace("¤", sign)
        text = _FORMAT.sub(lambda m: (f'"{m[1]}"' if m[1] else "") + f'{m[2]}" {sign}"', text)
        text = _AMOUNT.sub(rf"\1 {sign}", text)
        return _behind(text, sign).replace("¤", sign)


def _behind(formula: str, sign: str) -> str:
    """Return a formula with the sign after each figure in words that it stood before.

    What stands before a figure is a text that ends with the mark; the figure is the next FIXED.
    """
    ends = {formula.find("FIXED(", m.start()) for m in re.finditer('¤"', formula)} - {-1}
    for start in sorted(ends, reverse=True):
        end = _closing(formula, start + len("FIXED"))
        formula = f'{formula[:end]}&" {sign}"{formula[end:]}'
    return formula.replace('¤"', '"')


def _closing(formula: str, at: int) -> int:
    """Return where what a parenthesis opens has ended; those in words do not count."""
    depth, quoted = 0, False
    for place in range(at, len(formula)):
        letter = formula[place]
        quoted ^= letter == '"'
        depth += (not quoted) * ((letter == "(") - (letter == ")"))
        if not depth:
            return place + 1
    return len(formula)
