"""`flownet draw`: files, their names and formats."""

from __future__ import annotations

import os
import xml.etree.ElementTree as ET

from tests.cli import box
from tests.each import each, named


def words_of(path):
    """Everything that is SVG in a file, parsed."""
    return ET.parse(path).getroot().tag


@each(named([[], ["map"], ["network"]]), "picture")
def test_picture_has_a_default_name_and_is_svg(picture, case):
    result = box.run("draw", case, *picture)
    name = f"box-{(picture or ['map'])[0]}.svg"
    assert (result.exit_code, result.stdout, result.stderr) == (0, "", f"wrote {name}\n")
    assert words_of(name) == "{http://www.w3.org/2000/svg}svg"


def test_folder_gives_its_name_to_the_picture(tmp_path):
    (tmp_path / "shelf").mkdir()
    box.written(tmp_path / "shelf", name="case.toml")
    assert box.run("draw", "shelf").stderr == "wrote shelf-map.svg\n"


def test_each_scenario_has_its_file(case):
    result = box.run("draw", case, "-s", "base", "-s", "hot+fan.left-out")
    assert result.stderr == "wrote box-map-base.svg\nwrote box-map-hot+fan.left-out.svg\n"
    assert os.path.getsize("box-map-hot+fan.left-out.svg") > 1000


def test_a_map_tells_where_air_comes_from_where_that_is_asked_for(case):
    plain, told = (box.run("draw", case, *more, "-o", "-").stdout for more in ([], ["--shares"]))
    assert ["100 % vent.low" in text for text in (plain, told)] == [False, True]
    refused = box.run("draw", case, "margins", "--shares")
    assert (refused.exit_code, "--shares: only for map" in refused.stderr) == (2, True)


@each(named([("a.svg", b"<?xml"), ("a.png", b"\x89PNG"), ("a.PDF", b"%PDF")]), "name head")
def test_suffix_says_the_format(name, head, case, tmp_path):
    assert box.run("draw", case, "-o", name).exit_code == 0
    assert (tmp_path / name).read_bytes().startswith(head)
    if name == "a.svg":
        assert box.run("draw", case, "-o", name).exit_code == 0, "our own file is replaced"


def test_file_of_others_is_kept(case, tmp_path):
    (tmp_path / "a.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    result = box.run("draw", case, "-o", "a.svg")
    assert result.exit_code == 4
    assert "was not written by flownet" in result.stderr
    assert (tmp_path / "a.svg").stat().st_size < 100
    assert box.run("draw", case, "-o", "a.svg", "--force").exit_code == 0


def test_picture_can_go_to_stdout(case):
    result = box.run("draw", case, "-o", "-")
    assert result.stdout_bytes.startswith(b"<?xml")
    assert result.stderr == ""
    assert box.run("draw", case, "-o", "-", "-s", "base", "-s", "hot").exit_code == 2


def test_other_suffixes_are_refused_before_anything_is_solved(case):
    result = box.run("draw", case, "-o", "a.gif")
    assert result.exit_code == 2
    assert result.stderr.startswith("flownet draw: --out: a.gif: pictures are written as .svg")


def test_network_of_a_case_that_cannot_be_solved_is_drawn_all_the_same(case):
    result = box.run("draw", case, "network", "-s", "hopeless")
    assert result.exit_code == 0
    assert (
        "drawn without flows, not solved: box.toml: scenario hopeless: compartment.box"
        in result.stderr
    )
    assert os.path.exists("box-network.svg")


def test_maps_that_can_be_drawn_are_drawn(case):
    result = box.run("draw", case, "-s", "hopeless", "-s", "hot")
    assert result.exit_code == 2
    assert "wrote box-map-hot.svg" in result.stderr
    assert "1 of 2 scenarios not solved: hopeless" in result.stderr


def test_no_picture_replaces_an_input_through_a_link(case, tmp_path):
    before = case.read_bytes()
    (tmp_path / "link.svg").symlink_to(case)
    result = box.run("draw", case, "-o", "link.svg", "--force")
    assert (result.exit_code, case.read_bytes()) == (4, before)
    assert "leads to" in result.stderr


@each(named(["svg", "png", "pdf"]), "form")
def test_control_signs_of_a_title_leak_no_warning(form, tmp_path):
    case = box.written(tmp_path, box.CASE.replace("Test box", r"Test\u001b[1m \nbox\t\u0007"))
    result = box.run("draw", case, "-o", f"a.{form}")
    assert (result.exit_code, result.stderr) == (0, f"wrote a.{form}\n")


def test_letters_that_the_typeface_lacks_are_told_in_one_line(tmp_path):
    case = box.written(tmp_path, box.CASE.replace("Test box", "\u67dc \u673a"))
    result = box.run("draw", case, "-o", "a.png")
    assert result.stderr.splitlines() == [
        "wrote a.png",
        "a.png: letters that the typeface of pictures lacks are drawn as boxes (2)",
    ]


@each(named(["map", "network", "rank"]), "picture")
def test_the_picture_is_told_what_was_set(picture, case):
    of = ["--of", "part.board.temperature"] if picture == "rank" else []
    result = box.run("draw", case, picture, *of, "--set", "part.board.power=60 W", "-o", "a.svg")
    words = [text.text for text in ET.parse("a.svg").iter("{http://www.w3.org/2000/svg}text")]
    assert (result.exit_code, words.count("with part.board.power = 60 W")) == (0, 1)


CHAIN = """
[compartment.c{0}]
[opening.v{0}]
from = "{1}"
to = "c{0}"
area = "80 cm2"
"""


def test_a_picture_too_large_to_read_says_so(tmp_path):
    chain = "".join(CHAIN.format(i, f"c{i - 1}" if i else "outside") for i in range(60))
    case = box.written(tmp_path, 'format = 1\n[outside]\ntemperature = "20 degC"\n' + chain)
    result = box.run("draw", case, "network")
    assert result.exit_code == 0
    assert os.path.exists("box-network.svg")
    assert result.stderr.count("is too large to read") == 1
    assert "too large" not in box.run("draw", case, "network", "-q").stderr
