"""What a page or a picture is about: made once, printed by all of them.

A word more in the heads of pages and pictures is a field here, and its place in `lines` or `foot`.
"""

from __future__ import annotations

import dataclasses
import os
import textwrap
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np

from flownet import __version__
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.toml_text import as_text
from flownet.pages.table import Cell, Paint, both_sides, hanging, plain
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fields import NONE
from flownet.schema.quantities import Quantity
from flownet.schema.shown import one_line
from flownet.schema.units import SupplyText

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
    warmest: float = float("nan")  # of a course in which it moves, `outside` then being the least
    altitude: float = float("nan")  # [m]
    # of one solution: temperature, pressure, density
    site: Mapping[str, float] = field(default_factory=lambda: NONE)
    # of further outside air by name: temperatures [K]
    aisles: Mapping[str, float] = field(default_factory=lambda: NONE)
    supplies: tuple[tuple[float, float], ...] = ()  # volts and hertz, 0 for dc
    digest: str = ""
    version: str = __version__

    @classmethod
    def of(
        cls, what: Enclosure | Solution, scope: str = "", *, changes: Sequence[str] | None = None,
        **words: Any,
    ) -> Caption:  # fmt: skip
        """Of a case, or of one solution, which has a site; `changes` as somebody wrote them."""
        case = what.case if isinstance(what, Solution) else what
        site = what.site if isinstance(what, Solution) else NONE
        outside = {name: item.temperature for name, item in case.things["outside"].items()}
        fed = ((item.voltage, np.nan_to_num(item.frequency))
               for item in case.things["supply"].values())  # fmt: skip
        made = cls(
            title=case.title or case.origin, scope=scope, site=site, digest=case.digest,
            scenario=case.applied.scenario, variant=case.applied.variant,
            changes=own_changes(case) if changes is None else tuple(changes),
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

    @property
    def heading(self) -> str:
        """The title, fit for one line."""
        return one_line(self.title) or "untitled"

    def lines(
        self, units: str = "metric", width: int = 80, paint: Paint = plain
    ) -> Iterator[str]:  # fmt: skip
        """The head of a page: the title is its heading."""
        *before, last = textwrap.wrap(self.heading, width, break_on_hyphens=False)
        first, *rest = both_sides(last, self.state, width)
        yield from (paint(line, "heading") for line in (*before, first))
        yield from rest
        for lead, words in self.about:
            yield from hanging([Cell(lead)], words, width)
        if self.site and not self.scope:
            place, air = self._air(partial(_text, q.TEMPERATURE), units)
            fed = ", ".join(dict.fromkeys(SupplyText(*each).text() for each in self.supplies))
            yield from both_sides(f"{', '.join(place)}: {', '.join(air)}", fed, width)
        yield from (f"with    {change}" for change in self.changes)

    def _air(self, shown: Callable[[float, str], str], units: str) -> tuple[list[str], list[str]]:
        """`outside 50.0 degC`, `900 m`; `91.0 kPa`, `0.981 kg/m3`, which goes with one temperature.

        `shown`: a temperature in words.
        """
        height = [] if np.isnan(self.altitude) else [_text(q.ALTITUDE, self.altitude, units)]
        pressure = _text(q.SITE_PRESSURE, self.site["pressure"], units)
        outside = f"outside {shown(self.outside, units)}"
        if not np.isnan(self.warmest):
            outside = f"{outside.rpartition(' ')[0]} to {shown(self.warmest, units)}"
            return [outside, *height], [pressure]
        return [outside, *height], [pressure, _text(q.DENSITY, self.site["density"], units)]

    def heads(self, units: str = "metric", state: str = "") -> list[str]:
        """The head of a picture: title with scenario and variant, or with `state`; what was
        changed; the site."""
        state = state or " | ".join(filter(None, (self.scenario, self.variant)))
        return [f"{self.heading}     {state}", *self.changed, self.surroundings(units)]

    @property
    def changed(self) -> list[str]:
        """`with fan.left.speed = 0.8`, one line each."""
        return [f"with {one_line(change)}" for change in self.changes]

    def surroundings(self, units: str = "metric") -> str:
        """`outside 50 degC, 900 m, 91.0 kPa, 0.981 kg/m3   230 V 50 Hz`; of a case without a
        solution its temperature alone."""
        if not self.site:
            return f"outside {_round(self.outside, units)}"
        place, air = self._air(_round, units)
        aisles = (f"{name} {_round(warm, units)}" for name, warm in self.aisles.items())
        return "   ".join([", ".join([*place, *air]), *aisles,
                           *dict.fromkeys(map(_supply, self.supplies))])  # fmt: skip

    def foot(self, *, dated: bool = True) -> str:
        """What tells one print from another: version, inputs, and the day.

        The day may be that of SOURCE_DATE_EPOCH, so that a picture can be made again.
        """
        given = os.environ.get("SOURCE_DATE_EPOCH", "")
        day = time.strftime("%Y-%m-%d", time.gmtime(int(given) if given.isdigit() else None))
        inputs = f"inputs {self.digest[:DIGITS]}" if self.digest else ""
        return "   ".join(filter(None, (f"flownet {self.version}", inputs, day * dated)))

    def to_dict(self) -> dict[str, Any]:
        """The head of every JSON."""
        named = {"case": self.title} if self.digest else {}
        return {"flownet": self.version, "format": 1, **named}


def own_changes(case: Enclosure) -> tuple[str, ...]:
    """What was changed beside scenario and variant, as a case file would have it."""
    applied = case.applied
    if not applied.changes:
        return ()
    given = NONE
    if case.source is not None:
        given = case.source.under(applied.scenario, applied.variant).applied.changes
    return told(case, {path: value for path, value in applied.changes.items()
                       if path not in given or given[path] != value})  # fmt: skip


def told(case: Enclosure, changes: Mapping[str, Any]) -> tuple[str, ...]:
    """`fan.left.speed = 0.8`, one each."""
    return tuple(f"{path} = {as_text(case, path, value)}".removesuffix(".0")
                 for path, value in changes.items())  # fmt: skip


def _text(quantity: Quantity, value: float, units: str) -> str:
    return quantity.shown(units).text(float(value))


def _round(warm: float, units: str) -> str:
    """A given temperature without idle zeros: `55 degC`."""
    number, _, unit = _text(q.TEMPERATURE, warm, units).rpartition(" ")
    return f"{number.removesuffix('.0')} {unit}"


def _supply(supply: tuple[float, float]) -> str:
    volts, hertz = supply
    current = _text(q.FREQUENCY, hertz, "metric") if hertz else "dc"
    return f"{_text(q.VOLTAGE, volts, 'metric')} {current}"
