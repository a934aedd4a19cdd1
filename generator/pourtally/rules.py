"""Which options of a field go together: asked of each declaration once it is read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from .declared import FieldSaid, GoesSaid

_ALWAYS = {
    "key",
    "label",
    "heading",
    "over",
    "also",
    "note",
    "source",
    "role",
    "working",
    "width",
    "span",
    "at",
}
_SHOWN = {"quantity", "decimals", "zeros"}
_TYPED = {"default", "csv", "given"}
_ENTRIES = {
    "number": {"quantity", "min", "max", "optional", "effect", "whole"},
    "length": {"max", "optional"},
    "text": {"former"},
    "choice": {"choices", "optional", "empty", "instead"},
    "date": set(),
    "time": set(),
}
"""The kinds of entries, and what goes with each besides what goes with all."""
_NEEDED = {"number": ("min", "max"), "length": ("max",), "choice": ("choices",)}
"""What an entry cannot do without."""
KINDS = {
    "entry": _TYPED,
    "formula": {
        *_SHOWN,
        "where",
        "mark",
        "order",
        "max",
        "collect",
        "former",
        "csv",
        "teaches",
        "goes",
    },
    "text": {"quantity", "former", "goes"},
    "fixed": _SHOWN,
    "from_": {*_SHOWN, "csv", "former", "tells"},
    "given": _SHOWN,
}
"""What a field can be, and the options that go with each kind."""


def slips(said: FieldSaid) -> Iterator[str]:
    """Yield what does not go together in a field."""
    kinds = [k for k in KINDS if getattr(said, k) is not None and not (k == "given" and said.entry)]
    if len(kinds) != 1:
        names = ", ".join(k.rstrip("_") for k in KINDS)
        came = " and ".join(k.rstrip("_") for k in kinds) or "none"
        yield f"needs exactly one of {names}; came {came}"
        return
    (kind,) = kinds
    if said.key == "line":
        yield "'line' means the line's number; choose another key"
    allowed = _ALWAYS | {kind} | KINDS[kind]
    what = f"a field with {kind.rstrip('_')}"
    if said.entry:
        allowed = allowed | _ENTRIES[said.entry]
        what = f"an entry of kind {said.entry}"
        missing = [k for k in _NEEDED.get(said.entry, ()) if getattr(said, k) in (None, "")]
        if missing:
            yield f"a {said.entry} needs {' and '.join(missing)}"
    for option in fields(said):
        if option.name not in allowed and getattr(said, option.name) != option.default:
            yield f"{option.name.rstrip('_')} does not go with {what}"
    yield from _together(said)
    yield from _limits(said)


def _together(said: FieldSaid) -> Iterator[str]:
    if said.max is not None and said.formula is not None and not said.order:
        yield "max goes with a formula only where it is an order"
    if isinstance(said.goes, GoesSaid if said.text is not None else tuple):
        yield "goes: fixed words name a key or a sheet, a line each; a formula one key, or a table"
    if said.where and (said.mark or said.order):
        yield "where goes with a plain formula, with no mark and no order"
    if said.mark and said.order:
        yield "a length marked by the crew is no order; keep mark or order"
    given = said.default if isinstance(said.default, tuple) else (said.default,)
    for number in (said.min, said.max, *given) if said.whole else ():
        if isinstance(number, (int, float)) and number % 1:
            yield f"whole, but a limit or a default is {number:g}; make it a whole number"


def _limits(said: FieldSaid) -> Iterator[str]:
    least, most = said.min or 0.0, said.max
    if most is None:
        return
    if least > most:
        yield f"min {least:g} is over max {most:g}"
        return
    given = said.default if isinstance(said.default, tuple) else (said.default,)
    for one in given:
        numbers = one if isinstance(one, tuple) else (one,)
        for number in numbers:
            if isinstance(number, (int, float)) and not least <= number <= most:
                yield f"default {number:g} lies outside its limits, {least:g} to {most:g}"
            elif isinstance(number, str) and number:
                yield f"default {number!r}; expected a number from {least:g} to {most:g}"
