"""The map: nothing overlaps, what is drawn is to scale, and words and marks say the same."""

from __future__ import annotations

import dataclasses
import math
from itertools import pairwise

import matplotlib as mpl
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib import font_manager, ft2font, pyplot
from matplotlib.figure import Figure
from scipy.optimize import isotonic_regression

import flownet
from flownet import draw
from flownet.pictures.caption import Units, changed
from flownet.pictures.map import arrows as scene_arrows
from flownet.pictures.map.layout import MapLayout, marks
from flownet.pictures.map.map import map_scene
from flownet.pictures.map.parts import bands as bands_of
from flownet.pictures.scene import look
from flownet.pictures.scene.page import hatch, temperature_range
from flownet.pictures.scene.scene import Rect, push_apart
from flownet.pictures.scene.svg import svg
from flownet.pictures.scene.text_metrics import FAMILY, width, wrap
from flownet.pictures.scene.words import copies_name, runs
from flownet.schema import quantities as q
from tests.each import each, named
from tests.network.test_layers import stack
from tests.pictures import sample
from tests.pictures.legible import faults
from tests.pictures.legible import texts as drawn_texts
from tests.pictures.picture_checks import arrows, clashes, shapes, texts
from tests.pictures.random_sample import random_solution
from tests.pictures.sample import KELVIN, SAMPLES

mpl.use("Agg")


@pytest.fixture(autouse=True)
def _closed():
    yield
    pyplot.close("all")


def laid(solution) -> MapLayout:
    return MapLayout(solution, Units("metric"))


# --- nothing overlaps, nothing is lost ---------------------------------------------------------


@pytest.mark.parametrize(("name", "units"), [
    (name, "us" if name in ("cabinet-hot", "outdoor") else "metric") for name in SAMPLES
])  # fmt: skip
def test_all_is_said_and_can_be_read(name, units):
    """No text over another, over an arrow or off the page; every branch, part and margin."""
    solution = SAMPLES[name]()
    assert faults(draw.map(solution, units=units).figure, math.inf) == []
    drawing = map_scene(solution, units)
    covered = [arrow.rect for arrow in arrows(drawing)]
    assert covered
    over = [w.text for w in drawing.words if any(w.rect.meets(rect) for rect in covered)]
    assert over == []
    whole = "".join(texts(drawing))
    for path in solution.branches:
        base, _, copy = path.rpartition("-")
        assert path in whole or (copy.isdigit() and base in whole)
    ends = (" margin", " over", " margin, tight")
    told = [text for text in texts(drawing) if text.endswith(ends)]
    for part, row in solution.parts.items():
        alone = not part.rpartition("-")[2].isdigit()
        assert math.isnan(row.temperature) or (part if alone else part.rpartition("-")[0]) in whole
        if alone and not math.isnan(row.margin):
            amount = Units(units).text(q.DIFFERENCE, abs(row.margin))
            assert any(amount in text for text in told), part


@pytest.mark.parametrize("title", ["y" * 400, "a long title\n\x1b[1m" * 40])
def test_long_titles_and_changes_fit_the_page(title):
    solution = SAMPLES["cabinet-hot"]()
    case = dataclasses.replace(solution.case, title=title)
    with changed(["filter.mat.fouling = 5", "part.x.power = " + "z" * 200]):
        figure = draw.map(dataclasses.replace(solution, case=case)).figure
    assert faults(figure, math.inf) == []
    shown = [text.get_text() for text in figure.axes[0].texts]
    assert "with filter.mat.fouling = 5" in shown
    assert all(text.isprintable() for text in shown)


@each(named(range(16)))
def test_nothing_overlaps_on_maps_of_random_enclosures(seed):
    assert clashes(map_scene(random_solution(seed))) == []


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(-500, 500), st.floats(1, 60)), min_size=1, max_size=12))
def test_labels_are_pushed_apart_as_little_as_possible(pairs):
    """The least sum of squares, against the isotonic regression of scipy."""
    targets = sorted(target for target, _ in pairs)
    sizes = [size for _, size in pairs]
    found = np.array(push_apart(targets, sizes, 3.0))
    steps = [(a + b) / 2 + 3.0 for a, b in pairwise(sizes)]
    offsets = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = isotonic_regression(np.array(targets) - offsets).x + offsets
    assert found == pytest.approx(wanted, abs=1e-6)


