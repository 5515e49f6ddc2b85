"""What a choice says in words: the best design, the trade-off, values as they are read."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from flownet.judging.voids import told as void_words
from flownet.schema import quantities as q
from flownet.solve import again, broken_in_layers
from flownet.studies.choice.eligibility import sentence
from flownet.studies.designs import Axis
from flownet.studies.verdicts import divided

MEASURES = {  # what ranks -> how the first is called, and its quantity
    "noise": ("quietest", q.LEVEL), "power": ("least fan power", q.POWER),
    "temperature": ("largest temperature margin", q.DIFFERENCE),
    "price": ("lowest price", q.PRICE),
}  # fmt: skip
USUAL = ("running", "open", "fitted")  # states that go without saying beside other values


def sentences(found: Any, units: str) -> Iterator[str]:
    """How many hold and which is best; where none does, what comes closest and by how much."""
    yield from _holding(found, units)
    if found.unfit:
        yield sentence(found.unfit)


def _holding(found: Any, units: str) -> Iterator[str]:
    counts, first = found.counts, next(iter(found.front or found.ranked), None)
    if first is None:
        yield "no design has a solution"
        return
    if not first.holds:
        near = "nothing is close: the first" if first.void else "the closest"
        yield (
            f"none of {spaced(counts.different)} designs holds everywhere; {near} "
            f"{_off(first, units)}: {told(found, first, units)}"
        )
        return
    some = "all" if counts.accepted == counts.different else f"{spaced(counts.accepted)} of"
    hold = "holds" if counts.accepted == 1 else "hold"
    best, proved = MEASURES[found.best_by[0]][0], "" if found.exhaustive else " found"
    numbers = [measure_text(name, first, units) for name in found.best_by]
    numbers[0] = numbers[0].removeprefix("price ")
    margin = margin_text(first, units)
    if margin not in (*numbers, "-"):
        numbers.append(f"{margin} at {first.subject}")
    yield f"{some} {spaced(counts.different)} designs {hold} everywhere; {best}{proved}: " \
          f"{', '.join(numbers)} with {told(found, first, units)}"  # fmt: skip
    solution = again(found.case.with_changes(first.changes).under(first.scenario))
    if first.scenario and not isinstance(solution, str):
        yield from divided(broken_in_layers(solution), units, f"in {first.scenario} ")
    if found.front:
        yield _trade(found, units)
    if counts.unpriced:
        yield (
            f"{counts.unpriced} that hold come last: their {' or '.join(found.best_by)} is not "
            "known of every fan"
        )


def spaced(number: int) -> str:
    """`22 500`."""
    return f"{number:,}".replace(",", " ")


def _off(option: Any, units: str) -> str:
    """By how much the closest is off."""
    if option.void:
        paper = margin_text(option, units)
        over = f", {paper} on paper" if paper.startswith("-") and paper != "-" else ""
        return f"is void in {option.scenario} ({void_reason(option, units)}{over})"
    if not math.isfinite(option.worst_margin):
        return f"has no solution in {option.scenario}" if option.scenario else "is unsound"
    return f"is {margin_text(option, units)} at {option.subject} in {option.scenario}"


def void_reason(item: Any, units: str = "metric") -> str:
    """`fan.left in stall`: what makes a design void."""
    return void_words({item.limit: [item.subject]}, units)


def _trade(found: Any, units: str) -> str:
    a, b = found.best_by
    first, last = found.front[0], found.front[-1]
    if first is last:
        return f"it is best in {b} too: there is no trade-off"
    ends = [f"{measure_text(a, option, units)} with {measure_text(b, option, units)}"
            for option in (first, last)]  # fmt: skip
    return f"{len(found.front)} are on the trade-off between {a} and {b}, {' to '.join(ends)}"


def told(found: Any, option: Any, units: str = "metric") -> str:
    """`fan.left axial-119-q, fan.push blanked, filter.intake.area 900 cm2`."""
    return ", ".join(f"{head} {texts[0]}" for head, texts in columns(found, [option], units))


def columns(found: Any, options: Sequence[Any], units: str) -> Iterator[tuple[str, list[str]]]:
    """Thing by thing: a heading, and what each option has there."""
    groups: dict[str, list[Axis]] = {}
    for axis in found.varying:
        groups.setdefault(_owner(axis), []).append(axis)
    for owner, axes in groups.items():
        plain = all(axis.path.endswith((".state", ".type")) for axis in axes)
        head = axes[0].path if len(axes) == 1 and not plain else owner
        yield head, [_texts(axes, option, units) for option in options]


def _owner(axis: Axis) -> str:
    """`fan.left` of `fan.left.type`."""
    return axis.path.removesuffix("." + axis.places[0].key)


def _texts(axes: Sequence[Axis], option: Any, units: str) -> str:
    texts = []
    for axis in axes:
        text = value_text(axis, option, units)
        usual = axis.path.endswith(".state") and text in USUAL and len(axes) > 1
        if axis.path not in option.idle and not usual:
            texts.append(text)
    return ", ".join(texts) or "-"


def value_text(axis: Axis, option: Any, units: str = "metric") -> str:
    """The value of an axis as it is read."""
    value = option.changes[axis.path]
    if isinstance(value, bool):
        return "yes" if value else "no"
    if axis.quantity is None or isinstance(value, str):
        return str(value)
    return axis.quantity.shown(units).text(float(value))


def margin_text(option: Any, units: str = "metric") -> str:
    """`+4.2 K`; `-` where there is none."""
    if not math.isfinite(option.worst_margin):
        return "-"
    text: str = option.margin_quantity.shown(units).text(option.worst_margin, "+")
    return text


def measure_text(name: str, option: Any, units: str = "metric") -> str:
    """What ranks, `46.1 dBA`; `-` where it is not known."""
    value = option.value(name)
    if name == "noise" and value == -math.inf:
        return "silent"
    if not math.isfinite(value):
        return "-"
    text = MEASURES[name][1].shown(units).text(value, "+" if name == "temperature" else "")
    return f"price {text}" if name == "price" else text
