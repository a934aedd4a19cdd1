"""The cells that one declared field needs: what a length, a choice, an order or a mark takes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from .declared import EffectSaid, FieldSaid, Fixed, QuantitySaid
from .expand import Gift, Word
from .hint import near
from .model import Limits, Part, Scalar, Units
from .percent import TYPED, kept
from .scalar import day_number, scalar
from .schema import Slips

_FIRST_DAY = day_number(date(2000, 1, 1))
_LAST_DAY = day_number(date(2099, 12, 31))
_LAST_SECOND = 86399 / 86400
"""Before midnight: a whole day is a date, and no time of the day."""
KNOWN = ".known"
"""What the column is called that says a former name as long as the line has a name."""
BROKEN = ".broken"
"""What the column is called that is 1 where a number that must be whole is not."""
ODD = ".odd"
"""What the column is called that is 1 where a name of a list cannot be looked up by."""
_PATTERN = "~*?<>="
"""Letters that COUNTIF, SUMIF and MATCH read as a pattern or as a comparison."""
_NAMED = re.compile(r"\{([a-z_.]+)(\[\d*\]\})")
_CLOCK = "h:mm AM/PM"


@dataclass(frozen=True)
class Common:
    """What every field of a book has at hand.

    The quantities of ``units.toml``, the program's words and keys; ``former`` says for each
    list that can be renamed where its former names stand, ``numbered`` which choices' place in
    their list something asks for.
    """

    units: Units
    words: dict[str, str]
    keys: dict[str, str]
    former: dict[str, str]
    numbered: set[str]
    quantities: dict[str, QuantitySaid]
    slips: Slips

    def quantity(self, name: str, where: str) -> QuantitySaid:
        """Return a quantity of ``units.toml``."""
        if name not in self.quantities:
            hint = near(name, self.quantities)
            self.slips.tell(where, f"quantity '{name}' is not in units.toml; {hint}")
        return self.quantities.get(name, self.quantities["number"])


class Cells:
    """One field on its way to its cells."""

    def __init__(self, common: Common, key: str, said: FieldSaid, lines: int, where: str) -> None:
        self.common, self.key, self.said, self.lines, self.where = common, key, said, lines, where
        self.words, self.units = common.words, common.units
        quantity = "length" if said.entry == "length" else said.quantity or "number"
        self.measure = common.quantity(quantity, where)
        self.decimals = self.measure.decimals if said.decimals is None else said.decimals

    def parts(self, gifts: list[Gift] | None) -> tuple[Part, ...]:
        """Return the cells of the field, in the order in which they stand."""
        said = self.said
        if said.entry is not None:
            make = getattr(self, f"_{said.entry}_entry")
            return tuple(make(self._defaults()))
        if said.formula is not None:
            return self._formula(said.formula)
        if said.fixed is not None:
            return (
                self.part(
                    kind="text", values=self._fixed(said.fixed), role="fixed", format="General"
                ),
            )
        if said.text is not None:
            return (self._text(said.text),)
        if said.given is not None:
            return (self.part(kind="text", role=said.role or "result", given=said.given),)
        return (self._from(str(said.from_), gifts),)

    def part(self, suffix: str = "", **more: Any) -> Part:
        """Return one part with the unit and format of the declared quantity."""
        measure = self.measure
        more.setdefault("heading", self.said.label)
        more.setdefault("unit", measure.unit)
        more.setdefault("pint", measure.pint)
        sign = "%" if measure.share else ""
        usual = measure.format or _number_format(self.decimals, self.said.zeros, sign)
        more.setdefault("format", usual)
        more.setdefault("working", self.said.working)
        more.setdefault("span", self.said.span)
        more.setdefault("at", self.said.at)
        return Part(key=self.key + suffix, **more)

    def _typed(self, suffix: str = "", **more: Any) -> Part:
        role = self.said.role or "entry"
        return self.part(suffix, kind="entry", role=role, given=self.said.given or "", **more)

    def _text_entry(self, values: tuple[Scalar, ...]) -> Iterator[Part]:
        listed = f"{self.key.split('.')[0]}.{self.said.former}" if self.said.former else ""
        yield self._typed(entry="text", values=values, limits=Limits(optional=True), format="@",
                          former=listed)  # fmt: skip
        if self.key in self.common.former:
            bare = f"TRIM({{{self.key}}})"  # a blank at an end is not seen, and is another name
            for letter in _PATTERN:
                bare = f'SUBSTITUTE({bare},"{letter}","")'
            length = f"LEN({{{self.key}}})"
            odd = f"N(OR(LEN({bare})<{length},{length}>{{const.longest_name}}))"
            yield self.part(ODD, kind="formula", formulas=(odd,), working=True, unit="",
                            pint="", format="0;-0;;@",
                            heading=f"{self.said.label}, {self.words['odd']}")  # fmt: skip
        if listed:  # a name that was emptied is gone for good
            known = f'IF({{{listed}}}="","",{{{self.key}}}&"")'
            yield self.part(KNOWN, kind="formula", formulas=(known,), working=True,
                            heading=f"{self.said.label}, while it has a name")  # fmt: skip

    def _number_entry(self, values: tuple[Scalar, ...]) -> Iterator[Part]:
        part = self._typed(format=TYPED if self.measure.share else self.measure.typed)
        least, most = (kept(part, end or 0.0) for end in (self.said.min, self.said.max))
        limits = Limits(least, most, optional=self.said.optional, whole=self.said.whole)
        yield replace(part, limits=limits, values=tuple(kept(part, v) for v in values))
        if self.said.whole:  # a column of entries cannot be rounded where it is counted
            broken = f"N(ROUND({{{self.key}}},0)<>{{{self.key}}})"
            yield self.part(BROKEN, kind="formula", formulas=(broken,), working=True, unit="",
                            pint="", heading=f"{self.said.label}, {self.words['broken']}",
                            format="0;-0;;@")  # fmt: skip
        if self.said.effect is not None:
            yield self._effect(self.said.effect)

    def _effect(self, effect: EffectSaid) -> Part:
        """Return what an entry comes to on this job, in the cell beside it."""
        measure = self.common.quantity(effect.quantity, self.where)
        shown = measure.format or _number_format(measure.decimals, self.said.zeros, "")
        return self.part(".effect", kind="formula", formulas=(effect.formula,), role="effect",
                         heading=self.words["effect"], working=False, unit=measure.unit,
                         pint=measure.pint, format=shown)  # fmt: skip

    def _date_entry(self, values: tuple[Scalar, ...]) -> Iterator[Part]:
        limits = Limits(_FIRST_DAY, _LAST_DAY, optional=True)
        yield self._typed(entry="date", values=values, limits=limits, format="yyyy-mm-dd")

    def _time_entry(self, values: tuple[Scalar, ...]) -> Iterator[Part]:
        limits = Limits(0.0, _LAST_SECOND, optional=True)
        yield self._typed(entry="time", values=values, limits=limits, format=_CLOCK)

    def _choice_entry(self, values: tuple[Scalar, ...]) -> Iterator[Part]:
        said = self.said
        limits = Limits(choices=said.choices, optional=said.optional)
        yield self._typed(entry="choice", values=values, limits=limits, format="@")
        if self.key in self.common.numbered or said.choices in self.common.former:
            formula = self._place_in_list()
            if instead := said.instead:
                formula = f"{formula}*N({instead}=0)+MAX(0,{instead})"
            heading = f"{said.label}, {self.words['place_in_list']}"
            yield self.part(".no", kind="formula", formulas=(formula,), working=True,
                            heading=heading, format="0;-0;;@", unit="", pint="")  # fmt: skip

    def _place_in_list(self) -> str:
        """Return the formula of the place of a choice: by name, else by former name, else 0.

        An empty one stands where the choice named by ``empty`` does, or for the word there.
        It is asked for first: to one engine an empty cell is alike an empty text in the list.
        """
        chosen, empty, names = f"{{{self.key}}}", self.said.empty, self.said.choices
        word = f"IF(ISBLANK({chosen}),{{{empty}}},{chosen})" if "[" in empty else chosen
        place, former = "0", self.common.former
        if names in former:
            place = f"IFERROR(MATCH({word},{{{former[names]}[]}},0),0)"
        place = f"IFERROR(MATCH({word},{{{names}[]}},0),{place})"
        if word == chosen and (empty or names in former):
            return f"IF(ISBLANK({chosen}),{f'{{{empty}.no}}' if empty else '0'},{place})"
        return place

    def _length_entry(self, values: tuple[Any, ...]) -> Iterator[Part]:
        name, most, optional = self.key, self.said.max or 0.0, self.said.optional
        if self.units == "si":
            limits = Limits(0.0, most, optional=optional)
            yield self._typed(".m", values=values, limits=limits, format="0.000")
            formula = f"{{{name}.m}}"
        else:
            limits = Limits(0.0, most, optional=True)
            feet, inches = zip(*map(_feet_and_inches, values), strict=True)
            yield self._typed(".ft", values=feet, limits=limits, unit="ft",
                              format="General", heading=self.words["feet"])  # fmt: skip
            yield self._typed(".in", values=inches, limits=limits, unit="in", pint="inch",
                              format="General", heading=self.words["inches"])  # fmt: skip
            formula = f"{{{name}.ft}}+{{{name}.in}}/{{const.inches_per_foot}}"
        yield self.part(kind="formula", formulas=(formula,), working=True)

    def _formula(self, formula: str) -> tuple[Part, ...]:
        said = self.said
        if said.order:
            return self._order(formula)
        if not said.mark:
            role = said.role or "result"
            if said.where:
                return (self._somewhere(formula, said.where, role),)
            return (self.part(kind="formula", formulas=(formula,), role=role),)
        if self.units == "si":  # a tape in meters is read to the millimeter
            role, shown = said.role or "mark", _number_format(3, said.zeros, "")
            return (self.part(kind="formula", formulas=(formula,), role=role, format=shown),)
        return self._mark_in_words(formula) if said.mark == "words" else self._mark(formula)

    def _mark(self, formula: str) -> tuple[Part, ...]:
        """Return a length in decimals, and as a crew marks it: feet, inches and sixteenths."""
        name, role = self.key, self.said.role or "result"
        whole = self.part(kind="formula", formulas=(formula,), role=role, working=True)
        sixteenths = f"ROUND({{{name}}}*{{const.sixteenths_per_foot}},0)"
        feet = self.part(".ft", kind="formula", unit="ft", format="0", role="mark",
                         formulas=(f"INT({sixteenths}/{{const.sixteenths_per_foot}})",),
                         heading=self.words["feet"], working=False)  # fmt: skip
        inches = self.part(".in", kind="formula", unit="in", format="0 ??/??", role="mark",
                           formulas=(f"{sixteenths}/{{const.sixteenths_per_inch}}"
                                     f"-{{{name}.ft}}*{{const.inches_per_foot}}",),
                           heading=self.words["inches"], working=False, pint="inch")  # fmt: skip
        return whole, feet, inches

    def _mark_in_words(self, formula: str) -> tuple[Part, ...]:
        """Return a mark in one cell, as 9' 4 1/2", and the sixteenths it is put together from."""
        name, per = self.key, "{const.sixteenths_per_inch}"
        fractions = self.common.keys.get("fractions", "")
        whole = self.part(kind="formula", formulas=(formula,), working=True)
        marks = self.part(".sixteenths", kind="formula", working=True, unit="", pint="", format="0",
                          formulas=(f"ROUND({{{name}}}*{{const.sixteenths_per_foot}},0)",),
                          heading=f"{self.said.label}, sixteenths")  # fmt: skip
        count = f"{{{name}.sixteenths}}"
        feet, inches = f"INT({count}/{{const.sixteenths_per_foot}})", f"INT({count}/{per})"
        words = (f"IF({count}>0,{feet}&\"' \"&{inches}-{feet}*{{const.inches_per_foot}}"
                 f"&INDEX({{{fractions}[]}},{count}-{inches}*{per}+1),\"\")")  # fmt: skip
        says = self.part(".says", kind="formula", formulas=(words,), unit="", pint="",
                         role=self.said.role or "mark", format="General",
                         working=False)  # fmt: skip
        return whole, marks, says

    def _order(self, formula: str) -> tuple[Part, ...]:
        name = self.key
        computed = self.part(".computed", kind="formula", formulas=(formula,),
                             heading=self.words["computed"])  # fmt: skip
        limits = Limits(0.0, 1e6 if self.said.max is None else self.said.max, optional=True)
        yours = self.part(".yours", kind="entry", values=(), limits=limits, role="yours",
                          heading=self.words["yours"], format="General")  # fmt: skip
        used = self.part(kind="formula", role="order", heading=self.words["used"],
                         formulas=(f"IF(ISNUMBER({{!{name}.yours}}),{{!{name}.yours}},"
                                   f"{{{name}.computed}})",))  # fmt: skip
        return computed, yours, used

    def _text(self, text: str | tuple[str, ...]) -> Part:
        values = (text,) if isinstance(text, str) else text
        also = self.said.also if isinstance(self.said.also, tuple) else ()
        role = self.said.role or "words"
        former = self.said.former
        formerly = tuple(former.items()) if isinstance(former, dict) else ()
        goes = self.said.goes if isinstance(self.said.goes, tuple) else (str(self.said.goes),)
        kind = "link" if role == "link" else "text"
        return self.part(
            kind=kind, values=values, also=also, role=role, format="@", formerly=formerly,
            goes=goes if self.said.goes else (),
        )  # fmt: skip

    def _somewhere(self, formula: str, rule: Fixed, role: str) -> Part:
        """Return a formula on the lines where a rule is not 0, and a plain 0 on all others."""
        on = self._fixed(rule)
        return self.part(kind="formula", formulas=tuple(formula if o else "" for o in on),
                         values=tuple(None if o else 0.0 for o in on), role=role)  # fmt: skip

    def _fixed(self, rule: Fixed) -> tuple[Scalar, ...]:
        if rule.pattern:
            return tuple(rule.pattern[i % len(rule.pattern)] for i in range(self.lines))
        run, cycle = int(rule.run), int(rule.cycle) or self.lines
        numbers = (i // run % cycle + 1 for i in range(self.lines))
        most = int(rule.most) or self.lines
        return tuple(float(n) if n <= most else 0.0 for n in numbers)

    def _from(self, name: str, gifts: list[Gift] | None) -> Part:
        """Return what each gift says under a name."""
        role = self.said.role
        if gifts is None:
            self.common.slips.tell(self.where, "'from' stands only in a block with collect")
        said = [self._said(gift, name) for gift in gifts or ()]
        if self.said.former:
            said = [self._former_name(n, g) for n, g in zip(said, gifts or (), strict=True)]
        if self.said.tells:
            return self.part(kind="text", values=tuple(said), tells=self.said.tells)
        if role == "link":
            return self.part(kind="link", values=tuple(said), role=role, format="@")
        formulas = tuple(w[1:] if isinstance(w, str) and w.startswith("=") else "" for w in said)
        if any(formulas):
            values = tuple(None if f else w for f, w in zip(formulas, said, strict=True))
            return self.part(kind="formula", formulas=formulas, values=values,
                             role=role or "said")  # fmt: skip
        return self.part(kind="text", values=tuple(said), role=role or "said", unit="",
                         format="General")  # fmt: skip

    def _former_name(self, name: Word, gift: Gift) -> str:
        """Return what a gift says it ``was`` called, else its name made from former names."""
        was = str(gift.told.get("was", ""))
        if was or not isinstance(name, str) or not name.startswith("="):
            return was
        return _NAMED.sub(lambda m: "{" + self.common.former.get(m[1], m[1]) + m[2], name)

    def _said(self, gift: Gift, name: str) -> Word:
        known = gift.told
        if name in known:
            return known[name]
        self.common.slips.tell(self.where, f"from '{name}': takes {gift.to} knows no {name}; "
                              f"{near(name, known)}")  # fmt: skip
        return ""

    def _defaults(self) -> tuple[Any, ...]:
        """Return the default of each line, "" empty; a length's may be [feet, inches].

        One for all lines may hold ``{line}``, the number of each.
        """
        value = self.said.default
        each = isinstance(value, tuple) and self.lines > 1 and self.said.entry != "length"
        values: list[Any] = [*value] if each and isinstance(value, tuple) else [
            value.replace("{line}", str(n)) if isinstance(value, str) else value
            for n in range(1, self.lines + 1)
        ]  # fmt: skip
        if len(values) > self.lines:
            self.common.slips.tell(self.where, f"default: {len(values)} for {self.lines} lines")
        return tuple(v if isinstance(v, tuple) else None if v == "" else scalar(v) for v in values)


def former_lists(fields: dict[str, tuple[FieldSaid, ...]]) -> dict[str, str]:
    """Return {list of names: the column that holds their former names}, of all blocks."""
    return {
        f"{block}.{one.former}": f"{block}.{one.key}{KNOWN if one.entry else ''}"
        for block, said in fields.items()
        for one in said
        if isinstance(one.former, str) and one.former
    }


def _feet_and_inches(value: Any) -> tuple[Scalar, Scalar]:
    return (scalar(value[0]), scalar(value[1])) if isinstance(value, tuple) else (value, None)


def _number_format(decimals: int, zeros: bool, sign: str) -> str:
    body = "#,##0" + ("." + "0" * decimals if decimals else "") + sign
    return f"{body};-{body};{body if zeros else ''};@"
