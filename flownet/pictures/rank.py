"""What moves a result, as bars from a zero line: the largest effect on top."""

from __future__ import annotations

from collections.abc import Sequence

from flownet.judging.voids import told
from flownet.pictures import style
from flownet.pictures.style import Axes
from flownet.pictures.tables import Column, columns, ends
from flownet.schema import quantities as q
from flownet.studies.rank import EffectText, Ranking
from flownet.studies.tolerances import difference

ROW = 5.6  # mm
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
    texts = [ranking.texts(effect, units) for effect in ranking.effects[: style.LISTED]]
    tall = ROW * max(len(texts), 1)
    paper = style.Paper(ax, _verdict(ranking, units), style.caption(ranking.solution, units),
                        tall + 18.0, _notes(ranking, units))  # fmt: skip
    ax = paper.chart(98.0, 6.0, 68.0, tall)
    _bars(ax, paper, ranking, texts, units)
    return ax


def _bars(
    ax: Axes, paper: style.Paper, found: Ranking, texts: Sequence[EffectText], units: str
) -> None:  # fmt: skip
    quantity = difference(found.quantity)
    change = style.shown(quantity, [effect.change for effect in found.effects[: len(texts)]], units)
    for row, (value, text) in enumerate(zip(change.tolist(), texts, strict=True)):
        up = value > 0
        style.bar(ax, row, 0.0, value, style.INK if up else "white")
        ax.annotate(style.pretty(text.change), (value, row), (3 if up else -3, 0), va="center",
                    textcoords="offset points", ha="left" if up else "right", zorder=5)  # fmt: skip
        if row % 2 and paper.ax is None:
            ax.axhspan(row - 0.5, row + 0.5, xmin=-94 / 68, color=style.GROUND, linewidth=0,
                       zorder=0, clip_on=False)  # fmt: skip
    columns(ax, paper, [
        Column("input", -93.0, [text.path for text in texts], wide=61.0),
        Column("value", -17.0, [text.value for text in texts], "right"),
        Column("step", -2.0, [text.step for text in texts], "right"),
    ])  # fmt: skip
    ax.axvline(0.0, color=style.INK, linewidth=1.4, zorder=4)
    ax.set(xlim=ends(ax, change.tolist(), [text.change for text in texts]),
           ylim=(len(texts) - 0.4, -0.6),
           xlabel=style.named(f"change of {found.of}", quantity, units))  # fmt: skip
    ax.spines["left"].set_visible(False)
    for word, up in zip(WORDS.get(found.quantity, ("less", "more")), (False, True), strict=True):
        if any((value > 0) == up for value in change):
            ax.annotate(word, (0, 1), (4 if up else -4, 5), xycoords=ax.get_xaxis_transform(),
                        textcoords="offset points", ha="left" if up else "right",
                        size=style.SMALL, color=style.QUIET)  # fmt: skip


def _verdict(found: Ranking, units: str) -> str:
    """What is void first; then what moves the result most, and what it is."""
    value = found.quantity.shown(units).text(found.value)
    void = f"Void: {told(found.solution.void, units)}; on paper " if found.solution.void else ""
    if not found.effects:
        return f"{void}no input moves {found.of}, {value}"
    first = found.texts(found.effects[0], units)
    return (f"{void}{first.path} moves {found.of} most: {first.step} gives {first.change}, "
            f"from {value}")  # fmt: skip


def _notes(found: Ranking, units: str) -> list[str]:
    more = len(found.effects) - style.LISTED
    return [*([f"{more} smaller effects are not drawn."] if more > 0 else []),
            "Solid bars to the right raise it, hollow ones to the left lower it.",
            found.steps_in(units)]  # fmt: skip
