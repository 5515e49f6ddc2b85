"""The page of a solution: what a reader must find on it, and that it fits."""

from __future__ import annotations

import dataclasses
import json as stdlib_json
import math
import re

import pytest

import flownet
from flownet.pages import json, render, table
from flownet.pages.findings import findings_table
from flownet.pages.noise import fan_set
from flownet.pages.page import Page, Unsolved
from flownet.pages.solution import solution_sheet, unsolved_sheet
from flownet.pages.table import Cell, Head, coloured
from flownet.pages.verdict import ranked
from flownet.pictures.caption import Units
from flownet.pictures.map.geometry import MapPlaces
from flownet.pictures.scene.words import branch
from flownet.results.finding import Finding
from flownet.results.limits import Limit
from flownet.results.tables import REGIONS
from flownet.schema import quantities as q
from tests.report import text_sample
from tests.test_noise_and_life import box

ESCAPE = re.compile(r"\x1b\[[0-9;]*m")
SECTIONS = ["Margins", "Fans", "Air", "Heat", "Findings", "Balance"]


def page(solution, **look):
    return list(render.text(solution_sheet(solution), Page(**look)))


def findings_lines(findings, told=None, width=80):
    return list(render.listing(findings_table(findings, told, "metric"), Page(width=width)))


def found(severity="error", rule="fan-backflow", subject="fan.f1", template="it is", hint=""):
    return Finding(severity, rule, subject, template, hint, {})


@pytest.fixture
def solution():
    made = text_sample.solved()
    made.__dict__["findings"] = (
        found("note", "thin-air", "outside", "mass flow is less"),
        found(template="blows {flow} backwards", hint="Add a shutter.")._replace(
            values={"flow": (q.VOLUME_FLOW, 24 / 3600)}
        ),
    )
    return made


def test_verdict_before_any_table_then_sections_in_their_order_the_balance_last(solution):
    lines = page(solution)
    assert lines[3] == "Void: fan.f1 driven backwards"  # the error fan-backflow is not repeated
    assert lines[4].startswith("2 limits broken on paper: part.controller 1.5 K over, fan.f1 14")
    assert "fan-backflow at" not in "\n".join(lines)
    assert next(i for i, line in enumerate(lines) if line.startswith("Margins")) > 4
    heads = [line.split()[0].rstrip(",") for line in lines if line[:1].isupper()]
    assert [head for head in heads if head in SECTIONS] == SECTIONS
    assert lines[-1] == "Balance  mass 2e-12  pressure 5e-11  energy 3e-9  (7 rounds)     stable"
    assert all(line.isascii() for line in lines)


@pytest.mark.parametrize("title", ["long title " * 40, "y" * 400, "one\nline \x1b[1m\tof " * 30])
def test_a_long_title_is_cut_and_control_signs_are_spaces(solution, title):
    solution.__dict__["case"] = dataclasses.replace(solution.case, title=title)
    lines = page(solution)
    head = lines[: next(i for i, line in enumerate(lines) if line.startswith("outside "))]
    assert max(map(len, head)) <= 80
    assert head[-1].endswith("base | base")
    told = " ".join(" ".join(head).removesuffix("base | base").split())
    assert told.isprintable()
    assert len(told) < 210
    assert told.endswith("...")
    plain = " ".join("".join(c if c.isprintable() else " " for c in title).split())
    assert plain.replace(" ", "").startswith(told.removesuffix("...").replace(" ", ""))


def test_margins_are_sorted_and_complete_and_air_tells_shares_and_ways(solution):
    lines = page(solution)
    rows = [line.split() for line in lines if line.startswith("  ")][:6]
    assert [row[0] for row in rows] == [
        "part.controller", "fan.f1", "compartment.lower", "part.rectifier", "total.noise",
        "compartment.upper",
    ]  # fmt: skip
    for row in (
        r"part.controller +61.5 degC +60 degC +-1.5 K +over",
        r"compartment.lower +50.2 degC +55 degC +\+4.8 K +tight",
        r"total.noise +49.8 dBA +55 dBA +\+5.2 dB +ok +at 1 m",
        r"compartment.upper +56.4 degC +- +- +no limit",
        r"filter.intake +118.0 m3/h +31.0 Pa +outside > lower +77 % of intake",
        r"vent.side +-36.0 m3/h +-4.0 Pa +upper > outside +back, 23 % of intake",
        r"vent.mesh +118.0 m3/h +2.0 Pa +on filter.intake$",
        r"slot.card .* empty, out at 61.2 degC",
    ):
        assert re.search(row, "\n".join(lines), re.MULTILINE), row


