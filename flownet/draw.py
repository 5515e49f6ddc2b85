"""Pictures of results, for scripts and notebooks.

Each function draws on `ax`, or on a new figure of the picture's size, and returns the axes; none
calls `show()`. `units`, "metric" or "us", says what is shown. Bare temperatures are in kelvin, as
everywhere in Python.

But for `map` and `network`, which are drawings, the axes are ordinary ones in the units they show:
`draw.curves(solution).plot(flow, pressure, "o")` puts measured points where they belong (m3/h and
Pa; CFM and inH2O with "us"). A new figure has title, table and notes around the chart; on `ax` it
stands alone, its title above. Each raises TypeError for anything but what it draws.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from flownet.pictures.curves import curves
    from flownet.pictures.fan_choice import fan_choice
    from flownet.pictures.fan_curve import fan_curve
    from flownet.pictures.front import front
    from flownet.pictures.headroom import headroom
    from flownet.pictures.map.map import map
    from flownet.pictures.margins import margins
    from flownet.pictures.matrix import matrix
    from flownet.pictures.network import network
    from flownet.pictures.path import path
    from flownet.pictures.rank import rank
    from flownet.pictures.slot import slot
    from flownet.pictures.split import split
    from flownet.pictures.sweep import sweep
    from flownet.pictures.time import time
    from flownet.pictures.uncertainty import uncertainty

__all__ = [
    "curves", "fan_choice", "fan_curve", "front", "headroom", "map", "margins", "matrix",
    "network", "path", "rank", "slot", "split", "sweep", "time", "uncertainty",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    """A picture, from the file of its name; matplotlib is loaded with it."""
    if name not in __all__:
        raise AttributeError(f"module 'flownet.draw' has no attribute {name!r}")
    file = "map.map" if name == "map" else name
    return getattr(import_module(f"flownet.pictures.{file}"), name)


def __dir__() -> list[str]:
    return __all__
