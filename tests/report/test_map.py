"""The map: nothing overlaps, what is drawn is to scale, and words and marks say the same."""

from __future__ import annotations

import dataclasses
import subprocess
import sys
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
from flownet.pages.caption import Caption
from flownet.pictures.map import arrows as scene_arrows
from flownet.pictures.map import axes as map_figure
from flownet.pictures.map import map
from flownet.pictures.map.groups import Group, runs
from flownet.pictures.map.layout import Layout
from flownet.pictures.map.map import map_scene
from flownet.pictures.map.sizes import marks
from flownet.pictures.scene import look
from flownet.pictures.scene.labels import push_apart
from flownet.pictures.scene.page import hatch, round_values, temperature_range
from flownet.pictures.scene.scene import Rect, Scene, Shape, Words
from flownet.pictures.scene.text_metrics import FAMILY, width, wrap
from flownet.pictures.scene.words import Units
from tests.each import each, named
from tests.network.test_layers import stack
from tests.report import sample
from tests.report.picture_checks import boxes, clashes, foreign_fonts, misplaced, overlaps
from tests.report.random_sample import random_solution
from tests.report.sample import KELVIN, SAMPLES

mpl.use("Agg")


def texts(scene: Scene) -> list[str]:
    return [words.text for words in scene.words]


def said(scene: Scene, text: str) -> Words:
    return next(words for words in scene.words if words.text == text)


# --- nothing overlaps --------------------------------------------------------------------------


@pytest.mark.parametrize("name", SAMPLES)
def test_no_text_overlaps_another_or_leaves_the_page(name):
    figure = map_figure.figure(SAMPLES[name]())
    assert misplaced(figure) == ([], [])


@pytest.mark.parametrize("title", ["y" * 400, "a long title\n\x1b[1m" * 40])
def test_long_titles_and_changes_fit_the_page(title):
    solution = SAMPLES["cabinet-hot"]()
    case = dataclasses.replace(solution.case, title=title)
    changes = ["filter.mat.fouling = 5", "part.x.power = " + "z" * 200]
    made = dataclasses.replace(solution, case=case)
    figure = map_figure.figure(made, caption=Caption.of(made, changes=changes))
    assert misplaced(figure) == ([], [])
    shown = [text.get_text() for text in figure.axes[0].texts]
    assert "with filter.mat.fouling = 5" in shown
    assert all(text.isprintable() for text in shown)


@pytest.mark.parametrize("name", ["cabinet-hot", "outdoor"])
def test_nothing_overlaps_in_the_units_of_north_america(name):
    figure = map_figure.figure(SAMPLES[name](), units="us")
    assert misplaced(figure) == ([], [])


@each(named(range(40)))
def test_nothing_overlaps_on_maps_of_random_enclosures(seed):
    assert clashes(map_scene(random_solution(seed))) == []


@pytest.mark.parametrize("name", SAMPLES)
def test_words_keep_clear_of_arrows(name):
    scene = map_scene(SAMPLES[name]())
    arrows = [s.rect for s in scene.items if isinstance(s, Shape) and len(s.points) == 7]
    assert arrows
    for words in scene.words:
        assert not any(words.rect.meets(arrow) for arrow in arrows), words.text


@settings(max_examples=60, deadline=None)
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
        figure = map_figure.figure(sample.cabinet())
        assert foreign_fonts(figure) == set()
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


def test_the_ramp_keeps_its_order_in_grey_print():
    shares = np.linspace(0, 1, 101)
    found = np.array([lightness(look.ramp(share)) for share in shares])
    assert (np.diff(found) < 0).all()
    line = found[0] + (found[-1] - found[0]) * shares
    assert np.abs(found - line).max() < 2.0


def test_the_ends_of_the_ramp_are_held():
    scale = look.Temperatures(300.0, 320.0)
    assert scale.colour(250.0) == look.RAMP[0]
    assert scale.colour(400.0) == look.RAMP[-1]
    assert scale.colour(310.0) == look.RAMP[4]


