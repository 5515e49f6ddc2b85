"""Heat that needs no branch: panels, parts, exchanged and drawn-back air."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Any, ClassVar

from flownet.physics.films import MOUNTINGS
from flownet.physics.materials import MATERIALS as WALL_MATERIALS
from flownet.physics.sinks import PlateFins
from flownet.schema import quantities as q
from flownet.schema.component import (
    Thing,
    choice,
    group,
    link,
    number,
    numbers,
    table,
    text,
    thing,
    words,
)
from flownet.schema.errors import CaseError
from flownet.schema.fields import TINY, given

FACES = ("front", "back", "left", "right", "top", "bottom")
MATERIALS = tuple(WALL_MATERIALS)
LAW_HELD = 0.05  # of its velocity, below which a law keeps its resistance: our own choice
BRANCHES = ("opening", "vent", "filter", "baffle", "slot", "duct", "leak", "fan")


@thing
class Sun:
    """Sun on a panel."""

    irradiance: float = number(
        q.HEAT_FLUX, "on the panel; left out: that of a clear sky, by latitude, day and hour of "
        "[outside]", None, low=0, typical="up to 1000 W/m2",
    )  # fmt: skip
    absorptance: float = number(
        q.RATIO, "absorbed share", low=0, high=1, typical="0.25 white paint, 0.9 black"
    )


@thing
class Wall(Thing):
    """Heat through a panel: a given U, or films, panel, radiation and sun computed."""

    KIND: ClassVar[str] = "wall"
    EXCLUSIVE = (
        ("u_value", "material"),
        ("u_value", "conductivity"),
        ("material", "conductivity"),
        ("area", "faces"),
        ("faces", "facing"),
        ("sun", "solar"),
        ("faces", "tilt"),
        *(("mounting", key) for key in ("area", "facing", "sun", "solar")),
    )
    REQUIRED = (("area", "faces", "mounting"), ("u_value", "thickness"))
    COMPARED = ("tilt",)

    from_: str = link("compartment", doc="the inside")
    to: str = link("compartment", "outside", doc="outside, or another compartment")
    area: float = number(q.AREA, "of the panel", None, low=TINY)
    faces: tuple[str, ...] = words(
        *FACES, doc="area from outline and depth; one that looks up or down has films of its own"
    )
    mounting: str | None = choice(
        *MOUNTINGS, doc="the effective cooling area of the whole compartment as it stands, with "
        "u_value; covered: its top too", optional=True,
    )  # fmt: skip
    facing: str | None = choice(
        "up", "down", doc="way the outer face of an `area` looks; upright unless this or tilt is "
        "given", optional=True,
    )  # fmt: skip
    u_value: float = number(
        q.U_VALUE, "overall heat transfer coefficient", None, low=0,
        typical="5.5 W/(m2 K) painted sheet steel, still air",
    )  # fmt: skip
    thickness: float = number(q.LENGTH, "of the panel, for computed films", None, low=TINY)
    conductivity: float = number(q.CONDUCTIVITY, "of the panel", None, low=TINY)
    material: str | None = choice(*MATERIALS, doc="gives the conductivity", optional=True)
    emissivity: float = number(
        q.RATIO, "of the outer face, against what is there at air temperature", 0.9, low=0, high=1,
        source="painted surface, common practice",
    )  # fmt: skip
    inside_emissivity: float = number(
        q.RATIO, "of the inner face, against what stands inside at air temperature", 0.9, low=0,
        high=1, source="painted surface, common practice",
    )  # fmt: skip
    height: float = number(
        q.LENGTH, "of the plate for its films; default that of its faces or sqrt(area); each part "
        "of a wall needs that of the whole", None, low=TINY,
    )  # fmt: skip
    sun: Sun | None = group(
        Sun, "sun on the outer face, light of sky and ground too", optional=True
    )
    azimuth: float = number(
        q.ANGLE, "way its outer face looks, clockwise from north, for the sun of a clear sky", None,
        low=-360, high=360, typical="90 east, 180 south, 270 west",
    )  # fmt: skip
    tilt: float = number(
        q.ANGLE, "of its outer face from looking up, for sun, sky and films; without it as its "
        "faces or facing say: 0 up, 90 upright, 180 down", None, low=0, high=180,
    )  # fmt: skip
    touch_limit: float = number(
        q.TEMPERATURE, "highest allowed temperature of its outer face, films computed; without it "
        "that of [limits]", None, low=200,
    )  # fmt: skip
    solar: float = number(q.HEAT_FLUX, "absorbed sun per wall area, instead of sun", None, low=0)
    outside_film: float = number(
        q.U_VALUE, "outside film for the sun on a wall of given u_value", 15.0, low=TINY,
        source="common practice, no source",
    )  # fmt: skip
    heat_capacity: float = number(
        q.HEAT_CAPACITY, "of the whole panel, half on either face; for time", None, low=0
    )

    def faults(self) -> Iterator[str]:
        if given(self.azimuth) and len(set(self.faces) - {"top", "bottom"}) > 1:
            yield "azimuth: faces that look several ways have no one azimuth; one wall for each"
        if len(set(self.faces)) < len(self.faces):
            yield f"faces: each counts once (got {', '.join(self.faces)})"
        way = {"up": 0.0, "down": 180.0}.get(self.facing or "")
        if way is not None and given(self.tilt) and (self.tilt - 90) * (way - 90) <= 0:
            yield f"tilt: does not look {self.facing}, as facing says; give one of both"
        if self.faces and self.mounting is not None:
            yield "mounting: takes the place of faces; give one of both"
        if given(self.u_value):
            if given(self.touch_limit):
                yield "touch_limit: a wall with u_value has no face; give thickness instead"
            return
        if self.mounting is not None:
            yield "mounting: an effective area goes with u_value; computed films take faces"
        if not (given(self.material) or given(self.conductivity)):
            yield "thickness: needs conductivity or material beside it"


@thing
class Exchange(Thing):
    """Equal and opposite flows through a large opening: heat moves, no net air."""

    KIND: ClassVar[str] = "exchange"

    between: tuple[str, ...] = words(doc="the two places")
    flow: float = number(q.VOLUME_FLOW, "each way", low=0)

    def faults(self) -> Iterator[str]:
        if len(self.between) != 2:
            yield f'between: takes two places, such as ["lower", "upper"] (got {len(self.between)})'


@thing
class Recirculation(Thing):
    """Blown-out air that is drawn in again."""

    KIND: ClassVar[str] = "recirculation"

    from_: str = link(*BRANCHES, doc="the branch whose air leaves to the outside")
    to: str = link(*BRANCHES, doc="another, that draws it in from the outside")
    fraction: float = number(q.RATIO, "of the air drawn in", low=0, high=0.99)


def _measured_in() -> Any:
    """The key of both ways to write a resistance over velocity."""
    return number(
        q.DENSITY, "of the air in which it was measured; it is read at the velocity times the "
        "density there over this", 1.2, low=0.05, high=5,
        source="air near sea level, common practice",
    )  # fmt: skip


@thing
class ResistanceTable:
    """Resistance over air velocity: rows of velocity [m/s] and resistance [K/W]."""

    rows: tuple[tuple[float, float], ...] = ()
    reference_density: float = _measured_in()

    def __post_init__(self) -> None:
        faults, speeds = [], [v for v, _ in self.rows]
        if any(b <= a for a, b in pairwise([-math.ulp(0.0), *speeds])):
            faults.append("velocities must rise from row to row, from 0 m/s up")
        if (least := min((r for _, r in self.rows), default=1.0)) <= 0:
            faults.append(
                f"a resistance must be above 0 K/W (got {least:g} K/W); between rows its logarithm "
                "is taken"
            )
        if faults:
            raise CaseError(faults)


@thing
class ResistanceLaw:
    """a + b (v / velocity)^-n, at no less than a twentieth of `velocity`."""

    a: float = number(q.THERMAL_RESISTANCE, "constant share", low=0)
    b: float = number(q.THERMAL_RESISTANCE, "share that falls with velocity", low=0)
    n: float = number(q.RATIO, "exponent", low=0, high=2)
    velocity: float = number(q.VELOCITY, "at which a + b holds", low=TINY)
    reference_density: float = _measured_in()


@thing
class SinkType(Thing):
    """A plate-fin heat sink by its geometry: resistance of a part, drop of a slot or duct."""

    KIND: ClassVar[str] = "sink_type"
    EXCLUSIVE = (("material", "conductivity"),)
    REQUIRED = (("material", "conductivity"),)
    COMPARED = ("base.0", "fins", "fin.1")

    origin: str | None = text("where its data come from")
    base: tuple[float, float] = numbers(
        q.LENGTH, 2, "width, and length along the air, of the base that the fins cover", low=TINY
    )
    fins: float = number(
        q.COUNT, "straight and alike, the outer ones at the edges of the base", low=2, high=1000
    )
    fin: tuple[float, float] = numbers(q.LENGTH, 2, "height, and thickness, of a fin", low=TINY)
    material: str | None = choice(*MATERIALS, doc="gives the conductivity", optional=True)
    conductivity: float = number(q.CONDUCTIVITY, "of the fins", None, low=TINY)

    @property
    def plates(self) -> PlateFins:
        """Its geometry."""
        own = WALL_MATERIALS[self.material].conductivity if self.material else self.conductivity
        return PlateFins.of(self.base, self.fins, self.fin, own)

    def misfit(self, host: Any) -> str:
        """What says that it does not fit into a duct or the gap of a card, upright or lying; empty
        where it does, or a size is not known."""
        if not (self.base and self.fin):
            return ""
        front, room = (self.base[0], self.fin[0]), getattr(host, "section", None) or ()
        if host.KIND == "slot" and given(host.gap):
            room = host.gap, host.width
        over = any(a > b for a, b in zip(sorted(front), sorted(room), strict=False))
        over |= host.KIND == "slot" and bool(self.plates.free_area > host.area)  # measured
        round_ = host.KIND == "duct" and math.hypot(*front) > host.diameter
        if not (over or round_ or self.base[1] > getattr(host, "length", math.nan)):
            return ""
        tall, wide, long = (f"{1e3 * size:.4g} mm" for size in (self.fin[0], *self.base))
        return (
            f'"{self.name}" does not fit into {host.path} (got fins {tall} tall on a base {wide} '
            f"wide and {long} long); a sink stands in the section and length given there"
        )

    def faults(self) -> Iterator[str]:
        if self.base and self.fin and self.plates.gap <= 0:
            whole, width = (f"{1e3 * x:.4g} mm" for x in (self.fins * self.fin[1], self.base[0]))
            yield (
                f"fins: {self.fins:g} of {1e3 * self.fin[1]:.4g} mm leave no gap for air "
                f"(got {whole} of fins on a base {width} wide); fewer or thinner fins, a wider base"
            )


@thing
class Part(Thing):
    """A heat source with a limit."""

    KIND: ClassVar[str] = "part"
    EXCLUSIVE = (
        ("power", "output"),
        ("resistance", "resistance_over_velocity", "resistance_law", "sink"),
        ("flow_area", "sink"),
        ("heat_capacity", "mass"),
    )

    in_: str = link(
        "compartment", *BRANCHES, "part", doc="a compartment, a branch, or a part it sits on"
    )
    power: float = number(q.POWER, "heat", None, low=0, source="default 0 W")
    output: float = number(q.POWER, "useful output, with efficiency", None, low=0)
    efficiency: float = number(q.RATIO, "of output", None, low=0.01, high=1)
    power_basis: str | None = choice(
        "loss", "measured", "nameplate", doc="what power is; a nameplate draws a finding",
        optional=True,
    )  # fmt: skip
    load: float = number(q.RATIO, "multiplies the heat", 1.0, low=0)
    limit: float = number(
        q.TEMPERATURE, "of the part, or of its chain's first station", None, low=150
    )
    basis: str | None = text("where the resistance comes from")
    resistance: float = number(q.THERMAL_RESISTANCE, "to the air", None, low=0)
    resistance_over_velocity: ResistanceTable | None = table(
        "resistance over air velocity", optional=True, cls=ResistanceTable, velocity=q.VELOCITY,
        resistance=q.THERMAL_RESISTANCE,
    )  # fmt: skip
    resistance_law: ResistanceLaw | None = group(ResistanceLaw, "fitted law", optional=True)
    sink: str | None = link(
        "sink_type", varies=True, optional=True,
        doc="its resistance from the geometry of a heat sink; `type` may name it as well",
    )  # fmt: skip
    resistance_factor: float = number(q.RATIO, "scales the resistance", 1.0, low=TINY)
    flow_area: float = number(q.AREA, "the flow over this is the velocity", None, low=TINY)
    stream: str | None = link(
        *BRANCHES, doc="in a compartment: the branch whose flow passes the part", optional=True
    )
    position: float = number(
        q.RATIO, "in a slot: 0 at its `from` end, 1 at its `to` end", 1.0, low=0, high=1
    )
    chain: tuple[tuple[str, float], ...] | None = table(
        "stations, hottest first; each value leads to the next", optional=True, station=None,
        resistance=q.THERMAL_RESISTANCE,
    )  # fmt: skip
    heat_capacity: float = number(q.HEAT_CAPACITY, "for time", None, low=0)
    mass: float = number(q.MASS, "with material, instead of heat_capacity", None, low=0)
    material: str | None = choice(*MATERIALS, doc="with mass", optional=True)
    at: tuple[float, float] | None = numbers(q.LENGTH, 2, "where it sits in the view", None)

    @property
    def follows_velocity(self) -> bool:
        """Whether its resistance depends on the air past it."""
        keys = self.resistance_over_velocity, self.resistance_law, self.sink
        return any(key is not None for key in keys)

    def faults(self) -> Iterator[str]:
        if given(self.output) != given(self.efficiency):
            yield "output: needs efficiency beside it, and efficiency needs output"
        if any(r < 0 for _, r in self.chain or ()):
            yield "chain: a resistance must be at least 0 K/W"
        if given(self.mass) != given(self.material):
            yield "mass: needs material beside it"
