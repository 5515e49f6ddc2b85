"""What `flownet show` says beside the values of a case: the tone of fans; what counts and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from flownet.casefile.resolved import Resolved
from flownet.enclosure.enclosure import Enclosure
from flownet.enclosure.fans import Fan
from flownet.findings.entries import IDLE
from flownet.physics.sound import blade_pass
from flownet.schema import quantities as q
from flownet.schema.fields import given


def counting(case: Enclosure, rows: Sequence[Resolved]) -> list[Resolved]:
    """The rows without defaults that have no effect where they stand.

    What is written in the case stays: `solve` says of it that it does nothing.
    """
    idle = {
        f"{item.path}.{each.key}"
        for each in IDLE for item in case.things[each.kind].values() if each.test(case, item)
    }  # fmt: skip
    return [row for row in rows if row.path not in idle or not row.origin.startswith("default")]


def tones(case: Enclosure) -> Iterator[Resolved]:
    """The blade-pass tone of every running fan whose blades and rated speed are known."""
    for name, fan in case.fans.items():
        row = case.fed(fan)
        known = given(row.rating.blades) and given(row.rating.rated_speed)
        if fan.running and known:
            speed = _speed(fan, row.rating.rated_speed, row.speed)
            tone = q.FREQUENCY.metric.text(float(blade_pass(row.rating.blades, speed)))
            origin = f"{row.rating.blades:.0f} blades at {q.SPEED.metric.text(speed)}"
            if fan.speed_control is not None:
                origin += ", its top speed"
            yield Resolved(f"fan.{name}.blade_pass", tone, origin)


def _speed(fan: Fan, rated: float, scaled: float) -> float:
    """Revolutions per second; the highest that a speed control asks for."""
    if fan.speed_control is not None:
        return rated * scaled * max(fan.speed_control.speed)
    if given(fan.rotation):
        return fan.rotation
    return rated * scaled * fan.speed