def test_small_pressures_of_draught_are_not_shown_as_none():
    for units, value, text in (
        ("metric", 0.034, "0.034 Pa"), ("us", -0.034, "-0.00014 inH2O"),
        ("metric", 31.04, "31.0 Pa"), ("metric", 0.0, "0.0 Pa"), ("metric", 0.52, "0.52 Pa"),
        ("metric", 8e-29, "0.0 Pa"),
    ):  # fmt: skip
        assert Page(units=units).cell(q.PRESSURE, value).text == text


@pytest.mark.parametrize(("heat", "walls", "line"), [
    (376.0, 31.0, "376 W in = 345 W by air + 31 W through walls"),
    (376.0, -24.0, "376 W in + 24 W in through walls = 400 W by air"),
    (704.6, 130.7, ""), (704.6, 0.04, ""), (704.6, -24.4, ""), (704.6, 704.4, ""),
])  # fmt: skip
def test_parts_of_the_heat_add_up_as_printed(heat, walls, line):
    totals = text_sample.solved().totals_ | {"heat": heat, "wall_heat": walls}
    for units in ("metric", "us"):
        lines = page(text_sample.solved(totals_=totals), units=units)
        (told,) = (each for each in lines if each.startswith("Heat"))
        assert not line or told == f"Heat  {line}"
        first, *rest = (float(word) for word in re.findall(r"[\d.]+(?= W)", told))
        left, right = ((first,), rest) if walls > 0 else ((first, rest[0]), rest[1:])
        assert sum(left) == pytest.approx(sum(right), abs=1e-9)


def test_findings_that_say_the_same_of_several_are_one():
    stalls = [
        Finding("warning", "fan-stall", f"fan.{name}", "{subject} stalls at {flow}",
                "Wake {subject}.", {"subject": (None, f"fan.{name}"),
                                    "flow": (q.VOLUME_FLOW, 0.011 if name == "top" else 0.01)})
        for name in ("left", "middle", "right", "top")
    ]  # fmt: skip
    assert [" ".join(line.split()) for line in findings_lines(stalls, None, 200)[1:]] == [
        "warning fan-stall each of fan.left, fan.middle and fan.right stalls at 36 m3/h. Try: Wake "
        "each of fan.left, fan.middle and fan.right.",
        "warning fan-stall fan.top stalls at 39.6 m3/h. Try: Wake fan.top.",
    ]


def test_what_was_said_on_a_page_before_is_short():
    told: set[tuple[str, str]] = set()
    note = found("note", "thin-air", "outside", "mass flow is less " * 9, "Take a larger fan.")
    error = note._replace(severity="error")
    warmer = note._replace(template="mass flow is less still")
    first = findings_lines([note], told)
    again = findings_lines([note, warmer, error], told)
    assert len(first) > 3
    assert "Try: Take a larger fan." in " ".join(" ".join(first).split())
    assert "Try:" not in " ".join(again)
    assert sum("note" in line for line in again) == 2 == sum("..." in line or "still" in line
                                                             for line in again)  # fmt: skip
    assert not any("..." in line for line in again if "error" in line)


def test_shares_of_the_intake_add_up_to_a_hundred():
    made = text_sample.solved(4)
    flows = made.branches.columns["volume_flow"]
    flows[:] = [-13.53, 13.53, 13.53, 0.0, -13.53, -1.39, 0.0, 0.0]
    made.totals_["volume_flow"] = sum(abs(flows[[0, 2, 4, 5]]))
    text = "\n".join(page(made, width=120))
    assert sum(map(int, re.findall(r"(\d+) % of intake", text))) == 100


def test_a_fan_tells_what_is_unusual():
    """Blown through; stopped, with the drop that the map shows; of another kind of life."""
    made = text_sample.solved()
    made.branches.columns["volume_flow"][-1] = -20 / 3600
    row = next(line for line in page(made, width=100) if line.startswith("  fan.f2"))
    assert row.endswith("back, 13 % of intake")
    made = text_sample.solved()
    made.fans.columns["region"][1] = REGIONS.index("stopped")
    made.branches.columns["drop"][-1] = -16.44
    row = next(line for line in page(made, width=120) if line.startswith("  fan.f2"))
    assert row.endswith("drop 16.4 Pa")
    told = branch(made, MapPlaces(made.case).ends["fan.f2"], Units("metric"))
    assert any("16.4 Pa" in line for line in told.lines)
    made = text_sample.solved()
    made.fans.columns["life_kind"][1] = 1
    for row in (r"power +life$", r"fan.f1 .* 25 700 h +L10$", r"fan.f2 .* 25 700 h +mean$"):
        assert re.search(row, "\n".join(page(made)), re.MULTILINE)


