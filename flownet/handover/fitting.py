"""The sheet for fitting and commissioning: its words and tables, each from the case or a result.

What the case does not say is a blank to fill in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import groupby
from typing import Any, NamedTuple

from markupsafe import Markup

from flownet import __version__
from flownet.findings.facts import Working, working_fans
from flownet.findings.fan_data import shaft_of
from flownet.handover import drawings
from flownet.handover.document import MINUS, THIN_SPACE, printed
from flownet.handover.expected import Expected, TestPoint, still
from flownet.handover.web import environment
from flownet.judging.voids import told
from flownet.pages.caption import Caption
from flownet.pages.schedule import blown, supply_of
from flownet.pictures.caption import Units
from flownet.results.streams import is_outside
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given
from flownet.studies.tolerances import practice

PLANES = {  # sides of the size across, up and away; what is behind, before, the last one's name
    "front": ((0, 1, 2), ("back", "front", "depth")),
    "side": ((2, 1, 0), ("far side", "near side", "width")),
    "plan": ((0, 2, 1), ("top", "bottom", "height")),
}  # fmt: skip
BLANK, NAN = "______", math.nan
SIDE_BY_SIDE = 4  # fans in one table
HOT_PARTS = 3  # parts that are named where surfaces are hot
READ_GROUPS = {"V": "Air speed", "A": "Current", "N": "Speed of rotation", "P": "Pressure"}
PARTED = ("filter", "vent", "opening", "duct", "slot")  # kinds of the table of ways of the air
TODO = {  # what is done with one, by its state
    "blanked": "blank plate, tight", "open": "stays open", "removed": "no mat; frame stays open",
    "filler": "filler fitted", "empty": "stays empty, open",
}  # fmt: skip


class FittedAlike(NamedTuple):
    """Fans that are fitted alike."""

    fans: tuple[Working, ...]

    @property
    def first(self) -> Working:
        return self.fans[0]

    @property
    def names(self) -> str:
        return listed([fan.path for fan in self.fans], len(self.fans), last=" and ")

    @property
    def mount(self) -> drawings.Mount:
        """In mm, NaN where its type does not say."""
        rating = self.first.rating
        size, depth = rating.frame or (math.nan, math.nan)
        return drawings.Mount(str(self.first.item.type), *(1e3 * float(each) for each in (
            size, rating.hole_pitch, rating.cutout, depth)))  # fmt: skip

    @property
    def label(self) -> str:
        """The place that the label faces; a blank where the type does not say."""
        return label_place(self.first) or BLANK

    @property
    def way(self) -> str:
        """The way it blows in the view; empty where the case does not say."""
        return blown(self.first.item) or ""

    @property
    def seen(self) -> str:
        """How a strip of paper is blown, as it is seen from outside; empty of an inner fan."""
        out = is_outside(self.first.target)
        return "" if out == is_outside(self.first.source) else "away from" if out else "against"

    def clear(self, show: Units) -> str:
        """`60 mm at the inlet and 100 mm at the outlet`, as the case says."""
        free = self.first.item.clearance
        sides = [f"{show.text(q.LENGTH, value)} at the {side}" for side in ("inlet", "outlet")
                 if free is not None and given(value := getattr(free, side))]  # fmt: skip
        return " and ".join(sides)


def label_place(fan: Working) -> str:
    """The place that the label faces; empty where the type does not say its side."""
    return {"outlet": fan.target, "inlet": fan.source}.get(fan.rating.label_side or "", "")


def guarded(fan: Working) -> str:
    """The side that a guard covers, where one side alone is outside: `outlet`, `inlet`."""
    if not fan.item.guard.loss or is_outside(fan.target) == is_outside(fan.source):
        return ""
    return "outlet" if is_outside(fan.target) else "inlet"


def groups(found: Expected) -> list[FittedAlike]:
    """Fans of one type that blow alike between the same places."""
    made: dict[tuple[Any, ...], list[Working]] = {}
    for fan in working_fans(found.solution):
        key = (fan.item.type, fan.source, fan.target, blown(fan.item), fan.item.guard.loss > 0)
        made.setdefault(key, []).append(fan)
    return [FittedAlike(tuple(fans)) for fans in made.values()]


def rendered(found: Expected, units: str, paper: str) -> str:
    """The sheet as one HTML file."""
    caption, every, show = Caption.of(found.case), groups(found), Units(units)
    mounts = _mounts(every)
    made = environment()
    made.filters |= {"mark": lambda text: printed(str(text)),
                     "listed": lambda names: listed(list(names), 8, last=" and ")}  # fmt: skip
    return made.get_template("fitting.html").render(
        title=caption.heading or "Enclosure", day=caption.foot().split("   ")[-1],
        version=__version__, digest=found.case.digest.removeprefix("sha256:")[:16], blank=BLANK,
        show=show, groups=every, mounts=mounts, plans=_plans(found, every),
        sections=[(group, *drawings.section(
            group.mount, (group.first.source, group.first.target),
            group.first.rating.label_side or "", guarded(group.first)))
            for group in every if group.mount.frame > 0],
        templates=[(mount, *drawings.template(mount, paper), names)
                   for mount, names in mounts.items() if _drawable(mount)],
        undrawn=[(mount, names) for mount, names in mounts.items() if not _drawable(mount)],
        fan_tables=list(_fan_tables(found, show)), ways=list(_ways(found, show)),
        view=drawings.points_view(found), points=found.points, readings=_readings(found, units),
        columns=found.columns, number=partial(_number, found, units=units),
        unit=partial(_unit, units=units), faults=found.faults, left_out=found.left_out,
        usual=practice(found.spreads, units), **_said(found, show),
    )  # fmt: skip


def _said(found: Expected, show: Units) -> dict[str, Any]:
    """What the sentences of the sheet take from the case: conditions, names."""
    case, rows, idle = found.case, found.solution.parts, still(found.solution)
    mats: dict[str, Any] = {f"filter.{name}": item for name, item in case.things["filter"].items()
                            if item.state == "fitted"}  # fmt: skip
    loaded = [f"{path} at {item.fouling:g} times its clean drop" for path, item in mats.items()
              if item.fouling != 1]  # fmt: skip
    hot = sorted((name for name in rows if math.isfinite(rows[name].temperature)),
                 key=lambda name: -rows[name].temperature)  # fmt: skip
    fed = dict.fromkeys(supply_of(found.solution, fan.item) or fan.rating.supply or ""
                        for fan in working_fans(found.solution))  # fmt: skip
    state = [f"{show.text(q.TEMPERATURE, found.outside)} outside",
             f"{show.text(q.POWER, found.solution.totals.heat)} of heat", *fed,
             *(loaded or ["clean filters"] * bool(mats)), f"scenario {case.applied.scenario}",
             f"variant {case.applied.variant}", *Caption.of(found.solution).changes]  # fmt: skip
    return {
        "state": ", ".join(filter(None, state)), "hot": hot[:HOT_PARTS],
        "fed": [*filter(None, fed)], "void": told(found.solution.void, show.system),
        "mats": [path for path in mats if path not in idle],
        "shut": [path for path, item in case.branches.items()
                 if getattr(item, "state", "") == "blanked"],
    }  # fmt: skip


# --- tables ---------------------------------------------------------------------------------------


def _mounts(every: Sequence[FittedAlike]) -> dict[drawings.Mount, str]:
    """Each way of fixing, and the fans that have it."""
    made: dict[drawings.Mount, list[str]] = {}
    for group in every:
        key = next((each for each in made if str(each) == str(group.mount)), group.mount)  # NaN
        made.setdefault(key, []).extend(fan.path for fan in group.fans)
    return {mount: listed(names, len(names), last=" and ") for mount, names in made.items()}


def _drawable(mount: drawings.Mount) -> bool:
    return all(each > 0 for each in (mount.frame, mount.pitch, mount.cutout))


def _fan_tables(
    found: Expected, show: Units
) -> Iterator[tuple[list[str], list[tuple[str, list[str]]]]]:
    """Names, and rows: one cell of what is the same for all, else a cell a fan."""
    fans = list(working_fans(found.solution))
    for start in range(0, len(fans), SIDE_BY_SIDE):
        some = fans[start : start + SIDE_BY_SIDE]
        cells = [dict(_fan_cells(found, fan, show)) for fan in some]
        rows = [(key, [each[key] for each in cells]) for key in cells[0]]
        yield [fan.path for fan in some], [
            (key, row[:1] if len(set(row)) == 1 and BLANK not in row[0] else row)
            for key, row in rows]  # fmt: skip


def _fan_cells(found: Expected, fan: Working, show: Units) -> Iterator[tuple[str, str]]:
    item, rating = fan.item, fan.rating
    size = " x ".join(show.text(q.LENGTH, each) for each in rating.frame or ())
    yield "Tag", item.tag or BLANK
    yield "Place: right, up", _at(item, show)
    pitch, cutout = (show.text(q.LENGTH, each) if given(each) else BLANK
                     for each in (rating.hole_pitch, rating.cutout))  # fmt: skip
    yield "Type", f"{item.type}, frame {size or BLANK}, holes {pitch} apart, cutout {cutout}"
    yield "Air", ", ".join(filter(None, (
        blown(item), f"{fan.source} to {fan.target}", _taken(fan.source, fan.target) or "inner",
        f"shaft {shaft_of(found.case, item) or BLANK}")))  # fmt: skip
    side = f" ({rating.label_side} side)" if rating.label_side else BLANK
    yield "Label faces", f"{label_place(fan)}{side}"
    before = [path for path, each in found.case.branches.items()
              if getattr(each, "on", None) == fan.path]  # fmt: skip
    yield (
        "Guard",
        f"fitted, {guarded(fan) or BLANK} side"
        if item.guard.loss
        else f"none of its own; {listed(before) or 'fit one before power'}",
    )
    yield "Isolators, screws", BLANK
    turns = item.state if not item.running else "runs, " + (
        show.text(q.SPEED, fan.speed * rating.rated_speed) if given(rating.rated_speed)
        else f"{fan.speed:.2f} of rated speed")  # fmt: skip
    fed = supply_of(found.solution, item) or rating.supply or BLANK
    yield "Supply, at the test", f"{fed}; {turns}"
    yield "Terminals, earth", BLANK
    alarm = rating.alarm
    yield "Alarm contact", "none" if alarm == "none" else f"{alarm + ': ' if alarm else ''}{BLANK}"


def _at(item: Any, show: Units) -> str:
    """`200 mm, 1800 mm`, from the left and from below; a blank where the case does not say."""
    return ", ".join(show.text(q.LENGTH, each) for each in item.at or ()) or BLANK


def _ways(found: Expected, show: Units) -> Iterator[tuple[str, str, str, str, str]]:
    """Filters, vents, openings, ducts, and slots that hold no card."""
    idle, things = still(found.solution), found.case.things
    every = [(f"{kind}.{name}", item) for kind in PARTED for name, item in things[kind].items()]
    for path, item in every:
        on, moves = getattr(item, "on", None), path not in idle
        card = path.startswith("slot.") and item.state == "fitted"
        if card or (on and not moves):
            continue
        air = f"at {on}" if on else "no air"
        if not on and moves:
            back = found.solution.branches[path].mass_flow < 0
            start, end = (item.to, item.from_) if back else (item.from_, item.to)
            air = ", ".join(filter(None, (f"{start} to {end}", _taken(start, end))))
        area = getattr(item, "area", math.nan)
        todo = TODO.get(item.state, "flow arrow along the air" * moves)
        yield path, "" if on else _at(item, show), show.text(q.AREA, area) if given(area) else "", \
            air, todo  # fmt: skip


def _taken(start: str, end: str) -> str:
    """`intake`, `exhaust`; empty between two places of one sort."""
    if is_outside(start) == is_outside(end):
        return ""
    return "intake" if is_outside(start) else "exhaust"


def _plans(found: Expected, every: Sequence[FittedAlike]) -> list[tuple[str, Markup, float]]:
    """One drawing for each plane that fans sit in, where the size of the enclosure is known."""
    body, made = found.case.body, []
    if body.size is None:
        return []
    order, words = PLANES[body.view]
    across, up, away = (1e3 * float(body.size[i]) for i in order)
    upright = ("up", "down") if body.view != "plan" else ("up", "down", "front", "back")
    for ways in (upright, ("left", "right"), *((("front", "back"),) * (body.view != "plan"))):
        flat, side, places = ways[0] == "front", ways[0] == "left", []
        for mount, fan in ((group.mount, fan) for group in every for fan in group.fans):
            if blown(fan.item) in ways and fan.item.at is not None:
                x, y = (1e3 * float(each) for each in fan.item.at)
                where = (y if side else x, y if flat else NAN)
                places.append(drawings.FanPlace(fan.item.name, *where, mount))
        if places:
            plane = (up if side else across, up if flat else away)
            svg, scale = drawings.plan(places, plane, ("", "", "") if flat else words)
            seen = "from above" if body.view != "plan" and body.up == "top" else "along its height"
            seen = "along its width, the lower edge at the left" if side else seen
            made.append(("In the view" if flat else f"Seen {seen}", svg, scale))
    return made


def _readings(found: Expected, units: str) -> list[tuple[str, list[dict[str, str]]]]:
    """Rows of the table of expected readings, under the head of their group."""

    def group(each: TestPoint) -> str:
        if each.path == "site.temperature":
            return "The air that comes in"
        return READ_GROUPS.get(
            each.kind, "Rise above T0, the air that comes in, in the steady state"
        )

    every = sorted(found.points, key=lambda each: "VANPT".index(each.kind))
    return [(head, [_reading(found, each, units) for each in rows])
            for head, rows in groupby(every, group)]  # fmt: skip


def _reading(found: Expected, each: TestPoint, units: str) -> dict[str, str]:
    ends = [each.low, each.high][:: each.sign]
    numbers = [_number(found, each, value, units=units) for value in (each.predicted, *ends)]
    if each.path == "site.temperature":
        numbers[1:] = ["", ""]
    return {"name": each.name, "what": each.what, "where": each.where, "expected": numbers[0],
            "low": numbers[1], "high": numbers[2], "unit": _unit(each, units=units)}  # fmt: skip


def _number(found: Expected, each: TestPoint, value: float, *, units: str) -> str:
    """As it is read: a temperature as a rise, the size of an air speed."""
    if not math.isfinite(value):
        return "\N{EN DASH}"
    shown = each.quantity.shown(units)
    if each.warm and each.path != "site.temperature":
        shown, value = q.DIFFERENCE.shown(units), value - found.outside
    text = shown.number(abs(value) if each.kind == "V" else value * each.sign)
    return text.replace("-", MINUS).replace(" ", THIN_SPACE)


def _unit(each: TestPoint, *, units: str) -> str:
    rise = each.warm and each.path != "site.temperature"
    return printed((q.DIFFERENCE if rise else each.quantity).shown(units).unit)
