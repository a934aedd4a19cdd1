"""An option costs what the job costs with it: the switch against the job with other entries.

The other side of every comparison is a whole second workbook in which somebody typed the option
into the columns it changes; it has no options at all.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from random import Random

import pytest

from conftest import JOBS
from pourtally.jobfile import job_entries
from pourtally.model import Entries, Scalar, Size, Units
from sample import some
from shop import STOP, TEMPLATES, keys_of, read_jobs, results

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
MEASURED = {"outlines": "outlines"}
NOT_THE_JOB = {"figures", "headline", "open", "status", "checks", "next", "spare", "price_lines", "what_if",
    "trial", "options", "pairs", "slab_groups", "own", "choices", "basis"}
"""Blocks that hold the option itself, or the list of what was typed."""

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
    block = key.split(".")[0]
    columns = [c for k, c in entries.items() if k.split(".")[0] == MEASURED.get(block, block)]
    entries[key] = [value if any(c[n] is not None for c in columns) else entries[key][n]
                    for n in range(len(entries[key]))]  # fmt: skip


def typed_in(entries: Entries, option: dict[str, Scalar], used: dict[str, list[Scalar]]) -> Entries:
    """Return the job with an option typed into its own entries, line by line."""
    out = deepcopy(entries)
    part = str(option.get("part") or "")
    for name in [part] if part else MIXED:
        columns = MIXED.get(name, [])
        for key in columns:
            if option.get("finish") and name in FINISHES:
                put_used(out, key, option["finish"])
            if option.get("mix"):
                put_used(out, key.replace("finish", "mix"), option["mix"])
            if option.get("mix"):
                put(out, key.replace("finish", "placement"), None)
        if option.get("thicker") and name in THICKNESS:
            thicken(out, *THICKNESS[name], float(option["thicker"] or 0), used)
        if name == "Bands" and option.get("thicker"):
            key = "bands.inside_thickness"
            out[key] = [v and v + option["thicker"] for v in out[key]]  # type: ignore[operator]
    if option.get("together"):
        for columns in MIXED.values():
            for key in columns:
                put(out, key.replace("finish", "placement"), None)
    if option.get("out"):
        LEFT_OUT[part](out)
    if product := option.get("product"):
        line = out["products.name"].index(product)
        out["products.coats"][line] = float(out["products.coats"][line] or 1) + 1
    if option.get("bar"):
        for zone in ZONES.get(part, (0,)):
            out["steel.kind"][zone] = "Bars"
            out["steel.bar"][zone] = option["bar"]
            out["steel.spacing"][zone] = option["apart"]
    if option.get("no_fiber"):
        put(out, "mixes.fiber", 0.0)
    return out


def thicken(out: Entries, key: str, usual: str, more: float, used: dict[str, list[Scalar]]) -> None:
    """Add to the thickness of every line: the one typed, or what an empty one stands for."""
    block = key.split(".")[0]
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
    import tomllib

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


def gap(units: Units, size: Size, entries: Entries, options: list[dict[str, Scalar]]) -> list[str]:
    """Return every figure that the switch gives otherwise than the job with these entries."""
    used = results(units, entries, keys_of(units, ("usual.thickness", "usual_bands.depth")), size)
    other = bare(entries)
    for option in options:
        other = typed_in(other, option, used)
    switched = results(units, asked(entries, options), frozenset(), size)
    typed = results(units, other, frozenset(), size)
    book = TEMPLATES[units, size].book
    out = []
    for key in sorted(typed.keys() & switched.keys()):
        block, _, part = book.parts[key]
        if part.kind == "entry" or block.key in NOT_THE_JOB or block.key.startswith("proposal"):
            continue
        one, two = typed[key], switched[key]
        if any(differ(a, b) for a, b in zip(one, two, strict=True)):
            out.append(f"{key}: typed {one}, switched {two}")
    return out


def differ(a: Scalar, b: Scalar) -> bool:
    if isinstance(a, float) and isinstance(b, float):
        return abs(a - b) > 1e-6
    return a != b
