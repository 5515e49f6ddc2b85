"""Margins, split, path and slot: what is drawn lies where conservation laws put it."""

from __future__ import annotations

import math
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.patches import Rectangle

from flownet import (
    Body,
    Compartment,
    Enclosure,
    Fan,
    Filter,
    Opening,
    Part,
    Slot,
    Vent,
    draw,
    solve,
)
from flownet.enclosure.heat import SinkType
from flownet.pictures.air_shares import air_shares
from flownet.pictures.way import steps_of, way_of
from flownet.results.streams import is_outside
from flownet.schema.errors import CaseError
from tests.pictures import air_boxes, sample
from tests.pictures.air_boxes import AXIAL, OUT
from tests.pictures.legible import faults, texts
from tests.pictures.random_sample import random_solution
from tests.pictures.samples import made
from tests.test_cases import load

mpl.use("Agg")
CP = 1006.0  # J/(kg K), dry air near 300 K (value from memory, as the project states it)


@pytest.fixture(autouse=True)
def _closed():
    yield
    pyplot.close("all")


def title(ax: Any) -> str:
    return ax.figure.get_label().split("\n", 1)[0]


# --- margins -------------------------------------------------------------------------------------


def share_by_hand(item: Any, outside: float) -> float:
    """What is left: of the allowed rise, of the sound power (10 dB is a tenth), of the life."""
    if item.limit == "noise":
        return 1 - 10 ** ((item.value - item.bound) / 10)
    if item.limit == "life":
        return 1 - item.bound / item.value
    return (item.bound - item.value) / (item.bound - outside)


def test_a_bar_ends_at_the_share_that_is_left_and_the_worst_is_on_top():
    solution = made("margins")
    ax = draw.margins(solution)
    bars = [bar for bar in ax.patches if 0.5 < bar.get_height() < 0.6]
    plain = [bar.get_x() + bar.get_width() for bar in bars if not bar.get_hatch()]
    known = [item for item in solution.limits if item.value == item.value]
    wanted = sorted(share_by_hand(item, solution.site["temperature"]) for item in known)
    assert plain == pytest.approx(wanted)
    hatched = [bar for bar in bars if bar.get_hatch()]
    assert len(hatched) == sum(value < 0 for value in wanted) == 3
    ticks = {round(line.get_ydata().mean()): line.get_xdata()[0] for line in ax.lines
             if line.get_linewidth() == 0.9}  # fmt: skip
    upper = next(i for i, item in enumerate(sorted(
        known, key=lambda item: share_by_hand(item, solution.site["temperature"])))
        if item.subject == "compartment.upper")  # fmt: skip
    assert ticks[upper] == pytest.approx(3.0 / 10.0)  # 3 K wanted of the 10 K from 45 to 55 degC


def test_margins_are_titled_by_the_verdict_void_first_and_twins_share_a_row():
    for name, start in (("margins", "3 limits broken: part.rectifier"),
                        ("margins void", "Void: fan.left, fan.middle and fan.right blowing"),
                        ("margins none", "No limit is held against a result")):  # fmt: skip
        assert title(draw.margins(made(name))).startswith(start)
    told = [text.get_text() for text in texts(draw.margins(made("margins void")).figure)]
    assert "part.switch-chip-1,\npart.switch-chip-2" in told
    assert "fan.left, fan.right" in told


# --- split ---------------------------------------------------------------------------------------


def heights(ax: Any) -> dict[str, float]:
    return {bar.get_label(): bar.get_height() for bar in ax.patches if isinstance(bar, Rectangle)}


@pytest.mark.parametrize("name", ["split", "split strips", "split loop", "slot"])
def test_bands_are_as_high_as_their_flow_and_printed_shares_add_up(name):
    """Conservation of mass in every place; in g/s, or in lb/min (0.45359237 kg, NIST SP 811)."""
    solution = made(name)
    found, total = air_shares(solution), solution.totals.mass_flow
    for units, factor in (("metric", 1e3), ("us", 60 / 0.45359237)):
        ax = draw.split(solution, units=units)
        high = heights(ax)
        entering = {band.path for band in found.bands if is_outside(band.source)}
        assert sum(high[path] for path in entering) == pytest.approx(total * factor)
        for band in found.bands:
            assert high[band.path] == pytest.approx(band.flow * factor)
    for place in (place for zone in found.zones for place in zone):
        into = sum(band.percent for band in found.bands if band.target == place)
        assert into == sum(band.percent for band in found.bands if band.source == place)
    for side in ("source", "target"):
        outer = [band.percent for band in found.bands if is_outside(getattr(band, side))]
        assert sum(outer) == 100
    assert all(abs(band.percent - 100 * band.flow / total) < 1 for band in found.bands)


