"""A length as people write it, such as 24' 6 1/2", to feet and inches, or to meters.

What could mean two lengths is refused, and the words say which two.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

_LONGEST = 40
_PER_FOOT = 12
_ALIKE = {
    "[‘’′`´]": "'", "[“”″]|''": '"', "[–—−‑]": "-", "\N{NO-BREAK SPACE}": " ", "⁄": "/",
    r"(?:feet|foot|ft)(?![a-z])\.?": "'", r"(?:inches|inch|in)(?![a-z])\.?": '"',
}  # fmt: skip
_HALVES = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_NUMBER = r"[0-9]+(?:\.[0-9]*)?|\.[0-9]+"
_PART = r"(?:^|(?<=[^0-9.])|[ -]+)(?P<over>[0-9]+)/(?P<under>[0-9]+)"
_INCHES = rf"(?P<whole>{_NUMBER})?(?:{_PART})?"
_WITH_MARK = re.compile(rf"(?P<feet>{_NUMBER})'(?: ?[-, ] ?)?(?P<rest>{_INCHES})\"?")
_ALONE = re.compile(rf"(?P<rest>{_INCHES})(?P<mark>\"?)")
_BARE_PAIR = re.compile(rf"(?P<feet>[0-9]+)(?: ?- ?| )(?P<rest>{_INCHES})\"?")
_METRIC = re.compile(r"([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+) ?(mm|cm|m)?")
_PER_METER = {"mm": 1000, "cm": 100, "m": 1, None: 1}
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")

FEET_EXPECTED = "expected feet and inches such as 24' 6 1/2\""
METERS_EXPECTED = "expected meters such as 7.47, or 7470 mm"


@dataclass(frozen=True)
class Length:
    """Feet and inches as written; None where nothing was written of one of them."""

    feet: float | None = None
    inches: float | None = None


def feet_and_inches(text: str, inches: bool = False) -> Length | str:
    """Return a length in feet and inches, or words that say what was expected.

    A number without a mark is feet, or ``inches`` where those are asked for.
    """
    plain = _plain(text)
    if len(plain) > _LONGEST or not plain:
        return FEET_EXPECTED
    if found := _WITH_MARK.fullmatch(plain):
        return _both(found)
    if (found := _ALONE.fullmatch(plain)) and (found["mark"] or inches):
        return _only_inches(found)
    if found and not found["over"]:
        return Length(float(found["whole"]))
    if found:
        return _two_ways(found)
    found = _BARE_PAIR.fullmatch(plain)
    return _both(found) if found else FEET_EXPECTED


def meters(text: str) -> float | str:
    """Return a length in meters, written in m, cm or mm, or words that say what was expected."""
    plain = re.sub(r"\bmet(?:er|re)s?\b", "m", _spaced(text).lower()).rstrip(".")
    plain = re.sub(r"\b(milli|centi)met(?:er|re)s?\b", lambda m: m[1][0] + "m", plain)
    found = _METRIC.fullmatch(plain) if len(plain) <= _LONGEST else None
    if not found:
        return METERS_EXPECTED
    number, unit = found.groups()
    if _THOUSANDS.fullmatch(number):
        point, none = number.replace(",", "."), number.replace(",", "")
        return f"{METERS_EXPECTED}: {point} or {none}? Write it without a comma"
    return float(Fraction(number.replace(",", ".")) / _PER_METER[unit])


def in_words(length: Length | float) -> str:
    """Return how a length was read, as 24 ft 6.5 in, or 7.47 m."""
    if isinstance(length, float):
        return f"{length:.10g} m"
    said = ((length.feet, "ft"), (length.inches, "in"))
    return " ".join(f"{number:.10g} {unit}" for number, unit in said if number is not None)


def as_typed(day: date) -> tuple[str, int, int]:
    """Return what a spreadsheet may have made a date of, and its likeliest feet and inches.

    One program takes 8-6 for the 6th of August, another for the 8th of June.
    """
    ways = [(a, b) for a, b in ((day.month, day.day), (day.day, day.month)) if b < _PER_FOOT]
    ways = list(dict.fromkeys(ways)) or [(day.day, day.month)]
    return " or ".join(f"{a}-{b}" for a, b in ways), *ways[0]


def _plain(text: str) -> str:
    """Return a text with one kind of mark, and one space where there are some."""
    for half, plain in _HALVES.items():
        text = text.replace(half, f" {plain}")
    text = text.lower()
    for alike, one in _ALIKE.items():
        text = re.sub(alike, one, text)
    return re.sub(r" ?([/'\"]) ?", r"\1", _spaced(text))


def _spaced(text: str) -> str:
    return " ".join(text.split())


def _both(found: re.Match[str]) -> Length | str:
    feet, inches = Fraction(found["feet"]), _inches(found) if found["rest"] else None
    if isinstance(inches, str):
        return inches
    if inches is None:
        return Length(float(feet)) if found[0].endswith("'") else FEET_EXPECTED
    if feet.denominator > 1:
        return f"{FEET_EXPECTED}: whole feet where inches follow"
    if inches >= _PER_FOOT:
        return f"{FEET_EXPECTED}: after feet, inches are less than {_PER_FOOT}"
    return Length(float(feet), float(inches))


def _only_inches(found: re.Match[str]) -> Length | str:
    inches = _inches(found) if found["rest"] else FEET_EXPECTED
    return inches if isinstance(inches, str) else Length(inches=float(inches))


def _inches(found: re.Match[str]) -> Fraction | str:
    """Return whole inches and their fraction, which is less than one."""
    whole, over, under = found["whole"], found["over"], found["under"]
    inches = Fraction(whole or 0)
    if over is None:
        return inches
    if (whole and "." in whole) or not 0 < int(over) < int(under):
        return f"{FEET_EXPECTED}: {over}/{under} is no part of an inch here"
    return inches + Fraction(int(over), int(under))


def _two_ways(found: re.Match[str]) -> str:
    """Return that a number and a fraction without a mark may be inches, or feet and inches."""
    whole, over, under = found["whole"], found["over"], found["under"]
    if whole:
        return f'{FEET_EXPECTED}: {whole} {over}/{under}" or {whole}\' {over}/{under}"?'
    return f'{FEET_EXPECTED}: {over}/{under}" or {over}\' {under}"?'
