"""Single changes of single things, each kind by a function over the case."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from flownet.enclosure.contents import ratings
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.enclosure.outages import SHUTTER
from flownet.enclosure.supply_match import fed
from flownet.findings.paths import edges
from flownet.schema.fields import get, given
from flownet.studies.choice.eligibility import FanPlaces, suits, unfit

LARGER = (1.25, 1.5, 2.0)  # sizes that are tried, times the present one
SMALLER = (0.8, 0.667, 0.5)
COARSER = (0.7, 0.5)  # drops of a coarser mat, likewise
SLOWED = (0.9, 0.8)  # speeds
LED_BACK = (0.5, 0.0)  # exhaust that comes round to an intake
OPEN, ROUND_EDGED = 0.8, 0.7  # the most of a grille that is open: common practice, no source


class SingleChange(NamedTuple):
    """One change of one thing; `says` has `{}` for its name."""

    about: str  # fan.left
    values: Mapping[str, Any]  # ending of the path, or a whole path -> value
    says: str
    degree: int = 0  # of several sizes: the next takes more effort
    price: float = math.nan  # of what is bought for it


class Site(NamedTuple):
    """A case, and what it is in the scenarios that decide, without their outages."""

    case: Enclosure
    made: Mapping[str, Enclosure]
    asked: Sequence[str]

    def live(self, *kinds: str) -> Iterator[Any]:
        """Things of these kinds that are not blanked, nor stand on a blanked fan."""
        for item in self.every(*kinds):
            on = getattr(item, "on", None)
            host = self.case.branches[on] if on else None
            if "blanked" not in (getattr(item, "state", ""), getattr(host, "state", "")):
                yield item

    def every(self, *kinds: str) -> Iterator[Any]:
        """Things of these kinds."""
        return (item for kind in kinds for item in self.case.things[kind].values())

    @property
    def running(self) -> list[Fan]:
        """Fans that run."""
        return [fan for fan in self.case.fans.values() if fan.running]

    def fits(self, fan: Fan, type_: str) -> bool:
        """Whether a type can serve at a place, by supply, frame, shaft and speed."""
        return not unfit(FanPlaces(self.case, (fan,), self.made, None), type_)

    def others(self, fan: Fan, type_: str) -> Iterator[str]:
        """Further supplies on which a type can serve at a place."""
        reasons = unfit(FanPlaces(self.case, (fan,), self.made, None), type_)
        if fan.supply is None or any(each.kind not in ("supply", "speed") for each in reasons):
            return
        rows = ratings(self.case.things["fan_type"], type_)
        for name, other in self.case.things["supply"].items():
            if name != fan.supply and suits(fed(rows, other)):
                yield name

    def face(self, item: Any) -> float:
        """Area of the face that a way out stands in [m2]; infinite where nothing says it."""
        inside = [self.case.compartments.get(end) for end in (item.from_, item.to)]
        room = next((each for each in inside if each is not None), None)
        at = getattr(item, "at", None)
        if room is None or None not in inside or room.outline is None or at is None:
            return math.inf
        x, y, wide, tall = room.outline
        deep = room.depth if given(room.depth) else (self.case.body.size or (math.inf,) * 3)[2]
        near = edges((x, y, x + wide, y + tall), at)
        sides = {"left": tall * deep, "right": tall * deep, "low": wide * deep, "high": wide * deep}
        return max((sides[edge] for edge in near), default=wide * tall)

    def price(self, type_: str) -> float:
        """Of a fan of this type."""
        return float(self.case.things["fan_type"][type_].price)


def sized(
    site: Site, kinds: Sequence[str], key: str, factors: Sequence[float], what: str,
    most: Callable[[Site, Any], float] | None = None,
) -> Iterator[SingleChange]:  # fmt: skip
    """A number of a thing times some factors, up to the most that it may be."""
    for item in site.live(*kinds):
        now = get(item, key)
        if not given(now) or not now:
            continue
        end = max(now, most(site, item)) if most else math.inf
        for degree, factor in enumerate(factors):
            value = float(f"{min(now * factor, end):.12g}")
            if value != now and not (degree and factor > 1 and now * factors[degree - 1] >= end):
                says = f"{what} x {value / now:.3g}" if value else f"no {what}"
                yield SingleChange(item.path, {f".{key}": value}, says, degree)


def state(
    site: Site, kinds: Sequence[str], was: Sequence[str], to: str, says: str
) -> Iterator[SingleChange]:  # fmt: skip
    """A state for another one; not of the only fan, nor of what stands on something else."""
    for item in site.every(*kinds):
        fan = item.KIND == "fan"
        alone = fan and to == "blanked" and len(site.running) < 2
        lacks = alone or getattr(item, "on", None) or getattr(item, to, "") is None
        if item.state in was and not lacks:
            price = site.price(item.type) if fan and to == "running" else math.nan
            yield SingleChange(item.path, {".state": to}, says, price=price)


def speed(site: Site) -> Iterator[SingleChange]:
    """To the top of its range and half the way; slower where noise is limited."""
    slower = SLOWED if given(site.case.limits.noise_dBA) else ()
    for fan in site.running:
        rating, control = site.case.rating(fan), fan.speed_control
        low, top = rating.speed_range or (math.inf, -math.inf)
        key, now = ".speed", fan.speed if given(fan.speed) else fan.rotation / rating.rated_speed
        if control is not None:
            last = len(control.speed) - 1
            key, now = f".speed_control.speed.{last}", control.speed[last]
        rpm = control is None and given(fan.rotation)
        for degree, ratio in enumerate(((now + top) / 2, top, *(now * each for each in slower))):
            speed = float(f"{ratio:.3g}")
            if speed != now and low <= speed <= top:
                value = f"{60 * speed * rating.rated_speed:.12g} rpm" if rpm else speed
                yield SingleChange(
                    fan.path, {key: value}, f"{{}} at {speed} of its rated speed", degree
                )


def turn(site: Site) -> Iterator[SingleChange]:
    for fan in site.running:
        other = "forward" if fan.mounted == "reversed" else "reversed"
        yield SingleChange(fan.path, {".mounted": other}, "{} turned round")


def supply(site: Site) -> Iterator[SingleChange]:
    for fan in site.running:
        for name in site.others(fan, fan.type):
            yield SingleChange(fan.path, {".supply": name}, f"{{}} on supply.{name}")


def shutter(site: Site) -> Iterator[SingleChange]:
    for fan in site.running:
        if fan.shutter is None:
            yield SingleChange(fan.path, {".shutter": SHUTTER}, "a back-draught shutter on {}")


def fan_type(site: Site) -> Iterator[SingleChange]:
    """On the supply that it has; where that cannot feed the type, on another one of the case."""
    types = site.case.things["fan_type"]
    for fan in site.running:
        for name in (each for each in types if each != fan.type and ".rating." not in each):
            unsized = not (types[name].frame and site.case.rating(fan).frame)
            for other in [""] if site.fits(fan, name) else site.others(fan, name):
                fed = {".supply": other} if other else {}
                says = f"{{}}: {name}" + f" on supply.{other}" * bool(other)
                yield SingleChange(
                    fan.path, {".type": name, **fed}, says + ", if its frame fits" * unsized,
                    price=float(types[name].price),
                )  # fmt: skip


def fan_move(site: Site) -> Iterator[SingleChange]:
    for fan in site.running:
        for place in site.every("fan"):
            if place.state == "blanked" and site.fits(place, fan.type):
                moved = {".state": "blanked", f"{place.path}.state": "running",
                         f"{place.path}.type": fan.type}  # fmt: skip
                yield SingleChange(fan.path, moved, f"{{}} moved to the place of {place.path}")


def clutter(site: Site) -> Iterator[SingleChange]:
    for fan in site.running:
        if fan.clearance is not None and fan.clearance.clutter > 0:
            yield SingleChange(fan.path, {".clearance.clutter": 0.0}, "no cables before {}")


def clean(site: Site) -> Iterator[SingleChange]:
    for item in site.live("filter", "vent"):
        if item.fouling > 1:
            yield SingleChange(item.path, {".fouling": 1.0}, "{} clean")


def mat(site: Site) -> Iterator[SingleChange]:
    for item in site.live("filter"):
        for degree, factor in enumerate(COARSER if item.state == "fitted" else ()):
            rows = tuple(
                (v, float(f"{drop * factor:.12g}")) for v, drop in item.velocity_drop or ()
            )
            values = {".velocity_drop": rows} if rows else {".loss": item.loss * factor}
            yield SingleChange(
                item.path, values, f"a coarser mat in {{}} (drop x {factor:g})", degree
            )


def baffle(site: Site) -> Iterator[SingleChange]:
    for item in site.every("baffle"):
        says = "{} taken out" if item.present else "{} put in"
        yield SingleChange(item.path, {".present": not item.present}, says, len(LARGER))


def most_open(_: Site, vent: Any) -> float:
    """The most of a grille that is open, as far as its law goes."""
    return ROUND_EDGED if vent.construction == "round-edged" else OPEN


SIZED = (  # kind of change, things, key, sizes, in words, the most that it may be
    ("area", ("filter", "vent", "opening"), "area", LARGER, "area of {}", Site.face),
    ("area", ("duct",), "diameter", LARGER, "diameter of {}"),
    ("open_ratio", ("vent",), "open_ratio", LARGER, "open share of {}", most_open),
    ("baffle", ("baffle",), "open_area", (*LARGER, *SMALLER), "open area of {}",
     lambda site, item: item.cross_section),
    ("clearance", ("fan",), "clearance.inlet", LARGER, "room before {}"),
    ("clearance", ("fan",), "clearance.outlet", LARGER, "room behind {}"),
    ("clearance", ("fan",), "clearance.opening", LARGER, "opening before {}"),
    ("recirculation", ("recirculation",), "fraction", LED_BACK,
     "exhaust that {} leads back to the intake"),
)  # fmt: skip
STATES = (  # kind of change, things, in which state, into which, in words
    ("fan_off", ("fan",), ("running",), "blanked", "{} left out, its hole closed"),
    ("filler", ("slot",), ("empty",), "filler", "a filler in {}"),
    ("filler", ("slot",), ("empty", "filler"), "blanked", "{} blanked"),
    ("seal", ("leak", "opening", "vent", "duct"), ("open",), "blanked", "{} closed"),
    ("unseal", ("vent", "opening", "duct"), ("blanked",), "open", "{} opened"),
    ("fan_add", ("fan",), ("blanked",), "running", "a fan in the free place {}"),
)
OTHERS = {
    "speed": speed, "turn": turn, "supply": supply, "service": clean, "mat": mat, "baffle": baffle,
    "clearance": clutter, "shutter": shutter, "fan_type": fan_type, "fan_move": fan_move,
}  # fmt: skip


def singles(site: Site, kind: str) -> Iterator[SingleChange]:
    """Every single change of a kind that a variant can say."""
    for table, step in ((SIZED, sized), (STATES, state)):
        for own, *row in table:
            yield from step(site, *row) if own == kind else ()
    yield from OTHERS[kind](site) if kind in OTHERS else ()
