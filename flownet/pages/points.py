"""Every operating point of an enclosure as lines of text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from flownet.pages.page import Page
from flownet.pages.table import INDENT, Cell, aligned, hanging
from flownet.schema import quantities as q

if TYPE_CHECKING:
    from flownet.operating_points import OperatingPoint


def points_lines(points: Sequence[OperatingPoint], page: Page) -> Iterator[str]:
    """How many, then each with its fans and what leads to it, then how they were looked for."""
    stable = sum(point.stable for point in points)
    count = f"{len(points)} found, {stable} stable"
    yield f"{page.paint('Operating points', 'heading')}  {count}"
    for number, point in enumerate(points, 1):
        style = "" if point.stable else "doubtful"
        lead = [
            Cell(f"{INDENT}{number}  "),
            Cell("stable  " if point.stable else "unstable", style),
        ]
        yield from hanging([*lead, Cell("  ")], _reached(point), page.width, page.paint)
        yield from _fans(point, page)
        if (worst := point.solution.worst) is not None:
            margin = page.text(q.DIFFERENCE, float(worst.margin), "+")
            yield f"{INDENT}   worst margin {margin}, {worst.subject}"
    words = "; ".join(points[0].searched) if points else ""
    yield from hanging([Cell(f"{INDENT}Looked for: ")], words, page.width, page.paint)


def _reached(point: OperatingPoint) -> str:
    """What leads there, in words."""
    ways = ["from rest"] if point.reached_from_rest else []
    ways += [f"after {path} was off and on again" for path in point.after_restart]
    ways += ["by filters that load slowly"] if point.by_loading else []
    if ways:
        return "reached " + ", ".join(ways)
    if not point.stable:
        return "left at the slightest disturbance"
    return "reached in none of the ways tried"


def _fans(point: OperatingPoint, page: Page) -> Iterator[str]:
    solution = point.solution
    shown = {path: row for path, row in solution.fans.items() if row.region != "blanked"}
    width = max(map(len, shown), default=0)
    flows = aligned([page.cell(q.VOLUME_FLOW, solution.volume_flow(path)) for path in shown])
    rises = aligned([page.cell(q.PRESSURE, row.rise) for row in shown.values()])
    for (path, row), flow, rise in zip(shown.items(), flows, rises, strict=True):
        up = ", on a rising piece" if path in point.rising else ""
        yield f"{INDENT}   {path:<{width}}  {flow.text:>12}  {rise.text:>10}  {row.region}{up}"