def test_the_unfiltered_share_is_that_of_mixing_by_hand():
    """Each place mixed: what enters it, weighed by its flow. In a circle the same, solved by hand:
    of a place with intake f, return r and leak l, x = l / (f + l)."""
    cabinet, flow = made("split"), made("split").mass_flow
    found = air_shares(cabinet)
    lower = flow("opening.cables") / (flow("opening.cables") + flow("filter.intake"))
    upper = (flow("baffle.shelf") * lower + flow("vent.side") + flow("leak.door-seal")
             - flow("fan.left")) / flow("fan.right")  # fmt: skip
    assert found.unfiltered == pytest.approx({"lower": lower, "upper": upper})
    assert found.through == pytest.approx(upper)  # all air leaves from there
    assert title(draw.split(cabinet)) == (
        f"{100 * upper:.0f} % of the air passes unfiltered, 32 % comes back through fan.left"
    )
    circle, flow = made("split loop"), made("split loop").mass_flow
    fresh, leak, again = (flow(path) for path in ("filter.mat", "leak.seam", "opening.down"))
    hot = leak / (fresh + leak)
    shares = air_shares(circle).unfiltered
    assert shares == pytest.approx({"hot": hot, "back": hot, "cold": hot * again / (fresh + again)})
    high = heights(draw.split(circle))
    assert high["fan.out unfiltered"] == pytest.approx(1e3 * leak)  # what comes in goes out


def test_places_stand_in_the_order_the_air_meets_them():
    assert air_shares(made("split strips")).zones == (tuple(f"bay-{i}" for i in range(1, 13)),)
    assert air_shares(made("split loop")).zones == (("cold", "hot", "back"),)
    closed = air_shares(made("split closed"))
    assert closed.zones == (("hot", "back", "cold"),)
    assert all(map(math.isnan, closed.unfiltered.values()))
    assert title(draw.split(made("split closed"))).startswith("No air comes in from outside: ")
    apart = Enclosure.of(
        OUT, AXIAL, *(Compartment(name=name) for name in ("second", "first", "skin")),
        Vent(name="in", from_="outside", to="first", area="0.02 m2", loss=3),
        Opening(name="gap", from_="second", to="first", area="0.02 m2"),
        Fan(name="out", from_="second", to="outside", type="axial"),
        Vent(name="low", from_="outside", to="skin", area="0.02 m2", loss=3),
        Fan(name="high", from_="skin", to="outside", type="axial"),
    )  # fmt: skip
    assert air_shares(solve(apart)).zones == (("first", "second"), ("skin",))


def test_what_no_filter_cleans_is_told_honestly():
    """A filter inside cleans what came in without one; a removed one cleans nothing."""
    boxed = Enclosure.of(
        OUT, AXIAL, Compartment(name="a"), Compartment(name="b"),
        Vent(name="in", from_="outside", to="a", area="0.02 m2", loss=3),
        Filter(name="inner", from_="a", to="b", area="0.05 m2", loss=10),
        Fan(name="out", from_="b", to="outside", type="axial"),
    )  # fmt: skip
    found = air_shares(solve(boxed))
    assert (found.unfiltered["a"], found.unfiltered["b"], found.through) == (1.0, 0.0, 0.0)
    assert title(draw.split(solve(boxed))) == "All air passes a filter"
    without = solve(boxed, changes={"filter.inner.state": "removed"})
    assert title(draw.split(without)).endswith("; all of it comes in through vent.in")
    still = solve(boxed, changes={"fan.out.state": "blanked"})
    for picture in (draw.split, draw.path):
        with pytest.raises(CaseError, match="no air moves"):
            picture(still)


# --- path ----------------------------------------------------------------------------------------


def sums(solution: Any, of: str | None = None) -> dict[str, float]:
    return {step.name: step.change for step in steps_of(solution, way_of(solution, of))}


