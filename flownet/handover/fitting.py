"""The sheet for fitting and commissioning: its words and tables, each from the case or a result.

What the case does not say is a blank to fill in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any, NamedTuple

import numpy as np
from markupsafe import Markup

from flownet import __version__
from flownet.findings.fan_data import shaft_of
from flownet.findings.facts import Working, working_fans
from flownet.handover import drawings
from flownet.handover.commission import Commissioning, Fault, TestPoint
from flownet.handover.document import MINUS, THIN, printed
from flownet.handover.web import environment
from flownet.pages.caption import Caption
from flownet.pages.page import counted
from flownet.pages.schedule import blown, supply_of
from flownet.pictures.caption import Units
from flownet.results.streams import is_outside
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given
from flownet.studies.tolerances import practice

BLANK = "______"
SIDE_BY_SIDE = 4  # fans in one table
HOTTEST = 3  # parts that are named where surfaces are hot
BACK = "back"  # of a reading: the air goes the other way
GROUPS = {"V": "Air speed", "A": "Current", "N": "Speed of rotation", "P": "Pressure"}
PARTED = ("filter", "vent", "opening", "duct", "slot")  # kinds of the table of ways of the air
TODO = {  # what is done with one, by its state
    "blanked": "blank plate, tight", "open": "stays open", "removed": "no mat; frame stays open",
    "filler": "filler fitted", "empty": "stays empty, open",
}  # fmt: skip


class Group(NamedTuple):
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
        return mount_of(self.first)

    @property
    def label(self) -> str:
        """`label towards outside`; a blank where the type does not say."""
        return f"label towards {label_place(self.first) or BLANK}"


def mount_of(fan: Working) -> drawings.Mount:
    """Frame, pitch and cutout in mm."""
    rating = fan.rating
    size, depth = rating.frame or (math.nan, math.nan)
    return drawings.Mount(str(fan.item.type), *(1e3 * float(each) for each in (
        size, rating.hole_pitch, rating.cutout, depth)))  # fmt: skip


def label_place(fan: Working) -> str:
    """The place that the label faces; empty where the type does not say its side."""
    return {"outlet": fan.target, "inlet": fan.source}.get(fan.rating.label_side or "", "")


def guarded(fan: Working) -> str:
    """The side that a guard covers, where one side alone is outside: `outlet`, `inlet`."""
    if not fan.item.guard.loss or is_outside(fan.target) == is_outside(fan.source):
        return ""
    return "outlet" if is_outside(fan.target) else "inlet"


def groups(found: Commissioning) -> list[Group]:
    """Fans of one type that blow alike between the same places."""
    made: dict[tuple[Any, ...], list[Working]] = {}
    for fan in working_fans(found.solution):
        key = (fan.item.type, fan.source, fan.target, blown(fan.item), fan.item.guard.loss > 0)
        made.setdefault(key, []).append(fan)
    return [Group(tuple(fans)) for fans in made.values()]


def rendered(found: Commissioning, units: str, paper: str) -> str:
    """The sheet as one HTML file."""
    caption, every, show = Caption.of(found.case), groups(found), Units(units)
    made = environment()
    made.filters["mark"] = lambda text: printed(str(text))
    templates = [(mount, *drawings.template(mount, paper), names)
                 for mount, names in _mounts(every).items() if _drawable(mount)]  # fmt: skip
    return made.get_template("fitting.html").render(
        title=caption.heading or "Enclosure", day=caption.foot().split("   ")[-1],
        version=__version__, digest=found.case.digest.removeprefix("sha256:")[:16],
        what=_what(every), state=_state(found, show), cautions=list(_cautions(found)),
        work=list(_steps(found, every, show)), groups=every, plans=_plans(found, every),
        sections=[(group, *drawings.section(group.mount, (group.first.source, group.first.target),
                   group.first.rating.label_side or "", guarded(group.first)))
                  for group in every if group.mount.frame > 0],
        fan_tables=list(_fan_tables(found, show)), ways=list(_ways(found, show)),
        templates=templates, undrawn=[(mount, names) for mount, names in _mounts(every).items()
                                      if not _drawable(mount)],
        before=list(_before(found, every, show)), first=list(_first(found, every)),
        view=drawings.points_view(found), points=found.points, readings=_readings(found, units),
        heads=[_head(each, units) for each in found.columns],
        designed=[_number(found, each, each.predicted, units) for each in found.columns],
        faults=[_fault(found, each, units) for each in found.faults], blank=BLANK,
        usual=practice(found.spreads, units), left_out=found.left_out, current=any(
            each.kind == "A" for each in found.points),
    )  # fmt: skip


# --- words ----------------------------------------------------------------------------------------


def _what(every: Sequence[Group]) -> str:
    """`3 fans of type axial-119-b from upper to outside`."""
    told = [f"{counted(len(group.fans), 'fan')} of type {group.first.item.type} that "
            f"blow{'s' * (len(group.fans) == 1)} from {group.first.source} to {group.first.target}"
            for group in every]  # fmt: skip
    return "; ".join(told) or "no fan is fitted"


def _state(found: Commissioning, show: Units) -> str:
    """The conditions of the test in a line."""
    applied, case = found.case.applied, found.case
    fouling = {path: item.fouling for path, item in case.branches.items()
               if item.KIND == "filter" and item.state == "fitted"}  # fmt: skip
    mats = [f"{path} at {show.text(q.RATIO, value)} times its clean drop"
            for path, value in fouling.items() if value != 1] or ["clean filters"] * bool(fouling)  # fmt: skip
    fed = [supply_of(found.solution, fan) for fan in case.fans.values() if fan.running]
    words = [f"{show.text(q.TEMPERATURE, found.outside)} outside",
             f"{show.text(q.POWER, found.solution.totals.heat)} of heat", *dict.fromkeys(fed),
             *mats, f"scenario {applied.scenario}", f"variant {applied.variant}",
             *Caption.of(found.solution).changes]  # fmt: skip
    return ", ".join(filter(None, words))


def _cautions(found: Commissioning) -> Iterator[tuple[str, str]]:
    rows = found.solution.parts
    hot = sorted((name for name in rows if math.isfinite(rows[name].temperature)),
                 key=lambda name: -rows[name].temperature)[:HOTTEST]  # fmt: skip
    yield "Supply.", "Disconnect and lock off every supply, control supply included. Prove dead. " \
        "Use insulated tools."  # fmt: skip
    yield "Stored charge.", "Drives, power supplies and capacitors hold charge after switch-off. " \
        "Wait as long as their plates say; measure before touching."  # fmt: skip
    yield "Moving blades.", "No fan runs without its guard. A still fan can start by itself, or " \
        "turn in the draught of others."  # fmt: skip
    named = f", {listed(hot, last=' and ')} first of all," if hot else ""
    yield "Hot surfaces.", f"Parts{named} stay hot. Let them cool."
    yield "Static.", "Wear a wrist strap near open electronics."
    yield "Swarf and edges.", "Cover what lies below the holes. Break all edges; wear gloves and " \
        "eye protection."  # fmt: skip


def _steps(found: Commissioning, every: Sequence[Group], show: Units) -> Iterator[str]:
    if every:
        yield "Check the print of the template with a steel rule. Do not use a print that is off."
        count = sum(len(group.fans) for group in every)
        yield f"Mark the centre of {counted(count, 'fan')} by the drawing of places. Check against " \
            "the frame and cable trays behind."  # fmt: skip
    for mount, names in _mounts(every).items():
        pitch, cut = (f"{each:.4g} mm" if each > 0 else f"{BLANK} mm"
                      for each in (mount.pitch, mount.cutout))  # fmt: skip
        yield f"{names}: cover what lies below. Drill four holes, {pitch} apart, diameter {BLANK} " \
            f"(by the screws), and cut one of {cut} for each. Break the edges, remove swarf."  # fmt: skip
    for group in every:
        way = blown(group.first.item)
        arrow = f"arrow on the frame, if it has one, pointing {way}" if way else \
            "arrow on the frame, if it has one, along the air"  # fmt: skip
        yield f"{group.names}: air from {group.first.source} to {group.first.target}; " \
            f"{group.label}; {arrow}. Cable away from the blades."  # fmt: skip
    if every:
        yield "Fit isolators, where they are used, guard and four screws a fan. Tighten evenly; do " \
            "not over-tighten: it bends the frame and the rotor rubs."  # fmt: skip
        yield "Turn each rotor by hand: free, no rubbing. Tie cables clear of blades." \
            + _clear(every, show)  # fmt: skip
        yield "Connect supply, earth and alarm by the table of fans. Pull each wire. Earth the " \
            "sheet and each frame."  # fmt: skip
    shut = [path for path, item in found.case.branches.items()
            if getattr(item, "state", "") == "blanked"]
    if shut:
        yield f"Blank plates, tight, on the places not used: {listed(shut, 8, last=' and ')}."
    mats = [path for path, item in found.case.branches.items()
            if item.KIND == "filter" and item.state == "fitted" and path not in _still(found)]  # fmt: skip
    if mats:
        yield f"Last, when no dust is made any more: fit {listed(mats, 8, last=' and ')}, flow " \
            "arrow along the air. Take off the packing film. Close and latch the door."  # fmt: skip


def _clear(every: Sequence[Group], show: Units) -> str:
    told = []
    for group in every:
        free = group.first.item.clearance
        sides = [f"{show.text(q.LENGTH, value)} at the {side}" for side in ("inlet", "outlet")
                 if free is not None and given(value := getattr(free, side))]  # fmt: skip
        if sides:
            told.append(f" Keep free at {group.names}: {' and '.join(sides)}.")
    return "".join(told)


def _before(found: Commissioning, every: Sequence[Group], show: Units) -> Iterator[str]:
    yield "Guards tight, covers on, no loose part, no tool left inside."
    yield f"Earth of each frame against the bar: {BLANK} ohm, at most {BLANK} by local code. " \
        "Insulation of the fan circuit by local code."  # fmt: skip
    fed = dict.fromkeys(filter(None, (supply_of(found.solution, fan.item) or fan.rating.supply
                                      for group in every for fan in group.fans)))  # fmt: skip
    if fed:
        yield f"Voltage and frequency on the fan labels are those of the supply: {listed(list(fed))}."
    for group in every:
        if given(group.first.rating.current):
            current = show.text(q.CURRENT, group.first.rating.current)
            yield f"Protection of the circuit fits {len(group.fans)} x {current} running " \
                f"({group.first.item.type}), and the starting current {BLANK}."  # fmt: skip


def _first(found: Commissioning, every: Sequence[Group]) -> Iterator[str]:
    if every:
        yield "Switch on the fans alone. All turn, no rubbing, no whine."
    for group in every:
        seen = "away from" if is_outside(group.first.target) else "against"
        yield f"Hold a strip of paper at {group.names}: the air goes from {group.first.source} to " \
            f"{group.first.target}; seen from outside it is blown {seen} the fan." \
            if is_outside(group.first.target) != is_outside(group.first.source) else \
            f"Hold a strip of paper at {group.names}: the air goes from {group.first.source} to " \
            f"{group.first.target}."  # fmt: skip
        if group.first.rating.alarm not in (None, "none"):
            yield f"{group.names}: stop one fan by its terminal: its alarm " \
                f"({group.first.rating.alarm}) comes. Connect again, each in turn."  # fmt: skip
    yield f"Heat as at the test, doors shut, {BLANK} minutes, until no reading moves. Note T0. " \
        "Then read every point."  # fmt: skip


# --- tables ---------------------------------------------------------------------------------------


def _mounts(every: Sequence[Group]) -> dict[drawings.Mount, str]:
    """Each way of fixing, and the fans that have it."""
    made: dict[drawings.Mount, list[str]] = {}
    for group in every:
        key = next((each for each in made if str(each) == str(group.mount)), group.mount)  # NaN
        made.setdefault(key, []).extend(fan.path for fan in group.fans)
    return {mount: listed(names, len(names), last=" and ") for mount, names in made.items()}


def _drawable(mount: drawings.Mount) -> bool:
    return min(np.nan_to_num([mount.frame, mount.pitch, mount.cutout])) > 0


def _still(found: Commissioning) -> set[str]:
    """Branches that no air can pass: what stands on a place that is blanked."""
    return {path for path, item in found.case.branches.items()
            if not found.solution.branches[path].mass_flow > 0
            and not found.solution.branches[path].mass_flow < 0}  # fmt: skip


def _fan_tables(
    found: Commissioning, show: Units
) -> Iterator[tuple[list[str], list[tuple[str, list[str]]]]]:
    """Tags, and rows of what is the same for all or a cell a fan."""
    fans = list(working_fans(found.solution))
    for start in range(0, len(fans), SIDE_BY_SIDE):
        some = fans[start : start + SIDE_BY_SIDE]
        cells = [dict(_fan_cells(found, fan, show)) for fan in some]
        yield [fan.path for fan in some], [(key, [each[key] for each in cells]) for key in cells[0]]


def _fan_cells(found: Commissioning, fan: Working, show: Units) -> Iterator[tuple[str, str]]:
    item, rating = fan.item, fan.rating
    at = " from the left, ".join(show.text(q.LENGTH, each) for each in item.at or ())
    size = " x ".join(show.text(q.LENGTH, each) for each in rating.frame or ())
    out, into = is_outside(fan.target), is_outside(fan.source)
    way = "exhaust" if out and not into else "intake" if into and not out else "inner"
    yield "Tag", item.tag or BLANK
    yield "Place in the view", f"{at} up" if at else BLANK
    yield "Type, frame", f"{item.type}, {size or BLANK}"
    yield "Air", ", ".join(filter(None, (blown(item), f"{fan.source} to {fan.target}", way)))
    yield "Label faces", label_place(fan) + f" ({rating.label_side} side)" * bool(rating.label_side) \
        or BLANK  # fmt: skip
    yield "Shaft", shaft_of(found.case, item) or BLANK
    yield "Hole pitch, cutout", ", ".join(
        show.text(q.LENGTH, each) if given(each) else BLANK
        for each in (rating.hole_pitch, rating.cutout))  # fmt: skip
    yield "Guard", f"fitted, {guarded(fan) or BLANK} side" if item.guard.loss else \
        "none in the case: fit one"  # fmt: skip
    yield "Isolators, screws", BLANK
    yield "Supply", supply_of(found.solution, item) or rating.supply or BLANK
    yield "Terminals", BLANK
    yield "Earth", BLANK
    alarm = rating.alarm
    yield "Alarm contact", "none" if alarm == "none" else f"{alarm + ': ' if alarm else ''}{BLANK}"
    yield "State at the test", item.state if not item.running else "runs, " + (
        show.text(q.SPEED, fan.speed * rating.rated_speed) if given(rating.rated_speed)
        else f"{fan.speed:.2f} of rated speed")  # fmt: skip


def _ways(found: Commissioning, show: Units) -> Iterator[tuple[str, str, str, str, str]]:
    """Filters, vents, openings, ducts, and slots that hold no card."""
    still = _still(found)
    for path, item in found.case.branches.items():
        if item.KIND not in PARTED or (item.KIND == "slot" and item.state == "fitted"):
            continue
        on = getattr(item, "on", None)
        flow = found.solution.branches[path].mass_flow
        ends = [on] * 2 if on else [item.from_, item.to][:: -1 if flow < 0 else 1]
        word = "intake" if is_outside(ends[0]) and not is_outside(ends[1]) else "exhaust" \
            if is_outside(ends[1]) and not is_outside(ends[0]) else ""  # fmt: skip
        air = f"at {on}" if on else f"{ends[0]} to {ends[1]}" + f", {word}" * bool(word)
        at = " from the left, ".join(show.text(q.LENGTH, each) for each in item.at or ())
        area = getattr(item, "area", math.nan)
        yield path, f"{at} up" if at else BLANK, show.text(q.AREA, area) if given(area) else "", \
            "no air" if path in still else air, \
            "flow arrow along the air" if item.state == "fitted" and path not in still \
            else "" if item.state == "fitted" else TODO[item.state]  # fmt: skip


def _plans(found: Commissioning, every: Sequence[Group]) -> list[tuple[str, Markup, float]]:
    """One drawing for each way that fans blow, where the size of the enclosure is known."""
    body, made = found.case.body, []
    if body.size is None:
        return []
    width, height, depth = (1e3 * float(side) for side in body.size)
    across, up, away = {"front": (width, height, depth), "side": (depth, height, width),
                        "plan": (width, depth, height)}[body.view]  # fmt: skip
    fans = [(group.mount, fan) for group in every for fan in group.fans
            if blown(fan.item) and fan.item.at is not None]  # fmt: skip
    pairs = (("up", "down"), ("left", "right"), ("front", "back"))
    for pair in pairs:
        some = [(mount, fan) for mount, fan in fans if blown(fan.item) in pair]
        if not some:
            continue
        flat, side = pair == pairs[2], pair == pairs[1]
        places = []
        for mount, fan in some:
            x, y = (1e3 * float(each) for each in fan.item.at or ())
            places.append(drawings.Place(fan.item.name, y if side else x, y if flat else math.nan,
                                         mount))  # fmt: skip
        size = (up if side else across, up if flat else away)
        ends = ("", "") if flat else ("back", "front, the side of the view")
        turned = "lower edge at the left" if side else ""
        what = {"up": "Seen against the air, " + ("from above" if body.view != "plan"
                and body.up == "top" else f"along the {'height' if side else 'depth'} of the view"),
                "left": "Seen from the side", "front": "Seen in the view"}[pair[0]]  # fmt: skip
        svg, scale = drawings.plan(places, size, (*ends, "depth"))
        made.append((", ".join(filter(None, (what, turned))), svg, scale))
    return made


def _readings(found: Commissioning, units: str) -> list[tuple[str, list[dict[str, str]]]]:
    """Rows of the table of expected readings, under the head of their group."""

    def group(each: TestPoint) -> str:
        if each.path == "site.temperature":
            return "The air that comes in"
        return GROUPS.get(each.kind, "Rise above T0, the air that comes in, in the steady state")

    every = sorted(found.points, key=lambda each: "VANPT".index(each.kind))
    return [(head, [_reading(found, each, units) for each in rows])
            for head, rows in groupby(every, group)]  # fmt: skip


def _reading(found: Commissioning, each: TestPoint, units: str) -> dict[str, str]:
    low, high = each.low, each.high
    if each.kind == "V" and each.predicted < 0:
        low, high = high, low
    numbers = [_number(found, each, value, units) for value in (each.predicted, low, high)]
    if each.path == "site.temperature":
        numbers[1:] = ["", ""]
    return {"name": each.name, "what": each.what, "where": each.where, "expected": numbers[0],
            "low": numbers[1], "high": numbers[2], "unit": _unit(each, units)}  # fmt: skip


def _number(found: Commissioning, each: TestPoint, value: float, units: str) -> str:
    """As it is read: a temperature as a rise, the size of an air speed."""
    if not math.isfinite(value):
        return "\N{EN DASH}"
    shown = each.quantity.shown(units)
    if each.warm and each.path != "site.temperature":
        shown, value = q.DIFFERENCE.shown(units), value - found.outside
    text = shown.number(abs(value) if each.kind == "V" else value)
    return text.replace("-", MINUS).replace(" ", THIN)


def _unit(each: TestPoint, units: str) -> str:
    rise = each.warm and each.path != "site.temperature"
    return printed((q.DIFFERENCE if rise else each.quantity).shown(units).unit)


def _head(each: TestPoint, units: str) -> str:
    return f"{each.name}, {_unit(each, units)}"


def _fault(found: Commissioning, fault: Fault, units: str) -> dict[str, Any]:
    cells = []
    for each in found.columns:
        value = fault.values[each.path] * each.scale
        word = each.word(value)
        if each.kind == "V" and each.predicted < 0:
            word = {"low": "high", "high": "low"}.get(word, "")
        if each.kind == "V" and value * each.predicted < 0:
            word = BACK
        cells.append((_number(found, each, value, units), word))
    return {"what": fault.what, "look": fault.look, "cells": cells}
