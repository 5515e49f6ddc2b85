"""What a comparison says in words: which variant holds where."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

NAMED = 3  # variants or scenarios named one by one


def sentences(columns: Mapping[str, Sequence[Any]], units: str = "metric") -> Iterator[str]:
    """The verdict first, then one sentence for each variant that it leaves open.

    `columns`: variant -> its cells, each with `scenario`, `status`, `order`, `subject`, `margin`.
    """
    good = [name for name, cells in columns.items() if _sound(cells)]
    rest = [name for name in columns if name not in good]
    rest.sort(key=lambda name: -_worst(columns[name]).order if columns[name] else 0)
    if good:
        where = "everywhere" if len(columns[good[0]]) > 1 else f"in {columns[good[0]][0].scenario}"
        yield f"{listed(good)} {'holds' if len(good) == 1 else 'hold'} {where}"
    elif len(rest) > 1:
        closest = rest.pop(0)
        words = _sentence("it", columns[closest], units)
        yield f"no variant holds everywhere; {closest} comes closest: {words}"
    for name in good:
        tight = [cell for cell in columns[name] if cell.status == "tight"]
        if tight:
            yield f"{name} is tight in {_where(tight, columns[name])}"
    for name in rest:
        yield _sentence(name, columns[name], units)


def _sound(cells: Sequence[Any]) -> bool:
    return bool(cells) and all(cell.status in ("ok", "tight") for cell in cells)


def _failing(cells: Sequence[Any]) -> list[Any]:
    return [cell for cell in cells if cell.status not in ("ok", "tight")]


def _worst(cells: Sequence[Any]) -> Any:
    return min(cells, key=lambda cell: cell.order)


def _sentence(name: str, cells: Sequence[Any], units: str) -> str:
    """`bigger-vent holds everywhere except fan.right-out`, or how often it does not."""
    if not cells:
        return f"{name}: no scenario applies"
    failing = _failing(cells)
    if all(cell.status == "unknown" and not cell.subject for cell in failing):
        return f"{name} has no limit to hold"
    worst = _worst(failing)
    why = f"worst {number(worst, units)} at {worst.subject}"
    if worst.status == "unsolved":
        why = "no solution" if len(failing) == 1 else f"no solution in {worst.scenario}"
    if len(failing) == len(cells):
        if len(cells) == 1:
            return f"{name} does not hold in {cells[0].scenario} ({why})"
        where = "nowhere"
        return f"{name} holds {where} ({why})"
    if len(failing) <= NAMED and 2 * len(failing) <= len(cells):
        return f"{name} holds everywhere except {listed([c.scenario for c in failing])} ({why})"
    return f"{name} fails in {len(failing)} of {len(cells)} scenarios ({why})"


def _where(some: Sequence[Any], cells: Sequence[Any]) -> str:
    if len(some) <= NAMED:
        return listed([cell.scenario for cell in some])
    return f"{len(some)} of {len(cells)} scenarios"


def listed(names: Sequence[str], word: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`, `a, b, c and 4 more`."""
    shown = list(names[:NAMED])
    if len(names) > NAMED:
        shown.append(f"{len(names) - NAMED} more")
    return f" {word} ".join([", ".join(shown[:-1]), shown[-1]]) if len(shown) > 1 else shown[0]


def short(cell: Any, units: str = "metric") -> str:
    """`-1.5 K over`; words where there is no number."""
    if cell is None:
        return "-"
    if cell.status == "unsolved":
        return "unsolved"
    if not cell.subject:
        return "no limit"
    return f"{number(cell, units)} {cell.word}"


def number(cell: Any, units: str = "metric") -> str:
    """Its margin, `-1.5 K`; `-` where it has none."""
    if cell is None or not math.isfinite(cell.margin):
        return "-"
    text: str = cell.margin_quantity.shown(units).text(cell.margin, "+")
    return text