@pytest.mark.parametrize("name", ["path", "path closed", "path many", "path void"])
def test_steps_along_a_way_add_up_to_zero(name):
    solution = made(name)
    for of in (None, *(path for path in solution.fans if abs(solution.mass_flow(path)) > 1e-6)):
        assert sum(sums(solution, of).values()) == pytest.approx(0.0, abs=2e-6)
    ax = draw.path(solution)
    course = max(ax.lines, key=lambda line: len(line.get_xdata()))
    assert course.get_ydata()[[0, -1]] == pytest.approx([0.0, 0.0], abs=2e-6)


def test_without_heat_fans_and_losses_alone_close_every_way():
    """Air as warm as outside has no draught (hydrostatics): rises and drops, signs included, sum to
    nothing by themselves, with fans in series, turned round, stopped, guarded and shuttered."""
    flap = {"open_loss": 0.5, "closed_leak": 0.02}
    fan: Any = {"type": "axial", "guard": {"loss": 0.6}, "shutter": flap}
    cold = Enclosure.of(
        OUT, AXIAL, Compartment(name="a"), Compartment(name="b"),
        Filter(name="mat", from_="outside", to="a", area="0.03 m2", loss=30),
        Vent(name="rain", on="filter.mat", area="0.03 m2", loss=4),
        Fan(name="push", from_="a", to="b", **fan),
        Fan(name="pull", from_="b", to="outside", **fan),
        Fan(name="turned", from_="outside", to="b", mounted="reversed", type="axial"),
        Fan(name="dead", from_="b", to="outside", type="axial", state="stopped"),
        Opening(name="gap", from_="a", to="b", area="0.002 m2"),
    )  # fmt: skip
    solution = solve(cold)
    for of in (None, "pull", "turned", "fan.dead", "opening.gap", "vent.rain"):
        found = sums(solution, of)
        assert found["draught"] == pytest.approx(0.0, abs=1e-6)
        assert max(map(abs, found.values())) > 1.0
    assert "fan.dead (stopped)" in sums(solution, "dead")


def test_the_draught_is_that_of_the_columns_of_air():
    """Stack effect, g H (rho_o - rho_i) with rho = p/(R T): hydrostatics and the ideal gas law;
    R = 287.05 J/(kg K) of dry air (from memory)."""
    tower = Enclosure.of(
        Body(size="600 x 2000 x 400 mm"), OUT, Compartment(name="box", outline="0 0 600 2000 mm"),
        Opening(name="low", from_="outside", to="box", area="0.02 m2", at="0 200 mm"),
        Opening(name="high", from_="box", to="outside", area="0.02 m2", at="0 1800 mm"),
        Part(name="p", in_="box", power="200 W"),
    )  # fmt: skip
    solution = solve(tower)
    warm, pressure = solution.compartments["box"].temperature, solution.site["pressure"]
    density = [pressure / (287.05 * t) for t in (303.15, warm)]
    wanted = 9.80665 * 1.6 * (density[0] - density[1])
    assert sums(solution)["draught"] == pytest.approx(wanted, rel=1e-4)
    windy = made("path many")
    through = sums(windy, "vent.v-bay-5")
    assert through["over-pressure outside"] == pytest.approx(2.0)


def test_the_way_follows_the_largest_flow_and_is_clean_and_loaded():
    solution = made("path")
    assert [s.path for s in way_of(solution)] == [
        "filter.intake", "baffle.shelf", "fan.left"]  # fmt: skip
    assert way_of(solution, "vent.side")[0].path == "vent.side"
    clean = solve(solution.case, changes={"filter.*.fouling": 1.0})
    drops = [-steps_of(each, way_of(solution))[0].change for each in (clean, solution)]
    assert drops == pytest.approx([each.branches["filter.intake"].drop for each in
                                   (clean, solution)])  # fmt: skip
    courses = [line for line in draw.path(solution).lines if len(line.get_xdata()) > 6]
    assert [line.get_ydata().min() < -drop for line, drop in zip(courses, drops, strict=True)] == [
        True, True]  # fmt: skip
    assert title(draw.path(solution)).startswith("filter.intake takes ")
    circle = way_of(made("path closed"))
    assert circle[0].path == "fan.mix"
    assert circle[0].source == circle[-1].target == "cold"
    with pytest.raises(CaseError, match="did you mean"):
        draw.path(solution, of="fan.lft")
    with pytest.raises(CaseError, match="no air moves through middle; it moves through"):
        draw.path(solution, of="middle")
    with pytest.raises(TypeError, match="a fan or branch is wanted"):
        draw.path(solution, of=3)


