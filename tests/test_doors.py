"""A wrong type is refused where it comes in, in the words of the caller."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import flownet
from tests.each import each, named

CASES = Path(__file__).parents[1] / "cases"
Door = Callable[[Any], Any]


@pytest.fixture(scope="module")
def case() -> flownet.Enclosure:
    return flownet.load_case(CASES / "drive-cabinet")


WANT_CASE: dict[str, Door] = {
    "solve": flownet.solve,
    "solve_many": lambda wrong: flownet.solve_many(wrong, {}),
    "operating_points": flownet.operating_points,
    "rank": lambda wrong: flownet.rank(wrong, "total.heat"),
    "compare": flownet.compare,
    "outages": flownet.outages,
    "choose": flownet.choose,
    "suggest": flownet.suggest,
    "choose_options": flownet.choose_options,
    "uncertainty": lambda wrong: flownet.uncertainty(wrong, seed=1),
    "size_case": flownet.size_case,
    "commission": flownet.commission,
    "check_readings": lambda wrong: flownet.check_readings(wrong, "readings.csv"),
    "calibrate": lambda wrong: flownet.calibrate(wrong, "readings.csv", free="outside.temperature"),
    "transient": lambda wrong: flownet.transient(wrong, until=60.0),
    "save_case": lambda wrong: flownet.save_case(wrong, "case.toml"),
}
WANT_SOLUTION: dict[str, Door] = {
    "fan_curves": flownet.fan_curves,
    "combined": flownet.combined,
    "find": flownet.find,
    "noise_budget": flownet.noise_budget,
}


@each(named(WANT_CASE))
def test_what_takes_a_case_says_so(name: str) -> None:
    with pytest.raises(TypeError) as found:
        WANT_CASE[name]("case.toml")
    assert str(found.value).startswith(f'{name}: takes an Enclosure (got "case.toml"); read it')
    with pytest.raises(TypeError, match=rf"^{name}: takes an Enclosure \(got None\); "):
        WANT_CASE[name](None)


@each(named(WANT_SOLUTION), "name")
def test_what_takes_a_solution_says_so(name: str, case: flownet.Enclosure) -> None:
    with pytest.raises(TypeError, match=rf"^{name}: takes a Solution \(got .*\); solve\(case\)"):
        WANT_SOLUTION[name](case)


NAMES = 'a list of names is wanted (got "base"); write ["base"]'
PATH = 'a path is wanted, such as "part.rectifier.temperature" (got {})'
FAN = 'a fan is wanted by its name, such as "left" (got 3)'
CHANGES = (
    'changes: a mapping of input paths to values is wanted, such as {{"fan.left.speed": 0.8}} '
    "(got {})"
)
WRONG: dict[str, tuple[Door, str]] = {
    "scenario": (lambda c: flownet.solve(c, scenario=3),  # type: ignore[arg-type]
                 'scenario: a name is wanted, several as "a+b" (got 3)'),
    "changes": (lambda c: flownet.solve(c, changes=3),  # type: ignore[arg-type]
                CHANGES.format("3")),
    "changes of a case": (lambda c: c.with_changes(None), CHANGES.format("None")),
    "result": (lambda c: flownet.rank(c, 5), "rank: of: " + PATH.format(5)),  # type: ignore[arg-type]
    "variants": (lambda c: flownet.compare(c, variants="base"), "variants: " + NAMES),
    "numbers": (lambda c: flownet.compare(c, variants=[3]),  # type: ignore[list-item]
                'variants: a list of names is wanted, such as ["base"] (got [3])'),
    "choice name": (lambda c: flownet.choose_options(c, 3),  # type: ignore[arg-type]
                    "name: the name of a choice of the case is wanted (got 3)"),
    "best": (lambda c: flownet.choose(c, "left", best=3),  # type: ignore[call-overload]
             'best: a list of names is wanted, such as ["base"] (got 3)'),
    "fan": (lambda c: flownet.choose(c, 3), "fan: " + FAN),  # type: ignore[call-overload]
    "input": (lambda c: c[0], 'Enclosure[...]: a path is wanted, such as "fan.left.speed" (got 0)'),
    "inputs": (lambda c: c.keys(3),
               'Enclosure.keys: a path is wanted, such as "fan.*.speed" (got 3)'),
    "solution": (lambda c: flownet.solve(c)[0],  # type: ignore[index]
                 "Solution[...]: " + PATH.format(0)),
    "sweep": (lambda _: flownet.sweep(3, {}),  # type: ignore[arg-type]
              "sweep: takes an Enclosure (got 3); read it with load_case, "
              "or make it with Enclosure.of"),
    "headroom": (lambda c: flownet.headroom(c, 3),  # type: ignore[arg-type]
                 'headroom: key: a path is wanted, such as "outside.temperature" (got 3)'),
    "executor": (lambda c: flownet.solve_many(c, {}, executor=3),  # type: ignore[arg-type]
                 "executor: an executor is wanted, such as "
                 "concurrent.futures.ProcessPoolExecutor(2) (got 3)"),
    "progress": (lambda c: flownet.solve_many(c, {}, progress=3),  # type: ignore[arg-type]
                 "progress: a function of two numbers is wanted: pairs done, of how many (got 3)"),
    "kept": (lambda c: flownet.sweep(c, {"fan.*.speed": [1.0]}, keep="total.noise"),
             'sweep: keep: a list of names is wanted (got "total.noise"); '
             'write ["total.noise"]'),
    "file": (lambda _: flownet.load_case(3),  # type: ignore[arg-type]
             'load_case: the path of a file is wanted, such as "case.toml" (got 3)'),
    "catalogue": (lambda _: flownet.load_fan_types(3),  # type: ignore[arg-type]
                  'load_fan_types: the path of a file is wanted, such as "case.toml" (got 3)'),
}  # fmt: skip


@each(named(WRONG), "name")
def test_a_wrong_type_is_told_in_full(name: str, case: flownet.Enclosure) -> None:
    call, words = WRONG[name]
    with pytest.raises(TypeError) as found:
        call(case)
    assert str(found.value) == words


def test_one_variant_of_a_batch_is_selected(case: flownet.Enclosure) -> None:
    batch = flownet.solve_many(case, {"outside.temperature": [300.0, 310.0]})
    with pytest.raises(TypeError, match=r"\(got 0\); one variant is batch.select\(i\)$"):
        batch[0]  # type: ignore[index]
    with pytest.raises(TypeError, match=r"^select: a whole number from 0 to 1 .* \(got \"a\"\)$"):
        batch.select("a")  # type: ignore[arg-type]
    with pytest.raises(IndexError, match=r"^select: a whole number from 0 to 1 .* \(got 2\)$"):
        batch.select(2)
    assert batch.select(1).case["outside.temperature"] == 310.0


def test_what_has_the_right_type_but_no_sense_stays_a_fault_of_the_case(
    case: flownet.Enclosure,
) -> None:
    with pytest.raises(flownet.CaseError, match=r'^a: no kind "a"'):
        case.with_changes({"a": ...})
    with pytest.raises(flownet.CaseError, match=r"^step: a share above 0, at most 1, is wanted"):
        flownet.rank(case, "total.heat", step="much")  # type: ignore[arg-type]


@each(named([
        (np.array([300 + 0j, 301]), "real numbers are wanted (got array([300.+0.j, 301.+0.j]))"),
        ([300.0, 301 + 1j], "real numbers are wanted (got [300.0, (301+1j)])"),
        (300 + 1j, "real numbers are wanted (got (300+1j))"),
        (np.ma.array([300.0, 1e6], mask=[0, 1]),
         "a value for every variant is wanted (got a masked array); leave out the variants "
         "without one, or fill them"),
    ]), "value words")  # fmt: skip
def test_what_stands_for_no_number_is_not_solved(
    case: flownet.Enclosure, value: Any, words: str
) -> None:
    with pytest.raises(flownet.CaseError) as found:
        flownet.solve_many(case, {"outside.temperature": value})
    assert str(found.value) == f"outside.temperature: {words}"
