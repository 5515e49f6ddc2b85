"""Scenarios as rows, variants as columns: how far the limits are kept, the verdict in words on top.

Each cell has the margin of the limit that decides, a word, a mark and a fill, so that none depends
on colour; a heavy frame is round the worst of each variant.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import flownet
from flownet import quantities as q
from flownet.enclosure.whole import Enclosure
from flownet.report import look, scene_page, scene_words
from flownet.report.comparison import Compared, margin_text
from flownet.report.heading import titled
from flownet.report.page import counted
from flownet.report.scene import Drawing, Layer, Rect, Scene, Words, line, stacked
from flownet.report.scene_letters import width, wrap
from flownet.report.scene_words import Units, pretty

MARGIN = 20.0
TALL = 41.0  # of a row
BETWEEN = 1.6  # half the gap between cells
LEAST, MOST = 72.0, 104.0  # its width
NAME = 180.0  # the widest name of a scenario before it is broken
GAP = 12.0
PAPER = " on paper"
STRIP = 6.0  # the mark at the left edge of a cell
CROSS = 0.5  # of the way to the middle of a cell, the lines from its corners: words stay free
FRAME = 2.6  # line of the heavy frame
LEAST_WIDE = 430.0  # of what stands above and below
FILLS = {
    "ok": look.OK, "tight": look.TIGHT, "over": look.OVER, "unknown": look.PAPER,
    "void": look.PAPER, "unsolved": look.PAPER,
}  # fmt: skip
SAID = 5  # verdicts below the first


def matrix_scene(found: Compared, units: str = "metric", changed: Sequence[str] = ()) -> Scene:
    """The matrix as a scene."""
    drawing = Drawing(changed=changed)
    names = [wrap(name, look.BODY, False, NAME) for name in found.scenarios]
    left = max(width(text, look.BODY) for lines in names for text in lines) + GAP
    wide = _cell_width(found, units)
    heads = [wrap(name, look.BODY, True, wide - 6.0) for name in found.variants]
    for column, lines in enumerate(heads):
        _stack(drawing, lines, left + (column + 0.5) * wide, 5.0, bold=True)
    for row, lines in enumerate(names):
        middle = -(row + 0.5) * TALL
        spacing = look.LINE_SPACING * look.BODY
        top = middle - 0.36 * look.BODY + spacing * (len(lines) - 1) / 2
        for i, text in enumerate(lines):
            drawing.add(Layer.LETTER, Words(0.0, top - i * spacing, text, look.BODY))
        for column, cell in enumerate(found.cells[row]):
            x = left + column * wide
            whole = Rect(x, -(row + 1) * TALL, x + wide, -row * TALL)
            _cell(drawing, cell, whole.grown(-BETWEEN), units)
            if cell is not None and cell is found.worst(found.variants[column]):
                drawing.area(Layer.ARROW, whole.grown(-0.2), None, edge=look.INK, width=FRAME)
    size = max(left + wide * len(found.variants), LEAST_WIDE)
    highest = max(map(len, heads)) * look.LINE_SPACING * look.BODY
    _around(drawing, found, size, (highest, -TALL * len(names)), units)
    return drawing.scene(MARGIN, found.case.title)


def _cell_width(found: Compared, units: str) -> float:
    """Wide enough for every margin and most subjects and variants."""
    texts = [width(words, look.SMALL) for row in found.cells for cell in row if cell is not None
             for words in (_subject(cell), _on_paper(cell, units))]  # fmt: skip
    texts += [width(part, look.BODY, True) for name in found.variants
              for part in wrap(name, look.BODY, True, MOST)]  # fmt: skip
    return min(max([LEAST, *(text + 2 * STRIP + 6.0 for text in texts)]), MOST)


def _stack(drawing: Drawing, lines: Sequence[str], x: float, low: float, bold: bool) -> None:
    """Lines of text upward from `low`, the last one lowest."""
    spacing = look.LINE_SPACING * look.BODY
    for i, text in enumerate(reversed(lines)):
        words = Words(x, low + i * spacing, text, look.BODY, bold, align="centre")
        drawing.add(Layer.LETTER, words)


# --- one cell ------------------------------------------------------------------------------------


def _cell(drawing: Drawing, cell: Any, rect: Rect, units: str) -> None:
    status = "" if cell is None else cell.status
    drawing.area(Layer.FILL, rect, FILLS.get(status, look.PAPER), edge=look.QUIET, width=look.HAIR)
    if cell is None:
        x, y = rect.centre
        drawing.add(Layer.MARK, line([(x - 4.0, y), (x + 4.0, y)], look.QUIET))
        return
    _mark(drawing, status, rect)
    colour = look.PAPER if status == "over" else look.INK
    x = (rect.x0 + STRIP + rect.x1) / 2
    lines = _lines(cell, pretty(margin_text(cell, units)))
    room = rect.wide - STRIP - 4.0
    words = [Words(0, 0, _cut(t, size, bold, room), size, bold, colour)
             for t, size, bold in lines if t]  # fmt: skip
    total = sum(look.LINE_SPACING * each.size for each in words)
    placed, _ = stacked(words, x, rect.centre[1] + total / 2 - 0.6, "centre")
    drawing.add(Layer.LETTER, *placed)


def _lines(cell: Any, margin: str) -> list[tuple[str, float, bool]]:
    """Text, size, bold; a void cell tells why first, and its margin as what it is."""
    if cell.status == "void":
        return [("void", look.HEAD, True), (_subject(cell), look.SMALL, False),
                (f"{margin}{PAPER}", look.SMALL, False)]  # fmt: skip
    if cell.status == "unsolved" or not cell.subject:
        return [(_without(cell.status), look.BODY, True)]
    return [(margin, look.HEAD, True), (cell.word, look.SMALL, False),
            (_subject(cell), look.SMALL, False)]  # fmt: skip


def _on_paper(cell: Any, units: str) -> str:
    """The last line of a void cell."""
    return f"{pretty(margin_text(cell, units))}{PAPER}" if cell.status == "void" else ""


def _without(status: str) -> str:
    return "no solution" if status == "unsolved" else "no limit"


def _subject(cell: Any) -> str:
    """`controller`, `noise`: what decides, as short as it can be."""
    if cell.status == "void":
        return str(next(iter(cell.void)))
    if cell.status == "unsolved" or not cell.subject:
        return ""
    if cell.limit in ("flow", "noise"):
        return str(cell.limit)
    name = str(cell.subject.partition(".")[2])
    return f"life {cell.subject}" if cell.limit == "life" else name


def _cut(text: str, size: float, bold: bool, most: float) -> str:
    """As much of a text as fits."""
    if width(text, size, bold) <= most:
        return text
    while text and width(text + "…", size, bold) > most:
        text = text[:-1]
    return text + "…"


def _mark(drawing: Drawing, status: str, rect: Rect) -> None:
    """At the left edge: hatched where a limit is broken, half a bar where it is tight; crossed
    where there is no solution, struck through once where it is void."""
    strip = Rect(rect.x0, rect.y0, rect.x0 + STRIP, rect.y1)
    if status == "over":
        drawing.add(Layer.MARK, *scene_page.hatch(strip, 5.0))
        drawing.add(Layer.MARK, line([(strip.x1, strip.y0), (strip.x1, strip.y1)], look.PAPER))
    elif status == "tight":
        low = Rect(strip.x0, strip.y0, strip.x1 - 2.0, (strip.y0 + strip.y1) / 2)
        drawing.area(Layer.MARK, low, look.INK)
    elif status in ("unsolved", "void"):
        centre = rect.centre
        share = CROSS if status == "unsolved" else CROSS / 2
        for x, y in rect.grown(-2.5).corners[:: 1 if status == "unsolved" else 2]:
            inward = (x + share * (centre[0] - x), y + share * (centre[1] - y))
            drawing.add(Layer.MARK, line([(x, y), inward], look.QUIET))


# --- around the matrix ---------------------------------------------------------------------------


def _around(
    drawing: Drawing, found: Compared, wide: float, edges: tuple[float, float], units: str
) -> None:
    """The verdict and the case above; the key, other verdicts and the signature below."""
    case, top, bottom = found.case, edges[0] + 14.0, edges[1]
    first, *rest = found.verdicts(units)
    count = len(found.scenarios), len(found.variants)
    size = f"{counted(count[0], 'scenario')}, {counted(count[1], 'variant')}"
    heads = [
        (first, look.TITLE, True, look.INK),
        (titled(case), look.HEAD, True, look.INK),
        (f"{size}   outside {_outside(case, units)} as the case has it", look.BODY, False,
         look.QUIET),
    ]  # fmt: skip
    scene_page.head(drawing, (0.0, top), wide, heads)
    low = _key(drawing, bottom - 14.0, _statuses(found))
    notes = [*(f"{words}." for words in rest[:SAID])]
    if len(rest) > SAID:
        more = len(rest) - SAID
        notes[-1] += f" {more} more {'is' if more == 1 else 'are'} in the text of the comparison."
    notes += [f"Note: {words}." for words in found.notes]
    notes += [
        "Number: margin of the limit that decides, with its part or place; a broken temperature "
        "limit comes first. Heavy frame: the worst of its variant. Dash: the fan does not run "
        "there.",
        scene_words.signature(case, flownet.__version__),
    ]
    rows = [
        Words(0, 0, text, look.SMALL, False, look.QUIET)
        for words in notes for text in wrap(words, look.SMALL, False, wide)
    ]  # fmt: skip
    placed, _ = stacked(rows, 0.0, low - 7.0)
    drawing.add(Layer.LETTER, *placed)


def _outside(case: Enclosure, units: str) -> str:
    return Units(units).round(q.TEMPERATURE, case.outside.temperature)


def _statuses(found: Compared) -> list[str]:
    there = {cell.status for row in found.cells for cell in row if cell is not None}
    return [status for status in FILLS if status in there]


WORDS = {
    "ok": "ok: every limit holds", "tight": "tight: holds with little left",
    "over": "over: a limit is broken", "unknown": "no limit, or one without a value",
    "void": "void: the margin counts for nothing",
    "unsolved": "no solution",
}  # fmt: skip


def _key(drawing: Drawing, top: float, statuses: Sequence[str]) -> float:
    """What fills and marks mean, in a row; returns its lower end."""
    x = 0.0
    for status in statuses:
        rect = Rect(x, top - 11.0, x + 18.0, top)
        drawing.area(Layer.FILL, rect, FILLS[status], edge=look.QUIET, width=look.HAIR)
        _mark(drawing, status, rect)
        words = Words(x + 23.0, top - 8.0, WORDS[status], look.SMALL)
        drawing.add(Layer.LETTER, words)
        x += 23.0 + words.wide + 14.0
    return top - 11.0
