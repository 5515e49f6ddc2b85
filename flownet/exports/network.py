"""The network of a case or of its solution: places and what joins them, as tables, as a graph of
networkx, as GraphML and as DOT."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from flownet import __version__
from flownet.enclosure.enclosure import Enclosure
from flownet.pages import render
from flownet.pages.caption import Caption
from flownet.pages.sheet import Listing, by_rows
from flownet.results.solution import Solution
from flownet.results.streams import outside_name, series
from flownet.results.tables import BRANCH, COMPARTMENT, FAN, Field
from flownet.schema import quantities as q

if TYPE_CHECKING:
    import networkx

OUTLINE = tuple(Field(side, q.LENGTH) for side in ("x", "y", "width", "height"))
NODES = (*map(Field, ("place", "kind", "tag", "note")), *COMPARTMENT, *OUTLINE)
EDGES = (*map(Field, ("path", "from", "to", "kind", "tag", "note", "carries")), *BRANCH, *FAN)
# what XML 1.0, 2.2, has no place for
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def tables(what: Enclosure | Solution) -> list[Listing]:
    """Nodes and edges; without a solution no results stand in them."""
    case, found = (what.case, what) if isinstance(what, Solution) else (what, None)
    nodes = [_node(case, found, place, kind) for place, kind in case.graph.nodes(data="kind")]
    edges = [_edge(case, found, *edge) for edge in case.graph.edges(keys=True)]
    return [
        by_rows(name, [(field.name, field.quantity) for field in fields], rows)
        for name, fields, rows in (("nodes", NODES, nodes), ("edges", EDGES, edges))
    ]


def _values(row: Any, fields: Sequence[Field]) -> list[Any]:
    """What a row of results has of some fields; None of the others."""
    return [getattr(row, field.name, None) for field in fields]


def _node(case: Enclosure, found: Solution | None, place: str, kind: str) -> list[Any]:
    row: Any
    if kind == "compartment":
        item, row = case.compartments[place], found and found.compartments[place]
    else:
        item = case.things["outside"][outside_name(place)]
        row = SimpleNamespace(temperature=item.temperature, pressure=item.over_pressure)
    outline = getattr(item, "outline", None) or [None] * len(OUTLINE)
    return [place, kind, item.tag, item.note, *_values(row, COMPARTMENT), *outline]


def _edge(case: Enclosure, found: Solution | None, start: str, end: str, path: str) -> list[Any]:
    """A branch, a wall or an exchange; `carries` is what stands on a branch."""
    kind, _, name = path.partition(".")
    item, row = case.things[kind][name], None
    if found is not None:
        aside = {"wall": found.walls, "exchange": found.exchanges}
        row = aside[kind][name] if kind in aside else found.branches[path]
        row = row | found.fans[path] if path in found.fans else row
    carried = "; ".join(each for each in series(case).get(path, ()) if each != path)
    return [path, start, end, kind, item.tag, item.note, carried, *_values(row, (*BRANCH, *FAN))]


def graph_of(tables: Iterable[Listing], caption: Caption) -> networkx.MultiDiGraph:
    """Places as nodes, what joins them as edges (key = path), attributes with their unit.

    What has no value has no attribute; signs that XML does not know stand as U+FFFD.
    """
    import networkx as nx  # noqa: PLC0415 - only here

    about = {key: getattr(caption, key) for key in ("title", "scenario", "variant")}
    made = nx.MultiDiGraph(source=f"{render.MARK}{__version__}", **_known(about))
    nodes, edges = map(render.records, tables)
    for row in nodes:
        made.add_node(row.pop("place"), **_known(row))
    for row in edges:
        made.add_edge(row.pop("from"), row.pop("to"), key=row["path"], **_known(row))
    return made


def _known(row: dict[str, Any]) -> dict[str, Any]:
    return {key: _NO_XML.sub("\ufffd", value) if isinstance(value, str) else value
            for key, value in row.items() if value is not None and value != ""}  # fmt: skip


def graphml(graph: networkx.MultiDiGraph) -> str:
    """GraphML 1.0 of a graph."""
    import networkx as nx  # noqa: PLC0415 - only here

    head = '<?xml version="1.0" encoding="utf-8"?>'
    return "\n".join([head, *nx.generate_graphml(graph), ""])


def dot(graph: networkx.MultiDiGraph, units: str) -> str:
    """The graph in the DOT language; every value in quotes, labels in the reader's units."""
    lines = [f"// {graph.graph['source']}", "digraph {"]
    lines += [f"  {key}={_quoted(value)};" for key, value in graph.graph.items()]
    for place, data in graph.nodes(data=True):
        lines.append(f"  {_quoted(place)} [{_listed(place, data, units)}];")
    for start, end, data in graph.edges(data=True):
        told = _listed(data["path"], data, units)
        lines.append(f"  {_quoted(start)} -> {_quoted(end)} [{told}];")
    return "\n".join([*lines, "}", ""])


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
