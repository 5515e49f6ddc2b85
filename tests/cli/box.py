"""A small case, and the command run on it inside this process."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from click.testing import CliRunner, Result

from flownet.cli.group import commands

CASE = """\
format = 1
title = "Test box"

[outside]
temperature = "40 degC"

[supply.mains]
voltage = "24 V"

[compartment.box]
air_limit = "55 degC"

[vent.low]
from = "outside"
to = "box"
area = "80 cm2"
loss = 2.5

[fan.left]
from = "box"
to = "outside"
type = "small"
supply = "mains"

[fan.right]
like = "left"

[part.board]
in = "box"
power = "120 W"
limit = "80 degC"
resistance = "0.1 K/W"

[fan_type.small]
origin = "invented data"
curve = { flow = "0 40 80 m3/h", rise = "40 25 0 Pa" }
rated_speed = "2600 rpm"
flow_area = "40 cm2"
supply = "24 V dc"
power = "4 W"

[scenario.hot]
outside.temperature = "50 degC"

[scenario.hopeless]
vent.low.state = "blanked"
fan.left.state = "blanked"
fan.right.state = "blanked"

[variant.open]
vent.low.area = "200 cm2"
"""

# without the scenario that cannot be solved
SOUND = re.sub(r"\[scenario.hopeless\].*?(?=\[variant)", "", CASE, flags=re.DOTALL)


def written(folder: Path, text: str = CASE, name: str = "box.toml") -> Path:
    """The case in a file."""
    path = folder / name
    path.write_text(text)
    return path


def run(*words: object, env: Mapping[str, str] | None = None, given: str | None = None) -> Result:
    """`flownet WORDS`, with stdout, stderr and exit code kept apart; `given`: what is piped in."""
    return CliRunner().invoke(commands, [str(word) for word in words], env=env, input=given)
