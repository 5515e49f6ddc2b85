"""What each kind of branch is made of: columns -> laws in series, heat, closed.

A new kind is its class, and one function here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import SimpleNamespace
from typing import Any, NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from flownet.columns import Inputs
from flownet.enclosure.branches import SHARP_EDGE
from flownet.equations import curve_fits, levels, tall_hole
from flownet.equations.laws import (
    REFERENCE_DENSITY,
    REFERENCE_TEMPERATURE,
    REFERENCE_VISCOSITY,
    DuctFriction,
    FanRise,
    FlapLaw,
    Law,
    Only,
    PowerLaw,
    SlotFriction,
    Split,
    Square,
    Viscous,
    WireScreen,
    in_series,
)
from flownet.equations.sinks import EMPTY, FILLER, FITTED, between_fins, channel_laws
from flownet.physics import friction, installation, losses
from flownet.physics.air import STANDARD_DENSITY, Air
from flownet.results.tables import STATES
from flownet.schema.arrays import Array, used
from flownet.schema.component import KINDS, words_of
from flownet.schema.errors import CaseError
from flownet.schema.fields import Rows, roles

HOLE_LOSS = 1 / SHARP_EDGE**2  # of a sharp-edged hole, on its area
TURBULENT_SCREEN = 400.0  # Reynolds number of a wire screen whose mesh is not known
ON, IN_WALL = 0, 1  # of the installation of a fan, the plate of a baffle, as declared
RUNNING, STOPPED, FREEWHEELING = range(3)  # states of a fan, as declared
STANDS_BELOW = 1e-12  # speed ratio up to which a rotor stands: no result can tell the difference
LEAST_PLATE = 0.02  # K of a plate across a passage on its cross-section: assumption


class Element(NamedTuple):
    """All branches of one kind; arrays are (branches, variants or 1)."""

    area: Array  # its velocity is reported on it: ONE channel of a slot; NaN for a leak
    count: Array  # type: ignore[assignment]  # equal channels
    diameter: Array  # of its Reynolds number; NaN for a leak
    laws: tuple[Law, ...]  # in series
    closed: Array  # bool: blanked, no air passes
    state: Array  # index into `flownet.results.solution.STATES`
    heat: Array  # own heat to its air [W]
    motor_heat: Array  # heat of its motor to its air over the density it draws [W m3/kg]
    motor_power: Array  # electrical power over the density it draws [W m3/kg]
    reversed: Array  # bool: mounted to draw from `to`
    wall_conductance: Array  # to a wall of its own [W/K]
    wall_temperature: Array  # of that wall [K]; finite everywhere
    fan: FanRise | None  # the running part of a fan, also the first of its laws
    speed: Array  # effective speed ratio of a fan, 0 when stopped or blanked


def opening(c: Any) -> Element:
    """A sharp-edged hole, or one of known loss."""
    edge = np.where(np.isnan(c.discharge_coefficient), SHARP_EDGE, c.discharge_coefficient)
    loss = np.where(np.isnan(c.loss), losses.loss_of_discharge(edge), c.loss)
    return _element(c.area, tall_hole.holes(loss, c), state=_state("opening", c.state))


def vent(c: Any) -> Element:
    """A loss on the gross area, given or from the open ratio."""
    plain, coefficient = np.isnan(c.discharge_coefficient), c.discharge_coefficient
    given = losses.loss_of_discharge(used(~plain, coefficient))
    given = np.where(np.isnan(c.loss), np.where(plain, np.nan, given), c.loss)
    ratio = used(np.isnan(given), c.open_ratio)
    plate, screen = (np.isnan(given) & (c.construction == word) for word in (0, 2))
    mesh = ~np.isnan(c.hole)
    loss = np.where(plate, losses.idelchik_thin_plate(ratio), losses.round_edge_grill(ratio))
    loss = np.where(screen, losses.round_edge_screen(ratio, TURBULENT_SCREEN), loss)
    loss = np.where(np.isnan(given), loss, given)
    hole = used(mesh, c.hole)
    slow = losses.low_reynolds_plate_product(ratio) * ratio / (2 * hole)
    laws = (
        *tall_hole.holes(c.fouling * loss, c, ~(screen & mesh)),
        *_where(plate & mesh, Viscous(c.fouling * slow, c.area)),
        *_where(screen & mesh, WireScreen(ratio, hole, c.area, c.fouling)),
    )
    return _element(c.area, laws, state=_state("vent", c.state))


def filter_(c: Any) -> Element:
    """A mat by its measured points or its loss; without it the frame is a hole."""
    removed = _state("filter", c.state) == STATES.index("removed")
    points = c.velocity_drop
    measured = ~removed & points.given
    loss = np.where(removed, HOLE_LOSS, c.fouling * c.loss)
    linear, quadratic = c.fouling * points.linear, c.fouling * points.quadratic
    laws = (
        *_where(measured, Split.of(linear, quadratic, c.area)),
        *_where(~measured, Square.of(used(~measured, loss), c.area)),
    )
    return _element(c.area, laws, state=_state("filter", c.state))


def baffle(c: Any) -> Element:
    """A plate across a passage, on its cross-section; or a hole in a large wall, on the hole.

    The turning velocity and the Reynolds number are those of the hole.
    """
    present = c.present == 0
    share = np.where(present, c.open_area / c.cross_section, 1.0)
    plate = losses.idelchik_thin_plate(share)
    plate = np.where(plate.real > LEAST_PLATE, plate, LEAST_PLATE)
    hole = present & (c.plate == IN_WALL)
    loss, area = np.where(hole, HOLE_LOSS, plate), np.where(hole, c.open_area, c.cross_section)
    turning = np.where(hole, 1.0, np.sqrt(share))
    state = np.where(present, STATES.index("fitted"), STATES.index("removed"))
    law, diameter = Square.of(loss, area, turning), _round(area) / turning
    return _element(area, (law,), state=state, diameter=diameter)


def slot(c: Any) -> Element:
    """Equal channels: by their size or between fins, measured, or a filler or open hole instead."""
    c, fitted = between_fins(c), (c.state != FILLER) & (c.state != EMPTY)
    sized, measured = fitted & np.isnan(c.area), fitted & ~np.isnan(c.area)
    by_points = measured & c.velocity_drop.given
    gap, width, length = (used(sized, side) for side in (c.gap, c.width, c.length))
    channel, diameter = gap * width, 2 * gap * width / (gap + width)
    aspect = np.where(gap.real <= width.real, gap / width, width / gap)
    solid = 1 - c.free_ratio
    loss = np.where(measured, c.loss, losses.contraction(c.free_ratio) + solid * solid)
    area = np.where(measured, c.area, channel)
    for state, instead in ((EMPTY, c.empty), (FILLER, c.filler)):
        loss = np.where(c.state == state, instead.loss, loss)
        area = np.where(c.state == state, instead.area, area)
    points = c.velocity_drop
    laws = (
        *_where(sized, SlotFriction(length, diameter, channel, aspect, c.count)),
        *_where(~by_points, Square.of(used(~by_points, loss), area, count=c.count)),
        *_where(by_points, Split.of(points.linear, points.quadratic, area, c.count)),
    )
    return _element(
        area, laws, count=c.count, state=_state("slot", c.state),
        diameter=np.where(sized, diameter, _round(area)),
        heat=np.where(c.state == FITTED, c.power * c.load, 0.0),
    )  # fmt: skip


def duct(c: Any) -> Element:
    """Friction, and the losses of ends and bends, on a round or rectangular section."""
    is_round = np.isnan(c.section[0])
    across = used(is_round, c.diameter)
    wide, high = (used(~is_round, side) for side in c.section)
    area = np.where(is_round, np.pi / 4 * across * across, wide * high)
    around = np.where(is_round, np.pi * across, 2 * (wide + high))
    diameter = np.where(is_round, across, 2 * wide * high / (wide + high))
    aspect = np.where(wide.real <= high.real, wide / high, high / wide)
    laminar = np.where(is_round, friction.LAMINAR_ROUND, 4 * friction.laminar_rectangle(aspect))
    loss, turns = (np.where(c.bends.given, x, 0.0) for x in (c.bends.loss, c.bends.diameters))
    laws: tuple[Law, ...] = (
        DuctFriction(c.length + turns * diameter, diameter, area, c.roughness / diameter, laminar),
        Square.of(c.loss + loss, area, _round(area) / diameter),
        *channel_laws(c.sink, area),
    )
    walled = ~np.isnan(c.u_value) & ~np.isnan(c.wall_temperature)
    return _element(
        area, laws, state=_state("duct", c.state), diameter=diameter,
        wall_conductance=np.where(walled, c.u_value, 0.0) * around * c.length,
        wall_temperature=np.where(walled, c.wall_temperature, REFERENCE_TEMPERATURE),
    )  # fmt: skip


def leak(c: Any) -> Element:
    """A power law through one measured point."""
    nowhere = np.full_like(c.exponent.real, np.nan)
    law = PowerLaw(c.flow_at[0], c.flow_at[1], c.exponent)
    return _element(nowhere, (law,), state=_state("leak", c.state), diameter=nowhere)


def fan(c: Any) -> Element:
    """A fan that runs, stands or is turned by the air, with its guard and shutter."""
    t, by_ratio = c.type, np.isnan(c.rotation)
    speed = np.where(np.isnan(c.speed), 1.0, c.speed) * c.supply_speed
    turned = used(~by_ratio, c.rotation) / used(~by_ratio, t.rated_speed)
    speed = np.where(by_ratio, speed, turned)
    running = (c.state == RUNNING) & ~(speed.real <= STANDS_BELOW)
    state = _state("fan", np.where((c.state == RUNNING) & ~running, STOPPED, c.state))
    speed = np.where(running, speed, 0.0)
    density = np.where(np.isnan(t.reference_density), STANDARD_DENSITY, t.reference_density)
    rise = _rise(c, speed, running, density)
    power = t.power * speed**3 / density
    return _element(
        t.flow_area, (rise, *_losses(c, running, rise.sign)), state=state, fan=rise, speed=speed,
        motor_power=power, motor_heat=np.where(t.motor_in_air == 0, power, 0.0),
        reversed=rise.sign < 0,
    )  # fmt: skip


def _rise(c: Any, speed: Array, running: Array, density: Array) -> FanRise:
    """The curve of a fan as it is mounted, at its speed."""
    t, points = c.type, c.type.curve
    outlet = np.where(np.isinf(points.flow), 0.0, points.flow) / t.flow_area[:, None]
    head = np.where(t.curve_pressure == 1, density, 0.0)[:, None] * outlet * outlet / 2
    curve = curve_fits.curve(points.flow, points.rise - head, points.count)
    return FanRise(
        sign=np.where(c.mounted == 1, -1.0, 1.0),
        running=running,
        flow_scale=used(running, speed * c.flow_factor),
        pressure_scale=speed * speed * c.pressure_factor / density,
        area=t.flow_area,
        backflow_loss=np.where(np.isnan(t.backflow_loss), t.stopped_loss, t.backflow_loss),
        windmill_loss=np.where(np.isnan(t.windmill_loss), t.stopped_loss, t.windmill_loss),
        **curve._asdict(),
    )


def _losses(c: Any, running: Array, sign: Array) -> tuple[Law, ...]:
    """The rotor of each fan that does not run; guard, what stands close and shutter of all."""
    t, has_shutter = c.type, ~np.isnan(c.shutter.open_loss)
    rotor = np.where(c.state == FREEWHEELING, t.freewheel_loss, t.stopped_loss)
    guard = c.guard.loss + installed(c)
    leak = SHARP_EDGE * used(has_shutter, c.shutter.closed_leak)
    closed = np.where(has_shutter, losses.loss_of_discharge(leak), 0.0)
    opened = np.where(has_shutter, c.shutter.open_loss, 0.0)
    return (
        *_where(~running, Square.of(rotor, t.flow_area)),
        FlapLaw.of(guard + opened, guard + closed, t.flow_area, sign),
    )


def installed(c: Any) -> Array:
    """(fans, variants) K of what stands close to each fan, on its flow area; 0 where it is off."""
    area = c.type.flow_area
    found = np.zeros((1, 1))
    for given, loss in (
        (c.clearance.inlet / _round(area), installation.inlet_clearance),
        (c.clearance.outlet / _round(area), installation.outlet_clearance),
        (c.clearance.opening / area, installation.inlet_opening),
        (c.clearance.clutter, installation.clutter),
    ):
        there = ~np.isnan(given.real)
        found = found + np.where(there, loss(used(there, given)), 0.0)
    return np.where(c.installation == ON, found, 0.0)


_COLUMNS: WeakKeyDictionary[Inputs, dict[str, SimpleNamespace]] = WeakKeyDictionary()
ELEMENTS: Mapping[str, Callable[[Any], Element]] = {
    "opening": opening,
    "vent": vent,
    "filter": filter_,
    "baffle": baffle,
    "slot": slot,
    "duct": duct,
    "leak": leak,
    "fan": fan,
}
"""Kind -> the function that makes its elements of its columns, see `columns`."""

HINTS = {
    "slot": "gap needs width and length; area needs loss or velocity_drop; a state of filler or "
    "empty needs that group",
    "duct": "a duct has a diameter or a section, into which its sink fits",
    "fan": "a speed in rpm needs the rated_speed of its fan type; state freewheeling needs its "
    "freewheel_loss; a shutter needs open_loss and closed_leak",
    "filter": "a filter has a velocity_drop or a loss",
    "vent": "a vent has a loss, a discharge_coefficient or an open_ratio",
}


def element(inputs: Inputs, kind: str) -> Element:
    """All branches of a kind that has some.

    Raises
    ------
    CaseError
        For a branch whose state or keys ask for a value that is not given, in any variant.
    """
    made = ELEMENTS[kind](columns(inputs, kind))
    rows, few = len(made.area), np.ones((1, 1))
    still = Air(*(few * x for x in (REFERENCE_DENSITY, REFERENCE_VISCOSITY, 1.2, 1.2)))
    with np.errstate(invalid="ignore"):  # what is missing is told in words
        drop, _ = in_series(made.laws, np.full((rows, 1), 1e-3), still)
    missing = np.isnan(drop) & ~made.closed
    for row in np.flatnonzero(missing.any(axis=1)):
        name, hint = inputs.names(kind)[row], HINTS.get(kind, "see its keys")
        raise CaseError(f"{kind}.{name}: its pressure drop needs a value that is missing; {hint}")
    return made


def columns(inputs: Inputs, kind: str) -> SimpleNamespace:
    """Columns of a kind by attribute; each optional table also says where it is `given`. Those of
    one variant are made once."""
    known = _COLUMNS.setdefault(inputs, {}) if inputs.variants == 1 else {}
    return known.get(kind) or known.setdefault(kind, _columns(inputs, kind))


def _columns(inputs: Inputs, kind: str) -> SimpleNamespace:
    found = inputs.kind(kind, curve_fits.FITS)
    for key, role in roles(KINDS[kind]).items():
        if isinstance(role, Rows) and role.optional and (kind, key) in curve_fits.FITS:
            made = {} if inputs.tables[kind, key] else curve_fits.nothing(kind, key)
            getattr(found, key).__dict__.update(made, given=inputs.columns[kind][key].real >= 0)
    found.upright = levels.upright(inputs)
    if kind == "fan":
        found.supply_speed = inputs.supply_speed
    return found


def _state(kind: str, codes: Array) -> Array:
    """Declared state -> index into the states of results."""
    table = np.array([STATES.index(str(word)) for word in words_of(kind, "state")])
    found: Array = table[codes.real.astype(int)]
    return found


def _where(mask: Array, law: Law) -> tuple[Law, ...]:
    """The law where the mask holds: nothing at all where it holds nowhere."""
    if not mask.any():
        return ()
    return (law,) if mask.all() else (Only(law, mask),)


def _round(area: Array) -> Array:  # diameter of the circle of this area
    return np.asarray(np.sqrt(4 / np.pi * area))


def _element(area: Array, laws: tuple[Law, ...], state: Array, **others: Any) -> Element:
    """An element with the usual values for what is not given, every array with all its rows."""
    fan = others.pop("fan", None)
    arrays = {
        "area": area, "count": 1.0, "diameter": _round(area), "state": state,
        "closed": state == STATES.index("blanked"), "heat": 0.0, "motor_heat": 0.0,
        "motor_power": 0.0, "reversed": False, "wall_conductance": 0.0,
        "wall_temperature": REFERENCE_TEMPERATURE, "speed": 0.0,
    } | others  # fmt: skip
    for name, value in arrays.items():
        each = np.atleast_1d(value)
        arrays[name] = np.broadcast_to(each, (len(area), each.shape[-1]))
    return Element(laws=laws, fan=fan, **arrays)
