"""What a comparison says in words: which variant holds where."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from flownet.judging.assessment import STATUSES, UNSOLVED, VOID
from flownet.judging.layered import LAYERS
from flownet.judging.voids import told
from flownet.results.limits import Limit, broken
from flownet.schema.fault import listed
from flownet.schema.fields import NONE
from flownet.schema.quantities import Quantity

BUT = f"but in {LAYERS} layers (well-mixed)"
NAMED_SINGLY = 3  # variants or scenarios named one by one


def sentences(
    columns: Mapping[str, Sequence[Any]], units: str = "metric",
    in_layers: Mapping[str, tuple[str, Limit]] = NONE, brief: bool = False,
) -> Iterator[str]:  # fmt: skip
    """The verdict first, then one sentence for each variant that it leaves open, by closeness.

    `columns`: variant -> its cells; `in_layers`: variants that hold -> scenario and limit that
    breaks there when compartments are divided; `brief`: what makes runs void is not told.
    """
    good = [name for name, cells in columns.items() if sound(cells)]
    rest = [name for name in columns if name not in good]
    rest.sort(key=lambda name: (not columns[name], closeness(columns[name])))
    if good:
        where = "everywhere" if len(columns[good[0]]) > 1 else f"in {columns[good[0]][0].scenario}"
        yield f"{listed(good)} {'holds' if len(good) == 1 else 'hold'} {where}"
    elif len(rest) > 1 and not _near(columns[rest[0]]):
        yield "no variant holds everywhere"
    elif len(rest) > 1:
        closest = rest.pop(0)
        words = _sentence("it", columns[closest], units, brief)
        yield f"no variant holds everywhere; {closest} comes closest: {words}"
    for name, (scenario, limit) in in_layers.items():
        yield from divided([limit], units, f"{name} in {scenario}: ")
    for name in good:
        tight = [cell for cell in columns[name] if cell.status == "tight"]
        if tight:
            yield f"{name} is tight in {_where(tight, columns[name])}{dips(tight, units)}"
    for name in rest:
        yield _sentence(name, columns[name], units, brief)


def divided(lost: Sequence[Limit], units: str, where: str = "") -> Iterator[str]:
    """`but in 4 layers (well-mixed) part.psu 13.3 K over`, of limits that hold and break so."""
    if lost:
        first = lost[0]
        over = first.margin_quantity.shown(units).text(-first.margin)
        word = "short" if first.at_least else "over"
        more = f", and {len(lost) - 1} more" if len(lost) > 1 else ""
        yield f"{BUT} {where}{first.subject} {over} {word}{more}"


def bound(limit: Any, units: str) -> str:
    """A limit as people write it: 60 degC, not 60.0 degC."""
    number, _, unit = limit.quantity.shown(units).text(float(limit.bound)).rpartition(" ")
    return f"{number.removesuffix('.0')} {unit}".strip()


class Closeness(NamedTuple):
    """How far a design is from holding, the less the nearer: scenarios are those asked for."""

    failing: float  # in how many it fails; infinite: in every one
    unsolved: int  # in how many something has no solution
    void: int
    miss: float  # the largest share that a limit is missed by, of what is solved and not void

    @property
    def told(self) -> bool:
        """Whether the miss says all of it."""
        return not self.unsolved and not self.void and self.miss < math.inf


def closeness_of(failing: Iterable[tuple[str, int, float]], asked: Iterable[str]) -> Closeness:
    """From the runs that fail, (scenario asked for, index into STATUSES, miss), and all scenarios.

    The outages of each fan are one scenario however many fans there are, else one fan more would
    make a design worse.
    """
    runs = list(failing)
    entries, unsolved, void = (
        {entry for entry, status, _ in runs if status in among}
        for among in (range(len(STATUSES)), (UNSOLVED,), (VOID,))
    )
    known = [miss for _, status, miss in runs if status not in (UNSOLVED, VOID)]
    fails = math.inf if entries == set(asked) else len(entries)
    return Closeness(fails, len(unsolved), len(void), max(known, default=-math.inf))


def closeness(cells: Sequence[Any]) -> Closeness:
    """How far a design with these cells is from holding."""
    failing = [(c.asked, STATUSES.index(c.status), c.miss) for c in _failing(cells)]
    return closeness_of(failing, (cell.asked for cell in cells))


def _near(cells: Sequence[Any]) -> bool:
    """Whether numbers say how far a design is off, or it holds somewhere."""
    return bool(cells) and (closeness(cells).told or len(_failing(cells)) < len(cells))


def sound(cells: Sequence[Any]) -> bool:
    """Whether a variant with these cells holds in all of them."""
    return bool(cells) and not _failing(cells)


def _failing(cells: Sequence[Any]) -> list[Any]:
    return [cell for cell in cells if not cell.holds]


def _sentence(name: str, cells: Sequence[Any], units: str, brief: bool) -> str:
    """`bigger-vent holds everywhere except fan.right-out`, or how often it does not."""
    if not cells:
        return f"{name}: no scenario applies"
    failing = _failing(cells)
    if all(cell.status == "unknown" and not cell.subject for cell in failing):
        return f"{name} has no limit to hold"
    why = "; ".join(_why(failing, units, brief))
    if len(failing) == len(cells):
        if len(cells) == 1:
            return f"{name} does not hold in {cells[0].scenario} ({why})"
        return f"{name} holds nowhere ({why})"
    few = 2 * closeness(cells).failing < len({cell.asked for cell in cells})
    if len(failing) <= NAMED_SINGLY and few:
        return f"{name} holds everywhere except {listed([c.scenario for c in failing])} ({why})"
    return f"{name} fails in {len(failing)} of {len(cells)} scenarios ({why})"


def _why(failing: Sequence[Any], units: str, brief: bool) -> Iterator[str]:
    """Causes before what follows from them: no solution, what is void, what is broken."""
    by = sorted(failing, key=lambda cell: cell.order)
    for status, words in (("unsolved", "no solution"), ("void", "void: ")):
        found = [cell for cell in failing if cell.status == status]
        if found:
            where = f" in {found[0].scenario}" if len(failing) > 1 else ""
            why = words.rstrip(": ") if brief else f"{words}{told(found[0].void, units)}"
            yield f"{why}{where}{_others(found)}"
    over = [cell for cell in by if broken(cell.limit, cell.margin)]
    unknown = [cell for cell in by if cell.status == "unknown"]
    sound = [cell for cell in over if cell.status == "over"]
    if over:
        worst = (sound or over)[0]
        paper = "" if sound else "on paper "
        yield f"{paper}worst {number(worst, units)} at {worst.subject}"
    elif unknown:
        yield f"a limit without a value in {listed([cell.scenario for cell in unknown])}"


def dips(cells: Sequence[Any], units: str) -> str:
    """` (fan.right in stall in hot+fan.left-out)`."""
    found = [cell for cell in cells if cell.in_dip]
    if not found:
        return ""
    return f" ({told(found[0].in_dip, units)} in {found[0].scenario}{_others(found)})"


def _others(some: Sequence[Any]) -> str:
    """Behind the first of some."""
    return f", and in {len(some) - 1} more" if len(some) > 1 else ""


def _where(some: Sequence[Any], cells: Sequence[Any]) -> str:
    if len(some) <= NAMED_SINGLY:
        return listed([cell.scenario for cell in some])
    return f"{len(some)} of {len(cells)} scenarios"


def short(cell: Any, units: str = "metric", mark: str = "") -> str:
    """`-1.5 K over`, with a mark behind it; words where there is no number."""
    if cell is None:
        return "-"
    if cell.status == "unsolved":
        return f"unsolved{mark}"
    word = str(cell.word) if cell.subject or cell.void else "no limit"
    return (f"{number(cell, units)} {word}" if cell.subject else word) + mark


def stated(cell: Any, units: str = "metric") -> str:
    """Its margin, what makes that void, or that there is none."""
    if cell.status == "unsolved":
        return "no solution"
    return f"void: {told(cell.void, units)}" if cell.void else number(cell, units)


def number(cell: Any, units: str = "metric") -> str:
    """Its margin, `-1.5 K`; `-` where it has none."""
    return "-" if cell is None else margin_text(cell.margin, cell.margin_quantity, units)


def margin_text(margin: float | None, quantity: Quantity | None, units: str) -> str:
    """`+4.2 K`; `-` where there is none."""
    if margin is None or quantity is None or not math.isfinite(margin):
        return "-"
    return quantity.shown(units).text(margin, "+")
