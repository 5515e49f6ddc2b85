"""A solution as a page of text: the verdict first, then margins, fans, air, heat and findings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any, NamedTuple

from flownet import quantities as q
from flownet.report.fan_set import fan_set_lines
from flownet.report.heading import changed_lines, head_lines, one_line, titled
from flownet.report.page import MISSING, STYLES, Page, counted
from flownet.report.sheet import INDENT, ROWS, Cell, Column, both_sides, hanging
from flownet.report.verdict import ranked, verdict
from flownet.solution import Finding, Limit, Solution
from flownet.units import Supply

__all__ = [
    "Page", "Unsolved", "findings_lines", "solution_lines", "unsolved_lines", "verdict",
]  # fmt: skip

WORKS_BADLY = ("backflow", "stall", "past-free-delivery")  # regions, worst first
DEFAULT_STATES = ("open", "fitted", "running", None)


class Unsolved(NamedTuple):
    """A scenario that has no result, and why."""

    title: str
    scenario: str
    variant: str
    kind: str  # "no-solution", or "case" where the input is at fault
    faults: tuple[str, ...]


def solution_lines(solution: Solution, page: Page, changed: Sequence[str] = ()) -> Iterator[str]:
    """The page of one solution; `changed` are further changes, `fan.left.speed = 0.8`."""
    page = replace(page, names=_longest_name(solution))
    yield from _header(solution, page, changed)
    yield ""
    yield from verdict(solution, page)
    yield ""
    yield from _margins(solution, page)
    yield from _fans(solution, page)
    yield from _followed(solution, page)
    if page.everything:
        yield from fan_set_lines(solution, page)
    yield from _air(solution, page)
    yield _heat(solution, page)
    yield from findings_lines(solution.findings, page)
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
                value = page.text(q.TEMPERATURE, row.temperature)
                cells = (f"{kind}.{name}", value, MISSING, MISSING, "no limit", "")
                rows.append([Cell(text) for text in cells])
    columns = [
        Column("Margins, worst first"), Column("value", True), Column("limit", True),
        Column("margin", True), Column(""), Column(""),
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
        Cell(page.text(limit.quantity, limit.value)),
        Cell(page.bound(limit.quantity, limit.bound)),
        Cell(page.text(limit.margin_quantity, limit.margin, "+")),
        Cell(word, STYLES[word]),
        Cell(note),
    ]


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
        Column("Fans"), Column("flow", True), Column("rise", True), Column("region"),
        Column("air in", True), Column("power", True), Column(heading, True), Column(""),
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
    notes = list(_way_notes(solution.branches[name], solution.case.fans[name[4:]], solution))
    if not one_kind and not math.isnan(row.life):
        notes.insert(0, str(row.life_kind))
    style = {"normal": "", "past-free-delivery": "doubtful", "stall": "bad", "backflow": "bad"}
    return [
        Cell(name),
        Cell(page.text(q.VOLUME_FLOW, solution.branches[name].volume_flow)),
        Cell(page.pressure(row.rise)),
        Cell(row.region, style.get(row.region, "quiet")),
        Cell(page.text(q.TEMPERATURE, row.air_temperature)),
        Cell(page.text(q.POWER, row.power)),
        Cell(page.text(q.HOURS, row.life)),
        Cell(", ".join(notes)),
    ]


def _air(solution: Solution, page: Page) -> list[str]:
    names = [name for name in solution.branches if name not in solution.fans]
    if not names:
        return []
    if len(names) > ROWS and not page.everything:
        names.sort(key=lambda name: -abs(solution.branches[name].volume_flow))
    columns = [
        Column("Air"), Column("flow", True), Column("drop", True), Column("from > to"), Column("")
    ]  # fmt: skip
    return page.table(columns, [_air_row(name, solution, page) for name in names])


def _air_row(name: str, solution: Solution, page: Page) -> list[Cell]:
    row, item = solution.branches[name], solution.case.branches[name]
    on = getattr(item, "on", None)
    way = f"on {on}" if on is not None else f"{item.from_} > {item.to}"
    return [
        Cell(name),
        Cell(page.text(q.VOLUME_FLOW, row.volume_flow)),
        Cell(page.pressure(row.drop)),
        Cell(way),
        Cell(", ".join(_air_notes(row, item, solution, page))),
    ]


def _air_notes(row: Any, item: Any, solution: Solution, page: Page) -> Iterator[str]:
    """What is worth a word beside a flow: its state, its way, its share, what leaves it."""
    if row.state not in DEFAULT_STATES:
        yield row.state
    yield from _way_notes(row, item, solution)
    if row.heat and math.isfinite(row.heat) and math.isfinite(row.outlet_temperature):
        yield f"leaves at {page.text(q.TEMPERATURE, row.outlet_temperature)}"


def _way_notes(row: Any, item: Any, solution: Solution) -> Iterator[str]:
    """`back` where air goes against the way that was meant, and the share of the intake."""
    forward = -1 if getattr(item, "mounted", "forward") == "reversed" else 1
    if row.volume_flow * forward < 0:
        yield "back"
    whole = solution.totals.volume_flow
    if getattr(item, "on", None) is None and row.volume_flow and whole:
        drawn = item.from_ if row.volume_flow > 0 else item.to
        if drawn.partition(".")[0] == "outside":
            share = 100 * abs(row.volume_flow) / whole
            yield f"{share:.0f} % of intake" if share >= 1 else "under 1 % of intake"


# --- sums, findings, balance -------------------------------------------------------------------


def _heat(solution: Solution, page: Page) -> str:
    """`Heat  376 W in = 345 W by air + 31 W through walls`."""
    totals = solution.totals
    walls = totals.wall_heat if totals.wall_heat == totals.wall_heat else 0.0
    heat, air = (page.text(q.POWER, value) for value in (totals.heat, totals.heat - walls))
    lead = page.paint("Heat", "heading")
    if not solution.walls:
        return f"{lead}  {heat} in, all by air"
    if walls < 0:
        return f"{lead}  {heat} in + {page.text(q.POWER, -walls)} in through walls = {air} by air"
    return f"{lead}  {heat} in = {air} by air + {page.text(q.POWER, walls)} through walls"


def findings_lines(findings: Sequence[Finding], page: Page) -> Iterator[str]:
    """The findings, worst first, each wrapped beside its rule."""
    if not findings:
        return
    yield page.paint("Findings", "heading")
    order = ("error", "warning", "note")
    listed = sorted(findings, key=lambda f: order.index(f.severity))
    shown = listed[: page.most]
    size = max(len(item.rule) for item in shown)
    for item in shown:
        words = [Cell(INDENT), Cell(f"{item.severity:<9}", STYLES[item.severity])]
        lead = [*words, Cell(item.rule.ljust(size) + "  ")]
        yield from hanging(lead, _told(item, page.units), page.width, page.paint)
    if len(listed) > len(shown):
        rest = [item.severity for item in listed[len(shown) :]]
        told = ", ".join(counted(len(list(same)), word) for word, same in groupby(rest))
        yield f"{INDENT}... {told} more (--all)"


def _told(finding: Finding, units: str) -> str:
    message, advice = finding.message(units).strip(), finding.advice(units).strip()
    if not advice:
        return message
    return f"{message}{'' if message.endswith(('.', '!', '?')) else '.'} Try: {advice}"


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
