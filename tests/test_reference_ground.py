"""Random whole jobs: forms, ground, joints and sheet against the reference model."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference.buying import center_lines, packages, parts, strips
from reference.jobs import Job, jobs
from reference.measure import Length, Units
from reference.slabs import lengths
from reference.workbook import Answers, asking
from test_reference import SETTINGS, UNITS, same

answers = asking("forms", "edges", "base", "joints", "cuts",
                 "piece_cuts.length", "sheeting", "sheet_strips")  # fmt: skip


@UNITS
@SETTINGS
@given(data=st.data())
def test_forms_ground_joints_and_sheet(units: Units, data: st.DataObject) -> None:
    job = data.draw(jobs(units))
    most = _open_edge(job) / 2  # two slabs have it, both open
    meet = data.draw(lengths(units, 0, most))
    if meet.base > most:  # less is open than the shortest length drawn
        meet = Length(0, units)
    got = answers(units, {**job.typed, "meeting": {"length": meet}})
    _forms(got, job, meet.base)
    _base(got, job, meet.base)
    _joints(got, job)
    _plastic_sheet(got, job, meet.base)


def _open_edge(job: Job) -> float:
    """Measure the outside edges on the ground that no structure holds."""
    loose = sum(s.edge - s.held for s in [*job.pieces, *job.curves])
    return loose + float(sum(b.grid.outside.length - b.held for b in job.bands))


def _forms(got: Answers, job: Job, meet: float) -> None:
    loose = [*job.pieces, *job.curves, *job.flights]
    free = sum(s.edge - s.held for s in loose) - meet  # one board for two edges
    held = sum(s.held for s in loose) + sum(b.held for b in job.bands)
    bands_first = sum(b.forms_bands_first for b in job.bands)
    panels_first = sum(b.forms_panels_first for b in job.bands)
    same(got, "forms.set", "length", [free + bands_first])
    at_once = free + bands_first
    if job.typed["forming"]["first"] == "Panels first":  # panels, then what is still open outside
        at_once = free + max(panels_first, bands_first - panels_first)
    new = at_once * (1 - job.rate("forming", "reuse"))
    same(got, "forms.new", "length", [new])
    more = 1 + job.rate("form_rates", "waste")
    bent = sum(got.base("edges.bent", "length")) * (1 - job.rate("forming", "reuse"))
    straight = packages((new - bent) * more, job.rate("form_rates", "board"))
    same(got, "forms.boards", "plain", [straight])
    same(got, "forms.bender", "plain", [packages(bent * more, job.rate("form_rates", "bender"))])
    stakes = sum(got["edges.stakes"]) * (new / got.base("forms.set", "length")[0] if new else 0)
    same(got, "forms.stakes", "plain", [packages(stakes, 1)])
    same(got, "forms.nails", "plain", [packages(stakes, 1) * job.rate("form_rates", "nails")])
    same(got, "forms.strips", "plain", [packages(held * more, job.rate("form_rates", "strip"))])
    around = sum(s.edge for s in loose) + sum(b.grid.outside.length for b in job.bands)
    around -= 2 * meet  # no outside there
    same(got, "forms.string", "length", [around + sum(center_lines(b) for b in job.bands)])


def _base(got: Answers, job: Job, meet: float) -> None:
    flat = job.slabs(steps=False)
    average = sum(s.volume for s in flat) / sum(s.area for s in flat)
    open_edge = _open_edge(job) - 2 * meet  # both slabs lose it
    ground = sum(job.plan(s) for s in job.slabs())
    area = ground + open_edge * job.rate("dig", "past")
    deep = average + job.rate("dig", "base") - job.rate("dig", "above")
    bank, fill = area * max(0, deep), area * max(0, -deep)
    loose = bank * job.rate("soils", "loose")
    same(got, "base.area", "area", [area])
    same(got, "base.bank", "volume", [bank])
    same(got, "base.loose", "volume", [loose])
    same(got, "base.loads", "plain", [packages(loose, job.rate("base_rates", "truck"))])
    same(got, "base.fill", "volume", [fill])
    in_ground = fill / job.rate("soils", "packed")
    same(got, "base.fill_loose", "volume", [in_ground * job.rate("soils", "loose")])
    place = area * job.rate("dig", "base")
    bought = place * (1 + job.rate("base_rates", "waste"))
    weight = bought * job.rate("base_rates", "density") * (1 + job.rate("base_rates", "water"))
    step = job.rate("base_rates", "step")
    same(got, "base.place", "volume", [place])
    same(got, "base.stone_loose", "volume", [bought * job.rate("base_rates", "loose")])
    same(got, "base.stone", "heavy", [packages(weight, step) * step])
    layers = packages(job.rate("dig", "base"), job.rate("base_rates", "lift"))
    same(got, "base.lifts", "plain", [layers])


def _joints(got: Answers, job: Job) -> None:
    times, most = job.rate("joint_rates", "times"), job.rate("joint_rates", "most")
    for number, band in enumerate(job.bands):
        spacing = min(times * band.depth("panel"), most)
        length, worst = 0.0, 0.0
        for left, low, right, high in (p.bounds for p in band.grid.panels):
            columns, rows = parts(right - left, spacing), parts(high - low, spacing)
            length += (columns - 1) * (high - low) + (rows - 1) * (right - left)
            slant = (right - left) / columns / ((high - low) / rows)
            worst = max(worst, slant, 1 / slant)
        assert got.base("cuts.panels", "length")[number] == pytest.approx(length, rel=1e-9)
        assert got["cuts.ratio"][number] == pytest.approx(worst, rel=1e-9)
        runs = band.grid.runs
        wide = {k: band.typed[f"{k}_wide"].base for k in ("end", "side")}
        wide |= {"across": band.grid.x.wide, "along": band.grid.y.wide}
        cut = {k: sum(parts(r, spacing) - 1 for r in runs[k]) * wide[k] for k in wide}
        have = got.base("cuts.border", "length")[number]
        assert have == pytest.approx(cut["end"] + cut["side"], rel=1e-9)
        have = got.base("cuts.bands", "length")[number]
        assert have == pytest.approx(cut["across"] + cut["along"], rel=1e-9)
        deep = max(
            band.depth("panel") * job.rate("joint_rates", "depth"), job.rate("joint_rates", "least")
        )
        assert got.base("cuts.depth", "thickness")[number] == pytest.approx(deep, rel=1e-9)
    for number, piece in enumerate(job.pieces):
        if piece.typed["shape"] == "Rectangle":
            spacing = min(times * piece.volume / piece.area, most)
            a, b = piece.typed["a"].base, piece.typed["b"].base
            one = (parts(a, spacing) - 1) * b + (parts(b, spacing) - 1) * a
            have = got.base("piece_cuts.length", "length")[number]
            assert have == pytest.approx(one * piece.typed.get("count", 1), rel=1e-9)
    held = sum(s.held for s in [*job.pieces, *job.curves]) + sum(b.held for b in job.bands)
    bead = job.rate("joint_rates", "bead_wide") * job.rate("joint_rates", "bead_deep")
    sealant = held * bead * (1 + job.rate("joint_rates", "waste"))
    same(got, "joints.sealant", "liquid", [sealant])
    tubes = packages(sealant, job.rate("joint_rates", "tube"))
    same(got, "joints.tubes", "plain", [tubes])


def _plastic_sheet(got: Answers, job: Job, meet: float) -> None:
    rate = {k: job.rate("sheet_rates", k) for k in job.typed["sheet_rates"]}
    side = rate["wider"]
    total = 0.0
    for number, band in enumerate(job.bands):
        long, wide = band.grid.x.whole + side, band.grid.y.whole + side
        ways = [
            (strips(over, rate["wide"], rate["lap"]) * run, over, run)
            for over, run in ((wide, long), (long, wide))
        ]
        total += min(ways)[0]
        laid = got["sheet_strips.strips"][number] * got.base("sheet_strips.each", "length")[number]
        assert laid == pytest.approx(min(ways)[0], rel=1e-9)
    loose = [*job.pieces, *job.curves, *job.flights]
    edge = sum(s.edge for s in loose) - 2 * meet
    other = max(0, sum(s.area for s in loose) + edge * side / 2)
    same(got, "sheeting.area", "area", [other])
    total += other / (rate["wide"] - rate["lap"])
    same(got, "sheeting.strip", "length", [total])
    same(got, "sheeting.rolls", "plain", [packages(total, rate["long"] - rate["lap"])])
