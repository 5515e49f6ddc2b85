"""`flownet size`: the air flow that a heat load needs, from numbers or from a case."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import click

from flownet.cli import complete, options
from flownet.cli.answer import Answer, give
from flownet.cli.request import Request, command_of
from flownet.findings.facts import listed
from flownet.judging.voids import told
from flownet.pages.heading import titled
from flownet.pages.page import Page
from flownet.pages.table import Cell, Head, Paint, table
from flownet.schema import quantities as q
from flownet.schema.errors import CaseError
from flownet.schema.quantities import Quantity
from flownet.studies.size import RULES, CaseSizing, Need, Rule, Sizing, size, size_case

SUFFIXES = (".json", ".txt")
LOAD = ("heat", "rise", "inlet")
ONLY_NUMBERS = ("heat", "inlet", "altitude")
ONLY_CASE = ("scenario", "variant", "settings", "catalogue")
RENAMED = {"stated": "flow", "settings": "set"}  # keyword -> option
SAME = 1e-4  # of the density: told once
MUCH = 10  # times the need, above which a percentage says nothing
LITTLE = 0.01  # share of all heat below which a compartment has hardly any
HARDLY = "hardly any heat"
SCARCE = (
    f"{HARDLY}: less than {100 * LITTLE:g} % of all, or its walls take it off; check that the heat "
    "of the compartment is in the case."
)
MEANING = (
    "own: heat that the air takes up in the compartment and on the way into it. brought: what it "
    "brings along from upstream, above outside. needed: both over the allowed rise, which holds "
    "when all flows grow alike and split as now. alone: the own heat only, as if all its air came "
    "straight from outside; the difference is the price of standing downstream."
)


@command_of(
    "size",
    "Size the air flow for a heat load (--heat, --rise, --inlet), or for every compartment of a "
    "case.",
    'flownet size --heat "400 W" --rise "10 K" --inlet "40 degC" --margin 20%',
    "flownet size drive-cabinet -s hot",
    takes=(
        click.argument("case", metavar="[CASE]", required=False, shell_complete=complete.cases),
        click.option("--heat", metavar="W", help='Heat load, such as "400 W".'),
        click.option("--rise", metavar="K",
                     help="Allowed rise of the air; of a case, by its air limits."),
        click.option("--inlet", metavar="T",
                     help='Temperature of the air that enters, "40 degC".'),
        click.option("--altitude", metavar="H", help='Height of the site, "1500 m". Default 0 m.'),
        click.option("--margin", metavar="SHARE", default="0 %",
                     help="Added to the flow, such as 20%."),
        click.option("--flow", "stated", metavar="FLOW",
                     help="A flow that somebody states, to check."),
        click.option("--drop", metavar="P",
                     help="Pressure an opening may cost; says how large it is."),
        click.option("--velocity", metavar="V",
                     help="Velocity on the face of an opening; says how large."),
        options.once(
            "-s", "--scenario", "scenario", what="scenario", hint="-s {joined} joins them",
            metavar="NAME", shell_complete=complete.scenarios,
            help="Scenario of a case; a+b joins several. Default: base.",
        ),
        options.variant, options.settings, options.catalogue, options.out, options.json,
        options.force, options.units, options.everything,
    ),
)  # fmt: skip
def command(asked: Request, **given: str | None) -> None:
    """Work the flows out and print them."""
    asked.files.check("size", SUFFIXES)
    _check_asked(asked, given)
    found = _of_case(asked, given) if asked.case is not None else _of_numbers(given)
    own = found.solution.case if isinstance(found, CaseSizing) else None
    page = asked.page(own.units if own is not None else "metric")
    give(
        Answer(lambda page: _lines(found, page), found.to_dict), own, asked.files, page,
        asked.screen,
    )  # fmt: skip


def _lines(found: Sizing | CaseSizing, page: Page) -> Iterator[str]:
    mine = _Page(page.units, page.width, page.most, page.paint)
    return case_lines(found, mine) if isinstance(found, CaseSizing) else lines_of(found, mine)


def _check_asked(asked: Request, given: Mapping[str, str | None]) -> None:
    """Options that belong to numbers, and those that belong to a case."""
    if asked.case is None:
        missing = [f"--{name}" for name in LOAD if given[name] is None]
        if missing:
            raise click.UsageError(
                f"{', '.join(missing)} missing; give --heat, --rise and --inlet, or a CASE"
            )
        odd = [name for name in ONLY_CASE if getattr(asked, name)]
        if odd:
            raise click.UsageError(f"--{RENAMED.get(odd[0], odd[0])}: only with a CASE")
        return
    odd = [name for name in ONLY_NUMBERS if given[name] is not None]
    if odd:
        hint = {
            "heat": "the heat of a case is that of its parts, slots and fans",
            "inlet": 'use --set "outside.temperature=45 degC"',
            "altitude": 'use --set "outside.altitude=1500 m"',
        }[odd[0]]
        raise click.UsageError(f"--{odd[0]}: not with a CASE; {hint}")


def _of_numbers(given: Mapping[str, str | None]) -> Sizing:
    words = {name: text for name, text in given.items() if text is not None}
    found: Sizing = _told(lambda: size(**words))
    return found


def _of_case(asked: Request, given: Mapping[str, str | None]) -> CaseSizing:
    made = asked.made()
    words = {name: text for name, text in given.items() if text is not None}
    found: CaseSizing = _told(lambda: size_case(made, **words), tuple(words))
    return found


def _told(work: Callable[[], Any], names: Sequence[str] | None = None) -> Any:
    """The faults of values, after the options they were given with."""
    try:
        return work()
    except CaseError as error:
        faults = []
        for fault in error.faults:
            name, colon, rest = fault.partition(":")
            known = name.isalpha() and (names is None or name in names)
            faults.append(f"--{RENAMED.get(name, name)}{colon}{rest}" if known else fault)
        raise CaseError(faults) from None


# --- words --------------------------------------------------------------------------------------


class _Page(NamedTuple):
    """How the answer is printed."""

    units: str
    width: int
    most: int | None  # rows of a table
    paint: Paint

    def text(self, quantity: Quantity, value: float) -> str:
        """A value in the units of the reader; `-` where there is none."""
        return "-" if math.isnan(value) else quantity.shown(self.units).text(value)

    def table(self, columns: Sequence[Head], rows: Sequence[Sequence[str]]) -> list[str]:
        """A table of plain words."""
        cells = [[Cell(text) for text in row] for row in rows]
        return table(columns, cells, width=self.width, most=self.most, paint=self.paint)

    def wrapped(self, words: str) -> list[str]:
        """Running text."""
        return textwrap.wrap(words, self.width)


def lines_of(found: Sizing, page: _Page) -> Iterator[str]:
    """The answer for a heat load."""
    load = (
        f"{page.text(q.POWER, found.heat)} into air of {page.text(q.TEMPERATURE, found.inlet)} "
        f"that may leave {page.text(q.DIFFERENCE, found.rise)} warmer"
    )
    yield from page.wrapped(load)
    yield ""
    yield from _flows(found, page)
    yield ""
    yield from _rules(found, page)
    yield from _stated(found, page)
    yield from _openings(found, page)


def _site(found: Sizing, page: _Page) -> str:
    if math.isnan(found.altitude):
        return page.text(q.SITE_PRESSURE, found.pressure)
    return page.text(q.ALTITUDE, found.altitude)


def _flows(found: Sizing, page: _Page) -> list[str]:
    """Flows by the heat balance, at sea level and at the site where that is not the same."""
    places = {"sea level": found.density_at_sea_level}
    if not _at_sea_level(found):
        places[_site(found, page)] = found.density
    densities = list(places.values())
    flows = [found.mass_flow / density for density in densities]
    warmer = (found.inlet + found.rise) / found.inlet
    rows = [
        ("mass flow", *(page.text(q.MASS_FLOW, found.mass_flow) for _ in densities)),
        ("density at the inlet", *(page.text(q.DENSITY, value) for value in densities)),
        *_both("volume flow at the inlet", flows),
        *_both("at the outlet, warmed", [flow * warmer for flow in flows]),
    ]
    if found.margin:
        more = [flow * (1 + found.margin) for flow in flows]
        rows += _both(f"at the inlet with {100 * found.margin:g} %", more)
    return page.table([Head("Needed"), *(Head(place, True) for place in places)], rows)


def _at_sea_level(found: Sizing) -> bool:
    return abs(found.density / found.density_at_sea_level - 1) < SAME


def _both(name: str, flows: Sequence[float]) -> Iterator[tuple[str, ...]]:
    """A row in m3/h and one in CFM."""
    yield (name, *(q.VOLUME_FLOW.metric.text(flow) for flow in flows))
    yield ("", *(q.VOLUME_FLOW.us.text(flow) for flow in flows))


def _rules(found: Sizing, page: _Page) -> Iterator[str]:
    """What rules of thumb give, and why not the same."""
    rows = [
        (rule.text, _in_its_unit(rule, found.by_rule(rule)),
         f"{100 * found.by_rule(rule) / found.volume_flow:.0f} % of the need",
         f"right at {page.text(q.DENSITY, rule.density)}")
        for rule in RULES
    ]  # fmt: skip
    columns = (Head("Rule of thumb"), Head("gives", True), Head(""), Head(""))
    yield from page.table(columns, rows)
    yield from page.wrapped(_why(found, page))


def _in_its_unit(rule: Rule, flow: float) -> str:
    shown = q.VOLUME_FLOW.us if "CFM" in rule.text else q.VOLUME_FLOW.metric
    return shown.text(flow)


def _why(found: Sizing, page: _Page) -> str:
    """The two reasons for which a rule is off, with their shares."""
    rule = RULES[0]
    by_pressure, by_temperature = found.thinner(rule)
    warm = page.text(q.TEMPERATURE, rule.temperature)
    reasons = [f"{page.text(q.TEMPERATURE, found.inlet)} makes it {_change(by_temperature)}"]
    if not _at_sea_level(found):
        reasons.append(f"{_site(found, page)} {_change(by_pressure)}")
    return (
        f"A rule has a density in it. That of {rule.text} ({rule.source}) is that of {warm} at sea "
        f"level; here {' and '.join(reasons)}, so a m3 carries "
        f"{100 * by_pressure * by_temperature:.0f} % of the heat."
    )


def _change(ratio: float) -> str:
    share = f"{100 * abs(ratio - 1):.1f} %"
    return f"{share} {'thinner' if ratio < 1 else 'denser'}"


def _stated(found: Sizing, page: _Page) -> Iterator[str]:
    """A flow named elsewhere beside the need."""
    if math.isnan(found.stated):
        return
    metric, us = q.VOLUME_FLOW.metric.text(found.stated), q.VOLUME_FLOW.us.text(found.stated)
    words = f"The stated {metric} ({us}) is {found.stated_share:.2f} times the heat balance"
    if (mix := found.mix) is not None:
        words += f": {mix.reason}. Check which degree was used."
    elif found.stated_share < 1:
        warmer = page.text(q.DIFFERENCE, found.rise / found.stated_share)
        words += f": the air would leave {warmer} warmer."
    elif found.stated_share > MUCH:
        words += ". Check its unit."
    else:
        words += f": {100 * (found.stated_share - 1):.0f} % in hand."
    yield ""
    yield from page.wrapped(words)


def _openings(found: Sizing, page: _Page) -> Iterator[str]:
    """How large an opening must be."""
    margin = f", {100 * found.margin:g} % margin in it" if found.margin else ""
    if not math.isnan(found.drop):
        yield ""
        yield from page.wrapped(
            f"Opening for a drop of {page.text(q.PRESSURE, found.drop)}: "
            f"{page.text(q.AREA, found.area_for_drop)} of free area, sharp-edged (discharge "
            f"coefficient 0.61){margin}; a grille needs this much open, a filter has its own curve."
        )
    if not math.isnan(found.velocity):
        yield ""
        yield from page.wrapped(
            f"Face for {page.text(q.VELOCITY, found.velocity)}: "
            f"{page.text(q.AREA, found.area_for_velocity)}{margin}."
        )


# --- a case -------------------------------------------------------------------------------------


def case_lines(found: CaseSizing, page: _Page) -> Iterator[str]:
    """The answer for a case: as a whole, then compartment by compartment."""
    solution = found.solution
    yield from page.wrapped(f"{titled(solution.case)}, {solution.scenario}")
    yield ""
    if solution.void:
        words = told(solution.void, page.units)
        yield from page.wrapped(f"The solve is void, its flows do not count: {words}.")
        yield ""
    if found.whole is None:
        yield from page.wrapped("No compartment has an air_limit above the outside temperature: "
                                "give --rise to size the whole.")  # fmt: skip
    else:
        yield from lines_of(found.whole, page)
        yield ""
        yield from page.wrapped(_counted(found, page))
        yield from page.wrapped(_solved(found, found.whole, page))
    yield ""
    yield from _needs(found, page)


def _counted(found: CaseSizing, page: _Page) -> str:
    """Which heat the need is made of, and which it is not."""
    words = "Counted is the heat of parts, slots and fan motors whose air passes a compartment"
    if found.coming:
        words += f", and {page.text(q.POWER, found.coming)} that come in through walls"
    words += "."
    if found.leaving:
        heat = page.text(q.POWER, sum(found.leaving.values()))
        words += f" Not counted: {heat} in air on its way out, from {listed(found.leaving)}."
    return words


def _solved(found: CaseSizing, whole: Sizing, page: _Page) -> str:
    """The flow that the solve gives, beside the need of the whole."""
    totals = found.solution.totals
    flow = totals.mass_flow / whole.density
    words = (
        f"The solve draws in {q.VOLUME_FLOW.metric.text(flow)} ({q.VOLUME_FLOW.us.text(flow)}): "
        f"{_of_need(totals.mass_flow / whole.mass_flow)}."
    )
    if totals.wall_heat > 0:
        words += (
            f" {page.text(q.POWER, totals.wall_heat)} of the heat leave through walls; the need "
            "counts them as if they did not."
        )
    return words


def _of_need(share: float) -> str:
    """Beside the need of the whole, in words."""
    if share > MUCH:
        return f"more than {MUCH} times the need"
    return f"{100 * share:.0f} % of the need"


def _needs(found: CaseSizing, page: _Page) -> Iterator[str]:
    """Compartments, the one with the least share of its need first."""
    order = sorted(found.compartments, key=lambda need: (math.isnan(need.share), need.share))
    rows = [_need_row(need, found, page) for need in order]
    needed = f"needed +{100 * found.margin:g} %" if found.margin else "needed"
    columns = (
        Head("Compartment"), Head("own", True), Head("brought", True),
        Head("allowed", True), Head("alone", True), Head(needed, True),
        Head("solved", True), Head(""),
    )  # fmt: skip
    yield from page.table(columns, rows)
    yield ""
    yield from page.wrapped(MEANING + " Flows are volumes of outside air.")
    if any(row[-1] == HARDLY for row in rows):
        yield from page.wrapped(SCARCE)


def _need_row(need: Need, found: CaseSizing, page: _Page) -> tuple[str, ...]:
    margin, totals = found.margin, found.solution.totals
    density = float(found.solution.site["density"])
    flows = (need.alone, need.needed * (1 + margin), need.solved)
    return (
        need.name, f"{need.own_heat:.0f} W", f"{need.brought_heat:.0f} W",
        page.text(q.DIFFERENCE, need.allowed_rise),
        *(page.text(q.VOLUME_FLOW, flow / density) for flow in flows),
        _verdict(need, margin, totals.heat),
    )  # fmt: skip


def _verdict(need: Need, margin: float, heat: float) -> str:
    """What a compartment gets of its need, in words too; `heat`: of the whole."""
    if math.isnan(need.allowed_rise):
        return "no limit"
    if need.allowed_rise <= 0:
        return "too hot outside"
    if not need.solved:
        return "no air"
    if not need.needed:
        return HARDLY
    share = need.share / (1 + margin)
    if share <= MUCH:
        return f"{100 * share:.0f} % {'ok' if share >= 1 else 'short'}"
    return HARDLY if need.own_heat + need.brought_heat < LITTLE * heat else f"over {MUCH} times ok"
