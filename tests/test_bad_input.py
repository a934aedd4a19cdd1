"""Whatever is typed or pasted into the entries: no error value, and no bad cell goes unseen.

The cells that are wrong are counted here from the declared limits and the lists alone, and
held against what the workbook's own list of limits says.
"""

from __future__ import annotations

import random
from datetime import date, time
from itertools import product
from typing import Any

import pytest

from pourtally.files import read, templates_folder
from pourtally.jobfile import job_entries
from pourtally.local import applied, usual
from pourtally.model import Book, Entries, Part, Scalar, Units
from sample import some
from shop import FINE, LOOK, STOP, keys_of, laid_out, results

Worked = dict[str, list[Any]]
SHOWN = ("checks", "headline")
"""What shows that a check is open."""

WORDS: list[Scalar] = ["about four", "4 ft", "12", " ", "n/a", "#N/A", "TRUE", "x" * 250]
NUMBERS: list[Scalar] = [-1.0, -0.5, -1e9, 0.0, 1e-9, 0.5, 1e6, 1e12]
NO_TEXTS: list[Scalar] = [12.0, -1.0, "x" * 250]
NO_CHOICES: list[Scalar] = ["Nonsense", 3.0, " ", "yess"]


def listed(book: Book, entries: Entries, blank: Worked, part: Part) -> list[str]:
    """Return the names an entry may be chosen from, and what those lines were called before."""
    block, _, names = book.parts[part.limits.choices]
    was = book.parts[f"{block.key}.was"][2] if f"{block.key}.was" in book.parts else None
    if names.kind == "formula":
        return [str(n) for p in (names, was) if p for n in blank[p.key] if n]
    columns = [
        entries.get(p.key) or [p.value(line) for line in range(block.lines)]
        for p in (names, was) if p
    ]  # fmt: skip
    return [str(n) for column in columns for n, name in zip(column, columns[0], strict=True)
            if n and name]  # fmt: skip


def is_bad(part: Part, required: bool, names: list[str], value: Scalar) -> bool:
    """Tell whether a cell is wrong, by what its declaration says."""
    if value is None:
        return required
    if part.entry == "choice":
        return str(value).casefold() not in [n.casefold() for n in names]
    if part.entry == "text":
        return False
    if isinstance(value, str) or not part.limits.least <= value <= part.limits.most:
        return True
    return part.limits.whole and value != int(value)


def good(rng: random.Random, part: Part, names: list[str]) -> Scalar:
    if part.entry == "choice":
        return rng.choice(names) if names else None
    if part.entry == "text":
        return rng.choice(["Walk", "Smith & Sons", "7"])
    least, most = part.limits.least, part.limits.most
    between = round(rng.uniform(least, most), 0 if part.limits.whole else 2)
    return rng.choice([least, most, between, min(most, least + 3)])


def bad(rng: random.Random, part: Part) -> Scalar:
    if part.entry == "text":
        return rng.choice(NO_TEXTS)
    if part.entry == "choice":
        return rng.choice(NO_CHOICES)
    return rng.choice(WORDS + NUMBERS)


def fill(seed: int, units: Units, blank: Worked) -> Entries:
    """Fill in a workbook: half-filled with fair values, or with bad ones, few or many."""
    rng = random.Random(seed)
    book, _ = laid_out(units)
    share_bad, share_good = [(0.0, 0.5), (0.01, 0.3), (0.3, 0.3), (1.0, 0.0)][seed % 4]
    entries: Entries = {}
    for key, (block, _, part) in book.entries().items():
        names = listed(book, {}, blank, part) if part.entry == "choice" else []
        column = [part.value(line) for line in range(block.lines)]
        for line in range(block.lines):
            dice = rng.random()
            if dice < share_bad:
                column[line] = bad(rng, part)
            elif dice < share_bad + share_good:
                column[line] = good(rng, part, names)
            elif dice > 0.97 and block.lines > 1:
                column[line] = None
        entries[key] = column
    return entries


@pytest.fixture(scope="module", params=["us", "si"])
def blank(request: pytest.FixtureRequest) -> tuple[Units, Worked]:
    return request.param, results(request.param, {})


@pytest.mark.parametrize("seed", range(some(8)))
def test_every_bad_cell_is_counted_and_no_formula_fails(
    seed: int, blank: tuple[Units, Worked]
) -> None:
    units, usual = blank
    book, _ = laid_out(units)
    entries = fill(seed, units, usual)
    worked: Worked = results(units, entries)  # raises where a formula gives an error
    entry = book.parts["limits.count"][0].codes
    counted = dict(zip(entry, worked["limits.count"], strict=True))
    expected: dict[str, int] = {}
    for key, (block, item, part) in book.entries().items():
        if part.entry != "text":
            names = listed(book, entries, worked, part) if part.entry == "choice" else []
            required = block.lines == 1 and part.entry == "number" and not part.limits.optional
            used = worked[block.used] if block.used and f"{key}.no" in worked else [1] * block.lines
            bad = sum(
                is_bad(part, required, names, v)
                for v, on in zip(entries[key], used, strict=True) if on
            )  # fmt: skip
            expected[item.key] = expected.get(item.key, 0) + bad
    assert {k: c for k, c in counted.items() if c != expected.get(k, 0)} == {}
    assert worked["status.limits_wrong"] == [sum(expected.values())]
    if sum(expected.values()):
        assert worked["status.stops"][0] > 0
        assert str(worked["headline.area"][0]).startswith("STOP")


# Half-filled lines ----------------------------------------------------------------------

LINE: dict[str, list[dict[str, Any]]] = {
    "pieces": [
        {"shape": "Rectangle", "a": 9, "b": 4},
        {"shape": "Right triangle", "a": 9, "b": 4},
        {"shape": "Triangle", "a": 9, "b": 8, "c": 7},
        {"shape": "Trapezoid", "a": 9, "b": 8, "c": 7},
        {"shape": "Circle", "a": 9},
        {"shape": "Ring or arc", "a": 4, "b": 9, "number": 90},
        {"shape": "Border strip", "a": 60, "b": 1, "number": 4},
    ],
    "thick": [{"length": 9, "wide": 1, "extra": 150}],
    "steps": [{"count": 3, "tread": 300, "riser": 150, "wide": 5}],
    "bands": [{"length": 27, "width": 18}],
    "curves": [{"inner": 9, "wide": 2, "angle": 60}],
    "corners": [{"x": 0, "y": 0}],
}
"""A line of each table with what it cannot do without and nothing else, in meters."""

