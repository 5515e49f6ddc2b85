"""What is remembered of all rows of a sweep while they go by: counts, the best, the worst few."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from flownet.enclosure.enclosure import Enclosure
from flownet.judging.assessment import STATUSES, UNSOLVED
from flownet.pages.page import spaced
from flownet.schema.arrays import Array
from flownet.studies.outcome import SOUND
from flownet.studies.sweep_rows import Block, SweepLayout, word

REMEMBERED = 12  # rows that are remembered
Row = Mapping[str, Any]  # path -> SI number, word or None; `row` is its number


@dataclass(frozen=True)
class Tally:
    """Plain data, so that it can be written beside a file and read again."""

    counts: Mapping[str, int] = field(default_factory=lambda: dict.fromkeys(STATUSES, 0))
    worst: Sequence[Row] = ()  # in order, the worst first
    best: Row | None = None  # of those that were solved

    @property
    def rows(self) -> int:
        """How many went by."""
        return sum(self.counts.values())

    @property
    def holds(self) -> int:
        """In how many every limit holds."""
        return sum(self.counts[status] for status in SOUND)

    @property
    def words(self) -> str:
        """How many hold, are tight, void, or have no solution."""
        rows, holds, counts = self.rows, self.holds, self.counts
        count = f"{spaced(holds)} of {spaced(rows)} combinations hold{'s' * (holds == 1)}"
        if rows == 1 > holds:
            count = "1 combination: it does not hold"
        if holds == rows:
            count = "all of them hold" if rows > 1 else "it holds"
            count = f"{spaced(rows)} combination{'s' if rows > 1 else ''}: {count}"
        if counts["tight"]:
            count += f", {spaced(counts['tight'])} of them tight"
        if counts["unknown"]:
            count += f"; {spaced(counts['unknown'])} without a limit to hold"
        if void := counts.get("void"):
            count += f"; {spaced(void)} {'is' if void == 1 else 'are'} void"
        if missing := counts["unsolved"]:
            count += f"; {spaced(missing)} {'has' if missing == 1 else 'have'} no solution"
        return count

    def after(self, case: Enclosure, shape: SweepLayout, block: Block) -> Tally:
        """With a further block."""
        status = block.order[:, 0].astype(int)
        ranked = np.lexsort(block.order.T[::-1])  # the first of equal ones stays first
        counts = {word: self.counts.get(word, 0) + int((status == i).sum())
                  for i, word in enumerate(STATUSES)}  # fmt: skip
        low = [_row(case, shape, block, i) for i in ranked[:REMEMBERED].tolist()]
        worst = sorted([*self.worst, *low], key=_key)[:REMEMBERED]
        best = self.best
        if status[ranked[-1]] != UNSOLVED:
            top = (block.order == block.order[ranked[-1]]).all(axis=1).argmax()
            row = _row(case, shape, block, int(top))
            best = row if best is None or _key(row)[:3] > _key(best)[:3] else best
        return Tally(counts, tuple(worst), best)


def _key(row: Row) -> tuple[Any, ...]:
    return (*row["order"], row["row"])


def row_at(
    case: Enclosure, shape: SweepLayout, columns: Mapping[str, Array], place: int
) -> dict[str, Any]:
    """One row: path -> SI number or word, None where there is no number."""
    found: dict[str, Any] = {}
    for column in shape.columns:
        value = columns[column.name][place]
        if column.quantity is None:
            found[column.name] = word(case, column.name, value)
        else:
            found[column.name] = float(value) if np.isfinite(value) else None
    return found


def _row(case: Enclosure, shape: SweepLayout, block: Block, place: int) -> Row:
    order = [float(value) for value in block.order[place]]
    return row_at(case, shape, block.columns, place) | {"row": block.start + place, "order": order}
