"""What tolerances of the inputs do to results: bands, and how likely each limit holds."""

from __future__ import annotations

import operator
from collections import Counter
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from flownet.attempt import changed
from flownet.enclosure.enclosure import Changes, Enclosure
from flownet.judging.assessment import THERMAL
from flownet.results.solution import AT_LEAST, Limit, extra
from flownet.results.tables import Field, html_table, plain
from flownet.schema import argument_checks
from flownet.schema.arrays import Array
from flownet.schema.component import nearest
from flownet.schema.errors import CaseError, NoSolution
from flownet.schema.quantities import Quantity
from flownet.solve import Progress, again, broken_in_layers
from flownet.studies.samples import (
    PERCENTILES,
    Band,
    Chance,
    Samples,
    percent,
    solve_samples,
    uniform,
)
from flownet.studies.shares import Share, Shares, shares
from flownet.studies.tolerances import Spread, spreads, without_value
from flownet.studies.verdicts import bound, divided, listed

FEWEST, MOST = 2, 1_000_000  # samples
VALUES = {
    "part": ".temperature", "air": ".temperature", "flow": "", "noise": "", "life": ".life",
}  # fmt: skip
WITHOUT = "total.volume_flow"  # what shares are about where there is no limit
NAMES = tuple(f"p{percentile:g}" for percentile in PERCENTILES)
HEADS = ("limit", "5 %", "50 %", "95 %", "bound", "holds in")
MOSTLY = 0.5  # share from which on one input makes most of a spread
CUT = 0.001  # share of draws outside the range of a key that is worth a word


class LimitChance(NamedTuple):
    """One limit over the samples."""

    limit: str  # part, air, flow, noise, life
    subject: str
    bound: float  # median, where it is off itself
    value: Band
    margin: Band  # in K, dB or h; positive: it holds
    chance: Chance | None  # None: no sample gives it a value

    @property
    def quantity(self) -> Quantity:
        """Of the value and the bound."""
        return self.value.quantity

    def to_dict(self) -> dict[str, Any]:
        """JSON; units in the keys of the bands."""
        quantity = self.value.quantity
        return {
            "limit": self.limit, "subject": self.subject,
            quantity.key("bound"): plain(Field("", quantity), self.bound),
            **_band("value", self.value), **_band("margin", self.margin),
            "holds": self.chance.to_dict() if self.chance else None,
        }  # fmt: skip


@dataclass(frozen=True, repr=False, eq=False)
class Uncertainty:
    """Bands of every result, chances of every limit, shares of every input in one result.

    `found["part.rectifier.temperature"]` holds the samples of a result [SI] and
    `found.drawn["fan.left.pressure_factor"]` those of an input, NaN where a sample has no value.
    """

    case: Enclosure  # in its variant and scenario, as it is stated
    seed: int
    spreads: tuple[Spread, ...]
    drawn: Mapping[str, Array]
    results: Samples
    limits: tuple[LimitChance, ...]  # the least likely to hold first
    all_hold: Chance | None  # None: there is no limit with a value
    shares: Shares
    unused: tuple[str, ...]  # tolerances of the case that name no number given here

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
    def bands(self) -> Mapping[str, Band]:
        """5, 50 and 95 of 100 of every result."""
        quantities = self.results.quantities
        return {path: Band.of(path, quantities[path], column)
                for path, column in self.results.values.items()}  # fmt: skip

    def verdicts(self, units: str = "metric") -> tuple[str, ...]:
        """What the samples say, in sentences."""
        return tuple(_sentences(self, units))

    @property
    def verdict(self) -> str:
        """The first of them."""
        return self.verdicts()[0]

    def __repr__(self) -> str:
        return f'<Uncertainty "{self.case.title}" {len(self)} samples: {self.verdict}>'

    def _repr_html_(self) -> str:
        """Chances of all limits, for notebooks."""
        rows = [_limit_texts(item) for item in self.limits]
        return html_table(repr(self), HEADS, rows)

    def rows(self) -> list[dict[str, Any]]:
        """One row a result, in the unit of its JSON key."""
        found = []
        for path, band in self.bands.items():
            row = {"result": path, "unit": band.quantity.json.unit or None}
            numbers = (plain(Field("", band.quantity), value) for value in band[2:5])
            found.append({**row, **dict(zip(NAMES, numbers, strict=True)), "samples": band.samples})
        return found

    def to_frame(self) -> Any:
        """A pandas DataFrame, one row a result; ImportError without pandas, an extra."""
        return extra("pandas").DataFrame(self.rows())

    def to_dict(self) -> dict[str, Any]:
        """As in JSON; shares are about `of`."""
        applied = self.case.applied
        return {
            "command": "uncertainty", "samples": len(self), "seed": self.seed,
            "solved": len(self) - self.failed, "why": self.reason or None,
            "scenario": None if applied.scenario == "base" else applied.scenario,
            "variant": None if applied.variant == "base" else applied.variant,
            "verdict": list(self.verdicts()),
            "all_hold": self.all_hold.to_dict() if self.all_hold else None,
            "limits": [item.to_dict() for item in self.limits],
            "tolerances": [spread.to_dict() for spread in self.spreads],
            "without_value": list(self.unused), **self._shares(), "results": self.rows(),
        }  # fmt: skip

    def _shares(self) -> dict[str, Any]:
        shown = self.shares.difference

        def number(value: float) -> Any:
            return plain(Field("", shown), value)

        def row(item: Share) -> dict[str, Any]:
            return {"path": item.spread.path, "share": _known(item.share),
                    "linear_share": _known(item.linear),
                    shown.key("effect"): number(item.effect)}  # fmt: skip

        return {
            "of": self.shares.of, **_band("of", self.bands[self.shares.of]),
            "unexplained": _known(self.shares.left),
            shown.key("deviation"): number(self.shares.deviation),
            shown.key("linear_deviation"): number(self.shares.linear_deviation),
            "shares": [row(item) for item in self.shares.rows],
        }  # fmt: skip