FAULTS = {
    "pieces": ["no_size"],
    "thick": ["half_filled"],
    "steps": ["half_filled"],
    "bands": ["half_filled"],
    "curves": ["half_filled"],
    "corners": ["typed"],  # one of the two distances
}
"""The columns that a stop check of each table counts."""


def half_filled(block: str) -> list[dict[str, Any]]:
    """Return every line of a table with one thing left out, and its name alone."""
    lines = [
        {k: v for k, v in line.items() if k != left_out}
        for line in LINE[block]
        for left_out in line
        if len(line) > 1
    ]
    return lines + ([{"what": "Walk"}] if block != "corners" else [])


@pytest.mark.parametrize("block", LINE)
def test_a_half_filled_line_is_a_stop_and_in_no_total(block: str) -> None:
    book, _ = laid_out("si")
    lines = book.parts[f"{block}.{FAULTS[block][0]}"][0].lines
    halves = half_filled(block)
    for start in range(0, len(halves), lines):
        some = halves[start : start + lines]
        entries, problems = job_entries(book, {block: some}, "test")
        assert problems == []
        worked: Worked = results("si", entries)
        faults = [worked[f"{block}.{name}"][: len(some)] for name in FAULTS[block]]
        assert [max(f) for f in zip(*faults, strict=True)] == [1.0] * len(some)
        assert worked["status.stops"][0] > 0
        for total in ("area", "volume", "form", "tool"):
            assert worked[f"total.{total}"] == [0.0], total


@pytest.mark.parametrize("block", [b for b in LINE if b != "corners"])
def test_a_line_with_what_it_needs_is_no_stop(block: str) -> None:
    book, _ = laid_out("si")
    entries, _ = job_entries(book, {block: LINE[block]}, "test")
    worked: Worked = results("si", entries)
    assert worked["status.stops"] == [0.0]
    assert worked["total.volume"][0] > 0


WALK = {"width": 4}
STRAIGHT = {"kind": "Straight", "length": 60}
LEG: dict[str, list[Any]] = {
    "kind": ["Straight", "Bend left", "Bend right", None],
    "length": [None, 12], "angle": [None, 60], "radius": [None, 30], "chord": [None, 14],
    "rise": [None, 2],
}  # fmt: skip
MEASURED_BY = [("angle", "radius"), ("length", "radius"), ("chord", "rise")]


@pytest.mark.parametrize("kind", LEG["kind"])
def test_a_leg_with_too_few_or_too_many_measures_is_a_stop_and_its_walk_in_no_total(
    kind: str | None,
) -> None:
    book, _ = laid_out("us")
    for values in product(*(LEG[key] for key in LEG if key != "kind")):
        typed = {k: v for k, v in zip([*LEG][1:], values, strict=True) if v} | (
            {"kind": kind} if kind else {}
        )
        measures = tuple(sorted(typed.keys() - {"kind"}))
        fine = (
            measures == ("length",)
            if kind == "Straight"
            else (kind is not None and measures in map(tuple, map(sorted, MEASURED_BY)))
        )
        entries, _ = job_entries(book, {"walks": [WALK], "legs": [STRAIGHT, typed]}, "test")
        worked: Worked = results("us", entries, keys_of("us", ("legs", "walks", "total.area")))
        assert worked["legs.half_filled"][1] == (not fine and bool(typed)), typed
        assert (worked["total.area"][0] > 0) == (fine or not typed), typed


@pytest.mark.parametrize(
    ("walk", "legs"),
    [
        (None, (1, 3)), (1.0, (3, 1)), (2.0, (1, 3)), (0.0, (1, 3)), ("two", (1, 3)),
        (5.0, (1, 1)), (1.5, (1, 1)), (-1.0, (1, 1)), (1e9, (1, 1)),
    ],
)  # fmt: skip
def test_a_leg_of_a_walk_that_is_none_is_a_stop_and_never_lost_unseen(
    walk: Scalar, legs: tuple[int, int]
) -> None:
    book, _ = laid_out("us")
    lines = [{}, {"walk": 2}, {"line": 9}, {"line": 10}]
    job = {"walks": [WALK, WALK], "legs": [{**STRAIGHT, **line} for line in lines]}
    entries, problems = job_entries(book, job, "test")
    assert problems == []
    entries["legs.walk"][8] = walk
    keys = keys_of("us", ("walks.legs", "status.stops", "total.area"))
    worked: Worked = results("us", entries, keys)
    assert worked["walks.legs"] == [*legs, 0, 0]
    assert worked["total.area"] == [pytest.approx(240 * sum(legs))]
    assert (worked["status.stops"][0] > 0) == (walk not in (None, 1, 2))


MEASURED: dict[str, Any] = {"job": {"date": date(2026, 6, 1)}}

