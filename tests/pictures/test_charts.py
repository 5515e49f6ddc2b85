"""Charts: what is printed can be read, and what is drawn lies where its numbers are."""

from __future__ import annotations

import dataclasses
import xml.etree.ElementTree as ET
from functools import cache
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

import flownet
from flownet import draw
from flownet.pictures import save, style
from flownet.pictures.caption import changed
from flownet.pictures.matrix import FILLS
from flownet.pictures.style import left
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.studies.choice.fan_picture import fan_choice_curves
from tests.pictures.legible import faults, texts
from tests.pictures.samples import PART, SAMPLES, SPEED, made
from tests.test_cases import load

mpl.use("Agg")
NAMES = tuple(dict.fromkeys(name.split()[0] for name in SAMPLES))


@pytest.fixture(autouse=True)
def _closed():
    yield
    pyplot.close("all")


@cache
def drawn(name: str, units: str = "metric") -> Any:
    """The axes of a sample on a page of their own, with a long caption."""
    with changed(["part.x.power = " + "90 W " * 40]):
        return getattr(draw, name.split(maxsplit=1)[0])(made(name), units=units)


def words(ax: Any) -> str:
    return "\n".join(text.get_text() for text in texts(ax.figure))


def lines(ax: Any, **look: Any) -> list[Any]:
    """Lines of a colour, width, style or marker."""
    return [
        line
        for line in ax.lines
        if all(getattr(line, f"get_{key}")() == value for key, value in look.items())
    ]


# --- all of them -----------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "units"), [
    (name, "us" if i % 2 else "metric") for i, name in enumerate(SAMPLES)
])  # fmt: skip
def test_what_is_printed_can_be_read(name, units):
    ax = drawn(name, units)
    assert faults(ax.figure) == []
    said = words(ax).replace("\n", " ")
    assert "with part.x.power = 90 W" in said
    assert f"flownet {flownet.__version__}" in said
    if not name.startswith("fan_curve"):
        found = made(name)
        case = getattr(found, "case", None) or found.solution.case
        assert case.digest[:19] in said


@pytest.mark.parametrize("name", NAMES)
def test_on_given_axes_it_makes_no_figure_and_names_both_sides(name):
    own = drawn(name)
    given, before = Figure(figsize=(8, 5)).add_subplot(), pyplot.get_fignums()
    assert getattr(draw, name)(made(name), ax=given) is given
    assert pyplot.get_fignums() == before
    assert given.get_title(loc="left")
    assert name == "matrix" or given.get_xlabel()
    assert own.figure is not given.figure
    for mine, theirs in zip(own.lines, given.lines, strict=True):
        assert np.array_equal(mine.get_xydata(), theirs.get_xydata(), equal_nan=True)


def test_each_takes_its_own_result_only():
    takes = {"curves": "a Solution", "fan_curve": "a FanType", "fan_choice": "a FanChoice",
             "front": "an OptionChoice", "headroom": "a Headroom", "rank": "a Ranking",
             "margins": "a Solution", "split": "a Solution", "path": "a Solution",
             "slot": "a Solution", "matrix": "a Comparison", "uncertainty": "an Uncertainty",
             "sweep": "a Sweep", "time": "a Transient"}  # fmt: skip
    assert set(takes) == set(NAMES)
    for name, wanted in takes.items():
        with pytest.raises(TypeError, match=rf"draw\.{name} takes {wanted}"):
            getattr(draw, name)(load("bench-supply"))


def test_a_file_tells_what_is_drawn_as_text_and_is_the_same_again(tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    files = [save.save(draw.rank(made("rank")), tmp_path / f"{i}.svg").read_bytes()
             for i in range(2)]  # fmt: skip
    assert files[0] == files[1]
    assert b"1970-01-01" in files[0]
    root = ET.fromstring(files[0])
    assert root.get("{http://www.w3.org/XML/1998/namespace}space") == "preserve"
    svg = "{http://www.w3.org/2000/svg}"
    assert root.find(f"{svg}title").text.startswith("outside.temperature moves")
    assert made("rank").solution.case.digest[:19] in root.find(f"{svg}desc").text
    assert "part.controller.power or load" in {text.text for text in root.iter(f"{svg}text")}


# --- fans ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("units", "flow", "pressure"), [
    ("metric", 3600.0, 1.0), ("us", 60 / 0.3048**3, 1 / 249.08891),  # NIST SP 811, appendix B
])  # fmt: skip
def test_a_measured_point_lands_on_the_curve(units, flow, pressure):
    """The transform of a reading in the units shown is that of the curve that was drawn."""
    found = made("curves")
    line, point = found.lines[0], found.whole[0]
    ax = draw.curves(found.solution, units=units)
    (curve,) = [item for item in lines(ax, linewidth=2.0) if len(item.get_xdata()) > 100]
    (reading,) = ax.plot([line.flow[40] * flow], [line.rise[40] * pressure], "o")

    def off(drawn: Any, data: Any) -> float:
        """How many pixels a line runs past a point."""
        here, there = (ax.transData.transform(each) for each in (drawn.get_xydata(), data))
        return float(np.hypot(*(here - there).T).min())

    assert off(curve, reading.get_xydata()) < 1e-6
    (clean,) = lines(ax, color=style.CLEAN_LINE)
    assert off(clean, [[point.flow * flow, point.rise * pressure]]) < 0.5  # where all fans work
    assert ax.get_xlabel().startswith("volume flow, ")
    assert ax.get_ylabel().startswith("static pressure, ")


