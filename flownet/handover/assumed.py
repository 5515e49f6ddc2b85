"""What is asked and taken for granted, what the model does not see, what it is based on."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from flownet.casefile import case_text, resolved
from flownet.casefile.resolved import Resolved, counting
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.outages import outage
from flownet.handover.document import PageBlock, grid, printed
from flownet.handover.reviewed import Reviewed
from flownet.handover.web import Words, short_digest
from flownet.pages.caption import told
from flownet.pages.sheet import by_rows
from flownet.physics.registry import COMMON_PRACTICE, REGISTRY
from flownet.pictures.caption import Units
from flownet.schema.fault import listed, word
from flownet.schema.fields import Number

KINDS_FIRST = "outside limits supply part slot filter vent leak wall "  # the others come last
NAMED_THINGS, MOST_SCENARIOS_TOLD, MOST_GIVEN = 3, 40, 40  # before `and 4 more`
OWNERS = ("given", "catalogue", "common practice", "default")  # in the order of the table
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


def words(found: Reviewed, units: str) -> Words:
    """Scenarios and variants, what was assumed by whom, every value; sources; digests."""
    rows, names = _rows(found), found.comparison.scenarios
    asked = [(name, _scenario(found, name, units)) for name in names[:MOST_SCENARIOS_TOLD]]
    if more := len(names) - len(asked):
        asked.append((f"and {more} more", "as the table of section 2 names them"))
    digests = [(*pair, short_digest(solution.case)) for pair, solution in found.shown]
    return {
        "values": len(rows), "owners": Counter(map(_owner, rows)), "asked": asked,
        "variants_told": [("base", "as the case has it"), *(
            (name, changes_of(found, name, units))
            for name in found.comparison.variants if name != "base")],
        "taken": _taken(found, rows, units),
        "every": _words(f"Every value that counts, {len(rows)} of them",
                        ("value of", "is", "from"), rows),
        "sources": _words("Sources of what is used here", ("For", "source"), _sources(rows)),
        "digests": _words("Digests of the inputs", ("Scenario", "variant", "sha256, 16 digits"),
                          digests),
        "source": case_text(found.case),
        "settings": told(found.case, found.comparison.changes),
    }  # fmt: skip


def _words(title: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> PageBlock:
    """A table of words."""
    return grid(by_rows("", [(head, None) for head in heads], list(rows)), "metric", title)


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
            if owner not in ("given", "catalogue"):  # words of the program, not of a case
                value = value.replace("_", " ")
            groups[what, value, owner].append(
                ".".join([kind, *names[:-1]]) if len(names) > 1 else "")  # fmt: skip
    order = sorted(groups, key=lambda key: (
        OWNERS.index(key[2]), KINDS_FIRST.find(key[0].split()[0]) % len(KINDS_FIRST)))  # fmt: skip
    given = [key for key in order if key[2] == "given"]
    order = [*given[:MOST_GIVEN], *order[len(given) :]]
    table = [(what.replace("_", " "), value, listed(dict.fromkeys(groups[what, value, owner]),
              NAMED_THINGS), owner) for what, value, owner in order]  # fmt: skip
    block = _words("What is taken for granted, and who says so",
                   ("Assumption", "value", "of", "owner"), table)  # fmt: skip
    return block._replace(data=max(len(given) - MOST_GIVEN, 0))


def _sources(rows: Sequence[Resolved]) -> Iterator[tuple[str, str]]:
    """All that is from a source, and that source: of every relation and default that acts here."""
    groups: defaultdict[str, dict[str, None]] = defaultdict(dict)
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
    yield from (("; ".join(names), source) for source, names in groups.items())
