"""The sheet of all operating points: the solution that is reached from rest, then each of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

from flownet.pages.caption import Caption
from flownet.pages.findings import Told
from flownet.pages.page import Page
from flownet.pages.sheet import Listing, Sentence, Sheet
from flownet.pages.solution import solution_sheet
from flownet.pages.table import INDENT, aligned
from flownet.schema import quantities as q


def points_sheet(points: Sequence[Any], told: Told | None = None) -> Sheet:
    """The solution that is reached from rest; behind it all operating points."""
    tables = (partial(_points, points),)
    behind = Sheet("solve", Caption(), lambda units: (), tables, bare=True, close=True)
    return solution_sheet(points[0].solution, told)._replace(parts=(behind,))


def _points(points: Sequence[Any], units: str) -> Listing:
    """How many operating points, each with its fans and what leads to it, how they were looked
    for."""
    stable = sum(point.stable for point in points)
    said = [Sentence("Operating points", f"  {len(points)} found, {stable} stable", "heading")]
    for number, point in enumerate(points, 1):
        word, style = ("stable  ", "") if point.stable else ("unstable", "doubtful")
        said.append(Sentence(f"{INDENT}{number}  {word}  ", _reached(point), style))
        said += [Sentence(f"{INDENT}   ", line) for line in _point_fans(point, units)]
        if (worst := point.solution.worst) is not None:
            margin = q.DIFFERENCE.shown(units).text(float(worst.margin), "+")
            said.append(Sentence(f"{INDENT}   ", f"worst margin {margin}, {worst.subject}"))
    words = "; ".join(points[0].searched) if points else ""
    return Listing("points", (), notes=(*said, Sentence(f"{INDENT}Looked for: ", words)))


def _reached(point: Any) -> str:
    """What leads there, in words."""
    ways = ["from rest"] if point.reached_from_rest else []
    ways += [f"after {path} was off and on again" for path in point.after_restart]
    ways += ["by filters that load slowly"] if point.by_loading else []
    if ways:
        return "reached " + ", ".join(ways)
    if not point.stable:
        return "left at the slightest disturbance"
    return "reached in none of the ways tried"


def _point_fans(point: Any, units: str) -> Iterator[str]:
    solution = point.solution
    shown = {path: row for path, row in solution.fans.items() if row.region != "blanked"}
    width = max(map(len, shown), default=0)
    page = Page(units)
    flows = aligned([page.cell(q.VOLUME_FLOW, solution.volume_flow(path)) for path in shown])
    rises = aligned([page.cell(q.PRESSURE, row.rise) for row in shown.values()])
    for (path, row), flow, rise in zip(shown.items(), flows, rises, strict=True):
        up = ", on a rising piece" if path in point.rising else ""
        yield f"{path:<{width}}  {flow.text:>12}  {rise.text:>10}  {row.region}{up}"