RECTANGLE = {"shape": "Rectangle", "a": 20, "b": 10}
BANDED = {"length": 20, "width": 10}
OF_TWO_MIXES = {"mix": "Plain", "placement": "Pour 2"}
"""A placement of the second mix chosen for a slab of the first."""
WORK: dict[str, Any] = {"own": [{"what": "The work", "typed": 1, "price": 100}]}
TRIGGERS: dict[str, dict[str, Any]] = {
    "20-pieces pieces_no_size": {"pieces": [{"a": 20, "b": 10}]},
    "20-pieces pieces_no_kind": {"pieces": [{**RECTANGLE, "count": 0}]},
    "20-pieces deducted": {"pieces": [{**RECTANGLE, "sign": "Hole"}]},
    "20-pieces long_seam": {"pieces": [{**RECTANGLE, "seam": 41, "against": 20}]},
    "20-pieces cut_shape": {
        "pieces": [RECTANGLE, {"shape": "Circle", "a": 2, "sign": "Cut at an edge"}],
    },
    "20-pieces wide_strip": {
        "pieces": [{"shape": "Border strip", "a": 80, "b": 8, "c": 16, "number": 4}],
    },
    "22-corners gaps": {"corners": [{"x": 0, "y": 0}, {"line": 3, "x": 9, "y": 0}]},
    "22-corners corners_half_filled": {"corners": [{"x": 5}]},
    "22-corners thin": {"corners": [{"x": 0, "y": 0}, {"x": 9, "y": 0}]},
    "22-corners crossed": {
        "corners": [{"x": 0, "y": 0}, {"x": 9, "y": 9}, {"x": 9, "y": 0}, {"x": 0, "y": 9}]
    },
    "22-corners no_border": {
        "outlines": [{"wide": 3}],
        "corners": [{"x": 0, "y": 0}, {"x": 9, "y": 0}, {"x": 9, "y": 6}, {"x": 0, "y": 6}],
    },
    "22-corners outlines_no_kind": {
        "usual": {"finish": ""},
        "corners": [{"x": 0, "y": 0}, {"x": 9, "y": 0}, {"x": 9, "y": 9}],
    },
    "24-thick-edges thick_half_filled": {"thick": [{"length": 9}]},
    "24-thick-edges no_mix": {
        "usual": {"mix": ""}, "thick": [{"length": 9, "wide": 1, "extra": 8}],
    },
    "26-steps steps_half_filled": {"steps": [{"tread": 12}]},
    "26-steps steps_no_kind": {
        "usual": {"mix": ""}, "steps": [{"count": 3, "tread": 12, "riser": 6, "wide": 5}],
    },
    "29-drains drains_half_filled": {"drains": [{"length": 9}]},
    "33-heights bench": {"bench": {"what": "Hydrant", "rod": 4}},
    "51-old-concrete old_half_filled": {"old": [{"typed": 300}]},
    "28-meeting more": {"pieces": [RECTANGLE], "meeting": {"length": 999}},
    "30-bands bands_half_filled": {"bands": [{"length": 20}]},
    "30-bands too_wide": {"bands": [{"length": 6, "width": 10, "inside_across": 5}]},
    "30-bands misplaced": {
        "bands": [{**BANDED, "inside_across": 2}], "strings_x": [{"own": 12}, {"own": 8}],
    },
    "30-bands bands_no_kind": {
        "bands": [BANDED],
        "usual_bands": {"mix": ""},
    },
    "36-curves curves_half_filled": {"curves": [{"inner": 9}]},
    "36-curves curves_no_kind": {
        "usual_bands": {"finish": ""}, "curves": [{"inner": 9, "wide": 2, "angle": 60}],
    },
    "37-walks legs_half_filled": {"walks": [WALK], "legs": [{"kind": "Bend left", "radius": 9}]},
    "37-walks legs_tight": {
        "walks": [WALK], "legs": [{"kind": "Bend left", "angle": 90, "radius": 1.5}],
    },
    "37-walks legs_steep": {
        "walks": [WALK], "legs": [{"kind": "Bend left", "chord": 20, "rise": 11}],
    },
    "37-walks walks_half_filled": {"walks": [WALK]},
    "37-walks legs_no_walk": {"walks": [WALK], "legs": [STRAIGHT, {**STRAIGHT, "walk": 1.5}]},
    "37-walks walks_too_wide": {
        "walks": [{**WALK, "band_left": "Yes", "band_wide": 5}], "legs": [STRAIGHT],
    },
    "37-walks walks_no_kind": {
        "usual": {"mix": ""}, "walks": [{**WALK, "finish": "Stamped"}], "legs": [STRAIGHT],
    },
    "37-walks walks_no_band": {
        "walks": [{**WALK, "band_right": "Yes", "band_wide": 0}], "legs": [STRAIGHT],
    },
    "40-totals two_mixes": {"pieces": [{**RECTANGLE, **OF_TWO_MIXES}]},
    "42-drivers same": {"finishes": [{"line": 6, "name": "Broomed"}]},
    "46-color pigment_over": {"mixes": [{"pigment": 10.1}]},
    "46-color pigment_no_cement": {"mixes": [{"pigment": 2, "cementitious": ""}]},
    "46-color shake_parts": {
        "usual": {"finish": "Broomed"}, "finishes": [{"shake": 60}], "pieces": [RECTANGLE],
        "coloring": {"first_parts": 0, "second_parts": 0},
    },
    "48-surface-products no_surface": {"products": [{"on": ""}]},
    "48-surface-products no_rate": {"products": [{"coverage": "", "dose": ""}]},
    "48-surface-products no_package": {"products": [{"pail": "", "bag": ""}]},
    "48-surface-products twice": {"products": [{"on": "Stamped", "also": "Stamped"}]},
    "50-mats no_mat": {
        "usual": {"finish": "Stamped"}, "pieces": [RECTANGLE], "mat": {"length": ""},
    },
    "62-placements nowhere": {"pieces": [RECTANGLE], "placements": [{"mix": "Colored"}]},
    "62-placements alike": {"pieces": [RECTANGLE], "placements": [{"name": "Pour 2"}]},
    "64-loads dropped": {"pieces": [RECTANGLE], "trucks": [{"loads": {"yours": 0}}]},
    "64-loads too_large": {
        "pieces": [{"shape": "Rectangle", "a": 60, "b": 30}], "trucks": [{"loads": {"yours": 1}}],
    },
    "69-getting-there getting_no_rate": {"pieces": [RECTANGLE], "ways": [{"line": 3, "typed": ""}]},
    "64-loads no_last": {
        "pieces": [{"shape": "Rectangle", "a": 60, "b": 30}],
        "trucks": [{"each": 9, "loads": {"yours": 6}}],
    },
    "66-weather hole": {"hourly": [{"line": 2, "air": 70}]},
    "66-weather rushed": {"pieces": [RECTANGLE], "weather": [{"sooner": 20}]},
    "70-window no_hours": {
        "usual": {"finish": "Stamped"}, "pieces": [RECTANGLE],
        "labor": [{"line": 26, "difficulty": 0}],
    },
    "70-window no_stampers": {
        "usual": {"finish": "Stamped"}, "pieces": [RECTANGLE], "stamping": {"stampers": 0},
    },
    "70-window shut": {
        "usual": {"finish": "Stamped"}, "pieces": [RECTANGLE], "stamping": {"closes": 30},
    },
    "72-labor labor_half_filled": {"labor": [{"rate": ""}]},
    "72-labor unknown": {"finishes": [{"name": "Brushed", "was": ""}]},
    "73b-calendar visit_too_soon": {
        "pieces": [RECTANGLE], "placements": [{"date": date(2026, 6, 9)}],
        "visits": [{"line": "strip_1", "typed": date(2026, 6, 9)}],
    },
    "75-wages wage_missing": {"prices": [{"line": "boards", "price": 9}]},
    "76-hired equipment_half": {"equipment": [{"line": 5, "hourly": 50}]},
    "76-hired equipment_unpriced": {
        "pieces": [RECTANGLE], "prices": [{"line": "boards", "price": 9}],
    },
    "76-hired subs_half": {"subs": [{"what": "Survey"}]},
    "74-prices price_missing": {
        "forms": {"boards": {"yours": 2}}, "prices": [{"line": "stakes", "price": 1}],
    },
    "74-prices own_half": {"own": [{"what": "Permit"}]},
    "77-costs cost_unlisted": {
        "shake": [{"bags": {"yours": 1}}] * 8,
        "product_order": [{"packages": {"yours": 1}}] * 14,
        "color": [{"bags": {"yours": 1}, "pails": {"yours": 1}}] * 6,
        "fiber": [{"bags": {"yours": 1}}] * 6,
        "pours": [{"order": {"yours": 1}}] * 2,
        "forms": {"boards": {"yours": 1}, "strips": {"yours": 1}}, "base": {"stone": {"yours": 1}},
        "mats": {"own": {"yours": 1}}, "steel_more": {"chairs": {"yours": 1}},
        "steel": [{"bars": {"yours": 1}}] * 3,
        "prices": [{"line": n, "price": 1} for n in range(1, 61)],
        "own": [{"what": f"Line {n}", "price": 1, "typed": 1} for n in range(12)],
    },
    "63-ways hire_missing": {
        "pieces": [RECTANGLE], "prices": [{"line": "boards", "price": 9}],
    },
    "64-loads charge_missing": {
        "pieces": [RECTANGLE], "prices": [{"line": "boards", "price": 9}],
        "delivery": {"short": 9},
    },
    "74b-card card_lacks": {"pieces": [RECTANGLE], "card_price": {"way": "By the card"}},
    "78b-two-prices card_taxed": {
        "pieces": [RECTANGLE], "card": [{"price": 9}], "card_price": {"way": "By the card"},
        "markups": {"tax": 7, "tax_on": "Material price"},
    },
    "78-price price_of_nothing": {
        "own": [{"what": "Permit", "price": 1, "typed": 1}],
        "markups": {"overhead": 60, "overhead_of": "Price", "profit": 40},
    },
    "78-price tax_slip": {"markups": {"tax": 0.0825}},
    "79-options option_half": {"options": [{"name": "Lights"}], **WORK},
    "79-options option_stuck": {
        **WORK, "options": [{"name": "Plain", "mix": "Plain", "chosen": "Yes"}],
    },
    "79-options option_untaxed": {
        **WORK, "markups": {"tax": 8, "tax_on": "Material price"},
        "options": [{"name": "Plain", "mix": "Plain", "price": 20}],
    },
    "79-options option_twice": {
        **WORK, "options": [{"name": "Plain", "mix": "Plain", "price": 20, "chosen": "Yes"},
                            {"name": "Colored", "mix": "Colored", "price": 50, "chosen": "Yes"}],
    },
    "79-options pair_half": {
        **WORK, "options": [{"name": "Plain", "mix": "Plain", "price": 20}],
        "pairs": [{"one": "Plain", "price": 30}],
    },
    "79-options trial_on": {
        "options": [{"name": "Plain", "mix": "Plain"}], "trial": {"option": "Plain"},
    },
    "79-options trial_clash": {
        "options": [{"name": "Plain", "mix": "Plain"}, {"name": "Colored", "mix": "Colored"}],
        "trial": {"option": "Plain", "also": "Colored"},
    },
    "82-supplies unlisted": {
        "color": [{"bags": {"yours": 1}, "pails": {"yours": 1}}] * 6,
        "shake": [{"bags": {"yours": 1}}] * 8,
        "product_order": [{"packages": {"yours": 1}}] * 14,
        "fiber": [{"bags": {"yours": 1}}] * 6,
        "steel": [{"bars": {"yours": 1}}] * 3,
        "forms": {"boards": {"yours": 1}, "stakes": {"yours": 1}, "strips": {"yours": 1}},
    },
    "86-tickets ticket_lost": {"ticket": [{"size": 5}]},
    "87-payments signed_open": {
        **MEASURED, "own": [{"what": "The work", "typed": 1, "price": 100}],
        "payment": {"signed": date(2026, 6, 2)},
    },
    "87-payments draw_open": {
        **MEASURED, "own": [{"what": "The work", "typed": 1, "price": 100}],
        "billing": [{"billed_on": date(2026, 6, 2)}],
    },
    "87-payments signed_twice": {
        "payment": {"agreed": 9000}, "signed": [{"line": "work", "figure": 8999}],
    },
    "87-payments draws_off": {"payment": {"agreed": 9000}, "draws": [{"line": 4, "percent": 10}]},
    "87-payments draw_both": {"draws": [{"amount": 100}]},
    "87-payments draw_half": {"draws": [{"percent": ""}]},
    "87-payments deposit_over": {
        "payment": {"agreed": 9000, "rule": "Percent of the price", "percent": 5},
    },
    "87-payments deposit_half": {"payment": {"rule": "Percent of the price"}},
    "02-start limits": {"usual": {"thickness": ""}},
    "85-proposal price_lines_full": {
        "pieces": [{**RECTANGLE, "finish": finish} for finish in (
            "Broomed", "Stamped", "Exposed aggregate", "Troweled", "Floated")],
        "prices": [{"line": "boards", "price": 9}],
        "terms": {"prices_shown": "By finish"},
        "options": [
            {"name": f"Option {n}", "extra": 9, "price": 9, "chosen": "Yes"} for n in range(6)
        ],
    },
}  # fmt: skip
"""For each stop check, the least that must make it open."""

