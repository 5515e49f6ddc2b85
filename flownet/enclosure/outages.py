"""Outages by name: `fan.left-out`, `fan.left-shut`, `supply.mains-out`, each with `-rest-up`.

They exist for every fan and supply without being written in a case. What a scenario names is the
state of the air path of what failed, not why it failed.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from flownet.enclosure.contents import Contents
from flownet.enclosure.fans import Fan
from flownet.schema.fields import given

WAYS = {  # of a kind: how it can fail
    "fan": {
        "out": "the rotor stands in its open hole; a shutter of its own works",
        "shut": "the rotor stands behind a back-draught shutter: its own, else the usual one",
        "blanked": "its hole is closed",
    },
    "supply": {"out": "every fan on it stands in its open hole"},
}
REST_UP = "-rest-up"  # and the fans that still run go to the top of their speed range
SHUTTER = {"open_loss": 0.5, "closed_leak": 0.02}  # assumption; common practice, no source


class Outage(NamedTuple):
    """Something that fails, how, and whether the rest is sped up."""

    kind: str  # fan, supply
    target: str
    way: str  # a key of WAYS
    rest_up: bool

    @property
    def name(self) -> str:
        """As it is written in a scenario."""
        return f"{self.kind}.{self.target}-{self.way}{REST_UP if self.rest_up else ''}"

    def fans(self, case: Contents) -> list[Fan]:
        """The fans that stand because of it: none where the place is blanked anyway."""
        if self.kind == "fan":
            fan = case.fans[self.target]
            return [fan] if fan.state != "blanked" else []
        return [f for f in case.fans.values() if f.supply == self.target and f.state == "running"]

    def changes(self, case: Contents) -> dict[str, Any]:
        """What it changes in a case as it is just before."""
        failed = self.fans(case)
        made: dict[str, Any] = {}
        for fan in failed:
            made[f"{fan.path}.state"] = "blanked" if self.way == "blanked" else "stopped"
            if self.way == "shut" and fan.shutter is None:
                made |= {f"{fan.path}.shutter.{key}": value for key, value in SHUTTER.items()}
        if self.rest_up and failed:
            made |= _faster(case, {fan.name for fan in failed})
        return made


class Each(NamedTuple):
    """One outage for every fan or supply: `each-fan-out`."""

    kind: str
    way: str
    rest_up: bool

    def each(self, case: Contents) -> Iterator[Outage]:
        """Of every fan that runs, or every supply that feeds one."""
        running = [fan for fan in case.fans.values() if fan.running]
        fed = {fan.supply for fan in running}
        names = [f.name for f in running]
        if self.kind == "supply":
            names = [name for name in case.things["supply"] if name in fed]
        return (Outage(self.kind, name, self.way, self.rest_up) for name in names)


EACH = {
    f"each-{kind}-{way}{REST_UP if up else ''}": Each(kind, way, up)
    for kind, ways in WAYS.items() for way in ways for up in (False, True)
}  # fmt: skip


def outage(case: Contents, name: str) -> Outage | None:
    """The outage of this name, `fan.left-out`; None where there is none such."""
    kind, _, rest = name.partition(".")
    plain = rest.removesuffix(REST_UP)
    for way in WAYS.get(kind, ()):
        target = plain.removesuffix(f"-{way}")
        if target != plain and target in case.things[kind]:
            return Outage(kind, target, way, plain != rest)
    return None


def outage_names(case: Contents) -> list[str]:
    """Every outage of a case that has a name, those without further words first."""
    return [
        Outage(kind, target, way, up).name
        for up in (False, True)
        for kind, ways in WAYS.items()
        for way in ways
        for target in case.things[kind]
    ]


def _faster(case: Contents, failed: set[str]) -> dict[str, float]:
    """The others that run at the top of their type's `speed_range`; never slower than before."""
    made = {}
    for fan in case.fans.values():
        rating = case.rating(fan)
        if not fan.running or fan.name in failed or rating.speed_range is None:
            continue
        for key, speed in _speeds(fan, rating.rated_speed):
            if rating.speed_range[1] > speed:
                made[f"{fan.path}.{key}"] = rating.speed_range[1]
    return made


def _speeds(fan: Fan, rated: float) -> Iterator[tuple[str, float]]:
    """The keys that set the speed of a fan, each with its ratio: a control has one a point."""
    if fan.speed_control is not None:
        yield from ((f"speed_control.speed.{i}", s) for i, s in enumerate(fan.speed_control.speed))
    else:
        yield "speed", fan.rotation / rated if given(fan.rotation) else fan.speed