def test_the_range_goes_from_outside_to_five_kelvin_above_the_highest_limit():
    scale = temperature_range(sample.cabinet_case())
    assert scale == pytest.approx((40 + KELVIN, 60 + KELVIN))


def test_all_scenarios_of_a_case_have_one_range():
    """So that colours can be compared from picture to picture."""
    case = sample.cabinet_case()
    hot = sample.cabinet_hot()
    assert hot.case.outside.temperature != case.outside.temperature
    low, high = temperature_range(case)
    as_case = map_scene(hot, temperatures=(low, high))
    assert texts(map_scene(hot)) == texts(as_case)
    fills = [item.fill for item in as_case.items if isinstance(item, Shape)]
    assert [item.fill for item in map_scene(hot).items if isinstance(item, Shape)] == fills
    twice = case.under("hot").with_changes({"outside.temperature": 320.0}).under("dirty")
    assert twice.source is case


def test_air_beyond_a_given_range_is_marked_at_the_bar():
    scene = map_scene(sample.cabinet_hot(), temperatures=(313.15, 325.15))
    assert "up to 56.4 °C" in texts(scene)
    assert not any(text.startswith("down to") for text in texts(scene))


def test_compartments_are_filled_by_their_temperature():
    scene = map_scene(sample.cabinet(), temperatures=(313.15, 333.15))
    scale = look.Temperatures(313.15, 333.15)
    fills = {item.fill for item in scene.items if isinstance(item, Shape)}
    assert {scale.colour(43.1 + KELVIN), scale.colour(49.4 + KELVIN)} <= fills


@given(st.floats(-60, 400), st.floats(1, 300))
def test_round_values_lie_in_the_range_and_are_not_too_many(low, span):
    values = round_values(low, low + span, 7)
    assert 1 <= len(values) <= 8
    assert all(low - 1e-6 <= value <= low + span + 1e-6 for value in values)


# --- words -------------------------------------------------------------------------------------


def test_over_the_limit_is_said_in_words_and_hatched():
    scene = map_scene(sample.cabinet_hot())
    plate = said(scene, "limit 55 °C   1.4 K over")
    assert plate.bold
    assert "controller  61.5 °C, 1.5 K over" in texts(scene)
    calm = map_scene(sample.cabinet())
    assert not any("over" in text for text in texts(calm) if "hatched" not in text)
    white = [sum(_is_hatch(item) for item in one.items) for one in (scene, calm)]
    assert white[0] > 2 * white[1] > 0  # the bar is hatched in both


def _is_hatch(item: object) -> bool:
    if not isinstance(item, Shape) or item.closed or item.edge != look.PAPER:
        return False
    (x0, y0), (x1, y1) = item.points[:2]
    return len(item.points) == 2 and x1 - x0 == pytest.approx(y1 - y0) and x1 > x0


def test_hatch_stays_inside_its_rectangle():
    rect = Layout(sample.cabinet(), Units("metric")).rects["upper"]
    lines = list(hatch(rect))
    assert len(lines) > 10
    assert all(rect.grown(1e-9).distance(point) == 0 for one in lines for point in one.points)


def test_backflow_is_told_and_drawn_hollow_and_dashed():
    scene = map_scene(sample.cabinet_hot())
    assert "38 m³/h back in" in texts(scene)
    hollow = [s for s in scene.items if isinstance(s, Shape) and s.dash and len(s.points) == 7]
    assert len(hollow) == 1
    assert hollow[0].fill == look.PAPER