DAY, DATED = 1.0, 46353.0  # a whole day, and November 27, 2026, as spreadsheets keep them
TIMES_OF_DAY: dict[str, list[tuple[str, int]]] = {
    "62-placements start_dated": [("placements.start", 0), ("placements.start", 7)],
    "66-weather hour_dated": [("hourly.at", 0), ("hourly.at", 13)],
    "73b-calendar latest_dated": [("workdays.latest", 0)],
    "86-tickets ticket_dated": [
        ("ticket.batched", 0), ("ticket.arrived", 1), ("ticket.discharged", 23),
    ],
    "86-tickets log_dated": [
        ("window_log.batched", 0), ("window_log.sheen", 1), ("window_log.opened", 2),
        ("window_log.closed", 3), ("window_log.hard", 7),
    ],
}  # fmt: skip
"""For each stop check of a time of the day, its cells; a job file takes no date there."""

CROSS_FOOTED = {
    "30-bands band_check_off",
    "72-labor differs",
    "77-costs cost_crossfoot",
    "78-price price_differs",
    "85-proposal price_lines_differ",
    "87-payments contract_crossfoot",
    "89-outcome outcome_crossfoot",
}
"""Checks that hold one working against another: no entry opens them."""


def in_feet(said: Any) -> str:
    """Return words that may differ by system as a workbook in feet has them."""
    return str(said["us"] if isinstance(said, dict) else said)


