"""The review page says what a solve says, can be solved again, and asks nothing of anybody."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import flownet
from flownet.enclosure.branches import Filter, Vent
from flownet.enclosure.fans import Fan, FanType
from flownet.enclosure.heat import Part
from flownet.enclosure.surroundings import Compartment, Outside
from flownet.handover import assumed, paper, reviewed, slider
from flownet.physics import REGISTRY
from flownet.solver.acceptance import kept
from flownet.solving.attempt import attempt_at, attempt_of
from flownet.studies.headroom import headroom
from tests.cli.box import run
from tests.small_cabinet import cabinet

CASES = Path(__file__).parents[1] / "cases"
HOSTILE = (
    '</script><script>window.hit = 1</script><img src=x onerror="1">&amp;\'"'
    "\N{RIGHT-TO-LEFT OVERRIDE}"
)
LARGEST = 3_000_000  # bytes of a page
SIGNS = str.maketrans({"\N{MINUS SIGN}": "-", "\N{NARROW NO-BREAK SPACE}": None,
                       "\N{EN DASH}": "-"})  # fmt: skip


@pytest.fixture(scope="module")
def case() -> flownet.Enclosure:
    return flownet.load_case(CASES / "drive-cabinet")


@pytest.fixture(scope="module")
def found(case: flownet.Enclosure) -> flownet.Review:
    return flownet.review(case, scenarios=["hot", "hot+dirty", "hot+dirty+each-fan-out"],
                          variant="three-fans", samples=40)  # fmt: skip


@pytest.fixture(scope="module")
def page(found: flownet.Review) -> str:
    return found.html()


def data(page: str, name: str) -> Any:
    inside = re.search(rf'<script type="application/json" id="{name}">(.*?)</script>', page)
    assert inside is not None
    return json.loads(inside[1])


def block(page: str, key: str, title: str) -> str:
    """The markup of what the page shows of a pair under a title."""
    parts = re.findall(rf'<div class="sw" data-when="{re.escape(html.escape(key))}".*?'
                       r'(?=<div class="sw"|</section>)', page, re.DOTALL)  # fmt: skip
    return next(part for part in parts if f"</b> {title}" in part)


def rows(markup: str) -> dict[str, list[str]]:
    """The rows of its table by their first cells, without signs of print."""
    told = {}
    for line in re.findall(r"<tr.*?</tr>", markup, re.DOTALL):
        cells = re.findall(r"<t[hd].*?</t[hd]>", line, re.DOTALL)
        texts = [html.unescape(re.sub(r"<[^>]*>", "", cell)).translate(SIGNS) for cell in cells]
        told[texts[0]] = texts[1:]
    return told


def test_margins_and_flows_of_every_pair_are_those_of_solve(
    case: flownet.Enclosure, found: flownet.Review, page: str
) -> None:
    assert {pair.variant for pair in found.pairs} == {"three-fans", "base", "strong-fans"}
    told = data(page, "data")["pairs"]
    for pair in found.pairs[::3]:
        solved = flownet.solve(case, scenario=pair.scenario, variant=pair.variant)
        margins = rows(block(page, pair.key, "Margins, the worst first"))
        for item in solved.limits:
            if item.margin == item.margin:
                shown = item.margin_quantity.metric
                assert float(re.match(r"[-+\d.]+", margins[item.subject][2])[0]) == pytest.approx(
                    item.margin * shown.factor, abs=0.51 if shown.unit == "h" else 0.051
                )
        ways = rows(block(page, pair.key, "Ways of the air"))
        flows = [path for path, cells in ways.items() if path in solved.branches and cells[1]]
        assert {"filter.intake", "baffle.shelf"} <= set(flows)
        for path in flows:
            flow = abs(solved.volume_flow(path)) * 3600
            assert float(ways[path][1]) == pytest.approx(flow, abs=0.051), path
        worst = min(solved.limits, key=lambda item: item.margin if item.limit in ("part", "air")
                    else 99)  # fmt: skip
        assert told[pair.key]["subject"] == worst.subject


def test_pressure_along_the_way_adds_up(found: flownet.Review, page: str) -> None:
    """Round any closed way the changes of pressure add up to zero: conservation of energy."""
    for pair in found.pairs:
        steps = rows(block(page, pair.key, "Pressure along the way of the air"))
        steps.pop("Step")
        assert "filter.intake" in steps
        assert abs(sum(float(cells[0]) for cells in steps.values())) < 0.06 * len(steps)


def test_pictures_of_the_first_pair_have_their_words_as_text(
    found: flownet.Review, page: str
) -> None:
    solved, ids = found.solutions[found.decisive.key], re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for title, words in (
        ("Margin, share of what is allowed", {item.subject for item in solved.limits[:3]}),
        ("Which share of the air goes where", {"filter.intake", "lower", "upper"}),
        ("The main way of the air, and its pressure", {"filter.intake", "draught"}),
    ):
        figure = page[page.index(f"</b> {title}") :].partition("</figure>")[0]
        assert "whatever is chosen above" in figure, title
        drawings = re.findall(r"<svg.*?</svg>", figure, re.DOTALL)
        assert len(drawings) == 2, title
        for drawing in drawings:
            texts = "".join(re.findall(r"<text[^>]*>([^<]*)<", drawing))
            assert f'aria-label="{title}"' in drawing
            assert all(word in texts for word in words), title


def test_only_fan_types_that_run_are_taken_for_granted(found: flownet.Review, page: str) -> None:
    used = {str(fan.type) for fan in found.solutions[found.decisive.key].case.fans.values()}
    first = page.partition('id="q2"')[0].replace("<wbr>", "")
    assert set(re.findall(r"fan_type\.([\w-]+)", first)) == used


def test_where_a_solve_ended_is_known_from_its_solution(found: flownet.Review) -> None:
    """The flows of another march from rest, and the promise of a result."""
    solved = found.solutions[found.decisive.key]
    known, again = attempt_at(solved).found, attempt_of(solved.case).found
    assert known.state.mass_flow == pytest.approx(again.state.mass_flow, rel=1e-7, abs=1e-12)
    assert known.state.temperature == pytest.approx(again.state.temperature, abs=1e-6)
    assert kept(known.promise).all()


def test_what_is_embedded_solves_again(found: flownet.Review, page: str, tmp_path: Path) -> None:
    source = re.search(r'<pre id="case">(.*?)</pre>', page, re.DOTALL)
    assert source is not None
    file = tmp_path / "case.toml"
    file.write_text(html.unescape(source[1]))
    again = flownet.load_case(file)
    results = data(page, "results")["solutions"]
    assert len(results) == len(found.solutions)
    for (pair, _), told in list(zip(found.shown, results, strict=True))[::3]:
        solved = flownet.solve(again, scenario=pair.scenario, variant=pair.variant)
        assert solved.case.digest.removeprefix("sha256:")[:16] in page
        for name, part in told["parts"].items():
            assert part["temperature_degC"] == pytest.approx(
                solved[f"part.{name}.temperature"] - 273.15, abs=1e-6
            )


def test_the_filters_alarm_is_read_while_all_fans_run(
    case: flownet.Enclosure, found: flownet.Review
) -> None:
    """On either side of it the outage holds or breaks; the drop is that of a solve without it."""
    first = min(found.alarms, key=lambda item: item.fouling)
    assert first.out
    change = {f"{first.path}.fouling": first.fouling}
    calm = flownet.solve(case, scenario=found.condition, variant="three-fans", changes=change)
    assert first.drop == pytest.approx(abs(calm.branches[first.path].drop), rel=1e-6)
    for factor, holds in ((0.99, True), (1.01, False)):
        out = flownet.solve(case, scenario=found.decisive.scenario, variant="three-fans",
                            changes={f"{first.path}.fouling": factor * first.fouling})  # fmt: skip
        assert all(item.margin > 0 for item in out.limits if item.margin == item.margin) == holds


def test_headroom_says_what_a_gauge_reads_before_the_outage(case: flownet.Enclosure) -> None:
    larger = {"filter.intake.area": "0.09 m2"}
    item = headroom(case, "filter.intake.fouling", scenario="hot+dirty+fan.right-out",
                    variant="three-fans", changes=larger)  # fmt: skip
    (change,) = item.filters
    calm = flownet.solve(case, scenario="hot+dirty", variant="three-fans",
                         changes={**larger, "filter.intake.fouling": item.value})  # fmt: skip
    assert change.gauge == pytest.approx(abs(calm.branches["filter.intake"].drop), rel=1e-6)
    assert change.gauge > 1.2 * change.drop
    assert f"{np.floor(10 * change.gauge) / 10:.1f} Pa" in item.verdicts()[0]  # down: it holds


def test_names_are_text_and_nothing_is_asked_of_a_network() -> None:
    made = flownet.Enclosure.of(
        Outside(temperature="40 degC"), Compartment(name="box", air_limit="55 degC"),
        FanType(name="axial", curve={"flow": "0 100 m3/h", "rise": "60 0 Pa"}, origin=HOSTILE,
                flow_area="95 cm2"),
        Fan(name="out", from_="box", to="outside", type="axial"),
        Filter(name="mat", from_="outside", to="box", area="0.05 m2", loss=20.0),
        Part(name="x" * 300, in_="box", power="80 W", resistance="0.2 K/W", limit="90 degC"),
        title=HOSTILE, scenarios={"toString": {"outside.temperature": "45 degC"}},
        variants={"no-mat": {"filter.mat.state": "removed"}, "__proto__": {"fan.out.speed": 0.9}},
    )  # fmt: skip
    found = flownet.review(made, samples=0)
    assert found.proposal == "base"
    assert found.passed_over == ("no-mat",)
    text = found.html()
    assert text.count("<script") == 3
    assert "<img" not in text
    assert html.escape(HOSTILE) in text.replace("&#34;", "&quot;").replace("&#39;", "&#x27;")
    assert set(re.findall(r'https?://[^\s"\'<)]+', text)) <= {
        "http://www.w3.org/1999/xlink", "http://www.w3.org/2000/svg"}  # fmt: skip
    assert not re.search(r'(src|href)="(?!#)', text)
    assert {each["case"] for each in data(text, "results")["solutions"]} == {HOSTILE}


def test_a_box_without_a_fan_has_its_page() -> None:
    made = flownet.Enclosure.of(
        Outside(temperature="40 degC"), Compartment(name="box"),
        Vent(name="low", from_="outside", to="box", area="50 cm2", loss=2.0, at="0 0 mm"),
        Vent(name="high", from_="box", to="outside", area="50 cm2", loss=2.0, at="0 900 mm"),
        Part(name="psu", in_="box", power="20 W", resistance="0.5 K/W", limit="80 degC"),
    )  # fmt: skip
    text = flownet.review(made, samples=0).html()
    assert "No fan runs." in text
    assert "What if a fan stops?" not in text
    assert "How far can outside.temperature go?" in text


def test_a_key_at_its_end_has_a_slider_where_nothing_breaks() -> None:
    """A speed of 1 is the most there is, and no limit ends the way down: it goes down."""
    made = flownet.Enclosure.of(
        Outside(temperature="20 degC"), Compartment(name="box", air_limit="90 degC"),
        FanType(name="axial", curve={"flow": "0 100 m3/h", "rise": "60 0 Pa"}, flow_area="95 cm2",
                speed_range="0.4 1", origin="sheet_7.pdf"),
        Fan(name="out", from_="box", to="outside", type="axial"),
        Vent(name="low", from_="outside", to="box", area="50 cm2", loss=2.0),
        Part(name="a_b", in_="box", power="10 W"),
    )  # fmt: skip
    found = flownet.review(made, samples=0, key="fan.out.speed")
    places = slider._positions(found.slid)
    assert not np.isfinite(found.slid[0].value)
    assert (places[0], places[-1]) == (found.slid[0].low, 1.0)
    assert places == sorted(set(places))
    first = found.html().partition('id="q2"')[0].replace("<wbr>", "")
    assert first.count("sheet_7.pdf") == 2  # as it is called: among all values, and what is assumed


def test_a_key_that_cannot_move_is_refused_in_words_of_a_review() -> None:
    with pytest.raises(flownet.CaseError, match=r"over_pressure is 0\.0 Pa in hot") as told:
        flownet.review(cabinet(), scenarios=["hot"], key="outside.over_pressure", samples=0)
    assert "upto" not in str(told.value)  # which a review does not have


@pytest.mark.parametrize(("words", "told"), [
    ({"key": "filter.mut.fouling"}, 'no filter "mut"'),
    ({"variant": "wyde"}, 'variant "wyde": no such'),
])  # fmt: skip
def test_names_are_known_before_anything_is_solved(
    words: dict[str, str], told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reviewed, "compare", None)
    with pytest.raises(flownet.CaseError, match=told):
        flownet.review(cabinet(), **words)  # type: ignore[arg-type]


def test_pairs_that_are_left_out_are_counted(
    monkeypatch: pytest.MonkeyPatch, found: flownet.Review, page: str
) -> None:
    every = sum(cell is not None for row in found.comparison.cells for cell in row)
    assert f"{every - len(found.pairs)} more pairs of the table of section 2 are left out" in page
    monkeypatch.setattr(reviewed, "MOST_THINGS", 60)
    few = reviewed.pairs_shown(found.comparison, "three-fans")
    assert few == found.pairs[: len(few)]
    assert 1 <= len(few) < len(found.pairs)


def test_the_page_is_small_enough_to_mail(page: str) -> None:
    assert len(page.encode()) < LARGEST


def test_relations_that_are_named_have_a_source() -> None:
    assert set(assumed.RELATIONS) <= set(REGISTRY)


def test_pdf_without_a_browser_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(paper.shutil, "which", lambda name: None)
    case = tmp_path / "box.toml"
    flownet.save_case(cabinet(), case)
    result = run("review", case, "-s", "base", "--samples", 0, "-o", tmp_path / "a.html",
                 "--pdf", tmp_path / "a.pdf")  # fmt: skip
    assert result.exit_code == 4
    assert "needs Chromium" in result.stderr
