"""What samples say in words: how likely limits hold, and where the spread comes from."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from flownet.results.solution import AT_LEAST
from flownet.schema.fault import listed
from flownet.solve import again, broken_in_layers
from flownet.studies.uncertainty.chances import percent
from flownet.studies.verdicts import divided

HEADS = ("limit", "5 %", "50 %", "95 %", "bound", "holds in")
MOST = 0.5  # share from which on one input makes most of a spread
CUT = 0.001  # share of draws outside the range of a key that is worth a word


def sentences(found: Any, units: str = "metric") -> Iterator[str]:
    """The verdict on the least likely limit first; before it what takes more of the samples from
    every limit than that limit itself does."""
    count = f"{len(found):,}".replace(",", " ")
    lost = list(_lost(found, count))
    causes = _outweighs(found)
    if causes:
        yield from lost
    if found.limits and found.limits[0].chance is not None:
        first = found.limits[0]
        both = "" if found.results.sound.all() else " and is not void"
        chance = _chance(first.chance, count) + ("" if causes else _few(found))
        yield f"{_stays(first, units)}{both} in {chance}; {spread(found)}"
    else:
        yield f"no limit has a value; {spread(found)}"
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


def _outweighs(found: Any) -> bool:
    """Whether more samples are void or without a solution than break the least likely limit."""
    sound = found.results.ok & found.results.sound
    lost = float(1 - sound.mean())
    chances = [item.chance.share for item in found.limits if item.chance is not None]
    return lost > 0 and lost >= 1 - lost - min(chances, default=0.0)


def _few(found: Any) -> str:
    """`, 3 of them void, 1 without a solution`, of samples that hold no limit."""
    void = int((~found.results.sound).sum())
    words = [f"{void} of them void"] if void else []
    words += [f"{found.failed} without a solution"] if found.failed else []
    return "".join(f", {each}" for each in words)


def _lost(found: Any, count: str) -> Iterator[str]:
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


def _stays(item: Any, units: str) -> str:
    """`part.controller stays within 60 degC`."""
    way = "above" if item.limit in AT_LEAST else "within"
    name = f"the life of {item.subject}" if item.limit == "life" else item.subject
    return f"{name} stays {way} {bound(item, units)}"


def bound(item: Any, units: str) -> str:
    """A limit as people write it: 60 degC."""
    text: str = item.value.quantity.shown(units).text(item.bound)
    number, _, unit = text.rpartition(" ")
    return f"{number.removesuffix('.0')} {unit}"


def _chance(chance: Any, count: str) -> str:
    return f"{percent(chance.share)} % of {count} samples ({chance.interval})"


def spread(found: Any) -> str:
    """Where the spread of the result comes from."""
    rows, of = found.shares.rows, found.shares.of
    own = bool(found.limits) and of == found.limits[0].value.path
    its = "its spread" if own else f"the spread of {of}"
    if not found.shares.deviation > 0:
        return f"{of} has no spread"
    if not rows[0].share > 0:
        return f"{len(found)} samples are too few to share out {its} among {len(rows)} inputs"
    part = "most" if rows[0].share >= MOST else "the largest part"
    return f"{part} of {its} ({percent(rows[0].share)} %) comes from {rows[0].spread.path}"


def _cut(found: Any) -> Iterator[str]:
    cut = [(item.cut, item.path) for item in found.spreads if item.cut > CUT]
    for share, path in sorted(cut, reverse=True):
        yield (
            f"{path}: {percent(share)} % of its tolerance lies outside what the key may be; the "
            "shape is cut there"
        )


def limit_texts(item: Any, units: str = "metric") -> tuple[str, ...]:
    """A limit as a row under `HEADS`."""
    shown = item.value.quantity.shown(units)
    numbers = ["-" if v != v else shown.text(v) for v in item.value[2:5]]  # noqa: PLR0124 - NaN
    chance = item.chance.words() if item.chance else "no value"
    return item.subject, *numbers, bound(item, units), chance
