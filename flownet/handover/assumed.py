"""What is asked and taken for granted, what the model does not see, what it is based on."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

from flownet import __version__
from flownet.casefile import case_text, resolved
from flownet.casefile.resolved import Resolved, counting
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import outage
from flownet.handover.document import PageBlock, PageSection, always, grid, printed
from flownet.handover.reviewed import Reviewed
from flownet.pages.caption import told
from flownet.pages.page import counted
from flownet.pages.sheet import Column, Listing
from flownet.physics.registry import COMMON_PRACTICE, REGISTRY
from flownet.pictures.caption import Units
from flownet.schema.fault import listed, word
from flownet.schema.fields import Number

KINDS_FIRST = "outside limits supply part slot filter vent leak wall "  # the others come last
NAMED_THINGS, MOST_SCENARIOS_TOLD, MOST_GIVEN = 3, 40, 40  # before `and 4 more`
OWNERS = ("given", "catalogue", "common practice", "default")  # in the order of the table
OWNERS_NOTE = "Owner: given stands in the case file; catalogue comes with the fan type; default " \
    "and common practice were not given, and the program put them in."  # fmt: skip
WAYS_TOLD = {  # how something fails, in words
    "out": "stands still in its open hole", "shut": "stands still behind a shutter",
    "blanked": "stands still, its hole closed",
}  # fmt: skip
SUPPLY_OUT = "fails: every fan on it stands still in its open hole"
FASTER = ", what still runs at the top of its speed range"
TOLD_FIRST = re.compile(  # given values that a review asks for before all others
    r"(outside(\.[\w-]+)?\.(temperature|altitude|over_pressure)|limits\.margin|supply\.\S+"
    r"|part\.\S+\.(power|output|efficiency|load)|slot\.\S+\.power|recirculation\.\S+\.fraction"
    r"|filter\.\S+\.(area|velocity_drop|loss|fouling)|vent\.\S+\.(area|open_ratio|loss|fouling)"
    r"|leak\.\S+\.flow_at|wall\.\S+\.u_value)"
)
MODEL_LIMITS = (  # what a network of well-mixed spaces cannot show
    "Jets, swirl and circulation inside a compartment, hot spots in badly mixed corners: each "
    "compartment, or each layer of it, has one air temperature.",
    "Uneven flow into a fan, unless it is entered as clearance or pressure factor.",
    "Conduction along boards and sheets, radiation between parts, humidity of the air.",
    "What the installation adds to noise: levels are those of fans as their data sheets have them, "
    "added up.",
)
NO_RETURN = "Warm air that is blown out and drawn in again: none is given, so none is counted."
NO_TEST = (
    "No published share by which such models miss tests on whole enclosures was found. "
    "This is a step before a simulation of the flow field and a test, not a replacement."
)
RELATIONS: Mapping[str, str] = {  # a relation -> the values that bring it in, `path = value`
    "losses.idelchik_thin_plate": r"vent\S+construction = .square|baffle\S+plate = .passage",
    "losses.round_edge_grill": r"vent\S+construction = .round-edged",
    "losses.round_edge_screen": r"vent\S+construction = .wire screen",
    "losses.contraction": r"slot\S+free_ratio =",
    "losses.rennels_bend": r"duct\S+bends =",
    "friction.laminar_rectangle": r"slot\S+(gap|sink) =",
    "sinks.developing_nusselt": r"part\S+sink =",
    "friction.churchill_product": r"duct\S+length =",
    "installation.inlet_clearance": r"fan\S+clearance\.inlet =",
    "installation.outlet_clearance": r"fan\S+clearance\.outlet =",
    "installation.inlet_opening": r"fan\S+clearance\.opening =",
    "installation.clutter": r"fan\S+clearance\.clutter =",
    "films.natural_film": r"wall\S+emissivity =",
    "films.radiation_flux": r"wall\S+emissivity =",
    "films.clear_sky_temperature": r"outside\S* = .clear",
    "films.effective_area": r"wall\S+mounting =",
    "sun.sun_on_face": r"outside\.latitude =",
    "sound.speed_change": r"fan_type\S+noise_dBA =",
    "sound.add_levels": r"fan_type\S+noise_dBA =",
    "life.life_at": r"fan_type\S+life\.hours =",
    "life.first_failure": r"fan_type\S+life\.hours =",
}
ALWAYS: Mapping[str, str] = {
    "air at the site": "U.S. Standard Atmosphere, 1976; ideal gas",
    "fan laws": "ISO 5801: pressure as density and as the square of speed",
    "network of flows": "balance of mass, pressure and energy at every place; the state that the "
    "air reaches from rest",
    "tight, severities of findings": COMMON_PRACTICE,
}


def section(found: Reviewed, units: str) -> PageSection:
    """Scenarios and variants, what was assumed by whom, and every value."""
    rows = _rows(found)
    names = found.comparison.scenarios
    terms = [(name, printed(_scenario(found, name, units))) for name in names[:MOST_SCENARIOS_TOLD]]
    if more := len(names) - len(terms):
        terms.append((f"and {more} more", "as the table of section 2 names them"))
    variants = [("base", "as the case has it")]
    variants += [(name, changes_of(found, name, units))
              for name in found.comparison.variants if name != "base"]  # fmt: skip
    owners = Counter(_owner(row) for row in rows)
    lead = f"Of {len(rows)} values that count, {owners['given']} stand in the case file and " \
        f"{owners['catalogue']} in a fan catalogue; the program put in " \
        f"{owners['default']}, and {owners['common practice']} by common practice."  # fmt: skip
    every = Listing("every", (
        Column("value of", [row.path for row in rows]), Column("is", [row.value for row in rows]),
        Column("from", [row.origin for row in rows])))  # fmt: skip
    whole = grid(every, units, f"Every value that counts, {len(rows)} of them")
    return PageSection(
        "What is asked, and what is assumed?", (always(lead, "lead"),),
        (PageBlock("terms", "Scenarios", items=terms),
         PageBlock("terms", "Variants", items=variants), _taken(found, rows, units),
         PageBlock("details", whole.title, heads=whole.heads, rows=whole.rows)),
    )  # fmt: skip


def _scenario(found: Reviewed, name: str, units: str) -> str:
    """A scenario in the words of a case: its changes, and what fails."""
    case, parts = found.case, []
    for one in name.split("+"):
        failed = outage(case, one)
        if failed is not None:
            how = SUPPLY_OUT if failed.kind == "supply" else WAYS_TOLD[failed.way]
            parts.append(f"{failed.kind}.{failed.target} {how}{FASTER * failed.rest_up}")
        elif one in case.scenarios:
            parts.append(_changes(found, case.scenarios[one], units))
    return "; ".join(filter(None, parts)) or "as the case has it"


def _value(case: Enclosure, path: str, value: Any, units: str) -> str:
    """A number in the units of the page; all else as a case file writes it, without its signs."""
    role = case.places(path)[0].role
    if isinstance(role, Number) and isinstance(value, (int, float)):
        return Units(units).round(role.quantity, value).strip()
    text = word(value).strip('"') if isinstance(value, (str, bool)) else \
        told(case, {path: value})[0].partition(" = ")[2]  # fmt: skip
    return _plain_words(text)


def _plain_words(text: str) -> str:
    """`{ velocity = "0.5 1 m/s" }` as `velocity 0.5 1 m/s`."""
    return " ".join(re.sub(r'[{}"\[\]]', "", text).replace(" = ", " ").split())


def changes_of(found: Reviewed, name: str, units: str) -> str:
    """What a variant changes."""
    return _changes(found, found.case.variants[name], units)


def _changes(found: Reviewed, changes: Mapping[str, object], units: str) -> str:
    """`outside.temperature = 45 °C; baffle.shelf.present = false`."""
    every = (f"{path} = {_value(found.case, path, value, units)}"
             for path, value in changes.items())  # fmt: skip
    return printed("; ".join(every))


def _rows(found: Reviewed) -> list[Resolved]:
    """Every value of the decisive pair that counts."""
    pair, changes = found.decisive, found.comparison.changes
    made = found.case.under(*pair)
    if changes:
        made = made.with_changes(changes)
    every = resolved(made) if changes else resolved(found.case, *pair)
    idle = {f"fan_type.{name}" for name in made.things["fan_type"]} - {
        f"fan_type.{fan.type}" for fan in made.fans.values()}  # fmt: skip
    return [row for row in counting(made, list(every))
            if ".".join(row.path.split(".")[:2]) not in idle]  # fmt: skip


def _owner(row: Resolved) -> str:
    if row.origin.startswith("default"):
        return "common practice" if "common practice" in row.origin else "default"
    if row.path.startswith("fan_type."):
        return "catalogue"
    return "given"


def _taken(found: Reviewed, rows: list[Resolved], units: str) -> PageBlock:
    """What a review asks first: given values of the kinds that decide, fan types, every default
    that has a source or a reason; what is alike in several things stands once."""
    groups: defaultdict[tuple[str, str, str], list[str]] = defaultdict(list)
    made = found.case.under(*found.decisive).with_changes(found.comparison.changes)
    for row in rows:
        kind, *names = row.path.split(".")
        owner = _owner(row)
        counts = {"given": TOLD_FIRST.fullmatch(row.path),
                  "catalogue": names[-1] == "origin"}.get(owner, " (" in row.origin)  # fmt: skip
        if counts:
            what = f"{kind} {names[-1]}" if kind != "fan_type" or owner != "catalogue" else \
                "fan curves, noise, life: origin"  # fmt: skip
            role = made.place(row.path).role
            value = _value(made, row.path, made[row.path], units) if isinstance(role, Number) \
                and made[row.path] == made[row.path] else _plain_words(row.value)  # fmt: skip
            groups[what, value.replace("_", " "), owner].append(
                ".".join([kind, *names[:-1]]) if len(names) > 1 else "")  # fmt: skip
    order = sorted(groups, key=lambda key: (
        OWNERS.index(key[2]), KINDS_FIRST.find(key[0].split()[0]) % len(KINDS_FIRST)))  # fmt: skip
    given = [key for key in order if key[2] == "given"]
    order = [*given[:MOST_GIVEN], *order[len(given) :]]
    left = f" {len(given) - MOST_GIVEN} more given values stand in the list below." \
        if len(given) > MOST_GIVEN else ""  # fmt: skip
    table = Listing("assumptions", (
        Column("Assumption", [what.replace("_", " ") for what, _, _ in order]),
        Column("value", [value for _, value, _ in order]),
        Column("of", [listed(dict.fromkeys(groups[key]), NAMED_THINGS) for key in order]),
        Column("owner", [owner for _, _, owner in order]),
    ))  # fmt: skip
    block = grid(table, units, "What is taken for granted, and who says so")
    return PageBlock("table", block.title, heads=block.heads, rows=block.rows,
                     text=OWNERS_NOTE + left)  # fmt: skip


# --- limits of the model, sources, version --------------------------------------------------------


def unseen(found: Reviewed) -> PageSection:
    """What no answer on the page knows of."""
    items = [*MODEL_LIMITS, *([] if found.case.things["recirculation"] else [NO_RETURN])]
    return PageSection(
        "What does the model not see?",
        (always("Anything that differs within a compartment: it is a network of well-mixed "
                "spaces.", "lead"),),
        (PageBlock("items", items=[(text, "") for text in items]), always(NO_TEST)),
    )  # fmt: skip


def sources(found: Reviewed, units: str) -> PageSection:
    """Where every relation and default that acts here is from."""
    rows = list(_sources(found))
    table = Listing("sources", (Column("For", [what for _, what in rows]),
                                Column("source", [source for source, _ in rows])))  # fmt: skip
    return PageSection(
        "What is it based on?",
        (always("On published relations where there are any; where there are none, it says so.",
                "lead"),),
        (grid(table, units, "Sources of what is used here"),),
    )  # fmt: skip


def _sources(found: Reviewed) -> Iterator[tuple[str, str]]:
    """Source, and all that is from it."""
    groups: defaultdict[str, dict[str, None]] = defaultdict(dict)
    rows = _rows(found)
    lines = [f"{row.path} = {row.value}" for row in rows]
    for name, brings in RELATIONS.items():
        if any(re.match(brings, line) for line in lines):
            record = REGISTRY[name]
            told_of = str(record.function.__doc__).splitlines()[0].rstrip(".")
            groups[record.source][told_of] = None
    for row in rows:
        source = row.origin.removeprefix("default").strip(" ()")
        if row.origin.startswith("default (") and source:
            kind, *rest = row.path.split(".")
            groups[source][f"{kind} {rest[-1]}".replace("_", " ")] = None
    for what, source in ALWAYS.items():
        groups[source][what] = None
    yield from ((source, "; ".join(names)) for source, names in groups.items())


def version(found: Reviewed, units: str) -> PageSection:
    """What was solved, and how to solve it again."""
    shown, source = list(found.shown), case_text(found.case)
    table = Listing("digests", (
        Column("Scenario", [pair.scenario for pair, _ in shown]),
        Column("variant", [pair.variant for pair, _ in shown]),
        Column("sha256, 16 digits", [solution.case.digest.removeprefix("sha256:")[:16]
                                     for _, solution in shown]),
    ))  # fmt: skip
    with_changes = "".join(f' --set "{change}"' for change in
                           told(found.case, found.comparison.changes))  # fmt: skip
    return PageSection(
        "Which input, which version?",
        (always(f"flownet {__version__}, case format 1; the case and all results are inside this "
                "page.", "lead"),),
        (grid(table, units, "Digests of the inputs"),
         always("To solve it again: save the case file below as case.toml, and run flownet review "
                f"case.toml{with_changes}. Equal digests mean equal inputs."),
         PageBlock("source", f"Case file, {counted(source.count(chr(10)), 'line')}", text=source)),
    )  # fmt: skip
