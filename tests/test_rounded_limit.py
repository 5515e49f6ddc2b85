"""A temperature limit that is missed by what the equations are rounded by: held, everywhere."""

from __future__ import annotations

import pytest

import flownet
from tests.casefile.small import BASE, load
from tests.cli.box import run

PART = '[part.p]\nin = "top"\npower = "60 W"\nresistance = "0.2 K/W"\nlimit = "{limit!r} K"\n'


@pytest.mark.parametrize(("under", "held"), [(9e-4, True), (1.1e-3, False)])
def test_every_study_judges_a_limit_missed_by_rounding_alike(tmp_path, under, held):
    """T = T_air + P R against limits a tenth less and more than a millikelvin below it: of a
    definition."""
    warm = flownet.solve(load(tmp_path, BASE + PART.format(limit=400.0)))["part.p.temperature"]
    case = load(tmp_path, BASE + PART.format(limit=float(warm - under)))
    solution = flownet.solve(case)
    (limit,) = solution.limits
    assert limit.margin == pytest.approx(-under, abs=1e-6)
    assert limit.margin == limit.bound - limit.value
    assert (limit.holds, limit.broken) == (held, not held)
    assert limit.to_dict()["holds"] == held
    assert any(f.rule == "limit-part" for f in solution.findings) != held
    cell = flownet.compare(case).cell("base")
    assert (cell.holds, cell.status) == (held, "tight" if held else "over")
    assert cell.margin == limit.margin
    swept = flownet.sweep(case, {"fan.left.speed": [1.0]})
    assert list(swept["status"]) == ["tight" if held else "over"]
    head = flownet.headroom(case, "part.p.power")
    assert head.today.holds == held
    assert head.value == pytest.approx(60.0, abs=0.02)
    chosen = flownet.choose(case, fan="left")
    assert len(chosen.candidates) == held
    for command in ("solve", "compare"):
        said = run(command, tmp_path / "case.toml", "--strict")
        assert said.exit_code == (0 if held else 1)
        assert ("over" in said.stdout.split("Margins")[0]) != held
