"""Declared fields, quantities and constants to those of a book, in one system of units."""

from __future__ import annotations

from dataclasses import replace

from .cells import Cells, Common
from .declared import ConstantSaid, FieldSaid, QuantitySaid
from .expand import Gift
from .model import Block, Field, Part, Units
from .percent import TYPED, is_percent, kept
from .schema import Slips, Table, declared


def quantities(measures: Table, units: Units, slips: Slips) -> dict[str, QuantitySaid]:
    """Return the quantities of ``units.toml`` as they are in one system."""
    out = {"number": QuantitySaid(unit="", pint="", decimals=2)}
    for name, raw in measures.get("quantity", {}).items():
        alike = {key: value for key, value in raw.items() if key not in ("us", "si")}
        where = f"units.toml: quantity {name}"
        if made := declared(QuantitySaid, {**alike, **raw.get(units, {})}, where, slips):
            out[name] = made
    return out


class Maker:
    """Makes the fields of a book."""

    def __init__(self, common: Common) -> None:
        """Take what every field has at hand."""
        self._common = common
        self.words = common.words
        self.slips = common.slips

    def constants(self, said: list[ConstantSaid]) -> Block:
        """Return the block of constants of nature, locked, each with its unit."""
        fields = []
        for one in said:
            shown = TYPED if one.unit == "%" else "General"
            part = Part(f"const.{one.key}", one.label, "text", unit=one.unit, pint=one.pint,
                        format=shown, role="constant")  # fmt: skip
            part = replace(part, values=(kept(part, one.value),))
            fields.append(Field(part.key, one.label, (part,), source=one.source))
        return Block("const", "Basis", self.words["constants"], "form", 1, tuple(fields), "const")

    def field(
        self, block: str, said: FieldSaid, lines: int, where: str, gifts: list[Gift] | None = None
    ) -> Field:
        """Return one declared field with all the parts that follow from it."""
        made = Cells(self._common, f"{block}.{said.key}", said, lines, where)
        parts = made.parts(gifts)
        note = said.note
        if parts[0].kind == "entry" and is_percent(parts[0]):
            note = f"{self.words['percent_note']} {note}".strip()
        teaches = said.teaches
        return Field(
            key=made.key,
            label=said.label,
            parts=parts,
            note=note,
            source=said.source,
            heading=said.heading,
            over=said.over,
            also=said.also if isinstance(said.also, str) else "",
            csv="" if said.csv == "never" else said.csv,
            once=said.csv == "never",
            teaches=teaches.entry if teaches else "",
            weight=f"{block}.{teaches.by}" if teaches else "",
            width=said.width,
        )
