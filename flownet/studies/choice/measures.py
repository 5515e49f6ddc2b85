"""What choices are ordered by: every word of `best`, once."""

from __future__ import annotations

from typing import NamedTuple

from flownet.schema import quantities as q
from flownet.schema.quantities import Quantity


class Measure(NamedTuple):
    """One word of `best`."""

    quantity: Quantity
    first: str  # how the best by it is called
    of_fan: str  # the number of a fan type that it is
    of_option: str = ""  # the number of a combination that it is; empty: none is ordered by it


MEASURES = {
    "temperature": Measure(q.DIFFERENCE, "largest temperature margin", "margin",
                           "temperature_margin"),
    "noise": Measure(q.LEVEL, "quietest", "noise", "noise"),
    "power": Measure(q.POWER, "least fan power", "power", "power"),
    "price": Measure(q.PRICE, "lowest price", "price", "price"),
    "life": Measure(q.HOURS, "longest life", "life"),
}  # fmt: skip
RANKING = ("noise", "power", "temperature", "price")  # as a `[choice]` lists them
