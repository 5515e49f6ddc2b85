"""What is asked and taken for granted, what the model does not see, what it is based on."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

from flownet import __version__
from flownet.casefile import resolved
from flownet.casefile.resolved import Resolved, counting
from flownet.enclosure.outages import outage
from flownet.handover import sentences
from flownet.handover.document import Block, GridCell, GridHead, Section, always
from flownet.handover.review import Review
from flownet.pages.caption import told
from flownet.physics.registry import COMMON_PRACTICE
from flownet.pictures.caption import pretty
from flownet.schema.fault import listed

NAMED_THINGS = 3  # before `and 4 more`
OWNERS = "Owner: <given> stands in the case file; <catalogue> comes with the fan type; <default> " \
    "and <common practice> were not given, and the program put them in."  # fmt: skip
UNSEEN = (  # what a network of well-mixed spaces cannot show
    "Jets, swirl and circulation inside a compartment, hot spots in badly mixed corners: each "
    "compartment, or each layer of it, has one air temperature.",
    "Uneven flow into a fan, unless it is entered as clearance or pressure factor.",
    "Conduction along boards and sheets, radiation between parts, humidity of the air.",
    "What the installation adds to noise: levels are those of fans as their data sheets have them, "
    "added up.",
)


def section(found: Review, units: str) -> Section:
    """The question, the scenarios and variants, and every value that was not given."""
    case, asked = found.case, found.comparison
    terms = [(name, pretty(_scenario(found, name))) for name in asked.scenarios]
    terms += [("base", "as the case has it")]
    terms += [(name, pretty("; ".join(told(case, changes))))
              for name, changes in case.variants.items()]  # fmt: skip
    rows = [[GridCell(key, kind="name"), GridCell(pretty(value.strip('"'))), GridCell(names),
             GridCell(owner, kind="quiet")]
            for key, value, names, owner in _assumptions(found)]  # fmt: skip
    table = Block("table", "What is taken for granted, and who says so", rows=rows, heads=[
        GridHead("Assumption"), GridHead("Value"), GridHead("Where"), GridHead("Owner")],
        text=re.sub("[<>]", "", OWNERS))  # fmt: skip
    every = [[GridCell(row.path, kind="name"), GridCell(pretty(row.value)),
              GridCell(row.origin, kind="quiet")] for row in _rows(found)]  # fmt: skip
    whole = Block("details", f"Every value that counts, {len(every)} of them", rows=every,
                  heads=[GridHead("Value of"), GridHead("is"), GridHead("from")])  # fmt: skip
    del units
    return Section("What is asked, and what is assumed?",
                   (always(sentences.question(found), "lead"),),
                   (Block("terms", items=terms), table, whole))  # fmt: skip


def _scenario(found: Review, name: str) -> str:
    """A scenario in the words of a case: its changes, and what fails."""
    case, parts = found.case, []
    for one in name.split("+"):
        failed = outage(case, one)
        if failed is not None:
            parts.append(f"{failed.kind}.{failed.target} fails ({one})")
        elif one in case.scenarios:
            parts.append("; ".join(told(case, case.scenarios[one])))
    return "; ".join(filter(None, parts)) or "as the case has it"


def _rows(found: Review) -> list[Resolved]:
    """Every value of the decisive pair that counts."""
    pair, case = found.decisive, found.case
    made = case.under(pair.scenario, pair.variant)
    return counting(made, list(resolved(case, pair.scenario, pair.variant)))


def _assumptions(found: Review) -> Iterator[tuple[str, str, str, str]]:
    """Defaults that count, what is alike once: key, value, where, owner; then fan types."""
    groups: defaultdict[tuple[str, str, str], list[str]] = defaultdict(list)
    for row in _rows(found):
        if row.origin.startswith("default ("):  # of others nobody would say otherwise
            place = found.case.place(row.path)
            named = f"{place.kind}.{place.name}".rstrip(".")
            groups[f"{place.kind} {place.key}", row.value, row.origin].append(named)
    for (key, value, origin), names in groups.items():
        source = origin.removeprefix("default").strip(" ()")
        owner = "common practice" if COMMON_PRACTICE in source or "common practice" in source \
            else f"default: {source}" if source else "default"  # fmt: skip
        yield key.strip(), value, _where(names), owner
    types: defaultdict[str, list[str]] = defaultdict(list)
    for name, fan in found.case.fans.items():
        types[str(fan.type)].append(f"fan.{name}")
    for kind, names in types.items():
        made = found.case.things["fan_type"].get(kind)
        origin = getattr(made, "origin", "") or "not said"
        yield (
            f"fan type {kind}",
            f"curve, noise and life; origin: {origin}",
            _where(names),
            "catalogue",
        )


def _where(names: list[str]) -> str:
    every = list(dict.fromkeys(names))
    more = f" and {len(every) - NAMED_THINGS} more" if len(every) > NAMED_THINGS else ""
    return ", ".join(every[:NAMED_THINGS]) + more


# --- limits of the model, sources, version --------------------------------------------------------


def unseen(found: Review) -> Section:
    """What no answer on the page knows of."""
    items = list(UNSEEN)
    case = found.case
    if not case.things["recirculation"]:
        items.append("Warm air that is blown out and drawn in again: none is given, so none is "
                     "counted.")  # fmt: skip
    if any(item.quantity.json.unit and item.margin != item.margin
           for solution in found.solutions.values() for item in solution.limits):  # fmt: skip
        items.append("Limits whose result is not known: they are named as unknown.")
    return Section(
        "What does the model not see?",
        (always("Anything that differs within a compartment: it is a network of well-mixed "
                "spaces.", "lead"),),
        (Block("items", items=[(text, "") for text in items]),
         always("This is a step before a simulation of the flow field and a test, not a "
                "replacement.")),
    )  # fmt: skip


def sources(found: Review) -> Section:
    """Where every default and correlation that acts here is from."""
    rows: dict[str, dict[str, None]] = defaultdict(dict)
    for row in _rows(found):
        source = row.origin.removeprefix("default").strip(" ()")
        if row.origin.startswith("default (") and source:
            kind, *rest = row.path.split(".")
            rows[source][f"{kind} {rest[-1]}"] = None
    table = [[GridCell(listed(names, 4), kind="name"), GridCell(source)]
             for source, names in rows.items()]  # fmt: skip
    table += [[GridCell(name, kind="name"), GridCell(source)] for name, source in ALWAYS.items()]
    return Section(
        "What is it based on?",
        (always("On published relations where there are any; where there are none, it says so.",
                "lead"),),
        (Block("table", "Sources of what is used here",
               heads=[GridHead("For"), GridHead("Source")], rows=table),),
    )  # fmt: skip


ALWAYS: Mapping[str, str] = {
    "air at the site": "U.S. Standard Atmosphere, 1976; ideal gas",
    "fan laws": "ISO 5801: pressure as density and as the square of speed",
    "network of flows": "balance of mass, pressure and energy at every place; the state that the "
    "air reaches from rest",
    "tight, severities of findings": "common practice, no source",
}


def version(found: Review) -> Section:
    """What was solved, and how to solve it again."""
    rows = [[GridCell(pair.scenario, kind="name"), GridCell(pair.variant),
             GridCell(found.solutions[pair.key].case.digest.removeprefix("sha256:")[:16],
                      kind="mono")]
            for pair in found.pairs if pair.key in found.solutions]  # fmt: skip
    lines = found.source.count("\n")
    data: Any = {"source": found.source}
    return Section(
        "Which input, which version?",
        (always(f"flownet {__version__}, case format 1; the case and all results are inside this "
                "page.", "lead"),),
        (Block("table", "Digests of the inputs",
               heads=[GridHead("Scenario"), GridHead("Variant"), GridHead("sha256, 16 digits")],
               rows=rows),
         always("To solve it again: save the case file below as case.toml, and run flownet review "
                "case.toml. Equal digests mean equal inputs."),
         Block("source", f"Case file, {lines} lines", data=data)),
    )  # fmt: skip
