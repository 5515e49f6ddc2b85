"""Which layer everything is in, and the topology that follows: integers only."""

from __future__ import annotations

import dataclasses
from typing import Any, NamedTuple

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.heat import FACES
from flownet.equations import levels
from flownet.equations.assemble import assemble
from flownet.equations.layers import DOWN, SIDE, UP, WHOLE
from flownet.equations.topology import Division, Shares, Structure, kept
from flownet.schema.arrays import Array, Integers, stacked, used
from flownet.solver.refusals import stagnant

EDGE = 1e-9  # of a layer: as near below a boundary counts as above it
OPPOSITE = dict(zip(FACES, (FACES[i ^ 1] for i in range(len(FACES))), strict=True))
_DIVIDED: dict[tuple[Structure, str, bytes], Structure] = {}


class Places(NamedTuple):
    """What decides a topology; (things, variants or 1) integers."""

    counts: Integers  # (compartments,) of layers
    start: Integers  # (branches,) layer of each end, 0 where there is one
    end: Integers
    part: Integers  # (parts,) layer of its height; -1: it has none
    facing: Integers  # (sides,) layer of the coarser side for each of the finer, thing by thing
    up: Integers  # (1,) which of FACES is up
    looks: Integers  # (walls,) way each looks: 0 up, 1 down, -1 upright or not given
    open: Integers  # (branches,) 0 where no air passes


def structures(inputs: Inputs) -> list[tuple[Structure, Integers]]:
    """The topologies of a batch, and which variants have each."""
    plain = Structure.of(inputs.enclosure)
    if not (_counts(inputs) > 1).any():
        return [(plain, np.arange(inputs.variants))]
    places = _places(inputs, plain)
    width = max(part.shape[1] for part in places)
    rows = np.concatenate([np.broadcast_to(part, (len(part), width)) for part in places])
    columns, which = np.unique(rows, axis=1, return_inverse=True)
    which = np.broadcast_to(which.ravel(), inputs.variants)
    ends = np.cumsum([len(part) for part in places])[:-1]
    found = [_kept(inputs, plain, Places(*np.split(column, ends))) for column in columns.T]
    alike = np.array([found.index(each) for each in found])[which]  # whatever else is shut
    return [(found[i], np.flatnonzero(alike == i)) for i in dict.fromkeys(alike.tolist())]


def structure_of(inputs: Inputs) -> Structure:
    """The one topology of all variants."""
    ((structure, _),) = structures(inputs)
    return structure


# --- which layer ---------------------------------------------------------------------------------


def _counts(inputs: Inputs) -> Integers:
    given = inputs.columns["compartment"]["layers"].real
    return np.where(np.isnan(given), 1, given).astype(int)


def _places(inputs: Inputs, plain: Structure) -> Places:
    model, counts = assemble(inputs, plain), _counts(inputs)
    bottom, tall = (part.real for part in levels.heights(inputs))

    def layer(height: Array, place: Integers) -> Integers:
        """Of heights in these compartments; 0 outside."""
        inside = (place < plain.inside)[:, None]
        at = place * inside[:, 0]
        n, extent = counts[at], used(tall[at] > 0, tall[at])
        found = np.floor((height.real - bottom[at]) / extent * n + EDGE)
        return np.where(inside, np.clip(found, 0, n - 1), 0).astype(int)

    start, end = layer(model.start_level, plain.start), layer(model.end_level, plain.end)
    return Places(
        counts, start, end, _part_layers(inputs, plain, layer),
        _facing(plain, counts, bottom, tall, layer), levels.face_up(inputs),
        levels.looks(inputs), model.open.astype(int),
    )  # fmt: skip


def _part_layers(inputs: Inputs, s: Structure, layer: Any) -> Integers:
    """A part on another one stands where that does."""
    names, case = inputs.names("part"), inputs.enclosure
    if not names:
        return np.zeros((0, 1), int)
    right, above = levels.up_shares(inputs)
    columns = inputs.columns["part"]
    rows = {name: row for row, name in enumerate(names)}
    roots = [rows[root.name] for root in case.roots.values()]
    height = (right * columns["at.0"] + above * columns["at.1"]).real[roots]
    placed = ~np.isnan(height) & (s.part_compartment >= 0)[:, None]
    place = np.where(s.part_compartment < 0, s.inside, s.part_compartment)
    return np.where(placed, layer(used(placed, height), place), -1)


def _facing(s: Structure, counts: Integers, bottom: Array, tall: Array, layer: Any) -> Integers:
    """Between two divided compartments each layer of the finer one meets that at its height."""
    start, end = (np.r_[s.wall_start, s.exchange_start], np.r_[s.wall_end, s.exchange_end])
    most, rows = int(counts.max()), []
    for a, b in zip(start, end, strict=True):
        if max(a, b) >= s.inside:
            rows.append(np.zeros((most, 1), int))
            continue
        finer = counts[a] >= counts[b]
        n, low, extent = (np.where(finer, x[a], x[b]) for x in (counts, bottom, tall))
        middle = low + (np.arange(most)[:, None] + 0.5) / n * extent
        there = (layer(middle, np.full(most, other)) for other in (b, a))
        rows.append(np.where(finer, *there))
    return stacked(rows).astype(int)


