"""A solution as a page of text: the verdict first, then margins, fans, air, heat and findings."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any, NamedTuple

from flownet import quantities as q
from flownet.quantities import Quantity
from flownet.report.sheet import (
    INDENT,
    ROWS,
    Cell,
    Column,
    Paint,
    both_sides,
    hanging,
    plain,
    table,
)
from flownet.solution import Finding, Limit, Solution
from flownet.units import Supply

LISTED = 4  # subjects in the verdict, before "and 3 more"
STYLES = {"over": "bad", "short": "bad", "tight": "doubtful", "unknown": "doubtful", "ok": "good",
          "error": "bad", "warning": "doubtful", "note": "quiet"}  # fmt: skip
WORKS_BADLY = ("backflow", "stall", "past-free-delivery")  # regions, worst first
DEFAULT_STATES = ("open", "fitted", "running", None)
MISSING = "-"
SMALLEST = 1e-3  # Pa: of pressures that are told from none


@dataclass(frozen=True)
class Page:
    """How a page is printed."""

    units: str = "metric"
    width: int = 80
    everything: bool = False  # all rows of a table
    paint: Paint = plain
    names: int = 0  # width of the first column, so that tables line up

    @property
    def most(self) -> int | None:
        """Rows of a table that are shown; None: all."""
        return None if self.everything else ROWS

    def text(self, quantity: Quantity, value: Any, sign: str = "") -> str:
        """A value in the reader's units, `-` where there is none."""
        if value is None or not math.isfinite(value):
            return MISSING
        return quantity.shown(self.units).text(float(value), sign)

    def pressure(self, value: Any) -> str:
        """A pressure difference; with the digits it takes not to be shown as nothing."""
        text = self.text(q.PRESSURE, value)
        number, _, unit = text.partition(" ")
        if text == MISSING or float(number) or abs(value) < SMALLEST:
            return text
        shown = q.PRESSURE.shown(self.units)
        return f"{float(f'{value * shown.factor:.2g}'):g} {unit}"

    def bound(self, quantity: Quantity, value: Any) -> str:
        """A limit as people write it: 60 degC, not 60.0 degC."""
        number, _, unit = self.text(quantity, value).rpartition(" ")
        return f"{number.removesuffix('.0')} {unit}".strip()

    def table(self, columns: Sequence[Column], rows: Sequence[Sequence[Cell]]) -> list[str]:
        """A table that fits the page."""
        return table(
            columns, rows, width=self.width, most=self.most, least=self.names, paint=self.paint
        )


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
    yield from _air(solution, page)
    yield _heat(solution, page)
    yield from findings_lines(solution.findings, page)
    yield _balance(solution, page)


def _longest_name(solution: Solution) -> int:
    limits = [subject(limit) for limit in solution.limits]
    names = [*solution.branches, *(f"part.{name}" for name in solution.parts), *limits]
    names += [f"compartment.{name}" for name in solution.compartments]
    return len(INDENT) + max(len(name) for name in names)


def unsolved_lines(item: Unsolved, page: Page) -> Iterator[str]:
    """What stands in the place of a page where a scenario of several was not solved."""
    yield from _title(item.title, item.variant, item.scenario, page)
    yield ""
    yield page.paint("not solved", "bad")
    for fault in item.faults:
        yield from hanging([Cell(INDENT)], fault, page.width)


def _title(title: str, variant: str, scenario: str, page: Page) -> Iterator[str]:
    first, *rest = both_sides(title, f"{variant} | {scenario}", page.width)
    yield page.paint(first, "heading")
    yield from rest


def _header(solution: Solution, page: Page, changed: Sequence[str]) -> Iterator[str]:
    case, site = solution.case, solution.site
    yield from _title(
        case.title or case.origin or "untitled", solution.variant, solution.scenario, page
    )
    place = page.text(q.TEMPERATURE, site["temperature"])
    if case.outside.altitude == case.outside.altitude:
        place += f", {page.text(q.ALTITUDE, case.outside.altitude)}"
    air = f"{page.text(q.SITE_PRESSURE, site['pressure'])}, {page.text(q.DENSITY, site['density'])}"
    supplies = dict.fromkeys(_supply_text(item) for item in case.things["supply"].values())
    yield from both_sides(f"outside {place}: {air}", ", ".join(supplies), page.width)
    for change in changed:
        yield f"with    {change}"


def _supply_text(supply: Any) -> str:
    direct = supply.frequency != supply.frequency
    return Supply(supply.voltage, 0.0 if direct else supply.frequency).text()


# --- verdict -----------------------------------------------------------------------------------


def status(limit: Limit, solution: Solution) -> str:
    """`over` (a life: `short`), `tight`, `ok`; `unknown` where its value is not known."""
    if math.isnan(limit.margin):
        return "unknown"
    if not limit.holds:
        return "short" if limit.limit == "life" else "over"
    thermal = limit.limit in ("part", "air")
    return "tight" if thermal and limit.margin < solution.case.limits.margin else "ok"


