"""What must hold for every picture as it is printed: read from the figure, not from its plan."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib import font_manager
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

SMALLEST, WIDEST = 6.0, 180.0  # points, mm
SLACK = 0.8  # pixels


def texts(figure: Figure) -> list[Text]:
    """Every text that is drawn."""
    found = [*figure.texts, *(text for ax in figure.axes for text in _of(ax))]
    return [text for text in found if text.get_visible() and text.get_text().strip()]


def _of(ax: Any) -> Iterator[Text]:
    yield from (*ax.texts, ax.title, ax._left_title)
    for axis in (ax.xaxis, ax.yaxis):
        if ax.axison and axis.get_visible():
            yield axis.label
            for tick in axis._update_ticks():
                yield from (tick.label1, tick.label2)
    for child in ax.child_axes:
        yield from _of(child)


def faults(figure: Figure, widest: float = WIDEST, smallest: float = SMALLEST) -> list[str]:
    """Letters too small or from elsewhere, words off the page or over one another, a wide page."""
    renderer: Any = FigureCanvasAgg(figure).get_renderer()
    figure.draw_without_rendering()  # all is laid out, no pixel is painted
    bundled, page = Path(mpl.get_data_path()) / "fonts", figure.bbox
    found = [] if 25.4 * figure.get_figwidth() < widest + 0.01 else ["too wide"]
    boxes = []
    for text in texts(figure):
        box = Text.get_window_extent(text, renderer)
        name = repr(text.get_text())
        if text.get_fontsize() < smallest - 1e-6:
            found.append(f"{name} is too small")
        if bundled not in Path(font_manager.findfont(text.get_fontproperties())).parents:
            found.append(f"{name} has a foreign font")
        if box.x0 < page.x0 or box.y0 < page.y0 or box.x1 > page.x1 or box.y1 > page.y1:
            found.append(f"{name} leaves the page")
        if text.get_rotation() % 90 == 0:
            boxes.append((name, box))
    for (a, first), (b, second) in combinations(boxes, 2):
        wide = min(first.x1, second.x1) - max(first.x0, second.x0)
        tall = min(first.y1, second.y1) - max(first.y0, second.y0)
        if wide > SLACK and tall > SLACK:
            found.append(f"{a} covers {b}")
    return found
