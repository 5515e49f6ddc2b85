"""What a study of fan curves finds: lines, operating points, and what is gained."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.voids import told
from flownet.pages.caption import Caption
from flownet.pages.result import Result
from flownet.pages.sheet import Column, Listing, Sheet
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.studies.fans.lines import FanLine


class SystemLine(NamedTuple):
    """What the network asks of the fans at each flow through them."""

    loaded: bool
    words: str  # what state the filters are in
    flow: Array  # [m3/s]
    rise: Array  # [Pa]


class FanPoint(NamedTuple):
    """Where one fan works, or several together: these have no speed, type and density."""

    loaded: bool
    fans: tuple[str, ...]
    flow: float  # volume flow the way it blows [m3/s]
    rise: float  # [Pa]
    region: str  # empty for several together
    speed_ratio: float = np.nan
    rotation: float = np.nan  # [1/s]; NaN where the rated speed is not known
    type: str = ""  # the name of its type
    density: float = np.nan  # of the air it draws [kg/m3]


@dataclass(frozen=True)
class Gain:
    """What several fans do beside the best of them alone, and what the rule of thumb says."""

    fans: tuple[str, ...]
    arrangement: str  # "parallel", "series", or "both" for groups one behind the other
    best: str  # the fan that alone moves most
    flow_alone: float  # [m3/s]
    flow: float  # [m3/s]
    rise_alone: float  # [Pa]
    rise: float  # sum over fans one behind the other [Pa]
    rule: float  # gain by the rule: of flow in parallel, of pressure in series; NaN for both

    @property
    def flow_gain(self) -> float:
        """Share of flow more than the best alone: 0.32 is +32 %."""
        return self.flow / self.flow_alone - 1

    @property
    def rise_gain(self) -> float:
        """Share of pressure more than the best alone."""
        return self.rise / self.rise_alone - 1

    def words(self, units: str = "metric") -> str:
        """`2 fans in parallel: rule of thumb +100 % flow, here +32 % (...)`."""
        flow, rise = q.VOLUME_FLOW.shown(units), q.PRESSURE.shown(units)
        flows = f"({flow.number(self.flow_alone)} to {flow.text(self.flow)})"
        rises = f"({rise.number(self.rise_alone)} to {rise.text(self.rise)})"
        gains = (f"{100 * self.flow_gain:+.0f} % {flows}", f"{100 * self.rise_gain:+.0f} % {rises}")
        many = f"{len(self.fans)} fans"
        if self.arrangement == "both":
            return f"{many} beside {self.best} alone: flow {gains[0]}, pressure {gains[1]}"
        rule = f"rule of thumb {100 * self.rule:+.0f} %"
        if self.arrangement == "series":
            return f"{many} in series: {rule} pressure, here {gains[1]}; flow {gains[0]}"
        return f"{many} in parallel: {rule} flow, here {gains[0]}; pressure {gains[1]}"


@dataclass(frozen=True, repr=False, eq=False)
class FanCurves(Result):
    """Curves of fans that work together, what the network asks of them, and where they work."""

    solution: Solution
    fans: tuple[str, ...]
    lines: tuple[FanLine, ...]  # one for each sort of fan
    together: FanLine | None  # None for a single fan
    systems: tuple[SystemLine, ...]  # clean, then loaded where there is a filter
    points: tuple[FanPoint, ...]
    gain: Gain | None  # None for a single fan
    others: tuple[str, ...]  # fans that run elsewhere
    about: Mapping[str, FanPoint]  # what the curve of each fan is drawn for

    def __repr__(self) -> str:
        rows = [f"{100 * self.gain.flow_gain:+.0f} % flow by all"] if self.gain else []
        rows.append(", ".join(f"{p.flow * 3600:.0f} m3/h at {p.rise:.1f} Pa" for p in self.whole))
        return f"<FanCurves of {', '.join(self.fans)}: {'; '.join(rows)}>"

    @property
    def whole(self) -> tuple[FanPoint, ...]:
        """Where all of them work, one point a system line."""
        return tuple(p for p in self.points if len(p.fans) == len(self.fans))

    @property
    def state(self) -> str:
        """What the filters are like in the line that is drawn as clean."""
        return self.systems[0].words

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What they move as it was solved, then in the other state of the filters; what several
        gain."""
        flow, rise = q.VOLUME_FLOW.shown(units), q.PRESSURE.shown(units)
        whole, void = {point.loaded: point for point in self.whole}, self.solution.void
        first = whole.get(loaded(self.solution.case)) or self.whole[0]
        said = f"{len(self.fans)} fans move" if len(self.fans) > 1 else f"{self.fans[0]} moves"
        said += f" {flow.text(first.flow)} at {rise.text(first.rise)}"
        said += "".join(f", {flow.text(point.flow)} with filters {state_word(state)}"
                        for state, point in whole.items() if point is not first)  # fmt: skip
        said = f"Void: {told(void, units)}; on paper {said}" if void else said
        return said, *([self.gain.words(units)] if self.gain else [])

    @property
    def sheet(self) -> Sheet:
        """Where the fans work; in JSON every line beside."""
        gain = None if self.gain is None else {
            "arrangement": self.gain.arrangement, "best": self.gain.best,
            "rule": None if np.isnan(self.gain.rule) else self.gain.rule,
            "flow": self.gain.flow_gain, "rise": self.gain.rise_gain,
        }  # fmt: skip
        lines = [*self.lines, *([self.together] if self.together else [])]
        facts = {
            "scenario": self.solution.scenario, "variant": self.solution.variant,
            "fans": list(self.fans),
            "curves": [_points_of(x, fans=list(x.fans)) for x in lines],
            "systems": [_points_of(x, loaded=x.loaded, filters=x.words) for x in self.systems],
            "points": None, "gain": gain,  # the points are a table
        }  # fmt: skip
        caption = Caption.of(self.solution.case)
        return Sheet("curves", caption, self.verdicts, list(self._points()), facts=facts)

    def _points(self) -> Iterator[Listing]:
        points = self.points
        works = (Column("flow", [p.flow for p in points], q.VOLUME_FLOW),
                 Column("rise", [p.rise for p in points], q.PRESSURE),
                 Column("region", [p.region or None for p in points]))  # fmt: skip
        yield Listing("points", (
            Column("fans", [", ".join(p.fans) for p in points]),
            Column("filters", [state_word(p.loaded) for p in points]), *works,
        ))  # fmt: skip
        yield Listing("points", (
            Column("fans", [list(p.fans) for p in points]),
            Column("loaded", [p.loaded for p in points]), *works,
            Column("speed_ratio", [p.speed_ratio for p in points], q.RATIO),
            Column("speed", [p.rotation for p in points], q.SPEED),
        ), "data")  # fmt: skip


def loaded(case: Enclosure) -> bool:
    """Whether a filter has loaded in this case."""
    filters = case.things["filter"].values()
    return any(item.fouling > 1 for item in filters if item.state == "fitted")


def state_word(full: bool) -> str:
    """Of filters."""
    return "loaded" if full else "clean"


def _points_of(line: FanLine | SystemLine, **more: Any) -> dict[str, Any]:
    return {**more, "flow_m3_s": line.flow.tolist(), "rise_Pa": line.rise.tolist()}
