"""Published tables, units and both systems of units through the workbook's formulas."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pint import Quantity

from reference.jobs import jobs
from reference.measure import Q, factor
from reference.systems import in_both, turned
from reference.workbook import asking
from sample import some
from shop import load_book
from test_reference import SETTINGS

answers = asking("pieces.volume", "concrete", "joints.spacing")

# Published tables ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "width", "thick", "places", "yards"),
    [
        # yd³ in 100 ft²: geometry
        *((10, 10, t, 4, v) for t, v in [(3, 0.9259), (3.5, 1.0802), (4, 1.2346), (5, 1.5432),
                                         (5.5, 1.6975), (6, 1.8519), (8, 2.4691)]),
        # ft² that one yd³ covers: divisor rule of a ready-mix producer's ordering page
        (162, 1, 2, 9, 1), (81, 1, 4, 9, 1), (54, 1, 6, 9, 1),
        # the same, geometry; 92.57 and 58.91 are printed to the hundredth
        (108, 1, 3, 9, 1), (92.57, 1, 3.5, 4, 1), (64.8, 1, 5, 9, 1), (58.91, 1, 5.5, 4, 1),
        (40.5, 1, 8, 9, 1),
        # a ready-mix producer's worked example, printed 3.95
        (20, 16, 4, 2, 3.95),
        # sidewalk and driveway by exact thickness: geometry
        (25, 5, 4, 3, 1.543), (80, 24, 5, 2, 29.63),
    ],
)  # fmt: skip
def test_volume_of_a_slab(
    length: float, width: float, thick: float, places: int, yards: float
) -> None:
    slab = {"shape": "Rectangle", "a.ft": length, "b.ft": width, "thickness": thick}
    got = answers("us", {"pieces": [slab]})
    assert got["pieces.volume"][0] == pytest.approx(yards, abs=0.51 * 10**-places)


def test_an_eighth_of_an_inch_on_four_is_three_percent() -> None:
    # NRMCA Concrete in Practice 8, Discrepancies in Yield: 3 %, about one yard in 32
    mix = {"allowance": 0.125, "waste": 0, "placed": "Chute"}
    slab = {"shape": "Rectangle", "a.ft": 60, "b.ft": 40, "thickness": 4}
    got = answers("us", {"mixes": [mix], "pieces": [slab]})
    assert got["concrete.deeper"][0] / got["concrete.neat"][0] == pytest.approx(1 / 32)


@pytest.mark.parametrize(
    ("times", "feet"),
    # PCA, Building Movements and Joints: 24, 30 and 36 thicknesses of 4, 5 and 6 in
    [(24, [8, 10, 12]), (30, [10, 12.5, 15]), (36, [12, 15, 18])],
)
def test_spacing_of_joints(times: int, feet: list[float]) -> None:
    for thick, spacing in zip((4, 5, 6), feet, strict=True):
        rates = {"times": times, "most": 18}  # 18 ft: ACI 302.1R-96
        got = answers("us", {"usual": {"thickness": thick}, "joint_rates": rates})
        assert got["joints.spacing"][0] == pytest.approx(spacing)


# NIST SP 811, appendix B
@pytest.mark.parametrize(
    ("kind", "in_si"),
    [
        ("volume", 0.764554857984),
        ("liquid", 0.003785411784),
        ("weight", 0.45359237),
        ("weight_per_volume", 0.5932764213),
        ("weight_per_area", 0.04882427636),
        ("area_per_liquid", 24.54238675),
        ("liquid_per_volume", 0.004951131688),
        ("weight_per_length", 1.488163944),
    ],
)
def test_units_of_the_reference_model_are_those_of_nist(kind: str, in_si: float) -> None:
    assert factor(kind, "us") == pytest.approx(in_si, rel=1e-9)


@pytest.mark.parametrize(
    ("key", "us", "si"),
    [
        ("inches_per_foot", Q(1, "foot").to("inch"), Q(1, "meter").to("millimeter")),
        (
            "area_thickness_per_volume",
            Q(1, "yard**3").to("foot**2*inch"),
            Q(1, "meter**3").to("meter**2*millimeter"),
        ),
        ("cubic_length_per_volume", Q(1, "yard**3").to("foot**3"), Q(1, "meter**3")),
        ("sixteenths_per_foot", Q(1, "foot").to("inch") * 16, Q(1, "meter").to("millimeter")),
        ("sixteenths_per_inch", Q(16, ""), Q(1, "")),
        ("area_basis", Q(100, "foot**2"), Q(1, "meter**2")),
        ("hundred", Q(1, "").to("percent"), Q(1, "").to("percent")),
        ("full_circle", Q(1, "turn").to("degree"), Q(1, "turn").to("degree")),
        ("bead_per_liquid", Q(1, "gallon").to("foot*inch**2"), Q(1, "liter").to("m*mm**2")),
    ],
)
def test_constants_are_those_of_pint(key: str, us: Quantity[float], si: Quantity[float]) -> None:
    assert load_book("us").parts[f"const.{key}"][2].values[0] == pytest.approx(us.m, rel=1e-12)
    assert load_book("si").parts[f"const.{key}"][2].values[0] == pytest.approx(si.m, rel=1e-12)


# Both systems of units ----------------------------------------------------------------

WORDS = (
    "const.", "basis.", "limits.", "drivers.", "packing.", "product_order.each",
    "labor.quantity", "labor.unit", "labor.rate", "labor.slower", "labor.in_strips",
    "crew_", "load_turns.color", "order_loads.color", "order_page.", "weighed.", "fitting.also",
    "fitting.says", "list.", "supply.", "order_driver.", "order_of.",
    "product_order.packs", "prices.unit", "costs.count", "costs.unit",
    "task_rates.each", "used_up.each", "what_if.name", "scope", "steel_scope.", "finish_words.",
    "finish_lines.", "quantities_shown.", "price_lines.", "proposal_",
    "arrows.across", "arrows.falls", "arrows.says", "arrows.words", "yard_scale.fall",
    "one_words.says", "one_words.side", "one_words.panel", "one_begin.says",
    "heights_said.says", "yard.long", "yard.more", "yard.under", "card.",
    "checks.at_", "checks.say", "figures.", "guide_", "next.says", "open.address", "order_to.",
    "tint.psi_", "tint.word", "balance.name", "index.", "others.name",
)  # fmt: skip
"""Where a unit or the place's name of a tax is part of what is said, or differs by line."""
GUARDS = (
    "cuts.step",
    "walks.cut_step",
    "curve_cuts.spacing",
    "piece_cuts.spacing",
    "setting.part",
    "short_chance.",
)
"""Divisions of next to nothing by the smallest step, which is as many feet as it is meters;
a step at whose very end float dust decides."""
APART = (
    "drying.", "weather.evaporation", "weather.humidity.effect", "weather.calm",
    "weather.hour_calm", "setting.", "setting_rates.share.effect", "setting_rates.hotter",
    "hourly", "hour_sets.", "day_sets.", "load_window.", "window.slack_warm", "window.hot_",
)  # fmt: skip
"""Published in each system by itself, with figures rounded there; a line without a day is at
0 degrees in both."""

TAPED = ("grades.", "points.", "load_color.rest", "load_color.says", "load_color.short")
"""Rounded to the marks of the tape or of the scale, of which each system has its own."""


@settings(SETTINGS, max_examples=some(4))
@given(data=st.data())
def test_a_job_in_us_units_and_in_si_agrees(data: st.DataObject) -> None:
    us, si = in_both(data.draw(jobs("us")).typed)
    parts, twins = load_book("us").parts, load_book("si").parts
    for key in set(parts) & set(twins):
        if key.startswith((*WORDS, *GUARDS, *APART, *TAPED)):
            continue
        pair = parts[key][2], twins[key][2]
        wanted = [turned(v, *pair) if isinstance(v, (int, float)) else v for v in us[key]]
        assert len(wanted) == len(si[key])
        for line, (have, want) in enumerate(zip(si[key], wanted, strict=True), 1):
            if isinstance(have, str) or isinstance(want, str):
                assert have == want, f"{key}, line {line}"
            elif have is None or want is None:
                assert have is want, f"{key}, line {line}"
            else:
                assert have == pytest.approx(want, rel=1e-9, abs=1e-9), f"{key}, line {line}"
