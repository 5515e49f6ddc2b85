"""What air passes: openings, vents, filters, baffles, slots, ducts, leaks."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any, ClassVar

from flownet.schema import quantities as q
from flownet.schema.component import Thing, choice, group, link, number, numbers, pair, table, thing
from flownet.schema.fields import TINY, given

DIRECTIONS = ("up", "down", "left", "right", "front", "back")
PLACES = ("compartment", "outside")
SHARP_EDGE = 0.61


def _from(optional: bool = False) -> Any:
    return link(*PLACES, doc="where the flow counts as coming from", optional=optional)


def _to(optional: bool = False) -> Any:
    return link(*PLACES, doc="where the flow counts as going to", optional=optional)


def _on() -> Any:
    return link(
        "opening", "vent", "filter", "baffle", "slot", "duct", "leak", "fan",
        doc="in series in this branch's air, instead of from and to", optional=True,
    )  # fmt: skip


def _at() -> Any:
    doc = "where it sits in the view; default mean of its compartments' centres"
    return numbers(q.LENGTH, 2, doc, None)


def _fouling() -> Any:
    typical = "2 at the end of its life (common practice, no source)"
    doc, hint = "multiplies the drop; 1.0 is clean", "1.0 is clean"
    return number(q.RATIO, doc, 1.0, low=TINY, typical=typical, hint=hint)


def _sink(doc: str) -> Any:
    return link("sink_type", doc=doc, varies=True, optional=True)


def _height() -> Any:
    return number(
        q.LENGTH, "of an upright hole, from edge to edge: then air also passes both ways at once, "
        "where the level of equal pressures lies within it; one way only in plan or laid down",
        None, low=TINY, typical="left out: one way, as through a small hole",
        source="orifice flow integrated over the height: W. G. Brown, K. R. Solvason, Int. J. Heat "
        "Mass Transfer 5, 1962, 859-868, from memory; mixing of the two streams is not in it",
    )  # fmt: skip


def series(item: Any) -> Iterator[str]:
    """A branch stands between two places, or `on` another branch."""
    ends = [key for key in ("from", "to") if given(getattr(item, key.replace("from", "from_")))]
    if given(item.on) and ends:
        yield f"{ends[0]}: cannot stand together with on; give from and to, or on"
    if given(item.on) and given(getattr(item, "height", None)):
        yield "height: cannot stand together with on; air passes a branch in series one way"
    if not given(item.on) and len(ends) < 2:
        missing = "to" if "from" in ends else "from"
        yield f"{missing}: must be given (or on, for an element in another branch's air)"


def _rising(key: str, rows: Any) -> Iterator[str]:
    """Points of a drop over velocity: both above zero, both rising."""
    for row, (velocity, drop) in enumerate(rows, 1):
        if velocity <= 0 or drop <= 0:
            still = velocity == 0 or drop == 0
            hint = "leave the row out: still air has no drop by itself" if still else (
                "a drop counts along the flow, and both as positive numbers")  # fmt: skip
            yield (
                f"{key}: row {row}: velocity and drop must be above 0 "
                f"(got {velocity:.4g} m/s and {drop:.4g} Pa); {hint}"
            )
    for row, ((slow, low), (fast, high)) in enumerate(pairwise(rows), 2):
        if fast <= slow:
            same = "appears twice" if fast == slow else "is below the row before"
            yield f"{key}: row {row}: velocity {fast:.4g} m/s {same}; velocities must rise"
        elif high <= low:
            same = "is that of the row before" if high == low else "is below the row before"
            yield (
                f"{key}: row {row}: drop {high:.4g} Pa at {fast:.4g} m/s {same} "
                f"({low:.4g} Pa at {slow:.4g} m/s); with rising velocity the drop must rise, "
                "list the drops in the order of their velocities"
            )


@thing
class Opening(Thing):
    """A sharp-edged hole."""

    KIND: ClassVar[str] = "opening"
    EXCLUSIVE = (("discharge_coefficient", "loss"),)

    from_: str | None = _from(optional=True)
    to: str | None = _to(optional=True)
    on: str | None = _on()
    area: float = number(q.AREA, "of the hole", low=TINY)
    discharge_coefficient: float = number(
        q.RATIO, "of the hole; default 0.61", None, low=0.01, high=1,
        source="handbook value of a sharp-edged orifice",
    )  # fmt: skip
    loss: float = number(q.RATIO, "K on the velocity in area", None, low=TINY)
    height: float = _height()
    state: str = choice("open", "blanked", doc="blanked: no air passes")
    at: tuple[float, float] | None = _at()

    def faults(self) -> Iterator[str]:
        yield from series(self)


@thing
class Vent(Thing):
    """A grille, louvre or screen on its gross area."""

    KIND: ClassVar[str] = "vent"
    EXCLUSIVE = (("loss", "discharge_coefficient", "open_ratio"), ("hole", "height"))
    REQUIRED = (("loss", "discharge_coefficient", "open_ratio"),)
    COMPARED = ("open_ratio",)

    from_: str | None = _from(optional=True)
    to: str | None = _to(optional=True)
    on: str | None = _on()
    area: float = number(q.AREA, "gross area", low=TINY)
    loss: float = number(
        q.RATIO, "K on the velocity in area", None, low=TINY,
        typical="2 to 20; louvre with rain hood 3 to 8 (common practice, no source)",
    )  # fmt: skip
    discharge_coefficient: float = number(q.RATIO, "of the gross area", None, low=0.01, high=1)
    open_ratio: float = number(q.RATIO, "open share of the area", None, low=0.01, high=0.99)
    construction: str = choice(
        "square-edged", "round-edged", "wire screen", doc="how open_ratio turns into a loss"
    )
    hole: float = number(q.LENGTH, "size of a hole, for low Reynolds numbers", None, low=TINY)
    height: float = _height()
    fouling: float = _fouling()
    state: str = choice("open", "blanked", doc="blanked: no air passes")
    at: tuple[float, float] | None = _at()

    def faults(self) -> Iterator[str]:
        yield from series(self)
        ratio = self.open_ratio
        if self.construction == "round-edged" and given(ratio) and not 0.3 <= ratio <= 0.7:
            yield f"open_ratio: round-edged grilles are known from 0.3 to 0.7 (got {ratio:g})"


@thing
class Filter(Thing):
    """A filter mat, by its measured drop over face velocity, or by a loss."""

    KIND: ClassVar[str] = "filter"
    EXCLUSIVE = (("velocity_drop", "loss"),)
    REQUIRED = (("velocity_drop", "loss"),)

    from_: str | None = _from(optional=True)
    to: str | None = _to(optional=True)
    on: str | None = _on()
    area: float = number(q.AREA, "face area", low=TINY)
    velocity_drop: tuple[tuple[float, float], ...] | None = table(
        "measured drop over face velocity, clean", optional=True, velocity=q.VELOCITY,
        drop=q.PRESSURE,
    )  # fmt: skip
    loss: float = number(q.RATIO, "K on the velocity in area, clean", None, low=TINY)
    fouling: float = _fouling()
    state: str = choice(
        "fitted", "removed", "blanked", doc="removed: the frame stays open, an opening of its area"
    )
    at: tuple[float, float] | None = _at()

    def faults(self) -> Iterator[str]:
        yield from series(self)
        if self.velocity_drop:
            yield from _rising("velocity_drop", self.velocity_drop)


@thing
class Baffle(Thing):
    """A plate across a passage that leaves part of it open."""

    KIND: ClassVar[str] = "baffle"
    COMPARED = ("open_area", "cross_section")

    from_: str = _from()
    to: str = _to()
    open_area: float = number(q.AREA, "what it leaves open", low=TINY)
    cross_section: float = number(q.AREA, "of the whole passage", low=TINY)
    plate: str = choice(
        "passage", "wall",
        doc="passage: across a straight passage, its K on the velocity in cross_section, which is "
        "the one that results give; wall: a hole in a large wall, K = 1/0.61^2 on the velocity in "
        "open_area",
        source="passage: I. E. Idelchik, Handbook of Hydraulic Resistance, 3rd ed., 1994, diagram "
        "4-14, square-edged plate of the open share open_area/cross_section, not below 0.02 "
        "(assumption); the table printed beside that formula is lower, by 6 % at an open share of "
        "0.3, 8 % at 0.5 and 34 % at 0.9",
    )  # fmt: skip
    present: bool = choice(
        True, False, doc="false: the whole cross_section is open, K = 0.02 on its velocity",
        source="assumption",
    )  # fmt: skip
    at: tuple[float, float] | None = _at()

    def faults(self) -> Iterator[str]:
        if self.open_area > self.cross_section:
            opened, whole = (f"{a * 1e4:.4g} cm2" for a in (self.open_area, self.cross_section))
            yield f"open_area: must not be larger than cross_section (got {opened} of {whole})"


@thing
class Hole:
    """An area with its loss."""

    area: float = number(q.AREA, "of the hole", low=TINY)
    loss: float = number(q.RATIO, "K on its velocity", low=TINY)


@thing
class Slot(Thing):
    """A card channel, or `count` equal ones: by its size, measured, or between fins of a sink."""

    KIND: ClassVar[str] = "slot"
    EXCLUSIVE = (
        ("gap", "area", "sink"), ("width", "area", "sink"), ("length", "sink"),
        ("loss", "velocity_drop"),
    )  # fmt: skip
    REQUIRED = (("gap", "area", "sink"),)

    from_: str = _from()
    to: str = _to()
    count: float = number(q.COUNT, "equal channels in this branch", 1.0, low=1, high=10000)
    gap: float = number(q.LENGTH, "between cards", None, low=TINY)
    width: float = number(q.LENGTH, "across the flow", None, low=TINY)
    length: float = number(q.LENGTH, "along the flow", None, low=TINY)
    free_ratio: float = number(
        q.RATIO, "open share of the frontal area, for entrance and exit", 0.0, low=0, high=1,
        source="0: sharp entrance and full exit loss",
    )  # fmt: skip
    area: float = number(q.AREA, "of one channel of a measured card", None, low=TINY)
    loss: float = number(q.RATIO, "K on area of a measured card", None, low=TINY)
    velocity_drop: tuple[tuple[float, float], ...] | None = table(
        "measured drop over velocity in area", optional=True, velocity=q.VELOCITY, drop=q.PRESSURE
    )
    sink: str | None = _sink("`count` equal ones, between whose fins all its air passes")
    power: float = number(q.POWER, "heat, spread along the slot", 0.0, low=0)
    part_heat: str = choice(
        "spread", "at-parts",
        doc="where parts in it warm its air: evenly along it, or each at its `position`, so that "
        "air at a part has the heat of those before it alone, and what leaves it is the same",
    )  # fmt: skip
    load: float = number(q.RATIO, "multiplies the power", 1.0, low=0)
    air_limit: float = number(
        q.TEMPERATURE, "highest allowed temperature of the air that leaves it, while it is fitted",
        None, low=150,
    )  # fmt: skip
    state: str = choice(
        "fitted", "filler", "empty", "blanked", doc="what stands in the slot; empty: an open hole"
    )
    filler: Hole | None = group(Hole, "what a filler leaves open", optional=True)
    empty: Hole | None = group(Hole, "the hole of an empty slot", optional=True)
    at: tuple[float, float] | None = _at()
    direction: str | None = choice(
        *DIRECTIONS, doc="from `from` to `to`; with length it gives both ends' heights",
        optional=True,
    )  # fmt: skip

    def faults(self) -> Iterator[str]:
        if given(self.gap) and not (given(self.width) and given(self.length)):
            yield "gap: needs width and length beside it"
        if given(self.area) and not (given(self.loss) or given(self.velocity_drop)):
            yield "area: needs loss or velocity_drop beside it (a measured card)"
        for key in ("gap", "sink"):
            if given(getattr(self, key)) and (given(self.loss) or given(self.velocity_drop)):
                yield f"{key}: a measured card has area instead, with loss or velocity_drop"
        if self.velocity_drop:
            yield from _rising("velocity_drop", self.velocity_drop)
        if self.state in ("filler", "empty") and getattr(self, self.state) is None:
            yield f'state: "{self.state}" needs {self.state} = {{ area = ..., loss = ... }}'


@thing
class Duct(Thing):
    """A pipe or channel with friction, bends, and its own entrance and exit."""

    KIND: ClassVar[str] = "duct"
    EXCLUSIVE = (("diameter", "section"),)
    REQUIRED = (("diameter", "section"),)

    from_: str | None = _from(optional=True)
    to: str | None = _to(optional=True)
    on: str | None = _on()
    length: float = number(q.LENGTH, "along its axis, without its bends", low=TINY)
    diameter: float = number(q.LENGTH, "of a round duct", None, low=TINY)
    section: tuple[float, float] | None = numbers(
        q.LENGTH, 2, "of a rectangular duct", None, low=TINY
    )
    roughness: float = number(q.LENGTH, "of its wall", 0.0, low=0, typical="0.15 mm sheet metal")
    bends: tuple[tuple[float, float], ...] | None = table(
        "angle, and radius over diameter", minimum=0, optional=True, angle=q.ANGLE,
        radius_ratio=q.RATIO,
    )  # fmt: skip
    sink: str | None = _sink("a heat sink in it: the drop between its fins is added")
    loss: float = number(
        q.RATIO, "entrance and exit", 1.5, low=0,
        source="0.5 sharp entrance and 1.0 exit, common practice",
    )  # fmt: skip
    route: tuple[tuple[float, float], ...] | None = table(
        "points from `from` to `to`: gives both heights", minimum=2, optional=True, x=q.LENGTH,
        y=q.LENGTH,
    )  # fmt: skip
    wall_temperature: float = number(q.TEMPERATURE, "of its wall, with u_value", None, low=150)
    u_value: float = number(q.U_VALUE, "from wall to air, with wall_temperature", None, low=0)
    state: str = choice("open", "blanked", doc="blanked: no air passes")
    at: tuple[float, float] | None = _at()
    direction: str | None = choice(
        *DIRECTIONS, doc="from `from` to `to`; with length it gives both ends' heights",
        optional=True,
    )  # fmt: skip

    def faults(self) -> Iterator[str]:
        yield from series(self)
        if given(self.wall_temperature) != given(self.u_value):
            yield "wall_temperature: goes with u_value; give both or neither"
        if given(self.on) and given(self.u_value):
            yield "on: a duct with a wall of its own needs from and to"
        for angle, ratio in self.bends or ():
            if not 0 < angle <= 180 or not 0.5 <= ratio <= 50:
                yield f"bends: angle 0 to 180 deg and radius_ratio 0.5 to 50 (got {angle:g}, {ratio:g})"  # noqa: E501


@thing
class Leak(Thing):
    """Cracks and seams, by one measured point and an exponent."""

    KIND: ClassVar[str] = "leak"

    from_: str = _from()
    to: str = _to()
    flow_at: tuple[float, float] = pair(q.VOLUME_FLOW, q.PRESSURE, "flow at a pressure difference")
    exponent: float = number(
        q.RATIO, "flow grows with pressure to this power", 0.65, low=0.5, high=1,
        source="common practice, no source",
    )  # fmt: skip
    state: str = choice("open", "blanked", doc="blanked: no air passes")
    at: tuple[float, float] | None = _at()
