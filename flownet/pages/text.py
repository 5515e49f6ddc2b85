"""A solution as a page of text: the verdict first, then margins, fans, air, heat and findings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from flownet.pages.fan_set import fan_set_lines
from flownet.pages.findings_lines import Told, findings_lines
from flownet.pages.heading import changed_lines, head_lines, titled
from flownet.pages.page import MISSING, STYLES, Page, Unsolved, counted
from flownet.pages.table import INDENT, ROWS, Cell, Head, both_sides, hanging
from flownet.pages.verdict import ranked, verdict
from flownet.results.solution import Limit, Solution
from flownet.results.streams import is_outside, is_still
from flownet.schema import quantities as q
from flownet.schema.shown import apportioned, one_line
from flownet.schema.units import Supply

__all__ = [
    "Page", "Unsolved", "solution_lines", "unsolved_lines", "verdict",
]  # fmt: skip

WORKS_BADLY = ("backflow", "stall", "past-free-delivery")  # regions, worst first
NO_AIR = "no air"
DEFAULT_STATES = ("open", "fitted", "running", None)


def solution_lines(
    solution: Solution, page: Page, changed: Sequence[str] = (),
    told: Told | None = None,
) -> Iterator[str]:  # fmt: skip
    """The page of one solution; `changed` are further changes, `fan.left.speed = 0.8`.

    `told` are findings of pages before this one, see `findings_lines`.
    """
    page = replace(page, names=_longest_name(solution))
    yield from _header(solution, page, changed)
    yield ""
    yield from verdict(solution, page)
    yield ""
    yield from _margins(solution, page)
    yield from _layers(solution, page)
    yield from _fans(solution, page)
    yield from _followed(solution, page)
    if page.everything:
        yield from fan_set_lines(solution, page)
    yield from _air(solution, page)
    yield _heat(solution, page)
    yield from findings_lines(solution.findings, page, told)
    yield from _balance(solution, page)


def _longest_name(solution: Solution) -> int:
    limits = [limit.subject for limit in solution.limits]
    names = [*solution.branches, *(f"part.{name}" for name in solution.parts), *limits]
    names += [f"compartment.{name}" for name in solution.compartments]
    return len(INDENT) + max(len(name) for name in names)


def unsolved_lines(item: Unsolved, page: Page) -> Iterator[str]:
    """What stands in the place of a page where a scenario of several was not solved."""
    yield from head_lines(one_line(item.title), f"{item.variant} | {item.scenario}", page)
    yield ""
    yield page.paint("not solved", "bad")
    for fault in item.faults:
        yield from hanging([Cell(INDENT)], fault, page.width)


def _header(solution: Solution, page: Page, changed: Sequence[str]) -> Iterator[str]:
    case, site = solution.case, solution.site
    yield from head_lines(titled(case), f"{solution.variant} | {solution.scenario}", page)
    place = page.text(q.TEMPERATURE, site["temperature"])
    if case.outside.altitude == case.outside.altitude:
        place += f", {page.text(q.ALTITUDE, case.outside.altitude)}"
    air = f"{page.text(q.SITE_PRESSURE, site['pressure'])}, {page.text(q.DENSITY, site['density'])}"
    supplies = dict.fromkeys(_supply_text(item) for item in case.things["supply"].values())
    yield from both_sides(f"outside {place}: {air}", ", ".join(supplies), page.width)
    yield from changed_lines(changed)


def _supply_text(supply: Any) -> str:
    direct = supply.frequency != supply.frequency
    return Supply(supply.voltage, 0.0 if direct else supply.frequency).text()


# --- tables ------------------------------------------------------------------------------------


def _margins(solution: Solution, page: Page) -> list[str]:
    rows = [_margin_row(limit, word, solution, page) for limit, word in ranked(solution)]
    held = {limit.subject for limit in solution.limits}
    groups = (("part", solution.parts), ("compartment", solution.compartments))
    for kind, results in groups:
        for name, row in results.items():
            if f"{kind}.{name}" not in held:
                value = page.cell(q.TEMPERATURE, row.temperature)
                cells = (MISSING, MISSING, "no limit", "")
                rows.append([Cell(f"{kind}.{name}"), value, *map(Cell, cells)])
    columns = [
        Head("Margins, worst first"), Head("value", True), Head("limit", True),
        Head("margin", True), Head(""), Head(""),
    ]  # fmt: skip
    return page.table(columns, rows)


def _margin_row(limit: Limit, word: str, solution: Solution, page: Page) -> list[Cell]:
    note = ""
    if limit.limit == "noise":
        note = f"at {page.text(q.DISTANCE, solution.totals.noise_distance)}"
    elif limit.limit == "life":
        note = str(solution.fans[limit.subject].life_kind or "")
        limits = solution.case.limits
        if limits.duty == "intermittent" and limits.running_share == limits.running_share:
            note += f", runs {100 * limits.running_share:.3g} % of the time"
    return [
        Cell(limit.subject),
        page.cell(limit.quantity, limit.value),
        page.bound(limit.quantity, limit.bound),
        page.cell(limit.margin_quantity, limit.margin, "+"),
        Cell(word, STYLES[word]),
        Cell(note),
    ]


def _layers(solution: Solution, page: Page) -> Iterator[str]:
    """`compartment.box: layers upward 42.1, 46.1, 48.3 degC, mean 45.5 degC`, one line each."""
    for name, row in solution.compartments.items():
        if rows := solution.layers_of(name):
            upward = ", ".join(page.text(q.TEMPERATURE, each.temperature) for each in rows.values())
            told = f"layers upward {upward}; mean {page.text(q.TEMPERATURE, row.mean_temperature)}"
            yield from hanging([Cell(f"{INDENT}compartment.{name}: ")], told, page.width)


def _fans(solution: Solution, page: Page) -> list[str]:
    names = list(solution.fans)
    if not names:
        return []
    if len(names) > ROWS and not page.everything:
        names.sort(key=lambda name: _trouble(solution.fans[name].region))
    kinds = {row.life_kind for row in solution.fans.values() if row.life == row.life}
    one_kind = len(kinds) <= 1
    heading = " ".join(["life", *(str(kind) for kind in kinds if kind)]) if one_kind else "life"
    columns = [
        Head("Fans"), Head("flow", True), Head("rise", True), Head("region"),
        Head("air in", True), Head("power", True), Head(heading, True), Head(""),
    ]  # fmt: skip
    return page.table(columns, [_fan_row(name, solution, page, one_kind) for name in names])


def _followed(solution: Solution, page: Page) -> Iterator[str]:
    """`fan.left: speed 0.71 by part.sink 58.3 degC`, one line a fan whose speed follows."""
    for name, row in solution.fans.items():
        if (follows := solution.followed(name)) is not None:
            warm = page.text(q.TEMPERATURE, follows.temperature)
            told = f"speed {page.text(q.RATIO, row.speed_ratio)} by {follows.by} {warm}"
            yield from hanging([Cell(f"{INDENT}{name}: ")], told, page.width)


def _trouble(region: str) -> int:
    return WORKS_BADLY.index(region) if region in WORKS_BADLY else len(WORKS_BADLY)


def _fan_row(name: str, solution: Solution, page: Page, one_kind: bool) -> list[Cell]:
    row = solution.fans[name]
    notes = list(_way_notes(name, solution.case.fans[name[4:]], solution))
    if row.region == "stopped" and not is_still(solution, name):
        notes.append(f"drop {page.text(q.PRESSURE, abs(solution.branches[name].drop))}")
    if not one_kind and not math.isnan(row.life):
        notes.insert(0, str(row.life_kind))
    style = {"normal": "", "past-free-delivery": "doubtful", "stall": "bad", "backflow": "bad"}
    return [
        Cell(name),
        _flow(solution, name, page),
        page.cell(q.PRESSURE, row.rise),
        Cell(row.region, style.get(row.region, "quiet")),
        page.cell(q.TEMPERATURE, row.air_temperature),
        page.cell(q.POWER, row.power),
        page.cell(q.HOURS, row.life),
        Cell(", ".join(notes)),
    ]


def _air(solution: Solution, page: Page) -> list[str]:
    names = [name for name in solution.branches if name not in solution.fans]
    if not names:
        return []
    if len(names) > ROWS and not page.everything:
        names.sort(key=lambda name: -abs(solution.branches[name].volume_flow))
    columns = [
        Head("Air"), Head("flow", True), Head("drop", True), Head("from > to"), Head("")
    ]  # fmt: skip
    return page.table(columns, [_air_row(name, solution, page) for name in names])


def _air_row(name: str, solution: Solution, page: Page) -> list[Cell]:
    row, item = solution.branches[name], solution.case.branches[name]
    on = getattr(item, "on", None)
    way = f"on {on}" if on is not None else f"{item.from_} > {item.to}"
    return [
        Cell(name),
        _flow(solution, name, page),
        page.cell(q.PRESSURE, row.drop),
        Cell(way),
        Cell(", ".join(_air_notes(name, item, solution, page))),
    ]


def _flow(solution: Solution, name: str, page: Page) -> Cell:
    """The flow of a branch; `no air` where none passes."""
    flow = solution.branches[name].volume_flow
    still = flow == 0 or is_still(solution, name)
    return Cell(NO_AIR) if still else page.cell(q.VOLUME_FLOW, flow)


def _air_notes(name: str, item: Any, solution: Solution, page: Page) -> Iterator[str]:
    """What is worth a word beside a flow: its state, its way, its share, what leaves it."""
    row = solution.branches[name]
    if row.state not in DEFAULT_STATES:
        yield row.state
    yield from _way_notes(name, item, solution)
    if row.heat and math.isfinite(row.heat) and math.isfinite(row.outlet_temperature):
        yield f"out at {page.text(q.TEMPERATURE, row.outlet_temperature)}"


def _way_notes(name: str, item: Any, solution: Solution) -> Iterator[str]:
    """`back` where air goes against the way that was meant, and the share of the intake."""
    forward = -1 if getattr(item, "mounted", "forward") == "reversed" else 1
    if is_still(solution, name):
        return
    if solution.branches[name].volume_flow * forward < 0:
        yield "back"
    share = _intake_shares(solution).get(name)
    if share is not None:
        yield f"{share} % of intake" if share else "under 1 % of intake"


def _intake_shares(solution: Solution) -> dict[str, int]:
    """Percents of the air drawn in, by branch; they add up to 100."""
    whole = solution.totals.volume_flow
    drawn = {}
    for name, row in solution.branches.items():
        item = solution.case.branches[name]
        if getattr(item, "on", None) is None and row.volume_flow and whole:
            start = item.from_ if row.volume_flow > 0 else item.to
            if is_outside(str(start)) and not is_still(solution, name):
                drawn[name] = 100 * abs(float(row.volume_flow)) / whole
    percents = apportioned(round(math.fsum(drawn.values())), list(drawn.values()))
    return dict(zip(drawn, percents, strict=True))


# --- sums, balance -----------------------------------------------------------------------------


def _heat(solution: Solution, page: Page) -> str:
    """`Heat  376 W in = 345 W by air + 31 W through walls`, which adds up as printed."""
    totals = solution.totals
    walls = totals.wall_heat if totals.wall_heat == totals.wall_heat else 0.0
    lead, shown = page.paint("Heat", "heading"), q.POWER.shown(page.units)
    if not solution.walls:
        return f"{lead}  {shown.text(totals.heat)} in, all by air"
    if walls < 0:
        air, (heat, sun) = shown.shares(totals.heat - walls, (totals.heat, -walls))
        return f"{lead}  {heat} in + {sun} in through walls = {air} by air"
    heat, (air, out) = shown.shares(totals.heat, (totals.heat - walls, walls))
    return f"{lead}  {heat} in = {air} by air + {out} through walls"


def _balance(solution: Solution, page: Page) -> Iterator[str]:
    made = solution.balance
    residuals = ("mass", "pressure", "energy")
    told = [f"{name} {_power_of_ten(getattr(made, name + '_residual'))}" for name in residuals]
    rounds = counted(int(made.iterations), "round")
    word = "stable" if solution.stable else "unstable"
    several = solution.points is not None and solution.points > 1
    more = f", one of {solution.points} operating points found" if several else ""
    begin, gap = f"Balance  {'  '.join(told)}  ({rounds})", 5 * " "
    if len(begin + gap + word + more) > page.width:
        yield begin.replace("Balance", page.paint("Balance", "heading"))
        begin, gap = "", len("Balance  ") * " "
    word = word if solution.stable else page.paint(word, "bad")
    yield begin.replace("Balance", page.paint("Balance", "heading")) + gap + word + more


def _power_of_ten(value: float) -> str:
    """`3e-9`; one digit says enough of a residual."""
    if not value:
        return "0"
    mantissa, _, exponent = f"{float(value):.0e}".partition("e")
    return f"{mantissa}e{int(exponent)}"