# --- letters -----------------------------------------------------------------------------------


@pytest.mark.parametrize("weight", ["normal", "bold"])
def test_widths_of_letters_are_those_of_the_typeface(weight):
    """Against the advance widths in the font file that matplotlib brings along."""
    path = font_manager.findfont(font_manager.FontProperties(family=FAMILY, weight=weight))
    font = ft2font.FT2Font(path)
    font.set_size(1000, 72)
    for letter in [chr(code) for code in range(32, 127)] + list("°²³₂µ…×·"):
        glyph = font.load_char(ord(letter), flags=ft2font.LoadFlags.NO_HINTING)
        advance = glyph.linearHoriAdvance / 65536
        assert width(letter, 1000, weight == "bold") == pytest.approx(advance * 1.02, abs=1.1)


def test_only_bundled_fonts_are_used_whatever_the_user_has_set():
    with mpl.rc_context({"font.family": "serif", "font.style": "italic"}):
        figure = draw.map(sample.cabinet()).figure
        assert faults(figure, math.inf) == []
        assert {text.get_fontstyle() for text in figure.axes[0].texts} == {"normal"}


@given(st.text("abcW1-_. ", min_size=1, max_size=80), st.floats(20, 200))
def test_wrapped_lines_fit_and_lose_no_letter(text, most):
    lines = wrap(text, 8.5, False, most)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(width(line, 8.5) <= most for line in lines)


# --- colours -----------------------------------------------------------------------------------