def uncertainty(
    case: Enclosure, *, samples: int = 1000, seed: int, scenario: str = "base",
    variant: str = "base", changes: Changes | None = None, of: str | None = None,
    defaults: bool = True, executor: Executor | None = None, progress: Progress | None = None,
) -> Uncertainty:  # fmt: skip
    """Independent samples of all tolerances, each solved.

    Parameters
    ----------
    case : Enclosure
        Its `[tolerance]` says what is off. A normal one holds 95 of 100, a uniform one all.
    samples : int
        2 to 1,000,000; each keeps one number a result, 8 bytes.
    seed : int
        From 0; the same seed draws the same samples, whatever solves them, and more samples
        begin with those of fewer.
    scenario, variant : str
        Names in the case, as for `solve`.
    changes : mapping, optional
        Input path -> value, applied before anything is drawn.
    of : str, optional
        Result whose variance is shared out. Default: of the limit that is least likely to hold.
    defaults : bool
        Whether usual tolerances (common practice, no source) stand in where the case has none.
    executor : concurrent.futures.Executor, optional
        Solves blocks of samples; every executor returns the same numbers.
    progress : callable(done, total), optional

    Raises
    ------
    CaseError
        Unknown names, no tolerance at all, a count or seed out of range, a result without value.
    NoSolution
        Where no sample was solved.
    """
    count, start = _whole("samples", samples, FEWEST, MOST), _whole("seed", seed, 0)
    argument_checks.check("uncertainty", case, Enclosure)
    if of is not None:
        argument_checks.check_path("uncertainty: of", of, "part.rectifier.temperature")
    made = changed(case, scenario, variant, changes)
    moved = spreads(made, defaults)
    if not moved:
        raise CaseError(
            "tolerance: nothing is off; write [tolerance] in the case, such as "
            '"fan.*.pressure_factor" = "8 %"'
            + ("" if defaults else ", or let usual tolerances stand in")
        )
    drawn = {
        member.place.path: spread.drawn(member, uniform(start, spread.path, count))
        for spread in moved for member in spread.members
    }  # fmt: skip
    if of is not None:
        _check_named(made, drawn, of)
    found = solve_samples(made, drawn, count, executor, progress)
    if not found.ok.any():
        raise NoSolution(f"none of {count} samples was solved: {found.status[0]}")
    limits = _limits(found)
    about = of if of is not None else limits[0].value.path if limits else WITHOUT
    values = _values(found, about)
    shared = shares(made, moved, drawn, about, found.quantities[about], values)
    unused = without_value(made)
    return Uncertainty(made, start, moved, drawn, found, limits, _all(found), shared, unused)


def _whole(name: str, raw: Any, low: int, high: int | None = None) -> int:
    """A whole number in its range; CaseError naming it."""
    text = f"from {low}" if high is None else f"of {low} to {high:,}".replace(",", " ")
    try:
        value = operator.index(raw)
    except TypeError:
        raise CaseError(f"{name}: a whole number {text} is wanted (got {raw!r})") from None
    if isinstance(raw, bool) or value < low or (high is not None and value > high):
        raise CaseError(f"{name}: a whole number {text} is wanted (got {raw!r})")
    return value


def _check_named(made: Enclosure, drawn: Mapping[str, Array], of: str) -> None:
    """CaseError for what is no result, told by one sample before all others are solved."""
    one = solve_samples(made, {path: column[:1] for path, column in drawn.items()}, 1, None, None)
    if of not in one.quantities:
        _values(one, of)


def _values(found: Samples, path: str) -> Array:
    if path not in found.values:
        if path in found.quantities:
            raise CaseError(f"{path}: has no value in any sample")
        close = nearest(path, list(found.values))
        hint = f'; did you mean "{close}"?' if close else ", such as total.volume_flow"
        raise CaseError(f"{path or 'of'}: no number among the results{hint}")
    return found.values[path]


def _limits(found: Samples) -> tuple[LimitChance, ...]:
    """Every limit, the least likely to hold first; of equals the one with the least margin."""
    rows = [_limit(item, found.sound) for item in found.limits if not np.isnan(item.bound).all()]
    return tuple(sorted(rows, key=lambda row: (
        row.chance.share if row.chance else 2.0, row.limit not in THERMAL,
        round(float(np.nan_to_num(row.margin.low)), 6))))  # fmt: skip


