"""What is remembered of all rows of a sweep while they go by: counts, the best, the worst few."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from flownet.judging.assessment import STATUSES, UNSOLVED
from flownet.studies.sweep_rows import Block, Layout, word

KEPT = 12  # worst rows
HOLD = ("ok", "tight")
Row = Mapping[str, Any]  # path -> SI number, word or None; `row` is its number


@dataclass(frozen=True)
class Tally:
    """Plain data, so that it can be written beside a file and read again."""

    counts: Mapping[str, int] = field(default_factory=lambda: dict.fromkeys(STATUSES, 0))
    worst: tuple[Row, ...] = ()  # in order, the worst first
    best: Row | None = None  # of those that were solved

    @property
    def rows(self) -> int:
        """How many went by."""
        return sum(self.counts.values())

    @property
    def holds(self) -> int:
        """In how many every limit holds."""
        return sum(self.counts[status] for status in HOLD)

    def to_dict(self) -> dict[str, Any]:
        """As JSON takes it."""
        return {"counts": dict(self.counts), "worst": list(self.worst), "best": self.best}

    @classmethod
    def from_dict(cls, found: Mapping[str, Any]) -> Tally:
        """What `to_dict` made."""
        return cls(found["counts"], tuple(found["worst"]), found["best"])

    def after(self, case: Any, shape: Layout, block: Block) -> Tally:
        """With a further block."""
        status = block.order[:, 0].astype(int)
        ranked = np.lexsort(block.order.T[::-1])  # the first of equal ones stays first
        counts = {word: self.counts.get(word, 0) + int((status == i).sum())
                  for i, word in enumerate(STATUSES)}  # fmt: skip
        low = [_row(case, shape, block, i) for i in ranked[:KEPT].tolist()]
        worst = sorted([*self.worst, *low], key=_key)[:KEPT]
        best = self.best
        if status[ranked[-1]] != UNSOLVED:
            top = (block.order == block.order[ranked[-1]]).all(axis=1).argmax()
            row = _row(case, shape, block, int(top))
            best = row if best is None or _key(row)[:3] > _key(best)[:3] else best
        return Tally(counts, tuple(worst), best)


def _key(row: Row) -> tuple[Any, ...]:
    return (*row["order"], row["row"])


def _row(case: Any, shape: Layout, block: Block, place: int) -> Row:
    found = dict(_values(case, shape, block, place))
    order = [float(value) for value in block.order[place]]
    return found | {"row": block.start + place, "order": order}


def _values(case: Any, shape: Layout, block: Block, place: int) -> Iterator[tuple[str, Any]]:
    for column in shape.columns:
        value = block.columns[column.path][place]
        if column.quantity is None:
            yield column.path, word(case, column.path, value)
        else:
            yield column.path, float(value) if np.isfinite(value) else None