def test_unstable_state_and_other_points_are_said():
    balance = text_sample.solved().balance_ | {"stable": False}
    lines = page(text_sample.solved(balance_=balance, points=3))
    assert lines[-1].endswith("unstable, one of 3 operating points found")
    assert lines[3].startswith("Void: an unstable state, a small push leads away from it, fan.f1")


def test_page_fits_eighty_columns():
    for units in ("metric", "us"):
        for fans in (2, 15):
            assert max(map(len, page(text_sample.solved(fans), units=units))) <= 80


def test_long_tables_are_cut_and_say_so_but_a_fan_in_trouble_never():
    """Row 15 of 15 blows backwards: it must be among the rows that are shown."""
    lines = page(text_sample.solved(16))
    assert sum(line.startswith("  fan.f") and "normal" in line for line in lines) == 11
    assert "  ... 4 more (--all)" in lines
    everything = page(text_sample.solved(16), everything=True)
    assert sum(line.startswith("  fan.f") and "normal" in line for line in everything) == 15
    assert not any("more (--all)" in line for line in everything)
    made = text_sample.solved(15)
    regions = made.fans.columns["region"]
    regions[:] = 0
    regions[-1] = REGIONS.index("backflow")
    assert any("fan.f15" in line and "backflow" in line for line in page(made))


def test_colour_only_repeats_what_words_say(solution):
    painted = page(solution, paint=coloured)
    assert [ESCAPE.sub("", line).rstrip() for line in painted] == page(solution)
    assert any("\x1b[1;31mover" in line for line in painted)


# --- verdicts ------------------------------------------------------------------------------------


def limits(*items):
    made = text_sample.solved(limits=items)
    made.fans.columns["region"][:] = REGIONS.index("normal")  # nothing that makes them void
    return made


def test_the_verdict_says_what_is_void_holds_is_tight_or_broken():
    good, tight = (text_sample.part_limit("rectifier", warm, 110.0) for warm in (90.0, 106.0))
    void = text_sample.solved(limits=(good,))
    assert [line for line in page(void) if line][2:4] == [
        "Void: fan.f1 driven backwards",
        "On paper the one limit holds; least margin: part.rectifier 20.0 K",
    ]
    assert "The one limit holds; least margin: part.rectifier 20.0 K" in page(limits(good))
    held = (("noise", 54.8, 55.0, q.LEVEL_DIFFERENCE), ("life", 40_100.0, 4e4, q.HOURS),
            ("life", 45_000.0, 4e4, q.HOURS))  # fmt: skip
    near = [Limit(kind, f"fan.f{i}", value, bound, abs(value - bound), unit, unit)
            for i, (kind, value, bound, unit) in enumerate(held)]  # fmt: skip
    text = " ".join(" ".join(page(limits(good, *near))).split())  # by 0.2 %, and by 12 %
    assert "margin: part.rectifier 20.0 K, fan.f0 0.2 dB, fan.f1 100 h Mar" in text
    close = limits(tight, text_sample.part_limit("controller", 40.0, 60.0))
    assert "2 limits hold, 1 tight: part.rectifier 4.0 K margin" in page(close)
    warm = limits().site["temperature"] - text_sample.ZERO
    never = limits(text_sample.part_limit("rectifier", warm + 1.0, warm + 3.0))
    words = " ".join(" ".join(page(never)).split())
    assert "holds, tight: part.rectifier 2.0 K margin of 3.0 K above the outside" in words
    assert "No limit is held against a result" in page(limits())
    many = [text_sample.part_limit("rectifier", 111.0 + i, 110.0) for i in range(7)]
    text = " ".join(" ".join(page(limits(*many))).split())
    assert "7 limits broken: " in text
    assert "and 3 more" in text


def test_a_limit_whose_value_is_not_known_neither_holds_nor_breaks():
    life = Limit("life", "fan.f1", math.nan, 40000.0, math.nan, q.HOURS, q.HOURS)
    made = limits(life)
    assert ranked(made) == [(life, "unknown")]
    text = "\n".join(page(made))
    assert "1 limit unknown: fan.f1" in text
    assert not any(word in text for word in ("hold", "broken"))


def test_scenario_without_a_result_keeps_its_place():
    item = Unsolved("Cabinet", "hot", "base", "no-solution", ("residual 4.1 Pa at filter.x",))
    lines = list(render.text(unsolved_sheet(item), Page()))
    assert lines[0].endswith("base | hot")
    assert lines[2:] == ["not solved", "  residual 4.1 Pa at filter.x"]


# --- fans together -------------------------------------------------------------------------------