def _limit(item: Limit, sound: Array) -> LimitChance:
    name = ".outlet_temperature" if item.subject.startswith("slot.") else VALUES[item.limit]
    path = item.subject + name
    value = Band.of(path, item.quantity, item.value)
    margin = Band.of(path, item.margin_quantity, item.margin)
    held = int((item.holds & sound).sum())  # NaN, of what was not solved, holds nothing
    chance = Chance.of(held, len(item.margin)) if margin.samples else None
    return LimitChance(item.limit, item.subject, float(np.nanmedian(item.bound)), value, margin,
                       chance)  # fmt: skip


def _all(found: Samples) -> Chance | None:
    """How often every limit that ever has a value holds."""
    known = [i for i in found.limits if not np.isnan(i.margin).all()]
    if not known:
        return None
    held = np.logical_and.reduce([found.sound, *(i.holds for i in known)])
    return Chance.of(int(held.sum()), len(held))


def _band(name: str, band: Band) -> dict[str, Any]:
    return {band.quantity.key(f"{name}_{label}"): plain(Field("", band.quantity), number)
            for label, number in zip(NAMES, band[2:5], strict=True)}  # fmt: skip


def _known(value: float) -> float | None:
    return None if np.isnan(value) else value


# --- words ----------------------------------------------------------------------------------------


def _sentences(found: Uncertainty, units: str = "metric") -> Iterator[str]:
    """The verdict on the least likely limit first; before it what takes more of the samples from
    every limit than that limit itself does."""
    count = f"{len(found):,}".replace(",", " ")
    lost = list(_lost(found, count))
    causes = _outweighs(found)
    if causes:
        yield from lost
    if found.limits and (chance := found.limits[0].chance) is not None:
        both = "" if found.results.sound.all() else " and is not void"
        often = f"{percent(chance.share)} % of {count} samples ({chance.interval})"
        often += "" if causes else _few(found)
        yield f"{_stays(found.limits[0], units)}{both} in {often}; {_spread(found)}"
    else:
        yield f"no limit has a value; {_spread(found)}"
    nominal = again(found.case)
    if not isinstance(nominal, str):
        yield from divided(broken_in_layers(nominal), units, "as it is stated ")
    if found.all_hold is not None and len(found.limits) > 1:
        yield f"all limits hold together in {found.all_hold.words()}"
    unknown = [item.subject for item in found.limits if item.chance is None]
    if unknown:
        yield f"without a value, and not among these: {listed(unknown)}"
    if not causes:
        yield from lost
    yield from _cut(found)
    if found.unused:
        yield f"tolerances of what is not given here: {listed(found.unused)}"


def _outweighs(found: Uncertainty) -> bool:
    """Whether more samples are void or without a solution than break the least likely limit."""
    sound = found.results.ok & found.results.sound
    lost = float(1 - sound.mean())
    chances = [item.chance.share for item in found.limits if item.chance is not None]
    return lost > 0 and lost >= 1 - lost - min(chances, default=0.0)


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
        why = listed([f"{word} in {percent(float(runs.mean()))} %"
                      for word, runs in found.results.voids.items() if runs.any()])  # fmt: skip
        yield f"{percent(float(1 - sound.mean()))} % of {count} samples are void ({why}): they " \
              "count as not holding"  # fmt: skip


def _stays(item: LimitChance, units: str) -> str:
    """`part.controller stays within 60 degC`."""
    way = "above" if item.limit in AT_LEAST else "within"
    name = f"the life of {item.subject}" if item.limit == "life" else item.subject
    return f"{name} stays {way} {bound(item, units)}"


def _spread(found: Uncertainty) -> str:
    """Where the spread of the result comes from."""
    rows, of = found.shares.rows, found.shares.of
    own = bool(found.limits) and of == found.limits[0].value.path
    its = "its spread" if own else f"the spread of {of}"
    if not found.shares.deviation > 0:
        return f"{of} has no spread"
    if not rows[0].share > 0:
        return f"{len(found)} samples are too few to share out {its} among {len(rows)} inputs"
    part = "most" if rows[0].share >= MOSTLY else "the largest part"
    return f"{part} of {its} ({percent(rows[0].share)} %) comes from {rows[0].spread.path}"


def _cut(found: Uncertainty) -> Iterator[str]:
    cut = [(item.cut, item.path) for item in found.spreads if item.cut > CUT]
    for share, path in sorted(cut, reverse=True):
        yield (
            f"{path}: {percent(share)} % of its tolerance lies outside what the key may be; the "
            "shape is cut there"
        )


def _limit_texts(item: LimitChance, units: str = "metric") -> tuple[str, ...]:
    """A limit as a row under `HEADS`."""
    shown = item.value.quantity.shown(units)
    numbers = ["-" if v != v else shown.text(v) for v in item.value[2:5]]  # noqa: PLR0124 - NaN
    chance = item.chance.words() if item.chance else "no value"
    return item.subject, *numbers, bound(item, units), chance
