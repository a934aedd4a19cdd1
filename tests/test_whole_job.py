"""The demo job worked out on paper from its dimensions, from the tape to hours, line by line.

The rates are those of the job file and of the sheets as they come; each stands in the line
that uses it.  Nothing here is read off the program.
"""

from __future__ import annotations

from math import ceil, pi, sqrt
from typing import Any

import pytest

from pourtally.files import templates_folder
from pourtally.jobfile import job_entries, read_job
from shop import laid_out, results

# The tape: a patio at a house in a border, two bands across inside and one along, a round
# planter and a box
LENGTH, WIDTH = 24.5, 16.75  # 24 ft 6 in along the house, 16 ft 9 in out from it
BAND = 1.25  # 15 in
FREE_LONG = LENGTH - 4 * BAND  # 19.5 ft left for panels between four bands
FREE_WIDE = WIDTH - 3 * BAND  # 13.0 ft left between three
PLANTER = pi / 4 * 5**2  # 19.635 ft², 5 ft across
BOX = 2.5 * 1.75  # 4.375 ft²
PLANTER_EDGE = 5 * pi  # 15.708 ft
BOX_EDGE = 2 * (2.5 + 1.75)  # 8.5 ft

# Areas: bands stamped, panels broomed, both cut-outs in panels
OUTSIDE = LENGTH * WIDTH  # 410.375 ft²
PANELS = FREE_LONG * FREE_WIDE  # 253.5 ft²
STAMPED = OUTSIDE - PANELS  # 156.875 ft²
BROOMED = PANELS - PLANTER - BOX  # 229.490 ft²
AREA = STAMPED + BROOMED  # 386.365 ft²

# Edges
SIDE_X, SIDE_Y = FREE_LONG / 3, FREE_WIDE / 2  # panels of 6.5 × 6.5 ft, three by two
JOINT = 6 * 2 * (SIDE_X + SIDE_Y)  # 156 ft round six panels
AROUND = 2 * (LENGTH + WIDTH)  # 82.5 ft
CUT_OUTS = PLANTER_EDGE + BOX_EDGE  # 24.208 ft
FREE_EDGE = AROUND - LENGTH + CUT_OUTS  # 82.208 ft: the long side at the house is not formed
FORMS = FREE_EDGE + JOINT  # 238.208 ft: the outside, both sides of inner bands, the cut-outs
TOOL = 2 * JOINT + AROUND + CUT_OUTS  # 418.708 ft: both sides of joints, every edge
LINES_ACROSS = 4 * (WIDTH - BAND)  # 62 ft, between center lines of the outer bands
LINES_ALONG = 3 * (LENGTH - BAND)  # 69.75 ft

# Concrete at 4 in: 324 ft²·in in a yd³; 1/8 in uneven; 5 % waste plain, 8 % colored
PLAIN, COLORED = BROOMED * 4 / 324, STAMPED * 4 / 324  # 2.833 and 1.937 yd³
NEED_PLAIN = (PLAIN + BROOMED * 0.125 / 324) * 1.05  # 3.068 yd³, from the chute: no pump
NEED_COLORED = (COLORED + STAMPED * 0.125 / 324) * 1.08  # 2.157 yd³, by wheelbarrow
ORDER_PLAIN = ceil(NEED_PLAIN / 0.25) * 0.25  # 3.25 yd³
ORDER_COLORED = ceil(NEED_COLORED / 0.25) * 0.25  # 2.25 yd³
PIGMENT = 4 / 100 * 564 * ORDER_COLORED  # 22.56 lb/yd³: 50.76 lb

# Mats of 3 × 2 ft, one lane on a band of 15 in
IN_SIDE = ceil(LENGTH / 3)  # 9: eight whole and 0.5 ft
IN_END = ceil((WIDTH - 2 * BAND) / 3)  # 14.25 ft, 5: four whole and 2.25 ft
IN_ALONG = ceil((LENGTH - 2 * BAND) / 3)  # 22 ft, 8: seven whole and 1 ft
IN_ACROSS = ceil(SIDE_Y / 3)  # 3: two whole and 0.5 ft
PLACEMENTS = 2 * IN_SIDE + 2 * IN_END + IN_ALONG + 2 * 2 * IN_ACROSS  # 48
ENDS = 2 + 2 + 1 + 4  # one at the end of each run; 15 in leave one strip of 24 in
ENDS_FROM = 1 + 2 + 1 + 1  # mats: two of 0.5 from one, each of 2.25 one, the 1 ft, four of 0.5

