"""Random jobs: bars, wire sheets, chairs and dowels against steel laid in the yard."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil

from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from reference import steel
from reference.banded import Banded
from reference.buying import lines, packages
from reference.figures import ring
from reference.jobs import Job, jobs
from reference.measure import Length, Units, base, factor
from reference.slabs import Slab, lengths
from reference.workbook import asking
from test_reference import SETTINGS, UNITS, same

answers = asking("steel", "steel_more", "bars.lap")


@dataclass
class Zone:
    """What lies in a zone: its area, its center lines, and its slabs as strips or bands."""

    area: float = 0.0
    along: float = 0.0
    slabs: list[tuple[float, float, int]] = field(default_factory=list)
    bands: list[tuple[float, float, int]] = field(default_factory=list)
    groups: list[list[float]] = field(default_factory=list)
    sheeted: list[tuple[float, float, int]] = field(default_factory=list)
    grids: list[Banded] = field(default_factory=list)

    def band(self, length: float, wide: float, times: int = 1) -> None:
        """Add a band by its center line."""
        self.along += length * times
        self.bands.append((length, wide, times))


@UNITS
@SETTINGS
@given(data=st.data())
def test_steel_laid_bar_by_bar_and_sheet_by_sheet(units: Units, data: st.DataObject) -> None:
    job = data.draw(jobs(units))
    got = answers(units, job.typed)
    rate = {k: job.rate("steel_rates", k) for k in job.typed["steel_rates"]}
    lap = max(rate["least_lap"], rate["diameters"] * job.rate("bars", "across"))
    nets, counts, bought, chairs, wire = [], [], [], 0.0, 0
    for number, zone in enumerate(_zones(job)):
        kind, spacing = job.typed["steel"][number]["kind"], job.rate("steel", "spacing", number)
        bars = steel.Bars(spacing, rate["cover"], rate["stock"], lap, rate["shortest"])
        ways, cut = _laid(zone, bars, int(rate["in_band"]))
        on = kind == "Bars"
        nets.append(on * sum(map(sum, ways)))
        counts.append([on * len(way) for way in ways])
        bought.append(packages(on * cut * (1 + rate["waste"]), 1))
        if kind == "Wire sheets":
            sheet = steel.Sheet(rate["long"], rate["wide"], rate["space"] + rate["more"])
            wire += sum(
                steel.sheets(long, wide, times, sheet, rate["cover"])
                for long, wide, times in zone.slabs
            )
            wire += sum(_band_sheets(band, sheet, rate["cover"])
                        for band in [*zone.bands, *zone.sheeted])  # fmt: skip
            wire += sum(_panel_sheets(r, sheet, rate["cover"]) for r in zone.grids)
        if kind != "None":
            chairs += max(zone.area / rate["chairs"] ** 2, zone.along / rate["chairs"])
    same(got, "bars.lap", "thickness", [lap])
    same(got, "steel.net", "length", nets)
    same(got, "steel.lengthwise", "plain", [n for n, _ in counts])
    same(got, "steel.crosswise", "plain", [n for _, n in counts])
    same(got, "steel.bars", "plain", bought)
    bar = rate["stock"] * job.rate("bars", "weight")
    same(got, "steel.weight", "weight", [n * bar for n in bought])
    same(got, "steel_more.sheets", "plain", [wire])
    weight = sum(bought) * bar + wire * rate["long"] * rate["wide"] * rate["wire"]
    same(got, "steel_more.weight", "weight", [weight])
    same(got, "steel_more.chairs", "plain", [packages(chairs, 1)])
    joint = sum(b.joint for b in job.bands)
    same(got, "steel_more.dowels", "plain", [packages(joint, rate["dowels"])])


def _laid(zone: Zone, bars: steel.Bars, in_band: int) -> tuple[tuple[list[float], ...], int]:
    """Return the bars of a zone each way, and how many are bought; lines share no bar."""
    ways: tuple[list[float], list[float]] = ([], [])
    cut = 0
    for long, wide, times in zone.slabs:
        each = steel.both_ways(long, wide, bars)
        ways[0].extend(each[0] * times)
        ways[1].extend(each[1] * times)
        cut += steel.bought([*each[0], *each[1]] * times, bars)
    for group in zone.groups:
        ways[0].extend(group * in_band)
        cut += steel.bought(group * in_band, bars)
    for rectangle in zone.grids:
        cut += _panels(rectangle, bars, ways)
    for length, _, times in zone.bands:
        ways[0].extend([length] * in_band * times)
        cut += steel.bought([length] * in_band * times, bars)
    return ways, cut


def _panels(rectangle: Banded, bars: steel.Bars, ways: tuple[list[float], list[float]]) -> int:
    """Lay every panel; return how many bars are bought.

    Equal panels are cut together; between bands at places of their own each column of panels
    is cut by itself, and each row.
    """
    cuts: dict[tuple[int, float], list[float]] = {}
    for left, low, right, high in (p.bounds for p in rectangle.grid.panels):
        each = steel.both_ways(right - left, high - low, bars)
        for number, (way, at) in enumerate((("x", left), ("y", low))):
            ways[number].extend(each[number])
            group = (number, at) if rectangle.own[way] else (number, -1.0)
            if not any(rectangle.own.values()):
                group = (0, -1.0)  # bought sorts them by length itself
            cuts.setdefault(group, []).extend(each[number])
    return sum(steel.bought(pieces, bars) for pieces in cuts.values())


def _panel_sheets(rectangle: Banded, sheet: steel.Sheet, cover: float) -> int:
    """Lay every panel as if it were the largest one."""
    sides = [(right - left, high - low) for left, low, right, high in
             (p.bounds for p in rectangle.grid.panels)]  # fmt: skip
    long, wide = max(s for s, _ in sides), max(s for _, s in sides)
    return steel.sheets(long, wide, len(sides), sheet, cover)


def _band_sheets(band: tuple[float, float, int], sheet: steel.Sheet, cover: float) -> int:
    """Lay a band to the ends of its center line."""
    length, wide, times = band
    return steel.sheets(length + 2 * cover, wide, times, sheet, cover)


def _zones(job: Job) -> tuple[Zone, Zone, Zone]:
    slabs, bands, panels = Zone(), Zone(), Zone()
    for piece in job.pieces:
        _add_piece(slabs, piece)
    for curve in job.curves:
        inner, wide = curve.typed["inner"].base, curve.typed["wide"].base
        figure = ring(inner, inner + wide, base(curve.typed["angle"], "angle", job.units))
        bands.area += figure.area
        bands.band(figure.area / wide, wide)
    for rectangle in job.bands:
        drawn = lines(rectangle)
        for what, area in rectangle.parts[:2]:
            middle = sum(length for part, _, length in drawn if part == what)
            bands.area += area
            bands.along += middle
            if middle:
                bands.sheeted.append((middle, area / middle, 1))
        bands.groups += [[n for _, runs, n in drawn if runs == way] for way in ("x", "y")]
        panels.area += rectangle.panel_area
        panels.grids.append(rectangle)
    return slabs, bands, panels


def _add_piece(zone: Zone, piece: Slab) -> None:
    zone.area += piece.area
    times = piece.typed.get("count", 1)
    long, wide = steel.strip(piece)
    if piece.typed["shape"] == "Border strip":
        zone.band(long, wide, times)
    else:
        zone.slabs.append((long, wide, times))


@UNITS
@SETTINGS
@given(data=st.data())
def test_bars_stop_at_a_hole_and_none_is_saved(units: Units, data: st.DataObject) -> None:
    """The sides of the hole are whole spacings: then it takes off the same wherever it lies."""
    spacing, marks = (18, 18 * 16) if units == "us" else (450, 450)
    a, b = (data.draw(lengths(units, 6, 20)) for _ in range(2))
    wide, high = (data.draw(st.integers(1, 4)) for _ in range(2))
    hole = [Length(n * marks, units) for n in (wide, high)]
    slab = {"shape": "Rectangle", "a": a, "b": b}
    cut_out = {"shape": "Rectangle", "a": hole[0], "b": hole[1], "sign": "Hole"}
    steel_typed = {"steel": [{"spacing": spacing}]}
    whole = answers(units, {"pieces": [slab], **steel_typed})
    got = answers(units, {"pieces": [slab, cut_out], **steel_typed})
    step = marks * factor("mark", units)
    cover = 0.0762 if units == "us" else 0.075
    bars = steel.Bars(step, cover, 6.0, 0.4, 0.6)
    x, y = (cover + step * (ceil(1 + n) - 0.5) for n in (0, 0))  # half a spacing past a bar
    drawn = box(x, y, x + hole[0].base, y + hole[1].base)
    off = steel.left_out(drawn, box(0, 0, a.base, b.base), bars)
    (net, *_), (before, *_) = (g.base("steel.net", "length") for g in (got, whole))
    assert abs(before - net - off) < 1e-6
    assert got["steel.bars"][0] == whole["steel.bars"][0] > 0
