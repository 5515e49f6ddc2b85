"""What is pickled on its way to another process comes back as what it was: the same bytes."""

from __future__ import annotations

import ast
import pickle
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

import flownet
from flownet.pages import json
from flownet.schema import quantities as q
from flownet.studies import sweep as sweeps
from tests.test_cases import load

PACKAGE = Path(__file__).parents[1] / "flownet"
SPEED = "fan.*.speed"
VARY = {SPEED: "0.6 to 1.4 in 9", "outside.temperature": "20 to 60 degC in 5"}


class Copying(Executor):
    """Everything that goes in and comes out is pickled, as on the way to a process and back."""

    def submit(self, function, /, *args, **rest):
        function, args, rest = pickle.loads(pickle.dumps((function, args, rest)))
        done: Future = Future()
        done.set_result(pickle.loads(pickle.dumps(function(*args, **rest))))
        return done


STUDIES = {
    "solve_many": lambda case, pool: flownet.solve_many(
        case, {SPEED: [0.6, 1.0, 1.4]}, executor=pool).select(2),
    "compare": lambda case, pool: flownet.compare(case, executor=pool),
    "outages": lambda case, pool: flownet.outages(
        case, scenarios=["hot+each-fan-out"], executor=pool),
    "sweep": lambda case, pool: flownet.sweep(case, VARY, executor=pool),
    "headroom": lambda case, pool: flownet.headroom(case, SPEED, executor=pool),
    "fan life": lambda case, pool: flownet.headroom(
        case, "limits.fan_life_hours", executor=pool),
    "uncertainty": lambda case, pool: flownet.uncertainty(case, samples=40, seed=1, executor=pool),
    "choose": lambda case, pool: flownet.choose(
        case, "rear", best="noise", executor=pool),
    "options": lambda case, pool: flownet.choose(case, executor=pool),
    "suggest": lambda case, pool: flownet.suggest(
        case, deep=1, scenarios=["hot"], keep=["fan.*", "opening.*", "part.*"], executor=pool),
}  # fmt: skip


@pytest.fixture(scope="module", name="case")
def loaded():
    """Temperatures, noise and life all decide somewhere."""
    return load("bench-supply").with_changes({"limits.fan_life_hours": 55000})


@pytest.mark.parametrize("name", STUDIES)
def test_every_study_says_the_same_after_pickling(case, name):
    alone = STUDIES[name](case, None)
    wanted = json.text(alone.to_dict())
    assert json.text(STUDIES[name](case, Copying()).to_dict()) == wanted
    assert json.text(pickle.loads(pickle.dumps(alone)).to_dict()) == wanted


@pytest.fixture(scope="module", name="spawned")
def of_its_own():
    """A process that shares nothing with this one, not even the seed of hashes."""
    with ProcessPoolExecutor(1, get_context("spawn")) as pool:
        yield pool


@pytest.mark.parametrize("suffix", [".csv", ".json", ".parquet", ".nc"])
def test_every_format_of_a_sweep_has_the_same_bytes(case, tmp_path, monkeypatch, spawned, suffix):
    one = tmp_path / f"one{suffix}"
    flownet.sweep(case, VARY, out=one)
    assert b"dB" in one.read_bytes() or suffix == ".nc"
    for ahead, pool in ((sweeps.AHEAD, Copying()), (1, Copying()), (1, spawned)):
        monkeypatch.setattr(sweeps, "AHEAD", ahead)  # parts of a block, and whole blocks
        other = tmp_path / f"other{suffix}"
        flownet.sweep(case, VARY, out=other, executor=pool)
        assert other.read_bytes() == one.read_bytes()


def test_units_of_margins_are_those_of_their_limit(case):
    found = flownet.sweep(case, VARY, executor=Copying())
    units = dict(zip(found["limit"], found["margin_unit"], strict=True))
    assert units.items() >= {"part": "K", "noise": "dB", "life": "h"}.items()


def test_no_quantity_is_compared_by_identity():
    """A copy of a quantity is that quantity."""
    known = {name for name in vars(q) if isinstance(getattr(q, name), q.Quantity)}
    assert all(pickle.loads(pickle.dumps(each)) == each for each in q.QUANTITIES.values())
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Compare) and any(isinstance(o, ast.Is | ast.IsNot)
                                                     for o in node.ops):  # fmt: skip
                sides = [ast.unparse(side) for side in (node.left, *node.comparators)]
                words = {side.rpartition(".")[2] for side in sides}
                assert not words & known, f"{path.name}:{node.lineno}"


def test_a_case_that_was_pickled_is_that_case(case):
    again = pickle.loads(pickle.dumps(case))
    assert again == case
    assert (again.digest, hash(again)) == (case.digest, hash(case))
