"""The drawing beside the entries: one shape by itself, against measures, by shapely."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from pourtally.model import Units
from sample import some
from shop import laid_out
from test_reference_yard import FILLS, STEP, TALL, Plan, fill_of, patio

ROOM = 0.07
"""What stays free round a shape, of the frame's width."""


class One(Plan):
    """The drawings of one sheet that show the one shape being typed."""

    def __init__(self, block: str, job: dict[str, Any], units: Units = "us") -> None:
        """Work the whole workbook out and keep this block's drawings."""
        super().__init__(job, units)
        self.charts = next(b.charts for b in laid_out(units, "small")[0].blocks if b.key == block)


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("seed", range(some(3)))
def test_the_rectangle_chosen_fills_its_frame_with_what_is_measured(
    seed: int, units: Units
) -> None:
    dice = Random(f"one {seed} {units}")
    slabs = [patio(dice, 1.0 if units == "us" else 0.3) for _ in range(3)]
    turns = [dice.randrange(4) for _ in slabs]
    yard = [{"line": f"bands_{n}", "turn": turn} for n, turn in enumerate(turns, 1)]
    chosen = dice.choice([None, 1, 2, 3])
    typed = {"shown_slab": {"rectangle": chosen}} if chosen else {}
    one = One("shown_slab", {"bands": slabs, "yard": yard} | typed, units)
    number = chosen or 3  # the last one filled in
    slab, turn = slabs[number - 1], turns[number - 1]
    sides = (slab["length"], slab["width"])
    across, up = sides if turn % 2 == 0 else sides[::-1]
    scale = min((1 - 2 * ROOM) / across, (TALL - 2 * ROOM) / up)
    frame = box(0.5 - across * scale / 2, TALL / 2 - up * scale / 2,
                0.5 + across * scale / 2, TALL / 2 + up * scale / 2)  # fmt: skip
    seen = one.seen("")
    slack = 4 * STEP * (across + up) * scale * 20
    assert unary_union(list(seen.values())).symmetric_difference(frame).area < slack
    meant = dict.fromkeys(FILLS, 0.0)
    for part in ("border", "inside", "panel"):
        meant[fill_of(slab, part)] += one.one(f"bands.{part}_area", number)
    for fill in FILLS:
        assert abs(seen[fill].area - meant[fill] * scale**2) < slack, fill
    assert one.one("shown_slab.area") == pytest.approx(slab["length"] * slab["width"])


def test_a_rectangle_that_is_not_there_shows_nothing() -> None:
    slab = {"length": 20, "width": 10}
    one = One("shown_slab", {"bands": [slab], "shown_slab": {"rectangle": 2}})
    assert all(area.area == 0 for area in one.seen("").values())
    words = (one.figures[f"one_words.{key}"] for key in ("says", "side", "panel"))
    assert list(words) == [[" "]] * 3  # a figure would stand for no words


LEGS = [
    {"walk": 1, "kind": "Straight", "length": 10}, {"kind": "Straight", "length": 4},
    {"walk": 2, "kind": "Straight", "length": 12}, {"kind": "Bend left", "angle": 60, "radius": 8},
]  # fmt: skip
WALKS = [{"width": 3, "finish": "Broomed"}, {"width": 4, "finish": "Stamped"}]


@pytest.mark.parametrize("chosen", [1, 2])
def test_the_walk_chosen_fills_its_frame_leg_by_leg(chosen: int) -> None:
    job: dict[str, Any] = {"legs": LEGS, "walks": WALKS, "shown_walk": {"walk": chosen}}
    one = One("shown_walk", job)
    legs = [Polygon(line) for line in one.lines("one_legs")]
    walk = unary_union([leg for leg in legs if leg.area > 0])
    left, low, right, high = walk.bounds
    wide, tall = right - left, high - low
    assert (left + right, low + high) == pytest.approx((1, 1 / 3), abs=2e-3)
    room = max(wide / (1 - 2 * ROOM), tall / (1 / 3 - 2 * ROOM))
    assert room == pytest.approx(1, abs=0.02)  # a bend may be drawn inside its true edge
    scale = one.one("one_walk.scale")
    area = one.one("walks.area", chosen)
    assert walk.area == pytest.approx(area * scale**2, rel=0.02)  # a bend in four straight parts
    fill = "strong" if chosen == 2 else "light"
    assert one.seen("")[fill].area == pytest.approx(walk.area, rel=0.01)
    assert one.one("shown_walk.area") == area
    if chosen == 1:  # straight: nothing is left to the drawing of a bend
        assert (wide / scale, tall / scale) == pytest.approx((14, 3))


def test_the_last_walk_is_drawn_while_none_is_chosen() -> None:
    assert One("shown_walk", {"legs": LEGS, "walks": WALKS}).one("one_walk.number") == 2
    assert One("shown_walk", {"legs": LEGS[:2], "walks": WALKS[:1]}).one("one_walk.number") == 1
