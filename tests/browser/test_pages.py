"""Every page in a browser: nothing asked of a network, nothing cut, everything named and legible;
what is chosen, pointed at or moved on the review shows the numbers of a solve."""

from __future__ import annotations

import base64
import json
import re
import tomllib
from itertools import pairwise
from math import dist

import pytest

import flownet
from tests.browser.conftest import ALEF, LONG, PAGES, TITLE, Opened

LEAST = 7.8  # px, of letters in a drawing: 6 pt, as in every picture, and rounding
PAPER = {"review": (658, 4, 20), "sheet": (681, 4, 10)}  # px between margins; sheets of paper
NAMED = ("RootWebArea", "button", "columnheader", "combobox", "DisclosureTriangle", "heading",
         "image", "link", "rowheader", "slider", "SvgRoot", "table", "textbox")  # fmt: skip
NUMBER, MINUS = r"([\d.\u202f]+) (m³/h|Pa|°C|K)\b", "\N{MINUS SIGN}"


@pytest.mark.parametrize("wide", [1280, 800, 390])
def test_everything_is_in_its_place_and_legible(page: Opened, wide: int) -> None:
    """On the narrowest page a table may be moved within its frame, the review never; drawings of
    the sheet, which is for paper, keep their millimetres there."""
    page.show(wide)
    least, edge = (LEAST, wide) if page.kind == "review" else (0, max(wide, 700))
    assert not page.js("return audit(...arguments)", edge, least, wide > 390)


def test_who_cannot_see_is_told_what_is_there(page: Opened) -> None:
    """Names and levels as Chromium itself works them out for a screen reader."""
    page.show()
    tree = [each for each in page.cdp("Accessibility.getFullAXTree")["nodes"]
            if not each["ignored"]]  # fmt: skip
    roles = [each["role"]["value"] for each in tree]
    unnamed = [role for role, each in zip(roles, tree, strict=True)
               if role in NAMED and not each["name"]["value"].strip()]  # fmt: skip
    assert (unnamed, roles.count("main")) == ([], 1)
    levels = page.js("return seen('h1,h2,h3,h4,h5,h6').map(each => Number(each.tagName[1]))")
    assert (levels[0], levels.count(1)) == (1, 1)
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_print_cuts_nothing(page: Opened) -> None:
    paper, least, most = PAPER[page.kind]
    page.show(paper, media="print")
    assert not page.js("return audit(...arguments)", paper, 0, True)
    tall = "return Math.max(...seen('svg').map(each => each.getBoundingClientRect().height))"
    assert page.js(tall) < 259 * 96 / 25.4
    printed = page.cdp("Page.printToPDF", preferCSSPageSize=True, printBackground=True)["data"]
    assert least <= len(re.findall(rb"/Type\s*/Page\b", base64.b64decode(printed))) <= most


def test_nothing_moves_for_who_does_not_want_it(page: Opened) -> None:
    page.show(motion="reduce")
    assert not page.js("return all('*').filter(each => parseFloat(style(each).transitionDuration)"
                       "|| style(each).animationName !== 'none'"
                       "|| style(each).scrollBehavior === 'smooth').length")  # fmt: skip


def test_names_are_text(page: Opened) -> None:
    """Whatever a case calls itself and its things stands there as it is, and does nothing."""
    page.show()
    title, bad = page.case.title, page.case.title == TITLE
    assert page.js("return [typeof window.hit, all('#hit, img').length]") == ["undefined", 0]
    heading, head, told = page.js("return [one('h1').textContent, document.title, seen('main *')"
                                  ".map(each => each.textContent).join(' ')]")  # fmt: skip
    assert heading.startswith(title[:100])
    assert head.startswith(title[:100])
    assert not bad or (ALEF in heading and LONG in told)
    if page.kind == "review":
        source, found = page.js("return all('#case, #results').map(each => each.textContent)")
        assert tomllib.loads(source)["title"] == title
        assert {each["case"] for each in json.loads(found)["solutions"]} == {title}


# --- the review: what is chosen, pointed at and moved ---

reviews = pytest.mark.parametrize("page", PAGES[:3], indirect=True, ids="-".join, scope="session")


def same(text: str, value: float) -> bool:
    """Whether a printed number is this one, to half of its last digit; its unit may follow."""
    plain = re.sub(r"[^\d.+-]", "", text.replace(MINUS, "-"))
    return abs(float(plain) - value) <= 0.5001 * 10.0 ** -len(plain.partition(".")[2])


