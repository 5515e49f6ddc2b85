"""The network: places as boxes and what joins them as lines, to check how a case hangs together.

Boxes keep the order of the outlines; `outside` runs around them all. Lines run straight where
nothing is between, each in a lane of its own; the others go round through the gaps between rows
and columns, so that no line crosses a box.
"""

from __future__ import annotations

from collections.abc import Mapping

from flownet.enclosure.enclosure import Enclosure
from flownet.pages.caption import Caption
from flownet.pictures.network.lines import put_lines
from flownet.pictures.network.links import Link
from flownet.pictures.network.net import Net
from flownet.pictures.network.routes import lines
from flownet.pictures.scene import look, page
from flownet.pictures.scene.scene import Drawing, Layer, Rect, Scene, Words, stacked
from flownet.pictures.scene.text_metrics import wrap
from flownet.pictures.scene.words import Units
from flownet.results.solution import Solution
from flownet.schema import quantities as q

MARGIN = 20.0
BAND = 24.0  # the frame that stands for the outside
LEAST_WIDE = 380.0  # of what stands above and below the drawing


def network_scene(
    case: Enclosure, solution: Solution | None = None, units: str = "metric",
    caption: Caption | None = None,
) -> Scene:  # fmt: skip
    """The network of a case as a scene; with a solution flows and temperatures too."""
    net, drawing = Net(case, solution, Units(units)), Drawing()
    frame = net.inner.grown(BAND)
    drawing.area(Layer.FILL, frame, look.GROUND, edge=look.QUIET, width=look.THIN)
    drawing.area(Layer.FILL, net.inner, look.PAPER, edge=look.INK, width=look.LINE)
    _outside(drawing, net)
    for name, rect in net.boxes.items():
        _box(drawing, net, name, rect)
    numbered = put_lines(drawing, list(lines(net)), net.boxes, net.inner)
    made = caption or Caption.of(case if solution is None else solution)
    _around(drawing, net, frame, numbered, made)
    return drawing.scene(MARGIN, case.title)


def _outside(drawing: Drawing, net: Net) -> None:
    temperature = net.units.text(q.TEMPERATURE, net.case.outside.temperature)
    y = net.inner.y1 + 8.0
    words = Words(2.0, y, "outside", look.HEAD, True)
    drawing.add(Layer.LETTER, words, Words(12.0 + words.wide, y, temperature, look.HEAD))


def _box(drawing: Drawing, net: Net, name: str, rect: Rect) -> None:
    """A compartment bold, a further surrounding thin and on the ground of the frame."""
    outer = name not in net.case.compartments
    fill, wide = (look.GROUND, look.THIN) if outer else (look.PAPER, look.WALL)
    drawing.area(Layer.PLATE, rect, fill, edge=look.INK, width=wide)
    said = net.said(name)
    tall = look.LINE_SPACING * look.HEAD * len(said)
    placed, _ = stacked(said, rect.centre[0], rect.centre[1] + tall / 2 - 1.0, "centre")
    drawing.add(Layer.LETTER, *placed)


def _around(
    drawing: Drawing, net: Net, frame: Rect, numbered: Mapping[int, Link], caption: Caption
) -> None:
    """Title and surroundings above, notes and signature below."""
    wide = max(frame.wide, LEAST_WIDE)
    heads = page.captioned(caption, net.units)
    page.head(drawing, (frame.x0, frame.y1 + 12.0), wide, heads)
    notes = [f"{number}: {link.name}  {link.note}".rstrip() for number, link in numbered.items()]
    arrows = "the way the air goes" if net.solution is not None else 'the way from "from" to "to"'
    notes.append(f"What joins what, not to scale. Arrows: {arrows}. Dashed: heat through a wall.")
    notes.append(caption.foot(dated=False))
    rows = [
        Words(0, 0, text, look.SMALL, False, look.QUIET)
        for note in notes
        for text in wrap(note, look.SMALL, False, wide)
    ]
    placed, _ = stacked(rows, frame.x0, frame.y0 - 12.0)
    drawing.add(Layer.LETTER, *placed)