def test_curves_lead_with_the_flow_that_was_solved_and_with_what_is_void():
    for name, own in (("curves", False), ("curves dirty", True)):
        (point,) = [p for p in made(name).whole if p.loaded == own]
        flow = style.Units("metric").text(q.VOLUME_FLOW, point.flow)
        assert words(drawn(name)).startswith(f"2 fans move {flow}")
    assert words(drawn("curves backwards")).startswith("Void: ")


def test_clean_is_solid_loaded_dashed_and_a_dip_is_dotted_and_named():
    ax = drawn("curves")
    assert [line.get_linestyle() for line in lines(ax, color=style.CLEAN_LINE)] == ["-"]
    assert [line.get_linestyle() for line in lines(ax, color=style.LOADED_LINE)] == ["--"]
    assert {"both in parallel", "system curve, loaded", "1"} <= set(words(ax).splitlines())
    assert "dip" not in words(ax)
    assert "dip" in words(drawn("curves dirty")).splitlines()


def test_points_of_a_fan_curve_stand_where_they_were_read():
    for name in ("fan_curve", "fan_curve total", "fan_curve many"):
        found, ax = made(name), drawn(name)
        (rings,) = lines(ax, marker="o")
        assert rings.get_xydata() == pytest.approx(np.array(found.fitted) * (3600.0, 1.0))
        assert len(lines(ax, marker="s")) == (found.fitted != found.points)
    assert "stall up to 90.9 m³/h" in words(drawn("fan_curve"))
    assert "The table has the first 40 of 46 points." in words(drawn("fan_curve many"))


def test_fan_choice_has_a_row_for_each_and_says_why_one_is_excluded():
    for name in ("fan_choice", "fan_choice none"):
        found, told = fan_choice_curves(made(name)), words(drawn(name)).splitlines()
        for number, item in enumerate(found.drawn, 1):
            assert item.candidate.type in told
            assert told.count(str(number)) >= 2
        assert any("excluded by" in line for line in told) == (name == "fan_choice none")


# --- bars ----------------------------------------------------------------------------------------


def test_bars_of_a_ranking_are_as_long_as_their_effects():
    found, ax = made("rank"), drawn("rank", units="us")
    bars = [bar for bar in ax.patches if bar.get_height() < 0.6]
    kelvin = [effect.change for effect in found.effects[:15]]
    assert [bar.get_width() for bar in bars] == pytest.approx([1.8 * each for each in kelvin])
    assert {bar.get_x() for bar in bars} == {0.0}


def test_bars_of_an_uncertainty_are_shares_of_what_is_allowed():
    found, ax = made("uncertainty"), drawn("uncertainty")
    outside = found.case.outside.temperature
    bars = {round(bar.get_y() + 0.28): bar for bar in ax.patches
            if 0.5 < bar.get_height() < 0.6 and not bar.get_hatch()}  # fmt: skip
    for row, item in enumerate(found.limits):
        low, high = (left(item, margin, outside) for margin in (item.margin.low, item.margin.high))
        assert bars[row].get_x() == pytest.approx(low)
        assert bars[row].get_width() == pytest.approx(high - low)
        assert (low < 0) == (item.margin.low < 0)
        share = item.chance.share
        fill = style.OVER if share < 0.5 else style.TIGHT if share < 0.95 else style.OK
        assert to_hex(bars[row].get_facecolor()) == fill.lower()
    kinds = {item.limit: item for item in found.limits}
    part, noise, life = kinds["part"], kinds["noise"], kinds["life"]
    assert left(part, 0.25 * (part.bound - 300.0), 300.0) == pytest.approx(0.25)
    assert left(noise, 10 * np.log10(2), 300.0) == pytest.approx(0.5)  # half the sound power
    assert left(life, life.bound, 300.0) == pytest.approx(0.5)  # lives twice as long as asked
    for item in kinds.values():
        assert left(item._replace(limit="another"), 1e-9, 300.0) == pytest.approx(0.0, abs=1e-6)
    first, *rest = found.verdicts()  # one that breaks in layers is told first; the rest below
    assert "4 layers" in first
    told = " ".join(words(ax).replace("°C", "degC").split())
    assert all(style.sentence(text) in told for text in rest)


