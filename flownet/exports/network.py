"""The network of a case or of its solution: places and what joins them, as tables, as a graph of
networkx, as GraphML and as DOT."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from flownet import __version__
from flownet.enclosure.enclosure import Enclosure
from flownet.exports.legend import tabled
from flownet.pages import render
from flownet.pages.sheet import Listing, Sheet
from flownet.results.solution import Solution
from flownet.results.streams import outside_name, series
from flownet.schema import quantities as q
from flownet.schema.fields import given

if TYPE_CHECKING:
    import networkx

# what XML 1.0, 2.2, has no place for
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def tables(what: Enclosure | Solution) -> list[Listing]:
    """Nodes and edges; without a solution no results stand in them."""
    case, found = (what.case, what) if isinstance(what, Solution) else (what, None)
    nodes = [_node(case, found, place, kind) for place, kind in case.graph.nodes(data="kind")]
    edges = [_edge(case, found, *edge) for edge in case.graph.edges(keys=True)]
    return [tabled("nodes", nodes), tabled("edges", edges)]


def _node(case: Enclosure, found: Solution | None, place: str, kind: str) -> tuple[Any, ...]:
    inside = kind == "compartment"
    named = case.things["compartment" if inside else "outside"]
    item = named[place if inside else outside_name(place)]
    outline = getattr(item, "outline", None) or (None,) * 4
    warm, pressure = (None, None) if inside else (item.temperature, item.over_pressure)
    if inside and found is not None:
        row = found.compartments[place]
        warm, pressure = row.temperature, row.pressure
    return place, kind, item.tag, item.note, warm, pressure, *outline


def _edge(
    case: Enclosure, found: Solution | None, start: str, end: str, path: str
) -> tuple[Any, ...]:
    """A branch, a wall or an exchange; `carries` is what stands on a branch."""
    kind, _, name = path.partition(".")
    item = case.things[kind][name]
    on_it = "; ".join(each for each in series(case).get(path, ()) if each != path) or None
    words = path, start, end, kind, item.tag, item.note, on_it
    none = (None,) * 7
    if found is None:
        return *words, *none
    if path in found.branches:
        row = found.branches[path]
        rise = found.fans[path].rise if path in found.fans else None
        return (*words, row.state, row.mass_flow, row.volume_flow, row.drop, rise,
                row.outlet_temperature, row.heat)  # fmt: skip
    return *words, *none[1:], {"wall": found.walls, "exchange": found.exchanges}[kind][name].heat


def graph_of(sheet: Sheet) -> networkx.MultiDiGraph:
    """Places as nodes, what joins them as edges (key = path), attributes with their unit.

    What has no value has no attribute; signs that XML does not know stand as U+FFFD.
    """
    import networkx as nx  # noqa: PLC0415 - only here

    nodes, edges = (render.records(table) for table in sheet.of("json"))
    about = {"title": _plain(sheet.caption.title), "source": f"{render.MARK}{__version__}",
             "scenario": sheet.caption.scenario, "variant": sheet.caption.variant}  # fmt: skip
    made = nx.MultiDiGraph(**about)
    for row in nodes:
        made.add_node(row["place"], **_known(row, "place"))
    for row in edges:
        made.add_edge(row["from"], row["to"], key=row["path"], **_known(row, "from", "to"))
    return made


def _known(row: dict[str, Any], *without: str) -> dict[str, Any]:
    return {key: _plain(value) for key, value in row.items()
            if key not in without and given(value) and value is not None}  # fmt: skip


def _plain(value: Any) -> Any:
    return _NO_XML.sub("\ufffd", value) if isinstance(value, str) else value


def graphml(graph: networkx.MultiDiGraph) -> str:
    """GraphML 1.0 of a graph."""
    import networkx as nx  # noqa: PLC0415 - only here

    head = '<?xml version="1.0" encoding="utf-8"?>'
    return "\n".join([head, *nx.generate_graphml(graph)]) + "\n"


def dot(graph: networkx.MultiDiGraph, units: str) -> str:
    """The graph in the DOT language; every value in quotes, labels in the reader's units."""
    lines = [f"// {graph.graph['source']}", f"digraph {_quoted(graph.graph['title'])} {{"]
    for key in ("scenario", "variant"):
        lines.append(f"  {key}={_quoted(graph.graph[key])};")
    for place, data in graph.nodes(data=True):
        lines.append(f"  {_quoted(place)} [{_listed(place, data, units)}];")
    for start, end, data in graph.edges(data=True):
        told = _listed(data["path"], data, units)
        lines.append(f"  {_quoted(start)} -> {_quoted(end)} [{told}];")
    return "\n".join([*lines, "}"]) + "\n"


def _listed(name: str, data: dict[str, Any], units: str) -> str:
    """All attributes, first a label: the name, and below it temperature or flow."""
    label = [name]
    for key, quantity in (("temperature", q.TEMPERATURE), ("volume_flow", q.VOLUME_FLOW)):
        if (value := data.get(quantity.key(key))) is not None:
            si = (value - quantity.json.offset) / quantity.json.factor
            label.append(quantity.shown(units).text(si))
    every = {"label": "\n".join(label)} | data
    return ", ".join(f"{key}={_quoted(str(value))}" for key, value in every.items())


def _quoted(text: str) -> str:
    """A quoted string of the DOT language: quotes and backslashes escaped, on one line."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "\\n".join(escaped.splitlines()) + '"'
