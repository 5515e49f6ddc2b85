"""What moves a result, as bars from a zero line: the largest effect on top."""

from __future__ import annotations

from flownet.pictures import style
from flownet.pictures.labels import TextColumn, columns, ends
from flownet.pictures.style import Axes
from flownet.schema import quantities as q
from flownet.studies.rank import Ranking
from flownet.studies.tolerances import difference

EFFECT_ROW = 5.6  # mm
WORDS = {q.TEMPERATURE: ("cooler", "warmer"), q.LEVEL: ("quieter", "louder")}


@style.picture(Ranking)
def rank(ranking: Ranking, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """What moves a result, as bars from a zero line, the largest effect on top.

    Parameters
    ----------
    ranking : Ranking
        From `flownet.rank`.
    ax : Axes, optional
        The change of the result to the right, in the unit shown; a row an input, 0 on top.
    units : "metric" or "us"
    """
    effects, quantity = ranking.effects[: style.BAR_ROWS], difference(ranking.quantity)
    texts = [ranking.texts(effect, units) for effect in effects]
    tall = EFFECT_ROW * max(len(texts), 1)
    paper = style.Paper(ax, ranking.verdicts(units)[0], style.caption(ranking.solution, units),
                        tall + 18.0, _notes(ranking, units))  # fmt: skip
    ax = paper.chart(98.0, 6.0, 68.0, tall)
    change = style.shown(quantity, [effect.change for effect in effects], units).tolist()
    for row, (value, text) in enumerate(zip(change, texts, strict=True)):
        up = value > 0
        style.bar(ax, row, 0.0, value, style.INK if up else "white")
        style.beside(ax, style.pretty(text.change), (value, row), (3 if up else -3, 0), "xy",
                     va="center", ha="left" if up else "right", zorder=5, size=style.MEDIUM,
                     color=style.INK)  # fmt: skip
        if row % 2 and paper.ax is None:
            ax.axhspan(row - 0.5, row + 0.5, xmin=-94 / 68, color=style.GROUND, linewidth=0,
                       zorder=0, clip_on=False)  # fmt: skip
    columns(ax, paper, [
        TextColumn("input", -93.0, [text.path for text in texts], wide=61.0),
        TextColumn("value", -17.0, [text.value for text in texts], "right"),
        TextColumn("step", -2.0, [text.step for text in texts], "right"),
    ])  # fmt: skip
    style.bars(ax, len(texts), ends(ax, change, [text.change for text in texts]))
    ax.set_xlabel(style.named(f"change of {ranking.of}", quantity, units))
    less, more = WORDS.get(ranking.quantity, ("less", "more"))
    for word, up in ((less, False), (more, True)):
        if any((value > 0) == up for value in change):
            style.beside(ax, word, (0, 1), (4 if up else -4, 5), "x",
                         ha="left" if up else "right")  # fmt: skip
    return ax


def _notes(found: Ranking, units: str) -> list[str]:
    more = len(found.effects) - style.BAR_ROWS
    return [*([f"{more} smaller effects are not drawn."] if more > 0 else []),
            "Solid bars to the right raise it, hollow ones to the left lower it.",
            found.steps_in(units)]  # fmt: skip
