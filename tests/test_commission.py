"""The sheet for fitting and commissioning says what a solve says, in millimetres that are ones."""

from __future__ import annotations

import csv
import dataclasses
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import flownet
from flownet.handover import drawings
from flownet.handover.web import environment
from flownet.schema import quantities as q
from tests.cli.box import run
from tests.small_cabinet import cabinet

CASES = Path(__file__).parents[1] / "cases"
COOL = {"outside.temperature": "22 degC"}
HOSTILE = '</style><script>alert("x")</script>&amp;\'"'


class Cells(HTMLParser):
    """Rows of tables as text, and elements by name."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.tags: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.tags.append(tag)
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th") and self.rows:
            self.rows[-1].append("")

    def handle_data(self, data: str) -> None:
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data

    def row(self, first: str) -> list[str]:
        return next(row for row in self.rows if row and row[0] == first)


@pytest.fixture(scope="module")
def case() -> flownet.Enclosure:
    return flownet.load_case(CASES / "drive-cabinet")


@pytest.fixture(scope="module")
def found(case: flownet.Enclosure) -> flownet.Commissioning:
    return flownet.commission(case, scenario="half-load", variant="three-fans", changes=COOL)


@pytest.fixture(scope="module")
def solved(case: flownet.Enclosure) -> flownet.Solution:
    return flownet.solve(case, scenario="half-load", variant="three-fans", changes=COOL)


@pytest.fixture(scope="module")
def page(found: flownet.Commissioning) -> Cells:
    return Cells(found.html())


def number(text: str) -> float:
    return float(text.replace("\N{MINUS SIGN}", "-").replace("\N{NARROW NO-BREAK SPACE}", ""))


def test_points_are_those_of_solve(
    found: flownet.Commissioning, solved: flownet.Solution, page: Cells
) -> None:
    outside = float(solved.site["temperature"])
    for point in found.points:
        if not point.path:
            continue
        value = solved[point.path] * point.scale
        assert point.predicted == pytest.approx(value, rel=1e-12), point
        if point.path != "site.temperature":
            assert point.low < value < point.high, point
        shown = (q.DIFFERENCE if point.rises else point.quantity).metric
        wanted = shown.of(value - (outside if point.rises else 0.0))
        assert number(page.row(point.name)[2]) == pytest.approx(point.sign * wanted, abs=0.51)


def test_faults_are_solved_at_the_state_of_the_test(
    found: flownet.Commissioning, case: flownet.Enclosure, page: Cells
) -> None:
    assert {"mounted", "state", "frequency", "fouling", "0"} == {
        path.rpartition(".")[2] for fault in found.faults for path in fault.changes}  # fmt: skip
    for fault in found.faults[:2]:
        alone = flownet.solve(case, scenario="half-load", variant="three-fans",
                              changes={**COOL, **fault.changes})  # fmt: skip
        for path, value in fault.values.items():
            assert value == pytest.approx(alone[path], rel=1e-6, abs=1e-9), (fault.what, path)
    left = page.row("fan.left blows in")
    assert left[3].endswith("back")  # V1: its air turns
    assert left[1].endswith("low")  # less drop across the mat


def test_bands_are_those_of_readings(found: flownet.Commissioning, case: flownet.Enclosure) -> None:
    path = "filter.intake.drop"
    rows = [{"point": path, "reading": 30.0, "reading_unit": "Pa", "uncertainty": 1.0}]
    other = flownet.check_readings(case, rows, scenario="half-load", variant="three-fans",
                                   changes=COOL)  # fmt: skip
    point = next(each for each in found.points if each.path == path)
    assert (point.high - point.low) / 2 == pytest.approx(float(other.band[0]), rel=1e-9)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_file_goes_back_into_readings(
    units: str, case: flownet.Enclosure, found: flownet.Commissioning, tmp_path: Path
) -> None:
    """Filled in with what is predicted, to the digits it has, everything agrees."""
    blank = tmp_path / "readings.csv"
    blank.write_text(found.csv(units), encoding="utf-8")
    with pytest.raises(flownet.CaseError, match="no reading in"):
        flownet.check_readings(case, blank, scenario="half-load", variant="three-fans",
                               changes=COOL)  # fmt: skip
    lines = found.csv(units).splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    filled = [row | {"reading": row["predicted"], "uncertainty": "1"} for row in rows]
    found_again = flownet.check_readings(case, filled, scenario="half-load", variant="three-fans",
                                         changes=COOL)  # fmt: skip
    assert len(found_again.readings.points) == sum(bool(each.path) for each in found.points)
    assert found_again.agrees
    assert not found_again.outside.any()


@pytest.mark.parametrize(("planted", "named"), [
    ({"fan.right.mounted": "reversed"}, "fan.right blows the other way"),
    ({"filter.intake.fouling": 2.0}, "filter.intake loaded otherwise"),
])  # fmt: skip
def test_a_planted_fault_is_named(
    planted: dict[str, Any], named: str, case: flownet.Enclosure, found: flownet.Commissioning,
    tmp_path: Path,
) -> None:  # fmt: skip
    """The file of blanks, filled in from a solve with one fault, goes to `flownet readings`."""
    wrong = flownet.solve(case, scenario="half-load", variant="three-fans",
                          changes={**COOL, **planted})  # fmt: skip
    points = {each.path: each for each in found.points}
    filled = []
    for line in found.csv().splitlines():
        point = points.get(line.partition(",")[0])
        if point is not None and point.path:
            value = point.quantity.metric.of(wrong[point.path] * point.scale)
            line = re.sub(r"^((?:[^,]*,){5}),([^,]*),,", rf"\g<1>{value:.4g},\2,1,", line)  # noqa: PLW2901
        filled.append(line)
    (file := tmp_path / "filled.csv").write_text("\n".join(filled), encoding="utf-8")
    told = run("readings", str(CASES / "drive-cabinet"), str(file), "-s", "half-load", "-v",
               "three-fans", "--set", "outside.temperature=22 degC")  # fmt: skip
    best = told.stdout[told.stdout.index("Explanation  ") :].splitlines()[1]
    assert named in best, told.stdout
    assert best.endswith("all")  # that lies outside is explained


@pytest.mark.parametrize(("paper", "frame", "pitch", "cutout", "kind", "sheets"), [
    ("a4", 119.0, 104.8, 116.0, "a4", 1), ("a4", 40.0, 32.0, 38.0, "a4", 1),
    ("a3", 250.0, 225.0, 235.0, "a3", 1), ("a4", 250.0, 225.0, 235.0, "tiles", 4),
])  # fmt: skip
def test_a_unit_of_the_template_is_a_millimetre(
    paper: str, frame: float, pitch: float, cutout: float, kind: str, sheets: int
) -> None:
    """Width on paper is that of the viewBox; holes, cutout and rulers are where they must be."""
    mount = drawings.Mount("x", frame, pitch, cutout)
    got, papers = drawings.papers(mount, paper)
    assert (got, len(papers)) == (kind, sheets)
    room = 180.0 if kind != "a3" else 267.0  # what A4 and A3 leave between margins of 15 mm
    draw = environment().get_template("drawings.html").module.template  # type: ignore[attr-defined]
    for svg in (str(draw(mount, each)) for each in papers):
        left, top, wide, tall = map(float, re.search(r'viewBox="([^"]+)"', svg)[1].split())  # type: ignore[index]
        assert float(re.search(r"width:([\d.]+)mm", svg)[1]) == wide <= room  # type: ignore[index]
        circles = {tuple(map(float, each)) for each in
                   re.findall(r'cx="([-\d.]+)" cy="([-\d.]+)" r="([-\d.]+)"', svg)}  # fmt: skip
        assert {(x * pitch / 2, y * pitch / 2, 1.0) for x in (-1, 1) for y in (-1, 1)} <= circles
        assert (0.0, 0.0, cutout / 2) in circles
        rulers = re.findall(r"translate\(([-\d.]+) ([-\d.]+)\) rotate\((-90|0)\)"
                            r'"><path class="rule" d="M0 0H100"', svg)  # fmt: skip
        assert sorted(turn for _, _, turn in rulers) == ["-90", "0"]
        for x, y, turn in rulers:  # both ends on the paper
            ends = (float(x) + 100 * (turn == "0"), float(y) - 100 * (turn == "-90"))
            assert left < float(x) <= ends[0] < left + wide
            assert top < ends[1] <= float(y) < top + tall


def test_names_are_text_and_what_is_not_said_is_a_blank() -> None:
    """A case of few words: no place, no frame, no side of the label; a title that tries markup."""
    plain = cabinet()
    made = flownet.commission(dataclasses.replace(plain, title=HOSTILE))
    page, text = Cells(made.html()), made.html()
    assert "script" not in page.tags
    assert "<script" not in text
    assert text.count("</style>") == 1
    assert page.row("Label faces")[1] == page.row("Alarm contact")[1] == "______"
    assert 'class="full"' not in text  # no template without hole pitch and cutout
    assert all(each.word(each.predicted) == "" for each in made.points)


def test_without_a_fan_air_moves_by_itself() -> None:
    still = cabinet().with_changes({"fan.*.state": "blanked", "outside.temperature": "20 degC"})
    made = flownet.commission(still)
    assert not [each for each in made.points if each.name[0] in "AN"]
    assert "Order of work" in made.html()


def test_only_a_filter_has_a_flow_arrow(page: Cells) -> None:
    """A vent is a hole with a grille: no arrow is printed on it."""
    done = {row[0]: row[-1] for row in page.rows if row and row[0].startswith(("filter.", "vent."))}
    assert "arrow" in done["filter.intake"]
    assert not [name for name in done if name.startswith("vent.") and "arrow" in done[name]]
    assert any(name.startswith("vent.") for name in done)


def test_the_command_writes_sheet_and_blanks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What somebody has filled in is not written over."""
    monkeypatch.chdir(tmp_path)
    words = ["commission", str(CASES / "telecom-shelf"), "-s", "hot"]
    for _ in range(2):  # its own files, still blank, are replaced
        assert run(*words).exit_code == 0
    sheet, blank = tmp_path / "telecom-shelf-fitting.html", tmp_path / "telecom-shelf-readings.csv"
    assert sheet.read_text().count("</html>") == 1
    text = blank.read_text()
    row = next(line for line in text.splitlines() if line.startswith("filter.mat.drop"))
    blank.write_text(text.replace(row, row.replace(",Pa,,Pa,,", ",Pa,25.0,Pa,1,")))
    refused = run(*words)
    assert refused.exit_code == 4
    assert "stays as it is" in refused.stderr
    assert run("readings", words[1], str(blank), "-s", "hot").exit_code == 0
    assert run(*words, "-o", "sheet.txt").exit_code == 2