# --- slot ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "units"), [
    ("slot", "metric"), ("slot many", "us"), ("slot reversed", "metric"),
])  # fmt: skip
def test_the_air_of_a_slot_takes_its_heat_evenly_and_a_diamond_is_at_its_temperature(name, units):
    """Energy: T(x) = T_in + x Q / (m cp), x from where the air comes in."""
    solution = made(name)
    ax = draw.slot(solution, units=units)
    factor, offset = (1.8, -459.67) if units == "us" else (1.0, -273.15)
    slots = solution.case.things["slot"]
    for panel, item in zip(ax.child_axes, slots.values(), strict=True):
        line = next(line for line in panel.lines if line.get_linewidth() == 1.4)
        shown, flow = line.get_xdata(), solution.mass_flow(item.path)
        ends = (np.array(shown) - offset) / factor
        inside = {part: each for part, each in solution.case.parts.items()
                  if each.in_ == item.path}  # fmt: skip
        riders = sum(p.power for p in solution.case.parts.values()
                     if p.in_ in {f"part.{part}" for part in inside})  # fmt: skip
        heat = riders + sum(part.power for part in inside.values())
        heat += item.power if item.state == "fitted" else 0.0
        start, end = ends if flow > 0 else ends[::-1]
        source = item.from_ if flow > 0 else item.to
        assert start == pytest.approx(solution.compartments[source].temperature)
        assert end - start == pytest.approx(heat / (abs(flow) * CP), abs=1e-6)
        points = np.array([mark.get_xydata()[0] for mark in panel.lines
                           if mark.get_marker() == "D"]).reshape(-1, 2)  # fmt: skip
        for part, each in inside.items():
            warm = solution.parts[part].temperature * factor + offset
            assert np.hypot(*(points - (warm, each.position)).T).min() < 1e-6
            air = ends[0] + each.position * (ends[1] - ends[0])
            assert solution.parts[part].air_temperature == pytest.approx(air)


@pytest.mark.parametrize("mounted", ["forward", "reversed"])
def test_the_air_of_a_slot_steps_by_the_heat_of_each_part_at_its_place(mounted):
    """Energy: P / (m cp) at each part, the card's own 10 W between; before the step the air is
    that in which the part was solved."""
    case = air_boxes.rack(3, mounted=mounted)
    solution = solve(case.with_changes({"slot.card-2.part_heat": "at-parts"}))
    panel = draw.slot(solution).child_axes[1]
    line = next(line for line in panel.lines if line.get_linewidth() == 1.4)
    warm, places = line.get_xdata() + 273.15, np.array(line.get_ydata())
    flow = solution.mass_flow("slot.card-2")
    inside = {name: part for name, part in case.parts.items() if part.in_ == "slot.card-2"}
    for name, part in inside.items():
        below, above = warm[np.isclose(places, part.position)]
        assert above - below == pytest.approx(3.0 / (flow * CP))
        before = below if flow > 0 else above
        assert solution.parts[name].air_temperature == pytest.approx(before)
    assert warm[-1] - warm[0] == pytest.approx((10.0 + 3.0 * len(inside)) / (flow * CP))