# --- the divided topology ------------------------------------------------------------------------


def _kept(inputs: Inputs, plain: Structure, places: Places) -> Structure:
    made = _divided(inputs, plain, places)
    d = made.division
    assert d is not None
    numbers = d.counts, made.start, made.end, d.part_first, d.part_counts, *d.walls, *d.exchanges
    return kept(_DIVIDED, (plain, d.up, np.concatenate(numbers).tobytes()), lambda: made)


def _divided(inputs: Inputs, plain: Structure, places: Places) -> Structure:
    division = _division(inputs, plain, places)
    counts, lower = division.counts, division.lower
    others = len(plain.outsides) + plain.mixes
    moved = np.r_[division.first, counts.sum() + np.arange(others)]
    names = [
        f"{name}.{i + 1}" if n > 1 else name
        for name, n in zip(plain.compartments, counts, strict=True) for i in range(n)
    ]  # fmt: skip
    joints = tuple(f"compartment.{names[i]}-{names[i + 1].rpartition('.')[2]}" for i in lower)
    number = np.arange(len(joints))
    ends = {
        key: np.r_[moved[getattr(plain, key)] + layer, side]
        for layer, side, keys in (
            (places.start, lower, ("start", "warm_start")),
            (places.end, lower + 1, ("end", "warm_end")),
        )
        for key in keys
    }
    made = dataclasses.replace(
        plain, **ends, compartments=tuple(names), division=division,
        elements=(*plain.elements, *joints), branches=(*plain.branches, *joints),
        host=np.r_[plain.host, len(plain.branches) + number],
        own=np.r_[plain.own, len(plain.elements) + number],
        wall_start=division.walls.start, wall_end=division.walls.end,
        exchange_start=np.r_[division.exchanges.start, lower],
        exchange_end=np.r_[division.exchanges.end, lower + 1],
        mix_outside=moved[plain.mix_outside],
        part_compartment=division.part_first,
    )  # fmt: skip
    spread = _spread(made, places)
    return dataclasses.replace(made, division=division._replace(part_counts=spread))


def _spread(s: Structure, places: Places) -> Integers:
    """(parts,) among how many layers each shares its heat."""
    d = s.division
    assert d is not None
    moving = ~stagnant(s, np.r_[places.open, np.ones(len(d.lower), int)])
    reached = [
        n if not moving[a : a + n].any() else 1 + int(np.flatnonzero(moving[a : a + n])[-1])
        for a, n in zip(d.first, d.counts, strict=True)
    ]
    place = d.plain.part_compartment
    return np.where(places.part < 0, np.array(reached)[place], 1)  # in a branch: any


def _division(inputs: Inputs, plain: Structure, places: Places) -> Division:
    counts = places.counts
    first = np.cumsum(counts) - counts
    lower = np.concatenate([a + np.arange(n - 1) for a, n in zip(first, counts, strict=True)])
    place, own = plain.part_compartment, places.part
    up = FACES[int(places.up[0])]
    facing = places.facing.reshape(-1, int(counts.max()))
    named = (wall.faces for wall in inputs.enclosure.walls.values())
    looks = {0: (up,), 1: (OPPOSITE[up],)}
    faces = [looks.get(int(way), own) for way, own in zip(places.looks, named, strict=True)]
    walls, exchanges = len(plain.wall_start), len(plain.exchange_start)

    def layers(place: int) -> tuple[int, int]:
        if place >= plain.inside:
            return int(counts.sum()) + place - plain.inside, 1
        return int(first[place]), int(counts[place])

    return Division(
        plain, first, counts, lower.astype(int),
        _shared(plain.wall_start, plain.wall_end, faces, facing[:walls], layers, up),
        _shared(plain.exchange_start, plain.exchange_end, [()] * exchanges, facing[walls:], layers,
                up),
        np.where(place < 0, place, first[place] + np.maximum(own, 0)), own, up,
    )  # fmt: skip


def _shared(
    starts: Integers, ends: Integers, faces: Any, facing: Integers, layers: Any, up: str
) -> Shares:
    """Walls or exchanges among layers: portions of each with the places that these join; `layers`
    of a place: its lowest node, and how many it has."""
    rows: list[tuple[int, ...]] = []
    for row, (a, b) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
        (low, n), (other, m), there = layers(a), layers(b), facing[row]
        if n == m == 1:
            rows.append((row, WHOLE, low, other))
            continue
        if not faces[row] or set(faces[row]) - {up, OPPOSITE[up]}:
            pairs = [(i, there[i]) if n >= m else (there[i], i) for i in range(max(n, m))]
            rows += [(row, SIDE, low + mine, other + theirs) for mine, theirs in pairs]
        if up in faces[row]:
            rows.append((row, UP, low + n - 1, other))
        if OPPOSITE[up] in faces[row]:
            rows.append((row, DOWN, low, other + m - 1))
    return Shares(*np.array(rows, int).reshape(-1, 4).T)