def ranked(solution: Solution) -> list[Limit]:
    """All limits, worst first: broken, unknown, tight, kept; temperatures before the others."""
    order = ("over", "short", "unknown", "tight", "ok")
    kinds = ("air", "part", "noise", "life")

    def rank(limit: Limit) -> tuple[int, int, float]:
        word = status(limit, solution)
        return max(order.index(word), 1), max(kinds.index(limit.limit), 1), limit.margin

    return sorted((item for item in solution.limits if _applies(item, solution)), key=rank)


def _applies(limit: Limit, solution: Solution) -> bool:
    """A fan that does not turn has no life to compare."""
    if limit.limit != "life" or not math.isnan(limit.margin):
        return True
    return solution.fans[subject(limit)].region not in ("stopped", "blanked")


def verdict(solution: Solution, page: Page) -> Iterator[str]:
    """What the result means, in a sentence or two."""
    limits = ranked(solution)
    found: defaultdict[str, list[Limit]] = defaultdict(list)
    for limit in limits:
        found[status(limit, solution)].append(limit)
    broken, unknown, tight = found["over"] + found["short"], found["unknown"], found["tight"]
    kept = len(limits) - len(broken) - len(unknown)
    if broken:
        lead, style, named = f"{_count(len(broken), 'limit')} broken: ", "bad", broken
    elif tight:
        lead, style, named = f"{_held(kept)}, {len(tight)} tight: ", "doubtful", tight
    elif kept:
        lead, style, named = f"{_held(kept)}; least room: ", "good", found["ok"][:1]
    else:
        lead, style, named = "No limit is held against a result", "doubtful", []
    yield from _sentence(lead, [_room(item, page) for item in named], style, page)
    if unknown:
        names = [subject(item) for item in unknown]
        yield from _sentence(f"{_count(len(unknown), 'limit')} unknown: ", names, "doubtful", page)
    others = [f for f in solution.findings if f.severity == "error" and f.rule[:6] != "limit-"]
    if others:
        told = [f"{f.rule} at {f.subject}" for f in others]
        yield from _sentence(f"{_count(len(others), 'other error')}: ", told, "bad", page)


def _sentence(lead: str, items: list[str], style: str, page: Page) -> list[str]:
    more = f", and {len(items) - LISTED} more" if len(items) > LISTED else ""
    return hanging([Cell(lead, style)], ", ".join(items[:LISTED]) + more, page.width, page.paint)


def _held(count: int) -> str:
    return f"{count} limits hold" if count > 1 else "The one limit holds"


def _count(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _room(limit: Limit, page: Page) -> str:
    amount = page.text(limit.margin_quantity, abs(limit.margin))
    word = "left" if limit.holds else "short" if limit.limit == "life" else "over"
    return f"{subject(limit)} {amount} {word}"


def subject(limit: Limit) -> str:
    """What a limit is about: `part.rectifier`, `total.noise`, `fan.left`."""
    return limit.subject.removesuffix(".temperature").removesuffix(".life")


# --- tables ------------------------------------------------------------------------------------


def _margins(solution: Solution, page: Page) -> list[str]:
    rows = [_margin_row(limit, solution, page) for limit in ranked(solution)]
    held = {subject(limit) for limit in solution.limits}
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


def _margin_row(limit: Limit, solution: Solution, page: Page) -> list[Cell]:
    word = status(limit, solution)
    note = ""
    if limit.limit == "noise":
        note = f"at {page.text(q.DISTANCE, solution.totals.noise_distance)}"
    elif limit.limit == "life":
        note = str(solution.fans[subject(limit)].life_kind or "")
    return [
        Cell(subject(limit)),
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
        told = ", ".join(_count(len(list(same)), word) for word, same in groupby(rest))
        yield f"{INDENT}... {told} more (--all)"


def _told(finding: Finding, units: str) -> str:
    message, advice = finding.message(units).strip(), finding.advice(units).strip()
    if not advice:
        return message
    return f"{message}{'' if message.endswith(('.', '!', '?')) else '.'} Try: {advice}"


def _balance(solution: Solution, page: Page) -> str:
    made = solution.balance
    residuals = ("mass", "pressure", "energy")
    told = [f"{name} {_power_of_ten(getattr(made, name + '_residual'))}" for name in residuals]
    rounds = _count(int(made.iterations), "round")
    words = "stable" if solution.stable else page.paint("unstable", "bad")
    if solution.points is not None and solution.points > 1:
        words += f", one of {solution.points} operating points"
    return f"{page.paint('Balance', 'heading')}  {'  '.join(told)}  ({rounds})     {words}"


def _power_of_ten(value: float) -> str:
    """`3e-9`; one digit says enough of a residual."""
    if not value:
        return "0"
    mantissa, _, exponent = f"{float(value):.0e}".partition("e")
    return f"{mantissa}e{int(exponent)}"
