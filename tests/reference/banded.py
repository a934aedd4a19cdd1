"""Random banded rectangles: what is typed, and the same rectangle drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from hypothesis import strategies as st

from .grid import Grid, Way
from .measure import Length, Units, base
from .slabs import FINISHES, MIXES, Line, Usual, lengths, thicknesses

SIDES = ("left", "right", "near", "far")
WAYS = {"x": ("across", "end", ("left", "right")), "y": ("along", "side", ("near", "far"))}
LINES = 9
"""Lines on Strings for each rectangle."""


@dataclass(frozen=True)
class Banded:
    """One banded rectangle with everything that is typed about it.

    ``usual`` is what slabs take that say nothing, ``usual_bands`` what borders and bands take;
    ``own`` are the places typed for bands inside, each way.
    """

    typed: Line
    grid: Grid
    units: Units
    usual: Usual
    usual_bands: Line
    own: dict[str, tuple[Length, ...]]

    @property
    def against(self) -> list[str]:
        """Return the sides that stand against the house or a wall."""
        return [s for s in SIDES if self.typed[f"held_{s}"] == "Yes"]

    @cached_property
    def panel_area(self) -> float:
        """Add up the panels."""
        return float(sum(p.area for p in self.grid.panels))

    @cached_property
    def held(self) -> float:
        """Measure the outside edge against the house or a wall."""
        return sum(self.grid.side(s, self.grid.outside) for s in self.against)

    @cached_property
    def joint(self) -> float:
        """Measure the joints: panels at bands, and bands at a border placed apart from them."""
        return self.grid.joint + self.apart * self.grid.band_ends

    @property
    def apart(self) -> bool:
        """Tell whether the bands inside are of another mix than the border."""
        return self.mix("inside") != self.mix("border")

    @cached_property
    def forms_bands_first(self) -> float:
        """Board both sides of every band and the open side of every panel, less house or wall."""
        return float(self.grid.outside.length + self.joint - self.held)

    @cached_property
    def forms_panels_first(self) -> float:
        """Board every panel all round, and band ends, less where a panel stands against a wall."""
        held = sum(self.grid.side(s, p) for s in self.against for p in self.grid.panels)
        ends = self.joint - self.grid.joint
        return float(sum(p.length for p in self.grid.panels) + ends - held)

    @cached_property
    def tool(self) -> float:
        """Run the edging tool along both sides of every joint, and round the outside."""
        return float(self.grid.outside.length + self.joint + self.joint)

    def said(self, what: str, of: str) -> Any:
        """Return what a part takes: its own, else that of the border, else the usual one."""
        if (own := self.typed.get(f"{what}_{of}")) is not None:
            return own
        if what == "inside":
            return self.said("border", of)
        usual = {"thickness": self.usual.typed["thickness"], "finish": self.usual.finish,
                 "mix": self.usual.mix}  # fmt: skip
        return {**usual, **self.usual_bands}[of] if what == "border" else usual[of]

    def finish(self, what: str) -> str:
        """Return the finish of the border, the bands inside or the panels."""
        return str(self.said(what, "finish"))

    def mix(self, what: str) -> str:
        """Return their mix."""
        return str(self.said(what, "mix"))

    def depth(self, what: str) -> float:
        """Return their thickness in meters."""
        return base(self.said(what, "thickness"), "thickness", self.units)

    @cached_property
    def parts(self) -> list[tuple[str, float]]:
        """Return border, bands inside and panels, each with its area."""
        return [("border", float(self.grid.border.area)), ("inside", float(self.grid.inside.area)),
                ("panel", self.panel_area)]  # fmt: skip


def places(drawn: Sequence[Banded]) -> dict[str, list[Line]]:
    """Return what is typed on Strings for some rectangles, all their lines in order."""
    return {
        f"strings_{way}": [
            {"own": b.own[way][n]} if n < len(b.own[way]) else {}
            for b in drawn for n in range(LINES)
        ]
        for way in WAYS
    }  # fmt: skip


@st.composite
def usual_bands(draw: st.DrawFn, units: Units) -> Line:
    """Draw what borders and bands take that say nothing; the thickness may be the slabs'."""
    typed: Line = {"finish": draw(st.sampled_from(FINISHES)), "mix": draw(st.sampled_from(MIXES))}
    if draw(st.booleans()):
        typed["thickness"] = draw(thicknesses(units))
    return typed


@st.composite
def _way(draw: st.DrawFn, units: Units, way: str) -> tuple[Line, Way, tuple[Length, ...]]:
    """Draw one direction in whole marks of the tape: its border, its bands, maybe their places."""
    many, at, (one, other) = WAYS[way]
    whole, edge = draw(lengths(units, 3, 25)), draw(lengths(units, 0.15, 1))
    first, last = draw(st.booleans()), draw(st.booleans())
    wide = draw(lengths(units, 0.15, 1)) if draw(st.booleans()) else None
    band = wide or edge
    room = whole.marks - (first + last) * edge.marks
    count = draw(st.integers(0, min(8, (room - 1) // band.marks)))
    start = first * edge.marks
    own: list[int] = []
    if draw(st.booleans()) and room - count * band.marks > 4 * (count + 1):
        left = room - count * band.marks - (count + 1)  # each panel has one mark at least
        cuts = sorted(draw(st.integers(0, left)) for _ in range(count))
        own = [start + cut + 1 + n + n * band.marks for n, cut in enumerate(cuts)]
        own = [at + (band.marks + 1) // 2 for at in own]  # a center line on a mark, half up
    typed: Line = {
        "length" if way == "x" else "width": whole,
        f"{at}_wide": edge, f"inside_{many}": count,
        f"band_{one}": "Yes" if first else "No", f"band_{other}": "Yes" if last else "No",
    }  # fmt: skip
    if wide:
        typed[f"inside_{many}_wide"] = wide
    drawn = Way(whole.base, edge.base if first else 0.0, edge.base if last else 0.0, count,
                band.base, tuple(Length(m, units).base for m in own))  # fmt: skip
    return typed, drawn, tuple(Length(m, units) for m in own)


@st.composite
def rectangles(draw: st.DrawFn, units: Units, usual: Usual, usual_bands: Line) -> Banded:
    """Draw a banded rectangle that can be built."""
    (along, x, own_x), (across, y, own_y) = (draw(_way(units, w)) for w in WAYS)
    typed: Line = {
        **along,
        **across,
        "through": draw(st.sampled_from(["Along", "Across"])),
        "corners": draw(st.sampled_from(["Butt", "Miter"])),
        "falls": draw(st.sampled_from(["Along", "Across"])),
    }
    for side in SIDES:
        typed[f"held_{side}"] = draw(st.sampled_from(["Yes", "No", "No"]))
    kinds: tuple[tuple[str, st.SearchStrategy[Any]], ...] = (
        ("thickness", thicknesses(units)), ("finish", st.sampled_from(FINISHES)),
        ("mix", st.sampled_from(MIXES)),
    )  # fmt: skip
    for what in ("border", "inside", "panel"):
        for of, kind in kinds:
            if draw(st.booleans()):
                typed[f"{what}_{of}"] = draw(kind)
    grid = Grid(x, y, typed["through"], typed["corners"] == "Miter")
    return Banded(typed, grid, units, usual, usual_bands, {"x": own_x, "y": own_y})