def told_as_solved(words: str, path: str, solved: flownet.Solution) -> bool:
    """Whether each number of a sentence about a place is that of its results."""
    kind, _, name = path.partition(".")
    if kind in ("part", "compartment"):
        row = getattr(solved, f"{kind}s")[name]
        wanted = {"°C": row.temperature - 273.15, "K": abs(row.margin)}
        words = re.sub(r"limit \S+ °C", "", words)
        assert ("over" in words) == (row.margin < 0), words
    elif path in solved.branches:
        row = solved.branches[path]
        runs = kind == "fan" and row.state == "running" and row.mass_flow >= 0
        wanted = {"m³/h": abs(3600 * row.volume_flow),
                  "Pa": abs(solved.fans[path].rise if runs else row.drop)}  # fmt: skip
    else:
        return True
    found = [each for each in re.findall(NUMBER, words) if each[1] in wanted]
    assert found or "no air" in words or " on " in words, words
    return all(same(text, wanted[unit]) for text, unit in found)


@reviews
def test_the_selects_show_what_solve_finds(page: Opened) -> None:
    page.show()
    rows = "return seen('tr[data-name]').filter(row => row.closest('table').caption?.textContent" \
        ".includes(arguments[0])).map(row => [row.dataset.name," \
        "seen('.number', row).map(each => each.textContent)])"  # fmt: skip
    for pair in page.found.pairs[::2]:
        page.choose(*pair)
        solved = flownet.solve(page.case, scenario=pair.scenario, variant=pair.variant)
        assert solved.worst is not None
        decides = page.js("return one('#verdict').innerText").split()[-1]
        assert solved.worst.subject.removeprefix("part.") == decides.removeprefix("part.")
        limits, air = dict(page.js(rows, "Margins")), dict(page.js(rows, "Ways of the air"))
        for limit in (each.to_dict() for each in solved.limits):
            value, _, margin = limits[limit["subject"]]
            assert same(value, limit["value"]), (pair, limit)
            assert same(margin, limit["margin"]), (pair, limit)
        for name, (flow, *_, pressure) in air.items():
            row = solved.branches[name]
            assert flow.startswith("no") == (row.mass_flow == 0), (pair, name)
            told = f"{flow.lstrip(MINUS)} m³/h, {pressure.lstrip(MINUS)} Pa"
            assert row.mass_flow == 0 or told_as_solved(told, name, solved), (pair, name)
        map_is_as_solved(page, solved)


def map_is_as_solved(page: Opened, solved: flownet.Solution) -> None:
    """Marks say, letters show and arrows are as wide as what is solved."""
    told, drawn, paths = page.js(
        "const svg = one('svg:has(.mk)'); return [Object.fromEntries(seen('.mk').map(each =>"
        " [each.dataset.name, each.getAttribute('aria-label')])), svg.textContent, all('path', svg)"
        ".map(each => each.getAttribute('stroke-width') !== '2.4' && each.getAttribute('d'))]"
    )  # fmt: skip
    assert not [words for path, words in told.items() if not told_as_solved(words, path, solved)]
    for name in solved.compartments:
        assert told[f"compartment.{name}"].split(": ")[1].split(",")[0] in drawn
    arrows = [[tuple(map(float, each.split())) for each in path[1:-1].split("L")] for path in paths
              if path and path.endswith("Z") and path.count("L") == 6]  # fmt: skip
    wide = sorted(dist(each[0], each[-1]) for each in arrows)
    flows = sorted(abs(row.mass_flow) for path, row in solved.branches.items()
                   if getattr(solved.case.branches[path], "on", None) is None)  # fmt: skip
    shares = [flow / flows[-1] for flow in flows if flow > 1e-6 * flows[-1]]
    assert [each / wide[-1] for each in wide] == pytest.approx(shares, abs=0.02)


