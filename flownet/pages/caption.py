"""What a page or a picture is about: made once, printed by all of them.

A word more in the heads of pages and pictures is a field here, and its place in `lines` or `foot`.
"""

from __future__ import annotations

import dataclasses
import os
import textwrap
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from flownet import __version__
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.table import Cell, Paint, both_sides, hanging, plain
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.component import NONE
from flownet.schema.quantities import Quantity
from flownet.schema.shown import one_line
from flownet.schema.units import Supply

DIGITS = 19  # of the digest, `sha256:` included, that tell two inputs apart


@dataclass(frozen=True, kw_only=True)
class Caption:
    """Title, scenario and variant or scope, what was changed, the site; digest and version.

    `about` are further lines under the title, (lead, words) each. `changes` are those beside
    scenario and variant, `fan.left.speed = 0.8`.
    """

    title: str = ""  # of the case, else the name of its file; empty: there is no case
    scenario: str = ""
    variant: str = ""
    scope: str = ""  # in the place of variant and scenario: how many there are
    about: tuple[tuple[str, str], ...] = ()
    changes: tuple[str, ...] = ()
    outside: float = float("nan")  # temperature as the case has it, or as it was solved [K]
    altitude: float = float("nan")  # [m]
    # of one solution: temperature, pressure, density
    site: Mapping[str, float] = field(default_factory=lambda: NONE)
    # of further outside air by name: temperatures [K]
    aisles: Mapping[str, float] = field(default_factory=lambda: NONE)
    supplies: tuple[tuple[float, float], ...] = ()  # volts and hertz, 0 for dc
    digest: str = ""
    version: str = __version__

    @classmethod
    def of(cls, what: Enclosure | Solution, scope: str = "", **words: Any) -> Caption:
        """Of a case, or of one solution, which has a site."""
        case = what.case if isinstance(what, Solution) else what
        site = what.site if isinstance(what, Solution) else NONE
        outside = {name: item.temperature for name, item in case.things["outside"].items()}
        fed = ((item.voltage, np.nan_to_num(item.frequency))
               for item in case.things["supply"].values())  # fmt: skip
        made = cls(
            title=case.title or case.origin, scope=scope, site=site, digest=case.digest,
            scenario=case.applied.scenario, variant=case.applied.variant,
            outside=site.get("temperature", outside.pop("")), altitude=case.outside.altitude,
            aisles=outside,
            supplies=tuple((float(volts), float(hertz)) for volts, hertz in fed),
        )  # fmt: skip
        return made.but(**words)

    def but(self, **words: Any) -> Caption:
        """The same with other words."""
        return dataclasses.replace(self, **words)

    @property
    def state(self) -> str:
        """`strong-fans | hot`, or the scope."""
        return self.scope or " | ".join(filter(None, (self.variant, self.scenario)))

    def lines(
        self, units: str = "metric", width: int = 80, paint: Paint = plain
    ) -> Iterator[str]:  # fmt: skip
        """The head of a page: the title is its heading."""
        *before, last = textwrap.wrap(one_line(self.title) or "untitled", width,
                                      break_on_hyphens=False) or [""]  # fmt: skip
        first, *rest = both_sides(last, self.state, width)
        yield from (paint(line, "heading") for line in (*before, first))
        yield from rest
        for lead, words in self.about:
            yield from hanging([Cell(lead)], words, width)
        if self.site and not self.scope:
            yield from both_sides(self._air(units), self._fed(), width)
        yield from (f"with    {change}" for change in self.changes)

    def _air(self, units: str) -> str:
        """`outside 50.0 degC, 900 m: 91.0 kPa, 0.981 kg/m3`."""

        def told(quantity: Quantity, value: float) -> str:
            return quantity.shown(units).text(float(value))

        place = told(q.TEMPERATURE, self.outside)
        if not np.isnan(self.altitude):
            place += f", {told(q.ALTITUDE, self.altitude)}"
        pressure, density = self.site["pressure"], self.site["density"]
        return f"outside {place}: {told(q.SITE_PRESSURE, pressure)}, {told(q.DENSITY, density)}"

    def _fed(self) -> str:
        return ", ".join(dict.fromkeys(Supply(*each).text() for each in self.supplies))

    def foot(self) -> str:
        """What tells one print from another: version, inputs, the day.

        The day may be that of SOURCE_DATE_EPOCH, so that a picture can be made again.
        """
        given = os.environ.get("SOURCE_DATE_EPOCH", "")
        day = time.strftime("%Y-%m-%d", time.gmtime(int(given) if given.isdigit() else None))
        inputs = f"inputs {self.digest[:DIGITS]}" if self.digest else ""
        return "   ".join(filter(None, (f"flownet {self.version}", inputs, day)))

    def to_dict(self) -> dict[str, Any]:
        """The head of every JSON."""
        named = {"case": self.title} if self.digest else {}
        return {"flownet": self.version, "format": 1, **named}