# --- headroom, sweeps ----------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in SAMPLES if name.startswith("headroom")])
def test_every_limit_starts_at_its_whole_margin_and_breaks_at_nothing(name):
    found, ax = made(name), drawn(name)
    subject = found.subject
    shares = [line for line in ax.lines if len(line.get_xdata()) > 10]
    start = float(style.shown(subject.quantity, subject.present, "metric"))
    for line in shares:
        x, y = line.get_data()
        assert x[0] == pytest.approx(start)
        assert abs(y[0]) == pytest.approx(1.0)
    if np.isfinite(found.value):
        edge = float(style.shown(subject.quantity, found.value, "metric"))
        (first,) = [line for line in shares if line.get_linewidth() > 2]
        order = np.argsort(first.get_xdata())
        at = np.interp(edge, first.get_xdata()[order], first.get_ydata()[order])
        assert at == pytest.approx(0.0, abs=2e-3)
        if found.today.holds:
            assert f"breaks at {found.at(found.first)}" in words(ax)  # to the side that holds
        uprights = {float(line.get_xdata()[0]) for line in lines(ax, linewidth=1.4)
                    if len(line.get_xdata()) == 2}  # fmt: skip
        assert sorted(uprights) == pytest.approx(sorted([start, edge]))


def test_headroom_has_limits_of_every_kind_a_second_scale_and_needs_a_margin():
    """The scale of a filter that loads tells its drop."""
    found, ax = made("headroom"), drawn("headroom")
    (scale,), (change,) = ax.child_axes, found.filters
    told = scale.xaxis.get_major_formatter()
    for value, drop in ((found.subject.present, change.today), (found.value, change.drop)):
        assert float(told(value, 0)) == pytest.approx(drop, rel=5e-3)  # three digits
    assert told(found.subject.present - 1.0, 0) == ""  # where nothing was solved
    assert "4 layers" in ax.get_figure(root=True).get_label().splitlines()[0]
    assert "total.noise" in words(ax)
    assert "fan.left" in words(ax)
    bare = load("drive-cabinet").with_changes({
        "part.*.limit": None, "compartment.*.air_limit": None, "limits.noise_dBA": None,
        "limits.fan_life_hours": None,
    })  # fmt: skip
    with pytest.raises(CaseError, match="no limit has a margin"):
        draw.headroom(flownet.headroom(bare, "fan.*.speed"))


def test_lines_of_a_sweep_go_through_the_values_and_the_limit_is_bold():
    found, ax = made("sweep"), drawn("sweep")
    (line,) = lines(ax, linewidth=1.6)
    wanted = np.column_stack([found[SPEED], found["total.worst_margin"]])
    assert line.get_xydata() == pytest.approx(wanted)
    (limit,) = lines(ax, linewidth=style.LIMIT)
    assert set(limit.get_ydata()) == {0.0}
    several = drawn("sweep several")
    assert {"rectifier", "controller"} <= set(words(several).splitlines())
    assert len([line for line in several.lines if len(line.get_xdata()) == 5]) >= 7
    fouling = draw.sweep(made("sweep lines"), of=PART)
    assert "limit 125 °C" in words(fouling).splitlines()
    assert len(lines(fouling, linewidth=1.2)) == 3
    row = made("sweep lines")[PART].reshape(9, 3)[:, 2] - 273.15
    assert any(np.allclose(line.get_ydata(), row) for line in lines(fouling, linewidth=1.2))


def test_the_bold_line_of_a_map_is_where_the_margin_is_none():
    found, ax = made("sweep map"), drawn("sweep map")
    speeds, warm = np.unique(found[SPEED]), np.unique(found["outside.temperature"])
    margin = found["total.worst_margin"].reshape(len(speeds), len(warm))
    (bold,) = [item for item in ax.collections if np.allclose(item.get_linewidth(), 2.4)]
    corners = np.vstack([path.vertices for path in bold.get_paths()])
    assert len(corners) > 4
    for speed, outside in corners:
        across = [np.interp(speed, speeds, column) for column in margin.T]
        assert np.interp(outside + 273.15, warm, across) == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize(("vary", "more", "of", "said"), [
    ({SPEED: [1.0]}, {}, None, "one or two varied keys have a picture"),
    ({SPEED: [0.9, 1.0]}, {}, "status", "is a word"),
    ({SPEED: [0.9, 1.0]}, {}, "total.heat", "not kept"),
    ({SPEED: "0.6 to 1", "outside.temperature": "20 to 30 degC"},
     {"design": "latin", "samples": 4}, None, "take a grid"),
])  # fmt: skip
def test_what_has_no_picture_is_said(vary, more, of, said):
    with pytest.raises(CaseError, match=said):
        draw.sweep(flownet.sweep(load("drive-cabinet"), vary, **more), of=of)


