"""Why a fan type is excluded by what the solves of all scenarios say; its numbers where it is not.

Everything here is read from arrays (scenarios, candidates); a word is made only where it is needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.fans import FanType
from flownet.findings.fans import last_peak
from flownet.judging.assessment import ALIKE, THERMAL, Assessment, first_least
from flownet.judging.assessment import UNKNOWN as NOT_KNOWN
from flownet.judging.voids import told
from flownet.results.batch import SolutionBatch
from flownet.results.limits import IDLE
from flownet.schema import quantities as q
from flownet.schema.arrays import Array, Integers
from flownet.schema.fault import listed
from flownet.schema.fields import given
from flownet.studies.choice.eligibility import FanPlaces, Reason
from flownet.studies.runs import Outcomes
from flownet.studies.verdicts import Closeness, closeness_of

SIGN_LETTERS = 120  # signs of why there is no solution
ON_CURVE = ("stall", "backflow")
AIR_SIDES = ("below", "above")  # of the air that a fan is made for
SIGN_WORDS = {  # of what has a number of its own
    **dict.fromkeys(THERMAL, "{subject} {over} over {bound}"),
    **{side: f"{{subject}} draws air of {{value}}, {side} its range ({{bound}})"
       for side in AIR_SIDES},
    "noise": "{value} at {distance}, limit {bound}", "flow": "{value} drawn in, {bound} needed",
    "dew": "{value} above the dew point, {bound} needed",
    "life": "{who}: {kind} {value} in air of {warm}, limit {bound}",
    "backflow": "{who}: driven backwards, {value}",
    "stall": "{who}: in the dip at {value}, last peak {bound}",
}  # fmt: skip


class FanNumbers(NamedTuple):
    """A candidate over all scenarios: the worst of each; SI, NaN where there is no value."""

    margin: float = np.nan  # least temperature margin [K]
    subject: str = ""  # of it
    scenario: str = ""  # where it is
    tight: bool = False  # less than `limits.margin`
    volume_flow: float = np.nan  # least flow drawn in from outside [m3/s]
    noise: float = np.nan  # most, of all fans, at `noise_distance` [dBA]; NaN: its own not known
    power: float = np.nan  # most electrical input of the fans that are chosen [W]
    life: float = np.nan  # shortest of the fans that are chosen, at their own air, in service [h]
    life_kind: str = ""  # L10, mean; empty without one
    air: float = np.nan  # warmest air that enters one of them [K]
    price: float = np.nan  # of all of them


NO_NUMBERS = FanNumbers()


@dataclass(frozen=True)
class Solved:
    """Every candidate in every scenario."""

    places: FanPlaces
    types: tuple[str, ...]
    pairs: Outcomes
    index: Integers  # (scenarios, candidates) -> pair
    asked: tuple[str, ...]  # (scenarios,) the entry each comes from: each-fan-out

    @property
    def scenarios(self) -> tuple[str, ...]:
        """Their names."""
        return tuple(self.places.made)

    def result(self, path: str) -> Array:
        """(scenarios, candidates) of a result."""
        found: Array = self.pairs[path][self.index]
        return found

    @cached_property
    def assessment(self) -> Assessment:
        """How every pair stands."""
        return self.pairs.stand

    def unjudged(self, candidate: int) -> bool:
        """Whether a limit of a candidate has no value somewhere."""
        return bool((self.assessment.each[:, self.index[:, candidate]] == NOT_KNOWN).any())

    def closeness(self, candidate: int, reasons: Iterable[Reason]) -> Closeness:
        """How far a candidate is from serving, as a comparison orders variants."""
        here = self.index[:, candidate]
        bad = ~self.assessment.holds[here] & (self.assessment.status[here] != NOT_KNOWN)
        named = {reason.scenario for reason in reasons}
        bad |= np.array([name in named for name in self.scenarios])
        status, miss = self.assessment.status[here], self.assessment.miss[here]
        failing = [(self.asked[i], int(status[i]), float(miss[i])) for i in np.flatnonzero(bad)]
        return closeness_of(failing, self.asked)

    @cached_property
    def ok(self) -> Array:
        """(scenarios, candidates) which were solved."""
        found: Array = self.pairs.ok[self.index]
        return found

    def running(self, path: str) -> Array:
        """(scenarios, candidates) whether a fan turns."""

        def regions(batch: SolutionBatch) -> Any:
            return batch.fans.columns["region"][list(batch.fans.names).index(path)]

        found = self.pairs.per_pair(regions)[self.index]
        return np.asarray(~np.isnan(found) & ~np.isin(found, IDLE))

    @cached_property
    def own(self) -> dict[str, Array]:
        """(fans, scenarios, candidates) results of the fans that are chosen; NaN where one stands
        or its type does not say it."""
        running = np.array([self.running(path) for path in self.places.paths])
        return {"running": running} | {
            name: np.where(running, [self.result(f"{p}.{name}") for p in self.places.paths], np.nan)
            for name in ("power", "life", "noise", "air_temperature")
        }  # fmt: skip

    # --- one candidate ---------------------------------------------------------------------------

    def rating(self, candidate: int, scenario: int, path: str) -> FanType:
        """The data a fan works on in a pair."""
        if path in self.places.paths:
            name = path.partition(".")[2]
            return self.places.fed(self.types[candidate], name, self.scenarios[scenario]).rating
        case = self.places.made[self.scenarios[scenario]]
        return case.rating(case.fans[path.partition(".")[2]])

    def numbers(self, candidate: int) -> FanNumbers:
        """The worst of a candidate, where every scenario was solved."""
        margins = self.result("total.worst_margin")[:, candidate]
        row = int(first_least(np.where(np.isnan(margins), np.inf, margins)))
        warm = not np.isnan(margins[row])
        rating = self.places.design.things["fan_type"][self.types[candidate]]
        own = {name: values[:, :, candidate] for name, values in self.own.items()}
        life = _least(own["life"]) / self._shares()
        silent = (own["running"] & np.isnan(own["noise"])).any()
        kind = rating.life.kind if rating.life is not None and not np.isnan(life).all() else ""
        pair = self.index[row, candidate]
        return FanNumbers(
            float(margins[row]), self._hottest(pair) if warm else "",
            self.scenarios[row] if warm else "",
            bool(margins[row] < self.pairs.tight[pair]) or any(True for _ in self.dips(candidate)),
            float(self.result("total.volume_flow")[:, candidate].min()),
            np.nan if silent else float(-_least(-self.result("total.noise")[:, candidate])),
            float(np.nansum(own["power"], axis=0).max()), float(_least(life)), kind,
            float(-_least(-own["air_temperature"].ravel())), rating.price * len(self.places.fans),
        )  # fmt: skip

    def _shares(self) -> Array:
        """(scenarios,) of the time that fans run, by which their life is spread over service."""
        limits = [case.limits for case in self.places.made.values()]
        return np.array([
            x.running_share if x.duty == "intermittent" and given(x.running_share) else 1.0
            for x in limits
        ])  # fmt: skip

    def _hottest(self, pair: int) -> str:
        found = {item.subject: round(item.margin[pair], ALIKE) for item in self.pairs.limits
                 if item.limit in THERMAL and not np.isnan(item.margin[pair])}  # fmt: skip
        return min(found, key=lambda subject: found[subject])

    def dips(self, candidate: int) -> Iterator[Reason]:
        """Fans in stall while another is out, once each: no reason, but a remark."""
        for item in self.assessment.dips:
            rows = item.runs[self.index[:, candidate]]
            if rows.any():
                yield Reason("stall", item.subject, self.scenarios[int(np.argmax(rows))],
                             "{subject} in stall while another fan is out")  # fmt: skip

    # --- why it is excluded ----------------------------------------------------------------------

    @cached_property
    def signs(self) -> dict[str, dict[str, Array]]:
        """Kind -> subject -> (scenarios, candidates) what excludes, the less the worse; infinite
        where nothing does: margins of limits, flows the way a fan blows, air out of its range [K].
        """
        found: dict[str, dict[str, Array]] = {}
        for item in self.pairs.limits:
            worst = np.where(item.broken, item.margin, np.inf)[self.index]
            found.setdefault(item.limit, {})[item.subject] = worst
        for word, subject, runs in self.assessment.voids:
            flow = self._blown(subject) if word in ON_CURVE else 0.0
            found.setdefault(word, {})[subject] = np.where(runs[self.index], flow, np.inf)
        for path, warm in zip(self.places.paths, self.own["air_temperature"], strict=True):
            spans = [[self._span(path, row, i) for i in range(len(self.types))]
                     for row in range(len(self.scenarios))]  # fmt: skip
            low, high = np.moveaxis(np.array(spans), -1, 0)
            for side, over in (("above", warm - high), ("below", low - warm)):
                found.setdefault(side, {})[path] = np.where(over > 0, -over, np.inf)
        return found

    def reasons(self, candidate: int) -> Iterator[Reason]:
        """Everything that excludes a candidate, each told once, where it is worst."""
        yield from self._unsolved(candidate)
        for kind, subjects in self.signs.items():
            here = {name: each[:, candidate] for name, each in subjects.items()
                    if (each[:, candidate] < np.inf).any()}  # fmt: skip
            least = {name: round(float(each.min()), ALIKE) for name, each in here.items()}
            names = sorted(here, key=lambda name: least[name]) if kind in THERMAL else list(here)
            # together: the fans that are chosen, and whatever has no number of its own
            one = [name for name in names if name in self.places.paths or kind not in SIGN_WORDS]
            for some in (one, *([name] for name in names if name not in one)):
                if some:
                    worst = min(some, key=lambda name: least[name])
                    row = int(first_least(here[worst]))
                    there = [name for name in some if here[name][row] < np.inf]
                    yield self._reason(candidate, row, kind, worst, some, there)

    def _reason(
        self, candidate: int, row: int, kind: str, subject: str, some: list[str],
        there: list[str],
    ) -> Reason:  # fmt: skip
        """A sign in words: of `subject`, the worst of `some`, and of those that show it `there`."""
        pair = self.index[row, candidate]
        values: dict[str, Any] = {}
        for item in self.pairs.limits:
            if (item.limit, item.subject) == (kind, subject):
                values = {"value": (item.quantity, float(item.value[pair])),
                          "bound": (item.quantity, float(item.bound[pair]))}  # fmt: skip
                if kind != "life":
                    values["over"] = item.margin_quantity, -float(item.margin[pair])
        if kind in ("life", *ON_CURVE):
            values["who"] = None, listed([subject, *(x for x in some if x != subject)], 1)
        if kind == "noise":
            values["distance"] = q.DISTANCE, float(self.pairs["total.noise_distance"][pair])
        elif kind == "life":
            life = self.rating(candidate, row, subject).life
            values["kind"] = None, "life" if life is None else f"{life.kind} life"
            values["warm"] = q.TEMPERATURE, float(self.pairs[f"{subject}.air_temperature"][pair])
        elif kind in ON_CURVE:
            flow = float(self.signs[kind][subject][row, candidate])
            values["value"] = q.VOLUME_FLOW, flow if kind == "stall" else -flow
            if kind == "stall":
                values["bound"] = q.VOLUME_FLOW, self._last_peak(candidate, row, subject)
        elif kind in AIR_SIDES:
            span = self._span(subject, row, candidate)
            warm = float(self.pairs[f"{subject}.air_temperature"][pair])
            values = {"value": (q.TEMPERATURE, warm),
                      "bound": (q.TEMPERATURE, span[AIR_SIDES.index(kind)])}  # fmt: skip
        elif kind not in SIGN_WORDS:
            values["why"] = None, told({kind: there})
        return Reason("air-range" if kind in AIR_SIDES else kind, subject, self.scenarios[row],
                      SIGN_WORDS.get(kind, "{why}"), values)  # fmt: skip

    def _unsolved(self, candidate: int) -> Iterator[Reason]:
        where: dict[str, str] = {}
        for name, pair in zip(self.scenarios, self.index[:, candidate], strict=True):
            where.setdefault(self.pairs.status[pair].partition("\n")[0], name)
        for why, name in where.items():
            if why:
                words = why if len(why) <= SIGN_LETTERS else why[: SIGN_LETTERS - 3] + "..."
                yield Reason("unsolved", self.places.paths[0], name, "no solution ({why})",
                             {"why": (None, words)})  # fmt: skip

    def _span(self, path: str, row: int, candidate: int) -> tuple[float, float]:
        """The air that a fan is made for [K]."""
        return self.rating(candidate, row, path).air_range or (-np.inf, np.inf)

    def _last_peak(self, candidate: int, row: int, path: str) -> float:
        """Flow of the last peak of a fan as it turns [m3/s]."""
        fan = self.places.made[self.scenarios[row]].fans[path.partition(".")[2]]
        speed = float(self.pairs[f"{path}.speed_ratio"][self.index[row, candidate]])
        return last_peak(self.rating(candidate, row, path).curve) * speed * fan.flow_factor

    def _blown(self, path: str) -> Array:
        """(scenarios, candidates) volume flow of a fan the way it blows [m3/s]."""
        fans = [case.fans[path.partition(".")[2]] for case in self.places.made.values()]
        way = np.array([-1.0 if fan.mounted == "reversed" else 1.0 for fan in fans])
        return way[:, None] * self.result(f"{path}.volume_flow")


def _least(values: Array) -> Any:
    """The least along the first axis that is no NaN."""
    missing = np.isnan(values)
    found = np.where(missing, np.inf, values).min(axis=0)
    return np.where(missing.all(axis=0), np.nan, found)