CHECKS = {
    f"{path.stem} {check['key']}": {**check, "say": in_feet(check["say"])}
    for path in sorted((templates_folder() / "items").glob("*.toml"))
    for check in applied(read(path, upto="\n[[example]]"), usual("us")).get("check", [])
}


def test_every_stop_check_has_something_that_opens_it() -> None:
    stops = {name for name, check in CHECKS.items() if check["level"] == "stop"}
    assert stops == TRIGGERS.keys() | CROSS_FOOTED | TIMES_OF_DAY.keys()


@pytest.mark.parametrize("units", ["us", "si"])
def test_every_time_of_the_day_has_a_check_for_a_date(units: Units) -> None:
    times = {k for k, (_, _, part) in laid_out(units)[0].entries().items() if part.entry == "time"}
    assert times == {key for cells in TIMES_OF_DAY.values() for key, _ in cells}


@pytest.mark.parametrize("value", [DAY, DATED + 0.3125])
@pytest.mark.parametrize("name", TIMES_OF_DAY)
def test_a_date_where_a_time_belongs_is_a_stop_that_says_so(name: str, value: float) -> None:
    book, _ = laid_out("us")
    for key, line in TIMES_OF_DAY[name]:
        block, item, part = book.parts[key]
        for typed, state in ((value, STOP), (86399 / 86400, FINE)):
            column = [part.value(n) for n in range(block.lines)]
            column[line] = typed
            worked: Worked = results("us", {key: column}, keys_of("us", (*SHOWN, "limits")))
            states = dict(zip(worked["checks.say"], worked["checks.state"], strict=True))
            assert states[CHECKS[name]["say"]] == state
            wrong = dict(zip(worked["limits.say"], worked["limits.count"], strict=True))
            assert wrong[f"{block.title}: {item.label}"] == (state == STOP)
            assert state == FINE or str(worked["headline.area"][0]).startswith("STOP")


@pytest.mark.parametrize("name", TRIGGERS)
def test_a_stop_check_opens_and_takes_the_headline_figures_away(name: str) -> None:
    book, _ = laid_out("us")
    entries, problems = job_entries(book, TRIGGERS[name], "test")
    assert problems == []
    worked: Worked = results("us", entries, keys_of("us", SHOWN))
    states = dict(zip(worked["checks.say"], worked["checks.state"], strict=True))
    assert states[CHECKS[name]["say"]] == STOP
    both = zip(worked["checks.state"], worked["checks.money"], strict=True)
    held = all(money for state, money in both if state == STOP)
    assert held or CHECKS[name].get("holds") != "money" or name == "77-costs cost_unlisted"
    assert str(worked["headline.price"][0]).startswith("STOP")
    for key in ("area", "concrete", "hours"):
        assert str(worked[f"headline.{key}"][0]).startswith("STOP") != held


TWO_MIXES: dict[str, dict[str, Any]] = {
    "Slab pieces 1": {"pieces": [{**RECTANGLE, **OF_TWO_MIXES}]},
    "Outlines 1": {
        "outlines": [OF_TWO_MIXES],
        "corners": [{"x": 0, "y": 0}, {"x": 9, "y": 0}, {"x": 9, "y": 9}],
    },
    "Outline borders 1": {
        "outlines": [{"wide": 1, "border_mix": "Plain", "border_placement": "Pour 2"}],
        "corners": [{"x": 0, "y": 0}, {"x": 9, "y": 0}, {"x": 9, "y": 9}],
    },
    "Thickened edges 1": {
        "thick": [{"length": 9, "wide": 1, "extra": 8, **OF_TWO_MIXES}],
    },
    "Drains 1": {
        "pieces": [RECTANGLE],
        "drains": [{"length": 9, "wide": 0.5, **OF_TWO_MIXES}],
    },
    "Steps 1": {
        "steps": [{"count": 3, "tread": 12, "riser": 6, "wide": 5, **OF_TWO_MIXES}],
    },
    "Panels 1": {"bands": [{**BANDED, "panel_placement": "Pour 2"}]},
    "Bands 1": {"bands": [{**BANDED, "border_placement": "Pour 1"}]},
    "Curved bands 1": {"curves": [{"inner": 9, "wide": 2, "angle": 60, **OF_TWO_MIXES}]},
    "Walks 1": {"walks": [{**WALK, **OF_TWO_MIXES}], "legs": [STRAIGHT]},
    "Walk edge bands 1": {
        "walks": [{**WALK, "band_left": "Yes", "band_placement": "Pour 1"}],
        "legs": [STRAIGHT],
    },
}
"""A slab of each kind in a placement of another mix, by the words that name it."""


