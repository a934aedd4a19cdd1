"""Random walks: lengths, areas, bands, forms, cuts and mats against walks drawn and measured."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import floor, pi, radians
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference import slabs
from reference.measure import Length, Units, base
from reference.walks import Drawn, Leg, Walk, by_chord, count, stakes
from reference.workbook import Answers, asking
from test_reference import NAMES, SETTINGS, UNITS

answers = asking("walks", "legs", "finish_area.total", "mix_volume.neat", "total", "edges",
                 "joints.walks", "mats.placements", "mats.row", "narrow.area")  # fmt: skip
LEGS, LINES = 10, 40
WIDEST = 3.0
EVEN, TAPERED = 2e-6, 2e-3
"""How close lengths must come, as parts of a center line: of one width, and of a changing one.

Where the width changes on a bend, an edge is taken as the long side of a triangle, with half
the change of width as the short one; that is this close where it changes by up to a quarter of
the walk's length, on bends whose inner edge is half a width or more from their center.
"""
STAMPED = {"Stamped", "Floated", "Washed"}
STEPS = {"us": (3.0, 1.5), "si": (0.9, 0.45)}
"""From stake to stake on straight forms, and on bent ones."""


@dataclass(frozen=True)
class Case:
    """A walk as typed, and as it is meant."""

    typed: dict[str, Any]
    legs: list[dict[str, Any]]
    walk: Walk
    units: Units
    kinds: dict[str, tuple[str, str]]
    depths: dict[str, float]
    drawn: list[Drawn] = field(default_factory=list)

    @property
    def close(self) -> float:
        """Return how close its lengths must come, as parts of its center line."""
        return EVEN if self.walk.start == self.walk.end else TAPERED

    @property
    def slack(self) -> float:
        """Return how far off a length along it may be."""
        return self.close * self.walk.length

    @property
    def free(self) -> list[float]:
        """Return the widths of the ends that stand free."""
        ends = (("held_start", self.walk.start), ("held_end", self.walk.end))
        return [wide for key, wide in ends if self.typed[key] != "Yes"]

    @property
    def held(self) -> float:
        """Return the edge against the house or a wall."""
        ends = self.walk.start + self.walk.end - sum(self.free)
        return ends + float(min(self.typed["against"].base, self.sides))

    @property
    def sides(self) -> float:
        """Return the length of both its sides."""
        return sum(d.left + d.right for d in self.drawn)

    @property
    def outside(self) -> float:
        """Return the length all round it."""
        return self.sides + self.walk.start + self.walk.end

    @property
    def joint(self) -> float:
        """Return the length of the inner sides of its edge bands."""
        return sum(sum(d.inner) for d in self.drawn)

    @property
    def band(self) -> float:
        """Return the width of its edge bands."""
        return max(self.walk.bands)


@st.composite
def bends(draw: st.DrawFn, units: Units, half: float) -> tuple[dict[str, Any], Leg]:
    """Draw a bend whose inner edge does not turn back, told in one of the three ways."""
    side = draw(st.sampled_from([1, -1]))
    typed: dict[str, Any] = {"kind": "Bend left" if side > 0 else "Bend right"}
    radius = draw(slabs.lengths(units, half + 0.01, half + 12))
    how = draw(st.sampled_from(["angle", "length", "chord"]))
    if how == "angle":
        angle = draw(st.integers(1, 360))
        typed |= {"angle": angle, "radius": radius}
        return typed, Leg(radius.base * radians(angle), side * radians(angle))
    if how == "length":
        length = draw(slabs.lengths(units, 0.2, 2 * pi * radius.base - 0.1))
        typed |= {"length": length, "radius": radius}
        return typed, Leg(length.base, side * length.base / radius.base)
    chord = draw(slabs.lengths(units, 2 * half + 0.05, 2 * half + 10))
    rise = Length(draw(st.integers(max(1, chord.marks // 50), chord.marks // 2)), units)
    curve, angle_of = by_chord(chord.base, rise.base)
    typed |= {"chord": chord, "rise": rise}
    return typed, Leg(curve * angle_of, side * angle_of)


@st.composite
def walks(draw: st.DrawFn, units: Units, usual: slabs.Usual) -> Case:
    start = draw(slabs.lengths(units, 0.9, WIDEST))
    tapered = draw(st.booleans())
    legs = []
    for _ in range(draw(st.integers(1, LEGS))):
        if draw(st.booleans()):
            length = draw(slabs.lengths(units, 0.5, 15))
            legs.append(({"kind": "Straight", "length": length}, Leg(length.base)))
        else:
            legs.append(draw(bends(units, WIDEST if tapered else start.base / 2)))
    end = start
    if tapered:
        most = sum(leg.length for _, leg in legs) / 4
        least, most = max(0.5, start.base - most), min(WIDEST, start.base + most)
        end = draw(slabs.lengths(units, least, most))
    on = draw(st.tuples(st.booleans(), st.booleans()))
    wide = draw(slabs.lengths(units, 0.1, min(start.base, end.base) / 2 - 0.05))
    typed: dict[str, Any] = {"width": start, "band_wide": wide}
    typed |= {"width_end": end} if tapered else {}
    for key, yes in zip(("band_left", "band_right"), on, strict=True):
        typed[key] = "Yes" if yes else draw(st.sampled_from(["No", None]))
    for key in ("held_start", "held_end"):
        typed[key] = draw(st.sampled_from(["Yes", "No", None]))
    typed["against"] = draw(slabs.lengths(units, 0.1, 20))
    named, depths = {}, {}
    for part in ("", "band_"):
        kind, depths[part], finish, mix = draw(slabs.kinds(units, usual))
        kind |= {"finish": finish, "mix": mix}
        typed |= {f"{part}{key}": value for key, value in kind.items()}
        named[part] = (finish, mix)
    bands = (wide.base * on[0], wide.base * on[1])
    walk = Walk([leg for _, leg in legs], start.base, end.base, bands)
    return Case(typed, [t for t, _ in legs], walk, units, named, depths, walk.drawn())


@st.composite
def typed_in_turn(
    draw: st.DrawFn, drawn: list[Case]
) -> tuple[list[list[int]], list[dict[str, Any]]]:
    """Type the legs of all walks into one table; return the lines of each walk, and the table.

    Walks come in any order, one may be broken off and taken up again, and lines stay empty;
    the number of a walk stands where it begins, and may stand on its other legs too.
    """
    many = sum(len(one.legs) for one in drawn)
    turns = [n for n, one in enumerate(drawn) for _ in one.legs]
    if draw(st.booleans()):
        turns = draw(st.permutations(turns))
    empty = draw(st.lists(st.integers(0, many), max_size=LINES - many))
    lines: list[list[int]] = [[] for _ in drawn]
    table: list[dict[str, Any]] = []
    before = 0
    for place, walk in enumerate(turns):
        table += [{}] * empty.count(place)
        leg = drawn[walk].legs[len(lines[walk])]
        told = walk != before or draw(st.booleans())
        lines[walk].append(len(table))
        table.append({**leg, "walk": walk + 1} if told else leg)
        before = walk
    return lines, table


@UNITS
@SETTINGS
@given(data=st.data())
def test_walks_come_out_as_drawn(units: Units, data: st.DataObject) -> None:
    usual = data.draw(slabs.usuals(units))
    drawn = data.draw(st.lists(walks(units, usual), min_size=1, max_size=4))
    long, wide = data.draw(slabs.lengths(units, 0.4, 1.2)), data.draw(slabs.lengths(units, 0.2, 1))
    finishes = [{"name": n, "stamped": "Yes" if n in STAMPED else "No"} for n in slabs.FINISHES]
    lines, legs = data.draw(typed_in_turn(drawn))
    got = answers(units, {
        **NAMES, "finishes": finishes, "usual": usual.typed, "legs": legs,
        "walks": [one.typed for one in drawn], "mat": {"length": long, "width": wide},
    })  # fmt: skip
    for line, one in enumerate(drawn):
        _compare_legs(got, lines[line], one)
        _compare_walk(got, line, one)
        _compare_mats(got, line, one, long.base, wide.base)
        _compare_stakes(got, line, one)
    _compare_totals(got, drawn)


def _near(
    got: Answers, key: str, kind: str, line: int, expected: float, rel: float, off: float = 1e-6
) -> None:
    """Compare one figure in SI base units, which may be ``off`` by so much, or ``rel`` of it."""
    have = got.base(key, kind)[line]
    assert have == pytest.approx(expected, rel=rel, abs=max(off, 1e-6)), f"{key}[{line}]"


def _compare_legs(got: Answers, lines: list[int], one: Case) -> None:
    at = 0.0
    for row, leg, seen in zip(lines, one.walk.legs, one.drawn, strict=True):
        _near(got, "legs.center", "length", row, leg.length, 1e-9)
        _near(got, "legs.turn", "plain", row, leg.turn, 1e-9)
        _near(got, "legs.start", "length", row, at, 1e-9)
        off = (one.close if leg.turn else EVEN) * leg.length  # a straight edge is exact
        _near(got, "legs.left", "length", row, seen.left, EVEN, off)
        _near(got, "legs.right", "length", row, seen.right, EVEN, off)
        if leg.turn:
            _compare_forms(got, row, one, leg, at)
        at += leg.length


def _compare_forms(got: Answers, row: int, one: Case, leg: Leg, at: float) -> None:
    """Compare the radius, and those of both forms, half of the width in its middle apart."""
    radius = leg.length / abs(leg.turn)
    share = (at + leg.length / 2) / one.walk.length
    wide = one.walk.start + (one.walk.end - one.walk.start) * share
    _near(got, "legs.bend", "length", row, radius, 1e-9)
    _near(got, "legs.inside", "length", row, radius - wide / 2, 1e-9)
    _near(got, "legs.outside", "length", row, radius + wide / 2, 1e-9)


def _compare_walk(got: Answers, line: int, one: Case) -> None:
    off, whole = one.slack, sum(d.area for d in one.drawn)
    bands, middle = sum(d.bands for d in one.drawn), sum(sum(d.lines) for d in one.drawn)
    wider = 2 * off * one.band
    assert got["walks.ready"][line] == 1
    _near(got, "walks.center", "length", line, one.walk.length, 1e-9)
    _near(got, "walks.left", "length", line, sum(d.left for d in one.drawn), EVEN, 2 * off)
    _near(got, "walks.right", "length", line, sum(d.right for d in one.drawn), EVEN, 2 * off)
    _near(got, "walks.area", "area", line, whole, EVEN)
    _near(got, "walks.band_line", "length", line, middle, EVEN, 2 * off)
    _near(got, "walks.band_area", "area", line, bands, EVEN, wider)
    volume = (whole - bands) * one.depths[""]
    _near(got, "walks.volume", "volume", line, volume, 2 * EVEN, wider * one.depths[""])
    volume = bands * one.depths["band_"]
    _near(got, "walks.band_volume", "volume", line, volume, EVEN, wider * one.depths["band_"])
    _near(got, "walks.joint", "length", line, one.joint, EVEN, 2 * off)
    _near(got, "walks.held", "length", line, one.held, EVEN, 2 * off)
    _near(got, "walks.edge", "length", line, one.outside, EVEN, 2 * off)
    form = one.outside + one.joint - one.held
    _near(got, "walks.form", "length", line, form, EVEN, 4 * off)
    bent = sum(
        d.left + d.right + sum(d.inner)
        for d, leg in zip(one.drawn, one.walk.legs, strict=True) if leg.turn
    )  # fmt: skip
    _near(got, "walks.bent", "length", line, min(form, bent), EVEN, 4 * off)
    _compare_cuts(got, line, one)


def _compare_cuts(got: Answers, line: int, one: Case) -> None:
    """Walk along it from cut to cut, in equal parts; each is as long as it is wide there."""
    most = {"us": 15 * 0.3048, "si": 4.5}[one.units]
    spacing = min(30 * one.depths[""], most)
    parts = count(one.walk.length, spacing)
    widths = [one.walk.start + (one.walk.end - one.walk.start) * n / parts for n in range(1, parts)]
    assert got["walks.cuts"][line] == len(widths)
    _near(got, "walks.cut_length", "length", line, sum(widths), 1e-9)


def _compare_mats(got: Answers, line: int, one: Case, long: float, wide: float) -> None:
    """Lay them leg by leg; where widths or lengths are measured, they may be off by as much."""
    between = at_edge = 0
    least = most = 0
    lanes = count(max(d.widest for d in one.drawn) - sum(one.walk.bands), wide)
    for seen in one.drawn:
        between += lanes * count(seen.center, long)
        for length in (n for n in seen.lines if n > 0):
            at_edge += 1
            least += count(one.band, wide) * count(length - one.slack, long)
            most += count(one.band, wide) * count(length + one.slack, long)
    stamped = {part: one.kinds[part][0] in STAMPED for part in one.kinds}
    assert got["walks.mats"][line] == between * stamped[""]
    assert least * stamped["band_"] <= got["walks.band_mats"][line] <= most * stamped["band_"]
    assert (most > 0) == (at_edge > 0)


def _compare_stakes(got: Answers, line: int, one: Case) -> None:
    """Walk each side of each leg, closer together where it bends, and the ends that are free.

    The house or a wall spares as many as stand at the wider spacing along it.
    """
    straight, bent = (base(step, "length", one.units) for step in STEPS[one.units])
    fewer = floor(min(one.typed["against"].base, one.sides) / straight + 1e-6)
    sides = [
        (bent if leg.turn else straight, length)
        for d, leg in zip(one.drawn, one.walk.legs, strict=True)
        for length in (d.left, d.right, *d.inner) if length
    ]  # fmt: skip
    least, most = (
        sum(stakes([length + off], step) for step, length in sides)
        + stakes(one.free, straight) - fewer
        for off in (-one.slack, one.slack)
    )  # fmt: skip
    assert max(0, least) <= got["walks.stakes"][line] <= max(0, most)


def _compare_totals(got: Answers, drawn: list[Case]) -> None:
    areas, volumes = dict.fromkeys(slabs.FINISHES, 0.0), dict.fromkeys(slabs.MIXES, 0.0)
    for one in drawn:
        bands = sum(d.bands for d in one.drawn)
        parts = {"": sum(d.area for d in one.drawn) - bands, "band_": bands}
        for part, area in parts.items():
            finish, mix = one.kinds[part]
            areas[finish] += area
            volumes[mix] += area * one.depths[part]
    off = 8 * sum(one.slack for one in drawn)
    for key, kind, expected in (
        ("finish_area.total", "area", [*areas.values()]),
        ("narrow.area", "area", [*areas.values()]),
        ("mix_volume.neat", "volume", [*volumes.values()]),
        ("total.joint", "length", [sum(one.joint for one in drawn)]),
        ("total.isolation", "length", [sum(one.held for one in drawn)]),
        ("total.tool", "length", [sum(one.outside + 2 * one.joint for one in drawn)]),
    ):
        for line, figure in enumerate(expected):
            _near(got, key, kind, line, figure, EVEN, off)
    assert got["joints.walks"][0] == pytest.approx(sum(got["walks.cut_length"]))
    for key in ("stakes", "bent"):
        assert sum(got[f"edges.{key}"]) == pytest.approx(sum(got[f"walks.{key}"]))
    placed = sum(got["walks.mats"]) + sum(got["walks.band_mats"])
    assert got["mats.placements"][0] == placed


@pytest.mark.parametrize("turn", [0.3, 1.5, 3.0, 6.0])
@given(wide=st.floats(0.5, 3), radius=st.floats(2, 20))
def test_a_drawn_bend_is_the_ring_it_should_be(turn: float, wide: float, radius: float) -> None:
    (seen,) = Walk([Leg(radius * turn, turn)], wide, wide, (0.2, 0.0)).drawn()
    low, high = radius - wide / 2, radius + wide / 2
    assert seen.area == pytest.approx(turn / 2 * (high**2 - low**2), rel=EVEN)
    assert (seen.left, seen.right) == pytest.approx((turn * low, turn * high), rel=EVEN)
    assert seen.bands == pytest.approx(turn / 2 * ((low + 0.2) ** 2 - low**2), rel=EVEN)
    assert seen.inner == pytest.approx((turn * (low + 0.2), 0), rel=EVEN)


@pytest.mark.parametrize(("end", "angle"), [(5, 90), (6, 45), (3, 180)])
def test_a_walk_that_widens_gently_is_far_closer(end: int, angle: int) -> None:
    """From 4 ft, on a radius of 20 ft: 3 parts in 10,000, three eighths of an inch on 100 ft."""
    leg = {"kind": "Bend left", "angle": angle, "radius": Length(20 * 192, "us")}
    wide = {"width": Length(4 * 192, "us"), "width_end": Length(end * 192, "us")}
    got = answers("us", {"walks": [{**wide, "band_left": "Yes"}], "legs": [leg]})
    foot = base(1, "length", "us")
    turn = radians(angle)
    walk = Walk([Leg(20 * foot * turn, turn)], 4 * foot, end * foot, (foot, 0.0))
    (seen,) = walk.drawn()
    for key, length in (("left", seen.left), ("right", seen.right), ("joint", seen.inner[0])):
        _near(got, f"walks.{key}", "length", 0, length, 3e-4)
    _near(got, "walks.band_area", "area", 0, seen.bands, 3e-4)
