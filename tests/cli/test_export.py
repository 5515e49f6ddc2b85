"""`flownet export`: files, what it replaces, several scenarios, what is not solved or not there."""

from __future__ import annotations

import importlib
import json

import networkx as nx
import pytest

from tests.cli import box


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    box.written(tmp_path, box.CASE)


def run(*words):
    return box.run("export", "box.toml", *words)


def test_each_subject_has_a_usual_file(tmp_path):
    for subject, made in (("cfd", "box-cfd/boundaries.csv"), ("results", "box-results/matrix.csv"),
                          ("network", "box-network.graphml")):  # fmt: skip
        for _ in range(2):  # ours are replaced
            found = run(subject)
            assert (found.exit_code, found.stdout) == (0, ""), subject
            assert found.stderr.startswith(f"wrote box-{subject}")
            assert "from before" not in found.stderr
        assert "written by flownet" in (tmp_path / made).read_text()
    assert nx.read_graphml(tmp_path / "box-network.graphml").number_of_nodes() == 2


@pytest.mark.parametrize("name", ["a.xlsx", "a.json", "a.csv", "a.parquet"])
def test_only_files_of_ours_are_replaced(tmp_path, name):
    mine = tmp_path / name
    if name in ("a.csv", "a.parquet"):
        (tmp_path / "a").mkdir()
        mine = tmp_path / "a" / f"margins{name[1:]}"
    mine.write_bytes(b"mine")
    assert run("results", "-o", name).exit_code == 4
    assert mine.read_bytes() == b"mine"
    if name != "a.csv":  # which curves are named like: nobody else keeps them
        assert run("results", "-o", name, "--force").exit_code == 0
    mine.unlink(missing_ok=True)
    for _ in range(2):
        assert run("results", "-o", name).exit_code == 0


def test_what_else_lies_in_the_folder_is_told_and_stays(tmp_path):
    (tmp_path / "box-cfd").mkdir()
    (tmp_path / "box-cfd" / "mesh.txt").write_text("mine")
    assert "holds from before: mesh.txt" in run("cfd").stderr
    assert (tmp_path / "box-cfd" / "mesh.txt").read_text() == "mine"


def test_several_scenarios_stand_in_one_column_and_one_that_fails_keeps_its_place(tmp_path):
    found = run("cfd", "-s", "base", "-s", "hot", "-s", "hopeless", "-o", "-")
    told = json.loads(found.stdout)
    assert found.exit_code in (2, 3)
    assert [row["scenario"] for row in told["scenarios"]] == [None, "hot", "hopeless"]
    assert told["scenarios"][2]["verdict"].startswith("not solved: ")
    assert [row["scenario"] for row in told["boundaries"]] == [None] * 3 + ["hot"] * 3
    warm = [row["temperature_degC"] for row in told["boundaries"] if row["role"] == "inlet"]
    assert warm == pytest.approx([40, 50])


def test_a_network_that_is_not_solved_is_written_without_results(tmp_path):
    found = run("network", "-s", "hopeless", "-o", "-")
    assert found.exit_code == 0
    assert "without results, not solved: " in found.stderr
    assert {row["mass_flow_kg_s"] for row in json.loads(found.stdout)["edges"]} == {None}
    assert [row["place"] for row in json.loads(found.stdout)["nodes"]] == ["box", "outside"]


def test_wrong_use_is_told(tmp_path):
    (tmp_path / "box-cfd").write_text("a file")
    (tmp_path / "b.json").mkdir()
    for words, code, told in (
        (("mesh",), 2, "mesh"), (("cfd", "-o", "a.svg"), 2, ".xlsx"), (("cfd",), 4, "file exists"),
        (("cfd", "-o", "a.graphml"), 2, ".csv"), (("cfd", "-o", "no/a.csv"), 4, "no such file"),
        (("network", "-s", "hot", "-s", "base"), 2, "one scenario"),
        (("cfd", "-o", "no/a.xlsx"), 4, "no such file"),
        (("cfd", "-o", "b.json"), 4, "is a directory"),
    ):  # fmt: skip
        found = run(*words)
        assert (found.exit_code, told in found.stderr) == (code, True), found.stderr


def test_a_missing_library_is_told_with_what_to_install(monkeypatch):
    real = importlib.import_module

    def without(name, *rest):
        if name == "openpyxl":
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.setattr("flownet.studies.sweep_files.importlib.import_module", without)
    found = run("results", "-o", "a.xlsx")
    assert found.exit_code == 2
    assert "needs openpyxl" in found.stderr
    assert "flownet-enclosure[frames]" in found.stderr


def test_a_void_state_is_said_beside_the_files():
    found = run("cfd", "--set", 'fan.right.mounted="reversed"', "--strict")
    assert "its numbers are void (opposed" in found.stderr
    assert found.exit_code == 1