@pytest.mark.parametrize("named", TWO_MIXES)
def test_a_slab_of_any_kind_is_held_to_the_mix_of_its_placement(named: str) -> None:
    entries, problems = job_entries(laid_out("us")[0], TWO_MIXES[named], "test")
    assert problems == []
    worked: Worked = results("us", entries, keys_of("us", SHOWN))
    at = laid_out("us")[0].parts["checks.state"][0].codes.index("two_mixes")
    assert (worked["checks.state"][at], worked["checks.first"][at]) == (STOP, named)
    assert str(worked["headline.concrete"][0]).startswith("STOP")


DECORATED: dict[str, Any] = {
    "usual": {"finish": "Stamped", "mix": "Colored"},
    "pieces": [RECTANGLE],
}
PRICED: dict[str, Any] = {**MEASURED, "prices": [{"line": "boards", "price": 9}]}
PUMP: dict[str, Any] = {"line": 3, "hire_hour": 120}
OFFERED: dict[str, Any] = {**PRICED, "forms": {"boards": {"yours": 2}}}
HAULED_FREE: dict[str, Any] = {
    "prices": [
        {"line": n + 1, "price": 0} for n in range(laid_out("us")[0].parts["prices.price"][0].lines)
    ],
    "classes": [{"wage": 30, "insurance": 8}] * 3,
    "equipment": [{"what": "Own"}] * 4,
    "ways": [{"hire_fixed": 0}] * 3,
    "delivery": {"short_flat": 0, "short_each": 0},
}
"""All of it has a price, and the dirt is hauled for nothing."""
SAW: dict[str, Any] = {"what": "Saw", "hourly": 30, "typed": 2}
SURVEY: dict[str, Any] = {"what": "Survey", "lump": 80}
OF_COLOR = 2  # the line of the colored mix, and so of its placement
MEASURED_ODDLY: dict[str, dict[str, Any]] = {
    "20-pieces long_held": {"pieces": [{**RECTANGLE, "against": 61}]},
    "20-pieces long_cut": {
        "pieces": [RECTANGLE, {**RECTANGLE, "a": 21, "b": 1, "sign": "Cut at an edge"}],
    },
    "20-pieces cut_of": {
        "pieces": [RECTANGLE, {"shape": "Circle", "a": 2, "sign": "Hole", "out_of": "Panel"}],
    },
    "38-odd-lengths odd_length": {"pieces": [{**RECTANGLE, "a": [0, 24], "b": [0, 16]}]},
}
"""For each look check of what is measured, what makes it open; a plain slab opens none."""

ODD: dict[str, dict[str, Any]] = {
    "Slab pieces 2": {"pieces": [RECTANGLE, {**RECTANGLE, "a": [0, 24], "b": 3}]},
    "Bands": {"pieces": [RECTANGLE], "bands": [{"length": [0, 24], "width": [0, 16]}]},
    "Walks": {"walks": [{"width": [0, 36]}], "legs": [{"kind": "Straight", "length": [0, 30]}]},
    "": {
        "pieces": [{**RECTANGLE, "a": [0, 48]}, {**RECTANGLE, "a": 2, "b": 3},
                   {**RECTANGLE, "a": [0, 18], "b": [0, 18], "sign": "Hole"}],
        "walks": [{"width": [0, 36]}], "legs": [STRAIGHT],
    },
}  # fmt: skip
"""What is asked about by the place it names, and at last what is not: inches may be many."""


@pytest.mark.parametrize("named", ODD)
def test_feet_in_a_cell_of_inches_are_asked_about_where_the_slab_is_small(named: str) -> None:
    entries, problems = job_entries(laid_out("us")[0], ODD[named], "test")
    assert problems == []
    worked: Worked = results("us", entries, keys_of("us", SHOWN))
    at = laid_out("us")[0].parts["checks.state"][0].codes.index("odd_length")
    state = LOOK if named else FINE
    assert (worked["checks.state"][at], worked["checks.first"][at]) == (state, named)


@pytest.mark.parametrize("name", MEASURED_ODDLY)
def test_a_look_check_of_pieces_opens(name: str) -> None:
    states = []
    for job in ({"pieces": [RECTANGLE]}, MEASURED_ODDLY[name]):
        entries, problems = job_entries(laid_out("us")[0], job, "test")
        assert problems == []
        worked: Worked = results("us", entries, keys_of("us", SHOWN))
        found = dict(zip(worked["checks.say"], worked["checks.state"], strict=True))
        states.append(found[CHECKS[name]["say"]])
    assert states == [FINE, LOOK]


