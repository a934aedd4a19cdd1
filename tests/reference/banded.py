"""Random banded rectangles: what is typed, and the same rectangle drawn."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from hypothesis import strategies as st

from .grid import Grid, Way
from .measure import Length, Units, base
from .slabs import FINISHES, MIXES, Line, lengths, thicknesses

SIDES = ("left", "right", "near", "far")


@dataclass(frozen=True)
class Banded:
    """One banded rectangle with everything that is typed about it."""

    typed: Line
    grid: Grid
    units: Units

    @property
    def banded(self) -> list[str]:
        """Return the sides that carry a band."""
        return [s for s in SIDES if self.typed[f"band_{s}"] == "Yes"]

    @property
    def against(self) -> list[str]:
        """Return the sides that stand against a structure."""
        return [s for s in SIDES if self.typed[f"held_{s}"] == "Yes"]

    @cached_property
    def panel_area(self) -> float:
        """Add up the panels."""
        return float(sum(p.area for p in self.grid.panels))

    @cached_property
    def held(self) -> float:
        """Measure the outside edge against a structure."""
        return sum(self.grid.side(s, self.grid.outside) for s in self.against)

    @cached_property
    def forms_bands_first(self) -> float:
        """Board both sides of every band and the open side of every panel, less structures."""
        open_side = sum(self.grid.side(s, p) for s in SIDES for p in self.grid.panels)
        return float(self.grid.bands.length + open_side - self.held)

    @cached_property
    def forms_panels_first(self) -> float:
        """Board every panel all round, less where it stands against a structure."""
        held = sum(self.grid.side(s, p) for s in self.against for p in self.grid.panels)
        return float(sum(p.length for p in self.grid.panels) - held)

    @cached_property
    def tool(self) -> float:
        """Run the edging tool round every slab: the panels, and the bands."""
        return float(sum(p.length for p in self.grid.panels) + self.grid.bands.length)

    def depth(self, what: str) -> float:
        """Return the thickness of the bands or the panels in meters."""
        return base(self.typed[f"{what}_thickness"], "thickness", self.units)


@st.composite
def _ways(
    draw: st.DrawFn, units: Units, wide: Length | None = None
) -> tuple[Length, int, Length, bool, bool]:
    whole, wide = draw(lengths(units, 3, 25)), wide or draw(lengths(units, 0.15, 1))
    first, last = draw(st.booleans()), draw(st.booleans())
    most = min(8, (whole.marks - 1) // wide.marks)
    count = draw(st.integers(first + last, max(most, first + last)))
    return whole, count, wide, first, last


@st.composite
def rectangles(draw: st.DrawFn, units: Units) -> Banded:
    """Draw a banded rectangle that can be built."""
    length, across, wide_x, left, right = draw(_ways(units))
    alike = wide_x if draw(st.booleans()) else None
    width, along, wide_y, near, far = draw(_ways(units, alike))
    typed: Line = {
        "length": length,
        "width": width,
        "across": across,
        "along": along,
        "across_wide": wide_x,
        "along_wide": wide_y,
        "through": draw(st.sampled_from(["Along", "Across"])),
        "falls": draw(st.sampled_from(["Along", "Across"])),
    }
    for side, banded in zip(SIDES, (left, right, near, far), strict=True):
        typed[f"band_{side}"] = "Yes" if banded else "No"
        typed[f"held_{side}"] = draw(st.sampled_from(["Yes", "No", "No"]))
    for what in ("band", "panel"):
        typed[f"{what}_thickness"] = draw(thicknesses(units))
        typed[f"{what}_finish"] = draw(st.sampled_from(FINISHES))
        typed[f"{what}_mix"] = draw(st.sampled_from(MIXES))
    x = Way(length.base, across, wide_x.base, left, right)
    y = Way(width.base, along, wide_y.base, near, far)
    return Banded(typed, Grid(x, y), units)
