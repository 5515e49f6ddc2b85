"""Long stacks, long chains of `like`, many scenarios: ten times as many are ten times the work."""

from __future__ import annotations

import itertools
import sys

import pytest

import flownet
from flownet.schema.errors import CaseError
from flownet.studies.runs import Run, refused_runs
from tests.cli import box

BOARD = '[part.p0]\nin = "box"\npower = "0.01 W"\nresistance = "0.1 K/W"\nlimit = "80 degC"\n'


def stack(count):
    """Parts on parts, `p1` on `p0` and so on."""
    table = '[part.p{0}]\nin = "part.p{1}"\npower = "0.01 W"\nresistance = "0.001 K/W"\n'
    return BOARD + "".join(table.format(i, i - 1) for i in range(1, count))


def chain(count):
    return BOARD + "".join(f'[part.p{i}]\nlike = "p{i - 1}"\n' for i in range(1, count))


def scenarios(count):
    table = '[scenario.s{0}]\noutside.temperature = "{1} degC"\n'
    return "".join(table.format(i, 20 + i * 1e-3) for i in range(count))


def scenario_chain(count):
    """Each scenario is like the one before it, and warmer."""
    table = '[scenario.s{0}]\nlike = "s{1}"\noutside.temperature = "{2} degC"\n'
    first = '[scenario.s0]\noutside.temperature = "20 degC"\n'
    return first + "".join(table.format(i, i - 1, 20 + i * 1e-3) for i in range(1, count))


def test_parts_in_a_stack_deeper_than_the_recursion_limit(tmp_path):
    """Closed form: through part i of n goes the heat of all from i on, so that its temperature
    above the air is 0.1 n q + 0.001 q sum over j = 1..i of (n - j)."""
    count, heat = 1500, 0.01
    case = flownet.load_case(box.written(tmp_path, box.SOUND + stack(count)))
    found = flownet.solve(case)
    air = found["compartment.box.temperature"]
    for i in (0, 1, 700, count - 1):
        rise = heat * (0.1 * count + 0.001 * sum(count - j for j in range(1, i + 1)))
        assert found[f"part.p{i}.temperature"] - air == pytest.approx(rise, rel=1e-9)


def test_a_circle_of_parts_is_told_once_however_it_is_entered(tmp_path):
    text = box.SOUND + stack(4) + '[part.z]\nin = "part.y"\n[part.y]\nin = "part.x"\n'
    text += '[part.x]\nin = "part.z"\n[part.a]\nin = "part.y"\n'
    with pytest.raises(CaseError) as told:
        flownet.load_case(box.written(tmp_path, text))
    circles = [fault for fault in told.value.faults if "a circle" in fault]
    assert len(circles) == 1
    assert circles[0].endswith("part.x.in: a circle: x -> z -> y -> x")


@pytest.mark.parametrize("make", [stack, chain, scenarios, scenario_chain])
def test_what_is_ten_times_as_much_is_about_ten_times_the_work(tmp_path, make):
    """Counted in calls of functions, of Python and of C: of squares there are a hundred times."""

    def calls(count):
        path = box.written(tmp_path, box.SOUND + make(count))
        counted = itertools.count()
        sys.setprofile(lambda *_: next(counted) and None)
        try:
            case = flownet.load_case(path)
            refused = refused_runs(case, [Run(name) for name in ("base", *case.scenarios)])
        finally:
            sys.setprofile(None)
        assert not any(refused)
        return next(counted)

    calls(4)  # with what is loaded and remembered at first
    few, some, many = map(calls, (4, 40, 400))
    assert 0 < many - some < 11 * (some - few)


def test_all_pairs_are_refused_for_the_reason_that_each_has_alone(tmp_path):
    """In one batch as one by one: what a solve of that pair alone raises."""
    case = flownet.load_case(box.written(tmp_path))
    setups = [Run(s, v) for v in ("base", *case.variants) for s in ("base", *case.scenarios)]
    for setup, refused in zip(setups, refused_runs(case, setups), strict=True):
        if not refused:
            flownet.solve(case, scenario=setup.scenario, variant=setup.variant)
            continue
        with pytest.raises(CaseError) as told:
            flownet.solve(case, scenario=setup.scenario, variant=setup.variant)
        pairs = zip(told.value.faults, refused, strict=True)  # the solve names the file, the run
        assert all(alone.endswith(why) for alone, why in pairs)
