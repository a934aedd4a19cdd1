"""A table of a TOML file to a frozen, typed declaration, with every slip told.

A declaration is a frozen dataclass: its annotations say what may stand under which key.  A
value that differs between the systems is a table of two, ``{ us = …, si = … }``, and one that
differs between sizes of workbook a table of three, ``{ small = …, usual = …, large = … }``,
wherever a single value may stand.  A key of the file that is a word of Python has ``_``
after it in the dataclass.

Written here instead of taken from a library: what cattrs or the like gather are type names
at places such as ``$.block[3].field[2]``; a contractor needs the file, the block and the
field by their keys, and the word he probably meant.  That takes the same hundred lines.
"""

from __future__ import annotations

import types
from dataclasses import MISSING, dataclass, fields
from datetime import date, time
from functools import cache
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from .hint import near
from .model import SIZES, UNITS, Size, Units

Table = dict[str, Any]
T = TypeVar("T")

_WORDS = {
    str: "words",
    bool: "true or false",
    int: "a whole number",
    float: "a number",
    date: "a date",
    time: "a time",
    dict: "a table",
    tuple: "a list",
}


@dataclass(frozen=True)
class Slips:
    """What was found wrong so far, and the system of units and the size that are read."""

    units: Units
    told: list[str]
    size: Size = "usual"

    def tell(self, where: str, problem: str) -> None:
        """Keep a slip with its place."""
        self.told.append(f"{where}: {problem}")


def declared(kind: type[T], raw: Any, where: str, slips: Slips) -> T | None:
    """Return a table of a file as a declaration of one kind, or nothing where it has slips."""
    if not isinstance(raw, dict):
        slips.tell(where, f"came {_shown(raw)}; expected a table")
        return None
    before = len(slips.told)
    hashable: Any = kind
    known = _known(hashable)
    for key in raw.keys() - known.keys():
        slips.tell(where, f"unknown key '{key}'; {near(key, sorted(known))}")
    said: Table = {}
    for key, (name, hint, needed) in known.items():
        if key in raw:
            said[name] = _value(hint, raw[key], where, key, slips)
        elif needed:
            slips.tell(where, f"lacks {key}, {_expected(hint)}")
    return kind(**said) if len(slips.told) == before else None


def own(value: Any, slips: Slips) -> Any:
    """Return the value for these units and this size where a declaration gives one for each."""
    for ours, known in ((slips.units, UNITS), (slips.size, SIZES)):
        if isinstance(value, dict) and set(value) == set(known):
            return own(value[ours], slips)
    return value


def _uneven(value: Any) -> str:
    """Return what is wrong with a value that is given for some systems, or sizes, alone."""
    for known in (UNITS, SIZES):
        if isinstance(value, dict) and set(value) & set(known):
            each = " and ".join(f"one for {name}" for name in known)
            if strange := [key for key in value if key not in known]:
                return f"unknown key '{strange[0]}'; {near(strange[0], known)}; give {each}"
            if set(value) < set(known):
                return f"came one for {' and '.join(value)} alone; give {each}"
            return next(filter(None, map(_uneven, value.values())), "")
    return ""


@cache
def _known(kind: Any) -> dict[str, tuple[str, Any, bool]]:
    """Return {key in a file: the field's name, its type, whether it must be there}."""
    hints = get_type_hints(kind)
    return {
        f.name.rstrip("_"): (
            f.name,
            hints[f.name],
            f.default is MISSING and f.default_factory is MISSING,
        )
        for f in fields(kind)
    }


def _value(hint: Any, came: Any, where: str, key: str, slips: Slips) -> Any:
    """Return a value as its type has it; tell what is wrong with it."""
    named = any(get_origin(kind) is dict for kind in _kinds(hint))
    if slip := "" if named else _uneven(came):
        slips.tell(where, f"{key}: {slip}")
        return None
    came = own(came, slips)
    for one in _kinds(hint):
        fitting, value = _fit(one, came, f"{where}: {key}", slips)
        if fitting:
            return value
    slips.tell(where, f"{key}: came {_shown(came)}; expected {_expected(hint, came)}")
    return None


def _kinds(hint: Any) -> tuple[Any, ...]:
    return get_args(hint) if get_origin(hint) in (Union, types.UnionType) else (hint,)


def _fit(kind: Any, came: Any, where: str, slips: Slips) -> tuple[bool, Any]:
    """Tell whether a value is of one kind, and return it so."""
    if get_origin(kind) in (tuple, dict):
        return _many(kind, came, where, slips)
    if kind is types.NoneType:
        return False, None
    if kind is Any or get_origin(kind) is Literal:
        return kind is Any or came in get_args(kind), came
    if kind not in _WORDS:
        return isinstance(came, dict), declared(kind, came, where, slips)
    number = isinstance(came, (int, float)) and not isinstance(came, bool)
    if kind in (int, float):
        return number and isinstance(came, (int, kind)), kind(came) if number else came
    return isinstance(came, kind), came


def _many(kind: Any, came: Any, where: str, slips: Slips) -> tuple[bool, Any]:
    """Tell whether a value is a list or a table of one kind of things, and return it so."""
    *_, inner = get_args(kind)
    if get_origin(kind) is dict:
        if not isinstance(came, dict):
            return False, None
        return True, {k: _value(inner, v, where, k, slips) for k, v in came.items()}
    inner = get_args(kind)[0]
    if not isinstance(came, list):
        return False, None
    return True, tuple(_value(inner, v, where, f"no. {n}", slips) for n, v in enumerate(came, 1))


def _expected(hint: Any, came: Any = None) -> str:
    kinds = [k for k in _kinds(hint) if k is not types.NoneType]
    if any(get_origin(k) is Literal for k in kinds):
        words = [w for k in kinds if get_origin(k) is Literal for w in get_args(k) if w != ""]
        listed = f"one of {', '.join(map(str, words))}"
        hint_of = near(came, words) if isinstance(came, str) else ""
        return f"{listed}; {hint_of}" if hint_of.startswith("did") else listed
    return " or ".join(_WORDS.get(get_origin(k) or k, "a table") for k in kinds)


def _shown(value: Any) -> str:
    text = "true" if value is True else "false" if value is False else repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