@pytest.mark.parametrize(
    "text",
    [
        "fan.left   running, reversed, in stall", "fan.spare   blanked", "filter.gone   removed",
        "baffle.shelf   taken out", "31 m³/h to lower   9.0 Pa", "on fan.left   7.0 Pa",
        "22 m³/h back in   80.0 Pa", "7 m³/h each way", "12 W to upper", "12 m³/h out   4.1 Pa",
        "R",
    ],
)  # fmt: skip
def test_unusual_states_are_told(text):
    found = texts(map_scene(sample.cabinet_odd()))
    assert text in found
    assert any("Void: " in words and "an unstable state" in words for words in found)


def test_units_of_north_america():
    found = texts(map_scene(sample.cabinet_hot(), "us"))
    assert "133.5 °F" in found  # 56.4 degC = 133.52 degF
    assert any("CFM" in text and "inH₂O" in text for text in found)
    assert not any("°C" in text or "m³/h" in text or " K " in text for text in found)


def test_the_case_and_its_state_are_told():
    solution = sample.cabinet_hot()
    found = texts(map_scene(solution))
    assert "Packing-line drive cabinet (invented data)" in found
    assert "scenario hot+dirty+fan.right-out   variant base" in found
    assert "outside 50 °C, 900 m, 91.0 kPa, 0.981 kg/m³   230 V 50 Hz" in found
    assert any(solution.case.digest[:19] in text for text in found)


def test_copies_share_a_label_that_names_the_members():
    found = texts(map_scene(sample.shelf()))
    assert "slot.card-1…3, 5…8, 10" in found
    assert "slot.card-4   empty" in found
    assert [text for text in found if text in ("1", "2", "3", "10")] == ["1", "2", "3", "10"]


@given(st.sets(st.integers(1, 60), min_size=1))
def test_runs_name_exactly_their_numbers(numbers):
    read: set[int] = set()
    for part in runs(numbers).split(", "):
        first, _, last = part.partition("…")
        read |= set(range(int(first), int(last or first) + 1))
    assert read == numbers


def test_a_group_of_one_is_itself():
    assert Group(("fan.left",)).name == "fan.left"


def test_without_outlines_the_map_says_so_and_has_no_scale():
    found = texts(map_scene(sample.unplaced()))
    assert any("No outlines are given" in text for text in found)
    assert not any(text.endswith(" mm") for text in found)
    assert {"inlet-plenum", "module", "outlet-plenum"} <= set(found)


def test_the_side_that_is_up_is_shown_where_it_is_not_the_top():
    assert "up" in texts(map_scene(sample.lying()))
    assert "up" not in texts(map_scene(sample.cabinet()))


# --- to scale ----------------------------------------------------------------------------------


def test_marks_sit_in_their_walls_at_their_real_size():
    layout = Layout(sample.cabinet(), Units("metric"))
    found, body, scale = marks(layout), layout.body, layout.scale
    fan = found["fan.left"]
    assert 2 * fan.half == pytest.approx(max(0.119 * scale, 30.0))
    assert fan.at == pytest.approx((body.x0 + 0.2 * scale, body.y1))
    assert found["filter.intake"].at == pytest.approx((body.x0, body.y0 + 0.25 * scale))
    assert found["filter.intake"].half == pytest.approx(0.045**0.5 / 2 * scale)
    shelf = found["baffle.shelf"]
    assert shelf.half / layout.rects["upper"].wide * 2 == pytest.approx(0.06 / 0.32)


def test_the_scale_bar_is_as_long_as_it_says():
    solution = sample.cabinet()
    scene, scale = map_scene(solution), Layout(solution, Units("metric")).scale
    words = next(w for w in scene.words if w.text.endswith(" mm"))
    length = float(words.text.removesuffix(" mm")) / 1000
    bars = [
        item for item in scene.items
        if isinstance(item, Shape) and not item.closed and len(item.points) == 2
        and item.points[0][1] == item.points[1][1] == pytest.approx(words.y + 3.0)
    ]  # fmt: skip
    spans = [item.points[1][0] - item.points[0][0] for item in bars]
    assert max(spans) == pytest.approx(length * scale)