LOOKS: dict[str, dict[str, Any]] = {
    "62-placements undated": {},
    "63-ways hire_stale": {**PRICED, "ways": [{**PUMP, "hired_on": date(2020, 1, 1)}]},
    "63-ways hire_undated": {**PRICED, "ways": [PUMP]},
    "64-loads charge_stale": {
        **PRICED, "delivery": {"short": 9, "charge_date": date(2020, 1, 1)},
    },
    "64-loads charge_undated": {**PRICED, "delivery": {"short": 9, "short_flat": 90}},
    "64-loads too_old": {"delivery": {"drive": 85}},
    "64-loads short": {"delivery": {"short": 6}},
    "65-load-color dose_moves": {"coloring": {"pigment_bag": 60}},
    "65-load-color past_cap": {
        "mixes": [{"line": OF_COLOR, "pigment": 9.9}], "coloring": {"pigment_bag": 70},
        "plant": {"hopper": 0.4},
    },
    "65-load-color uneven": {
        "pours": [{"line": OF_COLOR, "order": {"yours": 8}},
                  {"line": 3, "order": {"yours": 4}}],
        "placements": [{"line": 3, "mix": "Colored"}],
    },
    "65-load-color bags_short": {"color": [{"line": OF_COLOR, "bags": {"yours": 1}}]},
    "65-load-color chloride": {"orders": [{"line": OF_COLOR, "chloride": "Yes"}]},
    "65-load-color airy": {"finishes": [{"line": 2, "shake": 60}]},
    "66-weather hourly_short": {
        "hourly": [{"at": time(5), "air": 70, "humidity": 50, "wind": 5}],
    },
    "66-weather too_dry": {"weather": [{"line": OF_COLOR, "humidity": 0.5}]},
    "66-weather no_forecast": {"weather": [{"line": OF_COLOR, "humidity": ""}]},
    "66-weather drying": {"weather": [{"line": OF_COLOR, "humidity": 10, "wind": 25}]},
    "66-weather cool": {"weather": [{"line": OF_COLOR, "concrete": 50}]},
    "66-weather hot": {"weather": [{"line": OF_COLOR, "concrete": 98}]},
    "66-weather cold": {"weather": [{"line": OF_COLOR, "low": 30}]},
    "66-weather rain": {"weather": [{"line": OF_COLOR, "rain": 80}]},
    "67-setting muddled": {"set_times": [{"temperature": 20}]},
    "67-setting beyond": {"weather": [{"line": OF_COLOR, "air": 118, "concrete": 118}]},
    "67-setting frozen": {"weather": [{"line": OF_COLOR, "air": 0, "concrete": 20}]},
    "68-running-short risky": {"depth": {"mean": 0.5}},
    "69-getting-there chute_short": {
        "mixes": [{"line": OF_COLOR, "placed": "Chute"}], "getting": {"farthest": 40},
    },
    "69-getting-there coarse": {"orders": [{"line": OF_COLOR, "aggregate": 1.5}]},
    "70-window too_slow": {"weather": [{"line": OF_COLOR, "air": 95, "concrete": 90}]},
    "70-window window_tight": {"stamping": {"margin": 240, "stampers": 6}},
    "70-window few_hands": {
        "ways": [{"line": 3, "typed": 0.5}], "placements": [{"line": OF_COLOR, "crew": 3}],
    },
    "73-after overlap": {
        "pieces": [RECTANGLE, {**RECTANGLE, "mix": "Plain"}],
        "placements": [{"date": date(2026, 6, 9)}, {"date": date(2026, 6, 9)}],
    },
    "73b-calendar visits_unlisted": {
        "usual": {"finish": "Stamped", "mix": "Plain"},
        "pieces": [{**RECTANGLE, "placement": f"Pour {n}"} for n in range(1, 9)],
        "placements": [{"mix": "Plain"}] * 8,
        "own_visits": [{"what": f"Call {n}"} for n in range(2)],
    },
    "73b-calendar visit_early": {
        "terms": {"start": date(2026, 6, 8)}, "placements": [
            {"line": OF_COLOR, "date": date(2026, 6, 8)},
        ],
    },
    "73b-calendar visit_off": {"visits": [{"line": "dig", "typed": date(2026, 6, 7)}]},
    "73b-calendar long_day": {"labor": [{"line": 26, "hours": {"yours": 400}}]},
    "75-wages crew_differs": {"classes": [{"wage": 30, "people": 9}]},
    "75-wages insurance_missing": {"classes": [{"wage": 30}]},
    "75-wages burden_missing": {"classes": [{"wage": 30}]},
    "75-wages burden_slip": {"classes": [{"wage": 30}], "burdens": [{"percent": 0.0765}]},
    "76-hired equipment_stale": {**MEASURED, "equipment": [{**SAW, "date": date(2020, 1, 1)}]},
    "76-hired equipment_undated": {"equipment": [SAW]},
    "76-hired subs_stale": {**MEASURED, "subs": [{**SURVEY, "date": date(2020, 1, 1)}]},
    "76-hired subs_undated": {"subs": [SURVEY]},
    "81a-promises promise_unpaid": HAULED_FREE,
    "81a-promises cost_untold": {"own": [{"what": "Crane", "typed": 1, "price": 80}]},
    "83-terms included_unpaid": HAULED_FREE,
    "80-order order_weak": {"orders": [{"line": OF_COLOR, "strength": 2500}]},
    "80-order order_wet": {"orders": [{"line": OF_COLOR, "water": 0.6}]},
    "80-order order_air": {"orders": [{"line": OF_COLOR, "air": 1}]},
    "80-order order_lean": {"mixes": [{"line": OF_COLOR, "cementitious": 400}]},
    "83-terms includes_long": {"includes": [{"says": "every word of it " * 4}]},
    "83-terms excludes_long": {"excludes": [{"says": "every word of it " * 4}]},
    "83-terms notes_long": {"notes": [{"says": "every word of it " * 10}]},
    "83-terms notices_long": {"notices": [{"says": "every word of it " * 10}]},
    "83-terms warranty_long": {"warranty": {"says": "every word of it " * 10}},
    "83-terms no_permits": OFFERED,
    "83-terms no_notices": OFFERED,
    "83-terms no_date": OFFERED,
    "83-terms no_company": OFFERED,
    "83-terms no_customer": OFFERED,
    "83-terms no_terms": {**OFFERED, "excludes": [{"tick": "No"}] * 9},
    "85-proposal scope_full": {
        "pieces": [{**RECTANGLE, "finish": finish, "against": 3} for finish in (
            "Broomed", "Stamped", "Exposed aggregate", "Troweled", "Floated")],
        "mixes": [{}, {"pigment": 3, "fiber": 1}], "usual": {"mix": "Colored"},
        "bands": [{"length": 20, "width": 15}], "terms": {"permits": "None needed"},
    },
    "85-proposal quantities_full": {
        "pieces": [{**RECTANGLE, "finish": finish, "against": 3} for finish in (
            "Broomed", "Stamped", "Exposed aggregate", "Troweled", "Floated")],
        "quantities_shown": [{"tick": "Yes"}] * 17, "bands": [{"length": 20, "width": 15}],
    },
    "86-tickets ticket_early": {"ticket": [{"arrived": time(8, 0), "discharged": time(7, 30)}]},
    "86-tickets window_log_order": {
        "window_log": [{"batched": time(7, 0), "opened": time(9, 0), "closed": time(8, 30)}],
    },
    "86-tickets ticket_old": {"ticket": [{"batched": time(7, 0), "discharged": time(9, 30)}]},
    "86-tickets ticket_water": {
        "trucks": [{"line": OF_COLOR, "loads": {"yours": 2}}],
        "ticket": [{"size": 2, "water": 1}, {"size": 2, "water": 8}],
    },
    "86-tickets ticket_volume": {"ticket": [{"size": 1}]},
    "86-tickets ticket_unsized": {"ticket": [{"batched": time(7, 0)}]},
    "74-prices price_stale": {
        **PRICED, "forms": {"boards": {"yours": 2}},
        "prices": [{"line": "boards", "price": 9, "date": date(2025, 1, 1)}],
    },
    "74-prices price_undated": {**PRICED, "forms": {"boards": {"yours": 2}}},
    "74-prices own_stale": {
        **MEASURED,
        "own": [{"what": "Permit", "typed": 1, "price": 85, "date": date(2025, 1, 1)}],
    },
    "78-price tax_unused": {
        "own": [{"what": "Permit", "price": 85, "typed": 1}], "markups": {"tax": 8.25},
    },
    "78-price no_profit": {
        "own": [{"what": "Permit", "price": 85, "typed": 1}],
        "markups": {"profit": 0, "step": 0.01},
    },
    "78-price least_charge": {
        "own": [{"what": "Permit", "price": 85, "typed": 1}], "markups": {"least": 9000},
    },
    "79-options price_in_cents": {
        "own": [{"what": "Permit", "price": 85, "typed": 1}], "markups": {"step": 0.01},
        "options": [{"name": "Lights", "extra": 90, "price": 100}],
    },
    "79-options tax_tells": {
        "own": [{"what": "Permit", "price": 85, "typed": 1}],
        "markups": {"tax": 8.25, "tax_on": "Material price"},
    },
    "79-options option_open": {**WORK, "options": [{"name": "Plain", "mix": "Plain"}]},
    "79-options option_moved": {
        **WORK, "options": [{"name": "Plain", "mix": "Plain", "at": 90, "price": 20}],
    },
    "79-options option_exact": {
        **WORK, "options": [{"name": "Plain", "mix": "Plain", "at": 125, "price": 51}],
    },
}  # fmt: skip
"""For each look check of the pour day, what must make it open on a stamped, colored slab."""


