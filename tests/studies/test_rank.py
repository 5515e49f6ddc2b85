"""Derivatives against differences of whole solves, and what the ranking says."""

from __future__ import annotations

import json

import numpy as np
import pytest

import flownet
from flownet.errors import CaseError
from flownet.quantities import TEMPERATURE
from flownet.studies.rank import rank
from tests.test_cases import DEMOS, load

RESULTS = {
    "drive-cabinet": "part.controller.temperature", "telecom-shelf": "part.optics.temperature",
    "bench-supply": "part.q1.temperature", "outdoor-cabinet": "total.volume_flow",
}  # fmt: skip
KINKED = 0.2  # largest share of inputs that may be left out: a curve point or a table point is near


def differenced(case, path, value, of, size):
    """Central difference with Richardson's step to fourth order, and its own uncertainty."""
    def central(h):
        pair = [flownet.solve(case, changes={path: value + s * h})[of] for s in (1, -1)]
        return (pair[0] - pair[1]) / (2 * h)

    wide, narrow = central(size), central(size / 2)
    return (4 * narrow - wide) / 3, abs(narrow - wide)


@pytest.mark.parametrize("demo", DEMOS)
def test_derivatives_are_those_of_whole_solves(demo):
    """Against central differences with Richardson's step, for a seeded choice of inputs. Where the
    two differences disagree a kink is near (a point of a curve or table): left out and counted."""
    case, of = load(demo), RESULTS[demo]
    ranking = rank(case, of)
    rng, kinks, checked = np.random.default_rng(4), 0, 0
    free = [e for e in ranking.effects if not e.path.endswith(".count")]  # 1 is the least count
    for k in rng.choice(len(free), 12, replace=False):
        effect = free[int(k)]
        size = 0.05 if effect.quantity is TEMPERATURE else 2e-3 * abs(effect.value)
        slope, doubt = differenced(case, effect.path, effect.value, of, size)
        scale = abs(slope) + 1e-7 * abs(ranking.value) / size
        if doubt > 1e-3 * scale:
            kinks += 1
            continue
        checked += 1
        assert effect.derivative == pytest.approx(slope, abs=2e-5 * scale), effect.path
    assert kinks <= KINKED * 12
    assert checked >= 9


def test_power_is_what_a_part_without_resistance_feels_in_closed_form():
    """T = T0 + P/(m cp) at a given flow: dT/dP of a sealed box on its wall is 1/(UA) (derived)."""
    from flownet.enclosure.whole import Compartment, Enclosure, Outside, Part, Wall  # noqa: PLC0415

    case = Enclosure.of(
        Outside(temperature=298.15), Compartment(name="box"),
        Part(name="p", in_="box", power=110.0),
        Wall(name="w", from_="box", to="outside", area=2.0, u_value=5.5),
    )  # fmt: skip
    effects = {e.path: e for e in rank(case, "compartment.box.temperature").effects}
    assert effects["part.p.power"].derivative == pytest.approx(1 / 11.0, rel=1e-12)
    assert effects["wall.w.area"].derivative == pytest.approx(-10.0 / 2.0, rel=1e-12)
    assert effects["outside.temperature"].derivative == pytest.approx(1.0, rel=1e-12)


def test_the_ranking_says_it_in_words_and_json():
    ranking = rank(load("drive-cabinet"), "part.controller.temperature", scenario="hot")
    sizes = [abs(e.change) for e in ranking.effects]
    assert sizes == sorted(sizes, reverse=True)
    ambient = next(e for e in ranking.effects if e.path == "outside.temperature")
    assert ranking.words(ambient).startswith("+1.0 K on outside.temperature: +1.0 K")
    good = next(e for e in ranking.effects if e.path == "part.rectifier.efficiency")
    assert ranking.words(good).startswith("+3.09 % on part.rectifier.efficiency: -")  # to 1
    found = json.loads(json.dumps(ranking.to_dict(), allow_nan=False))
    assert found["effects"][0]["change_K"] == pytest.approx(ranking.effects[0].change)


def test_an_unknown_result_is_named():
    with pytest.raises(CaseError, match="did you mean"):
        rank(load("drive-cabinet"), "part.controler.temperature")
    with pytest.raises(CaseError, match="region"):
        rank(load("drive-cabinet"), "fan.left.region")