def test_limits_that_move_are_far_or_are_no_temperatures_are_told_in_words():
    case = load("drive-cabinet")
    limits = {"part.rectifier.limit": ["100 degC", "120 degC"]}
    moved = flownet.sweep(case, {SPEED: [0.8, 1.0]} | limits)
    assert lines(draw.sweep(moved, of=PART), linewidth=style.LIMIT) == []
    far = flownet.sweep(case, {SPEED: [0.9, 1.0]}, keep=["part.choke.temperature"])
    assert "is kept everywhere." in words(draw.sweep(far))
    loud = flownet.sweep(case, {SPEED: [0.9, 1.0, 1.5]})
    told = "1 value breaks a limit that is no temperature and is not drawn: total.noise."
    assert told in words(draw.sweep(loud)).replace("\n", " ")
    table = dict(loud.table) | {"total.worst_margin": np.array([5.0, np.nan, 2.0])}
    gap = draw.sweep(dataclasses.replace(loud, table=table))
    assert np.isnan(lines(gap, linewidth=1.6)[0].get_ydata()).tolist() == [False, True, False]


# --- cells and dots ------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["matrix", "matrix wide", "matrix unsolved"])
def test_cells_have_their_fill_their_margin_and_a_frame_round_the_worst(name):
    found, figure = made(name), drawn(name).figure
    patches = [patch for ax in figure.axes[:-1] for patch in ax.patches]
    boxes = [patch for patch in patches if patch.get_height() == 0.9]
    cells = [cell for row in found.cells for cell in row if cell is not None]
    told = [text.get_text() for text in texts(figure)]
    for status in {cell.status for cell in cells}:
        if FILLS[status] != "white":
            fills = [box for box in boxes if box.get_width() > 0.5
                     and to_hex(box.get_facecolor()) == FILLS[status].lower()]  # fmt: skip
            assert len(fills) == sum(cell.status == status for cell in cells)
    for cell in cells:
        if cell.subject and not cell.void:
            assert style.pretty(cell.margin_quantity.metric.text(cell.margin, "+")) in told
    frames = [box for box in boxes if box.get_linewidth() > 2]
    assert len(frames) == sum(found.worst(variant) is not None for variant in found.variants)
    hatched = sum(patch.get_hatch() == "//////" for patch in patches)
    assert hatched == sum(cell.status == "over" for cell in cells)  # told without colour


def test_the_lightness_of_a_status_falls_from_ok_to_over():
    grey = {name: sum(int(fill[i : i + 2], 16) for i in (1, 3, 5))
            for name, fill in FILLS.items() if fill.startswith("#")}  # fmt: skip
    assert grey["ok"] > grey["tight"] + 100
    assert grey["tight"] > grey["over"] + 200


@pytest.mark.parametrize("name", [name for name in SAMPLES if name.startswith("front")])
def test_a_choice_is_always_drawn_failing_designs_hollow(name):
    found, ax = made(name), drawn(name)
    dots = {to_hex(line.get_markerfacecolor()): line for line in lines(ax, marker="o")
            if line.get_markersize() == 3.6}  # fmt: skip
    for part, fill in ((found.cloud, style.INK), (found.failing, "#ffffff")):
        assert (fill.lower() in dots) == bool(part)
        if part:
            assert dots[fill.lower()].get_xydata() == pytest.approx(np.array(part))
    step = [line for line in lines(ax, color=style.CLEAN_LINE) if line.get_marker() == "None"]
    assert len(step) == bool(found.front)
    assert "as the case has it" in words(ax)  # the outside: scenarios have their own
    if found.front:
        signs = [-1 if name == "temperature" else 1 for name in found.best_by]
        front = np.array([[option.value(n) for n in found.best_by] for option in found.front])
        for spot in np.array(found.cloud) * signs:
            better = (front * signs <= spot).all(axis=1) & (front * signs < spot).any(axis=1)
            assert better.any() or (np.isclose(front * signs, spot).all(axis=1)).any()
    if name == "front none":
        assert (found.cloud, found.front, found.best) == ((), (), None)
        assert "none of 3 designs holds" in words(ax)


def test_a_choice_without_noise_and_samples_without_limits_are_drawn():
    """A design whose fans all stand makes no noise: it has a row and no place."""
    found = made("front")
    for option in found.lacking:
        assert not option.holds
        assert not any(best.noise <= option.noise and best.price <= option.price
                       for best in found.front)  # fmt: skip
    silent = found.front[0]._replace(noise=-np.inf)
    ax = draw.front(dataclasses.replace(found, front=(silent,)))
    assert faults(ax.figure) == []
    bare = dataclasses.replace(made("uncertainty"), limits=())
    assert faults(draw.uncertainty(bare).figure) == []
