"""The sheet for fitting and commissioning: what its template says, each from the case or a result.

What the case does not say is a blank to fill in.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from flownet import __version__
from flownet.enclosure.contents import Changes
from flownet.enclosure.enclosure import Enclosure
from flownet.findings.facts import Working, working_fans
from flownet.findings.fan_data import shaft_of
from flownet.handover import drawings
from flownet.handover.document import printed
from flownet.handover.expected import Expected, TestPoint, expected, still
from flownet.handover.web import Words, rendered, short_digest
from flownet.judging.voids import told
from flownet.pages.caption import Caption
from flownet.pages.schedule import blown, supply_of
from flownet.pictures.caption import Units
from flownet.results.streams import is_outside
from flownet.schema import argument_checks
from flownet.schema import quantities as q
from flownet.schema.fault import listed
from flownet.schema.fields import given
from flownet.schema.shown import Shown
from flownet.solving.attempt import changed
from flownet.studies.tolerances import practice

BLANK = "______"
SIGNS = str.maketrans("- ", "\N{MINUS SIGN}\N{NARROW NO-BREAK SPACE}")  # of print
HOT_PARTS = 3  # parts that are named where surfaces are hot
PARTED = ("filter", "vent", "opening", "duct", "slot")  # kinds of the table of ways of the air
TODO = {  # what is done with one, by its state
    "blanked": "blank plate, tight", "open": "stays open", "removed": "no mat; frame stays open",
    "filler": "filler fitted", "empty": "stays empty, open",
}  # fmt: skip
READING_COLUMNS = ("point", "predicted", "low", "high", "unit", "reading", "reading_unit",
                   "uncertainty", "note")  # fmt: skip
CSV_MARK = "# Readings of the test, flownet "  # the first line of each file of ours


@dataclass(frozen=True, repr=False, eq=False)
class Commissioning(Expected):
    """The sheet, solved at the state of the test."""

    def __repr__(self) -> str:
        return f'<Commissioning "{self.case.title}": {len(self.points)} points>'

    def html(self, units: str | None = None, *, paper: str = "a4") -> str:
        """The sheet; `paper` of templates that A4 does not hold: "a4" in parts, or "a3"."""
        return _sheet(self, units or self.case.units, paper)

    def csv(self, units: str | None = None) -> str:
        """The points with blanks for readings, as `readings` takes them once they are filled in."""
        return "".join(self._lines(units or self.case.units))

    def _lines(self, units: str) -> Iterator[str]:
        """Remarks, headings, a row a point; figures of data sheets, which no result is, remarks."""
        yield f"{CSV_MARK}{__version__}, inputs {short_digest(self.case)}\n"
        yield ("# Fill in reading and uncertainty (95 of 100 lie within, in its unit); air that "
               "goes the other way than the case says is minus.\n")  # fmt: skip
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(READING_COLUMNS)
        for each in self.points:
            shown = each.quantity.shown(units)
            numbers = [f"{shown.of(value):.6g}" for value in (each.predicted, each.low, each.high)]
            note = f"{each.name}: {each.what}; {each.where}{'; minus' * (each.sign < 0)}"
            if each.path:
                writer.writerow([each.path, *numbers, shown.unit, "", shown.unit, "", note])
            else:
                yield f"# {note}: {numbers[0]} {shown.unit}, {' to '.join(numbers[1:])}\n"
        yield text.getvalue()


def commission(
    case: Enclosure, *, scenario: str = "base", variant: str = "base",
    changes: Changes | None = None, defaults: bool = True,
) -> Commissioning:  # fmt: skip
    """Solve the state of the test: what is read where, within which band, and what a fault reads.

    Parameters
    ----------
    case : Enclosure
    scenario, variant, changes
        As for `solve`: the conditions of the test.
    defaults : bool
        Whether usual tolerances (common practice, no source) stand in where the case has none.

    Raises
    ------
    CaseError, NoSolution
        As `solve`. A fault that has no solution is no error: its row says so.
    """
    argument_checks.check("commission", case, Enclosure)
    made = changed(case, scenario, variant, changes)
    return Commissioning(**expected(made, defaults=defaults))


# --- the sheet ------------------------------------------------------------------------------------


def _sheet(found: Expected, units: str, paper: str) -> str:
    """The sheet as one HTML file."""
    show, mounts = Units(units), dict[drawings.Mount, list[str]]()
    groups = _groups(found, show)
    for group in groups:
        mounts.setdefault(group["mount"], []).extend(fan.path for fan in group["fans"])
    return rendered(
        "fitting.html", found.case, blank=BLANK, found=found, groups=groups,
        runs=lambda fan: _runs(fan, show), fed_by=lambda fan: _fed(found, fan),
        place=lambda item: _place(item, show), unit=lambda each: _shown(each, units).unit,
        heads=[f"{each.name}, {printed(_shown(each, units).unit)}" for each in found.columns],
        ways=list(_ways(found, show)), plans=drawings.plans(found.case, [
            (fan.item, group["mount"]) for group in groups for fan in group["fans"]]),
        mounts=[(mount, listed(names, len(names)), *drawings.papers(mount, paper))
                for mount, names in mounts.items()],
        view=drawings.points_view(found), usual=practice(found.spreads, units),
        number=lambda each, value: _number(found, each, value, units),
        **_said(found, groups, show),
    )  # fmt: skip


def _said(found: Expected, groups: Sequence[Words], show: Units) -> Words:
    """What the sentences of the sheet take from the case: conditions, names."""
    case, rows, idle = found.case, found.solution.parts, still(found.solution)
    mats: Words = {f"filter.{name}": item for name, item in case.things["filter"].items()
                   if item.state == "fitted"}  # fmt: skip
    loaded = [f"{path} at {item.fouling:g} times its clean drop" for path, item in mats.items()
              if item.fouling != 1]  # fmt: skip
    hot = sorted((name for name in rows if math.isfinite(rows[name].temperature)),
                 key=lambda name: -rows[name].temperature)  # fmt: skip
    fed = dict.fromkeys(_fed(found, fan) for group in groups for fan in group["fans"])
    outside = show.text(q.TEMPERATURE, found.solution.site["temperature"])
    state = [f"{outside} outside", f"{show.text(q.POWER, found.solution.totals.heat)} of heat",
             *fed, *(loaded or ["clean filters"] * bool(mats)),
             f"scenario {case.applied.scenario}", f"variant {case.applied.variant}",
             *Caption.of(found.solution).changes]  # fmt: skip
    return {
        "state": ", ".join(filter(None, state)), "hot": hot[:HOT_PARTS],
        "fed": [*filter(None, fed)], "void": told(found.solution.void, show.system),
        "mats": [path for path in mats if path not in idle],
        "shut": [path for path, item in case.branches.items()
                 if getattr(item, "state", "") == "blanked"],
    }  # fmt: skip


# --- fans -----------------------------------------------------------------------------------------


def _groups(found: Expected, show: Units) -> list[Words]:
    """Fans that are fitted alike, in words of the sheet."""
    alike: dict[tuple[Any, ...], list[Working]] = {}
    for fan in working_fans(found.solution):
        key = (fan.rating.path, fan.source, fan.target, blown(fan.item), fan.item.guard.loss > 0,
               fan.item.clearance)  # fmt: skip
        alike.setdefault(key, []).append(fan)
    return [_alike(found, fans, show) for fans in alike.values()]


def _alike(found: Expected, fans: Sequence[Working], show: Units) -> Words:
    item, rating, paths = fans[0].item, fans[0].rating, [fan.path for fan in fans]
    ends, side = (fans[0].source, fans[0].target), rating.label_side or ""
    frame, depth = rating.frame or (0.0, 0.0)
    sizes = (1e3 * float(each) if given(each) else 0.0
             for each in (frame, rating.hole_pitch, rating.cutout, depth))  # fmt: skip
    mount = drawings.Mount(str(item.type), *sizes)
    free = {key: getattr(item.clearance, key, math.nan) for key in ("inlet", "outlet")}
    taken, seen, guard = {"intake": ("intake", "against", "inlet"),
                          "exhaust": ("exhaust", "away from", "outlet")}.get(
                              _taken(*ends), ("inner", "", ""))  # fmt: skip
    return {
        "fans": fans, "first": fans[0], "names": listed(paths, len(paths)), "ends": ends,
        "label": ends[side == "outlet"] if side else BLANK, "side": side,
        "way": blown(item) or "", "taken": taken, "seen": seen,  # a strip of paper, from outside
        "guard": guard if item.guard.loss else "", "guarded": item.guard.loss > 0,
        "mount": mount, "scale": drawings.scale_of(mount.frame, mount.depth, drawings.SECTION_ROOM),
        "shaft": shaft_of(found.case, item),
        "size": " x ".join(show.text(q.LENGTH, each) for each in rating.frame or ()),
        "free": " and ".join(f"{show.text(q.LENGTH, value)} at the {key}"
                             for key, value in free.items() if given(value)),
        "before": listed(path for path, each in found.case.branches.items()
                         if getattr(each, "on", None) in paths),
    }  # fmt: skip


def _runs(fan: Working, show: Units) -> str:
    """How it runs at the test."""
    rated = fan.rating.rated_speed
    runs = show.text(q.SPEED, fan.speed * rated) if given(rated) else \
        f"{fan.speed:.2f} of rated speed"  # fmt: skip
    return runs if fan.item.running else str(fan.item.state)


def _fed(found: Expected, fan: Working) -> str:
    return supply_of(found.solution, fan.item) or fan.rating.supply or ""


def _place(item: Any, show: Units) -> str:
    """`200, 1800 mm`, from the left and from below; a blank where the case does not say."""
    if item.at is None:
        return BLANK
    right, up = (show.text(q.LENGTH, each) for each in item.at)
    return f"{right.partition(' ')[0]}, {up}"


# --- tables ---------------------------------------------------------------------------------------


def _taken(start: str, end: str) -> str:
    """`intake`, `exhaust`; empty between two places of one sort."""
    if is_outside(start) == is_outside(end):
        return ""
    return "intake" if is_outside(start) else "exhaust"


def _ways(found: Expected, show: Units) -> Iterator[tuple[str, ...]]:
    """Filters, vents, openings, ducts, slots without a card: place, area, air, what to do."""
    idle, things = still(found.solution), found.case.things
    every = [(f"{kind}.{name}", item) for kind in PARTED for name, item in things[kind].items()]
    for path, item in every:
        on, area = getattr(item, "on", None), getattr(item, "area", math.nan)
        moves = path not in idle
        if (path.startswith("slot.") and item.state == "fitted") or (on and not moves):
            continue
        air = f"at {on}" if on else "no air"
        todo = "flow arrow along the air" * path.startswith("filter.")
        if not on and moves:
            back = found.solution.branches[path].mass_flow < 0
            ends = (item.to, item.from_) if back else (item.from_, item.to)
            air = ", ".join(filter(None, (" to ".join(ends), _taken(*ends))))
        yield (path, "" if on else _place(item, show), show.text(q.AREA, area) if given(area)
               else "", air, TODO.get(item.state, todo * moves))  # fmt: skip


def _shown(each: TestPoint, units: str) -> Shown:
    return (q.DIFFERENCE if each.rises else each.quantity).shown(units)


def _number(found: Expected, each: TestPoint, value: float, units: str) -> str:
    """As it is read: a temperature as a rise, the size of an air speed."""
    if not math.isfinite(value):
        return "\N{EN DASH}"
    value -= float(found.solution.site["temperature"]) if each.rises else 0.0
    size = abs(value) if each.name[0] == "V" else value * each.sign
    return _shown(each, units).number(size).translate(SIGNS)
