"""How far a key can go with compartments in layers, where that is less far than without."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.layered import piled
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.tables import Field, plain
from flownet.solving.solve import again, in_layers
from flownet.studies.headroom_search import limit_breaks
from flownet.studies.headroom_subject import Subject
from flownet.studies.verdicts import BUT

SOLVES, ASTRAY = 6, 0.005  # of the search: at most; and how near, of the way from today's value


class LayeredEdge(NamedTuple):
    """How far limits hold in layers that all hold with one temperature a compartment."""

    broken: tuple[Limit, ...]  # at the end, the farthest first
    value: float  # the farthest at which they were seen to hold; NaN where not even today
    limit: Limit  # that breaks beyond
    moved: Subject

    def words(self, units: str) -> str:
        """`but in 4 layers (well-mixed) only to 1.6 before part.controller breaks its 60 degC`."""
        side = -1 if self.value > self.moved.present else 1
        at = self.moved.apart(self.value, self.moved.present, units, side)
        far = "today" if math.isnan(self.value) else f"only to {at} before"
        return f"{BUT} {far} {limit_breaks(self.limit, units)}"

    def to_dict(self) -> dict[str, Any]:
        """As in JSON."""
        return {"value": plain(Field("", self.moved.quantity), self.value),
                "limit": self.limit.limit, "subject": self.limit.subject}  # fmt: skip


def edge_in_layers(
    end: Solution, case: Enclosure, moved: Subject, last: float
) -> LayeredEdge | None:
    """Between today's value and the last that holds, solved in `end`; None where that holds in
    layers too.

    With the layers that the last value asks for; what has no solution with them counts as broken.
    """
    made = in_layers(end)
    if made is None or not made.broken:
        return None
    broken, layers = tuple(sorted(made.broken, key=lambda item: item.margin)), made.changes
    names, tried = {(item.limit, item.subject) for item in broken}, {last: broken[0]}

    def margin(value: float) -> float:
        value = float(round(value)) if moved.whole else value
        if value not in tried:
            there = again(piled(case.with_changes(_single(moved, value))), layers)
            limits = there.limits if isinstance(there, Solution) else ()
            known = [item for item in limits if (item.limit, item.subject) in names
                     and not math.isnan(item.margin)]  # fmt: skip
            tried[value] = min(known, key=lambda item: item.margin,
                               default=broken[0]._replace(margin=-math.inf))  # fmt: skip
        return float(max(tried[value].margin, broken[0].margin))

    if margin(moved.present) >= 0 and last != moved.present:
        from scipy.optimize import brentq  # noqa: PLC0415 - heavy

        step = ASTRAY * abs(last - moved.present)
        brentq(margin, moved.present, last, xtol=step, maxiter=SOLVES, disp=False)
    aways = sorted((abs(value - moved.present), value) for value in tried)
    first = next(i for i, (_, value) in enumerate(aways) if tried[value].broken)
    return LayeredEdge(broken, aways[first - 1][1] if first else math.nan, tried[aways[first][1]],
                       moved)  # fmt: skip


def _single(moved: Subject, value: float) -> dict[str, float]:
    return {path: float(each) for path, each in moved.changes(np.array(value)).items()}
