"""The best few fan types for a place: their curves, what the network asks, where each would work.

Numbers are ranks; the table below tells each. Where no type serves, those that come closest are
shown with the first reason against them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple, Protocol

import flownet
from flownet import quantities as q
from flownet.report import look, scene_page, scene_words
from flownet.report.heading import titled
from flownet.report.scene import Drawing, Layer, Point, Scene, Words, stacked
from flownet.report.scene_curves import (
    BEYOND,
    CLEAN,
    DIP,
    DOTS,
    FAN,
    FRAME,
    LOADED,
    MARGIN,
    WIDE_DOTS,
    Style,
    fan_line,
    line_in,
    line_list,
    name_line,
    span,
)
from flownet.report.scene_letters import width, wrap
from flownet.report.scene_plot import Axis, Plot, Room, frame
from flownet.report.scene_rings import RING, put_ring, ring_at, speed
from flownet.report.scene_words import Units, known
from flownet.solution import Solution

OTHER = Style(look.INK, look.THIN)
HEADS = ("", "type", "flow", "rise", "region", "speed", "margin", "noise", "excluded by")
NUMBERS = ("flow", "rise", "margin", "noise")
GAP = 12.0
FAR = 3.0  # times the largest flow and rise at which one works: what is shown
ROW = 2.1 * RING + 1.5


class Curves(Protocol):
    """What is drawn: flows [m3/s] and rises [Pa] of each of the fans that are chosen."""

    @property
    def choice(self) -> Any:
        """With `case`, `fans`, `scenarios`, `candidates` and `verdicts(units)`."""

    @property
    def solution(self) -> Solution:
        """Of the first of them."""

    @property
    def drawn(self) -> Sequence[Any]:
        """Each with `candidate`, `line`, `flow`, `rise`, `region` and its speed, in rank order."""

    @property
    def flow(self) -> Any:
        """Along the line of the network."""

    @property
    def rise(self) -> Any:
        """What it asks for."""


class Ring(NamedTuple):
    """A numbered row of the table."""

    number: str
    at: Point
    cells: tuple[str, ...]


def fan_choice_scene(curves: Curves, units: str = "metric", changed: Sequence[str] = ()) -> Scene:
    """The picture as a scene."""
    drawing, plot = Drawing(changed=changed), _plot(curves)
    frame(drawing, plot, units)
    room = Room(plot.rect.grown(-2.0))
    rings = _rings(curves, plot, Units(units))
    named = []
    for item, ring in zip(curves.drawn, rings, strict=True):
        style = FAN if ring is rings[0] else OTHER
        points = fan_line(drawing, plot, item.line, style, room)
        named.append((points, [f"{ring.number} {item.candidate.type}", ring.number], look.INK))
    asked = [plot.at(x, y) for x, y in zip(curves.flow, curves.rise, strict=True)]
    style = LOADED if _loaded(curves.solution) else CLEAN
    named.append((line_in(drawing, plot, asked, style, room), ["network"], style.colour))
    for ring in rings:
        ring_at(drawing, ring.at, ring.number, room)
    for points, texts, colour in named:
        name_line(drawing, room, points, texts, colour)
    sizes = _columns(rings)
    wide = max(plot.rect.wide + 44.0, sum(sizes))
    bottom = _table(drawing, rings, sizes, plot.rect.y0 - 44.0)
    bottom = line_list(drawing, _explained(curves, plot, Units(units)), bottom - 6.0, wide)
    _around(drawing, curves, plot, wide, bottom, units)
    return drawing.scene(MARGIN, curves.choice.case.title)


def _plot(curves: Curves) -> Plot:
    """From zero flow to free delivery, but not so far that where they work is a corner of it."""
    flows, rises = [], []
    for item in curves.drawn:
        for x, y, kind in zip(item.line.flow, item.line.rise, item.line.kind, strict=True):
            if kind != BEYOND:
                flows.append(float(x))
                rises.append(float(y))
        flows.append(item.flow)
        rises.append(item.rise)
    most = [FAR * max(getattr(item, name) for item in curves.drawn) for name in ("flow", "rise")]
    flows, rises = ([min(x, end) for x in found] if end > 0 else found
                    for found, end in zip((flows, rises), most, strict=True))  # fmt: skip
    across, up = span(flows, -1e-3), span(rises, -1e-2)
    return Plot(FRAME, Axis(q.VOLUME_FLOW, "flow", *across), Axis(q.PRESSURE, "rise", *up))


def _loaded(solution: Solution) -> bool:
    filters = solution.case.things["filter"].values()
    return any(item.fouling > 1 for item in filters if item.state == "fitted")


# --- the table ------------------------------------------------------------------------------------


def _rings(curves: Curves, plot: Plot, shown: Units) -> list[Ring]:
    found = []
    for number, item in enumerate(curves.drawn, 1):
        own, reasons = item.candidate.numbers, item.candidate.reasons
        region = scene_words.REGION_WORDS.get(item.region, item.region)
        found.append(Ring(str(number), plot.at(item.flow, item.rise), (
            item.candidate.type, shown.text(q.VOLUME_FLOW, item.flow),
            shown.text(q.PRESSURE, item.rise), region, speed(item, shown),
            shown.text(q.DIFFERENCE, own.margin, "+") if known(own.margin) else "",
            shown.text(q.LEVEL, own.noise) if known(own.noise) else "not stated",
            ", ".join(dict.fromkeys(WORDS.get(r.kind, r.kind) for r in reasons)),
        )))  # fmt: skip
    return found


WORDS = {"part": "part limit", "air": "air limit", "air-range": "air range"}


def _columns(rings: Sequence[Ring]) -> list[float]:
    """Width of each column; nothing for one without a word."""
    sizes = [2 * RING + GAP]
    for i, head in enumerate(HEADS[1:]):
        widest = max(width(ring.cells[i], look.BODY) for ring in rings)
        sizes.append(max(width(head, look.SMALL), widest) + GAP if widest else 0.0)
    return sizes


def _table(drawing: Drawing, rings: Sequence[Ring], sizes: Sequence[float], top: float) -> float:
    """The rings in words; returns its lower end."""
    edges = []
    for i, (head, size) in enumerate(zip(HEADS, sizes, strict=True)):
        left = sum(sizes[:i])
        edges.append((left + size - GAP, "right") if head in NUMBERS else (left, "left"))
        if head and size:
            x, align = edges[-1]
            drawing.add(Layer.LETTER, Words(x, top, head, look.SMALL, colour=look.QUIET,
                                            align=align))  # fmt: skip
    for number, ring in enumerate(rings, 1):
        y = top - ROW * number
        put_ring(drawing, (RING, y + 2.8), (RING, y + 2.8), ring.number)
        for (x, align), text in zip(edges[1:], ring.cells, strict=True):
            if text:
                drawing.add(Layer.LETTER, Words(x, y, text, look.BODY, align=align))
    return top - ROW * len(rings) - 8.0


# --- below and above ------------------------------------------------------------------------------


def _explained(curves: Curves, plot: Plot, shown: Units) -> Iterator[tuple[Style, str]]:
    first, count = curves.drawn[0], len(curves.choice.fans)
    thick = shown.text(q.DENSITY, first.density)
    more = "" if len(curves.drawn) == 1 else "; thin: the others"
    yield FAN, f"number 1, at its speed, in the air it draws, {thick}{more}"
    style = LOADED if _loaded(curves.solution) else CLEAN
    of = "of the fan" if count == 1 else f"of each of {count} fans"
    filters = ", filters loaded" if style is LOADED else ""
    yield style, f"what the network asks {of} in {curves.solution.scenario}{filters}"
    kinds = set(_seen(curves, plot))
    if DIP in kinds:
        yield FAN._replace(dash=WIDE_DOTS), "dip: one pressure belongs to several flows"
    if BEYOND in kinds:
        yield FAN._replace(dash=DOTS), "beyond the measured points: an assumption"


def _seen(curves: Curves, plot: Plot) -> Iterator[int]:
    """The kinds of what lies inside the frame."""
    for item in curves.drawn:
        for x, y, kind in zip(item.line.flow, item.line.rise, item.line.kind, strict=True):
            if 0 < plot.across.share(x) < 1 and 0 < plot.up.share(y) < 1:
                yield int(kind)


def _around(
    drawing: Drawing, curves: Curves, plot: Plot, wide: float, bottom: float, units: str
) -> None:
    """Head lines above, notes and signature below."""
    choice, solution = curves.choice, curves.solution
    fans = ", ".join(choice.fans)
    heads = [
        (scene_words.pretty(choice.verdicts(units)[0]), look.TITLE, True, look.INK),
        (titled(choice.case), look.HEAD, True, look.INK),
        (f"{fans}   scenario {solution.scenario}", look.HEAD, True, look.INK),
        (scene_words.surroundings(solution, Units(units)), look.BODY, False, look.QUIET),
    ]
    scene_page.head(drawing, (0.0, plot.rect.y1 + 40.0), wide, heads)
    count = len(choice.scenarios)
    many = f"{count} scenarios" if count > 1 else "the scenario"
    notes = [
        f"margin, noise: the worst of {many}. Flow, rise, region: in the scenario that is drawn. "
        "The line of the network is solved point by point with number 1; guards and what stands in "
        "the fan's own air belong to it, so a type with another flow area may work beside it.",
        scene_words.signature(choice.case, flownet.__version__),
    ]
    rows = [Words(0, 0, text, look.SMALL, False, look.QUIET)
            for words in notes for text in wrap(words, look.SMALL, False, wide)]  # fmt: skip
    placed, _ = stacked(rows, 0.0, bottom - 8.0)
    drawing.add(Layer.LETTER, *placed)
