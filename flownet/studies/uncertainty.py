"""What tolerances of the inputs do to results: bands, and how likely each limit holds."""

from __future__ import annotations

import math
import operator
from collections import Counter
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

from flownet.columns import Inputs
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.pages.caption import Caption
from flownet.pages.page import spaced
from flownet.pages.result import Result
from flownet.pages.sheet import Listing, Sentence, Sheet
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.results.tables import Field, plain
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.arrays import Array
from flownet.schema.errors import CaseError, NoSolution, unsolved
from flownet.schema.fault import did_you_mean, listed, nearest
from flownet.solving.attempt import attempt_at, attempted, changed, judged
from flownet.solving.solve import Progress, broken_in_layers, in_layers
from flownet.studies import chances
from flownet.studies.outcome import place_facts
from flownet.studies.samples import Samples, solve_samples, uniform
from flownet.studies.shares import SpreadShares, origin, shares, shares_tables
from flownet.studies.tolerances import Spread, cut_words, practice, spreads, without_value
from flownet.studies.verdicts import BUT, divided

LEAST_LOST = 1.0  # K, or another unit of a margin, in layers: below it one temperature is enough
FEWEST_SAMPLES, MOST_SAMPLES = 2, 1_000_000  # samples
WITHOUT = "total.volume_flow"  # what shares are about where there is no limit


