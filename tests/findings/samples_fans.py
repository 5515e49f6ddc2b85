"""Samples of the rules that hold fans against their data sheets. Invented data throughout."""

from __future__ import annotations

from typing import Any

from flownet.enclosure.surroundings import Body
from flownet.results.solution import Solution
from tests.findings.build import HUMP, axial, solved, things
from tests.findings.samples import fires, roof, silent

LIFE = {"hours": 50000, "at": "40 degC"}


def one(row: dict[str, Any], fan: dict[str, Any] | None = None, **more: Any) -> Solution:
    """The roof fan, of a type with these keys, placed so."""
    made = things(type=axial(**row), roof=roof(at="400 1800 mm", **(fan or {})))
    return solved(made, **more)


def two(kind: str) -> Solution:
    """Two fans, the life figure of the second of this kind."""
    other = axial("other", life={**LIFE, "kind": kind})
    made = things(other=other, second=roof(name="second", type="other"))
    flows = {"filter.intake": 0.06, "baffle.shelf": 0.06, "fan.roof": 0.03, "fan.second": 0.03}
    return solved(made, flows=flows, fans={"fan.second": {"life_kind": kind}})


UP, SIDE = {"direction": "up"}, {"direction": "right"}
SLEEVE = {"bearing": "sleeve"}
fires("bearing-unsuited", lambda: one(SLEEVE, UP))
fires("bearing-unsuited", lambda: one({"bearing": "ball", "shaft": ["horizontal"]}, UP))
fires("bearing-unsuited", lambda: one({"shaft": ["vertical"]}, SIDE))
silent("bearing-unsuited", lambda: one(SLEEVE, SIDE))
silent("bearing-unsuited", lambda: one(SLEEVE))
silent("bearing-unsuited", lambda: one({"bearing": "ball"}, UP))
silent("bearing-unsuited", lambda: one({**SLEEVE, "shaft": ["horizontal", "vertical"]}, UP))


def on_its_side(direction: str) -> Solution:
    """The cabinet laid on its left side: its right is up."""
    body = Body(size="800 x 1800 x 400 mm", up="right")
    return solved(things(body=body, type=axial(**SLEEVE), roof=roof(direction=direction)))


fires("bearing-unsuited", lambda: on_its_side("right"))
silent("bearing-unsuited", lambda: on_its_side("up"))

HOT = {"lower": 25.0, "upper": 60.5}
RANGE = {"air_range": "-10 60 degC"}
fires("fan-air-range", lambda: one(RANGE, warm=HOT))
fires("fan-air-range", lambda: one({"air_range": "35 60 degC"}))
silent("fan-air-range", lambda: one(RANGE, warm={"lower": 25.0, "upper": 60.0}))
silent("fan-air-range", lambda: one({}, warm=HOT))


def at_speed(ratio: float) -> Solution:
    """The roof fan at a ratio to its rated speed, allowed 0.3 to 1."""
    fan, row = {"speed": ratio}, {"speed_range": "0.3 1.0"}
    return one(row, fan, fans={"fan.roof": {"speed_ratio": ratio}})


fires("speed-below-minimum", lambda: at_speed(0.15))
fires("speed-below-minimum", lambda: at_speed(1.05))
silent("speed-below-minimum", lambda: at_speed(0.3))
silent("speed-below-minimum", lambda: at_speed(1.0))
fires("life-kinds-mixed", lambda: two("mean"))
silent("life-kinds-mixed", lambda: two("L10"))
fires("curve-total-pressure", lambda: one({"curve_pressure": "total"}))
silent("curve-total-pressure", lambda: one({"curve_pressure": "static", "curve": HUMP}))