@reviews
def test_pointer_and_keys_read_the_same_and_the_map_is_one_stop(page: Opened) -> None:
    page.show()
    page.choose(*page.found.pairs[0])
    read = "return [document.activeElement.dataset.name, one('.read').innerText," \
        "seen('tr.on').map(each => each.dataset.name), seen('.mk.on').length]"  # fmt: skip
    inside = "return document.activeElement.matches('.mk, .mk *')"
    prompt = page.js(read)[1]
    page.js("one('.mk').closest('svg').scrollIntoView({ behavior: 'instant', block: 'center' })")
    spots = page.js("return seen('.mk').map(each => [each.dataset.name, spot(each),"
                    "each.getAttribute('aria-label')])")  # fmt: skip
    assert all(at for _, at, _ in spots)
    for name, (x, y), words in spots[::3]:
        page.cdp("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y)
        _, told, rows, marked = page.js(read)
        assert (told, set(rows) <= {name}, marked) == (words, True, 1)
    page.cdp("Input.dispatchMouseEvent", type="mouseMoved", x=1, y=1)
    page.js("one('#variant').focus()")
    while not page.js("return document.activeElement.matches('.mk, body, footer')"):
        page.press("Tab")
    page.press("Tab")
    assert not page.js(inside)
    page.press("Tab", shift=True)
    reached = {}
    for _ in spots:
        name, told, _, _ = page.js(read)
        reached[name] = told
        page.press("ArrowRight")
    assert reached == {name: words for name, _, words in spots}
    page.press("ArrowLeft")
    here = page.js(read)[0]
    assert page.js("const at = document.activeElement; return style(at).outlineStyle !== 'none'"
                   "|| style(one('.ring', at)).stroke !== 'none'")  # fmt: skip
    page.press("Escape")
    assert page.js(read) == [here, prompt, [], 0]
    page.press("Tab")
    assert not page.js(inside)
    page.press("Tab", shift=True)
    assert page.js(read)[0] == here


@reviews
def test_the_slider_shows_what_was_solved_beforehand(page: Opened) -> None:
    page.show()
    assert "solved beforehand" in page.js("return one('.slide').innerText")
    read = "const box = one('.slide'), input = one('input', box); return [input.ariaValueText," \
        "one('.value', box).innerText, Number(one('.at', box).getAttribute('x1'))," \
        "seen('tbody tr', box).map(row => all('.margin,.decides,.air', row)" \
        ".map(each => each.innerText))]"  # fmt: skip
    page.choose(*page.found.pairs[0])
    amount = page.js("one('.slide input').focus(); return one('#verdict b').innerText.trim()")
    assert amount in [margin for margin, _, _ in page.js(read)[3]]  # it starts at today's value
    page.press("Home")
    places = []
    for place in range(int(page.js("return one('.slide input').max")) + 1):
        spoken, text, x, rows = page.js(read)
        assert spoken == text
        places.append(x)
        for slid, (margin, decides, air) in zip(page.found.slid, rows, strict=True):
            if place % 6 == 0:
                changes = {slid.key: text.replace("°C", "degC")}
                solved = flownet.solve(page.case, scenario=slid.case.applied.scenario,
                                       variant=page.found.proposal, changes=changes)  # fmt: skip
                limit = next(each for each in solved.limits if each.subject == decides)
                assert limit.broken or not any(each.broken for each in solved.limits)
                number, unit = margin.replace(MINUS, "-").rsplit(" ", 1)
                assert unit != "K" or float(number) == pytest.approx(limit.margin, abs=0.12)
                hottest = max(row.temperature for row in solved.compartments.values()) - 273.15
                assert float(air.split()[0]) == pytest.approx(hottest, abs=0.12)
        page.press("ArrowRight")
    assert len(places) <= 15
    assert places == sorted(set(places))


@reviews
def test_a_small_screen_gets_a_drawing_of_its_own(page: Opened) -> None:
    drawn = "return ['.wide svg', '.narrow svg'].map(each => seen(each).map(svg => svg.outerHTML))"
    page.show()
    wide, none = page.js(drawn)
    page.show(560)
    nothing, narrow = page.js(drawn)
    assert (none, nothing, len(narrow)) == ([], [], len(wide))
    assert wide
    assert not set(wide) & set(narrow)


def test_nothing_is_asked_of_a_network_and_nothing_is_complained_of(page: Opened) -> None:
    """All that was done above is in these logs."""
    events = [json.loads(each["message"])["message"] for each in page.driver.get_log("performance")]
    asked = {event["params"]["request"]["url"] for event in events
             if event["method"] == "Network.requestWillBeSent"}  # fmt: skip
    assert asked == {page.address}
    assert not page.driver.get_log("browser")
    page.js("console.warn('heard')")
    assert "heard" in str(page.driver.get_log("browser"))
