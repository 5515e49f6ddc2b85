"""Every limit on one scale, as the share that is left of what it allows; the worst on top."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from flownet.judging.assessment import THERMAL
from flownet.pages.verdict import ranked, verdict
from flownet.pictures import style
from flownet.pictures.labels import NAME_PLATE, TextColumn, columns
from flownet.pictures.style import Axes
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed

LIMIT_ROW = 5.7  # mm
MOST_LIMITS = 60  # rows
AXES_LEFT, AXES_WIDE = 94.0, 66.0  # mm, of the axes
FILLS = {"over": style.OVER, "short": style.OVER, "tight": style.TIGHT}


class LimitRow(NamedTuple):
    """A limit, and others of the same numbers; as `ranked` says how it stands."""

    limit: Limit
    word: str
    share: float  # that is left; NaN where it is not known
    subjects: list[str]

    @property
    def told(self) -> str:
        """Beside the bar: `−17 %  over`."""
        if math.isnan(self.share):
            return self.word
        far = "◂ " if self.share < style.CUT_AT else ""
        share = f"{100 * self.share:.0f} %" if math.isfinite(self.share) else ""
        word = "" if self.word == "ok" else self.word
        return f"{far}{share}  {word}".strip().replace("-", "−")


@style.picture(Solution)
def margins(solution: Solution, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Every limit as a bar from zero: the share left of what it allows, the worst on top.

    Parameters
    ----------
    solution : Solution
        One solved enclosure; of a batch, `batch.select(i)`.
    ax : Axes, optional
        The share left to the right, 0 at the limit, broken ones left of it and hatched; a row a
        limit, or several of the same numbers, 0 on top.
    units : "metric" or "us"
    """
    found = _rows(solution)
    rows, tall = found[:MOST_LIMITS], LIMIT_ROW * max(len(found[:MOST_LIMITS]), 1)
    title = ". ".join(sentence.plain(units) for sentence in verdict(solution, units))
    paper = style.Paper(ax, title, style.caption(solution, units), tall + 17.0,
                        _notes(solution, found, units))  # fmt: skip
    ax = paper.chart(AXES_LEFT, 6.0, AXES_WIDE, tall)
    _bars(ax, solution, rows)
    bold = [i for i, row in enumerate(rows) if row.word in ("over", "short")]
    columns(ax, paper, [
        TextColumn("limit of", -92.0, [listed(row.subjects, 2, ", ") for row in rows], "left",
                   bold, 36.0),
        TextColumn("value", -42.0, _texts(rows, "value", units), "right"),
        TextColumn("limit", -22.5, _texts(rows, "bound", units), "right"),
        TextColumn("left", -3.0, _texts(rows, "margin", units), "right", bold),
    ])  # fmt: skip
    return ax


def _rows(solution: Solution) -> list[LimitRow]:
    """The least share first; what is not known last."""
    found: list[LimitRow] = []
    for item, word in ranked(solution):
        share = style.left(item, float(item.margin), solution.site["temperature"])
        for row in found:
            if item.limit == row.limit.limit and _same(share, row.share) and _same(
                    item.bound, row.limit.bound):  # fmt: skip
                row.subjects.append(item.subject)
                break
        else:
            found.append(LimitRow(item, word, share, [item.subject]))
    return sorted(found, key=lambda row: math.inf if math.isnan(row.share) else row.share)


def _same(one: float, other: float) -> bool:
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9)


def _bars(ax: Axes, solution: Solution, rows: Sequence[LimitRow]) -> None:
    """Bars with their words, and where the margin that is wanted ends."""
    want, outside = solution.case.limits.margin, solution.site["temperature"]
    low = _low(rows)
    style.bars(ax, len(rows), (low, 1.0), zero=False)
    style.limit(ax, 0.0, low, "y")
    for y, row in enumerate(rows):
        end = max(row.share, style.CUT_AT) if not math.isnan(row.share) else 0.0
        broken = row.word in ("over", "short")
        style.bar(ax, y, 0.0, end, FILLS.get(row.word, style.OK))
        if broken:
            style.bar(ax, y, 0.0, end, "none", linewidth=0, edgecolor="white", hatch="/////",
                      zorder=3.5)  # fmt: skip
        room = row.limit.bound - outside
        aim = want / room if row.limit.limit in THERMAL and room > 0 else math.nan
        if aim <= 1.0:
            ax.plot([aim, aim], [y - 0.42, y + 0.42], color=style.INK, linewidth=0.9, zorder=5)
        beyond = aim if not broken and end < aim <= 0.6 else end  # else over the tick
        style.beside(ax, row.told, (beyond, y), (-3 if broken else 4, 0), "xy", va="center",
                     ha="right" if broken else "left", size=style.BODY, color=style.INK,
                     weight="normal" if row.word == "ok" else "bold", zorder=6,
                     bbox=NAME_PLATE)  # fmt: skip
    style.shares(ax, low)


def _low(rows: Sequence[LimitRow]) -> float:
    """Where the scale begins, so that words beside bars left of zero have room."""
    low, wide = -0.08, AXES_WIDE / style.POINT
    for row in rows:
        if row.share < 0:
            words = (style.width(row.told, style.BODY, True) + 8.0) / wide
            low = min(low, (max(row.share, style.CUT_AT) - words) / (1.0 - words))
    return low


def _texts(rows: Sequence[LimitRow], name: str, units: str) -> list[str]:
    """A column; a dash where there is no number."""
    made = []
    for row in rows:
        value = float(getattr(row.limit, name))
        quantity = row.limit.margin_quantity if name == "margin" else row.limit.quantity
        text = quantity.shown(units).text(value, "+" if name == "margin" else "")
        made.append(text.replace("-", "−") if math.isfinite(value) else "–")
    return made


def _notes(solution: Solution, rows: Sequence[LimitRow], units: str) -> Iterator[str]:
    yield ("100 %: nothing used of what is allowed: of a temperature, the rise over the outside "
           "air; of noise, the sound power; of a least value, what there is. 0: at the limit; left "
           "of it, hatched: broken.")  # fmt: skip
    if any(row.limit.limit in THERMAL for row in rows):
        want = q.DIFFERENCE.shown(units).text(solution.case.limits.margin)
        yield f"Upright tick: {want} left, the margin that is wanted; less is tight (ochre)."
    if len(rows) > MOST_LIMITS:
        yield f"{len(rows) - MOST_LIMITS} limits with more left are not drawn."