def fan_lines(**how):
    page, tables = Page("metric", 80, everything=True), fan_set(flownet.solve(box(**how)))
    made = [each("metric") if callable(each) else each for each in tables]
    return [line for each in made for line in render.listing(each, page)]


def test_the_loudest_fan_stands_first_with_what_it_is_worth():
    """50 dBA less 2.29 dB beside 44 dBA: 10 log10(59049 + 25119) = 49.25 dBA."""
    head, first, then, life, note = fan_lines(second={"noise_dBA": 50, "blades": None})
    assert head.split() == [
        "Noise", "at", "1", "m", "level", "share", "blade", "pass", "without", "10", "%", "slower",
    ]  # fmt: skip
    assert first.split() == ["fan.two", "50.0", "dBA", "80", "%", "-", "44.0", "dBA", "49.3", "dBA"]
    assert then.split()[:6] == ["fan.one", "44.0", "dBA", "20", "%", "315"]
    assert life.startswith("Life  of 2 fans the first fails within ")
    assert "Weibull slope 1.1" in note
    alone = fan_lines()
    assert [line for line in alone if "silent" in line]
    assert not [line for line in alone if line.startswith("Life")]
    assert fan_lines(noise_dBA=None, noise=None, life=None) == []


# --- tables ------------------------------------------------------------------------------------


def rows(*names):
    return [[Cell(name), Cell("1 Pa"), Cell("a remark")] for name in names]


COLUMNS = (Head("Things"), Head("drop", True), Head(""))


def test_numbers_align_at_their_unit_with_one_number_of_decimals():
    cells = [[Cell("a"), Cell("9.5 Pa")], [Cell("b"), Cell("120.0 kPa")], [Cell("c"), Cell("-")]]
    lines = table.table(COLUMNS[:2], cells)
    assert lines[1].index(" Pa") == lines[2].index(" kPa") == lines[3].index("-") + 1
    values = [Page().cell(q.VOLUME_FLOW, flow / 3600) for flow in (222.4, 32, 7.9)]
    values += [Page().cell(q.DIFFERENCE, 4.0), Cell("-")]
    lines = table.table(COLUMNS[:2], [[Cell("a"), cell] for cell in values])
    assert [line.split()[1] for line in lines[1:]] == ["222.4", "32.0", "7.9", "4.0", "-"]
    bounds = [Page().cell(q.TEMPERATURE, 273.15 + warm, bare=True) for warm in (60, 62.5)]
    assert bounds[0].text == "60 degC"
    lines = table.table(COLUMNS[:2], [[Cell("a"), bound] for bound in bounds])
    assert [line.split()[1] for line in lines[1:]] == ["60.0", "62.5"]


def test_what_is_too_long_has_a_line_of_its_own():
    name = "compartment.behind-the-mounting-plate-on-the-left"
    lines = table.table(COLUMNS, rows("a", name), width=40)
    assert "  " + name in lines
    assert max(len(line) for line in lines if name not in line) <= 40
    lines = table.table(COLUMNS, [[Cell("a"), Cell("1 Pa"), Cell("x" * 30)]], width=40)
    assert [line.strip() for line in lines[1:]] == ["a        1 Pa", "x" * 30]


def test_a_cut_saves_more_than_three_rows_and_nothing_bad():
    fifteen, sixteen = (rows(*(f"r{i}" for i in range(n))) for n in (15, 16))
    assert not any("more" in line for line in table.table(COLUMNS, fifteen))
    assert table.table(COLUMNS, sixteen)[-1] == "  ... 4 more (--all)"
    worse = [[*row[:2], Cell("over", "bad")] for row in rows("r16", "r17")]
    lines = table.table(COLUMNS, [*sixteen, *worse])
    assert [line.split()[0] for line in lines[13:]] == ["r16", "r17", "..."]


# --- JSON --------------------------------------------------------------------------------------


def refuse(constant):
    raise AssertionError(f"{constant} is not JSON")


def test_json_is_strict_keeps_every_key_and_every_place(solution):
    text = json.text(solution.to_dict())
    read = stdlib_json.loads(text, parse_constant=refuse)
    assert read["compartments"]["upper"]["limit_degC"] is None
    assert read["fans"]["fan.f1"]["life_hours"] == 25700
    assert json.JSON_MARK in text
    assert stdlib_json.loads(json.text({"a": [math.inf, math.nan, 1.0]})) == {"a": [None, None, 1]}
    failed = Unsolved("Cabinet", "hot", "base", "no-solution", ("why",))
    assert failed.to_dict() == {
        "case": "Cabinet", "variant": None, "scenario": "hot",
        "error": {"kind": "no-solution", "message": "why"},
    }  # fmt: skip
