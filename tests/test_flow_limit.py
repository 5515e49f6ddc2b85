"""The least flow that must be drawn in: one limit, which everything that judges reads."""

from __future__ import annotations

import pytest

import flownet
from tests.casefile.small import BASE, load

SLOW = "[limits]\nflow = {flow}\n[scenario.slow]\nfan.left.speed = 0.5\n"


@pytest.fixture
def made(tmp_path):
    """A case whose limit is a share of what is drawn in at full speed, and that flow."""

    def at(share):
        drawn = flownet.solve(load(tmp_path, BASE)).totals.volume_flow
        return load(tmp_path, BASE + SLOW.format(flow=f'"{share * drawn!r} m3/s"')), drawn

    return at


@pytest.mark.parametrize("share", [0.6, 1.1])
def test_solve_compare_and_sweep_hold_a_flow_against_its_limit(made, share):
    """Fan laws (ISO 5801): without heat and with square laws alone, flow goes with speed."""
    case, drawn = made(share)
    for scenario, speed in (("base", 1.0), ("slow", 0.5)):
        (held,) = flownet.solve(case, scenario=scenario).limits
        assert (held.limit, held.subject) == ("flow", "total.volume_flow")
        assert held.margin == pytest.approx((speed - share) * drawn, abs=1e-5 * drawn)
        cell = flownet.compare(case).cell(scenario)
        assert (cell.subject, cell.holds) == ("total.volume_flow", speed > share)
        assert cell.word == ("ok" if speed > share else "short")
    swept = flownet.sweep(case, {"fan.left.speed": [0.5, 1.0]})
    assert list(swept["status"]) == ["over", "ok" if share < 1 else "over"]
    assert swept.margin(swept.row(0)).endswith("m3/h")
    found = flownet.solve(case, scenario="slow").findings
    assert [f.subject for f in found if f.rule == "limit-flow"] == ["total.volume_flow"]


def test_headroom_samples_and_choices_end_where_the_flow_is_short(made):
    """The same fan laws: the speed at which the limit is just kept is its share of the flow."""
    case, drawn = made(0.8)
    found = flownet.headroom(case, "fan.left.speed")
    assert found.value == pytest.approx(0.8, rel=1e-4)
    assert found.limit.value == pytest.approx(0.8 * drawn, rel=1e-4)
    shaken = flownet.uncertainty(case, samples=20, seed=1)
    assert [item.subject for item in shaken.limits] == ["total.volume_flow"]
    assert "above" in shaken.verdicts()[0]
    for share, accepted in ((0.8, ["plain"]), (1.1, [])):
        chosen = flownet.choose(made(share)[0], fan="left", scenarios=["base"])
        assert [item.type for item in chosen.candidates] == accepted
        reasons = [reason.kind for item in chosen.excluded for reason in item.reasons]
        assert reasons == ([] if accepted else ["flow"])
