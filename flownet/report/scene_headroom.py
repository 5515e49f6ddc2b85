"""Margins of the limits over one key: today's value, and where the first limit breaks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple, Protocol

import flownet
from flownet import quantities as q
from flownet.enclosure.whole import Enclosure
from flownet.errors import CaseError
from flownet.report import look, scene_page, scene_words
from flownet.report.heading import titled
from flownet.report.scene import Drawing, Layer, Scene, Words, line, stacked
from flownet.report.scene_letters import wrap
from flownet.report.scene_plot import Plot
from flownet.report.scene_sweep import FRAME, LINES, MARGIN, Drawn, Key, title
from flownet.report.scene_sweep_lines import _plot, graphs
from flownet.report.scene_words import Units, pretty

THERMAL = ("part", "air")
DASH = (2.0, 3.0)  # of today's value


class Found(Protocol):
    """How far a key of a case can go."""

    @property
    def case(self) -> Enclosure:
        """In its scenario and variant."""

    @property
    def subject(self) -> Any:
        """With `path`, `quantity`, `factor`, `present` and `text(value, units)`."""

    @property
    def scan(self) -> Sequence[Any]:
        """Points by value, each with `margins` by limit and subject."""

    @property
    def value(self) -> float:
        """Where the first limit breaks; NaN where none does."""

    def verdicts(self, units: str = "metric") -> Sequence[str]:
        """In words."""


class Line(NamedTuple):
    """Margins of one limit, one a point; NaN where it does not apply."""

    name: str
    values: tuple[float, ...]

    @property
    def least(self) -> float:
        """The smallest."""
        return min((value for value in self.values if math.isfinite(value)), default=math.inf)


def headroom_scene(found: Found, units: str = "metric", changed: Sequence[str] = ()) -> Scene:
    """The picture as a scene; CaseError where there is no temperature limit to draw."""
    every = sorted(_lines(found), key=lambda item: item.least)
    if not every:
        raise CaseError(f"{found.subject.path}: no temperature limit has a margin to draw")
    shown, drawing = every[:LINES], Drawing(changed=changed)
    drawn = _drawn(found, shown)
    graphs(drawing, drawn, Units(units))
    plot = _plot(drawn)[0]
    _clear(drawing, plot, Units(units))
    _mark(drawing, plot, found.subject.present, "today", DASH)
    if math.isfinite(found.value):
        text = found.subject.text(found.value, units)
        _mark(drawing, plot, found.value, pretty(text), ())
    _around(drawing, found, len(every) - len(shown), units)
    return drawing.scene(MARGIN, found.case.title)


def _lines(found: Found) -> list[Line]:
    names: Mapping[tuple[str, str], None] = dict.fromkeys(
        name for point in found.scan for name in point.margins if name[0] in THERMAL
    )
    return [Line(name[1], tuple(point.margins.get(name, math.nan) for point in found.scan))
            for name in names]  # fmt: skip


def _drawn(found: Found, shown: Sequence[Line]) -> Drawn:
    """As a sweep is drawn: one line a limit, the margin of zero as the limit."""
    subject = found.subject
    path = f"factor on {subject.path}" if subject.factor else subject.path
    values = [point.value for point in found.scan]
    x = Key(path, subject.quantity, values, ())
    names = Key("limit of", None, [float(i) for i in range(len(shown))],
                tuple(item.name for item in shown))  # fmt: skip
    rows = [[item.values[i] for item in shown] for i in range(len(values))]
    return Drawn("margin", q.DIFFERENCE, x, names, rows, 0.0, False, ())


def _clear(drawing: Drawing, plot: Plot, units: Units) -> None:
    """Paper under the name of the side, which an upright line may pass."""
    name = Words(plot.rect.x0 - 24.0, plot.rect.y1 + 8.0, title(plot.up, units), look.BODY)
    drawing.area(Layer.PLATE, name.rect.grown(1.5), look.PAPER)


def _mark(drawing: Drawing, plot: Plot, value: float, text: str, dash: tuple[float, ...]) -> None:
    """An upright line through the frame, its words above it."""
    x, rect = plot.at(value, plot.up.low)[0], plot.rect
    # above the name of the side; today's words stand a line higher, so that the two do not meet
    high = rect.y1 + (33.0 if dash else 21.0)
    drawing.add(Layer.MARK, line([(x, rect.y0), (x, high - 3.0)], look.INK, look.LINE, dash))
    words = Words(x, high, text, look.BODY, not dash, align="centre")
    drawing.area(Layer.PLATE, words.rect.grown(1.5), look.PAPER)
    drawing.add(Layer.LETTER, words)


def _around(drawing: Drawing, found: Found, more: int, units: str) -> None:
    """Head lines above; the verdict, what is not drawn and the signature below."""
    case, applied = found.case, found.case.applied
    wide = max(drawing.rect.x1 + 24.0, FRAME.wide)
    heads = [
        (f"Headroom of {found.subject.path}", look.TITLE, True, look.INK),
        (titled(case), look.HEAD, True, look.INK),
        (f"{applied.variant} | {applied.scenario}", look.HEAD, True, look.INK),
    ]
    scene_page.head(drawing, (-24.0, FRAME.y1 + 58.0), wide, heads)
    told = [(pretty(text), look.INK) for text in found.verdicts(units)]
    if more:
        told.append((f"{more} limits with more room are not drawn.", look.QUIET))
    others = dict.fromkeys(name[1] for point in found.scan for name in point.margins
                           if name[0] not in THERMAL)  # fmt: skip
    if others:
        told.append((f"Not drawn, as no temperature: {', '.join(others)}.", look.QUIET))
    told.append((scene_words.signature(case, flownet.__version__), look.QUIET))
    rows = [Words(0, 0, text, look.SMALL, False, colour)
            for words, colour in told for text in wrap(words, look.SMALL, False, wide)]  # fmt: skip
    placed, _ = stacked(rows, -24.0, FRAME.y0 - 36.0)
    drawing.add(Layer.LETTER, *placed)
