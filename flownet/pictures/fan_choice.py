"""The best few fan types for a place: their curves, the system curve, where each would work.

Numbers are ranks; the table below tells each. Where no type serves, those that come closest are
shown with the reasons against them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from flownet.pictures import curves as lines
from flownet.pictures import style
from flownet.pictures.caption import known
from flownet.pictures.labels import table, table_tall
from flownet.pictures.scene.words import REGION_WORDS
from flownet.pictures.style import Axes
from flownet.schema import quantities as q
from flownet.studies.choice.fan_picture import DrawnType, FanChoiceCurves, fan_choice_curves
from flownet.studies.choice.fan_result import FanChoice
from flownet.studies.fans.results import loaded

HEADS = ("", "type", "flow", "pressure", "region", "speed", "margin", "noise")
NUMBER_HEADS = ("flow", "pressure", "margin", "noise")
REASONS = {"part": "part limit", "air": "air limit", "air-range": "air range"}
UP_TO = 3.0  # times the largest flow and pressure at which one works: what is shown


@style.picture(FanChoice)
def fan_choice(choice: FanChoice, *, ax: Axes | None = None, units: str = "metric") -> Axes:
    """The best few fan types for a place, up to five, against the system curve of the fan.

    Parameters
    ----------
    choice : FanChoice
        From `flownet.choose` with a fan. Where no type serves, those that come closest are drawn.
    ax : Axes, optional
        Volume flow of one fan to the right, static pressure upwards, both in the units shown.
    units : "metric" or "us"
        The opposite sides of the frame carry the other units.

    Raises
    ------
    CaseError
        Where no candidate was solved, or a fan that is chosen stands in every scenario.
    """
    found = fan_choice_curves(choice)
    drawn, solution = found.drawn, found.solution
    rows = [_row(number, item, units) for number, item in enumerate(drawn, 1)]
    state = f"{', '.join(choice.fans)}     {solution.scenario} | {solution.variant}"
    # the site is that of the solution; the types it has in place are drawn, not asked for
    *heads, _, foot = style.caption(choice.case, units, state=state)
    told = [*heads, style.caption(solution, units)[-2], foot]
    paper = style.Paper(ax, choice.verdicts(units)[0], told, 85.0 + table_tall(rows),
                        _notes(found, units))  # fmt: skip
    ax = paper.chart(14.0, 9.0, 141.0, 66.0)
    _draw(ax, found, units)
    table(paper, 85.0, HEADS, rows, NUMBER_HEADS, [0] if drawn[0].candidate.accepted else ())
    return ax


def _draw(ax: Axes, found: FanChoiceCurves, units: str) -> None:
    drawn, full = found.drawn, loaded(found.solution.case)
    points = [(item.works.flow, item.works.rise) for item in drawn]
    most = [UP_TO * top if top > 0 else math.inf for top in map(max, zip(*points, strict=True))]
    room = lines.frame(ax, [item.line for item in drawn], points, units, most)
    for item in drawn:
        lines.fan_line(room, item.line, 2.0 if item is drawn[0] else 0.9)
    lines.system(room, found.flow, found.rise, full)
    for number, point in enumerate(points, 1):
        room.ring(*point, str(number))
    for number, item in enumerate(drawn, 1):
        names = [f"{number} {item.candidate.type}", str(number)]
        lines.name(room, item.line, names, bold=item is drawn[0])
    words = "system curve" + (", filters loaded" if full else "")
    room.name(found.flow, found.rise, [words, "system"], tone=lines.tone(full), lines=True)


def _row(number: int, item: DrawnType, units: str) -> list[str]:
    own, works, text = item.candidate.numbers, item.works, style.Units(units)
    kinds = dict.fromkeys(reason.kind for reason in item.candidate.reasons)
    against = (
        f"\nexcluded by {', '.join(REASONS.get(kind, kind) for kind in kinds)}" if kinds else ""
    )
    return [
        str(number), item.candidate.type + against, text.text(q.VOLUME_FLOW, works.flow),
        text.text(q.PRESSURE, works.rise), REGION_WORDS.get(works.region, works.region),
        lines.speed(works, units),
        text.text(q.DIFFERENCE, own.margin, "+") if known(own.margin) else "",
        text.text(q.LEVEL, own.noise) if known(own.noise) else "not stated",
    ]  # fmt: skip


def _notes(found: FanChoiceCurves, units: str) -> Iterator[str]:
    choice, count = found.choice, len(found.choice.fans)
    thick = q.DENSITY.shown(units).text(found.drawn[0].works.density)
    thin = "" if len(found.drawn) == 1 else "; thin: the others"
    yield f"Bold: number 1, at its speed, in the air it draws, {thick}{thin}."
    of = "of the fan" if count == 1 else f"of each of {count} fans"
    yield (f"System curve: what the network asks {of} in {found.solution.scenario}, with number 1; "
           "guards and what stands in the fan's own air belong to it, so a type with another flow "
           "area may work beside it.")  # fmt: skip
    many = f"{len(choice.scenarios)} scenarios" if len(choice.scenarios) > 1 else "the scenario"
    yield f"Margin, noise: the worst of {many}. Flow, pressure, region: in the scenario drawn."
    yield from lines.line_notes([item.line for item in found.drawn])
