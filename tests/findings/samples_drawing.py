"""Cases that draw, and do not draw, what is said of outlines and positions; invented data."""

from __future__ import annotations

import dataclasses
from typing import Any

from flownet.enclosure.branches import Duct
from flownet.enclosure.enclosure import Enclosure, Wall
from flownet.enclosure.surroundings import Body, Compartment
from flownet.results.solution import Solution
from tests.findings.build import solved, things
from tests.findings.samples import fires, roof, silent, vented


def drawn(upper: str, *, lower: str = "0 0 800 900 mm", depth: str | None = None,
          **given: Any) -> Solution:  # fmt: skip
    """The cabinet (800 x 1800 x 400 mm) with other outlines."""
    made = things(
        lower=Compartment(name="lower", outline=lower, depth=depth),
        upper=Compartment(name="upper", outline=upper, depth=depth), **given,
    )  # fmt: skip
    return solved(made)


fires("outlines-overlap", lambda: drawn("0 700 800 900 mm"))
fires("outlines-overlap", lambda: drawn("0 898.9 800 900 mm"))
fires("outlines-overlap", lambda: drawn("100 100 200 200 mm"))  # one inside the other
fires("outlines-overlap", lambda: drawn("0 0 800 900 mm", depth="250 mm"))
silent("outlines-overlap", lambda: drawn("0 900 800 900 mm"))
silent("outlines-overlap", lambda: drawn("0 899.1 800 900 mm"))
silent("outlines-overlap", lambda: drawn("0 0 800 900 mm", depth="200 mm"))
silent("outlines-overlap", lambda: drawn("0 0 400 900 mm", lower="400 0 400 1800 mm"))

fires("beyond-enclosure", lambda: drawn("0 900 800 901.1 mm"))
fires("beyond-enclosure", lambda: drawn("-20 900 800 900 mm"))
fires("beyond-enclosure", lambda: solved(things(roof=roof(at="400 18000 mm"))))
fires("beyond-enclosure", lambda: drawn("0 900 800 900 mm", body=Body(
    size="800 x 1800 x 400 mm", view="plan")))  # fmt: skip
silent("beyond-enclosure", lambda: drawn("0 900 800 900.9 mm"))
silent("beyond-enclosure", lambda: drawn("0 900 8000 900 mm", body=Body()))
silent("beyond-enclosure", lambda: solved(things(
    stack=Duct(name="stack", on="fan.roof", length="1 m", diameter="250 mm",
               at="400 2000 mm"))))  # fmt: skip

fires("area-unit-suspect", lambda: vented(area="0.4 mm2", loss=2.5))
fires("area-unit-suspect", lambda: vented(area="1e-9 m2", loss=2.5))
silent("area-unit-suspect", lambda: vented(area="0.6 mm2", loss=2.5))


def panel(thickness: str, **given: Any) -> Solution:
    """The cabinet with a steel wall."""
    wall = {"from_": "lower", "to": "outside", "area": "1 m2", "thickness": thickness, **given}
    return solved(things(skin=Wall(name="skin", **{"material": "steel", **wall})))


fires("wall-thickness-suspect", lambda: panel("10 m"))
silent("wall-thickness-suspect", lambda: panel("2 mm"))


def varied(change: dict[str, Any]) -> Solution:
    """The cabinet with a slower fan as a variant, in a scenario with one change."""
    case = Enclosure.of(
        *things().values(), scenarios={"windy": change}, variants={"slow": {"fan.roof.speed": 0.7}}
    )
    return dataclasses.replace(solved(), case=case.under("windy", "slow"))


fires("variant-overridden", lambda: varied({"fan.roof.speed": 0.9}))
fires("variant-overridden", lambda: varied({"fan.roof.speed": "2000 rpm"}))
silent("variant-overridden", lambda: varied({"fan.roof.speed": "* 0.9"}))
silent("variant-overridden", lambda: varied({"fan.roof.pressure_factor": 0.9}))
