"""Pictures as files: with our mark, the same bytes each time, nobody else's file replaced."""

from __future__ import annotations

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure

from flownet import draw
from flownet.pictures.save import ours, save, write
from tests.pictures import sample

mpl.use("Agg")

FORMATS = ("svg", "png", "pdf")
STARTS = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}


@pytest.fixture(scope="module")
def picture() -> Figure:
    return draw.map(sample.cabinet()).figure


def foreign(path, form):
    """A picture that something else wrote."""
    figure = Figure(figsize=(1, 1))
    figure.text(0.5, 0.5, "flownet")
    figure.savefig(path, format=form)


@pytest.mark.parametrize("form", FORMATS)
def test_a_picture_is_written_with_our_mark_and_may_be_replaced(picture, tmp_path, form):
    path = tmp_path / f"cabinet-map.{form}"
    assert save(picture, path) == path
    first = path.read_bytes()
    assert first.startswith(STARTS[form])
    assert ours(path)
    save(picture.axes[0], path)
    assert path.read_bytes() == first
    assert [file.name for file in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("form", FORMATS)
def test_two_figures_of_one_solution_give_the_same_bytes(tmp_path, form):
    paths = [tmp_path / f"{name}.{form}" for name in "ab"]
    for path in paths:
        save(draw.map(sample.shelf()), path)
    assert paths[0].read_bytes() == paths[1].read_bytes()


def test_an_svg_carries_no_date_and_can_be_searched_for_its_words(picture, tmp_path):
    text = save(picture, tmp_path / "map.svg").read_text()
    assert "<dc:date>" not in text
    assert "controller  55.4 °C" in text


@pytest.mark.parametrize("form", FORMATS)
def test_a_picture_from_elsewhere_stays_unless_forced(picture, tmp_path, form):
    path = tmp_path / f"photo.{form}"
    foreign(path, form)
    before = path.read_bytes()
    with pytest.raises(FileExistsError, match="--force"):
        save(picture, path)
    assert path.read_bytes() == before
    save(picture, path, force=True)
    assert ours(path)


@pytest.mark.parametrize(
    "content",
    [b"", b"flownet 0.1.0", b"<svg>flownet 0.1.0</svg>", b"\x89PNG\r\n\x1a\n", b"%PDF-1.4"],
)
def test_other_files_are_not_taken_for_ours(tmp_path, content):
    path = tmp_path / "notes.svg"
    path.write_bytes(content)
    assert not ours(path)
    with pytest.raises(FileExistsError):
        write(path, b"new")


def test_a_folder_is_not_replaced_even_by_force(tmp_path):
    folder = tmp_path / "map.svg"
    folder.mkdir()
    with pytest.raises(OSError):
        write(folder, b"new", force=True)
    assert folder.is_dir()
    assert list(tmp_path.iterdir()) == [folder]


def test_a_missing_folder_is_an_error_that_leaves_nothing(picture, tmp_path):
    with pytest.raises(OSError):
        save(picture, tmp_path / "nowhere" / "map.svg")
    assert list(tmp_path.iterdir()) == []


def test_a_link_is_written_through(tmp_path):
    target, link = tmp_path / "real.svg", tmp_path / "link.svg"
    link.symlink_to(target)
    write(link, b"new")
    assert link.is_symlink()
    assert target.read_bytes() == b"new"


@pytest.mark.parametrize("name", ["case.toml", "curve.csv"])
def test_no_picture_replaces_an_input_through_a_link(picture, tmp_path, name):
    target, link = tmp_path / name, tmp_path / "link.svg"
    target.write_text("precious")
    link.symlink_to(target)
    for force in (False, True):
        with pytest.raises(FileExistsError):
            save(picture, link, force=force)
    assert target.read_text() == "precious"


@pytest.mark.parametrize("name", ["map", "map.gif", "map.svg.txt"])
def test_other_suffixes_are_refused_with_those_that_exist(picture, tmp_path, name):
    with pytest.raises(ValueError, match=r"\.svg, \.png, \.pdf"):
        save(picture, tmp_path / name)
    assert list(tmp_path.iterdir()) == []
