"""Why a fan type is excluded by what the solves of all scenarios say; its numbers where it is not.

Everything here is read from arrays (scenarios, candidates); a word is made only where it is needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.enclosure.fans import FanType
from flownet.findings.fans import last_peak
from flownet.judging.assessment import THERMAL, Assessment
from flownet.judging.assessment import UNKNOWN as NOT_KNOWN
from flownet.judging.voids import told
from flownet.results.batch import SolutionBatch
from flownet.results.limits import IDLE, Limit, broken
from flownet.schema import quantities as q
from flownet.schema.arrays import Array, Integers
from flownet.schema.fault import listed
from flownet.schema.fields import given
from flownet.studies.choice.eligibility import FanPlaces, Reason
from flownet.studies.runs import Outcomes
from flownet.studies.verdicts import Closeness, closeness_of

SHORT = 120  # signs of why there is no solution


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


UNKNOWN = FanNumbers()


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
        row = int(np.argmin(np.where(np.isnan(margins), np.inf, margins)))
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
        limits = [item for item in self.pairs.limits if item.limit in THERMAL]
        found = {item.subject: item.margin[pair] for item in limits}
        known = {subject: margin for subject, margin in found.items() if not np.isnan(margin)}
        return min(known, key=lambda subject: known[subject])

    def reasons(self, candidate: int) -> list[Reason]:
        """Everything that excludes a candidate, each told once, where it is worst."""
        return [
            *self._unsolved(candidate), *self._broken(candidate), *self._void(candidate),
            *self._out_of_range(candidate),
        ]  # fmt: skip

    def _unsolved(self, candidate: int) -> Iterator[Reason]:
        seen: set[str] = set()
        for row, name in enumerate(self.scenarios):
            pair = self.index[row, candidate]
            why = self.pairs.status[pair]
            first = why.partition("\n")[0]
            if why and first not in seen:
                seen.add(first)
                words = first if len(first) <= SHORT else first[: SHORT - 3] + "..."
                yield Reason("unsolved", self.places.paths[0], name, "no solution ({why})",
                             {"why": (None, words)})  # fmt: skip

    def _broken(self, candidate: int) -> Iterator[Reason]:
        """Limits, those of temperature first, the worst first; lives of equal fans once."""
        found = {}
        for item in self.pairs.limits:
            margins = item.margin[self.index[:, candidate]]
            row = int(np.argmin(np.where(np.isnan(margins), np.inf, margins)))
            if broken(item.limit, margins[row]):
                found[item.limit, item.subject] = float(margins[row]), row, item
        lives = {key[1]: each for key, each in found.items() if key[0] == "life"}
        rest = [each for key, each in found.items() if key[0] != "life"]
        rest.sort(key=lambda each: (each[2].limit not in THERMAL, each[0]))
        for margin, row, item in rest:
            yield self._limit(row, self.index[row, candidate], item, margin)
        for paths in self._sorts(lives):
            worst = min(paths, key=lambda path: lives[path][0])
            _, row, item = lives[worst]
            yield self._short_life(candidate, row, item, worst, _who(worst, paths))

    def _limit(self, row: int, pair: int, item: Limit, margin: float) -> Reason:
        values: dict[str, Any] = {
            **_held(item, pair), "over": (item.margin_quantity, -margin),
        }  # fmt: skip
        words = "{subject} {over} over {bound}"
        if item.limit == "noise":
            values["distance"] = (q.DISTANCE, float(self.pairs["total.noise_distance"][pair]))
            words = "{value} at {distance}, limit {bound}"
        elif item.limit == "flow":
            words = "{value} drawn in, {bound} needed"
        return Reason(item.limit, item.subject, self.scenarios[row], words, values)

    def _short_life(self, candidate: int, row: int, item: Limit, path: str, who: str) -> Reason:
        life, pair = self.rating(candidate, row, path).life, self.index[row, candidate]
        warm = float(self.pairs[f"{path}.air_temperature"][pair])
        values: dict[str, Any] = {
            **_held(item, pair), "warm": (q.TEMPERATURE, warm), "who": (None, who),
            "kind": (None, "life" if life is None else f"{life.kind} life"),
        }  # fmt: skip
        words = "{who}: {kind} {value} in air of {warm}, limit {bound}"
        return Reason("life", path, self.scenarios[row], words, values)

    def _void(self, candidate: int) -> Iterator[Reason]:
        """What makes the numbers void, each reason once: of a fan in stall or driven backwards
        where it is worst."""
        found: dict[str, dict[str, Array]] = {}
        for item in self.assessment.voids:
            rows = item.runs[self.index[:, candidate]]
            if rows.any():
                found.setdefault(item.word, {})[item.subject] = rows
        for word, subjects in found.items():
            if word in ("stall", "backflow"):
                yield from self._regions(candidate, word, subjects)
                continue
            row = int(np.argmax(next(iter(subjects.values()))))
            here = [subject for subject, rows in subjects.items() if rows[row]]
            yield Reason(word, here[0], self.scenarios[row], "{why}",
                         {"why": (None, told({word: here}))})  # fmt: skip

    def _regions(
        self, candidate: int, word: str, subjects: Mapping[str, Array]
    ) -> Iterator[Reason]:  # fmt: skip
        worst = {}
        for path, rows in subjects.items():
            flows = np.where(rows, self._blown(path)[:, candidate], np.inf)
            worst[path] = float(flows.min()), int(np.argmin(flows))
        for paths in self._sorts(worst):
            path = min(paths, key=lambda path: worst[path][0])
            (flow, row), who = worst[path], (None, _who(path, paths))
            if word == "backflow":
                words, values = "{who}: driven backwards, {value}", {"value": -flow}
            else:
                words = "{who}: in the dip at {value}, last peak {bound}"
                values = {"value": flow, "bound": self._last_peak(candidate, row, path)}
            flows_ = {name: (q.VOLUME_FLOW, value) for name, value in values.items()}
            yield Reason(word, path, self.scenarios[row], words, {"who": who, **flows_})

    def _last_peak(self, candidate: int, row: int, path: str) -> float:
        """Flow of the last peak of a fan as it turns [m3/s]."""
        fan = self.places.made[self.scenarios[row]].fans[path.partition(".")[2]]
        speed = float(self.pairs[f"{path}.speed_ratio"][self.index[row, candidate]])
        return last_peak(self.rating(candidate, row, path).curve) * speed * fan.flow_factor

    def dips(self, candidate: int) -> Iterator[Reason]:
        """Fans in stall while another is out, once each: no reason, but a remark."""
        for item in self.assessment.dips:
            rows = item.runs[self.index[:, candidate]]
            if rows.any():
                yield Reason("stall", item.subject, self.scenarios[int(np.argmax(rows))],
                             "{subject} in stall while another fan is out")  # fmt: skip

    def _sorts(self, paths: Iterable[str]) -> list[list[str]]:
        """Fans that are chosen together, each of the others alone."""
        listed = list(paths)
        own = [path for path in listed if path in self.places.paths]
        return [*([own] if own else []), *([p] for p in listed if p not in own)]

    def _blown(self, path: str) -> Array:
        """(scenarios, candidates) volume flow of a fan the way it blows [m3/s]."""
        fans = [case.fans[path.partition(".")[2]] for case in self.places.made.values()]
        way = np.array([-1.0 if fan.mounted == "reversed" else 1.0 for fan in fans])
        return way[:, None] * self.result(f"{path}.volume_flow")

    def _out_of_range(self, candidate: int) -> Iterator[Reason]:
        """Air that a type is not made for: the farthest above, the farthest below."""
        worst: dict[str, tuple[float, Reason]] = {}
        for place, path in enumerate(self.places.paths):
            for row, scenario in enumerate(self.scenarios):
                span = self.rating(candidate, row, path).air_range
                warm = float(self.own["air_temperature"][place, row, candidate])
                if span is None or np.isnan(warm) or span[0] <= warm <= span[1]:
                    continue
                side, bound = ("above", span[1]) if warm > span[1] else ("below", span[0])
                away = abs(warm - bound)
                if side not in worst or away > worst[side][0]:
                    words = f"{{subject}} draws air of {{value}}, {side} its range ({{bound}})"
                    values = {"value": (q.TEMPERATURE, warm), "bound": (q.TEMPERATURE, bound)}
                    worst[side] = away, Reason("air-range", path, scenario, words, values)
        yield from (reason for _, reason in worst.values())


def _who(worst: str, paths: list[str]) -> str:
    """`fan.left and 2 more`."""
    return listed([worst, *(path for path in paths if path != worst)], 1)


def _held(item: Limit, pair: int) -> dict[str, Any]:
    return {
        "value": (item.quantity, float(item.value[pair])),
        "bound": (item.quantity, float(item.bound[pair])),
    }  # fmt: skip


def _least(values: Array) -> Any:
    """The least along the first axis that is no NaN."""
    missing = np.isnan(values)
    found = np.where(missing, np.inf, values).min(axis=0)
    return np.where(missing.all(axis=0), np.nan, found)