def test_the_air_between_fins_comes_nearer_to_their_one_temperature():
    """Exchanger theory: what the air is below the fins falls by equal shares, and its mean over
    the length is the log-mean. What sits on the sink stands at its middle."""
    case = Enclosure.of(
        Body(size="400 x 400 x 200 mm"), OUT, AXIAL,
        Compartment(name="low", outline="0 0 400 200 mm"),
        Compartment(name="top", outline="0 200 400 200 mm"),
        Vent(name="in", from_="outside", to="low", area="0.02 m2", loss=3),
        Slot(name="fins", from_="low", to="top", sink="comb"),
        SinkType(name="comb", base="80 x 120 mm", fins=20, fin="30 x 1 mm", material="aluminium"),
        Part(name="base", in_="slot.fins", sink="comb"),
        Part(name="chip", in_="part.base", power="40 W", resistance="0.2 K/W"),
        Fan(name="out", from_="top", to="outside", type="axial"),
    )  # fmt: skip
    solution = solve(case)
    base, (panel,) = solution.parts["base"], draw.slot(solution).child_axes
    line = next(line for line in panel.lines if line.get_linewidth() == 1.4)
    places, warm = np.array(line.get_ydata()), np.array(line.get_xdata()) + 273.15
    below = base.temperature - warm
    assert np.ptp(below[1:] / below[:-1]) < 1e-9 < 1 - below[-1] / below[0]
    assert np.diff(places) == pytest.approx(1 / (len(places) - 1))
    assert ((warm[1:] + warm[:-1]) / 2).mean() == pytest.approx(base.air_temperature, abs=2e-3)
    flow = solution.mass_flow("slot.fins")
    assert warm[-1] - warm[0] == pytest.approx(40 / (flow * CP), rel=1e-6)
    marks = sorted(tuple(mark.get_xydata()[0] + (273.15, 0)) for mark in panel.lines
                   if mark.get_marker() == "D")  # fmt: skip
    assert marks == [pytest.approx((solution.parts[name].temperature, 0.5))
                     for name in ("base", "chip")]  # fmt: skip


def test_beside_layers_the_air_of_a_slot_begins_as_warm_as_its_layer():
    tall = Enclosure.of(
        Body(size="600 x 1200 x 400 mm"), OUT, AXIAL,
        Compartment(name="box", outline="0 0 600 800 mm", layers=4),
        Compartment(name="top", outline="0 800 600 400 mm"),
        Vent(name="in", from_="outside", to="box", area="0.02 m2", loss=3, at="0 100 mm"),
        Slot(name="s", from_="box", to="top", area="0.004 m2", loss=3, power="30 W",
             at="300 300 mm"),
        Slot(name="t", from_="box", to="top", area="0.004 m2", loss=3, at="300 790 mm"),
        Fan(name="out", from_="top", to="outside", type="axial", at="0 1100 mm"),
        Part(name="p", in_="box", power="150 W", at="300 500 mm"),
    )  # fmt: skip
    solution = solve(tall)
    first, second = draw.slot(solution).child_axes
    layers = solution.layers_of("box")
    for panel, layer in ((first, "2"), (second, "4")):
        line = next(line for line in panel.lines if line.get_linewidth() == 1.4)
        assert line.get_xdata()[0] + 273.15 == pytest.approx(layers[layer].temperature)


def test_slots_without_air_and_cases_without_slots():
    shut = draw.slot(solve(load("telecom-shelf"), variant="blanked"))
    told = [text.get_text() for text in shut.child_axes[8].texts]
    assert "no air" in told
    assert title(draw.slot(made("slot"))).startswith("2 limits in the slots broken: part.switch")
    with pytest.raises(CaseError, match="slot: the case has no slot to draw"):
        draw.slot(made("path"))


# --- all of them ---------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_random_enclosures_are_drawn_without_a_clash(seed):
    """Nothing balances there."""
    found = random_solution(seed)
    moving = any(abs(found.mass_flow(path)) > 1e-4 for path in found.branches)
    for picture in (draw.margins, draw.split) if moving else (draw.margins,):
        assert faults(picture(found, units="us" if seed % 2 else "metric").figure) == []


@pytest.mark.parametrize(("picture", "name", "wide"), [
    (draw.split, "split", 130), (draw.split, "slot", 130), (draw.slot, "slot", 170),
    (draw.path, "path", 130),
])  # fmt: skip
def test_on_given_axes_words_keep_their_size_and_do_not_clash(picture, name, wide):
    figure = pyplot.figure(figsize=(wide / 25.4, 190 / 25.4))
    ax = picture(made(name), ax=figure.add_axes((0.17, 0.15, 0.8, 0.65)))
    assert faults(figure) == []
    assert ax.figure is figure


@pytest.mark.parametrize("name", ["cabinet-hot", "outdoor", "plan", "names", "lying"])
def test_invented_cases_are_drawn_without_a_clash(name):
    found = sample.SAMPLES[name]()
    for picture in (draw.margins, draw.split):
        assert faults(picture(found).figure) == []