def lightness(colour: str) -> float:
    """CIE 1976 L* of an sRGB colour (IEC 61966-2-1:1999; formulas from memory)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    y = float(np.dot(linear, [0.2126, 0.7152, 0.0722]))
    return 116 * y ** (1 / 3) - 16 if y > 0.008856 else 903.3 * y


def test_the_ramp_keeps_its_order_in_grey_print_and_its_ends():
    shares = np.linspace(0, 1, 101)
    found = np.array([lightness(look.ramp(share)) for share in shares])
    assert (np.diff(found) < 0).all()
    assert np.abs(found - found[0] - (found[-1] - found[0]) * shares).max() < 2.0
    scale = look.Temperatures(300.0, 320.0)
    assert [scale.colour(t) for t in (250.0, 310.0, 400.0)] == list(look.RAMP[::4])


def test_all_scenarios_have_one_range_to_five_kelvin_above_the_highest_limit():
    """So that colours can be compared from picture to picture; air beyond it is marked."""
    case, hot = sample.cabinet_case(), sample.cabinet_hot()
    assert temperature_range(case) == pytest.approx((40 + KELVIN, 60 + KELVIN))
    assert hot.case.outside.temperature != case.outside.temperature
    assert map_scene(hot) == map_scene(hot, temperatures=temperature_range(case))
    drawing = map_scene(hot, temperatures=(313.15, 325.15))
    assert "up to 56.4 °C" in texts(drawing)
    assert not any(text.startswith("down to") for text in texts(drawing))
    scale = look.Temperatures(313.15, 325.15)
    assert {scale.colour(52.2 + KELVIN), look.RAMP[-1]} <= {s.fill for s in shapes(drawing)}


# --- words -------------------------------------------------------------------------------------


def test_over_the_limit_is_said_in_words_and_hatched():
    hot, calm = map_scene(sample.cabinet_hot()), map_scene(sample.cabinet())
    (plate,) = (words for words in hot.words if words.text == "limit 55 °C   1.4 K over")
    assert plate.bold
    assert "controller  61.5 °C, 1.5 K over" in texts(hot)
    assert not any("over" in text for text in texts(calm) if "hatched" not in text)
    rect = laid(sample.cabinet()).rects["upper"]
    lines = list(hatch(rect))
    assert len(lines) > 10
    assert all(rect.grown(1e-9).distance(point) == 0 for one in lines for point in one.points)
    assert set(hatch(laid(sample.cabinet_hot()).rects["upper"])) <= set(hot.items)
    assert not set(lines) & set(calm.items)


def test_unusual_states_are_told():
    hot, odd = map_scene(sample.cabinet_hot()), map_scene(sample.cabinet_odd())
    assert "38 m³/h back in" in texts(hot)
    (hollow,) = (arrow for arrow in arrows(hot) if arrow.dash)
    assert hollow.fill == look.WHITE
    assert {
        "fan.left   running, reversed, in stall", "fan.spare   blanked", "filter.gone   removed",
        "baffle.shelf   taken out", "31 m³/h to lower   9.0 Pa", "on fan.left   7.0 Pa",
        "22 m³/h back in   80.0 Pa", "7 m³/h each way", "12 W to upper", "12 m³/h out   4.1 Pa",
        "R",
    } <= set(texts(odd))  # fmt: skip
    assert any("Void: " in words and "an unstable state" in words for words in texts(odd))


def test_units_of_north_america():
    found = texts(map_scene(sample.cabinet_hot(), "us"))
    assert "133.5 °F" in found  # 56.4 degC = 133.52 degF
    assert any("CFM" in text and "inH₂O" in text for text in found)
    assert not any("°C" in text or "m³/h" in text or " K " in text for text in found)


def test_the_case_and_its_state_are_told():
    solution = sample.cabinet_hot()
    found = texts(map_scene(solution))
    assert {
        "Packing-line drive cabinet (invented data)", "scenario hot+dirty+fan.right-out   "
        "variant base", "outside 50 °C, 900 m, 91.0 kPa, 0.981 kg/m³   230 V 50 Hz",
    } <= set(found)  # fmt: skip
    assert any(solution.case.digest[:19] in text for text in found)


def test_copies_share_a_label_that_names_the_members():
    found = texts(map_scene(sample.shelf()))
    assert {"slot.card-1…3, 5…8, 10", "slot.card-4   empty"} <= set(found)
    assert [text for text in found if text in ("1", "2", "3", "10")] == ["1", "2", "3", "10"]
    assert copies_name(("fan.left",)) == "fan.left"


@given(st.sets(st.integers(1, 60), min_size=1))
def test_runs_name_exactly_their_numbers(numbers):
    read: set[int] = set()
    for part in runs(numbers).split(", "):
        first, _, last = part.partition("…")
        read |= set(range(int(first), int(last or first) + 1))
    assert read == numbers


def test_what_is_not_as_usual_in_the_view_is_said():
    found = texts(map_scene(sample.unplaced()))
    assert any("No outlines are given" in text for text in found)
    assert not any(text.endswith(" mm") for text in found)
    assert {"inlet-plenum", "module", "outlet-plenum"} <= set(found)
    assert "up" in texts(map_scene(sample.lying()))
    assert "up" not in texts(map_scene(sample.cabinet()))


# --- to scale ----------------------------------------------------------------------------------


def test_marks_sit_in_their_walls_at_their_real_size():
    layout = laid(sample.cabinet())
    found, body, scale = marks(layout), layout.body, layout.scale
    fan = found["fan.left"]
    assert 2 * fan.half == pytest.approx(max(0.119 * scale, 30.0))
    assert fan.at == pytest.approx((body.x0 + 0.2 * scale, body.y1))
    assert found["filter.intake"].at == pytest.approx((body.x0, body.y0 + 0.25 * scale))
    assert found["filter.intake"].half == pytest.approx(0.045**0.5 / 2 * scale)
    shelf = found["baffle.shelf"]
    assert shelf.half / layout.rects["upper"].wide * 2 == pytest.approx(0.06 / 0.32)


def test_the_scale_bar_is_as_long_as_it_says():
    drawing = map_scene(sample.cabinet())
    words = next(w for w in drawing.words if w.text.endswith(" mm"))
    spans = [item.points[1][0] - item.points[0][0] for item in shapes(drawing)
             if len(item.points) == 2
             and item.points[0][1] == item.points[1][1]
             and item.points[0][1] == pytest.approx(words.y + 3.0)]  # fmt: skip
    length = float(words.text.removesuffix(" mm")) / 1000
    assert max(spans) == pytest.approx(length * laid(sample.cabinet()).scale)


def test_widths_of_arrows_add_up_where_air_divides():
    """Conservation of mass: what comes up through the fans leaves through the slots."""
    layout = laid(sample.shelf())
    wide = scene_arrows.widths(layout.flows, marks(layout))
    into, out = (sum(size for path, size in wide.items() if path.startswith(kind))
                 for kind in ("fan.", "slot."))  # fmt: skip
    assert into == pytest.approx(out, rel=1e-9)
    assert into == pytest.approx(wide["vent.top"], rel=1e-9)


def test_arrows_stand_downstream_only():
    layout = laid(sample.cabinet_hot())
    found = marks(layout)
    for path in ("filter.intake", "fan.left", "fan.right"):
        mark, flow = found[path], layout.flows[path]
        made = scene_arrows.arrow(mark, flow, 4.0, 500.0, back=False, out=False)
        sign = 1.0 if flow > 0 else -1.0
        assert sign * np.dot(np.subtract(made.start, mark.at), mark.normal) > mark.deep
        assert np.dot(made.way, mark.normal) == sign


def test_layers_are_bands_of_their_own_temperature():
    """The lowest layer lies at the side that is down, together they fill the compartment."""
    solved = flownet.solve(stack("top"))
    rows = solved.layers_of("a").values()
    for up in ("top", "bottom", "left", "right"):
        things = {**solved.case.things, "enclosure": {"": dataclasses.replace(
            solved.case.body, up=up)}}  # fmt: skip
        case = dataclasses.replace(solved.case, things=things)
        assert case.body.up == up
        turned = dataclasses.replace(solved, case=case)
        bands = list(bands_of(turned, "a", Rect(0, 0, 8, 4)))
        assert {warm for _, warm in bands} == {row.temperature for row in rows}
        assert sum(rect.wide * rect.tall for rect, _ in bands) == pytest.approx(32)
        (low,) = (rect for rect, warm in bands if warm == next(iter(rows)).temperature)
        side = {"top": low.y0, "bottom": 4 - low.y1, "right": low.x0, "left": 8 - low.x1}
        assert side[up] == 0


@each(named(("metric", "us")))
def test_layers_are_told_in_their_bands_and_shares_where_they_are_asked_for(units):
    """Each number lies in its band; shares and age are told by both painters, and else by none."""
    solved = flownet.solve(stack("top"))
    drawing, shown = map_scene(solved, units, shares=True), Units(units)
    assert faults(draw.map(solved, units=units, shares=True).figure, math.inf) == []
    told = [word.text for word in drawing.words]
    rect = MapLayout(solved, shown, shares=True).rects["a"]
    for band, warm in bands_of(solved, "a", rect):
        text = shown.text(q.TEMPERATURE, warm)
        assert any(band.holds(word.rect) for word in drawing.words if word.text == text)
    row = solved.origins.compartments["a"]
    lines = ["100 % vent.low", f"{shown.text(q.TIME, row.age)} old"]
    assert {*lines} <= {*told}
    assert all(line in svg(drawing, "map") for line in lines)
    assert not {*lines} & {*texts(map_scene(solved, units))}


# --- Python ------------------------------------------------------------------------------------


def test_a_map_has_a_figure_of_its_size_or_is_made_to_fit_given_axes():
    page = map_scene(sample.cabinet()).page
    own = draw.map(sample.cabinet()).figure.get_size_inches()
    assert own * 72 == pytest.approx([page.wide, page.tall])
    figure = Figure(figsize=(4, 3))
    ax = figure.add_subplot(1, 2, 2)
    assert draw.map(sample.cabinet(), ax=ax) is ax
    assert faults(figure, smallest=0.0) == []
    area = ax.get_window_extent()
    for text in drawn_texts(figure):
        box = text.get_window_extent()
        assert area.x0 <= box.x0 < box.x1 <= area.x1
        assert area.y0 <= box.y0 < box.y1 <= area.y1


def test_wrong_arguments_are_refused():
    solution = sample.cabinet()
    with pytest.raises(TypeError, match="takes a Solution"):
        draw.map(solution.case)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="low must be below high"):
        draw.map(solution, ax=Figure().add_subplot(), temperatures=(330.0, 310.0))
    for odd in ("hot", (300.0,), (300.0, 310.0, 320.0), 300.0):
        with pytest.raises(ValueError, match=r"\(low, high\) in K is wanted"):
            draw.map(solution, ax=Figure().add_subplot(), temperatures=odd)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="units must be"):
        draw.map(solution, ax=Figure().add_subplot(), units="imperial")
