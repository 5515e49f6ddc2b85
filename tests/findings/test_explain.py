"""`explain`: every rule, kind and key of the case file has its words; the page of rules agrees."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from flownet.casefile.studies import TIMELINE
from flownet.findings.explain import document, explain, known_paths, words
from flownet.results import tables
from flownet.results.tables import REGIONS
from flownet.schema.component import KINDS
from flownet.schema.errors import CaseError
from flownet.schema.fields import keys
from flownet.schema.quantities import UNITS
from flownet.studies.timeline import EVENT_KEYS
from tests.each import each, named

PAGE = Path(__file__).parents[2] / "docs" / "findings.md"
KEPT, WORDS = words("kept"), words()
EVERY_KEY = [f"{kind}.{path}" for kind in KINDS for path in known_paths(kind)]


@cache
def written():
    return document()


def flat(text):
    """A page with its line breaks taken out."""
    return " ".join(text.split())


def test_the_page_of_rules_is_what_the_rules_say():
    """Written by `python docs/build.py docs/findings.md`."""
    assert PAGE.read_text(encoding="utf-8") == written()


@each(named(EVERY_KEY))
def test_every_key_is_explained(path):
    text = explain(path)
    lines = text.splitlines()
    assert lines[0] == path
    assert [line[2:14].strip() for line in lines[1:] if line[2] != " "][:3] == [
        "meaning", "takes", "default",
    ]  # fmt: skip
    assert max(map(len, lines)) <= 80
    assert "nan" not in text.split()


@each(named(KINDS))
def test_every_kind_lists_its_keys(kind):
    text = explain(kind)
    named = {line.split()[0] for line in text.splitlines()[1:]}
    assert set(keys(KINDS[kind])) <= named
    assert text.startswith(f"[{kind}")
    assert max(map(len, text.splitlines())) <= 80


@each(named(UNITS))
def test_every_unit_is_explained_by_its_size(name):
    lines = explain(name).split("\n\n")[-1].splitlines()
    assert lines[0] == name
    assert UNITS[name].dimension in lines[1]
    assert max(map(len, lines)) <= 80


@each(
    named(
        [
            # from the definitions of NIST Special Publication 811 (2008), appendix B (from memory)
            ("CFM", f"1 CFM = {(12 * 0.0254) ** 3 / 60:.9g} m3/s"),
            ("inH2O", f"1 inH2O = {1000 * 9.80665 * 0.0254:.7g}"),
            ("in", "1 in = 0.0254 m"),
            ("degF", f"0 degF = {273.15 - 32 / 1.8:.9g} K, 1 degF more = {1 / 1.8:.9g} K more"),
            ("BTU/h", f"1 BTU/h = {0.45359237 * 4186.8 / 1.8 / 3600:.9g} W"),
        ]
    )
)
def test_sizes_of_units_are_those_of_the_standard(name, size):
    assert size in flat(explain(name))


def test_a_unit_that_is_a_key_as_well_is_both():
    assert explain("in").startswith("part.in\n")
    assert "1 in = 0.0254 m" in explain("in")


def test_only_words_are_explained():
    with pytest.raises(TypeError, match="explain takes a word"):
        explain(3)  # type: ignore[arg-type]


@each(named([("filter.velocity_drop",
    ["table of velocity", '"1.5 m/s"', "drop", '"18 Pa"']), ("fan.speed",
    ["plain number", 'speed of rotation, such as "2400 rpm"', "up to 2"]),
    ("fan.speed", ["instead of rotation"]), ("limits.margin",
    ["temperature difference", "default 5 K", "common practice, no source"]),
    ("filter.fouling", ["default 1", "range above 0", "2 at the end of its life"]),
    ("vent.construction", ['"square-edged" | "round-edged" | "wire screen"']),
    ("part.in", ["name of a compartment or branch or part", "must be given"]),
    ("leak.flow_at", ['["40 m3/h", "18 Pa"]']),
    ("enclosure.size", ["3 numbers and one unit"]),
    ("fan.guard", ["a sub-table with loss"]),
    ("fan.guard.loss", ["common practice, no source"]),
    ("part.chain", ["station (a word)"]),
    ("baffle.present", ["true | false", "default true"]),
    ("limits.scenarios", ["list of names"]),
    ("outside.temperature", ["default 20 degC", "-123.15 degC"])]))  # fmt: skip
def test_a_key_says_what_it_takes(word, parts):
    text = flat(explain(word))
    for part in parts:
        assert part in text, text


@each(named([("filter.intake.fouling", "filter.fouling"),
    ("fan.left.guard.loss", "fan.guard.loss"), ("fan.left.at.0", "fan.at"),
    ("outside.rear-aisle.over_pressure", "outside.over_pressure"),
    ("  filter.fouling ", "filter.fouling"),
    ("fouling", "vent.fouling, filter.fouling"), ("guard.loss", "fan.guard.loss")]))  # fmt: skip
def test_a_path_with_the_name_of_a_thing_means_its_key(word, head):
    assert explain(word).splitlines()[0] == head


def test_every_key_of_a_timeline_is_explained_and_stands_in_the_manual():
    known = [*TIMELINE, *EVENT_KEYS]
    assert sorted(words("timeline")) == sorted(known)
    pages = [(PAGE.parent / name).read_text("utf-8") for name in ("case-format.md", "keys.md")]
    rows = pages[0].partition("### `[timeline.NAME]`")[2].partition("## Every key")[0]
    for key in known:
        for word in (f"timeline.{key}", f"timeline.fan-stop.events.0.{key}"):
            assert explain(word).startswith(f"timeline.{key}\n  meaning")
        assert f"\n  {key} " in explain("timeline")
        assert f"| `{key}` |" in rows
        assert f"`{key}`" in pages[1]
    for word, part in (("hysteresis", "fan.speed_control.hysteresis\n"), ("transient", "timeline"),
                       ("ride-through", "outage")):  # fmt: skip
        assert part in explain(word)
    with pytest.raises(CaseError, match=r'did you mean "timeline\.until"'):
        explain("timeline.untl")


RESULTS = {
    "compartment.NAME": tables.COMPARTMENT + tables.OF_AIR, "vent.NAME": tables.BRANCH,
    "fan.NAME": tables.BRANCH + tables.FAN, "part.NAME": tables.PART, "wall.NAME": tables.WALL,
    "exchange.NAME": tables.HEAT, "site": tables.SITE, "total": tables.TOTALS,
    "balance": tables.BALANCE,
}  # fmt: skip
PATHS = [f"{place}.{field.name}" for place, some in RESULTS.items() for field in some]


@each(named(PATHS))
def test_every_result_is_explained_by_its_name_and_by_its_path_unless_that_is_a_key(path):
    alone, whole = flat(explain(path.rpartition(".")[2])), flat(explain(path))
    assert ": a result meaning" in alone
    if path.replace("NAME.", "") not in EVERY_KEY:
        assert path in whole.partition(": a result meaning")[0]
        assert whole.partition(": a result meaning")[2].split(" compartment.NAME.NAME.")[0] in alone


def test_numbers_follow_the_reader():
    assert "9 degF" in explain("limits.margin", "us")
    assert "180.0 degF" in explain("rise-looks-absolute", "us")
    assert "100.0 K" in explain("rise-looks-absolute")


@each(named([("foulng", '"fouling"'), ("filter.foulng", '"filter.fouling"'),
    ("filter.intake.foulng", '"filter.fouling"'), ("fan-backflw", '"fan-backflow"'),
    ("fitler", '"filter"'), ("grille", '"vent"'), ("fan.left", '"fan"'),
    ("tigth", '"tight"'), ("counter_flwo", '"counter_flow"'), ("useful flwo", '"useful flow"'),
    ("past-free-delivry", '"past-free-delivery"'),
    ("xyzzy", "a key such as filter.fouling"), ("", "a key such as filter.fouling")]))  # fmt: skip
def test_an_unknown_word_names_the_nearest(word, meant):
    with pytest.raises(CaseError, match="no finding, kind, key, unit or result") as caught:
        explain(word)
    assert meant in str(caught.value)


ON_PAGES = (
    *REGIONS, "ok", "tight", "over", "short", "unknown", "region", "stable", "unstable", "margin",
    "fouling", "useful flow", "operating point", "worst margin",
)  # fmt: skip


@each(named({*ON_PAGES, *WORDS}))
def test_words_of_the_pages_are_explained(word):
    text = explain(word)
    assert flat(WORDS[word]) in flat(text)
    assert text.split("\n\n")[-1].splitlines()[0] == word
    assert max(map(len, text.splitlines())) <= 80
    assert flat(WORDS[word]) in flat(explain(f" {word.title().replace(' ', '-')} "))


TITLES = {"", "Fans", "Findings", "Margins, worst first", "Variant", "Walls", "designs", "fans",
          "filters"}  # fmt: skip
DATA = {  # columns of data that stand on no page; those with an underscore are data too
    "alike", "changes", "given", "loaded", "path", "paths", "place", "rank", "samples", "subject",
    "unit", "why",
}  # fmt: skip


def headings():
    """Headings of the tables of all pages, as they stand in the code."""
    package = Path(__file__).parents[2] / "flownet"
    files = [
        path for room in ("pages", "cli", "studies") for path in (package / room).rglob("*.py")
    ]
    texts = [path.read_text(encoding="utf-8") for path in files]
    found = {word for text in texts for word in re.findall(r'\b(?:Column|Head)\("([^"]+)"', text)}
    found |= {word for text in texts for line in re.findall(r"^HEADS = (\(.*\))$", text, re.M)
              for word in ast.literal_eval(line)}  # fmt: skip
    return sorted(word for word in found - TITLES - DATA if "_" not in word)


@each(named([*headings(), "P50", "rest up", "useful", "decides", "L10", "lever",
    "error", "warning", "note"]))  # fmt: skip
def test_every_heading_of_the_pages_is_explained(word):
    assert len(explain(word)) > len(word) + 20


def test_one_word_of_a_name_means_it_where_no_other_name_has_it():
    assert explain("useful").splitlines()[0] == "useful flow"
    assert explain("P50") == explain("P5, P50, P95")
    with pytest.raises(CaseError):
        explain("that")


def test_a_key_that_is_a_word_as_well_is_both():
    assert explain("fouling").startswith("vent.fouling, filter.fouling\n")
    assert "1 is clean, 2 has twice the drop" in flat(explain("fouling"))
