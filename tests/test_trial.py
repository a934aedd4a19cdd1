"""An option costs what the job costs with it: the switch against the job with other entries.

The other side of every comparison is a whole second workbook in which somebody typed the option
into the columns it changes; it has no options at all.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner

from conftest import JOBS
from pourtally.cli import main
from pourtally.jobfile import job_entries
from pourtally.model import Book, Entries, Scalar, Size, Units
from pourtally.trial import tried
from sample import some
from shop import STOP, TEMPLATES, build, keys_of, read_jobs, read_workbook, results

FINISHES = {
    "Slab pieces": ["pieces.finish"], "Outlines": ["outlines.finish"],
    "Outline borders": ["outlines.border_finish"], "Steps": ["steps.finish"],
    "Drains": ["drains.finish"], "Bands": ["bands.border_finish", "bands.inside_finish"],
    "Panels": ["bands.panel_finish"], "Curved bands": ["curves.finish"],
    "Walks": ["walks.finish"], "Walk edge bands": ["walks.band_finish"],
}  # fmt: skip
"""Where a person types a finish, by the part of the job; a mix and a placement stand beside it."""
MIXED = {**FINISHES, "Thickened edges": ["thick.finish"]}
THICKNESS = {
    "Slab pieces": ("pieces.thickness", "usual.thickness"),
    "Outlines": ("outlines.thickness", "usual.thickness"),
    "Outline borders": ("outlines.border_thickness", "usual_bands.thickness"),
    "Drains": ("drains.thickness", "usual.thickness"),
    "Bands": ("bands.border_thickness", "usual_bands.thickness"),
    "Panels": ("bands.panel_thickness", "usual.thickness"),
    "Curved bands": ("curves.thickness", "usual_bands.thickness"),
    "Walks": ("walks.thickness", "usual.thickness"),
    "Walk edge bands": ("walks.band_thickness", "usual_bands.thickness"),
}
ZONES = {"": (0, 1, 2), "Panels": (2,), **dict.fromkeys(
    ("Bands", "Curved bands", "Walk edge bands", "Outline borders"), (1,))}  # fmt: skip
COMPARED = ("costs.", "estimate.", "kind_cost.", "price.", "sale.", "hours.", "labor.", "list.",
            "placements.", "loads.", "total.", "drivers.", "forms.", "joints.", "steel.bars",
            "finish_area.", "mix_volume.", "concrete.", "product_order.", "supply.", "cuts.",
            "calendar.", "window.", "slabs.area", "slabs.volume", "slab_mats.", "wages.",
            "finish_price.", "signed.today", "draws.reckoned", "fiber.", "base.",
            "visits.")  # fmt: skip
"""What a job comes to: everything measured, ordered, planned, worked and priced."""

RICH = """
[usual]
thickness = 4
[[pieces]]
shape = "Rectangle"
a = 30
b = 12
placement = "Pour 1"
[[pieces]]
shape = "Rectangle"
a = 4
b = 3
sign = "Deduct"
[[corners]]
x = 0
y = 0
[[corners]]
x = 18
y = 0
[[corners]]
x = 18
y = 10
[[corners]]
x = 0
y = 12
[[outlines]]
wide = 1
border_finish = "Stamped"
border_mix = "Colored"
[[bands]]
length = 24
width = 16
inside_across = 1
inside_along = 1
border_placement = "Pour 2"
panel_thickness = 5
[[bands]]
length = 12
width = 10
[[curves]]
inner = 8
wide = 2
angle = 90
[[walks]]
width = 5
band_left = "Yes"
[[legs]]
walk = 1
kind = "Straight"
length = 30
[[steps]]
count = 3
tread = 12
riser = 6
wide = 5
[[thick]]
length = 30
wide = 12
extra = 6
[[drains]]
length = 12
wide = 6
thickness = 4
"""


def put(entries: Entries, key: str, value: Scalar) -> None:
    """Type the same into every line of a column."""
    entries[key] = [value] * len(entries[key])


def put_used(entries: Entries, key: str, value: Scalar) -> None:
    """Type the same into the lines of a column on which something is measured."""
    block = key.split(".", maxsplit=1)[0]
    columns = [c for k, c in entries.items() if k.split(".")[0] == block]
    entries[key] = [value if any(c[n] is not None for c in columns) else entries[key][n]
                    for n in range(len(entries[key]))]  # fmt: skip


def typed_in(entries: Entries, option: dict[str, Scalar], used: dict[str, list[Scalar]]) -> Entries:
    """Return the job with an option typed into its own entries, line by line."""
    out = deepcopy(entries)
    part = str(option.get("part") or "")
    for name in [part] if part else MIXED:
        part_typed_in(out, name, option, used)
    if option.get("together"):
        for key in (key for columns in MIXED.values() for key in columns):
            put(out, key.replace("finish", "placement"), None)
    if option.get("out"):
        LEFT_OUT[part](out)
    if product := option.get("product"):
        line = out["products.name"].index(product)
        out["products.coats"][line] = float(out["products.coats"][line] or 1) + 1
    for zone in ZONES.get(part, (0,)) if option.get("bar") else ():
        out["steel.kind"][zone] = "Bars"
        out["steel.bar"][zone] = option["bar"]
        out["steel.spacing"][zone] = option["apart"]
    if option.get("no_fiber"):
        put(out, "mixes.fiber", 0.0)
    return out


def part_typed_in(
    out: Entries, name: str, option: dict[str, Scalar], used: dict[str, list[Scalar]]
) -> None:
    """Type the finish, mix and thickness of an option into the lines of one part."""
    for key in MIXED.get(name, []):
        if option.get("finish") and name in FINISHES:
            put_used(out, key, option["finish"])
        if option.get("mix"):
            put_used(out, key.replace("finish", "mix"), option["mix"])
            put(out, key.replace("finish", "placement"), None)
    if not option.get("thicker"):
        return
    more = float(option["thicker"] or 0)
    if name in THICKNESS:
        thicken(out, *THICKNESS[name], more, used)
    if name == "Bands":
        key = "bands.inside_thickness"
        out[key] = [v and float(v) + more for v in out[key]]


def thicken(out: Entries, key: str, usual: str, more: float, used: dict[str, list[Scalar]]) -> None:
    """Add to the thickness of every line: the one typed, or what an empty one stands for."""
    block = key.split(".", maxsplit=1)[0]
    columns = [c for k, c in out.items() if k.split(".")[0] == block]
    stands = used["usual.thickness"] if usual.startswith("usual.") else used["usual_bands.depth"]
    for line, typed in enumerate(out[key]):
        if block == "outlines" or any(column[line] is not None for column in columns):
            out[key][line] = float(stands[0] if typed is None else typed) + more  # type: ignore[arg-type]


def without_bands(out: Entries) -> None:
    for key in ("band_left", "band_right", "band_near", "band_far"):
        put(out, f"bands.{key}", "No")
    for key in ("inside_across", "inside_along"):
        put(out, f"bands.{key}", None)
    for key in out:
        if key.startswith(("strings_x.own", "strings_y.own")):
            put(out, key, None)


def without(*blocks: str) -> Callable[[Entries], None]:
    """Return what empties every entry of some blocks."""

    def empty(out: Entries) -> None:
        for key in out:
            if key.split(".")[0] in blocks:
                put(out, key, None)

    return empty


def without_edges(out: Entries) -> None:
    put(out, "walks.band_left", "No")
    put(out, "walks.band_right", "No")


def without_border(out: Entries) -> None:
    for key in out:
        if key.startswith("outlines.wide"):
            put(out, key, None)


LEFT_OUT: dict[str, Callable[[Entries], None]] = {
    "Bands": without_bands, "Outline borders": without_border, "Walk edge bands": without_edges,
    "Curved bands": without("curves"), "Slab pieces": without("pieces"),
    "Walks": without("walks", "legs"), "Steps": without("steps"),
}  # fmt: skip


def priced(entries: Entries, dice: Random) -> Entries:
    """Return a job in which every line has a price and every class of worker a wage."""
    out = deepcopy(entries)
    out["prices.price"] = [round(dice.uniform(1, 90), 2) for _ in out["prices.price"]]
    out["classes.wage"] = [30.0] * len(out["classes.wage"])
    out["classes.people"] = [2.0] + [None] * (len(out["classes.people"]) - 1)
    return out


def rich(units: Units, size: Size) -> Entries:
    """Return a job with a line of every kind of slab."""
    entries, problems = job_entries(TEMPLATES[units, size].book, tomllib.loads(RICH), "rich")
    assert not problems, problems
    return entries


def bare(entries: Entries) -> Entries:
    """Return a job without any option."""
    out = deepcopy(entries)
    for key in out:
        if key.split(".")[0] in ("options", "pairs", "trial"):
            put(out, key, None)
    return out


def asked(entries: Entries, options: list[dict[str, Scalar]]) -> Entries:
    """Return a job with options, the first of which is shown."""
    out = bare(entries)
    for line, option in enumerate(options):
        for key, value in {"name": f"Option {line}", **option}.items():
            out[f"options.{key}"][line] = value
    out["trial.option"] = ["Option 0"]
    out["trial.also"] = ["Option 1" if len(options) > 1 else None]
    return out


def named(book: Book) -> int:
    """Return how many figures of a book are compared."""
    return sum(part.kind != "entry" and key.startswith(COMPARED)
               for key, (_, _, part) in book.parts.items())  # fmt: skip


def gap(units: Units, size: Size, entries: Entries, options: list[dict[str, Scalar]]) -> list[str]:
    """Return every figure that the switch gives otherwise than the job with these entries."""
    used = results(units, entries, keys_of(units, ("usual.thickness", "usual_bands.depth")), size)
    other = bare(entries)
    for option in options:
        other = typed_in(other, option, used)
    switched = results(units, asked(entries, options), frozenset(), size)
    typed = results(units, other, frozenset(), size)
    book = TEMPLATES[units, size].book
    assert typed["sale.base"][0], "the job has no price, so nothing is held"
    out = []
    for key in sorted(typed.keys() & switched.keys()):
        if book.parts[key][2].kind == "entry" or not key.startswith(COMPARED):
            continue
        one, two = typed[key], switched[key]
        if any(differ(a, b) for a, b in zip(one, two, strict=True)):
            out.append(f"{key}: typed {one}, switched {two}")
    return out


def differ(a: Scalar, b: Scalar) -> bool:
    if isinstance(a, float) and isinstance(b, float):
        return abs(a - b) > 1e-6
    return a != b


ONE_BY_ONE: list[dict[str, Scalar]] = [
    {"finish": "Broomed", "mix": "Plain"},
    {"part": "Bands", "finish": "Exposed aggregate", "mix": "Plain"},
    {"part": "Panels", "finish": "Stamped", "mix": "Colored"},
    {"part": "Steps", "finish": "Stamped"},
    {"part": "Drains", "finish": "Stamped"},
    {"part": "Outline borders", "mix": "Plain"},
    {"thicker": 2.0},
    {"part": "Walks", "thicker": 1.5},
    {"together": "Yes"},
    {"product": "Sealer"},
    {"bar": "#4", "apart": 12.0},
    {"part": "Bands", "bar": "#5", "apart": 24.0},
    {"no_fiber": "Yes"},
    {"part": "Bands", "out": "Yes"},
    {"part": "Outline borders", "out": "Yes"},
    {"part": "Walk edge bands", "out": "Yes"},
    {"part": "Curved bands", "out": "Yes"},
    {"part": "Slab pieces", "out": "Yes"},
    {"part": "Walks", "out": "Yes"},
    {"part": "Steps", "out": "Yes"},
]


def job_of_all(seed: int) -> Entries:
    return priced(bare(rich("us", "small")), Random(seed))


@pytest.mark.parametrize("option", ONE_BY_ONE, ids=str)
def test_the_switch_gives_the_job_with_these_entries(option: dict[str, Scalar]) -> None:
    assert gap("us", "small", job_of_all(3), [option]) == []


def test_enough_is_compared_to_prove_it() -> None:
    assert named(TEMPLATES["us", "small"].book) > 400


def test_two_at_once_are_the_job_with_both() -> None:
    """Random pairs that do not change the same thing, on jobs at random prices."""
    dice = Random(20)
    for _ in range(some(4)):
        one: dict[str, Scalar] = {
            "part": dice.choice(list(FINISHES)),
            "finish": dice.choice(["Broomed", "Stamped"]),
        }
        two = dice.choice([o for o in ONE_BY_ONE if not o.get("finish")])
        assert gap("us", "small", job_of_all(dice.randrange(999)), [one, two]) == []


def test_metric_jobs_too() -> None:
    (job,), _ = read_jobs([JOBS["courtyard-metric"]], None, "small")
    entries = priced(bare(job.entries), Random(5))
    options: list[dict[str, Scalar]] = [
        {"thicker": 50.0},
        {"finish": "Stamped", "mix": "Colored"},
        {"part": "Bands", "out": "Yes"},
    ]
    for option in options:  # fmt: skip
        assert gap("si", "small", entries, [option]) == []


def test_every_option_of_the_demo_is_the_job_with_it() -> None:
    """Priced by the program, and by a second job whose owner typed the option and nothing else."""
    (job,), _ = read_jobs([JOBS["demo"]], None, "small")
    entries = deepcopy(job.entries)
    done = tried(job.template, entries)
    plain = bare(entries)
    price = frozenset(["sale.base"])
    used = keys_of("us", ("usual.thickness", "usual_bands.depth"))
    stands = results("us", plain, used, "small")
    before = float(results("us", plain, price, "small")["sale.base"][0] or 0)
    for line, text in enumerate(done.entries["options.name"]):
        option = {k.removeprefix("options."): v[line] for k, v in entries.items()
                  if k.startswith("options.") and v[line] is not None}  # fmt: skip
        if text and not option.keys() & {"hours", "extra"}:
            after = results("us", typed_in(plain, option, stands), price, "small")["sale.base"][0]
            exact, offered = float(after or 0) - before, done.entries["options.price"][line]
            assert 0 <= float(offered or 0) - exact <= max(5, abs(exact) * 0.05)  # a round figure


def test_the_demo_says_what_the_program_finds() -> None:
    (job,), _ = read_jobs([JOBS["demo"]], None, "usual")
    done = tried(job.template, job.entries)
    for key in ("options.at", "options.price", "options.material", "pairs.one", "pairs.price"):
        assert done.entries[key] == job.entries[key], key


def test_what_has_a_price_keeps_it_where_only_the_missing_are_asked_for() -> None:
    (job,), _ = read_jobs([JOBS["demo"]], None, "small")
    entries = deepcopy(job.entries)
    entries["options.price"][0], entries["options.price"][1] = 12.0, None
    done = tried(job.template, entries, missing_only=True)
    assert done.entries["options.price"][:2] == [12.0, -3600.0]
    assert done.options == 1


def test_a_signed_job_is_left_alone_and_says_so() -> None:
    (job,), _ = read_jobs([JOBS["finished"]], None, "small")
    done = tried(job.template, job.entries)
    assert done.entries["options.price"] == job.entries["options.price"]
    assert "signed" in done.notes[0]


def test_an_option_whose_products_have_no_price_gets_none() -> None:
    (job,), _ = read_jobs([JOBS["demo"]], None, "small")
    entries = deepcopy(job.entries)
    entries["options.finish"][0] = "Exposed aggregate"
    entries["options.price"][0] = None
    done = tried(job.template, entries, missing_only=True)
    assert done.entries["options.price"][0] is None
    assert "Broom finish everywhere, plain" in done.notes[0]


def test_two_options_of_one_name_are_told() -> None:
    (job,), _ = read_jobs([JOBS["demo"]], None, "small")
    entries = deepcopy(job.entries)
    entries["options.name"][5] = " one more coat of Sealer"
    done = tried(job.template, entries)
    assert any("one more coat" in note for note in done.notes)


def test_while_an_option_is_shown_the_job_is_stopped() -> None:
    (job,), _ = read_jobs([JOBS["demo"]], None, "small")
    asked_for = frozenset(["status.stops", "checks.state", "checks.say", "proposal_price.total"])
    before = results("us", job.entries, asked_for, "small")
    entries = deepcopy(job.entries)
    entries["trial.option"] = [entries["options.name"][0]]
    after = results("us", entries, asked_for, "small")
    assert (before["status.stops"][0], after["status.stops"][0]) == (0, 1)
    opened = [
        say
        for say, a, b in zip(
            after["checks.say"], before["checks.state"], after["checks.state"], strict=True
        )
        if (a, b) == (0, STOP)
    ]
    assert [str(say).partition(":")[0] for say in opened] == [
        "The workbook shows the job with an option, not the job as it stands"
    ]


def test_the_command_prices_every_option_of_a_workbook(tmp_path: Path) -> None:
    (job,), _ = read_jobs([JOBS["demo"]], None, "small")
    entries = deepcopy(job.entries)
    for key in ("options.at", "options.price", "options.material", "pairs.one", "pairs.two",
                "pairs.price", "pairs.material"):  # fmt: skip
        put(entries, key, None)
    build("us", entries, tmp_path / "job.xlsx", "small")
    asked = ["options", str(tmp_path / "job.xlsx"), "-o", str(tmp_path / "new.xlsx")]
    done = CliRunner().invoke(main, asked)
    assert done.exit_code == 0, done.output
    assert done.output == f"Wrote {tmp_path / 'new.xlsx'}: 6 options priced, 8 pairs of them\n"
    after = read_workbook(tmp_path / "new.xlsx").entries
    assert {key for key in after if after[key] != job.entries[key]} == set()


def test_the_command_wants_a_place_to_write_to_and_a_sound_workbook(tmp_path: Path) -> None:
    (tmp_path / "bad.xlsx").write_text("no workbook")
    no_place = CliRunner().invoke(main, ["options", str(tmp_path / "bad.xlsx")])
    assert (no_place.exit_code, "give -o NEW.xlsx" in no_place.output) == (2, True)
    asked = ["options", str(tmp_path / "bad.xlsx"), "-o", str(tmp_path / "new.xlsx")]
    bad = CliRunner().invoke(main, asked)
    assert (bad.exit_code, (tmp_path / "new.xlsx").exists()) == (1, False)
    assert str(tmp_path / "bad.xlsx") in bad.output
