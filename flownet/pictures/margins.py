"""Every margin on one scale, as a share of what its limit allows; the worst on top."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from flownet.judging.assessment import THERMAL
from flownet.pages.verdict import ranked, verdict
from flownet.pictures import style
from flownet.pictures.labels import NAME_PLATE, TextColumn, columns, ends
from flownet.pictures.style import Axes
from flownet.results.limits import Limit
from flownet.results.solution import Solution
from flownet.schema import quantities as q
from flownet.schema.fault import listed

LIMIT_ROW = 5.7  # mm
MOST_LIMITS = 60  # rows
FILLS = {"over": style.OVER, "short": style.OVER, "tight": style.TIGHT}


class LimitRow(NamedTuple):
    """A limit, and others of the same numbers; as `ranked` says how it stands."""

    limit: Limit
    word: str
    share: float  # of what is allowed; NaN where it is not known
    subjects: list[str]

    @property
    def end(self) -> float:
        """Of the bar."""
        return 0.0 if math.isnan(self.share) else max(self.share, style.CUT_AT)

    @property
    def told(self) -> str:
        """Beside the bar: `−17 %  over`."""
        far = "◂ " if self.share < style.CUT_AT else ""
        share = f"{100 * self.share:.0f} %" if math.isfinite(self.share) else ""
        return f"{far}{share}  {self.word.removeprefix('ok')}".strip().replace("-", "−")


@style.picture(Solution)
def margins(solution: Solution, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """Every limit as a bar from zero: its margin as a share of what it allows, the worst on top.

    Parameters
    ----------
    solution : Solution
        One solved enclosure; of a batch, `batch.select(i)`.
    ax : Axes, optional
        Shares to the right, 0 at the limit, broken ones left of it and hatched; a row a
        limit, or several of the same numbers, 0 on top.
    units : "metric" or "us"
    """
    found = _rows(solution)
    rows, tall = found[:MOST_LIMITS], LIMIT_ROW * max(len(found[:MOST_LIMITS]), 1)
    title = ". ".join(sentence.plain(units) for sentence in verdict(solution, units))
    paper = style.Paper(ax, title, style.caption(solution, units), tall + 17.0,
                        _notes(solution, found, units))  # fmt: skip
    ax = paper.chart(94.0, 6.0, 72.0, tall)
    _bars(ax, solution, rows)
    bold = [i for i, row in enumerate(rows) if FILLS.get(row.word) == style.OVER]
    columns(ax, paper, [
        TextColumn("limit of", -92.0, [listed(row.subjects, 2, ", ") for row in rows], "left",
                   bold, 36.0),
        TextColumn("value", -42.0, _texts(rows, "value", units), "right"),
        TextColumn("limit", -22.5, _texts(rows, "bound", units), "right"),
        TextColumn("margin", -3.0, _texts(rows, "margin", units), "right", bold),
    ])  # fmt: skip
    return ax


def height(solution: Solution, wide: float) -> float:
    """Of its axes [mm], however wide they are, with what stands below them."""
    return LIMIT_ROW * max(len(_rows(solution)[:MOST_LIMITS]), 1) + 11.0


def _rows(solution: Solution) -> list[LimitRow]:
    """The least share first; what is not known last."""
    found: dict[tuple[str, ...], LimitRow] = {}
    for item, word in ranked(solution):
        share = style.left(item, float(item.margin), solution.site["temperature"])
        alike = item.limit, f"{share:.9g}", f"{item.bound:.9g}"
        found.setdefault(alike, LimitRow(item, word, share, [])).subjects.append(item.subject)
    return sorted(found.values(), key=lambda row: (math.isnan(row.share), row.share))


def _bars(ax: Axes, solution: Solution, rows: Sequence[LimitRow]) -> None:
    """Bars with their words, and where the margin that is wanted ends."""
    want, outside = solution.case.limits.margin, solution.site["temperature"]
    low, high = ends(ax, [*(row.end for row in rows), 1.0], [*(row.told for row in rows), ""])
    style.bars(ax, len(rows), (min(low, -0.08), high), zero=False)
    style.limit(ax, 0.0, min(low, -0.08), "y")
    for y, row in enumerate(rows):
        fill, room = FILLS.get(row.word, style.OK), row.limit.bound - outside
        style.bar(ax, y, 0.0, row.end, fill, beyond="white")
        aim = want / room if row.limit.limit in THERMAL and room > 0 else math.nan
        if aim <= 1.0:
            ax.plot([aim, aim], [y - 0.42, y + 0.42], color=style.INK, linewidth=0.9, zorder=5)
        broken = fill == style.OVER
        beyond = aim if not broken and row.end < aim <= 0.6 else row.end  # else over the tick
        style.beside(ax, row.told, (beyond, y), (-3 if broken else 4, 0), "xy", va="center",
                     ha="right" if broken else "left", size=style.MEDIUM, color=style.INK,
                     weight="normal" if row.word == "ok" else "bold", zorder=6,
                     bbox=NAME_PLATE)  # fmt: skip
    style.shares(ax, low)


def _texts(rows: Sequence[LimitRow], name: str, units: str) -> list[str]:
    """A column; a dash where there is no number."""
    sign = "+" if name == "margin" else ""
    found = [(row.limit.margin_quantity if sign else row.limit.quantity,
              float(getattr(row.limit, name))) for row in rows]  # fmt: skip
    return [quantity.shown(units).text(value, sign).replace("-", "−") if math.isfinite(value)
            else "–" for quantity, value in found]  # fmt: skip


def _notes(solution: Solution, rows: Sequence[LimitRow], units: str) -> Iterator[str]:
    yield ("100 %: nothing used of what is allowed: of a temperature, the rise over the outside "
           "air; of noise, the sound power; of a least value, what there is. 0: at the limit; left "
           "of it, hatched: broken.")  # fmt: skip
    if any(row.limit.limit in THERMAL for row in rows):
        want = q.DIFFERENCE.shown(units).text(solution.case.limits.margin)
        yield f"Upright tick: the margin that is wanted, {want}; less is tight (ochre)."
    if len(rows) > MOST_LIMITS:
        yield f"{len(rows) - MOST_LIMITS} limits with more margin are not drawn."