def test_every_look_check_of_the_day_has_something_that_opens_it() -> None:
    looks = {name for name, check in CHECKS.items() if check["level"] == "look"}
    assert {name for name in looks if "60" < name < "87"} - {"72-labor no_task"} == LOOKS.keys()


@pytest.mark.parametrize("name", LOOKS)
def test_a_look_check_of_the_day_opens(name: str) -> None:
    book, _ = laid_out("us")
    entries, problems = job_entries(book, {**DECORATED, **LOOKS[name]}, "test")
    assert problems == []
    worked: Worked = results("us", entries, keys_of("us", SHOWN))
    states = dict(zip(worked["checks.say"], worked["checks.state"], strict=True))
    assert states[CHECKS[name]["say"]] == LOOK


def test_no_look_check_of_the_day_is_open_on_a_quiet_one() -> None:
    quiet: dict[str, Any] = {
        "placements": [{"line": OF_COLOR, "date": date(2026, 6, 9)}], "delivery": {"short": 0},
        "stamping": {"stampers": 4}, "coloring": {"pigment_bag": 1},
    }  # fmt: skip
    entries, problems = job_entries(laid_out("us")[0], {**DECORATED, **quiet}, "test")
    assert problems == []
    worked: Worked = results("us", entries, keys_of("us", SHOWN))
    states = dict(zip(worked["checks.say"], worked["checks.state"], strict=True))
    assert {name for name in LOOKS if states[CHECKS[name]["say"]] != FINE} == set()


@pytest.mark.parametrize(
    ("key", "line", "value", "named"),
    [
        ("weather.humidity", 1, 1.2, "Forecast of each placement: Humidity"),
        ("weather.concrete", 0, 200.0, "Forecast of each placement: Concrete"),
        ("placements.start", 0, "half past seven", "Placements: First load on site"),
        ("hands.stampers", 0, "two", "Hands of each placement: Stampers"),
        ("prices.price", 35, -5.0, "Supplies and concrete: Price"),
        ("prices.price", 35, "9.48 $", "Supplies and concrete: Price"),
        ("classes.wage", 0, -1.0, "Wage classes: Wage"),
        ("markups.profit", 0, 600.0, "What comes on top of cost: Profit"),
        ("draws.percent", 1, "a third", "Payments: Percent of the price"),
    ],
)
def test_a_wrong_entry_is_named(key: str, line: int, value: Scalar, named: str) -> None:
    book, _ = laid_out("us")
    entries, problems = job_entries(book, DECORATED, "test")
    assert problems == []
    entries[key][line] = value
    worked: Worked = results("us", entries)
    wrong = {s: n for s, n in zip(worked["limits.say"], worked["limits.count"], strict=True) if n}
    assert wrong == {named: 1}
    assert worked["status.worst"] == [named]


def test_words_that_look_like_an_error_are_words() -> None:
    typed: Entries = {
        "mixes.name": ["#1 gray"], "usual.mix": ["#1 gray"], "placements.name": ["#REF"],
        "pieces.shape": ["Rectangle"], "pieces.a.ft": [16.0], "pieces.b.ft": [20.0],
    }  # fmt: skip
    got = results("us", typed)
    assert (got["pours.name"][0], got["pours.mix"][0]) == ("#REF", "#1 gray")


# ECMA-376 part 1, COUNTIF (not open here, from memory): it reads ? and * in a criterion as a
# pattern, ~ before one as the letter itself, and < > = at its start as a comparison
@pytest.mark.parametrize(
    ("name", "odd"),
    [("Broomed*", 1), ("Broomed?", 1), ("~Broomed", 1), ("<5", 1), (">5", 1),
     ("Broomed ", 1), (" Broomed", 1), ("x" * 251, 1), ("x" * 250, 0), ("5 in & more (new)", 0),
     ("No. 27, 'Walnut'", 0), ("", 0)],
)  # fmt: skip
@pytest.mark.parametrize("key", ["finishes.name", "mixes.name", "products.name", "placements.name"])
def test_a_name_that_cannot_be_looked_up_by_is_a_stop(key: str, name: str, odd: int) -> None:
    block, item, _ = laid_out("us")[0].parts[key]
    got = results("us", {key: [name]}, frozenset({f"{key}.odd", "limits.count"}))
    assert got[f"{key}.odd"] == [odd] + [0] * (block.lines - 1)
    assert (
        got["limits.count"][laid_out("us")[0].parts["limits.count"][0].codes.index(item.key)] == odd
    )