# Ground: 4 in slab on 4 in base, 1 in above the ground, 6 in beyond the free edge
DUG = AREA + FREE_EDGE * 0.5  # 427.469 ft²
BANK = DUG * (4 + 4 - 1) / 324  # 9.235 yd³
BASE = DUG * 4 / 324  # 5.277 yd³

# Steel: #3 of 20 ft, lap 40 × 3/8 = 15 in, so a bar covers 18.75 ft of a run
BAND_BARS = 2 * 4 + 2 * 3 + ceil(2 * 3 / 4)  # 4 strips of 15.5 ft; 3 of 23.25: a bar and 4.5 ft
IN_PANEL = SIDE_X - 2 * 0.25  # 6 ft between covers of 3 in, both ways alike
PANEL_SETS = 6 * 2 * (ceil(IN_PANEL / 1.5) + 1)  # 18 in both ways: 5 and 5 in six panels, 60
PANEL_BARS = ceil(PANEL_SETS / (20 // IN_PANEL))  # three from a bar: 20
STEEL = (BAND_BARS + PANEL_BARS) * 20 * 0.376  # 270.72 lb
HOLES = 2 * (PLANTER + BOX) / 1.5  # 32.013 ft of bars stop at the cut-outs
CHAIRS = (LINES_ACROSS + LINES_ALONG) / 3 + (PANELS - PLANTER - BOX) / 3**2  # 43.917 + 25.499

# Stakes every 3 ft and at both ends: the near side, two ends, four sides of six panels, the
# box; round the planter every 1.5 ft
STAKES = (9 + 1) + 2 * (6 + 1) + 24 * (3 + 1) + 4 * 2 + ceil(PLANTER_EDGE / 1.5)  # 139

# Cuts 30 × 4 in = 10 ft apart: panels need none; the border's sides of 24.5 ft two each, its
# ends of 14.25 one each, the band along of 22 two, each 15 in long
CUTS = (2 * 2 + 2 * 1 + 2) * BAND  # 10 ft
SEALANT = LENGTH * 0.5 * 0.25 * 12 / 231 * 1.1  # 0.175 gal along the house, 10 % lost
SHEET = LENGTH + 1.5  # 26 ft, one strip: 16.75 + 1.5 = 18.25 ft of the roll's 20

EXPECTED = {
    "bands.panel_x": SIDE_X, "bands.panel_y": SIDE_Y, "bands.panels": 6,
    "bands.panel_area": PANELS, "bands.band_area": STAMPED,
    "bands.diagonal": sqrt(LENGTH**2 + WIDTH**2),  # 29.679 ft
    "bands.drop": 0.25 * WIDTH,  # 4.1875 in to the lawn
    "finish_area.total": [BROOMED, STAMPED], "total.area": AREA,
    "total.form": FORMS, "total.joint": JOINT, "total.tool": TOOL, "total.isolation": LENGTH,
    "mix_volume.neat": [PLAIN, COLORED],
    "concrete.need": [NEED_PLAIN, NEED_COLORED],
    "concrete.order": [ORDER_PLAIN, ORDER_COLORED], "headline.concrete": 5.5,
    "color.weight": [0, PIGMENT], "color.bags": [0, ceil(PIGMENT / 25)],  # 2.03: 3 bags
    # Release 3.5 lb/100 ft², cure at 200 with 10 % texture, sealer twice at 250 with 20 %,
    # grip 0.1 lb/100 ft², cleaner at 400 with 20 %; 5 % waste each
    "product_order.powder": [STAMPED * 1.05 * 3.5 / 100, 0, 0, 0, 0, 0, STAMPED * 1.05 / 1000],
    "product_order.liquid": [
        0, 0, 0, BROOMED * 1.1 * 1.05 / 200, STAMPED * 1.2 * 2 * 1.05 / 250, 0, 0,
        STAMPED * 1.2 * 1.05 / 400,
    ],
    "product_order.packages": [1, 0, 0, 1, 1, 0, 1, 1],  # each well under one package
    "mats.placements": PLACEMENTS, "placements.mats": [0, PLACEMENTS],
    "mats.own": 1 + 2, "mats.cut": ENDS_FROM,  # a lane and two spares; 5
    "band_mats.whole": PLACEMENTS - ENDS,  # 39
    "forms.boards": ceil((FORMS - PLANTER_EDGE) * 1.05 / 12),  # 19.47: 20
    "forms.bender": ceil(PLANTER_EDGE * 1.05 / 8),  # 2.06: 3
    "forms.stakes": STAKES, "forms.nails": 2 * STAKES,  # 278
    "forms.strips": ceil(LENGTH * 1.05 / 50),  # 1 roll
    "forms.string": LINES_ACROSS + LINES_ALONG + AROUND + CUT_OUTS,  # 238.458 ft
    "base.area": DUG, "base.bank": BANK, "base.loose": BANK * 1.25,  # 11.544 yd³
    "base.loads": ceil(BANK * 1.25 / 10), "base.place": BASE,  # 2 loads
    "base.stone": ceil(BASE * 1.05 * 1.85 / 0.5) * 0.5,  # 10.251: 10.5 ton
    "steel.net": [0, 2 * (LINES_ACROSS + LINES_ALONG), PANEL_SETS * IN_PANEL - HOLES],  # 360 less
    "steel.bars": [0, BAND_BARS, PANEL_BARS], "steel_more.weight": STEEL,
    "steel_more.chairs": ceil(CHAIRS), "steel_more.dowels": 0,  # 69.42: 70
    "joints.cut": CUTS, "joints.seal": LENGTH, "joints.sealant": SEALANT,
    "joints.tubes": ceil(SEALANT / 0.226), "sheeting.strip": SHEET,  # 0.77: 1 tube
    "sheeting.rolls": ceil(SHEET / (100 - 1)),
}  # fmt: skip

# Two wheelbarrows of 2 ft³, 60 ft there and back at 200 ft/min and 2.75 min lost a trip; two more
# people at chute and rake
TRIP = (2.75 + 2 * 60 / 200) / 60  # 3.35 min, in hours
WHEELED = 2 / (27 / 2 * TRIP)  # 2.653 yd³ an hour

# No forecast: air 70 °F and concrete 75 set halfway between 6 and 4 h after batching, half an hour
# before the only load of each mix is discharged; the crew of four waits from the end of placing to
# 30 % of it, and from the bands' edges, 300 ft² an hour, to the first mat at 40 %
SETS = 6 - (72.5 - 70) / 10 * (6 - 4)  # 5.5 h
EDGES = 0.3 * SETS - 0.5  # 1.15 h
PLACED_PLAIN = ORDER_PLAIN / 20  # 0.163 h from the chute
PLACED_COLORED = ORDER_COLORED / WHEELED  # 0.848 h
FIRST_MAT = 0.4 * SETS - 0.5 - (EDGES + STAMPED / 300)  # 0.027 h
WAITED = 4 * ((EDGES - PLACED_PLAIN) + (EDGES - PLACED_COLORED) + FIRST_MAT)  # two days: 5.267

# Dig, form, two pours, stripping after each (washing goes with it), seal
VISITS = 2 + 2 + 2 + 1

# Bands take 1.2 times the hours on tasks that are slower in strips
STRIPS = 0.2 * STAMPED
HOURS = {
    "Move in and set up": VISITS * 0.75,
    "Lay out, square and level": (1 + 2) * 0.75,  # the grid and two cut-outs
    "String the band lines": (4 + 3) * 0.25,
    "Dig and load by machine": BANK * 0.4,  # 3.694
    "Spread and grade the base": BASE * 0.35,  # 1.847
    "Compact each layer of base": DUG * 1 * 0.003,  # 4 in is one layer: 1.282
    "Set edge forms": FORMS * 0.05,  # 11.910
    "True up forms between mixes": JOINT * 0.015,  # 2.34
    "Fix isolation strip": LENGTH * 0.015,  # 0.368
    "Lay bars on chairs": STEEL * 0.03,  # 8.122
    "Cover walls against splash": 0.5,  # 24.5 × 0.02 = 0.49, at least 0.5
    "Place by chute": ORDER_PLAIN * 0.32,  # 1.04
    "Place by wheelbarrow": ORDER_COLORED / WHEELED * (2 + 2),  # 3.392
    "Strike off": (AREA + STRIPS) * 0.005,  # 2.089
    "Bull float": (AREA + STRIPS) * 0.003,  # 1.253
    "Edge with the hand tool": TOOL * 0.008,  # 3.350
    "Broom": BROOMED * 0.006,  # 1.377, panels are open slab
    "Throw release powder": (STAMPED + STRIPS) * 0.004,  # 0.753
    "Stamp": PLACEMENTS * 0.1,  # 4.8
    "Detail by hand": (STAMPED + STRIPS) * 0.012,  # 2.259
    "Spray cure": 0.5,  # 229.49 × 0.002 = 0.459, at least 0.5
    "Saw joints": 0.5,  # 10 × 0.015 = 0.15, at least 0.5
    "Strip and clean forms": FORMS * 0.02,  # 4.764
    "Backfill along the edge": FREE_EDGE * 0.01,  # 0.822
    "Wash off release": STAMPED * 0.01,  # 1.569
    "Fill joints with sealant": LENGTH * 0.02,  # 0.49
    "Seal, each coat": 1,  # 2 × 156.875 × 0.003 = 0.941, at least 1
    "Wash out tools and mixer": 1,
    "Clean up and load out": VISITS * 0.75,
    "Keep moist: cover, wet, uncover": 1,  # no compound on 156.875 × 0.006 = 0.941, at least 1
    "Wait for set": WAITED,
}
TOTAL = sum(HOURS.values())
STAMPED_OWN = ("Throw release powder", "Stamp", "Detail by hand", "Wash off release",
               "Seal, each coat")  # fmt: skip
OWN = sum(HOURS[task] for task in STAMPED_OWN)  # 10.680
SHARED = TOTAL - OWN - HOURS["Broom"]
DAYS = {
    "hours.total": TOTAL,
    "hours.person_days": TOTAL / 8,
    "hours.crew_days": TOTAL / 8 / (4 * 0.85),  # four people, 85 % of the day
    "finish_hours.total": [HOURS["Broom"] + SHARED * BROOMED / AREA, OWN + SHARED * STAMPED / AREA],
}


@pytest.fixture(scope="module")
def got() -> dict[str, list[Any]]:
    job, wrong = read_job(templates_folder() / "jobs" / "demo.toml")
    entries, problems = job_entries(laid_out("us")[0], job, "demo.toml")
    assert wrong == problems == []
    return results("us", entries)


@pytest.mark.parametrize("key", [*EXPECTED, *DAYS])
def test_figure_comes_out_as_worked_on_paper(got: dict[str, list[Any]], key: str) -> None:
    expected = {**EXPECTED, **DAYS}[key]
    lines = expected if isinstance(expected, list) else [expected]
    assert got[key][: len(lines)] == pytest.approx(lines, rel=1e-9, abs=1e-9)
    assert not any(got[key][len(lines) :])


@pytest.mark.parametrize("task", HOURS)
def test_task_takes_the_hours_worked_on_paper(got: dict[str, list[Any]], task: str) -> None:
    assert got["labor.hours"][got["labor.task"].index(task)] == pytest.approx(HOURS[task])


def test_no_other_task_takes_hours(got: dict[str, list[Any]]) -> None:
    tasks = zip(got["labor.task"], got["labor.hours"], strict=True)
    assert {task for task, hours in tasks if hours} == set(HOURS)
