"""Random whole jobs: concrete, color, products and hours against the reference model."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference.buying import bags_by_load, cylinder, packages, truckloads
from reference.jobs import Job, jobs
from reference.measure import Units, factor
from reference.slabs import FINISHES, MIXES
from reference.workbook import Answers, asking
from test_reference import SETTINGS, UNITS, same

answers = asking("plant.held", "concrete", "grout", "color", "shake", "fiber", "product_order",
                 "labor", "finish_hours", "hours", "loads.size")  # fmt: skip


@UNITS
@SETTINGS
@given(data=st.data())
def test_concrete_color_products_and_hours(units: Units, data: st.DataObject) -> None:
    job = data.draw(jobs(units))
    got = answers(units, job.typed)
    orders = _concrete(got, job)
    _color(got, job, orders)
    _products(got, job)
    _labor(got, job, sum(orders))


def _concrete(got: Answers, job: Job) -> list[float]:
    held = cylinder(job.rate("plant", "bore"), job.rate("plant", "hose"))
    same(got, "plant.held", "volume", [held])
    lost = job.rate("plant", "hopper") + held
    needs, orders, grout = [], [], 0.0
    for number, mix in enumerate(MIXES):
        of = [s for s in job.slabs() if s.mix == mix]
        deeper = sum(job.plan(s) for s in of) * job.rate("mixes", "allowance", number)
        filled = sum(s.volume for s in of) + deeper
        pumped = job.typed["mixes"][number]["placed"] == "Pump" and filled > 0
        grout += pumped * job.rate("plant", "prime")  # no concrete of the mix
        needs.append(filled + filled * job.rate("mixes", "waste", number) + pumped * lost)
        step = job.rate("plant", "step")
        orders.append(packages(needs[-1], step) * step)
    same(got, "concrete.need", "volume", needs)
    same(got, "concrete.order", "volume", orders)
    same(got, "grout.volume", "volume", [grout])
    return orders


def _color(got: Answers, job: Job, orders: list[float]) -> None:
    mixes = range(len(MIXES))
    doses = [job.rate("mixes", "pigment", n) * job.rate("mixes", "cementitious", n) for n in mixes]
    pigment = [dose * order for dose, order in zip(doses, orders, strict=True)]
    liquid = [job.rate("mixes", "liquid_color", n) * orders[n] for n in mixes]
    fiber = [job.rate("mixes", "fiber", n) * orders[n] for n in mixes]
    same(got, "color.dose", "weight_per_volume", doses)
    same(got, "color.weight", "weight", pigment)
    same(got, "color.liquid", "liquid", liquid)
    same(got, "fiber.weight", "weight", fiber)
    bag, step = job.rate("coloring", "pigment_bag"), job.rate("plant", "step")
    loads = [truckloads(order, step, job.rate("delivery", "truck")) for order in orders]
    bags = [
        max(packages(weight, bag), bags_by_load(trucks, dose * step, bag))
        for weight, trucks, dose in zip(pigment, loads, doses, strict=True)
    ]
    if sum(map(len, loads)) <= len(got["loads.size"]):
        same(got, "color.bags", "plain", bags)
    for key, amounts, each in (
        ("color.pails", liquid, job.rate("coloring", "pail")),
        ("fiber.bags", fiber, job.rate("steel_rates", "bag")),
    ):
        same(got, key, "plain", [packages(a, each) for a in amounts])
    shake = [job.area(f) * job.rate("finishes", "shake", n) for n, f in enumerate(FINISHES)]
    first, second = (job.rate("coloring", f"{p}_parts") for p in ("first", "second"))
    same(got, "shake.weight", "weight", shake)
    same(got, "shake.first", "weight", [s * first / (first + second) for s in shake])
    same(got, "shake.second", "weight", [s * second / (first + second) for s in shake])
    each = job.rate("coloring", "shake_bag")
    thrown = [s * (1 + job.rate("coloring", "shake_waste")) for s in shake]
    same(got, "shake.bags", "plain", [packages(t, each) for t in thrown])


def _stamped(job: Job) -> list[str]:
    return [f["name"] for f in job.typed["finishes"] if f["stamped"] == "Yes"]


def _faces(job: Job, line: dict[str, Any]) -> list[str]:
    """Return the finishes a product goes on."""
    stamped = _stamped(job)
    groups = {"All finishes": FINISHES, "All stamped": stamped, "Not used": [], None: [],
              "All not stamped": [f for f in FINISHES if f not in stamped]}  # fmt: skip
    return [f for on in ("on", "also") for f in groups.get(line[on], [line[on]])]


def _gone_over(job: Job) -> dict[str, tuple[str, float]]:
    """Return the measures of washing, curing and sealing; line 5 is a sealer as it comes."""
    of = {"Release": 0.0, "Curing": 0.0, "Sealer": 2 * job.area(*_stamped(job))}
    for line in job.typed["products"]:
        if line["kind"] in of:
            coats = line["coats"] if line["kind"] == "Sealer" else 1
            of[line["kind"]] += coats * sum(job.area(f) for f in _faces(job, line))
    every, stamped = job.area(*FINISHES), job.area(*_stamped(job))
    return {
        "Sealer, area of all coats": ("area", of["Sealer"]),
        "Area with curing compound": ("area", min(every, of["Curing"])),
        "Area cured wet": ("area", max(0, every - of["Curing"])),
        "Area with release": ("area", min(stamped, of["Release"])),
    }


def _products(got: Answers, job: Job) -> None:
    areas, liquids, powders, counts = [], [], [], []
    for number, line in enumerate(job.typed["products"]):
        covered = 0.0
        for finish in _faces(job, line):
            texture = job.rate("finishes", "texture", FINISHES.index(finish))
            covered += job.area(finish) * (1 + texture * (line["texture"] == "Yes"))
        areas.append(covered)
        coats = covered * line["coats"] * (1 + job.rate("products", "waste", number))
        if line["coverage"] is None:
            powders.append(coats * job.rate("products", "dose", number))
            liquids.append(0.0)
            counts.append(packages(powders[-1], job.rate("products", "bag", number)))
        else:
            liquids.append(coats / job.rate("products", "coverage", number))
            powders.append(0.0)
            counts.append(packages(liquids[-1], job.rate("products", "pail", number)))
    same(got, "product_order.area", "area", areas)
    same(got, "product_order.liquid", "liquid", liquids)
    same(got, "product_order.powder", "weight", powders)
    same(got, "product_order.packages", "plain", counts)


def _labor(got: Answers, job: Job, ordered: float) -> None:
    treads = sum(f.typed["count"] for f in job.flights)
    edges = sum(s.edge for s in [*job.pieces, *job.curves, *job.flights])
    of = {
        "Edging tool": ("length", edges + sum(b.tool for b in job.bands)),
        "Concrete to order": ("volume", ordered),
        "Step treads": ("plain", treads),
        "Once for the job": ("plain", 1),
        **_gone_over(job),
    }
    hours = []
    for line in job.typed["labor"]:
        finishes = FINISHES if line["driver"] == "Total area" else [line["driver"][len("Area, ") :]]
        kind, amount = of.get(line["driver"], ("area", job.area(*finishes)))
        slow = job.area(*finishes, narrow=True) if line["strips"] == "Yes" else 0.0
        slow = slow if line["driver"] not in of else 0.0
        if (line["driver"], line["strips"]) == ("Area with release", "Yes"):
            slow = min(amount, job.area(*_stamped(job), narrow=True))
        quantity = amount / factor(kind, job.units)
        spread = (amount - slow + slow * job.typed["crew"]["narrow"]) / factor(kind, job.units)
        difficulty, least = line["difficulty"], line["least"]
        worked = max(least, spread * line["rate"] * difficulty)
        hours.append(worked if quantity > 0 and difficulty > 0 else 0.0)
    assert got["labor.hours"][: len(hours)] == pytest.approx(hours, rel=1e-9, abs=1e-9)
    every = list(zip(got["labor.hours"], got["labor.finish"], strict=True))
    total, size, day = sum(h for h, _ in every), job.typed["crew"]["size"], job.typed["crew"]["day"]
    shared = sum(h for h, finish in every if not finish)
    for number, finish in enumerate(FINISHES):
        own = sum(h for h, of_finish in every if of_finish == finish)
        share = shared * job.area(finish) / job.area(*FINISHES)
        have = got["finish_hours.total"][number]
        assert have == pytest.approx(own + share, rel=1e-9, abs=1e-9)
    days = total / size / day / job.rate("crew", "productive")
    assert got["hours.total"][0] == pytest.approx(total, rel=1e-9)
    assert got["hours.crew_days"][0] == pytest.approx(days, rel=1e-9)