def test_widths_of_arrows_add_up_where_air_divides():
    """Conservation of mass: what comes up through the fans leaves through the slots."""
    solution = sample.shelf()
    layout = Layout(solution, Units("metric"))
    wide = scene_arrows.widths(layout.flows, marks(layout))
    into = sum(size for path, size in wide.items() if path.startswith("fan."))
    out = sum(size for path, size in wide.items() if path.startswith("slot."))
    assert into == pytest.approx(out, rel=1e-9)
    assert into == pytest.approx(wide["vent.top"], rel=1e-9)


def test_arrows_stand_downstream_only():
    layout = Layout(sample.cabinet_hot(), Units("metric"))
    found = marks(layout)
    for path in ("filter.intake", "fan.left", "fan.right"):
        mark, flow = found[path], layout.flows[path]
        made = scene_arrows.arrow(mark, flow, 4.0, 500.0, back=False, out=False)
        sign = 1.0 if flow > 0 else -1.0
        side = np.dot(np.subtract(made.start, mark.at), mark.normal)
        assert sign * side > mark.deep
        assert np.dot(made.way, mark.normal) == sign


@pytest.mark.parametrize("name", SAMPLES)
def test_every_branch_and_part_is_named(name):
    solution = SAMPLES[name]()
    whole = "".join(texts(map_scene(solution)))
    for path in solution.branches:
        base, _, copy = path.rpartition("-")
        assert path in whole or (copy.isdigit() and base in whole)
    for part, row in solution.parts.items():
        known = row.temperature == row.temperature
        assert not known or part in whole or part.rpartition("-")[0] in whole


# --- Python ------------------------------------------------------------------------------------


def test_a_map_is_drawn_on_given_axes_and_made_to_fit():
    figure = Figure(figsize=(4, 3))
    ax = figure.add_subplot(1, 2, 2)
    assert draw.map(sample.cabinet(), ax=ax) is ax
    assert overlaps(boxes(figure)) == []
    area = ax.get_window_extent()
    assert all(area.x0 <= box.x0 and box.x1 <= area.x1 for _, box in boxes(figure))
    assert all(area.y0 <= box.y0 and box.y1 <= area.y1 for _, box in boxes(figure))


def test_without_axes_a_new_figure_of_the_size_of_the_picture_is_made():
    ax = draw.map(sample.cabinet())
    scene = map_scene(sample.cabinet())
    assert ax.figure.get_size_inches() * 72 == pytest.approx([scene.wide, scene.tall])
    pyplot.close(ax.figure)


def test_pictures_for_files_are_known_to_no_list_of_figures():
    before = pyplot.get_fignums()
    map_figure.figure(sample.cabinet())
    assert pyplot.get_fignums() == before


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


def test_matplotlib_is_loaded_only_when_something_is_drawn():
    code = (
        "import sys, flownet, flownet.draw, flownet.pictures.map.map, flownet.pictures.save\n"
        "assert not [m for m in sys.modules if m.partition('.')[0] == 'matplotlib']"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_the_same_solution_gives_the_same_scene():
    assert map_scene(sample.outdoor()) == map_scene(sample.outdoor())


@pytest.mark.parametrize("up", ["top", "bottom", "left", "right"])
def test_layers_are_bands_of_their_own_temperature(up):
    """The lowest layer lies at the side that is down, together they fill the compartment."""
    solution = flownet.solve(stack(up))
    bands = list(map._bands(solution, "a", Rect(0, 0, 8, 4)))
    rows = solution.layers_of("a").values()
    assert {warm for _, warm in bands} == {row.temperature for row in rows}
    assert sum(rect.wide * rect.tall for rect, _ in bands) == pytest.approx(32)
    lowest = next(rect for rect, warm in bands if warm == next(iter(rows)).temperature)
    side = {"top": lowest.y0, "bottom": 4 - lowest.y1, "right": lowest.x0, "left": 8 - lowest.x1}
    assert side[up] == 0
