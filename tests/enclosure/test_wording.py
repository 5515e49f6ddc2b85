"""Changes as text with units: what a case file would say, read back to the same float."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from flownet.enclosure.fans import Clearance
from flownet.enclosure.toml_text import as_text
from tests.each import every
from tests.every_kind import alternatives, everything

CASE = everything()


@every(
    ("path", "value", "text"),
    [
        ("outside.temperature", 323.15, "50 degC"),
        ("outside.temperature", "122 degF", "122 degF"),
        ("fan.left.speed", 0.8, 0.8),
        ("fan.left.speed", "1400 rpm", "1400 rpm"),
        ("fan.left.rotation", 40.0, "2400 rpm"),
        ("slot.b.count", 3.0, 3),
        ("fan.left.state", "stopped", "stopped"),
        ("fan.left.supply", None, None),
        ("part.drive.limit", math.nan, None),
        ("baffle.shelf.present", False, False),
        ("baffle.shelf.present", np.bool_(True), True),
        ("slot.a.type", "wide", "wide"),
        ("filter.*.fouling", 2, 2.0),
        ("filter.mat.at", (0.1, 0.2), ["100 mm", "200 mm"]),
        ("leak.seal.flow_at", ("2 m3/h", 10.0), ["2 m3/h", "10 Pa"]),
        ("leak.seal.flow_at.0", 1e-3, "3.6 m3/h"),
        ("fan.left.guard", {"loss": 0.6}, {"loss": 0.6}),
        ("fan.left.clearance", Clearance(inlet=0.015), {"inlet": "15 mm"}),
        ("fan_type.small.curve", ((0.0, 5.0), (1 / 36, 0.0)),
         {"flow": ["0 m3/h", "100 m3/h"], "rise": ["5 Pa", "0 Pa"]}),
        ("fan_type.small.rating", {"us": {"rated_speed": 40.0, "curve": [(0, 5.0), (0.1, 0.0)]}},
         {"us": {"rated_speed": "2400 rpm", "curve": {"flow": ["0 m3/h", "360 m3/h"],
                                               "rise": ["5 Pa", "0 Pa"]}}}),
        ("part.chip.chain", [["junction", 0.4]], [["junction", "0.4 K/W"]]),
        ("duct.riser.bends", [(90, 1.5)], {"angle": ["90 deg"], "radius_ratio": [1.5]}),
        ("duct.riser.bends", [], None),
        ("fan.left.note", "a word", "a word"),
        ("limits.noise_dBA", 50, "50 dBA"),
    ],
)  # fmt: skip
def test_a_value_as_a_case_file_writes_it(path, value, text):
    found = as_text(CASE, path, value)
    assert found == text
    assert type(found) is type(text)


def test_every_value_is_read_back_to_the_last_digit():
    """Through JSON, at every key of every kind; only not every float is a number of rpm."""
    for path, value, made in alternatives():
        text = json.loads(json.dumps(as_text(CASE, path, value), allow_nan=False))
        if path.endswith("rated_speed"):
            assert CASE.with_changes({path: text})[path] == pytest.approx(value, rel=1e-15)
        else:
            assert CASE.with_changes({path: text}) == made, path
