"""Titles, values and surroundings nobody would write: told in words, or written harmlessly."""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys

import netCDF4
import pyarrow.parquet as pq
import pytest

from flownet.schema.shown import sheet_cell, sheet_line
from tests.cli import box
from tests.each import each, named

VARY = ("--vary", "fan.*.speed=0.5 to 1.0 in 2")
TITLE = "a\\rb\\u001b[31m\\u0007c,=1+1"
FORMULA = "=+-@"


@pytest.fixture(name="odd")
def with_an_odd_title(tmp_path):
    return box.written(tmp_path, box.SOUND.replace("Test box", TITLE).replace("board", "-board"))


@each(named([".csv", ".json", ".parquet", ".nc"]), "suffix")
def test_a_title_with_control_signs_goes_into_every_format(odd, tmp_path, suffix):
    out = tmp_path / f"out{suffix}"
    assert box.run("sweep", odd, *VARY, "-o", out, "-q").exit_code == 0
    if suffix == ".csv":
        text = out.read_bytes().decode()
        assert not {"\r", "\x1b", "\x07"} & set(text)
        cells = next(csv.reader(text.splitlines()))
        assert not any(cell.startswith(tuple(FORMULA)) for cell in cells)
        assert "=1+1" in text
        return
    read = {
        ".json": lambda: json.loads(out.read_text())["case"],
        ".parquet": lambda: json.loads(pq.read_schema(out).metadata[b"flownet"])["case"],
        ".nc": lambda: json.loads(netCDF4.Dataset(out).flownet)["case"],
    }[suffix]()
    assert read == "a\rb\x1b[31m\x07c,=1+1"


def test_names_are_no_formulas_in_tables_and_stay_themselves_elsewhere(odd, tmp_path):
    """A name may begin with `-`; a margin of -3.2 is a number and stays one."""
    tables = tmp_path / "a.csv", tmp_path / "b.csv", tmp_path / "c.json"
    hot = ("--set", "part.-board.power=300 W")
    wide = odd.with_name("wide.toml")
    wide.write_text(odd.read_text().replace("[compartment.box]", "[compartment.-box]")
                    .replace('"box"', '"-box"'))  # fmt: skip
    assert box.run("sweep", wide, *VARY, *hot, "-o", tables[0], "-q").exit_code == 0
    assert box.run("compare", wide, *hot, "-o", tables[1], "-q").exit_code == 0
    assert box.run("sweep", wide, *VARY, *hot, "-o", tables[2], "-q").exit_code == 0
    negative = 0
    for path in tables[:2]:
        for row in csv.reader(path.read_text().splitlines()[2:]):
            for cell in row:
                assert not cell.startswith(("=", "+", "@"))
                if cell.startswith("-"):
                    negative += float(cell) < 0
    assert negative
    assert "'-box" in tables[0].read_text()
    assert {row["hottest_air_in"] for row in json.loads(tables[2].read_text())["rows"]} == {"-box"}


@each(named([("-3.2", "-3.2"), ("+1e3", "+1e3"), ("=1+1", "'=1+1"), ("-M3", "'-M3"), ("@a", "'@a"),
     ("+5 K", "'+5 K"), (" =1", "' =1"), ("\t=1", "' =1"), ("nan", "nan"), ("-inf", "'-inf"),
     ("a=1", "a=1"), ("", "")]))  # fmt: skip
def test_a_cell_that_would_run_is_text_and_a_number_stays_one(text, cell):
    assert sheet_cell(text) == cell


@pytest.mark.parametrize("sign", FORMULA)
@pytest.mark.parametrize("before", [",", ";", ', "', ',"', ";'"])
def test_no_cell_of_a_line_of_words_would_run(sign, before):
    line = sheet_line(f"# a{before}{sign}1")
    for cells in (next(csv.reader([line])), next(csv.reader([line], delimiter=";"))):
        assert not any(cell.startswith(sign) for cell in cells)


@pytest.mark.parametrize("option", ["--set", "--vary"])
@pytest.mark.parametrize(
    ("value", "said"), [("1" * 100_000, "too many digits"), ("[" * 10_000, "nested too deep"),
                        ("[" * 10_000 + "]" * 10_000, "nested too deep")],
)  # fmt: skip
def test_values_beyond_all_sense_are_told_in_words(tmp_path, option, value, said):
    command = "solve" if option == "--set" else "sweep"
    result = box.run(command, box.written(tmp_path), option, f"part.board.power={value}")
    assert result.exit_code == 2
    assert said in result.stderr
    assert len(result.stderr) < 300


def test_a_window_that_is_not_there_is_not_missed(tmp_path):
    """matplotlib reads MPLBACKEND when it is loaded, so a process of its own draws."""
    out = tmp_path / "map.svg"
    done = subprocess.run(
        [sys.executable, "-m", "flownet", "draw", box.written(tmp_path, box.SOUND), "-o", out],
        env={**os.environ, "MPLBACKEND": "nope"}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, out.is_file()) == (0, True), done.stderr
