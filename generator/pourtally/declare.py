"""From one declared field to its parts: what a length, a choice or an order needs.

A field of a block file is one of
    ``entry = "number" | "length" | "text" | "choice" | "date" | "time"``   typed by a person
    ``formula = "…"``   worked out; with ``mark`` shown in feet, inches and sixteenths,
                        with ``order`` followed by a "your figure" cell and the figure used
    ``text = […]``      fixed words, a line each
    ``given = "key"``   in the customer's copy: what stands under that key in the job's workbook
    ``fixed = {…}``     fixed numbers, a line each: a ``pattern`` repeated, or the line's number
                        over ``run``, in a ``cycle``
    ``from = "name"``   in a block that collects: what each giver says under that name, or the
                        ``default`` where it says nothing
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import date, time
from typing import Any

from .hint import near
from .model import Block, Field, Limits, Part, Scalar, TemplateError, Units

Table = dict[str, Any]
_EXCEL_EPOCH = date(1899, 12, 30).toordinal()
_FIRST_DAY = float(date(2000, 1, 1).toordinal() - _EXCEL_EPOCH)
_LAST_DAY = float(date(2099, 12, 31).toordinal() - _EXCEL_EPOCH)
KNOWN = ".known"
"""What the column is called that says a former name as long as the line has a name."""
_NAMED = re.compile(r"\{([a-z_.]+)(\[\d*\]\})")
_CLOCK = "h:mm AM/PM"
_ENTRIES: dict[str, tuple[str, ...]] = {
    "number": ("min", "max"), "length": ("max",), "choice": ("choices",), "text": (), "date": (),
    "time": (),
}  # fmt: skip
"""The kinds of entries, and what each cannot do without."""
_KINDS = ("entry", "formula", "text", "fixed", "from", "given")
FIELD_KEYS = {
    *_KINDS, "key", "label", "note", "source", "date", "quantity", "choices", "default", "min",
    "max", "optional", "numbered", "empty", "mark", "order", "working", "role", "heading",
    "decimals", "zeros", "also", "starts_as", "csv", "once", "teaches", "weight", "former",
    "formerly", "width",
}  # fmt: skip


def day_share(clock: time) -> float:
    """Return a time of the day as spreadsheets keep it: 0.25 is six in the morning."""
    seconds = (clock.hour * 60 + clock.minute) * 60 + clock.second
    return seconds / 86400


def day_number(day: date) -> float:
    """Return a date as spreadsheets count days."""
    return float(day.toordinal() - _EXCEL_EPOCH)


def own_words(value: Any, units: Units) -> Any:
    """Return the value for these units where a declaration gives one for each."""
    if isinstance(value, dict) and set(value) == {"us", "si"}:
        return value[units]
    return value


class Maker:
    """Makes fields in one system of units."""

    def __init__(
        self, units: Units, measures: Table, words: dict[str, str], former: dict[str, str]
    ) -> None:
        """Take the quantities of ``units.toml``, the program's own words, and the former names.

        ``former`` says for each list that can be renamed where its former names stand.
        """
        self.units = units
        self.words = words
        self._former = former
        self._quantities = {k: {**v, **v[units]} for k, v in measures["quantity"].items()}

    def constants(self, declared: list[Table]) -> Block:
        """Return the block of constants of nature, locked, each with its unit."""
        fields = []
        for raw in declared:
            value = own_words(raw["value"], self.units)
            part = Part(
                key=f"const.{raw['key']}",
                heading=raw["label"],
                kind="text",
                unit=own_words(raw["unit"], self.units),
                values=(float(value),),
                role="constant",
                pint=own_words(raw["pint"], self.units),
            )
            fields.append(Field(part.key, raw["label"], (part,), source=raw["source"]))
        return Block("const", "Basis", self.words["constants"], "form", 1, tuple(fields), "const")

    def field(
        self, block: str, raw: Table, lines: int, where: str, givers: list[Table] | None = None
    ) -> Field:
        """Return one declared field with all the parts that follow from it."""
        where = f"{where}, field {raw.get('key', '?')}"
        kinds = [k for k in _KINDS if k in raw]
        if len(kinds) != 1:
            raise TemplateError(f"{where}: needs exactly one of {', '.join(_KINDS)}")
        if unknown := sorted(set(raw) - FIELD_KEYS):
            raise TemplateError(
                f"{where}: unknown key '{unknown[0]}'; {near(unknown[0], sorted(FIELD_KEYS))}"
            )
        if raw["key"] == "line":
            raise TemplateError(f"{where}: 'line' means the line's number; choose another key")
        raw = {k: own_words(v, self.units) for k, v in raw.items()}
        raw["where"], raw["full"] = where, f"{block}.{raw['key']}"
        make = getattr(self, f"_{kinds[0]}")
        parts = make(raw, lines, givers) if kinds[0] == "from" else make(raw, lines)
        note, source = raw.get("note", ""), raw.get("source", "")
        if "date" in raw:
            source = f"{source} ({raw['date']})" if source else str(raw["date"])
        also = raw.get("also", "")
        also = "" if isinstance(also, list) else also
        weight = f"{block}.{raw['weight']}" if "weight" in raw else ""
        return Field(raw["full"], raw["label"], parts, note, source, raw.get("heading", ""), also,
                     raw.get("csv", ""), raw.get("once", False), raw.get("teaches", ""),
                     weight, float(raw.get("width", 0)))  # fmt: skip

    def part(self, raw: Table, suffix: str = "", **more: Any) -> Part:
        """Return one part with the unit and format of the declared quantity."""
        measure = self._quantity(raw)
        decimals = int(raw["decimals"] if "decimals" in raw else measure["decimals"])
        more.setdefault("heading", raw["label"])
        more.setdefault("unit", measure["unit"])
        more.setdefault("pint", measure["pint"])
        usual = measure.get("format") or _number_format(decimals, raw.get("zeros", False))
        more.setdefault("format", usual)
        more.setdefault("working", raw.get("working", False))
        return Part(key=raw["full"] + suffix, **more)

    def _quantity(self, raw: Table) -> Table:
        name = raw.get("quantity", "number")
        if name not in self._quantities:
            raise TemplateError(f"{raw['where']}: quantity '{name}' is not in units.toml")
        return self._quantities[name]

    def _entry(self, raw: Table, lines: int) -> tuple[Part, ...]:
        kind = raw["entry"]
        if kind not in _ENTRIES:
            raise TemplateError(f"{raw['where']}: entry '{kind}'; {near(kind, _ENTRIES)}")
        if missing := [key for key in _ENTRIES[kind] if key not in raw]:
            raise TemplateError(f"{raw['where']}: a {kind} needs {' and '.join(missing)}")
        make = getattr(self, f"_{kind}_entry")
        return tuple(make(raw, _defaults(raw, lines)))

    def _typed(self, raw: Table, suffix: str = "", **more: Any) -> Part:
        return self.part(raw, suffix, kind="entry", role=raw.get("role", "entry"),
                         given=raw.get("starts_as", ""), **more)  # fmt: skip

    def _text_entry(self, raw: Table, values: tuple[Scalar, ...]) -> Iterator[Part]:
        limits = Limits(optional=True)
        former = _list_of(raw)
        yield self._typed(raw, entry="text", values=values, limits=limits, format="@",
                          former=former)  # fmt: skip
        if former:  # a name that was emptied is gone for good
            known = f'IF({{{former}}}="","",{{{raw["full"]}}}&"")'
            yield self.part(raw, KNOWN, kind="formula", formulas=(known,), working=True,
                            heading=f"{raw['label']}, while it has a name")  # fmt: skip

    def _number_entry(self, raw: Table, values: tuple[Scalar, ...]) -> Iterator[Part]:
        limits = Limits(float(raw["min"]), float(raw["max"]), optional=raw.get("optional", False))
        decimals = int(raw["decimals"] if "decimals" in raw else self._quantity(raw)["decimals"])
        yield self._typed(raw, values=values, limits=limits, format=_entry_format(decimals))

    def _date_entry(self, raw: Table, values: tuple[Scalar, ...]) -> Iterator[Part]:
        limits = Limits(_FIRST_DAY, _LAST_DAY, optional=True)
        yield self._typed(raw, entry="date", values=values, limits=limits, format="yyyy-mm-dd")

    def _time_entry(self, raw: Table, values: tuple[Scalar, ...]) -> Iterator[Part]:
        limits = Limits(0.0, 1.0, optional=True)
        yield self._typed(raw, entry="time", values=values, limits=limits, format=_CLOCK)

    def _choice_entry(self, raw: Table, values: tuple[Scalar, ...]) -> Iterator[Part]:
        limits = Limits(choices=raw["choices"], optional=raw.get("optional", False))
        yield self._typed(raw, entry="choice", values=values, limits=limits, format="@")
        if raw.get("numbered", True):
            formula = self._place_in_list(raw)
            heading = f"{raw['label']}, {self.words['place_in_list']}"
            yield self.part(raw, ".no", kind="formula", formulas=(formula,), working=True,
                            heading=heading, format="0;-0;;@", unit="", pint="")  # fmt: skip

    def _place_in_list(self, raw: Table) -> str:
        """Return the formula of the place of a choice: by name, else by former name, else 0.

        An empty one stands where the choice named by ``empty`` does, or for the word there.
        """
        chosen, empty, names = f"{{{raw['full']}}}", raw.get("empty", ""), raw["choices"]
        word = f"IF(ISBLANK({chosen}),{{{empty}}},{chosen})" if "[" in empty else chosen
        place = "0"
        if names in self._former:
            place = f"IFERROR(MATCH({chosen},{{{self._former[names]}[]}},0),0)"
        place = f"IFERROR(MATCH({word},{{{names}[]}},0),{place})"
        if empty and word == chosen:
            return f"IF(ISBLANK({chosen}),{{{empty}.no}},{place})"
        return place

    def _length_entry(self, raw: Table, values: tuple[Any, ...]) -> Iterator[Part]:
        raw, name = {**raw, "quantity": "length"}, raw["full"]
        most, optional = float(raw["max"]), raw.get("optional", False)
        if self.units == "si":
            limits = Limits(0.0, most, optional=optional)
            yield self._typed(raw, ".m", values=values, limits=limits, format="0.000")
            formula = f"{{{name}.m}}"
        else:
            limits = Limits(0.0, most, optional=True)
            feet, inches = zip(*map(_feet_and_inches, values), strict=True)
            yield self._typed(raw, ".ft", values=feet, limits=limits, unit="ft",
                              format="General", heading=self.words["feet"])  # fmt: skip
            yield self._typed(raw, ".in", values=inches, limits=limits, unit="in", pint="inch",
                              format="General", heading=self.words["inches"])  # fmt: skip
            formula = f"{{{name}.ft}}+{{{name}.in}}/{{const.inches_per_foot}}"
        yield self.part(raw, kind="formula", formulas=(formula,), working=True)

    def _formula(self, raw: Table, lines: int) -> tuple[Part, ...]:
        formulas = (raw["formula"],)
        if raw.get("order"):
            return self._order(raw, lines)
        role = raw.get("role", "result")
        if not raw.get("mark"):
            return (self.part(raw, kind="formula", formulas=formulas, role=role),)
        if self.units == "si":  # a tape in meters is read to the millimeter
            raw = {**raw, "decimals": 3}
            role = raw.get("role", "mark")
            return (self.part(raw, kind="formula", formulas=formulas, role=role),)
        if raw["mark"] == "words":
            return self._mark_in_words(raw)
        whole = self.part(raw, kind="formula", formulas=formulas, role=role, working=True)
        name = raw["full"]
        sixteenths = f"ROUND({{{name}}}*{{const.sixteenths_per_foot}},0)"
        feet = self.part(raw, ".ft", kind="formula", unit="ft", format="0", role="mark",
                         formulas=(f"INT({sixteenths}/{{const.sixteenths_per_foot}})",),
                         heading=self.words["feet"], working=False)  # fmt: skip
        inches = self.part(raw, ".in", kind="formula", unit="in", format="0 ??/??", role="mark",
                           formulas=(f"{sixteenths}/{{const.sixteenths_per_inch}}"
                                     f"-{{{name}.ft}}*{{const.inches_per_foot}}",),
                           heading=self.words["inches"], working=False, pint="inch")  # fmt: skip
        return whole, feet, inches

    def _mark_in_words(self, raw: Table) -> tuple[Part, ...]:
        """Return a mark in one cell, as 9' 4 1/2", and the workings it is put together from."""
        name, per = raw["full"], "{const.sixteenths_per_inch}"
        steps = {
            ".sixteenths": f"ROUND({{{name}}}*{{const.sixteenths_per_foot}},0)",
            ".ft": f"INT({{{name}.sixteenths}}/{{const.sixteenths_per_foot}})",
            ".whole": f"INT({{{name}.sixteenths}}/{per})",
            ".in": f"{{{name}.whole}}-{{{name}.ft}}*{{const.inches_per_foot}}",
            ".mark": f"{{{name}.sixteenths}}-{{{name}.whole}}*{per}",
        }
        units = {".sixteenths": "", ".ft": "foot", ".whole": "inch", ".in": "inch", ".mark": ""}
        whole = self.part(raw, kind="formula", formulas=(raw["formula"],), working=True)
        workings = [
            self.part(raw, suffix, kind="formula", formulas=(formula,), working=True,
                      heading=f"{raw['label']}, {suffix[1:]}", unit=units[suffix],
                      pint=units[suffix], format="0")
            for suffix, formula in steps.items()
        ]  # fmt: skip
        words = (f"IF({{{name}.sixteenths}}>0,{{{name}.ft}}&\"' \"&{{{name}.in}}"
                 f"&INDEX({{fractions.name[]}},{{{name}.mark}}+1),\"\")")  # fmt: skip
        says = self.part(raw, ".says", kind="formula", formulas=(words,), unit="", pint="",
                         role=raw.get("role", "mark"), format="General", working=False)  # fmt: skip
        return whole, *workings, says

    def _order(self, raw: Table, lines: int) -> tuple[Part, ...]:
        name = raw["full"]
        computed = self.part(raw, ".computed", kind="formula", formulas=(raw["formula"],),
                             heading=self.words["computed"])  # fmt: skip
        limits = Limits(0.0, float(raw.get("max", 1e6)), optional=True)
        yours = self.part(raw, ".yours", kind="entry", values=(), limits=limits, role="yours",
                          heading=self.words["yours"],
                          format=_entry_format(2))  # fmt: skip
        used = self.part(raw, kind="formula", role="order", heading=self.words["used"],
                         formulas=(f"IF(ISNUMBER({{!{name}.yours}}),{{!{name}.yours}},"
                                   f"{{{name}.computed}})",))  # fmt: skip
        return computed, yours, used

    def _text(self, raw: Table, lines: int) -> tuple[Part, ...]:
        values = raw["text"] if isinstance(raw["text"], list) else [raw["text"]]
        also = tuple(raw["also"]) if isinstance(raw.get("also"), list) else ()
        role = raw.get("role", "words")
        formerly = tuple(raw.get("formerly", {}).items())
        return (self.part(raw, kind="text", values=tuple(values), also=also, role=role,
                          format="@", formerly=formerly),)  # fmt: skip

    def _given(self, raw: Table, lines: int) -> tuple[Part, ...]:
        role = raw.get("role", "result")
        return (self.part(raw, kind="text", role=role, given=raw["given"]),)

    def _fixed(self, raw: Table, lines: int) -> tuple[Part, ...]:
        rule = raw["fixed"]
        run, cycle = rule.get("run", 1), rule.get("cycle", lines)
        if "pattern" in rule:
            pattern = rule["pattern"]
            values = tuple(float(pattern[i % len(pattern)]) for i in range(lines))
        else:
            values = tuple(float(i // run % cycle + 1) for i in range(lines))
        return (self.part(raw, kind="text", values=values, role="fixed",
                          format="General"),)  # fmt: skip

    def _from(self, raw: Table, lines: int, givers: list[Table] | None) -> tuple[Part, ...]:
        if givers is None:
            raise TemplateError(f"{raw['where']}: 'from' stands only in a block with collect")
        unsaid = raw.get("default", "")
        said = [scalar(own_words(g.get(raw["from"], unsaid), self.units)) for g in givers]
        if "former" in raw:
            said = [self._former_name(n, g) for n, g in zip(said, givers, strict=True)]
        role = raw.get("role", "")
        if role == "link":
            return (self.part(raw, kind="link", values=tuple(said), role=role, format="@"),)
        if any(isinstance(s, str) and s.startswith("=") for s in said):
            given = [s if isinstance(s, str) and s.startswith("=") else None for s in said]
            formulas = tuple(g[1:] if g else "" for g in given)
            values = tuple(None if g else s for g, s in zip(given, said, strict=True))
            return (self.part(raw, kind="formula", formulas=formulas, values=values,
                              role=role or "result"),)  # fmt: skip
        return (self.part(raw, kind="text", values=tuple(said), role=role or "said",
                          unit="", format="General"),)  # fmt: skip

    def _former_name(self, name: Scalar, giver: Table) -> str:
        """Return what a giver says it ``was`` called, else its name made from former names."""
        if "was" in giver or not isinstance(name, str) or not name.startswith("="):
            return str(own_words(giver.get("was", ""), self.units))
        return _NAMED.sub(lambda m: "{" + self._former.get(m[1], m[1]) + m[2], name)


def former_lists(items: Iterable[Table]) -> dict[str, str]:
    """Return {list of names: the column that holds their former names} of some files."""
    return {
        f"{block['key']}.{field['former']}": f"{block['key']}.{field['key']}"
        + (KNOWN if "entry" in field else "")
        for item in items
        for block in item.get("block", [])
        for field in block.get("field", [])
        if "former" in field
    }


def _list_of(raw: Table) -> str:
    """Return the key of the list whose former names a field holds, if it does."""
    return f"{raw['full'].split('.')[0]}.{raw['former']}" if "former" in raw else ""


def _defaults(raw: Table, lines: int) -> tuple[Any, ...]:
    """Return the default of each line; a length's may be [feet, inches], "" is empty."""
    value: Any = raw.get("default")
    each = isinstance(value, list) and lines > 1 and raw["entry"] != "length"
    values: list[Any] = value if each else [value] * lines
    return tuple(v if isinstance(v, list) else None if v == "" else scalar(v) for v in values)


def _feet_and_inches(value: Any) -> tuple[Scalar, Scalar]:
    return (scalar(value[0]), scalar(value[1])) if isinstance(value, list) else (value, None)


def _number_format(decimals: int, zeros: bool) -> str:
    body = "#,##0" + ("." + "0" * decimals if decimals else "")
    return f"{body};-{body};{body if zeros else ''};@"


def _entry_format(decimals: int) -> str:
    return "#,##0" + ("." + "#" * decimals if decimals else "")


def scalar(value: Any) -> Scalar:
    """Return a value as a cell holds it: numbers as float, dates and times as day numbers."""
    if isinstance(value, date):
        return day_number(value)
    if isinstance(value, time):
        return day_share(value)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return float(value)
    return value if value is None else str(value)
