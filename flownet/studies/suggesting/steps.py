"""Changes of single things, each sort by a function over the case."""

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
from flownet.schema.fault import listed
from flownet.schema.fields import NONE, get, given
from flownet.studies.choice.eligibility import FanPlaces, suits, unfit

EFFORTS = ("setting", "filler", "mat", "hole", "place", "shutter", "fan", "second fan")
EFFORT_OF = {  # kind of change -> how it is done, one of EFFORTS
    "speed": "setting", "turn": "setting", "supply": "setting", "fan_off": "setting",
    "filler": "filler", "seal": "filler", "service": "mat", "mat": "mat", "area": "hole",
    "open_ratio": "hole", "unseal": "hole", "baffle": "hole", "clearance": "hole",
    "recirculation": "hole", "part_place": "place", "shutter": "shutter", "fan_type": "fan",
    "fan_move": "fan", "fan_add": "second fan",
}  # fmt: skip
NEVER_JOINT = ("fan_off", "seal", "unseal", "fan_move", "fan_add")  # not for all that are alike
OF_ONE_SIZE = ("fan_type", "fan_move", "supply", "filler", "part_place")
THINGS_NAMED = 3  # things one by one
LARGER = (1.25, 1.5, 2.0)  # sizes that are tried, times the present one
SMALLER = (0.8, 0.667, 0.5)
COARSER = (0.7, 0.5)  # drops of a coarser mat, likewise
SLOWED = (0.9, 0.8)  # speeds
LED_BACK = (0.5, 0.0)  # exhaust that comes round to an intake
OPEN, ROUND_EDGED = 0.8, 0.7  # the most of a grille that is open: common practice, no source


class ProposedChange(NamedTuple):
    """A change that is tried: of one thing, or the same of several."""

    things: tuple[str, ...]
    changes: Mapping[str, Any]  # ready for `with_changes`
    says: str  # `{}` for the names of the things
    degree: int = 0  # of several sizes: the next takes more effort
    price: float = math.nan  # of what is bought for it
    edits: Mapping[str, Any] = NONE  # what a variant cannot say: path in the file -> value
    case: Enclosure | None = None  # the case so edited
    kind: str = ""  # of EFFORT_OF, once it is known

    @property
    def words(self) -> str:
        """`area of filter.intake x 1.5`."""
        return self.says.format(listed(self.things, THINGS_NAMED))

    @property
    def effort(self) -> tuple[float, ...]:
        """The less the sooner: how it is done, its price where that is known, how many, how far."""
        price = math.inf if math.isnan(self.price) else self.price
        return EFFORTS.index(EFFORT_OF[self.kind]), price, len(self.things), self.degree

    @property
    def group(self) -> tuple[Any, ...]:
        """Those that are sizes of one change."""
        path = "" if self.kind in OF_ONE_SIZE else next(iter(self.changes), "")
        return self.kind, self.things, path or self.says


def change(about: str, values: Mapping[str, Any], *rest: Any, **more: Any) -> ProposedChange:
    """Of one thing; `values`: by the ending of a path, or a whole path."""
    made = {f"{about}{path}" if path.startswith(".") else path: value
            for path, value in values.items()}  # fmt: skip
    return ProposedChange((about,), made, *rest, **more)


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


def sized(
    site: Site, kinds: Sequence[str], key: str, factors: Sequence[float], what: str,
    most: Callable[[Site, Any], float] | None = None,
) -> Iterator[ProposedChange]:  # fmt: skip
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
                yield change(item.path, {f".{key}": value}, says, degree)


def state(
    site: Site, kinds: Sequence[str], was: Sequence[str], to: str, says: str
) -> Iterator[ProposedChange]:  # fmt: skip
    """A state for another one; not of the only fan, nor of what stands on something else."""
    for item in site.every(*kinds):
        fan = item.KIND == "fan"
        alone = fan and to == "blanked" and len(site.running) < 2
        hosted = getattr(item, "on", None) and item.KIND != "filter"
        lacks = alone or hosted or getattr(item, to, "") is None
        if item.state in was and not lacks:
            bought = site.case.things["fan_type"][item.type] if fan and to == "running" else None
            yield change(item.path, {".state": to}, says, price=getattr(bought, "price", math.nan))


def speed(site: Site) -> Iterator[ProposedChange]:
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
                yield change(fan.path, {key: value}, f"{{}} at {speed} of its rated speed", degree)


def turn(site: Site) -> Iterator[ProposedChange]:
    for fan in site.running:
        other = "forward" if fan.mounted == "reversed" else "reversed"
        yield change(fan.path, {".mounted": other}, "{} turned round")


def supply(site: Site) -> Iterator[ProposedChange]:
    for fan in site.running:
        for name in site.others(fan, fan.type):
            yield change(fan.path, {".supply": name}, f"{{}} on supply.{name}")


def shutter(site: Site) -> Iterator[ProposedChange]:
    for fan in site.running:
        if fan.shutter is None:
            yield change(fan.path, {".shutter": SHUTTER}, "a back-draught shutter on {}")


def fan_type(site: Site) -> Iterator[ProposedChange]:
    """On the supply that it has; where that cannot feed the type, on another one of the case."""
    types = site.case.things["fan_type"]
    for fan in site.running:
        for name in (each for each in types if each != fan.type and ".rating." not in each):
            unsized = not (types[name].frame and site.case.rating(fan).frame)
            for other in [""] if site.fits(fan, name) else site.others(fan, name):
                fed = {".supply": other} if other else {}
                says = f"{{}}: {name}" + f" on supply.{other}" * bool(other)
                says += ", if its frame fits" * unsized
                yield change(fan.path, {".type": name, **fed}, says, price=types[name].price)


def fan_move(site: Site) -> Iterator[ProposedChange]:
    for fan in site.running:
        for place in site.every("fan"):
            if place.state == "blanked" and site.fits(place, fan.type):
                moved = {".state": "blanked", f"{place.path}.state": "running",
                         f"{place.path}.type": fan.type}  # fmt: skip
                yield change(fan.path, moved, f"{{}} moved to the place of {place.path}")


def clean(site: Site) -> Iterator[ProposedChange]:
    for item in site.live("filter", "vent"):
        if item.fouling > 1:
            yield change(item.path, {".fouling": 1.0}, "{} clean")


def mat(site: Site) -> Iterator[ProposedChange]:
    for item in site.live("filter"):
        for degree, factor in enumerate(COARSER if item.state == "fitted" else ()):
            table = item.velocity_drop or ()
            rows = tuple((v, float(f"{drop * factor:.12g}")) for v, drop in table)
            values = {".velocity_drop": rows} if rows else {".loss": item.loss * factor}
            yield change(item.path, values, f"a coarser mat in {{}} (drop x {factor:g})", degree)


def baffle(site: Site) -> Iterator[ProposedChange]:
    for item in site.every("baffle"):
        says = "{} taken out" if item.present else "{} put in"
        yield change(item.path, {".present": not item.present}, says, len(LARGER))


def most_open(_: Site, vent: Any) -> float:
    """The most of a grille that is open, as far as its law goes."""
    return ROUND_EDGED if vent.construction == "round-edged" else OPEN
