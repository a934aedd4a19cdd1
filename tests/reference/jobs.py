"""Random whole jobs: slabs of every kind, and the rates that turn them into orders."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from hypothesis import strategies as st

from . import slabs
from .banded import Banded, places, rectangles, usual_bands
from .measure import Units, base, factor
from .slabs import FINISHES, MIXES, Slab, Usual

RATES: dict[str, dict[str, tuple[str, float, float]]] = {
    "plant": {"step": ("volume", 0.25, 1), "prime": ("volume", 0.05, 0.5),
              "hopper": ("volume", 0.05, 0.3), "bore": ("thickness", 2, 4),
              "hose": ("length", 20, 200)},
    "delivery": {"truck": ("volume", 8, 12)},
    "mixes": {"cementitious": ("weight_per_volume", 400, 700), "pigment": ("percent", 0, 10),
              "liquid_color": ("liquid_per_volume", 0, 2), "allowance": ("thickness", 0, 0.5),
              "waste": ("percent", 0, 15), "fiber": ("weight_per_volume", 0, 20)},
    "finishes": {"texture": ("percent", 0, 40), "shake": ("weight_per_area", 0, 100)},
    "coloring": {"pigment_bag": ("weight", 10, 60), "pail": ("liquid", 1, 10),
                 "shake_bag": ("weight", 30, 80), "first_parts": ("plain", 1, 3),
                 "second_parts": ("plain", 0, 3), "shake_waste": ("percent", 0, 20)},
    "form_rates": {"board": ("length", 8, 20), "waste": ("percent", 0, 15),
                   "stakes": ("length", 1.5, 6), "bent_stakes": ("length", 0.5, 3),
                   "bender": ("length", 6, 20), "nails": ("plain", 0, 4),
                   "strip": ("length", 10, 100)},
    "forming": {"reuse": ("percent", 0, 80)},
    "soils": {"loose": ("plain", 1, 1.6), "packed": ("plain", 0.7, 1.2)},
    "base_rates": {"loose": ("plain", 1, 1.5), "density": ("heavy_per_volume", 1.2, 2.5),
                   "water": ("percent", 0, 10), "waste": ("percent", 0, 15),
                   "step": ("heavy", 0.25, 5), "lift": ("thickness", 3, 8),
                   "truck": ("volume", 4, 20)},
    "dig": {"base": ("thickness", 2, 12), "past": ("thickness", 0, 18),
            "above": ("thickness", 0, 20)},
    "steel_rates": {"stock": ("length", 10, 40), "diameters": ("plain", 20, 60),
                    "least_lap": ("thickness", 6, 24), "in_band": ("plain", 2, 5),
                    "cover": ("thickness", 0, 4), "shortest": ("length", 0, 6),
                    "waste": ("percent", 0, 15), "long": ("length", 6, 20),
                    "wide": ("length", 4, 8), "space": ("thickness", 2, 8),
                    "more": ("thickness", 0, 6), "wire": ("weight_per_area", 15, 60),
                    "chairs": ("length", 2, 5), "dowels": ("length", 1, 4),
                    "bag": ("weight", 1, 20)},
    "bars": {"across": ("thickness", 0.375, 0.75), "weight": ("weight_per_length", 0.3, 1.6)},
    "steel": {"spacing": ("thickness", 6, 24)},
    "joint_rates": {"times": ("plain", 24, 36), "most": ("length", 8, 20),
                    "depth": ("percent", 20, 40), "least": ("thickness", 0.5, 1.5),
                    "bead_wide": ("thickness", 0.25, 0.75), "bead_deep": ("thickness", 0.1, 0.5),
                    "waste": ("percent", 0, 20), "tube": ("liquid", 0.1, 1)},
    "products": {"coverage": ("area_per_liquid", 50, 400), "pail": ("liquid", 1, 5),
                 "dose": ("weight_per_area", 0.1, 10), "bag": ("weight", 5, 50),
                 "coats": ("plain", 1, 3), "waste": ("percent", 0, 15)},
    "labor": {"rate": ("plain", 0.005, 1), "difficulty": ("plain", 0, 1.5),
              "least": ("hours", 0, 4)},
    "sheet_rates": {"wide": ("length", 6, 40), "long": ("length", 50, 200),
                    "lap": ("thickness", 6, 24), "wider": ("thickness", 0, 36)},
    "crew": {"size": ("plain", 2, 8), "day": ("hours", 6, 10), "productive": ("percent", 50, 100),
             "narrow": ("plain", 1, 2)},
}  # fmt: skip
"""What is drawn for every rate: its kind, and from what to what in US units."""

LINES = {"mixes": len(MIXES), "finishes": len(FINISHES), "bars": 1, "soils": 1, "steel": 3,
         "products": 4, "labor": 4}  # fmt: skip
DRIVERS = ["Total area", *(f"Area, {n}" for n in FINISHES), "Edging tool", "Concrete to order",
           "Once for the job", "Step treads", "Sealer, area of all coats",
           "Area with curing compound", "Area cured wet", "Area with release"]  # fmt: skip


@dataclass(frozen=True)
class Job:
    """A job as typed, and the same slabs drawn."""

    units: Units
    typed: dict[str, Any]
    usual: Usual
    pieces: list[Slab]
    thick: list[Slab]
    flights: list[Slab]
    curves: list[Slab]
    bands: list[Banded]

    def rate(self, block: str, key: str, line: int = 0) -> float:
        """Return a rate in SI base units, a percentage as a share of one."""
        lines = self.typed[block]
        typed = (lines[line] if isinstance(lines, list) else lines)[key]
        return base(typed, RATES[block][key][0], self.units)

    def slabs(self, *, steps: bool = True) -> list[Slab]:
        """Return everything that has area or volume, bands and panels apart."""
        out = [*self.pieces, *self.thick, *self.curves]
        for band in self.bands:
            for what, area in band.parts:
                finish, mix = band.finish(what), band.mix(what)
                out.append(Slab({}, area, area * band.depth(what), finish=finish, mix=mix))
        return [*out, *self.flights] if steps else out

    def area(self, *finishes: str, narrow: bool = False) -> float:
        """Return the area in some finishes, or what of it lies in bands and border strips."""
        strips = [p for p in self.pieces if p.typed["shape"] == "Border strip"] + self.curves
        of_bands = [(b.finish(what), area) for b in self.bands for what, area in b.parts[:2]]
        every = [(s.finish, s.area) for s in self.slabs()]
        narrows = [(s.finish, s.area) for s in strips] + of_bands
        return sum(a for f, a in (narrows if narrow else every) if f in finishes)

    def plan(self, slab: Slab) -> float:
        """Return the ground a slab covers: of steps their treads, not their risers."""
        if slab in self.flights:
            deep = base(slab.typed["tread"], "thickness", self.units)
            return float(slab.typed["count"] * deep * slab.typed["wide"].base)
        return slab.area


def rate(draw: st.DrawFn, units: Units, kind: str, least: float, most: float) -> float:
    """Draw a rate as typed; its limits are in US units."""
    into = factor(kind, "us") / factor(kind, units)
    value = (least + (most - least) * draw(st.integers(0, 20)) / 20) * into
    return round(value) if kind == "plain" and least >= 2 else round(value, 3)


@st.composite
def jobs(draw: st.DrawFn, units: Units) -> Job:
    """Draw a whole job."""
    usual = draw(slabs.usuals(units))
    pieces = draw(st.lists(slabs.pieces(units, usual, deducts=False), min_size=1, max_size=4))
    thick = draw(st.lists(slabs.thick_edges(units, usual), max_size=2))
    flights = draw(st.lists(slabs.flights(units, usual), max_size=2))
    curves = draw(st.lists(slabs.curved_bands(units, usual), max_size=2))
    of_bands = draw(usual_bands(units))
    bands = draw(st.lists(rectangles(units, usual, of_bands), max_size=3))
    typed: dict[str, Any] = {}
    for block, keys in RATES.items():
        lines = [
            {k: rate(draw, units, *of) for k, of in keys.items()}
            for _ in range(LINES.get(block, 1))
        ]
        typed[block] = lines if block in LINES else lines[0]
    _name(draw, typed)
    typed |= {"usual": usual.typed, "usual_bands": of_bands, "bands": [b.typed for b in bands]}
    typed |= places(bands)
    for block, drawn in (
        ("pieces", pieces),
        ("thick", thick),
        ("steps", flights),
        ("curves", curves),
    ):
        typed[block] = [s.typed for s in drawn]
    return Job(units, typed, usual, pieces, thick, flights, curves, bands)


def _name(draw: st.DrawFn, typed: dict[str, Any]) -> None:
    for line, name in zip(typed["mixes"], MIXES, strict=True):
        line |= {"name": name, "placed": draw(st.sampled_from(["Chute", "Wheelbarrow", "Pump"]))}
    for line, name in zip(typed["finishes"], FINISHES, strict=True):
        line |= {"name": name, "stamped": draw(st.sampled_from(["Yes", "No"]))}
    typed["soils"][0]["name"], typed["dig"]["soil"] = "Loam", "Loam"
    typed["bars"][0]["name"] = "Bar"
    for line in typed["steel"]:
        line |= {"bar": "Bar", "kind": draw(st.sampled_from(["None", "Bars", "Wire sheets"]))}
    for line in typed["products"]:
        on, also = draw(st.permutations(["Not used", *FINISHES]))[:2]
        on = draw(st.sampled_from([on, "All finishes", "All stamped", "All not stamped"]))
        other = ("coverage", "pail") if draw(st.booleans()) else ("dose", "bag")
        line |= {"on": on, "also": None if on.startswith("All") else also}
        line |= {"kind": draw(st.sampled_from(["Release", "Curing", "Sealer", "Other", None]))}
        line |= {"texture": draw(st.sampled_from(["Yes", "No"])), **dict.fromkeys(other)}
    for number, line in enumerate(typed["labor"]):
        line |= {
            "task": f"Task {number}",
            "driver": draw(st.sampled_from(DRIVERS)),
            "finish": draw(st.sampled_from([None, *FINISHES])),
            "strips": draw(st.sampled_from(["Yes", "No"])),
        }
    typed["forming"]["first"] = draw(st.sampled_from(["Bands first", "Panels first"]))
