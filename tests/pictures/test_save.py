"""Pictures as files: with our mark, the same bytes each time, nobody else's file replaced."""

from __future__ import annotations

import matplotlib as mpl
import pytest
from matplotlib.figure import Figure

from flownet import draw
from flownet.pictures.save import ours, save
from tests.pictures import sample

mpl.use("Agg")

FORMATS = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}


@pytest.fixture(scope="module")
def picture() -> Figure:
    return draw.map(sample.cabinet()).figure


@pytest.mark.parametrize("form", FORMATS)
def test_a_picture_is_written_with_our_mark_and_only_ours_may_be_replaced(picture, tmp_path, form):
    path, photo = tmp_path / f"cabinet-map.{form}", tmp_path / f"photo.{form}"
    assert save(picture, path) == path
    first = path.read_bytes()
    assert first.startswith(FORMATS[form])
    assert ours(path)
    save(draw.map(sample.cabinet()), path)  # another figure of one solution: the same bytes
    assert path.read_bytes() == first
    assert [file.name for file in tmp_path.iterdir()] == [path.name]
    foreign = Figure(figsize=(1, 1))
    foreign.text(0.5, 0.5, "flownet")
    foreign.savefig(photo, format=form)
    before = photo.read_bytes()
    with pytest.raises(FileExistsError, match="--force"):
        save(picture, photo)
    assert photo.read_bytes() == before
    save(picture, photo, force=True)
    assert ours(photo)


def test_an_svg_carries_no_date_and_can_be_searched_for_its_words(picture, tmp_path):
    text = save(picture, tmp_path / "map.svg").read_text()
    assert "<dc:date>" not in text
    assert "controller  55.4 °C" in text
    bare = save(Figure(figsize=(1, 1)), tmp_path / "bare.svg").read_text()
    assert "<title" not in bare  # of a case without one


def test_other_files_are_not_taken_for_ours(picture, tmp_path):
    path = tmp_path / "notes.svg"
    for content in (b"", b"flownet 0.1.0", b"<svg>flownet 0.1.0</svg>", b"\x89PNG\r\n\x1a\n",
                    b"%PDF-1.4"):  # fmt: skip
        path.write_bytes(content)
        assert not ours(path)
        with pytest.raises(FileExistsError):
            save(picture, path)


def test_no_folder_is_replaced_and_none_is_made(picture, tmp_path):
    folder = tmp_path / "map.svg"
    folder.mkdir()
    with pytest.raises(OSError):
        save(picture, folder, force=True)
    with pytest.raises(OSError):
        save(picture, tmp_path / "nowhere" / "map.svg")
    assert list(tmp_path.iterdir()) == [folder]


def test_a_link_is_written_through_but_never_to_an_input(picture, tmp_path):
    for target in (tmp_path / name for name in ("real.svg", "case.toml", "curve.csv")):
        link = tmp_path / f"{target.name}.svg"
        link.symlink_to(target)
        if target.suffix == ".svg":
            save(picture, link)
            assert link.is_symlink()
            assert ours(target)
            continue
        target.write_text("precious")
        for force in (False, True):
            with pytest.raises(FileExistsError):
                save(picture, link, force=force)
        assert target.read_text() == "precious"


@pytest.mark.parametrize("name", ["map", "map.gif", "map.svg.txt"])
def test_other_suffixes_are_refused_with_those_that_exist(picture, tmp_path, name):
    with pytest.raises(ValueError, match=r"\.svg, \.png, \.pdf"):
        save(picture, tmp_path / name)
    assert list(tmp_path.iterdir()) == []
