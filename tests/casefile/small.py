"""A small case to append tables to, and what reading it gives. All data are invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from flownet.casefile import load_case
from flownet.enclosure.enclosure import Enclosure
from flownet.schema.errors import CaseError

BASE = """
format = 1
title = "Small box, invented data"

[compartment.box]
outline = "0 0 400 600 mm"

[compartment.top]

[opening.low]
from = "outside"
to = "box"
area = "100 cm2"

[opening.mid]
from = "box"
to = "top"
area = "100 cm2"

[fan.left]
from = "top"
to = "outside"
type = "plain"

[fan_type.plain]
curve = { flow = "0 50 100 m3/h", rise = "60 40 0 Pa" }
flow_area = "80 cm2"
rated_speed = "2700 rpm"
"""


def load(folder: Path, text: str, **files: str) -> Enclosure:
    """The enclosure of a case file with other files beside it (`fans_toml` is fans.toml)."""
    for name, content in files.items():
        stem, _, suffix = name.rpartition("_")
        (folder / f"{stem}.{suffix}").write_text(content, encoding="utf-8")
    (folder / "case.toml").write_text(text, encoding="utf-8")
    return load_case(folder)


def faults(folder: Path, text: str, **files: str) -> tuple[str, ...]:
    """What reading complains of, a line each."""
    with pytest.raises(CaseError) as caught:
        load(folder, text, **files)
    assert str(caught.value).splitlines() == list(caught.value.faults)
    return caught.value.faults