@dataclass(frozen=True, repr=False, eq=False)
class Uncertainty(Result):
    """Bands of every result, chances of every limit, shares of every input in one result.

    `found["part.rectifier.temperature"]` holds the samples of a result [SI] and
    `found.drawn["fan.left.pressure_factor"]` those of an input, NaN where a sample has no value.
    """

    case: Enclosure  # in its variant and scenario, as it is stated
    seed: int
    spreads: tuple[Spread, ...]
    drawn: Mapping[str, Array]
    results: Samples
    limits: tuple[chances.LimitChance, ...]  # the least likely to hold first
    all_hold: chances.Chance | None  # None: there is no limit with a value
    shares: SpreadShares
    unused: tuple[str, ...]  # tolerances of the case that name no number given here
    nominal: Solution | None  # the case as it is stated; None: it has none

    def __len__(self) -> int:
        return len(self.results.status)

    def __getitem__(self, path: str) -> Array:
        """(samples,) one result [SI]; CaseError where there is none of this path."""
        return _values(self.results, path)

    @property
    def failed(self) -> int:
        """Samples without a solution: they hold no limit, and no band has them."""
        return int((~self.results.ok).sum())

    @property
    def reason(self) -> str:
        """Why most of these have none; empty where all were solved."""
        told = Counter(text for text in self.results.status if text)
        return told.most_common(1)[0][0] if told else ""

    @cached_property
    def bands(self) -> Mapping[str, chances.Band]:
        """5, 50 and 95 of 100 of every result."""
        quantities = self.results.quantities
        return {path: chances.Band.of(path, quantities[path], column)
                for path, column in self.results.values.items()}  # fmt: skip

    @cached_property
    def steadily_broken(self) -> tuple[Limit, ...]:
        """Limits that the case as it is stated keeps well-mixed and breaks in layers."""
        return () if self.nominal is None else tuple(broken_in_layers(self.nominal))

    @cached_property
    def lost_in_layers(self) -> Mapping[tuple[str, str], float]:
        """What layers take from the margin of each limit as it is stated, in its own unit; the
        samples know nothing of it."""
        made = in_layers(self.nominal) if self.nominal else None
        if self.nominal is None or made is None or made.solution is None:
            return {}
        here, there = ({(item.limit, item.subject): item.margin for item in each.limits}
                       for each in (self.nominal, made.solution))  # fmt: skip
        return {name: here[name] - there[name] for name in here
                if there.get(name, math.nan) < here[name]}  # fmt: skip

    @cached_property
    def limits_in_layers(self) -> tuple[chances.LimitChance, ...]:
        """`limits` where layers take from each sample what they take from the case as stated."""
        return chances.limit_chances(self.results, self.lost_in_layers)

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What the samples say, in sentences."""
        return tuple(_sentences(self, units))

    def __repr__(self) -> str:
        return f'<Uncertainty "{self.case.title}" {len(self)} samples: {self.verdict}>'

    @property
    def sheet(self) -> Sheet:
        """Limits, whose spread it is, which tolerances are usual; where all is asked for bands."""
        applied, of = self.case.applied, self.bands[self.shares.of]
        caption = Caption.of(
            self.case, f"{spaced(len(self))} samples, seed {self.seed}",
            about=(("", f"scenario {applied.scenario}, variant {applied.variant}"),),
        )  # fmt: skip
        tables = [chances.limits_table(self.limits)] if self.limits else []
        if not self.limits or of.path != self.limits[0].value.path:  # that stands above
            tables.append(chances.bands_table([of], "page"))
        usual = Listing("usual", (), notes=(Sentence("", partial(practice, self.spreads)),))
        bands = tuple(self.bands.values())
        tables += [*shares_tables(self.shares), usual, chances.bands_table(bands, "all"),
                   chances.bands_data(bands)]  # fmt: skip
        return Sheet("uncertainty", caption, self.verdicts, tables, facts=self._facts())

    def _facts(self) -> dict[str, Any]:
        shares, change = self.shares, self.shares.difference
        return {
            "samples": len(self), "seed": self.seed,
            "solved": len(self) - self.failed, "why": self.reason or None,
            **place_facts(self.case), "verdict": list(self.verdicts()),
            "all_hold": self.all_hold.to_dict() if self.all_hold else None,
            "limits": [item.to_dict() for item in self.limits],
            "limits_in_layers": [item.to_dict() for item in self.limits_in_layers]
            if self.lost_in_layers else None,
            "tolerances": [spread.to_dict() for spread in self.spreads],
            "without_value": list(self.unused), "of": shares.of,
            **self.bands[shares.of].to_dict("of"),
            "unexplained": plain(Field("", q.RATIO), shares.left),
            change.key("deviation"): plain(Field("", change), shares.deviation),
            change.key("linear_deviation"): plain(Field("", change), shares.linear_deviation),
        }  # fmt: skip


def uncertainty(
    case: Enclosure, *, samples: int = 1000, seed: int, scenario: str = "base",
    variant: str = "base", changes: Changes | None = None, of: str | None = None,
    defaults: bool = True, executor: Executor | None = None, progress: Progress | None = None,
) -> Uncertainty:  # fmt: skip
    """Independent samples of all tolerances, each solved.

    `[tolerance]` of the case says what is off. A normal one holds 95 of 100, a uniform one all.

    Parameters
    ----------
    samples : int
        2 to 1,000,000; each keeps one number a result, 8 bytes.
    seed : int
        From 0; the same seed draws the same samples, whatever solves them, and more samples
        begin with those of fewer.
    scenario, variant, changes, executor, progress : as for `solve` and `solve_many`
    of : str, optional
        Result whose variance is shared out. Default: of the limit that is least likely to hold.
    defaults : bool
        Whether usual tolerances (common practice, no source) stand in where the case has none.

    Raises
    ------
    CaseError
        Unknown names, no tolerance at all, a count or seed out of range, a result without value.
    NoSolution
        Where no sample was solved.
    """
    count, start = _whole("samples", samples, FEWEST_SAMPLES, MOST_SAMPLES), _whole("seed", seed, 0)
    argument_checks.check("uncertainty", case, Enclosure)
    if of is not None:
        argument_checks.check_path("uncertainty: of", of, "part.rectifier.temperature")
    made = changed(case, scenario, variant, changes)
    return _sampled(made, _moved(made, defaults), count, start, of, executor, progress)


def _moved(made: Enclosure, defaults: bool) -> tuple[Spread, ...]:
    """What is off; CaseError where nothing is."""
    moved = spreads(made, defaults)
    if not moved:
        raise CaseError(
            "tolerance: nothing is off; write [tolerance] in the case, such as "
            '"fan.*.pressure_factor" = "8 %"'
            + ("" if defaults else ", or let usual tolerances stand in")
        )
    return moved


def around(
    nominal: Solution, samples: int, seed: int, executor: Executor | None = None
) -> Uncertainty:  # fmt: skip
    """The uncertainty of a case whose solution is known; errors as `uncertainty`."""
    made = nominal.case
    return _sampled(made, _moved(made, True), samples, seed, None, executor, None, nominal)


def _sampled(
    made: Enclosure, moved: tuple[Spread, ...], count: int, seed: int, of: str | None,
    executor: Executor | None, progress: Progress | None, nominal: Solution | None = None,
) -> Uncertainty:  # fmt: skip
    """So many samples of what is off, solved; `nominal`: with nothing off, where that is known."""
    drawn = {
        member.place.path: spread.drawn(member, uniform(seed, spread.path, count))
        for spread in moved for member in spread.members
    }  # fmt: skip
    if of is not None:  # what is no result is told by one sample, before all others are solved
        one = solve_samples(made, {path: column[:1] for path, column in drawn.items()}, 1,
                            None, None)  # fmt: skip
        if of not in one.quantities:
            _values(one, of)
    found = solve_samples(made, drawn, count, executor, progress)
    if not found.ok.any():
        none = f"none of {count} samples was solved"
        raise unsolved(found.status, ": ".join(filter(None, (made.where, none))))
    limits = chances.limit_chances(found)
    about = of if of is not None else limits[0].value.path if limits else WITHOUT
    values = _values(found, about)
    try:
        tried = attempted(Inputs.of(made), check=True) if nominal is None else attempt_at(nominal)
    except (CaseError, NoSolution):
        tried = None
    if tried is not None and nominal is None:
        nominal = judged(tried.inputs, tried.model, tried.found).select(0)
    shared = shares(made, moved, drawn, about, found.quantities[about], values, tried)
    return Uncertainty(made, seed, moved, drawn, found, limits, chances.all_hold(found), shared,
                       without_value(made), nominal)  # fmt: skip


def _whole(name: str, raw: Any, low: int, high: int | None = None) -> int:
    """A whole number in its range; CaseError naming it."""
    text = f"from {low}" if high is None else f"of {low} to {spaced(high)}"
    try:
        value = operator.index(raw)
    except TypeError:
        raise CaseError(f"{name}: a whole number {text} is wanted (got {raw!r})") from None
    if isinstance(raw, bool) or value < low or (high is not None and value > high):
        raise CaseError(f"{name}: a whole number {text} is wanted (got {raw!r})")
    return value


def _values(found: Samples, path: str) -> Array:
    if path not in found.values:
        if path in found.quantities:
            raise CaseError(f"{path}: has no value in any sample")
        close = nearest(path, found.values)
        hint = f"; {did_you_mean(close)}" if close else ", such as total.volume_flow"
        raise CaseError(f"{path or 'of'}: no number among the results{hint}")
    return found.values[path]


# --- words ----------------------------------------------------------------------------------------


def _sentences(found: Uncertainty, units: str = "metric") -> Iterator[str]:
    """The verdict on the least likely limit first; before it what takes more of the samples from
    every limit than that limit itself does."""
    count = spaced(len(found))
    lost = list(_lost(found, count))
    causes = _outweighs(found)
    own = bool(found.limits) and found.shares.of == found.limits[0].value.path
    whose = origin(found.shares, len(found), own)
    if causes:
        yield from lost
    if found.limits and (chance := found.limits[0].chance) is not None:
        both = "" if found.results.sound.all() else " and is not void"
        often = f"{chances.percent(chance.share)} % of {count} samples ({chance.interval})"
        often += "" if causes else _few(found)
        often += "".join(f", {text}" for text in _layers(found, units))
        yield f"{found.limits[0].stays(units)}{both} in {often}; {whose}"
    else:
        yield f"no limit has a value; {whose}"
    if found.all_hold is not None and len(found.limits) > 1:
        yield f"all limits hold together in {found.all_hold.words()}"
    unknown = [item.subject for item in found.limits if item.chance is None]
    if unknown:
        yield f"without a value, and not among these: {listed(unknown)}"
    if not causes:
        yield from lost
    yield from cut_words(found.spreads)
    if found.unused:
        yield f"tolerances of what is not given here: {listed(found.unused)}"


def _layers(found: Uncertainty, units: str) -> Iterator[str]:
    """What layers say against samples that are taken as mixed: how often limits hold in them, with
    what they take from the case as it is stated; and what breaks in that."""
    mixed, first = found.limits[0], found.limits_in_layers[0]
    lost = found.lost_in_layers.get((first.limit, first.subject), 0.0)
    taken = first.margin.quantity.shown(units).text(lost)
    if mixed.chance and first.chance and first.chance.share < mixed.chance.share:
        which = "" if first.subject == mixed.subject else f"{first.stays(units)} "
        share = chances.percent(first.chance.share)
        yield (f"{BUT} {which}in {share} %, if they take {taken} from each sample as from the case "
               "as it is stated")  # fmt: skip
    elif found.steadily_broken:
        yield from divided(found.steadily_broken, units, "as it is stated ")
    elif first.subject == mixed.subject and lost >= LEAST_LOST:
        yield f"{BUT} it has {taken} less margin than the samples say"


def _outweighs(found: Uncertainty) -> bool:
    """Whether more samples are void or without a solution than break the least likely limit."""
    sound = found.results.ok & found.results.sound
    lost = float(1 - sound.mean())
    shares = [item.chance.share for item in found.limits if item.chance is not None]
    return lost > 0 and lost >= 1 - lost - min(shares, default=0.0)


def _few(found: Uncertainty) -> str:
    """`, 3 of them void, 1 without a solution`, of samples that hold no limit."""
    void = int((~found.results.sound).sum())
    words = [f"{void} of them void"] if void else []
    words += [f"{found.failed} without a solution"] if found.failed else []
    return "".join(f", {each}" for each in words)


def _lost(found: Uncertainty, count: str) -> Iterator[str]:
    """Samples that hold no limit, whatever their numbers are."""
    if found.failed:
        yield (
            f"{found.failed} of {count} samples have no solution: they count as not holding, and "
            f"no percentile has them ({found.reason})"
        )
    sound = found.results.sound
    if not sound.all():
        why = listed([f"{word} in {chances.percent(float(runs.mean()))} %"
                      for word, runs in found.results.voids.items() if runs.any()])  # fmt: skip
        share = chances.percent(float(1 - sound.mean()))
        yield f"{share} % of {count} samples are void ({why}): they count as not holding"
